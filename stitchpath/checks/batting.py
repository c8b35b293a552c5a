"""Does the batting hold: loose ground by name, and how evenly dense the quilting is."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.design.model import Design
from stitchpath.findings import Check
from stitchpath.geometry.empty_circles import (
    LoosePlace,
    density,
    loose_places,
    uneven_neighbours,
    widest_gap,
)
from stitchpath.lines.line import Line
from stitchpath.top.build import Top
from stitchpath.top.place_names import Places, join_words
from stitchpath.units import format_count, format_length

__all__ = [
    "LooseGround",
    "check_batting",
    "ground_words",
    "loose_ground",
    "loose_of",
    "region_densities",
    "widest_place",
]

_NAMED = 20  # so many blocks with the same loose ground are named; the rest are counted
_LISTED = 20  # so many uneven neighbours are named; the rest are counted


@dataclass(frozen=True, slots=True)
class LooseGround:
    """Loose places that are alike: in patches of one name in the same block, wherever it lies.

    Strips of sashing, cornerstones, setting triangles and borders are alike where their fabric and
    their shape are the same.

    Attributes
    ----------
    patches
        Indices of the patches that hold their middles, that of the widest first.
    place
        The widest.
    count
        How many circles there are.
    """

    patches: tuple[int, ...]
    place: LoosePlace
    count: int


def loose_of(design: Design, top: Top, lines: Sequence[Line]) -> list[LoosePlace]:
    """Find every circle without stitching that is wider than the batting allows.

    Returns
    -------
    list of LoosePlace
        The biggest first; empty where the design does not name its batting.
    """
    limit = design.batting.holds
    if limit is None:
        return []
    return loose_places(top.outline, [line.points for line in lines], limit)


def loose_ground(
    top: Top, places: Sequence[LoosePlace], words: Places | None = None
) -> list[LooseGround]:
    """Sort loose places by the patches they lie in, and those by their likeness.

    Parameters
    ----------
    top
        The finished top.
    places
        The biggest first (`loose_of`).
    words
        For the places of the top, where they are at hand.

    Returns
    -------
    list of LooseGround
        The widest first.
    """
    if not places:
        return []
    centres = shapely.points([(p.x, p.y) for p in places])
    tree = shapely.STRtree([p.polygon for p in top.patches])
    at, within = tree.query(centres, predicate="dwithin", distance=1e-6)
    block_at = {b.place: b.block.name for b in top.blocks}
    words = words or Places(top)
    alike: dict[tuple[object, ...], list[tuple[int, int]]] = {}
    seen: set[int] = set()
    for k, i in sorted(zip(at.tolist(), within.tolist(), strict=True)):
        if k not in seen:  # a centre on a seam lies in two patches: the first has it
            seen.add(k)
            patch = top.patches[i]
            key: tuple[object, ...] = block_at.get(patch.place), words.patch(i)
            if patch.part != "block":
                key = patch.part, patch.fabric, *_size(patch.polygon)
            alike.setdefault(key, []).append((k, i))
    return [
        LooseGround(tuple(dict.fromkeys(i for _, i in found)), places[found[0][0]], len(found))
        for found in alike.values()
    ]


def _size(polygon: Polygon) -> tuple[float, float]:
    """Tell shapes apart, however they are turned: area and way round."""
    return round(polygon.area), round(polygon.length, 1)


def widest_place(top: Top, lines: Sequence[Line]) -> str:
    """Say how wide the widest unquilted place of the whole top is, and where."""
    widest = widest_gap(top.outline, [line.points for line in lines])
    words = Places(top)
    (ground,) = loose_ground(top, [widest], words)
    where = ground_words(words, ground)
    return f"widest unquilted place: {format_length(widest.diameter, top.unit)}, in {where}"


def ground_words(words: Places, ground: LooseGround) -> str:
    """Name the patches of loose ground, as in "the star in A1, A3 and B2"."""
    patches = words.top.patches
    first = ground.patches[0]
    by_unit = {patches[i].place: i for i in sorted(ground.patches, reverse=True)}
    members = sorted(by_unit.values())
    shown = members if len(members) <= _NAMED else members[: _NAMED - 1]
    units = list(dict.fromkeys(words.unit(i) for i in shown))
    if len(members) > len(shown):
        units.append(f"{len(members) - len(shown)} more")
    if patches[first].part != "block":
        return join_words(units)
    return f"{words.patch(first, the=True)} in {join_words(units)}"


def region_densities(top: Top, lines: Sequence[Line]) -> list[tuple[str, float]]:
    """Tell how densely each block, strip and border is quilted.

    Returns
    -------
    list of (name, metres of stitching per square metre)
        In reading order.
    """
    words = Places(top)
    members, shapes = _units(top)
    names = [_capital(words.unit(i)) for i in members]
    dense = density(shapes, [line.points for line in lines])
    return list(zip(names, dense.tolist(), strict=True))


def check_batting(
    design: Design,
    top: Top,
    lines: Sequence[Line],
    cure: Callable[[LooseGround], str] | None = None,
) -> Iterator[Check]:
    """Hold the quilting against the batting, and neighbours against each other.

    Parameters
    ----------
    design, top, lines
        As planned.
    cure
        Says what would hold loose ground.
    """
    words = Places(top)
    yield from _loose(design, words, lines, cure)
    yield from _uneven(design, words, lines)


def _loose(
    design: Design,
    words: Places,
    lines: Sequence[Line],
    cure: Callable[[LooseGround], str] | None,
) -> Iterator[Check]:
    top = words.top
    limit = design.batting.holds
    if limit is None:
        return
    kind = design.batting.kind if design.batting.distance is None else None
    allows = f"{kind} usually allows" if kind else "the batting allows"
    most = format_length(limit, top.unit)
    for ground in loose_ground(top, loose_of(design, top, lines), words):
        wide = format_length(ground.place.diameter, top.unit)
        many = "a circle" if ground.count == 1 else f"{ground.count} circles, the widest"
        yield Check(
            "warning",
            "loose-ground",
            f"Loose ground in {ground_words(words, ground)}: {many} {wide} wide without stitching, "
            f"where {allows} {most}.{' ' + cure(ground) if cure else ''}",
            (ground.place.x, ground.place.y),
        )


def _uneven(design: Design, words: Places, lines: Sequence[Line]) -> Iterator[Check]:
    """Warn of neighbours of which one is much denser.

    The edge counts as stitched, as for loose ground: else a narrow border would seem open.
    """
    top = words.top
    members, shapes = _units(top)
    edge = np.array(top.outline.exterior.coords)
    dense = density(shapes, [edge, *(line.points for line in lines)])
    uneven = uneven_neighbours(shapes, dense, design.batting.uneven)
    for i, j, ratio in uneven[:_LISTED]:
        point = shapes[j].representative_point()
        held = f"is quilted {ratio:.1f} times as densely as"
        if not np.isfinite(ratio):
            held = "is quilted, but not"
        one, other = (words.unit(members[k]) for k in (i, j))
        yield Check(
            "warning",
            "uneven-density",
            f"{_capital(one)} {held} {other} beside it: the quilt may ripple there.",
            (point.x, point.y),
        )
    left = len(uneven) - _LISTED
    if left > 0:
        differ = "differs" if left == 1 else "differ"
        yield Check(
            "warning",
            "uneven-density",
            f"{format_count(left, 'more pair')} of neighbours {differ} "
            f"{design.batting.uneven:g} times or more in density.",
        )


def _capital(name: str) -> str:
    return name[0].upper() + name[1:]


def _units(top: Top) -> tuple[list[int], list[BaseGeometry]]:
    """First patch and area of every block, strip and side of a border."""
    patches: dict[object, list[int]] = {}
    for i, patch in enumerate(top.patches):
        patches.setdefault(patch.place, []).append(i)
    squares: dict[object, Polygon] = {block.place: Polygon(block.corners) for block in top.blocks}
    shapes: list[BaseGeometry] = []
    for place, members in patches.items():
        polygons = [top.patches[i].polygon for i in members]
        square = squares.get(place)
        # A block whose patches fill it is its square: no need to join hundreds of patches.
        filled = square and math.isclose(square.area, sum(p.area for p in polygons), rel_tol=1e-6)
        shapes.append(square if square and filled else shapely.union_all(polygons, grid_size=0.001))
    return [members[0] for members in patches.values()], shapes
