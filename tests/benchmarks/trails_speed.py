"""How long trails and stitching order take, and how little they turn.

Run it as a script; it prints a table. Quilts are sawtooth stars, four by four squares a block,
stitched either in one run over retraced lines or with a run end at every odd crossing. Every tenth
seam leans, so that turning is not all in steps of 45 degrees.
"""

import sys
from pathlib import Path
from time import process_time

import numpy as np

from stitchpath import load_design
from stitchpath.base.typing import FloatArray
from stitchpath.plan import make_plan
from stitchpath.route import useful_runs as useful
from stitchpath.route.order import Stretch, order_runs
from stitchpath.route.tjoin import t_join
from stitchpath.route.trails import Multigraph, Trail, Turning, gentle_trails

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "route")]
from test_trails import eulerian_circuit, seams  # noqa: E402

SQUARE = 38.1  # mm
LARGEST_FOIL = 25_000  # traversals for which the Euler circuit of networkx is walked as well


def quilt(across: int, *, one_run: bool) -> Multigraph:
    """Lay the seams of a square quilt and say how they are stitched."""
    points, lines = seams(across, across, star=True)
    random = np.random.default_rng(1)
    n, (tail, head) = len(points), np.array(lines).T
    lean = random.normal(0, 2.0, (n, 2)) * (random.random((n, 1)) < 0.1)
    place = np.array(points) * SQUARE + lean
    odd = np.bincount(np.concatenate([tail, head]), minlength=n) % 2
    twin, ends = np.arange(len(tail)), odd
    if one_run:
        price = np.hypot(*(place[head] - place[tail]).T)
        twice = t_join(n, tail, head, price, odd == 1).chosen
        twin, ends = np.append(twin, np.flatnonzero(twice)), np.zeros(n, dtype=np.int64)
        ends[0] = 2
    tail, head = tail[twin], head[twin]
    way = place[head] - place[tail]
    way /= np.hypot(way[:, 0], way[:, 1])[:, None]
    return Multigraph(n, tail, head, way, -way, ends, twin)


def shipped() -> None:
    """Turning, in degrees, of the shipped designs."""
    print(f"{'design':20} {'least':>8} {'turning':>8} {'circuit':>8} {'least / c':>9} {'/ c':>6}")
    for path in sorted((Path(__file__).parents[2] / "designs").glob("*.toml")):
        circuit = 0.0

        def trails_beside_circuit(
            graph: Multigraph, price: FloatArray
        ) -> tuple[list[Trail], Turning]:
            nonlocal circuit
            circuit += eulerian_circuit(graph)
            return gentle_trails(graph, price)

        useful.gentle_trails = trails_beside_circuit
        plan = make_plan(load_design(path))
        print(
            f"{plan.design.name:20} {plan.least_turning:8.0f} {plan.turning:8.0f} {circuit:8.0f}"
            f" {plan.least_turning / circuit:9.3f} {plan.turning / circuit:6.3f}"
        )
    useful.gentle_trails = gentle_trails


def trails() -> None:
    print()
    print(
        f"{'traversals':>10} {'runs':>6} {'s':>6} {'turning':>10} {'/ bound':>8} {'/ circuit':>9}"
    )
    for across in (5, 24, 67):
        for one_run in (True, False):
            graph = quilt(across, one_run=one_run)
            begin = process_time()
            runs, turn = gentle_trails(graph, np.ones(graph.vertices))
            took = process_time() - begin
            small = len(graph.tail) <= LARGEST_FOIL
            share = f"{turn.total / eulerian_circuit(graph):9.3f}" if small else f"{'-':>9}"
            print(
                f"{len(graph.tail):10} {len(runs):6} {took:6.2f} {turn.total:10.0f}"
                f" {turn.total / turn.bound:8.4f} {share}"
            )


def order() -> None:
    print(f"\n{'runs':>10} {'s':>6}")
    for count in (1_000, 5_000, 20_000):
        tips = np.random.default_rng(2).uniform(0, 2500, (count, 4)).tolist()
        stretches = [Stretch((a, b), (c, d), (a, b), 100.0, 0.0) for a, b, c, d in tips]
        begin = process_time()
        order_runs(stretches, (1250.0, 1250.0), anchor_first=True)
        print(f"{count:10} {process_time() - begin:6.2f}")


if __name__ == "__main__":
    shipped()
    trails()
    order()
