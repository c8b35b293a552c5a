"""Route cards on paper: one large picture of what is stitched alike, and the list of places."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_count, format_judged
from stitchpath.export.guide.drawing import View
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.path import Scene
from stitchpath.export.guide.plates import Passes, Plate, draw_plate
from stitchpath.export.guide.words import draw_turn
from stitchpath.export.pdf.letters import POINT, broken, shortened, text_width, typeset
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.told.arms import Arm, arms_of
from stitchpath.told.card_words import (
    Pages,
    card_name,
    laid_words,
    page_words,
    short_name,
    start_words,
    way_words,
)
from stitchpath.told.cards import MOST, Card, Share, Visit, cards, shares
from stitchpath.told.walks import Move, moves_of

__all__ = ["CardPanel", "Done", "card_panels"]

_TITLE = 9.5  # mm
_GUTTER = 5.0
_NEAR = 1.0  # mm: so near to a tip a move ends there
_ROW = 4.7  # mm: of the list of moves
_ASIDE = 15.5  # mm: number and arrow before a move's length
_SIZE = 9.4  # points
_NOTE = 4.4  # mm: of a line of the note
_PAD = 0.09  # of the size of what is shown
_LEAST = 56.0  # mm: so large a picture is at least
_HALF = 118.0  # mm: so large a branched piece is drawn at least: half a page
_BRANCHED = 60  # moves: a piece of more has a picture for each of its arms
_PART = 0.5  # of the whole: moves on a smaller part are shown as large as they can be
_SOME = 45.0  # mm: of the list of places at least stands under the pictures
_NAMED = 0.13  # the same round a piece, whose arms are named
_FRAME = 0.6  # mm: names of arms keep so far off the frame of a picture
_MARK = 2.4  # mm: half of the mark where a run comes in or goes out
_MORE = 3  # pictures, where each shows an arm
_MANY = 12  # cards: of more, each tells where a run begins by its mark alone
_OTHERS = 3  # cards named in a list, where what is stitched in between stands
_TALL = 1.4  # times as high as wide: two stand side by side on any paper
_FEW = 6  # places of a small card
_TWO = 150.0  # mm: paper so wide has the places in two columns


class Done(NamedTuple):
    """How many rows of pictures and how many places are done of a card, and whether its moves."""

    plates: int
    places: int
    told: bool = False


@dataclass(frozen=True)
class _Plate:
    """A picture of a card: some of its moves, at one of its places."""

    title: str
    share: Share
    visit: Visit


@dataclass(frozen=True)
class CardPanel:
    """A card as it is set on a page.

    Attributes
    ----------
    scene
        The plan.
    card
        What it tells.
    skipped
        By order, on which other card the areas are that are stitched between its own.
    pages
        Where pictures and cards stand, as far as is known.
    wide
        Whether the page has room for a branched piece in one picture.
    """

    scene: Scene
    card: Card
    skipped: dict[int, int]
    pages: Pages
    wide: bool = True

    @property
    def _page(self) -> int:
        """The page it begins on; 0 where that is not known."""
        return self.pages.get(("card", self.card.number), 0)

    @cached_property
    def moves(self) -> list[Move]:
        """What has a number on it."""
        return moves_of(self.card.strokes)

    @cached_property
    def _plates(self) -> list[_Plate]:
        """List its pictures: shared out where there are many moves, again where turned over."""
        parts = self._shares
        first, over = self.card.visits[0], self.card.over
        alone = len(parts) == 1
        found = []
        for share in parts:
            span = "" if alone else self._span(share)
            word = f"as on {self._where(first)}" if over is not None and alone else ""
            found.append(_Plate(word or span, share, first))
        if over is not None:
            for share in parts:
                span = ": turn left for right" if alone else f", {self._span(share)}"
                found.append(_Plate(f"mirrored, as on {self._where(over)}{span}", share, over))
        return found

    @cached_property
    def _shares(self) -> list[Share]:
        """Share its moves out into pictures; a piece with arms is one, unless it has too many."""
        if self._arms and len(self.moves) <= (_BRANCHED if self.wide else MOST):
            return [Share(0, len(self.moves) - 1)]
        found = shares(self.moves, arms=bool(self._arms))
        return found if any(share.again for share in found) else self._by_arm or found

    @property
    def _by_arm(self) -> list[Share]:
        """Share moves out by the arm that they lie on; none where an arm has too many."""
        owners = [self._arm_of(move) for move in self.moves]
        cuts = [k for k, (one, next_) in enumerate(pairwise(owners), 1) if one != next_]
        spans = list(pairwise([0, *cuts, len(owners)]))
        plain = math.ceil(len(owners) / MOST)
        if any(b - a > MOST for a, b in spans) or len(spans) > plain + _MORE:
            return []
        return [Share(a, b - 1) for a, b in spans]

    @property
    def _large(self) -> bool:
        """Whether more moves than usual are drawn in one picture, so that it has to be large."""
        return len(self._shares) == 1 and len(self.moves) > MOST

    def _where(self, visit: Visit) -> str:
        return short_name(self.scene.plan, visit.walk).removeprefix("on ").removeprefix("at ")

    def _span(self, share: Share) -> str:
        """Tell which moves a picture shows, and of which arm of a piece they are."""
        again = [_numbers(a + 1, b + 1) for a, b in share.again]
        said = _numbers(share.first + 1, share.last + 1)
        some = self.moves[share.first : share.last + 1]
        arms = [
            arm.number
            for arm in self._arms
            if any(_at_end(move, tip.point) for move in some for tip in arm.tips)
        ]
        said = f"arm {arms[0]}: {said}" if len(arms) == 1 else said
        return said + (f"; {', '.join(again)} likewise" if again else "")

    @cached_property
    def _arms(self) -> tuple[Arm, ...]:
        """The arms of the piece at the first place, if it is one."""
        area = self.card.visits[0].walk.area
        if area is None or len(area.pieces) != 1:
            return ()
        return arms_of(self.scene.plan, area.pieces[0])

    # How high it is

    def least(self, width: float) -> float:
        """Tell the height it needs at a width, its pictures as small as they may be, mm."""
        return self._fixed(width) + sum(self._least_rows(width))

    def _in_rows(self, width: float) -> list[list[_Plate]]:
        """Set its pictures in rows: two in each on wide paper, on small paper two tall ones."""
        columns = 2 if width > _TWO and not self._large else 1
        rows: list[list[_Plate]] = []
        for plate in self._plates:
            last = rows[-1] if rows else []
            tall = all(_tall(self._window(one)) for one in [*last, plate])
            if last and len(last) < (2 if tall and not self._large else columns):
                last.append(plate)
            else:
                rows.append([plate])
        return rows

    def _natural_rows(self, width: float, begin: int = 0) -> list[float]:
        """Tell how high each row of its pictures is at full width, from a row on, mm."""
        aside = self._list_width if self._side(width) else 0.0
        highs = []
        for row in self._in_rows(width)[begin:]:
            wide = (width - _GUTTER * (len(row) - 1)) / len(row) - aside
            shape = max(w.height / w.width for w in map(self._window, row))
            highs.append(wide * shape + self._head + 2)
        listed = self._list_rows(width) * _ROW + self._head + 6
        return [max(row, listed) for row in highs] if self._side(width) else highs

    def _least_rows(self, width: float, begin: int = 0) -> list[float]:
        """Tell the least height of each row of its pictures, mm."""
        least = self._picture(width)
        return [min(row, least) for row in self._natural_rows(width, begin)]

    def _picture(self, width: float) -> float:
        """Tell the least height of a row of its pictures, with what stands beside them, mm."""
        least = min(_HALF, width) if self._large else _LEAST
        picture = least + self._head + 2
        if self._side(width):
            picture = max(picture, self._list_rows(width) * _ROW + self._head + 6)
        return picture

    def most(self, width: float) -> float:
        """Tell the height beyond which its pictures grow no larger, mm."""
        full = self._fixed(width) + sum(self._natural_rows(width))
        return max(self.least(width), full)

    def _side(self, width: float) -> bool:
        """Whether the list of moves stands beside the picture."""
        return len(self._plates) == 1 and width > _TWO and self._with_list

    @cached_property
    def _told(self) -> list[str]:
        """Give the length of each move in words."""
        unit = self.scene.plan.top.unit
        return [_move_words(move, self._goal(move) or format_judged(move.out.length, unit))
                for move in self.moves]  # fmt: skip

    def _goal(self, move: Move) -> str:
        """Name the arm that a move goes out along, or the middle; "" on the way or off pieces."""
        end = move.out.points[-1:]
        for arm in self._arms:
            for tip in arm.tips:
                if np.hypot(*(end[0] - tip.point)) < _NEAR:
                    return f"arm {arm.number}{f', {tip.name}' if tip.name else ''}"
            if np.hypot(*(end[0] - arm.middle)) < _NEAR:
                return "to the middle"
        return ""

    @cached_property
    def _move(self) -> float:
        """A move's width in the list, mm."""
        return _ASIDE + max(text_width(text, _SIZE) for text in self._told)

    @property
    def _list_width(self) -> float:
        return self._move + _GUTTER

    @cached_property
    def _with_list(self) -> bool:
        """Whether lengths are listed: not where there are too many moves for it."""
        return len(self._shares) == 1 and not self._large

    def _list_rows(self, width: float) -> int:
        if not self._with_list:
            return 0
        across = 1 if self._side(width) else max(int(width / self._move), 1)
        return math.ceil(len(self.moves) / across)

    @property
    def _head(self) -> float:
        return 5.0 if any(plate.title for plate in self._plates) else 0.0

    def rows(self, width: float) -> int:
        """Tell in how many rows its pictures stand."""
        return len(self._in_rows(width))

    def _fixed(self, width: float) -> float:
        return _TITLE + self._said(width) + self._places_height(width) + 5

    def _said(self, width: float) -> float:
        """Tell how high the list of moves below the pictures is with the note, mm."""
        below = self._with_list and not self._side(width)
        moves = self._list_rows(width) * _ROW + 2.0 if below else 0.0
        return moves + len(self._noted(width)) * _NOTE

    def _noted(self, width: float) -> list[str]:
        """Break the note into lines."""
        if not self._note:
            return []
        lines = broken(self._note, width, 9.0, "italic")
        return ["".join(part for part, _ in line) for line in lines]

    @property
    def _note(self) -> str:
        if self._arms and not self._with_list:
            return self._arm_by_arm
        return "" if self.card.low else "The low side is not the same everywhere: feel for it."

    @property
    def _arm_by_arm(self) -> str:
        """Tell which numbers lie on which arm, in the order of stitching."""
        owners = [self._arm_of(move) for move in self.moves]
        told = []
        for number, some in groupby(range(len(owners)), key=lambda k: owners[k]):
            mine = list(some)
            if number:
                told.append(f"arm {number}: {_numbers(mine[0] + 1, mine[-1] + 1)}")
        return typeset(f"In order: {', '.join(told)}.") if told else ""

    def _arm_of(self, move: Move) -> int:
        """Give the number of the arm that a move lies on most; 0 where there is none."""
        run = self.scene.plan.runs[self.card.visits[0].walk.run - 1]
        lines = {leg.line for leg in run.legs[move.out.first_leg : move.out.last_leg + 1]}
        return next((arm.number for arm in self._arms if arm.lines & lines), 0)

    @cached_property
    def listed(self) -> list[tuple[str, str]]:
        """List the places, each with its number and what is said of it."""
        plan = self.scene.plan
        found: list[tuple[str, str]] = []
        brief = len(cards(plan)) > _MANY
        before = self.card.visits[0].order
        for visit in self.card.visits:
            between = list(range(before + 1, visit.order))
            if between:
                numbers = f"{between[0]}" if len(between) == 1 else f"{between[0]}–{between[-1]}"  # noqa: RUF001
                others = sorted({self.skipped[k] for k in between})
                alone = len(others) == 1
                page = page_words(self.pages, "card", others[0], self._page) if alone else ""
                said = f"card{'s' * (not alone)} {', '.join(map(str, others))}{page}"
                found.append((numbers, f"on {said if len(others) <= _OTHERS else 'other cards'}"))
            before = visit.order
            name = short_name(plan, visit.walk)
            rest = [laid_words(visit.laid) if len(self.card.visits) > 1 else "",
                    start_words(plan, self.card, visit),
                    way_words(plan, visit, self.pages, self._page, brief=brief)]  # fmt: skip
            found.append((f"{visit.order}", f"**{name}** {'; '.join(filter(None, rest))}"))
        return found

    def _place_columns(self, width: float) -> int:
        return 2 if width > _TWO and len(self.card.visits) > 1 else 1

    def _places_height(self, width: float) -> float:
        columns = self._place_columns(width)
        wide = (width - _GUTTER * (columns - 1)) / columns
        highs = [self._place_height(text, wide) for _, text in self.listed]
        per = math.ceil(len(highs) / columns)
        return max(sum(highs[k : k + per]) for k in range(0, len(highs), per)) + 3

    # How it is drawn

    @property
    def small(self) -> bool:
        """Whether half the width of a page is enough: one picture, few places, no piece."""
        alone = self.count == 1 and not self._arms
        return alone and len(self.listed) <= _FEW

    @property
    def tiny(self) -> bool:
        """Whether a third of the width of a page is enough: it has few strokes as well."""
        return self.small and len(self.moves) <= _FEW

    @property
    def count(self) -> int:
        """How many pictures it has."""
        return len(self._plates)

    def draw(self, sheet: Sheet, room: Box) -> Done:
        """Draw it, its pictures as large as the room allows; tell how far it is done."""
        self._title(sheet, room)
        return self.more(sheet, room._replace(top=room.top + _TITLE), Done(0, 0))

    def more(self, sheet: Sheet, room: Box, done: Done) -> Done:
        """Go on with it, maybe on another page; tell how far it is done."""
        width, y = room.width, room.top
        if done.plates < self.rows(width):
            highs = self._fitting(room, done)
            y = self._rows_of(sheet, room, highs, done.plates)
            done = done._replace(plates=done.plates + len(highs))
        if not done.told:
            if y + self._said(width) + self._first_place(width) > room.bottom + 0.1 and (
                y > room.top
            ):
                return done
            y = self._tell(sheet, room._replace(top=y))
        if done.places == len(self.listed):
            return done._replace(told=True)
        if y + self._first_place(width) > room.bottom + 0.1 and y > room.top:
            return done._replace(told=True)
        return Done(done.plates, self.places(sheet, room._replace(top=y), done.places), told=True)

    def _first_place(self, width: float) -> float:
        """Tell the height of the first place of the list, mm."""
        columns = self._place_columns(width)
        wide = (width - _GUTTER * (columns - 1)) / columns
        return self._place_height(self.listed[0][1], wide) + 3

    def _fitting(self, room: Box, done: Done) -> list[float]:
        """Tell how high the next rows of pictures are on a page: as many as it holds."""
        width = room.width
        least = self._least_rows(width, done.plates)
        natural = self._natural_rows(width, done.plates)
        rest = 0.0 if done.told else self._said(width)
        some = _SOME if done.places < len(self.listed) else 0.0
        places = some if done.places else self._places_height(width) + 3
        free = room.height - rest - places
        if sum(least) > free + 0.1:  # what is told of it goes on on the next page
            free = room.height - rest - some
        if least[0] > free:
            free = room.height
        count = 1
        while count < len(least) and sum(least[: count + 1]) <= free + 0.1:
            count += 1
        least, natural = least[:count], natural[:count]
        spare, want = free - sum(least), sum(natural) - sum(least)
        share = min(max(spare, 0.0) / want, 1.0) if want > 0 else 0.0
        highs = [low + (high - low) * share for low, high in zip(least, natural, strict=True)]
        return [min(high, room.height) for high in highs]

    def _rows_of(self, sheet: Sheet, room: Box, highs: Sequence[float], begin: int) -> float:
        """Draw rows of its pictures; give where they end."""
        width, y = room.width, room.top
        full = width - (self._list_width if self._side(width) else 0.0)
        for row, high in zip(self._in_rows(width)[begin:], highs, strict=False):
            self._row_of(sheet, Box(room.left, y, room.left + full, y + high), row)
            y += high
        if self._side(width):
            self._moves(sheet, Box(room.right - self._move, room.top, room.right, y))
        return y

    def _tell(self, sheet: Sheet, room: Box) -> float:
        """List the moves below the pictures, and write the note; give where that ends."""
        y = room.top
        if self._with_list and not self._side(room.width):
            y = self._moves(sheet, Box(room.left, y, room.right, room.bottom))
        for line in self._noted(room.width):
            sheet.write((room.left, y + 2.4), line, 9.0, "italic", colour=GREY)
            y += _NOTE
        return y

    def _row_of(self, sheet: Sheet, room: Box, row: Sequence[_Plate]) -> None:
        """Draw some of its pictures side by side."""
        wide = (room.width - _GUTTER * (len(row) - 1)) / len(row)
        for k, plate in enumerate(row):
            left = room.left + (wide + _GUTTER) * k
            box = Box(left, room.top + self._head, left + wide, room.bottom - 2)
            if plate.title:
                words = shortened(typeset(plate.title), wide, 9.5, "bold")
                sheet.write((left, room.top + 3.6), words, 9.5, "bold")
            self._plate(sheet, plate, box)

    def _title(self, sheet: Sheet, room: Box) -> None:
        plan = self.scene.plan
        base = room.top + 5.4
        count = len(self.card.visits)
        times = "once" if count == 1 else f"{count} times"
        thread = plan.runs[self.card.visits[0].walk.run - 1].thread
        right = f"{times}, {format_count(len(self.moves), 'stroke')}, {thread}"
        free = room.width - sheet.write(
            (room.right, base), right, 10, "italic", colour=GREY, align="right"
        )
        number = f"Card {self.card.number}"
        words = shortened(f"{number}: {card_name(plan, self.card)}", free - 4, 14, "bold")
        words = number if words.rstrip(": …") == number else words
        sheet.bookmark(words, room.top, level=1)
        sheet.write((room.left, base), words, 14, "bold")
        sheet.rule(room.left, room.right, room.top + 7.4, colour=INK)

    def _plate(self, sheet: Sheet, plate: _Plate, box: Box) -> float:
        """Draw one picture; give where it ends."""
        walk = plate.visit.walk
        mine = moves_of(walk.strokes)
        before, passes = mine[: plate.share.first], Passes(self.scene.plan)
        for move in before:
            passes.of(walk, move)
        shown = [
            (f"{k + 1}", mine[k].back is not None, passes.of(walk, mine[k]))
            for k in range(plate.share.first, plate.share.last + 1)
        ]
        view = View.fit(sheet, self._window(plate), box, 10.0)
        shift = view.box.left - box.left  # flush left beside the other words
        view = View(sheet, view.window, view.box._replace(
            left=box.left, right=view.box.right - shift, top=box.top,
            bottom=box.top + view.box.height))  # fmt: skip
        run = self.scene.plan.runs[walk.run - 1]
        last = mine[plate.share.last].strokes[-1]
        begin = mine[plate.share.first].out.points[0]
        alike = [visit.walk for visit in self.card.visits]
        starts = plate.share.first == 0 and run.start_where == "inside"
        starts = starts and all(walk.first_leg == 0 for walk in alike)
        ends = last.last_leg == len(run.legs) - 1 and run.end_where == "inside"
        ends = ends and all(
            walk.last_leg == len(self.scene.plan.runs[walk.run - 1].legs) - 1 for walk in alike
        )
        labels = Labels(sheet, view.box.grown(-_FRAME if self._arms else 0.0))
        labels.block_lines(
            view.onto(stroke.points) for move in mine for stroke in move.strokes if self._arms
        )
        for x, y in view.onto(np.array([begin, last.points[-1]])).tolist() if self._arms else ():
            labels.block(Box(x - _MARK, y - _MARK, x + _MARK, y + _MARK))
        self._number_arms(view, plate, mine[plate.share.first : plate.share.last + 1], labels)
        drawing = Plate(
            shown,
            run.thread,
            (begin, starts),
            (last.points[-1], ends),
            [stroke.points for move in before for stroke in move.strokes],
        )
        draw_plate(view, self.scene, drawing, labels, low=self.card.low)
        if self._arms:
            middle = view.onto(plate.visit.laid.onto(self._arms[0].middle[None]))[0]
            for way in (np.array([1.6, 0.0]), np.array([0.0, 1.6])):  # through the centre
                sheet.draw([np.array([middle - way, middle + way])], width=0.5, clip=view.box)
        sheet.rectangle(view.box, None, edge=GREY, width=0.15)
        return view.box.bottom

    def _window(self, plate: _Plate) -> Box:
        """Frame what is shown: the moves, and all of a piece where it is one picture."""
        mine = moves_of(plate.visit.walk.strokes)
        some = mine[plate.share.first : plate.share.last + 1]
        whole = [stroke.points for move in mine for stroke in move.strokes]
        points = [stroke.points for move in some for stroke in move.strokes]
        if not self._arms and _size(points) > _PART * _size(whole):
            points = whole  # the same frame on each picture, so that the place is known again
        area = plate.visit.walk.area
        if area is not None and len(area.pieces) == 1 and len(some) == len(mine):
            left, top, right, bottom = self.scene.plan.top.pieces[area.pieces[0]].shape.bounds
            points.append(np.array([[left, top], [right, bottom]]))
        low = np.min([p.min(axis=0) for p in points], axis=0)
        high = np.max([p.max(axis=0) for p in points], axis=0)
        pad = max((_NAMED if self._arms else _PAD) * float((high - low).max()), 4.0)
        return Box(*map(float, (*(low - pad), *(high + pad))))

    def _number_arms(self, view: View, plate: _Plate, some: Sequence[Move], labels: Labels) -> None:
        """Write the numbers of the arms of a piece at the tips that moves come to."""
        for arm in self._arms:
            for tip in arm.tips:
                ends = plate.visit.laid.onto(np.array([arm.middle, tip.point]))
                if not any(_at_end(move, ends[1]) for move in some):
                    continue
                at, middle = view.onto(ends)[[1, 0]]
                way = (at - middle) / max(float(np.hypot(*(at - middle))), 1e-9)
                name = tip.name
                if plate.visit.laid.over:
                    swap = {"left": "right", "right": "left"}
                    name = " ".join(swap.get(word, word) for word in name.split())
                text = f"{arm.number} {name}" if name else f"arm {arm.number}"
                size = 6.4 if name else 9.0
                places = _beyond(at, way, text_width(text, size, "label"))
                labels.put(text, places, size, INK, over=not name)

    def _moves(self, sheet: Sheet, room: Box) -> float:
        """List the moves: number, turn, length; give where the list ends."""
        across = max(int((room.width + 0.1) / self._move), 1)
        rows = math.ceil(len(self.moves) / across)
        for k, (move, told) in enumerate(zip(self.moves, self._told, strict=True)):
            column, row = divmod(k, rows)
            x, base = room.left + column * self._move, room.top + _ROW * (row + 1) - 1.0
            sheet.write((x + 4.6, base), f"{k + 1}", _SIZE, "bold", align="right")
            draw_turn(sheet, (x + 8.2, base - 1.15), move.out.turn)
            sheet.write((x + 11.0, base), told, _SIZE)
        return room.top + rows * _ROW + 2

    def places(self, sheet: Sheet, room: Box, begin: int = 0) -> int:
        """List the places in order from one on, as many as there is room; give how many are done.

        At least one is written.
        """
        listed = self.listed[begin:]
        columns = self._place_columns(room.width)
        wide = (room.width - _GUTTER * (columns - 1)) / columns
        highs = [self._place_height(text, wide) for _, text in listed]
        per = math.ceil(len(listed) / columns)
        sheet.rule(room.left, room.right, room.top)
        done = 0
        for k in range(columns):
            left, y = room.left + k * (wide + _GUTTER), room.top + 1.2
            for _ in range(per):
                if done == len(listed) or (done and y + highs[done] > room.bottom + 0.1):
                    break
                number, text = listed[done]
                base = y + _SIZE * 0.96 * POINT
                x = left + self._indent
                sheet.write((x - 1.5, base), number, _SIZE, "bold", align="right")
                y = sheet.paragraph((x, y), wide - self._indent, text, _SIZE) + 0.5
                done += 1
        return begin + done

    def _place_height(self, text: str, wide: float) -> float:
        return len(broken(text, wide - self._indent, _SIZE)) * _SIZE * 1.22 * POINT + 0.5

    @cached_property
    def _indent(self) -> float:
        """Leave room for the widest number before the places, mm: a span of others is wide."""
        return max(8.0, *(text_width(number, _SIZE, "bold") + 1.5 for number, _ in self.listed))


def _tall(window: Box) -> bool:
    return window.height > _TALL * window.width


def _size(paths: Sequence[FloatArray]) -> float:
    """Give the longer side of the box round paths."""
    return float(np.ptp(np.concatenate(paths), axis=0).max())


def _numbers(first: int, last: int) -> str:
    """Write a span of numbers."""
    return f"{first}" if first == last else f"{first} to {last}"


def _at_end(move: Move, point: FloatArray) -> bool:
    ends = move.out.points[[0, -1]]
    return bool(np.hypot(*(ends - point).T).min() < _NEAR)


def _move_words(move: Move, far: str) -> str:
    """Tell how far or where a move goes, whether again, and whether it comes back."""
    again = " again" if all(part.do == "retrace" for part in move.out.parts) else ""
    only = " travel" if all(part.do == "travel" for part in move.out.parts) else ""
    back = " and back" if move.back is not None else ""
    return typeset(f"{far}{again}{only}{back}")


def _beyond(at: FloatArray, way: FloatArray, width: float) -> FloatArray:
    """Give places for a word beyond the tip of an arm, mm on the sheet, shape (n, 2)."""
    half = float(np.abs(way) @ np.array([width / 2, 1.4]))
    turns = np.radians([0, 25, -25, 50, -50, 80, -80, 120, -120])
    return np.array(
        [
            at + (half + out) * np.array([
                way[0] * np.cos(t) - way[1] * np.sin(t),
                way[0] * np.sin(t) + way[1] * np.cos(t),
            ])
            for out in (2.6, 4.0, 6.0)
            for t in turns
        ]
    )  # fmt: skip


def card_panels(
    scene: Scene, found: Sequence[Card], pages: Pages | None = None, *, wide: bool = True
) -> Iterator[CardPanel]:
    """Make the panels of cards; `pages` tells where pictures stand, `wide` of large paper."""
    on = {visit.order: card.number for card in found for visit in card.visits}
    for card in found:
        yield CardPanel(scene, card, on, pages or {}, wide)
