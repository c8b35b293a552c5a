"""The ground under a fill: its offsets, its corners, and what a fill leaves bare."""

import numpy as np
import shapely
from scipy import ndimage
from scipy.spatial import cKDTree
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.lines.fills.model import FillNote
from stitchpath.typing import BoolArray, FloatArray

__all__ = ["CHORD", "bare_notes", "corners", "dotted", "eroded", "grown", "polygons", "rings_of"]

CHORD = 0.02
"""How far a chord of an offset's arc may lie from the true arc, mm."""

_ROOM = 1.06  # a place is bare beyond this many spacings: the fills are even to about as much
_CORNER = np.radians(15.0)  # less of a turn than this is a flattened curve, not a corner


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """List the polygons of any geometry, largest first; equal ones from the top left.

    Parameters
    ----------
    shape
        Any geometry; points and lines in it are dropped.

    Returns
    -------
    list of Polygon
    """
    parts = [part for part in shapely.get_parts(shape, return_index=False) if part.area > 0]
    found = [part for part in parts if isinstance(part, Polygon)]
    return sorted(found, key=lambda part: (-round(part.area, 6), *part.bounds))


def _segments(distance: float) -> int:
    """Segments of a quarter circle that keep the chord error of `CHORD`."""
    turn = 2 * np.arccos(max(0.0, 1 - CHORD / distance)) if distance > CHORD else np.pi / 4
    return max(4, int(np.ceil(np.pi / 2 / turn)))


def eroded(shape: BaseGeometry, distance: float) -> BaseGeometry:
    """Shrink an area so that all of it keeps at least `distance` (mm) from the old edge.

    Chords of arcs, and the buffer's own simplifying of its input, would come nearer: hence a
    small reserve, and a second try where that was not enough.
    """
    if distance <= 0:
        return shape
    wanted = distance + CHORD
    inner = shape.buffer(-(wanted + CHORD), quad_segs=_segments(distance))
    if not inner.is_empty:
        short = wanted - inner.distance(shape.boundary)
        if short > 0:
            inner = shape.buffer(-(wanted + CHORD + short), quad_segs=_segments(distance))
    return inner


def grown(shape: BaseGeometry, distance: float) -> BaseGeometry:
    """Grow any geometry by at most `distance` (mm), corners rounded."""
    return shape.buffer(distance, quad_segs=_segments(distance))


def rings_of(area: BaseGeometry) -> list[FloatArray]:
    """List the closed rings of an area, shape (k, 2) each, the first point repeated at the end."""
    rings = [ring for part in polygons(area) for ring in (part.exterior, *part.interiors)]
    return [np.asarray(ring.coords, dtype=np.float64)[:, :2] for ring in rings]


def corners(region: BaseGeometry, *, inner: bool = False) -> FloatArray:
    """List the corners of a region from the top left, shape (k, 2), mm.

    Parameters
    ----------
    region
        mm.
    inner
        Give the corners at which the region takes up more than half of the way round, and not
        those that stick out.

    Returns
    -------
    ndarray, shape (k, 2)
        Points where the edge turns by 15 degrees or more.
    """
    sharp: list[FloatArray] = [np.empty((0, 2))]
    for part in polygons(region):
        for ring in rings_of(shapely.orient_polygons(part)):  # the region is always on the left
            at = ring[:-1][np.any(ring[1:] != ring[:-1], axis=1)]
            ahead, back = np.roll(at, -1, axis=0) - at, at - np.roll(at, 1, axis=0)
            cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
            turn = np.arctan2(cross, np.sum(back * ahead, axis=1))
            sharp.append(at[turn <= -_CORNER] if inner else at[turn >= _CORNER])
    found = np.concatenate(sharp)
    return found[np.lexsort((found[:, 0], found[:, 1]))]


def dotted(region: BaseGeometry, step: float) -> FloatArray:
    """Give the points inside a region on a square grid of a step, mm, shape (n, 2)."""
    left, top, right, bottom = region.bounds
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step))
    shapely.prepare(region)
    at: FloatArray = np.column_stack([x.ravel(), y.ravel()])
    inside: BoolArray = shapely.contains_xy(region, at[:, 0], at[:, 1])
    return at[inside]


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
    """
    step = spacing / 3
    left, top, right, bottom = region.bounds
    xs = np.arange(left + step / 2, right, step)
    ys = np.arange(top + step / 2, bottom, step)
    shapely.prepare(region)
    x, y = (axis.ravel() for axis in np.meshgrid(xs, ys))
    inside = shapely.contains_xy(region, x, y)
    at = np.column_stack([x[inside], y[inside]])
    bare = np.zeros(len(x), dtype=np.bool_)
    bare[inside] = _bare(region, at, paths, spacing, inset)
    labels, count = ndimage.label(bare.reshape(len(ys), len(xs)), structure=np.ones((3, 3)))
    stitched = MultiLineString(list(paths))
    notes: list[FillNote] = []
    for label in range(1, count + 1):
        place = np.column_stack([x, y])[labels.ravel() == label]
        depth = shapely.distance(region.boundary, shapely.points(place))
        deepest = int(np.argmax(np.round(depth, 6)))
        fine = np.linspace(-step / 2, step / 2, 9)
        near = place[deepest] + np.stack(np.meshgrid(fine, fine), axis=-1).reshape(-1, 2)
        inner = near[shapely.contains_xy(region, near[:, 0], near[:, 1])]
        width = 2 * float(shapely.distance(region.boundary, shapely.points(inner)).max())
        long = float(np.hypot(*np.ptp(place, axis=0))) + step
        if width < 2 * inset + spacing:
            notes.append(FillNote("neck", _pair(place[deepest]), width, long))
        else:
            off = shapely.distance(stitched, shapely.points(place))
            worst = int(np.argmax(np.round(off, 6)))
            notes.append(FillNote("bare", _pair(place[worst]), float(off[worst]), long))
    return tuple(notes)


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _bare(
    region: BaseGeometry,
    at: FloatArray,
    paths: tuple[FloatArray, ...],
    spacing: float,
    inset: float,
) -> BoolArray:
    """Which of the points `at` lie too far from the stitching."""
    if not paths or not len(at):
        return np.ones(len(at), dtype=np.bool_)
    stitched = [shapely.segmentize(LineString(path), spacing / 4) for path in paths]
    tree = cKDTree(shapely.get_coordinates(stitched))
    far, _ = tree.query(at, distance_upper_bound=_ROOM * spacing)
    suspect = np.flatnonzero(np.isinf(far))
    depth = shapely.distance(region.boundary, shapely.points(at[suspect]))
    distance, _ = tree.query(at[suspect])
    bad = np.zeros(len(at), dtype=np.bool_)
    bad[suspect] = (depth > inset) | (distance > _ROOM * spacing + inset)
    return bad
