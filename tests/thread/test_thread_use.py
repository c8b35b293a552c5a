"""Thread by run and by thread, held against the published formula, ratios and measurements."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stitchpath.base.errors import StitchpathError
from stitchpath.lines.line import Line
from stitchpath.route.runs import Leg, Run
from stitchpath.thread import (
    FLAT_RATIO,
    ByKind,
    Ratio,
    Sample,
    Stitching,
    ThreadKind,
    lockstitch,
    measured_ratio,
    plan_thread,
    thickness_through,
    thread_use,
)

INCH = 25.4
ENDLESS = ThreadKind("any", per_bobbin=1e9)  # no bobbin is changed
BARE = Stitching(tail=0, trimmed=0, waste=0)  # no ends, no waste: the seam alone
KINDS = ("ditch", "centre", "outline", "echo", "fill", "drawn")


def sewn(*runs, where=("margin", "margin")):
    """Lines and runs from `(thread, [(kind, length), ...])`, every line straight to the right."""
    lines, out = [], []
    for number, (thread, pieces) in enumerate(runs, 1):
        x, legs = 0.0, []
        for kind, length in pieces:
            points = np.array([[x, 20.0 * number], [x + length, 20.0 * number]])
            if kind == "travel":
                legs.append(Leg("travel", points, along="seam"))
            else:
                legs.append(Leg("stitch", points, len(lines)))
                lines.append(Line(kind, 1, thread, points))
            x += length
        out.append(Run(number, 1, thread, *where, tuple(legs)))
    return out, lines


def test_the_published_example_of_the_formula_for_stitch_type_301():
    # C = 2 + 2 T S (lockstitch, type 301 of ISO 4915): T = 0.01 in, S = 10 per inch give 2.2.
    assert sum(lockstitch(0.01 * INCH, 10 / INCH)) == pytest.approx(2.2)
    runs, lines = sewn(("grey", [("ditch", 1000)]))
    use = thread_use(runs, lines, replace(BARE, thickness=0.01 * INCH))[0]
    assert (use.top, use.bobbin) == (1100, 1100)


def test_the_published_example_of_the_flat_ratio():
    # Handbook of the sewing thread trade: 220 cm of seam at 2.5 take 550 cm, 275 of each.
    runs, lines = sewn(("grey", [("ditch", 2200)]))
    use = thread_use(runs, lines, replace(BARE, ratio=FLAT_RATIO))[0]
    assert (use.top, use.bobbin, use.total) == (2750, 2750, 5500)


def test_the_published_example_of_a_measured_ratio_with_its_waste():
    # Textbook way of unpicking, there for type 401: 15 cm of seam gave 19.5 cm of needle thread, so
    # 130 cm in 100 cm of seam, and 15 % waste is added. Scaled to 301: the bobbin as the needle.
    ratio = measured_ratio([Sample(150, 195, 195)])
    assert ratio.top == pytest.approx(1.3)
    runs, lines = sewn(("grey", [("ditch", 1000)]))
    use = thread_use(runs, lines, replace(BARE, ratio=ratio, waste=0.15))[0]
    assert (use.top, use.bobbin, use.total) == (1300, 1300, 2990)


def test_mean_and_spread_of_what_she_measured():
    ratio = measured_ratio([Sample(100, 140, 130), Sample(200, 300, 260), Sample(100, 160, 130)])
    assert (ratio.top, ratio.bobbin) == (pytest.approx(1.5), pytest.approx(1.3))
    assert (ratio.top_spread, ratio.bobbin_spread) == (pytest.approx(0.1), pytest.approx(0))


@pytest.mark.parametrize(
    ("samples", "message"),
    [
        ([], "no sample"),
        ([Sample(100, 140, 130), Sample(0, 1, 1)], "sample 2.*seam of 0 mm"),
        ([Sample(100, 140, 90)], "sample 1.*found 0.9 of bobbin thread to one of seam"),
    ],
)
def test_a_measurement_that_cannot_be_is_asked_back(samples, message):
    with pytest.raises(StitchpathError, match=message):
        measured_ratio(samples)


def test_a_ratio_below_the_seam_itself_is_refused():
    with pytest.raises(StitchpathError, match=r"found 0\.5 times the seam of bobbin thread"):
        Ratio(1.2, 0.5)


def test_her_ratio_is_the_formula_again_when_its_stitch_length_is_known():
    per_mm = 10 / INCH
    ratio = Ratio(*lockstitch(1.4, per_mm, 0.4), per_mm=per_mm)
    hers = replace(BARE, ratio=ratio)
    formula = replace(BARE, thickness=1.4, balance=0.4)
    for other in (6 / INCH, 12 / INCH):
        assert hers.per_seam(other) == pytest.approx(formula.per_seam(other))


def test_retraces_and_travel_take_thread_like_any_seam():
    runs, lines = sewn(("grey", [("ditch", 300), ("travel", 200)]))
    back = Leg("retrace", runs[0].legs[0].points[::-1], 0)
    run = replace(runs[0], legs=(*runs[0].legs, back))
    use = thread_use([run], lines, replace(BARE, ratio=Ratio(2, 1.5)))[0]
    assert (use.stitched, use.retraced, use.travelled) == (300, 300, 200)
    assert (use.seam, use.top, use.bobbin) == (800, 1600, 1200)


def test_two_tails_are_left_at_an_end_to_bury_and_trimmed_at_an_end_in_the_margin():
    runs, lines = sewn(("grey", [("ditch", 1000)]), where=("margin", "inside"))
    stitching = Stitching(ratio=Ratio(1, 1), tail=100, trimmed=70, waste=0)
    use = thread_use(runs, lines, stitching)[0]
    assert (use.top_ends, use.bobbin_ends) == (170, 170)
    assert (use.top, use.bobbin) == (1170, 1170)


def test_a_tie_off_takes_eight_small_stitches_in_the_last_quarter_inch():
    # Common practice. Worked by hand: 2 T for every stitch more, half of it top, at each of two
    # ends; at 10 per inch a quarter inch holds 2.5, so 5.5 more.
    runs, lines = sewn(("grey", [("ditch", 254)]), where=("inside", "inside"))
    stitching = Stitching(secure="tie-off", thickness=2.0, trimmed=0, waste=0)
    use = thread_use(runs, lines, stitching)[0]
    assert use.top_ends == round(2 * 5.5 * 2.0)
    assert use.top == round(254 + 100 * 2.0) + use.top_ends


def test_each_thread_is_counted_apart_in_order_of_first_use():
    runs, lines = sewn(
        ("white", [("ditch", 500)]), ("sea blue", [("centre", 300)]), ("white", [("fill", 200)])
    )
    uses = thread_use(runs, lines, replace(BARE, ratio=FLAT_RATIO))
    assert [(use.name, use.runs, use.seam) for use in uses] == [
        ("white", 2, 700),
        ("sea blue", 1, 300),
    ]


def test_no_thread_is_asked_for_where_nothing_is_stitched():
    assert thread_use([], []) == ()


pieces = st.lists(
    st.tuples(st.sampled_from([*KINDS, "travel"]), st.floats(0.5, 3000)), min_size=1, max_size=5
)
plans = st.lists(st.tuples(st.sampled_from(["white", "sea blue"]), pieces), min_size=1, max_size=6)
wheres = st.tuples(*[st.sampled_from(["margin", "edge", "inside"])] * 2)


@given(plan=plans, where=wheres, secure=st.sampled_from(["bury", "tie-off"]))
@settings(max_examples=25, deadline=None)
def test_the_runs_figures_add_up_to_the_plans_exactly(plan, where, secure):
    runs, lines = sewn(*plan, where=where)
    # A small bobbin, so that changes inside runs are in the sum too.
    thread = ThreadKind("any", per_bobbin=2500)
    result = plan_thread(runs, lines, Stitching(secure=secure, thread=thread))
    for use in result.uses:
        mine = [run for run in result.runs if run.thread == use.name]
        for part in ("top", "bobbin", "top_ends", "bobbin_ends", "stitches"):
            assert getattr(use, part) == sum(getattr(run, part) for run in mine)
        for part in ("stitched", "retraced", "travelled"):
            assert getattr(use, part) == math.fsum(getattr(run, part) for run in mine)
        assert use.waste >= round(0.1 * use.top)
    assert [run.number for run in result.runs] == [run.number for run in runs]


@given(plan=plans, where=wheres, secure=st.sampled_from(["bury", "tie-off"]))
@settings(max_examples=25, deadline=None)
def test_more_stitches_per_inch_never_lower_the_thread(plan, where, secure):
    runs, lines = sewn(*plan, where=where)
    before = (0, 0)
    for per_inch in (4, 8, 10, 12.5, 16):
        stitching = Stitching(secure=secure, per_mm=ByKind.of(per_inch / INCH), thread=ENDLESS)
        uses = thread_use(runs, lines, stitching)
        now = sum(use.top for use in uses), sum(use.bobbin for use in uses)
        # Tie-offs may take a shade less more where the seam itself is nearly as dense.
        slack = 2 * len(runs)  # at either end
        assert now[0] + slack >= before[0]
        assert now[1] + slack >= before[1]
        before = now


@given(plan=plans, where=wheres)
@settings(max_examples=25, deadline=None)
def test_sewing_the_quilt_twice_doubles_seam_thread_and_runs_and_no_rate(plan, where):
    stitching = Stitching(thread=ENDLESS)
    one = thread_use(*sewn(*plan, where=where), stitching)
    two = thread_use(*sewn(*plan, *plan, where=where), stitching)
    for a, b in zip(one, two, strict=True):
        assert b.seam == pytest.approx(2 * a.seam)
        assert (b.top, b.top_ends, b.runs) == (2 * a.top, 2 * a.top_ends, 2 * a.runs)


def test_lines_twice_as_long_double_the_seam_thread_but_not_the_ends():
    one = thread_use(*sewn(("grey", [("ditch", 1000), ("fill", 500)]), where=("inside", "margin")))
    two = thread_use(*sewn(("grey", [("ditch", 2000), ("fill", 1000)]), where=("inside", "margin")))
    assert two[0].top_ends == one[0].top_ends > 0
    assert two[0].top - two[0].top_ends == pytest.approx(2 * (one[0].top - one[0].top_ends), abs=1)


@given(balance=st.floats(0, 1), thickness=st.floats(0.2, 8), per_inch=st.floats(4, 20))
@settings(max_examples=25, deadline=None)
def test_the_balance_moves_thread_between_top_and_bobbin_and_makes_none(
    balance, thickness, per_inch
):
    top, bobbin = lockstitch(thickness, per_inch / INCH, balance)
    assert top + bobbin == pytest.approx(2 + 2 * thickness * per_inch / INCH)
    assert min(top, bobbin) >= 1  # a thread is never shorter than the seam it lies in


def test_a_loftier_batting_takes_more_thread():
    assert thickness_through("wool") > thickness_through("needle-punched cotton")
    assert thickness_through("wool", top=0.5) - thickness_through("wool") == pytest.approx(0.25)
    with pytest.raises(StitchpathError, match=r"straw.*cotton"):
        thickness_through("straw")


@pytest.mark.parametrize(
    ("setting", "value"), [("balance", 1.5), ("waste", -0.1), ("tail", -1), ("packing", 0.0)]
)
def test_a_setting_no_one_can_sew_with_is_refused_by_name(setting, value):
    with pytest.raises(StitchpathError, match=f"thread, {setting}: found"):
        Stitching(**{setting: value})
