"""What it costs to pass from one edge to the next: a turn, an area, another foot."""

from dataclasses import dataclass, replace

import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.hands.areas import GROUND
from stitchpath.hands.turning import pivot_seconds

__all__ = ["Passing"]


@dataclass(frozen=True, slots=True)
class Passing:
    """What it costs to pass from one edge to the next.

    Attributes
    ----------
    area
        Number of the area that each edge lies in, shape (m,); `GROUND` where it lies between.
    foot
        Number of the foot that stitches each edge, from 0, shape (m,); -1 where any foot will do.
    angle
        Direction in which one leaves a vertex by each end, in degrees, shape (2m,); nan where a
        turn there counts for nothing.
    stop
        By foot, what a turn of more than 30 degrees costs however small it is, shape (feet,).
    half_turn
        By foot and vertex, what a turn of 180 degrees costs beside that, shape (feet, n); smaller
        turns cost their share.
    visit
        What coming to an area costs, going away from it included.
    change
        What a change of foot costs.
    on
        Number of the foot that is on as each edge is walked, shape (m,): its own, or on a way the
        one that was put on for the last line; -1 where that counts for nothing. Ways stand once
        for each foot where there are several. Left out: as `foot`.
    """

    area: IntArray
    foot: IntArray
    angle: FloatArray
    stop: FloatArray
    half_turn: FloatArray
    visit: float
    change: float
    on: IntArray | None = None

    @property
    def carried(self) -> IntArray:
        """Which foot is on as each edge is walked, shape (m,)."""
        return self.foot if self.on is None else self.on

    @property
    def free(self) -> bool:
        """Whether no passage costs anything."""
        turns = self.stop.any() or self.half_turn.any()
        return not (
            turns
            or (self.visit and (self.area != GROUND).any())
            or (self.change and len(set(self.carried[self.carried >= 0].tolist())) > 1)
        )

    def price(self, a: IntArray, b: IntArray, vertex: IntArray) -> FloatArray:
        """Price the passages between ends a and b at vertices.

        Parameters
        ----------
        a, b, vertex
            Shape (k,) each; the ends lie at that vertex.

        Returns
        -------
        ndarray
            Shape (k,).
        """
        one, other = self.foot[a // 2], self.foot[b // 2]
        turned = pivot_seconds(self.turn(a, b), one, other, self.stop, self.half_turn[:, vertex])
        here, there = self.area[a // 2], self.area[b // 2]
        border = (here != there) * ((here != GROUND) * 0.5 + (there != GROUND) * 0.5)
        before, after = self.carried[a // 2], self.carried[b // 2]
        changed = (before != after) & (before >= 0) & (after >= 0)
        return np.asarray(turned + self.visit * border + self.change * changed)

    def turn(self, a: IntArray, b: IntArray) -> FloatArray:
        """Give the turn from arriving by ends a to leaving by ends b, degrees; 0 where none counts.

        Parameters
        ----------
        a, b
            Shape (k,) each.
        """
        gap = np.abs(self.angle[a] - self.angle[b]) % 360.0
        return np.nan_to_num(180.0 - np.minimum(gap, 360.0 - gap), nan=0.0)

    def changes(self, edges: IntArray) -> int:
        """Count how often the foot is changed along a run: the ways between lines ask for none.

        Parameters
        ----------
        edges
            The edges that it walks, in order, shape (k,).
        """
        feet = self.foot[edges]
        return int((np.diff(feet[feet >= 0]) != 0).sum())

    def with_peg(self, vertex: int) -> "Passing":
        """Add an edge that costs nothing to pass, from a vertex to a new one at the same place."""
        return replace(
            self,
            area=np.append(self.area, GROUND),
            foot=np.append(self.foot, -1),
            on=np.append(self.carried, -1),
            angle=np.append(self.angle, [np.nan, np.nan]),
            half_turn=np.hstack([self.half_turn, self.half_turn[:, [vertex]]]),
        )
