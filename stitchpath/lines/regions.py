"""Regions to fill: what a name in a design stands for, as areas on the top."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import UnknownNameError, unknown_name
from stitchpath.base.typing import BoolArray, IntArray
from stitchpath.design.model import Fill
from stitchpath.geometry.empty_circles import loose_places
from stitchpath.geometry.groups import groups
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.line import Line
from stitchpath.top.build import Top, find_patches
from stitchpath.top.place import Place, Subject

__all__ = ["NamedRegions", "Region", "bare_regions", "covering", "faces", "wide_regions"]

_WORDS = ("ground", "rest", "top")
"""Regions that are no patch, block or border."""
_CRUMB = 1.0  # mm²: what a piece leaves of a patch below this is no ground


@dataclass(frozen=True, slots=True)
class Region:
    """An area to fill.

    Attributes
    ----------
    of
        What lines that fill it belong to.
    shape
        mm, without the pieces that lie on it.
    patches
        Indices of the patches that it is made of.
    """

    of: Subject
    shape: Polygon | MultiPolygon
    patches: tuple[int, ...]


def covering(top: Top) -> list[MultiPolygon]:
    """List the pieces at which fills and lines of pieced motifs stop."""
    return [p.shape for p in top.pieces if p.asked.fused == "before" and p.asked.cut_fill]


@dataclass(frozen=True)
class NamedRegions:
    """The areas that fills name; what is looked up for many fills is made once.

    Attributes
    ----------
    top
        The finished top.
    stitched
        Which seams are stitched, one for each seam of the top.
    """

    top: Top
    stitched: BoolArray

    def of(self, asked: Fill, where: str) -> list[Region]:
        """Find the areas that a fill names: patches, a fabric, blocks, borders, or the ground.

        Patches, and those of a fabric, run together over seams within their block that are not
        stitched; a block, a border and the ground round appliqué are filled right across.

        Parameters
        ----------
        asked
            The fill; its region is not "rest".
        where
            The place in the design, for errors.

        Raises
        ------
        StitchpathError
            When nothing is called so.
        """
        top = self.top
        if asked.fabric is not None:
            self.refuse(asked, where)
            patches = [i for i, p in enumerate(top.patches) if p.fabric == asked.fabric]
            return list(_cut_out(self.merged(patches), self._before))
        name = asked.region or ""
        if name == "top":
            whole = _region(top, Subject(place=Place("top")), range(len(top.patches)))
            return list(_cut_out([whole], self._before))
        if name == "ground":
            return list(_cut_out(_grounds(top), [p.shape for p in top.pieces]))
        names = (name,) if isinstance(name, str) else name
        self.refuse(asked, where)
        units = self._units.get(names[0], []) if len(names) == 1 else []
        if units:
            whole_units = [_region(top, Subject(place=u), self._members[u]) for u in units]
            return list(_cut_out(whole_units, self._before))
        patches = [i for each in names for i in self._index[each]]
        return list(_cut_out(self.merged(patches, across=len(names) > 1), self._before))

    def refuse(self, asked: Fill, where: str) -> None:
        """Refuse a fill of what is not there, without making its areas.

        Parameters
        ----------
        asked, where
            As for `of`.

        Raises
        ------
        StitchpathError
            When nothing is called so.
        """
        if asked.fabric is not None and asked.fabric not in self.top.fabrics:
            raise unknown_name(where, "fabric", asked.fabric, self.top.fabrics)
        names = (asked.region,) if isinstance(asked.region, str) else asked.region or ()
        if len(names) == 1 and (names[0] in _WORDS or names[0] in self._units):
            return
        for each in names:
            if each not in self._index:
                raise self._unknown(where, each, alone=len(names) == 1)

    def merged(self, patches: Iterable[int], *, across: bool = False) -> Iterator[Region]:
        """Join patches where they meet at a seam that is not stitched.

        Parameters
        ----------
        patches
            Indices.
        across
            Also from one block, strip or border to the next.
        """
        wanted = np.unique(np.fromiter(patches, dtype=np.int64))
        at = np.full(len(self.top.patches), -1)
        at[wanted] = np.arange(len(wanted))
        left, right, joining = self._seams
        met = (at[left] >= 0) & (at[right] >= 0) & ~self.stitched & (across | ~joining)
        for members in _sorted_into(wanted, groups(len(wanted), at[left[met]], at[right[met]])):
            yield _region(self.top, Subject(patch=members[0]), members)

    @cached_property
    def _before(self) -> list[MultiPolygon]:
        return covering(self.top)

    @cached_property
    def _index(self) -> dict[str, tuple[int, ...]]:
        return find_patches(self.top.blocks, self.top.patches)

    @cached_property
    def _seams(self) -> tuple[IntArray, IntArray, BoolArray]:
        """On either side of each seam a patch, and whether it joins two units."""
        seams = self.top.seams
        sides = np.array([(s.left, s.right) for s in seams], dtype=np.int64).reshape(-1, 2)
        return sides[:, 0], sides[:, 1], np.array([s.joining for s in seams], dtype=np.bool_)

    @cached_property
    def _units(self) -> dict[str, list[Place]]:
        """Places of all blocks of a name, of a place, or of a border with all its sides."""
        top = self.top
        units: dict[str, list[Place]] = {}
        for block in (*top.compounds, *top.blocks):
            for name in dict.fromkeys((*block.called, block.place.name)):
                units.setdefault(name, []).append(block.place)
        borders = dict.fromkeys(_all_round(p.place) for p in top.patches if p.part == "border")
        for border in borders:
            units.setdefault(border.name, [border])
        return units

    @cached_property
    def _members(self) -> dict[Place, list[int]]:
        """List the patches of each unit, of each block round it, and of each border."""
        members: dict[Place, list[int]] = {}
        for i, patch in enumerate(self.top.patches):
            place = _all_round(patch.place)
            for depth in range(len(place.inside) + 1):  # each block round it too
                members.setdefault(replace(place, inside=place.inside[:depth]), []).append(i)
        return members

    def _unknown(self, where: str, name: str, *, alone: bool) -> UnknownNameError:
        if not alone:  # only patches can be filled as one
            return unknown_name(where, "patch", name, self._index)
        known = (*self.top.blocks, *self.top.compounds)
        blocks = {b.block.name for b in known} | {b.place.name for b in known}
        return unknown_name(where, "region", name, [*_WORDS, *sorted(blocks), *self._index])


def bare_regions(
    top: Top,
    stitched: BoolArray,
    filled: Sequence[BaseGeometry],
    lines: Sequence[Line],
    wide: float,
) -> list[Region]:
    """Find what is left unquilted: ground between stitched lines where a wide circle has room.

    Parameters
    ----------
    top
        The finished top.
    stitched
        Which seams are stitched.
    filled
        Areas that other fills take.
    lines
        All other lines to quilt.
    wide
        Ground that holds no wider circle is left alone, mm.
    """
    taken = [*filled, *(p.shape for p in top.pieces)]
    return wide_regions(_cut_out(faces(top, stitched), taken), lines, wide)


def faces(top: Top, stitched: BoolArray) -> list[Region]:
    """Find the ground between stitched seams: patches joined over all that are not stitched."""
    return list(NamedRegions(top, stitched).merged(range(len(top.patches)), across=True))


def wide_regions(regions: Iterable[Region], lines: Sequence[Line], wide: float) -> list[Region]:
    """Keep the regions where a circle wider than `wide` (mm) holds no stitching."""
    paths = [line.points for line in lines]
    tree = shapely.STRtree([shapely.LineString(path) for path in paths])
    found = []
    for region in regions:
        if region.shape.buffer(-wide / 2).is_empty:
            continue
        near = [paths[k] for k in sorted(tree.query(region.shape, predicate="intersects"))]
        parts = [p for p in shapely.get_parts(region.shape) if isinstance(p, Polygon)]
        if any(loose_places(part, near, wide, most=1) for part in parts):
            found.append(region)
    return found


def _all_round(place: Place) -> Place:
    """Give the whole border that a side belongs to; else the place itself."""
    return replace(place, side="", end="") if place.part == "border" else place


def _grounds(top: Top) -> Iterator[Region]:
    """Give the units that bear appliqué, as one where a piece lies across several."""
    tree = shapely.STRtree([p.polygon for p in top.patches])
    places = [p.place for p in top.patches]
    units = list(dict.fromkeys(places))
    number = {unit: k for k, unit in enumerate(units)}
    pairs: list[tuple[int, int]] = []
    for piece in top.pieces:
        touched = sorted(tree.query(piece.shape, predicate="intersects").tolist())
        solid = [i for i in touched if top.patches[i].polygon.intersection(piece.shape).area > 1]
        under = [number[places[i]] for i in solid]
        pairs += [(under[0], k) for k in under]
    one, two = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    borne = np.unique(np.concatenate([one, two]))
    for members in _sorted_into(borne, groups(len(units), one, two)[borne]):
        mine = {units[k] for k in members}
        patches = [i for i, p in enumerate(top.patches) if p.place in mine]
        yield _region(top, Subject(place=units[members[0]], around=True), patches)


def _sorted_into(wanted: IntArray, label: IntArray) -> list[list[int]]:
    """Sort numbers into groups by their labels, in order."""
    found: dict[int, list[int]] = {}
    for number, group in zip(wanted.tolist(), label.tolist(), strict=True):
        found.setdefault(group, []).append(number)
    return list(found.values())


def _region(top: Top, of: Subject, patches: Sequence[int]) -> Region:
    shapes = [top.patches[i].polygon for i in patches]
    joined = shapes[0] if len(shapes) == 1 else shapely.union_all(shapes, grid_size=GRID)
    parts = [p for p in shapely.get_parts(joined) if isinstance(p, Polygon)]
    return Region(of, MultiPolygon(parts) if len(parts) > 1 else parts[0], tuple(patches))


def _cut_out(regions: Iterable[Region], taken: Sequence[BaseGeometry]) -> Iterator[Region]:
    """Take areas out of regions; each part that is left is a region of its own."""
    tree = shapely.STRtree(taken)
    for region in regions:
        near = sorted(tree.query(region.shape, predicate="intersects").tolist())
        shape: BaseGeometry = region.shape
        if near:
            shape = shapely.difference(shape, shapely.union_all([taken[k] for k in near]))
        for part in shapely.get_parts(shape):
            if isinstance(part, Polygon) and part.area > _CRUMB:
                yield replace(region, shape=part)
