"""What each run takes in seam and thread, before any bobbin is changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.hands.pace import KINDS
from stitchpath.route.runs import Run
from stitchpath.thread.leg_arrays import LegArrays, sum_by
from stitchpath.thread.lockstitch import Stitching
from stitchpath.thread.needle import stretches

__all__ = ["StopWhere", "ThreadByRun", "stop_ends", "thread_by_run", "whole", "whole_parts"]


def whole(lengths: FloatArray) -> IntArray:
    """Round to whole millimetres, so that a column of figures adds up to its sum exactly."""
    return np.rint(lengths).astype(np.int64)


def whole_parts(lengths: FloatArray) -> IntArray:
    """Round to whole millimetres so that the parts add up to their sum, itself rounded.

    Each is within a millimetre of its length: the running sum is rounded, and its steps are taken.

    Parameters
    ----------
    lengths
        Shape (n,), mm.

    Examples
    --------
    >>> whole_parts(np.array([0.4, 0.4, 0.4])).tolist()
    [0, 1, 0]
    """
    return np.diff(whole(np.cumsum(lengths)), prepend=0)


@dataclass(frozen=True, slots=True)
class ThreadByRun:
    """Seam and thread by run.

    Attributes
    ----------
    seam
        Shape (runs, 3), mm: stitched, retraced, travelled.
    stitches
        Shape (runs,): whole stitches, as `needle_points` sets them.
    top, bobbin
        Shape (runs,), mm in the seam.
    ends
        Shape (runs, 2, 2), mm beyond the seam: start and end; top and bobbin thread.
    step_bobbin
        Shape (steps,), mm of bobbin thread.
    """

    seam: FloatArray
    stitches: IntArray
    top: FloatArray
    bobbin: FloatArray
    ends: FloatArray
    step_bobbin: FloatArray


def thread_by_run(runs: Sequence[Run], way: LegArrays, stitching: Stitching) -> ThreadByRun:
    """Add up seam and thread by run.

    Parameters
    ----------
    runs
        In stitching order.
    way
        The same runs as arrays.
    stitching
        How they are stitched.
    """
    n = len(runs)
    density = np.array([getattr(stitching.per_mm, kind) for kind in KINDS])
    rates = np.array([stitching.per_seam(per_mm) for per_mm in density])
    per_leg = rates[way.leg_kind] * way.leg_length[:, None]

    def by_run(value: FloatArray) -> FloatArray:
        return sum_by(way.leg_run, value, n)

    even = stretches(way, stitching)
    seam = sum_by(way.leg_run * 3 + way.leg_do, way.leg_length, 3 * n)
    return ThreadByRun(
        seam=seam.reshape(n, 3),
        stitches=whole(sum_by(way.step_run[even.last_step], even.stitches.astype(float), n)),
        top=by_run(per_leg[:, 0]),
        bobbin=by_run(per_leg[:, 1]),
        ends=_ends(runs, way, stitching, density),
        step_bobbin=way.step_length * rates[way.leg_kind[way.step_leg], 1],
    )


def _ends(
    runs: Sequence[Run], way: LegArrays, stitching: Stitching, density: FloatArray
) -> FloatArray:
    """Thread beyond the seam at both ends of each run, shape (runs, 2, 2)."""
    first = np.searchsorted(way.leg_run, np.arange(len(runs)))
    last = np.searchsorted(way.leg_run, np.arange(len(runs)), side="right") - 1
    found = [
        [
            stitching.per_end(inside=where == "inside", per_mm=density[way.leg_kind[leg]])
            for where, leg in ((run.start_where, a), (run.end_where, b))
        ]
        for run, a, b in zip(runs, first.tolist(), last.tolist(), strict=True)
    ]
    return np.array(found, dtype=np.float64).reshape(len(runs), 2, 2)


StopWhere: TypeAlias = Literal["run end", "margin", "pivot", "line"]


def stop_ends(stitching: Stitching, where: StopWhere) -> tuple[int, int]:
    """Top and bobbin thread, whole mm, on either side of a bobbin change.

    At a run end nothing is added. Elsewhere the run is cut and begun again: in the margin the ends
    are trimmed, inside the top they are secured. Good stops lie in seams, so the ditch's stitches
    are taken.
    """
    if where == "run end":
        return 0, 0
    top, bobbin = stitching.per_end(inside=where != "margin", per_mm=stitching.per_mm.ditch)
    return round(top), round(bobbin)
