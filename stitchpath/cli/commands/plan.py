"""The command plan."""

from pathlib import Path

from rich.table import Table

from stitchpath.base.errors import unknown_name
from stitchpath.checks.cures import closed_gaps
from stitchpath.cli.commands.asked import asked_design, on_batting
from stitchpath.cli.screen import say, seconds
from stitchpath.cli.tables import print_checks, show, show_drawing
from stitchpath.cli.watch import Watch
from stitchpath.export.machine.settings import pen_settings
from stitchpath.export.verify import older_files
from stitchpath.export.write import (
    FORMATS,
    check_places,
    guide_options,
    index_name,
    known_formats,
    save_plan,
)
from stitchpath.plan import Plan, make_plan
from stitchpath.told.summary import summary_rows, thread_rows

__all__ = ["run"]

_SIZES = ("usual", "large")


def run(  # noqa: PLR0913 - the options of a command
    design: Path,
    output: Path,
    formats: str,
    *,
    time_limit: float,
    price: list[str] | None,
    batting: str | None,
    pen: list[str] | None,
    paper: str,
    printed: str,
    words: bool,
    size: str | None,
    unit: str | None,
    outside: bool,
    profile: Path | None = None,
    closed: bool,
    force: bool,
) -> None:
    """Write the path of a design and print what it takes."""
    seconds(time_limit)
    if printed not in _SIZES:
        raise unknown_name("", "size", printed, _SIZES).of_argument("print")
    known_formats(formats, paper=paper)  # what nobody knows is told before a large design is read
    asked = asked_design(design, size=size, unit=unit, outside=outside, profile=profile)
    loaded = on_batting(asked.priced(price or []), batting)
    wanted = known_formats(formats, loaded.unit, paper)
    settings = pen_settings(pen or [], loaded.unit)
    settings |= guide_options(words=words, large=printed == "large", formats=wanted)
    check_places(loaded, output, wanted, force=force)
    looked = None
    if closed:
        with Watch() as watch:
            watch.now("looking for what would hold the batting")
            looked, said = closed_gaps(loaded, now=watch.now)
        loaded = looked.design
        for each in said or ["nothing to add: the batting is held"]:
            say(each)
    with Watch() as watch:
        made = make_plan(
            loaded, time_limit=time_limit, progress=watch.tell, now=watch.now, looked=looked
        )
        written = save_plan(made, output, wanted, settings, force=force, now=watch.now)
    _print_plan(made)
    if set(FORMATS) <= {"plan", *wanted}:
        say(f"wrote {len(written)} files into {output}; begin with {output / index_name(made)}")
    else:
        say("wrote " + ", ".join(str(path) for path in written))
    older = older_files(written[-1])
    if older:
        say(f"note: {', '.join(older)} in {output} are still of another plan; write them again too")


def _print_plan(made: Plan) -> None:
    table = Table(title=made.top.name, show_header=False, title_justify="left")
    for row in summary_rows(made):
        table.add_row(*row)
    header, rows = thread_rows(made)
    threads = Table(*header)
    for cells in rows:
        threads.add_row(*cells)
    show(table, threads)
    show_drawing(made.top)
    print_checks(made.checks)
