"""Where each bobbin gives out, and the best places to stop before it does."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple, TypeAlias

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.hands.pace import KINDS
from stitchpath.lines.line import Line
from stitchpath.route.runs import Run
from stitchpath.thread.leg_arrays import LegArrays, leg_arrays
from stitchpath.thread.lockstitch import Stitching
from stitchpath.thread.seam_lengths import StopWhere, ThreadByRun, stop_ends, thread_by_run, whole

__all__ = ["BobbinChange", "RunPoint", "bobbin_changes", "choose_stops"]


_WHERE: tuple[StopWhere, ...] = ("run end", "margin", "pivot", "line")
_INSIDE = 2  # from here on, inside the top
_PARKED = 3  # inside as well, but she has stopped there to roll the quilt on
_PARTS = 64  # of a bobbin: how closely stops are tried where no pivot breaks a line
_UM = 1000  # whole micrometres inside: sums are exact and ties fall the same way everywhere


@dataclass(frozen=True, slots=True)
class RunPoint:
    """A place in the stitching.

    Attributes
    ----------
    run
        Number of the run.
    leg
        Index of the leg in it, from 0.
    along
        Distance stitched since the run began, mm.
    point
        x, y in mm.
    line
        Number of the line sewn there, or sewn last before a travel; -1 where there is none.
    """

    run: int
    leg: int
    along: float
    point: tuple[float, float]
    line: int = -1


@dataclass(frozen=True, slots=True)
class BobbinChange:
    """One change of bobbin.

    Attributes
    ----------
    thread
        Name of the thread on the bobbin.
    bobbin
        Which bobbin of that thread is taken out, from 1.
    stop
        Where to stop and change.
    where
        "run end"; "margin", on a travel in the margin or along the edge, where the ends are only
        trimmed; "pivot", a turn in a seam, where the ends hide; or "line", anywhere, because a
        stretch between good stopping places is longer than one bobbin lasts.
    gives_out
        Where the bobbin would run empty if one sewed on; None if it would just last.
    waste
        Thread left on the bobbin taken out, the spare and all, mm.
    """

    thread: str
    bobbin: int
    stop: RunPoint
    where: StopWhere
    gives_out: RunPoint | None
    waste: int


class _State(NamedTuple):
    """A stop, seen from later places: the cost up to it, and where stitching begins again."""

    paid: int
    inside: int
    begin: int
    stop: int

    @property
    def cost(self) -> tuple[int, int]:
        return self.paid, self.inside


_Windows: TypeAlias = Sequence[deque[_State]]


def choose_stops(
    at: IntArray,
    sort: IntArray,
    tails: Sequence[int],
    end: int,
    room: int,
    price: Sequence[int] = (1, 1, 1),
) -> list[int]:
    """Choose where to change the bobbin: an exact shortest path over the stopping places.

    No bobbin may run empty. Of such choices the cheapest is taken; of those one with the fewest
    stops inside the top for it alone; of those one that wastes least: thread left on the bobbins
    taken out, and tails. What is wasted up to a stop is bobbins emptied less thread sewn, so the
    least is wasted where the last stop comes as late as can be. Of equals the later stop is taken
    all along.
    Sliding windows of least cost make it linear, one for each sort of stop and each sort before
    it: only between two sorts do the tails keep the order of the places.

    Parameters
    ----------
    at
        Shape (n,), never falling: thread used when the needle comes to each stopping place.
    sort
        Shape (n,): 0 run end, 1 in the margin, 2 inside the top, 3 inside as well, where one stops
        anyhow.
    tails
        By sort: thread that a stop takes, on either side of it.
    end
        Thread used when all is done.
    room
        Thread on one bobbin, in the same unit.
    price
        By sort: of a change there. Unless said one each, for the fewest changes.

    Returns
    -------
    list of int
        Indices of the stops chosen.

    Raises
    ------
    StitchpathError
        If a bobbin does not reach from one stopping place to the next.
    """
    windows: list[_Windows] = [[deque() for _ in tails] for _ in tails]
    for window in windows:
        window[0].append(_State(0, 0, 0, -1))
    before = [-1] * len(at)
    for j, (here, this) in enumerate(zip(at.tolist(), sort.tolist(), strict=True)):
        best = _best(windows[this], here + tails[this] - room)
        if best is None:
            continue  # no bobbin reaches this place
        before[j] = best.stop
        new = _State(
            best.paid + price[this], best.inside + (this == _INSIDE), here - tails[this], j
        )
        for window in windows:
            while window[this] and window[this][-1].cost >= new.cost:
                window[this].pop()
            window[this].append(new)
    last = _best(windows[0], end - room)
    if last is None:
        raise StitchpathError(
            f"bobbin: found {room / _UM / 1000:.1f} m of thread on a bobbin, "
            "expected enough to reach from one stopping place to the next"
        )
    stops = []
    stop = last.stop
    while stop >= 0:
        stops.append(stop)
        stop = before[stop]
    return stops[::-1]


def _best(windows: _Windows, since: int) -> _State | None:
    """Cheapest stop from which a bobbin begun at `since` or later lasts, the latest of equals."""
    best: _State | None = None
    for window in windows:
        while window and window[0].begin < since:
            window.popleft()
        if window and (
            best is None or (window[0].cost, -window[0].begin) < (best.cost, -best.begin)
        ):
            best = window[0]
    return best


def bobbin_changes(
    runs: Sequence[Run], lines: Sequence[Line], stitching: Stitching
) -> tuple[BobbinChange, ...]:
    """Where to change the bobbin over the whole plan.

    Stops are run ends, travel in the margin, pivots in seams, and in a frame where the needle is
    parked: that comes before another place inside the top. Only where two of them lie
    further apart than a bobbin lasts, places in between are tried too, a sixty-fourth of a bobbin
    apart. Over these places the choice is exact: see `choose_stops`. A half-used bobbin is put
    aside when the thread changes and taken up again when it comes back.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    stitching
        How they are stitched, the bobbin and what is wound on it.

    Returns
    -------
    tuple of BobbinChange
        By thread in order of first use, then in stitching order.
    """
    way = leg_arrays(runs, lines)
    return find_changes(runs, way, thread_by_run(runs, way, stitching), stitching)


def find_changes(
    runs: Sequence[Run],
    way: LegArrays,
    amount: ThreadByRun,
    stitching: Stitching,
) -> tuple[BobbinChange, ...]:
    """As `bobbin_changes`, over runs already laid out as arrays."""
    on_bobbin = [stitching.bobbin_of(run.thread) for run in runs]
    found: list[BobbinChange] = []
    kinds: tuple[StopWhere, ...] = ("run end", "margin", "pivot", "pivot")
    tails = [stop_ends(stitching, where)[1] * _UM for where in kinds]
    price = (*stitching.stops, stitching.stops[_INSIDE])
    parked = _parked(runs, way)
    for kind in dict.fromkeys(on_bobbin):
        mine = np.array([i for i, other in enumerate(on_bobbin) if other == kind], dtype=np.int64)
        thread = _Unwinding.of(mine, way, amount)
        full = round(stitching.room(kind) * _UM)
        room = round(full * (1 - stitching.spare))
        stops = thread.stops(way, parked, room, tails[_INSIDE])
        sort = np.minimum(stops.where, _INSIDE)
        whole_step = stops.share == 1
        sort[parked[stops.step] & whole_step & (sort == _INSIDE)] = _PARKED
        chosen = choose_stops(stops.at, sort, tails, thread.end, room, price)
        begin = 0
        for number, j in enumerate(chosen, 1):
            at, ends = int(stops.at[j]), tails[sort[j]]
            dry = thread.locate(begin + full)
            found.append(
                BobbinChange(
                    thread=kind.name,
                    bobbin=number,
                    stop=_place(runs, way, int(stops.step[j]), float(stops.share[j])),
                    where=_WHERE[stops.where[j]],
                    gives_out=_place(runs, way, *dry) if dry else None,
                    waste=(begin + full - at - ends) // _UM,
                )
            )
            begin = at - ends
    return tuple(found)


def _parked(runs: Sequence[Run], way: LegArrays) -> BoolArray:
    """Tell after which steps the needle is parked while the quilt is rolled on, shape (steps,)."""
    first = np.cumsum([0, *(len(run.legs) for run in runs)])
    legs = [int(first[k]) + leg - 1 for k, run in enumerate(runs) for leg, _ in run.parked]
    found = np.zeros(len(way.step_leg), dtype=bool)
    found[np.searchsorted(way.step_leg, legs, side="right") - 1] = True
    return found


def _place(runs: Sequence[Run], way: LegArrays, step: int, share: float) -> RunPoint:
    """Find the place of a share of a step."""
    place = way.step_leg[step]
    run = runs[way.leg_run[place]]
    number = int(way.leg_number[place])
    first = np.searchsorted(way.step_leg, place - number)  # the run's first step
    along = float(way.step_length[first:step].sum()) + share * float(way.step_length[step])
    x, y = way.step_start[step] + share * (way.step_end[step] - way.step_start[step])
    # Travel is no line: the line sewn last, or else the one to come, tells where one is.
    near = chain(range(number, -1, -1), range(number, len(run.legs)))
    sewn = (run.legs[k].line for k in near if run.legs[k].line >= 0)
    return RunPoint(
        run=run.number,
        leg=number,
        along=along,
        point=(float(x), float(y)),
        line=next(sewn, -1),
    )


class _Stops(NamedTuple):
    """Stopping places: thread used there, step, share of the step, index into `_WHERE`."""

    at: IntArray
    step: IntArray
    share: FloatArray
    where: IntArray


@dataclass(frozen=True, slots=True)
class _Unwinding:
    """How one thread comes off the bobbins, in whole µm over all the runs that it sews.

    Attributes
    ----------
    steps
        Indices of the steps of its runs.
    at
        Shape (steps,): thread used when each step is done.
    use
        Shape (steps,): thread used in it.
    run_end
        Shape (runs,): thread used when each run is done, ends and all.
    run_step
        Shape (runs,): its last step, as a position in `steps`.
    """

    steps: IntArray
    at: IntArray
    use: IntArray
    run_end: IntArray
    run_step: IntArray

    @staticmethod
    def of(mine: IntArray, way: LegArrays, amount: ThreadByRun) -> "_Unwinding":
        """Lay out the runs `mine`, rising indices; runs without a step count for nothing."""
        steps = np.flatnonzero(np.isin(way.step_run, mine))
        run = way.step_run[steps]
        some, first = np.unique(run, return_index=True)
        total = (whole(amount.bobbin[some]) + whole(amount.ends[some, :, 1].sum(axis=1))) * _UM
        run_end = np.cumsum(total)
        used = np.cumsum(amount.step_bobbin[steps])
        before = used[first] - amount.step_bobbin[steps][first]
        order = np.searchsorted(some, run)
        at = np.rint((used - before[order] + amount.ends[run, 0, 1]) * _UM).astype(np.int64)
        at = (run_end - total)[order] + np.minimum(at, total[order])
        return _Unwinding(
            steps=steps,
            at=at,
            use=np.rint(amount.step_bobbin[steps] * _UM).astype(np.int64),
            run_end=run_end,
            run_step=np.append(first[1:], len(steps)) - 1,
        )

    @property
    def end(self) -> int:
        """Thread used when all is done."""
        return int(self.run_end[-1]) if len(self.run_end) else 0

    def stops(self, way: LegArrays, parked: BoolArray, room: int, tail: int) -> _Stops:
        """Collect the places where a bobbin may be changed."""
        kind = way.leg_kind[way.step_leg[self.steps]]
        seam = np.isin(kind, [KINDS.index("ditch"), KINDS.index("travel")])
        pivot = way.pivots[self.steps] & (seam | np.append(seam[1:], False))
        margin = way.leg_margin[way.step_leg[self.steps]]
        margin |= np.append(margin[1:], False)
        where = np.select([margin, pivot, parked[self.steps]], [1, 2, 3], -1)
        where[self.run_step] = 0
        at = self.at.copy()
        at[self.run_step] = self.run_end
        good = np.flatnonzero(where >= 0)[:-1]  # the last run's end changes nothing
        more = self._between(np.concatenate([[0], at[good], [self.end]]), room, tail)
        step, share = self.locate_all(more)
        stops = _Stops(
            at=np.concatenate([at[good], more]),
            step=np.concatenate([self.steps[good], step]),
            share=np.concatenate([np.ones(len(good)), share]),
            where=np.concatenate([where[good], np.full(len(more), 3)]),
        )
        order = np.argsort(stops.at, kind="stable")
        return _Stops(stops.at[order], stops.step[order], stops.share[order], stops.where[order])

    @staticmethod
    def _between(good: IntArray, room: int, tail: int) -> IntArray:
        """Places, as thread used, in the stretches that a bobbin does not last."""
        part = max(room // _PARTS, 1)
        long = np.flatnonzero(np.diff(good) + 2 * tail > room).tolist()
        return np.concatenate(
            [np.empty(0, dtype=np.int64)]
            + [np.arange(good[i] + part, good[i + 1], part, dtype=np.int64) for i in long]
        )

    def locate_all(self, used: IntArray) -> tuple[IntArray, FloatArray]:
        """Step, and share of it, at which so much thread is used."""
        run = np.searchsorted(self.run_end, used)
        step = np.minimum(np.searchsorted(self.at, used), self.run_step[run])
        share = 1 - (self.at[step] - used) / np.maximum(self.use[step], 1)
        return self.steps[step], np.clip(share, 0.0, 1.0)

    def locate(self, used: int) -> tuple[int, float] | None:
        """Step, and share of that step, at which this much thread is used up; None if it lasts."""
        if used > self.end:
            return None
        step, share = self.locate_all(np.array([used], dtype=np.int64))
        return int(step[0]), float(share[0])
