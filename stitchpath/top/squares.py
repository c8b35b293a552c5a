"""Map squares: places on a top that has no blocks, told as on a town map."""

from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import Unit
from stitchpath.top.place import Place

__all__ = ["MapSquare", "map_squares", "square_at", "squares_at"]

_SIDE: dict[Unit, float] = {"in": 8 * 25.4, "cm": 200.0, "mm": 200.0}  # our own choice
_LEAST = 0.25  # of a square: what is left over at the right and below is part of the last one


@dataclass(frozen=True, slots=True)
class MapSquare:
    """A square of the map.

    Attributes
    ----------
    place
        Its row and column.
    corners
        One after another round it, shape (4, 2), mm.
    """

    place: Place
    corners: FloatArray


def map_squares(width: float, height: float, unit: Unit) -> tuple[MapSquare, ...]:
    """Lay squares over a top: of 8 in, or 20 cm, from its top left corner.

    The last ones of a row or column take what is left: from a quarter of a square to one and a
    quarter.

    Parameters
    ----------
    width, height
        Of the top, mm.
    unit
        Of the design.
    """
    xs, ys = _edges(width, _SIDE[unit]), _edges(height, _SIDE[unit])
    squares = []
    for row in range(len(ys) - 1):
        for column in range(len(xs) - 1):
            left, right, top, bottom = xs[column], xs[column + 1], ys[row], ys[row + 1]
            corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
            squares.append(MapSquare(Place("square", row, column), corners))
    return tuple(squares)


def _edges(size: float, side: float) -> FloatArray:
    count = max(int(np.floor(size / side + 1 - _LEAST)), 1)
    return np.append(np.arange(count) * side, size)


def square_at(squares: tuple[MapSquare, ...], point: FloatArray) -> MapSquare | None:
    """Find the square that a point lies in, or nearest to; None where there are no squares."""
    return next(iter(squares_at(squares, point[None])), None)


def squares_at(squares: tuple[MapSquare, ...], points: FloatArray) -> list[MapSquare]:
    """Find the squares that points lie in, or nearest to; none where there are no squares.

    Parameters
    ----------
    squares
        Of one map, row by row.
    points
        Shape (n, 2), mm.
    """
    if not squares:
        return []
    lefts = np.array([s.corners[0, 0] for s in squares if s.place.row == 0])
    tops = np.array([s.corners[0, 1] for s in squares if s.place.column == 0])
    column = np.searchsorted(lefts[1:], points[:, 0])
    row = np.searchsorted(tops[1:], points[:, 1])
    return [squares[k] for k in (row * len(lefts) + column).tolist()]
