"""A design that is edited: what is refused is told at its field, and nothing is lost."""

import tomllib

import pytest
from quilts import DESIGNS, ROOT, SQUARES

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import parse_length
from stitchpath.design.read import load_design
from stitchpath.document.beginning import empty_text
from stitchpath.document.document import Document, RefusedError
from stitchpath.document.neat import length_like

RUNNER = DESIGNS / "harbour-runner.toml"


def put(path, value, **more):
    return {"op": "set", "path": path, "value": value, **more}


REFUSED = [
    (["blocks", "boat", "size"], "x", ["blocks", "boat", "size"]),
    (["blocks", "boat", "library"], "sailbat", ["blocks", "boat", "library"]),
    (["layout", "rows", 0], "bat plain", ["layout", "rows", 0]),
    (["layout", "sashing", "width"], "-1 in", ["layout", "sashing", "width"]),
    (["layout", "sashing", "fabric"], "shalows", ["layout", "sashing", "fabric"]),
    (["layout", "sashing", "widht"], 1, ["layout", "sashing", "widht"]),
    (["layout", "borders", 0, "fabric"], "depp", ["layout", "borders", 0, "fabric"]),
    (["layout", "borders", 0], {"width": 1}, ["layout", "borders", 0, "fabric"]),
    (["blocks", "plain", "grid"], ["sand foo"], ["blocks", "plain"]),
    (["applique", 1, "on"], "A9", ["applique", 1, "on"]),
    (["applique", 1, "size"], "0", ["applique", 1, "size"]),
    (["applique", 0, "thread"], "pink", ["applique", 0, "thread"]),
    (["applique", 0, "file"], "no.svg", ["applique", 0]),
    (["lines", "exclude", 2], ["boat.sky 2", "boat.hull"], ["lines", "exclude", 2]),
    (["lines", "ditch"], "some", ["lines", "ditch"]),
    (["fabrics", "sea"], "blueish", ["fabrics", "sea"]),
    (["threads", "grey", "size"], "50 ww", None),
    (["press", "seams", 0, "between", 1], "boat.see", ["press", "seams", 0, "between"]),
    (["name"], "", ["name"]),
    (["unit"], "ell", ["unit"]),
]


@pytest.mark.parametrize(("path", "value", "field"), REFUSED)
def test_a_slip_is_told_at_its_field_and_changes_nothing(path, value, field):
    found = Document.read(RUNNER)
    with pytest.raises(RefusedError) as refused:
        found.edited([put(path, value)])
    problem = refused.value.problem
    assert "expected" in problem.sentence or "nearest" in problem.sentence
    assert str(RUNNER) not in problem.sentence
    if field is not None:
        assert problem.path is not None
        assert list(problem.path) == field
    assert found.text == RUNNER.read_text("utf-8")


def test_one_slip_among_many_edits_undoes_them_all():
    found = Document.read(RUNNER)
    with pytest.raises(RefusedError):
        found.edited([put(["name"], "Mole"), put(["unit"], "ell")])
    assert found.edited([put(["name"], "Mole")]).design.name == "Mole"
    assert found.design.name == "Harbour runner"


def test_a_design_with_a_slip_in_it_can_be_mended_step_by_step():
    broken = Document(
        RUNNER.read_text("utf-8").replace("size = 10", "size = 'ten'"), folder=DESIGNS
    )
    assert broken.problem is not None
    assert broken.problem.path == ("blocks", "boat", "size")
    half = broken.edited([put(["blocks", "boat", "size"], 10)])
    assert half.problem is not None
    assert half.problem.path == ("blocks", "plain", "size")
    assert half.edited([put(["blocks", "plain", "size"], 10)]).problem is None


def test_a_gesture_on_what_makes_no_top_tells_what_is_wrong_with_it():
    for slip in ("rows = 5", "rows = [3]", 'rows = ["none"]', ""):
        broken = Document(SQUARES.replace('rows = ["squares"]', slip))
        for edit in (
            {"op": "lay", "at": ["A1"], "turn": 90},
            {"op": "grid", "columns": 2, "rows": 2},
            {"op": "rename fabric", "fabric": "sea", "to": "deep"},
        ):
            with pytest.raises(RefusedError) as refused:
                broken.edited([edit])
            assert refused.value.problem == broken.problem


def test_what_is_no_toml_is_told_and_its_data_is_empty():
    broken = Document('name = "x"\nunit = in\n')
    assert broken.data == {}
    assert broken.problem is not None
    assert "line 2" in broken.problem.sentence


def test_the_edited_text_is_read_from_its_file_as_the_edits_say(tmp_path):
    edited = Document(SQUARES).edited([
        put(["layout", "rows"], ["squares squares:90"]),
        put(["fabrics", "sea", "dark"], 0.9),
        put(["batting", "kind"], "wool"),
    ])  # fmt: skip
    file = tmp_path / "squares.toml"
    file.write_text(edited.text, "utf-8")
    read = load_design(file)
    assert read.layout.rows == ["squares squares:90"]
    assert (read.fabrics["sea"].colour, read.fabrics["sea"].dark) == ("#2f6f9f", 0.9)
    assert read.batting.kind == "wool"
    assert read.model_dump() == edited.design.model_dump()


def test_only_what_makes_the_top_makes_it_anew():
    found = Document.read(RUNNER)
    top = found.top
    assert found.edited([put(["lines", "ditch"], "blocks")]).top is top
    assert found.edited([put(["threads", "grey", "colour"], "black")]).top is top
    for path, value in (
        (["layout", "borders", 0, "width"], 3),
        (["fabrics", "deep"], "black"),
        (["applique", 0, "turn"], 15),
        (["press", "default"], "open"),
        (["name"], "Another"),
        (["layout", "names"], {"A1": "first"}),
    ):
        assert found.edited([put(path, value)]).top is not top


@pytest.mark.parametrize("edit", [
    {"op": "sett", "path": ["name"], "value": 1},
    {"op": "set", "path": [], "value": 1},
    {"op": "set", "path": [0], "value": 1},
    {"op": "set", "path": "name", "value": 1},
    {"op": "set", "path": ["name", "first"], "value": "x"},
    {"op": "set", "path": ["layout", "rows", 5], "value": "boat"},
    {"op": "set", "path": ["applique", "first"], "value": 1},
    {"op": "set", "path": ["name"], "value": object()},
    {"op": "put", "path": ["name"], "value": 1},
    {"op": "put", "path": ["applique"], "at": 9, "value": {}},
    {"op": "put", "path": ["applique"], "value": 3},
    {"op": "set", "path": ["applique", 0], "value": 3},
    {"op": "lay", "at": []},
    {"op": "lay", "at": ["A9"], "block": "plain"},
    {"op": "lay", "at": ["A1"], "block": "none"},
    {"op": "lay", "at": ["A1"], "turn": 45},
    {"op": "grid", "columns": 0, "rows": 1},
    {"op": "grid", "columns": True, "rows": 1},
    {"op": "stitch", "between": ["A1.hull"], "want": True},
    {"op": "stitch", "between": ["A1.hull", "A3.hull"], "want": True},
    {"op": "stitch", "between": ["A1.hull", "A1.sea"], "want": "yes"},
    {"op": "press", "between": ["A1.hull", "A1.sea"], "rule": "up"},
    {"op": "fill", "region": None, "style": "waves"},
    {"op": "fill", "region": "A1", "style": "wave"},
    {"op": "move", "piece": 7, "at": [0, 0]},
    {"op": "move", "piece": 0, "at": [0]},
    {"op": "move", "piece": 0, "at": [float("nan"), 0]},
    {"op": "move", "piece": 0, "size": "big"},
    {"op": "rename fabric", "fabric": "none", "to": "x"},
    {"op": "rename fabric", "fabric": "sea", "to": "sky"},
    {"op": "rename fabric", "fabric": "sea", "to": "deep sea"},
    "set",
])  # fmt: skip
def test_an_edit_that_cannot_be_made_says_so_in_one_sentence(edit):
    found = Document.read(RUNNER)
    with pytest.raises(StitchpathError) as refused:
        found.edited([edit])
    assert "found" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_plain_data_is_plain_json():
    text = 'name = "x"\nday = 2026-05-01\nfar = inf\n[a]\nat = [10:00:00, nan]'
    found = Document(text).data
    assert found == {
        "name": "x", "day": "2026-05-01", "far": "inf", "a": {"at": ["10:00:00", "nan"]},
    }  # fmt: skip


@pytest.mark.parametrize(("unit", "size"), [("in", "10 in"), ("cm", 25), ("mm", "100 mm")])
def test_an_empty_top_has_so_many_plain_blocks(unit, size):
    found = Document(empty_text('Quay "one"', unit, 13, 2, size))
    assert found.problem is None
    assert found.design.name == 'Quay "one"'
    assert len(found.top.blocks) == 26
    assert found.top.width == pytest.approx(13 * parse_length(size, unit))
    assert len(found.design.fabrics) == 4


@pytest.mark.parametrize("asked", [
    ("", "in", 1, 1, 5), ("x", "ft", 1, 1, 5), ("x", "in", 0, 1, 5), ("x", "in", 1, 101, 5),
    ("x", "in", 1, 1, "wide"), ("x", "in", 1.5, 1, 5),
])  # fmt: skip
def test_an_empty_top_of_nonsense_is_refused(asked):
    with pytest.raises(StitchpathError, match="found"):
        empty_text(*asked)


@pytest.mark.parametrize(("mm", "old", "unit", "said"), [
    (133.35, None, "in", 5.25),
    (127.0, 3, "in", 5),
    (100.0, None, "in", 3.937),
    (133.35, "5 in", "in", "5 1/4 in"),
    (134.9375, '5"', "in", '5 5/16"'),
    (100.0, "5 in", "in", "3.937 in"),
    (55.0, "5 cm", "in", "5.5 cm"),
    (55.555, "5 cm", "in", "5.556 cm"),
    (55.555, None, "cm", 5.556),
    (55.555, "40 mm", "in", "55.55 mm"),
    (914.4, "2 yd", "in", "1 yd"),
    (-25.4, 3, "in", -1),
])  # fmt: skip
def test_a_length_is_written_as_the_one_before_it(mm, old, unit, said):
    written = length_like(mm, old, unit)
    assert written == said
    assert parse_length(written, unit, least=-1e6) == pytest.approx(mm, abs=0.01)


def test_all_shipped_designs_are_read_as_they_stand():
    for path in sorted((ROOT / "designs").glob("*.toml")):
        found = Document.read(path)
        assert found.text == path.read_text("utf-8")
        assert found.raw == tomllib.loads(found.text)
        assert found.problem is None
        assert found.lines_problem is None
