"""The pages of the route cards: the seams between the areas first, then card by card."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from stitchpath.export.guide.cards import CardPanel, Done, card_panels
from stitchpath.export.guide.path import Scene
from stitchpath.export.guide.plates import Passes
from stitchpath.export.guide.seams import PICTURE, SeamsPanel
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import Box, Sheet
from stitchpath.told.anchors import Picture
from stitchpath.told.card_words import Pages, seams_title
from stitchpath.told.cards import cards
from stitchpath.told.walks import evenly

__all__ = ["CardPages", "card_pages"]

_APART = 5.0  # mm between cards
_BELOW = 2  # cards: more small ones are set side by side
_WIDE = 160.0  # mm: paper so wide has room for that
_MANY = 12  # cards: of more, those with few strokes stand three side by side
_SCALE = 0.9  # of what a page on its other side would give is still large enough
_SEAMS = (
    "Sew from number to number; arrows beside the lines tell the way. Lines beside a line go over "
    "it again, dotted ones only lead on; grey ones are stitched already."
)
_READ = (
    "Begin at the round mark, sew from number to number, leave at the square one. A double arrow "
    "goes out and back; a line beside a line goes over it again; ticks stand on the low side. Turn "
    "the card as the list says. The arrows of the list lead there, over the quilt as it hangs."
)


@dataclass(frozen=True)
class CardPages:
    """Pages, and on which of them, from 0, what stands.

    Attributes
    ----------
    sheets
        The pages.
    pictures, cards
        Indices of the pages of each picture and each card, by its number.
    """

    sheets: list[Sheet] = field(default_factory=list)
    pictures: dict[int, int] = field(default_factory=dict)
    cards: dict[int, int] = field(default_factory=dict)

    def numbered(self, first: int) -> Pages:
        """Give the page of each picture and card, if these pages begin with a number."""
        pages: dict[tuple[Literal["picture", "card"], int], int] = {}
        pages |= {("picture", k): first + at for k, at in self.pictures.items()}
        pages |= {("card", k): first + at for k, at in self.cards.items()}
        return pages


def card_pages(scene: Scene, paper: Paper, first: int = 1) -> CardPages:
    """Set the pictures of the seams and the cards.

    Parameters
    ----------
    scene
        The plan.
    paper
        Its size.
    first
        The number of the first of these pages. Cards name the pages of others, and have to be set
        once more when those are known: where that moves one, they name none.
    """
    seams = CardPages()
    _seams(scene, paper, seams)
    bare = _with_cards(scene, paper, seams, {})
    pages = bare.numbered(first)
    told = _with_cards(scene, paper, seams, pages) if bare.cards else bare
    return told if told.numbered(first) == pages else bare


def _with_cards(scene: Scene, paper: Paper, seams: CardPages, pages: Pages) -> CardPages:
    """Set the cards behind the pictures."""
    found = CardPages(list(seams.sheets), dict(seams.pictures))
    _cards(scene, paper, found, pages)
    return found


def _seams(scene: Scene, paper: Paper, found: CardPages) -> None:
    """Set the pictures of what lies between areas, on pages upright or on their side."""
    panel, passes = SeamsPanel(scene), Passes(scene.plan)
    again = False
    for some, landscape in _spread(panel, paper):
        sheet, room = new_page(
            paper,
            seams_title(scene.plan),
            "" if again else _SEAMS,
            again=again,
            landscape=landscape,
        )
        panel.draw(sheet, room, some, passes)
        found.pictures.update(dict.fromkeys((p.number for p in some), len(found.sheets)))
        found.sheets.append(sheet)
        again = True


def _spread(panel: SeamsPanel, paper: Paper) -> list[tuple[Sequence[Picture], bool]]:
    """Share pictures out over few pages, evenly where all are then still well seen."""
    left = panel.pictures
    pages: list[tuple[Sequence[Picture], bool]] = []
    while left:
        count, landscape = _arranged(panel, left, paper)
        pages.append((left[:count], landscape))
        left = left[count:]
    if not pages:
        return pages
    every = panel.pictures
    shares = [every[a:b] for a, b in evenly(len(every), math.ceil(len(every) / len(pages)))]
    arranged = [_arranged(panel, some, paper) for some in shares]
    if all(len(some) == count for some, (count, _) in zip(shares, arranged, strict=True)):
        return [(some, way) for some, (_, way) in zip(shares, arranged, strict=True)]
    return pages


def _arranged(panel: SeamsPanel, left: Sequence[Picture], paper: Paper) -> tuple[int, bool]:
    """Choose how many pictures go on a page, and which way it lies."""
    rooms = [
        new_page(paper, "The seams", _SEAMS, landscape=landscape)[1] for landscape in (False, True)
    ]
    # Well seen, all are of one size: on no page do more of them lie than its area holds.
    most = max(int(max(room.width * room.height for room in rooms) / PICTURE), 1)
    for many in range(min(len(left), most), 0, -1):
        upright, side = (panel.laid(room, left[:many])[0] for room in rooms)
        landscape = side * _SCALE > upright
        if (side if landscape else upright) >= 1 or many == 1:
            return many, landscape
    return 1, False


def _cards(scene: Scene, paper: Paper, found: CardPages, pages: Pages) -> None:
    """Set as many cards on a page as it holds, their pictures sharing what room is left."""
    panels = list(card_panels(scene, cards(scene.plan), pages, wide=paper.width > _WIDE))
    rows = _rows(panels, paper)
    again = False
    while rows:
        said = "" if again else _READ
        sheet, room = new_page(paper, "Route cards", said, again=again)
        some = _fitting(rows, room, ahead=len(panels) > _MANY)
        done = _set(sheet, some, room)
        numbers = (panel.card.number for row in some for panel in row)
        found.cards.update(dict.fromkeys(numbers, len(found.sheets)))
        found.sheets.append(sheet)
        found.sheets.extend(_rest(some[-1][-1], paper, done))
        set_now = {id(row) for row in some}
        rows, again = [row for row in rows if id(row) not in set_now], True


def _rows(panels: Sequence[CardPanel], paper: Paper) -> list[list[CardPanel]]:
    """Put small cards side by side, where there are more than a page holds below each other."""
    rows: list[list[CardPanel]] = []
    beside = len(panels) > _BELOW and paper.width > _WIDE
    for panel in panels:
        last = rows[-1] if rows else []
        each = [*last, panel]
        three = len(panels) > _MANY and all(one.tiny for one in each)
        most = 3 if three else 2
        if beside and last and len(last) < most and all(one.small for one in each):
            last.append(panel)
        else:
            rows.append([panel])
    return rows


def _width(row: Sequence[CardPanel], room: Box) -> float:
    return (room.width - _APART * (len(row) - 1)) / len(row)


def _least(row: Sequence[CardPanel], room: Box) -> float:
    return max(panel.least(_width(row, room)) for panel in row)


def _rest(panel: CardPanel, paper: Paper, done: Done) -> Iterator[Sheet]:
    """Set what of a card its page does not hold: more pictures, more places."""
    while True:
        sheet, room = new_page(paper, f"Card {panel.card.number}", again=True)
        left = done.places < len(panel.listed) or done.plates < panel.rows(room.width)
        if not left and done.told:
            return
        done = panel.more(sheet, room, done)
        yield sheet


def _fitting(
    rows: Sequence[Sequence[CardPanel]], room: Box, *, ahead: bool
) -> Sequence[Sequence[CardPanel]]:
    """Take rows of cards for a page: the next ones; or `ahead`, whatever still has room on it."""
    used = 0.0
    found: list[Sequence[CardPanel]] = []
    for row in rows:
        high = _least(row, room) + (_APART if found else 0.0)
        if not found or used + high <= room.height:
            found.append(row)
            used += high
        elif not ahead:
            break
    return found


def _set(sheet: Sheet, rows: Sequence[Sequence[CardPanel]], room: Box) -> Done:
    """Set cards on a page; tell how far the last of them is done."""
    least = [_least(row, room) for row in rows]
    spare = room.height - sum(least) - _APART * (len(rows) - 1)
    wants = [
        max(max(panel.most(_width(row, room)) for panel in row) - low, 0.0)
        for row, low in zip(rows, least, strict=True)
    ]
    share = min(spare / sum(wants), 1.0) if sum(wants) and spare > 0 else 0.0
    top, done = room.top, Done(0, 0)
    for row, low, want in zip(rows, least, wants, strict=True):
        high = min(low + want * share, room.bottom - top)
        wide = _width(row, room)
        for k, panel in enumerate(row):
            left = room.left + k * (wide + _APART)
            done = panel.draw(sheet, Box(left, top, left + wide, top + high))
        top += high + _APART
    return done
