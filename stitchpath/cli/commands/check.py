"""The command check."""

from pathlib import Path

import typer

from stitchpath.checks.batting import region_densities, widest_place
from stitchpath.cli.commands.asked import asked_design, on_batting
from stitchpath.cli.screen import say
from stitchpath.cli.tables import print_checks, show_drawing
from stitchpath.cli.watch import Watch
from stitchpath.plan import check_design, look_over

__all__ = ["run"]


def run(
    design: Path,
    batting: str | None,
    *,
    size: str | None,
    unit: str | None,
    outside: bool,
    profile: Path | None = None,
    density: bool,
) -> None:
    """Look over a design for what could go wrong."""
    loaded = on_batting(
        asked_design(design, size=size, unit=unit, outside=outside, profile=profile), batting
    )
    with Watch() as watch:
        looked = look_over(loaded, watch.now)
        watch.now("looking for what could go wrong")
        found = check_design(loaded, looked)
    show_drawing(looked.top)
    say(widest_place(looked.top, looked.lines))
    for name, dense in region_densities(looked.top, looked.lines) if density else ():
        said = f"{dense:.0f} m/m²"
        if loaded.unit == "in":
            said = f"{dense * 0.0254:.1f} in to the square inch"
        say(f"{name}: {said}")
    print_checks(found)
    if not found:
        say("nothing found")
    if any(c.level == "error" for c in found):
        raise typer.Exit(1)
