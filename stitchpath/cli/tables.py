"""Tables on the screen, and what was found."""

import sys
from collections.abc import Iterable

from rich.console import Console, RenderableType

from stitchpath.cli.screen import let_go, say
from stitchpath.findings import Check

__all__ = ["print_checks", "show"]


class _Patient(Console):
    """A console that goes on when no one reads any more, as the command has to."""

    def on_broken_pipe(self) -> None:
        let_go(sys.stdout)


def show(*parts: RenderableType) -> None:
    """Print tables."""
    console = _Patient(highlight=False, markup=False)
    for part in parts:
        console.print(part)


def print_checks(found: Iterable[Check]) -> None:
    """Print what was found, a line for each."""
    for each in found:
        say(f"{each.level}: {each.message}")
