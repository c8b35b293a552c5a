"""A line: a thing that has to be stitched."""

from collections.abc import Sequence
from dataclasses import dataclass

from stitchpath.base.typing import FloatArray, Kind
from stitchpath.geometry.polylines import path_lengths
from stitchpath.top.place import NOTHING, Subject

__all__ = ["KNOT", "SHOWN", "Line", "by_stage_and_thread"]

# Kinds of line that lie open on the fabric, where a second pass shows.
SHOWN: frozenset[Kind] = frozenset({"centre", "outline", "echo", "fill", "drawn"})

KNOT = 12.7  # mm, 1/2 in: a ring shorter than that is a knot of six stitches, and not drawn


@dataclass(frozen=True, slots=True, repr=False)
class Line:
    """One line to quilt, before it is noded and routed.

    Attributes
    ----------
    kind
        What sort of quilting it is.
    stage
        Stages are stitched in order, from 1.
    thread
        Name of the thread that stitches it.
    points
        Polyline, shape (n, 2), mm, x to the right and y down; curves flattened to
        0.05 mm or better.
    of
        What it belongs to: a seam, pieces, a motif or ground, and which echo it is.
    low
        On which side of the line, as one walks along `points`, the low side of the seam lies: -1
        left, +1 right (y points down), 0 where there is none.
    anchor
        Whether it is an anchoring seam: one between blocks, sashing or borders, whose stitching
        holds the layers before anything else is quilted.
    unit
        In a frame, the number of the line that it is a piece of, where that crosses only itself, as
        a row of loops does: it is stitched in one window if any holds it. Else -1.
    """

    kind: Kind
    stage: int
    thread: str
    points: FloatArray
    of: Subject = NOTHING
    low: int = 0
    anchor: bool = False
    unit: int = -1

    @property
    def length(self) -> float:
        """How long it is, mm."""
        return float(path_lengths([self.points])[0])

    def __repr__(self) -> str:
        """Say in one line what it is."""
        return f"<Line: {self.kind}, {self.thread!r}, {self.length:.1f} mm>"

    @property
    def seam(self) -> int:
        """Number of the seam of the top that it lies on, or -1."""
        return self.of.seam


def by_stage_and_thread(lines: Sequence[Line]) -> dict[tuple[int, str], list[int]]:
    """Group lines by stage and thread: what is stitched together, and cut where it meets.

    Parameters
    ----------
    lines
        In any order.
    """
    groups: dict[tuple[int, str], list[int]] = {}
    for i, line in enumerate(lines):
        groups.setdefault((line.stage, line.thread), []).append(i)
    return groups
