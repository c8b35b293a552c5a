"""The house stays in order: stages import downward, the map is true, nothing is dead."""

import ast
import inspect
import re
from pathlib import Path

import mutants
import pytest
from quilts import ROOT

import stitchpath

HOUSE = ROOT / "stitchpath"
# From the ground up; a room takes from its own floor and from those before it.
FLOORS = [
    ["base"],
    ["geometry"],
    ["design"],
    ["top"],
    ["lines"],
    ["hands"],
    ["network"],
    ["route"],
    ["own_lines", "plan_schema", "saved", "thread"],
    ["document"],
    ["checks"],
    ["plan"],
    ["compare", "told"],
    ["export"],
    ["proposals"],
    ["page"],
    ["cli"],
    ["__main__"],
]
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
FILES = sorted(HOUSE.rglob("*.py"))


def dotted(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def taken(tree: ast.AST) -> set[str]:
    """Name the modules of the house that a module takes from, wherever in it."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return {name for name in names if name.startswith("stitchpath.")}


TREES = {dotted(path): ast.parse(path.read_text("utf-8")) for path in FILES}


@pytest.mark.parametrize("module", [name for name in TREES if name != "stitchpath"])
def test_a_stage_takes_only_from_its_floor_and_those_below(module):
    room = module.split(".")[1]
    above = {
        name
        for name in taken(TREES[module])
        if name in TREES and FLOOR[name.split(".")[1]] > FLOOR[room]
    }
    assert not above


def test_no_two_modules_wait_for_each_other():
    graph = {name: taken(tree) & TREES.keys() for name, tree in TREES.items()}
    import networkx as nx  # noqa: PLC0415

    circles = [c for c in nx.strongly_connected_components(nx.DiGraph(graph)) if len(c) > 1]
    assert not circles


def test_every_room_has_its_floor():
    assert {name.split(".")[1] for name in TREES if "." in name} == FLOOR.keys()


def defined(tree: ast.Module) -> dict[str, int]:
    """Find what a module makes at its top: functions, classes, constants; with its line."""
    found: dict[str, int] = {}
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found[node.name] = node.lineno
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                for name in ast.walk(target):
                    if isinstance(name, ast.Name) and not name.id.startswith("__"):
                        found[name.id] = node.lineno
    return found


@pytest.mark.parametrize("module", TREES)
def test_no_module_gives_two_things_one_name(module):
    """A guard that is read with the value of something else would let a wrong proof pass."""
    made = [
        name.id
        for node in TREES[module].body
        if isinstance(node, ast.Assign | ast.AnnAssign)
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        for name in ast.walk(target)
        if isinstance(name, ast.Name) and isinstance(name.ctx, ast.Store)
    ]
    assert not {name for name in made if made.count(name) > 1}


def words(paths) -> dict[str, int]:
    counts: dict[str, int] = {}
    for path in paths:
        for word in re.findall(r"[A-Za-z_][A-Za-z_0-9]*", path.read_text("utf-8")):
            counts[word] = counts.get(word, 0) + 1
    return counts


def test_nothing_is_made_that_no_one_uses():
    """A private thing is used in its module; a public one in the house or from its front door."""
    house = words(FILES)
    dead = []
    for path in FILES:
        own = words([path])
        listed = ast.literal_eval(_all(TREES[dotted(path)]) or "[]")
        for name, line in defined(TREES[dotted(path)]).items():
            private = name.startswith("_") or name not in listed
            if name.startswith("__"):
                continue
            used = own[name] if private else house[name] - (1 if name in listed else 0)
            if used < 2 and not decorated(TREES[dotted(path)], name):
                dead.append(f"{path.relative_to(ROOT)}:{line} {name}")
    assert not dead


def _all(tree: ast.Module) -> str | None:
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return ast.unparse(node.value)
    return None


def decorated(tree: ast.Module, name: str) -> bool:
    """Tell whether a decorator takes it in, as a command of the terminal is."""
    return any(
        isinstance(node, ast.FunctionDef) and node.name == name and node.decorator_list
        for node in tree.body
    )


CANNOT_FAIL = {"network_to_networkx"}


@pytest.mark.parametrize("name", stitchpath.__all__)
def test_a_public_name_tells_all_that_a_caller_has_to_know(name):
    thing = getattr(stitchpath, name)
    text = inspect.getdoc(thing) or ""
    assert text.partition("\n")[0].endswith(".")
    if inspect.isclass(thing):
        return
    wanted = {"Parameters", "Returns", "Examples"}
    if name not in CANNOT_FAIL:
        wanted.add("Raises")
    assert not {head for head in wanted if f"{head}\n{'-' * len(head)}" not in text}
    told = text.partition("Parameters\n")[2].partition("Returns\n")[0]
    assert not {p for p in inspect.signature(thing).parameters if not re.search(rf"\b{p}\b", told)}


CLASSES = ("Design", "Plan", "RoutedLines", "SavedPlan")
WITHIN = {"from_file", "thread_colours"}  # what the house itself asks of them


@pytest.mark.parametrize("name", CLASSES)
def test_what_a_caller_asks_of_a_plan_or_design_is_shown_by_an_example(name):
    for what, method in inspect.getmembers(getattr(stitchpath, name), inspect.isroutine):
        ours = str(getattr(method, "__module__", "")).startswith("stitchpath")
        if ours and not what.startswith("_") and what not in WITHIN:
            text = inspect.getdoc(method) or ""
            assert "Returns\n-------" in text, what
            assert "Examples\n--------" in text, what


def test_the_map_of_the_house_names_every_room_and_file_and_none_that_is_gone():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    named = re.findall(r"`((?:[a-z_]+/)+[a-z_]*(?:\.py)?)`", text)
    missing = {name for name in named if not (HOUSE / name).exists() and not (ROOT / name).exists()}
    assert not missing
    rooms = {path.name for path in HOUSE.iterdir() if (path / "__init__.py").exists()}
    assert not {room for room in rooms if f"`{room}/`" not in text}
    files = {path.name for path in FILES if path.parent.name != "commands"} - {"__init__.py"}
    assert not {name for name in files if f"`{name}`" not in text}


def test_mutants_are_made_of_code_that_is_there_and_tried_by_tests_that_are():
    """A rule that has moved would no longer be among those whose tests are tried."""
    every = mutants.files_of("route", "network", *mutants.ROOMS)
    tests = {name for file in every for name in mutants.nearest(file).split()}
    assert not {name for name in tests if not (ROOT / name).exists()}
    files = {f"stitchpath/{name}" for name in mutants.NEAREST}
    assert not {name for name in files if not (ROOT / name).exists()}
    for place in mutants.RULES:
        file, _, name = place.partition(":")
        assert any(mutants.mutants(file, name)), place
