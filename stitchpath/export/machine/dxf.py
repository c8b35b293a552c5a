"""Plan to DXF: one polyline for each run, on a layer for each thread, over the top itself."""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count

import numpy as np

# The package documents both names but does not declare them for type checkers.
from ezdxf import new, options  # type: ignore[attr-defined]
from ezdxf.colors import RGB

from stitchpath.base.escape import dxf_layer
from stitchpath.base.marks import LINES
from stitchpath.base.typing import FloatArray
from stitchpath.export.svg.path import thread_colour
from stitchpath.geometry.polylines import path_lengths
from stitchpath.plan import Plan

__all__ = ["plan_dxf"]

_MM = 4  # $INSUNITS and $MEASUREMENT, as published in the DXF reference
_METRIC = 1
_STRING, _REAL, _WHOLE = 1000, 1040, 1071  # group codes of extended data, the same source
_FAINT = LINES["seam"].colour
_LONGEST = 200  # characters of a name; extended data and layers take 255
_APPLICATION = "STITCHPATH"


def plan_dxf(plan: Plan) -> str:
    """Write the path as DXF (R2010), in mm.

    The lower left corner of the finished top is the origin and y points up. Each run is one
    polyline, on the layer of its thread, such as "path grey"; they follow each other in stitching
    order. Extended data under the name STITCHPATH tell of each run its number, stage, thread and
    lengths. The finished edge, the seams and the appliqué pieces lie on layers of their own; where
    blocks lie stands on a layer that is off.

    Parameters
    ----------
    plan
        The plan.
    """
    fixed = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # no clock and no chance in the file
    try:
        drawing = new("R2010", units=_MM)
        drawing.header["$MEASUREMENT"] = _METRIC
        drawing.appids.add(_APPLICATION)
        space = drawing.modelspace()
        layers: dict[str, str] = {}
        low, high = np.full(2, np.inf), np.full(2, -np.inf)
        for item in (*_ground(plan), *_blocks(plan), *_paths(plan)):
            if item.layer not in layers:
                name = _layer_name(item.layer, set(layers.values()))
                layers[item.layer] = name
                added = drawing.layers.add(name)
                added.rgb = RGB.from_hex(item.colour)
                if not item.shown:
                    added.off()
            line = space.add_lwpolyline(
                item.points.tolist(),
                close=item.closed,
                dxfattribs={"layer": layers[item.layer]},
            )
            if item.told:
                line.set_xdata(_APPLICATION, item.told)
            low = np.minimum(low, item.points.min(axis=0))
            high = np.maximum(high, item.points.max(axis=0))
        corners = (*low.tolist(), 0.0), (*high.tolist(), 0.0)
        space.reset_extents(*corners)
        drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = corners
        for kind in sorted(drawing.entitydb.dxf_types_in_use()):
            drawing.classes.add_class(kind)  # here in order: the package takes them from a set
        text = io.StringIO()
        drawing.write(text)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return text.getvalue()


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A polyline of the drawing: its layer, points, and extended data by group code."""

    layer: str
    colour: str
    points: FloatArray
    closed: bool = False
    told: tuple[tuple[int, object], ...] = ()
    shown: bool = True


def _ground(plan: Plan) -> Iterator[_Drawn]:
    """Yield what lies under the path: the edge of the top, its seams, its pieces."""
    edge = np.array(plan.top.outline.exterior.coords)[:-1]
    yield _Drawn("edge", _FAINT, _upward(plan, edge), closed=True)
    for seam in plan.top.seams:
        yield _Drawn("seams", _FAINT, _upward(plan, seam.points))
    for piece in plan.top.pieces:
        for part in piece.shape.geoms:
            for ring in (part.exterior, *part.interiors):
                points = np.array(ring.coords)[:-1]
                yield _Drawn("pieces", _FAINT, _upward(plan, points), closed=True)


def _blocks(plan: Plan) -> Iterator[_Drawn]:
    """Yield where blocks lie, on a layer that is off, so that they are known when read again."""
    for block in plan.top.blocks:
        told: tuple[tuple[int, object], ...] = (
            (_STRING, "block"),
            (_STRING, _plain(block.block.name)),
        )
        corners = _upward(plan, block.corners)
        yield _Drawn("blocks", _FAINT, corners, closed=True, told=told, shown=False)


def _paths(plan: Plan) -> Iterator[_Drawn]:
    """Yield each run as one polyline, with what is told of it."""
    for run in plan.runs:
        points = np.concatenate([run.legs[0].points[:1], *(leg.points[1:] for leg in run.legs)])
        sums = dict.fromkeys(("stitch", "retrace", "travel"), 0.0)
        for leg, length in zip(run.legs, path_lengths([x.points for x in run.legs]), strict=True):
            sums[leg.do] += float(length)
        told: list[tuple[int, object]] = [
            (_STRING, "run"), (_WHOLE, run.number),
            (_STRING, "stage"), (_WHOLE, run.stage),
            (_STRING, "thread"), (_STRING, _plain(run.thread)),
        ]  # fmt: skip
        for name, mm in sums.items():
            told += [(_STRING, f"{name} mm"), (_REAL, round(mm, 3))]
        colour = thread_colour(plan, run.thread)
        yield _Drawn(f"path {run.thread}", colour, _upward(plan, points), told=tuple(told))


def _upward(plan: Plan, points: FloatArray) -> FloatArray:
    """Bring points to the lower left corner of the top, y up."""
    return np.round(points * (1, -1) + (0, plan.top.outline.bounds[3]), 3) + 0.0


def _plain(text: str) -> str:
    """Make a text fit for extended data."""
    return "".join(c if c.isprintable() else "_" for c in text)[:_LONGEST]


def _layer_name(name: str, taken: set[str]) -> str:
    """Make a name fit for a layer, and unlike the others, whatever their capitals."""
    plain = dxf_layer(name)
    others = {other.lower() for other in taken}
    fits = (plain if k == 1 else f"{plain} {k}" for k in count(1))
    return next(fit for fit in fits if fit.lower() not in others)
