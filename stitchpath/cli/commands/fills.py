"""The command fills: what each looks like and takes."""

from pathlib import Path

from rich.table import Table

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import MM_PER, format_distance, format_length, parse_length
from stitchpath.cli.commands.asked import picture_kind
from stitchpath.cli.screen import say
from stitchpath.cli.tables import show
from stitchpath.cli.watch import Watch
from stitchpath.export.files import write_whole
from stitchpath.export.mark import stamp
from stitchpath.export.swatches import draw_swatches
from stitchpath.told.job_rows import clock_time
from stitchpath.told.swatches import DIFFICULTY, SIDE, WORDS, swatch_rows

__all__ = ["run"]

_LEAST, _MOST = 3.0, 60.0  # mm: swatches of 6 in show nothing of what is finer or wider


def run(spacing: str, output: Path | None, *, force: bool) -> None:
    """Tell of every fill, and draw them all on four grounds."""
    try:
        wanted = parse_length(spacing, "in", least=_LEAST, most=_MOST)
    except StitchpathError as error:
        raise StitchpathError(f"--spacing: {error}") from None
    with Watch() as watch:
        rows = list(swatch_rows(wanted / MM_PER["in"], watch.now))
    table = Table(
        "fill", "what is stitched", "foot", "wants", "drawn at", f"{SIDE} in square", box=None
    )
    for row in rows:
        takes = f"{format_distance(row.length, 'in')}, {clock_time(round(row.seconds))}"
        takes = f"{takes} for {row.measured}" if row.measured != "a square" else takes
        takes = takes if row.length else "no room"
        apart = format_length(row.spacing * MM_PER["in"], "in")
        table.add_row(row.style, WORDS[row.style], row.foot, DIFFICULTY[row.style], apart, takes)
    show(table)
    say("motif rows: rows of a line of yours, from a drawing.")
    if output is not None:
        picture = draw_swatches(rows, picture_kind(output), "in")
        write_whole({output: stamp(output.name, picture)}, force=force)
        say(f"wrote {output}")
