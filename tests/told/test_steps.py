"""Steps are true: who goes by the words alone, with the quilt before her, arrives.

`tests/walker.py` reads the sentences and looks at the top; it shares nothing with what writes them
but what things are called. That it would notice is shown by spoiling single words.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from quilts import DESIGNS, SQUARES, WALL, design, fan, planned, top
from random_tops import random_top
from walker import LostError, Sentence, Walker, lost_runs

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import format_judged
from stitchpath.design.read import design_from_text, load_design
from stitchpath.geometry.turns import turn_angle
from stitchpath.plan import make_plan
from stitchpath.route.runs import Leg
from stitchpath.told.directions import directions
from stitchpath.told.landmarks import Web
from stitchpath.told.sentences import _arms
from stitchpath.told.ways import Way, ways_of
from stitchpath.top.place_names import Places
from stitchpath.top.spots import Spots

INCH = 25.4


@pytest.fixture(scope="module")
def cushion():
    return make_plan(load_design(DESIGNS / "curved-cushion.toml"), cures=False, time_limit=0.2)


def test_the_words_lead_through_the_harbour_runner(runner):
    assert lost_runs(runner) == []


def test_the_words_lead_through_the_curved_cushion(cushion):
    assert lost_runs(cushion) == []


def test_the_words_lead_through_a_wall_quilt_of_sawtooth_stars():
    assert lost_runs(planned(WALL, time_limit=0.2)) == []


# The rest of a hundred are walked by tests/benchmarks/walked_tops.py.
@pytest.mark.parametrize("seed", [3, 5, 8, 10, 13, 16, 17, 18, 49, 65, 68, 77, 79, 83, 98, 101])
def test_the_words_lead_through_tops_of_all_sorts(seed):
    plan = make_plan(design(random_top(seed)), cures=False, time_limit=0.2)
    assert lost_runs(plan) == []


# The walker would notice


def spoiled(text):
    """Give a sentence with one word or length wrong, in every way there is."""
    swaps = [
        ("Pivot left", "Pivot right"), ("Pivot right", "Pivot left"), ("Turn back", "Straight on"),
        (": up ", ": down "), (": down ", ": up "), ("across to the left", "across to the right"),
        ("across to the right", "across to the left"), ("bottom left corner", "top left corner"),
        ("top right corner", "bottom right corner"), ("8 o'clock", "6 o'clock"),
    ]  # fmt: skip
    for word, other in swaps:
        if word in text:
            yield text.replace(word, other, 1)
    far = re.search(r", (?:(\d+) )?(\d+/\d+ )?in(?=[ .,])", text)
    if far and far[1]:
        yield text[: far.start(1)] + str(int(far[1]) + 1) + text[far.end(1) :]


def test_a_single_wrong_word_or_length_is_noticed(runner):
    walker, noticed, all_of_them = Walker(runner), 0, 0
    for run, told in zip(runner.runs, directions(runner), strict=True):
        ground, states = walker.ground(run.stage, run.thread), []
        for step in told.steps:
            for text in spoiled(step.text):
                all_of_them += 1
                try:
                    (state, *_) = Sentence(walker, ground, text).walk(states)
                    there = run.legs[step.last_leg].points[-1]
                    noticed += np.hypot(*(state.at - there)) > 1.0
                except LostError:
                    noticed += 1
            states = Sentence(walker, ground, step.text).walk(states)
    assert all_of_them > 200
    assert noticed == all_of_them


def test_of_two_places_close_together_the_words_mean_one():
    plan = make_plan(design(random_top(26)), cures=False, time_limit=0.2)
    assert lost_runs(plan) == []
    swap = {"left": "right", "right": "left", "upper": "lower", "lower": "upper"}
    walker, told = Walker(plan), 0
    for run, words in zip(plan.runs, directions(plan), strict=True):
        text = words.steps[0].text
        where = re.search(r", the (left|right|upper|lower) one of two", text)
        if where:
            told += 1
            other = text[: where.start(1)] + swap[where[1]] + text[where.end(1) :]
            ground = walker.ground(run.stage, run.thread)
            states, *_ = Sentence(walker, ground, other).start(other)[1:]
            assert all(np.hypot(*(s.at - run.legs[0].points[0])) > 1.0 for s in states)
    assert told == 2


ROWS = """
name = "Rows"
unit = "in"
[fabrics]
sand = "#e7d5b0"
[blocks.plain]
size = 12
grid = ["sand"]
[layout]
rows = ["plain"]
[lines]
ditch = "none"
[[drawn]]
file = "rows.svg"
at = [6, 6]
unit = "mm"
"""


@pytest.mark.parametrize(("apart", "close"), [(4, True), (8, False)])
def test_lines_too_close_for_an_eye_to_measure_are_counted(apart, close, tmp_path):
    rows = "".join(f'<path d="M{x} 0V300"/>' for x in (0, apart))
    (tmp_path / "rows.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 300" fill="none" '
        f'stroke="#123">{rows}</svg>'
    )
    plan = make_plan(design_from_text(ROWS, "rows.toml", tmp_path), cures=False, time_limit=0.2)
    assert lost_runs(plan) == []
    texts = " ".join(step.text for run in directions(plan) for step in run.steps)
    assert ("the left one of two" in texts or "the right one of two" in texts) == close


# No step runs over a bend onto another seam


@pytest.mark.parametrize("plan", ["runner", "cushion"])
def test_no_step_joins_two_seams_over_more_than_three_degrees(plan, request):
    plan = request.getfixturevalue(plan)
    for run, told in zip(plan.runs, directions(plan), strict=True):
        for step in told.steps:
            for k in range(step.first_leg + 1, step.last_leg + 1):
                before, after = run.legs[k - 1], run.legs[k]
                if min(before.seam, after.seam) >= 0 and before.seam != after.seam:
                    ways = np.diff(before.points, axis=0)[-1], np.diff(after.points, axis=0)[0]
                    # Curves are drawn within 0.05 mm: their last pieces turn a little themselves.
                    curved = len(before.points) > 2 and len(after.points) > 2
                    assert abs(turn_angle(*ways)) <= (6 if curved else 3)


SLANTED = """
name = "Slip"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
coral = "#dc6f50"
[blocks.slip]
size = 6
units = 6
patches = [
  { name = "quay", fabric = "sand", points = [[0, 0], [3, 0], [3, 3], [0, 3]] },
  { name = "shore", fabric = "coral", points = [[0, 3], [3, 3], [X, 6], [0, 6]] },
  { name = "water", fabric = "sea", points = [[3, 0], [6, 0], [6, 6], [X, 6], [3, 3]] },
]
[layout]
rows = ["slip"]
"""


@pytest.mark.parametrize(("degrees", "joined"), [(2.9, True), (3.1, False)])
def test_a_seam_that_turns_off_more_than_three_degrees_is_a_step_of_its_own(degrees, joined):
    across = 3 + 3 * np.tan(np.radians(degrees))
    plan = planned(SLANTED.replace("X", f"{across:.6f}"), time_limit=0.2)
    assert lost_runs(plan) == []
    texts = [step.text for run in directions(plan) for step in run.steps]
    bears = [text for text in texts if re.match(r"Bear (left|right): ", text)]
    assert bool(bears) != joined


@pytest.mark.parametrize(("degrees", "bears"), [(29.0, True), (31.0, False)])
def test_bearing_is_a_turn_of_its_own_kind_up_to_thirty_degrees(degrees, bears):
    across = 3 + 3 * np.tan(np.radians(degrees))
    plan = planned(SLANTED.replace("X", f"{across:.6f}"), time_limit=0.2)
    steps = [step for run in directions(plan) for step in run.steps]
    told = {step.turn: step.text.partition(":")[0].lower() for step in steps if step.turn}
    assert any(turn.startswith("bear") for turn in told) == bears
    assert all(lead == turn for turn, lead in told.items() if turn.startswith("bear"))
    assert lost_runs(plan) == []


# Landmarks


def test_no_place_is_told_by_measures_from_two_sides_alone(runner, cushion):
    for plan in (runner, cushion):
        for run in directions(plan):
            for step in run.steps:
                assert " in from the left and " not in step.text
                assert "the place" not in step.text


def test_patch_names_are_set_apart_and_never_without_their_block(runner, cushion):
    for plan in (runner, cushion):
        names = {p.name for p in plan.top.patches if p.named}
        for run in directions(plan):
            for step in run.steps:
                quoted = re.findall(r'"([^"]*)"(?: and "[^"]*")? in [A-Z]\d', step.text)
                bare = re.sub(r'"[^"]*"', "", step.text)
                assert step.text.count('"') == 0 or quoted
                assert not {n for n in names if re.search(rf"\b{re.escape(n)}\b", bare)}


def test_of_seams_that_lie_close_together_she_is_told_which_as_she_turns():
    rays = fan(
        ("sand", "[[0, 0], [6, 0], [6, 1], [0, 1]]"),
        ("sea", "[[0, 1], [3, 1], [0, 6]]"),
        ("sand", "[[3, 1], [2, 6], [0, 6]]"),
        ("sea", "[[3, 1], [3, 6], [2, 6]]"),
        ("sand", "[[3, 1], [6, 1], [6, 6], [3, 6]]"),
    )
    plan = planned(rays, time_limit=0.2)
    texts = [step.text for run in directions(plan) for step in run.steps]
    assert any(
        re.match(r"Pivot (left|right) onto the (first|second) seam as you turn", t) for t in texts
    )
    assert lost_runs(plan) == []


@pytest.mark.parametrize(
    ("mm", "unit", "said"),
    [
        (50.8, "in", "2 in"), (49.3, "in", "1 15/16 in"), (52.3, "in", "2 in"),
        (55.5, "in", "2 1/4 in"), (214.3, "in", "8 1/2 in"), (50.0, "mm", "50 mm"),
        (49.0, "mm", "49 mm"), (53.0, "mm", "55 mm"), (49.0, "cm", "4.9 cm"), (52.0, "cm", "5 cm"),
    ],
)  # fmt: skip
def test_lengths_are_told_as_an_eye_can_judge_them(mm, unit, said):
    assert format_judged(mm, unit) == said


@pytest.mark.parametrize(
    ("size", "down", "said"),
    [
        (6, 2 * INCH + 0.9, "a third of the way down the right side of A1"),
        (6, 2 * INCH + 1.1, "the right side of A1, 2 in from its top"),
        (6, 4.5 * INCH, "three quarters of the way down the right side of A1"),
        (2.8, 2.8 / 3 * INCH, "the right side of A1, 15/16 in from its top"),  # under an inch
        (8, 3 * INCH, "three eighths of the way down the right side of A1"),
        (7, 1 * INCH, "the right side of A1, 1 in from its top"),  # no eye sees a seventh
        (2, INCH + 0.4, "halfway down the right side of A1"),
        (2, INCH + 0.7, "the right side of A1, 1 in from its bottom"),  # over a hundredth
    ],
)
def test_a_share_of_a_side_is_told_where_an_eye_can_see_it(size, down, said):
    text = SQUARES.replace("size = 6", f"size = {size}")
    text = text.replace("['sand sea', 'sea sand']", "['sea']")
    laid = top(text.replace('["squares"]', '["squares squares"]'))
    at = np.array([size * INCH, down])
    assert str(Spots(Places(laid)).along(at)) == said


@pytest.mark.parametrize(
    ("across", "down", "said"),
    [
        (6.1, 55, "1/4 in across and 2 1/4 in down A2"),
        (5.9, 55, "at the left side of A2, 2 1/4 in down"),
        (-5.9, 55, "at the right side of A1, 2 1/4 in down"),
        (55, 5.9, "at the top of A2, 2 1/4 in across"),
        (55, 6.1, "2 1/4 in across and 1/4 in down A2"),
        (55, 6 * INCH - 5.9, "at the bottom of A2, 2 1/4 in across"),
        (-5.9, 5.9, "at the top right corner of A1"),
    ],
)
def test_she_is_not_asked_to_measure_off_less_than_a_quarter_inch_from_a_seam(across, down, said):
    spots = Spots(Places(top(SQUARES.replace('["squares"]', '["squares squares"]'))))
    assert spots.where_in(np.array([6 * INCH + across, down])) == said


def test_by_the_tip_of_a_block_on_point_no_side_is_named():
    laid = top(
        SQUARES.replace(
            'rows = ["squares"]', 'rows = ["squares"]\non_point = true\nsetting = "sand"'
        )
    )
    low = laid.blocks[0].corners[:, 0].min()
    middle = laid.blocks[0].corners[:, 1].mean()
    said = Spots(Places(laid)).where_in(np.array([low + 4, middle + 1]))
    assert "across and" in said
    assert "side" not in said


ACROSS_A_SEAM = (
    (
        SQUARES.replace("['sand sea', 'sea sand']", "['sand']").replace("size = 6", "size = 10")
    ).replace('["squares"]', '["squares squares"]')
    + """
[[applique]]
name = "starfish"
file = "starfish.svg"
on = "top"
at = [9.7, 5]
size = 4
fabric = "coral"
echo = { step = "1/2 in", count = 2 }
[lines]
ditch = "none"
"""
)


def test_the_start_on_a_ring_across_a_seam_is_told_at_the_seam_and_found_there():
    plan = planned(ACROSS_A_SEAM, time_limit=0.2)
    starts = [run.steps[0].text for run in directions(plan)]
    assert any("(echo 1 is the inmost), at the right side of A1, 2 in down." in s for s in starts)
    assert lost_runs(plan) == []


def way_out(*points):
    return Way(Leg("stitch", np.array(points, dtype=float)), 1.0, "centre")


def test_an_arm_that_bends_by_the_centre_is_told_as_one_by_where_its_tip_points():
    """By the centre a line may leave toward 10 o'clock that lies in the arm at 9 o'clock."""
    out = way_out((0, 0), (-2, -1)), way_out((-2, -1), (-30, -1))
    back = way_out((-30, -1), (-2, -1)), way_out((-2, -1), (0, 0))
    degree = {(0, 0): 5, (-2000, -1000): 2, (-30000, -1000): 1}
    web = Web(degree, np.zeros(2), 1)
    assert _arms(out, web) == "out along the middle of the 9 o'clock arm to its tip"
    assert _arms(back, web) == "in along the middle of the 9 o'clock arm to the centre"
    through = _arms((*back, way_out((0, 0), (30, 1))), Web({**degree, (30000, 1000): 1}, *web[1:]))
    assert through.endswith("to the centre, straight out along the middle of the 3 o'clock arm "
                            "to its tip")  # fmt: skip


def test_a_crumb_of_seam_that_lies_askew_is_turned_onto_as_its_seam_lies():
    """Where lines are drawn together, a bit of seam may be moved by up to 0.05 mm."""
    plan = planned(SQUARES, time_limit=0.2)
    (run, *_), bent = plan.runs, None
    for k, leg in enumerate(run.legs):
        if leg.seam >= 0 and len(plan.top.seams[leg.seam].points) == 2:
            way = leg.points[1] - leg.points[0]
            off = leg.points[0] + way / np.hypot(*way) * 0.08 + np.array([-way[1], way[0]]) * 5e-4
            bent = replace(
                run, legs=(*run.legs[:k], replace(leg, points=np.array([leg.points[0], off])))
            )
            break
    (crumb,) = ways_of(plan, bent)[k:]
    assert abs(turn_angle(crumb.begins, way)) < 1e-6
    assert abs(turn_angle(np.diff(crumb.leg.points, axis=0)[0], way)) > 3


# Blocks that stand in no rows

PLACED = (
    SQUARES.partition("[layout]")[0]
    + """
[layout]
NAMES
[[layout.place]]
block = "squares"
x = 0
y = 0
[[layout.place]]
block = "squares"
x = 6
y = 0
"""
)


def test_a_block_is_called_what_its_maker_calls_it():
    plan = planned(PLACED.replace("NAMES", 'names = { P2 = "Flagship" }'), time_limit=0.2)
    texts = " ".join(step.text for run in directions(plan) for step in run.steps)
    assert "Flagship" in texts
    assert "P1" in texts
    assert "P2" not in texts
    assert lost_runs(plan) == []


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (
            '{ P9 = "Flagship" }',
            "layout.names: found the unknown block 'P9', expected a block out of P1, P2",
        ),
        ('{ P1 = "P2" }', "layout.names.P1: found 'P2', which another block is called"),
        (
            '{ P1 = "tug", P2 = "tug" }',
            "layout.names.P2: found 'tug', which another block is called",
        ),
    ],
)
def test_two_blocks_of_one_name_would_send_her_to_the_wrong_one(names, said):
    with pytest.raises(StitchpathError, match=said):
        planned(PLACED.replace("NAMES", f"names = {names}"))
