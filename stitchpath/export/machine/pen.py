"""Plan to what a pen draws: paths by thread, brought to a machine's corner and cut to its bed."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.export.low_side import offset_run
from stitchpath.geometry.simplify import simplified
from stitchpath.plan import Plan

__all__ = [
    "TOLERANCE",
    "PenLayer",
    "Tile",
    "pen_layers",
    "pen_tiles",
]

TOLERANCE = 0.02  # mm: how far a simplified path may lie from the planned one
_ORIGINS: dict[str, tuple[int, int]] = {
    "bottom left": (0, 3),
    "bottom right": (2, 3),
    "top left": (0, 1),
    "top right": (2, 1),
}
_LEAST_BED = 10.0  # mm
_MOST_TILES = 1000


@dataclass(frozen=True, slots=True)
class PenLayer:
    """What is drawn before the thread changes.

    Attributes
    ----------
    pen
        Number of the thread in order of first use, from 1.
    thread
        Its name.
    paths
        In stitching order, each of shape (n, 2), mm.
    """

    pen: int
    thread: str
    paths: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True)
class Tile:
    """What is drawn without moving the quilt.

    Attributes
    ----------
    number, of
        Which tile out of how many, from 1.
    size
        Width and height, mm.
    corner
        Where the machine's origin lies on the quilt: from the left and from the top edge of the
        finished top, mm, y down.
    layers
        In stitching order; paths in the machine's own coordinates, mm from its origin, y up.
    """

    number: int
    of: int
    size: tuple[float, float]
    corner: tuple[float, float]
    layers: tuple[PenLayer, ...]


def pen_layers(plan: Plan, *, low_side: float = 0.0, tolerance: float = 0.0) -> list[PenLayer]:
    """Collect the path of each run, a layer each time the thread changes.

    Parameters
    ----------
    plan
        The plan.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm.
    tolerance
        How far paths may be simplified, mm; 0 leaves every point.

    Returns
    -------
    list of PenLayer
        In stitching order; paths in the plan's coordinates.
    """
    pens = {run.thread: None for run in plan.runs}
    numbers = {thread: number for number, thread in enumerate(pens, 1)}
    return [
        PenLayer(
            numbers[thread],
            thread,
            tuple(simplified(offset_run(run, plan.lines, low_side), tolerance) for run in runs),
        )
        for thread, runs in groupby(plan.runs, key=lambda run: run.thread)
    ]


def pen_tiles(
    plan: Plan,
    layers: Sequence[PenLayer],
    origin: str,
    bed: tuple[float, float] | None,
) -> list[Tile]:
    """Bring paths to a machine's corner, in as many tiles as its bed asks for.

    Parameters
    ----------
    plan
        The plan.
    layers
        From `pen_layers`.
    origin
        The corner of the drawing, or of each tile, that is the machine's origin; y points up.
    bed
        Width and height that the pen reaches, mm; None where all is in reach.

    Returns
    -------
    list of Tile
        Row by row from the top left; those in which nothing is drawn are left out.

    Raises
    ------
    StitchpathError
        When the origin is no corner or the bed far too small.
    """
    if origin not in _ORIGINS:
        raise StitchpathError(
            f"origin: found {origin[:40]!r}, expected one of {', '.join(map(repr, _ORIGINS))}"
        )
    low, high = _extent(plan, layers)
    across, down = _how_many(high - low, bed)
    grid = [np.linspace(low[k], high[k], n + 1) for k, n in enumerate((across, down))]
    cut = [(layer, _cut(layer.paths, grid)) for layer in layers]
    tiles = []
    for row in range(down):
        for column in range(across):
            box = (grid[0][column], grid[1][row], grid[0][column + 1], grid[1][row + 1])
            at = np.array([box[k] for k in _ORIGINS[origin]])
            mine = tuple(
                PenLayer(layer.pen, layer.thread, tuple((p - at) * (1, -1) for p in paths))
                for layer, parts in cut
                if (paths := parts.get((column, row)))
            )
            if mine:
                tiles.append((at, mine))
    size = (high - low) / (across, down)
    return [
        Tile(number, len(tiles), tuple(size.tolist()), tuple(at.tolist()), mine)
        for number, (at, mine) in enumerate(tiles, 1)
    ]


def _extent(plan: Plan, layers: Sequence[PenLayer]) -> tuple[FloatArray, FloatArray]:
    """Corners of the box round the finished top and all that is drawn."""
    left, top, right, bottom = plan.top.outline.bounds
    corners = np.array([[left, top], [right, bottom]])
    points = np.concatenate([corners, *(path for layer in layers for path in layer.paths)])
    return points.min(axis=0), points.max(axis=0)


def _how_many(size: FloatArray, bed: tuple[float, float] | None) -> tuple[int, int]:
    """Count tiles across and down."""
    if bed is None:
        return 1, 1
    if not all(math.isfinite(side) and side >= _LEAST_BED for side in bed):
        raise StitchpathError(
            f"bed: found {bed[0]:g} by {bed[1]:g} mm, expected {_LEAST_BED:g} mm or more each way"
        )
    across, down = (math.ceil(have / most - 1e-9) for have, most in zip(size, bed, strict=True))
    if across * down > _MOST_TILES:
        raise StitchpathError(
            f"bed: found {bed[0]:g} by {bed[1]:g} mm, which takes {across * down} tiles for a "
            f"drawing of {size[0]:.0f} by {size[1]:.0f} mm, expected {_MOST_TILES} at most"
        )
    return across, down


def _cut(
    paths: Sequence[FloatArray], grid: Sequence[FloatArray]
) -> dict[tuple[int, int], list[FloatArray]]:
    """Cut paths where the tiles meet; what runs along such a line is drawn in one of them only."""
    parts: dict[tuple[int, int], list[FloatArray]] = {}
    for path in paths:
        points = _with_crossings(path, grid)
        middle = (points[1:] + points[:-1]) / 2
        cells = [
            np.clip(np.searchsorted(edges, middle[:, k], side="right") - 1, 0, len(edges) - 2)
            for k, edges in enumerate(grid)
        ]
        for column, row, piece in _pieces(points, np.column_stack(cells)):
            parts.setdefault((column, row), []).append(piece)
    return parts


def _with_crossings(path: FloatArray, grid: Sequence[FloatArray]) -> FloatArray:
    """Add the points where a path crosses inner lines of the grid."""
    start, way = path[:-1], np.diff(path, axis=0)
    where, share = [np.arange(len(way))], [np.zeros(len(way))]
    for k, edges in enumerate(grid):
        for edge in edges[1:-1]:
            with np.errstate(divide="ignore", invalid="ignore"):
                at = (edge - start[:, k]) / way[:, k]
            crossed = np.flatnonzero((at > 0) & (at < 1))
            where.append(crossed)
            share.append(at[crossed])
    step, along = np.concatenate(where), np.concatenate(share)
    order = np.lexsort((along, step))
    points = start[step[order]] + along[order][:, None] * way[step[order]]
    return np.concatenate([points, path[-1:]])


def _pieces(points: FloatArray, cells: FloatArray) -> Iterator[tuple[int, int, FloatArray]]:
    """Part a path where it goes from one tile to another."""
    change = np.flatnonzero(np.any(cells[1:] != cells[:-1], axis=1)) + 1
    ends = [0, *change.tolist(), len(cells)]
    for first, last in pairwise(ends):
        column, row = cells[first].tolist()
        yield column, row, points[first : last + 1]
