"""Tops filled all over: planned in full, and quoted by their size."""

from functools import cache
from pathlib import Path
from typing import NamedTuple

from quilts import DESIGNS

from stitchpath.design.read import design_from_text
from stitchpath.plan import make_plan
from stitchpath.thread.quote import Asked, SizeEstimate, estimate_of

MACHINES = {
    "domestic": {"machine": "domestic"},
    "frame, 18 in": {"machine": "frame", "depth": "18in"},
    "throat, 18 in": {"machine": "frame", "throat": "18in"},
}
MOTIF = "breaker.svg"


class Case(NamedTuple):
    """A top filled all over; inches."""

    style: str
    size: tuple[float, float]
    spacing: float
    machine: str

    @property
    def design(self) -> str:
        """The same top as a design, of four by five plain blocks."""
        said = {"kind" if k == "machine" else k: v for k, v in MACHINES[self.machine].items()}
        machine = "\n".join(f'{key} = "{value}"' for key, value in said.items())
        motif = f'motif = "{MOTIF}"\n' if self.style == "motif rows" else ""
        return f"""
name = "All over"
fabrics = {{ sand = "#e7d5b0" }}
[blocks.plain]
size = [{self.size[0] / 4}, {self.size[1] / 5}]
grid = ["sand"]
[layout]
rows = ["plain*4"]
repeat = 5
[lines]
ditch = "none"
[machine]
{machine}
[[fills]]
region = "top"
style = "{self.style}"
spacing = {self.spacing}
{motif}"""


class Figures(NamedTuple):
    """What a plan takes: mm, mm and seconds; windows; and what of the time goes where."""

    seam: float
    thread: float
    seconds: float
    windows: int
    parts: dict[str, float]


def measured(case: Case, time_limit: float = 1.0) -> Figures:
    """Plan a top in full."""
    plan = make_plan(
        design_from_text(case.design, "quoted.toml", DESIGNS), time_limit=time_limit, cures=False
    )
    parts = {
        name: sum(getattr(spent, name) for spent in plan.times)
        for name in ("stitching", "pivots", "ends", "bobbins", "advances")
    }
    totals = plan.totals
    parts |= {
        "stitched": totals.stitched, "retraced": totals.retraced, "travelled": totals.travelled,
        "runs": totals.runs, "bobbins": sum(use.bobbins for use in plan.thread.uses),
    }  # fmt: skip
    return Figures(
        sum(use.seam for use in plan.thread.uses),
        sum(use.total for use in plan.thread.uses),
        sum(spent.total for spent in plan.times),
        max(len(plan.windows), 1),
        parts,
    )


@cache
def quoted(case: Case) -> SizeEstimate:
    """Quote the same top by its size."""
    width, height = case.size
    motif = str(Path(DESIGNS) / MOTIF) if case.style == "motif rows" else None
    return estimate_of(
        Asked(
            f"{width}x{height}in", fill=case.style, spacing=f"{case.spacing}in", motif=motif,
            **MACHINES[case.machine],
        )
    )  # fmt: skip
