"""Where a path has corners, and where it is only a curve drawn with short straight pieces."""

from itertools import pairwise

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray
from stitchpath.geometry.polylines import moving_on
from stitchpath.geometry.tolerances import FLATTENING
from stitchpath.geometry.turns import PIVOT, turn_angle

__all__ = ["corners", "split_at_corners"]

_BLUNT = 5.0  # degrees: a stitch of 3 mm that cuts a blunter corner misses it by 0.07 mm or less


def corners(length: FloatArray, turn: FloatArray) -> BoolArray:
    """Tell at the end of which pieces of a path there is a corner.

    A pivot is one. So is a blunter turn between pieces too long for a curve: an arc from the middle
    of the one to the middle of the other would stand out from them by more than a flattened curve
    may.

    Parameters
    ----------
    length
        Shape (n,): of each straight piece, none 0, mm.
    turn
        Shape (n,): how far the path turns at its end, either way, degrees; 0 at the last.

    Returns
    -------
    BoolArray
        Shape (n,).
    """
    shorter = np.minimum(length, np.append(length[1:], np.inf))
    # The sagitta of such an arc.
    bulge = shorter / 2 * np.tan(np.radians(np.minimum(turn, 180 - 1e-4)) / 4)
    blunt = (turn > _BLUNT) & (bulge > FLATTENING)
    return np.asarray((turn > PIVOT) | blunt, dtype=np.bool_)


def split_at_corners(points: FloatArray) -> list[FloatArray]:
    """Cut a path at its corners.

    Parameters
    ----------
    points
        Shape (n, 2), mm; points that repeat the one before them are left out.

    Returns
    -------
    list of FloatArray
        Each begins where the one before it ends; none where the path has no length.
    """
    points = points[moving_on(points)]
    step = np.diff(points, axis=0)
    if not len(step):
        return []
    turn = np.zeros(len(step))
    turn[:-1] = np.abs(turn_angle(step[:-1], step[1:]))
    cut = np.flatnonzero(corners(np.hypot(step[:, 0], step[:, 1]), turn)) + 1
    ends = [0, *cut.tolist(), len(points) - 1]
    return [points[i : j + 1] for i, j in pairwise(ends)]
