"""Runs cut into walks: what is stitched in one area without leaving it, and the ways between.

A walk is a row of strokes. A stroke is what she sews between two turns: legs straight on from each
other are one stroke, whatever they are called.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from stitchpath.base.typing import FloatArray, Kind
from stitchpath.geometry.polylines import distances, path_lengths
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.geometry.turns import Hand, hand, turn_angle
from stitchpath.hands.areas import GROUND
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Do, Leg, Run
from stitchpath.thread.time import leg_areas
from stitchpath.top.place import Subject

__all__ = ["Move", "Part", "Stroke", "Walk", "evenly", "moves_of", "walks"]

What: TypeAlias = Kind | Literal["travel", "margin"]
_BESIDE = 1.0  # mm: ground so near to an area is still on its edge
_ROUND = 30.0  # mm: and so is the margin, where she only turns round


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a stroke over which nothing changes.

    Attributes
    ----------
    do
        Stitched for the first time, again, or only to get there.
    what
        The kind of line; "travel" along a seam that needs no stitching, "margin" off the top.
    points
        In the direction of stitching, shape (n, 2), mm on the top.
    """

    do: Do
    what: What
    points: FloatArray


@dataclass(frozen=True, slots=True)
class Stroke:
    """What is sewn between two turns.

    Attributes
    ----------
    turn
        How one turns into it; None where nothing is sewn before it in its walk.
    first_leg, last_leg
        Indices into the run's legs, both included.
    parts
        In the order of stitching.
    """

    turn: Hand | None
    first_leg: int
    last_leg: int
    parts: tuple[Part, ...]

    @property
    def points(self) -> FloatArray:
        """All of it as one polyline, shape (n, 2), mm on the top."""
        rest = [part.points[1:] for part in self.parts[1:]]
        return np.concatenate([self.parts[0].points, *rest])

    @property
    def length(self) -> float:
        """How much is sewn, mm."""
        return float(path_lengths([part.points for part in self.parts]).sum())


@dataclass(frozen=True, slots=True)
class Move:
    """What has one number in a picture: a stroke, or a stroke out and back over itself.

    Attributes
    ----------
    out
        The stroke.
    back
        The stroke back; None where there is none.
    """

    out: Stroke
    back: Stroke | None = None

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """One, or two."""
        return (self.out,) if self.back is None else (self.out, self.back)


@dataclass(frozen=True, slots=True)
class Walk:
    """Legs of one run, one after another, in one area or between areas.

    Attributes
    ----------
    run
        Number of the run.
    first_leg, last_leg
        Indices into its legs, both included; the walks of a run take in every leg once.
    area
        What it lies in; None between areas.
    strokes
        In the order of stitching.
    """

    run: int
    first_leg: int
    last_leg: int
    area: Subject | None
    strokes: tuple[Stroke, ...]

    @property
    def start(self) -> FloatArray:
        """Where it comes in, shape (2,), mm on the top."""
        return np.asarray(self.strokes[0].parts[0].points[0])

    @property
    def stop(self) -> FloatArray:
        """Where it goes out, shape (2,), mm on the top."""
        return np.asarray(self.strokes[-1].parts[-1].points[-1])

    @property
    def fresh(self) -> bool:
        """Whether anything is stitched on it for the first time."""
        return any(part.do == "stitch" for stroke in self.strokes for part in stroke.parts)


@once
def walks(plan: Plan) -> tuple[Walk, ...]:
    """Cut every run into walks.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of Walk
        In stitching order. A walk in an area begins and ends with a line of that area. Ground on
        the area's edge in between is part of it, for she does not leave the area there.
    """
    areas = np.split(
        leg_areas(plan.runs, plan.tariff), np.cumsum([len(run.legs) for run in plan.runs])[:-1]
    )
    by_run = [mine.tolist() for mine in areas]
    boxes = _boxes(plan, by_run)
    return tuple(
        Walk(
            run.number,
            first,
            last,
            plan.tariff.areas.of[area - 1] if area != GROUND else None,
            tuple(_strokes(plan, run, first, last)),
        )
        for run, mine in zip(plan.runs, by_run, strict=True)
        for first, last, area in _spans(run, mine, boxes)
    )


def moves_of(strokes: Sequence[Stroke]) -> list[Move]:
    """Take strokes out and back together, each as one move.

    Parameters
    ----------
    strokes
        In the order of stitching.

    Returns
    -------
    list of Move
        All of them, in order. A stroke that comes back and goes on beyond where the one before it
        began is a move of its own.
    """
    found: list[Move] = []
    for stroke in strokes:
        last = found[-1] if found else None
        if last is not None and last.back is None and _back(last.out, stroke):
            found[-1] = Move(last.out, stroke)
        else:
            found.append(Move(stroke))
    return found


def evenly(count: int, most: int, first: int = 0) -> list[tuple[int, int]]:
    """Share numbered things out evenly over as few pictures as hold them.

    Parameters
    ----------
    count
        How many there are.
    most
        So many a picture may hold.
    first
        The number of the first.

    Returns
    -------
    list of (int, int)
        For each picture the first of them, and the first that is no more in it.

    Examples
    --------
    >>> evenly(20, 15)
    [(0, 10), (10, 20)]
    """
    pictures = math.ceil(count / most)
    cuts = [first + round(k * count / pictures) for k in range(pictures + 1)]
    return list(pairwise(cuts))


def _back(out: Stroke, stroke: Stroke) -> bool:
    if stroke.turn != "back" or abs(out.length - stroke.length) > SAME_PLACE:
        return False
    return bool(np.hypot(*(out.points[0] - stroke.points[-1])) < SAME_PLACE)


def _boxes(plan: Plan, by_run: Sequence[Sequence[int]]) -> dict[int, FloatArray]:
    """Frame the lines of each area: left, top, right, bottom, mm."""
    corners: dict[int, list[FloatArray]] = {}
    for run, mine in zip(plan.runs, by_run, strict=True):
        for leg, area in zip(run.legs, mine, strict=True):
            if area != GROUND:
                corners.setdefault(area, []).extend(
                    [leg.points.min(axis=0), leg.points.max(axis=0)]
                )
    return {
        area: np.concatenate([np.min(found, axis=0) - _BESIDE, np.max(found, axis=0) + _BESIDE])
        for area, found in corners.items()
    }


class _Span(NamedTuple):
    first: int
    last: int
    area: int


def _spans(run: Run, areas: Sequence[int], boxes: dict[int, FloatArray]) -> list[_Span]:
    """Cut a run where an area is come to or left."""
    windows = run.windows  # where the needle is parked, a walk ends
    rows = [
        (area, [k for k, _ in some])
        for (area, _), some in groupby(
            enumerate(areas), key=lambda item: (item[1], windows[item[0]])
        )
    ]
    found: list[_Span] = []
    for n, (area, legs) in enumerate(rows):
        before = found[-1] if found else None
        if before is not None and windows[before.last] != windows[legs[0]]:
            found.append(_Span(legs[0], legs[-1], area))
            continue
        if area == GROUND and before is not None and n + 1 < len(rows):
            stays = rows[n + 1][0] == before.area and _within(run.legs, legs, boxes[before.area])
            if stays:
                found[-1] = before._replace(last=legs[-1])
                continue
        if before is not None and before.area == area:
            found[-1] = before._replace(last=legs[-1])
        else:
            found.append(_Span(legs[0], legs[-1], area))
    return found


def _within(legs: Sequence[Leg], some: Sequence[int], box: FloatArray) -> bool:
    for margin, far in ((False, 0.0), (True, _ROUND)):
        points = [legs[k].points for k in some if (legs[k].along in ("margin", "edge")) is margin]
        if points:
            joined = np.concatenate(points)
            if (joined < box[:2] - far).any() or (joined > box[2:] + far).any():
                return False
    return True


def _strokes(plan: Plan, run: Run, first: int, last: int) -> Iterator[Stroke]:
    """Cut legs where one turns, but not where a run comes in over the edge or goes out."""
    turn: Hand | None = None
    begin = first
    for k in range(first, last + 1):
        onward = _turn(run.legs[k], run.legs[k + 1]) if k < last else None
        if onward is not None and _over_edge(run, k):
            continue
        if onward != "straight" or _ring(plan, run.legs[k]):
            yield Stroke(turn, begin, k, tuple(_parts(plan, run.legs[begin : k + 1])))
            turn, begin = onward, k + 1


def _over_edge(run: Run, k: int) -> bool:
    """Tell whether a run turns there from the bit of margin in which it starts, or into its last.

    So little would have a number that stands for half an inch off the quilt.
    """
    bit = run.legs[0] if k == 0 else run.legs[-1] if k == len(run.legs) - 2 else None
    return bit is not None and bit.along == "margin" and distances(bit.points)[-1] <= _ROUND


def _ring(plan: Plan, leg: Leg) -> bool:
    """Tell whether a leg comes back to where it began: it is a stroke of its own, but in a fill."""
    if leg.line >= 0 and plan.lines[leg.line].kind == "fill":
        return False  # loops of a row are sewn on and on
    return bool(np.all(np.abs(leg.points[0] - leg.points[-1]) < SAME_PLACE))


def _turn(before: Leg, after: Leg) -> Hand:
    arrive, leave = before.points[-1] - before.points[-2], after.points[1] - after.points[0]
    return hand(float(turn_angle(arrive, leave)))


def _parts(plan: Plan, legs: Sequence[Leg]) -> Iterator[Part]:
    for (do, what), some in groupby(legs, key=lambda leg: (leg.do, _what(plan, leg))):
        mine = [leg.points for leg in some]
        yield Part(do, what, np.concatenate([mine[0], *(points[1:] for points in mine[1:])]))


def _what(plan: Plan, leg: Leg) -> What:
    if leg.line >= 0:
        return plan.lines[leg.line].kind
    return "travel" if leg.along == "seam" else "margin"
