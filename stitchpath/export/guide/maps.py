"""The map: the whole path on one page."""

import math

import numpy as np

from stitchpath.export.guide.drawing import (
    TRAVEL,
    Mark,
    View,
    draw_mark,
    draw_path,
    draw_top,
    styles_of,
)
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import shortened
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.top.layout import LaidBlock
from stitchpath.top.place import row_letter
from stitchpath.top.squares import MapSquare
from stitchpath.typing import FloatArray

__all__ = ["TINT", "map_page"]

_ROLLED = (3.0, 1.0, 0.4, 1.0)  # mm: a line where the quilt is rolled on
TINT = 0.32  # strength of the fabrics under the path


def map_page(scene: Scene, paper: Paper) -> Sheet:
    """Draw the whole path on one page."""
    plan, top = scene.plan, scene.plan.top
    landscape = top.width > top.height
    sheet, room = new_page(
        paper,
        "The map",
        "The whole path on the finished top, drawn smaller. Follow the arrows from each round mark "
        "to the square one of the same number.",
        landscape=landscape,
    )
    key_height = _legend_height(plan)
    room = Box(room.left + 5, room.top + 5, room.right, room.bottom - key_height - 3)
    margin = max(min(plan.design.batting.margin, 102.0), 15.0)
    window = Box(-margin, -margin, top.width + margin, top.height + margin)
    view = View.fit(sheet, window, room)
    _batting(view, plan)
    draw_top(view, scene, TINT)
    _strips(view, plan)
    _rulers(view, plan)
    labels = Labels(sheet, view.box.grown(4.0))
    for box in sheet.boxes:
        labels.block(box.grown(0.3))
    weight = _weight(view, plan)
    gap = _gap(view, scene)
    draw_path(view, scene, gap=gap, every=16.0, weight=weight, labels=labels)
    _legend(
        sheet, plan, Box(room.left - 5, room.bottom + 3, room.right, room.bottom + 3 + key_height)
    )
    return sheet


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
        view.sheet.draw(view.rings([outline]), colour=GREY, width=0.18, dash=(0.9, 0.9))


def _strips(view: View, plan: Plan) -> None:
    """Draw where the quilt is rolled on in a frame, and number its strips in the margin."""
    left, _, right, low = view.window
    for number, level in enumerate((*plan.strips, low), 1):
        if not plan.strips:
            return
        path = view.onto(np.array([[left, level], [right, level]]))
        if number <= len(plan.strips):
            view.sheet.draw([path], colour=INK, width=0.25, dash=_ROLLED)
        x, y = path[1].tolist()
        view.sheet.write((x - 1, y - 1.4), f"strip {number}", 8.5, colour=GREY, align="right")


def _rulers(view: View, plan: Plan) -> None:
    """Letter the rows on the left and number the columns above, where blocks stand in both."""
    known = (*plan.top.windows, *plan.top.compounds)
    blocks = [block for block in known if not block.place.inside]
    if plan.design.layout.on_point or plan.design.layout.place:
        return
    rows: dict[int, float] = {}
    columns: dict[int, list[float]] = {}
    for block in blocks:
        x, y = view.onto(_middle(block)[None])[0]
        rows[block.place.row] = float(y)
        columns.setdefault(block.place.column, []).append(float(x))
    for row, y in rows.items():
        view.sheet.write(
            (view.box.left - 2.0, y + 1.3), row_letter(row), 10.5, "bold", align="right"
        )
    for column, xs in columns.items():
        if max(xs) - min(xs) < 1:
            at = xs[0], view.box.top - 1.6
            view.sheet.write(at, f"{column + 1}", 10.5, "bold", align="centre")


def _middle(block: LaidBlock | MapSquare) -> FloatArray:
    return np.asarray(block.corners.mean(axis=0))


_MARKS: tuple[tuple[Mark, bool, str], ...] = (
    ("start", False, "start in the margin: nothing to secure"),
    ("start", True, "start inside the top: secure, bury the tails"),
    ("end", False, "end in the margin: cut the threads"),
    ("end", True, "end inside the top: secure, bury the tails"),
    ("both", True, "start and end inside the top: secure, bury the tails"),
    ("bobbin", False, "put in the bobbin of this number"),
)


def _marks(plan: Plan) -> list[tuple[Mark, bool, str]]:
    """List the marks to be explained."""
    closed = [run for run in plan.runs if np.all(run.legs[0].points[0] == run.legs[-1].points[-1])]
    left_out = {"bobbin"} if not plan.thread.changes else set()
    left_out |= {"both"} if not closed else set()
    return [entry for entry in _MARKS if entry[0] not in left_out]


def _legend_height(plan: Plan) -> float:
    lines, marks = len(styles_of(plan)) + 2 + bool(plan.strips), len(_marks(plan))
    return 5.2 * (math.ceil(lines / 2) + math.ceil(marks / 2)) + 3


def _legend(sheet: Sheet, plan: Plan, room: Box) -> None:
    """Explain lines and marks, in two columns."""
    half = room.width / 2
    lines: list[tuple[str, str, str]] = [
        (f"stitched with {name}", "stitch", name) for name in styles_of(plan)
    ]
    lines += [
        ("stitched again, beside its line", "retrace", ""),
        ("travel: only to get there", "travel", ""),
    ]
    if plan.strips:
        lines.append(("here the quilt is rolled on", "roll", ""))
    styles = styles_of(plan)
    first = next(iter(styles.values()))
    y = room.top
    sheet.rule(room.left, room.right, y)
    for k, (text, do, name) in enumerate(lines):
        x, base = room.left + half * (k % 2), y + 5.2 * (k // 2 + 1)
        style = styles.get(name, first)
        level = base - 1.1
        path = [np.array([[x, level], [x + 13, level]])]
        if do == "roll":
            sheet.draw(path, colour=INK, width=0.25, dash=_ROLLED)
        elif do == "travel":
            sheet.draw(path, colour=style.colour, width=0.3, dash=TRAVEL)
        elif do == "retrace":
            sheet.draw(path, colour=style.colour, width=style.width, dash=style.dash)
            beside = [path[0] - np.array([0.0, 0.9])]
            sheet.draw(beside, colour=style.colour, width=style.width * 0.75, dash=style.dash)
        else:
            sheet.draw(path, colour=style.colour, width=style.width, dash=style.dash)
        sheet.write((x + 16, base), shortened(text, half - 18, 9.5, "text"), 9.5)
    y += 5.2 * math.ceil(len(lines) / 2) + 1.2
    for k, (mark, inside, text) in enumerate(_marks(plan)):
        x, base = room.left + half * (k % 2), y + 5.2 * (k // 2 + 1)
        number = "2" if mark == "bobbin" else "1"
        draw_mark(sheet, np.array([x + 6.5, base - 1.1]), number, mark, filled=inside)
        sheet.write((x + 16, base), text, 9.5)
