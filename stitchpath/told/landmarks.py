"""Places on a plan by what a quilter finds there: on the top, on a piece, on lines that show."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
import shapely
from scipy.spatial import cKDTree

from stitchpath.base.typing import FloatArray, Kind
from stitchpath.base.units import format_judged
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.lines.line import Line
from stitchpath.plan import Plan
from stitchpath.told.ordinals import ordinal
from stitchpath.told.seams import Course
from stitchpath.told.ways import Way, key_of
from stitchpath.top.place import WITHIN, Place, Subject
from stitchpath.top.place_names import Places, clock, join_words
from stitchpath.top.spots import Spot, Spots

__all__ = ["Landmarks", "Web"]

_ON_LEVEL = 0.02  # mm: so near to where a pass ends, a line ends there
_NAMED = 3  # so many units that a motif lies in are named
_BACK = 0.5  # mm: so far back one looks whether one comes over a piece
_FORK = 3  # so many ends at one place branch
_WHAT: dict[Kind, str] = {
    "ditch": "the ditch",
    "centre": "the middle",
    "outline": "the line inside the edge",
    "echo": "the echo",
    "fill": "the fill",
    "drawn": "the drawn line",
}
"""What lines are called whose owner is known."""


class Web(NamedTuple):
    """Lines that show and belong together: how many end at each place, the middle, the forks."""

    degree: Mapping[tuple[int, int], int]
    middle: FloatArray
    forks: int


@dataclass(frozen=True)
class Landmarks:
    """Names places on a plan; made once for it, for it keeps what it has looked up."""

    plan: Plan

    @property
    def places(self) -> Places:
        """Words for the units of its top."""
        return self.plan.places

    @cached_property
    def spots(self) -> Spots:
        """Words for the points of its top."""
        return Spots(self.places)

    # Lines that show

    def line(self, line: Line) -> str:
        """Name a line that shows, and what it belongs to; no other is called the same."""
        return self._names[line.kind, line.of]

    def owner(self, of: Subject) -> str:
        """Name what a line belongs to, a patch set apart."""
        if of.motif >= 0 and not of.echo:
            return f"the motif in {join_words(self._motifs[of.motif][:_NAMED])}"
        ground = not of.pieces and of.place is None and of.patch >= 0 and not of.echo
        if ground and self.plan.top.patches[of.patch].part in WITHIN:
            return self.places.patch_in(of.patch)
        return self.places.subject(of, the=True)

    @cached_property
    def _names(self) -> dict[tuple[Kind, Subject], str]:
        """Names of lines that show: of several alike by where they lie, then by their number."""
        points: dict[tuple[Kind, Subject], list[FloatArray]] = defaultdict(list)
        for line in self.plan.lines:
            if line.seam < 0:
                points[line.kind, line.of].append(line.points)
        names = {key: self._name(*key) for key in points}
        twice = {name for name, many in Counter(names.values()).items() if many > 1}
        for key, name in names.items():
            if name in twice:
                part = self._part(np.concatenate(points[key]))
                names[key] = f"the {part} {name.removeprefix('the ')}"
        many, seen = Counter(names.values()), Counter[str]()
        for key, name in names.items():
            seen[name] += 1
            if many[name] > 1:
                names[key] = f"the {ordinal(seen[name])} {name.removeprefix('the ')}"
        return names

    def _name(self, kind: Kind, of: Subject) -> str:
        if kind != "echo":
            return f"{_WHAT[kind]} of {self.owner(of)}"
        return "the " * (of.echoes < 2) + self.places.subject(of)  # noqa: PLR2004 - one

    def _part(self, points: FloatArray) -> str:
        """Tell in which part of its unit something lies."""
        middle = (points.min(axis=0) + points.max(axis=0)) / 2
        met = self.places.meeting(middle)
        return self.spots.part_of(middle, met[0]) if met else "outer"

    @cached_property
    def _motifs(self) -> dict[int, list[str]]:
        """The units in which the lines of each pieced motif lie."""
        on: dict[int, dict[str, None]] = defaultdict(dict)
        for line in self.plan.lines:
            if line.of.motif >= 0 and not line.of.echo:
                met = [i for point in line.points for i in self.places.meeting(point)]
                on[line.of.motif].update(dict.fromkeys(self.places.unit(i) for i in met))
        return {motif: list(units) for motif, units in on.items()}

    def web(self, line: Line) -> Web:
        """Give the lines that show and belong together with one."""
        return self._webs[line.stage, line.thread, line.kind, line.of]

    @cached_property
    def _webs(self) -> dict[tuple[int, str, Kind, Subject], Web]:
        found: dict[tuple[int, str, Kind, Subject], list[FloatArray]] = defaultdict(list)
        for line in self.plan.lines:
            if line.seam < 0:
                found[line.stage, line.thread, line.kind, line.of].append(line.points)
        return {key: _web(paths) for key, paths in found.items()}

    def forks(self, stage: int, thread: str) -> frozenset[tuple[int, int]]:
        """Give the places where more than two ends of lines that show meet."""
        return self._forks.get((stage, thread), frozenset())

    @cached_property
    def _forks(self) -> dict[tuple[int, str], frozenset[tuple[int, int]]]:
        count: dict[tuple[int, str], dict[tuple[int, int], int]] = {}
        for line in self.plan.lines:
            if line.seam < 0:
                ends = count.setdefault((line.stage, line.thread), defaultdict(int))
                for end in (line.points[0], line.points[-1]):
                    ends[key_of(end)] += 1
        return {
            key: frozenset(at for at, many in ends.items() if many >= _FORK)
            for key, ends in count.items()
        }

    @cached_property
    def _ending(self) -> dict[tuple[int, int], list[Line]]:
        """The lines that show, by the places where they end."""
        found: dict[tuple[int, int], list[Line]] = defaultdict(list)
        for line in self.plan.lines:
            if line.seam < 0:
                for at in {key_of(line.points[0]), key_of(line.points[-1])}:
                    found[at].append(line)
        return found

    def ring(self, ways: Sequence[Way]) -> bool:
        """Tell whether a way goes once round a closed line, which may lie in several parts."""
        first, last = ways[0].leg, ways[-1].leg
        if first.line < 0 or np.any(first.points[0] != last.points[-1]):
            return False
        of = self.plan.lines[first.line]
        if len(ways) == 1 or of.kind not in ("echo", "outline"):
            return len(ways) == 1
        degree = self.web(of).degree
        return all(way.of == of.of and degree[key_of(way.leg.points[0])] == 2 for way in ways)  # noqa: PLR2004 - two ends

    # Places

    def on_seam(
        self,
        point: FloatArray,
        near: Place | None = None,
        by: Course | None = None,
        before: FloatArray | None = None,
    ) -> str:
        """Name a place on a seam that one comes along.

        Parameters
        ----------
        point
            mm, shape (2,).
        near
            The block one comes along.
        by
            What the sentence goes along: "its" is said of that.
        before
            The point before it on the way: the edge of a piece is near or far from there.
        """
        known = self._known(point, near, before)
        if known and before is not None and known.what == "edge":
            known = replace(known, what=f"{self._side_of_edge(point, before)} edge")
        if known:
            return _its(known, by) if by else f"{known}"
        here = self._ending.get(key_of(point))
        if here:
            return f"where {self.line(here[0])} meets it"
        return f"the place {where}" if (where := self.spots.where_in(point)) else "the place there"

    def on_line(self, line: Line, point: FloatArray, before: FloatArray | None = None) -> str:
        """Name a place on a line that shows and that one comes along: "where it meets ..."."""
        mark = self._mark(line, point)
        if mark:
            return mark
        met = self._meeting(line, point)
        if met.startswith("where it meets"):
            return met
        known = self._known(point, None, before)
        return f"{known}" if known else met

    def at(self, point: FloatArray, line: Line | None = None) -> str:
        """Name a place by itself, as where a run begins."""
        if line is None or line.seam >= 0:
            known = self._known(point, None)
            if known and not self._edge_of(known):
                return f"{known}"
            side = self.spots.along(point)
            seam = self.spots.seam_at(point)
            where = f"{side}" if side else f"the seam between {seam}" if seam else ""
            if known:
                return f"{known}, where it meets {where}" if where else f"{known}"
            here = self._ending.get(key_of(point))
            if here and where:
                return f"where {self.line(here[0])} meets {where}"
            inside = self.spots.where_in(point)
            return f"{where}, {inside}" if where else f"the place {inside}"
        return self.on_shown(line, point)

    def on_shown(self, line: Line, point: FloatArray, *, bare: bool = False) -> str:
        """Name a place on a line that shows, by itself; `bare` without how far across it lies."""
        mark = self._mark(line, point)
        if mark:
            said = f"{mark} of {self.owner(line.of)}"
            ends = self.web(line).degree
            alike = sum(self._mark(line, np.array(at) / 1000) == mark for at in ends)
            return said if bare or alike < 2 else self._lying(said, point)  # noqa: PLR2004 - itself
        return self._on_line_alone(line, point, bare=bare)

    def _lying(self, said: str, point: FloatArray) -> str:
        """Add to a place how far across and down it lies."""
        where = self.spots.where_in(point)
        return f"{said}, {where}" if where else said

    def hour(self, line: Line, point: FloatArray, *, bare: bool = False) -> str:
        """Name a place on a line by the clock, and how far across and down it lies."""
        inmost = " (echo 1 is the inmost)" if line.of.echoes > 1 else ""
        said = f"{clock(point - self.web(line).middle)} on {self.line(line)}{inmost}"
        return said if bare else self._lying(said, point)

    def forked(self, line: Line, point: FloatArray) -> bool:
        """Tell whether lines that show and belong together branch at a place."""
        return self.web(line).degree.get(key_of(point), 0) >= _FORK

    def ends_at(self, line: Line, point: FloatArray) -> bool:
        """Tell whether a line, or one that belongs to it, ends at a place."""
        return key_of(point) in self.web(line).degree

    def _on_line_alone(self, line: Line, point: FloatArray, *, bare: bool) -> str:
        """Name a place on a line that shows, by itself."""
        met = self._meeting(line, point)
        known = self._known(point, None)
        if known and not met.startswith("where it meets"):
            if not self._edge_of(known):
                return f"{known}"
            said = f"where {self.line(line)} meets {known}"
            return said if bare else self._lying(said, point)
        if met.startswith("the place at"):
            return self.hour(line, point, bare=bare)
        if met == "its end":
            said = f"the end of {self.line(line)}"
        else:
            said = met.replace(" it ", f" {self.line(line)} ", 1)
        return said if bare else self._lying(said, point)

    def _known(
        self, point: FloatArray, near: Place | None, before: FloatArray | None = None
    ) -> Spot | None:
        """Name a place that needs no line: a corner, the edge of a piece, a share of a side.

        Nobody finds the end of a pass who comes along it.
        """
        level = before is not None and abs(before[1] - point[1]) < _ON_LEVEL
        return (
            self.spots.corner(point, near)
            or self._piece_edge(point)
            or (None if level else self._pass_end(point))
            or self.spots.along(point, near)
        )

    def _side_of_edge(self, point: FloatArray, before: FloatArray) -> Literal["near", "far"]:
        """Tell whether one comes to the edge of a piece from outside, or over the piece."""
        step = before - point
        back = shapely.Point(point + step / np.hypot(*step) * min(np.hypot(*step) / 2, _BACK))
        met = self._pieces.query(
            shapely.Point(point), predicate="dwithin", distance=10 * SAME_PLACE
        )
        return "far" if self.plan.top.pieces[int(min(met))].shape.covers(back) else "near"

    def rays(
        self, stage: int, thread: str, point: FloatArray, line: Line | None
    ) -> list[FloatArray]:
        """Give the ways on from a place, along seams or along lines named as one that shows.

        Parameters
        ----------
        stage, thread
            Of the run.
        point
            mm, shape (2,).
        line
            A line that shows; None for seams.

        Returns
        -------
        list of FloatArray
            In which direction each begins, shape (2,).
        """
        tree, ways = self._rays[stage, thread, self.line(line) if line else ""]
        return [ways[k] for k in sorted(tree.query_ball_point(point, SAME_PLACE))]

    @cached_property
    def _rays(self) -> dict[tuple[int, str, str], tuple[cKDTree, list[FloatArray]]]:
        paths: dict[tuple[int, str, str], list[FloatArray]] = defaultdict(list)
        for line in self.plan.lines:
            if line.seam < 0:
                paths[line.stage, line.thread, self.line(line)].append(line.points)
        for run in self.plan.runs:
            paths[run.stage, run.thread, ""] = [seam.points for seam in self.plan.top.seams]
        found: dict[tuple[int, str, str], tuple[cKDTree, list[FloatArray]]] = {}
        for key, some in paths.items():
            ends = [way for path in some for way in (path, path[::-1])]
            starts = np.reshape([way[0] for way in ends], (-1, 2))
            found[key] = cKDTree(starts), [way[1] - way[0] for way in ends]
        return found

    def _edge_of(self, spot: Spot) -> bool:
        return spot.what.endswith("edge") and bool(spot.of)

    def _mark(self, line: Line, point: FloatArray) -> str:
        """Name a tip by the clock, a fork or the centre of the lines through a piece."""
        if line.kind != "centre":
            return ""
        web = self.web(line)
        ends = web.degree[key_of(point)]
        if ends >= _FORK and web.forks == 1:
            return "the centre"
        word = "fork" if ends >= _FORK else "tip" if ends == 1 else ""
        return f"the {word} at {clock(point - web.middle)}" if word else ""

    def _meeting(self, line: Line, point: FloatArray) -> str:
        """Tell what a line meets at a place, or that it ends or crosses itself there."""
        seam = self.spots.seam_at(point)
        if seam and not self.spots.along(point):  # a line may run along the edge of a piece
            return f"where it meets the seam between {seam}"
        here = self._ending.get(key_of(point), [])
        others = [o for o in here if (o.kind, o.of) != (line.kind, line.of)]
        if others and not self._known(point, None):
            return f"where it meets {self.line(others[0])}"
        ends = self.web(line).degree.get(key_of(point), 0)
        if ends >= _FORK:
            return "where it crosses itself"
        if ends == 1:
            return "its end"
        return self.by_hour(line, point)

    def by_hour(self, line: Line, point: FloatArray) -> str:
        """Name a place on a line, where nothing else is, by the clock alone."""
        return f"the place at {clock(point - self.web(line).middle)}"

    def _piece_edge(self, point: FloatArray) -> Spot | None:
        """Name the outline of an appliqué piece, inner or outer where it has holes."""
        at = shapely.Point(point)
        for k in sorted(self._pieces.query(at, predicate="dwithin", distance=10 * SAME_PLACE)):
            shape = self.plan.top.pieces[k].shape
            holes = [hole for part in shape.geoms for hole in part.interiors]
            inner = any(shapely.dwithin(hole, at, 10 * SAME_PLACE) for hole in holes)
            which = ("inner " if inner else "outer ") if holes else ""
            return Spot(f"{which}edge", self.places.piece(int(k), the=True))
        return None

    @cached_property
    def _pieces(self) -> shapely.STRtree:
        return shapely.STRtree([piece.shape.boundary for piece in self.plan.top.pieces])

    def _pass_end(self, point: FloatArray) -> Spot | None:
        """Name a place where a line is cut between two passes in a frame."""
        levels = self.plan.levels
        across, down = point[::-1] if self.plan.sideways else point
        number = int(np.searchsorted(levels, down - _ON_LEVEL)) + 1
        if number > len(levels) or abs(down - levels[number - 1]) > _ON_LEVEL:
            return None
        far = format_judged(float(across), self.plan.top.unit)
        edge = "below the top edge" if self.plan.sideways else "from the left edge"
        return Spot(f"end of pass {number}", measure=f"{far} {edge}")


def _web(paths: Sequence[FloatArray]) -> Web:
    degree: dict[tuple[int, int], int] = defaultdict(int)
    for path in paths:
        for end in (path[0], path[-1]):
            degree[key_of(end)] += 1
    forks = [key for key, ends in degree.items() if ends >= _FORK]
    if len(forks) == 1:
        return Web(degree, np.array(forks[0]) / 1000, 1)
    points = np.concatenate(paths)
    return Web(degree, (points.min(axis=0) + points.max(axis=0)) / 2, len(forks))


def _its(spot: Spot, by: Course) -> str:
    """Say "its" for the unit just named, and a measure alone along the side just named."""
    if not by.of or spot.of != by.of:
        return f"{spot}"
    if spot.share or spot.measure:
        return (spot.share or spot.measure) if spot.what == by.side else f"{spot}"
    return f"its {spot.what}"
