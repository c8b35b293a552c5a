"""What several commands are asked for."""

from pathlib import Path

from stitchpath.design.model import Design
from stitchpath.design.profile import usual_profile
from stitchpath.design.read import design_of_drawing, load_design
from stitchpath.errors import StitchpathError

__all__ = ["asked_design", "on_batting", "picture_kind"]


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
    drawn = design_of_drawing(path, size=size, unit=unit)
    if drawn is not None:
        return drawn
    return load_design(path, outside=outside, profile=profile or usual_profile())


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
