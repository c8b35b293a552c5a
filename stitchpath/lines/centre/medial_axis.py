"""The raw medial axis of an outline, from the Voronoi diagram of its samples.

Every point of the axis is the middle of a circle that fits inside the outline and touches it in two
places or more. This module finds those middles and knows, for every edge of the axis, which two
places of the outline it lies between; what a quilter would stitch of it is decided in
`stitchpath.lines.centre.centre_lines`.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Delaunay
from shapely.geometry import Polygon

from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["Axis", "medial_axis", "sampling_step"]

# A vertex of the outline that turns by this much or more is kept as a sample of its own. A curve
# flattened to 0.05 mm turns by less at each vertex unless its radius is under 3 mm.
CORNER = np.radians(10.0)
# Samples are looked for this many to an outline: more make the axis no truer than 0.02 mm on a
# 4 in piece, and the diagram slower.
SAMPLES = 600
# Finest and coarsest distance between samples, mm. Between two straight edges 2r apart the axis of
# samples h apart wavers by h² / 16r: 0.04 mm at the coarsest, in the narrowest arm that can be
# stitched (r = 1/16 in).
FINEST, COARSEST = 0.2, 1.0


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


def medial_axis(polygon: Polygon, step: float) -> Axis:
    """Medial axis of a polygon from the Voronoi diagram of its samples.

    Parameters
    ----------
    polygon
        Valid polygon, mm; may have holes.
    step
        Distance between samples, mm, at most; a small part gets a hundred at least.

    Notes
    -----
    Voronoi vertices are the circumcentres of Delaunay triangles, and Voronoi edges join those of
    neighbouring triangles (Aurenhammer 1991, "Voronoi diagrams", ACM Computing Surveys 23). The
    triangles inside the polygon give its medial axis, the more exactly the closer the samples
    (Brandt 1994, "Convergence and continuity criteria for discrete approximations of the continuous
    planar skeleton").
    """
    step = min(step, polygon.length / 100)
    sites, ring, along, around = _samples(polygon, step)
    mesh = Delaunay(sites - sites.mean(axis=0))
    corners = sites[mesh.simplices]
    centres, radii = _circumcircles(corners)
    middle = corners.mean(axis=1)
    shapely.prepare(polygon)
    inside = shapely.contains_xy(polygon, middle) & np.isfinite(radii)
    edges, pairs = _neighbours(
        mesh.simplices.astype(np.int64), mesh.neighbors.astype(np.int64), inside
    )
    first, second = pairs.T
    same = ring[first] == ring[second]
    length = around[ring[first]]
    way = np.abs(along[first] - along[second])
    explained = np.where(same, np.minimum(way, length - way), np.inf)
    chords = np.hypot(*(sites[first] - sites[second]).T)
    number = np.cumsum(inside) - 1
    return Axis(centres[inside], radii[inside], number[edges], explained, chords)


def _samples(polygon: Polygon, step: float) -> tuple[FloatArray, IntArray, FloatArray, FloatArray]:
    """Sample all rings: points, ring of each, place along it, length of each ring."""
    rings = [polygon.exterior, *polygon.interiors]
    sampled = [_ring_samples(shapely.get_coordinates(ring), step) for ring in rings]
    ring = np.repeat(np.arange(len(rings)), [len(along) for _, along in sampled])
    around = np.array([line.length for line in rings])
    return (
        np.concatenate([points for points, _ in sampled]),
        ring,
        np.concatenate([along for _, along in sampled]),
        around,
    )


def _ring_samples(coords: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Even samples of a ring between its corners: a symmetric ring gives symmetric samples."""
    sides = np.diff(coords, axis=0)
    lengths = np.hypot(*sides.T)
    sides, lengths = sides[lengths > 0], lengths[lengths > 0]
    coords = np.concatenate([coords[:1], coords[0] + np.cumsum(sides, axis=0)])
    place = np.concatenate([[0.0], np.cumsum(lengths)])
    heading = np.arctan2(sides[:, 1], sides[:, 0])
    turn = np.abs((heading - np.roll(heading, 1) + np.pi) % (2 * np.pi) - np.pi)
    corners = np.flatnonzero(turn >= CORNER)
    if len(corners) == 0:
        corners = np.array([0])
    stops = place[corners]
    spans = np.diff(np.append(stops, stops[0] + place[-1]))
    counts = np.maximum(np.ceil(spans / step - 1e-6).astype(np.int64), 1)
    if counts.sum() < 3:  # noqa: PLR2004  a ring has three samples at least
        counts *= 3
    starts = np.repeat(np.cumsum(counts) - counts, counts)
    share = (np.arange(counts.sum()) - starts) / np.repeat(counts, counts)
    along = (np.repeat(stops, counts) + share * np.repeat(spans, counts)) % place[-1]
    points = np.column_stack([np.interp(along, place, coords[:, k]) for k in (0, 1)])
    return points, along


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
