"""Rings to areas, by the fill rules of SVG; traces simplified first, scribbles refused."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray

__all__ = ["crossings", "filled", "overlaps", "refuse_scribble", "sides", "simplified", "stroked"]

_CORNERS = 3
# A ring of more points than this is traced, not drawn, and is simplified first.
_TRACED = 2000
# How far simplifying may move a traced outline, as a share of its size: 0.05 mm on a 4 in piece.
_SHARE = 1 / 2000
# A trace that is so many times as long as its own running mean zigzags; a stair of pixels is at
# most 1.41 times as long as the edge it follows.
_ZIGZAG = 1.5
_FAR = 0.05  # share of its size: a ring farther from its running mean is a scribble, no edge
_SAMPLE = 400  # sides that are looked at to tell how often a drawing crosses itself
_HEAP = 250  # sides that one side meets on the mean: in so great a heap they are not told apart
_SAME = 1e-7  # share of the size of a drawing: points so near are one, as of edges that two share
_MOST_CROSSINGS = 20_000
_MOST_SIDES = 300_000
_MOST_LOOKS = 20_000_000
_MOST_TOUCHING = 300_000  # pairs of areas
_MOST_OVER = 20_000


def simplified(ring: FloatArray, size: float) -> tuple[FloatArray, float]:
    """Simplify a traced ring, by as little as brings it down to what a drawing has.

    One that zigzags is brought to its running mean first, over as few points as take the zigzag
    away.

    Parameters
    ----------
    ring
        Shape (n, 2), closed, its first point repeated.
    size
        Larger side of the whole outline.

    Returns
    -------
    ring, moved
        The ring, and the tolerance that it was simplified to; 0 for a ring of 2,000 points or
        fewer, which is left as it is.

    Raises
    ------
    StitchpathError
        When it is no edge but a scribble.
    """
    if len(ring) <= _TRACED:
        return ring, 0.0
    drawn = ring[:-1]
    steady = drawn
    reach = 1
    while _length(steady) > _ZIGZAG * _length(_mean(steady, reach)):
        reach *= 2
        steady = _mean(drawn, reach)
        far = float(np.sqrt(np.mean(np.sum((steady - drawn) ** 2, axis=1))))
        if far > _FAR * size or reach > len(drawn) / 8:
            raise StitchpathError(
                f"found a line of {len(drawn):,} points that runs to and fro, expected the edge "
                "of a shape"
            )
    line = LineString(np.concatenate([steady, steady[:1]]))
    moved = 0.0
    out = ring
    while len(out) > _TRACED:
        moved = max(2 * moved, _SHARE * size)
        out = shapely.get_coordinates(shapely.simplify(line, moved, preserve_topology=False))
    if steady is not drawn:
        moved = max(moved, far)
    return out, moved


def _length(ring: FloatArray) -> float:
    return float(np.hypot(*np.diff(ring, axis=0, append=ring[:1]).T).sum())


def _mean(ring: FloatArray, reach: int) -> FloatArray:
    """Take the running mean over so many points to either side."""
    around = np.concatenate([ring[-reach:], ring, ring[:reach]])
    sums = np.concatenate([np.zeros((1, 2)), np.cumsum(around, axis=0)])
    return np.asarray((sums[2 * reach + 1 :] - sums[: -2 * reach - 1]) / (2 * reach + 1))


def sides(lines: Sequence[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Give where each side of some polylines starts and stops."""
    none = np.zeros((0, 2))
    starts = np.concatenate([none, *(line[:-1] for line in lines)])
    return starts, np.concatenate([none, *(line[1:] for line in lines)])


def crossings(lines: Sequence[FloatArray]) -> float:
    """Tell about how often polylines cross each other and themselves, from a sample of sides.

    Sides that meet at their ends or run along each other, as where two areas share an edge, do
    not cross.
    """
    starts, stops = sides(lines)
    if len(starts) < _CORNERS:
        return 0.0
    ends = np.stack([starts, stops], axis=1)
    fine = max(float(np.ptp(ends.reshape(-1, 2), axis=0).max()) * _SAME, 1e-300)
    drawn = np.asarray(shapely.linestrings(np.round(ends / fine)))
    # each from the middle of its share: the last side is often a long line over all others
    looked = drawn[np.unique(((np.arange(_SAMPLE) + 0.5) * len(drawn) / _SAMPLE).astype(int))]
    one, other = shapely.STRtree(drawn).query(looked, predicate="intersects")
    met = len(one)
    if met < _HEAP * len(looked):
        met = int(shapely.crosses(looked[one], drawn[other]).sum())
    return float(met / len(looked) * len(drawn) / 2)


def refuse_scribble(
    lines: Sequence[FloatArray], most: int = _MOST_CROSSINGS, expected: str = "the edge of a shape"
) -> None:
    """Refuse a scribble that crosses itself so often that cutting it would take minutes.

    Parameters
    ----------
    lines
        Each of shape (n, 2).
    most
        So many crossings are cut.
    expected
        What the lines should be.

    Raises
    ------
    StitchpathError
        When there are too many sides or crossings.
    """
    points = sum(len(line) for line in lines)
    if points > _MOST_SIDES:
        raise StitchpathError(f"found {points:,} points, expected at most {_MOST_SIDES:,}")
    if points > _SAMPLE and crossings(lines) > most:
        raise StitchpathError(f"found lines that cross over {most:,} times, expected {expected}")


def overlaps(shapes: Sequence[BaseGeometry]) -> dict[int, list[int]]:
    """List for each area those before it that lie over or under it, not just beside it.

    Raises
    ------
    StitchpathError
        When there are too many.
    """
    every = np.asarray(shapes, dtype=object)
    later, earlier = shapely.STRtree(every).query(every, predicate="intersects")
    before = earlier < later
    later, earlier = later[before], earlier[before]
    if len(later) > _MOST_TOUCHING:
        raise StitchpathError(
            f"found {len(later):,} pairs of filled shapes that touch or lie over each other, "
            f"expected at most {_MOST_TOUCHING:,}"
        )
    over = ~shapely.touches(every[later], every[earlier])
    later, earlier = later[over], earlier[over]
    if len(later) > _MOST_OVER:
        raise StitchpathError(
            f"found {len(later):,} pairs of filled shapes that lie over each other, expected at "
            f"most {_MOST_OVER:,}"
        )
    found: dict[int, list[int]] = {}
    for k in np.lexsort((earlier, later)).tolist():
        found.setdefault(int(later[k]), []).append(int(earlier[k]))
    return found


def filled(rings: Sequence[FloatArray], *, even_odd: bool) -> BaseGeometry:
    """Fill rings (SVG 2, section 13.3.2).

    Parameters
    ----------
    rings
        Each of shape (n, 2), closed or not.
    even_odd
        A place is inside where a line from it to the outside crosses the rings an odd number of
        times; else where it crosses them more often one way round than the other.

    Returns
    -------
    BaseGeometry
        Valid; empty where they enclose nothing.

    Raises
    ------
    StitchpathError
        When they cross themselves too often.
    """
    closed = [
        ring if np.array_equal(ring[0], ring[-1]) else np.concatenate([ring, ring[:1]])
        for ring in rings
        if len(ring) >= _CORNERS
    ]
    if not closed:
        return Polygon()
    if len(closed) == 1 and len(closed[0]) > _CORNERS:
        alone = Polygon(closed[0])
        if alone.is_valid:
            return alone
    refuse_scribble(closed)
    lines = shapely.union_all([LineString(ring) for ring in closed])  # cut where they cross
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    if not len(faces):
        return Polygon()
    if len(closed) == len(faces) == 1:
        return shapely.union_all(faces)
    turns = _windings(
        shapely.get_coordinates(shapely.point_on_surface(faces)), closed, even_odd=even_odd
    )
    inside = turns % 2 == 1 if even_odd else turns != 0
    return shapely.union_all(faces[inside])


def _windings(
    points: FloatArray, rings: Sequence[FloatArray], *, even_odd: bool
) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Count for each point the sides that a ray to the right crosses, down minus up.

    By the even-odd rule all of them.
    """
    starts, stops = sides(rings)
    tree = shapely.STRtree(np.asarray(shapely.linestrings(np.stack([starts, stops], axis=1))))
    right = float(max(starts[:, 0].max(), stops[:, 0].max())) + 1.0
    ends = np.column_stack([np.full(len(points), right), points[:, 1]])
    rays = np.asarray(shapely.linestrings(np.stack([points, ends], axis=1)))
    some = rays[np.unique(np.linspace(0, len(rays) - 1, 50).astype(int))]
    if tree.query(some).shape[1] / len(some) * len(rays) > _MOST_LOOKS:
        raise StitchpathError("found an outline of too many parts, expected a simpler shape")
    which, side = tree.query(rays)
    (x, y), (x0, y0), (x1, y1) = points[which].T, starts[side].T, stops[side].T
    over = (y0 > y) != (y1 > y)
    which, x, y, x0, y0, x1, y1 = (a[over] for a in (which, x, y, x0, y0, x1, y1))
    beyond = x0 + (y - y0) / (y1 - y0) * (x1 - x0) > x
    way = np.where(even_odd | (y1 > y0), 1, -1)
    return np.bincount(which[beyond], way[beyond], len(points)).astype(np.int64)


def stroked(
    lines: Sequence[FloatArray],
    width: float,
    *,
    cap: Literal["flat", "round", "square"],
    join: Literal["mitre", "round", "bevel"],
    mitre: float,
    pen: FloatArray | None = None,
) -> BaseGeometry:
    """Outline a stroke (SVG 2, section 13.5).

    Parameters
    ----------
    lines
        Each of shape (n, 2); closed ones end where they begin.
    width
        Of the stroke.
    cap, join, mitre
        How it ends and turns, in shapely's words, and its mitre limit.
    pen
        Matrix, shape (2, 2), that a round pen is drawn out by; none for a round one.
    """
    if pen is not None:
        back = np.linalg.inv(pen).T
        plain = stroked([line @ back for line in lines], width, cap=cap, join=join, mitre=mitre)
        return shapely.transform(plain, lambda points: points @ pen.T)
    parts: list[BaseGeometry] = []
    for line in lines:
        if len(line) < 2:  # noqa: PLR2004 - a point
            continue
        closed = np.array_equal(line[0], line[-1]) and len(line) > _CORNERS
        made = shapely.LinearRing(line) if closed else LineString(line)
        round_join: Literal["round", "bevel"] = "bevel" if join == "mitre" else join
        parts.append(
            shapely.buffer(made, width / 2, quad_segs=16, cap_style=cap, join_style=round_join)
        )
        if join == "mitre":
            parts += _mitres(line, width / 2, mitre, closed=closed)
    return shapely.union_all(parts)


def _mitres(line: FloatArray, reach: float, limit: float, *, closed: bool) -> list[BaseGeometry]:
    """Fill the corners of a stroke out to their points, but for those too sharp.

    One whose mitre is longer than the limit times the stroke stays cut off at the corner (SVG 2,
    section 13.5.5), where a buffer would cut it off at the limit.
    """
    way = np.diff(line, axis=0)
    way /= np.hypot(way[:, 0], way[:, 1])[:, None]
    before, after, corner = way[:-1], way[1:], line[1:-1]
    if closed:
        before = np.concatenate([before, way[-1:]])
        after = np.concatenate([after, way[:1]])
        corner = np.concatenate([corner, line[:1]])
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    along = np.sum(before * after, axis=1)
    # the mitre's length over the width is 1 / sin(half the angle between the sides)
    ratio = np.sqrt(2 / np.maximum(1 + along, 1e-12))
    some = (ratio <= limit) & (np.abs(turn) > 1e-9)  # noqa: PLR2004 - straight on
    side = np.where(turn > 0, 1.0, -1.0)[:, None] * reach
    one = np.column_stack([before[:, 1], -before[:, 0]]) * side
    other = np.column_stack([after[:, 1], -after[:, 0]]) * side
    tip = (one + other) / np.maximum(1 + along, 1e-12)[:, None]
    rings = np.stack([corner, corner + one, corner + tip, corner + other], axis=1)[some]
    return list(shapely.polygons(rings)) if len(rings) else []
