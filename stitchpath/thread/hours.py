"""Time at the machine: stitching, pivots, ends, bobbins, threads and frame advances."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from stitchpath.errors import StitchpathError
from stitchpath.lines.model import Line
from stitchpath.route.model import Run
from stitchpath.thread.amounts import StopWhere
from stitchpath.thread.lockstitch import ByKind, Stitching
from stitchpath.thread.use import ThreadPlan, plan_thread
from stitchpath.thread.walk import KINDS, Walk, sum_by, walk

__all__ = ["FRAME", "Pace", "RunTime", "frame_advances", "run_times"]


@dataclass(frozen=True, slots=True)
class Pace:
    """What everything takes; every price can be set. Defaults from memory: time yourself.

    Attributes
    ----------
    speed
        mm per second by kind of line, on the average, hands and all. The default, for a domestic
        machine, is about half of what its motor does.
    pivot
        Seconds to stop, needle down, and turn.
    start
        Seconds to come to the start of a run and bring the bobbin thread up.
    end_inside
        Seconds to secure one end inside the top: bury its tails, or tie off.
    end_trimmed
        Seconds to trim one end in the margin or on the edge.
    bobbin, thread
        Seconds to change the bobbin; to change the thread, bobbin and all.
    advance
        Seconds to roll the quilt on in the frame and stretch it again.
    """

    speed: ByKind = field(default_factory=lambda: ByKind.of(12, centre=10, outline=10, fill=18))
    pivot: float = 2.0
    start: float = 15.0
    end_inside: float = 60.0
    end_trimmed: float = 5.0
    bobbin: float = 90.0
    thread: float = 120.0
    advance: float = 240.0

    def __post_init__(self) -> None:
        """Refuse time that runs backward."""
        for price in fields(self)[1:]:
            value = getattr(self, price.name)
            if not (math.isfinite(value) and value >= 0):
                raise StitchpathError(
                    f"time, {price.name.replace('_', ' ')}: found {value:g} s, "
                    "expected nothing or more"
                )


FRAME = Pace(speed=ByKind.of(25, centre=20, outline=20, fill=40), pivot=0.5)
"""A longarm in a frame: the machine is moved and not the quilt. From memory."""


@dataclass(frozen=True, slots=True)
class RunTime:
    """Time of one run, in whole seconds, so that any column adds up.

    Attributes
    ----------
    number
        The run.
    stitching, pivots, ends
        In the seam; turning; starting, and securing or trimming both ends.
    bobbins, threads, advances
        Changes and advances before or during the run.
    """

    number: int
    stitching: int
    pivots: int
    ends: int
    bobbins: int
    threads: int
    advances: int

    @property
    def total(self) -> int:
        """All of it, s."""
        return sum(getattr(self, part.name) for part in fields(self)[1:])


def run_times(
    runs: Sequence[Run],
    lines: Sequence[Line],
    stitching: Stitching | None = None,
    pace: Pace | None = None,
    depth: float | None = None,
    *,
    thread: ThreadPlan | None = None,
) -> tuple[RunTime, ...]:
    """Time by run; the plan's time is the sum.

    A bobbin change within a run counts two ends and a start as well. The first threading
    counts as a thread change.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    stitching
        Decides how often the bobbin is changed.
    pace
        What everything takes.
    depth
        Working depth of the frame from its front to its back, mm; None without a frame.
    thread
        What `plan_thread` makes of the same runs, where it is at hand.
    """
    pace = pace or Pace()
    way = walk(runs, lines)
    plan = thread or plan_thread(runs, lines, stitching)
    moves = frame_advances(runs, lines, depth) if depth else (0,) * len(runs)
    speed = np.array([getattr(pace.speed, kind) for kind in KINDS])
    seconds = sum_by(way.leg_run, way.leg_length / speed[way.leg_kind], len(runs))
    turns = np.bincount(way.step_run[way.pivots], minlength=len(runs))
    stops: dict[int, list[StopWhere]] = {run.number: [] for run in runs}
    for change in plan.changes:
        stops[change.stop.run].append(change.where)
    before = [""] + [run.thread for run in runs]
    return tuple(
        RunTime(
            number=run.number,
            stitching=round(sewn),
            pivots=round(turned * pace.pivot),
            ends=round(_ends(run, stops[run.number], pace)),
            bobbins=round(len(stops[run.number]) * pace.bobbin),
            threads=round(pace.thread * (run.thread != last)),
            advances=round(moved * pace.advance),
        )
        for run, sewn, turned, last, moved in zip(
            runs, seconds.tolist(), turns.tolist(), before, moves, strict=False
        )
    )


def _ends(run: Run, stops: Sequence[StopWhere], pace: Pace) -> float:
    """Start a run and see to both its ends, and to those at bobbin changes within it, s."""
    inside = (run.start_where == "inside") + (run.end_where == "inside")
    for where in stops:
        inside += 2 * (where in {"pivot", "line"})
    within = sum(where != "run end" for where in stops)
    trimmed = 2 * (1 + within) - inside
    return (1 + within) * pace.start + inside * pace.end_inside + trimmed * pace.end_trimmed


def frame_advances(runs: Sequence[Run], lines: Sequence[Line], depth: float) -> tuple[int, ...]:
    """How often the quilt has to be rolled on, by run, for runs in this order.

    The quilt lies with y along the way it is rolled, either way, and a window of `depth` can be
    stitched. It is left where it is as long as it can be, which for a given order is the least
    there can be.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    depth
        Of the window, mm.

    Returns
    -------
    tuple of int
        Advances before or during each run; loading the quilt counts as none.

    Raises
    ------
    StitchpathError
        If the window has no depth.
    """
    if not depth > 0:
        raise StitchpathError(
            f"frame: found a working depth of {depth:g} mm, expected more than nothing"
        )
    way = walk(runs, lines)
    moves = [0] * len(runs)
    low, high = -math.inf, math.inf  # where the window's upper edge may lie
    for run, first, last in _levels(way, depth):
        need_low, need_high = max(first, last) - depth, min(first, last)
        new_low, new_high = max(low, need_low), min(high, need_high)
        if new_low > new_high:
            moves[run] += 1
            new_low, new_high = need_low, need_high
        low, high = new_low, new_high
    return tuple(moves)


def _levels(way: Walk, depth: float) -> list[tuple[int, float, float]]:
    """Run, and y at both ends, of every step, those deeper than the window in parts."""
    y0, y1 = way.step_start[:, 1], way.step_end[:, 1]
    parts = np.maximum(np.ceil(np.abs(y1 - y0) / depth), 1).astype(np.int64)
    step = np.repeat(np.arange(len(parts)), parts)
    part = np.arange(len(step)) - np.repeat(np.cumsum(parts) - parts, parts)
    rise = ((y1 - y0) / parts)[step]
    first = y0[step] + part * rise
    return list(
        zip(way.step_run[step].tolist(), first.tolist(), (first + rise).tolist(), strict=True)
    )
