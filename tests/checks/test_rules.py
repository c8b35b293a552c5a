"""Rules that are printed as facts, each just this side and just that side of its measure."""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import drawn, top
from shapely import affinity
from svgpathtools import parse_path

from stitchpath import StitchpathError
from stitchpath.checks.pieces import check_pieces
from stitchpath.checks.rivers import check_rivers
from stitchpath.design.model import Fabric
from stitchpath.design.outlines import flatten_path
from stitchpath.geometry.corners import corners, split_at_corners
from stitchpath.geometry.turns import hand, turn_angle
from stitchpath.lines.line import Line
from stitchpath.top.build import darkness
from stitchpath.top.place import Place, Subject

INCH = 25.4


# ---- raw edges fray a quarter inch from stitching, arms under an eighth are narrow ----


def told(shape, *paths, kind="centre", fused="after", on="A1", patches=(), out_and_back=None):
    """Codes, places and words of what is told of one piece."""
    asked = SimpleNamespace(fused=fused, on=on, name="shell", stage=None, out_and_back=out_and_back)
    host = None if on == "top" else Place("block", 0, 0)
    piece = SimpleNamespace(number=0, shape=shape, asked=asked, host=host, told=())
    of = Subject(pieces=(0,), echo=int(kind == "echo"))
    lines = [Line(kind, 2, "grey", np.array(path, dtype=float), of) for path in paths]
    design = SimpleNamespace(unit="in", seam_allowance=INCH / 4)
    top = SimpleNamespace(pieces=[piece], patches=list(patches), names={})
    found = check_pieces(design, top, lines)
    return {check.code: check for check in found}


def strip(width, length=200.0):
    return shapely.box(0, 0, length, width), [(0, width / 2), (length, width / 2)]


def test_an_edge_a_quarter_inch_from_stitching_does_not_fray_and_one_beyond_does():
    near, far = (told(*strip(2 * (INCH / 4 + more))) for more in (-0.01, 0.02))
    assert "raw-edge" not in near
    assert far["raw-edge"].message.startswith("94% of the edge of shell on A1 has no stitching")
    assert "within 1/4 in" in far["raw-edge"].message


@pytest.mark.parametrize(("loose", "said"), [(5.9, False), (6.2, True)])
def test_a_raw_edge_is_worth_a_word_from_6_mm_on(loose, said):
    gap = loose + 2 * INCH / 4
    square = shapely.box(0, 0, 100, 100)
    around = [(50 + gap / 2, 0), (100, 0), (100, 100), (0, 100), (0, 0), (50 - gap / 2, 0)]
    found = told(square, around, kind="outline")
    assert ("raw-edge" in found) == said
    if said:
        assert found["raw-edge"].at == pytest.approx((50, 0))
        assert found["raw-edge"].message.startswith("2% of the edge")


def test_of_two_raw_bits_the_longer_is_shown():
    square = shapely.box(0, 0, 100, 100)
    one = [(70, 0), (100, 0), (100, 30)]
    other = [(100, 90), (100, 100), (0, 100), (0, 0), (30, 0)]
    found = told(square, one, other, kind="outline")["raw-edge"]
    assert found.at == pytest.approx((100, 60))
    assert found.message.startswith("19% of the edge")  # 40 + 60 less 4 quarter inches, of 400


def test_of_raw_bits_alike_the_uppermost_left_one_is_shown_whichever_way_the_edge_runs():
    cross = [(50, 0), (50, 100)], [(0, 50), (100, 50)]
    corners = [(0, 0), (100, 0), (100, 100), (0, 100)]
    for first in range(4):
        ring = shapely.Polygon(corners[first:] + corners[:first])
        for shape in (ring, ring.reverse()):
            x, y = told(shape, *cross)["raw-edge"].at
            assert max(x, y) < 50


def test_a_piece_without_lines_has_no_edge_to_tell_of_but_is_not_held():
    assert set(told(shapely.box(0, 0, 50, 50))) == {"piece-not-held"}


def test_an_echo_does_not_hold_a_piece_and_each_part_is_told():
    ring = [(-5, -5), (105, -5), (105, 55), (-5, 55), (-5, -5)]
    parts = shapely.MultiPolygon([shapely.box(0, 0, 40, 50), shapely.box(60, 0, 100, 50)])
    assert "piece-not-held" in told(parts, ring, kind="echo")
    assert "piece-not-held" not in told(parts, [(0, 25), (100, 25)])
    at = told(parts, [(0, 25), (40, 25)])["piece-not-held"].at
    assert shapely.box(60, 0, 100, 50).contains(shapely.Point(at))


@pytest.mark.parametrize(("width", "said"), [(INCH / 8 - 0.01, True), (INCH / 8 + 0.01, False)])
def test_an_arm_is_narrow_under_an_eighth_of_an_inch(width, said):
    found = told(*strip(width))
    assert ("narrow-arm" in found) == said
    if said:
        assert "is only 1/8 in wide" in found["narrow-arm"].message
        x, y = found["narrow-arm"].at
        assert INCH / 4 < x < 200 - INCH / 4
        assert y == pytest.approx(width / 2)


@pytest.mark.parametrize(("length", "said"), [(12.7 + 5.0, False), (12.7 + 7.0, True)])
def test_tips_may_run_out_and_a_narrow_bit_under_6_mm_is_not_worth_a_word(length, said):
    assert ("narrow-arm" in told(*strip(3.0, length))) == said


def test_a_thin_ring_is_narrow_though_its_line_has_no_end():
    around = np.linspace(0, 2 * np.pi, 73)
    middle = 30 * np.column_stack([np.cos(around), np.sin(around)])
    middle[-1] = middle[0]
    ring = shapely.LineString(middle)
    assert "narrow-arm" in told(ring.buffer(1.2), middle)
    assert "narrow-arm" not in told(ring.buffer(1.8), middle)


@pytest.mark.parametrize(("width", "said"), [(2.9, True), (3.5, False)])
def test_an_arm_stitched_out_and_back_is_as_narrow_as_it_is_and_its_tips_do_not_count(width, said):
    y = width / 2
    there = [(2, y), (3, y - 0.5), (97, y - 0.5), (98, y), (97, y + 0.5), (3, y + 0.5), (2, y)]
    arm = shapely.box(0, 0, 100, width)
    pointed = arm | shapely.Polygon([(-5, y), (0, 0), (0, width)])
    for shape in (arm, pointed):
        found = told(shape, there, out_and_back=1.0)
        assert ("narrow-arm" in found) == said
        if said:
            assert "only 1/8 in wide" in found["narrow-arm"].message
            assert 5 < found["narrow-arm"].at[0] < 95


def test_of_arms_as_narrow_the_uppermost_is_told_whichever_comes_first():
    arms = [shapely.box(0, y, 60, y + 2) for y in (0, 30)]
    lines = [[(2, y + 1), (58, y + 1)] for y in (0, 30)]
    for order in (lines, lines[::-1]):
        assert told(shapely.union_all(arms), *order)["narrow-arm"].at[1] < 2


def test_a_line_that_bends_runs_out_at_its_two_ends_not_at_its_bend():
    bent = [(0, 1.5), (1, 1.5), (18, 1.5)]
    assert "narrow-arm" not in told(shapely.box(0, 0, 18, 3.0), bent)
    assert "narrow-arm" not in told(shapely.box(0, 0, 18, 3.0), bent[::-1])


def test_a_narrow_place_is_shown_where_the_arm_is_narrowest():
    waist = shapely.Polygon([(0, 0), (60, 4.9), (120, 0), (120, 10), (60, 6.9), (0, 10)])
    found = told(waist, [(0, 5.9), (120, 5.9)])["narrow-arm"]
    assert found.at[0] == pytest.approx(60, abs=1)


def test_where_three_lines_meet_is_no_tip():
    arms = [[(0, 1.5), (30, 1.5)], [(30, 1.5), (60, 1.5)]]
    alone = told(shapely.box(0, 0, 30, 3.0), arms[0])
    both = told(shapely.box(0, 0, 60, 3.0), *arms)
    assert "narrow-arm" in alone
    assert "narrow-arm" in both


def patch(column, x0, x1):
    return SimpleNamespace(place=Place("block", 0, column), polygon=shapely.box(x0, 0, x1, 100))


def test_a_piece_fused_before_quilting_keeps_within_its_block_or_is_told():
    patches = [patch(0, 0, 100), patch(1, 100, 200)]
    inside = told(shapely.box(10, 10, 100, 90), fused="before", on="A1", patches=patches)
    over = told(shapely.box(10, 10, 100.5, 90), fused="before", on="A1", patches=patches)
    assert "piece-over-seam" not in inside
    rounded, beyond = (  # a hundredth of a millimetre is a rounding
        told(shapely.box(10, 10, x, 90), fused="before", on="A1", patches=patches)
        for x in (100.009, 100.011)
    )
    assert "piece-over-seam" not in rounded
    assert "piece-over-seam" in beyond
    assert "within 1/4 in of the raw edge" in over["piece-over-seam"].message
    assert over["piece-over-seam"].at[0] > 100
    later = told(shapely.box(10, 10, 100.5, 90), fused="after", on="A1", patches=patches)
    assert "piece-over-seam" not in later


def test_a_piece_across_a_seam_is_fused_after_joining_and_one_that_just_touches_is_not_told():
    patches = [patch(0, 0, 100), patch(1, 100, 200)]
    across = told(shapely.box(50, 10, 150, 90), fused="before", on="top", patches=patches)
    assert "between A1 and A2" in across["piece-after-joining"].message
    grazing = told(shapely.box(50, 10, 100.001, 90), fused="before", on="top", patches=patches)
    assert "piece-after-joining" not in grazing
    a_little = told(shapely.box(50, 10, 100.002, 90), fused="before", on="top", patches=patches)
    assert "piece-after-joining" in a_little  # 0.16 mm² of it


# ---- the darker side is high ----


@pytest.mark.parametrize(
    ("colour", "lightness"),
    [
        # CIE 1976 L* under D65 of the primaries of sRGB: published conversion tables, from memory.
        ("#ff0000", 53.24),
        ("#00ff00", 87.73),
        ("#0000ff", 32.30),
        # By hand from IEC 61966-2-1 and CIE 15: 903.3 (c / 12.92) below, the powers above.
        ("#030303", 0.823),
        ("#0a0a0a", 2.742),
        ("#0d0d0d", 3.635),
        ("#171717", 7.740),
        ("#1e1e1e", 11.260),
    ],
)
def test_dark_is_weighed_as_the_eye_weighs_red_green_and_blue(colour, lightness):
    assert 100 * (1 - darkness(Fabric(colour=colour))) == pytest.approx(lightness, abs=0.012)


LEFT = ("left", "sand", "points = [[0,0],[4,0],[4,10],[0,10]]")
RIGHT = ("right", "sea", "points = [[4,0],[10,0],[10,10],[4,10]]")


def high_patch(left, right, rest=""):
    made = top(drawn(left, right, rest=rest))
    (seam,) = made.seams
    return {-1: seam.left, 1: seam.right, 0: None}[seam.high], made


def test_of_two_patches_alike_the_later_is_high():
    for one, two in ((LEFT, (RIGHT[0], "sand", RIGHT[2])), ((LEFT[0], "sea", LEFT[2]), RIGHT)):
        assert high_patch(one, two)[0] == 1


def test_the_darker_is_high_on_whichever_side_it_lies():
    for one, two in ((LEFT, RIGHT), ((LEFT[0], "sea", LEFT[2]), (RIGHT[0], "sand", RIGHT[2]))):
        number, made = high_patch(one, two)
        assert made.patches[number].fabric == "sea"


def test_toward_a_fabric_speaks_only_where_one_side_is_of_it():
    toward = '[press]\ndefault = "toward sand"'
    for one, two in ((LEFT, RIGHT), ((LEFT[0], "sea", LEFT[2]), (RIGHT[0], "sand", RIGHT[2]))):
        number, made = high_patch(one, two, toward)
        assert made.patches[number].fabric == "sand"
    both = (RIGHT[0], "sand", RIGHT[2])
    assert high_patch(LEFT, both, toward)[0] == 1


# ---- turns in words ----


@pytest.mark.parametrize(
    ("degrees", "word"),
    [(0, "straight"), (29.9, "straight"), (30, "straight"), (30.0000001, "straight"),
     (30.1, "right"), (-30, "straight"), (-30.1, "left"), (169.9, "right"), (-169.9, "left"),
     (170, "back"), (-170, "back"), (169.9999999, "back"), (180, "back")],
)  # fmt: skip
def test_a_turn_is_named_by_its_degrees(degrees, word):
    assert hand(degrees) == word


def test_straight_back_is_never_said_to_the_left():
    assert turn_angle((2, -0.0), (-1, -0.0)) == 180
    assert turn_angle((2, 0.0), (-1, -0.0)) == 180


def test_turns_are_measured_for_one_place_and_for_many():
    angles = np.radians(np.arange(-175, 181, 5))
    leave = 3 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    assert turn_angle((2, 0), leave) == pytest.approx(np.arange(-175, 181, 5))
    back = np.stack([-leave[:, 1], leave[:, 0]], axis=1)  # set out a quarter turn to the right
    assert turn_angle((0, 5), back) == pytest.approx(np.arange(-175, 181, 5))


# ---- curves drawn with straight pieces ----


def stands_out(data, tolerance):
    """How far the polyline stands out from the curve, seen along the curve by svgpathtools."""
    (flat,) = flatten_path(data, "shell", tolerance)
    curve = parse_path(data)
    at = np.array([curve.point(t) for t in np.linspace(0, 1, 2001)])
    away = shapely.distance(shapely.points(at.real, at.imag), shapely.LineString(flat))
    return float(away.max()), flat


CURVES = {
    "arc": "M 0 0 A 50 50 0 0 1 100 0",
    "ellipse": "M 0 0 A 80 30 20 1 0 60 40",
    "cubic": "M 0 0 C 20 90 80 -40 100 30",
    "square": "M 0 0 Q 40 120 100 10",
}


@pytest.mark.parametrize("data", CURVES.values(), ids=CURVES)
@pytest.mark.parametrize("tolerance", [0.05, 0.5])
def test_no_curve_stands_out_further_than_it_may_nor_takes_many_pieces_for_nothing(data, tolerance):
    most, flat = stands_out(data, tolerance)
    assert 0.2 * tolerance < most <= tolerance * (1 + 1e-6)
    curve = parse_path(data)
    assert complex(*flat[0]) == pytest.approx(curve.start, abs=1e-9)
    assert complex(*flat[-1]) == pytest.approx(curve.end, abs=1e-9)


def test_an_arc_takes_the_fewest_chords_and_a_parabola_too():
    # Chord of a half circle of 50 mm that stands out 0.05 mm: 2 acos(1 - 0.05 / 50) = 5.126°.
    assert len(stands_out(CURVES["arc"], 0.05)[1]) == 36 + 1
    # And so it does far from the corner of the drawing.
    assert len(stands_out("M 900 800 A 50 50 0 0 1 1000 800", 0.05)[1]) == 36 + 1
    # Wang's bound: n (n - 1) / 8 of the second difference; for (0 0, 40 120, 100 10) 230.9.
    assert len(stands_out(CURVES["square"], 0.05)[1]) == 34 + 1
    # Cubic: second differences (40, -220) and (-40, 200), 6 / 8 of 223.6, root of 3354.
    assert len(stands_out(CURVES["cubic"], 0.05)[1]) == 58 + 1


def test_straight_pieces_stay_as_drawn_and_points_that_repeat_fall_together():
    one, two = flatten_path("M 0 0 L 4 0 L 4 0 L 4 4 Z M 9 9 h 3 v 2", "shell", 0.05)
    assert one.tolist() == [[0, 0], [4, 0], [4, 4], [0, 0]]
    assert two.tolist() == [[9, 9], [12, 9], [12, 11]]
    (even,) = flatten_path("M 0 0 Q 5 0 10 0", "shell", 0.05)  # a curve without a bend
    assert even.tolist() == [[0, 0], [10, 0]]


def test_a_curve_too_fine_for_her_takes_ten_thousand_pieces_and_no_more():
    (flat,) = flatten_path(CURVES["arc"], "shell", 1e-12)
    assert len(flat) == 10_001
    (flat,) = flatten_path(CURVES["square"], "shell", 1e-12)
    assert len(flat) == 10_001
    for name in ("arc", "square"):
        assert len(flatten_path(CURVES[name], "shell", 0.0)[0]) == 10_001
    (coarse,) = flatten_path(CURVES["arc"], "shell", 500.0)
    assert len(coarse) == 2


@pytest.mark.parametrize("data", ["L 4 0 L 4 4", "M 0 0 L 4 0 X", "", "4 0"])
def test_what_is_no_path_is_refused(data):
    with pytest.raises(StitchpathError, match="expected SVG path data"):
        flatten_path(data, "shell", 0.05)


@pytest.mark.parametrize("data", ["M 0 0 L 2e9 0", "M 0 0 L 1e999 0", "M 0 0 L nan 0"])
def test_numbers_out_of_range_are_refused(data):
    with pytest.raises(StitchpathError, match="shell: found"):
        flatten_path(data, "shell", 0.05)


def test_a_billion_is_still_a_number():
    (flat,) = flatten_path("M 0 0 L 1e9 0", "shell", 0.05)
    assert flat[-1, 0] == 1e9


# ---- corners ----


def test_a_pivot_is_a_corner_and_a_blunt_turn_is_one_between_long_pieces_only():
    def corner(degrees, length):
        return corners(np.array([length, length]), np.array([degrees, 0.0])).tolist()

    assert corner(30.1, 0.1) == [True, False]
    # Of 20° the arc stands out by half the shorter piece times tan 5°: 0.05 mm at 1.143 mm.
    assert corner(20, 1.13) == [False, False]
    assert corner(20, 1.16) == [True, False]
    # Of 5° and less never, of 5.1° from 4.494 mm on.
    assert corner(4.9, 100.0) == [False, False]
    assert corner(5.1, 100.0) == [True, False]
    assert corner(5.1, 4.45) == [False, False]
    assert corner(5.1, 4.55) == [True, False]
    assert corner(180.0, 0.01) == [True, False]


def test_the_shorter_of_two_pieces_tells_a_curve_from_a_corner():
    turn = np.array([20.0, 20.0, 0.0])
    assert corners(np.array([9.0, 1.0, 9.0]), turn).tolist() == [False, False, False]
    assert corners(np.array([1.0, 9.0, 9.0]), turn).tolist() == [False, True, False]


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=12))
def test_a_path_cut_at_its_corners_is_the_same_path(points):
    parts = split_at_corners(np.array(points, dtype=float))
    moved = [p for k, p in enumerate(points) if k == 0 or p != points[k - 1]]
    if len(moved) < 2:
        assert parts == []
        return
    for one, two in pairwise(parts):
        assert one[-1].tolist() == two[0].tolist()
    walked = [tuple(parts[0][0]), *(tuple(p) for part in parts for p in part[1:])]
    assert walked == moved
    turns = np.abs(turn_angle(np.diff(moved, axis=0)[:-1], np.diff(moved, axis=0)[1:]))
    sharp = int((turns > 30 + 1e-9).sum())
    assert sharp <= len(parts) - 1 <= int((turns > 5).sum())


# ---- an eye follows a straight band of ten spacings and 8 in ----


@pytest.mark.parametrize(
    ("spacing", "long", "wide", "style", "said"),
    [
        (1.0, 11.4, 1.3, "meander", True),
        (1.0, 10.6, 1.3, "meander", False),
        (1.0, 14.0, 0.9, "meander", False),
        (0.5, 8.9, 0.7, "meander", True),
        (0.5, 8.3, 0.7, "meander", False),
        (1.0, 14.0, 1.3, "parallel", False),
    ],
)
def test_a_river_through_what_should_wander_is_told_and_a_short_or_narrow_one_is_not(
    spacing, long, wide, style, said
):
    # inch by inch: a clear band in the middle of ground that is dense with upright lines
    ground = shapely.box(0, 0, 16 * INCH, 6 * INCH)
    clear = shapely.box(*(INCH * at for at in (1, 3 - wide / 2, 1 + long, 3 + wide / 2)))
    upright = [
        shapely.LineString([(x, 0), (x, 6 * INCH)]) for x in np.arange(0, 16 * INCH, INCH / 8)
    ]
    drawn = [part for line in upright for part in shapely.get_parts(line.difference(clear))]
    looked = SimpleNamespace(
        design=SimpleNamespace(
            fills=[SimpleNamespace(style=style, spacing=spacing * INCH)], unit="in"
        ),
        regions=((SimpleNamespace(shape=ground),),),
        lines=[SimpleNamespace(points=shapely.get_coordinates(line)) for line in drawn],
    )
    found = list(check_rivers(looked))
    assert [check.code for check in found] == ["river"] * said
    assert all(abs(check.at[1] - 3 * INCH) < INCH / 4 for check in found)


def rivers(grounds, fills, upright):
    """What is said of fills, an inch apart, over ground that is dense with lines but at gaps."""
    looked = SimpleNamespace(
        design=SimpleNamespace(
            fills=[SimpleNamespace(style=style, spacing=INCH) for style in fills], unit="in"
        ),
        regions=[[SimpleNamespace(shape=part) for part in parts] for parts in grounds],
        lines=[SimpleNamespace(points=shapely.get_coordinates(line)) for line in upright],
    )
    return [check.message for check in check_rivers(looked)]


def test_a_river_is_told_as_the_seam_it_runs_along_or_as_a_matter_of_seed_and_alike_ones_once():
    def dense(x, y):
        return [
            shapely.LineString([(x + dx, y + a * INCH), (x + dx, y + b * INCH)])
            for dx in np.arange(0, 16 * INCH, INCH / 8)
            for a, b in ((0, 2.4), (3.6, 6))
        ]

    whole = [shapely.box(0, 0, 16 * INCH, 6 * INCH)]
    halves = [shapely.box(0, y * INCH, 16 * INCH, (y + 3) * INCH) for y in (0, 3)]
    below = [affinity.translate(part, 0, 10 * INCH) for part in whole]
    (within,) = rivers([whole], ["meander"], dense(0, 0))
    assert within.startswith("A straight gap 15")
    assert within.endswith("and the eye will follow it: give the meander another seed.")
    (between,) = rivers([halves], ["meander"], dense(0, 0))
    assert "where blocks or patches are each filled by themselves" in between
    both = rivers([whole, below], ["meander", "meander"], dense(0, 0) + dense(0, 10 * INCH))
    assert ["(and in 1 more)" in said for said in both] == [True]
    assert len(rivers([halves, below], ["meander"] * 2, dense(0, 0) + dense(0, 10 * INCH))) == 2
