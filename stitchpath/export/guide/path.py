"""The path as strokes to be drawn: each pass over a line beside the one before it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import joined_paths, path_keys
from stitchpath.lines.line import Line
from stitchpath.plan import Plan, once
from stitchpath.route.runs import Do
from stitchpath.told.directions import RunDirections, directions

__all__ = ["Scene", "Stroke", "scene_of", "shifted", "side_of"]

_MITRE = 1.5  # times the distance: further out than this a shifted corner does not reach


@dataclass(frozen=True, slots=True)
class Stroke:
    """A stretch of a run that is drawn in one style.

    Attributes
    ----------
    run
        Index of the run.
    step
        Index of its step in the directions.
    first
        Whether the step begins with it.
    do
        Stitched for the first time, again, or only to get there.
    shift
        How many lines' room to the right of its way it is drawn: 0 the first time.
    points
        Shape (n, 2), mm on the top.
    """

    run: int
    step: int
    first: bool
    do: Do
    shift: int
    points: FloatArray


@dataclass(frozen=True)
class Scene:
    """A plan ready to be drawn in many windows.

    Attributes
    ----------
    plan
        The plan.
    told
        Its directions.
    strokes
        Its path, in stitching order.
    """

    plan: Plan
    told: tuple[RunDirections, ...]
    strokes: list[Stroke]

    @cached_property
    def main_run(self) -> int:
        """Index of the run of the most steps: their numbers stand alone, without the run's."""
        return max(range(len(self.told)), key=lambda k: len(self.told[k].steps))

    @cached_property
    def stroke_boxes(self) -> FloatArray:
        """Box round each stroke, shape (n, 4): left, top, right, bottom, mm."""
        return _boxes([stroke.points for stroke in self.strokes])

    @cached_property
    def ditches(self) -> list[Line]:
        """Lines in the ditch, or seams' worth of them, that have a low side."""
        return [line for line in self.plan.lines if line.low]

    @cached_property
    def ditch_boxes(self) -> FloatArray:
        """Box round each of them, shape (n, 4)."""
        return _boxes([line.points for line in self.ditches])

    @cached_property
    def seam_boxes(self) -> FloatArray:
        """Box round each seam, shape (n, 4)."""
        return _boxes([seam.points for seam in self.plan.top.seams])

    @cached_property
    def patch_boxes(self) -> FloatArray:
        """Box round each patch, shape (n, 4)."""
        return np.asarray(shapely.bounds([p.polygon for p in self.plan.top.patches]))

    @cached_property
    def block_boxes(self) -> FloatArray:
        """Box round each block, or each square of the map, shape (n, 4)."""
        return _boxes([window.corners for window in self.plan.top.windows])


def _boxes(paths: Sequence[FloatArray]) -> FloatArray:
    if not paths:
        return np.zeros((0, 4))
    starts, points = joined_paths(paths)
    low, high = np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts)
    return np.hstack([low, high])


@once
def scene_of(plan: Plan) -> Scene:
    """Make a plan ready to be drawn."""
    told = directions(plan)
    return Scene(plan, told, _strokes(plan, told))


def _strokes(plan: Plan, told: Sequence[RunDirections]) -> list[Stroke]:
    """Cut the runs into strokes, in stitching order.

    A second pass lies to one side of the line, a third to the other, a fourth further out,
    whichever way they go.
    """
    passes: dict[tuple[int, ...], int] = defaultdict(int)
    strokes: list[Stroke] = []
    for k, (run, words) in enumerate(zip(plan.runs, told, strict=True)):
        keys = path_keys([leg.points for leg in run.legs])
        for n, step in enumerate(words.steps):
            begin = step.first_leg
            said: tuple[Do, int] | None = None
            for j in range(step.first_leg, step.last_leg + 1):
                leg = run.legs[j]
                seen = passes[keys[j]]
                passes[keys[j]] += 1
                if leg.do == "retrace":
                    seen = max(seen, 1)
                now = leg.do, side_of(leg.points, seen)
                if said is not None and now != said:
                    strokes.append(_stroke(plan, k, n, begin, j, said, step.first_leg))
                    begin = j
                said = now
            if said is not None:
                end = step.last_leg + 1
                strokes.append(_stroke(plan, k, n, begin, end, said, step.first_leg))
    return strokes


def _stroke(
    plan: Plan, run: int, step: int, begin: int, end: int, said: tuple[Do, int], first: int
) -> Stroke:
    legs = plan.runs[run].legs[begin:end]
    points = np.concatenate([legs[0].points[:1], *(leg.points[1:] for leg in legs)])
    return Stroke(run, step, begin == first, said[0], said[1], points)


def side_of(points: FloatArray, seen: int) -> int:
    """Tell how far to its right a pass is drawn, so that passes either way do not coincide."""
    if seen == 0:
        return 0
    out = (seen + 1) // 2
    out = out if seen % 2 else -out
    forward = tuple(points[0]) <= tuple(points[-1])
    return out if forward else -out


def shifted(points: FloatArray, distance: float) -> FloatArray:
    """Move a polyline to its right, y pointing down.

    Parameters
    ----------
    points
        Shape (n, 2).
    distance
        In the unit of the points; negative to the left.
    """
    if distance == 0:
        return points
    way = np.diff(points, axis=0)
    length = np.hypot(way[:, 0], way[:, 1])
    way = way[length > 0] / length[length > 0][:, None]
    kept = np.concatenate([[True], length > 0])
    right = np.column_stack([-way[:, 1], way[:, 0]])
    before, after = np.vstack([right[:1], right]), np.vstack([right, right[-1:]])
    middle = before + after
    square = np.maximum((middle**2).sum(axis=1), 1e-9)
    out = 2 * middle / square[:, None]  # reaches the crossing of both moved pieces
    reach = np.hypot(out[:, 0], out[:, 1])
    out *= np.minimum(1.0, _MITRE / np.maximum(reach, 1e-9))[:, None]
    return np.asarray(points[kept] + out * distance)
