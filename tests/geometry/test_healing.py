"""Loose lines become the patches that were meant, or the top she stitches is another one."""

import loosened as lo
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from quilts import DESIGNS

from stitchpath.base.errors import GeometryError
from stitchpath.design.read import load_design
from stitchpath.geometry.healing.heal import heal
from stitchpath.geometry.healing.straights import joined_straights
from stitchpath.top.build import build_top

SQUARE = np.array([[0.0, 0], [100, 0], [100, 100], [0, 100], [0, 0]])


def line(*points):
    return np.array(points, dtype=float)


def shipped(name):
    return [patch.polygon for patch in build_top(load_design(DESIGNS / f"{name}.toml")).patches]


@pytest.mark.parametrize(
    ("patches", "seeds"),
    [
        (shipped("harbour-runner"), range(12)),
        (shipped("star-lap-quilt"), (0, 8, 11)),
        (shipped("curved-cushion"), range(12)),
        (lo.quadrangles(12, 12, 40.0, 1).patches, range(6)),
        (lo.guillotine(600.0, 2.0, 120, 3).patches, range(6)),
        (lo.triangles(250, 600.0, 2).patches, range(3)),
    ],
)
def test_no_patch_seam_or_corner_of_a_loosely_drawn_top_is_lost(patches, seeds):
    bent = any(len(p.exterior.coords) > 100 for p in patches)
    drawn = lo.curves(patches) if bent else lo.long_lines(patches)
    loosened = lo.loosened_curves if bent else lo.loosened
    far = []
    for seed in seeds:
        web = heal(loosened(drawn, 0.3, 0.5, seed), 0.6)
        faces, seams, corners, away = lo.compared(patches, web.faces)
        assert (faces, seams, corners) == (1, 1, 1)
        far.append(away)
    away = np.concatenate(far)
    assert np.median(away) <= 0.15
    assert away.max() <= 0.6


@pytest.mark.parametrize(
    ("patches", "seeds", "least"),
    [
        (shipped("harbour-runner"), range(12), 1.0),
        (shipped("star-lap-quilt"), (1, 2), 0.99),
        (lo.triangles(250, 600.0, 2).patches, (3, 5, 8), 0.995),
        (lo.guillotine(900.0, 2.0, 300, 3).patches, (0, 5), 1.0),
    ],
)
def test_ends_off_by_nearly_twice_the_tolerance_lose_a_corner_in_a_hundred_at_most(
    patches, seeds, least
):
    drawn = lo.long_lines(patches)
    for seed in seeds:
        *found, _ = lo.compared(patches, heal(lo.loosened(drawn, 0.5, 0.5, seed), 0.6).faces)
        assert min(found) >= least


@pytest.mark.parametrize(("apart", "corners"), [(1.3, 5), (1.5, 6)])
def test_two_seams_drawn_loosely_to_a_third_meet_it_in_one_place_if_so_near(apart, corners):
    stems = [line((50, 0), (50, 50.3)), line((50 + apart, 100), (50 + apart, 49.8))]
    faces = heal([SQUARE, line((0, 50), (100, 50)), *stems], 0.6).faces
    assert len(faces) == 4
    assert len({tuple(np.round(p, 3)) for f in faces for p in f.exterior.coords}) == corners + 4


def test_what_is_drawn_exactly_stays_where_it_is():
    patches = lo.quadrangles(8, 8, 40.0, 5).patches
    web = heal(lo.long_lines(patches), 0.6)
    *whole, away = lo.compared(patches, web.faces)
    assert whole == [1, 1, 1]
    assert away.max() < 1e-3
    assert web.mended == web.loose == ()


@pytest.mark.parametrize(
    ("cause", "drawn", "far"),
    [
        ("short", [SQUARE, line((50, 0), (50, 98.6))], 1.4),  # further than ends are near
        ("over", [SQUARE, line((50, 0), (50, 102))], 2.0),
        ("apart", [SQUARE, line((50, 0.4), (50, 99.6))], 0.4),
        ("twice", [SQUARE, line((50, 0), (50, 100)), line((50.2, 0), (50.2, 100))], 0.0),
    ],
)
def test_each_place_that_was_put_right_is_told_with_its_measure(cause, drawn, far):
    web = heal(drawn, 0.6)
    assert len(web.faces) == 2
    told = {mended.cause: mended for mended in web.mended}
    assert told[cause].far == pytest.approx(far, abs=0.15)
    assert abs(told[cause].at[0] - 50) < 1


def test_a_line_that_stops_far_from_the_next_is_left_out_and_told():
    web = heal([SQUARE, line((50, 0), (50, 90))], 0.6)
    assert len(web.faces) == 1
    assert [len(path) for path in web.loose] == [2]


@pytest.mark.parametrize(
    ("drawn", "faces", "loose"),
    [
        (line((50, 0), (50, 98.4)), 2, 0),  # 1.65 mm, 2.75 tolerances, ahead along its way
        (line((50, 0), (50, 98.2)), 1, 1),
        (line((50, 0), (50, 102.9)), 2, 0),  # sticks out by 5 tolerances, which is no line
        (line((50, 0), (50, 103.1)), 2, 1),
        (line((50, 0), (50, 40), (99.05, 40), (99.05, 60)), 2, 0),  # 0.6 of that aside
        (line((50, 0), (50, 40), (98.95, 40), (98.95, 60)), 1, 3),
    ],
)
def test_ends_reach_and_stick_out_so_far_and_no_farther(drawn, faces, loose):
    web = heal([SQUARE, drawn], 0.6)
    assert (len(web.faces), len(web.loose)) == (faces, loose)


@pytest.mark.parametrize(("bulge", "faces"), [(2.2, 2), (2.6, 3)])
def test_two_lines_from_place_to_place_within_4_tolerances_are_one(bulge, faces):
    along = np.linspace(0, 100, 60)
    bent = np.column_stack([50 + bulge * np.sin(np.pi * along / 100), along])
    assert len(heal([SQUARE, line((50, 0), (50, 100)), bent], 0.6).faces) == faces


@pytest.mark.parametrize(("off", "told"), [(0.04, 0), (0.08, 1)])
def test_a_place_that_was_moved_too_little_to_see_is_not_told(off, told):
    web = heal([SQUARE, line((50, off), (50, 100))], 0.6)
    assert len(web.faces) == 2
    assert len(web.mended) == told


def test_places_apart_are_told_each_and_those_together_once():
    far = [SQUARE] + [line((x, 0.4), (x, 100)) for x in (40, 43, 46)]
    assert len([m for m in heal(far, 0.6).mended if m.cause == "apart"]) == 3


def test_a_seam_2_mm_from_the_next_is_kept():
    web = heal([SQUARE, line((50, 0), (50, 100)), line((52, 0), (52, 100))], 0.6)
    assert sorted(round(face.area) for face in web.faces) == [200, 4800, 5000]


def test_a_sliver_joins_its_neighbour():
    drawn = [SQUARE, line((50, 0), (50, 100)), line((50, 0), (50.45, 50), (50, 100))]
    web = heal(drawn, 0.1)
    assert len(web.faces) == 3
    web = heal(drawn, 0.6)
    assert len(web.faces) == 2


def test_circles_stay_round():
    turn = np.linspace(0, 2 * np.pi, 200)
    ring = 50 + 30 * np.column_stack([np.cos(turn), np.sin(turn)])
    ring[-1] = ring[0]
    faces = heal([SQUARE, ring], 0.6).faces
    assert sorted(round(face.area) for face in faces) == [2827, 7173]


def test_ends_in_one_heap_are_refused_rather_than_waited_for():
    rng = np.random.default_rng(1)
    heap = [
        line(rng.uniform(0, 1, 2), rng.uniform(0, 1, 2) + np.array([0, 50])) for _ in range(2500)
    ]
    with pytest.raises(GeometryError, match="expected"):
        heal(heap, 0.6)


@given(st.integers(0, 10**6), st.floats(0.0, 0.3))
def test_faces_never_lie_over_each_other(seed, jitter):
    drawn = lo.loosened(lo.long_lines(lo.quadrangles(3, 3, 30.0, seed).patches), jitter, 0.4, seed)
    faces = heal(drawn, 0.6).faces
    whole = shapely.union_all(faces)
    assert sum(face.area for face in faces) == pytest.approx(whole.area, abs=1e-6)


def tilted(off, turn=0.0):
    """A grid whose lines were all drawn off level by so much, and turned then."""
    lines = [line((0, 50 * k + off), (200, 50 * k - off)) for k in range(5)]
    lines += [line((50 * k - off, 0), (50 * k + off, 200)) for k in range(5)]
    cosine, sine = np.cos(turn), np.sin(turn)
    return [each @ np.array([[cosine, sine], [-sine, cosine]]) for each in lines]


def slope(web):
    """How far from level sides of faces lie, mm on 50."""
    sides = [np.diff(f.exterior.coords, axis=0) for f in web.faces]
    return max(float(np.abs(side).min(axis=1).max()) for side in sides)


@pytest.mark.parametrize(
    ("off", "level"),
    [(0.4, True), (0.46, False), (0.035, True), (0.025, False)],  # 1.5 tolerances; a tenth of one
)
def test_lines_drawn_nearly_level_are_level_unless_they_are_drawn_exactly_so(off, level):
    web = heal(tilted(off), 0.6)
    assert len(web.faces) == 16
    assert (slope(web) < 1e-6) == level


@pytest.mark.parametrize(("slant", "level"), [(1, True), (3, False)])
def test_lines_are_made_level_only_where_most_are_nearly_so(slant, level):
    # of 10 lines of 200 mm, so many more run across at a slant
    more = [line((0, 20 + 30 * k), (200, 80 + 30 * k)) for k in range(slant)]
    web = heal([*tilted(0.2), *more], 0.6)
    corners = np.array([c for f in web.faces for c in f.exterior.coords])
    upright = np.ptp(corners[np.abs(corners[:, 0] - 100) < 0.5][:, 0])
    assert (upright < 1e-6) == level


@pytest.mark.parametrize(("apart", "long", "kept"), [(0.5, 2.0, 1), (0.7, 2.0, 2), (0.5, 1.6, 2)])
def test_a_line_drawn_in_bits_that_overlap_is_one(apart, long, kept):
    bits = [line((0, 0), (50, 0)), line((50 - long, apart), (100, apart))]
    lines, _ = joined_straights(bits, 0.6)
    assert len(lines) == kept
    if kept == 1:
        assert np.ptp(lines[0], axis=0) == pytest.approx([100, 0.5], abs=0.3)


def test_a_line_drawn_twice_lies_midway():
    lines, twice = joined_straights([line((0, 0), (100, 0)), line((100, 0.4), (0, 0.4))], 0.6)
    assert np.asarray(lines)[0][:, 1] == pytest.approx([0.2, 0.2])
    assert twice == pytest.approx(np.array([[50, 0]]))


def test_two_lines_that_cross_at_a_slant_before_their_corner_leave_no_stem():
    # drawn to a corner of six seams, two of them cross 2 mm short of it
    far = [(100, 0), (100, 25), (0, 100), (-100, 0), (0, -100), (-70, 70)]
    ends = [(-0.4, 0.35), (-0.3, -0.35), (0, 0), (0, 0), (0, 0), (0, 0)]
    ring = line(*(far[k] for k in (0, 1, 2, 5, 3, 4, 0)))
    web = heal([ring, *(line(a, b) for a, b in zip(ends, far, strict=True))], 0.6)
    assert len(web.faces) == 6
    near = {tuple(np.round(c, 2)) for f in web.faces for c in f.exterior.coords if np.hypot(*c) < 9}
    assert len(near) == 1


def test_a_curve_with_a_point_beside_its_end_is_not_folded_over():
    turn = np.linspace(0, np.pi, 60)
    arc = np.column_stack([50 - 50 * np.cos(turn), 50 * np.sin(turn)])
    beyond = np.concatenate([arc, [[100.0, -0.2], [100.0, -0.5]]])
    web = heal([beyond, line((0, 0), (100, 0))], 0.6)
    assert len(web.faces) == 1
    assert len({tuple(np.round(c, 3)) for c in web.faces[0].exterior.coords[-5:]}) == 5
    assert web.faces[0].area == pytest.approx(np.pi * 1250, rel=1e-2)


@pytest.mark.parametrize(("beside", "faces"), [(0.35, 2), (0.48, 1)])
def test_an_end_that_just_misses_a_corner_reaches_it(beside, faces):
    # 1.3 mm short of a corner of two lines, and beside it by less or more than 0.41 mm
    drawn = [line((0, 0), (100, 0)), line((0, 0), (0, 50), (50, 50)), line((50, 50), (100, 0))]
    stem = line((50 + beside, 51.3), (50 + beside, 80), (0, 80), (0, 50))
    assert len(heal([*drawn, stem], 0.6).faces) == faces
