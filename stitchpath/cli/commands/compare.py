"""The command compare."""

from pathlib import Path

from rich.table import Table

from stitchpath.cli.commands.asked import on_batting
from stitchpath.cli.screen import say, seconds
from stitchpath.cli.tables import show
from stitchpath.cli.watch import Watch
from stitchpath.compare import compare
from stitchpath.design.read import load_design
from stitchpath.units import MM_PER, long_unit

__all__ = ["run"]


def run(
    design: Path,
    time_limit: float,
    price: list[str] | None,
    batting: str | None,
    *,
    outside: bool,
) -> None:
    """Compare what the choice of seams, and of retracing, costs."""
    seconds(time_limit)
    loaded = on_batting(load_design(design, outside=outside).priced(price or []), batting)
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
