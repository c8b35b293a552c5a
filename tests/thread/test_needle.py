"""Needle points: even stitches from corner to corner, as many as thread is reckoned for."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, layouts, planned
from shapely import LineString, Point

from stitchpath.base.errors import StitchpathError
from stitchpath.geometry.corners import split_at_corners
from stitchpath.lines.line import Line
from stitchpath.plan import stitching_of
from stitchpath.route.runs import Leg, Run
from stitchpath.thread import ByKind, Stitching, needle_points, plan_thread

TEN = Stitching(per_mm=ByKind.of(10 / 25.4))  # 2.54 mm


def sewn(*pieces):
    """One run over `(kind, points)`, one leg each."""
    legs, lines = [], []
    for kind, path in pieces:
        points = np.array(path, dtype=float)
        if kind == "travel":
            legs.append(Leg("travel", points, along="seam"))
        else:
            legs.append(Leg("stitch", points, len(lines)))
            lines.append(Line(kind, 1, "grey", points))
    return [Run(1, 1, "grey", "margin", "margin", tuple(legs))], lines


def arc(radius, degrees, tolerance=0.05):
    """Flatten an arc from (0, 0), first to the right, chords off it by the tolerance or less."""
    step = 2 * math.acos(1 - tolerance / radius)
    n = math.ceil(math.radians(degrees) / step)
    angle = np.linspace(0, math.radians(degrees), n + 1)
    return radius * np.column_stack([np.sin(angle), 1 - np.cos(angle)])


def lengths(found):
    step = np.hypot(*np.diff(found.points, axis=0).T)
    return step[np.diff(found.run) == 0]


def test_ten_stitches_to_the_inch_are_ten_in_an_inch():
    found = needle_points(*sewn(("ditch", [[0, 0], [25.4, 0]])), TEN)
    assert found.points[:, 0] == pytest.approx(np.linspace(0, 25.4, 11))
    assert found.number.tolist() == list(range(11))
    assert found.corner.tolist() == [True, *[False] * 9, True]


def test_a_stretch_that_is_no_whole_number_of_stitches_takes_shorter_ones_not_longer():
    found = needle_points(*sewn(("ditch", [[0, 0], [26, 0]])), TEN)
    assert lengths(found) == pytest.approx(26 / 11)


@pytest.mark.parametrize("degrees", [6, 15, 25, 45, 90, 135, 180])
def test_the_needle_goes_down_in_a_corner(degrees):
    way = math.radians(degrees)
    corner = [20, 0]
    end = [20 + 20 * math.cos(way), 20 * math.sin(way)]
    found = needle_points(*sewn(("ditch", [[0, 0], corner, end])), TEN)
    assert found.points[8] == pytest.approx(corner, abs=0)
    assert found.corner[8]
    assert found.number[-1] == 16


def test_straight_on_through_a_crossing_the_stitches_keep_their_length():
    # Legs meet every 10 mm, which is no whole number of stitches.
    legs = [("ditch", [[10 * k, 0], [10 * k + 10, 0]]) for k in range(10)]
    found = needle_points(*sewn(*legs), TEN)
    assert found.number[-1] == math.ceil(100 / 2.54) == 40
    assert lengths(found) == pytest.approx(2.5)
    assert found.leg.tolist()[:9] == [0, 0, 0, 0, 0, 1, 1, 1, 1]


def test_a_curve_takes_as_many_stitches_as_its_length_asks_however_finely_it_is_drawn():
    # Length of an arc: radius times angle. 20 mm and 200 degrees: 69.81 mm, 27.5 stitches.
    for tolerance in (0.05, 0.01, 0.002):
        points = arc(20, 200, tolerance)
        found = needle_points(*sewn(("centre", points)), TEN)
        assert found.number[-1] == 28
        assert np.ptp(lengths(found)) < 0.01
        middle = np.hypot(found.points[:, 0], found.points[:, 1] - 20)
        assert middle == pytest.approx(20, abs=0.051)


def test_a_curve_with_a_point_in_it_has_a_needle_point_there():
    up = arc(15, 90)
    down = up[-1] + (up - up[0]) @ np.array([[-1, 0], [0, 1]])  # a cusp, as in a wave's crest
    found = needle_points(*sewn(("fill", np.concatenate([up, down[1:]]))), TEN)
    assert np.hypot(*(found.points[found.corner] - up[-1]).T).min() == 0
    assert found.corner.sum() == 3


def test_where_the_stitch_length_changes_a_stitch_ends():
    kinds = replace(TEN, per_mm=ByKind.of(10 / 25.4, centre=12 / 25.4))
    pieces = sewn(("ditch", [[0, 0], [26, 0]]), ("centre", [[26, 0], [51, 0]]))
    found = needle_points(*pieces, kinds)
    assert [26.0, 0.0] in found.points.tolist()
    assert lengths(found)[:11] == pytest.approx(26 / 11)
    assert lengths(found)[11:] == pytest.approx(25 / 12)


def test_travel_is_stitched_too():
    found = needle_points(*sewn(("ditch", [[0, 0], [10, 0]]), ("travel", [[10, 0], [10, 10]])), TEN)
    assert found.number[-1] == 8


def test_where_nothing_is_stitched_there_are_no_needle_points():
    assert len(needle_points([], []).points) == 0


def test_a_path_without_length_has_no_pieces():
    assert split_at_corners(np.zeros((3, 2))) == []


paths = st.lists(
    st.tuples(st.integers(-400, 400), st.integers(-400, 400)), min_size=2, max_size=9
).filter(lambda p: all(a != b for a, b in pairwise(p)))


@given(points=paths, per_inch=st.floats(4, 20), cuts=st.sets(st.integers(1, 7)))
@settings(max_examples=40, deadline=None)
def test_no_stitch_is_longer_than_set_and_the_stitches_cover_the_way(points, per_inch, cuts):
    points = np.array(points) / 4
    at = sorted({0, len(points) - 1} | {c for c in cuts if c < len(points) - 1})
    pieces = sewn(*[("ditch", points[i : j + 1]) for i, j in pairwise(at)])
    stitching = Stitching(per_mm=ByKind.of(per_inch / 25.4))
    found = needle_points(*pieces, stitching)
    assert lengths(found).max() <= 25.4 / per_inch * (1 + 1e-6)
    way = LineString(points).length
    turns = np.diff(np.arctan2(*np.diff(points, axis=0).T[::-1]))
    sharp = np.abs((turns + np.pi) % (2 * np.pi) - np.pi) > math.radians(30)
    for corner in points[1:-1][sharp]:
        assert np.hypot(*(found.points - corner).T).min() == 0
    # A stitch across a blunter corner is shorter than the way round it, but not by much.
    assert lengths(found).sum() <= way * (1 + 1e-9)
    assert lengths(found).sum() >= way - 0.01 * (1 + len(points))
    (run,) = plan_thread(*pieces, stitching).runs
    assert run.stitches == len(lengths(found)) >= way * per_inch / 25.4 * (1 - 1e-9)
    on = LineString(points)
    assert max(on.distance(Point(p)) for p in found.points) < 1e-9


@given(layouts())
@settings(max_examples=5, deadline=None)
def test_needle_points_are_the_stitches_that_thread_is_reckoned_for(text):
    try:
        plan = planned(text, time_limit=0)
    except StitchpathError:
        return  # a design without a line to stitch
    found = needle_points(plan.runs, plan.lines, stitching_of(plan.design))
    counted = np.bincount(found.run, minlength=len(plan.runs)) - 1
    assert counted.tolist() == [run.stitches for run in plan.thread.runs]
    assert lengths(found).max() <= 2.54 * (1 + 1e-6)


def test_every_run_begins_and_ends_with_a_needle_point():
    plan = planned(SQUARES)
    found = needle_points(plan.runs, plan.lines, stitching_of(plan.design))
    for index, run in enumerate(plan.runs):
        mine = found.points[found.run == index]
        assert mine[0].tolist() == run.legs[0].points[0].tolist()
        assert mine[-1].tolist() == run.legs[-1].points[-1].tolist()
