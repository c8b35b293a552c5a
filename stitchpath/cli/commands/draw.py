"""The command draw."""

from pathlib import Path

from stitchpath.checks.batting import loose_of
from stitchpath.cli.commands.asked import asked_design, on_batting, picture_kind
from stitchpath.cli.screen import say
from stitchpath.cli.tables import show_drawing
from stitchpath.export.files import check_place, write_whole
from stitchpath.export.mark import stamp
from stitchpath.export.picture import draw_top
from stitchpath.export.taken import draw_taken
from stitchpath.lines.threads import thread_colours
from stitchpath.plan import lines_of

__all__ = ["run"]


def run(
    design: Path,
    output: Path,
    batting: str | None,
    *,
    size: str | None,
    unit: str | None,
    taken: bool,
    force: bool,
    outside: bool,
) -> None:
    """Draw the top."""
    kind = picture_kind(output)
    loaded = on_batting(asked_design(design, size=size, unit=unit, outside=outside), batting)
    check_place(output, never=loaded.reads, force=force)
    top, lines = lines_of(loaded)
    if taken:
        drawn = draw_taken(top, kind)
    else:
        loose = loose_of(loaded, top, lines)
        drawn = draw_top(top, lines, kind, thread_colours(loaded), loose=loose)
    write_whole({output: stamp(output.name, drawn)}, never=loaded.reads, force=force)
    for each in dict.fromkeys(each for piece in top.pieces for each in piece.told):
        say(f"note: {each}")
    show_drawing(top)
    say(f"wrote {output}")
