"""Setting words: faces, widths, fractions, lines broken to a width, and their way into a PDF.

Words are set here, letter by letter with their kerning. Matplotlib lays text out anew each time,
a tenth of a millisecond for a letter, and a guide has a hundred thousand of them.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import groupby
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font

__all__ = ["POINT", "Face", "Word", "broken", "set_words", "text_width", "typeset"]

POINT = 25.4 / 72  # mm
_EM = 100.0  # points: the size at which letters are measured
_FILES = {
    "text": "STIXGeneral.ttf",
    "bold": "STIXGeneralBol.ttf",
    "italic": "STIXGeneralItalic.ttf",
    "label": "DejaVuSans.ttf",
    "strong": "DejaVuSans-Bold.ttf",
}
Face = Literal["text", "bold", "italic", "label", "strong"]
_SPARE: Face = "label"  # has letters that the others lack
_UNKNOWN = "\N{WHITE SQUARE}"  # for letters that none has

_UP, _DOWN = "⁰¹²³⁴⁵⁶⁷⁸⁹", "₀₁₂₃₄₅₆₇₈₉"
_THIN = "\N{THIN SPACE}"  # not in all faces: a space set small
_SMALL = 0.64  # size of the figures of a fraction
_RISE = 0.27  # of the upper ones, in ems
_DROP = -0.03
_LEVELS = re.compile(rf"[{_UP}]+|[{_DOWN}]+|{_THIN}|[^{_UP}{_DOWN}{_THIN}]+")
_FRACTION = re.compile(r"(?:(\d+) )?(\d+)/(\d+)(?= (?:in|yd)\b)")
_GLUE = re.compile(
    rf"(?<=[\d{_UP}{_DOWN}]) (?=(?:in|cm|mm|m|yd|ft|h|min|o\u2019clock)\b)|(?<=[a-z]) (?=\d+\b)"
)


class Word(NamedTuple):
    """Letters set in one go, their baseline from x, y, mm; angle in degrees, counter-clockwise."""

    x: float
    y: float
    text: str
    face: Face
    size: float
    colour: str
    angle: float


def typeset(text: str) -> str:
    r"""Put proper fractions, apostrophes and spaces that do not break into plain text.

    Examples
    --------
    >>> ascii(typeset("the boat's sail"))
    "'the boat\\u2019s sail'"
    """
    up, down = str.maketrans("0123456789", _UP), str.maketrans("0123456789", _DOWN)

    def fraction(match: re.Match[str]) -> str:
        whole, over, under = match.groups()
        part = f"{over.translate(up)}\N{FRACTION SLASH}{under.translate(down)}"
        return f"{whole}{_THIN}{part}" if whole else part

    text = _FRACTION.sub(fraction, re.sub(r"[\t\n\v\f\r]", " ", text))
    text = re.sub(r'"([^"]*)"', r"“\1”", text).replace("'", "\N{RIGHT SINGLE QUOTATION MARK}")
    return _GLUE.sub("\u00a0", text)


def text_width(text: str, size: float, face: Face = "text") -> float:
    """Measure a line, mm, kerning and all."""
    return _em_width(text, face) * size * POINT


@lru_cache(maxsize=20_000)  # the words of a guide come again and again
def _em_width(text: str, face: Face) -> float:
    return sum(run.width for run in _runs(text, face))


def broken(
    text: str, width: float, size: float, face: Face = "text"
) -> list[list[tuple[str, Face]]]:
    """Break text to a width; **words between stars** are bold.

    Parameters
    ----------
    text
        In plain letters: it is typeset here.
    width
        mm.
    size
        Points.
    face
        Of what is not bold.

    Returns
    -------
    list of list
        Lines, each of stretches of one face.
    """
    lines: list[list[tuple[str, Face]]] = [[]]
    room = width
    space = text_width(" ", size, face)
    for word in _words(typeset(text), face, width, size):
        wide = sum(text_width(part, size, style) for part, style in word)
        gap = space if lines[-1] else 0.0
        if lines[-1] and gap + wide > room:
            lines.append([])
            room, gap = width, 0.0
        for k, (part, style) in enumerate(word):
            _add(lines[-1], f" {part}" if gap and k == 0 else part, style)
        room -= gap + wide
    return lines


def _words(text: str, face: Face, width: float, size: float) -> Iterator[list[tuple[str, Face]]]:
    """Split text into words, each of parts of one face; one too wide for a line is cut."""
    bold: Face = "strong" if face == "label" else "bold"
    words: list[list[tuple[str, Face]]] = [[]]
    for k, stretch in enumerate(text.split("**")):
        style = bold if k % 2 else face
        for n, part in enumerate(stretch.split(" ")):
            if n:
                words.append([])
            for piece in _cut(part, width, size, style):
                if text_width(piece, size, style) > 0.5 * width:
                    words.append([])
                words[-1].append((piece, style))
    return (word for word in words if word)


def _cut(word: str, width: float, size: float, face: Face) -> list[str]:
    """Cut a word that is wider than a line."""
    pieces = []
    while word and text_width(word, size, face) > width:
        fits = max(int(len(word) * width / text_width(word, size, face)) - 1, 1)
        pieces.append(word[:fits])
        word = word[fits:]
    return [*pieces, word] if word else pieces


def _add(line: list[tuple[str, Face]], part: str, style: Face) -> None:
    if line and line[-1][1] == style:
        line[-1] = line[-1][0] + part, style
    else:
        line.append((part, style))


class _Run(NamedTuple):
    """Letters of one face and size on one level: sizes and distances in ems of the word."""

    letters: str
    face: Face
    start: float
    width: float
    size: float
    rise: float


def _runs(text: str, face: Face) -> list[_Run]:
    """Lay letters out, the figures of fractions small."""
    runs: list[_Run] = []
    at = 0.0
    for match in _LEVELS.finditer(text):
        letters, size, rise = match[0], 1.0, 0.0
        if letters[0] in _UP:
            letters, size, rise = "".join(str(_UP.index(c)) for c in letters), _SMALL, _RISE
        elif letters[0] in _DOWN:
            letters, size, rise = "".join(str(_DOWN.index(c)) for c in letters), _SMALL, _DROP
        elif letters == _THIN:
            letters, size = " ", 0.3
        for style, some in groupby(letters, lambda letter: _face_with(letter, face)):
            part = "".join(some) if style else _UNKNOWN
            width = _metrics(style or _SPARE).width(part) * size
            runs.append(_Run(part, style or _SPARE, at, width, size, rise))
            at += width
    return runs


@cache
def _face_with(letter: str, face: Face) -> Face | None:
    """Find a face that has the letter: the one asked for, else a plain one, else none."""
    return next((f for f in (face, _SPARE) if _metrics(f).glyph(letter)), None)


@dataclass
class _Metrics:
    """Widths of letters, in ems, each asked of the font once."""

    font: "FT2Font"
    file: str
    glyphs: dict[str, Any] = field(default_factory=dict)
    advances: dict[str, float] = field(default_factory=dict)
    kerns: dict[tuple[str, str], float] = field(default_factory=dict)

    def width(self, letters: str) -> float:
        """Measure letters in a row."""
        kerns = sum(map(self.kern, letters, letters[1:]))
        return sum(map(self.advance, letters)) + kerns

    def advance(self, letter: str) -> float:
        """Measure how far a letter goes on."""
        known = self.advances.get(letter)
        if known is None:
            from matplotlib.ft2font import LoadFlags  # noqa: PLC0415 - slow to import

            glyph = self.font.load_char(ord(letter), flags=LoadFlags.NO_HINTING)
            known = self.advances[letter] = glyph.linearHoriAdvance / 65536 / _EM
        return known

    def kern(self, left: str, right: str) -> float:
        """Measure how much further two letters stand apart than each would."""
        known = self.kerns.get((left, right))
        if known is None:
            from matplotlib.ft2font import Kerning  # noqa: PLC0415

            raw = self.font.get_kerning(self.glyph(left), self.glyph(right), Kerning.UNFITTED)
            known = self.kerns[left, right] = raw / 64 / _EM
        return known

    def glyph(self, letter: str) -> Any:  # noqa: ANN401 - the font's own kind of number
        """Find a letter's shape in the font."""
        known = self.glyphs.get(letter)
        if known is None:
            known = self.glyphs[letter] = self.font.get_char_index(ord(letter))
        return known


@cache
def _metrics(face: Face) -> _Metrics:
    from matplotlib import get_data_path  # noqa: PLC0415
    from matplotlib.ft2font import FT2Font  # noqa: PLC0415

    file = f"{get_data_path()}/fonts/ttf/{_FILES[face]}"
    font = FT2Font(file)
    font.set_size(_EM, 72)
    return _Metrics(font, file)


def set_words(renderer: Any, words: Sequence[Word], height: float) -> None:  # noqa: ANN401
    """Set words on a page that is being drawn.

    Parameters
    ----------
    renderer
        Matplotlib's, of a PDF.
    words
        In any order.
    height
        Of the page, mm.
    """
    for colour in dict.fromkeys(word.colour for word in words):
        gc = renderer.new_gc()
        gc.set_foreground(colour)
        mine = [word for word in words if word.colour == colour]
        try:
            _set_fast(renderer, gc, mine, height)
        except (AttributeError, ImportError, TypeError):  # another version: by its public way
            _set_slowly(renderer, gc, mine, height)
        gc.restore()


def _set_fast(renderer: Any, gc: Any, words: Sequence[Word], height: float) -> None:  # noqa: ANN401
    """Put letters into the page's stream as matplotlib 3.11 does, without laying them out anew."""
    from matplotlib.backends.backend_pdf import Op  # noqa: PLC0415
    from matplotlib.font_manager import FontPath  # noqa: PLC0415

    file = renderer.file
    codes: dict[tuple[Face, str], int] = {}

    def code(face: Face, letter: str) -> int:
        if (face, letter) not in codes:
            metrics = _metrics(face)
            track = file._character_tracker.track_glyph  # noqa: SLF001 - there is no other way
            subset, codes[face, letter] = track(metrics.font, letter, metrics.glyph(letter))
            if subset:
                raise TypeError(f"{letter!r} lies outside the font's first subset")
        return codes[face, letter]

    stream: list[Any] = []
    for word in words:
        x, y = word.x / POINT, (height - word.y) / POINT
        for run in _runs(word.text, word.face):
            metrics = _metrics(run.face)
            name = file.fontName(FontPath(metrics.file, 0), 0)
            size, on, up = word.size * run.size, run.start * word.size, run.rise * word.size
            at = (0, 1, -1, 0, x - up, y + on) if word.angle else (1, 0, 0, 1, x + on, y + up)
            letters = _kerned(metrics, run.letters, [code(run.face, c) for c in run.letters])
            stream += [name, size, Op.selectfont, *at, Op.textmatrix, letters, Op.showkern]
    renderer.check_gc(gc, gc._rgb)  # noqa: SLF001
    file.output(Op.begin_text, *stream, Op.end_text)


def _kerned(metrics: _Metrics, letters: str, codes: Sequence[int]) -> list[bytes | float]:
    """Part letters where there is kerning between them, in thousandths of an em."""
    parts: list[bytes | float] = [codes[0].to_bytes(2, "big")]
    for left, right, code in zip(letters, letters[1:], codes[1:], strict=False):
        kern = metrics.kern(left, right)
        last = parts[-1]
        if kern or not isinstance(last, bytes):
            parts += [-1000 * kern, code.to_bytes(2, "big")]
        else:
            parts[-1] = last + code.to_bytes(2, "big")
    return parts


def _set_slowly(renderer: Any, gc: Any, words: Sequence[Word], height: float) -> None:  # noqa: ANN401
    from matplotlib.font_manager import FontProperties  # noqa: PLC0415

    for word in words:
        x, y = word.x / POINT, (height - word.y) / POINT
        for run in _runs(word.text, word.face):
            metrics = _metrics(run.face)
            font = FontProperties(fname=metrics.file, size=word.size * run.size)
            on, up = run.start * word.size, run.rise * word.size
            at = (x - up, y + on) if word.angle else (x + on, y + up)
            renderer.draw_text(gc, *at, run.letters, font, word.angle)
