"""Noded lines and travel lines to graphs: one for each stage and thread.

In a frame each is then parted by the windows that it shows (`network/parting.py`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import LineString, Polygon

from stitchpath.base.typing import Along, BoolArray, FloatArray, IntArray, Where
from stitchpath.design.model import Design, Prices
from stitchpath.geometry.polylines import distances, on_grid, path_lengths
from stitchpath.geometry.tolerances import BOTH_ROUNDED, GRID
from stitchpath.hands.areas import GROUND
from stitchpath.hands.feet import ANY_FOOT
from stitchpath.hands.tariff import Tariff, tariff_of
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.frame.windows import way_round
from stitchpath.lines.line import Line, by_stage_and_thread
from stitchpath.lines.threads import may_travel
from stitchpath.network.passing import Passing
from stitchpath.network.prices import (
    Edges,
    Retrace,
    nothing_in_passing,
    passing_by_time,
    price_by_length,
    price_by_time,
)
from stitchpath.top.build import Top

__all__ = ["Network", "Terms", "build_network", "build_networks", "travelling_groups"]

_AT_EDGE = GRID * (1 + 1e-6)  # a place one step of the grid beyond the edge is on it


@dataclass(frozen=True, slots=True)
class Network:
    """The graph of one stage and thread.

    Attributes
    ----------
    stage, thread
        What it is for.
    points
        Vertices, shape (n, 2), mm.
    tail, head
        Ends of each edge, shape (m,).
    paths
        Polyline of each edge, from tail to head.
    line
        Index of the line that the edge is, -1 where it is travel.
    seam
        Number of the seam of the top that it lies on, which it runs the way of; else -1.
    along
        For travel, what it runs along; None for lines.
    length
        mm, shape (m,).
    first
        Price of the first pass over it where it has to be stitched, in `unit`, shape (m,).
    again
        Price of going over it when it need not be (again), shape (m,); inf where forbidden.
    end
        Price of an end at each vertex, shape (n,).
    where
        "inside", "edge" or "margin", for each vertex.
    required
        Which edges have to be stitched, shape (m,).
    passing
        What it costs to pass from one edge to the next: turns, areas and feet.
    unit
        What prices are in: "s" at her pace, or "mm" of stitching.
    window
        In a frame, the window that it is stitched in, from 1 at the edge that is loaded first; else
        0.
    axis
        1 where the quilt is rolled along y, 0 where it is loaded sideways.
    """

    stage: int
    thread: str
    points: FloatArray
    tail: IntArray
    head: IntArray
    paths: tuple[FloatArray, ...]
    line: IntArray
    seam: IntArray
    along: tuple[Along | None, ...]
    length: FloatArray
    first: FloatArray
    again: FloatArray
    end: FloatArray
    where: tuple[Where, ...]
    required: BoolArray
    passing: Passing
    unit: Literal["s", "mm"] = "mm"
    window: int = 0
    axis: int = 1

    @property
    def area(self) -> IntArray:
        """Number of the area that each edge lies in, `GROUND` where it lies between, (m,)."""
        return self.passing.area

    @property
    def foot(self) -> IntArray:
        """With which foot each edge is stitched, its index in `FEET`, or `ANY_FOOT`; (m,)."""
        return self.passing.foot

    def first_visits(self, required: BoolArray) -> float:
        """Price of coming once to each area where something is stitched: that is no return.

        Parameters
        ----------
        required
            What is to be stitched, shape (m,).
        """
        areas = np.unique(self.area[: len(required)][required])
        return self.passing.visit * int((areas != GROUND).sum())


def build_networks(
    design: Design,
    top: Top,
    lines: Sequence[Line],
    ways: Mapping[tuple[int, str], Sequence[SeamBit]],
) -> list[Network]:
    """Build the graph of each stage and thread, in the order of stitching.

    Parameters
    ----------
    design, top
        The design and its top: prices, margin, which threads may travel along seams.
    lines, ways
        Noded (`node_lines`).
    """
    groups = by_stage_and_thread(lines)
    order = {name: k for k, name in enumerate(design.threads)}
    travelling = travelling_groups(design, lines)
    keys = sorted(groups, key=lambda key: (key[0], order.get(key[1], 0)))
    tariff = tariff_of(design, top, lines) if design.priced_by == "time" else None
    terms = Terms(design.prices, design.route.retrace, design.batting.margin, tariff)
    return [
        build_network(
            key,
            lines,
            groups[key],
            ways[key] if key in travelling else None,
            top.outline,
            terms,
        )
        for key in keys
    ]


def travelling_groups(design: Design, lines: Sequence[Line]) -> set[tuple[int, str]]:
    """Tell which stages and threads may go along seams: those that stitch ditch, or by her word.

    Parameters
    ----------
    design, lines
        The design, and its lines.
    """
    ditch = {(line.stage, line.thread) for line in lines if line.kind == "ditch"}
    found = set()
    for key in {(line.stage, line.thread) for line in lines}:
        if may_travel(design, key[1], ditch=key in ditch and key[0] == 1):
            found.add(key)
    return found


@dataclass(frozen=True, slots=True)
class Terms:
    """What a route costs and what it may do.

    Attributes
    ----------
    prices
        Of ends, ways and second passes, mm of stitching; not asked where there is a tariff.
    retrace
        Which lines may be stitched over again: "never", "ditch" or "allowed".
    margin
        Batting beyond the outline in which a run may start, stop and travel, mm.
    tariff
        What everything takes, where time is the price.
    """

    prices: Prices | None
    retrace: Retrace
    margin: float
    tariff: Tariff | None = None


@dataclass(slots=True)
class _Edges:
    paths: list[FloatArray]
    line: list[int]
    seam: list[int]
    along: list[Along | None]
    on: list[int]  # the foot that is on, for ways where there are several

    def add(
        self,
        path: FloatArray,
        along: Along | None,
        line: int = -1,
        seam: int = -1,
        on: int = ANY_FOOT,
    ) -> None:
        self.paths.append(path)
        self.seam.append(seam)
        self.along.append(along)
        self.line.append(line)
        self.on.append(on)

    def carry(self, feet: Sequence[int]) -> None:
        """Let every way stand once for each foot: she goes along it with the one that is on."""
        ways = [k for k, line in enumerate(self.line) if line < 0]
        for k in ways:
            self.on[k] = feet[0]
        for foot in feet[1:]:
            for k in ways:
                self.add(self.paths[k], self.along[k], seam=self.seam[k], on=foot)


def build_network(
    key: tuple[int, str],
    lines: Sequence[Line],
    members: Sequence[int],
    ways: Sequence[SeamBit] | None,
    outline: Polygon | None,
    terms: Terms,
) -> Network:
    """Build one graph.

    Parameters
    ----------
    key
        Stage and thread.
    lines, members
        Lines, noded, and which of them are to be stitched.
    ways
        Seams to travel along, noded with the lines; None where no thread may travel along seams.
    outline
        The finished edge; None where there is none, and all is inside.
    terms
        Prices, retracing and the margin.
    """
    edges = _Edges([], [], [], [], [])
    feet = _several_feet(members, terms)
    for i in members:
        edges.add(lines[i].points, None, i, lines[i].seam)
    for way in ways or ():
        edges.add(way.points, "seam", seam=way.seam)
    if ways is not None and feet and terms.retrace != "never":
        # back along a ditch with whichever foot is on
        for line in (lines[i] for i in members):
            if line.kind == "ditch" and line.seam >= 0:
                edges.add(line.points, "seam", seam=line.seam)
    if outline is not None:
        ends = np.array([p for path in edges.paths for p in (path[0], path[-1])])
        points = np.unique(np.rint(ends / GRID), axis=0) * GRID
        on_edge = np.asarray(shapely.dwithin(outline.exterior, shapely.points(points), _AT_EDGE))
        if terms.margin > 0:
            _add_margin(edges, outline, points[on_edge], terms.margin)
        else:
            _add_ring(edges, np.array(outline.exterior.coords), points[on_edge], "edge")
    if feet:
        edges.carry(feet)
    return _assemble(key, lines, edges, outline, terms)


def _several_feet(members: Sequence[int], terms: Terms) -> list[int]:
    """Give the feet that stitch the lines, where there are several; else none."""
    feet = [] if terms.tariff is None else np.unique(terms.tariff.foot[list(members)]).tolist()
    return feet if len(feet) > 1 else []


def _add_margin(edges: _Edges, outline: Polygon, doors: FloatArray, margin: float) -> None:
    """Lead every place where a line reaches the edge out to a way round in the margin."""
    if len(doors) == 0:
        return
    exterior = way_round(outline, margin).exterior
    out = shapely.line_interpolate_point(
        exterior, shapely.line_locate_point(exterior, shapely.points(doors))
    )
    outer = np.rint(shapely.get_coordinates(out) / GRID) * GRID
    spokes = np.stack([doors, outer], axis=1)
    inner = shapely.intersection(shapely.linestrings(spokes), outline.buffer(-BOTH_ROUNDED))
    clear = shapely.length(inner) == 0  # in a notch of the edge the way out may lead over the top
    for spoke in spokes[clear]:
        edges.add(spoke, "margin")
    _add_ring(edges, np.array(exterior.coords), outer[clear], "margin")


def _add_ring(edges: _Edges, ring: FloatArray, stops: FloatArray, along: Along) -> None:
    """Add the ways from each stop on a closed ring to the next."""
    stops = np.unique(np.rint(stops / GRID), axis=0) * GRID
    if len(stops) < 2:  # noqa: PLR2004 - from one place there is nowhere to go
        return
    line = LineString(ring)
    vertex = distances(ring)
    at = np.asarray(shapely.line_locate_point(line, shapely.points(stops)))
    order = np.argsort(at, kind="stable")
    at, stops = at[order], stops[order]
    for k in range(len(stops)):
        n = (k + 1) % len(stops)
        if n:
            between = ring[(vertex > at[k] + BOTH_ROUNDED) & (vertex < at[n] - BOTH_ROUNDED)]
        else:  # over the place where the ring begins
            between = np.concatenate(
                [
                    ring[:-1][vertex[:-1] > at[k] + BOTH_ROUNDED],
                    ring[:-1][vertex[:-1] < at[n] - BOTH_ROUNDED],
                ]
            )
        path = np.concatenate([stops[k : k + 1], between, stops[n : n + 1]])
        edges.add(on_grid(path), along)


def _assemble(
    key: tuple[int, str],
    lines: Sequence[Line],
    edges: _Edges,
    outline: Polygon | None,
    terms: Terms,
) -> Network:
    ends = np.array([p for path in edges.paths for p in (path[0], path[-1])])
    grid, index = np.unique(np.rint(ends / GRID), axis=0, return_inverse=True)
    index = index.ravel().astype(np.int64)
    points = grid * GRID
    where = _where(points, outline)
    line = np.array(edges.line, dtype=np.int64)
    seam = np.array(edges.seam, dtype=np.int64)
    laid = Edges(edges.paths, path_lengths(edges.paths), line, seam, edges.along)
    centre = np.array([i >= 0 and lines[i].kind == "centre" for i in line], dtype=bool)
    on_piece = np.zeros(len(points), dtype=bool)
    on_piece[index.reshape(-1, 2)[centre]] = True
    if terms.tariff is None:
        costs = price_by_length(
            laid, lines, terms.prices or Prices(), terms.retrace, (where, on_piece, terms.margin)
        )
        passing = nothing_in_passing(len(line), len(points))
    else:
        costs, foot = price_by_time(
            laid, lines, terms.tariff, terms.retrace, (where, on_piece, key)
        )
        on = np.where(line >= 0, foot, np.array(edges.on, dtype=np.int64))
        passing = passing_by_time(laid, (foot, on), points, terms.tariff)
    return Network(
        stage=key[0],
        thread=key[1],
        points=points,
        tail=index[0::2],
        head=index[1::2],
        paths=tuple(edges.paths),
        line=line,
        seam=seam,
        along=tuple(edges.along),
        length=laid.length,
        first=costs.first,
        again=costs.again,
        end=costs.end,
        where=where,
        required=line >= 0,
        passing=passing,
        unit="mm" if terms.tariff is None else "s",
    )


def _where(points: FloatArray, outline: Polygon | None) -> tuple[Where, ...]:
    everywhere: Where = "inside"
    if outline is None:
        return (everywhere,) * len(points)
    shapes = shapely.points(points)
    edge = shapely.dwithin(outline.exterior, shapes, _AT_EDGE)
    shapely.prepare(outline)
    inside = shapely.contains(outline, shapes)
    names: tuple[Where, ...] = ("margin", "inside", "edge")
    return tuple(names[k] for k in np.where(edge, 2, inside))
