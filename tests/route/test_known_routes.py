"""The router against results known outside: Euler, street grids, a general library."""

from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from stitchpath.route.postman import Problem, solve
from stitchpath.route.tjoin import t_join


def closed(edges, required=None, price=None):
    """Make a problem of one closed tour without ends; every edge required unless said."""
    tail, head = np.array([e[:2] for e in edges], dtype=np.int64).T
    required = np.ones(len(tail), dtype=bool) if required is None else np.array(required)
    price = np.ones(len(tail)) if price is None else np.array(price, dtype=float)
    return Problem(int(max(tail.max(), head.max())) + 1, tail, head, required, price, None)


def test_the_seven_bridges_take_two_runs_when_nothing_is_gone_over_twice():
    # Euler 1736: four places of odd degree, so no single walk; two walks do it.
    edges = [(0, 1), (0, 1), (0, 2), (0, 2), (0, 3), (1, 3), (2, 3)]
    tail, head = np.array(edges, dtype=np.int64).T
    problem = Problem(4, tail, head, np.ones(7, bool), np.full(7, np.inf), np.ones(4))
    tour = solve(problem)
    assert tour.ends.sum() == 4
    assert tour.extra.sum() == 0
    assert tour.optimal


def test_one_line_that_nothing_may_end_at_is_gone_there_and_back():
    assert solve(closed([(0, 1)])).extra.tolist() == [1]


@pytest.mark.parametrize(("r", "c"), [(1, 1), (3, 5), (2, 4), (3, 4), (5, 2), (7, 7)])
def test_a_patchwork_is_gone_round_with_as_few_doubled_lines_as_street_grids(r, c):
    # r + c - 2 where both are odd, else r + c: the eulerising of street grids in COMAP, For All
    # Practical Purposes (from memory).
    grid = nx.convert_node_labels_to_integers(nx.grid_2d_graph(r + 1, c + 1), ordering="sorted")
    tour = solve(closed(list(grid.edges)))
    assert tour.extra.sum() == (r + c - 2 if r % 2 and c % 2 else r + c)
    assert tour.optimal


def test_a_ring_with_chords_doubles_eight_lines_and_not_ten():
    # networkx issue 5952: a cycle of 18 with a short and a long way added. networkx.eulerize, as
    # reported there, doubled 10; networkx 3.6.1 doubles 8.
    graph = nx.cycle_graph(18)
    graph.add_edges_from([(0, 18), (18, 19), (17, 19), (4, 20), (28, 13)])
    graph.add_edges_from((k, k + 1) for k in range(20, 28))
    tour = solve(closed(list(graph.edges)))
    assert tour.extra.sum() == 8
    assert nx.eulerize(graph).number_of_edges() - graph.number_of_edges() in (8, 10)


@pytest.mark.parametrize("seed", range(50))
def test_doubling_costs_what_an_exact_matching_of_shortest_ways_costs(seed):
    # Dijkstra and networkx.min_weight_matching (Edmonds), sharing no code with the router.
    graph = nx.gnm_random_graph(14, 24, seed=seed)
    rng = np.random.default_rng(seed)
    graph = nx.convert_node_labels_to_integers(
        graph.subgraph(max(nx.connected_components(graph), key=len))
    )
    weights = dict(zip(graph.edges, rng.integers(1, 50, graph.number_of_edges()), strict=True))
    nx.set_edge_attributes(graph, {e: int(w) for e, w in weights.items()}, "weight")
    odd = [v for v, d in graph.degree if d % 2]
    ways = nx.Graph()
    length = dict(nx.all_pairs_dijkstra_path_length(graph))
    ways.add_weighted_edges_from((a, b, length[a][b]) for a, b in combinations(odd, 2))
    wanted = sum(length[a][b] for a, b in nx.min_weight_matching(ways))
    tail, head = np.array(graph.edges, dtype=np.int64).T
    is_odd = np.isin(np.arange(graph.number_of_nodes()), odd)
    price = np.array([weights[e] for e in graph.edges], dtype=float)
    join = t_join(graph.number_of_nodes(), tail, head, price, is_odd)
    assert price[join.chosen].sum() == pytest.approx(wanted)
    assert join.bound == pytest.approx(wanted, rel=1e-6)
    assert solve(closed(list(graph.edges), price=price)).cost == pytest.approx(wanted)


@pytest.mark.parametrize("seed", range(12))
def test_pieces_that_do_not_hang_together_are_joined_at_the_least_price(seed):
    # Every choice of once or twice over each edge, tried one by one.
    rng = np.random.default_rng(seed)
    graph = nx.cycle_graph(6)
    graph.add_edges_from([(0, 3), (1, 4)])
    edges = list(graph.edges)
    required = np.isin(np.arange(len(edges)), rng.choice(len(edges), 3, replace=False))
    price = rng.integers(1, 20, len(edges)).astype(float)
    best = np.inf
    for code in range(3 ** len(edges)):
        extra = np.array([code // 3**k % 3 for k in range(len(edges))])
        cost = float(price @ extra)
        if cost >= best:
            continue
        walk = nx.MultiGraph()
        for e, n, must in zip(edges, extra, required, strict=True):
            walk.add_edges_from([e] * int(n + must))
        if all(d % 2 == 0 for _, d in walk.degree) and nx.is_connected(walk):
            best = cost
    tour = solve(closed(edges, required, price))
    assert tour.cost == pytest.approx(best)
    assert tour.optimal
