"""Areas of one shape are stitched the same way.

Two areas are alike if one can be laid on the other, turned over or not, so that line falls on line.
Of the ways in which the copies of a shape are stitched the one is taken for all of them that costs
least over the whole route. A copy may be stitched the other way round, or as if the shape were
turned, where the way in asks for it.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from scipy.spatial import KDTree

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.tolerances import ALIKE
from stitchpath.route.passages.links import Links, Onward, Ways

__all__ = ["Lay", "same_way"]

_TURNED = 4.0  # s: a copy is stitched as if it were turned only if that saves more than this
_LAYS = 4  # so many ways of laying a shape on a copy are looked at
_WAYS = 3  # and so many ways of stitching it
_STRAIGHT = 1e-3  # radians


@dataclass(frozen=True, slots=True)
class Lay:
    """Where the lines of a problem lie.

    Attributes
    ----------
    tail, head, middle
        Ends and middle of each line, mm, shape (r, 2).
    length
        mm, shape (r,).
    """

    tail: FloatArray
    head: FloatArray
    middle: FloatArray
    length: FloatArray


@dataclass(frozen=True, slots=True)
class _Shape:
    """The lines of an area, its own middle being the origin."""

    lines: IntArray
    tail: FloatArray
    head: FloatArray
    middle: FloatArray
    length: FloatArray

    @classmethod
    def of(cls, lay: Lay, lines: IntArray) -> "_Shape":
        weight = np.maximum(lay.length[lines], ALIKE)
        middle = lay.middle[lines]
        origin = (middle * weight[:, None]).sum(axis=0) / weight.sum()
        return cls(
            lines,
            lay.tail[lines] - origin,
            lay.head[lines] - origin,
            middle - origin,
            lay.length[lines],
        )

    @property
    def away(self) -> FloatArray:
        return np.asarray(np.hypot(self.middle[:, 0], self.middle[:, 1]))


@dataclass(frozen=True, slots=True)
class _Laid:
    """A way of laying one shape on another: which slot falls on which, and whether it is turned."""

    slots: dict[int, int]
    turned: bool


def same_way(
    states: Ways,
    links: Links,
    lay: Lay,
    order: Sequence[int],
    phase: Sequence[int],
    areas: Collection[int],
) -> list[int]:
    """Stitch areas of one shape the same way.

    Parameters
    ----------
    states, links, lay
        The ways of the problem, its links, and where its lines lie.
    order
        Slots in order, phase by phase.
    phase
        By line, the number of what is stitched in one go; numbers go up along the order.
    areas
        Which of those numbers are areas; all else is left as it is, or turned round.

    Returns
    -------
    list of int
        Slots in the new order.
    """
    rows: dict[int, list[int]] = {}
    for slot in order:
        rows.setdefault(phase[slot // 2], []).append(slot)
    shapes = {number: _Shape.of(lay, np.unique(np.array(row) // 2)) for number, row in rows.items()}
    row_of = {number: [(tuple(row), 0.0), (tuple(row[::-1]), 0.0)] for number, row in rows.items()}
    chooser = _Chooser(states, links, rows, row_of)
    for family in _families({k: shape for k, shape in shapes.items() if k in areas}):
        if len(family) > 1:
            chooser.choose(family)
    return chooser.order()


def _families(shapes: dict[int, _Shape]) -> list[dict[int, list[_Laid]]]:
    """Put alike areas together: by number, how the first of them is laid on each."""
    families: list[dict[int, list[_Laid]]] = []
    for number, shape in shapes.items():
        for family in families:
            laid = _lays(shapes[next(iter(family))], shape)
            if laid:
                family[number] = laid
                break
        else:
            families.append({number: _lays(shape, shape)})
    return families


def _lays(one: _Shape, other: _Shape) -> list[_Laid]:
    """Find the ways of laying one shape on another, the least turned first."""
    if len(one.lines) != len(other.lines):
        return []
    for a, b in ((one.length, other.length), (one.away, other.away)):
        if np.abs(np.sort(a) - np.sort(b)).max() > ALIKE:
            return []
    pin = int(np.argmax(one.away))
    on = (np.abs(other.away - one.away[pin]) < ALIKE) & (
        np.abs(other.length - one.length[pin]) < ALIKE
    )
    tree = KDTree(other.middle)
    found: list[tuple[bool, float, _Laid]] = []
    for target in np.flatnonzero(on).tolist():
        for over in (False, True):
            flip = np.array([-1.0 if over else 1.0, 1.0])
            (x, y), (u, v) = one.middle[pin] * flip, other.middle[target]
            angle = float(np.arctan2(v, u) - np.arctan2(y, x))
            angle = (angle + np.pi) % (2 * np.pi) - np.pi
            spun = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
            slots = _falls_on(one, other, tree, np.diag(flip) @ spun)
            if slots is not None:
                turned = over or abs(angle) > _STRAIGHT
                found.append((over, round(abs(angle), 3), _Laid(slots, turned)))
    found.sort(key=lambda item: item[:2])
    return [laid for _, _, laid in found[:_LAYS]]


def _falls_on(one: _Shape, other: _Shape, tree: KDTree, turn: FloatArray) -> dict[int, int] | None:
    """Tell which slot of one shape falls on which of another, if all do."""
    found = tree.query(one.middle @ turn)
    far, at = np.asarray(found[0]), np.asarray(found[1])
    if far.max() > ALIKE or len(np.unique(at)) < len(at):
        return None
    ends = [(a @ turn, b) for a, b in ((one.tail, other.tail[at]), (one.head, other.head[at]))]
    ahead = np.maximum(*(np.hypot(*(a - b).T) for a, b in ends)) < ALIKE
    crossed = [(one.tail @ turn, other.head[at]), (one.head @ turn, other.tail[at])]
    back = np.maximum(*(np.hypot(*(a - b).T) for a, b in crossed)) < ALIKE
    if not (ahead | back).all():
        return None
    slots: dict[int, int] = {}
    for line, there, same in zip(one.lines, other.lines[at], ahead, strict=True):
        slots[2 * int(line)] = 2 * int(there) + (not same)
        slots[2 * int(line) + 1] = 2 * int(there) + bool(same)
    return slots


_Ways: TypeAlias = list[tuple[tuple[int, ...], float]]  # slots in order, and what is added


class _Chooser:
    """Chooses how each area is stitched, of some ways each, so that all together costs least."""

    def __init__(
        self, states: Ways, links: Links, rows: dict[int, list[int]], ways: dict[int, _Ways]
    ) -> None:
        self._links, self._rows, self._ways = links, rows, ways
        self._onward = Onward(states)
        self._known: dict[tuple[int, ...], float] = {}
        self._number = {slot: number for number, row in rows.items() for slot in row}
        self._slots = {number: np.sort(np.array(row)) for number, row in rows.items()}

    def choose(self, family: dict[int, list[_Laid]]) -> None:
        """Choose one way for a family of alike areas."""
        rows: dict[tuple[int, ...], float] = {}
        for number, laid in family.items():
            home = {there: here for here, there in laid[0].slots.items()}
            row = tuple(home[slot] for slot in self._rows[number])
            row = min(row, row[::-1])
            rows.setdefault(row, self._within(row))
        best: tuple[float, dict[int, _Ways]] | None = None
        for way in sorted(rows, key=lambda row: (round(rows[row], 6), row))[:_WAYS]:
            asked = {
                number: [
                    (tuple(one.slots[slot] for slot in row), _TURNED * one.turned)
                    for one in laid
                    for row in (way, way[::-1])
                ]
                for number, laid in family.items()
            }
            cost, _ = self._walk({**self._ways, **asked})
            if best is None or cost < best[0]:
                best = cost, asked
        assert best is not None  # noqa: S101 - a family has a way
        self._ways.update(best[1])

    def order(self) -> list[int]:
        """Give the slots in order."""
        picked = self._walk(self._ways)[1]
        numbers = sorted(self._ways)
        return [
            slot
            for number, k in zip(numbers, picked, strict=True)
            for slot in self._ways[number][k][0]
        ]

    def _walk(self, ways: dict[int, _Ways]) -> tuple[float, list[int]]:
        """Go from area to area, keeping the cheapest way to end with each of its ways."""
        numbers = sorted(ways)
        hub = self._links.hub
        best = [hub[row[0]] + more + self._within(row) for row, more in ways[numbers[0]]]
        self._onward.learn(
            [
                ([row[-1] for row, _ in ways[here]], self._area(ways[there][0][0][0]))
                for here, there in pairwise(numbers)
            ]
        )
        came: list[list[int]] = []
        for here, there in pairwise(numbers):
            starts = [row[-1] for row, _ in ways[here]]
            goals = [row[0] for row, _ in ways[there]]
            apart = self._onward.prices(starts, goals, (there, self._slots[there]))
            total = np.array(best)[:, None] + apart
            came.append(total.argmin(axis=0).tolist())
            best = [
                float(price) + more + self._within(row)
                for price, (row, more) in zip(total.min(axis=0), ways[there], strict=True)
            ]
        last = [cost + hub[row[-1]] for cost, (row, _) in zip(best, ways[numbers[-1]], strict=True)]
        picked = [int(np.argmin(last))]
        for back in reversed(came):
            picked.append(back[picked[-1]])
        return float(min(last)), picked[::-1]

    def _within(self, row: Sequence[int]) -> float:
        """Price the links within an area."""
        known = self._known.get(tuple(row))
        if known is None:
            joints = list(zip(row[1:-1:2], row[2::2], strict=True))
            near = self._links.near
            self._onward.learn([([a], self._area(b)) for a, b in joints if b not in near[a]])
            known = self._known[tuple(row)] = sum(self._link(a, b) for a, b in joints)
        return known

    def _link(self, a: int, b: int) -> float:
        price = self._links.near[a].get(b)
        return price if price is not None else self._onward.prices([a], [b], self._area(b))[0, 0]

    def _area(self, slot: int) -> tuple[int, IntArray]:
        number = self._number[slot]
        return number, self._slots[number]
