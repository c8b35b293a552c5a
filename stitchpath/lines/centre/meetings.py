"""Where lines through the middle of a piece meet: strokes that cross go straight through.

The medial axis of two strokes that cross has two meeting points a short line apart, and bends near
them; so it does where twigs leave a stem. A quilter goes straight on. Each arm is followed back
from where it runs straight, and all of them are drawn to the point in which they meet best.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.ops import substring

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import distances
from stitchpath.lines.centre.arms import SAMPLE, Meeting, Path, resampled, rolled
from stitchpath.lines.centre.edge import Ground
from stitchpath.lines.centre.medial_axis import Axis, on_mirrors
from stitchpath.lines.centre.pruning import Chain, chain_length, degrees_of

__all__ = ["crossings_gathered", "drawn_together"]

_STARTS = (0.8, 1.1, 1.4, 1.8, 2.2, 2.7)  # radii from the meeting: where an arm may run straight
_OVER = 0.8  # radii over which it does
_TRUE, _WAVER = 0.015, 0.1  # radii that it may waver there; mm that samples make it waver
_OFF = 0.15  # radii that a straight arm may miss the meeting point
_FAR = 1.3  # radii that the meeting point may be off the middle of those of the axis
_HELD = 0.02  # weight of that middle beside the arms
_CLEAR = 0.35  # radii that an arm drawn straight stays clear of the edge
_ON = 0.1  # radii that a straight arm goes on from the meeting point at least
_BRIDGE = 3.0  # radii: two meeting points farther apart are two
_OPPOSITE = -np.cos(np.radians(14.0))  # headings of two arms that are one stroke
_LOOKS = 9  # places of an arm drawn straight that are looked at
_PAIR = 2  # ends of a closed line
_LEAST = 3  # lines that end where lines meet


@dataclass(frozen=True, slots=True)
class _Arm:
    """How an arm leaves a meeting: straight on from a place on it."""

    start: int  # number of the point from which it is straight
    at: FloatArray  # that point, shape (2,), mm
    way: FloatArray  # unit vector away from the meeting


def _straight(points: FloatArray, middle: FloatArray, radius: float, room: float) -> _Arm | None:
    """Find where an arm, shape (n, 2) from the meeting on, first runs straight, if it does."""
    away = np.hypot(*(points - middle).T)
    place = distances(points)
    for share in _STARTS:
        start = int(np.argmax(away >= share * radius))
        if away[start] < share * radius:
            return None
        stop = int(np.searchsorted(place, place[start] + _OVER * radius))
        if stop >= len(points) or place[stop] > room:
            return None
        chord = points[stop] - points[start]
        way = chord / max(float(np.hypot(*chord)), 1e-12)
        aside = (points[start : stop + 1] - points[start]) @ np.array([-way[1], way[0]])
        if np.abs(aside).max() <= max(_TRUE * radius, _WAVER):
            return _Arm(start, points[start], way)
    return None


def _meeting_point(arms: Sequence[_Arm], middle: FloatArray, radius: float) -> FloatArray | None:
    """Point nearest to all lines of straight arms, by least squares; None if they miss it."""
    if len(arms) < _LEAST - 1:
        return None
    normals = np.array([[-arm.way[1], arm.way[0]] for arm in arms])
    offsets = (normals * np.array([arm.at for arm in arms])).sum(axis=1)
    matrix = normals.T @ normals + _HELD * np.eye(2)
    point: FloatArray = np.linalg.solve(matrix, normals.T @ offsets + _HELD * middle)
    missed = np.abs(normals @ point - offsets).max() > _OFF * radius
    return None if missed or np.hypot(*(point - middle)) > _FAR * radius else point


@dataclass(frozen=True, slots=True)
class _Meeting:
    middle: FloatArray  # of the vertices of the axis that are one here
    radius: float  # of the largest circle round them, mm
    ways: tuple[Chain, ...]  # chains that end here, from here on


def _meetings(axis: Axis, chains: Sequence[Chain]) -> dict[int, _Meeting]:
    degrees = degrees_of(chains)
    ways: dict[int, list[Chain]] = {}
    for chain in chains:
        for way in (chain, chain.turned()):
            if degrees[way.ends[0]] > 1:
                ways.setdefault(way.ends[0], []).append(way)
    found = {}
    for end, own in ways.items():
        nodes = sorted({int(way.nodes[0]) for way in own})
        found[end] = _Meeting(
            axis.points[nodes].mean(axis=0), float(axis.radii[nodes].max()), tuple(own)
        )
    return found


def _room(axis: Axis, way: Chain, meetings: dict[int, _Meeting]) -> float:
    """How much of an arm belongs to the meeting it starts in, mm."""
    return chain_length(axis, way) * (0.6 if way.ends[1] in meetings else 1.0)


def crossings_gathered(axis: Axis, chains: list[Chain]) -> list[Chain]:
    """Make one meeting point of two where strokes cross.

    Parameters
    ----------
    axis
        Medial axis of a part of a piece.
    chains
        Its branches, pruned.
    """
    meetings = _meetings(axis, chains)
    one: dict[int, int] = {}
    gone = set()
    for k, chain in enumerate(chains):
        a, b = chain.ends
        if a == b or a not in meetings or b not in meetings:
            continue
        if _is_crossing(axis, chain, meetings):
            low, high = sorted((one.get(a, a), one.get(b, b)))
            one = {end: low if to == high else to for end, to in one.items()} | {a: low, b: low}
            gone.add(k)
    return [
        Chain(c.nodes, c.edges, (one.get(c.ends[0], c.ends[0]), one.get(c.ends[1], c.ends[1])))
        for k, c in enumerate(chains)
        if k not in gone
    ]


def _is_crossing(axis: Axis, bridge: Chain, meetings: dict[int, _Meeting]) -> bool:
    """Tell whether arms on both sides of a bridge are strokes that go straight on over it."""
    a, b = (meetings[end] for end in bridge.ends)
    radius = max(a.radius, b.radius)
    if chain_length(axis, bridge) > _BRIDGE * radius:
        return False
    middle = (a.middle + b.middle) / 2
    sides = []
    for meeting in (a, b):
        outer = [way for way in meeting.ways if set(way.ends) != set(bridge.ends)]
        arms = [
            _straight(axis.points[w.nodes], middle, radius, _room(axis, w, meetings)) for w in outer
        ]
        if len(outer) < _LEAST - 1 or None in arms:
            return False
        sides.append([arm for arm in arms if arm is not None])
    every = sides[0] + sides[1]
    if _meeting_point(every, middle, radius) is None:
        return False
    across = any(p.way @ q.way < _OPPOSITE for p in sides[0] for q in sides[1])
    paired = all(any(p.way @ q.way < _OPPOSITE for q in every) for p in every)
    return across and paired


def drawn_together(
    axis: Axis,
    chains: list[Chain],
    number: int,
    ground: Ground,
    symmetries: Sequence[FloatArray] = (),
) -> list[Path]:
    """Draw polylines of the chains, those that meet to one point, straight where they can be.

    Parameters
    ----------
    axis, chains
        Medial axis of a part of a piece, and its branches.
    number
        Of the part.
    ground
        What clearance is measured on.
    symmetries
        Of the part: a closed line begins where a mirror line crosses it.
    """
    meetings = _meetings(axis, chains)
    points = {end: meeting.middle for end, meeting in meetings.items()}
    straight: dict[int, list[_Arm | None]] = {
        end: [None] * len(meeting.ways) for end, meeting in meetings.items()
    }
    for end, meeting in meetings.items():
        middle, radius = meeting.middle, meeting.radius
        if len(meeting.ways) < _LEAST:
            continue
        arms = [
            _straight(axis.points[w.nodes], middle, radius, _room(axis, w, meetings))
            for w in meeting.ways
        ]
        there = [arm for arm in arms if arm is not None]
        at = _meeting_point(there, middle, radius)
        if at is not None and _may_go_straight(at, there, ground, radius):
            points[end], straight[end] = at, arms
    paths = [_path(axis, chain, number, meetings, points, straight) for chain in chains]
    crossed = _crossed(paths)
    if crossed:
        for _, end in crossed:
            points[end], straight[end] = meetings[end].middle, [None] * len(straight[end])
        paths = [_path(axis, chain, number, meetings, points, straight) for chain in chains]
    met = degrees_of(chains)
    drawn = []
    for chain, path in zip(chains, paths, strict=True):
        first, last = chain.ends
        if len(path.points) < _PAIR:
            continue
        if first == last:  # a closed line is sampled from where it begins
            alone = met[first] == _PAIR
            whole = Path(resampled(path.points), path.ends)
            drawn.append(_begun(path, symmetries) if alone else whole)
        else:
            drawn.append(path)
    return drawn


def _begun(path: Path, symmetries: Sequence[FloatArray]) -> Path:
    """Let a closed line that meets no other begin on a mirror line, else where it is straightest.

    Its points then lie as symmetric as the line does.
    """
    at = on_mirrors([path.points], symmetries)
    if len(at) == 0:
        return rolled(Path(resampled(path.points), path.ends))
    first = at[np.lexsort(at.round(2).T)[0]]
    ring = shapely.LineString(path.points)
    place = float(shapely.line_locate_point(ring, shapely.Point(first)))
    parts = [substring(ring, place, ring.length), substring(ring, 0.0, place)]
    lines = [shapely.get_coordinates(part) for part in parts]
    points = np.concatenate([first[None], lines[0][1:], lines[1][1:-1], first[None]])
    # sampled from one mirror line to the next
    ring = shapely.LineString(points)
    stops = np.sort(np.asarray(shapely.line_locate_point(ring, shapely.points(at))))
    stops = stops[(stops > SAMPLE) & (stops < ring.length - SAMPLE)]
    bounds = [0.0, *stops.tolist(), ring.length]
    bits = [shapely.get_coordinates(substring(ring, *pair)) for pair in pairwise(bounds)]
    even = [resampled(bit) for bit in bits]
    return Path(np.concatenate([even[0], *(bit[1:] for bit in even[1:])]), path.ends)


def _path(
    axis: Axis,
    chain: Chain,
    number: int,
    meetings: dict[int, _Meeting],
    points: dict[int, FloatArray],
    straight: dict[int, list[_Arm | None]],
) -> Path:
    """Draw one chain, from the point that it meets others in to the next."""
    line = axis.points[chain.nodes]
    skip = [0, 0]
    for side, way in enumerate((chain, chain.turned())):
        end = way.ends[0]
        if end in meetings:
            same = (np.array_equal(own.nodes, way.nodes) for own in meetings[end].ways)
            arm = straight[end][list(same).index(True)]
            skip[side] = (
                _start_of(axis, way, meetings[end], points[end]) if arm is None else arm.start
            )
    start, stop = skip[0], len(line) - skip[1]
    inner = line[start:stop] if start < stop else line[:0]
    first, last = (points[e][None] if e in meetings else line[:0] for e in chain.ends)
    ends = [(number, end) if end in meetings else None for end in chain.ends]
    whole = np.concatenate([first, inner, last])
    closed = chain.ends[0] == chain.ends[1]
    return Path(resampled(whole) if len(whole) > 1 and not closed else whole, (ends[0], ends[1]))


def _crossed(paths: Sequence[Path]) -> set[Meeting]:
    """Find meeting points of lines that cross each other or themselves."""
    long = [path for path in paths if len(path.points) > 1]
    lines = np.array([shapely.LineString(path.points) for path in long], dtype=object)
    if len(lines) == 0:
        return set()
    one, other = shapely.STRtree(lines).query(lines, predicate="crosses")
    bad = {*one.tolist(), *other.tolist(), *np.flatnonzero(~shapely.is_simple(lines)).tolist()}
    return {end for k in bad for end in long[k].ends if end is not None}


def _may_go_straight(at: FloatArray, arms: Sequence[_Arm], ground: Ground, radius: float) -> bool:
    """Tell whether arms can be drawn straight to a point: on from it, and clear of the edge."""
    if min(float((arm.at - at) @ arm.way) for arm in arms) < _ON * radius:
        return False
    share = np.linspace(0.0, 1.0, _LOOKS)[:, None]
    on = np.concatenate([at + share * (arm.at - at) for arm in arms])
    return bool(ground.clear(on).min() >= _CLEAR * radius)


def _start_of(axis: Axis, way: Chain, meeting: _Meeting, at: FloatArray) -> int:
    """Tell the vertex from which on an arm is followed: twice as far off as the spread."""
    nodes = [int(other.nodes[0]) for other in meeting.ways]
    spread = float(np.hypot(*(axis.points[nodes] - at).T).max())
    near = np.hypot(*(axis.points[way.nodes] - at).T) <= 2.0 * spread
    return max(int(np.argmin(near)) if not near.all() else len(near) - 1, 1)
