"""What is proven of routes with a price on passages, design by design.

Run it as a script: ``python tests/benchmarks/passages_bound.py [NAME ...]``; it prints a table in
Markdown: columns, rows, rounds of cuts, seconds, the bound.
"""

import sys
from pathlib import Path
from time import process_time

import numpy as np

from stitchpath import load_design
from stitchpath.design.read import design_from_text
from stitchpath.geometry.polylines import joined_paths
from stitchpath.lines.collect import collect_lines
from stitchpath.lines.ditch import seam_bits
from stitchpath.network.graph import build_networks
from stitchpath.network.noding import node_lines
from stitchpath.route.effort import Effort
from stitchpath.route.passages.bound import Search
from stitchpath.route.passages.problem import GROUND, Passages, Passing
from stitchpath.top.build import build_top

DESIGNS = Path(__file__).resolve().parents[2] / "designs"
SECONDS = 10.0  # s of effort for each
SPEED, STOP, HALF_TURN, VISIT = 12.0, 1.5, 3.0, 6.0  # mm/s, s
INSIDE, OUTSIDE = 67.5, 12.5  # s an end

WALL = """name = "Five stars"
unit = "in"
[fabrics]
foam = "#f2ede0"
navy = "#23405e"
mist = "#b9ced6"
[blocks.star]
library = "sawtooth star"
size = 6
fabrics = { star = "navy", ground = "foam" }
[blocks.plain]
size = 6
grid = ["foam"]
[layout]
rows = ["star plain star", "plain star plain", "star plain star"]
sashing = { width = "1 1/4 in", fabric = "mist", cornerstone = "navy", around = true }
[lines]
ditch = "all"
[batting]
margin = "2 in"
"""


def passages_of(network, top, lines):
    """Price a network: turns by their angle, visits to blocks and fills."""
    number = {}

    def area_of(edge):
        line, seam = int(network.line[edge]), int(network.seam[edge])
        place = None
        if seam >= 0:
            if not top.seams[seam].joining:
                place = top.patches[top.seams[seam].left].place
        elif line >= 0:
            of = lines[line].of
            place = of.pieces or of.motif if of.pieces or of.motif >= 0 else (of.place, of.fill)
        if place is None or getattr(place, "part", "block") != "block":
            return GROUND
        return number.setdefault(place, len(number) + 1)

    m, n = len(network.tail), len(network.points)
    area = np.array([area_of(edge) for edge in range(m)])
    first, flat = joined_paths(network.paths)
    last = np.append(first[1:], len(flat)) - 1
    ways = np.stack([flat[first + 1] - flat[first], flat[last - 1] - flat[last]], axis=1)
    angle = np.degrees(np.arctan2(ways[..., 1], ways[..., 0])).reshape(-1)
    passing = Passing(
        area, np.zeros(m, dtype=np.int64), angle, np.array([STOP]), np.full((1, n), HALF_TURN),
        VISIT, 0.0,
    )  # fmt: skip
    end = np.where(np.array(network.where) == "inside", INSIDE, OUTSIDE)
    return Passages(
        n, network.tail, network.head, network.required, network.length / SPEED,
        network.again / SPEED, end, passing,
    )  # fmt: skip


def problems(design):
    top = build_top(design)
    bits = seam_bits(top)
    lines, bits = node_lines(collect_lines(design, top, bits)[0], bits)
    return [
        passages_of(network, top, lines) for network in build_networks(design, top, lines, bits)
    ]


def told(name, problem):
    """Measure the bound of one problem, as a row of the table."""
    begun = process_time()
    search = Search(problem)
    search.root(Effort(SECONDS))
    took = process_time() - begun
    once = float(problem.first[problem.required].sum())
    program = search.program
    return (
        f"| {name} | {int(problem.required.sum()):,} | {program.model.columns:,} |"
        f" {program.model.ends + len(program.cuts):,} | {program.runs} | {took:.2f} |"
        f" {once:.0f} | {search.bound - once:.1f} |"
    )


def designs():
    found = {path.stem: load_design(path) for path in sorted(DESIGNS.glob("*.toml"))}
    found["five-stars"] = design_from_text(WALL, "five-stars", DESIGNS)
    return found


if __name__ == "__main__":
    print("| design | lines | columns | rows | rounds | s | once, s | bound beyond, s |")
    print("|---|---:|---:|---:|---:|---:|---:|---:|")
    for title, design in designs().items():
        if not sys.argv[1:] or title in sys.argv[1:]:
            for problem in problems(design):
                print(told(title, problem), flush=True)
