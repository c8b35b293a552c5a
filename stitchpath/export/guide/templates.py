"""Templates at true size: appliqué pieces, motifs, and the patches with their allowances."""

import logging
from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_length
from stitchpath.design.drawings.outlines import read_lines
from stitchpath.export.guide.tiles import INCH, TileGrid, draw_joins, joins_to, measuring_marks
from stitchpath.export.pdf.letters import POINT, broken, shortened, text_width
from stitchpath.export.pdf.page import RIGHT, new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, Box, Sheet
from stitchpath.geometry.tolerances import MOTIF_SHARE
from stitchpath.geometry.turns import turn_angle
from stitchpath.plan import Plan
from stitchpath.top.build import Piece
from stitchpath.top.place_names import join_words

__all__ = ["template_sheets"]

_log = logging.getLogger(__name__)
_GAP = 5.0  # mm between templates
_HOW = (
    "Print at 100 % and measure the test square before you cut. A full line is where to cut, "
    "dashes are the sewn edge, a fine line is to be stitched. For fusible web turn the sheet over "
    "and trace from the back: what is traced on the web comes out mirrored."
)
_NARROWEST = 26.0  # mm: room for a name
_LABEL = 9.0  # mm below each for its name
_CORNERS = 40
_UNTIED = 0.013  # mm: keeps sides of whole sixteenths of an inch off the limits of rounding
_MOST = 80  # patches of different shape
_MOST_PARTS = 6  # sheets for one template


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
    """Draw every piece, motif and patch at true size, as many on a page as there is room for.

    What is too wide for an upright sheet goes on one that lies on its side; what is too large for
    that as well is drawn in parts to be joined, and a plain rectangle listed with its size.
    """
    shapes = _shapes(plan)
    patches = [_patch(plan, shape) for shape in shapes[:_MOST]]
    patches.sort(key=lambda found: -round(found.height, 1))
    left = [*_pieces(plan), *_motifs(plan), *patches]
    shelves = _Shelves(paper)
    for landscape in (False, True):
        shelves.landscape = landscape
        left = [template for template in left if not shelves.place(template)]
    plain = [template for template in left if _rectangle(template)]
    if plain:  # before what lies on sheets of its own
        shelves.note(f"Too large for one sheet, and cut by their size: {_sizes(plan, plain)}.")
    left = [t for t in left if not _rectangle(t) and not shelves.place_in_parts(t)]
    notes = []
    if left:
        notes.append(f"Too large for one sheet; draw them from the tiles: {_sizes(plan, left)}.")
    if len(shapes) > _MOST:
        notes.append(f"{len(shapes) - _MOST} more shapes of patch are left out here.")
        _log.warning("templates: %s", notes[-1])
    for note in notes:
        shelves.note(note)
    for k, sheet in enumerate(shelves.pages, start=1):
        page = f"page {k} of {len(shelves.pages)}"
        at = sheet.width - RIGHT, sheet.height - 9.0
        wide = sheet.write(at, page, 8.5, colour=GREY, align="right")
        name = shortened(plan.top.name, 60, 8.5)
        sheet.write((at[0] - wide - 4, at[1]), name, 8.5, "italic", colour=GREY, align="right")
        yield sheet


@dataclass
class _Shelves:
    """Puts templates side by side, row below row, page after page."""

    paper: Paper
    landscape: bool = False
    pages: list[Sheet] = field(default_factory=list)
    room: Box = field(init=False)
    x: float = 0.0
    y: float = 0.0
    shelf: float = 0.0

    def _page(self) -> None:
        sheet, self.room = self._fresh()
        marks = measuring_marks(sheet, (self.room.left, self.room.bottom + 5))
        beside = marks.right + 8
        sheet.paragraph((beside, marks.top - 1), self.room.right - beside, _HOW, 9, colour=GREY)
        self.pages.append(sheet)
        self.x, self.y, self.shelf = self.room.left, self.room.top, 0.0

    def _fresh(self) -> tuple[Sheet, Box]:
        """Begin a sheet; gives its room above the test square."""
        sheet, room = new_page(
            self.paper, "Templates at true size", again=bool(self.pages), landscape=self.landscape
        )
        return sheet, room._replace(bottom=room.bottom - INCH - 5)

    def place(self, template: _Template) -> bool:
        """Draw a template; tell whether it is small enough for a page."""
        high = template.height + _LABEL
        _, room = self._fresh()
        if template.width > room.width or high > room.height:
            return False
        if not self.pages or self.pages[-1].landscape != self.landscape:
            self._page()
        if self.x + template.width > self.room.right:
            self.x, self.y, self.shelf = self.room.left, self.y + self.shelf, 0.0
        if self.y + high > self.room.bottom:
            self._page()
        _draw(self.pages[-1], template, (self.x, self.y))
        _label(self.pages[-1], template, (self.x, self.y + template.height), template.note)
        self.x += max(template.width, _NARROWEST) + _GAP
        self.shelf = max(self.shelf, high + _GAP)
        return True

    def place_in_parts(self, template: _Template) -> bool:
        """Draw a template cut into parts, a sheet for each; tell whether a few are enough."""
        grids = []
        for self.landscape in (False, True):
            _, room = self._fresh()
            grids.append(TileGrid.over(
                Box(0.0, 0.0, template.width, template.height),
                (room.width, room.height - _LABEL), landscape=self.landscape,
            ))  # fmt: skip
        grid = min(grids, key=lambda g: g.across * g.down)
        if grid.across * grid.down > _MOST_PARTS:
            return False
        self.landscape = grid.landscape
        for row in range(grid.down):
            for column in range(grid.across):
                self._page()
                window, at = grid.window(row, column), (self.room.left, self.room.top)
                frame = Box(*at, at[0] + grid.wide, at[1] + grid.high)
                sheet = self.pages[-1]
                _draw(sheet, template, (at[0] - window.left, at[1] - window.top), frame)
                draw_joins(sheet, grid, row, column, frame)
                note = f"part {grid.name(row, column)}: {joins_to(grid, row, column)}; "
                note += "lay the crosses on each other"
                below = frame.left + 2, frame.bottom  # beside the cutting mark
                _label(sheet, template, below, f"{template.note}; {note}")
        self.y = self.room.bottom
        return True

    def note(self, text: str) -> None:
        """Write a remark below everything."""
        self.y += self.shelf
        self.shelf = 0.0
        if not self.pages or self.y + self._height(text) > self.room.bottom:
            self._page()
        self.y = self.pages[-1].paragraph((self.room.left, self.y), self.room.width, text, 10)

    def _height(self, text: str) -> float:
        return len(broken(text, self.room.width, 10)) * 10 * 1.22 * POINT


def _rectangle(template: _Template) -> bool:
    """Tell whether a ruler is enough to cut it: nothing is missing of its box, to 1 mm²."""
    area = sum(Polygon(ring).area for ring in template.cut)
    return abs(area - template.width * template.height) < 1


def _sizes(plan: Plan, templates: Sequence[_Template]) -> str:
    """List templates with their sizes."""
    told = []
    for template in templates:
        width, height = (format_length(v, plan.top.unit) for v in (template.width, template.height))
        told.append(f"{template.name}, {width} by {height}")
    return "; ".join(told)


def _draw(
    sheet: Sheet, template: _Template, at: tuple[float, float], clip: Box | None = None
) -> None:
    corner = np.array(at)
    sheet.draw([path + corner for path in template.cut], width=0.35, clip=clip)
    sheet.draw([path + corner for path in template.sewn], width=0.25, dash=(1.6, 1.0), clip=clip)
    sheet.draw([path + corner for path in template.traced], width=0.2, clip=clip)


def _label(sheet: Sheet, template: _Template, below: tuple[float, float], note: str) -> None:
    x, y = below[0], below[1] + 3.6
    wide = max(template.width, _NARROWEST)
    sheet.write((x, y), shortened(template.name, wide, 9.5, "bold"), 9.5, "bold")
    sheet.write((x, y + 3.8), shortened(note, wide, 8.5, "text"), 8.5, colour=GREY)


def _rings(shape: Polygon | MultiPolygon) -> list[FloatArray]:
    return [
        np.array(ring.coords)
        for part in getattr(shape, "geoms", [shape])
        for ring in (part.exterior, *part.interiors)
    ]


def _pieces(plan: Plan) -> Iterator[_Template]:
    """Each appliqué piece once, turned as the first of them lies, with its lines."""
    keys = [_alike(plan, piece) for piece in plan.top.pieces]
    counts = Counter(keys)
    own: dict[int, list[FloatArray]] = {}
    for line in plan.lines:
        if not line.of.echo:
            for number in line.of.pieces:
                own.setdefault(number, []).append(line.points)
    done: set[Hashable] = set()
    for key, piece in zip(keys, plan.top.pieces, strict=True):
        if key in done:
            continue
        done.add(key)
        left, top, right, bottom = piece.shape.bounds
        corner = np.array([left, top])
        lines = [points - corner for points in own.get(piece.number, ())]
        many = counts[key]
        yield _Template(
            plan.places.piece(piece.number) if many == 1 else piece.asked.name,
            f"cut {many} of {piece.asked.fabric}",
            [ring - corner for ring in _rings(piece.shape)],
            [],
            lines,
            right - left,
            bottom - top,
        )


def _alike(plan: Plan, piece: Piece) -> Hashable:
    """Give what pieces cut by one template have in common.

    Of a design it is the entry; of a drawing each piece is drawn by itself, so it is the shape.
    """
    if plan.top.taken is None:
        return id(piece.asked)
    rings = _rings(piece.shape)
    if len(rings) == 1:
        return piece.asked.fabric, _signature(Polygon(rings[0]))
    corner = np.array(piece.shape.bounds[:2])
    return piece.asked.fabric, tuple(np.round(ring - corner, 1).tobytes() for ring in rings)


def _motifs(plan: Plan) -> Iterator[_Template]:
    """Each motif of rows once, at the height of its row."""
    seen: set[tuple[str, str | None, float]] = set()
    for k, fill in enumerate(plan.design.fills):
        key = fill.motif or "", fill.id, fill.spacing
        if fill.motif is None or key in seen:
            continue
        seen.add(key)
        path = plan.design.folder / fill.motif
        lines = read_lines(path, fill.id, f"fills[{k + 1}]", MOTIF_SHARE)
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
    mirrored: int = 0


def _shapes(plan: Plan) -> list[_Shape]:
    """List each shape of patch once, however it is turned."""
    found: dict[tuple[tuple[float, float], ...], _Shape] = {}
    for laid in plan.top.blocks:
        for patch in laid.block.patches:
            name = patch.name if patch.named else patch.fabric
            fresh = _Shape(f"{laid.block.name}: {name}", patch.polygon, {})
            shape = found.setdefault(_signature(patch.polygon), fresh)
            shape.fabrics[patch.fabric] = None
            shape.count += 1
            shape.mirrored += bool(np.linalg.det(laid.frame[:, :2]) < 0)
    for drawn in plan.top.patches if plan.top.taken else ():
        if drawn.part in ("square", "patch"):
            fresh = _Shape(drawn.name, drawn.polygon, {})
            shape = found.setdefault(_signature(drawn.polygon), fresh)
            shape.fabrics[drawn.fabric] = None
            shape.count += 1
    return list(found.values())


def _patch(plan: Plan, shape: _Shape) -> _Template:
    """Make the template of a patch, with the seam allowance round it."""
    allowance = plan.design.seam_allowance
    whole = shape.polygon.buffer(allowance, join_style="mitre", mitre_limit=3.0)
    left, top, right, bottom = whole.bounds
    corner = np.array([left, top])
    note = f"{shape.count} of {join_words(list(shape.fabrics))}"
    if text_width(note, 8.5) > max(right - left, _NARROWEST):
        note = f"{shape.count} of {len(shape.fabrics)} fabrics"
    other = shapely.transform(shape.polygon, lambda at: at * (-1, 1))
    if shape.mirrored and _signature(other) != _signature(shape.polygon):
        note += f", {shape.mirrored} turned over"
    return _Template(
        shape.name,
        note,
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
