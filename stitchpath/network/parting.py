"""Graphs parted by the windows of a frame: each is stitched before the quilt is rolled on."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.polylines import heights
from stitchpath.lines.frame.windows import Window, reaches
from stitchpath.lines.line import Line
from stitchpath.network.graph import Network
from stitchpath.network.passing import Passing

__all__ = ["part_by_windows", "window_of"]

_BEYOND = 0.01  # mm that a line may reach beyond a window: cuts lie on the grid


def part_by_windows(
    networks: Sequence[Network],
    windows: Sequence[Window],
    lines: Sequence[Line],
    *,
    reloaded: bool = False,
) -> list[Network]:
    """Part graphs by windows, in the order of stitching.

    All threads of a stage are stitched before the quilt is rolled on, those of every other window
    the other way round, so that the thread is changed less often. Every other stage goes back up,
    so that the quilt is not rolled back between stages, unless it is loaded anew.

    Parameters
    ----------
    networks
        One for each stage and thread, in the order of stitching, cut for the windows
        (`node_lines`).
    windows
        What the frame shows (`frame_windows`).
    lines
        What the networks count.
    reloaded
        Whether the quilt is taken out of the frame between stages, and loaded from the top again.

    Returns
    -------
    list of Network
        The same without windows. Else each holds what is stitched in its window, and what else
        lies whole in it but for lines that wait for a later one.
    """
    if not windows:
        return list(networks)
    parted: list[Network] = []
    mine = window_of(*reaches(lines, windows[0].axis), windows)
    for k, (_, group) in enumerate(groupby(networks, key=lambda net: net.stage)):
        up = k % 2 == 1 and not reloaded
        by_thread = [_windows(network, windows, mine, up=up) for network in group]
        for n, shown in enumerate(zip(*by_thread, strict=True)):
            parted += [net for net in shown[:: -1 if n % 2 else 1] if net.required.any()]
    return parted


def window_of(least: FloatArray, most: FloatArray, windows: Sequence[Window]) -> IntArray:
    """Tell in which window each line is stitched.

    Parameters
    ----------
    least, most
        From where to where each leads, mm, shape (n,).
    windows
        Each of which ends where it hands on to the next.

    Returns
    -------
    IntArray
        Index, shape (n,): of the first window that it is not handed on from. It is, where it
        reaches farther down than the window ends, and the next shows all of it.
    """
    mine = np.full(len(least), len(windows) - 1)
    for k in range(len(windows) - 2, -1, -1):
        kept = (most <= windows[k].ends + _BEYOND) | (least < windows[k + 1].top - _BEYOND)
        mine[kept] = k
    return mine


def _windows(
    network: Network, windows: Sequence[Window], of_line: IntArray, *, up: bool
) -> list[Network]:
    """Part a graph by windows, from the top edge or from the bottom edge."""
    least, most = heights(network.paths, windows[0].axis)
    mine = np.where(network.line >= 0, of_line[network.line], -1)
    parted = []
    for number, window in enumerate(windows):
        required = network.required & (mine == number)
        later = mine < number if up else mine > number
        near = (least >= window.top - _BEYOND) & (most <= window.bottom + _BEYOND)
        near &= ~(network.required & later)
        parted.append(_cut_out(network, near | required, required, (number + 1, window.axis)))
    return parted[:: -1 if up else 1]


def _cut_out(
    network: Network, kept: BoolArray, required: BoolArray, shown: tuple[int, int]
) -> Network:
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
        window=shown[0],
        axis=shown[1],
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
