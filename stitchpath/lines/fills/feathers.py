"""Feathers: plumes on both sides of a spine, along a strip or as a wreath.

A plume leaves the spine along it, bends away, goes round its head and comes back beside the next
one, to where that begins. So the plumes of a side are one line that touches the spine between any
two of them; with the spine all of it can be stitched in one go.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.lines.fills.belts import Wheel, belt
from stitchpath.lines.fills.ground import CHORD, corners, eroded, polygons, rings_of
from stitchpath.lines.fills.strips import Strip, mitres_of, strips_of

__all__ = ["feathers"]

_HEAD = 0.44  # radius of a plume's head, in plumes: what is left lies between two of them
_SHORT, _LONG = 1.3, 6.0  # a plume is so many times as long as it is wide: at least, at most
_LEAN = 0.75  # how far a plume leans along the spine, as a share of its length
_OUT = 0.45  # how long it keeps the way of the spine, as a share of its lean and a bit ...
_UP = 0.45  # ... and how long it stands upright below its head, as a share of its length
_FAN = (0.0, 0.55, 0.85)  # lean of those in the middle of a strip, from which both halves grow
_CORNER = 0.85  # the last plumes leave so much free for one on the mitre, in plumes
_NECK, _CLEAR = 0.5, 0.06  # from so far off their foot they keep so far from others, in plumes
_ROUND = 0.6  # a ground gets a wreath where the widest circle in it is such a share of it
_PLUMES = 0.36  # length of the plumes of a wreath, as a share of its radius
_INNER = 0.8  # those inside are shorter by this share
_EYE = 0.9  # the eye of a wreath is at least so wide, in plumes, from its middle

Bent = Callable[[FloatArray], FloatArray]
"""From along and across a spine to where it lies, mm."""


def feathers(
    region: Polygon | MultiPolygon, spacing: float, inset: float
) -> list[FloatArray] | None:
    """Lay feathers along the middle of strips and frames, or wreaths in round grounds.

    Parameters
    ----------
    region
        mm.
    spacing
        Width of a plume, mm; made to come out whole in a wreath.
    inset
        How far plumes keep from the edge, mm.

    Returns
    -------
    list of ndarray, or None
        Of each strip the spine from end to end, then the plumes of each side; of a wreath the stem,
        the spine round, and the plumes of each side. None where the region is neither.
    """
    found: list[FloatArray] = []
    for part in polygons(region):
        laid = _wreath(part, spacing, inset)
        if laid is None:
            strips = strips_of(part)
            if strips is None:
                return None
            spare = _CORNER * spacing if len(mitres_of(part)) else 0.0
            sides = [_along(strip, spacing, inset, spare) for strip in strips]
            if any(side is None for side in sides):
                return None
            laid = [path for side in sides for path in side or []]
            laid += _in_corners(part, laid, spacing, inset)
        found += laid
    return found


@dataclass(frozen=True, slots=True)
class _Side:
    """The plumes of one side of a spine, before they are bent onto it: y points away from it.

    Attributes
    ----------
    wide, long
        Of a plume, mm.
    at
        Where the middles of their heads lie along the spine, mm, shape (n,).
    lean
        How far each leans, 1 for all the way forward, -1 backward, shape (n,).
    """

    wide: float
    long: float
    at: FloatArray
    lean: FloatArray

    def feet(self) -> FloatArray:
        """Tell where plumes begin on the spine, one more than there are plumes, mm."""
        lean = np.append(self.lean, self.lean[-1])
        between = np.append(self.at - self.wide / 2, self.at[-1] + self.wide / 2)
        before = np.append(self.lean[0], self.lean)
        return np.asarray(between - (lean + before) / 2 * _LEAN * self.long)

    def line(self) -> FloatArray:
        """Draw them in one line, from the foot of the first to the last."""
        feet, radius = self.feet(), _HEAD * self.wide
        neck = self.long - radius
        gap = self.wide - 2 * radius
        lean = np.append(self.lean, self.lean[-1])
        before = np.append(self.lean[0], self.lean)
        edges = [
            _edge(foot, x - self.wide / 2, neck, (one + two) / 2)
            for foot, x, one, two in zip(
                feet, np.append(self.at, self.at[-1] + self.wide), lean, before, strict=True
            )
        ]
        turn = np.linspace(np.pi, 0, max(8, int(np.pi / (2 * np.arccos(1 - CHORD / radius))) + 2))
        parts = []
        for k, x in enumerate(self.at.tolist()):
            out, back = edges[k].copy(), edges[k + 1][::-1].copy()
            share = out[:, 1] / neck
            out[:, 0] += gap / 2 * share
            back[:, 0] -= gap / 2 * (back[:, 1] / neck)
            head = np.column_stack([x + radius * np.cos(turn), neck + radius * np.sin(turn)])
            parts += [out[:-1], head[:-1], back[:-1]]
        return np.concatenate([*parts, [[feet[-1], 0.0]]])


def _edge(foot: float, x: float, neck: float, lean: float) -> FloatArray:
    """Draw what parts two plumes, from the spine to between their heads."""
    out = _OUT * lean * (abs(x - foot) + neck / 3)
    knots = np.array([[foot, 0], [foot + out, neck * (0.06 + 0.3 * (1 - abs(lean)))],
                      [x, neck * (1 - _UP)], [x, neck]])  # fmt: skip
    t = np.linspace(0, 1, 25)[:, None]
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
    return np.asarray(sum(w * knot for w, knot in zip(weights, knots, strict=True)))


# --- along a strip -------------------------------------------------------------------------------


def _along(strip: Strip, spacing: float, inset: float, spare: float) -> list[FloatArray] | None:
    """Lay a feather along a strip, from the middle to both ends; None where it has no room."""
    level = strip.level()
    left, top, right, bottom = level.bounds
    middle = (top + bottom) / 2
    long = (bottom - top) / 2 - inset - 3 * CHORD
    if not _SHORT * spacing <= long <= _LONG * spacing:
        return None
    cut = LineString([(left - 1, middle), (right + 1, middle)]).intersection(level)
    ends = shapely.get_coordinates(cut)
    ends = ends[np.argsort(ends[:, 0])][[0, -1]]
    centre = float(ends[:, 0].mean())
    room = eroded(level, inset)
    sides = []
    for way in (-1.0, 1.0):
        free = spare if way < 0 else 0.0  # the outer side is the upper one
        reach = _reach(room, centre, middle + way * (long - _HEAD * spacing), spacing) - free
        if reach >= 0:
            sides.append((way, _grown(spacing, long, reach)))
    feet = np.unique(np.concatenate([[*ends[:, 0]], *(side.feet() + centre for _, side in sides)]))
    feet = feet[(feet >= ends[0, 0]) & (feet <= ends[1, 0])]
    spine = np.column_stack([feet, np.full(len(feet), middle)])
    paths = [spine]
    paths += [side.line() * (1.0, way) + (centre, middle) for way, side in sides]
    return [strip.upright(path) for path in paths]


def _reach(room: BaseGeometry, centre: float, y: float, wide: float) -> float:
    """Tell how far to either side of the middle heads have room, mm; less than 0 for nowhere."""
    core = room.buffer(-(_HEAD * wide - 1e-6))
    row = shapely.intersection(core, LineString([(room.bounds[0], y), (room.bounds[2], y)]))
    return -1.0 if row.is_empty else min(centre - row.bounds[0], row.bounds[2] - centre)


def _grown(wide: float, long: float, reach: float) -> _Side:
    """Lay plumes from the middle to both ends, made narrower to come out whole."""
    count = int(np.ceil(reach / wide - 1e-6))
    if count:
        wide = reach / count
    number: IntArray = np.arange(-count, count + 1)
    fan = np.append(_FAN, np.ones(count))
    lean = np.sign(number) * fan[np.abs(number)]
    return _Side(wide, long, np.asarray(number * wide), np.asarray(lean, dtype=np.float64))


def _in_corners(
    frame: Polygon, laid: list[FloatArray], spacing: float, inset: float
) -> list[FloatArray]:
    """Lay plumes along the mitres, out and in from where the spines of a frame meet."""
    room = eroded(frame, inset)
    found: list[FloatArray] = []
    for outer, inner in mitres_of(frame):
        foot = (outer + inner) / 2
        for tip in (outer, inner):
            way = (tip - foot) / np.hypot(*(tip - foot))
            plume = _lone(foot, way, room, laid, spacing)
            if plume is not None:
                found.append(plume)
    return found


def _lone(
    foot: FloatArray,
    way: FloatArray,
    room: BaseGeometry,
    others: list[FloatArray],
    wide: float,
) -> FloatArray | None:
    """Draw a straight plume from a foot, as long as there is room for it; None where none is."""
    near = Point(foot).buffer(_NECK * wide)
    taken = shapely.difference(MultiLineString(others), near)
    for radius in (_HEAD * wide, 0.8 * _HEAD * wide, 0.6 * _HEAD * wide):
        for long in np.arange(_LONG, _SHORT - 0.3, -0.1) * wide:
            head = Wheel(foot + (long - radius) * way, radius, 1)
            path = belt([Wheel(foot, 0.0, 1), head, Wheel(foot, 0.0, 1)])
            plume = Polygon(path).buffer(_CLEAR * wide)
            if room.covers(LineString(path)) and not plume.intersects(taken):
                return path
    return None


# --- wreaths -------------------------------------------------------------------------------------


def _wreath(part: Polygon, spacing: float, inset: float) -> list[FloatArray] | None:
    """Lay a wreath in a round ground or a ring; None where the ground is neither."""
    found = _circle(part, inset)
    if found is None:
        return None
    heart, inner, outer = found
    long = (outer - inner) / 2 if inner else _PLUMES * outer
    spine = outer - long
    inside = long if inner else min(_INNER * long, spine - _EYE * spacing)
    if not _SHORT * spacing <= long <= _LONG * spacing:
        return None
    lines = []
    all_feet = []
    for way, length in ((1.0, long), (-1.0, inside)):
        if length < _SHORT * spacing:
            continue
        at_heads = spine + way * (length - _HEAD * spacing)
        count = max(6, round(2 * np.pi * at_heads / spacing))
        wide = 2 * np.pi * at_heads / count
        side = _Side(wide, length, np.asarray(wide * np.arange(count)), np.ones(count))
        bent = _bent(heart, spine, at_heads, way)
        line = bent(side.line())
        line[-1] = line[0]
        lines.append(line)
        all_feet.append(bent(np.column_stack([side.feet()[:-1], np.zeros(count)])))
    return [_stem(part, lines[0]), _spine(heart, spine, np.concatenate(all_feet)), *lines]


def _stem(part: Polygon, plumes: FloatArray) -> FloatArray:
    """Lead from the edge to the head nearest to it."""
    far = np.round(shapely.distance(part.exterior, shapely.points(plumes)), 6)
    head = int(np.lexsort((plumes[:, 0], plumes[:, 1], far))[0])
    way = shapely.shortest_line(part.exterior, Point(plumes[head]))
    return shapely.get_coordinates(way)


def _circle(part: Polygon, inset: float) -> tuple[FloatArray, float, float] | None:
    """Find where a wreath has room: its middle, and from where to where it reaches, mm."""
    if len(part.interiors) > 1 or (
        part.interiors and any(len(corners(Polygon(ring))) for ring in rings_of(part))
    ):
        return None
    filled = Polygon(part.exterior)
    circle = shapely.maximum_inscribed_circle(filled, CHORD)
    heart, radius = shapely.get_coordinates(circle)[0], circle.length
    if np.pi * radius**2 < _ROUND * filled.area:
        return None
    inner = 0.0
    if part.interiors:
        hole = Polygon(part.interiors[0])
        inner = float(shapely.hausdorff_distance(Point(heart), hole)) + inset
    return heart, inner, radius - inset - CHORD


def _bent(heart: FloatArray, spine: float, true: float, way: float) -> Bent:
    """Give what bends plumes onto a round spine, true to size at the radius `true`."""

    def bend(points: FloatArray) -> FloatArray:
        angle = points[:, 0] / true - np.pi / 2
        radius = spine + way * points[:, 1]
        on = np.column_stack([np.cos(angle), np.sin(angle)])
        return np.asarray(heart + radius[:, None] * on)

    return bend


def _spine(heart: FloatArray, radius: float, feet: FloatArray) -> FloatArray:
    """Draw a round spine with a vertex at each foot."""
    count = int(np.ceil(np.pi / np.arccos(1 - CHORD / radius)))
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False) - np.pi / 2
    every = np.concatenate([feet, heart + radius * np.column_stack([np.cos(turn), np.sin(turn)])])
    angle = np.round(np.arctan2(*(every - heart).T[::-1]), 9)
    _, first = np.unique(angle, return_index=True)  # a foot before a point of the ring
    return np.asarray(every[np.append(first, first[0])])
