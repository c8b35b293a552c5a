"""Mend drawn outlines: what crosses itself is read as drawn, by the fill rule asked for."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.areas import filled, simplified

__all__ = ["mend_outline"]

_CORNERS = 3
# Parts below this share of the whole area come from rounding where lines cross.
_SPECK = 2e-5
# A trembling trace is steadied over this many times what it was simplified by.
_STEADY = 2
# An area below this share of its size squared is a mere line: 4 in long, it would be 0.1 µm wide.
_NO_AREA = 1e-9


def mend_outline(
    rings: Sequence[FloatArray] | Polygon | MultiPolygon, where: str, *, even_odd: bool = True
) -> MultiPolygon:
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
    even_odd
        False fills by the nonzero rule of SVG instead: a ring in a ring is a hole only if it runs
        the other way round.

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
    try:
        drawn = [simplified(_closed(ring), size) for ring in rings if len(ring) >= _CORNERS]
        area = filled([ring for ring, _ in drawn], even_odd=even_odd)
    except StitchpathError as error:
        raise StitchpathError(f"{where}: {error}") from None
    shape = _steadied(area, max((moved for _, moved in drawn), default=0.0))
    parts = [p for p in shapely.get_parts(shape).tolist() if p.area > 0]
    whole = float(sum(part.area for part in parts))
    if whole <= _NO_AREA * size**2:
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


def _closed(ring: FloatArray) -> FloatArray:
    return ring if np.array_equal(ring[0], ring[-1]) else np.concatenate([ring, ring[:1]])


def _described(points: FloatArray) -> str:
    different = len(np.unique(points, axis=0))
    if different <= 1:
        return "an outline of one point" if different else "an outline without points"
    return f"an outline of {different} points and no area"
