"""What she does on the page is what the design then says: measured on the top, not in the text."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from quilts import DESIGNS, ROOT
from random_tops import random_top

from stitchpath.base.errors import StitchpathError
from stitchpath.document.document import Document
from stitchpath.document.resizing import resizing_edits
from stitchpath.document.rows import Cell, cells_of, row_of_length, row_with
from stitchpath.lines.ditch import chosen_seams
from stitchpath.told.top_data import top_data

PLACED = """\
name = "Placed"
unit = "cm"
fabrics = { sand = "#e7d5b0", sea = "#2f6f9f" }
blocks.a = { size = 10, grid = ['sand/sea sea', 'sea sand'] }
blocks.b = { size = 10, grid = ['sea'] }

[[layout.place]]
block = "a"   # the first
x = 0
y = 0

[[layout.place]]
block = "b"
x = 10
y = 0
turn = 90
"""
HARBOUR = """\
name = "Harbours"
unit = "in"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.boat]
library = "sailboat"
size = 6
fabrics = { sail = "sand", hull = "sea", sky = "sand" }
[blocks.plain]
size = 6
grid = ['sand sea']
[blocks.harbour]
rows = ["boat   plain:90", "plain*2"]
[layout]
rows = ["harbour harbour:90m", "harbour*2"]
[[applique]]
name = "buoy"
outline = "M 0 0 L 4 1 L 2 5 Z"
on = "harbour.4"
size = "2 in"
turn = 30
fabric = "sea"
"""
ON_POINT = """\
name = "Corners"
unit = "cm"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.a]
size = 10
grid = ['sand/sea sea', 'sea sand']
[blocks.plain]
size = 10
grid = ['sand']
[layout]
rows = ["a*3", "plain plain", "a a:90 a:m"]
on_point = true
setting = "sea"
"""
DRAWN = 'name = "Wall"\nunit = "cm"\n[top]\ndrawing = "harbour-wall.svg"\n'
BASES = [PLACED, HARBOUR, ON_POINT, (DESIGNS / "harbour-runner.toml").read_text("utf-8")]
SEEDS = st.one_of(st.integers(0, 300), st.sampled_from(BASES))


def document(text: str) -> Document:
    return Document(text, "the design", ROOT / "designs")


def sound(base) -> Document:
    found = document(base if isinstance(base, str) else random_top(base))
    if found.problem is not None:
        assert not isinstance(base, str), found.problem
        reject()  # a few random tops are refused
    return found


def poses(found: Document):
    """Tell how each block lies, by its place; read off the top, which is turned if on point."""
    data = top_data(found.top, found.design)
    turned = 45 if found.design.layout.on_point else 0
    return {
        block["at"]: (block["block"], (block["turn"] - turned) % 360, block["mirror"])
        for block in data["blocks"]
        if "." not in block["at"]
    }


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.data())
def test_blocks_laid_lie_as_asked_and_all_others_as_they_lay(base, data):
    found = sound(base)
    before = poses(found)
    at = data.draw(st.lists(st.sampled_from(sorted(before)), min_size=1, max_size=6, unique=True))
    same = {before[place][0] for place in at}
    asked = {"turn": data.draw(st.sampled_from([0, 180])), "mirror": data.draw(st.booleans())}
    if len(same) == 1:
        asked["block"] = same.pop()
    changed = found.edited([{"op": "lay", "at": at, **asked}])
    wanted = {
        place: (block, asked["turn"], asked["mirror"]) if place in at else (block, turn, mirror)
        for place, (block, turn, mirror) in before.items()
    }
    assert poses(changed) == wanted


CELLS = st.builds(
    Cell,
    st.sampled_from(["boat", "plain", "w-2"]),
    st.sampled_from([0, 90, 180, 270]),
    st.booleans(),
)
ROWS = st.lists(
    st.tuples(CELLS, st.integers(1, 4), st.sampled_from([" ", "  ", "    "])),
    min_size=1,
    max_size=5,
).map(lambda parts: "".join(f"{c.text}{f'*{n}' if n > 1 else ''}{gap}" for c, n, gap in parts))


@settings(max_examples=150, deadline=None)
@given(ROWS, st.data())
def test_a_row_says_what_was_laid_and_keeps_what_was_not(row, data):
    cells = cells_of(row)
    changes = data.draw(st.dictionaries(st.integers(0, len(cells) - 1), CELLS, max_size=len(cells)))
    new = row_with(row, changes)
    assert cells_of(new) == [changes.get(k, cell) for k, cell in enumerate(cells)]
    everywhere = data.draw(CELLS)
    assert cells_of(row_with(row, dict.fromkeys(range(len(cells)), everywhere))) == [
        everywhere
    ] * len(cells)
    assert row_with(row, {}) == row
    many = data.draw(st.integers(1, len(cells) + 4))
    longer = [*cells, *[Cell("plain")] * 4][:many]
    assert cells_of(row_of_length(row, many, "plain")) == (
        longer if many >= len(cells) else cells[:many]
    )


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.data())
def test_a_seam_is_stitched_or_left_as_asked_and_no_other_changes(base, data):
    found = sound(base)
    top = found.top
    if not top.seams:
        return
    for _ in range(2):
        seam = top.seams[data.draw(st.integers(0, len(top.seams) - 1))]
        such, want = data.draw(st.booleans()), data.draw(st.booleans())
        before = chosen_seams(top, found.design.lines)
        shown = top_data(top, found.design)["seams"]
        asked = next(s for s in shown if top.seams[s["n"]] is seam)
        one_block = top.patches[seam.left].place == top.patches[seam.right].place
        if such and not one_block:
            return
        key = "such" if such else "between"
        meant = [
            sorted(s[key]) == sorted(asked[key])
            and (not such or top.patches[top.seams[s["n"]].left].place
                 == top.patches[top.seams[s["n"]].right].place)
            for s in shown
        ]  # fmt: skip
        edit = {"op": "stitch", "between": asked["between"], "such": such, "want": want}
        found = found.edited([edit])
        after = chosen_seams(top, found.design.lines)
        assert after.tolist() == np.where(meant, want, before).tolist()


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.data())
def test_a_seam_is_pressed_as_asked_and_no_other_changes(base, data):
    found = sound(base)
    top = found.top
    if not top.seams:
        return
    seam = top.seams[data.draw(st.integers(0, len(top.seams) - 1))]
    pair = {top.patches[seam.left].design_name, top.patches[seam.right].design_name}
    between = [top.patches[seam.left].design_name, top.patches[seam.right].design_name]
    meant = [
        {top.patches[s.left].design_name, top.patches[s.right].design_name} == pair
        for s in top.seams
    ]
    opened = found.edited([{"op": "press", "between": between, "rule": "open"}])
    assert [s.high for s in opened.top.seams] == [
        0 if m else s.high for m, s in zip(meant, top.seams, strict=True)
    ]
    fabrics = [top.patches[i].fabric for i in (seam.left, seam.right)]
    toward = opened.edited([{"op": "press", "between": between, "rule": f"toward {fabrics[0]}"}])
    for asked, new in zip(meant, toward.top.seams, strict=True):
        if asked and fabrics[0] != fabrics[1]:
            high = new.left if new.high == -1 else new.right
            assert top.patches[high].fabric == fabrics[0]
    again = toward.edited([{"op": "press", "between": between, "rule": None}])
    alone = not found.design.press.seams  # else her own rule for this seam goes with it
    for asked, old, new in zip(meant, top.seams, again.top.seams, strict=True):
        assert (asked and not alone) or new.high == old.high


@settings(max_examples=25, deadline=None)
@given(st.sampled_from([HARBOUR, *BASES[3:], (DESIGNS / "curved-cushion.toml").read_text("utf-8")]),
       st.data())  # fmt: skip
def test_a_piece_dragged_lies_where_it_was_let_go(base, data):
    found = sound(base)
    n = data.draw(st.integers(0, len(found.top.pieces) - 1))
    old = top_data(found.top, found.design)["pieces"][n]
    shift = data.draw(st.tuples(st.floats(-12, 12), st.floats(-12, 12)))
    at = [old["at"][0] + shift[0], old["at"][1] + shift[1]]
    size = old["mm"] * data.draw(st.floats(0.5, 1.05))
    edit = {"op": "move", "piece": n, "at": at, "size": size}
    new = top_data((moved := found.edited([edit])).top, moved.design)["pieces"][n]
    assert np.abs(np.array(new["at"]) - at).max() < 0.01
    assert abs(new["mm"] - size) < 0.01
    kept = moved.edited([{"op": "move", "piece": n, "at": at, "size": size}])
    assert kept.text == moved.text


@pytest.mark.parametrize("on", ["top", "A3", "A5", "plain"])
def test_a_piece_laid_on_another_block_lies_where_it_was_let_go(on):
    """A3 is mirrored, so what lies right of its middle is written left of it."""
    found = document(BASES[3])
    home = {b["at"]: b["box"] for b in top_data(found.top, found.design)["blocks"]}
    left, upper, right, lower = home["A2" if on == "plain" else "A3" if on == "top" else on]
    at = [(left + right) / 2 + 9, (upper + lower) / 2 - 4]
    moved = found.edited([{"op": "move", "piece": 0, "on": on, "at": at}])
    assert moved.design.applique[0].on == on
    places = [p["at"] for p in top_data(moved.top, moved.design)["pieces"] if p["on"] == on]
    assert min(np.abs(np.array(p) - at).max() for p in places) < 0.01
    middle = moved.edited([{"op": "move", "piece": 0, "on": "A1"}])
    assert middle.design.applique[0].at is None
    with pytest.raises(StitchpathError, match="unknown block or place"):
        found.edited([{"op": "move", "piece": 0, "on": "A9", "at": at}])


@pytest.mark.parametrize("base", [HARBOUR, ON_POINT, *range(12)])
def test_a_fabric_called_otherwise_changes_nothing_but_its_name(base):
    found = sound(base)
    renamed = found.edited([{"op": "rename fabric", "fabric": "sea", "to": "deep-water"}])
    assert "deep-water" in renamed.top.fabrics
    assert "sea" not in renamed.top.fabrics
    wanted = [
        replace(p, fabric="deep-water" if p.fabric == "sea" else p.fabric)
        for p in found.top.patches
    ]
    assert list(renamed.top.patches) == wanted
    assert [s.high for s in renamed.top.seams] == [s.high for s in found.top.seams]
    back = renamed.edited([{"op": "rename fabric", "fabric": "deep-water", "to": "sea"}])
    assert list(back.top.patches) == list(found.top.patches)


@pytest.mark.parametrize("base", [PLACED, HARBOUR, ON_POINT, BASES[3], *range(20)])
def test_a_design_at_another_size_is_the_same_top_larger(base):
    found = sound(base)
    longer = max(found.top.width, found.top.height)
    if found.design.drawn:
        return
    larger = found.edited(resizing_edits(found, "Larger", f"{longer * 1.25} mm"))
    assert larger.design.name == "Larger"
    assert max(larger.top.width, larger.top.height) == pytest.approx(longer * 1.25, abs=0.3)
    for old, new in zip(found.top.patches, larger.top.patches, strict=True):
        assert new.design_name == old.design_name
        assert np.array(new.polygon.bounds) == pytest.approx(
            np.array(old.polygon.bounds) * 1.25, abs=0.3
        )
    for one, other in zip(found.top.pieces, larger.top.pieces, strict=True):
        bounds = np.array(one.shape.bounds) * 1.25
        assert np.array(other.shape.bounds) == pytest.approx(bounds, abs=0.3)


@pytest.mark.parametrize(("columns", "rows"), [(3, 2), (7, 1), (5, 4), (1, 1)])
def test_a_grid_made_larger_keeps_the_blocks_that_are_there(columns, rows):
    found = document((DESIGNS / "star-lap-quilt.toml").read_text("utf-8"))
    before = poses(found)
    changed = found.edited([{"op": "grid", "columns": columns, "rows": rows, "block": "navy-star"}])
    wanted = {
        f"{'ABCDEFG'[i]}{j + 1}": before.get(f"{'ABCDEFG'[i]}{j + 1}", ("navy-star", 0, False))
        for i in range(rows)
        for j in range(columns)
    }
    assert poses(changed) == wanted


def test_a_grid_on_point_has_short_rows_between():
    changed = document(ON_POINT).edited([{"op": "grid", "columns": 4, "rows": 3}])
    assert [len(cells_of(row)) for row in changed.design.layout.rows] == [4, 3, 4, 3, 4]


def test_rows_that_repeat_stay_repeated_where_all_are_laid_alike():
    text = (DESIGNS / "postage-stamp-king.toml").read_text("utf-8")
    text = text.replace("stamps*9", "stamps*2").replace("repeat = 9", "repeat = 2")
    found = document(text)
    alike = found.edited([{"op": "lay", "at": ["A1", "B1"], "turn": 90}])
    assert (alike.design.layout.rows, alike.design.layout.repeat) == (["stamps:90 stamps"], 2)
    single = found.edited([{"op": "lay", "at": ["B2"], "turn": 90}])
    assert single.design.layout.rows == ["stamps*2", "stamps stamps:90"]
    assert single.design.layout.repeat == 1
    grown = found.edited([{"op": "grid", "columns": 3, "rows": 3}])
    assert (grown.design.layout.rows, grown.design.layout.repeat) == (["stamps*3"], 3)


def test_a_block_within_a_block_is_laid_in_all_such():
    found = document(HARBOUR)
    changed = found.edited([{"op": "lay", "at": ["harbour.1"], "block": "plain"}])
    assert 'rows = ["plain  plain:90", "plain*2"]' in changed.text
    with pytest.raises(StitchpathError, match=r"'A1\.1', a block within another"):
        found.edited([{"op": "lay", "at": ["A1.1"], "block": "plain"}])


def test_a_library_block_is_taken_in_at_the_size_of_its_place():
    found = document((DESIGNS / "harbour-runner.toml").read_text("utf-8"))
    changed = found.edited([{"op": "lay", "at": ["A2", "A4"], "library": "Sawtooth star"}])
    block = changed.design.blocks["sawtooth-star"]
    assert (block.library, block.size) == ("sawtooth star", (254.0, 254.0))
    assert (
        changed.edited([{"op": "lay", "at": ["A1"], "library": "sawtooth star"}]).design.blocks[
            "sawtooth-star"
        ]
        == block
    )


def test_a_star_of_the_library_stands_out_from_its_ground():
    found = document(
        """
name = "Quay"
fabrics = { sand = "#e7d5b0", foam = "#f0f4f4", sea = "#2f6f9f", slate = "#3b4650" }
[blocks.plain]
size = 6
grid = ['sand']
[layout]
rows = ['plain']
"""
    )
    for block, cast in (
        ("sawtooth star", {"star": "slate", "ground": "foam"}),
        ("log cabin", {"centre": "slate", "light": "foam", "dark": "sea"}),
    ):
        changed = found.edited([{"op": "lay", "at": ["A1"], "library": block}])
        assert changed.design.blocks[block.replace(" ", "-")].fabrics == cast


HARBOUR_ROWS = """
name = "Quay"
fabrics = { sand = "#e7d5b0", slate = "#3b4650" }
[blocks.plain]
size = 10
grid = ['sand']
[layout]
rows = ["plain plain", "plain plain"]
sashing = { width = 1, fabric = "slate" }
"""


def test_blocks_are_set_on_point_with_what_that_asks_for_and_straight_again():
    found = document(HARBOUR_ROWS)
    leaning = found.edited([{"op": "grid", "columns": 2, "rows": 2, "on_point": True}])
    layout = leaning.design.layout
    assert [len(cells_of(row)) for row in layout.rows] == [2, 1, 2]
    assert layout.on_point
    assert layout.setting == "sand"
    assert layout.sashing.cornerstone == layout.sashing.fabric
    straight = leaning.edited([{"op": "grid", "columns": 2, "rows": 2, "on_point": False}])
    assert not straight.design.layout.on_point
    assert straight.design.layout.setting is None
    assert [len(cells_of(row)) for row in straight.design.layout.rows] == [2, 2]


def test_what_a_drawing_lays_is_changed_in_the_drawing():
    wall = document(DRAWN)
    assert wall.problem is None
    for edit, said in (
        ({"op": "lay", "at": ["A1"], "turn": 90}, "drawn top"),
        ({"op": "grid", "columns": 2, "rows": 2}, "drawn top"),
        ({"op": "move", "piece": 0, "at": [10, 10]}, "as the drawing has it"),
    ):
        with pytest.raises(StitchpathError, match=said):
            wall.edited([edit])
    seam = top_data(wall.top, wall.design)["seams"][0]
    left = wall.edited([{"op": "stitch", "between": seam["between"], "want": False}])
    assert not chosen_seams(left.top, left.design.lines)[0]


def test_a_region_is_filled_filled_otherwise_and_left_bare():
    found = document(HARBOUR)
    filled = found.edited([{"op": "fill", "region": "A1.2", "such": True, "style": "meander"}])
    assert [(f.region, f.style) for f in filled.design.fills] == [("plain", "meander")]
    other = filled.edited(
        [{"op": "fill", "region": "plain", "style": "waves", "spacing": "1 in", "angle": 30}]
    )
    assert [(f.style, f.spacing, f.angle) for f in other.design.fills] == [("waves", 25.4, 30)]
    assert other.edited([{"op": "fill", "region": "plain", "style": None}]).text == found.text
