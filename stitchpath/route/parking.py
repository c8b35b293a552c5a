"""The needle parked at the end of a window of a frame, to go on in the next.

Windows are routed one after another. Where a run of one ends and a run of the next begins at the
same place, the needle stays down there while the quilt is rolled on: neither end is made. Such
places are chosen of where runs end anyhow, when each window is routed quickly by itself: first
those where both windows have an end, the dearest first. Then each window is routed again, its first
run held to where the needle is found and its last to where it is left.
"""

from collections.abc import Callable, Container, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.line import Line
from stitchpath.network.graph import Network
from stitchpath.route.effort import Effort
from stitchpath.route.router import Routed, TornError, route, with_parked
from stitchpath.route.runs import Run

__all__ = ["Parked", "choose_parked", "joined", "route_parked"]

_Place = tuple[int, int]


class Parked(NamedTuple):
    """Vertices of a window's network where the needle is found, and left, parked."""

    found: int | None = None
    left: int | None = None


def choose_parked(
    networks: Sequence[Network], lines: Sequence[Line], ironed: Container[tuple[int, int]] = ()
) -> list[Parked]:
    """Choose where the needle is parked between windows.

    Parameters
    ----------
    networks
        Of all stages, windows and threads, in the order of stitching.
    lines
        What they count.
    ironed
        Stages and windows in which pieces are fused first: no needle is down under an iron.

    Returns
    -------
    list of Parked
        One for each network.
    """
    found: list[int | None] = [None] * len(networks)
    left: list[int | None] = [None] * len(networks)
    on = [
        (a.stage, a.thread) == (b.stage, b.thread)
        and a.window != b.window
        and (b.stage, b.window) not in ironed
        for a, b in pairwise(networks)
    ]
    tips: dict[int, list[tuple[_Place, _Place]]] = {}
    before: _Place | None = None
    for k, goes_on in enumerate(on):
        if not goes_on:
            before = None
            continue
        for each in (k, k + 1):
            if each not in tips:
                tips[each] = _tips(networks[each], lines)
        at = [_vertices(networks[each]) for each in (k, k + 1)]
        before = _best(networks[k], at, (tips[k], tips[k + 1]), before)
        if before is not None:
            left[k], found[k + 1] = at[0][before], at[1][before]
    return [Parked(*pair) for pair in zip(found, left, strict=True)]


def _tips(network: Network, lines: Sequence[Line]) -> list[tuple[_Place, _Place]]:
    """Route a window quickly, and give where its runs begin and end."""
    runs = [run for r in route(network, lines, (0.0, 0.0), effort=Effort(0.0)) for run in r.runs]
    return [(_place(run.legs[0].points[0]), _place(run.legs[-1].points[-1])) for run in runs]


def _vertices(network: Network) -> dict[_Place, int]:
    places = np.rint(network.points / GRID).astype(np.int64).tolist()
    return {(x, y): k for k, (x, y) in enumerate(places)}


def _place(point: FloatArray) -> _Place:
    x, y = np.rint(point / GRID).astype(np.int64).tolist()
    return x, y


def _best(
    network: Network,
    at: Sequence[dict[_Place, int]],
    tips: tuple[list[tuple[_Place, _Place]], list[tuple[_Place, _Place]]],
    before: _Place | None,
) -> _Place | None:
    """Choose, of the ends in two windows, the place where most is saved; of equals the first."""
    here, there = ({place for pair in each for place in pair} for each in tips)
    # A run can not be the first and the last, but where it is the only one.
    torn = {place for pair in tips[0] if before in pair and len(tips[0]) > 1 for place in pair}
    saved = {
        place: float(network.end[at[0][place]]) * ((place in here) + (place in there))
        for place in (here | there) - torn
        if place in at[0] and place in at[1]
    }
    worth = {place: price for place, price in saved.items() if 0 < price < np.inf}
    return min(worth, key=lambda place: (-worth[place], place), default=None)


def route_parked(
    network: Network,
    parked: Parked,
    routes: Callable[[Network], list[Routed]],
    before: Routed | None,
) -> list[Routed]:
    """Route a window, the needle parked as was chosen.

    Parameters
    ----------
    network, parked
        The window's, and where the needle is found and left.
    routes
        Routes a network.
    before
        What was routed before it.
    """
    if before is not None and before.torn:
        parked = parked._replace(found=None)
    try:
        routed = routes(with_parked(network, *parked))
    except TornError:
        routed = routes(with_parked(network, parked.found, None))
        routed[-1] = replace(routed[-1], torn=True)
    first = routed[0]
    if parked.found is not None and before is not None and not (before.left or first.found):
        # Held on both sides, and on neither did it pay: two ends are reckoned that no one makes.
        # Whoever does without the place pays as much less, so the bound falls with the cost.
        spare = 2 * float(network.end[parked.found])
        cost, bound = first.proof.cost - spare, first.proof.lower_bound - spare
        routed[0] = replace(first, proof=replace(first.proof, cost=cost, lower_bound=bound))
    return routed


def joined(routed: Sequence[Routed]) -> tuple[Run, ...]:
    """Join runs where the needle is parked between them, and number them anew.

    Parameters
    ----------
    routed
        All passes, in the order of stitching.

    Returns
    -------
    tuple of Run
        In stitching order.
    """
    runs: list[Run] = []
    before: Routed | None = None
    for each in routed:
        mine = list(each.runs)
        if before is not None and before.left and each.found:
            last, first = runs.pop(), mine.pop(0)
            park = (len(last.legs), first.window)
            runs.append(
                replace(
                    last,
                    end_where=first.end_where,
                    legs=last.legs + first.legs,
                    parked=(
                        *last.parked,
                        park,
                        *((len(last.legs) + k, w) for k, w in first.parked),
                    ),
                )
            )
        runs += mine
        before = each
    return tuple(replace(run, number=k) for k, run in enumerate(runs, 1))
