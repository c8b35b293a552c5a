"""How long thread, bobbins and time of large plans take to reckon.

Run with python; prints a table of CPU seconds.
"""

from itertools import pairwise
from time import process_time

import numpy as np

from stitchpath.lines.line import Line
from stitchpath.route.runs import Leg, Run
from stitchpath.thread import Stitching, bobbin_changes, plan_thread, run_times

PATCH = 50.0  # mm


def rows(n, per_run):
    """A grid of n by n patches, stitched row by row, to and fro, in runs of so many legs."""
    lines, legs = [], []
    for i in range(n):
        xs = np.arange(n + 1)[:: 1 if i % 2 == 0 else -1] * PATCH
        for a, b in pairwise(xs):
            points = np.array([[a, i * PATCH], [b, i * PATCH]])
            legs.append(Leg("stitch", points, len(lines)))
            lines.append(Line("ditch", 1, "grey", points))
        down = np.array([[xs[-1], i * PATCH], [xs[-1], (i + 1) * PATCH]])
        legs.append(Leg("travel", down, along="seam"))
    runs = [
        Run(k + 1, 1, "grey", "margin", "inside", tuple(legs[at : at + per_run]))
        for k, at in enumerate(range(0, len(legs), per_run))
    ]
    return runs, lines


def timed(function, *args):
    """CPU seconds of one call."""
    start = process_time()
    function(*args)
    return process_time() - start


def main():
    print(f"{'legs':>8} {'runs':>6} {'plan':>8} {'time':>8} {'bobbins':>8}")
    for n, per_run in ((50, 2600), (150, 500), (150, 25_000), (300, 1000), (300, 100_000)):
        runs, lines = rows(n, per_run)
        plan = timed(plan_thread, runs, lines)
        hours = timed(run_times, runs, lines)
        bobbins = len(bobbin_changes(runs, lines, Stitching())) + 1
        legs = sum(len(run.legs) for run in runs)
        print(f"{legs:8} {len(runs):6} {plan:8.3f} {hours:8.3f} {bobbins:8}")


if __name__ == "__main__":
    main()
