"""The bound of a route whose passages cost something, held against trying everything."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from passages import by_integer_program, cheapest, made_up

from stitchpath.base.errors import InternalError, StitchpathError
from stitchpath.route.effort import Effort
from stitchpath.route.passages.bound import Proved, Search, lower_bound, prove
from stitchpath.route.passages.problem import cost_of
from stitchpath.route.postman import Problem, solve

PROBLEMS, LARGE = range(320), (0, 1, 2, 3, 5, 6, 9, 10, 15, 16, 19, 20)


@cache
def least(number):
    return cheapest(made_up(number))


@cache
def least_of_many(number):
    return by_integer_program(made_up(number, large=True))


def check(problem, proved, best):
    """Hold a proof against the optimum, and its runs against what has to be stitched."""
    assert proved.bound == pytest.approx(best, rel=1e-6)
    if not np.isfinite(best):
        assert proved.trips is None
        return
    assert cost_of(problem, proved.trips) == pytest.approx(best, rel=1e-9)
    stitched = {edge for trip in proved.trips for edge in trip.edges.tolist()}
    assert stitched >= set(np.flatnonzero(problem.required).tolist())


@pytest.mark.parametrize("first", range(0, len(PROBLEMS), 40))
def test_she_is_never_told_a_bound_that_a_route_goes_below(first):
    for number in range(first, first + 40):
        assert lower_bound(made_up(number), Effort(5)) <= least(number) * (1 + 1e-9)


@pytest.mark.parametrize("first", range(0, len(PROBLEMS), 40))
def test_what_is_called_the_cheapest_route_is(first):
    for number in range(first, first + 40):
        check(made_up(number), prove(made_up(number), Effort(5)), least(number))


def test_cuts_alone_close_the_gap_of_small_tops():
    """A weaker cut is true, but leaves her with a gap; a better search may need fewer."""
    for number in range(100):
        assert lower_bound(made_up(number), Effort(5)) == pytest.approx(least(number), rel=1e-6)


def test_of_many_lines_too_what_is_called_the_cheapest_route_is():
    for number in LARGE:
        problem = made_up(number, large=True)
        check(problem, prove(problem, Effort(20)), least_of_many(number))


def test_what_cuts_leave_open_is_settled_by_parting_the_search(monkeypatch):
    monkeypatch.setattr(Search, "_cuts", lambda self, x, _: self._finder.pieces(x))
    parted = 0
    for number in range(40):
        problem = made_up(number)
        search = Search(problem)
        search.root(Effort(5))
        assert search.bound <= least(number) * (1 + 1e-9)
        parted += search.trips is None and np.isfinite(search.bound)
        check(problem, prove(problem, Effort(20)), least(number))
        if np.isfinite(least(number)):  # looked for below a price just above it, too
            check(problem, prove(problem, Effort(20), cost=1.01 * least(number)), least(number))
            known = prove(problem, Effort(20), cost=least(number))
            assert known.bound == pytest.approx(least(number), rel=1e-6)
    assert parted > 3


def test_no_cut_leaves_out_the_best_route():
    for number in LARGE:
        problem = made_up(number, large=True)
        trips = prove(problem, Effort(20)).trips
        if trips is None:
            continue
        search = Search(problem)
        search.root(Effort(20))
        counts = counted(search.model, trips)
        assert (search.model.rows @ counts == 0).all()
        for cut in search.program.cuts:
            assert cut.values @ counts[cut.columns] >= cut.floor


def counted(model, trips):
    """Count what runs use, column by column."""
    edge = {number: k for k, number in enumerate(model.edges.tolist())}
    column = {
        pair: k for k, pair in enumerate(zip(model.a.tolist(), model.b.tolist(), strict=True))
    }
    stop = {end: model.first_stop + k for k, end in enumerate(model.stop.tolist())}
    counts = np.zeros(model.columns)
    for trip in trips:
        numbers = [edge[number] for number in trip.edges.tolist()]
        out = [2 * k + (not ahead) for k, ahead in zip(numbers, trip.forward, strict=True)]
        into = [end ^ 1 for end in out]
        counts[[stop[out[0]]]] += 1
        counts[[stop[into[-1]]]] += 1
        for k in numbers:
            counts[model.first_edge + k] += 1
        for pair in zip(into, out[1:], strict=False):
            counts[column[min(pair), max(pair)]] += 1
    return counts


def test_a_route_found_later_that_is_dearer_does_not_take_the_place_of_the_best():
    tried = 0
    for number in range(20):
        trips = prove(problem := made_up(number), Effort(5)).trips
        if trips:
            search = Search(problem)
            counts = counted(search.model, trips).astype(np.int64)
            search._take(counts)  # noqa: SLF001
            search._take(2 * counts)  # noqa: SLF001 - all of it twice over
            assert search.cost == cost_of(problem, search.trips) == pytest.approx(least(number))
            tried += 1
    assert tried > 5


def test_a_route_that_is_known_already_is_proven_without_another():
    for number in range(40):
        problem, best = made_up(number), least(number)
        if np.isfinite(best):
            proved = prove(problem, Effort(5), cost=best)
            assert proved.trips is None
            assert best * (1 - 1e-6) <= proved.bound <= best * (1 + 1e-9)


def test_a_price_below_the_bound_is_told_as_an_error_of_ours():
    problem = made_up(0)
    with pytest.raises(InternalError, match="lies above its cost"):
        prove(problem, Effort(5), cost=0.9 * least(0))


def test_no_effort_gives_a_bound_that_is_true_though_low():
    for number in LARGE:
        problem = made_up(number, large=True)
        assert 0 <= lower_bound(problem, Effort(0.0)) <= least_of_many(number) * (1 + 1e-9)
        assert prove(problem, Effort(0.0)).bound <= least_of_many(number) * (1 + 1e-9)


def test_a_top_without_lines_costs_nothing():
    problem = replace(made_up(0), required=np.zeros_like(made_up(0).required))
    assert lower_bound(problem, Effort(1)) == 0
    assert prove(problem, Effort(1)) == Proved(0.0, [])


def test_where_no_passage_costs_anything_the_proof_is_that_of_the_postman():
    for number in range(60):
        problem = made_up(number, free=True)
        assert problem.passing.free
        plain = Problem(problem.vertices, problem.tail, problem.head, problem.required,
                        problem.again, problem.end)  # fmt: skip
        proved = prove(problem, Effort(5))
        try:
            tour = solve(plain)
        except StitchpathError:
            assert proved.bound == np.inf
            continue
        once = problem.first[problem.required].sum()
        assert tour.optimal
        assert proved.bound == pytest.approx(once + tour.cost, rel=1e-6)
