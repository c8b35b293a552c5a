"""A longarm operator is told at each pass how the quilt lies and what she does there."""

import pytest
from quilts import SQUARES, planned

from stitchpath.base.units import format_thread
from stitchpath.design.model import Design
from stitchpath.export.directions import plan_directions_text
from stitchpath.export.guide import LETTER, guide_sheets
from stitchpath.plan import make_plan
from stitchpath.told.job_rows import job_rows
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.passes import passes

TALL = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2"]\nrepeat = 5')
FRAME = '[machine]\nkind = "frame"\ndepth = 13\n'


@pytest.fixture(scope="module")
def plan():
    """Ten blocks of 6 in, two by two, 30 in long, in a frame that shows 13 in."""
    return planned(TALL + FRAME)


def test_each_pass_tells_what_lies_at_the_bar_what_is_level_and_what_is_basted(plan):
    first, second, last = pass_sheets(plan)
    told = dict(first.rows)
    assert first.title == "Pass 1 of 3, down to 12 1/2 in below the top edge"
    assert told["front bar"] == "12 1/2 in below the top edge, in row C."
    assert told["level"].startswith("The seam 6 in below the top edge, ")
    assert told["baste"] == "The top edge, and both sides down to the front bar."
    assert dict(second.rows)["baste"] == "Both sides down to the front bar."
    assert dict(last.rows)["front bar"] == "The bottom edge of the quilt."
    assert dict(last.rows)["baste"] == "Both sides and the bottom edge."
    assert not told["clamps"].startswith("Off")
    assert dict(second.rows)["clamps"].startswith("Off before you roll")


def test_each_pass_tells_where_its_needle_is_left_and_found(plan):
    needle = [dict(told.rows)["needle"] for told in pass_sheets(plan)]
    (run,) = plan.runs
    down = [run.legs[leg].points[0][1] / 25.4 for leg, _ in run.parked]
    assert [f"{y:g} in below the top edge" in needle[k] for k, y in enumerate(down)] == [True] * 2
    assert needle[0].startswith("Begin run 1: ")
    assert "Leave it down at the end, parked: " in needle[0]
    assert needle[1].startswith("It was left parked: ")
    assert "Leave it" not in needle[2]


def test_the_bobbin_is_told_with_what_is_left_and_what_the_pass_takes():
    plan = planned(TALL + '[threads.grey]\nper_bobbin = "4 m"\n' + FRAME)
    rows = [dict(told.rows)["bobbin"] for told in pass_sheets(plan)]
    assert [change.where for change in plan.thread.changes] == ["margin", "margin"]
    assert rows[0] == "4.37 yd (4.00 m) on it, this pass takes 3.34 yd (3.06 m)."
    assert rows[1] == (
        "1.03 yd (0.94 m) on it, this pass takes 4.28 yd (3.91 m). "
        "Change it in the margin, step 29 of run 1."
    )


def rows_of_waves(per_bobbin):
    data = {
        "name": "Harbour runner",
        "fabrics": {"sea": "navy", "sand": "tan"},
        "blocks": {"b": {"size": 6, "grid": ["sea sand", "sand sea"]}},
        "layout": {"rows": ["b b"] * 5},
        "lines": {"ditch": "none"},
        "fills": [{"region": "top", "style": "waves", "spacing": 3, "rows": "one way"}],
        "threads": {"grey": {"per_bobbin": per_bobbin}},
        "machine": {"kind": "frame", "depth": 13},
    }
    return make_plan(Design.build(data, source="runner"), cures=False)


def test_a_bobbin_changed_within_a_pass_is_told_with_what_is_left_and_what_the_next_run_takes():
    plan = rows_of_waves("2 m")
    told = " ".join(dict(sheet.rows)["bobbin"] for sheet in pass_sheets(plan))
    within = [c for c in plan.thread.changes if f"at the end of run {c.stop.run}:" in told]
    assert within
    for change in within:
        left = format_thread(change.waste, "in")
        takes = format_thread(plan.thread.runs[change.stop.run].bobbin, "in")
        after = change.stop.run + 1
        assert f"run {change.stop.run}: {left} are left then, run {after} takes {takes}." in told


def test_a_bobbin_that_is_changed_between_passes_is_told_as_the_next_begins():
    plan = rows_of_waves("5 m")
    (change,) = plan.thread.changes
    ended = next(run for run in plan.runs if run.number == change.stop.run)
    first = next(told for told in pass_sheets(plan) if told.begins == (ended.number + 1, 0))
    left = format_thread(change.waste, "in")
    assert change.where == "run end"
    assert dict(first.rows)["bobbin"].startswith(f"{left} left, this pass takes ")
    assert dict(first.rows)["bobbin"].endswith(": change now.")


def test_job_sheet_directions_and_guide_tell_each_pass(plan):
    sheets = pass_sheets(plan)
    titles = [row.note for row in job_rows(plan) if row.what == "title"]
    assert titles == [told.title for told in sheets]
    text = plan_directions_text(plan)
    assert [text.count(told.title) for told in sheets] == [1] * len(passes(plan))
    words = "".join(word.text for sheet in guide_sheets(plan, LETTER) for word in sheet.words)
    assert all(told.title[:12] in words for told in sheets)


def test_a_quilt_under_a_needle_at_home_has_no_passes():
    assert pass_sheets(planned(TALL)) == ()
