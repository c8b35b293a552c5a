"""The command import."""

from pathlib import Path

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.screen import say
from stitchpath.cli.tables import show_drawing
from stitchpath.design.read import design_of_drawing
from stitchpath.export.files import check_place, write_whole
from stitchpath.plan import lines_of
from stitchpath.told.as_design import design_text

__all__ = ["run"]


def run(drawing: Path, output: Path, *, size: str | None, unit: str | None, force: bool) -> None:
    """Make a design of a drawing."""
    if output.suffix.lower() != ".toml":
        raise StitchpathError(
            f"{output}: found the ending {output.suffix!r}, expected a design file ending in .toml"
        )
    design = design_of_drawing(drawing, size=size, unit=unit)
    if design is None:
        raise StitchpathError(f"{drawing}: found no drawing, expected an SVG or DXF file")
    if output.resolve().parent not in drawing.resolve().parents:
        raise StitchpathError(
            f"{output}: found a folder that the drawing does not lie in, expected the design "
            "beside its drawing, or above it"
        )
    check_place(output, never=design.reads, force=force)
    top, _ = lines_of(design)
    name = drawing.resolve().relative_to(output.resolve().parent).as_posix()
    write_whole({output: design_text(design, top, name).encode()}, never=design.reads, force=force)
    show_drawing(top)
    say(f"wrote {output}; go on with: stitchpath plan {output}")
