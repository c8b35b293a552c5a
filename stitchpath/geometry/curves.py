"""Cubic curves through paths that were drawn with short straight pieces."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.geometry.corners import split_at_corners
from stitchpath.geometry.simplify import simplified
from stitchpath.geometry.splines import Spline, fitted
from stitchpath.geometry.tolerances import FLATTENING

__all__ = ["LEAST_POINTS", "as_curves"]

LEAST_POINTS = 5  # points: with fewer there is no telling a curve
_BETWEEN = 4  # pieces into which each straight piece is parted to see where a curve lies
_CUTS = 8  # times that a piece is cut again where no spline can follow it
_TURN = np.pi / 4  # to the first curves


def as_curves(points: FloatArray, tolerance: float) -> Iterator[FloatArray]:
    """Part a path into straight pieces and cubic Bézier curves.

    Where a path has no corner for a while and was drawn with many short pieces, a cubic spline
    through its points (least squares) is written as the Bézier curves that it consists of.

    Parameters
    ----------
    points
        Shape (n, 2), mm.
    tolerance
        How far a curve may lie from any of the points, and straight pieces from the path, mm.
        Between the points a curve keeps within what a flattened one may stand out.

    Yields
    ------
    FloatArray
        In order, each beginning where the one before it ended: shape (2, 2), a straight piece, or
        (4, 2), a curve by its control points.
    """
    for piece in split_at_corners(points):
        yield from _parted(piece, tolerance, _CUTS)


def _parted(piece: FloatArray, tolerance: float, cuts: int) -> Iterator[FloatArray]:
    """Part a piece without corners, cut again where no spline can follow it."""
    straight = simplified(piece, tolerance)
    as_lines = np.stack([straight[:-1], straight[1:]], axis=1)
    if len(straight) < LEAST_POINTS:
        yield from as_lines
        return
    curves, stuck = _fitted(piece, tolerance)
    if len(stuck) and cuts:
        ends = np.unique(np.concatenate([[0, len(piece) - 1], stuck, stuck + 1]))
        for first, last in pairwise(ends.tolist()):
            yield from _parted(piece[first : last + 1], tolerance, cuts - 1)
    elif len(stuck) or len(curves) >= len(as_lines):
        yield from as_lines
    else:
        yield from curves


def _fitted(piece: FloatArray, tolerance: float) -> tuple[FloatArray, IntArray]:
    """Fit a spline.

    Least squares on given knots take a time that grows with the points alone. Knots begin at equal
    shares of the turning, and are added only where the spline is too far off.

    Returns
    -------
    tuple
        The curves, shape (curves, 4, 2), and the straight pieces, by their first point, that it
        cannot be kept near to.
    """
    length = np.hypot(*np.diff(piece, axis=0).T)
    # Points between, for the look of long straight pieces; a light weight, for in a curve they lie
    # on its chords.
    share = np.arange(_BETWEEN) / _BETWEEN
    between = (piece[:-1, None] + share[:, None] * np.diff(piece, axis=0)[:, None]).reshape(-1, 2)
    at = np.concatenate([[0.0], np.cumsum(length)])
    along = (at[:-1, None] + share * length[:, None]).ravel()
    data, place = np.vstack([between, piece[-1:]]), np.append(along, at[-1])
    given = np.arange(len(data)) % _BETWEEN == 0
    weight = np.where(given, 1.0, 0.1)
    weight[[0, -1]] = 1e3
    allowed = np.where(given, tolerance, FLATTENING)
    knots = _first_knots(piece)
    while True:
        t = np.concatenate([[at[0]] * 4, at[knots[1:-1]], [at[-1]] * 4])
        curve, near = fitted(place, data, t, weight)
        far = place[np.hypot(*(near - data).T) > allowed]
        spans = np.unique(np.searchsorted(at[knots], far, side="right") - 1)
        spans = spans.clip(0, len(knots) - 2)
        middle = (knots[spans] + knots[spans + 1]) // 2
        between_knots = middle > knots[spans]
        if not between_knots.any():
            return _beziers(curve, piece[0], piece[-1]), knots[spans]
        knots = np.union1d(knots, middle)


def _first_knots(piece: FloatArray) -> IntArray:
    """Choose points at equal shares of the turning, with both ends."""
    way = np.diff(piece, axis=0)
    turn = np.abs(np.diff(np.unwrap(np.arctan2(way[:, 1], way[:, 0]))))
    turned = np.concatenate([[0.0], np.cumsum(turn)])
    shares = int(turned[-1] / _TURN) + 1
    inner = np.searchsorted(turned, turned[-1] * np.arange(1, shares) / shares)
    return np.unique(np.concatenate([[0], inner, [len(piece) - 1]])).astype(np.int64)


def _beziers(curve: Spline, start: FloatArray, end: FloatArray) -> FloatArray:
    """Write a spline as Bézier curves that meet, with its ends where they belong."""
    controls = curve.beziers()
    controls[0, 0], controls[-1, -1] = start, end
    controls[1:, 0] = controls[:-1, -1]
    return controls
