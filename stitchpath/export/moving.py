"""Plan to the moving guide: one HTML file that plays the stitching, with nothing to fetch."""

import base64
import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from importlib import resources

import numpy as np
from shapely import Polygon

from stitchpath.base.escape import html_text, json_in_html
from stitchpath.base.marks import (
    INK,
    LEAST_CONTRAST,
    LINE_OF,
    LINES,
    MARKS,
    PAPER,
    ThreadLook,
    casing_reach,
    legend_of,
    thread_looks,
)
from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.hands.tariff import Tariff
from stitchpath.lines.ditch import seams_left
from stitchpath.plan import Plan
from stitchpath.route.runs import Run
from stitchpath.thread import BobbinChange, RunTime
from stitchpath.thread.leg_arrays import LegArrays, leg_arrays, sum_by
from stitchpath.thread.time import leg_feet, step_seconds
from stitchpath.told.chapters import chapters
from stitchpath.told.directions import RunDirections, change_place, directions
from stitchpath.told.stops import Stop, stops
from stitchpath.top.layout import LaidBlock
from stitchpath.top.place import row_letter
from stitchpath.top.squares import MapSquare

__all__ = ["plan_moving"]

_PER_MM = 100  # coordinates are whole hundredths of a millimetre: a needle is a hundred of them
_PER_SECOND = 100
_SLOT = re.compile("@@(title|policy|plan)@@")
_SCRIPT = re.compile("<script>(.*?)</script>", re.DOTALL)


def plan_moving(plan: Plan) -> str:
    """Write the moving guide.

    The page holds its style, its script and the plan; a content security policy (W3C, Content
    Security Policy Level 3) forbids it to fetch anything or to run any script but its own. Names
    that come from the design are data to it and never markup.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    str
        HTML. Its places are whole hundredths of a millimetre; lengths add up to the plan's totals,
        times to those of the plan.
    """
    template = (resources.files("stitchpath.export") / "moving.html").read_text("utf-8")
    script = _SCRIPT.search(template)
    assert script is not None  # noqa: S101 - the template is ours
    digest = hashlib.sha256(script[1].encode()).digest()
    filled = {
        "title": html_text(plan.top.name),
        "policy": f"'sha256-{base64.b64encode(digest).decode()}'",
        "plan": json_in_html(_page_data(plan)),
    }
    return _SLOT.sub(lambda slot: filled[slot[1]], template)


def _page_data(plan: Plan) -> object:
    """Gather what the page draws, tells and counts."""
    way = leg_arrays(plan.runs, plan.lines)
    times, tariff = plan.times, plan.tariff
    looks = thread_looks((run.thread for run in plan.runs), plan.thread_colours())
    threads = list(looks)
    fabrics = list(plan.top.fabrics)
    totals = plan.totals
    corners = _corners(plan)
    path, told = _path(plan), directions(plan)
    return {
        "name": plan.top.name,
        "unit": plan.top.unit,
        "key": _key(plan, path),
        "box": [int(v) for v in (*corners.min(axis=0), *corners.max(axis=0))],
        "fabrics": [fabric.colour for fabric in plan.top.fabrics.values()],
        "patches": [
            [fabrics.index(p.fabric), [_ring(r) for r in _rings(p.polygon)]]
            for p in plan.top.patches
        ],
        "pieces": [
            [fabrics.index(piece.asked.fabric), 1 if piece.asked.fused == "before" else 2,
             [_ring(r) for part in piece.shape.geoms for r in _rings(part)]]
            for piece in plan.top.pieces
        ],
        "threads": [
            {"name": x.name, "colour": x.colour, "dash": x.dash, "width": x.width, "look": x.words,
             "casing": x.casing, "reach": casing_reach(x.casing)}
            for x in looks.values()
        ],
        "looks": _looks(),
        "legend": _legend(plan, looks),
        "edge": [_ring(r) for r in _rings(plan.top.outline)],
        "places": [_named(plan, window) for window in plan.top.windows],
        "rulers": _rulers(plan),
        "runs": [
            _run(run, words, threads, time, tariff)
            for run, words, time in zip(plan.runs, told, times, strict=True)
        ],
        "legs": _legs(plan, way),
        "path": path,
        "changes": [_change(change, told) for change in plan.thread.changes],
        "chapters": [[c.run, c.first_step, c.name] for c in chapters(plan)],
        "stops": [_stop(stop) for stop in stops(plan)],
        "totals": {
            "lines": len(plan.lines),
            "stitched": totals.stitched,
            "retraced": totals.retraced,
            "travelled": totals.travelled,
            "breaks": totals.breaks,
        },
    }  # fmt: skip


def _named(plan: Plan, window: LaidBlock | MapSquare) -> object:
    """Give the name of a block, or a square of the map, with its corners and what it is."""
    square = isinstance(window, MapSquare)
    name = window.place.at if square else plan.places.block(window.place)
    return [name, 1 if square else 0, _ring(window.corners)]


def _rulers(plan: Plan) -> object:
    """Give the columns and the rows of the map, each with its name and where it begins and ends."""
    columns: dict[str, list[int]] = {}
    rows: dict[str, list[int]] = {}
    for square in plan.top.squares:
        (left, top), (right, low) = _whole(square.corners[[0, 2]]).tolist()
        columns[f"{square.place.column + 1}"] = [left, right]
        rows[row_letter(square.place.row)] = [top, low]
    return [[[name, *ends] for name, ends in some.items()] for some in (columns, rows)]


def _looks() -> object:
    """Hand the one set of lines and marks to the page."""
    return {
        "ink": INK,
        "paper": PAPER,
        "least": LEAST_CONTRAST,
        "lines": {
            name: {"width": look.width, "dash": look.dash, "colour": look.colour}
            for name, look in LINES.items()
        },
        "marks": {
            name: {
                "number": mark.number,
                "parts": [
                    [[round(v, 3) for point in ring for v in point], fill]
                    for ring, fill in mark.parts
                ],
            }
            for name, mark in MARKS.items()
        },
    }


def _legend(plan: Plan, looks: Mapping[str, ThreadLook]) -> object:
    """List what the page draws: name, words, and the number of the thread it is drawn in."""
    used: dict[tuple[str, str], None] = {}
    for run in plan.runs:
        used |= dict.fromkeys((LINE_OF[leg.do], run.thread) for leg in run.legs)
        closed = bool(np.all(run.legs[0].points[0] == run.legs[-1].points[-1]))
        ends = {"start": run.start_where, "end": run.end_where}
        for mark, where in {"both": run.start_where}.items() if closed else ends.items():
            used[f"{mark} inside" if where == "inside" else mark, ""] = None
    seams = bool(plan.top.pieces) or seams_left(plan.top, plan.lines)
    later = any(piece.asked.fused == "after" for piece in plan.top.pieces)
    drawn = {
        "next": True, "coming": True, "done": True, "jump": len(plan.runs) > 1,
        "seam": seams, "fused later": later, "edge": True,
        "needle": True, "step end": True,
        "bobbin": bool(plan.thread.changes), "stop": len(chapters(plan)) > len(plan.runs),
    }  # fmt: skip
    first = plan.runs[0].thread
    used |= {(name, first * (name in ("next", "coming"))): None for name in drawn if drawn[name]}
    entries = legend_of(used, looks, plan.design.batting.margin)
    threads = list(looks)
    return [(e.name, e.words, threads.index(e.thread) if e.thread else -1) for e in entries]


def _corners(plan: Plan) -> IntArray:
    """All that the page has to hold: the top with its margin, and whatever lies beyond it."""
    margin = plan.design.batting.margin
    low, high = np.reshape(plan.top.outline.bounds, (2, 2))
    box = np.stack([low - margin, high + margin])
    return _whole(np.concatenate([box, *(leg.points for run in plan.runs for leg in run.legs)]))


def _whole(points: FloatArray) -> IntArray:
    return np.rint(points * _PER_MM).astype(np.int64)


def _steps(points: IntArray) -> list[int]:
    """First point, then steps from point to point, as one flat list."""
    steps = points.copy()
    steps[1:] -= points[:-1]
    flat: list[int] = steps.ravel().tolist()
    return flat


def _rings(polygon: Polygon) -> Iterator[FloatArray]:
    for ring in (polygon.exterior, *polygon.interiors):
        yield np.array(ring.coords)[:-1]


def _ring(points: FloatArray) -> object:
    return _steps(_whole(points))


def _path(plan: Plan) -> list[int]:
    """Every run as one polyline, one run after the other; legs share the point where they meet."""
    parts = [
        points
        for run in plan.runs
        for points in (run.legs[0].points[:1], *(leg.points[1:] for leg in run.legs))
    ]
    return _steps(_whole(np.concatenate(parts)))


def _key(plan: Plan, path: Sequence[int]) -> str:
    """Tell this route from any other, so that the page finds again where she stopped in it."""
    route = json.dumps([plan.top.name, [len(run.legs) for run in plan.runs], path])
    return hashlib.sha256(route.encode()).hexdigest()[:16]


def _legs(plan: Plan, way: LegArrays) -> object:
    """Tell what each leg is, in columns."""
    legs = [leg for run in plan.runs for leg in run.legs]
    passes: Counter[int] = Counter()
    again: list[tuple[int, int]] = []
    for k, leg in enumerate(legs):
        if leg.line >= 0:
            if passes[leg.line]:
                again.append((k, passes[leg.line]))
            passes[leg.line] += 1
    ends = np.rint(np.cumsum(_leg_seconds(plan, way)) * _PER_SECOND).astype(np.int64)
    return {
        "do": "".join(leg.do[0] for leg in legs),
        "steps": [len(leg.points) - 1 for leg in legs],
        "again": again,
        "off": [k for k, leg in enumerate(legs) if leg.along == "margin"],
        "seconds": np.diff(ends, prepend=0).tolist(),
    }


def _leg_seconds(plan: Plan, way: LegArrays) -> FloatArray:
    """Share the sewing and pivoting time of each run out among its legs, s."""
    times, tariff = plan.times, plan.tariff
    foot = leg_feet(plan.runs, tariff)
    sewing = way.leg_length / tariff.speed[foot, way.leg_kind]
    turns = sum_by(way.step_leg[:-1], step_seconds(way, foot, tariff), len(sewing))
    seconds = np.zeros(len(sewing))
    for share, whole in (
        (sewing, [time.stitching for time in times]),
        (turns, [time.pivots for time in times]),
    ):
        total = sum_by(way.leg_run, share, len(times))
        seconds += share * (np.array(whole) / np.where(total > 0, total, 1))[way.leg_run]
    return seconds


def _run(
    run: Run, told: RunDirections, threads: Sequence[str], time: RunTime, tariff: Tariff
) -> object:
    """Tell a run; its time beside sewing and pivots falls due where it begins, ends, or changes."""
    before, after = _handling(run, time, tariff)
    return {
        "number": run.number,
        "stage": run.stage,
        "thread": threads.index(run.thread),
        "legs": len(run.legs),
        "heading": told.heading,
        "inside": [run.start_where == "inside", run.end_where == "inside"],
        "steps": [(s.text, s.last_leg - s.first_leg + 1, s.turn, s.line) for s in told.steps],
        "before": before,
        "after": after,
        "changing": time.total - time.stitching - time.pivots - before - after,
    }


def _handling(run: Run, time: RunTime, tariff: Tariff) -> tuple[float, float]:
    """Time before the first stitch of a run and after its last, s."""
    half = tariff.pace.start / 2
    start, end = tariff.end(run.start_where) + half, tariff.end(run.end_where) - half
    return time.before + start, end + time.unloading


def _change(change: BobbinChange, told: Sequence[RunDirections]) -> object:
    """Tell a bobbin change."""
    stop, dry = change.stop, change.gives_out
    return {
        "run": stop.run,
        "along": stop.along,
        "thread": change.thread,
        "bobbin": change.bobbin + 1,
        "where": change_place(change, told),
        "dry": dry and {"run": dry.run, "along": dry.along},
    }


def _stop(stop: Stop) -> object:
    """Tell a stop and what is done there."""
    return {
        "kind": stop.kind,
        "run": stop.run,
        "along": stop.along,
        "heading": stop.heading,
        "tasks": [task.text for task in stop.tasks],
        "fuse": stop.fuse,
    }
