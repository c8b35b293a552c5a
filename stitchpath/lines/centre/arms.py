"""Which arms of a piece to stitch, and how: all or some, the vein alone, out and back."""

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely
from scipy.sparse.csgraph import dijkstra
from shapely.ops import substring

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.groups import join
from stitchpath.geometry.polylines import distances
from stitchpath.geometry.tolerances import POINT
from stitchpath.lines.centre.pruning import trails

__all__ = [
    "SAMPLE",
    "Arms",
    "Meeting",
    "Path",
    "chosen_arms",
    "doubled",
    "drawn_back",
    "joined",
    "resampled",
    "rolled",
    "vein_of",
]

Arms: TypeAlias = Literal["all"] | int | Sequence[int]
Meeting: TypeAlias = tuple[int, int]  # number of the part and of the junction in it

SAMPLE = 0.5  # mm between the points of a line while it is worked on
_PAIR = 2
_AS_LONG = 0.95  # share of the longest way that is as long
_HOUR = 0.75  # how far off its hour an arm may point, in hours of the clock
_FEW = 4  # gaps: a line shorter than this is not drawn back
_BEND = 9  # points of a line, 4 mm, over which its bend is measured
_EASE = (0.7, 0.4, 0.2, 0.1)  # shares of the radius of a bend that lines go aside in it, in turn
_TURN = 12  # sides of the turn at a tip: within 0.01 mm of round for lines 1/16 in apart


@dataclass(frozen=True, slots=True)
class Path:
    """A line in the making.

    Attributes
    ----------
    points
        Shape (n, 2), mm.
    ends
        The meeting points it starts and ends in; None where an end is free.
    """

    points: FloatArray
    ends: tuple[Meeting | None, Meeting | None]

    @property
    def length(self) -> float:
        """Length, mm."""
        return float(self.places[-1])

    @property
    def places(self) -> FloatArray:
        """How far along the line each point lies, shape (n,), mm."""
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        return np.concatenate([[0.0], np.cumsum(steps)])

    def turned(self) -> "Path":
        """Walk it the other way."""
        return Path(self.points[::-1], self.ends[::-1])


def resampled(points: FloatArray) -> FloatArray:
    """Points evenly along a polyline, `SAMPLE` apart or less, its ends as they were."""
    place = distances(points)
    if place[-1] < POINT:
        return points[:1]
    count = max(int(np.ceil(place[-1] / SAMPLE)), 2) + 1
    along = np.linspace(0.0, place[-1], count)
    even = np.column_stack([np.interp(along, place, points[:, k]) for k in (0, 1)])
    even[0], even[-1] = points[0], points[-1]
    return even


def _links(paths: Sequence[Path]) -> tuple[list[tuple[int, int]], int]:
    """Pairs of numbers for the ends of lines, a number of its own for a free end, and how many."""
    names: dict[Hashable, int] = {}
    links = []
    for k, path in enumerate(paths):
        first, last = (end or (k, side, "free") for side, end in enumerate(path.ends))
        links.append((names.setdefault(first, len(names)), names.setdefault(last, len(names))))
    return links, len(names)


def joined(paths: Sequence[Path]) -> list[Path]:
    """Make one line of two where only two meet."""
    whole, one = [], []
    for trail in trails(_links(paths)[0]):
        one.append(len(trail) == 1)
        parts = [paths[k] if forward else paths[k].turned() for k, forward in trail]
        points = np.concatenate([parts[0].points, *(part.points[1:] for part in parts[1:])])
        whole.append(Path(points, (parts[0].ends[0], parts[-1].ends[1])))
    met = Counter(end for path in whole for end in path.ends)
    drawn = []
    for path, single in zip(whole, one, strict=True):
        first, last = path.ends
        if first and first == last and met[first] == _PAIR:
            drawn.append(path if single else rolled(path))
        else:
            drawn.append(Path(path.points, (_if_met(first, met), _if_met(last, met))))
    return drawn


def rolled(path: Path) -> Path:
    """Let a closed line that meets no other start where it is straightest."""
    ring = path.points[:-1]
    way = np.roll(ring, -_BEND, axis=0) - ring
    heading = np.arctan2(way[:, 1], way[:, 0])
    bend = np.abs((heading - np.roll(heading, _BEND) + np.pi) % (2 * np.pi) - np.pi)
    ring = np.roll(ring, -int(np.argmin(bend.round(3))), axis=0)
    return Path(np.concatenate([ring, ring[:1]]), path.ends)


def _if_met(end: Meeting | None, met: Counter[Meeting | None]) -> Meeting | None:
    return end if met[end] > 1 else None


def vein_of(paths: Sequence[Path]) -> list[Path]:
    """Keep the longest way between two free ends, the straightest of some as long.

    Where there are no two free ends all lines stay.

    Parameters
    ----------
    paths
        The lines of one part.
    """
    free = [(k, side) for k, path in enumerate(paths) for side in (0, 1) if not path.ends[side]]
    if len(free) < _PAIR:
        return list(paths)
    links, size = _links(paths)
    # Several lines may join two points round a hole: the shortest of them stands for all.
    shortest: dict[frozenset[int], int] = {}
    for k in sorted(range(len(paths)), key=lambda k: -paths[k].length):
        shortest[frozenset(links[k])] = k
    graph = np.zeros((size, size))
    for k in shortest.values():
        graph[links[k]] = paths[k].length
    starts = [links[k][side] for k, side in free]
    apart, before = dijkstra(graph, directed=False, indices=starts, return_predecessors=True)
    between = np.where(np.isfinite(apart[:, starts]), apart[:, starts], -1.0)
    tips = np.stack([paths[k].points[-side] for k, side in free])
    straight = np.hypot(*(tips[:, None] - tips[None]).T).round(1)
    straight[between < _AS_LONG * between.max()] = -1.0
    i, j = np.unravel_index(int(np.argmax(straight)), straight.shape)
    kept = set()
    node = starts[j]
    while node != starts[i]:
        step = int(before[i, node])
        kept.add(shortest[frozenset((step, node))])
        node = step
    return [paths[k] for k in sorted(kept)]


def chosen_arms(
    paths: Sequence[Path], arms: Arms, middle: tuple[float, float]
) -> tuple[list[Path], list[str]]:
    """Keep the arms asked for, and the lines that lead to them.

    Parameters
    ----------
    paths
        The lines of a piece. Those with a free end are arms.
    arms
        "all", how many of the longest, or hours of a clock face.
    middle
        Where the hands of the clock turn, mm, y down.

    Returns
    -------
    paths, missing
        The lines, and what to say of each hour that no arm points to.
    """
    if isinstance(arms, str):
        return list(paths), []
    number = [k for k, path in enumerate(paths) if None in path.ends]
    missing: list[str] = []
    if isinstance(arms, int):
        kept = set(sorted(number, key=lambda k: -round(paths[k].length, 1))[: max(arms, 0)])
    else:
        kept, missing = _arms_at(paths, arms, middle)
    left = [path for k, path in enumerate(paths) if k in kept or k not in number]
    while True:  # a line that led to nothing but arms left out is left out too
        met = Counter(end for path in left for end in path.ends)
        lead = [p for p in left if None in p.ends or min(met[end] for end in p.ends) > 1]
        if len(lead) == len(left):
            return left, missing
        left = lead


def _arms_at(
    paths: Sequence[Path], hours: Sequence[int], middle: tuple[float, float]
) -> tuple[set[int], list[str]]:
    """Numbers of the arms whose tips lie nearest to hours of the clock; what hours have none."""
    tips = [
        (k, path.points[-side])
        for k, path in enumerate(paths)
        for side in (0, 1)
        if path.ends[side] is None
    ]
    away = np.array([tip for _, tip in tips]).reshape(-1, 2) - np.array(middle)
    clock = np.degrees(np.arctan2(away[:, 0], -away[:, 1])) / 30.0 % 12.0
    kept, missing = set(), []
    for hour in hours:
        off = np.abs((clock - hour + 6.0) % 12.0 - 6.0)
        if len(off) == 0 or off.min() > _HOUR:
            found = sorted({round(at) % 12 or 12 for at in clock.tolist()})
            there = f"they point to {', '.join(map(str, found))}" if found else "it has no arms"
            missing.append(f"no arm points to {hour} o'clock, so none is stitched there; {there}")
        else:
            kept.add(tips[int(np.argmin(off))][0])
    return kept, missing


def drawn_back(
    paths: Sequence[Path], back: float, shortest: float
) -> tuple[list[Path], list[FloatArray]]:
    """Draw the free ends of lines back.

    Parameters
    ----------
    paths
        The lines of a piece.
    back
        How far, mm.
    shortest
        Lines that would be shorter than this, mm, are left out.

    Returns
    -------
    paths, left_out
        The lines, and the middle of each that is left out, shape (2,), mm.
    """
    if back <= 0:
        return list(paths), []
    drawn, left_out = [], []
    for path in paths:
        start, stop = (back if end is None else 0.0 for end in path.ends)
        if start + stop == 0:
            drawn.append(path)
        elif path.length - start - stop < shortest:
            left_out.append(path.points[len(path.points) // 2])
        else:
            line = substring(shapely.LineString(path.points), start, path.length - stop)
            drawn.append(Path(resampled(shapely.get_coordinates(line)), path.ends))
    return drawn, left_out


def doubled(
    paths: Sequence[Path],
    gap: float,
    room: Sequence[FloatArray],
    *,
    least: float,
    neck: float,
) -> list[list[FloatArray]]:
    """Draw each line as two side by side, one out and one back, with a turn at each free end.

    Lines on a way round a hole stay single. Everywhere then an even number of lines meet, so that
    one run without an end or a retrace can stitch all that hang together.

    Parameters
    ----------
    paths
        Smooth lines, points close together.
    gap
        From one line to the other, mm.
    room
        How far aside of the points of each path a line may run for the edge, each shape (n,), mm.
    least
        How far aside it runs at least, mm. Where there is no room for that the line is single, to
        be gone there and back, but for a stretch as short as a neck.
    neck
        That length, mm.

    Returns
    -------
    list of list of FloatArray
        For each path its lines, each of shape (n, 2): one closed line where it has a free end, two
        between meeting points, itself if single.
    """
    cramped = [
        _cramped(path.places, wide, least, neck) for path, wide in zip(paths, room, strict=True)
    ]
    whole, paths = paths, _parted(paths, gap)
    links, size = _links(paths)
    tapers = _tapers(paths, gap)
    drawn = []
    for k, path in enumerate(paths):
        if cramped[k] or _closes(links, k, size):
            drawn.append([whole[k].points])
            continue
        back = whole[k].length - path.length  # one free end may have been drawn back
        start = 0.0 if np.array_equal(path.points[0], whole[k].points[0]) else back
        wide = np.interp(path.places + start, whole[k].places, room[k])
        rise = [tapers[end] if end else 0.0 for end in path.ends]
        places = path.places
        most = places[-1] * (0.5 if all(path.ends) else 0.9)
        share = _ramp(places, min(rise[0], most))
        share *= _ramp(places[-1] - places, min(rise[1], most))
        drawn.append(_beside(path, np.minimum(gap / 2, np.maximum(wide, least)) * share))
    return drawn


def _cramped(places: FloatArray, room: FloatArray, least: float, neck: float) -> bool:
    """Tell whether two lines have no room beside each other for longer than a neck."""
    near = (room < least - POINT).astype(np.int8)
    change = np.flatnonzero(np.diff(np.concatenate([[0], near, [0]]))).reshape(-1, 2)
    return any(places[b - 1] - places[a] > neck for a, b in change.tolist())


def _parted(paths: Sequence[Path], gap: float) -> list[Path]:
    """Even out lines, and draw free ends back that face each other over a gap too narrow to turn.

    A turn reaches half a gap beyond the end of its line.
    """
    free = np.array([path.points[-k] for path in paths for k in (0, 1) if path.ends[k] is None])
    parted = []
    for path in paths:
        for end in path.ends:
            if end is None:
                apart = np.hypot(*(free - path.points[0]).T)
                short = (apart < 1.2 * gap).sum() > 1 and path.length > _FEW * gap
                places = path.places
                start = int(np.searchsorted(places, 0.6 * gap)) if short else 0
                path = Path(path.points[start:], path.ends)  # noqa: PLW2901  each end in turn
            path = path.turned()  # noqa: PLW2901  to the other end, and back again
        parted.append(Path(resampled(path.points), path.ends))
    return parted


def _room(way: FloatArray, places: FloatArray) -> FloatArray:
    """Radius of the bend of a line at each point, the sharpest of those near by, mm."""
    heading = np.unwrap(np.arctan2(way[:, 1], way[:, 0]))
    bend = np.abs(np.gradient(heading, places))
    window = np.ones(_BEND) / _BEND
    bend = np.convolve(np.pad(bend, _BEND // 2, mode="edge"), window, mode="valid")
    return 1.0 / np.maximum(_widest(bend), 1e-9)


def _widest(values: FloatArray) -> FloatArray:
    """Largest of the values round each place."""
    padded = np.pad(values, _BEND // 2, mode="edge")
    widest: FloatArray = np.lib.stride_tricks.sliding_window_view(padded, _BEND).max(axis=1)
    return widest


def _beside(path: Path, aside: FloatArray) -> list[FloatArray]:
    """Lines on both sides of one, `aside` of it at each point, or less in bends too sharp for that.

    The inner side of a sharp bend would cross itself; there both come nearer to the middle.
    """
    way = np.gradient(path.points, path.places, axis=0)
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(*way.T)[:, None]
    room = _room(way, path.places)
    for ease in _EASE:
        off = normal * np.minimum(aside, ease * room)[:, None]
        lines = _looped(path, path.points + off, path.points - off)
        if all(shapely.LineString(line).is_simple for line in lines):
            break
    return lines


def _ramp(places: FloatArray, over: float) -> FloatArray:
    return np.clip(places / over, 0.0, 1.0) if over > 0 else np.ones(len(places))


def _looped(path: Path, left: FloatArray, right: FloatArray) -> list[FloatArray]:
    """Join two sides of a line by a turn at each free end."""
    first, last = path.ends
    if first and last:
        return [left, right]
    if first is None and last:
        return _looped(path.turned(), right[::-1], left[::-1])
    turns = [_turn(left[-1], right[-1])]
    if first is None:
        turns.append(_turn(right[0], left[0]))
    out = np.concatenate([left, turns[0], right[::-1], *turns[1:]])
    return [np.concatenate([out, out[:1]]) if first is None else out]


def _turn(start: FloatArray, stop: FloatArray) -> FloatArray:
    """Half a circle from one side of a line to the other, without its ends."""
    middle, arm = (start + stop) / 2, (start - stop) / 2
    angle = np.linspace(0.0, -np.pi, _TURN + 1)[1:-1, None]
    across = np.array([-arm[1], arm[0]])
    turn: FloatArray = middle + np.cos(angle) * arm + np.sin(angle) * across
    return turn


def _closes(links: Sequence[tuple[int, int]], k: int, size: int) -> bool:
    """Tell whether a line lies on a way round a hole: its ends hang together without it."""
    leader = list(range(size))
    for a, b in (link for j, link in enumerate(links) if j != k):
        join(leader, a, b)
    return not join(leader, *links[k])


def _tapers(paths: Sequence[Path], gap: float) -> dict[Meeting, float]:
    """From how far off double lines draw together to each meeting point, mm.

    Two arms an angle a apart have room for two lines each from half a gap / tan(a / 2) on.
    """
    headings: dict[Meeting, list[float]] = {}
    for path in paths:
        for way in (path, path.turned()):
            if way.ends[0]:
                far = way.points[
                    min(int(np.searchsorted(way.places, 3 * gap)), len(way.points) - 1)
                ]
                x, y = far - way.points[0]
                headings.setdefault(way.ends[0], []).append(float(np.arctan2(y, x)))
    tapers = {}
    for end, angles in headings.items():
        apart = np.diff(sorted(angles), append=min(angles) + 2 * np.pi)
        half = max(float(apart.min()) / 2, 0.05)
        tapers[end] = max(gap, 1.25 * gap / 2 / np.tan(min(half, np.pi / 4)))
    return tapers
