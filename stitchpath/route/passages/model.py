"""The route as numbers: how often each edge, each passage and each run end is used.

Two passes over one edge are not told apart. So there is one column for each pair of edge ends at a
vertex, one for a run end at each edge end, and one for each edge. What arrives by an edge end goes
on from there or ends there: that is the one row an edge end has.

An edge may be passed any number of times here. So what is proven holds for every set of runs.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.route.passages.problem import Passages

__all__ = ["Fan", "Model", "Row", "model_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """The inequality ``sum(values * x[columns]) >= floor``.

    Attributes
    ----------
    columns
        Ascending, shape (k,).
    values
        Whole numbers, shape (k,).
    floor
        A whole number.
    ends
        The edge ends that it goes round, where it is a cut round some, shape (j,).
    """

    columns: IntArray
    values: FloatArray
    floor: float
    ends: IntArray | None = None

    @property
    def key(self) -> bytes:
        """What tells it from every other row."""
        return self.columns.tobytes() + self.values.tobytes() + np.float64(self.floor).tobytes()


@dataclass(frozen=True, slots=True)
class Fan:
    """All vertices at which so many edge ends lie.

    Attributes
    ----------
    ends
        Edge ends, shape (vertices, degree).
    passage
        Column of the passage between each two of them, shape (vertices, degree, degree); -1 where
        there is none.
    """

    ends: IntArray
    passage: IntArray


@dataclass(frozen=True)
class Model:
    """Columns and rows of a problem.

    Columns are the passages, then the run ends, then the edges.

    Attributes
    ----------
    edges
        Edges of the problem that can be used, shape (k,). Edge i here is ``edges[i]`` there; its
        ends are 2i at the tail and 2i + 1 at the head.
    required
        Which of them must be stitched, shape (k,).
    a, b
        Edge ends of each passage, ``a <= b``, shape (passages,).
    stop
        Edge end of each run end, shape (run ends,).
    price, lower, upper
        Of all columns.
    constant
        Price of every required edge once.
    fans
        Edge ends by vertex.
    """

    edges: IntArray
    required: BoolArray
    a: IntArray
    b: IntArray
    stop: IntArray
    price: FloatArray
    lower: FloatArray
    upper: FloatArray
    constant: float
    fans: tuple[Fan, ...]

    @property
    def columns(self) -> int:
        """Number of columns."""
        return len(self.price)

    @property
    def ends(self) -> int:
        """Number of edge ends."""
        return 2 * len(self.edges)

    @property
    def first_stop(self) -> int:
        """Column of the first run end."""
        return len(self.a)

    @property
    def first_edge(self) -> int:
        """Column of the first edge."""
        return len(self.a) + len(self.stop)

    @cached_property
    def odd(self) -> BoolArray:
        """Edge ends whose edge must be stitched, shape (ends,)."""
        return np.repeat(self.required, 2)

    @cached_property
    def rows(self) -> csr_array:
        """What each edge end uses less what its edge asks for, shape (ends, columns): all are 0."""
        passages, stops, ends = len(self.a), len(self.stop), self.ends
        row = np.concatenate([self.a, self.b, self.stop, np.arange(ends)])
        column = np.concatenate(
            [
                np.arange(passages),
                np.arange(passages),
                self.first_stop + np.arange(stops),
                self.first_edge + np.arange(ends) // 2,
            ]
        )
        value = np.concatenate([np.ones(2 * passages + stops), np.full(ends, -1.0)])
        return csr_array((value, (row, column)), shape=(ends, self.columns))

    def parity_cut(self, ends: IntArray) -> Row:
        """Ask that not everything be used just once round a set of edge ends.

        What leaves the set (passages, run ends, and passes over edges with one end in it) is even
        in number. If an odd number of edges with one end in it must be stitched, something beyond
        one pass over each of them leaves it: one more at least (Edmonds and Johnson 1973).
        """
        leaving, edges = self._leaving(ends)
        columns = np.concatenate([leaving, edges + self.first_edge])
        return _cut(columns, 1.0 + self.required[edges].sum(), ends)

    def connection_cut(self, edges: IntArray) -> Row:
        """Ask for two ways out of a set of edges of which one must be stitched."""
        ends = np.concatenate([2 * edges, 2 * edges + 1])
        leaving, _ = self._leaving(ends)
        return _cut(leaving, 2.0, ends)

    def first_cuts(self) -> list[Row]:
        """Give the cuts round each vertex with an odd number of required ends, and round all."""
        cuts = [self.connection_cut(np.arange(len(self.edges)))]
        for fan in self.fans:
            odd = self.odd[fan.ends].sum(axis=1) % 2 == 1
            cuts += [self.parity_cut(ends) for ends in fan.ends[odd]]
        return cuts

    def _leaving(self, ends: IntArray) -> tuple[IntArray, IntArray]:
        """Give columns of passages and run ends that leave a set of ends, and edges that do."""
        first, columns = self._around
        met = [columns[first[end] : first[end + 1]] for end in ends.tolist()]
        return _once(np.concatenate(met)), _once(ends // 2)

    @cached_property
    def _around(self) -> tuple[IntArray, IntArray]:
        """Passages to other ends, and run ends, by edge end: where each begins, and columns."""
        other = np.flatnonzero(self.a != self.b)
        row = np.concatenate([self.a[other], self.b[other], self.stop])
        column = np.concatenate([other, other, self.first_stop + np.arange(len(self.stop))])
        order = np.argsort(row, kind="stable")
        first = np.searchsorted(row[order], np.arange(self.ends + 1))
        return first.astype(np.int64), column[order]


def _once(numbers: IntArray) -> IntArray:
    """Give the numbers that stand just once, ascending."""
    ordered = np.sort(numbers)
    differs = np.ones(len(ordered) + 1, dtype=bool)
    differs[1:-1] = ordered[1:] != ordered[:-1]
    return np.asarray(ordered[(differs[1:] & differs[:-1])[: len(ordered)]])


def _cut(columns: IntArray, floor: float, ends: IntArray) -> Row:
    return Row(columns, np.ones(len(columns)), floor, ends)


def model_of(problem: Passages) -> Model:
    """Make the columns of a problem.

    Parameters
    ----------
    problem
        The problem.
    """
    again = np.isfinite(problem.again)
    edges = np.flatnonzero(problem.required | again)
    required, again = problem.required[edges], again[edges]
    origin = np.stack([2 * edges, 2 * edges + 1], axis=1).reshape(-1)
    at, end_at = problem.at[origin], problem.end_at[origin]
    pairs, fans = _pairs(at, np.repeat(again, 2))
    a, b = pairs
    stop = np.flatnonzero(np.isfinite(end_at))
    more = np.where(again, problem.again[edges], 0.0)
    price = [problem.passing.price(origin[a], origin[b], at[a]), end_at[stop], more]
    most = np.where(again, np.inf, required)
    free = len(a) + len(stop)
    return Model(
        edges,
        required,
        a,
        b,
        stop,
        np.concatenate(price),
        np.concatenate([np.zeros(free), required]),
        np.concatenate([np.full(free, np.inf), most]),
        float(problem.first[problem.required].sum() - more[required].sum()),
        fans,
    )


def _pairs(at: IntArray, twice: BoolArray) -> tuple[tuple[IntArray, IntArray], tuple[Fan, ...]]:
    """Pair the edge ends at each vertex; one by itself only where one can go straight back."""
    order = np.argsort(at, kind="stable")
    _, first, degree = np.unique(at[order], return_index=True, return_counts=True)
    one: list[IntArray] = []
    other: list[IntArray] = []
    fans = []
    columns = 0
    for size in np.unique(degree).tolist():
        ends = order[first[degree == size][:, None] + np.arange(size)]
        i, j = np.triu_indices(size)
        a, b = ends[:, i], ends[:, j]
        real = (a != b) | twice[a]
        number = np.where(real, columns + np.cumsum(real).reshape(real.shape) - 1, -1)
        columns += int(real.sum())
        passage = np.empty((len(ends), size, size), dtype=np.int64)
        passage[:, i, j] = passage[:, j, i] = number
        fans.append(Fan(ends, passage))
        one.append(a[real])
        other.append(b[real])
    return (np.concatenate(one), np.concatenate(other)), tuple(fans)
