"""A quilt loaded sideways: its left edge first, so that x runs along the roll."""

import json
from itertools import pairwise

import numpy as np
import pytest
from quilts import SQUARES, check_laws, planned, verify

from stitchpath import StitchpathError
from stitchpath.plan import plan_json
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.summary import summary_rows

INCH = 25.4
SLACK = 0.02  # mm: lines are cut on a grid
# 24 by 12 in, and the same lying the other way; the backing is 32 by 20 in.
WIDE = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*4"]\nrepeat = 2')
TALL = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2"]\nrepeat = 4')
STAR = """
[[applique]]
name = "star"
outline = "M 0 -10 L 2 -3 L 9 -3 L 4 1 L 6 8 L 0 4 L -6 8 L -4 1 L -9 -3 L -2 -3 Z"
on = "A2"
size = 4
fabric = "coral"
"""


def framed(text, *keys, depth=9, **options):
    said = "\n".join(keys)
    machine = f'[machine]\nkind = "frame"\ndepth = {depth}\n{said}\n'
    return planned(text + machine, **options)


def check_windows(plan):
    """Each leg lies in the window that it is stitched in, from left to right."""
    for run in plan.runs:
        for leg, number in zip(run.legs, run.windows, strict=True):
            window, x = plan.windows[number - 1], leg.points[:, 0]
            assert window.top - SLACK <= x.min() <= x.max() <= window.bottom + SLACK
    check_laws(plan)
    verify(plan)


def seconds(plan):
    return sum(spent.total for spent in plan.times)


@pytest.fixture(scope="module")
def sideways():
    return framed(WIDE + STAR, 'loaded = "sideways"')


def test_sideways_a_quilt_takes_what_one_that_lies_the_other_way_takes_lengthwise():
    # these blocks are their own mirror about a diagonal, so that one top is the other
    turned, upright = framed(WIDE, 'loaded = "sideways"'), framed(TALL)
    assert turned.loading.seconds["sideways"] == upright.loading.seconds["lengthwise"]
    assert [window[:3] for window in turned.windows] == [window[:3] for window in upright.windows]
    assert {window.axis for window in turned.windows} == {0}
    assert turned.proof.cost == pytest.approx(upright.proof.cost, rel=0.01)


def test_each_pass_of_a_quilt_loaded_sideways_holds_what_it_stitches(sideways):
    assert len(sideways.windows) == 3
    check_windows(sideways)
    data = json.loads(plan_json(sideways))
    assert data["loaded"] == "sideways"
    assert data["windows"][0][1] == pytest.approx((9 - 0.5) * INCH, abs=0.01)


@pytest.mark.parametrize(
    ("keys", "way"),
    [
        ((), "lengthwise"),  # who knows whether it would fit
        (("width = 32",), "sideways"),
        (("width = 31.9",), "lengthwise"),
        (("width = 40", 'loaded = "lengthwise"'), "lengthwise"),
        (('loaded = "sideways"',), "sideways"),
    ],
)
def test_a_long_quilt_is_loaded_sideways_where_that_is_quicker_and_known_to_fit(keys, way):
    plan = framed(TALL, *keys, time_limit=0)
    assert plan.loading.way == way
    assert len(plan.windows) == (2 if way == "sideways" else 3)


def test_what_fits_the_frame_no_way_or_not_as_asked_is_refused():
    with pytest.raises(StitchpathError) as narrow:
        framed(TALL, "width = 19")
    assert str(narrow.value).endswith(
        "machine.width: found a frame that takes 19 in, expected at least 20 in, which the backing "
        "is wide when it is loaded lengthwise; sideways it is 32 in"
    )
    with pytest.raises(StitchpathError, match=r"at least 32 in, which .* loaded sideways; length"):
        framed(TALL, "width = 30", 'loaded = "sideways"')


def test_the_other_way_is_told_with_its_windows_time_and_backing():
    plan = framed(TALL, "width = 40")
    other = framed(TALL, 'loaded = "lengthwise"')
    told = dict(summary_rows(plan))["loaded"]
    assert told.startswith("sideways: 2 windows, ")
    assert "; lengthwise 3 windows, about " in told
    assert not [check for check in plan.checks if check.code == "loaded"]
    (note,) = (check for check in other.checks if check.code == "loaded")
    assert "Loaded sideways it would take about" in note.message
    assert "with 2 windows instead of 3: the backing is 32 in wide then." in note.message
    said = plan.loading.seconds["lengthwise"] - plan.loading.seconds["sideways"]
    assert said == pytest.approx(seconds(other) - seconds(plan), rel=0.35)


def test_a_backing_has_its_seams_along_the_bars_however_it_is_loaded():
    text = TALL + '[backing]\nwidth = "18 in"\n'
    for way, along in (("lengthwise", "across"), ("sideways", "down")):
        best, other = framed(text, f'loaded = "{way}"', time_limit=0).needs.backings
        assert (best.way, best.ridge, other.ridge) == (along, False, True)


def test_the_sheet_of_a_pass_is_told_as_the_quilt_lies(sideways):
    first, second, last, *_ = (dict(told.rows) for told in pass_sheets(sideways))
    assert pass_sheets(sideways)[0].title == "Pass 1 of 3, up to 8 1/2 in from the left edge"
    assert first["load"].startswith("Sideways, a quarter turn clockwise: the left edge first")
    assert "load" not in second
    assert first["front bar"] == "8 1/2 in from the left edge, in column 2."
    assert first["level"].startswith("The seam 3 in from the left edge, ")
    assert first["level"].endswith(" at its top end.")
    assert first["baste"] == "The left edge, and the top and bottom edges down to the front bar."
    assert last["front bar"] == "The right edge of the quilt."
    assert last["baste"] == "The top and bottom edges, and the right edge."


def test_a_meander_turns_back_where_the_quilt_is_rolled_on_sideways():
    fill = '[lines]\nditch = "none"\n[[fills]]\nregion = "top"\nstyle = "meander"\nspacing = 2\n'
    plan = framed(WIDE + fill, 'loaded = "sideways"', depth=14)
    assert len(plan.windows) == 2
    assert {where for run in plan.runs for where in (run.start_where, run.end_where)} == {"margin"}
    assert plan.totals.retraced == 0
    check_windows(plan)


def test_rows_go_from_her_left_to_her_right_and_from_the_edge_that_is_loaded_first():
    fill = '[lines]\nditch = "none"\n[[fills]]\nregion = "top"\nstyle = "waves"\nspacing = 3\n'
    plan = framed(WIDE + fill + 'angle = 90\nrows = "one way"\n', 'loaded = "sideways"')
    ends = np.array([[run.legs[0].points[0], run.legs[-1].points[-1]] for run in plan.runs])
    assert (ends[:, 0, 1] > 12 * INCH).all()  # turned clockwise, the bottom edge is on her left
    assert (ends[:, 1, 1] < 0).all()
    assert all(one < two for one, two in pairwise(ends[:, 0, 0].tolist()))
    check_windows(plan)
