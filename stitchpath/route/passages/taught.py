"""The order that is taught: anchors first, then area by area from the centre outward.

Common practice. What lies between the areas - the sashing, the seams between blocks, long straights
from margin to margin - holds the layers for all that follows, so it is stitched first. Then each
area is finished before the next, in the order of `route/order.py`: rings from the centre outward,
always the nearest next. All that one foot stitches comes before all that the next does, the walking
foot first.

A straight seam that has another as long beside it, no farther than a hand spans, is held by that
one. So the ring and the cross of a small top are stitched first, and on a larger one of the two
sides of each sashing strip. The others may be stitched at any time, so she can go along them from
block to block.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.hands.areas import GROUND
from stitchpath.route.order import Stretch, order_runs

__all__ = ["WHENEVER", "held_by_others", "keeps_order", "phases"]

WHENEVER = -1  # phase of a line that may be stitched at any time
SPAN = 7 * 25.4  # mm: what a spread hand beside a row of stitches holds down; from memory
_LEVEL = 0.5  # degrees: so near lines have one direction
_ALONG = 0.5  # mm: and so near to one straight they lie on it
_SHARE = 0.9  # of a straight that is held the other runs beside so much


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
    """Whether a row of phases never goes back, but for what may be stitched at any time."""
    return all(a <= b for a, b in pairwise(p for p in phase if p != WHENEVER))


def held_by_others(
    tail: FloatArray, head: FloatArray, length: FloatArray, centre: tuple[float, float]
) -> BoolArray:
    """Tell which lines are part of a straight that another holds.

    Straights are taken one by one: the outermost first, then the nearest to the centre; of those as
    near always the same. What has one that is taken within `SPAN` beside it is held by it.

    Parameters
    ----------
    tail, head
        Ends of each line, mm, shape (r, 2).
    length
        Of each line, mm, shape (r,): what is longer than from end to end is no straight.
    centre
        Middle of the top, mm.

    Returns
    -------
    ndarray
        Shape (r,).
    """
    held = np.zeros(len(length), dtype=bool)
    way = head - tail
    straight = np.flatnonzero((length > 0) & (length - np.hypot(*way.T) < SAME_PLACE))
    angle = np.degrees(np.arctan2(way[straight, 1], way[straight, 0])) % 180.0
    turn = np.rint(angle / _LEVEL).astype(np.int64) % round(180 / _LEVEL)
    for number in np.unique(turn).tolist():
        lines = straight[turn == number]
        slope = np.radians(number * _LEVEL)
        along = np.array([np.cos(slope), np.sin(slope)])
        across = np.array([-along[1], along[0]])
        ends = np.sort(np.stack([tail[lines] @ along, head[lines] @ along]), axis=0)
        held[lines] = _held(ends, (tail[lines] - np.asarray(centre)) @ across)
    return held


def _held(ends: FloatArray, off: FloatArray) -> BoolArray:
    """Tell which lines of one direction lie on a straight that another holds.

    Parameters
    ----------
    ends
        Where each begins and ends along that direction, shape (2, k).
    off
        How far each lies off the centre, shape (k,).
    """
    order = np.argsort(off, kind="stable")
    row = np.zeros(len(off), dtype=np.int64)
    row[order] = np.append(0, np.cumsum(np.diff(off[order]) > _ALONG))
    count = int(row.max(initial=-1)) + 1
    begin, end, place = np.full(count, np.inf), np.full(count, -np.inf), np.zeros(count)
    np.minimum.at(begin, row, ends[0])
    np.maximum.at(end, row, ends[1])
    place[row] = off
    taken: list[int] = []
    held = np.zeros(count, dtype=bool)
    inside = (place > place.min(initial=np.inf)) & (place < place.max(initial=-np.inf))
    for one in np.lexsort((-place, np.rint(np.abs(place) / _ALONG), inside)).tolist():
        others = np.array(taken, dtype=np.int64)
        beside = np.minimum(end[others], end[one]) - np.maximum(begin[others], begin[one])
        near = np.abs(place[others] - place[one]) < SPAN
        held[one] = bool((near & (beside >= _SHARE * (end[one] - begin[one]))).any())
        if not held[one]:
            taken.append(one)
    return held[row]
