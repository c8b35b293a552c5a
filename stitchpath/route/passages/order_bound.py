"""What no route can go below that keeps to an order: phase by phase, with its share of the ways.

A route that finishes each phase before the next falls apart into the phases. The way from one to
the next is at least as dear as the cheapest from where it leaves the one to anything of the next,
and as the cheapest from anything of the first to where it comes to the next: so it takes half of
each, or shares that are a little better. With those as the prices of its way in and its way out,
each phase is a problem of its own, and the sum of their bounds is a bound for the route.

In the problem of an area all ways outside it become *shortcuts* between its vertices, that turn
nowhere: no dearer than they are, and few.

What may be stitched at any time is priced once, and may then be passed for nothing but its turns.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from stitchpath.geometry.tolerances import FREE
from stitchpath.hands.areas import GROUND
from stitchpath.network.passing import Passing
from stitchpath.route.effort import Effort
from stitchpath.route.passages.bound import lower_bound
from stitchpath.route.passages.links import Onward, Ways
from stitchpath.route.passages.problem import Passages, both_ends
from stitchpath.route.passages.taught import WHENEVER
from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["bound_in_order"]

_ROUNDING = 1e-9  # a shortcut no cheaper than others by this share is made up by them


def bound_in_order(states: Ways, phase: IntArray, effort: Effort) -> float:
    """Find what no runs can go below that stitch the lines of each phase before those of the next.

    Parameters
    ----------
    states
        The ways of a problem.
    phase
        By line that has to be stitched, when it is to be, or `WHENEVER`, shape (r,).
    effort
        What may be spent.
    """
    loose = np.flatnonzero(states.problem.required)[phase == WHENEVER]
    if len(loose):
        once = float(states.problem.first[loose].sum())
        states, phase = Ways(_passed_free(states.problem, loose)), phase[phase != WHENEVER]
        return once + bound_in_order(states, phase, effort)
    problem = states.problem
    edges = np.flatnonzero(problem.required)
    parts = [np.flatnonzero(phase == number) for number in np.unique(phase)]
    slots = [both_ends(part) for part in parts]
    onward = Onward(states)
    between = [onward.shares(here, there) for here, there in pairwise(slots)]
    total, left = 0.0, len(edges)
    for k, part in enumerate(parts):
        share = effort.part(len(part) / left)
        left -= len(part)
        prices = [shares[1] for shares in between[max(k - 1, 0) : k]]
        prices += [shares[0] for shares in between[k : k + 1]]
        doors = [_door(problem, edges[part], price) for price in prices]
        total += lower_bound(_part(problem, edges[part], doors), share)
        # The free end of a door counts as an end within its area, which it is not.
        total -= 0.5 * problem.passing.visit * sum(door.area != GROUND for door in doors)
    return total


def _passed_free(problem: Passages, edges: IntArray) -> Passages:
    """Ask no longer that some edges be stitched; passing them costs nothing."""
    required, again = problem.required.copy(), problem.again.copy()
    required[edges], again[edges] = False, 0.0
    return replace(problem, required=required, again=again)


@dataclass(frozen=True, slots=True)
class _Door:
    """A way in or out: the vertices where it leads, and what it costs to pass there."""

    at: IntArray
    price: FloatArray
    area: int


def _door(problem: Passages, part: IntArray, price: FloatArray) -> _Door:
    """Make a door of the price of a way in at each slot of a part."""
    at = problem.at[both_ends(part)]
    where, index = np.unique(at, return_inverse=True)
    least = np.full(len(where), np.inf)
    np.minimum.at(least, index, price)
    return _Door(where, least, int(problem.passing.area[part[0]]))


def _part(problem: Passages, part: IntArray, doors: list[_Door]) -> Passages:
    """Make the problem of one part; for an area, with shortcuts for all that is outside."""
    required: BoolArray = np.zeros(len(problem.tail), dtype=bool)
    required[part] = True
    area = int(problem.passing.area[part[0]])
    if area == GROUND:
        return _with_doors(replace(problem, required=required), doors)
    kept = np.flatnonzero(problem.passing.area == area)
    home, ends = np.unique(
        np.concatenate([problem.tail[kept], problem.head[kept]]), return_inverse=True
    )
    one, other, price = _shortcuts(problem, kept, home)
    count, passing = len(kept), problem.passing
    inner = replace(
        passing,
        area=passing.area[kept],
        foot=passing.foot[kept],
        on=passing.carried[kept],
        angle=passing.angle[both_ends(kept)],
        half_turn=passing.half_turn[:, home],
    )
    alone = Passages(
        vertices=len(home),
        tail=np.concatenate([ends[:count], one]),
        head=np.concatenate([ends[count:], other]),
        required=np.concatenate([required[kept], np.zeros(len(one), dtype=bool)]),
        first=np.concatenate([problem.first[kept], np.zeros(len(one))]),
        again=np.concatenate([problem.again[kept], price]),
        end=_cheapest_end(problem)[home],
        passing=_widened(inner, len(one), 0, GROUND),
    )
    moved = [replace(door, at=np.searchsorted(home, door.at)) for door in doors]
    return _with_doors(alone, moved)


def _shortcuts(
    problem: Passages, kept: IntArray, home: IntArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Find the ways outside some edges between vertices, without those that others make up."""
    outside = np.isfinite(problem.again)
    outside[kept] = False
    far = dijkstra(_web(problem, outside), directed=False, indices=home)[:, home]
    through = np.full(far.shape, np.inf)
    for k in range(len(home)):
        row = np.where(np.arange(len(home)) == k, np.inf, far[k])
        through = np.minimum(through, row[:, None] + row[None, :])
    reached = np.isfinite(far)
    needed = reached & (np.where(reached, far, 0.0) * (1 + _ROUNDING) < through)
    one, other = np.nonzero(np.triu(needed, 1))
    return one, other, np.maximum(far[one, other] - problem.vertices * FREE, 0.0)


def _web(problem: Passages, edges: BoolArray) -> csr_array:
    """Make the graph of some edges, at what they cost again."""
    n = problem.vertices
    pair = np.sort(np.stack([problem.tail[edges], problem.head[edges]]), axis=0)
    price = np.maximum(problem.again[edges], FREE)
    order = np.lexsort((price, pair[1], pair[0]))
    pair, price = pair[:, order], price[order]
    fresh = np.ones(len(price), dtype=bool)
    fresh[1:] = (np.diff(pair, axis=1) != 0).any(axis=0)
    return csr_array((price[fresh], (pair[0, fresh], pair[1, fresh])), shape=(n, n))


def _cheapest_end(problem: Passages) -> FloatArray:
    """Price the cheapest way from each vertex to a run end, turns left out."""
    web = _web(problem, np.isfinite(problem.again)).tocoo()
    open_to = np.flatnonzero(np.isfinite(problem.end))
    n = problem.vertices
    row = np.concatenate([web.row, np.full(len(open_to), n)])
    column = np.concatenate([web.col, open_to])
    price = np.concatenate([web.data, np.maximum(problem.end[open_to], FREE)])
    whole = csr_array((price, (row, column)), shape=(n + 1, n + 1))
    far = dijkstra(whole, directed=False, indices=[n])[0][:n]
    return np.asarray(np.maximum(far - (n + 1) * FREE, 0.0))


def _with_doors(problem: Passages, doors: list[_Door]) -> Passages:
    """Add doors: each is an edge that has to be walked, one end free, the other led to vertices."""
    for door in doors:
        free, inner, new = problem.vertices, problem.vertices + 1, len(door.at) + 1
        problem = Passages(
            vertices=problem.vertices + 2,
            tail=np.concatenate([problem.tail, [free], np.full(len(door.at), inner)]),
            head=np.concatenate([problem.head, [inner], door.at]),
            required=np.concatenate([problem.required, [True], np.zeros(new - 1, dtype=bool)]),
            first=np.concatenate([problem.first, np.zeros(new)]),
            again=np.concatenate([problem.again, [np.inf], door.price]),
            end=np.concatenate([problem.end, [0.0, np.inf]]),
            passing=_widened(problem.passing, new, 2, door.area),
        )
    return problem


def _widened(passing: Passing, edges: int, vertices: int, area: int) -> Passing:
    """Add edges of an area where no turn and no foot counts, and vertices."""
    return replace(
        passing,
        area=np.append(passing.area, np.full(edges, area)),
        foot=np.append(passing.foot, np.full(edges, -1)),
        on=np.append(passing.carried, np.full(edges, -1)),
        angle=np.append(passing.angle, np.full(2 * edges, np.nan)),
        half_turn=np.hstack([passing.half_turn, np.zeros((len(passing.half_turn), vertices))]),
    )
