"""Where patches meet: seams found from shared boundaries, T-junctions included.

Nobody has to draw a seam. The boundaries of all patches are cut at every corner of every patch that
lies on them; a piece of boundary that two patches share is part of a seam, one that a single patch
has is part of the outer edge.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree

from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.geometry.tolerances import GRID, SAME_EDGE

__all__ = ["Meeting", "Overlap", "meet"]


class Overlap(Exception):  # noqa: N818 - it says what was found; the caller words the error
    """Two patches lie over each other."""

    def __init__(self, patches: tuple[int, int], place: tuple[float, float]) -> None:
        super().__init__(patches, place)
        self.patches = patches
        self.place = place


@dataclass(frozen=True, slots=True)
class Meeting:
    """How patches meet.

    Attributes
    ----------
    paths
        Polylines, each between two places where seams or the edge meet, or closed; shape (n, 2).
    left, right
        Indices of the patches on either side as one walks along a path with y pointing down, -1
        outside the top.
    """

    paths: tuple[FloatArray, ...]
    left: IntArray
    right: IntArray


@dataclass(frozen=True, slots=True)
class _Atoms:
    """Undirected bits of boundary, from node `low` to node `high`."""

    low: IntArray
    high: IntArray
    left: IntArray
    right: IntArray


def meet(polygons: Geometries) -> Meeting:
    """Find where patches meet.

    Parameters
    ----------
    polygons
        Array of shapely polygons, mm, that do not overlap.

    Returns
    -------
    Meeting
        Seams (a patch on either side) and edge (a patch on one side only).

    Raises
    ------
    Overlap
        When a bit of boundary has two patches on the same side.
    """
    nodes, start, stop, owner = _boundaries(polygons)
    atoms = _share(nodes, *_split(nodes, start, stop, owner))
    return _chain(nodes, atoms)


def _boundaries(polygons: Geometries) -> tuple[FloatArray, IntArray, IntArray, IntArray]:
    """List the corners, and the boundary segments between them with the patch on their right."""
    turned = shapely.orient_polygons(polygons, exterior_cw=False)
    _, coords, (rings, patches) = shapely.to_ragged_array(turned)
    nodes, corner = _corners(coords[:, :2])
    ring_of = np.repeat(np.arange(len(rings) - 1), np.diff(rings))
    patch_of = np.repeat(np.arange(len(patches) - 1), np.diff(patches))
    inside = ring_of[:-1] == ring_of[1:]
    start, stop = corner[:-1][inside], corner[1:][inside]
    owner = patch_of[ring_of[:-1][inside]]
    real = start != stop
    return nodes, start[real], stop[real], owner[real]


def _corners(coords: FloatArray) -> tuple[FloatArray, IntArray]:
    """Bring corners to the grid and make one of those that all but coincide."""
    grid, index = np.unique(np.rint(coords / GRID), axis=0, return_inverse=True)
    pairs = cKDTree(grid).query_pairs(SAME_EDGE / GRID, output_type="ndarray")
    if len(pairs):
        group = groups(len(grid), *pairs.T)
        _, first = np.unique(group, return_index=True)
        grid, index = grid[first], group[index.reshape(-1)]
    return grid * GRID, index.reshape(-1).astype(np.int64)


def _split(
    nodes: FloatArray, start: IntArray, stop: IntArray, owner: IntArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Cut segments at every node that lies on them."""
    lines = shapely.linestrings(np.stack([nodes[start], nodes[stop]], axis=1))
    tree = shapely.STRtree(np.asarray(shapely.points(nodes)))
    segment, node = tree.query(lines, predicate="dwithin", distance=SAME_EDGE)
    way = nodes[stop] - nodes[start]
    share = np.einsum("ij,ij->i", nodes[node] - nodes[start][segment], way[segment])
    share /= np.einsum("ij,ij->i", way, way)[segment]
    between = (node != start[segment]) & (node != stop[segment]) & (share > 0) & (share < 1)
    every = np.arange(len(start))
    segment = np.concatenate([every, segment[between], every])
    node = np.concatenate([start, node[between], stop])
    share = np.concatenate([np.zeros(len(start)), share[between], np.ones(len(start))])
    order = np.lexsort((share, segment))
    segment, node = segment[order], node[order]
    joined = (segment[:-1] == segment[1:]) & (node[:-1] != node[1:])
    return node[:-1][joined], node[1:][joined], owner[segment[:-1][joined]]


def _share(nodes: FloatArray, start: IntArray, stop: IntArray, owner: IntArray) -> _Atoms:
    """Bring together the bits that two patches share."""
    low, high = np.minimum(start, stop), np.maximum(start, stop)
    forward = start < stop
    key, first, inverse = np.unique(low * len(nodes) + high, return_index=True, return_inverse=True)
    sides = []
    for side in (~forward, forward):  # its patch lies on the right of a bit walked forward
        patch = np.full(len(key), -1, dtype=np.int64)
        patch[inverse[side]] = owner[side]
        lost = np.flatnonzero(side)[patch[inverse[side]] != owner[side]]
        if len(lost):
            i = lost[0]
            middle = (nodes[start[i]] + nodes[stop[i]]) / 2
            raise Overlap(
                (int(owner[i]), int(patch[inverse[i]])), (float(middle[0]), float(middle[1]))
            )
        sides.append(patch)
    return _Atoms(low[first], high[first], sides[0], sides[1])


def _chain(nodes: FloatArray, atoms: _Atoms) -> Meeting:
    """Join bits end to end where nothing else meets them."""
    count = len(atoms.low)
    ends = np.concatenate([atoms.low, atoms.high])
    degree = np.bincount(ends, minlength=len(nodes))
    through = degree == 2  # noqa: PLR2004 - a node that joins just two bits
    neighbour = np.full((len(nodes), 2), -1, dtype=np.int64)
    order = np.argsort(ends, kind="stable")
    order = order[through[ends[order]]]
    neighbour[ends[order[::2]], 0] = order[::2] % count
    neighbour[ends[order[1::2]], 1] = order[1::2] % count
    paths, lefts, rights = [], [], []
    seen = np.zeros(count, dtype=bool)
    tied = through[atoms.low] & through[atoms.high]
    for pick in (~tied, tied):  # first what has an end, then what is left: closed rings
        for atom in np.flatnonzero(pick):
            if seen[atom]:
                continue
            walk, forward = _walk(atoms, through, neighbour, seen, int(atom))
            paths.append(nodes[walk])
            sides = int(atoms.left[atom]), int(atoms.right[atom])
            lefts.append(sides[0] if forward else sides[1])
            rights.append(sides[1] if forward else sides[0])
    return Meeting(tuple(paths), np.array(lefts, np.int64), np.array(rights, np.int64))


def _walk(
    atoms: _Atoms, through: BoolArray, neighbour: IntArray, seen: BoolArray, atom: int
) -> tuple[list[int], bool]:
    """Walk from an atom's loose end on to the end of its chain."""
    forward = not through[atoms.low[atom]] or bool(through[atoms.high[atom]])
    walk = [int(atoms.low[atom] if forward else atoms.high[atom])]
    at = int(atoms.high[atom] if forward else atoms.low[atom])
    seen[atom] = True
    walk.append(at)
    while through[at]:
        one, other = neighbour[at]
        atom = int(other if seen[one] else one)
        if seen[atom]:
            break
        seen[atom] = True
        at = int(atoms.high[atom] if atoms.low[atom] == at else atoms.low[atom])
        walk.append(at)
    return walk, forward
