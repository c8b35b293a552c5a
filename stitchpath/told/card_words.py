"""The words of route cards: what is stitched, how the card lies there, how to get there."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from stitchpath.base.units import format_judged
from stitchpath.plan import Plan, once
from stitchpath.told.anchors import pictures
from stitchpath.told.arms import arms_of
from stitchpath.told.cards import Card, Laid, Visit, by_pass, carded, cards
from stitchpath.told.chapters import Chapter, chapters
from stitchpath.told.directions import directions, teller_of
from stitchpath.told.feet import feet_put_on
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.stops import stops_by_run
from stitchpath.told.walks import Walk, moves_of, walks
from stitchpath.top.place import Subject
from stitchpath.top.place_names import arrow, clock, join_words

__all__ = [
    "Entry",
    "Pages",
    "card_name",
    "course",
    "drawn_by_step",
    "drawn_words",
    "laid_words",
    "page_words",
    "seams_title",
    "short_name",
    "spot_words",
    "start_words",
    "way_words",
]

Pages: TypeAlias = Mapping[tuple[Literal["picture", "card"], int], int]
"""On which page of the printed guide each picture and each card begins, by its number."""

_MANY = 5  # strokes of a way, told one by one
_LEVEL = 2.0  # degrees: so little turned no one turns the page
_QUARTER = 90.0
_END = {"margin": "cut the threads", "edge": "cut the threads", "inside": "bury the tails"}


def _area_name(plan: Plan, area: Subject) -> str:
    """Name an area in full, as in "boat A3", "the starfish on A2"."""
    places = plan.places
    if len(area.pieces) == 1:
        return places.piece(area.pieces[0], the=True)
    if area.place is not None and not area.around:
        return places.area(area.place)
    return places.subject(area, the=True)


def short_name(plan: Plan, walk: Walk, *, on: str = "on ") -> str:
    """Name where a walk is as shortly as can be, for the list of a card that says what it is.

    Parameters
    ----------
    plan, walk
        The walk, and whose it is.
    on
        What stands before the block that a piece lies on.
    """
    area = walk.area
    if area is None:
        return ""
    place = area.place
    if place is not None and place.part == "block" and not area.around:
        return plan.places.block(place)
    if area.motif >= 0:
        return f"at {teller_of(plan).marks.at(walk.start)}"
    host = plan.top.pieces[area.pieces[0]].host if len(area.pieces) == 1 else None
    alone = sum(piece.host == host for piece in plan.top.pieces) == 1
    return f"{on}{plan.places.block(host)}" if host and alone else _area_name(plan, area)


def card_name(plan: Plan, card: Card) -> str:
    """Name what a card shows, without its place: "boat", "starfish"."""
    names = sorted({_plain(plan, visit.walk) for visit in card.visits})
    return join_words(names[:3]) + (" and more" if len(names) > 3 else "")  # noqa: PLR2004 - few


def _plain(plan: Plan, walk: Walk) -> str:
    area = walk.area
    assert area is not None  # noqa: S101 - a card is of areas
    if len(area.pieces) == 1:
        return plan.top.pieces[area.pieces[0]].asked.name
    if area.motif >= 0:
        return "motif"
    if area.place is not None and area.place.part == "block" and not area.around:
        block = next((b.block.name for b in plan.top.blocks if b.place == area.place), "")
        return block or _area_name(plan, area)
    return _area_name(plan, area)


def laid_words(laid: Laid) -> str:
    """Say how to turn the card so that it lies as the area does."""
    turn = round(laid.turn)
    said = "mirrored" if laid.over else ""
    if abs(laid.turn) < _LEVEL:
        return said or "as drawn"
    if abs(abs(turn) - 180) < _LEVEL:
        how = "upside down"
    else:
        hand = "right" if turn > 0 else "left"
        near = abs(abs(turn) - _QUARTER) < _LEVEL
        how = f"¼ turn {hand}" if near else f"turned {abs(turn)}° {hand}"
    return f"{said}, {how}" if said else how


def start_words(plan: Plan, card: Card, visit: Visit) -> str:
    """Say at which arm of a piece the needle begins, and where that arm points there."""
    area = visit.walk.area
    if area is None or len(area.pieces) != 1:
        return ""
    first = card.visits[0].walk
    arms = arms_of(plan, first.area.pieces[0]) if first.area else ()
    for arm in arms:
        for tip in arm.tips:
            if np.hypot(*(tip.point - first.start)) < 1.0:
                middle = visit.laid.onto(arm.middle[None])[0]
                hour = clock(visit.walk.start - middle)
                branch = f", {tip.name}" if tip.name else ""
                return f"start at arm {arm.number}{branch}, at {hour}"
    if arms and np.hypot(*(arms[0].middle - first.start)) < 1.0:
        return "start in the middle"
    return ""


def drawn_words(plan: Plan, card: Card, visit: Visit, page: int) -> str:
    """Say on which page of the printed guide a walk is drawn, and how it lies there.

    Parameters
    ----------
    plan, card, visit
        The card, and the place where it is stitched.
    page
        Where the card begins.

    Returns
    -------
    str
        Such as "Stitch the starfish on A2 as drawn on page 3, starting at arm 2, at 4 o'clock."
    """
    area = visit.walk.area
    name = _area_name(plan, area) if area is not None else card_name(plan, card)
    laid = laid_words(visit.laid)
    lies = "" if laid == "as drawn" else f", {laid}"
    start = start_words(plan, card, visit).replace("start ", "starting ", 1)
    return f"Stitch {name} as drawn on page {page}{lies}{f', {start}' if start else ''}."


def drawn_by_step(plan: Plan, pages: Pages) -> dict[tuple[int, int], str]:
    """Say where walks are drawn, each before the step that begins it.

    Parameters
    ----------
    plan
        The plan.
    pages
        Where its cards stand in the guide.

    Returns
    -------
    dict
        By the number of the run and the index of the step.
    """
    found: dict[tuple[int, int], str] = {}
    told = directions(plan)
    for (run, first), (card, visit) in carded(plan).items():
        if ("card", card.number) not in pages:
            continue
        steps = told[run - 1].steps
        within = (k for k, step in enumerate(steps) if first <= step.first_leg)
        step = next(within, len(steps))
        if step == len(steps) or steps[step].first_leg > visit.walk.last_leg:
            step = told[run - 1].step_of(first) - 1
        said = drawn_words(plan, card, visit, pages["card", card.number])
        found[run, step] = " ".join(filter(None, [found.get((run, step), ""), said]))
    for chapter in chapters(plan):
        shown = _pictures_of(plan, chapter)
        key = chapter.run, chapter.first_step
        if shown and key not in found and ("picture", shown[0]) in pages:
            page = pages["picture", shown[0]]
            found[key] = f"Drawn in {_span('picture', shown[0], shown[-1])}, page {page}."
    return found


def _pictures_of(plan: Plan, chapter: Chapter) -> list[int]:
    """Give the pictures of the guide in which legs of a chapter are drawn, in order."""
    legs = range(chapter.first_leg, chapter.last_leg + 1)
    return [
        picture.number
        for picture in pictures(plan)
        if any(
            mark.walk.run == chapter.run
            and stroke.first_leg <= legs[-1]
            and stroke.last_leg >= legs[0]
            for mark in picture.marks
            for stroke in mark.move.strokes
        )
    ]


def page_words(pages: Pages, what: Literal["picture", "card"], number: int, here: int = 0) -> str:
    """Name the page of a picture or card, after a comma; "" where it is not known, or is `here`."""
    page = pages.get((what, number), here)
    return f", page {page}" if page != here else ""


def way_words(
    plan: Plan, visit: Visit, pages: Pages | None = None, here: int = 0, *, brief: bool = False
) -> str:
    """Say how to get to an area from what is stitched before it, in arrows on the quilt.

    Parameters
    ----------
    plan, visit
        The place that is come to.
    pages
        Where pictures stand in the guide.
    here
        The page where this is read.
    brief
        Whether the card's own mark is to tell where a run begins on it.

    Returns
    -------
    str
        Such as "→ 22 in, ↑ 1 3/4 in"; where the run begins, or after which picture; and how one
        leaves the quilt, if the run ends on a way from there.
    """
    walk = visit.walk
    if brief and walk.first_leg == 0:
        return f"run {walk.run} begins{_feet(plan, walk)}{_leaving(plan, walk)}"
    return f"{_way(plan, walk, pages or {}, here)}{_feet(plan, walk)}{_leaving(plan, walk)}"


def _leaving(plan: Plan, walk: Walk) -> str:
    """Say how to get from an area to where the run ends, where that is a way of its own."""
    run = plan.runs[walk.run - 1]
    last = len(run.legs) - 1
    ends = f"run {run.number} ends: {_END[run.end_where]}"
    if walk.last_leg == last:
        return f"; {ends}" if walk.first_leg else ""  # a run of its own begins and ends there
    way = _after(plan)[walk.run, walk.first_leg]
    told = carded(plan).keys() | _pictured(plan).keys() | by_pass(plan).keys()
    if way.last_leg < last or (way.run, way.first_leg) in told:
        return ""
    return f"; after it {_strokes_told(plan, way, teller_of(plan).ends(run)[1])}; {ends}"


def _feet(plan: Plan, walk: Walk) -> str:
    """Say which foot is put on with the needle down, on the way or there."""
    before = _before(plan).get((walk.run, walk.first_leg))
    same = before is not None and before.run == walk.run
    way = before is not None and same and (before.run, before.first_leg) not in carded(plan)
    begin = before.first_leg if before and way else walk.first_leg
    changed = [
        foot
        for (run, leg), foot in feet_put_on(plan).items()
        if run == walk.run and leg and begin <= leg <= walk.last_leg
    ]
    return "".join(f"; needle down, put on the {foot} foot" for foot in changed)


def _way(plan: Plan, walk: Walk, pages: Pages, here: int) -> str:
    begins = f"run {walk.run} begins: {teller_of(plan).ends(plan.runs[walk.run - 1])[0]}"
    if walk.first_leg == 0:
        return begins
    way = _before(plan)[walk.run, walk.first_leg]
    if (way.run, way.first_leg) in carded(plan).keys() | by_pass(plan).keys():
        return "straight from there"
    if (way.run, way.first_leg) in _pictured(plan):
        number, picture = _pictured(plan)[way.run, way.first_leg][-1]
        return f"after {number} in picture {picture}{page_words(pages, 'picture', picture, here)}"
    told = _strokes_told(plan, way, teller_of(plan).marks.at(walk.start))
    return told if way.first_leg else f"{begins}; {told}"


def _strokes_told(plan: Plan, way: Walk, to: str) -> str:
    """Tell a way between areas stroke by stroke, a long one by where it leads."""
    unit = plan.top.unit
    if len(way.strokes) > _MANY:
        far = format_judged(sum(stroke.length for stroke in way.strokes), unit)
        return f"{far} along the seams to {to}"
    told = []
    for stroke in way.strokes:
        points = stroke.points
        heads = arrow(points[-1] - points[0])
        margin = " in the margin" * all(part.what == "margin" for part in stroke.parts)
        told.append(f"{heads} {format_judged(stroke.length, unit)}{margin}")
    return ", ".join(told)


@once
def _before(plan: Plan) -> dict[tuple[int, int], Walk]:
    """Give what is walked just before each walk, by its run and first leg."""
    rows = walks(plan)
    return {(b.run, b.first_leg): a for a, b in pairwise(rows)}


@once
def _after(plan: Plan) -> dict[tuple[int, int], Walk]:
    """Give what is walked just after each walk, by its run and first leg."""
    return {(a.run, a.first_leg): b for a, b in pairwise(walks(plan))}


@once
def _pictured(plan: Plan) -> dict[tuple[int, int], list[tuple[int, int]]]:
    """Give the numbers of each walk between areas, each with its picture, by run and first leg."""
    found: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    for picture in pictures(plan):
        for mark in picture.marks:
            for walk in mark.row or (mark.walk,):
                found[walk.run, walk.first_leg].append((mark.number, picture.number))
    return dict(found)


def spot_words(plan: Plan, run: int, leg: int, pages: Pages | None = None) -> str:
    """Say where a leg of a run is found: on which card or picture, by which number.

    Parameters
    ----------
    plan
        The plan.
    run
        Number of the run.
    leg
        Index of the leg.
    pages
        Where cards and pictures stand in the guide.

    Returns
    -------
    str
        Such as "number 3 of card 1 at D2", "number 14 in picture 2", "on the way to card 1 at D2".
    """
    seen = False
    for walk in walks(plan):
        seen |= walk.run == run and walk.first_leg <= leg <= walk.last_leg
        if not seen:
            continue
        key = walk.run, walk.first_leg
        if key in by_pass(plan):
            return f"in pass {by_pass(plan)[key]}"
        if key in carded(plan):
            card = carded(plan)[key][0]
            page = page_words(pages or {}, "card", card.number)
            where = f"card {card.number} at {short_name(plan, walk, on='')}{page}"
            inside = walk.run == run and walk.first_leg <= leg
            return (
                f"number {_move_of(walk, leg)} of {where}" if inside else f"on the way to {where}"
            )
        if key in _pictured(plan):
            number, picture = _numbered(plan, walk, leg)
            page = page_words(pages or {}, "picture", picture)
            return f"number {number} in picture {picture}{page}"
    return f"at the end of run {run}"


def _move_of(walk: Walk, leg: int) -> int:
    """Give the number, from 1, of the move of a walk that takes in a leg."""
    for k, move in enumerate(moves_of(walk.strokes), start=1):
        if leg <= move.strokes[-1].last_leg:
            return k
    return 1


def _numbered(plan: Plan, walk: Walk, leg: int) -> tuple[int, int]:
    """Give number and picture of a leg of a walk between areas."""
    told = _pictured(plan)[walk.run, walk.first_leg]
    inside = walk.first_leg <= leg <= walk.last_leg and len(told) > 1
    return told[_move_of(walk, leg) - 1] if inside else told[0]


class Entry(NamedTuple):
    """A line of what is done one after another.

    Attributes
    ----------
    kind
        A stop, or stitching from pictures, from a card or by the sheet of a pass.
    text
        Its words.
    number
        Of the card, the pass, or of the first picture; of a stop that of the pass that it leads
        to, whose sheet tells it, else 0.
    """

    kind: Literal["stop", "picture", "card", "pass"]
    text: str
    number: int = 0


@once
def course(plan: Plan) -> tuple[Entry, ...]:
    """List what is done one after another: pictures, cards with their places, passes, stops.

    Parameters
    ----------
    plan
        The plan.
    """
    card_of = carded(plan)
    shown = _pictured(plan)
    begins = {sheet.begins: sheet.number for sheet in pass_sheets(plan)[1:]}
    found: list[Entry] = []
    some: list[_Told] = []  # what makes one line

    def told() -> None:
        if some:
            found.append(_entry(plan, some))
            some.clear()

    for walk in walks(plan):
        key = walk.run, walk.first_leg
        for stop in stops_by_run(plan)[walk.run]:
            due = stop.leg == walk.first_leg and stop.kind in ("start", "run", "park")
            quiet = stop.rolls if by_pass(plan) else stop.plain
            if due and not quiet:
                told()
                found.append(Entry("stop", stop.heading, begins.get((stop.run, stop.leg), 0)))
        if key in by_pass(plan):
            told()
            sheet = pass_sheets(plan)[by_pass(plan)[key] - 1]
            found.append(Entry("pass", sheet.title, sheet.number))
            continue
        card, visit = card_of.get(key, (None, None))
        if card is None and key not in shown:
            continue
        if some and some[-1].card is not card:
            told()
        if card is None:
            some += [_Told(None, None, *pair) for pair in shown[key]]
        else:
            some.append(_Told(card, visit))
    told()
    return tuple(found)


class _Told(NamedTuple):
    """A place of a card, or a number in a picture."""

    card: Card | None
    visit: Visit | None
    number: int = 0
    picture: int = 0


def _entry(plan: Plan, some: Sequence[_Told]) -> Entry:
    card = some[0].card
    if card is not None:
        visits = [each.visit for each in some if each.visit is not None]
        return Entry("card", _visited(plan, card, visits), card.number)
    span = _span("picture", some[0].picture, some[-1].picture)
    numbers = _span("number", some[0].number, some[-1].number)
    return Entry("picture", f"{seams_title(plan)}: {span}, {numbers}", some[0].picture)


def _span(what: str, first: int, last: int) -> str:
    """Word a span of numbers, as in "picture 2", "pictures 1 and 2", "numbers 4 to 9"."""
    if first == last:
        return f"{what} {first}"
    return f"{what}s {first} {'and' if last == first + 1 else 'to'} {last}"


def seams_title(plan: Plan) -> str:
    """Name what is stitched on no card."""
    if not cards(plan):
        return "The lines"
    loose = any(mark.walk.area is not None for picture in pictures(plan) for mark in picture.marks)
    return "Lines between the cards" if loose else "Seams between the areas"


def _visited(plan: Plan, card: Card, some: Sequence[Visit]) -> str:
    names = [short_name(plan, visit.walk) for visit in some]
    first, last = some[0].order, some[-1].order
    span = f"{first}" if first == last else f"{first} to {last}"
    return f"Card {card.number}, {card_name(plan, card)} ({span}): {', '.join(names)}"
