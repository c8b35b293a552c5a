"""Tops whose lines are drawn loosely, as by hand, with what they are meant to be."""

from dataclasses import dataclass

import numpy as np
import shapely
import shapely.ops
from scipy.spatial import cKDTree
from shapely import Polygon

from stitchpath.top.seams import meet


@dataclass(frozen=True)
class Top:
    """Patches as they are meant to be."""

    name: str
    patches: list


def quadrangles(across, down, side, seed):
    """A grid whose corners were moved at random."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(across + 1.0), np.arange(down + 1.0))
    grid = np.stack([x, y], axis=-1) * side
    inner = grid[1:-1, 1:-1]
    inner += rng.uniform(-0.25 * side, 0.25 * side, inner.shape)
    patches = [
        Polygon([grid[i, j], grid[i, j + 1], grid[i + 1, j + 1], grid[i + 1, j]])
        for i in range(down)
        for j in range(across)
    ]
    return Top(f"{across * down} quadrangles", patches)


def triangles(count, size, seed, apart=14.0):
    """Irregular triangles."""
    rng = np.random.default_rng(seed)
    edge = np.linspace(0, size, max(int(size // 60), 2) + 1)
    points = [(x, y) for x in edge for y in (0, size)] + [(x, y) for x in (0, size) for y in edge]
    points = list(dict.fromkeys(points))
    while len(points) < count:
        new = rng.uniform(apart, size - apart, 2)
        if min(np.hypot(*(new - p)) for p in np.array(points)) > apart:
            points.append(tuple(new))
    whole = shapely.delaunay_triangles(shapely.MultiPoint(points))
    kept = [t for t in whole.geoms if t.area > 1 and t.minimum_clearance > 4]
    return Top("triangles", kept)


def guillotine(size, least, cuts, seed):
    """A square cut again and again right across, down to narrow strips."""
    rng = np.random.default_rng(seed)
    boxes = [(0.0, 0.0, size, size)]
    for _ in range(cuts):
        boxes.sort(key=lambda b: (b[2] - b[0]) * (b[3] - b[1]))
        left, top, right, bottom = boxes.pop(-int(rng.integers(1, 6)) if len(boxes) > 5 else -1)
        across = right - left > bottom - top
        low, high = (left, right) if across else (top, bottom)
        at = rng.uniform(low + least, high - least)
        if rng.random() < 0.15:
            at = low + least
        corners = [v for b in boxes for v in (b[0::2] if across else b[1::2])]
        if any(0 < abs(at - v) < least for v in corners):  # else no one could tell them apart
            boxes.append((left, top, right, bottom))
            continue
        if across:
            boxes += [(left, top, at, bottom), (at, top, right, bottom)]
        else:
            boxes += [(left, top, right, at), (left, at, right, bottom)]
    return Top("guillotine", [shapely.box(*b) for b in boxes])


def seam_bits(patches):
    """Every side of the patches, cut at every corner, once: shape (n, 2, 2)."""
    edges = shapely.union_all(
        [shapely.LineString(r.coords) for p in patches for r in (p.exterior, *p.interiors)],
        grid_size=0.001,
    )
    lines = shapely.get_parts(shapely.node(edges))
    return [shapely.get_coordinates(line) for line in lines]


def long_lines(patches):
    """The lines that one would draw: straight on over every corner, no vertex at T or X."""
    sides = np.concatenate([np.stack([path[:-1], path[1:]], axis=1) for path in seam_bits(patches)])
    ends = np.round(sides.reshape(-1, 2), 3)
    _, node = np.unique(ends, axis=0, return_inverse=True)
    node = node.reshape(-1, 2)
    at = {}
    for k, (a, b) in enumerate(node.tolist()):
        at.setdefault(a, []).append((k, 0))
        at.setdefault(b, []).append((k, 1))
    way = sides[:, 1] - sides[:, 0]
    way /= np.hypot(*way.T)[:, None]

    def onward(k, end):
        out = way[k] if end else -way[k]
        for j, e in at[int(node[k, end])]:
            if j != k and j not in used:
                leave = way[j] if e == 0 else -way[j]
                if leave @ out > 1 - 1e-9:
                    return j, 1 - e
        return None

    used, lines = set(), []
    for k in range(len(sides)):
        if k in used:
            continue
        used.add(k)
        tips = []
        for end in (0, 1):
            at_k, at_end = k, end
            while (step := onward(at_k, at_end)) is not None:
                at_k, at_end = step
                used.add(at_k)
            tips.append(sides[at_k, at_end])
        lines.append(np.array(tips))
    return lines


def curves(patches):
    """The lines between the places where seams meet, curves whole."""
    merged = shapely.line_merge(shapely.multilinestrings(seam_bits(patches)))
    return [shapely.get_coordinates(line) for line in shapely.get_parts(merged)]


def loosened_curves(lines, jitter, off, seed):
    """Draw curves loosely: ends jittered and all between moved with them, too long or short."""
    rng = np.random.default_rng(seed)
    drawn = []
    for line in lines:
        along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        share = (along / along[-1])[:, None]
        moved = line + (1 - share) * _disc(rng, jitter) + share * _disc(rng, jitter)
        for end in (0, -1):
            moved = _slack(moved if end else moved[::-1], rng.uniform(-off, off))
        drawn.append(moved)
    order = rng.permutation(len(drawn))
    return [drawn[k] for k in order]


def _slack(line, by):
    """Make a line longer by so much at its end, or shorter."""
    way = line[-1] - line[-2]
    long = float(np.hypot(*way))
    if by < 0:
        whole = shapely.LineString(line)
        return shapely.get_coordinates(shapely.ops.substring(whole, 0, whole.length + by))
    return np.concatenate([line, [line[-1] + way / long * by]])


def loosened(lines, jitter, off, seed):
    """Draw lines loosely: ends jittered, too long or short, some twice, some in bits."""
    rng = np.random.default_rng(seed)
    drawn = []
    for line in lines:
        a, b = line[0], line[-1]
        long = float(np.hypot(*(b - a)))
        copies = [(a, b)]
        if rng.random() < 0.15:
            copies.append((a, b) if rng.random() < 0.5 else (b, a))
        elif rng.random() < 0.10 and long > 20:
            middle, over = rng.uniform(0.3, 0.7), 3.0 / long
            copies = [(a, a + (b - a) * (middle + over)), (a + (b - a) * (middle - over), b)]
        for c, d in copies:
            unit = (d - c) / max(float(np.hypot(*(d - c))), 1e-9)
            moved = [_disc(rng, jitter), _disc(rng, jitter)]
            slack = rng.uniform(-off, off, 2)
            drawn.append(np.array([c + moved[0] - unit * slack[0], d + moved[1] + unit * slack[1]]))
    order = rng.permutation(len(drawn))
    return [drawn[k] for k in order]


def _disc(rng, radius):
    turn, far = rng.uniform(0, 2 * np.pi), radius * np.sqrt(rng.uniform())
    return far * np.array([np.cos(turn), np.sin(turn)])


def compared(patches, faces):
    """Share of faces, seams and vertices found; and how far vertices lie off, mm."""
    tree = shapely.STRtree(faces)
    spots = shapely.points([p.representative_point().coords[0] for p in patches])
    pairs = tree.query(spots, predicate="within")
    of = np.full(len(patches), -1)
    of[pairs[0]] = pairs[1]
    good = of >= 0
    areas = shapely.area(np.array(patches, dtype=object))
    found = shapely.area(np.array(faces, dtype=object))
    reach = 1.0 * shapely.length(np.array(patches, dtype=object))
    good[good] = np.abs(found[of[good]] - areas[good]) < reach[good]
    counts = np.bincount(of[good], minlength=len(faces))
    good[good] = counts[of[good]] == 1
    share = good.mean() if len(faces) == len(patches) else min(good.mean(), 0.999)
    truth = _neighbours(patches)
    seen = _neighbours(list(faces))
    mapped = {tuple(sorted((int(of[a]), int(of[b])))) for a, b in truth}
    seams = len(mapped & seen) / max(len(mapped | seen), 1)
    mine, theirs = _vertices(patches), _vertices(list(faces))
    far, _ = cKDTree(theirs).query(mine)
    vertices = (far < 1.5).mean() if len(mine) == len(theirs) else min((far < 1.5).mean(), 0.999)
    return share, seams, vertices, far


def _neighbours(polygons):
    met = meet(np.array(polygons, dtype=object))
    inner = (met.left >= 0) & (met.right >= 0)
    return {
        tuple(sorted(p))
        for p in zip(met.left[inner].tolist(), met.right[inner].tolist(), strict=True)
    }


def _vertices(polygons):
    """Places where seams meet, or turn."""
    met = meet(np.array(polygons, dtype=object))
    ends = np.array([p[k] for p in met.paths for k in (0, -1)])
    return np.unique(np.round(ends, 2), axis=0)
