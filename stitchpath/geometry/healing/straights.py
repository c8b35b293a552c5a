"""Straights that a hand drew: those in bits or drawn twice made one, those nearly level made level.

Both only where lines were drawn loosely. What is drawn exactly stays as it is.
"""

import numpy as np
import shapely
from scipy.spatial import cKDTree

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import groups

__all__ = ["joined_straights", "levelled"]

_EIGHTH = np.pi / 4  # level, upright, and midway between
_TILT = 1.5  # tolerances: ends so far off those ways are meant to lie on them
_LEVEL_FROM = 12.0  # tolerances: a shorter line does not tell its way
_MOSTLY = 0.8  # of the length of a drawing that lies so: then it is meant so
_LOOSE = 0.1  # tolerances: what is so far off was drawn loosely
_MANY = 0.3  # share so: all of it was drawn loosely
_ALONG = np.sin(np.radians(3))  # straights that turn less from each other may be one
_OVER = 3.0  # tolerances: those that are one run beside each other for so long
_MOST_PAIRS = 4_000_000  # of ends near each other, each twice: too great a heap to be a drawing
_TIP = 2.0  # tolerances: ends so near the farthest are ends there too


def joined_straights(
    lines: list[FloatArray], tolerance: float
) -> tuple[list[FloatArray], FloatArray]:
    """Make straights one that were drawn loosely twice, or in bits that run beside each other.

    The line through all their ends, by total least squares, tells better where it is meant than
    any of them.

    Parameters
    ----------
    lines
        Polylines without corners, each of shape (n, 2), mm; those of two points are joined.
    tolerance
        How far an end may lie from where it is meant to, mm.

    Returns
    -------
    lines, twice
        The lines, and the middles of what was drawn more than once, shape (n, 2).
    """
    which = np.flatnonzero(np.array([len(line) == 2 for line in lines]))  # noqa: PLR2004
    ends = np.array([lines[k] for k in which.tolist()]).reshape(-1, 2, 2)
    tips = cKDTree(ends.reshape(-1, 2))
    if not len(ends) or tips.count_neighbors(tips, 2 * tolerance) > _MOST_PAIRS:
        return lines, np.zeros((0, 2))
    one, other, middles, whole = _beside(ends, tolerance)
    if not len(one):
        return lines, np.zeros((0, 2))
    label = groups(len(ends), one, other)
    kept = dict(enumerate(lines))
    order = np.argsort(label, kind="stable")
    for some in np.split(order, np.flatnonzero(np.diff(label[order])) + 1):
        if len(some) > 1:
            line = _through(ends[some], tolerance)
            if line is not None:
                for k in some[1:].tolist():
                    del kept[int(which[k])]
                kept[int(which[some[0]])] = line
    return list(kept.values()), middles[whole]


def _beside(ends: FloatArray, tolerance: float) -> tuple[IntArray, IntArray, FloatArray, BoolArray]:
    """Find pairs of straights that run beside each other loosely: where, and if all the way."""
    # of two that run beside each other one has an end there
    tips = np.asarray(shapely.points(ends.reshape(-1, 2)))
    tree = shapely.STRtree(np.asarray(shapely.linestrings(ends)))
    tip, line = tree.query(tips, predicate="dwithin", distance=tolerance)
    pairs = np.sort(np.stack([tip // 2, line], axis=1), axis=1)
    one, other = np.unique(pairs[pairs[:, 0] < pairs[:, 1]], axis=0).T
    way = ends[:, 1] - ends[:, 0]
    size = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
    unit = way / size[:, None]
    alike = np.abs(unit[one, 0] * unit[other, 1] - unit[one, 1] * unit[other, 0]) < _ALONG
    one, other = one[alike], other[alike]
    start = ends[one, 0][:, None]
    along = ((ends[other] - start) * unit[one][:, None]).sum(axis=2)
    normal = np.stack([-unit[one, 1], unit[one, 0]], axis=1)
    aside = ((ends[other] - start) * normal[:, None]).sum(axis=2)
    low = np.maximum(along.min(axis=1), 0)
    high = np.minimum(along.max(axis=1), size[one])
    slope = (aside[:, 1] - aside[:, 0]) / np.where(
        along[:, 1] == along[:, 0], 1, np.diff(along)[:, 0]
    )
    gaps = [np.abs(aside[:, 0] + (at - along[:, 0]) * slope) for at in (low, high)]
    far = np.maximum(*gaps)
    shared = high - low
    good = (shared > _OVER * tolerance) & (far <= tolerance) & (far > _LOOSE * tolerance)
    middle = start[:, 0] + ((low + high) / 2)[:, None] * unit[one]
    whole = shared > np.minimum(size[one], size[other]) / 2
    return one[good], other[good], middle[good], whole[good]


def _through(ends: FloatArray, tolerance: float) -> FloatArray | None:
    """Lay one line through the ends of several; None where one lies too far from it."""
    points = ends.reshape(-1, 2)
    middle = points.mean(axis=0)
    unit = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    along = (points - middle) @ unit
    aside = (points - middle) - along[:, None] * unit
    if np.hypot(*aside.T).max() > tolerance:
        return None
    tips = [
        along[along < along.min() + _TIP * tolerance].mean(),
        along[along > along.max() - _TIP * tolerance].mean(),
    ]
    return np.asarray(middle + np.array(tips)[:, None] * unit)


def levelled(lines: list[FloatArray], tolerance: float) -> list[FloatArray]:
    """Turn lines drawn nearly level, upright or at 45° until they are, if most are drawn so.

    Where most lines of a drawing are nearly so, and nearly none exactly, a hand drew them and meant
    them so. The middle of a line is off by less than its ends, since both ends tell of it.

    Parameters
    ----------
    lines
        Polylines without corners, each of shape (n, 2), mm; only straights are turned.
    tolerance
        How far an end may lie from where it is meant to, mm.
    """
    straight = np.array([len(line) == 2 for line in lines])  # noqa: PLR2004
    if not straight.any():
        return lines
    which = np.flatnonzero(straight)
    ends = np.array([lines[k] for k in which.tolist()])
    way = ends[:, 1] - ends[:, 0]
    size = np.hypot(way[:, 0], way[:, 1])
    turn = np.arctan2(way[:, 1], way[:, 0])
    meant = np.round(turn / _EIGHTH) * _EIGHTH
    off = size * np.abs(np.sin(turn - meant))
    able = size >= _LEVEL_FROM * tolerance
    near = able & (off <= _TILT * tolerance)
    if not size[near].sum() > _MOSTLY * size[able].sum():
        return lines
    if (off[near] > _LOOSE * tolerance).mean() <= _MANY:  # drawn exactly
        return lines
    middle = ends.mean(axis=1)
    half = (size / 2)[:, None] * np.stack([np.cos(meant), np.sin(meant)], axis=1)
    out = list(lines)
    for k in np.flatnonzero(near).tolist():
        out[which[k]] = np.stack([middle[k] - half[k], middle[k] + half[k]])
    return out
