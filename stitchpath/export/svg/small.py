"""Small pictures for a page: a block, or a top with its lines; plain SVG with nothing to fetch."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
import shapely

from stitchpath.base.escape import xml_text
from stitchpath.base.marks import LINES, casing_of, casing_reach, thread_looks
from stitchpath.base.typing import FloatArray
from stitchpath.lines.line import Line
from stitchpath.told.path_words import area_data, line_data_of
from stitchpath.top.block import BlockPatch, DrawnBlock
from stitchpath.top.build import Top
from stitchpath.top.layout import LaidBlock, LaidPatch
from stitchpath.top.place import Place

__all__ = ["ROLE_COLOURS", "small_block", "small_top"]

_PENS = 400.0  # widths of a pen across the longer side of a picture of a top
_SEAM = 0.004  # of the longer side of a block: the width of a seam
ROLE_COLOURS = (
    "#c9d7de", "#7fa3b5", "#e0c9a6", "#b5543c", "#41566b", "#8f9f6d", "#efe6d8", "#5b4a3f",
)  # fmt: skip
"""What the fabrics of a library block are drawn in, in the order of its roles."""


def small_block(block: DrawnBlock, colours: Mapping[str, str] | None = None) -> str:
    """Draw a block in its fabrics.

    Parameters
    ----------
    block
        As drawn (`draw_block`), or made of blocks.
    colours
        Of its fabrics, by name; left out, a colour of ours for each.

    Returns
    -------
    str
        An SVG with a user unit to the millimetre.
    """
    patches = list(_patches(LaidBlock(Place("block"), block, np.eye(2, 3))))
    if colours is None:
        fabrics = dict.fromkeys(patch.fabric for patch in patches)
        colours = {f: ROLE_COLOURS[k % len(ROLE_COLOURS)] for k, f in enumerate(fabrics)}
    pen = _SEAM * max(block.width, block.height)
    body = _filled(patches, colours, pen)
    return _svg(block.name, block.width, block.height, body, pen)


def _patches(laid: LaidBlock) -> Iterator[BlockPatch]:
    """Give the patches of a block, and of the blocks in it, where they lie."""
    for patch in laid.block.patches:
        moved = shapely.transform(patch.polygon, laid.to_top)
        yield BlockPatch(patch.name, patch.fabric, moved)
    for inside, frame in laid.block.inside:
        moved_frame = np.column_stack(
            [laid.frame[:, :2] @ frame[:, :2], laid.to_top(frame[:, 2][None])[0]]
        )
        yield from _patches(LaidBlock(Place("block"), inside, moved_frame))


def small_top(top: Top, lines: Sequence[Line], colours: Mapping[str, str]) -> str:
    """Draw a top in its fabrics, with the lines to be quilted, each in the look of its thread.

    Parameters
    ----------
    top
        The finished top.
    lines
        To be drawn over it; none for the top alone.
    colours
        Of the threads, by name.
    """
    pen = max(top.width, top.height) / _PENS
    fabrics = {name: fabric.colour for name, fabric in top.fabrics.items()}
    parts = [*_filled(top.patches, fabrics, 0.0), *_paths([s.points for s in top.seams], pen)]
    pieces = {"before": 1, "after": 2}
    looks = thread_looks((line.thread for line in lines), colours)
    for fused, stage in pieces.items():
        shown = [piece for piece in top.pieces if piece.asked.fused == fused]
        data = area_data(np.array([piece.shape for piece in shown], dtype=object))
        parts += [
            f'<path fill="{fabrics[piece.asked.fabric]}" stroke="{LINES["seam"].colour}" '
            f'stroke-width="{pen * LINES["seam"].width:.3g}" fill-rule="evenodd" d="{d}"/>'
            for piece, d in zip(shown, data, strict=True)
        ]
        for name, look in looks.items():
            mine = [x.points for x in lines if x.thread == name and min(x.stage, 2) == stage]
            casing = casing_of(look.colour, fabrics.values())
            width = pen * look.width
            if casing and mine:
                wide = width + 2 * pen * casing_reach(casing)
                parts.append(_stroked(mine, casing, wide, ()))
            if mine:
                parts.append(_stroked(mine, look.colour, width, [pen * v for v in look.dash]))
    return _svg(top.name, top.width, top.height, parts, pen)


def _filled(
    patches: Iterable[LaidPatch | BlockPatch], colours: Mapping[str, str], pen: float
) -> Iterator[str]:
    """Fill the patches of each fabric in one path."""
    by: dict[str, list[shapely.Polygon]] = {}
    for patch in patches:
        by.setdefault(patch.fabric, []).append(patch.polygon)
    for fabric, shapes in by.items():
        colour = colours.get(fabric, "#ffffff")
        edge = LINES["seam"].colour if pen else colour  # its own closes hairline gaps
        yield (
            f'<path fill="{colour}" stroke="{edge}" fill-rule="evenodd" '
            f'd="{"".join(area_data(np.array(shapes)))}"/>'
        )


def _paths(paths: Sequence[FloatArray], pen: float) -> Iterator[str]:
    if paths:
        yield _stroked(paths, LINES["seam"].colour, pen * LINES["seam"].width, ())


def _stroked(paths: Sequence[FloatArray], colour: str, width: float, dash: Sequence[float]) -> str:
    dashes = f' stroke-dasharray="{" ".join(f"{v:.3g}" for v in dash)}"' if dash else ""
    return (
        f'<path fill="none" stroke="{colour}" stroke-width="{width:.3g}" stroke-linecap="round" '
        f'stroke-linejoin="round"{dashes} d="{"".join(line_data_of(paths))}"/>'
    )


def _svg(title: str, width: float, height: float, parts: Iterable[str], pen: float) -> str:
    half = pen / 2
    box = f"{-half:.4g} {-half:.4g} {width + pen:.7g} {height + pen:.7g}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" stroke-width="{pen:.3g}" '
        f'role="img">\n<title>{xml_text(title)}</title>\n' + "\n".join(parts) + "\n</svg>\n"
    )
