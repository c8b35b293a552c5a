"""Fills ruled on a lattice, to run from edge to edge: lines, waves, arcs.

Each gives curves that reach over all of a region; `through.py` cuts them at its edge.
"""

import numpy as np
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.ground import CHORD
from stitchpath.lines.fills.lattice import Lattice

__all__ = ["arc", "clamshells", "matchsticks", "orange_peel", "ruled", "waved"]

_BEYOND = 1.0  # lines reach so far over the region, mm
_SWAY = 0.5  # height of a wave either side of its guide, in spacings
_LENGTH = 6.0  # of a wave, in spacings
_DOWN = 3.0  # in so many spacings waves die down towards the first and the last
_UNEVEN = 0.4  # matchsticks lie nearer and farther than the spacing by this share of it
_PEEL = np.sqrt(2) / 2 - 0.5  # rise of a quarter circle over the side of its square


def ruled(lattice: Lattice, region: BaseGeometry, *, shift: float = 0.0) -> list[FloatArray]:
    """Rule straight lines, in rows of a lattice.

    Parameters
    ----------
    lattice
        Where they lie.
    region
        What they reach over, mm.
    shift
        Of all of them, in steps.
    """
    left, low, right, high = lattice.level(region).bounds
    at = lattice.places(1, low, high, shift)
    ends = np.array([left - _BEYOND, right + _BEYOND])
    return [lattice.upright(np.column_stack([ends, [y, y]])) for y in at.tolist()]


def matchsticks(lattice: Lattice, region: BaseGeometry, seed: int) -> list[FloatArray]:
    """Rule straight lines unevenly: each moved by up to a fifth of a step either way.

    Parameters
    ----------
    lattice, region
        As for `ruled`.
    seed
        Another one moves them otherwise. A line is moved by its number in the lattice, so that
        lines of neighbouring patches of one frame meet.
    """
    rows = ruled(lattice, region, shift=0.5)
    across = np.array([-np.sin(np.radians(lattice.angle)), np.cos(np.radians(lattice.angle))])
    found = []
    for row in rows:
        number = round((float(row[0] @ across) - lattice.origin[1]) / lattice.step[1] - 0.5)
        dice = np.random.default_rng([seed, number % 2**32])
        found.append(row + across * dice.uniform(-0.5, 0.5) * _UNEVEN * lattice.step[1])
    return found


def waved(lattice: Lattice, region: BaseGeometry) -> list[FloatArray]:
    """Draw waves side by side, in step; they die down towards the first and last of the frame.

    Parameters
    ----------
    lattice, region
        As for `ruled`. As many waves as come out whole lie over the frame.
    """
    left, low, right, high = lattice.level(region).bounds
    pitch = lattice.step[1]
    start, top = lattice.origin
    waves = max(1, round(lattice.span[0] / (_LENGTH * pitch)))
    length = lattice.span[0] / waves
    # Sampled from where waves begin, so that those of the next block go on from the same point.
    fine = length / np.ceil(2 * np.pi * np.sqrt(_SWAY * pitch / (8 * CHORD)))
    first, last = np.floor((left - start) / fine) - 1, np.ceil((right - start) / fine) + 1
    x = start + fine * np.arange(first, last + 1)
    swing = np.sin(2 * np.pi * (x - start) / length)
    found = []
    for y in lattice.places(1, low - pitch, high + pitch, 0.5).tolist():
        room = min(y - top, top + lattice.span[1] - y) / (_DOWN * pitch)
        sway = _SWAY * pitch * min(max(room, 0.0), 1.0)
        found.append(lattice.upright(np.column_stack([x, y + sway * swing])))
    return found


def orange_peel(lattice: Lattice, region: BaseGeometry) -> list[FloatArray]:
    """Draw two arcs over each side of the squares of a lattice: quarter circles, of squares.

    Parameters
    ----------
    lattice, region
        As for `ruled`.
    """
    left, low, right, high = lattice.level(region).bounds
    wide, tall = lattice.step
    columns = lattice.places(0, left - wide, right + wide)
    rows = lattice.places(1, low - tall, high + tall)
    found = []
    for fixed, along, flip in ((rows, columns, False), (columns, rows, True)):
        if len(along) < 2:  # noqa: PLR2004 - a side has two ends
            continue
        for at in fixed.tolist():
            for first in (1, -1):
                chain = _chain(along, at, _PEEL, first)
                found.append(lattice.upright(chain[:, ::-1] if flip else chain))
    return found


def clamshells(lattice: Lattice, region: BaseGeometry) -> list[FloatArray]:
    """Draw rows of half circles, each row on the crowns of the next one.

    Parameters
    ----------
    lattice, region
        As for `ruled`; its columns are as wide as a shell.
    """
    left, low, right, high = lattice.level(region).bounds
    wide = lattice.step[0]
    rows = np.arange(np.floor((low - lattice.origin[1]) / (wide / 2)),
                     np.ceil((high - lattice.origin[1]) / (wide / 2)) + 2)  # fmt: skip
    found = []
    for row in rows.tolist():
        feet = lattice.places(0, left - wide, right + wide, 0.5 * (row % 2))
        chain = _chain(feet, lattice.origin[1] + row * wide / 2, -0.5, 0)
        found.append(lattice.upright(chain))
    return found


def _chain(at: FloatArray, y: float, rise: float, first: int) -> FloatArray:
    """Join places on a level by arcs that rise by a share of their chord, all or by turns."""
    points = np.column_stack([at, np.full(len(at), y)])
    parts = []
    for k in range(len(points) - 1):
        side = (first * (-1) ** k if first else 1) * rise
        parts.append(arc(points[k], points[k + 1], side * float(at[k + 1] - at[k]))[:-1])
    return np.concatenate([*parts, points[-1:]])


def arc(start: FloatArray, end: FloatArray, rise: float) -> FloatArray:
    """Draw a circle's arc.

    Parameters
    ----------
    start, end
        Shape (2,), mm.
    rise
        How far it rises over its chord, to the right as one goes (y points down) where it is more
        than 0, mm.

    Returns
    -------
    ndarray, shape (n, 2)
        Its ends are those given, to the last bit; no chord is farther than `CHORD` from it.
    """
    chord = end - start
    half = float(np.hypot(*chord)) / 2
    if half == 0 or rise == 0:
        return np.stack([start, end])
    turn = 2 * np.arctan2(abs(rise), half)  # half of the arc, as seen from the middle of its circle
    radius = half / np.sin(turn) if np.sin(turn) > 0 else half
    count = max(2, int(np.ceil(2 * turn / (2 * np.arccos(max(0.0, 1 - CHORD / radius))))) + 1)
    angle = np.linspace(-turn, turn, count)
    along = 0.5 + radius * np.sin(angle) / (2 * half)
    over = (radius * np.cos(angle) - (radius - abs(rise))) * np.sign(rise)
    normal = np.array([-chord[1], chord[0]]) / (2 * half)
    path = start + along[:, None] * chord + over[:, None] * normal
    path[0], path[-1] = start, end
    return np.asarray(path)
