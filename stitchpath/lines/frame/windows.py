"""Windows of a frame: which part of the quilt is stretched, and stitched, at a time.

The quilt is stretched with its top edge first, so that y runs along the way it is rolled; or
sideways with its left edge first, a quarter turn clockwise, so that x does. Neighbouring windows
may overlap: a line is stitched whole where any window holds it, else it is cut.
"""

from collections.abc import Callable, Container, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LineString, Polygon

from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.design.model import FRAMING, USUAL, Design, Machine
from stitchpath.geometry.polylines import heights
from stitchpath.geometry.tolerances import BOTH_ROUNDED, GRID
from stitchpath.lines.applique import stage_of
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.fills.pattern import FREE
from stitchpath.lines.frame.borders import WANDER
from stitchpath.lines.frame.choose import Chosen, Verge, choose_windows
from stitchpath.lines.frame.reach import Reach, reach_of
from stitchpath.lines.frame.strands import Strands, strands_of
from stitchpath.lines.line import Line
from stitchpath.top.build import Top

__all__ = [
    "Window",
    "axis_of",
    "bare_windows",
    "cut_at",
    "cut_lines",
    "first_windows",
    "frame_seconds",
    "frame_windows",
    "numbered_units",
    "reaches",
    "way_round",
    "with_whole_pieces",
]

_DOOR = 0.05  # mm from its end: who meets a line there meets its end
_OFF_EDGE = 12.7  # mm: half an inch is far enough off the top to start and stop (common practice)


class Window(NamedTuple):
    """What the frame shows at a time.

    Attributes
    ----------
    top, bottom
        From where to where, mm.
    ends
        Between the top of the next window and its own bottom, mm: what reaches no farther down is
        stitched in it, and what has to be cut is cut there. Of the last, its bottom.
    axis
        1 where these are y, 0 where the quilt is loaded sideways and they are x.
    """

    top: float
    bottom: float
    ends: float
    axis: int = 1


class _Costs(NamedTuple):
    """Seconds for an advance with clamps and basting, a cut, and an end that has to lie inside.

    And for a quilt that is taken out and loaded again, since a piece is nowhere shown whole.
    """

    advance: float
    cut: float
    inside: float
    out: float

    @staticmethod
    def of(design: Design) -> "_Costs":
        usual = USUAL | FRAMING
        pace = usual | design.pace.model_dump(include=set(usual), exclude_none=True)
        advance = pace["advance"] + pace["clamps"] + pace["baste"]
        cut = pace["start"] + 2 * pace["end_inside"]
        inside = max(pace["end_inside"] - pace["end_trimmed"], 0.0)
        return _Costs(advance, cut, inside, pace["unload"] + pace["load"])


def way_round(outline: Polygon, margin: float) -> Polygon:
    """Give the way round a top in its margin, mm; with no margin it is the edge itself."""
    off = min(margin / 2, _OFF_EDGE)
    ring = outline.buffer(off, join_style="mitre", mitre_limit=2.0) if off > 0 else outline
    return shapely.orient_polygons(ring)


def numbered_units(
    lines: Sequence[Line], bits: Sequence[SeamBit], travelling: Container[tuple[int, str]]
) -> list[Line]:
    """Give numbers to lines that cross themselves, and that others meet at their ends alone.

    Parameters
    ----------
    lines, bits
        All that is to be quilted, and the seams, not noded.
    travelling
        Stages and threads that may go along seams.
    """
    shapes = np.array([LineString(line.points) for line in lines])
    winding = np.flatnonzero(~shapely.is_simple(shapes))
    if not len(winding):
        return list(lines)
    group = [(line.stage, line.thread) for line in lines]
    one, two = shapely.STRtree(shapes).query(shapes[winding], "dwithin", BOTH_ROUNDED)
    pairs = [
        (k, n)
        for k, n in zip(winding[one].tolist(), two.tolist(), strict=True)
        if n != k and group[n] == group[k]
    ]
    other = _met_within(shapes, pairs, shapes)
    on_seams = [int(k) for k in winding if group[int(k)] in travelling]
    if on_seams and bits:
        seams = np.array([LineString(bit.points) for bit in bits])
        one, two = shapely.STRtree(seams).query(shapes[on_seams], "dwithin", BOTH_ROUNDED)
        pairs = [(on_seams[k], n) for k, n in zip(one.tolist(), two.tolist(), strict=True)]
        other |= _met_within(shapes, pairs, seams)
    units = set(winding.tolist()) - other
    return [replace(line, unit=k) if k in units else line for k, line in enumerate(lines)]


def _met_within(
    shapes: Geometries, pairs: Sequence[tuple[int, int]], others: Geometries
) -> set[int]:
    """Tell which shapes others meet elsewhere than at their ends."""
    if not pairs:
        return set()
    mine, theirs = np.array(pairs).T
    ends = shapely.multipoints(
        np.stack([shapely.get_point(shapes[mine], k) for k in (0, -1)], axis=1)
    )
    rest = shapely.difference(others[theirs], shapely.buffer(ends, _DOOR))
    met = shapely.dwithin(shapes[mine], rest, BOTH_ROUNDED)
    return set(mine[met].tolist())


def axis_of(machine: Machine) -> int:
    """Tell along which axis a quilt is rolled: 1 for y, 0 for x where it is loaded sideways."""
    return 0 if machine.sideways else 1


def reaches(lines: Sequence[Line], axis: int = 1) -> tuple[FloatArray, FloatArray]:
    """Tell from where to where lines lead, mm; pieces of a unit as far as all of it.

    Parameters
    ----------
    lines
        One at least.
    axis
        0 for x, 1 for y.
    """
    low, high = heights([line.points for line in lines], axis)
    unit = np.array([line.unit for line in lines])
    mine = np.flatnonzero(unit >= 0)
    if len(mine):
        _, number = np.unique(unit[mine], return_inverse=True)
        upper, lower = np.full(len(mine), np.inf), np.full(len(mine), -np.inf)
        np.minimum.at(upper, number, low[mine])
        np.maximum.at(lower, number, high[mine])
        low[mine], high[mine] = upper[number], lower[number]
    return low, high


def frame_windows(
    design: Design, top: Top, lines: Sequence[Line], drawn: Sequence[Line]
) -> tuple[Window, ...]:
    """Choose the windows that take the least time, for a quilt in a frame of known depth.

    An advance has its seconds. A cut has two ends and a start. Where a piece that is fused after
    the quilting is shown whole in none, the quilt has to be taken out and loaded again. Where the
    way off the edge at top or bottom does not lie in a window, what reaches the edge there has its
    ends inside.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        What is to be quilted, noded.
    drawn
        Before it was noded, which `unit` counts.

    Returns
    -------
    tuple of Window
        From the top edge; none without a depth, or where all lies in one.

    Raises
    ------
    StitchpathError
        When the frame shows too little of the quilt.
    """
    framed = _framed(design, top)
    if framed is None or framed.one:
        return ()
    tops = _chosen(design, top, lines, drawn, framed).tops
    bottoms = np.minimum(framed.reach.bottom(tops, framed.low), framed.high)
    leads = reaches(lines, framed.axis)
    ends = [
        _parted(lines, leads, top_, bottom)
        for top_, bottom in zip(tops[1:].tolist(), bottoms[:-1].tolist(), strict=True)
    ]
    return _listed(tops, bottoms, ends, framed.axis)


def _chosen(
    design: Design, top: Top, lines: Sequence[Line], drawn: Sequence[Line], framed: "_Framed"
) -> Chosen:
    """Choose where windows begin, and tell what they cost."""
    paths = [line.points for line in lines]
    upper, lower = _doors(top.outline, paths, framed.axis)
    choose = partial(
        choose_windows,
        reach=framed.reach,
        advance=framed.costs.advance,
        first=framed.low,
        above=Verge(framed.low, upper * framed.costs.inside),
        below=Verge(framed.high, lower * framed.costs.inside),
    )
    apart = [line.points for line in lines if line.unit < 0]
    apart += [drawn[k].points for k in sorted({line.unit for line in lines} - {-1})]
    between = {line.stage for line in lines} == {1, 2}  # else nothing is quilted before they fuse
    pieces: Sequence[tuple[float, float]] = ()
    if between and design.machine.fuse != "out of the frame":
        pieces = _later_pieces(top, framed.axis)
    strands = strands_of(apart, framed.costs.cut, framed.axis)
    return with_whole_pieces(strands, pieces, framed.costs.out, choose)


def frame_seconds(
    design: Design, top: Top, lines: Sequence[Line], drawn: Sequence[Line]
) -> tuple[int, float]:
    """Tell how many windows a quilt takes as it is loaded, and what depends on them.

    Parameters
    ----------
    design, top, lines, drawn
        As for `frame_windows`. Of fills that wander the ground counts alone: they are parted where
        windows end, wherever that is.

    Returns
    -------
    count
        Of windows; 1 where all lies in one, or the depth is not known.
    seconds
        Of advances, of cuts, and of what is missed.

    Raises
    ------
    StitchpathError
        When the frame shows too little of the quilt.
    """
    framed = _framed(design, top)
    if framed is None or framed.one:
        return 1, 0.0
    free = {k for k, asked in enumerate(design.fills) if asked.style in FREE}
    wild = [line for line in lines if line.of.fill in free]
    if not wild:
        found = _chosen(design, top, lines, drawn, framed)
        return len(found.tops), found.cost
    other = [line.points for line in lines if line.of.fill not in free]
    low, high = heights([line.points for line in wild], framed.axis)
    overlap = WANDER * max(design.fills[k].spacing for k in free)
    found = _with_ground(
        framed.reach.less(overlap, framed.high - framed.low),
        (framed.low, framed.high),
        framed.costs.advance,
        (float(low.min()), float(high.max())),
        strands_of(other, framed.costs.cut, framed.axis),
    )[1]
    return len(found.tops), found.cost


def with_whole_pieces(
    strands: Strands,
    pieces: Sequence[tuple[float, float]],
    out: float,
    choose: Callable[[Strands], Chosen],
) -> Chosen:
    """Choose windows that show all pieces whole, unless it costs less to take the quilt out once.

    Parameters
    ----------
    strands
        Of what is stitched.
    pieces
        From where to where those lead that are fused after the quilting, mm.
    out
        Cost of taking the quilt out and loading it again, however many pieces that is for.
    choose
        Chooses windows for strands (`choose_windows`).

    Returns
    -------
    Chosen
        Their cost holds `out` where a piece is missed. Priced at `out` each, pieces are all shown
        whole wherever that is best: windows that miss one and are best cost no less than the best
        of all, and `out`.
    """
    best = choose(strands)
    if not pieces:
        return best
    low, high = np.array(pieces, dtype=np.float64).T
    whole = choose(strands.and_also(Strands(low, high, np.full(len(low), out))))
    return whole if whole.cost <= best.cost + out else best._replace(cost=best.cost + out)


def _later_pieces(top: Top, axis: int) -> list[tuple[float, float]]:
    """Tell from where to where the pieces lead that are fused after the quilting."""
    later = [piece.shape.bounds for piece in top.pieces if stage_of(piece.asked) > 1]
    return [(box[axis], box[axis + 2]) for box in later]


class _Framed(NamedTuple):
    """A quilt as it is loaded: what the frame shows, and from where to where there is to stitch."""

    reach: Reach
    costs: _Costs
    low: float
    high: float
    axis: int

    @property
    def one(self) -> bool:
        """Whether all of it lies in one window."""
        return float(self.reach.bottom(self.low, self.low)) >= self.high - BOTH_ROUNDED


def _framed(design: Design, top: Top) -> _Framed | None:
    """Tell how a quilt lies in the frame; None without one of known depth.

    None without a depth, or where all lies in one window.

    Raises
    ------
    StitchpathError
        When the frame shows too little of the quilt.
    """
    reach = reach_of(design.machine)
    if reach is None:
        return None
    axis = axis_of(design.machine)
    bounds = way_round(top.outline, design.batting.margin).bounds
    low, high = bounds[axis], bounds[axis + 2]
    reach.check(high - low, top.unit)
    return _Framed(reach, _Costs.of(design), low, high, axis)


def first_windows(
    design: Design,
    top: Top,
    lines: Sequence[Line],
    ground: tuple[float, float],
    overlap: float = 0.0,
) -> tuple[Window, ...]:
    """Choose windows before ground is filled that can be parted anywhere.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        What else is to be quilted.
    ground
        From where to where that lies, mm.
    overlap
        How much neighbouring windows are to share, mm; no more of what is shown than a share.

    Raises
    ------
    StitchpathError
        When the frame shows too little of the quilt.
    """
    framed = _framed(design, top)
    if framed is None:
        return ()
    reach, costs, low, high, axis = framed
    strands = strands_of([line.points for line in lines], costs.cut, axis)
    found = bare_windows(reach, (low, high), costs.advance, ground, strands, overlap)
    return tuple(window._replace(axis=axis) for window in found)


def bare_windows(
    reach: Reach,
    span: tuple[float, float],
    advance: float,
    ground: tuple[float, float] | None = None,
    strands: Strands | None = None,
    overlap: float = 0.0,
) -> tuple[Window, ...]:
    """Choose windows for ground that can be parted anywhere.

    Parameters
    ----------
    reach
        What the frame shows.
    span
        From where to where there is something to stitch, a way round in the margin included, mm.
    advance
        Cost of rolling on once.
    ground
        From where to where that ground lies, mm; all of the span unless said.
    strands
        What else is stitched.
    overlap
        As for `first_windows`.

    Examples
    --------
    >>> [round(window.ends, 3) for window in bare_windows(Reach(400.0), (0.0, 1000.0), 240.0)]
    [366.667, 700.0, 1000.0]
    """
    low, high = span
    if float(reach.bottom(low, low)) >= high - BOTH_ROUNDED:
        return ()
    close = reach.less(overlap, high - low)
    shared = reach.depth - close.depth
    found, chosen = _with_ground(close, span, advance, ground or span, strands)
    fewest = len(chosen.tops)
    even = np.linspace(low, high - shared, fewest + 1)[1:-1]
    even = (np.rint(even[even > found.low.min()] / GRID) * GRID).tolist()
    tops = choose_windows(found, close, advance, first=low, also=even).tops
    bottoms = np.minimum(reach.bottom(tops, low), high)
    spare = np.maximum(bottoms[:-1] - tops[1:], 0.0)
    return _listed(tops, bottoms, (tops[1:] + spare / 2).tolist())


def _with_ground(
    reach: Reach,
    span: tuple[float, float],
    advance: float,
    ground: tuple[float, float],
    strands: Strands | None,
) -> tuple[Strands, Chosen]:
    """Give what windows are to show, and choose them.

    Ground that goes up to the edge has the way off it too, unless that takes one window more.
    """
    (low, high), (upper, lower) = span, ground
    wide = (
        (low if upper - low <= _OFF_EDGE else upper),
        (high if high - lower <= _OFF_EDGE else lower),
    )
    tried = []
    for a, b in (wide, ground):
        found = Strands(np.array([a]), np.array([b]), np.zeros(1))
        found = found if strands is None else found.and_also(strands)
        tried.append((found, choose_windows(found, reach, advance, first=low)))
    return min(tried, key=lambda each: len(each[1].tops))


def _listed(
    tops: FloatArray, bottoms: FloatArray, ends: Sequence[float], axis: int = 1
) -> tuple[Window, ...]:
    rounded = [round(at / GRID) * GRID for at in ends]
    every = [*np.minimum(rounded, bottoms[:-1]).tolist(), float(bottoms[-1])]
    return tuple(
        Window(a, b, end, axis)
        for a, b, end in zip(tops.tolist(), bottoms.tolist(), every, strict=True)
    )


def _doors(outline: Polygon, paths: Sequence[FloatArray], axis: int) -> tuple[int, int]:
    """Count the places where lines reach the first edge and the last."""
    ends = np.array([end for path in paths for end in (path[0], path[-1])])
    ends = np.unique(np.rint(ends / GRID), axis=0) * GRID
    verges = outline.bounds[axis::2]
    upper, lower = (np.abs(ends[:, axis] - at) < BOTH_ROUNDED for at in verges)
    return int(upper.sum()), int(lower.sum())


def _parted(
    lines: Sequence[Line], reach: tuple[FloatArray, FloatArray], upper: float, lower: float
) -> float:
    """Choose the level between two windows that leaves the fewest odd places in the first.

    At a place where an odd number of lines meet a run has to start or stop, or a line is gone over
    again. What lies above the overlap is stitched in the first window anyhow, and what reaches out
    of it below in the second.

    Parameters
    ----------
    lines, reach
        Noded, and from where to where each leads, mm.
    upper, lower
        Top of the second window, and bottom of the first, mm.

    Returns
    -------
    float
        Of several levels the lowest, mm.
    """
    if lower - upper <= GRID:
        return min(lower, upper)
    low, high = reach
    near = np.flatnonzero((high >= upper) & (low <= lower))
    if not len(near):
        return lower
    when = np.where(low[near] < upper - BOTH_ROUNDED, -np.inf, high[near])
    groups: dict[tuple[int, str], int] = {}
    group = [
        groups.setdefault((lines[k].stage, lines[k].thread), len(groups)) for k in near.tolist()
    ]
    ends = np.array([lines[k].points[[0, -1]] for k in near.tolist()]).reshape(-1, 2)
    key = np.column_stack([np.repeat(group, 2), np.rint(ends / GRID)])
    _, place = np.unique(key, axis=0, return_inverse=True)
    place = place.reshape(-1)
    when = np.repeat(when, 2)
    order = np.lexsort((when, place))
    place, when = place[order], when[order]
    turn = np.arange(len(place)) - np.searchsorted(place, place)  # its number at its place
    step = np.where(turn % 2 == 0, 1, -1)
    tried = np.unique(np.append(when[(when >= upper) & (when <= lower)], [upper, lower]))
    odd = np.zeros(len(tried), dtype=np.int64)
    np.add.at(
        odd,
        np.minimum(np.searchsorted(tried, when - BOTH_ROUNDED), len(tried) - 1),
        np.where(when <= lower, step, 0),
    )
    odd = np.cumsum(odd)
    return float(tried[np.flatnonzero(odd == odd.min())[-1]])


def cut_lines(lines: Sequence[Line], windows: Sequence[Window]) -> list[Line] | None:
    """Make ready what has to be cut: a unit that no window holds is one no longer.

    Parameters
    ----------
    lines
        Noded.
    windows
        What the frame shows.

    Returns
    -------
    list of Line
        To be noded again; None where every line is whole in some window.
    """
    low, high = reaches(lines, windows[0].axis if windows else 1)
    cut = np.zeros(len(lines), dtype=bool)
    for one, two in pairwise(windows):
        cut |= _across(low, high, one, two)
    if not cut.any():
        return None
    return [
        replace(line, unit=-1) if broken else line
        for line, broken in zip(lines, cut.tolist(), strict=True)
    ]


def _across(low: FloatArray, high: FloatArray, one: Window, two: Window) -> BoolArray:
    """Tell what neither of two windows holds whole, nor any before or after."""
    return np.asarray((low < two.top - BOTH_ROUNDED) & (high > one.bottom + BOTH_ROUNDED))


def cut_at(points: FloatArray, one: Window, two: Window) -> tuple[IntArray, FloatArray]:
    """Tell where a polyline has to be cut between two windows.

    Each time it comes from above the second to below the first, or back, it is cut once, where it
    last comes from above.

    Parameters
    ----------
    points
        Shape (n, 2), mm.
    one, two
        A window and the next.

    Returns
    -------
    after
        Index of the point before which each cut lies, ascending, shape (k,).
    places
        The cuts, on the grid, shape (k, 2), mm.
    """
    points = points if one.axis else points[:, ::-1]
    y = points[:, 1]
    level = one.ends
    above, below = y < min(two.top, level) - BOTH_ROUNDED, y > max(one.bottom, level) + BOTH_ROUNDED
    sure = np.flatnonzero(above | below)
    off = y - level
    after, met = [], []
    for a, b in pairwise(sure.tolist()):
        if (off[a] > 0) == (off[b] > 0):
            continue
        way = np.arange(a, b + 1)[:: 1 if off[b] > 0 else -1]  # down, whichever way it runs
        last = int(np.flatnonzero(off[way] <= 0)[-1])
        upper, lower = points[way[last]], points[way[last + 1]]
        share = (level - upper[1]) / (lower[1] - upper[1])
        met.append((upper[0] + share * (lower[0] - upper[0]), level))
        after.append(max(int(way[last]), int(way[last + 1])))
    cut = np.array(met, dtype=np.float64).reshape(-1, 2)
    cut[:, 0] = np.rint(cut[:, 0] / GRID) * GRID
    return np.array(after, dtype=np.int64), cut if one.axis else cut[:, ::-1]
