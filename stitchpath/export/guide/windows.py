"""The map in pieces: block by block, or in groups of blocks where there are many."""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.export.guide.drawing import TINT, View, draw_path, draw_top, faded
from stitchpath.export.guide.legend import draw_legend, expected_on, legend_height
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import INK, Box, Sheet
from stitchpath.told.directions import RunDirections
from stitchpath.top.layout import LaidBlock
from stitchpath.top.place_names import Places
from stitchpath.top.squares import MapSquare

__all__ = ["window_pages"]

_MOST_PAGES = 14
_MOST_WINDOWS = 84  # more blocks than these are shown in groups
_READABLE = 16.0  # mm: so long on paper a step should be
_LARGE = 0.22  # scale that is large enough for all steps
_GUTTER = 4.0  # mm
_ABOVE = 9.0  # mm: room for a window's name
_WAYS = ((3, 4), (3, 3), (2, 3), (2, 2), (1, 2), (1, 1))  # windows across and down a page


class _Window(NamedTuple):
    """A part of the top with its name, mm on the top."""

    name: str
    box: Box


def window_pages(scene: Scene, paper: Paper) -> Iterator[Sheet]:
    """Draw the path block by block, each step with its number."""
    windows = _windows(scene)
    grouped = len(windows) < len(scene.plan.top.windows)
    across, down = _arrangement(windows, scene, paper)
    per_page = across * down
    for k in range(0, len(windows), per_page):
        what = "Square" if scene.plan.top.squares else "Block"
        title = "Group by group" if grouped else f"{what} by {what.lower()}"
        sheet, room = new_page(paper, title, "" if k else _below(scene, grouped), again=k > 0)
        foot = legend_height(expected_on(scene.plan, low=True), scene.plan, room.width)
        room = room._replace(bottom=room.bottom - foot)
        wide, high = (room.width + _GUTTER) / across, room.height / down
        for n, window in enumerate(windows[k : k + per_page]):
            left, upper = room.left + wide * (n % across), room.top + high * (n // across)
            frame = window.box
            scale = min((wide - _GUTTER) / frame.width, (high - _ABOVE) / frame.height, 1.0)
            upper += _ABOVE - 2.5
            box = Box(left, upper, left + frame.width * scale, upper + frame.height * scale)
            _draw(sheet, scene, window, box)
        lowest = room._replace(top=room.bottom, bottom=room.bottom + foot)
        draw_legend(sheet, scene.plan, lowest)
        yield sheet


def _below(scene: Scene, grouped: bool) -> str:  # noqa: FBT001 - a fact, not a switch
    main = scene.main_run
    last = len(scene.told[main].steps)
    number = f"{last} is step {last}"
    if len(scene.told) > 1:
        other = max((run for k, run in enumerate(scene.told) if k != main), key=_steps)
        number += (
            f" of run {scene.told[main].run}, "
            f"{other.run}.{_steps(other)} is step {_steps(other)} of run {other.run}"
        )
    what = "square" if scene.plan.top.squares else "block"
    many = (
        f"The {len(scene.plan.top.windows)} {what}s are shown in groups, each named by its first "
        f"{what} and its last. "
    )
    return (
        f"{many if grouped else ''}Numbers are those of the steps in the directions: {number}. "
        "They stand near the place where a step begins, or comes into the picture."
    )


def _steps(run: RunDirections) -> int:
    return len(run.steps)


def _draw(sheet: Sheet, scene: Scene, window: _Window, box: Box) -> None:
    view = View.fit(sheet, window.box, box)
    sheet.write((view.box.left, view.box.top - 1.4), window.name, 12, "bold")
    draw_top(view, scene, TINT)
    draw_path(view, scene, gap=0.95, every=22.0, numbers=True, low=True)
    sheet.rectangle(view.box, None, edge=faded(INK, 0.5), width=0.15)


def _windows(scene: Scene) -> list[_Window]:
    """Frame every block or group, those at the outside with what lies beyond them."""
    plan, top = scene.plan, scene.plan.top
    groups = _groups(scene.plan.places, top.windows, scene.block_boxes)
    reach = min(max(plan.design.batting.margin, 15.0), 20.0)
    beyond = Box(-reach, -reach, top.width + reach, top.height + reach)
    sashing = plan.design.layout.sashing
    windows = []
    for name, box in groups:
        pad = 0.06 * max(box.width, box.height) + (sashing.width if sashing else 0.0)
        wide = box.grown(pad)
        level = [o for _, o in groups if o.top < box.bottom - 1 and o.bottom > box.top + 1]
        upright = [o for _, o in groups if o.left < box.right - 1 and o.right > box.left + 1]
        windows.append(_Window(name, Box(
            beyond.left if all(o.left >= box.left - 1 for o in level) else wide.left,
            beyond.top if all(o.top >= box.top - 1 for o in upright) else wide.top,
            beyond.right if all(o.right <= box.right + 1 for o in level) else wide.right,
            beyond.bottom if all(o.bottom <= box.bottom + 1 for o in upright) else wide.bottom,
        )))  # fmt: skip
    return windows


def _groups(
    named: Places, blocks: Sequence[LaidBlock | MapSquare], boxes: FloatArray
) -> list[_Window]:
    """Frame the blocks one by one, or so many by so many that there are few enough frames."""
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    pitch = np.median(boxes[:, 2:] - boxes[:, :2], axis=0)
    cells = np.rint((middles - middles.min(axis=0)) / pitch).astype(np.int64)
    if len(blocks) <= _MOST_WINDOWS:
        return [
            _Window(named.block(b.place), Box(*box))
            for b, box in zip(blocks, boxes.tolist(), strict=True)
        ]
    side = 2
    while len(np.unique(cells // side, axis=0)) > _MOST_WINDOWS:
        side += 1
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    for k, (column, row) in enumerate((cells // side).tolist()):
        groups[row, column].append(k)
    return [_group(named, blocks, boxes, found) for _, found in sorted(groups.items())]


def _group(
    named: Places,
    blocks: Sequence[LaidBlock | MapSquare],
    boxes: FloatArray,
    found: Sequence[int],
) -> _Window:
    first, last = (named.block(blocks[k].place) for k in (found[0], found[-1]))
    low, high = boxes[found, :2].min(axis=0), boxes[found, 2:].max(axis=0)
    box = Box(*map(float, (*low, *high)))
    return _Window(first if first == last else f"{first} to {last}", box)


def _arrangement(windows: Sequence[_Window], scene: Scene, paper: Paper) -> tuple[int, int]:
    """Choose how many windows go on a page: as large as costs no page more, or as is readable."""
    wide = float(np.median([window.box.width for window in windows]))
    high = float(np.median([window.box.height for window in windows]))
    _, room = new_page(paper, "Block by block", "Two lines " * 12)
    box = scene.stroke_boxes
    short = float(np.quantile(np.hypot(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]), 0.1))
    best, readable, fewest = _WAYS[0], False, math.ceil(len(windows) / math.prod(_WAYS[0]))
    for across, down in _WAYS:
        pages = math.ceil(len(windows) / (across * down))
        if pages > fewest and (readable or pages > _MOST_PAGES):
            break
        best, fewest = (across, down), pages
        scale = min(
            ((room.width + _GUTTER) / across - _GUTTER) / wide, (room.height / down - _ABOVE) / high
        )
        readable = short * scale >= _READABLE or scale >= _LARGE
    return best
