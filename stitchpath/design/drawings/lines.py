"""Lines of a drawing as they are, to be laid on a top and quilted."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import MM_PER, Unit, format_length
from stitchpath.design.drawings.areas import refuse_scribble
from stitchpath.design.drawings.door import told_as
from stitchpath.design.drawings.ink import inks
from stitchpath.design.drawings.outlines import read_drawing, wanted_shapes
from stitchpath.design.drawings.pathdata import extent
from stitchpath.geometry.healing.noding import as_lines, cut_at_turns, node_loosely

__all__ = ["TakenLines", "take_lines"]

_MOST = 10_000.0  # mm: larger than any top
_MOST_CROSSINGS = 40_000
_NEAR = 0.05  # mm: lines within twice that all the way are one
_APART = 0.97  # less of their length lies apart: some are drawn twice


@dataclass(frozen=True, slots=True)
class TakenLines:
    """Lines taken from a drawing.

    Attributes
    ----------
    paths
        Each of shape (n, 2), mm from the drawing's zero point.
    upward
        Whether that is meant to lie at the bottom of the top, as in DXF, rather than at its top.
    """

    paths: tuple[FloatArray, ...]
    upward: bool


def take_lines(
    path: Path,
    wanted: str | None,
    where: str,
    *,
    size: float | None = None,
    unit: Unit | None = None,
    shown_in: Unit = "in",
) -> TakenLines:
    """Take all lines of a drawing, outlines of filled shapes included.

    Parameters
    ----------
    path
        An SVG or DXF file.
    wanted
        Id of a shape, group or layer; None for all that shows.
    where
        The place in the design, for errors.
    size
        Longer side of the box round them, mm; None for the size that the file says.
    unit
        Or what a unit of the drawing is.
    shown_in
        Unit of lengths in sentences.

    Raises
    ------
    StitchpathError
        When it cannot be read, or has no size.
    """
    drawing = read_drawing(path, where)
    place = f"{where}: {path}"
    drawing.shapes = wanted_shapes(drawing, wanted, place, "lines to quilt")
    wide = max(extent([s for shape in drawing.shapes for s in shape.strands]), 1e-9)
    mm = drawing.mm if unit is None else MM_PER[unit]
    mm = mm if size is None else size / wide
    if mm is None:
        raise StitchpathError(
            f"{place}: found no size in mm or inches in the file, expected size or unit beside it"
        )
    if wide * mm > _MOST:
        raise StitchpathError(
            f"{place}: found lines {format_length(wide * mm, shown_in)} across by the unit that "
            "the file names, expected size or unit beside it"
        )
    with told_as(place, "lines to quilt"), np.errstate(all="ignore"):
        try:
            made = inks(drawing, mm)
        except StitchpathError as error:
            raise StitchpathError(f"{place}: {error}") from None
        zero = np.array(drawing.zero) * mm
        lines = [line - zero for ink in made for line in ink.lines]
        return TakenLines(tuple(_each_once(lines)), drawing.upward)


def _each_once(lines: list[FloatArray]) -> list[FloatArray]:
    """Take once what runs along itself or another line, such as a path that goes over a seam twice.

    Lines that do not are left as they are, uncut.
    """
    refuse_scribble(lines, _MOST_CROSSINGS, "lines to quilt")
    shapes = [shapely.LineString(line) for line in lines]
    whole = shapely.buffer(shapes, _NEAR, cap_style="flat", quad_segs=2)
    covered = shapely.union_all(whole).area / (2 * _NEAR)
    if covered > _APART * sum(shape.length for shape in shapes):
        return lines
    bits = node_loosely(cut_at_turns(lines), _NEAR)
    merged = shapely.line_merge(shapely.multilinestrings(list(as_lines(bits.paths))))
    return [shapely.get_coordinates(line) for line in shapely.get_parts(merged)]
