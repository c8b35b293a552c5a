"""Graphs to networkx and back; inside, arrays stay: a top of 160,000 lines is routed in seconds."""

from collections.abc import Hashable
from typing import Any

import networkx as nx
import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray, Where
from stitchpath.design.model import Prices
from stitchpath.geometry.polylines import path_lengths
from stitchpath.network.graph import Network
from stitchpath.network.prices import nothing_in_passing

__all__ = ["network_from_networkx", "network_to_networkx"]


def network_to_networkx(network: Network) -> nx.MultiGraph:
    """Give the graph of a stage and thread as an undirected multigraph.

    Parameters
    ----------
    network
        The graph.

    Returns
    -------
    networkx.MultiGraph
        Nodes are vertex numbers with `pos` (x, y in mm, y down), `where` ("inside", "edge",
        "margin") and `end`, the price of a run's end there. Edges are keyed by their number and
        carry `length` (mm), `required`, `again` (the price of going over it when it need not be),
        `line` (-1 for travel), `along` and `points`, shape (n, 2).

    Examples
    --------
    >>> import networkx as nx
    >>> ring = nx.cycle_graph(4)
    >>> nx.set_node_attributes(ring, {0: (0, 0), 1: (50, 0), 2: (50, 50), 3: (0, 50)}, "pos")
    >>> network, nodes = network_from_networkx(ring)
    >>> network_to_networkx(network).size(weight="length")
    200.0
    """
    graph = nx.MultiGraph()
    for k, (at, where, end) in enumerate(
        zip(network.points.tolist(), network.where, network.end.tolist(), strict=True)
    ):
        graph.add_node(k, pos=tuple(at), where=where, end=end)
    ends = zip(network.tail.tolist(), network.head.tolist(), strict=True)
    for e, (tail, head) in enumerate(ends):
        graph.add_edge(
            tail,
            head,
            key=e,
            length=float(network.length[e]),
            required=bool(network.required[e]),
            again=float(network.again[e]),
            line=int(network.line[e]),
            along=network.along[e],
            points=network.paths[e],
        )
    return graph


def network_from_networkx(
    graph: nx.Graph, prices: Prices | None = None
) -> tuple[Network, list[Hashable]]:
    """Make a graph to route out of one of networkx.

    Parameters
    ----------
    graph
        Undirected. Of a node are read `pos`, or `x` and `y` (mm), and `end`, the price of a run's
        end there. Of an edge are read `length` (mm, else the distance of its nodes), `required`
        (True unless said), `again` (the price of going over it when it need not be) and `points`
        (else straight). Where no node has a place, they are laid on a circle for drawing only:
        then every edge needs its length.
    prices
        For what the graph does not say: `end_inside`, `retrace_shown` for a required edge,
        `travel_seam` for another, both times the length.

    Returns
    -------
    network, nodes
        The graph, and the node that each vertex stands for.

    Raises
    ------
    StitchpathError
        When the graph is directed or empty, or an edge or node lacks what is needed.

    Examples
    --------
    >>> import networkx as nx
    >>> quay = nx.Graph()
    >>> quay.add_edge("light", "mole", length=80)
    >>> quay.add_edge("mole", "market", length=70, required=False)
    >>> network, nodes = network_from_networkx(quay)
    >>> nodes, network.required.tolist()
    (['light', 'mole', 'market'], [True, False])
    """
    if graph.is_directed() or not graph.number_of_edges():
        raise StitchpathError(
            f"graph: found {_told(graph)}, expected an undirected one with at least one edge"
        )
    prices = prices or Prices()
    nodes: list[Hashable] = list(graph.nodes)
    number = {node: k for k, node in enumerate(nodes)}
    points, laid = _places(graph, nodes)
    edges = list(graph.edges(data=True))
    ends = np.array([(number[a], number[b]) for a, b, _ in edges], dtype=np.int64)
    paths = tuple(_path(points, pair, data) for pair, (*_, data) in zip(ends, edges, strict=True))
    lengths = [_length(path, edge, laid=laid) for path, edge in zip(paths, edges, strict=True)]
    required = np.array([bool(data.get("required", True)) for *_, data in edges])
    again = [
        _price(data.get("again", length * (prices.retrace_shown if must else prices.travel_seam)))
        for length, must, (*_, data) in zip(lengths, required.tolist(), edges, strict=True)
    ]
    inside: Where = "inside"
    network = Network(
        stage=1,
        thread="thread",
        points=points,
        tail=ends[:, 0],
        head=ends[:, 1],
        paths=paths,
        line=np.where(required, np.cumsum(required) - 1, -1),
        along=tuple(None if must else "seam" for must in required.tolist()),
        length=np.array(lengths),
        first=np.array(lengths),
        again=np.array(again),
        end=np.array([_price(graph.nodes[n].get("end", prices.end_inside)) for n in nodes]),
        where=(inside,) * len(nodes),
        required=required,
        seam=np.full(len(edges), -1),
        passing=nothing_in_passing(len(edges), len(nodes)),
    )
    return network, nodes


def _told(graph: nx.Graph) -> str:
    way = "a directed graph" if graph.is_directed() else "a graph"
    return f"{way} of {graph.number_of_edges()} edges"


def _places(graph: nx.Graph, nodes: list[Hashable]) -> tuple[FloatArray, bool]:
    """Read where the nodes lie, and whether they do."""
    read = [_place(graph.nodes[node]) for node in nodes]
    if any(place is None for place in read):
        lost = [n for n, place in zip(nodes, read, strict=True) if place is None]
        if len(lost) < len(nodes):
            raise StitchpathError(
                f"graph: node {str(lost[0])[:40]!r} has no place, expected 'pos' or 'x' and 'y'"
            )
        turn = np.linspace(0, 2 * np.pi, len(nodes), endpoint=False)
        return 100 * np.column_stack([np.cos(turn), np.sin(turn)]), False
    return np.array(read, dtype=np.float64), True


def _place(data: dict[str, Any]) -> tuple[float, float] | None:
    pos = data.get("pos")
    if pos is None and "x" in data and "y" in data:
        pos = (data["x"], data["y"])
    if pos is None:
        return None
    x, y = (float(v) for v in pos)
    if not np.isfinite([x, y]).all():
        raise StitchpathError(f"graph: found the place {pos}, expected two finite numbers in mm")
    return x, y


def _path(points: FloatArray, ends: Any, data: dict[str, Any]) -> FloatArray:  # noqa: ANN401
    drawn = data.get("points")
    if drawn is None:
        straight: FloatArray = points[ends]
        return straight
    path = np.asarray(drawn, dtype=np.float64)
    turned = not np.allclose(path[0], points[ends[0]], atol=1e-3)
    return path[::-1].copy() if turned else path


def _length(path: FloatArray, edge: tuple[Any, Any, dict[str, Any]], *, laid: bool) -> float:
    tail, head, data = edge
    if "length" in data:
        length = float(data["length"])
    elif laid:
        length = float(path_lengths([path])[0])
    else:
        length = float("nan")
    if not 0 <= length < float("inf"):
        raise StitchpathError(
            f"graph: found no length on the edge from {str(tail)[:40]!r} to {str(head)[:40]!r}, "
            "expected 'length' in mm, or places of its nodes"
        )
    return length


def _price(value: object) -> float:
    price = float(value)  # type: ignore[arg-type]
    if not price >= 0:
        raise StitchpathError(f"graph: found the price {value}, expected 0 or more")
    return price
