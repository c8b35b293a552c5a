"""A postman problem with its hub as one more vertex, and what can be read off the graph."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["HubGraph", "labels"]


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
    def pieces(self) -> int:
        """Number of pieces that have to be joined."""
        return int(self.piece.max(initial=-1)) + 1


def labels(vertices: int, tail: IntArray, head: IntArray) -> IntArray:
    """Tell apart the connected parts of a graph, shape (vertices,)."""
    ones = np.ones(len(tail), dtype=np.int8)
    graph = coo_matrix((ones, (tail, head)), shape=(vertices, vertices))
    return connected_components(graph, directed=False)[1].astype(np.int64)
