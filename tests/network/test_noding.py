"""Lines meet only at their ends, however nearly they lie over each other."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import ROOT, SQUARES, check_laws, planned, verify

from stitchpath import StitchpathError, load_design, make_plan
from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.frame.windows import Window
from stitchpath.lines.line import Line
from stitchpath.network.noding import SHORTEST, node_lines
from stitchpath.top.place import Subject

HOSTILE = ROOT / "tests" / "hostile"


def fill(*points, thread="grey"):
    return Line("fill", 1, thread, np.array(points, dtype=float))


def ditch(*points):
    return Line("ditch", 1, "grey", np.array(points, dtype=float), Subject(seam=0))


def whole(points):
    """Coordinates as whole micrometres, for arithmetic without rounding."""
    return [tuple(round(v / GRID) for v in p) for p in points.tolist()]


def side(a, b, c):
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def on(a, b, c):
    """Whether c lies on the straight piece from a to b, its ends among it."""
    within = all(min(a[i], b[i]) <= c[i] <= max(a[i], b[i]) for i in (0, 1))
    return side(a, b, c) == 0 and within


def pieces(lines):
    """All straight pieces: line, its two points, and whether each point is an end of the line."""
    found = []
    for k, line in enumerate(lines):
        points = whole(line.points)
        last = len(points) - 2
        found += [(k, points[i], points[i + 1], i == 0, i == last) for i in range(last + 1)]
    return found


def meet_off_their_ends(lines):
    """Every pair of straight pieces that meet where not both lines end: the definition, in whole
    numbers, without any library."""
    bad = []
    every = pieces(lines)
    for i, (k, a, b, a_end, b_end) in enumerate(every):
        for m, c, d, c_end, d_end in every[i + 1 :]:
            if side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0:
                bad.append((a, b, c, d))
            ends = {p for p, end in ((a, a_end), (b, b_end)) if end}
            others = {p for p, end in ((c, c_end), (d, d_end)) if end}
            touched = {p for p in (a, b) if on(c, d, p)} | {p for p in (c, d) if on(a, b, p)}
            if m == k:  # the next piece of the same line
                touched -= {b} & {c} | {a} & {d}
            if touched - (ends & others) or len(touched) > 1:
                bad.append((a, b, c, d))
    return bad


@st.composite
def scribbles(draw):
    """Lines of a few points, some all but over the one before."""
    size = draw(st.sampled_from([0.08, 0.5, 3.0, 60.0]))
    place = st.floats(0, size)
    lines, before = [], None
    for _ in range(draw(st.integers(1, 4))):
        if before is not None and draw(st.booleans()):
            off = st.sampled_from([0.0, 0.0004, 0.001, 0.003, 0.02, -0.001])
            points = [(x + draw(off), y + draw(off)) for x, y in before]
        else:
            points = draw(st.lists(st.tuples(place, place), min_size=2, max_size=6))
        lines.append(fill(*points))
        before = points
    return lines


@settings(deadline=None, max_examples=150)
@given(scribbles(), st.sampled_from([1, 10]))
def test_lines_meet_only_at_their_ends_however_near_they_lie(lines, pixel):
    try:
        cut, _ = node_lines(lines, [], pixel=pixel)
    except StitchpathError as error:
        assert "long enough" in str(error)  # noqa: PT017 - all of it shorter than a stitch
        return
    assert meet_off_their_ends(cut) == []
    assert path_lengths([line.points for line in cut]).min() >= SHORTEST - 1e-9
    before = shapely.MultiLineString([line.points for line in lines])
    after = shapely.MultiLineString([line.points for line in cut])
    places = shapely.points(np.concatenate([line.points for line in cut]))
    assert shapely.distance(before, places).max() < 3 * SHORTEST * (2 if pixel > 1 else 1)
    # What is left out is too short to stitch, or a loop of next to nothing.
    for line in lines:
        along = shapely.LineString(line.points)
        if along.length > 1:
            away = shapely.distance(after, shapely.line_interpolate_point(along, [0.3, 0.5]))
            assert away.max() < 6 * SHORTEST


def test_two_lines_at_a_glancing_angle_are_cut_once_not_in_crumbs():
    # One thousandth of slope: cut and rounded one crossing at a time, they cross again 2 µm on.
    one = fill((0, 0), (100.0003, 0.05))
    other = fill((0, 0.05), (99.9996, 0))
    cut, _ = node_lines([one, other], [])
    assert len(cut) == 4
    assert meet_off_their_ends(cut) == []


@pytest.mark.parametrize(
    ("bend", "way", "lines"), [((5.001, 5.0), 1, 4), ((5.0, 4.999), -1, 2)], ids=["upper", "lower"]
)
def test_a_line_through_the_corner_between_two_bends_goes_to_one_of_them_only(bend, way, lines):
    # It passes (5.0005, 4.9995), the corner of both pixels, which holds in the one alone.
    x, y = bend
    beside = fill((x + 4 * way, y), bend, (x, y + 4 * way))
    cut, _ = node_lines([fill((0, 10), (10, 0)), beside], [])
    assert len(cut) == lines


def test_what_two_lines_share_is_stitched_by_the_first_alone():
    cut, _ = node_lines([fill((0, 0), (10, 0)), fill((4, 0), (6, 0), (6, 5))], [])
    assert [whole(line.points) for line in cut] == [
        [(0, 0), (4000, 0)],
        [(4000, 0), (6000, 0)],
        [(6000, 0), (10000, 0)],
        [(6000, 0), (6000, 5000)],
    ]


def test_a_line_that_goes_straight_back_over_itself_is_stitched_there_once():
    cut, _ = node_lines([fill((0, 0), (10, 0), (4, 0))], [])
    assert [whole(line.points) for line in cut] == [
        [(0, 0), (4000, 0)],
        [(4000, 0), (10000, 0)],
    ]


def test_beside_a_crossing_that_was_moved_a_line_runs_straight_to_it():
    # The third line wavers where its crossing is made one with the second's, 0.03 mm away.
    wavers = fill((5.03, -5), (5.5, -2), (5.035, -0.03), (5.025, -0.02), (5.03, 0), (5.03, 5))
    cut, _ = node_lines([fill((0, 0), (10, 0)), fill((5, -5), (5, 5)), wavers], [])
    below = next(line for line in cut if whole(line.points)[0] == (5030, -5000))
    assert whole(below.points) == [(5030, -5000), (5500, -2000), (5000, 0)]


def test_a_piece_too_short_for_a_stitch_becomes_the_point_where_the_others_meet():
    # Two crossings 0.03 mm apart, with nothing between them that a needle could stitch.
    cut, _ = node_lines(
        [fill((0, 0), (10, 0)), fill((5, -5), (5, 5)), fill((5.03, -5), (5.03, 5))], []
    )
    assert path_lengths([line.points for line in cut]).min() >= SHORTEST - 1e-9
    assert len(cut) == 6
    ends = [tuple(p) for line in cut for p in whole(line.points[[0, -1]])]
    assert ends.count((5000, 0)) + ends.count((5030, 0)) == 6


@pytest.mark.parametrize(("length", "left"), [(0.049, 0), (0.051, 1)])
def test_no_line_is_under_a_twentieth_of_a_millimetre(length, left):
    cut, _ = node_lines([fill((0, 0), (length, 0)), fill((5, 5), (9, 5))], [])
    assert len(cut) == 1 + left


@pytest.mark.parametrize(("high", "lines"), [(0.085, 2), (0.11, 3)])
def test_a_loop_of_next_to_nothing_left_where_a_piece_was_drawn_together_goes_too(high, lines):
    beside = fill((0, 0), (0.02, high), (0.04, 0))
    cut, _ = node_lines([fill((-5, 0), (5, 0)), beside], [])
    assert len(cut) == lines


def test_a_seam_keeps_its_corner_where_a_line_ends_beside_it():
    seam = ditch((0, 0), (10, 0))
    cut, _ = node_lines([seam, fill((10.02, 0.02), (15, 5)), fill((9.99, 0.001), (9, -7))], [])
    assert whole(cut[0].points)[-1] == (10000, 0)


def test_a_seam_to_travel_along_keeps_its_corner_too():
    seam = SeamBit(0, np.array([(0.0, 0.0), (10.0, 0.0)]))
    cut, ways = node_lines([fill((9.99, 0.001), (9, -7))], [seam])
    assert whole(ways[1, "grey"][-1].points)[-1] == (10000, 0)
    assert whole(cut[0].points)[0] == (10000, 0)


def test_ends_a_rounding_apart_are_one_end_where_she_sews_on():
    cut, _ = node_lines([fill((0, 0), (5, 0)), fill((5.001, 0.001), (9, 3))], [])
    assert whole(cut[0].points)[-1] == whole(cut[1].points)[0]


def test_a_line_that_ends_a_rounding_short_of_a_seam_is_joined_to_it():
    cut, _ = node_lines([ditch((0, 0), (10, 0)), fill((5, 0.0016), (5, 5))], [])
    assert len(cut) == 3
    assert meet_off_their_ends(cut) == []


def test_a_thread_cuts_the_seams_it_travels_along_and_not_those_of_another():
    seam = SeamBit(0, np.array([(0.0, 0.0), (10.0, 0.0)]))
    lines = [fill((5, -5), (5, 5)), fill((20, 0), (30, 0), thread="red")]
    _, ways = node_lines(lines, [seam])
    assert len(ways[1, "grey"]) == 2
    assert len(ways[1, "red"]) == 1


def test_a_seam_that_is_stitched_is_no_way_of_travel_beside_it():
    # The line in red crosses the ditch; the ditch in grey is whole, and gone over again as such.
    points = np.array([(0.0, 0.0), (10.0, 0.0)])
    lines = [ditch(*points.tolist()), fill((5, -5), (5, 5), thread="red")]
    _, ways = node_lines(lines, [SeamBit(0, points)])
    assert ways[1, "grey"] == []
    assert len(ways[1, "red"]) == 2


def test_a_line_is_cut_where_the_quilt_is_rolled_on_whichever_way_it_runs():
    for points in ([(0, 0), (0, 10)], [(0, 10), (0, 0)]):
        cut, _ = node_lines([fill(*points)], [], [Window(-9.0, 4.0, 4.0), Window(4.0, 99.0, 99.0)])
        assert sorted(path_lengths([line.points for line in cut])) == pytest.approx([4, 6])
        assert whole(cut[0].points)[-1] == (0, 4000)


def test_a_design_of_nothing_long_enough_to_stitch_is_told_of():
    with pytest.raises(StitchpathError, match="long enough to stitch"):
        node_lines([fill((0, 0), (0.01, 0))], [])


@pytest.mark.parametrize(
    "name",
    [
        "star-with-edge-line",
        "small-star-dear-ends",
        "square-with-a-hole",
        "sixteen-squares-with-holes",
        "four-armed-star",
    ],
)
def test_lines_that_cross_beside_their_ends_or_nearly_along_each_other_are_planned_right(name):
    plan = make_plan(load_design(HOSTILE / f"{name}.toml"))
    assert path_lengths([line.points for line in plan.lines]).min() >= SHORTEST
    check_laws(plan)
    verify(plan)


def test_a_line_with_no_tip_goes_on_to_where_the_edge_is_as_near_as_it_may_come():
    # Two ends of the middle line start beyond the edge by a rounding, and ran on from there.
    plan = make_plan(load_design(HOSTILE / "blob-without-tip.toml"))
    (line,) = plan.lines
    edge = plan.top.pieces[0].shape.boundary
    ends = shapely.points(line.points[[0, -1]])
    assert shapely.distance(edge, ends).max() < 25.4 / 32 + 0.01


def test_ends_that_cost_nothing_make_no_runs_with_nothing_to_stitch():
    text = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2", "squares*2"]')
    prices = "end_margin = 0\nend_inside = 0\ntravel_margin = 0\nretrace_ditch = 0"
    plan = planned(text + f'[prices]\n{prices}\n[route]\nstart = "A1 bottom right"\n')
    assert all(any(leg.do == "stitch" for leg in run.legs) for run in plan.runs)
    assert np.allclose(plan.runs[0].legs[0].points[0], [6 * 25.4, 6 * 25.4], atol=0.02)
    check_laws(plan)


def test_a_start_where_the_first_thread_has_no_line_leads_its_first_run_to_one():
    plan = make_plan(load_design(HOSTILE / "ends-for-nothing.toml"))
    check_laws(plan)
    verify(plan)
    assert all(any(leg.do == "stitch" for leg in run.legs) for run in plan.runs)
