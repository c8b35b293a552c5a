"""With which foot each line is stitched."""

from typing import get_args

from stitchpath.base.typing import Kind
from stitchpath.design.model import Design, Foot, Machine
from stitchpath.lines.line import Line

__all__ = ["ANY_FOOT", "FEET", "STRAIGHT", "foot_for", "foot_of"]

FEET: tuple[Foot, ...] = get_args(Foot)
ANY_FOOT = -1
"""Stands for a foot where whichever is on will do."""

STRAIGHT = ("parallel", "crosshatch", "matchstick", "piano keys", "radiating lines")
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
    return foot_for(design.machine, line.kind, straight=_straight(design, line))


def foot_for(machine: Machine, kind: Kind, *, straight: bool) -> int:
    """Tell with which foot a kind of line is stitched: its index in `FEET`.

    Parameters
    ----------
    machine
        What the design says of it.
    kind, straight
        The kind, and whether its lines are straight.
    """
    if machine.kind == "frame":
        return FEET.index("frame")
    asked = machine.foot.get(kind) if isinstance(machine.foot, dict) else machine.foot
    return FEET.index(asked or ("walking" if straight else "free-motion"))


def _straight(design: Design, line: Line) -> bool:
    if line.kind == "fill" and line.of.fill >= 0:
        return design.fills[line.of.fill].style in STRAIGHT
    if line.kind == "echo":  # round a motif pieced of patches it is as straight as they are
        return not line.of.pieces
    return line.kind in {"ditch", "outline"}
