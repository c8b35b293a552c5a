"""One page for the wall: the map as large as it can be, and what comes when below or beside."""

import numpy as np

from stitchpath.export.guide.maps import draw_map, map_scale
from stitchpath.export.guide.path import Scene
from stitchpath.export.guide.plates import Passes
from stitchpath.export.guide.seams import SeamsPanel
from stitchpath.export.pdf.letters import POINT, broken, shortened
from stitchpath.export.pdf.page import LEFT, RIGHT, new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import INK, Box, Sheet
from stitchpath.told.card_words import Entry, course
from stitchpath.told.cards import by_pass, cards

__all__ = ["glance_sheet"]

_SIZES = (15.0, 13.0, 11.0, 9.5, 8.5)  # points: the largest that leaves the map most of the page
_SHARE = 0.42  # of the page for words at most
_COLUMN = 0.3  # of the page's width for words beside the map
_GUTTER = 6.0  # mm
_PICTURES = 4


def glance_sheet(scene: Scene, paper: Paper) -> Sheet:
    """Draw the page; where no area is stitched by itself, the pictures of the lines."""
    plan = scene.plan
    wide = plan.top.width > plan.top.height
    across = (paper.height if wide else paper.width) - LEFT - RIGHT
    name = shortened(plan.top.name, across, 20, "bold")
    sheet, room = new_page(paper, name, landscape=wide)
    entries = course(plan)
    size, high = _size(entries, room, _SHARE * room.height)
    above = room._replace(bottom=room.bottom - high - 4)
    left = room._replace(right=room.right - _COLUMN * room.width)
    if not (cards(plan) or by_pass(plan)):
        panel = SeamsPanel(scene)
        y = panel.draw(sheet, above, panel.pictures[:_PICTURES], Passes(plan))
    elif map_scale(scene, left) > map_scale(scene, above):
        draw_map(sheet, scene, left)
        beside = room._replace(left=left.right + _GUTTER)
        _list(sheet, entries, beside, _size(entries, beside, beside.height)[0])
        return sheet
    else:
        y = draw_map(sheet, scene, above)
    _list(sheet, entries, room._replace(top=y + 3), size)
    return sheet


def _size(entries: tuple[Entry, ...], room: Box, most: float) -> tuple[float, float]:
    """Choose the size of the words, points; give how high the list is then, mm, `most` at most."""
    for size in _SIZES:
        high = _height(entries, room.width, size)
        if high < most:
            return size, high
    return _SIZES[-1], most


def _height(entries: tuple[Entry, ...], width: float, size: float) -> float:
    lines = sum(len(broken(entry.text, width - 0.7 * size, size)) for entry in entries)
    return lines * size * 1.22 * POINT + 0.6 * len(entries)


def _list(sheet: Sheet, entries: tuple[Entry, ...], room: Box, size: float) -> None:
    """List what comes when, stops marked, as far as there is room; say how much more there is."""
    y, half, indent = room.top, 0.13 * size, 0.7 * size
    shown = _shown(entries, room, size)
    for entry in entries[:shown]:
        x, middle = room.left + half + 0.5, y + 0.235 * size
        if entry.kind == "stop":
            sheet.rectangle(Box(x - half, middle - half, x + half, middle + half), INK)
        else:
            sheet.disc((x, middle), half, None, edge=INK)
        y = sheet.paragraph((room.left + indent, y), room.width - indent, entry.text, size) + 0.6
    if shown < len(entries):
        more = f"and {len(entries) - shown} more, in the guide"
        sheet.paragraph((room.left + indent, y), room.width - indent, more, size)


def _shown(entries: tuple[Entry, ...], room: Box, size: float) -> int:
    """Tell how many lines there is room for, with one more for how many are left out."""
    if _height(entries, room.width, size) <= room.height:
        return len(entries)
    free = room.height - size * 1.22 * POINT
    highs = np.cumsum([_height((entry,), room.width, size) for entry in entries])
    return int(np.searchsorted(highs, free, side="right"))
