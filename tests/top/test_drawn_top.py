"""A drawing as the top: it plans as one of blocks does, and claims nothing that it cannot know."""

import json
import re
from types import SimpleNamespace

import drawn
import numpy as np
import pytest
import shapely
from plan_checker import faults
from quilts import DESIGNS

from stitchpath import StitchpathError
from stitchpath.checks.all import check_plan
from stitchpath.checks.cures import Survey
from stitchpath.design.model import Lines, Route
from stitchpath.design.read import design_from_text, load_design
from stitchpath.export.directions import plan_directions_text
from stitchpath.export.guide import plan_guide, plan_templates
from stitchpath.export.guide.templates import template_sheets
from stitchpath.export.machine.dxf import plan_dxf
from stitchpath.export.pdf.paper import A4
from stitchpath.export.svg.guide import plan_guide_svg
from stitchpath.export.svg.map import plan_map
from stitchpath.export.write import save_plan
from stitchpath.hands.areas import GROUND
from stitchpath.plan import make_plan, plan_json
from stitchpath.told.as_design import design_text
from stitchpath.told.seams import Bit, _squares
from stitchpath.top.build import build_top
from stitchpath.top.drawn import fabric_names
from stitchpath.top.squares import map_squares, square_at

TOP = 'name = "Quay"\nunit = "cm"\n[top]\ndrawing = "quay.svg"\n'


def design(folder, text, more="", top=TOP):
    dxf = not text.startswith("<")
    (folder / ("quay.dxf" if dxf else "quay.svg")).write_text(text)
    top = top.replace("quay.svg", "quay.dxf") if dxf else top
    return design_from_text(top + more, "quay.toml", folder)


def planned(folder, text, more=""):
    return make_plan(design(folder, text, more), time_limit=0, cures=False)


@pytest.mark.parametrize("draw", [drawn.boat_lines, drawn.leaf_and_vein, drawn.dxf_inserts])
def test_a_drawn_top_is_planned_by_the_same_laws_as_any_other(tmp_path, draw):
    plan = planned(tmp_path, draw()[0])
    assert faults(json.loads(plan_json(plan))) == []
    kinds = {line.kind for line in plan.lines}
    assert ("drawn" in kinds) == bool(draw()[1].get("quilting"))


def test_where_fabrics_are_not_known_no_output_claims_a_low_side(tmp_path):
    plan = planned(tmp_path, drawn.boat_lines()[0])
    assert {seam.high for seam in plan.top.seams} == {None}
    assert {line.low for line in plan.lines} == {0}
    assert "low side" not in plan_directions_text(plan).lower()
    assert "pressed open" not in plan_directions_text(plan)
    codes = [check.code for check in plan.checks]
    assert "low-side-unknown" in codes
    assert "open-seam" not in codes
    with pytest.raises(StitchpathError, match="no low side is"):
        save_plan(plan, tmp_path / "out", "low-side")
    written = [path.name for path in save_plan(plan, tmp_path / "out", "all")]
    assert not [name for name in written if "low-side" in name]


def test_colours_of_a_drawing_tell_the_low_side(tmp_path):
    top = build_top(design(tmp_path, drawn.strips_over_ground()[0]))
    assert {seam.high for seam in top.seams} <= {-1, 1}
    assert top.pressed


def test_a_seam_whose_pressing_she_says_is_known_even_without_fabrics(tmp_path):
    more = '[[press.seams]]\nbetween = ["patch 1", "patch 2"]\npress = "open"\n'
    top = build_top(design(tmp_path, drawn.dxf_loose()[0], more))
    assert sorted({str(seam.high) for seam in top.seams}) == ["0", "None"]


def test_fabrics_bear_her_names_where_the_colours_are_the_same(tmp_path):
    more = f'[fabrics]\nharbour = "{drawn.NAVY}"\n'
    top = build_top(design(tmp_path, drawn.strips_over_ground()[0], more))
    names = [patch.name for patch in top.patches]
    assert names[0] == "harbour 1"
    assert len(set(names)) == len(names)
    assert fabric_names(["#c62828", "#c62829", "", "dots"], {}) == {
        "#c62828": "red",
        "#c62829": "red b",
        "": "fabric not known",
        "dots": "dots",
    }


def test_copies_of_a_group_are_blocks_with_their_places(tmp_path):
    top = build_top(design(tmp_path, drawn.dxf_inserts()[0]))
    assert [block.place.name for block in top.blocks] == ["A1", "A2", "A3", "B1", "B2", "B3"]
    assert {block.block.name for block in top.blocks} == {"PINWHEEL"}
    assert top.squares == ()
    turned = build_top(design(tmp_path, drawn.styled_copies()[0]))
    assert len(turned.blocks) == 16
    for block in turned.blocks:  # the frame brings the block's own patches onto the top
        mine = [p for p in turned.patches if p.place == block.place]
        laid = [shapely.transform(p.polygon, block.to_top) for p in block.block.patches]
        for patch in mine:
            twin = next(x for x, p in zip(laid, block.block.patches, strict=True)
                        if p.name == patch.name)  # fmt: skip
            assert twin.symmetric_difference(patch.polygon).area < 1


def test_without_blocks_places_are_told_by_squares_of_the_map(tmp_path):
    plan = planned(tmp_path, drawn.strips_over_ground()[0])
    assert {patch.place.name for patch in plan.top.patches} <= {"square A1", "square B1"}
    text = plan_directions_text(plan)
    assert "Square A1" in text
    assert "navy 1" in text


@pytest.mark.parametrize("size", [150.0, 300.0, 1000.0, 1524.0, 2743.0])
def test_squares_of_the_map_are_of_8_in_or_20_cm_and_cover_the_top(size):
    squares = map_squares(size, 400.0, "in")
    boxes = [shapely.Polygon(square.corners) for square in squares]
    assert sum(box.area for box in boxes) == pytest.approx(size * 400)
    widths = [box.bounds[2] - box.bounds[0] for box in boxes]
    assert max(widths) <= 1.75 * 203.2
    assert len({round(width, 6) for width in widths}) <= 2
    for square, box in zip(squares, boxes, strict=True):
        assert square_at(squares, np.array(box.centroid.coords[0])) is square
    assert square_at((), np.zeros(2)) is None


def test_a_seam_over_two_squares_of_the_map_is_told_by_both():
    places = SimpleNamespace(top=SimpleNamespace(squares=map_squares(400.0, 400.0, "in")))
    near, far = (Bit(0, 1, np.array([x, 50.0]), np.array([x + 60, 50.0]), 60.0) for x in (90, 230))
    assert _squares(places, [near]) == " in A1"
    assert _squares(places, [near, far]) == ", A1 to A2"


@pytest.mark.parametrize(("size", "count"), [(248.0, 1), (252.0, 2), (448.0, 2), (452.0, 3)])
def test_the_last_square_of_the_map_takes_up_to_a_quarter_more(size, count):
    assert len(map_squares(size, 100.0, "cm")) == count


HALF = (
    '<g id="hst"><polygon points="0,0 75,0 0,75" fill="#1f3e5f"/>'
    '<polygon points="75,0 75,75 0,75" fill="#f4f1e8"/></g>'
)


@pytest.mark.parametrize(("lean", "blocks"), [(0.0005, 4), (0.002, 0)])
def test_copies_that_lean_are_no_blocks(tmp_path, lean, blocks):
    uses = [f'<use xlink:href="#hst" transform="matrix(1 0 {lean} 1 {x} {y})"/>'
            for x in (0, 75) for y in (0, 75)]  # fmt: skip
    text = drawn.svg("150mm", "0 0 150 150", f"<defs>{HALF}</defs>", *uses)
    assert len(build_top(design(tmp_path, text)).blocks) == blocks


@pytest.mark.parametrize(("cut", "blocks"), [(16, 3), (18, 0)])
def test_copies_that_patches_do_not_fill_are_no_blocks(tmp_path, cut, blocks):
    corners = [
        (cut, 0),
        (75, 0),
        (75, 75),
        (0, 75),
        (0, cut),
    ]  # half a mm round it: 150 mm²; one's is closed off
    group = f'<g id="b">{drawn.poly(corners, fill=drawn.NAVY)}</g>'
    uses = [f'<use xlink:href="#b" transform="translate({x} {y})"/>'
            for x in (0, 75) for y in (0, 75)]  # fmt: skip
    text = drawn.svg("150mm", "0 0 150 150", f"<defs>{group}</defs>", *uses)
    assert len(build_top(design(tmp_path, text)).blocks) == blocks


def test_doubts_are_warnings_with_their_place_and_what_settles_them(tmp_path):
    asked = design(tmp_path, drawn.leaf_and_vein()[0])
    found = check_plan(Survey.of(asked))
    doubts = [check for check in found if check.code == "drawing-guess"]
    assert len(doubts) == 2
    assert all(check.level == "warning" and check.at for check in doubts)
    assert 'roles = { "#2f8f9f" = "appliqué" }' in " ".join(check.message for check in doubts)
    settled = TOP + 'roles = { "#2f8f9f" = "appliqué", "#0a4040" = "quilting" }\n'
    found = check_plan(Survey.of(design(tmp_path, drawn.leaf_and_vein()[0], top=settled)))
    assert not [check for check in found if check.code == "drawing-guess"]


def test_squares_of_the_map_name_places_and_are_nothing_to_finish_one_by_one(tmp_path):
    plan = planned(tmp_path, drawn.boat_lines()[0])
    assert plan.top.squares
    ditch = [k for k, line in enumerate(plan.lines) if line.kind == "ditch"]
    assert ditch
    assert set(plan.tariff.areas.line[ditch].tolist()) == {GROUND}
    assert plan_guide(plan).startswith(b"%PDF")


def test_templates_and_guide_are_made_of_drawn_patches(tmp_path):
    plan = planned(tmp_path, drawn.boat_lines()[0])
    assert len(plan_templates(plan)) > 5000
    assert plan_guide(plan).startswith(b"%PDF")


def test_a_block_may_be_a_drawing(tmp_path):
    (tmp_path / "wave.svg").write_text(drawn.painted_geese()[0])
    text = (
        'name = "Waves"\nunit = "cm"\n[fabrics]\nfoam = "#f4f1e8"\n[blocks.wave]\n'
        'drawing = "wave.svg"\nsize = [10, 30]\n[layout]\nrows = ["wave wave:180"]\n'
    )
    top = build_top(design_from_text(text, "waves.toml", tmp_path))
    assert (round(top.width), round(top.height), len(top.patches)) == (200, 300, 36)
    assert set(top.fabrics) == {"foam", "navy"}
    with pytest.raises(StitchpathError, match=r"blocks.wave.drawing.* expected the shape"):
        build_top(design_from_text(text.replace("[10, 30]", "20"), "waves.toml", tmp_path))
    for cut, fills in ((13, True), (15, False)):  # half a mm along two of its sides: 100 mm²
        corners = [(cut, 0), (100, 0), (100, 100), (0, 100), (0, cut)]
        (tmp_path / "wave.svg").write_text(
            drawn.svg("100mm", "0 0 100 100", drawn.poly(corners, fill=drawn.FOAM))
        )
        square = text.replace("[10, 30]", "10").replace(" wave:180", "")
        if fills:
            assert build_top(design_from_text(square, "waves.toml", tmp_path)).width == 100
        else:
            with pytest.raises(StitchpathError, match="no rectangle"):
                build_top(design_from_text(square, "waves.toml", tmp_path))


def test_a_block_may_be_drawn_with_seams_alone_and_then_no_low_side_is_told(tmp_path):
    corners = drawn.rect(0, 0, 100, 100, fill="none", stroke="black")
    body = corners + drawn.line(0, 0, 100, 100) + drawn.line(0, 100, 100, 0)
    (tmp_path / "wave.svg").write_text(drawn.svg("100mm", "0 0 100 100", body))
    text = (
        'name = "Waves"\nunit = "cm"\n[fabrics]\nfoam = "#f4f1e8"\n[blocks.wave]\n'
        'drawing = "wave.svg"\n[layout]\nrows = ["wave wave:180"]\n'
    )
    plan = make_plan(design_from_text(text, "waves.toml", tmp_path), time_limit=0, cures=False)
    assert [patch.fabric for patch in plan.top.patches] == ["fabric not known"] * 8
    assert {seam.high for seam in plan.top.seams} == {None}
    assert [block.place.name for block in plan.top.blocks] == ["A1", "A2"]
    assert "low-side-unknown" in [check.code for check in plan.checks]
    assert "low side" not in plan_directions_text(plan).lower()
    assert plan_guide(plan).startswith(b"%PDF")


def test_pieces_drawn_alike_are_cut_by_one_template(tmp_path):
    stars = "".join(drawn.poly(drawn.star(x, 100, 40), fill=drawn.RED) for x in (100, 200, 300))
    more = drawn.poly(drawn.star(400, 100, 44), fill=drawn.RED)
    body = (drawn.rect(0, 0, 500, 200, fill=drawn.FOAM), stars, more)
    plan = planned(tmp_path, drawn.svg(("500mm", "200mm"), "0 0 500 200", *body))
    said = [w.text for sheet in template_sheets(plan, A4) for w in sheet.words]
    assert [text for text in said if "cut " in text and " of red" in text] == [
        "cut 3 of red", "cut 1 of red",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('[layout]\nrows = ["a"]\n', "beside a top"),
        ("[top.roles]\nsea = 'wet'\n", "expected one of patch, seam"),
    ],
)
def test_what_cannot_stand_beside_a_drawing_is_refused(tmp_path, more, said):
    with pytest.raises(StitchpathError, match=said):
        design(tmp_path, drawn.boat_lines()[0], more)


def test_a_drawing_outside_the_folder_is_not_read(tmp_path):
    with pytest.raises(StitchpathError, match="leads out of the design's folder"):
        build_top(design_from_text(TOP.replace("quay", "../quay"), "quay.toml", tmp_path))


def test_the_design_of_a_drawing_plans_as_the_drawing_does(tmp_path):
    asked = design(tmp_path, drawn.layered_starfish()[0])
    text = design_text(asked, build_top(asked), "quay.svg")
    again = design_from_text(text, "quay.toml", tmp_path)
    one, two = (make_plan(d, time_limit=0, cures=False) for d in (asked, again))
    assert plan_json(one) == plan_json(two)
    assert '# "Applique" = "appliqué"' in text


@pytest.mark.parametrize("name", ["star-lap-quilt", "harbour-runner"])
def test_our_own_exports_give_the_same_seams_and_route_cost_again(tmp_path, name):
    first = load_design(DESIGNS / f"{name}.toml")
    plain = {"lines": Lines(), "applique": [], "fills": [], "threads": {}, "route": Route()}
    first = first.priced(["end_inside=150"]).model_copy(update=plain)
    plan = make_plan(first, time_limit=0, cures=False)
    seams = shapely.union_all([shapely.LineString(line.points) for line in plan.lines])
    for made, file in ((plan_map(plan), "quay.svg"), (plan_dxf(plan), "quay.dxf")):
        (tmp_path / file).write_text(made)
        more = f'[batting]\nmargin = "{first.batting.margin} mm"\n[prices]\n'
        text = TOP.replace("quay.svg", file) + more
        again = make_plan(design_from_text(text, "q.toml", tmp_path), time_limit=0, cures=False)
        read = shapely.union_all([shapely.LineString(line.points) for line in again.lines])
        assert shapely.hausdorff_distance(seams, read) < 0.01
        assert again.proof.cost == pytest.approx(plan.proof.cost, abs=0.01)


@pytest.mark.parametrize("name", ["star-lap-quilt", "harbour-runner"])
@pytest.mark.parametrize(("write", "file"), [(plan_map, "map.svg"), (plan_dxf, "map.dxf")])
def test_the_blocks_of_our_own_exports_are_read_back_and_the_time_they_take(
    tmp_path, name, write, file
):
    plain = {"lines": Lines(), "applique": [], "fills": [], "threads": {}, "route": Route()}
    first = load_design(DESIGNS / f"{name}.toml").model_copy(update=plain)
    plan = make_plan(first, time_limit=0, cures=False)
    (tmp_path / file).write_text(write(plan))
    more = f'[batting]\nmargin = "{first.batting.margin} mm"\n'
    again = make_plan(
        design_from_text(TOP.replace("quay.svg", file) + more, "q.toml", tmp_path),
        time_limit=0,
        cures=False,
    )
    blocks = [[b.place.name for b in p.top.blocks] for p in (plan, again)]
    assert blocks[0] == blocks[1]
    assert [b.block.name for b in plan.top.blocks] == [b.block.name for b in again.top.blocks]
    assert len(again.tariff.areas.of) == len(plan.tariff.areas.of)
    assert again.proof.cost == pytest.approx(plan.proof.cost, rel=1e-4)


@pytest.mark.parametrize(("write", "file"), [(plan_map, "map.svg"), (plan_dxf, "map.dxf")])
def test_the_map_of_a_drawn_top_read_back_takes_the_same_time(tmp_path, write, file):
    first = planned(tmp_path, drawn.log_cabin()[0])
    (tmp_path / file).write_text(write(first))
    more = f'[batting]\nmargin = "{first.design.batting.margin} mm"\n'
    text = TOP.replace("quay.svg", file) + more
    again = make_plan(design_from_text(text, "q.toml", tmp_path), time_limit=0, cures=False)
    assert not again.top.pieces  # nothing of its key is taken for one
    assert again.proof.cost == pytest.approx(first.proof.cost, abs=0.01)


@pytest.mark.parametrize("write", [plan_map, plan_guide_svg])
def test_squares_that_words_name_are_lettered_and_numbered_on_the_maps(tmp_path, write):
    text = write(planned(tmp_path, drawn.boat_lines()[0]))  # 24 cm: one square, and not two
    assert re.findall(r'class="ruler"[^>]*>([^<]*)<', text) == ["A", "1"]
