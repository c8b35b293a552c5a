"""Strips: what of a ground is long and narrow, its way along and its edges on either side."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.ground import corners, polygons
from stitchpath.lines.fills.lattice import turned
from stitchpath.lines.fills.rows import sliced

__all__ = ["Profile", "Strip", "mitres_of", "profile_of", "strips_of"]

_LONG = 1.5  # a strip is so many times as long as it is wide ...
_FULL = 0.55  # ... and fills so much of the rectangle round it: a triangle does not
_EVEN = 1.3  # mitres of a frame are so nearly alike: else it is ground round a piece
_SQUARE = 0.97  # what fills so much of it is a strip though it be no longer than wide


@dataclass(frozen=True, slots=True)
class Strip:
    """A long narrow area.

    Attributes
    ----------
    shape
        mm.
    angle
        Of its long way against the x axis, degrees; turned back by it the strip lies level with its
        longer side at the top, or both are alike.
    width
        mm.
    """

    shape: Polygon
    angle: float
    width: float

    def level(self) -> Polygon:
        """Turn it so that it lies level."""
        ring = turned(LinearRing(self.shape.exterior.coords), -self.angle)
        return Polygon(shapely.get_coordinates(ring))

    def upright(self, path: FloatArray) -> FloatArray:
        """Turn a path from where the strip lies level to where it belongs."""
        return shapely.get_coordinates(turned(LineString(path), self.angle))


def strips_of(region: Polygon | MultiPolygon) -> list[Strip] | None:
    """See a region as strips: one, or the sides of a frame with mitred corners.

    Returns
    -------
    list of Strip, or None
        None where a part of the region is neither.
    """
    found: list[Strip] = []
    for part in polygons(region):
        for side in _mitred(part):
            strip = _strip(side)
            if strip is None:
                return None
            found.append(strip)
    return found or None


def mitres_of(frame: Polygon) -> FloatArray:
    """Find the mitres of a frame: from each corner outside to the one inside, shape (n, 2, 2).

    None where the two edges have not as many corners, one beside the other.
    """
    none = np.empty((0, 2, 2))
    if len(frame.interiors) != 1:
        return none
    outer, inner = (corners(Polygon(ring)) for ring in (frame.exterior, frame.interiors[0]))
    if len(outer) < 3 or len(outer) != len(inner):  # noqa: PLR2004 - no frame has two sides
        return none
    apart = np.hypot(*(outer[:, None] - inner[None]).transpose(2, 0, 1))
    mate = np.argmin(np.round(apart, 6), axis=1)
    mitres = np.stack([outer, inner[mate]], axis=1)
    long = np.hypot(*(mitres[:, 1] - mitres[:, 0]).T)
    if len(np.unique(mate)) != len(mate) or long.max() > _EVEN * long.min():
        return none
    return mitres


def _mitred(frame: Polygon) -> list[Polygon]:
    """Cut a frame at its mitres."""
    mitres = mitres_of(frame)
    if not len(mitres):
        return [frame]
    cuts = [LineString(mitre) for mitre in mitres]
    lines = shapely.node(shapely.union_all([frame.boundary, *cuts]))
    faces = shapely.get_parts(shapely.polygonize([lines]))
    return [face for face in faces if frame.covers(face.representative_point())]


def _strip(part: Polygon) -> Strip | None:
    if part.interiors:
        return None
    box = shapely.get_coordinates(shapely.oriented_envelope(part))
    one, two = box[1] - box[0], box[2] - box[1]
    across, along = sorted((one, two), key=lambda side: round(float(np.hypot(*side)), 6))
    width, length = float(np.hypot(*across)), float(np.hypot(*along))
    full = part.area / max(width * length, 1e-9)
    if full < (_FULL if length >= _LONG * width else _SQUARE):
        return None
    angle = float(np.degrees(np.arctan2(along[1], along[0]))) % 180
    level = turned(part, -angle)
    left, top, right, bottom = level.bounds
    hair = (bottom - top) / 20
    spans = [
        level.intersection(shapely.box(left, y, right, y + hair)).bounds
        for y in (top, bottom - hair)
    ]
    upper, lower = (span[2] - span[0] for span in spans)
    return Strip(part, angle if upper > lower - hair else angle + 180, width)


@dataclass(frozen=True, slots=True)
class Profile:
    """How far a level area reaches up and down, all along.

    Attributes
    ----------
    x, low, high
        Shape (n,), mm; y points down, so that `low` is the upper edge.
    """

    x: FloatArray
    low: FloatArray
    high: FloatArray

    def between(self, left: float, right: float) -> tuple[float, float]:
        """Give the least room from one place to another."""
        near = (self.x >= left - 1e-9) & (self.x <= right + 1e-9)
        if not near.any():
            near = np.arange(len(self.x)) == np.argmin(np.abs(self.x - (left + right) / 2))
        return float(self.low[near].max()), float(self.high[near].min())


def profile_of(area: BaseGeometry, fine: float) -> Profile | None:
    """Measure a level area at steps of `fine`, mm; None where it is empty or falls apart."""
    if area.is_empty:
        return None
    left, _, right, _ = area.bounds
    hair = 1e-6 * max(right - left, 1e-3)
    at = np.linspace(left + hair, right - hair, max(3, int((right - left) / fine) + 1))
    columns = sliced(area, at, axis=0)
    if len(columns.row) != len(at) or len(np.unique(columns.row)) != len(at):
        return None
    return Profile(columns.at, columns.low, columns.high)
