"""plan.json against its JSON Schema: what another program may count on."""

import copy
import json

import jsonschema
import pytest
from quilts import DESIGNS, PLAN_SCHEMA, SQUARES, STARFISH, assert_fits_schema, planned

from stitchpath.design.read import load_design
from stitchpath.plan import make_plan, plan_json
from stitchpath.plan_schema import plan_schema

# With this on top of another, every key of the format is written once.
ALL_THERE = (
    STARFISH.replace("[lines]", "[lines]\nedge_line = '1/8 in'\nfeature = ['sand']")
    .replace('"none"', '"all"')
    .replace('["plain"]', '["plain", "plain", "plain"]')
    .replace("[threads.coral]", "[threads.coral]\nspools = ['200 m']\nper_bobbin = '2 m'")
    + "[charges]\ncurrency = 'crowns'\nthread = 0.02\nsquare_inch = 0.03\n"
    "[machine]\nkind = 'frame'\ndepth = '14 in'\n"
)


@pytest.fixture(scope="module")
def data():
    return json.loads(plan_json(planned(ALL_THERE)))


def strict(schema):
    """The same schema, with no keys but those it tells of."""
    if isinstance(schema, list):
        return [strict(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    closed = {key: strict(value) for key, value in schema.items()}
    return closed | ({"additionalProperties": False} if "required" in schema and
                     schema.get("type") == "object" else {})  # fmt: skip


def test_every_key_of_a_plan_is_told_of_in_the_schema(data):
    PLAN_SCHEMA.check_schema(plan_schema())
    jsonschema.Draft202012Validator(strict(plan_schema())).validate(data)


def test_every_key_that_the_schema_tells_of_is_written(data):
    told = set()

    def collect(schema):
        for value in schema.values() if isinstance(schema, dict) else schema:
            if isinstance(value, (dict, list)):
                collect(value)
        if isinstance(schema, dict) and "required" in schema and "properties" in schema:
            told.update(schema["properties"])

    collect(plan_schema())
    written = set()

    def gather(value):
        if isinstance(value, dict):
            written.update(value)
        for each in value.values() if isinstance(value, dict) else value:
            if isinstance(each, (dict, list)):
                gather(each)

    gather(data)
    # A frame has no throat: what rolls up there is told of a domestic machine.
    throat = '[machine]\nthroat = { width = "8 in", height = "4 in" }\n'
    gather(json.loads(plan_json(planned(SQUARES + throat))))
    assert told == written


@pytest.mark.parametrize("name", ["harbour-runner", "curved-cushion"])
def test_shipped_designs_fit_the_schema_to_the_last_point(name):
    whole = json.loads(plan_json(make_plan(load_design(DESIGNS / f"{name}.toml"))))
    PLAN_SCHEMA.validate(whole)
    assert_fits_schema(whole)


def test_a_plan_in_inches_says_that_its_lengths_are_millimetres(data):
    assert (data["unit"], data["lengths"]) == ("in", "mm")
    assert data["quilt"]["width"] == pytest.approx(10 * 25.4)


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.pop("lengths"),
        lambda d: d.update(lengths="in"),
        lambda d: d.update(format="stitchpath-plan/2"),
        lambda d: d["lines"][0].update(kind="tack"),
        lambda d: d["lines"][0].update(points=[[0, 0]]),
        lambda d: d["lines"][0]["points"].__setitem__(0, [0, 0, 0]),
        lambda d: d["runs"][0]["legs"][0].pop("do"),
        lambda d: d["runs"][0].update(legs=[]),
        lambda d: next(x for x in d["runs"][0]["legs"] if x["do"] == "stitch").pop("line"),
        lambda d: next(x for x in d["runs"][0]["legs"] if x["do"] == "travel").pop("along"),
        lambda d: d["totals"].update(runs=1.5),
        lambda d: d["cloth"]["bill"].update(total="much"),
        lambda d: d["bobbin_changes"][0].update(where="somewhere"),
    ],
)
def test_a_program_that_writes_another_thing_is_told(data, change):
    other = copy.deepcopy(data)
    change(other)
    with pytest.raises(jsonschema.ValidationError):
        PLAN_SCHEMA.validate(other)


def test_the_schema_of_a_plan_is_printed_on_request(run):
    assert json.loads(run("schema", "--plan")[1]) == plan_schema()
    assert json.loads(run("schema")[1])["title"] == "stitchpath design"
