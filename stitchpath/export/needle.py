"""Plan to a table of needle points."""

import csv
import io

import numpy as np

from stitchpath.plan import Plan, stitching_of
from stitchpath.thread import needle_points

__all__ = ["plan_needle_csv"]

_HEADER = ("run", "stitch", "stage", "thread", "do", "line", "kind", "x_mm", "y_mm", "corner")


def plan_needle_csv(plan: Plan) -> str:
    """List every point where the needle goes down, as CSV (RFC 4180).

    Stitch 0 of a run is where the needle first goes down, so a run has one row more than stitches.
    Coordinates are as in plan.json: mm from the top left corner of the finished top, y down. Line
    and kind are empty on travel; corner is 1 where an even stretch begins or ends.

    Parameters
    ----------
    plan
        The plan.
    """
    found = needle_points(plan.runs, plan.lines, stitching_of(plan.design))
    legs = [
        [
            (
                run.number, run.stage, run.thread, leg.do,
                f"L{leg.line + 1}" if leg.line >= 0 else "",
                plan.lines[leg.line].kind if leg.line >= 0 else "",
            )
            for leg in run.legs
        ]
        for run in plan.runs
    ]  # fmt: skip
    points = np.round(found.points, 3) + 0.0  # no minus before nothing
    columns = zip(
        found.run.tolist(),
        found.leg.tolist(),
        found.number.tolist(),
        points.tolist(),
        found.corner.tolist(),
        strict=True,
    )
    text = io.StringIO(newline="")
    table = csv.writer(text)
    table.writerow(_HEADER)
    for run, leg, stitch, (x, y), corner in columns:
        number, stage, thread, do, line, kind = legs[run][leg]
        table.writerow(
            (number, stitch, stage, thread, do, line, kind, f"{x:.3f}", f"{y:.3f}", int(corner))
        )
    return text.getvalue()
