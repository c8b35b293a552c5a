"""The page of swatches: every fill on every ground, with what it takes."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from stitchpath.base.marks import INK
from stitchpath.base.units import Unit, format_distance, format_length
from stitchpath.export.picture import add_paths, fill_shapes, own_style, picture_bytes
from stitchpath.lines.fills.pattern import UNFIT
from stitchpath.told.job_rows import clock_time
from stitchpath.told.swatches import DIFFICULTY, GROUNDS, SIDE, WORDS, Swatch, SwatchRow

__all__ = ["draw_swatches"]

_CELL = 1.7  # in: side of a swatch on the page
_WORDS = 2.4  # in: room for the words beside them
_HEAD = 0.45  # in
_GAP = 0.08  # share of a cell left free about a swatch
_LETTER, _SMALL = 9.0, 7.0  # points


@own_style()
def draw_swatches(rows: Sequence[SwatchRow], kind: str, unit: Unit) -> bytes:
    """Draw swatches, a row for each fill, a column for each ground.

    Parameters
    ----------
    rows
        The fills.
    kind
        "svg" or "png".
    unit
        What lengths are told in.
    """
    width = _WORDS + len(GROUNDS) * _CELL
    height = _HEAD + len(rows) * _CELL
    figure = Figure(figsize=(width, height))
    for k, ground in enumerate(GROUNDS):
        x = (_WORDS + (k + 0.5) * _CELL) / width
        figure.text(x, 1 - _HEAD / 2 / height, ground, ha="center", fontsize=_LETTER, color=INK)
    for r, row in enumerate(rows):
        top = 1 - (_HEAD + (r + 0.5) * _CELL) / height
        _told(figure, row, top, height, unit)
        for k, ground in enumerate(GROUNDS):
            left, low = _WORDS + k * _CELL, height - _HEAD - (r + 1) * _CELL
            axes = figure.add_axes((left / width, low / height, _CELL / width, _CELL / height))
            _draw(axes, row.swatches[ground], row.style)
    return picture_bytes(figure, kind)


def _told(figure: Figure, row: SwatchRow, at: float, height: float, unit: Unit) -> None:
    """Write what a fill is and takes."""
    line = 0.17 / height
    inches = 25.4
    ground = f"{SIDE} in square" if row.measured == "a square" else row.measured
    words = [
        WORDS[row.style].partition(", ")[0],
        f"drawn at {format_length(row.spacing * inches, unit)}",
        (f"{row.foot} foot" if row.foot == "walking" else row.foot) + f", {DIFFICULTY[row.style]}",
        f"{format_distance(row.length, unit)}, {clock_time(round(row.seconds))} for {ground}",
    ]
    figure.text(0.02, at + 1.5 * line, row.style, fontsize=_LETTER, color=INK, weight="bold")
    for k, said in enumerate(words):
        figure.text(0.02, at + (0.4 - k) * line, said, fontsize=_SMALL, color=INK)


def _draw(axes: Axes, swatch: Swatch, style: str) -> None:
    top = swatch.top
    gap = _GAP * max(top.width, top.height)
    axes.set_xlim(-gap, top.width + gap)
    axes.set_ylim(top.height + gap, -gap)
    axes.set_aspect("equal")
    axes.axis("off")
    for patch in top.patches:
        fill_shapes(axes, [patch.polygon], top.fabrics[patch.fabric].colour, edge=INK)
    for piece in top.pieces:
        fill_shapes(axes, [piece.shape], top.fabrics[piece.asked.fabric].colour, edge=INK)
    add_paths(axes, [line.points for line in swatch.lines], colour=INK, width=0.7)
    if not swatch.lines:
        said = "not for\nsuch a ground" if style in UNFIT else "no room"
        axes.text(top.width / 2, top.height / 10, said, va="center", ha="center", fontsize=_SMALL)
