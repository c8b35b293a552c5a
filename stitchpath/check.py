"""What could go wrong on the quilt, each with its place."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import shapely

from stitchpath.design.model import Design
from stitchpath.lines.model import Line
from stitchpath.route.model import Proof
from stitchpath.top import Top
from stitchpath.units import format_length

__all__ = ["Check", "Level", "check_plan"]

Level: TypeAlias = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Check:
    """Something to know before stitching.

    Attributes
    ----------
    level
        "error": it will not work as designed; "warning": it may not last or lie flat; "note".
    code
        A short name of ours, always the same for the same kind of finding.
    message
        One sentence in a quilter's words.
    at
        Where, mm from the top left corner of the top; None for the whole quilt.
    """

    level: Level
    code: str
    message: str
    at: tuple[float, float] | None = None


def check_plan(
    design: Design, top: Top, lines: Sequence[Line], proof: Proof | None = None
) -> tuple[Check, ...]:
    """Look over a design and its lines.

    Parameters
    ----------
    design, top, lines
        As planned.
    proof
        Of the whole route, where there is one.
    """
    found = [*_open_seams(top, lines), *_early_pieces(design, top)]
    if proof is not None and not proof.optimal:
        gap = (proof.cost - proof.lower_bound) / proof.cost * 100
        message = f"The route is within {gap:.2f} % of the best there can be, but not proven best."
        found.append(Check("note", "not-proven", message))
    return tuple(found)


def _open_seams(top: Top, lines: Sequence[Line]) -> Iterator[Check]:
    """Warn of ditch lines on seams pressed open.

    Such a seam has no low side, and stitching in it rests on the seam thread alone (common
    practice).
    """
    seams = [line for line in lines if line.seam >= 0 and top.seams[line.seam].high == 0]
    if seams:
        many = f" and {len(seams) - 1} more" if len(seams) > 1 else ""
        x, y = (float(v) for v in seams[0].points.mean(axis=0))
        yield Check(
            "warning",
            "open-seam",
            f"The seam of {seams[0].place}{many} is pressed open: stitching in its ditch rests on "
            "the seam thread alone. Press it to one side, or leave it out.",
            (x, y),
        )


def _early_pieces(design: Design, top: Top) -> Iterator[Check]:
    """Warn of pieces that would be in place before their block is joined, and leave it.

    A piece fused to a block before joining must keep the seam allowance away from the raw edge,
    that is, lie inside the finished block.
    """
    allowance = format_length(design.seam_allowance, design.unit)
    for piece in top.pieces:
        if piece.asked.fused != "before" or piece.asked.on == "top":
            continue
        place = piece.label.rsplit(" on ", 1)[-1]
        own = [p.polygon for p in top.patches if p.place == place]
        outside = piece.shape.difference(shapely.union_all(own).buffer(0.01))
        if not outside.is_empty:
            point = outside.representative_point()
            yield Check(
                "warning",
                "piece-over-seam",
                f"{piece.label} is fused before quilting and leaves its block: it comes within "
                f"{allowance} of the raw edge. Fuse it after the blocks are joined, or make it "
                "smaller.",
                (point.x, point.y),
            )
