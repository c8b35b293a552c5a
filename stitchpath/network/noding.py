"""Lines and seams cut where they meet, so that lines of a stage and thread meet only at their ends.

This is snap rounding: all places where lines bend, end or cross are *hot pixels*, squares of 1 µm.
Every line through a hot pixel is led through its middle. This always comes to an end: once each
line passes only through the middles of hot pixels, nothing is left to do. It also parts lines that
meet at a glancing angle. Cutting and rounding one crossing at a time would shave off a piece of
2 µm there, again and again.

GEOS has the same (`shapely.unary_union` with a grid size) and is well kept. But it gives back bare
lines and melts together what lies near. Whose line a piece was, which way it ran and what lies over
what is then lost, and has to be guessed where two lines all but coincide. So the pixels are our
own; the finding of what lies near is GEOS's.

Pieces too short to stitch are then drawn together into one point, and all is snapped again. Passes
are capped; what is still too short after the last is left out.
"""

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeAlias, TypeVar

import numpy as np
import shapely
from scipy.spatial import cKDTree

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.geometry.polylines import heights, joined_paths, path_keys, path_lengths
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.frame.windows import Window, cut_at
from stitchpath.lines.line import SHOWN, Line, by_stage_and_thread

__all__ = ["SHORTEST", "node_lines"]

SHORTEST = 0.05  # mm: no line is shorter; curves are flattened as finely
_TOUCHING = 2.0  # pixels: an end so near to a line touches it, for each was rounded by itself
_CORNER = 0.7072  # pixels from the middle of one to its corner, and a bit
_OPEN = 0.5 - 1e-9  # a pixel holds its left and upper side, not the right and lower one
_SETTLES = 8  # snappings until nothing moves; two or three do
_PASSES = 8  # of snapping and drawing together; two or three do
_LOOP = 4  # a closed piece shorter than so many of the shortest holds nothing
_SIDES = 2

Ways: TypeAlias = dict[tuple[int, str], list[SeamBit]]
_Cut = TypeVar("_Cut", Line, SeamBit)


def node_lines(
    lines: Sequence[Line],
    bits: Sequence[SeamBit],
    windows: Sequence[Window] = (),
    *,
    travelling: Container[tuple[int, str]] | None = None,
    pixel: int = 1,
) -> tuple[list[Line], Ways]:
    """Cut lines and seams where they meet.

    Parameters
    ----------
    lines
        All lines to quilt. Ditch lines are seams, which meet only at their ends from the start.
    bits
        The seams, which may be travelled along.
    windows
        Of a frame: what none of them holds whole is cut as well.
    travelling
        Stages and threads that may go along seams; lines of others are not cut where they cross
        one. All of them unless said.
    pixel
        Side of a hot pixel, µm; what is drawn together is twice as long where it is more than 1.

    Returns
    -------
    lines
        In the same order, cut; on the 1 µm grid, none shorter than `SHORTEST`, no two over each
        other. Lines of another stage or thread do not cut each other.
    ways
        For each stage and thread the seams it does not stitch, cut where its lines meet them.

    Raises
    ------
    StitchpathError
        When no line is long enough to be stitched.
    """
    lines, bits = _cut_between(lines, windows), _cut_between(bits, windows)
    keys = path_keys([bit.points for bit in bits])
    parts: dict[int, list[FloatArray]] = {}
    ways: Ways = {}
    for group, found in by_stage_and_thread(lines).items():
        # What a ditch and another line share is the ditch's: it comes first.
        members = sorted(found, key=lambda i: lines[i].kind in SHOWN)
        stitched = set(path_keys([lines[i].points for i in members if lines[i].seam >= 0]))
        rest = [bit for bit, key in zip(bits, keys, strict=True) if key not in stitched]
        rest = rest if travelling is None or group in travelling else []
        paths = [lines[i].points for i in members] + [bit.points for bit in rest]
        loose = np.array([lines[i].kind in SHOWN for i in members] + [False] * len(rest))
        noded = _noded(paths, loose, pixel)
        parts.update(zip(members, noded[: len(members)], strict=True))
        ways[group] = [
            bit if part is bit.points else replace(bit, points=part)
            for bit, cut in zip(rest, noded[len(members) :], strict=True)
            for part in cut
        ]
    cut_lines = [
        line if part is line.points else replace(line, points=part)
        for i, line in enumerate(lines)
        for part in parts[i]
    ]
    if not cut_lines:
        raise StitchpathError(
            f"lines: found none of {SHORTEST} mm or more, expected lines long enough to stitch"
        )
    return cut_lines, ways


def _cut_between(things: Sequence[_Cut], windows: Sequence[Window]) -> list[_Cut]:
    """Cut every line that no window holds, on the grid."""
    if not windows or not things:
        return list(things)
    least, most = heights([thing.points for thing in things], windows[0].axis)
    cut: list[_Cut] = []
    for thing, low, high in zip(things, least.tolist(), most.tolist(), strict=True):
        parts = [thing.points]
        for one, two in pairwise(windows):
            if low < min(two.top, one.ends) and high > max(one.bottom, one.ends):
                parts = [piece for part in parts for piece in _parted(part, one, two)]
        cut += [thing if part is thing.points else replace(thing, points=part) for part in parts]
    return cut


def _parted(points: FloatArray, one: Window, two: Window) -> list[FloatArray]:
    """Cut a polyline between two windows."""
    after, places = cut_at(points, one, two)
    parts = []
    for after_this, place in zip(after[::-1].tolist(), places[::-1], strict=True):
        parts.append(np.concatenate([place[None], points[after_this:]]))
        points = np.concatenate([points[:after_this], place[None]])
    return [points, *parts[::-1]]


@dataclass(frozen=True, slots=True)
class _Chains:
    """Polylines laid end to end, in pixels.

    Attributes
    ----------
    points
        Whole numbers, shape (n, 2).
    chain
        Which polyline each point is of, ascending, shape (n,).
    owner
        Which line or seam each polyline is a piece of, shape (count,).
    loose
        Whether what it meets has still to be found, shape (count,).
    """

    points: FloatArray
    chain: IntArray
    owner: IntArray
    loose: BoolArray

    @property
    def tips(self) -> IntArray:
        """First and last point of each, shape (count, 2)."""
        first = np.flatnonzero(np.diff(self.chain, prepend=-1))
        return np.stack([first, np.append(first, len(self.chain))[1:] - 1], axis=1)

    @property
    def steps(self) -> IntArray:
        """Points from which a straight piece leads to the next."""
        return np.flatnonzero(self.chain[1:] == self.chain[:-1])

    @property
    def length(self) -> FloatArray:
        """Length of each, shape (count,)."""
        steps = self.steps
        size = np.hypot(*(self.points[steps + 1] - self.points[steps]).T)
        return np.asarray(
            np.bincount(self.chain[steps], weights=size, minlength=len(self.owner)), np.float64
        )

    def paths(self) -> list[FloatArray]:
        """Give the polylines one by one."""
        return [self.points[a : b + 1] for a, b in self.tips.tolist()]


def _noded(paths: Sequence[FloatArray], loose: BoolArray, pixel: int) -> list[list[FloatArray]]:
    """Cut paths where the loose ones among them meet others or themselves.

    Parameters
    ----------
    paths
        Each of shape (n, 2), mm; where two of them lie over each other, the first keeps the piece.
    loose
        Which of them are not noded from the start, shape (len(paths),).
    pixel
        Side of a pixel, µm.

    Returns
    -------
    list of list of FloatArray
        The pieces of each, in its order and direction, on the grid; none of what is not left.
    """
    shortest = SHORTEST * (1 + (pixel > 1)) / (pixel * GRID)
    if not loose.any() and (path_lengths(paths) >= SHORTEST).all():
        return [[path] for path in paths]
    chains = _in_pixels(paths, loose, pixel)
    corners = chains.points[chains.tips[~loose[chains.owner]].ravel()]
    held = {tuple(corner) for corner in corners.tolist()}
    chains = _ends_brought_together(chains, held)
    for _ in range(_PASSES):
        chains = _without_doubles(_snapped_until_still(chains))
        if not (chains.length < shortest).any():
            break
        chains = _drawn_together(chains, held, shortest)
    else:
        chains = _without_doubles(_snapped_until_still(chains))
        chains = _only(chains, chains.length >= shortest)
    parts: list[list[FloatArray]] = [[] for _ in paths]
    for owner, part in zip(chains.owner.tolist(), chains.paths(), strict=True):
        parts[owner].append(part * pixel * GRID)
    return parts


def _in_pixels(paths: Sequence[FloatArray], loose: BoolArray, pixel: int) -> _Chains:
    starts, points = joined_paths(paths)
    counts = np.diff(np.append(starts, len(points)))
    chain = np.repeat(np.arange(len(paths)), counts)
    whole = np.rint(points / (pixel * GRID))
    return _tidied(_Chains(whole, chain, np.arange(len(paths)), loose))


def _tidied(chains: _Chains) -> _Chains:
    """Leave out points that fall together, and polylines of one point."""
    points, chain = chains.points, chains.chain
    new = np.any(points[1:] != points[:-1], axis=1) | (chain[1:] != chain[:-1])
    new = np.append([True], new) if len(points) else np.zeros(0, dtype=bool)
    kept = replace(chains, points=points[new], chain=chain[new])
    return _only(kept, np.bincount(kept.chain, minlength=len(kept.owner)) >= _SIDES)


def _only(chains: _Chains, kept: BoolArray) -> _Chains:
    """Leave only some of the polylines."""
    if kept.all():
        return chains
    mine = kept[chains.chain]
    number = np.cumsum(kept) - 1
    return _Chains(
        chains.points[mine], number[chains.chain[mine]], chains.owner[kept], chains.loose[kept]
    )


def _snapped_until_still(chains: _Chains) -> _Chains:
    touch = _TOUCHING
    for _ in range(_SETTLES):
        snapped = _snapped(chains, touch)
        if snapped is chains:
            break
        chains, touch = snapped, _CORNER
    return chains


def _snapped(chains: _Chains, touch: float) -> _Chains:
    """Lead every polyline through the middle of the hot pixels that it passes.

    A pixel is hot where polylines that meet bend, end or cross. Ends nearer than `touch` are
    passed through as well.
    """
    at = chains.steps
    a, b = chains.points[at], chains.points[at + 1]
    shapes = np.asarray(shapely.linestrings(np.stack([a, b], axis=1)))
    tree = shapely.STRtree(shapes)
    left, right = _near_pairs(chains, at, shapes, tree)
    if not len(left):
        return chains
    cross, crossed = _crossings(a, b, left, right)
    ends = np.concatenate([x[k] for x in (a, b) for k in (left, right)])
    hot = np.unique(np.concatenate([ends, cross]), axis=0)
    place, step = tree.query(shapely.points(hot), predicate="dwithin", distance=touch)
    passed = _through(hot[place], a[step], b[step])
    if touch > _CORNER:
        tips = np.unique(chains.points[chains.tips[chains.loose].ravel()], axis=0)
        is_tip = np.isin(_codes(hot), _codes(tips))
        near_own = np.minimum(*(np.hypot(*(hot[place] - x[step]).T) for x in (a, b))) < touch
        passed |= is_tip[place] & ~near_own
    # A crossing on the very rim of its pixel belongs to it all the same.
    place = np.concatenate([hot[place[passed]], cross])
    step = np.concatenate([step[passed], crossed])
    new = np.any(place != a[step], axis=1) & np.any(place != b[step], axis=1)
    if not new.any():
        return chains
    place, step = place[new], step[new]
    share = np.einsum("ij,ij->i", place - a[step], b[step] - a[step])
    order = np.lexsort((place[:, 1], place[:, 0], share, step))
    after = at[step[order]] + 1
    points = np.insert(chains.points, after, place[order], axis=0)
    chain = np.insert(chains.chain, after, chains.chain[after])
    return _tidied(replace(chains, points=points, chain=chain))


def _near_pairs(
    chains: _Chains, at: IntArray, shapes: Geometries, tree: shapely.STRtree
) -> tuple[IntArray, IntArray]:
    """Pair straight pieces that come within a pixel, one of them loose; not those that follow on.

    Where a polyline turns back sharply, the piece that follows may lie over the one before.
    """
    loose = chains.loose[chains.chain[at]]
    mine = np.flatnonzero(loose)
    left, right = tree.query(shapes[mine], predicate="dwithin", distance=_TOUCHING)
    left = mine[left]
    fresh = (left < right) | ((left > right) & ~loose[right])
    left, right = left[fresh], right[fresh]
    follows = (np.abs(left - right) == 1) & (np.abs(at[left] - at[right]) == 1)
    way = chains.points[at + 1] - chains.points[at]
    back = np.einsum("ij,ij->i", way[left], way[right]) < 0
    kept = ~follows | back
    return left[kept], right[kept]


def _crossings(
    a: FloatArray, b: FloatArray, left: IntArray, right: IntArray
) -> tuple[FloatArray, IntArray]:
    """Give the pixels in which straight pieces cross, twice, and each of the two that do.

    The products are exact: whole numbers of pixels below 2^53 on a top of less than 90 m.
    """
    r, s, gap = b[left] - a[left], b[right] - a[right], a[right] - a[left]
    both = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):  # of pieces that run alike
        first = (gap[:, 0] * s[:, 1] - gap[:, 1] * s[:, 0]) / both
        second = (gap[:, 0] * r[:, 1] - gap[:, 1] * r[:, 0]) / both
    cross = (both != 0) & (first >= 0) & (first <= 1) & (second >= 0) & (second <= 1)
    met = a[left[cross]] + first[cross, None] * r[cross]
    pixels = np.floor(met + 0.5)
    return np.concatenate([pixels, pixels]), np.concatenate([left[cross], right[cross]])


def _through(pixels: FloatArray, a: FloatArray, b: FloatArray) -> BoolArray:
    """Tell which straight pieces pass through which pixels, and where on the piece, as a share."""
    way = b - a
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = ((pixels + side - a) / way for side in (-0.5, _OPEN))
    flat = way == 0
    held = (np.abs(pixels - a) <= _OPEN) | ~flat
    enter = np.where(flat, -np.inf, np.minimum(low, high)).max(axis=1)
    leave = np.where(flat, np.inf, np.maximum(low, high)).min(axis=1)
    through: BoolArray = held.all(axis=1) & (np.maximum(enter, 0) <= np.minimum(leave, 1))
    return through


def _codes(points: FloatArray) -> IntArray:
    """Give every pixel a number of its own, shape (n,)."""
    whole = points.astype(np.int64)
    return (whole[:, 0] << 32) + whole[:, 1]


def _without_doubles(chains: _Chains) -> _Chains:
    """Cut polylines where they meet; of pieces over each other the first is left."""
    _, vertex = np.unique(_codes(chains.points), return_inverse=True)
    count = int(vertex.max(initial=-1)) + 1
    at = chains.steps
    one, two = vertex[at], vertex[at + 1]
    pair = np.minimum(one, two) * count + np.maximum(one, two)
    kept = np.zeros(len(at), dtype=bool)
    kept[np.unique(pair, return_index=True)[1]] = True
    one, two, at = one[kept], two[kept], at[kept]
    node = np.bincount(np.concatenate([one, two]), minlength=count) != _SIDES
    node[vertex[chains.tips.ravel()]] = True
    begins = np.append([True], (np.diff(at) != 1) | node[one[1:]])[: len(at)]
    ends = np.append(begins[1:], True)[: len(at)]
    after = np.flatnonzero(ends) + 1
    index = np.insert(at, after, at[ends] + 1)
    piece = np.insert(np.cumsum(begins) - 1, after, np.arange(len(after)))
    old = chains.chain[at[begins]]
    return _Chains(chains.points[index], piece, chains.owner[old], chains.loose[old])


def _ends_brought_together(chains: _Chains, held: set[tuple[float, ...]]) -> _Chains:
    """Make one of ends that touch but for a rounding."""
    ends = np.unique(chains.points[chains.tips.ravel()], axis=0)
    if not len(ends):
        return chains
    pairs = cKDTree(ends).query_pairs(_TOUCHING, output_type="ndarray")
    if not len(pairs):
        return chains
    moved = _Moved(chains, held)
    for a, b in sorted(pairs.tolist()):
        moved.join(tuple(ends[a].tolist()), tuple(ends[b].tolist()), _TOUCHING + 1)
    return moved.chains(_TOUCHING)


def _drawn_together(chains: _Chains, held: set[tuple[float, ...]], shortest: float) -> _Chains:
    """Make one point of the two ends of each piece too short, the shortest first."""
    length = chains.length
    moved = _Moved(chains, held)
    short = np.flatnonzero(length < shortest)
    ends = chains.points[chains.tips]
    for k in short[np.argsort(length[short], kind="stable")].tolist():
        moved.join(tuple(ends[k, 0].tolist()), tuple(ends[k, 1].tolist()), shortest)
    return moved.chains(shortest)


class _Moved:
    """Ends that are made one. Ends of seams are held: they stay where they are if they can."""

    def __init__(self, chains: _Chains, held: set[tuple[float, ...]]) -> None:
        self._chains = chains
        self._held = held
        self._to: dict[tuple[float, ...], tuple[float, ...]] = {}

    def place(self, end: tuple[float, ...]) -> tuple[float, ...]:
        """Tell where an end is now."""
        while end in self._to:
            end = self._to[end]
        return end

    def join(self, one: tuple[float, ...], two: tuple[float, ...], reach: float) -> None:
        """Make one of two ends, unless others have drawn them too far apart."""
        one, two = self.place(one), self.place(two)
        if one == two or np.hypot(one[0] - two[0], one[1] - two[1]) >= reach:
            return
        if two in self._held and one not in self._held:
            one, two = two, one
        self._to[two] = one

    def chains(self, reach: float) -> _Chains:
        """Give the polylines with their ends moved; near a moved end they run straight to it."""
        points, owner, loose = [], [], []
        mine = zip(
            self._chains.paths(),
            self._chains.owner.tolist(),
            self._chains.loose.tolist(),
            strict=True,
        )
        for path, of, was_loose in mine:
            ends = [tuple(p) for p in path[[0, -1]].tolist()]
            now = [self.place(end) for end in ends]
            bent = path
            for end, place, way in zip(ends, now, (1, -1), strict=True):
                if end != place:
                    bent = _led_to(bent[::way], np.array(place), reach)[::way]
            if now[0] == now[1] and path_lengths([bent])[0] < _LOOP * reach:
                continue
            points.append(bent)
            owner.append(of)
            loose.append(was_loose or bent is not path)
        if not points:
            return _only(self._chains, np.zeros(len(self._chains.owner), dtype=bool))
        chain = np.repeat(np.arange(len(points)), [len(p) for p in points])
        laid = _Chains(np.concatenate(points), chain, np.array(owner), np.array(loose))
        return _tidied(laid)


def _led_to(path: FloatArray, place: FloatArray, reach: float) -> FloatArray:
    """Begin a polyline at another place, straight on to where it leaves the neighbourhood."""
    far = np.hypot(*(path[1:-1] - place).T) >= reach
    first = 1 + (int(np.argmax(far)) if far.any() else len(far))
    return np.concatenate([place[None], path[first:]])
