"""How far a path turns at a point, and in which direction, with y pointing down.

Angles are degrees. Only the turn at a point between two pieces of path is meant; what a curved
line turns on its way is the line's own and no router can change it.
"""

from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from stitchpath.base.typing import FloatArray

__all__ = ["ABOUT_TURN", "PIVOT", "PIVOT_NOISE", "Hand", "hand", "turn_angle"]

Hand: TypeAlias = Literal["straight", "left", "right", "back"]

PIVOT = 30.0  #: A turn of more degrees than this is a pivot: stop, needle down, turn the quilt.
PIVOT_NOISE = 1e-9  #: Degrees: a turn of exactly 30 is no pivot on any computer.
ABOUT_TURN = 170.0  #: A turn of at least this many degrees sends the path back where it came from.


def turn_angle(arrive: npt.ArrayLike, leave: npt.ArrayLike) -> FloatArray:
    """Signed turn from one heading to the next.

    Parameters
    ----------
    arrive, leave
        Direction of stitching just before and just after the point, shape (..., 2), of any length
        but zero; x to the right, y down.

    Returns
    -------
    ndarray
        Degrees in (-180, 180], shape (...): 0 straight on, positive to the right (clockwise as one
        looks at the quilt), negative to the left, 180 straight back.

    Examples
    --------
    >>> float(turn_angle((1, 0), (0, 1)))  # going right, then down the quilt
    90.0
    """
    a, b = np.asarray(arrive, dtype=float), np.asarray(leave, dtype=float)
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    dot = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    # Adding 0.0 makes -0.0 positive, so that straight back is 180 and never -180.
    return np.asarray(np.degrees(np.arctan2(cross + 0.0, dot)))


def hand(angle: float) -> Hand:
    """Name the direction of a turn.

    Parameters
    ----------
    angle
        Degrees, as `turn_angle` gives them.

    Returns
    -------
    str
        "straight" up to `PIVOT` degrees either way, "back" from `ABOUT_TURN` on, else "left" or
        "right".
    """
    turn = round(abs(angle), 6)  # a rounding must not make a pivot of a turn of just 30 degrees
    if turn <= PIVOT:
        return "straight"
    if turn >= ABOUT_TURN:
        return "back"
    return "right" if angle > 0 else "left"
