import json
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from quilts import DESIGNS, SQUARES, check_laws, design, layouts, length, planned, verify

from stitchpath import StitchpathError, load_design, make_plan
from stitchpath.design.model import Route
from stitchpath.plan import plan_json

STAR = "M 0 -10 L 2 -3 L 9 -3 L 4 1 L 6 8 L 0 4 L -6 8 L -4 1 L -9 -3 L -2 -3 Z"


def piece(**keys):
    given_keys = {"name": "star", "outline": STAR, "size": 3, "fabric": "coral", **keys}
    return "[[applique]]\n" + "".join(f"{k} = {json.dumps(v)}\n" for k, v in given_keys.items())


@settings(deadline=None, max_examples=20)
@given(layouts())
def test_every_line_of_any_layout_is_stitched_once_and_lengths_add_up(text):
    try:
        plan = planned(text, time_limit=1)
    except StitchpathError as error:
        assert "nothing to stitch" in str(error)  # noqa: PT017 - a top of one fabric has no feature
        return
    check_laws(plan)
    assert plan.proof.optimal or plan.proof.free is not None or plan.proof.gap < 0.05


@pytest.mark.parametrize("name", ["harbour-runner", "curved-cushion", "star-lap-quilt"])
def test_shipped_designs_are_near_their_bound_and_pass_an_independent_check(name):
    design = load_design(DESIGNS / f"{name}.toml")
    free = design.model_copy(update={"route": Route(order="free")})
    ways = ((design, 0.06), (free, 0.01))
    for asked, most in ways if name != "star-lap-quilt" else ways[:1]:
        plan = make_plan(asked, cures=False)
        assert plan.proof.gap < most
        assert plan.proof.optimal or asked is design
        check_laws(plan)
        verify(plan)


def test_four_squares_take_one_run_from_margin_to_margin():
    # A plus of two seams, by hand: in at one seam, out, along the margin to the next, through it.
    plan = planned(SQUARES + "[prices]\n")
    assert plan.totals.runs == 1
    (run,) = plan.runs
    assert (run.start_where, run.end_where) == ("margin", "margin")
    assert plan.totals.stitched == pytest.approx(4 * 76.2)
    assert plan.totals.retraced == 0
    off = 12.7
    around = 76.2 * 2 + 2 * off  # half of two sides, and round the corner half an inch out
    assert plan.totals.travelled == pytest.approx(4 * off + around)
    assert plan.proof.cost == pytest.approx(4 * 76.2 + 0.25 * (4 * off + around) + 2 * 25)


def test_a_seam_that_stops_inside_is_gone_back_over_when_that_is_cheaper_than_an_end():
    # One T of 3 in stem: 0.75 * 76.2 mm = 57 to go back is less than an end inside at 150, and
    # more than the end in the margin and the way to it.
    text = SQUARES.replace("['sand sea', 'sea sand']", "['sand/sea']") + "[prices]\n"
    plan = planned(text)
    assert plan.totals.runs == 1
    assert plan.totals.retraced == 0


def test_what_is_fused_after_quilting_is_stitched_in_a_later_stage():
    plan = planned(
        SQUARES + piece(fused="after", thread="red") + "[threads.red]\ncontrast = true\n"
    )
    assert {line.stage for line in plan.lines if line.kind == "centre"} == {2}
    assert [run.stage for run in plan.runs] == sorted(run.stage for run in plan.runs)
    verify(plan)


def test_ditches_stop_at_a_piece_fused_before_and_pass_when_asked():
    stopped = planned(SQUARES + piece(fused="before"))
    passed = planned(SQUARES + piece(fused="before", cut_ditch=False))
    shape = stopped.top.pieces[0].shape
    assert all(
        shapely.LineString(line.points).intersection(shape).length < 0.01
        for line in stopped.lines
        if line.kind == "ditch"
    )
    whole = sum(length(line.points) for line in passed.lines if line.kind == "ditch")
    assert whole == pytest.approx(4 * 76.2)
    verify(stopped)
    verify(passed)


def test_a_contrasting_thread_does_not_travel_along_seams():
    text = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2", "squares*2"]')
    text += '[lines]\nditch = "feature"\nfeature = ["coral"]\n' + piece(
        thread="red", fused="before"
    )
    plan = planned(text + "[threads.red]\ncontrast = true\n")
    legs = [leg for run in plan.runs for leg in run.legs]
    assert not any(leg.along == "seam" for leg in legs)


def test_with_no_margin_runs_begin_and_end_at_the_edge():
    plan = planned(SQUARES + "[batting]\nmargin = 0\n")
    assert {run.start_where for run in plan.runs} == {"edge"}
    verify(plan)


def test_retracing_can_be_forbidden():
    never = planned(SQUARES + piece() + '[route]\nretrace = "never"\n')
    assert never.totals.retraced == 0
    check_laws(never)


def test_prices_of_the_design_are_what_the_router_weighs():
    dear = planned(SQUARES + piece() + "[prices]\nend_inside = 10000\nend_piece = 10000\n")
    cheap = planned(SQUARES + piece() + "[prices]\nend_inside = 1\nend_piece = 1\n")
    assert dear.totals.runs < cheap.totals.runs
    assert cheap.totals.retraced == 0


def test_the_same_design_gives_the_same_bytes():
    text = SQUARES + piece()
    assert plan_json(planned(text)) == plan_json(planned(text))


def test_turning_the_quilt_leaves_the_cost_as_it_was():
    rows = 'rows = ["squares squares:90"]'
    across = planned(SQUARES.replace('rows = ["squares"]', rows))
    down = planned(SQUARES.replace('rows = ["squares"]', 'rows = ["squares:90", "squares"]'))
    assert across.proof.cost == pytest.approx(down.proof.cost)


def test_a_seam_pressed_open_is_warned_of_with_its_place():
    plan = planned(SQUARES + '[press]\ndefault = "open"\n')
    (check,) = [c for c in plan.checks if c.code == "open-seam"]
    assert check.level == "warning"
    assert check.message.startswith('The seams of "sand" and "sea" in A1 are pressed open')


def test_a_piece_fused_before_joining_that_leaves_its_block_is_warned_of():
    text = SQUARES.replace('rows = ["squares"]', 'rows = ["squares squares"]')
    over = planned(text + piece(on="A1", at=[5.5, 3], fused="before"))
    within = planned(text + piece(on="A1", fused="before"))
    assert "piece-over-seam" in [c.code for c in over.checks]
    assert "piece-over-seam" not in [c.code for c in within.checks]


def test_lines_of_a_stage_and_thread_meet_only_at_their_ends():
    # The star's centre lines cross the seams beneath in one thread: both are cut there.
    plan = planned(SQUARES + piece(fused="before", cut_ditch=False, at=[3.3, 2.9]))
    verify(plan)
    ends = {tuple(p) for line in plan.lines for p in (line.points[0], line.points[-1])}
    assert len(plan.lines) > 9
    assert all(a != b for a, b in pairwise(sorted(ends)))


def test_single_seams_are_added_and_left_out_by_naming_two_patches():
    one = planned(SQUARES + '[lines]\nditch = "none"\ninclude = [["squares.r1c1", "A1.r1c2"]]\n')
    rest = planned(SQUARES + '[lines]\nexclude = [["squares.r1c1", "A1.r1c2"]]\n')
    assert (len(one.lines), len(rest.lines)) == (1, 3)


@pytest.mark.parametrize(
    ("rest", "said"),
    [
        ('[lines]\nditch = "none"\n', "nothing to stitch"),
        ('[lines]\nditch = "feature"\n', "lines.feature"),
        ('[lines]\nditch = "feature"\nfeature = ["coal"]\n', "'coral'"),
        ('[lines]\nexclude = [["squares.r1c1", "A1.r2c2"]]\n', "no seam between"),
        ('[lines]\nexclude = [["squares.r1c1", "A1.r9"]]\n', "unknown patch"),
        ('[stitching]\nbobbin = "class 51"\n', "class 15"),
        ('[threads.red]\nsize = "thick"\n', "threads.red"),
        (piece(thread="blue"), "thread"),
        (piece(on="A9"), "block or place"),
        (piece(file="none.svg", outline=None).replace("outline = null\n", ""), "none.svg"),
        (piece(outline="M 0 0"), "star"),
        (piece(outline="hello"), "path data"),
    ],
)
def test_what_cannot_be_planned_is_said_in_one_sentence(rest, said):
    with pytest.raises(StitchpathError) as error:
        planned(SQUARES + rest)
    text = str(error.value)
    assert text.startswith("test.toml: ")
    assert said in text
    assert "\n" not in text


def test_thread_of_a_plan_is_the_sum_over_its_runs():
    plan = planned(SQUARES + piece())
    for use in plan.thread.uses:
        runs = [r for r in plan.thread.runs if r.thread == use.name]
        assert use.top == sum(r.top for r in runs)
        assert use.bobbin == sum(r.bobbin for r in runs)


def test_a_design_can_be_planned_from_python_in_one_line_each():
    assert design(SQUARES).name == "Squares"
    assert make_plan(design(SQUARES)).totals.runs == 1
