"""Fewer points for the same path."""

import numpy as np
import shapely

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.corners import split_at_corners

__all__ = ["simplified"]


def simplified(points: FloatArray, tolerance: float) -> FloatArray:
    """Leave out points that a path can do without (Douglas and Peucker), corners never.

    Parameters
    ----------
    points
        Shape (n, 2), mm. The path may run over itself.
    tolerance
        How far the result may lie from it, mm; 0 returns it as it is.

    Returns
    -------
    FloatArray
        Shape (n, 2), n no greater than before.
    """
    pieces = split_at_corners(points) if tolerance > 0 else []
    if not pieces:
        return points
    # Cut at corners: a path that goes back over itself would lose its turning point otherwise.
    lines = shapely.linestrings(
        np.concatenate(pieces), indices=np.repeat(np.arange(len(pieces)), [len(p) for p in pieces])
    )
    found, which = shapely.get_coordinates(
        shapely.simplify(lines, tolerance, preserve_topology=False), return_index=True
    )
    first = np.append(False, which[1:] != which[:-1])  # a piece begins where the one before it ends
    return np.asarray(found[~first], dtype=np.float64)
