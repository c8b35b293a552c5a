"""Made-up problems with a price on every passage, and their optimum by trying everything.

The reference shares no code with the router but the problem. It knows what has been stitched and
where the needle stands, and always goes on from the cheapest state (uniform-cost search; Dijkstra
1959). It may pass an edge as often as it likes.
"""

from heapq import heappop, heappush

import numpy as np

from stitchpath.route.passages.problem import Passages, Passing


def made_up(seed, *, free=False):
    """Make a problem of its number: few lines on a bent grid, with blocks, feet and dear ends."""
    rng = np.random.default_rng(seed)
    rows, columns = (int(n) for n in rng.integers(2, 4, 2))
    at = np.array([(c, r) for r in range(rows) for c in range(columns)]) * 30.0
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
    required[np.flatnonzero(required)[8:]] = False
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
    feet = rng.integers(-1, 2, m) if rng.random() < 0.5 else np.zeros(m, dtype=np.int64)
    area = rng.integers(0, 3, m) if rng.random() < 0.7 else np.zeros(m, dtype=np.int64)
    price = 0.0 if free else 1.0
    stop, half = price * rng.uniform(0, 8, 2), price * rng.uniform(0, 20, (2, n))
    visit, change = price * rng.choice([0.0, 5.0, 25.0]), price * rng.choice([0.0, 10.0])
    return Passing(area, feet, angle, stop, half, float(visit), float(change))


def cheapest(problem, phase=None):
    """Find the least price of any runs, or of those that stitch phase by phase; inf without any.

    A line that is passed before its phase is not stitched by that.
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
    before = dict.fromkeys(bit, 0)
    if phase is not None:
        for edge, when in zip(must, phase.tolist(), strict=True):
            before[edge] = sum(bit[o] for o, w in zip(must, phase.tolist(), strict=True) if w < when)
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
            new = bit.get(edge, 0) & ~done
            if new and before[edge] & ~done:
                new = 0
            cost += problem.first[edge] if new else problem.again[edge]  # noqa: PLW2901
            if not np.isfinite(cost):
                continue
            ways.append((done | new, a ^ 1, cost))
        for key_done, key_at, cost in ways:
            total = paid + cost
            if total < best.get((key_done, key_at), np.inf):
                best[key_done, key_at] = total
                heappush(heap, (total, key_done, key_at))
    return np.inf
