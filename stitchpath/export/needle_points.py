"""Plan to a table of needle points."""

import csv
import io
from collections.abc import Sequence

import numpy as np

from stitchpath.base.escape import csv_cell
from stitchpath.plan import Plan, stitching_of
from stitchpath.thread import needle_points

__all__ = ["plan_needle_csv"]

HEADER = ("run", "stitch", "stage", "thread", "do", "line", "kind", "x_mm", "y_mm", "corner")


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
    # Text that many rows share is written once: a king takes a quarter of a million rows.
    begins = [_row((run.stage, csv_cell(run.thread))).rstrip("\r\n") for run in plan.runs]
    lines = [f"L{k},{line.kind}" for k, line in enumerate(plan.lines, 1)]
    lines.append(",")  # travel, whose line is -1
    legs = [
        [(run.number, f"{begin},{leg.do},{lines[leg.line]}") for leg in run.legs]
        for run, begin in zip(plan.runs, begins, strict=True)
    ]
    points = np.round(found.points, 3) + 0.0  # no minus before nothing
    columns = zip(
        found.run.tolist(),
        found.leg.tolist(),
        found.number.tolist(),
        *points.T.tolist(),
        found.corner.tolist(),
        strict=True,
    )
    rows = [_row(HEADER)]
    for run, leg, stitch, x, y, corner in columns:
        number, same = legs[run][leg]
        rows.append(f"{number},{stitch},{same},{x:.3f},{y:.3f},{corner:d}\r\n")
    return "".join(rows)


def _row(cells: Sequence[object]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text).writerow(cells)
    return text.getvalue()
