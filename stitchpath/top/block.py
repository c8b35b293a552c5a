"""From a block as written to its patches in millimetres."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.limits import MOST_PATCHES, at_most
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import MM_PER, Unit, format_length, format_place
from stitchpath.design.model import Block, LibraryBlock, Patch, Toward
from stitchpath.design.outlines import flatten_path

__all__ = ["BlockPatch", "DrawnBlock", "draw_block"]

FIT = 0.01  # mm: how exactly patches have to fill a block
_CURVE = 0.004  # mm: curves are flattened so closely that either side of a seam stays within FIT
_CELL_PARTS = 2


@dataclass(frozen=True, slots=True)
class BlockPatch:
    """A patch of a block: a polygon in mm from the block's top left corner.

    `named` tells whether its name was given, rather than made of its row and column.
    """

    name: str
    fabric: str
    polygon: Polygon
    named: bool = False


@dataclass(frozen=True, slots=True)
class DrawnBlock:
    """A block at finished size.

    Attributes
    ----------
    width, height
        Finished size, mm.
    patches
        Polygons that fill it to 0.01 mm; none where it is made of blocks.
    press
        Press rule of the block, None for the design's.
    inside
        The blocks that it is made of, in reading order, each with the matrix, shape (2, 3), that
        brings its coordinates to those of this block, mm.
    within
        How many patches they have.
    deep
        How many blocks lie within each other, itself counted.
    """

    name: str
    width: float
    height: float
    patches: tuple[BlockPatch, ...]
    press: str | Toward | None
    inside: tuple[tuple["DrawnBlock", FloatArray], ...] = ()

    within: int = 0
    deep: int = 1

    @property
    def many(self) -> int:
        """How many patches it comes to."""
        return len(self.patches) + self.within


def draw_block(
    name: str, spec: Block | LibraryBlock, library: LibraryBlock | None, unit: Unit
) -> DrawnBlock:
    """Draw a block at finished size.

    Parameters
    ----------
    name
        Its name in the design, for errors.
    spec
        The block as written.
    library
        The library's block when `spec` names one.
    unit
        The design's unit, for errors.

    Raises
    ------
    StitchpathError
        When a fabric role is left open, or patches leave a gap, overlap or leave the block.
    """
    drawing = library or spec
    where = f"blocks.{name}"
    width, height = _size(spec, drawing)
    roles = _roles(where, spec, library)
    if drawing.grid is not None:
        patches = _grid_patches(where, drawing, width, height)
    else:
        across, down = drawing.units or (width / MM_PER[unit], height / MM_PER[unit])
        scale = np.array([width / across, height / down])
        patches = _drawn_patches(where, drawing, scale)
        _check_fill(where, patches, width, height, unit)
    if roles is not None:
        patches = [replace(p, fabric=roles[p.fabric]) for p in patches]
    press = spec.press or drawing.press
    if roles and not spec.press and isinstance(press, Toward):
        press = Toward(toward=[roles[role] for role in press.toward])
    return DrawnBlock(name, width, height, tuple(patches), press)


def _roles(
    where: str, spec: Block | LibraryBlock, library: LibraryBlock | None
) -> dict[str, str] | None:
    if library is None:
        return None
    given = spec.fabrics if isinstance(spec.fabrics, dict) else {}
    for role in given:
        if role not in library.fabrics:
            raise StitchpathError(
                f"{where}.fabrics: found {role!r}, expected one of the fabrics of {library.name}: "
                + ", ".join(library.fabrics)
            )
    return {role: given.get(role, role) for role in library.fabrics}


def _size(spec: Block | LibraryBlock, drawing: Block | LibraryBlock) -> tuple[float, float]:
    size = spec.size or drawing.size or 0.0  # a block of the design has one or a library block's
    return size if isinstance(size, tuple) else (size, size)


def _grid_patches(
    where: str, drawing: Block | LibraryBlock, width: float, height: float
) -> list[BlockPatch]:
    rows = [row.split() for row in drawing.grid or []]
    cells = sum(len(row) for row in rows)
    if not cells or any(len(row) != len(rows[0]) for row in rows):
        found = ", ".join(str(len(row)) for row in rows[:12]) or "no rows"
        raise StitchpathError(
            f"{where}.grid: found rows of {found} cells, expected rows of equally many"
        )
    at_most(f"{where}.grid", cells, "cells", MOST_PATCHES)
    xs = _edges(f"{where}.columns", drawing.columns, len(rows[0]), width)
    ys = _edges(f"{where}.heights", drawing.heights, len(rows), height)
    patches: list[BlockPatch] = []
    for i, row in enumerate(rows):
        for j, cell in enumerate(row):
            box = (xs[j], ys[i], xs[j + 1], ys[i + 1])
            patches.extend(_cell_patches(f"{where}.grid", f"r{i + 1}c{j + 1}", cell, box))
    return patches


def _edges(where: str, sizes: Sequence[float] | None, count: int, whole: float) -> FloatArray:
    if sizes is not None and len(sizes) != count:
        raise StitchpathError(f"{where}: found {len(sizes)} sizes, expected {count} as in the grid")
    ends = np.concatenate([[0.0], np.cumsum(sizes or [1.0] * count)])
    return np.asarray(ends / ends[-1] * whole)


def _cell_patches(
    where: str, name: str, cell: str, box: tuple[float, float, float, float]
) -> Iterable[BlockPatch]:
    left, top, right, bottom = box
    nw, ne, se, sw = (left, top), (right, top), (right, bottom), (left, bottom)
    slash = "/" if "/" in cell else "\\"
    parts = cell.split(slash)
    if len(parts) == 1:
        yield BlockPatch(name, cell, Polygon([nw, ne, se, sw]))
        return
    if len(parts) != _CELL_PARTS or not all(parts) or "\\" in "".join(parts):
        raise StitchpathError(
            f"{where}: found the cell {cell[:40]!r}, expected one fabric, or two as in a/b or a\\b"
        )
    halves = ([nw, ne, sw], [ne, se, sw]) if slash == "/" else ([nw, se, sw], [nw, ne, se])
    for letter, fabric, corners in zip("ab", parts, halves, strict=True):
        yield BlockPatch(name + letter, fabric, Polygon(corners))


def _drawn_patches(
    where: str, drawing: Block | LibraryBlock, scale: FloatArray
) -> list[BlockPatch]:
    seen: set[str] = set()
    patches = []
    for patch in drawing.patches or []:
        if patch.name in seen:
            raise StitchpathError(
                f"{where}: found two patches named {patch.name!r}, expected a name for each"
            )
        seen.add(patch.name)
        patches.append(_drawn_patch(f'{where}, patch "{patch.name}"', patch, scale))
    if not patches:
        raise StitchpathError(f"{where}.patches: found none, expected patches that fill the block")
    return patches


def _drawn_patch(where: str, patch: Patch, scale: FloatArray) -> BlockPatch:
    if (patch.points is None) == (patch.path is None):
        found = "neither" if patch.points is None else "both"
        raise StitchpathError(f"{where}: found {found}, expected either points or path")
    if patch.points is not None:
        rings = [np.array(patch.points, dtype=float).reshape(-1, 2)]
    else:
        rings = flatten_path(patch.path or "", where, _CURVE / float(scale.max()))
    rings = [ring * scale for ring in rings]
    polygon = _polygon(rings)
    if polygon is None or polygon.area <= FIT:
        corners = sum(len(ring) for ring in rings)
        raise StitchpathError(
            f"{where}: found {corners} points that enclose no simple area, expected an outline "
            "that does not cross itself"
        )
    return BlockPatch(patch.name, patch.fabric, polygon, named=True)


def _polygon(rings: list[FloatArray]) -> Polygon | None:
    """Make a polygon of a largest ring and the holes in it."""
    if not rings or any(len(np.unique(ring, axis=0)) < 3 for ring in rings):  # noqa: PLR2004
        return None
    rings = sorted(rings, key=lambda ring: -Polygon(ring).area)
    polygon = Polygon(rings[0], rings[1:])
    return polygon if polygon.is_valid else None


def _check_fill(
    where: str, patches: list[BlockPatch], width: float, height: float, unit: Unit
) -> None:
    polygons = np.array([p.polygon for p in patches])
    block = shapely.box(0, 0, width, height)
    tree = shapely.STRtree(polygons)
    left, right = tree.query(polygons, predicate="intersects")
    mask = left < right
    left, right = left[mask], right[mask]
    for i, j, common in zip(
        left, right, shapely.intersection(polygons[left], polygons[right]), strict=True
    ):
        if place := _wide(common, unit):
            raise StitchpathError(
                f'{where}: patches "{patches[i].name}" and "{patches[j].name}" overlap at {place}, '
                "expected patches that only touch"
            )
    covered = shapely.union_all(polygons)
    for patch in patches:
        if place := _wide(patch.polygon.difference(block), unit):
            raise StitchpathError(
                f'{where}: patch "{patch.name}" leaves the block at {place}, expected it to lie '
                f"within {format_length(width, unit)} by {format_length(height, unit)}"
            )
    gap = block.difference(covered)
    if place := _wide(gap, unit):
        nearest = tree.query_nearest(_widest(gap).representative_point())
        names = " and ".join(f'"{patches[i].name}"' for i in sorted(set(nearest.tolist()))[:2])
        raise StitchpathError(
            f"{where}: no patch covers the place at {place}, beside {names}, expected patches "
            "that fill the block exactly"
        )


def _widest(shape: BaseGeometry) -> BaseGeometry:
    parts: list[BaseGeometry] = list(shapely.get_parts(shape.buffer(-FIT / 2)))
    return max(parts, key=lambda part: part.area)


def _wide(shape: BaseGeometry, unit: Unit) -> str | None:
    """Name the place of a sliver wider than FIT, None where there is none."""
    if shape.is_empty or shape.buffer(-FIT / 2).is_empty:
        return None
    point = _widest(shape).representative_point()
    return format_place(point.x, point.y, unit)
