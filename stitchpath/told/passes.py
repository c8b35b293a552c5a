"""A quilt in a frame, told in words: which pass is stitched, and when the quilt is rolled on."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from stitchpath.base.units import format_length
from stitchpath.plan import Plan, once

__all__ = [
    "Pass",
    "Rolling",
    "Stretch",
    "parked_words",
    "passes",
    "rolled_from",
    "rolled_length",
    "rolled_times",
    "rolling_words",
]


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
        Number of what the frame shows, from 1 at the edge that is loaded first.
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
    for k, each in enumerate(shown):  # one that is loaded begins at its first edge
        if not (each.loaded or each.rolled):
            continue
        first = each.stretches[0]
        to = f"pass {each.window} of {len(plan.windows)}, {_reach(plan, each)}."
        way = "on" if each.rolled > 0 else "back"
        said = Rolling(f"Roll the quilt {way}", f"to {to}")
        if each.loaded:
            again = " again" if k else ""
            how = "sideways, its left edge first" if plan.sideways else "with its top edge first"
            said = Rolling(f"Load the quilt{again}", f"{how}: {to}")
        yield (first.run, first.first), said


def rolled_times(plan: Plan) -> int:
    """Count how often the quilt is rolled on or back, pass by pass."""
    return sum(abs(each.rolled) for each in passes(plan))


def _reach(plan: Plan, shown: Pass) -> str:
    """Tell from where to where the lines of a pass lie."""
    legs = [plan.runs[s.run - 1].legs[s.first : s.last + 1] for s in shown.stretches]
    axis = 0 if plan.sideways else 1
    at = np.concatenate([leg.points[:, axis] for some in legs for leg in some])
    low, high = (rolled_length(plan, v) for v in (at.min(), at.max()))
    if shown.window == 1:
        return f"{'up' if plan.sideways else 'down'} to {high} {rolled_from(plan)}"
    if shown.window == len(plan.windows):
        last = "right edge" if plan.sideways else "bottom"
        return f"from {low} {rolled_from(plan)} to the {last}"
    return f"from {low} to {high} {rolled_from(plan)}"


def rolled_from(plan: Plan) -> str:
    """Say from where lengths along the roll are measured."""
    return "from the left edge" if plan.sideways else "below the top edge"


def rolled_length(plan: Plan, at: float) -> str:
    """Tell how far from the edge that is loaded first a place lies, in words.

    Parameters
    ----------
    plan
        The plan.
    at
        Its y, or its x where the quilt is loaded sideways, mm.
    """
    bounds = plan.top.outline.bounds
    low, high = (bounds[0], bounds[2]) if plan.sideways else (bounds[1], bounds[3])
    return format_length(float(min(max(at, low), high) - low), plan.top.unit)
