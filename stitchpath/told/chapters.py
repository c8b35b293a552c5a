"""Long runs cut into chapters by the part of the quilt they are on, so that a place is found again.

A chapter is a value: from which step to which, and on what part of the top. A seam between two
parts belongs to either, and is taken with what is stitched before or after it. What is long and
lies all over the top, such as the sashing of a bed quilt, is cut evenly, and told by its rows.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np

from stitchpath.geometry.polylines import path_lengths
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Leg, Run
from stitchpath.told.directions import Step, directions
from stitchpath.told.walks import evenly
from stitchpath.top.place import Place, Subject, row_letter

__all__ = ["Area", "Chapter", "chapters"]

_OPENING = 400.0  # mm: what a new chapter costs: a way off and back opens one from twice this on
_BESIDE = 0.5  # a seam round a block is the block's rather than the sashing's
_MOST = 16  # steps of a chapter that is no block and no piece: as many as a picture has numbers
_SOME = 0.1  # of a part's length: what lies in a row or column with less is not told
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
        of a seam counts as outside the sashing or border. A chapter on no block and no piece has at
        most 16 steps. Where the needle begins elsewhere its name says so.
    """
    found: list[Chapter] = []
    names: dict[Area | None, str] = {}
    for run, told in zip(plan.runs, directions(plan), strict=True):
        lengths = path_lengths([leg.points for leg in run.legs]).tolist()
        steps = [_on(plan, run, step, lengths) for step in told.steps]
        cuts = [*_cut(steps), (len(steps), None)]
        for (begin, area), (end, _) in pairwise(cuts):
            if area not in names:
                names[area] = _named(plan, area)
            parts = [(begin, end)] if _alone(area) else evenly(end - begin, _MOST, begin)
            for k, (one, other) in enumerate(parts, start=1):
                first, last = told.steps[one].first_leg, told.steps[other - 1].last_leg
                sewn = sum(lengths[first : last + 1])
                name = names[area]
                if len(parts) > 1:
                    name += _whither(plan, run.legs[first : last + 1]) or f", part {k}"
                name += _from(plan, steps[one], area)
                found.append(Chapter(run.number, one, other - 1, first, last, area, name, sewn))
    return tuple(found)


def _alone(area: Area | None) -> bool:
    """Tell whether an area is one block, patch of setting or piece, and so easily found."""
    return isinstance(area, int) or (area is not None and area.row >= 0 and area.column >= 0)


def _from(plan: Plan, first: Mapping[Area, float], area: Area | None) -> str:
    """Say where the needle is as a chapter begins, if that is not in its area."""
    if area is None or area in first or not first:
        return ""
    return f", from {_named(plan, max(first, key=lambda each: (_alone(each), first[each])))}"


def _whither(plan: Plan, legs: Sequence[Leg]) -> str:
    """Say by which rows seams go across, and by which columns they go down."""
    blocks = [block for block in plan.top.blocks if block.place.row >= 0 <= block.place.column]
    if not blocks:
        return ""
    middles = np.array([block.corners.mean(axis=0) for block in blocks])
    sewn: tuple[dict[int, float], dict[int, float]] = (defaultdict(float), defaultdict(float))
    for leg in legs:
        if leg.along == "margin":
            continue
        wide, high = np.ptp(leg.points, axis=0)
        down = int(high > wide)
        off = np.abs(middles - leg.points.mean(axis=0))[:, 1 - down]
        place = blocks[int(off.argmin())].place
        sewn[down][place.column if down else place.row] += float(np.hypot(wide, high))
    whole = sum(sum(some.values()) for some in sewn)
    told, known = [], 0.0
    for word, some, named in (("row", sewn[0], row_letter), ("column", sewn[1], _number)):
        kept = sorted(k for k, length in some.items() if length >= _SOME * whole)
        alone = len({getattr(block.place, word) for block in blocks}) == 1
        if kept and not alone:
            known += sum(some.values())
            first, last = named(kept[0]), named(kept[-1])
            told.append(f"{word} {first}" if first == last else f"{word}s {first} to {last}")
    return f", {', '.join(told)}" if known > whole / 2 else ""  # else most of it is elsewhere


def _number(column: int) -> str:
    return f"{column + 1}"


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
