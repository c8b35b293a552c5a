"""Small sums over many polylines at once."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.tolerances import GRID

__all__ = [
    "distances",
    "heights",
    "joined_paths",
    "moved_aside",
    "moving_on",
    "on_grid",
    "path_keys",
    "path_lengths",
]


def on_grid(points: FloatArray) -> FloatArray:
    """Bring a polyline to the grid and drop points that fall together.

    Parameters
    ----------
    points
        Shape (n, 2), mm.

    Returns
    -------
    FloatArray
        At least two points.
    """
    snapped = np.rint(points / GRID) * GRID
    kept: FloatArray = snapped[moving_on(snapped)]
    return kept if len(kept) > 1 else snapped[:1].repeat(2, axis=0)


def moving_on(points: FloatArray | IntArray) -> BoolArray:
    """Tell which points of a polyline do not repeat the one before them, shape (n,).

    Examples
    --------
    >>> moving_on(np.array([[0, 0], [0, 0], [5, 0]])).tolist()
    [True, False, True]
    """
    return np.append(True, np.any(np.diff(points, axis=0) != 0, axis=1))


def moved_aside(points: FloatArray, aside: float) -> FloatArray:
    """Move a polyline to its left, so that a second pass is seen beside the first.

    Parameters
    ----------
    points
        Shape (n, 2).
    aside
        How far, in the unit of the points; to the right, with y pointing down, if less than 0.

    Returns
    -------
    FloatArray
        Shape (k, 2). Where the polyline is so bent that it falls into parts, one after another;
        where nothing is left of it, as it was.

    Examples
    --------
    >>> moved_aside(np.array([[0.0, 0.0], [10.0, 0.0]]), 2.0).tolist()
    [[0.0, 2.0], [10.0, 2.0]]
    """
    line = shapely.offset_curve(LineString(points), aside, join_style="mitre")
    moved = shapely.get_coordinates(line)
    return moved if len(moved) else points


def distances(points: FloatArray) -> FloatArray:
    """Measure how far along a polyline each of its points lies.

    Parameters
    ----------
    points
        Shape (n, 2).

    Returns
    -------
    FloatArray
        Shape (n,), from 0 to the length of the polyline, in the unit of the points.
    """
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def path_lengths(paths: Sequence[FloatArray]) -> FloatArray:
    """Measure polylines.

    Parameters
    ----------
    paths
        Each of shape (n, 2), n at least 2, mm.

    Returns
    -------
    FloatArray
        Length of each, mm.
    """
    if not paths:
        return np.zeros(0)
    starts, points = joined_paths(paths)
    steps = np.hypot(*np.diff(points, axis=0).T)
    steps[starts[1:] - 1] = 0  # from the end of one path to the start of the next
    return np.add.reduceat(np.append(steps, 0.0), starts)


def heights(paths: Sequence[FloatArray], axis: int = 1) -> tuple[FloatArray, FloatArray]:
    """Measure from where to where polylines reach.

    Parameters
    ----------
    paths
        One at least, each of shape (n, 2), mm.
    axis
        0 for x, 1 for y.

    Returns
    -------
    tuple of FloatArray
        Least and greatest of each, mm.
    """
    starts, points = joined_paths(paths)
    y = np.ascontiguousarray(points[:, axis])
    return np.minimum.reduceat(y, starts), np.maximum.reduceat(y, starts)


def path_keys(paths: Sequence[FloatArray]) -> list[tuple[int, ...]]:
    """Tell polylines apart, whichever way they run: by both ends and the sum of their points, µm.

    Parameters
    ----------
    paths
        Each of shape (n, 2), on the grid.
    """
    if not paths:
        return []
    starts, points = joined_paths(paths)
    grid = np.rint(points / GRID).astype(np.int64)
    sums = np.add.reduceat(grid, starts, axis=0)
    first, last = grid[starts], grid[np.append(starts[1:], len(grid)) - 1]
    turned = (first[:, 0] > last[:, 0]) | ((first[:, 0] == last[:, 0]) & (first[:, 1] > last[:, 1]))
    low = np.where(turned[:, None], last, first)
    high = np.where(turned[:, None], first, last)
    return [tuple(row) for row in np.hstack([low, high, sums]).tolist()]


def joined_paths(paths: Sequence[FloatArray]) -> tuple[IntArray, FloatArray]:
    """Lay polylines end to end in one array, to reckon with all of them at once.

    Parameters
    ----------
    paths
        One at least, each of shape (n, 2).

    Returns
    -------
    starts
        Where each begins in the array, shape (len(paths),).
    points
        Of all of them, shape (sum of n, 2).
    """
    counts = np.array([len(path) for path in paths], dtype=np.int64)
    return np.concatenate([[0], np.cumsum(counts[:-1])]), np.concatenate(paths)
