"""The curves of a drawing are those that scipy.interpolate would give."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BPoly, PPoly, make_lsq_spline

from stitchpath.geometry.splines import fitted

SIZES = st.tuples(st.integers(0, 2**32 - 1), st.integers(0, 12))


def drawn(seed, inner):
    """A wandering path on knots at uneven places, with its weights."""
    rng = np.random.default_rng(seed)
    place = np.cumsum(rng.uniform(0.1, 3, 20 + 5 * inner))
    knots = place[np.sort(rng.choice(np.arange(1, len(place) - 1), inner, replace=False))]
    data = np.cumsum(rng.normal(size=(len(place), 2)), axis=0)
    weight = np.where(rng.random(len(place)) < 0.5, 1.0, 0.1)
    # Points between, so that no two knots are without any.
    every = np.sort(np.concatenate([place, (place[1:] + place[:-1]) / 2]))
    path = np.column_stack([np.interp(every, place, column) for column in data.T])
    ends = [place[0]] * 4, [place[-1]] * 4
    return every, path, np.concatenate([ends[0], knots, ends[1]]), np.interp(every, place, weight)


@given(SIZES)
def test_a_curve_follows_the_stitches_as_closely_as_any_spline_can(size):
    place, path, knots, weight = drawn(*size)
    ours, near = fitted(place, path, knots, weight)
    theirs = make_lsq_spline(place, path, knots, k=3, w=weight)
    assert np.abs(ours.controls - theirs.c).max() < 1e-7 * np.ptp(path)
    assert np.abs(near - theirs(place)).max() < 1e-7 * np.ptp(path)


@given(SIZES)
def test_the_curve_that_is_written_is_the_curve_that_was_fitted(size):
    place, path, knots, weight = drawn(*size)
    ours, _ = fitted(place, path, knots, weight)
    between = np.diff(knots) > 0
    theirs = [BPoly.from_power_basis(PPoly.from_spline((knots, c, 3))) for c in ours.controls.T]
    theirs = np.stack([each.c[:, between] for each in theirs], axis=-1).swapaxes(0, 1)
    assert np.abs(ours.beziers() - theirs).max() < 1e-7 * max(np.ptp(path), np.ptp(theirs))
