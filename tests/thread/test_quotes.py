"""A quote that she can stand by: it holds what a full plan of the same top takes."""

import csv
import random
from collections import Counter, defaultdict
from pathlib import Path
from statistics import median

import pytest
from quilts import DESIGNS
from quoted import MACHINES, Case, measured, quoted

from stitchpath.base.errors import StitchpathError
from stitchpath.thread.laid import LAID
from stitchpath.thread.quote import Asked, estimate_of

STYLES = ("parallel", "matchstick", "waves", "motif rows", "spiral", "meander", "crosshatch")
draw = random.Random(4)
CASES = [
    Case(
        style,
        (draw.choice([14, 20]), draw.choice([16, 30])),
        draw.choice([1.5, 2]),
        "domestic" if LAID[style].goes_round else draw.choice(list(MACHINES)),
    )
    for style in STYLES
]


@pytest.mark.parametrize("case", CASES, ids=[case.style for case in CASES])
def test_a_plan_takes_what_was_quoted_for_it(case):
    plan, quote = measured(case), quoted(case).estimate
    for part in ("seam", "thread", "seconds"):
        told, took = getattr(quote.planned, part), getattr(plan, part)
        assert told.low <= took <= told.high, part
        assert told.high - told.low < 0.2 * told.likely  # else it is no quote
        whole = getattr(quote, part)
        assert whole.low <= told.low <= told.high <= whole.high


FRAME = {"machine": "frame", "depth": "18in"}
SHOP = {
    "machine": {"kind": "frame", "throat": "18 in"},
    "pace": {"speed": "90 in"},
    "charges": {
        "currency": "crowns",
        "square_inch": {"edge to edge": 0.02, "ditch": 0.04, "custom": 0.06},
        "loading": 25,
        "thread_flat": 8,
        "batting_length": 14,
        "tax": 8,
    },
}


def test_loading_is_quoted_and_charged_by_the_hour():
    asked = Asked("60x80in", fill="parallel", spacing="2in", hour=40.0, **FRAME)
    found = estimate_of(asked)
    assert found.estimate.loading == 3150 + 300 + 600  # published, and our own guesses
    # Ten rows of 2 in to a pass of 18 in, 39 rows: four passes. Each is basted.
    assert found.passes == 4
    assert found.estimate.rolling == 3 * (240 + 30) + 4 * 120
    assert found.bills is not None
    hours = found.estimate.seconds.likely / 3600
    assert float(found.bills[1].total) == pytest.approx(40 * hours, abs=0.01)
    assert [bill.total for bill in found.bills] == sorted(bill.total for bill in found.bills)


@pytest.mark.parametrize(
    ("more", "price"),
    [
        ({"fill": "waves", "spacing": "2in"}, 0.02),
        ({"ditch": "40m"}, 0.04),
        ({"fill": "waves", "spacing": "2in", "ditch": "40m"}, 0.06),
    ],
)
def test_a_shop_quotes_by_its_profile_and_by_kind_of_work(more, price):
    found = estimate_of(Asked("60x80in", **more), profile=SHOP)
    assert found.bills is not None
    amounts = {line.what.partition(",")[0]: float(line.amount) for line in found.bills[1].lines}
    # By hand: 4800 square inches; 88 in of batting; 8 per cent on all of it.
    batting = round(14 * 88 * 0.0254, 2)
    before = 4800 * price + 25 + 8 + batting
    assert amounts == {
        "quilting": pytest.approx(4800 * price), "loading": 25, "thread": 8,
        "batting": pytest.approx(batting), "tax": pytest.approx(0.08 * before, abs=0.01),
    }  # fmt: skip
    assert found.bills[1].currency == "crowns"


def test_what_is_asked_for_wins_over_the_profile():
    asked = Asked("60x80in", fill="waves", spacing="2in", depth="14in", hour=30.0)
    found = estimate_of(asked, profile=SHOP)
    assert found.passes > estimate_of(Asked("60x80in", "waves", "2in"), profile=SHOP).passes - 3
    assert found.bills is not None
    assert {line.unit for line in found.bills[1].lines if line.what == "quilting"} == {"h"}


def test_one_who_has_timed_herself_is_quoted_a_narrower_time():
    asked = Asked("60x80in", fill="waves", spacing="2in", **FRAME)
    guessed = estimate_of(asked).estimate.seconds
    hers = {"machine": {"kind": "frame"}, "pace": {"speed": "90 in"}}
    own = estimate_of(asked, profile=hers).estimate.seconds
    assert (own.high - own.low) / own.likely < 0.5 * (guessed.high - guessed.low) / guessed.likely


def test_a_motif_is_quoted_from_its_drawing_or_from_its_length_and_pitch():
    asked = {"size": "60x80in", "fill": "motif rows", "spacing": "4in"}
    drawn = estimate_of(Asked(**asked, motif=str(DESIGNS / "breaker.svg"))).estimate.seam.likely
    told = estimate_of(Asked(**asked, motif="15.2in 8in")).estimate.seam.likely
    longer = estimate_of(Asked(**asked, motif="30.4in 8in")).estimate.seam.likely
    assert drawn == pytest.approx(told, rel=0.05)
    assert longer == pytest.approx(2 * told, rel=0.05)


def test_where_to_turn_the_quilt_takes_longer_a_thread_is_ended_at_each_row():
    slow, quick = (
        estimate_of(
            Asked("80x80in", fill="parallel", spacing="2in"),
            profile={"pace": {"turn_size": size}},
        ).estimate
        for size in (8, 0)
    )
    rows = 39
    assert quick.seam.likely - slow.seam.likely == pytest.approx((rows - 1) * 50.8)
    assert slow.thread.likely / slow.seam.likely > quick.thread.likely / quick.seam.likely


def test_where_turning_takes_about_as_long_as_another_thread_half_the_rows_are_turned():
    """What is sewn beside the fill is the way from row to row: of none, half or all of them."""
    asked = Asked("80x80in", fill="parallel", spacing="2in")
    seams = [
        round(estimate_of(asked, profile={"pace": {"start": start}}).estimate.seam.likely)
        for start in range(80)
    ]
    cut, half, turned = sorted(set(seams))
    assert half == pytest.approx((cut + turned) / 2, abs=1)
    assert seams == sorted(seams)
    assert 2 <= seams.count(half) <= 10


def test_a_frame_takes_more_bobbins_for_some_are_changed_before_they_give_out():
    counts = [
        [
            estimate_of(Asked(f"60x{high}in", "waves", "1in", **frame)).estimate.bobbins.likely
            for high in range(60, 110, 2)
        ]
        for frame in (FRAME, {"machine": "frame"})
    ]
    assert 1.05 < sum(counts[0]) / sum(counts[1]) < 1.25


@pytest.mark.parametrize("style", ["spiral", "rings", "radiating lines"])
def test_what_a_frame_would_cut_to_pieces_is_declined_there(style):
    asked = Asked("60x80in", fill=style, spacing="2in", **FRAME)
    with pytest.raises(StitchpathError, match="would be cut at each pass"):
        estimate_of(asked)
    assert estimate_of(Asked("60x80in", fill=style, spacing="2in")).estimate.seam.likely > 0


def test_the_command_takes_machine_and_profile_and_lays_out_the_bill(run, tmp_path):
    shop = tmp_path / "shop.toml"
    shop.write_text('[machine]\nkind = "frame"\n[charges]\ncurrency = "shells"\nhour = 40\n')
    code, out, _ = run(
        "thread", "--size", "60x80in", "--fill", "waves", "--spacing", "2in",
        "--depth", "18in", "--profile", shop,
    )  # fmt: skip
    assert code == 0
    assert f"with the profile {shop}" in out
    for said in (
        "loading, tension, unloading",
        "rolling on, 5 passes",
        "charged, shells",
        "in all",
    ):
        assert said in out


def kept():
    """Plans that were made in full: `tests/benchmarks/quotes.py` makes them anew."""
    with (Path(__file__).parents[1] / "quoted_plans.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            size = float(row["width"]), float(row["height"])
            yield Case(row["style"], size, float(row["spacing"]), row["machine"]), row


def test_of_seventy_plans_at_least_sixty_six_take_what_was_quoted():
    inside, off = Counter[str](), defaultdict[str, list[float]](list)
    plans = other_passes = 0
    for case, plan in kept():
        quote = quoted(case)
        for part in ("seam", "thread", "seconds"):
            told = getattr(quote.estimate.planned, part)
            inside[part] += told.low <= float(plan[part]) <= told.high
            assert told.high - told.low < 0.25 * told.likely
            off[f"{case.style}, {part}"].append(abs(float(plan[part]) / told.likely - 1))
        plans += 1
        other_passes += quote.passes != int(plan["windows"])
    assert plans == 156
    assert all(count / plans > 66 / 70 for count in inside.values())
    assert {key: found for key, each in off.items() if (found := median(each)) > 0.025} == {}
    assert other_passes <= 3
