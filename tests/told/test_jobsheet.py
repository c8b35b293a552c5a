"""The job sheet, and what a design says of thread, time and money: the same numbers everywhere."""

import csv
import io
import json
import re
from decimal import Decimal

import numpy as np
import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, STARFISH, design, layouts, planned, verify

from stitchpath.base.errors import StitchpathError
from stitchpath.export.guide.path import scene_of
from stitchpath.export.guide.supplies import supply_pages
from stitchpath.export.job_sheet import _Cell, _pages, _Row, plan_sheet, sheet_pages
from stitchpath.export.pdf.paper import A4, LETTER
from stitchpath.hands.pace import pace_of
from stitchpath.plan import plan_json
from stitchpath.thread.from_design import stitching_of
from stitchpath.told.job_rows import job_rows, plan_job_csv
from stitchpath.told.summary import summary_rows, thread_rows
from stitchpath.told.thread_tables import plan_tables

INCH = 25.4
GREY = '[threads.grey]\nspools = ["100 m", "500 yd"]\n'


def table(plan):
    return list(csv.DictReader(io.StringIO(plan_job_csv(plan))))


def of_kind(rows, kind):
    return [row for row in rows if row["row"] == kind]


def whole_mm(rows, column):
    """Sum lengths, mm: a design in inches has them in yards (1 yd is 0.9144 m by definition)."""
    in_yards = column.replace("(m)", "(yd)")
    if in_yards in rows[0]:
        return round(sum(Decimal(row[in_yards]) for row in rows) * Decimal("914.4"))
    return sum(int(Decimal(row[column]) * 1000) for row in rows)


def sized(width, height, rest=""):
    """One block of two patches, as large as a whole top."""
    return SQUARES.replace("size = 6", f"size = [{width}, {height}]") + rest


def printed(plan):
    """Every text that is set on the sheet, page by page."""
    return [[word.text.replace("\u00a0", " ") for word in page.words] for page in sheet_pages(plan)]


@given(text=layouts(), per_bobbin=st.sampled_from(["3 m", "20 m"]))
@settings(max_examples=8, deadline=None)
def test_the_sum_of_the_runs_is_the_plans_figure_to_the_millimetre(text, per_bobbin):
    try:
        plan = planned(text + f'[threads.grey]\nper_bobbin = "{per_bobbin}"\n', time_limit=0)
    except StitchpathError:
        return  # a layout without the seams it asks for
    rows, written = table(plan), json.loads(plan_json(plan))
    runs, (total,) = of_kind(rows, "run"), of_kind(rows, "total")
    for column in ("sewn (m)", "top thread (m)", "bobbin thread (m)"):
        assert whole_mm(runs, column) == whole_mm([total], column)
        assert whole_mm(of_kind(rows, "thread"), column) == whole_mm([total], column)
    sewn = sum(written["totals"][key] for key in ("stitched", "retraced", "travelled"))
    assert whole_mm([total], "sewn (m)") == pytest.approx(sewn, abs=0.51)
    for row, run in zip(runs, plan.thread.runs, strict=True):
        assert whole_mm([row], "sewn (m)") == pytest.approx(run.seam, abs=1.01)
    assert sum(int(row["time (s)"]) for row in of_kind(rows, "time")) == int(total["time (s)"])


def test_sheet_table_and_plan_json_give_the_same_figures():
    plan = planned(sized(40, 40, '[threads.grey]\nper_bobbin = "1.5 m"\n'))
    rows, written = table(plan), json.loads(plan_json(plan))
    verify(plan)
    (total,) = of_kind(rows, "total")
    assert int(total["time (s)"]) == written["totals"]["seconds"]
    assert int(total["stitches"]) == written["totals"]["stitches"]
    for row, run in zip(of_kind(rows, "run"), written["runs"], strict=True):
        assert int(row["time (s)"]) == run["seconds"]
        assert whole_mm([row], "top thread (m)") == run["top"]
        assert whole_mm([row], "bobbin thread (m)") == run["bobbin"]
        assert int(row["stitches"]) == run["stitches"]
    (use,) = written["thread"]
    assert (
        whole_mm([total], "top thread (m)") == use["top"] == sum(r["top"] for r in written["runs"])
    )
    (waste,) = of_kind(rows, "waste")
    waste_of_both = whole_mm([waste], "top thread (m)") + whole_mm([waste], "bobbin thread (m)")
    assert waste_of_both == use["waste"]
    assert len(of_kind(rows, "change bobbin")) == len(written["bobbin_changes"]) > 0
    assert use["bobbins"] == len(written["bobbin_changes"]) + 1
    _, shown = thread_rows(plan)
    assert shown[0][2] == f"{use['top'] / 914.4:.2f} yd"  # a design in inches
    seconds = written["totals"]["seconds"]
    clock = f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    assert clock in dict(summary_rows(plan))["time"]
    assert ("time in all", clock) in plan_tables(plan)[1][1]
    (page,) = printed(plan)
    for key in ("sewn (yd)", "top thread (yd)", "bobbin thread (yd)"):
        assert f"{Decimal(total[key]):.2f}" in page
    assert clock in page


@pytest.mark.parametrize(("unit", "long"), [("in", "yd"), ("cm", "m")])
def test_the_table_measures_as_she_does_and_adds_up_as_it_is_written(unit, long):
    rest = '[threads.grey]\nper_bobbin = "2 m"\n'
    rows = table(planned(f'unit = "{unit}"\n' + sized(40, 40, rest)))
    for what in ("sewn", "top thread", "bobbin thread"):
        column = f"{what} ({long})"
        runs = sum(Decimal(row[column]) for row in of_kind(rows, "run"))
        (total,) = of_kind(rows, "total")
        assert runs == Decimal(total[column]) > 0
        assert runs == sum(Decimal(row[column]) for row in of_kind(rows, "thread"))


def test_where_a_bobbin_gives_out_lies_after_the_stop_before_it():
    plan = planned(sized(60, 60, '[threads.grey]\nper_bobbin = "1.5 m"\n'))
    changes = json.loads(plan_json(plan))["bobbin_changes"]
    assert changes
    for change in changes:
        stop, dry = change["stop"], change["gives_out"]
        if dry is not None:
            assert (stop["run"], stop["along"]) <= (dry["run"], dry["along"])
        assert stop["place"]
        run = plan.runs[stop["run"] - 1]
        near = min(
            abs(x - stop["point"][0]) + abs(y - stop["point"][1])
            for leg in run.legs
            for x, y in leg.points
        )
        assert change["where"] == "line" or near < 0.01  # good stops are corners of the way


def test_a_long_sheet_goes_on_over_pages_each_with_its_head():
    row = ", ".join(["'" + " ".join(["sand sea"] * 3) + "'"] * 6)
    many = SQUARES.replace("'sand sea', 'sea sand'", row).replace("size = 6", "size = 90")
    plan = planned(many + '[threads.grey]\nper_bobbin = "1 m"\n')
    pages = printed(plan)
    assert len(pages) > 1
    changes = [said for page in pages for said in page if re.search(r"bobbin \d+ out", said)]
    assert len(changes) == len(plan.thread.changes)
    assert all("sewn yd" in page for page in pages[:2])
    assert pages[0][-1].endswith(f"page 1 of {len(pages)}")


@pytest.mark.parametrize(
    ("paper", "size"), [(A4, (210, 297)), (LETTER, (8.5 * INCH, 11 * INCH))], ids=["A4", "Letter"]
)
def test_the_sheet_is_as_large_as_her_paper_and_the_same_bytes_each_time(paper, size):
    # ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: size A is 8.5 x 11 in. Read by pdfium.
    plan = planned(SQUARES)
    made = plan_sheet(plan, paper)
    assert made == plan_sheet(plan, paper)
    assert b"CreationDate" not in made
    (page,) = pdfium.PdfDocument(made)
    assert np.array(page.get_size()) * INCH / 72 == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize(
    ("every", "gap", "fit"),
    [(1, 0, 59), (3, 0, 59), (1, 2, 40)],  # (264 - 14) / 4.2, or / 6.2: lines closest
    ids=["lines alone", "in threes", "apart"],
)
def test_no_sheet_is_spent_on_a_line_or_two_and_no_row_is_torn_apart(every, gap, fit):
    for lines in range(30, 67):
        rows = [_Row((_Cell(14, f"{k}"),), joined=k % every > 0, gap=gap) for k in range(lines)]
        pages = _pages(rows, 264.0)
        assert [row for page in pages for _, row in page] == rows
        assert (len(pages) == 1) == (lines <= fit)
        assert len(pages) == 1 or len(pages[-1]) >= 6
        assert not any(page[0][1].joined for page in pages)
        assert max(y for page in pages for y, _ in page) <= 264


def test_no_heading_of_the_sheet_stands_last_on_its_page():
    for at in range(40, 60):
        rows = [_Row((_Cell(14, f"{k}"),), rule=k == at) for k in range(70)]
        assert not any(page[-1][1].rule for page in _pages(rows, 264.0))


def test_every_row_of_the_csv_has_every_column_and_no_name_is_a_formula():
    plan = planned(SQUARES + '[threads."=1+1"]\n')
    text = plan_job_csv(plan)
    widths = {len(row) for row in csv.reader(io.StringIO(text))}
    assert widths == {10}
    assert ",'=1+1," in text
    assert ",=1+1" not in text


def test_the_published_lockstitch_example_comes_out_of_a_plan():
    # Published: thickness 0.01 in at 10 stitches per inch takes 2.2 of thread to 1 of seam.
    plan = planned(SQUARES + '[stitching]\nper_inch = 10\nthickness = "0.01 in"\n')
    (use,) = plan.thread.uses
    in_seam = use.top + use.bobbin - use.top_ends - use.bobbin_ends
    assert in_seam / use.seam == pytest.approx(2.2, abs=2 / use.seam)


def test_her_own_ratio_goes_before_formula_and_balance():
    # Industry's flat ratio for type 301 (ISO 4915): 2.5 in all, half of it bobbin.
    own = '[stitching]\nratio = { top = 1.25, bobbin = 1.25 }\nbalance = 0.1\nthickness = "3 mm"\n'
    (use,) = planned(SQUARES + own).thread.uses
    assert use.top - use.top_ends == pytest.approx(1.25 * use.seam, abs=1)
    assert use.top == use.bobbin


def test_a_loose_top_thread_leaves_more_to_the_bobbin():
    (use,) = planned(SQUARES + "[stitching]\nbalance = 0.25\n").thread.uses
    assert use.bobbin > use.top


def test_the_kind_of_batting_decides_what_is_stitched_through():
    def through(text):
        return stitching_of(design(SQUARES + text)).thickness

    wool = '[batting]\nkind = "wool"\n'
    assert through("") == pytest.approx(0.04 * INCH)
    assert through(wool) > through('[batting]\nkind = "needle-punched cotton"\n')
    thick = '[stitching]\ncloth = ["0.25 mm", "0.75 mm"]\n'
    assert through(wool + thick) - through(wool) == pytest.approx(0.5)
    assert through(wool + '[stitching]\nthickness = "2 mm"\n') == 2


def test_spools_are_bought_in_the_lengths_that_the_design_names():
    plan = planned(SQUARES + GREY)
    (bought,) = plan.needs.spools
    assert bought.spools == ((100, 1),)
    assert stitching_of(plan.design).kind_of("grey").spools == (100, 457)  # 500 yd is 457.2 m
    (use,) = plan.thread.uses
    assert bought.need == use.total


def test_what_is_charged_by_the_square_inch_is_the_published_figure():
    # Worked example published by a quilting service: 60 x 80 in at 0.02 is 96.00.
    plan = planned(sized(60, 80, '[charges]\ncurrency = "crowns"\nsquare_inch = 0.02\n'))
    assert plan.needs.bill.total == Decimal("96.00")
    charges = [row["note"] for row in of_kind(table(plan), "charge")]
    assert charges[-1] == "in all: 96.00 crowns"
    assert json.loads(plan_json(plan))["cloth"]["bill"]["total"] == "96.00"


def test_the_bill_is_the_sum_of_its_lines_and_nothing_is_charged_unasked():
    asked = "[charges]\nthread = 0.02\nbatting = 12\nbacking = 11\nhour = 30\nleast = 40\n"
    plan = planned(SQUARES + asked + "[threads.grey]\nprice = 0.5\n")
    bill = plan.needs.bill
    assert bill.total == sum(line.amount for line in bill.lines)
    assert bill.lines[0].price == 0.5  # her own price for this thread
    (use,) = plan.thread.uses
    assert bill.lines[0].quantity == use.total / 1000
    assert planned(SQUARES).needs.bill is None


def test_the_published_backing_example_comes_out_of_a_plan():
    # Published working: a top of 72 x 90 in, fabric of 42 in: two lengths of 94 in, seam down.
    rows = table(planned(sized(72, 90)))
    (batting,) = of_kind(rows, "batting")
    assert batting["note"] == "cut 76 in by 94 in"
    assert of_kind(rows, "backing")[0]["note"].startswith(
        "2 lengths of 94 in (in all 188 in), seam"
    )


def test_a_frame_holds_more_batting_sews_faster_and_is_rolled_on():
    frame = '[machine]\nkind = "frame"\ndepth = "12 in"\n'
    plan = planned(sized(40, 40, frame))
    assert plan.needs.batting.width == pytest.approx(48 * INCH)  # common practice: 4 in each side
    assert sum(spent.advances for spent in plan.times) > 0
    domestic = planned(sized(40, 40))
    assert domestic.needs.batting.width == pytest.approx(44 * INCH)
    assert pace_of(plan.design).speed.fill > pace_of(domestic.design).speed.fill
    own = design(SQUARES + frame + '[batting]\nmargin = "3 in"\n')
    assert own.batting.margin == pytest.approx(3 * INCH)


def test_every_price_of_time_can_be_set():
    base = planned(SQUARES)
    paced = planned(
        SQUARES + '[pace]\nspeed = "1.44 m"\npivot = 0\nstart = 1\nend_inside = 2\n'
        "end_trimmed = 3\nbobbin = 4\nthread = 5\nturn_size = 0\nturn_roll = 0\n"
    )
    pace = pace_of(paced.design)
    assert pace.speed.ditch == 24  # mm in a second; a domestic machine's default is half of it
    (before,), (after,) = base.times, paced.times
    assert after.stitching == pytest.approx(before.stitching / 2, abs=1)
    assert (after.pivots, after.ends, after.threads) == (0, 1 + 2 * 3, 5)


@pytest.mark.parametrize(
    ("rest", "said"),
    [
        ("[stitching]\nbalance = 2\n", "stitching.balance: found 2"),
        ("[stitching]\nratio = { top = 0.5, bobbin = 1.2 }\n", "stitching.ratio.top: found 0.5"),
        ("[stitching]\nratio = { top = 1.5 }\n", "bobbin"),
        ('[stitching]\nsecure = "knot"\n', "'bury' or 'tie-off'"),
        ('[stitching]\nbobbin_thread = "gray"\n' + GREY, "the nearest thread is 'grey'"),
        ("[threads.grey]\nper_bobbin = 80\n", "expected a length with its unit"),
        ("[threads.grey]\nspools = []\n", "threads.grey.spools"),
        ('[threads.grey]\nspools = ["500"]\n', "expected a length with its unit"),
        ('[machine]\nkind = "chair"\n', "'domestic' or 'frame'"),
        ("[pace]\npivot = -1\n", "pace.pivot: found -1"),
        ("[pace]\nspeed = 0\n", "pace.speed"),
        ("[charges]\nhour = 30\nsquare_inch = 0.02\n", "charged one way"),
        ('[backing]\nwidth = "1 in"\n', "backing: found fabric 25.4 mm wide"),
    ],
)
def test_what_cannot_be_sewn_or_charged_is_said_in_one_sentence(rest, said):
    with pytest.raises(StitchpathError) as error:
        planned(SQUARES + rest)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_rows_of_the_sheet_come_in_the_order_of_sewing():
    kinds = [row.kind for row in job_rows(planned(SQUARES))]
    assert kinds == sorted(kinds, key=list(dict.fromkeys(kinds)).index)
    assert kinds[:2] == ["stop", "run"]


def test_the_sheet_names_places_and_prices_as_a_quilter_would():
    rows = job_rows(planned(sized(40, 40, '[threads.grey]\nper_bobbin = "1.5 m"\n')))
    said = [row.note for row in rows if row.kind in ("run", "change bobbin")]
    assert said[0].startswith("from the margin at the ")
    assert not [note for note in said if re.search(r"r\dc\d", note)]
    times = [row.note for row in rows if row.kind == "time"]
    # A domestic machine sews 12 mm in a second in the ditch, 28 3/8 in in a minute.
    assert times[0] == "stitching (in a minute: ditch 28 3/8 in, travel 28 3/8 in)"
    assert "bobbin changes (90 s each)" in times


def test_the_proof_names_the_price_it_is_for():
    by_time = planned(SQUARES + '[route]\norder = "free"\n')
    by_length = planned(SQUARES + "[prices]\n")
    said, other = dict(summary_rows(by_time))["route"], dict(summary_rows(by_length))["route"]
    assert "no way of stitching this takes less time at your pace" in said
    assert "no route costs less" in other
    assert "pace" not in other


def test_returns_and_changes_of_foot_are_told_where_there_are_any():
    none = dict(summary_rows(planned(SQUARES)))
    assert not {"returns", "foot changes"} & none.keys()
    star = STARFISH.replace('ditch = "none"', 'ditch = "all"').replace("sand sand", "sand coral")
    plan = planned(star + "[pace]\nfoot = 45\n")
    assert plan.foot_changes == 1
    assert dict(summary_rows(plan))["foot changes"] == "1, 0:00:45"
    (row,) = [row for row in job_rows(plan) if row.what == "changes of the foot"]
    assert (row.seconds, row.note) == (45, "changes of the foot (45 s each)")


@pytest.mark.parametrize(("unit", "size", "long"), [("in", 6, "yd"), ("cm", 15, "m")])
def test_who_measures_in_inches_reads_no_metres_but_of_thread_to_buy(unit, size, long):
    text = SQUARES.replace('name = "Squares"', f'name = "Squares"\nunit = "{unit}"')
    plan = planned(text.replace("size = 6", f"size = {size}") + GREY)
    other = {"yd": r"[\d.]+ m\b", "m": r"[\d.]+ yd"}[long]
    said = [value for _, value in summary_rows(plan)] + [c for r in thread_rows(plan)[1] for c in r]
    said += [row.note for row in job_rows(plan) if row.kind not in ("buy", "charge")]
    assert not [each for each in said if re.search(other, each)]
    (page,) = printed(plan)
    assert {f"sewn {long}", f"top {long}", f"bobbin {long}"} <= set(page)
    (buy,) = [row.note for row in job_rows(plan) if row.kind == "buy"]
    assert buy.startswith({"yd": "1 of 109 yd (100 m): ", "m": "1 of 100 m: "}[long])


def test_each_thread_named_in_a_table_has_a_chip_of_its_colour_beside_it():
    plan = planned(SQUARES + '[threads."dark blue"]\n', time_limit=0)
    sheets = [*sheet_pages(plan), *supply_pages(scene_of(plan), A4)]
    named = [(s, w) for s in sheets for w in s.words if w.text == "dark blue"]
    assert len(named) == 3  # runs and threads on the job sheet, threads in the guide
    for sheet, word in named:
        chips = [c.paths[0] for c in sheet.shapes if c.fill == "#00008b"]
        assert any(
            0 < word.x - c[:, 0].max() < 2 and c[:, 1].min() < word.y <= c[:, 1].max()
            for c in chips
        )


def test_in_a_frame_the_proof_is_told_and_no_turning_of_the_quilt():
    rows = dict(summary_rows(planned(SQUARES + '[machine]\nkind = "frame"\ndepth = 4\n')))
    assert "proven" in rows["route"] or "of the bound" in rows["route"]
    assert rows["passes"].startswith("2")
    assert "turning" not in rows
    assert "turning" in dict(summary_rows(planned(SQUARES)))
