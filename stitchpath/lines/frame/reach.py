"""How deep a frame shows the quilt: a depth, or a throat that the roll fills more and more."""

from dataclasses import dataclass, replace

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import Unit, format_length
from stitchpath.design.model import Machine

__all__ = ["Reach", "reach_of", "roll_radius"]

_SHARED = 0.2  # of what is shown: no more of it is given up so that windows overlap
_LEAST = 25.4  # mm: with less than an inch to stitch in, no quilt is made


def roll_radius(bar: float, thickness: float, rolled: FloatArray | float) -> FloatArray:
    """Radius of a roll: its cross-section is that of the bar and of what is wound on it.

    π r² = π bar² + thickness · rolled.

    Parameters
    ----------
    bar
        Radius of the bar, mm.
    thickness
        Of the quilt as it lies on the roll, mm.
    rolled
        Length that is wound on it, mm.

    Examples
    --------
    A quarter of an inch thick, 84 in long, on a bar of 1 in, in inches:

    >>> round(float(roll_radius(1, 0.25, 84)), 3)
    2.772
    """
    return np.asarray(np.sqrt(bar**2 + thickness * np.maximum(rolled, 0) / np.pi))


@dataclass(frozen=True, slots=True)
class Reach:
    """What a frame shows of the quilt.

    Attributes
    ----------
    depth
        With nothing rolled up and no bar, mm.
    bar
        Radius of the bar that the quilt is rolled on inside the throat, mm; 0 where the depth is
        the same throughout.
    thickness
        Of the quilt as it lies on that roll, mm.
    """

    depth: float
    bar: float = 0.0
    thickness: float = 0.0

    def shown(self, rolled: FloatArray | float) -> FloatArray:
        """Tell how deep it shows once some is rolled up, mm.

        D(y) = throat - clearance - 2·√(r₀² + t·y/π): the roll lies in the throat.
        """
        return np.asarray(self.depth - 2 * roll_radius(self.bar, self.thickness, rolled))

    def bottom(self, top: FloatArray | float, first: float) -> FloatArray:
        """Tell how far down windows show that begin somewhere, mm.

        Parameters
        ----------
        top
            Where they begin, mm.
        first
            Where the first begins, mm: nothing is rolled up then.
        """
        return np.asarray(top + self.shown(np.asarray(top) - first))

    def less(self, overlap: float, rolled: float) -> "Reach":
        """Give up some of the depth, so that neighbouring windows share it.

        Parameters
        ----------
        overlap
            mm; no more than a fifth of what is shown once all is rolled up.
        rolled
            How much that is, mm.
        """
        shared = min(overlap, _SHARED * float(self.shown(rolled)))
        return replace(self, depth=self.depth - shared)

    def check(self, long: float, unit: Unit) -> None:
        """Refuse a roll that leaves no room for the needle.

        Parameters
        ----------
        long
            From the first to the last that is stitched, mm.
        unit
            Of the design.

        Raises
        ------
        StitchpathError
            When less than an inch can be stitched before all is rolled up.
        """
        left = float(self.shown(long))
        if left < _LEAST and long > float(self.shown(0.0)):
            raise StitchpathError(
                f"machine.throat: found a throat that shows {format_length(max(left, 0.0), unit)} "
                f"once {format_length(long, unit)} are rolled up, expected at least "
                f"{format_length(_LEAST, unit)}"
            )


def reach_of(machine: Machine) -> Reach | None:
    """Tell what a frame shows; None where the machine is none, or its depth is not known."""
    if machine.kind != "frame":
        return None
    if machine.throat is not None:
        return Reach(machine.throat.width - machine.clearance, machine.bar, machine.rolled)
    return None if machine.depth is None else Reach(machine.depth)
