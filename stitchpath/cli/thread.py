"""The commands about thread: of a design, of a size, of a sample unpicked."""

from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

__all__ = ["thread"]

_DEFAULT = "reckon"


class _Reckoning(TyperGroup):
    """A group whose first command need not be named: `thread DESIGN`."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:  # noqa: ANN401 - typer's own
        """Put the first command's name before what is for it."""
        if args and args[0] not in (*self.commands, "--help"):
            args.insert(0, _DEFAULT)
        return super().parse_args(ctx, args)


thread = typer.Typer(
    cls=_Reckoning,
    no_args_is_help=True,
    help="Thread, bobbins, time and cloth: thread DESIGN, or thread --size 60x80in --fill meander "
    "--spacing 1in; and thread calibrate.",
)


@thread.command(_DEFAULT)
def reckon(  # noqa: PLR0913 - the options of a command
    design: Annotated[
        Path | None, typer.Argument(help="A design file (TOML).", show_default=False)
    ] = None,
    size: Annotated[
        str | None, typer.Option(help="Or estimate by size, such as 60x80in.", show_default=False)
    ] = None,
    fill: Annotated[
        str | None, typer.Option(help="By size: the fill, such as meander.", show_default=False)
    ] = None,
    spacing: Annotated[
        str | None, typer.Option(help="By size: distance in the fill.", show_default=False)
    ] = None,
    ditch: Annotated[
        str, typer.Option(help="By size: length of seams stitched in the ditch, such as 40m.")
    ] = "0",
    like: Annotated[
        Path | None,
        typer.Option(help="By size: a design whose stitches, machine and margin are taken."),
    ] = None,
    time_limit: Annotated[
        float, typer.Option(help="Seconds for the proof of a design's route, counted in work.")
    ] = 10.0,
    *,
    motif: Annotated[
        str | None,
        typer.Option(
            help="By size, for motif rows: the motif's file, or the length of its line and how "
            'long it is from end to end, "14in 6in".',
            show_default=False,
        ),
    ] = None,
    machine: Annotated[
        str | None, typer.Option(help="By size: domestic or frame.", show_default=False)
    ] = None,
    depth: Annotated[
        str | None,
        typer.Option(help="By size: how deep the frame shows the quilt.", show_default=False),
    ] = None,
    throat: Annotated[
        str | None,
        typer.Option(help="Or the throat of the frame: the roll fills it.", show_default=False),
    ] = None,
    hour: Annotated[
        float | None, typer.Option(help="By size: charged for an hour.", show_default=False)
    ] = None,
    square_inch: Annotated[
        float | None, typer.Option(help="Or for a square inch.", show_default=False)
    ] = None,
    outside: Annotated[
        bool,
        typer.Option("--outside", help="Let the design name drawings outside its own folder."),
    ] = False,
    profile: Annotated[
        Path | None,
        typer.Option(help="A shop's profile, as for plan.", show_default=False),
    ] = None,
) -> None:
    """Reckon a design, or a size. The word "reckon" may be left out."""
    from stitchpath.cli.commands import reckon as command  # noqa: PLC0415 - its door

    asked = {
        "fill": fill, "spacing": spacing, "motif": motif, "machine": machine, "depth": depth,
        "throat": throat, "hour": hour, "square_inch": square_inch,
    }  # fmt: skip
    if size is None:
        command.of_design(
            design,
            {**asked, "like": like},
            time_limit=time_limit,
            outside=outside,
            profile=profile,
        )
    else:
        command.of_size(design, {**asked, "size": size, "ditch": ditch}, like, profile)


@thread.command()
def calibrate(
    sample: Annotated[
        list[str],
        typer.Option(
            help='Seam unpicked, top and bobbin thread from it: "10in 13.1in 12.2in"; repeat it.',
            show_default=False,
        ),
    ],
    per_inch: Annotated[
        float | None,
        typer.Option(help="Stitches to the inch of the samples, if counted.", show_default=False),
    ] = None,
) -> None:
    """Work out your own ratio from lengths unpicked and measured."""
    from stitchpath.cli.commands import calibrate as command  # noqa: PLC0415 - its door

    command.run(sample, per_inch)
