"""What steps take by foot, and what a design may say of it."""

import pytest
from quilts import SQUARES, STARFISH, design

from stitchpath.base.errors import StitchpathError
from stitchpath.hands.feet import FEET, foot_of
from stitchpath.hands.pace import FRAME, Pace, pace_of
from stitchpath.lines.collect import collect_lines
from stitchpath.lines.ditch import seam_bits
from stitchpath.top.build import build_top

FRAMED = '[machine]\nkind = "frame"\n'


def feet(text):
    """Give the foot of each kind of line of a design."""
    made = design(text)
    top = build_top(made)
    lines = collect_lines(made, top, seam_bits(top)).lines
    return {line.kind: FEET[foot_of(made, line)] for line in lines}


FILLED = SQUARES + '[[fills]]\nregion = "A1"\nspacing = 1\nstyle = "{}"\n'


def test_straight_lines_are_walked_and_curves_go_in_free_motion():
    star = STARFISH.replace('ditch = "none"', 'ditch = "all"').replace("sand sand", "sand coral")
    lines = 'edge_line = true\necho = { step = "1/2 in", count = 1 }\n[lines]'
    found = feet(star.replace("[lines]", lines))
    assert found == {
        "ditch": "walking", "centre": "free-motion", "outline": "walking", "echo": "free-motion",
    }  # fmt: skip
    for style, foot in (
        ("crosshatch", "walking"),
        ("parallel", "walking"),
        ("meander", "free-motion"),
    ):
        assert feet(FILLED.format(style))["fill"] == foot


def test_a_foot_that_she_names_goes_before_the_usual_one():
    assert feet(SQUARES + '[machine]\nfoot = "free-motion"\n') == {"ditch": "free-motion"}
    by_kind = feet(FILLED.format("meander") + '[machine]\nfoot = { fill = "walking" }\n')
    assert by_kind == {"ditch": "walking", "fill": "walking"}
    assert set(feet(FILLED.format("parallel") + FRAMED).values()) == {"frame"}


@pytest.mark.parametrize(
    ("machine", "told"),
    [
        (FRAMED + 'foot = "walking"\n', 'expected "frame"'),
        (FRAMED + "throat = { width = 8, height = 4 }\n", "expected one length"),
        ('[machine]\nfoot = { ditch = "frame" }\n', 'expected "walking" or "free-motion"'),
    ],
)
def test_a_foot_that_the_machine_cannot_use_is_refused(machine, told):
    with pytest.raises(StitchpathError, match=told):
        design(SQUARES + machine)


def test_a_straight_ditch_goes_slower_in_free_motion_unless_she_says_otherwise():
    usual = pace_of(design(SQUARES))
    assert usual.free.ditch < usual.speed.ditch
    assert usual.free.fill == usual.speed.fill
    one = pace_of(design(SQUARES + "[pace]\nspeed = 600\n"))
    assert one.free.ditch == one.speed.ditch
    both = pace_of(design(SQUARES + "[pace]\nspeed = 600\nfree = { ditch = 300 }\n"))
    assert (both.free.ditch, both.free.fill) == (both.speed.ditch / 2, both.speed.fill)


def test_corners_and_returns_cost_nothing_in_a_frame_unless_she_says_so():
    assert (FRAME.still, FRAME.come_back, Pace().come_back) == (0, 0, 6)
    said = pace_of(design(SQUARES + FRAMED + "[pace]\npivot = 0.5\ncome_back = 3\n"))
    assert (said.still, said.come_back) == (0.5, 3)
    assert pace_of(design(SQUARES)).still == 0
