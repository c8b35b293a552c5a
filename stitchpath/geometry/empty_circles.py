"""Loose ground: where nothing holds the layers together, and how dense the quilting is.

The clearance of a point is its distance to the nearest stitching or to the edge of the top, which
counts as stitched because the binding holds it. A loose place is a circle about a point with as
much clearance as its radius. The largest ones stand at vertices of the Voronoi diagram of all
stitching [1]_, which is found here by way of points sampled along it:

* Samples at most `step` apart, ends included, lie on the stitching, so an empty circle of the
  stitching is one of the samples too: no circle is lost.
* Where the nearest sample is `r` away, the nearest stitching is at least sqrt(r² - step²/4) away:
  either its nearest point is an end and thus a sample, or it lies at a right angle and a sample
  within step/2 of it. With step² = tolerance · (2 limit - tolerance) and 2r > limit that is at
  most tolerance/2 short of `r`, so the widest circle comes out at most `tolerance` too small.
* What is reported is measured to the stitching itself, so a circle is never too large.

References
----------
.. [1] F. Aurenhammer, "Voronoi diagrams: a survey of a fundamental geometric data structure",
   ACM Computing Surveys 23(3), 1991, on the largest empty circle.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy.spatial import Delaunay, cKDTree
from shapely import Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray, IntArray

__all__ = ["OVERLAP", "LoosePlace", "density", "loose_places", "uneven_neighbours", "widest_gap"]

OVERLAP = 0.1
"""Two loose places overlap by at most this share of the smaller one's diameter."""

ON_BOUNDARY = 0.1
"""Stitching this near to a boundary, mm, lies on it: either may be a curve flattened to 0.05 mm."""

MANY = 30_000
"""So many cells of open ground are not looked at more closely: there is little to drop."""

SHARED = 1.0
"""Regions with less boundary than this in common, mm, meet at a corner and are no neighbours."""


@dataclass(frozen=True, slots=True)
class LoosePlace:
    """A circle of the top that holds no stitching.

    Attributes
    ----------
    x, y
        Its centre, mm.
    diameter
        Its diameter, mm: as far as the stitching, or the edge of the top, lets it grow.
    """

    x: float
    y: float
    diameter: float


def loose_places(
    top: Polygon,
    stitching: Sequence[FloatArray],
    limit: float,
    *,
    tolerance: float = 0.5,
    most: int | None = None,
) -> list[LoosePlace]:
    """Find the places where the quilting leaves more open ground than the batting allows.

    Parameters
    ----------
    top
        Outline of the finished top, holes allowed; all its edges count as stitched.
    stitching
        Polylines, each of shape (n, 2), mm; a single point is a tie.
    limit
        Greatest distance between lines of quilting that the batting allows, mm.
    tolerance
        How much too small the diameter of the widest place may be, mm. Most places come out
        far closer, for each is centred between the lines that hold it.
    most
        Stop after this many places.

    Returns
    -------
    Circles with a diameter over `limit`, the biggest first, equal ones (to 1 µm) from the top
    down. Two overlap by at most `OVERLAP` of the smaller one's diameter, so a wide strip gives a
    chain of places. No wide place is missing: a vertex of the Voronoi diagram with more room than
    `limit` is the centre of a circle, or overlaps more than that with a bigger one. Centres and
    diameters are on a 1 µm grid.

    Raises
    ------
    StitchpathError
        If `limit` or `tolerance` is not above 0, or the top has no area.
    """
    _require(top, limit, tolerance)
    segments = _segments(top, stitching)
    step = float(np.sqrt(tolerance * (2 * max(limit, tolerance) - tolerance)))
    points, owners = _samples(segments, step)
    near = _near_open_ground(top, points, limit)
    near = near[_distinct(points[near])]
    centres, sites = _empty_circles(top, points[near], owners[near], limit)
    if not len(centres):
        return []
    centres = np.concatenate([centres, _centred(centres, segments[sites], 2 * step)])
    centres = centres[_distinct(centres)]
    diameters = 2 * _clearance(segments, centres)
    wide = (diameters > limit + 1e-6) & shapely.contains_xy(top, centres)
    return _biggest_first(centres[wide], diameters[wide], most)


def widest_gap(
    top: Polygon, stitching: Sequence[FloatArray], *, tolerance: float = 0.5
) -> LoosePlace:
    """Find the largest circle that holds no stitching.

    Parameters
    ----------
    top, stitching, tolerance
        As for `loose_places`.

    Returns
    -------
    The widest unquilted place, its diameter at most `tolerance` too small, never too large.

    Raises
    ------
    StitchpathError
        If `tolerance` is not above 0, or the top has no area.
    """
    _require(top, 1.0, tolerance)
    middle = shapely.get_coordinates(top.representative_point())
    probes = np.vstack([_grid(top, _extent(top) / 128), middle])
    probes = probes[shapely.contains_xy(top, probes)]
    clearance = _clearance(_segments(top, stitching), probes)
    best = int(clearance.argmax())
    known = LoosePlace(float(probes[best, 0]), float(probes[best, 1]), 2 * float(clearance[best]))
    # A few probes find a fair circle at once. No smaller one can be the widest, which spares most
    # of the work.
    floor = max(known.diameter - tolerance, tolerance)
    return next(iter(loose_places(top, stitching, floor, tolerance=tolerance, most=1)), known)


def density(regions: Sequence[BaseGeometry], stitching: Sequence[FloatArray]) -> FloatArray:
    """Measure how densely each region is quilted.

    Parameters
    ----------
    regions
        Blocks, borders or patches that do not overlap.
    stitching
        Polylines, each of shape (n, 2), mm.

    Returns
    -------
    Metres of stitching per square metre, shape (len(regions),). Stitching on a boundary that two
    regions share counts half to either, on any other boundary whole.
    """
    shapes = np.array(regions, dtype=object)
    if not len(shapes):
        return np.zeros(0)
    pieces = _polyline_segments(stitching)
    if not len(pieces):
        return np.zeros(len(shapes))
    segments = STRtree(np.asarray(shapely.linestrings(pieces)))
    # What lies on the boundary is in the grown shape and not in the shrunk one, so the mean of
    # the two counts it half.
    grown, shrunk = shapely.buffer(shapes, ON_BOUNDARY), shapely.buffer(shapes, -ON_BOUNDARY)
    length = (_lengths_within(grown, segments) + _lengths_within(shrunk, segments)) / 2
    # Where a boundary has a region on one side only, that region gets the other half as well.
    whole = shapely.union_all(grown)
    alone = shapely.intersection(grown, shapely.difference(whole, whole.buffer(-2 * ON_BOUNDARY)))
    length += _lengths_within(alone, segments) / 2
    return 1000 * length / shapely.area(shapes)


def uneven_neighbours(
    regions: Sequence[BaseGeometry], densities: FloatArray, factor: float
) -> list[tuple[int, int, float]]:
    """Find regions beside each other whose quilting differs much in density.

    Dense quilting draws a quilt in, so open ground beside it ripples (common practice).

    Parameters
    ----------
    regions
        Blocks, borders or patches that do not overlap.
    densities
        Of each region, any one unit, shape (len(regions),).
    factor
        How many times as dense a region may be as the one beside it.

    Returns
    -------
    Triples (i, j, ratio), the greatest ratio first: region `i` is `ratio` > `factor` times as
    dense as region `j`, with which it shares an edge; infinite where `j` has no stitching.
    """
    shapes = np.array(regions, dtype=object)
    if not len(shapes):
        return []
    grown = shapely.buffer(shapes, ON_BOUNDARY)
    first, second = STRtree(grown).query(grown, predicate="intersects")
    denser = densities[first] > factor * densities[second]
    first, second = first[denser & (first != second)], second[denser & (first != second)]
    common = shapely.length(shapely.intersection(shapely.boundary(shapes[first]), grown[second]))
    with np.errstate(divide="ignore"):
        ratios = densities[first] / densities[second]
    pairs = zip(first.tolist(), second.tolist(), ratios.tolist(), common.tolist(), strict=True)
    uneven = [(i, j, ratio) for i, j, ratio, shared in pairs if shared > SHARED]
    return sorted(uneven, key=lambda pair: (-pair[2], pair[0], pair[1]))


def _require(top: Polygon, limit: float, tolerance: float) -> None:
    if not limit > 0:
        raise StitchpathError(
            f"The batting's greatest quilting distance is {limit:g} mm; it must be more than 0."
        )
    if not tolerance > 0:
        raise StitchpathError(f"The tolerance is {tolerance:g} mm; it must be more than 0.")
    if not top.area > 0:
        raise StitchpathError("The top has no area; expected an outline that encloses some.")


def _polyline_segments(polylines: Sequence[FloatArray]) -> FloatArray:
    """Cut polylines into straight pieces, shape (m, 2, 2); a point is a piece of length 0."""
    lines = [np.repeat(line, 2, axis=0) if len(line) == 1 else line for line in polylines]
    lines = [line for line in lines if len(line)]
    if not lines:
        return np.zeros((0, 2, 2))
    points = np.concatenate(lines)
    pieces = np.stack([points[:-1], points[1:]], axis=1)
    between = np.cumsum([len(line) for line in lines])[:-1] - 1
    return np.delete(pieces, between, axis=0)


def _segments(top: Polygon, stitching: Sequence[FloatArray]) -> FloatArray:
    rings = [shapely.get_coordinates(ring) for ring in (top.exterior, *top.interiors)]
    return _polyline_segments([*rings, *stitching])


def _samples(segments: FloatArray, step: float) -> tuple[FloatArray, IntArray]:
    """Place points along all segments, ends included, and the segment that each lies on."""
    along = segments[:, 1] - segments[:, 0]
    parts = np.maximum(1, np.ceil(np.hypot(along[:, 0], along[:, 1]) / step)).astype(np.int64)
    owners = np.repeat(np.arange(len(segments)), parts + 1)
    number = np.arange(len(owners)) - np.repeat(np.cumsum(parts + 1) - (parts + 1), parts + 1)
    return segments[owners, 0] + (number / parts[owners])[:, None] * along[owners], owners


def _grid(top: Polygon, side: float) -> FloatArray:
    """Cover the top with square cells; their centres, shape (n, 2), row by row."""
    left, upper, right, lower = top.bounds
    x, y = np.meshgrid(
        left + side * (0.5 + np.arange(np.ceil((right - left) / side))),
        upper + side * (0.5 + np.arange(np.ceil((lower - upper) / side))),
    )
    return np.column_stack([x.ravel(), y.ravel()])


def _extent(top: Polygon) -> float:
    left, upper, right, lower = top.bounds
    return float(max(right - left, lower - upper))


def _distinct(points: FloatArray) -> IntArray:
    """Find which points differ on a grid of 1 µm; the first index of equal ones."""
    grid = np.round(points * 1000).astype(np.int64)
    _, first = np.unique(grid[:, 0] * 2**32 + grid[:, 1], return_index=True)
    return np.asarray(first, dtype=np.int64)


def _near_open_ground(top: Polygon, points: FloatArray, limit: float) -> IntArray:
    """Find the samples that can touch an empty circle wider than `limit`.

    Branch and bound over square cells: from one point to another the clearance changes by no more
    than their distance, so a cell whose centre has clearance `r` has nowhere more than r + half
    its diagonal. Where that is too little the cell is dropped, the others are quartered. Most of
    a well quilted top falls away at once, and with it the samples that are farther from all
    cells left than the widest circle there reaches.
    """
    tree = cKDTree(points)
    shapely.prepare(top)
    side = max(limit, _extent(top) / 256)
    cells = _grid(top, side)
    while True:
        half = side / np.sqrt(2)
        clearance = np.asarray(tree.query(cells)[0])
        wide = (clearance + half > limit / 2) & shapely.dwithin(top, shapely.points(cells), half)
        cells, clearance = cells[wide], clearance[wide]
        if not len(cells):
            return np.zeros(0, dtype=np.int64)
        if side < limit / 8 or len(cells) > MANY:
            break
        side /= 2
        quarters = side / 2 * np.array([(-1, -1), (1, -1), (-1, 1), (1, 1)])
        cells = (cells[:, None] + quarters).reshape(-1, 2)
    reach = clearance.max() + 2 * half
    distance, _ = cKDTree(cells).query(points, distance_upper_bound=reach)
    return np.flatnonzero(np.asarray(distance) < np.inf)


def _empty_circles(
    top: Polygon, points: FloatArray, owners: IntArray, limit: float
) -> tuple[FloatArray, IntArray]:
    """Find the vertices of the Voronoi diagram of the samples, and the segments they stand between.

    Returns
    -------
    Centres in the top with a sampled clearance over limit / 2, shape (k, 2), and the segments of
    the three samples around each, shape (k, 3).
    """
    if not len(points):
        return np.zeros((0, 2)), np.zeros((0, 3), dtype=np.int64)
    left, upper, right, lower = top.bounds
    far = 2 * (right - left + lower - upper)
    # Four far points make a triangulation possible whatever is left; they touch no circle in the
    # top, and no triangle with one of them is kept.
    corners = [(left - far, upper - far), (right + far, upper - far)]
    corners += [(left - far, lower + far), (right + far, lower + far)]
    # Seams make regular grids, with many samples on one circle; a shake of 0.1 µm does away with
    # these special cases and halves the time.
    points = points + np.random.default_rng(0).uniform(-1e-4, 1e-4, points.shape)
    triangles = Delaunay(np.vstack([points, corners])).simplices
    triangles = triangles[(triangles < len(points)).all(axis=1)]
    a, b, c = (points[triangles[:, corner]] for corner in range(3))
    ab, ac = b - a, c - a
    twice = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    bb, cc = (ab**2).sum(axis=1), (ac**2).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        x = (ac[:, 1] * bb - ab[:, 1] * cc) / twice
        y = (ab[:, 0] * cc - ac[:, 0] * bb) / twice
        keep = np.isfinite(x) & np.isfinite(y) & (x**2 + y**2 > limit**2 / 4)
    centres = a[keep] + np.column_stack([x[keep], y[keep]])
    inside = shapely.contains_xy(top, centres)
    return centres[inside], owners[triangles[keep][inside]]


def _centred(centres: FloatArray, around: FloatArray, most: float) -> FloatArray:
    """Move centres to where they are equally far from the three segments around them.

    Newton's method on the three distances, damped a little, so that the shortest step is taken
    where the segments leave a direction free (two are the same, say, or all are parallel).
    Centres that would move farther than `most` stay.

    Parameters
    ----------
    centres
        Shape (k, 2).
    around
        The segments, shape (k, 3, 2, 2).
    most
        Farthest move, mm.
    """
    start, along = around[:, :, 0], around[:, :, 1] - around[:, :, 0]
    square = np.maximum((along**2).sum(axis=2), 1e-18)
    moved = centres
    for _ in range(3):
        away = moved[:, None] - start
        share = np.clip((away * along).sum(axis=2) / square, 0, 1)
        away -= share[..., None] * along
        distance = np.maximum(np.hypot(away[..., 0], away[..., 1]), 1e-9)
        slopes = np.dstack([away / distance[..., None], -np.ones_like(distance)])
        uneven = distance.mean(axis=1, keepdims=True) - distance
        turned = slopes.transpose(0, 2, 1)
        normal = turned @ slopes + 1e-6 * np.eye(3)
        moved = moved + np.linalg.solve(normal, turned @ uneven[..., None])[:, :2, 0]
    far = np.hypot(*(moved - centres).T) > most
    return np.where(far[:, None], centres, moved)


def _clearance(segments: FloatArray, points: FloatArray) -> FloatArray:
    """Distance from each point to the nearest segment, mm."""
    tree = STRtree(np.asarray(shapely.linestrings(segments)))
    _, distance = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    return np.asarray(distance, dtype=np.float64)


def _biggest_first(
    centres: FloatArray, diameters: FloatArray, most: int | None
) -> list[LoosePlace]:
    """Take circles, biggest first, each unless it overlaps one taken before by too much."""
    places: list[LoosePlace] = []
    if not len(centres):
        return places
    # Rounded, so that noise far below a micrometre does not shuffle equal places.
    order = np.lexsort(np.round([*centres.T, -diameters], 3))
    centres, radii = centres[order], diameters[order] / 2
    tree = cKDTree(centres)
    free = np.ones(len(centres), dtype=np.bool_)
    for number, (centre, radius) in enumerate(zip(centres, radii, strict=True)):
        if most is not None and len(places) >= most:
            break
        if not free[number]:
            continue
        x, y, diameter = np.round([*centre, 2 * radius], 3).tolist()
        places.append(LoosePlace(x, y, diameter))
        near = np.array(tree.query_ball_point(centre, 2 * radius))
        distance = np.hypot(*(centres[near] - centre).T)
        free[near[radius + radii[near] - distance > 2 * OVERLAP * radii[near] + 1e-6]] = False
    return places


def _lengths_within(shapes: npt.NDArray[np.object_], tree: STRtree) -> FloatArray:
    """Sum the length of all segments of the tree within each shape, mm."""
    segments = tree.geometries
    shape, line = tree.query(shapes, predicate="intersects")
    whole = np.ravel_multi_index(tree.query(shapes, predicate="covers"), (len(shapes), len(tree)))
    cut = ~np.isin(np.ravel_multi_index((shape, line), (len(shapes), len(tree))), whole)
    inside = shapely.length(segments)[line]
    inside[cut] = shapely.length(shapely.intersection(segments[line[cut]], shapes[shape[cut]]))
    return np.bincount(shape, weights=inside, minlength=len(shapes)).astype(np.float64)
