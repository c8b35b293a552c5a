"""Doors: where a closed fill hangs on the seams, and the stems that lead there and back."""

from collections.abc import Iterator

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import distances
from stitchpath.lines.fills.curves import bend_radii, least_radius
from stitchpath.lines.fills.ground import corners

__all__ = ["choose_door", "opened"]

_GAPS = (0.6, 0.8, 1.0, 0.45, 1.3, 0.3, 0.2, 0.1)  # half of the curve cut open, in spacings
_BOWS = (0.5, 0.35, 0.65, 0.2)  # how long a stem keeps the direction of the curve
_REACH = 2.5  # how far from the door a curve may be changed, in spacings
_FARTHER = 1.5  # a corner at up to this many times the distance of the nearest may be the door


def choose_door(
    region: BaseGeometry,
    stitched: FloatArray,
    door: tuple[float, float] | None,
    spacing: float,
) -> tuple[FloatArray, FloatArray, bool]:
    """Find where on the region's edge a fill is entered, and where a straight stem meets it.

    Parameters
    ----------
    region
        The region that is filled, mm.
    stitched
        Points of the fill, shape (n, 2), mm.
    door
        The point wanted, on the edge of the region; else the first corner from the top left
        of those that lie nearest to the fill.
    spacing
        Of the fill, mm.

    Returns
    -------
    door
        Shape (2,).
    foot
        The point of the fill that is nearest to the door and in sight of it, shape (2,).
    kept
        False if the door wanted is not in sight of the fill, so that another one was taken.
    """
    tree = cKDTree(stitched)
    ample = region.buffer(0.02)  # a door may lie a hair off the edge
    shapely.prepare(ample)
    if door is not None:
        wanted = np.array(door, dtype=np.float64)
        foot = _in_sight(ample, wanted, stitched, tree)
        if foot is not None:
            return wanted, foot, True
    edge = shapely.get_coordinates(shapely.segmentize(region.boundary, spacing))
    edge = edge[np.lexsort((edge[:, 0], edge[:, 1]))]
    nearest = float(np.min(tree.query(edge)[0]))
    # Corners come first; where none is near, any point of the edge will do.
    for at, most in ((corners(region), 3 * nearest + spacing), (edge, np.inf)):
        distance = np.asarray(tree.query(at)[0]) if len(at) else np.empty(0)
        at, distance = at[distance <= most], distance[distance <= most]  # noqa: PLW2901
        good = at[distance <= _FARTHER * distance.min(initial=np.inf)]
        for corner in (*good, *at[np.argsort(distance, kind="stable")]):
            foot = _in_sight(ample, corner, stitched, tree)
            if foot is not None:
                return corner, foot, door is None
    # No such point sees the fill: the one nearest to it always does.
    line = shapely.shortest_line(region.boundary, shapely.multipoints(stitched))
    edge, foot = shapely.get_coordinates(line)
    return edge, foot, door is None


def _in_sight(
    region: BaseGeometry, door: FloatArray, stitched: FloatArray, tree: cKDTree
) -> FloatArray | None:
    """Find the nearest stitched point that a straight line inside the region leads to."""
    _, near = tree.query(door, k=min(len(stitched), 400))
    near = np.atleast_1d(near)
    near = near[np.unique(np.linspace(0, len(near) - 1, 40).astype(np.int64))]
    lines = shapely.linestrings(
        np.stack([np.broadcast_to(door, (len(near), 2)), stitched[near]], 1)
    )
    seen = np.flatnonzero(shapely.covers(region, lines))
    return np.asarray(stitched[near[seen[0]]]) if len(seen) else None


def opened(
    curve: FloatArray,
    region: BaseGeometry,
    door: tuple[float, float] | None,
    spacing: float,
    radius: float,
) -> tuple[FloatArray, bool]:
    """Open a closed curve and lead its ends to a door on the region's edge.

    Parameters
    ----------
    curve
        Shape (k, 2), the first point not repeated, mm.
    region
        The region that is filled, mm.
    door
        As for `choose_door`.
    spacing, radius
        Of the fill, mm.

    Returns
    -------
    path
        Shape (m, 2): begins and ends exactly at the door.
    kept
        False if the door wanted could not be reached, so that another one was taken.
    """
    gate, foot, kept = choose_door(region, curve, door, spacing)
    middle = int(np.argmin(np.hypot(*(curve - foot).T)))
    ring = np.roll(curve, -middle, axis=0)
    # A door may lie a hair off the edge.
    ample = region.buffer(1e-4).union(Point(gate).buffer(0.02))
    spare: FloatArray | None = None
    for path, stems in _ways(ring, gate, spacing, radius):
        if not _sound(path, stems, ample):
            continue
        if _round_enough(path, stems, radius):
            return path, kept
        spare = path if spare is None else spare
        path, stems = _eased(path, stems, spacing, radius)  # noqa: PLW2901 - the same way, rounder
        if _round_enough(path, stems, radius) and _sound(path, stems, ample):
            return path, kept
    if spare is None:  # two straight stems to neighbouring points of the curve
        spare = np.concatenate([gate[None], ring[1:], ring[:1], gate[None]])
    return spare, kept


def _ways(
    ring: FloatArray, gate: FloatArray, spacing: float, radius: float
) -> Iterator[tuple[FloatArray, tuple[FloatArray, FloatArray]]]:
    """Paths that open the ring at its first point, by ever smaller gaps."""
    closed = _finer(np.concatenate([ring, ring[:1]]), spacing)
    along = distances(closed)
    for gap in _GAPS:
        first, last = np.searchsorted(along, [gap * spacing, along[-1] - gap * spacing])
        last -= 1
        if last - first < 8:  # noqa: PLR2004 - what is left has to be a curve still
            continue
        kept = closed[first : last + 1]
        # Directions across a vertex are those of the curve; along a chord they are half a turn off.
        ahead, back = closed[first + 1] - closed[first - 1], closed[last - 1] - closed[last + 1]
        for bow in _BOWS:
            inward = _stem(gate, kept[0], ahead, bow, radius)
            outward = _stem(gate, kept[-1], back, bow, radius)
            yield np.concatenate([inward[:-1], kept, outward[-2::-1]]), (inward, outward)


def _finer(closed: FloatArray, spacing: float) -> FloatArray:
    """Add points to the straight stretches near the beginning and the end of a closed path."""
    along = distances(closed)
    reach = _REACH * spacing
    first, last = np.searchsorted(along, [reach, along[-1] - reach])
    if last <= first + 1:
        return shapely.get_coordinates(shapely.segmentize(LineString(closed), spacing / 8))
    head, tail = (
        shapely.get_coordinates(shapely.segmentize(LineString(part), spacing / 8))
        for part in (closed[: first + 1], closed[last - 1 :])
    )
    return np.concatenate([head, closed[first + 1 : last - 1], tail])


def _stem(
    gate: FloatArray, foot: FloatArray, ahead: FloatArray, bow: float, radius: float
) -> FloatArray:
    """Curve from the door into a point of the fill, meeting it in the direction `ahead`."""
    reach = np.hypot(*(foot - gate))
    lean = foot - ahead / max(np.hypot(*ahead), 1e-12) * bow * reach
    knots = np.stack([gate, gate + (lean - gate) * 0.6, lean, foot])
    count = max(4, int(np.ceil(1.5 * reach / np.sqrt(0.2 * radius + 0.01))))
    t = np.linspace(0, 1, count + 1)[:, None]
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
    stem = np.asarray(sum(w * k for w, k in zip(weights, knots, strict=True)))
    stem[0], stem[-1] = gate, foot
    return stem


def _eased(
    path: FloatArray, stems: tuple[FloatArray, FloatArray], spacing: float, radius: float
) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
    """Round both ends of a path, with what follows on them, where they bend too tightly."""
    ends = []
    for way, stem in ((path, stems[0]), (path[::-1], stems[1])):
        along = distances(way)
        reach = min(along[len(stem) - 1] + _REACH * spacing, 0.45 * along[-1])
        last = int(np.searchsorted(along, reach))
        at = np.linspace(0, along[last], max(8, int(25 * along[last] / spacing)))
        end = np.column_stack([np.interp(at, along, axis) for axis in way.T])
        for _ in range(300):
            tight = np.flatnonzero(bend_radii(end) < 1.03 * radius) + 1
            if not len(tight):
                break
            near = np.unique(np.clip(tight[:, None] + np.arange(-2, 3), 1, len(end) - 2))
            end[near] += 0.5 * ((end[near - 1] + end[near + 1]) / 2 - end[near])
        ends.append((end, last))
    (inward, first), (outward, last) = ends
    rest = path[first + 1 : len(path) - last - 1]
    return np.concatenate([inward, rest, outward[::-1]]), (inward, outward)


def _round_enough(path: FloatArray, stems: tuple[FloatArray, FloatArray], radius: float) -> bool:
    """Whether a path keeps its least radius all along its stems and where they join on."""
    first, last = (len(stem) + 2 for stem in stems)
    return min(least_radius(path[:first]), least_radius(path[-last:])) >= 0.95 * radius


def _sound(path: FloatArray, stems: tuple[FloatArray, FloatArray], region: BaseGeometry) -> bool:
    """Whether both stems lie in the region and meet neither each other nor the curve."""
    inward, outward = stems
    both = LineString(np.concatenate([outward[::-1], inward[1:]]))
    if not (both.is_simple and region.covers(both)):
        return False
    left, top, right, bottom = both.bounds
    rest = LineString(path[len(inward) - 1 : len(path) - len(outward) + 1])
    near = shapely.clip_by_rect(rest, left - 0.1, top - 0.1, right + 0.1, bottom + 0.1)
    # The curve may touch a stem only at its foot.
    for stem in stems:
        short = np.concatenate([stem[:-1], [stem[-1] + 0.02 * (stem[-2] - stem[-1])]])
        if LineString(short).intersects(near):
            return False
    return Point(path[0]).distance(rest) > 0
