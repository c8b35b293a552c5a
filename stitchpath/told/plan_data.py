"""The few numbers of a plan as plain JSON, for a page."""

from dataclasses import fields

from shapely import LineString, Point, STRtree

from stitchpath.plan import Plan
from stitchpath.thread.time import RunTime
from stitchpath.told.job_rows import JobRow, clock_time, cost_rows
from stitchpath.told.stops import stops
from stitchpath.told.summary import summary_rows, thread_rows

__all__ = ["plan_data"]

_STOPS = 60
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
        machine, and ``times``, seconds by what takes them; ``metres`` of all that is sewn;
        ``thread``, a header and rows of words;
        ``stops``, where she stops and what for, in words, the first of many;
        ``costs``, rows of label and words: time by what takes it, cloth to cut, charges;
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
        "times": _times(plan),
        "metres": round((totals.stitched + totals.retraced + totals.travelled) / 1000, 3),
        "thread": {"header": list(header), "rows": [list(row) for row in rows]},
        "stops": [stop.heading for stop in stops(plan) if not stop.plain][:_STOPS],
        "costs": [_cost(row) for row in cost_rows(plan)],
        "bobbins": sum(use.bobbins for use in plan.thread.uses),
        "checks": _checks(plan),
        "gap": round(plan.proof.gap, 6),
        "proven": plan.proof.optimal,
    }


def _times(plan: Plan) -> dict[str, int]:
    """Sum what takes the time over all runs, what takes none left out."""
    parts = [part.name for part in fields(RunTime) if part.name != "number"]
    sums = {part: sum(getattr(spent, part) for spent in plan.times) for part in parts}
    return {part: seconds for part, seconds in sums.items() if seconds}


def _cost(row: JobRow) -> list[str]:
    """Say what it takes: time, or what is cut or charged."""
    if row.seconds is None:
        return [row.kind, row.note]
    return [row.what, clock_time(row.seconds)]


def _checks(plan: Plan) -> list[dict[str, object]]:
    """Tell each finding, its place, and the run that passes nearest to it."""
    numbers, legs = [], []
    for run in plan.runs:
        numbers += [run.number] * len(run.legs)
        legs += [LineString(leg.points) for leg in run.legs]
    tree = STRtree(legs)
    told: list[dict[str, object]] = []
    for found in plan.checks:
        run_number = None
        if found.at is not None:
            near = tree.query_nearest(Point(found.at), max_distance=_HALF_INCH)
            run_number = min((numbers[k] for k in near), default=None)
        told.append(
            {
                "kind": found.level,
                "words": found.plain,
                "places": [] if found.at is None else [[round(v, 2) for v in found.at]],
                "run": run_number,
            }
        )
    return told
