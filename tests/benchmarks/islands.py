"""Prove random rural postman problems of many pieces; prints a table.

Usage: python tests/benchmarks/islands.py [VERTICES ...] [--seed N] [--only NAME] [--serial]

Made as in the literature (the UR sets of Corberan, Plana and Sanchis 2007): points in a square of
1000 x 1000, each joined to its 3 to 6 nearest, and a quarter to three quarters of these edges
required; prices are straight distances, and a single closed tour is asked for. A problem is named
by its vertices, its neighbours and its share, as in 500-3-25. Each has 120 s of work. The seconds
are those of the processor.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from itertools import product

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree
from scipy.spatial.distance import cdist

from stitchpath.route.effort import Effort
from stitchpath.route.postman import Problem, solve

NEIGHBOURS, SHARES = (3, 4, 5, 6), (25, 50, 75)
WORK = 120.0


def made_up(vertices: int, neighbours: int, share: int, seed: int) -> Problem:
    """Make a problem of its numbers; parts that hang loose are joined where they are nearest."""
    rng = np.random.default_rng([seed, vertices, neighbours, share])
    at = rng.uniform(0, 1000, (vertices, 2))
    near = KDTree(at).query(at, neighbours + 1)[1][:, 1:]
    pairs = np.column_stack([np.repeat(np.arange(vertices), neighbours), near.ravel()])
    away = cdist(at, at)
    while True:
        pairs = np.unique(np.sort(pairs, axis=1), axis=0)
        web = csr_matrix((np.ones(len(pairs)), pairs.T), (vertices, vertices))
        parts, part = connected_components(web, directed=False)
        if parts == 1:
            break
        outside = np.where(part[:, None] != part, away, np.inf)
        first = np.flatnonzero(part == 0)
        row, column = np.unravel_index(np.argmin(outside[first]), (len(first), vertices))
        pairs = np.vstack([pairs, [first[row], column]])
    tail, head = pairs.T
    required = rng.random(len(pairs)) < share / 100
    price = away[tail, head]
    return Problem(vertices, tail, head, required, price, None, float(price[required].sum()))


def prove(named: tuple[str, int]) -> tuple[str, int, float, float, bool, float]:
    """Solve one problem; give its name, pieces, cost, gap, whether proven, and seconds."""
    name, seed = named
    problem = made_up(*map(int, name.split("-")), seed)
    must = problem.required
    web = csr_matrix(
        (np.ones(must.sum()), (problem.tail[must], problem.head[must])),
        (problem.vertices, problem.vertices),
    )
    touched = np.unique([problem.tail[must], problem.head[must]])
    pieces = len(np.unique(connected_components(web, directed=False)[1][touched]))
    begun = time.process_time()
    tour = solve(problem, effort=Effort(WORK))
    seconds = time.process_time() - begun
    cost = problem.once + tour.cost
    return name, pieces, cost, (tour.cost - tour.bound) / cost, tour.optimal, seconds


def main() -> int:
    """Print the table."""
    given = argparse.ArgumentParser()
    given.add_argument("vertices", nargs="*", type=int, default=[500, 1000])
    given.add_argument("--seed", type=int, default=0)
    given.add_argument("--only")
    given.add_argument("--serial", action="store_true")
    asked = given.parse_args()
    print(f"{'instance':12} {'pieces':>6} {'cost':>10} {'gap':>8} {'seconds':>8}", flush=True)
    for vertices in asked.vertices:
        names = [f"{vertices}-{k}-{share}" for k, share in product(NEIGHBOURS, SHARES)]
        names = [n for n in names if asked.only in {None, n}]
        work = [(name, asked.seed) for name in names]
        spent, proven = [], 0
        with ProcessPoolExecutor(1 if asked.serial else 2) as pool:
            for name, pieces, cost, gap, optimal, seconds in pool.map(prove, work):
                spent.append(seconds)
                proven += optimal
                shown = "proven" if optimal else f"{100 * gap:.3f} %"
                print(f"{name:12} {pieces:6} {cost:10.1f} {shown:>8} {seconds:8.2f}", flush=True)
        print(f"{proven} of {len(work)} proven, median {np.median(spent):.1f} s, "
              f"longest {max(spent):.1f} s", flush=True)  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
