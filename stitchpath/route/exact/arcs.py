"""Arcs: a second way to say that a tour hangs together, stronger where few lines are required.

Shrink each piece to a node and gather the edges between two nodes into a lane.

* Each lane in use lends its way to a tree that grows from one piece to all others: arcs to and
  fro, together ``single + pair`` of the lane, and at least 1 into any set of nodes that holds a
  piece but not the root (Wong 1984, for the Steiner tree). Unlike two ways out of every set, this
  does not let halves of ways add up.
* A tour can be walked, so its single passes can be given directions: as many into each node as
  out of it, since the required edges of a piece join what is left over there. Such a direction of
  a connected graph leads from everywhere to everywhere, so the tree can be grown along it: the arc
  to is the singles that go its way and a part of the pairs, the arc fro all that is left. This
  takes from a closed way the one edge that it has too many for a tree.
"""

from collections.abc import Iterator

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.route.exact.cuts import BROKEN, WHOLE, Cut, Cutter
from stitchpath.route.exact.min_cuts import Flow

__all__ = ["Arcs"]

Terms = dict[int, float]


class Arcs:
    """The arcs of one problem and their cuts.

    Lane k has a column ``first + k`` for its arc to, from the node with the lower number to the
    other, and, once `direct` has been called, a column ``first + lanes + k`` for the singles that
    go the same way.

    Parameters
    ----------
    cutter
        The problem.
    first
        Number of the first column.

    Attributes
    ----------
    lanes
        Number of lanes.
    """

    def __init__(self, cutter: Cutter, first: int) -> None:
        self._cutter, self._first = cutter, first
        self._directed = False
        self._root = cutter.graph.pieces - 1
        outer = cutter.outer
        low = np.minimum(cutter.node_tail[outer], cutter.node_head[outer])
        high = np.maximum(cutter.node_tail[outer], cutter.node_head[outer])
        order = np.lexsort((outer, high, low))
        new = (np.diff(low[order], prepend=-1) != 0) | (np.diff(high[order], prepend=-1) != 0)
        self.lanes = int(new.sum())
        self._low: list[int] = low[order][new].tolist()
        self._high: list[int] = high[order][new].tolist()
        self._singles: list[Terms] = [{} for _ in range(self.lanes)]
        self._pairs: list[Terms] = [{} for _ in range(self.lanes)]
        lane = np.cumsum(new) - 1
        pair_column, pair_lane = [], []
        for k, edge in zip(lane.tolist(), outer[order].tolist(), strict=True):
            self._singles[k][edge] = 1.0
            for column in cutter.weigh([edge], [1.0], [1.0], 0.0).columns[1:]:
                self._pairs[k][column] = 1.0
                pair_column.append(column)
                pair_lane.append(k)
        self._edge, self._edge_lane = outer[order], lane
        self._pair = np.array(pair_column, dtype=np.int64)
        self._pair_lane = np.array(pair_lane, dtype=np.int64)
        # Lanes at each node, with whether the arc to leads into it.
        self._at: list[list[tuple[int, bool]]] = [[] for _ in range(cutter.nodes)]
        for k, (one, two) in enumerate(zip(self._low, self._high, strict=True)):
            self._at[one].append((k, False))
            self._at[two].append((k, True))

    def first_cuts(self) -> list[Cut]:
        """Let every piece be reached."""
        pieces = self._cutter.graph.pieces
        return [self._entry({piece}) for piece in range(pieces) if piece != self._root]

    def direct(self) -> list[Cut]:
        """Give directions to singles from now on: balance them at every node."""
        self._directed = True
        cuts = []
        for lanes in self._at:
            terms: Terms = {}
            for lane, into in lanes:
                sign = 1.0 if into else -1.0
                terms[self._way(lane)] = 2 * sign
                terms |= dict.fromkeys(self._singles[lane], -sign)
            cuts.append(_cut(terms, 0.0))
            cuts.append(_cut({column: -value for column, value in terms.items()}, 0.0))
        return cuts

    def find(self, x: FloatArray) -> list[Cut]:
        """Find what a point breaks.

        Parameters
        ----------
        x
            All columns.
        """
        single = _sums(self._edge_lane, x[self._edge], self.lanes)
        pair = _sums(self._pair_lane, x[self._pair], self.lanes)
        to = x[self._first : self._first + self.lanes]
        arcs = (to.tolist(), (single + pair - to).tolist())
        way = x[self._first + self.lanes :] if self._directed else None
        return [*self._ties(single, pair, to, way), *self._through(arcs), *self._starved(arcs)]

    def _to(self, lane: int) -> int:
        return self._first + lane

    def _way(self, lane: int) -> int:
        return self._first + self.lanes + lane

    def _arc(self, lane: int, *, to: bool) -> Terms:
        """Write an arc in columns."""
        if to:
            return {self._to(lane): 1.0}
        return {**self._singles[lane], **self._pairs[lane], self._to(lane): -1.0}

    def _ties(
        self, single: FloatArray, pair: FloatArray, to: FloatArray, way: FloatArray | None
    ) -> Iterator[Cut]:
        """Keep arcs within what the edges of their lanes and the directions allow."""
        for lane in np.flatnonzero(to > single + pair + BROKEN).tolist():
            yield _cut(self._arc(lane, to=False), 0.0)
        if way is None:
            return
        for lane in np.flatnonzero(way > single + BROKEN).tolist():
            yield _cut({**self._singles[lane], self._way(lane): -1.0}, 0.0)
        for lane in np.flatnonzero(way > to + BROKEN).tolist():
            yield _cut({self._to(lane): 1.0, self._way(lane): -1.0}, 0.0)
        for lane in np.flatnonzero(to > way + pair + BROKEN).tolist():
            terms = {**self._pairs[lane], self._way(lane): 1.0, self._to(lane): -1.0}
            yield _cut(terms, 0.0)

    def _through(self, arcs: tuple[list[float], list[float]]) -> Iterator[Cut]:
        """Let nothing leave a node without requirements that has not come in another way.

        Not so on lanes of several edges, which may be taken in and out.
        """
        to_arc, fro_arc = arcs
        for node in range(self._cutter.graph.pieces, self._cutter.nodes):
            lanes = self._at[node]
            total = sum(to_arc[lane] if to else fro_arc[lane] for lane, to in lanes)
            for lane, to in lanes:
                into, out = to_arc[lane], fro_arc[lane]
                if not to:
                    into, out = out, into
                if out <= total - into + BROKEN or len(self._singles[lane]) > 1:
                    continue
                back = self._arc(lane, to=not to)
                terms = {column: -value for column, value in back.items()}
                for other, inward in lanes:
                    if other != lane:
                        terms |= self._arc(other, to=inward)
                yield _cut(terms, 0.0)

    def _starved(self, arcs: tuple[list[float], list[float]]) -> Iterator[Cut]:
        """Find sets of nodes that too little enters, by minimum cuts from the root."""
        # Backwards, from the piece to the root: so the side found is the smallest round the piece.
        used = []
        for one, two, to, fro in zip(self._low, self._high, *arcs, strict=True):
            if to > WHOLE and two != self._root:
                used.append((two, one, to))
            if fro > WHOLE and one != self._root:
                used.append((one, two, fro))
        flow = Flow(self._cutter.nodes, used, directed=True)
        done: set[int] = set()
        for piece in range(self._cutter.graph.pieces):
            if piece == self._root or piece in done:
                continue
            found = flow.minimum_cut(piece, self._root, 1 - BROKEN)
            if found is not None:
                done |= found[1]
                yield self._entry(found[1])

    def _entry(self, nodes: set[int]) -> Cut:
        """Ask for a whole arc into a set of nodes."""
        terms: Terms = {}
        for node in sorted(nodes):
            for lane, to in self._at[node]:
                if (self._low[lane] if to else self._high[lane]) not in nodes:
                    terms |= self._arc(lane, to=to)
        return _cut(terms, 1.0)


def _cut(terms: Terms, floor: float) -> Cut:
    columns = tuple(sorted(terms))
    return Cut(columns, tuple(terms[column] for column in columns), floor)


def _sums(group: IntArray, values: FloatArray, groups: int) -> FloatArray:
    return np.asarray(np.bincount(group, values, minlength=groups), dtype=np.float64)
