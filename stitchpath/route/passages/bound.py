"""What no route can go below, where passing from one edge to the next has a price too.

The linear program of `model.py` is solved over and over, with the cuts that its point breaks, until
none is found. Where it is small enough it is parted in two, again and again, until only whole
numbers are left: then the cheapest runs are known.

An edge may be passed any number of times. So no runs at all cost less than the bound.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count

import numpy as np

from stitchpath.base.errors import InternalError
from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.route.effort import Effort
from stitchpath.route.exact.linear_program import Solved
from stitchpath.route.passages.decode import trips_of
from stitchpath.route.passages.finding import Finder
from stitchpath.route.passages.halves import halved_cuts
from stitchpath.route.passages.model import Model, Row, model_of
from stitchpath.route.passages.problem import Passages, Trip, cost_of
from stitchpath.route.passages.program import Program

__all__ = ["Proved", "Search", "lower_bound", "prove"]

# Seconds that looking for cuts takes for each edge: the simple kinds, by minimum cuts, by halves.
SIMPLE, DEEP, HALVES = 2e-5, 3e-5, 8e-5
# If fewer cuts are found than this and one for so many edges, the deeper kinds are asked too.
FEW, FEW_SHARE = 10, 50
PATIENCE = 3  # rounds after which a cut that is not needed goes
# Rounds of cuts, at first, later, and at other bounds, that have to bring this share of the price.
ROUNDS, FEWER, AGAIN, LITTLE = 10, 3, 1, 2e-5
WHOLE = 1e-6  # a value so near to a whole number counts as one
NEAR = 2e-7  # a part of the search is given up within this share of the price of the best runs
ROUNDING = 1e-6  # the bound may lie above what runs cost by this share of it, and no more
CANDIDATES, PIVOTS = 8, 40  # columns tried before the search is parted, and pivots for each


@dataclass(frozen=True, slots=True)
class Proved:
    """What is proven.

    Attributes
    ----------
    bound
        No runs cost less.
    trips
        Runs that cost that little, where such were found; else None.
    """

    bound: float
    trips: list[Trip] | None


def lower_bound(problem: Passages, effort: Effort) -> float:
    """Find what no runs can go below, without parting the search.

    Parameters
    ----------
    problem
        What has to be stitched.
    effort
        What may be spent.

    Returns
    -------
    float
        In the unit of the prices; 0 if the effort is not enough for anything, inf if a required
        edge can be part of no run.
    """
    if not problem.required.any():
        return 0.0
    search = Search(problem)
    search.root(effort)
    return search.bound


def prove(
    problem: Passages, effort: Effort, *, cost: float = np.inf, search: "Search | None" = None
) -> Proved:
    """Find the cheapest runs, and prove it.

    Parameters
    ----------
    problem
        What has to be stitched.
    effort
        What may be spent. If it is not enough the bound is what is known by then.
    cost
        What runs that are known already cost: only cheaper ones are looked for.
    search
        One of the problem that has been at the root, to be gone on with.

    Returns
    -------
    Proved
        Runs where some are found that cost less than `cost` and no more than the bound; the bound
        in any case.

    Raises
    ------
    InternalError
        If the bound lies above `cost` by more than rounding: then one of the two is wrong.
    """
    if not problem.required.any():
        return Proved(0.0, [])
    if search is None:
        search = Search(problem, cost)
        search.root(effort)
    else:
        search.know(cost)
    search.branch(effort)
    best = min(cost, search.cost)
    if search.bound > best + ROUNDING * (1 + abs(best)):
        raise InternalError(
            f"the bound of the route, {search.bound:.6g}, lies above its cost, {best:.6g}, which "
            "no true bound does"
        )
    return Proved(search.bound, search.trips)


@dataclass(order=True)
class _Node:
    """A part of the search: bounds of columns that were moved on the way to it."""

    bound: float
    number: int
    least: dict[int, float] = field(compare=False)
    most: dict[int, float] = field(compare=False)


class Search:
    """Search for the cheapest runs.

    Parameters
    ----------
    problem
        What has to be stitched.
    cost
        What runs that are known already cost: only cheaper ones are looked for.
    heard
        Called with the bound as it grows at the root.

    Attributes
    ----------
    program
        The linear program, as it stands.
    bound
        What is proven so far.
    trips, cost
        The best runs found, and what they cost; None and inf where there are none.
    """

    def __init__(
        self,
        problem: Passages,
        cost: float = np.inf,
        heard: Callable[[float], None] | None = None,
    ) -> None:
        self.problem = problem
        self._heard = heard
        self.model: Model = model_of(problem)
        self.bound = 0.0
        self.trips: list[Trip] | None = None
        self.cost = np.inf
        self._asked = cost
        self.program = Program(self.model)
        self.program.add(self.model.first_cuts())
        self._finder = Finder(self.model)
        self._lower, self._upper = self.model.lower.copy(), self.model.upper.copy()
        self._heap: list[_Node] = []
        self._left = np.inf  # least bound of what was given up as near enough
        self._number = count()  # which of equal nodes comes first
        self._root: Solved | None = None

    def know(self, cost: float) -> None:
        """Take note of what runs cost that are known: only cheaper ones are looked for."""
        self._asked = min(self._asked, cost)
        if self._root is not None:
            self._fix(self._root)

    def root(self, effort: Effort) -> None:
        """Cut off what can be before the search is parted."""
        solved = self._tighten(effort, last=ROUNDS, lift=True)
        if solved.bound == np.inf:
            self.bound = np.inf
        elif solved.finished and not self._settled(solved):
            self._fix(solved)
            self._root = solved
            self._heap = [_Node(solved.value, next(self._number), {}, {})]

    def within(self, upper: dict[int, float], effort: Effort) -> Solved:
        """Solve anew with other upper bounds of some columns: the cuts so far hold there as well.

        Parameters
        ----------
        upper
            By column.
        effort
            What may be spent. Where it is not enough, the value is what is proven by then, and no
            column has a reduced price.
        """
        most = self._upper.copy()
        most[list(upper)] = list(upper.values())
        self.program.bound(self._lower, most)
        self.bound = 0.0
        solved = self._tighten(effort, last=AGAIN if upper else ROUNDS, lift=True)
        if solved.finished:
            return solved
        return Solved(self.bound, solved.x, np.zeros_like(solved.x), finished=False)

    def branch(self, effort: Effort) -> None:
        """Part the search until nothing is left of it."""
        while self._heap and not effort.late:
            node = heappop(self._heap)
            if self._near(node.bound):
                self._left, self._heap = min(self._left, node.bound), []
                break
            for child in self._children(node, effort):
                heappush(self._heap, child)
            self._lift()
        self._lift()

    def _lift(self) -> None:
        """Take over the least bound of all that is left."""
        least = min(self._left, self._heap[0].bound if self._heap else np.inf)
        if np.isfinite(least):
            self.bound = max(self.bound, float(least))

    def _near(self, value: float) -> bool:
        """Tell whether nothing of value can come of a bound."""
        return value >= self._limit

    @property
    def _limit(self) -> float:
        best = min(self.cost, self._asked)
        return best - NEAR * abs(best) if np.isfinite(best) else np.inf

    def _tighten(self, effort: Effort, *, last: int = FEWER, lift: bool = False) -> Solved:
        """Solve and cut in turns until no cut is found, or too little comes of it."""
        trail: list[float] = []
        while True:
            solved = self.program.solve(effort)
            if not solved.finished or solved.value == np.inf:
                return solved
            if lift:
                self.bound = max(self.bound, solved.value)
                if self._heard is not None:
                    self._heard(self.bound)
            if self._near(solved.value) or effort.late:
                return solved
            trail.append(solved.value)
            cuts = self._cuts(solved.x, effort)
            stalled = len(trail) > last and trail[-1] - trail[-1 - last] < LITTLE * trail[-1]
            if stalled and not _whole(solved.x):
                return solved
            self.program.shed(PATIENCE)
            if not self.program.add(cuts):
                return solved

    def _cuts(self, x: FloatArray, effort: Effort) -> list[Row]:
        find = self._finder
        effort.spend(SIMPLE * len(self.model.edges))
        cuts = [*find.pieces(x), *find.odd_fans(x), *find.odd_clusters(x), *find.loose_clusters(x)]
        few = FEW + len(self.model.edges) // FEW_SHARE
        if len(cuts) < few:
            effort.spend(DEEP * len(self.model.edges))
            cuts += [*find.loose_minimum(x), *find.odd_minimum(x)]
        if len(cuts) < few:
            effort.spend(HALVES * len(self.model.edges))
            cuts += halved_cuts(self.model, self.program.cuts, x)
        return cuts

    def _settled(self, solved: Solved) -> bool:
        """Tell whether a part of the search needs no more parting; keep what came of it."""
        if self._near(solved.value):
            self._left = min(self._left, solved.value)
            return True
        if _whole(solved.x) and not self._finder.pieces(np.rint(solved.x)):
            self._take(np.rint(solved.x).astype(np.int64))
            self._left = min(self._left, solved.value)
            return True
        return False

    def _take(self, counts: IntArray) -> None:
        trips = trips_of(self.model, counts)
        if trips is None:
            raise InternalError("runs that hang together fall apart when they are laid out")
        cost = cost_of(self.problem, trips)
        if cost < min(self.cost, self._asked):
            self.trips, self.cost = trips, cost

    def _fix(self, solved: Solved) -> None:
        """Fix columns that would cost too much to change, for the rest of the search."""
        moved = solved.value + np.abs(solved.reduced)
        low = (solved.x <= self._lower + WHOLE) & (solved.reduced > 0) & (moved >= self._limit)
        self._upper[low] = self._lower[low]
        self._left = min(self._left, float(moved[low].min(initial=np.inf)))

    def _children(self, node: _Node, effort: Effort) -> list[_Node]:
        """Look at a node once more, and part it in two."""
        lower, upper = self._lower.copy(), self._upper.copy()
        for column, value in node.least.items():
            lower[column] = value
        for column, value in node.most.items():
            upper[column] = value
        self.program.bound(lower, upper)
        solved = self._tighten(effort)
        if not solved.finished or (effort.late and not self._near(solved.value)):
            return [node]
        if self._settled(solved):
            return []
        column, values = self._choose(solved, (lower, upper), effort)
        split = float(np.floor(solved.x[column] + WHOLE))
        down = _Node(values[0], next(self._number), node.least, {**node.most, column: split})
        up = _Node(values[1], next(self._number), {**node.least, column: split + 1}, node.most)
        return [down, up]

    def _choose(
        self, solved: Solved, bounds: tuple[FloatArray, FloatArray], effort: Effort
    ) -> tuple[int, tuple[float, float]]:
        """Choose the column to part by: try the likeliest for a few pivots each."""
        part = solved.x - np.floor(solved.x)
        part = np.minimum(part, 1 - part)
        weight = 1 + self.model.price / max(float(self.model.price.max()), WHOLE)
        order = np.argsort(-part * weight, kind="stable")
        basis = self.program.basis()
        best, column, values = -np.inf, int(order[0]), (solved.value, solved.value)
        for candidate in order[:CANDIDATES][part[order[:CANDIDATES]] > WHOLE].tolist():
            split = np.floor(solved.x[candidate] + WHOLE)
            found, proven = [], []
            for side, value in enumerate((split + 1, split)):
                moved = (bounds[0].copy(), bounds[1].copy())
                moved[side][candidate] = value
                self.program.bound(*moved)
                self.program.restart(basis)
                trial = self.program.solve(effort, pivots=PIVOTS)
                found.append(max(trial.value, solved.value))
                proven.append(found[-1] if trial.finished else solved.value)
            gain = [max(min(value, self._limit) - solved.value, WHOLE) for value in found[::-1]]
            if gain[0] * gain[1] > best:
                best, column, values = gain[0] * gain[1], candidate, (proven[1], proven[0])
        self.program.restart(basis)
        return column, values


def _whole(x: FloatArray) -> bool:
    return bool(np.all(np.abs(x - np.rint(x)) < WHOLE))
