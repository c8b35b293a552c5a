"""Rows of a motif from edge to edge, and rows of loops."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import moving_on
from stitchpath.lines.fills.bare import Stitched
from stitchpath.lines.fills.bending import drawn_in
from stitchpath.lines.fills.grids import ruled
from stitchpath.lines.fills.ground import eroded, polygons
from stitchpath.lines.fills.lattice import lattice_of
from stitchpath.lines.fills.rows import Slices, chains, sliced
from stitchpath.lines.fills.stagger import Rows
from stitchpath.lines.fills.through import edge_to_edge, to_edge

__all__ = [
    "FULL",
    "joined",
    "loop_motif",
    "loop_rows",
    "motif_rows",
    "one_line",
    "repeated",
    "rows_high",
]

FULL = 0.9
"""Share of the height of a row that its motif takes up."""

_SQUEEZED = 0.3  # rows are not squeezed below this share of their height
_SLOPE = 2.0  # the edge of a row is no steeper where it makes room for the edge of the region
_PER_ROW = 20  # samples for each height of a row
_HAIR = 0.05  # lines keep so far from the edge that they are joined along, mm
_LOOSE = 0.05  # ends of pieces this near each other (share of the motif's size) are one line


IN_LINE = Rows(offset=0.0)


def one_line(motif: Sequence[FloatArray]) -> FloatArray:
    """Join the pieces of a motif into one line from left to right.

    Parameters
    ----------
    motif
        Polylines in drawing order, shape (k, 2) each, any unit, y down. Each has to begin
        where the one before it ends.

    Returns
    -------
    ndarray, shape (n, 2)
        Turned so that it begins at (0, 0) and ends at (length, 0).

    Raises
    ------
    StitchpathError
        If it is not one unbroken line, or ends where it begins.
    """
    line = joined(motif)
    way = line[-1] - line[0]
    length = float(np.hypot(*way))
    if way[0] < 0:
        line, way = line[::-1], -way
    cosine, sine = way / length
    return np.asarray((line - line[0]) @ np.array([[cosine, -sine], [sine, cosine]]))


def joined(motif: Sequence[FloatArray]) -> FloatArray:
    """Join the pieces of a motif as they are drawn.

    Parameters
    ----------
    motif
        As for `one_line`.

    Returns
    -------
    ndarray, shape (n, 2)

    Raises
    ------
    StitchpathError
        As `one_line` does.
    """
    pieces = [np.asarray(piece, dtype=np.float64).reshape(-1, 2) for piece in motif]
    pieces = [piece for piece in pieces if len(piece) > 1]
    if not pieces:
        raise StitchpathError("the motif has no line in it: one unbroken line is needed")
    every = np.concatenate(pieces)
    size = float(np.ptp(every, axis=0).max())
    line = pieces[0]
    for number, piece in enumerate(pieces[1:], start=2):
        gap = float(np.hypot(*(piece[0] - line[-1])))
        if gap > _LOOSE * size:
            raise StitchpathError(
                f"the motif is not one unbroken line: piece {number} begins {gap:.4g} units away "
                "from where the piece before it ends; draw it in one go from left to right"
            )
        line = np.concatenate([line, piece])
    line = line[moving_on(line)]
    way = line[-1] - line[0]
    if float(np.hypot(*way)) < _LOOSE * size:
        raise StitchpathError(
            "the motif ends where it begins, so that no row can be made of it: "
            "let it begin at its left and end at its right"
        )
    return line


def loop_motif() -> FloatArray:
    """One loop of a row of loops, shape (n, 2): a prolate cycloid, from arch to arch.

    It is drawn with a rod 3.3 times as long as the radius of its wheel, y down, and stretched
    upright: loops three fifths as wide as they are apart.
    """
    turn = np.linspace(-np.pi, np.pi, 61)
    x, y = 0.6 * (turn - 3.3 * np.sin(turn)), 2 * np.cos(turn)
    return np.column_stack([x - x[0], y - y[0]])


def loop_rows(region: BaseGeometry, spacing: float, inset: float, angle: float) -> list[FloatArray]:
    """Fill a region with rows of loops.

    Parameters
    ----------
    region, spacing, inset, angle
        As for `motif_rows`.

    Returns
    -------
    list of ndarray
        Paths, mm, one for each row; loops cross themselves.
    """
    found = motif_rows(region, [loop_motif()], spacing, inset, angle, IN_LINE, reaching=True)
    found = drawn_in(found, eroded(region, inset), spacing, crossing=True)
    return found + _topped_up(region, found, spacing, inset, angle)


def _topped_up(
    region: BaseGeometry, rows: list[FloatArray], spacing: float, inset: float, angle: float
) -> list[FloatArray]:
    """Quilt places too narrow for a row of loops with straight lines."""
    inner = eroded(region, inset)
    if not rows:
        return _serpentine(region, spacing, inset, angle)
    bare, _, side = Stitched(rows, spacing / 8).far_places(inner, spacing)
    if not len(bare):
        return []
    cells = shapely.box(*(bare - side).T, *(bare + side).T)
    about = shapely.union_all(cells).buffer(spacing / 2)
    clear = MultiLineString(rows).intersection(about.buffer(spacing)).buffer(spacing / 2)
    found: list[FloatArray] = []
    for place in polygons(about.intersection(inner).difference(clear)):
        found += [to_edge(line, region) for line in _serpentine(place, spacing, _HAIR, angle)]
    return found


def _serpentine(
    place: BaseGeometry, spacing: float, inset: float, angle: float
) -> list[FloatArray]:
    """Rule straight lines over a place and join them by turns."""
    rows = ruled(lattice_of(place, spacing, angle), place, shift=0.5)
    lines = edge_to_edge(rows, place, None, spacing, max(inset, _HAIR))
    merged = shapely.line_merge(MultiLineString(lines))
    return [shapely.get_coordinates(line) for line in shapely.get_parts(merged)]


@dataclass(frozen=True, slots=True)
class _Band:
    """The room of one row: its lower and its upper bound at points along it."""

    x: FloatArray
    low: FloatArray
    high: FloatArray
    number: int


def motif_rows(
    region: BaseGeometry,
    motif: Sequence[FloatArray],
    spacing: float,
    inset: float,
    angle: float,
    rows: Rows | None = None,
    *,
    reaching: bool = False,
) -> list[FloatArray]:
    """Fill a region with rows of a motif.

    Where the edge of the region cuts into a row, the row gives way: the motif is drawn lower there,
    down to three tenths of its height, where the row ends. Nothing is ever cut off.

    Parameters
    ----------
    region
        mm.
    motif
        As for `one_line`.
    spacing
        Height of a row, mm; fitted to the region so that rows fill it evenly.
    inset
        mm.
    angle
        Of the rows against the x axis, degrees.
    rows
        How they lie; every other one shifted by half a motif unless said.
    reaching
        Rows are drawn higher where the row beside them has no room.

    Returns
    -------
    list of ndarray
        Paths, mm, one for each row or part of a row; each begins and ends on the edge of the
        region.
    """
    line, rows = one_line(motif), rows or Rows()
    level = affinity.rotate(region, -angle, origin=(0, 0))
    inner = eroded(level, inset)
    if inner.is_empty:
        return []
    _, top, _, bottom = inner.bounds
    height = _whole(bottom - top, spacing)
    count = round((bottom - top) / height)
    found = []
    for band in _bands(inner, top, height, count, reaching=reaching):
        row = _row(rows.line(line, band.number), band, height, rows.shift(band.number))
        if row is not None:
            back = affinity.rotate(LineString(to_edge(row, level)), angle, origin=(0, 0))
            found.append(shapely.get_coordinates(back))
    return found


def rows_high(region: BaseGeometry, spacing: float, inset: float, angle: float) -> float:
    """Tell how high rows are drawn, so that they come out whole, mm.

    Parameters
    ----------
    region, spacing, inset, angle
        As for `motif_rows`.

    Examples
    --------
    >>> round(rows_high(shapely.box(0, 0, 50, 102.08), 30, 1.0, 0.0), 1)
    33.3
    """
    inner = eroded(affinity.rotate(region, -angle, origin=(0, 0)), inset)
    return spacing if inner.is_empty else _whole(inner.bounds[3] - inner.bounds[1], spacing)


def _whole(room: float, spacing: float) -> float:
    return float(room / max(1, round(room / spacing)))


def _bands(
    inner: BaseGeometry, top: float, height: float, count: int, *, reaching: bool
) -> list[_Band]:
    """Rooms of all rows, cut where the ground forks and where it gets too low."""
    left, _, right, _ = inner.bounds
    steps = max(2, int(np.ceil((right - left) / height * _PER_ROW)))
    hair = 1e-6 * (right - left)
    columns = sliced(inner, np.linspace(left + hair, right - hair, steps + 1), axis=0)
    number = np.arange(count)[:, None]
    low = np.maximum(columns.low, top + number * height)
    high = np.minimum(columns.high, top + (number + 1) * height)
    # All rows are followed at once, as if they lay end to end with an empty column between.
    room = high - low
    some = room >= _SQUEEZED * height
    if reaching:
        # Ground over two rows, each of which has too little of it, goes to the one with more.
        lone = ~some.any(axis=0) & (columns.high - columns.low >= _SQUEEZED * height)
        some[np.argmax(room, axis=0)[lone], np.flatnonzero(lone)] = True
        low = np.where(some & (np.cumsum(some, axis=0) == 1), columns.low, low)
        last = np.cumsum(some[::-1], axis=0)[::-1] == 1
        high = np.where(some & last, columns.high, high)
    which, column = np.nonzero(some)
    row = which * (steps + 3) + columns.row[column]
    slices = Slices(row, columns.at[column], low[some], high[some])
    found: list[_Band] = []
    for chain in chains(slices):
        x, lows, highs = slices.at[chain], slices.low[chain], slices.high[chain]
        lows, highs = _eased(x, lows), -_eased(x, -highs)
        good = np.concatenate([[False], highs - lows >= _SQUEEZED * height, [False]])
        starts = np.flatnonzero(good[1:] & ~good[:-1])
        stops = np.flatnonzero(~good[1:] & good[:-1])
        found += [
            _Band(x[a:b], lows[a:b], highs[a:b], int(which[chain[0]]))
            for a, b in zip(starts, stops, strict=True)
        ]
    return sorted(found, key=lambda band: (band.number, band.x[0]))


def _eased(x: FloatArray, bound: FloatArray) -> FloatArray:
    """Raise a bound as little as it takes to be nowhere steeper than `_SLOPE`."""
    rise = _SLOPE * x
    ahead = np.maximum.accumulate(bound + rise) - rise
    back = (np.maximum.accumulate((bound - rise)[::-1]))[::-1] + rise
    return np.maximum(ahead, back)


def _row(line: FloatArray, band: _Band, height: float, shift: float) -> FloatArray | None:
    """Draw one row of motifs into its room."""
    low, high = line[:, 1].min(), line[:, 1].max()
    scale = (
        FULL * height / (high - low) if high - low > 1e-9 * line[-1, 0] else height / line[-1, 0]
    )
    width = band.x[-1] - band.x[0]
    over = (np.ptp(line[:, 0]) - line[-1, 0]) * scale
    number = round((width - over) / (line[-1, 0] * scale))
    if number < 1:
        return None
    points = repeated(line, number, shift)
    level = bool(np.allclose(band.low, band.low[0]) and np.allclose(band.high, band.high[0]))
    if not level:  # long straight stretches have to follow the bend of the room
        fine = shapely.segmentize(LineString(points), height / scale / _PER_ROW)
        points = shapely.get_coordinates(fine)
    left, right = points[:, 0].min(), points[:, 0].max()
    x = band.x[0] + (points[:, 0] - left) * (width / (right - left))
    share = (points[:, 1] - (low + high) / 2) * scale / height + 0.5
    down, up = np.interp(x, band.x, band.low), np.interp(x, band.x, band.high)
    return np.column_stack([x, down + share * (up - down)])


def repeated(line: FloatArray, number: int, shift: float = 0.0) -> FloatArray:
    """Draw motifs end to end.

    Parameters
    ----------
    line
        From `one_line`, shape (k, 2).
    number
        How many.
    shift
        At what share of a motif the row begins, and ends.

    Returns
    -------
    ndarray, shape (n, 2)
        From x = 0, or the share of the first motif, to as much farther as they are long.
    """
    length = line[-1, 0]
    shifts = np.column_stack([np.arange(number) * length, np.zeros(number)])
    k = int(np.argmax(line[:, 0] >= shift * length)) if shift > 0 else 0
    if k == 0:
        body = line[None, :-1] + shifts[:, None]
        return np.concatenate([body.reshape(-1, 2), [[number * length, line[-1, 1]]]])
    a, b = line[k - 1], line[k]
    part = a + (b - a) * (shift * length - a[0]) / (b[0] - a[0])
    turned = np.concatenate([part[None], line[k:-1], line[:k] + np.array([length, 0.0])])
    body = turned[None] + shifts[:, None]
    return np.concatenate([body.reshape(-1, 2), part[None] + np.array([number * length, 0.0])])
