"""Pieces fused to a quilt in a frame: where, when, and what it takes."""

from types import SimpleNamespace

import pytest
from quilts import SQUARES, check_laws, planned, verify
from shapely import box

from stitchpath import StitchpathError
from stitchpath.hands.pace import pace_of
from stitchpath.lines.frame import windows
from stitchpath.lines.frame.windows import Window
from stitchpath.network.fusing import _fused_in
from stitchpath.told.job_rows import job_rows
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.passes import passes
from stitchpath.told.stops import stops

PLUS = "M 0 0 h 10 v 10 h 10 v 10 h -10 v 10 h -10 v -10 h -10 v -10 h 10 z"
PIECE = """
[[applique]]
name = "{name}"
outline = "{outline}"
on = "{on}"
size = {size}
fabric = "coral"
thread = "red"
"""
TALL = SQUARES.replace('rows = ["squares"]', 'rows = ["squares"]\nrepeat = 5') + "[threads.red]\n"
INCH = 25.4


def design(way="", size=4, depth="13 in", on=("A1", "C1", "E1")):
    names = ["buoy", "float", "lamp"]
    pieces = [
        PIECE.format(name=name, on=at, size=size, outline=PLUS)
        for name, at in zip(names, on, strict=False)
    ]
    frame = f'[machine]\nkind = "frame"\ndepth = "{depth}"\n'
    return TALL + "".join(pieces) + frame + (f'fuse = "{way}"\n' if way else "")


@pytest.fixture(scope="module")
def within():
    return planned(design())


@pytest.fixture(scope="module")
def out():
    return planned(design("out of the frame"))


def framing(plan, stage):
    """Seconds round the stitching from the end of the quilting to the end."""
    later = [t for t, run in zip(plan.times, plan.runs, strict=True) if run.stage == stage]
    return sum(t.loading + t.basting + t.advances + t.clamps + t.fusing for t in later)


def unloaded(plan):
    return [run.number for t, run in zip(plan.times, plan.runs, strict=True) if t.unloading]


def test_pieces_are_fused_in_the_frame_where_that_is_quicker_and_it_is_counted(within):
    assert within.fusing.way == "in the frame"
    assert len(within.fusing.windows) == 3
    boards = len(set(within.fusing.windows.values()))
    assert sum(t.fusing for t in within.times) == 300 * boards
    assert framing(within, 2) == within.fusing.within < within.fusing.out
    assert sum(t.loading for t in within.times) == pace_of(within.design).load
    assert unloaded(within) == [within.runs[-1].number]
    assert any("fusing in the frame" in repr(row) for row in job_rows(within))
    check_laws(within)
    verify(within)


def test_pieces_that_nothing_is_quilted_before_do_not_choose_the_windows(monkeypatch):
    asked = []
    monkeypatch.setattr(
        windows,
        "with_whole_pieces",
        lambda strands, pieces, *rest, whole=windows.with_whole_pieces: (
            asked.append(list(pieces)) or whole(strands, pieces, *rest)
        ),
    )
    alone = planned(design() + '[lines]\nditch = "none"\n')
    assert alone.fusing is None
    assert set(map(len, asked)) == {0}
    asked.clear()
    planned(design())
    assert set(map(len, asked)) == {3}


def test_taken_out_it_is_unloaded_loaded_basted_and_rolled_on_again_and_that_is_counted(out):
    assert out.fusing.way == "out of the frame"
    pace = pace_of(out.design)
    assert sum(t.loading for t in out.times) == 2 * pace.load
    assert sum(t.fusing for t in out.times) == 0
    last = max(run.number for run in out.runs if run.stage == 1)
    assert unloaded(out) == [last, out.runs[-1].number]
    assert framing(out, 2) + pace.unload == out.fusing.out
    basted = [t.basting for t, run in zip(out.times, out.runs, strict=True) if run.stage == 2]
    assert sum(basted) == pace.baste * len({w for r in out.runs if r.stage > 1 for w in r.windows})
    assert next(each.window for each in passes(out) if each.stage > 1) == 1
    assert [each.loaded for each in passes(out)].count(True) == 2
    check_laws(out)
    verify(out)


def test_each_way_says_what_the_other_would_take(within, out):
    for plan, words in ((within, "fused in the frame"), (out, "taken out of the frame")):
        (said,) = [check.message for check in plan.checks if check.code == "fused-in-frame"]
        assert words in said
        assert f"{round(plan.fusing.within / 60)} min" in said
        assert f"{round(plan.fusing.out / 60)} min" in said


@pytest.mark.parametrize("way", ["within", "out"])
def test_no_piece_is_stitched_before_it_is_fused_nor_fused_twice(way, request):
    plan = request.getfixturevalue(way)
    fused, found = set(), iter(stops(plan))
    stop = next(found)
    for run in plan.runs:
        while stop.run <= run.number and stop.kind in ("start", "run", "park", "bobbin"):
            assert not fused & set(stop.fuse)
            fused |= set(stop.fuse)
            stop = next(found)
        stitched = {n for leg in run.legs if leg.line >= 0 for n in plan.lines[leg.line].of.pieces}
        assert stitched <= fused
    assert fused == {0, 1, 2}


def test_in_the_frame_a_piece_is_fused_in_its_window_with_the_needle_up(within):
    at = within.fusing.windows
    fusing = [stop for stop in stops(within) if stop.fuse]
    for stop in fusing:
        window = within.runs[stop.run - 1].window
        assert {at[number] for number in stop.fuse} == {window}
        texts = [task.text for task in stop.tasks]
        assert any("Needle up, machine off." in text for text in texts)
        assert not any("out of the frame" in text for text in texts)
    for number, window in at.items():
        _, upper, _, lower = within.top.pieces[number].shape.bounds
        shown = within.windows[window - 1]
        assert shown.top - 0.02 <= upper < lower <= shown.bottom + 0.02
    ironed = {(2, window) for window in at.values()}
    parked = {(run.stage, w) for run in within.runs for _, w in run.parked}
    assert not ironed & parked
    told = [dict(sheet.rows).get("fuse", "") for sheet in pass_sheets(within)]
    assert len([word for word in told if word]) == len(set(at.values()))


def test_windows_are_chosen_so_that_a_piece_is_shown_whole():
    # windows of 7 in would end at the seams, 6 in apart, and part a piece that lies across one
    across = PIECE.format(name="buoy", on="top", size=4, outline=PLUS) + 'at = ["3 in", "12 in"]\n'
    text = TALL + across + '[machine]\nkind = "frame"\ndepth = "7 in"\n'
    (piece,) = planned(text).top.pieces
    _, upper, _, lower = piece.shape.bounds
    for way, whole in (("", True), ('fuse = "out of the frame"\n', False)):
        windows = planned(text + way).windows
        held = any(w.top <= upper + 0.02 and lower <= w.bottom + 0.02 for w in windows)
        assert held == whole


def test_a_piece_is_fused_before_its_first_line_on_the_way_back_up():
    # whole in the second window alone; of its lines one is stitched in each of the first two
    windows = [Window(0, 10, 9), Window(6, 16, 15), Window(12, 22, 22)]
    piece = SimpleNamespace(number=0, shape=box(0, 7, 5, 15))
    lines = [SimpleNamespace(of=SimpleNamespace(pieces=(0,))) for _ in range(2)]
    assert _fused_in(piece, lines, [1, 2], [3, 2, 1], windows) == 2
    assert _fused_in(piece, lines[:1], [1], [3, 1], windows) is None  # the second is not come to
    assert _fused_in(piece, lines, [0, 0], [0], []) == 0


def test_a_piece_taller_than_the_frame_shows_has_the_quilt_taken_out_and_says_so():
    text = design(size=5.5, depth="4 in", on=("C1",))
    plan = planned(text)
    assert plan.fusing.way == "out of the frame"
    assert plan.fusing.within is None
    assert any("nowhere shown whole" in check.message for check in plan.checks)
    asked = text.replace('depth = "4 in"', 'depth = "4 in"\nfuse = "in the frame"')
    with pytest.raises(StitchpathError, match="the buoy is nowhere shown whole"):
        planned(asked)


def test_a_quilt_under_a_domestic_machine_has_no_frame_to_fuse_in():
    text = design().replace('kind = "frame"\ndepth = "13 in"', 'fuse = "in the frame"')
    with pytest.raises(StitchpathError, match="found fuse with kind"):
        planned(text)


def test_where_all_is_fused_before_nothing_is_fused_between():
    before = PIECE.format(name="buoy", on="A1", size=4, outline=PLUS) + 'fused = "before"\n'
    text = TALL + before + '[machine]\nkind = "frame"\ndepth = "13 in"\n'
    assert planned(text).fusing is None
