"""Shrink a postman problem before it is solved exactly, without losing the best tour."""

from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from math import inf

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.route.hub_graph import HubGraph, at_most_twice

__all__ = ["Reduced", "reduce"]

# Prices count as equal up to this factor: they differ by rounding alone.
ROUNDED_UP = 1 + 1e-12


@dataclass(frozen=True, slots=True)
class Reduced:
    """A smaller problem and the way back.

    Attributes
    ----------
    graph
        The smaller problem; its vertices keep their numbers.
    ways
        For each of its edges the edges of the full graph that it stands for.
    """

    graph: HubGraph
    ways: tuple[tuple[int, ...], ...]

    def unfold(self, passes: IntArray, edges: int) -> IntArray:
        """Carry passes back to the full graph, shape (edges,)."""
        full = np.zeros(edges, dtype=np.int64)
        for edge in np.flatnonzero(passes).tolist():
            for step in self.ways[edge]:
                full[step] += passes[edge]
        return at_most_twice(full)


class _Web:
    """Edges that come and go, with the neighbours of each vertex."""

    def __init__(self, graph: HubGraph) -> None:
        self.hub = graph.hub
        self.near: list[dict[int, int]] = [{} for _ in range(graph.vertices)]
        self.ends = list(zip(graph.tail.tolist(), graph.head.tolist(), strict=True))
        self.price: list[float] = graph.price.tolist()
        self.ways: list[tuple[int, ...]] = [(e,) for e in range(len(self.ends))]
        for edge, (a, b) in enumerate(self.ends):
            self.near[a][b] = self.near[b][a] = edge

    def remove(self, edge: int) -> None:
        a, b = self.ends[edge]
        del self.near[a][b], self.near[b][a]

    def add(self, a: int, b: int, price: float, way: tuple[int, ...]) -> None:
        """Add an edge unless there is a cheaper one beside it."""
        other = self.near[a].get(b)
        if other is not None:
            if self.price[other] <= price:
                return
            self.remove(other)
        self.near[a][b] = self.near[b][a] = len(self.ends)
        self.ends.append((min(a, b), max(a, b)))
        self.price.append(price)
        self.ways.append(way)

    def another_way(self, edge: int) -> bool:
        """Tell whether some way round, past the hub aside, is as cheap as an edge."""
        return self.reachable(*self.ends[edge], self.price[edge], edge)

    def reachable(self, start: int, goal: int, price: float, edge: int | None = None) -> bool:
        """Tell whether a way, not through the hub nor along an edge, costs no more than a price."""
        most = price * ROUNDED_UP
        queue = [(0.0, start)]
        done = {self.hub} - {goal}
        while queue:
            away, here = heappop(queue)
            if here == goal:
                return True
            if here in done:
                continue
            done.add(here)
            for there, step in self.near[here].items():
                if step != edge and there not in done and away + self.price[step] <= most:
                    heappush(queue, (away + self.price[step], there))
        return False


def reduce(graph: HubGraph) -> Reduced:
    """Leave out what no best tour needs.

    An edge goes if a way round it is no dearer: taking that way instead keeps every vertex even
    and loses no connection. So does a run end at a quiet point, from which every way on would have
    done better to end later. Quiet points are folded away where few edges meet. A point is quiet
    if nothing is required there, or if an even number of required edges meet there and no edge
    leads away from their piece.

    Parameters
    ----------
    graph
        The full problem.

    Returns
    -------
    Reduced
        A problem with the same least cost.
    """
    web = _Web(graph)
    far: list[float] = _hub_distance(graph).tolist()
    _drop_dominated(web, far)
    _drop_inner_ends(web, graph)
    _drop_ends(web, graph, far)
    _fold(web, graph)
    kept = sorted(
        (a, b, edge) for a, row in enumerate(web.near) for b, edge in row.items() if a < b
    )
    edges = [edge for _, _, edge in kept]
    small = HubGraph(
        graph.vertices,
        graph.hub,
        np.array([a for a, _, _ in kept], dtype=np.int64),
        np.array([b for _, b, _ in kept], dtype=np.int64),
        np.array([web.price[edge] for edge in edges], dtype=np.float64),
        graph.odd,
        graph.piece,
    )
    return Reduced(small, tuple(web.ways[edge] for edge in edges))


def _hub_distance(graph: HubGraph) -> FloatArray:
    """Price of the cheapest way from each vertex to the hub, shape (vertices,)."""
    if graph.hub == graph.vertices:
        return np.full(graph.vertices, np.inf)
    price = np.maximum(graph.price, 1e-300)  # csgraph reads a zero as no edge
    web = coo_array((price, (graph.tail, graph.head)), shape=(graph.vertices, graph.vertices))
    return np.asarray(dijkstra(web.tocsr(), directed=False, indices=[graph.hub])[0])


def _drop_dominated(web: _Web, far: list[float]) -> None:
    """Remove edges that have a way round, dearest first."""
    for edge in sorted(range(len(web.ends)), key=lambda e: (-web.price[e], e)):
        a, b = web.ends[edge]
        price = web.price[edge]
        if b == web.hub:
            dominated = far[a] * ROUNDED_UP < price
        else:
            # The ways to the hub avoid this edge if they differ by less than its price.
            past_hub = far[a] + far[b] <= price * ROUNDED_UP and abs(far[a] - far[b]) < price
            dominated = past_hub or web.another_way(edge)
        if dominated:
            web.remove(edge)


def _drop_inner_ends(web: _Web, graph: HubGraph) -> None:
    """Remove run ends at quiet points of a piece where ends at all its other points cost no more.

    From a single end there a way leads on to one of the others, or to a second end of the piece;
    a double one may lie anywhere on its piece.
    """
    piece: list[int] = graph.piece.tolist()
    odd: list[bool] = graph.odd.tolist()
    inner: dict[int, list[int]] = {}
    dearest: dict[int, float] = {}
    for here, number in enumerate(piece):
        if number < 0 or here == web.hub:
            continue
        if _quiet(web, here, piece, odd):
            inner.setdefault(number, []).append(here)
        else:
            end = web.near[here].get(web.hub)
            price = inf if end is None else web.price[end]
            dearest[number] = max(dearest.get(number, 0.0), price)
    for number, points in inner.items():
        for here in points:
            end = web.near[here].get(web.hub)
            if end is not None and dearest.get(number, inf) <= web.price[end]:
                web.remove(end)


def _drop_ends(web: _Web, graph: HubGraph, far: list[float]) -> None:
    """Remove run ends at quiet points, where a run may as well go on to a better end.

    A single end there comes from some neighbour, which has a cheaper way to the hub; a double one
    joins a piece, and some other vertex of the piece has as cheap a way.
    """
    piece: list[int] = graph.piece.tolist()
    odd: list[bool] = graph.odd.tolist()
    members: dict[int, list[int]] = {}
    for vertex, number in enumerate(piece):
        members.setdefault(number, []).append(vertex)
    for here, row in enumerate(web.near):
        if here == web.hub or web.hub not in row or not _quiet(web, here, piece, odd):
            continue
        others = [(there, edge) for there, edge in row.items() if there != web.hub]
        if not others or not all(
            far[there] * ROUNDED_UP < web.price[edge] + far[here] for there, edge in others
        ):
            continue
        if piece[here] >= 0 and not any(
            far[there] <= far[here] for there in members[piece[here]] if there != here
        ):
            continue
        web.remove(row[web.hub])
        far[here] = min(far[there] + web.price[edge] for there, edge in others)


def _quiet(web: _Web, here: int, piece: list[int], odd: list[bool]) -> bool:
    """Tell whether a point neither has to be passed nor joins its piece to anything."""
    if piece[here] < 0:
        return True
    inside = all(piece[there] == piece[here] for there in web.near[here] if there != web.hub)
    return inside and not odd[here]


def _fold(web: _Web, graph: HubGraph) -> None:
    """Take out quiet points where that leaves no more edges than before.

    An even number of passes meets there, so a tour pairs them up as it goes through: each pair
    becomes one edge, and the tour hangs together as before. A dead end just goes.
    """
    piece: list[int] = graph.piece.tolist()
    odd: list[bool] = graph.odd.tolist()
    _fold_free(web, piece)
    todo = [v for v in range(len(web.near)) if _foldable(web, v, piece, odd)][::-1]
    while todo:
        here = todo.pop()
        around = sorted(web.near[here].items())
        if not around or not _foldable(web, here, piece, odd):
            continue
        if _replace(web, here, len(around)) is not None:
            todo += [v for v, _ in around[::-1]]


def _fold_free(web: _Web, piece: list[int]) -> None:
    """Take out points where nothing is required, while that leaves no more edges in all.

    What the linear program says of such points is weak. Those with the fewest edges go first, which
    makes room for others.
    """
    room = 0
    heap = [(len(web.near[v]), v) for v, number in enumerate(piece) if number < 0 and v != web.hub]
    heapify(heap)
    while heap:
        edges, here = heappop(heap)
        if edges != len(web.near[here]):
            heappush(heap, (len(web.near[here]), here))
        elif edges:
            room -= _replace(web, here, edges + room) or 0


def _replace(web: _Web, here: int, most: int) -> int | None:
    """Put an edge for each two edges at a point in their place, if that makes not too many.

    Gives how many edges more there are, or None if all stays as it was.
    """
    around = sorted(web.near[here].items())
    for _, edge in around:
        web.remove(edge)
    added = _paired(web, around)
    if len(added) <= most:
        return len(added) - len(around)
    for a, b in added:  # as before; what the pairs replaced had a way round
        web.remove(web.near[a][b])
    for there, edge in around:
        web.near[here][there] = web.near[there][here] = edge
    return None


def _foldable(web: _Web, here: int, piece: list[int], odd: list[bool]) -> bool:
    """Tell whether a point may be folded away."""
    most = 2 if piece[here] < 0 else 5
    held = here == web.hub or (piece[here] >= 0 and web.hub in web.near[here])
    return not held and len(web.near[here]) <= most and _quiet(web, here, piece, odd)


def _paired(web: _Web, around: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Add an edge for each two edges at a point, unless there is as cheap a way."""
    added = []
    pairs = sorted(
        (web.price[one] + web.price[two], a, b, web.ways[one] + web.ways[two])
        for k, (a, one) in enumerate(around)
        for b, two in around[k + 1 :]
    )
    for price, a, b, way in pairs:
        if not web.reachable(a, b, price):
            web.add(a, b, price, way)
            added.append((a, b))
    return added
