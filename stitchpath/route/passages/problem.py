"""What a route costs when passing from one edge to the next has a price too.

Each edge e has two *ends*: 2e at its tail and 2e + 1 at its head. A run arrives by one end at a
vertex and leaves by another there, or by the same one if it goes straight back. What that passage
costs is the same both ways: a turn, coming into an area or leaving it, another foot. Beside it
stand the passes over edges and the ends of runs, as in `route/postman.py`.
"""

from dataclasses import dataclass, replace

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.hands.areas import GROUND
from stitchpath.network.passing import Passing

__all__ = ["GROUND", "Passages", "Passing", "Trip", "both_ends", "cost_of"]


@dataclass(frozen=True, slots=True)
class Passages:
    """What has to be stitched, and what everything costs.

    Attributes
    ----------
    vertices
        Number of vertices, n.
    tail, head
        Edge ends, shape (m,); edges may be parallel, and may be self loops.
    required
        Edges that must be stitched, shape (m,).
    first, again
        Price of the first pass over each edge that must be stitched, and of every other pass;
        shape (m,). inf in `again` forbids it. `first` counts for edges that must be stitched only.
    end
        Price of a run end at each vertex, shape (n,); inf forbids ends there.
    passing
        What it costs to pass from one edge to the next.
    """

    vertices: int
    tail: IntArray
    head: IntArray
    required: BoolArray
    first: FloatArray
    again: FloatArray
    end: FloatArray
    passing: Passing

    @property
    def at(self) -> IntArray:
        """Vertex of each edge end, shape (2m,)."""
        return np.stack([self.tail, self.head], axis=1).reshape(-1).astype(np.int64)

    @property
    def end_at(self) -> FloatArray:
        """Price of a run that begins or stops at each edge end, shape (2m,).

        Coming to an area, or going away from it, counts there too.
        """
        inside = np.repeat(self.passing.area != GROUND, 2)
        return np.asarray(self.end[self.at] + 0.5 * self.passing.visit * inside)


@dataclass(frozen=True, slots=True)
class Trip:
    """One run: the edges that it passes.

    Attributes
    ----------
    edges
        In order, shape (k,).
    forward
        True where an edge is walked from tail to head, shape (k,).
    """

    edges: IntArray
    forward: BoolArray

    @property
    def out(self) -> IntArray:
        """Edge ends by which it leaves vertices, shape (k,)."""
        return np.asarray(2 * self.edges + ~self.forward)

    @property
    def into(self) -> IntArray:
        """Edge ends by which it arrives at vertices, shape (k,)."""
        return np.asarray(2 * self.edges + self.forward)


def both_ends(edges: IntArray) -> IntArray:
    """Give the two ends of each edge: 2e and 2e + 1, shape (2k,)."""
    return np.stack([2 * edges, 2 * edges + 1], axis=1).reshape(-1)


def cost_of(problem: Passages, trips: list[Trip]) -> float:
    """Price some runs, from the prices of the problem.

    Parameters
    ----------
    problem
        The prices.
    trips
        The runs.

    Raises
    ------
    ValueError
        If a run is torn: an edge does not begin where the one before it ended.
    """
    at, ends = problem.at, problem.end_at
    turning = replace(problem.passing, change=0.0)  # feet are counted line by line
    cost = float(problem.first[problem.required].sum())
    passes = np.zeros(len(problem.tail), dtype=np.int64)
    for trip in trips:
        np.add.at(passes, trip.edges, 1)
        arrive, leave = trip.into[:-1], trip.out[1:]
        if (at[arrive] != at[leave]).any():
            raise ValueError("an edge does not begin where the one before it ended")
        cost += float(turning.price(arrive, leave, at[arrive]).sum())
        cost += problem.passing.change * problem.passing.changes(trip.edges)
        cost += float(ends[trip.out[0]] + ends[trip.into[-1]])
    again = np.maximum(passes - problem.required, 0)
    return cost + float(problem.again[again > 0] @ again[again > 0])
