"""The tests' own checker of plans finds what it is there to find."""

import json
import re
from copy import deepcopy

import pytest
from plan_checker import faults
from quilts import FEATURE, blocks, planned

from stitchpath.plan import plan_json

FEW = blocks(FEATURE, 2, 2) + "[prices]\nend_inside = 900\nretrace_ditch = 0.05\n"


@pytest.fixture(scope="module")
def sound():
    plan = planned(FEW)
    patches = [patch.polygon for patch in plan.top.patches]
    data = json.loads(plan_json(plan))
    assert faults(data, patches) == []
    assert {leg.get("along") for run in data["runs"] for leg in run["legs"]} >= {"seam", "margin"}
    assert {leg["do"] for run in data["runs"] for leg in run["legs"]} >= {"stitch", "retrace"}
    return data, patches


def legs_of(data, do, along=None):
    return [
        (run, leg)
        for run in data["runs"]
        for leg in run["legs"]
        if leg["do"] == do and along in (None, leg.get("along"))
    ]


def _drop_leg(data):
    run, leg = legs_of(data, "stitch")[0]
    run["legs"].remove(leg)


def _stitch_twice(data):
    legs_of(data, "retrace")[0][1]["do"] = "stitch"


def _shift(do, along=None):
    def shift(data):
        _, leg = legs_of(data, do, along)[0]
        leg["points"] = [[x + 5, y + 7] for x, y in leg["points"]]

    return shift


def _bend(do, along):
    """Keep both ends and lead the way between them elsewhere."""

    def bend(data):
        _, leg = legs_of(data, do, along)[0]
        leg["points"] = [leg["points"][0], [90.0, 41.0], leg["points"][-1]]

    return bend


def _set(*path, to):
    def change(data):
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] = to

    return change


def _add(*path, by):
    def change(data):
        for key in path[:-1]:
            data = data[key]
        data[path[-1]] += by

    return change


def _empty_run(data):
    data["runs"].append({**data["runs"][0], "number": len(data["runs"]) + 1, "legs": []})
    data["totals"]["runs"] += 1
    data["totals"]["breaks"] += 1


def _cross(data):
    data["lines"].append({**data["lines"][0], "id": "L99", "points": [[0, 0], [200, 199]]})


def _knot(data):
    data["lines"][0]["points"] = [[0, 0], [9, 9], [9, 0], [0, 9]]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (_set("format", to="stitchpath-plan/2"), "the format is"),
        (_drop_leg, "is stitched 0 times"),
        (_drop_leg, "breaks before leg|does not (start|end) where"),
        (_stitch_twice, "is stitched 2 times"),
        (_shift("stitch"), "is not stitched as it is drawn"),
        (_shift("retrace"), "retraces L.* elsewhere"),
        (_shift("stitch"), "breaks before leg"),
        (_bend("travel", "seam"), "travels over open fabric"),
        (_bend("travel", "margin"), "travels outside the margin"),
        (_set("runs", 0, "start", "where", to="inside"), "its start is not inside"),
        (_set("runs", 0, "end", "point", to=[1, 1]), "does not end where it says"),
        (_set("runs", 0, "number", to=7), "stands at place 1"),
        (_set("runs", 0, "stage", to=2), "of another stage or thread"),
        (_set("runs", 0, "thread", to="gold"), "threads told of"),
        (_empty_run, "has no legs"),
        (_empty_run, "stitches nothing"),
        (_cross, "meet elsewhere than at ends"),
        (_knot, "crosses itself"),
        (_set("lines", 1, "id", to="L1"), "two lines have one name"),
        (_set("lines", 1, "id", to="L99"), "names L2, which is no line"),
        (_add("totals", "stitched", by=0.1), "stitched is"),
        (_add("totals", "retraced", by=0.1), "retraced is"),
        (_add("totals", "travelled", by=0.1), "travelled is"),
        (_add("totals", "runs", by=1), "runs are"),
        (_add("totals", "breaks", by=1), "breaks are"),
        (_add("proof", "lower_bound", by=1), "above the cost"),
        (_add("proof", "lower_bound", by=-1), "are called True"),
        (_set("proof", "optimal", to=False), "are called False"),
        (_set("proof", "cost", to=1.0), "less than what is stitched"),
        (_add("quilt", "width", by=1), "not the size of the quilt"),
    ],
)
def test_a_spoilt_plan_is_found_out(sound, spoil, words):
    data, patches = deepcopy(sound[0]), sound[1]
    spoil(data)
    found = faults(data, patches)
    assert any(re.search(words, fault) for fault in found), found


def test_stages_that_go_back_are_found_out(sound):
    data = deepcopy(sound[0])
    data["runs"] = [{**data["runs"][0], "stage": stage} for stage in (2, 1)]
    assert any("goes back to stage 1" in fault for fault in faults(data))
