"""Route cards: areas that are stitched alike are told once, with the places where it is done.

Two walks are alike if one, turned, moved or turned over, falls on the other: the same strokes in
the same order and direction, each stitched as the other is. Nothing else is called alike.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.geometry.polylines import distances
from stitchpath.plan import Plan, once
from stitchpath.told.walks import Stroke, Walk, walks
from stitchpath.typing import FloatArray

__all__ = ["Card", "Laid", "Visit", "cards", "laid_on"]

_SAME = 0.2  # mm: what lies so near is one on the other, as where the route finds areas alike
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
    """

    number: int
    strokes: tuple[Stroke, ...]
    visits: tuple[Visit, ...]


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
        By the first place at which each is stitched. Every walk in an area is on one card.
    """
    found: list[list[Visit]] = []
    like: dict[object, list[int]] = defaultdict(list)
    areas = [walk for walk in walks(plan) if walk.area is not None]
    for order, walk in enumerate(areas, start=1):
        name, length = _look(walk)
        for number in [k for near in (-1, 0, 1) for k in like[name, round(length) + near]]:
            laid = laid_on(found[number][0].walk.strokes, walk.strokes)
            if laid is not None:
                found[number].append(Visit(order, walk, laid))
                break
        else:
            like[name, round(length)].append(len(found))
            same = laid_on(walk.strokes, walk.strokes)
            assert same is not None  # noqa: S101 - a walk lies on itself
            found.append([Visit(order, walk, same)])
    return tuple(
        Card(number, visits[0].walk.strokes, tuple(visits))
        for number, visits in enumerate(found, start=1)
    )


def _look(walk: Walk) -> tuple[tuple[object, ...], float]:
    """Tell what walks that are alike have in common whatever way they lie, and the length, mm."""
    looks = tuple(tuple((part.do, part.what) for part in stroke.parts) for stroke in walk.strokes)
    return looks, sum(stroke.length for stroke in walk.strokes)


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
        if np.hypot(*(laid.onto(p) - q).T).max() < _SAME:
            return laid
    return None


def _spread(points: FloatArray, count: int) -> FloatArray:
    """Give points evenly spread along a polyline, ends included, shape (count, 2)."""
    along = distances(points)
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])
