"""Good tours without proof: a tree that joins the pieces, then a T-join for what it leaves odd."""

from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra, minimum_spanning_tree

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.route.hub_graph import HubGraph, at_most_twice
from stitchpath.route.tjoin import t_join

__all__ = ["complete", "double_edges", "hangs_together", "improve", "steiner_tree"]

DOUBLE = 2


def double_edges(graph: HubGraph) -> IntArray:
    """List the edges that a best tour may have to pass twice.

    An edge passed twice is a bridge of the tour, so of the ways across it is the cheapest. Between
    two pieces only the edges of one spanning tree need be allowed for (Ghiani and Laporte 2000);
    edges at points where nothing is required are all kept, but for the dearer ones of those
    between the same two pieces.

    Parameters
    ----------
    graph
        The problem.

    Returns
    -------
    IntArray
        Edges, ascending.
    """
    web, bridges = _piece_tree(graph, graph.price)
    useful = (web.head >= graph.pieces) | (web.tail >= graph.pieces)
    useful[bridges.crossing] = True
    return np.sort(web.edge[useful])


def hangs_together(graph: HubGraph, passes: IntArray) -> bool:
    """Tell whether passes join all pieces.

    Parameters
    ----------
    graph
        The problem.
    passes
        Passes over each edge, shape (m,).
    """
    used = passes > 0
    node = graph.nodes()
    part = groups(int(node.max()) + 1, node[graph.tail[used]], node[graph.head[used]])
    return not part[: graph.pieces].any()


def steiner_tree(graph: HubGraph, price: FloatArray) -> IntArray:
    """Grow a cheap tree that joins all pieces.

    Shortest ways between the pieces' Voronoi cells, a spanning tree of these (Mehlhorn 1988).

    Parameters
    ----------
    graph
        What to join; within a piece all ways are free.
    price
        Price of each edge for this purpose, shape (m,), not negative.

    Returns
    -------
    IntArray
        Edges of the tree, ascending.
    """
    web, bridges = _piece_tree(graph, price)
    tail, head, edge = web.tail, web.head, web.edge
    parent = np.where(bridges.before >= 0, bridges.before, np.arange(web.nodes))
    on_tree = np.zeros(web.nodes, dtype=bool)
    on_tree[tail[bridges.crossing]] = on_tree[head[bridges.crossing]] = True
    while True:  # from the bridges back to their pieces, a step for all at once
        more = on_tree.copy()
        more[parent[on_tree]] = True
        if np.array_equal(more, on_tree):
            break
        on_tree = more
    back = (parent[tail] == head) & on_tree[tail] | (parent[head] == tail) & on_tree[head]
    back[bridges.crossing] = True
    return np.sort(edge[back])


def complete(graph: HubGraph, tree: IntArray) -> IntArray:
    """Make a tour out of a tree that joins all pieces.

    Parameters
    ----------
    graph
        The problem.
    tree
        Edges passed once more whatever comes.

    Returns
    -------
    IntArray
        Passes over each edge, shape (m,), that are even everywhere and hang together; the T-join
        added to the tree is the cheapest there is.
    """
    inner = graph.odd[: graph.hub].copy()
    ends = np.concatenate([graph.tail[tree], graph.head[tree]])
    inner ^= np.bincount(ends[ends < graph.hub], minlength=graph.hub) % 2 == 1
    join = t_join(graph.hub, graph.tail, graph.head, graph.price, inner)
    passes = join.chosen.astype(np.int64)
    passes[tree] += 1
    return _trim(graph, passes)


def improve(graph: HubGraph, passes: IntArray) -> IntArray:
    """Keep a tree of the passes of a tour and match the rest anew, while that makes it cheaper."""
    while True:
        used = np.flatnonzero(passes > 0)
        node = graph.nodes()
        tail, head = node[graph.tail[used]], node[graph.head[used]]
        size = int(node.max()) + 1
        tree = used[_spanning(tail, head, graph.price[used], size)]
        better = complete(graph, tree)
        if graph.price @ better >= graph.price @ passes * (1 - 1e-12):
            return passes
        passes = better


class _Shrunk(NamedTuple):
    """The graph with each piece as one node, and of parallel edges the cheapest."""

    nodes: int
    tail: IntArray
    head: IntArray
    edge: IntArray
    matrix: csr_matrix


class _Bridges(NamedTuple):
    """Where the Voronoi cells of the pieces meet along a spanning tree of the pieces.

    `crossing` holds positions of shrunk edges, `before` the node before each one on the way from
    its piece.
    """

    crossing: IntArray
    before: IntArray


def _piece_tree(graph: HubGraph, price: FloatArray) -> tuple[_Shrunk, _Bridges]:
    """Span the pieces by shortest ways."""
    web = _shrink(graph, price)
    away, before, seed = dijkstra(
        web.matrix,
        directed=False,
        indices=np.arange(graph.pieces),
        return_predecessors=True,
        min_only=True,
    )
    near: IntArray = np.asarray(seed, dtype=np.int64)
    back: IntArray = np.asarray(before, dtype=np.int64)
    tail, head = web.tail, web.head
    crossing = np.flatnonzero((near[tail] != near[head]) & (near[tail] >= 0))
    way = away[tail[crossing]] + price[web.edge[crossing]] + away[head[crossing]]
    tree = _spanning(near[tail[crossing]], near[head[crossing]], way, graph.pieces)
    return web, _Bridges(crossing[tree], back)


def _shrink(graph: HubGraph, price: FloatArray) -> _Shrunk:
    node = graph.nodes()
    a, b = node[graph.tail], node[graph.head]
    low, high = np.minimum(a, b), np.maximum(a, b)
    order = np.lexsort((price, high, low))
    order = order[low[order] != high[order]]
    new = (np.diff(low[order], prepend=-1) != 0) | (np.diff(high[order], prepend=-1) != 0)
    edge = order[new]
    nodes = int(node.max()) + 1
    # csgraph takes a zero for no edge, so free edges get a price too small to matter.
    matrix = csr_matrix((np.maximum(price[edge], 1e-9), (low[edge], high[edge])), (nodes, nodes))
    return _Shrunk(nodes, low[edge], high[edge], edge, matrix)


def _spanning(tail: IntArray, head: IntArray, price: FloatArray, nodes: int) -> IntArray:
    """Give the positions of the edges of a minimum spanning forest."""
    # Ranks in place of prices: without ties the forest is the same on every machine.
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    order = np.lexsort((price, high, low))
    new = (np.diff(low[order], prepend=-1) != 0) | (np.diff(high[order], prepend=-1) != 0)
    kept = order[new & (low[order] != high[order])]
    kept = kept[np.argsort(price[kept], kind="stable")]
    rank = np.arange(1.0, len(kept) + 1)
    forest = minimum_spanning_tree(csr_matrix((rank, (low[kept], high[kept])), (nodes, nodes)))
    return np.asarray(kept[forest.tocoo().data.astype(np.int64) - 1])


def _trim(graph: HubGraph, passes: IntArray) -> IntArray:
    """Drop double passes that connection does not need, dearest first."""
    passes = at_most_twice(passes)
    node = graph.nodes()
    size = int(node.max()) + 1
    double = np.flatnonzero(passes == DOUBLE)
    single = np.flatnonzero(passes == 1)
    # Double passes are needed only as a forest over what the single ones connect.
    part = groups(size, node[graph.tail[single]], node[graph.head[single]])
    tail, head = part[node[graph.tail[double]]], part[node[graph.head[double]]]
    trimmed = passes.copy()
    trimmed[double] = 0
    trimmed[double[_spanning(tail, head, graph.price[double], size)]] = DOUBLE
    return _cut_dead_ends(graph, trimmed, node)


def _cut_dead_ends(graph: HubGraph, passes: IntArray, node: IntArray) -> IntArray:
    """Drop double passes that lead only to points where nothing is required."""
    size = int(node.max()) + 1
    while True:
        used = passes > 0
        degree = np.bincount(node[graph.tail[used]], minlength=size)
        degree += np.bincount(node[graph.head[used]], minlength=size)
        idle = (degree == 1) & (np.arange(size) >= graph.pieces)
        dead: BoolArray = used & (idle[node[graph.tail]] | idle[node[graph.head]])
        if not dead.any():
            return passes
        passes[dead] = 0
