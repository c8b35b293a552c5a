"""The command compare."""

from collections.abc import Sequence
from pathlib import Path

from rich.table import Table

from stitchpath.base.units import MM_PER, Unit, long_unit
from stitchpath.cli.commands.asked import on_batting, told_profile
from stitchpath.cli.screen import say, seconds
from stitchpath.cli.tables import show
from stitchpath.cli.watch import Watch
from stitchpath.compare import compare
from stitchpath.design.model import Design
from stitchpath.design.read import load_design
from stitchpath.proposals import Proposal, proposals

__all__ = ["run", "show_proposals"]


def run(
    design: Path,
    time_limit: float,
    price: list[str] | None,
    batting: str | None,
    *,
    outside: bool,
    profile: Path | None = None,
) -> None:
    """Compare what the choice of seams, and of retracing, costs."""
    seconds(time_limit)
    asked = load_design(design, outside=outside, profile=told_profile(profile))
    loaded = on_batting(asked.priced(price or []), batting)
    with Watch() as watch:
        watch.now("planning it in several ways")
        choices, left_out = compare(loaded, time_limit=time_limit)
    table = Table(box=None, pad_edge=False)
    long = long_unit(loaded.unit)
    far = (f"sewn {long}", f"thread {long}")
    for name in ("lines", "retracing", "runs", "breaks", *far, "minutes", "proven"):
        table.add_column(name, no_wrap=True)
    for c in choices:
        counts = (
            f"{c.runs}",
            f"{c.breaks}",
            *(f"{v * 1000 / MM_PER[long]:.2f}" for v in (c.metres, c.thread)),
        )
        proven = "yes" if c.optimal else "no"
        table.add_row(
            c.lines, c.retrace.removesuffix(" retracing"), *counts, f"{c.minutes:.0f}", proven
        )
    show(table)
    for said in left_out:
        say(f"left out: {said}")
    _propose(loaded, time_limit)


def _propose(design: Design, time_limit: float) -> None:
    """Show three ways to quilt it that are not hers yet."""
    with Watch() as watch:
        made = list(proposals(design, time_limit=time_limit, now=watch.now))
    show_proposals(made, design.unit)


def show_proposals(made: Sequence[Proposal], unit: Unit) -> None:
    """Show proposals in a table, each with its words.

    Parameters
    ----------
    made
        From `proposals`.
    unit
        Of the design.
    """
    long = long_unit(unit)
    table = Table(box=None, pad_edge=False)
    for name in ("proposal", f"sewn {long}", f"thread {long}", "breaks", "minutes"):
        table.add_column(name, no_wrap=True)
    for each in made:
        if each.metres is not None and each.minutes is not None:
            far = (f"{(v or 0) * 1000 / MM_PER[long]:.2f}" for v in (each.metres, each.thread))
            table.add_row(each.name, *far, f"{each.breaks}", f"{each.minutes:.0f}")
    show("", table)
    for each in made:
        say(
            f"{each.name}: {each.words}"
            if each.problem is None
            else f"left out: {each.name}: {each.problem}"
        )
