"""Drawing a top and its path onto a sheet, at any scale.

How marks and lines look is told in `stitchpath.base.marks`, for every output alike; here they
are drawn, and noted on the sheet (`Sheet.used`), so that `export/guide/legend.py` explains what
is there.
"""

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely import MultiPolygon, Polygon

from stitchpath.base.marks import (
    LINE_OF,
    LINES,
    MARKS,
    PAPER,
    LineName,
    MarkName,
    casing_of,
    casing_reach,
    faded,
    thread_looks,
)
from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.path import Scene, Stroke, shifted
from stitchpath.export.pdf.letters import POINT, text_width
from stitchpath.export.pdf.sheet import INK, Box, Dash, Sheet
from stitchpath.geometry.polylines import distances, joined_paths
from stitchpath.lines.ditch import seams_left
from stitchpath.lines.line import Line
from stitchpath.plan import Plan

__all__ = [
    "PEN",
    "TICK",
    "TICK_WIDTH",
    "TINT",
    "TRAVEL",
    "Mark",
    "Style",
    "View",
    "draw_ends",
    "draw_lines",
    "draw_mark",
    "draw_path",
    "draw_ticks",
    "draw_top",
    "faded",
    "meetings",
    "styles_of",
    "true_path",
]

Mark = Literal["start", "end", "both", "bobbin", "parked", "stop", "meeting"]
PEN = 0.42  # mm: a line that is stitched for the first time
TINT = 0.32  # strength of the fabrics under the path
TRAVEL: Dash = tuple(PEN * length for length in LINES["travel"].dash or ())
TICK, TICK_WIDTH = 1.25, PEN * LINES["low side"].width  # mm on the sheet
_LEAST_EDGE = 0.1  # mm: less of a casing is not seen in print
_MARK = 2.0  # mm: half a mark
_TICKS_APART = 13.0
_ASIDE = np.array([0, -0.12, 0.12, -0.2, 0.2, -0.28, 0.28, -0.36, 0.36])  # share of their distance
_SIZES = (7.6, 6.6, 5.6, 4.6)  # points, of the numbers of steps
_AWAY = (4.8, 7.5, 10.0, 12.5, 15.0)  # mm that a mark may stand from its place
_ARMS = 3  # fewer ends are a bend, or the end of a line
_GLIMPSE = 3  # places to put its number that a step in view has at least


@dataclass(frozen=True, slots=True)
class Style:
    """How a thread's line looks on paper: its own colour, told apart by its dashes alone as well.

    Attributes
    ----------
    colour
        The thread's own.
    dash, width
        mm.
    letters
        Its colour, dark enough for numbers.
    casing
        What it lies in where it would be lost on a fabric beneath, else None.
    """

    colour: str
    dash: Dash
    width: float
    letters: str
    casing: str | None


def styles_of(plan: Plan, strength: float = TINT) -> dict[str, Style]:
    """Give each thread of a plan its style of line, over fabrics of a strength."""
    looks = thread_looks((run.thread for run in plan.runs), plan.thread_colours())
    grounds = [PAPER, *(faded(spec.colour, strength) for spec in plan.top.fabrics.values())]
    return {
        name: Style(
            look.colour,
            tuple(round(PEN * length, 2) for length in look.dash),
            PEN * look.width,
            look.letters,
            casing_of(look.colour, grounds),
        )
        for name, look in looks.items()
    }


@dataclass(frozen=True, slots=True)
class View:
    """A window of the top on a sheet.

    Attributes
    ----------
    sheet
        The sheet.
    window
        What is shown, mm on the top.
    box
        Where on the sheet, mm: as large as the window at its scale.
    turned
        Whether it lies a quarter turn clockwise there, the left edge up.
    """

    sheet: Sheet
    window: Box
    box: Box
    turned: bool = False

    @staticmethod
    def fit(
        sheet: Sheet, window: Box, room: Box, most: float = 1.0, *, turned: bool = False
    ) -> "View":
        """Fit a window into room on the sheet, in its middle, at most at a scale."""
        across, down = (window.width, window.height)[:: -1 if turned else 1]
        scale = min(room.width / across, room.height / down, most)
        wide, high = across * scale, down * scale
        left = room.left + (room.width - wide) / 2
        top = room.top + (room.height - high) / 2
        return View(sheet, window, Box(left, top, left + wide, top + high), turned)

    @property
    def scale(self) -> float:
        """Millimetres on the sheet for one on the top."""
        return self.box.width / (self.window.height if self.turned else self.window.width)

    def onto(self, points: FloatArray) -> FloatArray:
        """Bring points from the top to the sheet."""
        corner = np.array([self.window.left, self.window.top])
        if self.turned:
            points = np.stack([-points[..., 1], points[..., 0]], axis=-1)
            corner = np.array([-self.window.bottom, self.window.left])
        return np.asarray((points - corner) * self.scale + np.array([self.box.left, self.box.top]))

    def seen(self, boxes: FloatArray) -> IntArray:
        """List which boxes, shape (n, 4), mm on the top, meet the window."""
        w = self.window
        return np.flatnonzero(
            (boxes[:, 0] <= w.right)
            & (boxes[:, 2] >= w.left)
            & (boxes[:, 1] <= w.bottom)
            & (boxes[:, 3] >= w.top)
        )

    def rings(self, shapes: Iterable[Polygon | MultiPolygon]) -> list[FloatArray]:
        """Give the rings of shapes on the sheet, holes turned the other way."""
        return [
            self.onto(np.array(ring.coords))
            for shape in shapes
            for part in getattr(shape, "geoms", [shape])
            for ring in (part.exterior, *part.interiors)
        ]


def draw_top(view: View, scene: Scene, strength: float = 1.0, *, seams: float = 0.12) -> None:
    """Draw the patches and pieces in their fabrics.

    Parameters
    ----------
    view
        Where to.
    scene
        With the finished top.
    strength
        Share of the fabrics' colour: 1 in full, 0 white.
    seams
        Width of the seams on the sheet, mm.
    """
    top, sheet, clip = scene.plan.top, view.sheet, view.box
    seen = [top.patches[i] for i in view.seen(scene.patch_boxes)]
    for fabric, spec in top.fabrics.items():
        shapes = [p.polygon for p in seen if p.fabric == fabric]
        colour = faded(spec.colour, strength)
        sheet.fill(view.rings(shapes), colour, edge=colour, width=0.08, clip=clip)
    sheet.note("edge")
    if top.pieces or seams_left(top, scene.plan.lines):
        sheet.note("seam")
    grey = LINES["seam"].colour
    shown = [view.onto(top.seams[i].points) for i in view.seen(scene.seam_boxes)]
    sheet.draw(shown, colour=grey, width=seams, clip=clip)
    for piece in top.pieces:
        colour = faded(top.fabrics[piece.asked.fabric].colour, strength)
        sheet.fill(view.rings([piece.shape]), colour, edge=grey, width=seams, clip=clip)
    sheet.fill(view.rings([top.outline]), None, edge=faded(INK, 0.8), width=0.25, clip=clip)


def draw_path(
    view: View,
    scene: Scene,
    *,
    gap: float = 0.8,
    every: float = 18.0,
    weight: float = 1.0,
    numbers: bool = False,
    low: bool = False,
    labels: Labels | None = None,
) -> None:
    """Draw the path with its arrows and the marks of its ends.

    Parameters
    ----------
    view
        Where to.
    scene
        With the path.
    gap
        Between a line and a second pass beside it, mm on the sheet.
    every
        About how far arrows stand apart, mm on the sheet.
    weight
        Of lines and arrows: less than 1 where lines lie close.
    numbers
        Whether each step carries its number.
    low
        Whether ticks stand on the low side of the seams.
    labels
        Room already taken; marks and numbers keep clear of it.
    """
    labels = labels or Labels(view.sheet, view.box)
    plan, styles = scene.plan, styles_of(scene.plan)
    seen = [scene.strokes[i] for i in view.seen(scene.stroke_boxes)]
    shown = [(s, shifted(view.onto(s.points), s.shift * gap)) for s in seen]
    draw_strokes(view, plan, shown, styles, weight)
    labels.block_lines(points for _, points in shown)
    labels.block_lines(view.rings([plan.top.outline]))
    _marks(view, plan, labels, {stroke.run for stroke in scene.strokes})
    for name, style in styles.items():
        mine = [points for s, points in shown if plan.runs[s.run].thread == name]
        heads = [h for points in mine for h in _heads(points, every, 0.8 * weight, view.box)]
        heads = [head for head in heads if labels.free(_box_of(head))]
        _fill_heads(view, heads, style)
        for head in heads:
            labels.block(_box_of(head))
    if numbers:
        _numbers(view, scene, shown, labels)
    if low:
        draw_ticks(view, scene, labels)


def _box_of(points: FloatArray) -> Box:
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return Box(float(left), float(top), float(right), float(bottom))


def draw_strokes(
    view: View,
    plan: Plan,
    shown: Sequence[tuple[Stroke, FloatArray]],
    styles: Mapping[str, Style],
    weight: float,
) -> None:
    """Draw strokes, each with its points on the sheet: casings first, so that none covers a line.

    Parameters
    ----------
    view
        Where to.
    plan
        Whose they are.
    shown
        The strokes.
    styles
        By thread.
    weight
        Of the lines: 1 in full.
    """
    found = [
        (name, line, [p for s, p in shown if s.do == do and plan.runs[s.run].thread == name])
        for name in styles
        for do, line in LINE_OF.items()
    ]
    draw_lines(view, found, styles, weight)


def draw_lines(
    view: View,
    found: Sequence[tuple[str, LineName, Sequence[FloatArray]]],
    styles: Mapping[str, Style],
    weight: float = 1.0,
) -> None:
    """Draw lines of threads as they look everywhere, in their casings, and note them.

    Parameters
    ----------
    view
        Where to.
    found
        Threads by name, which line each is, and paths on the sheet.
    styles
        By thread: of `styles_of`, over fabrics as strong as they are drawn here.
    weight
        Of the lines: 1 in full.
    """
    sheet, clip = view.sheet, view.box
    found = [each for each in found if each[2]]
    for name, line, paths in found:
        style = styles[name]
        if style.casing:
            reach = max(PEN * weight * casing_reach(style.casing), _LEAST_EDGE)
            width = style.width * LINES[line].width * weight + 2 * reach
            sheet.draw(paths, colour=style.casing, width=width, clip=clip)
    for name, line, paths in found:
        style, look = styles[name], LINES[line]
        dash = style.dash if look.dash is None else TRAVEL
        width = style.width * look.width * weight
        sheet.draw(paths, colour=style.colour, width=width, dash=dash, clip=clip)
        sheet.note(line, name)


def _on_path(
    points: FloatArray, at: FloatArray, clear: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Give places some distances along a polyline, and which way it runs there.

    Pieces that are long enough keep the places `clear` of their ends.
    """
    step, ends = np.diff(points, axis=0), distances(points)[1:]
    k = np.minimum(np.searchsorted(ends, at), len(step) - 1)
    length = np.hypot(step[:, 0], step[:, 1])[k]
    way = step[k] / np.maximum(length, 1e-9)[..., None]
    along = at - ends[k] + length
    if clear:
        least = np.minimum(clear, length / 2)
        along = np.clip(along, least, length - least)
    return points[k] + way * along[..., None], way


def _fill_heads(view: View, heads: Sequence[FloatArray] | FloatArray, style: Style) -> None:
    """Fill arrow heads in the colour of a thread, with an edge where it would be lost."""
    view.sheet.fill(heads, style.colour, edge=style.casing, width=0.15, clip=view.box)


def _heads(points: FloatArray, every: float, size: float, box: Box) -> FloatArray:
    """Give arrow heads along a polyline on the sheet, within a box, closed rings (n, 4, 2)."""
    total = float(distances(points)[-1])
    if total < 3 * size:
        return np.zeros((0, 4, 2))
    count = max(1, round(total / every))
    # Where pieces are long enough, a head stands clear of their ends: there other lines cross.
    middle, way = _on_path(points, (np.arange(count) + 0.5) / count * total, clear=2.2 * size)
    inside = (middle >= (box.left, box.top)) & (middle <= (box.right, box.bottom))
    middle, way = middle[inside.all(axis=1)], way[inside.all(axis=1)]
    across = np.column_stack([-way[:, 1], way[:, 0]]) * size * 0.75
    tip, back = middle + way * size, middle - way * size
    return np.stack([tip, back + across, back - across, tip], axis=1)


def draw_ticks(view: View, scene: Scene, labels: Labels) -> None:
    """Draw short ticks that point to the low side of the seams, as maps mark the foot of a slope.

    Each stands where it covers neither a mark nor an arrow, if there is such a place.
    """
    lines = [scene.ditches[i] for i in view.seen(scene.ditch_boxes)]
    if not lines:
        return
    starts, points = joined_paths([line.points for line in lines])
    which, feet, way = _feet(starts, view.onto(points))
    low = np.array([line.low for line in lines])[which]
    tips = feet + np.stack([-way[..., 1], way[..., 0]], axis=-1) * (low * TICK)[:, None, None]
    ticks = np.stack([feet, tips], axis=2)
    boxes = np.concatenate([ticks.min(axis=2) - 0.1, ticks.max(axis=2) + 0.1], axis=2)
    free = labels.claimed(boxes)
    drawn = list(ticks[free >= 0, free[free >= 0]])
    view.sheet.draw(drawn, width=TICK_WIDTH, clip=view.box)
    if drawn:
        view.sheet.note("low side")


def _feet(starts: IntArray, points: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Give where ticks may stand on polylines laid end to end, as `joined_paths` gives them.

    Returns
    -------
    which
        Of which polyline each tick is, shape (n,).
    feet, way
        Its places, the best first, and which way the line runs there, shape (n, places, 2).
    """
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    along = np.concatenate([[0.0], np.cumsum(length)])
    total = along[np.append(starts[1:], len(points)) - 1] - along[starts]
    count = np.maximum(np.rint(total / _TICKS_APART), 1) * (total >= 1.5 * TICK)
    which = np.repeat(np.arange(len(starts)), count.astype(np.int64))
    first = np.cumsum(count) - count
    number = np.arange(len(which)) - first[which] + 0.5
    at = (
        along[starts][which][:, None]
        + (number[:, None] + _ASIDE) * (total / np.maximum(count, 1))[which][:, None]
    )
    k = np.searchsorted(along[1:], at)
    way = step[k] / np.maximum(length[k], 1e-9)[..., None]
    return which, points[k] + way * (at - along[k])[..., None], way


def _within(box: Box, point: FloatArray) -> bool:
    x, y = point
    return bool(box.left <= x <= box.right and box.top <= y <= box.bottom)


def _marks(view: View, plan: Plan, labels: Labels, shown: Container[int]) -> None:
    """Mark where the runs that are shown start, end and are parked, and where a bobbin is changed.

    A mark that finds no room there, or would cover the place of another, points at its own.
    """
    found: list[tuple[FloatArray, str, Mark, bool]] = []
    for run in [run for k, run in enumerate(plan.runs) if k in shown]:
        number, start, end = str(run.number), run.legs[0].points[0], run.legs[-1].points[-1]
        inside = run.start_where == "inside"
        if np.all(start == end):
            found.append((start, number, "both", inside))
            continue
        found.append((start, number, "start", inside))
        found.append((end, number, "end", run.end_where == "inside"))
    found += [
        (np.array(change.stop.point), str(change.bobbin + 1), "bobbin", False)
        for change in plan.thread.changes
        if change.stop.run - 1 in shown
    ]
    found += [
        (run.legs[leg].points[0], "", "parked", False)
        for k, run in enumerate(plan.runs)
        if k in shown
        for leg, _ in run.parked
    ]
    seen = [(view.onto(point), text, mark, filled) for point, text, mark, filled in found]
    seen = [entry for entry in seen if _within(view.box, entry[0])]
    points = np.array([at for at, *_ in seen]).reshape(-1, 2)
    drawn = []
    for at, text, mark, filled in seen:
        place = _free_place(labels, at, points[np.any(points != at, axis=1)])
        if place is not at:
            view.sheet.draw([np.array([at, place])], width=0.2)
            view.sheet.disc((float(at[0]), float(at[1])), 0.4, INK)
        drawn.append((place, text, mark, filled))
    for place, text, mark, filled in drawn:
        draw_mark(view.sheet, place, text, mark, filled=filled)


def _free_place(labels: Labels, at: FloatArray, others: FloatArray) -> FloatArray:
    """Find room for a mark at its place, or as near to it as can be, off the places of others."""
    turns = np.linspace(0, 2 * np.pi, 17)[:-1]
    round_it = [at + r * np.array([np.cos(t), np.sin(t)]) for r in _AWAY for t in turns]
    for place in (at, *round_it):
        x, y = place
        room = Box(x - 2.3, y - 2.3, x + 2.3, y + 2.3)
        covers = len(others) > 0 and np.abs(others - place).max(axis=1).min() < 2.5  # noqa: PLR2004
        if not covers and labels.free(room):
            labels.block(room)
            return place
    return at


def draw_mark(sheet: Sheet, at: FloatArray, text: str, mark: Mark, *, filled: bool) -> None:
    """Draw a mark with its number or without: see `stitchpath.base.marks.MARKS`.

    Parameters
    ----------
    sheet
        Where to.
    at
        Its middle, mm on the sheet.
    text
        Its number.
    mark
        Which one.
    filled
        Whether a start or an end lies inside the top.
    """
    name: MarkName = mark
    if filled and mark in ("start", "end", "both"):
        name = _INSIDE[mark]
    look = MARKS[name]
    for ring, colour in look.parts:
        sheet.fill([np.array([*ring, ring[0]]) * _MARK + at], colour, edge=INK, width=0.35)
    sheet.note(name)
    if look.number and text:
        size = 6.2 if len(text) < 3 else 5.0  # noqa: PLR2004 - three figures have to fit as well
        place = float(at[0]), float(at[1]) + 0.26 * size * POINT * 1.42
        sheet.write(place, text, size, "strong", colour=look.number, align="centre")


_INSIDE: dict[Mark, MarkName] = {
    "start": "start inside", "end": "end inside", "both": "both inside"
}  # fmt: skip


def true_path(view: View, scene: Scene) -> None:
    """Draw each line once and where it is, for tracing: no second pass beside it."""
    plan, styles = scene.plan, styles_of(scene.plan, 0.0)
    seen = [scene.strokes[i] for i in view.seen(scene.stroke_boxes)]
    shown = [(s, view.onto(s.points)) for s in seen if s.do != "retrace"]
    draw_strokes(view, plan, shown, styles, 1.0)
    for name, style in styles.items():
        mine = [points for s, points in shown if plan.runs[s.run].thread == name]
        heads = [head for points in mine for head in _heads(points, 60.0, 1.3, view.box)]
        _fill_heads(view, heads, style)


def draw_ends(view: View, plan: Plan) -> None:
    """Draw the marks of starts, ends and bobbins, and where the lines through a piece meet."""
    for point in meetings(plan.lines):
        at = view.onto(point)
        if _within(view.box, at):
            draw_mark(view.sheet, at, "", "meeting", filled=False)
    _marks(view, plan, Labels(view.sheet, view.box), range(len(plan.runs)))


def meetings(lines: Sequence[Line]) -> FloatArray:
    """Give where three lines or more through the middle of pieces meet, shape (n, 2), mm."""
    ends = [line.points[[0, -1]] for line in lines if line.kind == "centre"]
    if not ends:
        return np.zeros((0, 2))
    places, count = np.unique(np.round(np.concatenate(ends), 3), axis=0, return_counts=True)
    return np.asarray(places[count >= _ARMS])


def _numbers(
    view: View, scene: Scene, shown: Sequence[tuple[Stroke, FloatArray]], labels: Labels
) -> None:
    """Write the numbers of the steps, each where it first comes into view."""
    seen: set[tuple[int, int]] = set()
    shut_in: dict[tuple[int, int], tuple[str, FloatArray, str]] = {}
    plan, styles = scene.plan, styles_of(scene.plan)
    for stroke, points in shown:
        key = stroke.run, stroke.step
        if key in seen:
            continue
        run = plan.runs[stroke.run]
        alone = stroke.run == scene.main_run
        text = f"{stroke.step + 1}" if alone else f"{run.number}.{stroke.step + 1}"
        colour = styles[run.thread].letters
        on, across = _spots(view, points)
        if len(on) == 0:
            continue
        for size in _SIZES:  # large where there is room
            places = _beside(on, across, text_width(text, size, "label"), size)
            if labels.put(text, places, size, colour, over=size <= _SIZES[-2]):
                seen.add(key)
                break
        else:
            shut_in.setdefault(key, (text, on[len(on) // 2], colour))
    for text, at, colour in (found for key, found in shut_in.items() if key not in seen):
        _led_to(view, labels, text, at, colour)


def _led_to(view: View, labels: Labels, text: str, at: FloatArray, colour: str) -> None:
    """Write a number where there is room, with a line to its place."""
    turn = np.linspace(0, 2 * np.pi, 25)[:-1]
    round_it = np.column_stack([np.cos(turn), np.sin(turn)])
    places = np.concatenate([at + reach * round_it for reach in (3.5, 5.0, 7.0, 9.0)])
    box = labels.put(text, places, _SIZES[-2], colour)
    if box:
        middle = np.array([(box.left + box.right) / 2, (box.top + box.bottom) / 2])
        way = middle - at
        half = np.array([box.width, box.height]) / 2 + 0.2
        short = 1 - np.min(half / np.maximum(np.abs(way), 1e-9))
        view.sheet.draw([np.array([at, at + way * max(short, 0.0)])], colour=colour, width=0.15)


def _spots(view: View, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give spots along a polyline in view, from its beginning, and which way its right is."""
    total = float(distances(points)[-1])
    at = np.arange(0.5, max(total, 0.6), min(max(1.2, total / 40), 2.5))
    on, way = _on_path(points, at)
    box = view.box
    inside = (on[:, 0] > box.left) & (on[:, 0] < box.right)
    inside &= (on[:, 1] > box.top) & (on[:, 1] < box.bottom)
    on, way = on[inside], way[inside]
    if len(on) < min(_GLIMPSE, len(at)):
        return np.zeros((0, 2)), np.zeros((0, 2))
    return on, np.column_stack([-way[:, 1], way[:, 0]])


def _beside(on: FloatArray, across: FloatArray, width: float, size: float) -> FloatArray:
    """Give places where a label of a width, mm, and a size, points, stands close beside spots."""
    half = np.abs(across) @ np.array([width / 2, 0.38 * size * POINT])
    sides = [
        np.stack([on + across * out[:, None], on - across * out[:, None]], axis=1)
        for out in (half + 0.6, half + 1.3, half + 2.2)
    ]
    return np.concatenate(sides).reshape(-1, 2)
