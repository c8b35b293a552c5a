"""Draw rows of motifs, laid in every way, on three grounds on one sheet, to be looked at.

Run it by itself: ``python tests/benchmarks/motifs_sheet.py sheet.png``.
"""

import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np
from shapely.geometry import Point, Polygon, box

from stitchpath.design.drawings.outlines import read_lines
from stitchpath.lines.fills.stagger import Rows
from stitchpath.lines.fills.styles import fill

mpl.use("Agg")
from matplotlib import pyplot as plt

ROOT = Path(__file__).resolve().parents[2]
SPACING, GAP = 38.0, 6.0  # mm
T = np.linspace(0, 1, 80)
BOAT = [[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [7.5, -1], [8, 0], [9, 0]]
MOTIFS = {
    "breaker": read_lines(ROOT / "designs" / "breaker.svg", None, "", 1e-3),
    "boat": [np.array(BOAT, dtype=float)],
    "swell": [np.column_stack([60 * T, -14 * np.sin(2 * np.pi * T)])],
    "crest": [np.column_stack([50 * T, -20 * np.sin(np.pi * T) ** 2])],
}
GROUNDS = {
    "rectangle": box(0, 0, 300, 220),
    "round": Point(110, 110).buffer(110),
    "L": Polygon([(0, 0), (100, 0), (100, 130), (260, 130), (260, 220), (0, 220)]),
}
WAYS = {
    "offset": Rows(),
    "in line, mirrored": Rows(0.0, "mirrored"),
    "upside down": Rows(0.5, "upside down"),
    "nested in line": Rows(0.0, gap=GAP),
    "nested, offset": Rows(0.5, gap=GAP),
    "interlocking": Rows(0.5, "upside down", GAP),
    "off the edge": Rows(ends="off the edge"),
    "nested, off the edge": Rows(0.25, "alike", GAP, "off the edge"),
}


def main(target):
    grid = [(motif, ground) for motif in MOTIFS for ground in GROUNDS]
    figure, table = plt.subplots(len(grid), len(WAYS), figsize=(3 * len(WAYS), 2.4 * len(grid)))
    for row, (motif, ground) in zip(table, grid, strict=True):
        region = GROUNDS[ground]
        shut = None if ground == "rectangle" else region.boundary
        for axes, (way, rows) in zip(row, WAYS.items(), strict=True):
            axes.set_title(f"{motif}, {way}", fontsize=7)
            axes.set_aspect("equal")
            axes.invert_yaxis()
            axes.axis("off")
            axes.plot(*region.exterior.xy, color="tab:blue", lw=0.6)
            filled = fill(
                region, "motif rows", SPACING, motif=MOTIFS[motif], rows=rows, closed=shut
            )
            for path in filled.paths:
                axes.plot(*path.T, color="black", lw=0.7)
    figure.tight_layout(pad=0.2)
    figure.savefig(target, dpi=60)


if __name__ == "__main__":
    main(sys.argv[1])
