"""What several commands are asked for."""

from pathlib import Path

from stitchpath.design.model import Design
from stitchpath.errors import StitchpathError

__all__ = ["on_batting", "picture_kind"]


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
