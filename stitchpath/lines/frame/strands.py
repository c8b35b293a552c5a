"""Lines as strands: what of them has to be cut wherever no window holds it."""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import joined_paths

__all__ = ["Strands", "strands_of", "swings"]

_TRIPLE = 3  # a swing lies between two that are wider


class Strands(NamedTuple):
    """Stretches of lines that lead down or up.

    Attributes
    ----------
    low, high
        From where to where each leads, mm, shape (n,).
    price
        What it costs to cut it once, shape (n,).
    """

    low: FloatArray
    high: FloatArray
    price: FloatArray

    def and_also(self, other: "Strands") -> "Strands":
        """Add others."""
        return Strands(*(np.concatenate(pair) for pair in zip(self, other, strict=True)))


def strands_of(paths: Sequence[FloatArray], price: float, axis: int = 1) -> Strands:
    """Part lines into strands.

    However a line winds, it passes from above one level to below another as often as strands lead
    from the one to the other.

    Parameters
    ----------
    paths
        Each of shape (n, 2), mm.
    price
        Of one cut.
    axis
        Along which they lead: 0 for x, 1 for y.

    Returns
    -------
    Strands
        Of a line that only leads down one; what winds has more. Those alike are one, dearer.
    """
    if not paths:
        return Strands(np.zeros(0), np.zeros(0), np.zeros(0))
    starts, points = joined_paths(paths)
    y = np.ascontiguousarray(points[:, axis])
    step = np.diff(y, append=y[-1:])
    step[np.append(starts[1:], len(y)) - 1] = 0.0
    down = np.logical_or.reduceat(step > 0, starts)
    up = np.logical_or.reduceat(step < 0, starts)
    plain = ~(down & up)
    low, high = np.minimum.reduceat(y, starts), np.maximum.reduceat(y, starts)
    found = [np.column_stack([low[plain], high[plain], np.ones(int(plain.sum()))])]
    found += [swings(paths[k][:, axis]) for k in np.flatnonzero(~plain).tolist()]
    every = np.concatenate(found)
    alike, mine = np.unique(every[:, :2], axis=0, return_inverse=True)
    count = np.bincount(mine.reshape(-1), weights=every[:, 2], minlength=len(alike))
    return Strands(alike[:, 0], alike[:, 1], np.asarray(price * count, dtype=np.float64))


def swings(y: FloatArray) -> FloatArray:
    """Part the ups and downs of a line into swings, and count how often each is passed.

    This is rainflow counting, as ASTM E1049 and Matsuishi and Endo (1968) count the cycles of a
    load. A swing between two that are wider is taken out, and leaves one way through: it is passed
    twice. What is left at the end, ever wider and then ever narrower, is passed once each.

    Parameters
    ----------
    y
        Heights along the line, shape (n,), mm.

    Returns
    -------
    FloatArray
        Lower and upper end of each swing, and how often it is passed, shape (k, 3). A slab is
        passed, from one side to the other, as often as the swings over it say.

    Examples
    --------
    >>> swings(np.array([0.0, 6.0, 3.0, 9.0])).tolist()
    [[3.0, 6.0, 2.0], [0.0, 9.0, 1.0]]
    """
    moving = y[np.append(True, np.diff(y) != 0)]
    turn = np.diff(np.sign(np.diff(moving))) != 0
    tips = moving[np.concatenate([[True], turn, [len(moving) > 1]])] if len(moving) > 1 else moving
    if len(tips) == 1:
        tips = np.repeat(tips, 2)
    found: list[tuple[float, float, float]] = []
    kept: list[float] = []
    for tip in tips.tolist():
        kept.append(tip)
        while len(kept) > _TRIPLE:
            before, swing, after = np.abs(np.diff(kept[-4:])).tolist()
            if swing > before or swing > after:
                break
            one, two = kept[-3], kept[-2]
            found.append((min(one, two), max(one, two), 2.0))
            del kept[-3:-1]
    found += [(min(a, b), max(a, b), 1.0) for a, b in pairwise(kept)]
    return np.array(found)
