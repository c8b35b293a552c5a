"""What goes where: which fill suits which part of a top, and how dense.

The rules are common practice, and the figures of them from memory:

- a dense ground makes the motif on it stand forward;
- a fill of the ground is a third to a half as large as the motif;
- plain blocks are where quilting shows: a wreath lies there;
- a border is gone round by a pattern that has a direction;
- quilting is balanced over the top: no part is left far more open than the rest, so borders and
  plain blocks go with the ground.
"""

import statistics
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.design.model import Design, Fill
from stitchpath.lines.fills.ground import polygons
from stitchpath.top.build import Top

__all__ = ["all_over_spacing", "custom_fills", "heading_of", "plain_fill", "where"]

_INCH = 25.4
_SCALE = 0.4  # of the width of the motif: between a third and a half
_FINEST, _WIDEST = _INCH / 4, _INCH  # spacings of a ground, mm
_FEATHER = 2 * _INCH  # a border so wide has room for feathers ...
_RIBBON = 0.75 * _INCH  # ... and one so wide for ribbon candy
_PLUMES, _FOLDS = 4.0, 3.0  # plumes and folds in the width of a border
_WREATH = 14.0  # plumes in the width of a plain block
_CURVE = _INCH / 4  # how deep a continuous curve lies in a patch
_OPEN = 2.5  # nothing is so many times as open as the ground
_OVER = 0.4  # spacing of a meander all over, as a share of what the batting allows
_MOST_OVER = 2 * _INCH
_STEP = _INCH / 16  # spacings are chosen in such steps


def custom_fills(design: Design, top: Top) -> list[Fill]:
    """Choose a fill for the ground, for plain blocks and for borders.

    Parameters
    ----------
    design
        What it says of feature fabrics and of pieces tells motif and ground.
    top
        The finished top.

    Returns
    -------
    list of Fill
        Of ground, blocks, borders, in this order.
    """
    plain = _plain_blocks(top)
    fills, spacing = _ground(design, top)
    for name, side in plain.items():
        fabrics = {f.fabric for f in fills}
        if not fabrics & _fabrics_of_block(top, name):
            fills.append(plain_fill(name, "feathers", _stepped(side / _WREATH)))
    taken = {f.fabric for f in fills}
    for k, border in enumerate(design.layout.borders, start=1):
        if border.fabric in taken:
            continue
        style = "feathers" if border.width >= _FEATHER else "ribbon candy"
        wide = border.width / (_PLUMES if style == "feathers" else _FOLDS)
        if border.width >= _RIBBON:
            wide = min(wide, _OPEN * spacing) if spacing else wide
            fills.append(plain_fill(f"border {k}", style, _stepped(wide)))
    return fills


def _ground(design: Design, top: Top) -> tuple[list[Fill], float]:
    """Choose what fills the ground of the motifs, and how dense; patchwork has no ground."""
    if top.pieces:
        spacing = _scaled([p.shape for p in top.pieces])
        return [
            plain_fill("ground", "pebbles" if spacing >= _INCH / 2 else "meander", spacing)
        ], spacing
    feature = set(design.lines.feature)
    motifs = [p.polygon for p in top.patches if p.fabric in feature]
    if motifs:
        whole = shapely.union_all(motifs, grid_size=0.001)
        spacing = _scaled(polygons(whole))
        bearing = {p.place for p in top.patches if p.fabric in feature}
        behind = dict.fromkeys(
            p.fabric for p in top.patches if p.place in bearing and p.fabric not in feature
        )
        return [_of_fabric(fabric, "meander", spacing) for fabric in behind], spacing
    names = dict.fromkeys(
        b.block.name for b in top.blocks if b.block.name not in _plain_blocks(top)
    )
    return [plain_fill(name, "continuous curve", _CURVE) for name in names], 0.0


def _scaled(motifs: Sequence[Polygon | MultiPolygon]) -> float:
    """Give the spacing of a ground that suits the motifs on it, mm."""
    widths = [2 * float(shapely.maximum_inscribed_circle(shape, 0.5).length) for shape in motifs]
    return _stepped(float(np.clip(_SCALE * statistics.median(widths), _FINEST, _WIDEST)))


def _plain_blocks(top: Top) -> dict[str, float]:
    """List blocks of one patch by name, with how wide they are, mm."""
    bearing = shapely.union_all([piece.shape for piece in top.pieces])
    found: dict[str, float] = {}
    for block in top.blocks:
        square = Polygon(block.corners)
        if len(block.block.patches) == 1 and not square.intersects(bearing):
            found[block.block.name] = min(block.block.width, block.block.height)
    return found


def _fabrics_of_block(top: Top, name: str) -> set[str | None]:
    of = {b.place for b in top.blocks if b.block.name == name}
    return {p.fabric for p in top.patches if p.place in of}


def all_over_spacing(holds: float) -> float:
    """Give the spacing of a meander all over that holds a batting, mm.

    Parameters
    ----------
    holds
        The widest ground that the batting allows, mm.
    """
    return _stepped(min(_OVER * holds, _MOST_OVER))


def _stepped(mm: float) -> float:
    return float(max(1, round(mm / _STEP)) * _STEP)


def plain_fill(region: str, style: str, spacing: float) -> Fill:
    """Make a fill of a region.

    Parameters
    ----------
    region, style
        As a design writes them.
    spacing
        mm.
    """
    data = {"region": region, "style": style, "spacing": spacing}
    return Fill.model_validate(data, context={"unit": "mm"})


def _of_fabric(fabric: str, style: str, spacing: float) -> Fill:
    data = {"fabric": fabric, "style": style, "spacing": spacing}
    return Fill.model_validate(data, context={"unit": "mm"})


def heading_of(fill: Fill) -> str:
    """Name a fill in words, as at the beginning of a note: "Meander all over"."""
    style = "parallel lines" if fill.style == "parallel" else fill.style
    return f"{style[0].upper()}{style[1:]} {where(fill)}"


def where(fill: Fill) -> str:
    """Tell in words where a fill lies."""
    if fill.fabric is not None:
        return f"in {fill.fabric}"
    named = [fill.region] if isinstance(fill.region, str) else list(fill.region or ())
    return {"ground": "round the pieces", "top": "all over", "rest": "in what is left"}.get(
        named[0] if len(named) == 1 else "", f"in {', '.join(named)}"
    )
