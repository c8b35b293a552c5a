"""Cubic curves through paths that were drawn with short straight pieces."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from stitchpath.corners import FLATTENING, split_at_corners
from stitchpath.export.pen import simplified
from stitchpath.typing import FloatArray

if TYPE_CHECKING:
    from scipy.interpolate import BSpline

__all__ = ["as_curves"]

_LEAST = 5  # points: with fewer there is no telling a curve
_TRIES = 12


def as_curves(points: FloatArray, tolerance: float) -> Iterator[FloatArray]:
    """Part a path into straight pieces and cubic Bézier curves.

    Where a path has no corner for a while and was drawn with many short pieces, a cubic spline
    through its points (FITPACK) is written as the Bézier curves that it consists of.

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
        straight = simplified(piece, tolerance)
        curves = _fitted(piece, tolerance) if len(straight) >= _LEAST else None
        if curves is not None and len(curves) < len(straight) - 1:
            yield from curves
        else:
            yield from np.stack([straight[:-1], straight[1:]], axis=1)


def _fitted(piece: FloatArray, tolerance: float) -> FloatArray | None:
    """Fit a spline; None where it cannot be kept near enough. Shape (curves, 4, 2)."""
    from scipy.interpolate import make_splprep  # noqa: PLC0415 - slow to import

    length = np.hypot(*np.diff(piece, axis=0).T)
    # Points between, for the look of long straight pieces; a light weight, for in a curve they lie
    # on its chords.
    share = np.arange(4) / 4
    between = (piece[:-1, None] + share[:, None] * np.diff(piece, axis=0)[:, None]).reshape(-1, 2)
    at = np.concatenate([[0.0], np.cumsum(length)])
    along = (at[:-1, None] + share * length[:, None]).ravel()
    data, place = np.vstack([between, piece[-1:]]), np.append(along, at[-1])
    given = np.arange(len(data)) % 4 == 0
    weight = np.where(given, 1.0, 0.1)
    weight[[0, -1]] = 1e3
    for halved in range(_TRIES):
        smooth = given.sum() * (tolerance / 2**halved) ** 2
        curve, _ = make_splprep(data.T, w=weight, u=place, s=smooth)
        off = np.hypot(*(curve(place) - data.T))
        if off[given].max() <= tolerance and off.max() <= FLATTENING:
            return _beziers(curve, piece[0], piece[-1])
    return None


def _beziers(curve: "BSpline", start: FloatArray, end: FloatArray) -> FloatArray:
    """Write a cubic spline as Bézier curves, exactly, with its ends where they belong."""
    from scipy.interpolate import BPoly, PPoly  # noqa: PLC0415

    real = np.diff(curve.t) > 0  # knots at the ends stand there four times
    columns: FloatArray = np.asarray(curve.c).T
    controls = np.stack(
        [BPoly.from_power_basis(PPoly.from_spline((curve.t, c, 3))).c[:, real] for c in columns],
        axis=-1,
    ).swapaxes(0, 1)
    controls[0, 0], controls[-1, -1] = start, end
    controls[1:, 0] = controls[:-1, -1]
    return np.asarray(controls, dtype=np.float64)
