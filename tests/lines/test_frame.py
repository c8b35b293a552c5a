"""What a frame shows at a time is chosen for the least time."""

import json
from functools import partial
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from stitchpath.lines.fills.styles import fill
from stitchpath.lines.frame import choose
from stitchpath.lines.frame.choose import Verge, choose_windows
from stitchpath.lines.frame.reach import Reach
from stitchpath.lines.frame.strands import Strands, strands_of, swings
from stitchpath.lines.frame.windows import numbered_units, with_whole_pieces
from stitchpath.lines.line import Line

CASES = json.loads((Path(__file__).parents[1] / "frame-cases.json").read_text("utf-8"))["cases"]
# Throat 18 in, clearance 1 in, a bar of 1 in, quilt 1/4 in thick on the roll, worked by hand:
# 18 - 1 - 2 sqrt(1 + 0.25 y / pi).
HAND = [
    (0, 15.0),
    (12, 14.204),
    (24, 13.588),
    (36, 13.068),
    (48, 12.609),
    (60, 12.194),
    (84, 11.456),
]
LINES = st.lists(
    st.tuples(st.integers(0, 30), st.integers(0, 12), st.sampled_from([25.0, 135.0, 270.0])),
    min_size=1, max_size=12,
)  # fmt: skip


def strands(lines):
    return Strands(*np.array(lines, dtype=float).T)


def spans(drawn):
    return strands([(low, low + high, price) for low, high, price in drawn])


def growing(throat=18.0, clearance=1.0, bar=1.0, thickness=0.25):
    return Reach(throat - clearance, bar, thickness)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_no_windows_take_less_than_those_known_to_be_best(case):
    reach = growing(**case["roll"]) if "roll" in case else Reach(case["depth"])
    chosen = choose_windows(strands(case["lines"]), reach, case["advance"])
    assert chosen.cost == pytest.approx(case["cost"])
    assert len(chosen.tops) == case.get("windows", len(chosen.tops))
    assert told(case["lines"], chosen.tops, reach, case["advance"]) == pytest.approx(chosen.cost)


def told(lines, tops, reach, advance):
    """Reckon what windows cost by what each shows; no end where a line is missed."""
    bottoms = reach.bottom(np.array(tops, dtype=float), min(line[0] for line in lines)).tolist()
    for (low, high, _), (bottom, after) in (
        (line, gap) for line in lines for gap in pairwise_gaps(tops, bottoms)
    ):
        if bottom < after and high > bottom and low < after:
            return np.inf
    cost = advance * (len(tops) - 1)
    for a, after in pairwise(range(len(tops))):
        cost += sum(p for low, high, p in lines if low < tops[after] and high > bottoms[a])
    return cost


def pairwise_gaps(tops, bottoms):
    return zip(bottoms, [*tops[1:], np.inf], strict=True)


def least(lines, depth, advance):
    """Try all windows that begin at whole numbers."""
    low, high = min(line[0] for line in lines), max(line[1] for line in lines)
    best = np.inf
    for count in range(high - low + 1):
        if advance * count >= best:
            break
        for tops in combinations(range(low + 1, high + 1), count):
            best = min(best, told(lines, (low, *tops), Reach(depth), advance))
    return best


def test_no_windows_of_three_hundred_quilts_are_better_than_those_chosen():
    rng = np.random.default_rng(19)
    for _ in range(300):
        count, depth = int(rng.integers(1, 7)), int(rng.integers(3, 9))
        low, long = rng.integers(0, 8, count), rng.integers(0, 7, count)
        price = rng.choice([25.0, 135.0, 270.0], count)
        lines = list(zip(low.tolist(), (low + long).tolist(), price.tolist(), strict=True))
        advance = float(rng.choice([60, 120, 240, 600]))
        chosen = choose_windows(strands(lines), Reach(depth), advance)
        assert chosen.cost == pytest.approx(least(lines, depth, advance))
        assert chosen.cost == pytest.approx(
            told(lines, chosen.tops.tolist(), Reach(depth), advance)
        )


def test_pieces_are_shown_whole_unless_taking_the_quilt_out_once_costs_less():
    """Tried against all windows that begin at whole numbers."""
    rng = np.random.default_rng(7)
    kept = []
    for _ in range(60):
        depth, advance, out = int(rng.integers(4, 7)), 60.0, float(rng.choice([50, 150, 400]))
        low, long = rng.integers(0, 9, 4).tolist(), rng.integers(1, 6, 4).tolist()
        lines = [(a, a + b, 30.0) for a, b in zip(low, long, strict=True)]
        lines += [(0, 1, 30.0), (11, 12, 30.0)]
        pieces = [(int(a), int(a) + int(rng.integers(2, 5))) for a in rng.integers(0, 8, 3)]
        tops = with_whole_pieces(
            strands(lines),
            pieces,
            out,
            partial(choose_windows, reach=Reach(depth), advance=advance),
        ).tops.tolist()

        def cost(tops, depth=depth, lines=lines, pieces=pieces, out=out, advance=advance):
            shown = [any(t <= a and b <= t + depth for t in tops) for a, b in pieces]
            return told(lines, tops, Reach(depth), advance) + out * (not all(shown))

        best = min(cost((0, *more)) for n in range(5) for more in combinations(range(1, 13), n))
        assert cost(tops) == pytest.approx(best)
        kept.append(cost(tops) == told(lines, tops, Reach(depth), advance))
    assert 5 < sum(kept) < 55


@settings(deadline=None)
@given(LINES, st.integers(2, 12), st.integers(0, 12), st.sampled_from([0.0, 60.0, 240.0]))
def test_a_deeper_frame_never_takes_longer(drawn, depth, more, advance):
    one, two = (choose_windows(spans(drawn), Reach(d), advance).cost for d in (depth, depth + more))
    assert two <= one + 1e-6


@settings(deadline=None)
@given(LINES, st.integers(10, 20), st.integers(0, 6))
def test_a_deeper_throat_never_takes_longer(drawn, throat, more):
    narrow, wide = (
        choose_windows(spans(drawn), growing(t), 240.0).cost for t in (throat, throat + more)
    )
    assert wide <= narrow + 1e-6


@pytest.mark.parametrize(("rolled", "depth"), HAND)
def test_the_roll_takes_from_the_depth_what_is_worked_out_by_hand(rolled, depth):
    assert float(growing().shown(rolled)) == pytest.approx(depth, abs=5e-4)


def test_rows_that_fit_are_stitched_whole_and_the_next_window_begins_at_the_next_row():
    rows = strands([(at, at + 4, 500.0) for at in (0, 10, 20)])
    chosen = choose_windows(rows, Reach(8.0), 240.0)
    # Nothing lies between rows, so that the quilt is rolled on past it.
    assert chosen.tops.tolist() == [0, 10, 20]


def test_a_way_off_the_edge_is_given_up_only_for_what_costs_more():
    rows = strands([(0.0, 10.0, 135.0)])
    above, below = Verge(-1.0, 55.0), Verge(11.0, 30.0)

    def tops(depth, advance=240.0):
        chosen = choose_windows(rows, Reach(depth), advance, above=above, below=below)
        return chosen.tops.tolist(), chosen.cost

    assert tops(12.0) == ([-1.0], 0.0)
    assert tops(11.0) == ([-1.0], 30.0)  # to the bottom of the row, and not off it
    assert tops(10.0) == ([0.0], 85.0)
    assert tops(9.0)[1] == 135.0 + 240.0  # both edges are in a window again


def test_a_line_that_winds_is_cut_as_often_as_it_passes():
    wave = np.array([[0, 0], [1, 6], [2, 3], [3, 9], [4, 0]], dtype=float)
    found = strands_of([wave], 10.0)
    assert sorted(zip(found.low, found.high, found.price, strict=True)) == [
        (0.0, 9.0, 20.0), (3.0, 6.0, 20.0)
    ]  # fmt: skip
    assert strands_of([wave, wave[::-1]], 10.0).price.tolist() == [40.0, 40.0]
    assert strands_of([], 10.0).low.tolist() == []


def test_swings_are_counted_as_the_standard_for_loads_counts_them():
    # ASTM E1049-85, the worked example of rainflow counting; from memory.
    load = np.array([-2, 1, -3, 5, -1, 3, -4, 4, -2], dtype=float)
    cycles = {}
    for low, high, passed in swings(load).tolist():
        cycles[high - low] = cycles.get(high - low, 0) + passed / 2
    assert cycles == {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}


@settings(deadline=None)
@given(st.lists(st.integers(0, 9), min_size=1, max_size=20), st.integers(0, 9), st.integers(0, 9))
def test_swings_over_a_slab_are_as_many_as_the_ways_through_it(y, one, two):
    upper, lower = min(one, two) - 0.5, max(one, two) + 0.5
    sides = [-1 if at < upper else 1 for at in y if not upper < at < lower]
    passed = sum(a != b for a, b in pairwise(sides))
    found = swings(np.array(y, dtype=float))
    over = (found[:, 0] < upper) & (found[:, 1] > lower)
    assert found[over, 2].sum() == passed


def test_of_many_places_those_near_each_other_are_one_and_little_is_lost(monkeypatch):
    rng = np.random.default_rng(3)
    low = rng.uniform(0, 400, 300)
    lines = Strands(low, low + rng.uniform(1, 60, 300), np.full(300, 135.0))
    fine = choose_windows(lines, Reach(100.0), 240.0)
    monkeypatch.setattr(choose, "_MANY", 50)
    rough = choose_windows(lines, Reach(100.0), 240.0)
    assert fine.cost <= rough.cost <= choose_windows(lines, Reach(99.8), 240.0).cost


def test_pebbles_with_a_seam_at_their_door_are_one_and_with_a_seam_across_them_are_not():
    (pebbles,) = fill(box(0, 0, 90, 60), "pebbles", 20.0).paths
    seam = np.array([pebbles[0], pebbles[0] - [0.0, 90.0]])
    across = np.array([(-5.0, 30.0), (95.0, 30.0)])
    lines = [Line("fill", 1, "grey", pebbles), Line("ditch", 1, "grey", seam)]
    assert [line.unit for line in numbered_units(lines, [], set())] == [0, -1]
    crossed = [*lines, Line("ditch", 1, "grey", across)]
    assert [line.unit for line in numbered_units(crossed, [], set())] == [-1, -1, -1]
    other = [*lines, Line("ditch", 1, "red", across)]
    assert [line.unit for line in numbered_units(other, [], set())] == [0, -1, -1]
