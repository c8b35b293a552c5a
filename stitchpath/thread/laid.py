"""How a fill lies on a whole top, before it is drawn: how long it is, what leads from row to row.

What is ruled is reckoned by its geometry, with the inset and the whole count of rows that
`stitchpath.lines.fills` keeps to. Where a style wanders its constants are measured from plans of
tops from 16 x 16 to 72 x 90 in, and are marked so.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import shapely

from stitchpath.base.errors import StitchpathError

__all__ = ["DECLINED", "LAID", "Ground", "Laid", "Motif", "Style", "laid", "rows_of", "whole"]

_FULL = 0.9  # share of the height of a row that its motif takes up: as rows are drawn
_WHOLE = 1e-6  # steps: so little is no row more
_GONE_BACK = 79.0  # mm along each upright where a pass ends; measured from plans
_ROW_INSET = 0.1  # of rows of a motif, in spacings: as they are drawn


class Motif(NamedTuple):
    """One motif of a row, in heights of its row.

    Attributes
    ----------
    length
        Of its line.
    pitch
        From its first end to its last.
    over
        How far it reaches beyond its ends, both together.
    """

    length: float
    pitch: float
    over: float = 0.0


class Ground(NamedTuple):
    """A whole top and how it is filled, mm.

    Attributes
    ----------
    width, height
        Of the top.
    spacing
        Of the fill.
    off
        How far off the edge the thread turns.
    passes
        In a frame, how many windows.
    motif
        For motif rows.
    """

    width: float
    height: float
    spacing: float
    off: float = 12.7
    passes: int = 1
    motif: Motif | None = None


@dataclass(frozen=True, slots=True)
class Laid:
    """What a fill comes to.

    Attributes
    ----------
    sewn
        Stitched as fill, mm.
    again
        Of it gone over again, mm.
    margin
        Stitched in the margin from row to row, mm.
    corners
        Right angles at the ends of rows.
    runs
        Threads begun and ended.
    apart
        From row to row, mm.
    """

    sewn: float
    again: float = 0.0
    margin: float = 0.0
    corners: float = 0.0
    runs: float = 1.0
    apart: float = 0.0

    def and_also(self, other: "Laid") -> "Laid":
        """Add another set of rows; it hangs on the same thread."""
        return Laid(
            self.sewn + other.sewn,
            self.again + other.again,
            self.margin + other.margin,
            self.corners + other.corners,
            self.runs,
            (self.apart + other.apart) / 2,
        )


@dataclass(frozen=True, slots=True)
class Style:
    """How a style is laid.

    Attributes
    ----------
    lay
        What it comes to on a ground.
    drawn
        How far a plan's length may lie from that, as factors: low and high.
    by_hand
        How far a hand that follows no drawn line may, as factors.
    rows
        Whether its thread comes to the margin at the end of each row.
    goes_round
        Whether it leads round the whole top, so that a frame would cut it up.
    """

    lay: Callable[[Ground], Laid]
    drawn: tuple[float, float]
    by_hand: tuple[float, float] = (1.0, 1.0)
    rows: bool = False
    goes_round: bool = False


def whole(span: float, spacing: float) -> int:
    """Tell how many rows come out whole in a span.

    Examples
    --------
    >>> whole(406.4, 50.8), whole(10, 40)
    (8, 1)
    """
    return max(1, round(span / spacing))


def _turned(sewn: float, rows: int, apart: float, ground: Ground) -> Laid:
    """Lead from row to row off the edge, out and back, and off it at first and last."""
    turns = max(rows - 1, 0)
    runs = 1.0 if ground.passes == 1 else (1 + ground.passes) / 2
    margin = turns * (apart + 2 * ground.off) + 2 * ground.off
    return Laid(sewn, margin=margin, corners=2 * turns, runs=runs, apart=apart)


def _parallel(ground: Ground) -> Laid:
    """Lay straight lines: the first and the last would lie on the edge, and are left out."""
    count = whole(ground.height, ground.spacing)
    return _turned((count - 1) * ground.width, count - 1, ground.height / count, ground)


def _crosshatch(ground: Ground) -> Laid:
    """Lay lines both ways; in a frame uprights are gone back along at the end of each pass."""
    across = _parallel(ground)
    upright = _parallel(ground._replace(width=ground.height, height=ground.width))
    crossings = (ground.passes - 1) * (whole(ground.width, ground.spacing) - 1)
    return across.and_also(replace(upright, again=_GONE_BACK * crossings))


def _midway(factor: float) -> Callable[[Ground], Laid]:
    """Lay rows midway, so that none lies on the edge, each so many times as long as straight."""

    def lay(ground: Ground) -> Laid:
        count = whole(ground.height, ground.spacing)
        return _turned(factor * count * ground.width, count, ground.height / count, ground)

    return lay


def _motifs(ground: Ground) -> Laid:
    """Lay rows of a motif, a whole number to each, and stems to the edge at both ends."""
    assert ground.motif is not None  # noqa: S101 - `laid` has asked for it
    inset = _ROW_INSET * ground.spacing
    wide, high = ground.width - 2 * inset, ground.height - 2 * inset
    count = whole(high, ground.spacing)
    row = high / count
    pitch, length = ground.motif.pitch * row, ground.motif.length * row
    motifs = max(1, round((wide - ground.motif.over * row) / pitch))
    # Stretched sideways alone, a line is longer by about half as much.
    stretched = (1 + wide / (motifs * pitch + ground.motif.over * row)) / 2
    sewn = count * (motifs * length * stretched + 2 * inset)
    return _turned(sewn, count, row, ground)


def _loops(ground: Ground) -> Laid:
    """Lay rows of loops: prolate cycloids, rod 3.3 times the wheel, as they are drawn."""
    steps = 720
    turn = [2 * math.pi * (k + 0.5) / steps for k in range(steps)]
    speed = [math.hypot(0.6 * (1 - 3.3 * math.cos(t)), 2 * math.sin(t)) for t in turn]
    size = _FULL / 4  # the loops are four wheels high
    length = sum(speed) * 2 * math.pi / steps
    furthest = math.acos(1 / 3.3)
    over = 2 * 0.6 * (3.3 * math.sin(furthest) - furthest)
    motif = Motif(length * size, 0.6 * 2 * math.pi * size, over * size)
    return _motifs(ground._replace(motif=motif))


def _orange_peel(ground: Ground) -> Laid:
    """Lay a quarter circle either way over each side of a grid of whole squares."""
    across, down = whole(ground.width, ground.spacing), whole(ground.height, ground.spacing)
    sides = ground.width / across + ground.height / down
    return _webbed(math.pi / math.sqrt(2) * sides * across * down, ground)


def _clamshell(ground: Ground) -> Laid:
    """Lay half circles as wide as a whole part of the top, in rows half that apart."""
    wide = ground.width / whole(ground.width, ground.spacing)
    found = _webbed(math.pi * ground.width * ground.height / wide, ground)
    return replace(found, runs=found.runs + 1)


def _webbed(sewn: float, ground: Ground) -> Laid:
    return Laid(sewn, margin=2 * ground.off, runs=float(ground.passes))


def _wandering(factor: float, inset: float) -> Callable[[Ground], Laid]:
    """Lay a line that wanders within an inset, in spacings; both measured from plans."""

    def lay(ground: Ground) -> Laid:
        off = inset * ground.spacing
        wide, high = max(ground.width - off, 0.0), max(ground.height - off, 0.0)
        return _webbed(factor * wide * high / ground.spacing, ground)

    return lay


def _rings(ground: Ground) -> Laid:
    """Lay rings inward from half a spacing, and hop from one to the next.

    That some way is gone again to the outermost is measured from plans.
    """
    inward = min(ground.width, ground.height) / 2
    count = max(1, math.ceil(inward / ground.spacing - 0.5))
    round_it = 2 * count * (ground.width + ground.height) - 4 * count**2 * ground.spacing
    return replace(_webbed(round_it + inward, ground), again=inward / 2)


def _radiating(ground: Ground) -> Laid:
    """Draw the pairs of lines inward from all round the edge: each comes back to it.

    Corners at a slanting edge take longer than right angles: that is measured from plans.
    """
    # The door to fills: few tops are asked about with this one.
    from stitchpath.lines.fills.radiating import radiating  # noqa: PLC0415 - that door

    top = shapely.box(0, 0, ground.width, ground.height)
    pairs = radiating(top, ground.spacing, (ground.width / 2, ground.height / 2))
    sewn = float(shapely.MultiLineString(pairs).intersection(top).length)
    apart = (ground.width + ground.height) / len(pairs)
    found = _turned(sewn, len(pairs), apart, ground)
    return replace(found, corners=1.2 * found.corners)


LAID: Mapping[str, Style] = {
    "parallel": Style(_parallel, (0.98, 1.02), rows=True),
    "crosshatch": Style(_crosshatch, (0.98, 1.02), rows=True),
    "matchstick": Style(_midway(1.0), (0.97, 1.03), rows=True),
    "waves": Style(_midway(1.05), (0.96, 1.04), rows=True),
    "loops": Style(_loops, (0.97, 1.05), (0.9, 1.1), rows=True),
    "motif rows": Style(_motifs, (0.96, 1.04), rows=True),
    "orange peel": Style(_orange_peel, (0.98, 1.02)),
    "clamshell": Style(_clamshell, (0.97, 1.05)),
    "rings": Style(_rings, (0.97, 1.05), goes_round=True),
    "spiral": Style(_wandering(1.03, 0.25), (0.96, 1.05), goes_round=True),
    "radiating lines": Style(_radiating, (0.98, 1.02), rows=True, goes_round=True),
    "pebbles": Style(_wandering(3.44, 0.4), (0.96, 1.04), (0.9, 1.1)),
    "meander": Style(_wandering(1.03, 0.5), (0.94, 1.06), (0.8, 1.3)),
    "stipple": Style(_wandering(1.03, 0.5), (0.94, 1.06), (0.8, 1.3)),
}
"""Fills that can be reckoned by the size of a top. A hand that wanders keeps its distance to a
quarter or so: from memory."""

_ROWS = {
    "parallel": 0.0, "matchstick": 0.4, "waves": 1.0, "loops": 1.0, "motif rows": 1.0,
    "crosshatch": 1.0, "orange peel": 1.0, "clamshell": 1.0,
}  # fmt: skip
"""Fills that a frame takes row by row, and how high a row is, in steps."""
_TO_EDGE = ("crosshatch", "orange peel")  # their lines lead off the upper and the lower edge

DECLINED: Mapping[str, str] = {
    "ribbon candy": "it is stitched along a border, and a size tells of none: plan a design",
    "feathers": "they are stitched along a border or as a wreath, and a size tells of none: plan a "
    "design",
    "piano keys": "they are stitched across the patches of a border, and a size tells of none: "
    "parallel comes to the same length",
    "continuous curve": "it follows each side of each patch, and a size tells of none: its length "
    "is about twice that of all seams, so name that as ditch",
}
"""Fills that cannot, and why."""


def laid(fill: str, ground: Ground) -> Laid:
    """Tell what a fill comes to on a top.

    Parameters
    ----------
    fill
        A style of the house, or "stipple", a small meander.
    ground
        The top.

    Raises
    ------
    StitchpathError
        When there is no such fill, or none that goes by the size of a top; when a line is too few;
        when a frame would cut it to pieces.

    Examples
    --------
    Seven lines of 16 in, 2 in apart, in inches; six turns of 3 in off the edge, and two ways off:

    >>> found = laid("parallel", Ground(16, 16, 2, off=0.5))
    >>> found.sewn, found.margin, found.corners
    (112, 19.0, 12)
    """
    if fill in DECLINED:
        raise _wrong("fill", f'found "{fill}", expected a fill of a whole top: {DECLINED[fill]}')
    if fill not in LAID:
        raise _wrong("fill", f'found "{fill}", expected one of {", ".join(LAID)}')
    if fill == "motif rows" and ground.motif is None:
        raise _wrong(
            "motif",
            "found none, expected the file of the motif, or the length of its line and how long it "
            'is from end to end, such as "14in 6in"',
        )
    if LAID[fill].goes_round and ground.passes > 1:
        raise _wrong(
            "fill",
            f'found "{fill}" in a frame that shows a part of the top at a time, expected a fill '
            "that is stitched pass by pass: this one leads round the whole top and would be cut "
            "at each pass",
        )
    found = LAID[fill].lay(ground)
    if not found.sewn > 0:
        raise _wrong("spacing", "found no line within the edge, expected a closer spacing")
    return found


def rows_of(fill: str, ground: Ground) -> list[tuple[float, float]]:
    """Tell from where to where each row lies, from the top down, mm: a pass takes whole rows.

    Parameters
    ----------
    fill, ground
        As for `laid`.

    Returns
    -------
    list of (low, high)
        Rows of cells where the lines of a grid cross; none where a pass may end anywhere.

    Examples
    --------
    >>> rows_of("parallel", Ground(16, 8, 2)), rows_of("loops", Ground(16, 4, 2))
    ([(2.0, 2.0), (4.0, 4.0), (6.0, 6.0)], [(0.0, 2.0), (2.0, 4.0)])
    """
    if fill not in _ROWS:
        return []
    step = ground.height / whole(ground.height, ground.spacing)
    if fill == "clamshell":
        step = ground.width / whole(ground.width, ground.spacing) / 2
    count, half = math.ceil(ground.height / step - _WHOLE), _ROWS[fill] / 2
    first, shift = (1, 0.0) if fill == "parallel" else (0, 0.5)
    middles = [step * (k + shift) for k in range(first, count)]
    rows = [(at - half * step, at + half * step) for at in middles]
    if fill == "waves":  # calm at the first and the last
        rows[0], rows[-1] = (middles[0], middles[0]), (middles[-1], middles[-1])
    if fill in _TO_EDGE:
        rows[0] = (-ground.off, rows[0][1])
        rows[-1] = (rows[-1][0], ground.height + ground.off)
    return rows


def _wrong(argument: str, said: str) -> StitchpathError:
    return StitchpathError(said).of_argument(argument)
