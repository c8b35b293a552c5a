"""Minimum T-joins of narrow graphs, from one side to the other.

A quilt of a few blocks is narrow, and so is a single piece: on the way across its graph, few
vertices at a time have edges both behind and ahead. For every way in which these can be odd or even
the cheapest choice of the edges behind is kept (dynamic programming over a path decomposition).
Prices are taken as they are, and no library has to be loaded for it.
"""

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray

__all__ = ["across", "narrow_join"]

MOST_EDGES = 500  # with more, PyMatching is quicker although it has to be loaded
WIDEST = 12  # vertices at a time: each doubles the ways


def across(vertices: int, tail: IntArray, head: IntArray) -> list[int] | None:
    """Find an order of the vertices that leads across a graph.

    Parameters
    ----------
    vertices, tail, head
        As in `narrow_join`.

    Returns
    -------
    list of int, or None
        None if the graph is too wide, or too large.
    """
    if len(tail) > MOST_EDGES:
        return None
    ahead: list[set[int]] = [set() for _ in range(vertices)]
    for one, other in zip(tail.tolist(), head.tolist(), strict=True):
        if other < vertices:
            ahead[one].add(other)
            ahead[other].add(one)
    order: list[int] = []
    front: set[int] = set()
    left = set(range(vertices))
    while left:
        here = min(front or left, key=lambda vertex: (len(ahead[vertex] - front), vertex))
        front |= {here, *ahead[here]}
        if len(front) > WIDEST:
            return None
        front.remove(here)
        left.remove(here)
        for there in ahead[here]:
            ahead[there].remove(here)
        order.append(here)
    return order


def narrow_join(
    order: list[int], tail: IntArray, head: IntArray, price: FloatArray, odd: BoolArray
) -> tuple[BoolArray, float]:
    """Find a minimum T-join, leaving one vertex after another behind.

    Parameters
    ----------
    order
        Every vertex once, as `across` gives them.
    tail, head
        Edge ends, shape (m,); no self loops. The number of vertices, as a head, stands for the hub,
        which may end up with any number of edges.
    price
        Finite and not negative, shape (m,).
    odd
        Which vertices have to get an odd number of edges, shape (vertices,).

    Returns
    -------
    chosen
        Which edges belong to it, shape (m,).
    cost
        What they cost.

    Raises
    ------
    ValueError
        If some connected part without hub has an odd number of odd vertices.
    """
    hub = len(odd)
    pairs = zip(tail.tolist(), head.tolist(), strict=True)
    ends = [[vertex for vertex in pair if vertex < hub] for pair in pairs]
    front = _Front()
    steps = []
    for here, edges in zip(order, _by_first_left(order, ends), strict=True):
        choices = [(edge, *front.choose(ends[edge], price[edge])) for edge in edges]
        steps.append((odd[here], front.leave(here, odd=odd[here]), choices))
    cost = float(front.least[0])
    if not np.isfinite(cost):
        raise ValueError("no T-join: a part without hub has an odd number of odd vertices")
    chosen = np.zeros(len(ends), dtype=bool)
    state = 0
    for parity, bit, choices in reversed(steps):
        state += state // bit * bit + parity * bit
        for edge, flip, taken in reversed(choices):
            chosen[edge] = taken[state]
            state ^= flip if taken[state] else 0
    return chosen, cost


def _by_first_left(order: list[int], ends: list[list[int]]) -> list[list[int]]:
    """List the edges by the end that is left first, in the order of leaving."""
    rank = np.argsort(order)
    edges: list[list[int]] = [[] for _ in order]
    for edge, vertices in enumerate(ends):
        edges[min(rank[vertex] for vertex in vertices)].append(edge)
    return edges


class _Front:
    """The vertices that have edges behind and ahead.

    Attributes
    ----------
    vertices
        In the order in which they came in. The state of the first is the lowest bit of a number, 1
        where it has an odd number of the edges behind.
    least
        What edges behind cost at least that leave each state, shape (2 ** vertices,).
    """

    def __init__(self) -> None:
        self.vertices: list[int] = []
        self.least: FloatArray = np.zeros(1)

    def _bit(self, vertex: int) -> int:
        """Tell the bit of a vertex; it comes in if it is new, even so far."""
        if vertex not in self.vertices:
            self.vertices.append(vertex)
            self.least = np.append(self.least, np.full(len(self.least), np.inf))
        return 1 << self.vertices.index(vertex)

    def choose(self, ends: list[int], price: float) -> tuple[int, BoolArray]:
        """Take an edge where that is cheaper; tell what it flips, and the states it leads to."""
        flip = sum(self._bit(vertex) for vertex in ends)
        with_it = self.least[np.arange(len(self.least)) ^ flip] + price
        taken = with_it < self.least
        self.least = np.where(taken, with_it, self.least)
        return flip, taken

    def leave(self, vertex: int, *, odd: bool) -> int:
        """Leave a vertex behind as it has to be; tell the bit that it had."""
        bit = self._bit(vertex)
        self.vertices.remove(vertex)
        self.least = self.least.reshape(-1, 2, bit)[:, int(odd)].ravel()
        return bit
