"""The bound of a route whose passages cost something, held against trying everything."""

from functools import cache

import numpy as np
import pytest
from passages import cheapest, made_up

from stitchpath.errors import StitchpathError
from stitchpath.route.effort import Effort
from stitchpath.route.passages.bound import lower_bound, prove
from stitchpath.route.passages.problem import cost_of
from stitchpath.route.postman import Problem, solve

PROBLEMS = range(320)


@cache
def least(number):
    return cheapest(made_up(number))


@pytest.mark.parametrize("first", range(0, len(PROBLEMS), 40))
def test_she_is_never_told_a_bound_that_a_route_goes_below(first):
    for number in range(first, first + 40):
        assert lower_bound(made_up(number), Effort(5)) <= least(number) * (1 + 1e-9)


@pytest.mark.parametrize("first", range(0, len(PROBLEMS), 40))
def test_what_is_called_the_cheapest_route_is(first):
    for number in range(first, first + 40):
        problem, best = made_up(number), least(number)
        proved = prove(problem, Effort(5))
        assert proved.bound == pytest.approx(best, rel=1e-6)
        if np.isfinite(best):
            assert cost_of(problem, proved.trips) == pytest.approx(best, rel=1e-9)
            stitched = {edge for trip in proved.trips for edge in trip.edges.tolist()}
            assert stitched >= set(np.flatnonzero(problem.required).tolist())
        else:
            assert proved.trips is None


def test_a_route_that_is_known_already_is_proven_without_another():
    for number in range(40):
        problem, best = made_up(number), least(number)
        if np.isfinite(best):
            proved = prove(problem, Effort(5), cost=best)
            assert proved.trips is None
            assert best * (1 - 1e-6) <= proved.bound <= best * (1 + 1e-9)


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
