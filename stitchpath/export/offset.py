"""A run as one polyline, its ditch stitching moved to the low side where asked."""

from collections.abc import Sequence

import numpy as np

from stitchpath.lines.model import Line
from stitchpath.route.model import Leg, Run
from stitchpath.typing import FloatArray

__all__ = ["offset_run"]

_LONGEST_MITRE = 3.0  # times the offset: past that a corner is cut off straight


def offset_run(run: Run, lines: Sequence[Line], offset: float) -> FloatArray:
    """Join the legs of a run.

    Parameters
    ----------
    run
        The run.
    lines
        All lines of the plan.
    offset
        How far stitching in a ditch is moved to the low side of its seam, mm. Where the low side
        changes, the path crosses the seam at the corner between two seams.

    Returns
    -------
    FloatArray
        Shape (n, 2), mm.
    """
    points = np.concatenate([run.legs[0].points[:1], *(leg.points[1:] for leg in run.legs)])
    if offset == 0:
        return points
    sides = [np.full(len(leg.points) - 1, _side(leg, lines)) for leg in run.legs]
    return _moved(points, np.concatenate(sides) * offset)


def _side(leg: Leg, lines: Sequence[Line]) -> float:
    """Tell the low side along the leg: -1 left, +1 right, 0 none."""
    if leg.line < 0 or lines[leg.line].low == 0:
        return 0.0
    low = lines[leg.line].low
    return float(low if leg.ahead else -low)


def _moved(points: FloatArray, right: FloatArray) -> FloatArray:
    """Move each segment to its right by its own distance, and join them again."""
    way = np.diff(points, axis=0)
    unit = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
    shift = np.column_stack([-unit[:, 1], unit[:, 0]]) * right[:, None]
    start, stop = points[:-1] + shift, points[1:] + shift
    turn = unit[:-1, 0] * unit[1:, 1] - unit[:-1, 1] * unit[1:, 0]
    corners = [
        _corner(stop[k], start[k + 1], unit[k], unit[k + 1], float(turn[k]))
        for k in range(len(turn))
    ]
    return np.concatenate([start[:1], *corners, stop[-1:]])


def _corner(
    stop: FloatArray, start: FloatArray, before: FloatArray, after: FloatArray, turn: float
) -> FloatArray:
    """Meet in the point where both moved segments cross, or go straight from one to the other."""
    gap = start - stop
    reach = float(np.hypot(*gap))
    if reach < 1e-9:  # noqa: PLR2004 - they meet already
        return stop[None]
    if abs(turn) > 1e-6:  # noqa: PLR2004 - not straight on
        along = float(gap[0] * after[1] - gap[1] * after[0]) / turn
        if abs(along) <= _LONGEST_MITRE * reach:
            return (stop + along * before)[None]
    return np.stack([stop, start])
