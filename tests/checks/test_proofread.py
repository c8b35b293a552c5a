"""A plan that is wrong never leaves the house: each fault is found, and told with its place."""

import json
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from quilts import DESIGNS, SQUARES, design, planned

import stitchpath.plan
from stitchpath import StitchpathError, load_design, make_plan
from stitchpath.checks.proofread import faults_of, plan_faults
from stitchpath.plan import plan_json

PIECE = """
[[applique]]
name = "star"
outline = "M 0 -10 L 2 -3 L 9 -3 L 4 1 L 6 8 L 0 4 L -6 8 L -4 1 L -9 -3 L -2 -3 Z"
size = 3
fabric = "coral"
fused = "after"
at = [3.1, 2.8]
[prices]
end_inside = 1000
"""


@cache
def quilt():
    """Stitch, retrace, and travel in the margin and along seams, in two stages."""
    text = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2", "squares*2"]')
    feature = '[lines]\nditch = "feature"\nfeature = ["coral"]\n'
    return planned(text.replace("'sand sea'", "'coral sea/sand'") + feature + PIECE)


def written():
    return json.loads(plan_json(quilt()))


def legs(data, do, along=None):
    return [
        leg
        for run in data["runs"]
        for leg in run["legs"]
        if leg["do"] == do and leg.get("along") == along
    ]


def test_a_plan_that_holds_has_no_faults():
    data = written()
    assert legs(data, "retrace")
    assert legs(data, "travel", "margin")
    assert legs(data, "travel", "seam")
    assert plan_faults(data) == ()
    assert faults_of(quilt()) == ()


@pytest.mark.parametrize("name", ["harbour-runner", "curved-cushion", "star-lap-quilt"])
def test_shipped_designs_read_through_without_a_fault(name):
    plan = make_plan(load_design(DESIGNS / f"{name}.toml"))
    assert faults_of(plan) == ()
    assert plan_faults(json.loads(plan_json(plan))) == ()


def longer(data):
    data["lines"][0]["points"][0][0] += 0.5


def cross(data):
    """A line over the middle of another one, of its own thread."""
    (x, y), (u, v) = data["lines"][0]["points"][0], data["lines"][0]["points"][-1]
    middle = [(x + u) / 2, (y + v) / 2]
    points = [[middle[0] - 3, middle[1] - 4], [middle[0] + 3, middle[1] + 4]]
    data["lines"].append({**data["lines"][0], "id": "L999", "points": points})


def overlap(data):
    points = data["lines"][0]["points"]
    part = [points[0], [(points[0][0] + points[-1][0]) / 2, (points[0][1] + points[-1][1]) / 2]]
    data["lines"].append({**data["lines"][0], "id": "L999", "points": part})


def knot(data):
    points = [[1, 1], [3, 3], [3, 1], [1, 3]]
    data["lines"].append({**data["lines"][0], "id": "L999", "points": points})


def touching(data, gap=0.0):
    """A line that ends on the middle of another, or a little short of it."""
    (x, y), (u, v) = data["lines"][0]["points"][0], data["lines"][0]["points"][-1]
    way = np.array([v - y, x - u]) / np.hypot(u - x, v - y)
    foot = np.array([(x + u) / 2, (y + v) / 2])
    points = [(foot + gap * way).tolist(), (foot + 3 * way).tolist()]
    data["lines"].append({**data["lines"][0], "id": "L999", "points": points})


def crumb(data, size=0.049):
    points = [[1, 1], [1 + size, 1]]
    data["lines"].append({**data["lines"][0], "id": "L999", "points": points})


def forgotten(data):
    data["lines"].append({**data["lines"][0], "id": "L999", "points": [[1, 1], [2, 2]]})


def twice(data):
    leg = legs(data, "stitch")[0]
    run = next(run for run in data["runs"] if leg in run["legs"])
    run["legs"] += [{**leg, "points": leg["points"][::-1]}, leg]


def jump(data):
    legs(data, "stitch")[1]["points"][0][0] += 0.01


def away_from_start(data):
    data["runs"][0]["start"]["point"][1] += 0.01


def away_from_end(data):
    data["runs"][-1]["end"]["point"][1] += 0.01


def strayed(data):
    points = legs(data, "retrace")[0]["points"]
    (a, b), (c, d) = points[:2]
    away = 0.05 / math.hypot(c - a, d - b)
    points.insert(1, [(a + c) / 2 - away * (d - b), (b + d) / 2 + away * (c - a)])


def over_fabric(data):
    legs(data, "travel", "margin")[0]["points"].insert(1, [20, 20])


def out_of_the_batting(data):
    legs(data, "travel", "margin")[0]["points"].insert(1, [-90, -90])


def off_the_edge(data):
    legs(data, "travel", "margin")[0]["along"] = "edge"


def nowhere(data):
    legs(data, "travel", "seam")[0]["along"] = "fabric"


def off_the_top(data):
    legs(data, "travel", "seam")[0]["points"].insert(1, [-3, -3])


def misnamed(data):
    data["runs"][0]["start"]["where"] = "inside"


def back_a_stage(data):
    data["runs"][-1]["stage"] = 0


def misnumbered(data):
    data["runs"][0]["number"] = 7


def idle(data):
    data["runs"][-1]["legs"] = [
        {**leg, "do": "retrace"} if leg["do"] == "stitch" else leg
        for leg in data["runs"][-1]["legs"]
    ]


def other_thread(data):
    data["lines"][-1]["thread"] = "other"


def same_name(data):
    data["lines"][1]["id"] = data["lines"][0]["id"]


def no_such_line(data):
    legs(data, "retrace")[0]["line"] = "L4000"


def sums(data):
    data["totals"]["retraced"] += 0.1


def miscounted(data):
    data["totals"]["breaks"] += 1


def above(data):
    data["proof"]["lower_bound"] = data["proof"]["cost"] * 1.001


def not_proven(data):
    data["proof"]["lower_bound"] = data["proof"]["cost"] * 0.99


def no_number(data):
    data["lines"][0]["points"][0][0] = float("nan")


def one_point(data):
    legs(data, "stitch")[0]["points"] = [[1, 1]]


def no_runs(data):
    del data["runs"]


def other_format(data):
    data["format"] = "stitchpath-plan/9"


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (longer, "is not that line"),
        (cross, "meet off their ends"),
        (overlap, "meet off their ends"),
        (touching, "meet off their ends"),
        (knot, "crosses itself"),
        (crumb, "0.049 mm long"),
        (forgotten, "stitched 0 times"),
        (twice, "stitched 3 times"),
        (jump, "does not begin where"),
        (away_from_start, "does not begin where"),
        (away_from_end, "does not end at its end"),
        (strayed, "a retrace leaves"),
        (over_fabric, "along the margin does not keep to it"),
        (out_of_the_batting, "along the margin does not keep to it"),
        (off_the_edge, "along the edge does not keep to it"),
        (off_the_top, "along the seam does not keep to it"),
        (nowhere, "a way along 'fabric'"),
        (misnamed, "is said to be inside"),
        (back_a_stage, "goes back to stage"),
        (misnumbered, "stands at place"),
        (idle, "stitches nothing"),
        (other_thread, "of another stage or thread"),
        (same_name, "one name"),
        (no_such_line, "not listed"),
        (sums, "said to be retraced"),
        (miscounted, "breaks are told of"),
        (above, "above the cost"),
        (not_proven, "called proven"),
        (no_number, "no number"),
        (one_point, "fewer than two points"),
        (no_runs, "cannot be read"),
        (other_format, "expected 'stitchpath-plan/1'"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_a_spoilt_plan_is_found_out(spoil, said):
    data = written()
    spoil(data)
    faults = plan_faults(data)
    assert any(said in fault for fault in faults), faults
    assert all("\n" not in fault for fault in faults)


def test_a_line_of_a_twentieth_of_a_millimetre_is_long_enough():
    data = written()
    crumb(data, 0.05)
    assert not any("mm long" in fault for fault in plan_faults(data))


def test_lines_that_do_not_touch_do_not_meet():
    data = written()
    touching(data, 0.003)
    assert not any("meet off" in fault for fault in plan_faults(data))


def test_a_fault_is_told_with_its_place():
    data = written()
    cross(data)
    (fault,) = [f for f in plan_faults(data) if "meet off" in f]
    assert fault.endswith("down")


@pytest.mark.parametrize(("off", "found"), [(0.09, False), (0.11, True), (5.0, True)])
def test_a_way_along_a_seam_that_leaves_the_ditch_is_found_out(off, found):
    plan = quilt()
    runs = list(plan.runs)
    k, i = next(
        (k, i)
        for k, run in enumerate(runs)
        for i, leg in enumerate(run.legs)
        if leg.along == "seam"
    )
    leg = runs[k].legs[i]
    along = leg.points[-1] - leg.points[0]
    aside = np.array([-along[1], along[0]]) / np.hypot(*along) * off
    bent = replace(leg, points=np.insert(leg.points, 1, leg.points.mean(axis=0) + aside, axis=0))
    runs[k] = replace(runs[k], legs=(*runs[k].legs[:i], bent, *runs[k].legs[i + 1 :]))
    faults = faults_of(replace(plan, runs=tuple(runs)))
    assert any("along the seam does not keep to it" in fault for fault in faults) == found


def test_a_cost_that_the_legs_do_not_come_to_is_found_out():
    plan = quilt()
    proof = replace(plan.proof, cost=plan.proof.cost + 1, lower_bound=plan.proof.lower_bound + 1)
    assert any("the cost is said" in fault for fault in faults_of(replace(plan, proof=proof)))


def test_a_plan_that_does_not_hold_is_noded_again_more_coarsely(monkeypatch):
    asked = []
    real = stitchpath.plan.node_lines

    def first_time_uncut(lines, bits, *, pixel, travelling):
        asked.append(pixel)
        cut, ways = real(lines, bits, pixel=pixel, travelling=travelling)
        return (list(lines) if len(asked) == 1 else cut), ways

    monkeypatch.setattr(stitchpath.plan, "node_lines", first_time_uncut)
    plan = planned(SQUARES + PIECE.replace('"after"', '"before"\ncut_ditch = false'))
    assert asked == [1, 10]
    assert faults_of(plan) == ()


def test_a_plan_that_never_holds_is_refused_in_one_sentence_with_the_place(monkeypatch):
    real = stitchpath.plan.node_lines

    def uncut(lines, bits, *, pixel, travelling):
        return list(lines), real(lines, bits, pixel=pixel, travelling=travelling)[1]

    monkeypatch.setattr(stitchpath.plan, "node_lines", uncut)
    text = SQUARES + PIECE.replace('"after"', '"before"\ncut_ditch = false')
    with pytest.raises(StitchpathError) as error:
        make_plan(design(text))
    said = str(error.value)
    assert said.startswith("test.toml: found a plan that does not hold (lines L")
    assert "down)" in said
    assert "\n" not in said
