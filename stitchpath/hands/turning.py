"""Turning the quilt round the needle: how much of it, and how long that takes."""

from dataclasses import dataclass
from math import hypot, pi

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.design.battings import UNNAMED, thickness_through
from stitchpath.design.model import Design
from stitchpath.geometry.turns import PIVOT, PIVOT_NOISE
from stitchpath.hands.pace import Pace

__all__ = [
    "Bulk",
    "half_turn_seconds",
    "loft_of",
    "pivot_seconds",
    "roll_thickness",
    "thickness_of",
]

_METRE = 1000.0
_ROLL = 100.0  # mm


def thickness_of(design: Design) -> float:
    """Thickness under a stitch, mm: as said, or by the kind of batting and the two fabrics."""
    if design.stitching.thickness is not None:
        return design.stitching.thickness
    kind = design.batting.kind
    top, back = design.stitching.cloth
    return thickness_through(kind, top=top, back=back) if kind else UNNAMED


_LOFT = 3.0
"""How many times as thick a quilt lies as under a stitch; from memory: measure yours."""


def loft_of(design: Design) -> float:
    """Thickness of the quilt as it lies, mm, which is what rolls up: as said, or by its kind."""
    loft = design.batting.loft
    return loft if loft is not None else _LOFT * thickness_of(design)


def roll_thickness(width: FloatArray, thickness: float) -> FloatArray:
    """How thick a roll is that some width of quilt makes.

    Parameters
    ----------
    width
        What is rolled up, mm, any shape.
    thickness
        Of the quilt, mm.

    Returns
    -------
    FloatArray
        Diameter, mm, of a roll wound without gaps. Its cross-section is that of the sheet:
        π d² / 4 = t w, so d = 2 √(t w / π).

    Examples
    --------
    >>> roll_thickness(np.array([785.398]), 1.0).round(2).tolist()  # π/4 m of quilt, 1 mm thick
    [31.62]
    """
    return np.asarray(2 * np.sqrt(thickness * width / pi))


@dataclass(frozen=True, slots=True)
class Bulk:
    """What has to be turned: the quilt with its margin, mm, and how thick it is."""

    left: float
    top: float
    right: float
    bottom: float
    thickness: float

    @property
    def diagonal(self) -> float:
        """From corner to corner, mm."""
        return hypot(self.right - self.left, self.bottom - self.top)

    def farthest(self, points: FloatArray) -> FloatArray:
        """How far the farthest side is from places, shape (n, 2), mm: all that has to pass."""
        x, y = points[:, 0], points[:, 1]
        sides = np.stack([x - self.left, self.right - x, y - self.top, self.bottom - y])
        return np.asarray(np.maximum(sides.max(axis=0, initial=0.0), 0.0))


def half_turn_seconds(pace: Pace, bulk: Bulk, points: FloatArray) -> FloatArray:
    """How long it takes to turn the quilt half round at places, beside the stop itself.

    Turned half round, all of the quilt passes the throat once, the farthest side rolled up. So the
    time grows with the size of the quilt, for so far the hands have to lead it, and with the roll,
    which has to be worked through. The form is ours, and so are the figures of `Pace`, from
    memory: time yourself.

    Parameters
    ----------
    pace
        `turn_size` for each metre of the diagonal, `turn_roll` for each 100 mm of roll.
    bulk
        The quilt.
    points
        Where the needle is, shape (n, 2), mm.

    Returns
    -------
    FloatArray
        Seconds, shape (n,).

    Examples
    --------
    In the middle of a quilt of 600 by 800 mm, 3 mm thick, the diagonal is 1 m and the farthest side
    400 mm away: a roll of 2 √(3 · 400 / π) = 39.09 mm. At 4 and 8 s that is 4 + 3.127 s.

    >>> quilt = Bulk(0, 0, 600, 800, 3.0)
    >>> half_turn_seconds(Pace(), quilt, np.array([[300.0, 400.0]])).round(3).tolist()
    [7.127]
    """
    roll = roll_thickness(bulk.farthest(points), bulk.thickness)
    return np.asarray(pace.turn_size * bulk.diagonal / _METRE + pace.turn_roll * roll / _ROLL)


def pivot_seconds(
    turn: FloatArray, one: IntArray, other: IntArray, stop: FloatArray, half: FloatArray
) -> FloatArray:
    """How long turns take where a line is left for the next: the longer of the two feet's.

    Parameters
    ----------
    turn
        Degrees, 0 to 180, shape (n,); nan for no turn.
    one, other
        The feet before and after, shape (n,); below 0 where any foot will do.
    stop
        By foot, what any pivot takes, s, shape (feet,).
    half
        By foot, what half a turn takes beside that at each of those places, s, shape (feet, n).

    Returns
    -------
    FloatArray
        Seconds, shape (n,); nothing for turns of up to 30 degrees.

    Examples
    --------
    A right angle with a stop of 2 s and 8 s for half a turn, and one with any foot:

    >>> feet = np.array([0, -1])
    >>> pivot_seconds(np.array([90.0, 90.0]), feet, feet, np.array([2.0]), np.full((1, 2), 8.0))
    array([6., 0.])
    """
    at, seconds = np.arange(len(turn)), np.zeros(len(turn))
    for feet in (one, other):
        known = np.maximum(feet, 0)
        cost = stop[known] + half[known, at] * turn / 180.0
        seconds = np.maximum(seconds, np.where(feet < 0, 0.0, cost))
    return np.where(turn > PIVOT + PIVOT_NOISE, seconds, 0.0)
