"""Areas: what she finishes in one go, and the ground between, to which one need not come back."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import BoolArray, IntArray
from stitchpath.design.model import Design
from stitchpath.geometry.groups import groups
from stitchpath.geometry.tolerances import GRID, SAME_PLACE
from stitchpath.lines.fills.pattern import CLOSED
from stitchpath.lines.line import Line
from stitchpath.top.build import Top
from stitchpath.top.place import Place, Subject

__all__ = ["GROUND", "Areas", "areas_of"]

_STRAIGHT_ON = -np.cos(np.radians(5))  # two ways out of a place that make one straight

GROUND = 0
"""The area that costs nothing to come to: what lies between areas, and the margin."""

_SETTLE = 4  # ditch lines: a block with fewer is no area of its own


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
    seams that go straight on from one block into the next, for no one stops at each block. So are
    fills that run from edge to edge of their region: one comes to them by its edge again and again,
    and that is no coming back. What is closed, and entered by one door, is an area. So is a
    block, but not one with three ditch lines or fewer: those are stitched in passing. Squares of a
    map only name places, so a drawn top without blocks is ground but for its pieces and fills.

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

    through = _long_straights(top)
    seam = [
        number(None if s.joining or straight else _inside(top.patches[s.left].place))
        for s, straight in zip(top.seams, through.tolist(), strict=True)
    ]
    line = [
        seam[one.of.seam]
        if one.kind == "ditch" and one.of.seam >= 0
        else number(_area(design, top, one.of))
        for one in lines
    ]
    areas = Areas(tuple(numbers), np.array(line, dtype=np.int64), np.array(seam, dtype=np.int64))
    return _settled(areas, np.array([one.kind == "ditch" for one in lines], dtype=bool))


def _settled(areas: Areas, ditch: BoolArray) -> Areas:
    """Leave out areas where only a ditch line or two are stitched: no place to settle down in."""
    size = len(areas.of) + 1
    count = np.bincount(areas.line, minlength=size)
    others = np.bincount(areas.line[~ditch], minlength=size)
    small = (count > 0) & (count < _SETTLE) & (others == 0)
    line, seam = (np.where(small[of], GROUND, of) for of in (areas.line, areas.seam))
    return Areas(areas.of, line, seam)


def _long_straights(top: Top) -> BoolArray:
    """Tell which seams within blocks are part of a straight that runs through several blocks."""
    count = len(top.seams)
    if not count:
        return np.zeros(0, dtype=bool)
    ends = np.array([s.points[k] for s in top.seams for k in (0, -1)]).reshape(-1, 2)
    way = np.array([s.points[a] - s.points[b] for s in top.seams for a, b in ((1, 0), (-2, -1))])
    way = way.reshape(-1, 2) / np.maximum(np.hypot(*way.reshape(-1, 2).T), GRID)[:, None]
    inside = np.repeat([not s.joining for s in top.seams], 2)
    place = np.unique(np.rint(ends / SAME_PLACE), axis=0, return_inverse=True)[1].reshape(-1)
    order = np.flatnonzero(inside)[np.argsort(place[inside], kind="stable")]
    links: list[IntArray] = []
    for apart in range(1, len(order)):
        one, two = order[:-apart], order[apart:]
        same = place[one] == place[two]
        if not same.any():
            break
        on = same & ((way[one] * way[two]).sum(axis=1) < _STRAIGHT_ON)
        links.append(np.stack([one[on], two[on]]) // 2)
    a, b = np.concatenate([np.empty((2, 0), dtype=np.int64), *links], axis=1)
    chain = groups(count, a, b)
    blocks: dict[Place, int] = {}
    block = np.array(
        [blocks.setdefault(top.patches[s.left].place, len(blocks)) for s in top.seams], np.int64
    )
    mine = np.array([not s.joining for s in top.seams], dtype=bool)
    pairs = np.unique(np.stack([chain[mine], block[mine]]), axis=1)
    several = np.bincount(pairs[0], minlength=count) > 1
    return np.asarray(several[chain] & mine, dtype=bool)


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


def _inside(place: Place) -> Subject | None:
    """All sides of a border are one area; patches of a drawn top lie in none."""
    if place.part in ("square", "patch"):
        return None
    if place.part == "border":
        place = Place("border", number=place.number)
    return Subject(place=place)
