"""Turning the quilt with the walking foot, against figures worked by hand."""

import numpy as np
import pytest
from quilts import SQUARES, design

from stitchpath.hands.areas import Areas
from stitchpath.hands.feet import ANY_FOOT, FEET
from stitchpath.hands.pace import Pace
from stitchpath.hands.tariff import Tariff
from stitchpath.hands.turning import Bulk, half_turn_seconds, loft_of, roll_thickness, thickness_of

WALKING, FREE, FRAME = (FEET.index(foot) for foot in ("walking", "free-motion", "frame"))
QUILT = Bulk(0, 0, 600, 800, 3.0)
NONE = np.zeros(0, dtype=np.int64)


def tariff(pace):
    """A tariff of the quilt of which no line is known."""
    looks = design(SQUARES).looks
    return Tariff(pace, looks, 50.0, NONE, {}, Areas((), NONE, NONE), QUILT)


def test_a_roll_has_the_cross_section_of_what_is_rolled_up():
    # Geometry: pi (d / 2)^2 = t w. 500 mm of 2 mm are 1000 mm2: d = 2 sqrt(1000 / pi) = 35.68.
    assert roll_thickness(np.array([500.0]), 2.0) == pytest.approx([35.68], abs=0.005)
    assert roll_thickness(np.array([0.0]), 2.0) == pytest.approx([0.0])
    # Twice as thick when four times as wide.
    one, four = roll_thickness(np.array([100.0, 400.0]), 5.0)
    assert four == pytest.approx(2 * one)


def test_turning_grows_with_the_quilt_and_with_the_roll():
    # Worked by hand: diagonal 1 m; 400 mm to the farthest side, a roll of 39.09 mm.
    at = np.array([[300.0, 400.0], [0.0, 0.0]])
    seconds = half_turn_seconds(Pace(turn_size=5, turn_roll=10), QUILT, at)
    assert seconds[0] == pytest.approx(5 + 3.909, abs=0.001)
    # In the corner 800 mm have to pass: 2 sqrt(3 * 800 / pi) = 55.28 mm.
    assert seconds[1] == pytest.approx(5 + 5.528, abs=0.001)
    only_size = half_turn_seconds(Pace(turn_size=7, turn_roll=0), QUILT, at)
    assert only_size == pytest.approx([7, 7])


def test_a_turn_costs_its_stop_and_its_share_of_half_a_turn():
    made = tariff(Pace(pivot=2, turn_size=5, turn_roll=10))
    at = np.tile([300.0, 400.0], (5, 1))
    turn = np.array([0.0, 30.0, 30.1, 90.0, 180.0])
    foot = np.full(5, WALKING)
    half = 8.909
    expected = [0, 0, 2 + half * 30.1 / 180, 2 + half / 2, 2 + half]
    assert made.pivots(turn, foot, foot, at) == pytest.approx(expected, abs=0.002)


def test_only_the_walking_foot_turns_the_quilt():
    at, turn = np.array([[300.0, 400.0]]), np.array([180.0])
    for foot, still, seconds in ((FREE, 0, 0), (FRAME, 0, 0), (FREE, 0.5, 0.5), (ANY_FOOT, 0.5, 0)):
        feet = np.array([foot])
        found = tariff(Pace(still=still)).pivots(turn, feet, feet, at)
        assert found == pytest.approx([seconds])
    # Where the foot changes, what takes longer counts.
    both = tariff(Pace(turn_size=5, turn_roll=10)).pivots(
        turn, np.array([FREE]), np.array([WALKING]), at
    )
    assert both == pytest.approx([2 + 8.909], abs=0.001)


def test_corners_within_a_line_count_by_its_foot():
    made = tariff(Pace(pivot=2, turn_size=0, turn_roll=0))
    corner = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [200.0, 200.0]])
    straight = np.array([[0.0, 0.0], [50.0, 0.0], [100.0, 0.0]])
    found = made.corners([corner, straight, corner], np.array([WALKING, WALKING, FREE]))
    assert found.tolist() == [4, 0, 0]
    twice = np.repeat(corner, 2, axis=0)  # a point that is drawn twice is one corner
    assert made.corners([twice], np.array([WALKING])).tolist() == [4]


def test_an_end_takes_half_a_start_and_is_secured_only_where_it_would_come_loose():
    made = tariff(Pace(start=15, end_inside=60, end_trimmed=5))
    assert (made.end("inside"), made.end("edge"), made.end("margin")) == (67.5, 67.5, 12.5)
    shows = [made.end_shows(w, on_piece=p) for w in ("inside", "margin") for p in (False, True)]
    assert shows == [10, 75, 0, 0]


def test_the_quilt_is_as_thick_as_she_or_its_batting_says():
    assert thickness_of(design(SQUARES)) == pytest.approx(0.04 * 25.4)
    assert loft_of(design(SQUARES)) == pytest.approx(3 * 0.04 * 25.4)
    assert loft_of(design(SQUARES + '[batting]\nloft = "5 mm"\n')) == pytest.approx(5)
    # A kind of batting pressed to 0.5 mm between fabrics of 0.25 mm.
    named = design(SQUARES + '[batting]\nkind = "needle-punched cotton"\n')
    assert thickness_of(named) == pytest.approx(1.0)
    assert thickness_of(design(SQUARES + '[stitching]\nthickness = "3 mm"\n')) == pytest.approx(3)


def test_the_margin_has_to_be_turned_too():
    with_margin = Bulk(-50, -60, 650, 860, 3.0)
    assert with_margin.diagonal == pytest.approx(1156.03, abs=0.01)  # of 700 by 920 mm
    at = np.array([[600.0, 400.0], [-10.0, 400.0], [300.0, 850.0], [300.0, -10.0]])
    assert with_margin.farthest(at).tolist() == [650, 660, 910, 870]
