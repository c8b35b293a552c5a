"""Outlines that no one here drew: signs of two free fonts that packages ship.

The symbols of DejaVu Sans come with matplotlib (Bitstream Vera licence), the solid icons of Font
Awesome Free with `fontawesomefree` (SIL Open Font Licence). Brands are a font of their own there
and are not used.
"""

import unicodedata
from collections.abc import Iterable
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.font_manager import FontProperties
from matplotlib.ft2font import FT2Font
from matplotlib.textpath import TextPath
from shapely import MultiPolygon, affinity

from stitchpath.base.errors import StitchpathError
from stitchpath.design.repair import mend_outline

FONT = "DejaVuSans.ttf"
# Geometric shapes, miscellaneous symbols and dingbats, and animals, by the blocks of Unicode.
BLOCKS = ((0x25A0, 0x25FF), (0x2600, 0x27BF), (0x1F400, 0x1F43F))
# Not for a harbour.
ELSEWHERE = ("snow", "icicle", "tree", "ski", "sleigh", "mitten", "holly", "candy", "igloo")
SIZE = 101.6  # mm: 4 in, the larger side of every outline


def font_file(font: str) -> Path:
    """Find a font that matplotlib ships."""
    return Path(mpl.get_data_path()) / "fonts" / "ttf" / font


def icon_file() -> Path | None:
    """Find the font of icons, if its package is there."""
    found = find_spec("fontawesomefree")
    if found is None or found.origin is None:
        return None
    fonts = Path(found.origin).parent / "static" / "fontawesomefree" / "webfonts"
    return fonts / "fa-solid-900.ttf"


def outlines(font: str, signs: Iterable[str]) -> dict[str, MultiPolygon]:
    """Outlines of signs in a font that matplotlib ships, 4 in large, by sign."""
    prop = FontProperties(fname=str(font_file(font)))
    found = {sign: _outline(sign, prop) for sign in signs}
    return {sign: outline for sign, outline in found.items() if outline is not None}


@cache
def symbols(font: str = FONT) -> dict[str, MultiPolygon]:
    """Symbols of a font by name, 4 in large, in a fixed order."""
    names = {
        chr(code): unicodedata.name(chr(code), "").lower()
        for code in sorted(FT2Font(str(font_file(font))).get_charmap())
        if any(first <= code <= last for first, last in BLOCKS)
    }
    signs = [sign for sign, name in names.items() if name and "snow" not in name]
    return {names[sign]: outline for sign, outline in outlines(font, signs).items()}


@cache
def icons(every: int = 3) -> dict[str, MultiPolygon]:
    """Every so many of the solid icons by name, 4 in large, in a fixed order."""
    path = icon_file()
    if path is None:
        return {}
    font = FT2Font(str(path))
    named = {font.get_glyph_name(glyph): chr(code) for code, glyph in font.get_charmap().items()}
    names = [name for name in sorted(named) if not any(word in name for word in ELSEWHERE)]
    prop = FontProperties(fname=str(path))
    found = {name: _outline(named[name], prop) for name in names[::every]}
    return {name: outline for name, outline in found.items() if outline is not None}


@cache
def corpus() -> dict[str, MultiPolygon]:
    """All of them, 4 in large."""
    return {**symbols(), **{f"icon {name}": shape for name, shape in icons().items()}}


def _outline(sign: str, prop: FontProperties) -> MultiPolygon | None:
    text = TextPath((0, 0), sign, size=1000, prop=prop)
    rings = [np.asarray(ring) for ring in text.to_polygons() if len(ring) > 2]
    try:
        shape = mend_outline(rings, sign)
    except StitchpathError:
        return None
    left, bottom, right, top = shape.bounds
    size = SIZE / max(right - left, top - bottom)
    return affinity.affine_transform(shape, [size, 0, 0, -size, -left * size, top * size])
