"""Closed smooth curves: even sampling, splines, least radius, flattening."""

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.polylines import distances

__all__ = [
    "bend_radii",
    "crossings",
    "evenly",
    "flattened",
    "least_radius",
    "sampled",
    "settled",
    "uncrossed",
]

_CHORD = 0.04
"""Chord error of a flattened curve, mm; the plan allows 0.05."""

_HAIRPIN = -0.2  # cosine between the ways into and out of a bend, six points in all

_TESTED = (0.0, 0.25, 0.5, 0.75)  # where each span of a spline is held against its ground


def evenly(ring: FloatArray, count: int) -> FloatArray:
    """Sample a closed ring at `count` points equally far apart along it.

    Parameters
    ----------
    ring
        Shape (k, 2), without the first point repeated.
    count
        Number of points wanted.

    Returns
    -------
    ndarray, shape (count, 2)
    """
    closed = np.concatenate([ring, ring[:1]])
    along = distances(closed)
    at = np.arange(count) * (along[-1] / count)
    return np.column_stack([np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])])


def _spline(control: FloatArray, spans: IntArray, t: FloatArray) -> FloatArray:
    """Points of the closed uniform cubic B-spline, at parameter t of its spans."""
    weights = (
        (1 - t) ** 3,
        3 * t**3 - 6 * t**2 + 4,
        -3 * t**3 + 3 * t**2 + 3 * t + 1,
        t**3,
    )
    parts = [w[:, None] * control[(spans + k - 1) % len(control)] for k, w in enumerate(weights)]
    return np.asarray(sum(parts) / 6, dtype=np.float64)


def _curvature(control: FloatArray, spans: IntArray) -> tuple[FloatArray, FloatArray]:
    """Curvature and speed of the spline at the start and the middle of spans, (m, 2) each."""
    back, here, ahead, far = (control[(spans + k) % len(control)] for k in (-1, 0, 1, 2))
    first = (ahead - back) / 2, (5 * (ahead - here) + far - back) / 8
    second = ahead - 2 * here + back, (far - ahead - here + back) / 2
    bends, speeds = [], []
    for d1, d2 in zip(first, second, strict=True):
        speed = np.maximum(np.hypot(d1[:, 0], d1[:, 1]), 1e-12)
        bends.append(np.abs(d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0]) / speed**3)
        speeds.append(speed)
    return np.column_stack(bends), np.column_stack(speeds)


def settled(control: FloatArray, ground: BaseGeometry, radius: float) -> FloatArray:
    """Ease a closed spline until it keeps its least radius and its ground.

    Only what offends moves: too tight a bend is shortened a little, a point off the ground is
    pulled back onto it, again and again until neither is left.

    Parameters
    ----------
    control
        Control points of a closed uniform cubic B-spline, shape (n, 2), mm.
    ground
        Area in which the curve must stay.
    radius
        Least radius of the curve, mm.

    Returns
    -------
    ndarray, shape (n, 2)
        The new control points.
    """
    control = control.copy()
    n = len(control)
    spans = np.arange(n)
    shapely.prepare(ground)
    for _ in range(200):
        bends, _ = _curvature(control, spans)
        tight = spans[bends.max(axis=1) * radius > 1 / 1.1]
        points = np.concatenate([_spline(control, spans, np.full(len(spans), t)) for t in _TESTED])
        off = ~np.asarray(shapely.intersects_xy(ground, points[:, 0], points[:, 1]))
        if not len(tight) and not off.any():
            break
        eased = _eased(control, tight, radius)
        strays = np.tile(spans, len(_TESTED))[off]
        _pull(control, ground, points[off], strays)
        # Only what was touched, and what leans on it, can offend in the next round.
        spans = _around(np.concatenate([eased, strays]), n, -3, 3)
    return control


def _eased(control: FloatArray, tight: IntArray, radius: float) -> IntArray:
    """Ease a closed spline at tight spans, in place: corners are cut, hairpins widened.

    A narrow hairpin can't be smoothed: it would draw back without end. Widened to twice the
    radius it gets a round head.

    Returns
    -------
    ndarray
        The control points that were moved.
    """
    n = len(control)
    run = control[(tight[:, None] + np.arange(-2, 4)) % n]
    way_in, way_out = run[:, 1] - run[:, 0], run[:, -1] - run[:, -2]
    cosine = np.sum(way_in * way_out, axis=1)
    cosine /= np.maximum(np.hypot(*way_in.T) * np.hypot(*way_out.T), 1e-12)
    for bends, share in ((tight[cosine > _HAIRPIN], 0.3), (tight[cosine <= _HAIRPIN], 0.1)):
        near = _around(bends, n, -1, 2)
        mean = (control[near - 1] + control[(near + 1) % n]) / 2
        control[near] += share * (mean - control[near])
    pins = np.flatnonzero(cosine <= _HAIRPIN)
    across = (way_in - way_out)[pins][:, ::-1] * (1.0, -1.0)
    across /= np.maximum(np.hypot(*across.T), 1e-12)[:, None]
    head = (tight[pins, None] + np.arange(-4, 6)) % n
    fade = np.sin(np.pi * (np.arange(10) + 0.5) / 10) ** 2
    aside = np.sum((control[head] - run[pins].mean(axis=1)[:, None]) * across[:, None], axis=2)
    wider = np.where(np.abs(aside) < 1.15 * radius, 0.03 * fade * aside, 0.0)
    np.add.at(control, head, wider[:, :, None] * across[:, None])
    return _around(tight, n, -4, 5)


def _around(spans: IntArray, count: int, first: int, last: int) -> IntArray:
    """Give the spans and their neighbours, from `first` to `last` places along the ring."""
    return np.unique((spans[:, None] + np.arange(first, last + 1)) % count)


def _pull(control: FloatArray, ground: BaseGeometry, points: FloatArray, spans: IntArray) -> None:
    """Move the control points of spans by what their strayed points need, in place."""
    back = shapely.shortest_line(shapely.points(points), ground)
    ends = shapely.get_coordinates(back).reshape(-1, 2, 2)
    need = ends[:, 1] - ends[:, 0]
    size = np.maximum(np.hypot(need[:, 0], need[:, 1]), 1e-9)[:, None]
    need *= 0.7 + 0.02 / size  # a little beyond the edge, so that the pull ends
    for k in (0, 1):
        control[(spans + k) % len(control)] += need


def uncrossed(ring: FloatArray) -> FloatArray:
    """Take the crossings out of a closed polyline; it stays one closed polyline.

    Where two segments cross, the way between them is walked the other way round, as in the 2-opt
    move for travelling salesman tours: each such move shortens the curve, so that this ends.

    Parameters
    ----------
    ring
        Shape (n, 2), the first point not repeated.

    Returns
    -------
    ndarray, shape (n, 2)
    """
    ring = ring.copy()
    for _ in range(50):
        pairs = crossings(ring)
        if not len(pairs):
            break
        while len(pairs):
            (i, j), pairs = pairs[0], pairs[1:]
            ring[i + 1 : j + 1] = ring[i + 1 : j + 1][::-1].copy()
            # The two segments are gone, and those between them are counted backwards.
            pairs = pairs[~np.isin(pairs, (i, j)).any(axis=1)]
            pairs = np.sort(np.where((pairs > i) & (pairs < j), i + j - pairs, pairs), axis=1)
    return ring


def crossings(ring: FloatArray) -> IntArray:
    """Pairs of segments of a closed polyline that cross, shape (m, 2), the first one less."""
    n = len(ring)
    after = np.roll(ring, -1, axis=0)
    # Ends of two segments that cross are no farther apart than the longer one.
    longest = float(np.hypot(*(after - ring).T).max())
    near = cKDTree(ring).query_pairs(0.75 * longest, output_type="ndarray")
    apart = np.abs(near[:, 0] - near[:, 1])
    near = near[(apart > 1) & (apart < n - 1)]
    pairs = np.concatenate([(near + shift) % n for shift in ((0, 0), (-1, 0), (0, -1), (-1, -1))])
    low, high = pairs.min(axis=1), pairs.max(axis=1)
    pairs = np.column_stack(np.divmod(np.unique(low * n + high), n))
    apart = pairs[:, 1] - pairs[:, 0]
    pairs = pairs[(apart > 1) & (apart < n - 1)]
    a, b, c, d = ring[pairs[:, 0]], after[pairs[:, 0]], ring[pairs[:, 1]], after[pairs[:, 1]]

    def side(p: FloatArray, q: FloatArray, r: FloatArray) -> FloatArray:
        u, v = q - p, r - p
        return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])

    cross = (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)
    return np.asarray(pairs[cross], dtype=np.int64)


def sampled(control: FloatArray, parts: int, spans: IntArray | None = None) -> FloatArray:
    """Give points of a closed spline, some for each of its spans.

    Parameters
    ----------
    control
        Control points, shape (n, 2), mm.
    parts
        Points for each span.
    spans
        Which spans; all of them unless given.

    Returns
    -------
    ndarray, shape (parts * len(spans), 2)
        Span by span.
    """
    spans = np.arange(len(control)) if spans is None else spans
    return _spline(control, np.repeat(spans, parts), np.tile(np.arange(parts) / parts, len(spans)))


def flattened(control: FloatArray) -> FloatArray:
    """Polyline of a closed spline, chord error 0.04 mm.

    Parameters
    ----------
    control
        Control points, shape (n, 2), mm.

    Returns
    -------
    ndarray, shape (k, 2)
        Without the first point repeated.
    """
    bends, speeds = _curvature(control, np.arange(len(control)))
    bend = np.maximum(bends.max(axis=1), np.roll(bends[:, 0], -1))
    length = speeds.max(axis=1)
    parts = np.maximum(1, np.ceil(length * np.sqrt(bend / (8 * _CHORD)))).astype(np.int64)
    span = np.repeat(np.arange(len(control)), parts)
    first = np.repeat(np.cumsum(parts) - parts, parts)
    t = (np.arange(len(span)) - first) / parts[span]
    return _spline(control, span, t)


def bend_radii(path: FloatArray) -> FloatArray:
    """Radius of the circle through each three points in a row of a polyline, shape (k - 2,)."""
    a, b, c = path[:-2], path[1:-1], path[2:]
    u, v, w = b - a, c - b, c - a
    cross = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    sides = np.hypot(*u.T) * np.hypot(*v.T) * np.hypot(*w.T)
    return np.asarray(sides / np.maximum(2 * cross, 1e-15))


def least_radius(path: FloatArray, *, closed: bool = False) -> float:
    """Least radius of a polyline, taken as the circle through each three points in a row.

    Parameters
    ----------
    path
        Shape (k, 2), mm.
    closed
        Whether the path goes on from its last point to its first.

    Returns
    -------
    float
        mm; infinite for a straight path.
    """
    if closed:
        path = np.concatenate([path, path[:2]])
    radii = bend_radii(path)
    return float(radii.min()) if len(radii) else float("inf")
