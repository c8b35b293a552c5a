"""Proposals side by side: one page of HTML, one of PDF."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.escape import html_text
from stitchpath.base.marks import thread_looks
from stitchpath.base.units import Unit, format_distance
from stitchpath.export.guide.drawing import View
from stitchpath.export.pdf.file import write_pdf
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import INK, Box, Sheet
from stitchpath.export.svg.small import small_top
from stitchpath.plan import Plan

__all__ = ["Suggested", "suggested_html", "suggested_pdf"]

_GAP = 6.0  # mm between proposals on paper
_SHARE = 0.62  # of the height of a page for pictures at most
_WIDE = 1.8  # tops so many times as wide as high stand one below the other
_PICTURE = 0.68  # of the width of the page for such a picture
_SEAM, _LINE = 0.08, 0.22  # mm on paper
_RULES = (
    "Common practice: a dense ground makes the motif on it stand forward; a fill of the ground is "
    "a third to a half as large as the motif; quilting is balanced over the top."
)
_STYLE = (
    "body{font:16px/1.45 sans-serif;margin:2rem;color:#222}"
    "h2{font-size:1.2rem;margin:.6rem 0 .2rem}"
    "main{display:grid;grid-template-columns:repeat(3,1fr);gap:1.5rem;align-items:start}"
    "@media (max-width:45rem){main{grid-template-columns:1fr}}"
    "svg{width:100%;height:auto;border:1px solid #ccc}"
    "dl{display:grid;grid-template-columns:auto 1fr;gap:.1rem .8rem;margin:.4rem 0}"
    "dt{color:#5b6672}dd{margin:0}p{margin:.3rem 0}"
)


@dataclass(frozen=True, slots=True)
class Suggested:
    """A way to quilt a top, as it is shown.

    Attributes
    ----------
    name, words
        What it is called, and what is stitched.
    plan
        The plan; None where it cannot be.
    problem
        Why it cannot be; None where it can.
    """

    name: str
    words: str
    plan: Plan | None = None
    problem: str | None = None

    @property
    def metres(self) -> float | None:
        """All that is sewn, m."""
        if self.plan is None:
            return None
        totals = self.plan.totals
        return (totals.stitched + totals.retraced + totals.travelled) / 1000

    @property
    def thread(self) -> float | None:
        """Top and bobbin thread with waste, m."""
        return None if self.plan is None else sum(u.total for u in self.plan.thread.uses) / 1000

    @property
    def breaks(self) -> int | None:
        """How often threads are cut between runs."""
        return None if self.plan is None else self.plan.totals.breaks

    @property
    def minutes(self) -> float | None:
        """Time at the machine."""
        return None if self.plan is None else sum(spent.total for spent in self.plan.times) / 60

    def figures(self, unit: Unit) -> list[tuple[str, str]]:
        """List what it takes, in words."""
        if self.plan is None:
            return []
        return [
            ("to stitch", format_distance((self.metres or 0.0) * 1000, unit)),
            ("thread", format_distance((self.thread or 0.0) * 1000, unit)),
            ("breaks of thread", str(self.breaks)),
            ("at the machine", f"about {self.minutes:.0f} min"),
        ]


def suggested_html(name: str, ways: Sequence[Suggested], unit: Unit) -> str:
    """Write the page that a browser shows.

    Parameters
    ----------
    name
        Of the quilt.
    ways
        The proposals.
    unit
        What lengths are told in.
    """
    title = html_text(f"{name}: three ways to quilt it")
    cells = "".join(f"<article>\n{_cell(way, unit)}</article>\n" for way in ways)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width">\n'
        f"<title>{title}</title>\n<style>{_STYLE}</style>\n<h1>{title}</h1>\n"
        f"<main>\n{cells}</main>\n<p>{_RULES}</p>\n</html>\n"
    )


def _cell(way: Suggested, unit: Unit) -> str:
    head = f"<h2>{html_text(way.name)}</h2>\n"
    if way.plan is None:
        return f"{head}<p>left out: {html_text(way.problem or '')}</p>\n"
    picture = small_top(way.plan.top, way.plan.lines, way.plan.thread_colours())
    told = "".join(
        f"<dt>{html_text(what)}</dt><dd>{html_text(value)}</dd>"
        for what, value in way.figures(unit)
    )
    return f"{picture}\n{head}<p>{html_text(way.words)}</p>\n<dl>{told}</dl>\n"


def suggested_pdf(name: str, ways: Sequence[Suggested], unit: Unit, paper: Paper) -> bytes:
    """Write the same page for paper, on its long side.

    Parameters
    ----------
    name, ways, unit
        As for `suggested_html`.
    paper
        Its size.
    """
    title = f"{name}: three ways to quilt it"
    sheet, room = new_page(paper, title, _RULES, landscape=True)
    drawn = next((way.plan.top for way in ways if way.plan is not None), None)
    wide = drawn is not None and drawn.width > _WIDE * drawn.height
    for way, box in zip(ways, _boxes(room, len(ways), below=wide), strict=True):
        if wide:  # the picture, and the words beside it
            split = box.left + _PICTURE * box.width
            _pictured(sheet, way, box._replace(right=split))
            _told(sheet, way, box._replace(left=split + _GAP), unit)
        else:
            picture = box._replace(bottom=box.top + _SHARE * box.height)
            _told(sheet, way, box._replace(top=_pictured(sheet, way, picture)), unit)
    return write_pdf([sheet], title)


def _boxes(room: Box, count: int, *, below: bool) -> Iterator[Box]:
    """Part the room of a page, side by side or one below the other."""
    wide, high = ((side - _GAP * (count - 1)) / count for side in (room.width, room.height))
    for k in range(count):
        left, top = room.left + k * (wide + _GAP), room.top + k * (high + _GAP)
        if below:
            yield room._replace(top=top, bottom=top + high)
        else:
            yield room._replace(left=left, right=left + wide)


def _told(sheet: Sheet, way: Suggested, box: Box, unit: Unit) -> None:
    y = sheet.paragraph((box.left, box.top), box.width, f"**{way.name}**", 12)
    said = way.words if way.plan else f"left out: {way.problem}"
    y = sheet.paragraph((box.left, y + 1), box.width, said, 8.5)
    for what, value in way.figures(unit):
        y = sheet.paragraph((box.left, y + 0.6), box.width, f"{what}: **{value}**", 9.5)


def _pictured(sheet: Sheet, way: Suggested, room: Box) -> float:
    """Draw a top with its lines at the top of a room; gives the place below it."""
    if way.plan is None:
        return room.top
    top = way.plan.top
    view = View.fit(sheet, Box(0, 0, top.width, top.height), room)
    view = View(sheet, view.window, Box(view.box.left, room.top, view.box.right,
                                        room.top + view.box.height))  # fmt: skip
    for patch in top.patches:
        colour = top.fabrics[patch.fabric].colour
        sheet.fill(view.rings([patch.polygon]), colour, edge=INK, width=_SEAM)
    for piece in top.pieces:
        colour = top.fabrics[piece.asked.fabric].colour
        sheet.fill(view.rings([piece.shape]), colour, edge=INK, width=_SEAM)
    looks = thread_looks((line.thread for line in way.plan.lines), way.plan.thread_colours())
    for thread, look in looks.items():
        paths = [view.onto(np.asarray(x.points)) for x in way.plan.lines if x.thread == thread]
        sheet.draw(paths, colour=look.colour, width=_LINE)
    return view.box.bottom + 2
