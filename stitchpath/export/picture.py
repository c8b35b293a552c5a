"""Pictures of a top or a block: fabrics, low sides, lines; PNG or SVG through matplotlib."""

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from shapely import MultiPolygon, Polygon

from stitchpath.export.compound_path import compound_path
from stitchpath.geometry.empty_circles import LoosePlace
from stitchpath.lines.line import Line
from stitchpath.plan import Plan
from stitchpath.top.block import DrawnBlock
from stitchpath.top.build import Top
from stitchpath.typing import FloatArray

__all__ = ["draw_block_picture", "draw_top", "own_style", "picture_bytes", "plan_picture"]

_LONG_SIDE = 9.0  # in: size of the picture on paper
_POINTS = 72  # to the inch: an SVG by matplotlib has a point to the user unit
_POINT_SIZE = re.compile(rb'((?:width|height)="[\d.]+)pt"')
_LOW_GAP = 0.9  # mm: how far beside a seam its low side is marked
_PALETTE = ("#c9d7de", "#7fa3b5", "#e0c9a6", "#b5543c", "#41566b", "#8f9f6d", "#efe6d8", "#5b4a3f")


@contextmanager
def own_style() -> Iterator[None]:
    """Draw alike everywhere, whatever settings of matplotlib lie in a home or working folder."""
    with mpl.rc_context():
        mpl.rcdefaults()
        yield


def plan_picture(plan: Plan, kind: str, dpi: int = 150) -> bytes:
    """Draw the top for a booklet: what is loose is ringed by the command draw, not here.

    Parameters
    ----------
    plan
        The plan.
    kind
        "svg" or "png".
    dpi
        Dots to the inch of a PNG.
    """
    return draw_top(plan.top, plan.lines, kind, dpi=dpi)


@own_style()
def draw_top(
    top: Top,
    lines: Sequence[Line],
    kind: str,
    *,
    dpi: int = 150,
    loose: Sequence[LoosePlace] = (),
) -> bytes:
    """Draw the finished top with its lines.

    Parameters
    ----------
    top
        The finished top.
    lines
        Lines to quilt, drawn over it: ditches dashed along their low side, others solid.
    kind
        "png" or "svg"; an SVG is as large as the quilt, a millimetre to the user unit.
    dpi
        Dots to the inch of a PNG whose long side is 9 in.
    loose
        Circles without stitching, ringed.
    """
    figure, axes, pen = _sheet(top.width, top.height, true_size=kind == "svg")
    for fabric, spec in top.fabrics.items():
        _fill(axes, [p.polygon for p in top.patches if p.fabric == fabric], spec.colour, pen=pen)
    _add(axes, [seam.points for seam in top.seams], colour="#ffffff", width=0.3 * pen)
    ditch = [_low_side(line) for line in lines if line.kind == "ditch"]
    shown = {
        stage: [
            x.points for x in lines if x.kind != "ditch" and (x.stage == 1) == (stage == "before")
        ]
        for stage in ("before", "after")
    }
    for stage in ("before", "after"):  # what is fused after quilting covers the lines beneath
        for piece in top.pieces:
            if piece.asked.fused == stage:
                colour = top.fabrics[piece.asked.fabric].colour
                _fill(axes, [piece.shape], colour, edge="#3a3a3a", pen=pen)
        if stage == "before":
            _add(axes, ditch, colour="#101010", width=0.7 * pen, style=(0, (4, 2)))
        _add(axes, shown[stage], colour="#101010", width=0.9 * pen)
    rings = [_ring(place) for place in loose]
    _add(axes, rings, colour="#ffffff", width=2.2 * pen)  # seen on any fabric
    _add(axes, rings, colour="#c2185b", width=1.1 * pen)
    made = picture_bytes(figure, kind, dpi)
    return _POINT_SIZE.sub(rb'\1mm"', made, count=2) if kind == "svg" else made


@own_style()
def draw_block_picture(block: DrawnBlock, kind: str) -> bytes:
    """Draw one block of the library, a colour for each of its fabric roles."""
    figure, axes, _ = _sheet(block.width, block.height)
    roles = list(dict.fromkeys(p.fabric for p in block.patches))
    for patch in block.patches:
        colour = _PALETTE[roles.index(patch.fabric) % len(_PALETTE)]
        _fill(axes, [patch.polygon], colour, edge="#3a3a3a")
        point = patch.polygon.representative_point()
        axes.text(
            point.x, point.y, patch.name, ha="center", va="center", fontsize=6, parse_math=False
        )
    return picture_bytes(figure, kind)


def _sheet(width: float, height: float, *, true_size: bool = False) -> tuple[Figure, Axes, float]:
    """Make a figure, and tell how much wider than on a picture of 9 in its lines have to be."""
    scale = 1 / _POINTS if true_size else _LONG_SIDE / max(width, height)
    figure = Figure(figsize=(width * scale, height * scale))
    axes = figure.add_axes((0, 0, 1, 1) if true_size else (0.01, 0.01, 0.98, 0.98))
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    axes.set_aspect("equal")
    axes.axis("off")
    return figure, axes, max(width, height) * scale / _LONG_SIDE


def _fill(
    axes: Axes,
    shapes: Sequence[Polygon | MultiPolygon],
    colour: str,
    edge: str | None = None,
    pen: float = 1.0,
) -> None:
    """Fill all shapes of a colour as one path: an artist for each takes long on a large top."""
    parts = shapely.get_parts(shapely.orient_polygons(np.array(shapes, dtype=object)))
    rings = [shapely.get_coordinates(ring) for ring in shapely.get_rings(parts)]
    # An edge of its own colour closes the hairline gaps that antialiasing leaves between patches.
    _add(axes, rings, colour=edge or colour, width=0.3 * pen, fill=colour)


def _add(
    axes: Axes,
    paths: Sequence[FloatArray],
    *,
    colour: str,
    width: float,
    style: str | tuple[int, tuple[int, ...]] = "solid",
    fill: str = "none",
) -> None:
    """Add polylines, or rings where they are filled, each of shape (n, 2), as one path."""
    if not paths:
        return
    path = compound_path(paths, closed=fill != "none")
    axes.add_artist(PathPatch(path, fc=fill, ec=colour, linewidth=width, linestyle=style, zorder=1))


def _low_side(line: Line) -> FloatArray:
    """Move a ditch line a little to its low side, so that the eye sees which it is."""
    if line.low == 0:
        return line.points
    way = np.gradient(line.points, axis=0)
    unit = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
    return line.points + np.column_stack([-unit[:, 1], unit[:, 0]]) * line.low * _LOW_GAP


def _ring(place: LoosePlace) -> FloatArray:
    turn = np.linspace(0, 2 * np.pi, 73)
    unit = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.array([place.x, place.y]) + place.diameter / 2 * unit


def picture_bytes(figure: Figure, kind: str, dpi: int = 150) -> bytes:
    """Write a figure as a file, the same bytes each time.

    Parameters
    ----------
    figure
        What is drawn.
    kind
        "png" or "svg".
    dpi
        Dots to the inch of a PNG.
    """
    buffer = io.BytesIO()
    with mpl.rc_context({"svg.hashsalt": "stitchpath", "svg.fonttype": "none"}):
        metadata = {"Date": None} if kind == "svg" else {"Software": None}
        figure.savefig(buffer, format=kind, dpi=dpi, metadata=metadata)
    return buffer.getvalue()
