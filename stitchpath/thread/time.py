"""Time at the machine: stitching, pivots, ends, returns, feet, bobbins, threads, frame advances."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray, Where
from stitchpath.geometry.tolerances import GRID
from stitchpath.geometry.turns import ABOUT_TURN
from stitchpath.hands.areas import GROUND, Areas
from stitchpath.hands.feet import ANY_FOOT
from stitchpath.hands.pace import Pace
from stitchpath.hands.tariff import Tariff, plain_tariff
from stitchpath.lines.line import SHOWN, Line
from stitchpath.network.fusing import Fusing
from stitchpath.route.runs import Leg, Run
from stitchpath.thread.consumption import ThreadPlan, plan_thread
from stitchpath.thread.leg_arrays import LegArrays, leg_arrays, sum_by
from stitchpath.thread.lockstitch import Stitching
from stitchpath.thread.seam_lengths import StopWhere

__all__ = [
    "Moves",
    "RouteTime",
    "RunTime",
    "leg_areas",
    "leg_feet",
    "moves_of",
    "route_time",
    "run_times",
    "step_seconds",
]

_Tip: TypeAlias = tuple[int, str, Where, int, int]


@dataclass(frozen=True, slots=True)
class RunTime:
    """Time of one run, in whole seconds, so that any column adds up.

    Attributes
    ----------
    number
        The run.
    stitching, pivots, ends
        In the seam; turning; starting, and securing or trimming both ends.
    returns, feet
        Finding one's place where one comes back to an area; changing the foot, before the run too.
    bobbins, threads, advances
        Changes before or during the run; rolling the quilt on, before it or with the needle parked.
    loading, tension, basting, clamps, unloading, fusing
        In a frame, round the stitching: before the first run and at each advance; after the last,
        and before it is loaded again; where pieces are fused in it.
    """

    number: int
    stitching: int
    pivots: int
    ends: int
    returns: int
    feet: int
    bobbins: int
    threads: int
    advances: int
    loading: int
    tension: int
    basting: int
    clamps: int
    unloading: int
    fusing: int

    @property
    def before(self) -> int:
        """Of it, what comes before the run, its start left out, s."""
        framing = self.loading + self.tension + self.basting + self.clamps + self.fusing
        return self.threads + self.advances + framing

    @property
    def total(self) -> int:
        """All of it, s."""
        return sum(getattr(self, part.name) for part in fields(self)[1:])


@dataclass(frozen=True, slots=True)
class RouteTime:
    """What the route itself takes, by run, in seconds not rounded: what it is weighed by.

    Attributes
    ----------
    stitching, pivots, ends, returns, feet
        As in `RunTime`, shape (runs,), but for bobbin changes and for feet changed between runs.
    between
        Feet changed before a run, shape (runs,).
    looks
        Price of stitching that shows, which takes no time; shape (runs,).
    comings
        How often one comes back to an area, by run, shape (runs,).
    """

    stitching: FloatArray
    pivots: FloatArray
    ends: FloatArray
    returns: FloatArray
    feet: FloatArray
    between: FloatArray
    looks: FloatArray
    comings: IntArray

    @property
    def price(self) -> float:
        """What all runs cost, looks and all."""
        parts = (self.stitching, self.pivots, self.ends, self.returns, self.feet, self.looks)
        return float(sum(part.sum() for part in parts))


def route_time(
    runs: Sequence[Run], lines: Sequence[Line], tariff: Tariff, way: LegArrays | None = None
) -> RouteTime:
    """Reckon what runs take from their legs alone, with the tariff that the router weighs them by.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    tariff
        What everything takes.
    way
        What `leg_arrays` makes of them, where it is at hand.
    """
    way = way or leg_arrays(runs, lines)
    legs = [(run, leg) for run in runs for leg in run.legs]
    foot = leg_feet(runs, tariff)
    sewing = way.leg_length / tariff.speed[foot, way.leg_kind]
    turning = step_seconds(way, foot, tariff)
    by_run = len(runs)
    again = np.array([leg.do == "retrace" and lines[leg.line].kind in SHOWN for _, leg in legs])
    within = sum_by(way.step_leg[:-1], turning * (way.step_leg[1:] == way.step_leg[:-1]), len(legs))
    shown = tariff.looks.again * (sewing + within) * again
    met = _on_pieces(lines)
    changed, between = _feet_changed(way, foot)
    comings = _comings(runs, tariff.areas)
    tips = [[_tip(run, last=last) for last in (False, True)] for run in runs]
    return RouteTime(
        stitching=sum_by(way.leg_run, sewing, by_run),
        pivots=sum_by(way.step_run[:-1], turning, by_run),
        ends=np.array([sum(tariff.end(tip[2]) for tip in both) for both in tips]),
        returns=np.asarray(comings * tariff.pace.come_back, np.float64),
        feet=np.asarray(changed * tariff.pace.foot, np.float64),
        between=np.asarray(between * tariff.pace.foot, np.float64),
        looks=sum_by(way.leg_run, shown, by_run)
        + [sum(tariff.end_shows(tip[2], on_piece=tip in met) for tip in both) for both in tips],
        comings=comings,
    )


def leg_feet(runs: Sequence[Run], tariff: Tariff) -> IntArray:
    """Tell with which foot each leg is stitched, its index in `FEET`, or `ANY_FOOT`; (legs,)."""
    return np.array(
        [
            tariff.foot[leg.line] if leg.line >= 0 else tariff.travel_foot[run.stage, run.thread]
            for run in runs
            for leg in run.legs
        ],
        dtype=np.int64,
    )


def step_seconds(way: LegArrays, foot: IntArray, tariff: Tariff) -> FloatArray:
    """Price the turn at the end of each step but the last.

    Parameters
    ----------
    way
        The runs, laid out.
    foot
        Of each leg, from `leg_feet`.
    tariff
        What everything takes.

    Returns
    -------
    FloatArray
        Seconds, shape (steps - 1,).
    """
    of = foot[way.step_leg]
    return tariff.pivots(way.step_turn[:-1], of[:-1], of[1:], way.step_end[:-1])


class Moves(NamedTuple):
    """How often she turns, turns straight back, comes back to an area, and changes the foot."""

    pivots: int
    about_turns: int
    returns: int
    feet: int


def moves_of(runs: Sequence[Run], lines: Sequence[Line], tariff: Tariff) -> Moves:
    """Count what her hands do beside stitching; pivots with corners within lines and all.

    Parameters
    ----------
    runs, lines
        The runs, and what their legs point to.
    tariff
        Feet and areas.
    """
    way = leg_arrays(runs, lines)
    within, between = _feet_changed(way, leg_feet(runs, tariff))
    return Moves(
        int(way.pivots.sum()),
        int((np.round(way.step_turn, 6) >= ABOUT_TURN).sum()),
        int(_comings(runs, tariff.areas).sum()),
        int(within.sum() + between.sum()),
    )


def _feet_changed(way: LegArrays, foot: IntArray) -> tuple[IntArray, IntArray]:
    """Count changes of foot by run: within it, and from what was on before it.

    A way between lines goes with the foot that is on, and counts for nothing.
    """
    runs = int(way.leg_run.max(initial=-1)) + 1
    some = np.flatnonzero(foot != ANY_FOOT)
    run, on = way.leg_run[some], foot[some]
    changed = on[1:] != on[:-1]
    same = run[1:] == run[:-1]
    within = np.bincount(run[1:][changed & same], minlength=runs)
    return within, np.bincount(run[1:][changed & ~same], minlength=runs)


def _comings(runs: Sequence[Run], areas: Areas) -> IntArray:
    """Count by run how often one comes back to an area; the first visit of a thread is none.

    In a frame every window counts by itself.
    """
    seen: set[tuple[int, str, int, int]] = set()
    wanted = {
        (run.stage, run.thread, window, int(areas.line[leg.line]))
        for run in runs
        for leg, window in zip(run.legs, run.windows, strict=True)
        if leg.do == "stitch"
    }
    counts = np.zeros(len(runs), dtype=np.int64)
    for k, run in enumerate(runs):
        before, shown = GROUND, run.window
        for leg, window in zip(run.legs, run.windows, strict=True):
            area = _area_of(leg, areas)
            before, shown = before if window == shown else GROUND, window
            key = run.stage, run.thread, window, area
            if area not in {before, GROUND}:
                counts[k] += key in seen or key not in wanted
                seen.add(key)
            before = area
    return counts


def leg_areas(runs: Sequence[Run], tariff: Tariff) -> IntArray:
    """Tell in which area each leg lies, `GROUND` where it lies between; shape (legs,)."""
    legs = [_area_of(leg, tariff.areas) for run in runs for leg in run.legs]
    return np.array(legs, dtype=np.int64)


def _area_of(leg: Leg, areas: Areas) -> int:
    if leg.line >= 0:
        return int(areas.line[leg.line])
    return int(areas.seam[leg.seam]) if leg.seam >= 0 else GROUND


def _tip(run: Run, *, last: bool) -> _Tip:
    """Where a run ends: stage, thread, what lies there, and the place on the grid."""
    at = run.legs[-1 if last else 0].points[-1 if last else 0]
    x, y = np.rint(at / GRID).astype(np.int64).tolist()
    return run.stage, run.thread, run.end_where if last else run.start_where, x, y


def _on_pieces(lines: Sequence[Line]) -> set[_Tip]:
    """Give places inside the top that lines through the middle of pieces end at."""
    found: set[_Tip] = set()
    for line in lines:
        if line.kind == "centre":
            for at in line.points[[0, -1]]:
                x, y = np.rint(at / GRID).astype(np.int64).tolist()
                found.add((line.stage, line.thread, "inside", x, y))
    return found


def run_times(
    runs: Sequence[Run],
    lines: Sequence[Line],
    stitching: Stitching | None = None,
    pace: Pace | None = None,
    *,
    thread: ThreadPlan | None = None,
    tariff: Tariff | None = None,
    fusing: Fusing | None = None,
) -> tuple[RunTime, ...]:
    """Time by run; the plan's time is the sum.

    A bobbin change within a run counts two ends and a start as well. The first threading
    counts as a thread change. In a frame the quilt is rolled on, or back, window by window;
    loading, basting, clamps and unloading are counted with the run that they come before or after.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    stitching
        Decides how often the bobbin is changed.
    pace
        What everything takes, where no tariff is known: then all is stitched with the walking foot
        and no quilt has to be turned.
    thread
        What `plan_thread` makes of the same runs, where it is at hand.
    tariff
        What everything takes on their top (`tariff_of`).
    fusing
        Where pieces are fused in a frame between two stages.
    """
    tariff = tariff or plain_tariff(lines, pace or Pace())
    pace = tariff.pace
    plan = thread or plan_thread(runs, lines, stitching)
    spent = route_time(runs, lines, tariff)
    stops: dict[int, list[StopWhere]] = {run.number: [] for run in runs}
    for change in plan.changes:
        stops[change.stop.run].append(change.where)
    before = ["", *(run.thread for run in runs)]
    feet = spent.feet + spent.between
    out = fusing is not None and fusing.way == "out of the frame"
    loaded = [not k or (out and run.stage != runs[k - 1].stage) for k, run in enumerate(runs)]
    rolled, fresh = _rolled(runs, loaded)
    ironed = _ironed(runs, fusing)
    return tuple(
        RunTime(
            number=run.number,
            stitching=round(spent.stitching[k]),
            pivots=round(spent.pivots[k]),
            ends=round(spent.ends[k] + _ends_within(stops[run.number], pace)),
            returns=round(spent.returns[k]),
            feet=round(feet[k]),
            bobbins=round(len(stops[run.number]) * pace.bobbin),
            threads=round(pace.thread * (run.thread != before[k])),
            advances=round(pace.advance * rolled[k]),
            loading=round(pace.load * loaded[k]),
            tension=round(pace.tension * (k == 0)),
            basting=round(pace.baste * fresh[k]),
            clamps=round(pace.clamps * rolled[k]),
            unloading=round(pace.unload * [*loaded[1:], True][k]),
            fusing=round(pace.fuse * ironed[k]),
        )
        for k, run in enumerate(runs)
    )


def _ironed(runs: Sequence[Run], fusing: Fusing | None) -> list[int]:
    """Count by run in how many windows pieces are fused in the frame."""
    waiting = set(fusing.windows.values()) if fusing else set()
    found = []
    for run in runs:
        mine = waiting & set(run.windows) if run.stage > 1 else set()
        found.append(len(mine))
        waiting -= mine
    return found


def _rolled(runs: Sequence[Run], loaded: Sequence[bool]) -> tuple[list[int], list[int]]:
    """Count by run how often the quilt is rolled on, before it or in it, and what is shown anew.

    Loaded again, it begins at its top edge and has to be basted again.
    """
    seen: set[int] = set()
    rolled, fresh = [], []
    here = 0
    for k, run in enumerate(runs):
        if loaded[k]:
            seen = set()
            here = min(run.window, 1) if k else run.window
        shown = [run.window, *(number for _, number in run.parked)]
        rolled.append(sum(abs(b - a) for a, b in pairwise([here, *shown])))
        fresh.append(len(set(shown) - seen))
        seen.update(shown)
        here = shown[-1]
    return rolled, fresh


def _ends_within(stops: Sequence[StopWhere], pace: Pace) -> float:
    """Give the seconds for both ends and the new start at bobbin changes within a run."""
    inside = sum(2 * (where in {"pivot", "line"}) for where in stops)
    within = sum(where != "run end" for where in stops)
    return within * pace.start + inside * pace.end_inside + (2 * within - inside) * pace.end_trimmed
