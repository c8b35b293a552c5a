"""A run as one polyline, its ditch stitching moved to the low side where asked."""

import math
from collections.abc import Sequence

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.tolerances import ROUNDING
from stitchpath.lines.line import Line
from stitchpath.route.runs import Leg, Run

__all__ = ["offset_run"]

_SAGITTA = 0.02  # mm: how far a rounded corner may be cut short by its straight pieces


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
        changes, the path crosses the seam at the corner between two seams. No point of the path
        lies further from the run than this: outside a corner it goes round.

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
    length = np.hypot(way[:, 0], way[:, 1])
    unit = way / np.maximum(length, 1e-12)[:, None]
    shift = np.column_stack([-unit[:, 1], unit[:, 0]]) * right[:, None]
    start, stop = points[:-1] + shift, points[1:] + shift
    apart = np.hypot(*(start[1:] - stop[:-1]).T) > ROUNDING
    turn = unit[:-1, 0] * unit[1:, 1] - unit[:-1, 1] * unit[1:, 0]
    ahead = (unit[:-1] * unit[1:]).sum(axis=1)
    alike = right[1:] == right[:-1]
    inner = turn * right[1:] > 0
    # Where both are trimmed to meet inside a corner, neither may be trimmed away.
    trim = np.abs(right[1:]) * np.abs(turn) / np.maximum(1 + ahead, 1e-12)
    fits = trim <= np.minimum(length[:-1], length[1:])
    corners: list[FloatArray] = []
    for k in range(len(turn)):
        if not apart[k]:
            corners.append(stop[k : k + 1])
        elif alike[k] and not inner[k]:
            corners.append(_round(points[k + 1], stop[k], start[k + 1]))
        elif alike[k] and fits[k]:
            corners.append((stop[k] - trim[k] * unit[k])[None])
        else:
            corners.append(np.stack([stop[k], start[k + 1]]))
    return np.concatenate([start[:1], *corners, stop[-1:]])


def _round(corner: FloatArray, stop: FloatArray, start: FloatArray) -> FloatArray:
    """Go round a corner at the same distance from it: a mitre would stand out from the seam."""
    first, last = stop - corner, start - corner
    radius = float(np.hypot(*first))
    turn = math.atan2(first[0] * last[1] - first[1] * last[0], float(first @ last))
    widest = 2 * math.acos(max(1 - _SAGITTA / radius, 0.0))
    angle = np.linspace(0, turn, math.ceil(abs(turn) / widest) + 1)[1:-1]
    across = np.array([-first[1], first[0]])
    arc = corner + np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * across
    return np.concatenate([stop[None], arc, start[None]])
