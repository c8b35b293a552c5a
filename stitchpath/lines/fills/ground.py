"""The ground under a fill: its offsets and its corners."""

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import BoolArray, FloatArray
from stitchpath.geometry.turns import turn_angle

__all__ = ["CHORD", "corners", "dotted", "eroded", "grown", "polygons", "rings_of", "segments"]

CHORD = 0.02
"""How far a chord of an offset's arc may lie from the true arc, mm."""

_CORNER = 15.0  # less of a turn than this is a flattened curve, not a corner


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


def segments(distance: float) -> int:
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
    inner = shape.buffer(-(wanted + CHORD), quad_segs=segments(distance))
    if not inner.is_empty:
        short = wanted - inner.distance(shape.boundary)
        if short > 0:
            inner = shape.buffer(-(wanted + CHORD + short), quad_segs=segments(distance))
    return inner


def grown(shape: BaseGeometry, distance: float) -> BaseGeometry:
    """Grow any geometry by at most `distance` (mm), corners rounded."""
    return shape.buffer(distance, quad_segs=segments(distance))


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
            turn = turn_angle(back, ahead)
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
