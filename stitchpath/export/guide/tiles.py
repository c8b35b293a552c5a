"""The path at true size, cut into sheets that are joined again."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from stitchpath.export.guide.drawing import View, draw_ends, draw_top, faded, true_path
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.legend import draw_legend, expected_on, legend_height
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import shortened, text_width
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, PALE, Box, Sheet
from stitchpath.lines.ditch import seams_left
from stitchpath.top.place import row_letter

__all__ = [
    "INCH",
    "MARGIN",
    "OVERLAP",
    "SQUARE",
    "STRIP",
    "TileGrid",
    "draw_joins",
    "joins_to",
    "measuring_marks",
    "tile_sheets",
]

MARGIN = 10.0  # mm: what printers leave blank, and a little more
STRIP = 30.0  # mm at the foot of each sheet: test square, name, page
OVERLAP = 12.7  # mm by which neighbouring tiles show the same
INCH = 25.4
SQUARE = 50.0  # mm, the length of the test bar
_BEYOND = 16.0  # mm of margin round the top: the path goes there
_SEAM = 0.55  # strength of the grey of seams
_GLIMPSED = 0.15  # share of a block on a tile from which on its name stands there
_STEPS = np.linspace(0.1, 0.9, 9)
_SPREAD = np.array(  # places for a name as shares of its room, those in the middle first
    sorted(((x, y) for x in _STEPS for y in _STEPS), key=lambda at: np.hypot(*np.subtract(at, 0.5)))
)


@dataclass(frozen=True, slots=True)
class TileGrid:
    """How the top is cut.

    Attributes
    ----------
    landscape
        Whether sheets lie on their long sides: whichever way takes fewer.
    across, down
        How many.
    origin
        Top left corner of the first tile, mm on the top.
    wide, high
        What one tile shows, mm, at true size.
    """

    landscape: bool
    across: int
    down: int
    origin: tuple[float, float]
    wide: float
    high: float

    @staticmethod
    def of(width: float, height: float, paper: Paper) -> "TileGrid":
        """Cut a top of a size, margin and all, for a paper."""
        whole = Box(-_BEYOND, -_BEYOND, width + _BEYOND, height + _BEYOND)
        choices = []
        for landscape in (False, True):
            sheet = Sheet(paper, landscape)
            room = sheet.width - 2 * MARGIN, sheet.height - 2 * MARGIN - STRIP
            choices.append(TileGrid.over(whole, room, landscape=landscape))
        return min(choices, key=lambda grid: (grid.across * grid.down, grid.landscape))

    @staticmethod
    def over(whole: Box, room: tuple[float, float], *, landscape: bool) -> "TileGrid":
        """Cut what lies in a box into tiles of a width and height."""
        across, down = (
            max(math.ceil((size - OVERLAP) / (tile - OVERLAP)), 1)
            for size, tile in zip((whole.width, whole.height), room, strict=True)
        )
        return TileGrid(landscape, across, down, (whole.left, whole.top), *room)

    def window(self, row: int, column: int) -> Box:
        """Give what a tile shows, mm on the top."""
        left = self.origin[0] + column * (self.wide - OVERLAP)
        top = self.origin[1] + row * (self.high - OVERLAP)
        return Box(left, top, left + self.wide, top + self.high)

    def name(self, row: int, column: int) -> str:
        """Name a tile: rows by number and columns by letter, the other way than blocks."""
        return f"{row + 1}{row_letter(column).lower()}"


def tile_sheets(scene: Scene, paper: Paper) -> Iterator[Sheet]:
    """Draw the plan of the tiles, then every tile that shows anything."""
    top = scene.plan.top
    grid = TileGrid.of(top.width, top.height, paper)
    tiles = [(row, column) for row in range(grid.down) for column in range(grid.across)]
    shown = [tile for tile in tiles if _shows(scene, grid.window(*tile))]
    yield _tile_plan(scene, grid, shown, paper)
    for k, (row, column) in enumerate(shown, start=2):
        yield _tile(scene, grid, row, column, paper, f"page {k} of {len(shown) + 1}")


def _shows(scene: Scene, window: Box) -> bool:
    view = View(Sheet(Paper("", 1, 1)), window, window)
    return len(view.seen(scene.stroke_boxes)) > 0 or len(view.seen(scene.patch_boxes)) > 0


def _tile_plan(scene: Scene, grid: TileGrid, shown: list[tuple[int, int]], paper: Paper) -> Sheet:
    """Show how the tiles lie on the top, and how to join them."""
    top = scene.plan.top
    sheet, room = new_page(
        paper,
        "The path at true size",
        f"{len(shown)} tiles. Print at 100 %, never fitted to the page, and measure the test "
        "square on each sheet before you cut. Trim each sheet along its frame on the right and at "
        "the foot, lay it over the next one so that the crosses meet, and tape. Mark with a "
        "tracing wheel, or trace on a light box.",
        landscape=top.width > top.height,
    )
    last = grid.window(grid.down - 1, grid.across - 1)
    window = Box(grid.origin[0], grid.origin[1], last.right, last.bottom)
    square = measuring_marks(sheet, (room.left, room.bottom - INCH - 1))
    used = expected_on(scene.plan, traced=True)
    key = legend_height(used, scene.plan, room.width)
    view = View.fit(sheet, window, Box(room.left, room.top, room.right, square.top - key - 8))
    draw_top(view, scene, 0.3)
    size = min(11.0, 0.35 * grid.high * view.scale / 0.353, 0.3 * grid.wide * view.scale / 0.353)
    for row, column in shown:
        tile = grid.window(row, column)
        corners = np.array([[tile.left, tile.top], [tile.right, tile.bottom]])
        (left, upper), (right, lower) = view.onto(corners)
        sheet.rectangle(Box(left, upper, right, lower), None, edge=INK, width=0.2)
        middle = (left + right) / 2, (upper + lower) / 2 + 0.12 * size
        sheet.write(middle, grid.name(row, column), size, "bold", align="centre")
    below = room._replace(top=square.top - key - 3, bottom=square.top - 3)
    draw_legend(sheet, scene.plan, below, used=used)  # of what stands on the tiles
    return sheet


def _tile(scene: Scene, grid: TileGrid, row: int, column: int, paper: Paper, page: str) -> Sheet:
    sheet = Sheet(paper, grid.landscape)
    sheet.bookmark(f"Tile {grid.name(row, column)}", level=1)
    window = grid.window(row, column)
    box = Box(MARGIN, MARGIN, MARGIN + grid.wide, MARGIN + grid.high)
    view = View(sheet, window, box)
    top = scene.plan.top
    seams = [view.onto(top.seams[i].points) for i in view.seen(scene.seam_boxes)]
    sheet.draw(seams, colour=faded(GREY, _SEAM), width=0.2, clip=box)
    sheet.fill(view.rings([p.shape for p in top.pieces]), None, edge=GREY, width=0.3, clip=box)
    sheet.fill(view.rings([top.outline]), None, edge=INK, width=0.4, clip=box)
    sheet.note("edge")
    if top.pieces or seams_left(top, scene.plan.lines):
        sheet.note("seam")
    true_path(view, scene)
    draw_ends(view, scene.plan)
    _places(view, scene)
    sheet.rectangle(box, None, edge=INK, width=0.15)
    draw_joins(sheet, grid, row, column, box)
    _foot(sheet, scene, grid, (row, column), page)
    return sheet


def _places(view: View, scene: Scene) -> None:
    """Write the names of the blocks in pale letters, where no line crosses them."""
    inner = view.box.grown(-12)  # within the crosses
    labels = Labels(view.sheet, inner)
    for mark in view.sheet.boxes:
        labels.block(mark.grown(2.0))
    labels.block_lines(view.onto(scene.strokes[i].points) for i in view.seen(scene.stroke_boxes))
    for i in view.seen(scene.block_boxes):
        name = scene.plan.places.block(scene.plan.top.windows[i].place)
        low, high = view.onto(scene.block_boxes[i].reshape(2, 2))
        upper = np.maximum(low, [inner.left, inner.top])
        room = np.minimum(high, [inner.right, inner.bottom]) - upper
        if room.min() <= 0 or room.prod() < _GLIMPSED * (high - low).prod():
            continue
        half = np.array([text_width(name, 18, "bold") / 2, 2.6])
        for x, y in (upper + room * _SPREAD).tolist():
            box = Box(x - half[0], y - half[1], x + half[0], y + half[1])
            if labels.free(box, clear=True):
                labels.block(box)
                at = x, y + half[1]
                view.sheet.write(at, name, 18, "bold", colour=PALE, align="centre")
                break


def draw_joins(sheet: Sheet, grid: TileGrid, row: int, column: int, box: Box) -> None:
    """Draw crosses in the middle of each overlap, the same on both tiles, and cutting marks."""
    half = OVERLAP / 2
    xs = [box.left + half] * (column > 0) + [box.right - half] * (column < grid.across - 1)
    ys = [box.top + half] * (row > 0) + [box.bottom - half] * (row < grid.down - 1)
    thirds_x = [box.left + grid.wide * share for share in (0.25, 0.75)]
    thirds_y = [box.top + grid.high * share for share in (0.25, 0.75)]
    crosses = [(x, y) for x in xs for y in thirds_y] + [(x, y) for y in ys for x in thirds_x]
    arms = [
        np.array([[x - dx, y - dy], [x + dx, y + dy]])
        for x, y in crosses
        for dx, dy in ((3.0, 0.0), (0.0, 3.0))
    ]
    sheet.draw(arms, width=0.15)
    for x, y in crosses:
        sheet.disc((x, y), 1.2, None, edge=INK, width=0.15)
    marks = [
        np.array([[x, y], [x + dx, y + dy]])
        for x, y, out_x, out_y in (
            (box.left, box.top, -1, -1),
            (box.right, box.top, 1, -1),
            (box.left, box.bottom, -1, 1),
            (box.right, box.bottom, 1, 1),
        )
        for dx, dy in ((5.0 * out_x, 0.0), (0.0, 5.0 * out_y))
    ]
    sheet.draw(marks, width=0.25)


def _foot(sheet: Sheet, scene: Scene, grid: TileGrid, at: tuple[int, int], page: str) -> None:
    """Write the test square, the tile's name, its neighbours and the page."""
    square = measuring_marks(sheet, (MARGIN, sheet.height - MARGIN - INCH + 1.5))
    x, y = square.right + 8, square.top + 8.0
    wide = sheet.width - MARGIN - x
    sheet.write((x, y), grid.name(*at), 22, "bold")
    sheet.write((sheet.width - MARGIN, y), page, 9, colour=GREY, align="right")
    sheet.write((x, y + 6), shortened(scene.plan.top.name, wide, 10, "italic"), 10, "italic")
    sheet.write((x, y + 11.5), joins_to(grid, *at), 9, colour=GREY)


def joins_to(grid: TileGrid, row: int, column: int) -> str:
    """Name the tiles beside a tile."""
    beside = {
        "above": (row - 1, column),
        "left": (row, column - 1),
        "right": (row, column + 1),
        "below": (row + 1, column),
    }
    return ", ".join(
        f"{way} {grid.name(*tile)}"
        for way, tile in beside.items()
        if 0 <= tile[0] < grid.down and 0 <= tile[1] < grid.across
    )


def measuring_marks(sheet: Sheet, at: tuple[float, float]) -> Box:
    """Draw a square of one inch and a bar of 50 mm; gives the room they take."""
    x, y = at
    sheet.rectangle(Box(x, y, x + INCH, y + INCH), None, edge=INK, width=0.2)
    sheet.write((x + INCH / 2, y + INCH / 2 + 0.5), "1 inch", 9, align="centre")
    sheet.write((x + INCH / 2, y + INCH / 2 + 4.5), "square", 9, align="centre")
    left, level = x + INCH + 6, y + INCH - 3
    ticks = [
        np.array([[left + k * 10, level - (3 if k % 5 == 0 else 1.8)], [left + k * 10, level]])
        for k in range(6)
    ]
    sheet.draw([np.array([[left, level], [left + SQUARE, level]]), *ticks], width=0.2)
    sheet.write((left + SQUARE / 2, level - 5), "50 mm", 9, align="centre")
    return Box(x, y, left + SQUARE, y + INCH)
