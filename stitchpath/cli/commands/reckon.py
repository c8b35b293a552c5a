"""The command thread, for a design or a size."""

from collections.abc import Sequence
from pathlib import Path

from rich.table import Table

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.commands.asked import told_profile
from stitchpath.cli.screen import seconds
from stitchpath.cli.tables import show
from stitchpath.design.read import load_design
from stitchpath.plan import make_plan
from stitchpath.thread.from_design import estimate_of
from stitchpath.told.thread_tables import plan_tables, size_tables

__all__ = ["run"]


def run(  # noqa: PLR0913 - the options of a command
    design: Path | None,
    size: str | None,
    fill: str | None,
    spacing: str | None,
    ditch: str,
    *,
    like: Path | None,
    time_limit: float,
    outside: bool,
    profile: Path | None = None,
) -> None:
    """Reckon a design, or a size."""
    seconds(time_limit)
    if (design is None) == (size is None):
        found = "neither" if design is None else "both"
        raise StitchpathError(f"thread: found {found}, expected either a design or --size")
    if design is not None:
        for name, value in (("fill", fill), ("spacing", spacing), ("like", like)):
            if value is not None:
                raise StitchpathError(f"--{name}: found a design too, expected it with --size only")
        _print_design(design, time_limit, outside=outside, profile=profile)
    elif size is not None:
        _print_size(size, fill, spacing, ditch, like)


def _print_design(path: Path, time_limit: float, *, outside: bool, profile: Path | None) -> None:
    design = load_design(path, outside=outside, profile=told_profile(profile))
    _print_tables(plan_tables(make_plan(design, time_limit=time_limit)))


def _print_size(
    size: str, fill: str | None, spacing: str | None, ditch: str, like: Path | None
) -> None:
    design = load_design(like) if like else None
    asked = estimate_of(size, fill=fill, spacing=spacing, ditch=ditch, design=design)
    _print_tables(size_tables(asked))


def _print_tables(tables: Sequence[tuple[tuple[str, ...], list[tuple[str, ...]]]]) -> None:
    """Print tables, the first column to the left and numbers to the right."""
    for header, rows in tables:
        table = Table(box=None, pad_edge=False, show_header=bool(header))
        for k, name in enumerate(header):
            table.add_column(name, justify="right" if k else "left")
        for row in rows:
            table.add_row(*row)
        show(table, "")
