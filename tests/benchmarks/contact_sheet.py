"""A contact sheet of outlines that no one here drew, with the lines through their middle.

Run `python tests/benchmarks/contact_sheet.py sheet.png [first] [count]`. The outlines are the
symbols of DejaVu Sans, a free font (Bitstream Vera licence) that matplotlib ships.
"""

import sys
import unicodedata
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import matplotlib as mpl
import numpy as np
import shapely
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.ft2font import FT2Font
from matplotlib.textpath import TextPath
from shapely import MultiPolygon, affinity

from stitchpath.design.repair import mend_outline
from stitchpath.errors import StitchpathError
from stitchpath.lines.centre.centre_lines import centre_lines

FONT = "DejaVuSans.ttf"
# Geometric shapes, miscellaneous symbols and dingbats, and animals, by the blocks of Unicode.
BLOCKS = ((0x25A0, 0x25FF), (0x2600, 0x27BF), (0x1F400, 0x1F43F))
SIZE = 101.6  # mm: 4 in, the larger side of every outline


def outlines(font: str, signs: Iterable[str]) -> dict[str, MultiPolygon]:
    """Outlines of signs in a font that matplotlib ships, 4 in large, by sign."""
    path = Path(mpl.get_data_path()) / "fonts" / "ttf" / font
    prop = FontProperties(fname=str(path))
    found = {sign: _outline(sign, prop) for sign in signs}
    return {sign: outline for sign, outline in found.items() if outline is not None}


@cache
def symbols(font: str = FONT) -> dict[str, MultiPolygon]:
    """Symbols of a font by name, 4 in large, in a fixed order."""
    path = Path(mpl.get_data_path()) / "fonts" / "ttf" / font
    names = {
        chr(code): unicodedata.name(chr(code), "").lower()
        for code in sorted(FT2Font(str(path)).get_charmap())
        if any(first <= code <= last for first, last in BLOCKS)
    }
    signs = [sign for sign, name in names.items() if name and "snow" not in name]
    return {names[sign]: outline for sign, outline in outlines(font, signs).items()}


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


def _picked(first: int, count: int) -> Iterator[tuple[str, MultiPolygon]]:
    """So many symbols spread evenly over all, from the first on."""
    names = list(symbols())
    for k in np.linspace(first, len(names) - 1, count).astype(int):
        yield names[k], symbols()[names[k]]


def draw(path: str, shapes: list[tuple[str, MultiPolygon]], columns: int = 10) -> None:
    """Draw outlines with their lines to a picture."""
    rows = -(-len(shapes) // columns)
    figure = Figure(figsize=(2 * columns, 2.1 * rows))
    axes = figure.subplots(rows, columns, squeeze=False)
    for ax in axes.flat:
        ax.set_axis_off()
    for ax, (name, shape) in zip(axes.flat, shapes, strict=False):
        found = centre_lines(shape)
        for part in shapely.get_parts(shape):
            for ring in (part.exterior, *part.interiors):
                ax.fill(*shapely.get_coordinates(ring).T, fill=False, lw=0.5, ec="0.5")
        for k, line in enumerate(found.lines):
            ax.plot(*line.T, lw=1.2, color=f"C{k % 10}")
            ax.plot(*line[[0, -1]].T, ".", ms=3, color="black")
        for note in found.notes:
            ax.plot(*note.at, "x", ms=4, color="red")
        ax.set_title(name[:26], fontsize=6, pad=1)
        ax.set_aspect("equal")
        ax.invert_yaxis()
    figure.tight_layout(pad=0.3)
    figure.savefig(path, dpi=75)


if __name__ == "__main__":
    first, count = (int(a) for a in (sys.argv[2:] + ["0", "60"][len(sys.argv) - 2 :])[:2])
    draw(sys.argv[1], list(_picked(first, count)))
    print(f"{count} of {len(symbols())} symbols drawn to {sys.argv[1]}")
