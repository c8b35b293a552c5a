"""Cubic splines: fitted to points by least squares, written as the Bézier curves they consist of.

`scipy.interpolate` has the same and more. To load it takes half as long as to make a small plan, so
this little is done here; the tests hold it against scipy.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solveh_banded

from stitchpath.base.typing import FloatArray, IntArray

__all__ = ["Spline", "fitted"]

_ORDER = 4  # of a cubic: so many of its controls act on any one place


@dataclass(frozen=True, slots=True)
class Spline:
    """A cubic spline.

    Attributes
    ----------
    knots
        Not falling, the first four alike and the last four; shape (n + 4,).
    controls
        Its control points, shape (n, 2).
    """

    knots: FloatArray
    controls: FloatArray

    def beziers(self) -> FloatArray:
        """Write it as Bézier curves, exactly: one between each two knots that differ.

        Each curve's control points are values of the spline's polar form (Ramshaw 1989, from
        memory), which is linear in each of its three places.

        Returns
        -------
        FloatArray
            Shape (curves, 4, 2).
        """
        last = _ORDER - 1 + np.flatnonzero(np.diff(self.knots[_ORDER - 1 : 1 - _ORDER]) > 0)
        t = self.knots[last[:, None] + np.arange(-2, 4), None]
        far_before, before, start, end, after, far_after = t.swapaxes(0, 1)
        # Polar values at three knots that follow each other.
        d0, d1, d2, d3 = self.controls[last[:, None] + np.arange(-3, 1)].swapaxes(0, 1)
        first = _between(d1, d2, start, before, after)
        second = _between(d1, d2, end, before, after)
        at_start = _between(_between(d0, d1, start, far_before, end), first, start, before, end)
        at_end = _between(second, _between(d2, d3, end, start, far_after), end, start, after)
        return np.stack([at_start, first, second, at_end], axis=1)


def fitted(
    place: FloatArray, data: FloatArray, knots: FloatArray, weight: FloatArray
) -> tuple[Spline, FloatArray]:
    """Fit a spline on given knots to points, by least squares.

    Its normal equations have four bands, so the time grows with the points alone (de Boor, A
    Practical Guide to Splines, chapter XIV, from memory).

    Parameters
    ----------
    place
        Where along the knots each point lies, shape (k,); some between any two knots.
    data
        The points, shape (k, 2).
    knots
        As in `Spline`.
    weight
        How much each point counts, shape (k,).

    Returns
    -------
    tuple
        The spline, and its points at the same places, shape (k, 2).

    Raises
    ------
    numpy.linalg.LinAlgError
        If too few points lie between some knots.
    """
    count = len(knots) - _ORDER
    share, which = _acting(knots, place)
    heavy = share * weight[:, None]
    bands = np.zeros((_ORDER, count))
    for band in range(_ORDER):
        for one in range(_ORDER - band):
            both = heavy[:, one] * heavy[:, one + band]
            bands[band] += np.bincount(which[:, one], both, minlength=count)
    right = [
        np.bincount(which.ravel(), (heavy * (weight * column)[:, None]).ravel(), minlength=count)
        for column in data.T
    ]
    controls = np.asarray(solveh_banded(bands, np.stack(right, axis=1), lower=True))
    return Spline(knots, controls), (share[..., None] * controls[which]).sum(axis=1)


def _acting(knots: FloatArray, place: FloatArray) -> tuple[FloatArray, IntArray]:
    """Tell which four controls act on each place, and the share of each (Cox 1972, de Boor 1972).

    Returns
    -------
    tuple
        Shares and controls, each of shape (k, 4).
    """
    last = np.searchsorted(knots, place, side="right") - 1
    last = last.clip(_ORDER - 1, len(knots) - _ORDER - 1)
    share = np.ones((len(place), 1))
    for degree in range(1, _ORDER):
        start = knots[last[:, None] + np.arange(1 - degree, 1)]
        end = knots[last[:, None] + np.arange(1, 1 + degree)]
        rising = share * (place[:, None] - start) / (end - start)
        falling, share = share - rising, np.zeros((len(place), degree + 1))
        share[:, :-1] = falling
        share[:, 1:] += rising
    return share, last[:, None] + np.arange(1 - _ORDER, 1)


def _between(
    at_low: FloatArray, at_high: FloatArray, place: FloatArray, low: FloatArray, high: FloatArray
) -> FloatArray:
    """Give what lies between two values, as a place lies between where they are taken."""
    return np.asarray(at_low + (at_high - at_low) * ((place - low) / (high - low)))
