"""Long runs cut into chapters by the part of the quilt they are on, so that a place is found again.

A chapter is a value: from which step to which, and on what part of the top. A seam between two
parts belongs to either, and is taken with what is stitched before or after it.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple, TypeAlias

from stitchpath.geometry.polylines import path_lengths
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Leg, Run
from stitchpath.told.directions import Step, directions
from stitchpath.top.place import Place, Subject

__all__ = ["Area", "Chapter", "chapters"]

_OPENING = 400.0  # mm: what a new chapter costs: a way off and back opens one from twice this on
_BESIDE = 0.5  # a seam round a block is the block's rather than the sashing's
_ACROSS = 3  # a step past so many blocks of one row goes along the row

Area: TypeAlias = Place | int
"""A part of the top: a unit, a whole row, column or border, all sashing; or a piece, by number."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """Steps that are stitched in one part of the quilt, one after another.

    Attributes
    ----------
    run
        Number of the run.
    first_step, last_step
        Indices of its steps, both included; the chapters of a run take in every step once.
    first_leg, last_leg
        Indices into the run's legs, both included.
    area
        Where most of it lies; None where it is all in the margin.
    name
        The same in words, as in "boat A3".
    length
        mm.
    """

    run: int
    first_step: int
    last_step: int
    first_leg: int
    last_leg: int
    area: Area | None
    name: str
    length: float


@once
def chapters(plan: Plan) -> tuple[Chapter, ...]:
    """Cut every run into chapters.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of Chapter
        In stitching order. Of all ways to cut a run between two steps, one with the least sum of
        stitching outside the area of its chapter and 400 mm for each chapter; beside a block, half
        of a seam counts as outside the sashing or border.
    """
    found: list[Chapter] = []
    names: dict[Area | None, str] = {}
    for run, told in zip(plan.runs, directions(plan), strict=True):
        lengths = path_lengths([leg.points for leg in run.legs]).tolist()
        steps = [_on(plan, run, step, lengths) for step in told.steps]
        cuts = [*_cut(steps), (len(steps), None)]
        for (begin, area), (end, _) in pairwise(cuts):
            first, last = told.steps[begin].first_leg, told.steps[end - 1].last_leg
            sewn = sum(lengths[first : last + 1])
            if area not in names:
                names[area] = _named(plan, area)
            found.append(Chapter(run.number, begin, end - 1, first, last, area, names[area], sewn))
    return tuple(found)


def _named(plan: Plan, area: Area | None) -> str:
    if area is None:
        return "the margin"
    if isinstance(area, int):
        return plan.places.piece(area, the=True)
    return plan.places.area(area)


def _on(plan: Plan, run: Run, step: Step, lengths: Sequence[float]) -> dict[Area, float]:
    """Tell how much of a step, mm, lies in or along which part of the top."""
    on: dict[Area, float] = defaultdict(float)
    for k in range(step.first_leg, step.last_leg + 1):
        areas = dict.fromkeys(_areas(plan, run.legs[k]))
        block = any(isinstance(area, Place) and area.part == "block" for area in areas)
        for area in areas:
            beside = block and isinstance(area, Place) and area.part != "block"
            on[area] += lengths[k] * (_BESIDE if beside else 1.0)
    passed: dict[Place, list[float]] = defaultdict(list)
    for area, length in on.items():
        if isinstance(area, Place) and area.part == "block":
            for line in _lines_of(area):
                passed[line].append(length)
    return on | {line: sum(some) for line, some in passed.items() if len(some) >= _ACROSS}


def _lines_of(block: Place) -> Iterator[Place]:
    """Give the row and the column of a block."""
    if block.row >= 0:
        yield Place("block", row=block.row)
    if block.column >= 0:
        yield Place("block", column=block.column)


def _areas(plan: Plan, leg: Leg) -> Iterator[Area]:
    """Tell what parts of the top a leg lies in or between; none in the margin."""
    of = plan.lines[leg.line].of if leg.line >= 0 else Subject(seam=leg.seam)
    patches = plan.top.patches
    if of.pieces:
        yield from of.pieces
    elif of.place is not None:
        yield _wide(of.place)
    elif of.patch >= 0:
        yield _wide(patches[of.patch].place)
    elif leg.seam >= 0:
        seam = plan.top.seams[leg.seam]
        yield from (_wide(patches[k].place) for k in (seam.left, seam.right))


def _wide(place: Place) -> Place:
    """All sashing is one area, with its cornerstones, and so is a border all round."""
    if place.part in ("sashing", "cornerstone"):
        return Place("sashing")
    return replace(place, side="", end="") if place.part == "border" else place


class _Open(NamedTuple):
    """A chapter being read: where it begins, its area, and the one before it."""

    begin: int
    area: Area
    before: "_Open | None"


def _cut(steps: Sequence[Mapping[Area, float]]) -> list[tuple[int, Area | None]]:
    """Find where chapters begin and what their areas are: an exact shortest path.

    Its length is told beside all stitching, which every way of cutting has: a chapter costs so
    much, and stitching in its area is taken off. So a step touches the areas it lies in only.
    """
    best, chain = 0.0, None
    costs: dict[Area, tuple[float, _Open]] = {}
    for k, on in enumerate(steps):
        fresh: dict[Area, tuple[float, _Open]] = {}
        for area, length in on.items():
            going = costs.get(area, (_OPENING, _Open(0, area, None)))
            if going[0] > best + _OPENING:
                going = best + _OPENING, _Open(k, area, chain)
            fresh[area] = going[0] - length, going[1]
        costs |= fresh
        for cost, last in fresh.values():
            if chain is None or cost < best:
                best, chain = cost, last
    found: list[tuple[int, Area | None]] = []
    while chain is not None:
        found.append((chain.begin, chain.area))
        chain = chain.before
    found = found[::-1] or [(0, None)]
    return [(0, found[0][1]), *found[1:]]
