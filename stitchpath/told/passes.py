"""A quilt in a frame, told in words: which strip is stitched, and when the quilt is rolled on."""

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
    """What is done before a strip: the first words, and the rest of the sentence."""

    lead: str
    rest: str

    def __str__(self) -> str:
        """Say it."""
        return f"{self.lead} {self.rest}"


def rolling_words(plan: Plan) -> dict[int, Rolling]:
    """Tell what is done before each run that begins a strip, by the number of the run.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict of int to Rolling
        Whole sentences, such as "Roll the quilt on to strip 2 of 5, from 15 in to 31 in below the
        top edge."; none without strips.
    """
    words: dict[int, Rolling] = {}
    before = 0
    for (_, strip), group in groupby(plan.runs, key=lambda run: (run.stage, run.strip)):
        runs = list(group)
        if strip != before:
            to = f"strip {strip} of {len(plan.strips) + 1}, {_reach(plan, strip, runs)}."
            way = "on" if strip > before else "back"
            said = Rolling(f"Roll the quilt {way}", f"to {to}")
            if not before:
                said = Rolling("Load the quilt", f"with its top edge first: {to}")
            words[runs[0].number] = said
        before = strip
    return words


def rolled_times(plan: Plan) -> int:
    """Count how often the quilt is rolled on or back, strip by strip."""
    strips = [run.strip for run in plan.runs]
    return sum(abs(b - a) for a, b in pairwise(strips))


def _reach(plan: Plan, strip: int, runs: Sequence[Run]) -> str:
    """Tell from where to where the runs of a strip lie."""
    y = np.concatenate([leg.points[:, 1] for run in runs for leg in run.legs])
    _, top, _, bottom = plan.top.outline.bounds
    low, high = (
        format_length(float(min(max(v, top), bottom) - top), plan.top.unit)
        for v in (y.min(), y.max())
    )
    if strip == 1:
        return f"down to {high} below the top edge"
    if strip > len(plan.strips):
        return f"from {low} below the top edge to the bottom"
    return f"from {low} to {high} below the top edge"
