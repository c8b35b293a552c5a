"""Pebbles: circles of nearly one size, each touching one before it, gone round in one line.

Every pebble but the first touches its parent. The line goes round a pebble, and where it comes to
a place at which another one touches, it changes over to that one, round it the other way, and comes
back there. So each is gone round once, nothing is stitched twice, and the line is smooth all along.
"""

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.entries import choose_door
from stitchpath.lines.fills.ground import CHORD, dotted, eroded, polygons, rings_of

__all__ = ["pebble_parts", "pebbles"]

_RADII = (0.53, 0.5, 0.47, 0.44)
"""Of pebbles, in spacings: nearly even. One is drawn by lot, then the smaller ones are tried."""
_CHINKS = (0.36, 0.29, 0.22)
"""Of those laid between others at last."""
_CORNER = 1.6  # a part reaches so many radii of a pebble into its corners
_CLEAR = 0.012  # pebbles that are not each other's keep so far apart, in spacings
_HAIR = 2e-3  # pebbles at the edge keep so far inside it, mm
_FINE = 6  # places looked at in a spacing, to lay the small ones
_DOTS = 0.15  # points along the stem that pebbles keep off, in spacings


@dataclass
class _Laid:
    """Pebbles as they are laid, in order.

    Attributes
    ----------
    side
        Of the squares by which they are found, mm.
    x, y, radius
        mm.
    parent
        Which one each touches; -1 for the first, -2 for a point to be kept off.
    """

    side: float
    x: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    radius: list[float] = field(default_factory=list)
    parent: list[int] = field(default_factory=list)
    squares: dict[tuple[int, int], list[int]] = field(default_factory=dict)

    def add(self, x: float, y: float, radius: float, parent: int) -> int:
        """Lay one more."""
        self.x.append(x)
        self.y.append(y)
        self.radius.append(radius)
        self.parent.append(parent)
        number = len(self.x) - 1
        self.squares.setdefault((int(x // self.side), int(y // self.side)), []).append(number)
        return number

    def near(self, x: float, y: float, sides: int = 1) -> list[int]:
        """List those no farther away than so many sides of a square, and some beyond."""
        i, j, squares = int(x // self.side), int(y // self.side), self.squares
        return [k for a in range(i - sides, i + sides + 1) for b in range(j - sides, j + sides + 1)
                for k in squares.get((a, b), ())]  # fmt: skip

    def has_room(self, x: float, y: float, radius: float, parent: int, near: list[int]) -> bool:
        """Whether a pebble overlaps none but may touch its parent."""
        for k in near:
            if k != parent:
                dx, dy, apart = x - self.x[k], y - self.y[k], radius + self.radius[k]
                if dx * dx + dy * dy < apart * apart:
                    return False
        return True


@dataclass(frozen=True)
class _Core:
    """Where the middle of a pebble of one size may lie.

    Attributes
    ----------
    area
        mm.
    rim
        Straight pieces of its edge, a hair inside.
    """

    area: BaseGeometry
    rim: shapely.STRtree

    @classmethod
    def of(cls, part: Polygon, radius: float) -> "_Core":
        """Find it for a radius, mm."""
        area = part.buffer(-radius, quad_segs=16)
        shapely.prepare(area)
        rings = rings_of(area.buffer(-_HAIR))
        ends = [np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings]
        if not ends:
            return cls(area, shapely.STRtree([]))
        lines = np.asarray(shapely.linestrings(np.concatenate(ends)))
        return cls(area, shapely.STRtree(lines))

    def met(self, ring: BaseGeometry) -> list[tuple[float, float]]:
        """List where a ring crosses the rim."""
        if not len(self.rim):
            return []
        near = np.sort(self.rim.query(ring))
        met = shapely.intersection(self.rim.geometries[near], ring)
        return [(x, y) for x, y in shapely.get_coordinates(met).tolist()]


def pebble_parts(region: BaseGeometry, inset: float, spacing: float) -> list[Polygon]:
    """Parts of a region inside its inset, nowhere narrower than a pebble but in their corners."""
    inner = eroded(region, inset)
    wide = _RADII[-1] * spacing
    cores = polygons(inner.buffer(-wide, quad_segs=16))
    if not cores:  # a place for one small pebble
        core = inner.buffer(-_CHINKS[0] * spacing, quad_segs=16)
        return [part for part in polygons(inner) if part.intersects(core)]
    # Each with its corners, but none with the necks that lead to another.
    grown = [core.buffer(_CORNER * wide, quad_segs=16).intersection(inner) for core in cores]
    apart = [core.buffer(1.1 * wide, quad_segs=16) for core in cores]
    found = []
    for k, own in enumerate(grown):
        others = shapely.union_all([area for j, area in enumerate(apart) if j != k])
        rest = polygons(own.difference(others))
        found += rest[:1]
    return found


def pebbles(
    region: BaseGeometry,
    part: Polygon,
    spacing: float,
    seed: int,
    door: tuple[float, float] | None,
) -> tuple[FloatArray, bool]:
    """Lay pebbles over a part of a region.

    Parameters
    ----------
    region
        What is filled, mm.
    part
        Where pebbles lie, mm; see `pebble_parts`.
    spacing
        About how wide a pebble is, mm.
    seed
        Another one lays others.
    door
        As for `choose_door`.

    Returns
    -------
    path
        The stem from the door to the first pebble, then round all of them and back to its end.
    kept
        False if the door wanted could not be reached, so that another one was taken.
    """
    cores = {share: _Core.of(part, share * spacing) for share in (*_RADII, *_CHINKS)}
    share = next(share for share, core in cores.items() if not core.area.is_empty)
    spots = shapely.get_coordinates(shapely.segmentize(cores[share].area, spacing / 4))
    gate, _, kept = choose_door(region, spots, door, spacing)
    first = spots[int(np.argmin(np.round(np.hypot(*(spots - gate).T), 6)))]
    laid = _Laid(2.1 * _RADII[0] * spacing)
    laid.add(float(first[0]), float(first[1]), share * spacing, -1)
    way = first - gate
    touch = gate + way * (1 - share * spacing / float(np.hypot(*way)))
    stem = shapely.linestrings([gate, touch])
    for x, y in shapely.get_coordinates(shapely.segmentize(stem, _DOTS * spacing))[:-1].tolist():
        laid.add(x, y, _DOTS * spacing, -2)
    _lay(laid, cores, spacing, np.random.default_rng(seed))
    _fill_chinks(laid, part, cores, spacing)
    return np.concatenate([gate[None], _round_all(laid, touch)]), kept


def _lay(
    laid: _Laid, cores: Mapping[float, _Core], spacing: float, dice: np.random.Generator
) -> None:
    """Lay pebbles outward from the first, each in a hollow between two, or one and the edge."""
    inside = cores[_RADII[0]].area.buffer(-1.2 * spacing)  # who lies here has no edge beside it
    shapely.prepare(inside)
    waiting = deque([0])
    while waiting:
        k = waiting.popleft()
        by_edge = not shapely.contains_xy(inside, laid.x[k], laid.y[k])
        first = int(dice.integers(len(_RADII)))
        while first < len(_RADII):
            found = None
            for share in dict.fromkeys((_RADII[first], _RADII[-1])):
                found = _hollow(laid, k, share * spacing, cores[share], spacing, edge=by_edge)
                if found is not None:
                    waiting.append(laid.add(*found, share * spacing, k))
                    break
            if found is None:
                break
            first = int(dice.integers(len(_RADII)))


def _hollow(
    laid: _Laid, k: int, radius: float, core: _Core, spacing: float, *, edge: bool
) -> tuple[float, float] | None:
    """Find where a pebble of a radius touches one that is laid, and another one or the edge."""
    clear = radius + _CLEAR * spacing
    x, y, reach = laid.x[k], laid.y[k], laid.radius[k] + radius
    # Whoever could be in the way of a pebble beside this one.
    about = [
        j
        for j in laid.near(x, y, 2)
        if j != k
        and (laid.x[j] - x) ** 2 + (laid.y[j] - y) ** 2 < (reach + clear + laid.radius[j]) ** 2
    ]
    found: list[tuple[float, float]] = []
    for j in about:
        found += _touching(x, y, reach, laid.x[j], laid.y[j], laid.radius[j] + clear + 1e-9)
    if edge or not about:
        for px, py in core.met(Point(x, y).buffer(reach, quad_segs=64).exterior):
            far = math.hypot(px - x, py - y)
            found.append((x + (px - x) / far * reach, y + (py - y) / far * reach))
    for px, py in found:
        if laid.has_room(px, py, clear, k, about) and shapely.contains_xy(core.area, px, py):
            return px, py
    return None


def _touching(
    x: float, y: float, reach: float, other_x: float, other_y: float, other: float
) -> list[tuple[float, float]]:
    """Find the points so far from two others: where two circles cross."""
    dx, dy = other_x - x, other_y - y
    far = math.hypot(dx, dy)
    if far >= reach + other or far <= abs(reach - other):
        return []
    along = (far + (reach * reach - other * other) / far) / 2
    aside = math.sqrt(max(reach * reach - along * along, 0.0))
    ux, uy = dx / far, dy / far
    return [(x + along * ux - side * uy, y + along * uy + side * ux) for side in (aside, -aside)]


def _fill_chinks(laid: _Laid, part: Polygon, cores: Mapping[float, _Core], spacing: float) -> None:
    """Lay small pebbles where others leave room for them, the larger ones first."""
    ground = dotted(part, spacing / _FINE)
    if not len(ground):
        return
    at, radii = np.column_stack([laid.x, laid.y]), np.array(laid.radius)
    far, near = map(np.asarray, cKDTree(at).query(ground, k=min(3, len(at))))
    off = far.reshape(len(ground), -1) - radii[near.reshape(len(ground), -1)]
    room = off.min(axis=1) / spacing
    ground, room = ground[room > _CHINKS[-1]], room[room > _CHINKS[-1]]
    for share in _CHINKS:
        inside = shapely.contains_xy(cores[share].area, *ground.T)
        # Those that have room lie close to where one touches a larger one.
        fits = np.flatnonzero((room > share + _CLEAR) & (room < 3 * share) & inside)
        for spot in fits[np.argsort(np.round(room[fits], 6), kind="stable")].tolist():
            x, y = ground[spot].tolist()
            _lay_small(laid, x, y, share * spacing, cores[share], spacing)


def _lay_small(laid: _Laid, x: float, y: float, radius: float, core: _Core, spacing: float) -> None:
    """Bring a small pebble up to the nearest one, and lay it where it has room."""
    near = [k for k in laid.near(x, y) if laid.parent[k] > -2]  # noqa: PLR2004 - see _Laid
    if not near:
        return
    gap, parent = min((math.hypot(x - laid.x[k], y - laid.y[k]) - laid.radius[k], k) for k in near)
    away = gap + laid.radius[parent]
    if gap < radius or away == 0:
        return
    back = (gap - radius) / away
    x, y = x + (laid.x[parent] - x) * back, y + (laid.y[parent] - y) * back
    clear = radius + _CLEAR * spacing
    if laid.has_room(x, y, clear, parent, laid.near(x, y)) and shapely.contains_xy(core.area, x, y):
        laid.add(x, y, radius, parent)


def _round_all(laid: _Laid, touch: FloatArray) -> FloatArray:
    """Go round all pebbles in one line, from a point of the first one and back to it."""
    count = len(laid.x)
    children: list[list[tuple[float, int]]] = [[] for _ in range(count)]
    start = [0.0] * count
    start[0] = math.atan2(touch[1] - laid.y[0], touch[0] - laid.x[0])
    way = [1] * count
    for k in range(1, count):
        p = laid.parent[k]
        if p < 0:  # a point to be kept off
            continue
        angle = math.atan2(laid.y[k] - laid.y[p], laid.x[k] - laid.x[p])
        children[p].append((angle, k))
        start[k] = angle + math.pi
        way[k] = -way[p]  # smooth over the place where both touch
    for k, mine in enumerate(children):
        ahead = [(way[k] * (angle - start[k]) % (2 * math.pi), child) for angle, child in mine]
        children[k] = sorted(ahead)
    parts: list[FloatArray] = []
    # Of each pebble that is begun: which of its children is next, how far round it is, and where.
    open_: list[tuple[int, int, float, FloatArray]] = [(0, 0, 0.0, touch)]
    while open_:
        k, at, done, begin = open_.pop()
        whole = at == len(children[k])
        until, child = (2 * math.pi, -1) if whole else children[k][at]
        arc = _arc(laid, k, start[k] + way[k] * done, way[k] * (until - done))
        arc[0] = begin  # to the last bit
        parts.append(arc[:-1])
        if not whole:
            met = _arc(laid, child, start[child], 0.0)[0]
            open_ += [(k, at + 1, until, met), (child, 0, 0.0, met)]
    return np.concatenate([*parts, touch[None]])


def _arc(laid: _Laid, k: int, start: float, sweep: float) -> FloatArray:
    """Draw a piece of a pebble, from an angle on, radians."""
    radius = laid.radius[k]
    step = 2 * math.acos(max(0.0, 1 - CHORD / radius))
    turn = start + np.linspace(0, sweep, int(abs(sweep) / step) + 2)
    return np.column_stack([laid.x[k] + radius * np.cos(turn), laid.y[k] + radius * np.sin(turn)])
