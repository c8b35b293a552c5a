"""Walk the words of the shipped designs and of random tops: which runs do they lead to the end?

Run: `python tests/benchmarks/walked_tops.py 0 100 [--designs] [--all]`: from seed 0 on until 100
random tops are walked. Designs that the planner refuses are no tops: they are counted by what it
says. Of each top the first run that gets lost is told, with `--all` every one.
"""

import argparse
import itertools
import re
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from random_tops import random_top  # noqa: E402
from walker import lost_runs  # noqa: E402

from stitchpath import StitchpathError, load_design, make_plan  # noqa: E402
from stitchpath.design.read import design_from_text  # noqa: E402
from stitchpath.told.directions import directions  # noqa: E402


def asked(args):
    """Give the designs that are asked for, by name; random ones without end."""
    if args.designs:
        for path in sorted((ROOT / "designs").glob("*.toml")):
            yield path.stem, lambda path=path: load_design(path)
    for seed in itertools.count(args.first):
        yield (
            f"seed {seed}",
            lambda seed=seed: design_from_text(random_top(seed), "t.toml", ROOT / "designs"),
        )


def main():
    """Walk them and count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    parser.add_argument("--designs", action="store_true")
    parser.add_argument("--all", action="store_true")
    args = parser.parse_args()
    tops = whole = seeds = runs = lost = steps = 0
    refused = Counter()
    for name, read in asked(args):
        if seeds == args.count:
            break
        try:
            plan = make_plan(read(), cures=False, time_limit=0.2)
        except StitchpathError as error:
            refused[re.sub(r"'[^']*'|\d+|\[.*?\]", "...", f"{error}")] += 1
            continue
        found = lost_runs(plan)
        tops, whole, seeds = tops + 1, whole + (not found), seeds + name.startswith("seed")
        runs, lost = runs + len(plan.runs), lost + len(found)
        steps += sum(len(told.steps) for told in directions(plan))
        for said in found if args.all else found[:1]:
            print(
                f"{name}: {len(found)} of {len(plan.runs)} runs lost, as {said[:400]}", flush=True
            )
    print(f"{tops} tops, {whole} walked whole; {refused.total()} designs refused")
    for said, many in refused.most_common():
        print(f"  {many}: {said}")
    print(f"{runs} runs of {steps} steps, {lost} lost")


if __name__ == "__main__":
    main()
