"""What no route can go below that keeps to an order: phase by phase, the way between with them.

A route that finishes each phase before the next falls apart into the phases and the ways from one
to the next. So it is followed from phase to phase (Bellman 1957): what the phases so far cost, if
the last of them ends at a certain vertex, is at least

    F_k(v) = min over u of  U_k(u) + c_k(u, v),    U_k(u) = min over v of  F_{k-1}(v) + way(v, u),

where c_k(u, v) is what no way of stitching phase k costs less than that begins at u and ends at v.
The least over u is one linear program: the way in is an edge to each vertex, at the price U_k. Its
value is no more than the least, so all sums stay bounds. A vertex is looked at by itself only where
a way to the next phase is cheapest from it: for the others the reduced price of a way out there
stands, which bounds what it costs to be made to use it.

In the problem of an area all ways outside it become *shortcuts* between its vertices, that turn
nowhere: no dearer than they are, and few.

What may be stitched at any time is priced once, and may then be passed for nothing but its turns.
"""

from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.tolerances import FREE
from stitchpath.hands.areas import GROUND
from stitchpath.network.passing import Passing
from stitchpath.route.effort import Effort
from stitchpath.route.passages.bound import Search
from stitchpath.route.passages.links import FORBIDDEN, Onward, Ways
from stitchpath.route.passages.problem import Passages, both_ends
from stitchpath.route.passages.taught import WHENEVER

__all__ = ["bound_in_order"]

_LOOKS = 6  # ends of a phase that are looked at by themselves
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
    parts = [edges[phase == number] for number in np.unique(phase)]
    onward, left = Onward(states), len(edges)
    total, entry = 0.0, None
    for part, goal in zip_longest(parts, parts[1:]):
        way = _Way.of(problem, onward, part, goal) if goal is not None else None
        here = _Phase(problem, part, entry, way)
        share = effort.part(len(part) / left)
        left -= len(part)
        if way is None:
            return total + here.least(share)
        come = here.onward(share)
        reached = np.isfinite(come)
        if goal is None or not reached.any():
            return np.inf
        start = float(come.min())
        area = int(problem.passing.area[goal[0]])
        entry = _Door(way.there[reached], come[reached] - start + way.most, area)
        total += start - way.most
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


@dataclass(frozen=True, slots=True)
class _Way:
    """The ways from one phase to the next.

    Attributes
    ----------
    here, there
        Vertices where the one may end and where the other may begin, shapes (k,) and (j,).
    price
        Of the cheapest way between each two, shape (k, j); inf where there is none.
    most
        The dearest of them. So much is added at each door, so that none is a way for itself.
    """

    here: IntArray
    there: IntArray
    price: FloatArray
    most: float

    @classmethod
    def of(cls, problem: Passages, onward: Onward, part: IntArray, goal: IntArray) -> "_Way":
        """Find the ways from some lines to others."""
        at, must = problem.at, np.flatnonzero(problem.required)
        slots = [both_ends(np.searchsorted(must, lines)) for lines in (part, goal)]
        here, one = np.unique(at[both_ends(part)], return_inverse=True)
        there, other = np.unique(at[both_ends(goal)], return_inverse=True)
        price = np.full((len(here), len(there)), np.inf)
        np.minimum.at(price, (one[:, None], other[None, :]), onward.between(*slots))
        price[price >= FORBIDDEN] = np.inf
        most = float(price[np.isfinite(price)].max(initial=0.0))
        return cls(here, there, price, most)


class _Phase:
    """What no way of stitching a phase costs less than.

    Parameters
    ----------
    problem
        All that is to be stitched.
    lines
        What is of this phase.
    entry
        The way in, if another phase comes before.
    way
        The ways on to the next phase, if there is one.
    """

    def __init__(
        self, problem: Passages, lines: IntArray, entry: _Door | None, way: _Way | None
    ) -> None:
        doors = [entry] if entry is not None else []
        self._price, outs = np.empty((0, 0)), 0
        self._above = 0.0  # so much lies the value of the program above what it stands for
        if way is not None:
            area = int(problem.passing.area[lines[0]])
            doors.append(_Door(way.here, np.full(len(way.here), way.most), area))
            self._price, outs, self._above = way.price, len(way.here), way.most
        # The free end of a door counts as an end within its area, which it is not.
        self._above += 0.5 * problem.passing.visit * sum(door.area != GROUND for door in doors)
        self._once = float(problem.first[lines].sum())
        self._search = Search(_part(problem, lines, doors))
        columns = self._search.program.columns
        self._outs = np.arange(columns - outs, columns)  # the ways out are the last edges

    def least(self, effort: Effort) -> float:
        """Give what it costs at least, wherever it ends."""
        return max(self._search.within({}, effort).value - self._above, self._once)

    def onward(self, effort: Effort) -> FloatArray:
        """Give what it costs at least to come to each vertex where the next phase may begin."""
        found = self._search.within({}, effort)
        ends = np.maximum(found.value + found.reduced[self._outs] - self._above, self._once)
        looked = np.zeros(len(ends), dtype=bool)
        while True:
            come = ends[:, None] + self._price
            end = come.argmin(axis=0)
            least = come.min(axis=0)
            still = np.where(looked[end], np.inf, least)
            if looked.sum() == _LOOKS or effort.late or not np.isfinite(still).any():
                return np.asarray(least)
            one = int(end[still.argmin()])
            shut = dict.fromkeys(np.delete(self._outs, one).tolist(), 0.0)
            ends[one] = max(ends[one], self._search.within(shut, effort).value - self._above)
            looked[one] = True


def _part(problem: Passages, part: IntArray, doors: list[_Door]) -> Passages:
    """Make the problem of one part; for an area, with shortcuts for all that is outside."""
    required: BoolArray = np.zeros(len(problem.tail), dtype=bool)
    required[part] = True
    area = int(problem.passing.area[part[0]])
    if area == GROUND:
        return _with_doors(replace(problem, required=required), doors)
    kept = _with_next(problem, problem.passing.area == area)
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


def _with_next(problem: Passages, edges: BoolArray) -> IntArray:
    """Give some edges and those next to them: turns on the way out and in count there."""
    at = np.zeros(problem.vertices, dtype=bool)
    at[problem.tail[edges]] = at[problem.head[edges]] = True
    usable = problem.required | np.isfinite(problem.again)
    return np.flatnonzero(edges | (usable & (at[problem.tail] | at[problem.head])))


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
