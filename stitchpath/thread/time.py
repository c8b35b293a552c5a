"""Time at the machine: stitching, pivots, ends, bobbins, threads and frame advances."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from stitchpath.errors import StitchpathError
from stitchpath.lines.line import Line
from stitchpath.route.runs import Run
from stitchpath.thread.consumption import ThreadPlan, plan_thread
from stitchpath.thread.leg_arrays import KINDS, sum_by, walk
from stitchpath.thread.lockstitch import ByKind, Stitching
from stitchpath.thread.seam_lengths import StopWhere

__all__ = ["FRAME", "Pace", "RunTime", "run_times"]


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
        Changes before or during the run; rolling the quilt on before it.
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
    *,
    thread: ThreadPlan | None = None,
) -> tuple[RunTime, ...]:
    """Time by run; the plan's time is the sum.

    A bobbin change within a run counts two ends and a start as well. The first threading
    counts as a thread change. In a frame the quilt is rolled on, or back, strip by strip; to load
    it is not counted.

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
    thread
        What `plan_thread` makes of the same runs, where it is at hand.
    """
    pace = pace or Pace()
    way = walk(runs, lines)
    plan = thread or plan_thread(runs, lines, stitching)
    speed = np.array([getattr(pace.speed, kind) for kind in KINDS])
    seconds = sum_by(way.leg_run, way.leg_length / speed[way.leg_kind], len(runs))
    turns = np.bincount(way.step_run[way.pivots], minlength=len(runs))
    stops: dict[int, list[StopWhere]] = {run.number: [] for run in runs}
    for change in plan.changes:
        stops[change.stop.run].append(change.where)
    before = [("", runs[0].strip)] + [(run.thread, run.strip) for run in runs] if runs else []
    return tuple(
        RunTime(
            number=run.number,
            stitching=round(sewn),
            pivots=round(turned * pace.pivot),
            ends=round(_ends(run, stops[run.number], pace)),
            bobbins=round(len(stops[run.number]) * pace.bobbin),
            threads=round(pace.thread * (run.thread != last)),
            advances=round(pace.advance * abs(run.strip - strip)),
        )
        for run, sewn, turned, (last, strip) in zip(
            runs, seconds.tolist(), turns.tolist(), before, strict=False
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
