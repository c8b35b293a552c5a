"""Time, money, batting and backing, spools."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.design.battings import MARGIN
from stitchpath.lines.line import Line
from stitchpath.route.runs import Leg, Run
from stitchpath.thread import (
    FRAME,
    ByKind,
    Charges,
    Pace,
    Stitching,
    ThreadKind,
    bill,
    cut_backing,
    cut_batting,
    run_times,
    spools_to_buy,
    thread_to_buy,
    thread_use,
)

INCH = 25.4
YARD = 914.4


def rows(*ys, thread="grey", length=600, where="margin"):
    """One run along each row, to the right; a row is one y, or the ys of a broken line."""
    lines, runs = [], []
    for number, y in enumerate(ys, 1):
        levels = y if isinstance(y, tuple) else (y, y)
        x = np.linspace(0, length, len(levels))
        points = np.column_stack([x, levels]).astype(float)
        lines.append(Line("ditch", 1, thread, points))
        leg = Leg("stitch", points, number - 1)
        runs.append(Run(number, 1, thread, where, where, (leg,)))
    return runs, lines


def test_time_of_a_run_is_what_its_prices_say():
    points = np.array([[0, 0], [100, 0], [100, 100]], dtype=float)
    lines = [Line("ditch", 1, "grey", points)]
    run = Run(1, 1, "grey", "margin", "inside", (Leg("stitch", points, 0),))
    pace = Pace(
        speed=ByKind.of(10), pivot=3, start=7, end_inside=50, end_trimmed=4, bobbin=80, thread=100
    )
    (time,) = run_times([run], lines, pace=pace)
    assert (time.stitching, time.pivots, time.ends) == (20, 3, 7 + 50 + 4)
    assert (time.bobbins, time.threads, time.advances) == (0, 100, 0)
    assert time.total == 20 + 3 + 61 + 100


def test_a_bobbin_change_within_a_run_takes_its_change_and_two_secured_ends():
    points = np.array([[0, 0], [100, 0], [100, 100]], dtype=float)
    lines = [Line("ditch", 1, "grey", points)]
    run = Run(1, 1, "grey", "margin", "margin", (Leg("stitch", points, 0),))
    (long,) = run_times([run], lines)
    small = Stitching(thread=ThreadKind("any", per_bobbin=400))
    (short,) = run_times([run], lines, small)
    pace = Pace()
    assert short.bobbins - long.bobbins == pace.bobbin
    assert short.ends - long.ends == 2 * pace.end_inside + pace.start


def test_the_thread_is_changed_only_where_the_next_run_has_another():
    runs, lines = rows(0, 10, 20, 30)
    runs = [replace(run, thread=name) for run, name in zip(runs, "aabb", strict=True)]
    times = run_times(runs, lines)
    assert [time.threads > 0 for time in times] == [True, False, True, False]


@given(factor=st.sampled_from([0.5, 2.0]))
@settings(max_examples=5, deadline=None)
def test_half_the_speed_doubles_stitching_and_nothing_else(factor):
    runs, lines = rows(0, 300, length=1800)
    slow = replace(FRAME, speed=FRAME.speed.times(1 / factor))
    for a, b in zip(
        run_times(runs, lines, pace=FRAME),
        run_times(runs, lines, pace=slow),
        strict=True,
    ):
        assert b.stitching == pytest.approx(a.stitching * factor, abs=1)
        assert b.total - b.stitching == a.total - a.stitching


def test_the_quilt_is_rolled_once_for_each_window_that_it_moves_on_or_back():
    runs, lines = rows(0, 10, 400, 410, 900, 20)
    windows = [1, 1, 2, 2, 3, 1]
    runs = [replace(run, window=window) for run, window in zip(runs, windows, strict=True)]
    advances = [time.advances for time in run_times(runs, lines, pace=Pace(advance=100))]
    assert advances == [0, 0, 100, 0, 100, 200]
    # The first window is loaded, wherever it lies.
    assert run_times(runs[4:5], lines)[0].advances == 0


@pytest.mark.parametrize(
    ("inches", "price", "amount"),
    [
        # Worked examples published by quilting services beside their prices.
        ((56, 72), 0.02, "80.64"),
        ((56, 72), 0.03, "120.96"),
        ((52, 52), 0.025, "67.60"),
        ((60, 80), 0.02, "96.00"),
    ],
)
def test_published_examples_of_a_charge_by_the_square_inch(inches, price, amount):
    width, height = (side * INCH for side in inches)
    charged = bill(Charges(square_inch=price, least=50), width=width, height=height)
    assert charged.total == Decimal(amount)


def test_a_small_quilt_is_charged_the_least_charge_and_the_bill_shows_it():
    charged = bill(Charges("shells", square_inch=0.02, least=50), width=20 * INCH, height=20 * INCH)
    assert [line.amount for line in charged.lines] == [Decimal("8.00"), Decimal("42.00")]
    assert charged.total == 50
    assert charged.currency == "shells"


def test_a_bill_charges_thread_batting_backing_and_hours_and_adds_up():
    runs, lines = rows(0, 10)
    uses = thread_use(runs, lines)
    charged = bill(
        Charges(thread=0.01, threads={"grey": 0.5}, batting=12, backing=9, hour=30),
        width=500,
        height=500,
        seconds=5400,
        uses=uses,
        batting=(1.5e6, 1000.0),
        backing=1250,
    )
    amounts = {line.what: line.amount for line in charged.lines}
    assert amounts["quilting"] == 45
    assert amounts["batting"] == 18
    assert amounts["backing"] == Decimal("11.25")
    assert amounts["thread grey"] == round(Decimal(uses[0].total) / 2000, 2)
    assert charged.total == sum(amounts.values())


def test_nothing_is_charged_that_was_not_asked():
    assert bill(Charges(), width=500, height=500, seconds=99).total == 0


def test_the_quilting_is_not_charged_twice():
    with pytest.raises(StitchpathError, match="by the hour and one by the square inch"):
        Charges(hour=30, square_inch=0.02)
    with pytest.raises(StitchpathError, match="batting: found -1"):
        Charges(batting=-1)


def test_the_published_example_of_a_backing_with_seams_down_the_quilt():
    # Published working: a top of 72 x 90 in, fabric of 42 in: two lengths of 94 in, seams down.
    best, other = cut_backing(72 * INCH, 90 * INCH, MARGIN["domestic"], 42 * INCH)
    assert (best.way, best.lengths, best.seams) == ("down", 2, 1)
    assert best.length == pytest.approx(94 * INCH)
    assert best.fabric < 5.5 * YARD  # what the example buys
    assert (other.way, other.lengths) == ("across", 3)


def test_in_a_frame_no_seam_of_the_backing_is_wound_on_itself_while_fabric_can_lie_the_other_way():
    # the same top: seams along the bars (common practice), though that takes a length more
    best, other = cut_backing(72 * INCH, 90 * INCH, MARGIN["frame"], 42 * INCH, framed=True)
    assert (best.way, best.ridge, other.way, other.ridge) == ("across", False, "down", True)
    assert best.fabric > other.fabric
    whole, _ = cut_backing(60 * INCH, 80 * INCH, MARGIN["frame"], 108 * INCH, framed=True)
    assert (whole.lengths, whole.ridge) == (1, False)
    narrow, _ = cut_backing(60 * INCH, 190 * INCH, MARGIN["frame"], 70 * INCH, framed=True)
    assert (narrow.way, narrow.seams, narrow.ridge) == ("down", 0, False)  # no seam, no ridge


def test_a_wide_fabric_needs_no_seam():
    best, _ = cut_backing(60 * INCH, 80 * INCH, MARGIN["frame"], 108 * INCH)
    assert (best.lengths, best.seams) == (1, 0)
    assert best.way == "across"  # 88 in fit into the width, so 68 in are enough
    assert best.fabric == pytest.approx(68 * INCH)


@given(width=st.floats(200, 3000), height=st.floats(200, 3000), fabric=st.floats(300, 2800))
@settings(max_examples=25, deadline=None)
def test_the_backing_covers_the_batting_and_one_length_less_would_not(width, height, fabric):
    cut = cut_batting(width, height, 50)
    seam = 12.7
    for way in cut_backing(width, height, 50, fabric, seam):
        assert {way.needed, way.length} == {cut.width, cut.height}
        assert way.joined >= way.needed - 1e-6
        assert way.lengths == 1 or way.joined - fabric + 2 * seam < way.needed
    best, other = cut_backing(width, height, 50, fabric, seam)
    assert best.fabric <= other.fabric + 1e-6


def test_fabric_no_wider_than_its_seams_is_refused():
    with pytest.raises(StitchpathError, match="fabric 20 mm wide"):
        cut_backing(500, 500, 50, 20)


@given(
    need=st.integers(1, 4000),
    lengths=st.lists(st.sampled_from([100, 150, 200, 400, 1000]), min_size=1, max_size=3),
)
@settings(max_examples=25, deadline=None)
def test_no_other_spools_leave_less_over_or_are_fewer(need, lengths):
    found = spools_to_buy(need * 1000, lengths)
    bought = sum(length * n for length, n in found), sum(n for _, n in found)
    sizes = sorted(set(lengths), reverse=True)
    # All but the smallest are tried in every number; the smallest then makes up the rest.
    every = []
    for counts in product(*(range(need // size + 2) for size in sizes[:-1])):
        so_far = sum(size * n for size, n in zip(sizes, counts, strict=False))
        rest = max(0, -(-(need - so_far) // sizes[-1]))
        every.append((so_far + rest * sizes[-1], sum(counts) + rest))
    assert bought == min(every)


def test_spools_are_bought_for_the_top_and_for_the_bobbins_thread():
    runs, lines = rows(0, 10, 20)
    any_thread = ThreadKind("any", spools=(100, 500))
    stitching = Stitching(thread=any_thread, bobbin_thread=ThreadKind("fine", spools=(3000,)))
    uses = thread_use(runs, lines, stitching)
    top, fine = thread_to_buy(uses, stitching)
    assert fine.spools == ((3000, 1),)
    assert (top.thread, fine.thread) == ("grey", "fine")
    assert top.need + fine.need == uses[0].total
    (both,) = thread_to_buy(uses, Stitching(thread=any_thread))
    assert both.need == uses[0].total
    assert both.spools == ((100, 1),)


def test_spools_of_no_length_are_refused():
    for lengths in ([], [0, 100]):
        with pytest.raises(StitchpathError, match="spools: found the lengths"):
            spools_to_buy(1000, lengths)
    with pytest.raises(StitchpathError, match="at most"):
        spools_to_buy(1e12, [100])


def test_larger_tops_never_take_less_batting():
    areas = [cut_batting(side, 700, 50).area for side in (300, 500, 900)]
    assert all(a < b for a, b in pairwise(areas))


def test_a_shop_charges_by_kind_of_work_and_flat_and_adds_tax_on_all_of_it():
    price = '{ "edge to edge" = 0.02, ditch = 0.04, custom = 0.06 }'
    charges = f"[charges]\nsquare_inch = {price}\nloading = 25\nthread_flat = 8\n"
    charges += 'batting_length = 10\ntax = 8\n[machine]\nkind = "frame"\n'
    loops = '[[fills]]\nregion = "top"\nstyle = "loops"\nspacing = 2\n'
    kinds = {
        "ditch": (charges, 0.04),
        "custom": (loops + charges, 0.06),
        "edge to edge": ('[lines]\nditch = "none"\n' + loops + charges, 0.02),
    }
    for text, by_inch in kinds.values():
        plan = planned(SQUARES + text)
        charged = plan.needs.bill
        *lines, tax = charged.lines
        found = {line.what: line.amount for line in lines}
        area = round(Decimal(plan.top.width * plan.top.height / INCH**2), 9)
        assert found["quilting"] == round(area * Decimal(f"{by_inch}"), 2)
        assert (found["loading"], found["thread"]) == (Decimal("25.00"), Decimal("8.00"))
        assert found["batting"] == round(Decimal(plan.needs.batting.height) / 100, 2)
        base = sum(found.values())
        assert tax.what == f"tax, 8 % of {base}"
        assert charged.total == base + tax.amount
        assert float(tax.amount) == pytest.approx(float(base) * 0.08, abs=0.005)


def test_hours_leave_out_the_loading_that_is_charged_for_itself():
    frame = '[machine]\nkind = "frame"\ndepth = 30\n[charges]\nhour = 36\n'
    with_it, without = (planned(SQUARES + frame + more) for more in ("", "loading = 25\n"))
    hours = [
        next(line.quantity for line in plan.needs.bill.lines if line.what == "quilting")
        for plan in (with_it, without)
    ]
    assert hours[0] - hours[1] == pytest.approx(3150 / 3600)
