"""Light cuts of a weighted graph, by orders of greatest adjacency."""

from collections.abc import Iterable, Iterator
from heapq import heappop, heappush

from stitchpath.geometry.groups import root

__all__ = ["light_sets"]

Tie = tuple[int, int, float]
NOISE = 1e-9  # of sums of weights


def light_sets(
    nodes: int, ties: Iterable[Tie], home: int, wanted: list[bool], limit: float
) -> Iterator[list[int]]:
    """Find sets of nodes that ties of less than a limit leave.

    Nodes are laid in an order, the one most tied to those before it next. Then what a node is tied
    to those before it by bounds from below what any cut between it and the node that it met last
    weighs, and the last node has a least cut to the one before (Nagamochi, Ono and Ibaraki 1994).
    So either the last node is a set found, or two nodes can be made one; until all are.

    Parameters
    ----------
    nodes
        Number of nodes.
    ties
        Two nodes and the weight between them.
    home
        A node that no set may hold.
    wanted
        Nodes of which a set has to hold one, shape (nodes,). A set of others is passed over, and
        may hide one that holds some.
    limit
        What has to leave each set.
    """
    web = _Web(nodes, ties, wanted)
    web.shrink(home, limit)
    while True:
        order, joined = web.order(root(web.leader, home), limit)
        if len(order) == 1:
            return
        last = order[-1]
        if web.leaving(last) < limit:
            if web.wanted[last]:
                yield web.members[last].copy()
            joined.append((web.nearest(last), last))
        for one, two in joined:
            web.join(one, two)


class _Web:
    """A graph whose nodes are made one, pair by pair."""

    def __init__(self, nodes: int, ties: Iterable[Tie], wanted: list[bool]) -> None:
        self.leader = list(range(nodes))
        self.members = [[node] for node in range(nodes)]
        self.wanted = wanted.copy()
        self._near: list[dict[int, float]] = [{} for _ in range(nodes)]
        for one, two, weight in ties:
            self._near[one][two] = self._near[one].get(two, 0.0) + weight
            self._near[two][one] = self._near[two].get(one, 0.0) + weight

    def shrink(self, home: int, limit: float) -> None:
        """Make a node one with another that takes half of its ties or more.

        No cut gets heavier if it takes that node to the other's side.
        """
        for node in range(len(self.leader)):
            here = root(self.leader, node)
            while here != root(self.leader, home) and self._near[here]:
                other, whole = self.nearest(here), self.leaving(here)
                if whole < limit and self.wanted[here]:
                    break
                if 2 * self._near[here][other] < whole - NOISE:
                    break
                self.join(here, other)
                here = root(self.leader, here)

    def leaving(self, node: int) -> float:
        """Give the weight of all ties of a node."""
        return sum(self._near[node].values())

    def nearest(self, node: int) -> int:
        """Give the node that one is most tied to."""
        near = self._near[node]
        return max(near, key=lambda other: (near[other], -other))

    def order(self, first: int, limit: float) -> tuple[list[int], list[tuple[int, int]]]:
        """Lay out what hangs together with a node; also give pairs that no light cut parts."""
        tied = {first: 0.0}
        order: list[int] = []
        joined = []
        done: set[int] = set()
        heap = [(0.0, first)]
        while heap:
            weight, node = heappop(heap)
            if node in done or -weight < tied[node]:
                continue
            done.add(node)
            order.append(node)
            for other, more in self._near[node].items():
                if other not in done:
                    tied[other] = tied.get(other, 0.0) + more
                    if tied[other] >= limit:
                        joined.append((node, other))
                    heappush(heap, (-tied[other], other))
        return order, joined

    def join(self, one: int, two: int) -> None:
        """Make two nodes one."""
        one, two = root(self.leader, one), root(self.leader, two)
        if one == two:
            return
        if len(self._near[one]) < len(self._near[two]):
            one, two = two, one
        row, gone = self._near[one], self._near[two]
        self._near[two] = {}
        for other, weight in gone.items():
            del self._near[other][two]
            if other != one:
                row[other] = row.get(other, 0.0) + weight
                self._near[other][one] = row[other]
        self.leader[two] = one
        self.members[one] += self.members[two]
        self.wanted[one] |= self.wanted[two]
