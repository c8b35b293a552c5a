"""What a fill hands on: paths, the point it hangs on, and what it had to leave out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from stitchpath.base.typing import FloatArray

__all__ = ["CLOSED", "FREE", "PATCHWISE", "THROUGH", "UNFIT", "FillNote", "Filled", "inset_of"]

CLOSED: tuple[str, ...] = ("rings", "spiral", "meander", "pebbles")
"""Fills that are entered at a door and come back to it."""

FREE: Mapping[str, float] = {"meander": 0.15, "pebbles": 0.01}
"""Fills that wander, another one for every seed: in a frame they are parted where it is rolled on.

With each how far, in spacings, its ground keeps from such a border beyond its inset: strands of two
meanders then come to 0.6 apart, and pebbles of two passes nearly touch, as those of one do.
"""

_INSETS = {
    "loops": 0.1,
    "motif rows": 0.1,
    "ribbon candy": 0.2,
    "pebbles": 0.1,
    "feathers": 0.2,
}  # usual, in spacings, of those that run not from edge to edge
_USUAL = 0.5

PATCHWISE: tuple[str, ...] = ("piano keys", "continuous curve")
"""Fills drawn from the sides of single patches."""

THROUGH: tuple[str, ...] = (
    "parallel",
    "crosshatch",
    "waves",
    "matchstick",
    "orange peel",
    "clamshell",
    "radiating lines",
    "piano keys",
    "continuous curve",
)
"""Fills that run from edge to edge."""

UNFIT: Mapping[str, str] = {
    "ribbon candy": "it is stitched along a border or another strip, up to ten folds wide",
    "feathers": "they lie along a border or another strip, from 2 1/2 to 12 plumes wide, or as a "
    "wreath in a round or square ground",
}
"""What ground a style wants that not every ground is."""


def inset_of(style: str, spacing: float, asked: float | None = None) -> float:
    """Tell how far a fill keeps from the edge of its ground, mm.

    Parameters
    ----------
    style
        Its name.
    spacing
        mm.
    asked
        What is asked for, mm; None where nothing is.

    Examples
    --------
    >>> inset_of("meander", 20.0), inset_of("pebbles", 20.0), inset_of("waves", 20.0, 3.0)
    (10.0, 2.0, 3.0)
    """
    if asked is not None:
        return asked
    return 0.0 if style in THROUGH else spacing * _INSETS.get(style, _USUAL)


@dataclass(frozen=True, slots=True)
class FillNote:
    """Something to know about a filled region.

    Attributes
    ----------
    kind
        "empty": nothing could be stitched; "neck": a neck or tip too narrow for the fill is left
        empty; "bare": a place lies farther from stitching than the fill promises; "thin": a meander
        found so little room to turn that it is much shorter than its spacing asks for; "door": the
        fill is not entered where it was asked to be; "whole": its spacing was changed to come out
        whole; "unfit": a quilter would not stitch this style on such a ground, see `UNFIT`.
    at
        Where, (x, y), mm.
    width
        Of the region there, mm; for "bare" how far the place is from stitching; for "thin" and
        "whole" the spacing that it comes to.
    length
        Greatest extent of the place, mm.
    """

    kind: Literal["empty", "neck", "bare", "thin", "door", "whole", "unfit"]
    at: tuple[float, float]
    width: float
    length: float = 0.0


@dataclass(frozen=True, slots=True)
class Filled:
    """The stitching of one filled region.

    Attributes
    ----------
    paths
        Polylines, each one unbroken path, shape (k, 2), mm; curves are flattened to 0.05 mm or
        better. Where two paths touch, the point is a vertex of both, equal to the last bit.
        They cross only in the styles crosshatch, loops and motif rows, and never run along each
        other.
    door
        The point (x, y), mm, on the region's edge where a closed fill is entered and left; None
        for fills whose paths run from edge to edge. A region that falls apart into several parts
        has one closed path for each, which begins and ends at a door of its own: this is the
        door of the first.
    notes
        What a quilter should know: places that were left unfilled, a door that had to move.
    """

    paths: tuple[FloatArray, ...]
    door: tuple[float, float] | None
    notes: tuple[FillNote, ...]
