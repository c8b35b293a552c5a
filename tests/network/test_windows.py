"""A quilt in a longarm frame is stitched window by window."""

import json
from itertools import groupby, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, check_laws, layouts, planned, verify
from walker import lost_runs

from stitchpath import StitchpathError
from stitchpath.hands.pace import pace_of
from stitchpath.plan import plan_json
from stitchpath.route.parking import Parked, choose_parked
from stitchpath.route.router import TornError, with_parked
from stitchpath.thread.time import route_time
from stitchpath.told.directions import directions
from stitchpath.told.job_rows import job_rows
from stitchpath.told.passes import passes
from stitchpath.told.stops import stops

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


def check_windows(plan, depth):
    """Windows in a row, each no deeper than the frame shows, and in each what it holds."""
    assert all(one.top < two.top for one, two in pairwise(plan.windows))
    for k, window in enumerate(plan.windows):
        assert window.bottom - window.top <= depth + SLACK
        assert window.top <= window.ends <= window.bottom
        legs = [pair for run in plan.runs for pair in zip(run.legs, run.windows, strict=True)]
        ys = [leg.points[:, 1] for leg, number in legs if number == k + 1]
        if ys:
            y = np.concatenate(ys)
            assert window.top - SLACK <= y.min() <= y.max() <= window.bottom + SLACK
    for k, (_, stage) in enumerate(groupby(plan.runs, key=lambda run: run.stage)):
        windows = [number for run in stage for number in run.windows]
        out = plan.fusing is not None and plan.fusing.way == "out of the frame"
        assert windows == sorted(windows, reverse=k % 2 == 1 and not out)


def check_all(plan, depth):
    """What has to hold of a plan in a frame of a depth, in."""
    check_laws(plan)
    check_windows(plan, depth * INCH)
    verify(plan)


@settings(deadline=None, max_examples=15)
@given(layouts(), st.integers(30, 500))
def test_any_quilt_is_stitched_whole_and_each_run_lies_within_what_the_frame_can_reach(text, depth):
    try:
        plan = planned(text + FRAME.format(f'"{depth} mm"'), time_limit=0.2)
    except StitchpathError as error:
        assert "nothing to stitch" in str(error)  # noqa: PT017 - a top of one fabric has no feature
        return
    check_laws(plan)
    if plan.windows:
        check_windows(plan, depth)


@pytest.mark.parametrize("depth", [8, 13, 20])
def test_a_plan_by_windows_passes_an_independent_check(depth):
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
    assert [shown.window for shown in passes(plan)] == [1, 2, 3]
    assert {where for run in plan.runs for where in (run.start_where, run.end_where)} == {"margin"}
    assert plan.totals.retraced == 0
    check_all(plan, 13)


def test_pebbles_turn_back_where_the_quilt_is_rolled_on_and_are_a_run_for_each_pass():
    text = TALL + '[lines]\nditch = "none"\n[[fills]]\nregion = "top"\nstyle = "pebbles"\n'
    plan = framed(text + "spacing = 2\n", 13)
    assert [shown.window for shown in passes(plan)] == [1, 2, 3]
    assert plan.totals.runs == 3
    assert {where for run in plan.runs for where in (run.start_where, run.end_where)} == {"margin"}
    check_all(plan, 13)


def test_the_needle_stays_parked_where_the_thread_can_go_on_after_rolling():
    plan, apart = framed(TALL, 13), parked_nowhere(TALL, 13)
    assert [run.windows[0] for run in apart.runs] == [1, 2, 3]
    (run,) = plan.runs  # one thread through three passes
    assert [number for _, number in run.parked] == [2, 3]
    assert plan.totals.breaks == 0 < apart.totals.breaks
    saved = [sum(spent.total for spent in each.times) for each in (apart, plan)]
    assert saved[1] < saved[0]
    told = [stop for stop in stops(plan) if stop.kind == "park"]
    assert [stop.leg for stop in told] == [leg for leg, _ in run.parked]
    assert told[0].tasks[0].text.startswith("Needle down, roll the quilt on to pass 2 of 3, from ")
    leg, _ = run.parked[0]
    words = next(step.text for step in directions(plan)[0].steps if step.first_leg == leg)
    assert "top edge. In the margin, across to the right, and in again at the left edge" in words
    assert lost_runs(plan) == []
    check_all(plan, 13)


def test_a_needle_that_can_not_be_left_is_not_looked_for_in_the_next_window(monkeypatch):
    """Else an end is made that no one has reckoned, and the plan is refused."""

    def torn(network, found, left):
        if network.window == 1 and left is not None:
            raise TornError("one run leads from place to place")
        return with_parked(network, found, left)

    monkeypatch.setattr("stitchpath.route.parking.with_parked", torn)
    plan = framed(TALL, 13)
    assert [number for run in plan.runs for _, number in run.parked] == [3]


def test_no_needle_is_parked_where_pieces_are_fused_first(monkeypatch):
    monkeypatch.setattr(
        "stitchpath.plan.choose_parked",
        lambda networks, lines, _: choose_parked(networks, lines, {(1, 2)}),
    )
    plan = framed(TALL, 13)
    parked = [number for run in plan.runs for _, number in run.parked]
    assert parked == [3]  # and at [2, 3] where nothing is pressed


def parked_nowhere(text, depth):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "stitchpath.plan.choose_parked", lambda networks, *_: [Parked()] * len(networks)
        )
        return framed(text, depth)


@settings(deadline=None, max_examples=6)
@given(layouts(), st.integers(60, 300), st.integers(10, 200))
def test_a_deeper_frame_never_makes_the_work_longer(text, depth, more):
    try:
        one, other = (planned(text + FRAME.format(f'"{mm} mm"')) for mm in (depth, depth + more))
    except StitchpathError as error:
        assert "nothing to stitch" in str(error)  # noqa: PT017 - a top of one fabric has no feature
        return
    shallow, deep = (sum(spent.total for spent in plan.times) for plan in (one, other))
    assert deep <= shallow + 1e-6


@settings(deadline=None, max_examples=6)
@given(layouts(), st.integers(120, 300))
def test_a_parked_needle_never_takes_longer_than_threads_that_are_cut(text, depth):
    try:
        plan, apart = (make(text, f'"{depth} mm"') for make in (framed, parked_nowhere))
    except StitchpathError:
        return
    if plan.proof.optimal and apart.proof.optimal:
        price = [route_time(p.runs, p.lines, p.tariff).price for p in (plan, apart)]
        assert price[0] <= price[1] + 1e-4 * price[1]


def test_a_row_of_waves_is_stitched_whole_where_the_frame_reaches_all_of_it():
    text = TALL + '[lines]\nditch = "none"\n[[fills]]\nregion = "rest"\nstyle = "waves"\n'
    plan = framed(text + "spacing = 1\n[threads.grey]\ntravel = true\n[prices]\n", 13)
    assert [shown.window for shown in passes(plan)] == [1, 2, 3]
    # Rows are joined at their ends: only there, or in a row, one strip's thread ends.
    assert sum(w == "inside" for r in plan.runs for w in (r.start_where, r.end_where)) <= 4
    check_all(plan, 13)


def test_the_quilt_is_rolled_on_once_for_each_window_and_not_back_for_the_second_stage():
    plan = framed(TALL + STAR, 8)
    advances = sum(spent.advances for spent in plan.times) / pace_of(plan.design).advance
    assert {run.stage for run in plan.runs} == {1, 2}
    down = [number for run in plan.runs if run.stage == 1 for number in run.windows]
    up = [number for run in plan.runs if run.stage == 2 for number in run.windows]
    assert (down[0], down[-1]) == (1, len(plan.windows)) == (1, 5)
    assert advances == (5 - 1) + (5 - up[-1])


def test_windows_begin_between_blocks_where_the_frame_is_deep_enough_for_that():
    # Five blocks of 6 in and half an inch of margin at both ends; 13 in show two blocks.
    text = TALL.replace("['sand sea', 'sea sand']", "['sand/sea']")
    plan = framed(text, 13)
    assert len(plan.windows) == 3
    assert [w.ends / INCH for w in plan.windows] == pytest.approx([12.5, 25, 30.5])
    assert len(plan.lines) == len(planned(text).lines)


def test_a_quilt_that_fits_into_the_frame_is_not_parted():
    plan = framed(SQUARES, 20)
    assert plan.windows == ()
    assert {run.window for run in plan.runs} == {0}
    assert "window" not in plan_json(plan)


def test_without_a_depth_nothing_is_parted_and_the_plan_says_so():
    plan = planned(TALL + '[machine]\nkind = "frame"\n')
    assert plan.windows == ()
    (note,) = [check for check in plan.checks if check.code == "no-depth"]
    assert note.level == "note"
    assert "depth or throat under [machine]" in note.message
    assert not [c for c in framed(TALL, 13).checks if c.code == "no-depth"]


@pytest.mark.parametrize("depth", ["0", '"-3 in"', '"1/4 in"'])
def test_a_frame_of_no_depth_is_refused(depth):
    with pytest.raises(StitchpathError, match=r"machine.depth: found .* at least 1 in"):
        framed(TALL, depth)


THROAT = '[machine]\nkind = "frame"\nthroat = 18\nclearance = 1\nbar = 1\nrolled = 0.25\n'


def test_with_a_throat_windows_become_less_deep_as_the_quilt_is_rolled_up():
    text = TALL.replace("size = 6", "size = 9")
    plan = planned(text + THROAT)
    check_laws(plan)
    verify(plan)
    first = plan.windows[0].top
    assert len(plan.windows) > 2
    for window in plan.windows[:-1]:
        rolled = (window.top - first) / INCH
        shown = 18 - 1 - 2 * (1 + 0.25 * rolled / np.pi) ** 0.5  # worked by hand
        assert (window.bottom - window.top) / INCH == pytest.approx(shown)
    assert plan.rolls is None  # nothing is turned under an arm
    assert not [c for c in plan.checks if c.code == "no-depth"]


@pytest.mark.parametrize(
    ("machine", "said"),
    [
        (THROAT + "depth = 12\n", "found a throat and a depth, expected one of them"),
        (THROAT.replace("= 18", "= { width = 18, height = 5 }"), "expected one length"),
        ('[machine]\nkind = "frame"\nbar = 1\n', "found bar without a throat"),
        ("[machine]\nrolled = 1\n", 'found rolled with kind = "domestic"'),
        ("[machine]\nthroat = 8\n", "found a throat without a height"),
        (THROAT.replace("0.25", "2.1"), "thicker on the roll than its bar"),
        (THROAT.replace("= 18", "= 4"), "found a throat that shows 0.*at least 1 in"),
    ],
)  # fmt: skip
def test_a_machine_that_makes_no_sense_is_refused_in_a_sentence(machine, said):
    with pytest.raises(StitchpathError, match=said):
        planned(TALL + machine)


def test_rows_that_no_seam_is_travelled_along_for_are_stitched_whole():
    text = TALL + '[lines]\nditch = "none"\n[[fills]]\nregion = "rest"\nstyle = "loops"\n'
    plan = framed(text + "spacing = 1\n", 13)
    rows = {}
    for run in plan.runs:
        for leg, number in zip(run.legs, run.windows, strict=True):
            if leg.line >= 0:
                rows.setdefault(plan.lines[leg.line].unit, set()).add(number)
    assert len(rows) > 6
    assert -1 not in rows
    assert all(len(windows) == 1 for windows in rows.values())
    assert not [leg for run in plan.runs for leg in run.legs if leg.along == "seam"]
    ends = [
        leg.points[k, 0] for run in plan.runs for leg, k in ((run.legs[0], 0), (run.legs[-1], -1))
    ]
    off = 0.5 * INCH  # each begins and stops half an inch off the edge
    assert all(x == pytest.approx(-off) or x == pytest.approx(12 * INCH + off) for x in ends)
    check_all(plan, 13)


def test_the_work_round_the_stitching_is_in_the_time_table_and_in_what_an_hour_is_charged_for():
    text = TALL + FRAME.format(13) + "[charges]\nhour = 36\n[pace]\nclamps = 50\n"
    plan = planned(text)
    rows = {row.what: row for row in job_rows(plan) if row.kind == "time"}
    sums = {
        "loading the quilt": (3150, "published: 45 to 60 min"),
        "oiling and trying the tension": (300, "our own guess"),
        "basting the top and the sides": (3 * 120, "our own guess"),
        "side clamps": (2 * 50, "your pace"),
        "taking the quilt out of the frame": (600, "our own guess"),
    }
    for what, (seconds, whose) in sums.items():
        assert rows[what].seconds == seconds
        assert whose in rows[what].note
    total = sum(row.seconds for row in rows.values())
    assert float(plan.needs.bill.total) == pytest.approx(total / 100, abs=0.01)
    at_home = {row.what for row in job_rows(planned(TALL)) if row.kind == "time"}
    assert not at_home & sums.keys()
    # Windows are chosen by all that an advance takes.
    dear = "[pace]\nbaste = 2000\n"
    low = TALL.replace("size = 6", "size = 5")
    count = [len(planned(low + FRAME.format(8) + more).windows) for more in ("", dear)]
    assert count[1] <= count[0]


def test_a_start_beyond_the_first_window_is_refused_and_one_within_is_kept():
    start = '[route]\nstart = "{}"\n'
    plan = framed(TALL + start.format("A2 top left"), 13)
    assert plan.runs[0].legs[0].points[0] == pytest.approx([6 * INCH, 0])
    with pytest.raises(StitchpathError, match="shows first, not more than 12 in"):
        framed(TALL + start.format("E1 top left"), 13)


def test_runs_and_windows_stand_in_the_plan():
    plan = framed(TALL, 13)
    data = json.loads(plan_json(plan))
    assert data["windows"] == [[round(y, 3) for y in window[:3]] for window in plan.windows]
    assert [run["window"] for run in data["runs"]] == [run.window for run in plan.runs]
    parked = [
        (park["leg"], park["window"]) for run in data["runs"] for park in run.get("parked", ())
    ]
    assert parked == [park for run in plan.runs for park in run.parked]
    assert {run["window"] for run in data["runs"]} | {number for _, number in parked} == {1, 2, 3}


def test_anchoring_seams_come_first_within_each_window_when_asked():
    plan = framed(TALL + '[route]\nanchor = "first"\n', 13)
    check_laws(plan)
    check_windows(plan, 13 * INCH)
    assert plan.anchoring is not None
    assert plan.anchoring.extra > 0


def _to(run):
    return f" to {run.last_window}" if run.parked else ""


def test_directions_tell_when_the_quilt_is_rolled_on_and_in_which_pass_each_run_lies():
    plan = framed(TALL + STAR, 8)
    told = directions(plan)
    assert (
        told[0]
        .steps[0]
        .text.startswith("Load the quilt with its top edge first: pass 1 of 5, down to ")
    )
    assert all(
        words.heading.startswith(f"Run {run.number}, pass {run.window}{_to(run)}, ")
        for run, words in zip(plan.runs, told, strict=True)
    )
    before = {a.number: b.last_window - a.window for b, a in pairwise(plan.runs)}
    for words in told[1:]:
        rolled = [step.text.startswith("Roll the quilt") for step in words.steps]
        assert rolled[0] == (before[words.run] != 0)
        assert not any(rolled[1:])
        (run,) = [run for run in plan.runs if run.number == words.run]
        first = [
            step.first_leg for step in words.steps if step.text.startswith("Needle down, roll")
        ]
        assert first == [leg for leg, _ in run.parked]
        way = "back" if before[words.run] > 0 else "on"
        assert not rolled[0] or words.steps[0].text.startswith(f"Roll the quilt {way} to pass ")


def _first(plan, run):
    """Whether the quilt is loaded, or rolled on, before a run."""
    before = plan.runs[run.number - 2].last_window if run.number > 1 else 0
    return run.window != before


def test_the_job_sheet_tells_of_rolling_where_it_is_due_and_its_time_once_for_each_pass():
    plan = framed(TALL, 13)
    rows = job_rows(plan)
    kinds = [row.kind for row in rows if row.kind in ("pass", "run")]
    assert kinds == [
        kind
        for run in plan.runs
        for kind in (*["pass"] * _first(plan, run), "run", *["pass"] * len(run.parked))
    ]
    last = [row.note for row in rows if row.kind == "pass"][-1]
    assert last.endswith(
        "roll the quilt on to pass 3 of 3, from 21 in below the top edge to the bottom."
    )
    (rolling,) = [row for row in rows if row.kind == "time" and "rolling" in row.note]
    assert rolling.note == "rolling the quilt on (2 times, 240 s each)"
    assert rolling.seconds == 2 * 240
