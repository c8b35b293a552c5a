"""The order that is taught: anchors first, then area by area from the centre outward.

Common practice. What lies between the areas - the sashing, the seams between blocks, long straights
from margin to margin - holds the layers for all that follows, so it is stitched first. Then each
area is finished before the next, in the order of `route/order.py`: rings from the centre outward,
always the nearest next.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from stitchpath.hands.areas import GROUND
from stitchpath.route.order import Stretch, order_runs
from stitchpath.typing import FloatArray, IntArray

__all__ = ["phases"]


def phases(
    area: IntArray, middle: FloatArray, length: FloatArray, centre: tuple[float, float]
) -> IntArray:
    """Say when each line is to be stitched.

    Parameters
    ----------
    area
        In which area each line lies, shape (r,).
    middle, length
        Middle of each line, mm, shape (r, 2), and its length, shape (r,).
    centre
        Middle of the top, mm.

    Returns
    -------
    ndarray
        Shape (r,): 0 for what lies between the areas, then one number for each area. Without
        anything between them they begin at 0 too.
    """
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
