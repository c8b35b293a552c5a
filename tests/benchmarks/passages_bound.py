"""What is proven of routes with a price on passages, design by design.

Run it as a script: ``python tests/benchmarks/passages_bound.py [NAME ...]``; it prints a table in
Markdown: columns, rows, seconds, the bound.
"""

import sys
from pathlib import Path
from time import process_time

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from quilts import WALL, design  # noqa: E402

from stitchpath import load_design  # noqa: E402
from stitchpath.checks.cures import Survey  # noqa: E402
from stitchpath.network.graph import build_networks  # noqa: E402
from stitchpath.network.noding import node_lines  # noqa: E402
from stitchpath.route.effort import Effort  # noqa: E402
from stitchpath.route.passages.bound import Search  # noqa: E402
from stitchpath.route.weighed import passages_of  # noqa: E402

SECONDS = 10.0  # s of effort for each


def problems(asked):
    looked = Survey.of(asked)
    lines, ways = node_lines(looked.lines, looked.bits)
    networks = build_networks(looked.design, looked.top, lines, ways)
    return [passages_of(network, network.required) for network in networks]


def told(name, problem):
    """Measure the bound of one problem, as a row of the table."""
    begun = process_time()
    search = Search(problem)
    search.root(Effort(SECONDS))
    took = process_time() - begun
    once = float(problem.first[problem.required].sum())
    program = search.program
    return (
        f"| {name} | {int(problem.required.sum()):,} | {program.columns:,} |"
        f" {search.model.ends + len(program.cuts):,} | {took:.2f} |"
        f" {once:.0f} | {search.bound - once:.1f} |"
    )


def designs():
    found = {path.stem: load_design(path) for path in sorted((ROOT / "designs").glob("*.toml"))}
    return {**found, "five-stars": design(WALL)}


if __name__ == "__main__":
    print("| design | lines | columns | rows | s | once, s | bound beyond, s |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for title, asked in designs().items():
        if not sys.argv[1:] or title in sys.argv[1:]:
            for problem in problems(asked):
                print(told(title, problem), flush=True)
