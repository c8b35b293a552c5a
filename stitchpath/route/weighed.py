"""Runs of a network where turns, returns and changes of foot have their price.

What is reckoned here is what the clock counts and what looks cost. That one has to come to each
area once is no return, so it is taken off again.
"""

from collections.abc import Callable

import numpy as np
import shapely

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.polylines import joined_paths
from stitchpath.geometry.turns import ABOUT_TURN, PIVOT
from stitchpath.hands.areas import GROUND
from stitchpath.network.graph import Network
from stitchpath.route.effort import Effort
from stitchpath.route.passages.alike import Lay
from stitchpath.route.passages.problem import Passages, Trip, cost_of
from stitchpath.route.passages.solve import Asked, Found, find
from stitchpath.route.passages.taught import held_by_others, phases
from stitchpath.route.postman import PROVEN, Tour, proof_of
from stitchpath.route.trails import Trail, Turning
from stitchpath.route.useful_runs import Walked, needed

__all__ = ["MANY", "passages_of", "walk_by_time", "weighed"]

MANY = 40_000  # lines: past these, turns and returns are counted but not searched for


def walk_by_time(
    network: Network,
    required: BoolArray,
    effort: Effort,
    *,
    held: int = -1,
    centre: tuple[float, float] | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> tuple[Walked, float] | None:
    """Route a network by time.

    Parameters
    ----------
    network
        Its graph.
    required
        What has to be stitched, shape (m,).
    effort
        What may be spent.
    held
        The edge that holds the first run to its start, -1 without.
    centre
        Middle of the top, mm, where the order is asked that is taught; else None.
    progress
        Called with cost and bound.

    Returns
    -------
    (Walked, float) or None
        The runs, and what the cheapest found cost that keep to no order, both beyond every line
        once. None where some line can be part of no run.
    """
    problem = passages_of(network, required)
    found = find(problem, effort, _asked(network, required, held, centre), progress)
    if found is None:
        return None
    once = _once(network, problem)
    trips, bound = _useful(found, required, in_order=centre is not None)
    walked = _walked(network, problem, trips, bound - once)
    return walked, min(found.free - once, walked.tour.cost)


def weighed(network: Network, required: BoolArray, walked: Walked) -> Walked:
    """Count turns, returns and feet into runs that were found without them.

    Parameters
    ----------
    network, required
        As in `walk_by_time`.
    walked
        The runs; their bound holds with all that is counted in as well.
    """
    trips = [Trip(walked.edge[trail.edges], trail.forward) for trail in walked.trails]
    return _walked(network, passages_of(network, required), trips, walked.tour.bound)


def _useful(found: Found, required: BoolArray, *, in_order: bool) -> tuple[list[Trip], float]:
    """Leave out runs that stitch nothing; give the bound that holds for what is left.

    Where an order is asked a line is stitched by the first run that passes it, be that before its
    turn. What is left then is cheaper than runs that wait for its turn, and only what holds for any
    order is a bound for it.
    """
    kept = needed([trip.edges for trip in found.trips], required, in_order=in_order)
    whole = len(kept) == len(found.trips) or not in_order
    return [found.trips[k] for k in kept], found.bound if whole else found.least


def _once(network: Network, problem: Passages) -> float:
    """Price what no runs are without: every line once, and coming once to every area."""
    first = float(problem.first[problem.required].sum())
    return first + network.first_visits(problem.required)


def passages_of(network: Network, required: BoolArray) -> Passages:
    """Give what has to be stitched of a network, and what everything costs.

    Parameters
    ----------
    network
        Its graph.
    required
        What has to be stitched, shape (m,).
    """
    return Passages(
        len(network.points),
        network.tail,
        network.head,
        required,
        network.first,
        network.again,
        network.end,
        network.passing,
    )


def _asked(
    network: Network, required: BoolArray, held: int, centre: tuple[float, float] | None
) -> Asked:
    if centre is None:
        return Asked(held=held)
    lines = np.flatnonzero(required)
    points, owner = _flat(network, lines)
    paths = shapely.linestrings(points, indices=owner)
    middle = shapely.get_coordinates(shapely.line_interpolate_point(paths, 0.5, normalized=True))
    length = network.length[lines]
    area, foot = network.area[lines], network.foot[lines]
    phase = 1 + phases(area, foot, middle, length, centre)
    phase[lines == held] = 0  # what holds the first run to its start comes before all
    tail, head = (network.points[side[lines]] for side in (network.tail, network.head))
    # Where all that is stitched are seams, with one foot: else the plain order is kept.
    seams = (network.seam[lines] >= 0) | (lines == held)
    plain = bool(seams.all()) and len(np.unique(foot[foot >= 0])) == 1
    seam = (area == GROUND) & (lines != held) & plain
    loose = np.zeros(len(lines), dtype=bool)
    loose[seam] = held_by_others(tail[seam], head[seam], length[seam], centre)
    lay = Lay(tail, head, middle, length)
    return Asked(phase, lay, held, loose if loose.any() else None)


def _flat(network: Network, lines: IntArray) -> tuple[FloatArray, IntArray]:
    """Lay the paths of some lines end to end: points, and to which line each belongs."""
    first, points = joined_paths([network.paths[line] for line in lines.tolist()])
    return points, np.repeat(np.arange(len(lines)), np.diff(np.append(first, len(points))))


def _walked(network: Network, problem: Passages, trips: list[Trip], bound: float) -> Walked:
    """Give runs the form that the router goes on with, priced and held against a bound."""
    edge = np.concatenate([trip.edges for trip in trips])
    last = np.cumsum([len(trip.edges) for trip in trips])
    trails = [
        Trail(np.arange(end - len(trip.edges), end), trip.forward)
        for trip, end in zip(trips, last.tolist(), strict=True)
    ]
    cost = cost_of(problem, trips)
    least, optimal = proof_of(cost - _once(network, problem), bound, PROVEN * cost)
    passes = np.zeros(len(network.tail), dtype=np.int64)
    ends = np.zeros(problem.vertices, dtype=np.int64)
    at = problem.at
    for trip in trips:
        np.add.at(passes, trip.edges, 1)
        ends[at[trip.out[0]]] += 1
        ends[at[trip.into[-1]]] += 1
    tour = Tour(passes - problem.required, ends, cost - _once(network, problem), least, optimal)
    return Walked(trails, edge, _turning(problem, trips), tour)


def _turning(problem: Passages, trips: list[Trip]) -> Turning:
    """Measure how much runs turn; what they could turn at least is not asked here."""
    nothing = np.empty(0, dtype=np.int64)
    a = np.concatenate([nothing, *(trip.into[:-1] for trip in trips)])
    b = np.concatenate([nothing, *(trip.out[1:] for trip in trips)])
    turn = np.round(problem.passing.turn(a, b), 6)
    back = turn >= ABOUT_TURN
    return Turning(
        total=float(turn.sum()),
        pivots=int((turn > PIVOT).sum()),
        about_turns=int(back.sum()),
        unasked=int((back & (a // 2 != b // 2)).sum()),
        bound=0.0,
    )
