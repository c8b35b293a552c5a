"""The command thread, for a design or a size."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.table import Table

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.commands.asked import told_profile
from stitchpath.cli.screen import seconds
from stitchpath.cli.tables import show
from stitchpath.design.profile import read_profile
from stitchpath.design.read import load_design
from stitchpath.plan import make_plan
from stitchpath.thread.quote import Asked, estimate_of
from stitchpath.told.thread_tables import plan_tables, size_tables

__all__ = ["of_design", "of_size"]


def of_design(
    design: Path | None,
    asked: Mapping[str, object],
    *,
    time_limit: float,
    outside: bool,
    profile: Path | None = None,
) -> None:
    """Reckon a design.

    Parameters
    ----------
    design
        Its file.
    asked
        What is asked of a size only.
    time_limit, outside, profile
        As for plan.
    """
    seconds(time_limit)
    if design is None:
        raise StitchpathError("thread: found neither, expected either a design or --size")
    for name, value in asked.items():
        if value is not None:
            option = name.replace("_", "-")
            raise StitchpathError(f"--{option}: found a design too, expected it with --size only")
    found = load_design(design, outside=outside, profile=told_profile(profile))
    _print_tables(plan_tables(make_plan(found, time_limit=time_limit)))


def of_size(
    design: Path | None, asked: Mapping[str, Any], like: Path | None, profile: Path | None
) -> None:
    """Reckon a size.

    Parameters
    ----------
    design
        None: either a design or a size.
    asked
        As `Asked` has it.
    like
        A design whose machine, stitches and charges hold.
    profile
        A shop's profile.
    """
    if design is not None:
        raise StitchpathError("thread: found both, expected either a design or --size")
    shop = told_profile(profile)
    one = load_design(like, profile=shop) if like else None
    said = None if shop is None else read_profile(shop)
    _print_tables(size_tables(estimate_of(Asked(**asked), design=one, profile=said)))


def _print_tables(tables: Sequence[tuple[tuple[str, ...], list[tuple[str, ...]]]]) -> None:
    """Print tables, the first column to the left and numbers to the right."""
    for header, rows in tables:
        table = Table(box=None, pad_edge=False, show_header=bool(header))
        for k, name in enumerate(header):
            table.add_column(name, justify="right" if k else "left")
        for row in rows:
            table.add_row(*row)
        show(table, "")
