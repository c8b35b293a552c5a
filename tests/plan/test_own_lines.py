"""Someone with a notebook and lines of her own can use the router, and what it gives is true."""

import itertools

import geopandas as gpd
import matplotlib as mpl
import networkx as nx
import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import DESIGNS

import stitchpath
from stitchpath.design.model import Prices

mpl.use("agg")

SAIL = shapely.LinearRing([(0, 0), (40, 60), (0, 60)])
BOOM = shapely.LineString([(-10, 60), (50, 60)])


def test_a_crossing_of_her_lines_is_a_place_to_turn_off():
    cross = [[(0, 0), (40, 40)], [(0, 40), (40, 0)]]
    routed = stitchpath.route_lines(cross)
    assert len(routed.lines) == 4
    assert sorted(routed.source) == [0, 0, 1, 1]


def test_every_line_is_stitched_once_and_the_cost_is_what_the_prices_say():
    prices = {"end_inside": 100, "retrace_shown": 3, "travel_seam": 0.25}
    routed = stitchpath.route_lines([BOOM], travel=[SAIL], prices=prices)
    assert [leg.do for run in routed.runs for leg in run.legs].count("stitch") == len(routed.lines)
    assert routed.proof.cost == pytest.approx(60 + 2 * 100)


def test_a_way_that_costs_less_than_two_ends_is_taken():
    two = [[(0, 0), (50, 0)], [(100, 0), (150, 0)]]
    way = [[(50, 0), (100, 0)]]
    assert len(stitchpath.route_lines(two).runs) == 2
    joined = stitchpath.route_lines(two, travel=way)
    assert len(joined.runs) == 1
    assert joined.proof.cost == pytest.approx(100 + 2 * 150 + 0.5 * 50)


def test_an_end_on_the_boundary_costs_what_the_margin_costs():
    square = shapely.box(0, 0, 60, 60)
    line = [[(0, 30), (60, 30)]]
    edge = stitchpath.route_lines(line, boundary=square)
    assert {edge.runs[0].start_where, edge.runs[0].end_where} == {"edge"}
    assert edge.proof.cost == pytest.approx(60 + 2 * 25)
    assert stitchpath.route_lines(line).proof.cost == pytest.approx(60 + 2 * 150)


def test_a_line_that_leads_off_her_mat_is_told_and_not_routed_as_if_it_lay_on_it():
    square, lines = shapely.box(0, 0, 60, 60), [[(0, 30), (60, 30)], [(10, 10), (70, 10)]]
    with pytest.raises(stitchpath.StitchpathError, match=r"^lines\[1\]: found 10 mm of it outside"):
        stitchpath.route_lines(lines, boundary=square)
    assert stitchpath.route_lines(lines, boundary=square, margin=10).proof.optimal


def test_in_a_graph_of_hers_a_line_gone_over_again_and_a_way_cost_what_she_says():
    graph = nx.Graph()
    graph.add_edge("quay", "mole", length=10)
    graph.add_edge("mole", "light", length=10, required=False)
    prices = stitchpath.route_lines(graph).network.again
    assert prices.tolist() == [10 * Prices().retrace_shown, 10 * Prices().travel_seam]
    dear = stitchpath.route_lines(graph, prices={"retrace_shown": 7, "travel_seam": 3})
    assert dear.network.again.tolist() == [70, 30]


def test_a_run_and_its_legs_are_said_in_a_line_not_in_pages_of_points():
    two = [[(0, 0), (50, 0)], [(100, 0), (150, 0)]]
    routed = stitchpath.route_lines(two, travel=[[(50, 0), (100, 0)]])
    assert repr(routed).startswith("<RoutedLines 'lines': 2 lines, 1 run, cost ")
    assert repr(routed.runs[0]) == "<Run 1: 'thread', 3 legs, 150.0 mm>"
    assert [repr(leg) for leg in routed.runs[0].legs[:2]] in (
        ["<Leg: stitch line 0, 50.0 mm>", "<Leg: travel along the seam, 50.0 mm>"],
        ["<Leg: stitch line 1, 50.0 mm>", "<Leg: travel along the seam, 50.0 mm>"],
    )


@pytest.mark.parametrize(
    "lines",
    [
        BOOM,
        [BOOM],
        np.array(BOOM.coords),
        gpd.GeoSeries([BOOM]),
        gpd.GeoDataFrame(geometry=[BOOM]),
        svgpathtools.Path(svgpathtools.Line(-10 + 60j, 50 + 60j)),
        shapely.MultiLineString([BOOM]),
    ],
    ids=lambda lines: type(lines).__name__,
)
def test_lines_come_in_as_she_has_them(lines):
    (run,) = stitchpath.route_lines(lines).runs
    assert sorted(map(tuple, run.legs[0].points.tolist())) == [(-10, 60), (50, 60)]


def test_a_curve_of_a_path_is_flattened_closely():
    """Against svgpathtools: the length of a cubic and of a half circle."""
    wave = svgpathtools.Path(
        svgpathtools.CubicBezier(0, 40 + 80j, 80 - 80j, 120),
        svgpathtools.Arc(120, 50 + 50j, 0, large_arc=True, sweep=True, end=220),
    )
    routed = stitchpath.route_lines(wave)
    length = sum(shapely.LineString(line.points).length for line in routed.lines)
    assert length == pytest.approx(wave.length(), rel=1e-4)


def test_a_run_goes_out_as_one_unbroken_path():
    (run,) = stitchpath.route_lines([SAIL, BOOM]).runs
    path = run.to_svgpathtools()
    assert path.iscontinuous()
    walked = sum(shapely.LineString(leg.points).length for leg in run.legs)
    assert path.length() == pytest.approx(walked)


def test_a_graph_of_networkx_is_routed_as_it_is():
    """The postman of the bridges of Koenigsberg (Euler 1736) walks two of them twice, or one of
    them and is let in and out: four odd places, here with ends that cost nothing beyond 1."""
    bridges = nx.MultiGraph([("N", "K"), ("N", "K"), ("S", "K"), ("S", "K")])
    bridges.add_edges_from([("N", "O"), ("K", "O"), ("S", "O")])
    nx.set_edge_attributes(bridges, 1.0, "length")
    nx.set_edge_attributes(bridges, 1.0, "again")
    nx.set_node_attributes(bridges, 1e3, "end")
    routed = stitchpath.route_lines(bridges)
    assert routed.proof.optimal
    assert routed.proof.cost == pytest.approx(7 + 1 + 2 * 1e3)
    assert set(routed.nodes) == set("NKSO")


def test_the_graph_that_was_routed_goes_out_and_comes_back():
    routed = stitchpath.route_lines([SAIL, BOOM], travel=[[(40, 60), (40, 0)]])
    graph = routed.network_to_networkx()
    again, _ = stitchpath.network_from_networkx(graph)
    net = routed.network

    def told(n):
        return sorted(zip(n.length.tolist(), n.required.tolist(), n.again.tolist(), strict=True))

    assert told(again) == told(net)
    assert np.allclose(again.end, net.end)
    once = stitchpath.route_lines(graph)
    assert once.proof.cost == pytest.approx(routed.proof.cost)


def test_what_is_only_a_way_for_networkx_is_no_line_to_stitch():
    quay = nx.Graph()
    quay.add_edge("light", "mole", length=80)
    quay.add_edge("mole", "market", length=70, required=False)
    quay.add_edge("market", "light", length=60)
    net, _ = stitchpath.network_from_networkx(quay)
    at = {tuple(sorted((a, b))): k for k, (a, b) in enumerate(zip(net.tail, net.head, strict=True))}
    lines = [int(net.line[at[pair]]) for pair in ((0, 1), (1, 2), (0, 2))]
    assert lines[1] == -1
    assert sorted([lines[0], lines[2]]) == [0, 1]
    assert [net.along[at[pair]] for pair in ((0, 1), (1, 2), (0, 2))] == [None, "seam", None]
    assert net.stage == 1  # stages are counted from 1


def test_of_nodes_without_a_place_the_first_is_named():
    quay = nx.path_graph(3)
    nx.set_edge_attributes(quay, 10.0, "length")
    quay.nodes[0]["pos"] = (0, 0)
    with pytest.raises(stitchpath.StitchpathError, match="node '1' has no place"):
        stitchpath.network_from_networkx(quay)


def test_the_runs_go_out_as_a_walk_that_networkx_can_follow():
    routed = stitchpath.route_lines([SAIL, BOOM])
    walk = routed.to_networkx()
    edges = sorted(walk.edges(keys=True), key=lambda edge: edge[2])
    for (_, head, _), (tail, _, _) in itertools.pairwise(edges):
        assert head == tail
    stitched = [d["length"] for *_, d in walk.edges(data=True) if d["do"] == "stitch"]
    assert sum(stitched) == pytest.approx(SAIL.length + 20)


def test_the_legs_go_out_as_a_table_of_shapes():
    table = stitchpath.route_lines([SAIL, BOOM]).to_geodataframe()
    assert np.allclose(table.length, table.geometry.length)
    assert set(table["do"]) <= {"stitch", "retrace", "travel"}


def test_a_notebook_shows_a_picture_and_one_line_of_words():
    routed = stitchpath.route_lines([SAIL, BOOM], name='boats & <"waves">')
    assert "\n" not in repr(routed)
    assert len(repr(routed)) < 120
    import defusedxml.ElementTree as ET  # noqa: N817, PLC0415

    root = ET.fromstring(routed._repr_svg_())
    assert root.find("{*}title").text == 'boats & <"waves">'
    assert "RoutedLines &#x27;boats &amp; &lt;" in routed._repr_html_()
    figure, axes = routed.plot()
    assert axes.yaxis_inverted()
    assert routed.plot(axes)[0] is figure


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: stitchpath.route_lines([]), "nothing to stitch"),
        (lambda: stitchpath.route_lines([[(0, 0), (float("nan"), 1)]]), r"lines\[0\]"),
        (lambda: stitchpath.route_lines([shapely.Point(1, 1)]), "found a Point"),
        (lambda: stitchpath.route_lines([[(0, 0, 0), (1, 1, 1)]]), r"shape \(2, 3\)"),
        (lambda: stitchpath.route_lines(3), "found 3"),
        (lambda: stitchpath.route_lines(BOOM, prices={"end_inside": -1}), "end_inside: found -1"),
        (lambda: stitchpath.route_lines(BOOM, prices={"ends": 1}), "unknown price 'ends'"),
        (lambda: stitchpath.route_lines(BOOM, time_limit=-1), "time_limit: found -1"),
        (lambda: stitchpath.route_lines(nx.DiGraph([(1, 2)])), "directed"),
        (lambda: stitchpath.route_lines(nx.Graph([(1, 2)])), "no length"),
    ],
)
def test_what_cannot_be_routed_is_said_in_one_sentence(call, said):
    with pytest.raises(stitchpath.StitchpathError, match=said) as caught:
        call()
    assert "\n" not in str(caught.value)


points = st.tuples(st.integers(0, 8), st.integers(0, 8))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(points, min_size=2, max_size=4), min_size=1, max_size=5))
def test_no_line_is_lost_or_stitched_twice_whatever_she_draws(drawn):
    shapes = [shapely.LineString(np.array(line) * 10.0) for line in drawn]
    wanted = shapely.unary_union([s for s in shapes if s.length > 0])
    if wanted.is_empty:
        return
    routed = stitchpath.route_lines(shapes)
    stitched = [leg.line for run in routed.runs for leg in run.legs if leg.do == "stitch"]
    assert sorted(stitched) == list(range(len(routed.lines)))
    length = sum(shapely.LineString(line.points).length for line in routed.lines)
    assert length == pytest.approx(wanted.length, abs=0.01)
    assert routed.proof.lower_bound <= routed.proof.cost * (1 + 1e-9)


def test_a_saved_plan_is_read_back_as_it_was(tmp_path):
    plan = stitchpath.make_plan(stitchpath.load_design(DESIGNS / "harbour-runner.toml"))
    stitchpath.save_plan(plan, tmp_path)
    saved = stitchpath.load_plan(tmp_path)  # the folder, as `save_plan` was given it
    assert (saved.name, len(saved.lines), len(saved.runs)) == (
        plan.name,
        len(plan.lines),
        len(plan.runs),
    )
    for ours, theirs in zip(plan.runs, saved.runs, strict=True):
        assert [leg.do for leg in ours.legs] == [leg.do for leg in theirs.legs]
        for a, b in zip(ours.legs, theirs.legs, strict=True):
            assert np.abs(a.points - b.points).max() < 1e-3
    assert saved.to_networkx().size(weight="length") == pytest.approx(
        plan.to_networkx().size(weight="length"), rel=1e-6
    )
    for thing in (plan, plan.top, plan.lines[0], plan.design):
        assert len(str(thing)) == len(repr(thing)) < 120


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{}", "no format"),
        ('{"format": "2"}', "the format '2'"),
        ("what", "no JSON"),
        ('{"format": "stitchpath-plan/1"}', "'lines'"),
    ],
)
def test_a_file_that_is_no_plan_is_told(tmp_path, text, said):
    file = tmp_path / "a.plan.json"
    file.write_text(text)
    with pytest.raises(stitchpath.StitchpathError, match=said):
        stitchpath.load_plan(file)


def test_a_plan_that_is_not_there_is_a_missing_file(tmp_path):
    with pytest.raises(stitchpath.MissingFileError):
        stitchpath.load_plan(tmp_path / "none.plan.json")
    with pytest.raises(stitchpath.MissingFileError, match="a folder with none, expected one"):
        stitchpath.load_plan(tmp_path)
    for name in ("a", "b"):
        (tmp_path / f"{name}.plan.json").write_text("{}")
    with pytest.raises(stitchpath.MissingFileError, match=r"with a\.plan\.json, b\.plan\.json"):
        stitchpath.load_plan(tmp_path)


def test_each_kind_of_error_can_be_told_apart_by_a_program():
    for kind in ("UnknownNameError", "MissingFileError", "GeometryError"):
        assert issubclass(getattr(stitchpath, kind), stitchpath.StitchpathError)


def test_the_version_is_that_of_the_package():
    assert stitchpath.__version__.count(".") == 2


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("boom", r"^lines: found 'boom', expected a list of lines$"),
        (5, r"^lines: found 5, expected a list of lines$"),
        (["boom"], r"^lines\[0\]: found 'boom', expected points"),
        ([[(0, 0), (9, 9)], [(0, 0), (1,)]], r"^lines\[1\]: found .*, expected points"),
        ([svgpathtools.Path()], r"^lines: found nothing to stitch"),
    ],
)
def test_what_is_no_line_is_refused_in_a_sentence(given, said):
    with pytest.raises(stitchpath.StitchpathError, match=said):
        stitchpath.route_lines(given)


@pytest.mark.parametrize("wrong", [{"prices": [1]}, {"boundary": "mat"}])
def test_what_goes_with_the_lines_is_refused_in_a_sentence(wrong):
    with pytest.raises(
        stitchpath.StitchpathError, match=rf"^{next(iter(wrong))}: found .*, expected"
    ):
        stitchpath.route_lines([[(0, 0), (9, 9)]], **wrong)
