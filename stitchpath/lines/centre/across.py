"""Which way a line runs across a round place, and where it goes round instead.

The axis of a disc is a point, which cannot be stitched. A place that is longer one way is crossed
the long way. One that is round is crossed as the rest of its piece runs, so that the line turns
with the piece and is mirrored with it:

- where the piece is its own picture in three turns or more, a straight line through its middle
  would not be. So the line goes round there, halfway from the middle to the edge. Round places
  about the middle are crossed towards it, as spokes are;
- other pieces have one direction for all their round places: that of their straight sides, or
  across the line in which they are mirrored, or the long way of the whole piece;
- a disc is the same whichever way it is turned, and so are discs and rings about one middle. They
  are crossed level.
"""

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.base.typing import FloatArray
from stitchpath.lines.centre.edge import Ground
from stitchpath.lines.centre.pose import MOMENTS, Pose, mirrored, moments_of
from stitchpath.lines.line import KNOT

__all__ = ["halfway_round", "way_across"]

_ROUND = (
    0.1  # share by which the second moments of area differ in a place that is still round: by a
)
# twentieth of its width
_DISC = 0.02  # share of its radius that a disc may be off a circle: 16 sides are as good as that
_MIDDLE = 0.1  # radii that a place in the middle of a piece may be off it
_THREE = 3  # turns from which on no straight line is its own picture
_NONE = 1e-6  # moments no greater than that come of rounding and have no direction
_NEARLY = 0.02  # share of its size that a piece may be off its mirror image and yet be drawn as it
_ANGLES, _TRIED, _SPOTS = 360, 6, 200  # mirror lines weighed and tried; places of the edge
_SIDE = 0.08  # share of its size that a side of a piece is straight for at least
_STRAIGHT = 0.01  # mm that a straight side may be off it
_SHARP = 800.0  # sides 4 degrees apart count for each other 0.14 times, 10 degrees apart nothing
_LEANS = 0.05  # share of the straight sides that tells one way from the other
_SQUARE = 0.3  # share of the straight sides that is enough to go by
_LONG = 0.01  # share of how long a piece could be that makes a long way


def way_across(
    place: Polygon, middle: FloatArray, radius: float, pose: Pose, ground: Ground, level: FloatArray
) -> FloatArray | None:
    """Tell which way a line runs across a place.

    Parameters
    ----------
    place
        The place, in the frame of its piece, mm.
    middle
        Middle of the largest circle in it, shape (2,), mm.
    radius
        Of that circle out to the edge of the piece, mm.
    pose
        The piece in its frame.
    ground
        How far points are from the edge of the piece, there.
    level
        Unit vector that is level on the quilt.

    Returns
    -------
    FloatArray or None
        Unit vector, shape (2,); None where the line goes round the middle of the piece.
    """
    way = _long_way(place)
    if way is not None:
        return way
    if _is_disc(pose.outline):
        return level
    turns = _turns(pose)
    if 0 < turns < _THREE:
        return _way_of(pose, ground)
    away = float(np.hypot(*middle))
    if away > _MIDDLE * radius:
        return middle / away
    if np.pi * radius >= KNOT:
        return None
    return _nearest(level, pose) if turns else level


def halfway_round(radius: float) -> FloatArray:
    """Line round the middle of a piece, halfway to the edge.

    Parameters
    ----------
    radius
        How far off the edge is, mm.

    Returns
    -------
    FloatArray
        Closed, shape (n, 2), mm.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, max(int(np.ceil(2.0 * np.pi * radius)), 48) + 1)
    ring: FloatArray = radius / 2.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    ring[-1] = ring[0]
    return ring


def _long_way(place: Polygon) -> FloatArray | None:
    """Direction of the long axis of a polygon's area, none if it is as wide every way."""
    x, y = (shapely.get_coordinates(place.exterior) - np.array(place.centroid.coords[0])).T
    cross = x[:-1] * y[1:] - x[1:] * y[:-1]
    # second moments of area over the sides of the polygon (handbook formula, by Green's theorem)
    xx = (cross * (x[:-1] ** 2 + x[:-1] * x[1:] + x[1:] ** 2)).sum() / 12
    yy = (cross * (y[:-1] ** 2 + y[:-1] * y[1:] + y[1:] ** 2)).sum() / 12
    xy = (cross * (x[:-1] * y[1:] + 2 * (x[:-1] * y[:-1] + x[1:] * y[1:]) + x[1:] * y[:-1])).sum()
    xy /= 24
    if np.hypot(xx - yy, 2 * xy) < _ROUND * abs(xx + yy):
        return None
    _, vectors = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]) * np.sign(xx))
    way: FloatArray = vectors[:, 1]
    return way


def _is_disc(outline: Polygon | MultiPolygon) -> bool:
    """Tell whether every edge of a piece is a circle about its middle, as good as."""
    most = _DISC * float(np.hypot(*shapely.get_coordinates(outline).T).max())
    for part in shapely.get_parts(outline):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)
            midway = (points[1:] + points[:-1]) / 2
            far, near = np.hypot(*points.T).max(), np.hypot(*np.concatenate([points, midway]).T)
            if far - near.min() > most:
                return False
    return True


def _way_of(pose: Pose, ground: Ground) -> FloatArray:
    """Direction of a piece that is its own picture in two turns at most.

    It lies square to the line in which the piece is mirrored, or nearly; where there is none,
    to most of its straight sides; else to its long way. Of two such ways the straight sides tell,
    then that a face is crossed from eye to eye, then the long way.
    """
    way, weight = _sides(pose.outline)
    stretch = complex(moments_of(pose.outline)[0])
    long = np.angle(stretch) / 2 if abs(stretch) >= _LONG else 0.0
    axis = _mirror_line(pose, ground)
    start = axis if axis is not None else _most(way, weight)
    start = long if start is None else start
    ways = start + np.array([0.0, np.pi / 2])
    along, aside = (_alike(way, weight, angle, 2).sum() for angle in ways)
    if abs(along - aside) >= _LEANS * (along + aside) and along + aside > 0:
        angle = ways[int(aside > along)]
    elif axis is not None and _turns(pose) == 1:
        angle = ways[1]
    else:
        angle = ways[int(np.cos(2 * (long - start)) < 0)]
    return np.array([np.cos(angle), np.sin(angle)])


def _turns(pose: Pose) -> int:
    """By how many turns a piece is its own picture; 0 where no moment of it has a direction."""
    if np.abs(moments_of(pose.outline)).max() <= _NONE:
        return 0
    return sum(bool(np.linalg.det(matrix) > 0) for matrix in pose.symmetries)


def _axis_of(mirror: FloatArray) -> float:
    """Angle of a mirror line."""
    return float(np.arctan2(mirror[1, 0], mirror[0, 0])) / 2


def _mirror_line(pose: Pose, ground: Ground) -> float | None:
    """Angle of the line in which a piece is mirrored, or very nearly, as drawings are.

    Mirrored at an angle t, moment n becomes its conjugate turned by 2 n t; so how far a piece is
    its own picture then can be told from its moments.
    """
    mirrors = [matrix for matrix in pose.symmetries if np.linalg.det(matrix) < 0]
    if mirrors:
        return _axis_of(mirrors[0])
    moments = moments_of(pose.outline)
    orders = np.array(MOMENTS)
    angles = np.linspace(0.0, np.pi, _ANGLES, endpoint=False)
    alike = np.cos(2 * (np.outer(angles, orders) - np.angle(moments))) @ np.abs(moments) ** 2
    before, after = np.roll(alike, 1), np.roll(alike, -1)
    peaks = np.flatnonzero((alike >= before) & (alike > after))
    peaks = peaks[np.argsort(-alike[peaks], kind="stable")][:_TRIED]
    left, top, right, bottom = pose.outline.bounds
    edge = shapely.segmentize(pose.outline.boundary, pose.outline.length / _SPOTS)
    spots = shapely.get_coordinates(edge)
    for k in peaks.tolist():
        # the top of a parabola through the peak and the angles beside it
        bend = before[k] - 2 * alike[k] + after[k]
        angle = angles[k] + (before[k] - after[k]) / (2 * bend) * (angles[1] - angles[0])
        off = ground.away(spots @ mirrored(angle).T).max()
        if off <= _NEARLY * max(right - left, bottom - top):
            return float(angle)
    return None


def _sides(outline: Polygon | MultiPolygon) -> tuple[FloatArray, FloatArray]:
    """Angles of the straight sides of a piece, and what each counts: the square of its length."""
    size = float(np.ptp(shapely.get_coordinates(outline), axis=0).max())
    parts = shapely.get_parts(shapely.simplify(outline, _STRAIGHT))
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    steps = np.concatenate([np.diff(shapely.get_coordinates(ring), axis=0) for ring in rings])
    steps = steps[np.hypot(*steps.T) >= _SIDE * size]
    return np.arctan2(steps[:, 1], steps[:, 0]), (steps**2).sum(axis=1)


def _alike(way: FloatArray, weight: FloatArray, angle: float, fold: int) -> FloatArray:
    """Weigh each side for an angle, or for any of the `fold` angles round a circle with it."""
    counts: FloatArray = weight * np.exp(_SHARP * (np.cos(fold * (way - angle)) - 1) / fold**2)
    return counts


def _most(way: FloatArray, weight: FloatArray) -> float | None:
    """Angle to which most of the straight sides run square, none if there are too few."""
    if len(way) == 0:
        return None
    many = np.array([_alike(way, weight, angle, 4).sum() for angle in way])
    if many.max() < _SQUARE * weight.sum():
        return None
    first = np.lexsort([np.mod(way, np.pi / 2).round(3), -(many / many.max()).round(6)])[0]
    near = _alike(way, weight, way[first], 4)
    return float(np.angle((near * np.exp(4j * way)).sum())) / 4


def _nearest(level: FloatArray, pose: Pose) -> FloatArray:
    """Find the way nearest to level of those that are each other's picture.

    In too small a place for a ring no way is better than its pictures.
    """
    mirrors = [matrix for matrix in pose.symmetries if np.linalg.det(matrix) < 0]
    first = np.array([1.0, 0.0])
    if mirrors:
        axis = _axis_of(mirrors[0])
        first = np.array([-np.sin(axis), np.cos(axis)])
    ways = [matrix @ first for matrix in pose.symmetries]
    return max(ways, key=lambda way: round(abs(float(way @ level)), 6))
