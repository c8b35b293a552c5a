"""The legs of all runs laid out as arrays, so that counting them takes no loop over points."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.turns import PIVOT, PIVOT_NOISE, turn_angle
from stitchpath.hands.pace import KINDS
from stitchpath.lines.line import Line
from stitchpath.route.runs import Run

__all__ = ["LegArrays", "leg_arrays", "sum_by"]

_DOES = ("stitch", "retrace", "travel")


@dataclass(frozen=True, slots=True)
class LegArrays:
    """Where the needle goes, as arrays.

    Attributes
    ----------
    leg_run, leg_number
        Shape (legs,): index of the run, and of the leg in that run.
    leg_kind, leg_do
        Shape (legs,): index into `KINDS`, and 0, 1, 2 for stitch, retrace, travel.
    leg_margin
        Shape (legs,): whether it runs in the margin or along the edge.
    leg_length
        Shape (legs,), mm.
    step_leg
        Shape (steps,): index of the leg; a step is one straight piece, none of length 0.
    step_length
        Shape (steps,), mm.
    step_start, step_end
        Shape (steps, 2), mm.
    step_turn
        Shape (steps,): turn of the needle's way at its end, degrees, 0 at the end of a run, and
        where the needle is parked.
    """

    leg_run: IntArray
    leg_number: IntArray
    leg_kind: IntArray
    leg_do: IntArray
    leg_margin: BoolArray
    leg_length: FloatArray
    step_leg: IntArray
    step_length: FloatArray
    step_start: FloatArray
    step_end: FloatArray
    step_turn: FloatArray

    @property
    def step_run(self) -> IntArray:
        """Shape (steps,): index of the run."""
        return self.leg_run[self.step_leg]

    @property
    def pivots(self) -> BoolArray:
        """Shape (steps,): whether one stops at its end, needle down, and turns.

        Corners within a line are counted as well as those where two meet.
        """
        return self.step_turn > PIVOT + PIVOT_NOISE


def leg_arrays(runs: Sequence[Run], lines: Sequence[Line]) -> LegArrays:
    """Lay the runs out as arrays.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.

    Returns
    -------
    LegArrays
        Legs and steps in stitching order.
    """
    code = {kind: number for number, kind in enumerate(KINDS)}
    legs = [(i, j, leg) for i, run in enumerate(runs) for j, leg in enumerate(run.legs)]
    kinds = [code["travel" if leg.do == "travel" else lines[leg.line].kind] for _, _, leg in legs]
    counts = np.array([len(leg.points) for _, _, leg in legs], dtype=np.int64)
    points = np.concatenate([leg.points for _, _, leg in legs] or [np.empty((0, 2))])

    leg_of_point = np.repeat(np.arange(len(legs)), counts)
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    real = (leg_of_point[1:] == leg_of_point[:-1]) & (length > 0)
    step, length, step_leg = step[real], length[real], leg_of_point[:-1][real]

    leg_run = np.array([i for i, _, _ in legs], dtype=np.int64)
    return LegArrays(
        leg_run=leg_run,
        leg_number=np.array([j for _, j, _ in legs], dtype=np.int64),
        leg_kind=np.array(kinds, dtype=np.int64),
        leg_do=np.array([_DOES.index(leg.do) for _, _, leg in legs], dtype=np.int64),
        leg_margin=np.array(
            [leg.along in {"margin", "edge"} for _, _, leg in legs], dtype=np.bool_
        ),
        leg_length=sum_by(step_leg, length, len(legs)),
        step_leg=step_leg,
        step_length=length,
        step_start=points[:-1][real],
        step_end=points[1:][real],
        step_turn=_turns(step, _unbroken(runs)[step_leg]),
    )


def sum_by(index: IntArray, value: FloatArray, n: int) -> FloatArray:
    """Add up `value` by `index`, shape (n,)."""
    return np.asarray(np.bincount(index, weights=value, minlength=n), dtype=np.float64)


def _unbroken(runs: Sequence[Run]) -> IntArray:
    """Tell for each leg to which stretch it belongs that is stitched at one go, shape (legs,)."""
    stretches = [
        sum(first <= k for first, _ in run.parked) for run in runs for k in range(len(run.legs))
    ]
    run = np.repeat(np.arange(len(runs)), [len(run.legs) for run in runs])
    pair = np.column_stack([run, np.array(stretches, dtype=np.int64)])
    return np.cumsum(np.append(0, np.any(np.diff(pair, axis=0), axis=1)))[: len(pair)]


def _turns(step: FloatArray, run: IntArray) -> FloatArray:
    """Angle between each step and the next one of the same stretch, degrees, else 0."""
    turn = np.zeros(len(step))
    angle = np.abs(turn_angle(step[:-1], step[1:]))
    turn[:-1] = np.where(run[:-1] == run[1:], angle, 0.0)
    return turn
