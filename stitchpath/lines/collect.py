"""All lines of a design: what has to be stitched, at which stage, with which thread."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from stitchpath.base.errors import StitchpathError
from stitchpath.base.findings import Check
from stitchpath.base.typing import BoolArray
from stitchpath.design.model import Design
from stitchpath.lines.applique import applique_lines
from stitchpath.lines.ditch import SeamBit, chosen_seams
from stitchpath.lines.fill_lines import fill_lines
from stitchpath.lines.line import Line
from stitchpath.lines.motifs import motif_lines
from stitchpath.lines.regions import Region
from stitchpath.lines.threads import thread_for
from stitchpath.top.build import Top
from stitchpath.top.place import Subject

__all__ = ["Collected", "collect_lines"]


class Collected(NamedTuple):
    """The lines of a design, and what they were made from.

    Attributes
    ----------
    lines
        To quilt, not noded.
    found
        Findings on what had to be left out.
    stitched
        Which seams of the top are stitched.
    regions
        Of each fill.
    """

    lines: tuple[Line, ...]
    found: tuple[Check, ...]
    stitched: BoolArray
    regions: tuple[tuple[Region, ...], ...] = ()


def collect_lines(
    design: Design,
    top: Top,
    bits: Sequence[SeamBit],
    now: Callable[[str], None] | None = None,
) -> Collected:
    """Collect the lines to quilt, and findings on what had to be left out.

    Parameters
    ----------
    design, top
        The design and its top.
    bits
        The seams, cut beside fused pieces (`seam_bits`).
    now
        Called with what is being done, where that takes a while.

    Raises
    ------
    StitchpathError
        When there is nothing to stitch, or a thread is unknown.
    """
    chosen = chosen_seams(top, design.lines)
    pieces, found = applique_lines(design, top)
    lines = [*_ditch_lines(design, top, bits, chosen), *motif_lines(design, top), *pieces]
    if design.drawn or (top.taken and top.taken.quilting):
        # The door to drawings: few designs take any.
        from stitchpath.lines.drawn import drawn_lines  # noqa: PLC0415 - that door

        drawn, said = drawn_lines(design, top)
        lines += drawn
        found += said
    regions: tuple[tuple[Region, ...], ...] = ()
    if design.fills:
        fills = fill_lines(design, top, bits, chosen, lines, now)
        lines += fills.lines
        found += fills.found
        regions = fills.regions
    if not lines:
        raise StitchpathError(
            "lines: found nothing to stitch, expected at least one seam, fill or appliqué line"
        )
    return Collected(tuple(lines), tuple(found), chosen, regions)


def _ditch_lines(
    design: Design, top: Top, bits: Sequence[SeamBit], chosen: BoolArray
) -> list[Line]:
    thread = thread_for(design, "ditch")
    lines = []
    for bit in bits:
        if chosen[bit.seam]:
            seam = top.seams[bit.seam]
            of = Subject(seam=bit.seam)
            lines.append(Line("ditch", 1, thread, bit.points, of, seam.low, seam.joining))
    return lines
