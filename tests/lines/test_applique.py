from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from quilts import SQUARES, check_laws, design, length, planned, verify
from quilts import STARFISH as ON_A_BLOCK

from stitchpath.base.errors import StitchpathError
from stitchpath.checks import out_and_back
from stitchpath.lines.centre import centre_lines as centre
from stitchpath.plan import look_over

PLAIN = SQUARES.replace("['sand sea', 'sea sand']", "['sand']").replace("size = 6", "size = 10")
BOAT = PLAIN.replace("size = 10\ngrid = ['sand']", 'library = "sailboat"\nsize = 10\n').replace(
    "[blocks.squares]", 'sail = "ivory"\nhull = "brown"\nsky = "azure"\n[blocks.squares]'
)
STARFISH = (
    "M 0 -50 C 9 -50 7 -22 14 -16 C 22 -12 44 -24 48 -15 C 51 -7 25 2 23 10 C 22 18 38 34 30 40 "
    "C 22 45 8 24 0 24 C -8 24 -22 45 -30 40 C -38 34 -22 18 -23 10 C -25 2 -51 -7 -48 -15 "
    "C -44 -24 -22 -12 -14 -16 C -7 -22 -9 -50 0 -50 Z"
)
CORAL = (
    "M -2 40 L -2 10 L -14 -4 L -14 -24 L -10 -24 L -10 -6 L -1 5 L 0 -40 L 4 -40 L 3 4 L 12 -8 "
    "L 12 -30 L 16 -30 L 16 -6 L 3 10 L 3 40 Z"
)


def piece(outline, /, **keys):
    given = {"name": "'piece'", "outline": f"'{outline}'", "size": 6, "fabric": "'coral'"} | keys
    return "[[applique]]\n" + "".join(f"{k} = {v}\n" for k, v in given.items())


def quilted(*pieces, base=PLAIN, rest='[lines]\nditch = "none"\n'):
    """Plan pieces at prices in mm, which sums by hand are made of."""
    prices = "" if "[prices]" in rest else "[prices]\n"
    return planned(base + "".join(pieces) + rest + prices)


def cheapest_by_hand(plan):
    """Try every set of lines to go back over, in a tree of centre lines that touches no seam.

    An end at each odd place left, two at least; 300 an end, 2 a millimetre gone back over.
    """
    lines = [(tuple(x.points[0]), tuple(x.points[-1]), length(x.points)) for x in plan.lines]
    best = float("inf")
    for k in range(len(lines) + 1):
        for again in combinations(range(len(lines)), k):
            degree = {}
            for i, (a, b, _) in enumerate(lines):
                for vertex in (a, b):
                    degree[vertex] = degree.get(vertex, 0) + (2 if i in again else 1)
            odd = sum(d % 2 for d in degree.values())
            best = min(best, 300 * max(odd, 2) + 2 * sum(lines[i][2] for i in again))
    return best + sum(size for *_, size in lines)


def test_a_starfish_is_stitched_through_its_five_arms_at_the_least_price():
    # By hand, arms of length L: the five tips and the middle are odd. Two ends and three arms gone
    # back over cost 600 + 6 L, four ends and one arm 1200 + 2 L, six ends 1800: under 150 mm the
    # first is cheapest.
    plan = quilted(piece(STARFISH, size=5))
    assert len(plan.lines) == 5
    assert plan.proof.optimal
    assert plan.proof.cost == pytest.approx(cheapest_by_hand(plan))
    assert plan.totals.runs == 1
    assert sum(leg.do == "retrace" for run in plan.runs for leg in run.legs) == 3


@pytest.mark.parametrize("size", [4, 6, 9])
def test_a_branching_coral_is_stitched_at_the_least_price_whatever_its_size(size):
    plan = quilted(piece(CORAL, size=size))
    assert len(plan.lines) >= 4
    assert plan.proof.cost == pytest.approx(cheapest_by_hand(plan))


def test_out_and_back_needs_neither_retrace_nor_more_than_two_ends():
    once, twice = quilted(piece(STARFISH)), quilted(piece(STARFISH, out_and_back="true"))
    assert twice.totals.retraced == 0
    assert twice.totals.runs == 1
    assert twice.totals.stitched == pytest.approx(2 * once.totals.stitched, rel=0.06)
    verify(twice)


def test_ends_are_cheaper_than_retracing_where_the_quilter_says_so():
    plan = quilted(piece(STARFISH), rest='[lines]\nditch = "none"\n[route]\nretrace = "never"\n')
    assert plan.totals.retraced == 0
    assert plan.totals.runs == 3  # six odd places, by hand
    assert plan.proof.cost == pytest.approx(plan.totals.stitched + 6 * 300)


@pytest.mark.parametrize("asked", ["", "travel = true\n"])
def test_over_finished_quilting_a_piece_is_routed_by_itself_and_travels_on_seams_if_asked(asked):
    # a buoy over the middle of each of two blocks: a run for each, or one along the ditches beneath
    two = SQUARES.replace('rows = ["squares"]', 'rows = ["squares squares"]')
    buoy = "M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z"
    keys = {"size": 3, "centre": "false", "edge_line": "true", "thread": "'red'"}
    text = two + piece(buoy, on="'squares'", **keys)
    plan = planned(text + f'[threads.grey]\n[threads.red]\nlines = ["outline"]\n{asked}')
    later = [run for run in plan.runs if run.stage == 2]
    assert {run.thread for run in later} == {"red"}
    assert all(plan.lines[x.line].kind == "outline" for r in later for x in r.legs if x.line >= 0)
    on_seams = [leg for run in later for leg in run.legs if leg.along == "seam"]
    assert bool(on_seams) == bool(asked)
    assert len(later) == (1 if asked else 2)
    verify(plan)


@pytest.mark.parametrize(("size", "cheapest"), [(3, "out and back"), (9, "out and back")])
def test_what_each_way_to_stitch_a_starfish_costs_is_as_counted_by_hand(size, cheapest):
    # Arms of length L. Three gone back over, two ends: 11 L + 600; one and four ends: 7 L + 1200.
    # None, so six ends: 5 L + 1800. Out and back, all in one closed run: 10 L + 600.
    never = '[lines]\nditch = "none"\n[route]\nretrace = "never"\n'
    ways = {
        "retrace": quilted(piece(STARFISH, size=size)),
        "ends": quilted(piece(STARFISH, size=size), rest=never),
        "out and back": quilted(piece(STARFISH, size=size, out_and_back="true"), rest=never),
    }
    arms = sorted(length(x.points) for x in ways["ends"].lines)
    by_hand = {
        "retrace": sum(arms) + min(600 + 2 * sum(arms[:3]), 1200 + 2 * arms[0], 1800),
        "ends": sum(arms) + 1800,
        "out and back": sum(length(x.points) for x in ways["out and back"].lines) + 600,
    }
    costs = {way: plan.proof.cost for way, plan in ways.items()}
    assert costs == pytest.approx(by_hand)
    assert min(costs, key=costs.get) == cheapest


def test_out_and_back_is_named_with_both_figures_where_it_costs_less():
    once = quilted(piece(STARFISH, size=9))
    (said,) = [c for c in once.checks if c.code == "out-and-back"]
    arms = [length(x.points) for x in once.lines]
    by_hand = 2 * sum(arms) + 2 * 300
    figures = [
        float(word.strip(",.")) for word in said.message.split() if word.strip(",.").isdigit()
    ]
    assert figures[0] == pytest.approx(once.proof.cost, abs=1)
    assert figures[1] == pytest.approx(by_hand, rel=0.02)
    dear = "[prices]\nretrace_shown = 0.5\n"
    cheap = quilted(piece(STARFISH, size=9), rest=f'[lines]\nditch = "none"\n{dear}')
    assert "out-and-back" not in [c.code for c in cheap.checks]


def test_pieces_of_one_outline_are_reckoned_once_and_told_alike(monkeypatch):
    asked = []
    made = out_and_back.piece_lines
    monkeypatch.setattr(
        out_and_back, "piece_lines", lambda *args: asked.append(args[1].number) or made(*args)
    )
    one = ON_A_BLOCK[ON_A_BLOCK.index("[[applique]]") : ON_A_BLOCK.index("[lines]")]
    text = ON_A_BLOCK.replace('rows = ["plain"]', 'rows = ["plain plain plain"]')
    text = text.replace("[lines]", one.replace("A1", "A2") + "turn = 40\nmirror = true\n[lines]")
    smaller = one.replace("A1", "A3").replace("size = 7", "size = 6")
    looked = look_over(design(text.replace("[lines]", smaller + "[lines]") + "[prices]\n"))
    told = [check.message for check in looked.left_out if check.code == "out-and-back"]
    assert sorted(asked) == [0, 2]  # out and back; once they are there already
    assert len(told) in (0, 3)


@pytest.mark.parametrize(("price", "back"), [(2, True), (0.5, False)])
def test_the_best_lines_are_out_and_back_where_that_costs_less(price, back):
    rest = f'[lines]\nditch = "none"\n[prices]\nretrace_shown = {price}\n'
    plan = quilted(piece(STARFISH, size=9, lines='"best"'), rest=rest)
    assert (plan.totals.retraced == 0) == back
    assert "out-and-back" not in [c.code for c in plan.checks]
    check_laws(plan)


@pytest.mark.parametrize(("price", "runs"), [("", 1), ("[prices]\nend_piece = 150\n", 2)])
def test_a_thread_is_not_cut_within_a_piece_to_spare_two_arms_of_five_inches(price, runs):
    # Two more ends within the piece cost 600, going back over two arms of 5 in 4 * 127.
    base = PLAIN.replace("size = 10", "size = 20")
    plan = quilted(piece(STARFISH, size=10), base=base, rest=f'[lines]\nditch = "none"\n{price}')
    assert plan.totals.runs == runs


@pytest.mark.parametrize("side", ["'1/32 in'", "0"])
def test_lines_that_run_to_the_very_tips_of_a_jagged_piece_can_be_planned(side):
    jagged = (
        "M6.3424 0 L2.2315 3.5774 L2.0119 4.2157 L0 6.2869 L-1.3368 4.6104 L-2.5814 3.3966 "
        "L-5.3795 0 L-3.0187 -3.6587 L-3.6131 -3.5312 L0 -5.2439 L2.5344 -4.4369 L5.9899 -3.3339 Z"
    )
    plan = quilted(piece(jagged, size=9, tip="0", side=side))
    assert plan.totals.stitched > 150
    check_laws(plan)


def test_a_line_that_would_leave_its_piece_is_warned_of_with_its_place(monkeypatch):
    pier = "M 0 0 L 100 0 L 100 20 L 0 20 Z"
    monkeypatch.setattr(
        centre,
        "joined",
        lambda paths: [replace(path, points=path.points + np.array([0, 20])) for path in paths],
    )
    plan = quilted(piece(pier, edge_line="true"))
    (said,) = [c for c in plan.checks if c.code == "line-astray"]
    assert said.level == "warning"
    assert said.message.startswith("piece: a line would leave the piece and is not drawn, at ")
    assert {line.kind for line in plan.lines} == {"outline"}


def test_a_vein_is_one_line_and_three_arms_are_three():
    assert len(quilted(piece(STARFISH, vein="true")).lines) <= 2
    assert quilted(piece(STARFISH, vein="true")).totals.runs == 1
    assert len(quilted(piece(STARFISH, arms=3)).lines) == 3


def test_an_hour_of_the_clock_without_an_arm_is_left_out_and_told():
    plan = quilted(piece(STARFISH, arms="[12, 6]"))
    (said,) = [c for c in plan.checks if c.code == "no-arm"]
    assert len(plan.lines) == 1
    assert "piece: no arm points to 6 o'clock" in said.message
    assert "they point to 2, 5, 7, 10, 12" in said.message


@pytest.mark.parametrize("asked", ["true", "'1/16 in'"])
def test_an_edge_line_runs_a_sixteenth_inside_the_edge(asked):
    plan = quilted(piece(STARFISH, centre="false", edge_line=asked))
    (line,) = plan.lines
    gap = plan.top.pieces[0].shape.boundary.distance(shapely.points(line.points))
    assert line.kind == "outline"
    assert gap == pytest.approx(25.4 / 16, abs=0.01)


def test_echoes_stop_at_the_seams_and_merge_between_neighbours():
    echo = {"centre": "false", "size": 3, "echo": "{ step = '1/2 in', count = 4 }"}
    two = quilted(
        piece(STARFISH, at="[3, 5]", **echo), piece(STARFISH, at="[7, 5]", **echo | {"name": "'b'"})
    )
    shapes = [p.shape for p in two.top.pieces]
    assert {line.kind for line in two.lines} == {"echo"}
    for line in two.lines:
        path = shapely.LineString(line.points)
        assert min(path.distance(s) for s in shapes) > 12.5
        assert two.top.outline.buffer(0.01).covers(path)
        away = min(path.distance(s) for s in shapes)  # told by its number from the inmost out
        assert line.of.echo == round(away / 12.7)
    check_laws(two)
    verify(two)


@pytest.mark.parametrize(
    "other",
    [{"echo": "{ step = '3/4 in', count = 4 }"}, {"thread": "'dark'"}, {"fused": "'before'"}],
)
def test_echoes_of_neighbours_that_ask_for_something_else_stop_and_do_not_cross(other):
    echo = {"centre": "false", "size": 3, "echo": "{ step = '1/2 in', count = 4 }"}
    two = quilted(
        piece(STARFISH, at="[3, 5]", **echo),
        piece(STARFISH, at="[7, 5]", **echo | other | {"name": "'b'"}),
        rest='[lines]\nditch = "none"\n[threads.grey]\n[threads.dark]\n',
    )
    one, other = (
        shapely.MultiLineString([x.points for x in two.lines if x.of.pieces == (number,)])
        for number in (0, 1)
    )
    assert not one.crosses(other)
    first, second = (piece.shape for piece in two.top.pieces)
    for lines, near, far in ((one, first, second), (other, second, first)):
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(lines, 1)))
        assert (near.distance(points) - far.distance(points)).max() < 0.2


def test_echoes_that_meet_midway_along_a_line_stitch_it_once():
    pier = {"size": 4, "centre": "false", "echo": "{ step = '1/2 in', count = 3 }"}
    plan = quilted(
        piece("M 0 0 L 20 0 L 20 80 L 0 80 Z", at="[3, 5]", **pier),
        piece("M 0 0 L 20 0 L 20 80 L 0 80 Z", at="[5, 5]", **pier | {"thread": "'dark'"}),
        rest='[lines]\nditch = "none"\n[threads.grey]\n[threads.dark]\n',
    )
    one, other = (
        shapely.union_all([shapely.LineString(x.points) for x in plan.lines if x.thread == name])
        for name in ("grey", "dark")
    )
    midway = shapely.LineString([(101.6, 80), (101.6, 174)])
    assert midway.within(one.buffer(0.01))
    assert one.buffer(0.1).intersection(other).length < 5


def test_an_echo_stops_at_the_seam_and_does_not_run_on_to_a_neighbour_beyond():
    two = PLAIN.replace('rows = ["squares"]', 'rows = ["squares squares"]')
    echo = {"centre": "false", "size": 3, "echo": "{ step = '1/2 in', count = 6 }"}
    plan = quilted(
        piece(STARFISH, at="[7, 5]", on="'A1'", **echo),
        piece(STARFISH, at="[3, 5]", on="'A2'", **echo | {"name": "'b'"}),
        base=two,
    )
    for line in plan.lines:
        left, right = line.points[:, 0].min(), line.points[:, 0].max()
        assert right < 254.001 if line.of.pieces == (0,) else left > 253.999


@pytest.mark.parametrize("passes", [False, True])
def test_ditch_fill_and_motif_lines_stop_at_a_fused_piece_or_pass_if_asked(passes):
    keys = {"fused": "'before'", "size": 4, "at": "[7, 5]", "centre": "false", "edge_line": "true"}
    if passes:
        keys |= {"cut_ditch": "false", "cut_fill": "false"}
    rest = (
        '[lines]\nfeature = ["sail", "hull"]\nedge_line = "1/4 in"\n'
        'echo = { step = "3/8 in", count = 2 }\n'
        '[[fills]]\nregion = "squares"\nstyle = "parallel"\nspacing = 1\n'
    )
    plan = quilted(piece(STARFISH, **keys), base=BOAT, rest=rest)
    inside = plan.top.pieces[0].shape.buffer(-2)
    kinds = {x.kind for x in plan.lines if shapely.LineString(x.points).intersects(inside)}
    assert kinds == ({"ditch", "outline", "echo", "fill"} if passes else set())
    verify(plan)


def test_a_pieced_motif_is_gone_round_as_one():
    rest = '[lines]\nditch = "none"\nfeature = ["sail", "hull"]\nedge_line = "1/8 in"\n'
    plan = planned(BOAT + rest + 'echo = { step = "1/4 in", count = 2 }\n')
    outline = [x for x in plan.lines if x.kind == "outline"]
    (ring,) = shapely.get_parts(
        shapely.line_merge(shapely.MultiLineString([x.points for x in outline]))
    )
    assert ring.is_closed
    assert sum(x.kind == "echo" for x in plan.lines) >= 2
    verify(plan)


def test_raw_edges_far_from_stitching_are_told_with_a_place():
    loose, held = quilted(piece(STARFISH)), quilted(piece(STARFISH, edge_line="'1/16 in'"))
    (said,) = [c for c in loose.checks if c.code == "raw-edge"]
    assert loose.top.pieces[0].shape.boundary.distance(shapely.Point(said.at)) < 0.01
    assert "raw-edge" not in [c.code for c in held.checks]


def test_arms_too_narrow_for_a_line_of_stitching_are_told():
    reed = "M 0 0 L 100 0 L 100 2 L 0 2 Z"
    thin = quilted(piece(reed, size=8))  # 8 in long, 4 mm wide: holds
    thinner = quilted(piece(reed.replace(" 2", " 1"), size=8))  # 2 mm
    sliver = quilted(piece(reed.replace(" 2", " 0.7"), size=8, side=0))  # 1.4 mm
    assert "narrow-arm" not in [c.code for c in thin.checks]
    for plan, level, wide in (
        (thinner, "note", "only 1/16 in wide"),
        (sliver, "warning", "less than 1/16 in wide"),
    ):
        (said,) = [c for c in plan.checks if c.code == "narrow-arm"]
        assert said.level == level
        assert wide in said.message


def test_a_neck_and_an_arm_with_no_room_for_a_line_are_told_each_with_its_place():
    # a float with a net: 0.08 of its size is 1/8 in at 10 in, so neck and tail are too narrow
    net = "M 0 0 L 40 0 L 40 15 L 60 15 L 60 0 L 99 0 L 99 14 L 160 14 L 160 15 L 99 15 L 99 30 "
    net += "L 60 30 L 60 16 L 40 16 L 40 30 L 0 30 Z"
    plan = quilted(piece(net, size="'8 in'"))
    said = [c for c in plan.checks if c.code == "too-narrow"]
    assert {c.level for c in said} == {"warning"}
    neck, tail = sorted(said, key=lambda c: c.at[0])
    left = plan.top.pieces[0].shape.bounds[0]
    scale = 8 * 25.4 / 160
    assert 40 < (neck.at[0] - left) / scale < 60
    assert (tail.at[0] - left) / scale > 99
    assert "stops on both sides (1/16 in wide, at 3 1/2 in across, 5 in down)" in neck.message
    assert "left out" in tail.message
    one = quilted(piece(net, size="'8 in'", vein="true"))
    assert not any("left out" in c.message for c in one.checks)  # only the vein was asked for


def test_an_edge_line_that_has_no_room_is_told():
    plan = quilted(piece(STARFISH, edge_line="'1 in'", size=3))
    (said,) = [c for c in plan.checks if c.code == "too-narrow"]
    assert "no room for a line 1 in inside its edge, at 5 in across" in said.message


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"outline": "'M 5 5 Z'"}, "found an outline of one point, expected a closed shape"),
        ({"outline": "'M 0 0 L 9 0 L 4 0 Z'"}, "found an outline of 3 points and no area"),
        ({"size": "0"}, 'applique[1], "piece", size: found 0, expected a length of at least'),
        ({"arms": "0"}, 'arms: found 0, expected "all", a number of arms, or hours'),
        ({"arms": "[13]"}, 'arms: found [13], expected "all"'),
        ({"arms": "[]"}, 'arms: found [], expected "all"'),
        ({"at": "[1]"}, "at: found [1], expected a list of 2"),
        ({"echo": "3"}, "echo: found 3, expected a table of keys"),
        ({"on": "'Z9'"}, "found the unknown block or place 'Z9'"),
        ({"at": "[0, 0]"}, "found a piece that leaves the top at"),
    ],
)
def test_bad_input_is_told_in_one_sentence_that_names_the_piece(keys, said):
    with pytest.raises(StitchpathError) as error:
        quilted(piece(STARFISH, **keys))
    assert said in str(error.value)
    assert "piece" in str(error.value)
    assert "\n" not in str(error.value)


def test_a_piece_that_nothing_holds_is_told():
    sliver = piece("M 0 0 L 100 0 L 100 1 L 0 1 Z", size=4)
    plan = planned(SQUARES + sliver)
    assert "piece-not-held" in [c.code for c in plan.checks]


def test_a_piece_over_a_block_seam_is_to_be_fused_after_joining():
    two = PLAIN.replace('rows = ["squares"]', 'rows = ["squares squares"]')
    plan = planned(two + piece(STARFISH, fused="'before'"))
    assert "piece-after-joining" in [c.code for c in plan.checks]


@pytest.mark.parametrize(
    ("laid", "turn", "way"),
    [("", 0, 0), ("", 14, 14), (":90", 0, 90), (":90", 14, 104), (":m", 14, 166), (":90m", 14, 76)],
)
def test_a_buoy_is_crossed_the_same_way_in_a_block_however_that_is_laid(laid, turn, way):
    buoy = piece("M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z", turn=turn, on="'plain'")
    block = ON_A_BLOCK.split("[[applique]]")[0].replace('"plain"', f'"plain{laid}"')
    plan = planned(block + buoy + '[lines]\nditch = "none"\n')
    for line in (x.points for x in plan.lines if x.kind == "centre"):
        x, y = line[-1] - line[0]
        assert np.degrees(np.arctan2(y, x)) % 180 == pytest.approx(way, abs=0.1)
