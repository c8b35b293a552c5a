"""A plan told in words, run by run, as one would tell a friend at the machine.

Turns and sides are those of the one who sews, left and right of the needle's way; up, down and
across are those of the quilt as it hangs on the wall.
"""

from collections import defaultdict
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.turns import PIVOT, Hand, hand, turn_angle
from stitchpath.lines.line import Line
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Leg, Run, Where
from stitchpath.thread import BobbinChange, RunPoint
from stitchpath.told.feet import feet_put_on
from stitchpath.told.passes import Rolling, rolling_words
from stitchpath.told.rolls import throat_words
from stitchpath.told.seams import Bit, Course, along, blocks_beside
from stitchpath.top.place import Place, Subject
from stitchpath.top.place_names import TOP, Places, Spot, clock, heading, join_words
from stitchpath.typing import FloatArray, Kind
from stitchpath.units import MM_PER, Unit, format_distance, format_length

__all__ = ["RunDirections", "Step", "Teller", "change_place", "directions", "teller_of"]

_AGAIN = "over the same seam"
_LISTED = 12  # changes of side that come in no measure, told one by one
_MANY = 3  # corners and changes of side told one by one
_CURVED = 20.0  # degrees that a seam turns on its way to be called curved
_SHORT = 305.0  # mm: on a way up to a foot, a length tells a place as well as its name
_BEATS = (1, 2, 4)  # changes of side after which the measures between them come again
_STITCH = 2.0  # mm: no one can measure off a shorter length
_METRE = 1000.0  # mm
_ON_LEVEL = 0.02  # mm: so near to where a strip ends, a line ends there


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
    turn: Hand | None = None
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


@dataclass(frozen=True, slots=True)
class _Way:
    """A leg, how long it is, and what lies beside it.

    `what` is a kind of line, "travel" along a seam, or "margin" for all that is off the top;
    `of` is what its line belongs to, None where it has none; `bit` is None off the seams; `low` is
    the low side as one goes, -1 left, +1 right.
    """

    leg: Leg
    length: float
    what: Kind | Literal["travel", "margin"]
    of: Subject | None = None
    bit: Bit | None = None
    low: int = 0


@dataclass(frozen=True, slots=True)
class _Said:
    """A direction in full, the short form for print, and what one goes along, if it says so."""

    full: str
    brief: str
    by: str = ""

    def led(self, before: str) -> "_Said":
        return _Said(before + self.full, before + self.brief, self.by)

    def then(self, after: str) -> "_Said":
        return _Said(self.full + after, self.brief + after, self.by)

    def capital(self) -> "_Said":
        return _Said(_capital(self.full), _capital(self.brief), self.by)


class _Web(NamedTuple):
    """Lines that show and belong together: how many end at each place, the middle, the forks."""

    degree: dict[tuple[int, int], int]
    middle: FloatArray
    forks: int


@dataclass(frozen=True)
class Teller:
    """Tells a plan."""

    plan: Plan

    @property
    def places(self) -> Places:
        """Words for the places of its top."""
        return self.plan.places

    def headline(self, run: Run) -> str:
        """Sum a run up in a line."""
        length = float(path_lengths([leg.points for leg in run.legs]).sum())
        ends = {"margin": "margin", "edge": "edge", "inside": "inside"}
        said = f"{ends[run.start_where]} to {ends[run.end_where]}"
        number = f"Run {run.number}" + (f", strip {run.strip}" if run.strip else "")
        if said == "inside to inside":
            said = "inside the top"
        far = self._far(length) if length < _METRE else format_distance(length, self.plan.top.unit)
        return f"{number}, {run.thread}: {far}, {said}"

    def steps(self, run: Run) -> Iterator[Step]:
        """Tell a run."""
        ways = self._ways(run)
        done = np.cumsum([way.length for way in ways])
        feet = feet_put_on(self.plan)
        changed = {k for number, k in feet if number == run.number and k}
        spans = _spans(ways, changed)
        for k, (first, last) in enumerate(spans):
            mine = ways[first : last + 1]
            turn = _turn(ways[first - 1].leg, mine[0].leg) if k else None
            before = ways[spans[k - 1][0] : first] if k else []
            lead, said = self._start(run, mine) if k == 0 else self._told(mine, turn, before)
            change = self._bobbins(run, ways, (first, last), done)
            for more in [_END[run.end_where], *change] if k == len(spans) - 1 else change:
                said = said.then(f" {more}")
            if k == 0 and run.number in self._rolling:
                lead, said = (
                    self._rolling[run.number].lead,
                    said.led(f"{self._rolling[run.number]} "),
                )
            low = next((w.low for w in mine if w.bit), 0)
            line = self._in_a_line(mine, turn, said.by)
            if k and first in changed:
                lead = f"Needle down, change to the {feet[run.number, first]} foot"
                said = said.led(f"{lead}. ")
                line = f"change the foot; {line}"
            yield Step(said.full, first, last, turn, _LOW[low], lead, said.brief, line)

    def ends(self, run: Run) -> tuple[str, str]:
        """Name the places where a run begins and ends."""
        legs, ways = run.legs, self._ways(run)
        begin, finish = (ways, ways) if self._ring(ways) else (ways[:1], ways[-1:])
        off = next((k for k, leg in enumerate(legs) if leg.along != "margin"), 0)
        last = next((k for k, leg in enumerate(legs[::-1]) if leg.along != "margin"), 0)
        begun, ended = legs[off].points[0], legs[len(legs) - 1 - last].points[-1]
        return (
            self._end(run.start_where, begin, begun),
            self._end(run.end_where, finish, ended),
        )

    def _end(self, where: Where, ways: Sequence[_Way], point: FloatArray) -> str:
        """Name where a run begins or ends; in the margin, where it comes over the edge."""
        if where == "inside":
            return self._spot(ways, point)
        edge, at = self.places.door(point)
        said = f"{edge}" if where == "edge" else f"the margin at {edge}"
        return f"{said}, {at}" if at else said

    def spot(self, place: RunPoint) -> str:
        """Name a place on a run: a corner, what one goes along, or the margin."""
        leg = self.plan.runs[place.run - 1].legs[place.leg]
        point = np.array(place.point)
        if leg.along == "margin":
            return f"the margin at {self.places.edge(point)}"
        if leg.along == "edge":
            return f"{self.places.edge(point)}"
        way = self._way(leg, _METRE)
        tips = np.abs(leg.points[[0, -1]] - point).max(axis=1)
        if tips.min() < _STITCH:
            return self._spot([way], leg.points[-int(np.argmin(tips))])
        if way.bit:
            return along(self.places, [way.bit]).text
        if leg.line < 0:
            return f"{self._at(point)}"
        return self._line(self.plan.lines[leg.line])

    def _line(self, line: Line) -> str:
        """Name a line that shows, and what it belongs to."""
        if line.kind != "echo":
            return f"{_WHAT[line.kind]} of {self.places.subject(line.of, the=True)}"
        return "the " * (line.of.echoes < 2) + self.places.subject(line.of)  # noqa: PLR2004 - one

    def _at(self, point: FloatArray, near: Place | None = None) -> Spot:
        """Name a place on the top; where a strip ends off the blocks, by that."""
        said = self.places.at(point, near)
        strip = int(np.searchsorted(self.plan.strips, point[1] - _ON_LEVEL)) + 1
        level = self.plan.strips[strip - 1] if strip <= len(self.plan.strips) else np.inf
        if said.article == "the" or said.of != TOP or abs(point[1] - level) > _ON_LEVEL:
            return said
        across = format_length(float(point[0]), self.plan.top.unit)
        return Spot(f"end of strip {strip}", measure=f"{across} from the left edge")

    @cached_property
    def _rolling(self) -> dict[int, Rolling]:
        return {**rolling_words(self.plan), **throat_words(self.plan)}

    # What lies beside each leg

    def _ways(self, run: Run) -> list[_Way]:
        lengths = path_lengths([leg.points for leg in run.legs]).tolist()
        return [self._way(leg, length) for leg, length in zip(run.legs, lengths, strict=True)]

    def _way(self, leg: Leg, length: float) -> _Way:
        if leg.do == "travel" and leg.along != "seam":
            return _Way(leg, length, "margin")
        line = self.plan.lines[leg.line] if leg.line >= 0 else None
        what = line.kind if line else "travel"
        of = line.of if line else None
        if leg.seam < 0:
            return _Way(leg, length, what, of)
        seam = self.plan.top.seams[leg.seam]
        low, left, right = seam.low, seam.left, seam.right
        if not leg.ahead:
            low, left, right = -low, right, left
        bit = Bit(left, right, leg.points[0], leg.points[-1], length)
        return _Way(leg, length, what, of, bit, low)

    # Sentences

    def _start(self, run: Run, ways: Sequence[_Way]) -> tuple[str, _Said]:
        """Tell where a run starts, and its first way."""
        point = run.legs[0].points[0]
        off = next((k for k, way in enumerate(ways) if way.what != "margin"), len(ways))
        said = self._way_on(ways[off:]).capital() if off < len(ways) else _Said("", "")
        if run.start_where == "edge" and off == 0:
            return "Start", said.led(f"Start on {self._door(point)}. ")
        if off == 0:
            return "Start", said.led(f"Start inside the top, at {self._spot(ways, point)}. ")
        far = self._far(ways[0].length)
        edge, where = self.places.door(ways[off - 1].leg.points[-1])
        at = f"{edge}, {where}" if where and where != said.by else f"{edge}"
        turn = _turn(ways[off - 1].leg, ways[off].leg) if said.full else "straight"
        pivot = "" if turn == "straight" else f" and pivot {turn}"
        return "Start", said.led(
            f"Start in the margin, {far} outside {at}. Sew in over the edge{pivot}. "
        )

    def _door(self, point: FloatArray) -> str:
        edge, where = self.places.door(point)
        return f"{edge} {where}".rstrip()

    def _told(
        self, ways: Sequence[_Way], turn: Hand | None, before: Sequence[_Way]
    ) -> tuple[str, _Said]:
        """Tell a later way: the words that begin it, and the whole of it."""
        if ways[0].what == "margin":
            off = self._off(ways)
            return "", _Said(off, off)
        if before[-1].what == "margin" and turn == "straight":
            return "", self._way_on(ways).capital()
        lead = {
            "straight": "Straight on",
            "left": "Pivot left",
            "right": "Pivot right",
            "back": "Turn back",
        }[turn or "straight"]
        over = sum(way.length for way in before) if turn == "back" else 0.0
        return lead, self._way_on(ways, over=over, before=before[-1]).led(f"{lead}: ")

    def _way_on(
        self, ways: Sequence[_Way], *, over: float = 0.0, before: _Way | None = None
    ) -> _Said:
        """Tell a way, and how it leaves the top where it does; `over` mm of it just come."""
        out = [way for way in ways if way.what == "margin"]
        on = ways[: len(ways) - len(out)]
        said = self._seam(on, over) if on[0].bit else self._shown(on, before)
        if out:
            said = said.then(f" Go on over the edge into the margin, {self._far(out[-1].length)}.")
        return said

    def _off(self, ways: Sequence[_Way]) -> str:
        """Tell a way round in the margin, or along the edge."""
        begin, end = ways[0].leg.points[0], ways[-1].leg.points[-1]
        far = self._far(sum(way.length for way in ways))
        way = heading(end - begin)
        if self.places.edge(begin) != self.places.edge(end):
            way = "round the corner"
        door = self._door(end)
        if ways[0].leg.along == "edge":
            return f"Along the edge, {way}, to {door}, {far}."
        out = f"Out over {self.places.edge(begin)} into the margin"
        if not self.places.on_top(end):
            return f"{out}, {far}."
        return f"{out}, {way}, and in again at {door}: {far} of margin."

    def _seam(self, ways: Sequence[_Way], over: float) -> _Said:
        """Tell a way along seams."""
        bits = [way.bit for way in ways if way.bit]
        begin, end = bits[0].start, bits[-1].stop
        blocks = blocks_beside(self.places, bits[-1:]) or blocks_beside(self.places, bits)
        near = blocks[-1] if blocks else None
        word = heading(end - begin if np.any(end != begin) else _leave(ways[0].leg))
        travel = "travel " if ways[0].what == "travel" else ""
        by = along(self.places, bits)
        length = sum(way.length for way in ways)
        if over:
            on = length >= over + _STITCH
            by = replace(by, text=f"{_AGAIN} and on {by.text}") if on else Course(_AGAIN)
        bends = _bends(ways)
        to = _its(self._at(end, near), by)
        way = f"{travel}{word} {by.text}{bends}, to {to}, {self._far(length)}{self._again(ways)}. "
        low, shortly = (self._low(ways, near, on) for on in (_ON, _SHORTLY))
        return _Said(f"{way}{low}".rstrip(), f"{way}{shortly}".rstrip(), by.text)

    def _low(self, ways: Sequence[_Way], near: Place | None, on: Mapping[int, str]) -> str:
        """Tell where the low side is, and where it changes, each side in the words of `on`."""
        if not self.plan.top.pressed:
            return ""
        begin = ways[0].low
        changes = [k for k in range(1, len(ways)) if ways[k].low != ways[k - 1].low]
        if not changes:
            if begin == 0:
                return "The seam is pressed open: stay right on it."
            return f"Low side{on[begin]}."
        done = np.cumsum([way.length for way in ways])
        if len(changes) > _MANY:
            sides = [begin, *(ways[k].low for k in changes)]
            measures = done[np.array(changes) - 1]
            return f"Low side{on[begin]}{self._changing(sides, measures, on)}."
        said = [f"Low side{on[begin]}"]
        for k in changes:
            sewn, left = float(done[k - 1]), float(done[-1] - done[k - 1])
            if sewn <= _SHORT:
                where = f"after {self._far(sewn)}"
            elif left <= _SHORT:
                where = f"for the last {self._far(left)}"
            else:
                where = f"from {self._at(ways[k].leg.points[0], near)} it is"
            said.append(f"{where}{on[ways[k].low]}")
        return ", ".join(said) + "."

    def _changing(self, sides: Sequence[int], at: FloatArray, on: Mapping[int, str]) -> str:
        """Tell many changes of side, the first side told already, by the measure they keep."""
        first, gaps = self._far(float(at[0])), np.diff(at)
        over = next((n for n in _BEATS if len(gaps) > n and _repeats(gaps, n)), 0)
        if (0 in sides or not over) and len(at) > _LISTED:
            return f" first, then it changes {len(at)} times: feel for it at each crossing"
        if 0 in sides:
            lasts = zip(gaps.tolist(), sides[1:], strict=False)
            told = [f"{self._far(gap)}{on[where]}" for gap, where in lasts]
            told.append(f"{on[sides[-1]].strip()} to the end")
            return f" for {first}, then {join_words(told)}"
        then = f"after {first}{on[sides[1]]}, then it changes"
        if not over:
            return f", {then} after {join_words([self._far(float(gap)) for gap in gaps])}"
        if over > 1:
            measures = [self._far(float(gap)) for gap in gaps[:over]]
            return f", {then} after {join_words(measures)}, and so on in turn"
        every = self._far(float(gaps[0]))
        return f", and it changes every {every}" if every == first else f", {then} every {every}"

    def _again(self, ways: Sequence[_Way]) -> str:
        """Tell what has been stitched already."""
        second = [way.leg.do == "retrace" for way in ways]
        length = sum(w.length for w, again in zip(ways, second, strict=True) if again)
        if length < _STITCH:
            return ""
        if all(second):
            return ", stitched already"
        far = self._far(length)
        if second[0] and not any(second[second.index(False) :]):
            return f" (the first {far} stitched already)"
        if second[-1] and not any(second[: len(second) - second[::-1].index(False)]):
            return f" (the last {far} stitched already)"
        return f" ({far} of it stitched already)"

    def _bobbins(
        self, run: Run, ways: Sequence[_Way], span: tuple[int, int], done: FloatArray
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
            elif float(done[last]) - change.stop.along < _STITCH:
                said.append(f"There put in {bobbin}.")
            elif ways[change.stop.leg].what == "margin":
                said.append(f"In the margin put in {bobbin}.")
            else:
                far = self._far(change.stop.along - begin)
                said.append(f"After {far} of this put in {bobbin}.")
        return said

    @cached_property
    def _changes(self) -> dict[int, list[BobbinChange]]:
        found: dict[int, list[BobbinChange]] = defaultdict(list)
        for change in self.plan.thread.changes:
            found[change.stop.run].append(change)
        return found

    def _in_a_line(self, ways: Sequence[_Way], turn: Hand | None, by: str) -> str:
        """Tell a way in a line, to be read at a glance; `by` is what the sentence goes along."""
        on = [way for way in ways if way.what != "margin"]
        if not on:
            edge = ways[0].leg.along == "edge"
            course = "along the edge" if edge else "round in the margin"
        elif on[0].bit:
            travel = "travel " if on[0].what == "travel" else ""
            course = travel + by.partition(",")[0]
            if course.startswith(f"{_AGAIN} and on"):
                course = f"{_AGAIN} and on"
        else:
            course = self._shown_course(on)
        far = _judged(sum(way.length for way in ways), self.plan.top.unit)
        return f"{_TURNS[turn]}, {course}, {format_length(far, self.plan.top.unit)}"

    def _shown_course(self, ways: Sequence[_Way]) -> str:
        """Tell what one goes along where it is a line that shows."""
        if ways[0].leg.line < 0:
            return "travel on"
        line = self.plan.lines[ways[0].leg.line]
        web = self._web_of(line)
        if line.kind == "centre" and web.forks == 1:
            return self._arms(ways, web)
        round_ = "once round " if self._ring(ways) else ""
        return f"{round_}along {self._line(line)}"

    # Lines that show: the middle of a piece, outlines, fills

    def _shown(self, ways: Sequence[_Way], before: _Way | None) -> _Said:
        """Tell a way along lines that show."""
        said = self._shown_words(ways, before)
        return _Said(said, said)

    def _shown_words(self, ways: Sequence[_Way], before: _Way | None) -> str:
        line = self.plan.lines[ways[0].leg.line]
        end = ways[-1].leg.points[-1]
        far = f"{self._far(sum(way.length for way in ways))}{self._again(ways)}"
        known = before is None or before.of == line.of
        web = self._web_of(line)
        if line.kind == "centre" and web.forks == 1:
            of = "" if known else f" of {self.places.subject(line.of, the=True)}"
            return f"{self._arms(ways, web)}{of}, {far}."
        what = _WHAT[line.kind]
        if line.kind == "echo" or not known:
            what = self._line(line)
        if self._ring(ways):
            return f"once round along {what}, {far}."
        if len(ways) > 1 or _pivots(ways[0].leg):
            what = f"{what} with its turns"
        return f"along {what}, to {self._mark(ways[-1].leg.line, end)}, {far}."

    def _arms(self, ways: Sequence[_Way], web: _Web) -> str:
        """Tell a way in or out along arms that meet in one place."""
        told: list[str] = []
        last = ""
        for way in ways:
            begin, end = way.leg.points[0] - web.middle, way.leg.points[-1] - web.middle
            out = np.hypot(*end) > np.hypot(*begin)
            arm = f"{'out' if out else 'in'} along the middle of the "
            arm += f"{clock(end if out else begin)} arm"
            if arm == last:
                told.pop()
            last = arm
            ends = web.degree[_key(way.leg.points[-1])]
            to = " to its tip" if ends == 1 else " to the centre" if ends > 2 else ""  # noqa: PLR2004
            told.append(arm + to)
        return ", straight ".join(told)

    def _mark(self, line: int, point: FloatArray) -> str:
        """Name a place on lines that show: a tip by the clock, the middle, or where lines meet."""
        of = self.plan.lines[line]
        if of.kind != "centre":
            return f"{self._at(point)}"
        web = self._web_of(of)
        ends = web.degree[_key(point)]
        if ends > 2 and web.forks == 1:  # noqa: PLR2004 - lines branch
            return "the centre"
        word = "fork" if ends > 2 else "tip" if ends == 1 else "place"  # noqa: PLR2004
        return f"the {word} at {clock(point - web.middle)}"

    def _ring(self, ways: Sequence[_Way]) -> bool:
        """Tell whether a way goes once round a closed line, which may lie in several parts."""
        first, last = ways[0].leg, ways[-1].leg
        if first.line < 0 or np.any(first.points[0] != last.points[-1]):
            return False
        of = self.plan.lines[first.line]
        if len(ways) == 1 or of.kind not in ("echo", "outline"):
            return len(ways) == 1
        degree = self._web_of(of).degree
        return all(way.of == of.of and degree[_key(way.leg.points[0])] == 2 for way in ways)  # noqa: PLR2004 - two ends

    def _spot(self, ways: Sequence[_Way], point: FloatArray) -> str:
        """Name the place where a run starts inside the top."""
        leg = ways[0].leg
        line = self.plan.lines[leg.line] if leg.line >= 0 else None
        if line is None or line.seam >= 0:
            return f"{self._at(point)}"
        subject = self.places.subject(line.of, the=True)
        if self._ring(ways):
            inmost = " (echo 1 is the inmost)" if line.of.echoes > 1 else ""
            return f"{clock(point - self._web_of(line).middle)} on {subject}{inmost}"
        mark = self._mark(leg.line, point)
        return f"{mark} of {subject}" if line.kind == "centre" else mark

    def _web_of(self, line: Line) -> _Web:
        """Give the lines that show and belong together with one."""
        return self._webs[line.stage, line.thread, line.kind, line.of]

    @cached_property
    def _webs(self) -> dict[tuple[int, str, Kind, Subject], _Web]:
        found: dict[tuple[int, str, Kind, Subject], list[FloatArray]] = defaultdict(list)
        for line in self.plan.lines:
            if line.seam < 0:
                found[line.stage, line.thread, line.kind, line.of].append(line.points)
        return {key: _web(paths) for key, paths in found.items()}

    def _far(self, length: float) -> str:
        if length < _STITCH:
            return "a stitch"
        return format_length(length, self.plan.top.unit)


_ON = {-1: " on your left", 0: " on neither side", 1: " on your right"}
_SHORTLY = {-1: "\N{NO-BREAK SPACE}left", 0: " on neither side", 1: "\N{NO-BREAK SPACE}right"}
_LOW: dict[int, Literal["left", "right", ""]] = {-1: "left", 0: "", 1: "right"}
_TURNS: dict[Hand | None, str] = {
    None: "start",
    "straight": "straight on",
    "left": "left",
    "right": "right",
    "back": "turn back",
}
_FOLLOWED = ("margin", "outline", "echo", "fill", "drawn")  # one step, whatever their turns
_END = {
    "margin": "Stop and cut the threads.",
    "edge": "Stop on the edge and cut the threads.",
    "inside": "Stop, secure the threads and bury the tails.",
}
_WHAT: dict[Kind, str] = {
    "ditch": "the ditch",
    "centre": "the middle",
    "outline": "the line inside the edge",
    "echo": "the echo",
    "fill": "the fill",
    "drawn": "the drawn line",
}


def _web(paths: Sequence[FloatArray]) -> _Web:
    degree: dict[tuple[int, int], int] = defaultdict(int)
    for path in paths:
        for end in (path[0], path[-1]):
            degree[_key(end)] += 1
    forks = [key for key, ends in degree.items() if ends > 2]  # noqa: PLR2004 - lines branch
    if len(forks) == 1:
        return _Web(degree, np.array(forks[0]) / 1000, 1)
    points = np.concatenate(paths)
    return _Web(degree, (points.min(axis=0) + points.max(axis=0)) / 2, len(forks))


def _key(point: FloatArray) -> tuple[int, int]:
    return round(float(point[0]) * 1000), round(float(point[1]) * 1000)


def _spans(ways: Sequence[_Way], changed: Container[int] = ()) -> list[tuple[int, int]]:
    """Split a run where the path turns, what it does becomes another thing, or the foot is changed.

    Legs into and out of the margin at the ends of a run go with their neighbours.
    """
    cuts = [k for k in range(1, len(ways)) if k in changed or _parts(ways[k - 1], ways[k])]
    starts = [0, *cuts]
    if len(starts) > 1 and ways[0].what == "margin":
        del starts[1]
    if len(starts) > 1 and ways[-1].what == "margin" and _turn_in(ways, starts[-1]) == "straight":
        del starts[-1]
    return list(zip(starts, [start - 1 for start in starts[1:]] + [len(ways) - 1], strict=True))


def _turn_in(ways: Sequence[_Way], k: int) -> Hand:
    return _turn(ways[k - 1].leg, ways[k].leg)


def _parts(before: _Way, after: _Way) -> bool:
    if before.what == after.what and before.what in _FOLLOWED:
        return before.leg.line >= 0 and before.of != after.of
    return (
        before.what != after.what
        or (before.bit is None) != (after.bit is None)
        or _turn(before.leg, after.leg) != "straight"
        or bool(_pivots(before.leg) or _pivots(after.leg))
    )


def _turn(before: Leg, after: Leg) -> Hand:
    return hand(float(turn_angle(before.points[-1] - before.points[-2], _leave(after))))


def _leave(leg: Leg) -> FloatArray:
    return np.asarray(leg.points[1] - leg.points[0])


def _inner_turns(leg: Leg) -> FloatArray:
    way = np.diff(leg.points, axis=0)
    return turn_angle(way[:-1], way[1:])


def _pivots(leg: Leg) -> list[Hand]:
    """List the pivots within a leg."""
    if len(leg.points) < 3:  # noqa: PLR2004 - straight
        return []
    return [hand(float(turn)) for turn in _inner_turns(leg) if abs(turn) > PIVOT]


def _bends(ways: Sequence[_Way]) -> str:
    """Tell pivots and curves within seams."""
    pivots = [turn for way in ways for turn in _pivots(way.leg)]
    if len(pivots) > _MANY:
        return f", round its {len(pivots)} corners"
    if pivots:
        return f", pivoting {join_words(pivots)} at its corner{'s' * (len(pivots) > 1)}"
    bent = [way.leg for way in ways if len(way.leg.points) > 2]  # noqa: PLR2004 - straight
    turned = sum(float(np.abs(_inner_turns(leg)).sum()) for leg in bent)
    return ", following the curve" if turned > _CURVED else ""


def _repeats(gaps: FloatArray, over: int) -> bool:
    """Tell whether measures, mm, come again after so many, to less than a stitch."""
    return bool(np.all(np.abs(gaps[over:] - gaps[:-over]) < _STITCH / 2))


def _its(spot: Spot, by: Course) -> str:
    """Say "its" for the unit just named, and a measure alone along the side just named."""
    if not by.of or spot.of != by.of:
        return f"{spot}"
    if spot.measure:
        return spot.measure if spot.what == by.side else f"{spot}"
    return f"its {spot.what}" if spot.article == "the" else f"{spot}"


def _judged(length: float, unit: Unit) -> float:
    """Round a length, mm, as an eye can judge it: beyond 2 in to 1/4 in, beyond 5 cm to 1/2 cm."""
    step, beyond = (MM_PER["in"] / 4, 2 * MM_PER["in"]) if unit == "in" else (5.0, 50.0)
    return round(length / step) * step if length > beyond else length


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
