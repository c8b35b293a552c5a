"""The order in which the runs of one stage and thread are stitched on a domestic machine.

The rule, in a quilter's words. Common practice, as far as it is one; the two measures in it are
ours.

1. *Anchoring runs first*, those with at least half of their length on the seams between blocks,
   sashing and borders: they hold the layers together for all that follows. The longest come first;
   runs within a tenth of each other count as equally long.
2. *Then from the centre outward*, in rings of 200 mm, about what two hands hold flat: a run belongs
   to the ring in which the middle of its length lies.
3. Of the runs whose turn it is, the *first* one has its middle nearest the centre; it is begun at
   its end nearer the centre. *Every other one* has an end nearest to where the last one stopped; it
   is begun at that end.

In a frame hands follow the machine: there a pass is stitched from where they are, every run being
the one that has an end nearest to them (`follow_runs`).

Ties go to the run that was given first, and to stitching it the way it was given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stitchpath.base.typing import FloatArray, IntArray

__all__ = ["Stretch", "follow_runs", "order_runs"]

_MOSTLY = 0.5  # of its length on anchoring seams makes a run an anchoring run
_AS_LONG = 0.9  # of the longest run left counts as equally long
_RING = 200.0  # mm
_MICRO = 0.001  # mm


@dataclass(frozen=True, slots=True)
class Stretch:
    """What the order needs to know about one run.

    Attributes
    ----------
    start, end
        Where it begins and ends, mm.
    middle
        Mean point of the run, every piece weighted by its length, mm.
    length
        Length of the run, mm.
    anchor
        How much of it lies on anchoring seams, mm.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    middle: tuple[float, float]
    length: float
    anchor: float


def order_runs(
    stretches: Sequence[Stretch], centre: tuple[float, float], *, anchor_first: bool
) -> list[tuple[int, bool]]:
    """Put runs into stitching order.

    Parameters
    ----------
    stretches
        One for every run of a stage and thread.
    centre
        Centre of the top, mm.
    anchor_first
        Whether rule 1 holds; if not, anchoring runs are runs like others.

    Returns
    -------
    list of (int, bool)
        Index of each run in stitching order, and True where it is stitched from its end to its
        start.
    """
    if not stretches:
        return []
    turn = _turns(stretches, centre, anchor_first=anchor_first)
    tips = _tips(stretches)
    middle = np.round(np.array([s.middle for s in stretches]) / _MICRO)
    here = np.round(np.array(centre) / _MICRO)
    away = ((middle - here) ** 2).sum(axis=1)
    first = int(np.argmin(np.where(turn == 0, away, np.inf)))
    order = [(first, bool(np.argmin(((tips[first] - here) ** 2).sum(axis=1))))]
    for place in range(int(turn.max()) + 1):
        members = np.flatnonzero(turn == place)
        _follow(order, tips, members[members != first])
    return order


def follow_runs(stretches: Sequence[Stretch], hands: tuple[float, float]) -> list[tuple[int, bool]]:
    """Put the runs of a pass in a frame into stitching order: always the nearest end next.

    Parameters
    ----------
    stretches
        One for every run of a pass.
    hands
        Where the machine stands, mm.

    Returns
    -------
    list of (int, bool)
        As `order_runs`.
    """
    here = np.round(np.array([[hands, hands]]) / _MICRO)
    tips = np.concatenate([_tips(stretches), here])
    order = [(len(stretches), False)]
    _follow(order, tips, np.arange(len(stretches)))
    return order[1:]


def _tips(stretches: Sequence[Stretch]) -> FloatArray:
    """Start and end of every run, shape (n, 2, 2), µm.

    In whole micrometres sums of squares are exact, so equal distances are equal.
    """
    tips = np.array([(s.start, s.end) for s in stretches])
    return np.asarray(np.round(tips.reshape(-1, 2, 2) / _MICRO))


def _turns(
    stretches: Sequence[Stretch], centre: tuple[float, float], *, anchor_first: bool
) -> IntArray:
    """Say for each run in which group it is stitched, groups numbered in order from 0."""
    length = np.array([s.length for s in stretches])
    anchoring = np.array([s.anchor > 0.0 and s.anchor >= _MOSTLY * s.length for s in stretches])
    middle = np.array([s.middle for s in stretches]) - centre
    turn = np.round(np.hypot(middle[:, 0], middle[:, 1]) / _MICRO) // (_RING / _MICRO)
    if anchor_first:
        left = np.flatnonzero(anchoring)
        turn += len(left)
        for place in range(len(left)):
            if not left.size:
                break
            as_long = length[left] >= _AS_LONG * length[left].max()
            turn[left[as_long]] = place
            left = left[~as_long]
    return np.unique(turn, return_inverse=True)[1].astype(np.int64)


def _follow(order: list[tuple[int, bool]], tips: FloatArray, members: IntArray) -> None:
    """Append the members to the order, each begun at the end nearest to where hands are.

    Every step looks at all ends at once, as one array, and the arrays shrink as runs are placed.
    """
    while members.size:
        x, y = tips[members].reshape(-1, 2).T.copy()
        for _ in range((len(members) + 1) // 2):
            last, reverse = order[-1]
            here = tips[last, 0 if reverse else 1]
            best = int(np.argmin((x - here[0]) ** 2 + (y - here[1]) ** 2))
            order.append((int(members[best // 2]), best % 2 == 1))
            x[best // 2 * 2 : best // 2 * 2 + 2] = np.inf
        members = members[np.isfinite(x[::2])]
