"""What going over each edge of a graph costs, and an end at each vertex: by length or by time."""

from collections.abc import Sequence
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from stitchpath.base.typing import Along, BoolArray, FloatArray, IntArray, Where
from stitchpath.design.model import Prices
from stitchpath.geometry.polylines import joined_paths
from stitchpath.hands.areas import GROUND
from stitchpath.hands.feet import ANY_FOOT, FEET
from stitchpath.hands.pace import KINDS
from stitchpath.hands.tariff import Tariff
from stitchpath.lines.line import SHOWN, Line
from stitchpath.network.passing import Passing

__all__ = [
    "Costs",
    "Edges",
    "Retrace",
    "headings",
    "nothing_in_passing",
    "passing_by_time",
    "price_by_length",
    "price_by_time",
]

Retrace: TypeAlias = Literal["never", "ditch", "allowed"]


class Edges(NamedTuple):
    """The edges of a graph, as it is priced.

    Attributes
    ----------
    paths
        Polyline of each.
    length
        mm, shape (m,).
    line, seam
        Line that each is, seam that it lies on, -1 for none; shape (m,).
    along
        For travel, what it runs along.
    """

    paths: Sequence[FloatArray]
    length: FloatArray
    line: IntArray
    seam: IntArray
    along: Sequence[Along | None]


class Costs(NamedTuple):
    """Of the first pass over each edge and of every other, (m,), and of an end, (n,)."""

    first: FloatArray
    again: FloatArray
    end: FloatArray


def price_by_length(
    edges: Edges,
    lines: Sequence[Line],
    prices: Prices,
    retrace: Retrace,
    ends: tuple[Sequence[Where], BoolArray, float],
) -> Costs:
    """Price a graph in mm of stitching.

    Parameters
    ----------
    edges, lines
        The edges, and what `edges.line` counts.
    prices, retrace
        What is weighed, and what may be gone over again.
    ends
        Where each vertex lies, whether a line through a piece meets it, and the margin, mm.
    """
    travel = [prices.travel_seam if a == "seam" else prices.travel_margin for a in edges.along]
    shown = _shown(edges, lines)
    again = np.where(shown, prices.retrace_shown, prices.retrace_ditch)
    again = np.where(edges.line < 0, travel, again) * edges.length
    where, on_piece, margin = ends
    each: dict[Where, float] = {"inside": prices.end_inside, "margin": prices.end_margin}
    # With no margin the edge is what the binding will cover: nothing to secure there either.
    each["edge"] = each["inside" if margin > 0 else "margin"]
    end = np.array([each[w] for w in where])
    inside = np.array([w == "inside" for w in where], dtype=bool)
    # An end within a piece is dearer than one elsewhere: she goes out, does each twig, comes back.
    end[inside & on_piece] = prices.end_piece
    return Costs(edges.length, _forbidden(again, edges, shown, retrace), end)


def price_by_time(
    edges: Edges,
    lines: Sequence[Line],
    tariff: Tariff,
    retrace: Retrace,
    ends: tuple[Sequence[Where], BoolArray, tuple[int, str]],
) -> tuple[Costs, IntArray]:
    """Price a graph in seconds.

    Parameters
    ----------
    edges, lines, retrace, ends
        As for `price_by_length`, with stage and thread in place of the margin.
    tariff
        What everything takes.

    Returns
    -------
    Costs, and the foot of each edge, shape (m,).
    """
    where, on_piece, key = ends
    code = {kind: number for number, kind in enumerate(KINDS)}
    kind = np.array([code[lines[i].kind if i >= 0 else "travel"] for i in edges.line.tolist()])
    foot = np.where(edges.line >= 0, tariff.foot[edges.line], tariff.travel_foot[key])
    seconds = edges.length / tariff.speed[foot, kind] + tariff.corners(edges.paths, foot)
    shown = _shown(edges, lines)
    again = seconds * np.where(shown, 1 + tariff.looks.again, 1.0)
    each = {
        (w, on): tariff.end(w) + tariff.end_shows(w, on_piece=on)
        for w in sorted(set(where))
        for on in (False, True)
    }
    end = np.array([each[w, on] for w, on in zip(where, on_piece.tolist(), strict=True)])
    return Costs(seconds, _forbidden(again, edges, shown, retrace), end), foot


def _shown(edges: Edges, lines: Sequence[Line]) -> BoolArray:
    return np.array([i >= 0 and lines[i].kind in SHOWN for i in edges.line.tolist()], dtype=bool)


def _forbidden(again: FloatArray, edges: Edges, shown: BoolArray, retrace: Retrace) -> FloatArray:
    if retrace == "never":
        return np.where(edges.line >= 0, np.inf, again)
    return np.where(shown, np.inf, again) if retrace == "ditch" else np.asarray(again)


def headings(paths: Sequence[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Give unit vectors along which paths leave their tails and their heads, shapes (m, 2)."""
    first, flat = joined_paths(paths)
    last = np.append(first[1:], len(flat)) - 1
    both = []
    for way in (flat[first + 1] - flat[first], flat[last - 1] - flat[last]):
        size = np.hypot(way[:, 0], way[:, 1])[:, None]
        both.append(np.where(size > 0, way / np.where(size > 0, size, 1), [1.0, 0.0]))
    return both[0], both[1]


def nothing_in_passing(edges: int, vertices: int) -> Passing:
    """Price no passage: lines priced by length."""
    feet = len(FEET)
    return Passing(
        np.full(edges, GROUND, dtype=np.int64),
        np.full(edges, ANY_FOOT, dtype=np.int64),
        np.full(2 * edges, np.nan),
        np.zeros(feet),
        np.zeros((feet, vertices)),
        0.0,
        0.0,
    )


def passing_by_time(
    edges: Edges, feet: tuple[IntArray, IntArray], points: FloatArray, tariff: Tariff
) -> Passing:
    """Price turns, returns and changes of foot.

    Parameters
    ----------
    edges, feet
        The edges, with which foot each is stitched, and which is on as it is walked.
    points
        Vertices, shape (n, 2), mm.
    tariff
        What everything takes.
    """
    tail, head = headings(edges.paths)
    ways = np.stack([tail, head], axis=1).reshape(-1, 2)
    areas = tariff.areas
    area = np.full(len(edges.line), GROUND, dtype=np.int64)
    ditch = (edges.line < 0) & (edges.seam >= 0)
    area[ditch] = areas.seam[edges.seam[ditch]]
    area[edges.line >= 0] = areas.line[edges.line[edges.line >= 0]]
    return Passing(
        area,
        feet[0],
        np.degrees(np.arctan2(ways[:, 1], ways[:, 0])),
        tariff.stop,
        tariff.half_turn(points),
        tariff.pace.come_back,
        tariff.pace.foot,
        feet[1],
    )
