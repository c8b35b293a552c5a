"""Slices through a region, and the chains that run on from slice to slice without a fork."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.groups import groups

__all__ = ["Slices", "chains", "sliced"]

_FAR = 1e7  # farther than any quilt is wide, mm: keeps rows apart in one sorted list


@dataclass(frozen=True, slots=True)
class Slices:
    """Pieces of parallel lines inside an area, sorted by line and then along it.

    Attributes
    ----------
    row
        Number of the line of each piece, shape (n,).
    at
        Where that line lies across, mm, shape (n,).
    low, high
        Where the piece begins and ends along the line, mm, shape (n,).
    """

    row: IntArray
    at: FloatArray
    low: FloatArray
    high: FloatArray


def sliced(area: BaseGeometry, at: FloatArray, axis: int) -> Slices:
    """Slice an area by straight lines.

    Parameters
    ----------
    area
        mm.
    at
        Where the lines lie, ascending, mm.
    axis
        1 for level lines at y = `at`, 0 for upright ones at x = `at`.

    Returns
    -------
    Slices
    """
    along = 1 - axis
    low, high = area.bounds[along] - 1, area.bounds[along + 2] + 1
    ends = np.empty((len(at), 2, 2))
    ends[:, :, axis] = at[:, None]
    ends[:, :, along] = (low, high)
    shapely.prepare(area)
    pieces, line = shapely.get_parts(
        shapely.intersection(shapely.linestrings(ends), area), return_index=True
    )
    solid = shapely.length(pieces) > 0
    pieces, line = pieces[solid], line[solid]
    points, owner = shapely.get_coordinates(pieces, return_index=True)
    first = np.searchsorted(owner, np.arange(len(pieces)))
    last = np.searchsorted(owner, np.arange(len(pieces)), side="right") - 1
    ends_at = np.sort(np.column_stack([points[first, along], points[last, along]]), axis=1)
    order = np.lexsort((ends_at[:, 0], line))
    row = line[order].astype(np.int64)
    return Slices(row, at[row], ends_at[order, 0], ends_at[order, 1])


def chains(slices: Slices) -> list[IntArray]:
    """Follow slices from row to row as long as neither forks.

    Two slices in neighbouring rows follow each other if they overlap, and neither overlaps with any
    other of that row.

    Parameters
    ----------
    slices
        Sorted as `sliced` gives them.

    Returns
    -------
    list of ndarray
        Indices of the slices of each chain in order; chains in order of their first slices.
    """
    n = len(slices.row)
    base = min(slices.low.min(), 0.0) if n else 0.0
    low, high = (slices.row * _FAR + edge - base for edge in (slices.low, slices.high))
    first = np.searchsorted(high, low + _FAR, side="right")
    after = np.searchsorted(low, high + _FAR, side="left")
    before = np.searchsorted(low, high - _FAR, side="left")
    earlier = np.searchsorted(high, low - _FAR, side="right")
    onward = np.flatnonzero(after - first == 1)
    onward = onward[(before - earlier)[first[onward]] == 1]
    label = groups(n, onward, first[onward])
    order = np.argsort(label, kind="stable")
    cuts = np.flatnonzero(np.diff(label[order])) + 1
    return sorted(np.split(order, cuts), key=lambda chain: int(chain[0])) if n else []
