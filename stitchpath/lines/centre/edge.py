"""How far points are from the edge of a piece, many at once."""

from functools import cached_property

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely import MultiPolygon, Polygon

from stitchpath.base.typing import FloatArray, IntArray

__all__ = ["NEAR", "Ground"]

NEAR = 1e-3  # mm: as good as there
# Between samples of the edge so far apart, mm, the nearest of them is an end of the nearest bit of
# edge but for places as far from two bits within a hair.
_STEP, _MOST = 0.4, 12_000
_LEAF = 24  # samples in a leaf of their tree: found the quickest for a few thousand
_MARCHES = 80  # steps of a walk to the edge, at most


class Ground:
    """The area of a piece, ready to be asked how far points are from its edge.

    Parameters
    ----------
    outline
        Valid outline, mm.
    """

    def __init__(self, outline: Polygon | MultiPolygon) -> None:
        self.outline = outline
        shapely.prepare(self.outline)

    @cached_property
    def _bits(self) -> tuple[KDTree, FloatArray, IntArray, IntArray]:
        """Samples of the edge, also as rows x and y, and which comes before and after each."""
        rings = [r for p in shapely.get_parts(self.outline) for r in (p.exterior, *p.interiors)]
        step = max(_STEP, self.outline.length / _MOST)
        points = [shapely.get_coordinates(shapely.segmentize(ring, step))[:-1] for ring in rings]
        sizes = np.array([len(some) for some in points], dtype=np.int64)
        first = np.repeat(np.cumsum(sizes) - sizes, sizes)
        size = np.repeat(sizes, sizes)
        place = np.arange(len(first)) - first
        before, after = first + (place - 1) % size, first + (place + 1) % size
        spots = np.concatenate(points)
        tree = KDTree(spots, _LEAF, compact_nodes=False, balanced_tree=False)
        return tree, np.ascontiguousarray(spots.T), before, after

    def away(self, points: FloatArray) -> FloatArray:
        """Distance of points (n, 2) to the edge on either side of it, shape (n,), mm."""
        tree, (x, y), before, after = self._bits
        nearest = tree.query(points)[1]
        across, down = points[:, 0] - x[nearest], points[:, 1] - y[nearest]
        found = np.full(len(points), np.inf)
        for other in (before[nearest], after[nearest]):
            wide, high = x[other] - x[nearest], y[other] - y[nearest]
            long = np.maximum(wide * wide + high * high, 1e-18)
            share = np.clip((across * wide + down * high) / long, 0.0, 1.0)
            found = np.minimum(found, np.hypot(across - share * wide, down - share * high))
        return found

    def clear(self, points: FloatArray) -> FloatArray:
        """Distance of points (n, 2) to the edge, shape (n,), mm; below 0 outside the piece."""
        away = self.away(points)
        signed: FloatArray = np.where(shapely.contains_xy(self.outline, points), away, -away)
        return signed

    def ahead(self, points: FloatArray, headings: FloatArray) -> FloatArray:
        """How far the edge lies ahead of points inside, each in its direction, shape (n,), mm.

        The distance to the edge is how far one can safely go each time (sphere tracing, Hart 1996).
        """
        gone = np.zeros(len(points))
        for _ in range(_MARCHES):
            gap = self.clear(points + gone[:, None] * headings)
            if np.all(gap < NEAR):
                break
            gone += np.where(gap < NEAR, 0.0, gap)
        return gone
