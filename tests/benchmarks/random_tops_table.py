"""Plan random tops by the hundred: processor time, faults and tracebacks of each seed.

Run: `python tests/benchmarks/random_tops_table.py 0 1000 [--kind crossing|heaped] [--jobs 2]`.
With `--every` each top is planned with every foot, order and retrace setting, weighed by time.
"""

import argparse
import importlib.util
import json
import signal
import sys
import time
import traceback
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import product
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
VERIFIER = ROOT.parent / "shared" / "tools" / "verify_plan.py"
sys.path.insert(0, str(ROOT / "tests"))

from plan_checker import faults as checked  # noqa: E402
from random_tops import crossing_top, heaped_top, random_top  # noqa: E402

from stitchpath import StitchpathError, make_plan  # noqa: E402
from stitchpath.design.read import design_from_text  # noqa: E402
from stitchpath.geometry.polylines import path_lengths  # noqa: E402
from stitchpath.plan import plan_json  # noqa: E402

KINDS = {"random": random_top, "crossing": crossing_top, "heaped": heaped_top}
FEET = ("walking", "free-motion", "frame")
LIMIT = 120  # s of processor for one plan
BRIEF = 1.0  # s of work for the route of each plan, where every setting is tried


def tried(seed, kind):
    """Give seed, what came of it, seconds of processor, and words."""
    signal.signal(signal.SIGVTALRM, _too_long)
    signal.setitimer(signal.ITIMER_VIRTUAL, LIMIT)
    begun = time.process_time()
    try:
        made = make_plan(design_from_text(KINDS[kind](seed), f"seed {seed}"), time_limit=10)
    except StitchpathError as error:
        return seed, "refused", time.process_time() - begun, str(error)
    except Exception:  # noqa: BLE001 - what it is is told
        said = traceback.format_exc(limit=-2)
        return seed, "traceback", time.process_time() - begun, said
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    spent = time.process_time() - begun
    faults = found_in(made)
    return seed, "faulty" if faults else "planned", spent, "; ".join(faults[:4])


def settings(design):
    """Give a design with every foot, order and retrace setting, and each of them in words."""
    for foot, order, retrace in product(FEET, ("free", "taught"), ("never", "ditch", "allowed")):
        if foot == "frame":
            if order == "taught":
                continue
            kind = {"kind": "frame", "foot": foot}
        else:
            kind = {"kind": "domestic", "foot": foot, "depth": None}
        machine = design.machine.model_copy(update=kind)
        route = design.route.model_copy(update={"order": order, "retrace": retrace})
        asked = {"machine": machine, "route": route, "prices": None}
        yield f"{foot} {order} {retrace}", design.model_copy(update=asked)


def tried_all(seed, kind):
    """Do as `tried`, with every setting: what is worst of them, and in words with which."""
    begun = time.process_time()
    design = design_from_text(KINDS[kind](seed), f"seed {seed}")
    said, worst = [], "planned"
    for told, asked in settings(design):
        what, words = _planned(asked)
        if what in ("faulty", "traceback"):
            said.append(f"{told}: {words}")
            worst = what
        elif what == "refused" and worst == "planned":
            said, worst = [words], what
    return seed, worst, time.process_time() - begun, "; ".join(said)


def _planned(asked):
    signal.signal(signal.SIGVTALRM, _too_long)
    signal.setitimer(signal.ITIMER_VIRTUAL, LIMIT)
    try:
        made = make_plan(asked, time_limit=BRIEF, cures=False)
    except StitchpathError as error:
        return "refused", str(error)
    except Exception:  # noqa: BLE001 - what it is is told
        return "traceback", traceback.format_exc(limit=-2)
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    faults = found_in(made)
    return "faulty" if faults else "planned", "; ".join(faults[:4])


def found_in(made):
    """List what is wrong in a plan."""
    short = int((path_lengths([line.points for line in made.lines]) < 0.05 - 1e-9).sum())
    faults = [f"{short} lines under 0.05 mm"] if short else []
    faults += [f"run {run.number} stitches nothing" for run in made.runs
               if not any(leg.do == "stitch" for leg in run.legs)]  # fmt: skip
    data = json.loads(plan_json(made))
    faults += checked(data, [patch.polygon for patch in made.top.patches])
    if VERIFIER.exists() and not faults:
        spec = importlib.util.spec_from_file_location("verify_plan", VERIFIER)
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        faults += module.verify(data)
    return faults


def _too_long(*_):
    raise TimeoutError(f"more than {LIMIT} s of processor")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("first", type=int)
    parser.add_argument("stop", type=int)
    parser.add_argument("--kind", choices=[*KINDS], default="random")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--slow", type=float, default=10.0, help="seconds told of")
    parser.add_argument("--every", action="store_true", help="every foot, order, retrace setting")
    asked = parser.parse_args()
    way = tried_all if asked.every else tried
    counts, spent = Counter(), []
    with ProcessPoolExecutor(asked.jobs) as pool:
        seeds = range(asked.first, asked.stop)
        for seed, what, seconds, said in pool.map(partial(way, kind=asked.kind), seeds):
            counts[what] += 1
            spent.append(seconds)
            if what in ("faulty", "traceback") or seconds > asked.slow:
                print(f"{seed:>7} {what:<10} {seconds:7.2f} s  {said}", flush=True)
            elif what == "refused":
                counts[said.split(": ", 1)[1].split(",")[0][:60]] += 1
    for what, count in counts.most_common():
        print(f"{count:>6} {what}")
    over = sum(s > 20 for s in spent)
    print(f"{sum(spent):.0f} s in all, {max(spent):.1f} s the slowest, {over} over 20 s")


if __name__ == "__main__":
    main()
