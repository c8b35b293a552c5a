"""What is on no card, in pictures of a few strokes: the anchoring seams first of all.

What the sheet of a pass tells is not among it. It is what is stitched between areas, and what is so
little of an area that it has no card.

Runs that lie side by side, each one step further on, are told as one: "51 seams, 1 in apart".
"""

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.tolerances import ALIKE
from stitchpath.plan import Plan, once
from stitchpath.told.cards import by_pass, carded
from stitchpath.told.walks import Move, Walk, moves_of, walks

__all__ = ["Mark", "Picture", "pictures"]

_MOST = 16  # moves in one picture: long seams, so one more than in an area
_ROW = 3  # runs side by side that are told as one
_SHORT = 0.08  # of the longer side of a picture: its number covers a line that is shorter
_CROWD = 0.3  # of what a picture more costs, for each such line


@dataclass(frozen=True, slots=True)
class Mark:
    """One number in a picture.

    Attributes
    ----------
    number
        From 1 over all pictures.
    walk
        What it is part of; of runs side by side the first.
    move
        What is stitched; of runs side by side the first.
    row
        Of runs side by side: those walks, the first too, in stitching order; else empty.
    step
        From one of them to the next, mm, shape (2,).
    """

    number: int
    walk: Walk
    move: Move
    row: tuple[Walk, ...] = ()
    step: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class Picture:
    """A few strokes in stitching order.

    Attributes
    ----------
    number
        From 1.
    marks
        At most 16.
    """

    number: int
    marks: tuple[Mark, ...]


@once
def pictures(plan: Plan) -> tuple[Picture, ...]:
    """Share out what is stitched on no card into pictures.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of Picture
        In stitching order. What is stitched without a card in between is shared out so that what
        lies together is in one picture; a few such stretches are one picture too. Ways with nothing
        new are among it where they lead to what is in a picture, or from there to the end of a run;
        other ways the cards tell.
    """
    parts: list[list[Mark]] = []
    number, thread = 1, ""
    for some in _stretches(walks(plan), carded(plan).keys() | by_pass(plan).keys()):
        marks = list(_marks(some, number))
        number += len(marks)
        for part in _shared_out(marks):
            before, thread = thread, plan.runs[part[0].walk.run - 1].thread
            if parts and len(parts[-1]) + len(part) <= _MOST and before == thread:
                parts[-1].extend(part)
            else:
                parts.append(part)
    return tuple(Picture(k, tuple(part)) for k, part in enumerate(parts, start=1))


def _shared_out(marks: Sequence[Mark]) -> list[list[Mark]]:
    """Share marks out over pictures that are few and have room for their numbers.

    By dynamic programming over where a picture begins. A picture costs one, and a share more for
    each line that is too short in it. Where that is the same, run by run, then evenly.
    """
    boxes = np.array([_box(mark) for mark in marks]).reshape(-1, 4)
    long = np.array([path_lengths(_drawn(mark)).sum() for mark in marks])
    best: list[tuple[float, int, int]] = [(0.0, 0, 0)]  # cost, runs cut, evenness
    came = [0]
    for end in range(1, len(marks) + 1):
        found = []
        for begin in range(max(end - _MOST, 0), end):
            low, high = boxes[begin:end, :2].min(axis=0), boxes[begin:end, 2:].max(axis=0)
            side = float((high - low).max())
            short = int(np.count_nonzero(long[begin:end] < _SHORT * side))
            cost, cut, many = best[begin]
            cost += 1.0 + _CROWD * short
            apart = begin > 0 and marks[begin].walk.run == marks[begin - 1].walk.run
            found.append(((round(cost, 2), cut + apart, many + (end - begin) ** 2), begin))
        least, begin = min(found)
        best.append(least)
        came.append(begin)
    cuts = [len(marks)]
    while cuts[-1]:
        cuts.append(came[cuts[-1]])
    return [list(marks[a:b]) for a, b in pairwise(reversed(cuts))]


def _drawn(mark: Mark) -> list[FloatArray]:
    """List the lines of a mark."""
    if mark.row:
        return [stroke.points for walk in mark.row for stroke in walk.strokes]
    return [stroke.points for stroke in mark.move.strokes]


def _box(mark: Mark) -> FloatArray:
    """Give what of the top a mark is in: left, top, right, bottom."""
    points = np.concatenate(_drawn(mark))
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _stretches(rows: Sequence[Walk], on_cards: Container[tuple[int, int]]) -> Iterator[list[Walk]]:
    """Give what is on no card, as far as no card or pass is stitched in between."""
    some: list[Walk] = []
    for k, walk in enumerate(rows):
        if (walk.run, walk.first_leg) in on_cards:
            if some:
                yield some
            some = []
        elif walk.fresh or walk.area is not None or _leads_by_pictures(rows, k, on_cards):
            some.append(walk)
    if some:
        yield some


def _leads_by_pictures(rows: Sequence[Walk], k: int, on_cards: Container[tuple[int, int]]) -> bool:
    """Tell whether a way leads to what is on no card, or from such to the end of its run."""
    for step in (1, -1):
        at = k + step  # where the needle is parked a way is two walks
        while 0 <= at < len(rows) and rows[at].run == rows[k].run:
            if rows[at].fresh or rows[at].area is not None:
                return (rows[at].run, rows[at].first_leg) not in on_cards
            at += step
    return True


def _marks(some: Sequence[Walk], number: int) -> Iterator[Mark]:
    """Give each move its number, runs side by side one number."""
    k = 0
    while k < len(some):
        row = _row(some, k)
        if len(row) >= _ROW:
            step = row[1].start - row[0].start
            yield Mark(number, row[0], Move(row[0].strokes[0]), tuple(row), step)
            number += 1
        else:
            row = some[k : k + 1]
            for move in moves_of(row[0].strokes):
                yield Mark(number, row[0], move)
                number += 1
        k += len(row)


def _row(some: Sequence[Walk], k: int) -> Sequence[Walk]:
    """Give straight walks, each moved one step further on than the one before it."""
    first = _straight(some[k])
    end = k + 1
    while first is not None and end < len(some):
        there = _straight(some[end])
        step = some[k + 1].start - some[k].start
        away = ALIKE * (end - k)
        if there is None or np.abs(there - first - step * (end - k)).max() > away:
            break
        end += 1
    return some[k:end]


def _straight(walk: Walk) -> FloatArray | None:
    """Give the ends of a walk that is one straight stroke and a run of its own, shape (2, 2)."""
    if len(walk.strokes) > 1 or walk.first_leg:
        return None
    points = walk.strokes[0].points
    ends = points[[0, -1]]
    way = ends[1] - ends[0]
    aside = (points - ends[0]) @ np.array([-way[1], way[0]]) / max(np.hypot(*way), ALIKE)
    return ends if np.abs(aside).max() < ALIKE else None
