"""Meander: one closed curve that wanders over a region and never meets itself."""

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import affinity
from shapely.geometry import LinearRing, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.bending import mended
from stitchpath.lines.fills.curves import evenly, flattened, settled
from stitchpath.lines.fills.ground import corners, dotted, eroded, grown, polygons
from stitchpath.lines.fills.settling import eased, relaxed
from stitchpath.lines.fills.trees import random_tree, walk_round

__all__ = ["grounds", "meander"]

_HALF = 0.45  # least half width of ground that carries a strand out and one back, in spacings
_FULL = 0.98  # share of area / spacing that is stitched
_CALM, _TRIES = 3, 24
# In a small ground there are few ways to go, and many a walk leaves half of it bare. Others are
# tried until no place is farther than this from the curve, in spacings, and the curve has about
# the length wanted; the best is taken. After a few, the curve is pressed into narrow ground.
_EVEN, _SHORT, _LONG, _BETTER = 0.9, 0.88, 1.1, 0.02
_APART = 0.58  # spacings that strands keep apart, over all but a twentieth of their length
_WIDE = 2.4  # mean width of ground, in spacings, from which on lobes find room in it
_NARROW = 0.2  # half width of the ground that is left to a tree where the curve is pressed
_WALK = 0.35  # spacings from its tree at which a strand is walked
_THIN = 0.25  # the same in narrow ground
_DENSE = 0.86  # strands in lobes lie so much closer than the widest places between them
_LARGE = 150.0  # a meander longer than this many spacings is even as it comes
_HELD = 0.95  # spacings: the curve is drawn to places that lie farther from it
_MENDS = 2  # times at most
_BEYOND = 2.0  # points farther than this along the curve are of two strands, in spacings
_SAMPLES = 40  # across a small ground


def grounds(region: BaseGeometry, spacing: float, inset: float, radius: float) -> list[Polygon]:
    """Parts of a region that are wide enough for two strands side by side.

    Parameters
    ----------
    region
        mm.
    spacing, inset, radius
        Of the fill, mm.

    Returns
    -------
    list of Polygon
        Apart from each other; largest first.
    """
    inner = eroded(region, inset)
    if inset < radius:  # a curve can't turn about a sharp inner corner
        inner = inner.difference(grown(MultiPoint(corners(region, inner=True)), radius))
    waiting = polygons(eroded(inner, _HALF * spacing))
    found: list[Polygon] = []
    taken: BaseGeometry = Polygon()
    while waiting:
        room = waiting.pop(0)
        part = polygons(grown(room, _HALF * spacing))[0]
        if part.intersects(taken):
            waiting = polygons(eroded(part.difference(taken), _HALF * spacing)) + waiting
            continue
        found.append(part)
        taken = taken.union(grown(part, 0.25 * spacing))
    return found


def meander(ground: Polygon, spacing: float, radius: float, seed: int) -> FloatArray:
    """Fill one ground with a closed meander.

    Parameters
    ----------
    ground
        As `grounds` gives it, mm.
    spacing
        Between neighbouring strands, mm.
    radius
        Least radius of its curves, mm.
    seed
        The same seed draws the same meander.

    Returns
    -------
    ndarray, shape (k, 2)
        Closed curve, the first point not repeated, mm.
    """
    chance = np.random.Generator(np.random.PCG64(seed))
    # Chords, and the curve between its tested points, may cut a bend by as much.
    within = ground.buffer(-0.04 - spacing / 400)
    # A strand stands for half a spacing of cloth on either side of it.
    length = _FULL * ground.buffer(spacing / 2).area / spacing
    narrow = 2 * ground.area < _WIDE * spacing * ground.length
    best: tuple[float, float, FloatArray] | None = None
    for k in range(_TRIES):
        drawn = _pressed if narrow and k >= _CALM else _lobed
        control = settled(drawn(ground, spacing, chance), within, radius)
        curve = flattened(control)
        if _sound(curve, ground):
            share = LinearRing(curve).length / length
            far = _farthest(ground, curve, spacing) / spacing
            bad = max(far / _EVEN, _SHORT / share, share / _LONG, _APART / _apart(curve, spacing))
            if best is None or bad < best[0] - _BETTER:
                best = bad, far, control
            if bad <= 1 or length > _LARGE * spacing:
                break
    if best is None:
        return _thin(ground, spacing, chance)
    _, far, control = best
    for _ in range(_MENDS):
        if far <= _HELD:
            break
        trial = mended(control, ground, within, spacing, radius)
        if not _sound(flattened(trial), ground):
            break
        control, far = trial, _farthest(ground, flattened(trial), spacing) / spacing
    return flattened(control)


def _lobed(ground: Polygon, spacing: float, chance: np.random.Generator) -> FloatArray:
    """Control points of a meander in lobes."""
    unit = _DENSE * spacing
    small = affinity.scale(ground, 1 / unit, 1 / unit, origin=(0, 0))
    tree = random_tree(polygons(small.buffer(-0.98 * _HALF / _DENSE))[0], chance)
    return eased(walk_round(tree, _WALK), small.buffer(-0.02)) * unit


def _pressed(ground: Polygon, spacing: float, chance: np.random.Generator) -> FloatArray:
    """Control points of a meander that is pressed into narrow ground."""
    small = affinity.scale(ground, 1 / spacing, 1 / spacing, origin=(0, 0))
    tree = random_tree(polygons(small.buffer(-_NARROW))[0], chance, close=True)
    length = _FULL * small.buffer(0.5).area
    return relaxed(walk_round(tree, _THIN), small.buffer(-0.02), length) * spacing


def _thin(ground: Polygon, spacing: float, chance: np.random.Generator) -> FloatArray:
    """Go round a tree close by, where nothing else comes out sound."""
    small = affinity.scale(ground, 1 / spacing, 1 / spacing, origin=(0, 0))
    walk = walk_round(random_tree(polygons(small.buffer(-_NARROW))[0], chance, close=True), _THIN)
    return flattened(evenly(walk, 8 * len(walk)) * spacing)


def _sound(curve: FloatArray, ground: Polygon) -> bool:
    """Whether a curve never meets itself and keeps to its ground."""
    return bool(LinearRing(curve).is_simple and ground.buffer(0.01).covers(LinearRing(curve)))


def _apart(curve: FloatArray, spacing: float) -> float:
    """How far strands are apart, in spacings; the closest twentieth is left out."""
    count = max(24, round(LinearRing(curve).length / spacing * 6))
    on = evenly(curve, count) / spacing
    pairs = cKDTree(on).query_pairs(1.0, output_type="ndarray")
    along = np.abs(pairs[:, 0] - pairs[:, 1])
    pairs = pairs[np.minimum(along, count - along) > _BEYOND * 6]
    nearest = np.ones(count)
    far = np.hypot(*(on[pairs[:, 0]] - on[pairs[:, 1]]).T)
    for end in pairs.T:
        np.minimum.at(nearest, end, far)
    return float(np.quantile(nearest, 0.05))


def _farthest(ground: Polygon, curve: FloatArray, spacing: float) -> float:
    """Farthest that a place of the ground lies from the curve, mm, to about a twentieth."""
    left, top, right, bottom = ground.bounds
    step = min(max(right - left, bottom - top) / _SAMPLES, spacing / 3)
    edge = shapely.get_coordinates(shapely.segmentize(ground.boundary, step))
    far, _ = cKDTree(curve).query(np.concatenate([dotted(ground, step), edge]))
    return float(np.max(far, initial=0.0))
