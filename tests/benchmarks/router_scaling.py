"""How the router grows with the quilt, and what general libraries make of the same graphs.

Run it as a script; it prints two tables in Markdown. ``python tests/benchmarks/router_scaling.py
scale`` prints the first one only, ``... beside`` the second.

The first: squares of 1/2 in, every seam quilted, up to a million lines; each size in a process of
its own, so that the memory is its own too. The second: the same network of seams given to

* networkx, ``eulerize`` (heuristic pairing by hops) on what hangs together,
* networkx, ``min_weight_matching`` of all odd crossings by their cheapest ways (exact pairing),
* greedy joining, as a drawing program sends lines to a plotter: go on with any line that begins
  where the last one ended, else lift and go to the nearest end,
* this router.
"""

import itertools
import resource
import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter

import networkx as nx
import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from stitchpath import load_design
from stitchpath.design.read import design_from_text
from stitchpath.lines.collect import collect_lines
from stitchpath.lines.ditch import seam_bits
from stitchpath.network.graph import Network, build_networks
from stitchpath.network.noding import node_lines
from stitchpath.route.router import route
from stitchpath.top import layout
from stitchpath.top.build import build_top

DESIGNS = Path(__file__).resolve().parents[2] / "designs"
REPEATS = (2, 4, 8, 17, 24, 60)  # blocks of twelve by twelve squares, across and down
MOST_ODD = {"eulerize": 400, "matching": 200}  # beyond, networkx takes more than some minutes


def squares(repeat: int) -> str:
    """A design of squares of half an inch."""
    row = "foam sea foam sea foam sea foam sea foam sea foam sea"
    turned = "sea foam sea foam sea foam sea foam sea foam sea foam"
    grid = ",".join(f"'{row if k % 2 else turned}'" for k in range(12))
    return f"""name = "Squares"
unit = "in"
[fabrics]
foam = "#ffffff"
sea = "#4d8fae"
[blocks.squares]
size = 6
grid = [{grid}]
[layout]
rows = ["squares*{repeat}"]
repeat = {repeat}
[lines]
ditch = "all"
[threads.grey]
colour = "#9a9c9b"
size = "50 wt"
fibre = "polyester"
[route]
anchor = "mixed"
"""


def networks_of(design):
    """Price by length, which general libraries can be held against."""
    design = design.priced([]) if design.prices else design.priced(["end_inside=150"])
    top = build_top(design)
    bits = seam_bits(top)
    lines, bits = node_lines(collect_lines(design, top, bits)[0], bits)
    centre = (top.outline.centroid.x, top.outline.centroid.y)
    return build_networks(design, top, lines, bits), lines, centre


def scale_one(repeat: int) -> str:
    layout.MOST_PATCHES = 10**6  # more than a design may have: the router's own limits are tried
    begun = perf_counter()
    (network,), lines, centre = networks_of(design_from_text(squares(repeat), "squares", DESIGNS))
    drawn = perf_counter()
    (routed,) = route(network, lines, centre)
    done = perf_counter()
    proof = routed.proof
    gap = (proof.cost - proof.lower_bound) / proof.cost
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"| {int(network.required.sum()):,} | {drawn - begun:.2f} | {done - drawn:.2f} |"
        f" {1e6 * (done - drawn) / len(lines):.0f} | {len(routed.runs)} | {100 * gap:.3f} % |"
        f" {memory:.0f} |"
    )


def scale() -> None:
    print("| lines | s to draw | s to route | µs a line | runs | gap | MB |")
    print("|---:|---:|---:|---:|---:|---:|---:|")
    for repeat in REPEATS:
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
            print(pool.submit(scale_one, repeat).result(), flush=True)


class Web:
    """The largest network of a design: what is required of it, and its prices."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.tail, self.head = network.tail[network.required], network.head[network.required]
        n = len(network.points)
        meet = np.bincount(np.concatenate([self.tail, self.head]), minlength=n)
        self.odd = np.flatnonzero(meet % 2)
        self.graph = nx.MultiGraph()
        self.graph.add_edges_from(zip(self.tail.tolist(), self.head.tolist(), strict=True))
        price, a, b = network.again, network.tail, network.head
        order = np.lexsort((-price, b, a))  # of parallel ways the cheapest is set last
        order = order[np.isfinite(price[order]) & (a[order] != b[order])]
        self.cheapest = {}
        for e in order.tolist():
            self.cheapest[min(a[e], b[e]), max(a[e], b[e])] = e

    def priced(self, extra: list[tuple[int, int]], ends: list[int]) -> tuple[float, float]:
        """Metres passed again, and the price of these and of run ends."""
        edges = [self.cheapest[min(a, b), max(a, b)] for a, b in extra]
        price = self.network.again[edges].sum() + self.network.end[ends].sum()
        return self.network.length[edges].sum() / 1000, price

    def closed_runs(self, extra: list[tuple[int, int]]) -> tuple[int, float, float]:
        """One closed run for each part that hangs together, begun where that is cheapest."""
        whole = self.graph.copy()
        whole.add_edges_from(extra)
        parts = list(nx.connected_components(whole))
        ends = [min(part, key=lambda v: (self.network.end[v], v)) for part in parts]
        return len(parts), *self.priced(extra, ends * 2)


def by_eulerize(web: Web) -> tuple[int, float, float]:
    extra = []
    for part in nx.connected_components(web.graph):
        piece = nx.MultiGraph(web.graph.subgraph(part))
        doubled = nx.eulerize(piece)
        for a, b in set(doubled.edges()):
            more = doubled.number_of_edges(a, b) - piece.number_of_edges(a, b)
            extra += [(a, b)] * more
    return web.closed_runs(extra)


def by_matching(web: Web) -> tuple[int, float, float]:
    n = len(web.network.points)
    edges = np.array(list(web.cheapest.values()))
    at = (web.network.tail[edges], web.network.head[edges])
    ways = csr_matrix((np.maximum(web.network.again[edges], 1e-9), at), shape=(n, n))
    away, before = dijkstra(ways, directed=False, indices=web.odd, return_predecessors=True)
    pairs = nx.Graph()
    for i, j in itertools.combinations(range(len(web.odd)), 2):
        if np.isfinite(away[i, web.odd[j]]):
            pairs.add_edge(i, j, weight=away[i, web.odd[j]])
    extra = []
    for i, j in nx.min_weight_matching(pairs):
        here = web.odd[j]
        while here != web.odd[i]:
            extra.append((int(before[i, here]), int(here)))
            here = before[i, here]
    return web.closed_runs(extra)


def by_nearest_end(web: Web) -> tuple[int, float, float]:
    points = web.network.points
    around: dict[int, list[int]] = {}
    for e, (a, b) in enumerate(zip(web.tail.tolist(), web.head.tolist(), strict=True)):
        around.setdefault(a, []).append(e)
        around.setdefault(b, []).append(e)
    tree = cKDTree(points)
    done = np.zeros(len(web.tail), dtype=bool)
    here = min(around, key=lambda v: (points[v].sum(), v))
    ends = [here]
    for _ in range(len(web.tail)):
        rest = [e for e in around[here] if not done[e]]
        if not rest:
            ends.append(here)
            here = _nearest(tree, here, around, done)
            ends.append(here)
            rest = [e for e in around[here] if not done[e]]
        done[rest[0]] = True
        here = int(web.head[rest[0]] if web.tail[rest[0]] == here else web.tail[rest[0]])
    ends.append(here)
    return len(ends) // 2, *web.priced([], ends)


def _nearest(tree, here, around, done):
    count = 16
    while True:
        for v in np.atleast_1d(tree.query(tree.data[here], min(count, tree.n))[1]).tolist():
            if any(not done[e] for e in around.get(v, ())):
                return v
        count *= 8


def by_router(web: Web, lines, centre) -> tuple[int, float, float]:
    (routed,) = route(web.network, lines, centre)
    legs = [leg for run in routed.runs for leg in run.legs if leg.do != "stitch"]
    again = sum(np.hypot(*np.diff(leg.points, axis=0).T).sum() for leg in legs) / 1000
    return (
        len(routed.runs),
        again,
        routed.proof.cost - web.network.length[web.network.required].sum(),
    )


def beside() -> None:
    print("| quilt | lines | way | runs | m passed again | price, m of stitching | s |")
    print("|---|---:|---|---:|---:|---:|---:|")
    quilts = {path.stem: load_design(path) for path in sorted(DESIGNS.glob("*.toml"))}
    for repeat in (2, 4):
        quilts[f"squares, {12 * repeat} by {12 * repeat}"] = design_from_text(
            squares(repeat), "squares", DESIGNS
        )
    for name, design in quilts.items():
        networks, lines, centre = networks_of(design)
        network = max(networks, key=lambda net: int(net.required.sum()))
        web = Web(network)
        ways = {
            "nearest end": lambda web=web: by_nearest_end(web),
            "networkx eulerize": lambda web=web: by_eulerize(web),
            "networkx exact matching": lambda web=web: by_matching(web),
            "stitchpath": lambda web=web, lines=lines, at=centre: by_router(web, lines, at),
        }
        for way, run in ways.items():
            most = MOST_ODD.get(way.split()[-1], 10**9)
            row = f"| {name} | {int(network.required.sum()):,} | {way} |"
            if len(web.odd) > most:
                print(f"{row} not tried: {len(web.odd)} odd crossings | | | |", flush=True)
                continue
            begun = perf_counter()
            runs, again, price = run()
            took = perf_counter() - begun
            print(f"{row} {runs} | {again:.2f} | {price / 1000:.2f} | {took:.2f} |", flush=True)


if __name__ == "__main__":
    asked = sys.argv[1:] or ["scale", "beside"]
    if "scale" in asked:
        scale()
    if "beside" in asked:
        beside()
