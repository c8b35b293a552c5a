"""The raw medial axis of an outline, from the Voronoi diagram of its samples.

Every point of the axis is the middle of a circle that fits inside the outline and touches it in two
places or more. This module finds those middles and knows, for every edge of the axis, which two
places of the outline it lies between; what a quilter would stitch of it is decided in
`stitchpath.lines.centre.centre_lines`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Delaunay
from shapely.geometry import Polygon

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.polylines import distances, moving_on

__all__ = ["Axis", "medial_axis", "on_mirrors", "sampling_step"]

# A vertex of the outline that turns by this much or more is kept as a sample of its own. A curve
# flattened to 0.05 mm turns by less at each vertex unless its radius is under 3 mm.
CORNER = np.radians(10.0)
# Samples are looked for this many to an outline: more make the axis no truer than 0.02 mm on a
# 4 in piece, and the diagram slower.
SAMPLES = 900
# Finest and coarsest distance between samples, mm. Between two straight edges 2r apart the axis of
# samples h apart wavers by h² / 16r: 0.2 mm at the coarsest, in the narrowest arm that gets no more
# of them. A piece of 9 in is sampled as it is at 4 in, so that it has the same lines.
FINEST, COARSEST = 0.2, 2.3
_MOST = 8000  # samples from which on no narrow place gets more
_MORE = 4  # so many times as many samples in a narrow place
_WIDE = 1.5  # times as wide as its samples are apart is an arm or a neck that needs no more
_CLOSEST = 0.02  # mm: no samples nearer to each other than that are added
_ARM = 3.0  # an edge that explains this many times its chord crosses an arm or a neck
_STILL = 1e-4  # mm: as good as the same place


@dataclass(frozen=True, slots=True)
class Axis:
    """The medial axis as a graph.

    Attributes
    ----------
    points
        Its vertices, shape (n, 2), mm.
    radii
        Radius of the largest circle round each vertex that fits inside the outline, shape (n,), mm.
    edges
        Pairs of vertices, shape (m, 2).
    explained
        Length of outline between the two places that an edge lies between, the shorter way round,
        shape (m,), mm; infinite where they are on different rings, so the edge goes round a hole.
    chords
        Distance between those two places, shape (m,), mm.
    """

    points: FloatArray
    radii: FloatArray
    edges: IntArray
    explained: FloatArray
    chords: FloatArray


def sampling_step(length: float) -> float:
    """Distance between samples for an outline of a length, mm."""
    return float(np.clip(length / SAMPLES, FINEST, COARSEST))


@dataclass(frozen=True, slots=True)
class _Sites:
    """Samples of all rings: their places, ring by ring, each ring's in order round it."""

    points: FloatArray  # (n, 2)
    ring: IntArray  # (n,)
    along: FloatArray  # (n,), mm from the start of the ring
    around: FloatArray  # length of each ring, mm

    def following(self) -> IntArray:
        """Tell for each sample which comes after it on its ring."""
        nxt = np.arange(1, len(self.ring) + 1)
        last = np.flatnonzero(np.append(np.diff(self.ring) > 0, True))
        nxt[last] = np.concatenate([[0], last[:-1] + 1])
        return nxt


def medial_axis(
    polygon: Polygon, step: float, symmetries: Sequence[FloatArray] = (np.eye(2),)
) -> Axis:
    """Medial axis of a polygon from the Voronoi diagram of its samples.

    Parameters
    ----------
    polygon
        Valid polygon, mm; may have holes.
    step
        Distance between samples, mm, at most; a small part gets a hundred at least, and narrow
        places get more.
    symmetries
        Matrices (2, 2) that lay the polygon on itself: the samples lie as symmetric.

    Notes
    -----
    Voronoi vertices are the circumcentres of Delaunay triangles, and Voronoi edges join those of
    neighbouring triangles (Aurenhammer 1991, "Voronoi diagrams", ACM Computing Surveys 23). Those
    inside the polygon make its medial axis, the more exactly the closer the samples (Brandt 1994,
    "Convergence and continuity criteria for discrete approximations of the continuous planar
    skeleton"). It is the circumcentre that has to lie inside, not the triangle: that of a flat
    triangle may lie in a hole, or miles away.
    """
    step = min(step, polygon.length / 100)
    sites = _samples(polygon, step, symmetries)
    shapely.prepare(polygon)
    for last in (False, False, True):
        axis, narrow = _axis_of(polygon, sites)
        if last or not narrow.any() or len(sites.ring) > _MOST:
            break
        sites = _refined(sites, narrow, polygon)
    return axis


def _axis_of(polygon: Polygon, sites: _Sites) -> tuple[Axis, BoolArray]:
    """Axis between samples, and after which samples more are wanted."""
    points = sites.points
    mesh = Delaunay(points)
    corners = points[mesh.simplices]
    centres, radii = _circumcircles(corners)
    near = np.isfinite(radii)
    centres = np.where(near[:, None], centres, 0.0)
    inside = near & shapely.contains_xy(polygon, centres)
    edges, pairs = _neighbours(
        mesh.simplices.astype(np.int64), mesh.neighbors.astype(np.int64), inside
    )
    middle = centres[edges].mean(axis=1)
    whole = np.asarray(shapely.contains_xy(polygon, middle), dtype=bool)
    edges, pairs = edges[whole], pairs[whole]
    first, second = pairs.T
    same = sites.ring[first] == sites.ring[second]
    length = sites.around[sites.ring[first]]
    way = np.abs(sites.along[first] - sites.along[second])
    explained = np.where(same, np.minimum(way, length - way), np.inf)
    chords = np.hypot(*(points[first] - points[second]).T)
    number = np.cumsum(inside) - 1
    axis = Axis(centres[inside], radii[inside], number[edges], explained, chords)
    triangles = mesh.simplices.astype(np.int64)
    return axis, _too_far_apart(sites, triangles, pairs, explained, chords)


def _too_far_apart(
    sites: _Sites, triangles: IntArray, pairs: IntArray, explained: FloatArray, chords: FloatArray
) -> BoolArray:
    """Tell after which samples the next is too far off for what lies there.

    That is so where the outline between them is no edge of the diagram, for another part of it lies
    nearer; and in narrow arms and necks.
    """
    following = sites.following()
    size = len(following)
    sides = np.sort(triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1).astype(np.int64)
    known = np.unique(sides[:, 0] * size + sides[:, 1])
    own = np.sort(np.column_stack([np.arange(size), following]), axis=1)
    wanted: BoolArray = ~np.isin(own[:, 0] * size + own[:, 1], known)
    spans = np.hypot(*(sites.points[following] - sites.points).T)
    arm = explained >= _ARM * chords
    reach = np.full(size, np.inf)
    np.minimum.at(reach, pairs[arm].ravel(), np.repeat(chords[arm], 2))
    wanted |= _WIDE * spans > np.minimum(reach, reach[following])
    wanted &= spans > _CLOSEST
    return wanted


def _refined(sites: _Sites, after: BoolArray, polygon: Polygon) -> _Sites:
    """Put three more samples after each that wants them."""
    rings = [polygon.exterior, *polygon.interiors]
    many = np.where(after, _MORE, 1)
    own = np.repeat(np.arange(len(many)), many)
    share = (np.arange(len(own)) - np.repeat(np.cumsum(many) - many, many)) / many[own]
    stop = sites.along[sites.following()]
    around = sites.around[sites.ring]
    span = np.where(stop > sites.along, stop - sites.along, stop - sites.along + around)
    along = (sites.along[own] + share * span[own]) % around[own]
    ring = sites.ring[own]
    points = sites.points[own]
    for k, line in enumerate(rings):
        new = (ring == k) & (share > 0)
        points[new] = _placed(shapely.get_coordinates(line), along[new])
    return _Sites(points, ring, along, sites.around)


def _placed(coords: FloatArray, along: FloatArray) -> FloatArray:
    """Points so far along a ring, shape (n, 2)."""
    place = distances(coords)
    return np.column_stack([np.interp(along, place, coords[:, k]) for k in (0, 1)])


def _samples(polygon: Polygon, step: float, symmetries: Sequence[FloatArray]) -> _Sites:
    """Sample all rings evenly from stop to stop: corners, and what the symmetries make of them."""
    rings = [polygon.exterior, *polygon.interiors]
    coords = [shapely.get_coordinates(ring) for ring in rings]
    around = np.array([distances(points)[-1] for points in coords])
    stops = _stops(coords, rings, symmetries)
    sampled = [_between(at, float(length), step) for at, length in zip(stops, around, strict=True)]
    return _Sites(
        np.concatenate([_placed(c, at) for c, at in zip(coords, sampled, strict=True)]),
        np.repeat(np.arange(len(rings)), [len(at) for at in sampled]),
        np.concatenate(sampled),
        around,
    )


def _between(stops: FloatArray, length: float, step: float) -> FloatArray:
    """Places on a ring: stops, and evenly between them, in order."""
    spans = np.diff(np.append(stops, stops[0] + length))
    counts = np.maximum(np.ceil(spans / step - 1e-3).astype(np.int64), 1)
    if counts.sum() < 3:  # noqa: PLR2004  a ring has three samples at least
        counts *= 3
    starts = np.repeat(np.cumsum(counts) - counts, counts)
    share = (np.arange(counts.sum()) - starts) / np.repeat(counts, counts)
    along = np.repeat(stops, counts) + share * np.repeat(spans, counts)
    return np.sort(along % length)


def _stops(
    coords: Sequence[FloatArray],
    rings: Sequence[shapely.Geometry],
    symmetries: Sequence[FloatArray],
) -> list[FloatArray]:
    """Where on each ring sampling starts anew: nothing depends on where the ring was begun.

    Those are its corners, the places where a mirror line crosses it, and their pictures. A ring
    without any starts where it is farthest from the middle of the piece.
    """
    at = np.concatenate([_corners(points) for points in coords])
    at = np.concatenate([at, on_mirrors(coords, symmetries)])
    images = np.concatenate([at @ matrix.T for matrix in symmetries])
    images = images[np.unique(np.rint(images / _STILL), axis=0, return_index=True)[1]]
    stops = _located(images, rings)
    for k, points in enumerate(coords):
        if len(stops[k]) == 0:
            far = points[int(np.argmax(np.hypot(*points.T).round(3)))]
            more = _located(np.stack([matrix @ far for matrix in symmetries]), rings)
            stops = [new if len(old) == 0 else old for old, new in zip(stops, more, strict=True)]
        if len(stops[k]) == 0:  # a picture fell to a neighbour
            stops[k] = np.zeros(1)
    return stops


def on_mirrors(coords: Sequence[FloatArray], symmetries: Sequence[FloatArray]) -> FloatArray:
    """Where mirror lines cross closed lines.

    Parameters
    ----------
    coords
        Closed lines, each shape (n, 2), mm.
    symmetries
        Matrices (2, 2); those that turn are passed over.

    Returns
    -------
    FloatArray
        Shape (k, 2), mm.
    """
    found = [np.zeros((0, 2))]
    for matrix in symmetries:
        if np.linalg.det(matrix) > 0:
            continue
        across = matrix - np.eye(2)
        normal = across[np.argmax(np.abs(across).sum(axis=1))]
        normal = normal / np.hypot(*normal)
        for points in coords:
            aside = points @ normal
            a, b = aside[:-1], aside[1:]
            over = (a <= 0) != (b <= 0)
            share = (a[over] / (a[over] - b[over]))[:, None]
            found.append(points[:-1][over] * (1 - share) + points[1:][over] * share)
    return np.concatenate(found)


def _located(points: FloatArray, rings: Sequence[shapely.Geometry]) -> list[FloatArray]:
    """Places along the rings of points on them, in order, none twice."""
    if len(points) == 0:
        return [np.zeros(0) for _ in rings]
    spots = np.asarray(shapely.points(points))
    own = np.zeros(len(points), dtype=np.int64)
    if len(rings) > 1:
        nearest = shapely.STRtree(list(rings)).nearest(np.asarray(spots))
        own = np.asarray(nearest, dtype=np.int64)
    found = []
    for k, ring in enumerate(rings):
        mine = spots[own == k]
        length = float(shapely.length(ring))
        line = np.asarray([ring], dtype=object)
        along = np.sort(np.asarray(shapely.line_locate_point(line, mine)) % length)
        apart = np.diff(along, append=along[:1] + length) > _STILL
        found.append(along[apart] if apart.any() else along[:1])
    return found


def _corners(coords: FloatArray) -> FloatArray:
    """Vertices of a ring at which it turns, shape (n, 2)."""
    points = coords[moving_on(coords)][:-1]
    sides = np.roll(points, -1, axis=0) - points
    heading = np.arctan2(sides[:, 1], sides[:, 0])
    turn = np.abs((heading - np.roll(heading, 1) + np.pi) % (2 * np.pi) - np.pi)
    corners: FloatArray = points[turn >= CORNER]
    return corners


def _circumcircles(corners: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Circumcentres (n, 2) and radii (n,) of triangles (n, 3, 2); infinite where flat."""
    base = corners[:, 0]
    b, c = corners[:, 1] - base, corners[:, 2] - base
    twice = 2.0 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    b2, c2 = (b**2).sum(axis=1), (c**2).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        x = (c[:, 1] * b2 - b[:, 1] * c2) / twice
        y = (b[:, 0] * c2 - c[:, 0] * b2) / twice
        radii = np.hypot(x, y)
    flat = np.abs(twice) < 1e-12 * (b2 + c2)
    return base + np.column_stack([x, y]), np.where(flat, np.inf, radii)


def _neighbours(
    triangles: IntArray, neighbours: IntArray, inside: BoolArray
) -> tuple[IntArray, IntArray]:
    """Pairs of neighbouring triangles that are both inside, and the two samples they share."""
    here = np.repeat(np.arange(len(triangles)), 3)
    there = neighbours.ravel()
    keep = (there > here) & inside[here] & inside[there]
    shared = triangles[:, [[1, 2], [2, 0], [0, 1]]].reshape(-1, 2)
    return np.column_stack([here, there])[keep], shared[keep]
