"""The order that is taught, as she would see it on a wall quilt of five stars."""

from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from quilts import WALL, planned

from stitchpath.hands.areas import GROUND
from stitchpath.route.passages import alike
from stitchpath.route.passages.alike import Lay, same_way
from stitchpath.route.passages.taught import held_by_others, phases


@pytest.fixture(scope="module")
def wall():
    return planned(WALL, time_limit=10)


def stitched(plan):
    """Give the area of each leg that stitches a line, and the middle of the line."""
    legs = [leg for run in plan.runs for leg in run.legs if leg.do == "stitch"]
    areas = plan.tariff.areas.line
    return [(int(areas[leg.line]), leg.points.mean(axis=0)) for leg in legs]


def test_each_star_is_finished_in_one_visit(wall):
    areas = [area for area, _ in stitched(wall) if area != GROUND]
    visits = [area for k, area in enumerate(areas) if not k or areas[k - 1] != area]
    assert sorted(visits) == list(range(1, 6))
    assert wall.returns == 0


def long(along):
    """Tell whether what was stitched along a straight goes from side to side, inches."""
    return len(along) > 0 and np.ptp(along) > 20


def test_the_ring_and_a_cross_of_sashing_are_stitched_before_any_star(wall):
    first = next(k for k, (area, _) in enumerate(stitched(wall)) if area != GROUND)
    inch = np.array([at for _, at in stitched(wall)[:first]]) / 25.4
    for way in (0, 1):
        held = [off for off in (1.25, 8.5, 14.5, 21.75)
                if long(inch[np.abs(inch[:, way] - off) < 0.01, 1 - way])]  # fmt: skip
        assert {1.25, 21.75} < set(held)


def test_what_the_order_takes_more_is_little_as_sides_of_sashing_lead_from_star_to_star(wall):
    assert wall.proof.cost < 1.03 * wall.proof.free
    first = next(k for k, (area, _) in enumerate(stitched(wall)) if area != GROUND)
    assert any(area == GROUND for area, _ in stitched(wall)[first:])


def test_the_star_in_the_middle_is_stitched_before_those_in_the_corners(wall):
    first = next(at for area, at in stitched(wall) if area != GROUND)
    assert np.hypot(*(first - [wall.top.width / 2, wall.top.height / 2])) < 3 * 25.4


def test_all_stars_are_stitched_the_same_way(wall):
    stars = {}
    for area, at in stitched(wall):
        if area != GROUND:
            stars.setdefault(area, []).append(at)
    ways = [np.round(np.array(at) - np.mean(at, axis=0)) for at in stars.values()]
    assert len(ways) == 5

    def like(way):
        turns = [way, way[:, ::-1]]
        return [turned * [a, b] for turned, a, b in product(turns, (1, -1), (1, -1))]

    for way in ways[1:]:
        assert any(np.allclose(ways[0], turned[::step]) for turned in like(way) for step in (1, -1))


def test_what_the_order_costs_more_than_any_is_told(wall):
    assert wall.proof.free < wall.proof.cost
    assert wall.proof.lower_bound > 0.93 * wall.proof.cost
    free = planned(WALL + '[route]\norder = "free"\n', time_limit=10)
    assert free.proof.free is None
    assert free.proof.cost <= wall.proof.free * 1.01


def test_the_walking_foot_is_done_before_the_other_and_both_go_outward():
    area = np.array([2, 1, GROUND, 1, 2, GROUND])
    foot = np.array([1, 0, 0, 1, 0, -1])
    middle = np.array([[900.0, 0], [0, 0], [50, 0], [0, 0], [900, 0], [60, 0]])
    when = phases(area, foot, middle, np.ones(6), (0.0, 0.0))
    assert when.tolist() == [4, 1, 0, 3, 2, 0]


# Seams from left to right, so many mm from the centre


def held(*places, lengths=None):
    """Tell which of some seams of 500 mm are held by others."""
    half = np.array(lengths or [500.0] * len(places)) / 2
    tail = np.stack([-half, np.array(places)], axis=1)
    head = tail * [-1, 1]
    return held_by_others(tail, head, 2 * half, (0.0, 0.0)).tolist()


@pytest.mark.parametrize(("apart", "loose"), [(177.0, True), (178.0, False)])
def test_a_seam_is_stitched_first_unless_another_holds_it_within_the_span_of_a_hand(apart, loose):
    assert held(0.0, apart) == [False, loose]


def test_the_seam_nearer_to_the_centre_holds_the_other_side_of_the_strip():
    assert held(-400.0, -132.0, -100.0, 100.0, 132.0, 400.0) == [
        False, True, False, False, True, False
    ]  # fmt: skip


def test_on_a_small_top_a_ring_and_a_cross_are_stitched_first():
    assert held(-260.0, -108.0, -76.0, 76.0, 108.0, 260.0) == [
        False, True, True, False, True, False
    ]  # fmt: skip


@pytest.mark.parametrize(("length", "loose"), [(460.0, True), (440.0, False)])
def test_a_seam_holds_only_one_that_it_runs_beside(length, loose):
    assert held(0.0, 50.0, lengths=[length, 500.0]) == [False, loose]


def test_what_is_held_by_a_seam_that_is_held_itself_comes_first():
    assert held(0.0, 140.0, 280.0) == [False, True, False]


def test_a_bent_seam_holds_none_and_is_held_by_none():
    tail, head = np.array([[0.0, 0], [0, 50]]), np.array([[500.0, 0], [500, 50]])
    assert not held_by_others(tail, head, np.array([500.0, 501.0]), (0.0, 0.0)).any()
    assert not held_by_others(tail, head, np.array([501.0, 500.0]), (0.0, 0.0)).any()


# Copies of a shape: two lines, one above the other, and the same again 100 mm further on


def two_copies(longer=0.0):
    tail = np.array([(0.0, 0), (0, 10), (100, 0), (100, 10)])
    head = tail + np.array([20.0, 0])
    head[3, 0] += longer
    return Lay(tail, head, (tail + head) / 2, head[:, 0] - tail[:, 0])


def begun(monkeypatch, lay, saved):
    """Tell at which end of a line the second copy is begun, where the right ends save so much."""

    class Priced:
        def __init__(self, _):
            pass

        def learn(self, wanted):
            """Know everything."""

        def prices(self, starts, goals, _):
            return np.array([[0.0 if goal % 2 else saved for goal in goals]] * len(starts))

    monkeypatch.setattr(alike, "Onward", Priced)
    links = SimpleNamespace(hub=np.zeros(8), near=[dict.fromkeys(range(8), 0.0)] * 8)
    order = same_way(None, links, lay, [0, 1, 3, 2, 4, 5, 7, 6], [0, 0, 1, 1], {0, 1})
    return "right" if order[4] % 2 else "left"


@pytest.mark.parametrize(("saved", "end"), [(3.5, "left"), (4.5, "right")])
def test_a_copy_is_turned_on_her_only_where_that_saves_more_than_four_seconds(
    monkeypatch, saved, end
):
    assert begun(monkeypatch, two_copies(), saved) == end


@pytest.mark.parametrize(("longer", "end"), [(0.18, "right"), (0.22, "left")])
def test_what_differs_by_a_thread_is_a_copy_and_by_more_is_none(monkeypatch, longer, end):
    # What is no copy is stitched as it was found, or the other way round.
    assert begun(monkeypatch, two_copies(longer), 50.0) == end
