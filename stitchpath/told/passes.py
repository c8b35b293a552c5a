"""A quilt in a frame, told in words: which pass is stitched, and when the quilt is rolled on."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from stitchpath.plan import Plan
from stitchpath.route.runs import Run
from stitchpath.units import format_length

__all__ = ["Rolling", "rolled_times", "rolling_words"]


@dataclass(frozen=True, slots=True)
class Rolling:
    """What is done before a pass: the first words, and the rest of the sentence."""

    lead: str
    rest: str

    def __str__(self) -> str:
        """Say it."""
        return f"{self.lead} {self.rest}"


def rolling_words(plan: Plan) -> dict[int, Rolling]:
    """Tell what is done before each run that begins a pass, by the number of the run.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict of int to Rolling
        Whole sentences, such as "Roll the quilt on to pass 2 of 5, from 15 in to 31 in below the
        top edge."; none without passes.
    """
    words: dict[int, Rolling] = {}
    before = 0
    for (_, number), group in groupby(plan.runs, key=lambda run: (run.stage, run.window)):
        runs = list(group)
        if number != before:
            to = f"pass {number} of {len(plan.windows)}, {_reach(plan, number, runs)}."
            way = "on" if number > before else "back"
            said = Rolling(f"Roll the quilt {way}", f"to {to}")
            if not before:
                said = Rolling("Load the quilt", f"with its top edge first: {to}")
            words[runs[0].number] = said
        before = number
    return words


def rolled_times(plan: Plan) -> int:
    """Count how often the quilt is rolled on or back, pass by pass."""
    return sum(abs(b.window - a.window) for a, b in pairwise(plan.runs))


def _reach(plan: Plan, number: int, runs: Sequence[Run]) -> str:
    """Tell from where to where the runs of a pass lie."""
    y = np.concatenate([leg.points[:, 1] for run in runs for leg in run.legs])
    _, top, _, bottom = plan.top.outline.bounds
    low, high = (
        format_length(float(min(max(v, top), bottom) - top), plan.top.unit)
        for v in (y.min(), y.max())
    )
    if number == 1:
        return f"down to {high} below the top edge"
    if number == len(plan.windows):
        return f"from {low} below the top edge to the bottom"
    return f"from {low} to {high} below the top edge"
