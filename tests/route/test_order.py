"""Stitching order: what holds the layers comes first, and hands never jump without need."""

from itertools import pairwise
from math import dist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stitchpath.route.order import Stretch, follow_runs, order_runs

law = settings(max_examples=25, deadline=None)
CENTRE = (500.0, 500.0)


def seam(start, end, *, anchor=1.0):
    """A straight run, `anchor` of it along anchoring seams."""
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    return Stretch(start, end, middle, dist(start, end), anchor * dist(start, end))


def ring(run):
    return int(dist(run.middle, CENTRE) // 200)


def test_long_seams_between_blocks_are_sewn_first_up_one_and_down_the_next():
    seams = [seam((x, 0.0), (x, 1000.0)) for x in (250.0, 500.0, 750.0)]
    motif = seam((495.0, 500.0), (505.0, 500.0), anchor=0.0)
    order = order_runs([motif, *seams], CENTRE, anchor_first=True)
    assert order == [(2, False), (1, True), (3, False), (0, True)]


def test_longer_anchoring_run_goes_before_a_nearer_short_one():
    runs = [seam((400.0, 500.0), (600.0, 500.0)), seam((0.0, 100.0), (1000.0, 100.0))]
    assert [i for i, _ in order_runs(runs, CENTRE, anchor_first=True)] == [1, 0]
    assert [i for i, _ in order_runs(runs, CENTRE, anchor_first=False)] == [0, 1]


def test_runs_within_a_tenth_in_length_are_taken_as_they_lie():
    runs = [seam((0.0, y), (long, y)) for y, long in ((300.0, 1000.0), (500.0, 920.0))]
    assert [i for i, _ in order_runs(runs, CENTRE, anchor_first=True)] == [1, 0]


@pytest.mark.parametrize(("share", "first"), [(0.5, 1), (0.49, 0)])
def test_run_anchors_from_half_of_its_length_on(share, first):
    runs = [
        seam((500.0, 500.0), (510.0, 500.0), anchor=0.0),
        seam((0.0, 0.0), (0.0, 900.0), anchor=share),
    ]
    assert order_runs(runs, CENTRE, anchor_first=True)[0][0] == first


def test_run_is_begun_at_the_end_where_hands_are():
    runs = [seam((500.0, 500.0), (600.0, 500.0)), seam((690.0, 550.0), (610.0, 500.0))]
    assert order_runs(runs, CENTRE, anchor_first=False) == [(0, False), (1, True)]


def test_first_run_of_all_is_begun_at_its_end_nearer_the_centre():
    assert order_runs([seam((0.0, 0.0), (600.0, 500.0))], CENTRE, anchor_first=False) == [(0, True)]


def test_closed_run_is_not_turned_round_for_nothing():
    assert order_runs([seam((9.0, 9.0), (9.0, 9.0))], CENTRE, anchor_first=True) == [(0, False)]


def test_nothing_to_stitch_has_no_order():
    assert order_runs([], CENTRE, anchor_first=True) == []


places = st.tuples(*[st.integers(0, 1000).map(float)] * 2)
stretches = st.lists(
    st.builds(seam, places, places, anchor=st.sampled_from([0.0, 0.4, 0.5, 1.0])),
    min_size=1,
    max_size=12,
)


@law
@given(stretches, st.booleans())
def test_every_run_is_sewn_once_anchors_first_then_ring_by_ring(runs, anchor_first):
    order = [i for i, _ in order_runs(runs, CENTRE, anchor_first=anchor_first)]
    assert sorted(order) == list(range(len(runs)))
    anchors = [run.anchor > 0 and run.anchor >= 0.5 * run.length for run in runs]
    if anchor_first:
        count = sum(anchors)
        assert all(anchors[i] for i in order[:count])
        for k in range(count):  # nothing left is much longer than what is sewn now
            assert 0.9 * max(runs[i].length for i in order[k:count]) <= runs[order[k]].length
        order = order[count:]
    rings = [ring(runs[i]) for i in order]
    assert rings == sorted(rings)


@law
@given(stretches)
def test_no_run_of_the_same_ring_has_an_end_nearer_to_the_hands(runs):
    order = order_runs(runs, CENTRE, anchor_first=False)
    nearest = min(dist(runs[i].middle, CENTRE) for i, _ in order)
    assert dist(runs[order[0][0]].middle, CENTRE) == pytest.approx(nearest)
    for k in range(1, len(order)):
        last, back = order[k - 1]
        hands = runs[last].start if back else runs[last].end
        index, back = order[k]
        gap = dist(hands, runs[index].end if back else runs[index].start)
        for other, _ in order[k:]:
            if ring(runs[other]) == ring(runs[index]):
                assert (
                    gap <= min(dist(hands, runs[other].start), dist(hands, runs[other].end)) + 1e-9
                )


def test_whole_quilt_is_sewn_with_a_small_part_of_the_jumping_of_the_order_given():
    random = np.random.default_rng(3)
    start = random.uniform(0, 1000, (300, 2))
    runs = [seam((x, y), (x + 30.0, y + 10.0), anchor=0.0) for x, y in start.tolist()]

    def jumps(order):
        tips = [
            (runs[i].end, runs[i].start) if back else (runs[i].start, runs[i].end)
            for i, back in order
        ]
        return sum(dist(here[1], there[0]) for here, there in pairwise(tips))

    ours = jumps(order_runs(runs, CENTRE, anchor_first=True))
    assert ours < 0.2 * jumps([(i, False) for i in range(300)])


def test_in_a_frame_the_next_run_is_always_the_one_that_begins_nearest():
    runs = [
        seam((900.0, 0.0), (500.0, 0.0)),
        seam((10.0, 5.0), (450.0, 5.0)),
        seam((0.0, 9.0), (0.0, 99.0)),
    ]
    assert follow_runs(runs, (0.0, 0.0)) == [(2, False), (1, False), (0, True)]
    assert follow_runs(runs, (1000.0, 0.0)) == [(0, False), (1, True), (2, False)]
    assert follow_runs([], (0.0, 0.0)) == []


def test_of_two_ends_as_near_as_each_other_hands_take_the_one_given_first():
    one, other = seam((0.005, 0.0), (90.0, 0.0)), seam((0.003, 0.004), (0.0, 90.0))
    assert follow_runs([one, other], (0.0, 0.0))[0] == (0, False)
    assert follow_runs([other, one], (0.0, 0.0))[0] == (0, False)
