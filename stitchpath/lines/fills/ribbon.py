"""Ribbon candy: a ribbon folded to and fro along a strip, each fold wider than its neck."""

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.belts import Wheel, belt
from stitchpath.lines.fills.ground import corners, eroded, polygons, rings_of
from stitchpath.lines.fills.strips import Profile, Strip, profile_of, strips_of

__all__ = ["ribbon_candy"]

_BULB = (
    0.66  # radius of a fold, in steps from fold to fold: more than half, so that necks lie close
)
_TAUT = 0.97  # share of the radius at which the ribbon would be pulled straight
_LEAST = 0.6  # folds are left out where a strip is narrower than this, in steps
_MOST = 10.0  # steps: a strip wider than this would have bars, not folds
_SLIGHT = 0.25  # least radius of a fold, in steps
_FITTED = 12  # tries to make a fold small enough
_FLAT = 0.01  # the shorter side of a strip bends no more than this, mm
_FINE = 16  # samples of the edge in a step


def ribbon_candy(
    region: Polygon | MultiPolygon, spacing: float, inset: float
) -> list[FloatArray] | None:
    """Fold a ribbon along a strip, along each side of a frame, or round a ring.

    Parameters
    ----------
    region
        mm.
    spacing
        From one fold to the next, mm; made to come out whole, the same at both ends.
    inset
        How far the folds keep from the edge, mm.

    Returns
    -------
    list of ndarray, or None
        A path for each side, from corner to corner of its outer edge, so that those of a frame
        meet; round a ring one that comes back to where it begins. None where the region is
        no strip, or too wide for folds.
    """
    rings = [_round_a_ring(part, spacing, inset) for part in polygons(region)]
    if all(ring is not None for ring in rings):
        return [ring for ring in rings if ring is not None]
    strips = strips_of(region)
    if strips is None or max(strip.width for strip in strips) > _MOST * spacing:
        return None
    return [path for strip in strips if (path := _along(strip, spacing, inset)) is not None]


def _bulb(step: float, height: float) -> float:
    """Give the radius of a fold: so wide that the ribbon still runs from fold to fold."""
    taut = (step**2 + height**2) / (4 * height)
    return min(_BULB * step, _TAUT * taut, height / 2)


def _along(strip: Strip, spacing: float, inset: float) -> FloatArray | None:
    """Fold a ribbon along a strip, alike at both ends.

    A fold lies in each corner of the shorter side; beyond them, towards mitred corners, folds grow
    shorter.
    """
    level = strip.level()
    profile = profile_of(eroded(level, inset), spacing / _FINE)
    if profile is None:
        return None
    height = float((profile.high - profile.low).max())
    if height < _LEAST * spacing:
        return None
    inner = profile_of(eroded(level, inset + _bulb(spacing, height)), spacing / _FINE)
    if inner is None:
        return None
    deep = inner.x[inner.high > inner.high.max() - _FLAT]
    left, right = float(deep[0]), float(deep[-1])
    folds = 2 * max(0, round((right - left) / spacing / 2))
    step = (right - left) / folds if folds else spacing
    at = {k: left + k * step for k in range(folds + 1)}
    if not folds:
        at = {0: (left + right) / 2}
    wheels = {k: _fold(level, profile, inset, x, step, top=k % 2 == 1) for k, x in at.items()}
    for ahead, from_ in ((-1, 0), (1, folds)):
        k, x = from_ + ahead, at[from_] + ahead * step
        while True:
            fold = _fold(level, profile, inset, x, step, top=k % 2 == 1, beside=wheels[k - ahead])
            if fold is None:
                break
            wheels[k] = fold
            k, x = k + ahead, x + ahead * step
    inorder = [wheel for k in sorted(wheels) if (wheel := wheels[k]) is not None]
    if not inorder:
        return None
    return strip.upright(belt([_corner(level, -1.0), *inorder, _corner(level, 1.0)]))


def _fold(
    level: Polygon,
    profile: Profile,
    inset: float,
    x: float,
    step: float,
    *,
    top: bool,
    beside: Wheel | None = None,
) -> Wheel | None:
    """Lay a fold at a place of a level strip, as high as there is room beside another.

    Returns
    -------
    Wheel or None
        None where it has no room.
    """
    if not profile.x[0] <= x <= profile.x[-1]:
        return None
    low, high = profile.between(x, x)
    if high - low < _LEAST * step:
        return None
    radius = _bulb(step, high - low)
    upright = LineString([(x, low - 1), (x, high + 1)])
    for _ in range(_FITTED):
        room = upright.intersection(level.buffer(-(inset + radius - 1e-6)))
        if room.is_empty or radius < _SLIGHT * step:
            return None
        _, upper, _, lower = room.bounds
        fold = Wheel(np.array([x, upper if top else lower]), radius, 1 if top else -1)
        if beside is None:
            break
        clear = float(np.hypot(*(fold.at - beside.at))) - beside.radius
        if radius <= clear:
            break
        radius = _TAUT * clear
    return fold


def _corner(level: Polygon, side: float) -> Wheel:
    """Give the upper corner at one end of a level strip."""
    ring = shapely.get_coordinates(level.exterior)
    best = int(np.argmax(np.round(side * ring[:, 0] - ring[:, 1], 6)))
    return Wheel(ring[best], 0.0, 1)


def _round_a_ring(part: Polygon, spacing: float, inset: float) -> FloatArray | None:
    """Fold a ribbon round a ring without corners, from a door on its outer edge."""
    if len(part.interiors) != 1:
        return None
    inner = polygons(eroded(part, inset))
    if len(inner) != 1 or len(inner[0].interiors) != 1:
        return None
    if any(len(corners(Polygon(ring))) for ring in rings_of(part)):
        return None
    outside, hole = inner[0].exterior, inner[0].interiors[0]
    start = shapely.get_coordinates(part.exterior)[:-1]
    door = start[np.lexsort((np.round(start[:, 0], 6), np.round(start[:, 1], 6)))[0]]
    height = float(shapely.distance(outside, hole))
    middle = (outside.length + hole.length) / 2
    count = 2 * max(2, round(middle / spacing / 2))
    if height > _MOST * spacing or height < _LEAST * spacing:
        return None
    wheels = [Wheel(door, 0.0, 1)]
    turn = np.arange(1, count) / count
    share = _bulb(middle / count, height) * count / middle  # of a step at either edge
    radii = share * outside.length / count, share * hole.length / count
    line = LineString(outside if outside.is_ccw else outside.coords[::-1])
    at = (line.project(shapely.Point(door)) / line.length + turn) % 1
    tops = shapely.line_interpolate_point(line, at, normalized=True)
    ways = shapely.get_coordinates(shapely.shortest_line(tops, hole)).reshape(-1, 2, 2)
    for k, (top, foot) in enumerate(ways, start=1):
        way = (foot - top) / np.hypot(*(foot - top))
        outer = k % 2 == 0
        radius = radii[0 if outer else 1]
        centre = top + radius * way if outer else foot - radius * way
        wheels.append(Wheel(centre, radius, 1 if outer else -1))
    return belt([*wheels, Wheel(door, 0.0, 1)])
