"""Strips of a top in a frame: what is stitched before the quilt is rolled on.

The quilt is stretched with its top edge first; y runs along the way it is rolled. A strip is
stitched whole, with all threads of a stage, before the quilt is rolled on to the next.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby, pairwise

import numpy as np

from stitchpath.network import Network
from stitchpath.paths import GRID, heights, joined_paths
from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["part_by_strips", "strip_levels"]

_RASTER = 5.0  # mm between levels that are tried beside the ends of lines
_SLACK = 0.01  # mm that a line may reach beyond a level: cuts lie on the grid


def strip_levels(
    paths: Sequence[FloatArray], low: float, high: float, depth: float
) -> tuple[float, ...]:
    """Choose where strips end: as few strips as can be, then cutting as seldom as can be.

    Of several ways that do as well, the one with the most even strips.

    Parameters
    ----------
    paths
        Lines to quilt, one at least, each of shape (n, 2), mm.
    low, high
        Least and greatest y that is stitched, mm, a way round in the margin included.
    depth
        What can be stitched before the quilt is rolled on, mm, above 0.

    Returns
    -------
    tuple of float
        y where one strip ends and the next begins, ascending; none if the top fits in one.
    """
    if high - low <= depth + GRID:
        return ()
    at = _candidates(paths, low, high, depth)
    at, cut = np.append(at, high), np.append(_crossings(paths, at), 0)
    # Fewest strips from the top to each level, then fewest cuts, then the most even strips.
    cost = np.full((len(at), 3), np.inf)
    before = np.full(len(at), -1)
    for k, y in enumerate(at.tolist()):
        if y - low <= depth + GRID:
            cost[k] = (1, cut[k], (y - low) ** 2)
            continue
        reach = np.arange(np.searchsorted(at, y - depth - GRID), k)
        strips, cuts, uneven = cost[reach].T
        best = reach[np.lexsort((uneven + (y - at[reach]) ** 2, cuts, strips))[0]]
        cost[k] = cost[best] + (1, cut[k], (y - at[best]) ** 2)
        before[k] = best
    levels = []
    k = int(before[-1])
    while k >= 0:
        levels.append(float(at[k]))
        k = int(before[k])
    return tuple(levels[::-1])


def _candidates(paths: Sequence[FloatArray], low: float, high: float, depth: float) -> FloatArray:
    """List y at which a strip may end, on the grid: ends of lines, even strips, and a raster."""
    even = np.linspace(low, high, int(np.ceil((high - low) / depth)) + 1)
    tried = np.concatenate([*heights(paths), even, np.arange(low, high, _RASTER)])
    tried = np.unique(np.rint(tried / GRID) * GRID)
    return tried[(tried > low) & (tried < high)]


def _crossings(paths: Sequence[FloatArray], at: FloatArray) -> IntArray:
    """Count how often lines pass through each level; those that only reach it do not."""
    starts, points = joined_paths(paths)
    y = points[:, 1]
    inner = np.ones(len(y), dtype=bool)
    inner[starts] = inner[np.append(starts[1:], len(y)) - 1] = False
    step = np.ones(len(y), dtype=bool)
    step[starts] = False
    one, two = y[:-1][step[1:]], y[1:][step[1:]]
    begun = np.searchsorted(np.sort(np.minimum(one, two)), at - GRID / 2)
    ended = np.searchsorted(np.sort(np.maximum(one, two)), at + GRID / 2)
    # A line may also pass through a level at one of its points.
    passing = np.sort(y[1:-1][inner[1:-1] & ((y[1:-1] - y[:-2]) * (y[2:] - y[1:-1]) > 0)])
    at_point = np.searchsorted(passing, at + GRID / 2) - np.searchsorted(passing, at - GRID / 2)
    return np.asarray(begun - ended + at_point)


def part_by_strips(networks: Sequence[Network], levels: Sequence[float]) -> list[Network]:
    """Part graphs by strips, in the order of stitching.

    All threads of a stage are stitched before the quilt is rolled on, those of every other strip
    the other way round, so that the thread is changed less often. Every other stage goes back up,
    so that the quilt is not rolled back between stages.

    Parameters
    ----------
    networks
        One for each stage and thread, in the order of stitching, cut at the levels
        (`build_networks`).
    levels
        From `strip_levels`.

    Returns
    -------
    list of Network
        The same without levels. Else each holds what lies in its strip; a line along a level
        has to be stitched in the first of its two strips, and may be gone over in the other.
    """
    if not levels:
        return list(networks)
    parted: list[Network] = []
    for k, (_, group) in enumerate(groupby(networks, key=lambda net: net.stage)):
        up = k % 2 == 1
        by_thread = [_strips(network, levels, up=up) for network in group]
        for n, strip in enumerate(zip(*by_thread, strict=True)):
            parted += [net for net in strip[:: -1 if n % 2 else 1] if net.required.any()]
    return parted


def _strips(network: Network, levels: Sequence[float], *, up: bool) -> list[Network]:
    """Part a graph by strips, from the top edge or from the bottom edge."""
    least, most = heights(network.paths)
    inner = np.array(levels)
    # Along a level the middle of a line is the level itself.
    middle = (least + most) / 2
    mine = np.searchsorted(inner + (-_SLACK if up else _SLACK), middle)
    bounds = [-np.inf, *levels, np.inf]
    strips = []
    for number, (low, high) in enumerate(pairwise(bounds), 1):
        near = (least >= low - _SLACK) & (most <= high + _SLACK)
        required = network.required & (mine == number - 1)
        strips.append(_cut_out(network, near | required, required, number))
    return strips[:: -1 if up else 1]


def _cut_out(network: Network, kept: BoolArray, required: BoolArray, number: int) -> Network:
    """Leave of a graph only some edges, and the vertices at their ends."""
    ends = np.stack([network.tail[kept], network.head[kept]])
    used, index = np.unique(ends, return_inverse=True)
    tail, head = index.reshape(2, -1)
    edges = np.flatnonzero(kept).tolist()
    return replace(
        network,
        points=network.points[used],
        tail=tail.astype(np.int64),
        head=head.astype(np.int64),
        paths=tuple(network.paths[e] for e in edges),
        line=network.line[kept],
        along=tuple(network.along[e] for e in edges),
        length=network.length[kept],
        again=network.again[kept],
        end=network.end[used],
        where=tuple(network.where[v] for v in used.tolist()),
        required=required[kept],
        strip=number,
    )
