"""Mend drawn outlines: what crosses itself is read as drawn, by the even-odd rule."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.errors import StitchpathError
from stitchpath.typing import FloatArray

__all__ = ["mend_outline"]

_CORNERS = 3


def mend_outline(rings: Sequence[FloatArray], where: str) -> MultiPolygon:
    """Make an area of rings.

    Parameters
    ----------
    rings
        Rings, each of shape (n, 2), closed or not.
    where
        The piece, for errors.

    Raises
    ------
    StitchpathError
        When they enclose no area.
    """
    shape: shapely.Geometry = Polygon()
    for ring in rings:
        if len(np.unique(ring, axis=0)) >= _CORNERS:
            whole = shapely.make_valid(Polygon(ring))
            shape = shapely.symmetric_difference(shape, whole)
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and p.area > 0]
    if not parts:
        points = sum(len(ring) for ring in rings)
        raise StitchpathError(
            f"{where}: found an outline of {points} points and no area, expected a closed shape"
        )
    return MultiPolygon(parts)
