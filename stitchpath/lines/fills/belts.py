"""A belt over wheels: arcs of circles, joined by straight lines that touch both."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.ground import CHORD

__all__ = ["Wheel", "belt"]

_WHOLE = 2 * np.pi - 0.2  # an arc longer than this is none: its wheel lies a hair off the way


@dataclass(frozen=True, slots=True)
class Wheel:
    """A circle that a belt goes round.

    Attributes
    ----------
    at
        Its middle, shape (2,), mm.
    radius
        mm; 0 for a point.
    way
        1 if the belt goes round it from x to y, clockwise as seen (y points down); else -1.
    """

    at: FloatArray
    radius: float
    way: int


def belt(wheels: Sequence[Wheel]) -> FloatArray:
    """Lead a belt from wheel to wheel.

    Parameters
    ----------
    wheels
        The first and the last are points, of radius 0. Those next to each other lie clear of each
        other, or touch, where the belt goes round them in two ways; they may overlap where it goes
        round them in one.

    Returns
    -------
    ndarray, shape (n, 2)
        Smooth but at its wheels of radius 0; no chord is farther than `CHORD` from its arc.
    """
    touch = [_tangent(one, two) for one, two in pairwise(wheels)]
    parts = [wheels[0].at[None]]
    for (_, entered), wheel, (left, _) in zip(touch, wheels[1:], touch[1:], strict=False):
        parts.append(_round(wheel, entered, left))
    return np.concatenate([*parts, wheels[-1].at[None]])


def _tangent(one: Wheel, two: Wheel) -> tuple[FloatArray, FloatArray]:
    """Find where a belt leaves a wheel, and where it comes upon the next."""
    across = two.at - one.at
    far = float(np.hypot(*across))
    lean = (one.way * one.radius - two.way * two.radius) / max(far, 1e-12)
    angle = np.arctan2(across[1], across[0]) + np.arcsin(np.clip(lean, -1, 1))
    normal = np.array([-np.sin(angle), np.cos(angle)])
    return one.at - one.way * one.radius * normal, two.at - two.way * two.radius * normal


def _round(wheel: Wheel, entered: FloatArray, left: FloatArray) -> FloatArray:
    """Go round a wheel from one of its points to another one."""
    if wheel.radius == 0:
        return wheel.at[None]
    first, last = (np.arctan2(*(point - wheel.at)[::-1]) for point in (entered, left))
    sweep = wheel.way * (last - first) % (2 * np.pi)
    sweep = 0.0 if sweep > _WHOLE else sweep
    step = 2 * np.arccos(max(0.0, 1 - CHORD / wheel.radius))
    angles = first + wheel.way * np.linspace(0, sweep, int(np.ceil(sweep / step)) + 2)
    return np.asarray(wheel.at + wheel.radius * np.column_stack([np.cos(angles), np.sin(angles)]))
