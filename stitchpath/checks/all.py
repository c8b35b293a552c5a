"""What could go wrong on the quilt, each with its place."""

from collections.abc import Callable, Iterator, Sequence

from stitchpath.checks.batting import LooseGround, check_batting
from stitchpath.checks.pieces import check_pieces
from stitchpath.design.model import Design
from stitchpath.findings import Check, Level
from stitchpath.lines.line import Line
from stitchpath.route.runs import Proof
from stitchpath.top.build import Top
from stitchpath.top.place_names import Places

__all__ = ["Check", "Level", "check_plan"]


def check_plan(
    design: Design,
    top: Top,
    lines: Sequence[Line],
    proof: Proof | None = None,
    left_out: Sequence[Check] = (),
    cure: Callable[[LooseGround], str] | None = None,
) -> tuple[Check, ...]:
    """Look over a design and its lines.

    Parameters
    ----------
    design, top, lines
        As planned.
    proof
        Of the whole route, where there is one.
    left_out
        Of the lines, what had to be left out.
    cure
        Says what would hold loose ground.
    """
    found = [*_open_seams(top, lines), *check_pieces(design, top, lines), *left_out]
    found += check_batting(design, top, lines, cure)
    found += _frame(design)
    if proof is not None and not proof.optimal:
        gap = (proof.cost - proof.lower_bound) / proof.cost * 100
        message = f"The route is within {gap:.2f} % of the best there can be, but not proven best."
        if proof.cut_off:
            message += (
                " The search was cut off, since this computer was too slow or too busy for it: "
                "planned again, it may find another route."
            )
        found.append(Check("note", "not-proven", message))
    return tuple(found)


def _frame(design: Design) -> Iterator[Check]:
    """Say that there are no strips, since the design does not tell the depth of the frame."""
    if design.machine.kind == "frame" and design.machine.depth is None:
        yield Check(
            "note",
            "no-depth",
            "How deep a strip the frame can stitch is not said, so the quilt is planned as one. "
            "Say it as depth under [machine]: it is then planned strip by strip, and the time to "
            "roll it on counted.",
        )


def _open_seams(top: Top, lines: Sequence[Line]) -> Iterator[Check]:
    """Warn of ditch lines on seams pressed open.

    Such a seam has no low side, and stitching in it rests on the seam thread alone (common
    practice).
    """
    seams = [line for line in lines if line.seam >= 0 and top.seams[line.seam].high == 0]
    if seams:
        many = f" and {len(seams) - 1} more" if len(seams) > 1 else ""
        x, y = (float(v) for v in seams[0].points.mean(axis=0))
        name = Places(top).subject(seams[0].of)
        yield Check(
            "warning",
            "open-seam",
            f"The seam of {name}{many} is pressed open: stitching in its ditch rests on the seam "
            "thread alone. Press it to one side, or leave it out.",
            (x, y),
        )
