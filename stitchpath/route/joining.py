"""Joining pieces: from a T-join that leaves lines apart to a tour."""

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra, minimum_spanning_tree

from stitchpath.route.hubgraph import HubGraph, labels
from stitchpath.typing import IntArray

__all__ = ["join_pieces"]


def join_pieces(graph: HubGraph, passes: IntArray) -> IntArray:
    """Join what still lies apart by cheapest ways there and back.

    Between the pieces a spanning tree of shortest ways is grown from their Voronoi cells (Mehlhorn
    1988), and each of its edges is passed twice.

    Parameters
    ----------
    graph
        What to join.
    passes
        Passes over each edge that leave every vertex even, shape (m,).

    Returns
    -------
    IntArray
        Passes that also hang together, shape (m,).
    """
    part = _parts(graph, passes)
    wanted = np.unique(part[graph.piece >= 0])
    if len(wanted) == 1:
        return passes
    number = np.full(part.max() + 1, -1)
    number[wanted] = np.arange(len(wanted))
    home = number[part]
    both = (np.concatenate([graph.tail, graph.head]), np.concatenate([graph.head, graph.tail]))
    # csgraph drops zero weights: a tiny price keeps free edges in the graph.
    price = np.maximum(graph.price, 1e-9)
    web = coo_matrix((np.tile(price, 2), both), shape=(graph.vertices, graph.vertices)).tocsr()
    seeds = np.flatnonzero(home >= 0)
    away, before, seed = dijkstra(web, indices=seeds, return_predecessors=True, min_only=True)
    cell = home[np.maximum(seed, 0)]  # out of reach: any cell, no edge leads there
    bridge = cell[graph.tail] != cell[graph.head]
    way = away[graph.tail] + price + away[graph.head]
    edges = np.flatnonzero(bridge)
    # The cheapest bridge of each pair of cells, then a tree over the cells.
    low = np.minimum(cell[graph.tail[edges]], cell[graph.head[edges]])
    high = np.maximum(cell[graph.tail[edges]], cell[graph.head[edges]])
    order = np.lexsort((edges, way[edges], high, low))
    first = (np.diff(low[order], prepend=-1) != 0) | (np.diff(high[order], prepend=-1) != 0)
    edges, low, high = edges[order][first], low[order][first], high[order][first]
    # Ranks instead of prices: a tree without ties is the same on every machine.
    rank = np.empty(len(edges))
    rank[np.lexsort((edges, way[edges]))] = np.arange(1, len(edges) + 1)
    size = len(wanted)
    tree = minimum_spanning_tree(
        coo_matrix((rank, (low, high)), shape=(size, size)).tocsr()
    ).tocoo()
    bridges = edges[np.argsort(rank)][tree.data.astype(np.int64) - 1]
    index = {
        (a, b): i
        for i, (a, b) in enumerate(zip(graph.tail.tolist(), graph.head.tolist(), strict=True))
    }
    passes = passes.copy()
    for bridge_edge in bridges.tolist():
        passes[bridge_edge] += 2
        for vertex in (int(graph.tail[bridge_edge]), int(graph.head[bridge_edge])):
            here = vertex
            while home[here] < 0:
                there = int(before[here])
                passes[index[min(here, there), max(here, there)]] += 2
                here = there
    return np.where(passes > 2, 2 - passes % 2, passes)


def _parts(graph: HubGraph, passes: IntArray) -> IntArray:
    """Tell apart the connected parts of required edges and passes."""
    used = passes > 0
    # A star over each piece stands in for its required edges.
    centre = np.full(graph.pieces, -1)
    member = np.flatnonzero(graph.piece >= 0)
    centre[graph.piece[member[::-1]]] = member[::-1]
    return labels(
        graph.vertices,
        np.concatenate([graph.tail[used], member]),
        np.concatenate([graph.head[used], centre[graph.piece[member]]]),
    )
