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
_MARGIN = 15.0  # mm on the top beyond its edge that a window shows


def pass_pages(scene: Scene, paper: Paper) -> Iterator[Sheet]:
    """Draw each pass: its window with the path in it, and the rows of its sheet beneath.

    Parameters
    ----------
    scene
        The plan.
    paper
        Its size.
    """
    sheet: Sheet | None = None
    foot = 0.0
    for told in pass_sheets(scene.plan):
        if sheet is None:
            sheet, room = new_page(paper, "Pass by pass", "" if told.number > 1 else _HOW,
                                   again=told.number > 1)  # fmt: skip
            foot = legend_height(expected_on(scene.plan), scene.plan, room.width)
            y, most = room.top, (room.height - foot) / 2
        _draw(sheet, scene, told, Box(room.left, y, room.right, y + most - 3))
        y += most
        if told.number % 2 == 0 or told.number == len(pass_sheets(scene.plan)):
            draw_legend(sheet, scene.plan, room._replace(top=room.bottom - foot))
            yield sheet
            sheet = None


_HOW = (
    "Read a pass before you roll on to it. Its picture is what the frame shows, with all that is "
    "stitched there. Beyond the dashed level the next pass goes on."
)


def _draw(sheet: Sheet, scene: Scene, told: PassSheet, room: Box) -> None:
    """Draw one pass into its room."""
    y = section(sheet, (room.left, room.top), room.width, told.title)
    lines = [(what, broken(said, room.width - _NAMED, _SIZE, "text")) for what, said in told.rows]
    text = sum(len(some) for _, some in lines) * _SIZE * 1.22 * POINT + 2
    window = scene.plan.windows[told.shown.window - 1]
    top, sideways = scene.plan.top, scene.plan.sideways
    frame = Box(-_MARGIN, window.top, top.width + _MARGIN, window.bottom)
    if sideways:
        frame = Box(window.top, -_MARGIN, window.bottom, top.height + _MARGIN)
    view = View.fit(
        sheet,
        frame,
        Box(room.left + _BESIDE, y + 5, room.right, room.bottom - text - 1),
        turned=sideways,
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
