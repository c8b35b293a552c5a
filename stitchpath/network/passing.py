"""What it costs to pass from one edge to the next: a turn, an area, another foot."""

from dataclasses import dataclass, replace

import numpy as np

from stitchpath.geometry.turns import PIVOT, PIVOT_NOISE
from stitchpath.hands.areas import GROUND
from stitchpath.typing import FloatArray, IntArray

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
    """

    area: IntArray
    foot: IntArray
    angle: FloatArray
    stop: FloatArray
    half_turn: FloatArray
    visit: float
    change: float

    @property
    def free(self) -> bool:
        """Whether no passage costs anything."""
        turns = self.stop.any() or self.half_turn.any()
        return not (
            turns
            or (self.visit and (self.area != GROUND).any())
            or (self.change and len(set(self.foot[self.foot >= 0].tolist())) > 1)
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
        gap = np.abs(self.angle[a] - self.angle[b]) % 360.0
        turn = np.nan_to_num(180.0 - np.minimum(gap, 360.0 - gap), nan=0.0)
        one, other = self.foot[a // 2], self.foot[b // 2]
        turned = np.maximum(self._turn(one, vertex, turn), self._turn(other, vertex, turn))
        price = np.where(turn > PIVOT + PIVOT_NOISE, turned, 0.0)
        here, there = self.area[a // 2], self.area[b // 2]
        border = (here != there) * ((here != GROUND) * 0.5 + (there != GROUND) * 0.5)
        changed = (one != other) & (one >= 0) & (other >= 0)
        return np.asarray(price + self.visit * border + self.change * changed)

    def _turn(self, foot: IntArray, vertex: IntArray, turn: FloatArray) -> FloatArray:
        known = np.maximum(foot, 0)
        cost = self.stop[known] + self.half_turn[known, vertex] * turn / 180.0
        return np.where(foot < 0, 0.0, cost)

    def with_peg(self, vertex: int) -> "Passing":
        """Add an edge that costs nothing to pass, from a vertex to a new one at the same place."""
        return replace(
            self,
            area=np.append(self.area, GROUND),
            foot=np.append(self.foot, -1),
            angle=np.append(self.angle, [np.nan, np.nan]),
            half_turn=np.hstack([self.half_turn, self.half_turn[:, [vertex]]]),
        )
