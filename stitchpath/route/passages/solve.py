"""The cheapest runs where turns and returns have their price."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

from stitchpath.route.effort import Effort
from stitchpath.route.passages.alike import Lay, same_way
from stitchpath.route.passages.links import FORBIDDEN, Links, links_of
from stitchpath.route.passages.problem import Passages, Trip, cost_of
from stitchpath.route.passages.search import Tour
from stitchpath.route.passages.start import first_order
from stitchpath.route.passages.taught import keeps_order
from stitchpath.route.passages.trips import trips_of
from stitchpath.typing import IntArray

__all__ = ["Walked", "walk"]

_UPSETS = 30  # for each line


@dataclass(frozen=True, slots=True)
class Walked:
    """The runs found, and what they cost.

    Attributes
    ----------
    trips
        In the order of stitching where there is one asked.
    cost
        Of first passes and all.
    free
        What the cheapest runs found cost that keep to no order; `cost` where none is asked.
    """

    trips: list[Trip]
    cost: float
    free: float


def walk(
    problem: Passages,
    effort: Effort,
    *,
    phase: IntArray | None = None,
    lay: Lay | None = None,
    progress: Callable[[float], None] | None = None,
) -> Walked | None:
    """Find cheap runs.

    Parameters
    ----------
    problem
        What has to be stitched, and at what prices.
    effort
        What may be spent.
    phase
        By line that has to be stitched, when it is to be; None for any order.
    lay
        Where those lines lie: then areas of one shape are stitched the same way. Asks for phases.
    progress
        Called with the cost of what has been found.

    Returns
    -------
    Walked or None
        None where some line can be part of no run.
    """
    if phase is None:
        trips = _free(problem, effort, None)
        cost = inf if trips is None else cost_of(problem, trips)
        return None if trips is None else Walked(trips, cost, cost)
    when = phase.tolist()
    links = links_of(problem, when)
    order = _improved(links, first_order(links, when), effort.part(0.5), when)
    if lay is not None and keeps_order([when[slot // 2] for slot in order]):
        order = same_way(problem, links, lay, order, when)
    if not _whole(links, order):
        return None
    trips = trips_of(problem, links, order)
    cost = cost_of(problem, trips)
    if progress is not None:
        progress(cost)
    free = _free(problem, effort, order)
    return Walked(trips, cost, cost if free is None else min(cost_of(problem, free), cost))


def _free(problem: Passages, effort: Effort, order: list[int] | None) -> list[Trip] | None:
    """Find cheap runs in any order, from an order that is at hand or from none."""
    links = links_of(problem)
    order = _improved(links, first_order(links) if order is None else order, effort)
    return trips_of(problem, links, order) if _whole(links, order) else None


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


def _improved(
    links: Links, order: list[int], effort: Effort, phase: list[int] | None = None
) -> list[int]:
    tour = Tour(links, order, phase)
    tour.improve(effort, upsets=_UPSETS * len(links.edges))
    return tour.slots()
