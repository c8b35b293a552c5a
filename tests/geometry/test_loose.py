"""Loose ground and density, against closed formulas, shapely and a fine grid of distances."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import MultiLineString, Polygon, box

from stitchpath.base.errors import StitchpathError
from stitchpath.geometry.empty_circles import (
    OVERLAP,
    LoosePlace,
    density,
    loose_places,
    uneven_neighbours,
    widest_gap,
)

LAW = settings(max_examples=15, deadline=None)
TOP = box(0, 0, 300, 200)
TOLERANCE = 0.5


def line(*points):
    return np.array(points, dtype=float)


coordinates = st.integers(0, 3000).map(lambda tenths: tenths / 10)
stitching = st.lists(
    arrays(float, st.tuples(st.integers(1, 5), st.just(2)), elements=coordinates), max_size=6
).map(lambda lines: [each * (1, 2 / 3) for each in lines])


def grid_clearance(top, lines, spacing):
    """Distances by brute force: every grid point inside the top to everything that holds."""
    left, upper, right, lower = top.bounds
    x, y = np.meshgrid(np.arange(left, right, spacing), np.arange(upper, lower, spacing))
    held = shapely.union_all(
        [
            top.boundary,
            *(shapely.Point(a[0]) if len(a) == 1 else shapely.LineString(a) for a in lines),
        ]
    )
    clearance = shapely.distance(held, shapely.points(x, y))
    clearance[~shapely.contains_xy(top, x, y)] = 0
    return x, y, clearance


def room(place, top, lines):
    """Twice the distance from a place's centre to the nearest thing that holds it."""
    centre = shapely.Point(place.x, place.y)
    held = [
        top.boundary,
        *(shapely.MultiPoint(a) if len(a) == 1 else shapely.LineString(a) for a in lines),
    ]
    return 2 * min(shapely.distance(centre, each) for each in held)


# The widest place


@pytest.mark.parametrize("side", [10, 101.6, 2743.2])
def test_an_unquilted_square_is_as_wide_as_its_side(side):
    place = widest_gap(box(0, 0, side, side), [])
    assert place.diameter == pytest.approx(side, abs=0.002)
    assert (place.x, place.y) == pytest.approx((side / 2, side / 2), abs=0.002)


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (300, 0), (0, 400)],
        [(0, 0), (200, 0), (100, 100 * math.sqrt(3))],
        [(0, 0), (500, 20), (90, 160)],
        [(0, 0), (600, 0), (300, 30)],
    ],
)
def test_an_unquilted_triangle_is_as_wide_as_its_incircle(corners):
    # Incircle of a triangle: r = 2 area / perimeter (Euclid, Elements IV.4; any geometry handbook).
    triangle = Polygon(corners)
    expected = 4 * triangle.area / triangle.length
    assert widest_gap(triangle, []).diameter == pytest.approx(expected, abs=0.002)


def test_a_crosshatch_is_as_loose_as_its_lines_are_apart():
    lines = [line((x, 0), (x, 200)) for x in range(0, 301, 50)]
    lines += [line((0, y), (300, y)) for y in range(0, 201, 50)]
    assert widest_gap(TOP, lines).diameter == pytest.approx(50, abs=0.002)


def test_lines_exactly_as_far_apart_as_the_label_allows_raise_no_alarm():
    lines = [line((x, 0), (x, 203.2)) for x in np.arange(0, 305, 101.6)]
    lines.append(line((0, 101.6), (304.8, 101.6)))
    top = box(0, 0, 304.8, 203.2)
    assert loose_places(top, lines, 101.6) == []
    assert len(loose_places(top, lines, 101.5)) == 6


def test_a_line_that_ends_in_the_open_holds_only_as_far_as_it_goes():
    # A circle inside the right and the long edges of the top, touching the end of the line at
    # mid height: the line's end is 100 mm from the left edge, so nothing wider than 200 fits,
    # and the widest stands clear of the end.
    place = widest_gap(TOP, [line((0, 100), (80, 100))])
    assert place.diameter == pytest.approx(200, abs=0.002)
    assert 180 - 0.01 <= place.x <= 200 + 0.01


def test_single_tacks_hold_as_well_as_lines():
    # Ties 60 mm apart on a square grid, the edge 30 mm beyond: the circle through four of them has
    # the diagonal, 60 √2, for its diameter.
    ties = [line((x, y)) for x in range(30, 300, 60) for y in range(40, 200, 60)]
    assert widest_gap(TOP, ties).diameter == pytest.approx(60 * math.sqrt(2), abs=0.002)


def test_a_hole_in_the_top_is_bound_and_holds():
    frame = Polygon(TOP.exterior, [box(50, 50, 250, 150).exterior])
    # At a corner the circle touches both outer edges and the corner of the hole:
    # (50 - r) √2 = r.
    radius = 50 * math.sqrt(2) / (1 + math.sqrt(2))
    places = loose_places(frame, [], 2 * radius - 1)
    assert [place.diameter for place in places] == pytest.approx([2 * radius] * 4, abs=0.002)


def test_stitching_out_in_the_margin_holds_nothing_of_the_top():
    assert widest_gap(TOP, [line((-50, 0), (-50, 200))]).diameter == pytest.approx(200, abs=0.002)


stars = arrays(float, st.integers(3, 14), elements=st.integers(30, 150).map(float)).map(
    lambda radii: Polygon(
        [
            (200 + radius * math.cos(turn), 200 + radius * math.sin(turn))
            for radius, turn in zip(
                radii, np.linspace(0, 2 * math.pi, len(radii), endpoint=False), strict=True
            )
        ]
    )
)


@LAW
@given(stars, st.sampled_from([2.0, TOLERANCE, 0.05]))
def test_one_open_patch_agrees_with_the_inscribed_circle_of_shapely(star, tolerance):
    # shapely.maximum_inscribed_circle (GEOS): its radius is at most its tolerance too small.
    reference = 2 * shapely.maximum_inscribed_circle(star, tolerance=0.02).length
    found = widest_gap(star, [], tolerance=tolerance).diameter
    assert reference - tolerance <= found <= reference + 0.042


@LAW
@given(stitching)
def test_no_wider_place_escapes_a_fine_grid(lines):
    found = widest_gap(TOP, lines, tolerance=TOLERANCE)
    _, _, clearance = grid_clearance(TOP, lines, 2)
    assert found.diameter >= 2 * clearance.max() - TOLERANCE
    assert found.diameter <= 2 * clearance.max() + 2 * math.sqrt(2)
    assert found.diameter == pytest.approx(room(found, TOP, lines), abs=0.004)


@LAW
@given(stitching)
def test_every_wide_local_maximum_is_named_or_under_a_wider_one(lines):
    limit, spacing = 40.0, 2
    places = loose_places(TOP, lines, limit, tolerance=TOLERANCE)
    x, y, clearance = grid_clearance(TOP, lines, spacing)
    inner = clearance[1:-1, 1:-1]
    around = [
        clearance[1 + i : -1 + i or None, 1 + j : -1 + j or None]
        for i in (-1, 0, 1)
        for j in (-1, 0, 1)
    ]
    peak = (inner >= np.max(around, axis=0)) & (2 * inner > limit + TOLERANCE)
    for px, py, radius in zip(x[1:-1, 1:-1][peak], y[1:-1, 1:-1][peak], inner[peak], strict=True):
        overlap = [
            radius + place.diameter / 2 - math.hypot(place.x - px, place.y - py)
            for place in places
            if place.diameter >= 2 * radius - TOLERANCE
        ]
        assert max(overlap, default=0) > 2 * OVERLAP * radius - 3 * spacing


@LAW
@given(stitching, st.sampled_from([25.0, 40.0, 76.2]))
def test_places_hold_no_stitching_exceed_the_limit_and_keep_clear_of_each_other(lines, limit):
    places = loose_places(TOP, lines, limit)
    assert [p.diameter for p in places] == sorted((p.diameter for p in places), reverse=True)
    for number, place in enumerate(places):
        assert limit < place.diameter == pytest.approx(room(place, TOP, lines), abs=0.004)
        for other in places[:number]:
            apart = math.hypot(place.x - other.x, place.y - other.y)
            overlap = (place.diameter + other.diameter) / 2 - apart
            assert overlap <= OVERLAP * place.diameter + 0.01


@LAW
@given(stitching, st.randoms(use_true_random=False))
def test_the_order_in_which_lines_are_stitched_does_not_matter(lines, random):
    again = [each[::-1] for each in lines]
    random.shuffle(again)
    width = widest_gap(TOP, lines).diameter
    assert widest_gap(TOP, again).diameter == pytest.approx(width, abs=TOLERANCE)


# The list of places


def test_a_long_open_border_is_ringed_from_end_to_end():
    places = loose_places(box(0, 0, 1500, 150), [], 100)
    centres = np.array(sorted(place.x for place in places if place.diameter > 149))
    assert centres[0] == pytest.approx(75, abs=1)
    assert (np.diff(centres) < 150).all()
    assert 1500 - centres[-1] < 2 * 150


def test_a_border_that_tapers_a_little_is_ringed_from_end_to_end_too():
    border = Polygon([(0, 0), (1500, 2), (1500, 148), (0, 150)])
    centres = np.array(sorted(place.x for place in loose_places(border, [], 100)))
    assert centres[0] < 150
    assert 1500 - centres[-1] < 150
    assert (np.diff(centres) < 2 * 150).all()


def test_only_as_many_places_as_asked_for_come_back_the_widest_first():
    lines = [line((x, 0), (x, 200)) for x in (30, 80, 150, 240)]
    every = loose_places(TOP, lines, 40)
    assert loose_places(TOP, lines, 40, most=3) == every[:3]
    assert every[0].diameter == pytest.approx(90, abs=0.002)


def test_a_well_quilted_top_has_no_loose_places():
    lines = [line((0, y), (300, y)) for y in range(0, 200, 20)]
    assert loose_places(TOP, lines, 50.8) == []


def test_stitching_as_dense_as_thread_still_has_a_widest_place():
    small = box(0, 0, 3, 2)
    lines = [line((0, y), (3, y)) for y in np.arange(0, 2, 0.1)]
    assert 0 < widest_gap(small, lines).diameter <= 0.1 + 1e-9


def test_the_same_top_gives_the_same_places_twice():
    lines = [line((10, 20), (280, 150), (40, 190))]
    assert loose_places(TOP, lines, 30) == loose_places(TOP, lines, 30)


@pytest.mark.parametrize(
    ("top", "limit", "tolerance", "said"),
    [
        (TOP, 0, 0.5, "quilting distance is 0 mm"),
        (TOP, math.nan, 0.5, "quilting distance is nan mm"),
        (TOP, 100, 0, "tolerance is 0 mm"),
        (Polygon(), 100, 0.5, "no area"),
    ],
)
def test_what_cannot_be_measured_is_said_in_one_sentence(top, limit, tolerance, said):
    with pytest.raises(StitchpathError, match=said):
        loose_places(top, [], limit, tolerance=tolerance)


# Density

PAIR = [box(0, 0, 100, 100), box(100, 0, 200, 100)]


def test_density_is_length_over_area():
    # Lines 10 mm apart: 100 m of stitching on each square metre, the one on the edge apart.
    lines = [line((0, y), (200, y)) for y in range(5, 100, 10)]
    assert density(PAIR, lines) == pytest.approx([100, 100], rel=0.002)


def test_a_shared_ditch_counts_half_to_either_side_and_an_outer_edge_whole():
    ditch, edge = line((100, 0), (100, 100)), line((0, 0), (0, 100))
    assert density(PAIR, [ditch]) == pytest.approx([5, 5], rel=0.005)
    assert density(PAIR, [edge]) == pytest.approx([10, 0], abs=0.02)


@LAW
@given(stitching)
def test_no_stitching_is_counted_twice_or_lost_between_regions(lines):
    regions = [box(x, y, x + 75, y + 50) for x in range(0, 300, 75) for y in range(0, 200, 50)]
    lines = [each for each in lines if len(each) > 1]
    counted = (density(regions, lines) * shapely.area(regions)).sum() / 1000
    assert counted == pytest.approx(MultiLineString(lines).length, abs=5)


def test_open_ground_beside_dense_quilting_is_named_the_worst_first():
    row = [box(x, 0, x + 100, 100) for x in range(0, 400, 100)]
    pairs = uneven_neighbours(row, np.array([10.0, 50.0, 0.0, 0.0]), 4)
    assert pairs == [(1, 2, math.inf), (1, 0, 5.0)]


def test_blocks_that_meet_at_a_corner_only_are_no_neighbours():
    corner = [box(0, 0, 100, 100), box(100, 100, 200, 200)]
    assert uneven_neighbours(corner, np.array([1.0, 9.0]), 2) == []


def test_nothing_to_measure_measures_nothing():
    assert density([], [line((0, 0), (1, 1))]).shape == (0,)
    assert density(PAIR, []).tolist() == [0, 0]
    assert uneven_neighbours([], np.zeros(0), 2) == []
    assert widest_gap(TOP, [np.zeros((0, 2))]) == LoosePlace(100.0, 100.0, 200.0)
