"""A quilt in a frame, told in words: which pass is stitched, and when the quilt is rolled on."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from stitchpath.base.units import format_length
from stitchpath.plan import Plan, once

__all__ = ["Pass", "Rolling", "Stretch", "parked_words", "passes", "rolled_times", "rolling_words"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """What is stitched of a run in one pass: number of the run, first and last leg."""

    run: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Pass:
    """What is stitched before the quilt is rolled again.

    Attributes
    ----------
    window
        Number of what the frame shows, from 1 at the top edge.
    stage
        Of its runs.
    stretches
        In stitching order.
    rolled
        By how many windows the quilt is rolled on before it; back, where it is below 0.
    loaded
        Whether the quilt is loaded first: at the beginning, and where it was taken out to fuse.
    """

    window: int
    stage: int
    stretches: tuple[Stretch, ...]
    rolled: int
    loaded: bool


@dataclass(frozen=True, slots=True)
class Rolling:
    """What is done before a pass: the first words, and the rest of the sentence."""

    lead: str
    rest: str

    def __str__(self) -> str:
        """Say it."""
        return f"{self.lead} {self.rest}"


@once
def passes(plan: Plan) -> tuple[Pass, ...]:
    """List the passes of a plan.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of Pass
        In stitching order; none where the quilt is in no frame, or all of it is shown at once.
    """
    found: list[Pass] = []
    out = plan.fusing is not None and plan.fusing.way == "out of the frame"
    for (stage, window), some in groupby(_stretches(plan), key=lambda each: each[0]):
        loaded = not found or (out and stage != found[-1].stage)
        here = window if not found else 1 if loaded else found[-1].window
        shown = tuple(stretch for _, stretch in some)
        found.append(Pass(window, stage, shown, window - here, loaded))
    return tuple(found) if plan.windows else ()


def _stretches(plan: Plan) -> Iterator[tuple[tuple[int, int], Stretch]]:
    """Cut runs where the needle is parked."""
    for run in plan.runs:
        firsts = [0, *(leg for leg, _ in run.parked), len(run.legs)]
        for first, last in pairwise(firsts):
            yield (run.stage, run.windows[first]), Stretch(run.number, first, last - 1)


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
    return {run: words for (run, leg), words in _words(plan) if not leg}


def parked_words(plan: Plan) -> dict[tuple[int, int], Rolling]:
    """Tell what is done where the needle is parked, by the number of the run and its leg.

    Parameters
    ----------
    plan
        The plan.
    """
    return {
        key: Rolling(f"Needle down, {words.lead[:1].lower()}{words.lead[1:]}", words.rest)
        for key, words in _words(plan)
        if key[1]
    }


def _words(plan: Plan) -> Iterator[tuple[tuple[int, int], Rolling]]:
    shown = passes(plan)
    for k, each in enumerate(shown):  # one that is loaded begins at the top edge
        if not (each.loaded or each.rolled):
            continue
        first = each.stretches[0]
        to = f"pass {each.window} of {len(plan.windows)}, {_reach(plan, each)}."
        way = "on" if each.rolled > 0 else "back"
        said = Rolling(f"Roll the quilt {way}", f"to {to}")
        if each.loaded:
            again = " again" if k else ""
            said = Rolling(f"Load the quilt{again}", f"with its top edge first: {to}")
        yield (first.run, first.first), said


def rolled_times(plan: Plan) -> int:
    """Count how often the quilt is rolled on or back, pass by pass."""
    return sum(abs(each.rolled) for each in passes(plan))


def _reach(plan: Plan, shown: Pass) -> str:
    """Tell from where to where the lines of a pass lie."""
    legs = [plan.runs[s.run - 1].legs[s.first : s.last + 1] for s in shown.stretches]
    y = np.concatenate([leg.points[:, 1] for some in legs for leg in some])
    _, top, _, bottom = plan.top.outline.bounds
    low, high = (
        format_length(float(min(max(v, top), bottom) - top), plan.top.unit)
        for v in (y.min(), y.max())
    )
    if shown.window == 1:
        return f"down to {high} below the top edge"
    if shown.window == len(plan.windows):
        return f"from {low} below the top edge to the bottom"
    return f"from {low} to {high} below the top edge"
