"""What the page is told of a top and its lines is what the top and its lines are."""

import json
import re
import tomllib
from contextlib import suppress

import numpy as np
import pytest
import shapely
from quilts import DESIGNS, SQUARES, WALL
from random_tops import random_top
from svgpathtools import parse_path

from stitchpath.checks.cures import remedies
from stitchpath.document.document import Document
from stitchpath.lines.ditch import chosen_seams
from stitchpath.plan import look_over
from stitchpath.told.line_data import line_data
from stitchpath.told.path_words import area_data, line_data_of
from stitchpath.told.top_data import top_data
from stitchpath.told.usual import usual_data
from stitchpath.top.build import find_patches, pair_seams

RUNNER = (DESIGNS / "harbour-runner.toml").read_text("utf-8")
CUSHION = (DESIGNS / "curved-cushion.toml").read_text("utf-8")
WALLED = 'name = "Wall"\nunit = "cm"\n[top]\ndrawing = "harbour-wall.svg"\n'


def document(text):
    return Document(text, folder=DESIGNS)


def told(found):
    data = top_data(found.top, found.design)
    return json.loads(json.dumps(data, allow_nan=False))


def area_of(d):
    """Measure path data as an SVG library reads it: rings by the even-odd rule, mm²."""
    rings = [part for part in parse_path(d).continuous_subpaths() if len(part) > 1]
    sizes = sorted((abs(ring.area()) for ring in rings), reverse=True)
    return sizes[0] - sum(sizes[1:])


BASES = [RUNNER, CUSHION, WALL, WALLED, *map(random_top, range(6))]


@pytest.mark.parametrize("text", BASES)
def test_patches_seams_and_pieces_lie_where_the_top_has_them(text):
    found = document(text)
    top, data = found.top, told(found)
    for patch, shown in zip(top.patches, data["patches"], strict=True):
        assert area_of(shown["d"]) == pytest.approx(patch.polygon.area, rel=1e-3, abs=1)
        assert shown["fabric"] in data["fabrics"]
    for seam, shown in zip(top.seams, data["seams"], strict=True):
        points = np.array(re.findall(r"-?[\d.]+", shown["d"]), dtype=float).reshape(-1, 2)
        assert np.abs(points[0] - seam.points[0]).max() <= 0.006
        sides = {None: None, seam.left: "left", seam.right: "right"}
        high = {-1: "left", 1: "right"}.get(seam.high)
        assert sides[shown["high"]] == high
        assert {shown["high"], shown["low"]} in ({None}, {seam.left, seam.right})
    for piece, shown in zip(top.pieces, data["pieces"], strict=True):
        bounds = np.array(re.findall(r"-?[\d.]+", shown["d"]), dtype=float).reshape(-1, 2)
        assert bounds.min(axis=0) == pytest.approx(piece.shape.bounds[:2], abs=0.01)
        assert bounds.max(axis=0) == pytest.approx(piece.shape.bounds[2:], abs=0.01)
    assert data["box"] == pytest.approx(top.outline.bounds, abs=0.01)


@pytest.mark.parametrize("text", BASES)
def test_a_name_told_of_a_patch_is_one_that_a_design_may_use(text):
    """Else what she clicks on could not be stitched, pressed or filled."""
    found = document(text)
    top, data = found.top, told(found)
    index = find_patches(top.blocks, top.patches)
    for patch in data["patches"]:
        assert patch["n"] in index[patch["name"]]
        assert patch["n"] in index[patch["such"]]
        assert set(index[patch["name"]]) <= set(index[patch["such"]])
    sides = [(seam.left, seam.right) for seam in top.seams]
    for seam in data["seams"][:40]:
        for pair in (seam["between"], seam["such"]):
            hit = pair_seams("", tuple(pair), index, sides, top.patches)
            within = (
                top.patches[sides[seam["n"]][0]].place == top.patches[sides[seam["n"]][1]].place
            )
            assert seam["n"] in hit or not (within or pair is seam["between"])


def test_blocks_tell_how_they_lie():
    found = document(RUNNER)
    poses = {b["at"]: (b["block"], b["turn"], b["mirror"]) for b in told(found)["blocks"]}
    assert poses["A1"] == ("boat", 0, False)
    assert poses["A3"] == ("boat", 0, True)
    turned = found.edited([{"op": "lay", "at": ["A3"], "turn": 270}])
    shown = {b["at"]: b for b in told(turned)["blocks"]}["A3"]
    assert (shown["turn"], shown["mirror"]) == (270, True)


def test_the_size_and_the_borders_are_told_in_her_unit():
    data = told(document(RUNNER))
    assert data["size"] == "60 × 16 in"  # noqa: RUF001 - as it is read
    assert data["borders"] == [{"n": 1, "name": "border 1", "width": "2 in"}]
    assert {p["border"] for p in data["patches"]} == {1, None}
    assert not data["drawn"]
    assert told(document(WALLED))["drawn"]


def test_a_piece_is_told_by_the_place_and_size_that_she_wrote():
    data = told(document(RUNNER))["pieces"]
    assert [(p["applique"], p["turn"], p["size"], p["copies"]) for p in data] == [
        (0, 14.0, "7 in", 1),
        (1, -22.0, "7 in", 1),
    ]
    # The middle of A2: 2 in of border, sashing of 1 in, a block of 10 in, sashing, half a block.
    assert data[0]["at"] == pytest.approx([25.4 * (2 + 1 + 10 + 1 + 5), 25.4 * (2 + 1 + 5)])


def test_the_size_of_a_piece_that_its_file_says_is_that_before_it_was_turned(tmp_path):
    bar = '<rect x="5" y="5" width="60" height="20"/>'
    (tmp_path / "bar.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="40mm" viewBox="0 0 90 40">'
        f"{bar}</svg>"
    )
    text = CUSHION.replace("life-ring.svg", "bar.svg").replace(
        "size = 8\nfused", "turn = 33\nfused"
    )
    found = Document(text, folder=tmp_path)
    assert told(found)["pieces"][0]["mm"] == pytest.approx(60, abs=0.01)


def test_lines_are_told_with_their_lengths_kinds_and_seams():
    found = document(RUNNER)
    looked = look_over(found.design)
    data = json.loads(json.dumps(line_data(looked), allow_nan=False))
    seams = {line["seam"] for line in data["lines"]} - {None}
    chosen = chosen_seams(found.top, found.design.lines)
    assert seams == set(np.flatnonzero(chosen).tolist())
    total = sum(shapely.LineString(line.points).length for line in looked.lines) / 1000
    assert sum(data["metres"].values()) == pytest.approx(total, abs=0.01)
    assert sum(line["metres"] for line in data["lines"]) == pytest.approx(total, abs=0.01)
    assert [thread["name"] for thread in data["threads"]] == ["grey", "dark coral"]
    assert {line["piece"] for line in data["lines"]} == {None, 0, 1}


LOOSE = RUNNER + '\n[batting]\ndistance = "3 in"\n'


def test_a_cure_for_loose_ground_leaves_none_where_it_was():
    found = document(LOOSE)
    looked = look_over(found.design)
    data = line_data(looked)
    assert data["loose"]
    assert all(ring["r"] * 2 > 76.2 for ring in data["loose"])
    for cure in data["cures"][:1]:
        mine = [ring for ring in data["loose"] if ring["cure"] == cure["n"]]
        assert mine
        assert cure["metres"] > 0
        asked = [each for each in remedies(looked) if each.design is not None][cure["n"]]
        assert cure["minutes"] == pytest.approx(asked.seconds / 60, abs=0.051)
        cured = found.edited(cure["edits"])
        after = line_data(look_over(cured.design), cures=False)
        places = {(ring["x"], ring["y"]) for ring in after["loose"]}
        assert not places & {(ring["x"], ring["y"]) for ring in mine}
        longer = sum(
            line["metres"] for line in line_data(look_over(cured.design), cures=False)["lines"]
        )
        before = sum(line["metres"] for line in data["lines"])
        assert longer - before == pytest.approx(cure["metres"], rel=0.1)


def test_without_a_batting_nothing_is_loose():
    data = line_data(look_over(document(RUNNER).design))
    assert (data["loose"], data["cures"]) == ([], [])
    assert {check["kind"] for check in data["checks"]} <= {"warning", "note", "error"}
    assert any(check["places"] for check in data["checks"])


def test_path_data_has_two_decimals_and_closes_what_is_closed():
    ring = np.array([[0, 0], [10.126, 0], [10.126, -0.001], [0, 0]])
    assert line_data_of([ring, ring[:2]]) == ["M0 0L10.13 0L10.13 0Z", "M0 0L10.13 0"]
    assert line_data_of([]) == []
    far = np.array([[9999.994, 1e-9], [12345.678, 2.0]])
    assert line_data_of([far]) == ["M9999.99 0L12345.68 2"]
    holed = shapely.Polygon([(0, 0), (9, 0), (9, 9), (0, 9)], [[(3, 3), (6, 3), (6, 6), (3, 6)]])
    assert area_of(area_data(np.array([holed]))[0]) == 72


def test_the_pale_figures_beside_her_fields_are_those_of_the_handbook():
    text = (DESIGNS / "README.md").read_text("utf-8")
    said = {}
    for block in re.findall(r"^```toml\n(.*?)^```", text, re.MULTILINE | re.DOTALL):
        with suppress(tomllib.TOMLDecodeError):
            for name, table in tomllib.loads(block).items():
                if name in ("pace", "looks", "prices"):
                    said.setdefault(name, {}).update(table)
    usual = usual_data()
    steps = {k: v for k, v in said["pace"].items() if not isinstance(v, dict)}
    assert len(steps) == 17
    for name, seconds in steps.items():
        framed = name in ("advance", "load", "tension", "baste", "clamps", "unload", "fuse")
        assert usual["pace"]["frame" if framed else "domestic"][name] == seconds, name
    assert usual["looks"] == said["looks"]
    assert usual["prices"] == said["prices"]
    assert usual["pace"]["domestic"]["speed"]["ditch"] / 25.4 == pytest.approx(28, abs=0.5)
    assert usual["pace"]["domestic"]["free"]["ditch"] / 25.4 == pytest.approx(19, abs=0.5)
    assert usual["pace"]["domestic"]["speed"]["centre"] == 600  # "60 cm"


def test_how_much_there_is_to_stitch_is_told_in_her_unit():
    for unit, words in (("in", r"[\d.]+ yd"), ("cm", r"[\d.]+ m")):
        text = SQUARES.replace('name = "Squares"', f'name = "Squares"\nunit = "{unit}"')
        told = line_data(look_over(document(text).design))
        assert list(told["long"]) == list(told["metres"])
        assert all(re.fullmatch(words, said) for said in told["long"].values())
