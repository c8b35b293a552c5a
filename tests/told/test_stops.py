"""What is done where the machine stands: would she know when to fuse, and which bobbin to load?

That pieces are fused before their own stitching, pins are kept from the iron, and a half-used
bobbin is taken up again, is common practice.
"""

import re
from dataclasses import replace

from hypothesis import given, settings
from quilts import SQUARES, STARFISH, design, layouts, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.export.directions import plan_directions_text
from stitchpath.geometry.polylines import path_lengths
from stitchpath.told.job_rows import job_rows
from stitchpath.told.stops import stops, stops_by_run

ONE_BOBBIN = '[stitching]\nbobbin_thread = "grey"\n'
BEFORE = STARFISH.replace("size = 7\n", 'size = 7\nfused = "before"\n')
THIRSTY = SQUARES.replace("size = 6", "size = 40") + '[threads.grey]\nper_bobbin = "1.5 m"\n'
TWO_THREADS = (
    SQUARES
    + """
[[applique]]
name = "pennant"
outline = "M 0 0 L 2 0 L 1 2 Z"
size = 2
on = "squares"
fabric = "coral"
thread = "red"
[threads.grey]
lines = ["ditch"]
per_bobbin = "2 m"
[threads.red]
colour = "#c03020"
"""
)


def of(stop, *what):
    return [task.text for task in stop.tasks if task.what in what]


def test_pieces_are_fused_before_the_run_that_stitches_them_and_never_twice(runner):
    first, fusing, between, last = stops(runner)
    assert [stop.kind for stop in (first, fusing, between, last)] == ["start", "run", "run", "end"]
    assert fusing.run == 2
    assert fusing.fuse == (0, 1)
    assert first.fuse == between.fuse == last.fuse == ()
    assert of(fusing, "fuse") == ["Fuse the starfish on A2 and A4, as the label of the web says."]


def test_the_quilt_comes_off_only_to_be_fused_and_its_pins_come_out_first(runner):
    _, fusing, between, _ = stops(runner)
    done = [task.what for task in fusing.tasks]
    assert done == [
        "end", "off", "trim", "pins", "fuse", "cool", "thread", "bobbin", "stitch", "foot", "go"
    ]  # fmt: skip
    assert of(fusing, "off") == ["Take the quilt off the machine."]
    assert of(between, "off") == ["Leave the quilt on the machine."]


def test_thread_bobbin_and_stitch_are_told_where_they_change_and_nowhere_else(runner):
    first, fusing, between, _ = stops(runner)
    assert of(first, "thread", "bobbin") == [
        "Thread the machine with grey.",
        "Put in bobbin 1 of grey.",
    ]
    assert of(fusing, "thread", "bobbin", "stitch") == [
        "Take off the grey thread and put on dark coral.",
        "Put in bobbin 1 of dark coral.",
        "Set 12 stitches to the inch.",
    ]
    assert of(between, "thread", "bobbin", "stitch", "fuse", "trim") == []


def test_a_piece_fused_before_quilting_is_fused_before_the_layers_are_basted():
    for text in (BEFORE, STARFISH):  # nothing is quilted before the starfish of the other
        first = stops(planned(text))[0]
        assert [task.what for task in first.tasks][:3] == ["fuse", "cool", "layer"]
        assert first.fuse == (0,)


def test_a_piece_that_nothing_stitches_is_not_forgotten():
    text = SQUARES + STARFISH[STARFISH.index("[[applique]]") : STARFISH.index("[lines]")].replace(
        'thread = "coral"', "centre = false"
    ).replace("size = 7", "size = 5")
    *others, last = stops(planned(text))
    assert last.kind == "end"
    assert last.fuse == (0,)
    assert all(stop.fuse == () for stop in others)


def test_the_ends_are_done_as_the_design_secures_them():
    buried, tied = (
        stops(planned(STARFISH + f'[stitching]\nsecure = "{how}"\n'))[-1]
        for how in ("bury", "tie-off")
    )
    assert "bury" in of(buried, "end")[0]
    assert "tie off" in of(tied, "end")[0]


def test_bobbins_are_counted_by_thread_and_told_where_they_run_out():
    plan = planned(THIRSTY)
    changes = sorted(plan.thread.changes, key=lambda c: (c.stop.run, c.stop.along))
    assert len(changes) > 1
    swaps = [text for stop in stops(plan) for text in of(stop, "bobbin")]
    assert swaps == ["Put in bobbin 1 of grey."] + [
        f"Take out bobbin {c.bobbin} of grey and put in bobbin {c.bobbin + 1}." for c in changes
    ]
    within = [(s.run, s.leg, s.along) for s in stops(plan) if s.kind == "bobbin"]
    assert within == [
        (c.stop.run, c.stop.leg, c.stop.along) for c in changes if c.where != "run end"
    ]


def test_a_bobbin_put_aside_is_taken_up_again():
    plan = planned(TWO_THREADS)
    grey, red = (next(r for r in plan.runs if r.thread == name) for name in ("grey", "red"))
    runs = tuple(replace(run, number=k) for k, run in enumerate((grey, red, grey), 1))
    told = stops(replace(plan, runs=runs, thread=replace(plan.thread, changes=())))
    assert [of(stop, "bobbin") for stop in told[:3]] == [
        ["Put in bobbin 1 of grey."],
        ["Put in bobbin 1 of red."],
        ["Put in bobbin 1 of grey again."],
    ]


def test_a_quilt_in_a_frame_is_rolled_and_loaded_again_after_fusing():
    text = TWO_THREADS.replace("size = 6", "size = 16") + '[machine]\nkind = "frame"\ndepth = 20\n'
    text += 'fuse = "out of the frame"\n'
    plan = planned(text.replace('rows = ["squares"]', 'rows = ["squares", "squares", "squares"]'))
    told = stops(plan)
    assert of(told[0], "roll")[0].startswith("Load the quilt with its top edge first")
    assert [text for stop in told for text in of(stop, "pins", "layer")] == []
    (fusing,) = (stop for stop in told if stop.fuse)
    assert of(fusing, "off") == ["Take the quilt out of the frame."]
    assert of(fusing, "roll")[0].startswith("Load the quilt again")
    assert sum("roll the quilt on" in stop.title for stop in told) >= 1


def test_a_frame_of_unknown_depth_is_loaded_and_a_domestic_quilt_basted():
    framed, basted = (
        stops(planned(f"{TWO_THREADS}[machine]\n{kind}\n"))
        for kind in ('kind = "frame"\nfuse = "out of the frame"', 'kind = "domestic"')
    )
    assert of(framed[0], "layer") == ["Load backing, batting and top into the frame."]
    assert of(basted[0], "layer") == ["Layer backing, batting and top, and baste them."]
    assert of(framed[-1], "off") == ["Take the quilt out of the frame."]
    assert of(basted[-1], "off") == ["Take the quilt off the machine."]
    (fusing,) = (stop for stop in framed if stop.fuse)
    assert of(fusing, "roll") == ["Load the quilt again where it was."]
    (left,) = (s for s in stops(planned(TWO_THREADS + '[machine]\nkind = "frame"\n')) if s.fuse)
    assert of(left, "off") == ["Leave the quilt in the frame."]


def test_metric_designs_hear_of_stitches_in_millimetres():
    first = stops(planned(SQUARES.replace("[fabrics]", 'unit = "cm"\n[fabrics]', 1)))[0]
    assert of(first, "stitch") == ["Set stitches 2.5 mm long."]


def test_alike_pieces_are_named_by_their_rows():
    rows = 'rows = ["squares squares squares squares", "squares squares squares squares"]'
    text = TWO_THREADS.replace('rows = ["squares"]', rows)
    (fusing,) = (stop for stop in stops(planned(text)) if stop.fuse)
    assert of(fusing, "fuse")[0].startswith("Fuse the pennant on A1 to A4 and B1 to B4,")


@given(text=layouts())
@settings(max_examples=4, deadline=None)
def test_every_run_has_its_stop_and_stops_come_in_the_order_of_sewing(text):
    try:
        plan = planned(text + '[threads.grey]\nper_bobbin = "5 m"\n', time_limit=0)
    except StitchpathError:
        return  # a layout without the seams it asks for
    told = stops(plan)
    at = [(stop.run, stop.along) for stop in told]
    assert at == sorted(at)
    assert [s.run for s in told if s.kind in ("start", "run")] == [run.number for run in plan.runs]
    end = float(path_lengths([leg.points for leg in plan.runs[-1].legs]).sum())
    assert at[-1] == (len(plan.runs), end)
    assert stops_by_run(plan)[1][0] == told[0]


def test_written_directions_tell_each_stop_before_the_run_it_belongs_to(runner):
    text = plan_directions_text(runner)
    for stop in stops(runner):
        assert text.count(f"\n{stop.heading}\n") == 1
        for task in stop.tasks:
            assert (f"    - {task.text}\n" in text) == (task.what not in ("end", "roll", "test"))
    order = [
        text.index(f"\n{words}") for words in ("Before run 2", "Run 2, ", "Before run 3", "Run 3, ")
    ]
    assert order == sorted(order)


def test_written_directions_tell_a_bobbin_below_the_step_it_falls_in():
    plan = planned(THIRSTY)
    lines = plan_directions_text(plan).splitlines()
    found = [k for k, line in enumerate(lines) if line.startswith("In run ")]
    assert found
    for k in found:
        assert re.match(r" +\d+\. .*put in bobbin", lines[k - 2])


def test_the_job_sheet_says_what_to_fuse_before_the_run(runner):
    rows = [row for row in job_rows(runner) if row.kind in ("stop", "run")]
    assert [(row.kind, row.run) for row in rows] == [
        ("stop", 1), ("run", 1), ("stop", 2), ("run", 2), ("run", 3)
    ]  # fmt: skip
    assert "Fuse the starfish on A2 and A4" in rows[2].note
    assert design(SQUARES).name not in rows[2].note


def test_one_thread_on_all_bobbins_stays_in_when_the_top_thread_changes():
    told = stops(planned(TWO_THREADS.replace('per_bobbin = "2 m"\n', "") + ONE_BOBBIN))
    (changing,) = (stop for stop in told if of(stop, "thread") and stop.kind == "run")
    assert of(changing, "bobbin") == []
    assert of(told[0], "bobbin") == ["Put in bobbin 1 of grey."]


def test_a_run_with_two_lengths_of_stitch_says_which_is_for_what():
    plan = planned(TWO_THREADS + "[stitching]\nper_inch = { ditch = 9, centre = 12 }\n")
    ditch, centre = (next(r for r in plan.runs if r.thread == name) for name in ("grey", "red"))
    both = replace(ditch, legs=ditch.legs + centre.legs)
    told = stops(replace(plan, runs=(both,), thread=replace(plan.thread, changes=())))[0]
    assert of(told, "stitch") == [
        "Set 9 stitches to the inch for the ditch and 12 stitches to the inch for the centre."
    ]
