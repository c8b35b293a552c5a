from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import DESIGNS, SQUARES, check_laws, design, layouts, planned, verify
from test_trails import eulerian_circuit

from stitchpath import StitchpathError, load_design
from stitchpath.compare import compare
from stitchpath.lines.collect import collect_lines
from stitchpath.lines.ditch import seam_bits
from stitchpath.network.graph import build_networks
from stitchpath.network.noding import node_lines
from stitchpath.plan import make_plan, plan_json
from stitchpath.route.router import route
from stitchpath.route.trails import gentle_trails
from stitchpath.top.build import build_top

FOUR = SQUARES.replace('rows = ["squares"]', 'rows = ["squares squares", "squares squares"]')


def routed_by(**keys):
    return "[route]\n" + "".join(f"{k} = {v!r}\n" for k, v in keys.items())


def anchors(plan, run):
    return {plan.lines[leg.line].anchor for leg in run.legs if leg.do == "stitch"}


def test_anchoring_seams_first_are_a_pass_of_their_own():
    plan = planned(FOUR + routed_by(anchor="first"))
    kinds = [anchors(plan, run) for run in plan.runs]
    assert kinds[0] == {True}
    assert kinds[-1] == {False}
    assert plan.anchoring.runs == kinds.count({True})
    check_laws(plan)
    verify(plan)


def test_what_anchoring_first_costs_is_told():
    mixed, first = (
        planned(FOUR + routed_by(anchor="mixed")),
        planned(FOUR + routed_by(anchor="first")),
    )
    assert mixed.anchoring is None
    assert first.proof.cost > mixed.proof.cost
    assert first.anchoring.extra >= 25  # two ends in the margin at the least, 12.5 s each


def test_large_tops_anchor_first_and_small_ones_mix():
    large = FOUR.replace("size = 6", "size = 21")
    assert planned(FOUR + routed_by(order="free")).anchoring is None
    assert planned(large + '[machine]\nfoot = "free-motion"\n').anchoring is not None
    assert planned(large + routed_by(order="free")).anchoring is None
    assert planned(large).anchoring is None  # in the order that is taught they come first anyway


def test_while_the_path_is_sought_she_sees_what_it_costs_in_the_end():
    buoy = (
        '[[applique]]\nname = "buoy"\noutline = "M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z"\n'
        'on = "A1"\nsize = 1\nfabric = "coral"\n'
    )
    pieces = "".join(f"{buoy}at = {at}\n" for at in ("[1.3, 1.2]", "[4.5, 1.3]", "[1.4, 4.6]"))
    told = []
    plan = make_plan(
        design(f'{SQUARES}{pieces}[lines]\nditch = "none"\n[prices]\n'),
        progress=lambda _, cost, bound: told.append((cost, bound)),
    )
    assert told[-1] == pytest.approx((plan.proof.cost, plan.proof.lower_bound))
    assert all(bound <= cost * (1 + 1e-9) for cost, bound in told)
    assert told[0][1] < told[-1][1]


@settings(deadline=None, max_examples=15)
@given(layouts())
def test_anchoring_first_keeps_every_law(text):
    try:
        check_laws(planned(text.replace("[route]\n", '[route]\nanchor = "first"\n')))
    except StitchpathError as error:
        assert "nothing to stitch" in str(error)  # noqa: PT017 - a top of one fabric


@pytest.mark.parametrize(
    ("corner", "at"), [("A1 bottom right", (152.4, 152.4)), ("B2 top right", (304.8, 152.4))]
)
def test_the_first_run_begins_where_the_quilter_says(corner, at):
    plan = planned(FOUR + routed_by(start=corner))
    assert tuple(plan.runs[0].legs[0].points[0]) == pytest.approx(at)
    check_laws(plan)
    verify(plan)


@pytest.mark.parametrize("corner", ["A1", "Z9 top left", "A1 left top", "middle"])
def test_a_start_that_is_no_corner_is_refused(corner):
    with pytest.raises(StitchpathError, match=r"route\.start"):
        planned(FOUR + routed_by(start=corner))


def test_an_order_begins_with_anchoring_runs_then_goes_outward():
    rest = routed_by(anchor="first", retrace="never")
    plan = planned(FOUR.replace("squares squares", "squares*3") + rest)
    stitched = [anchors(plan, run) for run in plan.runs]
    last_anchor = max(k for k, kinds in enumerate(stitched) if kinds == {True})
    assert all(kinds == {True} for kinds in stitched[: last_anchor + 1])


def test_runs_turn_far_less_than_an_euler_circuit_of_a_general_library(monkeypatch):
    # networkx.eulerian_circuit on the same multigraph: the same legs in another order.
    # Where every way turns, as on a small top of few crossings, there is less to choose.
    graphs = multigraphs(monkeypatch)
    grid = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*5"]\nrepeat = 5')
    plan = planned(grid + "[prices]\n")
    assert plan.turning <= 0.6 * sum(map(eulerian_circuit, graphs))


@pytest.mark.parametrize("name", ["harbour-runner", "star-lap-quilt", "curved-cushion"])
def test_shipped_designs_turn_hardly_more_than_their_lines_ask_for(name, monkeypatch):
    graphs = multigraphs(monkeypatch)
    plan = make_plan(load_design(DESIGNS / f"{name}.toml").priced(["end_margin=25"]))
    assert plan.least_turning - 1e-6 <= plan.turning <= 1.05 * plan.least_turning
    assert plan.turning < sum(map(eulerian_circuit, graphs))


def multigraphs(monkeypatch):
    """Collect what the plans made from now on ask trails to be found for."""
    graphs = []

    def keep(graph, price):
        graphs.append(graph)
        return gentle_trails(graph, price)

    monkeypatch.setattr("stitchpath.route.useful_runs.gentle_trails", keep)
    return graphs


@settings(deadline=None, max_examples=10)
@given(layouts(), st.floats(0, 360))
def test_a_top_laid_another_way_round_costs_and_turns_the_same(text, degrees):
    try:
        laid = design(text)
        top = build_top(laid)
        lines, bits = node_lines(collect_lines(laid, top, seam_bits(top))[0], seam_bits(top))
    except StitchpathError as error:
        assert "nothing to stitch" in str(error)  # noqa: PT017 - a top of one fabric
        return
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[c, s], [-s, c]])
    for network in build_networks(laid, top, lines, bits):
        other = replace(
            network,
            points=network.points @ turn,
            paths=tuple(path @ turn for path in network.paths),
        )
        (one,), (two,) = (route(net, lines, (0.0, 0.0)) for net in (network, other))
        assert one.proof.cost == pytest.approx(two.proof.cost)
        assert one.turning.bound == pytest.approx(two.turning.bound, abs=1e-9)


def test_compare_shows_what_each_choice_costs():
    rest = '[lines]\nfeature = ["sea"]\n'
    choices, left_out = compare(design(FOUR + rest))
    assert left_out == []
    assert [(c.lines, c.retrace) for c in choices][:2] == [
        ("all seams", "with retracing"),
        ("all seams", "without"),
    ]
    by_name = {(c.lines, c.retrace): c for c in choices}
    every, blocks = by_name["all seams", "without"], by_name["block seams only", "without"]
    assert blocks.metres < every.metres
    assert blocks.thread < every.thread
    assert all(c.minutes > 0 and c.optimal for c in choices)


def test_compare_says_which_choice_cannot_be_planned():
    choices, left_out = compare(design(FOUR))
    assert len(choices) == 4
    (said,) = left_out  # once for both ways
    assert said.startswith("feature outlines: ")
    assert "lines.feature" in said


def test_prices_on_the_command_line_go_before_those_of_the_design():
    asked = design(FOUR + "[prices]\nend_margin = 1\n").priced(["end_margin=30", "travel_seam=1"])
    assert (asked.prices.end_margin, asked.prices.travel_seam) == (30, 1)
    for bad in ("end_margin=x", "end_margin", "end_margin=-1"):
        with pytest.raises(StitchpathError, match=r"^price: found"):
            asked.priced([bad])


def test_a_route_that_is_not_proven_is_the_same_on_every_run(monkeypatch):
    # Work is counted, not timed: the clock is only an outer guard for slow machines, stopped here.
    monkeypatch.setattr("stitchpath.route.effort.monotonic", lambda: 0.0)
    text = (DESIGNS / "star-lap-quilt.toml").read_text().replace('"mixed"', '"first"')
    one, other = (planned(text, time_limit=1) for _ in range(2))
    assert not one.proof.optimal
    assert plan_json(one) == plan_json(other)
