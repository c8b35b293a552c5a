"""All lines of a design: what has to be stitched, at which stage, with which thread."""

from collections.abc import Iterable

from stitchpath.design.model import Design
from stitchpath.errors import StitchpathError, unknown_name
from stitchpath.lines.ditch import SeamBit, chosen_seams
from stitchpath.lines.model import Line
from stitchpath.top import Piece, Top
from stitchpath.typing import Kind

__all__ = ["DEFAULT_THREAD", "collect_lines", "thread_for"]

DEFAULT_THREAD = "thread"  # the one thread of a design that names none


def thread_for(design: Design, kind: Kind) -> str:
    """Tell which thread stitches a kind of line.

    The first that lists the kind; else the first that lists none; else the first.
    """
    threads = design.threads
    listed = [name for name, t in threads.items() if kind in t.lines]
    rest = [name for name, t in threads.items() if not t.lines]
    return [*listed, *rest, *threads, DEFAULT_THREAD][0]


def collect_lines(design: Design, top: Top, bits: Iterable[SeamBit]) -> list[Line]:
    """Collect the lines to quilt.

    Parameters
    ----------
    design, top
        The design and its top.
    bits
        The seams, cut beside fused pieces (`seam_bits`).

    Raises
    ------
    StitchpathError
        When there is nothing to stitch, or a thread is unknown.
    """
    lines = _ditch_lines(design, top, bits)
    for i, piece in enumerate(top.pieces):
        lines += _piece_lines(design, piece)
        thread = piece.asked.thread
        if thread is not None and thread not in design.threads:
            raise unknown_name(
                f'applique[{i + 1}], "{piece.asked.name}"', "thread", thread, design.threads
            )
    if not lines:
        raise StitchpathError(
            "lines: found nothing to stitch, expected at least one seam or appliqué line"
        )
    return lines


def _ditch_lines(design: Design, top: Top, bits: Iterable[SeamBit]) -> list[Line]:
    chosen = chosen_seams(top, design.lines)
    thread = thread_for(design, "ditch")
    lines = []
    for bit in bits:
        if chosen[bit.seam]:
            seam = top.seams[bit.seam]
            left, right = top.patches[seam.left].label, top.patches[seam.right].label
            place = f"{left} and {right}"
            lines.append(
                Line("ditch", 1, thread, bit.points, place, seam.low, bit.seam, seam.joining)
            )
    return lines


def _piece_lines(design: Design, piece: Piece) -> list[Line]:
    if not piece.asked.centre:
        return []
    from stitchpath.lines.centre import CentreRules, centre_lines  # noqa: PLC0415 - slow to import

    stage = 1 if piece.asked.fused == "before" else 2
    thread = piece.asked.thread or thread_for(design, "centre")
    rules = CentreRules(tip=piece.asked.tip)
    found = centre_lines(piece.shape, rules).lines
    return [Line("centre", stage, thread, points, piece.label) for points in found]
