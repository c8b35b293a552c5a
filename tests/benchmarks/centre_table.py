"""What lines through the middle are held to, on outlines that no one here drew: two tables.

Run `python tests/benchmarks/centre_table.py [every]` for every so many of the outlines (all), at 4
and at 9 in, mirrored and turned; and `... libraries [every]` for the same measures of general
libraries. Times are of the processor. Wanted: nothing outside, 1 % of arms missed at most, all
symmetric pieces symmetric within 0.1 mm, median 30 ms, 99 % within 200 ms. A disc, alone or with
rings about its middle, lies alike however it is turned: its line across is held to stay level, and
within as much as the disc is off a circle itself.
"""

import resource
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, affinity

sys.path.insert(0, str(Path(__file__).parent))

from corpus import corpus
from measures import ROUND, beside, is_disc, mirrors, missed, moved, moves, off, other_way, outside

from stitchpath.lines.centre.centre_lines import centre_lines

SIZES = {4: 1.0, 9: 2.25}
WITHIN = 0.1  # mm
OTHER = 5.0  # mm of line, at 4 in, that the same piece has elsewhere at another size


def row(task: tuple[str, int]) -> dict[str, object]:
    """Measure one outline at one size."""
    name, inches = task
    share = SIZES[inches]
    shape = affinity.scale(corpus()[name], share, share, origin=(0, 0))
    start = time.process_time()
    found = centre_lines(shape)
    spent = 1000 * (time.process_time() - start)
    arms, bare = missed(shape, found.lines)
    found_mirrors, disc = mirrors(shape), is_disc(shape)
    near = 0.0015 * np.ptp(shape.bounds[::2])  # what a coarse grid moves a corner by, at most
    small = [line / share for line in found.lines]
    return {
        "name": name,
        "ms": spent,
        "outside": outside(shape, found.lines),
        "arms": arms,
        "missed": len(bare),
        "mirrored": [off(found.lines, moved(found.lines, m)) for m in found_mirrors],
        "nearly": [off(found.lines, moved(found.lines, m)) for m in mirrors(shape, near)],
        "nearly within": WITHIN + near,
        "other": other_way(small, centre_lines(corpus()[name]).lines) if inches > min(SIZES) else 0,
        "moved": {
            how: off(
                _turned(found.lines, m, beside(shape, m) if disc else m),
                centre_lines(affinity.affine_transform(shape, m)).lines,
            )
            for how, m in moves().items()
        },
        "disc": disc,
        "within": ROUND / 2 * np.ptp(shape.bounds[::2]) if disc else WITHIN,
        "lines": len(found.lines),
        "MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def _turned(
    lines: Sequence[np.ndarray], matrix: list[float], level: list[float]
) -> list[np.ndarray]:
    """Lines, moved: closed ones by a matrix, others by one that may leave them level."""
    closed = [line for line in lines if np.array_equal(line[0], line[-1])]
    others = [line for line in lines if not np.array_equal(line[0], line[-1])]
    return moved(closed, matrix) + moved(others, level)


def ours(every: int) -> None:
    """Print what is held and what is not."""
    names = list(corpus())[::every]
    with Pool(2) as pool:
        for inches in SIZES:
            rows = pool.map(row, [(name, inches) for name in names], chunksize=8)
            times = np.array([r["ms"] for r in rows])
            arms, bare = sum(r["arms"] for r in rows), sum(r["missed"] for r in rows)
            own = [r for r in rows if r["mirrored"]]
            print(f"{len(rows)} outlines of {inches} in")
            print(f"  lines outside        {sum(r['outside'] > 0 for r in rows)}")
            print(f"  arms without a line  {bare} of {arms} ({100 * bare / max(arms, 1):.2f} %)")
            bad = [r["name"] for r in own if max(r["mirrored"]) > WITHIN]
            print(f"  not symmetric        {len(bad)} of {len(own)} {bad[:9]}")
            own = [r for r in rows if r["nearly"]]
            bad = [r["name"] for r in own if max(r["nearly"]) > r["nearly within"]]
            print(f"  nor nearly           {len(bad)} of {len(own)} {bad[:9]}")
            bad = [r["name"] for r in rows if r["other"] > OTHER]
            print(f"  not as at 4 in       {len(bad)} of {len(rows)} {bad[:9]}")
            for how in moves():
                bad = [r["name"] for r in rows if r["moved"][how] > r["within"]]
                print(f"  {how:21}{len(bad)} of {len(rows)} other {bad[:9]}")
            print(f"  discs, level         {[r['name'] for r in rows if r['disc']]}")
            print(f"  ms  median {np.median(times):.1f}, 99 % {np.percentile(times, 99):.1f}")
            print(f"  MB  {max(r['MB'] for r in rows):.0f} at most")


def _pygeoops(shape: MultiPolygon) -> Iterator[shapely.Geometry]:
    import pygeoops  # noqa: PLC0415

    for part in shapely.get_parts(shape):
        yield pygeoops.centerline(part, densify_distance=1, simplifytolerance=0)


def _centerline(shape: MultiPolygon) -> Iterator[shapely.Geometry]:
    from centerline.geometry import Centerline  # noqa: PLC0415

    for part in shapely.get_parts(shape):
        yield shapely.line_merge(Centerline(part, 1.0).geometry)


def _skimage(shape: MultiPolygon) -> Iterator[shapely.Geometry]:
    from matplotlib.path import Path as Outline  # noqa: PLC0415
    from skimage.morphology import skeletonize  # noqa: PLC0415

    step = 0.25
    left, top, right, bottom = shape.bounds
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step))
    spots = np.column_stack([x.ravel(), y.ravel()])
    rings = [r for p in shapely.get_parts(shape) for r in (p.exterior, *p.interiors)]
    inside = sum(Outline(shapely.get_coordinates(r)).contains_points(spots) for r in rings) % 2
    bone = skeletonize(inside.reshape(x.shape).astype(bool))
    rows, columns = np.nonzero(bone)
    near = []
    for down, over in ((0, 1), (1, 0), (1, 1), (1, -1)):
        there = (rows + down < bone.shape[0]) & (columns + over < bone.shape[1])
        there &= columns + over >= 0
        a, b = rows[there], columns[there]
        both = bone[a + down, b + over]
        ends = [(b, a), (b + over, a + down)]
        near.append(np.stack([np.column_stack(e)[both] for e in ends], axis=1))
    bits = np.concatenate(near) * step + (left, top)
    yield shapely.line_merge(MultiLineString(list(bits)))


def _stitchpath(shape: MultiPolygon) -> Iterator[shapely.Geometry]:
    yield from (shapely.LineString(line) for line in centre_lines(shape).lines)


def libraries(every: int) -> None:
    """Print the same measures for general libraries beside ours, 4 in."""
    ways: dict[str, Callable[[MultiPolygon], Iterator[shapely.Geometry]]] = {
        "stitchpath": _stitchpath,
        "pygeoops": _pygeoops,
        "centerline": _centerline,
        "scikit-image": _skimage,
    }
    shapes = list(corpus().values())[::every]
    print("| way | outlines | broke | outside, mm | arms missed | lines | ms, median |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for name, way in ways.items():
        times, broke, far, arms, bare, count = [], 0, 0.0, 0, 0, 0
        for shape in shapes:
            start = time.process_time()
            try:
                parts = [g for found in way(shape) for g in shapely.get_parts(found)]
            except Exception:  # noqa: BLE001 - that it breaks is what is counted
                broke += 1
                continue
            times.append(1000 * (time.process_time() - start))
            lines = [shapely.get_coordinates(g) for g in parts if g.length > 0]
            far += outside(shape, lines)
            total, left = missed(shape, lines)
            arms, bare, count = arms + total, bare + len(left), count + len(lines)
        print(
            f"| {name} | {len(shapes)} | {broke} | {far:.1f} | {bare} of {arms} | {count} "
            f"| {np.median(times or [0]):.1f} |"
        )


if __name__ == "__main__":
    asked = sys.argv[1:]
    if asked[:1] == ["libraries"]:
        libraries(int(asked[1]) if len(asked) > 1 else 8)
    else:
        ours(int(asked[0]) if asked else 1)
