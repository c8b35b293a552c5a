"""Rows stitched as asked: all from left to right, or in pairs, there and back.

A row is what hangs together of the lines of a pass: a chain from one side to the other. With ways
in the margin it is led off the edge at both ends. Rows come from the top down.
"""

from collections.abc import Mapping
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.network.graph import Network
from stitchpath.route.postman import Tour
from stitchpath.route.trails import Trail, Turning
from stitchpath.route.useful_runs import Walked

__all__ = ["AS_ASKED", "AsAsked", "NoRowsError", "rows_as_asked"]

AsAsked: TypeAlias = Literal["one way", "in pairs"]


AS_ASKED: Mapping[str, AsAsked] = {"one way": "one way", "in pairs": "in pairs"}
"""Ways that can be asked for, by name."""


class NoRowsError(StitchpathError):
    """Lines that branch or close are no rows, or no way leads from one to the next."""


class _Way(NamedTuple):
    """Edges in a row, and which are walked from tail to head."""

    edges: list[int]
    forward: list[bool]

    def back(self) -> "_Way":
        return _Way(self.edges[::-1], [not ahead for ahead in self.forward[::-1]])

    def then(self, other: "_Way") -> "_Way":
        return _Way(self.edges + other.edges, self.forward + other.forward)


def rows_as_asked(network: Network, required: BoolArray, asked: AsAsked) -> Walked:
    """Put the rows of a pass into runs.

    Parameters
    ----------
    network
        Of the pass.
    required
        What has to be stitched, shape (m,).
    asked
        "one way": each row by itself, from left to right. "in pairs": two rows to a run, the first
        from left to right and the second back.

    Returns
    -------
    Walked
        Its trails in stitching order, not priced.

    Raises
    ------
    NoRowsError
        Where lines branch or close, so that they are no rows.
    """
    rows = _rows(network, required)
    ways = _Ways(network)
    runs: list[_Way] = []
    if asked == "one way":
        runs = [ways.off(row) for row in rows]
    else:
        for one, two in zip(rows[::2], [*rows[1::2], None], strict=False):
            runs.append(ways.off(one if two is None else ways.pair(one, two.back())))
    edge = np.array([e for run in runs for e in run.edges], dtype=np.int64)
    last = np.cumsum([len(run.edges) for run in runs]).tolist()
    trails = [
        Trail(np.arange(end - len(run.edges), end), np.array(run.forward))
        for run, end in zip(runs, last, strict=True)
    ]
    extra = np.bincount(edge, minlength=len(required)) - required
    tour = Tour(extra, np.zeros(len(network.points), dtype=np.int64), 0.0, -np.inf, optimal=False)
    return Walked(trails, edge, Turning(0.0, 0, 0, 0, 0.0), tour)


def _rows(network: Network, required: BoolArray) -> list[_Way]:
    """Find the rows of a pass, from the top down, each from left to right."""
    lines = np.flatnonzero(required)
    tail, head = network.tail[lines], network.head[lines]
    size = (len(network.points), len(network.points))
    web = csr_array((np.ones(len(lines)), (tail, head)), shape=size)
    _, mine = connected_components(web, directed=False)
    by_row: dict[int, list[int]] = {}
    for e, row in zip(lines.tolist(), mine[tail].tolist(), strict=True):
        by_row.setdefault(row, []).append(e)
    rows = [_row(network, edges) for edges in by_row.values()]
    return sorted(rows, key=lambda row: _height(network, row))


def _lying(network: Network, points: FloatArray) -> FloatArray:
    """Give points as they lie in a frame: x to her right, y toward her."""
    return points if network.axis else np.column_stack([-points[:, 1], points[:, 0]])


def _height(network: Network, row: _Way) -> tuple[float, float]:
    points = _lying(network, np.concatenate([network.paths[e] for e in row.edges]))
    x, y = ((points.min(axis=0) + points.max(axis=0)) / 2).round(3).tolist()
    return y, x


def _row(network: Network, edges: list[int]) -> _Way:
    """Walk a row from its left end: as it is drawn, where it crosses itself."""
    tips = np.bincount(np.concatenate([network.tail[edges], network.head[edges]])) % 2
    ends = np.flatnonzero(tips)
    if len(ends) == 2:  # noqa: PLR2004 - a chain, or a line that crosses itself
        lying = _lying(network, network.points[ends]).tolist()
        start = int(ends[min(range(len(ends)), key=lambda k: tuple(lying[k]))])
        drawn = sorted(edges, key=lambda e: int(network.line[e]))
        for order in (drawn, drawn[::-1], _chained(network, edges, start)):
            way = _from(network, order, start)
            if way is not None:
                return way
    raise NoRowsError("rows: found lines that branch or close, expected rows from side to side")


def _from(network: Network, order: list[int], here: int) -> _Way | None:
    """Walk edges in an order; None where one does not begin where the one before it ends."""
    way = _Way([], [])
    for e in order:
        tail, head = int(network.tail[e]), int(network.head[e])
        if here not in (tail, head):
            return None
        ahead = tail == here
        way.edges.append(e)
        way.forward.append(ahead)
        here = head if ahead else tail
    return way


def _chained(network: Network, edges: list[int], here: int) -> list[int]:
    """Put edges that do not branch in a row."""
    at: dict[int, list[int]] = {}
    for e in edges:
        for v in (int(network.tail[e]), int(network.head[e])):
            at.setdefault(v, []).append(e)
    order: list[int] = []
    left = at[here]
    while len(left) == 1:
        (e,) = left
        order.append(e)
        here = int(network.head[e] if network.tail[e] == here else network.tail[e])
        left = [other for other in at[here] if other != e]
    return order if len(order) == len(edges) else []


class _Ways:
    """Shortest ways where nothing has to be stitched."""

    def __init__(self, network: Network) -> None:
        self.network = network
        low = np.minimum(network.tail, network.head)
        high = np.maximum(network.tail, network.head)
        free = np.flatnonzero((network.line < 0) & np.isfinite(network.again) & (low != high))
        order = free[np.lexsort((network.again[free], high[free], low[free]))]
        self.cheapest = {(int(low[e]), int(high[e])): int(e) for e in order[::-1].tolist()}
        kept = np.array(list(self.cheapest.values()), dtype=np.int64)
        size = (len(network.points), len(network.points))
        price = np.maximum(network.again[kept], 1e-9)
        self.web = csr_array((price, (low[kept], high[kept])), shape=size)
        self.outside = np.array([where != "inside" for where in network.where])

    def off(self, row: _Way) -> _Way:
        """Lead a row off the edge at both ends, where that is cheaper than an end at its tips."""
        out = self._off(self._tip(row, last=True))
        into = self._off(self._tip(row, last=False)).back()
        return into.then(row).then(out)

    def pair(self, one: _Way, two: _Way) -> _Way:
        """Lead from the end of a row to where the next begins."""
        here, there = self._tip(one, last=True), self._tip(two, last=False)
        far, back = dijkstra(self.web, directed=False, indices=[here], return_predecessors=True)
        if not np.isfinite(far[0][there]):
            raise NoRowsError(
                "rows: found two rows with no way between them, expected one in the margin or "
                "along the edge"
            )
        return one.then(self._walked(back[0], here, there)).then(two)

    def _off(self, tip: int) -> _Way:
        far, back = dijkstra(self.web, directed=False, indices=[tip], return_predecessors=True)
        cost = np.where(self.outside, far[0] + self.network.end, np.inf)
        cost[tip] = self.network.end[tip]
        return self._walked(back[0], tip, int(np.argmin(cost)))

    def _walked(self, back: IntArray, here: int, there: int) -> _Way:
        way = _Way([], [])
        while there != here:
            before = int(back[there])
            e = self.cheapest[min(before, there), max(before, there)]
            way.edges.append(e)
            way.forward.append(bool(self.network.head[e] == there))
            there = before
        return _Way(way.edges[::-1], way.forward[::-1])

    def _tip(self, way: _Way, *, last: bool) -> int:
        e, ahead = way.edges[-1 if last else 0], way.forward[-1 if last else 0]
        side = self.network.head if ahead == last else self.network.tail
        return int(side[e])
