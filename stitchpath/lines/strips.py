"""Strips of a top in a frame: where the quilt is rolled on.

The quilt is stretched with its top edge first; y runs along the way it is rolled.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.design.model import Design
from stitchpath.geometry.polylines import heights, joined_paths
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.line import Line
from stitchpath.top.build import Top
from stitchpath.typing import FloatArray, IntArray

__all__ = ["Level", "at_level", "frame_levels", "strip_levels", "way_round"]

_OFF_EDGE = 12.7  # mm: half an inch is far enough off the top to start and stop (common practice)
_RASTER = 5.0  # mm between levels that are tried beside the ends of lines


class Level(NamedTuple):
    """Where one strip ends and the next begins.

    Attributes
    ----------
    y
        Where what has to be cut is cut, mm.
    reach
        How far beyond it, up and down, lines of either strip may lie uncut, mm: what the frame can
        reach in both.
    """

    y: float
    reach: float


def way_round(outline: Polygon, margin: float) -> Polygon:
    """Give the way round a top in its margin, mm; with no margin it is the edge itself."""
    off = min(margin / 2, _OFF_EDGE)
    ring = outline.buffer(off, join_style="mitre", mitre_limit=2.0) if off > 0 else outline
    return shapely.orient_polygons(ring)


def frame_levels(design: Design, top: Top, lines: Sequence[Line]) -> tuple[Level, ...]:
    """Choose where strips end, for a quilt in a frame of known depth; else there are none.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        What is to be quilted.

    Returns
    -------
    tuple of Level
        From the top edge.
    """
    depth = design.machine.depth
    if design.machine.kind != "frame" or depth is None:
        return ()
    _, low, _, high = way_round(top.outline, design.batting.margin).bounds
    levels = strip_levels([line.points for line in lines], low, high, depth)
    # What a strip leaves of the depth is shared by its two ends.
    spare = [max(depth - (b - a), 0.0) / 2 for a, b in pairwise((low, *levels, high))]
    if levels:
        spare[0], spare[-1] = 2 * spare[0], 2 * spare[-1]
    return tuple(Level(y, min(pair)) for y, pair in zip(levels, pairwise(spare), strict=True))


def strip_levels(
    paths: Sequence[FloatArray], low: float, high: float, depth: float
) -> tuple[float, ...]:
    """Choose where strips end: as few strips as can be, then cutting as seldom as can be.

    Of several ways that do as well, the one with the most even strips.

    Parameters
    ----------
    paths
        Lines to quilt, each of shape (n, 2), mm.
    low, high
        Least and greatest y that is stitched, mm, a way round in the margin included.
    depth
        What can be stitched before the quilt is rolled on, mm, above 0.

    Returns
    -------
    tuple of float
        y where one strip ends and the next begins, ascending; none if the top fits in one.
    """
    if high - low <= depth + GRID:
        return ()
    at = _candidates(paths, low, high, depth)
    at, cut = np.append(at, high), np.append(_crossings(paths, at), 0)
    # Fewest strips from the top to each level, then fewest cuts, then the most even strips.
    cost = np.full((len(at), 3), np.inf)
    before = np.full(len(at), -1)
    for k, y in enumerate(at.tolist()):
        if y - low <= depth + GRID:
            cost[k] = (1, cut[k], (y - low) ** 2)
            continue
        reach = np.arange(np.searchsorted(at, y - depth - GRID), k)
        strips, cuts, uneven = cost[reach].T
        best = reach[np.lexsort((uneven + (y - at[reach]) ** 2, cuts, strips))[0]]
        cost[k] = cost[best] + (1, cut[k], (y - at[best]) ** 2)
        before[k] = best
    levels = []
    k = int(before[-1])
    while k >= 0:
        levels.append(float(at[k]))
        k = int(before[k])
    return tuple(levels[::-1])


def _candidates(paths: Sequence[FloatArray], low: float, high: float, depth: float) -> FloatArray:
    """List y at which a strip may end, on the grid: ends of lines, even strips, and a raster."""
    tips = heights(paths) if paths else ()
    even = np.linspace(low, high, int(np.ceil((high - low) / depth)) + 1)
    tried = np.concatenate([*tips, even, np.arange(low, high, _RASTER)])
    tried = np.unique(np.rint(tried / GRID) * GRID)
    return tried[(tried > low) & (tried < high)]


def _crossings(paths: Sequence[FloatArray], at: FloatArray) -> IntArray:
    """Count how often lines pass through each level; those that only reach it do not."""
    if not paths:
        return np.zeros(len(at), dtype=np.int64)
    starts, points = joined_paths(paths)
    y = points[:, 1]
    inner = np.ones(len(y), dtype=bool)
    inner[starts] = inner[np.append(starts[1:], len(y)) - 1] = False
    step = np.ones(len(y), dtype=bool)
    step[starts] = False
    one, two = y[:-1][step[1:]], y[1:][step[1:]]
    begun = np.searchsorted(np.sort(np.minimum(one, two)), at - GRID / 2)
    ended = np.searchsorted(np.sort(np.maximum(one, two)), at + GRID / 2)
    # A line may also pass through a level at one of its points.
    passing = np.sort(y[1:-1][inner[1:-1] & ((y[1:-1] - y[:-2]) * (y[2:] - y[1:-1]) > 0)])
    at_point = np.searchsorted(passing, at + GRID / 2) - np.searchsorted(passing, at - GRID / 2)
    return np.asarray(begun - ended + at_point)


def at_level(points: FloatArray, level: float, reach: float = 0.0) -> tuple[IntArray, FloatArray]:
    """Tell where a polyline has to be cut at a level.

    Each time it comes from farther than `reach` on one side to farther than that on the other, it
    is cut once, where it last comes from above.

    Parameters
    ----------
    points
        Shape (n, 2), mm.
    level, reach
        mm.

    Returns
    -------
    after
        Index of the point before which each cut lies, ascending, shape (k,).
    places
        The cuts, on the grid, shape (k, 2), mm.
    """
    off = points[:, 1] - level
    sure = np.flatnonzero(np.abs(off) > reach)
    after, met = [], []
    for a, b in pairwise(sure.tolist()):
        if (off[a] > 0) == (off[b] > 0):
            continue
        way = np.arange(a, b + 1)[:: 1 if off[b] > 0 else -1]  # down, whichever way it runs
        last = int(np.flatnonzero(off[way] <= 0)[-1])
        above, below = points[way[last]], points[way[last + 1]]
        share = (level - above[1]) / (below[1] - above[1])
        met.append((above[0] + share * (below[0] - above[0]), level))
        after.append(max(int(way[last]), int(way[last + 1])))
    cut = np.array(met, dtype=np.float64).reshape(-1, 2)
    cut[:, 0] = np.rint(cut[:, 0] / GRID) * GRID
    return np.array(after, dtype=np.int64), cut
