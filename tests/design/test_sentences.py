"""What is said of a design that cannot be used: true, and in words a quilter can act on."""

import re
import tomllib
from datetime import date

import pydantic
import pytest
from quilts import DESIGNS, SQUARES, design, planned, verify

from stitchpath.base.errors import StitchpathError
from stitchpath.design.model import Design
from stitchpath.design.sentences import _EXPECTED, sentence
from stitchpath.top.build import build_top

WRONG = [
    True, -1, 2.5, 10**30, float("nan"), 1e300, "", "coal", "x" * 99, [], [1, 2, 3], ["a"] * 30, {},
    date(2020, 1, 2),
]  # fmt: skip
MACHINE_WORDS = re.compile(
    r"Input|valid|parse|instance|dictionary|tuple|string|boolean|integer|float|None\b|True|False|"
    r"datetime|greater|less than|pydantic|items|constrained|union|\{|e\+0"
)


def manual():
    """The design of the manual, with nearly every key there is."""
    text = (DESIGNS / "README.md").read_text("utf-8")
    parts = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    own = ("Two geese", "[top]")  # designs of their own
    return tomllib.loads("\n".join(part for part in parts if not any(each in part for each in own)))


def every_place(data, path=()):
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in list(items):
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from every_place(value, (*path, key))


def spoilt(data, place, value):
    """The same design with another value at one place."""
    *path, key = place
    at = data
    for step in path:
        at = at[step]
    kept, at[key] = at[key], value
    return lambda: at.__setitem__(key, kept)


@pytest.fixture(scope="module")
def said():
    """Every kind of error of the model, and every sentence, of one wrong value at each place."""

    data = manual()
    data["stitching"]["ratio"] = {"top": 1.3, "bobbin": 1.2}
    kinds, sentences = set(), {}
    for place in list(every_place(data))[::2]:  # half of them find every kind
        for value in WRONG:
            undo = spoilt(data, place, value)
            try:
                Design.model_validate(data, context={"unit": "in"})
            except pydantic.ValidationError as error:
                kinds |= {each["type"] for each in error.errors(include_url=False)}
                sentences.setdefault(sentence(error, data, Design), (place, value))
            undo()
    return kinds, sentences


def test_every_error_that_the_model_can_raise_has_words_of_ours(said):
    kinds, _ = said
    assert kinds - {"missing", "extra_forbidden", "value_error"} == set(_EXPECTED)


def test_no_sentence_speaks_the_validators_language(said):
    _, sentences = said
    assert len(sentences) > 200
    for words, where in sentences.items():
        assert not MACHINE_WORDS.search(words), (words, where)
        assert "found" in words
        assert "\n" not in words
        assert len(words) < 400


LENGTH = 'expected a length such as "6 1/2 in", 6½", "16.5 cm", "165 mm" or a plain number'


@pytest.mark.parametrize(
    ("keys", "sentence"),
    [
        (
            "[stitching]\nper_inch = 'ten'",
            "stitching.per_inch: found 'ten', expected a number or a table of keys",
        ),
        (
            "[stitching]\nper_inch = { ditch = 'ten' }",
            "stitching.per_inch.ditch: found 'ten', expected a number",
        ),
        (
            "[stitching]\nper_inch = { dich = 10 }",
            (
                "stitching.per_inch: found the unknown key 'dich', expected 'ditch', 'centre', "
                "'outline', 'echo', 'fill' or 'drawn'"
            ),
        ),
        (
            "[pace]\nspeed = { ditch = '60 c' }",
            "pace.speed.ditch: found '60 c', expected a unit of in, cm, mm, m, ft or yd",
        ),
        (
            "[prices]\nend_inside = 2000000",
            "prices.end_inside: found 2000000, expected a number of 1000000 or less",
        ),
        ("[lines]\nexclude = [[]]", "lines.exclude[1]: found [], expected a list of 2"),
        (
            "[lines]\nexclude = [['a', 'b', 'c']]",
            "lines.exclude[1]: found ['a', 'b', 'c'], expected a list of 2",
        ),
        (
            "[lines]\nedge_line = 2020-01-02",
            f"lines.edge_line: found the date or time 2020-01-02, {LENGTH}",
        ),
        ("[machine]\ndepth = true", f"machine.depth: found true, {LENGTH}"),
        (
            "[batting]\nkind = 'hay'",
            (
                "batting.kind: found 'hay', expected one of unstabilised cotton, "
                "needle-punched cotton, needle-punched cotton with scrim, cotton-polyester blend, "
                "polyester, wool"
            ),
        ),
        (
            "[threads.grey]\nfibre = 'hemp'",
            (
                'threads.grey: found the fibre "hemp", expected one of cotton, polyester, nylon, '
                "silk, rayon, wool, linen"
            ),
        ),
        (
            "[stitching]\nthickness = '60 mm'",
            "stitching, thickness: found 60 mm, expected 0 to 50 mm",
        ),
        (
            "[charges]\nhour = 1\nsquare_inch = 1",
            (
                "charges: found a price by the hour and one by the square inch, expected the "
                "quilting to be charged one way"
            ),
        ),
    ],
)
def test_a_wrong_value_is_told_by_the_place_where_she_wrote_it(keys, sentence):
    with pytest.raises(StitchpathError) as error:
        planned(SQUARES + keys + "\n")
    assert str(error.value) == f"test.toml: {sentence}"


def test_a_fabric_that_is_no_colour_is_told_so():
    with pytest.raises(StitchpathError, match=r"fabrics.sea: found 3, expected a colour such as"):
        design(SQUARES.replace('"#2f6f9f"', "3"))


PIECE = '[[applique]]\nname = "buoy"\noutline = "M 0 0 L 1 0 L 1 1 Z"\nsize = 1\nfabric = "coral"\n'


def test_a_block_that_is_drawn_but_not_laid_is_not_called_unknown():
    text = SQUARES.replace("[layout]", '[blocks.b1]\nsize = 6\ngrid = ["sea"]\n[layout]')
    with pytest.raises(StitchpathError) as error:
        build_top(design(text + PIECE + 'on = "b1"\n'))
    assert str(error.value).endswith(
        "on: found the block 'b1', which is not in the layout, expected one that is"
    )
    with pytest.raises(StitchpathError, match="unknown block or place 'b7', expected a block"):
        build_top(design(text + PIECE + 'on = "b7"\n'))


def side_by_side(x, y="0"):
    text = SQUARES.replace('rows = ["squares"]\n', "").replace("size = 6", 'size = "400 mm"')
    return text + "".join(
        f'[[layout.place]]\nblock = "squares"\nx = "{a} mm"\ny = "{b} mm"\n'
        for a, b in ((0, 0), (x, y))
    )


@pytest.mark.parametrize("x", [399.991, 400, 400.009])
def test_blocks_that_miss_each_other_by_less_than_a_thread_are_one_top(x):
    plan = planned(side_by_side(x))
    assert plan.top.width == pytest.approx(400 + x, abs=0.011)
    verify(plan)


@pytest.mark.parametrize(
    ("x", "y", "found"),
    [
        (400.02, 0, "found a part that stands alone, 0.02 mm from the rest,"),
        (404.6, 20, "found a part that stands alone, 4.60 mm from the rest,"),
        (399.9, 0, '"P1 r1c2" and "P2 r1c1" overlap at '),
        (300, 20, '" overlap at '),
        (100, 100, '" overlap at '),
    ],
)
def test_a_gap_is_called_a_gap_and_an_overlap_an_overlap(x, y, found):
    with pytest.raises(StitchpathError) as error:
        build_top(design(side_by_side(x, y)))
    assert found in str(error.value)
    assert "across" in str(error.value)  # the place


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("name = Quay", "line 1, column 8: found a value that is neither a number, true, false, "),
        ('name = "Quay', "found a text that is not closed, expected its quote"),
        ('name = "Quay\n', "line 1, column 13: found a text that is not closed"),
        ("name = '''Quay", "found a text that is not closed, expected its quote"),
        ('grid = ["a\\sea"]', "found a backslash in double quotes, expected single quotes"),
        ("rows = ['a'", "found a list that is not closed, expected ]"),
        ("a = { b = 1 ", "found a table that is not closed, expected }"),
        ("a = { b = 1, b = 2 }", "found a key for the second time"),
        ("a = 1\na = 2", "end of document: found a key for the second time"),
        ("[a]\nb = 1\n[a]", "found a table for the second time"),
        ("name", "found a key with no = after it"),
        ("a = 1 b = 2", "line 1, column 7: found more after a value, expected a new line"),
        ("a = 2 1/2", 'line 1, column 7: found the length 2 1/2 without quotes, expected "2 1/2"'),
        ("a = 16.5 cm # wide", 'found the length 16.5 cm without quotes, expected "16.5 cm"'),
        ("a = { b = 1/4 in, c = 2 }", 'the length 1/4 in without quotes, expected "1/4 in"'),
        ("at = [5, 7 1/2]", 'the length 7 1/2 without quotes, expected "7 1/2"'),
        ("a = 2½", 'the length 2½ without quotes, expected "2½"'),
        ('a = 6 1/2"', "the length 6 1/2\" without quotes, expected '6 1/2\"'"),
        ("a = 2 sails", "found more after a value, expected a new line"),
        ("[layout", "found a table's name that is not closed"),
        ("[[fills]", "found a table's name that is not closed"),
        ("= 3", "line 1, column 1: found no key, expected KEY = VALUE"),
        ("a = \x01", "found a value that is neither"),
        ("# \x01", "found a sign that cannot stand here"),
    ],
)
def test_a_slip_in_writing_is_told_with_its_line(written, sentence):
    with pytest.raises(StitchpathError) as error:
        design(written)
    assert sentence in str(error.value)
    assert not re.search(r"Invalid|Expected|Illegal|Cannot|Un[a-z]+ed", str(error.value))


def test_a_slip_in_one_length_is_not_told_as_a_place_in_a_list():
    with pytest.raises(StitchpathError, match=r"blocks\.squares\.size: found '8 inchs'"):
        design(SQUARES.replace("size = 6", "size = '8 inchs'"))
