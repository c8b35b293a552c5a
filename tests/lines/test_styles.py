"""Spirals, ribbons, rays, pebbles and feathers: each is held to what makes it look right."""

from itertools import combinations, pairwise

import networkx as nx
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, check_laws, planned
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box

from stitchpath.lines.fills.belts import Wheel, belt
from stitchpath.lines.fills.pattern import UNFIT
from stitchpath.lines.fills.styles import fill

SPACING = 12.7
SQUARE = box(0, 0, 200, 200)
CIRCLE = Point(100, 100).buffer(100, quad_segs=48)
RING = CIRCLE.difference(Point(100, 100).buffer(45, quad_segs=48))
FRAME = box(0, 0, 300, 240).difference(box(50, 50, 250, 190))
STRIP = box(0, 0, 300, 50)
TRIANGLE = Polygon([(0, 0), (200, 200), (0, 200)])
WEDGE = Polygon([(100, 200), (40, 0), (160, 0)])
HOLED = SQUARE.difference(box(60, 60, 90, 160))
L_SHAPE = Polygon([(0, 0), (80, 0), (80, 120), (200, 120), (200, 200), (0, 200)])


def lines_of(region, style, spacing=SPACING, **more):
    return [LineString(path) for path in fill(region, style, spacing, **more).paths]


def least_radius(path):
    """Least radius of the circles through three points in a row."""
    a, b, c = path[:-2], path[1:-1], path[2:]
    u, v, w = b - a, c - b, c - a
    cross = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    return (np.hypot(*u.T) * np.hypot(*v.T) * np.hypot(*w.T) / np.maximum(2 * cross, 1e-12)).min()


def same_lines(one, two, off=0.02):
    """Whether every vertex of one set of lines lies on the other one."""
    tree = shapely.STRtree(two)
    at = shapely.points(np.concatenate([shapely.get_coordinates(line) for line in one]))
    _, far = tree.query_nearest(at, return_distance=True, all_matches=False)
    return far.max() < off


# --- spiral ------------------------------------------------------------------------------------


def test_a_round_ground_gets_an_even_spiral():
    """Archimedes, On Spirals: turns cut a line from the middle at equal distances."""
    (line,) = lines_of(CIRCLE, "spiral")
    assert line.is_simple
    for angle in np.arange(0.3, 6.2, 0.7):
        ray = LineString([(100, 100), (100 + 99 * np.cos(angle), 100 + 99 * np.sin(angle))])
        met = shapely.get_coordinates(line.intersection(ray))
        far = np.sort(np.hypot(*(met - 100).T))
        inner = far[(far > 1.3 * SPACING) & (far < 100 - 2 * SPACING)]
        assert len(inner) > 3
        assert np.diff(inner) == pytest.approx(SPACING, rel=0.03)


@pytest.mark.parametrize("region", [SQUARE, box(0, 0, 260, 180), affinity.rotate(SQUARE, 45)])
def test_a_spiral_in_a_square_lies_along_its_sides_and_none_of_it_leans(region):
    (line,) = lines_of(region, "spiral")
    assert line.is_simple
    way = np.diff(shapely.get_coordinates(line), axis=0)
    sides = np.diff(shapely.get_coordinates(region), axis=0)
    long = np.hypot(*way.T)
    lean = np.abs(way @ sides[0]) / (long * np.hypot(*sides[0]))
    straight = long > 0.4 * SPACING  # the rest are corners, which are round, and the stems
    assert np.all((lean[straight] < 0.002) | (lean[straight] > 0.998))
    assert long[straight].sum() > 0.75 * line.length
    inner = line.intersection(region.buffer(-1.2 * SPACING))  # without the stems at the door
    parts = [shapely.get_coordinates(part) for part in shapely.get_parts(inner)]
    assert min(least_radius(part) for part in parts if len(part) > 2) > 0.3 * SPACING
    across = LineString([region.centroid, Point(sides[0] * 0.45 + region.centroid.coords[0])])
    far = np.sort(shapely.distance(region.centroid, shapely.points(
        shapely.get_coordinates(line.intersection(across)))))  # fmt: skip
    assert np.ptp(np.diff(far)[1:]) < 0.05


@settings(max_examples=6, deadline=None)
@given(st.floats(60, 300), st.floats(0.6, 1.0), st.floats(6, 14))
def test_a_spiral_of_any_rectangle_and_ellipse_leaves_no_place_bare(wide, share, spacing):
    for region in (
        box(0, 0, wide, wide * share),
        affinity.scale(Point(0, 0).buffer(wide / 2, quad_segs=32), 1, share),
    ):
        filled = fill(region, "spiral", spacing)
        assert [n for n in filled.notes if n.kind == "bare"] == []
        assert all(LineString(path).is_simple for path in filled.paths)


# --- rings -------------------------------------------------------------------------------------


@pytest.mark.parametrize("region", [SQUARE, TRIANGLE, L_SHAPE, HOLED])
def test_no_ring_is_so_small_that_it_is_a_dot(region):
    """Each innermost one has the shape of the ring round it."""
    rings = [Polygon(line.coords) for line in lines_of(region, "rings") if line.is_ring]
    for ring in rings:
        assert shapely.maximum_inscribed_circle(ring).length > 0.38 * SPACING
    inner = min(rings, key=lambda ring: ring.area)
    assert inner.area / (inner.length**2 / 4 / np.pi) < 0.95  # 1 for a circle


# --- ribbon candy --------------------------------------------------------------------------------


def test_a_belt_runs_from_wheel_to_wheel_without_a_corner():
    """Its length over two equal wheels, crossed: tangent and arcs, from any handbook of gears."""
    wheels = [
        Wheel(np.array([-30.0, 10]), 0.0, 1),
        Wheel(np.array([0.0, 0]), 10.0, -1),
        Wheel(np.array([40.0, 0]), 10.0, 1),
        Wheel(np.array([70.0, -10]), 0.0, 1),
    ]
    path = belt(wheels)
    crossed = np.sqrt(40**2 - 20**2)  # between wheels that turn opposite ways
    arcs = 2 * 10 * np.arcsin(20 / 40)
    assert LineString(path).length == pytest.approx(30 + crossed + arcs + 30, abs=0.02)
    turn = np.diff(np.unwrap(np.arctan2(*np.diff(path, axis=0).T[::-1])))
    assert np.abs(turn).max() < 0.2


def test_ribbon_candy_goes_round_a_border_alike_on_all_sides_and_its_ends_meet():
    lines = lines_of(FRAME, "ribbon candy")
    assert len(lines) == 4
    assert same_lines(lines, [affinity.scale(line, -1, 1, origin=(150, 120)) for line in lines])
    assert same_lines(lines, [affinity.scale(line, 1, -1, origin=(150, 120)) for line in lines])
    graph = nx.MultiGraph((line.coords[0], line.coords[-1]) for line in lines)
    assert {tuple(np.round(c, 6)) for c in graph} == {(0, 0), (300, 0), (300, 240), (0, 240)}
    assert all(degree == 2 for _, degree in graph.degree)
    for line in lines:
        assert line.is_simple
        assert FRAME.buffer(0.01).covers(line)
    for one, two in combinations(lines, 2):
        assert shapely.length(one.intersection(two)) == 0


@pytest.mark.parametrize("region", [STRIP, FRAME, RING])
def test_folds_of_a_ribbon_are_wider_than_their_necks_and_a_foot_can_turn_in_them(region):
    for line in lines_of(region, "ribbon candy"):
        path = shapely.get_coordinates(line)[2:-2]
        assert least_radius(path) > 0.24 * SPACING
        assert line.is_simple
    if region is STRIP:  # folds lie on both sides, a step apart
        far = shapely.get_coordinates(line)[:, 1]
        assert far.min() < 0.21 * SPACING
        assert far.max() > 50 - 0.21 * SPACING
        at_neck = shapely.get_coordinates(line.intersection(LineString([(0, 40), (300, 40)])))
        gaps = np.diff(np.sort(at_neck[:, 0]))[2:-2]
        assert gaps.max() / gaps.min() > 1.2


# --- radiating lines -----------------------------------------------------------------------------


def test_radiating_lines_are_the_same_on_each_side_of_a_square():
    lines = lines_of(SQUARE, "radiating lines")
    assert same_lines(lines, [affinity.rotate(line, 90, origin=(100, 100)) for line in lines])
    assert same_lines(lines, [affinity.scale(line, -1, 1, origin=(100, 100)) for line in lines])


@pytest.mark.parametrize("point", [(100.0, 100.0), (0.0, 200.0), (-50.0, 80.0)])
def test_radiating_lines_point_to_their_point_and_never_lie_far_apart(point):
    filled = fill(SQUARE, "radiating lines", SPACING, point=point)
    heart = Point(point)
    for path in filled.paths:
        for one, two in pairwise(path):
            if np.hypot(*(two - one)) > 2 * SPACING:
                way = (two - one) / np.hypot(*(two - one))
                to = np.array(point) - one
                off = np.abs(way[0] * to[1] - way[1] * to[0])
                assert off < 0.3 * SPACING + 0.05 * heart.distance(Point(one))
    assert [note for note in filled.notes if note.kind == "bare"] == []


# --- pebbles -------------------------------------------------------------------------------------


def circles_of(region, seed=1):
    """Give the circles of pebbles: faces of their line, and its length."""
    (path,) = (shapely.get_coordinates(line) for line in lines_of(region, "pebbles", seed=seed))
    stem, line = shapely.LineString(path[:2]), shapely.LineString(path[1:])
    faces = list(shapely.polygonize([shapely.node(line)]).geoms)
    radius = np.sqrt(shapely.area(faces) / np.pi)
    round_ones = 2 * np.pi * radius / shapely.length(faces) > 0.99
    return np.array(faces)[round_ones], radius[round_ones], line, stem


@pytest.mark.parametrize("region", [SQUARE, TRIANGLE, FRAME])
def test_each_pebble_is_gone_round_once_and_they_are_nearly_of_one_size(region):
    circles, radius, line, stem = circles_of(region)
    assert line.is_closed
    assert stem.coords[-1] == line.coords[0]
    assert line.length == pytest.approx(2 * np.pi * radius.sum(), rel=0.002)
    assert radius.max() <= 0.531 * SPACING
    large = radius > 0.42 * SPACING
    assert radius[large].sum() > 0.8 * radius.sum()
    assert np.ptp(radius[large]) < 0.1 * SPACING
    assert sum(c.area for c in circles) > 0.7 * region.area


def test_pebbles_touch_and_never_overlap_and_the_line_over_them_is_smooth():
    circles, radius, line, _ = circles_of(SQUARE)
    middles = np.array([shapely.get_coordinates(c.centroid)[0] for c in circles])
    apart = np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1))
    gap = apart - radius[:, None] - radius[None]
    np.fill_diagonal(gap, np.inf)
    assert gap.min() > -0.06  # flattened circles are a little smaller than they are
    assert (gap.min(axis=1) < 0.08).all()
    graph = nx.Graph((i, j) for i, j in np.argwhere(gap < 0.08).tolist())
    assert nx.is_tree(graph)  # those that do not touch keep clear of each other
    path = shapely.get_coordinates(line)
    way = np.diff(path, axis=0)
    way = way[np.hypot(*way.T) > 1e-6]
    turn = np.diff(np.unwrap(np.arctan2(way[:, 1], way[:, 0])))
    assert np.degrees(np.abs(turn)).max() < 25


def test_pebbles_are_the_same_each_time_and_others_with_another_seed():
    first, again, other = (fill(SQUARE, "pebbles", SPACING, seed=s) for s in (1, 1, 2))
    assert first.paths[0].tobytes() == again.paths[0].tobytes() != other.paths[0].tobytes()


# --- feathers ------------------------------------------------------------------------------------


def test_a_wreath_is_a_spine_with_plumes_on_both_sides_that_only_touch():
    stem, spine, outer, inner = lines_of(SQUARE, "feathers")
    assert spine.is_ring
    assert outer.is_ring
    assert inner.is_ring
    assert outer.is_simple
    assert inner.is_simple
    heart = Point(100, 100)
    far = shapely.distance(heart, shapely.points(shapely.get_coordinates(spine)))
    assert np.ptp(far) < 0.05
    for plumes in (outer, inner):
        met = plumes.intersection(spine)
        assert shapely.length(met) < 1e-6
        assert plumes.difference(spine.buffer(0.05)).length > 0.9 * plumes.length
    assert not outer.within(Polygon(spine))
    assert SQUARE.buffer(-0.2 * SPACING + 0.01).covers(outer)
    assert stem.length == pytest.approx(0.2 * SPACING, abs=0.2)
    # Plumes lie one spacing apart, by their heads; between two of them they touch the spine.
    heads = 100 - 0.2 * SPACING - 0.44 * SPACING
    feet = shapely.get_parts(outer.intersection(spine.buffer(0.02)))
    assert len(feet) == pytest.approx(2 * np.pi * heads / SPACING, abs=1.5)


def test_feathers_of_a_border_are_alike_on_either_side_and_fill_its_corners():
    lines = lines_of(FRAME, "feathers")
    for x, y in ((-1, 1), (1, -1)):
        assert same_lines(lines, [affinity.scale(line, x, y, origin=(150, 120)) for line in lines])
    for corner in ((0, 0), (300, 0), (300, 240), (0, 240)):
        assert Point(corner).distance(MultiLineString(lines)) < 1.2 * SPACING
    for one, two in combinations(lines, 2):
        assert shapely.length(one.intersection(two)) < 1e-6
    for line in lines:
        assert FRAME.buffer(0.01).covers(line)


@pytest.mark.parametrize("style", ["feathers", "ribbon candy"])
def test_a_border_of_a_quilt_is_stitched_in_one_run(style):
    text = SQUARES + '[[layout.borders]]\nwidth = 2\nfabric = "sea"\ncorners = "squares"\n'
    text = text.replace("[layout]", '[lines]\nditch = "none"\n[layout]')
    more = f'\n[[fills]]\nregion = "border 1"\nstyle = "{style}"\nspacing = "1/2 in"\n'
    plan = planned(text + more, time_limit=0.3)
    assert plan.totals.runs == 1
    assert plan.totals.retraced < 0.05 * plan.totals.stitched
    check_laws(plan)


# --- grounds that a style does not suit ----------------------------------------------------------


@pytest.mark.parametrize("style", UNFIT)
@pytest.mark.parametrize("region", [TRIANGLE, WEDGE, L_SHAPE, HOLED])
def test_a_ground_that_a_style_does_not_suit_is_left_with_a_word(style, region):
    filled = fill(region, style, SPACING)
    assert filled.paths == ()
    assert [note.kind for note in filled.notes] == ["unfit"]


def test_a_strip_over_ten_folds_wide_has_no_ribbon():
    assert fill(box(0, 0, 400, 10.5 * SPACING), "ribbon candy", SPACING).paths == ()
    assert len(fill(box(0, 0, 400, 9.5 * SPACING), "ribbon candy", SPACING).paths) == 1


def test_what_a_style_wants_is_told_where_it_is_not_stitched():
    plan = planned(
        SQUARES + '\n[[fills]]\nregion = "A1"\nstyle = "ribbon candy"\nspacing = "1/4 in"\n'
    )
    (check,) = [c for c in plan.checks if c.code == "left-empty"]
    assert (
        "A1 stays empty: it is no ground for ribbon candy, as it is stitched along" in check.message
    )
