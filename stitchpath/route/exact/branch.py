"""Branch and cut: the proof that a tour is the cheapest, or by how much it may be too dear."""

from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heappop, heappush
from math import ceil, gcd, inf

import highspy
import numpy as np

from stitchpath.base.errors import InternalError
from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.route.effort import Effort
from stitchpath.route.exact.arcs import Arcs
from stitchpath.route.exact.cuts import WHOLE, Cut, Cutter, Point
from stitchpath.route.exact.deeper_cuts import path_cuts, tree_cuts
from stitchpath.route.exact.half_sums import HalfSums
from stitchpath.route.exact.linear_program import Relaxation, Solved
from stitchpath.route.hub_graph import HubGraph
from stitchpath.route.joining import complete, double_edges, improve, steiner_tree

__all__ = ["Search"]

# A node is given up when its bound is within this share of the price of the best tour.
GIVEN_UP = 2e-7
# The linear program is no more exact than this: its bound may lie above a tour by this share of the
# price.
ROUNDING = 1e-6
# How many columns to try before branching, and for how many pivots each.
CANDIDATES, PIVOTS = 8, 50
# Seconds that finding cuts takes for each edge, by the cheap kinds and by the deep ones, and that
# rounding to a tour takes.
CHEAP, DEEP, TOUR = 3e-5, 1e-4, 2e-5
# With so many cuts from halves the slower kinds are not looked for: at first, and later.
ENOUGH, FULL = 20, 1000
# How many rounds of cuts that bring little are borne at a node of branching, and at the root.
PATIENCE = 2, 10
# How many tours are made from prices shaken at random, and what an edge costs in them that the
# program takes whole.
SHAKES, LEAST = 20, 0.02


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
        A first tour, shape (m,).
    bound
        A bound known already.
    report
        Called with the price of the best tour and the bound whenever one of them changes.

    Attributes
    ----------
    passes, price, bound
        The best tour so far and what is proven; true at any moment.
    nodes
        Number of nodes looked at.
    """

    def __init__(
        self,
        graph: HubGraph,
        passes: IntArray,
        bound: float,
        *,
        report: Callable[[float, float], None] | None = None,
    ) -> None:
        self.graph = graph
        self.passes = passes
        self.price = float(graph.price @ passes)
        self.bound = bound
        self.nodes = 0
        self._report = report
        self._pairs = double_edges(graph)
        self._cutter = Cutter(graph, self._pairs)
        self._arcs: Arcs | None = None
        self._cost = np.concatenate([graph.price, 2 * graph.price[self._pairs]])
        self._half_sums = HalfSums(self._cutter, len(self._cost))
        self._program = Relaxation(self._cost)
        self._program.add(self._cutter.first_cuts())
        self._step = _common_step(graph.price)
        self._lost = inf  # least bound among the nodes given up as near enough
        self._lower, self._upper = np.zeros(len(self._cost)), np.ones(len(self._cost))
        self._heap: list[_Node] = []
        self._rounded: Point | None = None
        self._enough = ENOUGH

    @property
    def closed(self) -> bool:
        """Whether the best tour is proven."""
        return self._near(self.bound)

    def ask_below(self, price: float) -> None:
        """Look only for tours cheaper than this price, and keep it as `price`."""
        self.price = min(self.price, price)

    def root(self, effort: Effort) -> None:
        """Cut off what can be before any branching."""
        met = np.concatenate([self._cutter.node_tail, self._cutter.node_head])
        free = len(np.unique(met)) - self.graph.pieces
        few = self.graph.pieces // 10
        solved = None
        if free < self.graph.pieces:
            # Where most is required the arcs are seldom needed.
            solved = self._tighten(effort, root=True)
            if not self._done(solved, effort) and free <= few:
                self._rounded = self._point(solved.x)
                self.shake(effort)
                solved = self._tighten(effort, root=True, deep=True)
        if solved is None or (free > few and not self._done(solved, effort)):
            self._arcs = Arcs(self._cutter, len(self._cost))
            self._widen(self._arcs.lanes)
            self._program.add(self._arcs.first_cuts())
            solved = self._tighten(effort, root=True)
            if not self._done(solved, effort):
                self._widen(self._arcs.lanes)
                self._program.add(self._arcs.direct())
                solved = self._tighten(effort, root=True, deep=True)
        self._plant(solved, effort)

    def deepen(self, effort: Effort) -> None:
        """Cut off more at the root, now that better tours show what is worth it."""
        if self._heap and self._arcs is None:
            self._heap, self._enough = [], FULL
            self._plant(self._tighten(effort, root=True, deep=True), effort)

    def _plant(self, solved: Solved, effort: Effort) -> None:
        """Begin the tree of the search where the root ended."""
        if self._near(solved.bound):
            self._raise(solved.bound)
        else:
            self._rounded = self._point(solved.x)
            self._round(self._rounded, effort)
        if not self._done(solved, effort):
            self._fix(solved)
            self._heap = [_Node(solved.value, 0, {}, self._program.basis())]

    def shake(self, effort: Effort) -> None:
        """Look for better tours near the point that the root ended with."""
        chance = np.random.default_rng(0)  # the same on every run
        for _ in range(SHAKES):
            if self._rounded is None or self.closed or effort.late:
                return
            self._round(self._rounded, effort, chance.uniform(0.5, 1.5, self.graph.edges))

    def branch(self, effort: Effort, nodes: int = 10**6) -> None:
        """Part the search until the best tour is proven, or for a number of nodes."""
        if not self._heap:
            return
        last = self.nodes + nodes
        while self._heap and self.nodes < last and not effort.late:
            node = heappop(self._heap)
            self._settle(node.bound)
            if self._near(node.bound):
                self._heap = []
                break
            for child in self._children(node, effort):
                heappush(self._heap, child)
        self._settle(self._heap[0].bound if self._heap else inf)

    def vouch(self) -> None:
        """Hold the best tour against every cut in the program.

        Raises
        ------
        InternalError
            If one cuts it off: then the bound may be too high.
        """
        pair = self.passes == 2  # noqa: PLR2004
        point = Point(np.where(pair, 0.0, self.passes), pair.astype(np.float64))
        x = np.concatenate([point.single, point.pair[self._pairs]])
        # Tours that are never the best need not keep to all cuts.
        usual = pair.sum() == pair[self._pairs].sum() and not self._cutter.dead_ends(point)
        if usual and self._program.slack(x) < -ROUNDING:
            raise InternalError("the proof of the route leaves out the route itself")

    def take(self, passes: IntArray) -> None:
        """Keep a tour if it is the best so far."""
        price = float(self.graph.price @ passes)
        if price < self.price:
            self.passes, self.price = passes, price
            self._tell()

    def _widen(self, columns: int) -> None:
        """Add columns without a price."""
        self._program.widen(np.zeros(columns), inf)
        self._lower = np.concatenate([self._lower, np.zeros(columns)])
        self._upper = np.concatenate([self._upper, np.full(columns, inf)])

    def _tell(self) -> None:
        if self._report:
            self._report(self.price, self.bound)

    def _near(self, value: float) -> bool:
        """Tell whether nothing of value can come of a bound."""
        if self._step:
            return value > self.price - self._step + WHOLE
        return value >= self.price * (1 - GIVEN_UP)

    def _done(self, solved: Solved, effort: Effort) -> bool:
        return self._near(solved.bound) or not solved.finished or effort.late

    def _raise(self, bound: float) -> None:
        """Take over a bound that holds for every tour, hence for the best one so far."""
        best = float(self.graph.price @ self.passes)
        if bound > best + ROUNDING * (1 + best):
            raise InternalError(
                f"the bound of the route, {bound:.6g}, lies above the price of a route found, "
                f"{best:.6g}, which no true bound does"
            )
        self._lift(self._next_step(bound))

    def _settle(self, left: float) -> None:
        """Take over a bound for all that is left to search.

        A tour that costs less than the best one lies there, or in a node given up as near enough.
        """
        self._lift(min(self._next_step(left), self._lost, self.price))

    def _next_step(self, bound: float) -> float:
        """Round a bound up to what a tour can cost."""
        if not self._step or bound == inf:
            return bound
        return ceil((bound - WHOLE) / self._step) * self._step

    def _lift(self, bound: float) -> None:
        if bound > self.bound:
            self.bound = float(bound)
            self._tell()

    def _point(self, x: FloatArray) -> Point:
        edges = self.graph.edges
        pair = np.zeros(edges)
        pair[self._pairs] = x[edges : len(self._cost)]
        return Point(x[:edges], pair)

    def _tighten(self, effort: Effort, *, deep: bool = False, root: bool = False) -> Solved:
        """Solve and cut in turns until no cut is found, or too little comes of it."""
        trail: list[float] = []
        patience = 0
        while True:
            solved = self._program.solve(effort)
            if not solved.finished:
                return solved
            if root:
                self._raise(solved.bound)
            if self._near(solved.bound):
                return solved
            point = self._point(solved.x)
            cuts = self._cutter.find(point)
            effort.spend(CHEAP * self.graph.edges)
            whole = _whole(solved.x[: len(self._cost)])
            if whole and not cuts:
                self.take(np.rint(point.single + 2 * point.pair).astype(np.int64))
                return solved
            trail.append(solved.value)
            patience = patience + 1 if self._stalled(trail) else 0
            if effort.late or (patience > PATIENCE[root] and not whole):
                return solved
            cuts += self._more_cuts(solved.x, effort, hard=patience > 0 or not cuts, deep=deep)
            if root:
                self._program.shed(3)
            if not self._program.add(cuts):
                return solved

    def _more_cuts(self, x: FloatArray, effort: Effort, *, hard: bool, deep: bool) -> list[Cut]:
        """Find cuts beyond the simplest; the hard ones take longer."""
        cuts = self._arcs.find(x) if self._arcs else []
        if not hard:
            return cuts
        point = self._point(x)
        if deep:
            effort.spend(DEEP * self.graph.edges)
            cuts += self._half_sums.find(x, self._program.cuts)
        if len(cuts) < self._enough:
            cuts += self._cutter.find_hidden(point)
            if deep:
                cuts += tree_cuts(self._cutter, point) + path_cuts(self._cutter, point)
        return cuts

    def _stalled(self, trail: list[float]) -> bool:
        """Tell whether the last rounds of cuts have moved the bound too little."""
        last = 5
        if len(trail) <= last:
            return False
        return trail[-1] - trail[-1 - last] < 0.01 * (self.price - trail[-1])

    def _round(self, point: Point, effort: Effort, shake: FloatArray | float = 1.0) -> None:
        """Make a tour from a fractional point, by prices that may be shaken a little."""
        graph = self.graph
        effort.spend(TOUR * graph.edges)
        weight = np.minimum(point.single + 2 * point.pair, 1)
        tree = steiner_tree(graph, graph.price * (1 + LEAST - weight) * shake)
        self.take(improve(graph, complete(graph, tree)))

    def _fix(self, solved: Solved) -> None:
        """Fix columns that would cost too much to change, for the rest of the search."""
        size = len(self._cost)
        up = self._all_near(solved.value + solved.reduced[:size])
        down = self._all_near(solved.value - solved.reduced[:size])
        self._upper[:size][up & (solved.x[:size] < WHOLE)] = 0
        self._lower[:size][down & (solved.x[:size] > 1 - WHOLE)] = 1

    def _all_near(self, values: FloatArray) -> BoolArray:
        near: BoolArray = values >= self.price * (1 - GIVEN_UP)
        if self._step:
            near = values > self.price - self._step + WHOLE
        return near

    def _children(self, node: _Node, effort: Effort) -> list[_Node]:
        """Look at a node once more, and part it in two."""
        lower, upper = self._lower.copy(), self._upper.copy()
        for column, value in node.fixed.items():
            lower[column] = upper[column] = value
        self._program.bound(lower, upper)
        self._program.restart(node.basis)
        solved = self._tighten(effort)
        self.nodes += 1
        if self._near(solved.bound):
            self._lose(solved.bound)
            return []
        if effort.late or not solved.finished:
            return [node]
        if _whole(solved.x[: len(self._cost)]):
            return []
        if self.nodes % 8 == 1:
            self._round(self._point(solved.x), effort)
        basis = self._program.basis()
        column, values = self._choose(solved, basis, (lower, upper), effort)
        children = []
        for way, least in enumerate(values):
            if self._near(least):
                self._lose(least)
            else:
                fixed = {**node.fixed, column: way}
                children.append(_Node(least, 2 * self.nodes + way, fixed, basis))
        return children

    def _lose(self, value: float) -> None:
        """Remember the bound of a node given up, if it is below the best tour."""
        if not self._step and value < self.price:
            self._lost = min(self._lost, value)

    def _choose(
        self,
        solved: Solved,
        basis: highspy.HighsBasis,
        bounds: tuple[FloatArray, FloatArray],
        effort: Effort,
    ) -> tuple[int, tuple[float, float]]:
        """Choose the column to branch on: try the likeliest for a few pivots each."""
        x = solved.x[: len(self._cost)]
        fraction = np.minimum(x, 1 - x)
        order = np.argsort(-fraction * (1 + self._cost / self._cost.max()), kind="stable")
        best: float = -inf
        column, values = int(order[0]), (solved.value, solved.value)
        for candidate in order[:CANDIDATES][fraction[order[:CANDIDATES]] > WHOLE].tolist():
            found, proven = [], []
            for way in (0, 1):
                lower, upper = bounds[0].copy(), bounds[1].copy()
                lower[candidate] = upper[candidate] = way
                self._program.bound(lower, upper)
                self._program.restart(basis)
                trial = self._program.solve(effort, pivots=PIVOTS)
                found.append(max(trial.value, solved.value))
                proven.append(found[-1] if trial.finished else solved.value)
            gain = [max(min(value, self.price) - solved.value, 1e-6) for value in found]
            if gain[0] * gain[1] > best:
                best, column, values = gain[0] * gain[1], candidate, (proven[0], proven[1])
            if all(self._near(value) for value in proven):
                break
        return column, values


def _whole(x: FloatArray) -> bool:
    return bool(np.all(np.minimum(x, 1 - x) < WHOLE))


def _common_step(price: FloatArray) -> float:
    """Give the greatest number that all prices are multiples of, 0 unless they are whole."""
    if not np.array_equal(price, np.rint(price)):
        return 0.0
    return float(gcd(*price.astype(np.int64).tolist()))
