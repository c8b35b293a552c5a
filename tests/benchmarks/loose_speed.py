"""Time the search for loose ground on king-size tops: `python tests/benchmarks/loose_speed.py`.

Processor seconds, one thread. The top is 108 x 108 squares of 1 in; the fills are a wandering
line of 160,000 short pieces, one that covers the whole top and one that leaves much of it open.
"""

from itertools import pairwise
from time import process_time

import numpy as np
from shapely import box

from stitchpath.geometry.empty_circles import density, loose_places, uneven_neighbours, widest_gap

INCH = 25.4
SQUARES = 108
TOP = box(0, 0, SQUARES * INCH, SQUARES * INCH)


def ditches():
    ticks = np.arange(SQUARES + 1) * INCH
    across = [np.array([(a, y), (b, y)]) for y in ticks for a, b in pairwise(ticks)]
    return across + [line[:, ::-1].copy() for line in across]


def waves(pieces=160_000, rows=150):
    """Rows of waves over the whole top, as a frame would stitch a meander."""
    x = np.linspace(5, SQUARES * INCH - 5, pieces // rows)
    spacing = SQUARES * INCH / rows
    lines = [
        np.column_stack([x, (row + 0.5) * spacing + 0.4 * spacing * np.sin(x / 4)])
        for row in range(rows)
    ]
    return [np.concatenate([line[:: 1 - 2 * (row % 2)] for row, line in enumerate(lines)])]


def wander(pieces=160_000):
    """A random walk folded back into the top: dense here, open there."""
    turn = np.cumsum(np.random.default_rng(1).normal(0, 0.3, pieces))
    walk = np.cumsum(np.column_stack([np.cos(turn), np.sin(turn)]), axis=0)
    size = SQUARES * INCH
    return [np.abs((walk + size) % (2 * size) - size)]


def show(name, job, *arguments, **options):
    start = process_time()
    result = job(*arguments, **options)
    seconds = process_time() - start
    found = len(result) if isinstance(result, list | np.ndarray) else f"{result.diameter} mm"
    print(f"{name:<52}{seconds:>8.2f} s   {found}")


def main():
    tops = {"23,544 ditches": ditches(), "waves, 160,000": waves(), "wander, 160,000": wander()}
    for name, stitching in tops.items():
        for limit in (254, 101.6, 50.8, 25, 12):
            show(f"{name}: places over {limit} mm", loose_places, TOP, stitching, limit)
        show(f"{name}: widest place", widest_gap, TOP, stitching)
    show("no stitching: places over 101.6 mm", loose_places, TOP, [], 101.6)
    for across in (9, 108):
        side = SQUARES * INCH / across
        ticks = np.arange(across) * side
        blocks = [box(x, y, x + side, y + side) for x in ticks for y in ticks]
        show(f"density of {len(blocks)} blocks, ditches", density, blocks, tops["23,544 ditches"])
        show(f"density of {len(blocks)} blocks, waves", density, blocks, tops["waves, 160,000"])
        uneven = np.random.default_rng(0).uniform(1, 4, len(blocks))
        show(f"uneven neighbours among {len(blocks)}", uneven_neighbours, blocks, uneven, 3)


if __name__ == "__main__":
    main()
