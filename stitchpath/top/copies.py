"""Blocks that a drawing repeats, by copies of one group: found again as blocks with places."""

from collections.abc import Mapping

from stitchpath.design.drawings.whole import Whole
from stitchpath.top.layout import LaidBlock, LaidPatch

__all__ = ["laid_copies"]


def laid_copies(
    taken: Whole, names: Mapping[str, str]
) -> tuple[list[LaidBlock], dict[int, LaidPatch]]:
    return [], {}
