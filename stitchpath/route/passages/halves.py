"""Cuts by halves: rows that a point keeps to exactly are added up, halved and rounded.

Take rows of whole numbers, ``a @ u <= b`` with ``u >= 0`` whole, whose sum has an odd `b`. Half the
sum with all numbers rounded down holds too, and cuts off a point that keeps to those rows exactly
if the columns that stand in the sum an odd number of times come to less than 1 (Caprara and
Fischetti 1996). Such rows are looked for by elimination modulo 2 (Koster, Zymolka and Kutschka
2009). Combs, and much that has no name, are found so.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.sparse import csr_array, vstack

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.route.exact.cuts import BROKEN, WHOLE
from stitchpath.route.passages.model import Model, Row

__all__ = ["halved_cuts"]

MOST = 100  # cuts given in a round


def halved_cuts(model: Model, cuts: Sequence[Row], x: FloatArray) -> list[Row]:
    """Find cuts that halves of sums of rows give.

    Parameters
    ----------
    model
        The model.
    cuts
        Cuts that may be added up, beside the rows of the model.
    x
        The point to cut off.
    """
    rest = x - model.lower
    tight = [cut for cut in cuts if cut.values @ x[cut.columns] < cut.floor + WHOLE]
    rows, most = _whole_rows(model, tight)
    found = []
    for chosen in _odd_sums(rows, most, rest):
        total = np.asarray(rows[chosen].sum(axis=0)).reshape(-1)
        half = np.floor(total / 2)
        highest = np.floor(most[chosen].sum() / 2)
        broken = float(half @ rest - highest)
        if broken > BROKEN:
            columns = np.flatnonzero(half)
            values = -half[columns]
            floor = float(values @ model.lower[columns] - highest)
            found.append((broken, Row(columns, values, floor)))
    found.sort(key=lambda pair: -pair[0])
    return [row for _, row in found[:MOST]]


def _whole_rows(model: Model, cuts: list[Row]) -> tuple[csr_array, FloatArray]:
    """Write the rows of the model and some cuts as ``a @ u <= b``, u what is above the lower bound.

    Half of a cut round some edge ends is taken from half of their rows: so a set is not asked how
    often it is left, but how much fits within.
    """
    none = np.zeros(0, dtype=np.int64)
    ends = [cut.ends if cut.ends is not None else none for cut in cuts]
    share = np.array([0.5 if len(around) else 1.0 for around in ends])
    table = _table([cut.columns for cut in cuts], [cut.values for cut in cuts], model.columns)
    member = _table(ends, [np.ones(len(around)) for around in ends], model.ends)
    within = (member @ model.rows - table).multiply(share[:, None])
    floor = np.array([cut.floor for cut in cuts])
    rows = csr_array(vstack([model.rows, within], format="csr"))
    most = np.concatenate([np.zeros(model.ends), -share * floor]) - rows @ model.lower
    return rows, most


def _table(columns: list[IntArray], values: list[FloatArray], width: int) -> csr_array:
    """Make a table of rows, each given by its columns and values."""
    start = np.cumsum([0, *(len(row) for row in columns)])
    none = np.zeros(0)
    flat = np.concatenate([none, *columns]).astype(np.int64)
    return csr_array((np.concatenate([none, *values]), flat, start), shape=(len(columns), width))


def _odd_sums(rows: csr_array, most: FloatArray, rest: FloatArray) -> Iterator[IntArray]:
    """Find sets of rows whose sum is odd on the right and little on the left."""
    used = np.flatnonzero(rest > WHOLE)
    used = used[np.argsort(rest[used], kind="stable")]  # the greatest come last: highest bits
    value = rest[used].tolist()
    left = rows[:, used].tocoo()
    odd = np.abs(np.rint(left.data)) % 2 == 1
    bits = [0] * rows.shape[0]
    for row, column in zip(left.row[odd].tolist(), left.col[odd].tolist(), strict=True):
        bits[row] ^= 1 << column
    right = (np.rint(most) % 2 == 1).tolist()
    made = [1 << row for row in range(rows.shape[0])]
    by_top: dict[int, list[int]] = {}
    for row, mask in enumerate(bits):
        if mask or right[row]:
            by_top.setdefault(mask.bit_length() - 1, []).append(row)
    for column in range(len(used) - 1, -1, -1):
        group = by_top.pop(column, [])
        for row in group:
            if right[row] and _sum(bits[row], value) < 1 - BROKEN:
                yield _numbers(made[row])
        group.sort(key=lambda row: (bits[row].bit_count(), made[row].bit_count(), row))
        for row in group[1:]:  # the first clears the column of all others, and goes with it
            bits[row] ^= bits[group[0]]
            right[row] ^= right[group[0]]
            made[row] ^= made[group[0]]
            if bits[row] or right[row]:
                by_top.setdefault(bits[row].bit_length() - 1, []).append(row)
    for row in by_top.pop(-1, []):
        yield _numbers(made[row])


def _sum(mask: int, value: list[float]) -> float:
    """Sum values of the bits of a mask, up to 1."""
    total = 0.0
    while mask and total < 1:
        top = mask.bit_length() - 1
        total += value[top]
        mask ^= 1 << top
    return total


def _numbers(mask: int) -> IntArray:
    """List the bits of a mask."""
    bits = np.frombuffer(mask.to_bytes((mask.bit_length() + 7) // 8, "little"), dtype=np.uint8)
    return np.flatnonzero(np.unpackbits(bits, bitorder="little")).astype(np.int64)
