"""The cheapest set of runs over the lines that must be stitched: a rural postman problem.

Add one vertex, the hub, joined to every vertex at the price of a run end there. A run is then a
trail from the hub to the hub. So the cheapest set of runs is the cheapest choice of extra passes
and run ends with which, the required edges added, every vertex is even and all hangs together.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stitchpath.base.errors import InternalError, StitchpathError
from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.route.effort import Effort
from stitchpath.route.exact.branch import Search
from stitchpath.route.exact.shrink import reduce
from stitchpath.route.exact.windows import polish
from stitchpath.route.hub_graph import HubGraph
from stitchpath.route.joining import complete, hangs_together, improve, steiner_tree
from stitchpath.route.tjoin import Join, t_join
from stitchpath.route.twoends import two_ends

__all__ = ["Problem", "Tour", "UnreachableError", "hub_graph", "priced", "solve"]

# A tour is called optimal when it is within this part of all its stitching of the bound: a
# thousandth of a millimetre in a metre, far below what a needle can do and above the noise of the
# arithmetic.
PROVEN = 1e-6
# Past so many edges there is no search: the tour built on the T-join has to do, with the T-join's
# bound, which lies near it on such tops.
LARGE = 12_000
# Which part of the effort goes to cuts, and which part of the rest to windows.
ROOT, POLISH = 0.6, 0.5
# From so many edges on it is worth while to look for cuts once more before branching.
WIDE = 400


class UnreachableError(StitchpathError):
    """A required edge can be part of no run.

    Attributes
    ----------
    edge
        Index of one such edge, so that the caller can say where it lies.
    """

    def __init__(self, edge: int, tail: int, head: int) -> None:
        self.edge = edge
        super().__init__(
            f"The line between points {tail} and {head} cannot be reached: found no way of travel "
            "and no allowed end, expected at least one of them."
        )


@dataclass(frozen=True, slots=True)
class Problem:
    """What has to be covered, and what everything beyond that costs.

    Attributes
    ----------
    vertices
        Number of vertices.
    tail, head
        Edge ends, shape (m,); edges may be parallel, and may be self loops (closed lines).
    required
        Edges that must be covered, shape (m,). Their first pass is not priced here.
    price
        Price of each further pass, shape (m,); ``inf`` forbids it.
    end
        Price of one run end at each vertex, shape (vertices,); ``inf`` forbids ends there. With
        None a single closed tour is asked for.
    once
        Price of the first passes, if it is known: all that a tour costs is then the measure of
        what is as good as proven.
    """

    vertices: int
    tail: IntArray
    head: IntArray
    required: BoolArray
    price: FloatArray
    end: FloatArray | None
    once: float = 0.0


@dataclass(frozen=True, slots=True)
class Tour:
    """Extra passes and run ends that make the required edges into runs.

    Attributes
    ----------
    extra
        Number of extra passes over each edge (0, 1 or 2), shape (m,).
    ends
        Number of run ends at each vertex, shape (vertices,).
    cost
        Price of the extra passes and the ends, summed from the prices of the problem.
    bound
        Proven: no tour costs less.
    optimal
        Whether cost and bound meet, to a millionth part of all stitching.
    """

    extra: IntArray
    ends: IntArray
    cost: float
    bound: float
    optimal: bool


def solve(
    problem: Problem,
    *,
    effort: Effort | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Tour:
    """Find the cheapest set of runs.

    Parameters
    ----------
    problem
        What to cover.
    effort
        What may be spent before the best tour so far is returned; 10 s unless said. Work is
        counted rather than timed, so that every machine returns the same tour.
    progress
        Called now and then with cost and bound.

    Returns
    -------
    Tour
        The best tour found.

    Raises
    ------
    UnreachableError
        If a required edge can be part of no run.
    InternalError
        If the bound lies above the cost by more than rounding: then one of the two is wrong.
    """
    if not problem.required.any():
        none = np.zeros(len(problem.tail), dtype=np.int64)
        return Tour(none, np.zeros(problem.vertices, dtype=np.int64), 0.0, 0.0, optimal=True)
    effort = effort or Effort(10.0)
    graph, source = hub_graph(problem)
    join = _join(graph)
    passes = join.chosen.astype(np.int64)
    if hangs_together(graph, passes):
        return _tour(problem, source, passes, join.bound)
    if graph.pieces == 2 and graph.hub < graph.vertices:  # noqa: PLR2004  (the hub and all lines)
        found = two_ends(graph, join, effort)
        tour = _tour(problem, source, found.passes, found.bound)
        if tour.optimal or graph.edges > LARGE:
            return tour
        join = Join(join.chosen, found.bound)
    if graph.edges > LARGE:
        tree = steiner_tree(graph, np.where(join.chosen, 0, graph.price))
        return _tour(problem, source, improve(graph, complete(graph, tree)), join.bound)
    small = reduce(graph)
    inner = small.graph
    tree = steiner_tree(inner, np.where(_join(inner).chosen, 0, inner.price))
    search = Search(inner, improve(inner, complete(inner, tree)), join.bound, report=progress)
    if progress is not None:
        progress(search.price, search.bound)
    _search(search, effort)
    passes = small.unfold(search.passes, graph.edges)
    return _tour(problem, source, passes, search.bound)


def _join(graph: HubGraph) -> Join:
    inner = graph.odd[: graph.hub]
    return t_join(graph.hub, graph.tail, graph.head, graph.price, inner)


def _search(search: Search, effort: Effort) -> None:
    """Prove a tour the best, or else improve it as long as the effort lasts."""
    search.root(effort.part(ROOT))
    _polish(search, effort)
    if search.graph.edges > WIDE:
        search.deepen(effort.part(ROOT))
        _polish(search, effort)
    search.branch(effort)
    search.vouch()


def _polish(search: Search, effort: Effort) -> None:
    """Look for better tours near where the linear program stands, and near the best so far."""
    search.shake(effort)
    if not search.closed:
        polish(search.graph, search.passes, effort=effort.part(POLISH), take=search.take)


def hub_graph(problem: Problem) -> tuple[HubGraph, IntArray]:
    """Add the hub, keep the cheapest of parallel edges, leave out what no required edge reaches.

    Parameters
    ----------
    problem
        What to cover.

    Returns
    -------
    HubGraph
        What is left to decide.
    IntArray
        Where each of its edges comes from: an edge of the problem, or m + v for the end at vertex
        v.

    Raises
    ------
    UnreachableError
        If a required edge can be part of no run.
    """
    n = problem.vertices
    end = np.full(n, np.inf) if problem.end is None else problem.end
    tail = np.concatenate([np.minimum(problem.tail, problem.head), np.arange(n)])
    head = np.concatenate([np.maximum(problem.tail, problem.head), np.full(n, n)])
    price = np.concatenate([problem.price, end])
    hubs = 0 if problem.end is None else 1

    must_tail, must_head = problem.tail[problem.required], problem.head[problem.required]
    degree = np.bincount(must_tail, minlength=n) + np.bincount(must_head, minlength=n)
    part = groups(n, must_tail, must_head)
    piece = np.full(n + hubs, -1)
    piece[:n][degree > 0] = np.unique(part[degree > 0], return_inverse=True)[1]
    if hubs:
        piece[n] = piece.max() + 1

    usable = np.flatnonzero(np.isfinite(price) & (tail != head))
    reach = _reached(problem, piece, tail[usable], head[usable])
    usable = usable[reach[tail[usable]]]
    order = usable[np.lexsort((usable, price[usable], head[usable], tail[usable]))]
    alike = (np.diff(tail[order], prepend=-1) == 0) & (np.diff(head[order], prepend=-1) == 0)
    source = order[~alike]
    odd = np.zeros(n + hubs, dtype=bool)
    odd[:n] = degree % 2 == 1
    _check_evenable(problem, odd, tail[source], head[source])
    graph = HubGraph(n + hubs, n, tail[source], head[source], price[source], odd, piece)
    return graph, source


def _reached(problem: Problem, piece: IntArray, tail: IntArray, head: IntArray) -> BoolArray:
    """Tell which vertices hang together with the hub, or with all required edges without one."""
    must = np.flatnonzero(problem.required)
    part = groups(
        len(piece),
        np.concatenate([tail, problem.tail[must]]),
        np.concatenate([head, problem.head[must]]),
    )
    home = part[-1] if problem.end is not None else part[problem.tail[must[0]]]
    lost = must[part[problem.tail[must]] != home]
    if len(lost):
        first = int(lost[0])
        raise UnreachableError(first, int(problem.tail[first]), int(problem.head[first]))
    reached: BoolArray = part == home
    return reached


def _check_evenable(problem: Problem, odd: BoolArray, tail: IntArray, head: IntArray) -> None:
    """Make sure that the passes allowed can make every vertex even."""
    part = groups(len(odd), tail, head)
    count = np.bincount(part[odd], minlength=int(part.max()) + 1)
    if problem.end is not None:
        count[part[-1]] = 0
    stuck = odd & (count[part] % 2 == 1)
    must = np.flatnonzero(problem.required)
    lost = must[stuck[problem.tail[must]] | stuck[problem.head[must]]]
    if len(lost):
        first = int(lost[0])
        raise UnreachableError(first, int(problem.tail[first]), int(problem.head[first]))


def _tour(problem: Problem, source: IntArray, passes: IntArray, bound: float) -> Tour:
    """Carry passes over the edges of the graph back to the problem and price them there."""
    m = len(problem.tail)
    extra = np.zeros(m, dtype=np.int64)
    ends = np.zeros(problem.vertices, dtype=np.int64)
    end_edge = source >= m
    extra[source[~end_edge]] = passes[~end_edge]
    ends[source[end_edge] - m] = passes[end_edge]
    return priced(problem, extra, ends, bound)


def priced(problem: Problem, extra: IntArray, ends: IntArray, bound: float) -> Tour:
    """Price a tour and hold a bound against it.

    Parameters
    ----------
    problem
        What it solves.
    extra, ends
        As in `Tour`.
    bound
        Proven: no tour costs less.

    Raises
    ------
    InternalError
        If the bound lies above the cost by more than rounding.
    """
    cost = float(problem.price[extra > 0] @ extra[extra > 0])
    if problem.end is not None:
        cost += float(problem.end[ends > 0] @ ends[ends > 0])
    return Tour(extra, ends, cost, *proof_of(cost, bound, PROVEN * (problem.once + cost)))


def proof_of(cost: float, bound: float, rounding: float) -> tuple[float, bool]:
    """Hold a bound against a cost: give the bound, and whether the two meet.

    Raises
    ------
    InternalError
        If the bound lies above the cost by more than rounding.
    """
    if bound > cost + rounding:
        raise InternalError(
            f"the bound of the route, {bound:.6g}, lies above its cost, {cost:.6g}, which no true "
            "bound does"
        )
    return min(bound, cost), cost - bound <= rounding
