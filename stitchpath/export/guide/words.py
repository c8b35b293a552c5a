"""The directions, in two columns of numbered steps."""

import logging
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import POINT, broken
from stitchpath.export.pdf.page import Flow
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.told.card_words import Pages, drawn_by_step
from stitchpath.told.chapters import chapters
from stitchpath.told.directions import Step
from stitchpath.told.stops import Stop, stops_by_run
from stitchpath.told.ways import Turn

__all__ = ["draw_turn", "words_pages"]

_log = logging.getLogger(__name__)
_SIZES = (10.0, 9.6, 9.2)  # points
_SMALL = 9.2  # where there are many steps
_LONG = 200  # steps
_SCRAP = 40.0  # mm: less than this alone on the last page is not worth its sheet
_LEADING = 1.2
_GUTTER = 8.0
_BOX = 5.0  # mm: a box to tick before what is done at a stop
_INDENT = 13.2  # mm: number and arrow before the words
_MOST_STEPS = 8000  # 200 pages
_HOW = (
    "**Left, right, your left and your right** are yours as you sew, whichever way the quilt lies: "
    "they follow the needle. **Up, down and across** are those of the quilt as it hangs on the "
    "wall. {blocks} {low}"
    "**Pivot**: stop with the needle down, lift the foot, turn. **Bear**: turn a little as you "
    "sew. **Travel**: stitching that is only there to get on."
)

_LOW = (
    "The **low side** of a seam is the one without its allowances: keep the needle close beside "
    'the seam on that side. "Low side left, after {far} right" is on your left at first, and {far} '
    "further on your right. "
)


def words_pages(scene: Scene, paper: Paper, pages: Pages | None = None) -> Iterator[Sheet]:
    """Set the directions, run by run; `pages` tells where cards stand."""
    long = sum(len(run.steps) for run in scene.told) > _LONG
    drawn = drawn_by_step(scene.plan, pages or {})
    flows = (_set(scene, paper, drawn, size) for size in ((_SMALL,) if long else _SIZES))
    first = next(flows)
    flow = next((f for f in (first, *flows) if not f.lacking), None)
    if flow is None:  # the page before the last ends sooner
        flow = _set(scene, paper, drawn, first.size, (len(first.pages) - 1, first.lacking))
    for note in flow.notes:
        _log.warning("printed guide: %s", note)
    yield from flow.pages


def _how(plan: Plan, far: str) -> str:
    """Say how the directions are to be read."""
    low = _LOW.format(far=far) if plan.top.pressed else ""
    return _HOW.format(blocks=_blocks_named(plan), low=low)


def _set(
    scene: Scene,
    paper: Paper,
    drawn: Mapping[tuple[int, int], str],
    size: float,
    early: tuple[int, float] = (0, 0.0),
) -> "_Flow":
    """Set the directions at a size, points; `drawn` tells, before a step, where it is drawn."""
    begins = {(c.run, c.first_step): c.name for c in chapters(scene.plan)}
    far = {"in": "2 in", "cm": "5 cm", "mm": "50 mm"}[scene.plan.top.unit]
    flow = _Flow(paper, "Directions", size, early, _how(scene.plan, far))
    left, cut = _MOST_STEPS, 0
    by_run = stops_by_run(scene.plan)
    for run in scene.told:
        shown = run.steps[: max(left, 0)]
        left -= len(run.steps)
        before, *_, after = by_run[run.run] * 2
        if shown:
            if not before.plain:
                flow.stop(before)
            flow.heading(run.heading, shown[0])
        for k, step in enumerate(shown, start=1):
            name, there = begins.get((run.run, k - 1)), drawn.get((run.run, k - 1))
            if name:
                flow.chapter(f"{name[:1].upper()}{name[1:]}", step)
            if there:
                flow.remark(there, step)
            flow.step(k, step)
        cut += len(run.steps) - len(shown)
        if after.kind == "end":
            flow.stop(after)
    if cut:
        flow.note(
            f"The last {cut} steps are left out here, so that the guide stays short enough to "
            "print. Their numbers stand in the pictures block by block; the text file of the "
            "directions and the moving guide tell them all."
        )
    return flow


def _blocks_named(plan: Plan) -> str:
    """Tell how blocks are named, as they lie on this quilt."""
    if plan.top.squares:
        return "Squares of the map are named by the row's letter and the column's number."
    own = " Some have a name of your own." if plan.top.names else ""
    if plan.design.layout.place:
        return f"Blocks are named P1, P2 and so on, and the map shows which is which.{own}"
    if len(plan.top.blocks) == 1 and not own:
        return "The block is named A1."
    if plan.design.layout.on_point:
        named = "Blocks are named by the letter of their row and their number in it"
        return f"{named}; the map shows which is which.{own}"
    return f"Blocks are named by the row's letter and the column's number.{own}"


@dataclass
class _Flow(Flow):
    """Fills columns one after another, pages as they are needed.

    Attributes
    ----------
    size
        Points.
    early
        Which page, counted from 1, ends so much sooner, mm.
    how
        What has to be known to read the directions.
    notes
        What is to be said aloud.
    """

    size: float
    early: tuple[int, float]
    how: str
    notes: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin with the first page and what has to be known to read it."""
        self.page()
        sheet = self.pages[-1]
        y = sheet.paragraph(
            (self.room.left, self.room.top - 1), self.room.width, self.how, 9.6, colour=INK
        )
        self.room = Box(self.room.left, y + 3, self.room.right, self.room.bottom)
        self.y = self.room.top

    def page(self) -> None:
        """Begin the next page, in its left column."""
        super().page()
        number, by = self.early
        if len(self.pages) == number:
            self.room = self.room._replace(bottom=self.room.bottom - by)
        self.column, self.width = 0, (self.room.width - _GUTTER) / 2

    @property
    def lacking(self) -> float:
        """How much a last page lacks to be worth its sheet, mm; 0 if it is full enough."""
        if len(self.pages) == 1 or self.column:
            return 0.0
        return max(self.room.top + _SCRAP - self.y, 0.0)

    @property
    def x(self) -> float:
        """Left edge of the column."""
        return self.room.left + self.column * (self.width + _GUTTER)

    def _need(self, height: float) -> None:
        """Go on to the next column where there is no room."""
        if self.y + height <= self.room.bottom:
            return
        if self.column == 0:
            self.column, self.y = 1, self.room.top
        else:
            self.page()

    def heading(self, text: str, first: Step) -> None:
        """Write a run's heading, never without its first step below."""
        below = self._height(first)
        lines = len(broken(text, self.width, 11.0, "bold"))
        high = lines * 11.0 * 1.15 * POINT
        self._need(high + below + 7)
        if self.y > self.room.top:
            self.y += 3.5
        sheet = self.pages[-1]
        sheet.bookmark(text, self.y, level=1)
        self.y = sheet.paragraph(
            (self.x, self.y), self.width, text, 11.0, face="bold", leading=1.15
        )
        sheet.rule(self.x, self.x + self.width, self.y + 1.0, colour=INK)
        self.y += 2.4

    def stop(self, stop: Stop) -> None:
        """Write what is done at a stop, with boxes to tick; as much of it together as can be."""
        size, room = self.size, self.width - _BOX
        tasks = stop.but("end", "roll", "test")
        heights = [len(broken(t, room, size)) * size * _LEADING * POINT + 0.6 for t in tasks]
        head = len(broken(stop.heading, self.width, size + 0.6, "bold")) * (size + 0.6) * 1.15
        self._need(head * POINT + sum(heights[:3]) + 5)
        if self.y > self.room.top:
            self.y += 3.5
        self.y = 0.8 + self.pages[-1].paragraph(
            (self.x, self.y), self.width, stop.heading, size + 0.6, face="bold", leading=1.15
        )
        for task, high in zip(tasks, heights, strict=True):
            self._need(high)
            sheet, top = self.pages[-1], self.y
            sheet.rectangle(
                Box(self.x + 0.6, top + 0.6, self.x + 3.2, top + 3.2), None, edge=INK, width=0.2
            )
            sheet.paragraph((self.x + _BOX, top), room, task, size, leading=_LEADING)
            self.y = top + high

    def chapter(self, name: str, first: Step) -> None:
        """Write the name of a chapter, never without its first step below."""
        self._need(self._height(first) + 7)
        self.y += 1.2 if self.y > self.room.top else 0.0
        self.y = self.pages[-1].paragraph(
            (self.x, self.y), self.width, name, self.size + 0.6, face="bold", leading=1.15
        )

    def remark(self, text: str, first: Step) -> None:
        """Write where steps are drawn, never without the first of them below."""
        high = len(broken(text, self.width, self.size, "italic")) * self.size * _LEADING * POINT
        self._need(high + 0.8 + self._height(first))
        self.y = 0.8 + self.pages[-1].paragraph(
            (self.x, self.y), self.width, text, self.size, face="italic", leading=_LEADING
        )

    def step(self, number: int, step: Step) -> None:
        """Write a step: number, arrow, words."""
        high = self._height(step)
        self._need(high)
        sheet, top, size = self.pages[-1], self.y, self.size
        base = top + size * (_LEADING - 0.26) * POINT
        sheet.write((self.x + 6.6, base), f"{number}", size - 1, "bold", colour=GREY, align="right")
        draw_turn(sheet, (self.x + 9.8, base - 1.15), step.turn)
        sheet.paragraph(
            (self.x + _INDENT, top), self.width - _INDENT, _led(step), size, leading=_LEADING
        )
        self.y = top + high

    def _height(self, step: Step) -> float:
        """Height of a step, mm, with the space after it."""
        lines = len(broken(_led(step), self.width - _INDENT, self.size))
        return lines * self.size * _LEADING * POINT + 0.9

    def note(self, text: str) -> None:
        """Write a remark, and keep it to be said aloud."""
        self.notes.append(text)
        high = len(broken(text, self.width, 9.5, "italic")) * 9.5 * 1.2 * POINT
        self._need(high + 2)
        self.y = 1.5 + self.pages[-1].paragraph(
            (self.x, self.y), self.width, text, 9.5, face="italic", leading=1.2
        )


def _led(step: Step) -> str:
    """Give a step's words, its turn in bold, the low side shortly."""
    rest = step.brief[len(step.lead) :]
    return f"**{step.lead}**{rest}" if step.lead else rest


def draw_turn(sheet: Sheet, at: tuple[float, float], turn: Turn | None) -> None:
    """Draw the way one turns, the needle coming from below."""
    x, y = at
    if turn is None:
        sheet.disc((x, y), 1.0, INK)
        return
    paths = {
        "straight": [(0, 1.7), (0, -1.3)],
        "bear left": [(0.5, 1.7), (0.5, 0.3), (-0.6, -1.2)],
        "bear right": [(-0.5, 1.7), (-0.5, 0.3), (0.6, -1.2)],
        "left": [(0.9, 1.7), (0.9, -0.2), (-1.2, -0.2)],
        "right": [(-0.9, 1.7), (-0.9, -0.2), (1.2, -0.2)],
        "back": [(-0.9, 1.7), (-0.9, -0.7), (-0.5, -1.2), (0.5, -1.2), (0.9, -0.7), (0.9, 0.7)],
    }
    path = np.array(paths[turn]) + np.array([x, y])
    sheet.draw([path], width=0.4)
    way = (path[-1] - path[-2]) / np.hypot(*(path[-1] - path[-2]))
    across = np.array([-way[1], way[0]])
    tip = path[-1] + way * 0.9
    back = path[-1] - way * 0.4
    sheet.fill([np.array([tip, back + across * 0.85, back - across * 0.85, tip])], INK)
