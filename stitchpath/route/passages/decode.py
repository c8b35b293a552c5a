"""From how often everything is used to the runs themselves."""

from itertools import pairwise

import numpy as np

from stitchpath.base.typing import IntArray
from stitchpath.geometry.groups import join, root
from stitchpath.route.passages.model import Model
from stitchpath.route.passages.problem import Trip

__all__ = ["trips_of"]

_OPEN = -1  # stands for the partner of an end of a pass at which a run begins or stops


def trips_of(model: Model, counts: IntArray) -> list[Trip] | None:
    """Lay out runs that use everything as often as asked.

    Which pass over an edge goes on to which other edge is free where there are several: exchanging
    two of them costs nothing. So what comes out closed is joined to what else passes an edge of it.
    What still hangs apart and need not be stitched is left out: that costs no more.

    Parameters
    ----------
    model
        What the columns stand for.
    counts
        How often each column is used, shape (columns,).

    Returns
    -------
    list of Trip or None
        None where something that must be stitched hangs apart from all run ends.
    """
    passes = np.repeat(np.arange(len(model.edges)), counts[model.first_edge :])
    slots = _Slots(model, counts, passes)
    slots.join_closed()
    trips = []
    for start in slots.open():
        if slots.walked[start // 2]:
            continue
        way = np.array(slots.walk(start))
        trips.append(Trip(model.edges[passes[way // 2]], way % 2 == 0))
    left = passes[~np.array(slots.walked, dtype=bool)]
    return None if model.required[left].any() else trips


class _Slots:
    """The two ends of every pass, and which is joined to which.

    Pass p has slot 2p at its tail and 2p + 1 at its head.
    """

    def __init__(self, model: Model, counts: IntArray, passes: IntArray) -> None:
        free: list[list[int]] = [[] for _ in range(model.ends)]
        for number, edge in enumerate(passes.tolist()):
            free[2 * edge].append(2 * number)
            free[2 * edge + 1].append(2 * number + 1)
        self._free = [row.copy() for row in free]
        self.mate = [_OPEN] * (2 * len(passes))
        self.walked = [False] * len(passes)
        for column in np.flatnonzero(counts[: model.first_stop]).tolist():
            for _ in range(int(counts[column])):
                one = free[int(model.a[column])].pop()
                two = free[int(model.b[column])].pop()
                self.mate[one], self.mate[two] = two, one

    def open(self) -> list[int]:
        """List the slots at which runs begin or stop."""
        return [slot for slot, mate in enumerate(self.mate) if mate == _OPEN]

    def join_closed(self) -> None:
        """Exchange what two passes over one edge go on to, wherever that joins a closed way."""
        leader = list(range(len(self.walked)))
        for slot, mate in enumerate(self.mate):
            if mate != _OPEN:
                join(leader, slot // 2, mate // 2)
        ended = {root(leader, slot // 2) for slot in self.open()}
        for slots in self._free[::2]:
            for one, two in pairwise(slots):
                ways = {root(leader, one // 2), root(leader, two // 2)}
                if len(ways) == 1 or ways <= ended:
                    continue
                self._exchange(one, two)
                join(leader, one // 2, two // 2)
                if ways & ended:
                    ended.add(root(leader, one // 2))

    def _exchange(self, one: int, two: int) -> None:
        mates = self.mate[one], self.mate[two]
        for slot, mate in zip((two, one), mates, strict=True):
            self.mate[slot] = mate
            if mate != _OPEN:
                self.mate[mate] = slot

    def walk(self, slot: int) -> list[int]:
        """Follow a way from the slot where it begins; give the slot by which each pass is begun."""
        way = []
        while slot != _OPEN:
            way.append(slot)
            self.walked[slot // 2] = True
            slot = self.mate[slot ^ 1]
        return way
