"""Laws of the fills: what a quilter would see on the cloth if one of them broke."""

from collections import Counter
from itertools import combinations, pairwise

import networkx as nx
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box

from stitchpath.base.errors import StitchpathError
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.fills.bare import bare_notes
from stitchpath.lines.fills.curves import evenly
from stitchpath.lines.fills.pattern import CLOSED, PATCHWISE, UNFIT
from stitchpath.lines.fills.rings import rings
from stitchpath.lines.fills.styles import STYLES, fill

INCH = 25.4
BOAT = [
    np.array([[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [7.5, -1], [8, 0], [9, 0]])
]
# Rows of a line of hers; what follows single patches; motifs, which leave their ground to others.
UNMEASURED = ("motif rows", *PATCHWISE, *UNFIT)
few = settings(max_examples=12, deadline=None)


def blob(waves, size):
    """A round region with a wavy edge."""
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    swell = sum(a * np.cos((k + 2) * turn + p) / (k + 2) for k, (a, p) in enumerate(waves))
    reach = size * np.clip(1 + swell, 0.4, 2)
    return Polygon(np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])).buffer(0)


waves_of_edge = st.lists(st.tuples(st.floats(0, 0.5), st.floats(0, 6)), min_size=1, max_size=5)
blobs = st.builds(blob, waves_of_edge, st.floats(35, 75))
l_shapes = st.builds(
    lambda a, b, c, d: Polygon([(0, 0), (a, 0), (a, c * b), (d * a, c * b), (d * a, b), (0, b)]),
    st.floats(60, 140),
    st.floats(60, 140),
    st.floats(0.3, 0.7),
    st.floats(0.3, 0.7),
)
holed = st.builds(
    lambda outer, x, y, r: outer.difference(Point(x, y).buffer(r)),
    st.builds(blob, waves_of_edge, st.floats(60, 80)),
    st.floats(-30, 30),
    st.floats(-30, 30),
    st.floats(5, 25),
)
regions = st.one_of(blobs, l_shapes, holed)
spacings = st.floats(6, 14)


def total(filled):
    return sum(LineString(path).length for path in filled.paths)


def grid(area, step):
    left, top, right, bottom = area.bounds
    at = np.stack(np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step)), -1)
    at = at.reshape(-1, 2)
    return at[shapely.contains_xy(area, at[:, 0], at[:, 1])]


def farthest(region, filled, inset, spacing):
    """Farthest that a point inside the inset lies from stitching, in spacings."""
    at = grid(region.buffer(-inset - 0.1), spacing / 4)
    return shapely.distance(MultiLineString(filled.paths), shapely.points(at)).max() / spacing


def least_radius(path, radius):
    """Least radius of a path, felt out at steps of a third of the radius asked for."""
    count = int(LineString(path).length / (radius / 3))
    t = np.linspace(0, 1, count)[1:-1]
    p = shapely.get_coordinates(
        shapely.line_interpolate_point(LineString(path), t, normalized=True)
    )
    u, v = p[1:-1] - p[:-2], p[2:] - p[1:-1]
    turn = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], np.sum(u * v, axis=1))
    return (np.hypot(*u.T) / np.maximum(np.abs(turn), 1e-9)).min()


# --- what holds for every region ---------------------------------------------------------------


@few
@given(regions, spacings, st.sampled_from(["meander", "spiral"]))
def test_one_line_that_never_meets_itself_and_comes_back_to_its_door(region, spacing, style):
    filled = fill(region, style, spacing)
    assert filled.paths
    for path in filled.paths:
        assert LineString(path).is_simple  # shapely's own test
        assert np.array_equal(path[0], path[-1])
        assert region.boundary.distance(Point(path[0])) < 1e-6
        assert least_radius(path, spacing / 4) > 0.75 * spacing / 4
    assert filled.door == tuple(filled.paths[0][0])


@few
@given(regions, spacings, st.sampled_from(STYLES), st.floats(0, 0.8), st.integers(0, 90))
def test_nothing_is_stitched_outside_the_region_or_in_its_hem(region, spacing, style, part, angle):
    inset = part * spacing
    filled = fill(region, style, spacing, inset=inset, angle=angle, motif=BOAT)
    inside = region.buffer(-inset + 0.01)
    for path in filled.paths:
        assert LineString(path).difference(region.buffer(2 * GRID)).length < 0.001
        # Only the stems at the doors, and the ends of rows, cross the hem.
        ends = (
            Point(path[0])
            .buffer(2 * (inset + spacing))
            .union(Point(path[-1]).buffer(2 * (inset + spacing)))
        )
        assert LineString(path).difference(inside).difference(ends).length < 0.001


@few
@given(regions, spacings, st.sampled_from([s for s in STYLES if s not in UNMEASURED]))
def test_no_place_is_left_loose_without_a_word(region, spacing, style):
    filled = fill(region, style, spacing)
    assert filled.notes or farthest(region, filled, spacing / 2, spacing) < 1.01


@pytest.mark.parametrize("style", ["spiral", "rings", "loops", "waves"])
def test_ground_round_applique_is_held_to_the_spacing(style):
    pieces = [Point(x, y).buffer(62) for x in (95, 281) for y in (90, 268, 446)]
    ground = box(0, 0, 376, 540).difference(shapely.union_all(pieces))
    filled = fill(ground, style, 10)
    assert not [note for note in filled.notes if note.kind == "bare"]
    assert farthest(ground, filled, 5, 10) < 1.01


@pytest.mark.parametrize("angle", [0, 30, 90])
def test_loops_hold_arms_and_corners_that_are_lower_than_a_row(angle):
    slip = box(0, 0, 65, 170).union(box(65, 0, 175, 41)).union(box(22, 170, 43, 260))
    filled = fill(slip, "loops", 9, angle=angle)
    assert not [note for note in filled.notes if note.kind == "bare"]
    assert farthest(slip, filled, 4.5, 9) < 1.01


def test_a_bare_place_is_told_with_how_far_it_is_from_stitching():
    path = np.array([[0.0, 50.0], [200.0, 50.0]])
    notes = bare_notes(box(0, 0, 200, 100), (path,), 20, 10)
    assert [note.kind for note in notes] == ["bare", "bare"]
    assert all(note.width == pytest.approx(50, abs=1.3) for note in notes)


@few
@given(regions, spacings, st.sampled_from(sorted({*STYLES} - {*UNFIT})))
def test_lines_may_cross_but_never_run_along_each_other(region, spacing, style):
    filled = fill(region, style, spacing, angle=45, motif=BOAT)
    lines = [LineString(path) for path in filled.paths]
    tree = shapely.STRtree(lines)
    one, other = tree.query(lines, predicate="intersects")
    pairs = [(i, j) for i, j in zip(one, other, strict=True) if i < j]
    for i, j in pairs:
        assert lines[i].intersection(lines[j]).length < 1e-6
    if style in ("parallel", "waves", "meander", "spiral"):
        assert not pairs
        assert all(line.is_simple for line in lines)


@settings(max_examples=6, deadline=None)
@given(regions, st.integers(0, 1000))
def test_the_same_seed_draws_the_same_meander_and_another_seed_another(region, seed):
    first, again, other = (fill(region, "meander", 9, seed=s) for s in (seed, seed, seed + 1))
    assert [p.tobytes() for p in first.paths] == [p.tobytes() for p in again.paths]
    assert [p.tobytes() for p in first.paths] != [p.tobytes() for p in other.paths]


# --- plain regions ------------------------------------------------------------------------------


# How long a style is, in areas over spacing: geometry. Two sets of lines; half circles as wide as
# the spacing in rows half that apart; two quarter circles over each side of a square. Loops are
# 3.39 times as long as their row, and nine tenths as high. Circles as wide as the spacing, packed
# as densely as can be, are 2 pi / sqrt 3 = 3.6 times as long; pebbles lie a little looser.
LONG = {"crosshatch": 2, "clamshell": np.pi, "orange peel": np.sqrt(2) * np.pi, "loops": 3.1,
        "pebbles": 3.35}  # fmt: skip


@pytest.mark.parametrize("style", sorted({*STYLES} - {*UNMEASURED, "radiating lines"}))
@pytest.mark.parametrize(
    "region",
    [box(0, 0, 16 * INCH, 12 * INCH), Point(0, 0).buffer(7 * INCH, quad_segs=32)],
    ids=["rectangle", "circle"],
)
def test_the_thread_needed_is_area_over_spacing(style, region):
    """Lines one spacing apart cover a spacing's width of cloth each: length = area / spacing."""
    filled = fill(region, style, INCH / 2, angle=30)
    assert total(filled) == pytest.approx(LONG.get(style, 1) * region.area / (INCH / 2), rel=0.15)
    assert all(note.kind == "whole" for note in filled.notes)


@pytest.mark.parametrize("side", [4, 4.5, 6, 8])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_meander_in_a_small_patch_does_not_leave_half_of_it_empty(side, seed):
    spacing = INCH / 2
    region = box(0, 0, side * spacing, side * spacing)
    filled = fill(region, "meander", spacing, seed=seed)
    assert farthest(region, filled, spacing / 2, spacing) < 0.95
    assert total(filled) > 0.8 * region.area / spacing
    assert filled.notes == ()


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (14, 0), (14, 3), (0, 3)],
        [(0, 0), (14, 0), (14, 3.5), (0, 3.5)],
        [(0, 0), (3, 0), (3, 3), (0, 3)],
        [(0, 0), (3.5, 0), (3.5, 3.5), (0, 3.5)],
        [(0, 0), (7, 0), (0, 7)],
    ],
    ids=["sashing", "border", "square", "larger square", "half-square triangle"],
)
def test_a_meander_in_narrow_ground_is_more_than_once_round(corners):
    spacing = INCH / 2
    region = affinity.scale(Polygon(corners), spacing, spacing, origin=(0, 0))
    filled = fill(region, "meander", spacing)
    assert total(filled) == pytest.approx(region.area / spacing, rel=0.15)
    assert farthest(region, filled, spacing / 2, spacing) < 1
    assert all(LineString(path).is_simple for path in filled.paths)


def test_strands_of_a_meander_neither_crowd_nor_leave_holes():
    """Between strands that face each other fits a circle of about the spacing: 0.6 to 1.5 of it.

    The largest circle that touches a strand and holds no stitching, by the shrinking ball method
    (Ma, Bae and Choi, "3D medial axis point approximation", 2012), from memory.
    """
    spacing = INCH / 2
    region = box(0, 0, 16 * INCH, 12 * INCH)
    path = fill(region, "meander", spacing).paths[0]
    count = int(LineString(path).length / (spacing / 12))
    t = np.linspace(0, 1, count, endpoint=False)
    at = shapely.get_coordinates(
        shapely.line_interpolate_point(LineString(path), t, normalized=True)
    )
    ahead = np.roll(at, -1, axis=0) - np.roll(at, 1, axis=0)
    ahead /= np.hypot(*ahead.T)[:, None]
    tree = cKDTree(at)
    widths = []
    for side in (1, -1):
        normal = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * side
        radius = np.full(count, 2 * spacing)
        for _ in range(30):
            distance, hit = tree.query(at + normal * radius[:, None])
            way = at[hit] - at
            tangent = np.sum(way**2, axis=1) / np.maximum(2 * np.sum(way * normal, axis=1), 1e-9)
            radius = np.where(distance < radius * 0.999, np.minimum(radius, tangent), radius)
        middle = at + normal * radius[:, None]
        _, touching = tree.query(middle, k=12)
        to = at[touching] - middle[:, None]
        to /= np.linalg.norm(to, axis=2)[:, :, None]
        facing = np.sum(to * -normal[:, None], axis=2).min(axis=1) < -0.8
        inner = shapely.contains_xy(region.buffer(-spacing / 2), middle[:, 0], middle[:, 1])
        inner &= np.hypot(*(at - path[0]).T) > 3 * spacing  # the stems at the door run together
        widths.append(2 * radius[facing & inner] / spacing)
    width = np.concatenate(widths)
    assert len(width) > count  # most strands have a facing one on either side
    assert np.median(width) == pytest.approx(0.85, abs=0.08)
    assert np.mean((width > 0.6) & (width < 1.5)) > 0.98
    assert width.min() > 0.4


def test_a_meander_has_no_straight_runs_and_no_grid():
    """Its directions are spread all round, and hardly a stretch of two spacings is straight."""
    path = fill(box(0, 0, 300, 220), "meander", 10, seed=4).paths[0]
    at = evenly(path[:-1], round(LineString(path).length))
    way = np.diff(at, axis=0)
    heading = np.arctan2(way[:, 1], way[:, 0]) % np.pi
    share, _ = np.histogram(heading, bins=12, weights=np.hypot(*way.T), density=True)
    assert share.max() < 2.2 * share.mean()
    inside = box(0, 0, 300, 220).buffer(-15)
    chord = np.hypot(*(at[20:] - at[:-20]).T)
    middle = at[10 : len(chord) + 10]
    straight = (chord > 0.99 * 20) & shapely.contains_xy(inside, middle[:, 0], middle[:, 1])
    assert np.mean(straight) < 0.05


def test_echo_rings_are_parallel_curves():
    """Steiner's formula: the curve d inside a convex one is shorter by 2 pi d."""
    round_box = box(0, 0, 200, 120).buffer(60, quad_segs=64)
    filled = fill(round_box, "rings", 10)
    lengths = sorted((LineString(p).length for p in filled.paths if len(p) > 2), reverse=True)
    steps = np.arange(len(lengths))
    assert lengths[:5] == pytest.approx(
        round_box.length - 2 * np.pi * (5 + 10 * steps[:5]), rel=0.002
    )


def test_rings_hang_together_from_the_door_to_the_innermost():
    region = box(0, 0, 120, 90).difference(Point(40, 45).buffer(12))
    filled = fill(region, "rings", 8)
    assert filled.door == (0.0, 0.0)
    assert tuple(filled.paths[0][0]) == filled.door
    met = {filled.door}
    for path in filled.paths:  # each begins where something before it has a vertex, to the bit
        assert tuple(path[0]) in met
        met |= {tuple(point) for point in path.tolist()}


@pytest.mark.parametrize("style", CLOSED)
def test_a_fill_can_be_entered_at_any_corner_or_seam_vertex(style):
    patch = Polygon([(0, 0), (60, 0), (110, 0), (110, 80), (0, 80)])
    for door in [(0.0, 0.0), (60.0, 0.0), (110.0, 80.0), (0.0, 33.3)]:
        filled = fill(patch, style, 9, door=door)
        assert filled.door == door
        assert tuple(filled.paths[0][0]) == door
        assert filled.notes == ()


def test_a_ground_that_falls_apart_is_filled_part_by_part_and_the_neck_is_named():
    dumbbell = box(0, 0, 80, 80).union(box(80, 36, 180, 44)).union(box(180, 0, 260, 80))
    for style in CLOSED:
        filled = fill(dumbbell, style, 10)
        ends = {tuple(path[0]) for path in filled.paths}
        back = [p for p in filled.paths if any(np.array_equal(p[-1], p[k]) for k in (0, 1))]
        assert len(back) >= 2  # to the door, or to the end of the stem that leads in from it
        assert all(dumbbell.boundary.distance(Point(end)) < 90 for end in ends)
        (neck,) = [note for note in filled.notes if note.kind == "neck"]
        assert box(80, 36, 180, 44).covers(Point(neck.at))
        assert neck.width == pytest.approx(8, abs=0.2)


def test_parallel_lines_run_from_edge_to_edge_or_join_into_one_path_within_a_hem():
    patch = box(0, 0, 100, 60)
    loose = fill(patch, "parallel", 10).paths
    assert sorted(float(path[0, 1]) for path in loose) == pytest.approx([10, 20, 30, 40, 50])
    for path in loose:
        assert sorted(path[:, 0].tolist()) == pytest.approx([0, 100])
    hemmed = MultiLineString(fill(patch, "parallel", 10, inset=5).paths)
    joined = shapely.line_merge(hemmed)
    assert isinstance(joined, LineString)
    assert joined.is_simple
    ends = shapely.multipoints(shapely.get_coordinates(joined)[[0, -1]])
    assert patch.boundary.covers(ends)


def test_lines_at_an_angle_run_at_that_angle():
    for angle in (0, 30, 60, 135):
        for path in fill(box(0, 0, 200, 200), "parallel", 10, angle=angle).paths:
            x, y = path[-1] - path[0]
            assert np.sin(np.arctan2(y, x) - np.radians(angle)) == pytest.approx(0, abs=1e-9)


def test_crosshatch_makes_squares_through_the_corners_of_its_block():
    block = box(0, 0, 120, 120)
    lines = [LineString(path) for path in fill(block, "crosshatch", 12, angle=45).paths]
    # 120 sqrt 2 from corner to corner are 14 spaces of 12.12 mm.
    cells = list(
        shapely.polygonize([shapely.node(MultiLineString([*lines, block.exterior]))]).geoms
    )
    side = 120 * np.sqrt(2) / 14
    whole = [cell for cell in cells if cell.area == pytest.approx(side**2, rel=1e-6)]
    assert len(whole) > 40
    assert sum(cell.area for cell in cells) == pytest.approx(120**2)
    for corner in ((0, 0), (120, 0), (0, 120), (120, 120), (60, 60)):
        assert MultiLineString(lines).distance(Point(corner)) < 1e-9


@pytest.mark.parametrize(
    ("style", "angle"),
    [("parallel", 45), ("crosshatch", 45), ("crosshatch", 0), ("waves", 0), ("orange peel", 0),
     ("orange peel", 45), ("clamshell", 0)],
)  # fmt: skip
def test_what_runs_from_edge_to_edge_meets_at_the_seam_of_two_blocks(style, angle):
    def at_seam(x):
        block = box(x, 0, x + 203.2, 203.2)
        ends = np.concatenate([p[[0, -1]] for p in fill(block, style, 25.4, angle=angle).paths])
        across = np.unique(np.round(ends[np.abs(ends[:, 0] - 203.2) < 1e-6, 1], 4))
        return across[(across > 0) & (across < 203.2)]  # a corner lies in both

    left, right = at_seam(0), at_seam(203.2)
    assert len(left) > 4
    assert left.tolist() == pytest.approx(right.tolist())


def test_a_patch_is_ruled_by_the_block_that_it_lies_in():
    block, patch = box(0, 0, 100, 100), Polygon([(0, 0), (100, 0), (0, 100)])
    of_block = {round(float(path[0, 1]), 6) for path in fill(block, "parallel", 11).paths}
    of_patch = {
        round(float(path[0, 1]), 6) for path in fill(patch, "parallel", 11, frame=block).paths
    }
    assert of_patch <= of_block
    assert len(of_patch) > 6


def test_a_spacing_that_is_changed_to_come_out_whole_is_told():
    assert not fill(box(0, 0, 100, 100), "parallel", 10).notes
    (note,) = fill(box(0, 0, 100, 100), "parallel", 9).notes
    assert (note.kind, note.width) == ("whole", pytest.approx(100 / 11))
    assert not fill(box(0, 0, 100, 100), "parallel", 100 / 11 * 1.009).notes


# --- where the thread cannot go along the edge ----------------------------------------------------


@few
@given(regions, spacings, st.sampled_from(["parallel", "crosshatch", "waves"]), st.integers(0, 90))
def test_lines_are_joined_along_a_closed_edge_two_and_two_and_never_in_a_ring(
    region, spacing, style, angle
):
    closed = region.boundary
    plain = fill(region, style, spacing, angle=angle)
    filled = fill(region, style, spacing, angle=angle, closed=closed)
    hem = min(1.0, spacing / 8)
    steps = [p for p in filled.paths if closed.buffer(hem + 0.11).covers(LineString(p))]
    lines = [p for p in filled.paths if not closed.buffer(hem + 0.11).covers(LineString(p))]
    assert not plain.paths or (len(steps) > 0) == (len(lines) > 1)
    ends = Counter(tuple(end) for path in lines for end in path[[0, -1]])
    at_steps = Counter(tuple(end) for path in steps for end in path[[0, -1]])
    assert at_steps.keys() <= ends.keys()  # to the last bit
    assert all(count == 1 for count in at_steps.values())
    graph = nx.MultiGraph()
    graph.add_edges_from((tuple(path[0]), tuple(path[-1])) for path in filled.paths)
    assert nx.is_forest(graph)


def test_an_open_edge_has_no_steps_and_those_round_a_piece_keep_off_it():
    piece = Point(60, 60).buffer(30)
    ground = box(0, 0, 120, 120).difference(piece)
    paths = fill(ground, "parallel", 8, closed=piece.exterior).paths
    steps = [p for p in paths if piece.buffer(1.2).covers(LineString(p))]
    assert len(steps) >= 6
    for step in steps:
        assert LineString(step).distance(piece) == pytest.approx(1.0, abs=0.05)
    for path in paths:
        on_edge = path[:, 0]
        assert not ((on_edge[:-1] == 0) & (on_edge[1:] == 0)).any()


# --- on a lattice -------------------------------------------------------------------------------


def test_an_orange_peel_is_the_lens_of_two_quarter_circles():
    """Its area over a side of 1 is pi/4 - 1/2: two segments of a quarter circle of radius 1/√2."""
    side = 20.0
    lines = [LineString(p) for p in fill(box(0, 0, 100, 100), "orange peel", side).paths]
    cells = list(shapely.polygonize([shapely.node(MultiLineString(lines))]).geoms)
    lens = (np.pi / 4 - 0.5) * side**2
    lenses = [cell for cell in cells if cell.area == pytest.approx(lens, rel=0.01)]
    assert len(lenses) == 2 * 5 * 4  # over each inner side of 5 by 5 squares


def test_clamshells_stand_on_the_crowns_of_the_row_below():
    paths = fill(box(0, 0, 120, 120), "clamshell", 24).paths
    rows = sorted(paths, key=lambda path: path[:, 1].min())
    rows = [row for row in rows if np.ptp(row[:, 0]) > 119]
    assert len(rows) >= 8
    for upper, lower in pairwise(rows):
        feet = upper[np.isclose(upper[:, 1], upper[:, 1].max())]
        crowns = lower[np.isclose(lower[:, 1], lower[:, 1].min(), atol=0.03)]
        assert lower[:, 1].min() == pytest.approx(upper[:, 1].max(), abs=0.03)
        inner = feet[(feet[:, 0] > 1) & (feet[:, 0] < 119)]
        assert cKDTree(crowns).query(inner)[0].max() < 1.5


def test_matchsticks_are_uneven_but_within_two_fifths_and_another_seed_moves_them():
    block = box(0, 0, 200, 200)
    first, again, other = (
        sorted(float(p[0, 1]) for p in fill(block, "matchstick", 8, seed=s).paths)
        for s in (1, 1, 2)
    )
    assert first == again != other
    gaps = np.diff(first) / 8
    assert 0.6 - 1e-6 <= gaps.min() < 0.85
    assert 1.15 < gaps.max() <= 1.4 + 1e-6


# --- patch by patch -----------------------------------------------------------------------------

STAR_POINT = Polygon([(0, 0), (60, 0), (0, 60)])
KITE = Polygon([(0, 0), (40, 10), (50, 50), (10, 40)])


@pytest.mark.parametrize("patch", [box(0, 0, 60, 60), STAR_POINT, KITE, box(0, 0, 400, 30)])
@pytest.mark.parametrize("depth", [4, 30])
def test_a_continuous_curve_goes_from_corner_to_corner_inside_its_patch(patch, depth):
    curves = fill(patch, "continuous curve", depth).paths
    corners = {tuple(c) for c in shapely.get_coordinates(patch)}
    assert len(curves) == len(corners)
    for curve in curves:
        assert {tuple(curve[0]), tuple(curve[-1])} <= corners
        assert patch.buffer(1e-6).covers(LineString(curve))
        in_middle = LineString(curve).interpolate(0.5, normalized=True)
        assert 1 < LineString(curve[[0, -1]]).distance(in_middle) <= depth + 1e-6
    for one, two in combinations(curves, 2):  # those of two sides meet at their corner only
        shared = LineString(one).intersection(LineString(two))
        assert shared.is_empty or shared.length == 0
        assert all(tuple(c) in corners for c in shapely.get_coordinates(shared).round(9))


def test_a_continuous_curve_lies_as_deep_as_asked_and_is_a_circles_arc():
    """Radius of an arc: (half chord² + rise²) / (2 rise), from any handbook of geometry."""
    curves = fill(box(0, 0, 100, 100), "continuous curve", 6).paths
    top = next(c for c in curves if c[:, 1].max() < 50 and abs(c[0, 0] - c[-1, 0]) > 50)
    radius = (50**2 + 6**2) / 12
    assert top[:, 1].max() == pytest.approx(6, abs=0.02)
    assert np.hypot(top[:, 0] - 50, top[:, 1] - (6 - radius)) == pytest.approx(radius, abs=0.05)


def test_piano_keys_lie_across_a_border_and_come_out_whole():
    paths = fill(box(0, 0, 300, 40), "piano keys", 23).paths
    at = sorted(float(p[0, 0]) for p in paths)
    assert np.diff([0, *at, 300]) == pytest.approx(300 / 13)
    assert all(sorted(p[:, 1].tolist()) == pytest.approx([0, 40]) for p in paths)
    square = fill(box(0, 0, 40, 40), "piano keys", 10).paths
    assert all(abs(abs(p[0, 0] - p[-1, 0]) - abs(p[0, 1] - p[-1, 1])) < 1e-6 for p in square)


def test_waves_stay_in_step_a_spacing_apart_and_none_is_cut_off_at_the_top():
    paths = fill(box(0, 0, 240, 160), "waves", 10).paths
    assert len(paths) == 16
    for path in paths:
        assert sorted(path[[0, -1], 0].tolist()) == pytest.approx([0, 240])
    rows = sorted(paths, key=lambda path: float(path[0, 1]))
    assert np.ptp(rows[0][:, 1]) < 3
    assert np.ptp(rows[8][:, 1]) > 9
    for one, two in pairwise(rows):
        assert LineString(one).distance(LineString(two)) > 7.5
    crests = [
        float(LineString(row).intersection(LineString([(75, 0), (75, 160)])).y) for row in rows
    ]
    assert np.diff(crests[4:12]) == pytest.approx(10)


# --- motifs -------------------------------------------------------------------------------------


def test_every_other_row_of_a_motif_is_shifted_by_half_of_it():
    filled = fill(box(0, 0, 400, 300), "motif rows", 30, motif=BOAT)
    assert len(filled.paths) == 10
    masts = []
    for path in filled.paths:
        tops = path[path[:, 1] < path[:, 1].min() + 0.01]
        masts.append(np.sort(tops[:, 0]))
        assert np.diff(masts[-1]) == pytest.approx(np.diff(masts[-1]).mean())
    stride = np.diff(masts[0]).mean()
    shift = (masts[1][0] - masts[0][0]) / stride % 1
    assert shift == pytest.approx(0.5, abs=0.12)


def test_a_motif_is_drawn_whole_and_in_proportion():
    """The mast of the boat is 5 of 6 units of its height, all over a plain rectangle."""
    for path in fill(box(0, 0, 400, 300), "motif rows", 30, motif=BOAT).paths:
        height = np.ptp(path[1:-1, 1])
        assert height == pytest.approx(0.9 * (300 - 2 * 3.04) / 10, rel=0.01)


def test_a_motif_may_be_drawn_in_pieces_or_from_right_to_left():
    whole = fill(box(0, 0, 200, 90), "motif rows", 30, motif=BOAT)
    pieces = fill(box(0, 0, 200, 90), "motif rows", 30, motif=[BOAT[0][:5], BOAT[0][4:]])
    back = fill(box(0, 0, 200, 90), "motif rows", 30, motif=[BOAT[0][::-1]])
    for one, two, three in zip(whole.paths, pieces.paths, back.paths, strict=True):
        assert np.allclose(one, two)
        assert np.allclose(one, three)


def test_motif_rows_give_way_to_the_edge_and_are_never_cut_off():
    lighthouse = affinity.scale(Point(0, 0).buffer(80), 0.6, 1)
    filled = fill(lighthouse, "motif rows", 20, motif=BOAT)
    assert len(filled.paths) == 8
    assert all(len(path) > 12 for path in filled.paths)


@pytest.mark.parametrize(
    ("motif", "said"),
    [
        (None, "need a motif"),
        ([np.zeros((1, 2))], "no line"),
        ([BOAT[0][:3], BOAT[0][5:]], "piece 2 begins"),
        ([np.array([[0, 0], [3, 4], [6, 0], [0, 0.0]])], "ends where it begins"),
    ],
)
def test_a_motif_that_makes_no_row_is_refused_with_the_reason(motif, said):
    with pytest.raises(StitchpathError, match=said):
        fill(box(0, 0, 100, 100), "motif rows", 20, motif=motif)


# --- bad input ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"style": "no such fill"}, "there is no fill"),
        ({"spacing": 0}, "spacing of 0 mm"),
        ({"spacing": float("nan")}, "spacing of nan"),
        ({"inset": -1}, "inset of -1 mm"),
        ({"radius": 5}, "from 0 to 4 mm"),
        ({"region": Polygon()}, "empty"),
        ({"region": Polygon([(0, 0), (9, 9), (9, 0), (0, 9)])}, "Self-intersection"),
        ({"door": (50.0, 50.0)}, "mm off the edge"),
    ],
)
def test_what_can_not_be_filled_is_refused_in_one_sentence(change, said):
    good = {"region": box(0, 0, 100, 100), "style": "meander", "spacing": 10}
    with pytest.raises(StitchpathError, match=said):
        fill(**{**good, **change})


@pytest.mark.parametrize("angle", [0, 30, 90])
def test_no_place_among_loops_is_left_loose(angle):
    region = box(0, 0, 16 * INCH, 12 * INCH).difference(Point(200, 160).buffer(60))
    filled = fill(region, "loops", INCH / 2, angle=angle)
    assert farthest(region, filled, INCH / 4, INCH / 2) < 1.1


@pytest.mark.parametrize("style", STYLES)
def test_a_patch_too_small_for_a_fill_is_left_with_a_word(style):
    filled = fill(box(0, 0, 5, 5), style, 12, motif=BOAT)
    assert filled.paths == () or {note.kind for note in filled.notes} <= {"whole"}
    assert filled.paths or filled.notes[0].kind in ("empty", "unfit")


def test_a_place_just_wide_enough_to_turn_in_gets_one_ring():
    # As the rings' own rounding leaves it: a circle of the least radius, drawn in straight pieces.
    place = Point(0, 0).buffer(1.27, quad_segs=4)
    found, kept = rings(place, place, 5.08, 1.27, None)
    assert kept
    assert shapely.union_all([LineString(path) for path in found]).length > 7.9
