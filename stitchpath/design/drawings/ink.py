"""Shapes of a drawing as ink in millimetres: lines and areas, each with its paint."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
import tinycss2.color3
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.areas import filled, refuse_scribble, simplified
from stitchpath.design.drawings.drawing import Drawing, Shape
from stitchpath.design.drawings.pathdata import flatten

__all__ = ["Ink", "colour_of", "inks", "is_pale"]

_FINE = 0.01  # mm: how far a chord may lie from its curve
_MOST_POINTS = 400_000
_ID = re.compile(r"url\(\s*['\"]?#([^'\")]{1,200})")
_PALE = 0.78  # lightness from which a line is pale


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """A shape in millimetres.

    Attributes
    ----------
    shape
        As read.
    lines
        Its subpaths, each of shape (n, 2), cut off where it is clipped.
    area
        What is filled; None where nothing is.
    fill, stroke
        "#rrggbb", or the id of a pattern; None where there is none.
    width
        Of the stroke, mm.
    """

    shape: Shape
    lines: tuple[FloatArray, ...]
    area: BaseGeometry | None
    fill: str | None
    stroke: str | None
    width: float

    @property
    def paint(self) -> str:
        """The colour that it shows by."""
        return self.fill or self.stroke or "#000000"

    @property
    def closed(self) -> bool:
        """Whether all its lines end where they begin."""
        return all(np.array_equal(line[0], line[-1]) and len(line) > 3 for line in self.lines)  # noqa: PLR2004

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom, mm."""
        points = np.concatenate(self.lines)
        (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
        return float(left), float(top), float(right), float(bottom)


@lru_cache(1000)
def colour_of(paint: str | None) -> str | None:
    """Bring a paint to "#rrggbb", or to the id of its pattern.

    Examples
    --------
    >>> colour_of("rgb(255,0,0)"), colour_of("url(#dots)"), colour_of("#ABC")
    ('#ff0000', 'dots', '#aabbcc')
    """
    if paint is None:
        return None
    if match := _ID.match(paint):
        return match[1]
    colour = tinycss2.color3.parse_color(paint.strip())
    if not isinstance(colour, tuple):
        return "#000000"
    return "#" + "".join(f"{round(255 * min(max(v, 0), 1)):02x}" for v in colour[:3])


def is_pale(colour: str) -> bool:
    """Tell whether a line of a colour is meant to be seen only from near."""
    if not colour.startswith("#"):
        return False
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return (max(red, green, blue) + min(red, green, blue)) / 2 >= _PALE


def inks(drawing: Drawing, mm: float) -> list[Ink]:
    """Bring the shapes of a drawing to millimetres.

    Parameters
    ----------
    drawing
        As read.
    mm
        Millimetres to its unit.

    Raises
    ------
    StitchpathError
        When it has too many points.
    """
    made = []
    points = 0
    for shape in drawing.shapes:
        lines = tuple(_flat(shape, mm))
        points += sum(map(len, lines))
        if points > _MOST_POINTS:
            raise StitchpathError(
                f"found over {_MOST_POINTS:,} points, expected a drawing of fewer lines and curves"
            )
        ink = _ink(shape, lines, mm)
        if ink is not None:
            made.append(ink)
    return made


def _flat(shape: Shape, mm: float) -> Iterator[FloatArray]:
    for strand in shape.strands:
        line = flatten(strand, _FINE / mm) * mm
        if strand.closed and not np.array_equal(line[0], line[-1]):
            line = np.concatenate([line, line[:1]])
        if len(line) > 1 and np.ptp(line, axis=0).max() > 0:
            yield line


def _ink(shape: Shape, lines: tuple[FloatArray, ...], mm: float) -> Ink | None:
    if not lines:
        return None
    fill, stroke = colour_of(shape.fill), colour_of(shape.stroke)
    area: BaseGeometry | None = None
    if fill is not None:
        size = max(float(np.ptp(np.concatenate(lines), axis=0).max()), 1e-9)
        lines = tuple(simplified(_ring(line), size)[0] for line in lines)
        area = filled(lines, even_odd=shape.even_odd)
    if shape.clip is not None:
        clip = shapely.transform(shape.clip, lambda points: points * mm)
        area = None if area is None else shapely.intersection(area, clip)
        lines = tuple(_within(lines, clip))
    if area is not None:
        parts = [p for p in shapely.get_parts(area) if isinstance(p, Polygon) and p.area > 0]
        area = MultiPolygon(parts) if parts else None
        fill = fill if parts else None
    if not lines or (fill is None and stroke is None):
        return None
    return Ink(shape, lines, area, fill, stroke, shape.width * mm)


def _ring(line: FloatArray) -> FloatArray:
    """Close a line that is filled."""
    return line if np.array_equal(line[0], line[-1]) else np.concatenate([line, line[:1]])


def _within(lines: Sequence[FloatArray], clip: BaseGeometry) -> Iterator[FloatArray]:
    """Cut lines off where they are clipped."""
    refuse_scribble(list(lines))
    for line in lines:
        kept = shapely.intersection(LineString(line), clip)
        for part in shapely.get_parts(shapely.line_merge(kept) if not kept.is_empty else kept):
            if isinstance(part, LineString) and part.length > 0:
                yield shapely.get_coordinates(part)
