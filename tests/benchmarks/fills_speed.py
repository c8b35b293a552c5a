"""How long the fills of a 60 x 80 in ground at 1/2 in spacing take, and how even they are.

Run it by itself: ``python tests/benchmarks/fills_speed.py``. Times are of the processor, not of
the clock on the wall. Wanted: meander in 5 s, motif rows in 2 s.
"""

import time

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString, MultiLineString, Point, box

from stitchpath.lines.fills.styles import STYLES, fill

INCH = 25.4
SPACING = INCH / 2
BOAT = [
    np.array(
        [[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [7.5, -1], [8, 0], [9, 0]],
        dtype=float,
    )
]
GROUNDS = {
    "ground": box(0, 0, 60 * INCH, 80 * INCH),
    "ground round 30 pieces": box(0, 0, 60 * INCH, 80 * INCH).difference(
        shapely.union_all(
            [
                Point(x, y).buffer(3 * INCH)
                for x in np.linspace(150, 1370, 5)
                for y in np.linspace(150, 1880, 6)
            ]
        )
    ),
}


def farthest(region, paths):
    """Farthest that a point inside the inset lies from stitching, in spacings."""
    inner = region.buffer(-SPACING / 2)
    left, top, right, bottom = inner.bounds
    x, y = np.meshgrid(np.arange(left, right, SPACING / 4), np.arange(top, bottom, SPACING / 4))
    inside = shapely.contains_xy(inner, x.ravel(), y.ravel())
    stitched = shapely.segmentize(MultiLineString(paths), SPACING / 8)
    tree = cKDTree(shapely.get_coordinates(stitched))
    at = np.column_stack([x.ravel()[inside], y.ravel()[inside]])
    return tree.query(at)[0].max() / SPACING


def main():
    print(f"{'':24}{'':12}{'cpu s':>7}{'paths':>7}{'points':>8}{'length':>8}{'farthest':>9}")
    print(f"{'':24}{'':12}{'':>7}{'':>7}{'':>8}{'x s/area':>8}{'x s':>9}")
    for name, ground in GROUNDS.items():
        for style in STYLES:
            begun = time.process_time()
            filled = fill(ground, style, SPACING, motif=BOAT)
            took = time.process_time() - begun
            length = sum(LineString(path).length for path in filled.paths)
            points = sum(len(path) for path in filled.paths)
            print(
                f"{name:24}{style:12}{took:7.2f}{len(filled.paths):7d}{points:8d}"
                f"{length * SPACING / ground.area:8.3f}{farthest(ground, filled.paths):9.2f}"
            )


if __name__ == "__main__":
    main()
