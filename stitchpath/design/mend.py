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
_SPECK = 1e-6
# Below this share of its size squared an area is none: a line 4 in long and 0.1 µm wide.
_NOTHING = 1e-9


def mend_outline(rings: Sequence[FloatArray] | Polygon | MultiPolygon, where: str) -> MultiPolygon:
    """Make a valid area of an outline as it was drawn or traced.

    A place is inside if a line from it to the outside crosses the rings an odd number of times, as
    in the even-odd fill rule of SVG: a ring in a ring is a hole, and so is the middle of a star
    drawn in one stroke. Rings of more than 2,000 points are simplified first.

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
    areas = [_area(_simplified(ring, size)) for ring in rings]
    shape: shapely.Geometry = Polygon()
    for area in areas:
        shape = shapely.symmetric_difference(shape, area)
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    whole = sum(part.area for part in parts)
    if whole <= _NOTHING * size**2:
        raise StitchpathError(
            f"{where}: found {_described(points)}, expected a closed shape with an area"
        )
    return MultiPolygon([part for part in parts if part.area > _SPECK * whole])


def _finite(ring: FloatArray, where: str) -> FloatArray:
    bad = np.flatnonzero(~np.isfinite(ring).all(axis=1))
    if len(bad):
        x, y = ring[bad[0]]
        raise StitchpathError(
            f"{where}: found ({x}, {y}) as point {bad[0] + 1} of the outline, expected two numbers"
        )
    return ring


def _simplified(ring: FloatArray, size: float) -> FloatArray:
    if len(ring) <= _TRACED:
        return ring
    line = shapely.simplify(LineString(ring), size * _SHARE, preserve_topology=False)
    return shapely.get_coordinates(line)


def _area(ring: FloatArray) -> shapely.Geometry:
    """Inside of one ring by the even-odd rule."""
    if len(ring) < _CORNERS:
        return Polygon()
    whole = shapely.make_valid(Polygon(ring), method="linework")
    parts = [part for part in shapely.get_parts(whole) if part.area > 0]
    return shapely.union_all(parts)


def _described(points: FloatArray) -> str:
    different = len(np.unique(points, axis=0))
    if different <= 1:
        return "an outline of one point" if different else "an outline without points"
    return f"an outline of {different} points and no area"
