"""The command verify."""

from pathlib import Path

import typer

from stitchpath.cli.screen import say
from stitchpath.export.verify import verdict, verify_folder

__all__ = ["run"]


def run(folder: Path) -> None:
    """Tell whether the outputs in a folder belong together and their plans hold."""
    found = verify_folder(folder)
    for each in found:
        say(verdict(each))
        for said in (*each.faults, *(f"note: {note}" for note in each.notes)):
            say(f"  {said}")
    if any(each.faults for each in found):
        raise typer.Exit(1)
