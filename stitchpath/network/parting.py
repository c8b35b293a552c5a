"""Graphs parted by the strips of a frame: each is stitched whole before the quilt is rolled on."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from stitchpath.geometry.polylines import heights
from stitchpath.lines.strips import Level
from stitchpath.network.graph import Network
from stitchpath.network.passing import Passing
from stitchpath.typing import BoolArray, IntArray

__all__ = ["part_by_strips"]

_BEYOND = 0.01  # mm that a line may reach beyond a level: cuts lie on the grid


def part_by_strips(networks: Sequence[Network], levels: Sequence[Level]) -> list[Network]:
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
        Where strips end (`frame_levels`), mm.

    Returns
    -------
    list of Network
        The same without levels. Else each holds what its strip has to stitch, and what else the
        frame can reach then but for lines that wait for a later strip. A line along a level is
        stitched in the first of its two strips.
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


def _strips(network: Network, levels: Sequence[Level], *, up: bool) -> list[Network]:
    """Part a graph by strips, from the top edge or from the bottom edge."""
    least, most = heights(network.paths)
    inner = np.array([level.y for level in levels])
    # Along a level the middle of a line is the level itself.
    middle = (least + most) / 2
    mine = np.searchsorted(inner + (-_BEYOND if up else _BEYOND), middle)
    upper = [-np.inf, *(level.y - level.reach - _BEYOND for level in levels)]
    lower = [*(level.y + level.reach + _BEYOND for level in levels), np.inf]
    strips = []
    for number, (low, high) in enumerate(zip(upper, lower, strict=True)):
        required = network.required & (mine == number)
        later = mine < number if up else mine > number
        near = (least >= low) & (most <= high) & ~(network.required & later)
        strips.append(_cut_out(network, near | required, required, number + 1))
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
        seam=network.seam[kept],
        along=tuple(network.along[e] for e in edges),
        length=network.length[kept],
        first=network.first[kept],
        again=network.again[kept],
        end=network.end[used],
        where=tuple(network.where[v] for v in used.tolist()),
        required=required[kept],
        passing=_passing(network.passing, edges, used),
        strip=number,
    )


def _passing(passing: Passing, edges: list[int], vertices: IntArray) -> Passing:
    return replace(
        passing,
        area=passing.area[edges],
        foot=passing.foot[edges],
        on=passing.carried[edges],
        angle=passing.angle.reshape(-1, 2)[edges].reshape(-1),
        half_turn=passing.half_turn[:, vertices],
    )
