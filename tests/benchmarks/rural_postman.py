"""Prove a folder of rural postman instances; prints a table.

Usage: python tests/benchmarks/rural_postman.py DIR

DIR holds a CSV for each instance, with columns u, v, cost, required, and optima.csv with columns
instance, vertices, required, other, optimum. Costs include every required edge once.

Meant for the published instances of Christofides et al. 1981 (P), Hertz, Laporte and Nanchen 1999
(D, G, R), and Corberan and Sanchis 1994 (Albaida: 10599 and 8629, as printed in the literature).
"""

import csv
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from stitchpath.route.effort import Effort
from stitchpath.route.postman import Problem, solve


def prove(path: Path) -> tuple[str, float, float, bool, float]:
    """Solve one instance; give its name, cost, bound, whether proven, and seconds."""
    with path.open() as file:
        rows = list(csv.DictReader(file))
    tail, head = (np.array([int(r[key]) for r in rows]) for key in ("u", "v"))
    price = np.array([float(r["cost"]) for r in rows])
    required = np.array([r["required"] == "1" for r in rows])
    vertices = int(max(tail.max(), head.max())) + 1
    begun = time.perf_counter()
    tour = solve(Problem(vertices, tail, head, required, price, None), effort=Effort(120))
    once = float(price[required].sum())
    seconds = time.perf_counter() - begun
    return path.stem, once + tour.cost, once + tour.bound, tour.optimal, seconds


def main(folder: Path) -> int:
    """Print the table; 1 when an instance is not proven or not at its known optimum."""
    with (folder / "optima.csv").open() as file:
        known = {r["instance"]: float(r["optimum"]) for r in csv.DictReader(file)}
    paths = [p for p in sorted(folder.glob("*.csv")) if p.stem != "optima"]
    begun = time.perf_counter()
    wrong = 0
    print(f"{'instance':12} {'optimum':>9} {'found':>9} {'bound':>10} {'seconds':>8}")
    with ProcessPoolExecutor(2) as pool:
        for name, cost, bound, proven, seconds in pool.map(prove, paths, chunksize=4):
            optimum = known.get(name)
            good = proven and (optimum is None or abs(cost - optimum) < 1e-6 * optimum)
            wrong += not good
            shown = f"{optimum:9.0f}" if optimum is not None else f"{'?':>9}"
            mark = "" if good else "  <- not proven" if not proven else "  <- not the optimum"
            print(f"{name:12} {shown} {cost:9.0f} {bound:10.1f} {seconds:8.3f}{mark}")
    print(f"{len(paths)} instances, {wrong} wrong, {time.perf_counter() - begun:.2f} s in all")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
