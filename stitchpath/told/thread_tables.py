"""Thread, bobbins, time and cloth as tables of text, for the terminal."""

from typing import TypeAlias

from stitchpath.base.units import MM_PER, format_length, format_spools, long_unit
from stitchpath.plan import Plan
from stitchpath.thread import Range, Ratio
from stitchpath.thread.quote import SizeEstimate
from stitchpath.told.job_rows import JobRow, clock_time, job_rows

__all__ = ["Table", "plan_tables", "ratio_text", "size_tables"]

Table: TypeAlias = tuple[tuple[str, ...], list[tuple[str, ...]]]
"""Header and rows."""

_MOVERS = 3
_TOLD = ("change bobbin", "buy", "time", "batting", "backing", "charge")


def plan_tables(plan: Plan) -> list[Table]:
    """Lay out what a plan takes: by thread, then everything to know and to have at hand."""
    rows, long = job_rows(plan), long_unit(plan.top.unit)

    def measured(row: JobRow, name: str) -> tuple[str, ...]:
        three = (row.sewn, row.top, row.bobbin)
        lengths = ["" if v is None else f"{v / MM_PER[long]:.2f}" for v in three]
        return name, *lengths, "" if row.stitches is None else f"{row.stitches}", row.note

    by_thread = [
        *(measured(row, row.thread) for row in rows if row.kind == "thread"),
        *(measured(row, f"waste, {row.thread}") for row in rows if row.kind == "waste"),
    ]
    told: list[tuple[str, ...]] = [_told(row) for row in rows if row.kind in _TOLD]
    total = sum(spent.total for spent in plan.times)
    told.append(("time in all", clock_time(total)))
    header = ("thread", f"sewn {long}", f"top {long}", f"bobbin {long}", "stitches", "")
    return [(header, by_thread), ((), told)]


def _told(row: JobRow) -> tuple[str, str]:
    """Word a row of the job sheet that is no sum of lengths."""
    if row.kind == "change bobbin":
        return f"bobbin, run {row.run}", f"{row.thread}: {row.note}"
    if row.kind == "buy":
        return "buy", f"{row.thread}: {row.note}"
    if row.seconds is not None:
        return row.kind, f"{clock_time(row.seconds)} {row.note}"
    return row.kind, row.note


def size_tables(asked: SizeEstimate) -> list[Table]:
    """Lay out an estimate by size: low, likely and high, and what moves it most."""
    found, unit, long = asked.estimate, asked.unit, long_unit(asked.unit)

    def three(name: str, value: Range) -> tuple[str, ...]:
        return name, *(f"{v / MM_PER[long]:.1f}" for v in (value.low, value.likely, value.high))

    bobbins = found.bobbins
    ranges = [
        three(f"sewn, {long}", found.seam),
        three(f"top thread, {long}", found.top),
        three(f"bobbin thread, {long}", found.bobbin),
        three(f"thread in all, {long}", found.thread),
        ("bobbins", *(f"{n:.0f}" for n in (bobbins.low, bobbins.likely, bobbins.high))),
        ("time, h:min:s", *_clock(found.seconds)),
        ("thread to buy", *(format_spools(s, unit) for s in asked.spools)),
    ]
    planned = found.planned
    as_planned = [
        three(f"sewn, {long}", planned.seam),
        three(f"thread in all, {long}", planned.thread),
        ("time, h:min:s", *_clock(planned.seconds)),
    ]
    if found.loading:
        loading, rolling = (clock_time(round(s)) for s in (found.loading, found.rolling))
        passes = f"rolling on, {asked.passes} {'pass' if asked.passes == 1 else 'passes'}"
        as_planned += [
            ("  loading, tension, unloading", "", loading, ""), (f"  {passes}", "", rolling, "")
        ]  # fmt: skip
    movers: list[tuple[str, ...]] = [
        (
            swing.what,
            f"{swing.value.low:.3g} to {swing.value.high:.3g} {swing.measure}".rstrip(),
            " to ".join(f"{v / MM_PER[long]:.1f}" for v in sorted(swing.thread)),
        )
        for swing in found.swings[:_MOVERS]
    ]
    width, height = (format_length(v, unit) for v in (asked.batting.width, asked.batting.height))
    back = asked.backing
    cloth: list[tuple[str, ...]] = [
        ("batting", f"cut {width} by {height}"),
        (
            "backing",
            f"{back.lengths} of {format_length(back.length, unit)}, running {back.way} the quilt",
        ),
    ]
    return [
        (("", "low", "likely", "high"), ranges),
        (("at just this pace and stitch", "low", "likely", "high"), as_planned),
        *_charged(asked),
        (("what moves it most", "between", f"thread in all, {long}"), movers),
        ((), cloth),
    ]


def _clock(seconds: Range) -> tuple[str, ...]:
    return tuple(clock_time(round(s)) for s in (seconds.low, seconds.likely, seconds.high))


def _charged(asked: SizeEstimate) -> list[Table]:
    """Lay out the bills, line by line, and their sums."""
    if asked.bills is None:
        return []
    lines = [
        {line.what.partition(",")[0]: f"{line.amount}" for line in one.lines} for one in asked.bills
    ]
    names = list(dict.fromkeys(name for one in lines for name in one))
    names.sort(key=lambda name: name == "tax")
    rows = [(name, *(one.get(name, "") for one in lines)) for name in names]
    rows.append(("in all", *(f"{one.total}" for one in asked.bills)))
    currency = asked.bills[0].currency
    return [((f"charged{f', {currency}' if currency else ''}", "low", "likely", "high"), rows)]


def ratio_text(ratio: Ratio, samples: int) -> str:
    """Say a measured ratio, with the line to put into a design."""
    spread = (
        f", spread {ratio.top_spread:.3f} and {ratio.bobbin_spread:.3f}"
        if samples > 1
        else "; unpick three or more to see how far they spread"
    )
    keys = [f"top = {ratio.top:.3f}", f"bobbin = {ratio.bobbin:.3f}"]
    if samples > 1:
        keys += [
            f"top_spread = {ratio.top_spread:.3f}",
            f"bobbin_spread = {ratio.bobbin_spread:.3f}",
        ]
    if ratio.per_mm is not None:
        keys.append(f"per_inch = {ratio.per_mm * 25.4:g}")
    return (
        f"{ratio.top:.3f} of top and {ratio.bobbin:.3f} of bobbin thread to one of seam{spread}\n"
        "put this under [stitching] in the design:\n"
        f"ratio = {{ {', '.join(keys)} }}"
    )
