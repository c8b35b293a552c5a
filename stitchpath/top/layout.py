"""Lay blocks, sashing, setting triangles and borders; gives every patch of the top its place."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.limits import MOST_BORDERS, MOST_PATCHES, MOST_WITHIN, at_most
from stitchpath.base.typing import FloatArray, Geometries
from stitchpath.base.units import Unit, format_count, format_length, format_place
from stitchpath.design.model import Block, Border, Layout, Sashing
from stitchpath.geometry.tolerances import GRID, SAME_EDGE
from stitchpath.top.block import DrawnBlock
from stitchpath.top.place import Part, Place, Side, row_letter

__all__ = ["TOKEN", "LaidBlock", "LaidPatch", "compose", "lay_out", "named_blocks"]

_EIGHTH = np.array([[1.0, -1.0], [1.0, 1.0]]) / np.sqrt(2)  # turns 45 degrees clockwise
TOKEN = re.compile(r"(?P<block>[^:*]+)(?::(?P<turn>0|90|180|270)?(?P<mirror>m)?)?(?:\*(?P<n>\d+))?")
"""A block in a row, as in "boat:90m*3"."""


@dataclass(frozen=True, slots=True)
class LaidPatch:
    """A patch of the top.

    Attributes
    ----------
    place
        The unit that it belongs to.
    name
        Its name within the unit, empty where the unit is one patch.
    fabric
        Name of its fabric.
    polygon
        Finished shape, mm from the top left corner of the top.
    named
        Whether its name was given, rather than made of its row and column in the block.
    """

    place: Place
    name: str
    fabric: str
    polygon: Polygon
    named: bool = False

    @property
    def part(self) -> Part:
        """What kind of unit it belongs to."""
        return self.place.part

    @property
    def design_name(self) -> str:
        """What a design points at it with, as in "A2.sail", "border 1 left", "navy 3"."""
        if self.part in ("square", "patch"):
            return self.name
        return f"{self.place.name}.{self.name}" if self.part == "block" else self.place.name

    @property
    def label(self) -> str:
        """What a design calls its unit and it, as in "A2 sail"; a drawn patch "navy 3 in B2"."""
        if self.part == "square":
            return f"{self.name} in {self.place.at}"
        if self.part == "patch":
            return self.name
        return f"{self.place.name} {self.name}".strip()


@dataclass(frozen=True, slots=True)
class LaidBlock:
    """A block as it lies on the top.

    Attributes
    ----------
    place
        Its row and column.
    block
        The block drawn.
    frame
        Matrix, shape (2, 3): block coordinates to top coordinates, mm.
    called
        What a design calls every block like it: its block, and where it lies in a block made of
        blocks, as in "harbour.2".
    """

    place: Place
    block: DrawnBlock
    frame: FloatArray
    called: tuple[str, ...] = ()

    def to_top(self, points: FloatArray) -> FloatArray:
        """Bring points, shape (n, 2), from the block to the top."""
        return np.asarray(points @ self.frame[:, :2].T + self.frame[:, 2])

    @property
    def corners(self) -> FloatArray:
        """Its four corners on the top, one after another round it, shape (4, 2), mm."""
        unit = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
        return self.to_top(unit * (self.block.width, self.block.height))


@dataclass(frozen=True, slots=True)
class _Cell:
    block: DrawnBlock
    turn: int
    mirror: bool

    @property
    def size(self) -> tuple[float, float]:
        width, height = self.block.width, self.block.height
        return (height, width) if self.turn in (90, 270) else (width, height)

    def laid(self, place: Place, x: float, y: float) -> LaidBlock:
        """Lay the block with its top left corner at x, y."""
        width, height = self.block.width, self.block.height
        flip = np.array([[-1.0, 0, width], [0, 1, 0]]) if self.mirror else np.eye(2, 3)
        quarter = {  # clockwise on the page, y pointing down
            0: np.eye(2, 3),
            90: np.array([[0.0, -1, height], [1, 0, 0]]),
            180: np.array([[-1.0, 0, width], [0, -1, height]]),
            270: np.array([[0.0, 1, 0], [-1, 0, width]]),
        }[self.turn]
        frame = np.column_stack([quarter[:, :2] @ flip[:, :2], quarter[:, :2] @ flip[:, 2]])
        frame[:, 2] += quarter[:, 2] + (x, y)
        return LaidBlock(place, self.block, frame, (self.block.name,))


def compose(name: str, spec: Block, blocks: Mapping[str, DrawnBlock], unit: Unit) -> DrawnBlock:
    """Make a block of rows of other blocks.

    Parameters
    ----------
    name
        Its name in the design, for errors.
    spec
        The block as written, with rows.
    blocks
        Those that it is made of, by name.
    unit
        The design's unit, for errors.

    Raises
    ------
    StitchpathError
        When a block is unknown, or the rows do not make a rectangle.
    """
    where = f"blocks.{name}.rows"
    rows = [_read_row(f"{where}[{i + 1}]", row, blocks) for i, row in enumerate(spec.rows or [])]
    if not rows:
        raise StitchpathError(f"{where}: found no row, expected rows of block names")
    cells = [cell.block for row in rows for cell in row]
    many, deep = sum(block.many for block in cells), 1 + max(block.deep for block in cells)
    at_most(where, many, "patches", MOST_PATCHES)
    at_most(where, deep, "blocks within each other", MOST_WITHIN)
    heights = _heights(where, rows, unit)
    edges = [_starts([cell.size[0] for cell in row], 0.0) for row in rows]
    width = _one_length(where, edges, unit)
    tops = _starts(heights, 0.0)
    inside = []
    for row, xs, y in zip(rows, edges, tops, strict=False):
        for cell, x in zip(row, xs, strict=False):
            laid = cell.laid(Place("block"), float(x), float(y))
            inside.append((laid.block, laid.frame))
    return DrawnBlock(name, width, float(tops[-1]), (), spec.press, tuple(inside), many, deep)


def _taken_apart(laid: LaidBlock) -> Iterator[LaidBlock]:
    """Give a block made of blocks, and all blocks in it; or the block alone."""
    yield laid
    for k, (block, frame) in enumerate(laid.block.inside, 1):
        place = replace(laid.place, inside=(*laid.place.inside, k))
        moved = np.column_stack(
            [laid.frame[:, :2] @ frame[:, :2], laid.to_top(frame[:, 2][None])[0]]
        )
        block = block if block.press else replace(block, press=laid.block.press)  # noqa: PLW2901
        called = (block.name, *(f"{name}.{k}" for name in laid.called))
        yield from _taken_apart(LaidBlock(place, block, moved, called))


def lay_out(
    layout: Layout, blocks: Mapping[str, DrawnBlock], unit: Unit
) -> tuple[list[LaidBlock], list[LaidPatch]]:
    """Lay out the top.

    Parameters
    ----------
    layout
        As written.
    blocks
        The design's blocks by name.
    unit
        The design's unit, for errors.

    Returns
    -------
    blocks, patches
        In reading order; the top left corner of the whole, borders included, is (0, 0). A block
        made of blocks stands before those in it; it has no patches of its own.

    Raises
    ------
    StitchpathError
        When names are unknown or sizes do not fit.
    """
    at_most("layout.borders", len(layout.borders), "borders", MOST_BORDERS)
    border = sum(b.width for b in layout.borders)
    if bool(layout.rows) == bool(layout.place):
        found = "both" if layout.rows else "neither"
        raise StitchpathError(f"layout: found {found}, expected either rows or place")
    if layout.place:
        laid = _lay_freely(layout, blocks, border)
        patches: list[LaidPatch] = []
    else:
        rows = [
            _read_row(f"layout.rows[{i + 1}]", row, blocks) for i, row in enumerate(layout.rows)
        ]
        count = sum(c.block.many for row in rows for c in row) * layout.repeat
        at_most("layout", count, "patches", MOST_PATCHES)
        lay = _lay_on_point if layout.on_point else _lay_straight
        laid, patches = lay(layout, rows * layout.repeat, border, unit)
    laid = [each for block in laid for each in _taken_apart(block)]
    patches = [p for block in laid for p in _block_patches(block)] + patches
    if layout.borders:
        patches += _borders(layout.borders, patches, unit)
    at_most("layout", len(patches), "patches", MOST_PATCHES)
    return laid, patches


def _read_row(where: str, row: str, blocks: Mapping[str, DrawnBlock]) -> list[_Cell]:
    cells: list[_Cell] = []
    for token in row.split():
        match = TOKEN.fullmatch(token)
        if match is None or int(match["n"] or 1) not in range(1, 1001):
            raise StitchpathError(
                f"{where}: found {token[:40]!r}, expected a block name, with :90 to turn it, :m to "
                "mirror it, *3 to repeat it"
            )
        if match["block"] not in blocks:
            raise unknown_name(where, "block", match["block"], blocks)
        cell = _Cell(blocks[match["block"]], int(match["turn"] or 0), bool(match["mirror"]))
        cells += [cell] * int(match["n"] or 1)
    if not cells:
        raise StitchpathError(f"{where}: found no block, expected block names parted by spaces")
    return cells


def named_blocks(rows: Sequence[str]) -> list[str]:
    """List the blocks that rows name, each once."""
    found = [TOKEN.fullmatch(token) for row in rows for token in row.split()]
    return list(dict.fromkeys(match["block"] for match in found if match))


def _block_patches(laid: LaidBlock) -> Iterator[LaidPatch]:
    polygons = np.array([p.polygon for p in laid.block.patches])
    for patch, polygon in zip(laid.block.patches, _moved(polygons, laid), strict=True):
        yield LaidPatch(laid.place, patch.name, patch.fabric, polygon, patch.named)


def _moved(polygons: Geometries, laid: LaidBlock) -> Geometries:
    moved: Geometries = shapely.transform(polygons, laid.to_top)
    return moved


def _one_size(where: str, what: str, sizes: Sequence[float], unit: Unit) -> float:
    if max(sizes) - min(sizes) > SAME_EDGE:
        found = " and ".join(format_length(s, unit) for s in (min(sizes), max(sizes)))
        raise StitchpathError(f"{where}: found {found}, expected {what}")
    return sizes[0]


def _rectangle(place: Place, fabric: str, box: tuple[float, float, float, float]) -> LaidPatch:
    return LaidPatch(place, "", fabric, shapely.box(*box))


def _lay_straight(
    layout: Layout, rows: list[list[_Cell]], border: float, unit: Unit
) -> tuple[list[LaidBlock], list[LaidPatch]]:
    sashing = layout.sashing
    gap = sashing.width if sashing else 0.0
    around = gap if sashing and sashing.around else 0.0
    heights = _heights("layout.rows", rows, unit)
    edges = [border + around + _starts([c.size[0] for c in row], gap) for row in rows]
    _one_length("layout.rows", [e - border - around for e in edges], unit)
    tops = border + around + _starts(heights, gap)
    blocks = [
        cell.laid(Place("block", i, j), float(edges[i][j]), float(tops[i]))
        for i, row in enumerate(rows)
        for j, cell in enumerate(row)
    ]
    if sashing is None:
        return blocks, []
    return blocks, list(_sash(sashing, edges, tops, unit))


def _heights(where: str, rows: Sequence[Sequence[_Cell]], unit: Unit) -> list[float]:
    """Give the height of each row of blocks."""
    return [
        _one_size(
            f"{where}, row {row_letter(i)}",
            "blocks of one height in a row",
            [cell.size[1] for cell in row],
            unit,
        )
        for i, row in enumerate(rows)
    ]


def _one_length(where: str, edges: Sequence[FloatArray], unit: Unit) -> float:
    """Give the length of rows of blocks, and refuse one that is longer or shorter."""
    return _one_size(where, "rows of one length", [float(e[-1]) for e in edges], unit)


def _starts(sizes: Sequence[float], gap: float) -> FloatArray:
    """Find where strips begin, with gaps between, and the place one gap after the last."""
    return np.concatenate([[0.0], np.cumsum(np.asarray(sizes) + gap)])


def _sash(
    sashing: Sashing, edges: list[FloatArray], tops: FloatArray, unit: Unit
) -> Iterator[LaidPatch]:
    """Lay strips beside the blocks, then strips and cornerstones between the rows."""
    width, around = sashing.width, sashing.around
    for i, xs in enumerate(edges):
        for j, x in enumerate(xs):
            if 0 < j < len(xs) - 1 or around:
                box = (float(x) - width, float(tops[i]), float(x), float(tops[i + 1]) - width)
                yield _rectangle(_beside(i, j, len(xs) - 1), sashing.fabric, box)
    if sashing.cornerstone is not None:
        lengths = [len(xs) for xs in edges]
        if min(lengths) != max(lengths):
            raise StitchpathError(
                f"layout.rows: found rows of {min(lengths) - 1} and {max(lengths) - 1} blocks, "
                "expected equally many where cornerstones stand between them"
            )
        for j in range(lengths[0]):
            places = [float(xs[j]) for xs in edges]
            _one_size("layout.rows", "columns in line where cornerstones stand", places, unit)
    for i, y in enumerate(tops):
        if 0 < i < len(tops) - 1 or around:
            xs = edges[min(i, len(edges) - 1)]
            yield from _crosswise(sashing, i, len(tops) - 1, xs, float(y))


def _beside(row: int, column: int, columns: int) -> Place:
    """Place the strip to the left of a column of blocks, or beyond the last."""
    if column == 0:
        return Place("sashing", row, 0, "left")
    return Place("sashing", row, column - 1, "right", between=column < columns)


def _above(row: int, rows: int, column: int = -1) -> Place:
    """Place the strip above a row of blocks, or a block of it, or below the last row."""
    if row == 0:
        return Place("sashing", 0, column, "top")
    return Place("sashing", row - 1, column, "bottom", between=row < rows)


def _crosswise(
    sashing: Sashing, row: int, rows: int, xs: FloatArray, bottom: float
) -> Iterator[LaidPatch]:
    top, width = bottom - sashing.width, sashing.width
    if sashing.cornerstone is None:
        out = 0.0 if sashing.around else width
        box = (float(xs[0]) - width + out, top, float(xs[-1]) - out, bottom)
        yield _rectangle(_above(row, rows), sashing.fabric, box)
        return
    for j, x in enumerate(xs):
        if 0 < j < len(xs) - 1 or sashing.around:
            box = (float(x) - width, top, float(x), bottom)
            yield _rectangle(Place("cornerstone", row, j), sashing.cornerstone, box)
        if j < len(xs) - 1:
            box = (float(x), top, float(xs[j + 1]) - width, bottom)
            yield _rectangle(_above(row, rows, j), sashing.fabric, box)


def _lay_on_point(
    layout: Layout, rows: list[list[_Cell]], border: float, unit: Unit
) -> tuple[list[LaidBlock], list[LaidPatch]]:
    """Lay blocks on their corners: rows of n and n - 1 blocks in turn, as one sees them."""
    sizes = [s for row in rows for c in row for s in c.size]
    side = _one_size("layout.rows", "square blocks of one size when on point", sizes, unit)
    counts = [len(row) for row in rows]
    wanted = [counts[0] - i % 2 for i in range(len(rows))]
    if counts != wanted or len(rows) % 2 == 0:
        raise StitchpathError(
            f"layout.rows: found rows of {', '.join(map(str, counts[:12]))} blocks, expected, on "
            f"point, an odd number of rows of {counts[0]} and {counts[0] - 1} in turn"
        )
    if layout.setting is None:
        raise StitchpathError("layout: found no setting, expected the setting triangles' fabric")
    sashing = layout.sashing
    if sashing is not None and sashing.cornerstone is None:
        raise StitchpathError(
            "layout.sashing: found no cornerstone, expected one when blocks stand on point"
        )
    pitch = (side + (sashing.width if sashing else 0.0)) * np.sqrt(2)
    blocks, patches = [], []
    for i, row in enumerate(rows):
        for j, cell in enumerate(row):
            middle = border + np.array([(j + (1 + i % 2) / 2) * pitch, (i + 1) / 2 * pitch])
            blocks.append(_on_corner(cell, Place("block", i, j), middle))
    whole = shapely.box(
        border, border, border + counts[0] * pitch, border + (len(rows) + 1) / 2 * pitch
    )
    if sashing is not None:
        patches = _sash_on_point(sashing, blocks, whole, pitch)
    laid = [shapely.box(0, 0, side, side)] * len(blocks)
    shapes = [_moved(np.array([b]), at)[0] for b, at in zip(laid, blocks, strict=True)]
    covered = shapely.union_all([*shapes, *(p.polygon for p in patches)], grid_size=GRID)
    rest = shapely.difference(whole, covered, grid_size=GRID)
    parts = [p for p in shapely.get_parts(rest) if p.area > side * side / 100]
    parts.sort(key=lambda p: (round(p.centroid.y, 3), round(p.centroid.x, 3)))
    patches += [
        LaidPatch(Place("setting", number=k + 1), "", layout.setting, _straightened(p))
        for k, p in enumerate(parts)
    ]
    return blocks, patches


def _straightened(polygon: Polygon) -> Polygon:
    """Leave out false corners: taking a difference leaves points on straight edges."""
    simple = polygon.simplify(SAME_EDGE / 2)
    return simple if isinstance(simple, Polygon) else polygon


def _on_corner(cell: _Cell, place: Place, middle: FloatArray) -> LaidBlock:
    flat = cell.laid(place, 0.0, 0.0).frame
    width, height = cell.size
    frame = np.column_stack([_EIGHTH @ flat[:, :2], _EIGHTH @ flat[:, 2]])
    frame[:, 2] += middle - _EIGHTH @ np.array([width / 2, height / 2])
    return LaidBlock(place, cell.block, frame, (cell.block.name,))


def _sash_on_point(
    sashing: Sashing, blocks: list[LaidBlock], whole: Polygon, pitch: float
) -> list[LaidPatch]:
    """Lay a strip on each side of each block and a cornerstone at each corner, cut at the edge."""
    width = sashing.width
    side = pitch / np.sqrt(2) - width
    strips: dict[tuple[int, int], LaidPatch] = {}
    stones: dict[tuple[int, int], LaidPatch] = {}
    frame: dict[Side, tuple[float, float, float, float]] = {
        "top": (0.0, -width, side, 0.0),
        "left": (-width, 0.0, 0.0, side),
        "bottom": (0.0, side, side, side + width),
        "right": (side, 0.0, side + width, side),
    }
    corners = [(-width, -width), (side, -width), (-width, side), (side, side)]
    for laid in blocks:
        straight = LaidBlock(laid.place, laid.block, _upright(laid, side))
        for way, box in frame.items():
            shape = _moved(np.array([shapely.box(*box)]), straight)[0]
            key = _grid_key(shape)
            place = Place("sashing", laid.place.row, laid.place.column, way)
            strips.setdefault(key, LaidPatch(place, "", sashing.fabric, shape))
        for x, y in corners:
            square = shapely.box(x, y, x + width, y + width)
            shape = _moved(np.array([square]), straight)[0]
            key = _grid_key(shape)
            cut = shape.intersection(whole)
            place = Place("cornerstone", number=len(stones) + 1)
            stone = LaidPatch(place, "", sashing.cornerstone or "", cut)
            stones.setdefault(key, stone)
    return [*strips.values(), *stones.values()]


def _upright(laid: LaidBlock, side: float) -> FloatArray:
    """Frame of the block's square as it stands on point, whatever its own turn."""
    middle = laid.to_top(np.array([[side / 2, side / 2]]))[0]
    return np.column_stack([_EIGHTH, middle - _EIGHTH @ np.array([side / 2, side / 2])])


def _grid_key(shape: Polygon) -> tuple[int, int]:
    return round(shape.centroid.x * 10), round(shape.centroid.y * 10)


def _lay_freely(layout: Layout, blocks: Mapping[str, DrawnBlock], border: float) -> list[LaidBlock]:
    laid = []
    count = 0
    for i, placed in enumerate(layout.place):
        if placed.block not in blocks:
            raise unknown_name(f"layout.place[{i + 1}].block", "block", placed.block, blocks)
        cell = _Cell(blocks[placed.block], placed.turn, placed.mirror)
        count += cell.block.many
        at_most(f"layout.place[{i + 1}]", count, "patches up to it", MOST_PATCHES)
        laid.append(cell.laid(Place("block", number=i + 1), placed.x, placed.y))
    boxes = [
        _moved(np.array([shapely.box(0, 0, b.block.width, b.block.height)]), b)[0] for b in laid
    ]
    left, top, _, _ = shapely.total_bounds(boxes)
    for b in laid:
        b.frame[:, 2] += (border - left, border - top)
    return laid


def _borders(
    borders: Sequence[Border], patches: Sequence[LaidPatch], unit: Unit
) -> Iterator[LaidPatch]:
    shapes = [p.polygon for p in patches]
    left, top, right, bottom = (float(v) for v in shapely.total_bounds(shapes))
    _refuse_ragged(shapes, (left, top, right, bottom), sum(b.width for b in borders), unit)
    for i, border in enumerate(borders):
        w = border.width
        box = (left, top, right, bottom)
        yield from _border(border, i + 1, box)
        left, top, right, bottom = left - w, top - w, right + w, bottom + w


def _refuse_ragged(
    shapes: Sequence[Polygon], box: tuple[float, float, float, float], border: float, unit: Unit
) -> None:
    """Refuse to put borders round blocks that do not fill a rectangle, and say where they do not.

    Raises
    ------
    StitchpathError
        When a place in the rectangle is bare, and wide enough to be seen.
    """
    bare = shapely.box(*box).difference(shapely.union_all(shapes))
    seen = [part for part in shapely.get_parts(bare.buffer(-SAME_EDGE / 2)) if part.area > 0]
    if not seen:
        return
    widest = max(seen, key=lambda part: (round(part.area), -part.bounds[1], -part.bounds[0]))
    left, top, right, bottom = widest.buffer(SAME_EDGE / 2, join_style="mitre").bounds
    size = f"{format_length(right - left, unit)} by {format_length(bottom - top, unit)}"
    place = format_place(left - border, top - border, unit)
    more = f", and at {format_count(len(seen) - 1, 'more place')}" if len(seen) > 1 else ""
    raise StitchpathError(
        f"layout.borders: found blocks that do not fill a rectangle: nothing lies at {place} from "
        f"the corner of the blocks, {size}{more}; expected one to put borders round"
    )


def _border(
    border: Border, number: int, box: tuple[float, float, float, float]
) -> Iterator[LaidPatch]:
    left, top, right, bottom = box
    w, fabric = border.width, border.fabric

    def at(side: Side, end: Side = "") -> Place:
        return Place("border", side=side, end=end, number=number)

    if border.corners == "mitred":
        inner = [(left, top), (right, top), (right, bottom), (left, bottom)]
        outer = [(x + (w if x == right else -w), y + (w if y == bottom else -w)) for x, y in inner]
        sides: tuple[Side, ...] = ("top", "right", "bottom", "left")
        for k, side in enumerate(sides):
            n = (k + 1) % 4
            strip = Polygon([outer[k], outer[n], inner[n], inner[k]])
            yield LaidPatch(at(side), "", fabric, strip)
        return
    out = 0.0 if border.corners == "squares" else w
    yield _rectangle(at("left"), fabric, (left - w, top, left, bottom))
    yield _rectangle(at("right"), fabric, (right, top, right + w, bottom))
    rows: tuple[tuple[Side, float], ...] = (("top", top - w), ("bottom", bottom))
    ends: tuple[tuple[Side, float], ...] = (("left", left - w), ("right", right))
    for side, y in rows:
        yield _rectangle(at(side), fabric, (left - out, y, right + out, y + w))
        if border.corners == "squares":
            for end, x in ends:
                corner = border.corner_fabric or fabric
                yield _rectangle(at(side, end), corner, (x, y, x + w, y + w))
