"""A block made of blocks is a block like any other: laid, turned, named, filled, pressed."""

import numpy as np
import pytest
import shapely
from quilts import FABRICS, check_laws, design, planned, verify

from stitchpath.base.errors import StitchpathError
from stitchpath.plan import lines_of
from stitchpath.top.build import build_top

HARBOUR = f"""
name = "Harbour"
unit = "mm"
{FABRICS}[blocks.light]
size = [40, 100]
grid = ['sand', 'sea']
[blocks.bar]
size = [20, 100]
grid = ['coral']
[blocks.harbour]
rows = ["light bar light:180"]
"""
LAID = '[layout]\nrows = ["harbour harbour:m", "harbour:180 harbour"]\n'


def by_hand(text):
    return {
        (p.fabric, *(round(v, 3) for v in p.polygon.bounds))
        for p in build_top(design(text)).patches
    }


def test_it_lies_as_its_blocks_placed_one_by_one_do():
    rows = '[layout]\nrows = ["light bar light:180 light bar light:180"]\n'
    assert by_hand(HARBOUR + '[layout]\nrows = ["harbour*2"]\n') == by_hand(HARBOUR + rows)


@pytest.mark.parametrize("how", ["0", "90", "180", "270", "m", "90m", "270m"])
def test_turned_and_mirrored_it_is_turned_as_a_whole(how):
    made = build_top(design(HARBOUR + f'[layout]\nrows = ["harbour:{how}"]\n'.replace(":0", "")))
    flat = HARBOUR.replace('rows = ["light bar light:180"]', DRAWN)
    one = build_top(design(flat + f'[layout]\nrows = ["harbour:{how}"]\n'.replace(":0", "")))
    for fabric in ("sand", "sea", "coral"):
        areas = [
            shapely.union_all([p.polygon for p in each.patches if p.fabric == fabric])
            for each in (made, one)
        ]
        assert areas[0].symmetric_difference(areas[1]).area < 1e-6


DRAWN = """size = 100
columns = [2, 1, 2]
grid = ['sand coral sea', 'sea coral sand']"""


def test_its_blocks_are_named_by_where_they_lie_in_it():
    made = build_top(design(HARBOUR + LAID))
    names = [block.place.name for block in made.blocks]
    assert names[:6] == ["A1.1", "A1.2", "A1.3", "A2.1", "A2.2", "A2.3"]
    assert [block.place.name for block in made.compounds] == ["A1", "A2", "B1", "B2"]
    middles = {b.place.name: b.corners.mean(axis=0).round(6).tolist() for b in made.blocks}
    assert middles["A2.1"] == [180, 50]  # mirrored: its first block is the one on the right
    assert middles["B1.1"] == [80, 150]
    free = '[layout]\nplace = [{ block = "harbour", x = 0, y = 0 }]\n'
    assert build_top(design(HARBOUR + free)).blocks[1].place.name == "P1.2"


def test_blocks_within_blocks_within_blocks_are_named_all_the_way():
    text = HARBOUR + '[blocks.coast]\nrows = ["harbour", "harbour"]\n[layout]\nrows = ["coast"]\n'
    names = [block.place.name for block in build_top(design(text)).blocks]
    assert names == ["A1.1.1", "A1.1.2", "A1.1.3", "A1.2.1", "A1.2.2", "A1.2.3"]


@pytest.mark.parametrize(
    ("name", "area"),
    [("A1", 10_000), ("harbour", 40_000), ("A1.2", 2_000), ("bar", 8_000), ("harbour.1", 16_000),
     ("A2.3.r1c1", 2_000), ("harbour.3.r1c1", 8_000), ("top", 40_000)],
)  # fmt: skip
def test_every_name_of_it_fills_that_ground(name, area):
    fill = f'[[fills]]\nregion = "{name}"\nstyle = "parallel"\nspacing = 5\ninset = 0\n'
    top, lines = lines_of(design(HARBOUR + LAID + fill))
    filled = shapely.union_all([shapely.LineString(x.points) for x in lines if x.kind == "fill"])
    assert filled.buffer(2.6, cap_style="flat").area == pytest.approx(area, rel=0.25)
    assert top.outline.area == pytest.approx(40_000)


def test_a_piece_laid_on_it_lies_in_the_middle_of_each():
    piece = '[[applique]]\nname = "buoy"\noutline = "M 0 0 L 9 0 L 9 9 L 0 9 Z"\nsize = 30\n'
    text = HARBOUR + LAID + piece + 'on = "harbour"\nfabric = "coral"\nfused = "before"\n'
    plan = planned(text, time_limit=1)
    middles = [tuple(np.round(p.shape.centroid.coords[0], 3)) for p in plan.top.pieces]
    assert middles == [(50, 50), (150, 50), (50, 150), (150, 150)]
    assert plan.places.piece(3) == "buoy on B2"
    codes = [check.code for check in plan.checks]
    assert "piece-over-seam" not in codes  # it lies within its block, over seams inside it
    check_laws(plan)
    verify(plan)


def test_its_press_rule_is_that_of_the_seams_in_it_and_between_its_blocks():
    pressed = HARBOUR.replace('rows = ["light', 'press = "open"\nrows = ["light')
    made = build_top(design(pressed + LAID))
    places = [[made.patches[i].place for i in (s.left, s.right)] for s in made.seams]
    alike = [(a.row, a.column) == (b.row, b.column) for a, b in places]
    inner = [seam for seam, same in zip(made.seams, alike, strict=True) if same]
    assert {seam.high for seam in inner} == {0}
    assert 0 not in {seam.high for seam in made.seams if not any(seam is x for x in inner)}
    own = pressed.replace("grid = ['sand', 'sea']", "grid = ['sand', 'sea']\npress = 'darker'")
    made = build_top(design(own + LAID))
    within = [seam for seam in made.seams if not seam.joining]
    assert 0 not in {seam.high for seam in within}


def test_it_may_stand_on_point_and_between_sashing():
    on_point = '[layout]\nrows = ["harbour"]\non_point = true\nsetting = "sea"\n'
    sashed = '[layout]\nrows = ["harbour*2"]\nsashing = { width = 10, fabric = "sea" }\n'
    for text in (on_point, sashed):
        verify(planned(HARBOUR + text, time_limit=1))


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (
            '["light bar", "bar"]',
            "blocks.harbour.rows: found 20 mm and 60 mm, expected rows of one",
        ),
        ('["light bar:90"]', "blocks.harbour.rows, row A: found 20 mm and 100 mm, expected blocks"),
        ('["light harbour"]', "found a block within itself (harbour in harbour), expected"),
        ('["light coast"]', "within itself"),
        ('["lite"]', "blocks.harbour.rows[1]: found the unknown block 'lite'"),
        (
            '["light*60"]\n[blocks.b]\nrows = ["harbour*999"]\n',
            "b.rows: found 119880 patches, expected",
        ),
        ("[]", "blocks.harbour.rows: found no row"),
        ('["light"]\nsize = 3', "found a size beside rows"),
    ],
)
def test_rows_that_make_no_block_are_told_in_one_sentence(rows, said):
    text = HARBOUR.replace('["light bar light:180"]', rows)
    text += '[blocks.coast]\nrows = ["harbour"]\n' if "coast" in rows else ""
    with pytest.raises(StitchpathError) as error:
        build_top(design(text + '[layout]\nrows = ["harbour"]\n'))
    assert said in str(error.value)


def test_blocks_may_lie_six_deep_and_no_deeper():
    def coast(deep):
        rows = "".join(f'[blocks.b{k}]\nrows = ["b{k - 1}"]\n' for k in range(2, deep + 1))
        first = '[blocks.b1]\nrows = ["light"]\n'  # two deep
        return design(f'{HARBOUR}{first}{rows}[layout]\nrows = ["b{deep}"]\n')

    assert build_top(coast(5)).blocks[0].place.name == "A1.1.1.1.1.1"
    with pytest.raises(StitchpathError, match=r"b6\.rows: found 7 blocks within each other"):
        build_top(coast(6))
