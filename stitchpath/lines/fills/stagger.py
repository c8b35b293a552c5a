"""How rows of a motif lie: shifted, every other one mirrored, nested, run off the edge."""

from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import FloatArray

__all__ = ["Rows"]


@dataclass(frozen=True, slots=True)
class Rows:
    """How rows of a motif lie.

    Attributes
    ----------
    offset
        By what share of a motif every other row is shifted.
    other
        How every other row is drawn: "alike", "mirrored" left to right, or "upside down".
    gap
        How near rows come, mm: they nest into each other; None where each has its own height.
    ends
        "whole": a whole number of motifs from side to side; "off the edge": rows run on over the
        edge and are cut there.
    """

    offset: float = 0.5
    other: str = "alike"
    gap: float | None = None
    ends: str = "whole"

    @property
    def cut(self) -> bool:
        """Whether rows are laid over the ground and cut at its edge."""
        return self.gap is not None or self.ends == "off the edge"

    def line(self, motif: FloatArray, number: int) -> FloatArray:
        """Give the motif of a row, the first being row 0.

        Parameters
        ----------
        motif
            From `one_line`.
        number
            Of the row.
        """
        if number % 2 == 0 or self.other == "alike":
            return motif
        if self.other == "mirrored":
            return np.asarray((motif * (-1, 1) + (motif[-1, 0], 0))[::-1])
        return np.asarray(motif * (1, -1) + (0, motif[:, 1].min() + motif[:, 1].max()))

    def shift(self, number: int) -> float:
        """Tell at what share of a motif a row begins, the first being row 0."""
        return self.offset % 1 if number % 2 else 0.0
