"""Deeper cuts: to join many parts at once costs more than the sum over single parts shows.

Two families, for partitions of the graph in which no piece, or only one part, is torn:

* *Trees.* To join p parts of whole pieces takes p - 1 double passes, or a closed way of p single
  ones, or something between: ``single + p / (p - 1) pair >= p`` over all edges between parts. (An
  even graph on k of the parts has at least k edges and saves k - 1 of the joins; k <= p.)
* *Paths.* K-C inequalities (Corberan and Sanchis 1994): parts 0 to K in a row, where 0 and K tear
  the same pieces apart through an even number of required edges. A closed way that enters these
  pieces in part 0 and leaves them in part K has to cross between the two as well. With weight
  ``single + 2 pair``, ``|i - j|`` times the weight between parts i and j, but K - 2 times between
  0 and K, is at least 2 (K - 1).
"""

from collections.abc import Iterator

import numpy as np
from scipy.sparse import csc_array, csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.sparse.linalg import spsolve

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.geometry.tolerances import FREE
from stitchpath.route.exact.cuts import BROKEN, WHOLE, Cut, Cutter, Point
from stitchpath.route.exact.min_cuts import Flow

__all__ = ["path_cuts", "tree_cuts"]


def tree_cuts(cutter: Cutter, point: Point) -> list[Cut]:
    """Find the partition of the pieces that a point joins worst, and cut it off.

    Vertices where nothing is required go to the piece they are most tied to; of the partitions of
    what results, the best is found exactly (Cunningham 1985).

    Parameters
    ----------
    cutter
        The problem.
    point
        Where the linear program stands.

    Returns
    -------
    list[Cut]
        A cut for each part of the partition's graph that hangs on the others by one part only.
    """
    graph, outer = cutter.graph, cutter.outer
    support = (point.single + point.pair)[outer]
    cell = _cells(cutter, support)
    tail, head = cell[cutter.node_tail[outer]], cell[cutter.node_head[outer]]
    # Parts tied by a whole pass are better left together.
    between = csr_matrix((support, (tail, head)), shape=(graph.pieces, graph.pieces))
    both = (between + between.T).tocoo()
    tied = both.data >= 1 - WHOLE
    part = groups(graph.pieces, both.row[tied].astype(np.int64), both.col[tied].astype(np.int64))
    edges = _between(part[tail], part[head], support)
    loose = _loosest_partition(int(part.max()) + 1, edges)
    cuts = []
    for merged in _blocks(loose[part][tail], loose[part][head], support > WHOLE):
        side = merged[loose[part]]
        crossing = outer[side[tail] != side[head]]
        parts = int(side.max()) + 1
        ratio = parts / (parts - 1)
        joined = point.single[crossing].sum() + ratio * point.pair[crossing].sum()
        if joined < parts - BROKEN:
            ones = [1.0] * len(crossing)
            cuts.append(
                cutter.weigh(crossing.tolist(), ones, [ratio] * len(crossing), float(parts))
            )
    return cuts


def _cells(cutter: Cutter, support: FloatArray) -> IntArray:
    """Give each node the piece it is nearest to, where strong edges make near."""
    graph, outer = cutter.graph, cutter.outer
    price = graph.price[outer]
    length = np.maximum(price * (1 - np.minimum(support, 1)) + WHOLE * price, FREE)
    tail, head = cutter.node_tail[outer], cutter.node_head[outer]
    order = np.lexsort((length, head, tail))
    new = (np.diff(tail[order], prepend=-1) != 0) | (np.diff(head[order], prepend=-1) != 0)
    kept = order[new]
    web = csr_matrix((length[kept], (tail[kept], head[kept])), shape=(cutter.nodes, cutter.nodes))
    seeds = np.arange(graph.pieces)
    _, _, cell = dijkstra(
        web, directed=False, indices=seeds, min_only=True, return_predecessors=True
    )
    return np.maximum(cell, 0).astype(np.int64)


def _between(tail: IntArray, head: IntArray, weight: FloatArray) -> dict[tuple[int, int], float]:
    """Sum the weights between any two parts."""
    total: dict[tuple[int, int], float] = {}
    for a, b, w in zip(tail.tolist(), head.tolist(), weight.tolist(), strict=True):
        if a != b and w > WHOLE:
            key = (min(a, b), max(a, b))
            total[key] = total.get(key, 0.0) + w
    return total


def _loosest_partition(nodes: int, edges: dict[tuple[int, int], float]) -> IntArray:
    """Minimise the weight between the parts of a partition less the number of parts.

    The greedy algorithm for the polymatroid of f(S) = weight(leaving S) / 2 - 1: one minimum cut a
    node, and sets that turn out tight grow together.
    """
    near: list[dict[int, float]] = [{} for _ in range(nodes)]
    for (a, b), weight in edges.items():
        near[a][b] = near[b][a] = weight
    halves = [(a, b, weight / 2) for (a, b), weight in sorted(edges.items())]  # the later end last
    part = list(range(nodes))
    worth: list[float] = []
    for node in range(nodes):
        network = [(a, b, half) for a, b, half in halves if b <= node]
        sink = node + 1
        for a in range(node + 1):
            later = sum(w for b, w in near[a].items() if b > node) / 2
            drawn = worth[a] if a < node else 0.0
            network.append((a, sink, later + max(-drawn, 0.0)))
            if drawn > 0:
                network.append((node, a, drawn))
        found = Flow(node + 2, network).minimum_cut(node, sink, np.inf)
        side = found[1] if found else {node}
        leaving = sum(w for a in side for b, w in near[a].items() if b not in side)
        worth.append(leaving / 2 - 1 - sum(worth[a] for a in side if a != node))
        joined = {part[a] for a in side}
        part = [part[node] if p in joined else p for p in part]
    return np.unique(part, return_inverse=True)[1].astype(np.int64)


def _blocks(tail: IntArray, head: IntArray, used: BoolArray) -> Iterator[IntArray]:
    """Part a graph at its cut vertices.

    For each block of more than two vertices, give the vertices numbered anew so that all that
    hangs on a vertex of the block has that vertex's number.
    """
    from networkx import Graph, biconnected_components  # noqa: PLC0415 - slow, few want it

    nodes = int(max(tail.max(), head.max())) + 1
    pairs = sorted({(a, b) for a, b in zip(tail[used].tolist(), head[used].tolist(), strict=True)})
    whole = Graph()
    whole.add_nodes_from(range(nodes))
    whole.add_edges_from((a, b) for a, b in pairs if a != b)
    if nodes > 2 and len(set(groups(nodes, tail[used], head[used]).tolist())) > 1:  # noqa: PLR2004
        yield np.arange(nodes)
        return
    for block in sorted(sorted(b) for b in biconnected_components(whole)):
        inside = set(block)
        rest = np.array(
            [(a, b) for a, b in pairs if not (a in inside and b in inside)], dtype=np.int64
        ).reshape(-1, 2)
        if len(block) > 2:  # noqa: PLR2004
            yield groups(nodes, rest[:, 0], rest[:, 1])


def path_cuts(cutter: Cutter, point: Point) -> list[Cut]:
    """Find K-C inequalities that a point breaks.

    Each cluster of nodes that few ways leave is opened, that is, its required edges are taken
    away: the point may enter it in one place and leave it in another that it does not reach from
    there. The rest of the graph is then laid out between these two places by its potential, with
    the point's weights as conductances, and cut where little crosses.

    Parameters
    ----------
    cutter
        The problem.
    point
        Where the linear program stands.

    Returns
    -------
    list[Cut]
        At most one for each cluster.
    """
    weight = point.single + 2 * point.pair
    tree = cutter.clusters(point)
    cuts, seen = [], set()
    for cluster, leaving in enumerate(tree.weight):
        if not WHOLE < leaving < 3 - BROKEN:
            continue
        opened = _Opened(cutter, weight, tree.members(cluster))
        if opened.ends < 2 or opened.key in seen:  # noqa: PLR2004
            continue
        seen.add(opened.key)
        level = opened.best_levels()
        if level is not None:
            cuts.append(_path_cut(cutter, level))
    return cuts


def _path_cut(cutter: Cutter, level: IntArray) -> Cut:
    """Write down the inequality of parts in a row."""
    graph = cutter.graph
    last = int(level.max())
    step = _steps(level[graph.tail], level[graph.head], last)
    edges = np.flatnonzero(step)
    values = step[edges].astype(np.float64)
    return cutter.weigh(edges.tolist(), values.tolist(), (2 * values).tolist(), 2.0 * (last - 1))


def _steps(one: IntArray, two: IntArray, last: int) -> IntArray:
    """Coefficient of an edge between two levels."""
    step = np.abs(one - two)
    return np.where(step == last, last - 2, step)


class _Opened:
    """A cluster without its required edges, and the rest of the graph round it.

    Attributes
    ----------
    ends
        Number of places at which the point enters the cluster.
    key
        What tells this opening from others.
    """

    def __init__(self, cutter: Cutter, weight: FloatArray, cluster: list[int]) -> None:
        graph = cutter.graph
        self._cutter, self._weight = cutter, weight
        inside = np.zeros(cutter.nodes, dtype=bool)
        inside[cluster] = True
        self._inside = inside[cutter.node]
        used = np.flatnonzero(weight > WHOLE)
        within = self._inside[graph.tail[used]] & self._inside[graph.head[used]]
        inner, self._rest = used[within], used[~within]
        self._blob = groups(graph.vertices, graph.tail[inner], graph.head[inner])
        # Places of the layout: first the ends, then the nodes outside that the point touches.
        at = np.where(self._inside, self._blob, cutter.node + graph.vertices)
        both = np.stack([at[graph.tail[self._rest]], at[graph.head[self._rest]]])
        self._names, places = np.unique(both, return_inverse=True)
        self._tail, self._head = places.reshape(both.shape)
        self.ends = int((self._names < graph.vertices).sum())
        strength = np.bincount(places.ravel(), np.tile(weight[self._rest], 2))
        self._strength = strength
        self.key = (
            *self._names[: self.ends].tolist(),
            *np.rint(strength * 1e4).astype(int)[: self.ends].tolist(),
        )

    def best_levels(self) -> IntArray | None:
        """Give the levels of all vertices for the cut most broken, if one is."""
        ends = sorted(range(self.ends), key=lambda e: -self._strength[e])[:3]
        best, found = BROKEN, None
        for i, first in enumerate(ends):
            for last in ends[i + 1 :]:
                level = self._levels(self._potential(first, last))
                if level is None:
                    continue
                top = int(level.max())
                graph = self._cutter.graph
                step = _steps(level[graph.tail], level[graph.head], top)
                missing = (2 * (top - 1) - float(step @ self._weight)) / top
                if missing > best:
                    best, found = missing, level
        return found

    def _potential(self, first: int, last: int) -> FloatArray:
        """Solve for potentials between 0 at the first end and 1 at the last."""
        size = len(self._names)
        weight = self._weight[self._rest]
        row = np.concatenate([self._tail, self._head, np.arange(size)])
        column = np.concatenate([self._head, self._tail, np.arange(size)])
        apart = np.where(self._tail == self._head, 0.0, weight)
        value = np.concatenate([-apart, -apart, FREE + self._strength])
        value[(row == first) | (row == last)] = 0.0
        value[2 * len(weight) + np.array([first, last])] = 1.0
        right = np.zeros(size)
        right[last] = 1
        matrix = csc_array((value, (row, column)), shape=(size, size))
        return np.asarray(spsolve(matrix, right), dtype=np.float64)

    def _levels(self, potential: FloatArray) -> IntArray | None:
        """Cut the layout where less than two ways cross and a piece lies between the cuts."""
        graph = self._cutter.graph
        ends = self.ends
        order = np.argsort(potential[ends:], kind="stable") + ends
        position = np.empty(len(potential), dtype=np.int64)
        position[order] = np.arange(1, len(order) + 1)
        position[:ends] = np.where(potential[:ends] < 0.5, 0, len(order) + 1)  # noqa: PLR2004
        low = np.minimum(position[self._tail], position[self._head])
        high = np.maximum(position[self._tail], position[self._head])
        change = np.bincount(low, self._weight[self._rest], minlength=len(order) + 2)
        change -= np.bincount(high, self._weight[self._rest], minlength=len(order) + 2)
        crossing = np.cumsum(change)[:-1]
        is_piece = self._names[order] - graph.vertices < graph.pieces
        pieces = np.concatenate([[0], np.cumsum(is_piece)])
        chosen: list[int] = []
        for place in np.flatnonzero(crossing < 2 - WHOLE).tolist():
            if not chosen or pieces[place] > pieces[chosen[-1]]:
                chosen.append(place)
            elif crossing[place] < crossing[chosen[-1]]:
                chosen[-1] = place
        if len(chosen) < 3:  # noqa: PLR2004  (K-C inequalities begin there)
            return None
        return self._spread(np.searchsorted(chosen, position, side="left"), len(chosen))

    def _spread(self, place_level: IntArray, last: int) -> IntArray | None:
        """Carry the levels of places over to all vertices; None if no even tear can be had."""
        graph, node = self._cutter.graph, self._cutter.node
        name = np.where(self._inside, self._blob, node + graph.vertices)
        place = np.minimum(np.searchsorted(self._names, name), len(self._names) - 1)
        level = np.where(self._names[place] == name, place_level[place], -1)
        level = _fill(graph.vertices, graph.tail, graph.head, graph.price, level)
        torn = self._inside & (self._names[place] != name) & (graph.piece >= 0)
        # Untouched vertices of the cluster's pieces go to the nearer end, blob by blob.
        level[torn] = np.where(2 * level[torn] < last, 0, last)
        first_of_blob = np.full(int(self._blob.max()) + 1, -1)
        every = np.flatnonzero(torn)[::-1]
        first_of_blob[self._blob[every]] = every
        level[torn] = level[first_of_blob[self._blob[torn]]]
        if np.count_nonzero(graph.odd & (level == 0)) % 2:
            alone = np.bincount(self._blob)[self._blob] == 1
            spare = np.flatnonzero(torn & graph.odd & alone)
            if not len(spare):
                return None
            level[spare[0]] = last - level[spare[0]]
        return level if self._sound(level, last) else None

    def _sound(self, level: IntArray, last: int) -> bool:
        """Check that only pieces of the ends are torn, and each level holds a piece."""
        graph = self._cutter.graph
        member = graph.piece >= 0
        low = np.full(graph.pieces, last)
        high = np.zeros(graph.pieces, dtype=np.int64)
        np.minimum.at(low, graph.piece[member], level[member])
        np.maximum.at(high, graph.piece[member], level[member])
        torn = low != high
        if np.any(torn & ((low != 0) | (high != last))):
            return False
        return len(np.unique(np.where(low == last, 0, low))) == last


def _fill(
    vertices: int, tail: IntArray, head: IntArray, price: FloatArray, level: IntArray
) -> IntArray:
    """Let a vertex without a level take the level of the nearest vertex that has one."""
    web = csr_matrix((np.maximum(price, FREE), (tail, head)), shape=(vertices, vertices))
    seeds = np.flatnonzero(level >= 0)
    _, _, near = dijkstra(
        web, directed=False, indices=seeds, min_only=True, return_predecessors=True
    )
    filled: IntArray = np.where(level >= 0, level, level[np.maximum(near, 0)])
    return filled
