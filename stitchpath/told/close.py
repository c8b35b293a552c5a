"""Places so close together that words and lengths fit several: which of them is meant.

"The left one of two" is said of places that one looks for, "the second of two close together" of
those that one comes by on the way.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy.spatial import cKDTree

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.geometry.turns import turn_angle
from stitchpath.lines.line import Line
from stitchpath.plan import Plan
from stitchpath.told.ordinals import counted, ordinal
from stitchpath.told.ways import Way, key_of

__all__ = ["Close"]

_CLOSE = 6.2  # mm: farther apart, lengths told to 1/4 in tell places from each other
_FAR = 30.0  # mm: no row of places close together is looked at beyond
_STITCH = 2.0  # mm: what is shorter has no length in words
_JUDGED = 49.0  # mm: lengths beyond are told to 1/4 in, or 5 mm
_DOUBT = 6.5  # mm: so near to each other two places may have one length of those
_SAME = 0.06  # mm: ends so near to each other are one place
_HAIR = np.array([[0, 0], [-0.1, 0], [0.1, 0], [0, -0.1], [0, 0.1]])  # mm
_SEEN = 0.5  # mm: two places nearer to each other are one under a needle
_SMOOTH = 3.0  # degrees: a line goes straight on into another that turns off less
_CURVED = 15.0  # degrees: a curve turns no more from one piece to the next
_BACK = 170.0  # degrees
_TWO = 2

_Say = Callable[[FloatArray], str]


@dataclass(frozen=True)
class Close:
    """Tells places apart that are called the same; made once for a plan."""

    plan: Plan

    def which(self, stage: int, thread: str, point: FloatArray, say: _Say, full: _Say) -> str:
        """Tell which of the places close by that are called the same is meant.

        Parameters
        ----------
        stage, thread
            Of the run: she sees its lines.
        point
            mm, shape (2,).
        say
            Names a place, without how far it lies along or across anything; "" for another kind.
        full
            Names it with that.

        Returns
        -------
        str
            Such as ", the left one of two"; "" where there is but one.
        """
        alike = self._row(stage, thread, point, say)
        away = np.abs(alike - point).max(axis=1)
        if not any(
            far > _SAME and (far < _STITCH or full(point) in _read(full, other))
            for other, far in zip(alike, away, strict=True)
        ):
            return ""
        across, down = np.ptp(alike, axis=0)
        axis = 0 if across >= down else 1
        number, count = _number(alike[:, axis], float(point[axis]))
        if count == 1:
            return ""
        if count == _TWO:
            word = (("left", "right"), ("upper", "lower"))[axis][number]
            return f", the {word} one of two"
        return f", the {ordinal(number + 1)} of {counted(count)} from the {('left', 'top')[axis]}"

    def _row(self, stage: int, thread: str, point: FloatArray, say: _Say) -> FloatArray:
        """Give the places called as one is, from each to the next close by; itself first."""
        tree, points = self._ends[stage, thread]
        said, row, seen = say(point), [point], set[int]()
        for at in row:
            for k in sorted(set(tree.query_ball_point(at, _CLOSE, p=np.inf)) - seen):
                seen.add(k)
                if say(points[k]) == said:
                    row.append(points[k])
        return np.array(row)

    def nth(
        self,
        stage: int,
        thread: str,
        ways: Sequence[Way],
        say: _Say,
    ) -> str:
        """Tell which of the places on the way that are called the same a step goes to.

        Parameters
        ----------
        stage, thread
            Of the run: she sees its lines.
        ways
            Of the step; the place is the end of the last.
        say
            Names a place.

        Returns
        -------
        str
            Such as ", the second of two close together"; "" where there is but one so far along.
        """
        end = ways[-1].leg.points[-1]
        on_seam = ways[-1].bit is not None
        others = list(self._along_seam(stage, thread, ways) if on_seam else self._along_line(ways))
        if not others:
            return ""
        said = say(end)
        there = np.sort(
            [0.0, *(gone for point, gone in others if abs(gone) > _SAME and say(point) == said)]
        )
        parts = np.split(there, np.flatnonzero(np.diff(there) > _CLOSE) + 1)
        there = next(part for part in parts if 0.0 in part)
        whole = sum(way.length for way in ways)
        doubt = _DOUBT if whole > _JUDGED else _STITCH if whole < _STITCH else 0.0
        if np.sum(np.abs(there) <= doubt) == 1:
            return ""
        number, count = _number(there, 0.0)
        return f", the {ordinal(number + 1)} of {counted(count)} close together" * (count > 1)

    def _along_seam(
        self, stage: int, thread: str, ways: Sequence[Way]
    ) -> Iterator[tuple[FloatArray, float]]:
        """Give the places on the seams of a step near its end and beyond, and how far from it."""
        way = ways[-1]
        end, ahead = way.leg.points[-1], _leading(way)
        seams = [self.plan.top.seams[each.leg.seam].points for each in ways]
        path = shapely.union_all([*map(shapely.LineString, seams), _ray(end, ahead)])
        tree, points = self._ends[stage, thread]
        near = [points[k] for k in sorted(tree.query_ball_point(end, _FAR))]
        for k in sorted(self._edges.query(_ray(end, ahead))):
            met = shapely.intersection(self._edges.geometries[k], path)
            near += list(shapely.get_coordinates(met))
        back = sum(each.length for each in ways)
        for point in near:
            out = point - end
            gone = float(out @ ahead)
            on = path.distance(shapely.Point(point)) < SAME_PLACE
            if on and abs(gone) > SAME_PLACE and -back < gone < _FAR:
                yield point, gone

    def _along_line(self, ways: Sequence[Way]) -> Iterator[tuple[FloatArray, float]]:
        """Give the places on a line that shows near the end of a step, and how far from it."""
        gone, parts = 0.0, []
        for way in ways[::-1]:
            gone -= way.length
            parts.append((gone, way.leg.points))
            if gone < -_FAR:
                break
        gone = 0.0
        for points in self._onward(ways[-1]):
            parts.append((gone, points))
            gone += float(path_lengths([points])[0])
        if gone:
            yield parts[-1][1][-1], gone
        for gone, points in parts:
            if gone > -sum(way.length for way in ways) + _SAME:
                yield points[0], gone
            path = shapely.LineString(points)
            for k in sorted(self._edges.query(path, predicate="intersects")):
                for at in shapely.get_coordinates(path & self._edges.geometries[k]):
                    yield at, gone + float(path.project(shapely.Point(at)))

    def _onward(self, way: Way) -> Iterator[FloatArray]:
        """Give the lines of the same name on which one goes on beyond a way."""
        if way.leg.line < 0:
            return
        came = like = self.plan.lines[way.leg.line]
        points, gone = way.leg.points, 0.0
        while gone < _FAR:
            here = self._at[like.stage, like.thread][key_of(points[-1])]
            onward = [
                (line, path)
                for line, path in here
                if line is not came
                and (line.kind, line.of) == (like.kind, like.of)
                and _bend(points, path) <= (_BACK if len(here) <= _TWO else _SMOOTH)
            ]
            if not onward:
                return
            came, points = onward[0]
            gone += float(path_lengths([points])[0])
            yield points

    @cached_property
    def _edges(self) -> shapely.STRtree:
        return shapely.STRtree([piece.shape.boundary for piece in self.plan.top.pieces])

    @cached_property
    def _at(self) -> dict[tuple[int, str], dict[tuple[int, int], list[tuple[Line, FloatArray]]]]:
        """The lines that show, from each place where one ends."""
        found: dict[tuple[int, str], dict[tuple[int, int], list[tuple[Line, FloatArray]]]]
        found = defaultdict(lambda: defaultdict(list))
        for line in self.plan.lines:
            if line.seam < 0:
                for path in (line.points, line.points[::-1]):
                    found[line.stage, line.thread][key_of(path[0])].append((line, path))
        return found

    @cached_property
    def _ends(self) -> dict[tuple[int, str], tuple[cKDTree, FloatArray]]:
        """Where seams and lines that show end, by stage and thread."""
        seams = [seam.points[[0, -1]] for seam in self.plan.top.seams]
        shown: dict[tuple[int, str], list[FloatArray]] = {
            (run.stage, run.thread): [np.empty((0, 2)), *seams] for run in self.plan.runs
        }
        for line in self.plan.lines:
            if line.seam < 0 and (line.stage, line.thread) in shown:
                shown[line.stage, line.thread].append(line.points[[0, -1]])
        joined = {key: np.unique(np.concatenate(some), axis=0) for key, some in shown.items()}
        return {key: (cKDTree(points), points) for key, points in joined.items()}


def _read(full: _Say, point: FloatArray) -> list[str]:
    """Name a place, and as it would be if it lay a hair to a side."""
    return [full(point + way) for way in _HAIR]


def _bend(before: FloatArray, after: FloatArray) -> float:
    """Tell by how much one path turns into another, degrees, apart from what curves turn."""
    joined = np.diff(np.concatenate([before[-3:], after[1:3]]), axis=0)
    turns = turn_angle(joined[:-1], joined[1:])
    k = len(before[-3:]) - 2
    beside = [float(turns[j]) for j in (k - 1, k + 1) if 0 <= j < len(turns)]
    turn = float(turns[k])
    curve = sum(beside) / 2 if len(beside) == _TWO and max(map(abs, beside)) <= _CURVED else 0.0
    return min(abs(turn), abs(turn - curve))


def _ray(end: FloatArray, ahead: FloatArray) -> shapely.LineString:
    return shapely.LineString([end - ahead * _FAR, end + ahead * _FAR])


def _leading(way: Way) -> FloatArray:
    step = way.leg.points[-1] - way.leg.points[-2]
    return np.asarray(step / np.hypot(*step))


def _number(values: FloatArray, mine: float) -> tuple[int, int]:
    """Give how manieth of some places, from 0, is mine along a line, and how many there are."""
    values = np.sort(values)
    groups = np.concatenate([[0], np.cumsum(np.diff(values) > _SEEN)])
    return int(groups[np.searchsorted(values, mine)]), int(groups[-1]) + 1
