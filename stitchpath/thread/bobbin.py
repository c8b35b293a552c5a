"""The bobbin as a ring of thread: how much goes on it."""

import math
from dataclasses import dataclass

from stitchpath.base.errors import StitchpathError
from stitchpath.thread.sizes import ThreadKind

__all__ = ["BOBBINS", "CLASS_15", "PACKING", "Bobbin", "bobbin_room"]


@dataclass(frozen=True, slots=True)
class Bobbin:
    """The ring that thread fills on a full bobbin, mm.

    Attributes
    ----------
    name
        The trade's size.
    outer, core
        Diameter of the full winding and of the bare core.
    width
        Between the flanges.
    """

    name: str
    outer: float
    core: float
    width: float

    def __post_init__(self) -> None:
        """Refuse a ring without room."""
        if not (0 < self.core < self.outer and self.width > 0):
            raise StitchpathError(
                f'bobbin "{self.name}": found {self.outer:g} mm full, {self.core:g} mm bare and '
                f"{self.width:g} mm wide, expected a core smaller than the full winding"
            )

    @property
    def ring(self) -> float:
        """Volume of the winding, mm³."""
        return math.pi / 4 * (self.outer**2 - self.core**2) * self.width


CLASS_15 = Bobbin("class 15", outer=19.5, core=8.0, width=9.5)
BOBBINS = {
    "class 15": CLASS_15,
    "L": Bobbin("L", outer=20.0, core=8.0, width=7.5),
    "M": Bobbin("M", outer=24.0, core=8.5, width=9.0),
}
"""The trade's sizes. Outside 20.3 x 11.7 mm (class 15), 20.3 x 8.9 mm (L) and 25 x 10.7 mm (M),
common practice; the room between the flanges from memory."""


PACKING = {"machine": 0.5, "bought": 0.8}
"""Share of the ring that is fibre, of bobbins wound at the machine (from memory) and of those
bought wound (published: 130 to 154 yd on size L)."""


def bobbin_room(bobbin: Bobbin, kind: ThreadKind, packing: float = 0.5) -> float:
    """Length of thread that fills a bobbin.

    Volume of the ring, times the share of it that is fibre, over the solid fibre in a cut through
    the thread (tex over fibre density).

    Parameters
    ----------
    bobbin
        The ring to fill.
    kind
        Size and fibre.
    packing
        Share of the ring that is fibre (`PACKING`); 0.4 for a loose winding, from memory.

    Returns
    -------
    float
        mm of thread.
    """
    return bobbin.ring * packing / kind.section
