"""Cuts from halves: sums of other cuts that are odd for every tour (zero-half cuts).

The single passes at a vertex v are ``odd(v) + 2 z(v)`` for a whole number z(v). So the passes that
leave a set S are ``odd(S) + 2 z(S) - 2 single(within S)``, and many a cut says that some whole
number, half of what it leaves, is not negative. Add up such halves and columns: where each column
and each z ends up an even number of times and the constants an odd number, the sum is odd for every
tour. So it is at least 1 (Caprara and Fischetti 1996). Sums that a point breaks are found by Gauss
elimination over the field of two elements (Caprara, Fischetti and Letchford 2000; with cuts that
leave a little, Koster, Zymolka and Kutschka 2009). They hold many known families, such as combs and
path bridges, and need no search for the shape of any.
"""

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.route.exact.cuts import BROKEN, WHOLE, Cut, Cutter

__all__ = ["HalfSums"]

# Cuts that leave more than this are not added up.
LEAVING = 1.0
# How many cuts to give at once at most, and how often to look for them while columns go.
MOST, LOOKS = 30, 16
# Past so many edges the table of bits takes more time and room than it is worth.
LARGEST = 4000
# How often to look, and by how much the order of the columns is shaken.
TRIES, SHAKE = 3, 0.9


class _Half(NamedTuple):
    """Half of what a cut leaves, as a sum over the field of two elements.

    `bits` are the columns that are in it an odd number of times, z(v) counted as column n + v;
    `constant` is its constant, and `floor` what the cut's floor may be raised to.
    """

    bits: IntArray
    constant: int
    floor: float


class HalfSums:
    """Adds up halves of cuts.

    Parameters
    ----------
    cutter
        The problem.
    columns
        Number of columns for single and double passes.
    """

    def __init__(self, cutter: Cutter, columns: int) -> None:
        graph = cutter.graph
        self._graph, self._columns = graph, columns
        self._near: list[list[tuple[int, int]]] = [[] for _ in range(graph.vertices)]
        for edge, (a, b) in enumerate(zip(graph.tail.tolist(), graph.head.tolist(), strict=True)):
            self._near[a].append((b, edge))
            self._near[b].append((a, edge))
        self._chance = np.random.default_rng(0)  # the same on every run
        self._met = [v for v, row in enumerate(self._near) if row]
        self._tree = self._grown()
        self._odd: list[int] = graph.odd.astype(int).tolist()
        self._known: dict[Cut, _Half | None] = {}
        self._at = [_Half(np.array([e for _, e in self._near[v]]), self._odd[v], 0.0)
                    for v in self._met]  # fmt: skip

    def find(self, x: FloatArray, cuts: Sequence[Cut]) -> list[Cut]:
        """Find sums that a point breaks.

        Parameters
        ----------
        x
            All columns.
        cuts
            Cuts that leave little at this point.
        """
        graph = self._graph
        if graph.edges > LARGEST:
            return []
        degree = np.bincount(graph.tail, x[: graph.edges], minlength=graph.vertices)
        degree += np.bincount(graph.head, x[: graph.edges], minlength=graph.vertices)
        value = np.concatenate([x[: self._columns], (degree - graph.odd) / 2])
        halves, used, slack = [*self._at], [], [0.0] * len(self._at)
        for cut in cuts:
            half = self._half(cut)
            if half is None:
                continue
            left = float(np.dot(cut.values, x[list(cut.columns)])) - half.floor
            if left < LEAVING:
                halves.append(half)
                used.append(cut)
                slack.append(max(left / 2, 0.0))
        first = len(self._at)
        best: dict[Cut, float] = {}
        for _ in range(TRIES):
            shake = self._chance.uniform(1 - SHAKE, 1 + SHAKE, len(value))
            sums = _Sums(halves, np.array(slack), value, self._columns, shake)
            for rows, columns, full in sums.broken():
                cut = self._cut([used[i - first] for i in rows if i >= first], columns, full)
                missing = cut.floor - float(np.dot(cut.values, x[list(cut.columns)]))
                if missing > BROKEN:
                    best[cut] = missing / float(np.linalg.norm(cut.values))
        return sorted(best, key=lambda cut: -best[cut])[:MOST]

    def _half(self, cut: Cut) -> _Half | None:
        if cut not in self._known:
            self._known[cut] = self._halved(cut)
        return self._known[cut]

    def _halved(self, cut: Cut) -> _Half | None:
        """Halve a cut, if what it leaves is even or odd for all tours alike."""
        edges = self._graph.edges
        if not cut.columns or cut.columns[-1] >= self._columns:
            return None
        if any(v != int(v) for v in cut.values):
            return None
        values = dict(zip(cut.columns, (int(v) for v in cut.values), strict=True))
        if any(v % 2 for c, v in values.items() if c >= edges):
            return None
        side = self._side({c for c, v in values.items() if v % 2})
        if side is None:
            return None
        for v in side:  # less the passes that leave the side, and those within twice
            for _, edge in self._near[v]:
                values[edge] = values.get(edge, 0) - 1
        odd = sum(self._odd[v] for v in side)
        constant = ceil((cut.floor - odd) / 2 - WHOLE)
        bits = [c for c, v in values.items() if v % 4] + [self._columns + v for v in side]
        return _Half(np.array(bits, dtype=np.int64), constant % 2, 2.0 * constant + odd)

    def _side(self, crossing: set[int]) -> list[int] | None:
        """Give a set of vertices that just these edges leave, if there is one."""
        graph = self._graph
        side = [False] * graph.vertices
        for here, above, edge in self._tree:
            side[here] = side[above] != (edge in crossing)
        inside = np.array(side)
        crossed = np.zeros(graph.edges, dtype=bool)
        crossed[list(crossing)] = True
        if not np.array_equal(inside[graph.tail] != inside[graph.head], crossed):
            return None
        if 2 * inside.sum() > len(self._tree):
            inside[self._met] ^= True
        return np.flatnonzero(inside).tolist()

    def _grown(self) -> list[tuple[int, int, int]]:
        """Grow a tree over all vertices: each with the one before it and the edge between."""
        tree: list[tuple[int, int, int]] = []
        seen = np.zeros(self._graph.vertices, dtype=bool)
        for start in self._met:
            todo = [] if seen[start] else [start]
            seen[start] = True
            for here in todo:
                for there, edge in self._near[here]:
                    if not seen[there]:
                        seen[there] = True
                        tree.append((there, here, edge))
                        todo.append(there)
        return tree

    def _cut(self, cuts: list[Cut], columns: list[int], full: list[int]) -> Cut:
        """Write down a sum: halves of cuts, columns, and what full columns lack of 1."""
        total: dict[int, float] = {}
        floor = 2.0
        for cut in cuts:
            half = self._half(cut)
            floor += half.floor if half else 0.0
            for column, value in zip(cut.columns, cut.values, strict=True):
                total[column] = total.get(column, 0.0) + value
        for column in columns:
            if column < self._columns:
                total[column] = total.get(column, 0.0) + 2
                continue
            vertex = column - self._columns
            floor += self._odd[vertex]
            for _, edge in self._near[vertex]:
                total[edge] = total.get(edge, 0.0) + 1
        for column in full:
            total[column] = total.get(column, 0.0) - 2
            floor -= 2
        names = sorted(column for column, value in total.items() if value)
        return Cut(tuple(names), tuple(total[column] for column in names), floor)


class _Sums:
    """Sums of halves over the field of two elements, as rows of bits.

    Parameters
    ----------
    halves
        What may be added up.
    slack
        What each leaves, shape (rows,).
    value
        The point: columns, then z, shape (columns + vertices,).
    columns
        Number of columns, which end at 1.
    """

    def __init__(
        self,
        halves: list[_Half],
        slack: FloatArray,
        value: FloatArray,
        columns: int,
        shake: FloatArray | float,
    ) -> None:
        self._slack = slack
        up = np.zeros(len(value), dtype=bool)
        up[:columns] = value[:columns] > 0.5  # noqa: PLR2004
        near = np.maximum(np.where(up, 1 - value, value), 0.0)
        # Only columns far from both their ends matter; all others end up where they stand.
        self._soft = np.flatnonzero(near > WHOLE)
        self._soft = self._soft[np.argsort((-near * shake)[self._soft], kind="stable")]
        self._near, self._up, self._columns = near, up, columns
        place = np.full(len(value), -1)
        place[self._soft] = np.arange(len(self._soft))
        rows, size = len(halves), len(self._soft)
        bits = np.zeros((rows, size + 1 + rows), dtype=np.uint8)
        for row, half in enumerate(halves):
            where = place[half.bits]
            bits[row, where[where >= 0]] = 1
            bits[row, size] = (half.constant + int(up[half.bits].sum())) % 2
        bits[:, size + 1 :] = np.eye(rows, dtype=np.uint8)
        self._bits = np.packbits(bits, axis=1, bitorder="little")
        self._width = size + 1 + rows
        self._halves = halves

    def broken(self) -> list[tuple[list[int], list[int], list[int]]]:
        """Give sums below 1, worst first: rows, columns, and columns taken from their full end."""
        size = len(self._soft)
        left = self._slack.copy()
        free = np.ones(len(left), dtype=bool)
        found: dict[bytes, float] = {}
        for column in range(size):
            if column % max(size // LOOKS, 1) == 0:
                self._look(left, free, found)
            having = (self._bits[:, column >> 3] >> (column & 7)) & 1 > 0
            having &= free
            rows = np.flatnonzero(having)
            if not len(rows):
                continue
            pivot = rows[np.argmin(left[rows])]
            rows = rows[rows != pivot]
            self._bits[rows] ^= self._bits[pivot]
            left[rows] += left[pivot]
            free[pivot] = False
            free &= left < 1 - BROKEN
        self._look(left, free, found)
        best = sorted(found, key=lambda key: (found[key], key))[:MOST]
        return [self._read(key) for key in best]

    def _look(self, left: FloatArray, free: BoolArray, found: dict[bytes, float]) -> None:
        """Note all sums that are odd and below 1 with the columns they still hold at their ends."""
        size = len(self._soft)
        rows = np.flatnonzero(free)
        bits = np.unpackbits(self._bits[rows], axis=1, count=size + 1, bitorder="little")
        near = self._near[self._soft]
        total = left[rows] + bits[:, :size] @ near
        odd = bits[:, size] > 0
        for row in np.flatnonzero(odd & (total < 1 - BROKEN)).tolist():
            key = self._bits[rows[row]].tobytes()
            found.setdefault(key, float(total[row]))

    def _read(self, key: bytes) -> tuple[list[int], list[int], list[int]]:
        """Tell what a sum holds, by adding it up anew."""
        size = len(self._soft)
        bits = np.unpackbits(
            np.frombuffer(key, dtype=np.uint8), count=self._width, bitorder="little"
        )
        rows = np.flatnonzero(bits[size + 1 :]).tolist()
        times = np.zeros(len(self._near), dtype=np.int64)
        for row in rows:
            np.add.at(times, self._halves[row].bits, 1)
        uneven = np.flatnonzero(times % 2)
        up = self._up[uneven]
        return rows, uneven[~up].tolist(), uneven[up].tolist()
