"""From the graph of a stage and thread to its runs, proven and in order.

A stage and thread is routed in one pass, or in two: the anchoring seams first, then all the rest.
In a frame what is stitched in each window is routed so by itself.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.tolerances import FREE
from stitchpath.lines.line import Line
from stitchpath.network.graph import Network
from stitchpath.network.prices import headings
from stitchpath.route.effort import Effort
from stitchpath.route.order import Stretch, follow_runs, order_runs
from stitchpath.route.postman import PROVEN, Problem, Tour, UnreachableError, proof_of, solve
from stitchpath.route.rows import AS_ASKED, AsAsked, rows_as_asked
from stitchpath.route.runs import Do, Leg, Proof, Run
from stitchpath.route.trails import Turning
from stitchpath.route.useful_runs import Walked, useful_trails
from stitchpath.route.weighed import MANY, walk_by_time, weighed

__all__ = ["Order", "Routed", "TornError", "UnreachedError", "route", "with_parked"]

Order: TypeAlias = Literal["free", "anchors", "taught"] | AsAsked

_PEG = -2  # stands for a line in a network: the edge that holds a run to a chosen start
_FOUND, _LEFT = -3, -4  # and those that hold one to where the needle is found, or left, parked


class UnreachedError(StitchpathError):
    """No run may reach a line.

    Attributes
    ----------
    line
        Its number; below 0 where it is the chosen start.
    """

    def __init__(self, line: int, place: str = "") -> None:
        place = place or (f"line {line + 1}" if line >= 0 else "the chosen start")
        super().__init__(
            f"route: no run may reach {place}, expected a way of travel or an end there"
        )
        self.line = line


class TornError(StitchpathError):
    """One run leads from where the needle is found parked to where it is left, and others wait."""


@dataclass(frozen=True, slots=True)
class Routed:
    """The runs of one pass over a stage and thread.

    Attributes
    ----------
    runs
        In stitching order.
    proof
        Cost and bound: every line once, and what is paid beyond.
    turning
        How much the runs turn where lines meet.
    anchoring
        Whether it is the pass that stitches the anchoring seams before all the rest.
    once
        What every line once costs, of that cost.
    found, left
        Whether the first run begins where the needle is parked, and the last leaves it so.
    torn
        Whether no run was held to where it was to be left, since one would be held at both ends:
        the next window is not held to that place either.
    """

    runs: tuple[Run, ...]
    proof: Proof
    turning: Turning
    anchoring: bool
    once: float
    found: bool = False
    left: bool = False
    torn: bool = False


def with_parked(network: Network, found: int | None, left: int | None) -> Network:
    """Hold a run to where the needle is found parked, and one to where it is left so.

    Each costs no end there. Where it does not pay to go on from there, a run of no length is what
    it comes to, with an end at its price, and `route` leaves it out.

    Parameters
    ----------
    network
        Of a window.
    found, left
        Vertices; None where the needle is not parked.
    """
    for vertex, mark in ((found, _FOUND), (left, _LEFT)):
        if vertex is not None:
            network = _peg(network, vertex, mark=mark)
            end, required = network.end.copy(), np.append(network.required, True)
            end[-1] = 0.0
            network = replace(network, end=end, required=required)
    return network


def route(
    network: Network,
    lines: Sequence[Line],
    centre: tuple[float, float],
    *,
    first_number: int = 1,
    order: Order = "free",
    start: int | None = None,
    effort: Effort | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> list[Routed]:
    """Route the lines of one stage and thread, in a frame those of one window.

    Parameters
    ----------
    network
        Their graph.
    lines
        All lines of the plan, which `network.line` counts.
    centre
        Middle of the top, mm: runs are ordered from there outward. In a frame, where hands are.
    first_number
        Number of the first run.
    order
        "free": one run may hold anchoring seams and all else. "anchors": those seams are a pass of
        their own before the rest. "taught": they come first, then area by area from the centre
        outward; where turns and returns have no price, as "free". "one way", "in pairs": row by
        row (`rows_as_asked`).
    start
        Vertex of the network where the first run begins, if that is chosen.
    effort
        What may be spent on the proof, 10 s unless said.
    progress
        Called now and then with cost and bound.

    Returns
    -------
    list of Routed
        One pass, or two.

    Raises
    ------
    UnreachedError
        When a line cannot be reached: the prices forbid every end and every way to it.
    TornError
        When the needle is held to two places (`with_parked`) by one run of several.
    """
    ordered = order == "taught" and not network.passing.free
    anchors = network.required & np.array([i >= 0 and lines[i].anchor for i in network.line])
    rest = network.required & ~anchors
    apart = order == "anchors" and anchors.any() and rest.any()
    passes = [anchors, rest] if apart else [anchors | rest]
    effort = effort or Effort(10.0)
    left = sum(int(required.sum()) for required in passes)
    routed: list[Routed] = []
    for k, required in enumerate(passes):
        size = int(required.sum())
        task = _Task(network, required, effort.part(size / left), progress)
        left -= size
        asked = AS_ASKED.get(order)
        if asked is not None:
            way = _rows(task, asked)
        else:
            way = _way(task, None if k else start, centre if ordered else None)
        runs = _as_runs(way, required, lines, centre, first_number)
        first_number += len(runs)
        routed.append(way.routed(runs, task, anchoring=k + 1 < len(passes)))
    return routed


@dataclass(frozen=True, slots=True)
class _Task:
    """What one pass has to stitch, and what may be spent on it."""

    network: Network
    required: BoolArray
    effort: Effort
    progress: Callable[[float, float], None] | None


class _Way(NamedTuple):
    """The trails of a pass in their network, and what leads to the first of them, if anything."""

    network: Network
    walked: Walked
    lead: "_Walk | None" = None
    free: float | None = None  # what the best found in any order costs, where an order is kept

    def routed(self, runs: tuple[Run, ...], task: "_Task", *, anchoring: bool) -> Routed:
        """Say what its runs cost."""
        once = float(task.network.first[task.required].sum())
        tour = self.walked.tour
        cut_off = task.effort.cut_off and not tour.optimal
        free = None if self.free is None else once + self.free
        unit = task.network.unit
        proof = Proof(once + tour.cost, once + tour.bound, tour.optimal, cut_off, unit, free)
        held = {mark for trail in self.walked.trails if (mark := self._held(trail.edges))}
        marks = {mark for pair in held for mark in pair}
        return Routed(
            runs, proof, self.walked.turning, anchoring, once, _FOUND in marks, _LEFT in marks
        )

    def _held(self, edges: IntArray) -> tuple[int, ...]:
        """Tell what holds a trail that stitches."""
        lines = self.network.line[self.walked.edge[edges]]
        return tuple(lines[lines < -1].tolist()) if (lines >= -1).any() else ()


def _way(task: _Task, start: int | None, centre: tuple[float, float] | None) -> _Way:
    """Route a pass; in the order that is taught if it is told what it is centred on."""
    if task.network.passing.free:
        return _walk(task) if start is None else _walk_from(task, start)
    way = _walk_by_time(task, start, centre) if int(task.required.sum()) <= MANY else None
    if way is None:  # too large, or some line can be reached by no run: then this says which
        way = _walk(task) if start is None else _walk_from(task, start)
        held = np.zeros(len(way.network.tail) - len(task.required), dtype=bool)
        walked = weighed(way.network, np.append(task.required, held), way.walked)
        way = way._replace(walked=walked)
    return way


def _rows(task: _Task, asked: AsAsked) -> _Way:
    """Route a pass row by row, as asked. Each way between is a shortest one, so none is cheaper."""
    walked = weighed(task.network, task.required, rows_as_asked(task.network, task.required, asked))
    tour = replace(walked.tour, bound=walked.tour.cost, optimal=True)
    return _Way(task.network, walked._replace(tour=tour), free=tour.cost)


def _walk_by_time(
    task: _Task, start: int | None, centre: tuple[float, float] | None
) -> _Way | None:
    """Route a pass where turns and returns have a price."""
    network, required, held = task.network, task.required, -1
    if start is not None:
        network, held = _peg(network, start), len(required)
        required = np.append(required, True)
    found = walk_by_time(
        network, required, task.effort, held=held, centre=centre, progress=task.progress
    )
    if found is None:
        return None
    return _Way(network, found[0], free=None if centre is None else found[1])


def _walk(task: _Task) -> _Way:
    """Route a pass wherever its runs may begin."""
    network, required = task.network, task.required
    problem = _problem(network, required, network.first[required].sum())
    walked = useful_trails(problem, _solve(task, problem), headings(network.paths), lines=required)
    assert walked is not None  # noqa: S101 - only a run held to a start may meet no line
    return _Way(network, walked)


def _walk_from(task: _Task, start: int) -> _Way:
    """Route a pass whose first run begins at a chosen start.

    Where the cheapest way is to stop there at once, without meeting a line, the run is led to the
    nearest line first. The bound of the cheapest way is true for that too, but hardly met.
    """
    network = _peg(task.network, start)
    lines, peg = np.append(task.required, False), len(task.required)
    held = np.append(task.required, True)
    once = float(network.first[held].sum())
    problem = _problem(network, held, once)
    cheapest = _solve(task, problem)
    ways = headings(network.paths)
    walked = useful_trails(problem, cheapest, ways, lines=lines, peg=peg)
    if walked is not None:
        return _Way(network, walked)
    lead = _nearest_line(task.network, task.required, start)
    network = _peg(task.network, start, lead)
    problem = _problem(network, held, once)
    ways = headings(network.paths)
    walked = useful_trails(problem, _solve(task, problem), ways, lines=lines, peg=peg)
    assert walked is not None  # noqa: S101 - it begins on a line
    cost = walked.tour.cost + float(network.again[lead.edges].sum())
    bound, optimal = proof_of(cost, cheapest.bound, PROVEN * (once + cost))
    told = replace(walked.tour, cost=cost, bound=bound, optimal=optimal)
    return _Way(network, walked._replace(tour=told), lead)


def _nearest_line(network: Network, required: BoolArray, start: int) -> "_Walk":
    """Give the cheapest way from a start to a line.

    Raises
    ------
    StitchpathError
        If none leads there.
    """
    low = np.minimum(network.tail, network.head)
    high = np.maximum(network.tail, network.head)
    order = np.lexsort((network.again, high, low))
    order = order[np.isfinite(network.again[order]) & (low[order] != high[order])]
    cheapest = {(low[e], high[e]): e for e in order[::-1].tolist()}
    kept = np.array(list(cheapest.values()), dtype=np.int64)
    price = np.maximum(network.again[kept], FREE)
    size = (len(network.points), len(network.points))
    web = csr_array((price, (low[kept], high[kept])), shape=size)
    far, back = dijkstra(web, directed=False, indices=[start], return_predecessors=True)
    at = np.unique(np.concatenate([network.tail[required], network.head[required]]))
    here = int(at[np.argmin(far[0][at])])
    if not np.isfinite(far[0][here]):
        raise StitchpathError(
            "route.start: found no way from the chosen start to a line, expected a corner where a "
            "run can begin"
        )
    edges, forward = [], []
    while here != start:
        there = int(back[0][here])
        edges.append(cheapest[min(here, there), max(here, there)])
        forward.append(bool(network.head[edges[-1]] == here))
        here = there
    return _Walk(network, np.array(edges[::-1], dtype=np.int64), np.array(forward[::-1]))


def _peg(network: Network, start: int, lead: "_Walk | None" = None, mark: int = _PEG) -> Network:
    """Hold a run to its start.

    A new vertex at the same place hangs on the start by an edge of no length. That edge has to be
    walked, cannot be walked back, and one end of a run may lie at its tip. So a run ends there, and
    nothing else changes. With a lead the edge hangs on the end of that instead.
    """
    peg = len(network.points)
    at = network.points[start]
    foot = start if lead is None else lead.tip(last=True)
    path = np.stack([at, at]) if lead is None else lead.points()[::-1]
    return replace(
        network,
        points=np.vstack([network.points, at]),
        tail=np.append(network.tail, foot),
        head=np.append(network.head, peg),
        paths=(*network.paths, path),
        line=np.append(network.line, mark),
        seam=np.append(network.seam, -1),
        along=(*network.along, None),
        length=np.append(network.length, 0.0),
        first=np.append(network.first, 0.0),
        again=np.append(network.again, np.inf),
        end=np.append(network.end, network.end[start]),
        where=(*network.where, network.where[start]),
        passing=network.passing.with_peg(start),
    )


def _problem(network: Network, required: BoolArray, once: float) -> Problem:
    return Problem(
        len(network.points),
        network.tail,
        network.head,
        required,
        network.again,
        network.end,
        float(once),
    )


def _solve(task: _Task, problem: Problem) -> Tour:
    tell = None
    if task.progress is not None:
        progress = task.progress

        def tell(cost: float, bound: float) -> None:
            progress(problem.once + cost, problem.once + bound)

    try:
        return solve(problem, effort=task.effort, progress=tell)
    except UnreachableError as error:
        held = error.edge == len(task.required)  # the edge beyond those of the network
        raise UnreachedError(-1 if held else int(task.network.line[error.edge])) from None


def _as_runs(
    way: _Way,
    required: BoolArray,
    lines: Sequence[Line],
    centre: tuple[float, float],
    first_number: int,
) -> tuple[Run, ...]:
    network, walked = way.network, way.walked
    walks = [_Walk(network, walked.edge[trail.edges], trail.forward) for trail in walked.trails]
    walks = [walk for walk in walks if (network.line[walk.edges] > _FOUND).any()]
    stretches = [walk.stretch(lines) for walk in walks]
    if way.free is not None:
        order = [(index, False) for index in range(len(walks))]
    elif network.window:
        order = follow_runs(stretches, centre)
    else:
        order = order_runs(stretches, centre, anchor_first=True)
    order = _begin_at_peg(walks, order, _PEG)
    order = _begin_at_peg(walks, order, _FOUND)
    order = _end_parked(walks, order)
    fresh = np.zeros(len(network.line), dtype=bool)
    fresh[: len(required)] = required
    runs = []
    for number, (index, backward) in enumerate(order, first_number):
        walk = walks[index].reversed() if backward else walks[index]
        runs.append(walk.run(number, fresh))
    if way.lead is not None:
        led = way.lead.run(first_number, np.zeros(len(network.line), dtype=bool))
        runs[0] = replace(runs[0], legs=led.legs + runs[0].legs)
    return tuple(runs)


@dataclass(frozen=True, slots=True)
class _Walk:
    """A trail by the edges of the network that it walks."""

    network: Network
    edges: IntArray
    forward: BoolArray

    def reversed(self) -> "_Walk":
        return _Walk(self.network, self.edges[::-1], ~self.forward[::-1])

    def tip(self, *, last: bool) -> int:
        """Vertex where it begins or ends."""
        at = -1 if last else 0
        side = self.network.head if bool(self.forward[at]) == last else self.network.tail
        return int(side[self.edges[at]])

    def points(self) -> FloatArray:
        """Polyline of all of it."""
        paths = [
            self.network.paths[e] if ahead else self.network.paths[e][::-1]
            for e, ahead in zip(self.edges.tolist(), self.forward.tolist(), strict=True)
        ]
        return np.concatenate(paths)

    def stretch(self, lines: Sequence[Line]) -> Stretch:
        net = self.network
        length = net.length[self.edges]
        middles = (net.points[net.tail[self.edges]] + net.points[net.head[self.edges]]) / 2
        middle = (middles * length[:, None]).sum(axis=0) / max(float(length.sum()), 1e-9)
        anchor = np.array([i >= 0 and lines[i].anchor for i in net.line[self.edges]])
        start, end = (net.points[self.tip(last=last)] for last in (False, True))
        return Stretch(
            start=(float(start[0]), float(start[1])),
            end=(float(end[0]), float(end[1])),
            middle=(float(middle[0]), float(middle[1])),
            length=float(length.sum()),
            anchor=float(length[anchor].sum()),
        )

    def run(self, number: int, open_lines: BoolArray) -> Run:
        """Make the run; the first time over an open line stitches it and closes it."""
        net = self.network
        legs: list[Leg] = []
        for e, ahead in zip(self.edges.tolist(), self.forward.tolist(), strict=True):
            path = net.paths[e] if ahead else net.paths[e][::-1]
            line, along, seam = int(net.line[e]), net.along[e], int(net.seam[e])
            if line >= 0:
                do: Do = "stitch" if open_lines[e] else "retrace"
                legs.append(Leg(do, path, line, seam=seam, ahead=ahead))
                open_lines[e] = False
            elif line >= -1:
                if legs and legs[-1].along == along != "seam":  # one way in the margin is one leg
                    path = np.concatenate([legs.pop().points, path[1:]])
                legs.append(Leg("travel", path, -1, along, seam, ahead))
        start, end = (net.where[self.tip(last=last)] for last in (False, True))
        return Run(number, net.stage, net.thread, start, end, tuple(legs), net.window)


def _end_parked(
    walks: Sequence[_Walk], order: Sequence[tuple[int, bool]]
) -> list[tuple[int, bool]]:
    """Bring the run that leaves the needle parked to the end."""
    last = [
        pair for pair in _begin_at_peg(walks, order, _LEFT)[:1] if _marked(walks[pair[0]], _LEFT)
    ]
    if last and len(walks) > 1 and _marked(walks[last[0][0]], _FOUND):
        raise TornError("route: found one run held at both ends, expected it to be the only one")
    rest = [pair for pair in order if not last or pair[0] != last[0][0]]
    return rest + [(index, not backward) for index, backward in last]


def _marked(walk: _Walk, mark: int) -> bool:
    return bool((walk.network.line[walk.edges] == mark).any())


def _begin_at_peg(
    walks: Sequence[_Walk], order: Sequence[tuple[int, bool]], mark: int
) -> list[tuple[int, bool]]:
    """Bring the run that is held to a start to the front, begun there."""
    for index, walk in enumerate(walks):
        for backward, at in ((False, 0), (True, -1)):
            if walk.network.line[walk.edges[at]] == mark:
                return [(index, backward), *(pair for pair in order if pair[0] != index)]
    return list(order)
