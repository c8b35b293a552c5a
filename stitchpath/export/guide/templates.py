"""Templates at true size: appliqué pieces, motifs, and the patches with their allowances."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.design.drawing import read_outline_file
from stitchpath.export.guide.page import new_page, shortened
from stitchpath.export.guide.sheet import GREY, Box, Paper, Sheet
from stitchpath.export.guide.tiles import INCH, measuring_marks
from stitchpath.places import join_words, plain_name
from stitchpath.plan import Plan
from stitchpath.route.turning import turn_angle
from stitchpath.typing import FloatArray
from stitchpath.units import format_length

__all__ = ["template_sheets"]

_GAP = 5.0  # mm between templates
_NARROWEST = 26.0  # mm: room for a name
_LABEL = 9.0  # mm below each for its name
_SHARE = 1e-3  # flattening of a motif, as a share of its size
_CORNERS = 40
_UNTIED = 0.013  # mm: keeps sides of whole sixteenths of an inch off the limits of rounding
_MOST = 80  # patches of different shape


@dataclass(frozen=True, slots=True)
class _Template:
    """Something to cut or trace: lines in mm, their box from (0, 0), in the order drawn."""

    name: str
    note: str
    cut: list[FloatArray]
    sewn: list[FloatArray]
    traced: list[FloatArray]
    width: float
    height: float


def template_sheets(plan: Plan, paper: Paper) -> Iterator[Sheet]:
    """Draw every piece, motif and patch at true size, as many on a page as there is room for."""
    patches = sorted(_patches(plan), key=lambda found: -round(found.height, 1))
    sheet, room = _page(paper, first=True)
    x, y, shelf = room.left, room.top, 0.0
    too_large: list[str] = []
    for template in [*_pieces(plan), *_motifs(plan), *patches]:
        high = template.height + _LABEL
        if template.width > room.width or high > room.height:
            too_large.append(f"{template.name}, {_size(plan, template)}")
            continue
        if x + template.width > room.right:
            x, y, shelf = room.left, y + shelf, 0.0
        if y + high > room.bottom:
            yield sheet
            sheet, room = _page(paper, first=False)
            x, y, shelf = room.left, room.top, 0.0
        _draw(sheet, template, (x, y))
        x += max(template.width, _NARROWEST) + _GAP
        shelf = max(shelf, high + _GAP)
    yield sheet
    if too_large:
        text = f"Too large for one sheet, and cut by their size: {'; '.join(too_large)}."
        sheet, room = _page(paper, first=False)
        sheet.paragraph((room.left, room.top), room.width, text, 10)
        yield sheet


def _size(plan: Plan, template: _Template) -> str:
    width, height = (format_length(v, plan.top.unit) for v in (template.width, template.height))
    return f"{width} by {height}"


def _page(paper: Paper, *, first: bool) -> tuple[Sheet, Box]:
    sheet, room = new_page(
        paper,
        "Templates at true size" if first else "Templates, continued",
        "Print at 100 % and measure the test square before you cut. A full line is where to cut, "
        "dashes are the sewn edge, a fine line is to be stitched. For fusible web turn the sheet "
        "over and trace from the back: what is traced on the web comes out mirrored."
        if first
        else "",
    )
    marks = measuring_marks(sheet, (room.left, room.bottom - INCH))
    return sheet, Box(room.left, room.top, room.right, marks.top - 5)


def _draw(sheet: Sheet, template: _Template, at: tuple[float, float]) -> None:
    corner = np.array(at)
    sheet.draw([path + corner for path in template.cut], width=0.35)
    sheet.draw([path + corner for path in template.sewn], width=0.25, dash=(1.6, 1.0))
    sheet.draw([path + corner for path in template.traced], width=0.2)
    x, y = at[0], at[1] + template.height + 3.6
    wide = max(template.width, _NARROWEST)
    sheet.write((x, y), shortened(template.name, wide, 9.5, "bold"), 9.5, "bold")
    sheet.write((x, y + 3.8), shortened(template.note, wide, 8.5, "text"), 8.5, colour=GREY)


def _rings(shape: Polygon | MultiPolygon) -> list[FloatArray]:
    return [
        np.array(ring.coords)
        for part in getattr(shape, "geoms", [shape])
        for ring in (part.exterior, *part.interiors)
    ]


def _pieces(plan: Plan) -> Iterator[_Template]:
    """Each appliqué piece once, turned as the first of them lies, with its lines."""
    counts: dict[int, int] = {}
    for piece in plan.top.pieces:
        counts[id(piece.asked)] = counts.get(id(piece.asked), 0) + 1
    done: set[int] = set()
    for piece in plan.top.pieces:
        if id(piece.asked) in done:
            continue
        done.add(id(piece.asked))
        left, top, right, bottom = piece.shape.bounds
        corner = np.array([left, top])
        lines = [x.points - corner for x in plan.lines if x.place == piece.label and x.seam < 0]
        many = counts[id(piece.asked)]
        yield _Template(
            piece.label if many == 1 else piece.asked.name,
            f"cut {many} of {piece.asked.fabric}",
            [ring - corner for ring in _rings(piece.shape)],
            [],
            lines,
            right - left,
            bottom - top,
        )


def _motifs(plan: Plan) -> Iterator[_Template]:
    """Each motif of rows once, at the height of its row."""
    seen: set[tuple[str, str | None, float]] = set()
    for k, fill in enumerate(plan.design.fills):
        key = fill.motif or "", fill.id, fill.spacing
        if fill.motif is None or key in seen:
            continue
        seen.add(key)
        path = plan.design.folder / fill.motif
        lines = read_outline_file(path, fill.id, f"fills[{k + 1}]", _SHARE, closed=False)
        points = np.concatenate(lines)
        low, size = points.min(axis=0), np.ptp(points, axis=0)
        scale = fill.spacing / max(float(size[1]), 1e-9)
        yield _Template(
            f"motif of fill {k + 1}",
            f"{format_length(fill.spacing, plan.top.unit)} high",
            [],
            [],
            [(line - low) * scale for line in lines],
            float(size[0]) * scale,
            fill.spacing,
        )


@dataclass(slots=True)
class _Shape:
    name: str
    polygon: Polygon
    fabrics: dict[str, None]
    count: int = 0


def _patches(plan: Plan) -> Iterator[_Template]:
    """Each shape of patch once, however it is turned, with the seam allowance round it."""
    found: dict[tuple[tuple[float, float], ...], _Shape] = {}
    for laid in plan.top.blocks:
        for patch in laid.block.patches:
            name = patch.name if plain_name(patch.name) else patch.fabric
            fresh = _Shape(f"{laid.block.name}: {name}", patch.polygon, {})
            shape = found.setdefault(_signature(patch.polygon), fresh)
            shape.fabrics[patch.fabric] = None
            shape.count += 1
    for shape in list(found.values())[:_MOST]:
        allowance = plan.design.seam_allowance
        whole = shape.polygon.buffer(allowance, join_style="mitre", mitre_limit=3.0)
        left, top, right, bottom = whole.bounds
        corner = np.array([left, top])
        yield _Template(
            shape.name,
            f"{shape.count} of {join_words(list(shape.fabrics))}",
            [ring - corner for ring in _rings(whole)],
            [ring - corner for ring in _rings(shape.polygon)],
            [],
            right - left,
            bottom - top,
        )


def _signature(polygon: Polygon) -> tuple[tuple[float, float], ...]:
    """Tell shapes apart by their sides and turns, from whichever corner makes the least list."""
    ring = np.array(shapely.orient_polygons(polygon).exterior.coords)
    way = np.diff(ring, axis=0)
    length = np.hypot(way[:, 0], way[:, 1])
    turn = turn_angle(way, np.roll(way, -1, axis=0))
    length += _UNTIED
    steps = list(zip(np.round(length, 1).tolist(), np.round(turn, 1).tolist(), strict=True))
    if len(steps) > _CORNERS:  # a curve: as it lies
        return tuple(map(tuple, np.round(ring - ring.min(axis=0), 1).tolist()))
    return min(tuple(steps[k:] + steps[:k]) for k in range(len(steps)))
