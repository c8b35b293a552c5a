"""From a tour over slots to runs: every link becomes the edges that it walks, or a cut."""

from collections.abc import Sequence

import numpy as np

from stitchpath.base.typing import IntArray
from stitchpath.route.passages.links import HUB, Links, Ways, ways_between
from stitchpath.route.passages.problem import Passages, Trip, both_ends

__all__ = ["walked"]

_EQUAL = 1e-6  # a link that costs no more than to go straight on is that


def walked(states: Ways, links: Links, order: Sequence[int]) -> list[Trip]:
    """Walk a tour.

    Parameters
    ----------
    states, links
        The ways and links of the problem that it solves.
    order
        Slots in order, two for each line.

    Returns
    -------
    list of Trip
        The runs, in the order of the tour.
    """
    slots = both_ends(links.edges)
    joints = list(zip(order[1:-1:2], order[2::2], strict=True))
    problem, at = states.problem, states.problem.at
    on = [_straight(problem, slots, at, joint, links) for joint in joints]
    asked = [joint for joint, straight in zip(joints, on, strict=True) if not straight]
    stops = float(max((links.hub[a] + links.hub[b] for a, b in asked), default=0.0))
    ways = dict(zip(asked, ways_between(states, asked, stops), strict=True))
    cut = {
        joint
        for joint, (_, price) in ways.items()
        if price >= links.hub[joint[0]] + links.hub[joint[1]]
    }
    tips = [order[0], order[-1], *(slot for joint in cut for slot in joint)]
    out = ways_between(states, [(slot, HUB) for slot in tips])
    home = {slot: way for slot, (way, _) in zip(tips, out, strict=True)}
    rows = [[_back(home[order[0]])]]
    for k, slot in enumerate(order[::2]):
        rows[-1].append(slots[[slot]])
        if k == len(joints) or on[k]:
            continue
        a, b = joints[k]
        if joints[k] in cut:
            rows[-1].append(home[a])
            rows.append([_back(home[b])])
        else:
            rows[-1].append(ways[a, b][0])
    rows[-1].append(home[order[-1]])
    ends = [np.concatenate(row) for row in rows]
    return [Trip(left // 2, left % 2 == 0) for left in ends]


def _straight(
    problem: Passages, slots: IntArray, at: IntArray, link: tuple[int, int], links: Links
) -> bool:
    """Whether a link only passes on at a vertex."""
    a, b = (slots[[slot]] for slot in link)
    price = links.near[link[0]].get(link[1])
    if price is None or at[a] != at[b]:
        return False
    return float(problem.passing.price(a, b, at[a])[0]) <= price + _EQUAL


def _back(way: IntArray) -> IntArray:
    """Turn a way round: the edge ends by which it then leaves vertices."""
    return way[::-1] ^ 1
