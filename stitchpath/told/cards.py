"""Route cards: areas that are stitched alike are told once, with the places where it is done.

A card is worth its room where it shows much, or is stitched several times. What is stitched of an
area in a stroke or two is told with the seams between the areas (`told/anchors.py`). A line that
winds over the width of a quilt in a frame is told by the sheet of its pass alone.

Two walks are alike if one, turned, moved or turned over, falls on the other: the same strokes in
the same order and direction, each stitched as the other is. Nothing else is called alike.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import distances, path_lengths
from stitchpath.geometry.tolerances import ALIKE, SAME_PLACE
from stitchpath.plan import Plan, once
from stitchpath.told.passes import passes
from stitchpath.told.walks import Move, Stroke, Walk, evenly, moves_of, walks

__all__ = [
    "MOST",
    "Card",
    "Laid",
    "Share",
    "Visit",
    "by_pass",
    "carded",
    "cards",
    "laid_on",
    "shares",
]

MOST = 15  # moves in one picture
_STROKES = 2  # moves: so few are worth no card
_ALONE = 5  # moves: nor are so few at one place only
_WINDS = 4.0  # times its size across: a longer line of a fill winds
_ACROSS = 0.5  # of the top's width: a line that winds so far in a frame is seen on its pass's sheet
_SEEN = 0.04  # of the longer side of the top: less is lost in a picture of it
_MORE = 3  # pictures, where each shows an arm
_APART = 5.0  # mm: so close together strokes are compared


@dataclass(frozen=True, slots=True)
class Laid:
    """How a card lies on the top: turned, turned over or not, and moved.

    Attributes
    ----------
    turn
        Degrees, clockwise as one looks at the quilt, after it is turned over; -180 to 180.
    over
        Whether it is turned over from left to right, as in a mirror.
    moved
        Where the middle of the card's strokes comes to lie, and where it lay, shape (2, 2), mm.
    """

    turn: float
    over: bool
    moved: FloatArray

    def onto(self, points: FloatArray) -> FloatArray:
        """Bring points of the card, shape (n, 2), to where they are stitched."""
        angle = math.radians(self.turn)
        spun = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
        flip = np.array([-1.0 if self.over else 1.0, 1.0])
        return np.asarray(((points - self.moved[0]) * flip) @ spun + self.moved[1])


@dataclass(frozen=True, slots=True)
class Visit:
    """A place where a card is stitched.

    Attributes
    ----------
    order
        From 1: how manieth of all areas it is.
    walk
        What is stitched there.
    laid
        How the card lies there.
    """

    order: int
    walk: Walk
    laid: Laid


@dataclass(frozen=True, slots=True)
class Card:
    """A walk that is drawn once, and all the places where it is stitched.

    Attributes
    ----------
    number
        From 1, in stitching order.
    strokes
        As they are stitched at the first of the places.
    visits
        In stitching order; at the first the card lies as it is drawn.
    low
        Whether the low sides are the same at all places, as the card lies there.
    """

    number: int
    strokes: tuple[Stroke, ...]
    visits: tuple[Visit, ...]
    low: bool

    @property
    def over(self) -> Visit | None:
        """The first place where it lies turned over; None where there is none."""
        return next((visit for visit in self.visits if visit.laid.over), None)


class Share(NamedTuple):
    """Some of the moves of a card, for a picture of their own.

    Attributes
    ----------
    first, last
        Indices of its moves, both included.
    again
        Where the same moves come again on the card: the first and the last of them.
    """

    first: int
    last: int
    again: tuple[tuple[int, int], ...] = ()


@once
def carded(plan: Plan) -> dict[tuple[int, int], tuple[Card, Visit]]:
    """Give the card and the place of each walk that is on one, by its run and first leg."""
    return {
        (visit.walk.run, visit.walk.first_leg): (card, visit)
        for card in cards(plan)
        for visit in card.visits
    }


@once
def by_pass(plan: Plan) -> dict[tuple[int, int], int]:
    """Give the walks that the sheet of a pass tells, and no card: a fill that covers the top.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict
        The number of the pass, from 1 in stitching order, by the run and the walk's first leg.
    """
    shown = passes(plan)
    wide = [walk for walk in walks(plan) if _winds_across(plan, walk)] if shown else []
    return {
        (walk.run, walk.first_leg): number
        for walk in wide
        for number, each in enumerate(shown, start=1)
        if any(s.run == walk.run and s.first <= walk.first_leg <= s.last for s in each.stretches)
    }


def _winds_across(plan: Plan, walk: Walk) -> bool:
    """Tell whether a walk is a line of a fill that winds over the width of the top as it is loaded.

    It may go round in the margin now and then.
    """
    parts = [part for stroke in walk.strokes for part in stroke.parts]
    few = walk.area is not None and len(moves_of(walk.strokes)) <= _ALONE
    if not few or any(part.what not in ("fill", "margin") for part in parts):
        return False
    along, width = (1, plan.top.height) if plan.sideways else (0, plan.top.width)
    wide = float(np.ptp(np.concatenate([part.points[:, along] for part in parts])))
    return wide >= _ACROSS * width and _long(walk.strokes)


@once
def cards(plan: Plan) -> tuple[Card, ...]:
    """Group what is stitched in areas into cards.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of Card
        By the first place at which each is stitched. Walks of one or two moves, or of up to five
        at one place only, are on no card, but where they are small or a fill or the middle of a
        piece. Nor are those of `by_pass`.
    """
    groups = [group for group in _groups(plan) if not _loose(plan, group)]
    order = {at: k for k, at in enumerate(sorted(at for group in groups for at, *_ in group), 1)}
    found = [tuple(Visit(order[at], walk, laid) for at, walk, laid in group) for group in groups]
    return tuple(
        Card(number, visits[0].walk.strokes, visits, _same_low(plan, visits))
        for number, visits in enumerate(found, start=1)
    )


class _Alike(NamedTuple):
    """A walk in an area: how manieth of all, and how the first like it has to be laid."""

    at: int
    walk: Walk
    laid: Laid


def _groups(plan: Plan) -> list[list[_Alike]]:
    """Group walks in areas that are alike."""
    found: list[list[_Alike]] = []
    like: dict[object, list[int]] = defaultdict(list)
    told = by_pass(plan)
    areas = [w for w in walks(plan) if w.area is not None and (w.run, w.first_leg) not in told]
    for at, walk in enumerate(areas):
        name, length = _look(walk)
        for number in [k for near in (-1, 0, 1) for k in like[name, round(length) + near]]:
            laid = laid_on(found[number][0].walk.strokes, walk.strokes)
            if laid is not None:
                found[number].append(_Alike(at, walk, laid))
                break
        else:
            like[name, round(length)].append(len(found))
            same = laid_on(walk.strokes, walk.strokes)
            assert same is not None  # noqa: S101 - a walk lies on itself
            found.append([_Alike(at, walk, same)])
    return found


def _loose(plan: Plan, group: Sequence[_Alike]) -> bool:
    """Tell whether walks are worth no card, and can be seen in a picture of the top."""
    strokes = group[0].walk.strokes
    count = len(moves_of(strokes))
    if count == 1 and all(part.what == "fill" for stroke in strokes for part in stroke.parts):
        return not _winds(strokes)
    if any(part.what in ("fill", "centre") for stroke in strokes for part in stroke.parts):
        return False
    if count > (_STROKES if len(group) > 1 else _ALONE):
        return False
    if count == 1:
        return True  # a number is all that it wants
    points = np.concatenate([stroke.points for stroke in strokes])
    return float(np.ptp(points, axis=0).max()) >= _SEEN * max(plan.top.width, plan.top.height)


def _winds(strokes: Sequence[Stroke]) -> bool:
    """Tell a line of a fill that winds over its ground from a ring or a row, seen by its number."""
    if len(moves_of(strokes)) > 1 or any(p.what != "fill" for s in strokes for p in s.parts):
        return False
    return _long(strokes)


def _long(strokes: Sequence[Stroke]) -> bool:
    """Tell whether strokes are longer than a few times their size across."""
    size = np.ptp(np.concatenate([stroke.points for stroke in strokes]), axis=0)
    return sum(stroke.length for stroke in strokes) > _WINDS * float(np.hypot(*size))


def _same_low(plan: Plan, visits: Sequence[Visit]) -> bool:
    """Tell whether the low side lies where it is drawn at every place."""
    told = {tuple(_lows(plan, visit)) for visit in visits}
    return len(told) == 1


def _lows(plan: Plan, visit: Visit) -> Iterator[tuple[int, ...]]:
    """Give the low sides along each stroke, as the card is drawn: -1 left, +1 right."""
    over = -1 if visit.laid.over else 1
    for stroke in visit.walk.strokes:
        legs = plan.runs[visit.walk.run - 1].legs[stroke.first_leg : stroke.last_leg + 1]
        lows = [
            plan.top.seams[leg.seam].low * (over if leg.ahead else -over) if leg.seam >= 0 else 0
            for leg in legs
        ]
        yield tuple(low for low, _ in groupby(lows))


def shares(moves: Sequence[Move], most: int = MOST, *, arms: bool = False) -> list[Share]:
    """Share moves out into pictures.

    Parameters
    ----------
    moves
        Of a card.
    most
        So many a picture may hold.
    arms
        Whether a few pictures more are welcome, if each shows an arm.

    Returns
    -------
    list of Share
        Where there are more, cut at the place that is come to most often, if that makes no more
        pictures: so each arm of a star has its own, and what comes again there is drawn once. Else
        evenly.
    """
    plain = [Share(a, b - 1) for a, b in evenly(len(moves), most)]
    if len(plain) == 1:
        return plain
    found: list[Share] = []
    for begin, end in pairwise(_hub_cuts(moves)):
        mine = _strokes(moves[begin:end])
        if end - begin > most:
            return plain
        for k, share in enumerate(found):
            other = _strokes(moves[share.first : share.last + 1])
            if _looks(other) == _looks(mine) and laid_on(other, mine) is not None:
                found[k] = share._replace(again=(*share.again, (begin, end - 1)))
                break
        else:
            found.append(Share(begin, end - 1))
    return found if len(found) <= len(plain) + _MORE * arms else plain


def _strokes(moves: Sequence[Move]) -> list[Stroke]:
    return [stroke for move in moves for stroke in move.strokes]


def _hub_cuts(moves: Sequence[Move]) -> list[int]:
    """Give where moves begin at the place that is come to most often, and the two ends."""
    at = [_cell(move.out.points[0]) for move in moves]
    hub, _ = Counter(at).most_common(1)[0]
    return sorted({0, *(k for k, cell in enumerate(at) if cell == hub), len(moves)})


def _cell(point: FloatArray) -> tuple[int, int]:
    return round(float(point[0]) / SAME_PLACE), round(float(point[1]) / SAME_PLACE)


def _look(walk: Walk) -> tuple[tuple[object, ...], float]:
    """Tell what walks that are alike have in common whatever way they lie, and the length, mm."""
    return _looks(walk.strokes), sum(stroke.length for stroke in walk.strokes)


def _looks(strokes: Sequence[Stroke]) -> tuple[object, ...]:
    return tuple(tuple((part.do, part.what) for part in stroke.parts) for stroke in strokes)


def laid_on(one: Sequence[Stroke], other: Sequence[Stroke]) -> Laid | None:
    """Find how strokes have to be laid to fall on others, each on the one of its number.

    Parameters
    ----------
    one, other
        In the order of stitching, with parts of the same kinds.

    Returns
    -------
    Laid or None
        Not turned over if both ways do; None if they differ anywhere by more than 0.2 mm. The
        turn is that of least squares (Kabsch 1976), for every point is known by its number.
    """
    pairs = [
        (a.points, b.points)
        for mine, theirs in zip(one, other, strict=True)
        for a, b in zip(mine.parts, theirs.parts, strict=True)
    ]
    lengths = [path_lengths([pair[k] for pair in pairs]) for k in (0, 1)]
    if np.abs(lengths[0] - lengths[1]).max() > ALIKE:
        return None
    many = [max(math.ceil(distances(a)[-1] / _APART), 2) + 1 for a, _ in pairs]
    p, q = (
        np.concatenate([_spread(pair[k], n) for pair, n in zip(pairs, many, strict=True)])
        for k in (0, 1)
    )
    moved = np.array([p.mean(axis=0), q.mean(axis=0)])
    a, b = p - moved[0], q - moved[1]
    for over in (False, True):
        x, y = (a * np.array([-1.0 if over else 1.0, 1.0])).T
        u, v = b.T
        angle = math.atan2(float((x * v - y * u).sum()), float((x * u + y * v).sum()))
        laid = Laid(round(math.degrees(angle), 6), over, moved)
        if np.hypot(*(laid.onto(p) - q).T).max() < ALIKE:
            return laid
    return None


def _spread(points: FloatArray, count: int) -> FloatArray:
    """Give points evenly spread along a polyline, ends included, shape (count, 2)."""
    along = distances(points)
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])
