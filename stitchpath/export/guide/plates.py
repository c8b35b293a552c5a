"""Pictures of a few strokes, large: each with its number, and an arrow beside the line."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from stitchpath.base.marks import LINE_OF
from stitchpath.base.typing import FloatArray
from stitchpath.export.guide.drawing import (
    PEN,
    TINT,
    Mark,
    Style,
    View,
    draw_lines,
    draw_mark,
    draw_ticks,
    draw_top,
    styles_of,
)
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.path import Scene, shifted, side_of
from stitchpath.export.pdf.letters import POINT, text_width
from stitchpath.export.pdf.sheet import INK, Box
from stitchpath.geometry.polylines import distances, path_keys
from stitchpath.plan import Plan
from stitchpath.route.runs import Do
from stitchpath.told.walks import Move, Stroke, Walk

__all__ = ["Inked", "Passes", "Plate", "draw_plate"]

_WIDTH = 0.85  # mm: of a stroke
_GAP = 1.35  # mm: between a line and a second pass beside it
_DISC = 2.35  # mm: round a number
_SIZE = 8.6  # points: of a number
_ARROW = 5.2  # mm
_HEAD = 1.15  # mm
_PLACES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)  # of a stroke's length
_OUT = (3.2, 4.0, 5.0, 6.2)  # mm from the line to the middle of a number
_APART = 5.0  # mm between the marks of in and out
_FAR = (7.0, 9.0, 12.0, 15.0)  # the same, with a line that leads to it


@dataclass(frozen=True, slots=True)
class Inked:
    """A piece of a stroke that is drawn in one way.

    Attributes
    ----------
    do
        Stitched for the first time, again, or only to get there.
    shift
        How many lines' room to the right of its way it is drawn.
    points
        Shape (n, 2), mm on the top.
    """

    do: Do
    shift: int
    points: FloatArray


@dataclass
class Passes:
    """Counts how often each leg has been gone over, so that passes are drawn side by side."""

    plan: Plan
    _seen: dict[tuple[int, ...], int] = field(default_factory=lambda: defaultdict(int))

    def of(self, walk: Walk, move: Move) -> list[Inked]:
        """Cut a move into pieces to be drawn, and count it as gone over."""
        return [piece for stroke in move.strokes for piece in self._inked(walk, stroke)]

    def _inked(self, walk: Walk, stroke: Stroke) -> list[Inked]:
        """Cut a stroke into pieces to be drawn, and count it as gone over."""
        legs = self.plan.runs[walk.run - 1].legs[stroke.first_leg : stroke.last_leg + 1]
        drawn: list[tuple[Do, int, FloatArray]] = []
        for leg, key in zip(legs, path_keys([leg.points for leg in legs]), strict=True):
            seen = self._seen[key]
            self._seen[key] += 1
            if leg.do == "retrace":
                seen = max(seen, 1)
            drawn.append((leg.do, side_of(leg.points, seen), leg.points))
        found = []
        for (do, shift), some in groupby(drawn, key=lambda item: item[:2]):
            paths = [points for _, _, points in some]
            joined = np.concatenate([paths[0], *(points[1:] for points in paths[1:])])
            found.append(Inked(do, shift, joined))
        return found


@dataclass(frozen=True, slots=True)
class Plate:
    """What is drawn: strokes by their numbers, in order, and where they come in and go out.

    Attributes
    ----------
    strokes
        Each with its number, whether it goes out and back, and its pieces, mm on the top.
    thread
        Whose look they have.
    begin, end
        Where the first comes in, the last goes out, mm on the top; with whether a run starts or
        stops there inside the top. None draws no mark.
    before
        What was stitched earlier, drawn thin.
    rows
        Lines side by side, drawn thin with the stroke that stands for them.
    """

    strokes: Sequence[tuple[str, bool, Sequence[Inked]]]
    thread: str
    begin: tuple[FloatArray, bool] | None = None
    end: tuple[FloatArray, bool] | None = None
    before: Sequence[FloatArray] = ()
    rows: Sequence[FloatArray] = ()


def draw_plate(
    view: View, scene: Scene, plate: Plate, labels: Labels | None = None, *, low: bool = False
) -> None:
    """Draw a few strokes over the top.

    Parameters
    ----------
    view
        Where to.
    scene
        With the finished top.
    plate
        What to draw.
    labels
        Room already taken on it.
    low
        Whether ticks stand on the low side of the seams.
    """
    sheet, style = view.sheet, styles_of(scene.plan)[plate.thread]
    draw_top(view, scene, TINT)
    labels = labels or Labels(sheet, view.box)
    sheet.draw([view.onto(p) for p in plate.before], colour="#8d97a1", width=0.45, clip=view.box)
    sheet.draw([view.onto(p) for p in plate.rows], colour=style.colour, width=0.22, clip=view.box)
    shown = [
        (
            text,
            back,
            [(piece, shifted(view.onto(piece.points), piece.shift * _GAP)) for piece in pieces],
        )
        for text, back, pieces in plate.strokes
    ]
    _lines(view, shown, plate.thread, style)
    labels.block_lines(points for _, _, pieces in shown for _, points in pieces)
    _gates(view, labels, plate)
    for text, back, pieces in shown:
        paths = [points for _, points in pieces]
        _numbered(view, labels, (text, back), paths, style.letters)
    if low:
        draw_ticks(view, scene, labels)


def _lines(
    view: View,
    shown: Sequence[tuple[str, bool, Sequence[tuple[Inked, FloatArray]]]],
    thread: str,
    style: Style,
) -> None:
    every = [each for _, _, pieces in shown for each in pieces]
    found = [
        (thread, LINE_OF[do], [points for piece, points in every if piece.do == do])
        for do in LINE_OF
    ]
    draw_lines(view, found, {thread: style}, _WIDTH / PEN)


def _gates(view: View, labels: Labels, plate: Plate) -> None:
    """Mark where the first stroke comes in and the last goes out."""
    asked: tuple[tuple[tuple[FloatArray, bool] | None, str, Mark], ...] = (
        (plate.begin, "in", "start"),
        (plate.end, "out", "end"),
    )
    gates = [(view.onto(gate[0]), gate[1], word, mark) for gate, word, mark in asked if gate]
    if len(gates) > 1 and np.hypot(*(gates[0][0] - gates[1][0])) < _HEAD:
        gates = [(gates[0][0], gates[0][1] or gates[1][1], "in and out", "both")]
    taken: list[FloatArray] = []
    for at, inside, _, mark in gates:
        place = next(
            (p for p in _round_about(at) if all(np.hypot(*(p - o)) > _APART for o in taken)), at
        )
        if place is not at:
            view.sheet.draw([np.array([at, place])], width=0.3)
        draw_mark(view.sheet, place, "", mark, filled=inside)
        labels.block(_square(place, 2.4))
        taken.append(place)
    for place, (_, _, word, _) in zip(taken, gates, strict=True):
        half = np.array([text_width(word, 8.0, "label") / 2 + 2.8, 3.6])
        turns = np.arange(8) * np.pi / 4
        ways = np.column_stack([np.cos(turns), np.sin(turns)])
        labels.put(word, place + ways * half, 8.0, INK)


def _round_about(at: FloatArray) -> Iterator[FloatArray]:
    yield at
    for reach in (5.2, 7.0):
        for turn in np.arange(8) * np.pi / 4:
            yield at + reach * np.array([np.cos(turn), np.sin(turn)])


def _square(at: FloatArray, half: float) -> Box:
    x, y = float(at[0]), float(at[1])
    return Box(x - half, y - half, x + half, y + half)


def _numbered(
    view: View, labels: Labels, told: tuple[str, bool], paths: Sequence[FloatArray], colour: str
) -> None:
    """Write a stroke's number beside it, with an arrow the way it goes, or a double one."""
    text, back = told
    spots = [(at, way) for points in _longest_first(paths) for at, way in _spots(points)]
    if not text:
        for at, way in spots[:3]:
            _head(view, at, way, colour)
        return
    size, disc = (_SIZE, _DISC) if len(text) < 3 else (7.0, 2.7)  # noqa: PLR2004 - figures
    for clear in (True, False):
        for out in _OUT:
            for at, way in spots:
                for side in (1.0, -1.0):
                    across = np.array([-way[1], way[0]]) * side
                    middle = at + across * out
                    tail = at + across * min(out, 2.2) + way * (disc + 0.5)
                    boxes = [_square(middle, disc + 0.2), _span(tail, tail + way * _ARROW)]
                    if all(labels.free(box, clear=clear) for box in boxes):
                        _disc(view, labels, middle, text, (size, disc), colour)
                        _arrow(view, tail, way, colour, back=back)
                        labels.block(boxes[1])
                        return
    _led_to(view, labels, text, spots, (size, disc), colour)


def _longest_first(paths: Sequence[FloatArray]) -> list[FloatArray]:
    return sorted(paths, key=lambda points: -float(distances(points)[-1]))


def _spots(points: FloatArray) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Give places along a polyline, and which way it runs there."""
    along = distances(points)
    if not along[-1]:
        return
    for share in _PLACES:
        k = min(int(np.searchsorted(along, share * along[-1], side="right")), len(points) - 1)
        step = points[k] - points[k - 1]
        length = np.hypot(*step)
        if length:
            way = step / length
            yield points[k - 1] + way * (share * along[-1] - along[k - 1]), way


def _span(a: FloatArray, b: FloatArray) -> Box:
    low, high = np.minimum(a, b) - _HEAD * 0.8, np.maximum(a, b) + _HEAD * 0.8
    return Box(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _disc(
    view: View,
    labels: Labels,
    at: FloatArray,
    text: str,
    sizes: tuple[float, float],
    colour: str,
) -> None:
    size, disc = sizes
    x, y = float(at[0]), float(at[1])
    view.sheet.disc((x, y), disc, "#ffffff", edge=colour, width=0.3)
    view.sheet.write((x, y + 0.36 * size * POINT), text, size, "strong", align="centre")
    labels.block(_square(at, disc + 0.2))


def _arrow(view: View, tail: FloatArray, way: FloatArray, colour: str, *, back: bool) -> None:
    tip = tail + way * _ARROW
    view.sheet.draw([np.array([tail, tip - way * _HEAD])], colour=colour, width=0.4)
    _head(view, tip - way * _HEAD, way, colour)
    if back:
        _head(view, tail + way * _HEAD, -way, colour)


def _led_to(
    view: View,
    labels: Labels,
    text: str,
    spots: Sequence[tuple[FloatArray, FloatArray]],
    sizes: tuple[float, float],
    colour: str,
) -> None:
    """Write a number where there is room, with a line to its stroke and a head on it."""
    if not spots:
        return
    at, way = spots[0]
    for reach in _FAR:
        for turn in np.arange(16) * np.pi / 8:
            place = at + reach * np.array([np.cos(turn), np.sin(turn)])
            if labels.free(_square(place, sizes[1] + 0.2)):
                view.sheet.draw([np.array([at, place])], colour=colour, width=0.2)
                _disc(view, labels, place, text, sizes, colour)
                _head(view, at, way, INK)
                return
    _disc(view, labels, at, text, sizes, colour)


def _head(view: View, at: FloatArray, way: FloatArray, colour: str) -> None:
    across = np.array([-way[1], way[0]])
    tip, back = at + way * _HEAD, at - way * _HEAD
    head = [tip, back + across * _HEAD * 0.8, back - across * _HEAD * 0.8, tip]
    view.sheet.fill([np.array(head)], colour)
