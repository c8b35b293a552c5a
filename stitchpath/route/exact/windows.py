"""Better tours by solving small windows of a large problem exactly, one after another."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from stitchpath.base.typing import BoolArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.route.effort import Effort
from stitchpath.route.exact.branch import Search
from stitchpath.route.exact.shrink import reduce
from stitchpath.route.hub_graph import HubGraph
from stitchpath.route.joining import complete, improve, steiner_tree

__all__ = ["polish", "solve_window"]

# A window holds so many vertices, and is searched for at most so many nodes of branching.
SIZE, NODES = 40, 8
# Below so many vertices it is better to branch at once.
FEW = 150
# Seconds that setting up a window takes.
WINDOW = 0.015
# A window is left when it can save no more than this share of its price.
WORTH = 1e-4


def polish(
    graph: HubGraph,
    passes: IntArray,
    *,
    effort: Effort,
    take: Callable[[IntArray], None],
    sweeps: int = 3,
) -> IntArray:
    """Improve a tour window by window, until none gives anything or time is up.

    Parameters
    ----------
    graph
        The problem.
    passes
        A tour, shape (m,).
    effort
        What may be spent.
    take
        Called with each better tour.
    sweeps
        How often to go over all pieces at most.

    Returns
    -------
    IntArray
        The best tour.
    """
    if len(np.unique(np.concatenate([graph.tail, graph.head]))) < FEW:
        return passes
    web = _web(graph)
    stale = np.zeros(graph.vertices, dtype=bool)  # middles whose window has given nothing since
    for _ in range(sweeps):
        better = False
        for middle in _middles(graph):
            if effort.late:
                return passes
            if stale[middle]:
                continue
            inside = _window(graph, web, middle)
            improved = solve_window(graph, passes, inside, effort)
            if improved is None:
                stale[middle] = True
            else:
                passes, better = improved, True
                stale &= ~inside
                take(passes)
        if not better:
            break
    return passes


def _web(graph: HubGraph) -> csr_matrix:
    """Give the graph without its hub, for distances."""
    inner = graph.head != graph.hub
    price = np.maximum(graph.price[inner], 1e-9)
    size = (graph.vertices, graph.vertices)
    return csr_matrix((price, (graph.tail[inner], graph.head[inner])), shape=size)


def _middles(graph: HubGraph) -> list[int]:
    """Give one vertex of each piece without the hub, and every vertex with no required line."""
    first = np.full(graph.pieces, -1)
    member = np.flatnonzero(graph.piece >= 0)[::-1]
    first[graph.piece[member]] = member
    degree = np.bincount(np.concatenate([graph.tail, graph.head]), minlength=graph.vertices)
    free = np.flatnonzero((graph.piece < 0) & (degree > 2))  # noqa: PLR2004  (where ways part)
    return [v for v in (*free.tolist(), *first.tolist()) if v != graph.hub]


def _window(graph: HubGraph, web: csr_matrix, middle: int) -> BoolArray:
    """Mark the vertices nearest to a middle, and the hub."""
    away = dijkstra(web, directed=False, indices=[middle])[0]
    near = np.argsort(away, kind="stable")[:SIZE]
    inside = np.zeros(graph.vertices, dtype=bool)
    inside[near[np.isfinite(away[near])]] = True
    if graph.hub < graph.vertices:
        inside[graph.hub] = True
    return inside


def solve_window(
    graph: HubGraph, passes: IntArray, inside: BoolArray, effort: Effort
) -> IntArray | None:
    """Find a better tour that differs only within a window.

    Parameters
    ----------
    graph
        The problem.
    passes
        A tour, shape (m,).
    inside
        Vertices of the window, shape (vertices,).
    effort
        What may be spent.

    Returns
    -------
    IntArray or None
        A tour that saves more than `WORTH` of what the window costs now, if there is one.
    """
    open_edges = np.flatnonzero(inside[graph.tail] & inside[graph.head])
    part = _freeze(graph, passes, open_edges)
    if part is None:
        return None
    small = reduce(part.graph)
    inner = small.graph
    effort.spend(WINDOW)
    tree = steiner_tree(inner, inner.price)
    search = Search(inner, improve(inner, complete(inner, tree)), 0.0)
    now = float(part.graph.price @ passes[part.edges])
    search.ask_below(now * (1 - WORTH))
    search.root(effort)
    search.branch(effort, NODES)
    if search.price >= now * (1 - WORTH):
        return None
    improved = passes.copy()
    improved[part.edges] = small.unfold(search.passes, part.graph.edges)
    return improved


class _Part(NamedTuple):
    """A problem within a problem: `edges` says which edges of the whole it has."""

    graph: HubGraph
    edges: IntArray


def _freeze(graph: HubGraph, passes: IntArray, edges: IntArray) -> _Part | None:
    """Take the passes over all other edges as given, like required ones."""
    frozen = passes > 0
    frozen[edges] = False
    kept = np.flatnonzero(frozen)
    member = np.flatnonzero(graph.piece >= 0)
    centre = np.full(graph.pieces, -1)
    centre[graph.piece[member[::-1]]] = member[::-1]
    group = groups(
        graph.vertices,
        np.concatenate([graph.tail[kept], member]),
        np.concatenate([graph.head[kept], centre[graph.piece[member]]]),
    )
    bound = graph.piece >= 0
    bound[graph.tail[kept]] = bound[graph.head[kept]] = True
    single = kept[passes[kept] == 1]
    ends = np.concatenate([graph.tail[single], graph.head[single]])
    odd = graph.odd ^ (np.bincount(ends, minlength=graph.vertices) % 2 == 1)

    vertices = np.unique(np.concatenate([graph.tail[edges], graph.head[edges]]))
    local = np.full(graph.vertices, -1)
    local[vertices] = np.arange(len(vertices))
    piece = np.full(len(vertices), -1)
    held = bound[vertices]
    piece[held] = np.unique(group[vertices[held]], return_inverse=True)[1]
    hub = int(local[graph.hub]) if graph.hub < graph.vertices else len(vertices)
    small = HubGraph(
        len(vertices),
        hub if hub >= 0 else len(vertices),
        local[graph.tail[edges]],
        local[graph.head[edges]],
        graph.price[edges],
        odd[vertices],
        piece,
    )
    return _Part(small, edges) if small.pieces > 1 or small.odd.any() else None
