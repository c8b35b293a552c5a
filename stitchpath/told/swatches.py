"""Swatches: every fill on four kinds of ground, to choose by eye, with what each takes."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from stitchpath.design.read import design_from_text
from stitchpath.hands.feet import STRAIGHT
from stitchpath.lines.ditch import seam_bits
from stitchpath.lines.fill_lines import fill_lines
from stitchpath.lines.line import Line
from stitchpath.plan import make_plan
from stitchpath.top.build import Top, build_top

__all__ = ["DIFFICULTY", "GROUNDS", "SIDE", "WORDS", "Swatch", "SwatchRow", "swatch_rows"]

SIDE = 6
"""Side of the block that a swatch shows, in."""

WORDS = {
    "parallel": "straight lines one way",
    "crosshatch": "straight lines both ways, at 45 degrees",
    "matchstick": "straight lines unevenly apart",
    "piano keys": "lines across each patch, for borders",
    "waves": "waves in step",
    "orange peel": "quarter circles over a grid of squares",
    "clamshell": "rows of half circles",
    "continuous curve": "a shallow arc inside each side of each patch",
    "rings": "echoes of the edge, inward",
    "spiral": "one line in and out again",
    "meander": "one line that wanders",
    "loops": "rows of loops",
    "radiating lines": "straight lines from the middle, round at their turns",
    "ribbon candy": "a ribbon folded to and fro, for borders",
    "pebbles": "circles side by side, each gone round once",
    "feathers": "plumes on a spine, for borders, and as a wreath",
}
"""Every fill that needs no drawing of yours, and what is stitched."""

DIFFICULTY = {
    "parallel": "easy",
    "crosshatch": "easy",
    "matchstick": "easy",
    "piano keys": "easy",
    "waves": "easy",
    "continuous curve": "some practice",
    "orange peel": "some practice",
    "radiating lines": "some practice",
    "rings": "some practice",
    "spiral": "some practice",
    "meander": "some practice",
    "loops": "some practice",
    "clamshell": "practised",
    "ribbon candy": "practised",
    "pebbles": "practised",
    "feathers": "very practised",
}
"""How much practice each wants: common practice, from memory."""

_SECONDS = 1.0  # for the proof of a square: what is gained after that no swatch shows
_SCALE = {"orange peel": 3.0, "clamshell": 3.0, "continuous curve": 0.75, "loops": 2.0,
          "feathers": 0.6}  # fmt: skip
"""Spacings of a style in those asked for: what it is measured by is larger or smaller there."""
_BEGIN = """
name = "swatch"
fabrics = {{ sand = "#efe6d6", sea = "#c9d7de", rust = "#c98f78" }}
[blocks.b]
size = {side}
grid = ['{grid}']
[layout]
rows = ["b"]
{more}
[lines]
ditch = "none"
[[fills]]
{region}
style = "{style}"
spacing = {spacing}
angle = {angle}
"""
_ROUND = (
    '[[applique]]\nname = "buoy"\nfabric = "rust"\nfused = "before"\non = "b"\nsize = 3\n'
    'centre = false\noutline = "M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z"'
)
_BORDER = '[[layout.borders]]\nwidth = 1.5\nfabric = "sea"\ncorners = "mitred"'
GROUNDS = {
    "a square": (SIDE, "sand", "", 'region = "b"'),
    "a half square": (SIDE, "sand/sea", "", 'fabric = "sea"'),
    "round a piece": (SIDE, "sand", _ROUND, 'region = "ground"'),
    "a border": (SIDE - 3, "sand", _BORDER, 'region = "border 1"'),
}
"""What each is laid on: side of the block, its grid, what else there is, what is filled."""


@dataclass(frozen=True, slots=True)
class Swatch:
    """One fill on one ground.

    Attributes
    ----------
    top
        What it is laid on.
    lines
        Its lines; none where it has no room there.
    """

    top: Top
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class SwatchRow:
    """One fill on every ground.

    Attributes
    ----------
    style
        Its name.
    spacing
        What it is drawn at, in.
    foot
        With which foot it is stitched on a domestic machine (common practice).
    measured
        The ground that `seconds` and `length` are of: a square of `SIDE`, else the first on which
        it has room; empty where there is none.
    seconds, length
        What it takes to quilt that ground with it, s, and all that is sewn, mm; planned.
    swatches
        By ground.
    """

    style: str
    spacing: float
    foot: str
    measured: str
    seconds: float
    length: float
    swatches: dict[str, Swatch]


def swatch_rows(spacing: float, now: Callable[[str], None] | None = None) -> Iterator[SwatchRow]:
    """Draw every fill on every ground and plan the square of it.

    Parameters
    ----------
    spacing
        Between lines, in; some styles are drawn at a multiple of it.
    now
        Called with what is being done.

    Raises
    ------
    StitchpathError
        When no fill can be made at that spacing.
    """
    for style in WORDS:
        if now is not None:
            now(f"quilting a square with {style}")
        at = spacing * _SCALE.get(style, 1.0)
        swatches = {ground: _swatch(ground, style, at) for ground in GROUNDS}
        measured = next((ground for ground in GROUNDS if swatches[ground].lines), "")
        seconds, length = _taken(measured, style, at) if measured else (0.0, 0.0)
        foot = "walking" if style in STRAIGHT else "free-motion"
        yield SwatchRow(style, at, foot, measured, seconds, length, swatches)


def _taken(ground: str, style: str, spacing: float) -> tuple[float, float]:
    """Plan a ground with a fill: seconds and all that is sewn, mm."""
    design = design_from_text(_text(ground, style, spacing), "swatch")
    plan = make_plan(design, time_limit=_SECONDS, cures=False)
    totals = plan.totals
    sewn = totals.stitched + totals.retraced + totals.travelled
    return float(sum(time.total for time in plan.times)), sewn


def _text(ground: str, style: str, spacing: float) -> str:
    side, grid, more, region = GROUNDS[ground]
    angle = 45 if style == "crosshatch" else 0
    return _BEGIN.format(
        side=side, grid=grid, more=more, region=region, style=style, spacing=spacing, angle=angle
    )


def _swatch(ground: str, style: str, spacing: float) -> Swatch:
    design = design_from_text(_text(ground, style, spacing), "swatch")
    top = build_top(design)
    none = np.zeros(len(top.seams), dtype=bool)  # no seam is stitched
    return Swatch(top, fill_lines(design, top, seam_bits(top), none, []).lines)
