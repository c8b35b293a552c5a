"""Where free quilting is parted between two windows of a frame: along a border that wanders.

A straight border is seen as a river right across the quilt: both passes end their lobes along it.
Where it wanders, lobes of the next pass hook into those of the last.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.tolerances import GRID

__all__ = ["WANDER", "parted", "wandering"]

WANDER = 1.5
"""Spacings that a border wanders from its highest to its lowest place (common practice)."""

_HALF_WAVES = 1.7, 2.7  # spacings from a highest to a lowest place: as wide as lobes are
_LEAST = 0.7  # of the wandering: no wave is lower
_ROOM = 3.0  # spacings of a region that have to lie beyond a border, or it is not parted there
_STEPS = 8  # chords of half a wave
_BEYOND = 1.0  # mm that a band leads beyond the ground, so that it is cut by borders alone


def wandering(
    level: float, span: tuple[float, float], spacing: float, wide: float, seed: Sequence[int]
) -> FloatArray:
    """Draw a border that wanders about a level.

    Parameters
    ----------
    level
        mm.
    span
        From where to where it leads at least, across, mm.
    spacing
        Of the fill, mm.
    wide
        From its highest to its lowest place at most, mm.
    seed
        The same draws the same border.

    Returns
    -------
    ndarray, shape (k, 2)
        From left to right, mm.
    """
    chance = np.random.Generator(np.random.PCG64(list(seed)))
    left, right = span
    least, most = (share * spacing for share in _HALF_WAVES)
    count = int((right - left) / least) + 4
    x = left - most + np.concatenate([[0.0], np.cumsum(chance.uniform(least, most, count))])
    side = np.where(np.arange(len(x)) % 2 == 0, 1, -1) * chance.choice([-1, 1])
    y = level + side * wide / 2 * chance.uniform(_LEAST, 1.0, len(x))
    share = np.arange(_STEPS) / _STEPS
    ease = (1 - np.cos(np.pi * share)) / 2
    across = (x[:-1, None] + np.diff(x)[:, None] * share).ravel()
    down = (y[:-1, None] + np.diff(y)[:, None] * ease).ravel()
    return np.column_stack([np.append(across, x[-1]), np.append(down, y[-1])])


def parted(
    shape: Polygon | MultiPolygon,
    borders: Sequence[FloatArray],
    spacing: float,
    beyond: float,
) -> list[Polygon | MultiPolygon]:
    """Part ground along borders.

    Parameters
    ----------
    shape
        mm.
    borders
        As `wandering` draws them, from the top down.
    spacing
        Of the fill, mm.
    beyond
        How far each part reaches beyond a border, mm, since a fill keeps an inset from the edge of
        its ground; below 0 how far it keeps off.

    Returns
    -------
    list of Polygon or MultiPolygon
        From the top down. The whole where no border has room beside it.
    """
    left, low, right, high = shape.bounds
    room = _ROOM * spacing
    inner = [b for b in borders if low + room <= b[:, 1].mean() <= high - room]
    if not inner:
        return [shape]
    far = room + abs(beyond) + _BEYOND
    level = [np.array([(left - far, y), (right + far, y)]) for y in (low - far, high + far)]
    parts: list[Polygon | MultiPolygon] = []
    for upper, lower in pairwise([level[0], *inner, level[1]]):
        band = Polygon([*upper, *lower[::-1]]).buffer(beyond)
        parts += _ground(shapely.intersection(shape, band, grid_size=GRID))
    return parts


def _ground(cut: BaseGeometry) -> list[Polygon | MultiPolygon]:
    parts = [part for part in shapely.get_parts(cut) if isinstance(part, Polygon)]
    return [] if not parts else [parts[0] if len(parts) == 1 else MultiPolygon(parts)]
