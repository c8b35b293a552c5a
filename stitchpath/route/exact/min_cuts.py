"""Small minimum cuts and nested clusters, in plain Python.

The graphs here are the fractional parts of a linear program's solution: tens to hundreds of
vertices, and a cut is wanted only if it is light. Building a sparse matrix for each would take
longer than cutting it.
"""

from collections import deque
from collections.abc import Iterable, Iterator

from stitchpath.geometry.groups import root

__all__ = ["Clusters", "Flow", "cut_tree"]

NO_ROOM = 1e-9  # an arc with no more room than this is full


class Flow:
    """A network for minimum cuts.

    Parameters
    ----------
    nodes
        Number of nodes.
    edges
        Tail, head and weight of each edge.
    directed
        Whether an edge can be used from tail to head only.
    """

    def __init__(
        self, nodes: int, edges: Iterable[tuple[int, int, float]], *, directed: bool = False
    ) -> None:
        self.nodes = nodes
        # Arc 2k runs along edge k and arc 2k + 1 against it.
        self._head: list[int] = []
        self._room: list[float] = []
        self._leaving: list[list[int]] = [[] for _ in range(nodes)]
        for tail, head, weight in edges:
            self._leaving[tail].append(len(self._head))
            self._leaving[head].append(len(self._head) + 1)
            self._head += (head, tail)
            self._room += (weight, 0.0 if directed else weight)

    def minimum_cut(self, source: int, sink: int, most: float) -> tuple[float, set[int]] | None:
        """Find a minimum cut, if it weighs less than `most`.

        Parameters
        ----------
        source, sink
            Nodes to part.
        most
            The search ends as soon as so much has been seen to flow.

        Returns
        -------
        tuple or None
            The weight, and the nodes on the side of the source (the smallest such set).
        """
        room = self._room.copy()
        flow = 0.0
        while flow < most:
            came = self._reach(room, source, sink)
            if sink not in came:
                return flow, set(came)
            flow += self._push(room, came, source, sink)
        return None

    def _reach(self, room: list[float], source: int, sink: int) -> dict[int, int]:
        """Search breadth first along arcs with room; give the arc by which each node was found."""
        head, leaving = self._head, self._leaving
        came = {source: -1}
        queue = deque([source])
        while queue:
            for arc in leaving[queue.popleft()]:
                there = head[arc]
                if room[arc] > NO_ROOM and there not in came:
                    came[there] = arc
                    if there == sink:
                        return came
                    queue.append(there)
        return came

    def _push(self, room: list[float], came: dict[int, int], source: int, sink: int) -> float:
        """Send as much as fits along the way found."""
        way = []
        node = sink
        while node != source:
            way.append(came[node])
            node = self._head[came[node] ^ 1]
        amount = min(room[arc] for arc in way)
        for arc in way:
            room[arc] -= amount
            room[arc ^ 1] += amount
        return amount


def cut_tree(flow: Flow, most: float) -> Iterator[set[int]]:
    """Give sides of minimum cuts between all nodes that weigh less than `most` (Gusfield 1990).

    Nodes that no such cut parts are left together, so not all of the tree has to be grown.
    """
    above = [0] * flow.nodes
    for node in range(1, flow.nodes):
        found = flow.minimum_cut(node, above[node], most)
        if found is None:
            continue
        side = found[1]
        for later in range(node + 1, flow.nodes):
            if above[later] == above[node] and later in side:
                above[later] = node
        yield side


class Clusters:
    """Nested clusters of a weighted graph, merged along the strongest edge first.

    Nodes are clusters 0 to n - 1, each merge makes the next.

    Parameters
    ----------
    nodes
        Number of nodes.
    edges
        Weight, tail and head of each edge.

    Attributes
    ----------
    weight
        For each cluster the weight of the edges that leave it.
    parts
        The two clusters of which each merge made one, from cluster n on.
    """

    def __init__(self, nodes: int, edges: list[tuple[float, int, int]]) -> None:
        self._nodes = nodes
        self.parts: list[tuple[int, int]] = []
        self.weight = [0.0] * nodes
        near: dict[int, dict[int, float]] = {}
        for weight, a, b in edges:
            for here, there in ((a, b), (b, a)):
                row = near.setdefault(here, {})
                row[there] = row.get(there, 0.0) + weight
                self.weight[here] += weight
        # A cluster is led by one of its nodes; `cluster` says which cluster a leader stands for.
        leader, cluster = list(range(nodes)), list(range(nodes))
        for _, a, b in sorted(edges, key=lambda edge: -edge[0]):
            one, two = root(leader, a), root(leader, b)
            if one == two:
                continue
            if len(near[one]) < len(near[two]):
                one, two = two, one
            between = _merge(near, one, two)
            self.parts.append((cluster[one], cluster[two]))
            self.weight.append(self.weight[cluster[one]] + self.weight[cluster[two]] - 2 * between)
            leader[two] = one
            cluster[one] = len(self.weight) - 1

    def members(self, cluster: int) -> list[int]:
        """List the nodes of a cluster."""
        todo, nodes = [cluster], []
        while todo:
            here = todo.pop()
            if here < self._nodes:
                nodes.append(here)
            else:
                todo += self.parts[here - self._nodes]
        return nodes


def _merge(near: dict[int, dict[int, float]], big: int, small: int) -> float:
    """Give the edges of one node to another; say how much lay between the two."""
    row, gone = near[big], near.pop(small)
    between = row.pop(small)
    del gone[big]
    for other, weight in gone.items():
        row[other] = row.get(other, 0.0) + weight
        del near[other][small]
        near[other][big] = row[other]
    return between
