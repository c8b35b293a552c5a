"""Tours held against a mixed-integer program of a general library, and by their laws."""

from dataclasses import replace
from itertools import count
from time import monotonic, process_time

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from routes import least, parts_of

from stitchpath.route import effort, postman
from stitchpath.route.effort import Effort
from stitchpath.route.exact import windows
from stitchpath.route.joining import complete, hangs_together, steiner_tree
from stitchpath.route.postman import Problem, solve


def grid(seed, rows, columns, *, whole_squares, hub=True):
    """Make up a small top: loose squares of seams, or single seams here and there."""
    rng = np.random.default_rng(seed)
    graph = nx.convert_node_labels_to_integers(nx.grid_2d_graph(rows, columns), ordering="sorted")
    tail, head = np.array(graph.edges).T
    if whole_squares:  # every point even, as on tops of stars between sashing
        required = np.zeros(len(tail), dtype=bool)
        for row in range(0, rows - 1, 2):
            for column in range(0, columns - 1, 2):
                if rng.random() < 0.7:
                    a = row * columns + column
                    square = {a, a + 1, a + columns, a + columns + 1}
                    required |= np.isin(tail, list(square)) & np.isin(head, list(square))
    else:
        required = rng.random(len(tail)) < 0.3
    required[0] |= not required.any()
    price = rng.choice([7.5, 15, 20, 30], len(tail))
    end = rng.choice([25.0, 60.0], rows * columns) if hub else None
    return Problem(rows * columns, tail, head, required, price, end)


def check(problem, tour):
    """Every line is in a run, runs have two ends, and the price is the sum of what is paid."""
    meet = np.zeros(problem.vertices, dtype=int)
    for ends in (problem.tail, problem.head):
        np.add.at(meet, ends, problem.required + tour.extra)
    assert np.all((meet + tour.ends) % 2 == 0)
    assert len(parts_of(problem, tour.extra, tour.ends)) == 1
    cost = problem.price @ tour.extra + (0 if problem.end is None else problem.end @ tour.ends)
    assert tour.cost == pytest.approx(cost)
    assert tour.bound <= tour.cost


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6), st.booleans(), st.booleans())
def test_no_cheaper_way_exists_than_the_one_she_is_told(seed, whole_squares, hub):
    # scipy.optimize.milp, with cuts added while parts of its answer hang loose
    problem = grid(seed, 4, 5, whole_squares=whole_squares, hub=hub)
    tour = solve(problem)
    check(problem, tour)
    assert tour.optimal
    assert tour.cost == pytest.approx(least(problem))


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10**6), st.floats(0.3, 0.9))
def test_seams_that_all_hang_together_have_no_cheaper_way_either(seed, share):
    # There the two ends of the run are all that has to be found beyond the pairing.
    problem = grid(seed, 5, 5, whole_squares=False)
    required = np.random.default_rng(seed).random(len(problem.tail)) < share
    graph = nx.Graph(
        zip(problem.tail[required].tolist(), problem.head[required].tolist(), strict=True)
    )
    largest = max(nx.connected_components(graph), key=len, default=set())
    required &= np.isin(problem.tail, list(largest))
    required[0] |= not required.any()
    problem = replace(problem, required=required)
    tour = solve(problem)
    check(problem, tour)
    assert tour.optimal
    assert tour.cost == pytest.approx(least(problem))


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 10**6), st.booleans())
def test_a_design_written_in_another_order_costs_the_same(seed, whole_squares):
    problem = grid(seed, 5, 6, whole_squares=whole_squares)
    rng = np.random.default_rng(seed)
    order, name = rng.permutation(len(problem.tail)), rng.permutation(problem.vertices)
    turned = rng.random(len(order)) < 0.5
    tail, head = name[problem.tail[order]], name[problem.head[order]]
    end = np.empty(problem.vertices)
    end[name] = problem.end
    other = Problem(
        problem.vertices,
        np.where(turned, head, tail),
        np.where(turned, tail, head),
        problem.required[order],
        problem.price[order],
        end,
    )
    assert solve(other).cost == pytest.approx(solve(problem).cost)


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 10**6))
def test_without_retracing_and_travel_two_odd_crossings_take_a_run(seed):
    # One run for a piece without odd points, else one for every two of them: Euler.
    problem = grid(seed, 5, 6, whole_squares=False)
    problem = replace(problem, price=np.full(len(problem.tail), np.inf))
    tour = solve(problem)
    graph = nx.MultiGraph(
        zip(problem.tail[problem.required], problem.head[problem.required], strict=True)
    )
    runs = [
        max(1, sum(graph.degree(v) % 2 for v in part) // 2)
        for part in nx.connected_components(graph)
    ]
    assert tour.ends.sum() == 2 * sum(runs)


@settings(deadline=None, max_examples=15)
@given(st.integers(0, 10**6), st.booleans())
def test_a_window_over_the_whole_top_finds_the_best_way_too(seed, whole_squares):
    problem = grid(seed, 4, 5, whole_squares=whole_squares)
    graph, _ = postman.hub_graph(problem)
    passes = complete(graph, steiner_tree(graph, graph.price))
    whole = np.ones(graph.vertices, dtype=bool)
    better = windows.solve_window(graph, passes, whole, Effort(10))
    best = passes if better is None else better
    assert graph.price @ best == pytest.approx(least(problem), rel=2 * windows.WORTH)


@pytest.mark.parametrize("seed", range(4))
def test_windows_never_tear_a_large_tour_nor_make_it_dearer(seed):
    problem = grid(seed, 20, 24, whole_squares=seed % 2 == 0)
    graph, _ = postman.hub_graph(problem)
    passes = complete(graph, steiner_tree(graph, graph.price))
    steps = [graph.price @ passes]
    best = windows.polish(
        graph, passes, effort=Effort(1), take=lambda p: steps.append(graph.price @ p)
    )
    assert steps == sorted(steps, reverse=True)
    assert graph.price @ best == pytest.approx(steps[-1])
    assert hangs_together(graph, best)
    meet = np.bincount(
        np.concatenate([graph.tail, graph.head]), np.tile(best, 2), minlength=graph.vertices
    )
    assert np.all((meet + graph.odd)[: problem.vertices] % 2 == 0)


def test_a_tour_cut_short_is_a_whole_tour_with_a_true_bound():
    problem = grid(3, 20, 24, whole_squares=True)
    short, long = solve(problem, effort=Effort(0.2)), solve(problem, effort=Effort(2))
    for tour in (short, long):
        check(problem, tour)
    assert short.bound <= long.cost


def test_after_ctrl_c_no_worse_route_passes_for_the_one_she_asked_for(monkeypatch):
    problem = grid(3, 12, 14, whole_squares=True)
    monkeypatch.setattr(postman, "polish", _stop)
    monkeypatch.setattr(postman.Search, "branch", _stop)
    with pytest.raises(KeyboardInterrupt):
        solve(problem, effort=Effort(0.3))


def _stop(*_, **__):
    raise KeyboardInterrupt


@pytest.mark.parametrize(("processor", "clock"), [(9, 20), (1, 99)])
def test_a_slow_or_busy_computer_comes_to_the_same_route(monkeypatch, processor, clock):
    """Both clocks run so many times as fast as the work is counted."""
    problem = grid(3, 12, 14, whole_squares=True)
    quiet = solve(problem, effort=Effort(0.3))
    assert not quiet.optimal  # so the search was ended by its work
    slow, worked, spend = Effort(0.3), [0.0], Effort.spend

    def slowly(allowance, seconds):
        worked[0] += seconds if allowance is slow else 0.0
        spend(allowance, seconds)

    monkeypatch.setattr(Effort, "spend", slowly)
    begun = process_time(), monotonic()
    monkeypatch.setattr(effort, "process_time", lambda: begun[0] + processor * worked[0])
    monkeypatch.setattr(effort, "monotonic", lambda: begun[1] + clock * worked[0])
    busy = solve(problem, effort=slow)
    assert not slow.cut_off
    assert worked[0] >= 0.3
    assert (busy.cost, busy.bound) == (quiet.cost, quiet.bound)
    assert busy.extra.tolist() == quiet.extra.tolist()


@pytest.mark.parametrize("guard", ["process_time", "monotonic"])
def test_a_computer_that_cannot_keep_up_at_all_ends_the_search_and_it_is_said(monkeypatch, guard):
    problem = grid(3, 12, 14, whole_squares=True)
    ticks = count(0, 1000)
    monkeypatch.setattr(effort, guard, lambda: next(ticks))
    slow = Effort(0.3)
    tour = solve(problem, effort=slow.part(0.9))
    check(problem, tour)
    assert slow.cut_off
    assert slow.part(0.5).cut_off
    assert not tour.optimal


def test_a_search_that_its_limit_ends_is_not_called_cut_off():
    spent = Effort(1.0)
    spent.part(0.5).spend(1.0)
    assert spent.late
    assert not spent.cut_off
