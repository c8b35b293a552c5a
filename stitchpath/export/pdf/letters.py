"""Setting words: faces, widths, fractions, lines broken to a width.

The faces are STIX (SIL Open Font Licence) and DejaVu Sans (Bitstream Vera licence), free fonts
that lie among the data of matplotlib; nothing of matplotlib is imported. Every stretch of letters
is laid out once and kept: the words of a guide come again and again.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.util import find_spec
from itertools import groupby, pairwise
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from stitchpath.base.errors import StitchpathError

__all__ = ["POINT", "Face", "Stretch", "broken", "font_of", "laid_out", "shortened", "text_width",
           "typeset"]  # fmt: skip

POINT = 25.4 / 72  # mm
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

_LEFTWARD = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc"  # Hebrew, Arabic and their kin
_LEFTWARDS = re.compile(rf"[{_LEFTWARD}]+(?:[ \u00a0-]+[{_LEFTWARD}]+)*")


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


@lru_cache(maxsize=20_000)
def _em_width(text: str, face: Face) -> float:
    return sum(run.width for run in laid_out(text, face))


def shortened(text: str, width: float, size: float, face: Face = "italic") -> str:
    """Cut a line to a width, mm."""
    if text_width(text, size, face) <= width:
        return text
    while text and text_width(f"{text}…", size, face) > width:
        text = text[:-1]
    return f"{text.rstrip()}…"


@lru_cache(maxsize=2_000)  # measured first, then set
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
        Lines, each of stretches of one face; not to be changed.
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


class Stretch(NamedTuple):
    """Letters set in one go; sizes and distances in ems of the words they belong to.

    Attributes
    ----------
    letters
        All of one face, with no kerning between them.
    face
        That has them.
    start
        Where they begin.
    width
        How far they go on.
    size
        Of the letters.
    rise
        How far their baseline stands above that of the words.
    """

    letters: str
    face: Face
    start: float
    width: float
    size: float
    rise: float


@lru_cache(maxsize=20_000)
def laid_out(text: str, face: Face) -> tuple[Stretch, ...]:
    """Lay letters out in a line, the figures of fractions small.

    What a face lacks is set in another that has it; what none has becomes a white square. Words
    that run from right to left do so within the line; Arabic letters are not joined.
    """
    runs: list[Stretch] = []
    at = 0.0
    for match in _LEVELS.finditer(_LEFTWARDS.sub(_turned, unicodedata.normalize("NFC", text))):
        letters, size, rise = match[0], 1.0, 0.0
        if letters[0] in _UP:
            letters, size, rise = "".join(str(_UP.index(c)) for c in letters), _SMALL, _RISE
        elif letters[0] in _DOWN:
            letters, size, rise = "".join(str(_DOWN.index(c)) for c in letters), _SMALL, _DROP
        elif letters == _THIN:
            letters, size = " ", 0.3
        for style, some in groupby(letters, lambda letter: _face_with(letter, face)):
            known = style or _SPARE
            part = "".join(some)
            if style is None:
                part = _UNKNOWN * sum(map(_visible, part))
            for piece, wide in font_of(known).kerned(part):
                runs.append(Stretch(piece, known, at, wide * size, size, rise))
                at += wide * size
    return tuple(runs)


def _turned(match: re.Match[str]) -> str:
    """Turn words round that run from right to left; marks stay on their letters, figures as is."""
    parts: list[str] = []
    for letter in match[0]:
        joined = unicodedata.combining(letter) or (
            letter.isdigit() and parts and parts[-1].isdigit()
        )
        parts[-1:] = [parts[-1] + letter] if joined and parts else [*parts[-1:], letter]
    return "".join(reversed(parts))


def _visible(letter: str) -> bool:
    """Tell letters from marks set over others, and from signs that only guide the setting."""
    return unicodedata.category(letter) not in {"Mn", "Me", "Cf", "Cc"}


@cache
def _face_with(letter: str, face: Face) -> Face | None:
    """Find a face that has the letter: the one asked for, else a plain one, else none."""
    return next((f for f in (face, _SPARE) if font_of(f).has(letter)), None)


@dataclass(frozen=True)
class _Font:
    """A font file.

    Attributes
    ----------
    name
        By which the PDF library knows it.
    file
        As the PDF library reads it.
    kerns
        How much further two shapes stand apart than each would, in ems.
    """

    name: str
    file: TTFont
    kerns: dict[tuple[int, int], float]

    def has(self, letter: str) -> bool:
        """Tell whether the font has a shape for a letter."""
        return ord(letter) in self.file.face.charToGlyph

    def kerned(self, letters: str) -> Iterator[tuple[str, float]]:
        """Part letters where there is kerning between them; each part with its width, in ems."""
        shapes = [self.file.face.charToGlyph[ord(letter)] for letter in letters]
        begin = 0
        for k, pair in enumerate(pairwise(shapes), start=1):
            kern = self.kerns.get(pair)
            if kern:
                part = letters[begin:k]
                yield part, self.file.stringWidth(part, 1) + kern
                begin = k
        yield letters[begin:], self.file.stringWidth(letters[begin:], 1)


@cache
def font_of(face: Face) -> _Font:
    """Read a face, and make it known to the PDF library.

    Raises
    ------
    StitchpathError
        When its file is missing.
    """
    package = find_spec("matplotlib")  # looked for, not imported
    folder = Path((package and package.origin) or "").parent / "mpl-data" / "fonts" / "ttf"
    path, name = folder / _FILES[face], Path(_FILES[face]).stem
    if not path.is_file():
        raise StitchpathError(
            f"{path}: no such file, expected a font that comes with the package matplotlib"
        )
    font = TTFont(name, str(path), asciiReadable=False)
    pdfmetrics.registerFont(font)
    return _Font(name, font, _kerns(font))


def _kerns(font: TTFont) -> dict[tuple[int, int], float]:
    """Read the table "kern" of a font, its first part, of format 0 (OpenType, ISO/IEC 14496-22)."""
    if "kern" not in font.face.table:
        return {}
    table = font.face.get_table("kern")
    count = int.from_bytes(table[10:12], "big")
    kind = np.dtype([("left", ">u2"), ("right", ">u2"), ("value", ">i2")])
    pairs = np.frombuffer(table, kind, count, offset=18)
    both = zip(pairs["left"].tolist(), pairs["right"].tolist(), strict=True)
    return dict(zip(both, (pairs["value"] / font.face.unitsPerEm).tolist(), strict=True))
