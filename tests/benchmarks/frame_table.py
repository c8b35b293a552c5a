"""Quilts in a frame: windows, cut lines, runs and time, as DEVELOPERS.md has them.

Run it as a script; name rows by words in them to have those alone. A cut is a line that no window
holds, at each border between windows that it crosses. Seconds are the processor's, for planning
alone.
"""

import sys
from itertools import pairwise
from pathlib import Path
from time import process_time

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from quilts import design as written  # noqa: E402

from stitchpath import load_design, make_plan  # noqa: E402
from stitchpath.checks.cures import Survey  # noqa: E402
from stitchpath.design.model import Design, Route  # noqa: E402
from stitchpath.lines.frame.windows import numbered_units, reaches  # noqa: E402
from stitchpath.network.graph import travelling_groups  # noqa: E402
from stitchpath.network.noding import node_lines  # noqa: E402
from stitchpath.plan import Plan  # noqa: E402
from stitchpath.route.runs import Proof  # noqa: E402

LAP = """
name = "Lap quilt"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
coral = "#dc6f50"
[blocks.nine]
library = "nine patch"
size = 12
fabrics = { dark = "sea", light = "sand" }
[layout]
rows = ["nine*5"]
repeat = 7
"""
"""60 by 84 in."""
SMALLER = LAP.replace("size = 12", "size = 10").replace("nine*5", "nine*6").replace("= 7", "= 8")
"""60 by 80 in."""
CROSSED = '[[fills]]\nregion = "top"\nstyle = "crosshatch"\nspacing = 4\nangle = 45\n'
STARS = """
[lines]
ditch = "none"
[[applique]]
name = "starfish"
outline = "M 0 -10 L 2 -3 L 9 -3 L 4 1 L 6 8 L 0 4 L -6 8 L -4 1 L -9 -3 L -2 -3 Z"
on = "{}"
size = 8
fabric = "coral"
"""
ROWS = '[lines]\nditch = "none"\n[[fills]]\nregion = "top"\nstyle = "loops"\nspacing = 4\n'
EVERY = [f"{row}{column}" for row in "ABCDEFG" for column in range(1, 6)]


def shipped(name: str) -> Design:
    """Read a design of `designs/`, routed as a frame is by itself."""
    design = load_design(ROOT / "designs" / f"{name}.toml")
    return design.model_copy(update={"route": Route()})


def stars() -> Design:
    """Give a lap quilt with a starfish on each block."""
    pieces = STARS.partition("[[applique]]")
    every = "".join(pieces[1] + pieces[2].format(place) for place in EVERY)
    return written(LAP + pieces[0] + every)


QUILTS = {
    "lap, all ditches and crosshatch": (lambda: written(SMALLER + CROSSED), 18),
    "lap, appliqué": (stars, 14),
    "star lap quilt": (lambda: shipped("star-lap-quilt"), 14),
    "lap, rows of 4 in": (lambda: written(LAP + ROWS), 18),
    "star lap quilt, deeper": (lambda: shipped("star-lap-quilt"), 18),
    "postage stamp king": (lambda: shipped("postage-stamp-king"), 18),
}


def framed(design: Design, depth: float) -> Design:
    """Put a quilt into a frame of a depth, in."""
    machine = design.machine.model_copy(update={"kind": "frame", "depth": depth * 25.4})
    return design.model_copy(update={"machine": machine})


def cuts(design: Design, plan: Plan) -> int:
    """Count the lines that no window holds, once at each border."""
    looked = Survey.of(design)
    travelling = travelling_groups(design, looked.lines)
    drawn = numbered_units(looked.lines, looked.bits, travelling)
    lines, _ = node_lines(drawn, looked.bits, travelling=travelling)
    low, high = reaches(lines)
    return sum(
        int(((low < two.top - 0.01) & (high > one.bottom + 0.01)).sum())
        for one, two in pairwise(plan.windows)
    )


def gap(proof: Proof) -> str:
    """Tell how far a plan is from its bound."""
    return "0" if proof.optimal else f"{100 * proof.gap:.1f} %"


def main(asked: list[str]) -> None:
    """Print the rows."""
    print("| quilt | depth, in | windows, cuts | runs | h:min | gap | s |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for name, (make, depth) in QUILTS.items():
        if asked and not any(word in name for word in asked):
            continue
        design = framed(make(), depth)
        begin = process_time()
        plan = make_plan(design)
        spent = process_time() - begin
        minutes = round(sum(run.total for run in plan.times) / 60)
        print(
            f"| {name} | {depth} | {len(plan.windows)}, {cuts(design, plan)} | {len(plan.runs)} | "
            f"{minutes // 60}:{minutes % 60:02} | {gap(plan.proof)} | {spent:.0f} |",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
