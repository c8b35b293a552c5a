"""The command draw."""

from pathlib import Path

from stitchpath.checks.batting import loose_of
from stitchpath.cli.commands.asked import on_batting, picture_kind
from stitchpath.cli.screen import say
from stitchpath.design.read import load_design
from stitchpath.export.files import check_place, write_whole
from stitchpath.export.mark import stamp
from stitchpath.export.picture import draw_top
from stitchpath.lines.threads import thread_colours
from stitchpath.plan import lines_of

__all__ = ["run"]


def run(design: Path, output: Path, batting: str | None, *, force: bool, outside: bool) -> None:
    """Draw the top."""
    kind = picture_kind(output)
    loaded = on_batting(load_design(design, outside=outside), batting)
    check_place(output, never=loaded.reads, force=force)
    top, lines = lines_of(loaded)
    drawn = draw_top(top, lines, kind, thread_colours(loaded), loose=loose_of(loaded, top, lines))
    write_whole({output: stamp(output.name, drawn)}, never=loaded.reads, force=force)
    for each in dict.fromkeys(each for piece in top.pieces for each in piece.told):
        say(f"note: {each}")
    say(f"wrote {output}")
