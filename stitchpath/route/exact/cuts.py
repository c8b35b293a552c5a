"""Cuts for the rural postman's linear program: pieces that hang apart, and odd vertices.

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

from collections.abc import Collection, Iterator
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.route.exact.min_cuts import Clusters, Flow, cut_tree
from stitchpath.route.hub_graph import HubGraph

__all__ = ["BROKEN", "WHOLE", "Cut", "Cutter", "Point"]

# A value within WHOLE of a whole number counts as whole. A cut counts as broken when it is missed
# by more than BROKEN.
WHOLE = 1e-6
BROKEN = 1e-3
HALF = 0.5


class Cut(NamedTuple):
    """The inequality ``sum(values * x[columns]) >= floor``, columns ascending."""

    columns: tuple[int, ...]
    values: tuple[float, ...]
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

    Attributes
    ----------
    node
        Each vertex with its piece shrunk to a node, pieces first.
    outer
        Edges between different nodes: only they connect.
    """

    def __init__(self, graph: HubGraph, pairs: IntArray) -> None:
        self.graph = graph
        pair_column = np.full(graph.edges, -1)
        pair_column[pairs] = graph.edges + np.arange(len(pairs))
        self._pair_column: list[int] = pair_column.tolist()
        self._odd: list[bool] = graph.odd.tolist()
        self.node = graph.nodes()
        self.nodes = int(self.node.max()) + 1
        self.node_tail, self.node_head = self.node[graph.tail], self.node[graph.head]
        self.outer = np.flatnonzero(self.node_tail != self.node_head)
        every = np.arange(graph.edges)
        self._leaving = _incidence(graph.vertices, every, graph.tail, graph.head)
        self._leaving_node = _incidence(
            self.nodes, self.outer, self.node_tail[self.outer], self.node_head[self.outer]
        )

    def first_cuts(self) -> list[Cut]:
        """Give the cuts round every piece and every odd vertex."""
        nothing = [0.0] * self.graph.edges
        odd = np.flatnonzero(self.graph.odd).tolist()
        pieces = self.graph.pieces if self.graph.pieces > 1 else 0  # one alone need not be left
        return [self.connection_cut([piece]) for piece in range(pieces)] + [
            self._parity_cut([vertex], nothing)[0] for vertex in odd
        ]

    def find(self, point: Point) -> list[Cut]:
        """Find cuts among clusters; a tour is the only point of whole numbers without any."""
        return [
            *self._loose_clusters(point),
            *self._odd_clusters(point),
            *self.dead_ends(point),
        ]

    def find_hidden(self, point: Point) -> list[Cut]:
        """Find cuts by minimum cuts, which miss none."""
        return list(self._loose_minimum(point)) or list(self._odd_minimum(point))

    def connection_cut(self, nodes: Collection[int]) -> Cut:
        """Ask for two ways out of a set of nodes."""
        crossing = sorted(_leaving(nodes, self._leaving_node))
        return self.weigh(crossing, [1.0] * len(crossing), [2.0] * len(crossing), 2.0)

    def weigh(self, edges: list[int], single: list[float], pair: list[float], floor: float) -> Cut:
        """Make a cut of coefficients for the single and the pair column of some edges."""
        column = self._pair_column
        double = [(column[e], value) for e, value in zip(edges, pair, strict=True)]
        double = [(c, value) for c, value in double if c >= 0]
        columns = (*edges, *(c for c, _ in double))
        return Cut(columns, (*single, *(value for _, value in double)), floor)

    def _parity_cut(self, vertices: Collection[int], single: list[float]) -> tuple[Cut, float]:
        """Choose F for a set of vertices as well as can be; also give what it leaves of the 1."""
        crossing = sorted(_leaving(vertices, self._leaving))
        value = [single[edge] for edge in crossing]
        full = [v > HALF for v in value]
        odd = self._odd
        if (sum(full) + sum(odd[v] for v in vertices)) % 2 == 0:
            if not crossing:
                return Cut((), (), 0.0), 1.0
            turn = min(range(len(value)), key=lambda i: abs(value[i] - HALF))
            full[turn] = not full[turn]
        left = sum(1 - v if f else v for v, f in zip(value, full, strict=True))
        signs = tuple(-1.0 if f else 1.0 for f in full)
        return Cut(tuple(crossing), signs, 1.0 - sum(full)), left

    def _loose_clusters(self, point: Point) -> Iterator[Cut]:
        """Find clusters of pieces that less than two ways leave."""
        pieces = self.graph.pieces
        tree = self.clusters(point)
        for cluster, weight in enumerate(tree.weight):
            if weight < 2 - BROKEN:
                members = tree.members(cluster)
                if 0 < sum(node < pieces for node in members) < pieces:
                    yield self.connection_cut(members)

    def clusters(self, point: Point) -> Clusters:
        """Grow clusters of nodes along the strongest connections."""
        weight = point.single[self.outer] + 2 * point.pair[self.outer]
        used = weight > WHOLE
        edges = self.outer[used]
        triples = zip(
            weight[used].tolist(),
            self.node_tail[edges].tolist(),
            self.node_head[edges].tolist(),
            strict=True,
        )
        return Clusters(self.nodes, list(triples))

    def _odd_clusters(self, point: Point) -> Iterator[Cut]:
        """Find clusters at which a T-join of whole passes would be odd."""
        graph = self.graph
        loose = np.minimum(point.single, 1 - point.single)
        used = np.flatnonzero(loose > WHOLE)
        tail, head = graph.tail[used].tolist(), graph.head[used].tolist()
        tree = Clusters(graph.vertices, list(zip(loose[used].tolist(), tail, head, strict=True)))
        full = point.single > HALF
        ends = np.concatenate([graph.tail[full], graph.head[full]])
        odd = ((np.bincount(ends, minlength=graph.vertices) + graph.odd) % 2).tolist()
        single = point.single.tolist()
        for cluster, weight in enumerate(tree.weight):
            if weight >= 1 - BROKEN:
                continue
            if cluster < graph.vertices and not odd[cluster] and weight < WHOLE:
                continue  # even, and nothing to turn
            cut, left = self._parity_cut(tree.members(cluster), single)
            if left < 1 - BROKEN:
                yield cut

    def dead_ends(self, point: Point) -> list[Cut]:
        """Find points where nothing is required and a way in leads no further."""
        cuts = []
        graph = self.graph
        weight = point.single + 2 * point.pair
        total = np.bincount(graph.tail, weight, minlength=graph.vertices)
        total += np.bincount(graph.head, weight, minlength=graph.vertices)
        for ends in (graph.tail, graph.head):
            dead = (graph.piece[ends] < 0) & (2 * weight > total[ends] + BROKEN)
            for edge in np.flatnonzero(dead).tolist():
                around = sorted(self._leaving[ends[edge]])
                signs = [-1.0 if other == edge else 1.0 for other in around]
                cuts.append(self.weigh(around, signs, [2 * sign for sign in signs], 0.0))
        return cuts

    def _loose_minimum(self, point: Point) -> Iterator[Cut]:
        """Find sets of pieces with fewer than two ways out, by minimum cuts to one piece."""
        weight = point.single[self.outer] + 2 * point.pair[self.outer]
        tail, head = self.node_tail[self.outer], self.node_head[self.outer]
        tight = weight >= 2 - WHOLE
        part = groups(self.nodes, tail[tight], head[tight])
        used = (weight > WHOLE) & (part[tail] != part[head])
        edges = zip(
            part[tail[used]].tolist(), part[head[used]].tolist(), weight[used].tolist(), strict=True
        )
        flow = Flow(self.nodes, edges)
        homes = np.unique(part[: self.graph.pieces]).tolist()
        done: set[int] = set()
        for home in homes[:-1]:
            found = None if home in done else flow.minimum_cut(home, homes[-1], 2 - BROKEN)
            if found is not None:
                done |= found[1]
                yield self.connection_cut(np.flatnonzero(np.isin(part, list(found[1]))).tolist())

    def _odd_minimum(self, point: Point) -> Iterator[Cut]:
        """Find odd sets from a cut tree of each fractional part (Letchford et al. 2004)."""
        graph = self.graph
        loose = np.minimum(point.single, 1 - point.single)
        used = np.flatnonzero(loose > WHOLE)
        part = groups(graph.vertices, graph.tail[used], graph.head[used])
        single = point.single.tolist()
        together: dict[int, list[int]] = {}
        for edge, number in zip(used.tolist(), part[graph.tail[used]].tolist(), strict=True):
            together.setdefault(number, []).append(edge)
        for edges in together.values():
            ends = np.stack([graph.tail[edges], graph.head[edges]])
            members, local = np.unique(ends, return_inverse=True)
            tail, head = (side.tolist() for side in local.reshape(ends.shape))
            flow = Flow(len(members), zip(tail, head, loose[edges].tolist(), strict=True))
            for side in cut_tree(flow, 1 - BROKEN):
                cut, left = self._parity_cut(members[sorted(side)].tolist(), single)
                if left < 1 - BROKEN:
                    yield cut


def _incidence(
    places: int, edges: IntArray, tail: IntArray, head: IntArray
) -> list[frozenset[int]]:
    """List the edges at each place."""
    around: list[list[int]] = [[] for _ in range(places)]
    for edge, a, b in zip(edges.tolist(), tail.tolist(), head.tolist(), strict=True):
        around[a].append(edge)
        around[b].append(edge)
    return [frozenset(row) for row in around]


def _leaving(places: Collection[int], around: list[frozenset[int]]) -> set[int]:
    """Give the edges with one end among some places: those that are met once, not twice."""
    crossing: set[int] = set()
    for place in places:
        crossing ^= around[place]
    return crossing
