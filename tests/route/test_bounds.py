"""Every stage's bound as it comes, before it is held against a cost: none is above the least cost.

The least costs are those of an integer program of a general library (tests/routes.py).
"""

from functools import cache

import numpy as np
import pytest
from routes import LARGE, SMALL, known_optima, least, made_up

from stitchpath.base.errors import InternalError
from stitchpath.cli.main import main
from stitchpath.geometry.groups import groups
from stitchpath.route import narrow, postman, twoends
from stitchpath.route.effort import Effort
from stitchpath.route.exact import branch
from stitchpath.route.exact.branch import Search
from stitchpath.route.exact.linear_program import Relaxation, Solved
from stitchpath.route.exact.shrink import reduce
from stitchpath.route.joining import complete, hangs_together, improve, steiner_tree
from stitchpath.route.postman import UnreachableError, hub_graph, solve
from stitchpath.route.tjoin import t_join

EXACT = 1e-6  # part of a least cost by which an integer program may be wrong
TENTHS = [SMALL[k : k + 52] for k in range(0, len(SMALL), 52)]


def graphs(numbers):
    """Give each problem that can be solved with its graph and its least cost."""
    for number in numbers:
        best = known_optima()[number]
        if np.isfinite(best):
            yield number, graph_of(number), best


@cache
def graph_of(number):
    return hub_graph(made_up(number))[0]


def begun(graph):
    """Begin a search as the router does, without a bound from before."""
    tree = steiner_tree(graph, graph.price)
    return Search(graph, improve(graph, complete(graph, tree)), 0.0)


def holds(bound, best):
    return bound <= best * (1 + EXACT) + EXACT


@pytest.mark.parametrize("numbers", [*TENTHS, LARGE], ids=str)
def test_the_cost_she_is_told_is_the_least_and_said_to_be_proven(numbers):
    for number in numbers:
        best = known_optima()[number]
        if np.isinf(best):
            with pytest.raises(UnreachableError):
                solve(made_up(number))
            continue
        tour = solve(made_up(number))
        assert tour.cost == pytest.approx(best, rel=1e-6), number
        assert tour.bound == pytest.approx(best, rel=2e-6), number
        assert tour.optimal, number


@pytest.mark.parametrize("numbers", [SMALL, LARGE], ids=["small", "large"])
@pytest.mark.parametrize("widest", [0, narrow.WIDEST, 30], ids=["matched", "either", "across"])
def test_pairing_odd_crossings_never_claims_more_than_the_least_cost(numbers, widest, monkeypatch):
    monkeypatch.setattr(narrow, "WIDEST", widest)
    for number, graph, best in graphs(numbers):
        join = t_join(graph.hub, graph.tail, graph.head, graph.price, graph.odd[: graph.hub])
        cost = float(graph.price @ join.chosen)
        assert holds(join.bound, best), number
        assert join.bound <= cost + 1e-9
        assert join.bound >= cost * (1 - 1e-5), number  # and loses next to nothing by rounding
        if hangs_together(graph, join.chosen):
            assert cost == pytest.approx(best), number


@pytest.mark.parametrize("seconds", [-1.0, 1e-4, 10.0])
@pytest.mark.parametrize("widest", [0, narrow.WIDEST], ids=["matched", "either"])
def test_two_ends_of_a_run_never_claim_more_than_the_least_cost(seconds, widest, monkeypatch):
    monkeypatch.setattr(narrow, "WIDEST", widest)
    met = met_all = 0
    for number, graph, best in graphs([*SMALL, *LARGE]):
        if graph.pieces != 2 or graph.hub == graph.vertices:
            continue
        join = t_join(graph.hub, graph.tail, graph.head, graph.price, graph.odd[: graph.hub])
        if hangs_together(graph, join.chosen):
            continue
        found = twoends.two_ends(graph, join, Effort(seconds))
        assert holds(found.bound, best), number
        assert graph.price @ found.passes >= best * (1 - EXACT), number
        assert hangs_together(graph, found.passes)
        met_all += 1
        met += found.bound >= best * (1 - 1e-5)
    assert met_all >= 20
    assert seconds < 1 or met >= 0.9 * met_all


@pytest.mark.parametrize("weak", [False, True])
def test_neither_linear_program_nor_branching_cut_short_claims_more_than_the_least_cost(
    weak, monkeypatch
):
    if weak:  # few cuts at the root, so that there is something to branch on
        monkeypatch.setattr(Search, "_more_cuts", lambda *_, **__: [])
        monkeypatch.setattr(branch, "improve", lambda _, passes: passes)
    closed = nodes = 0
    for number, graph, best in graphs([*SMALL, *LARGE]):
        search = begun(reduce(graph).graph)
        search.root(Effort(10))
        assert holds(search.bound, best), number
        closed += search.closed
        for more in (1, 2, 10**6):  # cut short after one node, after three, and not at all
            search.branch(Effort(10), more)
            assert holds(search.bound, best), number
            assert search.price >= best * (1 - EXACT), number
        assert weak or search.price <= best * (1 + EXACT), number
        assert weak or search.closed, number
        search.vouch()
        nodes += search.nodes
    assert closed >= (500 if not weak else 300)
    assert nodes >= (20 if weak else 0)


@pytest.mark.parametrize("seconds", [1e-6, 5e-3, 2e-2])
def test_however_early_the_search_ends_the_bound_is_true_and_the_route_whole(seconds):
    for number in [*SMALL[::8], *LARGE[::2]]:
        best = known_optima()[number]
        if np.isfinite(best):
            tour = solve(made_up(number), effort=Effort(seconds))
            assert holds(tour.bound, best), number
            assert tour.cost >= best * (1 - EXACT), number
            assert not tour.optimal or tour.cost == pytest.approx(best, rel=2e-6), number


def test_parts_that_hang_together_are_told_alike_in_the_order_of_their_first_points():
    rng = np.random.default_rng(1)
    for _ in range(50):
        n = int(rng.integers(1, 30))
        tail, head = rng.integers(0, n, (2, int(rng.integers(0, 30))))
        assert groups(n, tail, head).tolist() == _first_seen(n, tail, head)


def _first_seen(n, tail, head):
    """Parts in the order of their first vertices, by flooding."""
    near = {v: {v} for v in range(n)}
    for a, b in zip(tail.tolist(), head.tolist(), strict=True):
        near[a].add(b)
        near[b].add(a)
    number, parts = {}, 0
    for v in range(n):
        if v not in number:
            todo = {v}
            while todo:
                here = todo.pop()
                number[here] = parts
                todo |= near[here] - number.keys()
            parts += 1
    return [number[v] for v in range(n)]


def test_the_made_up_problems_hold_all_that_a_quilt_asks_for():
    problems = [made_up(number) for number in SMALL]
    pieces = [g.pieces for n, g, _ in graphs(SMALL) if made_up(n).end is not None]
    assert np.isinf(list(known_optima().values())).sum() >= 3
    assert sum(p.end is None for p in problems) >= 50
    assert sum(count == 2 for count in pieces) >= 100  # lines that all hang together, and the hub
    assert sum(count > 3 for count in pieces) >= 75
    assert sum(np.isinf(p.price).any() for p in problems) >= 50
    assert sum((~p.required).any() for p in problems) >= 300
    assert sum(bool((p.price != np.rint(p.price)).any()) for p in problems) >= 450


@pytest.mark.parametrize("number", SMALL[::20])
def test_the_stored_least_costs_are_those_of_the_integer_program(number):
    assert known_optima()[number] == pytest.approx(least(made_up(number)), rel=1e-8)


def test_no_route_goes_out_and_back_to_where_nothing_is():
    tried = 0
    for number, graph, _ in graphs(SMALL[::4]):
        tree, free = steiner_tree(graph, graph.price), graph.piece < 0
        for spur in np.flatnonzero(free[graph.tail] | free[graph.head])[:6].tolist():
            used = complete(graph, np.union1d(tree, [spur])) > 0
            ends = np.concatenate([graph.tail[used], graph.head[used]])
            assert not np.any(free & (np.bincount(ends, minlength=len(free)) == 1)), number
            tried += 1
    assert tried >= 100


# ---- a wrong proof does not pass unseen ----


def test_a_bound_above_the_cost_is_an_error_of_ours_and_no_proof():
    assert postman.proof_of(10.0, 10.0, 1e-6) == (10.0, True)
    assert postman.proof_of(10.0, 10.0 + 1e-7, 1e-6) == (10.0, True)
    assert postman.proof_of(10.0, 9.0, 1e-6) == (9.0, False)
    with pytest.raises(InternalError, match="lies above its cost"):
        postman.proof_of(10.0, 10.1, 1e-6)


def test_a_wrong_bound_is_one_sentence_that_asks_for_the_design_and_nothing_is_written(
    tmp_path, monkeypatch, capsys
):
    true = postman.t_join

    def wrong(*given):
        join = true(*given)
        return type(join)(join.chosen, 1.01 * float(given[3] @ join.chosen) + 200)

    monkeypatch.setattr(postman, "t_join", wrong)
    design = tmp_path / "squares.toml"
    design.write_text(
        'name = "Squares"\nfabrics = { sand = "#e7d5b0", sea = "#2f6f9f" }\n'
        "[blocks.squares]\nsize = 6\ngrid = ['sand sea', 'sea sand']\n"
        '[layout]\nrows = ["squares"]\n[prices]\n'
    )
    monkeypatch.setattr("sys.argv", ["stitchpath", "plan", str(design), "-o", str(tmp_path / "x")])
    with pytest.raises(SystemExit) as stop:
        main()
    said = capsys.readouterr()
    assert stop.value.code == 70
    assert said.err.count("\n") == 1
    assert said.err.startswith(f"stitchpath: {design}: the bound of the route, ")
    assert "error inside stitchpath, nothing was written, please report the design" in said.err
    assert not (tmp_path / "x").exists()


def hard():
    """A problem that takes the linear program to prove."""
    return next(made_up(n) for n, g, _ in graphs(LARGE) if g.pieces > 4)


def test_a_linear_program_that_claims_too_much_is_found_out(monkeypatch):
    true = Relaxation.solve

    def dearer(self, effort, **limit):
        solved = true(self, effort, **limit)
        return solved._replace(value=1.5 * solved.value + 10)

    monkeypatch.setattr(Relaxation, "solve", dearer)
    with pytest.raises(InternalError, match="lies above the price of a route found"):
        solve(hard())


def test_a_linear_program_stopped_by_the_clock_proves_nothing(monkeypatch):
    def stopped(self, effort, **_):
        effort.spend(0.1)
        none = np.zeros(self.columns)
        return Solved(1e9, none, none, finished=False)

    monkeypatch.setattr(Relaxation, "solve", stopped)
    tour = solve(hard(), effort=Effort(1))
    assert not tour.optimal


def test_a_cut_that_leaves_out_the_route_itself_is_found_out():
    search = begun(hub_graph(hard())[0])
    search.root(Effort(10))
    search.vouch()
    search.passes = np.zeros_like(search.passes)  # what the cuts are there to leave out
    with pytest.raises(InternalError, match="leaves out the route itself"):
        search.vouch()


def test_every_cut_found_on_the_way_lets_the_best_tour_pass(monkeypatch):
    monkeypatch.setattr(Relaxation, "shed", lambda *_: None)  # keep them all
    held = 0
    for _, graph, best in graphs([*SMALL[::8], *LARGE]):
        search = begun(graph)  # as it is, not reduced
        search.root(Effort(10))
        search.branch(Effort(10))
        search.vouch()
        held += search.price <= best * (1 + EXACT)
    assert held >= 80
