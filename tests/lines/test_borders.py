"""Between two windows of a frame free quilting shows no border."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from stitchpath.geometry.clear_bands import longest_band
from stitchpath.geometry.empty_circles import loose_places
from stitchpath.lines.fills.pattern import FREE, inset_of
from stitchpath.lines.fills.styles import fill
from stitchpath.lines.frame.borders import WANDER, parted, wandering
from stitchpath.lines.frame.reach import Reach
from stitchpath.lines.frame.windows import bare_windows

SPACING = 20.0


@given(st.integers(0, 99), st.floats(100, 900), st.floats(5, 40), st.floats(0, 60))
def test_a_border_leads_right_across_and_wanders_no_farther_than_two_windows_share(
    seed, across, spacing, wide
):
    border = wandering(300.0, (0.0, across), spacing, wide, (seed, 1))
    assert border[0, 0] < 0
    assert border[-1, 0] > across
    assert (np.diff(border[:, 0]) > 0).all()
    assert np.abs(border[:, 1] - 300.0).max() <= wide / 2 + 1e-9
    high, low = border[:, 1].max(), border[:, 1].min()
    assert high - low >= 0.7 * wide - 1e-9


@given(st.integers(0, 99), st.floats(5, 40))
def test_a_border_has_waves_as_wide_as_lobes_are_and_none_is_flat(seed, spacing):
    border = wandering(0.0, (0.0, 600.0), spacing, 30.0, (seed, 0))
    slope = np.sign(np.diff(border[:, 1]))
    crests = border[1:-1][slope[1:] != slope[:-1]]
    apart = np.diff(crests[:, 0]) / spacing
    assert 1.7 - 1e-9 <= apart.min() <= apart.max() <= 2.7 + 1e-9
    assert np.abs(crests[:, 1]).min() >= 0.7 * 15.0 - 1e-9


@pytest.mark.parametrize(("level", "parts"), [(2.9, 1), (3.1, 2), (8.9, 2), (9.1, 1)])
def test_ground_is_parted_where_three_spacings_lie_beyond_the_border(level, parts):
    ground = box(0, 0, 300, 12 * SPACING)
    border = np.array([(-50.0, level * SPACING), (350.0, level * SPACING)])
    assert len(parted(ground, [border], SPACING, SPACING / 2)) == parts


@cache
def passes(style):
    """Two fills with a border between them."""
    ground = box(0, 0, 26 * SPACING, 22 * SPACING)
    border = wandering(11 * SPACING, (0, 26 * SPACING), SPACING, WANDER * SPACING, (1, 0))
    beyond = inset_of(style, SPACING) - FREE[style] * SPACING
    parts = parted(ground, [border], SPACING, beyond)
    assert len(parts) == 2
    return ground, [fill(part, style, SPACING, seed=2).paths for part in parts]


def test_no_river_runs_along_the_border_and_one_would_along_a_straight_one():
    ground, (above, below) = passes("meander")
    assert longest_band(ground, [*above, *below], SPACING).length < 9 * SPACING
    straight = [
        path
        for half in (box(0, 0, 520, 220), box(0, 220, 520, 440))
        for path in fill(half, "meander", SPACING, seed=2).paths
    ]
    assert longest_band(ground, straight, SPACING).length > 20 * SPACING


@pytest.mark.parametrize(
    ("style", "least", "most"), [("meander", 0.6, 0.9), ("pebbles", 0.01, 0.1)]
)
def test_passes_come_no_nearer_to_each_other_than_strands_or_pebbles_of_one_do(style, least, most):
    _, (above, below) = passes(style)
    near = min(LineString(a).distance(LineString(b)) for a in above for b in below)
    assert least * SPACING <= near <= most * SPACING


def test_no_wide_place_is_left_between_pebbles_of_two_passes():
    ground, (above, below) = passes("pebbles")
    (bare, *_) = loose_places(ground.buffer(-SPACING), [*above, *below], 0.5 * SPACING, most=1)
    assert bare.diameter <= 1.07 * SPACING  # as wide as the widest pebble


@settings(max_examples=25)
@given(st.integers(0, 9), st.floats(0, 20), st.lists(st.floats(40, 400), min_size=1, max_size=3))
def test_all_ground_is_in_a_part_and_parts_overlap_by_no_more_than_what_is_inset(
    seed, inset, levels
):
    ground = box(0, 0, 300, 440).difference(box(100, 90, 160, 300))
    borders = [
        wandering(y, (0, 300), SPACING, SPACING, (seed, k)) for k, y in enumerate(sorted(levels))
    ]
    apart = [b for a, b in pairwise([np.zeros((1, 2)), *borders]) if b[0, 1] - a[0, 1] > 60]
    beyond = inset - 0.15 * SPACING
    parts = parted(ground, apart, SPACING, beyond)
    left = ground.difference(shapely.union_all(parts))
    line = shapely.multilinestrings(apart) if apart else shapely.Point(-1e3, 0)
    if beyond >= 0:
        assert left.area < 0.1
    assert left.is_empty or left.hausdorff_distance(left.intersection(line.buffer(20))) < 0.1
    for one, two in pairwise(parts):
        both = one.intersection(two)
        assert both.is_empty or line.buffer(max(inset, 0.1)).contains(both)


@pytest.mark.parametrize("depth", [200.0, 300.0, 450.0])
def test_windows_of_free_quilting_share_what_its_border_wanders(depth):
    windows = bare_windows(Reach(depth), (0.0, 1000.0), 60.0, overlap=30.0)
    for one, two in pairwise(windows):
        assert one.bottom - two.top >= 30.0 - 1e-6
        assert two.top + 15.0 - 1e-6 <= one.ends <= one.bottom - 15.0 + 1e-6
        assert one.bottom - one.top <= depth + 1e-6


def test_no_more_than_a_fifth_of_what_is_shown_is_given_up_to_overlap():
    windows = bare_windows(Reach(100.0), (0.0, 1000.0), 60.0, overlap=90.0)
    assert len(windows) == len(bare_windows(Reach(100.0), (0.0, 1000.0), 60.0, overlap=20.0))
