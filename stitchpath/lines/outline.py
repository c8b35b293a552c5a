"""Outline stitching inside the edge of a shape and echo lines outside it.

>>> from shapely.geometry import box
>>> [ring.tolist() for ring in outline_lines(box(0, 0, 10, 10), 2, corner="mitre")]
[[[2.0, 2.0], [2.0, 8.0], [8.0, 8.0], [8.0, 2.0], [2.0, 2.0]]]
"""

from collections.abc import Sequence
from typing import Literal, TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.lines.line import KNOT

__all__ = ["Corner", "echo_lines", "outline_lines"]

Corner: TypeAlias = Literal["round", "mitre"]

_FLAT = 0.02  # mm that the sides of a rounded corner may lie off its curve
# A mitre longer than this many steps is cut off (the usual limit of drawing standards, SVG's
# stroke-miterlimit of 4): a sharp point would send its echo far away.
_MITRE = 4.0
_SHORTEST_BIT = 3.175  # mm, 1/8 in: shorter bits between a neighbour and a seam are left out


def outline_lines(
    outline: Polygon | MultiPolygon,
    distance: float = 1.5875,
    *,
    corner: Corner = "round",
    clip: Polygon | MultiPolygon | None = None,
) -> list[FloatArray]:
    """Lines at a distance inside the edge of a piece, or of a motif.

    Parameters
    ----------
    outline
        Valid outline, mm; for a motif pieced from patches, their union.
    distance
        How far inside the edge, mm. 1/16 in holds a raw edge and stays on the fabric (common
        practice).
    corner
        Corners that turn into the shape are rounded, or mitred to a point. Corners that point out
        stay pointed either way, as every line at a distance inside them does.
    clip
        Where the lines may run, if not everywhere.

    Returns
    -------
    list of FloatArray
        Closed lines, each of shape (n, 2), the last point the same as the first, or what the clip
        leaves of them. None where the piece is narrower than twice the distance, and no rings of
        less than 1/2 in round.
    """
    rings = _rings(_grown(outline, -distance, corner))
    return rings if clip is None else _clipped(rings, clip)


def echo_lines(
    shapes: Sequence[Polygon | MultiPolygon],
    step: float,
    count: int,
    *,
    clip: Polygon | MultiPolygon | None = None,
    others: Sequence[BaseGeometry] = (),
    corner: Corner = "round",
) -> list[FloatArray]:
    """Lines outside shapes, at one step, two steps and so on from their edges.

    Where the lines of neighbours meet they merge into one round both, and inside a hole they go on
    until it is full.

    Parameters
    ----------
    shapes
        Valid outlines, mm.
    step
        From the edge to the first line and from each line to the next, mm.
    count
        How many lines.
    clip
        Where echo lines may run: the patch or patches up to the seams. Lines stop there.
    others
        Shapes with echoes of their own: lines stop where one of them is as near.
    corner
        Corners that point out are rounded, or mitred to a point as far as four steps.

    Returns
    -------
    list of FloatArray
        Lines from the inmost out, each of shape (n, 2); closed ones end in their first point, and
        are 1/2 in round at least.

    Raises
    ------
    StitchpathError
        When the step is not above 0 or the count is below 0.
    """
    if not step > 0:
        raise StitchpathError(f"echo: found a step of {step:g} mm, expected more than 0")
    if count < 0:
        raise StitchpathError(f"echo: found a count of {count}, expected 0 or more")
    shape, beside = (shapely.union_all(np.array(list(s), dtype=object)) for s in (shapes, others))
    lines: list[FloatArray] = []
    for k in range(1, count + 1):
        grown = _grown(shape, k * step, corner)
        if shapely.is_empty(grown):
            break
        rings = _rings(grown)
        where: shapely.Geometry | None = clip
        if others:
            where = shapely.difference(
                _grown(shape, (k + 1) * step, corner) if clip is None else clip,
                _grown(beside, k * step, corner),
            )
        lines += rings if where is None else _clipped(rings, where)
    return lines


def _grown(shape: shapely.Geometry, distance: float, corner: Corner) -> shapely.Geometry:
    """Area within a distance of a shape, or farther than one from its edge if below 0."""
    if shapely.is_empty(shape):
        return shape
    if corner == "mitre":
        return shapely.buffer(shape, distance, join_style="mitre", mitre_limit=_MITRE)
    # a side of an arc of radius r and angle a lies r (1 - cos(a / 2)) off it
    angle = 2.0 * np.arccos(max(1.0 - _FLAT / abs(distance), 0.0)) if distance else np.pi
    sides = max(int(np.ceil(np.pi / 2 / angle)), 1)
    return shapely.buffer(shape, distance, join_style="round", quad_segs=sides)


def _rings(area: shapely.Geometry) -> list[FloatArray]:
    """Rings of an area, outer ones and holes, from the top left on, but for mere knots."""
    parts = [p for p in shapely.get_parts(shapely.normalize(area)) if p.area > 0]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    lines = [ring for ring in rings if ring.length >= KNOT]
    lines.sort(key=lambda ring: ring.bounds)
    return [shapely.get_coordinates(ring) for ring in lines]


def _clipped(rings: list[FloatArray], clip: shapely.Geometry) -> list[FloatArray]:
    """Pieces of rings inside a region, joined over the place where a ring starts."""
    lines = []
    for ring in rings:
        line = shapely.LineString(ring)
        if shapely.contains_properly(clip, line):
            lines.append(ring)
            continue
        inside = shapely.line_merge(shapely.intersection(line, clip))
        bits = [b for b in shapely.get_parts(inside) if b.geom_type == "LineString"]
        lines += [shapely.get_coordinates(b) for b in bits if b.length >= _SHORTEST_BIT]
    return lines
