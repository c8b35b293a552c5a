"""What a longarm operator reads at each pass: how the quilt lies, what she does, where to begin."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from stitchpath.base.units import format_thread
from stitchpath.geometry.polylines import path_lengths
from stitchpath.plan import Plan, once, stitching_of
from stitchpath.thread import BobbinChange, RunPoint
from stitchpath.told.directions import change_place, directions, teller_of
from stitchpath.told.passes import Pass, Stretch, passes, rolled_from, rolled_length
from stitchpath.top.place import row_letter

__all__ = ["PassSheet", "pass_sheets"]

_ACROSS = 0.5  # of the width: so much of a seam is enough to be set level by
_LEVEL = 0.02  # mm: seams as level as this, and as near to each other, are one


@dataclass(frozen=True, slots=True)
class PassSheet:
    """One pass, as it is told.

    Attributes
    ----------
    number
        Of the pass, from 1, in stitching order.
    shown
        What is stitched in it.
    title
        Its window, and from where to where that reaches.
    rows
        What it is about, and a sentence or two.
    """

    number: int
    shown: Pass
    title: str
    rows: tuple[tuple[str, str], ...]

    @property
    def begins(self) -> tuple[int, int]:
        """Number of its first run, and the leg."""
        first = self.shown.stretches[0]
        return first.run, first.first


@once
def pass_sheets(plan: Plan) -> tuple[PassSheet, ...]:
    """Tell each pass of a quilt in a frame.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of PassSheet
        In stitching order; none without passes.
    """
    found = passes(plan)
    bobbins = _bobbins(plan, found)
    fresh: set[int] = set()
    sheets = []
    for k, shown in enumerate(found):
        if shown.loaded:
            fresh.clear()
        rows = (
            *_turned(plan, shown),
            ("front bar", _front(plan, shown)),
            ("level", _level(plan, shown)),
            ("baste", _basted(plan, shown, fresh)),
            ("clamps", _clamps(first=shown.loaded)),
            *_fused(plan, shown),
            ("needle", _needle(plan, shown)),
            ("bobbin", bobbins[k]),
        )
        fresh.add(shown.window)
        sheets.append(PassSheet(k + 1, shown, _title(plan, shown), rows))
    return tuple(sheets)


def _title(plan: Plan, shown: Pass) -> str:
    window = plan.windows[shown.window - 1]
    title = f"Pass {shown.window} of {len(plan.windows)}, "
    to = f"{rolled_length(plan, window.bottom)} {rolled_from(plan)}"
    if window.top > plan.top.outline.bounds[window.axis]:
        title += f"{rolled_length(plan, window.top)} to {to}"
    else:
        title += f"{'up' if plan.sideways else 'down'} to {to}"
    return title + (f", stage {shown.stage}" if shown.stage > 1 else "")


def _turned(plan: Plan, shown: Pass) -> Iterator[tuple[str, str]]:
    """Say how it is loaded sideways."""
    if plan.sideways and shown.loaded:
        said = (
            "Sideways, a quarter turn clockwise: the left edge first, the top edge on your right."
        )
        yield "load", f"{said} The pictures of the passes lie as it lies."


def _front(plan: Plan, shown: Pass) -> str:
    """Tell what of the quilt lies at the bar in front."""
    window = plan.windows[shown.window - 1]
    bottom, axis = window.bottom, window.axis
    if bottom >= plan.top.outline.bounds[axis + 2]:
        return f"The {'bottom' if axis else 'right'} edge of the quilt."
    lines = {
        block.place.row if axis else block.place.column
        for block in plan.top.windows
        if block.place.row >= 0
        and block.corners[:, axis].min() < bottom - _LEVEL
        and block.corners[:, axis].max() > bottom + _LEVEL
    }
    there = ""
    if lines and not plan.design.layout.on_point:
        first = min(lines)
        there = f", in row {row_letter(first)}" if axis else f", in column {first + 1}"
    return f"{rolled_length(plan, bottom)} {rolled_from(plan)}{there}."


def _level(plan: Plan, shown: Pass) -> str:
    """Name the seam that is to lie level: the one that runs farthest across what is shown."""
    window = plan.windows[shown.window - 1]
    middle = (window.top + window.bottom) / 2
    across: dict[int, list[int]] = defaultdict(list)
    for number, seam in enumerate(plan.top.seams):
        y = seam.points[:, window.axis]
        if np.ptp(y) <= _LEVEL and window.top < y[0] < window.bottom:
            across[round(float(y[0]) / _LEVEL)].append(number)
    lengths = {
        key: round(float(path_lengths([plan.top.seams[k].points for k in some]).sum()), 1)
        for key, some in across.items()
    }
    best = min(
        lengths, key=lambda key: (-lengths[key], abs(key * _LEVEL - middle), key), default=None
    )
    wide = plan.top.width if window.axis else plan.top.height
    edge, end = ("top", "left") if window.axis else ("left", "top")
    if best is None or lengths[best] < _ACROSS * wide:
        return f"No seam runs right across: measure at both sides from the {edge} edge."
    other = 1 - window.axis
    first = plan.top.seams[
        min(across[best], key=lambda k: plan.top.seams[k].points[:, other].min())
    ]
    two = plan.places.two(first.left, first.right)
    far = f"{rolled_length(plan, best * _LEVEL)} {rolled_from(plan)}"
    return f"The seam {far}, {two} at its {end} end."


def _basted(plan: Plan, shown: Pass, fresh: set[int]) -> str:
    if shown.window in fresh:
        return "As it is: this part of the quilt was basted before."
    first, last, sides = ("top", "bottom", "both sides")
    if plan.sideways:
        first, last, sides = ("left", "right", "the top and bottom edges")
    if shown.window == 1:
        return f"The {first} edge, and {sides} down to the front bar."
    sides = f"{sides[0].upper()}{sides[1:]}"
    if shown.window == len(plan.windows):
        return f"{sides}{',' if plan.sideways else ''} and the {last} edge."
    return f"{sides} down to the front bar."


def _fused(plan: Plan, shown: Pass) -> Iterator[tuple[str, str]]:
    """Name the pieces that are fused in a pass, where that is done in the frame."""
    at = plan.fusing.windows if plan.fusing is not None and shown.stage > 1 else {}
    pieces = [number for number, window in at.items() if window == shown.window]
    if pieces:
        yield "fuse", f"{plan.places.pieces(pieces)}, on a board, before the needle comes down."


def _clamps(*, first: bool) -> str:
    if first:
        return "Put the side clamps on when the quilt lies level."
    return "Off before you roll, on again when the quilt lies level."


def _needle(plan: Plan, shown: Pass) -> str:
    """Tell where the pass begins, and where its needle is left."""
    teller = teller_of(plan)
    one, last = shown.stretches[0], shown.stretches[-1]
    run = plan.runs[one.run - 1]
    begin = f"Begin run {one.run}: {teller.ends(run)[0]}."
    if one.first:
        begin = (
            f"It was left parked: {_spot(plan, one.run, one.first)}. Run {one.run} goes on there."
        )
    if last.last + 1 < len(plan.runs[last.run - 1].legs):
        begin += f" Leave it down at the end, parked: {_spot(plan, last.run, last.last + 1)}."
    return begin


def _spot(plan: Plan, run: int, leg: int) -> str:
    """Name the place where a leg begins, and how far down it is."""
    x, y = plan.runs[run - 1].legs[leg].points[0].tolist()
    place = teller_of(plan).spot(RunPoint(run, leg, 0.0, (x, y)))
    return f"{place}, {rolled_length(plan, x if plan.sideways else y)} {rolled_from(plan)}"


def _bobbins(plan: Plan, found: tuple[Pass, ...]) -> list[str]:
    """Tell what is left on the bobbin as each pass begins, what it takes, and when to change."""
    stitching, unit = stitching_of(plan.design), plan.top.unit
    used: dict[str, float] = defaultdict(float)  # since the bobbin in use was full
    due: dict[str, float] = {}  # left on one that is to be changed before it goes on
    told = []
    for shown in found:
        takes: dict[str, float] = {}
        for stretch in shown.stretches:
            kind = stitching.bobbin_of(plan.runs[stretch.run - 1].thread)
            takes[kind.name] = takes.get(kind.name, 0.0) + _taken(plan, stretch)
        said = []
        for name, length in takes.items():
            kind = next(k for k in map(stitching.bobbin_of, _threads(plan)) if k.name == name)
            full, amount = stitching.room(kind), format_thread(length, unit)
            of = f" of {name}" if len(takes) > 1 else ""
            if name in due:
                left = format_thread(max(due.pop(name), 0.0), unit)
                said.append(f"{left}{of} left, this pass takes {amount}: change now.")
            else:
                left = format_thread(max(full - used[name], 0.0), unit)
                said.append(f"{left}{of} on it, this pass takes {amount}.")
        told_runs = directions(plan)
        said += [
            f"Change it {change_place(each, told_runs)}{_why(plan, each)}."
            for each in _within(plan, shown)
        ]
        told.append(" ".join(said))
        _go_on(plan, shown, used, due)
    return told


def _why(plan: Plan, change: BobbinChange) -> str:
    """Say why a bobbin is changed between runs: the next takes more than is left."""
    after = change.stop.run  # the number of a run is the index of the next
    if change.where != "run end" or after >= len(plan.runs):
        return ""
    unit, takes = plan.top.unit, plan.thread.runs[after].bobbin
    left = format_thread(max(float(change.waste), 0.0), unit)
    if plan.runs[after].thread != plan.runs[after - 1].thread or takes <= change.waste:
        return f": {left} are left then"
    return f": {left} are left then, run {after + 1} takes {format_thread(takes, unit)}"


def _threads(plan: Plan) -> list[str]:
    return list(dict.fromkeys(run.thread for run in plan.runs))


def _taken(plan: Plan, stretch: Stretch) -> float:
    """Share of the bobbin thread of a run that a stretch of it takes, by length, mm."""
    legs = path_lengths([leg.points for leg in plan.runs[stretch.run - 1].legs])
    share = float(legs[stretch.first : stretch.last + 1].sum() / legs.sum())
    return share * plan.thread.runs[stretch.run - 1].bobbin


def _within(plan: Plan, shown: Pass) -> Iterator[BobbinChange]:
    """Give the changes of bobbin in a pass, but for one as it ends."""
    last = shown.stretches[-1]
    for change in plan.thread.changes:
        ends = change.where == "run end"
        for stretch in shown.stretches:
            here = change.stop.run == stretch.run and (
                stretch.first <= change.stop.leg <= stretch.last
            )
            if here and not (ends and stretch == last):
                yield change


def _go_on(plan: Plan, shown: Pass, used: dict[str, float], due: dict[str, float]) -> None:
    """Take off the bobbins what a pass takes."""
    stitching = stitching_of(plan.design)
    changes = {
        (change.stop.run, change.stop.leg, change.where == "run end"): change
        for change in plan.thread.changes
    }
    last = shown.stretches[-1]
    for stretch in shown.stretches:
        name = stitching.bobbin_of(plan.runs[stretch.run - 1].thread).name
        used[name] += _taken(plan, stretch)
        for (run, leg, ends), change in changes.items():
            if run != stretch.run or not stretch.first <= leg <= stretch.last:
                continue
            rest = Stretch(run, leg + 1, stretch.last)
            used[name] = 0.0 if ends or leg == stretch.last else _taken(plan, rest)
            if ends and stretch == last:
                due[name] = float(change.waste)
