"""From lines to graphs: what is cut where, what it costs to go over it, and where runs may end."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from quilts import SQUARES, STARFISH, design

from stitchpath.design.model import Prices
from stitchpath.lines.collect import collect_lines
from stitchpath.lines.ditch import seam_bits
from stitchpath.lines.frame.windows import Window
from stitchpath.lines.line import Line
from stitchpath.network.graph import Terms, _Edges, build_network, build_networks
from stitchpath.network.noding import node_lines
from stitchpath.network.parting import part_by_windows, window_of
from stitchpath.top.build import build_top
from stitchpath.top.place import Subject

FOUR = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2"]\nrepeat = 3')
SOME = '[lines]\nditch = "feature"\nfeature = ["coral"]\n'
MIXED = FOUR.replace("['sand sea', 'sea sand']", "['sand coral', 'sea sand']") + SOME
CHARGED = (
    "[prices]\nend_inside = 111\nend_margin = 13\ntravel_seam = 0.3\ntravel_margin = 0.7\n"
    "retrace_ditch = 0.9\nretrace_shown = 3\nend_piece = 444\n"
)


def networks(text):
    made = design(text)
    top = build_top(made)
    bits = seam_bits(top)
    lines, ways = node_lines(collect_lines(made, top, bits).lines, bits)
    return build_networks(made, top, lines, ways), lines, top


def drawn(*points, thread="grey", stage=1, kind="drawn", seam=-1):
    return Line(kind, stage, thread, np.array(points, dtype=float), Subject(seam=seam))


def cut(*lines, windows=()):
    """Ends of what lines are cut into, each the way it came, as given order keeps them."""
    return [
        (tuple(line.points[0]), tuple(line.points[-1]))
        for line in node_lines(list(lines), [], windows)[0]
    ]


def two_windows(level, both=0.0):
    """Two that hand on at a level and show so much of each other."""
    return [Window(-1e3, level + both, level), Window(level - both, 1e3, 1e3)]


# ---- prices and ends ----


def test_every_edge_costs_what_its_kind_costs_times_its_length():
    text = STARFISH.replace('ditch = "none"', 'ditch = "all"').replace("sand sand", "sand coral")
    (ditch, star), lines, _ = networks(
        text.replace('fabric = "coral"', 'fabric = "sand"') + CHARGED
    )
    for net in (ditch, star):
        length = [shapely.LineString(path).length for path in net.paths]
        assert net.length == pytest.approx(np.array(length))
        each = {"ditch": 0.9, "centre": 3, "seam": 0.3, "margin": 0.7}
        kinds = [lines[i].kind if i >= 0 else a for i, a in zip(net.line, net.along, strict=True)]
        assert net.again == pytest.approx(net.length * [each[kind] for kind in kinds])
        assert net.required.tolist() == (net.line >= 0).tolist()
        ends = {"inside": 444 if net is star else 111, "edge": 111, "margin": 13}
        assert net.end == pytest.approx(np.array([ends[where] for where in net.where]))


@pytest.mark.parametrize(
    ("asked", "forbidden"),
    [("never", {"ditch", "centre"}), ("ditch", {"centre"}), ("allowed", set())],
)
def test_what_may_not_be_gone_over_again_has_no_price(asked, forbidden):
    text = STARFISH.replace('ditch = "none"', 'ditch = "all"').replace("sand sand", "sand coral")
    nets, lines, _ = networks(f'{text}[route]\nretrace = "{asked}"\n')
    closed = {
        lines[i].kind if i >= 0 else "way"
        for net in nets
        for i, price in zip(net.line, net.again, strict=True)
        if np.isinf(price)
    }
    assert closed == forbidden


@pytest.mark.parametrize("margin", ["0", "2 in"])
def test_ends_in_the_margin_are_cheap_and_with_no_margin_those_at_the_edge(margin):
    (net,), _, top = networks(FOUR + f"[batting]\nmargin = {margin!r}\n" + CHARGED)
    for point, where, end in zip(net.points, net.where, net.end, strict=True):
        at = shapely.Point(point)
        on_edge = top.outline.exterior.distance(at) < 0.002
        inside = top.outline.contains(at) and not on_edge
        assert where == ("edge" if on_edge else "inside" if inside else "margin")
        cheap = where == "margin" or (where == "edge" and margin == "0")
        assert end == (13 if cheap else 111)
    assert set(net.where) == ({"edge", "inside"} if margin == "0" else {"edge", "inside", "margin"})


@pytest.mark.parametrize(("beyond", "where"), [(0.0, "edge"), (0.001, "edge"), (0.002, "margin")])
def test_a_line_a_rounding_beyond_the_edge_ends_on_it(beyond, where):
    edge = 267.666
    line = drawn((10, 20), (edge + beyond, 20))
    terms = Terms(Prices(), "allowed", 50.8)
    net = build_network((1, "grey"), [line], [0], [], shapely.box(0, 0, edge, edge), terms)
    at = int(np.argmin(np.hypot(*(net.points - line.points[-1]).T)))
    assert net.where[at] == where


def test_every_line_that_reaches_the_edge_has_a_way_out_and_a_way_round():
    (net,), _, top = networks(FOUR)
    doors = {tuple(p) for p, w in zip(net.points, net.where, strict=True) if w == "edge"}
    assert len(doors) == 2 * 3 + 2 * 5
    margin = [k for k, along in enumerate(net.along) if along == "margin"]
    spokes = [k for k in margin if net.where[net.tail[k]] != net.where[net.head[k]]]
    assert len(spokes) == len(doors)
    assert net.length[spokes] == pytest.approx(np.full(16, 12.7))
    ring = sum(net.length[k] for k in margin if k not in spokes)
    assert ring == pytest.approx(2 * (304.8 + 457.2) + 8 * 12.7)
    met = [int(end[k]) for k in margin if k not in spokes for end in (net.tail, net.head)]
    assert all(met.count(outer) == 2 for outer in set(met))  # from each way out to both sides
    assert len(set(met)) == len(doors)
    assert not np.any(net.tail[margin] == net.head[margin])
    for k in margin:
        assert shapely.LineString(net.paths[k]).intersection(top.outline.buffer(-0.01)).length == 0


def test_with_no_margin_the_way_round_is_the_edge():
    (net,), _, _ = networks(FOUR + "[batting]\nmargin = 0\n")
    assert sum(net.length[k] for k, a in enumerate(net.along) if a == "edge") == pytest.approx(
        2 * (304.8 + 457.2)
    )
    assert "margin" not in net.along


# ---- travel along seams ----


def travels(text):
    return {net.thread: "seam" in net.along for net in networks(text)[0]}


def test_nothing_hops_down_seams_that_no_one_stitches_unless_asked():
    rows = '[[fills]]\nregion = "rest"\nspacing = 2\nstyle = "waves"\n[threads.grey]\n'
    text = FOUR + rows
    bare = '[lines]\nditch = "none"\n'
    assert travels(text + '[lines]\nditch = "blocks"\n')["grey"] is True
    assert travels(text + bare)["grey"] is False
    assert travels(text + "travel = true\n" + bare)["grey"] is True


def test_thread_travels_along_seams_not_stitched_unless_it_shows_or_comes_later():
    star = STARFISH[STARFISH.index("[[applique]]") : STARFISH.index("[lines]")].replace("7", "3")
    star = star.replace('on = "A1"', 'on = "A1"\nfused = "{}"')
    red = '[threads.coral]\ncolour = "#8e3320"\n'
    before, after = (MIXED + star.format(when) + red for when in ("before", "after"))
    assert travels(MIXED) == {next(iter(travels(MIXED))): True}
    assert travels(before)["coral"] is True
    assert travels(before + "contrast = true\n")["coral"] is False
    assert travels(before + "contrast = true\ntravel = true\n")["coral"] is True
    assert travels(before + "travel = false\n")["coral"] is False
    assert travels(after)["coral"] is False
    assert travels(after + "travel = true\n")["coral"] is True


def test_a_seam_that_is_stitched_is_no_way_beside_itself():
    (net,), lines, top = networks(MIXED)
    stitched = shapely.union_all([shapely.LineString(line.points) for line in lines])
    seams = [
        shapely.LineString(p) for p, a in zip(net.paths, net.along, strict=True) if a == "seam"
    ]
    assert seams
    assert all(seam.intersection(stitched).length < 0.01 for seam in seams)
    whole = sum(seam.length for seam in seams) + stitched.length
    assert whole == pytest.approx(sum(shapely.LineString(s.points).length for s in top.seams))


# ---- where lines are cut ----


def test_two_lines_that_cross_are_cut_at_their_crossing():
    assert cut(drawn((0, 0), (10, 10)), drawn((0, 10), (10, 0))) == [
        ((0, 0), (5, 5)),
        ((5, 5), (10, 10)),
        ((0, 10), (5, 5)),
        ((5, 5), (10, 0)),
    ]


@pytest.mark.parametrize("other", [{"thread": "red"}, {"stage": 2}])
def test_lines_of_another_thread_or_stage_do_not_cut_each_other(other):
    lines = cut(drawn((0, 0), (10, 10)), drawn((0, 10), (10, 0), **other))
    assert lines == [((0, 0), (10, 10)), ((0, 10), (10, 0))]


@pytest.mark.parametrize(("gap", "cuts"), [(0.0, True), (0.001, True), (0.004, False)])
def test_a_line_that_ends_on_another_cuts_it_within_two_micrometres(gap, cuts):
    lines = cut(drawn((0, 0), (10, 0)), drawn((5, gap), (5, 9)))
    assert (len(lines) == 3) == cuts


def test_two_bends_that_touch_are_cut_there():
    lines = cut(drawn((0, 0), (5, 5), (10, 0)), drawn((0, 10), (5, 5), (10, 10)))
    assert lines == [((0, 0), (5, 5)), ((5, 5), (10, 0)), ((0, 10), (5, 5)), ((5, 5), (10, 10))]


def test_ends_that_meet_are_no_cuts():
    assert len(cut(drawn((0, 0), (10, 0)), drawn((10, 0), (10, 9)), drawn((0, 0), (0, 9)))) == 3


def test_a_line_that_crosses_itself_is_cut_there_and_a_ring_is_whole():
    loop = drawn((0, 0), (10, 10), (10, 0), (0, 10))
    assert cut(loop) == [((0, 0), (5, 5)), ((5, 5), (5, 5)), ((5, 5), (0, 10))]
    assert cut(drawn((0, 0), (9, 0), (9, 9), (0, 0))) == [((0, 0), (0, 0))]


def test_a_line_that_turns_back_over_itself_is_cut_where_it_turns():
    lines = cut(drawn((0, 0), (10, 0), (4, 0), (4, 5)))
    assert ((4, 0), (4, 5)) in lines
    assert sum(abs(b[0] - a[0]) for a, b in lines if a[1] == b[1] == 0) == pytest.approx(10)


@pytest.mark.parametrize("swapped", [False, True])
def test_what_two_lines_share_is_stitched_once_and_by_a_ditch_first(swapped):
    ditch = drawn((0, 0), (10, 0), kind="ditch", seam=0)
    wave = drawn((4, 0), (6, 0), (6, 7))
    made = node_lines([wave, ditch] if swapped else [ditch, wave], [])[0]
    ends = sorted((line.kind, *sorted((*line.points[0], *line.points[-1]))) for line in made)
    assert [kind for kind, *_ in ends] == ["ditch", "ditch", "ditch", "drawn"]
    two = node_lines([drawn((0, 0), (10, 0)), drawn((2, 0), (8, 0))], [])[0]
    assert sum(shapely.LineString(line.points).length for line in two) == pytest.approx(10)


def test_what_others_stitch_too_in_another_thread_is_stitched_twice():
    two = node_lines([drawn((0, 0), (10, 0)), drawn((0, 0), (10, 0), thread="red")], [])[0]
    assert [line.thread for line in two] == ["grey", "red"]


def test_points_between_are_kept_where_a_line_is_cut():
    bent = drawn((0, 0), (4, 0), (4, 4), (8, 4))
    parts = node_lines([bent, drawn((0, 2), (9, 2))], [])[0]
    assert [line.points.tolist() for line in parts[:2]] == [
        [[0, 0], [4, 0], [4, 2]],
        [[4, 2], [4, 4], [8, 4]],
    ]


def test_lines_are_cut_at_a_level_that_they_pass_and_not_where_they_only_touch():
    shown = two_windows(5.0)
    assert cut(drawn((0, 0), (0, 10)), windows=shown) == [((0, 0), (0, 5)), ((0, 5), (0, 10))]
    assert len(cut(drawn((0, 0), (3, 5), (6, 0)), windows=shown)) == 1
    assert len(cut(drawn((0, 5), (9, 5)), windows=shown)) == 1
    assert len(cut(drawn((0, 0), (3, 9), (6, 0)), windows=shown)) == 3
    assert len(cut(drawn((0, 5), (0, 10)), windows=shown)) == 1
    for one, two in ((4.5, 5.5), (5.5, 4.5), (4.5, 9), (9, 4.5), (5.5, 0), (0, 5.5)):
        assert cut(drawn((0, one), (0, two)), windows=shown) == [
            ((0, one), (0, 5)),
            ((0, 5), (0, two)),
        ]


def test_what_a_window_holds_is_not_cut():
    shown = two_windows(50.0, 10.0)
    assert len(cut(drawn((0, 42), (0, 58)), windows=shown)) == 1
    assert len(cut(drawn((0, 38), (0, 58)), windows=shown)) == 1
    assert cut(drawn((0, 38), (0, 62)), windows=shown) == [((0, 38), (0, 50)), ((0, 50), (0, 62))]
    # Over and back within reach is one crossing, cut where it last comes from above.
    wave = drawn((0, 30), (1, 55), (2, 45), (3, 70))
    assert [a for a, _ in cut(wave, windows=shown)][1] == pytest.approx((2.2, 50))
    upward = drawn((3, 70), (2, 45), (1, 55), (0, 30))
    assert [a for a, _ in cut(upward, windows=shown)][1] == pytest.approx((2.2, 50))


def test_graphs_come_by_stage_then_in_the_order_of_the_threads():
    star = STARFISH[STARFISH.index("[[applique]]") : STARFISH.index("[lines]")].replace("7", "3")
    threads = '[threads.grey]\ncolour = "grey"\n[threads.coral]\ncolour = "#8e3320"\n'
    nets, _, _ = networks(FOUR + star + 'fused = "before"\n' + threads)
    assert [(net.stage, net.thread) for net in nets] == [(1, "grey"), (1, "coral")]
    nets, _, _ = networks(FOUR + star + 'fused = "after"\n' + threads)
    assert [(net.stage, net.thread) for net in nets] == [(1, "grey"), (2, "coral")]


def test_a_seam_where_one_window_ends_is_stitched_in_it_whichever_way_the_quilt_is_rolled():
    (net,), lines, _ = networks(FOUR)
    parted = part_by_windows([net, replace(net, stage=2)], two_windows(152.4), lines)
    along = [
        sum(bool(np.all(net.paths[k][:, 1] == 152.4)) for k in np.flatnonzero(net.required))
        for net in parted
    ]
    assert [(net.stage, net.window) for net in parted] == [(1, 1), (1, 2), (2, 2), (2, 1)]
    assert along == [4, 0, 0, 4]


def test_a_line_that_begins_where_the_next_window_does_is_stitched_in_that_one():
    windows = two_windows(100.0, both=20.0)  # the second shows all from 80 mm on
    least, most = np.array([80.0, 79.0, 30.0]), np.array([110.0, 110.0, 100.0])
    assert window_of(least, most, windows).tolist() == [1, 0, 0]


def test_a_way_stands_once_for_each_foot_and_what_is_stitched_once_in_all():
    edges = _Edges([], [], [], [], [])
    path = np.array([(0.0, 0.0), (10.0, 0.0)])
    for line, seam in ((0, 4), (-1, 5), (1, 6)):
        edges.add(path, "seam", line, seam)
    edges.carry((1, 2))
    stood = zip(edges.line, edges.seam, edges.on, strict=True)
    ways = [(seam, on) for line, seam, on in stood if line < 0]
    assert ways == [(5, 1), (5, 2)]
    assert sorted(line for line in edges.line if line >= 0) == [0, 1]
