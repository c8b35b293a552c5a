"""Random trees that reach all over an area: what a meander walks round."""

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree
from scipy.spatial import Delaunay, Voronoi, cKDTree
from shapely.geometry import MultiLineString, Polygon

from stitchpath.base.typing import FloatArray, IntArray

__all__ = ["random_tree", "walk_round"]

# All lengths here are in units of the spacing.
# A strand on either side of each site would need an area of 4; rounding its corners leaves room.
_CLOSE = 2.6  # in narrow ground, where one row of sites would make a mere loop
_CELL = 2.1  # area of a cell of the net that lobes grow along
_MERGED = 0.4  # corners of cells nearer than this are one: shorter branches would be mere bumps
_APART = 4.0  # branches that reach no others are left out unless they are as long together
_ON_EDGE = 0.01  # so near is on it
_STUB = 0.6  # a branch to the edge that is shorter is a bump as well
_ALONG_EDGE, _DEAR = 1.2, 1.5  # within this of the edge a branch along it costs so much more
_ROUNDS = 12
_REACH = 3.6  # longest branch
_HEM = 0.6  # sites this near the edge of the room lie along it
_STRAIGHT_BACK = 1e-9  # an angle of less is the full turn round the end of a branch
_FAR = 1000.0  # dearer than any branch: a way that is taken only where nothing else connects


def random_tree(room: Polygon, seed: np.random.Generator, *, close: bool = False) -> FloatArray:
    """Grow a random tree that reaches every place of a room.

    Parameters
    ----------
    room
        One connected area, in units of the spacing.
    seed
        Source of all chance.
    close
        For narrow ground: between sites set close together. Otherwise the branches follow a net of
        cells, three to a corner, so that no two in a row run straight on, and each lobe round them
        is as large as the next.

    Returns
    -------
    ndarray, shape (m, 2, 2)
        Branches that meet only at their ends, inside the room.
    """
    sites, pairs, cost = (_close_sites if close else _net)(room, seed)
    if not len(sites):  # too small for a cell
        sites, pairs, cost = _close_sites(room, seed)
    points = sites
    links = coo_array((cost, (pairs[:, 0], pairs[:, 1])), shape=(len(sites), len(sites)))
    if connected_components(links, directed=False)[0] > 1:
        points, pairs, cost = _with_byways(sites, pairs, cost, room)
    chosen = _spanning(len(points), pairs, cost)
    lines = points[_pruned(chosen, len(sites))]
    if len(points) > len(sites):
        lines = _untangled(lines)
    if not len(lines):  # one site alone: a short branch through it
        lines = sites[:1, None, :] + np.array([[[-0.01, 0.0], [0.01, 0.0]]])
    return lines


def _net(room: Polygon, seed: np.random.Generator) -> tuple[FloatArray, IntArray, FloatArray]:
    """Give corners, sides and their costs of a net of even cells (a Voronoi diagram) in a room."""
    centres = _framed(_sites(room, seed, _CELL))
    diagram = Voronoi(centres)
    sides = np.array([side for side in diagram.ridge_vertices if -1 not in side], dtype=np.int64)
    shapely.prepare(room)
    inside = shapely.get_parts(
        shapely.intersection(shapely.linestrings(diagram.vertices[sides]), room)
    )
    inside = inside[(shapely.get_type_id(inside) == 1) & (shapely.length(inside) > 0)]
    ends = np.round(shapely.get_coordinates(inside), 9)
    points, index = np.unique(ends, axis=0, return_inverse=True)
    points, pairs = _merged(points, index.reshape(-1, 2))
    length = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    alone = np.bincount(pairs.ravel(), minlength=len(points))[pairs] == 1
    pairs = pairs[~alone.any(axis=1) | (length > _STUB)]
    used, index = np.unique(_large(points, pairs), return_inverse=True)
    points, pairs = points[used], index.reshape(-1, 2).astype(np.int64)
    far = np.asarray(shapely.distance(room.boundary, shapely.points(points)))[pairs]
    # Branches along the edge would make straight runs there: they are dear, so that lobes
    # come up to the edge instead.
    along = ((far < _ALONG_EDGE) & (far > _ON_EDGE)).all(axis=1)
    return points, pairs, 1 + seed.uniform(0, 1, len(pairs)) + _DEAR * along


def _merged(points: FloatArray, pairs: IntArray) -> tuple[FloatArray, IntArray]:
    """Make one of points that are joined by short pairs; give them and the pairs that are left."""
    short = pairs[np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T) < _MERGED]
    links = coo_array((np.ones(len(short)), tuple(short.T)), shape=(len(points), len(points)))
    _, one = connected_components(links, directed=False)
    size = np.bincount(one)
    points = np.column_stack([np.bincount(one, points[:, k]) / size for k in (0, 1)])
    pairs = np.unique(np.sort(one[pairs], axis=1), axis=0)
    return points, pairs[pairs[:, 0] != pairs[:, 1]].astype(np.int64)


def _large(points: FloatArray, pairs: IntArray) -> IntArray:
    """Leave out what hangs together in itself alone and is shorter than a share of the whole."""
    links = coo_array((np.ones(len(pairs)), tuple(pairs.T)), shape=(len(points), len(points)))
    _, group = connected_components(links, directed=False)
    length = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    sums = np.bincount(group[pairs[:, 0]], length, len(points))
    kept: IntArray = pairs[sums[group[pairs[:, 0]]] > min(_APART, 0.5 * sums.max(initial=0.0))]
    return kept


def _close_sites(
    room: Polygon, seed: np.random.Generator
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Give sites close together, pairs of neighbours, and what each costs."""
    sites = _sites(room, seed, _CLOSE)
    return sites, *_branches(sites, room, seed)


def _framed(sites: FloatArray) -> FloatArray:
    """Add four far points, which keep diagrams sound where the sites lie in one line."""
    far = np.abs(sites).max() * 4 + 100
    frame = np.array([[-far, -far], [far, -far * 1.1], [far * 1.2, far], [-far, far * 1.3]])
    return np.concatenate([sites, frame])


def _sites(room: Polygon, seed: np.random.Generator, cell: float) -> FloatArray:
    """Spread sites evenly over the ground that strands round them will cover (Lloyd's way)."""
    ground = room.buffer(0.95, quad_segs=4)
    step = 0.5
    left, top, right, bottom = ground.bounds
    x, y = np.meshgrid(np.arange(left, right, step), np.arange(top, bottom, step))
    dust = np.column_stack([x.ravel(), y.ravel()]) + seed.uniform(0, step, (x.size, 2))
    shapely.prepare(ground)
    dust = dust[shapely.contains_xy(ground, dust[:, 0], dust[:, 1])]
    count = max(1, round(ground.area / cell))
    sites = dust[np.sort(seed.choice(len(dust), min(count, len(dust)), replace=False))]
    for _ in range(_ROUNDS):
        _, owner = cKDTree(sites).query(dust)
        size = np.bincount(owner, minlength=len(sites))
        total = [np.bincount(owner, dust[:, k], len(sites)) for k in (0, 1)]
        sites = (np.column_stack(total) / np.maximum(size, 1)[:, None])[size > 0]
    shapely.prepare(room)
    out = ~shapely.contains_xy(room, sites[:, 0], sites[:, 1])
    back = shapely.shortest_line(room, shapely.points(sites[out]))
    sites[out] = shapely.get_coordinates(back)[0::2]
    return np.unique(np.round(sites, 9), axis=0)


def _branches(
    sites: FloatArray, room: Polygon, seed: np.random.Generator
) -> tuple[IntArray, FloatArray]:
    """Pairs of neighbours that see each other inside the room, and what each costs."""
    faces = Delaunay(_framed(sites)).simplices
    pairs = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [0, 2]]]), axis=1)
    pairs = np.unique(pairs[pairs[:, 1] < len(sites)], axis=0).astype(np.int64)
    length = np.hypot(*(sites[pairs[:, 0]] - sites[pairs[:, 1]]).T)
    ample = room.buffer(0.1)
    shapely.prepare(ample)
    # Only branches with no site in the circle on them (a Gabriel graph) leave room for the walk.
    middle = (sites[pairs[:, 0]] + sites[pairs[:, 1]]) / 2
    clear = np.asarray(cKDTree(sites).query(middle)[0])
    short = np.flatnonzero((length < _REACH) & (clear > 0.98 * length / 2))
    seen = short[np.asarray(shapely.covers(ample, shapely.linestrings(sites[pairs[short]])))]
    pairs, length = pairs[seen], length[seen]
    # Branches along the edge would make straight runs there: they are dear, so that lobes
    # come up to the edge instead. Long branches are a little dearer than short ones.
    hem = np.asarray(shapely.distance(room.boundary, shapely.points(sites)) < _HEM)
    along = hem[pairs[:, 0]] & hem[pairs[:, 1]]
    return pairs, 1 + seed.uniform(0, 1, len(pairs)) + 2.0 * along + 0.35 * length


def _with_byways(
    sites: FloatArray, pairs: IntArray, cost: FloatArray, room: Polygon
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Add ways over a triangulation of the room, so that all its sites are connected."""
    faces = np.asarray(shapely.get_parts(shapely.constrained_delaunay_triangles(room)))
    at = shapely.get_coordinates(faces).reshape(-1, 4, 2)[:, :3]
    knots, index = np.unique(at.reshape(-1, 2), axis=0, return_inverse=True)
    index = index.reshape(-1, 3) + len(sites)
    home, face = shapely.STRtree(faces).query_nearest(shapely.points(sites), all_matches=False)
    ways = [index[:, [0, 1]], index[:, [1, 2]], index[:, [0, 2]]]
    ways += [np.column_stack([home, index[face, k]]) for k in range(3)]
    extra = np.unique(np.sort(np.concatenate(ways), axis=1), axis=0)
    points = np.concatenate([sites, knots])
    length = np.hypot(*(points[extra[:, 0]] - points[extra[:, 1]]).T)
    return points, np.concatenate([pairs, extra]), np.concatenate([cost, _FAR + length])


def _spanning(count: int, pairs: IntArray, cost: FloatArray) -> IntArray:
    """Edges of the cheapest spanning tree (or forest), shape (m, 2)."""
    links = coo_array((cost, (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    tree = minimum_spanning_tree(links.tocsr()).tocoo()
    return np.column_stack(tree.coords).astype(np.int64)


def _pruned(edges: IntArray, keep: int) -> IntArray:
    """Cut off branches that end at a vertex numbered `keep` or more."""
    while len(edges):
        degree = np.bincount(edges.ravel())
        loose = (degree[edges] == 1) & (edges >= keep)
        if not loose.any():
            break
        edges = edges[~loose.any(axis=1)]
    return edges


def _untangled(lines: FloatArray) -> FloatArray:
    """Node branches that cross, and span them anew."""
    noded = shapely.unary_union(MultiLineString(list(lines)))
    at = [shapely.get_coordinates(part) for part in shapely.get_parts(noded)]
    ends = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in at])
    points, index = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    index = index.reshape(-1, 2)
    length = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
    return points[_spanning(len(points), index, length + 1e-9)]


def walk_round(branches: FloatArray, distance: float) -> FloatArray:
    """Go once round a tree, keeping it on the same hand.

    Parameters
    ----------
    branches
        Straight branches that meet only at their ends and close no ring, shape (m, 2, 2).
    distance
        From the branches; nearer where they leave a narrow angle.

    Returns
    -------
    ndarray, shape (k, 2)
        Closed walk, the first point not repeated.
    """
    both = np.concatenate([branches, branches[:, ::-1]])  # each branch, there and back
    half = len(branches)
    points, tail = np.unique(both[:, 0], axis=0, return_inverse=True)
    way = both[:, 1] - both[:, 0]
    angle = np.arctan2(way[:, 1], way[:, 0])
    order = np.lexsort((angle, tail))
    # The branch that follows each one about its vertex, in turning order.
    first = np.searchsorted(tail[order], np.arange(len(points)))
    size = np.bincount(tail)
    place = np.arange(2 * half) - first[tail[order]]
    after = np.empty(2 * half, dtype=np.int64)
    after[order] = order[first[tail[order]] + (place + 1) % size[tail[order]]]
    # Walking in along a branch and out along the next: twin of the one walked, then its next.
    twin = (np.arange(2 * half) + half) % (2 * half)
    onward = after[twin]
    walk = np.empty(2 * half, dtype=np.int64)
    step = 0
    for k in range(2 * half):
        walk[k] = step
        step = onward[step]
    return _corner_points(points[tail], angle, walk, twin, distance)


def _corner_points(
    at: FloatArray, angle: FloatArray, walk: IntArray, twin: IntArray, distance: float
) -> FloatArray:
    """Points of the walk round each corner between the branch walked in and the one walked out."""
    back, out = twin[walk], np.roll(walk, -1)
    wide = (angle[out] - angle[back]) % (2 * np.pi)
    wide = np.where(wide < _STRAIGHT_BACK, 2 * np.pi, wide)
    found = []
    # An outer corner is cut with three points, an inner one with its bisector alone.
    for share in (0.25, 0.5, 0.75):
        turn = angle[back] + share * wide
        reach = np.where(wide > np.pi, distance, distance / np.maximum(np.sin(wide / 2), 0.3))
        found.append(at[back] + reach[:, None] * np.column_stack([np.cos(turn), np.sin(turn)]))
    points = np.stack(found, axis=1)
    keep = np.stack([wide > np.pi, np.ones_like(wide, dtype=np.bool_), wide > np.pi], axis=1)
    return np.asarray(points[keep])
