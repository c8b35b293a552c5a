"""Change the code a little at a time and see whether a test dies: how well the proof is guarded.

Usage: python tests/mutants.py [route | network | rules | rooms | FILE[:FUNCTION or CONSTANT] ...]
       [--sample N] [--seed N] [--line N] [--first N] [--minutes N] [--effort N] [--seen FILE]
       [--again FILE]

`route` and `network` are whole rooms, `rooms` all others but those that draw files; `rules` are the
places that say what is printed as a fact. A long sample is tried in portions: `--minutes 5`, then
`--first` with the number it gives.

Of all places in the chosen code where a number, a comparison, a sum, a choice between two or a
condition stands, a seeded sample is changed, one at a time, in a copy of the tree. Of the closest
tests those that run the changed statement then run, the quickest first, until one fails, or until
`--effort` seconds of them have passed. Tests of over five seconds are left out, and those that want
a browser, which no mutant has the memory for. Which statements a
test runs is found out once, and kept in the file of `--seen`. Prints what survives; `--again` tries
that once more, with more effort, say. A mutant that takes far more time of the processor than its
tests do counts as dead: tests that hang are seen.
"""

import argparse
import ast
import os
import pickle
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

import coverage
import pytest
from hypothesis import HealthCheck, Phase, settings

ROOT = Path(__file__).resolve().parents[1]
ROUNDING = 1e-5  # numbers below are there for rounding, and a third more or less is as good
SECONDS = 15  # of the processor, for each test, beside five times what it takes by itself
SLOW = 5  # of the processor: a test that takes longer, watched, is not tried
NONE = "  (no test runs it)"
MEMORY = 6 << 30  # bytes, for each mutant
RULED = "tests/checks/test_rules.py"
COUNTED = "tests/route/test_counted_work.py"
BOUNDS = f"{COUNTED} tests/route/test_cuts.py tests/route/test_search.py tests/route/test_bounds.py"
TRAILS, ORDER = "tests/route/test_trails.py", "tests/route/test_order.py"
ROUTER = "tests/route/test_useful.py tests/route/test_route.py tests/plan/test_plan.py"
NAMES_OF_PASSAGES = ("finding", "links", "taught", "bound", "exchanges", "solve")
PASSAGES = " ".join(
    [COUNTED, *(f"tests/route/passages/test_{name}.py" for name in NAMES_OF_PASSAGES)]
)
CURRENCY = "tests/hands/test_one_currency.py"
TOP = f"{RULED} tests/top/test_top.py"
STEPS = "tests/told/test_steps.py tests/told/test_directions.py"
CARDS = "tests/told/test_cards.py"
PAGE_DATA = "tests/told/test_page_data.py"
STYLES = "tests/lines/test_styles.py tests/lines/test_fills.py tests/lines/test_fill_lines.py"
USE = "tests/thread/test_needle.py tests/thread/test_thread_use.py"
DRAWN = "tests/design/test_drawn_roles.py tests/design/test_whole_drawings.py"
# Of each file, or else of its folder, the tests nearest to it.
NEAREST = {
    "route/": BOUNDS,
    "route/exact/half_sums.py": f"{COUNTED} tests/route/test_half_sums.py",
    "route/exact/windows.py": "tests/route/test_search.py tests/route/test_tours.py",
    "route/narrow.py": "tests/route/test_narrow.py",
    "route/order.py": ORDER,
    "route/passages/": PASSAGES,
    "route/postman.py": f"{BOUNDS} tests/route/test_known_routes.py",
    "route/router.py": ROUTER,
    "route/runs.py": f"{ROUTER} tests/plan/test_own_lines.py",
    "route/shown.py": "tests/plan/test_own_lines.py",
    "route/trails.py": TRAILS,
    "route/useful_runs.py": ROUTER,
    "route/weighed.py": ROUTER,
    "network/": "tests/network/test_graphs.py",
    "network/as_networkx.py": "tests/plan/test_own_lines.py",
    "network/graph.py": "tests/network/test_graphs.py tests/route/test_useful.py "
    "tests/plan/test_own_lines.py",
    "network/noding.py": "tests/network/test_noding.py",
    "network/parting.py": "tests/network/test_graphs.py tests/network/test_windows.py",
    "network/passing.py": CURRENCY,
    "network/prices.py": f"tests/network/test_graphs.py {CURRENCY}",
    "hands/": f"tests/hands/test_pace.py {CURRENCY}",
    "hands/areas.py": f"tests/hands/test_areas.py {CURRENCY}",
    "hands/tariff.py": f"tests/hands/test_turning.py {CURRENCY}",
    "hands/turning.py": "tests/hands/test_turning.py",
    "checks/": f"{RULED} tests/checks/test_batting_check.py tests/checks/test_alike.py",
    "checks/drawing.py": DRAWN,
    "checks/out_and_back.py": "tests/lines/test_applique.py",
    "checks/pieces.py": f"{RULED} tests/lines/test_applique.py",
    "checks/proofread.py": "tests/checks/test_proofread.py",
    "checks/seam_words.py": "tests/checks/test_alike.py",
    "checks/throat.py": "tests/thread/test_throat.py",
    "thread/": f"tests/thread/test_thread_money.py {USE}",
    "thread/bobbin.py": f"tests/thread/test_thread_bobbins.py {RULED}",
    "thread/bobbins.py": f"tests/thread/test_thread_bobbins.py {RULED}",
    "thread/estimate.py": "tests/thread/test_thread_estimate.py",
    "thread/from_design.py": f"{USE} tests/thread/test_thread_cli.py tests/told/test_jobsheet.py",
    "thread/sizes.py": "tests/thread/test_thread_sizes.py",
    "thread/throat.py": "tests/thread/test_throat.py",
    "thread/time.py": f"{CURRENCY} tests/thread/test_thread_money.py",
    "told/": f"{STEPS} tests/told/test_jobsheet.py",
    "told/anchors.py": CARDS,
    "told/arms.py": CARDS,
    "told/as_design.py": "tests/top/test_drawn_top.py",
    "told/card_words.py": CARDS,
    "told/cards.py": CARDS,
    "told/chapters.py": "tests/told/test_chapters.py",
    "told/drawing.py": "tests/cli/test_drawing_commands.py",
    "told/feet.py": "tests/told/test_feet.py",
    "told/line_data.py": PAGE_DATA,
    "told/pass_sheets.py": "tests/told/test_pass_sheets.py",
    "told/passes.py": "tests/told/test_pass_sheets.py tests/network/test_windows.py",
    "told/path_words.py": PAGE_DATA,
    "told/plan_data.py": "tests/told/test_plan_data.py",
    "told/progress.py": "tests/told/test_plan_data.py",
    "told/rolls.py": "tests/thread/test_throat.py",
    "told/seams.py": f"{STEPS} tests/top/test_drawn_top.py",
    "told/stops.py": "tests/told/test_stops.py tests/told/test_feet.py",
    "told/swatches.py": "tests/told/test_swatches.py",
    "told/top_data.py": PAGE_DATA,
    "told/usual.py": PAGE_DATA,
    "told/walks.py": CARDS,
    "top/": f"{TOP} tests/top/test_compound.py tests/top/test_places.py",
    "top/block.py": f"{TOP} tests/design/test_blocks.py",
    "top/build.py": f"{TOP} tests/lines/test_applique.py",
    "top/copies.py": "tests/top/test_drawn_top.py",
    "top/drawn.py": "tests/top/test_drawn_top.py",
    "top/place_names.py": f"tests/top/test_places.py {STEPS}",
    "top/spots.py": f"tests/top/test_places.py {STEPS}",
    "top/squares.py": "tests/top/test_drawn_top.py",
    "geometry/": f"{RULED} tests/export/test_machine_exports.py",
    "geometry/empty_circles.py": "tests/geometry/test_loose.py",
    "geometry/groups.py": "tests/geometry/test_groups.py",
    "geometry/healing/": "tests/geometry/test_healing.py",
    "geometry/splines.py": "tests/geometry/test_splines.py",
    "geometry/turns.py": f"{RULED} {TRAILS} {STEPS}",
    "lines/": "tests/lines/test_fill_lines.py",
    "lines/applique.py": "tests/lines/test_applique.py",
    "lines/centre/": "tests/lines/test_centre.py tests/lines/test_outline.py",
    "lines/collect.py": "tests/network/test_graphs.py tests/lines/test_threads.py",
    "lines/ditch.py": "tests/lines/test_ditch.py",
    "lines/drawn.py": "tests/lines/test_drawn_lines.py",
    "lines/fills/": "tests/lines/test_fills.py tests/lines/test_fill_lines.py",
    "lines/fills/belts.py": STYLES,
    "lines/fills/feathers.py": STYLES,
    "lines/fills/ribbon.py": STYLES,
    "lines/fills/strips.py": STYLES,
    "lines/fills/styles.py": STYLES,
    "lines/outline.py": "tests/lines/test_outline.py",
    "lines/suited.py": "tests/test_proposals.py tests/lines/test_fill_lines.py",
    "lines/frame/": "tests/lines/test_frame.py tests/network/test_windows.py",
    "lines/frame/borders.py": "tests/lines/test_borders.py",
    "lines/threads.py": "tests/lines/test_threads.py",
    "design/": "tests/design/test_build.py tests/design/test_sentences.py tests/top/test_top.py",
    "design/battings.py": "tests/design/test_batting.py",
    "design/colours.py": "tests/design/test_drawn_roles.py",
    "design/drawings/": f"tests/design/test_drawings.py {DRAWN}",
    "design/drawings/pathdata.py": f"{RULED} tests/design/test_drawings.py",
    "design/drawings/roles.py": DRAWN,
    "design/drawings/copies.py": DRAWN,
    "design/drawings/ink.py": DRAWN,
    "design/drawings/whole.py": DRAWN,
    "design/library.py": "tests/design/test_blocks.py",
    "design/repair.py": "tests/lines/test_outline.py",
}
FLATTENING = ("_MOST_CHORDS", "_LARGEST", "flatten", "_sampled", "_stepped", "_count")
# What is printed as a fact, by the functions and constants that say it.
RULES = (
    "stitchpath/checks/pieces.py",
    "stitchpath/top/build.py:darkness",
    "stitchpath/top/build.py:_high_side",
    "stitchpath/geometry/turns.py",
    "stitchpath/geometry/corners.py",
    "stitchpath/geometry/tolerances.py:FLATTENING",
    "stitchpath/thread/bobbins.py",
    *(f"stitchpath/design/drawings/pathdata.py:{name}" for name in FLATTENING),
    "stitchpath/told/directions.py",
    "stitchpath/told/low_side.py",
    "stitchpath/told/sentences.py",
    "stitchpath/told/ways.py",
)
VALUES = "tests/test_values.py"  # reads the house and runs none of it: tried on every mutant
ROOMS = ("checks", "told", "thread", "hands", "lines", "top", "geometry", "design")


def nearest(file):
    """Name the tests nearest to a file: its own, or else those of its folder."""
    inside = file.removeprefix("stitchpath/")
    while inside not in NEAREST:
        inside = inside.rstrip("/").rpartition("/")[0] + "/"
        if inside == "/":
            raise SystemExit(f"no tests are named for {file}")
    return f"{NEAREST[inside]} {VALUES}"


def files_of(*rooms):
    """List the files of rooms, those in folders within them included."""
    return [path.relative_to(ROOT).as_posix() for room in rooms
            for path in sorted((ROOT / "stitchpath" / room).rglob("*.py"))]  # fmt: skip


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


class Seen:
    """Notes of each test how long it takes and which lines of the house it runs."""

    def __init__(self, tree):
        self.tree, self.seconds, self.lines, self.slow = f"{tree}/", {}, {}, set()
        self._begin()

    def _begin(self):
        self.watch = coverage.Coverage(
            data_file=None, config_file=False, include=[f"{self.tree}stitchpath/*"]
        )
        self.watch.start()

    def _end(self):
        self.watch.stop()
        data = self.watch.get_data()
        for path in data.measured_files():
            for line, tests in data.contexts_by_lineno(path).items():
                for test in tests:
                    where = path.removeprefix(self.tree), line
                    self.lines.setdefault(test, set()).add(where)

    def pytest_collection_modifyitems(self, items):
        items[:] = [i for i in items if "browser" not in " ".join(i.fixturenames)]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.watch.switch_context(item.nodeid)
        begun = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.process_time() - begun
            if item.nodeid in self.slow:
                self._end()
                self._begin()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item):
        """Only the test itself may be too slow: others want what is set up with it as well."""
        signal.signal(signal.SIGPROF, partial(self._too_slow, item.nodeid))
        signal.setitimer(signal.ITIMER_PROF, SLOW)
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)

    def _too_slow(self, test, *_):
        self.slow.add(test)
        self.watch.stop()  # left in the middle of a line it would miss lines from then on
        pytest.skip("takes too long to be tried on every mutant")

    def notes(self):
        """Give of each test its seconds and the lines it runs, as (file, line)."""
        self._end()
        return {test: (seconds, self.lines.get(test, set()))
                for test, seconds in self.seconds.items() if test not in self.slow}  # fmt: skip


class Chosen:
    """Runs the chosen tests only, in their order, and ends each that takes far too long."""

    def __init__(self, tests):
        self.tests = tests  # seconds by name

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self):
        """Neither the clock kills a mutant, nor is what kills it made smaller."""
        settings.register_profile(
            "mutants",
            settings.get_profile("same"),
            deadline=None,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.explicit, Phase.generate],
        )
        settings.load_profile("mutants")

    def pytest_collection_modifyitems(self, items):
        place = {name: k for k, name in enumerate(self.tests)}
        items[:] = sorted((i for i in items if i.nodeid in place), key=lambda i: place[i.nodeid])

    def pytest_runtest_setup(self, item):
        signal.setitimer(signal.ITIMER_PROF, SECONDS + 5 * self.tests[item.nodeid])


def in_child(work, seconds):
    """Do something in a child process; give its exit status."""
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        os._exit(int(work()))
    return os.waitpid(child, 0)[1]


def tried(tree, files, plugin):
    """Run tests in a copy of the tree until the first fails."""
    os.chdir(tree)
    sys.path[:0] = [str(tree), str(tree / "tests")]
    options = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--override-ini=addopts=",
               "--tb=no", "--assert=plain", "-k", "not stored_least"]  # fmt: skip
    return pytest.main([*options, *files], plugins=[plugin])


def watched(tree, tests, notes):
    """Give what the tests of some files run; each file that is not noted yet is watched once."""
    for name in tests:
        seen = pickle.loads(notes.read_bytes()) if notes.exists() else {}  # noqa: S301 - our own
        if name not in seen and in_child(partial(watch, tree, name, seen, notes), 3600):
            raise SystemExit(f"a test fails before anything is changed: {name}")
    return pickle.loads(notes.read_bytes())  # noqa: S301


def watch(tree, name, seen, notes):
    """Run the tests of a file, and add what they run to the notes."""
    sys.dont_write_bytecode = False  # the mutants after it find all compiled
    looking = Seen(tree)
    failed = tried(tree, [name], looking)
    notes.write_bytes(pickle.dumps(seen | {name: looking.notes()}))
    return failed


def lines_near(file, line):
    """List the lines whose running shows what is on a line: its statement, or where it is used."""
    tree = ast.parse((ROOT / file).read_text())
    for node in tree.body:  # a constant is seen wherever its name stands
        if isinstance(node, ast.Assign) and node.lineno <= line <= node.end_lineno:
            names = {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}
            word = re.compile(rf"\b({'|'.join(names)})\b")
            return {(name, k) for name in files_of(".")
                    for k, text in enumerate((ROOT / name).read_text().splitlines(), 1)
                    if word.search(text)}  # fmt: skip
    inside = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]
    inside = [n for n in inside if n.body[0].lineno <= line <= n.end_lineno]
    if not inside:  # of a class, or a default
        return {(file, k) for k in range(1, 10**4)}
    within = max(inside, key=lambda n: n.lineno)
    first, last = within.body[0].lineno, within.end_lineno
    for node in ast.walk(within):
        if isinstance(node, ast.stmt) and node.lineno <= line <= node.end_lineno:
            body = getattr(node, "body", None)
            end = body[0].lineno - 1 if body else node.end_lineno
            if line <= max(end, node.lineno) and node.lineno >= first:
                first, last = node.lineno, max(end, node.lineno)
    return {(file, k) for k in range(first, last + 1)}


def in_order(file, line, seen, effort):
    """Give the tests nearest to a line that run it, quick before slow, with their seconds."""
    lines = lines_near(file, line)
    near = {name: note for tests in nearest(file).split() for name, note in seen[tests].items()}
    running = [name for name, (_, run) in near.items()
               if name.startswith(VALUES) or not run.isdisjoint(lines)]  # fmt: skip
    chosen, left = {}, effort
    for name in sorted(running, key=lambda name: near[name][0]):
        left -= near[name][0]
        if left < 0 and chosen:
            break
        chosen[name] = near[name][0]
    return chosen


def survives(tree, file, text, tests):
    """Run the tests on a mutant."""
    if not tests:
        return True
    target = tree / file
    whole, made = target.read_text(), target.stat()
    target.write_text(text)
    files = list(dict.fromkeys(name.partition("::")[0] for name in tests))
    limit = int(60 + 6 * sum(tests.values()))
    status = in_child(lambda: tried(tree, files, Chosen(tests)), limit)
    target.write_text(whole)
    os.utime(target, ns=(made.st_atime_ns, made.st_mtime_ns))
    return status == 0


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", nargs="*", default=["route"])
    asked.add_argument("--sample", type=int, default=40)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--line", type=int, help="only the mutants of this line")
    asked.add_argument("--first", type=int, default=1, help="begin with this one of the sample")
    asked.add_argument("--minutes", type=float, default=1e9, help="begin none after so long")
    asked.add_argument("--effort", type=float, default=12, help="seconds of tests for each")
    asked.add_argument("--again", type=Path, help="only what this output says to be alive")
    asked.add_argument("--seen", type=Path, help="what each test calls: read, or else written")
    asked = asked.parse_args()
    gone = {t for tests in NEAREST.values() for t in tests.split() if not (ROOT / t).exists()}
    if gone:  # a run without tests would end like one that fails
        raise SystemExit(f"no such tests: {sorted(gone)}")
    named = {"route": files_of("route"), "network": files_of("network"), "rules": list(RULES),
             "rooms": files_of(*ROOMS)}  # fmt: skip
    chosen = [place for what in asked.what for place in named.get(what, [what])]
    every = [m for place in chosen for m in mutants(*f"{place}:".split(":")[:2])]
    every = [m for m in every if asked.line in (None, int(m[0].split(":")[1]))]
    sample = random.Random(asked.seed).sample(every, min(asked.sample, len(every)))
    if asked.again:
        lived = [line[7:].removesuffix(NONE) for line in asked.again.read_text().splitlines()]
        sample = [m for m in every if m[0] in lived]
    begun, done = time.monotonic(), 0
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
        notes = asked.seen or Path(folder) / "seen"
        for count, (shown, file, text) in enumerate(sample[asked.first - 1 :], asked.first):
            if time.monotonic() - begun > 60 * asked.minutes:
                print(f"go on with --first {count}")
                break
            seen = watched(tree, nearest(file).split(), notes)
            tests = in_order(file, int(shown.split(":")[1]), seen, asked.effort)
            lives = survives(tree, file, text(), tests)
            alive, done = alive + lives, done + 1
            if lives:
                print(f"alive  {shown}{'' if tests else NONE}", flush=True)
            print(f"{count} of {len(sample)} tried, {alive} alive", file=sys.stderr, flush=True)
    print(f"{len(every)} mutants, {done} tried, {alive} alive")


if __name__ == "__main__":
    main()
