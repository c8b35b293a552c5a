"""What the page tells of a plan and of the search for it."""

import re
from dataclasses import replace

import pytest
from quilts import WALL
from shapely import LineString, Point

from stitchpath.base.findings import Check
from stitchpath.design.read import design_from_text
from stitchpath.plan import make_plan
from stitchpath.told.plan_data import plan_data
from stitchpath.told.progress import Search
from stitchpath.told.summary import summary_rows


def test_a_finding_leads_to_the_run_that_passes_there():
    plan = make_plan(design_from_text(WALL, "wall"), time_limit=1.0)
    run = plan.runs[-1]
    leg = max(run.legs, key=lambda leg: abs(leg.points[-1] - leg.points[0]).sum())
    middle = tuple(float(v) for v in leg.points[:2].mean(axis=0))  # far from every corner
    far = (-500.0, -500.0)
    checks = (
        Check("warning", "a", "here", middle),
        Check("note", "b", "nowhere", far),
        Check("note", "c", 'all of it (lines = "best"), or some (again)'),
    )
    told = plan_data(replace(plan, checks=checks))
    assert [(c["kind"], c["words"], c["run"]) for c in told["checks"]] == [
        ("warning", "here", min(r.number for r in plan.runs if _passes(r, middle))),
        ("note", "nowhere", None),
        ("note", "all of it, or some (again)", None),
    ]
    assert [len(c["places"]) for c in told["checks"]] == [1, 1, 0]
    assert told["summary"] == [list(row) for row in summary_rows(plan)]
    sewn = plan.totals.stitched + plan.totals.retraced + plan.totals.travelled
    assert told["metres"] == pytest.approx(sewn / 1000, abs=0.001)


def test_what_takes_the_time_the_cloth_and_the_charges_are_told_and_add_up():
    text = WALL + "\n[charges]\ncurrency = 'crowns'\nhour = 30\n"
    plan = make_plan(design_from_text(text, "wall"), time_limit=1.0)
    costs = plan_data(plan)["costs"]
    parts = [words for _, words in costs if re.fullmatch(r"\d+:\d\d:\d\d", words)]
    seconds = sum(
        n * unit
        for words in parts
        for n, unit in zip(map(int, words.split(":")), (3600, 60, 1), strict=True)
    )
    assert seconds == sum(spent.total for spent in plan.times)
    labels = [label for label, _ in costs]
    assert labels.count("batting") == 1
    assert "backing" in labels
    assert costs[-1] == ["charge", f"in all: {plan.needs.bill.total} crowns"]


def _passes(run, point):
    return any(LineString(leg.points).distance(Point(point)) < 1e-6 for leg in run.legs)


def test_the_bar_fills_as_the_gap_closes_and_never_runs_backward():
    search = Search()
    assert search.heard("stage 1", 200.0, 100.0) == (0.0, "50.00 % over the bound")
    assert search.heard("stage 1", 150.0, 100.0)[0] == pytest.approx(0.5)
    assert search.heard("stage 1", 150.0, 150.0) == (1.0, "0.00 % over the bound")
    assert search.heard("stage 2", 400.0, 100.0)[0] == 0.0
    search.restart()
    assert search.heard("stage 2", 300.0, 100.0)[0] == 0.0
    assert Search().heard("stage", 0.0, 0.0) == (1.0, "0.00 % over the bound")


def test_a_bound_that_is_given_up_does_not_empty_the_bar_below_nothing():
    search = Search()
    search.heard("stage 1", 100.0, 99.9999)
    assert search.heard("stage 1", 110.0, 100.0)[0] == 0.0
    assert search.heard("stage 1", 105.0, 100.0)[0] == pytest.approx(0.5)
