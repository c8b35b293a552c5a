"""What lines through the middle of a piece are held to, measured without the planner's own axis."""

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import Voronoi
from shapely import MultiLineString, MultiPolygon, Polygon, affinity

LEAST = 25.4 / 8  # mm: an arm of this width at its foot holds a line
AS_LONG = 1.5  # widths: an arm is that much longer than it is wide
TOUCH = 1e-3  # mm
ROUND = 0.02  # share of its radius that a disc may be off a circle


def together(lines: Sequence[np.ndarray]) -> MultiLineString:
    """All lines as one shape."""
    return MultiLineString([np.asarray(line) for line in lines])


def outside(shape: shapely.Geometry, lines: Sequence[np.ndarray]) -> float:
    """Length of lines that lie outside a piece, mm."""
    return float(together(lines).difference(shape.buffer(TOUCH)).length)


def off(lines: Sequence[np.ndarray], others: Sequence[np.ndarray]) -> float:
    """How far any point of either set of lines lies off the other, mm."""
    one, other = together(lines), together(others)
    if one.is_empty or other.is_empty:
        return 0.0 if one.is_empty and other.is_empty else np.inf
    worst = 0.0
    for a, b in ((one, other), (other, one)):
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(a, 0.3)))
        shapely.prepare(b)
        worst = max(worst, float(shapely.distance(points, b).max()))
    return worst


def arms(part: Polygon) -> list[Polygon]:
    """Find the arms of a part: what a chord across it cuts off that is longer than it is wide.

    A chord joins two samples of the outline that share an edge of their Voronoi diagram inside the
    part. Of arms within arms the outermost counts.
    """
    step = max(part.length / 500, 0.4)
    found: list[tuple[float, Polygon]] = []
    for ring in (part.exterior, *part.interiors):
        found += _arms_of(part, ring, step)
    taken: list[Polygon] = []
    for _, arm in sorted(found, key=lambda arm: arm[0]):
        spot = arm.representative_point()
        inner = any(other.intersection(arm).area > 0.5 * other.area for other in taken)
        if not inner and part.covers(spot):
            taken.append(arm)
    return taken


def _arms_of(part: Polygon, ring: shapely.Geometry, step: float) -> list[tuple[float, Polygon]]:
    count = max(int(ring.length / step), 8)
    own = shapely.get_coordinates(ring.interpolate(np.arange(count) / count, normalized=True))
    others = [
        shapely.get_coordinates(shapely.segmentize(r, step))[:-1]
        for r in (part.exterior, *part.interiors)
        if r is not ring
    ]
    sites = np.concatenate([own, *others])
    diagram = Voronoi(sites)
    pairs = np.asarray(diagram.ridge_points)
    ridges = np.asarray(diagram.ridge_vertices)
    keep = (pairs < count).all(axis=1) & (ridges >= 0).all(axis=1)
    pairs, ridges = pairs[keep], ridges[keep]
    middle = diagram.vertices[ridges]
    inside = shapely.contains_xy(part, middle[:, 0]) & shapely.contains_xy(part, middle[:, 1])
    pairs = pairs[inside]
    way = np.abs(pairs[:, 0] - pairs[:, 1])
    way = np.minimum(way, count - way) * ring.length / count
    chord = np.hypot(*(sites[pairs[:, 0]] - sites[pairs[:, 1]]).T)
    far = (way >= (2 * AS_LONG + 1) * chord) & (chord >= LEAST) & (way < ring.length / 2)
    found = []
    for (a, b), length in zip(pairs[far].tolist(), way[far].tolist(), strict=True):
        low, high = min(a, b), max(a, b)
        cut = own[low : high + 1]
        if high - low > count - (high - low):
            cut = np.concatenate([own[high:], own[: low + 1]])
        if len(cut) > 3:
            found.append((length, shapely.make_valid(Polygon(cut))))
    return found


def missed(shape: MultiPolygon, lines: Sequence[np.ndarray]) -> tuple[int, list[Polygon]]:
    """Count arms, and find those without a line along a third of them at least."""
    stitched = together(lines)
    total, bare = 0, []
    for part in shapely.get_parts(shape):
        for arm in arms(part):
            total += 1
            long = arm.length / 2
            if stitched.intersection(arm).length < long / 4:
                bare.append(arm)
    return total, bare


def moves() -> dict[str, list[float]]:
    """Mirrored, turned by a quarter and by 14 degrees: affine matrices round the middle."""
    c, s = np.cos(np.radians(14)), np.sin(np.radians(14))
    return {
        "mirrored": [-1, 0, 0, 1, 120.5, -33.25],
        "turned 90": [0, -1, 1, 0, 7.5, 3.25],
        "turned 14": [c, -s, s, c, -11.0, 4.5],
    }


def moved(lines: Sequence[np.ndarray], matrix: Sequence[float]) -> list[np.ndarray]:
    """Lines, moved."""
    return [
        shapely.get_coordinates(affinity.affine_transform(shapely.LineString(x), matrix))
        for x in lines
    ]


def other_way(some: Sequence[np.ndarray], others: Sequence[np.ndarray]) -> float:
    """Length of what is 1.5 mm or more from any of the other lines, mm: another choice."""
    one, two = (shapely.MultiLineString(list(lines)) for lines in (some, others))
    return max(one.difference(two.buffer(1.5)).length, two.difference(one.buffer(1.5)).length)


def mirrors(shape: MultiPolygon, within: float = 0.02) -> list[list[float]]:
    """Mirror lines, upright or level, in which a piece is its own picture: affine matrices.

    `within` so many mm.
    """
    left, top, right, bottom = shape.bounds
    found = []
    edge = shapely.segmentize(shape.boundary, 0.5)
    for matrix in ([-1, 0, 0, 1, left + right, 0], [1, 0, 0, -1, 0, top + bottom]):
        other = affinity.affine_transform(shape, matrix)
        if abs(other.symmetric_difference(shape).area) > within * shape.length:
            continue
        there = affinity.affine_transform(edge, matrix)
        if shapely.hausdorff_distance(there, edge) < 0.6 and _off(there, shape.boundary) < within:
            found.append(matrix)
    return found


def _off(there: shapely.Geometry, edge: shapely.Geometry) -> float:
    shapely.prepare(edge)
    points = shapely.points(shapely.get_coordinates(there))
    return float(shapely.distance(points, edge).max())


def is_disc(shape: MultiPolygon) -> bool:
    """Tell whether a piece is a disc, or discs and rings about one middle: nothing shows a turn."""
    middle = shape.centroid
    spots = [
        shapely.distance(
            middle, shapely.points(shapely.get_coordinates(shapely.segmentize(r, 0.5)))
        )
        for part in shapely.get_parts(shape)
        for r in (part.exterior, *part.interiors)
    ]
    most = ROUND * max(far.max() for far in spots)
    return all(float(np.ptp(far)) < most for far in spots)


def beside(shape: MultiPolygon, matrix: Sequence[float]) -> list[float]:
    """Affine matrix that brings a piece to where another would, without turning it."""
    x, y = shape.centroid.x, shape.centroid.y
    a, b, d, e, right, down = matrix
    return [1, 0, 0, 1, a * x + b * y + right - x, d * x + e * y + down - y]
