"""Read a plan back from its plan.json."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from shapely import Polygon

from stitchpath.base.errors import MissingFileError, StitchpathError, shown
from stitchpath.lines.line import Line
from stitchpath.plan_schema import FORMAT
from stitchpath.route.runs import Leg, Proof, Run
from stitchpath.route.shown import Shown

__all__ = ["SavedPlan", "load_plan"]

_LIMIT = 500_000_000  # bytes
_NAMED = 4  # files


@dataclass(frozen=True, eq=False, repr=False)
class SavedPlan(Shown):
    """What a plan.json holds of the path; all the rest of the file is in `data`.

    Attributes
    ----------
    name
        Of the quilt.
    outline
        Finished edge, mm.
    margin
        Batting beyond it, mm.
    lines, runs, proof
        As of a plan.
    data
        The file as read: totals, thread, checks and whatever else it says.
    """

    name: str
    outline: Polygon
    margin: float
    lines: tuple[Line, ...]
    runs: tuple[Run, ...]
    proof: Proof
    data: Mapping[str, Any]


def load_plan(path: str | Path) -> SavedPlan:
    """Read what `save_plan` wrote.

    Parameters
    ----------
    path
        A plan.json, or the folder that holds it and no other.

    Returns
    -------
    SavedPlan
        Its lines and runs, to be drawn, counted and put into graphs and tables. It cannot be
        exported again: for that, plan the design.

    Raises
    ------
    StitchpathError
        When the file is missing, or is no plan of this format; one sentence.

    Examples
    --------
    >>> import stitchpath
    >>> saved = stitchpath.load_plan("exports/harbour-runner.plan.json")
    >>> saved.name, saved.proof.optimal
    ('Harbour runner', False)
    """
    path = Path(path)
    if path.is_dir():
        path = _only_one(path)
    try:
        if path.stat().st_size > _LIMIT:
            raise StitchpathError(f"{path}: found a file of over 500 MB, expected a plan.json")
        data = json.loads(path.read_bytes())
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise MissingFileError(f"{path}: {reason}, expected a plan.json") from None
    except (ValueError, RecursionError):
        raise StitchpathError(f"{path}: found no JSON, expected a plan.json") from None
    found = data.get("format") if isinstance(data, dict) else None
    if found != FORMAT:
        told = "no format" if found is None else f"the format {shown(found)}"
        raise StitchpathError(f"{path}: found {told}, expected {FORMAT!r}")
    try:
        return _plan(data)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise StitchpathError(
            f"{path}: found a plan that lacks or garbles {str(error)[:60]}, expected one as it was "
            "written"
        ) from None


def _only_one(folder: Path) -> Path:
    """Find the plan of a folder that `save_plan` wrote to."""
    found = sorted(folder.glob("*.plan.json"))
    if len(found) != 1:
        names = ", ".join(path.name for path in found[:_NAMED]) or "none"
        raise MissingFileError(f"{folder}: found a folder with {names}, expected one plan.json")
    return found[0]


def _plan(data: Mapping[str, Any]) -> SavedPlan:
    number = {line["id"]: k for k, line in enumerate(data["lines"])}
    low = {"left": -1, "right": 1}
    lines = tuple(
        Line(
            line["kind"],
            line["stage"],
            line["thread"],
            np.array(line["points"], dtype=np.float64),
            low=low.get(line.get("low"), 0),
        )
        for line in data["lines"]
    )
    runs = tuple(
        Run(
            run["number"],
            run["stage"],
            run["thread"],
            run["start"]["where"],
            run["end"]["where"],
            tuple(
                Leg(
                    leg["do"],
                    np.array(leg["points"], dtype=np.float64),
                    number[leg["line"]] if "line" in leg else -1,
                    leg.get("along"),
                )
                for leg in run["legs"]
            ),
            run.get("window", 0),
            tuple((park["leg"], park["window"]) for park in run.get("parked", ())),
        )
        for run in data["runs"]
    )
    proof = data["proof"]
    return SavedPlan(
        name=data["name"],
        outline=Polygon(data["quilt"]["outline"]),
        margin=data["margin"],
        lines=lines,
        runs=runs,
        proof=Proof(
            proof["cost"],
            proof["lower_bound"],
            proof["optimal"],
            unit=proof.get("unit", "mm"),
            free=proof.get("free"),
        ),
        data=data,
    )
