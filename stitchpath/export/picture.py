"""Pictures of a top or a block: fabrics, stitching, what it means; PNG or SVG by matplotlib."""

import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from shapely import MultiPolygon, Polygon

from stitchpath.base.marks import (
    INK,
    LINES,
    PAPER,
    Entry,
    LineLook,
    LineName,
    ThreadLook,
    casing_of,
    casing_reach,
    legend_of,
    thread_looks,
)
from stitchpath.base.typing import FloatArray
from stitchpath.export.compound_path import compound_path
from stitchpath.geometry.empty_circles import LoosePlace
from stitchpath.lines.ditch import seams_left
from stitchpath.lines.line import Line
from stitchpath.plan import Plan
from stitchpath.top.block import DrawnBlock
from stitchpath.top.build import Top
from stitchpath.top.place_names import Places
from stitchpath.top.squares import MapSquare

__all__ = [
    "add_paths",
    "draw_block_picture",
    "draw_top",
    "fill_shapes",
    "own_style",
    "picture_bytes",
    "plan_picture",
]

_LONG_SIDE = 9.0  # in: size of the picture on paper
_POINTS = 72  # to the inch: an SVG by matplotlib has a point to the user unit
_POINT_SIZE = re.compile(rb'((?:width|height)="[\d.]+)pt"')
_LOW_GAP = 0.9  # mm: how far beside a seam its low side is marked
_LETTER = 8.0  # points on a picture of 9 in
_WIDE = 0.55  # a letter of the key, of its height: about, for fonts differ
_NAME = 0.8  # of the letters of the key: names of blocks
_NAMED = 400  # blocks: of more none is named, for the names would hide the quilt
_ROOM = 0.5  # of a block's width: a longer name is left out
_ROW = 1.9  # a line of the key, of the letters' height
_SAMPLE, _INDENT = 4.5, 5.5  # of the letters' height
_PALETTE = ("#c9d7de", "#7fa3b5", "#e0c9a6", "#b5543c", "#41566b", "#8f9f6d", "#efe6d8", "#5b4a3f")


@contextmanager
def own_style() -> Iterator[None]:
    """Draw alike everywhere, whatever settings of matplotlib lie in a home or working folder."""
    with mpl.rc_context():
        mpl.rcdefaults()
        yield


def plan_picture(plan: Plan, kind: str, dpi: int = 150) -> bytes:
    """Draw the top for a booklet: what is loose is ringed by the command draw, not here.

    Every stitch that will be seen is there, travel along seams too. Travel in the margin is cut
    off, and that along the edge lies under the binding.

    Parameters
    ----------
    plan
        The plan.
    kind
        "svg" or "png".
    dpi
        Dots to the inch of a PNG.
    """
    travel = [
        (run.stage, run.thread, leg.points)
        for run in plan.runs
        for leg in run.legs
        if leg.do == "travel" and leg.along == "seam"
    ]
    return draw_top(plan.top, plan.lines, kind, plan.thread_colours(), dpi=dpi, travel=travel)


@own_style()
def draw_top(
    top: Top,
    lines: Sequence[Line],
    kind: str,
    colours: Mapping[str, str],
    *,
    dpi: int = 150,
    travel: Sequence[tuple[int, str, FloatArray]] = (),
    loose: Sequence[LoosePlace] = (),
) -> bytes:
    """Draw the finished top with its lines, and explain them below it.

    Parameters
    ----------
    top
        The finished top.
    lines
        Lines to quilt, drawn over it, each in the look of its thread: ditches on their low side.
    kind
        "png" or "svg"; an SVG has the quilt at true size, a millimetre to the user unit.
    colours
        Of the threads, by name.
    dpi
        Dots to the inch of a PNG whose quilt is 9 in on its long side.
    travel
        Stage, thread and path of what is stitched only to get on, and is seen.
    loose
        Circles without stitching, ringed.
    """
    looks = thread_looks((line.thread for line in lines), colours)
    strokes = [_Stroke(line.stage, "stitch", line.thread, _low_side(line)) for line in lines]
    strokes += [_Stroke(s, "travel", thread, points) for s, thread, points in travel]
    used = {(stroke.line, stroke.thread): None for stroke in strokes}
    used |= {("seam", ""): None} if top.pieces or seams_left(top, lines) else {}
    used |= {("loose", ""): None} if loose else {}
    key = legend_of(used, looks, 0.0)
    true_size = kind == "svg"
    figure, axes, pen = _sheet(
        top.width, top.height, true_size=true_size, below=_key_height(top, key)
    )
    brush = _Brush(axes, pen, looks, [top.fabrics[name].colour for name in top.fabrics])
    for fabric, spec in top.fabrics.items():
        fill_shapes(
            axes, [p.polygon for p in top.patches if p.fabric == fabric], spec.colour, pen=pen
        )
    brush.plain("seam", [seam.points for seam in top.seams])
    for stage in ("before", "after"):  # what is fused after quilting covers the lines beneath
        for piece in top.pieces:
            if piece.asked.fused == stage:
                colour = top.fabrics[piece.asked.fabric].colour
                fill_shapes(axes, [piece.shape], colour, edge=LINES["seam"].colour, pen=pen)
        brush.strokes([x for x in strokes if (x.stage == 1) == (stage == "before")])
    _name_blocks(brush, top)
    brush.plain("loose", [_ring(place) for place in loose], cased=True)
    _draw_key(brush, top, key)
    made = picture_bytes(figure, kind, dpi)
    return _POINT_SIZE.sub(rb'\1mm"', made, count=2) if true_size else made


class _Stroke(NamedTuple):
    """What is stitched, as it is drawn."""

    stage: int
    line: LineName
    thread: str
    points: FloatArray


@dataclass(frozen=True)
class _Brush:
    """Draws lines as `stitchpath.base.marks` says.

    Attributes
    ----------
    axes
        Where to.
    pen
        Points.
    looks
        By thread.
    grounds
        Colours of the fabrics.
    """

    axes: Axes
    pen: float
    looks: Mapping[str, ThreadLook]
    grounds: Sequence[str]

    def plain(self, name: LineName, paths: Sequence[FloatArray], *, cased: bool = False) -> None:
        """Draw lines that are of no thread."""
        look = LINES[name]
        if cased:
            width = look.width + 2 * casing_reach(PAPER)
            add_paths(self.axes, paths, colour=PAPER, width=self.pen * width)
        add_paths(self.axes, paths, colour=look.colour, width=self.pen * look.width)

    def strokes(self, strokes: Sequence[_Stroke]) -> None:
        """Draw stitching: casings first, so that none covers a line."""
        for casing in (True, False):
            for line in ("travel", "stitch"):
                for thread in self.looks:
                    mine = [x.points for x in strokes if (x.line, x.thread) == (line, thread)]
                    self._thread(LINES[line], thread, mine, casing=casing)

    def _thread(
        self, what: LineLook, thread: str, paths: Sequence[FloatArray], *, casing: bool
    ) -> None:
        look = self.looks[thread]
        width = look.width * what.width
        round_it = casing_of(look.colour, self.grounds)
        if not casing:
            dash = look.dash if what.dash is None else what.dash
            style = (0, tuple(part / width for part in dash)) if dash else "solid"
            add_paths(self.axes, paths, colour=look.colour, width=self.pen * width, style=style)
        elif round_it is not None:
            width += 2 * casing_reach(round_it)
            add_paths(self.axes, paths, colour=round_it, width=self.pen * width)


def _letter(top: Top) -> float:
    """Give the height of letters of the key, mm on the quilt."""
    return _LETTER * max(top.width, top.height) / (_LONG_SIDE * _POINTS)


def _columns(top: Top, key: Sequence[Entry]) -> int:
    widest = max((len(entry.words) for entry in key), default=1) * _WIDE + _INDENT + 3
    return max(int(top.width / _letter(top) / widest), 1)


def _key_height(top: Top, key: Sequence[Entry]) -> float:
    """Tell how high the key is, mm on the quilt."""
    rows = math.ceil(len(key) / _columns(top, key))
    return (rows * _ROW + 1) * _letter(top) if key else 0.0


def _draw_key(brush: _Brush, top: Top, key: Sequence[Entry]) -> None:
    """Explain what is drawn, and nothing else, below the quilt."""
    text, columns = _letter(top), _columns(top, key)
    rows = math.ceil(len(key) / columns)
    for k, entry in enumerate(key):
        x = top.width / columns * (k // rows)
        y = top.height + (k % rows + 1) * _ROW * text
        level = y - 0.35 * text
        sample = np.array([[x, level], [x + _SAMPLE * text, level]])
        line: LineName = entry.name  # type: ignore[assignment]
        if entry.thread:
            brush.strokes([_Stroke(1, line, entry.thread, sample)])
        else:
            brush.plain(line, [sample])
        before, thread = entry.parts
        x += _INDENT * text
        _word(brush, (x, y), before)
        if thread:
            x += len(before) * _WIDE * text
            chip = shapely.box(x, y - 0.8 * text, x + 1.4 * text, y + 0.2 * text)
            fill_shapes(brush.axes, [chip], brush.looks[thread].colour, edge=INK, pen=brush.pen)
            _word(brush, (x + 2 * text, y), thread)


def _word(brush: _Brush, at: tuple[float, float], text: str) -> None:
    size = _LETTER * brush.pen
    brush.axes.text(*at, text, fontsize=size, color=INK, va="baseline", parse_math=False)


def _name_blocks(brush: _Brush, top: Top) -> None:
    """Write the name of each block into a corner of it, small, on a slip of paper."""
    if len(top.windows) > _NAMED:
        return
    places, text = Places(top), _NAME * _letter(top)
    for block in top.windows:
        name = places.block(block.place)
        low, high = block.corners.min(axis=0), block.corners.max(axis=0)
        if len(name) * _WIDE * text > _ROOM * (high - low)[0] or 2 * text > (high - low)[1]:
            continue
        if isinstance(block, MapSquare):
            arm = np.array([[-0.6, 0.0], [0.6, 0.0]]) * text
            crosses = [at + way for at in block.corners for way in (arm, arm[:, ::-1])]
            add_paths(brush.axes, crosses, colour=INK, width=0.8 * brush.pen)
        corner = block.corners[np.lexsort(block.corners.T.round(3))[0]]  # highest, then leftmost
        x, y = corner + (block.corners.mean(axis=0) - corner) * 0.03 + np.array([0.3, 1.1]) * text
        if len(np.unique(block.corners[:, 0].round(3))) > 2:  # noqa: PLR2004 - stands on its corner
            x, y = corner[0] - len(name) * _WIDE * text / 2, corner[1] + 2.4 * text
        brush.axes.text(
            x, y, name, fontsize=_NAME * _LETTER * brush.pen, color=INK, va="baseline",
            parse_math=False, zorder=2,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2 * brush.pen},
        )  # fmt: skip


@own_style()
def draw_block_picture(block: DrawnBlock, kind: str) -> bytes:
    """Draw one block of the library, a colour for each of its fabric roles."""
    figure, axes, _ = _sheet(block.width, block.height)
    roles = list(dict.fromkeys(p.fabric for p in block.patches))
    for patch in block.patches:
        colour = _PALETTE[roles.index(patch.fabric) % len(_PALETTE)]
        fill_shapes(axes, [patch.polygon], colour, edge="#3a3a3a")
        point = patch.polygon.representative_point()
        axes.text(
            point.x, point.y, patch.name, ha="center", va="center", fontsize=6, parse_math=False
        )
    return picture_bytes(figure, kind)


def _sheet(
    width: float, height: float, *, true_size: bool = False, below: float = 0.0
) -> tuple[Figure, Axes, float]:
    """Make a figure with room below, and tell how wide its pen is: a point on a picture of 9 in."""
    scale = 1 / _POINTS if true_size else _LONG_SIDE / max(width, height)
    figure = Figure(figsize=(width * scale, (height + below) * scale))
    axes = figure.add_axes((0, 0, 1, 1) if true_size else (0.01, 0.01, 0.98, 0.98))
    axes.set_xlim(0, width)
    axes.set_ylim(height + below, 0)
    axes.set_aspect("equal")
    axes.axis("off")
    return figure, axes, max(width, height) * scale / _LONG_SIDE


def fill_shapes(
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
    add_paths(axes, rings, colour=edge or colour, width=0.3 * pen, fill=colour)


def add_paths(
    axes: Axes,
    paths: Sequence[FloatArray],
    *,
    colour: str,
    width: float,
    style: str | tuple[int, tuple[float, ...]] = "solid",
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
