"""A plan told in words, run by run, as one would tell a friend at the machine.

Turns and sides are those of the one who sews, left and right of the needle's way; up, down and
across are those of the quilt as it hangs on the wall.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_distance
from stitchpath.geometry.polylines import path_lengths
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Run, Where
from stitchpath.thread import BobbinChange, RunPoint
from stitchpath.told.feet import feet_put_on
from stitchpath.told.landmarks import Landmarks
from stitchpath.told.passes import Rolling, parked_words, rolling_words
from stitchpath.told.rolls import throat_words
from stitchpath.told.seams import along
from stitchpath.told.sentences import STITCH, Sentences
from stitchpath.told.ways import Turn, Way, spans, turn_of, ways_of

__all__ = ["RunDirections", "Step", "Teller", "change_place", "directions", "teller_of"]

_METRE = 1000.0  # mm


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: a straight seam, a curve, a way round in the margin.

    Attributes
    ----------
    text
        Whole sentences.
    first_leg, last_leg
        Indices into the run's legs, both included; the steps of a run take in every leg once.
    turn
        How one turns into it; None at the start of a run.
    low
        Where the low side of the seam is at first; "" where there is none.
    lead
        The first words of the text, which say what to do; "" where it has none such.
    brief
        The text for print, where "your" left and right are explained once: "Low side left".
    line
        All of it in one line, lengths as an eye can judge them: "left, along the sail, 5 3/4 in".
    """

    text: str
    first_leg: int
    last_leg: int
    turn: Turn | None = None
    low: Literal["left", "right", ""] = ""
    lead: str = ""
    brief: str = ""
    line: str = ""


@dataclass(frozen=True, slots=True)
class RunDirections:
    """The directions of a run.

    Attributes
    ----------
    run
        Its number.
    heading
        One line: run, thread, length, ends.
    steps
        In stitching order.
    """

    run: int
    heading: str
    steps: tuple[Step, ...]

    def step_of(self, leg: int) -> int:
        """Give the number, from 1, of the step that takes in a leg."""
        return next(k for k, s in enumerate(self.steps, 1) if s.first_leg <= leg <= s.last_leg)


@once
def directions(plan: Plan) -> tuple[RunDirections, ...]:
    """Tell a plan in words.

    Legs along one straight seam are told as one; so is a way round in the margin. Blocks are named
    by row letter and column number, turns are left, right, straight on or back, lengths are in the
    design's unit.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of RunDirections
        One for each run, in stitching order.
    """
    teller = teller_of(plan)
    return tuple(
        RunDirections(run.number, teller.headline(run), tuple(teller.steps(run)))
        for run in plan.runs
    )


@once
def teller_of(plan: Plan) -> "Teller":
    """Give the teller of a plan."""
    return Teller(plan)


def change_place(change: BobbinChange, told: Sequence[RunDirections]) -> str:
    """Say where a bobbin is changed, by the step that it falls in.

    Parameters
    ----------
    change
        The change.
    told
        The directions of the plan it belongs to.

    Returns
    -------
    str
        Such as "in the margin, step 5 of run 2".
    """
    run = next(each for each in told if each.run == change.stop.run)
    step = f"step {run.step_of(change.stop.leg)} of run {run.run}"
    return {
        "run end": f"at the end of run {run.run}",
        "margin": f"in the margin, {step}",
        "pivot": f"at a turn, {step}",
        "line": f"in mid seam, {step}: secure both ends",
    }[change.where]


@dataclass(frozen=True)
class Teller:
    """Tells a plan."""

    plan: Plan

    @cached_property
    def marks(self) -> Landmarks:
        """Words for its places."""
        return Landmarks(self.plan)

    @cached_property
    def words(self) -> Sentences:
        """Words for single steps."""
        return Sentences(self.plan, self.marks)

    def headline(self, run: Run) -> str:
        """Sum a run up in a line."""
        length = float(path_lengths([leg.points for leg in run.legs]).sum())
        ends = {"margin": "margin", "edge": "edge", "inside": "inside"}
        said = f"{ends[run.start_where]} to {ends[run.end_where]}"
        number = f"Run {run.number}" + (f", pass {run.window}" if run.window else "")
        if run.parked:
            number = f"Run {run.number}, pass {run.window} to {run.last_window}"
        if said == "inside to inside":
            said = "inside the top"
        long = format_distance(length, self.plan.top.unit)
        far = self.words.far(length) if length < _METRE else long
        return f"{number}, {run.thread}: {far}, {said}"

    def steps(self, run: Run) -> Iterator[Step]:
        """Tell a run."""
        ways = ways_of(self.plan, run)
        done = np.cumsum([way.length for way in ways])
        feet = feet_put_on(self.plan)
        changed = {k for number, k in feet if number == run.number and k}
        changed |= {leg for leg, _ in run.parked}
        parts = spans(
            ways, self.marks.forks(run.stage, run.thread), changed, back=run.end_where == "edge"
        )
        for k, (first, last) in enumerate(parts):
            mine = ways[first : last + 1]
            turn = turn_of(ways[first - 1], mine[0]) if k else None
            if k == 0:
                lead, said = self.words.start(run, mine)
            else:
                lead, said = self.words.told(run, mine, turn, ways[parts[k - 1][0] : first])
            change = self._bobbins(run, ways, (first, last), done)
            for more in [_END[run.end_where], *change] if k == len(parts) - 1 else change:
                said = said.then(f" {more}")
            if k == 0 and run.number in self._rolling:
                lead, said = (
                    self._rolling[run.number].lead,
                    said.led(f"{self._rolling[run.number]} "),
                )
            low = next((w.low for w in mine if w.bit), 0)
            line = self.words.in_a_line(mine, turn, said.by)
            if (run.number, first) in self._parked:
                parked = self._parked[run.number, first]
                lead, said = parked.lead, said.led(f"{parked} ")
                line = f"roll on; {line}"
            elif k and first in changed:
                lead = f"Needle down, change to the {feet[run.number, first]} foot"
                said = said.led(f"{lead}. ")
                line = f"change the foot; {line}"
            yield Step(said.full, first, last, turn, _LOW[low], lead, said.brief, line)

    def ends(self, run: Run) -> tuple[str, str]:
        """Name the places where a run begins and ends."""
        legs, ways = run.legs, ways_of(self.plan, run)
        begin, finish = (ways, ways) if self.marks.ring(ways) else (ways[:1], ways[-1:])
        off = next((k for k, leg in enumerate(legs) if leg.along != "margin"), 0)
        last = next((k for k, leg in enumerate(legs[::-1]) if leg.along != "margin"), 0)
        begun, ended = legs[off].points[0], legs[len(legs) - 1 - last].points[-1]
        return (
            self._end(run, run.start_where, begin, begun),
            self._end(run, run.end_where, finish, ended),
        )

    def _end(self, run: Run, where: Where, ways: Sequence[Way], point: FloatArray) -> str:
        """Name where a run begins or ends; in the margin, where it comes over the edge."""
        if where == "inside":
            return self.words.spot(run, ways, point)
        door = self.words.door(run, point)
        return door if where == "edge" else f"the margin at {door}"

    def spot(self, place: RunPoint) -> str:
        """Name a place on a run: a corner, what one goes along, or the margin."""
        run = self.plan.runs[place.run - 1]
        leg = run.legs[place.leg]
        point = np.array(place.point)
        if leg.along == "margin":
            return f"the margin at {self.marks.spots.edge(point)}"
        if leg.along == "edge":
            return f"{self.marks.spots.edge(point)}"
        way = ways_of(self.plan, run)[place.leg]
        tips = np.abs(leg.points[[0, -1]] - point).max(axis=1)
        if tips.min() < STITCH:
            return self.words.spot(run, [way], leg.points[-int(np.argmin(tips))])
        if way.bit:
            return along(self.plan.places, [way.bit]).text
        if leg.line < 0:
            return self.marks.at(point)
        return self.marks.line(self.plan.lines[leg.line])

    @cached_property
    def _rolling(self) -> dict[int, Rolling]:
        return {**rolling_words(self.plan), **throat_words(self.plan)}

    @cached_property
    def _parked(self) -> dict[tuple[int, int], Rolling]:
        return parked_words(self.plan)

    def _bobbins(
        self, run: Run, ways: Sequence[Way], span: tuple[int, int], done: FloatArray
    ) -> list[str]:
        """Tell where to change the bobbin on a way."""
        first, last = span
        begin = float(done[first] - ways[first].length)
        said = []
        for change in self._changes[run.number]:
            if not first <= change.stop.leg <= last:
                continue
            bobbin = f"bobbin {change.bobbin + 1} of {change.thread}"
            if change.where == "run end":
                said.append(f"Before the next run put in {bobbin}.")
            elif float(done[last]) - change.stop.along < STITCH:
                said.append(f"There put in {bobbin}.")
            elif ways[change.stop.leg].what == "margin":
                said.append(f"In the margin put in {bobbin}.")
            else:
                far = self.words.far(change.stop.along - begin)
                said.append(f"After {far} of this put in {bobbin}.")
        return said

    @cached_property
    def _changes(self) -> dict[int, list[BobbinChange]]:
        found: dict[int, list[BobbinChange]] = defaultdict(list)
        for change in self.plan.thread.changes:
            found[change.stop.run].append(change)
        return found


_LOW: dict[int, Literal["left", "right", ""]] = {-1: "left", 0: "", 1: "right"}
_END = {
    "margin": "Stop and cut the threads.",
    "edge": "Stop on the edge and cut the threads.",
    "inside": "Stop, secure the threads and bury the tails.",
}
