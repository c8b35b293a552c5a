"""Let a closed curve settle into an even meander, as a drawn line would.

The curve is moved by three things at once: strands nearer than the spacing push each other
apart; bending stiffness rounds it; and a gentle growth, steered by the length wanted, buckles it
into whatever room is left. Where two strands slip past each other, they are taken apart again.

Pedersen and Singh, "Organic labyrinths and mazes" (2006), evolve curves by the same kinds of force;
the implicit step in Fourier space is that of the usual phase-field solvers.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import fft, ndimage
from scipy.spatial import cKDTree
from shapely.geometry import LinearRing
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.lines.fills.curves import evenly, uncrossed

__all__ = ["eased", "relaxed"]

# All lengths here are in units of the spacing; found by looking at many meanders, and
# by measuring how even they are (tests/benchmarks/fills_speed.py).
STEP = 0.35  # between points of the curve
REACH = 1.08  # strands nearer than this push each other apart
ALONG = 1.3  # points nearer than this along the curve are one strand
PUSH = 1.5
STIFF = 0.025
GROWTH = 0.06  # at first; more is too much while a strand can still slip past another
MOST_GROWTH = 0.2
STEER = 0.01  # how fast growth follows the length wanted
SOFT = 0.02  # how far from the edge of its ground a strand begins to feel it
EDGE = 0.6
MOST = 0.1  # most that a point moves in one round
FRESH = 8  # rounds between two looks at who is near whom
LOOKS = 10
DRAWN = 5  # looks at the end at which bare places draw strands in
BARE = 0.85  # how far from all strands a place is bare
DRAW = 0.1  # a round
# Where a curve is eased: its lobes are kept.
FINE = 0.3  # between points of the curve
EVEN = 0.8  # strands nearer than this push each other apart
ROUNDED = 0.2  # how far its corners are rounded at first
KEPT = 1.2  # bends shorter than about this are kept
ROUND = 0.0006  # how stiff it is against kinks
HEM = 0.15  # how far from the edge of its ground a strand begins to feel it
WIDE = 0.55  # how far from all strands a place draws the next one in
ROUNDS = 6  # between two looks at who is near whom
EASED = 6  # looks


@dataclass(frozen=True, slots=True)
class _Field:
    """Depth inside an area, sampled on a raster, with its gradient."""

    origin: FloatArray
    step: float
    values: FloatArray  # (3, rows, columns): depth, its gradient in x and in y

    def at(self, points: FloatArray) -> FloatArray:
        """Depth and gradient at points (n, 2), bilinear, shape (3, n)."""
        rows, columns = self.values.shape[1:]
        u = (points - self.origin) / self.step
        i = np.clip(u.astype(np.int64), 0, [columns - 2, rows - 2])
        a, b = (u - i).T
        corner = i[:, 1] * columns + i[:, 0]
        flat = self.values.reshape(3, -1)
        near, right, below, across = (
            flat.take(corner + shift, axis=1) for shift in (0, 1, columns, columns + 1)
        )
        top = near + (right - near) * a
        bottom = below + (across - below) * a
        return np.asarray(top + (bottom - top) * b)


def _field(ground: BaseGeometry) -> _Field:
    """Sample the depth inside `ground` at a sixth of the spacing."""
    step, rim = 1 / 6, 8
    left, top, right, bottom = ground.bounds
    xs = left + step * (np.arange(int((right - left) / step) + 2 * rim) - rim)
    ys = top + step * (np.arange(int((bottom - top) / step) + 2 * rim) - rim)
    shapely.prepare(ground)
    x, y = np.meshgrid(xs, ys)
    inside = shapely.contains_xy(ground, x.ravel(), y.ravel()).reshape(x.shape)
    depth = ndimage.distance_transform_edt(inside) - ndimage.distance_transform_edt(~inside)
    # The transform counts from cell centre to cell centre; the edge lies half a cell before.
    depth = (depth - np.where(inside, 0.5, -0.5)) * step
    down, across = np.gradient(depth, step)
    size = np.maximum(np.hypot(across, down), 1e-9)
    origin = np.array([xs[0], ys[0]])
    return _Field(origin, step, np.stack([depth, across / size, down / size]))


def relaxed(curve: FloatArray, ground: BaseGeometry, length: float) -> FloatArray:
    """Move a simple closed curve until its strands lie evenly, in ground of two to four spacings.

    It comes right up to the edge, and buckles into what room there is.

    Parameters
    ----------
    curve
        Shape (k, 2), closed, the first point not repeated; in units of the spacing.
    ground
        Area in which it stays; in units of the spacing.
    length
        Length it should have; in units of the spacing.

    Returns
    -------
    ndarray, shape (n, 2)
        Control points of a closed cubic B-spline, a third of the spacing apart.
    """
    field = _field(ground)
    growth = GROWTH
    # The walk round a tree is thin and angular: its first rounds are finer and gentler.
    course = ((STEP * 0.7, STIFF / 5, 0.0), *[(STEP, STIFF, 1.0)] * LOOKS)
    for look, (step, stiff, pace) in enumerate(course):
        curve = evenly(curve, fft.next_fast_len(max(12, round(_around(curve) / step))))
        drawn = _drawn(curve, field) if look > LOOKS - DRAWN else np.zeros_like(curve)
        curve = _rounds(curve, step, stiff, growth * pace, field, drawn)
        if not LinearRing(curve).is_simple:
            curve = uncrossed(curve)
        growth -= FRESH * STEER * pace * (_around(curve) / length - 1)
        growth = float(np.clip(growth, 0.0, MOST_GROWTH))
    return curve


def eased(curve: FloatArray, ground: BaseGeometry) -> FloatArray:
    """Move the strands of a simple closed curve apart, and keep its lobes as they are.

    What moves is smoothed along the curve, not the curve itself: so strands make room for each
    other, and a bend stays a bend. A curve that may straighten comes to lie in long parallel
    strands.

    Parameters
    ----------
    curve
        Shape (k, 2), closed, the first point not repeated; in units of the spacing.
    ground
        Area in which it stays; in units of the spacing.

    Returns
    -------
    ndarray, shape (n, 2)
        Control points of a closed cubic B-spline, a third of the spacing apart.
    """
    field = _field(ground)
    curve = evenly(curve, _count(curve))
    curve = _filtered(curve, np.exp(-((_waves(curve) * ROUNDED) ** 2) / 2))
    for _ in range(EASED):
        curve = evenly(curve, _count(curve))
        near = _neighbours(curve, FINE)
        whole = 1 / (1 + (_waves(curve) * KEPT) ** 4)
        drawn = _drawn(curve, field, 4, WIDE)
        edge = np.flatnonzero(field.at(curve)[0] < HEM + 4 * MOST)
        for _ in range(ROUNDS):
            moved = _moved(curve, FINE, near, field, edge, HEM, reach=EVEN)
            curve = curve + _filtered(moved - curve, whole) + drawn
            _pull_in(curve, edge, field)
        curve = _filtered(curve, 1 / (1 + ROUND * _waves(curve) ** 4))
        if not LinearRing(curve).is_simple:
            curve = uncrossed(curve)
    return evenly(curve, max(12, round(_around(curve) / STEP)))


def _count(curve: FloatArray) -> int:
    """Points at which a curve is sampled while it is eased: a number that is quick to transform."""
    return int(fft.next_fast_len(max(12, round(_around(curve) / FINE))))


def _waves(curve: FloatArray) -> FloatArray:
    """Wave numbers along a curve sampled at `FINE`, shape (n,)."""
    return np.asarray(2 * np.pi * fft.fftfreq(len(curve)) / FINE)


def _filtered(points: FloatArray, weight: FloatArray) -> FloatArray:
    """Weigh the waves along a closed curve, shape (n, 2)."""
    kept = fft.ifft(fft.fft(points[:, 0] + 1j * points[:, 1]) * weight)
    return np.column_stack([kept.real, kept.imag])


def _rounds(
    curve: FloatArray,
    step: float,
    stiff: float,
    growth: float,
    field: _Field,
    drawn: FloatArray,
) -> FloatArray:
    """Move a few rounds, between two looks at who is near whom."""
    wave = (2 - 2 * np.cos(2 * np.pi * fft.fftfreq(len(curve)))) / step**2
    weight = 1 + stiff * wave**2 - growth * wave
    near = _neighbours(curve, step)
    edge = np.flatnonzero(field.at(curve)[0] < SOFT + 4 * MOST)
    for _ in range(FRESH):
        curve = _filtered(_moved(curve, step, near, field, edge, SOFT) + drawn, 1 / weight)
        _pull_in(curve, edge, field)
    return curve


def _pull_in(curve: FloatArray, edge: IntArray, field: _Field) -> None:
    """Pull points of a curve that left its ground back onto the edge, in place."""
    deep, *inward = field.at(curve[edge])
    curve[edge] -= np.minimum(deep, 0)[:, None] * np.column_stack(inward)


def _drawn(curve: FloatArray, field: _Field, wide: int = 3, far: float = BARE) -> FloatArray:
    """Draw strands into the places that are too far from all of them, shape (n, 2)."""
    row, column = np.nonzero(field.values[0, ::3, ::3] > 0)
    at = field.origin + 3 * field.step * np.column_stack([column, row])
    found, index = cKDTree(curve).query(at)
    bare, nearest = np.asarray(found) > far, np.asarray(index, dtype=np.int64)
    at, nearest = at[bare], nearest[bare]
    pull = np.zeros_like(curve)
    for k in range(-wide, wide + 1):
        np.add.at(
            pull, (nearest + k) % len(curve), (1 - abs(k) / (wide + 1)) * (at - curve[nearest])
        )
    size = np.maximum(np.hypot(pull[:, 0], pull[:, 1]), 1.0)
    return np.asarray(DRAW * pull / size[:, None])


def _around(curve: FloatArray) -> float:
    """Length of a closed curve."""
    way = np.roll(curve, -1, axis=0) - curve
    return float(np.hypot(way[:, 0], way[:, 1]).sum())


def _neighbours(curve: FloatArray, step: float) -> IntArray:
    """Pairs of points near each other but not along the curve, shape (2, m)."""
    pairs = cKDTree(curve).query_pairs(REACH + 0.1, output_type="ndarray")
    apart = np.abs(pairs[:, 0] - pairs[:, 1])
    apart = np.minimum(apart, len(curve) - apart)
    pairs = pairs[apart * step > ALONG]
    order = np.argsort(pairs[:, 0] * len(curve) + pairs[:, 1])
    return np.ascontiguousarray(pairs[order].T, dtype=np.int64)


def _moved(
    curve: FloatArray,
    step: float,
    near: IntArray,
    field: _Field,
    edge: IntArray,
    soft: float,
    reach: float = REACH,
) -> FloatArray:
    """Push strands apart, and off the edge of the ground."""
    i, j = near
    dx, dy = (axis.take(i) - axis.take(j) for axis in np.ascontiguousarray(curve.T))
    square = np.maximum(dx * dx + dy * dy, 0.04)
    distance = np.sqrt(square)
    force = np.maximum(0, reach - distance) * (PUSH * step) / square
    n = len(curve)
    pushes = [np.bincount(i, force * d, n) - np.bincount(j, force * d, n) for d in (dx, dy)]
    move = np.column_stack(pushes).astype(np.float64)  # without any pair they would be integers
    deep, *inward = field.at(curve[edge])
    move[edge] += EDGE * np.maximum(0, soft - deep)[:, None] * np.column_stack(inward)
    size = np.maximum(np.hypot(move[:, 0], move[:, 1]), 1e-12)
    return np.asarray(curve + move * np.minimum(1, MOST / size)[:, None])
