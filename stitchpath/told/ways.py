"""The legs of a run with what lies beside each, and where one step ends and the next begins.

A step goes along one thing: a seam and what goes straight on from it, a line that shows, a way in
the margin. Where another seam begins that turns off by more than a few degrees, a step begins.
"""

from collections.abc import Container, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from stitchpath.base.typing import FloatArray, Kind
from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.turns import PIVOT, Hand, hand, turn_angle
from stitchpath.plan import Plan
from stitchpath.route.runs import Leg, Run
from stitchpath.told.seams import Bit
from stitchpath.top.place import Subject

__all__ = [
    "Turn",
    "Way",
    "inner_turns",
    "key_of",
    "pivots_in",
    "spans",
    "turn_by",
    "turn_of",
    "ways_of",
]

Turn: TypeAlias = Hand | Literal["bear left", "bear right"]
"""How one turns into a step: bearing is a turn too small for a pivot, onto another seam."""

_ROUND_TURNS = ("outline", "echo", "fill", "drawn")  # followed as far as nothing branches off

_SMOOTH = 3.0  # degrees: one seam goes straight on into another that turns off less


@dataclass(frozen=True, slots=True)
class Way:
    """A leg, how long it is, and what lies beside it.

    Attributes
    ----------
    leg, length
        The leg, and its length, mm.
    what
        A kind of line, "travel" along a seam, or "margin" for all that is off the top.
    of
        What its line belongs to, None where it has none.
    bit
        The piece of seam, None off the seams.
    low
        The low side as one goes, -1 left, +1 right.
    straight
        The way of the straight seam that it lies on, shape (2,): where lines are drawn together a
        bit of it may be short and lie askew. None off such seams.
    """

    leg: Leg
    length: float
    what: Kind | Literal["travel", "margin"]
    of: Subject | None = None
    bit: Bit | None = None
    low: int = 0
    straight: FloatArray | None = None

    @property
    def begins(self) -> FloatArray:
        """The way in which it begins, shape (2,)."""
        points = self.leg.points
        return self.straight if self.straight is not None else np.asarray(points[1] - points[0])

    @property
    def ends(self) -> FloatArray:
        """The way in which it ends, shape (2,)."""
        points = self.leg.points
        return self.straight if self.straight is not None else np.asarray(points[-1] - points[-2])


def ways_of(plan: Plan, run: Run) -> list[Way]:
    """Give the legs of a run with what lies beside each."""
    lengths = path_lengths([leg.points for leg in run.legs]).tolist()
    return [_way(plan, leg, length) for leg, length in zip(run.legs, lengths, strict=True)]


def _way(plan: Plan, leg: Leg, length: float) -> Way:
    if leg.do == "travel" and leg.along != "seam":
        return Way(leg, length, "margin")
    line = plan.lines[leg.line] if leg.line >= 0 else None
    what = line.kind if line else "travel"
    of = line.of if line else None
    if leg.seam < 0:
        return Way(leg, length, what, of)
    seam = plan.top.seams[leg.seam]
    low, left, right = seam.low, seam.left, seam.right
    if not leg.ahead:
        low, left, right = -low, right, left
    bit = Bit(left, right, leg.points[0], leg.points[-1], length)
    straight = None
    if len(seam.points) == 2:  # noqa: PLR2004 - its ends
        straight = (seam.points[1] - seam.points[0]) * (1 if leg.ahead else -1)
    return Way(leg, length, what, of, bit, low, straight)


def spans(
    ways: Sequence[Way],
    forks: Container[tuple[int, int]],
    changed: Container[int] = (),
    *,
    back: bool = False,
) -> list[tuple[int, int]]:
    """Split a run into steps.

    Parameters
    ----------
    ways
        Of the run.
    forks
        Places where more than two lines that show end, as `key_of` gives them.
    changed
        Legs before which the foot is changed, or the needle parked.
    back
        Whether the run comes back onto the edge at its end.

    Returns
    -------
    list of (int, int)
        First and last leg of each step. Legs into and out of the margin at the ends of a run go
        with their neighbours.
    """
    cuts = [k for k in range(1, len(ways)) if k in changed or _parts(ways[k - 1], ways[k], forks)]
    starts = [0, *cuts]
    if len(starts) > 1 and ways[0].what == "margin" and starts[1] not in changed:
        del starts[1]
    end_apart = starts[-1] in changed or back
    if len(starts) > 1 and ways[-1].what == "margin" and not end_apart:
        before, last = ways[starts[-1] - 1], ways[starts[-1]]
        if hand(_angle(before, last)) == "straight":
            del starts[-1]
    return list(zip(starts, [start - 1 for start in starts[1:]] + [len(ways) - 1], strict=True))


def _parts(before: Way, after: Way, forks: Container[tuple[int, int]]) -> bool:
    """Tell whether one step ends and another begins between two legs."""
    if before.what != after.what or (before.bit is None) != (after.bit is None):
        return True
    if before.what == "margin":
        return False
    turn = turn_of(before, after)
    pivots = bool(pivots_in(before.leg) or pivots_in(after.leg))
    if before.bit:
        same = before.leg.seam == after.leg.seam and turn in ("bear left", "bear right")
        return pivots or (turn != "straight" and not same)
    forked = turn != "straight" and key_of(after.leg.points[0]) in forks
    turned = before.what not in _ROUND_TURNS and (turn in ("left", "right") or pivots)
    return before.of != after.of or turn == "back" or forked or turned


def turn_of(before: Way, after: Way) -> Turn:
    """Tell how one turns from a leg into the next."""
    angle = _angle(before, after)
    if hand(angle) == "straight" and abs(_break(before, after, angle)) <= _SMOOTH:
        return "straight"
    return turn_by(angle)


def turn_by(angle: float) -> Turn:
    """Name a turn by its angle alone, degrees."""
    turn = hand(angle)
    if turn != "straight" or abs(angle) <= _SMOOTH:
        return turn
    return "bear right" if angle > 0 else "bear left"


def _angle(before: Way, after: Way) -> float:
    return float(turn_angle(before.ends, after.begins))


def _break(before: Way, after: Way, angle: float) -> float:
    """Tell by how many degrees a path breaks, apart from what its curve turns there anyway.

    A curve is drawn with straight pieces, which turn where they meet. On a circle all turns are
    alike: what the turns beside this one have in common with it belongs to the curve.
    """
    turns = [inner_turns(before.leg)[-1:], inner_turns(after.leg)[:1]]
    beside = [float(turn[0]) for turn in turns if len(turn)]
    if len(beside) < 2 or any(abs(turn) > PIVOT / 2 for turn in beside):  # noqa: PLR2004 - both
        return angle
    return min(angle, angle - sum(beside) / 2, key=abs)


def inner_turns(leg: Leg) -> FloatArray:
    """Give the turns at the points within a leg, degrees."""
    way = np.diff(leg.points, axis=0)
    return turn_angle(way[:-1], way[1:])


def pivots_in(leg: Leg) -> list[Hand]:
    """List the pivots within a leg."""
    if len(leg.points) < 3:  # noqa: PLR2004 - straight
        return []
    return [hand(float(turn)) for turn in inner_turns(leg) if abs(turn) > PIVOT]


def key_of(point: FloatArray) -> tuple[int, int]:
    """Give a place as whole micrometres, to look it up by."""
    return round(float(point[0]) * 1000), round(float(point[1]) * 1000)
