"""What the linear program is told of a point that is no route, held against networkx."""

import networkx as nx
import numpy as np
import pytest
from routes import LARGE, SMALL, made_up

from stitchpath.route import effort as module
from stitchpath.route.effort import Effort
from stitchpath.route.exact.cuts import BROKEN, Cut, Cutter, Point
from stitchpath.route.exact.deeper_cuts import tree_cuts
from stitchpath.route.exact.linear_program import Relaxation
from stitchpath.route.hub_graph import HubGraph
from stitchpath.route.joining import complete, double_edges, steiner_tree
from stitchpath.route.postman import UnreachableError, hub_graph


def points():
    """Points midway between two routes, with a few lines taken less often than either."""
    rng = np.random.default_rng(8)
    for number in [*LARGE[::2], *SMALL[::8]]:
        try:
            graph, _ = hub_graph(made_up(number))
        except UnreachableError:
            continue
        pairs, cutter = double_edges(graph), Cutter(graph, double_edges(graph))
        may_double = np.isin(np.arange(graph.edges), pairs)
        for _ in range(4):
            single, pair = np.zeros(graph.edges), np.zeros(graph.edges)
            for _ in range(2):
                passes = complete(graph, steiner_tree(graph, graph.price * rng.random(graph.edges)))
                twice = (passes == 2) & may_double
                single += np.where(twice, 0, np.minimum(passes, 1)) / 2
                pair += twice / 2
            less = np.where(rng.random(graph.edges) < 0.1, rng.random(graph.edges), 1.0)
            yield graph, cutter, Point(single * less, pair * less)


def test_what_is_said_against_a_point_is_true_of_it():
    said = 0
    for graph, cutter, point in points():
        x = np.concatenate([point.single, point.pair[double_edges(graph)]])
        for cut in cutter.find_hidden(point):
            assert np.dot(cut.values, x[list(cut.columns)]) < cut.floor
            said += 1
    assert said > 100


@pytest.mark.parametrize(("less", "told"), [(1e-9, 0), (0.01, 1)])
def test_three_pieces_joined_by_all_but_a_rounding_are_told_nothing(less, told):
    """Each two by a way there and back, at two thirds: together as much as two such ways."""
    ends = np.array([0, 1, 0]), np.array([1, 2, 2])
    graph = HubGraph(3, 3, *ends, np.ones(3), np.zeros(3, dtype=bool), np.arange(3))
    cutter = Cutter(graph, double_edges(graph))
    found = tree_cuts(cutter, Point(np.zeros(3), np.full(3, 2 / 3 - less)))
    assert len(found) == told


def fewest_ways_out(graph, point):
    """How few ways, counted by a point's weights, part one piece from another at least."""
    node, web = graph.nodes(), nx.Graph()
    web.add_nodes_from(range(graph.pieces))
    ends = zip(node[graph.tail].tolist(), node[graph.head].tolist(), strict=True)
    for (one, other), way in zip(ends, point.single + 2 * point.pair, strict=True):
        if one != other:
            before = web.get_edge_data(one, other, {"capacity": 0.0})["capacity"]
            web.add_edge(one, other, capacity=before + way)
    cuts = [nx.minimum_cut_value(web, 0, piece) for piece in range(1, graph.pieces)]
    return min(cuts, default=2.0)


def test_no_part_that_hangs_by_less_than_two_ways_is_overlooked():
    loose = 0
    for graph, cutter, point in points():
        if fewest_ways_out(graph, point) < 2 - 2 * BROKEN:
            assert any(cut.floor == 2 for cut in cutter.find_hidden(point))
            loose += 1
    assert loose > 50


def test_a_search_that_has_time_again_goes_on(monkeypatch):
    now = [0.0]
    monkeypatch.setattr(module, "monotonic", lambda: now[0])
    program = Relaxation(np.array([3.0, 2.0, 4.0, 5.0]))
    program.add([Cut((0, 1, 2), (1.0, 1.0, 1.0), 2.0), Cut((1, 3), (1.0, 1.0), 2.0)])
    late = Effort(1.0)
    now[0] = 1e9
    assert not program.solve(late).finished
    assert late.cut_off
    again = program.solve(Effort(1.0))
    assert again.finished
    assert again.value == pytest.approx(3 + 2 + 5)
