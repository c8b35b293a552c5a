"""Pages into a PDF file, through the library reportlab."""

import hashlib
import io
import re
from collections.abc import Iterable, Iterator

import numpy as np
from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

from stitchpath.base.typing import BoolArray, FloatArray
from stitchpath.export.pdf.letters import POINT, font_of, laid_out
from stitchpath.export.pdf.sheet import Box, Shape, Sheet
from stitchpath.geometry.polylines import joined_paths

__all__ = ["write_pdf"]

_UNIT = 0.01  # mm: shapes are drawn in whole hundredths of a millimetre, y down
_DATES = re.compile(rb"/(?:CreationDate|ModDate) \(D:[^)]*\)")
_NAME = re.compile(rb"\[<([0-9a-f]{32})><\1>\]")  # of the file, twice, in its last lines


def write_pdf(
    sheets: Iterable[Sheet], title: str, *, keywords: str = "", true_size: bool = False
) -> bytes:
    """Write pages as a PDF, the same bytes each time.

    Parameters
    ----------
    sheets
        Pages in order.
    title, keywords
        For the file's metadata.
    true_size
        Whether the viewer is asked to print at 100 % unless told otherwise.

    Returns
    -------
    bytes
        With bookmarks; its fonts are embedded, its language is English, it bears no date.
    """
    buffer = io.BytesIO()
    binary, rl_config.useA85 = rl_config.useA85, 0  # a fifth smaller
    try:
        canvas = _begun(buffer, title, keywords)
        if true_size:
            canvas.setViewerPreference("PrintScaling", "None")
        _fill(canvas, sheets)
        canvas.save()
    finally:
        rl_config.useA85 = binary
    return _undated(buffer.getvalue())


def _undated(pdf: bytes) -> bytes:
    """Take the dates out of a file, and name it after what is in it; every place in it is kept.

    The library gives a date to what is to be the same each time too, one that is not true.
    """
    pdf = _DATES.sub(lambda date: b" " * len(date[0]), pdf)
    name = hashlib.sha256(_NAME.sub(b"", pdf)).hexdigest()[:32].encode()
    return _NAME.sub(b"[<%b><%b>]" % (name, name), pdf)


def _begun(file: io.BytesIO, title: str, keywords: str) -> Canvas:
    canvas = Canvas(
        file, invariant=1, pageCompression=1, lang="en", initialFontName=font_of("text").name
    )
    canvas.setTitle(title)
    canvas.setAuthor("")
    canvas.setSubject("")
    canvas.setKeywords(keywords)
    canvas.setCreator("stitchpath")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    return canvas


def _fill(canvas: Canvas, sheets: Iterable[Sheet]) -> None:
    keys = map(str, range(10**9))
    deepest = -1
    for sheet in sheets:
        canvas.setPageSize((sheet.width / POINT, sheet.height / POINT))
        for mark in sheet.bookmarks:
            key, deepest = next(keys), min(mark.level, deepest + 1)
            top = (sheet.height - mark.y) / POINT
            canvas.bookmarkPage(key, fit="XYZ", left=0, top=top)
            canvas.addOutlineEntry(mark.title, key, deepest)
        canvas.addLiteral(_drawn(sheet))
        if sheet.words:
            text = canvas.beginText()
            _set(text, sheet)
            canvas.drawText(text)
        canvas.showPage()


def _drawn(sheet: Sheet) -> str:
    """Draw the shapes of a page in the language of PDF (ISO 32000-1, clause 8)."""
    onto = f"{_UNIT / POINT:.8f}"
    parts = [f"q {onto} 0 0 -{onto} 0 {sheet.height / POINT:.4f} cm 1 j"]
    for shape in sheet.shapes:
        if shape.paths:
            parts += _shape(shape)
    return "\n".join([*parts, "Q"])


def _shape(shape: Shape) -> Iterator[str]:
    if shape.clip is not None:
        left, top, right, bottom = (round(side / _UNIT) for side in shape.clip)
        yield f"q {left} {top} {right - left} {bottom - top} re W n"
    if shape.fill:
        yield f"{_colour(shape.fill)} rg"
    if shape.edge:
        dash = " ".join(f"{length / _UNIT:g}" for length in shape.dash)
        ends = 0 if shape.dash else 1  # cut off square, or round
        yield f"{_colour(shape.edge)} RG {shape.width / _UNIT:g} w {ends} J [{dash}] 0 d"
    path = _path(shape)
    both = bool(shape.fill), bool(shape.edge)
    painted = {(True, True): "B", (True, False): "f", (False, True): "S", (False, False): "n"}
    if path:
        yield path + painted[both]
    if shape.clip is not None:
        yield "Q"


def _path(shape: Shape) -> str:
    """Write polylines or rings."""
    starts, points = joined_paths(shape.paths)
    begins = np.zeros(len(points), dtype=np.bool_)
    begins[starts] = True
    ends = np.roll(begins, -1)
    kept = np.ones(len(points), dtype=np.bool_)
    if shape.clip is not None:
        clip, whole = shape.clip.grown(shape.width), shape.closed or bool(shape.dash)
        kept, begins = _seen(clip, points, begins, whole=whole)
    if shape.closed:
        how = np.select([begins, ends], ["%d %d m\n", "h\n"], "%d %d l\n")[kept]
        points = points[kept & ~ends]
    else:
        how = np.where(begins, "%d %d m\n", "%d %d l\n")[kept]
        points = points[kept]
    places = np.rint(points / _UNIT).astype(np.int64).ravel().tolist()
    return "".join(how.tolist()) % tuple(places)


def _seen(
    clip: Box, points: FloatArray, begins: BoolArray, *, whole: bool
) -> tuple[BoolArray, BoolArray]:
    """Leave out what lies beside the clip: which points are kept, and which of them begin a path.

    Whole paths only where they are closed or in dashes, which are counted from their beginning;
    else stretch by stretch.
    """

    def meets(low: FloatArray, high: FloatArray) -> BoolArray:
        near = (low <= (clip.right, clip.bottom)) & (high >= (clip.left, clip.top))
        return near[:, 0] & near[:, 1]

    if whole:
        starts = np.flatnonzero(begins)
        met = meets(np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts))
        return met[np.cumsum(begins) - 1], begins
    before = np.roll(points, 1, axis=0)
    into = meets(np.minimum(points, before), np.maximum(points, before)) & ~begins
    out_of = np.roll(into, -1)
    return into | out_of, out_of & ~into


def _colour(colour: str) -> str:
    """Write "#rrggbb" as three shares."""
    return " ".join(f"{int(colour[k : k + 2], 16) / 255:.4g}" for k in (1, 3, 5))


def _set(text: PDFTextObject, sheet: Sheet) -> None:
    """Set the words of a page."""
    colour, font = "", ("", 0.0)
    for word in sheet.words:
        if word.colour != colour:
            colour = word.colour
            text.setFillColorRGB(*(int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)))
        for run in laid_out(word.text, word.face):
            now = font_of(run.face).name, round(word.size * run.size, 3)
            if now != font:
                font = now
                text.setFont(*font)
            x, y = word.x / POINT, (sheet.height - word.y) / POINT
            on, up = run.start * word.size, run.rise * word.size
            if word.angle:
                text.setTextTransform(0, 1, -1, 0, round(x - up, 3), round(y + on, 3))
            else:
                text.setTextOrigin(round(x + on, 3), round(y + up, 3))
            text.textOut(run.letters)
