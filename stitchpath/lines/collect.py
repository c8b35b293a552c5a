"""All lines of a design: what has to be stitched, at which stage, with which thread."""

from collections.abc import Iterable

from stitchpath.design.model import Design
from stitchpath.errors import StitchpathError
from stitchpath.lines.applique import applique_lines, motif_lines
from stitchpath.lines.ditch import SeamBit, chosen_seams
from stitchpath.lines.model import Line
from stitchpath.lines.threads import thread_for
from stitchpath.top import Top

__all__ = ["collect_lines"]


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
    lines = [
        *_ditch_lines(design, top, bits),
        *motif_lines(design, top),
        *applique_lines(design, top),
    ]
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
