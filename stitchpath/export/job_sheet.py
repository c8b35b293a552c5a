"""The job sheet on paper: a PDF with boxes to tick."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from stitchpath.base.marks import PLAIN
from stitchpath.base.units import MM_PER, format_length, long_unit
from stitchpath.export.pdf.file import write_pdf
from stitchpath.export.pdf.letters import Face, broken, shortened
from stitchpath.export.pdf.paper import A4, Paper
from stitchpath.export.pdf.sheet import CHIP, INK, Align, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.told.job_rows import JobRow, clock_time, job_rows

__all__ = ["plan_sheet", "sheet_pages"]

_LEFT, _TOP = 14.0, 14.0  # mm
_RIGHT = 196.0  # mm from the left on either paper: one table for both
_FOOT = 14.4  # mm
_PITCHES = (5.4, 5.1, 4.8, 4.5, 4.2)  # mm from line to line: the widest that takes no page more
_SIZE = 8.5  # points
_FEWEST = 6  # lines on the last page, so that no sheet is spent on a line or two

_CAUTION = (
    "Sew a test on scraps of the same layers first. Needle up and hands away before you change "
    "thread or bobbin; what the manual of the machine says goes before this sheet."
)


@dataclass(frozen=True, slots=True)
class _Cell:
    """Text at a place across the page, mm.

    Attributes
    ----------
    x, text, align
        What stands where.
    room
        What it may take up.
    chip
        The colour of the thread that it names, if it names one.
    """

    x: float
    text: str
    align: Align = "left"
    room: float = _RIGHT - _LEFT
    chip: str = ""


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
    mark
        What the outline of the file calls it.
    joined
        Whether it goes on with the row above: no page ends between them.
    """

    cells: tuple[_Cell, ...]
    bold: bool = False
    rule: bool = False
    box: bool = False
    gap: float = 0.0
    size: float = _SIZE
    head: "_Row | None" = None
    mark: str = ""
    joined: bool = False

    @property
    def face(self) -> Face:
        """The letters it is set in."""
        return "strong" if self.bold else "label"


def plan_sheet(plan: Plan, paper: Paper = A4) -> bytes:
    """Write the job sheet as PDF.

    Parameters
    ----------
    plan
        The plan.
    paper
        `A4` or `LETTER`.

    Returns
    -------
    bytes
        PDF; its figures are those of the CSV, its bytes the same for the same plan.
    """
    return write_pdf(sheet_pages(plan, paper), f"Job sheet: {plan.top.name}")


def sheet_pages(plan: Plan, paper: Paper = A4) -> list[Sheet]:
    """Make the pages of the job sheet."""
    pages = _pages(list(_rows(plan)), paper.height - _FOOT)
    return [
        _drawn(paper, page, f"{plan.top.name}: page {number} of {len(pages)}")
        for number, page in enumerate(pages, 1)
    ]


_WORDS = {"m": "metres, to the centimetre", "yd": "yards, to the hundredth"}
_INDENT, _WHERE = 42.0, 141.0
_NUMBER = 18.0  # mm: the widest number, and its heading
_RUN_COLUMNS: tuple[tuple[str, float, Align], ...] = (
    ("run", 25.0, "right"),
    ("stage", 36.5, "right"),
    ("thread", _INDENT, "left"),
    ("sewn", 82.0, "right"),
    ("top", 99.5, "right"),
    ("bobbin", 120.0, "right"),
    ("h:min:s", 137.0, "right"),
    ("where", _WHERE, "left"),
)
_THREAD_COLUMNS: tuple[tuple[str, float, Align], ...] = (
    ("thread", _LEFT + CHIP, "left"),
    ("sewn", 82.0, "right"),
    ("top", 99.5, "right"),
    ("bobbin", 120.0, "right"),
    ("stitches", 137.0, "right"),
    ("", _WHERE, "left"),
)


def _rows(plan: Plan) -> Iterator[_Row]:
    """Lay the job sheet out, top to bottom."""
    found, long = job_rows(plan), long_unit(plan.top.unit)
    size = " by ".join(format_length(v, plan.top.unit) for v in (plan.top.width, plan.top.height))
    yield _Row((_Cell(_LEFT, plan.top.name),), bold=True, size=14)
    yield _Row(
        (_Cell(_LEFT, f"Job sheet. Finished size {size}. Lengths in {_WORDS[long]}."),), gap=1
    )
    colours = plan.thread_colours()
    yield from _run_rows(found, long, colours)
    yield from _listed("Passes", [row for row in found if row.kind == "at a pass"])
    yield from _thread_rows(found, long, colours)
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


def _run_rows(found: Sequence[JobRow], long: str, colours: Mapping[str, str]) -> Iterator[_Row]:
    head = _table(
        _RUN_COLUMNS,
        [_headed(name, long) for name, _, _ in _RUN_COLUMNS],
        bold=True,
        rule=True,
        gap=3,
        mark="Runs",
    )
    yield head
    for row in found:
        if row.kind == "run":
            where, *more = _lines(row.note, _RIGHT - _WHERE)
            column = _WHERE
            if more:  # below the figures there is room for it in fewer lines
                where, more, column = "", _lines(row.note, _RIGHT - _INDENT), _INDENT
            head_of = f"{row.run}", f"{row.stage}", row.thread
            cells = (*head_of, *_lengths(row, long), _clock(row.seconds), where)
            chip = colours.get(row.thread, PLAIN)
            yield _chipped(_table(_RUN_COLUMNS, cells, box=True, head=head), 2, chip)
            for line in more:
                yield _Row((_Cell(column, line),), head=head, joined=True)
        elif row.kind in ("change bobbin", "stop", "pass"):
            said = row.note
            if row.kind == "change bobbin":
                said = f"run {row.run}, {row.thread}: {said}"
            for k, line in enumerate(_lines(said, _RIGHT - _INDENT, bold=True)):
                yield _Row((_Cell(_INDENT, line),), bold=True, box=k == 0, head=head, joined=k > 0)
        elif row.kind == "total":
            cells = ("", "", "in all", *_lengths(row, long), _clock(row.seconds), "")
            yield _table(_RUN_COLUMNS, cells, bold=True, gap=1, head=head)


def _thread_rows(found: Sequence[JobRow], long: str, colours: Mapping[str, str]) -> Iterator[_Row]:
    names = [_headed(name, long) for name, _, _ in _THREAD_COLUMNS]
    head = _table(_THREAD_COLUMNS, names, bold=True, rule=True, gap=4, mark="Thread")
    yield head
    for row in found:
        if row.kind in ("thread", "waste"):
            name = row.thread if row.kind == "thread" else f"waste beside, {row.thread}"
            stitches = "" if row.stitches is None else f"{row.stitches}"
            cells = (name, *_lengths(row, long), stitches, row.note)
            chip = colours.get(row.thread, PLAIN)
            yield _chipped(_table(_THREAD_COLUMNS, cells, head=head), 0, chip)
    bought = [JobRow("buy", note=f"{r.thread}: {r.note}") for r in found if r.kind == "buy"]
    yield from _listed("Thread to buy", bought)


def _listed(title: str, rows: Sequence[JobRow]) -> Iterator[_Row]:
    """Set a title and what stands under it, each with its time where it has one."""
    if not rows:
        return
    yield _Row((_Cell(_LEFT, title),), bold=True, rule=True, gap=4, mark=title)
    for row in rows:
        if row.seconds is None:
            for k, line in enumerate(_lines(row.note, _RIGHT - _LEFT)):
                yield _Row((_Cell(_LEFT, line),), joined=k > 0)
        else:
            time = _Cell(_LEFT + 18, _clock(row.seconds), "right")
            first, *more = _lines(row.note, _RIGHT - _LEFT - 22)
            yield _Row((time, _Cell(_LEFT + 22, first)))
            yield from (_Row((_Cell(_LEFT + 22, line),), joined=True) for line in more)


def _table(
    columns: Sequence[tuple[str, float, Align]],
    texts: Sequence[str],
    *,
    bold: bool = False,
    rule: bool = False,
    box: bool = False,
    gap: float = 0.0,
    head: _Row | None = None,
    mark: str = "",
) -> _Row:
    """Set texts in columns; one that is too wide for its column is cut short."""
    cells = []
    for k, ((_, x, align), text) in enumerate(zip(columns, texts, strict=True)):
        room = _NUMBER
        if align == "left":
            room = (columns[k + 1][1] - _NUMBER if k + 1 < len(columns) else _RIGHT) - x
        cells.append(_Cell(x, text, align, room))
    return _Row(tuple(cells), bold=bold, rule=rule, box=box, gap=gap, head=head, mark=mark)


def _chipped(row: _Row, place: int, colour: str) -> _Row:
    """Set a chip of a thread's colour before a cell."""
    cells = list(row.cells)
    cells[place] = replace(cells[place], chip=colour)
    return replace(row, cells=tuple(cells))


def _lines(text: str, room: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines that fit into the room, mm."""
    face: Face = "strong" if bold else "label"
    return ["".join(part for part, _ in line) for line in broken(text, room, _SIZE, face)]


_Page = list[tuple[float, _Row]]


def _pages(rows: Sequence[_Row], bottom: float) -> list[_Page]:
    """Fill pages: each row with its place down the page, mm; heads are set again.

    Where next to nothing is left for the last page, all end sooner, and no page is more.
    """
    ways = [(list(_filled(rows, bottom, pitch)), pitch) for pitch in _PITCHES]
    pages, pitch = min(ways, key=lambda way: len(way[0]))
    lifted = pages
    while len(pages) == len(lifted) > 1 and len(lifted[-1]) < _FEWEST:
        bottom -= pitch
        lifted = list(_filled(rows, bottom, pitch))
    return lifted if len(lifted) == len(pages) else pages


def _filled(rows: Sequence[_Row], bottom: float, pitch: float) -> Iterator[_Page]:
    page: _Page = []
    y = _TOP
    for block in _blocks(rows, bottom - _TOP - 2 * pitch, pitch):
        if page and y + _height(block, pitch) > bottom:
            yield page
            page, y = [], _TOP
            if block[0].head is not None:
                page.append((y + pitch, replace(block[0].head, mark="")))
                y += pitch + 1
        for row in block:
            y += (row.gap if page else 0.0) + pitch
            page.append((y, row))
            y += 1.0 if row.rule else 0.0
    yield page


def _blocks(rows: Sequence[_Row], most: float, pitch: float) -> Iterator[list[_Row]]:
    """Group rows that stay on one page, at most so high: joined ones, a head and what follows."""
    block: list[_Row] = []
    for row in rows:
        together = row.joined or (block and block[-1].rule)
        if block and (not together or _height(block, pitch) + pitch > most):
            yield block
            block = []
        block.append(row)
    yield block


def _height(block: Sequence[_Row], pitch: float) -> float:
    return sum(row.gap + pitch + (1.0 if row.rule else 0.0) for row in block)


def _drawn(paper: Paper, page: _Page, foot: str) -> Sheet:
    sheet = Sheet(paper)
    for y, row in page:
        if row.mark:
            sheet.bookmark(row.mark, y - _PITCHES[0])
        for cell in row.cells:
            text = shortened(cell.text, cell.room, row.size, row.face)
            sheet.write((cell.x, y), text, row.size, row.face, align=cell.align)
            if cell.chip:  # it hangs before the column, so that names keep their room
                sheet.chip((cell.x - CHIP, y), cell.chip)
        if row.rule:
            sheet.rule(_LEFT, _RIGHT, y + 1.5, colour=INK)
        if row.box:
            sheet.rectangle(Box(_LEFT, y - 2.5, _LEFT + 2.8, y + 0.3), None, edge=INK, width=0.18)
    sheet.write((_RIGHT, paper.height - 9), foot, 7, "label", align="right")
    return sheet


def _headed(name: str, long: str) -> str:
    """Head a column of lengths with what they are measured in."""
    return f"{name} {long}" if name in ("sewn", "top", "bobbin") else name


def _lengths(row: JobRow, long: str) -> tuple[str, str, str]:
    """Write the seam, the top thread and the bobbin thread of a row."""
    sewn, top, bobbin = (
        "" if length is None else f"{length / MM_PER[long]:.2f}"
        for length in (row.sewn, row.top, row.bobbin)
    )
    return sewn, top, bobbin


def _clock(seconds: int | None) -> str:
    return "" if seconds is None else clock_time(seconds)
