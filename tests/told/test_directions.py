"""Directions in words: would she know where to put the needle, and which way to turn?

The small tops are walked by hand, point by point, so that each sentence can be checked against a
sketch; the laws hold for every plan. Left and right of a walk are told here by the cross product
of plane geometry, the low side by the design's rule alone: allowances go to the darker fabric
(common practice).
"""

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from quilts import DESIGNS, SQUARES, STARFISH, fan, layouts, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.design.read import load_design
from stitchpath.plan import make_plan
from stitchpath.route.runs import Leg, Run
from stitchpath.thread import BobbinChange, RunPoint, ThreadPlan
from stitchpath.told.close import _bend
from stitchpath.told.directions import RunDirections, Step, change_place, directions
from stitchpath.told.landmarks import Landmarks
from stitchpath.told.low_side import ON, low_side_words
from stitchpath.told.seams import Bit, _how_far, _listed
from stitchpath.told.ways import Way, turn_of
from stitchpath.top.build import darkness
from stitchpath.top.place import Place, Subject
from stitchpath.top.place_names import Places, clock, heading, side
from stitchpath.top.spots import Spots, _corners

law = settings(max_examples=5, deadline=None)
INCH = 25.4

TEE = """
name = "T"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
coral = "#dc6f50"
[blocks.tee]
size = 6
units = 6
patches = [
  { name = "lid", fabric = "sea", points = [[0, 0], [6, 0], [6, 2], [0, 2]] },
  { name = "leg 1", fabric = "sand", points = [[0, 2], [3, 2], [3, 6], [0, 6]] },
  { name = "leg 2", fabric = "coral", points = [[3, 2], [6, 2], [6, 6], [3, 6]] },
]
[layout]
rows = ["tee"]
"""

SASHED = SQUARES.replace(
    'rows = ["squares"]',
    'rows = ["squares squares", "squares squares"]\n'
    'sashing = { width = 1, fabric = "coral", cornerstone = "sea" }\n'
    "[[layout.borders]]\nwidth = 2\nfabric = 'sea'",
)


def walked(plan, *points, ends=("inside", "inside")):
    """The plan with one run that goes from point to point, inches, along its lines."""
    points = [np.array(p, dtype=float) * INCH for p in points]
    seen, legs = set(), []
    for start, stop in pairwise(points):
        line, way, ahead = _line_between(plan, start, stop)
        if line < 0:
            legs.append(Leg("travel", np.array([start, stop]), along="margin"))
        else:
            do = "retrace" if line in seen else "stitch"
            legs.append(Leg(do, way, line, seam=plan.lines[line].seam, ahead=ahead))
            seen.add(line)
    run = Run(1, 1, plan.runs[0].thread, *ends, tuple(legs))
    return replace(plan, runs=(run,), thread=ThreadPlan((), (), ()))


def _line_between(plan, start, stop):
    for k, line in enumerate(plan.lines):
        for way, ahead in ((line.points, True), (line.points[::-1], False)):
            if np.allclose(way[0], start, atol=0.1) and np.allclose(way[-1], stop, atol=0.1):
                return k, way, ahead
    return -1, None, True


def told(plan, *points, **options):
    (run,) = directions(walked(plan, *points, **options))
    return [step.text for step in run.steps]


@pytest.fixture(scope="module")
def squares():
    return planned(SQUARES)


@pytest.fixture(scope="module")
def tee():
    return planned(TEE)


@pytest.fixture(scope="module")
def sashed():
    return planned(SASHED)


# Four squares: sand top left and bottom right, sea, the darker, in the other two


def test_a_seam_straight_through_is_told_as_one_with_its_change_of_side(squares):
    texts = told(squares, (-0.5, 3), (0, 3), (3, 3), (6, 3), (6.5, 3), ends=("margin", "margin"))
    assert texts[0] == (
        "Start in the margin, 1/2 in outside the left edge, at A1, halfway down. Sew in over the "
        "edge. Across to the right through A1, 3 in from its top, to the right edge, 6 in. Low "
        "side on your left, after 3 in on your right. Go on over the edge into the margin, 1/2 "
        "in. Stop and cut the threads."
    )
    assert len(texts) == 1


def test_turns_are_those_of_the_one_who_sews(squares):
    start, *rest = told(squares, (3, 0), (3, 3), (6, 3))
    assert start.startswith(
        'Start inside the top, at the top edge. Down between "sea" and "sand" in A1'
    )
    assert rest[0].startswith("Pivot left: across to the right between ")
    right = told(squares, (3, 0), (3, 3), (0, 3))[1]
    assert right.startswith("Pivot right: across to the left between ")


def test_coming_back_over_a_seam_says_that_it_is_stitched_already(squares):
    back = told(squares, (0, 3), (3, 3), (0, 3))[1]
    assert back == (
        "Turn back: across to the left over the same seam, to the left edge, 3 in, stitched "
        "already. Low side on your right. Stop, secure the threads and bury the tails."
    )


def test_going_on_past_the_seam_one_came_by_says_how_much_is_new(squares):
    back = told(squares, (3, 3), (0, 3), (3, 3), (6, 3))[1]
    assert "over the same seam and on through A1" in back
    assert "6 in (the first 3 in stitched already)" in back


def test_a_way_round_in_the_margin_is_one_step(squares):
    points = [(0, 3), (-0.5, 3), (-0.5, -0.5), (3, -0.5), (3, 0), (3, 3)]
    texts = told(squares, (3, 3), *points)
    assert len(texts) == 3
    assert texts[1] == (
        "Out over the left edge into the margin, up, round the corner, and in again at the top "
        "edge, at A1, halfway across: 8 in of margin."
    )
    assert texts[2].startswith("Down between ")


def test_a_long_run_is_summed_up_in_yards_and_a_shorter_one_in_inches(squares):
    def summed(*points):
        (run,) = directions(walked(squares, *points))
        return run.heading

    assert summed((0, 3), (3, 3), (6, 3)).endswith(": 6 in, inside the top")
    there_and_back = [(x, 3) for x in (0, 3, 6, 3, 0, 3, 6, 3, 0, 3, 6, 3, 0, 3)]
    assert summed(*there_and_back).endswith(": 39 in, inside the top")
    assert summed(*there_and_back, (6, 3)).endswith(": 1.17 yd, inside the top")


def test_two_ends_in_the_margin_need_no_burying(squares):
    end = told(squares, (3, 3), (3, 6), (3, 6.5), ends=("inside", "margin"))[-1]
    assert end.endswith("Go on over the edge into the margin, 1/2 in. Stop and cut the threads.")


def striped(cells):
    """Two rows of inch squares, walked along the seam between them: allowances go to the sea.

    Where the letter is "o" the seam is pressed open.
    """
    rows = ["sand" if c == "-" else "sea" for c in cells]
    other = ["sea" if c == "-" else "sand" for c in cells]
    pressed = [
        f'{{ between = ["squares.r1c{k}", "squares.r2c{k}"], press = "open" }}'
        for k, c in enumerate(cells, 1)
        if c == "o"
    ]
    plan = planned(
        SQUARES.replace("size = 6", f"size = [{len(cells)}, 2]").replace(
            "['sand sea', 'sea sand']", f"{[' '.join(rows), ' '.join(other)]}"
        )
        + f"[press]\nseams = [{', '.join(pressed)}]\n",
        time_limit=0,
    )
    (text,) = told(plan, *((k, 1) for k in range(len(cells) + 1)))
    return text


def test_she_is_told_in_which_measure_the_low_side_changes():
    low = "Low side on your left, and it changes every 1 in."  # the sand lies above: left
    assert low in striped("-s-s-s-s")
    low = "Low side on your right, after 1 in on your left, then it changes every 2 in."
    assert low in striped("s--ss--ss-")
    low = (
        "Low side on your right, after 2 in on your left, then it changes after 1 in and 3 in, "
        "and so on in turn."
    )
    assert low in striped("ss-sss-sss-sss-")


def test_on_a_long_seam_a_change_near_its_end_is_measured_from_there():
    cells = "s" + "-" * 14 + "ss"
    said = "Low side on your right, after 1 in on your left, for the last 2 in on your right."
    assert said in striped(cells)


def test_she_is_told_where_the_low_side_changes_where_it_keeps_no_measure():
    said = (
        "Low side on your right, after 1 in on your left, "
        "then it changes after 1 in, 2 in, 3 in and 1 in."
    )
    assert said in striped("s-ss---s--")


def test_on_a_seam_pressed_open_in_places_she_is_told_where():
    said = (
        "Low side on your right for 1 in, then 1 in on your left, 2 in on neither side, "
        "3 in on your left, 1 in on your right and on your left to the end."
    )
    assert said in striped("s-oo---s--")


def test_she_is_told_how_often_the_low_side_changes_where_it_changes_too_often_to_list():
    said = "Low side on your right first, then it changes 14 times: feel for it at each crossing."
    assert said in striped("s-s--s-ss-s---s-s-s")


def stretches(*lengths):
    """Stretches of the seam, allowances above and below by turns."""
    return "".join("s-"[k % 2] * length for k, length in enumerate(lengths))


def test_on_a_way_of_up_to_a_foot_a_change_is_told_by_its_length_and_beyond_by_its_place():
    assert "after 12 in on your left." in striped(stretches(12, 14))
    beyond = striped(stretches(13, 13))
    assert "after" not in beyond
    assert " it is on your left." in beyond
    assert "for the last 12 in on your left." in striped(stretches(14, 12))


@pytest.mark.parametrize(("far", "said"), [(12.0, "after 12 in on"), (12.2, "from the")])
def test_beyond_a_foot_no_length_is_told_to_where_the_low_side_changes(squares, far, said):
    leg = squares.runs[0].legs[0]
    ways = [Way(leg, far * INCH, "ditch", low=1), Way(leg, 14 * INCH, "ditch", low=-1)]
    assert said in low_side_words(Landmarks(squares), ways, None, ON)


def test_three_changes_of_side_are_told_one_by_one_and_four_by_their_measure():
    three = "Low side on your right, after 1 in on your left, after 2 in on your right, "
    assert three + "after 3 in on your left." in striped(stretches(1, 1, 1, 1))
    four = "Low side on your right, and it changes every 1 in."
    assert four in striped(stretches(1, 1, 1, 1, 1))


def test_a_measure_that_comes_again_after_four_changes_is_told_once():
    said = "then it changes after 1 in, 1 in, 2 in and 3 in, and so on in turn."
    assert said in striped(stretches(1, 1, 1, 2, 3, 1, 1, 2, 3, 1))


@pytest.mark.parametrize(
    ("off", "said"),
    [(0.8, "then it changes every 1 1/16 in."), (1.2, "after 1 1/16 in and 1 in, and so on")],
)
def test_a_measure_comes_again_where_no_eye_sees_that_it_differs(squares, off, said):
    """Below a millimetre, the width of a stitch line."""
    leg = squares.runs[0].legs[0]
    lengths = [INCH, INCH + off, INCH, INCH + off, INCH, INCH]
    ways = [Way(leg, far, "ditch", low=1 - 2 * (k % 2)) for k, far in enumerate(lengths)]
    assert said in low_side_words(Landmarks(squares), ways, None, ON)


def test_twelve_changes_in_no_measure_are_listed_and_thirteen_are_to_be_felt_for():
    lengths = (1, 2, 1, 1, 2, 3, 1, 1, 3, 2, 1, 2, 1)
    listed = "then it changes after 2 in, 1 in, 1 in, 2 in, 3 in, 1 in, 1 in, 3 in, 2 in, 1 in and"
    assert listed in striped(stretches(*lengths))
    assert "then it changes 13 times: feel for it" in striped(stretches(*lengths, 3))


def led_along(plan, *points):
    """What is told of a seam that runs through these points, inches."""
    bare = walked(plan, (0, 3), (3, 3))
    (run,) = bare.runs
    leg = replace(run.legs[0], points=np.array(points, dtype=float) * INCH)
    (step,) = directions(replace(bare, runs=(replace(run, legs=(leg,)),)))[0].steps
    return step.text


@pytest.mark.parametrize(("degrees", "said"), [(19.5, False), (20.5, True)])
def test_a_seam_is_called_curved_where_it_turns_more_than_twenty_degrees(squares, degrees, said):
    # Two equal turns, one each way: what turns back again is a curve too.
    rise = np.tan(np.radians(degrees / 2))
    text = led_along(squares, (0, 3), (1, 3), (2, 3 + rise), (3, 3 + rise))
    assert (", following the curve, to" in text) == said


def test_up_to_three_corners_of_a_seam_are_told_one_by_one(squares):
    steps = [(0, 3), (1, 3), (1, 4), (2, 4), (2, 5), (3, 5)]
    assert ", pivoting right at its corner, to" in led_along(squares, *steps[:3])
    assert ", pivoting right, left and right at its corners," in led_along(squares, *steps[:5])
    assert ", round its 4 corners, to" in led_along(squares, *steps)


@pytest.mark.parametrize(
    ("degrees", "said"),
    [(29.0, ", following the curve,"), (31.0, ", pivoting right at its corner,")],
)
def test_she_stops_at_a_corner_of_a_seam_where_it_turns_more_than_thirty_degrees(
    squares, degrees, said
):
    rise = np.tan(np.radians(degrees))
    assert said in led_along(squares, (0, 3), (1, 3), (2, 3 + rise))


@pytest.mark.parametrize(("degrees", "turn"), [(14, "straight"), (16, "bear right")])
def test_a_curve_goes_straight_on_where_seams_meet_and_a_row_of_bends_does_not(degrees, turn):
    """On a polygon of equal sides every turn is the same: up to 15 degrees it is a curve."""
    ways = np.radians(degrees * np.arange(4))
    points = np.cumsum(20 * np.stack([np.cos(ways), np.sin(ways)], axis=1), axis=0)
    points = np.concatenate([[[0.0, 0.0]], points])
    before, after = (Way(Leg("stitch", part), 1.0, "ditch") for part in (points[:3], points[2:]))
    assert turn_of(before, after) == turn


@pytest.mark.parametrize(("mm", "said"), [(1.9, ", a stitch."), (2.1, ", 1/16 in.")])
def test_what_is_shorter_than_a_stitch_is_no_length_to_measure_off(squares, mm, said):
    assert said in led_along(squares, (0, 3), (mm / INCH, 3))


# A T: lid above, two legs below


def test_the_corner_of_a_t_has_the_name_of_a_patch(tee):
    texts = told(tee, (0, 2), (3, 2), (3, 6))
    assert texts[0] == (
        'Start inside the top, at the left edge. Across to the right between "lid" and "leg 1" in '
        'A1, to the top right corner of "leg 1" in A1, 3 in. Low side on your right.'
    )
    assert texts[1].startswith(
        'Pivot right: down between "leg 2" and "leg 1" in A1, to the bottom edge'
    )


def test_past_two_patches_one_follows_the_third(tee):
    (text,) = told(tee, (0, 2), (3, 2), (6, 2))
    said = 'Across to the right along the bottom of "lid" in A1, to the right edge, 6 in'
    assert said in text


@pytest.mark.parametrize(("apart", "counted"), [(39, True), (41, False)])
def test_seams_are_counted_as_one_turns_only_where_they_lie_close(apart, counted):
    low = f"{1 + 3 / np.tan(np.radians(apart)):.5f}"  # where the slanting ray meets the side
    rays = fan(
        ("sand", "[[0, 0], [6, 0], [6, 1], [0, 1]]"),
        ("sea", f"[[0, 1], [3, 1], [0, {low}]]"),
        ("sand", f"[[3, 1], [3, 6], [0, 6], [0, {low}]]"),
        ("sea", "[[3, 1], [6, 1], [6, 6], [3, 6]]"),
    )
    plan = planned(rays, time_limit=0.2)
    text = told(plan, (6, 1), (3, 1), (3, 6))[1]
    assert text.startswith("Pivot left onto the second seam as you turn: down ") == counted
    assert text.startswith("Pivot left: down ") != counted


def test_a_curve_that_is_stitched_in_two_parts_goes_straight_on_and_a_corner_does_not():
    angle = np.radians(np.arange(0, 81, 10))
    arc = 50 * np.column_stack([np.cos(angle), np.sin(angle)])
    assert _bend(arc[:5], arc[4:]) == pytest.approx(0, abs=1e-6)
    ends = np.array([(0, 0), (10, 0), (20, 0)])
    off = np.array([(20, 0), (20 + 10 * np.cos(0.5), 10 * np.sin(0.5)), (30, 30)])
    assert _bend(ends, off[:2]) == pytest.approx(np.degrees(0.5))


def test_of_two_seams_that_lie_fifteen_degrees_apart_she_takes_the_right_one():
    slant = f"{3 - 5 * np.tan(np.radians(15)):.5f}"
    rays = fan(
        ("sand", "[[0, 0], [6, 0], [6, 1], [0, 1]]"),
        ("sea", f"[[0, 1], [3, 1], [{slant}, 6], [0, 6]]"),
        ("sand", f"[[3, 1], [3, 6], [{slant}, 6]]"),
        ("sea", "[[3, 1], [6, 1], [6, 6], [3, 6]]"),
    )
    plan = planned(rays, time_limit=0.2)
    to_second = told(plan, (6, 1), (3, 1), (3, 6))[1]
    to_first = told(plan, (6, 1), (3, 1), (float(slant), 6))[1]
    assert to_second.startswith("Pivot left onto the second seam as you turn: ")
    assert to_first.startswith("Pivot left onto the first seam as you turn: ")


# Blocks with sashing between them: A1 spans 2 to 8 in each way, A2 9 to 15


def test_a_way_down_the_side_of_a_block_names_the_side_and_the_corner(sashed):
    text = told(sashed, (8, 5), (8, 8))[0]
    assert "Down along the right side of A1, to its bottom right corner, 3 in." in text


def test_a_place_on_the_side_she_sews_along_is_told_by_its_measure_alone():
    plan = planned(SASHED.replace("['sand sea', 'sea sand']", "['sand', 'sea', 'sea']"))
    text = told(plan, (8, 8), (8, 6), (8, 4))[0]
    assert "Up along the right side of A1, to a third of the way down, 4 in." in text


def test_a_place_on_the_edge_without_a_name_leaves_no_gap_in_the_sentence():
    text = SQUARES + "[[layout.borders]]\nwidth=2\nfabric='coral'\n[[fills]]\nregion='border 1'\n"
    text += "style='motif rows'\nmotif='breaker.svg'\nid='breaker'\nspacing='1 1/4 in'\n"
    texts = [s.text for run in directions(planned(text, time_limit=1)) for s in run.steps]
    assert any("in again at the left edge, at the left border, " in t for t in texts)
    assert not any("  " in t or " :" in t for t in texts)


def test_a_way_past_several_blocks_names_them(sashed):
    points = [(2, y) for y in (2, 5, 8, 9, 12, 15)]
    (text,) = told(sashed, *points)
    assert "Down along the right side of the left border, past A1 and B1" in text
    assert text.count("Low side") == 1


def test_the_cornerstone_is_named_by_the_blocks_it_joins(sashed):
    text = told(sashed, (8, 9), (8, 8), (9, 8))[1]
    assert "along the top of the cornerstone between A1 and B2" in text


def test_places_that_a_quilter_would_point_at_have_names(sashed):
    spots = Spots(Places(sashed.top))
    named = {
        (2, 2): "the top left corner of A1",
        (5, 5): "the centre of A1",
        (8, 5): "the middle of the right side of A1",
        (9, 12): "the middle of the left side of B2",
        (0, 7): "the left edge",
        (0, 0): "the top left corner of the top",
        (2, 4): "a third of the way down the left side of A1",
        (3, 8): "a sixth of the way along the bottom of A1",
        (2, 2.8): "the left side of A1, 13/16 in from its top",
        (7.2, 8): "the bottom of A1, 13/16 in from its right end",
        (1, 8.5): "None",
    }
    for point, name in named.items():
        at = np.array(point) * INCH
        assert str(spots.corner(at) or spots.along(at)) == name


def test_a_place_on_open_ground_is_told_by_what_she_can_measure(squares):
    said = Landmarks(squares).at(np.array([22.0, 33.0]))
    assert said == "the place 7/8 in across and 1 5/16 in down A1"


def three_arms(plan):
    """Lines through the piece that meet in one place, three of them."""
    middle = np.array(plan.top.pieces[0].shape.centroid.coords[0])
    ways = np.array([(0, -40), (30, 30), (-30, 30)])
    lines = [
        replace(line, points=np.array([middle, middle + way]))
        for line, way in zip(plan.lines, ways, strict=False)
    ]
    return replace(plan, lines=tuple(lines)), middle


def test_where_three_arms_meet_is_the_centre():
    plan, middle = three_arms(planned(STARFISH))
    assert Landmarks(plan).at(middle, plan.lines[0]) == "the centre of the starfish on A1"


def test_a_motif_that_lies_on_many_blocks_is_named_by_three_of_them(squares):
    marks = Landmarks(squares)
    marks.__dict__["_motifs"] = {0: ["A1", "A2", "A3", "B1"], 1: ["C1", "C2", "C3"]}
    named = [marks.owner(Subject(motif=k)) for k in (0, 1)]
    assert named == ["the motif in A1, A2 and A3", "the motif in C1, C2 and C3"]


@pytest.mark.parametrize(("degrees", "corners"), [(4, 4), (6, 5)])
def test_no_corner_is_named_where_she_feels_none(degrees, corners):
    """An outline that turns five degrees or less goes straight on under the finger."""
    rise = 50 * np.tan(np.radians(degrees / 2))
    roof = shapely.Polygon([(0, 0), (50, -rise), (100, 0), (100, 100), (0, 100)])
    assert len(_corners(roof)) == corners


def test_three_blocks_beside_a_seam_are_named_and_four_are_counted(sashed):
    places, blocks = Places(sashed.top), [block.place for block in sashed.top.blocks]
    assert _listed(places, blocks[:3]) == "A1, A2 and B1"
    assert _listed(places, blocks) == "A1 to B2 (4 blocks)"


@pytest.mark.parametrize(
    ("longer", "off", "told"),
    [
        (1.0, 0.0, True),
        (1.001, 0.0, True),
        (1.003, 0.0, False),
        (1.0, 0.01, True),
        (1.0, 0.04, False),
    ],
)
def test_how_far_a_seam_is_from_the_top_is_told_only_where_it_is_straight_and_level(
    squares, longer, off, told
):
    start, stop = np.array([0.0, 50.0]), np.array([152.4, 50.0 + off])
    bit = Bit(0, 1, start, stop, longer * 152.4)
    said = _how_far(Places(squares.top), [bit], [Place("block", 0, 0)])
    assert said == (", 1 15/16 in from its top" if told else "")


def test_a_place_by_which_one_comes_is_named_by_that_block():
    top = planned(SQUARES.replace('["squares"]', '["squares squares"]')).top
    spots = Spots(Places(top))
    at = np.array([6.0, 3.0]) * INCH
    assert str(spots.corner(at, Place("block", 0, 1))) == "the middle of the left side of A2"
    assert str(spots.corner(at, Place("block", 0, 0))) == "the middle of the right side of A1"


def test_borders_and_setting_triangles_have_names_that_can_be_found():
    text = SQUARES.replace(
        'rows = ["squares"]',
        'rows = ["squares squares", "squares", "squares squares"]\n'
        'on_point = true\nsetting = "sand"\n'
        + "[[layout.borders]]\nwidth = 1\nfabric = 'sea'\n"
        * 3,
    )
    top = planned(text, time_limit=0.5).top
    places = Places(top)
    units = {p.place.name: places.unit(i) for i, p in enumerate(top.patches)}
    assert units["border 1 left"] == "the inner left border"
    assert units["border 2 top"] == "the middle top border"
    assert units["border 3 right"] == "the outer right border"
    settings = [words for place, words in units.items() if place.startswith("setting")]
    assert "the setting triangle above A1 and A2" in settings
    assert "the setting triangle at the upper left of A1" in settings
    assert len(set(settings)) == 8


def test_she_knows_on_which_edge_of_a_ring_to_stop():
    plan = make_plan(load_design(DESIGNS / "curved-cushion.toml"))
    texts = [step.text for run in directions(plan) for step in run.steps]
    assert any(
        "Start inside the top, at the inner edge of the life ring, where" in t for t in texts
    )
    assert any("to the outer edge of the life ring, 3 in." in t for t in texts)


# A starfish: five arms that meet in the middle


def test_she_knows_on_which_of_several_echoes_to_start():
    echoed = STARFISH.replace("size = 7", "size = 3\necho = { step = '1/2 in', count = 3 }")
    first = [run.steps[0].text for run in directions(planned(echoed, time_limit=0))]
    for n in (1, 2, 3):
        start, on = f"echo {n} of starfish on A1 (echo 1 is the inmost), ", f"along echo {n} of"
        assert sum(start in text and on in text for text in first) == 1


def test_the_arms_of_a_starfish_are_told_by_the_clock():
    (piece,) = planned(STARFISH).top.pieces
    plan = planned(STARFISH)
    texts = [step.text for run in directions(plan) for step in run.steps]
    tips = re.findall(
        r"out along the middle of the (\d+) o'clock arm to its tip", " ".join(texts), re.IGNORECASE
    )
    ins = re.findall(
        r"in along the middle of the (\d+) o'clock arm to the centre",
        " ".join(texts),
        re.IGNORECASE,
    )
    assert len(set(tips) | set(ins)) == 5
    middle = shapely.Point(piece.shape.centroid)
    ends = [p for line in plan.lines for p in (line.points[0], line.points[-1])]
    far = [p for p in ends if middle.distance(shapely.Point(p)) > 2 * INCH]
    hub = min(ends, key=lambda p: middle.distance(shapely.Point(p)))
    # An hour is 30 degrees: angle from twelve, clockwise, by arctangent.
    hours = {round(np.degrees(np.arctan2(x - hub[0], hub[1] - y)) / 30) % 12 or 12 for x, y in far}
    assert {int(hour) for hour in (*tips, *ins)} == hours


@pytest.mark.parametrize(
    ("way", "words"),
    [
        ((0, 1), ("down", "bottom", "6 o'clock")),
        ((0, -1), ("up", "top", "12 o'clock")),
        ((1, 0), ("across to the right", "right side", "3 o'clock")),
        ((-1, 0), ("across to the left", "left side", "9 o'clock")),
        ((1, 1), ("slanting down to the right", "lower right side", None)),
        ((-1, -1), ("slanting up to the left", "upper left side", None)),
        ((-1, 0.2), ("across to the left", "left side", None)),
    ],
)
def test_directions_are_those_of_the_quilt_on_the_wall(way, words):
    assert (heading(way), side(way)) == words[:2]
    if words[2]:
        assert clock(way) == words[2]


# Laws


@law
@given(layouts())
def test_every_leg_is_told_once_and_in_order(text):
    plan = _planned_if_any(text)
    told_runs = directions(plan)
    assert [d.run for d in told_runs] == [run.number for run in plan.runs]
    for run, words in zip(plan.runs, told_runs, strict=True):
        legs = [k for s in words.steps for k in range(s.first_leg, s.last_leg + 1)]
        assert legs == list(range(len(run.legs)))
        assert words.steps[0].text.startswith("Start ")
        assert words.steps[0].turn is None
        assert "Stop" in words.steps[-1].text
        for step in words.steps:
            assert step.text.endswith(".")
            assert "  " not in step.text
            assert " 0 in" not in step.text


@law
@given(layouts())
def test_turn_heading_and_low_side_are_true(text):
    plan = _planned_if_any(text)
    dark = {name: darkness(fabric) for name, fabric in plan.top.fabrics.items()}
    for run, words in zip(plan.runs, directions(plan), strict=True):
        for before, step in zip((None, *words.steps), words.steps, strict=False):
            first = run.legs[step.first_leg]
            way = first.points[1] - first.points[0]
            if before is not None:
                last = run.legs[step.first_leg - 1].points
                came = last[-1] - last[-2]
                assert step.turn == _hand(came, way)
                if step.text.startswith(("Pivot", "Bear")):
                    turn = step.turn if step.turn.startswith("bear") else f"pivot {step.turn}"
                    assert step.text.lower().startswith(turn)
            if first.line >= 0 and plan.lines[first.line].seam >= 0:
                assert step.low == _low(plan, first, dark)
                assert f"Low side on your {step.low}" in step.text
                begin, end = first.points[0], run.legs[step.last_leg].points[-1]
                _check_heading(step.text, end - begin if run.legs[-1].do != "travel" else way)


def _planned_if_any(text):
    try:
        return planned(text, time_limit=0.2)
    except StitchpathError as error:
        assume("nothing to stitch" not in str(error))
        raise


def _hand(came, way):
    """Left or right by the cross product: y points down, so positive is to the right."""
    cross, dot = came[0] * way[1] - came[1] * way[0], came @ way
    angle = np.degrees(np.arctan2(cross, dot))
    if abs(angle) <= 3:
        return "straight"
    if abs(angle) >= 170:
        return "back"
    word = "right" if angle > 0 else "left"
    return word if abs(angle) > 30 else f"bear {word}"


def _low(plan, leg, dark):
    """The side of the lighter patch; of two alike that of the earlier one."""
    middle = (leg.points[0] + leg.points[1]) / 2
    way = leg.points[1] - leg.points[0]
    across = np.array([-way[1], way[0]]) / np.hypot(*way) * 0.05
    patches = []
    for point in (middle + across, middle - across):
        (found,) = [
            i for i, p in enumerate(plan.top.patches) if p.polygon.contains(shapely.Point(point))
        ]
        patches.append(found)
    right, left = ((dark[plan.top.patches[i].fabric], i) for i in patches)
    return "right" if right < left else "left"


def _check_heading(text, way):
    if abs(way[0]) < 0.01 < abs(way[1]):
        assert re.search(r"\b(down|up)\b", text, re.IGNORECASE)[0].lower() == (
            "down" if way[1] > 0 else "up"
        )
    elif abs(way[1]) < 0.01 < abs(way[0]):
        word = re.search(r"across to the (left|right)", text, re.IGNORECASE)[1]
        assert word == ("right" if way[0] > 0 else "left")


def test_lengths_add_up_to_the_run(runner):
    (run, *_) = directions(runner)
    told_in = 0.0
    for step in run.steps:
        before_low = step.text.split(" Low side")[0]
        *_, (whole, over, under) = re.findall(r"(?:, |: )(\d*) ?(?:(\d+)/(\d+))? in\b", before_low)
        told_in += int(whole or 0) + (int(over) / int(under) if over else 0)
    length = sum(
        float(shapely.LineString(leg.points).length)
        for leg in runner.runs[0].legs
        if leg.along != "margin"
    )
    assert told_in == pytest.approx(length / INCH, abs=len(run.steps) / 8)


def test_a_big_top_is_told_pass_by_pass():
    cells = " ".join(["sand", "sea"] * 6)
    other = " ".join(["sea", "sand"] * 6)
    text = SQUARES.replace(
        "grid = ['sand sea', 'sea sand']", f"grid = {[cells, other] * 6!r}"
    ).replace('rows = ["squares"]', 'rows = ["squares*3"]\nrepeat = 3')
    plan = planned(text, time_limit=1)
    legs = sum(len(run.legs) for run in plan.runs)
    steps = [step for run in directions(plan) for step in run.steps]
    assert legs > 2400
    assert len(steps) < 260  # 70 seams straight through, and the ways between them
    assert any("through A1 to A3 (3 blocks)" in s.text or "A1, A2 and A3" in s.text for s in steps)


@pytest.mark.parametrize(
    ("where", "said"),
    [
        ("run end", "at the end of run 3"),
        ("margin", "in the margin, step 2 of run 3"),
        ("pivot", "at a turn, step 2 of run 3"),
        ("line", "in mid seam, step 2 of run 3: secure both ends"),
    ],
)
def test_a_bobbin_change_is_told_by_the_step_that_it_falls_in(where, said):
    told = RunDirections(3, "", (Step("", 0, 1), Step("", 2, 4)))
    stop = RunPoint(3, 3, 10.0, (0.0, 0.0))
    assert change_place(BobbinChange("grey", 1, stop, where, None, 0.0), [told]) == said


# All of a step in one line, for a glance from the machine


def test_a_line_says_turn_place_and_length(runner):
    lines = [step.line for run in directions(runner) for step in run.steps]
    assert 'right, between "sail" and "mast" in A5, 5 3/4 in' in lines
    assert "turn back, in along the middle of the 10 o'clock arm to the centre, 3 3/4 in" in lines
    said = {None: "start", "straight": "straight on", "back": "turn back"}
    for run in directions(runner):
        for step in run.steps:
            assert step.line.startswith(f"{said.get(step.turn, step.turn)}, ")
            assert step.line.endswith(" in")
            assert "low side" not in step.line


def test_a_line_says_of_a_seam_sewn_back_only_that_it_is_the_same(squares):
    (run,) = directions(walked(squares, (3, 3), (0, 3), (3, 3), (6, 3)))
    assert [step.line for step in run.steps] == [
        'start, between "sea" and "sand" in A1, 3 in',
        "turn back, over the same seam and on, 6 in",
    ]


@pytest.mark.parametrize(
    ("unit", "far", "said"),
    [
        ("in", 1.9375, "1 15/16 in"),
        ("in", 2.0625, "2 in"),
        ("in", 2.1875, "2 1/4 in"),
        ("cm", 4.9, "4.9 cm"),
        ("cm", 5.2, "5 cm"),
        ("cm", 5.3, "5.5 cm"),
    ],
)
def test_lengths_in_a_line_are_as_an_eye_can_judge_them(unit, far, said):
    """To a quarter inch beyond 2 in, to half a centimetre beyond 5 cm: our own choice."""
    per = {"in": INCH, "cm": 10.0}[unit]
    text = SQUARES.replace("[fabrics]", f'unit = "{unit}"\n[fabrics]', 1)
    plan = planned(text.replace("size = 6", f"size = {2 * far}"))
    middle = far * per / INCH
    (run,) = directions(walked(plan, (0, middle), (middle, middle)))
    assert run.steps[0].line.endswith(f", {said}")
