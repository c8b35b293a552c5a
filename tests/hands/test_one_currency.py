"""What the route is weighed by is what the clock counts: one sum, made in two ways."""

from dataclasses import replace

import numpy as np
import pytest
from quilts import SQUARES, STARFISH, design, planned
from random_tops import random_top

import stitchpath.plan as made
from stitchpath.base.errors import StitchpathError
from stitchpath.route import router
from stitchpath.route.parking import Parked
from stitchpath.route.passages.problem import Passages, Trip, cost_of
from stitchpath.thread.time import moves_of, route_time

CROSSED = STARFISH.replace('ditch = "none"', 'ditch = "all"').replace("sand sand", "sand coral")


def weighed(text, monkeypatch):
    """Plan a design; price its walks from the graphs alone, turns and returns and all."""
    found = []
    route, run, runs = made.route, router._Walk.run, router._as_runs  # noqa: SLF001

    def routed(network, *rest, **more):
        with monkeypatch.context() as patched:  # pieces routed by themselves are none of this
            patched.setattr(router._Walk, "run", noted)  # noqa: SLF001
            patched.setattr(router, "_as_runs", counted)
            return route(network, *rest, **more)

    def noted(self, number, open_lines):
        found[-1][2].append(self)
        return run(self, number, open_lines)

    def counted(way, required, *rest):
        found.append((way.network, required, []))
        return runs(way, required, *rest)

    def all_routed(*asked):
        found.clear()  # lines that do not hold are noded again, and routed again
        return route_all(*asked)

    route_all = made._route_all  # noqa: SLF001
    monkeypatch.setattr(made, "route", routed)
    monkeypatch.setattr(made, "_route_all", all_routed)
    # an end that is parked is priced when the next window is known
    monkeypatch.setattr(made, "choose_parked", lambda nets, *_: [Parked()] * len(nets))
    plan = made.make_plan(design(text), time_limit=0.2)
    return plan, sum(_price(*one) for one in found)


def _price(network, required, walks):
    again = np.where(np.isfinite(network.again), network.again, 0.0)
    problem = Passages(
        len(network.points), network.tail, network.head, required, network.first, again,
        network.end, network.passing,
    )  # fmt: skip
    trips = [Trip(walk.edges, walk.forward) for walk in walks]
    return cost_of(problem, trips) - network.first_visits(required)


@pytest.mark.parametrize("seed", [n for n in range(30) if n not in (27, 28)])  # those take long
def test_the_price_of_any_route_is_the_time_it_takes(seed, monkeypatch):
    text = random_top(seed)
    if "[prices]" in text or "start =" in text:  # a start that is chosen has a way led to it
        rest = text.rpartition("[route]")[2].replace("start =", "# start =")
        text = text.partition("[prices]")[0].partition("[route]")[0] + "[route]" + rest
    try:
        plan, price = weighed(text, monkeypatch)
    except StitchpathError:
        return  # a design that nothing is to be stitched of
    spent = route_time(plan.runs, plan.lines, plan.tariff)
    assert price == pytest.approx(spent.price, rel=1e-9)
    moves = moves_of(plan.runs, plan.lines, plan.tariff)
    assert moves.returns == spent.comings.sum()
    for part in ("stitching", "pivots", "returns"):
        rounded = [getattr(time, part) for time in plan.times]
        assert rounded == pytest.approx(getattr(spent, part), abs=0.5)


def test_the_proof_is_in_seconds_or_in_millimetres_as_she_asks():
    assert planned(SQUARES).proof.unit == "s"
    plan = planned(SQUARES + "[prices]\n")
    assert plan.proof.unit == "mm"
    assert plan.proof.cost >= plan.totals.stitched


def test_what_shows_is_paid_for_but_takes_no_time():
    plain, dear = (
        planned(STARFISH + f"[looks]\nend_piece = {end}\nend = {end}\nagain = {again}\n")
        for end, again in ((0, 0), (0, 3))
    )
    assert plain.proof.cost < dear.proof.cost
    one, two = (route_time(plain.runs, plain.lines, t) for t in _tariffs(plain))
    assert two.price > one.price
    assert two.price - one.price == pytest.approx(two.looks.sum())
    assert two.stitching.sum() == one.stitching.sum()


def _tariffs(plan):
    looks = plan.tariff.looks
    for end, again in ((0, 0), (20, 1)):
        asked = looks.model_copy(update={"end": end, "end_piece": end, "again": again})
        yield replace(plan.tariff, looks=asked)


def test_changes_of_foot_are_counted_within_runs_and_between_them():
    plan = planned(CROSSED + '[machine]\nfoot = "walking"\n')
    assert plan.foot_changes == 0
    both = planned(CROSSED)
    assert both.foot_changes >= 1
    spent = route_time(both.runs, both.lines, both.tariff)
    changes = (spent.feet.sum() + spent.between.sum()) / both.tariff.pace.foot
    assert changes == both.foot_changes
    assert sum(time.feet for time in both.times) == 60 * both.foot_changes
