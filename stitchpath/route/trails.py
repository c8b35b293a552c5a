"""From a solved multigraph to trails that are pleasant to stitch.

The solver says how often each line is stitched and where runs begin and end. Any such multigraph
falls into trails, in many ways; here the way with little turning is sought.

1. At each vertex the line ends are paired by least turning. This is exact: lay the line ends round
   the vertex by direction, 2k of them, and pair each with the k-th after it. A turn is 180 degrees
   less the angle between the two directions, and that angle measures the diameters that part the
   two. A diameter with p ends on its smaller side can part p pairs at most, and this pairing parts
   p for every diameter at once; so no pairing turns less, and none goes straight back less often.
   Where runs end at the vertex, every choice of the line ends they take is tried.
2. The pairs link the traversals into open trails, one for every two ends, and closed ones. Each
   closed trail is joined to a trail it meets by exchanging partners between two pairs at a shared
   vertex, cheapest exchange first, as in Kruskal's spanning tree. Where no more than two pairs meet
   at any vertex, the result turns least among all that could be: any other one differs from
   the pairing of step 1 at vertices that connect the closed trails to the open ones, and the tree
   is the cheapest such set. Where more pairs meet, the cheapest exchange first may miss the least:
   of 800 small random multigraphs, tried out in full, 4 turned more than they had to, one of them
   17 % more, the others less than 4 %.

Only turning at vertices counts; what a line turns along its way is the same in any order.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from itertools import combinations
from math import comb
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from stitchpath.geometry.groups import groups, join, root
from stitchpath.geometry.turns import ABOUT_TURN, PIVOT

if TYPE_CHECKING:
    from collections.abc import Callable

    from stitchpath.base.typing import BoolArray, FloatArray, IntArray

__all__ = ["Multigraph", "Trail", "Turning", "gentle_trails"]

_FEW = 2  # pairs at a vertex of which an exchange leaves none to exchange again
_MANY = 5_000  # choices of line ends for runs that are still tried one by one at a vertex
_BACK = 1e-6  # degrees: of ways that turn alike, going straight back counts as worse by this
_DIGITS = 6  # of a degree to which single turns are compared
_NOISE = 1e-9  # degrees below which two sums of turning are the same


@dataclass(frozen=True, slots=True)
class Multigraph:
    """Every traversal that has to be made, and where runs begin and end.

    Attributes
    ----------
    vertices
        Number of vertices, n.
    tail, head
        The two vertices of each traversal, shape (m,). A line stitched twice stands here twice;
        a line may begin and end at one vertex.
    leave_tail, leave_head
        Direction in which one leaves the vertex into the traversal, at either end, shape (m, 2),
        unit vectors.
    ends
        How many run ends lie at each vertex, shape (n,). Degree plus ends is even everywhere, and
        there are no more ends at a vertex than traversals meet it.
    twin
        Number of the underlying line, shape (m,): traversals of the same number retrace each other.
    """

    vertices: int
    tail: IntArray
    head: IntArray
    leave_tail: FloatArray
    leave_head: FloatArray
    ends: IntArray
    twin: IntArray


@dataclass(frozen=True, slots=True)
class Trail:
    """One unbroken way through the multigraph.

    Attributes
    ----------
    edges
        Indices of traversals in order, shape (k,).
    forward
        True where the traversal is walked from tail to head, shape (k,).
    """

    edges: IntArray
    forward: BoolArray


@dataclass(frozen=True, slots=True)
class Turning:
    """How much a set of trails turns at the vertices, in degrees.

    Attributes
    ----------
    total
        Sum of all turns, each between 0 (straight on) and 180 (straight back).
    pivots
        Number of turns of more than 30 degrees.
    about_turns
        Number of those that go back: 170 degrees and more.
    unasked
        Number of those that go back over another line than the one just stitched; the others are
        what a retrace asks for.
    bound
        Sum over the vertices of the least turning with which the line ends there can be paired
        and the runs begun; no set of trails with these ends turns less.
    """

    total: float
    pivots: int
    about_turns: int
    unasked: int
    bound: float


def gentle_trails(
    graph: Multigraph, end_price: FloatArray | None = None
) -> tuple[list[Trail], Turning]:
    """Walk every traversal once, in as few trails as there are pairs of ends, turning little.

    Parameters
    ----------
    graph
        What has to be walked.
    end_price
        What a run end costs at each vertex, shape (n,). With it, a run that comes back to where it
        began may begin at another vertex on its way, no dearer, where it turns most; so it does
        not start in the middle of a straight seam if it need not. Without it ends stay put.

    Returns
    -------
    trails : list of Trail
        One for every two ends, from end to end, then one closed tour, begun at its sharpest
        corner, for every connected part that holds no end.
    turning : Turning
        What they turn, the closing turn of closed tours included, and the bound.

    Raises
    ------
    ValueError
        If the arrays do not fit together, or ends and degree do not allow such trails.
    """
    table = _lay_out(graph)
    mate = _cheapest_pairs(table)
    bound = _turning_of(table, mate)
    _join_closed(table, mate)
    trails, tours = _walk(table, mate)
    if end_price is not None:
        trails = [_begin_at_corner(table, trail, end_price) for trail in trails]
        ends = _ends_used(table, trails, graph.vertices)
        if (ends != graph.ends).any():
            moved = _lay_out(replace(graph, ends=ends))
            bound = _turning_of(moved, _cheapest_pairs(moved))
    tours = [_begin_at_corner(table, tour, np.zeros(graph.vertices)) for tour in tours]
    return trails + tours, _measure(table, graph.twin, trails, tours, bound)


@dataclass(frozen=True, slots=True)
class _Table:
    """Line ends and run ends, one slot each.

    Traversal e has its tail end in slot 2e and its head end in slot 2e + 1; run ends follow in
    order of vertex. `angle` is the direction in which one leaves, in degrees, nan for run ends.
    """

    lines: int
    owner: IntArray
    angle: FloatArray


def _lay_out(graph: Multigraph) -> _Table:
    m, n = len(graph.tail), graph.vertices
    shapes = [a.shape for a in (graph.head, graph.twin, graph.leave_tail, graph.leave_head)]
    if shapes != [(m,), (m,), (m, 2), (m, 2)] or graph.ends.shape != (n,):
        raise ValueError("the arrays of the multigraph differ in length")
    owner = np.stack([graph.tail, graph.head], axis=1).astype(np.int64).reshape(-1)
    leave = np.stack([graph.leave_tail, graph.leave_head], axis=1).reshape(-1, 2)
    if m and (owner.min() < 0 or owner.max() >= n):
        raise ValueError(f"a traversal meets a vertex outside 0 to {n - 1}")
    if not np.allclose(np.hypot(leave[:, 0], leave[:, 1]), 1.0, atol=1e-6):
        raise ValueError("a direction of leaving is not a unit vector")
    degree = np.bincount(owner, minlength=n)
    for bad, what in (
        ((degree + graph.ends) % 2 == 1, "an odd number in all"),
        ((graph.ends < 0) | (graph.ends > degree), "more ends than traversals"),
    ):
        if bad.any():
            v = int(np.flatnonzero(bad)[0])
            raise ValueError(f"vertex {v}: {degree[v]} line ends, {graph.ends[v]} run ends: {what}")
    ends = np.repeat(np.arange(n), graph.ends)
    angle = np.degrees(np.arctan2(leave[:, 1], leave[:, 0]))
    return _Table(m, np.append(owner, ends), np.append(angle, np.full(len(ends), np.nan)))


def _turn(table: _Table, a: IntArray, b: IntArray) -> FloatArray:
    """Turn in degrees from arriving at one slot to leaving by another; 0 at run ends."""
    gap = np.abs(table.angle[a] - table.angle[b])
    return np.nan_to_num(180.0 - np.minimum(gap, 360.0 - gap), nan=0.0)


def _price(table: _Table, a: IntArray, b: IntArray) -> FloatArray:
    """Turn with a touch added for going straight back, so that of equal ways none does."""
    turn = _turn(table, a, b)
    return turn + _BACK * (turn >= ABOUT_TURN)


def _turning_of(table: _Table, mate: IntArray) -> float:
    first = np.flatnonzero(np.arange(len(mate)) < mate)
    return float(_turn(table, first, mate[first]).sum())


def _cheapest_pairs(table: _Table) -> IntArray:
    """Pair the slots at every vertex by least turning.

    Returns
    -------
    ndarray
        The partner of each slot, shape of `table.owner`.
    """
    mate = np.full(len(table.owner), -1)
    order = np.lexsort((table.angle, table.owner))  # run ends, nan, come last at their vertex
    size = np.bincount(table.owner)
    start = np.cumsum(size) - size
    ends = np.bincount(table.owner[2 * table.lines :], minlength=len(size))
    kinds = np.unique(np.stack([size, ends], axis=1)[size > 0], axis=0)
    for total, taken in kinds.tolist():
        at = start[(size == total) & (ends == taken)]
        slots = order[at[:, None] + np.arange(total)]
        line, run = slots[:, : total - taken], slots[:, total - taken :]
        if taken:
            line = _take_ends(table, line, taken)
            _marry(mate, line[:, :taken], run)
            line = line[:, taken:]
        half = line.shape[1] // 2
        _marry(mate, line[:, :half], line[:, half:])
    return mate


def _marry(mate: IntArray, a: IntArray, b: IntArray) -> None:
    mate[a], mate[b] = b, a


def _take_ends(table: _Table, line: IntArray, taken: int) -> IntArray:
    """Put the line ends at which runs should begin first, the others after them by direction.

    Parameters
    ----------
    line
        Slots by direction, one vertex a row, shape (v, d).
    taken
        How many of them runs take.
    """
    degree = line.shape[1]
    if comb(degree, taken) > _MANY:
        return np.array([_take_by_matching(table, row, taken) for row in line])
    half = (degree - taken) // 2
    best = np.full(len(line), np.inf)
    result = line.copy()
    for choice in combinations(range(degree), taken):
        rest = [i for i in range(degree) if i not in choice]
        kept = line[:, rest]
        price = _price(table, kept[:, :half], kept[:, half:]).sum(axis=1)
        better = price < best - _NOISE
        best[better] = price[better]
        result[better] = line[better][:, [*choice, *rest]]
    return result


def _take_by_matching(table: _Table, row: IntArray, taken: int) -> IntArray:
    """Do the same at a vertex with too many choices, as a matching of least weight."""
    import networkx as nx  # noqa: PLC0415 - few tops have a vertex so crowded

    graph = nx.Graph()
    for i, j in combinations(range(len(row)), 2):
        graph.add_edge(i, j, weight=float(_price(table, row[i], row[j])))
    graph.add_weighted_edges_from(
        (i, -1 - end, 0.0) for i in range(len(row)) for end in range(taken)
    )
    pairs = nx.min_weight_matching(graph)
    begun = sorted(max(pair) for pair in pairs if min(pair) < 0)
    rest = [i for i in range(len(row)) if i not in begun]
    return row[[*begun, *rest]]


# Of pairs a-b and c-d make a-c and b-d: (rise in degrees, a, b, c, d).
_Exchange: TypeAlias = tuple[float, int, int, int, int]


def _join_closed(table: _Table, mate: IntArray) -> None:
    """Exchange partners, cheapest first, until no closed trail is left that could be joined.

    Changes `mate`.
    """
    home = _trail_of_slot(table, mate)
    heap, crowds = _exchanges(table, mate, home)
    heapify(heap)
    leader = list(range(int(home.max(initial=-1)) + 1))
    trail, partner, owner = home.tolist(), mate.tolist(), table.owner.tolist()
    price = _scalar_price(table)
    while heap:
        _, a, b, c, d = heappop(heap)
        if partner[a] != b or partner[c] != d or not join(leader, trail[a], trail[c]):
            continue
        partner[a], partner[c], partner[b], partner[d] = c, a, d, b
        for e in crowds.get(owner[a], ()):  # the new pairs against the others there
            f = partner[e]
            if e < f and root(leader, trail[e]) != root(leader, trail[a]):
                for p, q in ((a, c), (b, d)):
                    old = price(p, q) + price(e, f)
                    for g, h in ((e, f), (f, e)):
                        rise = round(price(p, g) + price(q, h) - old, 9)
                        heappush(heap, (rise, p, q, g, h))
    mate[:] = partner


def _scalar_price(table: _Table) -> Callable[[int, int], float]:
    angle: list[float] = table.angle.tolist()

    def price(a: int, b: int) -> float:
        gap = abs(angle[a] - angle[b])
        if gap != gap:  # noqa: PLR0124  (a run end: nan)
            return 0.0
        turn = 180.0 - min(gap, 360.0 - gap)
        return turn + _BACK if turn >= ABOUT_TURN else turn

    return price


def _trail_of_slot(table: _Table, mate: IntArray) -> IntArray:
    """Name the trail of each slot by a number; all open ones share one, they need no joining."""
    m = table.lines
    first = np.flatnonzero(mate[: 2 * m] < 2 * m)
    of_line = groups(m, first // 2, mate[first] // 2)
    begun = mate[2 * m :] // 2
    of_line = np.where(np.isin(of_line, of_line[begun]), 0, of_line + 1)
    return np.append(np.repeat(of_line, 2), of_line[begun])


def _exchanges(
    table: _Table, mate: IntArray, home: IntArray
) -> tuple[list[_Exchange], dict[int, list[int]]]:
    """List the exchanges that could join two trails, and the slots of vertices of many pairs."""
    found: list[_Exchange] = []
    crowds: dict[int, list[int]] = {}
    first = np.flatnonzero(np.arange(len(mate)) < mate)
    first = first[np.argsort(table.owner[first], kind="stable")]
    pairs = np.bincount(table.owner[first])
    start = np.cumsum(pairs) - pairs
    for count in np.unique(pairs[pairs > 1]).tolist():
        at = first[start[pairs == count][:, None] + np.arange(count)]
        at = at[(home[at] != home[at[:, :1]]).any(axis=1)]
        if count > _FEW:
            slots = np.concatenate([at, mate[at]], axis=1)
            crowds.update(zip(table.owner[at[:, 0]].tolist(), slots.tolist(), strict=True))
        for i, j in combinations(range(count), 2):
            apart = home[at[:, i]] != home[at[:, j]]
            found += _exchanges_of(table, mate, at[apart, i], at[apart, j])
    return found, crowds


def _exchanges_of(table: _Table, mate: IntArray, a: IntArray, c: IntArray) -> list[_Exchange]:
    """List the cheaper of the two exchanges between the pairs that hold a and c."""
    b, d = mate[a], mate[c]
    old = _price(table, a, b) + _price(table, c, d)
    straight = _price(table, a, c) + _price(table, b, d)
    crossed = _price(table, a, d) + _price(table, b, c)
    rise = np.round(np.minimum(straight, crossed) - old, 9)
    cross = crossed < straight - _NOISE
    c, d = np.where(cross, d, c), np.where(cross, c, d)
    return list(zip(*(x.tolist() for x in (rise, a, b, c, d)), strict=True))


def _walk(table: _Table, mate: IntArray) -> tuple[list[Trail], list[Trail]]:
    """Follow the pairs from every run end, then round what is left: open trails and tours."""
    none = 2 * table.lines
    partner = mate.tolist()
    fresh = [True] * table.lines

    def follow(slot: int) -> Trail:
        slots = []
        while slot < none and fresh[slot // 2]:
            fresh[slot // 2] = False
            slots.append(slot)
            slot = partner[slot ^ 1]
        walked = np.array(slots)
        return Trail(walked // 2, walked % 2 == 0)

    opens = [follow(slot) for slot in partner[none:] if fresh[slot // 2]]
    tours = [follow(2 * line) for line in range(table.lines) if fresh[line]]
    return opens, tours


def _slots_of(trail: Trail) -> tuple[IntArray, IntArray]:
    """Slots by which a trail leaves on each traversal and arrives from it."""
    return 2 * trail.edges + ~trail.forward, 2 * trail.edges + trail.forward


def _begin_at_corner(table: _Table, trail: Trail, end_price: FloatArray) -> Trail:
    """Let a closed trail begin where it turns most.

    Only vertices no dearer than the present one are looked at; of equal corners the one at the
    lowest vertex is taken, there the first passed.
    """
    leave, arrive = _slots_of(trail)
    at = table.owner[leave]
    if table.owner[arrive[-1]] != at[0]:
        return trail
    turn = np.round(_turn(table, np.roll(arrive, 1), leave), _DIGITS)
    turn[end_price[at] > end_price[at[0]] + _NOISE] = -1.0
    shift = -int(np.lexsort((at, -turn))[0])
    return Trail(np.roll(trail.edges, shift), np.roll(trail.forward, shift))


def _ends_used(table: _Table, trails: list[Trail], vertices: int) -> IntArray:
    ends = np.zeros(vertices, dtype=np.int64)
    for trail in trails:
        leave, arrive = _slots_of(trail)
        ends[table.owner[leave[0]]] += 1
        ends[table.owner[arrive[-1]]] += 1
    return ends


def _measure(
    table: _Table, twin: IntArray, trails: list[Trail], tours: list[Trail], bound: float
) -> Turning:
    arrive, leave = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for trail in trails + tours:
        out, into = _slots_of(trail)
        arrive.append(into[:-1])
        leave.append(out[1:])
    for tour in tours:
        out, into = _slots_of(tour)
        arrive.append(into[-1:])
        leave.append(out[:1])
    a, b = np.concatenate(arrive), np.concatenate(leave)
    turn = _turn(table, a, b)
    total = float(turn.sum())
    turn = np.round(turn, _DIGITS)
    back = turn >= ABOUT_TURN
    return Turning(
        total=total,
        pivots=int((turn > PIVOT).sum()),
        about_turns=int(back.sum()),
        unasked=int((back & (twin[a // 2] != twin[b // 2])).sum()),
        bound=bound,
    )
