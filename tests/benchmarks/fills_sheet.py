"""Draw every fill on several regions on one sheet, to be looked at.

Run it by itself: ``python tests/benchmarks/fills_sheet.py sheet.png``.
"""

import sys

import matplotlib as mpl
import numpy as np
from shapely.geometry import MultiLineString, Point, Polygon, box

from stitchpath.lines.fills.styles import STYLES, fill

mpl.use("Agg")
from matplotlib import pyplot as plt

BOAT = [
    np.array(
        [[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [7.5, -1], [8, 0], [9, 0]],
        dtype=float,
    )
]
TURN = np.linspace(0, 2 * np.pi, 90, endpoint=False)
BAY = 75 + 12 * np.cos(3 * TURN) + 8 * np.cos(5 * TURN + 1)
SAILBOAT = Polygon([(45, 105), (115, 105), (100, 122), (60, 122)]).union(
    Polygon([(82, 100), (82, 35), (118, 100)])
)
REGIONS = {
    "patch": box(0, 0, 150, 150),
    "half square": Polygon([(0, 0), (150, 150), (0, 150)]),
    "ground round a sailboat": box(0, 0, 160, 150).difference(SAILBOAT),
    "border": box(0, 0, 200, 160).difference(box(45, 45, 155, 115)),
    "bay": Polygon(np.column_stack([BAY * np.cos(TURN), BAY * np.sin(TURN)])),
    "harbour with an island": Polygon(
        [(0, 0), (170, 0), (170, 60), (100, 60), (100, 100), (170, 100), (170, 160), (0, 160)]
    ).difference(Point(50, 80).buffer(22)),
}


def draw(axes, region, style):
    """One fill of one region."""
    spacing = 24 if style == "motif rows" else 9
    angle = 45 if style == "crosshatch" else 0
    pieces = MultiLineString([ring.coords for ring in region.interiors])
    filled = fill(region, style, spacing, angle=angle, motif=BOAT, closed=pieces)
    for ring in (region.exterior, *region.interiors):
        axes.plot(*ring.xy, color="tab:blue", lw=1)
    for path in filled.paths:
        axes.plot(*path.T, color="black", lw=1.1)
    if filled.door:
        axes.plot(*filled.door, "o", color="tab:red", ms=5)
    axes.set_title(f"{style}" + (f" ({len(filled.notes)} notes)" if filled.notes else ""))
    axes.set_aspect("equal")
    axes.invert_yaxis()
    axes.axis("off")


def main(target):
    figure, table = plt.subplots(
        len(REGIONS), len(STYLES), figsize=(3 * len(STYLES), 3 * len(REGIONS))
    )
    for row, region in zip(table, REGIONS.values(), strict=True):
        for axes, style in zip(row, STYLES, strict=True):
            draw(axes, region, style)
    figure.tight_layout()
    figure.savefig(target, dpi=60)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "fills_sheet.png")
