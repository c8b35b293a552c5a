"""Windows chosen for least time, by dynamic programming over where they may begin."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.tolerances import BOTH_ROUNDED, GRID
from stitchpath.lines.frame.reach import Reach
from stitchpath.lines.frame.strands import Strands

__all__ = ["Chosen", "Verge", "choose_windows"]

_SLACK = BOTH_ROUNDED  # mm: places on the grid may lie so far beyond a window
_TIE = 1e-6  # s: of windows that take no longer, the fewest
_MANY = 20_000  # places where a window may begin; with more, those within _MERGED are one
_MERGED = 0.1  # mm


class Verge(NamedTuple):
    """What the first or last window may hold beside lines, and what it costs to miss it.

    Attributes
    ----------
    at
        How far up or down it lies, mm.
    price
        Of missing it.
    """

    at: float
    price: float


class Chosen(NamedTuple):
    """The windows of least cost.

    Attributes
    ----------
    tops
        Where they begin, mm, ascending, shape (k,).
    cost
        Of k - 1 advances, of cuts, and of what is missed.
    """

    tops: FloatArray
    cost: float


def choose_windows(
    strands: Strands,
    reach: Reach,
    advance: float,
    *,
    first: float | None = None,
    above: Verge | None = None,
    below: Verge | None = None,
    also: Sequence[float] = (),
) -> Chosen:
    """Choose where windows begin, so that advances and cuts cost least.

    Parameters
    ----------
    strands
        Of what is stitched, one at least.
    reach
        What the frame shows.
    advance
        Cost of rolling on once.
    first
        Where nothing is rolled up yet, mm; the top of all strands unless said.
    above, below
        Ways beyond the strands that are worth something.
    also
        More places where a window may begin, mm: of windows that cost the same, the most even are
        taken.

    Returns
    -------
    Chosen
        The best there is: with the next window at a' after one from a to b(a), every strand from
        above a' to below b(a) is cut, so f(a') = min f(a) + advance + cuts. A window can be moved
        down to the next top of a strand at no cost, but not past the end of the one before; so
        those are all the places where one need begin.

    Notes
    -----
    Where no strand leads over the end of a window, the next may begin farther down, at the next
    strand. Tops within 0.1 mm of each other are one where there are more than 20,000.
    """
    strands = _sorted(strands)
    low, high = float(strands.low.min()), float(strands.high.max())
    begin = low if above is None else min(above.at, low)
    frame = _Frame(strands, reach, begin if first is None else first)
    at = frame.candidates({low, begin, *also})
    bottom, limit = frame.bottom(at), frame.limit(at)
    cost = np.full(len(at), np.inf)
    uneven = np.zeros(len(at))  # of equals, the most even
    before = np.full(len(at), -1)
    missed = 0.0 if above is None or begin == low else above.price
    starts = at <= low + _SLACK
    cost[starts] = np.where(at[starts] <= begin + _SLACK, 0.0, missed)
    cuts = np.zeros(len(at))
    passed = 0
    far = np.searchsorted(bottom, strands.high - _SLACK)
    near = np.searchsorted(limit, strands.low - _SLACK)
    lows, price = strands.low.tolist(), strands.price.tolist()
    open_from = np.searchsorted(limit, at - _SLACK)
    for j, y in enumerate(at.tolist()):
        while passed < len(lows) and lows[passed] < y - _SLACK:
            cuts[near[passed] : far[passed]] += price[passed]
            passed += 1
        if starts[j] or open_from[j] >= j:
            continue
        here = cost[open_from[j] : j] + cuts[open_from[j] : j]
        steps = uneven[open_from[j] : j] + (y - at[open_from[j] : j]) ** 2
        k = _least(here, steps)
        cost[j], uneven[j] = here[k] + max(advance, _TIE), steps[k]
        before[j] = open_from[j] + k
    lost = 0.0 if below is None else below.price
    end = cost + (np.where(bottom < below.at - _SLACK, lost, 0.0) if below else 0.0)
    end[bottom < high - _SLACK] = np.inf
    k = _least(end, uneven + (high - at) ** 2)
    chosen = [k]
    while before[chosen[-1]] >= 0:
        chosen.append(int(before[chosen[-1]]))
    tops = at[chosen[::-1]]
    return Chosen(tops, float(end[k]) - (len(tops) - 1) * max(_TIE - advance, 0.0))


def _least(cost: FloatArray, then: FloatArray) -> int:
    """Find the least cost, and of equals the least of another."""
    equal = np.flatnonzero(cost <= cost.min() + _TIE / 2)
    return int(equal[np.argmin(then[equal])])


def _sorted(strands: Strands) -> Strands:
    order = np.argsort(strands.low, kind="stable")
    return Strands(*(column[order] for column in strands))


class _Frame(NamedTuple):
    """What is shown, from every place where a window may begin."""

    strands: Strands
    reach: Reach
    first: float

    def bottom(self, at: FloatArray) -> FloatArray:
        """Tell how far down windows show."""
        return self.reach.bottom(at, self.first)

    def limit(self, at: FloatArray) -> FloatArray:
        """Tell where the next window has to begin at the latest."""
        bottom = self.bottom(at)
        low, high, _ = self.strands
        wide = high - low > 2 * _SLACK
        begun = np.searchsorted(low[wide], bottom - _SLACK)
        ended = np.searchsorted(np.sort(high[wide]), bottom + _SLACK, side="right")
        next_wide = np.append(low[wide], np.inf)[np.searchsorted(low[wide], bottom - _SLACK)]
        next_flat = np.append(low[~wide], np.inf)[np.searchsorted(low[~wide], bottom + _SLACK)]
        following = np.minimum(next_wide, next_flat)
        return np.where(begun > ended, bottom, np.maximum(following, bottom))

    def candidates(self, begin: set[float]) -> FloatArray:
        """List where a window may begin: at tops, and where the one before it has to end."""
        tops = np.unique(np.append(self.strands.low, sorted(begin)))
        found = self._closed(tops, _MANY)
        if found is None:
            rough = np.union1d(np.floor(tops / _MERGED) * _MERGED, sorted(begin))
            found = self._closed(rough, len(rough) * _MANY)
        assert found is not None  # noqa: S101 - so many there are not
        return found

    def _closed(self, tops: FloatArray, most: int) -> FloatArray | None:
        """Add where the windows from places end, and so on; None if there are more."""
        last = float(self.strands.high.max())
        found = fresh = tops
        while len(fresh) and len(found) <= most:
            more = self.limit(fresh)
            fresh = _apart(more[more < last], found)
            found = np.union1d(found, fresh)
        return found if len(found) <= most else None


def _apart(more: FloatArray, found: FloatArray) -> FloatArray:
    """Give places that are not found yet, each once."""
    step, at = np.unique(np.rint(more / GRID), return_index=True)
    return np.sort(more[at[~np.isin(step, np.rint(found / GRID))]])
