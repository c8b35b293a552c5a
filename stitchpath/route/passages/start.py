"""A first tour: the cheapest links first, as long as none closes a ring."""

from collections.abc import Sequence

from stitchpath.geometry.groups import join
from stitchpath.route.passages.links import Links
from stitchpath.route.passages.taught import WHENEVER

__all__ = ["FEW", "best_order", "first_order"]

FEW = 9  # lines: of no more than these all orders are tried


def first_order(links: Links, phase: Sequence[int] | None = None) -> list[int]:
    """Put the slots of a problem into a first order.

    Parameters
    ----------
    links
        What the links cost.
    phase
        By line, when it is to be stitched: lines of one phase stand together, phases in order.

    Returns
    -------
    list of int
        Slots, two for each line: by which it is come to, and by which it is left.
    """
    count = len(links.edges)
    when = [0] * count if phase is None else list(phase)
    pairs = sorted(
        (price, a, b)
        for a, row in enumerate(links.near)
        for b, price in row.items()
        if a < b and when[a // 2] == when[b // 2]
    )
    mate = [-1] * (2 * count)
    leader = list(range(count))
    for _, a, b in pairs:
        if mate[a] < 0 and mate[b] < 0 and join(leader, a // 2, b // 2):
            mate[a], mate[b] = b, a
    rows: dict[int, list[int]] = {}
    done = [False] * count
    for slot in range(2 * count):
        if mate[slot] >= 0 or done[slot // 2]:
            continue
        row = rows.setdefault(when[slot // 2], [])
        while True:
            row += (slot, slot ^ 1)
            done[slot // 2] = True
            slot = mate[slot ^ 1]  # noqa: PLW2901 - walked along the row
            if slot < 0:
                break
    return [slot for number in sorted(rows) for slot in rows[number]]


def best_order(links: Links, phase: Sequence[int] | None = None) -> list[int]:
    """Put the slots of a small problem into the best order, by trying all (Held and Karp 1962).

    Parameters
    ----------
    links, phase
        As in `first_order`. Work grows with two to the number of lines: no more than `FEW` of them.

    Returns
    -------
    list of int
        As in `first_order`.
    """
    count = len(links.edges)
    when = [0] * count if phase is None else list(phase)
    hub = links.hub.tolist()
    before = [
        sum(1 << k for k in range(count) if WHENEVER < when[k] < when[line])
        for line in range(count)
    ]
    best: dict[tuple[int, int], tuple[float, int]] = {(0, -1): (0.0, -1)}
    layer = [(0, -1)]
    for _ in range(count):
        reached: dict[tuple[int, int], tuple[float, int]] = {}
        for done, last in layer:
            paid = best[done, last][0]
            for slot in range(2 * count):
                line = slot // 2
                if done >> line & 1 or before[line] & ~done:
                    continue
                cost = paid + hub[slot]
                if last >= 0:
                    cost = paid + links.near[last].get(slot, hub[last] + hub[slot])
                key = (done | 1 << line, slot ^ 1)
                if key not in reached or cost < reached[key][0]:
                    reached[key] = (cost, last)
        best.update(reached)
        layer = list(reached)
    state = min(layer, key=lambda key: (best[key][0] + hub[key[1]], key))
    order: list[int] = []
    while state[1] >= 0:
        done, last = state
        order += (last, last ^ 1)
        state = (done & ~(1 << last // 2), best[state][1])
    return order[::-1]
