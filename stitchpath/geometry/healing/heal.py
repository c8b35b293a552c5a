"""Loose lines to faces: ends brought together, gaps bridged, what is drawn twice taken once."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import Polygon

from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.geometry.healing.joints import joined_places
from stitchpath.geometry.healing.noding import Bits, as_lines, cut_at_turns, node_loosely
from stitchpath.geometry.healing.straights import joined_straights, levelled

__all__ = ["Mended", "Web", "heal"]

Cause: TypeAlias = Literal["apart", "short", "twice", "over", "sliver"]

_PASSES = 3
_REACH = 2.75  # tolerances: how far a loose end reaches along its way
_MISSED = 0.25  # of that: so far beside its way a place is still meant
_ASIDE = 0.6  # of that: how far it reaches sideways
_DANGLE = 5.0  # tolerances: what sticks out less far is cut off untold as a line
_LOOSE = 0.1  # tolerances: ends so far from their place were drawn loosely
_MANY = 0.3  # share of places so: all of it was drawn loosely
_SEEN = 0.05  # mm: what is moved less is not told
_SAME = 2.0  # tolerances: what is told twice so near is told once


@dataclass(frozen=True, slots=True)
class Mended:
    """A place that was put right.

    Attributes
    ----------
    cause
        "apart": ends that did not meet; "short": a line that stopped before the next; "twice": a
        line drawn more than once; "over": a line that stuck out; "sliver": a face too narrow.
    at
        Where, mm.
    far
        By how much, mm; of a line drawn twice 0.
    """

    cause: Cause
    at: tuple[float, float]
    far: float


@dataclass(frozen=True, slots=True)
class Web:
    """What loose lines enclose.

    Attributes
    ----------
    faces
        In reading order.
    mended
        Places that were put right.
    loose
        Lines that enclose nothing, longer than what is cut off as sticking out.
    """

    faces: tuple[Polygon, ...]
    mended: tuple[Mended, ...]
    loose: tuple[FloatArray, ...]


def heal(lines: Sequence[FloatArray], tolerance: float) -> Web:
    """Find the faces that loose lines are meant to enclose.

    Ends and crossings are brought together where they lie within the tolerance of each other.
    Lines that pass such a place are bent through it, loose ends reach for the next line, and of
    lines that run along each other between the same places one is kept.

    Parameters
    ----------
    lines
        Polylines, each of shape (n, 2), mm; closed ones end where they begin.
    tolerance
        How far an end may lie from where it is meant to, mm.

    Returns
    -------
    Web
        Faces that meet exactly.

    Raises
    ------
    GeometryError
        When the tolerance is too large for what is drawn.
    """
    strokes = cut_at_turns([np.asarray(line, dtype=float) for line in lines])
    if not strokes:
        return Web((), (), ())
    mended: list[Mended] = []
    loosely: BoolArray | None = None
    strokes, twice = joined_straights(strokes, tolerance)
    mended += [Mended("twice", (float(x), float(y)), 0.0) for x, y in twice]
    bits = node_loosely(levelled(strokes, tolerance), tolerance)
    for number in range(_PASSES):
        mended += _told(bits, first=number == 0)
        if number == _PASSES - 1:
            break
        if loosely is None:
            loosely = bits.spread > _LOOSE * tolerance
        if loosely.any():  # what is drawn exactly stays as it is
            off = loosely if number == 0 else np.full(len(bits.places), loosely.mean() > _MANY)
            bits, moved = joined_places(bits, off, tolerance)
            mended += [Mended("apart", (float(x), float(y)), float(far)) for x, y, far in moved]
        paths, reached = _reach_out(bits, tolerance)
        mended += reached
        if not reached and not (bits.spread > 1e-6).any() and number:  # noqa: PLR2004 - settled
            break
        if not paths:
            return Web((), (), ())
        bits = node_loosely(paths, tolerance, again=True)
    paths, cut, loose = _trimmed(bits, tolerance)
    mended += cut
    faces, slivers = _faces(paths, tolerance)
    return Web(faces, tuple(_once(mended + slivers, tolerance)), tuple(loose))


def _told(bits: Bits, *, first: bool) -> list[Mended]:
    """Tell which places ends were brought to, and what was drawn twice."""
    seen = np.flatnonzero(bits.spread > _SEEN)
    found = [
        Mended("apart", (float(x), float(y)), float(far))
        for (x, y), far in zip(bits.places[seen], bits.spread[seen], strict=True)
    ]
    if first:
        found += [Mended("twice", (float(x), float(y)), 0.0) for x, y in bits.twice]
    return found


def _reach_out(bits: Bits, tolerance: float) -> tuple[list[FloatArray], list[Mended]]:
    """Lead loose ends on to the next line, to each other, or aside."""
    paths = list(bits.paths)
    degree = np.bincount(bits.ends.reshape(-1), minlength=len(bits.places))
    bit, end = np.nonzero(degree[bits.ends] == 1)
    if not len(bit):
        return paths, []
    tips = bits.places[bits.ends[bit, end]]
    back = np.array([_back(paths[k], e) for k, e in zip(bit.tolist(), end.tolist(), strict=True)])
    reach = _REACH * tolerance
    shapes = as_lines(paths)
    tree = shapely.STRtree(shapes)
    goal = _ahead(tips, tips - back, bit, (shapes, tree), reach)
    goal = _to_places(tips, tips - back, goal, bits, reach)
    goal = _each_other(tips, bit, goal, reach)
    goal = _aside(tips, bit, goal, (shapes, tree), _ASIDE * reach)
    mended = []
    for k in np.flatnonzero(~np.isnan(goal[:, 0])).tolist():
        which, at = int(bit[k]), goal[k]
        path = paths[which].copy()
        path[0 if end[k] == 0 else -1] = at
        if len(path) > 2 or (path[0] != path[1]).any():  # noqa: PLR2004
            paths[which] = path
        far = float(np.hypot(*(at - tips[k])))
        if far > _SEEN:
            mended.append(Mended("short", (float(at[0]), float(at[1])), far))
    return paths, mended


def _back(path: FloatArray, end: int) -> FloatArray:
    """Give a point a little way back from the end of a path, to tell where it is heading."""
    return np.asarray(path[1] if end == 0 else path[-2])


def _ahead(
    tips: FloatArray,
    way: FloatArray,
    bit: IntArray,
    found: tuple[Geometries, shapely.STRtree],
    reach: float,
) -> FloatArray:
    """Find where loose ends meet a line if they go on; NaN where they do not."""
    shapes, tree = found
    goal = np.full((len(tips), 2), np.nan)
    unit = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
    rays = np.asarray(shapely.linestrings(np.stack([tips, tips + reach * unit], axis=1)))
    ray, line = tree.query(rays, predicate="intersects")
    other = line != bit[ray]
    ray, line = ray[other], line[other]
    met = shapely.intersection(rays[ray], shapes[line])
    spots = np.asarray(shapely.points(tips))[ray]
    near = shapely.get_coordinates(shapely.shortest_line(spots, met)).reshape(-1, 2, 2)[:, 1]
    far = np.hypot(*(near - tips[ray]).T)
    order = np.lexsort((line, far, ray))
    first = order[np.unique(ray[order], return_index=True)[1]]
    goal[ray[first]] = near[first]
    return goal


def _to_places(
    tips: FloatArray, way: FloatArray, goal: FloatArray, bits: Bits, reach: float
) -> FloatArray:
    """Lead loose ends that just miss a place where others meet to it."""
    free = np.flatnonzero(np.isnan(goal[:, 0]))
    met = np.flatnonzero(np.bincount(bits.ends.reshape(-1), minlength=len(bits.places)) > 1)
    if not len(free) or not len(met):
        return goal
    unit = way / np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)[:, None]
    goal = goal.copy()
    places = bits.places[met]
    near = cKDTree(tips[free]).query_ball_tree(cKDTree(places), reach)
    for k, some in zip(free.tolist(), near, strict=True):
        out = places[some] - tips[k]
        ahead = out @ unit[k]
        aside = np.abs(out[:, 0] * unit[k, 1] - out[:, 1] * unit[k, 0])
        far = np.where((ahead > 0) & (aside < _MISSED * reach), ahead, np.inf)
        if len(far) and np.isfinite(far.min()):
            goal[k] = places[some][far.argmin()]
    return goal


def _each_other(tips: FloatArray, bit: IntArray, goal: FloatArray, reach: float) -> FloatArray:
    """Lead loose ends that meet no line to the middle between them and the next such end."""
    free = np.flatnonzero(np.isnan(goal[:, 0]))
    if len(free) < 2:  # noqa: PLR2004
        return goal
    pairs = cKDTree(tips[free]).query_pairs(reach, output_type="ndarray")
    a, b = free[pairs[:, 0]], free[pairs[:, 1]]
    other = bit[a] != bit[b]
    a, b = a[other], b[other]
    far = np.hypot(*(tips[a] - tips[b]).T)
    done: set[int] = set()
    goal = goal.copy()
    for k in np.lexsort((b, a, far)).tolist():
        if not done & {int(a[k]), int(b[k])}:
            goal[[a[k], b[k]]] = (tips[a[k]] + tips[b[k]]) / 2
            done |= {int(a[k]), int(b[k])}
    return goal


def _aside(
    tips: FloatArray,
    bit: IntArray,
    goal: FloatArray,
    found: tuple[Geometries, shapely.STRtree],
    reach: float,
) -> FloatArray:
    """Lead what is still loose to the nearest line, on whatever side."""
    shapes, tree = found
    free = np.flatnonzero(np.isnan(goal[:, 0]))
    spots = np.asarray(shapely.points(tips[free]))
    tip, line = tree.query(spots, predicate="dwithin", distance=reach)
    other = line != bit[free[tip]]
    tip, line = tip[other], line[other]
    near = shapely.get_coordinates(shapely.shortest_line(spots[tip], shapes[line]))
    near = near.reshape(-1, 2, 2)[:, 1]
    far = np.hypot(*(near - tips[free[tip]]).T)
    order = np.lexsort((line, far, tip))
    first = order[np.unique(tip[order], return_index=True)[1]]
    goal = goal.copy()
    goal[free[tip[first]]] = near[first]
    return goal


def _trimmed(
    bits: Bits, tolerance: float
) -> tuple[list[FloatArray], list[Mended], list[FloatArray]]:
    """Cut off what sticks out; give what is left, what was cut, and lines that end nowhere."""
    lengths = shapely.length(as_lines(bits.paths))
    alive = np.ones(len(bits.paths), dtype=bool)
    mended: list[Mended] = []
    loose: list[FloatArray] = []
    while True:
        degree = np.bincount(bits.ends[alive].reshape(-1), minlength=len(bits.places))
        out = alive & (degree[bits.ends] == 1).any(axis=1)
        if not out.any():
            break
        for k in np.flatnonzero(out).tolist():
            if lengths[k] > _DANGLE * tolerance:
                loose.append(bits.paths[k])
            elif lengths[k] > _SEEN:
                x, y = bits.paths[k].mean(axis=0)
                mended.append(Mended("over", (float(x), float(y)), float(lengths[k])))
        alive &= ~out
    return [bits.paths[k] for k in np.flatnonzero(alive).tolist()], mended, loose


def _faces(paths: list[FloatArray], tolerance: float) -> tuple[tuple[Polygon, ...], list[Mended]]:
    """Find the faces between lines; one too narrow joins the neighbour it shares most with."""
    noded = shapely.get_parts(shapely.union_all(as_lines(paths)))
    faces = [f for f in shapely.get_parts(shapely.polygonize(noded)) if f.area > 0]
    thin = [k for k, f in enumerate(faces) if _narrow(f, tolerance)]
    mended = []
    for k in thin:
        x, y = faces[k].representative_point().coords[0]
        mended.append(Mended("sliver", (x, y), float(2 * faces[k].area / faces[k].length)))
    if thin:
        faces = _joined(faces, set(thin))
    corners = np.array([face.bounds[1::-1] for face in faces]).reshape(-1, 2)
    order = np.lexsort((np.round(corners[:, 1], 3), np.round(corners[:, 0], 3)))
    return tuple(faces[k] for k in order.tolist()), mended


def _narrow(face: Polygon, tolerance: float) -> bool:
    """Tell whether a face has no room for a circle as wide as the tolerance."""
    if face.area > tolerance * face.length / 2:  # wide enough on the whole
        return False
    return bool(face.buffer(-tolerance / 2).is_empty)


def _joined(faces: list[Polygon], thin: set[int]) -> list[Polygon]:
    tree = shapely.STRtree(faces)
    into: dict[int, list[int]] = {}
    for k in sorted(thin):
        near = [int(j) for j in tree.query(faces[k], predicate="intersects") if int(j) not in thin]
        shared = [faces[k].boundary.intersection(faces[j].boundary).length for j in near]
        if near and max(shared) > 0:
            into.setdefault(near[int(np.argmax(shared))], []).append(k)
    out = []
    for k, face in enumerate(faces):
        if k in thin:
            continue
        whole = shapely.union_all([face, *(faces[j] for j in into.get(k, []))])
        out.append(whole if isinstance(whole, Polygon) else face)
    return out


def _once(mended: Sequence[Mended], tolerance: float) -> list[Mended]:
    """Tell what was put right at one place once, by its largest measure."""
    if not mended:
        return []
    order = sorted(mended, key=lambda m: (-m.far, m.cause, m.at))
    at = np.array([m.at for m in order])
    near = cKDTree(at).query_ball_point(at, _SAME * tolerance)
    gone: set[int] = set()
    kept = []
    for k, each in enumerate(order):
        if k in gone:
            continue
        kept.append(each)
        gone |= {j for j in near[k] if order[j].cause == each.cause}
    return sorted(kept, key=lambda m: (round(m.at[1], 1), round(m.at[0], 1)))
