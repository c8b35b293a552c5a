"""A first tour: the cheapest links first, as long as none closes a ring."""

from collections.abc import Sequence

from stitchpath.route.hub_graph import join
from stitchpath.route.passages.links import Links

__all__ = ["first_order"]


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
