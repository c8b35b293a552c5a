"""Where rows lie: placed by the block, so that they come out whole and meet at its seams."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, affinity
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray

__all__ = ["Lattice", "lattice_of", "turned"]

_THROUGH = 0.02  # a row so near to a corner, in steps, goes through it


@dataclass(frozen=True, slots=True)
class Lattice:
    """Rows at an angle that divide a frame evenly, from its first corner to its last.

    Attributes
    ----------
    angle
        Of the rows against the x axis, degrees, clockwise as seen (y points down).
    origin
        Where the first row and the first column lie, turned back by the angle, (x, y), mm.
    step
        From column to column and from row to row, mm: the spacing, made to come out whole.
    span
        From the first to the last column and row, mm.
    """

    angle: float
    origin: tuple[float, float]
    step: tuple[float, float]
    span: tuple[float, float]

    def level(self, area: BaseGeometry) -> BaseGeometry:
        """Turn an area so that the rows lie level."""
        return turned(area, -self.angle)

    def upright(self, curve: FloatArray) -> FloatArray:
        """Turn a curve from where rows lie level to where it belongs."""
        return shapely.get_coordinates(turned(LineString(curve), self.angle))

    def places(self, axis: int, low: float, high: float, shift: float = 0.0) -> FloatArray:
        """List where columns (axis 0) or rows (axis 1) lie between two places.

        Parameters
        ----------
        axis
            0 for columns, 1 for rows.
        low, high
            Turned back by the angle, mm; both ends count.
        shift
            Of all of them, in steps: a half lays rows midway.
        """
        step, start = self.step[axis], self.origin[axis]
        first = np.ceil((low - start) / step - shift - 1e-9)
        last = np.floor((high - start) / step - shift + 1e-9)
        return np.asarray(start + step * (np.arange(first, last + 1) + shift))


def lattice_of(frame: BaseGeometry, spacing: float, angle: float) -> Lattice:
    """Divide a frame evenly.

    A row goes through the first and the last corner of the frame, looked at along the rows. In a
    square block, rows at 45 degrees go through all four corners and the middle, and meet those of
    the next block at the seam.

    Parameters
    ----------
    frame
        Mostly the block that the fill lies in, mm.
    spacing
        Wanted between rows, mm.
    angle
        Of the rows, degrees.
    """
    level = turned(frame, -angle)
    at = shapely.get_coordinates(level)
    low = at.min(axis=0)
    span = np.ptp(at, axis=0)
    wide, high = (_step(at[:, k] - low[k], span[k], spacing) for k in (0, 1))
    return Lattice(angle, (float(low[0]), float(low[1])), (wide, high), (span[0], span[1]))


def _step(corners: FloatArray, span: float, spacing: float) -> float:
    """Divide a span, one more or one less where that alone takes rows through all the corners."""
    if span <= 0:
        return spacing
    best = max(1, round(span / spacing))

    def off(count: int) -> float:
        rows = corners / span * count
        return float(np.abs(rows - np.rint(rows)).max())

    if off(best) > _THROUGH:
        near = sorted(
            (best - 1, best + 1), key=lambda count: abs(span / count - spacing) if count else np.inf
        )
        best = next((count for count in near if count > 0 and off(count) <= _THROUGH), best)
    return float(span / best)


def turned(shape: BaseGeometry, angle: float) -> BaseGeometry:
    """Turn a geometry about (0, 0), degrees clockwise as seen (y points down)."""
    return affinity.rotate(shape, angle, origin=(0, 0)) if angle % 360 else shape
