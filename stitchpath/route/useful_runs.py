"""No run without stitching: idle runs are left out, and the run from a chosen start meets a line.

Where prices are 0 a tour may hold runs that only travel or retrace, for they cost nothing; left
out, all lines are still stitched and the cost is no higher. The run that is held to a chosen start
is different: the cheapest tour may let it stop at once, or travel a little and stop. At the first
line on its way it goes on along that line instead, and the run that it meets there ends where it
would have ended.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from stitchpath.route.postman import priced
from stitchpath.route.trails import Multigraph, Trail, Turning, gentle_trails

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stitchpath.base.typing import BoolArray, FloatArray, IntArray
    from stitchpath.route.postman import Problem, Tour

__all__ = ["Walked", "needed", "useful_trails"]


class Walked(NamedTuple):
    """A tour with its trails.

    Attributes
    ----------
    trails
        Trails of traversals.
    edge
        Edge of the problem that each traversal walks, shape (k,).
    turning
        How much the trails turn.
    tour
        The tour that they walk.
    """

    trails: list[Trail]
    edge: IntArray
    turning: Turning
    tour: Tour


def useful_trails(
    problem: Problem,
    tour: Tour,
    headings: tuple[FloatArray, FloatArray],
    *,
    lines: BoolArray,
    peg: int = -1,
) -> Walked | None:
    """Walk a tour in trails that each pass a line that no other one passes.

    Parameters
    ----------
    problem
        What the tour solves.
    tour
        Extra passes and run ends.
    headings
        Unit vectors along which edges leave their tails and their heads, shapes (m, 2).
    lines
        Edges that are lines to stitch, shape (m,); the others that are required are only walked.
    peg
        The edge that holds a run to its start, -1 without.

    Returns
    -------
    Walked or None
        None where the run from the peg meets no line.
    """
    end_price = np.append(np.inf if problem.end is None else problem.end, np.inf)
    while True:
        again = np.repeat(np.arange(len(lines)), tour.extra)
        edge = np.concatenate([np.flatnonzero(problem.required), again])
        web = _multigraph(problem, tour, edge, headings)
        trails, turning = gentle_trails(web, end_price[: web.vertices])
        held = next((trail for trail in trails if peg in edge[trail.edges]), None)
        if held is not None and not lines[edge[held.edges]].any():
            spliced = _spliced(web, _from_peg(held, edge, peg), lines[edge])
            if spliced is None:
                return None
            tour = priced(problem, tour.extra, spliced.ends[: problem.vertices], tour.bound)
            trails, turning = gentle_trails(spliced, end_price[: spliced.vertices])
        kept = needed([edge[trail.edges] for trail in trails], problem.required)
        if len(kept) == len(trails):
            return Walked(trails, edge, turning, tour)
        tour = _of_trails(problem, [trails[k] for k in kept], edge, tour.bound)


def _multigraph(
    problem: Problem, tour: Tour, edge: IntArray, headings: tuple[FloatArray, FloatArray]
) -> Multigraph:
    return Multigraph(
        vertices=problem.vertices,
        tail=problem.tail[edge],
        head=problem.head[edge],
        leave_tail=headings[0][edge],
        leave_head=headings[1][edge],
        ends=tour.ends,
        twin=edge,
    )


def needed(passed: Sequence[IntArray], required: BoolArray, *, in_order: bool = False) -> list[int]:
    """Leave out runs that others make needless.

    Parameters
    ----------
    passed
        The edges that each run passes, one after another.
    required
        Edges that must be stitched, shape (m,).
    in_order
        Whether each required edge is to be stitched where it is passed first; else it may be left
        to a run that comes later.

    Returns
    -------
    list of int
        Numbers of the runs that stay.
    """
    total = np.bincount(np.concatenate(passed), minlength=len(required))
    before = np.zeros(len(required), dtype=np.int64)
    kept = []
    for number, edges in enumerate(passed):
        walked, count = np.unique(edges, return_counts=True)
        others = before[walked] if in_order else total[walked] - count
        if (required[walked] & (others == 0)).any():
            kept.append(number)
            before[walked] += count
        else:
            total[walked] -= count
    return kept


def _of_trails(problem: Problem, trails: list[Trail], edge: IntArray, bound: float) -> Tour:
    """Price the tour that some trails walk."""
    walked = edge[np.concatenate([trail.edges for trail in trails])]
    times = np.bincount(walked, minlength=len(problem.tail))
    ends = np.zeros(problem.vertices, dtype=np.int64)
    for trail in trails:
        first, last = edge[trail.edges[0]], edge[trail.edges[-1]]
        ends[(problem.tail if trail.forward[0] else problem.head)[first]] += 1
        ends[(problem.head if trail.forward[-1] else problem.tail)[last]] += 1
    return priced(problem, times - problem.required, ends, bound)


def _from_peg(trail: Trail, edge: IntArray, peg: int) -> Trail:
    """Turn a trail so that it begins at the peg: the head of the edge at one of its ends."""
    if edge[trail.edges[0]] == peg and not trail.forward[0]:
        return trail
    return Trail(trail.edges[::-1], ~trail.forward[::-1])


def _spliced(web: Multigraph, held: Trail, line: BoolArray) -> Multigraph | None:
    """Make a trail go on along a line at the first place on its way where it meets one.

    The two traversals get a place of their own there, where nothing else can be done. Of several
    lines the one that turns least goes on.

    Parameters
    ----------
    web
        All traversals.
    held
        The trail, from its start.
    line
        Traversals of lines.
    """
    for a, forward in zip(held.edges.tolist(), held.forward.tolist(), strict=True):
        v = int((web.head if forward else web.tail)[a])
        arrive = -(web.leave_head if forward else web.leave_tail)[a]
        meet = np.stack([line & (web.tail == v), line & (web.head == v)])
        if not meet.any():
            continue
        along = np.stack([web.leave_tail @ arrive, web.leave_head @ arrive])
        side, b = np.unravel_index(np.argmax(np.where(meet, along, -2.0)), meet.shape)
        tail, head = web.tail.copy(), web.head.copy()
        (head if forward else tail)[a] = web.vertices
        (head if side else tail)[b] = web.vertices
        ends = np.append(web.ends, 0)
        left = np.bincount(np.concatenate([tail, head]), minlength=web.vertices + 1)
        if ends[v] > left[v]:  # both ended here
            ends[v] -= 2
        return replace(web, vertices=web.vertices + 1, tail=tail, head=head, ends=ends)
    return None
