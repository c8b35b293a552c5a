"""The thread command: of a design, of a size, of a sample unpicked."""

import math
import re
import statistics
import tomllib

import pytest
from quilts import DESIGNS, SQUARES, design, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import parse_size
from stitchpath.thread import parse_sample
from stitchpath.thread.from_design import stitching_of
from stitchpath.thread.quote import Asked, estimate_of

INCH = 25.4
RUNNER = DESIGNS / "harbour-runner.toml"


def numbers(text, name):
    line = next(line for line in text.splitlines() if line.startswith(name))
    return [float(n) for n in re.findall(r"\d+\.\d+", line)]


def shown(*lengths):
    """Yards as the tables of a design in inches show them."""
    return [float(f"{length / 914.4:.2f}") for length in lengths]


def test_a_design_is_reckoned_as_it_is_planned(run, tmp_path):
    path = tmp_path / "quilt.toml"
    text = SQUARES + "[threads.grey]\n"
    path.write_text(text)
    code, out, _ = run("thread", path)
    assert code == 0
    (use,) = planned(text).thread.uses
    assert numbers(out, use.name)[1:3] == shown(use.top, use.bobbin)
    assert numbers(out, f"waste, {use.name}") == shown(use.waste_top, use.waste_bobbin)
    assert "time in all" in out
    assert "cut 10 in by 10 in" in out
    assert run("thread", "reckon", path)[1] == out


def test_a_size_is_estimated_with_a_range_and_with_what_moves_it_most(run):
    code, out, _ = run(
        "thread", "--size", "60x80in", "--fill", "meander", "--spacing", "1in", "--ditch", "40m"
    )
    assert code == 0
    low, likely, high = numbers(out, "sewn")
    # Area over spacing is 4800 in, of which a little keeps off the edge; the ditch is 40 m and a
    # tenth of it gone over again.
    assert likely == pytest.approx((4800 * INCH + 44_000) / 914.4, rel=0.02)
    assert low < likely < high
    assert "what moves it most" in out
    assert out.index("how closely the hand") < out.index("thickness stitched through")
    assert "cut 64 in by 84 in" in out


def test_the_estimate_of_ruled_lines_is_what_a_plan_of_them_takes():
    # Seams ruled 3 in apart across and down a large top are a crosshatch: an outside check of area
    # over spacing against the length of lines laid out and routed one by one.
    row = ", ".join(["'" + " ".join(["sand sea"] * 8) + "'"] * 16)
    ruled = SQUARES.replace("'sand sea', 'sea sand'", row).replace("size = 6", "size = 48")
    plan = planned(ruled, time_limit=1)
    asked = estimate_of(Asked("48x48in", fill="crosshatch", spacing="3in"), design=plan.design)
    # The edge itself is no seam: of sixteen rows there are fifteen lines. All else is sewn off it.
    # To turn a top of 48 in twice takes about as long as to end a thread and begin another: half of
    # the rows are led on by 3 in, and all go half an inch off the edge at both ends.
    ways = 2 * (14 / 2 * 3 + 15) * INCH
    assert plan.totals.stitched == pytest.approx(asked.estimate.seam.likely - ways)
    in_seam = sum(use.top - use.top_ends for use in plan.thread.uses)
    sewn = sum(use.seam for use in plan.thread.uses)
    ends = 15 * 2 * 3 * INCH  # trimmed off where a thread begins and ends
    top = asked.estimate.top.likely / (1 + plan.design.stitching.waste) - ends
    assert in_seam / sewn == pytest.approx(top / asked.estimate.seam.likely, rel=1e-3)


def test_an_estimate_in_a_frame_counts_rolling_the_quilt_on_as_a_plan_does():
    frame = '[machine]\nkind = "frame"\ndepth = "18 in"\n'
    framed, plain = design(SQUARES + frame), design(SQUARES + '[machine]\nkind = "frame"\n')
    asked = Asked("60x80in", fill="meander", spacing="1in")
    more, less = (estimate_of(asked, design=d).estimate for d in (framed, plain))
    # 81 in with the way in the margin, 18 in at a time: five windows, rolled on four times.
    # Each time with its clamps, and with the sides to baste of what is shown anew.
    assert more.rolling - less.rolling == pytest.approx(4 * (240 + 30 + 120))
    assert more.seam == less.seam


def test_an_estimate_takes_her_own_ratio_machine_and_margin_from_a_design_of_hers():
    own = design(
        SQUARES + "[stitching]\nratio = { top = 1.5, bobbin = 1.5 }\nwaste = 0.1\n"
        '[machine]\nkind = "frame"\n'
    )
    rows = Asked("1x1m", fill="parallel", spacing="10mm")
    asked = estimate_of(rows, design=own)
    # 99 rows, 98 turns of 10 mm and half an inch out and back; 3 in trimmed off at either end.
    seam = 99 * 1000 + 98 * (10 + INCH) + INCH
    assert asked.estimate.thread.likely == pytest.approx((3 * seam + 4 * 3 * INCH) * 1.1)
    assert asked.batting.width == pytest.approx(1000 + 8 * INCH)
    round_it = 3150 + 300 + 120 + 600  # loading, tension, basting and unloading
    usual = estimate_of(rows).estimate.seconds.likely
    assert asked.estimate.seconds.likely - round_it < usual


def test_calibrate_gives_mean_and_spread_and_a_line_that_a_design_takes(run):
    code, out, _ = run(
        "thread", "calibrate", "--sample", "10in 13.1in 12.2in",
        "--sample", "10 in, 13.4 in, 12 in", "--sample", "25.4cm 33cm 31cm", "--per-inch", "10",
    )  # fmt: skip
    assert code == 0
    line = out.splitlines()[-1]
    ratio = tomllib.loads(line)["ratio"]
    tops = [1.31, 1.34, 33 / 25.4]
    assert ratio["top"] == round(statistics.mean(tops), 3)
    assert ratio["top_spread"] == round(statistics.stdev(tops), 3)
    assert ratio["per_inch"] == 10
    taken = stitching_of(design(SQUARES + f"[stitching]\n{line}\n"))
    assert taken.per_seam(10 / INCH)[0] == pytest.approx(ratio["top"])


def test_one_sample_tells_no_spread(run):
    code, out, _ = run("thread", "calibrate", "--sample", "10in 13.1in 12.2in")
    assert code == 0
    assert "three or more" in out
    assert out.splitlines()[-1] == "ratio = { top = 1.310, bobbin = 1.220 }"


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("60x80in", (60 * INCH, 80 * INCH)),
        ("60 x 80", (60 * INCH, 80 * INCH)),
        ("1.5m×2m", (1500, 2000)),  # noqa: RUF001 - as it is written by hand
        ("60 1/2in x 150cm", (60.5 * INCH, 1500)),
        ('60x80"', (60 * INCH, 80 * INCH)),
    ],
)
def test_a_size_is_read_as_it_is_said(text, mm):
    assert all(math.isclose(a, b) for a, b in zip(parse_size(text, "in"), mm, strict=True))


@pytest.mark.parametrize("text", ["60", "60x", "x", "60x80x90", "60x-80", "0x5", "axb", ""])
def test_what_is_no_size_is_refused(text):
    with pytest.raises(StitchpathError):
        parse_size(text, "in")


def test_a_sample_is_three_lengths():
    assert parse_sample("10cm 13cm 12cm").top == 130
    for text in ("", "10in 13in", "10 in 13 in 12 in", "a b c"):
        with pytest.raises(StitchpathError, match="sample"):
            parse_sample(text)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--size", "60", "--fill", "meander", "--spacing", "1"], "--size: found '60'"),
        (["--size", "60x80in", "--fill", "wobble", "--spacing", "1"], "expected one of parallel"),
        (["--size", "60x80in", "--fill", "meander"], "spacing: found none"),
        (["--size", "60x80in", "--fill", "meander", "--spacing", "0"], "--spacing: found '0'"),
        (["--size", "60x80in", "--ditch", "forty"], "--ditch: found 'forty'"),
        (["--size", "60x80in"], "found neither a fill nor a ditch"),
        (["--ditch", "40m"], "expected either a design or --size"),
        ([RUNNER, "--size", "60x80in"], "found both"),
        ([RUNNER, "--fill", "meander"], "--fill: found a design too"),
        (["none.toml"], "none.toml: no such file"),
        (["calibrate", "--sample", "10in 9in 12in"], "expected at least the length of the seam"),
        (["calibrate", "--sample", "10in 12in"], "expected three lengths"),
        (
            ["calibrate", "--sample", "10in 12in 12in", "--per-inch", "0"],
            "--per-inch: found 0, expected a number over 0",
        ),
        (
            ["calibrate", "--sample", "10in 12in 12in", "--per-inch", "nan"],
            "--per-inch: found nan, expected a number over 0",
        ),
        (
            ["--size", "60x80in", "--fill", "meander", "--spacing", "60in"],
            "--spacing: found '60in', expected less than the shorter side of the quilt, 60 in",
        ),
        (["--size", "11x1m", "--fill", "meander", "--spacing", "1"], "--size: found '11x1m'"),
        (["calibrate", "--sample", "0in 12in 12in"], "expected a length above nothing"),
    ],
)
def test_what_cannot_be_reckoned_is_said_in_one_sentence(run, args, said):
    code, out, err = run("thread", *args)
    assert (code, out) == (1, "")
    assert err.startswith("stitchpath: ")
    assert said in err
    assert err.count("\n") == 1
