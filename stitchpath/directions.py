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
import shapely
from shapely import LineString

from stitchpath.paths import path_lengths
from stitchpath.places import Places, clock, heading, join_words, side
from stitchpath.plan import Plan
from stitchpath.route.model import Leg, Run
from stitchpath.route.turning import PIVOT, Hand, hand, turn_angle
from stitchpath.typing import FloatArray, Kind
from stitchpath.units import format_distance, format_length

__all__ = ["RunDirections", "Step", "directions"]

_MANY = 3  # blocks told one by one, changes of side told one by one
_CURVED = 20.0  # degrees that a seam turns on its way to be called curved
_NEAR = 0.02  # mm


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do: a straight seam, a way round in the margin, a curve.

    Attributes
    ----------
    text
        Whole sentences.
    first_leg, last_leg
        Indices into the run's legs, both included; the steps of a run take in every leg once.
    turn
        How one turns into it; None at the start of a run.
    low
        Where the low side is from its first stitch on: "left", "right", or "" where there is none.
    """

    text: str
    first_leg: int
    last_leg: int
    turn: Hand | None = None
    low: Literal["left", "right", ""] = ""


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
    teller = _Teller(plan)
    return tuple(
        RunDirections(run.number, teller.headline(run), tuple(teller.steps(run)))
        for run in plan.runs
    )


@dataclass(frozen=True, slots=True)
class _Way:
    """A leg with what lies beside it: patches on the left and right (-1 none) and the low side."""

    leg: Leg
    length: float
    kind: str
    left: int = -1
    right: int = -1
    low: int = 0
    seam: bool = False


@dataclass(frozen=True)
class _Teller:
    plan: Plan

    @cached_property
    def places(self) -> Places:
        return Places(self.plan.top)

    def headline(self, run: Run) -> str:
        """Sum a run up in a line."""
        length = float(path_lengths([leg.points for leg in run.legs]).sum())
        ends = {"margin": "the margin", "edge": "the edge", "inside": "inside the top"}
        start, end = ends[run.start_where], ends[run.end_where]
        said = f"from {start} to {end}" if start != end else f"starts and ends in {start}"
        said = said.replace("in inside", "inside")
        far = format_distance(length, self.plan.top.unit)
        return f"Run {run.number}, {run.thread}: {far}, {said}"

    def steps(self, run: Run) -> Iterator[Step]:
        """Tell a run."""
        ways = self._ways(run)
        passes = list(_passes(ways))
        for k, (first, last) in enumerate(passes):
            mine = ways[first : last + 1]
            turn = _turn(ways[first - 1].leg, mine[0].leg) if first else None
            text = self._sentence(mine, turn, ways[first - 1] if first else None)
            if k == 0:
                text = f"{self._start(run)} {text[:1].upper()}{text[1:]}"
            if k == len(passes) - 1:
                text = f"{text} {self._end(run)}"
            low = next((w.low for w in mine if w.seam), 0)
            sides: dict[int, Literal["left", "right", ""]] = {-1: "left", 1: "right"}
            yield Step(text, first, last, turn, sides.get(low, ""))

    # What lies beside each leg

    def _ways(self, run: Run) -> list[_Way]:
        lengths = path_lengths([leg.points for leg in run.legs])
        return [
            self._way(leg, float(length)) for leg, length in zip(run.legs, lengths, strict=True)
        ]

    def _way(self, leg: Leg, length: float) -> _Way:
        if leg.do == "travel" and leg.along != "seam":
            return _Way(leg, length, "margin")
        kind, at = "travel", -1
        if leg.line >= 0:
            line = self.plan.lines[leg.line]
            kind, at = line.kind, line.seam
        else:
            at = self._seam_under(leg.points)
        if at < 0:
            return _Way(leg, length, kind)
        seam = self.plan.top.seams[at]
        low = seam.low
        if _runs_along(leg.points, seam.points):
            return _Way(leg, length, kind, seam.left, seam.right, low, seam=True)
        return _Way(leg, length, kind, seam.right, seam.left, -low, seam=True)

    def _seam_under(self, points: FloatArray) -> int:
        """Find the seam that a travel lies on."""
        middle = shapely.LineString(points).interpolate(0.5, normalized=True)
        found, away = self._seams.query_nearest(middle, return_distance=True, all_matches=False)
        return int(found[0]) if len(found) and away[0] < 1 else -1

    @cached_property
    def _seams(self) -> shapely.STRtree:
        return shapely.STRtree([LineString(seam.points) for seam in self.plan.top.seams])

    # Sentences

    def _sentence(self, ways: Sequence[_Way], turn: Hand | None, before: _Way | None) -> str:
        first = ways[0]
        lead = {
            None: "",
            "straight": "Straight on: ",
            "left": "Pivot left: ",
            "right": "Pivot right: ",
            "back": "Turn back: ",
        }[turn]
        if first.kind == "margin":
            text = self._margin(ways, start=before is None)
        elif first.seam:
            if before is not None and before.kind == "margin":
                lead = "Into the top: "
            text = lead + self._seam(ways, back=turn == "back")
        else:
            text = lead + self._shown(ways)
        return text[:1].upper() + text[1:]

    def _margin(self, ways: Sequence[_Way], *, start: bool) -> str:
        """Tell a way round in the margin, or along the edge."""
        begin, end = ways[0].leg.points[0], ways[-1].leg.points[-1]
        length = sum(w.length for w in ways)
        far = format_length(length, self.plan.top.unit)
        edge, beside = self.places.edge(end), self.places.beside(end)
        along = "along the edge" if ways[0].leg.along == "edge" else "in the margin"
        if start:
            return f"Come in over {edge} {beside}, {far}."
        on_top = shapely.dwithin(self.plan.top.outline, shapely.Point(end), _NEAR)
        if not on_top:
            return f"Out over {self.places.edge(begin)} into the margin, {far}."
        way = heading(end - begin)
        return f"Out over {self.places.edge(begin)}, {way} {along}, to {edge} {beside}, {far}."

    def _seam(self, ways: Sequence[_Way], *, back: bool) -> str:
        """Tell a way along seams."""
        begin, end = ways[0].leg.points[0], ways[-1].leg.points[-1]
        blocks = [p for w in ways for p in self._blocks_beside(w)]
        near = blocks[-1] if blocks else ""
        length = sum(w.length for w in ways)
        word = heading(end - begin if np.any(end != begin) else _leave(ways[0].leg))
        travel = "travel " if ways[0].kind == "travel" else ""
        again = _again(ways, self.plan.top.unit)
        along = "over the same seam" if back else self._along(ways)
        curve = " following the curve," if _curve(ways) else ""
        corner = _inner_corners(ways)
        to = self.places.at(end, near)
        far = format_length(length, self.plan.top.unit)
        return (
            f"{travel}{word} {along},{curve}{corner} to {to}, {far}{again}. {self._low(ways, near)}"
        ).strip()

    def _blocks_beside(self, way: _Way) -> list[str]:
        patches = self.plan.top.patches
        both = [patches[i] for i in (way.left, way.right) if i >= 0]
        return [p.place for p in both if p.part == "block"]

    def _along(self, ways: Sequence[_Way]) -> str:
        """Word what one goes along, as shortly as it can be told."""
        patches = self.plan.top.patches
        lefts = list(dict.fromkeys(w.left for w in ways))
        rights = list(dict.fromkeys(w.right for w in ways))
        left_units = list(dict.fromkeys(patches[i].place for i in lefts))
        right_units = list(dict.fromkeys(patches[i].place for i in rights))
        way = ways[-1].leg.points[-1] - ways[0].leg.points[0]
        if not np.any(way):
            way = _leave(ways[0].leg)
        on_left, on_right = np.array([way[1], -way[0]]), np.array([-way[1], way[0]])
        if left_units == right_units and len(left_units) == 1:
            return self._within(lefts, rights, left_units[0], on_left, on_right)
        single = [
            (i, toward)
            for units, i, toward in (
                (left_units, lefts[0], on_right),
                (right_units, rights[0], on_left),
            )
            if len(units) == 1
        ]
        if len(single) == 2:  # noqa: PLR2004 - one unit on either side
            one, other = sorted(single, key=lambda s: self.places.rank(s[0]))
            ranks = self.places.rank(one[0]), self.places.rank(other[0])
            if ranks[0] == 0 and ranks[1] > 0:
                return f"along the {side(one[1])} of {self.places.unit(one[0])}"
            names = [self.places.unit(i) for i in (lefts[0], rights[0])]
            return f"between {join_words(names)}"
        blocks = self._blocks_passed(ways)
        passed = f", past {_listed(blocks)}" if blocks else ""
        if single:
            return f"along the {side(single[0][1])} of {self.places.unit(single[0][0])}{passed}"
        return self._across(ways, on_left, on_right)

    def _within(
        self,
        lefts: Sequence[int],
        rights: Sequence[int],
        place: str,
        on_left: FloatArray,
        on_right: FloatArray,
    ) -> str:
        """Word a way within one block."""
        places = self.places
        name = places.unit(lefts[0])
        if len(lefts) == len(rights) == 1:
            one, other = places.patch(lefts[0]), places.patch(rights[0])
            if one == other:
                return f"between two patches of {one} in {name}"
            return f"between {one} and {other} in {name}"
        if len(lefts) == 1:
            return f"along the {side(on_right)} of the {places.patch(lefts[0])} in {name}"
        if len(rights) == 1:
            return f"along the {side(on_left)} of the {places.patch(rights[0])} in {name}"
        return f"through {place}"

    def _blocks_passed(self, ways: Sequence[_Way]) -> list[str]:
        return list(dict.fromkeys(p for w in ways for p in self._blocks_beside(w)))

    def _across(self, ways: Sequence[_Way], on_left: FloatArray, on_right: FloatArray) -> str:
        """Word a way past several blocks, or through them."""
        patches = self.plan.top.patches
        blocks = self._blocks_passed(ways)
        if not blocks:
            names = [self.places.unit(i) for i in (ways[0].left, ways[-1].left)]
            return f"along {join_words(list(dict.fromkeys(names)))}"
        left = {patches[w.left].place for w in ways if patches[w.left].part == "block"}
        right = {patches[w.right].place for w in ways if patches[w.right].part == "block"}
        if not left:
            return f"along the {side(on_left)} of {_listed(blocks)}"
        if not right:
            return f"along the {side(on_right)} of {_listed(blocks)}"
        return f"through {_listed(blocks)}"

    def _low(self, ways: Sequence[_Way], near: str) -> str:
        """Tell where the low side is, and where it changes."""
        words = {-1: "left", 0: "neither side", 1: "right"}
        changes = [k for k in range(1, len(ways)) if ways[k].low != ways[k - 1].low]
        begin = ways[0].low
        if not changes:
            if begin == 0:
                return "This seam is pressed open: keep right on it."
            return f"The low side is on your {words[begin]}."
        if len(changes) > _MANY:
            return (
                f"The low side is first on your {words[begin]} and changes {len(changes)} times: "
                "feel for it at each crossing."
            )
        parts = [
            f"from {self.places.at(ways[k].leg.points[0], near)} on, on your {words[ways[k].low]}"
            for k in changes
        ]
        said = f"The low side is on your {words[begin]}; " + "; ".join(parts) + "."
        return said.replace("on your neither", "on neither")

    def _shown(self, ways: Sequence[_Way]) -> str:
        """Tell a way along a line that shows: the middle of a piece, an outline, a fill."""
        line = self.plan.lines[ways[0].leg.line]
        begin, end = ways[0].leg.points[0], ways[-1].leg.points[-1]
        far = format_length(sum(w.length for w in ways), self.plan.top.unit)
        again = _again(ways, self.plan.top.unit)
        what = {
            "centre": "the line through the middle of",
            "outline": "the outline of",
            "echo": "the echo round",
            "fill": "the fill of",
            "drawn": "the drawn line,",
        }.get(line.kind, "the line of")
        if np.all(begin == end) and len(ways) == 1:
            return f"once round along {what} {line.place}, {far}{again}."
        to = self.mark(ways[-1].leg.line, end)
        through = [self.mark(w.leg.line, w.leg.points[-1]) for w in ways[:-1] if w.leg.line >= 0]
        by = f", through {join_words(through)}," if 0 < len(through) <= _MANY else ""
        return f"along {what} {line.place}{by} to {to}, {far}{again}."

    def mark(self, line: int, point: FloatArray) -> str:
        """Name a place on lines that show: a tip by the clock, the middle, or where lines meet."""
        of = self.plan.lines[line]
        degree, middle, junctions = self._graphs[of.stage, of.thread, of.kind, of.place]
        key = _key(point)
        if degree[key] > 2:  # noqa: PLR2004 - lines branch
            if junctions == 1:
                return "the middle"
            return f"the fork at {clock(point - middle)}"
        if degree[key] == 1:
            return f"the tip at {clock(point - middle)}"
        return f"the place at {clock(point - middle)}"

    @cached_property
    def _graphs(
        self,
    ) -> dict[tuple[int, str, Kind, str], tuple[dict[tuple[int, int], int], FloatArray, int]]:
        """Count line ends at each place, by figure; its middle; how many places branch."""
        counts: dict[tuple[int, str, Kind, str], dict[tuple[int, int], int]] = {}
        points: dict[tuple[int, str, Kind, str], list[FloatArray]] = {}
        for line in self.plan.lines:
            if line.seam >= 0:
                continue
            group = line.stage, line.thread, line.kind, line.place
            degree = counts.setdefault(group, defaultdict(int))
            for end in (line.points[0], line.points[-1]):
                degree[_key(end)] += 1
            points.setdefault(group, []).append(line.points)
        found = {}
        for group, degree in counts.items():
            forks = [key for key, n in degree.items() if n > 2]  # noqa: PLR2004
            box = np.concatenate(points[group])
            middle = (box.min(axis=0) + box.max(axis=0)) / 2
            if len(forks) == 1:
                middle = np.array(forks[0]) / 1000
            found[group] = degree, middle, len(forks)
        return found

    def _start(self, run: Run) -> str:
        point = run.legs[0].points[0]
        if run.start_where == "margin":
            return f"Start in the margin outside {self.places.edge(point)}."
        if run.start_where == "edge":
            return f"Start on {self.places.edge(point)} {self.places.beside(point)}."
        return f"Start inside, at {self._spot(run.legs[0], point)}."

    def _end(self, run: Run) -> str:
        if run.end_where == "margin":
            return "Stop there and trim the threads."
        if run.end_where == "edge":
            return "Stop on the edge."
        return "Stop there, secure the threads and bury the tails."

    def _spot(self, leg: Leg, point: FloatArray) -> str:
        if leg.line < 0 or self.plan.lines[leg.line].seam >= 0:
            return self.places.at(point)
        line = self.plan.lines[leg.line]
        if np.all(leg.points[0] == leg.points[-1]):
            return f"{line.place}, at {self.places.at(point)}"
        return f"{self.mark(leg.line, point)} of {line.place}"


def _passes(ways: Sequence[_Way]) -> Iterator[tuple[int, int]]:
    """Split a run where the path turns, or what it does becomes another thing."""
    first = 0
    for k in range(1, len(ways)):
        before, after = ways[k - 1], ways[k]
        if before.kind == after.kind == "margin":
            continue
        if (
            before.kind != after.kind
            or _turn(before.leg, after.leg) != "straight"
            or _corners(before.leg)
            or _corners(after.leg)
        ):
            yield first, k - 1
            first = k
    yield first, len(ways) - 1


def _turn(before: Leg, after: Leg) -> Hand:
    return hand(float(turn_angle(_arrive(before), _leave(after))))


def _arrive(leg: Leg) -> FloatArray:
    return np.asarray(leg.points[-1] - leg.points[-2])


def _leave(leg: Leg) -> FloatArray:
    return np.asarray(leg.points[1] - leg.points[0])


def _corners(leg: Leg) -> list[float]:
    """List the pivots within a leg, degrees."""
    if len(leg.points) < 3:  # noqa: PLR2004 - straight
        return []
    way = np.diff(leg.points, axis=0)
    turns = turn_angle(way[:-1], way[1:])
    return [float(t) for t in turns[np.abs(turns) > PIVOT]]


def _inner_corners(ways: Sequence[_Way]) -> str:
    """Tell the pivots within a seam."""
    turns = [hand(t) for w in ways for t in _corners(w.leg)]
    if not turns:
        return ""
    if len(turns) > _MANY:
        return f" round its {len(turns)} corners,"
    return f" pivoting {join_words(turns)} at its corner{'s' * (len(turns) > 1)},"


def _curve(ways: Sequence[_Way]) -> bool:
    total = 0.0
    for w in ways:
        if len(w.leg.points) > 2:  # noqa: PLR2004 - straight
            way = np.diff(w.leg.points, axis=0)
            turns = np.abs(turn_angle(way[:-1], way[1:]))
            total += float(turns[turns <= PIVOT].sum())
    return total > _CURVED


def _again(ways: Sequence[_Way], unit: str) -> str:
    """Tell what is stitched a second time."""
    second = [w.leg.do == "retrace" for w in ways]
    if not any(second):
        return ""
    if all(second):
        return ", a second time"
    far = format_length(sum(w.length for w, s in zip(ways, second, strict=True) if s), unit)  # type: ignore[arg-type]
    if second[0] and not any(second[second.index(False) :]):
        return f", the first {far} a second time"
    if second[-1] and not any(second[: len(second) - second[::-1].index(False)]):
        return f", the last {far} a second time"
    return f", {far} of it a second time"


def _listed(blocks: Sequence[str]) -> str:
    if len(blocks) <= _MANY:
        return join_words(list(blocks))
    return f"{blocks[0]} to {blocks[-1]} ({len(blocks)} blocks)"


def _key(point: FloatArray) -> tuple[int, int]:
    return round(float(point[0]) * 1000), round(float(point[1]) * 1000)


def _runs_along(points: FloatArray, line: FloatArray) -> bool:
    """Tell whether a leg runs the way of the line that it lies on."""
    middle, way = (points[0] + points[1]) / 2, points[1] - points[0]
    start, step = line[:-1], np.diff(line, axis=0)
    share = ((middle - start) * step).sum(axis=1) / np.maximum((step * step).sum(axis=1), 1e-12)
    foot = start + np.clip(share, 0, 1)[:, None] * step
    nearest = int(np.argmin(np.hypot(*(foot - middle).T)))
    return bool(way @ step[nearest] > 0)
