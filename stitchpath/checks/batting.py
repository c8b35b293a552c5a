"""Does the batting hold: loose ground by name, and how evenly dense the quilting is."""

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.findings import Check
from stitchpath.base.typing import BoolArray
from stitchpath.base.units import format_length
from stitchpath.design.model import Design
from stitchpath.geometry.empty_circles import (
    ON_BOUNDARY,
    LoosePlace,
    density,
    loose_places,
    uneven_neighbours,
    widest_gap,
)
from stitchpath.lines.line import Line
from stitchpath.top.build import Top
from stitchpath.top.place_names import Places, join_words

__all__ = [
    "LooseGround",
    "check_evenness",
    "ground_words",
    "loose_ground",
    "loose_of",
    "region_densities",
    "widest_place",
]

_FEW = 6  # patches of a drawn top are named one by one
_ONE = re.compile(r"the sashing|the (\w+ )?border")  # one in words, of several parts
_COUNTED = 10  # times as dense: from here on whole numbers do


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
    where = ground_words(words, ground.patches)
    return f"widest unquilted place: {format_length(widest.diameter, top.unit)}, in {where}"


def ground_words(words: Places, patches: Sequence[int]) -> str:
    """Name loose patches, as in "the star in A1, A3 and B2; the borders"."""
    top = words.top
    named: dict[str, dict[object, int]] = {}
    for i in patches:
        few = top.patches[i].part == "square" and len(patches) <= _FEW
        if few or top.patches[i].part == "block":
            named.setdefault(words.patch(i, the=True), {})[top.patches[i].place] = i
    together: dict[str, list[str]] = {}
    for name, members in named.items():
        together.setdefault(words.units(list(members.values())), []).append(name)
    said = [f"{join_words(names)} in {units}" for units, names in together.items()]
    told = {i for members in named.values() for i in members.values()}
    beside = [i for i in patches if i not in told and top.patches[i].part != "block"]
    return "; ".join([*said, words.units(beside)] if beside else said)


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


def check_evenness(design: Design, words: Places, lines: Sequence[Line]) -> Iterator[Check]:
    """Warn, in one sentence, of ground that is much less quilted than what lies beside it.

    The edge counts as stitched, as for loose ground: else a narrow border would seem open.

    Parameters
    ----------
    design
        The design.
    words
        For the places of its top.
    lines
        To quilt.
    """
    top = words.top
    members, shapes = _units(top)
    edge = np.array(top.outline.exterior.coords)
    dense = density(shapes, [edge, *(line.points for line in lines)])
    times: dict[int, float] = {}  # the worst first
    beside: dict[int, None] = {}
    for i, j, ratio in uneven_neighbours(shapes, dense, design.batting.uneven):
        times.setdefault(j, ratio)
        beside[i] = None
    if not times:
        return
    bare = _bare([shapes[j] for j in times], lines)
    empty = [j for j, open_still in zip(times, bare, strict=True) if open_still]
    thin = [j for j in times if j not in set(empty)]
    said = []
    densest = words.units([members[i] for i in beside])
    if empty:
        named, many = _named(words, [members[j] for j in empty])
        said.append(f"{named} {'have' if many else 'has'} no quilting within the seams")
    if thin:
        named, many = _named(words, [members[j] for j in thin])
        than = f"{densest} beside" if len(beside) == 1 else "what lies beside"
        said.append(
            f"{named} {'are' if many else 'is'} quilted {_range([times[j] for j in thin])} times "
            f"less densely than {than}"
        )
    first = shapes[next(iter(times))].representative_point()
    apart = _apart(design, max(float(dense[i]) for i in beside))
    yield Check(
        "warning",
        "uneven-density",
        f"{_capital('; '.join(said))}: the quilt may ripple there. Quilt more of it, lines about "
        f"{apart} apart, or less of {densest}.",
        (first.x, first.y),
    )


def _bare(shapes: Sequence[BaseGeometry], lines: Sequence[Line]) -> BoolArray:
    """Tell which areas hold no stitching; what runs along their edge is not in them."""
    inner = shapely.buffer(np.array(shapes, dtype=object), -2 * ON_BOUNDARY)
    tree = shapely.STRtree([shapely.LineString(line.points) for line in lines])
    held = np.zeros(len(shapes), dtype=bool)
    held[tree.query(inner, predicate="intersects")[0]] = True
    return ~held


def _named(words: Places, patches: Sequence[int]) -> tuple[str, bool]:
    """Name some units, and tell whether they are more than one in words: "the sashing" is not."""
    named = words.units(patches)
    return named, len(patches) > 1 and not _ONE.fullmatch(named)


def _range(times: Sequence[float]) -> str:
    low, high = (f"{v:.2g}" if v < _COUNTED else f"{v:.0f}" for v in (min(times), max(times)))
    return low if low == high else f"{low} to {high}"


def _apart(design: Design, densest: float) -> str:
    """Say how far apart lines are just dense enough to lie beside the densest ground.

    Lines so far apart come to one metre of stitching for each such width of a square metre.
    """
    step = 25.4 / 4 if design.unit == "in" else 5.0
    apart = 1000 * design.batting.uneven / densest
    apart = min(apart, design.batting.holds or apart)
    return format_length(max(np.floor(apart / step), 1) * step, design.unit)


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
