"""Change the code a little at a time and see whether a test dies: how well the proof is guarded.

Usage: python tests/mutants.py [route | network | rules | rooms | FILE[:FUNCTION or CONSTANT] ...]
       [--sample N] [--seed N] [--line N]

Of all places in the chosen code where a number, a comparison, a sum, a choice between two or a
condition stands, a seeded sample is changed, one at a time, in a copy of the tree; the closest
tests run until the first fails. Prints what survives. A mutant that takes more than its time of
the processor counts as dead: tests that hang are seen.
"""

import argparse
import ast
import os
import random
import resource
import shutil
import sys
import tempfile
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ROUNDING = 1e-5  # numbers below are there for rounding, and a third more or less is as good
SECONDS = 90  # of the processor, for each mutant
RULED = "tests/checks/test_rules.py"
BOUNDS = "tests/route/test_cuts.py tests/route/test_search.py tests/route/test_bounds.py"
TRAILS, ORDER = "tests/route/test_trails.py", "tests/route/test_order.py"
ROUTER = "tests/route/test_useful.py tests/route/test_route.py tests/plan/test_plan.py"
CURRENCY = "tests/hands/test_one_currency.py"
TOP = f"{RULED} tests/top/test_top.py"
# Of each file, or of some of its functions and constants, the tests nearest to it.
ROUTE = {
    "exact/arcs.py": BOUNDS,
    "exact/branch.py": BOUNDS,
    "exact/cuts.py": BOUNDS,
    "effort.py": BOUNDS,
    "exact/min_cuts.py": BOUNDS,
    "narrow.py": "tests/route/test_narrow.py",
    "hub_graph.py": BOUNDS,
    "joining.py": BOUNDS,
    "postman.py": BOUNDS,
    "exact/shrink.py": BOUNDS,
    "exact/linear_program.py": BOUNDS,
    "exact/halves.py": "tests/route/test_halves.py",
    "exact/deeper_cuts.py": BOUNDS,
    "tjoin.py": BOUNDS,
    "twoends.py": BOUNDS,
    "exact/windows.py": "tests/route/test_search.py tests/route/test_tours.py",
    "trails.py": TRAILS,
    "order.py": ORDER,
    "router.py": ROUTER,
    "useful_runs.py": ROUTER,
}
NEAREST = {f"stitchpath/route/{name}": tests for name, tests in ROUTE.items()} | {
    "stitchpath/network/noding.py": "tests/network/test_noding.py",
    "stitchpath/network/parting.py": "tests/network/test_graphs.py tests/network/test_strips.py",
    "stitchpath/network/graph.py": "tests/network/test_graphs.py tests/route/test_useful.py",
    "stitchpath/network/prices.py": f"tests/network/test_graphs.py {CURRENCY}",
    "stitchpath/network/passing.py": CURRENCY,
    "stitchpath/hands/pace.py": f"tests/hands/test_pace.py {CURRENCY}",
    "stitchpath/hands/feet.py": "tests/hands/test_pace.py",
    "stitchpath/hands/turning.py": "tests/hands/test_turning.py",
    "stitchpath/hands/areas.py": f"tests/hands/test_areas.py {CURRENCY}",
    "stitchpath/hands/tariff.py": f"tests/hands/test_turning.py {CURRENCY}",
    "stitchpath/thread/time.py": f"{CURRENCY} tests/thread/test_thread_money.py",
    "stitchpath/thread/throat.py": "tests/thread/test_throat.py",
    "stitchpath/checks/throat.py": "tests/thread/test_throat.py",
    "stitchpath/told/rolls.py": "tests/thread/test_throat.py",
    "stitchpath/checks/pieces.py": f"{RULED} tests/lines/test_applique.py",
    "stitchpath/top/build.py": f"{TOP} tests/lines/test_applique.py",
    "stitchpath/geometry/turns.py": f"{RULED} {TRAILS} tests/told/test_directions.py",
    "stitchpath/geometry/tolerances.py": f"{RULED} tests/export/test_machine_exports.py",
    "stitchpath/geometry/corners.py": f"{RULED} tests/export/test_machine_exports.py",
    "stitchpath/design/drawings/pathdata.py": f"{RULED} tests/design/test_drawings.py",
    "stitchpath/told/directions.py": "tests/told/test_directions.py",
    "stitchpath/thread/bobbins.py": f"tests/thread/test_thread_bobbins.py {RULED}",
}
# Of the rooms outside the route, the files that reckon most.
ROOMS = {
    "stitchpath/lines/centre/pruning.py": "tests/lines/test_centre.py",
    "stitchpath/lines/centre/within.py": "tests/lines/test_centre.py",
    "stitchpath/lines/centre/pose.py": "tests/lines/test_centre.py",
    "stitchpath/lines/ditch.py": "tests/lines/test_ditch.py",
    "stitchpath/lines/outline.py": "tests/lines/test_outline.py",
    "stitchpath/lines/fills/straight.py": "tests/lines/test_fills.py",
    "stitchpath/geometry/empty_circles.py": "tests/geometry/test_loose.py",
    "stitchpath/geometry/splines.py": "tests/geometry/test_splines.py",
    "stitchpath/checks/batting.py": "tests/checks/test_batting_check.py",
    "stitchpath/thread/needle.py": "tests/thread/test_needle.py",
    "stitchpath/thread/lockstitch.py": "tests/thread/test_thread_use.py",
    "stitchpath/thread/consumption.py": "tests/thread/test_thread_use.py",
    "stitchpath/thread/estimate.py": "tests/thread/test_thread_estimate.py",
    "stitchpath/thread/cloth.py": "tests/thread/test_thread_money.py",
    "stitchpath/thread/money.py": "tests/thread/test_thread_money.py",
    "stitchpath/thread/sizes.py": "tests/thread/test_thread_sizes.py",
    "stitchpath/top/layout.py": f"{TOP} tests/top/test_compound.py",
    "stitchpath/top/seams.py": TOP,
    "stitchpath/design/drawings/roles.py": "tests/design/test_drawn_roles.py",
    "stitchpath/geometry/healing/heal.py": "tests/geometry/test_healing.py",
    "stitchpath/geometry/healing/noding.py": "tests/geometry/test_healing.py",
    "stitchpath/top/copies.py": "tests/top/test_drawn_top.py",
    "stitchpath/top/squares.py": "tests/top/test_drawn_top.py",
    "stitchpath/lines/drawn.py": "tests/lines/test_drawn_lines.py",
    "stitchpath/told/stops.py": "tests/told/test_stops.py",
    "stitchpath/told/chapters.py": "tests/told/test_chapters.py",
} | {name: tests for name, tests in NEAREST.items() if "/hands/" in name or "throat" in name}
NEAREST |= ROOMS
FLATTENING = ("_MOST_CHORDS", "_LARGEST", "flatten", "_sampled", "_stepped", "_count")
SAID = ("_LISTED", "_MANY", "_CURVED", "_SHORT", "_BEATS", "_STITCH", "_METRE", "_ON_LEVEL",
        "headline", "_at", "_low", "_changing", "_again", "_bobbins", "_far", "_repeats", "_pivots",
        "_bends")  # fmt: skip
RULES = (
    "stitchpath/checks/pieces.py",
    "stitchpath/top/build.py:darkness",
    "stitchpath/top/build.py:_high_side",
    "stitchpath/geometry/turns.py",
    "stitchpath/geometry/corners.py",
    "stitchpath/geometry/tolerances.py:FLATTENING",
    "stitchpath/thread/bobbins.py",
    *(f"stitchpath/design/drawings/pathdata.py:{name}" for name in FLATTENING),
    *(f"stitchpath/told/directions.py:{name}" for name in SAID),
)
SWAPS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or,
    ast.Or: ast.And, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.FloorDiv: ast.Mult,
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum",
         "argmin": "argmax", "argmax": "argmin", "floor": "ceil", "ceil": "floor"}  # fmt: skip
NOT_CODE = (ast.JoinedStr, ast.AnnAssign, ast.Raise, ast.Import, ast.ImportFrom)


def changes(node):
    """Give the ways to change one place, each as a function that does it to a copy of the node."""
    kind = type(node)
    if kind is ast.Constant and isinstance(node.value, bool):
        yield lambda n: setattr(n, "value", not n.value)
    elif kind is ast.Constant and isinstance(node.value, int):
        yield lambda n: setattr(n, "value", n.value + 1)
        yield lambda n: setattr(n, "value", n.value - 1)
    elif kind is ast.Constant and isinstance(node.value, float) and abs(node.value) >= ROUNDING:
        yield lambda n: setattr(n, "value", n.value * 1.3 + (n.value == 0))
        yield lambda n: setattr(n, "value", n.value / 1.3)
    elif kind is ast.Compare and type(node.ops[0]) in SWAPS:
        yield lambda n: n.ops.__setitem__(0, SWAPS[type(n.ops[0])]())
    elif kind in (ast.BinOp, ast.BoolOp, ast.AugAssign) and type(node.op) in SWAPS:
        yield lambda n: setattr(n, "op", SWAPS[type(n.op)]())
    elif kind is ast.Name and node.id in NAMES:
        yield lambda n: setattr(n, "id", NAMES[n.id])
    elif kind is ast.Attribute and node.attr in NAMES:
        yield lambda n: setattr(n, "attr", NAMES[n.attr])
    elif kind in (ast.If, ast.While, ast.IfExp):
        yield lambda n: setattr(n, "test", ast.UnaryOp(ast.Not(), n.test))
    elif kind is ast.UnaryOp and isinstance(node.op, (ast.Not, ast.Invert, ast.USub)):
        yield lambda n: setattr(n, "op", ast.UAdd() if isinstance(n.op, ast.USub) else ast.Pass())


def places(tree, function):
    """Walk the nodes of a file, or of a function, that may be changed; texts and types are not."""
    todo = [tree]
    if function:
        named = (n for n in ast.walk(tree) if getattr(n, "name", None) == function)
        constants = (n for n in tree.body if isinstance(n, ast.Assign)
                     and getattr(n.targets[0], "id", None) == function)  # fmt: skip
        todo = [*named, *constants]
        if not todo:
            raise SystemExit(f"no function or constant {function}")
    while todo:
        node = todo.pop()
        if isinstance(node, NOT_CODE) and not (isinstance(node, ast.AnnAssign) and node.value):
            continue
        yield node
        if isinstance(node, ast.FunctionDef):
            todo += [*node.body, *node.args.defaults, *filter(None, node.args.kw_defaults)]
        elif isinstance(node, ast.AnnAssign):
            todo.append(node.value)
        elif isinstance(node, ast.Subscript):  # indices of tuples included
            todo += [node.value, node.slice]
        else:
            todo += ast.iter_child_nodes(node)


def mutants(file, function):
    """List every mutant of a file: what to show of it, and a function that writes its text."""
    tree = ast.parse((ROOT / file).read_text())
    for node in places(tree, function):
        if not hasattr(node, "lineno"):
            continue
        before = ast.unparse(node).split("\n")[0]
        for change in changes(node):
            after = written(node, change, node).split("\n")[0]
            shown = f"{file}:{node.lineno}: {before}  ->  {after}"
            yield shown, file, partial(written, node, change, tree)


def written(node, change, tree):
    """Write out a tree with one of its nodes changed, and leave it as it was."""
    state = dict(node.__dict__)
    if isinstance(node, ast.Compare):
        node.ops = list(node.ops)
    change(node)
    if isinstance(getattr(node, "op", None), ast.Pass):  # "not x" becomes "x"
        node.op, node.operand = ast.Not(), ast.UnaryOp(ast.Not(), node.operand)
    try:
        return ast.unparse(tree)
    finally:
        node.__dict__.clear()
        node.__dict__.update(state)


def survives(copy_of_tree, file, text, tests):
    """Run the tests on a mutant in a child process."""
    target = copy_of_tree / file
    whole = target.read_text()
    target.write_text(text)
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        os.chdir(copy_of_tree)
        sys.path[:0] = [str(copy_of_tree), str(copy_of_tree / "tests")]
        import pytest  # noqa: PLC0415

        options = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--override-ini=addopts=",
                   "-k", "not stored_least"]  # fmt: skip
        os._exit(int(pytest.main([*options, *tests.split()])))
    status = os.waitpid(child, 0)[1]
    target.write_text(whole)
    return status == 0


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", nargs="*", default=["route"])
    asked.add_argument("--sample", type=int, default=40)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--line", type=int, help="only the mutants of this line")
    asked = asked.parse_args()
    gone = {t for tests in NEAREST.values() for t in tests.split() if not (ROOT / t).exists()}
    if gone:  # a run without tests would end like one that fails
        raise SystemExit(f"no such tests: {sorted(gone)}")
    named = {"route": [f"stitchpath/route/{name}" for name in ROUTE],
             "network": [name for name in NEAREST if "/network/" in name],
             "rules": list(RULES), "rooms": list(ROOMS)}  # fmt: skip
    chosen = [place for what in asked.what for place in named.get(what, [what])]
    every = [m for place in chosen for m in mutants(*f"{place}:".split(":")[:2])]
    every = [m for m in every if asked.line in (None, int(m[0].split(":")[1]))]
    sample = random.Random(asked.seed).sample(every, min(asked.sample, len(every)))
    # Heavy libraries are loaded once, for all children.
    for name in ("hypothesis", "networkx", "pymatching", "pytest", "scipy.optimize", "shapely",
                 "highspy", "pydantic", "scipy.sparse.csgraph", "PIL.Image"):  # fmt: skip
        __import__(name)
    alive = 0
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        for part in ("stitchpath", "tests", "designs", "pyproject.toml"):
            copied = shutil.copytree if (ROOT / part).is_dir() else shutil.copy
            tree.mkdir(exist_ok=True)
            copied(ROOT / part, tree / part)
        os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
        sys.dont_write_bytecode = True
        for count, (shown, file, text) in enumerate(sample, 1):
            lives = survives(tree, file, text(), NEAREST[file])
            alive += lives
            if lives:
                print(f"alive  {shown}", flush=True)
            print(f"{count} of {len(sample)} tried, {alive} alive", file=sys.stderr, flush=True)
    print(
        f"{len(every)} mutants, {len(sample)} tried, {100 * (1 - alive / len(sample)):.0f} % dead"
    )


if __name__ == "__main__":
    main()
