"""The job sheet on paper: a PDF with boxes to tick, for A4 and Letter alike."""

import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from stitchpath.export.jobsheet import JobRow, clock_time, job_rows
from stitchpath.plan import Plan
from stitchpath.units import format_length

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["plan_sheet"]

_WIDE, _HIGH = 210.0, 279.4  # mm: as narrow as A4 (ISO 216), as short as Letter; prints on both
_LEFT, _RIGHT, _TOP, _BOTTOM = 14.0, 196.0, 14.0, 265.0
_ROW = 5.4  # mm from line to line
_SIZE = 8.5  # points
_POINT = 25.4 / 72
_BOUND = re.compile(r"(?<=\d) (?=\d+/\d|(?:in|cm|mm|m|s)\b)")  # no line ends within a length

_CAUTION = (
    "Sew a test on scraps of the same layers first. Needle up and hands away before you change "
    "thread or bobbin; what the manual of the machine says goes before this sheet."
)


@dataclass(frozen=True, slots=True)
class _Cell:
    """Text at a place across the page, mm; `room` is what it may take up."""

    x: float
    text: str
    align: str = "left"
    room: float = _RIGHT - _LEFT


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of the sheet.

    Attributes
    ----------
    cells
        What stands in it.
    bold, rule, box
        In heavy type; a hairline beneath it; a box to tick before it.
    gap
        Left free above it, mm.
    size
        Points.
    head
        What is set again above it where it begins a page.
    """

    cells: tuple[_Cell, ...]
    bold: bool = False
    rule: bool = False
    box: bool = False
    gap: float = 0.0
    size: float = _SIZE
    head: "_Row | None" = None


def plan_sheet(plan: Plan) -> bytes:
    """Draw the job sheet.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    bytes
        PDF; its figures are those of the CSV, its bytes the same for the same plan.
    """
    from matplotlib import rc_context  # noqa: PLC0415
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415

    pages = list(_pages(list(_rows(plan))))
    buffer = io.BytesIO()
    about = {"Title": f"Job sheet: {plan.top.name}", "Creator": "stitchpath", "CreationDate": None}
    with rc_context({"font.family": "DejaVu Sans"}), PdfPages(buffer, metadata=about) as file:
        for number, page in enumerate(pages, 1):
            foot = f"{plan.top.name}: page {number} of {len(pages)}"
            file.savefig(_drawn(page, foot))
    return buffer.getvalue()


_INDENT, _WHERE = 42.0, 141.0
_NUMBER = 16.5  # mm: the widest number, and its heading
_RUN_COLUMNS = (
    ("run", 26.0, "right"),
    ("stage", 38.0, "right"),
    ("thread", _INDENT, "left"),
    ("sewn m", 84.0, "right"),
    ("top m", 101.0, "right"),
    ("bobbin m", 120.0, "right"),
    ("h:min:s", 137.0, "right"),
    ("where", _WHERE, "left"),
)
_THREAD_COLUMNS = (
    ("thread", _LEFT, "left"),
    ("sewn m", 84.0, "right"),
    ("top m", 101.0, "right"),
    ("bobbin m", 120.0, "right"),
    ("stitches", 137.0, "right"),
    ("", _WHERE, "left"),
)


def _rows(plan: Plan) -> Iterator[_Row]:
    """Lay the job sheet out, top to bottom."""
    found = job_rows(plan)
    size = " by ".join(format_length(v, plan.top.unit) for v in (plan.top.width, plan.top.height))
    yield _Row((_Cell(_LEFT, plan.top.name),), bold=True, size=14)
    yield _Row(
        (_Cell(_LEFT, f"Job sheet. Finished size {size}. Metres to the centimetre."),), gap=1
    )
    yield from _run_rows(found)
    yield from _thread_rows(found)
    yield from _listed("Time", [row for row in found if row.kind == "time"])
    cloth = [
        JobRow(row.kind, note=f"{row.kind}{', or' * row.other}: {row.what or row.note}")
        for row in found
        if row.kind in ("batting", "backing")
    ]
    yield from _listed("Batting and backing", cloth)
    yield from _listed("Charges", [row for row in found if row.kind == "charge"])
    notes = [row for row in found if row.kind == "note"]
    yield from _listed("Notes", [*notes, JobRow("note", note=_CAUTION)])


def _run_rows(found: Sequence[JobRow]) -> Iterator[_Row]:
    head = _table(_RUN_COLUMNS, [name for name, _, _ in _RUN_COLUMNS], bold=True, rule=True, gap=3)
    yield head
    for row in found:
        if row.kind == "run":
            where, *more = _lines(row.note, _RIGHT - _WHERE)
            cells = (
                f"{row.run}", f"{row.stage}", row.thread, _metres(row.sewn), _metres(row.top),
                _metres(row.bobbin), _clock(row.seconds), where,
            )  # fmt: skip
            yield _table(_RUN_COLUMNS, cells, box=True, head=head)
            for line in more:
                yield _Row((_Cell(_WHERE, line),), head=head)
        elif row.kind in ("change bobbin", "strip"):
            said = row.note
            if row.kind == "change bobbin":
                said = f"run {row.run}, {row.thread}: {said}"
            for k, line in enumerate(_lines(said, _RIGHT - _INDENT, bold=True)):
                yield _Row((_Cell(_INDENT, line),), bold=True, box=k == 0, head=head)
        elif row.kind == "total":
            cells = ("", "", "in all", _metres(row.sewn), _metres(row.top), _metres(row.bobbin),
                     _clock(row.seconds), "")  # fmt: skip
            yield _table(_RUN_COLUMNS, cells, bold=True, gap=1, head=head)


def _thread_rows(found: Sequence[JobRow]) -> Iterator[_Row]:
    names = [name for name, _, _ in _THREAD_COLUMNS]
    head = _table(_THREAD_COLUMNS, names, bold=True, rule=True, gap=4)
    yield head
    for row in found:
        if row.kind in ("thread", "waste"):
            name = row.thread if row.kind == "thread" else f"waste beside, {row.thread}"
            stitches = "" if row.stitches is None else f"{row.stitches}"
            cells = (name, _metres(row.sewn), _metres(row.top), _metres(row.bobbin), stitches,
                     row.note)  # fmt: skip
            yield _table(_THREAD_COLUMNS, cells, head=head)
    bought = [JobRow("buy", note=f"{r.thread}: {r.note}") for r in found if r.kind == "buy"]
    yield from _listed("Thread to buy", bought)


def _listed(title: str, rows: Sequence[JobRow]) -> Iterator[_Row]:
    """Set a title and what stands under it, each with its time where it has one."""
    if not rows:
        return
    yield _Row((_Cell(_LEFT, title),), bold=True, rule=True, gap=4)
    for row in rows:
        if row.seconds is None:
            yield from (_Row((_Cell(_LEFT, line),)) for line in _lines(row.note, _RIGHT - _LEFT))
        else:
            time = _Cell(_LEFT + 18, _clock(row.seconds), "right")
            first, *more = _lines(row.note, _RIGHT - _LEFT - 22)
            yield _Row((time, _Cell(_LEFT + 22, first)))
            yield from (_Row((_Cell(_LEFT + 22, line),)) for line in more)


def _table(
    columns: Sequence[tuple[str, float, str]],
    texts: Sequence[str],
    *,
    bold: bool = False,
    rule: bool = False,
    box: bool = False,
    gap: float = 0.0,
    head: _Row | None = None,
) -> _Row:
    """Set texts in columns; one that is too wide for its column is cut short."""
    cells = []
    for k, ((_, x, align), text) in enumerate(zip(columns, texts, strict=True)):
        room = _NUMBER
        if align == "left":
            room = (columns[k + 1][1] - _NUMBER if k + 1 < len(columns) else _RIGHT) - x
        cells.append(_Cell(x, text, align, room))
    return _Row(tuple(cells), bold=bold, rule=rule, box=box, gap=gap, head=head)


def _lines(text: str, room: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines that fit into the room, mm."""
    lines = [""]
    for word in _BOUND.sub("\u00a0", text).split(" "):
        longer = f"{lines[-1]} {word}".lstrip()
        if lines[-1] and _width(longer, bold) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _pages(rows: Sequence[_Row]) -> Iterator[list[tuple[float, _Row]]]:
    """Fill pages: each row with its place down the page, mm; heads are set again."""
    page: list[tuple[float, _Row]] = []
    y = _TOP
    for k, row in enumerate(rows):
        # A head is never the last line of a page.
        more = _ROW if row.rule and k + 1 < len(rows) else 0.0
        if y + row.gap + _ROW + more > _BOTTOM:
            yield page
            page, y = [], _TOP
            if row.head is not None:
                page.append((y + _ROW, row.head))
                y += _ROW + 1
        y += (row.gap if page else 0.0) + _ROW
        page.append((y, row))
        y += 1.0 if row.rule else 0.0
    yield page


def _drawn(page: Sequence[tuple[float, _Row]], foot: str) -> "Figure":
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.lines import Line2D  # noqa: PLC0415
    from matplotlib.patches import Rectangle  # noqa: PLC0415

    figure = Figure(figsize=(_WIDE / 25.4, _HIGH / 25.4))

    def at(x: float, y: float) -> tuple[float, float]:
        return x / _WIDE, 1 - y / _HIGH

    def say(cell: _Cell, y: float, row: _Row) -> None:
        text = _fitted(cell.text, cell.room, row)
        figure.text(
            *at(cell.x, y), text, ha=cell.align, va="baseline", fontsize=row.size,
            fontweight="bold" if row.bold else "normal", parse_math=False,
        )  # fmt: skip

    for y, row in page:
        for cell in row.cells:
            say(cell, y, row)
        if row.rule:
            (x0, y0), (x1, _) = at(_LEFT, y + 1.5), at(_RIGHT, y + 1.5)
            figure.add_artist(Line2D([x0, x1], [y0, y0], color="#404040", linewidth=0.5))
        if row.box:
            side = 2.8
            figure.add_artist(
                Rectangle(at(_LEFT, y + 0.3), side / _WIDE, side / _HIGH, fill=False, linewidth=0.5)
            )
    say(_Cell(_RIGHT, foot, "right"), _HIGH - 9, _Row((), size=7))
    return figure


def _fitted(text: str, room: float, row: _Row) -> str:
    """Cut a text short, with an ellipsis, to the room there is."""
    scale = row.size / _SIZE
    if _width(text, row.bold) * scale <= room:
        return text
    while text and _width(text + "…", row.bold) * scale > room:
        text = text[:-1]
    return text.rstrip() + "…"


def _width(text: str, bold: bool) -> float:  # noqa: FBT001 - a property of the row
    """Width of a text at the sheet's size, mm; without kerning, which is next to nothing."""
    return sum(_advance(letter, bold) for letter in text)


@cache
def _advance(letter: str, bold: bool) -> float:  # noqa: FBT001 - a key of the cache
    from matplotlib.font_manager import FontProperties  # noqa: PLC0415
    from matplotlib.textpath import text_to_path  # noqa: PLC0415

    font = FontProperties(family="DejaVu Sans", size=_SIZE, weight="bold" if bold else "normal")
    pair, _, _ = text_to_path.get_text_width_height_descent(f"{letter}|", font, ismath=False)
    bar, _, _ = text_to_path.get_text_width_height_descent("|", font, ismath=False)
    return float(pair - bar) * _POINT


def _metres(length: int | None) -> str:
    return "" if length is None else f"{length / 1000:.2f}"


def _clock(seconds: int | None) -> str:
    return "" if seconds is None else clock_time(seconds)
