"""The cheapest runs where turns and returns have their price."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from stitchpath.base.errors import InternalError
from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.route.effort import Effort
from stitchpath.route.passages.alike import Lay, same_way
from stitchpath.route.passages.bound import ROUNDING, Search, prove
from stitchpath.route.passages.links import (
    FORBIDDEN,
    Links,
    Ways,
    links_in_order,
    links_of,
    with_onward,
)
from stitchpath.route.passages.order_bound import bound_in_order
from stitchpath.route.passages.problem import GROUND, Passages, Trip, cost_of
from stitchpath.route.passages.search import Tour
from stitchpath.route.passages.start import FEW, best_order, first_order
from stitchpath.route.passages.taught import WHENEVER, keeps_order
from stitchpath.route.passages.trips import walked

__all__ = ["Asked", "Found", "find"]

_UPSETS = 6  # for each line
_TRIAL = 1  # for each line, to see whether it pays to stitch some at any time
_SEEDS = 3  # if it does, at most so many searches are begun, each with other upsets
_PROMISE = 0.005  # share of the cost that has to be saved at first, to go on
_WORTH = 0.05  # and in the end: else the plainer order is kept, in which more areas are alike
_MOST_LOOSE = 1000  # lines: on larger tops it is not tried
_ROOT = 0.15  # which part of the effort goes to the bound before the search is parted
_PROOF = 0.3  # and which of the rest to the search parted
_TOURS = 0.5  # and which to tours
_FREE = 0.5  # which part goes to any order first, where one is asked
_ORDERED = 0.5  # and which of the rest to the bound in that order
_MET = 1e-9  # share of the cost: a bound so near is met


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of runs beside a low cost.

    Attributes
    ----------
    phase
        By line that has to be stitched, when it is to be, shape (r,); None for any order.
    lay
        Where those lines lie: with phases, areas of one shape are stitched the same way.
    held
        The edge at whose tail the first run begins, -1 where none is held to a start.
    loose
        Lines that may be stitched at any time, whatever their phase, shape (r,); None for none.
    """

    phase: IntArray | None = None
    lay: Lay | None = None
    held: int = -1
    loose: BoolArray | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """The runs found, and what they cost.

    Attributes
    ----------
    trips
        In the order of stitching, where one is asked.
    cost, bound
        Of first passes and all; and what no runs cost less than that keep to the order asked.
    free, least
        What the cheapest runs found cost that keep to no order, and what no runs cost less than.
    """

    trips: list[Trip]
    cost: float
    bound: float
    free: float
    least: float


@dataclass(frozen=True, slots=True)
class _Ordered:
    """Runs in an order: slots as they come, the runs, what they cost."""

    order: list[int]
    trips: list[Trip]
    cost: float


def find(
    problem: Passages,
    effort: Effort,
    asked: Asked | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Found | None:
    """Find cheap runs, and what none can go below.

    Parameters
    ----------
    problem
        What has to be stitched, and at what prices.
    effort
        What may be spent.
    asked
        The order, if any.
    progress
        Called with the cost of the best runs so far and a bound, as soon as there are any.

    Returns
    -------
    Found or None
        None where some line can be part of no run.
    """
    asked, ways = asked or Asked(), Ways(problem)
    links = links_of(ways, asked.held)
    search = _Search(problem, ways, links, effort, asked, _Heard(problem, progress))
    phase = asked.phase
    in_order = phase is not None and len(phase) > 0 and phase.max() > phase.min()
    return search.in_order(phase) if phase is not None and in_order else search.freely()


class _Heard:
    """Tells how far a search is: the best runs of the kind that is asked, and a bound for them.

    Every line has to be stitched once: that is a bound before any is reckoned.
    """

    def __init__(self, problem: Passages, progress: Callable[[float, float], None] | None) -> None:
        self._progress = progress
        self.once = float(problem.first[problem.required].sum())
        self._best, self._bound = np.inf, self.once

    def tour(self, cost: float) -> None:
        """Hear of a tour, by the cost of its links."""
        if cost < FORBIDDEN:
            self._hear(min(self._best, self.once + cost), self._bound)

    def bound(self, bound: float) -> None:
        """Hear of a bound."""
        self._hear(self._best, max(self._bound, bound))

    def _hear(self, best: float, bound: float) -> None:
        if bound > best + ROUNDING * (1 + abs(best)):
            raise InternalError(f"a route of {best:g} was found below the bound of {bound:g}")
        bound = min(bound, best)
        if (best, bound) != (self._best, self._bound):
            self.exactly(best, bound)

    def exactly(self, best: float, bound: float) -> None:
        """Tell what came of it."""
        self._best, self._bound = best, bound
        if self._progress is not None and best < np.inf:
            self._progress(best, bound)


def _apart(_: float) -> None:
    """Tell no one of a tour that is not of the kind that is asked."""


@dataclass(frozen=True, slots=True)
class _Search:
    """One search for runs."""

    problem: Passages
    ways: Ways
    links: Links
    effort: Effort
    asked: Asked
    heard: _Heard

    def freely(self) -> Found | None:
        """Find runs in any order, and tell of them."""
        first = first_order(self.links)
        self.heard.tour(Tour(self.links, first).cost)
        found = self.untold(first, self.heard.tour)
        if found is not None:
            self.heard.exactly(found.cost, found.bound)
        return found

    def untold(self, first: list[int], heard: Callable[[float], None]) -> Found | None:
        """Find runs in any order, from a first."""
        search = Search(self.problem, heard=self.heard.bound)
        search.root(self.effort.part(_ROOT))
        links = self.links
        order = self._improved(links, first, _UPSETS, search.bound, heard=heard)
        if not _whole(links, order):
            return None
        trips = walked(self.ways, links, order)
        cost = self._cost(trips)
        if cost - search.bound > _MET * cost:
            better = prove(self.problem, self.effort.part(_PROOF), cost=cost, search=search).trips
            if better is not None and not self._breaks_hold(better) and self._cost(better) < cost:
                trips, cost = better, self._cost(better)
        return Found(trips, cost, search.bound, cost, search.bound)

    def in_order(self, phase: IntArray) -> Found | None:
        """Find runs that keep to an order of phases, from nothing and from those in any order."""
        usual = phase.tolist()
        links = with_onward(self.ways, self.links, usual)
        first = first_order(links, usual)
        self.heard.tour(Tour(links, first, usual).real)
        apart = replace(self, effort=self.effort.part(_FREE))
        free = apart.untold(first_order(self.links), _apart)
        if free is None:
            return None
        self.heard.bound(free.bound)
        loose = self.asked.loose if len(phase) <= _MOST_LOOSE else None
        bound = self._bound(phase, free) if loose is None else free.bound
        starts = [first, self._sorted(free.trips, phase.astype(np.float64))]
        strict = self._ordered(links, usual, usual, starts, bound)
        if strict is None or loose is None:
            return self._found(strict, free, bound) if strict is not None else None
        looser = self._looser(phase, loose, strict, free)
        if looser is None or looser.cost > strict.cost * (1 - _WORTH):
            return self._found(strict, free, self._bound(phase, free))
        return self._found(looser, free, self._bound(np.where(loose, WHENEVER, phase), free))

    def _bound(self, phase: IntArray, free: Found) -> float:
        """Find what no runs cost less than that keep to an order."""
        return max(bound_in_order(self.ways, phase, self.effort.part(_ORDERED)), free.bound)

    def _looser(
        self, phase: IntArray, loose: BoolArray, strict: "_Ordered", free: Found
    ) -> "_Ordered | None":
        """Find runs in which some lines are stitched at any time; None where it does not pay."""
        when, usual = np.where(loose, WHENEVER, phase).tolist(), phase.tolist()
        links = links_in_order(self.ways, self.links.hub, when, usual)
        most = self._comings(strict.trips)
        trial = self._ordered(links, when, usual, [strict.order], free.bound, _TRIAL)
        if trial is None or trial.cost > strict.cost * (1 - _PROMISE):
            return None
        beside = self._sorted(free.trips, self._beside(free.trips, phase, loose))
        found, best, goal = [trial], [strict.cost, trial.cost], strict.cost * (1 - _WORTH)
        for seed in range(_SEEDS):
            if seed and not _pays(best, goal):
                break
            one = self._ordered(links, when, usual, [beside], free.bound, seed=seed)
            found += [one] if one is not None else []
            best.append(min(one.cost for one in found))
        found = [one for one in found if self._comings(one.trips) <= most]
        return min(found, key=lambda one: one.cost, default=None)

    def _comings(self, trips: list[Trip]) -> int:
        """Count how often areas are come to."""
        area = self.problem.passing.area
        rows = [np.append(GROUND, area[trip.edges]) for trip in trips]
        return sum(int(((row[1:] != row[:-1]) & (row[1:] != GROUND)).sum()) for row in rows)

    def _found(self, best: "_Ordered", free: Found, bound: float) -> Found:
        self.heard.exactly(best.cost, bound)
        return Found(best.trips, best.cost, bound, min(free.cost, best.cost), free.least)

    def _ordered(
        self,
        links: Links,
        when: list[int],
        usual: list[int],
        starts: list[list[int]],
        bound: float,
        upsets: int = _UPSETS,
        seed: int = 0,
    ) -> "_Ordered | None":
        """Find the best runs in an order, from some starts."""
        orders = [self._improved(links, start, upsets, bound, when, seed) for start in starts]
        lay, found = self.asked.lay, []
        for order in orders:
            if not _whole(links, order):
                continue
            if lay is not None and keeps_order([when[slot // 2] for slot in order]):
                block = _blocks(order, usual)
                areas = {block[k] for k in np.flatnonzero(self._in_area).tolist()}
                order = same_way(self.ways, links, lay, order, block, areas)  # noqa: PLW2901
            trips = walked(self.ways, links, order)
            found.append(_Ordered(order, trips, self._cost(trips)))
        return min(found, key=lambda one: one.cost, default=None)

    @property
    def _in_area(self) -> BoolArray:
        """Which lines lie in an area, shape (r,)."""
        return np.asarray(self.problem.passing.area[self.problem.required] != GROUND)

    def _come_to(self, trips: list[Trip]) -> tuple[IntArray, BoolArray]:
        """Give the lines of some runs as they are come to first, and which way each is walked."""
        edges = np.flatnonzero(self.problem.required)
        number = np.full(len(self.problem.tail), -1)
        number[edges] = np.arange(len(edges))
        lines = number[np.concatenate([trip.edges for trip in trips])]
        ahead = np.concatenate([trip.forward for trip in trips])
        _, first = np.unique(lines, return_index=True)
        first = np.sort(first[lines[first] >= 0])
        return lines[first], ahead[first]

    def _sorted(self, trips: list[Trip], when: FloatArray) -> list[int]:
        """Take the lines of some runs phase by phase, otherwise as they come."""
        lines, ahead = self._come_to(trips)
        order = np.argsort(when[lines], kind="stable")
        come = 2 * lines[order] + ~ahead[order]
        return np.stack([come, come ^ 1], axis=1).reshape(-1).tolist()

    def _beside(self, trips: list[Trip], phase: IntArray, loose: BoolArray) -> FloatArray:
        """Give phases; what may be stitched at any time goes with what is beside it in runs.

        Parameters
        ----------
        trips
            The runs.
        phase, loose
            By line, shape (r,): its phase, and whether it may be stitched at any time.

        Returns
        -------
        ndarray
            Shape (r,): a phase, or halfway to the one before or after.
        """
        lines = self._come_to(trips)[0]
        when = phase.astype(np.float64)
        fixed = np.flatnonzero(phase[lines] > phase[loose].max(initial=-1))
        for k in np.flatnonzero(loose[lines]).tolist():
            j = int(np.searchsorted(fixed, k))
            before = k - fixed[j - 1] if j else np.inf
            after = fixed[j] - k if j < len(fixed) else np.inf
            if after <= before and after < np.inf:
                when[lines[k]] = phase[lines[fixed[j]]] - 0.5
            elif before < np.inf:
                when[lines[k]] = phase[lines[fixed[j - 1]]] + 0.5
        return when

    def _cost(self, trips: list[Trip]) -> float:
        return cost_of(self.problem, trips)

    def _breaks_hold(self, trips: list[Trip]) -> bool:
        """Whether the run that is held to a start stops there at once."""
        return any(len(trip.edges) == 1 and int(trip.edges[0]) == self.asked.held for trip in trips)

    def _improved(
        self,
        links: Links,
        order: list[int],
        upsets: int,
        bound: float,
        phase: list[int] | None = None,
        seed: int = 0,
        heard: Callable[[float], None] | None = None,
    ) -> list[int]:
        """Improve a tour until it meets the bound, or enough has been tried; the best of a few."""
        if len(links.edges) <= FEW:
            return best_order(links, phase)
        tour = Tour(links, order, phase)
        tour.improve(
            self.effort.part(_TOURS),
            upsets=upsets * len(links.edges),
            enough=bound - self.heard.once,
            seed=seed,
            heard=heard or self.heard.tour,
        )
        return tour.slots()


def _pays(best: list[float], goal: float) -> bool:
    """Whether another search is worth its while.

    Parameters
    ----------
    best
        The least cost found before the last searches and after each.
    goal
        What has to be met, or all has been for nothing. It is met already, or would be by a search
        that saves half of what the last one did: each begins anew, so it saves less than those
        before it.
    """
    before, after = best[-2:]
    return after - 0.5 * (before - after) <= goal


def _blocks(order: list[int], phase: list[int]) -> list[int]:
    """Give each line the number of what stands together with it of one phase in an order."""
    number, before = [0] * len(phase), phase[order[0] // 2]
    block = 0
    for slot in order[::2]:
        block += phase[slot // 2] != before
        before = phase[slot // 2]
        number[slot // 2] = block
    return number


def _whole(links: Links, order: list[int]) -> bool:
    """Whether no run ends where none may."""
    tips = [order[0], order[-1]]
    tips += [
        slot
        for a, b in zip(order[1:-1:2], order[2::2], strict=True)
        if b not in links.near[a]
        for slot in (a, b)
    ]
    return float(links.hub[tips].max()) < FORBIDDEN
