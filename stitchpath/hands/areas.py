"""Areas: what she finishes in one go, and the ground between, to which one need not come back."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import cos, hypot, radians

import numpy as np

from stitchpath.design.model import Design
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.fills.pattern import CLOSED
from stitchpath.lines.line import Line
from stitchpath.top.build import Top
from stitchpath.top.place import Place, Subject
from stitchpath.typing import IntArray

__all__ = ["GROUND", "Areas", "areas_of"]

GROUND = 0
"""The area that costs nothing to come to: what lies between areas, and the margin."""

_SETTLE = 4  # ditch lines: a block with fewer is stitched in passing
_ON = cos(radians(10))  # lines that turn less where they meet run on


@dataclass(frozen=True, slots=True)
class Areas:
    """In which area each line and each seam lies.

    Attributes
    ----------
    of
        What each area is, by its number less one: a block, a border, an appliqué piece, a pieced
        motif, a filled ground.
    line
        Number of the area of each line, `GROUND` where it lies between; shape (lines,).
    seam
        The same of each seam of the top, shape (seams,).
    """

    of: tuple[Subject, ...]
    line: IntArray
    seam: IntArray


def areas_of(design: Design, top: Top, lines: Sequence[Line]) -> Areas:
    """Tell areas apart.

    Seams between blocks, sashing and borders are ground: they belong to all that they hold. So are
    fills that run from edge to edge of their region, for they are come to by its edge again and
    again, and that is no coming back. What is closed, and entered by one door, is an area. A ditch
    that runs on from one area into the next without a corner is ground as well: she stitches it
    through, from margin to margin if she can. And so are the ditches of a block with three lines or
    fewer, which are stitched in passing.

    Parameters
    ----------
    design, top
        The design, and its top.
    lines
        Every line.
    """
    numbers: dict[Subject, int] = {}

    def number(area: Subject | None) -> int:
        return GROUND if area is None else numbers.setdefault(area, len(numbers) + 1)

    seam = [number(None if s.joining else _inside(top.patches[s.left].place)) for s in top.seams]
    line = [
        seam[one.of.seam]
        if one.kind == "ditch" and one.of.seam >= 0
        else number(_area(design, top, one.of))
        for one in lines
    ]
    found = np.array(line, dtype=np.int64)
    found[_running_on(lines, found)] = GROUND
    found[_few(lines, found)] = GROUND
    return Areas(tuple(numbers), found, np.array(seam, dtype=np.int64))


def _running_on(lines: Sequence[Line], area: IntArray) -> IntArray:
    """Find the ditch lines that run on, without a corner, from one area into another."""
    ditch = [k for k, line in enumerate(lines) if line.kind == "ditch" and len(line.points) > 1]
    tips: dict[tuple[int, int], list[tuple[int, float, float]]] = {}
    for k in ditch:
        points = lines[k].points
        for at, inner in ((points[0], points[1]), (points[-1], points[-2])):
            x, y = (inner - at).tolist()
            place = (round(float(at[0]) / GRID), round(float(at[1]) / GRID))
            tips.setdefault(place, []).append((k, x / hypot(x, y), y / hypot(x, y)))
    leader = list(range(len(lines)))
    for met in tips.values():
        for (one, x, y), (other, u, v) in combinations(met, 2):
            if x * u + y * v < -_ON:
                leader[_led(leader, one)] = _led(leader, other)
    touched: dict[int, set[int]] = {}
    for k in ditch:
        touched.setdefault(_led(leader, k), set()).add(int(area[k]))
    return np.array([k for k in ditch if len(touched[_led(leader, k)] - {GROUND}) > 1], dtype=int)


def _few(lines: Sequence[Line], area: IntArray) -> IntArray:
    """Find the ditch lines of areas where little is stitched: no place to settle down in."""
    ditch = np.array([line.kind == "ditch" for line in lines], dtype=bool)
    count = np.bincount(area, minlength=1)
    others = np.bincount(area[~ditch], minlength=len(count))
    return np.flatnonzero(ditch & (count[area] < _SETTLE) & (others[area] == 0))


def _led(leader: list[int], one: int) -> int:
    while leader[one] != one:
        leader[one] = leader[leader[one]]
        one = leader[one]
    return one


def _area(design: Design, top: Top, of: Subject) -> Subject | None:
    """Tell the area of a line that lies in no ditch."""
    if of.pieces:
        return Subject(pieces=of.pieces[:1])
    if of.motif >= 0:
        return Subject(motif=of.motif)
    if of.fill >= 0 and design.fills[of.fill].style not in CLOSED:
        return None
    place = of.place or (top.patches[of.patch].place if of.patch >= 0 else None)
    if place is not None and not of.around:
        return _inside(place)
    return Subject(fill=of.fill) if of.fill >= 0 else None


def _inside(place: Place) -> Subject:
    """All sides of a border are one area."""
    if place.part == "border":
        place = Place("border", number=place.number)
    return Subject(place=place)
