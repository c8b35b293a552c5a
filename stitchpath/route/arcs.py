"""Arcs: a second way to say that a tour hangs together, stronger where much is not required.

Each edge passed once or twice lends its way to a tree that grows from one piece to all others:
arcs in both directions, together no more than ``single + pair`` of the edges between two nodes,
and at least 1 into any set of nodes that holds a piece but not the root (Wong 1984, for the
Steiner tree). Unlike two ways out of every set, this does not let halves of ways add up.
"""

import numpy as np

from stitchpath.route.cuts import BROKEN, WHOLE, Cut, Cutter
from stitchpath.route.flow import Flow
from stitchpath.typing import FloatArray

__all__ = ["Arcs"]


class Arcs:
    """The arcs of one problem and their cuts.

    Parameters
    ----------
    cutter
        The problem.
    first
        Number of the first arc's column. Arcs 2k and 2k + 1 run to and fro between two nodes.

    Attributes
    ----------
    count
        Number of arcs.
    """

    def __init__(self, cutter: Cutter, first: int) -> None:
        self._cutter, self._first = cutter, first
        self._root = cutter.graph.pieces - 1
        outer = cutter.outer
        low = np.minimum(cutter.node_tail[outer], cutter.node_head[outer])
        high = np.maximum(cutter.node_tail[outer], cutter.node_head[outer])
        order = np.lexsort((outer, high, low))
        new = (np.diff(low[order], prepend=-1) != 0) | (np.diff(high[order], prepend=-1) != 0)
        group = np.cumsum(new) - 1
        lanes = int(group[-1]) + 1
        self._edges: list[list[int]] = [[] for _ in range(lanes)]
        for lane, edge in zip(group.tolist(), outer[order].tolist(), strict=True):
            self._edges[lane].append(edge)
        one, two = low[order][new], high[order][new]
        self._tail: list[int] = np.stack([one, two], axis=1).ravel().tolist()
        self._head: list[int] = np.stack([two, one], axis=1).ravel().tolist()
        self.count = 2 * lanes
        self._into: list[list[int]] = [[] for _ in range(cutter.nodes)]
        self._out: list[list[int]] = [[] for _ in range(cutter.nodes)]
        for arc, (tail, head) in enumerate(zip(self._tail, self._head, strict=True)):
            if head != self._root:
                self._into[head].append(arc)
                self._out[tail].append(arc)

    def first_cuts(self) -> list[Cut]:
        """Tie the arcs to their edges, and let every piece be reached."""
        cuts = []
        for lane, edges in enumerate(self._edges):
            ones = [1.0] * len(edges)
            cut = self._cutter.weigh(edges, ones, ones, 0.0)
            to, fro = self._first + 2 * lane, self._first + 2 * lane + 1
            cuts.append(Cut((*cut.columns, to, fro), (*cut.values, -1.0, -1.0), 0.0))
        pieces = self._cutter.graph.pieces
        cuts += [self._entry({piece}) for piece in range(pieces) if piece != self._root]
        return cuts + self._through()

    def find(self, x: FloatArray) -> list[Cut]:
        """Find sets of nodes that too little enters, by minimum cuts from the root.

        Parameters
        ----------
        x
            All columns.
        """
        value = x[self._first : self._first + self.count].tolist()
        # Backwards, from the piece to the root: so the side found is the smallest round the piece.
        lanes = [
            (self._head[arc], self._tail[arc], v)
            for arc, v in enumerate(value)
            if v > WHOLE and self._head[arc] != self._root
        ]
        flow = Flow(self._cutter.nodes, lanes, directed=True)
        cuts, done = [], set[int]()
        for piece in range(self._cutter.graph.pieces):
            if piece == self._root or piece in done:
                continue
            found = flow.minimum_cut(piece, self._root, 1 - BROKEN)
            if found is not None:
                done |= found[1]
                cuts.append(self._entry(found[1]))
        return cuts

    def _entry(self, nodes: set[int]) -> Cut:
        """Ask for a whole arc into a set of nodes."""
        columns = sorted(
            self._first + arc
            for node in nodes
            for arc in self._into[node]
            if self._tail[arc] not in nodes
        )
        return Cut(tuple(columns), (1.0,) * len(columns), 1.0)

    def _through(self) -> list[Cut]:
        """Let nothing leave a vertex without requirements that has not come in another way."""
        cuts = []
        for node in range(self._cutter.graph.pieces, self._cutter.nodes):
            for arc in self._out[node]:
                others = [self._first + a for a in self._into[node] if a != arc ^ 1]
                columns = (*others, self._first + arc)
                cuts.append(Cut(columns, (1.0,) * len(others) + (-1.0,), 0.0))
        return cuts
