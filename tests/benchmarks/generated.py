"""Outlines of a generator: plates with slots, lacy figures of six arms, branching corals.

Run `python tests/benchmarks/generated.py [count]` to draw lines through so many of them (2,000),
each checked: none leaves its piece, and nothing breaks.
"""

import sys
import time
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, affinity, box

sys.path.insert(0, str(Path(__file__).parent))


def plate(rng: np.random.Generator) -> MultiPolygon:
    """A plate with slots and holes, some of which touch or leave it."""
    wide, high = rng.uniform(60, 240, 2)
    shape = box(0, 0, wide, high).buffer(rng.uniform(0, 6))
    for _ in range(rng.integers(1, 9)):
        at = rng.uniform(0, 1, 2) * (wide, high)
        angle = rng.uniform(0, np.pi)
        long = rng.uniform(0, 0.5) * min(wide, high)
        slot = LineString([at, at + long * np.array([np.cos(angle), np.sin(angle)])])
        shape = shape.difference(slot.buffer(rng.uniform(0.3, 12)))
    return _whole(shape)


def lace(rng: np.random.Generator) -> MultiPolygon:
    """A figure of six arms with pairs of twigs, a hub and holes in it."""
    long, wide = rng.uniform(40, 120), rng.uniform(2, 6)
    strokes = [LineString([(0, 0), (long, 0)]).buffer(wide / 2)]
    for _ in range(rng.integers(1, 7)):
        at, twig = rng.uniform(0.2, 1.0) * long, rng.uniform(0.1, 0.35) * long
        angle = np.radians(rng.uniform(35, 80))
        for side in (-1, 1):
            tip = (at + twig * np.cos(angle), side * twig * np.sin(angle))
            strokes.append(LineString([(at, 0), tip]).buffer(rng.uniform(0.8, 1.0) * wide / 2))
    if rng.random() < 0.7:
        strokes.append(Point(0, 0).buffer(rng.uniform(0.1, 0.4) * long))
    arm = shapely.union_all(strokes)
    shape = shapely.union_all([affinity.rotate(arm, 60 * k, origin=(0, 0)) for k in range(6)])
    away, hole = rng.uniform(0.05, 0.5) * long, rng.uniform(0.5, 5)
    turn = 30 * rng.integers(0, 2)
    for k in range(6 if rng.random() < 0.7 else 0):
        angle = np.radians(60 * k + turn)
        shape = shape.difference(Point(away * np.cos(angle), away * np.sin(angle)).buffer(hole))
    return _whole(shape)


def coral(rng: np.random.Generator) -> MultiPolygon:
    """A branching coral, its twigs thinner and thinner, some grown together."""
    strokes: list[Polygon] = []

    def grow(at: np.ndarray, angle: float, wide: float, left: int) -> None:
        long = wide * rng.uniform(2, 6)
        to = at + long * np.array([np.cos(angle), np.sin(angle)])
        strokes.append(
            shapely.union_all(
                [Point(*p).buffer(w / 2) for p, w in ((at, wide), (to, 0.8 * wide))]
            ).convex_hull
        )
        if left > 0 and wide > 1:
            for _ in range(rng.integers(1, 4)):
                grow(to, angle + rng.uniform(-1.1, 1.1), wide * rng.uniform(0.55, 0.95), left - 1)

    grow(np.zeros(2), -np.pi / 2, rng.uniform(5, 14), int(rng.integers(2, 6)))
    return _whole(shapely.union_all(strokes))


def _whole(shape: shapely.Geometry) -> MultiPolygon:
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and p.area > 1]
    return MultiPolygon(parts)


KINDS = {"plate": plate, "lace": lace, "coral": coral}


def generated(count: int, seed: int = 1) -> dict[str, MultiPolygon]:
    """So many outlines, by kind and number, the same for the same seed."""
    rng = np.random.default_rng(seed)
    names = list(KINDS)
    return {f"{names[k % 3]} {k}": KINDS[names[k % 3]](rng) for k in range(count)}


def main(count: int) -> None:
    """Draw lines through all of them, and tell what fails."""
    from measures import outside  # noqa: PLC0415 - a neighbour of this script

    from stitchpath.lines.centre.centre_lines import centre_lines  # noqa: PLC0415

    times, failed = [], 0
    for name, shape in generated(count).items():
        start = time.process_time()
        try:
            lines = centre_lines(shape).lines
        except Exception as error:  # noqa: BLE001 - whatever breaks is what is looked for
            failed += 1
            print(f"{name}: {error!r}")
            continue
        times.append(1000 * (time.process_time() - start))
        far = outside(shape, lines)
        if far > 0:
            failed += 1
            print(f"{name}: {far:.2f} mm outside")
    print(
        f"{count} outlines, {failed} failed; median {np.median(times):.1f}, "
        f"99 % {np.percentile(times, 99):.1f}, most {max(times):.1f} ms"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
