"""Cuts that a fractional point breaks: what hangs apart, and odd sets of edge ends."""

from collections.abc import Callable, Iterator
from operator import or_, xor
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.route.exact.cuts import BROKEN, WHOLE
from stitchpath.route.exact.min_cuts import Clusters, Flow
from stitchpath.route.passages.adjacency import light_sets
from stitchpath.route.passages.model import Fan, Model, Row

__all__ = ["Finder", "Ties", "odd_cuts"]

MOST_ENDS = 9  # at a vertex of more edge ends not every set of them is tried
SETS = 2  # cuts taken at a vertex in a round
LARGE = 400  # nodes: a fractional part of more is left to the clusters
TWICE = 2.0  # how often whatever is not at home has to be left


class Ties(NamedTuple):
    """A weighted graph, by tail, head and weight of its edges."""

    tail: IntArray
    head: IntArray
    weight: FloatArray

    @classmethod
    def used(cls, tail: IntArray, head: IntArray, weight: FloatArray) -> "Ties":
        """Keep edges of some weight between different nodes."""
        kept = (weight > WHOLE) & (tail != head)
        return cls(tail[kept], head[kept], weight[kept])

    def clusters(self, nodes: int) -> Clusters:
        """Grow nested clusters."""
        weight, tail, head = self.weight.tolist(), self.tail.tolist(), self.head.tolist()
        return Clusters(nodes, list(zip(weight, tail, head, strict=True)))


class Finder:
    """Finds cuts for one model.

    Parameters
    ----------
    model
        The model.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        self._hub = len(model.edges)
        sizes = [fan.ends.shape[1] for fan in model.fans]
        self._sets = {size: _sets(size) for size in sizes if size <= MOST_ENDS}

    def pieces(self, x: FloatArray) -> list[Row]:
        """Ask that what hangs apart from all run ends be joined."""
        ties = self._ties(x)
        part = groups(self._hub + 1, ties.tail, ties.head)
        home, part = part[-1], part[:-1]
        wanted = np.unique(part[(part != home) & self.model.required])
        order = np.argsort(part, kind="stable")
        split = np.searchsorted(part[order], np.stack([wanted, wanted + 1], axis=1))
        return [self.model.connection_cut(order[a:b]) for a, b in split.tolist()]

    def loose_clusters(self, x: FloatArray) -> Iterator[Row]:
        """Find sets of edges that less than two ways leave, among nested clusters."""
        tree = self._ties(x).clusters(self._hub + 1)
        inside = [*self.model.required.tolist(), False]
        for cluster in _lightest(tree, inside, TWICE, or_):
            if tree.weight[cluster] > WHOLE:  # what hangs apart is found as a piece
                yield self.model.connection_cut(np.array(tree.members(cluster)))

    def loose_minimum(self, x: FloatArray) -> Iterator[Row]:
        """Find sets of edges that less than two ways leave, by minimum cuts."""
        ties = self._ties(x)
        triples = zip(ties.tail.tolist(), ties.head.tolist(), ties.weight.tolist(), strict=True)
        wanted = [*self.model.required.tolist(), False]
        for members in light_sets(self._hub + 1, triples, self._hub, wanted, TWICE - BROKEN):
            yield self.model.connection_cut(np.array(members))

    def odd_fans(self, x: FloatArray) -> Iterator[Row]:
        """Find odd sets of edge ends at one vertex: all of them are tried where they are few."""
        model = self.model
        beyond = self._beyond(x)
        for fan in model.fans:
            sets = self._sets.get(fan.ends.shape[1])
            if sets is None:
                continue
            odd = (model.odd[fan.ends].astype(np.int64) @ sets.T) % 2 == 1
            left = np.where(odd, _leaving(fan, sets, x, beyond), np.inf)
            best = np.argsort(left, axis=1, kind="stable")[:, :SETS]
            rows, places = np.nonzero(np.take_along_axis(left, best, axis=1) < 1 - BROKEN)
            for row, place in zip(rows.tolist(), places.tolist(), strict=True):
                yield model.parity_cut(fan.ends[row][sets[best[row, place]] > 0])

    def odd_clusters(self, x: FloatArray) -> Iterator[Row]:
        """Find odd sets of edge ends among nested clusters."""
        tree = self._odd_ties(x).clusters(self.model.ends + 1)
        inside = [*self.model.odd.tolist(), False]
        for cluster in _lightest(tree, inside, 1.0, xor):
            yield self.model.parity_cut(np.array(tree.members(cluster)))

    def odd_minimum(self, x: FloatArray) -> Iterator[Row]:
        """Find odd sets by minimum cuts in each part, nodes with a whole tie between as one."""
        hub = self.model.ends
        ties = self._odd_ties(x)
        firm = ties.weight >= 1 - WHOLE
        part = groups(hub + 1, ties.tail[firm], ties.head[firm])
        nodes = int(part.max()) + 1
        odd = np.bincount(part[:hub], self.model.odd, minlength=nodes) % 2 == 1
        ties = Ties.used(part[ties.tail], part[ties.head], ties.weight)
        group = groups(nodes, ties.tail, ties.head)[ties.tail]
        order = np.argsort(group, kind="stable")
        for found in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
            part_ties = Ties(ties.tail[found], ties.head[found], ties.weight[found])
            for inside in _odd_sides(part_ties, odd, int(part[hub])):
                yield self.model.parity_cut(np.flatnonzero(np.isin(part[:hub], inside)))

    def _ties(self, x: FloatArray) -> Ties:
        """Take passages and run ends as ties between edges and the hub."""
        model = self.model
        tail = np.concatenate([model.a // 2, model.stop // 2])
        head = np.concatenate([model.b // 2, np.full(len(model.stop), self._hub)])
        return Ties.used(tail, head, x[: model.first_edge])

    def _odd_ties(self, x: FloatArray) -> Ties:
        """Take passages, run ends and passes beyond the first as ties between edge ends."""
        model = self.model
        edge = np.arange(len(model.edges))
        tail = np.concatenate([model.a, model.stop, 2 * edge])
        head = np.concatenate([model.b, np.full(len(model.stop), model.ends), 2 * edge + 1])
        more = x[model.first_edge :] - model.required
        return Ties.used(tail, head, np.concatenate([x[: model.first_edge], more]))

    def _beyond(self, x: FloatArray) -> FloatArray:
        """Sum what leaves each edge end but for passages: run ends, passes beyond the first."""
        model = self.model
        more = np.repeat(x[model.first_edge :] - model.required, 2)
        more[model.stop] += x[model.first_stop : model.first_edge]
        return more


def _lightest(
    tree: Clusters, inside: list[bool], limit: float, both: Callable[[bool, bool], bool]
) -> Iterator[int]:
    """Give clusters that are lighter than a limit, and than every such cluster within.

    Parameters
    ----------
    tree
        Clusters; those that hold the last node are passed over.
    inside
        Which nodes are of the kind that is looked for, shape (nodes,).
    limit
        What should leave each cluster.
    both
        Whether a cluster is of that kind, from those that it is made of.
    """
    nodes = len(inside)
    kind = inside.copy()
    home = [False] * (nodes - 1) + [True]
    least = [limit - BROKEN] * nodes
    for cluster, weight in enumerate(tree.weight):
        if cluster >= nodes:
            one, two = tree.parts[cluster - nodes]
            kind.append(both(kind[one], kind[two]))
            home.append(home[one] or home[two])
            least.append(min(least[one], least[two]))
        if kind[cluster] and not home[cluster] and weight < least[cluster]:
            least[cluster] = weight - BROKEN
            yield cluster


def _odd_sides(ties: Ties, odd: BoolArray, home: int) -> Iterator[IntArray]:
    """Find odd sets without the home, of the nodes that some ties hang together."""
    nodes, local = np.unique(np.stack(ties[:2]), return_inverse=True)
    local = local.reshape(2, -1)
    marked = odd[nodes]
    if len(nodes) > LARGE or not marked.any():
        return
    outside = nodes == home
    if marked.sum() % 2:
        marked = marked | outside  # the cuts are those of the others
    if marked.sum() % 2:
        yield nodes  # all of it
        return
    for side in odd_cuts(Ties(local[0], local[1], ties.weight), marked, 1 - BROKEN):
        inside = ~side if (side & outside).any() else side
        yield nodes[inside]


def odd_cuts(ties: Ties, marked: BoolArray, limit: float) -> Iterator[BoolArray]:
    """Find sets with an odd number of marked nodes, an even number in all, that few ties leave.

    A minimum cut between two marked nodes is such a set, or a lightest one does not cross it. Then
    it lies in one of the two graphs in which either side is made one node (Padberg and Rao 1982).
    """
    todo = [np.arange(len(marked))]
    while todo:
        group = todo.pop()  # which nodes are one
        count = np.bincount(group, marked)
        ends = np.flatnonzero(count % 2 == 1)
        if len(ends) < 2:  # noqa: PLR2004 - no cut parts one from itself
            continue
        one, two, weight = Ties.used(group[ties.tail], group[ties.head], ties.weight)
        flow = Flow(len(count), zip(one.tolist(), two.tolist(), weight.tolist(), strict=True))
        found = flow.minimum_cut(int(ends[0]), int(ends[1]), limit)
        side = np.isin(group, list(found[1]) if found else [])
        odd = marked[side].sum() % 2 == 1
        if odd:
            yield side
        if found is None or odd:  # what parts these two is no lighter
            todo.append(_as_one(group, np.isin(group, ends[:2])))
        else:
            todo += [_as_one(group, side), _as_one(group, ~side)]


def _as_one(group: IntArray, members: BoolArray) -> IntArray:
    """Make some nodes one, and number all anew."""
    changed = np.where(members, len(group), group)
    return np.unique(changed, return_inverse=True)[1].reshape(-1)


def _sets(size: int) -> FloatArray:
    """List all sets of so many things but the empty one, shape (sets, size)."""
    number = np.arange(1, 2**size)
    return ((number[:, None] >> np.arange(size)) & 1).astype(np.float64)


def _leaving(fan: Fan, sets: FloatArray, x: FloatArray, beyond: FloatArray) -> FloatArray:
    """Sum what leaves each set of ends at each vertex of a fan, shape (vertices, sets)."""
    size = sets.shape[1]
    weight = np.where(fan.passage >= 0, x[fan.passage], 0.0)
    weight[:, np.arange(size), np.arange(size)] = 0.0
    out = (weight.sum(axis=2) + beyond[fan.ends]) @ sets.T
    within = ((sets @ weight) * sets).sum(axis=2)
    return np.asarray(out - within)
