"""A postman problem with its hub as one more vertex, and what can be read off the graph."""

from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray

__all__ = ["HubGraph", "at_most_twice"]


@dataclass(frozen=True, slots=True)
class HubGraph:
    """What is left to decide, once every required edge has had its first pass.

    Attributes
    ----------
    vertices
        Number of vertices, with the hub, if there is one, as the last.
    hub
        Its number, or ``vertices`` where there is none.
    tail, head
        Edge ends, shape (m,), ``tail < head``: no self loops, no two edges alike; the
        hub is always a head.
    price
        What one more pass costs, shape (m,), finite.
    odd
        Vertices at which an odd number of required edges meet, shape (vertices,).
    piece
        Shape (vertices,): which piece of required lines a vertex belongs to, counted from 0; the
        hub is a piece of its own; -1 where no required edge meets.
    """

    vertices: int
    hub: int
    tail: IntArray
    head: IntArray
    price: FloatArray
    odd: BoolArray
    piece: IntArray

    @property
    def edges(self) -> int:
        """Number of edges."""
        return len(self.tail)

    @property
    def pieces(self) -> int:
        """Number of pieces that have to be joined."""
        return int(self.piece.max(initial=-1)) + 1

    def nodes(self) -> IntArray:
        """Shrink each piece to one node.

        Returns
        -------
        IntArray
            Node of each vertex, shape (vertices,): the pieces come first, then the vertices where
            nothing is required, one by one.
        """
        free = self.piece < 0
        node = self.piece.copy()
        node[free] = self.pieces + np.arange(int(free.sum()))
        return node


def at_most_twice(passes: IntArray) -> IntArray:
    """Leave out passes beyond the second two by two: that changes neither parity nor connection.

    Parameters
    ----------
    passes
        Passes over each edge, shape (m,).
    """
    return np.where(passes > 0, 2 - passes % 2, 0)
