"""From edge to edge: curves laid over a ground, cut at its edge, with steps where none may go."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.geometry.groups import join
from stitchpath.geometry.polylines import distances, moving_on
from stitchpath.geometry.tolerances import ROUNDING
from stitchpath.lines.fills.ground import eroded, rings_of

__all__ = ["edge_to_edge", "to_edge"]

_SKIN = 0.002  # what never comes farther than this from the edge lies on it, mm
_ALONG = 1.0  # a curve may run so far along the edge before that is taken off it, mm
_CRUMB = 0.3  # a piece of a curve shorter than this share of the spacing is left out
_HEM = 1.0  # steps keep so far off an edge that nothing may go along, mm ...
_HEM_SHARE = 8.0  # ... or this part of the spacing, whichever is less
_STEP = 2.2  # a step is at most so many spacings long ...
_LONG_STEP = 8.0  # ... or where two ends are left over beside each other, so many
_NEAR = 0.1  # an end so near to a ring, or beyond a hem, lies on it, mm


def edge_to_edge(
    curves: Sequence[FloatArray],
    region: BaseGeometry,
    closed: BaseGeometry | None,
    spacing: float,
    inset: float = 0.0,
) -> list[FloatArray]:
    """Lay curves over a region.

    Parameters
    ----------
    curves
        Polylines that reach over all of the region, shape (n, 2) each, mm.
    region
        What is filled, mm.
    closed
        That part of its edge along which the thread cannot go: the edge of a piece, or a seam that
        its thread does not stitch; None where there is none.
    spacing
        Of the fill, mm.
    inset
        How far all but the first and the last of a chain of curves keeps from the edge, mm. More
        than 0 closes all of the edge.

    Returns
    -------
    list of ndarray
        The curves within the region, each up to its edge, then steps: short ways along `closed`
        from the end of one to that of the next, a hem inside it. Each end has one step at most, and
        no step closes a ring.
    """
    hem = inset if inset > 0 else min(_HEM, spacing / _HEM_SHARE)
    closed = region.boundary if inset > 0 else closed
    if closed is None or closed.is_empty:
        return _within(curves, region, spacing)
    area = eroded(region, hem) if inset > 0 else region.difference(closed.buffer(hem))
    if area.is_empty:
        return []
    laid = _within(curves, area, spacing)
    if not laid:
        return []
    steps, free = _steps(laid, area, closed.buffer(hem + _NEAR), spacing)
    if inset > 0:
        laid = [_led_out(path, free[2 * k : 2 * k + 2], region) for k, path in enumerate(laid)]
    return laid + steps


def _led_out(path: FloatArray, free: BoolArray, region: BaseGeometry) -> FloatArray:
    """Lengthen a path to the edge at its ends that no step leads on from."""
    whole = to_edge(path, region)
    return whole[0 if free[0] else 1 : len(whole) if free[1] else -1]


def to_edge(path: FloatArray, region: BaseGeometry) -> FloatArray:
    """Lengthen a path at both ends by the shortest way to the edge of its region."""
    ends = shapely.points(path[[0, -1]])
    ways = shapely.get_coordinates(shapely.shortest_line(ends, region.boundary)).reshape(-1, 2, 2)
    return np.concatenate([ways[0, 1:], path, ways[1, 1:]])


def _within(curves: Sequence[FloatArray], area: BaseGeometry, spacing: float) -> list[FloatArray]:
    """Cut curves at the edge of an area; what lies on the edge is left out."""
    if not len(curves):
        return []
    lines = np.array([LineString(curve) for curve in curves])
    parts = _cut(lines, area)
    skinned = area.buffer(-_SKIN)
    shapely.prepare(skinned)
    clear = np.asarray(shapely.intersection(parts, skinned))
    long = shapely.length(clear)
    keep = long > _CRUMB * spacing
    found: list[FloatArray] = []
    for part, free in zip(parts[keep], clear[keep], strict=True):
        if part.length - free.length <= _ALONG:
            found.append(shapely.get_coordinates(part))
            continue
        found += [
            _moving(to_edge(shapely.get_coordinates(piece), area))
            for piece in (
                _lines_in(np.array([free])) if part.is_simple else _unnoded(part, skinned)
            )
            if piece.length > _CRUMB * spacing
        ]
    return found


def _cut(lines: Geometries, area: BaseGeometry) -> Geometries:
    """Cut lines at the edge of an area; one that crosses itself is not cut where it does."""
    shapely.prepare(area)
    simple = shapely.is_simple(lines)
    plain = np.full(len(lines), None, dtype=object)
    plain[simple] = shapely.intersection(lines[simple], area)
    found: list[BaseGeometry] = []
    for line, cut in zip(lines, plain, strict=True):
        found += _unnoded(line, area) if cut is None else list(_lines_in(np.array([cut])))
    return np.array(found, dtype=object)


def _unnoded(line: BaseGeometry, area: BaseGeometry) -> list[LineString]:
    """Cut a line segment by segment, so that no loop is cut off where it closes."""
    at = shapely.get_coordinates(line)
    cut = shapely.intersection(shapely.linestrings(np.stack([at[:-1], at[1:]], axis=1)), area)
    pieces, owner = shapely.get_parts(cut, return_index=True)
    solid = shapely.length(pieces) > 0
    chains: list[list[FloatArray]] = []
    end = None
    for piece, k in zip(pieces[solid], owner[solid].tolist(), strict=True):
        points = shapely.get_coordinates(piece)
        if (points[-1] - points[0]) @ (at[k + 1] - at[k]) < 0:
            points = points[::-1]
        if end is None or np.abs(points[0] - end).max() > ROUNDING:
            chains.append([points[:1]])
        chains[-1].append(points[1:])
        end = points[-1]
    return [LineString(np.concatenate(chain)) for chain in chains]


def _moving(path: FloatArray) -> FloatArray:
    return np.asarray(path[moving_on(path)])


def _lines_in(shapes: Geometries) -> Geometries:
    """List the lines of some geometries in order."""
    parts = shapely.get_parts(shapely.line_merge(shapes))
    return np.asarray(parts[shapely.length(parts) > 0])


@dataclass(frozen=True, slots=True)
class _Ends:
    """Ends of curves on one ring, in order round it.

    Attributes
    ----------
    ring
        Closed, shape (k, 2), mm.
    at
        How far along it each end lies, ascending, mm, shape (n,).
    end
        Number of the end: twice that of its curve, one more at its last point, shape (n,).
    """

    ring: FloatArray
    at: FloatArray
    end: IntArray

    def way(self, k: int) -> FloatArray:
        """Give the points of the ring between an end and the next, both left out."""
        along = distances(self.ring)
        a, b = self.at[k], self.at[(k + 1) % len(self.at)]
        ahead = (b - a) % along[-1]
        reach = (along[:-1] - a) % along[-1]
        inside = np.flatnonzero((reach > ROUNDING) & (reach < ahead - ROUNDING))
        return self.ring[inside[np.argsort(reach[inside], kind="stable")]]

    def gaps(self) -> FloatArray:
        """Tell how far it is from each end to the next, mm, shape (n,)."""
        return np.diff(self.at, append=self.at[0] + distances(self.ring)[-1])


def _steps(
    laid: Sequence[FloatArray], area: BaseGeometry, beside: BaseGeometry, spacing: float
) -> tuple[list[FloatArray], BoolArray]:
    """Join ends that lie beside each other along an edge where nothing may go.

    Returns
    -------
    steps : list of ndarray
        From end to end.
    free : ndarray, shape (2 n,)
        Which ends along such an edge have none: first and last of each path.
    """
    ends = np.concatenate([path[[0, -1]] for path in laid])
    shapely.prepare(beside)
    free = np.asarray(shapely.intersects_xy(beside, *ends.T))
    rings = list(_on_rings(ends, free, area))
    leader = list(range(len(laid)))
    steps: list[FloatArray] = []
    for reach in (_STEP, _LONG_STEP):
        for found in rings:
            for k in np.flatnonzero(found.gaps() <= reach * spacing).tolist():
                one, two = int(found.end[k]), int(found.end[(k + 1) % len(found.end)])
                if not (free[one] and free[two]):
                    continue
                way = _moving(np.concatenate([ends[[one]], found.way(k), ends[[two]]]))
                if not beside.covers(LineString(way)) or not join(leader, one // 2, two // 2):
                    continue
                free[[one, two]] = False
                steps.append(way)
    return steps, free


def _on_rings(ends: FloatArray, shut: BoolArray, area: BaseGeometry) -> Iterator[_Ends]:
    """Sort the ends on shut edges by the rings of their area."""
    rings = rings_of(area)
    numbers = np.flatnonzero(shut)
    points = np.asarray(shapely.points(ends[numbers]))
    point, of = shapely.STRtree([LineString(ring) for ring in rings]).query(
        points, predicate="dwithin", distance=_NEAR
    )
    for k, ring in enumerate(rings):
        mine = np.sort(point[of == k])
        if len(mine) > 1:
            at = np.asarray(shapely.line_locate_point(LineString(ring), points[mine]))
            order = np.lexsort((mine, at))
            yield _Ends(ring, at[order], numbers[mine[order]])
