"""The route by length, by time in any order, and as it is taught: a table for DEVELOPERS.md.

Run it as a script; name designs of `designs/`, or five-stars, to have those alone, and feet to have
those alone. "By length" is the route that
prices in mm of stitching give, which weigh no turn and no return; all three are timed by the same
clock. Visits count how often an area is come to, one for each where nothing is come back to.
"""

import sys
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from quilts import WALL  # noqa: E402
from quilts import design as written  # noqa: E402

from stitchpath import load_design, make_plan  # noqa: E402
from stitchpath.design.model import Design, Prices, Route  # noqa: E402
from stitchpath.hands.areas import GROUND  # noqa: E402
from stitchpath.plan import Plan  # noqa: E402

DESIGNS = ("harbour-runner", "star-lap-quilt", "postage-stamp-king")
FEET = ("walking", "free-motion", "frame")


def with_foot(design: Design, foot: str) -> Design:
    """Give the same design on another machine, or with another foot."""
    kind = "frame" if foot == "frame" else "domestic"
    machine = design.machine.model_copy(update={"kind": kind, "foot": foot, "depth": None})
    return design.model_copy(update={"machine": machine, "route": Route()})


def ways(design: Design) -> dict[str, Design]:
    """Give the design routed by length, in any order, and as it is taught."""

    def ordered(order: str) -> Design:
        route = design.route.model_copy(update={"order": order})
        return design.model_copy(update={"route": route, "prices": None})

    by_length = design.model_copy(update={"prices": Prices()})
    return {"by length": by_length, "free": ordered("free"), "taught": ordered("taught")}


def visits(plan: Plan) -> int:
    """Count how often areas are come to."""
    areas = plan.tariff.areas.line
    stitched = {int(areas[leg.line]) for run in plan.runs for leg in run.legs if leg.line >= 0}
    return plan.returns + len(stitched - {GROUND})


def row(plan: Plan) -> str:
    """Tell what her hands do."""
    ends = [where for run in plan.runs for where in (run.start_where, run.end_where)]
    inside = sum(where == "inside" for where in ends)
    minutes = sum(spent.total for spent in plan.times) / 60
    gap = 100 * plan.proof.gap if plan.proof.unit == "s" else np.nan
    told = "" if np.isnan(gap) else f"{gap:.1f} %"
    return (
        f"{visits(plan)} | {plan.pivots} | {plan.turning / 360:.0f} | {len(ends)} | {inside} | "
        f"{minutes:.0f} | {told}"
    )


def main() -> None:
    """Print the table."""
    print(
        "| design | foot | route | visits | pivots | full turns | ends | inside | minutes | gap |"
    )
    print("|---|---|---|---:|---:|---:|---:|---:|---:|---:|")
    feet = [foot for foot in FEET if foot in sys.argv] or FEET
    asked = [name for name in sys.argv[1:] if name not in FEET] or ["five-stars", *DESIGNS]
    for name in asked:
        own = name == "five-stars"
        design = written(WALL) if own else load_design(ROOT / "designs" / f"{name}.toml")
        for foot in feet:
            for way, changed in ways(with_foot(design, foot)).items():
                if foot == "frame" and way == "taught":
                    continue
                plan = make_plan(changed, cures=False)
                print(f"| {design.name} | {foot} | {way} | {row(plan)} |", flush=True)


if __name__ == "__main__":
    main()
