"""A quilt in a frame, pass by pass: what the frame shows, and what is done there."""

from collections.abc import Iterator

import numpy as np

from stitchpath.base.marks import LINES
from stitchpath.export.guide.drawing import PEN, TINT, View, draw_path, draw_top, faded
from stitchpath.export.guide.legend import draw_legend, expected_on, legend_height
from stitchpath.export.guide.maps import draw_rulers
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import POINT, broken
from stitchpath.export.pdf.page import new_page, section
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.told.pass_sheets import PassSheet, pass_sheets

__all__ = ["pass_pages"]

_SIZE = 10.5  # points
_NAMED = 22.0  # mm: room for what a row is about
_BESIDE = 6.0  # mm left of a window, for the names of its rows
_APART = 3.0  # mm between passes
_HEAD = 12.6  # mm over a picture, for its heading and its columns
_LEAST = 30.0  # mm: so high a picture is at least
_MARGIN = 15.0  # mm on the top beyond its edge that a window shows


def pass_pages(scene: Scene, paper: Paper) -> Iterator[tuple[Sheet, list[int]]]:
    """Draw each pass: its window with the path in it, and the rows of its sheet beneath.

    Each page comes with the numbers of its passes: two of them, or one where the paper is small.
    The legend stands below them, or on a page behind where it would leave the pictures too little.

    Parameters
    ----------
    scene
        The plan.
    paper
        Its size.
    """
    sheets = pass_sheets(scene.plan)
    if not sheets:
        return
    _, room = new_page(paper, "Pass by pass", _HOW)
    foot = legend_height(expected_on(scene.plan), scene.plan, room.width)
    many = 2 if _high(scene, room, 2, foot) >= _LEAST else 1
    apart = _high(scene, room, many, foot) < _LEAST
    foot = 0.0 if apart else foot
    used: dict[tuple[str, str], None] = {}
    for some in (sheets[k : k + many] for k in range(0, len(sheets), many)):
        again = some[0].number > 1
        sheet, room = new_page(paper, "Pass by pass", "" if again else _HOW, again=again)
        most = (room.height - foot) / many
        for k, told in enumerate(some):
            y = room.top + k * most
            _draw(sheet, scene, told, Box(room.left, y, room.right, y + most - _APART))
        used |= dict.fromkeys(sheet.used)
        if not apart:
            draw_legend(sheet, scene.plan, room._replace(top=room.bottom - foot))
        yield sheet, [told.number for told in some]
    if apart:
        sheet, room = new_page(paper, "What the pictures show")
        draw_legend(sheet, scene.plan, room, used=used)
        yield sheet, []


_HOW = (
    "Read a pass before you roll on to it. Its picture is what the frame shows, with all that is "
    "stitched there. Beyond the dashed level the next pass goes on."
)


def _high(scene: Scene, room: Box, many: int, foot: float) -> float:
    """Tell how high the lowest picture may be where so many passes stand on a page, mm."""
    words = max(_words(told, room.width) for told in pass_sheets(scene.plan))
    return (room.height - foot) / many - _APART - _HEAD - words


def _frame(scene: Scene, told: PassSheet) -> Box:
    """Tell what the frame shows, mm on the top."""
    window, top = scene.plan.windows[told.shown.window - 1], scene.plan.top
    if scene.plan.sideways:
        return Box(window.top, -_MARGIN, window.bottom, top.height + _MARGIN)
    return Box(-_MARGIN, window.top, top.width + _MARGIN, window.bottom)


def _words(told: PassSheet, width: float) -> float:
    """Tell how much room the rows of a sheet want, mm."""
    lines = [broken(said, width - _NAMED, _SIZE, "text") for _, said in told.rows]
    return sum(map(len, lines)) * _SIZE * 1.22 * POINT + 3.0


def _draw(sheet: Sheet, scene: Scene, told: PassSheet, room: Box) -> None:
    """Draw one pass into its room."""
    y = section(sheet, (room.left, room.top), room.width, told.title)
    floor = room.bottom - _words(told, room.width)
    view = View.fit(
        sheet,
        _frame(scene, told),
        Box(room.left + _BESIDE, y + 5, room.right, floor),
        turned=scene.plan.sideways,
    )
    _picture(view, scene, told)
    y = view.box.bottom + 2.5
    for what, said in told.rows:
        sheet.write(
            (room.left, y + _SIZE * 1.22 * POINT - 0.26 * _SIZE * POINT), what, _SIZE, "bold"
        )
        y = sheet.paragraph((room.left + _NAMED, y), room.width - _NAMED, said, _SIZE)


def _picture(view: View, scene: Scene, told: PassSheet) -> None:
    stretches = {(s.run - 1, s.first, s.last) for s in told.shown.stretches}
    mine = [
        stroke
        for stroke in scene.strokes
        for run, first, last in stretches
        if stroke.run == run
        and first <= scene.told[stroke.run].steps[stroke.step].first_leg <= last
    ]
    draw_top(view, scene, TINT)
    draw_rulers(view, scene.plan)
    draw_path(view, Scene(scene.plan, scene.told, mine), every=20.0, weight=0.8)
    window = scene.plan.windows[told.shown.window - 1]
    if window.ends < window.bottom:
        dash = tuple(PEN * part for part in LINES["rolled on"].dash or ())
        shown = view.window
        level = [[shown.left, window.ends], [shown.right, window.ends]]
        if view.turned:
            level = [[window.ends, shown.bottom], [window.ends, shown.top]]
        view.sheet.draw([view.onto(np.array(level))], colour=INK,
                        width=PEN * LINES["rolled on"].width, dash=dash)  # fmt: skip
        view.sheet.note("rolled on")
    view.sheet.rectangle(view.box, None, edge=faded(INK, 0.5), width=0.2)
    front = view.box.left, view.box.bottom + 2.2
    view.sheet.write(front, "front bar", 7.5, colour=GREY)
