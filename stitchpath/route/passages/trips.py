"""From a tour over slots to runs: every link becomes the edges that it walks, or a cut."""

from collections.abc import Sequence

import numpy as np

from stitchpath.route.passages.links import HUB, Links, ways_between
from stitchpath.route.passages.problem import Passages, Trip
from stitchpath.typing import IntArray

__all__ = ["trips_of"]

_EQUAL = 1e-6  # a link that costs no more than to go straight on is that


def trips_of(problem: Passages, links: Links, order: Sequence[int]) -> list[Trip]:
    """Walk a tour.

    Parameters
    ----------
    problem, links
        What it solves.
    order
        Slots in order, two for each line.

    Returns
    -------
    list of Trip
        The runs, in the order of the tour.
    """
    slots = (2 * links.edges[:, None] + [0, 1]).reshape(-1)
    joints = list(zip(order[1:-1:2], order[2::2], strict=True))
    cut = [not _joined(links, a, b) for a, b in joints]
    at, asked = problem.at, []
    for (a, b), apart in zip(joints, cut, strict=True):
        if apart:
            asked += [(a, HUB), (b, HUB)]
        elif not _straight(problem, slots, at, (a, b), links.near[a][b]):
            asked.append((a, b))
    asked += [(order[0], HUB), (order[-1], HUB)]
    found = dict(zip(asked, (way for way, _ in ways_between(problem, asked)), strict=True))
    rows = [[_back(found[order[0], HUB])]]
    for k, slot in enumerate(order[::2]):
        rows[-1].append(slots[[slot]])
        if k == len(joints):
            break
        a, b = joints[k]
        if cut[k]:
            rows[-1].append(found[a, HUB])
            rows.append([_back(found[b, HUB])])
        elif (a, b) in found:
            rows[-1].append(found[a, b])
    rows[-1].append(found[order[-1], HUB])
    walked = [np.concatenate(row) for row in rows]
    return [Trip(left // 2, left % 2 == 0) for left in walked]


def _joined(links: Links, a: int, b: int) -> bool:
    return b in links.near[a]  # what the hub is as cheap for is not kept there


def _straight(
    problem: Passages, slots: IntArray, at: IntArray, link: tuple[int, int], price: float
) -> bool:
    """Whether a link only passes on at a vertex."""
    a, b = (slots[[slot]] for slot in link)
    if at[a] != at[b]:
        return False
    return float(problem.passing.price(a, b, at[a])[0]) <= price + _EQUAL


def _back(way: IntArray) -> IntArray:
    """Turn a way round: the edge ends by which it then leaves vertices."""
    return way[::-1] ^ 1
