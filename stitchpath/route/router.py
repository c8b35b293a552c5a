"""From the graph of a stage and thread to its runs, proven and in order."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.errors import StitchpathError
from stitchpath.lines.model import Line
from stitchpath.network import Network
from stitchpath.route.model import Leg, Proof, Run
from stitchpath.route.order import Stretch, order_runs
from stitchpath.route.postman import Problem, Tour, UnreachableError, solve
from stitchpath.route.trails import Multigraph, Trail, Turning, gentle_trails
from stitchpath.typing import BoolArray, FloatArray, IntArray

__all__ = ["Routed", "route"]


@dataclass(frozen=True, slots=True)
class Routed:
    """The runs of one stage and thread.

    Attributes
    ----------
    runs
        In stitching order.
    proof
        Cost and bound in mm of stitching: every line once at its length, and what is paid beyond.
    turning
        How much the runs turn where lines meet.
    """

    runs: tuple[Run, ...]
    proof: Proof
    turning: Turning


def route(
    network: Network,
    lines: Sequence[Line],
    centre: tuple[float, float],
    *,
    first_number: int = 1,
    anchor_first: bool = False,
    time_limit: float = 10.0,
    progress: Callable[[float, float], None] | None = None,
) -> Routed:
    """Route the lines of one stage and thread.

    Parameters
    ----------
    network
        Their graph.
    lines
        All lines of the plan, which `network.line` counts.
    centre
        Middle of the top, mm: runs are ordered from there outward.
    first_number
        Number of the first run.
    anchor_first
        Runs along anchoring seams before all others.
    time_limit
        Seconds for the proof.
    progress
        Called now and then with cost and bound.

    Raises
    ------
    StitchpathError
        When a line cannot be reached: the prices forbid every end and every way to it.
    """
    required = network.required
    problem = Problem(
        len(network.points), network.tail, network.head, required, network.again, network.end
    )
    try:
        tour = solve(problem, time_limit=time_limit, progress=progress)
    except UnreachableError as error:
        place = lines[network.line[error.edge]].place
        raise StitchpathError(
            f"route: no run may reach the line at {place}, expected a way of travel or an end there"
        ) from None
    edge = np.concatenate(
        [np.flatnonzero(required), np.repeat(np.arange(len(required)), tour.extra)]
    )
    trails, turning = gentle_trails(_multigraph(network, tour, edge), network.end)
    order = order_runs(
        [_stretch(network, lines, edge, trail) for trail in trails],
        centre,
        anchor_first=anchor_first,
    )
    once = float(network.length[required].sum())
    proof = Proof(once + tour.cost, once + tour.bound, tour.optimal)
    return Routed(_runs(network, edge, trails, order, first_number), proof, turning)


def _multigraph(network: Network, tour: Tour, edge: IntArray) -> Multigraph:
    leave_tail = np.array([_heading(path) for path in network.paths])
    leave_head = np.array([_heading(path[::-1]) for path in network.paths])
    return Multigraph(
        vertices=len(network.points),
        tail=network.tail[edge],
        head=network.head[edge],
        leave_tail=leave_tail[edge],
        leave_head=leave_head[edge],
        ends=tour.ends,
        twin=edge,
    )


def _heading(path: FloatArray) -> FloatArray:
    way = path[1] - path[0]
    return np.asarray(way / max(float(np.hypot(*way)), 1e-9))


def _stretch(network: Network, lines: Sequence[Line], edge: IntArray, trail: Trail) -> Stretch:
    walked = edge[trail.edges]
    start, end = (_node(network, walked, trail, last=last) for last in (False, True))
    length = network.length[walked]
    middles = (network.points[network.tail[walked]] + network.points[network.head[walked]]) / 2
    middle = (middles * length[:, None]).sum(axis=0) / max(float(length.sum()), 1e-9)
    anchor = sum(
        float(n)
        for n, i in zip(length, network.line[walked], strict=True)
        if i >= 0 and lines[i].anchor
    )
    return Stretch(
        start=_pair(network.points[start]),
        end=_pair(network.points[end]),
        middle=_pair(middle),
        length=float(length.sum()),
        anchor=anchor,
    )


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _node(network: Network, walked: IntArray, trail: Trail, *, last: bool) -> int:
    """Vertex where a trail begins or ends."""
    at = -1 if last else 0
    side = network.head if bool(trail.forward[at]) == last else network.tail
    return int(side[walked[at]])


def _runs(
    network: Network,
    edge: IntArray,
    trails: Sequence[Trail],
    order: Sequence[tuple[int, bool]],
    first_number: int,
) -> tuple[Run, ...]:
    """Turn trails into runs; the first time over a line is its stitching, later ones retrace it."""
    done = np.zeros(len(network.tail), dtype=bool)
    runs = []
    for number, (index, backward) in enumerate(order, first_number):
        trail = trails[index]
        walked, forward = edge[trail.edges], trail.forward
        start, end = (_node(network, walked, trail, last=last) for last in (False, True))
        if backward:
            walked, forward, start, end = walked[::-1], ~forward[::-1], end, start
        legs = tuple(_legs(network, walked, forward, done))
        runs.append(
            Run(
                number,
                network.stage,
                network.thread,
                network.where[start],
                network.where[end],
                legs,
            )
        )
    return tuple(runs)


def _legs(network: Network, walked: IntArray, forward: BoolArray, done: BoolArray) -> list[Leg]:
    legs: list[Leg] = []
    for e, ahead in zip(walked.tolist(), forward.tolist(), strict=True):
        path = network.paths[e] if ahead else network.paths[e][::-1]
        line = int(network.line[e])
        if line >= 0:
            legs.append(Leg("retrace" if done[e] else "stitch", path, line))
            done[e] = True
            continue
        along = network.along[e]
        if legs and legs[-1].along == along != "seam":  # one way in the margin is one leg
            path = np.concatenate([legs.pop().points, path[1:]])
        legs.append(Leg("travel", path, -1, along))
    return legs
