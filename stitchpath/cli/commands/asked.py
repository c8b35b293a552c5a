"""What several commands are asked for."""

from pathlib import Path

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.screen import say
from stitchpath.design.model import Design
from stitchpath.design.profile import usual_profile
from stitchpath.design.read import design_of_drawing, load_design

__all__ = ["asked_design", "on_batting", "picture_kind", "told_profile"]


def asked_design(
    path: Path,
    *,
    size: str | None,
    unit: str | None,
    outside: bool,
    profile: Path | None = None,
) -> Design:
    """Load what a command is given: a design, or a drawing of a top.

    Parameters
    ----------
    path
        TOML, SVG or DXF.
    size, unit
        Of a drawing: its longer side, or what its unit is.
    outside
        Whether drawings that a design names may lie outside its own folder.
    profile
        A shop's profile; the user's own, where none is named.
    """
    shop = told_profile(profile)
    drawn = design_of_drawing(path, size=size, unit=unit, profile=shop)
    return load_design(path, outside=outside, profile=shop) if drawn is None else drawn


def told_profile(named: Path | None) -> Path | None:
    """Give the profile that holds, and say which: it changes what comes out.

    Parameters
    ----------
    named
        As the command is given it; None for the user's own, if there is one.
    """
    shop = named or usual_profile()
    if shop is not None:
        say(f"with the profile {shop}")
    return shop


def on_batting(design: Design, batting: str | None) -> Design:
    """Put a design on another batting, where one is named."""
    return design if batting is None else design.held_by(batting)


def picture_kind(path: Path) -> str:
    """Tell by its ending what kind of picture a file is to be.

    Raises
    ------
    StitchpathError
        When it is none that can be drawn.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in ("svg", "png"):
        raise StitchpathError(
            f"{path}: found the ending {path.suffix!r}, expected a picture ending in .svg or .png"
        )
    return kind
