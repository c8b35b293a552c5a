"""A search ends where its counted work says: what it counts, and what it does not try at all."""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.sparse import csr_array
from test_tours import grid

from stitchpath.base.errors import InternalError
from stitchpath.route.effort import Effort
from stitchpath.route.exact import branch, shrink
from stitchpath.route.exact.branch import ENOUGH, ROUNDING, Search
from stitchpath.route.exact.cuts import Cut, Point
from stitchpath.route.joining import complete, double_edges, steiner_tree
from stitchpath.route.passages import halves
from stitchpath.route.passages.finding import MOST_ENDS, Finder
from stitchpath.route.passages.program import Program
from stitchpath.route.passages.solve import _Search
from stitchpath.route.postman import Problem, UnreachableError, hub_graph


class Counted(Effort):
    """An allowance that knows what was spent of it."""

    spent = 0.0

    def spend(self, seconds):
        self.spent += seconds
        super().spend(seconds)


def search_of(problem):
    graph, _ = hub_graph(problem)
    return Search(graph, complete(graph, steiner_tree(graph, graph.price)), 0.0)


def test_work_counts_the_more_the_larger_the_top_so_that_a_large_one_ends_in_time():
    spent = []
    for side in (4, 8):
        search, effort = search_of(grid(1, side, side, whole_squares=True)), Counted(1e9)
        x = np.zeros(len(search.graph.price) + len(double_edges(search.graph)))
        search._half_sums.find = lambda *_: []  # noqa: SLF001 - of the counting alone
        search._more_cuts(x, effort, hard=True, deep=True)  # noqa: SLF001
        spent.append(effort.spent / search.graph.edges)
    assert spent[0] == pytest.approx(spent[1])
    assert spent[0] >= branch.DEEP


def test_a_linear_program_counts_more_work_the_larger_it_is_and_the_more_it_pivots():
    def work(columns, pivots):
        program = SimpleNamespace(columns=columns, _held=0, cuts=[])
        return Program._work(program, pivots)  # noqa: SLF001

    assert work(2000, 0) == pytest.approx(2 * work(1000, 0))
    assert all(a < b for a, b in pairwise(work(1000, pivots) for pivots in (0, 1, 10)))
    assert work(2000, 10) > work(1000, 10)


@pytest.mark.parametrize("found", [ENOUGH - 1, ENOUGH])
def test_slower_cuts_are_looked_for_only_where_the_quick_ones_are_few(found, monkeypatch):
    search, asked = search_of(grid(1, 4, 4, whole_squares=True)), []
    x = np.zeros(len(search.graph.price) + len(double_edges(search.graph)))
    cut = Cut((0,), (1.0,), 1.0)
    monkeypatch.setattr(search._half_sums, "find", lambda *_: [cut] * found)  # noqa: SLF001
    monkeypatch.setattr(search._cutter, "find_hidden", lambda _: asked.append(1) or [])  # noqa: SLF001
    search._more_cuts(x, Effort(1), hard=True, deep=True)  # noqa: SLF001
    assert bool(asked) == (found < 20)


@pytest.mark.parametrize(
    ("bounds", "stalled"),
    [
        ([10, 20, 30, 40, 50, 60], False),
        ([0, 40, 50, 50, 50, 50, 50.2], False),  # over five rounds it has come far
        ([0, 50, 50, 50, 50, 50, 50.55], False),
        ([0, 50, 50, 50, 50, 50, 50.45], True),  # less than a hundredth of what is still open
        ([50, 50, 50, 50, 50], False),  # too few rounds to tell
    ],
)
def test_cutting_goes_on_while_five_rounds_bring_a_hundredth_of_the_gap(bounds, stalled):
    search = search_of(grid(1, 4, 4, whole_squares=True))
    search.price = 100.0
    assert search._stalled(bounds) == stalled  # noqa: SLF001


def test_a_tour_made_at_random_takes_what_the_program_takes_for_a_fiftieth(monkeypatch):
    search, asked = search_of(grid(1, 4, 4, whole_squares=True)), []
    some = search.graph.edges
    found = branch.steiner_tree(search.graph, search.graph.price)
    monkeypatch.setattr(branch, "steiner_tree", lambda _, price: asked.append(price) or found)
    for single in (np.zeros(some), np.ones(some)):
        search._round(Point(single, np.zeros(some)), Effort(1))  # noqa: SLF001
    dear, cheap = asked
    assert np.allclose(cheap / dear, 0.02 / 1.02)


def test_a_bound_above_a_route_by_more_than_rounding_is_told():
    search = search_of(grid(1, 4, 4, whole_squares=True))
    search.passes = np.zeros_like(search.passes)  # a route that costs nothing
    search._raise(0.5 * ROUNDING)  # noqa: SLF001 - a bound so little above is rounding
    with pytest.raises(InternalError, match="lies above the price"):
        search._raise(1.5 * ROUNDING)  # noqa: SLF001


def test_of_lines_that_no_start_leads_to_the_first_is_named():
    tail, head = np.array([0, 2, 4]), np.array([1, 3, 5])
    problem = Problem(6, tail, head, np.ones(3, dtype=bool), np.ones(3), None)
    with pytest.raises(UnreachableError) as refused:
        hub_graph(problem)
    assert refused.value.edge == 1


def test_a_point_where_nothing_is_stitched_goes_whatever_lies_beside_it():
    """Two pieces, and a bare point between them."""
    web = SimpleNamespace(near=[{1: 0}, {0: 0, 2: 1}, {1: 1}], hub=3)
    assert shrink._quiet(web, 1, [0, -1, 1], [False, True, False])  # noqa: SLF001
    assert not shrink._quiet(web, 0, [0, -1, 1], [False, True, False])  # noqa: SLF001


@pytest.mark.parametrize(("ends", "tried"), [(9, True), (10, False)])
def test_of_a_crossing_of_few_lines_every_set_of_ends_is_tried(ends, tried):
    assert (ends <= MOST_ENDS) == tried
    fan = SimpleNamespace(ends=np.zeros((1, ends), dtype=np.int64))
    finder = Finder(SimpleNamespace(edges=[], fans=[fan]))
    assert (ends in finder._sets) == tried  # noqa: SLF001


def test_two_rows_whose_columns_cancel_are_a_sum_of_halves():
    rows = csr_array(np.array([[1.0, 1.0], [1.0, 1.0], [0.0, 1.0]]))
    found = halves._odd_sums(rows, np.array([1.0, 0.0, 0.0]), np.array([0.5, 0.6]))  # noqa: SLF001
    assert [0, 1] in [rows.tolist() for rows in found]


def test_what_may_be_stitched_at_any_time_goes_halfway_to_what_is_beside_it():
    phase, loose = np.array([0, 1, 0, 2]), np.array([True, False, True, False])

    def beside(order, free=loose):
        come_to = lambda _: (np.array(order), None)  # noqa: E731
        return _Search._beside(SimpleNamespace(_come_to=come_to), [], phase, free)  # noqa: SLF001

    assert beside([0, 1, 2, 3]).tolist() == [0.5, 1.0, 1.5, 2.0]
    assert beside([1, 3, 0, 2]).tolist() == [2.5, 1.0, 2.5, 2.0]
    everything = np.ones(4, dtype=bool)
    assert beside([0, 2], everything).tolist() == phase.tolist()
