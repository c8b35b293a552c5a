"""The block library and the shipped designs, held against geometry and against the trade."""

import math
import re
import tomllib
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from stitchpath.design.library import library_block, library_names
from stitchpath.design.model import Block, Toward
from stitchpath.design.read import design_from_text, load_design
from stitchpath.design.schema import design_schema
from stitchpath.top.block import DrawnBlock, draw_block
from stitchpath.top.build import Top, build_top
from stitchpath.top.seams import meet

INCH = 25.4
DESIGNS = Path(__file__).parents[2] / "designs"
BLOCKS = Path(__file__).parents[2] / "stitchpath" / "design" / "blocks"
NAMES = library_names()

# What a piecer cuts for one block (common practice).
PATCHES = {
    "half-square triangle": 2,
    "rail fence": 3,
    "hourglass": 4,
    "four patch": 4,
    "square in a square": 5,
    "spool": 5,
    "flying geese": 6,  # two geese
    "pinwheel": 8,
    "grandmother's fan": 6 + 2,
    "nine patch": 9,
    "economy": 9,
    "friendship star": 13,
    "shoofly": 13,
    "log cabin": 1 + 3 * 4,
    "courthouse steps": 1 + 3 * 4,
    "lemoyne star": 8 + 4 + 4,
    "snail's trail": 4 + 3 * 4,
    "sawtooth star": 4 + 1 + 4 * 3,
    "churn dash": 4 * 2 + 4 * 2 + 1,
    "ohio star": 4 + 1 + 4 * 4,
    "dutchman's puzzle": 8 * 3,
    "storm at sea": 9 + 5 + 2 * 5,
    "jacob's ladder": 5 * 4 + 4 * 2,
    "broken dishes": 16 * 2,
    "bear's paw": 4 * (1 + 1 + 4 * 2) + 4 + 1,
}

# Pairs of patches that share an edge, counted by hand on the drawing.
SEAMS = {
    "half-square triangle": 1,
    "rail fence": 2,
    "four patch": 4,
    "hourglass": 4,
    "square in a square": 4,
    "spool": 4 + 4,  # the mitres, and round the thread
    "pinwheel": 4 + 4,  # the diagonals, and the cross
    "economy": 4 + 8,
    "nine patch": 12,
    "friendship star": 12 + 4,
    "lemoyne star": 8 + 16,
    "sawtooth star": 8 + 8 + 8,  # in the geese, centre to points, corners to points
    "churn dash": 4 + 4 + 4 + 16,
    "ohio star": 16 + 4 + 8,
}

# A quarter turn gives the same block again.
TURNING = [
    "bear's paw",
    "churn dash",
    "dutchman's puzzle",
    "economy",
    "friendship star",
    "lemoyne star",
    "mariner's compass",
    "nine patch",
    "ohio star",
    "pinwheel",
    "sawtooth star",
    "shoofly",
    "square in a square",
]


def drawn(name: str, size: float | None = None) -> DrawnBlock:
    library = library_block(name, "test")
    spec = library if size is None else Block(library=name, size=size)
    return draw_block(name, spec, library, "in")


@cache
def built(name: str) -> Top:
    return build_top(load_design(DESIGNS / f"{name}.toml"))


def same_patches(one, other):
    """Tell whether both lists of (fabric, polygon) hold the same shapes in the same fabrics."""
    if len(one) != len(other):
        return False
    left = list(other)
    for fabric, shape in one:
        point = shape.representative_point()
        match = [k for k, (f, s) in enumerate(left) if f == fabric and s.contains(point)]
        if len(match) != 1 or shape.symmetric_difference(left[match[0]][1]).area > 0.05:
            return False
        del left[match[0]]
    return True


def turned(block: DrawnBlock, degrees: float):
    """Turn a block clockwise about its middle; y points down, so the angle is positive."""
    middle = (block.width / 2, block.height / 2)
    return [
        (p.fabric, shapely.affinity.rotate(p.polygon, degrees, origin=middle))
        for p in block.patches
    ]


def patch(block: DrawnBlock, name: str):
    return next(p.polygon for p in block.patches if p.name == name)


def sides(polygon) -> list[float]:
    """Finished side lengths, inches."""
    corners = np.array(polygon.exterior.coords)
    return sorted(np.hypot(*np.diff(corners, axis=0).T) / INCH)


def test_the_library_holds_the_blocks_every_piecer_knows():
    assert set(PATCHES) | {"sailboat", "lighthouse", "drunkard's path"} <= set(NAMES)
    assert len(NAMES) == len(list(BLOCKS.glob("*.toml"))) >= 20


@pytest.mark.parametrize("name", NAMES)
def test_patches_fill_the_block_without_gap_or_overlap(name):
    block = drawn(name)
    shapes = [p.polygon for p in block.patches]
    assert all(s.is_valid and s.area > 1 for s in shapes)
    area = block.width * block.height
    # Slivers of 0.01 mm along every edge would come to about this much.
    slack = 0.01 * sum(s.length for s in shapes) / 2
    assert math.fsum(s.area for s in shapes) == pytest.approx(area, abs=slack)
    union = shapely.union_all(shapes, grid_size=0.001)
    assert union.area == pytest.approx(area, abs=slack)
    assert union.hausdorff_distance(shapely.box(0, 0, block.width, block.height)) < 0.01
    for one, other in combinations(shapes, 2):
        assert one.intersection(other).area < 0.01


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(NAMES), st.floats(3, 40))
def test_a_block_can_be_made_at_any_size(name, size):
    block = drawn(name, size)  # raises where patches would leave a gap
    assert block.width == block.height == pytest.approx(size * INCH)
    shares = [p.polygon.area / block.width**2 for p in block.patches]
    usual = drawn(name)
    for share, p in zip(shares, usual.patches, strict=True):
        assert share == pytest.approx(p.polygon.area / usual.width**2, rel=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_every_fabric_of_a_block_is_used_and_every_used_one_is_listed(name):
    block = library_block(name, "test")
    assert {p.fabric for p in drawn(name).patches} == set(block.fabrics)
    assert len(block.fabrics) == len(set(block.fabrics))
    if isinstance(block.press, Toward):
        assert set(block.press.toward) <= set(block.fabrics)
    assert block.note.endswith(".")
    assert ". " not in block.note


@pytest.mark.parametrize("file", sorted(BLOCKS.glob("*.toml")), ids=lambda f: f.stem)
def test_a_block_is_found_by_the_name_of_its_file(file):
    name = tomllib.loads(file.read_text("utf-8"))["name"]
    assert file.stem == name.replace("'", "").replace(" ", "-")
    assert library_block(file.stem, "test").name == name


@pytest.mark.parametrize(("name", "count"), PATCHES.items())
def test_no_more_patches_than_a_piecer_would_cut(name, count):
    assert len(drawn(name).patches) == count


@pytest.mark.parametrize(("name", "count"), SEAMS.items())
def test_seams_are_those_a_piecer_sews(name, count):
    shapes = [p.polygon for p in drawn(name).patches]
    by_shapely = {
        (i, j)
        for (i, a), (j, b) in combinations(enumerate(shapes), 2)
        if a.buffer(0.05).intersection(b).area > 0.05  # more than a touch at a corner
    }
    meeting = meet(np.array(shapes))
    inner = (meeting.left >= 0) & (meeting.right >= 0)
    pairs = zip(meeting.left[inner], meeting.right[inner], strict=True)
    assert {(int(min(p)), int(max(p))) for p in pairs} == by_shapely
    assert len(by_shapely) == count


@pytest.mark.parametrize("name", TURNING)
def test_a_star_looks_the_same_from_all_four_sides(name):
    block = drawn(name)
    assert same_patches(turned(block, 0), turned(block, 90))


@pytest.mark.parametrize("name", ["pinwheel", "friendship star", "dutchman's puzzle"])
def test_a_block_that_spins_is_not_its_own_mirror_image(name):
    block = drawn(name)
    flip = [
        (p.fabric, shapely.affinity.scale(p.polygon, -1, 1, origin=(block.width / 2, 0)))
        for p in block.patches
    ]
    assert not same_patches(turned(block, 0), flip)


def test_a_snails_trail_turned_by_a_quarter_trades_its_fabrics():
    block = drawn("snail's trail")
    traded = {"trail": "ground", "ground": "trail"}
    other = [(traded[fabric], shape) for fabric, shape in turned(block, 90)]
    assert same_patches(turned(block, 0), other)


def test_geese_fly_up_and_claws_point_outward():
    geese = drawn("flying geese")
    beak = min(patch(geese, "goose 1").exterior.coords, key=lambda c: c[1])
    assert beak == pytest.approx((geese.width / 2, 0))
    paw = drawn("bear's paw")
    unit = paw.width / 7
    # The tip is the sharp corner away from the pad: up and left, beside the corner square.
    assert (unit, 0) in list(patch(paw, "claw top left 1").exterior.coords)
    assert (0, unit) in list(patch(paw, "claw top left 3").exterior.coords)
    claw, pad = patch(paw, "claw top left 1"), patch(paw, "pad top left")
    assert claw.intersection(pad).length == pytest.approx(unit)


def test_a_log_cabin_grows_by_one_log_after_another():
    block = drawn("log cabin")
    shapes = [p.polygon for p in block.patches]
    for i in range(1, len(shapes)):
        rest = shapely.union_all(shapes[: i + 1])
        assert rest.area == pytest.approx(rest.envelope.area)  # each log gives a whole rectangle
    long = [max(sides(s)) for s in shapes[1:]]
    assert (np.diff(long) > -1e-9).all()


def test_cut_sizes_are_those_of_printed_patterns():
    # Finished plus 1/2 in for squares and strips; leg plus 7/8 in for the square that is cut into
    # two triangles (common practice). The cut sizes are those of the free block patterns "Churn
    # Dash", 6 in, and "Bear's Paw", 14 in, of the magazine American Patchwork & Quilting.
    dash = drawn("churn dash", 6)
    assert np.add(sides(patch(dash, "rail top")), 0.5) == pytest.approx([1.5, 1.5, 2.5, 2.5])
    assert np.add(sides(patch(dash, "centre")), 0.5) == pytest.approx([2.5] * 4)
    assert sides(patch(dash, "dash top left"))[0] + 7 / 8 == pytest.approx(2 + 7 / 8)
    paw = drawn("bear's paw", 14)
    assert np.add(sides(patch(paw, "bar top")), 0.5) == pytest.approx([2.5, 2.5, 6.5, 6.5])
    assert np.add(sides(patch(paw, "pad top left")), 0.5) == pytest.approx([4.5] * 4)
    assert np.add(sides(patch(paw, "corner top left")), 0.5) == pytest.approx([2.5] * 4)
    assert sides(patch(paw, "claw top left 1"))[0] + 7 / 8 == pytest.approx(2 + 7 / 8)


def test_snails_trail_comes_out_at_the_sizes_piecers_cut():
    # For 12 in: squares of 2 5/8 in, triangles from squares of 3 7/8, 5 1/4 and 6 7/8 in, all cut a
    # little generously and trimmed: My Patch World, "Snail's trail quilt pattern", 2019.
    trail = drawn("snail's trail", 12)
    names = ("square top", "round 1 top right", "round 2 right", "round 3 bottom right")
    legs = [sides(patch(trail, name))[0] for name in names]
    exact = np.add(legs, (1 / 2, 7 / 8, 7 / 8, 7 / 8))
    spare = np.array([2 + 5 / 8, 3 + 7 / 8, 5 + 1 / 4, 6 + 7 / 8]) - exact
    assert (spare > -1e-9).all()
    assert (spare < 1 / 7).all()


def test_lemoyne_star_has_eight_true_diamonds():
    # Block over 3.414 is the side of diamond and corner square (common practice).
    star = drawn("lemoyne star", 10)
    for k in range(1, 9):
        diamond = patch(star, f"diamond {k}")
        assert sides(diamond) == pytest.approx([10 / (2 + math.sqrt(2))] * 4, abs=1e-4)
        assert diamond.area / INCH**2 == pytest.approx(
            (10 / 3.41421) ** 2 * math.sin(math.pi / 4), rel=1e-4
        )
    assert sides(patch(star, "corner top left")) == pytest.approx([10 / 3.41421] * 4, abs=1e-4)


def test_curves_are_round():
    pie = patch(drawn("drunkard's path", 3), "pie")
    assert pie.area == pytest.approx(math.pi * (2 * INCH) ** 2 / 4, rel=2e-4)
    fan = drawn("grandmother's fan", 10)
    blades = [patch(fan, f"blade {k}").area / INCH**2 for k in range(1, 7)]
    assert blades == pytest.approx([math.pi * (9**2 - 3**2) / 24] * 6, rel=2e-4)
    compass = drawn("mariner's compass", 12)
    disc = math.fsum(p.polygon.area for p in compass.patches if p.fabric != "corner")
    assert disc / INCH**2 == pytest.approx(math.pi * 5.5**2, rel=2e-4)


@pytest.mark.parametrize(
    ("file", "width", "height", "patches", "pieces"),
    [
        ("harbour-runner", 60, 16, 3 * 11 + 2 + 8 + 4, 2),
        ("star-lap-quilt", 60, 81, 35 * 17 + 82 + 48 + 4 + 8, 0),
        ("curved-cushion", 16, 16, 12 + 4, 1),
        ("postage-stamp-king", 108, 108, 11_664, 0),
    ],
)
def test_shipped_designs_make_the_tops_they_promise(file, width, height, patches, pieces):
    top = built(file)
    assert (top.width / INCH, top.height / INCH) == pytest.approx((width, height))
    assert len(top.patches) == patches
    assert len(top.pieces) == pieces
    readme = (DESIGNS / "README.md").read_text("utf-8")
    assert f"| {width} × {height} in, {patches:,} patches |" in readme  # noqa: RUF001 - as printed


def test_sails_and_hulls_of_the_runner_stand_forward():
    top = built("harbour-runner")
    checked = 0
    for seam in top.seams:
        one, other = top.patches[seam.left], top.patches[seam.right]
        fabrics = {one.fabric, other.fabric}
        if one.place == other.place and fabrics & {"linen", "rust"} and fabrics & {"sky", "sea"}:
            high = one if seam.high < 0 else other
            assert high.fabric in {"linen", "rust"}
            checked += 1
    assert checked >= 3 * 8


def test_no_stamp_lies_beside_one_of_its_own_fabric():
    top = built("postage-stamp-king")
    assert len(top.seams) == 2 * 108 * 107
    fabrics = [p.fabric for p in top.patches]
    assert all(fabrics[s.left] != fabrics[s.right] for s in top.seams)
    counts = {name: fabrics.count(name) for name in top.fabrics}
    assert set(counts.values()) == {11_664 // 6}


def test_waves_of_the_cushion_run_on_across_the_seam():
    top = built("curved-cushion")
    middle = top.width / 2
    ends = {}
    for seam in top.seams:
        one, other = top.patches[seam.left], top.patches[seam.right]
        if one.place == other.place:
            for end, inner in ((0, 1), (-1, -2)):
                if abs(seam.points[end][0] - middle) < 0.01:
                    step = seam.points[inner] - seam.points[end]
                    ends.setdefault(round(seam.points[end][1], 1), []).append(step[1] / step[0])
    assert len(ends) == 4
    for slopes in ends.values():
        assert len(slopes) == 2
        assert slopes[0] == pytest.approx(slopes[1], abs=0.05)


def test_life_ring_has_its_hole():
    (ring,) = built("curved-cushion").pieces
    (shape,) = ring.shape.geoms
    assert len(shape.interiors) == 1
    outer, inner = 4 * INCH, 4 * INCH * 0.55
    assert shape.area == pytest.approx(math.pi * (outer**2 - inner**2), rel=1e-3)


def test_starfish_has_five_arms():
    piece = built("harbour-runner").pieces[0]
    (shape,) = piece.shape.geoms
    arms = shape.difference(shape.centroid.buffer(2.2 * INCH))
    assert len(arms.geoms) == 5
    assert not shape.interiors


def examples():
    text = (DESIGNS / "README.md").read_text("utf-8")
    return text, re.findall(r"^```toml\n(.*?)^```", text, re.DOTALL | re.MULTILINE)


def test_examples_of_the_guide_are_designs_that_can_be_built():
    *parts, drawing, geese = examples()[1]
    wall = build_top(design_from_text("\n".join(parts), "README", DESIGNS))
    assert len(wall.blocks) == 6
    assert len(wall.pieces) == 2
    drawn = build_top(design_from_text(drawing, "README", DESIGNS))
    assert (len(drawn.patches), len(drawn.pieces), drawn.pressed) == (8, 1, True)
    pair = build_top(design_from_text(geese, "README"))
    assert (pair.width, pair.height) == pytest.approx((300, 200))


def test_guide_explains_every_key():
    written = examples()[0]
    schema = design_schema()
    tables = [schema, *schema["$defs"].values()]
    keys = {key for table in tables for key in table.get("properties", {})}
    missing = [k for k in sorted(keys) if not re.search(rf"\b{k}\b", written)]
    assert not missing
