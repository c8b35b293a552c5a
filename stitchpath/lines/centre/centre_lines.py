"""Lines through the middle of an appliqué piece: the medial axis, cleaned by craft rules.

>>> from shapely.geometry import box
>>> found = centre_lines(box(0, 0, 100, 20), CentreRules(tip=2))
>>> [line.round(1).tolist() for line in found.lines]
[[[2.0, 10.0], [98.0, 10.0]]]
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from stitchpath.geometry.tolerances import POINT
from stitchpath.lines.centre.arms import (
    SAMPLE,
    Arms,
    Path,
    chosen_arms,
    doubled,
    drawn_back,
    joined,
    resampled,
    vein_of,
)
from stitchpath.lines.centre.medial_axis import Axis, medial_axis, sampling_step
from stitchpath.lines.centre.pruning import CentreRules, Chain, degrees_of, pruned_chains
from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["Arms", "CentreLines", "CentreNote", "CentreRules", "centre_lines"]

_FLAT = 0.02  # mm that thinning out the points may move a finished line
_NEARER = 0.03  # mm: a line that comes nearer to the edge than asked by no more is not cut
_SMOOTHINGS = 16  # passes of (1, 2, 1) / 4: evens out a waver shorter than some 3 mm
# An outline of more points in one part is traced; it is moved by as little of these shares of its
# size as brings it down to that. The first is 0.05 mm on 4 in.
_TRACED, _SHARES = 2000, (1 / 2000, 1 / 1000, 1 / 500, 1 / 250)
_BESIDE = 0.5  # mm: no two lines are stitched side by side nearer than a thread or two
_EVEN = 0.7  # share of its greatest width that half of an arm has at least, unless it is a point
_TOO_SHORT = "an arm is too short for a line that stops so far from its end"
_LEFT_OUT = "an arm is too narrow for a line and is left out"
_FAR = 12.7  # mm: an arm left out is worth a note if it runs on for 1/2 in


@dataclass(frozen=True, slots=True)
class CentreNote:
    """Something to know about the lines of a piece.

    Attributes
    ----------
    text
        What it is, in a quilter's words.
    at
        Where, (x, y), mm.
    width
        Width of the piece there, mm.
    """

    text: str
    at: tuple[float, float]
    width: float


@dataclass(frozen=True, slots=True)
class CentreLines:
    """Lines through the middle of a piece.

    Attributes
    ----------
    lines
        Polylines, each shape (n, 2), mm. They meet only at ends, and ends that meet are the same
        point to the last bit. A closed line ends in its first point.
    widths
        For each line, places along it at most 0.5 mm apart and the width of the piece there (twice
        the distance to its edge), as rows x, y, width, shape (k, 3), mm.
    notes
        Where the piece is too narrow or too small for a line.
    """

    lines: tuple[FloatArray, ...]
    widths: tuple[FloatArray, ...]
    notes: tuple[CentreNote, ...]


def centre_lines(
    outline: Polygon | MultiPolygon,
    rules: CentreRules | None = None,
    *,
    arms: Arms = "all",
    vein: bool = False,
    out_and_back: float | None = None,
) -> CentreLines:
    """Lines through the middle of an appliqué piece.

    Parameters
    ----------
    outline
        Valid outline of the piece, mm, y down, as `mend_outline` makes it. It may have parts and
        holes; holes are gone round.
    rules
        Craft rules; the defaults if None.
    arms
        Which arms to stitch: "all", a number for the longest so many, or the hours of a clock
        face that they point to from the middle of the piece (12 is up).
    vein
        Only the longest way through each part.
    out_and_back
        Stitch every arm twice, in two lines this far apart, mm, that turn round at its tip, so
        that it needs no retrace and no end. They come nearer to each other where the arm is narrow.
        Lines round a hole stay single: they close anyway.

    Returns
    -------
    CentreLines

    Raises
    ------
    StitchpathError
        When no arm points to an hour asked for.

    Notes
    -----
    What comes of plain shapes: a strip or an oval gives one line from end to end; a triangle three
    lines that meet in the middle of its inscribed circle, a square and other regular shapes of up
    to six corners a line to each corner; a disc one level line across; a ring a closed line round
    its hole; an L one bent line, a T three lines.
    """
    rules = rules or CentreRules()
    outline, moved = _drawn(outline)
    clear = min(rules.tip, CentreRules().tip)
    gap = out_and_back or 0.0
    least = min(gap, _BESIDE)
    back = rules.tip - clear + (gap - least) / 2
    rules = replace(rules, tip=clear + moved + least / 2)
    paths: list[Path] = []
    notes: list[CentreNote] = []
    step = sampling_step(outline.length)
    for k, part in enumerate(sorted(shapely.get_parts(outline), key=lambda part: part.bounds)):
        found, said = _part_paths(part, k, step, rules)
        paths += vein_of(found) if vein else found
        notes += _few(said)
    if vein or arms != "all":  # arms not asked for are left out anyway
        notes = [note for note in notes if note.text != _LEFT_OUT]
    middle = outline.centroid.coords[0]
    edge = _prepared(outline)
    paths, short = drawn_back(
        chosen_arms(paths, arms, (middle[0], middle[1])), back, rules.shortest
    )
    notes += _few([_note(_TOO_SHORT, at, float(_clear(at[None], edge)[0])) for at in short])
    paths = joined(paths)
    paths = _smoothed(sorted(map(_upright, paths), key=_reading), edge, rules)
    single = [[path.points] for path in paths]
    held = rules.tip - least / 2

    def room(points: FloatArray) -> FloatArray:
        return np.maximum(_clear(points, edge) - held, least / 2)

    drawn = single if out_and_back is None else doubled(paths, gap, room)
    lines, widths = [], []
    for path, several in zip(paths, drawn, strict=True):
        width = np.column_stack([path.points, 2.0 * _clear(path.points, edge)])
        lines += [_thinned(line) for line in several]
        widths += [width] * len(several)
    return CentreLines(tuple(lines), tuple(widths), tuple(notes))


class _Edge(NamedTuple):
    """The edge of a piece, and what lies within."""

    line: shapely.Geometry
    within: shapely.Geometry


def _prepared(outline: Polygon | MultiPolygon) -> _Edge:
    edge = _Edge(outline.boundary, outline)
    shapely.prepare(edge)
    return edge


def _clear(points: FloatArray, edge: _Edge) -> FloatArray:
    """Distance of points to the edge, below 0 outside it, shape (n,), mm."""
    away = np.asarray(shapely.distance(shapely.points(points), edge.line), dtype=np.float64)
    return np.where(shapely.intersects_xy(edge.within, *points.T), away, -away)


def _part_paths(
    part: Polygon, number: int, step: float, rules: CentreRules
) -> tuple[list[Path], list[CentreNote]]:
    """All lines of one part, as far as they can be stitched."""
    edge = _prepared(part)
    axis = medial_axis(part, step)
    paths = _drawn_together(axis, pruned_chains(axis, rules), number)
    paths, notes = _held_inside(paths, edge, rules.tip)
    paths = _run_on(paths, edge, rules.tip)
    paths = [p for p in paths if None not in p.ends or p.length >= rules.shortest]
    added, said = _unreached(part, axis, paths, rules)
    notes += said
    return paths + added, notes + _left_out(axis, paths + added, rules)


def _drawn(
    outline: Polygon | MultiPolygon,
) -> tuple[Polygon | MultiPolygon, float]:
    """Draw a traced outline with fewer points, and tell how far they may be off it, mm."""
    left, top, right, bottom = outline.bounds
    drawn, moved = outline, 0.0
    for share in _SHARES:
        if shapely.get_num_coordinates(shapely.get_parts(drawn)).max(initial=0) <= _TRACED:
            break
        moved = share * max(right - left, bottom - top)
        drawn = shapely.simplify(outline, moved)
    return drawn, moved


# ---- from chains of the axis to lines ------------------------------------------------------------


def _drawn_together(axis: Axis, chains: list[Chain], number: int) -> list[Path]:
    """Polylines of the chains, those that meet drawn to one point."""
    degrees = degrees_of(chains)
    arriving: dict[int, list[int]] = {}
    for chain in chains:
        for end, node in zip(chain.ends, (chain.nodes[0], chain.nodes[-1]), strict=True):
            if degrees[end] > 1:
                arriving.setdefault(end, []).append(int(node))
    meets = {end: axis.points[sorted(set(nodes))].mean(axis=0) for end, nodes in arriving.items()}
    spread = {
        end: float(np.hypot(*(axis.points[nodes] - meets[end]).T).max())
        for end, nodes in arriving.items()
    }
    paths = []
    for chain in chains:
        points = axis.points[chain.nodes]
        for end in chain.ends:
            if end in meets:
                points = _drawn_to(points, meets[end], 2.0 * spread[end])
            points = points[::-1]  # to the other end, and back again
        ends = [(number, end) if end in meets else None for end in chain.ends]
        paths.append(Path(resampled(points), (ends[0], ends[1])))
    return [path for path in paths if len(path.points) > 1]


def _drawn_to(points: FloatArray, meeting: FloatArray, within: float) -> FloatArray:
    """Let a line start in a meeting point, straight from where it comes `within` of it."""
    near = np.hypot(*(points - meeting).T) <= within
    start = int(np.argmin(near)) if not near.all() else len(points) - 1
    return np.concatenate([meeting[None], points[max(start, 1) :]])


def _held_inside(paths: list[Path], edge: _Edge, tip: float) -> tuple[list[Path], list[CentreNote]]:
    """Cut lines where they come nearer to the edge than `tip`."""
    held, notes = [], []
    for path in paths:
        clear = _clear(path.points, edge) - tip
        runs = _runs(clear)
        for (_, stop), (start, _) in pairwise(runs):
            gap = clear[stop:start]
            worst = stop + int(np.median(np.flatnonzero(gap <= gap.min() + _NEARER)))
            text = "the piece is too narrow for a line, which stops on both sides"
            notes.append(_note(text, path.points[worst], clear[worst] + tip))
        for start, stop in runs:
            points = path.points[start:stop]
            ends = list(path.ends)
            if start > 0:
                points = np.concatenate([[_crossing(path.points, clear, start, -1)], points])
                ends[0] = None
            if stop < len(path.points):
                points = np.concatenate([points, [_crossing(path.points, clear, stop - 1, 1)]])
                ends[1] = None
            if len(points) > 1:
                held.append(Path(points, (ends[0], ends[1])))
    return held, notes


def _note(text: str, at: FloatArray, radius: float) -> CentreNote:
    return CentreNote(text, (float(at[0]), float(at[1])), 2.0 * float(radius))


def _runs(clear: FloatArray) -> list[tuple[int, int]]:
    """Stretches that can be stitched, as (start, stop): a little too near at most between ends."""
    change = np.diff(np.concatenate([[0], (clear >= -_NEARER).astype(np.int8), [0]]))
    runs = []
    for start, stop in zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1), strict=True):
        far = np.flatnonzero(clear[start:stop] >= 0)
        if len(far):
            runs.append((int(start + far[0]), int(start + far[-1]) + 1))
    return runs


def _crossing(points: FloatArray, clear: FloatArray, inner: int, way: int) -> FloatArray:
    """Where a line leaves the part it may stitch, between a point inside and the next."""
    outer = inner + way
    share = clear[inner] / (clear[inner] - clear[outer])
    crossing: FloatArray = points[inner] + share * (points[outer] - points[inner])
    return crossing


def _run_on(paths: list[Path], edge: _Edge, tip: float) -> list[Path]:
    """Run the free ends of lines straight on until they are `tip` short of the edge."""
    ways = [*paths, *(path.turned() for path in paths)]
    free = [k for k, path in enumerate(ways) if path.ends[1] is None]
    if not free:
        return paths
    ends = np.stack([ways[k].points[-1] for k in free])
    reach = _clear(ends, edge)
    headings = np.stack(
        [_heading(ways[k].points, far) for k, far in zip(free, reach.tolist(), strict=True)]
    )
    stops = _marched(ends, headings, edge, tip)
    more: dict[int, FloatArray] = {
        k: resampled(np.stack([end, stop]))[1:]
        for k, end, stop in zip(free, ends, stops, strict=True)
    }
    none = np.empty((0, 2))
    return [
        Path(
            np.concatenate([more.get(k + len(paths), none)[::-1], path.points, more.get(k, none)]),
            path.ends,
        )
        for k, path in enumerate(paths)
    ]


def _heading(points: FloatArray, reach: float) -> FloatArray:
    """Tell which way a line ends, over the last eighth of the width there: a unit vector."""
    gone = np.hypot(points[:, 0] - points[-1, 0], points[:, 1] - points[-1, 1])
    far = np.flatnonzero(gone > max(0.25 * reach, 2 * SAMPLE))
    back = points[far[-1]] if len(far) else points[0]
    away: FloatArray = points[-1] - back
    return away / max(float(np.hypot(*away)), 1e-12)


def _marched(points: FloatArray, headings: FloatArray, edge: _Edge, tip: float) -> FloatArray:
    """Walk from points inside, each in its direction, up to `tip` short of the edge, shape (n, 2).

    The distance to the edge is how far one can safely go each time (sphere tracing, Hart 1996).
    Who has arrived stays: a rounding beyond the edge, the distance would lead away from it.
    """
    at = points
    going = np.ones(len(points), dtype=bool)
    for _ in range(80):
        gap = _clear(at, edge) - tip
        going &= gap >= POINT
        if not going.any():
            break
        at = at + np.where(going, gap, 0.0)[:, None] * headings
    return at


# ---- places that no line reaches ----------------------------------------------------------------


def _unreached(
    part: Polygon, axis: Axis, paths: list[Path], rules: CentreRules
) -> tuple[list[Path], list[CentreNote]]:
    """Draw a line across each place wide enough for stitching that no line reaches yet."""
    hubs = _hubs(axis, rules.tip)
    if len(hubs) == 0:
        at = int(np.argmax(axis.radii))
        text = "the piece is too narrow for a line"
        return [], [_note(text, axis.points[at], axis.radii[at])]
    lines = MultiLineString([path.points for path in paths])
    if paths:
        apart = shapely.distance(shapely.points(axis.points[hubs]), lines)
        hubs = hubs[apart > axis.radii[hubs]]
    if len(hubs) == 0:
        return [], []
    added, notes = [], []
    places = shapely.get_parts(part.buffer(POINT - rules.tip))
    for hub in hubs.tolist():
        middle = axis.points[hub]
        here = [place for place in places if place.covers(shapely.Point(middle))]
        if here and here[0].intersects(lines):
            continue
        path = _across(here[0], middle, part, rules.tip) if here else None
        if path is not None and path.length >= rules.shortest:
            added.append(path)
        else:
            text = "the piece is too small for a line"
            notes.append(_note(text, middle, axis.radii[hub]))
    return added, notes


def _hubs(axis: Axis, tip: float) -> IntArray:
    """Middle of the largest circle of each place wide enough for stitching: vertices of the axis.

    Two places are two if one cannot go from one to the other without coming too near the edge.
    """
    wide: BoolArray = axis.radii >= tip
    place = _places(axis, wide[axis.edges[:, 0]] & wide[axis.edges[:, 1]])
    order = np.lexsort([-axis.radii, place])
    first = np.ones(len(place), dtype=bool)
    first[1:] = np.diff(place[order]) > 0
    hubs: IntArray = order[first]
    return hubs[wide[hubs]]


def _across(place: Polygon, middle: FloatArray, part: Polygon, tip: float) -> Path:
    """Draw a straight line through a middle, the long way of the place, or level."""
    away = _long_way(place)
    ways = np.stack([-away, away])
    ends = _marched(np.stack([middle, middle]), ways, _prepared(part), tip)
    return Path(resampled(ends), (None, None))


def _long_way(place: Polygon) -> FloatArray:
    """Direction of the long axis of a polygon's area, level if it is as wide every way."""
    x, y = (shapely.get_coordinates(place.exterior) - np.array(place.centroid.coords[0])).T
    cross = x[:-1] * y[1:] - x[1:] * y[:-1]
    # second moments of area over the sides of the polygon (handbook formula, by Green's theorem)
    xx = (cross * (x[:-1] ** 2 + x[:-1] * x[1:] + x[1:] ** 2)).sum() / 12
    yy = (cross * (y[:-1] ** 2 + y[:-1] * y[1:] + y[1:] ** 2)).sum() / 12
    xy = (cross * (x[:-1] * y[1:] + 2 * (x[:-1] * y[:-1] + x[1:] * y[1:]) + x[1:] * y[:-1])).sum()
    xy /= 24
    if np.hypot(xx - yy, 2 * xy) < _ROUND * abs(xx + yy):
        return np.array([1.0, 0.0])
    _, vectors = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]) * np.sign(xx))
    way: FloatArray = vectors[:, 1]
    return way if way[0] > 0 else -way


_ROUND = 0.02  # a piece counts as round while its second moments of area differ by less, a share


def _left_out(axis: Axis, paths: list[Path], rules: CentreRules) -> list[CentreNote]:
    """Note arms too narrow for a line that run on for a good way, and not to a point."""
    thin = (axis.radii[axis.edges].max(axis=1) < rules.tip) & (
        axis.explained >= rules.limb * axis.chords
    )
    if not paths or not thin.any():
        return []
    place = _places(axis, thin)
    lines = MultiLineString([path.points for path in paths])
    notes = []
    for name in np.unique(place[axis.edges[thin, 0]]).tolist():
        nodes = np.flatnonzero(place == name)
        apart = shapely.distance(shapely.points(axis.points[nodes]), lines)
        widest = nodes[int(np.argmax(axis.radii[nodes]))]
        long = float(np.ptp(axis.points[nodes], axis=0).max()) >= rules.short
        even = np.median(axis.radii[nodes]) > _EVEN * axis.radii[widest]
        if apart.max() >= _FAR and long and even:
            notes.append(_note(_LEFT_OUT, axis.points[widest], axis.radii[widest]))
    return notes


def _places(axis: Axis, edges: BoolArray) -> IntArray:
    """Name for each vertex the place that it belongs to, hung together by chosen edges."""
    a, b = axis.edges[edges].T
    size = len(axis.radii)
    graph = coo_array((np.ones(len(a)), (a, b)), shape=(size, size))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def _few(notes: list[CentreNote]) -> list[CentreNote]:
    """One note where several of a kind lie close together."""
    kept: list[CentreNote] = []
    for note in notes:
        near = [
            k for k in kept if k.text == note.text and np.hypot(*np.subtract(k.at, note.at)) < _FAR
        ]
        if not near:
            kept.append(note)
    return kept


# ---- how lines are drawn -------------------------------------------------------------------------


def _reading(path: Path) -> tuple[float, ...]:
    """Order lines by where they start, from left to right."""
    return tuple(np.round(path.points[[0, -1, len(path.points) // 2]], 2).ravel().tolist())


def _upright(path: Path) -> Path:
    """Let a line start at its left end, or the upper of two above each other."""
    first, last = np.round(path.points[[0, -1]], 2).tolist()
    return path.turned() if last < first else path


def _smoothed(paths: list[Path], edge: _Edge, rules: CentreRules) -> list[Path]:
    """Even out lines, no farther from the axis than the rule, no nearer to the edge than `tip`."""
    if not paths:
        return []
    points = np.concatenate([path.points for path in paths])
    stops = np.cumsum([len(path.points) for path in paths])
    loose = np.ones((len(points), 1))  # the ends stay
    loose[stops - 1] = loose[stops[:-1]] = loose[0] = 0.0
    most = max(rules.smooth / 2, 1e-9)  # the samples themselves cut corners, by less than the rest
    even = points
    for _ in range(_SMOOTHINGS):
        inner = (even[:-2] + 2.0 * even[1:-1] + even[2:]) / 4.0
        move = loose * (np.concatenate([even[:1], inner, even[-1:]]) - points)
        size = np.hypot(move[:, 0], move[:, 1])[:, None]
        even = points + move * (most / np.maximum(size, most))
    near = _clear(even, edge) < rules.tip - _NEARER
    even[near] = points[near]
    pieces = np.split(even, stops[:-1])
    return [Path(piece, path.ends) for piece, path in zip(pieces, paths, strict=True)]


def _thinned(points: FloatArray) -> FloatArray:
    """Fewer points for the same line, its ends as they were."""
    thin: FloatArray = shapely.get_coordinates(shapely.simplify(LineString(points), _FLAT))
    return thin
