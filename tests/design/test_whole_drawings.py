"""Drawings of whole tops: what is taken for what, and every guess told."""

import json
import random
import re
import subprocess
import sys
from pathlib import Path

import drawn
import drawn_by_programs
import loosened as lo
import pytest
from hostile import wholes

from stitchpath import StitchpathError
from stitchpath.design.drawings.whole import take_whole
from stitchpath.design.read import design_of_drawing

HERE = Path(__file__).parents[1]
DRAWINGS = HERE / "drawings"
WANTED = json.loads((DRAWINGS / "want.json").read_text())
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 0 300 300">'


def written(folder, text, name="x"):
    file = folder / (name + (".svg" if text.startswith("<") else ".dxf"))
    file.write_text(text)
    return file


def taken(folder, body, **said):
    return take_whole(written(folder, f"{HEAD}{body}</svg>"), "", **said)


def counted(file, wanted):
    """What was taken, in the words of what is wanted."""
    try:
        whole = take_whole(file, "", size=400.0 if wanted.get("ask") else None)
    except StitchpathError as error:
        return {"refuse": "apart"} if "sheet of templates" in str(error) else {"error": str(error)}
    found = {
        "patches": len(whole.patches),
        "pieces": len(whole.pieces),
        "quilting": len(whole.quilting),
        "fabrics": len({patch.paint for patch in whole.patches}),
        "known": whole.known,
        "guides": sum(guess.count for guess in whole.guesses if guess.role == "guide"),
    }
    return {key: found[key] for key in wanted if key in found}


@pytest.mark.parametrize("name", WANTED)
def test_a_drawing_is_taken_for_what_it_is_meant_to_be(name):
    wanted = WANTED[name]
    plain = {key: value for key, value in wanted.items() if key not in ("alt", "ask")}
    assert counted(DRAWINGS / f"{name}.svg", wanted) == plain


@pytest.mark.parametrize("draw", drawn.OWN, ids=lambda draw: draw.__name__)
def test_other_habits_of_drawing_are_understood_too(tmp_path, draw):
    text, wanted = draw()
    plain = {key: value for key, value in wanted.items() if key != "ask"}
    assert counted(written(tmp_path, text), wanted) == plain


@pytest.mark.parametrize(
    ("name", "text", "wanted"),
    drawn_by_programs.MADE,
    ids=[name for name, _, _ in drawn_by_programs.MADE],
)
def test_what_drawing_programs_write_is_understood(tmp_path, name, text, wanted):
    plain = {key: value for key, value in wanted.items() if key != "ask"}
    assert counted(written(tmp_path, text, name), wanted) == plain


@pytest.mark.parametrize(("name", "text", "wanted"), drawn.MORE, ids=[m[0] for m in drawn.MORE])
def test_still_other_habits_are_understood(tmp_path, name, text, wanted):
    assert counted(written(tmp_path, text, name), wanted) == wanted


def test_a_top_of_many_curved_patches_that_share_their_edges_is_no_scribble(tmp_path):
    text, wanted = drawn.drunkard(20)
    assert counted(written(tmp_path, text), wanted) == wanted


def test_a_drawing_without_a_size_is_asked_about_with_the_sizes_it_may_have():
    with pytest.raises(StitchpathError, match=r'no size .* "mm" \(.*\) or "cm"'):
        take_whole(DRAWINGS / "14_no_size.svg", "", shown_in="cm")


def test_a_unit_that_makes_no_top_is_asked_about(tmp_path):
    text = re.sub(r"(\$INSUNITS\s+70\s+)4", r"\g<1>6", drawn.dxf_loose()[0])  # metres
    with pytest.raises(StitchpathError, match=r'27000 cm across .* "mm" \(27 cm across\)'):
        take_whole(written(tmp_path, text), "", shown_in="cm")
    assert take_whole(written(tmp_path, text), "", unit="mm").mm == 1


def test_the_size_asked_for_is_that_of_the_finished_top_to_the_point(tmp_path):
    beside = '<rect x="290" y="0" width="8" height="8" fill="#123456"/>'
    body = '<g transform="scale(0.9)">' + drawn.checks(3, 100) + "</g>" + beside
    whole = taken(tmp_path, body, size=1234.5)
    bounds = [patch.polygon.bounds for patch in whole.patches]
    assert len(whole.patches) == 9
    assert max(box[2] for box in bounds) == pytest.approx(1234.5, abs=1e-6)
    assert min(min(box[:2]) for box in bounds) == pytest.approx(0, abs=1e-9)


def test_every_guess_tells_its_count_its_colour_and_the_key_that_settles_it():
    whole = take_whole(DRAWINGS / "10_colours.svg", "")
    (guess,) = [g for g in whole.guesses if g.role == "quilting"]
    assert (guess.count, guess.key, guess.doubtful) == (3, "#dd0000", True)


@pytest.mark.parametrize(
    ("file", "key", "role", "count"),
    [
        ("10_colours", "#d00", "guide", {"quilting": 0, "guide": 3}),
        ("11_dashes", "dashed", "leave out", {"quilting": 0, "leave out": 3}),
        ("08_layers", "Guides", "quilting", {"quilting": 5, "guide": 0}),
        ("05_applique_in_patch", None, None, {"appliqué": 1}),
    ],
)
def test_what_she_says_of_a_shape_holds(file, key, role, count):
    whole = take_whole(DRAWINGS / f"{file}.svg", "", roles={key: role} if key else {})
    found = {each: sum(g.count for g in whole.guesses if g.role == each) for each in count}
    assert found == count
    assert not [g for g in whole.guesses if key and g.role == role and g.doubtful]


def test_a_role_for_what_is_not_in_the_drawing_is_refused():
    with pytest.raises(StitchpathError, match="unknown colour, layer or name '#123456'"):
        take_whole(DRAWINGS / "10_colours.svg", "", roles={"#123456": "guide"})


def test_pale_lines_are_guides_and_lines_over_patches_quilting(tmp_path):
    over = drawn.path("M10 50H290", stroke="#c8c8c8") + drawn.path("M10 60H290", stroke="#c4c4c4")
    whole = taken(tmp_path, drawn.checks(3, 100) + over)
    assert {g.key: g.role for g in whole.guesses if g.role != "patch"} == {
        "#c8c8c8": "guide",
        "#c4c4c4": "quilting",
    }


def test_patches_are_numbered_row_by_row_though_the_rows_are_not_level(tmp_path):
    lines = lo.loosened(lo.long_lines(lo.quadrangles(5, 4, 50.0, 3).patches), 0.2, 0.3, 1)
    drawing = "".join(drawn.line(*a, *b) for a, b in lines)
    middles = [patch.polygon.centroid for patch in taken(tmp_path, drawing).patches]
    assert len(middles) == 20
    for row in range(4):
        xs = [middle.x for middle in middles[5 * row : 5 * row + 5]]
        assert xs == sorted(xs)


def test_lines_to_quilt_end_at_the_edge_of_the_top(tmp_path):
    whole = taken(tmp_path, drawn.checks(2, 100) + drawn.path("M-20 50H250", stroke="blue"))
    (line,) = whole.quilting
    assert sorted(line[:, 0].tolist()) == pytest.approx([0, 200], abs=0.7)
    assert any("cut off at the edge" in said for said in whole.told)


def test_a_white_page_is_left_out_only_if_nothing_reaches_its_edge(tmp_path):
    page = drawn.rect(0, 0, 300, 300, fill="white")
    inner = f'<g transform="translate(20,20)">{drawn.checks(2, 100)}</g>'
    assert len(taken(tmp_path, page + inner).patches) == 4
    outer = drawn.checks(2, 100)
    assert len(taken(tmp_path, page + outer).patches) == 5  # the white is the fifth


def test_clipped_patches_are_taken_as_they_show(tmp_path):
    clip = '<clipPath id="c"><rect width="150" height="200"/></clipPath>'
    whole = taken(tmp_path, clip + f'<g clip-path="url(#c)">{drawn.checks(2, 100)}</g>')
    areas = sorted(round(patch.polygon.area) for patch in whole.patches)
    assert areas == [5000, 5000, 10000, 10000]


def test_strange_drawings_of_tops_end_in_5_s_and_a_gigabyte(tmp_path):
    subprocess.run([sys.executable, HERE / "hostile.py", tmp_path, "whole"], check=True)
    report = json.loads((tmp_path / "report.json").read_text())
    wrong = {
        name: report[name]
        for name, _, said in wholes()
        if (report[name][0] != said if said == "" else said not in report[name][0])
    }
    assert wrong == {}


def test_spoilt_drawings_of_tops_are_read_or_refused_in_one_sentence(tmp_path):
    rng = random.Random(7)
    texts = [draw()[0] for draw in drawn.OWN]
    kinds = []
    for _ in range(120):
        text = list(rng.choice(texts))
        for _ in range(rng.randrange(1, 12)):
            at = rng.randrange(len(text))
            text[at : at + rng.randrange(4)] = rng.choice(("9", "-", "e9", ".", "<", "Z", " ", ""))
        try:
            take_whole(written(tmp_path, "".join(text)), "", size=300.0)
            kinds.append("read")
        except StitchpathError as error:
            kinds.append("traceback" if "\n" in str(error) else "refused")
    assert set(kinds) == {"read", "refused"}
    assert kinds.count("read") > 12


def test_a_drawing_on_the_command_line_is_measured_in_its_own_units(tmp_path):
    inches = written(tmp_path, drawn.layered_starfish()[0], "a")
    metric = written(tmp_path, drawn.boat_lines()[0], "b")
    assert design_of_drawing(inches).unit == "in"
    assert design_of_drawing(metric).unit == "cm"
    assert design_of_drawing(metric, size="20 in").unit == "in"
    assert design_of_drawing(HERE.parent / "designs" / "harbour-runner.toml") is None
