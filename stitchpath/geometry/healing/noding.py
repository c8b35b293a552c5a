"""One pass over loose lines: places where they are meant to meet, and lines bent to these."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial import cKDTree
from scipy.spatial.distance import pdist

from stitchpath.base.errors import GeometryError
from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.geometry.polylines import distances

__all__ = ["Bits", "as_lines", "cut_at_turns", "node_loosely"]

_TURN = np.cos(np.radians(25))  # a line that turns more has a corner there
_STEEP = np.sin(np.radians(8))  # lines that cross less steeply run along each other
_STRAYS = 1e-3  # mm: a line that strays less is straight
_STRAIGHT = 8.0  # mm: a straight so long tells where a place lies
_SQUARE = np.sin(np.radians(30))  # lines that cross less steeply tell badly where
_BESIDE = 2.5  # tolerances: a crossing so near an end is beside it
_HELD = 0.15  # weight of the middle of what meets, beside that of each straight through it
_LONG = 1.5  # tolerances: the ends of a line so long are two places
_MEETS = 1.5  # tolerances: an end so near another line is meant to lie on it
_SHARE = 0.3  # of a line: it is not made longer or shorter by more
_NEAR = 1.25  # tolerances: a line that passes a place so near runs through it
_ALIKE = 4.0  # tolerances: two lines between the same places that keep so near are one
_FOLD = 2.0  # of what an end is moved: points so near it are left out
_LOOP = 4.0  # tolerances: a way so long from a place back to it is a loop
_MOST_TOGETHER = 1500  # ends in one heap
_MOST_PAIRS = 4_000_000  # of ends near each other, each twice
_MOST_STROKES = 60_000


@dataclass(frozen=True, slots=True)
class Bits:
    """Lines between places.

    Attributes
    ----------
    paths
        Each of shape (n, 2), from place to place.
    ends
        Numbers of the places, shape (bits, 2).
    places
        Shape (places, 2), mm.
    spread
        How far what was brought to each place lay from it, mm, shape (places,).
    twice
        Middles of bits that were drawn more than once, shape (n, 2).
    """

    paths: list[FloatArray]
    ends: IntArray
    places: FloatArray
    spread: FloatArray
    twice: FloatArray


def as_lines(paths: list[FloatArray]) -> Geometries:
    """Make shapely lines of polylines, all at one go."""
    if not paths:
        return np.empty(0, dtype=object)
    sizes = [len(path) for path in paths]
    which = np.repeat(np.arange(len(paths)), sizes)
    return np.asarray(shapely.linestrings(np.concatenate(paths), indices=which))


def cut_at_turns(lines: list[FloatArray]) -> list[FloatArray]:
    """Cut polylines at their corners; what has no length is left out."""
    found = []
    for line in lines:
        moved = np.abs(np.diff(line, axis=0)).max(axis=1, initial=0) > 0
        points = line[np.concatenate([[True], moved])]
        if len(points) < 2:  # noqa: PLR2004 - a point
            continue
        way = np.diff(points, axis=0)
        way /= np.hypot(way[:, 0], way[:, 1])[:, None]
        corners = np.flatnonzero((way[:-1] * way[1:]).sum(axis=1) < _TURN) + 1
        ends = [0, *corners.tolist(), len(points) - 1]
        closed = np.array_equal(points[0], points[-1])
        if closed and len(ends) > 2 and float(way[-1] @ way[0]) >= _TURN:  # noqa: PLR2004
            points = np.concatenate([points[ends[1] : -1], points[: ends[1] + 1]])
            shift = ends[1]
            ends = [at - shift for at in ends[1:-1]] + [len(points) - 1]
        found += [_plain(points[a : b + 1]) for a, b in pairwise(ends)]
    return found


def _plain(points: FloatArray) -> FloatArray:
    """Leave out the points between the ends of a straight."""
    way = points[-1] - points[0]
    long = float(np.hypot(*way))
    if len(points) == 2 or long == 0:  # noqa: PLR2004
        return points
    out = points - points[0]
    along, aside = out @ way / long, np.abs(out[:, 0] * way[1] - out[:, 1] * way[0]) / long
    onward = (np.diff(along) > 0).all()
    return points[[0, -1]] if onward and aside.max() <= _STRAYS else points


def node_loosely(lines: list[FloatArray], tolerance: float, *, again: bool = False) -> Bits:
    """Find the places where lines are meant to meet, and cut and bend the lines to them.

    Parameters
    ----------
    lines
        Polylines without corners, each of shape (n, 2), mm.
    tolerance
        How far an end may lie from where it is meant to, mm.
    again
        Whether the lines are bits of an earlier pass, whose ends are where they meet.

    Raises
    ------
    GeometryError
        When so many ends lie together that the tolerance must be too large.
    """
    if len(lines) > _MOST_STROKES:
        raise GeometryError(
            f"found {len(lines):,} lines, those with corners cut there, expected at most "
            f"{_MOST_STROKES:,}"
        )
    drawn = np.array([line[k] for line in lines for k in (0, -1)])
    _not_heaped(drawn, 2 * tolerance)
    if not again:
        lines = _evened(lines, drawn, tolerance)
    segments, owner = _segments(lines)
    ends = np.array([line[k] for line in lines for k in (0, -1)])
    crossing = _crossings(segments, owner, ends, tolerance)
    points = np.concatenate([ends, crossing])
    lengths = np.array([np.hypot(*np.diff(line, axis=0).T).sum() for line in lines])
    group = _clusters(points, lengths >= _LONG * tolerance, tolerance)
    places = _places(points, group, segments, tolerance)
    far = np.hypot(*(np.concatenate([drawn, crossing]) - places[group]).T)
    spread = np.zeros(len(places))
    np.maximum.at(spread, group, far)
    shapes = as_lines(lines)
    cuts = _cuts(shapes, lengths, places, group, tolerance)
    paths, pairs = _bits(lines, places, cuts, tolerance)
    kept, twice = _each_once(paths, pairs, tolerance)
    middles = [paths[k].mean(axis=0) for k in twice]
    return Bits(
        [paths[k] for k in kept],
        pairs[kept],
        places,
        spread,
        np.array(middles).reshape(-1, 2),
    )


def _segments(lines: list[FloatArray]) -> tuple[FloatArray, IntArray]:
    """Give every side of polylines, shape (n, 2, 2), and the line it is of."""
    sizes = np.array([len(line) for line in lines])
    points = np.concatenate(lines)
    of = np.repeat(np.arange(len(lines)), sizes)
    same = of[:-1] == of[1:]
    return np.stack([points[:-1], points[1:]], axis=1)[same], of[:-1][same]


def _evened(lines: list[FloatArray], ends: FloatArray, tolerance: float) -> list[FloatArray]:
    """Make straights longer or shorter to where they cross what their ends lie near.

    An end that was drawn too short or too long is off along its line, where it tells least. Where
    the lines cross is told by the lines.
    """
    inner = np.array([line[k] for line in lines for k in (1, -2)])
    way = ends - inner
    size = np.hypot(way[:, 0], way[:, 1])
    unit = way / size[:, None]
    segments, owner = _segments(lines)
    side = segments[:, 1] - segments[:, 0]
    long = np.hypot(side[:, 0], side[:, 1])
    solid = np.flatnonzero(long >= _LOOP * tolerance)
    able = np.flatnonzero(size >= _LOOP * tolerance)
    if not len(solid) or not len(able):
        return lines
    tree = shapely.STRtree(np.asarray(shapely.linestrings(segments[solid])))
    spots = np.asarray(shapely.points(ends[able]))
    end, which = tree.query(spots, predicate="dwithin", distance=_MEETS * tolerance)
    end, which = able[end], solid[which]
    other = owner[which] != end // 2
    end, which = end[other], which[other]
    normal = np.stack([-side[which, 1], side[which, 0]], axis=1) / long[which, None]
    steep = (normal * unit[end]).sum(axis=1)
    away = ((segments[which, 0] - ends[end]) * normal).sum(axis=1)
    with np.errstate(all="ignore"):
        shift = away / steep
    most = np.minimum(_MEETS * tolerance, _SHARE * size[end])
    good = (np.abs(steep) > _STEEP) & (np.abs(shift) <= most)
    end, weight, shift = end[good], steep[good] ** 2, shift[good]
    total = np.bincount(end, weight, len(ends))
    moved = np.bincount(end, weight * shift, len(ends)) / np.maximum(total, 1e-12)
    tips = ends + moved[:, None] * unit
    out = [line.copy() for line in lines]
    for k in np.flatnonzero(moved).tolist():
        out[k // 2][-(k % 2)] = tips[k]
    return out


def _crossings(
    segments: FloatArray, owner: IntArray, ends: FloatArray, tolerance: float
) -> FloatArray:
    """Find where lines cross steeply; shape (n, 2).

    Where both lines end beside their crossing they meet at their ends: unless they cross very
    steeply, the ends tell better where.
    """
    shapes = np.asarray(shapely.linestrings(segments))
    a, b = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    keep = (a < b) & (owner[a] != owner[b])
    a, b = a[keep], b[keep]
    way = segments[:, 1] - segments[:, 0]
    size = np.hypot(way[:, 0], way[:, 1])
    cross = way[a, 0] * way[b, 1] - way[a, 1] * way[b, 0]
    sine = np.abs(cross) / np.maximum(size[a] * size[b], 1e-12)
    steep = sine > _STEEP
    a, b, cross, sine = a[steep], b[steep], cross[steep], sine[steep]
    apart = segments[b, 0] - segments[a, 0]
    share = (apart[:, 0] * way[b, 1] - apart[:, 1] * way[b, 0]) / cross
    found = segments[a, 0] + share[:, None] * way[a]
    tips = ends.reshape(-1, 2, 2)
    # of lines that cross at a slant the crossing lies the further off the less steep they are
    near = tolerance * np.maximum(_BESIDE, 1 / sine)
    beside = [np.hypot(*(tips[owner[k]] - found[:, None]).T).min(axis=0) < near for k in (a, b)]
    return np.asarray(found[~(beside[0] & beside[1] & (sine < _SQUARE))])


def _not_heaped(points: FloatArray, wide: float) -> cKDTree:
    """Make a tree of points; refuse them where they lie in heaps."""
    tree = cKDTree(points)
    if tree.count_neighbors(tree, wide) > _MOST_PAIRS:
        raise GeometryError(
            f"found {len(points):,} ends and crossings of lines that lie within {wide:g} mm of "
            "each other in heaps, expected a drawing of a top at its true size, or a smaller "
            "tolerance"
        )
    return tree


def _clusters(points: FloatArray, long: BoolArray, tolerance: float) -> IntArray:
    """Bring points together in groups no wider than twice the tolerance.

    The two ends of a long line, points 2k and 2k + 1, are never in one group.
    """
    wide = 2 * tolerance
    pairs = _not_heaped(points, wide).query_pairs(wide, output_type="ndarray")
    label = groups(len(points), *pairs.T)
    total = int(label.max(initial=-1)) + 1
    low, high = np.full((total, 2), np.inf), np.full((total, 2), -np.inf)
    np.minimum.at(low, label, points)
    np.maximum.at(high, label, points)
    doubtful = np.hypot(*(high - low).T) > wide
    ends = 2 * len(long)
    torn = long & (label[0:ends:2] == label[1:ends:2])
    doubtful[label[0:ends:2][torn]] = True
    order = np.argsort(label, kind="stable")
    starts = np.searchsorted(label[order], np.arange(total + 1))
    for heap in np.flatnonzero(doubtful).tolist():
        members = order[starts[heap] : starts[heap + 1]]
        if len(members) > _MOST_TOGETHER:
            x, y = points[members].mean(axis=0)
            raise GeometryError(
                f"found {len(members):,} ends of lines in one heap about {x:.0f} mm from the left "
                f"and {y:.0f} mm from the top, expected a smaller tolerance or fewer lines"
            )
        parts = _parted(points[members], members, long, wide)
        label[members] = np.where(parts == 1, heap, total + parts - 2)
        total += int(parts.max()) - 1
    return np.unique(label, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _parted(points: FloatArray, members: IntArray, long: BoolArray, wide: float) -> IntArray:
    """Part a heap by complete linkage; numbers from 1."""
    apart = pdist(points)
    line = np.where(members < 2 * len(long), members // 2, -1)
    first, second = np.triu_indices(len(members), 1)
    same = (line[first] == line[second]) & (line[first] >= 0)
    same[same] = long[line[first][same]]
    apart[same] = 1e9
    parts: IntArray = fcluster(linkage(apart, "complete"), wide, "distance").astype(np.int64)
    return parts


def _places(
    points: FloatArray, group: IntArray, segments: FloatArray, tolerance: float
) -> FloatArray:
    """Lay each place where the straights through it meet best, near the middle of its points."""
    count = int(group.max()) + 1
    size = np.bincount(group, minlength=count).astype(float)
    mean = np.stack([np.bincount(group, points[:, k], count) / size for k in (0, 1)], axis=1)
    way = segments[:, 1] - segments[:, 0]
    length = np.hypot(way[:, 0], way[:, 1])
    straight = np.flatnonzero(length >= _STRAIGHT)
    matrix = np.tile(_HELD * np.eye(2), (count, 1, 1))
    right = _HELD * mean
    if len(straight):
        tree = shapely.STRtree(np.asarray(shapely.linestrings(segments[straight])))
        at, which = tree.query(
            shapely.points(mean), predicate="dwithin", distance=_NEAR * tolerance
        )
        which = straight[which]
        normal = np.stack([-way[which, 1], way[which, 0]], axis=1) / length[which, None]
        np.add.at(matrix, at, normal[:, :, None] * normal[:, None, :])
        along = (normal * segments[which, 0]).sum(axis=1)
        np.add.at(right, at, normal * along[:, None])
    moved = np.linalg.solve(matrix, right[:, :, None])[:, :, 0] - mean
    far = np.hypot(moved[:, 0], moved[:, 1])
    return np.asarray(mean + moved * np.minimum(1.0, tolerance / np.maximum(far, 1e-12))[:, None])


def _cuts(
    shapes: Geometries,
    lengths: FloatArray,
    places: FloatArray,
    group: IntArray,
    tolerance: float,
) -> tuple[IntArray, FloatArray, IntArray]:
    """Tell where each line passes places: line, how far along it, place; in order along it."""
    count = len(shapes)
    spots = np.asarray(shapely.points(places))
    at, line = shapely.STRtree(shapes).query(spots, predicate="dwithin", distance=_NEAR * tolerance)
    along = shapely.line_locate_point(shapes[line], spots[at])
    start, stop = group[0 : 2 * count : 2], group[1 : 2 * count : 2]
    from_start, from_stop = along, lengths[line] - along
    own = (at == start[line]) & (from_start < _LOOP * tolerance)
    own |= (at == stop[line]) & (from_stop < _LOOP * tolerance)
    at, line, along = at[~own], line[~own], along[~own]
    every = np.arange(count)
    which = np.concatenate([every, line, every])
    far = np.concatenate([np.zeros(count), along, lengths])
    place = np.concatenate([start, at, stop])
    rank = np.repeat([0, 1, 2], [count, len(line), count])
    order = np.lexsort((place, far, rank, which))
    return which[order], far[order], place[order]


def _bits(
    lines: list[FloatArray],
    places: FloatArray,
    cuts: tuple[IntArray, FloatArray, IntArray],
    tolerance: float,
) -> tuple[list[FloatArray], IntArray]:
    """Cut lines and bend what lies between two cuts to their places."""
    which, far, place = cuts
    joined = which[:-1] == which[1:]
    joined &= (place[:-1] != place[1:]) | (far[1:] - far[:-1] > _LOOP * tolerance)
    begin = np.flatnonzero(joined)
    pairs = np.stack([place[begin], place[begin + 1]], axis=1)
    straight = np.array([len(line) == 2 for line in lines])[which[begin]]  # noqa: PLR2004
    paths = list(places[pairs])
    for k in np.flatnonzero(~straight).tolist():
        a, b = far[begin[k]], far[begin[k] + 1]
        paths[k] = _bent(lines[which[begin[k]]], float(a), float(b), places[pairs[k]])
    solid = np.array([len(p) > 2 or bool((p[0] != p[1]).any()) for p in paths], dtype=bool)  # noqa: PLR2004
    return [p for p, kept in zip(paths, solid.tolist(), strict=True) if kept], pairs[solid]


def _bent(line: FloatArray, begin: float, end: float, to: FloatArray) -> FloatArray:
    """Take a line from one length to another, its ends moved to two places."""
    along = distances(line)
    tips = np.stack([np.interp([begin, end], along, line[:, k]) for k in (0, 1)], axis=1)
    # a point nearer an end than that is moved would be left beyond it
    near = _FOLD * np.hypot(*(to - tips).T)
    inner = (along > begin + near[0]) & (along < end - near[1])
    share = ((along[inner] - begin) / max(end - begin, 1e-12))[:, None]
    moved = line[inner] + (1 - share) * (to[0] - tips[0]) + share * (to[1] - tips[1])
    return np.concatenate([to[:1], moved, to[1:]])


def _each_once(
    paths: list[FloatArray], pairs: IntArray, tolerance: float
) -> tuple[list[int], list[int]]:
    """Keep one of bits between the same places that run along each other; give the others too."""
    low, high = pairs.min(axis=1), pairs.max(axis=1)
    order = np.lexsort((np.arange(len(pairs)), high, low))
    key = low[order] * (int(pairs.max(initial=0)) + 1) + high[order]
    cut = np.flatnonzero(np.diff(key)) + 1
    kept: list[int] = []
    twice: list[int] = []
    for some in np.split(order, cut):
        if len(some) == 1:
            kept.append(int(some[0]))
            continue
        mine: list[int] = []
        for k in some.tolist():
            if any(_run_along(paths[k], paths[j], _ALIKE * tolerance) for j in mine):
                twice.append(k)
            else:
                mine.append(k)
        kept += mine
    return sorted(kept), sorted(twice)


def _run_along(one: FloatArray, other: FloatArray, near: float) -> bool:
    if len(one) == len(other) == 2:  # noqa: PLR2004 - two straights between the same places
        return True
    a, b = shapely.LineString(one), shapely.LineString(other)
    return float(shapely.hausdorff_distance(a, b)) <= near
