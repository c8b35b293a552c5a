"""Lines through the middle of an appliqué piece: the medial axis, cleaned by craft rules."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra
from shapely.geometry import LineString, MultiPolygon, Polygon

from stitchpath.errors import StitchpathError
from stitchpath.lines.axis import Axis, local_widths, medial_axis
from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["Arms", "CentreLines", "CentreNote", "CentreRules", "centre_lines"]

Arms: TypeAlias = Literal["all"] | int | Sequence[int]

# Outline that an edge of the axis must explain, beyond the arc of its own circle, to be looked at
# at all, mm: below this it is the flattening of a curve, not a shape.
GRAIN = 0.05
# Junctions closer than this share of their circle are one and the same point, parted by rounding.
SAME = 0.02


@dataclass(frozen=True, slots=True)
class CentreRules:
    """The craft rules that turn a medial axis into lines a quilter would stitch.

    Attributes
    ----------
    tip
        How far short of the edge lines stop, mm. 1/16 in keeps the needle on the fabric of a raw
        edge that frays (common practice).
    stub
        A branch is a stub unless it explains this much more outline than the circle at its foot,
        as a share of that circle's radius. A corner of angle a explains 2 cot(a/2) - (pi - a), so
        0.65 takes corners of 80 degrees and wider for blunt ends: a strip gets one line, no forks.
    corner
        The same where a piece comes to a centre, from which every line tapers away: corners are
        all it has, so a corner counts up to 120 degrees. A square and a hexagon get their corners.
    taper
        How far away, in radii of the circle at a centre, a line has to thin to half that circle to
        taper away.
    gather
        Meeting points closer than this share of the smaller circle round them become one: the arms
        of a star or a leaf meet in one point.
    smooth
        How far smoothing may move a line off the axis, mm: a hand cannot follow less than 0.2 mm.
    shortest
        No line is shorter, mm. 1/8 in is one stitch at 8 stitches to the inch (common practice).
    """

    tip: float = 1.5875
    stub: float = 0.65
    corner: float = 0.09
    taper: float = 3.0
    gather: float = 0.6
    smooth: float = 0.2
    shortest: float = 3.175


@dataclass(frozen=True, slots=True)
class CentreNote:
    """Something a quilter should know about a piece: what, and where (x, y), mm."""

    text: str
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class CentreLines:
    """Lines through the middle of a piece.

    Attributes
    ----------
    lines
        Polylines, each shape (n, 2), mm, meeting only at their ends; ends that meet are the same
        point to the last bit. A closed line ends in its first point.
    widths
        Width of the piece at each point of each line, mm: twice the distance to the outline.
    notes
        Parts that no line could reach, and lines cut in two where the piece is too narrow.
    """

    lines: tuple[FloatArray, ...]
    widths: tuple[FloatArray, ...]
    notes: tuple[CentreNote, ...]


@dataclass(slots=True)
class _Chain:
    """A branch of the axis: its vertices and edges, and the junctions (or free ends) it joins."""

    nodes: IntArray
    edges: IntArray
    ends: tuple[int, int]

    def turned(self) -> "_Chain":
        return _Chain(self.nodes[::-1], self.edges[::-1], self.ends[::-1])


@dataclass(slots=True)
class _Path:
    """A line in the making; an end is the number of a meeting point or None where it is free."""

    points: FloatArray
    ends: tuple[int | None, int | None]
    length: float = field(init=False)

    def __post_init__(self) -> None:
        self.length = float(np.hypot(*np.diff(self.points, axis=0).T).sum())

    def turned(self) -> "_Path":
        return _Path(self.points[::-1], self.ends[::-1])


def centre_lines(
    outline: Polygon | MultiPolygon,
    rules: CentreRules | None = None,
    *,
    arms: Arms = "all",
    vein: bool = False,
) -> CentreLines:
    """Lines through the middle of an appliqué piece.

    Parameters
    ----------
    outline
        Valid outline of the piece, mm; `stitchpath.lines.mend.mend_outline` makes one. May have
        parts and holes.
    rules
        Craft rules; the defaults if None.
    arms
        Which arms to stitch: all; the n longest; or those that point to the hours of a clock face
        (12 is up).
    vein
        Only the longest way through each part.
    """
    rules = rules or CentreRules()
    lines: list[FloatArray] = []
    notes: list[CentreNote] = []
    widths: list[FloatArray] = []
    for part in _parts(outline):
        paths, said = _part_paths(part, rules)
        if vein:
            paths = _vein(paths)
        finished = _finish(_joined(paths), part, rules)
        lines += finished
        widths += [local_widths(part, line) for line in finished]
        notes += said
    return CentreLines(tuple(lines), tuple(widths), tuple(notes))


def _parts(outline: Polygon | MultiPolygon) -> list[Polygon]:
    """Parts of an outline, from the top left on."""
    parts = [p for p in shapely.get_parts(outline) if p.area > 0]
    return sorted(parts, key=lambda p: p.bounds)


def _part_paths(part: Polygon, rules: CentreRules) -> tuple[list[_Path], list[CentreNote]]:
    """All lines of one part, as far as they can be stitched."""
    axis = medial_axis(part)
    chains = _pruned(axis, _chains(axis, _worth(axis)), rules)
    paths = _paths(axis, chains, rules)
    edge = part.boundary
    shapely.prepare(edge)
    paths, notes = _held_inside(paths, edge, rules)
    unreached, said = _unreached(part, axis, chains, paths, rules)
    return paths + unreached, notes + said


# ---- from the axis to chains -----------------------------------------------------------------


def _worth(axis: Axis) -> BoolArray:
    """Edges that explain more of the outline than the grain of a flattened curve."""
    radii = np.minimum(axis.radii[axis.edges[:, 0]], axis.radii[axis.edges[:, 1]])
    keep: BoolArray = axis.explained - _arc(axis.chords, radii) > GRAIN
    return keep


def _arc(chords: FloatArray, radii: FloatArray) -> FloatArray:
    """Arc of a circle over a chord (half a turn at most), mm."""
    arcs: FloatArray = 2.0 * radii * np.arcsin(np.clip(chords / (2.0 * radii), 0.0, 1.0))
    return arcs


def _trails(links: Sequence[tuple[int, int]]) -> list[list[tuple[int, bool]]]:
    """Join links that meet two by two: each trail as (link, whether walked forward)."""
    beside: dict[int, list[int]] = {}
    for k, (a, b) in enumerate(links):
        beside.setdefault(a, []).append(k)
        beside.setdefault(b, []).append(k)
    used = [False] * len(links)
    stops = [node for node, near in beside.items() if len(near) != 2]
    trails = []
    for start in [*stops, *beside]:  # what the stops leave are closed rings
        for first in beside[start]:
            trail: list[tuple[int, bool]] = []
            node, link = start, first
            while not used[link]:
                used[link] = True
                forward = links[link][0] == node
                trail.append((link, forward))
                node = links[link][forward]
                near = beside[node]
                if len(near) == 2 and node != start:
                    link = near[0] if near[1] == link else near[1]
            if trail:
                trails.append(trail)
    return trails


def _chains(axis: Axis, keep: BoolArray) -> list[_Chain]:
    """Take the graph of the kept edges apart at its junctions and free ends."""
    kept = np.flatnonzero(keep)
    links = axis.edges[kept].tolist()
    chains = []
    for trail in _trails(links):
        nodes = [links[k][not forward] for k, forward in trail]
        link, forward = trail[-1]
        nodes.append(links[link][forward])
        edges = kept[[k for k, _ in trail]]
        chains.append(_Chain(np.array(nodes), edges, (nodes[0], nodes[-1])))
    return chains


def _length(axis: Axis, chain: _Chain) -> float:
    return float(np.hypot(*np.diff(axis.points[chain.nodes], axis=0).T).sum())


# ---- which chains are lines -------------------------------------------------------------------


def _pruned(axis: Axis, chains: list[_Chain], rules: CentreRules) -> list[_Chain]:
    """Chains without stubs, meeting points gathered."""
    chains = _gathered(axis, chains, SAME)
    while True:
        stubs = _stubs(axis, chains, rules)
        if not stubs:
            return _gathered(axis, chains, rules.gather)
        chains = _merged([c for k, c in enumerate(chains) if k not in stubs])


def _degrees(chains: Iterable[_Chain]) -> Counter[int]:
    return Counter(end for chain in chains for end in chain.ends)


def _stubs(axis: Axis, chains: list[_Chain], rules: CentreRules) -> set[int]:
    """Numbers of the chains that end free and explain too little."""
    degrees = _degrees(chains)
    centres = _centres(axis, chains, degrees, rules)
    stubs = set()
    for k, chain in enumerate(chains):
        a, b = chain.ends
        if (degrees[a] == 1) == (degrees[b] == 1):
            continue
        rooted = chain if degrees[b] == 1 else chain.turned()
        radius, edge = axis.radii[rooted.nodes[0]], rooted.edges[0]
        extra = axis.explained[edge] - _arc(axis.chords[edge], radius)
        least = rules.corner if rooted.ends[0] in centres else rules.stub
        if extra < least * radius:
            stubs.add(k)
    return stubs


def _centres(
    axis: Axis, chains: list[_Chain], degrees: Counter[int], rules: CentreRules
) -> set[int]:
    """Junctions from which every chain tapers away."""
    steady = set()
    for chain in chains:
        for way in (chain, chain.turned()):
            radii = axis.radii[way.nodes]
            gone = np.hypot(*(axis.points[way.nodes] - axis.points[way.nodes[0]]).T)
            near = radii[gone <= rules.taper * radii[0]]
            if near.min() > 0.5 * radii[0]:
                steady.add(way.ends[0])
    return {node for node, degree in degrees.items() if degree > 2 and node not in steady}


def _merged(chains: list[_Chain]) -> list[_Chain]:
    """Join chains where only two are left at a junction."""
    whole = []
    for trail in _trails([chain.ends for chain in chains]):
        parts = [chains[k] if forward else chains[k].turned() for k, forward in trail]
        whole.append(
            _Chain(
                np.concatenate([part.nodes for part in parts]),
                np.concatenate([part.edges for part in parts]),
                (parts[0].ends[0], parts[-1].ends[1]),
            )
        )
    return whole


def _gathered(axis: Axis, chains: list[_Chain], share: float) -> list[_Chain]:
    """Make junctions closer than a share of their circles one; never across a hole."""
    degrees = _degrees(chains)
    root = {node: node for node in degrees}

    def find(node: int) -> int:
        while root[node] != node:
            node = root[node]
        return node

    kept = []
    for chain in chains:
        a, b = chain.ends
        radius = min(axis.radii[chain.nodes[0]], axis.radii[chain.nodes[-1]])
        inner = degrees[a] > 2 and degrees[b] > 2 and np.isfinite(axis.explained[chain.edges[0]])
        if inner and a != b and _length(axis, chain) < share * radius:
            root[max(find(a), find(b))] = min(find(a), find(b))
        else:
            kept.append(chain)
    for chain in kept:
        chain.ends = (find(chain.ends[0]), find(chain.ends[1]))
    return kept


# ---- from chains to lines ---------------------------------------------------------------------


def _paths(axis: Axis, chains: list[_Chain], rules: CentreRules) -> list[_Path]:
    """Polylines of the chains, drawn together at their meeting points."""
    degrees = _degrees(chains)
    arriving: dict[int, set[int]] = {}
    for chain in chains:
        arriving.setdefault(chain.ends[0], set()).add(int(chain.nodes[0]))
        arriving.setdefault(chain.ends[1], set()).add(int(chain.nodes[-1]))
    meets = {
        end: axis.points[sorted(nodes)].mean(axis=0)
        for end, nodes in arriving.items()
        if degrees[end] > 1
    }
    spread = {
        end: 2.0 * np.hypot(*(axis.points[sorted(arriving[end])] - at).T).max()
        for end, at in meets.items()
    }
    paths = []
    for chain in chains:
        points = axis.points[chain.nodes]
        first, last = chain.ends
        keep = np.ones(len(points), dtype=bool)
        for end in (first, last):
            if end in meets:
                keep &= np.hypot(*(points - meets[end]).T) > spread[end] + 1e-9
        points = points[keep]
        if first in meets:
            points = np.concatenate([[meets[first]], points])
        if last in meets:
            points = np.concatenate([points, [meets[last]]])
        if len(points) > 1:
            ends = (first if first in meets else None, last if last in meets else None)
            paths.append(_Path(points, ends))
    return paths


def _held_inside(
    paths: list[_Path], edge: shapely.Geometry, rules: CentreRules
) -> tuple[list[_Path], list[CentreNote]]:
    """Cut lines where they come too near the edge; run free ends straight on to the tip."""
    held, notes = [], []
    for path in paths:
        clear = shapely.distance(shapely.points(path.points), edge) - rules.tip
        runs = _runs(clear >= 0)
        if len(runs) > 1:
            narrow = path.points[runs[0][1] :][np.argmin(clear[runs[0][1] : runs[-1][0]])]
            notes.append(CentreNote("too narrow for a line", (float(narrow[0]), float(narrow[1]))))
        for start, stop in runs:
            piece = path.points[start:stop]
            ends = (
                path.ends[0] if start == 0 else None,
                path.ends[1] if stop == len(path.points) else None,
            )
            if start > 0:
                piece = np.concatenate([[_crossing(path.points, clear, start, -1)], piece])
            if stop < len(path.points):
                piece = np.concatenate([piece, [_crossing(path.points, clear, stop - 1, 1)]])
            if len(piece) > 1:
                held.append(_Path(piece, ends))
    return [_run_on(path, edge, rules) for path in held], notes


def _runs(inside: BoolArray) -> list[tuple[int, int]]:
    """Stretches of true values, as (start, stop)."""
    change = np.diff(np.concatenate([[0], inside.astype(np.int8), [0]]))
    return list(
        zip(
            np.flatnonzero(change == 1).tolist(), np.flatnonzero(change == -1).tolist(), strict=True
        )
    )


def _crossing(points: FloatArray, clear: FloatArray, inner: int, way: int) -> FloatArray:
    """Where a line leaves the part it may stitch, between a point inside and the next."""
    outer = inner + way
    share = clear[inner] / (clear[inner] - clear[outer])
    crossing: FloatArray = points[inner] + share * (points[outer] - points[inner])
    return crossing


def _run_on(path: _Path, edge: shapely.Geometry, rules: CentreRules) -> _Path:
    """Run the free ends of a line straight on until they are `tip` short of the edge."""
    points = path.points
    for turn in (False, True):
        points = points[::-1]
        if path.ends[0 if turn is False else 1] is not None:
            continue
        more = _straight_on(points, edge, rules.tip)
        points = np.concatenate([points, more])
    return _Path(points, path.ends)


def _straight_on(points: FloatArray, edge: shapely.Geometry, tip: float) -> FloatArray:
    end = points[-1]
    reach = float(shapely.distance(shapely.Point(end), edge))
    back = points[np.hypot(*(points - end).T) <= max(reach, 1.0)]
    away = end - back[0]
    size = np.hypot(*away)
    if size < 1e-6:
        away, size = end - points[0], np.hypot(*(end - points[0]))
    if reach - tip < 1e-3 or size < 1e-9:
        return np.empty((0, 2))
    at = end
    for _ in range(60):  # the distance to the edge is the most that can safely be gone
        gap = float(shapely.distance(shapely.Point(at), edge)) - tip
        if gap < 1e-3:
            break
        at = at + gap * away / size
    return at[None]


def _unreached(
    part: Polygon, axis: Axis, chains: list[_Chain], paths: list[_Path], rules: CentreRules
) -> tuple[list[_Path], list[CentreNote]]:
    """A line across each place wide enough for stitching that no line reaches yet."""
    if paths:
        return [], []
    inner = part.buffer(-rules.tip)
    added, notes = [], []
    for place in _parts(inner):
        middle = axis.points[int(np.argmax(axis.radii))]
        path = _across(place, middle)
        if path is not None and path.length >= rules.shortest:
            added.append(path)
        else:
            notes.append(CentreNote("too small for a line", (float(middle[0]), float(middle[1]))))
    if inner.is_empty:
        at = part.representative_point()
        notes.append(CentreNote("too narrow for a line", (at.x, at.y)))
    return added, notes


def _across(place: Polygon, middle: FloatArray) -> _Path | None:
    """A straight line through a middle, the long way of the place, level where it is round."""
    away = np.array([1.0, 0.0])
    far = 2.0 * np.hypot(place.bounds[2] - place.bounds[0], place.bounds[3] - place.bounds[1])
    cut = shapely.intersection(LineString([middle - far * away, middle + far * away]), place)
    lines = [c for c in shapely.get_parts(cut) if c.length > 0]
    if not lines:
        return None
    nearest = min(lines, key=lambda c: shapely.distance(c, shapely.Point(middle)))
    return _Path(shapely.get_coordinates(nearest), (None, None))


# ---- which lines, and how they are drawn --------------------------------------------------------


def _vein(paths: list[_Path]) -> list[_Path]:
    return paths


def _joined(paths: list[_Path]) -> list[_Path]:
    return paths


def _finish(paths: list[_Path], part: Polygon, rules: CentreRules) -> list[FloatArray]:
    """Smooth and thin the lines out."""
    return [path.points for path in paths if path.length >= rules.shortest]
