"""Route lines of one's own, without a design: shapely lines, arrays, paths or a graph."""

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from pydantic import ValidationError
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError, shown, unknown_name
from stitchpath.base.typing import FloatArray
from stitchpath.design.model import Prices
from stitchpath.design.outlines import flatten_path
from stitchpath.geometry.tolerances import GRID, SAME_PLACE
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.line import Line
from stitchpath.network.as_networkx import network_from_networkx, network_to_networkx
from stitchpath.network.graph import Network, Terms, build_network
from stitchpath.network.noding import node_lines
from stitchpath.route.effort import Effort, checked_limit
from stitchpath.route.router import route
from stitchpath.route.runs import Proof, Run
from stitchpath.route.shown import Shown
from stitchpath.top.place import Subject

if TYPE_CHECKING:
    import networkx as nx

__all__ = ["RoutedLines", "route_lines"]

_FLATNESS = 0.01  # mm: how far a chord may lie from the curve of a path object
_FAR = 1e6  # mm: as far out as a design may reach


@dataclass(frozen=True, eq=False, repr=False)
class RoutedLines(Shown):
    """Lines of one's own, routed.

    Attributes
    ----------
    name
        What to call them.
    lines
        The lines, noded: cut where they cross or touch, so that two of them meet only at ends.
    runs
        Unbroken thread paths in stitching order; each leg tells its line, by number.
    proof
        What the runs cost, in mm of stitching, the bound below which none can go, and whether the
        two meet.
    source
        For each line, the number of the one given that it is a piece of.
    outline
        The boundary given, if any.
    network
        The graph that was routed.
    nodes
        When a networkx graph was given, its node for each vertex of the network; else empty.
    """

    name: str
    lines: tuple[Line, ...]
    runs: tuple[Run, ...]
    proof: Proof
    source: tuple[int, ...]
    outline: shapely.Polygon | None
    network: Network
    nodes: tuple[Hashable, ...] = ()

    def network_to_networkx(self) -> "nx.MultiGraph":
        """Give the graph that was routed; see `stitchpath.network_to_networkx`.

        Returns
        -------
        networkx.MultiGraph
            Its edges with lengths, `required` where they have to be stitched.

        Examples
        --------
        >>> import stitchpath
        >>> routed = stitchpath.route_lines([[(0, 0), (50, 0)], [(50, 0), (50, 30)]])
        >>> routed.network_to_networkx().size(weight="length")
        80.0
        """
        return network_to_networkx(self.network)


def route_lines(
    lines: Any,  # noqa: ANN401 - whatever holds lines
    *,
    travel: Any = (),  # noqa: ANN401
    prices: Prices | Mapping[str, float] | None = None,
    boundary: shapely.Polygon | None = None,
    margin: float = 0.0,
    time_limit: float = 10.0,
    name: str = "lines",
) -> RoutedLines:
    """Find the cheapest set of runs over lines, with its proof.

    Parameters
    ----------
    lines
        What has to be stitched, mm, y pointing down: shapely lines or rings, arrays of shape
        (n, 2), `svgpathtools` paths, a list of any of these, a GeoSeries or GeoDataFrame; or an
        undirected networkx graph (see `stitchpath.network_from_networkx`), which is routed as it
        is, with no boundary and no further ways of travel. A path or shape is flattened to
        0.01 mm.
    travel
        Ways that need no stitching but may be gone over, in the same forms; they are cut where
        they cross the lines.
    prices
        What the router weighs, mm of stitching: keys `end_inside`, `end_margin`, `travel_margin`,
        `travel_seam`, `retrace_shown`; a plain mapping will do. Ways of travel cost `travel_seam`
        times their length, a second pass over a line `retrace_shown` times.
    boundary
        Where the lines lie: ends on it, and a way along it, cost what the margin costs. No line
        may lead farther out than `margin`.
    margin
        How far stitching may go beyond the boundary, mm.
    time_limit
        Seconds of work for the proof.
    name
        What to call it in pictures.

    Returns
    -------
    RoutedLines
        The runs in stitching order, with their proof. Draw it with `plot`; give it to other
        libraries with `to_networkx` and `to_geodataframe`.

    Raises
    ------
    StitchpathError
        When nothing is to be stitched, a coordinate is not finite, a line leads out of the
        boundary, or a price or the time is none.

    Examples
    --------
    >>> import shapely, stitchpath
    >>> sail = shapely.LinearRing([(0, 0), (40, 60), (0, 60)])
    >>> boom = shapely.LineString([(-10, 60), (50, 60)])
    >>> routed = stitchpath.route_lines([sail, boom], prices={"end_inside": 100})
    >>> len(routed.runs), routed.proof.optimal
    (1, True)
    """
    weighed = _prices(prices)
    effort = Effort(checked_limit(time_limit))
    if hasattr(lines, "nodes") and hasattr(lines, "edges"):
        return _route_graph(lines, weighed, effort, name)
    if boundary is not None and (
        not isinstance(boundary, shapely.Polygon) or boundary.is_empty or not boundary.is_valid
    ):
        raise StitchpathError("boundary: found an area that is no valid polygon, expected one")
    given = [
        Line("drawn", 1, "thread", path, Subject(pieces=(k,))) for k, path in _paths(lines, "lines")
    ]
    if not given:
        raise StitchpathError("lines: found nothing to stitch, expected at least one line")
    if boundary is not None:
        _check_within(given, boundary.buffer(margin))
    ways = [SeamBit(k, path) for k, path in _paths(travel, "travel")]
    noded, free = node_lines(given, ways)
    network = build_network(
        (1, "thread"),
        noded,
        range(len(noded)),
        free[1, "thread"],
        boundary,
        Terms(weighed, "allowed", margin),
    )
    return _routed(name, noded, network, effort, boundary)


def _check_within(lines: Sequence[Line], area: shapely.Polygon) -> None:
    shapes = np.array([shapely.LineString(line.points) for line in lines])
    outside = np.flatnonzero(~shapely.covers(area.buffer(SAME_PLACE), shapes))
    if len(outside):
        first = int(outside[0])
        beyond = shapely.length(shapely.difference(shapes[first], area))
        raise StitchpathError(
            f"lines[{lines[first].of.pieces[0]}]: found {beyond:.4g} mm of it outside of the "
            "boundary, expected it within"
        )


def _routed(
    name: str,
    lines: Sequence[Line],
    network: Network,
    effort: Effort,
    boundary: shapely.Polygon | None,
    nodes: Sequence[Hashable] = (),
) -> RoutedLines:
    centre = network.points.mean(axis=0)
    (routed,) = route(network, lines, (float(centre[0]), float(centre[1])), effort=effort)
    source = tuple(line.of.pieces[0] for line in lines)
    return RoutedLines(
        name, tuple(lines), routed.runs, routed.proof, source, boundary, network, tuple(nodes)
    )


def _route_graph(graph: "nx.Graph", prices: Prices, effort: Effort, name: str) -> RoutedLines:
    network, nodes = network_from_networkx(graph, prices)
    required = np.flatnonzero(network.required).tolist()
    lines = [Line("drawn", 1, "thread", network.paths[e], Subject(pieces=(e,))) for e in required]
    return _routed(name, lines, network, effort, None, nodes)


def _prices(prices: Prices | Mapping[str, float] | None) -> Prices:
    if prices is None or isinstance(prices, Prices):
        return prices or Prices()
    if not isinstance(prices, Mapping):
        raise StitchpathError(f"prices: found {shown(prices)}, expected names and numbers")
    try:
        return Prices.model_validate(dict(prices))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        if key not in Prices.model_fields:
            raise unknown_name("prices", "price", key, Prices.model_fields) from None
        raise StitchpathError(
            f"prices.{key}: found {shown(first['input'])}, expected a number from 0 to a million"
        ) from None


def _paths(given: Any, what: str) -> Iterator[tuple[int, FloatArray]]:  # noqa: ANN401
    """Take whatever holds lines apart into polylines, with the number of the one given."""
    if hasattr(given, "geometry") and not isinstance(given, BaseGeometry):
        given = given.geometry  # of a GeoDataFrame or a GeoSeries
    if isinstance(given, BaseGeometry) or _is_path(given) or isinstance(given, np.ndarray):
        given = [given]
    if not isinstance(given, Iterable) or isinstance(given, str):
        raise StitchpathError(f"{what}: found {shown(given)}, expected a list of lines")
    for k, one in enumerate(given):
        for points in _polylines(one, f"{what}[{k}]"):
            if not np.isfinite(points).all() or np.abs(points).max() > _FAR:
                raise StitchpathError(
                    f"{what}[{k}]: found a point that is not finite or farther out than 1 km, "
                    "expected mm"
                )
            if np.ptp(points, axis=0).max() > GRID:
                yield k, points


def _polylines(one: Any, where: str) -> Iterator[FloatArray]:  # noqa: ANN401
    if _is_path(one):
        if len(one):
            yield from flatten_path(one.d(), where, _FLATNESS)
        return
    if isinstance(one, BaseGeometry):
        parts = [
            p.boundary if p.geom_type == "Polygon" else p for p in shapely.get_parts(one).tolist()
        ]
        for part in shapely.get_parts(parts).tolist():
            if part.geom_type not in ("LineString", "LinearRing"):
                raise StitchpathError(f"{where}: found a {part.geom_type}, expected lines")
            if not part.is_empty:
                yield shapely.get_coordinates(part)
        return
    try:
        points = np.asarray(one, dtype=np.float64)
    except (TypeError, ValueError):  # words, or rows of several lengths
        raise StitchpathError(
            f"{where}: found {shown(one)}, expected points, shape (n, 2)"
        ) from None
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2:  # noqa: PLR2004
        raise StitchpathError(
            f"{where}: found an array of shape {points.shape}, expected points, shape (n, 2)"
        )
    yield points


def _is_path(one: Any) -> bool:  # noqa: ANN401
    """Tell a path object of svgpathtools, without needing the library."""
    return hasattr(one, "continuous_subpaths")
