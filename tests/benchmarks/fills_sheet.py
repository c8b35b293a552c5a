"""Draw fills on twelve grounds on one sheet, to be looked at.

Run it by itself: ``python tests/benchmarks/fills_sheet.py sheet.png [STYLE …]``. Every style unless
some are named. What a style declines stands on the ground in its own words.
"""

import sys
import textwrap

import matplotlib as mpl
import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiLineString, Point, Polygon, box
from shapely.ops import unary_union

from stitchpath.base.errors import StitchpathError
from stitchpath.lines.fills.pattern import UNFIT
from stitchpath.lines.fills.styles import STYLES, fill

mpl.use("Agg")
from matplotlib import pyplot as plt

SPACING = 12.7  # mm: half an inch
BOAT = [
    np.array(
        [[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [7.5, -1], [8, 0], [9, 0]],
        dtype=float,
    )
]
SAILBOAT = Polygon([(60, 140), (160, 140), (140, 165), (80, 165)]).union(
    Polygon([(112, 134), (112, 40), (165, 134)])
)


def _star(size: float) -> Polygon:
    """Give a sawtooth star of four by four squares, in the middle of its block."""
    q = size / 4
    rim = [(1, 0), (2, 1), (3, 0), (3, 1), (4, 1), (3, 2), (4, 3), (3, 3), (3, 4), (2, 3)]
    rim += [(1, 4), (1, 3), (0, 3), (1, 2), (0, 1), (1, 1)]
    return Polygon([(x * q, y * q) for x, y in rim])


def _lap_quilt() -> Polygon:
    """A lap quilt's ground, on point, round nine pieced stars."""
    stars = [
        affinity.translate(_star(200), 150 + 300 * i, 150 + 300 * j)
        for i in range(3)
        for j in range(3)
    ]
    return box(0, 0, 1100, 1100).difference(unary_union(stars))


GROUNDS = {
    "square": box(0, 0, 200, 200),
    "half-square triangle": Polygon([(0, 0), (200, 200), (0, 200)]),
    "L": Polygon([(0, 0), (80, 0), (80, 120), (200, 120), (200, 200), (0, 200)]),
    "ring": Point(100, 100).buffer(100, quad_segs=48).difference(Point(100, 100).buffer(45)),
    "narrow strip": box(0, 0, 300, 38),
    "star background": box(0, 0, 200, 200).difference(_star(200)),
    "circle": Point(100, 100).buffer(100, quad_segs=48),
    "wedge": Polygon([(100, 200), (40, 0), (160, 0)]),
    "on point": Polygon([(100, 0), (200, 100), (100, 200), (0, 100)]),
    "with a piece": box(0, 0, 220, 200).difference(SAILBOAT),
    "border": box(0, 0, 300, 240).difference(box(50, 50, 250, 190)),
    "lap quilt": _lap_quilt(),
}


def draw(axes, name, region, style):
    """One fill of one ground."""
    spacing = SPACING * (2 if name == "lap quilt" else 1) * (2 if style == "motif rows" else 1)
    angle = 45 if style == "crosshatch" else 0
    parts = list(shapely.get_parts(region))
    pieces = MultiLineString([ring.coords for part in parts for ring in part.interiors])
    axes.set_title(style, fontsize=8)
    axes.set_aspect("equal")
    axes.invert_yaxis()
    axes.axis("off")
    for ring in (ring for part in parts for ring in (part.exterior, *part.interiors)):
        axes.plot(*ring.xy, color="tab:blue", lw=0.8)
    try:
        filled = fill(region, style, spacing, angle=angle, motif=BOAT, closed=pieces)
    except StitchpathError as error:
        words = "\n".join(textwrap.wrap(str(error), 40))
        axes.text(*region.representative_point().coords[0], words, fontsize=6, ha="center")
        return
    if not filled.paths and style in UNFIT:
        words = "\n".join(textwrap.wrap(f"declined: {UNFIT[style]}", 30))
        axes.text(*region.representative_point().coords[0], words, fontsize=6, ha="center")
        return
    for path in filled.paths:
        axes.plot(*path.T, color="black", lw=0.8)
    for note in filled.notes:
        axes.plot(*note.at, "x", color="tab:red", ms=4)
    if filled.door:
        axes.plot(*filled.door, "o", color="tab:red", ms=3)


def main(target, styles):
    figure, table = plt.subplots(
        len(styles), len(GROUNDS), figsize=(3 * len(GROUNDS), 3 * len(styles)), squeeze=False
    )
    for row, style in zip(table, styles, strict=True):
        for axes, (name, region) in zip(row, GROUNDS.items(), strict=True):
            draw(axes, name, region, style)
    figure.tight_layout(pad=0.3)
    figure.savefig(target, dpi=80)


if __name__ == "__main__":
    main(*([sys.argv[1], sys.argv[2:] or STYLES] if len(sys.argv) > 1 else ["sheet.png", STYLES]))
