"""Lines that radiate from a point, two and two, each pair turning before it comes too near."""

import numpy as np
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.belts import Wheel, belt

__all__ = ["radiating"]

_FARTHEST = 1.5  # at the farthest place lines lie no more than so many spacings apart
_NEAREST = 0.5  # and nowhere nearer than this: there every other pair turns back
_INNERMOST = 4  # pairs come nearest to the point: so a square has the same lines on each side
_HEART = 0.6  # nothing comes so near to the point, in spacings
_BEYOND = 1.0  # lines reach so far over the region, mm


def radiating(region: BaseGeometry, spacing: float, point: tuple[float, float]) -> list[FloatArray]:
    """Draw lines from all round a region toward a point, each with a round turn and its way back.

    Parameters
    ----------
    region
        What they reach over, mm.
    spacing
        Between lines, mm: from half of it, where pairs turn, to 1.5 of it at the farthest place.
    point
        Where they radiate from, mm; inside the region or outside of it.

    Returns
    -------
    list of ndarray
        A line for each pair: in from beyond the region, round, and out again.
    """
    heart = np.array(point)
    reach = float(shapely.hausdorff_distance(Point(point), region)) + _BEYOND
    pairs = 2 * _INNERMOST
    while np.pi * reach / pairs > _FARTHEST * spacing:
        pairs *= 2
    found = []
    for k in range(pairs):
        turns_at = max(_turning(k, pairs, spacing), _HEART * spacing)
        found.append(_pair(heart, 2 * np.pi * k / pairs, np.pi / pairs, turns_at, reach))
    return found


def _turning(number: int, pairs: int, spacing: float) -> float:
    """Tell how far off the point a pair turns, mm: the oftener its number halves, the nearer."""
    lines, step = 2 * pairs, 1
    while pairs // step > _INNERMOST:
        radius = lines / step * _NEAREST * spacing / (2 * np.pi)
        if number % (2 * step):
            return radius
        step *= 2
    return lines / step * _NEAREST * spacing / (2 * np.pi)


def _pair(
    heart: FloatArray, middle: float, wide: float, turns_at: float, reach: float
) -> FloatArray:
    """Draw two rays, `wide` radians apart, joined by a round turn."""
    way = np.array([np.cos(middle), np.sin(middle)])
    # A circle that touches both rays, so that what lies nearest to the point is `turns_at` from it.
    radius = turns_at * np.sin(wide / 2) / (1 - np.sin(wide / 2))
    ends = [
        heart + reach / np.cos(wide / 2) * np.array([np.cos(middle + half), np.sin(middle + half)])
        for half in (wide / 2, -wide / 2)
    ]
    turn = Wheel(heart + (turns_at + radius) * way, radius, 1)
    return belt([Wheel(ends[0], 0.0, 1), turn, Wheel(ends[1], 0.0, 1)])
