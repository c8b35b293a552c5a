"""Branch and cut: the proof that a tour is the cheapest, or how far from it it can be."""

from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heappop, heappush
from math import gcd, inf
from time import monotonic

import highspy
import numpy as np

from stitchpath.route.cuts import Cutter, Point
from stitchpath.route.hubgraph import HubGraph
from stitchpath.route.joining import complete, double_edges, improve, steiner_tree
from stitchpath.route.relax import Relaxation, Solved
from stitchpath.typing import FloatArray, IntArray

__all__ = ["Search"]

WHOLE = 1e-6
# A node is given up when its bound is this near the best tour: a part of its price.
NEAR = 2e-7


@dataclass(order=True)
class _Node:
    """A part of the search: the columns fixed on the way to it, and where its program stood."""

    bound: float
    number: int
    fixed: dict[int, int] = field(compare=False)
    basis: highspy.HighsBasis = field(compare=False)


class Search:
    """Search for the cheapest tour of a reduced problem.

    Parameters
    ----------
    graph
        The problem.
    passes
        A first tour.
    bound
        A bound known already.
    deadline
        Value of the monotonic clock after which to stop.
    report
        Called with the price of the best tour and the bound whenever one of them changes.
    """

    def __init__(
        self,
        graph: HubGraph,
        passes: IntArray,
        bound: float,
        *,
        deadline: float = inf,
        report: Callable[[float, float], None] | None = None,
    ) -> None:
        self.graph = graph
        self.passes = passes
        self.price = float(graph.price @ passes)
        self.bound = bound
        self.nodes = 0
        self._deadline = deadline
        self._report = report
        pairs = double_edges(graph)
        self._pairs = pairs
        self._cutter = Cutter(graph, pairs)
        price = np.concatenate([graph.price, 2 * graph.price[pairs]])
        self._program = Relaxation(price)
        self._lower, self._upper = np.zeros(len(price)), np.ones(len(price))
        self._step = _common_step(graph.price)
        self._lost = inf  # least bound among the nodes given up as near enough

    def run(self) -> None:
        """Search until the best tour is proven, or the time is up."""
        self._program.add(self._cutter.first_cuts())
        root = self._tighten(rounds=500, exact=True, root=True)
        self._raise(root.value)
        if self._near(root.value) or self._late():
            return
        heap = [_Node(root.value, 0, {}, self._program.basis())]
        while heap and not self._late():
            node = heappop(heap)
            self._raise(node.bound)
            if self._near(node.bound):
                break
            for child in self._branch(node):
                heappush(heap, child)
        self._raise(heap[0].bound if heap else inf)

    def _late(self) -> bool:
        return monotonic() > self._deadline

    def _near(self, value: float) -> bool:
        """Tell whether nothing of value can come of a bound."""
        if self._step:
            return value > self.price - self._step + WHOLE
        return value >= self.price * (1 - NEAR)

    def _raise(self, bound: float) -> None:
        """Take over a bound for all that is left of the search."""
        if self._step and bound < inf:
            bound = np.ceil((bound - WHOLE) / self._step) * self._step
        bound = min(bound, self._lost, self.price)
        if bound > self.bound:
            self.bound = float(bound)
            if self._report:
                self._report(self.price, self.bound)

    def _point(self, x: FloatArray) -> Point:
        edges = len(self.graph.tail)
        pair = np.zeros(edges)
        pair[self._pairs] = x[edges:]
        return Point(x[:edges], pair)

    def _tighten(self, *, rounds: int, exact: bool, root: bool = False) -> Solved:
        """Solve and cut in turns until no cut is found, or too little comes of it."""
        trail: list[float] = []
        while True:
            solved = self._program.solve(seconds=self._deadline - monotonic())
            if not solved.finished:
                return solved._replace(value=-inf)
            if solved.value == inf or self._near(solved.value):
                return solved
            trail.append(solved.value)
            point = self._point(solved.x)
            stalled = _stalled(trail, self.price)
            cuts = self._cutter.find(point, exact=exact and not stalled)
            if not cuts and _whole(solved.x):
                self._take(np.rint(point.single + 2 * point.pair).astype(np.int64))
            if not cuts or len(trail) >= rounds or (stalled and not _whole(solved.x)):
                return solved
            if root:
                self._raise(solved.value)
                self._program.shed(5)
            if not self._program.add(cuts):
                return solved

    def _take(self, passes: IntArray) -> None:
        """Keep a tour if it is the best so far."""
        price = float(self.graph.price @ passes)
        if price < self.price:
            self.passes, self.price = passes, price
            if self._report:
                self._report(self.price, self.bound)

    def _round(self, point: Point) -> None:
        """Make a tour from a fractional point."""
        weight = np.minimum(point.single + 2 * point.pair, 1)
        tree = steiner_tree(self.graph, self.graph.price * (1 - weight))
        self._take(improve(self.graph, complete(self.graph, tree)))

    def _branch(self, node: _Node) -> list[_Node]:
        """Look at a node once more, and part it in two."""
        lower, upper = self._lower.copy(), self._upper.copy()
        for column, value in node.fixed.items():
            lower[column] = upper[column] = value
        self._program.bound(lower, upper)
        self._program.restart(node.basis)
        solved = self._tighten(rounds=40, exact=len(node.fixed) < 4)
        self.nodes += 1
        if solved.value == -inf:
            return [node]
        if solved.value == inf or self._near(solved.value) or _whole(solved.x):
            self._lose(solved.value)
            return []
        if self.nodes % 10 == 1:
            self._round(self._point(solved.x))
        basis = self._program.basis()
        column, values = self._choose(solved, basis, lower, upper)
        children = []
        for way in (0, 1):
            if self._near(values[way]):
                self._lose(values[way])
                continue
            children.append(
                _Node(max(values[way], solved.value), 2 * self.nodes + way, {**node.fixed, column: way}, basis)
            )
        return children

    def _lose(self, value: float) -> None:
        """Remember the bound of a node given up, if it is below the best tour."""
        if not self._step and value < self.price:
            self._lost = min(self._lost, value)

    def _choose(self, solved: Solved, basis, lower, upper) -> tuple[int, tuple[float, float]]:
        """Choose the column to branch on: try the likeliest for a few pivots each."""
        x = solved.x
        fraction = np.minimum(x, 1 - x)
        cost = np.concatenate([self.graph.price, 2 * self.graph.price[self._pairs]])
        order = np.argsort(-fraction * (1 + cost / cost.max()), kind="stable")[:10]
        best = (-inf, -1, (0.0, 0.0))
        for column in order[fraction[order] > WHOLE].tolist():
            found = []
            for way in (0, 1):
                low, up = lower.copy(), upper.copy()
                low[column] = up[column] = way
                self._program.bound(low, up)
                self._program.restart(basis)
                trial = self._program.solve(pivots=60, seconds=self._deadline - monotonic())
                found.append(trial.value)
            gain = [min(v, self.price) - solved.value for v in found]
            score = max(gain[0], 1e-6) * max(gain[1], 1e-6)
            if score > best[0]:
                best = (score, column, (found[0], found[1]))
            if all(self._near(v) for v in found):
                break
        self._program.bound(lower, upper)
        return best[1], best[2]


def _stalled(trail: list[float], price: float) -> bool:
    """Tell whether the last rounds of cuts have moved the bound too little."""
    last = 12
    return len(trail) > last and trail[-1] - trail[-1 - last] < 1e-3 * (price - trail[-1])


def _whole(x: FloatArray) -> bool:
    return bool(np.all(np.minimum(x, 1 - x) < WHOLE))


def _common_step(price: FloatArray) -> float:
    """Give the greatest number that all prices are multiples of, 0 unless they are whole."""
    if not np.array_equal(price, np.rint(price)):
        return 0.0
    return float(gcd(*price.astype(np.int64).tolist()))
