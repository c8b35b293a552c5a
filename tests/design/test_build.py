"""A design made of plain data in a notebook says the same as a design file."""

import json

import pytest
from pydantic import ValidationError

from stitchpath import make_plan, save_plan
from stitchpath.base.errors import StitchpathError
from stitchpath.design.model import Design
from stitchpath.design.read import design_from_text

MAT = {
    "name": "mat",
    "unit": "cm",
    "fabrics": {"sail": "white", "sea": "navy"},
    "blocks": {"wave": {"size": 10, "grid": ["sail sea"]}},
    "layout": {"rows": ["wave wave"], "borders": [{"width": 5, "fabric": "sea"}]},
}
WAYS = {
    "build": Design.build,
    "model_validate": Design.model_validate,
    "model_validate_json": lambda data: Design.model_validate_json(json.dumps(data)),
    "keywords": lambda data: Design(**data),
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(("unit", "mm"), [("in", 25.4), ("cm", 10), ("mm", 1), (None, 25.4)])
def test_a_quilt_in_centimetres_is_never_read_in_inches(way, unit, mm):
    data = {key: value for key, value in MAT.items() if key != "unit"}
    made = WAYS[way](data if unit is None else {**data, "unit": unit})
    assert made.blocks["wave"].size == pytest.approx((10 * mm, 10 * mm))
    assert made.layout.borders[0].width == pytest.approx(5 * mm)


def test_the_context_of_a_caller_does_not_change_her_unit():
    made = Design.model_validate(MAT, context={"unit": "in"})
    assert made.blocks["wave"].size == (100, 100)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"unit": "inch"}, "the design: unit: found 'inch', expected 'in', 'cm' or 'mm'"),
        ({"unit": ["cm"]}, "the design: unit: found ['cm'], expected 'in', 'cm' or 'mm'"),
        (
            {"fils": []},
            "the design: found the unknown key 'fils', the nearest known key is 'fills'",
        ),
        ({"name": "mat\n"}, "the design: found the character U+000A in 'mat\\n', expected plain"),
        (
            {"batting": {"margin": -1}},
            "the design: batting.margin: found -1, expected a length of zero or more",
        ),
    ],
)
def test_what_is_wrong_in_a_notebook_is_one_sentence_too(change, said):
    with pytest.raises(StitchpathError) as caught:
        Design.build({**MAT, **change})
    assert str(caught.value).startswith(said)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("data", [None, [], "mat", {1: 2}])
def test_what_is_no_table_is_refused_in_a_sentence(data):
    with pytest.raises(StitchpathError, match=r"^the design: found .*, expected a table of keys$"):
        Design.build(data)


def test_a_design_in_a_notebook_finds_drawings_in_the_folder_it_is_given(tmp_path):
    made = Design.build(MAT, folder=tmp_path)
    assert made.folder == tmp_path
    assert made.source == "the design"


def test_a_file_and_plain_data_give_the_same_design():
    text = 'name = "mat"\nunit = "cm"\nfabrics = { sail = "white", sea = "navy" }\n'
    text += '[blocks.wave]\nsize = 10\ngrid = ["sail sea"]\n[layout]\nrows = ["wave wave"]\n'
    text += '[[layout.borders]]\nwidth = 5\nfabric = "sea"\n'
    assert design_from_text(text, "mat.toml") == Design.build(MAT, source="mat.toml")


def test_the_model_itself_still_raises_what_programs_expect():
    with pytest.raises(ValidationError, match="fabrics"):
        Design.model_validate({"name": "mat"})


def test_files_of_a_design_made_in_python_bear_the_quilt_s_name(tmp_path):
    patch = {"size": 10, "grid": ["sail sea"]}
    design = Design.build(
        {
            "name": "Harbour, at night",
            "fabrics": {"sail": "white", "sea": "navy"},
            "blocks": {"mole": patch},
            "layout": {"rows": ["mole"]},
        }
    )
    written = save_plan(make_plan(design), tmp_path, ("svg",))
    assert {path.name for path in written} == {
        "harbour-at-night.path.svg",
        "harbour-at-night.plan.json",
    }
    assert repr(design) == "<Design 'Harbour, at night': mole>"
