"""The commands and their options; behind the one door of each lies what it does.

A command's module is loaded when the command is given, and with it all that it works with: help
comes at once, and modules keep their imports at the top.
"""

import gc
import logging
import sys
import warnings
from pathlib import Path
from typing import Annotated

import typer

from stitchpath.base import interrupt
from stitchpath.base.errors import InternalError, StitchpathError
from stitchpath.base.escape import terminal
from stitchpath.cli.screen import as_option, ready, settle
from stitchpath.cli.thread import thread
from stitchpath.export.formats import ABOUT, CHOICES, PAPERS

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


def _version(asked: bool) -> None:  # noqa: FBT001 - as typer calls it
    if asked:
        from stitchpath import __version__  # noqa: PLC0415 - a door: it takes as long as all of help

        typer.echo(f"stitchpath {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    *,
    version: Annotated[
        bool, typer.Option("--version", help="Tell the version.", callback=_version, is_eager=True)
    ] = False,
) -> None: ...


def _several() -> str:
    """Say what a word for several formats stands for."""
    return "; ".join(f"{name}: {what}" for name, what in CHOICES.items())


DesignFile = Annotated[
    Path, typer.Argument(help="A design file (TOML), or a drawing.", show_default=False)
]
TomlFile = Annotated[Path, typer.Argument(help="A design file (TOML).", show_default=False)]

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


Profile = Annotated[
    Path | None,
    typer.Option(
        help="A shop's profile: machine, pace, stitching and charges that the design does not "
        "say. [default: stitchpath/profile.toml in your folder for settings, if it is there]",
        show_default=False,
    ),
]


OfSize = Annotated[
    str | None,
    typer.Option("--size", help='Of a drawing: longer side of the finished top, such as "60 in".'),
]
OfUnit = Annotated[
    str | None, typer.Option("--unit", help="Or what a unit of the drawing is: mm, cm or in.")
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
            help=f"What to write, by commas. {_several()}; or any of {', '.join(ABOUT)}. "
            "NAME.plan.json is always written.",
        ),
    ] = "path",
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
    paper: Annotated[
        str,
        typer.Option(
            help=f"What to print on: {', '.join(PAPERS)}. [default: as the formats say]",
            show_default=False,
        ),
    ] = "",
    printed: Annotated[
        str, typer.Option("--print", help="usual, or large: the guide in large print.")
    ] = "usual",
    words: Annotated[
        bool, typer.Option("--words", help="Add every step in words to the printed guide.")
    ] = False,
    size: OfSize = None,
    unit: OfUnit = None,
    outside: Outside = False,
    profile: Profile = None,
    closed: Annotated[
        bool,
        typer.Option("--close-gaps", help="Add seams, then fills, until the batting is held."),
    ] = False,
    suggest: Annotated[
        bool,
        typer.Option(
            "--suggest",
            help="Plan three ways to quilt it instead (outline only, custom, all over) and write "
            "them side by side: NAME.suggested.html and .pdf.",
        ),
    ] = False,
    force: Force = False,
) -> None:
    """Plan a design: write its path and print what it takes."""
    if suggest:
        from stitchpath.cli.commands import suggest as suggesting  # noqa: PLC0415 - its door

        asked = suggesting.Asked(design, size, unit, profile, outside=outside)
        suggesting.run(asked, output, time_limit, price, batting, paper, force=force)
        return
    from stitchpath.cli.commands import plan as command  # noqa: PLC0415 - its door

    command.run(
        design,
        output,
        formats,
        time_limit=time_limit,
        price=price,
        batting=batting,
        pen=pen,
        paper=paper,
        printed=printed,
        words=words,
        size=size,
        unit=unit,
        outside=outside,
        profile=profile,
        closed=closed,
        force=force,
    )


@app.command()
def check(
    design: DesignFile,
    batting: OnBatting = None,
    size: OfSize = None,
    unit: OfUnit = None,
    *,
    outside: Outside = False,
    profile: Profile = None,
    density: Annotated[
        bool, typer.Option("--density", help="List how densely each block and border is quilted.")
    ] = False,
) -> None:
    """Look over a design for what could go wrong; exit code 1 when there are errors."""
    from stitchpath.cli.commands import check as command  # noqa: PLC0415 - its door

    command.run(
        design, batting, size=size, unit=unit, outside=outside, profile=profile, density=density
    )


@app.command()
def compare(
    design: TomlFile,
    time_limit: TimeLimit = 10.0,
    price: Prices = None,
    batting: OnBatting = None,
    profile: Profile = None,
    *,
    outside: Outside = False,
) -> None:
    """Compare what the choice of seams, and of retracing, costs."""
    from stitchpath.cli.commands import compare as command  # noqa: PLC0415 - its door

    command.run(design, time_limit, price, batting, outside=outside, profile=profile)


@app.command()
def draw(
    design: DesignFile,
    output: Annotated[Path, typer.Option("--output", "-o", help="Picture to write, .svg or .png.")],
    batting: OnBatting = None,
    size: OfSize = None,
    unit: OfUnit = None,
    *,
    taken: Annotated[
        bool,
        typer.Option(
            "--taken", help="What was taken of the drawing of the top, and what was healed."
        ),
    ] = False,
    force: Force = False,
    outside: Outside = False,
) -> None:
    """Draw the top: fabrics, low sides, lines, and rings where the batting is not held."""
    from stitchpath.cli.commands import draw as command  # noqa: PLC0415 - its door

    command.run(
        design,
        output,
        batting,
        size=size,
        unit=unit,
        taken=taken,
        force=force,
        outside=outside,
    )


@app.command("import")
def import_(
    drawing: Annotated[Path, typer.Argument(help="A drawing: SVG or DXF.", show_default=False)],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Design file to write, ending in .toml.")
    ],
    size: OfSize = None,
    unit: OfUnit = None,
    *,
    force: Force = False,
) -> None:
    """Make a design of a drawing: fabrics by colour, patches and roles as found, with comments."""
    from stitchpath.cli.commands import from_drawing as command  # noqa: PLC0415 - its door

    command.run(drawing, output, size=size, unit=unit, force=force)


@app.command()
def page(
    design: Annotated[
        Path | None,
        typer.Argument(help="A design or a drawing of a top to begin with.", show_default=False),
    ] = None,
    folder: Annotated[
        Path | None,
        typer.Option(
            help="The folder of your designs, the only one that is read and written. "
            "[default: that of the design, else this one]",
            show_default=False,
        ),
    ] = None,
    port: Annotated[int, typer.Option(help="Where to listen; 0 is any that is free.")] = 0,
    profile: Profile = None,
    *,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the browser.")
    ] = True,
) -> None:
    """Open the planning page in the browser: the whole job without a line of TOML."""
    from stitchpath.cli.commands import page as command  # noqa: PLC0415 - its door

    command.run(design, folder, port, browser=browser, profile=profile)


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
    if name is None:
        from stitchpath.cli.commands import blocks as listing  # noqa: PLC0415 - the list's door

        listing.run()
        return
    from stitchpath.cli.commands import block as command  # noqa: PLC0415 - the picture's door

    command.run(name, output, force=force)


@app.command()
def fills(
    spacing: Annotated[str, typer.Option(help="Between lines, such as 3/8in or 1cm.")] = "1/2in",
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Picture to write, .svg or .png.")
    ] = None,
    *,
    force: Force = False,
) -> None:
    """Tell what every fill is and takes, and draw them all on four kinds of ground."""
    from stitchpath.cli.commands import fills as command  # noqa: PLC0415 - its door

    command.run(spacing, output, force=force)


@app.command()
def new(
    file: Annotated[Path, typer.Argument(help="Design file to begin.", show_default=False)],
) -> None:
    """Begin a design: a commented file that plans at once."""
    from stitchpath.cli.commands import new as command  # noqa: PLC0415 - its door

    command.run(file)


@app.command()
def schema(
    *,
    of_plan: Annotated[
        bool, typer.Option("--plan", help="Of plan.json instead, for programs that read it.")
    ] = False,
) -> None:
    """Print the JSON Schema of a design file, for editors."""
    from stitchpath.cli.commands import schema as command  # noqa: PLC0415 - its door

    command.run(of_plan=of_plan)


@app.command()
def verify(
    folder: Annotated[Path, typer.Argument(help="A folder with outputs.")] = Path("exports"),
) -> None:
    """Tell whether the outputs in a folder belong together and their plans hold."""
    from stitchpath.cli.commands import verify as command  # noqa: PLC0415 - its door

    command.run(folder)


if __name__ == "__main__":
    main()
