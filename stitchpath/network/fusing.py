"""Pieces fused to a quilt in a frame: window by window where it is, or out of the frame."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.design.model import Design, FuseWay
from stitchpath.geometry.tolerances import BOTH_ROUNDED
from stitchpath.hands.pace import Pace, pace_of
from stitchpath.lines.applique import stage_of
from stitchpath.lines.frame.windows import Window, reaches
from stitchpath.lines.line import Line
from stitchpath.network.parting import window_of
from stitchpath.top.build import Piece, Top

__all__ = ["Fusing", "fusing_of"]


@dataclass(frozen=True, slots=True)
class Fusing:
    """Where pieces are fused between the quilting and what is stitched after it.

    Attributes
    ----------
    way
        Which of both is done: as it is asked, else the quicker.
    within, out
        Seconds that both take, beyond fusing itself: a board under the quilt in each window; or the
        quilt taken out, loaded again, basted and rolled on anew. The first is None where a piece is
        nowhere shown whole before it is stitched.
    windows
        In the frame: in which window each piece is fused, by its number; 0 where there is but one.
    """

    way: FuseWay
    within: float | None
    out: float
    windows: dict[int, int]


def fusing_of(
    design: Design, top: Top, lines: Sequence[Line], windows: Sequence[Window]
) -> Fusing | None:
    """Choose where pieces are fused that are put on after the quilting.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        Cut for the windows.
    windows
        What the frame shows (`frame_windows`).

    Returns
    -------
    Fusing or None
        None out of a frame, and where nothing is stitched before pieces are fused or after.

    Raises
    ------
    StitchpathError
        When it is asked to be done in the frame, and cannot.
    """
    later = [piece for piece in top.pieces if stage_of(piece.asked) > 1]
    if design.machine.kind != "frame" or not later or {line.stage for line in lines} != {1, 2}:
        return None
    mine = (
        window_of(*reaches(lines, windows[0].axis), windows) + 1
        if windows
        else np.zeros(len(lines), np.int64)
    )
    visited = [
        sorted({int(mine[k]) for k, line in enumerate(lines) if line.stage == stage})
        for stage in (1, 2)
    ]
    fused = {p.number: _fused_in(p, lines, mine.tolist(), visited[1][::-1], windows) for p in later}
    pace = pace_of(design)
    within, out = _seconds(pace, visited, len(set(fused.values())))
    short = [top.pieces[number] for number, window in fused.items() if window is None]
    quicker: FuseWay = "in the frame" if within <= out else "out of the frame"
    way = design.machine.fuse or quicker
    if short and way == "in the frame":
        if design.machine.fuse is not None:
            raise StitchpathError(
                f'machine.fuse: found "in the frame", expected "out of the frame": the '
                f"{short[0].asked.name} is nowhere shown whole before it is stitched"
            )
        way = "out of the frame"
    at = {number: window for number, window in fused.items() if window is not None}
    return Fusing(way, None if short else within, out, at if way == "in the frame" else {})


def _fused_in(
    piece: Piece,
    lines: Sequence[Line],
    mine: Sequence[int],
    visited: Sequence[int],
    windows: Sequence[Window],
) -> int | None:
    """Choose the last window that shows a piece whole, up to the first that it is stitched in."""
    if not windows:
        return 0
    stitched = {mine[k] for k, line in enumerate(lines) if piece.number in line.of.pieces}
    upper, lower = piece.shape.bounds[windows[0].axis :: 2]
    found = None
    for number in visited:
        window = windows[number - 1]
        if window.top <= upper + BOTH_ROUNDED and lower <= window.bottom + BOTH_ROUNDED:
            found = number
        if number in stitched:
            break
    return found


def _seconds(pace: Pace, visited: Sequence[Sequence[int]], boards: int) -> tuple[float, float]:
    """Reckon what both ways take from the end of the first stage on."""
    first, second = visited
    rolling = pace.advance + pace.clamps
    back = sum(abs(b - a) for a, b in pairwise([first[-1], *second[::-1]]))
    anew = max(second[-1] - 1, 0)
    within = boards * pace.fuse + back * rolling
    out = pace.unload + pace.load + len(second) * pace.baste + anew * rolling
    return within, out
