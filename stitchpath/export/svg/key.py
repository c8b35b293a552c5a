"""The key below an SVG: every line and mark that it holds, and no other."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from stitchpath.base.escape import xml_text
from stitchpath.base.marks import (
    INK,
    LINES,
    MARKS,
    PAPER,
    Entry,
    LineName,
    MarkName,
    ThreadLook,
    casing_of,
    casing_reach,
)
from stitchpath.base.typing import FloatArray
from stitchpath.export.svg.path import SvgSheet, looks_of, path_data
from stitchpath.plan import Plan

__all__ = ["ASIDE", "PEN", "draw_key", "draw_mark", "key_height", "reach", "stroke"]

PEN = 1 / 6  # of the letters' height
ASIDE = 1 / 2.5  # a second pass beside its line, of the letters' height
_HALF = 0.85  # half a mark, of the letters' height
_ROW = 2.0  # a line of the key, of the letters' height
_WIDE = 0.52  # a letter of the key, of its height: about, for fonts differ
_SAMPLE = 5.0  # a line of the key, of the letters' height
_INDENT = 6.5
_CAUTION = (
    "Your machine's manual comes first. Try stitch and thread on a sample of the same layers."
)


def stroke(line: LineName, look: ThreadLook, text: float) -> str:
    """Say how a line of a thread is stroked: its width and its dash."""
    what, pen = LINES[line], text * PEN
    dash = look.dash if what.dash is None else what.dash
    width = pen * what.width * (1.0 if what.colour else look.width)
    said = f' stroke-width="{width:.3f}"'
    if dash:
        said += f' stroke-dasharray="{" ".join(f"{pen * part:.3f}" for part in dash)}"'
    return said


def reach(mark: MarkName) -> float:
    """Tell how far a mark reaches from its place, of the letters' height."""
    return _HALF * max(math.hypot(*at) for ring, _ in MARKS[mark].parts for at in ring)


def draw_mark(number: str, mark: MarkName, at: FloatArray, text: float) -> str:
    """Draw a mark with its number."""
    x, y = at.tolist()
    parts = []
    for ring, fill in MARKS[mark].parts:
        points = np.array([*ring, ring[0]]) * _HALF * text + at
        parts.append(
            f'<path d="{path_data(points)}" fill="{fill}" stroke="{INK}" '
            f'stroke-width="{text / 8:.3f}"/>'
        )
    ink = MARKS[mark].number
    parts.append(f'<text x="{x:.3f}" y="{y + text * 0.35:.3f}" fill="{ink}">{number}</text>\n')
    return "".join(parts)


def _columns(key: Sequence[Entry], sheet: SvgSheet, text: float) -> int:
    widest = max(len(entry.words) for entry in key) * _WIDE + _INDENT + 3
    return max(int((sheet.width / text - 2) / widest), 1)


def key_height(key: Sequence[Entry], sheet: SvgSheet, text: float) -> float:
    """Tell how high a key is, mm, with letters so high, under a page of that width."""
    rows = math.ceil(len(key) / _columns(key, sheet, text))
    return (rows + 2) * _ROW * text


def draw_key(plan: Plan, key: Sequence[Entry], sheet: SvgSheet, text: float) -> Iterator[str]:
    """Explain what is drawn, and nothing else, below the quilt."""
    columns, below = _columns(key, sheet, text), sheet.top + sheet.height
    rows = math.ceil(len(key) / columns)
    wide = (sheet.width - 2 * text) / columns
    yield f'<g id="key" font-family="sans-serif" font-size="{text:.3f}" fill="{INK}">\n'
    for k, entry in enumerate(key):
        x = sheet.left + text + wide * (k // rows)
        y = below + (k % rows + 1) * _ROW * text
        yield _sample(plan, entry, np.array([x, y - 0.35 * text]), text)
        before, thread = entry.parts
        x += _INDENT * text
        yield f'<text x="{x:.3f}" y="{y:.3f}">{xml_text(before)}'
        if not thread:
            yield "</text>\n"
            continue
        colour = looks_of(plan)[thread].colour
        # The chip stands where letters of any font leave it room: first, then the name.
        yield f'</text>\n<rect x="{x + len(before) * _WIDE * text:.3f}" y="{y - 0.8 * text:.3f}" '
        yield f'width="{1.4 * text:.3f}" height="{text:.3f}" fill="{colour}" stroke="{INK}" '
        yield f'stroke-width="{text / 20:.3f}"/>\n'
        yield f'<text x="{x + (len(before) * _WIDE + 2) * text:.3f}" y="{y:.3f}">'
        yield f"{xml_text(thread)}</text>\n"
    y = below + (rows + 1) * _ROW * text
    yield f'<text x="{sheet.left + text:.3f}" y="{y:.3f}">{xml_text(_CAUTION)}</text>\n</g>\n'


def _sample(plan: Plan, entry: Entry, at: FloatArray, text: float) -> str:
    """Draw a line or a mark as it looks above."""
    looks = looks_of(plan)
    if entry.name in MARKS:
        mark: MarkName = entry.name  # type: ignore[assignment]
        middle = at + np.array([_SAMPLE / 2 * text, 0.0])
        return f'<g text-anchor="middle">{draw_mark("1", mark, middle, text)}</g>'
    line: LineName = entry.name  # type: ignore[assignment]
    look = looks.get(entry.thread) or next(iter(looks.values()))
    path = np.array([at, at + np.array([_SAMPLE * text, 0.0])])
    colour = LINES[line].colour or look.colour
    casing = None if LINES[line].colour else casing_of(look.colour, [PAPER])
    strokes = [(line, path)]
    if LINES[line].beside:
        strokes = [("stitch", path), (line, path - np.array([0.0, ASIDE * text]))]
    parts = []
    for name, points in strokes:
        data = f'd="{path_data(points)}"/>'
        if casing:
            width = text * PEN * (LINES[name].width + 2 * casing_reach(casing))
            parts.append(f'<path stroke="{casing}" stroke-width="{width:.3f}" {data}')
        parts.append(f'<path stroke="{colour}"{stroke(name, look, text)} {data}')
    return "".join(parts) + "\n"
