"""The arms of an appliqué piece: numbered round the clock, their branches named.

They are those of the lines through its middle. Arm 1 is the first clockwise from 12 o'clock, as
the piece lies on the quilt.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import path_lengths
from stitchpath.plan import Plan

__all__ = ["Arm", "Tip", "arms_of"]

_LEVELS = {1: ("",), 2: ("inner", "outer"), 3: ("inner", "middle", "outer")}
_TOP = 15.0  # degrees: so near before 12 o'clock is at 12

_Key = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Tip:
    """An end of an arm.

    Attributes
    ----------
    name
        "" of the arm's own; of a branch such as "inner left", as one looks out along the arm.
    point
        Where the line ends, mm on the top.
    """

    name: str
    point: FloatArray


@dataclass(frozen=True, slots=True)
class Arm:
    """An arm.

    Attributes
    ----------
    number
        From 1, clockwise.
    middle
        Where the arms meet, mm on the top.
    tips
        Its own tip first, then those of its branches from the inside out.
    lines
        Indices of the plan's lines on it.
    """

    number: int
    middle: FloatArray
    tips: tuple[Tip, ...]
    lines: frozenset[int] = frozenset()


def arms_of(plan: Plan, piece: int) -> tuple[Arm, ...]:
    """Tell the arms of a piece.

    Parameters
    ----------
    plan
        The plan.
    piece
        Its number.

    Returns
    -------
    tuple of Arm
        None where the lines through its middle do not meet, or where they make a ring.
    """
    graph, weight, heart = nx.Graph(), 0.0, np.zeros(2)
    for number, line in enumerate(plan.lines):
        if line.kind == "centre" and line.of.pieces == (piece,):
            a, b = _key(line.points[0]), _key(line.points[-1])
            length = float(path_lengths([line.points])[0])
            graph.add_edge(a, b, length=length, line=number)
            weight += length
            heart += length * (line.points[0] + line.points[-1]) / 2
    forks = [key for key, degree in graph.degree if degree > 2]  # noqa: PLR2004 - lines branch
    if not forks or not nx.is_forest(graph):
        return ()
    heart /= weight
    middle = min(forks, key=lambda key: (float(np.hypot(*(_point(key) - heart))), key))
    wholes = [(first, _whole(graph, middle, first)) for first in sorted(graph[middle])]
    arms = [(_tips(whole, middle, first), first, whole) for first, whole in wholes]
    at = _point(middle)
    arms.sort(key=lambda arm: (_clockwise(arm[0][0].point - at), arm[1]))
    return tuple(
        Arm(k, at, tuple(tips), frozenset(n for _, _, n in whole.edges(data="line")))
        for k, (tips, _, whole) in enumerate(arms, start=1)
    )


def _clockwise(way: FloatArray) -> float:
    """Degrees clockwise from 12 o'clock."""
    return (math.degrees(math.atan2(float(way[0]), -float(way[1]))) + _TOP) % 360


def _whole(graph: nx.Graph, middle: _Key, first: _Key) -> nx.Graph:
    """Take the arm that begins with a line out of the middle."""
    rest = graph.copy()
    rest.remove_node(middle)
    return graph.subgraph([*nx.node_connected_component(rest, first), middle])


def _tips(whole: nx.Graph, middle: _Key, first: _Key) -> list[Tip]:
    """Name the tips of an arm."""
    far = nx.single_source_dijkstra_path_length(whole, middle, weight="length")
    ends = [key for key in whole if whole.degree[key] == 1 and key != middle] or [first]
    own = max(ends, key=lambda key: (round(far[key], 1), key))
    trunk = nx.shortest_path(whole, middle, own)
    branches: dict[_Key, list[_Key]] = defaultdict(list)
    for end in sorted(set(ends) - {own}):
        path = nx.shortest_path(whole, middle, end)
        fork = next(key for key in reversed(path) if key in trunk)
        branches[fork].append(end)
    named = _named(branches, trunk)
    return [Tip("", _point(own)), *(Tip(name, _point(end)) for name, end in named)]


def _named(branches: dict[_Key, list[_Key]], trunk: Sequence[_Key]) -> Iterator[tuple[str, _Key]]:
    forks = sorted(branches, key=trunk.index)
    levels = _LEVELS.get(len(forks), tuple(f"fork {k}" for k in range(1, len(forks) + 1)))
    for level, fork in zip(levels, forks, strict=True):
        k = trunk.index(fork)
        onward = _point(trunk[min(k + 1, len(trunk) - 1)]) - _point(trunk[k - 1])
        counts: dict[str, int] = defaultdict(int)
        for end in branches[fork]:
            out = _point(end) - _point(fork)
            side = "right" if onward[0] * out[1] - onward[1] * out[0] > 0 else "left"
            counts[side] += 1
            again = f" {counts[side]}" if counts[side] > 1 else ""
            yield f"{level} {side}{again}".strip(), end


def _key(point: FloatArray) -> _Key:
    return round(float(point[0]) * 1000), round(float(point[1]) * 1000)


def _point(key: _Key) -> FloatArray:
    return np.array(key) / 1000.0
