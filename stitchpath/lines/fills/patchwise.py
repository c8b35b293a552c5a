"""Fills of single patches, drawn from their own sides: continuous curve and piano keys."""

import numpy as np
import shapely
from shapely.geometry import Polygon

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.corners import split_at_corners
from stitchpath.geometry.polylines import distances
from stitchpath.geometry.turns import turn_angle
from stitchpath.lines.fills.grids import ruled
from stitchpath.lines.fills.ground import CHORD
from stitchpath.lines.fills.lattice import lattice_of

__all__ = ["continuous_curve", "piano_keys"]

_SHARE = 0.4  # a curve leaves its corner within this share of the corner's angle: two have room
_ROOM = 0.7  # and comes no farther in than this share of the widest circle's radius
_LONG = 1.3  # a patch longer than this for its width has keys across it


def continuous_curve(patch: Polygon, depth: float) -> list[FloatArray]:
    """Draw a shallow curve inside each side of a patch, from corner to corner.

    Parameters
    ----------
    patch
        mm.
    depth
        How far the middle of a curve lies inside its side, mm; less where corners are sharp or the
        patch is narrow.

    Returns
    -------
    list of ndarray
        One for each side; a patch without corners has none.
    """
    ring = np.asarray(shapely.orient_polygons(patch).exterior.coords)  # the patch is on the left
    sides = _sides(ring)
    if len(sides) < 2:  # noqa: PLR2004 - from its one corner a curve would come back to it
        return []
    room = shapely.length(shapely.maximum_inscribed_circle(patch, CHORD)) * _ROOM
    angles = [
        180 - float(turn_angle(side[0] - before[-2], side[1] - side[0]))
        if len(side) > 1 else 180.0
        for before, side in zip([sides[-1], *sides[:-1]], sides, strict=True)
    ]  # fmt: skip
    found = []
    for k, side in enumerate(sides):
        sharpest = min(angles[k], angles[(k + 1) % len(sides)])
        chord = float(np.hypot(*(side[-1] - side[0])))
        most = chord / 2 * np.tan(np.radians(min(_SHARE * sharpest, 60.0)) / 2)
        found.append(_bowed(side, min(depth, room, float(most))))
    return found


def _sides(ring: FloatArray) -> list[FloatArray]:
    """Cut a ring at its corners, from a corner on."""
    first = split_at_corners(ring)
    if len(first) < 2:  # noqa: PLR2004 - no corner but perhaps where the ring begins
        return first
    at = len(first[0]) - 1
    again = np.concatenate([ring[at:-1], ring[: at + 1]])
    return split_at_corners(again)


def _bowed(side: FloatArray, depth: float) -> FloatArray:
    """Move a side inwards by the rise of an arc over it: nothing at its ends, all at its middle."""
    length = float(distances(side)[-1])
    if depth <= 0 or length <= 0:
        return side
    radius = (length**2 / 4 + depth**2) / (2 * depth)
    count = max(8, int(np.ceil(length / np.sqrt(8 * CHORD * radius))) + 1)
    at = np.unique(np.concatenate([distances(side), np.linspace(0, length, count)]))
    line = shapely.linestrings(side)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
    step = np.gradient(points, at, axis=0)
    inward = np.column_stack([-step[:, 1], step[:, 0]]) / np.hypot(*step.T)[:, None]
    rise = np.sqrt(radius**2 - (at - length / 2) ** 2) - (radius - depth)
    path = points + rise[:, None] * inward
    path[0], path[-1] = side[0], side[-1]
    return np.asarray(path)


def piano_keys(patch: Polygon, spacing: float) -> list[FloatArray]:
    """Rule lines across a long patch, from side to side; over a square from corner to corner.

    Parameters
    ----------
    patch, spacing
        mm.

    Returns
    -------
    list of ndarray
        Spaced so that they come out whole.
    """
    box = shapely.get_coordinates(shapely.oriented_envelope(patch))
    one, two = box[1] - box[0], box[2] - box[1]
    across, along = sorted((one, two), key=lambda side: float(np.hypot(*side)))
    angle = float(np.degrees(np.arctan2(across[1], across[0]))) % 180
    if np.hypot(*along) < _LONG * np.hypot(*across):
        angle += 45
    return ruled(lattice_of(patch, spacing, angle), patch)
