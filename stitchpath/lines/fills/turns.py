"""Turns of a spiral laid evenly: round ones sink all the way, those with corners step at one.

Each gives two strands, one on its way in and one on its way out, a spacing apart everywhere. A
round ground gets the spiral of Archimedes: its strands sink by two spacings in each turn, and meet
in an S in the middle. A ground with a corner gets turns that lie along its sides: where one comes
back to the corner that it set out from, it runs on to the next turn in. Nothing leans.
"""

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import distances, moving_on
from stitchpath.geometry.turns import turn_angle
from stitchpath.lines.fills.bare import Stitched
from stitchpath.lines.fills.curves import least_radius
from stitchpath.lines.fills.ground import polygons, rings_of

__all__ = ["cornered_turns", "round_turns", "sharpened"]

_STRAIGHT = 0.02  # a side bends no more than this, mm
_SHARES = np.arange(1.0, 0.84, -0.01)
"""Shares of the spacing tried, so that turns with corners come out whole."""
_LEFT = ((0.95, 1.45), (1.95, 2.45))
"""What may be left from the last turn to the middle, in spacings: no more than the turn holds, or
room for a straight tail."""
_ROUND = 0.4  # radius of a corner, in spacings
_TURN = 30.0  # degrees: less is no corner
_NEARLY = 0.05  # a corner of a turn lies so near to where it should, in spacings
_SOFT = 0.2  # a strand leaves the edge so softly, in spacings
_EYE = 0.1  # strands end so far from the middle, in spacings
_EASINGS = 600
_STEMS = (1.5, 3.5)  # of both strands, in spacings along the edge
_LEVELS = 4  # levels sampled in a spacing
_BARE = 1.005


def sharpened(part: Polygon, reach: float) -> Polygon | None:
    """Give a part back the corners that were rounded by up to `reach`, mm; None if it has none."""
    inside = part.buffer(-1.1 * reach, quad_segs=32).simplify(_STRAIGHT)
    whole = inside.buffer(1.1 * reach, join_style="mitre", mitre_limit=8.0).simplify(_STRAIGHT)
    found = polygons(whole)
    return found[0] if len(found) == 1 else None


# --- round -------------------------------------------------------------------------------------


def round_turns(
    region: BaseGeometry, part: Polygon, spacing: float, radius: float, gate: FloatArray
) -> FloatArray | None:
    """Wind a spiral of Archimedes into a round part, and out again.

    Parameters
    ----------
    region
        What is filled, mm.
    part
        Where all but the stems lie, without holes, mm.
    spacing, radius
        Of the fill, mm.
    gate
        The door, shape (2,).

    Returns
    -------
    ndarray, shape (n, 2), or None
        From the door and back to it; None where the part is not round enough.
    """
    heart = shapely.get_coordinates(shapely.maximum_inscribed_circle(part, 0.01))[0]
    deepest = float(part.exterior.distance(Point(heart)))
    if part.interiors or deepest < 2 * spacing:
        return None
    levels = _levels(part, heart, deepest, spacing, gate)
    if levels is None:
        return None
    step = deepest / (len(levels) - 1)
    last = (deepest - _EYE * spacing) / (2 * spacing)  # turns of the strand on its way in
    count = levels.shape[1] - 1

    def on(turn: FloatArray, depth: FloatArray) -> FloatArray:
        at = np.clip(depth / step, 0, len(levels) - 1 - 1e-9)
        low = at.astype(int)
        across = (turn % 1.0) * count
        left = np.minimum(across.astype(int), count - 1)
        s, t = (at - low)[:, None], (across - left)[:, None]
        upper = levels[low, left] * (1 - t) + levels[low, left + 1] * t
        lower = levels[low + 1, left] * (1 - t) + levels[low + 1, left + 1] * t
        return np.asarray(upper * (1 - s) + lower * s)

    into = np.arange(0, last, 1 / count)
    back = np.arange(-1, last - 0.5, 1 / count)
    sunk = spacing + 2 * spacing * back  # on the edge until the other strand has made room
    soft = (sunk + np.sqrt(sunk**2 + (_SOFT * spacing) ** 2)) / 2
    soft = np.where(back < 0, soft - soft[0] * np.clip(-back, 0, 1) ** 2, sunk)
    one, two = on(into, 2 * spacing * into), on(back, soft)
    for strand, reach in zip((one, two), _STEMS, strict=True):
        t = np.minimum(distances(strand) / (reach * spacing), 1)
        np.add(strand, (gate - strand[0]) * (1 - t * t * (3 - 2 * t))[:, None], out=strand)
    path = np.concatenate([one, heart[None], two[::-1]])
    path = _eased(path, heart, spacing, radius)
    path = shapely.get_coordinates(LineString(path).simplify(0.01))
    path[0] = path[-1] = gate
    return path if _holds(path, region, part, spacing, radius) else None


def _levels(
    part: Polygon, heart: FloatArray, deepest: float, spacing: float, gate: FloatArray
) -> FloatArray | None:
    """Sample the curves at even depths of a part, from where its door lies, shape (k, n + 1, 2)."""
    count = int(np.clip(part.length / (0.05 * spacing), 256, 4096))
    depths = np.linspace(0, deepest, int(np.ceil(_LEVELS * deepest / spacing)) + 1)
    start = gate
    found: list[FloatArray] = []
    for depth in depths[depths <= deepest - spacing]:
        rings = rings_of(part.buffer(-depth, quad_segs=32))
        if len(rings) != 1:
            return None
        line = LineString(rings[0] if shapely.LinearRing(rings[0]).is_ccw else rings[0][::-1])
        first = line.project(Point(start))
        at = (first + np.linspace(0, line.length, count + 1)) % line.length
        found.append(shapely.get_coordinates(shapely.line_interpolate_point(line, at)))
        start = found[-1][0]
    last = found[-1] - heart
    left = deepest - depths[len(found) - 1]
    # The innermost is drawn together: its own shape would fall apart.
    found += [heart + (deepest - depth) / left * last for depth in depths[len(found) :]]
    return np.stack(found)


def _eased(path: FloatArray, heart: FloatArray, spacing: float, radius: float) -> FloatArray:
    """Round the S in the middle until it keeps its radius."""
    near = np.flatnonzero(np.hypot(*(path - heart).T) < 1.2 * spacing)
    first, last = int(near[0]), int(near[-1])
    eye = LineString(path[first : last + 1])
    at = np.linspace(0, 1, max(8, int(eye.length / (0.05 * spacing))))
    points = shapely.get_coordinates(shapely.line_interpolate_point(eye, at, normalized=True))
    for _ in range(_EASINGS):
        if least_radius(points) > 1.05 * radius:
            break
        points[1:-1] += 0.5 * ((points[:-2] + points[2:]) / 2 - points[1:-1])
    return np.concatenate([path[:first], points, path[last + 1 :]])


def _holds(
    path: FloatArray, region: BaseGeometry, part: Polygon, spacing: float, radius: float
) -> bool:
    """Whether a path lies in its ground, never meets itself, is round and leaves nothing bare."""
    line = LineString(path)
    if not line.is_simple or not region.buffer(0.001).covers(line):
        return False
    if least_radius(shapely.get_coordinates(line.simplify(0.02))) < 0.75 * radius:
        return False
    return not len(Stitched([path], spacing / 8).far_places(part, _BARE * spacing)[0])


# --- with corners ------------------------------------------------------------------------------


def cornered_turns(
    part: Polygon, spacing: float, radius: float, foot: FloatArray
) -> FloatArray | None:
    """Lay turns along the sides of a part; they step inwards at a corner.

    Parameters
    ----------
    part
        Without holes, mm; see `sharpened`.
    spacing, radius
        Of the fill, mm.
    foot
        Turns step at the corner nearest to this point, shape (2,).

    Returns
    -------
    ndarray, shape (n, 2), or None
        Closed curve, the first point not repeated; None where no corner or no spacing does.
    """
    sharp = sharpened(part, spacing / 2)
    if sharp is None or sharp.interiors:
        return None
    circle = shapely.maximum_inscribed_circle(sharp, 0.01)
    deepest = float(circle.length)
    ring = shapely.get_coordinates(shapely.orient_polygons(sharp).exterior)[:-1]
    turn = turn_angle(ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring)
    sharpest = np.flatnonzero(turn >= _TURN)
    nearest = np.argsort(np.round(np.hypot(*(ring[sharpest] - foot).T), 3), kind="stable")
    for pitch in _SHARES * spacing:
        if not any(low <= _rest(deepest, pitch) <= high for low, high in _LEFT):
            continue
        for k in sharpest[nearest].tolist():
            line = _stepping(np.roll(ring, -k, axis=0), sharp, deepest, pitch)
            if line is None:
                continue
            for bend in (max(radius, _ROUND * pitch), radius):
                curve = _both_strands(line, pitch, bend, part)
                if curve is not None:
                    far = Stitched([np.concatenate([curve, curve[:1]])], spacing / 8).far_places(
                        part, _BARE * spacing
                    )
                    if not len(far[0]):
                        return curve
    return None


def _rest(deepest: float, pitch: float) -> float:
    """Tell what lies between the last whole turn and the middle, in spacings."""
    left = deepest / pitch - 0.5
    return float(left - 2 * np.floor((left - _LEFT[0][0]) / 2))


def _stepping(ring: FloatArray, part: Polygon, deepest: float, pitch: float) -> FloatArray | None:
    """Wind a line in at two spacings, from the first corner of a ring, to step at that corner."""
    corner = ring[0]
    ahead, behind = (way / np.hypot(*way) for way in (ring[1] - corner, ring[-1] - corner))
    sine = float(abs(ahead[0] * behind[1] - ahead[1] * behind[0]))

    def at(first: float, last: float) -> FloatArray:
        """Give the point so deep inside the first side and the last one."""
        return np.asarray(corner + ahead * last / sine + behind * first / sine)

    depth, before = pitch / 2, 0.0
    found: list[FloatArray] = []
    while deepest - depth > 0.02 * pitch:
        inner = polygons(part.buffer(-depth, join_style="mitre"))
        if len(inner) != 1:
            return None
        turn = shapely.get_coordinates(shapely.orient_polygons(inner[0]).exterior)[:-1]
        off = np.hypot(*(turn - at(depth, depth)).T)
        first = int(np.argmin(off))
        if off[first] > _NEARLY * pitch:
            return None
        turn = np.roll(turn, -first, axis=0)
        entry = at(depth, before)[None]
        if deepest - depth < 0.9 * pitch:  # no room to come back beside itself
            far = int(np.argmax(np.hypot(*(turn - entry[0]).T)))
            found += [entry, turn[1 : far + 1]]
            break
        found += [entry, turn[1:]]
        before, depth = depth, depth + 2 * pitch
        if deepest - depth <= 0.02 * pitch or (
            _rest(deepest, pitch) < _LEFT[1][0] and (deepest - before < _LEFT[1][0] * pitch)
        ):
            found.append(at(depth, before)[None])
            break
    path = np.concatenate(found)
    return np.asarray(path[moving_on(path)])


def _both_strands(line: FloatArray, pitch: float, bend: float, part: Polygon) -> FloatArray | None:
    """Go round a line at half a spacing, with rounded corners."""
    way = LineString(line)
    band = way.buffer(pitch / 2, cap_style="flat", join_style="mitre", mitre_limit=8.0)
    hair = bend * 0.998
    eased = band.buffer(-hair, quad_segs=24).buffer(2 * hair, quad_segs=48)
    found = polygons(eased.buffer(-hair, quad_segs=24).intersection(part))
    if len(found) != 1 or found[0].interiors:
        return None
    return np.asarray(shapely.get_coordinates(found[0].exterior.simplify(0.01))[:-1])
