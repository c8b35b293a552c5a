"""The order that is taught: anchors first, then area by area from the centre outward.

Common practice. What lies between the areas - the sashing, the seams between blocks, long straights
from margin to margin - holds the layers for all that follows, so it is stitched first. Then each
area is finished before the next, in the order of `route/order.py`: rings from the centre outward,
always the nearest next. All that one foot stitches comes before all that the next does, the walking
foot first.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from stitchpath.hands.areas import GROUND
from stitchpath.route.order import Stretch, order_runs
from stitchpath.typing import FloatArray, IntArray

__all__ = ["keeps_order", "phases"]


def phases(
    area: IntArray,
    foot: IntArray,
    middle: FloatArray,
    length: FloatArray,
    centre: tuple[float, float],
) -> IntArray:
    """Say when each line is to be stitched.

    Parameters
    ----------
    area
        In which area each line lies, shape (r,).
    foot
        Which foot stitches it, shape (r,), in the order in which they are put on; below 0 where any
        does.
    middle, length
        Middle of each line, mm, shape (r, 2), and its length, shape (r,).
    centre
        Middle of the top, mm.

    Returns
    -------
    ndarray
        Shape (r,), from 0: for each foot what lies between the areas, then area by area.
    """
    turn = np.maximum(foot, 0)
    when = np.zeros(len(area), dtype=np.int64)
    for number in np.unique(turn).tolist():
        mine = np.flatnonzero(turn == number)
        by_area = _area_by_area(area[mine], middle[mine], length[mine], centre)
        when[mine] = (when.max(initial=-1) + 1 if number > turn.min() else 0) + by_area
    return when


def _area_by_area(
    area: IntArray, middle: FloatArray, length: FloatArray, centre: tuple[float, float]
) -> IntArray:
    """Say when each line is stitched, of those that one foot stitches."""
    areas = np.unique(area[area != GROUND])
    weight = np.maximum(length, 1e-6)
    stretches = []
    for number in areas.tolist():
        mine = area == number
        x, y = (middle[mine] * weight[mine, None]).sum(axis=0) / weight[mine].sum()
        at = (float(x), float(y))
        stretches.append(Stretch(at, at, at, float(length[mine].sum()), 0.0))
    order = [index for index, _ in order_runs(stretches, centre, anchor_first=False)]
    when = np.zeros(int(area.max(initial=0)) + 1, dtype=np.int64)
    when[areas[order]] = np.arange(len(areas)) + bool((area == GROUND).any())
    return when[area]


def keeps_order(phase: Sequence[int]) -> bool:
    """Whether a row of phases never goes back."""
    return all(a <= b for a, b in pairwise(phase))
