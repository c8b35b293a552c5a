"""One page for the wall: the map as large as it can be, and what comes when."""

import numpy as np

from stitchpath.export.guide.maps import draw_map
from stitchpath.export.guide.path import Scene
from stitchpath.export.guide.plates import Passes
from stitchpath.export.guide.seams import SeamsPanel
from stitchpath.export.pdf.letters import POINT, broken, shortened
from stitchpath.export.pdf.page import LEFT, RIGHT, new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import INK, Box, Sheet
from stitchpath.told.card_words import Entry, course
from stitchpath.told.cards import cards

__all__ = ["glance_sheet"]

_SIZES = (15.0, 13.0, 11.0, 9.5, 8.5)  # points: the largest that leaves the map most of the page
_SHARE = 0.42  # of the page for words at most
_PICTURES = 4


def glance_sheet(scene: Scene, paper: Paper) -> Sheet:
    """Draw the page; where no area is stitched by itself, the pictures of the lines."""
    plan = scene.plan
    wide = plan.top.width > plan.top.height
    across = (paper.height if wide else paper.width) - LEFT - RIGHT
    name = shortened(plan.top.name, across, 20, "bold")
    sheet, room = new_page(paper, name, landscape=wide)
    entries = course(plan)
    size, high = next(
        (
            (size, high)
            for size in _SIZES
            if (high := _height(entries, room.width, size)) < _SHARE * room.height
        ),
        (_SIZES[-1], _SHARE * room.height),
    )
    above = room._replace(bottom=room.bottom - high - 4)
    if cards(plan):
        y = draw_map(sheet, scene, above)
    else:
        panel = SeamsPanel(scene)
        y = panel.draw(sheet, above, panel.pictures[:_PICTURES], Passes(plan))
    _list(sheet, entries, room._replace(top=y + 3), size)
    return sheet


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
