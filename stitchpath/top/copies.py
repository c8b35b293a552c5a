"""Blocks that a drawing repeats, by copies of one group: found again as blocks with places."""

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.design.drawings.copies import DrawnCopy
from stitchpath.design.drawings.whole import DrawnPatch, Whole
from stitchpath.design.drawings.words import UNKNOWN
from stitchpath.top.block import BlockPatch, DrawnBlock
from stitchpath.top.layout import LaidBlock, LaidPatch
from stitchpath.top.place import Place

__all__ = ["laid_copies"]

_FIT = 0.5  # mm: how exactly patches have to fill a copy for it to be a block


def laid_copies(
    taken: Whole, names: Mapping[str, str]
) -> tuple[list[LaidBlock], dict[int, LaidPatch]]:
    """Lay the copies of a drawn top that patches fill exactly, as its blocks.

    Parameters
    ----------
    taken
        What was taken of the drawing.
    names
        Of the fabrics, by their paint.

    Returns
    -------
    blocks, patches
        In reading order; the patches in them by their index in `taken`. None where fewer than two
        copies are alike.
    """
    members = _members(taken)
    likes: dict[str, list[tuple[DrawnCopy, list[int]]]] = {}
    for copy, mine in zip(taken.copies, members, strict=True):
        if mine:
            likes.setdefault(copy.of, []).append((copy, mine))
    found: list[tuple[DrawnBlock, DrawnCopy, list[int], list[int]]] = []
    for of, some in likes.items():
        block = _block(of, some[0][0], [taken.patches[k] for k in some[0][1]], names)
        fit = [(copy, mine, _matched(block, copy, mine, taken, names)) for copy, mine in some]
        alike = [(copy, mine, at) for copy, mine, at in fit if at is not None]
        if len(alike) > 1 or (alike and alike[0][0].told):
            found += [(block, copy, mine, at) for copy, mine, at in alike]
    blocks, inside = [], {}
    places = _places([copy for _, copy, _, _ in found])
    for k in sorted(range(len(found)), key=lambda k: (places[k].row, places[k].column)):
        block, copy, mine, at = found[k]
        blocks.append(LaidBlock(places[k], block, copy.frame, (block.name,)))
        for index, which in zip(mine, at, strict=True):
            patch = block.patches[which]
            polygon = taken.patches[index].polygon
            inside[index] = LaidPatch(places[k], patch.name, patch.fabric, polygon, named=True)
    return blocks, inside


def _rectangle(copy: DrawnCopy) -> Polygon:
    box = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * (copy.width, copy.height)
    return Polygon(box @ copy.frame[:, :2].T + copy.frame[:, 2])


def _members(taken: Whole) -> list[list[int]]:
    """List the patches that fill each copy; none where they do not fill it exactly."""
    if not taken.copies:
        return []
    shapes = np.array([patch.polygon for patch in taken.patches], dtype=object)
    boxes = np.array([_rectangle(copy) for copy in taken.copies], dtype=object)
    spots = shapely.point_on_surface(shapes)
    box, patch = shapely.STRtree(spots).query(boxes, predicate="contains")
    area = np.bincount(box, shapely.area(shapes[patch]), len(boxes))
    within = shapely.within(shapes[patch], shapely.buffer(boxes, _FIT)[box])
    stray = np.bincount(box, ~within, len(boxes)) > 0
    off = np.abs(area - shapely.area(boxes)) > _FIT * shapely.length(boxes)
    members: list[list[int]] = [[] for _ in boxes]
    for k, index in zip(box.tolist(), patch.tolist(), strict=True):
        if not stray[k] and not off[k]:
            members[k].append(index)
    return members


def _local(copy: DrawnCopy, polygon: Polygon) -> Polygon:
    """Bring a patch of the top into the copy's own frame."""

    def back(points: FloatArray) -> FloatArray:
        return np.asarray((points - copy.frame[:, 2]) @ np.linalg.inv(copy.frame[:, :2]).T)

    moved: Polygon = shapely.transform(polygon, back)
    return moved


def _block(
    of: str, copy: DrawnCopy, patches: Sequence[DrawnPatch], names: Mapping[str, str]
) -> DrawnBlock:
    """Draw the block that a copy is, its patches in reading order."""
    local = [_local(copy, patch.polygon) for patch in patches]
    order = sorted(
        range(len(local)),
        key=lambda k: (round(local[k].bounds[1], 1), round(local[k].bounds[0], 1)),
    )
    counts: Counter[str] = Counter()
    made = []
    for k in order:
        fabric = names[patches[k].paint]
        word = "patch" if fabric == UNKNOWN else fabric
        counts[word] += 1
        made.append(BlockPatch(f"{word} {counts[word]}", fabric, local[k], named=True))
    name = of.replace("_", " ")[:40] or "block"
    return DrawnBlock(name, copy.width, copy.height, tuple(made), None)


def _matched(
    block: DrawnBlock,
    copy: DrawnCopy,
    mine: Sequence[int],
    taken: Whole,
    names: Mapping[str, str],
) -> list[int] | None:
    """Tell which patch of the block each patch of a copy is; None where it is not the same."""
    if len(mine) != len(block.patches):
        return None
    tree = shapely.STRtree([patch.polygon for patch in block.patches])
    spots = [_local(copy, taken.patches[k].polygon).representative_point() for k in mine]
    spot, found = tree.query(spots, predicate="within")
    if spot.tolist() != list(range(len(mine))) or len(set(found.tolist())) != len(mine):
        return None
    at: list[int] = found.tolist()
    same = all(
        names[taken.patches[k].paint] == block.patches[j].fabric
        for k, j in zip(mine, at, strict=True)
    )
    return at if same else None


def _places(copies: Sequence[DrawnCopy]) -> list[Place]:
    """Give each block its row and column, by where its middle lies."""
    if not copies:
        return []
    middles = np.array([_rectangle(copy).centroid.coords[0] for copy in copies])
    near = 0.3 * min(min(copy.width, copy.height) for copy in copies)
    rows, columns = _steps(middles[:, 1], near), _steps(middles[:, 0], near)
    if columns.max() + 1 > np.bincount(rows).max():  # rows stand off each other: count along each
        columns = np.array(
            [
                np.sum((rows == row) & (middles[:, 0] < x - near))
                for row, x in zip(rows, middles[:, 0], strict=True)
            ]
        )
    return [Place("block", int(r), int(c)) for r, c in zip(rows, columns, strict=True)]


def _steps(values: FloatArray, near: float) -> IntArray:
    """Count up from the least value; those near each other bear one number."""
    order = np.argsort(values, kind="stable")
    step = np.concatenate([[0], np.cumsum(np.diff(values[order]) > near)])
    numbers = np.empty(len(values), dtype=np.int64)
    numbers[order] = step
    return numbers
