"""Echo rings inward, and the short ways from one to the next."""

import heapq
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, Geometries
from stitchpath.geometry.polylines import distances, moving_on
from stitchpath.geometry.tolerances import SAME_POINT
from stitchpath.lines.fills.bare import Stitched, grouped
from stitchpath.lines.fills.entries import choose_door
from stitchpath.lines.fills.ground import corners, eroded, grown, polygons, rings_of, segments

__all__ = ["Hop", "hops", "inner_parts", "ring_from", "rings", "snug"]

_SNUG = (1.0, 0.975, 0.95, 0.925, 0.9, 0.875)
"""Shares of the spacing tried, so that the innermost ring leaves no middle bare."""


_EYE = 0.45  # half the width of the ring in a bare middle, as a share of how far that is from all
_SMALL = 0.4  # half the width of the least echo, in spacings
_LOOKS = 4


@dataclass(frozen=True, slots=True)
class Hop:
    """The way from one ring to the next: from a point of ring `home` to one of ring `to`."""

    home: int  # -1: the door
    to: int
    start: FloatArray
    end: FloatArray


def inner_parts(region: BaseGeometry, inset: float, radius: float) -> list[Polygon]:
    """Parts of a region inside its inset, wide enough for a ring of the least radius."""
    inner = eroded(region, inset)
    if inset < radius:  # a ring can't turn about a sharp inner corner
        inner = inner.difference(grown(MultiPoint(corners(region, inner=True)), radius))
    # What the arcs of offsets leave behind would only slow down the rings inside.
    return polygons(_rounded(inner, 0.0, radius).intersection(inner).simplify(0.005))


def _rounded(area: BaseGeometry, depth: float, radius: float) -> BaseGeometry:
    """Give what lies `depth` inside an area, with outer corners rounded."""
    inside = area.buffer(-(depth + radius), quad_segs=segments(depth + radius))
    return grown(inside, radius) if radius > 0 else inside


def _wide(area: BaseGeometry, least: float) -> BaseGeometry:
    """Leave out what is so small that its ring would be no more than a dot."""
    parts = polygons(area)
    wide = [part for part in parts if not part.buffer(-least).is_empty]
    return area if len(wide) == len(parts) else MultiPolygon(wide)


def _nested(
    part: Polygon, first: float, step: float, radius: float, reach: float
) -> tuple[list[FloatArray], float]:
    """Rings of a part at depths first, first + step, …, and the area farther than `reach`."""
    found: list[FloatArray] = []
    bare = 0.0
    depth = first
    least = max(radius, _SMALL * step) if first == 0 else radius
    area = _wide(_rounded(part, depth, radius), least)
    while not area.is_empty:
        found += rings_of(area)
        deeper = part.buffer(-(depth + reach), quad_segs=16)
        depth += step
        area = _wide(_rounded(part, depth, radius), least)
        if not deeper.is_empty:
            bare += deeper.difference(area.buffer(reach) if not area.is_empty else area).area
    return found, bare


def snug(
    part: Polygon, spacing: float, radius: float, *, strands: int
) -> tuple[list[FloatArray], float]:
    """Find rings that leave as little of the part bare as can be, and the spacing they keep."""
    best: tuple[float, list[FloatArray], float] | None = None
    for share in _SNUG:
        pitch = share * spacing
        half = 0.0 if strands == 1 else pitch / 2
        found, bare = _nested(part, half, strands * pitch, radius, half + spacing)
        if best is None or bare < best[0] - 1e-6:
            best = bare, found, pitch
        if bare < 1e-3 * spacing**2:
            break
    assert best is not None  # noqa: S101 - the loop runs
    return best[1], best[2]


def _eyes(
    part: Polygon, found: list[FloatArray], spacing: float, radius: float
) -> list[FloatArray]:
    """Echo the rings once more, closer, round the middles that no ring comes near."""
    eyes: list[FloatArray] = []
    for _ in range(_LOOKS):
        at, far, side = Stitched([*found, *eyes], spacing / 8).far_places(part, spacing)
        groups = grouped(at, 1.5 * side)
        if not groups:
            break
        areas = np.array([Polygon(ring) for ring in [*found, *eyes]])
        tree = shapely.STRtree(areas)
        for group in groups:
            worst = int(group[np.argmax(np.round(far[group], 6))])
            eyes += _eye(areas, tree, Point(at[worst]), float(far[worst]), radius)
    return eyes


def _eye(
    areas: Geometries, tree: shapely.STRtree, at: Point, far: float, radius: float
) -> list[FloatArray]:
    """Draw a ring about a place in the shape of the ring round it, midway to it."""
    room = at.buffer(far)
    round_it = tree.query(at, predicate="within")
    if len(round_it):
        least = areas[round_it[np.argmin(shapely.area(areas[round_it]))]]
        inside = areas[tree.query(least, predicate="contains_properly")]
        room = least.difference(shapely.union_all(inside)) if len(inside) else least
    size = max(radius, _EYE * far)
    inner = _rounded(room, max(far - size, 0.0), radius)
    eye = next((p for p in polygons(inner) if p.dwithin(at, size)), None)
    return rings_of(grown(at, size) if eye is None else eye)


def hops(found: list[FloatArray], gate: FloatArray, foot: FloatArray, reach: float) -> list[Hop]:
    """Join rings by the shortest ways, from the door on (Prim's algorithm).

    Where a ring can be left near the point at which it was entered it is, so that the hops line up.
    """
    lines = np.array([LineString(ring) for ring in found], dtype=object)
    tree = shapely.STRtree(lines)
    entry = {int(tree.nearest(Point(foot))): foot}
    home = next(iter(entry))
    made = [Hop(-1, home, gate, foot)]
    waiting: list[tuple[float, int, int]] = []

    def look_round(ring: int) -> None:
        for other in np.sort(tree.query(lines[ring], predicate="dwithin", distance=reach)).tolist():
            if other not in entry:
                length = round(float(lines[ring].distance(lines[other])), 6)
                heapq.heappush(waiting, (length, ring, other))

    look_round(home)
    while waiting:
        _, ring, other = heapq.heappop(waiting)
        if other in entry:
            continue
        way = _way(lines, tree, ring, other, entry[ring])
        if way is None:
            continue
        made.append(Hop(ring, other, way[0], way[1]))
        entry[other] = way[1]
        look_round(other)
    return made


def _way(
    lines: FloatArray, tree: shapely.STRtree, ring: int, other: int, entered: FloatArray
) -> FloatArray | None:
    """Find a straight way between two rings that meets no ring on its way, shape (2, 2)."""
    nearest = float(lines[ring].distance(lines[other]))
    close = shapely.shortest_line(Point(entered), lines[other])
    tries = [close] if close.length <= 1.5 * nearest else []
    tries.append(shapely.shortest_line(lines[ring], lines[other]))
    for line in tries:
        ends = shapely.get_coordinates(line)
        inside = LineString(ends + 1e-3 * (ends[::-1] - ends))
        if not len(tree.query(inside, predicate="intersects")):
            return np.asarray(ends, dtype=np.float64)
    return None


def ring_from(ring: FloatArray, point: FloatArray, marks: list[FloatArray]) -> FloatArray:
    """Turn a closed ring so that it begins and ends at `point`, with `marks` among its vertices."""
    added = np.array([point, *marks])
    corner = ring[:-1]
    along = distances(ring)[:-1]
    apart = np.hypot(*(corner[:, None] - added[None, :]).transpose(2, 0, 1)).min(axis=1)
    kept = apart > SAME_POINT  # a vertex at a mark gives way to it
    points = np.concatenate([added, corner[kept]])
    places = shapely.line_locate_point(LineString(ring), shapely.points(added))
    order = np.argsort(np.concatenate([places, along[kept]]), kind="stable")
    turned = np.roll(points[order], -int(np.flatnonzero(order == 0)[0]), axis=0)
    turned = turned[moving_on(turned)]
    return np.concatenate([turned, turned[:1]])


def rings(
    region: BaseGeometry,
    part: Polygon,
    spacing: float,
    radius: float,
    door: tuple[float, float] | None,
) -> tuple[list[FloatArray], bool]:
    """Echo the edge of a region inward, ring within ring.

    Parameters
    ----------
    region
        The region that is filled, mm.
    part
        One of its `inner_parts`: its edge is the outermost ring.
    spacing, radius
        Of the fill, mm. The rings draw together by up to an eighth of the spacing so that the
        innermost leaves no middle bare.
    door
        As for `choose_door`.

    Returns
    -------
    paths
        First the stem from the door to the ring next to it; then each ring, closed, from
        where it is entered, and the short straight hop to the next.
    kept
        False if the door wanted could not be reached, so that another one was taken.
    """
    found, _ = snug(part, spacing, radius, strands=1)
    if not found:  # just wide enough to turn in: once round
        found = [np.asarray(part.exterior.coords, dtype=np.float64)[:, :2]]
    found += _eyes(part, found, spacing, radius)
    gate, foot, kept = choose_door(region, np.concatenate(found), door, spacing)
    made = hops(found, gate, foot, 2.5 * spacing)
    paths: list[FloatArray] = []
    for hop in made:
        marks = [other.start for other in made if other.home == hop.to]
        if np.any(hop.start != hop.end):
            paths.append(np.stack([hop.start, hop.end]))
        paths.append(ring_from(found[hop.to], hop.end, marks))
    return paths, kept
