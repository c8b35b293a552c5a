"""One step in words: where it starts, how one turns into it, what one goes along and how far.

Each sentence holds for the top alone. From where she stands, the turn, the landmark and the length
lead to one place and no other: `tests/walker.py` goes by them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_judged
from stitchpath.geometry.turns import hand, turn_angle
from stitchpath.plan import Plan
from stitchpath.route.runs import Run
from stitchpath.told.close import Close
from stitchpath.told.landmarks import Landmarks, Web
from stitchpath.told.low_side import ON, SHORTLY, low_side_words
from stitchpath.told.ordinals import ordinal
from stitchpath.told.seams import Course, along, blocks_beside
from stitchpath.told.ways import Turn, Way, inner_turns, key_of, pivots_in, turn_by, turn_of
from stitchpath.top.place_names import Places, clock, heading, join_words

__all__ = ["STITCH", "Said", "Sentences"]

STITCH = 2.0
"""No one can measure off a shorter length, mm."""

_AGAIN = "over the same seam"
_APART = 40.0  # degrees: ways that lie closer together are counted
_ALL = 180.0  # degrees: all of them are counted
_ALIKE = 0.01  # degrees: so near is the same way
_MANY = 3  # corners told one by one
_BRANCHED = 3  # so many ends at one place branch
_CURVED = 20.0  # degrees that a seam turns on its way to be called curved
_LEADS: dict[Turn, str] = {
    "straight": "Straight on",
    "bear left": "Bear left",
    "bear right": "Bear right",
    "left": "Pivot left",
    "right": "Pivot right",
    "back": "Turn back",
}
_TURNS: dict[Turn | None, str] = {
    None: "start",
    "straight": "straight on",
    "bear left": "bear left",
    "bear right": "bear right",
    "left": "left",
    "right": "right",
    "back": "turn back",
}


@dataclass(frozen=True, slots=True)
class Said:
    """A direction in full, the short form for print, and what one goes along, if it says so."""

    full: str
    brief: str
    by: str = ""

    def led(self, before: str) -> "Said":
        """Put words before it."""
        return Said(before + self.full, before + self.brief, self.by)

    def then(self, after: str) -> "Said":
        """Put words after it."""
        return Said(self.full + after, self.brief + after, self.by)

    def capital(self) -> "Said":
        """Begin it with a capital."""
        return Said(_capital(self.full), _capital(self.brief), self.by)


@dataclass(frozen=True)
class Sentences:
    """Words the steps of a plan."""

    plan: Plan
    marks: Landmarks

    @cached_property
    def close(self) -> Close:
        """Tells places apart that are called the same."""
        return Close(self.plan)

    @property
    def places(self) -> Places:
        """Words for the units of its top."""
        return self.plan.places

    def start(self, run: Run, ways: Sequence[Way]) -> tuple[str, Said]:
        """Tell where a run starts, and its first way."""
        point = run.legs[0].points[0]
        off = next((k for k, way in enumerate(ways) if way.what != "margin"), len(ways))
        said = self._way_on(run, ways[off:]).capital() if off < len(ways) else Said("", "")
        if run.start_where == "edge" and off == 0:
            return "Start", said.led(f"Start on {self.door(run, point)}. ")
        if off == 0:
            return "Start", said.led(f"Start inside the top, at {self.spot(run, ways, point)}. ")
        far = self.far(ways[0].length)
        door = self.door(run, ways[off - 1].leg.points[-1])
        turn: Turn = turn_of(ways[off - 1], ways[off]) if said.full else "straight"
        pivot = "" if turn == "straight" else f" and {_LEADS[turn].lower()}"
        lead = f"Start in the margin, {far} outside {door}. Sew in over the edge{pivot}. "
        return "Start", said.led(lead)

    def door(self, run: Run, point: FloatArray) -> str:
        """Name a place on the edge of the top."""

        def say(at: FloatArray) -> str:
            if not self.places.on_edge(at):
                return ""
            edge, where = self.marks.spots.door(at)
            return f"{edge}, {where}" if where.startswith("between") else f"{edge}"

        which = self.close.which(run.stage, run.thread, point, say, self._door)
        return self._door(point) + which

    def _door(self, point: FloatArray) -> str:
        edge, where = self.marks.spots.door(point)
        return f"{edge}, {where}" if where else f"{edge}"

    def told(
        self, run: Run, ways: Sequence[Way], turn: Turn | None, before: Sequence[Way]
    ) -> tuple[str, Said]:
        """Tell a later way: the words that begin it, and the whole of it."""
        if ways[0].what == "margin":
            off = self._off(run, ways)
            return "", Said(off, off)
        if before[-1].what == "margin" and turn == "straight":
            return "", self._way_on(run, ways).capital()
        lead = _LEADS[turn or "straight"]
        came, goes = before[-1].leg.points, ways[0].leg.points
        same = turn == "back" and np.array_equal(came[::-1], goes)
        over = sum(way.length for way in before) if same else 0.0
        midst = ways[0].bit is None and self._by_arms(ways) and self._leaves(run, ways[-1])
        which = self._which(run, before[-1], ways[0], _ALL if midst else _APART)
        return lead, self._way_on(run, ways, over).led(f"{lead}{which}: ")

    def _which(self, run: Run, before: Way, after: Way, apart: float) -> str:
        """Tell which of several ways less than `apart` degrees apart is meant, as one turns."""
        turn = turn_of(before, after)
        if turn in ("straight", "back"):
            return ""
        line = self.plan.lines[after.leg.line] if after.bit is None else None
        rays = self.marks.rays(run.stage, run.thread, after.leg.points[0], line)
        mine = before.ends, after.begins
        angle = float(turn_angle(*mine))
        turns = sorted(
            abs(a) for ray in rays if turn_by(a := float(turn_angle(mine[0], ray))) == turn
        )
        close = sum(abs(a - abs(angle)) < apart for a in turns)
        if close < 2:  # noqa: PLR2004 - itself
            return ""
        number = sum(a < abs(angle) - _ALIKE for a in turns)
        what = "line" if line else "seam"
        return f" onto the {ordinal(number + 1)} {what} as you turn"

    def spot(self, run: Run, ways: Sequence[Way], point: FloatArray) -> str:
        """Name a place inside the top, as where a run starts."""
        leg = ways[0].leg
        line = self.plan.lines[leg.line] if leg.line >= 0 else None
        if line is None or line.seam >= 0:
            return self.marks.at(point, line)
        ring = self.marks.ring(ways) and not self.marks.forked(line, point)
        hour = ring or self.marks.on_shown(line, point) == self.marks.hour(line, point)
        name = self.marks.hour if hour else self.marks.on_shown

        def say(at: FloatArray) -> str:
            return name(line, at, bare=True) if self.marks.ends_at(line, at) else ""

        def full(at: FloatArray) -> str:
            return name(line, at)

        return full(point) + self.close.which(run.stage, run.thread, point, say, full)

    def _way_on(self, run: Run, ways: Sequence[Way], over: float = 0.0) -> Said:
        """Tell a way, and how it leaves the top where it does; `over` mm of it just come."""
        out = [way for way in ways if way.what == "margin"]
        on = ways[: len(ways) - len(out)]
        said = self._seam(run, on, over) if on[0].bit else self._shown(run, on)
        if out:
            said = said.then(f" Go on over the edge into the margin, {self.far(out[-1].length)}.")
        return said

    def _off(self, run: Run, ways: Sequence[Way]) -> str:
        """Tell a way round in the margin, or along the edge."""
        points = np.concatenate([ways[0].leg.points[:1], *(way.leg.points[1:] for way in ways)])
        far = self.far(sum(way.length for way in ways))
        spots = self.marks.spots
        on_edge = ways[0].leg.along == "edge"
        out = f"Out over {spots.edge(points[0])} into the margin"
        if not on_edge and not self.places.on_top(points[-1]):
            return f"{out}, {far}."
        moves = np.diff(points, axis=0)
        if not on_edge and not self.places.on_top(points[0]):  # where the needle was parked
            out = "In the margin"
            moves = moves[:-1] if len(moves) > 1 else moves
        elif not on_edge and len(moves) > 2:  # noqa: PLR2004 - out, round and in
            moves = moves[1:-1]
        turns = [hand(float(turn)) for turn in turn_angle(moves[:-1], moves[1:])]
        corners = sum(turn in ("left", "right") for turn in turns)
        way = heading(moves[0]) + ("", ", round the corner")[corners == 1]
        way += f", round {corners} corners" if corners > 1 else ""
        if on_edge:
            return f"Along the edge, {way}, to {self.door(run, points[-1])}, {far}."
        return f"{out}, {way}, and in again at {self.door(run, points[-1])}: {far} of margin."

    def _seam(self, run: Run, ways: Sequence[Way], over: float) -> Said:
        """Tell a way along seams."""
        bits = [way.bit for way in ways if way.bit]
        begin, end = bits[0].start, bits[-1].stop
        blocks = blocks_beside(self.places, bits[-1:]) or blocks_beside(self.places, bits)
        near = blocks[-1] if blocks else None
        word = heading(end - begin if np.any(end != begin) else ways[0].begins)
        travel = "travel " if ways[0].what == "travel" else ""
        by = along(self.places, bits)
        length = sum(way.length for way in ways)
        if over:
            on = length >= over + STITCH
            by = replace(by, text=f"{_AGAIN} and on {by.text}") if on else Course(_AGAIN)
        before = ways[-1].leg.points[-2]

        def say(at: FloatArray) -> str:
            return self.marks.on_seam(at, near, by, at + before - end)

        to, far = say(end), self.far(length)
        to += self.close.nth(run.stage, run.thread, ways, say)
        way = f"{travel}{word} {by.text}{_bends(ways)}, to {to}, {far}{self._again(ways)}. "
        low, shortly = (low_side_words(self.marks, ways, near, on) for on in (ON, SHORTLY))
        return Said(f"{way}{low}".rstrip(), f"{way}{shortly}".rstrip(), by.text)

    def _again(self, ways: Sequence[Way]) -> str:
        """Tell what has been stitched already."""
        second = [way.leg.do == "retrace" for way in ways]
        length = sum(w.length for w, again in zip(ways, second, strict=True) if again)
        if length < STITCH:
            return ""
        if all(second):
            return ", stitched already"
        far = self.far(length)
        if second[0] and not any(second[second.index(False) :]):
            return f" (the first {far} stitched already)"
        if second[-1] and not any(second[: len(second) - second[::-1].index(False)]):
            return f" (the last {far} stitched already)"
        return f" ({far} of it stitched already)"

    # Lines that show: the middle of a piece, outlines, fills

    def _shown(self, run: Run, ways: Sequence[Way]) -> Said:
        """Tell a way along lines that show."""
        line = self.plan.lines[ways[0].leg.line]
        begin, end = ways[0].leg.points[0], ways[-1].leg.points[-1]
        length = sum(way.length for way in ways)
        far = f"{self.far(length)}{self._again(ways)}"
        arms = self._by_arms(ways) and not self._leaves(run, ways[-1])
        course = self._course(ways, arms=arms)
        if arms:
            said = f"{course} of {self.marks.owner(line.of)}, {far}."
        elif self.marks.ring(ways):
            said = f"{course}, {_round(ways)}, {far}."
        else:
            turned = " with its turns" if len(ways) > 1 or pivots_in(ways[0].leg) else ""
            way = heading(end - begin if np.any(end != begin) else ways[0].begins)

            def say(at: FloatArray) -> str:
                return self.marks.on_line(line, at, at + ways[-1].leg.points[-2] - end)

            def hour(at: FloatArray) -> str:
                return self.marks.by_hour(line, at) if self.marks.ends_at(line, at) else ""

            to = say(end)
            alike = hour if to == self.marks.by_hour(line, end) else say
            to += self.close.nth(run.stage, run.thread, ways, alike)
            said = f"{course}{turned}, {way}, to {to}, {far}."
        return Said(said, said, course)

    def _course(self, ways: Sequence[Way], *, arms: bool) -> str:
        """Tell what one goes along where it is a line that shows, by `arms` or by its name."""
        line = self.plan.lines[ways[0].leg.line]
        if arms:
            return _arms(ways, self.marks.web(line))
        round_ = "once round " if self.marks.ring(ways) else ""
        return f"{round_}along {self.marks.line(line)}"

    def _by_arms(self, ways: Sequence[Way]) -> bool:
        """Tell whether a way goes along arms that meet in one place, and not round a loop."""
        line = self.plan.lines[ways[0].leg.line]
        ring = self.marks.ring(ways)
        return line.kind == "centre" and self.marks.web(line).forks == 1 and not ring

    def _leaves(self, run: Run, way: Way) -> bool:
        """Tell whether one stops in the midst of an arm to go on along a seam.

        The hour of the arm is too little to find that place by.
        """
        end = key_of(way.leg.points[-1])
        line = self.plan.lines[way.leg.line]
        two = self.marks.web(line).degree[end] == 2  # noqa: PLR2004 - neither tip nor centre
        return two and any(leg.line < 0 and key_of(leg.points[0]) == end for leg in run.legs)

    # All of a step in one line, for a glance from the machine

    def in_a_line(self, ways: Sequence[Way], turn: Turn | None, by: str) -> str:
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
            course = self._course(on, arms=self._by_arms(on))
        return f"{_TURNS[turn]}, {course}, {self.far(sum(way.length for way in on or ways))}"

    def far(self, length: float) -> str:
        """Write a length that is to be sewn, as an eye can judge it."""
        return "a stitch" if length < STITCH else format_judged(length, self.plan.top.unit)


def _arms(ways: Sequence[Way], web: Web) -> str:
    """Tell a way in or out along arms that meet in one place."""
    told: list[tuple[str, str, str]] = []
    for way in ways:
        begin, end = way.leg.points[0] - web.middle, way.leg.points[-1] - web.middle
        out = "out" if np.hypot(*end) > np.hypot(*begin) else "in"
        hour = clock(end if out == "out" else begin)
        if told and told[-1][0] == out and not told[-1][2]:  # an arm that bends is one arm
            hour = hour if out == "out" else told[-1][1]
            told.pop()
        ends = web.degree[key_of(way.leg.points[-1])]
        to = " to its tip" if ends == 1 else " to the centre" if ends >= _BRANCHED else ""
        told.append((out, hour, to))
    parts = (f"{out} along the middle of the {hour} arm{to}" for out, hour, to in told)
    return ", straight ".join(parts)


def _round(ways: Sequence[Way]) -> str:
    """Tell which way round a closed line is gone."""
    x, y = np.concatenate([way.leg.points[:-1] for way in ways]).T
    area = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    return "clockwise" if area > 0 else "anticlockwise"


def _bends(ways: Sequence[Way]) -> str:
    """Tell pivots and curves within seams."""
    pivots = [turn for way in ways for turn in pivots_in(way.leg)]
    if len(pivots) > _MANY:
        return f", round its {len(pivots)} corners"
    if pivots:
        return f", pivoting {join_words(pivots)} at its corner{'s' * (len(pivots) > 1)}"
    bent = [way.leg for way in ways if len(way.leg.points) > 2]  # noqa: PLR2004 - straight
    turned = sum(float(np.abs(inner_turns(leg)).sum()) for leg in bent)
    return ", following the curve" if turned > _CURVED else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
