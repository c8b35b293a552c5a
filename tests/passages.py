"""Made-up problems with a price on every passage, and their optimum by trying everything.

The reference shares no code with the router but the problem. It knows what has been stitched and
where the needle stands, and always goes on from the cheapest state (uniform-cost search; Dijkstra
1959). It may pass an edge as often as it likes.
"""

from heapq import heappop, heappush
from itertools import combinations

import networkx as nx
import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from stitchpath.route.passages.problem import Passages, Passing


def made_up(seed, *, free=False, large=False):
    """Make a problem of its number: few lines on a bent grid, with blocks, feet and dear ends."""
    rng = np.random.default_rng(seed)
    rows, columns = (int(n) for n in (rng.integers(4, 7, 2) if large else rng.integers(2, 4, 2)))
    at = np.array([(c, r) for r in range(rows) for c in range(columns)]) * 30.0
    if not large:  # where all squares are alike, more has to be tried
        at += rng.uniform(-9, 9, at.shape)
    edges = [(v, v + 1) for v in range(len(at)) if (v + 1) % columns]
    edges += [(v, v + columns) for v in range(len(at) - columns)]
    edges += [
        (v, v + columns + 1)
        for v in range(len(at) - columns)
        if (v + 1) % columns and rng.random() < 0.3
    ]
    edges = [edge for edge in edges if rng.random() < 0.95]
    if rng.random() < 0.3:  # a line beside another, and one that comes back to its start
        edges += [edges[0], (edges[-1][1], edges[-1][1])]
    tail, head = np.array(edges).T
    m, n = len(edges), len(at)
    required = rng.random(m) < rng.choice([0.3, 0.6, 0.9])
    required[0] |= not required.any()
    required[np.flatnonzero(required)[60 if large else 8 :]] = False
    length = np.maximum(np.hypot(*(at[tail] - at[head]).T), 5.0)
    again = length * np.where(required, rng.choice([0.5, 1.5]), rng.choice([0.25, 0.5]))
    if rng.random() < 0.3:  # some lines are not to be gone over twice
        again[required & (rng.random(m) < 0.5)] = np.inf
    outside = rng.random(n) < 0.4
    end = np.where(outside, rng.uniform(2, 20), rng.uniform(20, 90))
    if rng.random() < 0.3 and outside.any():
        end[~outside] = np.inf
    return Passages(
        n, tail, head, required, length, again, end, _passing(rng, at, tail, head, free)
    )


def _passing(rng, at, tail, head, free):
    m, n = len(tail), len(at)
    ways = at[head] - at[tail]
    one = np.degrees(np.arctan2(ways[:, 1], ways[:, 0]))
    angle = np.stack([one, one + 180], axis=1).reshape(-1)
    loops = np.repeat(tail == head, 2)
    angle[loops] = rng.uniform(-180, 180, loops.sum())
    feet = rng.integers(0, 2, m) if rng.random() < 0.5 else np.zeros(m, dtype=np.int64)
    area = rng.integers(0, 3, m) if rng.random() < 0.7 else np.zeros(m, dtype=np.int64)
    price = 0.0 if free else 1.0
    stop, half = price * rng.uniform(0, 8, 2), price * rng.uniform(0, 20, (2, n))
    visit, change = price * rng.choice([0.0, 5.0, 25.0]), price * rng.choice([0.0, 10.0])
    return Passing(area, feet, angle, stop, half, float(visit), float(change))


def cheapest(problem, phase=None):
    """Find the least price of any runs, or of those that stitch phase by phase; inf without any.

    A line that is passed before its phase is not stitched by that. One below 0 has none.
    """
    at, end, must = problem.at.tolist(), problem.end_at, np.flatnonzero(problem.required).tolist()
    bit = {edge: 1 << k for k, edge in enumerate(must)}
    around = {}
    for a, vertex in enumerate(at):
        if bit.get(a // 2) or np.isfinite(problem.again[a // 2]):
            around.setdefault(vertex, []).append(a)
    pairs = np.array([(a, b) for ends in around.values() for a in ends for b in ends])
    price = problem.passing.price(pairs[:, 0], pairs[:, 1], problem.at[pairs[:, 0]])
    passing = {(a, b): p for (a, b), p in zip(pairs.tolist(), price.tolist(), strict=True)}
    every, hub = 2 ** len(must) - 1, -1
    before = _before(bit, phase)
    best = {(0, hub): 0.0}
    heap = [(0.0, 0, hub)]
    while heap:
        paid, done, here = heappop(heap)
        if paid > best[done, here]:
            continue
        if (done, here) == (every, hub):
            return paid
        ways = []  # where one may stand, and what it costs
        if here == hub:
            leave = [(a, end[a]) for ends in around.values() for a in ends]
        else:
            ways.append((done, hub, end[here]))
            leave = [(b, passing[here, b]) for b in around[at[here]]]
        for a, cost in leave:
            edge = a // 2
            new = 0 if before.get(edge, 0) & ~done else bit.get(edge, 0) & ~done
            cost += problem.first[edge] if new else problem.again[edge]  # noqa: PLW2901
            ways.append((done | new, a ^ 1, cost))
        for key_done, key_at, cost in ways:
            total = paid + cost
            if total < best.get((key_done, key_at), np.inf):
                best[key_done, key_at] = total
                heappush(heap, (total, key_done, key_at))
    return np.inf


def _before(bit, phase):
    """Say for each line what has to be stitched before it, as bits."""
    when = dict(zip(bit, [0] * len(bit) if phase is None else phase.tolist(), strict=True))
    return {edge: sum(bit[o] for o in bit if 0 <= when[o] < when[edge]) for edge in bit}


def by_integer_program(problem):
    """Find the least price of runs that pass no edge more than twice; inf where there are none.

    Every pass is a city of its own here, first passes and second ones. scipy's `milp` says which
    passages and run ends are used; what hangs apart is told to be joined, until all hangs together.
    """
    first = np.flatnonzero(problem.required | np.isfinite(problem.again))
    second = first[np.isfinite(problem.again[first])]
    edge = np.concatenate([first, second])
    must = np.concatenate([problem.required[first], np.zeros(len(second), dtype=bool)])
    price = np.where(must, problem.first[edge], problem.again[edge])
    slot = np.stack([2 * edge, 2 * edge + 1], axis=1).reshape(-1)
    at = problem.at[slot]
    meet = [combinations(np.flatnonzero(at == vertex).tolist(), 2) for vertex in np.unique(at)]
    i, j = np.array([pair for pairs in meet for pair in pairs]).T
    stop = np.flatnonzero(np.isfinite(problem.end_at[slot]))
    cost = np.concatenate([
        problem.passing.price(slot[i], slot[j], at[i]), problem.end_at[slot[stop]], price,
    ])  # fmt: skip
    passages, stops, passes = len(i), len(stop), len(edge)
    row = np.concatenate([i, j, stop, np.arange(2 * passes)])
    column = np.concatenate([
        np.tile(np.arange(passages), 2), passages + np.arange(stops),
        passages + stops + np.arange(2 * passes) // 2,
    ])  # fmt: skip
    value = np.concatenate([np.ones(2 * passages + stops), -np.ones(2 * passes)])
    even = csr_array((value, (row, column)), shape=(2 * passes, len(cost)))
    least = np.concatenate([np.zeros(passages + stops), must])
    rows, floor, most = [even], np.zeros(2 * passes), np.zeros(2 * passes)
    while True:
        found = milp(
            cost, constraints=LinearConstraint(vstack(rows), floor, most),
            bounds=Bounds(least, 1), integrality=np.ones(len(cost)), options={"mip_rel_gap": 0},
        )  # fmt: skip
        if found.x is None:
            return np.inf
        used = np.rint(found.x).astype(bool)
        graph = nx.Graph()
        graph.add_nodes_from(["hub", *np.flatnonzero(used[passages + stops :]).tolist()])
        ties = np.flatnonzero(used[:passages])
        graph.add_edges_from(zip((i[ties] // 2).tolist(), (j[ties] // 2).tolist(), strict=True))
        graph.add_edges_from(("hub", s // 2) for s in stop[used[passages : passages + stops]])
        loose = [part for part in nx.connected_components(graph) if "hub" not in part]
        if not loose:
            return float(found.fun)
        for part in loose:
            inside = np.isin(np.arange(passes), list(part))
            out = np.concatenate([inside[i // 2] != inside[j // 2], inside[stop // 2]])
            for city in np.flatnonzero(inside):  # two ways out for every pass in it that is used
                line = np.concatenate([out, np.zeros(passes)]).astype(float)
                line[passages + stops + city] = -2.0
                rows.append(csr_array(line[None]))
                floor, most = np.append(floor, 0.0), np.append(most, np.inf)
