"""Plan to DXF: a layer for each thread and kind of line, polylines in stitching order."""

import io
from collections.abc import Iterator
from itertools import count, groupby

import numpy as np

from stitchpath.export.escape import dxf_layer
from stitchpath.export.svg import thread_colour
from stitchpath.plan import Plan
from stitchpath.route.model import Leg
from stitchpath.typing import FloatArray

__all__ = ["plan_dxf"]

_MM = 4  # $INSUNITS and $MEASUREMENT, as published in the DXF reference
_METRIC = 1


def plan_dxf(plan: Plan) -> str:
    """Write the path as DXF (R2010), in mm.

    The lower left corner of the finished top is the origin and y points up. Stitching over a line
    lies on the layer of its thread and kind, such as "grey ditch"; going over one again and
    travel lie on layers of their own, so that with them switched off each line is there once.
    Polylines follow each other in stitching order, and no two of one run leave a gap.

    Parameters
    ----------
    plan
        The plan.
    """
    # Slow to import. The package documents both names but does not declare them for type checkers.
    from ezdxf import new, options  # type: ignore[attr-defined]  # noqa: PLC0415
    from ezdxf.colors import RGB  # noqa: PLC0415

    fixed = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # no clock and no chance in the file
    try:
        drawing = new("R2010", units=_MM)
        drawing.header["$MEASUREMENT"] = _METRIC
        space = drawing.modelspace()
        layers: dict[tuple[str, str], str] = {}
        for thread, kind, points in _polylines(plan):
            if (thread, kind) not in layers:
                name = _layer_name(f"{thread} {kind}", set(layers.values()))
                layers[thread, kind] = name
                drawing.layers.add(name).rgb = RGB.from_hex(thread_colour(plan, thread))
            space.add_lwpolyline(points.tolist(), dxfattribs={"layer": layers[thread, kind]})
        text = io.StringIO()
        drawing.write(text)
    finally:
        options.write_fixed_meta_data_for_testing = fixed
    return text.getvalue()


def _polylines(plan: Plan) -> Iterator[tuple[str, str, FloatArray]]:
    """Yield thread, kind and points of every piece of a run that lies on one layer."""
    height = plan.top.outline.bounds[3]

    def kind(leg: Leg) -> str:
        return plan.lines[leg.line].kind if leg.do == "stitch" else leg.do

    for run in plan.runs:
        for name, group in groupby(run.legs, key=kind):
            legs = list(group)
            points = np.concatenate([legs[0].points[:1], *(leg.points[1:] for leg in legs)])
            yield run.thread, name, np.round(points * (1, -1) + (0, height), 3) + 0.0


def _layer_name(name: str, taken: set[str]) -> str:
    """Make a name fit for a layer, and unlike the others, whatever their capitals."""
    plain = dxf_layer(name)
    others = {other.lower() for other in taken}
    fits = (plain if k == 1 else f"{plain} {k}" for k in count(1))
    return next(fit for fit in fits if fit.lower() not in others)
