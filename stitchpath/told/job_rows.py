"""The job sheet: runs in order with thread, metres and time, and all there is to have at hand.

The rows are made once; the CSV file and the printed sheet only lay them out.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np

from stitchpath.base.escape import csv_cell
from stitchpath.base.units import (
    MM_PER,
    format_count,
    format_distance,
    format_length,
    format_spools,
    format_thread,
    long_unit,
)
from stitchpath.hands.feet import FEET
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Run
from stitchpath.thread import Backing, BobbinChange, RunPoint, RunTime
from stitchpath.thread.seam_lengths import whole_parts
from stitchpath.told.directions import Teller, teller_of
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.passes import parked_words, rolled_times, rolling_words
from stitchpath.told.stops import stops_by_run

__all__ = ["JobRow", "clock_time", "cost_rows", "job_rows", "plan_job_csv"]

_COLUMNS = (
    "row", "run", "stage", "thread", "sewn ({long})", "stitches", "top thread ({long})",
    "bobbin thread ({long})", "time (s)", "note",
)  # fmt: skip
HEADERS = {long: tuple(column.format(long=long) for column in _COLUMNS) for long in ("m", "yd")}
_PLACES = {"m": 3, "yd": 4}  # decimals: to the millimetre, and finer


@dataclass(frozen=True, slots=True)
class JobRow:
    """One row of the job sheet; what does not apply is None or empty.

    Attributes
    ----------
    kind
        "stop" for what is done before a run, "pass" where the quilt is rolled in a frame, "run",
        "change bobbin", "total"; then
        "thread", "waste", "buy" by thread; "time" by what takes it; "batting", "backing", "charge",
        "note".
    run, stage
        Numbers.
    thread
        Its name.
    sewn, top, bobbin
        Whole mm: the seam, and thread in it and at its ends.
    stitches, seconds
        Whole numbers.
    note
        In words.
    what
        The note without its prices, of "time"; without "or", of "backing".
    other
        Whether it is another way of what the row before it says.
    """

    kind: str
    run: int | None = None
    stage: int | None = None
    thread: str = ""
    sewn: int | None = None
    stitches: int | None = None
    top: int | None = None
    bobbin: int | None = None
    seconds: int | None = None
    note: str = ""
    what: str = ""
    other: bool = False


def clock_time(seconds: int) -> str:
    """Write a time.

    Examples
    --------
    >>> clock_time(3725)
    '1:02:05'
    """
    minutes, rest = divmod(seconds, 60)
    return f"{minutes // 60}:{minutes % 60:02}:{rest:02}"


@once
def job_rows(plan: Plan) -> tuple[JobRow, ...]:
    """Make the rows of the job sheet.

    Every column adds up: the runs give the total, the threads give it too, and so do the parts of
    the time.

    Parameters
    ----------
    plan
        The plan.
    """
    sewn = whole_parts(np.array([run.seam for run in plan.thread.runs])).tolist()
    teller = teller_of(plan)
    return (
        *_run_rows(plan, sewn, teller),
        *_passes(plan),
        *_threads(plan, sewn),
        *cost_rows(plan),
        *(JobRow("note", note=check.message) for check in plan.checks),
    )


def cost_rows(plan: Plan) -> Iterator[JobRow]:
    """List what takes the time, the cloth to cut, and what is charged.

    Parameters
    ----------
    plan
        The plan.
    """
    yield from _times(plan)
    yield from _cloth(plan)
    yield from _charges(plan)


def _run_rows(plan: Plan, sewn: list[int], teller: Teller) -> Iterator[JobRow]:
    """List runs, each with the bobbin changes in it, and their total."""
    changes: dict[int, list[BobbinChange]] = {}
    for change in sorted(plan.thread.changes, key=lambda c: (c.stop.run, c.stop.along)):
        changes.setdefault(change.stop.run, []).append(change)
    rolling, parked, by_run = rolling_words(plan), parked_words(plan), stops_by_run(plan)
    rows = []
    for run, uses, spent, length in zip(plan.runs, plan.thread.runs, plan.times, sewn, strict=True):
        stop = by_run[run.number][0]
        if not stop.plain:
            told = " ".join(stop.but("end", "roll", "go", "test"))
            yield JobRow("stop", run.number, run.stage, note=told)
        if run.number in rolling:
            yield JobRow("pass", run.number, run.stage, note=f"{rolling[run.number]}")
        begin, end = teller.ends(run)
        rows.append(
            JobRow(
                "run", run.number, run.stage, run.thread, length, uses.stitches, uses.top,
                uses.bobbin, spent.total, f"from {begin}, to {end}{_roll(plan, run)}",
            )
        )  # fmt: skip
        yield rows[-1]
        for leg, _ in run.parked:
            yield JobRow("pass", run.number, run.stage, note=f"{parked[run.number, leg]}")
        for change in changes.get(run.number, ()):
            yield JobRow(
                "change bobbin", run.number, run.stage, change.thread, note=_told(change, teller)
            )
    yield JobRow(
        "total",
        sewn=sum(sewn),
        stitches=sum(row.stitches or 0 for row in rows),
        top=sum(row.top or 0 for row in rows),
        bobbin=sum(row.bobbin or 0 for row in rows),
        seconds=sum(row.seconds or 0 for row in rows),
    )


def _passes(plan: Plan) -> Iterator[JobRow]:
    """List what is done at each pass of a quilt in a frame."""
    for told in pass_sheets(plan):
        yield JobRow("at a pass", stage=told.shown.stage, note=told.title, what="title")
        for what, said in told.rows:
            yield JobRow("at a pass", stage=told.shown.stage, note=f"{what}: {said}")


def _told(change: BobbinChange, teller: Teller) -> str:
    """Tell a bobbin change, and where it would give out."""
    where = "at the end of the run"
    if change.where != "run end":
        where = f"{_spot(change.stop, teller)}{', at a turn' if change.where == 'pivot' else ''}"
    dry = change.gives_out
    if dry is None:
        return f"bobbin {change.bobbin} out, {where}"
    run = "" if dry.run == change.stop.run else f"in run {dry.run} "
    return f"bobbin {change.bobbin} out, {where}; it would give out {run}{_spot(dry, teller)}"


def _spot(place: RunPoint, teller: Teller) -> str:
    far = format_distance(place.along, teller.plan.top.unit)
    return f"after {far} ({teller.spot(place)})"


def _threads(plan: Plan, sewn: list[int]) -> Iterator[JobRow]:
    by_run = list(zip(plan.thread.runs, sewn, strict=True))
    for use in plan.thread.uses:
        yield JobRow(
            "thread",
            thread=use.name,
            sewn=sum(length for run, length in by_run if run.thread == use.name),
            stitches=use.stitches,
            top=use.top,
            bobbin=use.bobbin,
            note=f"{format_count(use.runs, 'run')}, {format_count(use.bobbins, 'bobbin')}",
        )
    for use in plan.thread.uses:
        yield JobRow("waste", thread=use.name, top=use.waste_top, bobbin=use.waste_bobbin)
    for bought in plan.needs.spools:
        spools = format_spools(bought.spools, plan.top.unit)
        need = format_thread(bought.need, plan.top.unit)
        yield JobRow(
            "buy",
            thread=bought.thread,
            note=f"{spools}: {need} are needed, waste and all",
        )


_PARTS = {
    "stitching": "stitching",
    "pivots": "turns with the needle down",
    "ends": "starting, securing and trimming",
    "returns": "coming back to a place",
    "feet": "changes of the foot",
    "bobbins": "bobbin changes",
    "threads": "thread changes",
    "advances": "rolling the quilt on",
    "loading": "loading the quilt",
    "tension": "oiling and trying the tension",
    "basting": "basting the top and the sides",
    "clamps": "side clamps",
    "unloading": "taking the quilt out of the frame",
    "fusing": "fusing in the frame",
}
assert list(_PARTS) == [part.name for part in fields(RunTime)][1:]  # noqa: S101 - ours


def _times(plan: Plan) -> Iterator[JobRow]:
    """List what takes the time, each with its price in brackets."""
    prices = _prices(plan)
    for part, words in _PARTS.items():
        seconds = sum(getattr(spent, part) for spent in plan.times)
        if seconds:
            note = f"{words} ({prices[part]})"
            yield JobRow("time", seconds=seconds, note=note, what=words)


def _prices(plan: Plan) -> dict[str, str]:
    """Tell what the time is reckoned with."""
    pace, unit = plan.tariff.pace, plan.top.unit
    kinds = dict.fromkeys(
        plan.lines[leg.line].kind if leg.line >= 0 else "travel"
        for run in plan.runs
        for leg in run.legs
    )
    speeds = (
        f"{kind} {format_length(60 * getattr(pace.speed, kind), unit)}" for kind in sorted(kinds)
    )
    return {
        "stitching": f"in a minute: {', '.join(speeds)}",
        "pivots": _pivots(plan),
        "ends": f"{pace.start:g} s a start, {pace.end_inside:g} s an end inside, "
        f"{pace.end_trimmed:g} s one trimmed",
        "returns": f"{pace.come_back:g} s each",
        "feet": f"{pace.foot:g} s each",
        "bobbins": f"{pace.bobbin:g} s each",
        "threads": f"{pace.thread:g} s each",
        "advances": f"{format_count(rolled_times(plan), 'time')}, {pace.advance:g} s each",
        "loading": _whose(plan, "load", "published: 45 to 60 min"),
        "tension": _whose(plan, "tension"),
        "basting": f"{pace.baste:g} s a pass; {_whose(plan, 'baste')}",
        "clamps": f"{pace.clamps:g} s at each advance; {_whose(plan, 'clamps')}",
        "unloading": _whose(plan, "unload"),
        "fusing": f"{pace.fuse:g} s a pass; {_whose(plan, 'fuse')}",
    }


def _whose(plan: Plan, key: str, usual: str = "our own guess") -> str:
    """Tell where a figure is from: her pace, or else."""
    return usual if getattr(plan.design.pace, key) is None else "your pace"


def _roll(plan: Plan, run: Run) -> str:
    """Tell the thickest roll that a run needs, where the throat of the machine is known."""
    if plan.rolls is None:
        return ""
    roll, unit = plan.rolls.runs[run.number - 1], plan.top.unit
    thick, width = format_length(roll.thick, unit), format_length(roll.width, unit)
    return f"; right of the needle at most {width}, a roll {thick} thick"


def _pivots(plan: Plan) -> str:
    """Tell what a turn takes: the stop, and in the middle of the quilt half a turn."""
    tariff = plan.tariff
    middle = np.array([[plan.top.width / 2, plan.top.height / 2]])
    half = tariff.half_turn(middle)[FEET.index("walking"), 0]
    if FEET.index("walking") not in tariff.foot:
        return f"{tariff.pace.still:g} s each"
    return f"{tariff.pace.pivot:g} s a stop, half a turn of the quilt {half:.1f} s more"


def _cloth(plan: Plan) -> Iterator[JobRow]:
    unit, needs = plan.top.unit, plan.needs
    width, height = (format_length(v, unit) for v in (needs.batting.width, needs.batting.height))
    yield JobRow("batting", note=f"cut {width} by {height}")
    cloth = format_length(plan.design.backing.width, unit)
    for backing, other in zip(needs.backings, (False, True), strict=True):
        what = f"{_joined(plan, backing)}, from fabric {cloth} wide"
        yield JobRow("backing", note="or " * other + what, what=what, other=other)


def _joined(plan: Plan, backing: Backing) -> str:
    unit = plan.top.unit
    length, fabric = (format_length(v, unit) for v in (backing.length, backing.fabric))
    if backing.lengths == 1:
        return f"one length of {length}, running {backing.way} the quilt"
    seams = "seam" if backing.seams == 1 else "seams"
    said = (
        f"{backing.lengths} lengths of {length} (in all {fabric}), "
        f"{seams} running {backing.way} the quilt"
    )
    if plan.design.machine.kind != "frame":
        return said
    return f"{said}, {'which makes a ridge on the roll' if backing.ridge else 'along the bars'}"


def _charges(plan: Plan) -> Iterator[JobRow]:
    bill = plan.needs.bill
    if bill is None:
        return
    for line in bill.lines:
        quantity = f"{line.quantity:.3f}".rstrip("0").rstrip(".")
        how = f": {quantity} {line.unit} at {line.price:g}" if line.unit else ""
        yield JobRow("charge", note=f"{line.what}{how}: {line.amount} {bill.currency}".rstrip())
    yield JobRow("charge", note=f"in all: {bill.total} {bill.currency}".rstrip())


def plan_job_csv(plan: Plan) -> str:
    """Write the job sheet as comma-separated values (RFC 4180), one header for all rows.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    str
        CSV; lengths in metres to the millimetre, or in yards where she measures in inches; times
        in seconds. The columns add up as they are written.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    long = long_unit(plan.top.unit)
    writer.writerow(HEADERS[long])
    rows = job_rows(plan)
    runs = [row for row in rows if row.kind == "run"]
    for row in rows:
        summed = [run for run in runs if row.kind == "total" or row.thread == run.thread]
        lengths = _written(summed if row.kind in ("total", "thread") else [row], long)
        writer.writerow(
            [row.kind, row.run, row.stage, csv_cell(row.thread), lengths[0], row.stitches,
             *lengths[1:], row.seconds, csv_cell(row.note)]
        )  # fmt: skip
    return text.getvalue()


def _written(rows: Sequence[JobRow], long: Literal["m", "yd"]) -> list[str]:
    """Write seam, top and bobbin thread of rows, each the sum of what is written of one row."""
    found = []
    for lengths in zip(*((row.sewn, row.top, row.bobbin) for row in rows), strict=True):
        known = [length for length in lengths if length is not None]
        unit = 10 ** _PLACES[long] / MM_PER[long]
        whole = sum(round(length * unit) for length in known)
        found.append(f"{whole / 10 ** _PLACES[long]:.{_PLACES[long]}f}" if known else "")
    return found
