"""Mend drawn outlines: what crosses itself is read as drawn, by the even-odd rule."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from stitchpath.errors import StitchpathError
from stitchpath.typing import FloatArray

__all__ = ["mend_outline"]

_CORNERS = 3
# A ring of more points than this is traced, not drawn, and is simplified first.
_TRACED = 2000
# How far simplifying may move a traced outline, as a share of its size: 0.05 mm on a 4 in piece.
_SHARE = 1 / 2000
# Parts below this share of the whole area come from rounding where lines cross.
_SPECK = 2e-5
# A trembling trace is steadied over this many times what it was simplified by.
_STEADY = 2
# Below this share of its size squared an area is none: a line 4 in long and 0.1 µm wide.
_NOTHING = 1e-9


def mend_outline(rings: Sequence[FloatArray] | Polygon | MultiPolygon, where: str) -> MultiPolygon:
    """Make a valid area of an outline as it was drawn or traced.

    A place is inside if a line from it to the outside crosses the rings an odd number of times, as
    in the even-odd fill rule of SVG: a ring in a ring is a hole, and so is the middle of a star
    drawn in one stroke. Rings of more than 2,000 points are traced and simplified first.

    Parameters
    ----------
    rings
        Rings, each of shape (n, 2), closed or not, in any unit; or polygons, valid or not.
    where
        The piece, for errors.

    Returns
    -------
    MultiPolygon
        Valid, with parts that touch in points at most.

    Raises
    ------
    StitchpathError
        When a point is not a finite number, or the rings enclose no area.
    """
    if isinstance(rings, Polygon | MultiPolygon):
        lines = [r for p in shapely.get_parts(rings) for r in (p.exterior, *p.interiors)]
        rings = [shapely.get_coordinates(line) for line in lines]
    rings = [_finite(np.asarray(ring, dtype=np.float64), where) for ring in rings]
    points = np.concatenate([np.zeros((0, 2)), *rings])
    size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    drawn = [_simplified(_closed(ring), size) for ring in rings if len(ring) >= _CORNERS]
    faces = _odd_faces([ring for ring, _ in drawn]) if drawn else []
    shape = _steadied(shapely.union_all(faces), max((moved for _, moved in drawn), default=0.0))
    parts = [p for p in shapely.get_parts(shape).tolist() if p.area > 0]
    whole = float(sum(part.area for part in parts))
    if whole <= _NOTHING * size**2:
        raise StitchpathError(
            f"{where}: found {_described(points)}, expected a closed shape with an area"
        )
    return MultiPolygon([part for part in parts if part.area > _SPECK * whole])


def _steadied(shape: shapely.Geometry, moved: float) -> shapely.Geometry:
    """Fill slits and cut off whiskers of a trace as narrow as what it was simplified by."""
    reach = _STEADY * moved
    if not reach:
        return shape
    for step in (reach, -2 * reach, reach):
        shape = shapely.buffer(shape, step, quad_segs=4)
    return shapely.simplify(shape, moved / 2)


def _finite(ring: FloatArray, where: str) -> FloatArray:
    bad = np.flatnonzero(~np.isfinite(ring).all(axis=1))
    if len(bad):
        x, y = ring[bad[0]]
        raise StitchpathError(
            f"{where}: found ({x}, {y}) as point {bad[0] + 1} of the outline, expected two numbers"
        )
    return ring


def _simplified(ring: FloatArray, size: float) -> tuple[FloatArray, float]:
    """Simplify a traced ring, by as little as brings it down to what a drawing has, and how far."""
    line, moved = LineString(ring), 0.0
    while len(ring) > _TRACED:
        moved = max(2 * moved, _SHARE * size)
        ring = shapely.get_coordinates(shapely.simplify(line, moved, preserve_topology=False))
    return ring, moved


def _closed(ring: FloatArray) -> FloatArray:
    return ring if np.array_equal(ring[0], ring[-1]) else np.concatenate([ring, ring[:1]])


def _odd_faces(rings: Sequence[FloatArray]) -> list[Polygon]:
    """Faces between the rings that lie inside an odd number of times."""
    lines = shapely.union_all([LineString(ring) for ring in rings])  # cut where they cross
    faces = list(shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))))
    if len(rings) == len(faces) == 1:
        return faces
    points = shapely.get_coordinates(shapely.point_on_surface(faces))
    starts = np.concatenate([ring[:-1] for ring in rings])
    stops = np.concatenate([ring[1:] for ring in rings])
    odd = [_crossings(point, starts, stops) % 2 == 1 for point in points]
    return [face for face, inside in zip(faces, odd, strict=True) if inside]


def _crossings(point: FloatArray, starts: FloatArray, stops: FloatArray) -> int:
    """Count the sides that a ray from a point to the right crosses."""
    (x, y), (x0, y0), (x1, y1) = point, starts.T, stops.T
    over = (y0 > y) != (y1 > y)
    at = x0[over] + (y - y0[over]) / (y1[over] - y0[over]) * (x1[over] - x0[over])
    return int((at > x).sum())


def _described(points: FloatArray) -> str:
    different = len(np.unique(points, axis=0))
    if different <= 1:
        return "an outline of one point" if different else "an outline without points"
    return f"an outline of {different} points and no area"
