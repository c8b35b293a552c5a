"""The cover: the quilted top, the job in a sentence, what comes when, the numbers that matter."""

import math
from collections.abc import Iterator, Mapping, Sequence

from stitchpath.base.typing import Kind
from stitchpath.base.units import MM_PER, Unit, format_count, format_length
from stitchpath.export.guide.drawing import View, draw_strokes, draw_top, styles_of
from stitchpath.export.guide.maps import draw_map, draw_rulers, map_height
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import POINT, broken, shortened, text_width, typeset
from stitchpath.export.pdf.page import LEFT, RIGHT, section
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.told.anchors import pictures
from stitchpath.told.card_words import course
from stitchpath.told.cards import by_pass, cards
from stitchpath.top.build import Piece
from stitchpath.top.place_names import join_words

__all__ = ["clock_words", "cover_page", "draw_quilting", "job_sentence", "map_on_cover", "to_buy"]

_FEW = 8  # areas, and runs, of a small quilt
_WIDE = 1.6  # times as wide as high: picture and map stand one above the other
_NARROW = 160.0  # mm: paper less wide is small
_COURSE = 10.0  # points
_ASIDE = 22.0  # mm: for the mark before a line of the course, and its page
_MOST = 16  # lines of what comes when
_LONG = 8  # pages: of more the cover says why

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_HOW: dict[Kind, str] = {
    "ditch": "in the ditch",
    "centre": "through the middle of the pieces",
    "outline": "inside the edges",
    "echo": "in echoes",
    "fill": "the fills",
    "drawn": "along the drawn lines",
}


def cover_page(
    scene: Scene, paper: Paper, pages: Mapping[tuple[str, int], int], count: int
) -> Sheet:
    """Draw the cover: the top with its quilting, the job in a sentence, what comes when.

    Where there are few areas the map stands on it too, or instead of the picture.

    Parameters
    ----------
    scene
        The plan.
    paper
        Its size.
    pages
        On which page each thing of `course` stands, by its kind and number.
    count
        How many pages there are.
    """
    plan = scene.plan
    job = f"{job_sentence(plan)}{_why_so_long(plan, paper, count)}"
    sheet = Sheet(paper)
    width = sheet.width - LEFT - RIGHT
    name = plan.top.name
    sheet.bookmark(name)
    size = min(34.0, 34.0 * width / text_width(name, 34.0, "bold"))
    title = name if size > 14 else shortened(name, width, 16.0, "bold")  # noqa: PLR2004 - points
    sheet.write((LEFT, 29), title, max(size, 14.0), "bold")
    sheet.write((LEFT, 36), "where the needle goes, card by card", 13, "italic", colour=GREY)
    sheet.rule(LEFT, sheet.width - RIGHT, 40, colour=INK)
    numbers = _numbers(plan)
    columns = 4 if paper.width > _NARROW else 2
    small = columns == 2  # noqa: PLR2004 - a small page
    if map_on_cover(scene, paper) or small:
        numbers = [numbers[k] for k in ((0, 7) if small else (0, 1, 4, 7))]
    floor = sheet.height - 20 - 15 * math.ceil(len(numbers) / columns)
    said = 11.0 if small else 13.5
    words = len(broken(job, width, said)) * said * 1.22 * POINT + 3.2
    words += _course_height(plan, width)
    swatches = 0.0 if small else 7.5 * _swatch_rows(plan, width)
    room = Box(LEFT, 45, sheet.width - RIGHT, floor - words - swatches - 6)
    y = _pictures(sheet, scene, room)
    y = y + 4 if small else _swatches(sheet, plan, y + 4)
    y = sheet.paragraph((LEFT, y), width, job, said)
    _course(sheet, plan, (LEFT, y + 2), width, pages)
    _grid(sheet, numbers, floor + 2, columns)
    return sheet


def _why_so_long(plan: Plan, paper: Paper, count: int) -> str:
    """Tell why a guide is long, and what makes it shorter; "" of one that is not."""
    if count <= _LONG or paper.width < _NARROW:
        return ""
    ways = len(cards(plan))
    places = sum(len(card.visits) for card in cards(plan))
    said = f" This guide has {count} pages:"
    if places:
        many = format_count(places, "place")
        said += f" {many} in areas are stitched in {format_count(ways, 'way')},"
    numbers = sum(len(picture.marks) for picture in pictures(plan))
    said += f" {format_count(numbers, 'line')} between them."
    if not plan.design.in_taught_order:
        said += " In the order that is taught more would be alike."
    return said


def map_on_cover(scene: Scene, paper: Paper) -> bool:
    """Tell whether the cover holds the map as well: where there are few areas, on a wide page."""
    if paper.width < _NARROW:
        return False
    areas = sum(len(card.visits) for card in cards(scene.plan)) + len(by_pass(scene.plan))
    return 0 < areas <= _FEW and len(scene.plan.runs) <= _FEW


def _pictures(sheet: Sheet, scene: Scene, room: Box) -> float:
    """Draw the quilted top, and the map where it belongs here; give where they end."""
    top = scene.plan.top
    window = Box(0.0, 0.0, top.width, top.height)
    small = map_on_cover(scene, sheet.paper)
    if small and top.width < _WIDE * top.height:
        return draw_map(sheet, scene, room)
    below = map_height(scene, room.width) + 4 if small else 0.0
    if top.squares and not small:  # places are told by them: room for their rulers
        room = room._replace(left=room.left + 5, top=room.top + 4)
    high = max(room.height - below, 0.3 * room.height)
    view = View.fit(sheet, window, room._replace(bottom=room.top + high))
    left, high = view.box.left, view.box.height
    view = View(sheet, window, Box(left, room.top, view.box.right, room.top + high))
    draw_top(view, scene, seams=0.12)
    draw_quilting(view, scene)
    if not small:
        if top.squares:
            draw_rulers(view, scene.plan)
        return view.box.bottom
    return draw_map(sheet, scene, room._replace(top=view.box.bottom + 4))


def draw_quilting(view: View, scene: Scene) -> None:
    """Draw what is stitched, in the thread's own colour, each line once.

    Where a line would be lost on a fabric it lies on a wider one, light or dark.
    """
    shown = [(s, view.onto(s.points)) for s in scene.strokes if s.do != "retrace"]
    draw_strokes(view, scene.plan, shown, styles_of(scene.plan, 1.0), 0.75)


def _course_height(plan: Plan, width: float) -> float:
    entries = course(plan)[:_MOST]
    lines = sum(len(broken(entry.text, width - _ASIDE, _COURSE)) for entry in entries)
    return 9.0 + lines * _COURSE * 1.22 * POINT + 0.4 * len(entries)


def _course(
    sheet: Sheet,
    plan: Plan,
    at: tuple[float, float],
    width: float,
    pages: Mapping[tuple[str, int], int],
) -> None:
    """List what comes when, stops marked, each with its page."""
    left, y = at
    y = section(sheet, (left, y), width, "What comes when") + 0.4
    entries = course(plan)
    for k, entry in enumerate(entries[:_MOST]):
        text, stop = entry.text, entry.kind == "stop"
        base = y + 0.96 * _COURSE * POINT
        if k == _MOST - 1 and len(entries) > _MOST:
            text = f"and {len(entries) - _MOST + 1} more, as the cards tell"
        else:
            page = f"page {pages[entry.kind, entry.number]}"
            sheet.write((left + width, base), page, _COURSE, colour=GREY, align="right")
        if stop:
            sheet.rectangle(Box(left + 1.2, y + 1.0, left + 3.8, y + 3.6), INK)
        else:
            sheet.disc((left + 2.5, y + 2.3), 1.1, None, edge=INK)
        y = sheet.paragraph((left + 7, y), width - _ASIDE, text, _COURSE) + 0.4


def job_sentence(plan: Plan) -> str:
    """Tell the job in a sentence or two."""
    # In a frame threads take turns, pass by pass.
    groups = dict.fromkeys((run.stage, run.thread) for run in plan.runs)
    parts = []
    before = [p for p in plan.top.pieces if p.asked.fused == "before"]
    if before:
        parts.append(f"with {_pieces(before)} fused on")
    stage = 1
    for at, thread in groups:
        runs = [run for run in plan.runs if (run.stage, run.thread) == (at, thread)]
        if at > stage:
            after = [p for p in plan.top.pieces if p.asked.fused == "after"]
            if after:
                parts.append(f"fuse {_pieces(after)}")
            stage = at
        kinds = dict.fromkeys(
            plan.lines[leg.line].kind for run in runs for leg in run.legs if leg.line >= 0
        )
        how = join_words([_HOW[kind] for kind in kinds])
        many = "one unbroken run" if len(runs) == 1 else f"{_number(len(runs))} runs"
        parts.append(f"quilt {how} with {thread}, in {many}")
    text = "; then ".join(parts) if not before else f"{parts[0]}, {'; then '.join(parts[1:])}"
    how = "in a frame, loaded sideways" if plan.sideways else "in a frame"
    passes = f", pass by pass {how}, {_number(len(plan.windows))} passes"
    text += passes if plan.levels else ""
    return f"{text[:1].upper()}{text[1:]}."


def _pieces(pieces: Sequence[Piece]) -> str:
    counts: dict[str, int] = {}
    for piece in pieces:
        counts[piece.asked.name] = counts.get(piece.asked.name, 0) + 1
    said = [
        f"the {n}" if k == 1 else f"the {_number(k)} {n.removesuffix(' piece')} pieces"
        for n, k in counts.items()
    ]
    return join_words(said)


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else f"{count}"


def clock_words(seconds: int) -> str:
    """Write a time to the minute.

    Examples
    --------
    >>> clock_words(3725)
    '1 h 2 min'
    """
    minutes = max(round(seconds / 60), 1)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"  # noqa: PLR2004


def to_buy(length: float, unit: Unit) -> str:
    """Write a length of thread, mm, as shops do: metres, and yards before them beside inches.

    Examples
    --------
    >>> to_buy(13650.0, "in"), to_buy(334516.0, "cm")
    ('14.9 yd (13.7 m)', '335 m')
    """
    metres, yards = _shop_lengths(length)
    return f"{yards} ({metres})" if unit == "in" else metres


def _shop_lengths(length: float) -> tuple[str, str]:
    """Write a length, mm, in metres and in yards."""
    metres, yards = (f"{_rounded(length / MM_PER[name])} {name}" for name in ("m", "yd"))
    return metres, yards


def _rounded(value: float) -> str:
    return f"{value:.0f}" if value >= 99.95 else f"{value:.1f}"  # noqa: PLR2004 - three figures


def _numbers(plan: Plan) -> list[tuple[str, str]]:
    """List the numbers that matter, each with what it is."""
    unit, totals = plan.top.unit, plan.totals
    width, height = (format_length(v, unit) for v in (plan.top.width, plan.top.height))
    again = totals.retraced + totals.travelled
    thread = sum(use.total for use in plan.thread.uses)
    bobbins = sum(use.bobbins for use in plan.thread.uses)

    def far(length: float, what: str) -> tuple[str, str]:
        metres, yards = _shop_lengths(length)
        return yards if unit == "in" else metres, what

    return [
        (f"{width} × {height}", "finished size"),  # noqa: RUF001 - the sign
        far(totals.stitched, "to stitch"),
        far(again, "again, or only to get there"),
        (
            format_count(totals.runs, "run"),
            f"with {format_count(totals.breaks, 'thread break')}",
        ),
        (f"{plan.pivots}", f"turns, corners and all, {plan.about_turns or 'none'} straight back"),
        far(thread, "of thread, bobbins and waste in it"),
        (format_count(bobbins, "bobbin"), "to wind"),
        (clock_words(sum(spent.total for spent in plan.times)), "at the machine, at an easy pace"),
    ]


def _grid(sheet: Sheet, numbers: list[tuple[str, str]], y: float, columns: int) -> None:
    """Write the numbers in columns."""
    wide = (sheet.width - LEFT - RIGHT) / columns
    for k, (value, what) in enumerate(numbers):
        x, top = LEFT + wide * (k % columns), y + 15 * (k // columns)
        sheet.rule(x, x + wide - 5, top, colour=INK)
        text = typeset(value)
        size = min(15.0, 15.0 * (wide - 6) / text_width(text, 15.0, "bold"))
        sheet.write((x, top + 6.6), text, size, "bold")
        sheet.paragraph((x, top + 7.6), wide - 6, what, 8.8, colour=GREY, leading=1.1)


def _swatch_places(plan: Plan, width: float) -> Iterator[tuple[str, float, int]]:
    x, row = 0.0, 0
    for name in plan.top.fabrics:
        wide = 7 + text_width(name, 9.5) + 6
        if x and x + wide > width:
            x, row = 0.0, row + 1
        yield name, x, row
        x += wide


def _swatch_rows(plan: Plan, width: float) -> int:
    return 1 + max((row for _, _, row in _swatch_places(plan, width)), default=0)


def _swatches(sheet: Sheet, plan: Plan, y: float) -> float:
    """Show the fabrics by name."""
    width = sheet.width - LEFT - RIGHT
    row = 0
    for name, x, row in _swatch_places(plan, width):
        left, top = LEFT + x, y + 7.0 * row
        sheet.rectangle(
            Box(left, top, left + 5, top + 4), plan.top.fabrics[name].colour, edge=GREY, width=0.15
        )
        sheet.write((left + 6.5, top + 3.2), name, 9.5, colour=GREY)
    return y + 7.0 * (row + 1)
