"""Rows of a motif laid over the ground and cut at its edge: they nest, or run off the edge."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.ground import eroded
from stitchpath.lines.fills.lattice import turned
from stitchpath.lines.fills.motifs import FULL, one_line, repeated
from stitchpath.lines.fills.stagger import Rows
from stitchpath.lines.fills.through import edge_to_edge

__all__ = ["apart", "laid_rows"]

_BINS = 400  # to each motif, where it is told how near two rows may come
_SIZES = (0.5, 2.0)  # rows come out whole by a change of size between these
_HALVINGS = 40
_FLAT = 1e-9  # a motif less high than this share of its length is a straight line


def apart(upper: FloatArray, lower: FloatArray, length: float, gap: float) -> float:
    """Tell how far below a row the next has to lie, to keep a gap.

    Parameters
    ----------
    upper, lower
        One motif of each, shape (n, 2), mm, y down; rows of them repeat it endlessly.
    length
        From motif to motif, mm.
    gap
        At least so far from any point of the one row to any of the other, mm.

    Returns
    -------
    float
        mm; the lower row lies below the upper all along.

    Examples
    --------
    Two straight rows:

    >>> level = np.array([[0.0, 0.0], [10.0, 0.0]])
    >>> round(apart(level, level, 10.0, 4.0), 3)
    4.0
    """
    width = length / _BINS
    reach = int(np.ceil(gap / width)) + 1
    low, high = _hull(upper, length, down=True), _hull(lower, length, down=False)
    need = -np.inf
    for k in range(-reach, reach + 1):
        aside = max(abs(k) - 1, 0) * width  # two points of bins so far apart may be as near
        if aside <= gap:
            lift = np.sqrt(max(gap**2 - aside**2, 0.0))
            need = max(need, float((np.roll(low, k) - high).max()) + lift)
    return float(need)


def _hull(motif: FloatArray, length: float, *, down: bool) -> FloatArray:
    """Tell how far down or up a row reaches within each bin of a motif, shape (bins,)."""
    fine = shapely.get_coordinates(shapely.segmentize(LineString(motif), length / _BINS / 4))
    number = np.floor(fine[:, 0] / length * _BINS).astype(np.int64) % _BINS
    found = np.full(_BINS, -np.inf)
    np.maximum.at(found, number, fine[:, 1] if down else -fine[:, 1])
    return found if down else -found


class _Pattern(NamedTuple):
    """Two rows that take turns, in units of the motif, and what a unit is, mm.

    Attributes
    ----------
    rows
        How they lie.
    lines
        One motif of each, begun where its row begins, shape (n, 2).
    middle
        Where the middle of a row lies, in units.
    length, tall
        Of a motif, in units.
    across
        A unit along the row, mm; None where it is as long as it is high.
    """

    rows: Rows
    lines: tuple[FloatArray, FloatArray]
    middle: float
    length: float
    tall: float
    across: float | None

    def drawn(self, number: int, size: float) -> FloatArray:
        """Draw one motif of a row about its middle, a unit being `size` high, mm."""
        return np.asarray((self.lines[number % 2] - (0, self.middle)) * (self.across or size, size))

    def steps(self, size: float, spacing: float) -> tuple[float, float]:
        """Tell how far the next row lies below an even and an odd one, mm."""
        if self.rows.gap is None:
            step = spacing * size * self.tall / (FULL * spacing) if self.tall else spacing * size
            return step, step
        long, (even, odd) = (
            self.length * (self.across or size),
            (self.drawn(k, size) for k in (0, 1)),
        )
        gap = self.rows.gap
        return apart(even, odd, long, gap), apart(odd, even, long, gap)


def laid_rows(
    region: BaseGeometry,
    motif: Sequence[FloatArray],
    spacing: float,
    angle: float,
    rows: Rows,
    *,
    inset: float = 0.0,
    closed: BaseGeometry | None = None,
) -> tuple[list[FloatArray], float]:
    """Lay rows of a motif over a region.

    Their number comes out whole from the top to the bottom of the region; so does that of the
    motifs in a row, unless it runs off the edge: then it lies about the middle, in proportion.

    Parameters
    ----------
    region, motif, spacing, angle
        As for `motif_rows`; the spacing is what a row would be high without nesting.
    rows
        How they lie.
    inset
        As for `edge_to_edge`, mm.
    closed
        That part of the edge along which the thread cannot go, or None.

    Returns
    -------
    paths : list of ndarray
        Each shape (k, 2), mm.
    spacing : float
        What the spacing comes to, mm.
    """
    level = turned(region, -angle)
    inner = eroded(level, inset)
    if inner.is_empty:
        return [], spacing
    left, top, right, bottom = inner.bounds
    pattern, number, start = _pattern(one_line(motif), rows, spacing, (left, right))
    heights, size = _heights(pattern, spacing, bottom - top)
    if pattern.across is None:
        long = pattern.length * size
        number = int(np.ceil((right - left) / long)) + 3
        start = (left + right - number * long) / 2
    curves = []
    for k, at in enumerate(heights):
        body = repeated(pattern.drawn(k, size), number)
        curves.append(body + np.array([start, top + at]))
    if rows.ends == "whole":
        curves = [_to_sides(curve, left, right) for curve in curves]
        if _is_box(level) and not inset:
            return [_back(curve, angle) for curve in curves], _comes_to(pattern, spacing, size)
    shut = None if closed is None else turned(closed, -angle)
    found = edge_to_edge(curves, level, shut, spacing, inset)
    return [_back(path, angle) for path in found], _comes_to(pattern, spacing, size)


def _pattern(
    line: FloatArray, rows: Rows, spacing: float, sides: tuple[float, float]
) -> tuple[_Pattern, int, float]:
    """Tell how wide motifs are drawn, how many there are in a row, and where it begins."""
    even, odd = (_begun(rows.line(line, k), rows.shift(k)) for k in (0, 1))
    lines = even, odd
    length, tall = float(line[-1, 0]), float(np.ptp(line[:, 1]))
    tall = tall if tall > _FLAT * length else 0.0
    size = FULL * spacing / tall if tall else spacing / length
    width = sides[1] - sides[0]
    middle = float(line[:, 1].min() + line[:, 1].max()) / 2
    if rows.ends != "whole":
        return _Pattern(rows, lines, middle, length, tall, None), 0, 0.0
    before = max(-float(one[:, 0].min()) for one in lines)
    after = max(float(one[:, 0].max()) - length for one in lines)
    over = (before + after) * size
    number = max(1, round((width - over) / (length * size)))
    across = width / (number * length + before + after)
    start = sides[0] + before * across
    return _Pattern(rows, lines, middle, length, tall, across), number, start


def _begun(line: FloatArray, shift: float) -> FloatArray:
    """Give one motif begun at a share of it, from x = 0."""
    one = repeated(line, 1, shift)
    return np.asarray(one - (one[0, 0], 0.0))


def _heights(pattern: _Pattern, spacing: float, room: float) -> tuple[FloatArray, float]:
    """Tell where the middles of rows lie, mm from the top, and how high a unit is drawn."""
    usual = FULL * spacing / pattern.tall if pattern.tall else 1.0
    edge = 0.0 if pattern.rows.gap is None else pattern.rows.gap

    def taken(count: int, size: float) -> float:
        even, odd = pattern.steps(size, spacing)
        if pattern.rows.gap is None:
            return count * even
        return (count // 2) * even + ((count - 1) // 2) * odd + pattern.tall * size + edge

    pair = sum(pattern.steps(usual, spacing)) / 2
    first = taken(1, usual)
    count = max(1, round((room - first) / pair) + 1)
    low, high = (share * usual for share in _SIZES)
    if not pattern.tall and pattern.rows.gap is not None:
        low = high = usual  # straight rows have no height to change
    for _ in range(_HALVINGS):
        size = (low + high) / 2
        low, high = (size, high) if taken(count, size) <= room else (low, size)
    even, odd = pattern.steps(low, spacing)
    spare = room - taken(count, low)
    step = np.where(np.arange(count - 1) % 2 == 0, even, odd) + spare / count
    begin = even / 2 if pattern.rows.gap is None else (pattern.tall * low + edge) / 2
    return begin + spare / count / 2 + np.concatenate([[0.0], np.cumsum(step)]), low


def _comes_to(pattern: _Pattern, spacing: float, size: float) -> float:
    return size * pattern.tall / FULL if pattern.tall else spacing


def _to_sides(curve: FloatArray, left: float, right: float) -> FloatArray:
    """Lead a row level to both sides of the ground."""
    return np.concatenate([[(left, curve[0, 1])], curve, [(right, curve[-1, 1])]])


def _is_box(level: BaseGeometry) -> bool:
    left, top, right, bottom = level.bounds
    return bool(abs((right - left) * (bottom - top) - level.area) <= _FLAT * level.area)


def _back(path: FloatArray, angle: float) -> FloatArray:
    return shapely.get_coordinates(turned(LineString(path), angle))
