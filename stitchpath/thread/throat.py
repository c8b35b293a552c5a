"""What lies to the right of the needle, and whether its roll fits the throat of the machine.

The needle goes toward her along the quilt, so she looks against the way of the stitching. What lies
right of the needle is therefore left of that way, as one looks at the quilt. With the walking
foot the quilt is turned so at every corner. In free-motion it lies one way through a whole run; the
best way of four is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.design.model import Throat
from stitchpath.hands.areas import GROUND
from stitchpath.hands.feet import FEET
from stitchpath.hands.tariff import Tariff
from stitchpath.hands.turning import Bulk, roll_thickness
from stitchpath.route.runs import Run
from stitchpath.thread.leg_arrays import LegArrays
from stitchpath.thread.time import leg_areas, leg_feet
from stitchpath.top.place import Side

__all__ = ["Roll", "fits", "rolls_of_areas", "rolls_of_runs", "width_beside"]

_SIDES: tuple[Side, ...] = ("right", "bottom", "left", "top")
_WAYS = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])  # y points down


@dataclass(frozen=True, slots=True)
class Roll:
    """What lies right of the needle, where most of the quilt does.

    Attributes
    ----------
    width
        How much of the quilt, margin and all, mm.
    thick
        Diameter of the roll that it makes, mm.
    side
        Which side of the quilt it is.
    at
        Where the needle is then, mm.
    turned
        Diameter of the thickest roll if all is stitched from its end to its start, mm.
    """

    width: float
    thick: float
    side: Side
    at: tuple[float, float]
    turned: float


def fits(width: float, thick: float, throat: Throat) -> bool:
    """Tell whether what lies right of the needle goes through the throat.

    It does where it lies flat between needle and arm, and else where its roll is no thicker than
    the throat is high and wide.

    Parameters
    ----------
    width, thick
        What lies right of the needle, and the diameter of its roll, mm.
    throat
        From the needle to the arm, and from the bed up to the arm, mm.

    Examples
    --------
    >>> throat = Throat(width="8 in", height="100 mm")
    >>> fits(200.0, 28.0, throat), fits(3000.0, 107.0, throat)
    (True, False)
    """
    return width <= throat.width or thick <= throat.roll


def width_beside(bulk: Bulk, points: FloatArray, way: FloatArray) -> FloatArray:
    """Measure how far the quilt reaches from places in a direction.

    Parameters
    ----------
    bulk
        The quilt with its margin.
    points
        Shape (n, 2), mm.
    way
        Unit vectors, shape (n, 2), or one for all, shape (2,).

    Returns
    -------
    FloatArray
        mm, shape (n,): to the corner that lies farthest that way.

    Examples
    --------
    Stitching down the middle of a quilt of 600 by 800 mm, right of the needle lies its right half.

    >>> quilt = Bulk(0, 0, 600, 800, 3.0)
    >>> width_beside(quilt, np.array([[300.0, 400.0]]), np.array([1.0, 0.0])).tolist()
    [300.0]
    """
    across = np.where(way[..., 0] > 0, bulk.right, bulk.left) * way[..., 0]
    down = np.where(way[..., 1] > 0, bulk.bottom, bulk.top) * way[..., 1]
    return np.asarray(across + down - (points * way).sum(axis=-1))


def rolls_of_runs(runs: Sequence[Run], way: LegArrays, tariff: Tariff) -> tuple[Roll, ...]:
    """Tell of each run what lies right of the needle where most does.

    Parameters
    ----------
    runs
        In stitching order.
    way
        What `leg_arrays` makes of them.
    tariff
        Their feet, and the quilt.
    """
    found = _beside(runs, way, tariff)
    return tuple(found.most(way.step_run == k) for k in range(len(runs)))


def rolls_of_areas(runs: Sequence[Run], way: LegArrays, tariff: Tariff) -> dict[int, Roll]:
    """Tell the same of each area, by its number.

    Parameters
    ----------
    runs, way, tariff
        As for `rolls_of_runs`.
    """
    found = _beside(runs, way, tariff)
    area = leg_areas(runs, tariff)[way.step_leg]
    return {k: found.most(area == k) for k in np.unique(area).tolist() if k != GROUND}


@dataclass(frozen=True, slots=True)
class _Beside:
    """Of each step, as it is stitched and turned half round: width and side; (2, steps)."""

    width: FloatArray
    side: IntArray
    at: FloatArray
    thickness: float

    def most(self, which: BoolArray) -> Roll:
        steps = np.flatnonzero(which)
        k = steps[int(np.argmax(self.width[0][steps]))]
        width, turned = float(self.width[0][k]), float(self.width[1][steps].max())
        thick, other = roll_thickness(np.array([width, turned]), self.thickness).tolist()
        x, y = self.at[k].tolist()
        return Roll(width, thick, _SIDES[int(self.side[0][k])], (x, y), other)


def _beside(runs: Sequence[Run], way: LegArrays, tariff: Tariff) -> _Beside:
    bulk = tariff.bulk
    if bulk is None:
        raise ValueError("found a tariff of no quilt, expected one of a top")
    ends = np.stack([way.step_start, way.step_end])
    ahead = (way.step_end - way.step_start) / way.step_length[:, None]
    right = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)  # her right, who looks the other way
    reach = np.stack([width_beside(bulk, ends, sign * right).max(axis=0) for sign in (1, -1)])
    side = np.stack([np.argmax(sign * right @ _WAYS.T, axis=1) for sign in (1, -1)])
    laid = np.stack([width_beside(bulk, ends, one).max(axis=0) for one in _WAYS])
    walked = (leg_feet(runs, tariff) == FEET.index("walking"))[way.step_leg]
    for k in range(len(runs)):
        free = np.flatnonzero((way.step_run == k) & ~walked)
        if len(free):  # laid once, the way in which least comes to lie right of the needle
            best = int(np.argmin(laid[:, free].max(axis=1)))
            reach[:, free], side[:, free] = laid[best, free], best
    near = np.argmax(width_beside(bulk, ends, right), axis=0)
    return _Beside(reach, side, ends[near, np.arange(len(near))], bulk.thickness)
