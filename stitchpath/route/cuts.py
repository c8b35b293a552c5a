"""Cuts for the rural postman's linear program: what hangs apart, and what is odd.

A tour is written with two numbers for each edge: `single`, 1 if it is passed an odd number of
extra times, and `pair`, 1 if it is passed twice for the sake of connection alone. Then

* single is a T-join: for each set S of vertices and each set F of edges leaving it, if the number
  of odd vertices in S plus the size of F is odd, single(leaving S, not F) >= single(F) - |F| + 1
  (Edmonds and Johnson 1973; the cocircuit inequalities of Barahona and Groetschel 1986);
* single + 2 pair connects: it is at least 2 on the edges leaving any set of whole pieces, if some
  piece lies within and some outside.

Cuts of both families that a fractional point breaks are looked for among nested clusters grown
along its strongest edges, and then by minimum cuts, which find one whenever there is one.
"""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_flow

from stitchpath.route.hubgraph import HubGraph, labels
from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["Cut", "Cutter", "Point"]

# A value this near a whole number is taken as whole; a cut must be broken by more than BROKEN.
WHOLE = 1e-6
BROKEN = 1e-3
# Flow capacities are whole numbers: a weight of 1 in these units.
UNIT = 1 << 20


class Cut(NamedTuple):
    """The inequality ``values @ x[columns] >= floor``, columns ascending."""

    columns: IntArray
    values: FloatArray
    floor: float


class Point(NamedTuple):
    """A point of the linear program.

    Attributes
    ----------
    single
        Odd extra passes, shape (m,).
    pair
        Double passes, shape (m,); 0 where there is no such column.
    """

    single: FloatArray
    pair: FloatArray


class Cutter:
    """Finds cuts for one problem.

    Parameters
    ----------
    graph
        The problem.
    pairs
        Edges that have a pair column; column ``m + i`` belongs to ``pairs[i]``.
    """

    def __init__(self, graph: HubGraph, pairs: IntArray) -> None:
        self.graph = graph
        edges = len(graph.tail)
        self._pair_column = np.full(edges, -1)
        self._pair_column[pairs] = edges + np.arange(len(pairs))
        # For connection each piece shrinks to one node, numbered first.
        free = graph.piece < 0
        self._node = graph.piece.copy()
        self._node[free] = graph.pieces + np.arange(int(free.sum()))
        self._nodes = graph.pieces + int(free.sum())
        self._node_tail, self._node_head = self._node[graph.tail], self._node[graph.head]
        self._outer = np.flatnonzero(self._node_tail != self._node_head)

    def first_cuts(self) -> list[Cut]:
        """Give the cuts round every piece and every odd vertex."""
        cuts = [self._connection_cut(np.arange(self._nodes) == p) for p in range(self.graph.pieces)]
        nothing = np.zeros(len(self.graph.tail))
        for vertex in np.flatnonzero(self.graph.odd):
            cut, _ = self._parity_cut(np.arange(self.graph.vertices) == vertex, nothing)
            cuts.append(cut)
        return cuts

    def find(self, point: Point, *, exact: bool) -> list[Cut]:
        """Find cuts that a point breaks.

        Parameters
        ----------
        point
            Where the linear program stands.
        exact
            Whether to go on to minimum cuts if the clusters give nothing.

        Returns
        -------
        list[Cut]
            Broken cuts, possibly the same one twice. None come back for a point of whole numbers
            only if it is a tour.
        """
        weight = point.single + 2 * point.pair
        cuts = list(self._loose_clusters(weight)) + list(self._odd_clusters(point.single))
        if not cuts and exact:
            cuts = list(self._loose_minimum(weight))
            if not cuts:
                cuts = list(self._odd_minimum(point.single))
        return cuts

    def _connection_cut(self, inside: BoolArray) -> Cut:
        """Ask for two ways out of a set of nodes."""
        singles = self._outer[
            inside[self._node_tail[self._outer]] != inside[self._node_head[self._outer]]
        ]
        pairs = self._pair_column[singles]
        pairs = pairs[pairs >= 0]
        values = np.ones(len(singles) + len(pairs))
        values[len(singles) :] = 2
        return Cut(np.concatenate([singles, pairs]), values, 2.0)

    def _parity_cut(self, inside: BoolArray, single: FloatArray) -> tuple[Cut, float]:
        """Choose F for a set of vertices as well as can be; also give what it leaves of the 1."""
        graph = self.graph
        columns = np.flatnonzero(inside[graph.tail] != inside[graph.head])
        value = single[columns]
        full = value > 0.5  # noqa: PLR2004  (half)
        if (np.count_nonzero(full) + np.count_nonzero(graph.odd[inside])) % 2 == 0:
            if not len(columns):
                return Cut(columns, value, 0.0), 1.0
            turn = np.argmin(np.abs(value - 0.5))
            full[turn] = not full[turn]
        left = float(np.where(full, 1 - value, value).sum())
        return Cut(columns, np.where(full, -1.0, 1.0), 1.0 - np.count_nonzero(full)), left

    def _loose_clusters(self, weight: FloatArray) -> Iterator[Cut]:
        """Find clusters of pieces that less than two ways leave."""
        pieces = self.graph.pieces
        used = self._outer[weight[self._outer] > WHOLE]
        tree = _Clusters(self._nodes, self._node_tail[used], self._node_head[used], weight[used])
        for cluster in tree.light(2 - BROKEN):
            inside = np.zeros(self._nodes, dtype=bool)
            inside[tree.members(cluster)] = True
            if 0 < np.count_nonzero(inside[:pieces]) < pieces:
                yield self._connection_cut(inside)

    def _odd_clusters(self, single: FloatArray) -> Iterator[Cut]:
        """Find clusters at which a T-join of whole passes would be odd."""
        graph = self.graph
        loose = np.minimum(single, 1 - single)
        used = np.flatnonzero(loose > WHOLE)
        tree = _Clusters(graph.vertices, graph.tail[used], graph.head[used], loose[used])
        full = single > 0.5  # noqa: PLR2004
        ends = np.concatenate([graph.tail[full], graph.head[full]])
        odd = (np.bincount(ends, minlength=graph.vertices) + graph.odd) % 2
        for cluster in tree.light(1 - BROKEN):
            members = tree.members(cluster)
            if len(members) == 1 and not odd[members[0]] and tree.weight[cluster] < WHOLE:
                continue
            inside = np.zeros(graph.vertices, dtype=bool)
            inside[members] = True
            cut, left = self._parity_cut(inside, single)
            if left < 1 - BROKEN:
                yield cut

    def _loose_minimum(self, weight: FloatArray) -> Iterator[Cut]:
        """Find sets of pieces that less than two ways leave, by minimum cuts to one piece."""
        tight = self._outer[weight[self._outer] >= 2 - WHOLE]
        part = labels(self._nodes, self._node_tail[tight], self._node_head[tight])
        used = self._outer[weight[self._outer] > WHOLE]
        tail, head = part[self._node_tail[used]], part[self._node_head[used]]
        flow = _Flow(int(part.max()) + 1, tail, head, weight[used])
        homes = np.unique(part[: self.graph.pieces])
        done = np.zeros(flow.nodes, dtype=bool)
        for home in homes[:-1].tolist():
            if done[home]:
                continue
            value, inside = flow.minimum_cut(home, int(homes[-1]))
            if value < 2 - BROKEN:
                done |= inside
                yield self._connection_cut(inside[part])

    def _odd_minimum(self, single: FloatArray) -> Iterator[Cut]:
        """Find odd sets from a cut tree of each fractional part (Letchford et al. 2004)."""
        graph = self.graph
        loose = np.minimum(single, 1 - single)
        used = np.flatnonzero(loose > WHOLE)
        part = labels(graph.vertices, graph.tail[used], graph.head[used])
        size = np.bincount(part)
        for number in np.flatnonzero(size > 2).tolist():  # noqa: PLR2004  (clusters cover these)
            members = np.flatnonzero(part == number)
            local = np.empty(graph.vertices, dtype=np.int64)
            local[members] = np.arange(len(members))
            edges = used[part[graph.tail[used]] == number]
            tail, head = local[graph.tail[edges]], local[graph.head[edges]]
            for side in _cut_tree(_Flow(len(members), tail, head, loose[edges])):
                inside = np.zeros(graph.vertices, dtype=bool)
                inside[members[side]] = True
                cut, left = self._parity_cut(inside, single)
                if left < 1 - BROKEN:
                    yield cut


class _Clusters:
    """Nested clusters of a weighted graph, merged along the strongest edge first.

    Nodes are clusters 0 to n - 1, each merge makes the next. `weight` is the weight of the edges
    that leave a cluster.
    """

    def __init__(self, nodes: int, tail: IntArray, head: IntArray, weight: FloatArray) -> None:
        self._nodes = nodes
        self._parts: list[tuple[int, int]] = []
        self.weight: list[float] = (
            np.bincount(tail, weight, minlength=nodes) + np.bincount(head, weight, minlength=nodes)
        ).tolist()
        order = np.argsort(-weight, kind="stable")
        edges = list(zip(tail[order].tolist(), head[order].tolist(), strict=True))
        near: dict[int, dict[int, float]] = {}
        for (a, b), w in zip(edges, weight[order].tolist(), strict=True):
            for here, there in ((a, b), (b, a)):
                row = near.setdefault(here, {})
                row[there] = row.get(there, 0.0) + w
        # A cluster is led by one of its nodes; `cluster` says which cluster a leader stands for.
        leader, cluster = list(range(nodes)), list(range(nodes))
        for a, b in edges:
            one, two = _root(leader, a), _root(leader, b)
            if one == two:
                continue
            if len(near[one]) < len(near[two]):
                one, two = two, one
            between = _merge(near, one, two)
            self._parts.append((cluster[one], cluster[two]))
            self.weight.append(
                self.weight[cluster[one]] + self.weight[cluster[two]] - 2 * between
            )
            leader[two] = one
            cluster[one] = len(self.weight) - 1

    def light(self, most: float) -> list[int]:
        """List the clusters that less than a given weight leaves."""
        return [cluster for cluster, weight in enumerate(self.weight) if weight < most]

    def members(self, cluster: int) -> list[int]:
        """List the nodes of a cluster."""
        todo, nodes = [cluster], []
        while todo:
            here = todo.pop()
            if here < self._nodes:
                nodes.append(here)
            else:
                todo += self._parts[here - self._nodes]
        return nodes


def _root(leader: list[int], node: int) -> int:
    """Follow a node to its leader, shortening the way."""
    while leader[node] != node:
        leader[node] = leader[leader[node]]
        node = leader[node]
    return node


def _merge(near: dict[int, dict[int, float]], big: int, small: int) -> float:
    """Give the edges of one node to another; say how much lay between the two."""
    row, gone = near[big], near.pop(small)
    between = row.pop(small)
    del gone[big]
    for other, weight in gone.items():
        row[other] = row.get(other, 0.0) + weight
        del near[other][small]
        near[other][big] = row[other]
    return between


class _Flow:
    """An undirected network for minimum cuts."""

    def __init__(self, nodes: int, tail: IntArray, head: IntArray, weight: FloatArray) -> None:
        self.nodes = nodes
        outer = tail != head
        tail, head = tail[outer], head[outer]
        capacity = np.rint(weight[outer] * UNIT).astype(np.int32)
        ends = (np.concatenate([tail, head]), np.concatenate([head, tail]))
        self._network = csr_matrix((np.tile(capacity, 2), ends), shape=(nodes, nodes))
        self._network.sum_duplicates()

    def minimum_cut(self, source: int, sink: int) -> tuple[float, BoolArray]:
        """Give the weight of a minimum cut and the nodes on the side of the source."""
        network = self._network
        result = maximum_flow(network, source, sink)
        room = network.data > result.flow.data
        start, there = network.indptr.tolist(), network.indices.tolist()
        inside = np.zeros(self.nodes, dtype=bool)
        inside[source] = True
        todo = [source]
        while todo:
            here = todo.pop()
            for entry in range(start[here], start[here + 1]):
                if room[entry] and not inside[there[entry]]:
                    inside[there[entry]] = True
                    todo.append(there[entry])
        return result.flow_value / UNIT, inside


def _cut_tree(flow: _Flow) -> Iterable[BoolArray]:
    """Give sides of minimum cuts between all nodes (Gusfield 1990)."""
    above = np.zeros(flow.nodes, dtype=np.int64)
    number = np.arange(flow.nodes)
    for node in range(1, flow.nodes):
        value, inside = flow.minimum_cut(node, int(above[node]))
        above[(number > node) & inside & (above == above[node])] = node
        if value < 1 - BROKEN:
            yield inside
