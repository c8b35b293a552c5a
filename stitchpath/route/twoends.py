"""Runs over lines that all hang together: nothing to join but the hub.

Without run ends the cheapest T-join would be a closed tour; at least two ends are wanted. So each
end gets a rebate: Lagrange's multiplier of "two ends". The least price of a T-join with k ends is
convex in k, over the even numbers (such T-joins are an M-convex function on a jump system, Murota
2006, from memory). So the right rebate shows the least price with two ends, and most often the
T-join itself. The bound does not lean on that: a rebate never makes two ends dearer than they are.
"""

from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.route.effort import Effort
from stitchpath.route.hub_graph import HubGraph, at_most_twice
from stitchpath.route.tjoin import Join, t_join

__all__ = ["TwoEnds", "two_ends"]

# Prices that differ by no more than this share of themselves are the same.
SAME_PRICE = 1e-9
# Seconds that a T-join takes for each edge.
JOIN = 6e-6


class TwoEnds(NamedTuple):
    """A tour with two run ends at least.

    Attributes
    ----------
    passes
        Passes over each edge, shape (m,).
    bound
        Proven: no tour costs less.
    """

    passes: IntArray
    bound: float


def two_ends(graph: HubGraph, closed: Join, effort: Effort) -> TwoEnds:
    """Give the cheapest T-join two run ends.

    Parameters
    ----------
    graph
        A problem of one piece and the hub.
    closed
        Its cheapest T-join, which has no run end.
    effort
        What may be spent; the bound is true wherever it ends.

    Returns
    -------
    TwoEnds
        The tour and the bound. They meet unless the effort runs out, or many ends cost the same.
    """
    web = _Web(graph)
    least = float(graph.price @ closed.chosen)
    best = web.unfold(closed.chosen[web.inner], np.full(2, np.argmin(web.ends)))
    bound = closed.bound
    # A first guess: begin where an end is cheap, and saves a pass if it can.
    tips: IntArray = np.lexsort((~graph.odd[web.tips], web.ends))[:1]
    best = _from_an_end(web, best, tips, bound, effort)
    rebate = float(graph.price @ best - least) / 2
    while not effort.late:
        join, at = web.match(graph.odd, effort, rebate)
        bound = max(bound, join.bound + 2 * rebate)
        if not len(at):
            break
        tips = at
        passes = web.unfold(join.chosen[: len(web.inner)], at)
        price = float(graph.price @ passes)
        if len(at) == 2:  # noqa: PLR2004
            best = web.cheaper(best, passes)
        lower = (price - least) / len(at)
        if lower >= rebate * (1 - SAME_PRICE):
            break
        rebate = lower
    rounding = least - closed.bound  # a bound lies about so far below what it proves
    return TwoEnds(_from_an_end(web, best, tips, bound + rounding, effort), bound)


def _from_an_end(
    web: "_Web", best: IntArray, tips: IntArray, least: float, effort: Effort
) -> IntArray:
    """Begin at one end after another until a tour is as cheap as can be: that parts ties."""
    graph = web.graph
    for tip in tips.tolist():
        if effort.late or graph.price @ best <= least * (1 + SAME_PRICE):
            break
        odd = graph.odd.copy()
        odd[web.tips[tip]] ^= True
        join, at = web.match(odd, effort)
        best = web.cheaper(best, web.unfold(join.chosen[: len(web.inner)], np.append(at, tip)))
    return best


class _Web:
    """The graph with its run ends moved to the piece: each at the price of the way to it.

    Attributes
    ----------
    inner
        Edges that do not touch the hub.
    tips
        Vertices of the piece from which a way leads off it to a run end.
    ends
        Price of that way and end, for each of them.
    """

    def __init__(self, graph: HubGraph) -> None:
        self.graph = graph
        self.inner = np.flatnonzero(graph.head != graph.hub)
        tail = np.concatenate([graph.tail, graph.head])
        head = np.concatenate([graph.head, graph.tail])
        edge = np.tile(np.arange(graph.edges), 2)
        free = graph.piece < 0
        free[graph.hub] = True
        out = free[tail]  # from the hub over points where nothing is required to the piece
        price = np.maximum(graph.price[edge[out]], 1e-9)
        size = (graph.vertices, graph.vertices)
        web = csr_matrix((price, (tail[out], head[out])), shape=size)
        self._which = csr_matrix((edge[out] + 1, (tail[out], head[out])), shape=size)
        away, before = dijkstra(web, indices=[graph.hub], return_predecessors=True)
        self._before = before[0]
        self.tips = np.flatnonzero(np.isfinite(away[0]) & ~free)
        self.ends: FloatArray = away[0][self.tips]

    def match(self, odd: BoolArray, effort: Effort, rebate: float = 0.0) -> tuple[Join, IntArray]:
        """Find the cheapest T-join when each end costs less; also say which ends it has."""
        graph = self.graph
        effort.spend(JOIN * graph.edges)
        price = np.concatenate([graph.price[self.inner], np.maximum(self.ends - rebate, 0)])
        tail = np.concatenate([graph.tail[self.inner], self.tips])
        head = np.concatenate([graph.head[self.inner], np.full(len(self.tips), graph.hub)])
        join = t_join(graph.hub, tail, head, price, odd[: graph.hub])
        return join, np.flatnonzero(join.chosen[len(self.inner) :])

    def unfold(self, chosen: BoolArray, ends: IntArray) -> IntArray:
        """Give the passes over all edges of a T-join and of the ways to some ends."""
        passes = np.zeros(self.graph.edges, dtype=np.int64)
        passes[self.inner[chosen]] = 1
        for end in ends.tolist():
            here = int(self.tips[end])
            while here != self.graph.hub:
                there = int(self._before[here])
                passes[self._which[there, here] - 1] += 1
                here = there
        return at_most_twice(passes)

    def cheaper(self, one: IntArray, other: IntArray) -> IntArray:
        """Give the cheaper of two tours."""
        return other if self.graph.price @ other < self.graph.price @ one else one
