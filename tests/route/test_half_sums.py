"""Cuts made of halves, held against every tour there is of small problems."""

from itertools import product

import numpy as np
import pytest
from routes import LARGE, known_optima, made_up

from stitchpath.geometry.groups import groups
from stitchpath.route.effort import Effort
from stitchpath.route.exact import half_sums as module
from stitchpath.route.exact.branch import Search
from stitchpath.route.exact.cuts import Cut, Cutter, Point
from stitchpath.route.exact.half_sums import HalfSums
from stitchpath.route.exact.shrink import reduce
from stitchpath.route.hub_graph import HubGraph
from stitchpath.route.joining import complete, double_edges, steiner_tree
from stitchpath.route.postman import hub_graph


def ring(pieces, *, odd=()):
    """Islands of two points each round a ring, with two ways from each to the next."""
    n = 2 * pieces
    ends = [(v, (v + 2) % n) for v in range(n)] + [(v, v + 1) for v in range(0, n, 2)]
    tail, head = np.sort(np.array(ends), axis=1).T
    return HubGraph(n, n, tail, head, np.ones(len(tail)), np.isin(np.arange(n), odd),
                    np.arange(n) // 2)  # fmt: skip


def tours(graph, pairs):
    """Give every choice of single and double passes that is even everywhere and hangs together."""
    edges, node = graph.edges, graph.nodes()
    meet = np.zeros((graph.vertices, edges), dtype=int)
    for ends in (graph.tail, graph.head):
        np.add.at(meet, (ends, np.arange(edges)), 1)
    single = np.array(list(product((0, 1), repeat=edges)))
    single = single[np.all((single @ meet.T + graph.odd) % 2 == 0, axis=1)]
    for x in single:
        for y in product((0, 1), repeat=len(pairs)):
            used = x > 0
            used[pairs] |= np.array(y) > 0
            part = groups(graph.pieces, node[graph.tail[used]], node[graph.head[used]])
            if not part.any():
                yield np.concatenate([x, y])


@pytest.mark.parametrize("odd", [(), (0, 1), (0, 1, 4, 5)])
def test_no_sum_of_halves_leaves_out_a_route_that_can_be_stitched(odd):
    graph = ring(3, odd=odd)
    pairs = double_edges(graph)
    columns = graph.edges + len(pairs)
    every = np.array(list(tours(graph, pairs)))
    assert len(every) >= 50
    cutter, chance, found, met = Cutter(graph, pairs), np.random.default_rng(0), 0, 0
    halves = HalfSums(cutter, columns)
    for _ in range(60):
        x = chance.choice([0, 0.25, 0.5, 0.75, 1], columns)
        pair = np.zeros(graph.edges)
        pair[pairs] = x[graph.edges :]
        cuts = [*cutter.first_cuts(), *cutter.find(Point(x[: graph.edges], pair))]
        for _ in range(2):  # the second time sums of sums as well
            more = halves.find(x, cuts)
            for cut in more:
                held = every[:, list(cut.columns)] @ np.array(cut.values)
                assert np.all(held >= cut.floor)
                met += bool(np.any(held == cut.floor))
                assert x[list(cut.columns)] @ np.array(cut.values) < cut.floor
            cuts += more
            found += len(more)
    assert found >= 50
    assert met >= 0.5 * found  # and half of them cut as deep as can be


def test_half_of_each_of_two_ways_round_is_no_fault_and_cuts_that_cannot_be_halved_are_left():
    graph = ring(3)
    cutter = Cutter(graph, np.zeros(0, dtype=np.int64))
    halves, x = HalfSums(cutter, graph.edges), np.zeros(graph.edges)
    x[: 2 * 3] = 0.5
    assert not halves.find(x, cutter.first_cuts())  # half of one way round and half of the other
    for other in (Cut((0,), (0.5,), 0.5), Cut((), (), 0.0), Cut((0, 99), (1.0, 1.0), 1.0)):
        assert halves.find(x, [*cutter.first_cuts(), other]) == []


def test_a_quilt_with_very_many_ways_is_not_held_up_by_a_table_too_large(monkeypatch):
    graph = ring(3, odd=(0, 1))
    cutter = Cutter(graph, np.zeros(0, dtype=np.int64))
    points = np.random.default_rng(0).choice([0, 0.25, 0.5, 0.75, 1], (20, graph.edges))
    for largest, seen in ((graph.edges, True), (graph.edges - 1, False)):
        monkeypatch.setattr(module, "LARGEST", largest)
        halves = HalfSums(cutter, graph.edges)
        assert any(halves.find(x, cutter.first_cuts()) for x in points) == seen


def root_bound(graph, halves):
    """Bound at the root, with or without sums of halves."""
    tree = steiner_tree(graph, graph.price)
    search = Search(graph, complete(graph, tree), 0.0)
    if not halves:
        search._half_sums.find = lambda *_: []  # noqa: SLF001
    search.root(Effort(10))
    return search.bound


def test_sums_of_halves_lift_the_bound_where_nothing_else_does():
    lifted = 0
    for number in LARGE:
        best = known_optima()[number]
        if np.isfinite(best):
            graph = reduce(hub_graph(made_up(number))[0]).graph
            bound = root_bound(graph, halves=True)
            assert bound <= best * (1 + 1e-6) + 1e-6
            lifted += bound > root_bound(graph, halves=False) * (1 + 1e-4)
    assert lifted >= 1


def test_cutting_once_more_at_the_root_never_lowers_a_bound_nor_claims_too_much():
    for number in LARGE[:12]:
        best = known_optima()[number]
        if np.isfinite(best):
            graph = reduce(hub_graph(made_up(number))[0]).graph
            search = Search(graph, complete(graph, steiner_tree(graph, graph.price)), 0.0)
            search.root(Effort(0.05))  # cut short
            before = search.bound
            search.deepen(Effort(10))
            search.branch(Effort(10))
            search.vouch()
            assert before <= search.bound <= best * (1 + 1e-6) + 1e-6


def test_points_where_nothing_is_stitched_are_folded_away_while_that_leaves_no_more_ways():
    before = left = 0
    for number in LARGE:
        graph = hub_graph(made_up(number))[0]
        before += np.count_nonzero(graph.piece < 0)
        small = reduce(graph).graph
        assert small.edges <= graph.edges
        met = np.unique(np.concatenate([small.tail, small.head]))
        left += np.count_nonzero(small.piece[met] < 0)
    assert before >= 200
    assert left <= 9  # it was so when last looked at; fewer are better
