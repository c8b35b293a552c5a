"""Bare places: where a region lies farther from its stitching than the fill promises."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.lines.fills.ground import eroded
from stitchpath.lines.fills.pattern import FillNote

__all__ = ["Stitched", "bare_notes", "grouped"]

_BARE = 1.005  # a place is bare beyond this many spacings: curves are flattened
_WORTH = 1.5  # spacings: a tip left empty by the hem alone is told of when it is longer
_MANY = 200_000  # so many cells are not looked at more closely
_QUARTERS = np.array([(-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)])


class Stitched:
    """Paths to measure distances from.

    Parameters
    ----------
    paths
        At least one path, mm.
    fine
        How far apart samples of them lie, at most, mm.
    """

    def __init__(self, paths: Sequence[FloatArray], fine: float) -> None:
        self._paths = paths
        lines = [LineString(path) for path in paths]
        self._samples = cKDTree(shapely.get_coordinates(shapely.segmentize(lines, fine)))

    @cached_property
    def _pieces(self) -> shapely.STRtree:
        ends = [np.stack([path[:-1], path[1:]], axis=1) for path in self._paths]
        return shapely.STRtree(np.asarray(shapely.linestrings(np.concatenate(ends))))

    def distance(self, at: FloatArray) -> FloatArray:
        """Measure how far points (n, 2) are from all paths, mm, shape (n,)."""
        if not len(at):
            return np.empty(0)
        _, far = self._pieces.query_nearest(
            shapely.points(at), return_distance=True, all_matches=False
        )
        return np.asarray(far)

    def far_places(self, area: BaseGeometry, reach: float) -> tuple[FloatArray, FloatArray, float]:
        """Find the places of an area that lie farther than `reach` from all paths.

        From one point to another the distance changes by no more than the way between them. So a
        cell of a square grid is quartered only where its middle is near enough to such a place,
        and none wider than the finest cell is missed.

        Parameters
        ----------
        area, reach
            mm.

        Returns
        -------
        at
            Middles of cells, shape (n, 2), mm.
        far
            How far each is from the paths, mm, shape (n,).
        side
            Of the cells, mm: a sixteenth of the reach, or more where very much lies bare.
        """
        side = reach / 2
        if area.is_empty:
            return np.empty((0, 2)), np.empty(0), side
        shapely.prepare(area)
        left, top, right, bottom = area.bounds
        xs, ys = np.arange(left, right + side, side), np.arange(top, bottom + side, side)
        cells = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        while True:
            half = side * np.sqrt(0.5)
            cells = cells[np.asarray(self._samples.query(cells)[0]) + half > reach]
            cells = cells[shapely.dwithin(area, shapely.points(cells), half)]
            if side < reach / 15 or len(cells) > _MANY:
                break
            side /= 2
            cells = (cells[:, None] + side * _QUARTERS).reshape(-1, 2)
        cells = cells[shapely.contains_xy(area, *cells.T)]
        # Samples only overstate a distance.
        cells = cells[np.asarray(self._samples.query(cells)[0]) > reach]
        far = self.distance(cells)
        return cells[far > reach], far[far > reach], side


def grouped(at: FloatArray, near: float) -> list[IntArray]:
    """Sort points into groups that hang together, by indices; points within `near` do."""
    if not len(at):
        return []
    label = groups(len(at), *cKDTree(at).query_pairs(near, output_type="ndarray").T)
    return [np.flatnonzero(label == k) for k in range(int(label.max()) + 1)]


def bare_notes(
    region: BaseGeometry, paths: tuple[FloatArray, ...], spacing: float, inset: float
) -> tuple[FillNote, ...]:
    """Say which places lie farther from stitching than the fill promises.

    A place is bare when it is inside the inset and more than `spacing` from all stitching, or
    anywhere more than `spacing` + `inset` from it.

    Parameters
    ----------
    region
        The filled area, mm.
    paths
        What is stitched, mm.
    spacing, inset
        Of the fill, mm.

    Returns
    -------
    tuple of FillNote
        One for each bare place: a neck or tip where the fill has no room, or else a bare place.
        A short tip that lies within the inset is none.
    """
    stitched = Stitched(paths, spacing / 8)
    inner, far, side = stitched.far_places(eroded(region, inset), _BARE * spacing)
    hem, farther, wider = stitched.far_places(region, _BARE * spacing + inset)
    at, off = np.concatenate([inner, hem]), np.concatenate([far, farther])
    half = inset + spacing / 2
    wide = region.buffer(-half) if len(at) else region
    notes: list[FillNote] = []
    for group in grouped(at, 1.5 * max(side, wider)):
        place = at[group]
        long = float(np.hypot(*np.ptp(place, axis=0))) + side
        if not (group < len(inner)).any() and long < _WORTH * spacing:
            continue
        deepest, width = _deepest(region, place, max(side, wider))
        if not wide.dwithin(Point(deepest), half):
            notes.append(FillNote("neck", deepest, width, long))
        else:
            worst = int(group[np.argmax(np.round(off[group], 6))])
            notes.append(FillNote("bare", _pair(at[worst]), float(off[worst]), long))
    return tuple(notes)


def _deepest(
    region: BaseGeometry, place: FloatArray, side: float
) -> tuple[tuple[float, float], float]:
    """Find the cell of a place farthest from the edge of the region, and how wide it is there."""
    depth = shapely.distance(region.boundary, shapely.points(place))
    deepest = int(np.argmax(np.round(depth, 6)))
    fine = np.linspace(-side / 2, side / 2, 9)
    near = place[deepest] + np.stack(np.meshgrid(fine, fine), axis=-1).reshape(-1, 2)
    inner = near[shapely.contains_xy(region, near[:, 0], near[:, 1])]
    width = 2 * float(shapely.distance(region.boundary, shapely.points(inner)).max())
    return _pair(place[deepest]), width


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])
