"""The legend: every line and every mark that a page holds, and no other."""

import math
from collections.abc import Collection

import numpy as np

from stitchpath.base.marks import LINE_OF, LINES, MARKS, Entry, casing_reach, legend_of
from stitchpath.base.typing import FloatArray
from stitchpath.export.guide.drawing import (
    PEN,
    TICK,
    TICK_WIDTH,
    Mark,
    Style,
    draw_mark,
    meetings,
    styles_of,
)
from stitchpath.export.pdf.letters import shortened, text_width, typeset
from stitchpath.export.pdf.sheet import CHIP, Box, Sheet
from stitchpath.lines.ditch import seams_left
from stitchpath.plan import Plan
from stitchpath.told.cards import cards

__all__ = ["draw_legend", "expected_on", "legend_height"]

Used = Collection[tuple[str, str]]
_ROW = 5.2  # mm
_SIZE = 9.5  # points
_SAMPLE = 12.0  # mm
_INDENT = 14.5  # mm: before the words
_MOST_COLUMNS = 3
_NUMBERED = {"bobbin": "2"}  # what stands in a mark; 1 in the others


def expected_on(
    plan: Plan, *, low: bool = False, traced: bool = False, orders: bool = False
) -> Used:
    """List what a picture of the whole plan holds, before it is drawn.

    Parameters
    ----------
    plan
        The plan.
    low
        Whether the low sides of seams are marked.
    traced
        Whether it is one to trace from: each line once, and no batting.
    orders
        Whether it tells how manieth each area is.
    """
    found: dict[tuple[str, str], None] = {("edge", ""): None}
    for run in plan.runs:
        for leg in run.legs:
            if not traced or leg.do != "retrace":
                found[LINE_OF[leg.do], run.thread] = None
        closed = bool(np.all(run.legs[0].points[0] == run.legs[-1].points[-1]))
        ends = [("both", run.start_where)] if closed else [
            ("start", run.start_where), ("end", run.end_where)
        ]  # fmt: skip
        for mark, where in ends:
            found[f"{mark} inside" if where == "inside" else mark, ""] = None
    for name, there in (
        ("seam", plan.top.pieces or seams_left(plan.top, plan.lines)),
        ("batting", plan.design.batting.margin > 0 and not traced),
        ("rolled on", plan.levels and not traced),
        ("meeting", traced and len(meetings(plan.lines))),
        ("bobbin", plan.thread.changes),
        ("order", orders and cards(plan)),
        ("parked", any(run.parked for run in plan.runs)),
        ("low side", low and any(line.low for line in plan.lines)),
    ):
        if there:
            found[name, ""] = None
    return found.keys()


def _entries(used: Used, plan: Plan) -> list[Entry]:
    return legend_of(used, styles_of(plan), plan.design.batting.margin)


def _columns(entries: list[Entry], width: float) -> list[float]:
    """Tell how wide each column is, mm: as many columns as the width holds, evenly spread."""
    wide = [
        text_width(typeset(e.words), _SIZE) + _INDENT + CHIP * bool(e.thread) + 4.0 for e in entries
    ]
    for count in range(_MOST_COLUMNS, 0, -1):
        rows = math.ceil(len(entries) / count)
        each = [max(wide[k : k + rows]) for k in range(0, len(entries), rows)]
        spare = width - sum(each)
        if spare >= 0 and len(each) == count:
            return [one + spare / count for one in each]
    return [width]


def legend_height(used: Used, plan: Plan, width: float) -> float:
    """Tell how high a legend is, mm, that may be so wide."""
    entries = _entries(used, plan)
    return _ROW * math.ceil(len(entries) / len(_columns(entries, width))) + 2.0


def draw_legend(sheet: Sheet, plan: Plan, room: Box, *, used: Used | None = None) -> None:
    """Explain what is drawn on a sheet, column by column.

    Parameters
    ----------
    sheet
        The sheet; what it holds is known from `Sheet.used`.
    plan
        Whose picture it is.
    room
        Where; `legend_height` tells how much is wanted.
    used
        What to explain instead of what the sheet holds.
    """
    entries = _entries(sheet.used if used is None else used, plan)
    columns = _columns(entries, room.width)
    rows = math.ceil(len(entries) / len(columns))
    lefts = [room.left, *(room.left + np.cumsum(columns))]
    styles = styles_of(plan)
    sheet.rule(room.left, room.right, room.top)
    for k, entry in enumerate(entries):
        x, base = lefts[k // rows], room.top + _ROW * (k % rows + 1)
        _sample(sheet, entry, styles, (x, base - 1.2))
        x += _INDENT
        for words in filter(None, entry.parts):
            if words == entry.parts[1]:
                x += sheet.chip((x, base), styles[words].colour)
            room_left = lefts[k // rows + 1] - x - 1.0
            x += sheet.write((x, base), shortened(typeset(words), room_left, _SIZE), _SIZE)


def _sample(sheet: Sheet, entry: Entry, styles: dict[str, Style], at: tuple[float, float]) -> None:
    """Draw a line or a mark as it looks in the picture."""
    x, y = at
    if entry.name in MARKS:
        mark: Mark = entry.name.removesuffix(" inside")  # type: ignore[assignment]
        number = _NUMBERED.get(mark, "1")
        filled = entry.name.endswith(" inside")
        draw_mark(sheet, np.array([x + _SAMPLE / 2, y]), number, mark, filled=filled)
        return
    look = LINES[entry.name]  # type: ignore[index]
    style = styles.get(entry.thread) or next(iter(styles.values()))
    path = np.array([[x, y], [x + _SAMPLE, y]])
    width = (PEN if look.colour else style.width) * look.width
    dash = style.dash if look.dash is None else tuple(PEN * part for part in look.dash)
    if look.beside:
        _line(sheet, path, style.colour, style.width, style.dash, style.casing)
        path = path - np.array([0.0, 0.9])
    if entry.name == "low side":
        feet = [path[0] + np.array([far, -TICK / 2]) for far in (3.0, 9.0)]
        ticks = [np.array([foot, foot + np.array([0.0, TICK])]) for foot in feet]
        sheet.draw(ticks, width=TICK_WIDTH)
        _line(sheet, path - np.array([0.0, TICK / 2]), style.colour, style.width, style.dash)
        return
    casing = None if look.colour else style.casing
    _line(sheet, path, look.colour or style.colour, width, dash, casing)


def _line(
    sheet: Sheet,
    path: FloatArray,
    colour: str,
    width: float,
    dash: tuple[float, ...],
    casing: str | None = None,
) -> None:
    if casing:
        sheet.draw([path], colour=casing, width=width + 2 * PEN * casing_reach(casing))
    sheet.draw([path], colour=colour, width=width, dash=dash)
