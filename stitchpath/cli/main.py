"""The commands; each reads, asks the library and prints, and holds no craft knowledge."""

import gc
import json
import logging
import sys
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Self

import typer

from stitchpath import interrupt
from stitchpath.cli.screen import as_option, ready, say, seconds, settle, show
from stitchpath.cli.thread import thread
from stitchpath.errors import InternalError, StitchpathError
from stitchpath.escape import terminal

if TYPE_CHECKING:
    from rich.console import Console

    from stitchpath.checks.all import Check
    from stitchpath.design.model import Design
    from stitchpath.plan import Plan

__all__ = ["app", "main"]

_OUR_FAULT = 70  # EX_SOFTWARE of sysexits.h (BSD): an internal error
_STOPPED = 130

app = typer.Typer(
    help="Plan the quilting of a small quilt: lines, path, thread.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.add_typer(thread, name="thread")
DesignFile = Annotated[Path, typer.Argument(help="A design file (TOML).", show_default=False)]

TimeLimit = Annotated[
    float, typer.Option(help="Seconds for the proof of the route, counted in work.")
]
Force = Annotated[
    bool, typer.Option("--force", help="Write also over files that stitchpath did not make.")
]
Prices = Annotated[
    list[str] | None,
    typer.Option("--price", help="A price of the route, such as end_inside=150; may be repeated."),
]

OnBatting = Annotated[
    str | None,
    typer.Option(
        "--batting", help='Another batting than the design\'s: "4 in" on its label, or "wool".'
    ),
]


Outside = Annotated[
    bool,
    typer.Option("--outside", help="Let the design name drawings outside its own folder."),
]


def main() -> None:
    """Run the command line; what the user got wrong is one sentence and exit code 1.

    After Ctrl-C nothing is written, and the exit code is 130, as is common practice.
    """
    ready()
    # What a library warns of is for us, not for her.
    warnings.simplefilter("ignore")
    logging.disable(logging.ERROR)
    # A plan is many small objects that hold no rings: looking for some takes a tenth of the time.
    gc.set_threshold(200_000, 50, 50)
    try:
        with interrupt.listen():
            app()
    except StitchpathError as error:
        print(f"stitchpath: {terminal(as_option(error))}", file=sys.stderr)  # noqa: T201
        sys.exit(1)
    except InternalError as error:
        print(f"stitchpath: {error}", file=sys.stderr)  # noqa: T201
        sys.exit(_OUR_FAULT)
    except KeyboardInterrupt:
        sys.exit(_STOPPED)
    finally:
        settle()


@app.command()
def plan(  # noqa: PLR0913 - the options of a command
    design: DesignFile,
    output: Annotated[Path, typer.Option("--output", "-o", help="Folder to write to.")] = Path(
        "exports"
    ),
    formats: Annotated[
        str,
        typer.Option(
            "--format",
            help="What to write, by commas, such as svg,map,guide,moving,dxf,csv; or all.",
        ),
    ] = "svg,json",
    time_limit: TimeLimit = 10.0,
    price: Prices = None,
    batting: OnBatting = None,
    pen: Annotated[
        list[str] | None,
        typer.Option(
            "--pen",
            help="A setting of gcode, hpgl and plotter, such as bed=60x90cm, feed=1500mm, "
            'origin="top left", unit=in, up=M5, down="M3 S1000", first_pass=none, simplify=0.1mm '
            "or low_side=0.5mm; may be repeated.",
        ),
    ] = None,
    *,
    outside: Outside = False,
    closed: Annotated[
        bool,
        typer.Option("--close-gaps", help="Add seams, then fills, until the batting is held."),
    ] = False,
    force: Force = False,
) -> None:
    """Plan a design: write its path and print what it takes."""
    from stitchpath.design.read import load_design  # noqa: PLC0415
    from stitchpath.export.machine.settings import pen_settings  # noqa: PLC0415
    from stitchpath.export.verify import older_files  # noqa: PLC0415
    from stitchpath.export.write import (  # noqa: PLC0415
        FORMATS,
        check_places,
        index_name,
        known_formats,
        save_plan,
    )
    from stitchpath.plan import make_plan  # noqa: PLC0415

    seconds(time_limit)
    wanted = known_formats(formats)
    loaded = _on(load_design(design, outside=outside).priced(price or []), batting)
    settings = pen_settings(pen or [], loaded.unit)
    check_places(loaded, output, wanted, force=force)
    looked = None
    if closed:
        from stitchpath.checks.cures import closed_gaps  # noqa: PLC0415

        with _Watch() as watch:
            watch.now("looking for what would hold the batting")
            looked, said = closed_gaps(loaded)
        loaded = looked.design
        for each in said or ["nothing to add: the batting is held"]:
            say(each)
    with _Watch() as watch:
        made = make_plan(
            loaded, time_limit=time_limit, progress=watch.tell, now=watch.now, looked=looked
        )
        written = save_plan(made, output, wanted, settings, force=force, now=watch.now)
    _print_plan(made)
    if set(FORMATS) <= {"json", *wanted}:
        say(f"wrote {len(written)} files into {output}; begin with {output / index_name(made)}")
    else:
        say("wrote " + ", ".join(str(path) for path in written))
    older = older_files(written[-1])
    if older:
        say(f"note: {', '.join(older)} in {output} are still of another plan; write them again too")


@app.command()
def check(
    design: DesignFile,
    batting: OnBatting = None,
    *,
    outside: Outside = False,
    density: Annotated[
        bool, typer.Option("--density", help="List how densely each block and border is quilted.")
    ] = False,
) -> None:
    """Look over a design for what could go wrong; exit code 1 when there are errors."""
    from stitchpath.checks.batting import region_densities, widest_place  # noqa: PLC0415
    from stitchpath.design.read import load_design  # noqa: PLC0415
    from stitchpath.plan import check_design, look_over  # noqa: PLC0415

    loaded = _on(load_design(design, outside=outside), batting)
    looked = look_over(loaded)
    say(widest_place(looked.top, looked.lines))
    for name, dense in region_densities(looked.top, looked.lines) if density else ():
        say(f"{name}: {dense:.0f} m/m²")
    found = check_design(loaded, looked)
    _print_checks(found)
    if not found:
        say("nothing found")
    if any(c.level == "error" for c in found):
        raise typer.Exit(1)


@app.command()
def compare(
    design: DesignFile,
    time_limit: TimeLimit = 10.0,
    price: Prices = None,
    batting: OnBatting = None,
    *,
    outside: Outside = False,
) -> None:
    """Compare what the choice of seams, and of retracing, costs."""
    from rich.table import Table  # noqa: PLC0415

    from stitchpath.compare import compare  # noqa: PLC0415
    from stitchpath.design.read import load_design  # noqa: PLC0415

    seconds(time_limit)
    loaded = _on(load_design(design, outside=outside).priced(price or []), batting)
    with _Watch() as watch:
        watch.now("planning it in several ways")
        choices, left_out = compare(loaded, time_limit=time_limit)
    table = Table(box=None, pad_edge=False)
    for name in ("lines", "retracing", "runs", "breaks", "sewn", "thread", "minutes", "proven"):
        table.add_column(name, no_wrap=True)
    for c in choices:
        counts = (f"{c.runs}", f"{c.breaks}", f"{c.metres:.1f} m", f"{c.thread:.1f} m")
        proven = "yes" if c.optimal else "no"
        table.add_row(c.lines, c.retrace, *counts, f"{c.minutes:.0f}", proven)
    show(table)
    for said in left_out:
        say(f"left out: {said}")


@app.command()
def draw(
    design: DesignFile,
    output: Annotated[Path, typer.Option("--output", "-o", help="Picture to write, .svg or .png.")],
    batting: OnBatting = None,
    *,
    force: Force = False,
    outside: Outside = False,
) -> None:
    """Draw the top: fabrics, low sides, lines, and rings where the batting is not held."""
    from stitchpath.checks.batting import loose_of  # noqa: PLC0415
    from stitchpath.design.read import load_design  # noqa: PLC0415
    from stitchpath.export.files import check_place, write_whole  # noqa: PLC0415
    from stitchpath.export.mark import stamp  # noqa: PLC0415
    from stitchpath.export.picture import draw_top  # noqa: PLC0415
    from stitchpath.plan import lines_of  # noqa: PLC0415

    kind = _picture_kind(output)
    loaded = _on(load_design(design, outside=outside), batting)
    check_place(output, never=loaded.reads, force=force)
    top, lines = lines_of(loaded)
    drawn = draw_top(top, lines, kind, loose=loose_of(loaded, top, lines))
    write_whole({output: stamp(output.name, drawn)}, never=loaded.reads, force=force)
    for each in dict.fromkeys(each for piece in top.pieces for each in piece.told):
        say(f"note: {each}")
    say(f"wrote {output}")


@app.command()
def blocks(
    name: Annotated[str | None, typer.Argument(help="Trade name of a block to draw.")] = None,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Picture to write, .svg or .png.")
    ] = None,
    *,
    force: Force = False,
) -> None:
    """List the blocks of the library, or draw one."""
    from stitchpath.design.library import library_block, library_names  # noqa: PLC0415

    if name is None:
        for each in library_names():
            block = library_block(each, "blocks")
            say(f"{each}: {', '.join(block.fabrics)}. {block.note}")
        return
    from stitchpath.export.files import write_whole  # noqa: PLC0415
    from stitchpath.export.mark import stamp  # noqa: PLC0415
    from stitchpath.export.picture import draw_block_picture  # noqa: PLC0415
    from stitchpath.top.block import draw_block  # noqa: PLC0415

    block = library_block(name, "blocks")
    drawn = draw_block(block.name, block, block, "in")
    output = output or Path(block.name.replace(" ", "-").replace("'", "") + ".svg")
    picture = draw_block_picture(drawn, _picture_kind(output))
    write_whole({output: stamp(output.name, picture)}, force=force)
    say(f"{block.name}: {len(drawn.patches)} patches of {', '.join(block.fabrics)}. {block.note}")
    say(f"wrote {output}")


@app.command()
def new(
    file: Annotated[Path, typer.Argument(help="Design file to begin.", show_default=False)],
) -> None:
    """Begin a design: a commented file that plans at once."""
    from importlib import resources  # noqa: PLC0415

    from stitchpath.export.files import write_whole  # noqa: PLC0415

    if file.exists():
        raise StitchpathError(f"{file}: found a file already there, expected a new name")
    text = (resources.files("stitchpath.design") / "starter.toml").read_text("utf-8")
    write_whole({file: text.encode()})
    say(f"wrote {file}; plan it with: stitchpath plan {file}")


@app.command()
def schema(
    *,
    of_plan: Annotated[
        bool, typer.Option("--plan", help="Of plan.json instead, for programs that read it.")
    ] = False,
) -> None:
    """Print the JSON Schema of a design file, for editors."""
    from stitchpath.design.read import design_schema  # noqa: PLC0415
    from stitchpath.plan_schema import plan_schema  # noqa: PLC0415

    say(json.dumps(plan_schema() if of_plan else design_schema(), indent=2, ensure_ascii=False))


@app.command()
def verify(
    folder: Annotated[Path, typer.Argument(help="A folder with outputs.")] = Path("exports"),
) -> None:
    """Tell whether the outputs in a folder belong together and their plans hold."""
    from stitchpath.export.verify import verdict, verify_folder  # noqa: PLC0415

    found = verify_folder(folder)
    for each in found:
        say(verdict(each))
        for said in (*each.faults, *(f"note: {note}" for note in each.notes)):
            say(f"  {said}")
    if any(each.faults for each in found):
        raise typer.Exit(1)


def _on(design: "Design", batting: str | None) -> "Design":
    return design if batting is None else design.held_by(batting)


def _picture_kind(path: Path) -> str:
    kind = path.suffix.lower().lstrip(".")
    if kind not in ("svg", "png"):
        raise StitchpathError(
            f"{path}: found the ending {path.suffix!r}, expected a picture ending in .svg or .png"
        )
    return kind


class _Watch:
    """Shows what is being done, and best, bound and gap while the route is searched.

    On a terminal only.

    The bar is full when the first gap of what is being searched is closed.
    """

    def __init__(self, console: "Console | None" = None) -> None:
        from rich.console import Console  # noqa: PLC0415
        from rich.progress import BarColumn, Progress, TextColumn  # noqa: PLC0415

        console = console or Console(stderr=True)
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TextColumn("{task.fields[found]}"),
            console=console,
            disable=not console.is_terminal,
            transient=True,
        )
        self._task = self._bar.add_task("laying out the top", total=None, found="")
        self._label, self._first = "", 0.0

    def __enter__(self) -> Self:
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def now(self, what: str) -> None:
        """Tell what is being done, where there is no gap to show."""
        self._label = ""
        self._bar.remove_task(self._task)  # one that has a total cannot lose it
        self._task = self._bar.add_task(what, total=None, found="")

    def tell(self, label: str, cost: float, bound: float) -> None:
        gap = cost - bound
        if label != self._label:
            self._label, self._first = label, gap
        self._bar.update(
            self._task,
            description=label,
            total=1.0,
            completed=1 - gap / self._first if self._first else 1.0,
            found=f"best {cost / 1000:.2f} m, bound {bound / 1000:.2f} m, "
            f"gap {100 * gap / cost if cost else 0:.2f} %",
        )


def _print_plan(made: "Plan") -> None:
    from rich.table import Table  # noqa: PLC0415

    from stitchpath.told.summary import summary_rows, thread_rows  # noqa: PLC0415

    table = Table(title=made.top.name, show_header=False, title_justify="left")
    for row in summary_rows(made):
        table.add_row(*row)
    header, rows = thread_rows(made)
    threads = Table(*header)
    for cells in rows:
        threads.add_row(*cells)
    show(table, threads)
    _print_checks(made.checks)


def _print_checks(found: "tuple[Check, ...]") -> None:
    for c in found:
        say(f"{c.level}: {c.message}")


if __name__ == "__main__":
    main()
