"""Where the needle goes down: stitches of equal length from corner to corner."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.corners import corners
from stitchpath.hands.pace import KINDS
from stitchpath.lines.line import Line
from stitchpath.route.runs import Run
from stitchpath.thread.leg_arrays import LegArrays, leg_arrays, sum_by
from stitchpath.thread.lockstitch import Stitching

__all__ = ["NeedlePoints", "Stretches", "needle_points", "stretches"]

# A stretch may be longer than a whole number of stitches by this share of its length, from rounding
# alone. It gets that number of stitches, and not one more.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Stretches:
    """The pieces of all runs that are stitched with one even stitch.

    A stretch ends where the run does, at a corner, and where the stitch length changes.

    Attributes
    ----------
    last_step
        Shape (stretches,): index of the last step of each, in stitching order.
    length
        Shape (stretches,), mm along the line.
    stitches
        Shape (stretches,): how many. The fewest that keep each stitch within the length set.
    """

    last_step: IntArray
    length: FloatArray
    stitches: IntArray


@dataclass(frozen=True, slots=True)
class NeedlePoints:
    """Every point where the needle goes down, in stitching order.

    Each run begins with one more point than it has stitches.

    Attributes
    ----------
    run
        Shape (n,): index of the run.
    leg
        Shape (n,): index, in its run, of the leg on which the stitch up to here ends.
    number
        Shape (n,): stitches since the run began, from 0.
    points
        Shape (n, 2), mm.
    corner
        Shape (n,): whether a stretch begins or ends here: at a corner or an end, or where the
        stitch length changes.
    """

    run: IntArray
    leg: IntArray
    number: IntArray
    points: FloatArray
    corner: BoolArray


def stretches(way: LegArrays, stitching: Stitching) -> Stretches:
    """Cut the runs into stretches and count their stitches.

    Parameters
    ----------
    way
        The runs as arrays.
    stitching
        Its stitches per mm are the fewest: each stretch gets as many as keep every stitch no longer
        than set, all of one length.
    """
    density = np.array([getattr(stitching.per_mm, kind) for kind in KINDS])
    per_mm = density[way.leg_kind[way.step_leg]]
    run = way.step_run
    changes = (run[1:] != run[:-1]) | (per_mm[1:] != per_mm[:-1])
    ends = corners(way.step_length, way.step_turn) | np.append(changes, True)[: len(run)]
    last = np.flatnonzero(ends)
    number = np.cumsum(ends) - ends
    length = sum_by(number, way.step_length, len(last))
    count = np.ceil(length * per_mm[last] * (1 - _ROUNDING)).astype(np.int64)
    return Stretches(last_step=last, length=length, stitches=count)


def needle_points(
    runs: Sequence[Run], lines: Sequence[Line], stitching: Stitching | None = None
) -> NeedlePoints:
    """Walk the stitches of all runs.

    Parameters
    ----------
    runs
        In stitching order.
    lines
        What their legs point to.
    stitching
        Stitches per mm by kind of line.

    Returns
    -------
    NeedlePoints
        As many stitches in each run as the thread is reckoned for.
    """
    way = leg_arrays(runs, lines)
    found = stretches(way, stitching or Stitching())
    reached = np.cumsum(way.step_length)
    # Stitch k of n ends k/n of the way along its stretch.
    of = np.repeat(np.arange(len(found.stitches)), found.stitches)
    before = np.cumsum(found.stitches) - found.stitches
    share = (np.arange(len(of)) + 1 - before[of]) / found.stitches[of]
    along = reached[found.last_step][of] - (1 - share) * found.length[of]
    step = np.minimum(np.searchsorted(reached, along), found.last_step[of])
    part = 1 - (reached[step] - along) / way.step_length[step]
    way_on = way.step_end[step] - way.step_start[step]
    points = way.step_start[step] + np.clip(part, 0, 1)[:, None] * way_on
    corner = share == 1
    step[corner] = found.last_step  # its end exactly, whatever the sums were rounded to
    points[corner] = way.step_end[found.last_step]
    return _with_starts(way, step, points, corner)


def _with_starts(
    way: LegArrays, step: IntArray, points: FloatArray, corner: BoolArray
) -> NeedlePoints:
    """Put the first point of each run before the ends of its stitches."""
    run = way.step_run[step]
    _, first = np.unique(run, return_index=True)
    _, first_step = np.unique(way.step_run, return_index=True)
    run = np.insert(run, first, run[first])
    begins = first + np.arange(len(first))
    number = np.arange(len(run)) - np.repeat(begins, np.diff(np.append(begins, len(run))))
    return NeedlePoints(
        run=run,
        leg=way.leg_number[way.step_leg[np.insert(step, first, first_step)]],
        number=number,
        points=np.insert(points, first, way.step_start[first_step], axis=0),
        corner=np.insert(corner, first, True),
    )
