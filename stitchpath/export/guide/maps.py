"""The map: the whole path on one page."""

import numpy as np

from stitchpath.base.marks import LINES
from stitchpath.base.typing import FloatArray
from stitchpath.export.guide.drawing import PEN, TINT, View, draw_path, draw_top
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.legend import draw_legend, expected_on, legend_height
from stitchpath.export.guide.orders import draw_orders
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.top.layout import LaidBlock
from stitchpath.top.place import row_letter
from stitchpath.top.squares import MapSquare

__all__ = [
    "TINT",
    "draw_map",
    "draw_rulers",
    "legend_apart",
    "map_height",
    "map_pages",
    "map_scale",
]

_TRIED = 9  # places across and down a block that are tried for its name
_NAME_SIZE = 9.0  # points
_MARGIN = 40.0  # mm: more of the batting is not shown, so that the top is large
_ENOUGH = 0.75  # of the height that a map might have is left it by its legend
_APART = 0.8  # a map is worth so much less where its legend stands on the next page
_HOW = (
    "Follow the arrows from each round mark to the square one of the same number. How each area is "
    "stitched stands on its card."
)


def map_pages(scene: Scene, paper: Paper) -> list[Sheet]:
    """Draw the whole path on one page, its legend below it; or on the next where both are large."""
    plan = scene.plan
    landscape, apart = _laid(scene, paper)
    sheet, room = new_page(paper, "The map", _HOW, landscape=landscape)
    if not apart:
        draw_map(sheet, scene, room)
        return [sheet]
    draw_map(sheet, scene, room, legend=False)
    key, room = new_page(paper, "What the map shows")
    used = sheet.used
    draw_legend(key, plan, room, used=used)
    return [sheet, key]


def legend_apart(scene: Scene, paper: Paper) -> bool:
    """Tell whether the legend of the map would leave it too little of its page."""
    return _laid(scene, paper)[1]


def _laid(scene: Scene, paper: Paper) -> tuple[bool, bool]:
    """Choose whether the page of the map lies on its side, and its legend stands on the next."""
    plan, top = scene.plan, scene.plan.top
    best = 0.0, False, False
    for landscape in (False, True) if top.width > top.height else (False,):
        _, room = new_page(paper, "The map", _HOW, landscape=landscape)
        high = legend_height(expected_on(plan, orders=True), plan, room.width)
        wanted = map_height(scene, room.width) - high
        apart = room.height - high < _ENOUGH * min(wanted, room.height)
        scale = map_scale(scene, room, legend=not apart)
        best = max(best, (scale * (_APART if apart else 1.0), landscape, apart))
    return best[1:]


def draw_map(sheet: Sheet, scene: Scene, room: Box, *, legend: bool = True) -> float:
    """Draw the whole path, as large as the room allows, with its legend; give where it ends.

    Parameters
    ----------
    sheet
        The page.
    scene
        The plan.
    room
        What of the page there is.
    legend
        Whether the legend stands below it.
    """
    plan, top = scene.plan, scene.plan.top
    key_height = legend_height(expected_on(plan, orders=True), plan, room.width) if legend else 0.0
    room = Box(room.left + 5, room.top + 5, room.right, room.bottom - key_height - 3)
    margin = max(min(plan.design.batting.margin, _MARGIN), 15.0)
    window = Box(-margin, -margin, top.width + margin, top.height + margin)
    view = View.fit(sheet, window, room)
    top_at = view.box.top - room.top  # the legend follows the picture
    view = View(sheet, window, view.box._replace(top=room.top, bottom=view.box.bottom - top_at))
    room = room._replace(bottom=view.box.bottom)
    _batting(view, plan)
    draw_top(view, scene, TINT)
    _passes(view, plan)
    draw_rulers(view, plan)
    labels = Labels(sheet, view.box.grown(4.0))
    for box in sheet.boxes:
        labels.block(box.grown(0.3))
    weight = _weight(view, plan)
    gap = _gap(view, scene)
    draw_path(view, scene, gap=gap, every=16.0, weight=weight, labels=labels)
    _names(view, plan, labels)
    draw_orders(view, scene, labels)
    below = Box(room.left - 5, room.bottom + 3, room.right, room.bottom + 3 + key_height)
    if legend:
        draw_legend(sheet, plan, below)
    return below.bottom


def map_scale(scene: Scene, room: Box, *, legend: bool = True) -> float:
    """Tell how large `draw_map` draws in a room: mm on the sheet for each mm of the top."""
    plan, top = scene.plan, scene.plan.top
    margin = max(min(plan.design.batting.margin, _MARGIN), 15.0)
    high = legend_height(expected_on(plan, orders=True), plan, room.width) if legend else 0.0
    free = room.width - 5.0, room.height - 8.0 - high
    return min(free[0] / (top.width + 2 * margin), free[1] / (top.height + 2 * margin))


def map_height(scene: Scene, width: float) -> float:
    """Tell how high a map is with its legend where it may be so wide, mm."""
    plan, top = scene.plan, scene.plan.top
    margin = max(min(plan.design.batting.margin, _MARGIN), 15.0)
    scale = min((width - 5) / (top.width + 2 * margin), 1.0)
    key_height = legend_height(expected_on(plan, orders=True), plan, width)
    return (top.height + 2 * margin) * scale + key_height + 9.0


def _gap(view: View, scene: Scene) -> float:
    """Choose how far second passes stand off: closer where lines lie close."""
    box = scene.stroke_boxes
    small = float(np.quantile(np.hypot(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]), 0.1))
    return min(max(small * view.scale / 3, 0.55), 0.9)


def _weight(view: View, plan: Plan) -> float:
    """Choose how heavy lines are: lighter where they lie close on the sheet."""
    totals = plan.totals
    sewn = totals.stitched + totals.retraced
    apart = 2 * plan.top.outline.area / sewn * view.scale  # as if half went across and half down
    return min(max(apart / 5, 0.4), 1.0)


def _batting(view: View, plan: Plan) -> None:
    """Draw where the batting ends."""
    margin = plan.design.batting.margin
    if 0 < margin <= -view.window.left + 0.01:
        outline = plan.top.outline.buffer(margin, join_style="mitre")
        dash = tuple(PEN * part for part in LINES["batting"].dash or ())
        width = PEN * LINES["batting"].width
        view.sheet.draw(view.rings([outline]), colour=GREY, width=width, dash=dash)
        view.sheet.note("batting")


def _passes(view: View, plan: Plan) -> None:
    """Draw where the quilt is rolled on in a frame, and number its passes in the margin."""
    left, upper, right, low = view.window
    for number, level in enumerate((*plan.levels, right if plan.sideways else low), 1):
        if not plan.levels:
            return
        ends = [[left, level], [right, level]]
        if plan.sideways:
            ends = [[level, low], [level, upper]]
        path = view.onto(np.array(ends))
        if number <= len(plan.levels):
            dash = tuple(PEN * part for part in LINES["rolled on"].dash or ())
            view.sheet.draw([path], colour=INK, width=PEN * LINES["rolled on"].width, dash=dash)
            view.sheet.note("rolled on")
        x, y = path[1].tolist()
        under = 1.4 if not plan.sideways else -3.0
        view.sheet.write((x - 1, y - under), f"pass {number}", 8.5, colour=GREY, align="right")


def draw_rulers(view: View, plan: Plan) -> None:
    """Letter the rows and number the columns, on the left and above, where blocks stand in both."""
    known = (*plan.top.windows, *plan.top.compounds)
    blocks = [block for block in known if not block.place.inside]
    if plan.design.layout.on_point or plan.design.layout.place:
        return
    at: dict[bool, dict[str, list[tuple[float, float]]]] = {True: {}, False: {}}
    for block in blocks:
        x, y = view.onto(_middle(block))
        at[True].setdefault(row_letter(block.place.row), []).append((float(x), float(y)))
        at[False].setdefault(f"{block.place.column + 1}", []).append((float(x), float(y)))
    down, across = (at[not view.turned], at[view.turned])
    for name, places in down.items():
        y = places[-1][1]
        if view.box.top <= y <= view.box.bottom:
            view.sheet.write((view.box.left - 2.0, y + 1.3), name, 10.5, "bold", align="right")
    for name, places in across.items():
        xs = [x for x, _ in places]
        if max(xs) - min(xs) < 1:
            view.sheet.write((xs[0], view.box.top - 1.6), name, 10.5, "bold", align="centre")


def _names(view: View, plan: Plan, labels: Labels) -> None:
    """Name the blocks where no ruler can: those placed one by one, and those on point."""
    if not (plan.design.layout.on_point or plan.design.layout.place):
        return
    for block in plan.top.blocks:
        corners = block.corners
        middle = _middle(block)
        inner = middle + (corners - middle) * 0.7
        shares = np.linspace(0, 1, _TRIED)
        across = np.array([inner[0] + (inner[1] - inner[0]) * share for share in shares])
        down = inner[3] - inner[0]
        places = np.concatenate([across + down * share for share in shares])
        nearest = places[np.argsort(np.hypot(*(places - middle).T), kind="stable")]
        labels.put(plan.places.block(block.place), view.onto(nearest), _NAME_SIZE, INK)


def _middle(block: LaidBlock | MapSquare) -> FloatArray:
    return np.asarray(block.corners.mean(axis=0))
