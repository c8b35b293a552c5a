"""A quilt in a frame, told in words: which strip is stitched, and when the quilt is rolled on."""

from itertools import pairwise

from stitchpath.plan import Plan
from stitchpath.units import format_length

__all__ = ["rolled_times", "rolling_words"]


def rolling_words(plan: Plan) -> dict[int, str]:
    """Tell by its number, for each run that begins a strip, what is done before it.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict of int to str
        Whole sentences, such as "Roll the quilt on to strip 2 of 5, from 15 in to 31 in below the
        top edge."; none without strips.
    """
    words: dict[int, str] = {}
    before = 0
    for run in plan.runs:
        if run.strip != before:
            to = f"strip {run.strip} of {len(plan.strips) + 1}, {_reach(plan, run.strip)}."
            way = "on" if run.strip > before else "back"
            words[run.number] = f"Roll the quilt {way} to {to}"
            if not before:
                words[run.number] = f"Load the quilt with its top edge first: {to}"
        before = run.strip
    return words


def rolled_times(plan: Plan) -> int:
    """Count how often the quilt is rolled on or back, strip by strip."""
    strips = [run.strip for run in plan.runs]
    return sum(abs(b - a) for a, b in pairwise(strips))


def _reach(plan: Plan, strip: int) -> str:
    """Tell where a strip lies."""
    unit, levels = plan.top.unit, plan.strips
    if strip == 1:
        return f"down to {format_length(levels[0], unit)} below the top edge"
    first = format_length(levels[strip - 2], unit)
    if strip > len(levels):
        return f"from {first} below the top edge to the bottom"
    return f"from {first} to {format_length(levels[strip - 1], unit)} below the top edge"
