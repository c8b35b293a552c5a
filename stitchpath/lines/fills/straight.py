"""Parallel lines, crosshatch and waves: rows across a region, joined or from edge to edge."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from stitchpath.geometry.polylines import distances, moving_on
from stitchpath.geometry.tolerances import ROUNDING
from stitchpath.lines.fills.bending import drawn_in
from stitchpath.lines.fills.ground import eroded, rings_of
from stitchpath.lines.fills.rows import Slices, chains, sliced
from stitchpath.typing import FloatArray, IntArray

__all__ = ["crosshatch", "parallel", "to_edge", "waves"]

_WITHIN = 0.005  # rows keep this far inside the outermost points of their area, mm
_SQUEEZE = 0.02  # rows may be drawn together by this share of their distance, to be one more
_SWAY = 0.6  # height of a wave either side of its guide, in spacings
_LENGTH = 6.0  # of a wave, in spacings


def parallel(
    region: BaseGeometry, spacing: float, inset: float, angle: float, *, joined: bool
) -> list[FloatArray]:
    """Fill a region with straight lines.

    Parameters
    ----------
    region
        mm.
    spacing, inset
        mm.
    angle
        Of the lines against the x axis, degrees, clockwise as seen (y points down).
    joined
        Join neighbouring lines alternately along the inset edge, one path for as long as that
        goes; or else run each line from edge to edge of the region.

    Returns
    -------
    list of ndarray
        Paths, shape (k, 2) each, mm; each begins and ends on the edge of the region.
    """
    level = affinity.rotate(region, -angle, origin=(0, 0))
    inner = eroded(level, inset)
    found = _rows(level, inner, spacing, inset, joined=joined)
    return [_turned(path, angle) for path in found]


def crosshatch(
    region: BaseGeometry, spacing: float, inset: float, angle: float, *, joined: bool
) -> list[FloatArray]:
    """Fill a region with two sets of straight lines, square to each other.

    Parameters
    ----------
    region, spacing, inset, angle, joined
        As for `parallel`; the second set stands square to the angle.

    Returns
    -------
    list of ndarray
        Paths, mm. The two sets cross, but never run along each other: where lines are joined,
        the second set turns a little farther in.
    """
    first = parallel(region, spacing, inset, angle, joined=joined)
    laid = MultiLineString([LineString(path) for path in first])
    for deeper in (0.25, 0.31, 0.37, 0.43):
        second = parallel(region, spacing, inset + deeper * spacing, angle + 90, joined=joined)
        over = MultiLineString([LineString(path) for path in second])
        if shapely.intersection(laid, over).length < 1e-6 * spacing:
            break
    return first + second


def waves(region: BaseGeometry, spacing: float, inset: float, angle: float) -> list[FloatArray]:
    """Fill a region with waves along parallel guides, joined alternately.

    Rows of waves are straight rows in a bent plane: they are laid there and bent back.

    Parameters
    ----------
    region, spacing, inset, angle
        As for `parallel`. Rows lie as far apart as makes the length that of straight lines.

    Returns
    -------
    list of ndarray
        Paths, mm; each begins and ends on the edge of the region.
    """
    sway, wave = _SWAY * spacing, 2 * np.pi / (_LENGTH * spacing)
    x = np.linspace(0, 2 * np.pi, 721)
    stretch = float(np.mean(np.sqrt(1 + (sway * wave * np.cos(x)) ** 2)[:-1]))
    level = affinity.rotate(region, -angle, origin=(0, 0))
    # Chords of the bent edge would cut through the true one: hence fine steps and a hair.
    inner = shapely.segmentize(eroded(level, inset + _WITHIN), spacing / 50)
    if inner.is_empty:
        return []
    swing = _Swing(sway, wave, inner.bounds[1], inner.bounds[3])
    fine = np.sqrt(8 * 0.03 / (sway * wave**2))
    found = []
    for path in _rows(
        None, shapely.transform(inner, swing.flat), stretch * spacing, inset, joined=True
    ):
        at = shapely.get_coordinates(shapely.segmentize(LineString(path), fine))
        wavy = LineString(swing.wavy(at)).simplify(0.005)
        found.append(_turned(to_edge(shapely.get_coordinates(wavy), level), angle))
    return drawn_in(found, eroded(region, inset), spacing, crossing=False)


@dataclass(frozen=True, slots=True)
class _Swing:
    """Bends straight rows into waves, and waves back into rows.

    Waves die down towards the top and the bottom of the area, so that no row is cut there.
    """

    sway: float
    wave: float
    top: float
    bottom: float

    def _height(self, y: FloatArray) -> FloatArray:
        room = 4 * self.sway
        return np.asarray(
            self.sway
            * np.clip((y - self.top) / room, 0, 1)
            * np.clip((self.bottom - y) / room, 0, 1)
        )

    def wavy(self, at: FloatArray) -> FloatArray:
        """Points of straight rows, bent."""
        x, y = at.T
        return np.column_stack([x, y + self._height(y) * np.sin(self.wave * x)])

    def flat(self, at: FloatArray) -> FloatArray:
        """Points of waves, straightened: the inverse of `wavy`, by iteration."""
        x, y = at.T
        swing = np.sin(self.wave * x)
        row = y.copy()
        for _ in range(40):  # each step is at least twice as near
            row = y - self._height(row) * swing
        return np.column_stack([x, row])


def _turned(path: FloatArray, angle: float) -> FloatArray:
    if angle % 360 == 0:
        return path
    return shapely.get_coordinates(affinity.rotate(LineString(path), angle, origin=(0, 0)))


def to_edge(path: FloatArray, region: BaseGeometry) -> FloatArray:
    """Lengthen a path at both ends by the shortest way to the edge of its region."""
    ends = shapely.points(path[[0, -1]])
    ways = shapely.get_coordinates(shapely.shortest_line(ends, region.boundary)).reshape(-1, 2, 2)
    whole = np.concatenate([ways[0, 1:], path, ways[1, 1:]])
    return np.asarray(whole[moving_on(whole)])


def _rows(
    region: BaseGeometry | None, inner: BaseGeometry, pitch: float, inset: float, *, joined: bool
) -> list[FloatArray]:
    """Level rows over `inner`, joined, or run out to the edge of `region`."""
    if inner.is_empty:
        return []
    _, top, _, bottom = inner.bounds
    height = bottom - top + 2 * inset
    count = max(1, round(height / pitch))
    if count > 1 and (height - (count - 1) * pitch) / 2 < inset - _SQUEEZE * pitch:
        count -= 1
    middle, half = (top + bottom) / 2, (count - 1) * pitch / 2
    half = min(half, (bottom - top) / 2 - _WITHIN)  # drawn together by a hair rather than one less
    at = np.linspace(middle - half, middle + half, count)
    rows = sliced(inner, at, axis=1)
    if joined:
        paths = [_serpentine(rows, chain, _Edge(inner)) for chain in chains(rows)]
        found = [path for some in paths for path in some]
        return found if region is None else [to_edge(path, region) for path in found]
    assert region is not None  # noqa: S101 - only waves go without, and they are joined
    wide = sliced(region, at, axis=1)
    key = wide.row * 1e7 + wide.low - rows.low.min()
    owner = np.searchsorted(key, rows.row * 1e7 + rows.low - rows.low.min(), side="right") - 1
    return [
        np.array([[wide.low[k], wide.at[k]], [wide.high[k], wide.at[k]]]) for k in np.unique(owner)
    ]


class _Edge:
    """Rings of an area, to walk along from one point to another."""

    def __init__(self, area: BaseGeometry) -> None:
        self.rings = [LineString(ring) for ring in rings_of(area)]
        self.tree = shapely.STRtree(self.rings)

    def between(self, start: FloatArray, end: FloatArray) -> FloatArray | None:
        """Find the shorter way along a ring, if both points lie on one."""
        ring = int(self.tree.nearest(shapely.points(start)))
        line = self.rings[ring]
        if line.distance(shapely.points(end)) > _WITHIN:
            return None
        a, b = (line.project(shapely.points(point)) for point in (start, end))
        ahead = (b - a) % line.length
        forward = ahead <= line.length / 2
        if not forward:
            a, ahead = b, line.length - ahead
        at = shapely.get_coordinates(line)
        along = distances(at)[:-1]
        reach = (along - a) % line.length
        inside = np.flatnonzero((reach > ROUNDING) & (reach < ahead - ROUNDING))
        way = at[inside[np.argsort(reach[inside], kind="stable")]]
        return np.concatenate([start[None], way if forward else way[::-1], end[None]])


def _serpentine(rows: Slices, chain: IntArray, edge: _Edge) -> list[FloatArray]:
    """Walk a chain of rows to and fro; broken where two ends can't be joined along the edge."""
    paths: list[FloatArray] = []
    walked: list[FloatArray] = []
    for turn, k in enumerate(chain):
        row = np.array([[rows.low[k], rows.at[k]], [rows.high[k], rows.at[k]]])
        row = row[::-1] if turn % 2 else row
        if walked:
            way = edge.between(walked[-1][-1], row[0])
            if way is None or not _within(way):
                paths.append(np.concatenate(walked))
                walked = []
            else:
                walked.append(way[1:-1])
        walked.append(row)
    paths.append(np.concatenate(walked))
    return paths


def _within(way: FloatArray) -> bool:
    """Whether a way keeps between the rows that it joins."""
    low, high = sorted((way[0, 1], way[-1, 1]))
    return bool(way[:, 1].min() >= low - _WITHIN and way[:, 1].max() <= high + _WITHIN)
