"""What lies right of the needle and fits the throat or not, against figures worked by hand."""

import json

import numpy as np
import pytest
from quilts import SQUARES, STARFISH, assert_fits_schema, planned

from stitchpath.checks.throat import check_throat
from stitchpath.design.model import Throat
from stitchpath.hands.areas import Areas
from stitchpath.hands.pace import Pace
from stitchpath.hands.tariff import Tariff
from stitchpath.hands.turning import Bulk
from stitchpath.lines.line import Line
from stitchpath.plan import plan_json
from stitchpath.route.runs import Leg, Run
from stitchpath.thread.leg_arrays import leg_arrays
from stitchpath.thread.throat import Roll, fits, rolls_of_areas, rolls_of_runs
from stitchpath.told.directions import directions
from stitchpath.told.job_rows import job_rows
from stitchpath.told.rolls import rolled_up, throat_words

WALKING, FREE = 0, 1
QUILT = Bulk(0, 0, 1000, 2000, 4.0)
THROAT = '[machine]\nthroat = { width = "8 in", height = "4 in" }\n'


def rolls(*points, foot=WALKING):
    """Stitch one line on a quilt of 1 by 2 m, 4 mm thick."""
    path = np.array(points, dtype=float)
    run = Run(1, 1, "grey", "margin", "margin", (Leg("stitch", path, 0),))
    lines = [Line("ditch", 1, "grey", path)]
    areas = Areas((), np.array([1]), np.zeros(0, dtype=np.int64))
    tariff = Tariff(Pace(), None, 0.0, np.array([foot]), {(1, "grey"): foot}, areas, QUILT)
    way = leg_arrays([run], lines)
    (roll,) = rolls_of_runs([run], way, tariff)
    assert rolls_of_areas([run], way, tariff) == {1: roll}
    return roll


def test_down_the_quilt_its_right_side_lies_right_of_the_needle():
    # She sits where the needle goes, below, and looks up the quilt: her right is its right.
    roll = rolls((300, 0), (300, 2000))
    assert (roll.side, roll.width) == ("right", pytest.approx(700))
    # By hand: 2 sqrt(4 * 700 / pi) = 59.71; from its end to its start 2 sqrt(4 * 300 / pi) = 39.09.
    assert (roll.thick, roll.turned) == pytest.approx((59.71, 39.09), abs=0.005)


@pytest.mark.parametrize(
    ("end", "side", "width"),
    [((300, 0), "left", 300), ((1000, 500), "top", 500), ((0, 500), "bottom", 1500)],
)
def test_whichever_way_she_stitches_what_lies_right_of_the_needle_is_told(end, side, width):
    start = (300, 500)
    roll = rolls(start, end)
    assert (roll.side, roll.width) == (side, pytest.approx(width))


def test_slanting_the_farthest_corner_counts():
    # Down to the right at 45 degrees from the middle, her right is up to the right: the corner
    # (1000, 0) lies (500 + 1000) / sqrt 2 = 1060.66 away.
    roll = rolls((500, 1000), (600, 1100))
    assert roll.width == pytest.approx(1060.66, abs=0.01)


def test_in_free_motion_the_quilt_lies_the_best_way_through_the_whole_run():
    # There and back along x = 700 to 900: at most 300 mm to the right side, 900 to the left.
    path = ((700, 200), (700, 1800), (900, 1800), (900, 200))
    free = rolls(*path, foot=FREE)
    assert (free.side, free.width, free.turned) == ("right", pytest.approx(300), free.thick)
    assert rolls(*path).width == pytest.approx(1800)  # turned by the walking foot
    # Just left of the middle 495 mm lie on the left at most, 510 on the right: left is better.
    near = rolls((490, 200), (490, 1800), (495, 1800), foot=FREE)
    assert (near.side, near.width) == ("left", pytest.approx(495))
    assert rolls((200, 490), (800, 495), foot=FREE).side == "top"
    assert rolls((200, 1510), (800, 1505), foot=FREE).side == "bottom"


def test_it_fits_flat_or_as_a_roll_no_thicker_than_the_throat():
    throat = Throat(width="200 mm", height="100 mm")
    assert fits(200, 150, throat)
    assert not fits(200.1, 150, throat)
    assert fits(5000, 100, throat)
    assert not fits(5000, 100.1, throat)
    assert not fits(5000, 95, Throat(width="90 mm", height="100 mm"))


def test_what_does_not_fit_is_told_with_the_side_to_turn():
    throat = Throat(width="8 in", height="4 in")
    thick = Roll(2500, 120.0, "right", (300.0, 500.0), 90.0)
    both = Roll(2500, 120.0, "top", (300.0, 500.0), 110.0)
    fine = Roll(2500, 101.0, "top", (300.0, 500.0), 90.0)
    told = list(check_throat([("A1", thick), ("B2", both), ("C3", fine)], throat, "in"))
    assert [check.code for check in told] == ["throat", "throat"]
    assert "A1: 98 7/16 in of the quilt, its right side" in told[0].message
    assert "a roll 4 3/4 in thick, and the throat takes 4 in" in told[0].message
    assert "so that the left side lies right of the needle" in told[0].message
    assert "joined afterwards" in told[1].message
    assert not list(check_throat([("A1", thick)], None, "in"))


def test_each_run_and_area_tells_its_roll_where_the_throat_is_known():
    star = STARFISH.replace('ditch = "none"', 'ditch = "all"')
    star = star.replace("['sand sand']", "['sand coral sand', 'coral sand coral']")
    plan = planned(star + THROAT)
    data = json.loads(plan_json(plan))
    assert all(run["roll"]["thick"] > 0 for run in data["runs"])
    assert {area["place"] for area in data["areas"]} == {"A1", "starfish on A1"}
    assert_fits_schema(data)
    (row, *_) = [row for row in job_rows(plan) if row.kind == "run"]
    assert "; right of the needle at most " in row.note
    plain = json.loads(plan_json(planned(star)))
    assert "areas" not in plain
    assert "roll" not in plain["runs"][0]


def test_a_quilt_too_thick_for_the_machine_is_warned_of():
    # 44 in with its margin: 42 in of it 1 in thick are a roll of 2 sqrt(42 / pi) = 7.3 in.
    large = SQUARES.replace("size = 6", "size = 40") + THROAT
    lofty = large + '[batting]\nloft = "1 in"\n'
    assert "throat" not in [check.code for check in planned(large).checks]
    assert "throat" in [check.code for check in planned(lofty).checks]


def test_the_directions_say_what_to_roll_and_when_to_take_pins_out():
    sashed = SQUARES.replace(
        'rows = ["squares"]',
        'rows = ["squares*3", "squares*3"]\nsashing = { width = 2, fabric = "coral" }',
    )
    text = sashed + '[lines]\nditch = "blocks"\n' + THROAT
    (first, *_) = [said for run in directions(planned(text)) for said in run.steps]
    assert first.text.startswith("Roll the ")
    assert " sashing from there, " in first.text
    assert "Take out each pin before the needle comes to it" in first.text
    (before, *_) = [said for run in directions(planned(sashed)) for said in run.steps]
    assert "Roll" not in before.text


SASHED = SQUARES.replace(
    'rows = ["squares"]', 'rows = ["squares*3"]\nsashing = { width = 2, fabric = "coral" }'
)


@pytest.mark.parametrize(
    ("x", "mark", "width", "thick"),
    [
        # Blocks of 6 in, sashing from 6 to 8 and from 14 to 16 in, 24 in with the right margin.
        (3, "to the second sashing from there", "16 in", "1 9/16 in"),  # 2 sqrt(0.12 * 16 / pi)
        (8, "to the second sashing from there", "16 in", "1 9/16 in"),
        (9, "to the first sashing from there", "8 in", "1 1/8 in"),
        (20, "up to the needle", "4 in", "13/16 in"),  # 0.782 in
        (22.9, "up to the needle", "1 1/8 in", "7/16 in"),
    ],
)
def test_a_side_is_rolled_up_to_the_sashing_nearest_the_needle(x, mark, width, thick):
    plan = planned(SASHED + '[lines]\nditch = "blocks"\n' + THROAT)
    lead, rest = rolled_up(plan, "right", np.array([[2.0, 1.0], [x, 5.0]]) * 25.4)
    assert lead == "Roll the right side"
    assert rest == (
        f"{mark}, {width} of it with the margin, a roll {thick} thick right of the needle."
    )


def test_less_than_an_inch_is_not_rolled_and_a_border_is_rolled_up_whole():
    plan = planned(SASHED + '[lines]\nditch = "blocks"\n' + THROAT)
    assert rolled_up(plan, "right", np.array([[0.0, 1.0], [23.1, 5.0]]) * 25.4) is None
    border = SASHED + '[[layout.borders]]\nwidth = 3\nfabric = "sea"\n'
    plan = planned(border + '[lines]\nditch = "blocks"\n' + THROAT)
    # Across to the right her right is the top: 3 in of border and 2 in of margin above A2.
    lead, rest = rolled_up(plan, "top", np.array([[12.0, 5.0], [20.0, 6.0]]) * 25.4)
    assert lead == "Roll the top edge"
    assert rest.startswith("to the seam of the border, 5 in of it with the margin")


def test_the_side_that_is_rolled_lies_right_of_the_needle_until_the_first_corner():
    rights = {
        (0, 1): "right side",
        (0, -1): "left side",
        (1, 0): "top edge",
        (-1, 0): "bottom edge",
    }
    told = 0
    for start in ("A1 top right", "A2 top left", "A2 bottom right", "A2 top right"):
        walked = '[machine]\nfoot = "walking"\n' + THROAT.removeprefix("[machine]\n")
        rest = f'[route]\nstart = "{start}"\n[lines]\nditch = "blocks"\n'
        plan = planned(SASHED.replace("squares*3", "squares squares:90 squares") + rest + walked)
        for run in plan.runs:
            points = np.concatenate([leg.points for leg in run.legs])
            ahead = tuple(np.sign(np.round(points[1] - points[0])).astype(int).tolist())
            said = throat_words(plan).get(run.number)
            if said is not None and said.lead.startswith("Roll"):
                assert said.lead == f"Roll the {rights[ahead]}"
                told += 1
    assert told >= 3
