"""Thread by run and by thread: the plan's figures are the sums of the runs', to the millimetre."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stitchpath.lines.line import Line
from stitchpath.route.runs import Run
from stitchpath.thread.bobbins import BobbinChange, find_changes
from stitchpath.thread.leg_arrays import leg_arrays
from stitchpath.thread.lockstitch import Stitching
from stitchpath.thread.seam_lengths import StopWhere, stop_ends, thread_by_run, whole

__all__ = ["RunThread", "ThreadPlan", "ThreadUse", "plan_thread", "thread_use"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sewn:
    """What sewing takes, of a run or of all runs with one thread.

    Attributes
    ----------
    stitched, retraced, travelled
        Seam, mm.
    stitches
        In the seam, each no longer than set: see `needle_points`.
    top, bobbin
        Thread, whole mm, ends and all, waste not counted.
    top_ends, bobbin_ends
        Of which for tails, tie-offs and the ends at bobbin changes within a run.
    """

    stitched: float
    retraced: float
    travelled: float
    stitches: int
    top: int
    bobbin: int
    top_ends: int
    bobbin_ends: int

    @property
    def seam(self) -> float:
        """All that is sewn, mm."""
        return math.fsum((self.stitched, self.retraced, self.travelled))


@dataclass(frozen=True, slots=True, kw_only=True)
class RunThread(_Sewn):
    """What one run takes.

    Attributes
    ----------
    number, thread
        The run, and the thread on top.
    stops
        Bobbin changes within the run.
    """

    number: int
    thread: str
    stops: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ThreadUse(_Sewn):
    """What the plan takes of one thread: exactly the sum of its runs.

    Attributes
    ----------
    name
        The thread on top.
    runs
        How many runs.
    waste_top, waste_bobbin
        To be added for breaks, tests and re-threading; of the bobbin at least what the changes
        leave on the bobbins taken out.
    bobbins
        Bobbins it takes. Where one thread is wound on all bobbins, the first counts for the thread
        that begins, each other one for the thread that is on top at the change.
    """

    name: str
    runs: int
    waste_top: int
    waste_bobbin: int
    bobbins: int

    @property
    def waste(self) -> int:
        """Top and bobbin, mm."""
        return self.waste_top + self.waste_bobbin

    @property
    def total(self) -> int:
        """Top, bobbin and waste, mm: what has to be there."""
        return self.top + self.bobbin + self.waste


@dataclass(frozen=True, slots=True)
class ThreadPlan:
    """The thread of a whole plan.

    Attributes
    ----------
    runs
        By run, in stitching order.
    uses
        By thread on top, in order of first use.
    changes
        Every bobbin change.
    """

    runs: tuple[RunThread, ...]
    uses: tuple[ThreadUse, ...]
    changes: tuple[BobbinChange, ...]


def thread_use(
    runs: Sequence[Run], lines: Sequence[Line], stitching: Stitching | None = None
) -> tuple[ThreadUse, ...]:
    """Reckon what the plan takes of each thread, in order of first use.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    stitching
        How they are stitched.
    """
    return plan_thread(runs, lines, stitching).uses


def plan_thread(
    runs: Sequence[Run], lines: Sequence[Line], stitching: Stitching | None = None
) -> ThreadPlan:
    """Thread by run and by thread, and every bobbin change.

    Each run's figures are rounded to whole millimetres and the plan's are their sums, so that any
    column adds up.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    stitching
        How they are stitched.

    Raises
    ------
    StitchpathError
        If a bobbin does not hold enough to sew with.
    """
    stitching = stitching or Stitching()
    way = leg_arrays(runs, lines)
    amount = thread_by_run(runs, way, stitching)
    changes = find_changes(runs, way, amount, stitching)
    stops: dict[int, list[StopWhere]] = {run.number: [] for run in runs}
    for change in changes:
        if change.where != "run end":
            stops[change.stop.run].append(change.where)
    columns = zip(
        runs,
        amount.seam.tolist(),
        amount.stitches.tolist(),
        whole(amount.top).tolist(),
        whole(amount.bobbin).tolist(),
        whole(amount.ends.sum(axis=1)).tolist(),
        strict=True,
    )
    by_run = []
    for run, seam, stitches, top, bobbin, ends in columns:
        at_stops = [stop_ends(stitching, where) for where in stops[run.number]]
        top_ends = ends[0] + sum(2 * top for top, _ in at_stops)
        bobbin_ends = ends[1] + sum(2 * bobbin for _, bobbin in at_stops)
        by_run.append(
            RunThread(
                number=run.number,
                thread=run.thread,
                stitched=seam[0],
                retraced=seam[1],
                travelled=seam[2],
                stitches=stitches,
                top=top + top_ends,
                bobbin=bobbin + bobbin_ends,
                top_ends=top_ends,
                bobbin_ends=bobbin_ends,
                stops=len(at_stops),
            )
        )
    return ThreadPlan(tuple(by_run), tuple(_uses(by_run, changes, stitching)), changes)


def _uses(
    by_run: Sequence[RunThread], changes: Sequence[BobbinChange], stitching: Stitching
) -> Iterable[ThreadUse]:
    """Add the runs up by thread."""
    names = dict.fromkeys(run.thread for run in by_run)
    thread_of = {run.number: run.thread for run in by_run}
    begun = _bobbins_begun(by_run, changes, stitching)
    for name in names:
        mine = [run for run in by_run if run.thread == name]
        top, bobbin = sum(run.top for run in mine), sum(run.bobbin for run in mine)
        left = sum(change.waste for change in changes if thread_of[change.stop.run] == name)
        yield ThreadUse(
            name=name,
            runs=len(mine),
            stitched=math.fsum(run.stitched for run in mine),
            retraced=math.fsum(run.retraced for run in mine),
            travelled=math.fsum(run.travelled for run in mine),
            stitches=sum(run.stitches for run in mine),
            top=top,
            bobbin=bobbin,
            top_ends=sum(run.top_ends for run in mine),
            bobbin_ends=sum(run.bobbin_ends for run in mine),
            waste_top=round(stitching.waste * top),
            waste_bobbin=max(round(stitching.waste * bobbin), 0 if stitching.kept else left),
            bobbins=begun[name],
        )


def _bobbins_begun(
    by_run: Sequence[RunThread], changes: Sequence[BobbinChange], stitching: Stitching
) -> dict[str, int]:
    """How many bobbins each top thread takes: one at first, and one more at each change."""
    begun = dict.fromkeys((run.thread for run in by_run), 0)
    wound: set[str] = set()
    for run in by_run:
        kind = stitching.bobbin_of(run.thread).name
        begun[run.thread] += kind not in wound
        wound.add(kind)
    thread_of = {run.number: run.thread for run in by_run}
    for change in changes:
        begun[thread_of[change.stop.run]] += 1
    return begun
