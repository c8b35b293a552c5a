"""What a drawing repeats by copies of one group, as rectangles: they may be blocks."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.drawing import Frame
from stitchpath.design.drawings.ink import Ink

__all__ = ["DrawnCopy", "drawn_copies", "framed"]

_ALIKE = 1e-3  # how far a copy may be sheared, or scaled more one way, and still be a block
_NEAR = 0.05  # mm: boxes of copies of one group differ by less
_MOST = 5000


@dataclass(frozen=True, slots=True)
class DrawnCopy:
    """A copy of a group.

    Attributes
    ----------
    of
        The name of the group.
    width, height
        Of the box round it, mm.
    frame
        Matrix, shape (2, 3): from the corner of that box to the top, mm.
    told
        Whether the file itself says that it is a block.
    """

    of: str
    width: float
    height: float
    frame: FloatArray
    told: bool = False


def framed(frames: Sequence[Frame], mm: float, origin: FloatArray) -> tuple[DrawnCopy, ...]:
    """Take the blocks that a file tells of.

    Parameters
    ----------
    frames
        As read.
    mm
        Millimetres to the drawing's unit.
    origin
        The top left corner of the top, mm, shape (2,).
    """
    made = []
    for of, corners in frames:
        zero, across, _, down = corners * mm - origin
        sides = np.stack([across - zero, down - zero], axis=1)
        width, height = np.hypot(sides[0], sides[1]).tolist()
        if min(width, height) <= _NEAR:
            continue
        turn = sides / (width, height)
        if np.abs(turn.T @ turn - np.eye(2)).max() <= _ALIKE:
            made.append(DrawnCopy(of, width, height, np.column_stack([turn, zero]), told=True))
    return tuple(made)


def drawn_copies(inks: Sequence[Ink], mm: float, origin: FloatArray) -> tuple[DrawnCopy, ...]:
    """Find what is copied twice or more, the outermost such copies.

    Parameters
    ----------
    inks
        Shapes of patches and seams.
    mm
        Millimetres to the drawing's unit.
    origin
        The top left corner of the top, mm, shape (2,).
    """
    for depth in range(3):
        groups: dict[tuple[str, bytes], list[Ink]] = defaultdict(list)
        for ink in inks:
            if len(ink.shape.copies) > depth:
                copy = ink.shape.copies[depth]
                groups[copy.of, np.round(copy.matrix, 9).tobytes()].append(ink)
        if len(groups) > 1:
            break
    if not 1 < len(groups) <= _MOST:
        return ()
    made = [_copy(some[0].shape.copies[depth].of, depth, some, mm, origin)
            for some in groups.values()]  # fmt: skip
    return tuple(copy for copy in made if copy is not None)


def _copy(
    of: str, depth: int, some: Sequence[Ink], mm: float, origin: FloatArray
) -> DrawnCopy | None:
    """Frame a copy; None where it is sheared."""
    matrix = some[0].shape.copies[depth].matrix
    turn, moved = matrix[:, :2] * mm, matrix[:, 2] * mm
    scale = float(np.sqrt(abs(np.linalg.det(turn))))
    if scale <= 0 or np.abs(turn.T @ turn / scale**2 - np.eye(2)).max() > _ALIKE:
        return None
    points = np.concatenate([line for ink in some for line in ink.lines])
    local = (points - moved) @ np.linalg.inv(turn).T
    low, high = local.min(axis=0), local.max(axis=0)
    width, height = ((high - low) * scale).tolist()
    if min(width, height) <= _NEAR:
        return None
    frame = np.column_stack([turn / scale, turn @ low + moved - origin])
    return DrawnCopy(of, width, height, frame)
