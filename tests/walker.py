"""Walks the words of a plan: from its start, by each sentence and the quilt alone, to its end.

The walker knows what lies before her eyes: the seams of the top, the outlines of pieces and the
lines that show, with their names. It never looks at legs: only `lost_runs` does, once the walk is
done, to see whether it ended where the run ends. Each sentence has to lead to one place and no
other under a needle; else it tells which sentence failed and why.
"""

import itertools
import math
import re
from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import shapely
from scipy.cluster.hierarchy import DisjointSet
from scipy.spatial import cKDTree
from shapely import LineString, Point, Polygon

from stitchpath.told.directions import directions
from stitchpath.told.landmarks import Landmarks

MM = {"in": 25.4, "cm": 10.0, "mm": 1.0}
NEAR = 0.06  # mm: on it
SAME = 0.02  # mm: ends so near to each other are one
NEEDLE = 1.0  # mm: places nearer to each other are one under a needle
ROW_GAP, ROW = 6.2, 30.0  # mm: places so near to the next are in a row; so long a row may be
APART = 0.5  # mm: so far apart two places are seen as two
SMOOTH, PIVOT, BACK = 3.0, 30.0, 170.0  # degrees
QUARTER = 6.4  # mm, 1/4 in: what is nearer to a side is told as at it
LENGTH = r"(?:\d+ \d+/\d+ in|\d+(?:/\d+)? in|[\d.]+ [cm]m|a stitch)"
HEADINGS = {
    "across to the right": 0, "slanting down to the right": 45, "down": 90,
    "slanting down to the left": 135, "across to the left": 180, "slanting up to the left": 225,
    "up": 270, "slanting up to the right": 315,
}  # fmt: skip
SIDES = {
    "right side": 0, "lower right side": 45, "bottom": 90, "lower left side": 135,
    "left side": 180, "upper left side": 225, "top": 270, "upper right side": 315,
}  # fmt: skip
WORDS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"]
ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"]
HEAD = "|".join(sorted(HEADINGS, key=len, reverse=True))
SIDE = "|".join(sorted(SIDES, key=len, reverse=True))
ARM = r"(?:in|out) along the middle of the \d+ o'clock arm(?: to its tip| to the centre)?"
PARTS = {"half": 2, "third": 3, "quarter": 4, "fifth": 5, "sixth": 6, "eighth": 8}
COUNTS = {"a": 1, "an": 1, "two": 2, "three": 3, "four": 4, "five": 5, "seven": 7}
SHARE = rf"(?:halfway|(?:{'|'.join(COUNTS)}) (?:{'|'.join(PARTS)})s? of the way)"


MEASURED = (
    rf", (?:{SHARE}|{LENGTH}) across and (?:{SHARE}|{LENGTH}) down .*$"
    rf"|, at the (?:(?:{SIDE}) of .*, (?:{SHARE}|{LENGTH}) (?:down|across)|.* corner of .*)$"
)
LEAD = (
    r"(?:^|(?<=\. ))(Straight on|Bear left|Bear right|Pivot left|Pivot right|Turn back)"
    r"(?: onto the (\w+) (?:seam|line) as you turn)?: "
)
OFF = ("Out over", "Along the edge,", "In the margin,")
OUT = r"(?:out over .*? into|in) the margin(?:, (.*?), and in again at (.*): .*|, .*)"


class LostError(AssertionError):
    """A sentence that leads nowhere, or to more than one place."""


def mm(text):
    """Read a length: mm, and how far off it may be for an eye that judges it."""
    if text == "a stitch":
        return 1.0, 1.0 + NEAR
    number, unit = text.rsplit(" ", 1)
    length = float(sum(map(Fraction, number.split()))) * MM[unit]
    if unit == "in":
        return length, 25.4 / (8 if length > 50.7 else 32) + NEAR
    return length, (2.5 if length >= 50 else 0.5 if unit == "cm" or length >= 10 else 0.05) + NEAR


def nth(word):
    """Read which of several: "third", "12th", counted from 0."""
    return ORDINALS.index(word) if word in ORDINALS else int(re.match(r"\d+", word)[0]) - 1


def share(text):
    """Read a share of the way: "two thirds of the way"."""
    if text == "halfway":
        return 0.5
    count, part, *_ = text.split()
    return COUNTS[count] / PARTS[part.rstrip("s")]


def angle(came, goes):
    """Degrees from one way to another, to the right positive."""
    cross = came[0] * goes[1] - came[1] * goes[0]
    return math.degrees(math.atan2(cross, came[0] * goes[0] + came[1] * goes[1]))


def faces(way, word, table):
    """Tell whether a way lies in the eighth of the circle that a word means."""
    return abs((math.degrees(math.atan2(way[1], way[0])) - table[word] + 180) % 360 - 180) < 23.5


def headed(gone, head):
    """Tell whether a way leads where a word says; "" is any way, and so is a way back."""
    return not head or np.hypot(*gone) <= NEAR or faces(gone, head, HEADINGS)


def corners(ring):
    """Give the corners of a ring without what lies straight between them."""
    ring = np.array(ring)[:-1]
    turned = [
        abs(angle(b - a, c - b)) > 5
        for a, b, c in zip(np.roll(ring, 1, 0), ring, np.roll(ring, -1, 0), strict=True)
    ]
    return ring[np.array(turned)]


@dataclass(frozen=True, eq=False)
class Edge:
    """A bit of seam, or a line that shows, between two places where something else begins."""

    points: np.ndarray
    seam: int
    name: str
    kind: str
    ends: tuple[int, int]


@dataclass(frozen=True, eq=False)
class State:
    """Where she stands, on which edge and which way she came."""

    at: np.ndarray
    came: np.ndarray | None
    path: tuple = ()  # edges of the last step, as (edge, forward)
    through: np.ndarray | None = None  # its points


class Ground:
    """What she sees for one stage and thread: a graph of seams and of lines that show."""

    def __init__(self, walker, stage, thread):
        plan = walker.plan
        shown = [
            (k, line) for k, line in enumerate(plan.lines)
            if line.seam < 0 and (line.stage, line.thread) == (stage, thread)
        ]  # fmt: skip
        pieces = [(line.points, -1, walker.names.line(line), line.kind) for _, line in shown]
        ends = [p for _, line in shown for p in (line.points[0], line.points[-1])]
        tree = shapely.STRtree([Point(p) for p in ends])
        for k, seam in enumerate(plan.top.seams):
            path = LineString(seam.points)
            met = {round(path.project(Point(ends[i])), 3)
                   for i in tree.query(path, predicate="dwithin", distance=NEAR)}  # fmt: skip
            cuts = sorted(s for s in met if NEAR < s < path.length - NEAR)
            for a, b in itertools.pairwise([0.0, *cuts, path.length]):
                part = shapely.ops.substring(path, a, b)
                pieces.append((np.array(part.coords), k, "", "seam"))
        tips = np.array([p for points, *_ in pieces for p in (points[0], points[-1])])
        groups = DisjointSet(range(len(tips)))
        for a, b in cKDTree(tips).query_pairs(SAME) if len(tips) else ():
            groups.merge(a, b)
        nodes = [groups[k] for k in range(len(tips))]
        self.at = {node: tips[node] for node in nodes}
        self.edges = [Edge(*piece, (nodes[2 * k], nodes[2 * k + 1]))
                      for k, piece in enumerate(pieces)]  # fmt: skip
        self.out = defaultdict(list)
        for edge in self.edges:
            self.out[edge.ends[0]].append((edge, True))
            self.out[edge.ends[1]].append((edge, False))
        self.keys = list(self.at)
        self.tree = cKDTree([self.at[k] for k in self.keys]) if self.keys else None
        self.lines = shapely.STRtree([LineString(e.points) for e in self.edges])
        self.middles = {}
        for name in {e.name for e in self.edges if e.name}:
            mine = [e for e in self.edges if e.name == name]
            degree = defaultdict(int)
            for e in mine:
                for node in e.ends:
                    degree[node] += 1
            forks = [node for node, many in degree.items() if many > 2]
            points = np.concatenate([e.points for e in mine])
            middle = (points.min(axis=0) + points.max(axis=0)) / 2
            self.middles[name] = self.at[forks[0]] if len(forks) == 1 else middle

    def nodes_near(self, point, far):
        """Give the nodes near a place."""
        return [self.keys[k] for k in self.tree.query_ball_point(point, far)] if self.tree else []

    def degree(self, node, name):
        """Count the ends of lines of a name at a node."""
        return sum(edge.name == name for edge, _ in self.out[node])

    def starts(self, state):
        """Give the ways on from a place: an edge, forward or not, and its points from there."""
        nodes = self.nodes_near(state.at, NEAR)
        if nodes:
            for node in nodes:
                for edge, ahead in self.out[node]:
                    yield edge, ahead, edge.points if ahead else edge.points[::-1]
            return
        for k in self.lines.query(Point(state.at), predicate="dwithin", distance=NEAR):
            path = LineString(self.edges[k].points)
            at = path.project(Point(state.at))
            for ahead, part in ((True, (at, path.length)), (False, (at, 0.0))):
                yield self.edges[k], ahead, np.array(shapely.ops.substring(path, *part).coords)

    def chains(self, edge, ahead, points, most):
        """Follow an edge straight on, as far as a step can go: each way as edges and points."""
        stack = [([(edge, ahead)], points)]
        done = []
        while stack:
            path, points = stack.pop()
            edge, ahead = path[-1]
            length = np.hypot(*np.diff(points, axis=0).T).sum()
            node = edge.ends[1] if ahead else edge.ends[0]
            onward = [] if length > most or len(path) > 400 else self._onward(edge, points, node)
            for other, way in onward:
                more = other.points if way else other.points[::-1]
                stack.append(([*path, (other, way)], np.concatenate([points, more[1:]])))
            if len(stack) + len(done) > 200:  # no one would find her way there
                raise LostError("too many ways to go on")
            if not onward:
                done.append((path, points))
        return done

    def _onward(self, edge, points, node):
        """Give the edges that a step goes on along at a node."""
        came = points[-1] - points[-2]
        others = [(e, w) for e, w in self.out[node] if e is not edge]
        if not edge.name:
            return [
                (e, w) for e, w in others
                if not e.name and (
                    is_straight(points, e.points if w else e.points[::-1])
                    or (e.seam == edge.seam and abs(angle(came, leave(e, w))) <= PIVOT)
                )
            ]  # fmt: skip
        mine = [(e, w) for e, w in others if e.name == edge.name]
        if sum(bool(e.name) for e, _ in self.out[node]) <= 2:
            if edge.kind == "centre":
                mine = [(e, w) for e, w in mine if abs(angle(came, leave(e, w))) <= PIVOT]
            return [(e, w) for e, w in mine if abs(angle(came, leave(e, w))) < BACK]
        return [(e, w) for e, w in mine if is_straight(points, e.points if w else e.points[::-1])]


def leave(edge, ahead):
    """Give the way in which an edge begins."""
    return edge.points[1] - edge.points[0] if ahead else edge.points[-2] - edge.points[-1]


def is_straight(before, after):
    """Tell whether one path goes straight on into another; curves by what they turn beside it."""
    turn = angle(before[-1] - before[-2], after[1] - after[0])
    if abs(turn) <= SMOOTH:
        return True
    if len(before) < 3 or len(after) < 3:
        return False
    beside = [angle(before[-2] - before[-3], before[-1] - before[-2]),
              angle(after[1] - after[0], after[2] - after[1])]  # fmt: skip
    return max(map(abs, beside)) <= PIVOT / 2 and abs(turn - sum(beside) / 2) <= SMOOTH


class Walker:
    """Walks the runs of a plan by their words."""

    def __init__(self, plan):
        self.plan, top = plan, plan.top
        self.places = plan.places
        self.names = Landmarks(plan)  # what lines are called; where they lie is seen
        self.grounds = {}
        self.units = defaultdict(list)
        self.patches = defaultdict(list)
        for k, patch in enumerate(top.patches):
            self.units[self.places.unit(k)].append(patch.polygon)
            self.patches[f'"{self.places.patch(k)}" in {self.places.unit(k)}'].append(patch.polygon)
        self.blocks = {
            self.places.block(block.place): Polygon(block.corners) for block in top.blocks
        }
        self.pieces = defaultdict(list)
        for piece in top.pieces:
            self.pieces[self.places.piece(piece.number, the=True)].append(piece.shape)
        self.tree = shapely.STRtree([patch.polygon for patch in top.patches])

    def ground(self, stage, thread):
        """Give what she sees for one stage and thread."""
        if (stage, thread) not in self.grounds:
            self.grounds[stage, thread] = Ground(self, stage, thread)
        return self.grounds[stage, thread]

    def walk(self, texts, stage, thread):
        """Walk the sentences of a run; give the place reached after each of its steps."""
        reached = []
        ground, states = self.ground(stage, thread), []
        for k, text in enumerate(texts):
            try:
                states = Sentence(self, ground, text).walk(states)
            except LostError as error:
                raise LostError(f"step {k + 1}: {error}: {text}") from None
            reached.append(states[0].at)
        return reached


def lost_runs(plan):
    """Tell of each run whose words do not lead from its start to its end, why."""
    walker, found = Walker(plan), []
    for run, told in zip(plan.runs, directions(plan), strict=True):
        try:
            reached = walker.walk([step.text for step in told.steps], run.stage, run.thread)
        except LostError as error:
            found.append(f"run {run.number}, {error}")
            continue
        # A run that ends in the margin is walked to where it leaves the top.
        on = [leg for leg in run.legs if leg.along != "margin" or run.end_where == "edge"]
        if on and np.hypot(*(reached[-1] - on[-1].points[-1])) > NEEDLE:
            found.append(f"run {run.number} ends at {on[-1].points[-1]}, walked to {reached[-1]}")
    return found


class Sentence:
    """One step, read and walked."""

    def __init__(self, walker, ground, text):
        self.w, self.g, self.text = walker, ground, text
        self.which = None  # of several ways close together, counted as one turns

    def walk(self, states):
        """Give the places to which it leads."""
        text = re.sub(r"^Needle down, change to the \S+ foot\. ", "", self.text)
        text = re.sub(r"^Needle down, roll the quilt [^.]*(?:\.\d[^.]*)*\. ", "", text)
        lead = re.search(LEAD, text)
        start = re.search(r"(?:^|(?<=\. ))Start (in the margin|on|inside the top)", text)
        turn = None
        if start:
            text, states, turn = self.start(text[start.start() :])
        elif lead:
            text, turn = text[lead.end() :], lead[1].lower()
            self.which = nth(lead[2]) if lead[2] else None
        elif states and states[0].path and not text.startswith(OFF):
            raise LostError("it says no turn")
        else:
            turn = "straight on"
        main = re.split(r"\.(?= [A-Z]|$)", text)[0]
        main = main[:1].lower() + main[1:]
        out = re.fullmatch(OUT, main)
        along = re.fullmatch(rf"along the edge, ({HEAD}).*?, to (.*), {LENGTH}", main)
        if out:
            return self.at_door(out[2]) if out[2] else states
        if along:
            return self.at_door(along[2], loose=True)
        found = [new for state in states for new in self.step(state, turn, main)]
        return one_place(found)

    # Starts

    def start(self, text):
        first, rest = re.split(r"\.(?= [A-Z])", text, maxsplit=1)
        rest, turn = rest.strip(), None
        if first.startswith("Start in the margin"):
            door = re.fullmatch(rf"Start in the margin, {LENGTH} outside (.*)", first)[1]
            over, rest = re.split(r"\.(?= [A-Z])", rest, maxsplit=1)
            turn = re.fullmatch(r"Sew in over the edge(?: and (.*))?", over)[1] or "straight on"
            return rest.strip(), self.at_door(door), turn
        if first.startswith("Start on "):
            return rest, self.at_door(first.removeprefix("Start on "), loose=True), None
        where, which = which_of(first.removeprefix("Start inside the top, at "))
        nodes = self.nodes_at(where)
        marks = self.landmark(where)
        if which:
            bare = re.sub(MEASURED, "", where)
            nodes = pick(self.nodes_at(bare), self.g.at, nodes, which)
        if not nodes:
            found = [at for at in self.on_outlines(where) if marks(None, at)]
            return rest, [State(at, None) for at in found], None
        return rest, [State(self.g.at[node], None) for node in nodes], None

    def nodes_at(self, where):
        """Find the places that a landmark names."""
        marks = self.landmark(where)
        return [n for n in self.g.at if marks(n, self.g.at[n])]

    def on_outlines(self, where):
        """Find the places where seams go under a piece, or over the end of a pass."""
        for line in self.outlines(where):
            for edge in self.g.edges:
                path = LineString(edge.points)
                met = path.intersection(line)
                met = path.intersection(line.buffer(0.25)) if met.is_empty else met
                for part in getattr(met, "geoms", [met]):
                    if not part.is_empty:
                        yield np.array(part.centroid.coords[0])

    def outlines(self, mark):
        """Give the outlines that a landmark names: of pieces, of a pass."""
        for name, some in self.w.pieces.items():
            if name in mark:
                yield from (shape.boundary for shape in some)
        ended = re.match(r"the end of pass (\d+)", mark)
        if ended:
            level = self.w.plan.levels[int(ended[1]) - 1]
            yield LineString([(-1e5, level), (1e5, level)])

    def at_door(self, door, *, loose=False):
        """Find where lines come over the edge of the top at a door."""
        door, which = which_of(door)
        edge, _, where = door.partition(", ")
        outline = self.w.plan.top.outline
        on = self.edge_of_top(edge)
        found, at_edge = [], [n for n, at in self.g.at.items() if on.distance(Point(at)) < NEAR]
        fits = [n for n in at_edge if self.is_door(self.g.at[n], edge, where)]
        if which:
            bare = where if where.startswith("between") else ""
            alike = [n for n in at_edge if self.is_door(self.g.at[n], edge, bare)]
            fits = pick(alike, self.g.at, fits, which)
        for at in (self.g.at[n] for n in fits):
            inward = np.array(outline.centroid.coords[0]) - at
            upright = "left" in edge or "right" in edge
            way = (
                np.array([np.sign(inward[0]), 0]) if upright else np.array([0, np.sign(inward[1])])
            )
            found.append(State(at, None if loose or "corner" in edge else way))
        return one_place(found)

    def is_door(self, at, edge, where):
        if not where:
            return True
        if where.startswith("between "):
            here = {self.w.places.unit(int(k)) for k in
                    self.w.tree.query(Point(at), predicate="dwithin", distance=NEAR)}  # fmt: skip
            orders = itertools.permutations(sorted(here)) if 1 < len(here) < 5 else ()
            return any(where == f"between {', '.join(o[:-1])} and {o[-1]}" for o in orders)
        unit, far = re.fullmatch(rf"at (.*?), ({SHARE}|{LENGTH}) (?:down|across)",
                                 where).groups()  # fmt: skip
        shape = self.unit(unit)[0]
        if shape.distance(Point(at)) > NEAR:
            return False
        left, top, right, low = shape.bounds
        upright = "left" in edge or "right" in edge
        here = at[1] - top if upright else at[0] - left
        return is_far(here, low - top if upright else right - left, far)

    def edge_of_top(self, edge):
        left, top, right, low = self.w.plan.top.outline.bounds
        x = {"left": left, "right": right}
        y = {"top": top, "bottom": low}
        corner = re.fullmatch(r"the (top|bottom) (left|right) corner of the top", edge)
        if corner:
            return Point(x[corner[2]], y[corner[1]])
        side = re.fullmatch(r"the (left|right|top|bottom) edge", edge)[1]
        if side in x:
            return LineString([(x[side], top), (x[side], low)])
        return LineString([(left, y[side]), (right, y[side])])

    # Steps

    def step(self, state, turn, main):
        """Walk one way: along arms, once round, along a line that shows, or along seams."""
        arms = re.fullmatch(rf"({ARM}(?:, straight {ARM})*) of (.*), ({LENGTH})"
                            r"(?:, stitched already| \(.*\))?", main)  # fmt: skip
        if arms:
            return self.arms(state, turn, *arms.groups())
        ring = re.fullmatch(rf"once round along (.*), (clockwise|anticlockwise), ({LENGTH})"
                            r"(?:, stitched already| \(.*\))?", main)  # fmt: skip
        if ring:
            return self.ring(state, turn, *ring.groups())
        way = re.fullmatch(rf"(?P<way>.*?), to (?P<mark>(?:(?!, to ).)*), (?P<far>{LENGTH})"
                           r"(?:, stitched already| \(.*\))?", main)  # fmt: skip
        if not way:
            raise LostError("no such sentence")
        line = re.fullmatch(rf"along (.*?)(?: with its turns)?, ({HEAD})", way["way"])
        if line:
            return self.go(state, turn, line[2], line[1], "", way["mark"], way["far"])
        seam = re.fullmatch(rf"(?:travel )?({HEAD}) (.*)", way["way"])
        if not seam:
            raise LostError("no such sentence")
        return self.go(state, turn, seam[1], "", seam[2], way["mark"], way["far"])

    def ways(self, state, turn, name):
        """Give the ways on along seams, or along a line, that a turn may mean."""
        found = [way for way in self.turned(state, turn) if way[0].name == name]
        if self.which is None or state.came is None:
            return found
        turns = [abs(angle(state.came, points[1] - points[0])) for *_, points in found]
        return [way for way, by in zip(found, turns, strict=True)
                if sum(other < by - 0.01 for other in turns) == self.which]  # fmt: skip

    def turned(self, state, turn):
        for edge, ahead, points in self.g.starts(state):
            if turn is None or state.came is None:
                yield edge, ahead, points
                continue
            by = angle(state.came, points[1] - points[0])
            straight = abs(by) <= SMOOTH + 0.5
            if state.through is not None and len(state.through) > 1:
                straight = straight or is_straight(state.through, points)
            fits = {
                "straight on": straight,
                "bear left": (not straight or by < -SMOOTH) and -PIVOT - 0.5 <= by < 0,
                "bear right": (not straight or by > SMOOTH) and 0 < by <= PIVOT + 0.5,
                "pivot left": -BACK - 0.5 < by < -PIVOT,
                "pivot right": PIVOT < by < BACK + 0.5,
                "turn back": abs(by) >= BACK - 0.5,
            }[turn]
            if fits:
                yield edge, ahead, points

    def go(self, state, turn, head, name, course, mark, far):
        length, off = mm(far)
        again = course.startswith("over the same seam")
        found = []
        for edge, ahead, points in self.ways(state, turn, name):
            if again and state.path and (edge, not ahead) != state.path[-1]:
                continue
            for path, way in self.g.chains(edge, ahead, points, length + off):
                found += self.stops(path, way, head, course, mark, length, off)
        return found

    def stops(self, path, way, head, course, mark, length, off):
        """Find where on a chain a step may end: so far, at that landmark, in that direction."""
        close = re.fullmatch(r"(.*), the (\w+) of \w+ close together", mark)
        if close:
            found = self.stops(path, way, "", course, close[1], length, off + ROW)
            gone = {s: [np.hypot(*np.diff(s.through, axis=0).T).sum(), 0.0] for s in found}
            found = [s for s, (far, _) in gone.items() if far > NEAR]  # not where she stands
            fits = [s for s, (far, _) in gone.items() if abs(far - length) <= off]
            found = pick(found, gone, fits, (nth(close[2]), 0))
            yield from (s for s in found if headed(s.at - way[0], head))
            return
        done = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))])
        marks = self.landmark(mark, path[0][0].name, course)
        chain = LineString(way)
        side = re.match("the (near|far) edge of", mark)
        for s, node in self.candidates(path, way, done, chain, mark, course, length, off):
            at = np.array(chain.interpolate(s).coords[0])
            if not marks(node, at):
                continue
            if side and side[1] not in self.coming(chain, s, mark):
                continue
            if not headed(at - way[0], head):
                continue
            k = max(int(np.searchsorted(done, s - 1e-6)), 1)
            passed = self.passed(path, s, done)
            if not self.fits(passed, way, course):
                continue
            through = np.concatenate([way[:k], [at]])
            yield State(at, way[k] - way[k - 1], tuple(passed), through)

    def coming(self, chain, s, mark):
        """Tell whether she comes to a piece from outside, or over it."""
        shapes = self.w.pieces[mark.partition(" edge of ")[2]]
        before = [chain.interpolate(max(s - back, s / 2)) for back in (0.3, 0.6)]
        return {"far" if any(shape.covers(at) for shape in shapes) else "near" for at in before}

    def ends(self, path, total):
        lengths = [LineString(e.points).length for e, _ in path]
        lengths[0] += total - sum(lengths)  # begun within its first edge
        return np.cumsum(lengths)

    def passed(self, path, s, done):
        ends = self.ends(path, done[-1])
        count = int(np.searchsorted(ends, s - NEAR)) + 1
        return path[:count]

    def candidates(self, path, way, done, chain, mark, course, length, off):
        """Give places on a chain where something is: nodes, and where it meets an outline."""
        del way, course
        low, high = length - off, length + off
        for (edge, ahead), end in zip(path, self.ends(path, done[-1]), strict=True):
            if low <= end <= high:
                yield float(end), edge.ends[1] if ahead else edge.ends[0]
        rolled = [LineString([(-1e5, y), (1e5, y)]) for y in self.w.plan.levels]
        for line in [*self.outlines(mark), *rolled]:
            exact = chain.intersection(line)
            met = (
                exact
                if self.ranged(chain, exact, low, high)
                else chain.intersection(line.buffer(0.25))
            )
            for part in getattr(met, "geoms", [met]):
                if not part.is_empty:
                    a, b = sorted(
                        chain.project(Point(p)) for p in (part.coords[0], part.coords[-1])
                    )
                    a, b = max(a, low), min(b, high)
                    yield from ((s, None) for s in (a, (a + b) / 2, b) if a <= b)

    def ranged(self, chain, met, low, high):
        """Tell whether some of what a chain meets lies as far along as is said."""
        parts = [part for part in getattr(met, "geoms", [met]) if not part.is_empty]
        return any(low <= chain.project(part.centroid) <= high for part in parts)

    def fits(self, path, way, course):
        """Hold the seams walked against what the sentence says one goes along."""
        if not course:
            return True
        course = re.sub(r"^over the same seam(?: and on )?", "", course)
        two = re.match(r'between "(.*?)" and "(.*?)" in (.+?)(?:,|$)', course)
        if two:
            name = self.w.places
            for edge, _ in path:
                seam = self.w.plan.top.seams[edge.seam]
                if {name.patch(seam.left), name.patch(seam.right)} != {two[1], two[2]}:
                    return False
                if {name.unit(seam.left), name.unit(seam.right)} != {two[3]}:
                    return False
        side = re.match(rf"along the ({SIDE}) of (.*?)(?:, (?:past|pivoting|round|following)|$)",
                        course)  # fmt: skip
        if side and not re.search(r" to | and |blocks", side[2].rpartition('"')[2]):
            shapes = self.unit(side[2])
            return any(s.boundary.distance(Point(p)) < NEAR for s in shapes for p in way)
        return True

    def arms(self, state, turn, words, owner, far):
        """Walk in and out along arms by the clock."""
        length, off = mm(far)
        name = f"the middle of {owner}"
        parts = [re.fullmatch(r"(in|out) along the middle of the (\d+) o'clock arm(?: to (.*))?", p)
                 for p in words.split(", straight ")]  # fmt: skip
        states = [(state, 0.0)]
        for k, part in enumerate(parts):
            new = []
            for here, gone in states:
                for edge, ahead, points in self.ways(here, turn if k == 0 else None, name):
                    for path, way in self.g.chains(edge, ahead, points, length + off):
                        new += self.arm_ends(path, way, part, name, gone)
            states = new
        return [s for s, gone in states if abs(gone - length) <= off]

    def arm_ends(self, path, way, part, name, gone):
        middle = self.g.middles[name]
        total = np.hypot(*np.diff(way, axis=0).T).sum()
        for count, end in enumerate(self.ends(path, total), 1):
            edge, ahead = path[count - 1]
            node = edge.ends[1] if ahead else edge.ends[0]
            at = self.g.at[node]
            tip = at if part[1] == "out" else way[0]
            if not hour(tip - middle, int(part[2])):
                continue
            degree = self.g.degree(node, name)
            if (part[3] == "its tip" and degree != 1) or (part[3] == "the centre" and degree < 3):
                continue
            k = int(np.argmin(np.hypot(*(way - at).T)[1:])) + 1
            yield State(at, way[k] - way[k - 1], tuple(path[:count]), way[: k + 1]), gone + end

    def ring(self, state, turn, name, round_, far):
        """Walk once round a closed line."""
        length, off = mm(far)
        found = []
        for edge, ahead, points in self.ways(state, turn, name):
            for path, way in self.g.chains(edge, ahead, points, length + off):
                done = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))])
                for count, end in enumerate(self.ends(path, done[-1]), 1):
                    ring = way[: int(np.argmin(np.abs(done - end))) + 1]
                    x, y = ring[:-1].T
                    area = np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
                    closed = np.hypot(*(ring[-1] - ring[0])) < NEAR
                    if (
                        closed
                        and abs(end - length) <= off
                        and (area > 0) == (round_ == "clockwise")
                    ):
                        came = ring[-1] - ring[-2]
                        found.append(State(ring[-1], came, tuple(path[:count]), ring))
        return found

    # Landmarks

    def unit(self, name):
        """Find units, patches and blocks by name."""
        if name in self.w.blocks:
            return [self.w.blocks[name]]
        shapes = self.w.patches.get(name) or self.w.units.get(name)
        if not shapes:
            raise LostError(f"nothing is called {name}")
        return shapes

    def hour(self, node, name, at):
        return hour(self.g.at[node] - self.g.middles[name], at)

    def landmark(self, text, name="", course=""):
        """Read a landmark; give what tells whether a node, or a place, is it."""
        side = re.search(rf"along the ({SIDE}) of (.*?)(?:, |$)", course)
        if text.startswith("its ") and text.endswith(("corner", "middle", "centre")):
            text = f"the {text[4:]} of {side[2]}"
        elif side and re.fullmatch(rf"{SHARE} (?:down|along)", text):
            text = f"{text} the {side[1]} of {side[2]}"
        elif side and re.fullmatch(rf"{LENGTH} from its .*", text):
            text = f"the {side[1]} of {side[2]}, {text}"
        for form, read in READERS:
            match = re.fullmatch(form, text)
            if match:
                return read(self, name, *match.groups())
        raise LostError(f"no such landmark: {text}")

    def on_edge(self, _, edge):
        line = self.edge_of_top(edge)
        return lambda _, at: line.distance(Point(at)) < NEAR

    def corner(self, _, word, name):
        found = []
        for shape in self.unit(name) if name != "the top" else [self.w.plan.top.outline]:
            tips = corners(shape.exterior.coords)
            low, high = tips.min(axis=0), tips.max(axis=0)
            for tip in tips:
                across, down = (tip - low) / np.maximum(high - low, 1e-9)
                said = ["top" if down < 0.3 else "bottom" if down > 0.7 else "",
                        "left" if across < 0.3 else "right" if across > 0.7 else ""]  # fmt: skip
                if " ".join(filter(None, said)) == word:
                    found.append(tip)
        return at_points(found)

    def middle(self, _, side, name):
        found = [(a + b) / 2 for a, b in self.sides(name, side)]
        return at_points(found)

    def centre(self, _, name):
        return at_points([np.array(self.unit(name)[0].centroid.coords[0])])

    def sides(self, name, word):
        """Find the sides of a unit that face a way."""
        for shape in self.unit(name):
            shape = shape.simplify(0.02) if name not in self.w.blocks else shape  # noqa: PLW2901
            ring = np.array(shape.exterior.coords)
            for a, b in itertools.pairwise(ring):
                out = np.array([b[1] - a[1], a[0] - b[0]])
                near = (a + b) / 2 + out / np.hypot(*out) * 0.2
                out = -out if shape.contains(Point(near)) else out
                if faces(out, word, SIDES):
                    yield a, b

    def share_of(self, _, part, along, word, name):
        found, sides = [], []
        for a, b in self.sides(name, word):
            sides.append(LineString([a, b]))
            first, last = (a, b) if (a[0] < b[0] if along == "along" else a[1] < b[1]) else (b, a)
            found.append(first + (last - first) * share(part))
        near = at_points(found, 1.1)
        return lambda node, at: near(node, at) and any(
            side.distance(Point(at)) < NEAR for side in sides)  # fmt: skip

    def measured(self, _, word, name, far, end):
        length, off = mm(far)
        found = []
        for a, b in self.sides(name, word):
            axis, least = {"left end": (0, True), "right end": (0, False), "top": (1, True),
                           "bottom": (1, False)}[end]  # fmt: skip
            first, last = (a, b) if (a[axis] < b[axis]) == least else (b, a)
            way = (last - first) / np.hypot(*(last - first))
            found.append(
                LineString([first + way * max(length - off, 0), first + way * (length + off)])
            )
        return lambda _, at: any(line.distance(Point(at)) < NEAR for line in found)

    def crossing(self, _, across, down, name):
        left, top, right, low = self.unit(name)[0].bounds

        def here(node, at):
            many = len(self.w.tree.query(Point(at), predicate="dwithin", distance=NEAR))
            met = node is not None and many > 2
            return met and is_far(at[0] - left, right - left, across) and (
                is_far(at[1] - top, low - top, down))  # fmt: skip

        return here

    def where_in(self, mark, across, down, name):
        def here(node, at):
            shapes = list(self.unit(name))
            box = shapely.MultiPolygon(shapes).bounds if len(shapes) > 1 else shapes[0].bounds
            return mark(node, at) and is_far(at[0] - box[0], box[2] - box[0], across) and (
                is_far(at[1] - box[1], box[3] - box[1], down))  # fmt: skip

        return here

    def piece_edge(self, _, which, name):
        if name not in self.w.pieces:
            raise LostError(f"no piece is called {name}")
        lines = []
        for shape in self.w.pieces[name]:
            for part in shape.geoms:
                lines += [] if which == "inner " else [part.exterior]
                lines += [] if which == "outer " else part.interiors
        return lambda _, at: any(line.distance(Point(at)) < 0.26 for line in lines)

    def seam_of(self, _, text):
        """Tell whether a place lies in a seam that is named by its two patches."""
        two = re.fullmatch(r'"(.*?)" and "(.*?)" in (.*)', text)
        same = re.fullmatch(r'two patches of "(.*?)" in (.*)', text)
        if two:
            wanted = sorted(f'"{n}" in {two[3]}' for n in (two[1], two[2]))
        elif same:
            wanted = [f'"{same[1]}" in {same[2]}'] * 2
        else:
            wanted = sorted(text.split(" and "))

        def here(_, at):
            met = self.w.tree.query(Point(at), predicate="dwithin", distance=NEAR)
            patches = self.w.plan.top.patches
            names = sorted(
                f'"{self.w.places.patch(k)}" in {self.w.places.unit(k)}'
                if patches[k].part == "block" else self.w.places.unit(k)
                for k in map(int, met)
            )  # fmt: skip
            return names == wanted

        return here

    def line_ends(self, _, name):
        return lambda node, _: node is not None and self.g.degree(node, name) > 0

    def crosses(self, name, line=None):
        name = line or name
        return lambda node, _: node is not None and self.g.degree(node, name) > 2

    def ends_here(self, name, line=None):
        name = line or name
        return lambda node, _: node is not None and self.g.degree(node, name) == 1

    def by_clock(self, name, word, at, owner=None):
        name = f"the middle of {owner}" if owner else name
        ends = {"tip": (1,), "fork": range(3, 99), "place": (0, 2)}[word]
        return lambda node, _: node is not None and self.hour(node, name, int(at)) and (
            self.g.degree(node, name) in ends)  # fmt: skip

    def the_centre(self, name, owner=None):
        return self.crosses(name, f"the middle of {owner}" if owner else None)

    def pass_end(self, _, number, far):
        level = self.w.plan.levels[int(number) - 1]
        return lambda _, at: abs(at[1] - level) < NEAR and is_far(at[0], 1e9, far)

    def both(self, name, first, second):
        one, two = self.landmark(first, name), self.landmark(second, name)
        return lambda node, at: one(node, at) and two(node, at)

    def line_meets(self, name, line, other):
        del name
        one = self.line_ends("", line)
        two = self.line_ends("", other) if other in self.g.middles else self.landmark(other, line)
        return lambda node, at: one(node, at) and two(node, at)

    def meets(self, name, other):
        return self.line_ends("", other) if other in self.g.middles else self.landmark(other, name)

    def inside(self, name, mark, across, down, unit):
        return self.where_in(self.landmark(mark, name), across, down, unit)

    def beside(self, name, mark, side, unit, far, way):
        """Tell whether a mark is nearer than 1/4 in to a side, and so far along it."""
        here, axis = self.landmark(mark, name), 1 if way == "down" else 0
        shapes, sides = list(self.unit(unit)), [LineString(s) for s in self.sides(unit, side)]
        box = shapely.MultiPolygon(shapes).bounds if len(shapes) > 1 else shapes[0].bounds
        return lambda node, at: here(node, at) and (
            any(line.distance(Point(at)) < QUARTER for line in sides)
            and is_far(at[axis] - box[axis], box[axis + 2] - box[axis], far))  # fmt: skip

    def by_corner(self, name, mark, word, unit):
        here, box = self.landmark(mark, name), self.unit(unit)[0].bounds
        x, y = box[0 if "left" in word else 2], box[1 if "top" in word else 3]
        return lambda node, at: here(node, at) and max(abs(at[0] - x), abs(at[1] - y)) < QUARTER

    def hour_on(self, _, at, name):
        return lambda node, _: node is not None and self.g.degree(node, name) and (
            self.hour(node, name, int(at)))  # fmt: skip


FAR = rf"({SHARE}|{LENGTH})"
CORNER = "top left|top right|bottom left|bottom right"
READERS = [
    (r"(the (?:left|right|top|bottom) edge)", Sentence.on_edge),
    (rf"the crossing {FAR} across and {FAR} down (.*)", Sentence.crossing),
    (rf"the place {FAR} across and {FAR} down (.*)",
     lambda s, _, *a: s.where_in(lambda *_: True, *a)),
    (rf"(.*), {FAR} across and {FAR} down (.*)", Sentence.inside),
    (rf"(.*), at the ({SIDE}) of (.*), {FAR} (down|across)", Sentence.beside),
    (rf"(.*), at the ({CORNER}) corner of (.*)", Sentence.by_corner),
    (r"(the (?:inner |outer )?edge of .*), where it meets (.*)",
     lambda s, n, a, b: s.both(n, a, b)),
    (r"(?:the seam between|where it meets the seam between) (.*)", Sentence.seam_of),
    (r"where (?!it )(.*) meets it", Sentence.line_ends),
    (r"where it meets (.*)", Sentence.meets),
    (r"where it crosses itself", Sentence.crosses),
    (r"where (.*) crosses itself", Sentence.crosses),
    (r"where (?!it )(.*?) meets (.*)", Sentence.line_meets),
    (r"its end", Sentence.ends_here),
    (r"the end of pass (\d+), (.*) from the left edge", Sentence.pass_end),
    (r"the end of (.*)", Sentence.ends_here),
    (r"the (tip|fork|place) at (\d+) o'clock(?: of (.*))?", Sentence.by_clock),
    (r"(\d+) o'clock on (.*?)(?: \(echo 1 is the inmost\))?", Sentence.hour_on),
    (rf"({SHARE}) (along|down) the ({SIDE}) of (.*)", Sentence.share_of),
    (rf"the ({SIDE}) of (.*), ({LENGTH}) from its (left end|right end|top|bottom)",
     Sentence.measured),
    (rf"the (top|bottom|left|right|{CORNER}) corner of (.*)", Sentence.corner),
    (rf"the middle of the ({SIDE}) of (.*)", Sentence.middle),
    (r"the centre", Sentence.the_centre),
    (r"the (inner |outer |near |far )?edge of (.*)", Sentence.piece_edge),
    (r"the centre of (.*)", lambda s, n, name: s.centre(n, name) if name in s.w.blocks
     else s.the_centre(n, name)),
]  # fmt: skip


def at_points(points, far=0.1):
    """Tell whether a place is one of some points."""
    points = np.reshape(points, (-1, 2))
    return lambda _, at: len(points) and np.hypot(*(points - at).T).min() < far


def below(length):
    """Tell how much less than it says a length may be: just beyond 2 in, little less."""
    return 0.5 + NEAR if 49.9 < length < 50.9 else 99.0


def which_of(text):
    """Split off which of several places close together is meant: its number and the axis."""
    two = re.fullmatch(r"(.*), the (left|right|upper|lower) one of two", text)
    many = re.fullmatch(r"(.*), the (\w+) of \w+ from the (left|top)", text)
    if two:
        return two[1], (two[2] in ("right", "lower"), 0 if two[2] in ("left", "right") else 1)
    return (many[1], (nth(many[2]), int(many[3] == "top"))) if many else (text, None)


def pick(alike, places, fits, which):
    """Keep of alike places, of those in a row with what fits, the so-manieth along an axis."""
    if not fits:
        return []
    at = np.array([places[k] for k in alike], dtype=float)
    groups = DisjointSet(range(len(alike)))
    for a, b in cKDTree(at).query_pairs(ROW_GAP, p=np.inf):
        groups.merge(a, b)
    wanted = {groups[k] for k, one in enumerate(alike) if one in fits}
    found = []
    for row in wanted:
        mine = [k for k in range(len(alike)) if groups[k] == row]
        mine.sort(key=lambda k: at[k, which[1]])
        apart = np.diff(at[mine, which[1]]) > APART
        numbers = np.concatenate([[0], np.cumsum(apart)])
        found += [alike[k] for k, number in zip(mine, numbers, strict=True) if number == which[0]]
    return found


def is_far(here, whole, text):
    """Tell whether a place lies as far along something as is said."""
    if re.fullmatch(SHARE, text):
        return abs(here - share(text) * whole) < 1.1
    length, off = mm(text)
    return -min(off, below(length)) <= here - length <= off


def hour(way, at):
    """Tell whether a way points to an hour of the clock."""
    degrees = math.degrees(math.atan2(way[0], -way[1]))
    return abs((degrees - at * 30 + 180) % 360 - 180) < 15.5


def one_place(states):
    """Give states that are one place under a needle."""
    if not states:
        raise LostError("it leads nowhere")
    at = np.array([state.at for state in states])
    if np.hypot(*(at - at[0]).T).max() > NEEDLE:
        places = sorted({tuple(p.round(1).tolist()) for p in at})
        raise LostError(f"it leads to {len(places)} places {places[:4]}")
    apart = {}
    for state in states:
        came = None if state.came is None else round(math.degrees(math.atan2(*state.came)))
        last = id(state.path[-1][0]) if state.path else 0
        apart.setdefault((*state.at.round(1).tolist(), came, last), state)
    return list(apart.values())[:12]
