"""Meander: one closed curve that wanders over a region and never meets itself."""

import numpy as np
from scipy.spatial import cKDTree
from shapely import affinity
from shapely.geometry import LinearRing, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.lines.fills.bending import mended
from stitchpath.lines.fills.curves import evenly, flattened, settled
from stitchpath.lines.fills.ground import corners, dotted, eroded, grown, polygons
from stitchpath.lines.fills.settling import relaxed
from stitchpath.lines.fills.trees import random_tree, walk_round
from stitchpath.typing import FloatArray

__all__ = ["grounds", "meander"]

_HALF = 0.45  # least half width of ground that carries a strand out and one back, in spacings
_FULL = 0.98  # share of area / spacing that is stitched
_CALM, _TRIES = 3, 11
# In a small ground there are few ways to go, and many a walk leaves half of it bare. Others are
# tried until no place is farther than this from the curve, in spacings, and the curve has about
# the length wanted; the best is taken. After a few, the curve is pressed into the ground.
_EVEN, _SHORT, _LONG, _BETTER = 0.9, 0.88, 1.1, 0.02
_APART = 0.58  # spacings that strands keep apart, over all but a twentieth of their length
_NARROW = 0.2  # half width of the ground that is left to a tree where the curve is pressed
_LARGE = 150.0  # a meander longer than this many spacings is even as it comes
_HELD = 0.95  # spacings: the curve is drawn to places that lie farther from it
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
    small = affinity.scale(ground, 1 / spacing, 1 / spacing, origin=(0, 0))
    rooms = [polygons(small.buffer(-half))[0] for half in (0.98 * _HALF, _NARROW)]
    # Chords, and the curve between its tested points, may cut a bend by as much.
    within = ground.buffer(-0.04 - spacing / 400)
    # A strand stands for half a spacing of cloth on either side of it.
    length = _FULL * small.buffer(0.5).area
    best: tuple[float, float, FloatArray] | None = None
    for k in range(_TRIES):
        pressed = k >= _CALM
        walk = walk_round(random_tree(rooms[pressed], chance, close=pressed), 0.25)
        control = relaxed(walk, small.buffer(-0.02), length, pressed=pressed) * spacing
        control = settled(control, within, radius)
        curve = flattened(control)
        if _sound(curve, ground):
            if length > _LARGE:
                return curve
            share = LinearRing(curve).length / (length * spacing)
            far = _farthest(ground, curve) / spacing
            bad = max(far / _EVEN, _SHORT / share, share / _LONG, _APART / _apart(curve, spacing))
            if best is None or bad < best[0] - _BETTER:
                best = bad, far, control
            if bad <= 1:
                break
    if best is None:
        return flattened(evenly(walk, 8 * len(walk)) * spacing)
    if best[1] > _HELD:
        curve = flattened(mended(best[2], ground, within, spacing, radius))
        if _sound(curve, ground):
            return curve
    return flattened(best[2])


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


def _farthest(ground: Polygon, curve: FloatArray) -> float:
    """Farthest that a place of the ground lies from the curve, mm, to about a twentieth."""
    left, top, right, bottom = ground.bounds
    step = max(right - left, bottom - top) / _SAMPLES
    far, _ = cKDTree(curve).query(dotted(ground, step))
    return float(np.max(far, initial=0.0))
