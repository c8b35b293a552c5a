"""The map: the whole path on one page, then block by block."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from stitchpath.export.guide.drawing import (
    View,
    draw_mark,
    draw_path,
    draw_top,
    faded,
    styles_of,
)
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.page import new_page, shortened
from stitchpath.export.guide.path import Scene
from stitchpath.export.guide.sheet import GREY, INK, Box, Paper, Sheet
from stitchpath.layout import LaidBlock
from stitchpath.plan import Plan
from stitchpath.typing import FloatArray

__all__ = ["map_page", "window_pages"]

_TINT = 0.32  # strength of the fabrics under the path
_MOST_PAGES = 9  # of windows
_MOST_WINDOWS = 144
_READABLE = 7.0  # mm: so long on paper a step should be
_LARGE = 0.2  # scale that is large enough for all steps
_GUTTER = 4.0  # mm
_ABOVE = 9.0  # mm: room for a window's name


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
    draw_top(view, scene, _TINT)
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


def _rulers(view: View, plan: Plan) -> None:
    """Letter the rows on the left and number the columns above, where blocks stand in both."""
    blocks = plan.top.blocks
    if plan.design.layout.on_point or plan.design.layout.place:
        return
    rows: dict[str, float] = {}
    columns: dict[str, list[float]] = {}
    for block in blocks:
        letter = block.place.rstrip("0123456789")
        x, y = view.onto(_middle(block)[None])[0]
        rows[letter] = float(y)
        columns.setdefault(block.place[len(letter) :], []).append(float(x))
    for letter, y in rows.items():
        view.sheet.write((view.box.left - 2.0, y + 1.3), letter, 10.5, "bold", align="right")
    for number, xs in columns.items():
        if max(xs) - min(xs) < 1:
            at = xs[0], view.box.top - 1.6
            view.sheet.write(at, number, 10.5, "bold", align="centre")


def _middle(block: LaidBlock) -> FloatArray:
    size = np.array([[block.block.width, block.block.height]])
    return np.asarray(block.to_top(size / 2)[0])


_MARKS = (
    (True, False, "start in the margin: nothing to secure"),
    (True, True, "start inside the top: secure, bury the tails"),
    (False, False, "end in the margin: cut the threads"),
    (False, True, "end inside the top: secure, bury the tails"),
)


def _legend_height(plan: Plan) -> float:
    return 5.2 * math.ceil((len(styles_of(plan)) + 3) / 2) + 5.2 * 2 + 3


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
    styles = styles_of(plan)
    first = next(iter(styles.values()))
    y = room.top
    sheet.rule(room.left, room.right, y)
    for k, (text, do, name) in enumerate(lines):
        x, base = room.left + half * (k % 2), y + 5.2 * (k // 2 + 1)
        style = styles.get(name, first)
        level = base - 1.1
        path = [np.array([[x, level], [x + 13, level]])]
        if do == "travel":
            sheet.draw(path, colour=style.colour, width=0.3, dash=(0.25, 0.75))
        elif do == "retrace":
            sheet.draw(path, colour=style.colour, width=style.width, dash=style.dash)
            beside = [path[0] - np.array([0.0, 0.9])]
            sheet.draw(beside, colour=style.colour, width=style.width * 0.75, dash=style.dash)
        else:
            sheet.draw(path, colour=style.colour, width=style.width, dash=style.dash)
        sheet.write((x + 16, base), shortened(text, half - 18, 9.5, "text"), 9.5)
    y += 5.2 * math.ceil(len(lines) / 2) + 1.2
    for k, (start, inside, text) in enumerate(_MARKS):
        x, base = room.left + half * (k % 2), y + 5.2 * (k // 2 + 1)
        draw_mark(sheet, np.array([x + 6.5, base - 1.1]), "1", filled=inside, start=start)
        sheet.write((x + 16, base), text, 9.5)


def window_pages(scene: Scene, paper: Paper) -> Iterator[Sheet]:
    """Draw the path block by block, each step with its number."""
    windows = _windows(scene.plan)
    if len(windows) > _MOST_WINDOWS:
        return
    across, down = _arrangement(windows, scene, paper)
    per_page = across * down
    runs, last = len(scene.told), len(scene.told[-1].steps)
    number = f"{runs}.{last} is step {last} of run {runs}" if runs > 1 else f"{last} is step {last}"
    below = (
        f"Numbers are those of the steps in the directions: {number}. They stand near the place "
        "where a step begins, or comes into the picture."
    )
    for k in range(0, len(windows), per_page):
        title = "Block by block" if k == 0 else "Block by block, continued"
        sheet, room = new_page(paper, title, below if k == 0 else "")
        wide, high = (room.width + _GUTTER) / across, room.height / down
        for n, (name, window) in enumerate(windows[k : k + per_page]):
            left, upper = room.left + wide * (n % across), room.top + high * (n // across)
            scale = min((wide - _GUTTER) / window.width, (high - _ABOVE) / window.height, 1.0)
            upper += _ABOVE - 2.5
            box = Box(left, upper, left + window.width * scale, upper + window.height * scale)
            _window(sheet, scene, name, window, box)
        yield sheet


def _window(sheet: Sheet, scene: Scene, name: str, window: Box, box: Box) -> None:
    view = View.fit(sheet, window, box)
    sheet.write((view.box.left, view.box.top - 1.4), name, 12, "bold")
    draw_top(view, scene, _TINT)
    draw_path(view, scene, gap=0.95, every=22.0, numbers=True)
    sheet.rectangle(view.box, None, edge=faded(INK, 0.5), width=0.15)


def _windows(plan: Plan) -> list[tuple[str, Box]]:
    """Frame every block, those at the outside with what lies beyond them."""
    top = plan.top
    boxes = {b.place: Box(*_bounds(b)) for b in top.blocks}
    reach = min(max(plan.design.batting.margin, 15.0), 20.0)
    beyond = Box(-reach, -reach, top.width + reach, top.height + reach)
    windows = []
    for place, box in boxes.items():
        pad = 0.06 * max(box.width, box.height) + _sashing(plan)
        wide = box.grown(pad)
        level = [o for o in boxes.values() if o.top < box.bottom - 1 and o.bottom > box.top + 1]
        upright = [o for o in boxes.values() if o.left < box.right - 1 and o.right > box.left + 1]
        windows.append((place, Box(
            beyond.left if all(o.left >= box.left - 1 for o in level) else wide.left,
            beyond.top if all(o.top >= box.top - 1 for o in upright) else wide.top,
            beyond.right if all(o.right <= box.right + 1 for o in level) else wide.right,
            beyond.bottom if all(o.bottom <= box.bottom + 1 for o in upright) else wide.bottom,
        )))  # fmt: skip
    return windows


def _sashing(plan: Plan) -> float:
    sashing = plan.design.layout.sashing
    return sashing.width if sashing else 0.0


def _bounds(block: LaidBlock) -> tuple[float, float, float, float]:
    w, h = block.block.width, block.block.height
    corners = block.to_top(np.array([[0.0, 0], [w, 0], [w, h], [0, h]]))
    low, high = corners.min(axis=0), corners.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _arrangement(windows: Sequence[tuple[str, Box]], scene: Scene, paper: Paper) -> tuple[int, int]:
    """Choose how many windows go on a page: as many as leave the steps readable."""
    wide = float(np.median([w.width for _, w in windows]))
    high = float(np.median([w.height for _, w in windows]))
    _, room = new_page(paper, "Block by block", "Two lines " * 12)
    box = scene.stroke_boxes
    short = float(np.quantile(np.hypot(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]), 0.1))
    best = (3, 4)
    for across, down in ((3, 4), (3, 3), (2, 3), (2, 2), (1, 2), (1, 1)):
        if math.ceil(len(windows) / (across * down)) > _MOST_PAGES:
            break
        best = across, down
        scale = min(
            ((room.width + _GUTTER) / across - _GUTTER) / wide, (room.height / down - _ABOVE) / high
        )
        if short * scale >= _READABLE or scale >= _LARGE:
            break
    return best
