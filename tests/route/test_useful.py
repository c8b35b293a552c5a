"""Every run stitches something, and the first one begins where she says."""

import numpy as np
import pytest
import shapely
from quilts import FEATURE, blocks, check_laws, planned, verify

from stitchpath import StitchpathError
from stitchpath.lines.line import Line
from stitchpath.network.graph import Network
from stitchpath.network.prices import nothing_in_passing
from stitchpath.route.effort import Effort
from stitchpath.route.postman import Problem, Tour
from stitchpath.route.router import _Walk, route
from stitchpath.route.trails import Trail
from stitchpath.route.useful_runs import _from_peg, needed, useful_trails
from stitchpath.top.place import Subject

NINE = blocks(FEATURE, 3, 3)


def web(points, edges, *, end, again=0.5):
    """A network of straight edges: (tail, head, line), line -1 for travel along a seam."""
    points = np.array(points, dtype=float)
    tail, head, line = np.array(edges, dtype=np.int64).T
    length = np.hypot(*(points[head] - points[tail]).T)
    return Network(
        stage=1,
        thread="sand",
        points=points,
        tail=tail,
        head=head,
        paths=tuple(np.stack([points[a], points[b]]) for a, b in zip(tail, head, strict=True)),
        line=line,
        along=tuple(None if i >= 0 else "seam" for i in line),
        length=length,
        first=length,
        again=again * length,
        end=np.array(end, dtype=float),
        where=("inside",) * len(points),
        required=line >= 0,
        seam=line,
        passing=nothing_in_passing(len(line), len(points)),
    )


def lines(count, *, anchor=()):
    return [
        Line(kind="ditch", stage=1, thread="sand", of=Subject(seam=i), points=np.zeros((2, 2)),
             anchor=i in anchor)
        for i in range(count)
    ]  # fmt: skip


def walked(network, count, **asked):
    (routed,) = route(network, lines(count), (0.0, 0.0), effort=Effort(5), **asked)
    for run in routed.runs:
        assert any(leg.do == "stitch" for leg in run.legs)
        for one, two in zip(run.legs, run.legs[1:], strict=False):
            assert one.points[-1].tolist() == two.points[0].tolist()
    stitched = [leg.line for run in routed.runs for leg in run.legs if leg.do == "stitch"]
    assert sorted(stitched) == list(range(count))
    return routed


def legs(run):
    return [(leg.do, leg.line) for leg in run.legs]


def test_runs_are_put_in_order_by_the_middle_of_all_that_they_stitch():
    """The middle is the centroid of the path, as shapely has it."""
    corners = [(0, 0), (40, 0), (40, 20)]
    network = web(corners, [(0, 1, 0), (1, 2, 1)], end=[1, 1, 1])
    found = _Walk(network, np.array([0, 1]), np.ones(2, bool)).stretch(lines(2, anchor=(1,)))
    assert found.middle == pytest.approx(shapely.LineString(corners).centroid.coords[0])
    assert (found.start, found.end, found.length, found.anchor) == ((0, 0), (40, 20), 60, 20)


def test_prices_of_nothing_give_no_run_that_stitches_nothing():
    text = NINE.replace("repeat = 3", "repeat = 2")
    prices = "[prices]\nretrace_ditch = 0\nretrace_shown = 0\nend_margin = 0\nend_inside = 0\n"
    for more in ("", "travel_seam = 0\ntravel_margin = 0\n", "travel_seam = 1000\n"):
        for start in ("", '[route]\nstart = "A1 top right"\n', '[route]\nstart = "B2 top left"\n'):
            plan = planned(text + prices + more + start)
            check_laws(plan)
            verify(plan)


def test_from_a_corner_where_nothing_is_stitched_the_first_run_is_led_to_a_line():
    plan = planned(NINE + '[route]\nstart = "B1 top left"\n')
    first = plan.runs[0]
    assert first.legs[0].points[0].tolist() == pytest.approx([0, 152.4])
    assert first.legs[0].do == "travel"
    assert any(leg.do == "stitch" for leg in first.legs)
    check_laws(plan)
    verify(plan)


@pytest.mark.parametrize("price", [0, 1])  # for nothing, three runs may end at the start
def test_from_a_start_on_a_line_no_run_ends_at_once(price):
    # Two lines meet at the start, and ends there are cheap: the cheapest is to do nothing there.
    net = web([(0, 0), (10, 0), (20, 0)], [(0, 1, 0), (1, 2, 1)], end=[30, price, 30], again=9)
    routed = walked(net, 2, start=1)
    assert legs(routed.runs[0]) in ([("stitch", 0)], [("stitch", 1)])
    assert routed.proof.cost == pytest.approx(20 + 60 + 2 * price)
    assert routed.proof.optimal


def test_the_way_to_the_nearest_line_is_walked_and_paid_once():
    # Start, 10 mm of seam, a line of 5 mm; a far line at the other side, 30 mm away.
    points = [(0, 0), (10, 0), (15, 0), (-30, 0), (-35, 0)]
    net = web(points, [(0, 1, -1), (1, 2, 0), (0, 3, -1), (3, 4, 1)], end=[1, 1, 1, 1, 1])
    routed = walked(net, 2, start=0)
    assert legs(routed.runs[0]) == [("travel", -1), ("stitch", 0)]
    assert legs(routed.runs[1]) == [("stitch", 1)]
    # Two lines, four ends, and half of 10 mm of travel.
    assert routed.proof.cost == pytest.approx(10 + 4 + 5)
    assert routed.proof.lower_bound <= routed.proof.cost
    # Cheapest without meeting a line: six ends and no way.
    assert routed.proof.lower_bound == pytest.approx(10 + 6)
    assert not routed.proof.optimal


def test_of_two_ways_to_a_line_the_cheaper_is_taken():
    points = [(0, 0), (10, 0), (10, 9), (0, 9), (20, 0)]
    edges = [(0, 3, -1), (3, 2, -1), (2, 1, -1), (0, 1, -1), (0, 1, -1), (1, 4, 0)]
    net = web(points, edges, end=[1] * 5)
    net.again[3] = 200.0
    net.again[4] = 13.0
    assert walked(net, 1, start=0).proof.cost == pytest.approx(10 + 2 + 13)
    net.again[4] = 15.0
    assert walked(net, 1, start=0).proof.cost == pytest.approx(10 + 2 + 14)


def test_a_start_from_which_no_line_is_reached_is_said_so():
    net = web([(0, 0), (1, 0), (9, 0), (10, 0)], [(0, 1, -1), (2, 3, 0)], end=[1] * 4)
    with pytest.raises(StitchpathError, match="no way from the chosen start to a line"):
        walked(net, 1, start=0)


def headings(problem, at):
    way = at[problem.head] - at[problem.tail]
    way = way / np.hypot(*way.T)[:, None]
    return way, -way


def test_a_run_that_only_goes_over_others_again_is_left_out_and_not_paid():
    at = np.array([(0, 0), (10, 0), (20, 0)], dtype=float)
    tail, head = np.array([[0, 1], [1, 2]]).T
    problem = Problem(3, tail, head, np.ones(2, bool), np.array([7.0, 7.0]), np.full(3, 2.0), 20.0)
    extra, ends = np.array([1, 0]), np.array([2, 1, 1])
    tour = Tour(extra, ends, 7.0 + 2 * 4, 4.0, optimal=False)
    found = useful_trails(problem, tour, headings(problem, at), lines=problem.required)
    assert len(found.trails) == 1
    assert found.tour.extra.tolist() == [0, 0]
    assert found.tour.ends.tolist() == [1, 0, 1]
    assert found.tour.cost == pytest.approx(4.0)
    assert found.tour.optimal


def test_the_first_line_on_the_way_is_taken_not_the_last():
    # Two lines straight through the start, two straight through the place where an end is free.
    points = [(0, 0), (10, 0), (0, 10), (0, -10), (10, 10), (10, -10)]
    edges = [(0, 1, -1), (0, 2, 0), (0, 3, 1), (1, 4, 2), (1, 5, 3)]
    net = web(points, edges, end=[500, 0, 30, 30, 30, 30], again=9)
    net.again[0] = 1.0
    routed = walked(net, 4, start=0)
    assert routed.runs[0].legs[0].do == "stitch"
    assert routed.runs[0].legs[0].line in {0, 1}
    # Every end but that at the start is used as it was, and the way is walked by another run.
    assert routed.proof.cost == pytest.approx(40 + 500 + 1 + 4 * 30)
    assert routed.proof.optimal


def test_runs_go_from_the_centre_outward_by_the_middle_of_their_length():
    net = web([(1, 0), (11, 0), (595, 0), (605, 0)], [(0, 1, 0), (2, 3, 1)], end=[1] * 4)
    for x, order in ((0.0, [0, 1]), (600.0, [1, 0])):
        (routed,) = route(net, lines(2), (x, 0.0), effort=Effort(1))
        assert [leg.line for run in routed.runs for leg in run.legs] == order


@pytest.mark.parametrize("peg_last", [True, False])
def test_a_run_held_to_its_start_is_walked_from_there_whichever_way_it_was_found(peg_last):
    edge = np.arange(10)
    out = Trail(np.array([9, 4, 3]), np.array([False, True, True]))
    back = Trail(np.array([3, 4, 9]), np.array([False, False, True]))
    held = _from_peg(back if peg_last else out, edge, 9)
    assert held.edges.tolist() == [9, 4, 3]
    assert held.forward.tolist() == [False, True, True]


def test_the_way_that_leads_to_a_line_is_one_unbroken_polyline():
    net = web([(0, 0), (10, 0), (10, 5), (4, 9)], [(1, 0, -1), (1, 2, -1), (3, 2, 0)], end=[1] * 4)
    walk = _Walk(net, np.array([0, 1, 2]), np.array([False, True, False]))
    points = walk.points()
    assert points[0].tolist() == [0, 0]
    assert points[-1].tolist() == [4, 9]
    steps = np.hypot(*np.diff(points, axis=0).T)
    assert steps.sum() == pytest.approx(10 + 5 + np.hypot(6, 4))


def test_where_order_counts_no_line_is_left_to_a_run_that_comes_later():
    required = np.array([True, True, True, False])
    passed = [np.array(edges) for edges in ([0, 3], [1, 0, 1], [0, 3, 1], [2])]
    assert needed(passed, required) == [2, 3]
    assert needed(passed, required, in_order=True) == [0, 1, 3]
