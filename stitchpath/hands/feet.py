"""With which foot each line is stitched."""

from typing import get_args

from stitchpath.design.model import Design, Foot
from stitchpath.lines.line import Line
from stitchpath.typing import Kind

__all__ = ["ANY_FOOT", "FEET", "STRAIGHT", "foot_of"]

FEET: tuple[Foot, ...] = get_args(Foot)
ANY_FOOT = -1
"""Stands for a foot where whichever is on will do."""

STRAIGHT = ("parallel", "crosshatch")
"""Fills of straight lines."""


def foot_of(design: Design, line: Line) -> int:
    """Tell with which foot a line is stitched: its index in `FEET`.

    Where the design says nothing, a frame has its own. On a domestic machine straight lines and
    seams are stitched with the walking foot, which feeds all layers alike; what curves in
    free-motion, for there the quilt need not be turned. Common practice.

    Parameters
    ----------
    design
        Its `machine` and its fills.
    line
        The line.
    """
    machine = design.machine
    if machine.kind == "frame":
        return FEET.index("frame")
    asked = machine.foot.get(line.kind) if isinstance(machine.foot, dict) else machine.foot
    return FEET.index(asked or _usual(design, line.kind, line))


def _usual(design: Design, kind: Kind, line: Line) -> Foot:
    straight = kind in {"ditch", "outline"}
    if kind == "fill" and line.of.fill >= 0:
        straight = design.fills[line.of.fill].style in STRAIGHT
    if kind == "echo":  # round a motif pieced of patches it is as straight as they are
        straight = not line.of.pieces
    return "walking" if straight else "free-motion"
