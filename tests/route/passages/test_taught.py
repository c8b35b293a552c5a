"""The order that is taught, as she would see it on a wall quilt of five stars."""

from itertools import product

import numpy as np
import pytest
from quilts import WALL, planned

from stitchpath.hands.areas import GROUND
from stitchpath.route.passages.taught import phases


@pytest.fixture(scope="module")
def wall():
    return planned(WALL)


def stitched(plan):
    """Give the area of each leg that stitches a line, and the middle of the line."""
    legs = [leg for run in plan.runs for leg in run.legs if leg.do == "stitch"]
    areas = plan.tariff.areas.line
    return [(int(areas[leg.line]), leg.points.mean(axis=0)) for leg in legs]


def test_anchors_come_first_and_each_star_is_finished_in_one_visit(wall):
    areas = [area for area, _ in stitched(wall)]
    visits = [area for k, area in enumerate(areas) if not k or areas[k - 1] != area]
    assert visits[0] == GROUND
    assert sorted(visits) == list(range(6))
    assert wall.returns == 0


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
    free = planned(WALL + '[route]\norder = "free"\n')
    assert free.proof.free is None
    assert free.proof.cost <= wall.proof.free * 1.01


def test_the_walking_foot_is_done_before_the_other_and_both_go_outward():
    area = np.array([2, 1, GROUND, 1, 2, GROUND])
    foot = np.array([1, 0, 0, 1, 0, -1])
    middle = np.array([[900.0, 0], [0, 0], [50, 0], [0, 0], [900, 0], [60, 0]])
    when = phases(area, foot, middle, np.ones(6), (0.0, 0.0))
    assert when.tolist() == [4, 1, 0, 3, 2, 0]
