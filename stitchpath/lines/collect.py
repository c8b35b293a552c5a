"""All lines of a design: what has to be stitched, at which stage, with which thread."""

from collections.abc import Sequence

from stitchpath.design.model import Design
from stitchpath.errors import StitchpathError
from stitchpath.finding import Check
from stitchpath.lines.applique import applique_lines, motif_lines
from stitchpath.lines.ditch import SeamBit, chosen_seams
from stitchpath.lines.model import Line
from stitchpath.lines.threads import thread_for
from stitchpath.top import Top
from stitchpath.typing import BoolArray

__all__ = ["collect_lines"]


def collect_lines(
    design: Design, top: Top, bits: Sequence[SeamBit]
) -> tuple[list[Line], tuple[Check, ...]]:
    """Collect the lines to quilt, and findings on what had to be left out.

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
    chosen = chosen_seams(top, design.lines)
    pieces, found = applique_lines(design, top)
    lines = [*_ditch_lines(design, top, bits, chosen), *motif_lines(design, top), *pieces]
    if design.fills:
        from stitchpath.lines.filling import fill_lines  # noqa: PLC0415 - slow to import

        fills = fill_lines(design, top, bits, chosen, lines)
        lines += fills.lines
        found += fills.found
    if not lines:
        raise StitchpathError(
            "lines: found nothing to stitch, expected at least one seam, fill or appliqué line"
        )
    return lines, tuple(found)


def _ditch_lines(
    design: Design, top: Top, bits: Sequence[SeamBit], chosen: BoolArray
) -> list[Line]:
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
