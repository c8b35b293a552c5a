"""How long the exports for machines take: every format of a small design, needle points of a king.

Run with python, with names of shipped designs if others are wanted; prints a table of CPU seconds.
"""

import sys
from pathlib import Path
from time import process_time

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from quilts import DESIGNS

from stitchpath import load_design, make_plan
from stitchpath.export.write import FORMATS
from stitchpath.plan import stitching_of
from stitchpath.thread import needle_points

NAMES = ["harbour-runner", "curved-cushion", "star-lap-quilt", "postage-stamp-king"]


def timed(function, *args):
    """CPU seconds of one call, and what it gave."""
    start = process_time()
    given = function(*args)
    return process_time() - start, given


def main():
    for name in sys.argv[1:] or NAMES:
        spent, plan = timed(make_plan, load_design(DESIGNS / f"{name}.toml"))
        print(f"\n{plan.top.name}: planned in {spent:.2f} s")
        walked, found = timed(needle_points, plan.runs, plan.lines, stitching_of(plan.design))
        print(f"{'needle points':14}{walked:7.2f} s{len(found.points):11,} points")
        total = walked
        for kind, (_, make) in FORMATS.items():
            spent, made = timed(make, plan)
            total += spent
            print(f"{kind:14}{spent:7.2f} s{len(made):11,} bytes")
        print(f"{'all':14}{total:7.2f} s")


if __name__ == "__main__":
    main()
