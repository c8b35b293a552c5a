"""Look through a folder of outputs: whether sets belong together, and plans hold."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from typing import Any

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import format_count
from stitchpath.checks.proofread import plan_faults
from stitchpath.export.files import temporaries
from stitchpath.export.mark import MADE, digest_of, mark_of
from stitchpath.export.write import FORMATS
from stitchpath.plan_schema import FORMAT

__all__ = ["SetFound", "older_files", "verdict", "verify_folder"]

_PLAN = FORMATS["plan"][0]
_INDEX = ".index.html"
_ENDINGS = (*(ending for ending, _ in FORMATS.values()), _INDEX)
_TOLD = re.compile(r'href="[^"]*"(?: data-sha256="([0-9a-f]+)")?>([^<]*)</a>')


@dataclass(frozen=True, slots=True)
class SetFound:
    """The files of one plan in a folder.

    Attributes
    ----------
    name
        What their names begin with.
    files
        How many there are.
    faults
        What is wrong, a sentence each.
    notes
        What cannot be told.
    """

    name: str
    files: int
    faults: tuple[str, ...]
    notes: tuple[str, ...]


def verify_folder(folder: Path) -> list[SetFound]:
    """Check every set of outputs in a folder.

    Parameters
    ----------
    folder
        Where `save_plan` has written.

    Raises
    ------
    StitchpathError
        When it cannot be read, or holds no plan.
    """
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise StitchpathError(f"{folder}: {reason}, expected a folder with a plan") from None
    stems = [name.removesuffix(_PLAN) for name in names if name.endswith(_PLAN)]
    if not stems:
        raise StitchpathError(f"{folder}: found no file NAME{_PLAN}, expected a folder with one")
    left = [f"{path.name} was left behind by a command that was killed" for path in
            temporaries(folder)]  # fmt: skip
    found = []
    for stem in stems:
        files = [folder / (stem + end) for end in _ENDINGS if stem + end in names]
        found.append(_checked(stem, files, tuple(left) if stem == stems[0] else ()))
    return found


def older_files(plan: Path) -> list[str]:
    """List the files of a set that belong to another plan than the plan.json beside them.

    Parameters
    ----------
    plan
        The plan.json.
    """
    digest, stem = digest_of(plan.read_bytes()), plan.name.removesuffix(_PLAN)
    files = [plan.with_name(stem + end) for end in _ENDINGS]
    marks = {path.name: mark_of(path) for path in files if path != plan and path.is_file()}
    return [name for name, mark in marks.items() if mark not in (None, MADE, digest)]


def _checked(stem: str, files: list[Path], more: tuple[str, ...]) -> SetFound:
    plan = files[0].with_name(stem + _PLAN)
    try:
        text = plan.read_bytes()
        digest, told = digest_of(text), _told(plan.with_name(stem + _INDEX))
        belongs = [each for path in files if path != plan for each in _belongs(path, digest, told)]
        missing = [name for name in told if not plan.with_name(name).is_file()]
    except OSError as error:
        raise StitchpathError(
            f"{error.filename}: {(error.strerror or 'unreadable').lower()}, expected a file to read"
        ) from None
    faults = [said for wrong, said in belongs if wrong]
    faults += [f"{name} is missing, and the index names it" for name in missing]
    faults += [f"{plan.name}: {said}" for said in _plan_faults(text)]
    notes = tuple(said for wrong, said in belongs if not wrong)
    return SetFound(stem, len(files), (*faults, *more), notes)


def _told(index: Path) -> dict[str, str]:
    """Read what an index names, and the digests of those that bear no mark."""
    if not index.is_file():
        return {}
    found = _TOLD.findall(index.read_text("utf-8", errors="replace"))
    return {unescape(name): digest for digest, name in found}


def _belongs(path: Path, digest: str, told: dict[str, str]) -> Iterator[tuple[bool, str]]:
    """Say why a file is not of a plan: True beside it if that is sure, False if none can tell."""
    mark = mark_of(path) if path.is_file() else None
    if mark is None:
        yield True, f"{path.name} was not made by stitchpath"
    elif mark == MADE:
        if not told.get(path.name):
            yield False, f"{path.name} has no room for a mark, and no index tells of it"
        elif told[path.name] != digest_of(path.read_bytes()):
            yield True, f"{path.name} is not the file that the index tells of"
    elif mark != digest:
        yield True, f"{path.name} is of another plan than {path.name.split('.')[0]}{_PLAN}"


def _plan_faults(text: bytes) -> list[str]:
    """Hold a plan.json against what plans have to be."""
    try:
        data: Any = json.loads(text)
    except (ValueError, RecursionError):
        return ["found no JSON, or only a part of it"]
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        return [f"found another format, expected {FORMAT}"]
    try:
        return list(plan_faults(data))
    except (AttributeError, LookupError, TypeError, ValueError) as error:
        return [f"found a plan that lacks something ({error!r}), expected it whole"]


def verdict(found: SetFound) -> str:
    """Say in one line how a set stands."""
    many = format_count(found.files, "file")
    if found.faults:
        return f"{found.name}: {many}, {format_count(len(found.faults), 'fault')}"
    return f"{found.name}: {many} of one plan, and the plan holds"
