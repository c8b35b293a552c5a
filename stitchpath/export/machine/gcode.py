"""Plan to a G-code program for a pen (words of ISO 6983-1)."""

import re
from collections.abc import Iterator
from typing import Literal

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.base.escape import gcode_comment, gcode_comments
from stitchpath.base.typing import FloatArray
from stitchpath.export.machine.pen import TOLERANCE, Tile, pen_layers, pen_tiles
from stitchpath.geometry.polylines import moving_on
from stitchpath.plan import Plan

__all__ = ["plan_gcode"]

_UNITS = {"mm": ("G21", 1.0, 3), "in": ("G20", 1 / 25.4, 4)}  # word, units per mm, decimals
_PEN = {"mm": ("G0 Z5", "G1 Z0"), "in": ("G0 Z0.2", "G1 Z0")}
# Moves and pauses of the pen alone, and switches: nothing that stops the program or sets a mode.
_WORD = r"(?:G0?[014]|M(?!0?[012]\b|30\b)\d{1,3}|[ZSFP][+-]?\d{1,6}(?:\.\d{1,4})?)"
_WORDS = re.compile(rf"{_WORD}(?: {_WORD})*")


def plan_gcode(
    plan: Plan,
    *,
    unit: Literal["mm", "in"] = "mm",
    origin: str = "bottom left",
    bed: tuple[float, float] | None = None,
    feed: float = 1500.0,
    pen: tuple[str, str] | None = None,
    first_pass_up: bool = True,
    low_side: float = 0.0,
) -> str:
    """Write the path as G-code.

    Words as ISO 6983-1 has them: G20 or G21, G90, G94, G0, G1, F, M0, M2; comments stand in
    parentheses. Y points up. Each run begins with a rapid move, pen up; the program stops (M0)
    wherever the operator has something to do.

    Parameters
    ----------
    plan
        The plan.
    unit
        Unit of the program.
    origin
        The corner of the drawing that is X0 Y0: "bottom left", "bottom right", "top left" or "top
        right"; with tiles, that corner of each of them.
    bed
        Width and height that the pen reaches, mm; a larger drawing is cut into tiles. None where
        all is in reach.
    feed
        Of the pen, mm per minute.
    pen
        Words that lift and that lower it, in the program's unit, such as ("M5", "M3 S1000").
        Default Z 5 mm (0.2 in) and Z 0.
    first_pass_up
        Begin each tile with a pass that goes all the way with the pen up, and stop after it.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm.

    Raises
    ------
    StitchpathError
        When a word, the feed, the unit, the origin or the bed cannot be used.
    """
    if unit not in _UNITS:
        raise StitchpathError(f'unit: found {str(unit)[:20]!r}, expected "mm" or "in"')
    if not 0 < feed <= 100_000:  # noqa: PLR2004 - also refuses nan
        raise StitchpathError(f"feed: found {feed:g} mm per minute, expected 1 to 100000")
    up, down = _pen_words(pen or _PEN[unit])
    layers = pen_layers(plan, low_side=low_side, tolerance=TOLERANCE)
    tiles = pen_tiles(plan, layers, origin, bed)
    writer = _Writer(unit, feed, up, down)
    blocks = [
        *_header(plan, tiles, origin, unit, first_pass_up=first_pass_up),
        _UNITS[unit][0],
        "G90",
        "G94",
        writer.feed,
        up,
    ]
    for tile in tiles:
        blocks += writer.tile(tile, first_pass_up=first_pass_up)
    return "\n".join([*blocks, "M2", ""])


def _pen_words(pen: tuple[str, str]) -> tuple[str, str]:
    for words in pen:
        if not _WORDS.fullmatch(words):
            raise StitchpathError(
                f"pen: found {words[:40]!r}, expected words that lift or lower it, such as "
                '"G0 Z5" and "G1 Z0", or "M5" and "M3 S1000"'
            )
    if pen[0] == pen[1]:
        raise StitchpathError(f"pen: found {pen[0]!r} for up and down, expected two that differ")
    return pen


def _header(
    plan: Plan, tiles: list[Tile], origin: str, unit: str, *, first_pass_up: bool
) -> Iterator[str]:
    factor, decimals = _UNITS[unit][1:]

    def shown(*values: float) -> list[str]:
        return [f"{round(value * factor, decimals) + 0.0:.{decimals}f}" for value in values]

    width, height = shown(*tiles[0].size)
    yield from gcode_comments(f"{plan.top.name}: the stitching path, drawn with a pen")
    if first_pass_up:
        yield from gcode_comments(
            "THE FIRST PASS IS PEN UP: watch it go all the way, hands clear. It stops, start it "
            "again only when it lies right and hits nothing. The second pass draws."
        )
    else:
        yield from gcode_comments(
            "THERE IS NO PASS WITH THE PEN UP: make the first run of this program with the pen "
            "taken out, and watch it go all the way, hands clear."
        )
    yield from gcode_comments(
        "What the machine's own manual and the rules of the place say comes before this."
    )
    yield from gcode_comments(
        f"{unit}, X right, Y up. X0 Y0 is the {origin} corner. {width} by {height}"
    )
    if len(tiles) == 1:
        x, y = shown(*-np.array(tiles[0].corner) * (1, -1))
        yield from gcode_comments(f"the finished top's top left corner lies at X{x} Y{y}")
    else:
        yield from gcode_comments(
            f"{len(tiles)} tiles: move the quilt at each stop as the comment there says"
        )


class _Writer:
    """Blocks of a program."""

    def __init__(self, unit: str, feed: float, up: str, down: str) -> None:
        _, self._factor, self._decimals = _UNITS[unit]
        self.feed = f"F{feed * self._factor:.{1 if unit == 'mm' else 2}f}"
        self._up, self._down = up, down
        self._pen = 0

    def tile(self, tile: Tile, *, first_pass_up: bool) -> Iterator[str]:
        """Go over a tile, first with the pen up where that is asked for."""
        if tile.of > 1:
            yield from _lay(tile)
            if tile.number > 1:
                yield "M0"
        if first_pass_up:
            yield "(first pass, pen up)"
            for layer in tile.layers:
                for path in layer.paths:
                    yield from self._path(path, draw=False)
        for number, layer in enumerate(tile.layers):
            watched = first_pass_up and number == 0
            said = "the next pass draws, " if watched else ""
            yield gcode_comment(f"{said}pen {layer.pen}: {layer.thread}")
            if watched or self._pen not in (0, layer.pen):
                yield "M0"
            self._pen = layer.pen
            for path in layer.paths:
                yield from self._path(path, draw=True)

    def _path(self, path: FloatArray, *, draw: bool) -> Iterator[str]:
        blocks = self._points(path)
        yield f"G0 {blocks[0]}"
        if draw:
            yield self._down
        yield f"G1 {blocks[1]} {self.feed}"
        yield from (f"G1 {block}" for block in blocks[2:])
        if draw:
            yield self._up

    def _points(self, path: FloatArray) -> list[str]:
        points = np.round(path * self._factor, self._decimals) + 0.0  # no minus before nothing
        moved = moving_on(points)
        kept = points[moved] if moved.sum() > 1 else points[:2]
        d = self._decimals
        return [f"X{x:.{d}f} Y{y:.{d}f}" for x, y in kept.tolist()]


def _lay(tile: Tile) -> Iterator[str]:
    """Say where the quilt has to lie for a tile."""
    x, y = (round(value, 2) + 0.0 for value in tile.corner)
    sides = "right" if x >= 0 else "left", "below" if y >= 0 else "above"
    yield gcode_comment(
        f"tile {tile.number} of {tile.of}: bring to X0 Y0 the point of the quilt that lies"
    )
    yield gcode_comment(
        f"{abs(x)} mm {sides[0]} of, {abs(y)} mm {sides[1]} the top left corner of the top"
    )
