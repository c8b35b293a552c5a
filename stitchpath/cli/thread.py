"""The commands about thread: of a design, of a size, of a sample unpicked."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from stitchpath.cli.screen import say, seconds, show
from stitchpath.errors import StitchpathError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stitchpath.design.model import Design

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
def reckon(
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
    outside: Annotated[
        bool,
        typer.Option("--outside", help="Let the design name drawings outside its own folder."),
    ] = False,
) -> None:
    """Reckon a design, or a size. The word "reckon" may be left out."""
    seconds(time_limit)
    if (design is None) == (size is None):
        found = "neither" if design is None else "both"
        raise StitchpathError(f"thread: found {found}, expected either a design or --size")
    if design is not None:
        for name, value in (("fill", fill), ("spacing", spacing), ("like", like)):
            if value is not None:
                raise StitchpathError(f"--{name}: found a design too, expected it with --size only")
        _print_design(design, time_limit, outside=outside)
    elif size is not None:
        _print_size(size, fill, spacing, ditch, like)


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
    from stitchpath.thread import measured_ratio, parse_sample  # noqa: PLC0415
    from stitchpath.told.thread_tables import ratio_text  # noqa: PLC0415

    samples = [parse_sample(text) for text in sample]
    if per_inch is not None and not 0 < per_inch < float("inf"):
        raise StitchpathError(f"--per-inch: found {per_inch:g}, expected a number over 0")
    ratio = measured_ratio(samples, per_inch / 25.4 if per_inch is not None else None)
    say(ratio_text(ratio, len(samples)))


def _print_design(path: Path, time_limit: float, *, outside: bool) -> None:
    from stitchpath.plan import make_plan  # noqa: PLC0415
    from stitchpath.told.thread_tables import plan_tables  # noqa: PLC0415

    _print_tables(plan_tables(make_plan(_loaded(path, outside=outside), time_limit=time_limit)))


def _print_size(
    size: str, fill: str | None, spacing: str | None, ditch: str, like: Path | None
) -> None:
    from stitchpath.thread.from_design import estimate_of  # noqa: PLC0415
    from stitchpath.told.thread_tables import size_tables  # noqa: PLC0415

    design = _loaded(like) if like else None
    asked = estimate_of(size, fill=fill, spacing=spacing, ditch=ditch, design=design)
    _print_tables(size_tables(asked))


def _loaded(path: Path, *, outside: bool = False) -> "Design":
    from stitchpath.design.read import load_design  # noqa: PLC0415

    return load_design(path, outside=outside)


def _print_tables(tables: "Sequence[tuple[tuple[str, ...], list[tuple[str, ...]]]]") -> None:
    """Print tables, the first column to the left and numbers to the right."""
    from rich.table import Table  # noqa: PLC0415

    for header, rows in tables:
        table = Table(box=None, pad_edge=False, show_header=bool(header))
        for k, name in enumerate(header):
            table.add_column(name, justify="right" if k else "left")
        for row in rows:
            table.add_row(*row)
        show(table, "")
