"""A longarm operator is told at each pass how the quilt lies and what she does there."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from quilts import SQUARES, planned

from stitchpath.base.units import format_thread
from stitchpath.export.directions import plan_directions_text
from stitchpath.export.guide import A5, LETTER, Paper, guide_sheets
from stitchpath.export.guide.pass_pages import pass_pages
from stitchpath.export.guide.path import scene_of
from stitchpath.told.anchors import pictures
from stitchpath.told.card_words import course
from stitchpath.told.cards import _winds_across, cards
from stitchpath.told.job_rows import job_rows
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.passes import passes
from stitchpath.told.walks import Part, Stroke, Walk
from stitchpath.top.place import Subject

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


EDGE_TO_EDGE = TALL.replace("= 5", "= 4") + (
    '[lines]\nditch = "none"\n[[fills]]\nstyle = "meander"\nregion = "top"\nspacing = "2 in"\n'
)


def test_a_fill_from_edge_to_edge_is_told_by_its_passes_and_by_no_card_or_picture():
    plan = planned(EDGE_TO_EDGE + FRAME, time_limit=0.2)
    sheets = guide_sheets(plan, LETTER)
    titles = [told.title for told in pass_sheets(plan)]
    assert len(titles) > 1
    assert (cards(plan), pictures(plan)) == ((), ())
    assert [e.text for e in course(plan) if e.kind == "pass"] == titles
    assert [e.kind for e in course(plan)] == ["stop", *["pass"] * len(titles)]
    assert len(sheets) == 2 + math.ceil(len(titles) / 2)  # with cover and supplies
    told = [" ".join(word.text.replace("\u00a0", " ") for word in sheet.words) for sheet in sheets]
    assert "Route cards" not in "".join(told)
    for number, title in enumerate(titles, start=1):
        (page,) = (k for k, text in enumerate(told, 1) if k > 1 and title in text)
        assert f"page {page}" in told[0], number


@pytest.mark.parametrize(
    ("paper", "each", "legend"), [(LETTER, 2, 0), (A5, 1, 0), (Paper("large", 135, 174), 1, 1)]
)
def test_on_small_paper_a_pass_has_a_page_and_its_picture_is_large_enough(paper, each, legend):
    plan = planned(EDGE_TO_EDGE + FRAME, time_limit=0)
    pages = list(pass_pages(scene_of(plan), paper))
    assert [len(told) for _, told in pages] == [each] * (len(pages) - legend) + [0] * legend
    for sheet, told in pages:
        frames = [s for s in sheet.shapes if s.closed and s.width == pytest.approx(0.2)]
        assert len(frames) == len(told)
        for frame in frames:
            assert np.ptp(frame.paths[0][:, 1]) >= 29
    explained = " ".join(word.text for word in pages[-1][0].words)
    assert "stitched with" in explained


def test_where_all_of_it_is_shown_at_once_a_fill_has_its_card():
    plan = planned(EDGE_TO_EDGE + FRAME.replace("13", "90"), time_limit=0.2)
    assert not pass_sheets(plan)
    assert len(cards(plan)) == 1


@pytest.mark.parametrize("sideways", [False, True])
@pytest.mark.parametrize(("wide", "by_its_pass"), [(49.0, False), (51.0, True)])
def test_a_fill_over_less_than_half_the_width_keeps_its_card(wide, by_its_pass, sideways):
    to_and_fro = [(wide * (k % 2), 4.0 * (k // 2)) for k in range(16)]
    points = np.array(to_and_fro)[:, ::-1] if sideways else np.array(to_and_fro)
    walk = Walk(1, 0, 0, Subject(fill=0), (Stroke(None, 0, 0, (Part("stitch", "fill", points),)),))
    top = SimpleNamespace(width=100.0, height=300.0)
    if sideways:
        top = SimpleNamespace(width=300.0, height=100.0)
    plan = SimpleNamespace(top=top, sideways=sideways)
    assert _winds_across(plan, walk) is by_its_pass


@pytest.mark.parametrize(("strokes", "by_its_pass"), [(5, True), (6, False)])
def test_a_fill_of_many_strokes_keeps_its_numbers(strokes, by_its_pass):
    points = [np.array([(0, 9 * k), (90, 9 * k + 4), (0, 9 * k + 8)]) for k in range(6)]
    parts = [(Part("stitch", "fill", at),) for at in points[:strokes]]
    told = tuple(Stroke("left", k, k, part) for k, part in enumerate(parts))
    plan = SimpleNamespace(top=SimpleNamespace(width=100.0), sideways=False)
    assert _winds_across(plan, Walk(1, 0, 0, Subject(fill=0), told)) is by_its_pass


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
    rows = '[[fills]]\nregion = "top"\nstyle = "waves"\nspacing = 3\nrows = "one way"\n'
    bobbin = f'[lines]\nditch = "none"\n[threads.grey]\nper_bobbin = "{per_bobbin}"\n'
    return planned(TALL + rows + bobbin + FRAME)


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
