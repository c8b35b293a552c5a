"""A quilt under a domestic machine, told in words: which side is rolled up, and how far."""

from collections.abc import Iterator

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_length
from stitchpath.geometry.polylines import moving_on
from stitchpath.geometry.turns import PIVOT, PIVOT_NOISE, turn_angle
from stitchpath.hands.feet import FEET
from stitchpath.hands.turning import roll_thickness
from stitchpath.plan import Plan
from stitchpath.route.runs import Run
from stitchpath.told.passes import Rolling
from stitchpath.top.place import Side

__all__ = ["rolled_up", "throat_words"]

_WAYS: dict[Side, tuple[float, float]] = {
    "right": (1.0, 0.0),
    "bottom": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "top": (0.0, -1.0),
}
_COUNTED = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_LEAST = 25.4  # mm: less than an inch beside the needle is not rolled
_SAME = 1.0  # mm: strips so near to one line are one row of sashing
_PINS = "Take out each pin before the needle comes to it; never stitch over one."  # common practice


def throat_words(plan: Plan) -> dict[int, Rolling]:
    """Tell what is rolled up before each run, by its number.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    dict of int to Rolling
        Whole sentences, such as "Roll the right side to the second sashing from there, 20 in of it,
        a roll 2 in thick." None where the throat of the machine is not known. The first tells of
        pins as well.
    """
    if plan.rolls is None:
        return {}
    words: dict[int, Rolling] = {}
    for run, roll in zip(plan.runs, plan.rolls.runs, strict=True):
        points = np.concatenate([leg.points for leg in run.legs])
        side = roll.side
        if _walked(plan, run):  # turned at each corner: what holds to the first of them
            points = _first_stretch(points)
            ahead = points[-1] - points[0]
            side = max(_WAYS, key=lambda s: ahead[1] * _WAYS[s][0] - ahead[0] * _WAYS[s][1])
        said = rolled_up(plan, side, points)
        pins = _PINS if not words else ""
        if said or pins:
            words[run.number] = Rolling(*_joined(said, pins))
    return words


def _joined(said: tuple[str, str] | None, pins: str) -> tuple[str, str]:
    if said is None:
        lead, _, rest = pins.partition(" each pin")
        return lead, f"each pin{rest}"
    return said[0], f"{said[1]} {pins}".strip()


def _walked(plan: Plan, run: Run) -> bool:
    first = next(leg for leg in run.legs if leg.line >= 0)
    return int(plan.tariff.foot[first.line]) == FEET.index("walking")


def _first_stretch(points: FloatArray) -> FloatArray:
    """Give a run from its start to its first pivot."""
    points = points[moving_on(points)]
    step = np.diff(points, axis=0)
    turns = np.flatnonzero(np.abs(turn_angle(step[:-1], step[1:])) > PIVOT + PIVOT_NOISE)
    return points[: int(turns[0]) + 2] if len(turns) else points


def rolled_up(plan: Plan, side: Side, points: FloatArray) -> tuple[str, str] | None:
    """Say how far a side is rolled up, so that the roll stays clear of the needle."""
    bulk, unit = plan.tariff.bulk, plan.top.unit
    assert bulk is not None  # noqa: S101 - of a plan there is a top
    way = np.array(_WAYS[side])
    edge = {"right": bulk.right, "bottom": bulk.bottom, "left": -bulk.left, "top": -bulk.top}[side]
    needle = float((points @ way).max())
    if edge - needle < _LEAST:
        return None
    marks = [(at, name) for at, name in _marks(plan, side) if at >= needle]
    at, name = min(marks, default=(needle, "up to the needle"))
    width = edge - at
    thick = roll_thickness(np.array([width]), bulk.thickness)[0]
    lead = f"Roll the {side} side" if side in ("left", "right") else f"Roll the {side} edge"
    return lead, (
        f"{name}, {format_length(width, unit)} of it with the margin, a roll "
        f"{format_length(float(thick), unit)} thick right of the needle."
    )


def _marks(plan: Plan, side: Side) -> Iterator[tuple[float, str]]:
    """Give what one can roll up to, and how far out it lies: sashing, and the border."""
    way = np.array(_WAYS[side])
    rows: list[float] = []
    inner = np.inf
    for patch in plan.top.patches:
        low, high = np.reshape(patch.polygon.bounds, (2, 2))
        span, across = np.abs((high - low) @ way), np.abs((high - low) @ way[::-1])
        outer = float(max(low @ way, high @ way))
        if patch.part == "sashing" and across > span:
            rows.append(outer)
        if patch.part == "border" and patch.place.side == side:
            inner = min(inner, float(min(low @ way, high @ way)))
    rows.sort(reverse=True)
    distinct = [at for k, at in enumerate(rows) if not k or rows[k - 1] - at > _SAME]
    for at, count in zip(distinct, _COUNTED, strict=False):
        yield at, f"to the {count} sashing from there"
    if np.isfinite(inner):
        yield (
            inner,
            "to the seam of the borders"
            if len(plan.design.layout.borders) > 1
            else ("to the seam of the border"),
        )
