"""What is stitched between the areas, in pictures of the top or a part: the anchoring seams."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_judged
from stitchpath.export.guide.drawing import Mark as MarkKind
from stitchpath.export.guide.drawing import View, draw_mark
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.path import Scene
from stitchpath.export.guide.plates import Inked, Passes, Plate, draw_plate
from stitchpath.export.pdf.letters import POINT, broken, text_width
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.told.anchors import Mark, Picture, pictures
from stitchpath.told.feet import feet_put_on
from stitchpath.top.place_names import beyond, heading, join_words

__all__ = ["PICTURE", "SeamsPanel"]


class End(NamedTuple):
    """A mark where a run starts or stops, on the sheet, and whether that is inside the top."""

    at: FloatArray
    number: str
    kind: MarkKind
    inside: bool


class Laid(NamedTuple):
    """A picture in its row: what it shows at which scale, and its size with its words, mm."""

    picture: Picture
    part: Box
    scale: float
    wide: float
    tall: float


_HEAD = 6.0  # mm: over a picture
_GUTTER = 6.0
_SIZE = 9.4  # points
_CROPPED = 0.5  # of the top: a picture of a smaller part shows that part only
_LEAST = 0.2  # of the longer side of the top is shown at least
PICTURE = 5500.0  # mm²: a picture is larger, or has a page to itself
_MOST, _LEAST_SEEN = 4.0, 0.01  # times as large as is well seen
_HALVINGS = 12
_NARROW = 40.0  # mm: words below a picture are not set narrower
_AROUND = 0.16  # of the lines of a picture of a part is shown beside them
_SHARES = (0.0, -0.3, 0.3, -0.6, 0.6)
_BESIDE = np.array(  # where in a block its name may stand, from its middle to its sides
    sorted(((x, y) for x in _SHARES for y in _SHARES), key=lambda p: np.hypot(*p))
)
_READ = 4.8  # points: no name is written smaller


@dataclass(frozen=True)
class SeamsPanel:
    """All pictures of a plan, in a grid.

    Attributes
    ----------
    scene
        The plan.
    """

    scene: Scene

    @cached_property
    def pictures(self) -> tuple[Picture, ...]:
        """What it shows."""
        return pictures(self.scene.plan)

    @cached_property
    def _window(self) -> Box:
        """All of the top, with what is sewn off it."""
        top = self.scene.plan.top
        pad = 0.02 * max(top.width, top.height) + 13.0
        return Box(-pad, -pad, top.width + pad, top.height + pad)

    @cached_property
    def _parts(self) -> dict[int, tuple[Box, float]]:
        """Of each picture, by number: what it shows, and how large that is well seen, a scale."""
        return {picture.number: self._part(picture) for picture in self.pictures}

    def _part(self, picture: Picture) -> tuple[Box, float]:
        """All of the top, or where the picture's lines are, if that is small; and a good scale."""
        whole = self._window
        strokes = [
            stroke.points
            for mark in picture.marks
            for walk in (mark.row or (mark.walk,))
            for stroke in (walk.strokes if mark.row else mark.move.strokes)
        ]
        low, high = (way(np.concatenate(strokes), axis=0) for way in (np.min, np.max))
        size = np.array([whole.width, whole.height])
        around = max(_AROUND * float((high - low).max()), 0.02 * float(size.max()))
        half = np.maximum((high - low) / 2 + around, _LEAST * size.max() / 2)
        half = np.minimum(half, size / 2)
        if (half / size).prod() * 4 > _CROPPED:
            half = size / 2
        corner = np.clip(
            (low + high) / 2 - half,
            [whole.left, whole.top],
            np.array([whole.right, whole.bottom]) - 2 * half,
        )
        part = Box(*map(float, (*corner, *(corner + 2 * half))))
        return part, math.sqrt(PICTURE / (part.width * part.height))

    def laid(self, room: Box, some: Sequence[Picture]) -> tuple[float, list[list[Laid]]]:
        """Lay pictures in rows, as large as the room lets them be, all equally well seen.

        Returns
        -------
        seen : float
            How well: from 1 on each picture is large enough.
        rows : list of list of Laid
            In order, from the top down.
        """
        low, high, rows = 0.0, _MOST, self._rows(_LEAST_SEEN, room.width, some)[1]
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            tall, found = self._rows(middle, room.width, some)
            if tall <= room.height:
                low, rows = middle, found
            else:
                high = middle
        return low, rows

    def _rows(
        self, seen: float, width: float, some: Sequence[Picture]
    ) -> tuple[float, list[list[Laid]]]:
        """Share pictures that are so well seen out over rows, in the least height."""
        laid = [self._laid(picture, seen) for picture in some]
        best: list[tuple[float, int]] = [(0.0, 0)]
        for end in range(1, len(laid) + 1):
            found = []
            wide = tall = 0.0
            for begin in range(end - 1, -1, -1):
                wide += laid[begin].wide + _GUTTER * (begin < end - 1)
                tall = max(tall, laid[begin].tall)
                if wide > width:
                    break
                found.append((best[begin][0] + tall, begin))
            best.append(min(found, default=(math.inf, end - 1)))
        cuts = [len(laid)]
        while cuts[-1]:
            cuts.append(best[cuts[-1]][1])
        return best[-1][0], [laid[a:b] for a, b in pairwise(reversed(cuts))]

    def _laid(self, picture: Picture, seen: float) -> Laid:
        part, good = self._parts[picture.number]
        scale = good * seen
        wide = max(part.width * scale, _NARROW)
        lines = sum(len(broken(text, wide, _SIZE)) for text in _lines(picture, self.scene))
        words = lines * _SIZE * 1.2 * POINT + (1.0 if lines else 0.0)
        return Laid(picture, part, scale, wide, _HEAD + part.height * scale + words + 3.0)

    def draw(self, sheet: Sheet, room: Box, some: Sequence[Picture], passes: Passes) -> float:
        """Draw some of the pictures; give where the last ends."""
        top = room.top
        for row in self.laid(room, some)[1]:
            left = room.left
            for picture, part, scale, wide, _ in row:
                y = top + _HEAD
                box = Box(left, y, left + part.width * scale, y + part.height * scale)
                sheet.write((left, top + 4.2), f"Picture {picture.number}", 11, "bold")
                self._picture(sheet, box, picture, passes)
                y = box.bottom + 1.0
                for line in _lines(picture, self.scene):
                    y = sheet.paragraph((left, y), wide, line, _SIZE, leading=1.2)
                left += wide + _GUTTER
            top += max(laid.tall for laid in row)
        return top - 2.0

    def _picture(self, sheet: Sheet, box: Box, picture: Picture, passes: Passes) -> None:
        plan = self.scene.plan
        view = View(sheet, self._parts[picture.number][0], box)
        labels = Labels(sheet, box.grown(3.0))
        strokes: list[tuple[str, bool, Sequence[Inked]]] = []
        rows: list[FloatArray] = []
        for mark in picture.marks:
            text = "" if mark.row else f"{mark.number}"  # rows have theirs across
            strokes.append((text, mark.move.back is not None, passes.of(mark.walk, mark.move)))
            rows += [walk.strokes[0].points for walk in mark.row[1:]]
        thread = plan.runs[picture.marks[0].walk.run - 1].thread
        ends = [end for mark in picture.marks for end in self._ends(view, mark)]
        for at, *_ in ends:
            labels.block(Box(at[0] - 2.4, at[1] - 2.4, at[0] + 2.4, at[1] + 2.4))
        before = [
            stroke.points
            for earlier in self.pictures[: picture.number - 1]
            for mark in earlier.marks
            for walk in (mark.row or (mark.walk,))
            for stroke in (walk.strokes if mark.row else mark.move.strokes)
        ]
        draw_plate(view, self.scene, Plate(strokes, thread, None, None, before, rows), labels)
        _names(view, self.scene, labels)
        for mark in picture.marks:
            _span(view, mark, labels)
        for at, number, kind, inside in ends:
            draw_mark(sheet, at, number, kind, filled=inside)

    def _ends(self, view: View, mark: Mark) -> Iterator[End]:
        """Tell where a run starts and stops; of runs side by side, the first."""
        run = self.scene.plan.runs[mark.walk.run - 1]
        strokes, number = mark.move.strokes, f"{mark.walk.run}"
        first, last = run.legs[0].points[0], run.legs[-1].points[-1]
        begins, stops = strokes[0].first_leg == 0, strokes[-1].last_leg == len(run.legs) - 1
        closed = bool(np.all(first == last))
        if begins:
            kind: MarkKind = "both" if closed else "start"
            yield End(view.onto(first[None])[0], number, kind, run.start_where == "inside")
        if stops and not closed:
            yield End(view.onto(last[None])[0], number, "end", run.end_where == "inside")


def _names(view: View, scene: Scene, labels: Labels) -> None:
    """Name the blocks, or the squares of the map, small, where there is room off the lines."""
    for k in view.seen(scene.block_boxes).tolist():
        block = scene.plan.top.windows[k]
        name = scene.plan.places.block(block.place)
        corners = view.onto(block.corners)
        size = min(7.5, float(np.ptp(corners, axis=0).min()) * 0.75)
        half = np.array([text_width(name, size, "label") / 2, 1.0])
        places = corners.mean(axis=0) + _BESIDE @ (corners[[1, 3]] - corners[0]) / 2
        boxes = np.hstack([places - half, places + half])
        window = view.box
        inside = (boxes[:, :2] > [window.left, window.top + 1]).all(axis=1)
        inside &= (boxes[:, 2:] < [window.right, window.bottom - 1]).all(axis=1)
        best = labels.first_free(boxes[inside]) if size >= _READ and inside.any() else -1
        if best >= 0:
            box = Box(*boxes[inside][best].tolist())
            at = (float(places[inside][best][0]), box.bottom - 0.2)
            view.sheet.write(at, name, size, "label", colour=GREY, align="centre")
            labels.block(box)


def _span(view: View, mark: Mark, labels: Labels) -> None:
    """Draw from the first of runs side by side to the last, where on them none are told apart."""
    if not mark.row:
        return
    ends = np.array([walk.strokes[0].points[[0, -1]] for walk in (mark.row[0], mark.row[-1])])
    share = 0.22 + 0.11 * (mark.number % 6)
    a, b = view.onto(ends[:, 0] + (ends[:, 1] - ends[:, 0]) * share)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    across = np.array([-way[1], way[0]])
    back = b - way * 3.0
    view.sheet.draw([np.array([a, back])], colour="#ffffff", width=1.6)
    view.sheet.draw([np.array([a, back])], colour=INK, width=0.7)
    view.sheet.fill([np.array([b, back + across * 1.5, back - across * 1.5, b])], INK)
    text = f"{mark.number}"
    half = np.array([2.7, 2.7])
    on = [a + (b - a) * part for part in (0.5, 0.4, 0.6, 0.3, 0.7)]
    places = np.array([*on, *(p + across * out for out in (4.0, -4.0, 8.0, -8.0) for p in on)])
    best = max(labels.first_free(np.hstack([places - half, places + half])), 0)
    x, y = places[best].tolist()
    labels.block(Box(x - 2.7, y - 2.7, x + 2.7, y + 2.7))
    view.sheet.disc((x, y), 2.6, "#ffffff", edge=INK, width=0.4)
    view.sheet.write((x, y + 1.1), text, 8.6, "strong", align="centre")


def _lines(picture: Picture, scene: Scene) -> list[str]:
    """Tell where which foot is put on, and the rows of runs side by side."""
    unit = scene.plan.top.unit
    found = []
    feet = feet_put_on(scene.plan)
    put_on: dict[str, list[str]] = {}
    for mark in picture.marks:
        legs = range(max(mark.move.out.first_leg, 1), mark.move.strokes[-1].last_leg + 1)
        for leg in legs if feet else ():
            if (mark.walk.run, leg) in feet:
                put_on.setdefault(feet[mark.walk.run, leg], []).append(f"**{mark.number}**")
        if not mark.row or mark.step is None:
            continue
        step = format_judged(float(np.hypot(*mark.step)), unit)
        first, last = mark.row[0].run, mark.row[-1].run
        ends = mark.move.out.points[[0, -1]]
        found.append(
            f"**{mark.number}** Runs {first} to {last}: {len(mark.row)} lines side by side, all "
            f"{heading(ends[1] - ends[0])}, each {step} {beyond(mark.step)} the one "
            "before it."
        )
    return [*(_foot(foot, numbers) for foot, numbers in put_on.items()), *found]


def _foot(foot: str, numbers: Sequence[str]) -> str:
    """Tell at which numbers a foot is put on, all of them in one sentence."""
    at = join_words(list(dict.fromkeys(numbers)))
    return f"Needle down, put on the {foot} foot where {at} begin{'s' * (len(numbers) == 1)}."
