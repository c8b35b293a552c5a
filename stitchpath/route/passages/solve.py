"""The cheapest runs where turns and returns have their price."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from stitchpath.route.effort import Effort
from stitchpath.route.passages.alike import Lay, same_way
from stitchpath.route.passages.bound import Search, prove
from stitchpath.route.passages.links import FORBIDDEN, Links, Ways, links_of, with_onward
from stitchpath.route.passages.order_bound import bound_in_order
from stitchpath.route.passages.problem import Passages, Trip, cost_of
from stitchpath.route.passages.search import Tour
from stitchpath.route.passages.start import FEW, best_order, first_order
from stitchpath.route.passages.taught import keeps_order
from stitchpath.route.passages.trips import walked
from stitchpath.typing import IntArray

__all__ = ["Asked", "Found", "find"]

_UPSETS = 6  # for each line
_ROOT = 0.15  # which part of the effort goes to the bound before the search is parted
_PROOF = 0.3  # and which of the rest to the search parted
_TOURS = 0.5  # and which to tours
_ORDERED = 0.15  # and which where an order is asked
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
    """

    phase: IntArray | None = None
    lay: Lay | None = None
    held: int = -1


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
        Called with cost and bound.

    Returns
    -------
    Found or None
        None where some line can be part of no run.
    """
    asked, ways = asked or Asked(), Ways(problem)
    links = links_of(ways, asked.held)
    search = _Search(problem, ways, links, effort, asked, progress or _silent)
    phase = asked.phase
    in_order = phase is not None and phase.max(initial=0) > phase.min(initial=0)
    return search.in_order(phase) if phase is not None and in_order else search.freely()


def _silent(_: float, __: float) -> None:
    """Tell no one how far the search is."""


@dataclass(frozen=True, slots=True)
class _Search:
    """One search for runs."""

    problem: Passages
    ways: Ways
    links: Links
    effort: Effort
    asked: Asked
    tell: Callable[[float, float], None]

    def freely(self) -> Found | None:
        """Find runs in any order."""
        search = Search(self.problem)
        search.root(self.effort.part(_ROOT))
        links = self.links
        order = self._improved(links, first_order(links), _UPSETS, search.bound)
        if not _whole(links, order):
            return None
        trips = walked(self.ways, links, order)
        cost = self._cost(trips)
        self.tell(cost, search.bound)
        if cost - search.bound > _MET * cost:
            better = prove(self.problem, self.effort.part(_PROOF), cost=cost, search=search).trips
            if better is not None and not self._breaks_hold(better) and self._cost(better) < cost:
                trips, cost = better, self._cost(better)
            self.tell(cost, search.bound)
        return Found(trips, cost, search.bound, cost, search.bound)

    def in_order(self, phase: IntArray) -> Found | None:
        """Find runs that keep to an order of phases, from nothing and from those in any order."""
        when = phase.tolist()
        free = self.freely()
        if free is None:
            return None
        links = with_onward(self.ways, self.links, when)
        bound = bound_in_order(self.ways, phase, self.effort.part(_ORDERED))
        bound = max(bound, free.bound)
        starts = [first_order(links, when), self._sorted(free.trips, phase)]
        orders = [self._improved(links, start, _UPSETS, bound, when) for start in starts]
        orders = [order for order in orders if _whole(links, order)]
        if not orders:
            return None
        lay, found = self.asked.lay, []
        for order in orders:
            if lay is not None and keeps_order([when[slot // 2] for slot in order]):
                order = same_way(self.ways, links, lay, order, when)  # noqa: PLW2901
            found.append(walked(self.ways, links, order))
        trips = min(found, key=self._cost)
        cost = self._cost(trips)
        self.tell(cost, bound)
        return Found(trips, cost, bound, min(free.cost, cost), free.least)

    def _sorted(self, trips: list[Trip], phase: IntArray) -> list[int]:
        """Take the lines of some runs phase by phase, otherwise as they come."""
        edges = np.flatnonzero(self.problem.required)
        number = np.full(len(self.problem.tail), -1)
        number[edges] = np.arange(len(edges))
        passed = np.concatenate([trip.edges for trip in trips])
        ahead = np.concatenate([trip.forward for trip in trips])
        lines = number[passed]
        _, first = np.unique(lines, return_index=True)
        first = np.sort(first[lines[first] >= 0])
        first = first[np.argsort(phase[lines[first]], kind="stable")]
        come = 2 * lines[first] + ~ahead[first]
        return np.stack([come, come ^ 1], axis=1).reshape(-1).tolist()

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
    ) -> list[int]:
        """Improve a tour until it meets the bound, or enough has been tried; the best of a few."""
        if len(links.edges) <= FEW:
            return best_order(links, phase)
        once = float(self.problem.first[self.problem.required].sum())
        tour = Tour(links, order, phase)
        tour.improve(
            self.effort.part(_TOURS), upsets=upsets * len(links.edges), enough=bound - once
        )
        return tour.slots()


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
