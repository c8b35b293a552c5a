"""Straight bands that no line crosses: what an eye sees as a river through quilting."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, IntArray

__all__ = ["ClearBand", "longest_band"]

_TURNS = 36  # directions that are looked along, over half a round
_PART = 4  # dots over the width of a band


class ClearBand(NamedTuple):
    """A straight band with nothing on it.

    Attributes
    ----------
    start, end
        Ends of its middle line, mm.
    """

    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def length(self) -> float:
        """From end to end, mm."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))


def longest_band(
    ground: BaseGeometry, paths: Sequence[FloatArray], width: float
) -> ClearBand | None:
    """Find the longest straight band of a width between lines, to about a quarter of the width.

    Parameters
    ----------
    ground
        Where it may lie, mm: all of it, at half its width on either side of its middle line.
    paths
        Polylines, shape (k, 2) each, mm.
    width
        mm.

    Returns
    -------
    ClearBand or None
        None where not even a dot has room. The dots that are far enough from every line are looked
        along in 36 directions; the work grows with the ground's area over the width squared.

    Examples
    --------
    >>> lines = [np.array([(0.0, y), (100.0, y)]) for y in (0.0, 30.0, 40.0)]
    >>> band = longest_band(shapely.box(0, 0, 100, 40), lines, 20.0)
    >>> 75 < band.length <= 85, abs(band.start[1] - 15) <= 5
    (True, True)
    """
    step = width / _PART
    dots = _clear(ground, paths, width, step)
    best: ClearBand | None = None
    for turn in np.pi * np.arange(_TURNS) / _TURNS if len(dots) else ():
        along = np.array([np.cos(turn), np.sin(turn)])
        off = np.array([-along[1], along[0]])
        row, at = np.rint(dots @ off / step).astype(np.int64), dots @ along
        order = np.lexsort((at, row))
        first, last = _unbroken(row[order], at[order], step)
        longest = int(np.argmax(at[order][last] - at[order][first]))
        a, b = dots[order[first[longest]]], dots[order[last[longest]]]
        found = ClearBand((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
        if best is None or found.length > best.length + step:
            best = found
    return best


def _clear(
    ground: BaseGeometry, paths: Sequence[FloatArray], width: float, step: float
) -> FloatArray:
    """Dots of a square grid that keep half a width from every line and from the edge."""
    inner = ground.buffer(-width / 2)
    if inner.is_empty:
        return np.empty((0, 2))
    left, top, right, bottom = inner.bounds
    x, y = np.meshgrid(np.arange(left, right + step, step), np.arange(top, bottom + step, step))
    dots: FloatArray = np.column_stack([x.ravel(), y.ravel()])
    shapely.prepare(inner)
    dots = dots[shapely.intersects_xy(inner, dots[:, 0], dots[:, 1])]
    if not paths or not len(dots):
        return dots
    drawn = np.array([LineString(path) for path in paths])
    lines = shapely.segmentize(shapely.multilinestrings(drawn), step)
    far, _ = cKDTree(shapely.get_coordinates(lines)).query(dots, distance_upper_bound=width)
    return dots[far >= width / 2]


def _unbroken(row: IntArray, at: FloatArray, step: float) -> tuple[IntArray, IntArray]:
    """First and last of each stretch of dots of one row with no gap."""
    # in a slanting row the dots of a grid lie up to √2 steps apart
    broken = (np.diff(row) != 0) | (np.diff(at) > 1.6 * step)
    first = np.flatnonzero(np.concatenate([[True], broken]))
    return first, np.append(first[1:], len(row)) - 1
