"""What everything costs on one top, in seconds at her pace: one room for prices and the clock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray, Where
from stitchpath.design.model import Design, Looks
from stitchpath.geometry.polylines import joined_paths, path_lengths
from stitchpath.geometry.turns import PIVOT, PIVOT_NOISE, turn_angle
from stitchpath.hands.areas import Areas, areas_of
from stitchpath.hands.feet import ANY_FOOT, FEET, foot_of
from stitchpath.hands.pace import KINDS, Pace, pace_of
from stitchpath.hands.turning import Bulk, half_turn_seconds, loft_of, pivot_seconds
from stitchpath.lines.line import Line
from stitchpath.top.build import Top

__all__ = ["Tariff", "plain_tariff", "tariff_of"]

_WALKING = FEET.index("walking")
_FREE = FEET.index("free-motion")


@dataclass(frozen=True, slots=True)
class Tariff:
    """What everything costs.

    Attributes
    ----------
    pace, looks
        What each step takes, and what is paid for what shows.
    margin
        Batting beyond the outline, mm: with none, an end on the edge is trimmed.
    foot
        Of each line, its index in `FEET`; shape (lines,).
    travel_foot
        Of ways by stage and thread: the one foot of all lines there, else `ANY_FOOT`, for then she
        goes along with whichever is on. Corners of such a way count nothing, and a change of foot
        on it is not counted.
    areas
        In which area lines and seams lie.
    bulk
        What turns with the walking foot; None where only the stop counts.
    """

    pace: Pace
    looks: Looks
    margin: float
    foot: IntArray
    travel_foot: Mapping[tuple[int, str], int]
    areas: Areas
    bulk: Bulk | None

    @property
    def speed(self) -> FloatArray:
        """Speed by foot and kind, mm/s, shape (feet + 1, kinds); the last row is for any foot."""
        usual, free = (
            [getattr(by, kind) for kind in KINDS] for by in (self.pace.speed, self.pace.free)
        )
        return np.array([free if k == _FREE else usual for k in range(len(FEET))] + [usual])

    @property
    def stop(self) -> FloatArray:
        """Seconds that any pivot takes, by foot, shape (feet,)."""
        pace = self.pace
        return np.array([pace.pivot if k == _WALKING else pace.still for k in range(len(FEET))])

    def half_turn(self, points: FloatArray) -> FloatArray:
        """Seconds that a half turn takes beside its stop, by foot and place, shape (feet, n)."""
        seconds = np.zeros((len(FEET), len(points)))
        if self.bulk is not None and len(points):
            seconds[_WALKING] = half_turn_seconds(self.pace, self.bulk, points)
        return seconds

    def pivots(
        self, turn: FloatArray, one: IntArray, other: IntArray, points: FloatArray
    ) -> FloatArray:
        """Price turns: that of the foot with which it takes longer.

        Parameters
        ----------
        turn
            Degrees, 0 to 180, shape (n,).
        one, other
            The feet before and after, shape (n,).
        points
            Where, shape (n, 2), mm.

        Returns
        -------
        FloatArray
            Seconds, shape (n,); nothing for turns of up to 30 degrees.
        """
        found = np.flatnonzero(turn > PIVOT + PIVOT_NOISE)
        seconds = np.zeros(len(turn))
        half = self.half_turn(points[found])
        seconds[found] = pivot_seconds(turn[found], one[found], other[found], self.stop, half)
        return seconds

    def corners(self, paths: Sequence[FloatArray], foot: IntArray) -> FloatArray:
        """Price the pivots within polylines.

        Parameters
        ----------
        paths
            Each of shape (n, 2), mm.
        foot
            Of each, shape (paths,).

        Returns
        -------
        FloatArray
            Seconds of each, shape (paths,).
        """
        if not paths:
            return np.zeros(0)
        first, points = joined_paths(paths)
        owner = np.repeat(np.arange(len(paths)), np.diff(np.append(first, len(points))))
        step = np.diff(points, axis=0)
        real = (owner[1:] == owner[:-1]) & (step != 0).any(axis=1)
        step, at, mine = step[real], points[:-1][real], owner[:-1][real]
        turn = np.where(mine[1:] == mine[:-1], np.abs(turn_angle(step[:-1], step[1:])), 0.0)
        seconds = self.pivots(turn, foot[mine[1:]], foot[mine[1:]], at[1:])
        return np.asarray(np.bincount(mine[1:], weights=seconds, minlength=len(paths)))

    def sewing(self, paths: Sequence[FloatArray], foot: IntArray, kind: IntArray) -> FloatArray:
        """Price lines gone along once, each by itself: its length at its speed, and its corners.

        Parameters
        ----------
        paths
            Each of shape (n, 2), mm.
        foot, kind
            Of each, its index in `FEET` and in `KINDS`; shape (paths,).

        Returns
        -------
        FloatArray
            Seconds of each, shape (paths,), without ends and ways.
        """
        return path_lengths(paths) / self.speed[foot, kind] + self.corners(paths, foot)

    def end(self, where: Where) -> float:
        """Seconds that one end takes, half of what beginning a run takes counted in."""
        outside = where == "margin" or (where == "edge" and self.margin == 0)
        done = self.pace.end_trimmed if outside else self.pace.end_inside
        return self.pace.start / 2 + done

    def end_shows(self, where: Where, *, on_piece: bool) -> float:
        """Seconds paid for the look of an end, none of them time."""
        if where == "margin" or (where == "edge" and self.margin == 0):
            return 0.0
        return self.looks.end_piece if on_piece and where == "inside" else self.looks.end


def tariff_of(design: Design, top: Top, lines: Sequence[Line]) -> Tariff:
    """Make the tariff of a top.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        Every line, as they are routed.
    """
    feet = [foot_of(design, line) for line in lines]
    margin = design.batting.margin
    left, up, right, down = top.outline.bounds
    return Tariff(
        pace_of(design),
        design.looks,
        margin,
        np.array(feet, dtype=np.int64),
        _travel_feet(lines, feet),
        areas_of(design, top, lines),
        Bulk(left - margin, up - margin, right + margin, down + margin, loft_of(design)),
    )


def plain_tariff(lines: Sequence[Line], pace: Pace, margin: float = 0.0) -> Tariff:
    """Make a tariff of lines that no top is known of: one foot, no areas, no bulk to turn."""
    none = np.zeros(len(lines), dtype=np.int64)
    feet = dict.fromkeys(((line.stage, line.thread) for line in lines), _WALKING)
    areas = Areas((), none, np.zeros(0, dtype=np.int64))
    return Tariff(pace, Looks(), margin, none + _WALKING, feet, areas, None)


def _travel_feet(lines: Sequence[Line], feet: Sequence[int]) -> dict[tuple[int, str], int]:
    used: dict[tuple[int, str], set[int]] = {}
    for line, foot in zip(lines, feet, strict=True):
        used.setdefault((line.stage, line.thread), set()).add(foot)
    return {key: min(some) if len(some) == 1 else ANY_FOOT for key, some in used.items()}
