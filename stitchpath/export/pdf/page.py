"""What all pages share: margins, headings, the line at the foot."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from stitchpath.export.pdf.letters import shortened, text_width
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet

__all__ = ["LEFT", "RIGHT", "Flow", "new_page", "number_pages", "section"]

LEFT = 18.0  # mm: room to punch
RIGHT = 14.0
_TOP = 15.0
_FOOT = 16.0


def new_page(
    paper: Paper, title: str, below: str = "", *, again: bool = False, landscape: bool = False
) -> tuple[Sheet, Box]:
    """Begin a page.

    Parameters
    ----------
    paper
        Its size.
    title
        Its heading.
    below
        A sentence or two under the heading.
    again
        Whether it goes on with what pages before it began; else it gets a bookmark.
    landscape
        Whether it lies on its long side.

    Returns
    -------
    sheet, room
        The page, and what of it is left to fill.
    """
    sheet = Sheet(paper, landscape)
    y = _TOP
    if title:
        if not again:
            sheet.bookmark(title)
        said = f"{title}, continued" if again else title
        size = _size(said, 20.0, sheet.width - LEFT - RIGHT)
        sheet.write((LEFT, y + 6.0), said, size, "bold")
        sheet.rule(LEFT, sheet.width - RIGHT, y + 9.2, colour=INK)
        y += 11.0
    if below:
        y = sheet.paragraph((LEFT, y), sheet.width - LEFT - RIGHT, below, 10.0, colour=GREY) + 1.0
    return sheet, Box(LEFT, y + 2.0, sheet.width - RIGHT, sheet.height - _FOOT)


def _size(title: str, most: float, width: float) -> float:
    """Choose the size of a heading, points: smaller where it would run off the page."""
    return min(most, most * width / text_width(title, most, "bold"))


def section(sheet: Sheet, at: tuple[float, float], width: float, title: str) -> float:
    """Write a small heading over a hairline, with a bookmark; gives the place below it."""
    sheet.bookmark(title, at[1], level=1)
    sheet.write((at[0], at[1] + 4.2), title, _size(title, 12.5, width), "bold")
    sheet.rule(at[0], at[0] + width, at[1] + 6.0)
    return at[1] + 7.6


def number_pages(sheets: Sequence[Sheet], name: str) -> None:
    """Write the foot of every page but the first: the name of the quilt, and "2 of 9"."""
    for k, sheet in enumerate(sheets, start=1):
        y = sheet.height - 9.0
        right = sheet.width - RIGHT
        wide = sheet.write(
            (right, y), f"page {k} of {len(sheets)}", 8.5, colour=GREY, align="right"
        )
        room = right - LEFT - wide - 6
        sheet.write((LEFT, y), shortened(name, room, 8.5), 8.5, "italic", colour=GREY)


@dataclass
class Flow:
    """Pages of one title, filled from top to bottom, the next begun where one is full.

    Attributes
    ----------
    paper
        Its size.
    title
        Heading of all of them.
    pages, room
        Those begun, and what there is to fill on each.
    y
        How far down the page it is filled, mm.
    """

    paper: Paper
    title: str
    pages: list[Sheet] = field(default_factory=list, init=False)
    room: Box = field(init=False)
    y: float = field(default=0.0, init=False)

    def page(self) -> None:
        """Begin the next page."""
        sheet, self.room = new_page(self.paper, self.title, again=bool(self.pages))
        self.pages.append(sheet)
        self.y = self.room.top
