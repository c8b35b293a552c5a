"""Outline stitching, echo lines and the mending of drawn outlines."""

import matplotlib.path
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Point, Polygon, box

from stitchpath.base.errors import StitchpathError
from stitchpath.design.repair import mend_outline
from stitchpath.lines.centre.centre_lines import centre_lines
from stitchpath.lines.outline import echo_lines, outline_lines

SEEK = settings(max_examples=25, deadline=None, derandomize=True)
# The points of a convex outline are drawn on a circle: any set of them is one.
CONVEX = st.lists(st.integers(0, 359), min_size=3, max_size=9, unique=True).map(
    lambda angles: Polygon([(50 * np.cos(a), 50 * np.sin(a)) for a in np.radians(sorted(angles))])
)


def length(lines):
    return sum(LineString(line).length for line in lines)


def far_off(lines, edge):
    """Least and greatest distance of lines from an edge, mm."""
    points = shapely.segmentize(MultiLineString([np.asarray(line) for line in lines]), 0.5)
    apart = shapely.distance(shapely.points(shapely.get_coordinates(points)), edge)
    return apart.min(), apart.max()


class TestOutline:
    @pytest.mark.parametrize("corner", ["round", "mitre"])
    def test_a_square_is_stitched_a_sixteenth_inside_its_edge(self, corner):
        (ring,) = outline_lines(box(0, 0, 100, 100), corner=corner)
        assert np.array_equal(ring[0], ring[-1])
        assert Polygon(ring).equals_exact(
            box(1.5875, 1.5875, 98.4125, 98.4125), 1e-6, normalize=True
        )

    def test_a_piece_with_a_hole_is_stitched_round_both_edges(self):
        ring = Point(0, 0).buffer(40, quad_segs=64) - Point(0, 0).buffer(20, quad_segs=64)
        lines = outline_lines(ring, 3)
        assert len(lines) == 2
        assert far_off(lines, ring.boundary) == pytest.approx((3, 3), abs=0.05)

    def test_a_piece_narrower_than_twice_the_distance_gets_none(self):
        assert outline_lines(box(0, 0, 80, 3)) == []

    @pytest.mark.parametrize(("wide", "rings"), [(4.9, 0), (7.0, 1)])
    def test_a_ring_of_less_than_half_an_inch_is_a_knot_and_left_out(self, wide, rings):
        # 1/16 in inside a square of side w the line is 4 (w - 1/8 in) long: 1/2 in at 6.35 mm
        assert len(outline_lines(box(0, 0, wide, wide))) == rings
        hole = box(0, 0, 60, 60) - box(30 - wide / 2, 30 - wide / 2, 30 + wide / 2, 30 + wide / 2)
        assert len(echo_lines([hole], 1.5875, 1, corner="mitre")) == 1 + rings

    def test_a_neck_too_narrow_parts_the_outline_in_two(self):
        shape = box(0, 0, 40, 30) | box(40, 14, 52, 16) | box(52, 0, 92, 30)
        assert len(outline_lines(shape)) == 2

    def test_corners_that_turn_in_are_rounded_or_mitred_as_asked(self):
        shape = box(0, 0, 60, 60) - box(30, 30, 60, 60)
        (rounded,) = outline_lines(shape, 5, corner="round")
        (mitred,) = outline_lines(shape, 5, corner="mitre")
        assert LineString(mitred).distance(Point(25, 25)) < 1e-6
        assert LineString(rounded).distance(Point(30, 30)) == pytest.approx(5, abs=0.02)

    def test_a_pieced_motif_is_stitched_round_as_one(self):
        patches = [box(0, 0, 30, 30), box(30, 0, 60, 30), box(30, 30, 60, 60)]
        (ring,) = outline_lines(shapely.union_all(patches), 2)
        nearest, _ = far_off([ring], shapely.union_all(patches).boundary)
        assert nearest == pytest.approx(2, abs=0.03)


class TestEcho:
    @given(CONVEX, st.floats(1, 15))
    @SEEK
    def test_an_echo_is_as_long_as_steiner_says(self, shape, step):
        """Steiner's formula (1840): the outline r outside a convex one is 2 pi r longer."""
        lines = echo_lines([shape], step, 3)
        rings = [shape.length + 2 * np.pi * step * k for k in (1, 2, 3)]
        rings = [ring for ring in rings if ring > 12.7]  # 1/2 in: less is a knot
        assert len(lines) == len(rings)
        assert length(lines) == pytest.approx(sum(rings), rel=0, abs=0.4)

    def test_echoes_of_neighbours_merge_where_they_meet(self):
        discs = [Point(x, 0).buffer(20, quad_segs=32) for x in (0, 60)]
        lines = echo_lines(discs, 8, 3)  # 8, 16 and 24 mm out; half the gap between them is 10 mm
        assert [len(echo_lines(discs, 8, n)) for n in (1, 2, 3)] == [2, 3, 4]
        edge = shapely.union_all(discs).boundary
        for line, far in zip(lines, (8, 8, 16, 24), strict=True):
            assert far_off([line], edge) == pytest.approx((far, far), abs=0.05)

    def test_echoes_stop_at_the_seam(self):
        ground = box(-40, -40, 40, 40)
        lines = echo_lines([Point(0, 0).buffer(25, quad_segs=32)], 6, 5, clip=ground)
        assert shapely.within(MultiLineString(lines), ground.buffer(1e-9))
        ends = [p for line in lines if (line[0] != line[-1]).any() for p in line[[0, -1]]]
        assert len(ends) == 2 * 4 * 3  # four corners, of the echoes 18, 24 and 30 mm out
        assert np.allclose(np.abs(ends).max(axis=1), 40)

    def test_echoes_end_when_the_ground_is_full(self):
        assert len(echo_lines([box(0, 0, 50, 50)], 5, 100, clip=box(-20, -20, 70, 70))) < 30

    def test_echoes_fill_a_hole_and_no_more(self):
        ring = Point(0, 0).buffer(40) - Point(0, 0).buffer(20)
        inside = [r for r in echo_lines([ring], 6, 9) if np.hypot(*r.T).max() < 21]
        assert len(inside) == 2  # 14 and 8 mm from the middle; one of 2 mm would be a knot

    def test_corners_are_rounded_or_mitred_as_asked(self):
        (rounded,) = echo_lines([box(0, 0, 40, 40)], 10, 1, corner="round")
        (mitred,) = echo_lines([box(0, 0, 40, 40)], 10, 1, corner="mitre")
        assert length([rounded]) == pytest.approx(160 + 20 * np.pi, abs=0.2)
        assert length([mitred]) == pytest.approx(240)

    def test_a_mitre_of_a_sharp_point_does_not_run_off(self):
        (line,) = echo_lines([Polygon([(0, 0), (200, 5), (200, -5)])], 5, 1, corner="mitre")
        assert line[:, 0].min() > -25

    def test_no_shapes_give_no_lines(self):
        assert echo_lines([], 5, 3) == []

    @pytest.mark.parametrize(("step", "count"), [(0, 3), (-2, 3), (float("nan"), 3), (5, -1)])
    def test_a_step_or_count_that_makes_no_sense_says_so(self, step, count):
        with pytest.raises(StitchpathError, match=r"echo: found a (step|count) of .*, expected"):
            echo_lines([box(0, 0, 10, 10)], step, count)


class TestMend:
    @given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=12))
    @SEEK
    def test_a_scribble_is_filled_as_it_was_drawn(self, points):
        """Against the even-odd fill rule (SVG 1.1, 11.3): count the sides a ray crosses."""
        ring = np.array(points, dtype=float)
        spots = np.random.default_rng(1).uniform(0, 40, (200, 2))
        x, y = spots[:, :1], spots[:, 1:]
        (x0, y0), (x1, y1) = ring.T, np.roll(ring, -1, axis=0).T
        with np.errstate(divide="ignore", invalid="ignore"):
            right = x0 + (y - y0) / (y1 - y0) * (x1 - x0) > x
        odd = (((y0 > y) != (y1 > y)) & right).sum(axis=1) % 2 == 1
        try:
            shape = mend_outline([ring], "scribble")
        except StitchpathError:
            assert odd.mean() < 0.02
            return
        assert shape.is_valid
        clear = shapely.distance(shapely.points(spots), LineString([*ring, ring[0]])) > 0.2
        assert np.array_equal(shapely.contains_xy(shape, spots)[clear], odd[clear])

    def test_a_star_drawn_in_one_stroke_keeps_its_five_points_and_a_hole(self):
        angle = np.pi / 2 + np.arange(5) * 4 * np.pi / 5
        shape = mend_outline([50 * np.column_stack([np.cos(angle), np.sin(angle)])], "star")
        assert len(shape.geoms) == 5
        assert not shape.contains(Point(0, 0))

    def test_a_ring_in_a_ring_is_a_hole_whichever_way_it_runs(self):
        outer, inner = (shapely.get_coordinates(box(*b)) for b in [(0, 0, 9, 9), (3, 3, 6, 6)])
        for hole in (inner, inner[::-1]):
            assert mend_outline([outer, hole], "frame").area == 72

    @pytest.mark.parametrize(
        ("points", "found"),
        [
            ([], "without points"),
            ([(5, 5)], "one point"),
            ([(5, 5)] * 4, "one point"),
            ([(0, 0), (9, 9)], "2 points and no area"),
            ([(0, 0), (3, 1), (9, 3), (6, 2)], "4 points and no area"),
            ([(0, 0), (float("nan"), 1), (9, 3)], r"\(nan, 1.0\) as point 2"),
            ([(0, 0), (5, 1), (9, float("inf"))], r"\(9.0, inf\) as point 3"),
        ],
    )
    def test_an_outline_of_nothing_names_the_piece_and_what_was_found(self, points, found):
        ring = np.array(points, dtype=float).reshape(-1, 2)
        with pytest.raises(StitchpathError, match=f'applique "Gull": found .*{found}.*, expected'):
            mend_outline([ring], 'applique "Gull"')

    @pytest.mark.parametrize("tremble", [0.0, 0.05])
    def test_a_traced_outline_of_20000_points_is_simplified_and_gives_the_same_lines(self, tremble):
        angle = np.linspace(0, 2 * np.pi, 20_000, endpoint=False)
        around = 12 + 36 * np.exp(-((((angle * 5 / 2 / np.pi) % 1) - 0.5) ** 2) * 20)
        drawn = around[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        shaken = drawn + np.random.default_rng(2).normal(0, tremble, drawn.shape)
        traced = np.round(shaken / 0.05) * 0.05  # on a grid of pixels
        shape = mend_outline([traced], "starfish")
        assert shapely.get_num_coordinates(shape) <= 2000
        assert shape.hausdorff_distance(mend_outline([drawn], "starfish")) < 0.5
        lines = MultiLineString(centre_lines(shape).lines)
        smooth = MultiLineString(centre_lines(mend_outline([drawn], "starfish")).lines)
        assert len(lines.geoms) == 5
        assert lines.hausdorff_distance(smooth) < 1

    def test_a_long_thin_reed_traced_with_a_tremble_is_no_scribble(self):
        reed = shapely.get_coordinates(box(0, 0, 100, 2).exterior.segmentize(0.07))[:-1]
        shaken = reed + np.where(np.arange(len(reed)) % 2, 0.15, -0.15)[:, None]
        assert len(reed) > 2000
        assert mend_outline([shaken], "reed").area == pytest.approx(200, rel=0.1)

    def test_curves_of_drawings_are_kept_as_they_are(self):
        circle = matplotlib.path.Path.unit_circle().to_polygons(closed_only=True)[0]
        shape = mend_outline([circle * 50], "disc")
        assert shape.area == pytest.approx(Polygon(circle * 50).area)
