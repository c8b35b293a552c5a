"""Which lines are finished in one go, and what is ground that one may come to again and again."""

import numpy as np
import pytest
from quilts import SQUARES, STARFISH, design

from stitchpath.hands.areas import GROUND, areas_of
from stitchpath.lines.collect import collect_lines
from stitchpath.lines.ditch import seam_bits
from stitchpath.top.build import build_top
from stitchpath.top.place import Place, Subject

TWO = SQUARES.replace('"squares"]', '"squares*2"]\nsashing = { width = 2, fabric = "coral" }')
BORDER = '[[layout.borders]]\nwidth = 2\nfabric = "coral"\n'


def areas(text):
    made = design(text)
    top = build_top(made)
    lines = collect_lines(made, top, seam_bits(top)).lines
    return areas_of(made, top, lines), lines, top


def test_seams_within_a_block_are_one_area_and_seams_between_blocks_are_ground():
    found, lines, top = areas(TWO + BORDER)
    assert [area.place.name for area in found.of] == ["A1", "A2"]
    joining = np.array([seam.joining for seam in top.seams])
    assert (found.seam[joining] == GROUND).all()
    assert (found.seam[~joining] != GROUND).all()
    for line, area in zip(lines, found.line.tolist(), strict=True):
        assert area == found.seam[line.of.seam]


def test_an_applique_piece_is_an_area_of_its_own_with_its_edge_and_echoes():
    lines = 'edge_line = true\necho = { step = "1/4 in", count = 2 }\n[lines]'
    star = STARFISH.replace("[lines]", lines)
    found, lines, _ = areas(star)
    (area,) = set(found.line.tolist())
    assert found.of[area - 1] == Subject(pieces=(0,))
    assert {line.kind for line in lines} == {"centre", "outline", "echo"}


def test_a_closed_fill_belongs_to_what_it_fills_and_one_from_edge_to_edge_is_ground():
    fill = '[[fills]]\nregion = {}\nspacing = 0.5\nstyle = "{}"\n'
    bare = '[lines]\nditch = "none"\n'
    block, lines, _ = areas(SQUARES + fill.format('"A1"', "meander") + bare)
    assert lines
    assert [area.place for area in block.of] == [Place("block", 0, 0)] * len(block.of)
    assert set(block.line.tolist()) == {1}
    border, _, _ = areas(SQUARES + BORDER + fill.format('"border 1"', "spiral") + bare)
    assert [area.place for area in border.of if area.place.part == "border"] == [
        Place("border", number=1)
    ]
    rows, lines, _ = areas(SQUARES + fill.format('"A1"', "parallel") + bare)
    assert lines
    assert set(rows.line.tolist()) == {GROUND}


def test_a_seam_that_goes_straight_on_into_the_next_block_is_no_coming_back():
    # Eight patches to a block: the seams across run on through all three, those down do not.
    three = SQUARES.replace('"squares"]', '"squares*3"]').replace(
        "['sand sea', 'sea sand']", "['sand sea sand sea', 'sea sand sea sand']"
    )
    found, _, top = areas(three)
    for seam, area in zip(top.seams, found.seam.tolist(), strict=True):
        across = seam.points[0][1] == seam.points[-1][1]
        assert (area == GROUND) == (across or seam.joining)
    # Rows below each other let the seams down run on as well.
    grid, _, _ = areas(three.replace("squares*3", "squares*2") + "repeat = 2\n")
    assert not grid.of
    # Sashing ends a straight: what lies beyond is another.
    assert len(areas(TWO)[0].of) == 2


def test_a_block_with_a_seam_or_two_is_stitched_in_passing():
    for patches, own in (("'sand sea sand sea'", False), ("'sand sea sand sea sand'", True)):
        found, lines, _ = areas(SQUARES.replace("'sand sea', 'sea sand'", patches))
        assert len(lines) == (4 if own else 3)
        assert (found.line != GROUND).all() == own


def test_a_seam_that_bends_where_blocks_meet_ends_there():
    # Half-square triangles that meet point to point at a right angle, and those that run on.
    text = SQUARES.replace("['sand sea', 'sea sand']", "['sand/sea']")
    bent, _, _ = areas(text.replace('"squares"]', '"squares squares:90"]'))
    assert len(bent.of) == 2
    rows = '"squares:90 squares", "squares squares:90"]'
    assert not areas(text.replace('"squares"]', rows))[0].of


@pytest.mark.parametrize(("degrees", "through"), [(4, True), (6, False)])
def test_she_sews_on_into_the_next_block_where_a_seam_bends_by_no_more_than_five_degrees(
    degrees, through
):
    rise = 6 * np.tan(np.radians(degrees / 2))  # and as much down again in the block beside it
    block = f"""
size = 6
units = 6
patches = [
  {{ name = "sky", fabric = "sand", points = [[0, 0], [6, 0], [6, {3 + rise}], [0, 3]] }},
  {{ name = "swell", fabric = "sea", points = [[0, 3], [6, {3 + rise}], [6, 6], [0, 6]] }},
]
"""
    grid = SQUARES[SQUARES.index("size = 6") : SQUARES.index("[layout]")]
    found, _, _ = areas(SQUARES.replace(grid, block).replace('"squares"]', '"squares squares:m"]'))
    assert (not found.of) == through
