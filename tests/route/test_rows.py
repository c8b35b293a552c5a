"""Rows from side to side are stitched as the operator asks."""

import pytest
from quilts import check_laws, verify

from stitchpath import StitchpathError
from stitchpath.design.model import Design
from stitchpath.plan import Plan, make_plan
from stitchpath.route import router

INCH = 25.4


def edge_to_edge(how: str, style: str = "loops", **more: object) -> Plan:
    """A runner of 12 by 30 in, rows of 4 in all over, in a frame that shows 13 in."""
    data = {
        "name": "Harbour runner",
        "fabrics": {"sea": "navy", "sand": "tan"},
        "blocks": {"b": {"size": 6, "grid": ["sea sand", "sand sea"]}},
        "layout": {"rows": ["b b"] * 5},
        "lines": {"ditch": "none"},
        "fills": [{"region": "top", "style": style, "spacing": 4, "rows": how}],
        "machine": {"kind": "frame", "depth": 13},
        **more,
    }
    return make_plan(Design.build(data, source="runner"), cures=False)


def off_left_and_right(plan: Plan) -> list[str]:
    """Sides of the ends of every run, each half an inch off the edge."""
    side = {round(-0.5 * INCH, 3): "l", round(12.5 * INCH, 3): "r"}
    ends = [(run.legs[0].points[0, 0], run.legs[-1].points[-1, 0]) for run in plan.runs]
    return ["".join(side[round(float(x), 3)] for x in pair) for pair in ends]


@pytest.mark.parametrize("style", ["loops", "waves"])
def test_each_row_goes_from_left_to_right_and_off_the_edge_if_that_is_asked(style):
    plan = edge_to_edge("one way", style)
    rows = {round(float(run.legs[0].points[0, 1])) for run in plan.runs}
    assert off_left_and_right(plan) == ["lr"] * len(rows)
    heights = [run.legs[0].points[0, 1] for run in plan.runs]
    assert heights == sorted(heights)
    assert plan.totals.retraced == 0
    check_laws(plan)
    verify(plan)


def test_rows_in_pairs_go_out_and_come_back_on_one_thread():
    apart, pairs = edge_to_edge("one way"), edge_to_edge("in pairs")
    by_pass = [[run.window for run in apart.runs].count(k + 1) for k in range(len(apart.windows))]
    asked = [side for n in by_pass for side in ["ll"] * (n // 2) + ["lr"] * (n % 2)]
    assert off_left_and_right(pairs) == asked
    assert "ll" in asked
    check_laws(pairs)
    verify(pairs)


def test_rows_are_laid_once_for_each_pass(monkeypatch):
    laid = []
    monkeypatch.setattr(
        router,
        "rows_as_asked",
        lambda *asked, lay=router.rows_as_asked: laid.append(asked) or lay(*asked),
    )
    plan = edge_to_edge("one way")
    assert len(laid) == len(plan.windows) == 3


def test_there_and_back_is_one_thread_and_takes_the_least_time():
    taken = [
        sum(spent.total for spent in edge_to_edge(asked).times)
        for asked in ("there and back", "in pairs", "one way")
    ]
    assert taken == sorted(taken)


def test_what_is_no_row_is_refused_in_a_sentence():
    with pytest.raises(StitchpathError, match=r"fills\[1\].rows: found lines that branch or close"):
        edge_to_edge("one way", "crosshatch")
    with pytest.raises(StitchpathError, match=r"other lines on the same thread, expected a thread"):
        edge_to_edge("one way", lines={"ditch": "all"})
