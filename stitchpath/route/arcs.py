"""Arcs: a second way to say that a tour hangs together, stronger where much is not required.

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

from stitchpath.route.cuts import BROKEN, WHOLE, Cut, Cutter
from stitchpath.route.flow import Flow
from stitchpath.typing import FloatArray

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
        for k, edge in zip(lane.tolist(), outer[order].tolist(), strict=True):
            self._singles[k][edge] = 1.0
            cut = cutter.weigh([edge], [1.0], [1.0], 0.0)
            self._pairs[k] |= dict.fromkeys(cut.columns[1:], 1.0)
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
        values: list[float] = x.tolist()
        return [*self._ties(values), *self._through(values), *self._starved(values)]

    def _to(self, lane: int) -> int:
        return self._first + lane

    def _way(self, lane: int) -> int:
        return self._first + self.lanes + lane

    def _arc(self, lane: int, *, to: bool) -> Terms:
        """Write an arc in columns."""
        if to:
            return {self._to(lane): 1.0}
        return {**self._singles[lane], **self._pairs[lane], self._to(lane): -1.0}

    def _ties(self, values: list[float]) -> Iterator[Cut]:
        """Keep arcs within what the edges of their lanes and the directions allow."""
        for lane in range(self.lanes):
            checks = [self._arc(lane, to=False)]
            if self._directed:
                way = self._way(lane)
                checks += [
                    {**self._singles[lane], way: -1.0},
                    {self._to(lane): 1.0, way: -1.0},
                    {**self._pairs[lane], way: 1.0, self._to(lane): -1.0},
                ]
            for terms in checks:
                if _value(terms, values) < -BROKEN:
                    yield _cut(terms, 0.0)

    def _through(self, values: list[float]) -> Iterator[Cut]:
        """Let nothing leave a node without requirements that has not come in another way.

        Not so on lanes of several edges, which may be taken in and out.
        """
        for node in range(self._cutter.graph.pieces, self._cutter.nodes):
            lanes = self._at[node]
            into = {lane: _value(self._arc(lane, to=to), values) for lane, to in lanes}
            total = sum(into.values())
            for lane, to in lanes:
                if len(self._singles[lane]) > 1:
                    continue
                out = _value(self._arc(lane, to=not to), values)
                if out > total - into[lane] + BROKEN:
                    terms: Terms = {}
                    for other, inward in lanes:
                        if other == lane:
                            back = self._arc(lane, to=not to)
                            terms |= {column: -value for column, value in back.items()}
                        else:
                            terms |= self._arc(other, to=inward)
                    yield _cut(terms, 0.0)

    def _starved(self, values: list[float]) -> Iterator[Cut]:
        """Find sets of nodes that too little enters, by minimum cuts from the root."""
        # Backwards, from the piece to the root: so the side found is the smallest round the piece.
        used = []
        for lane, (one, two) in enumerate(zip(self._low, self._high, strict=True)):
            to = values[self._to(lane)]
            fro = _value(self._arc(lane, to=False), values)
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


def _value(terms: Terms, values: list[float]) -> float:
    return sum(value * values[column] for column, value in terms.items())
