"""Bobbins: how much goes on one, where it gives out, and where to stop before it does."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, design, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.lines.line import Line
from stitchpath.route.runs import Leg, Run
from stitchpath.thread import (
    BOBBINS,
    Bobbin,
    Ratio,
    Stitching,
    ThreadKind,
    bobbin_changes,
    bobbin_room,
    plan_thread,
)
from stitchpath.thread.bobbins import choose_stops
from stitchpath.thread.from_design import stitching_of
from stitchpath.told.stops import stops

# One mm of bobbin thread for each mm of seam, no ends, no spare: a plan can be counted by eye.
PLAIN = Stitching(ratio=Ratio(1, 1), tail=0, trimmed=0, waste=0, spare=0)


def holding(length, **changes):
    return replace(PLAIN, thread=ThreadKind("any", per_bobbin=length), **changes)


def path(kind, *corners, thread="grey", number=1, where=("margin", "margin")):
    """One run along the corners, one leg for each side."""
    lines, legs = [], []
    for a, b in pairwise(corners):
        points = np.array([a, b], dtype=float)
        lines.append(Line(kind, 1, thread, points))
        legs.append(Leg("stitch", points, len(lines) - 1))
    return Run(number, 1, thread, *where, tuple(legs)), lines


@pytest.mark.parametrize(
    ("size", "yards"),
    # Published capacities of bobbins bought wound with a filament polyester near tex 17 ("60 wt"),
    # as the thread trade lists them; from memory, makers differ by a tenth.
    [("class 15", 135), ("L", 120), ("M", 205)],
)
def test_bobbins_bought_wound_hold_what_the_trade_says(size, yards):
    thread = ThreadKind("fine", tex=1000 / 60, fibre="polyester")
    assert bobbin_room(BOBBINS[size], thread, packing=0.6) / 914.4 == pytest.approx(yards, rel=0.2)


def test_bobbins_bought_wound_hold_what_is_published_for_a_frame():
    # Published for size L, bought wound with fine polyester: 130 to 154 yd.
    text = SQUARES + '[stitching]\nbobbin = "L"\nwound = "{}"\n'
    text += '[threads.fine]\nsize = "60 wt"\nfibre = "polyester"\n'
    bought, own = (stitching_of(design(text.format(how))) for how in ("bought", "machine"))
    held, less = (made.room(made.bobbin_of("fine")) / 914.4 for made in (bought, own))
    assert 130 <= held <= 154
    assert less == pytest.approx(held * 5 / 8)
    loose = text.format("bought").replace("wound", "packing = 0.4\nwound")
    assert stitching_of(design(loose)).packing == 0.4


def test_room_on_a_bobbin_is_the_ring_over_the_thread():
    # Worked by hand: pi/4 (20² - 10²) 10 = 2356.2 mm³, half of it fibre; tex 15.2 of cotton at
    # 1.52 g/cm³ is 0.01 mm² of fibre.
    thread = ThreadKind("hand", tex=15.2, fibre="cotton")
    assert bobbin_room(Bobbin("hand", 20, 10, 10), thread) == pytest.approx(117_810, rel=1e-4)
    assert bobbin_room(Bobbin("hand", 20, 10, 10), replace(thread, tex=30.4)) == pytest.approx(
        117_810 / 2, rel=1e-4
    )


def test_her_own_measure_of_a_bobbin_counts_before_the_ring():
    assert Stitching().room(ThreadKind("a", per_bobbin=60_000)) == 60_000


def test_a_ring_without_room_is_refused():
    with pytest.raises(StitchpathError, match="core smaller"):
        Bobbin("odd", 8, 20, 9)


def test_stop_at_the_end_of_a_run_rather_than_within_the_next():
    first, lines = path("ditch", (0, 0), (80, 0))
    second, more = path("ditch", (0, 9), (30, 9), (30, 39), number=2)
    second = replace(second, legs=tuple(replace(leg, line=leg.line + 1) for leg in second.legs))
    (change,) = bobbin_changes([first, second], lines + more, holding(100))
    assert (change.where, change.stop.run, change.stop.along) == ("run end", 1, 80)
    assert change.waste == 20
    assert (change.gives_out.run, change.gives_out.along) == (2, pytest.approx(20))
    assert change.gives_out.point == pytest.approx((20, 9))
    assert change.gives_out.line == 1


def test_within_a_run_stop_at_the_last_pivot_before_the_bobbin_gives_out():
    run, lines = path("ditch", (0, 0), (50, 0), (50, 40), (90, 40))
    (change,) = bobbin_changes([run], lines, holding(110))
    assert (change.where, change.stop.leg, change.stop.along) == ("pivot", 1, 90)
    assert change.stop.point == (50, 40)
    assert change.stop.line == 1
    assert change.gives_out.point == pytest.approx((70, 40))
    assert change.waste == 20


def test_a_stop_in_the_margin_is_better_than_a_later_one_inside_the_top():
    run, lines = path("ditch", (0, 0), (50, 0), (50, 40), (90, 40))
    out = np.array([[50, 0], [50, -20], [60, -20]], dtype=float)
    back = np.array([[60, -20], [60, 0], [50, 0]], dtype=float)
    travels = [Leg("travel", points, along="margin") for points in (out, back)]
    run = replace(run, legs=(run.legs[0], *travels, *run.legs[1:]))
    stitching = holding(165, tail=9, trimmed=5)
    plan = plan_thread([run], lines, stitching)
    (change,) = plan.changes
    assert (change.where, change.stop.run) == ("margin", 1)
    assert change.stop.along == 110  # the last of the margin, before the pivot at 150
    assert change.stop.line == 0  # travel is no line: the one sewn last
    assert change.waste == 165 - 5 - 110 - 5
    assert plan.runs[0].bobbin_ends == 2 * 5 + 2 * 5


def test_a_pivot_inside_a_line_is_a_stop_too_but_a_gentle_bend_is_none():
    points = np.array([[0, 0], [50, 0], [98, 14], [98, 60]], dtype=float)  # bends 16°, turns 74°
    lines = [Line("ditch", 1, "grey", points)]
    run = Run(1, 1, "grey", "margin", "margin", (Leg("stitch", points, 0),))
    (change,) = bobbin_changes([run], lines, holding(130))
    assert change.where == "pivot"
    assert change.stop.along == pytest.approx(100)


def test_where_no_pivot_breaks_a_line_the_stop_falls_in_it_and_says_so():
    run, lines = path("fill", (0, 0), (1000, 0), (1000, 1000))  # turns, but in no seam
    changes = bobbin_changes([run], lines, holding(700))
    assert [change.where for change in changes] == ["line", "line"]
    assert [change.bobbin for change in changes] == [1, 2]
    assert all(change.waste < 2 * 700 / 64 for change in changes)


def test_a_bobbin_put_aside_with_its_thread_is_taken_up_again():
    parts = [
        path("ditch", (0, 9 * n), (60, 9 * n), thread=thread, number=n)
        for n, thread in ((1, "white"), (2, "blue"), (3, "white"), (4, "blue"))
    ]
    runs = [
        replace(run, legs=(replace(run.legs[0], line=number),))
        for number, (run, _) in enumerate(parts)
    ]
    lines = [line for _, some in parts for line in some]
    plan = plan_thread(runs, lines, holding(120))
    assert [use.bobbins for use in plan.uses] == [1, 1]
    shared = plan_thread(
        runs, lines, holding(120, bobbin_thread=ThreadKind("grey", per_bobbin=120))
    )
    assert sum(use.bobbins for use in shared.uses) == 2
    assert [(change.thread, change.stop.run) for change in shared.changes] == [("grey", 2)]


def test_the_first_place_to_stop_may_be_the_one():
    assert choose_stops(np.array([50]), np.array([0]), (0, 0, 0), 120, 100) == [0]
    assert choose_stops(np.array([50]), np.array([0]), (0, 0, 0), 100, 100) == []


def test_a_stop_inside_a_run_is_paid_for_in_tails():
    run, lines = path("ditch", (0, 0), (50, 0), (50, 40), (90, 40))
    stitching = holding(115, tail=10)
    plan = plan_thread([run], lines, stitching)
    assert plan.changes[0].stop.along == 90
    assert plan.changes[0].waste == 115 - 90 - 10
    assert (plan.runs[0].bobbin, plan.runs[0].bobbin_ends, plan.runs[0].stops) == (150, 20, 1)


def test_she_stops_in_mid_seam_only_where_a_bobbin_with_its_tails_does_not_last():
    # From pivot to pivot 90 mm and a tail of 10 mm on either side: 110 of 115.
    run, lines = path("ditch", (0, 0), (50, 0), (50, 90), (60, 90))
    changes = bobbin_changes([run], lines, holding(115, tail=10))
    assert [(change.where, change.stop.along) for change in changes] == [("pivot", 50)]
    run, lines = path("ditch", (0, 0), (50, 0), (50, 100), (60, 100))  # and here 120
    changes = bobbin_changes([run], lines, holding(115, tail=10))
    assert [change.where for change in changes] == ["line"]


def test_a_stop_takes_the_tail_of_the_bobbin_not_that_of_the_top():
    # Threads that lock near the top: a tie-off takes far more from the bobbin.
    run, lines = path("ditch", (0, 0), (500, 0), (500, 400), (900, 400))
    tied = replace(
        PLAIN, ratio=None, thickness=3, balance=0.1, secure="tie-off", tie_off=100,
        tie_off_stitches=100, thread=ThreadKind("any", per_bobbin=4000),
    )  # fmt: skip
    (change,) = bobbin_changes([run], lines, tied)
    top, tail = tied.per_end(inside=True, per_mm=tied.per_mm.ditch)
    assert tail > top + 100
    sewn = change.stop.along * tied.per_seam(tied.per_mm.ditch)[1]
    assert change.waste == pytest.approx(4000 - sewn - tail, abs=2)


def test_a_bobbin_too_small_to_sew_with_is_refused():
    run, lines = path("ditch", (0, 0), (500, 0))
    with pytest.raises(StitchpathError, match=r"found 0\.1 m of thread on a bobbin"):
        bobbin_changes([run], lines, holding(100, tail=60))


def test_the_spare_is_kept_in_hand():
    run, lines = path("ditch", (0, 0), (50, 0), (50, 48), (90, 48))
    assert bobbin_changes([run], lines, holding(100))[0].stop.along == 98
    change = bobbin_changes([run], lines, holding(100, spare=0.05))[0]
    assert change.stop.along == 50
    assert change.waste == 50


def cost(chosen, at, sort, tails, end, room):
    """Changes, stops inside the top, thread wasted; None if a bobbin runs empty."""
    begin, wasted = 0, 0
    for j in chosen:
        used = at[j] + tails[sort[j]]
        if used - begin > room:
            return None
        wasted += room - (used - begin) + 2 * tails[sort[j]]
        begin = at[j] - tails[sort[j]]
    inside = sum(sort[j] == 2 for j in chosen)
    return None if end - begin > room else (len(chosen), inside, wasted)


@given(
    steps=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 2)), min_size=1, max_size=9),
    room=st.integers(30, 90),
    trimmed=st.integers(0, 12),
    secured=st.integers(0, 12),
)
@settings(max_examples=60, deadline=None)
def test_no_other_choice_of_stops_takes_fewer_changes_or_wastes_less(steps, room, trimmed, secured):
    at = np.cumsum([step for step, _ in steps])
    sort = np.array([sort for _, sort in steps])
    args = (at.tolist(), sort.tolist(), (0, trimmed, secured), int(at[-1]) + 25, room)
    every = [
        found
        for n in range(len(steps) + 1)
        for chosen in combinations(range(len(steps)), n)
        if (found := cost(chosen, *args)) is not None
    ]
    if not every:
        with pytest.raises(StitchpathError, match="one stopping place to the next"):
            choose_stops(at, sort, *args[2:])
    else:
        assert cost(choose_stops(at, sort, *args[2:]), *args) == min(every)


@given(
    steps=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 2)), min_size=1, max_size=8),
    room=st.integers(30, 90),
    price=st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(1, 9)),
)
@settings(max_examples=60, deadline=None)
def test_no_other_choice_of_stops_is_cheaper_at_her_prices(steps, room, price):
    at = np.cumsum([step for step, _ in steps])
    sort = np.array([sort for _, sort in steps])
    args = (at.tolist(), sort.tolist(), (0, 3, 5), int(at[-1]) + 25, room)

    def paid(chosen):
        return sum(price[sort[j]] for j in chosen)

    every = [
        paid(chosen)
        for n in range(len(steps) + 1)
        for chosen in combinations(range(len(steps)), n)
        if cost(chosen, *args) is not None
    ]
    if every:
        assert paid(choose_stops(at, sort, *args[2:], price)) == min(every)


def test_a_bobbin_is_changed_where_the_needle_is_parked_before_a_seam_is_broken():
    # eleven turns inside the top, alike; nothing but the parked needle tells them apart
    corners = [(50 * (n // 2 + n % 2), 50 * (n // 2)) for n in range(13)]
    run, lines = path("ditch", *corners, where=("inside", "inside"))
    whole = sum(use.bobbin for use in plan_thread([run], lines, holding(10**6)).uses)
    short = holding(round(0.7 * whole))
    (late,) = plan_thread([run], lines, short).changes
    (change,) = plan_thread([replace(run, parked=((6, 2),))], lines, short).changes
    assert change.stop.leg == 5
    assert late.stop.leg > 5


def test_in_a_frame_a_pass_begins_with_a_full_bobbin_rather_than_break_a_line():
    frame = '[machine]\nkind = "frame"\ndepth = 7\n[lines]\nditch = "none"\n'
    fill = '[[fills]]\nregion = "top"\nstyle = "loops"\nspacing = 0.6\nrows = "one way"\n'
    fill += "[stitching]\nspare = 0\n"
    rows = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2"]\nrepeat = 4')
    plan = planned(rows + frame + fill + '[threads.grey]\nper_bobbin = "20 m"\n')
    assert plan.thread.changes
    assert {change.where for change in plan.thread.changes} == {"run end"}
    told = [task.text for stop in stops(plan) for task in stop.tasks if task.what == "bobbin"]
    assert len(told) == 1 + len(plan.thread.changes)
    assert all("are left on it, and the next run takes" in text for text in told[1:])


@given(
    sides=st.lists(st.integers(20, 400), min_size=1, max_size=30),
    room=st.integers(300, 3000),
    tail=st.sampled_from([0, 15]),
    kind=st.sampled_from(["ditch", "fill"]),
)
@settings(max_examples=25, deadline=None)
def test_every_millimetre_of_bobbin_thread_is_sewn_left_over_or_still_on_the_last(
    sides, room, tail, kind
):
    corners = [(0, 0)]
    for n, side in enumerate(sides):
        x, y = corners[-1]
        corners.append((x + side, y) if n % 2 else (x, y + side))
    run, lines = path(kind, *corners, where=("inside", "margin"))
    plan = plan_thread([run], lines, holding(room, tail=tail))
    (use,) = plan.uses
    assert use.bobbins == len(plan.changes) + 1
    on_last = room * use.bobbins - use.bobbin - sum(change.waste for change in plan.changes)
    assert -1 <= on_last <= room + len(plan.changes)
    along = [change.stop.along for change in plan.changes]
    assert along == sorted(along)
    for change in plan.changes:
        assert change.gives_out is None or change.gives_out.along >= change.stop.along - 1e-6
