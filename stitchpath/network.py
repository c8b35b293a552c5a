"""Lines and travel lines to graphs: one for each stage and thread, noded on a 1 µm grid.

In a frame lines are cut as well where one strip ends and the next begins (`route/strips.py`).
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Polygon

from stitchpath.design.model import Design
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.levels import Level, way_round
from stitchpath.lines.model import Line
from stitchpath.paths import (
    GRID,
    distances,
    heights,
    joined_paths,
    on_grid,
    path_keys,
    path_lengths,
)
from stitchpath.top import Top
from stitchpath.typing import Along, BoolArray, FloatArray, Geometries, IntArray, Kind, Where

__all__ = ["SHOWN", "Network", "build_networks", "node_lines"]

# Kinds of line that lie open on the fabric, where a second pass shows.
SHOWN: frozenset[Kind] = frozenset({"centre", "outline", "echo", "fill", "drawn"})
_TOUCH = 2 * GRID
_APART = 1.5 * GRID  # more than this, and two places of the grid are two


@dataclass(frozen=True, slots=True)
class Network:
    """The graph of one stage and thread.

    Attributes
    ----------
    stage, thread
        What it is for.
    points
        Vertices, shape (n, 2), mm.
    tail, head
        Ends of each edge, shape (m,).
    paths
        Polyline of each edge, from tail to head.
    line
        Index of the line that the edge is, -1 where it is travel.
    seam
        Number of the seam of the top that it lies on, which it runs the way of; else -1.
    along
        For travel, what it runs along; None for lines.
    length
        mm, shape (m,).
    again
        Price of going over it when it need not be (again), mm of stitching; inf where forbidden.
    end
        Price of an end at each vertex, shape (n,).
    where
        "inside", "edge" or "margin", for each vertex.
    required
        Which edges have to be stitched, shape (m,).
    strip
        In a frame, the strip that it lies in, from 1 at the top edge; else 0.
    """

    stage: int
    thread: str
    points: FloatArray
    tail: IntArray
    head: IntArray
    paths: tuple[FloatArray, ...]
    line: IntArray
    seam: IntArray
    along: tuple[Along | None, ...]
    length: FloatArray
    again: FloatArray
    end: FloatArray
    where: tuple[Where, ...]
    required: BoolArray
    strip: int = 0


def node_lines(
    lines: Sequence[Line], bits: Sequence[SeamBit], levels: Sequence[Level] = ()
) -> tuple[list[Line], list[SeamBit]]:
    """Cut lines and seams where they cross, so that they meet only at their ends.

    Parameters
    ----------
    lines
        All lines to quilt. Ditch lines are seams, which meet only at their ends from the start.
    bits
        The seams, which may be travelled along.
    levels
        Where strips in a frame end: what passes from one to the next is cut there as well.

    Returns
    -------
    lines, bits
        The same, cut; on the 1 µm grid. Lines of another stage or thread do not cut each other.
    """
    # Seams lie on the grid from the start.
    lines = [
        x if part is x.points else replace(x, points=part)
        for x in lines
        for part in ([x.points] if x.seam >= 0 else _uncrossed(on_grid(x.points)))
    ]
    lines, bits = _cut_all(lines, bits, levels)
    if any(line.kind in SHOWN for line in lines):
        count = -1
        while count != len(lines) + len(bits):
            # A cut moves a line by up to a rounding, and may so make it cross another.
            count = len(lines) + len(bits)
            lines, bits = _cut_all(lines, bits, ())
    return _once(lines), list(bits)


def _cut_all(
    lines: Sequence[Line], bits: Sequence[SeamBit], levels: Sequence[Level]
) -> tuple[list[Line], list[SeamBit]]:
    """Cut lines and seams where they cross, and at levels."""
    groups: dict[tuple[int, str], list[int]] = {}
    for i, line in enumerate(lines):
        groups.setdefault((line.stage, line.thread), []).append(i)
    cuts: list[list[FloatArray]] = [[] for _ in range(len(lines) + len(bits))]
    paths = [line.points for line in lines] + [bit.points for bit in bits]
    for members in groups.values():
        free = [i for i in members if lines[i].kind in SHOWN]
        if free:
            others = members + list(range(len(lines), len(paths)))
            _find_cuts(paths, free, others, cuts)
    _find_levels(paths, levels, cuts)
    cut_lines = [
        line if part is line.points else replace(line, points=part)
        for line, at in zip(lines, cuts, strict=False)
        for part in _cut(line.points, at)
    ]
    cut_bits = [
        bit if part is bit.points else SeamBit(bit.seam, part)
        for bit, at in zip(bits, cuts[len(lines) :], strict=True)
        for part in _cut(bit.points, at)
    ]
    return cut_lines, cut_bits


def _uncrossed(points: FloatArray) -> list[FloatArray]:
    """Cut a polyline where it crosses or touches itself; its two ends may fall together.

    Crossings are those of its straight pieces; on either piece the crossing, on the grid, becomes
    a vertex at which both are cut.
    """
    line = LineString(points)
    closed = bool(np.all(points[0] == points[-1]))
    if line.is_simple:
        return [points]
    pieces = np.asarray(shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1)))
    first, second = shapely.STRtree(pieces).query(pieces, predicate="intersects")
    count = len(pieces)
    ahead = second > first
    first, second = first[ahead], second[ahead]
    common = shapely.intersection(pieces[first], pieces[second])
    # Neighbours share a vertex; they are cut only where the line turns back over itself.
    next_to = (second - first == 1) | (closed & (first == 0) & (second == count - 1))
    apart = ~next_to | (shapely.length(common) > 0)
    first, second, common = first[apart], second[apart], common[apart]
    at, which = shapely.get_coordinates(common, return_index=True)
    at = np.rint(at / GRID) * GRID
    homes = np.concatenate([first[which], second[which]])
    stops = np.concatenate([at, at])
    share = np.hypot(*(stops - points[homes]).T)
    order = np.lexsort((share, homes))
    homes, stops = homes[order], stops[order]
    walked = np.insert(points, homes + 1, stops, axis=0)
    is_cut = np.insert(np.zeros(len(points), dtype=bool), homes + 1, True)
    # A crossing at a vertex is found on both pieces that meet there, and falls together with it.
    keys = np.rint(walked / GRID).astype(np.int64)
    new = np.concatenate([[True], np.any(np.diff(keys, axis=0) != 0, axis=1)])
    group = np.cumsum(new) - 1
    cut = np.bincount(group, weights=is_cut, minlength=int(group[-1]) + 1) > 0
    walked = walked[new]
    cuts = np.flatnonzero(cut[1:-1]) + 1
    bounds = [0, *cuts.tolist(), len(walked) - 1]
    return [walked[a : b + 1] for a, b in itertools.pairwise(bounds)]


def _find_cuts(
    paths: Sequence[FloatArray],
    free: Sequence[int],
    others: Sequence[int],
    cuts: list[list[FloatArray]],
) -> None:
    """Note, for every path that meets a free line, where, and both ends of what they share."""
    shapes = _shapes([paths[i] for i in others])
    tree = shapely.STRtree(shapes)
    ours = _shapes([paths[i] for i in free])
    left, right = tree.query(ours, predicate="intersects")
    common = shapely.intersection(ours[left], shapes[right])
    one, two = np.array(free)[left], np.array(others)[right]
    open_ = (one != two) & ~(_only_ends(common, ours[left]) & _only_ends(common, shapes[right]))
    for i, j, met in zip(one[open_].tolist(), two[open_].tolist(), common[open_], strict=True):
        parts = shapely.get_parts(met)
        lengths = shapely.length(parts)
        stretches = shapely.get_parts(shapely.line_merge(shapely.union_all(parts[lengths > 0])))
        ends = [shapely.get_coordinates(s)[[0, -1]] for s in stretches]
        points = np.concatenate([shapely.get_coordinates(parts[lengths == 0]), *ends])
        for k in (i, j):
            cuts[k].append(np.rint(points / GRID) * GRID)
    _touches(paths, free, others, tree, cuts)


def _shapes(paths: Sequence[FloatArray]) -> Geometries:
    starts, flat = joined_paths(paths)
    which = np.repeat(np.arange(len(starts)), np.diff(np.append(starts, len(flat))))
    return np.asarray(shapely.linestrings(flat, indices=which))


def _only_ends(common: Geometries, shapes: Geometries) -> BoolArray:
    """Tell which lines meet another in one point, an end of theirs."""
    first, last = (shapely.distance(common, shapely.get_point(shapes, k)) for k in (0, -1))
    point = shapely.get_type_id(common) == shapely.GeometryType.POINT
    ends: BoolArray = point & (np.minimum(first, last) < GRID)
    return ends


def _find_levels(
    paths: Sequence[FloatArray], levels: Sequence[Level], cuts: list[list[FloatArray]]
) -> None:
    """Note, for every path that passes a level, where."""
    if not levels:
        return
    least, most = heights(paths)
    for level in levels:
        reach = max(level.reach, _TOUCH)
        passing = (least < level.y - reach) & (most > level.y + reach)
        for i in np.flatnonzero(passing).tolist():
            cuts[i].append(_at_level(paths[i], level.y, reach))


def _at_level(points: FloatArray, level: float, reach: float = 0.0) -> FloatArray:
    """Give the places, on the grid, where a polyline has to be cut at a level.

    Each time it comes from farther than `reach` on one side to farther than that on the other, it
    is cut once, where it last comes from above.
    """
    off = points[:, 1] - level
    sure = np.flatnonzero(np.abs(off) > reach)
    met = []
    for a, b in itertools.pairwise(sure.tolist()):
        if (off[a] > 0) == (off[b] > 0):
            continue
        way = np.arange(a, b + 1)[:: 1 if off[b] > 0 else -1]  # down, whichever way it runs
        last = int(np.flatnonzero(off[way] <= 0)[-1])
        above, below = points[way[last]], points[way[last + 1]]
        share = (level - above[1]) / (below[1] - above[1])
        met.append((above[0] + share * (below[0] - above[0]), level))
    cut = np.array(met, dtype=np.float64).reshape(-1, 2)
    cut[:, 0] = np.rint(cut[:, 0] / GRID) * GRID
    return cut


def _touches(
    paths: Sequence[FloatArray],
    free: Sequence[int],
    others: Sequence[int],
    tree: shapely.STRtree,
    cuts: list[list[FloatArray]],
) -> None:
    """Note where a free line ends on another one: on the grid, an end seldom lies exactly on it."""
    ends = np.concatenate([paths[i][[0, -1]] for i in free])
    end, line = tree.query(shapely.points(ends), predicate="dwithin", distance=_TOUCH)
    tips = np.array([paths[i][[0, -1]] for i in others])
    inside = np.hypot(*(tips[line] - ends[end, None]).T).min(axis=0) > _APART
    for k, j in zip(end[inside].tolist(), line[inside].tolist(), strict=True):
        if others[j] != free[k // 2]:
            cuts[others[j]].append(ends[k : k + 1])


def _once(lines: Sequence[Line]) -> list[Line]:
    """Leave out what two lines of a stage and thread share: the first of them stitches it.

    Lines a rounding apart have crossings but no stretch in common; cut there, they are alike.
    """
    free = np.array([i for i, line in enumerate(lines) if line.kind in SHOWN], dtype=np.int64)
    if not len(free):
        return list(lines)
    shapes = _shapes([line.points for line in lines])
    tree = shapely.STRtree(shapes)
    left, right = tree.query(shapes[free], predicate="dwithin", distance=_TOUCH)
    left = free[left]
    pairs = left != right
    left, right = left[pairs], right[pairs]
    same = shapely.hausdorff_distance(shapes[left], shapes[right]) <= _TOUCH
    gone: set[int] = set()
    for i, j in zip(left[same].tolist(), right[same].tolist(), strict=True):
        a, b = lines[i], lines[j]
        if (a.stage, a.thread) == (b.stage, b.thread) and (j < i or b.kind == "ditch"):
            gone.add(i)
    return [line for i, line in enumerate(lines) if i not in gone]


def _cut(points: FloatArray, at: Sequence[FloatArray]) -> list[FloatArray]:
    """Cut a polyline at points on it; a cut at its own end changes nothing."""
    if not at:
        return [points]
    line = LineString(points)
    places = np.unique(np.concatenate(at), axis=0)
    along = np.asarray(shapely.line_locate_point(line, shapely.points(places)))
    inner = (along > _APART) & (along < line.length - _APART)
    order = np.argsort(along[inner], kind="stable")
    vertex = distances(points)
    parts: list[FloatArray] = []
    start, start_at = points[:1], 0.0
    for place, stop_at in zip(places[inner][order], along[inner][order], strict=True):
        if stop_at - start_at <= _APART:
            continue
        between = points[(vertex > start_at + GRID) & (vertex < stop_at - GRID)]
        parts.append(np.concatenate([start, between, place[None]]))
        start, start_at = place[None], float(stop_at)
    parts.append(np.concatenate([start, points[vertex > start_at + GRID]]))
    return parts


def build_networks(
    design: Design,
    top: Top,
    lines: Sequence[Line],
    bits: Sequence[SeamBit],
    levels: Sequence[Level] = (),
) -> list[Network]:
    """Build the graph of each stage and thread, in the order of stitching.

    Parameters
    ----------
    design, top
        The design and its top: prices, margin, which threads may travel along seams.
    lines, bits
        Noded (`node_lines`).
    levels
        Where ways in the margin are cut.
    """
    groups: dict[tuple[int, str], list[int]] = {}
    for i, line in enumerate(lines):
        groups.setdefault((line.stage, line.thread), []).append(i)
    order = {name: k for k, name in enumerate(design.threads)}
    keys = sorted(groups, key=lambda key: (key[0], order.get(key[1], 0)))
    return [_network(design, top, key, lines, groups[key], bits, levels) for key in keys]


@dataclass(slots=True)
class _Edges:
    paths: list[FloatArray]
    line: list[int]
    seam: list[int]
    along: list[Along | None]

    def add(self, path: FloatArray, along: Along | None, line: int = -1, seam: int = -1) -> None:
        self.paths.append(path)
        self.seam.append(seam)
        self.along.append(along)
        self.line.append(line)


def _network(
    design: Design,
    top: Top,
    key: tuple[int, str],
    lines: Sequence[Line],
    members: Sequence[int],
    bits: Sequence[SeamBit],
    levels: Sequence[Level],
) -> Network:
    edges = _Edges([], [], [], [])
    for i in members:
        edges.add(lines[i].points, None, i, lines[i].seam)
    if _may_travel(design, *key):
        stitched = set(path_keys([lines[i].points for i in members if lines[i].seam >= 0]))
        keys = path_keys([bit.points for bit in bits])
        for bit, bit_key in zip(bits, keys, strict=True):
            if bit_key not in stitched:
                edges.add(bit.points, "seam", seam=bit.seam)
    ends = np.array([p for path in edges.paths for p in (path[0], path[-1])])
    points = np.unique(np.rint(ends / GRID), axis=0) * GRID
    on_edge = np.asarray(shapely.dwithin(top.outline.exterior, shapely.points(points), GRID))
    if design.batting.margin > 0:
        _add_margin(edges, top.outline, points[on_edge], design.batting.margin, levels)
    else:
        _add_ring(edges, np.array(top.outline.exterior.coords), points[on_edge], "edge", levels)
    return _assemble(design, key, lines, edges, top.outline)


def _may_travel(design: Design, stage: int, thread: str) -> bool:
    spec = design.threads.get(thread)
    if spec is not None and spec.travel is not None:
        return spec.travel
    return stage == 1 and not (spec is not None and spec.contrast)


def _add_margin(
    edges: _Edges, outline: Polygon, doors: FloatArray, margin: float, levels: Sequence[Level]
) -> None:
    """Lead every place where a line reaches the edge out to a way round in the margin."""
    if len(doors) == 0:
        return
    exterior = way_round(outline, margin).exterior
    out = shapely.line_interpolate_point(
        exterior, shapely.line_locate_point(exterior, shapely.points(doors))
    )
    outer = np.rint(shapely.get_coordinates(out) / GRID) * GRID
    spokes = np.stack([doors, outer], axis=1)
    inner = shapely.intersection(shapely.linestrings(spokes), outline.buffer(-_TOUCH))
    clear = shapely.length(inner) == 0  # in a notch of the edge the way out may lead over the top
    for spoke in spokes[clear]:
        edges.add(spoke, "margin")
    _add_ring(edges, np.array(exterior.coords), outer[clear], "margin", levels)


def _add_ring(
    edges: _Edges, ring: FloatArray, stops: FloatArray, along: Along, levels: Sequence[Level]
) -> None:
    """Add the ways from each stop on a closed ring to the next, levels being stops too."""
    if len(stops):
        stops = np.concatenate([stops, *(_at_level(ring, level.y) for level in levels)])
    stops = np.unique(np.rint(stops / GRID), axis=0) * GRID
    if len(stops) < 2:  # noqa: PLR2004 - from one place there is nowhere to go
        return
    line = LineString(ring)
    vertex = distances(ring)
    at = np.asarray(shapely.line_locate_point(line, shapely.points(stops)))
    order = np.argsort(at, kind="stable")
    at, stops = at[order], stops[order]
    for k in range(len(stops)):
        n = (k + 1) % len(stops)
        if n:
            between = ring[(vertex > at[k] + _TOUCH) & (vertex < at[n] - _TOUCH)]
        else:  # over the place where the ring begins
            between = np.concatenate(
                [ring[:-1][vertex[:-1] > at[k] + _TOUCH], ring[:-1][vertex[:-1] < at[n] - _TOUCH]]
            )
        path = np.concatenate([stops[k : k + 1], between, stops[n : n + 1]])
        edges.add(on_grid(path), along)


def _assemble(
    design: Design, key: tuple[int, str], lines: Sequence[Line], edges: _Edges, outline: Polygon
) -> Network:
    ends = np.array([p for path in edges.paths for p in (path[0], path[-1])])
    grid, index = np.unique(np.rint(ends / GRID), axis=0, return_inverse=True)
    index = index.reshape(-1).astype(np.int64)
    points = grid * GRID
    length = path_lengths(edges.paths)
    where = _where(points, outline)
    line = np.array(edges.line, dtype=np.int64)
    again = length * [_price(design, lines, i, a) for i, a in zip(line, edges.along, strict=True)]
    prices: dict[Where, float] = {
        "inside": design.prices.end_inside,
        "margin": design.prices.end_margin,
    }
    # With no margin the edge is what the binding will cover: nothing to secure there either.
    prices["edge"] = prices["inside" if design.batting.margin > 0 else "margin"]
    return Network(
        stage=key[0],
        thread=key[1],
        points=points,
        tail=index[0::2],
        head=index[1::2],
        paths=tuple(edges.paths),
        line=line,
        seam=np.array(edges.seam, dtype=np.int64),
        along=tuple(edges.along),
        length=length,
        again=np.asarray(again),
        end=np.array([prices[w] for w in where]),
        where=where,
        required=line >= 0,
    )


def _where(points: FloatArray, outline: Polygon) -> tuple[Where, ...]:
    shapes = shapely.points(points)
    edge = shapely.dwithin(outline.exterior, shapes, GRID)
    shapely.prepare(outline)
    inside = shapely.contains(outline, shapes)
    names: tuple[Where, ...] = ("margin", "inside", "edge")
    return tuple(names[k] for k in np.where(edge, 2, inside))


def _price(design: Design, lines: Sequence[Line], line: int, along: Along | None) -> float:
    """Price of a millimetre that need not be stitched (again)."""
    prices, retrace = design.prices, design.route.retrace
    if line < 0:
        return prices.travel_seam if along == "seam" else prices.travel_margin
    shown = lines[line].kind in SHOWN
    if retrace == "never" or (retrace == "ditch" and shown):
        return float("inf")
    return prices.retrace_shown if shown else prices.retrace_ditch
