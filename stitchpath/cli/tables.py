"""Tables on the screen, and what was found."""

import sys
from collections.abc import Iterable

from rich.console import Console, RenderableType
from rich.table import Table

from stitchpath.base.findings import Check
from stitchpath.cli.screen import let_go, say
from stitchpath.told.drawing import drawing_rows
from stitchpath.top.build import Top

__all__ = ["print_checks", "show", "show_drawing"]


class _Patient(Console):
    """A console that goes on when no one reads any more, as the command has to."""

    def on_broken_pipe(self) -> None:
        let_go(sys.stdout)


def show(*parts: RenderableType) -> None:
    """Print tables."""
    console = _Patient(highlight=False, markup=False)
    for part in parts:
        console.print(part)


def show_drawing(top: Top) -> None:
    """Print what was taken of a drawing, where the top is drawn."""
    if top.taken is None:
        return
    header, rows = drawing_rows(top)
    table = Table(*header, title="The drawing", title_justify="left")
    for row in rows:
        table.add_row(*row)
    show(table)


def print_checks(found: Iterable[Check]) -> None:
    """Print what was found, a line for each."""
    for each in found:
        say(f"{each.level}: {each.message}")
