"""The few numbers of a plan as plain JSON, for a page."""

import math

from stitchpath.findings import Check
from stitchpath.plan import Plan
from stitchpath.told.summary import summary_rows, thread_rows

__all__ = ["plan_data"]

_HALF_INCH = 12.7  # mm: farther from every run, a finding is of no run


def plan_data(plan: Plan) -> dict[str, object]:
    """Tell a plan in few numbers and in the words of its table.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict
        ``summary`` rows of label and words; ``runs`` and ``breaks``, counts; ``minutes`` at the
        machine; ``metres`` of all that is sewn; ``thread``, a header and rows of words;
        ``bobbins``, how many are wound; ``checks`` with kind, words, places in mm, and the number
        of the run that passes nearest; ``gap``, by how much of the bound the route may be too long;
        ``proven``, whether it is not.
    """
    totals = plan.totals
    header, rows = thread_rows(plan)
    return {
        "name": plan.name,
        "summary": [list(row) for row in summary_rows(plan)],
        "runs": totals.runs,
        "breaks": totals.breaks,
        "minutes": round(sum(spent.total for spent in plan.times) / 60, 1),
        "metres": round((totals.stitched + totals.retraced + totals.travelled) / 1000, 3),
        "thread": {"header": list(header), "rows": [list(row) for row in rows]},
        "bobbins": sum(use.bobbins for use in plan.thread.uses),
        "checks": [_check(plan, found) for found in plan.checks],
        "gap": round(plan.proof.gap, 6),
        "proven": plan.proof.optimal,
    }


def _check(plan: Plan, found: Check) -> dict[str, object]:
    """Tell a finding, its place, and the run that passes there."""
    if found.at is None:
        return {"kind": found.level, "words": found.message, "places": [], "run": None}
    return {
        "kind": found.level,
        "words": found.message,
        "places": [[round(v, 2) for v in found.at]],
        "run": _run(plan, found),
    }


def _run(plan: Plan, found: Check) -> int | None:
    """Find the run that comes nearest to a finding."""
    assert found.at is not None  # noqa: S101 - as is asked before
    x, y = found.at
    near, number = _HALF_INCH, None
    for run in plan.runs:
        for leg in run.legs:
            away = math.sqrt(float(((leg.points - (x, y)) ** 2).sum(axis=1).min()))
            if away < near:
                near, number = away, run.number
    return number
