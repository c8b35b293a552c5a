"""A quilt in a longarm frame is stitched strip by strip."""

import json
from itertools import groupby, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, check_laws, layouts, planned, verify

from stitchpath import StitchpathError
from stitchpath.hands.pace import pace_of
from stitchpath.lines.strips import strip_levels
from stitchpath.plan import plan_json
from stitchpath.told.directions import directions
from stitchpath.told.job_rows import job_rows

INCH = 25.4
SLACK = 0.02  # mm: lines are cut on a grid
TALL = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2"]\nrepeat = 5')
FRAME = '[machine]\nkind = "frame"\ndepth = {}\n'
STAR = """
[[applique]]
name = "star"
outline = "M 0 -10 L 2 -3 L 9 -3 L 4 1 L 6 8 L 0 4 L -6 8 L -4 1 L -9 -3 L -2 -3 Z"
size = 4
fabric = "coral"
thread = "red"
[threads.red]
contrast = true
"""


def framed(text, depth):
    return planned(text + FRAME.format(depth))


def check_strips(plan, depth):
    """All runs of a strip within one window of the depth, and strips one after another."""
    assert all(b - a <= depth + SLACK for a, b in pairwise(plan.strips))
    by_strip = {}
    for run in plan.runs:
        ys = [leg.points[:, 1] for leg in run.legs]
        by_strip.setdefault(run.strip, []).extend(ys)
    for ys in by_strip.values():
        y = np.concatenate(ys)
        assert y.max() - y.min() <= depth + SLACK
    middles = [np.concatenate(by_strip[k]).mean() for k in sorted(by_strip)]
    assert middles == sorted(middles)
    for k, (_, stage) in enumerate(groupby(plan.runs, key=lambda run: run.stage)):
        strips = [run.strip for run in stage]
        assert strips == sorted(strips, reverse=k % 2 == 1)


def check_all(plan, depth):
    """What has to hold of a plan in a frame of a depth, in."""
    check_laws(plan)
    check_strips(plan, depth * INCH)
    verify(plan)


@settings(deadline=None, max_examples=25)
@given(layouts(), st.integers(30, 500))
def test_any_quilt_is_stitched_whole_and_each_run_lies_within_what_the_frame_can_reach(text, depth):
    try:
        plan = planned(text + FRAME.format(f'"{depth} mm"'), time_limit=2)
    except StitchpathError as error:
        assert "nothing to stitch" in str(error)  # noqa: PT017 - a top of one fabric has no feature
        return
    check_laws(plan)
    if plan.strips:
        check_strips(plan, depth)


@pytest.mark.parametrize("depth", [8, 13, 20])
def test_a_plan_by_strips_passes_an_independent_check(depth):
    plan = framed(TALL + STAR, depth)
    check_all(plan, depth)


def test_fills_and_curves_are_cut_where_the_quilt_is_rolled_on():
    fill = '[[fills]]\nregion = "B1"\nstyle = "rings"\nspacing = "1/2 in"\n'
    fill += '[[fills]]\nregion = "B2"\nstyle = "meander"\nspacing = "3/4 in"\n'
    plan = framed(TALL + fill, 8)
    check_all(plan, 8)


def test_a_meander_turns_back_where_the_quilt_is_rolled_on_and_no_thread_is_secured_there():
    text = TALL + '[lines]\nditch = "none"\n[[fills]]\nregion = "rest"\nstyle = "meander"\n'
    plan = framed(text + 'spacing = "1 1/2 in"\n', 13)
    assert [run.strip for run in plan.runs] == [1, 2, 3]
    assert {where for run in plan.runs for where in (run.start_where, run.end_where)} == {"margin"}
    assert plan.totals.retraced == 0
    check_all(plan, 13)


def test_a_row_of_waves_is_stitched_whole_where_the_frame_reaches_all_of_it():
    text = TALL + '[lines]\nditch = "none"\n[[fills]]\nregion = "rest"\nstyle = "waves"\n'
    plan = framed(text + "spacing = 1\n[threads.grey]\ntravel = true\n[prices]\n", 13)
    assert [run.strip for run in plan.runs] == [1, 2, 3]
    # Rows are joined at their ends: only there, or in a row, one strip's thread ends.
    assert sum(w == "inside" for r in plan.runs for w in (r.start_where, r.end_where)) <= 4
    check_all(plan, 13)


def test_the_quilt_is_rolled_on_once_for_each_strip_and_not_back_for_the_second_stage():
    plan = framed(TALL + STAR, 8)
    advances = sum(spent.advances for spent in plan.times) / pace_of(plan.design).advance
    assert {run.stage for run in plan.runs} == {1, 2}
    down = [run.strip for run in plan.runs if run.stage == 1]
    up = [run.strip for run in plan.runs if run.stage == 2]
    assert (down[0], down[-1]) == (1, len(plan.strips) + 1) == (1, 4)
    assert advances == (4 - 1) + (4 - up[-1])


def test_strips_end_between_blocks_where_the_frame_is_deep_enough_for_that():
    # Five blocks of 6 in and half an inch of margin at both ends; 13 in reach over two blocks.
    text = TALL.replace("['sand sea', 'sea sand']", "['sand/sea']")
    plan = framed(text, 13)
    assert [y / INCH for y in plan.strips] == pytest.approx([6, 18])
    assert len(plan.lines) == len(planned(text).lines)


def test_no_other_strips_are_fewer_or_cut_fewer_lines():
    rng = np.random.default_rng(1)
    for _ in range(20):
        tops = rng.integers(0, 10, 6)
        paths = [
            np.array([[k, top], [k, top + high]], dtype=float) * 5
            for k, (top, high) in enumerate(zip(tops, rng.integers(1, 5, 6), strict=True))
        ]
        depth = int(rng.integers(4, 12))
        found = strip_levels(paths, 0.0, 70.0, depth * 5.0)

        def cuts(levels):
            return sum(
                path[0, 1] < level < path[1, 1]
                for level, path in product(levels, paths)  # noqa: B023 - called at once
            )

        strips = [[]]
        done = []
        while not done:
            done = [levels for levels in strips if 14 - (levels[-1] if levels else 0) <= depth]
            strips = [
                [*levels, y]
                for levels in strips
                for y in range((levels[-1] if levels else 0) + 1, 14)
                if y - (levels[-1] if levels else 0) <= depth
            ]
        assert len(found) == len(done[0])
        assert cuts(found) == min(cuts([y * 5 for y in levels]) for levels in done)


def test_a_strip_ends_where_a_meander_passes_least_often():
    x = np.linspace(0, 100, 401)
    wave = np.column_stack([x, 50 + 25 * np.sin(x)])  # passes 50 about thirty times
    down = np.array([[100.0, wave[-1, 1]], [100.0, 100.0]])
    (level,) = strip_levels([wave, down], 0.0, 100.0, 80.0)
    assert level > wave[:, 1].max() - 1e-6 or level < wave[:, 1].min() + 1e-6


def test_a_quilt_that_fits_into_the_frame_is_not_parted():
    plan = framed(SQUARES, 20)
    assert plan.strips == ()
    assert {run.strip for run in plan.runs} == {0}
    assert "strip" not in plan_json(plan)


def test_without_a_depth_nothing_is_parted_and_the_plan_says_so():
    plan = planned(TALL + '[machine]\nkind = "frame"\n')
    assert plan.strips == ()
    (note,) = [check for check in plan.checks if check.code == "no-depth"]
    assert note.level == "note"
    assert "depth under [machine]" in note.message
    assert not [c for c in framed(TALL, 13).checks if c.code == "no-depth"]


@pytest.mark.parametrize("depth", ["0", '"-3 in"', '"1/4 in"'])
def test_a_frame_of_no_depth_is_refused(depth):
    with pytest.raises(StitchpathError, match=r"machine.depth: found .* at least 1 in"):
        framed(TALL, depth)


def test_a_start_beyond_the_first_strip_is_refused_and_one_within_is_kept():
    start = '[route]\nstart = "{}"\n'
    plan = framed(TALL + start.format("A2 top left"), 13)
    assert plan.runs[0].legs[0].points[0] == pytest.approx([6 * INCH, 0])
    with pytest.raises(StitchpathError, match="stitched first in the frame, not more than 9 in"):
        framed(TALL + start.format("E1 top left"), 13)


def test_runs_and_levels_of_strips_stand_in_the_plan():
    plan = framed(TALL, 13)
    data = json.loads(plan_json(plan))
    assert data["strips"] == [round(level, 3) for level in plan.strips]
    assert [run["strip"] for run in data["runs"]] == [run.strip for run in plan.runs]
    assert {run["strip"] for run in data["runs"]} == {1, 2, 3}


def test_anchoring_seams_come_first_within_each_strip_when_asked():
    plan = framed(TALL + '[route]\nanchor = "first"\n', 13)
    check_laws(plan)
    check_strips(plan, 13 * INCH)
    assert plan.anchoring is not None
    assert plan.anchoring.extra > 0


def test_directions_tell_when_the_quilt_is_rolled_on_and_in_which_strip_each_run_lies():
    plan = framed(TALL + STAR, 8)
    told = directions(plan)
    assert (
        told[0]
        .steps[0]
        .text.startswith("Load the quilt with its top edge first: strip 1 of 4, down to ")
    )
    assert all(
        words.heading.startswith(f"Run {run.number}, strip {run.strip}, ")
        for run, words in zip(plan.runs, told, strict=True)
    )
    before = {a.number: b.strip - a.strip for b, a in pairwise(plan.runs)}
    for words in told[1:]:
        rolled = [step.text.startswith("Roll the quilt") for step in words.steps]
        assert rolled[0] == (before[words.run] != 0)
        assert not any(rolled[1:])
        way = "back" if before[words.run] > 0 else "on"
        assert not rolled[0] or words.steps[0].text.startswith(f"Roll the quilt {way} to strip ")


def test_the_job_sheet_tells_of_rolling_where_it_is_due_and_its_time_once_for_each_strip():
    plan = framed(TALL, 13)
    rows = job_rows(plan)
    kinds = [row.kind for row in rows if row.kind in ("strip", "run")]
    runs = [sum(run.strip == strip for run in plan.runs) for strip in (1, 2, 3)]
    assert kinds == [kind for n in runs for kind in ["strip", *["run"] * n]]
    last = [row.note for row in rows if row.kind == "strip"][-1]
    assert last == "Roll the quilt on to strip 3 of 3, from 21 in below the top edge to the bottom."
    (rolling,) = [row for row in rows if row.kind == "time" and "rolling" in row.note]
    assert rolling.note == "rolling the quilt on (2 times, 240 s each)"
    assert rolling.seconds == 2 * 240
