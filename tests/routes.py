"""Made-up routing problems and their least cost by an integer program of a general library.

The problems come from a seeded generator; `known_optima.csv` holds the least cost of each as
`scipy.optimize.milp` (HiGHS) gives it, with cuts added while parts of its answer hang loose. Make
the file anew with ``python tests/routes.py``. No code is shared with the router but the `Problem`.
"""

import csv
from functools import cache
from pathlib import Path

import networkx as nx
import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from stitchpath.route.postman import Problem

KNOWN = Path(__file__).with_name("known_optima.csv")
SMALL, LARGE = range(520), range(1000, 1024)


@cache
def made_up(seed):
    """Make a problem of its number: small ones below 1000, larger ones from there."""
    rng = np.random.default_rng(seed)
    rows, columns = rng.integers(2, 5, 2) if seed < LARGE[0] else rng.integers(6, 10, 2)
    graph = nx.convert_node_labels_to_integers(nx.grid_2d_graph(rows, columns), ordering="sorted")
    n = len(graph)
    at = np.array([(v // columns, v % columns) for v in range(n)]) + rng.uniform(-0.3, 0.3, (n, 2))
    edges = [e for e in graph.edges if rng.random() < 0.92]
    edges += [(v, v + columns + 1) for v in range(n - columns - 1)
              if (v + 1) % columns and rng.random() < 0.2]  # fmt: skip
    if rng.random() < 0.3:  # a line beside another one, and one that comes back to its start
        edges += [edges[rng.integers(len(edges))], (edges[0][1], edges[0][1])]
    tail, head = np.array(edges).T
    length = 30 * np.maximum(np.hypot(*(at[tail] - at[head]).T), 1.0)
    kind = seed % 4
    required = _lines(rng, kind, tail, head, columns)
    price = length * np.where(required, rng.choice([0.75, 2.0]), rng.choice([0.25, 0.5, 1.5]))
    if rng.random() < 0.2:  # some lines are not to be gone over twice
        price[required & (rng.random(len(tail)) < 0.4)] = np.inf
    return Problem(n, tail, head, required, price, _ends(rng, at))


def _lines(rng, kind, tail, head, columns):
    """Choose what to stitch: anything, loose squares, what hangs together, or a few lines."""
    if kind == 1:
        corner = [v for v in range(int(max(tail.max(), head.max()))) if v // columns % 2 == 0]
        corner = [v for v in corner if v % columns % 2 == 0 and rng.random() < 0.7]
        squares = [{v, v + 1, v + columns, v + columns + 1} for v in corner]
        required = np.zeros(len(tail), dtype=bool)
        for square in squares:
            required |= np.isin(tail, list(square)) & np.isin(head, list(square)) & (tail != head)
    elif kind == 3:
        required = np.isin(np.arange(len(tail)), rng.choice(len(tail), 3))
    else:
        required = rng.random(len(tail)) < (0.35, 0, 0.7)[kind]
    required[0] |= not required.any()
    if kind == 2:
        seams = zip(tail[required].tolist(), head[required].tolist(), strict=True)
        largest = max(nx.connected_components(nx.Graph(seams)), key=len)
        required &= np.isin(tail, list(largest))
    return required


def _ends(rng, at):
    """Price run ends: everywhere, dear inside and cheap outside, outside only, or none at all."""
    kind = rng.integers(5)
    outside = rng.random(len(at)) < 0.4
    if kind == 0:
        return None
    if kind == 1:
        return np.where(outside, rng.uniform(5, 40, len(at)), np.inf)
    return np.where(outside, rng.uniform(5, 40), rng.uniform(10, 150, len(at)))


def parts_of(problem, passes, ends):
    """Points that hang together by lines, passes and the hub."""
    graph = nx.Graph()
    used = problem.required | (passes > 0)
    graph.add_edges_from(zip(problem.tail[used].tolist(), problem.head[used].tolist(), strict=True))
    if problem.end is not None:
        graph.add_node("hub")
        graph.add_edges_from((v, "hub") for v in np.flatnonzero(ends).tolist())
    return list(nx.connected_components(graph))


def least(problem):
    """Cost of the best tour by scipy.optimize.milp; inf where there is no tour."""
    n, m = problem.vertices, len(problem.tail)
    end = np.full(n, np.inf) if problem.end is None else problem.end
    # Columns: extra passes, ends, half the passes that meet at each point (and at the hub).
    meet = np.zeros((n + 1, m + 2 * n + 1))
    must = np.zeros(n + 1)
    for ends in (problem.tail, problem.head):
        np.add.at(meet, (ends, np.arange(m)), 1)
        np.add.at(must, ends[problem.required], 1)
    meet[:n, m : m + n] = np.eye(n)
    meet[n, m : m + n] = 1
    meet[:, m + n :] = -2 * np.eye(n + 1)
    rows = [LinearConstraint(meet, -must, -must)]
    paid = np.concatenate([problem.price, end])
    cost = np.concatenate([np.where(np.isfinite(paid), paid, 0), np.zeros(n + 1)])
    most = np.concatenate([np.where(np.isfinite(paid), 2, 0), np.full(n + 1, np.inf)])
    whole = np.ones(len(cost))
    exact = {"mip_rel_gap": 0.0}
    while True:
        found = milp(
            cost, constraints=rows, bounds=Bounds(0, most), integrality=whole, options=exact
        )
        if found.x is None:
            return np.inf
        passes, ends = np.rint(found.x[:m]), np.rint(found.x[m : m + n])
        parts = parts_of(problem, passes, ends)
        if len(parts) == 1:
            return float(cost[: m + n] @ np.concatenate([passes, ends]))
        for part in parts:
            inside = np.isin(np.arange(n), [v for v in part if v != "hub"])
            # Parts that no required line asks for may vanish again, but not hang loose.
            if "hub" in part or (problem.required & inside[problem.tail]).any():
                row = np.zeros(len(cost))
                row[:m] = inside[problem.tail] != inside[problem.head]
                row[m : m + n] = inside != ("hub" in part)
                rows.append(LinearConstraint(row, 2, np.inf))


@cache
def known_optima():
    """Least cost of each made-up problem, as stored."""
    with KNOWN.open(newline="") as file:
        return {int(row["problem"]): float(row["least"]) for row in csv.DictReader(file)}


if __name__ == "__main__":
    with KNOWN.open("w", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["problem", "least"])
        for number in (*SMALL, *LARGE):
            writer.writerow([number, f"{least(made_up(number)):.9g}"])
