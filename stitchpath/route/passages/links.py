"""The cheapest ways from line to line: links, which stitch nothing new.

A *slot* is an end of an edge that must be stitched: the edge that is number i of them has its tail
end in slot 2i and its head end in slot 2i + 1. A *link* leads from slot to slot: straight on at a
vertex, along other ways, or through the hub, where the thread is cut and a new run begins. It costs
the same both ways. A route is then a closed tour over the edges and links.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import chain, pairwise
from math import inf

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.geometry.tolerances import FREE
from stitchpath.route.passages.problem import Passages, both_ends

__all__ = [
    "FORBIDDEN",
    "HUB",
    "Links",
    "Onward",
    "Ways",
    "links_in_order",
    "links_of",
    "ways_between",
    "with_onward",
]

HUB = -1  # stands for a slot where a way ends at the hub
_BEYOND = 1 + 1e-9  # a search goes on so far past what is asked, that rounding loses nothing
FORBIDDEN = 1e9  # price of a run end where none may be
_NEAR = 10  # so many ways are kept for each slot
_ALL = 64  # slots: with no more than these, all ways are
_ACROSS = 10  # so many of those kept lead to other pieces, if they are among the nearest `_ALL`
_ROWS = 4_000_000  # so many numbers are held at once


@dataclass(frozen=True, slots=True)
class Links:
    """The cheapest links of a problem.

    Attributes
    ----------
    edges
        Edges that must be stitched, shape (r,).
    near
        For each slot the slots that are cheap to come to without the hub, and their prices, the
        cheapest first. If b is near to a, then a to b.
    hub
        Price of the cheapest way to a run end from each slot, shape (2r,); `FORBIDDEN` without any.
    piece
        By slot, which of those that hang together by edges that must be stitched, shape (2r,).
    """

    edges: IntArray
    near: list[dict[int, float]]
    hub: FloatArray
    piece: IntArray


class Ways:
    """The graph of ways: where one stands, having come by an edge end, and where one may go.

    Node a is "at the vertex of edge end a, having come by it"; the nodes after those are "about to
    leave by slot s"; the last is the hub.
    """

    def __init__(self, problem: Passages) -> None:
        self.problem = problem
        at, must = problem.at, np.flatnonzero(problem.required)
        self.slots = both_ends(must)
        whole = groups(problem.vertices, problem.tail[must], problem.head[must])
        self.piece = whole[at[self.slots]]
        self.goal = len(at)
        self.hub = self.goal + len(self.slots)
        arrive, leave = _pairs_at(at)
        price = problem.passing.price(arrive, leave, at[arrive])
        slot_of = np.full(len(at), -1)
        slot_of[self.slots] = np.arange(len(self.slots))
        goal = slot_of[leave] >= 0
        walked = np.isfinite(problem.again[leave // 2])
        stop = np.flatnonzero(np.isfinite(problem.end_at))
        row = np.concatenate([arrive[walked], arrive[goal], stop])
        column = np.concatenate(
            [leave[walked] ^ 1, self.goal + slot_of[leave[goal]], np.full(len(stop), self.hub)]
        )
        weight = np.concatenate(
            [
                price[walked] + problem.again[leave[walked] // 2],
                price[goal],
                problem.end_at[stop],
            ]
        )
        # Of parallel arcs (round a loop, or straight back on it) the cheapest counts.
        order = np.lexsort((weight, column, row))
        row, column, weight = row[order], column[order], weight[order]
        fresh = np.ones(len(row), dtype=bool)
        fresh[1:] = (np.diff(row) != 0) | (np.diff(column) != 0)
        self.web = csr_array(
            (np.maximum(weight[fresh], FREE), (row[fresh], column[fresh])),
            shape=(self.hub + 1, self.hub + 1),
        )

    def hub_prices(self) -> FloatArray:
        """Price the cheapest way from each slot to a run end; `FORBIDDEN` without any."""
        hub = dijkstra(self.web.T.tocsr(), indices=[self.hub])[0][self.slots]
        return np.where(np.isfinite(hub), hub, FORBIDDEN)

    def nearest(
        self, count: int, farthest: float, phase: Sequence[int] | None = None
    ) -> list[dict[int, float]]:
        """Find the slots nearest to each slot, and what it costs to come to them.

        With phases by slot those next to each other are found, and so many of the same or of none.
        The nearest may all lie in one piece. So a few of other pieces are looked for beyond them:
        else islands could only be joined in the order in which they were at first.
        """
        when = phase or [-1] * len(self.slots)
        piece: list[int] = self.piece.tolist()
        across = _ACROSS if len(set(piece)) > 1 else 0
        first: list[int] = self.web.indptr.tolist()
        to: list[int] = self.web.indices.tolist()
        price: list[float] = self.web.data.tolist()
        goal, hub = self.goal, self.hub
        found: list[dict[int, float]] = []
        for slot, begin in enumerate(self.slots.tolist()):
            near: dict[int, float] = {}
            known = {begin: 0.0}
            heap = [(0.0, begin)]
            mine, left, beyond, looked = when[slot], count, across, 0
            while heap and (left > 0 or (beyond > 0 and looked < 2 * _ALL)):
                far, node = heappop(heap)
                if far > known[node]:
                    continue
                if goal <= node < hub:
                    its = when[node - goal]
                    same = mine < 0 or its in {mine, -1}
                    if node - goal != slot and (same or abs(its - mine) == 1):
                        apart = piece[node - goal] != piece[slot]
                        if left > 0 or apart:
                            near[node - goal] = far
                        left -= same
                        beyond -= same and apart
                        looked += same
                    continue
                for arc in range(first[node], first[node + 1]):
                    there, ahead = to[arc], far + price[arc]
                    if there != hub and ahead < farthest and ahead < known.get(there, inf):
                        known[there] = ahead
                        heappush(heap, (ahead, there))
            found.append(near)
        return found


def _pairs_at(at: IntArray) -> tuple[IntArray, IntArray]:
    """List the ordered pairs of edge ends at every vertex, an end with itself too."""
    order = np.argsort(at, kind="stable")
    size = np.bincount(at)
    start = np.cumsum(size) - size
    ones, others = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    for count in np.unique(size[size > 0]).tolist():
        here = order[start[size == count][:, None] + np.arange(count)]
        ones.append(np.repeat(here, count, axis=1).reshape(-1))
        others.append(np.tile(here, (1, count)).reshape(-1))
    return np.concatenate(ones), np.concatenate(others)


def links_of(states: Ways, held: int = -1) -> Links:
    """Find the cheapest links of a problem.

    Parameters
    ----------
    states
        The ways of a problem.
    held
        An edge from whose tail a run has to go on; -1 without.
    """
    hub = states.hub_prices()
    if held >= 0:
        hub[np.flatnonzero(states.slots == 2 * held)] = FORBIDDEN
    count = _NEAR if len(states.slots) > _ALL else _ALL
    found = states.nearest(count, float(2 * hub.max(initial=0.0)))
    near = _both_ways(found, hub.tolist())
    return Links(states.slots[::2] // 2, near, hub, states.piece)


def with_onward(states: Ways, links: Links, phase: Sequence[int]) -> Links:
    """Add the cheapest link from each slot to what is stitched next, and to what was before.

    Parameters
    ----------
    states, links
        The ways of a problem, and its links.
    phase
        By line that must be stitched, when it is to be.
    """
    near = [dict(row) for row in links.near]
    _add_onward(states, near, np.repeat(np.asarray(phase, dtype=np.int64), 2))
    return replace(links, near=_both_ways(near, links.hub.tolist()))


def links_in_order(
    states: Ways, hub: FloatArray, phase: Sequence[int], usual: Sequence[int]
) -> Links:
    """Find the cheapest links of a problem where some lines may be stitched at any time.

    Parameters
    ----------
    states
        The ways of a problem.
    hub
        Price of the cheapest way to a run end from each slot.
    phase
        By line that must be stitched, when it is to be; below 0 for at any time.
    usual
        The same with no line at any time: from each slot the cheapest links to what is stitched
        next by it, and to what was before, are among them.
    """
    count = _NEAR if len(states.slots) > _ALL else _ALL
    when = np.repeat(np.asarray(phase, dtype=np.int64), 2).tolist()
    near = states.nearest(count, float(2 * hub.max(initial=0.0)), when)
    _add_onward(states, near, np.repeat(np.asarray(usual, dtype=np.int64), 2))
    both = _both_ways(near, hub.tolist())
    return Links(states.slots[::2] // 2, both, hub, states.piece)


def _add_onward(states: Ways, found: list[dict[int, float]], when: IntArray) -> None:
    """Add the cheapest link from each slot to what is stitched next, and to what was before."""
    phases = np.unique(when).tolist()
    for here, there in chain(pairwise(phases), pairwise(phases[::-1])):
        sources = states.slots[when == there]
        far, _, source = dijkstra(
            states.web, indices=sources, min_only=True, return_predecessors=True
        )
        slot_of = dict(zip(sources.tolist(), np.flatnonzero(when == there).tolist(), strict=True))
        for slot in np.flatnonzero(when == here).tolist():
            price = float(far[states.goal + slot])
            if np.isfinite(price):
                found[slot].setdefault(slot_of[int(source[states.goal + slot])], price)


def _both_ways(found: list[dict[int, float]], hub: list[float]) -> list[dict[int, float]]:
    """Let a be near to b where b is near to a; leave out what the hub is as cheap for."""
    both: list[dict[int, float]] = [{} for _ in found]
    for a, row in enumerate(found):
        for b, price in row.items():
            if b != a and price < hub[a] + hub[b]:
                least = min(price, both[a].get(b, price))
                both[a][b] = both[b][a] = least
    nearest = [sorted((price, slot) for slot, price in row.items()) for row in both]
    return [{slot: price for price, slot in row} for row in nearest]


class Onward:
    """Prices of links from area to area, far apart as they may lie.

    Parameters
    ----------
    states
        The ways of a problem.
    """

    def __init__(self, states: Ways) -> None:
        self._states = states
        self._hub = states.hub_prices()
        self._rows: dict[tuple[int, int], FloatArray] = {}

    def between(self, here: IntArray, there: IntArray) -> FloatArray:
        """Price the links between two areas, to stop and begin anew among them.

        Parameters
        ----------
        here, there
            Slots of the two areas, shapes (k,) and (j,).

        Returns
        -------
        ndarray
            Shape (k, j).
        """
        if len(here) > len(there):
            return self.between(there, here).T
        far = self._far(here)[:, there]
        return np.minimum(far, self._hub[here][:, None] + self._hub[there])

    def prices(
        self, starts: Sequence[int], goals: Sequence[int], area: tuple[int, IntArray]
    ) -> FloatArray:
        """Price the links between slots.

        Parameters
        ----------
        starts, goals
            Slots.
        area
            A number that stands for the area of the goals, and all its slots, ascending.

        Returns
        -------
        ndarray
            Shape (starts, goals).
        """
        number, slots = area
        self.learn([(starts, area)])
        at = np.searchsorted(slots, goals)
        apart = np.array([self._rows[slot, number][at] for slot in starts])
        return np.asarray(
            np.minimum(apart, self._hub[list(starts)][:, None] + self._hub[list(goals)])
        )

    def learn(self, wanted: Sequence[tuple[Sequence[int], tuple[int, IntArray]]]) -> None:
        """Price many links at once: from slots to all slots of an area, as in `prices`."""
        fresh: dict[int, dict[int, IntArray]] = {}
        for starts, (number, slots) in wanted:
            for slot in starts:
                if (slot, number) not in self._rows:
                    fresh.setdefault(slot, {})[number] = slots
        asked = list(fresh)
        rows = max(_ROWS // self._states.web.shape[0], 1)
        for k in range(0, len(asked), rows):
            part = asked[k : k + rows]
            for slot, far in zip(part, self._far(np.array(part)), strict=True):
                for number, slots in fresh[slot].items():
                    self._rows[slot, number] = far[slots]

    def _far(self, here: IntArray) -> FloatArray:
        """Price the ways to all slots; inf where to stop and begin anew is as cheap."""
        states = self._states
        limit = float(self._hub[here].max() + self._hub.max()) * _BEYOND
        far = dijkstra(states.web, indices=states.slots[here], limit=limit)
        return np.asarray(far[:, states.goal : states.hub])


def ways_between(
    states: Ways, pairs: Sequence[tuple[int, int]], farthest: float = np.inf
) -> list[tuple[IntArray, float]]:
    """Find the cheapest ways from slot to slot, or from a slot to the hub, edge by edge.

    Parameters
    ----------
    states
        The ways of a problem.
    pairs
        Slots where each way begins and ends; `HUB` for the hub at its end.
    farthest
        No way is wanted that costs more.

    Returns
    -------
    list of (ndarray, float)
        Edge ends by which each way leaves vertices, in order, without the line that it leads to,
        and its price; inf where there is none.
    """
    by_start: dict[int, list[int]] = {}
    for k, (a, _) in enumerate(pairs):
        by_start.setdefault(a, []).append(k)
    starts = np.array(list(by_start), dtype=np.int64)
    ways: list[tuple[IntArray, float]] = [(np.empty(0, dtype=np.int64), np.inf)] * len(pairs)
    rows = max(_ROWS // states.web.shape[0], 1)
    for k in range(0, len(starts), rows):
        part = starts[k : k + rows]
        far, back = dijkstra(
            states.web,
            indices=states.slots[part],
            return_predecessors=True,
            limit=farthest * _BEYOND,
        )
        for row, start in enumerate(part.tolist()):
            for pair in by_start[start]:
                end = pairs[pair][1]
                goal = states.hub if end == HUB else states.goal + end
                price = float(far[row, goal])
                if np.isfinite(price):
                    ways[pair] = (_walk_back(back[row], goal, int(states.slots[start])), price)
    return ways


def _walk_back(back: IntArray, goal: int, start: int) -> IntArray:
    """Give the edge ends by which the vertices on a way are left."""
    here = int(back[goal])
    left = []
    while here != start:
        left.append(here ^ 1)
        here = int(back[here])
    return np.array(left[::-1], dtype=np.int64)
