"""One closed spiral over a region: in between its own way out, and back to where it began.

Echo rings two spacings apart are cut open and joined into one tree, which winds inward; the curve
goes round that tree at half a spacing, so that it comes out again between the turns by which it
went in. Zhao et al., "Connected Fermat spirals for layered fabrication" (2016), show that such
curves fill any region.
"""

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial import cKDTree
from shapely.geometry import LinearRing, LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import distances
from stitchpath.geometry.tolerances import SAME_POINT
from stitchpath.lines.fills.bending import mended
from stitchpath.lines.fills.curves import evenly, flattened, settled
from stitchpath.lines.fills.entries import choose_door, opened
from stitchpath.lines.fills.ground import dotted, polygons
from stitchpath.lines.fills.rings import Hop, hops, ring_from, snug
from stitchpath.lines.fills.turns import cornered_turns, round_turns

__all__ = ["spiral"]

_RAMP = 6.0  # length over which a turn sinks to the next one, in spacings
_LATEST = 0.45  # at most this share of a turn
_BARE = 1.06  # a place farther than this from the curve gets a lobe of its own, in spacings
_COARSE, _ARC = 0.01, 8  # in spacings; chords of a quarter circle
_GAP = 2.0  # left open at the end of a turn, in spacings


def spiral(
    region: BaseGeometry,
    part: Polygon,
    spacing: float,
    radius: float,
    door: tuple[float, float] | None,
) -> tuple[FloatArray, bool]:
    """Wind one line into a part of a region, and out again.

    A round part gets an even spiral, one with a corner turns along its sides; where neither does,
    as round pieces, it is a tree of turns.

    Parameters
    ----------
    region
        The region that is filled, mm.
    part
        One of its `inner_parts`: all stitching lies inside it.
    spacing, radius
        Of the fill, mm.
    door
        Where it will be entered: see `choose_door`.

    Returns
    -------
    path
        From the door and back to it, shape (k, 2), mm.
    kept
        False if the door wanted could not be reached, so that another one was taken.
    """
    edge = np.asarray(part.exterior.coords, dtype=np.float64)[:-1, :2]
    gate, foot, kept = choose_door(region, edge, door, spacing)
    path = round_turns(region, part, spacing, radius, gate)
    if path is not None:
        return path, kept
    curve = cornered_turns(part, spacing, radius, foot)
    if curve is None:
        curve = _tree(region, part, spacing, radius, door)
    return opened(curve, region, door, spacing, radius)


def _tree(
    region: BaseGeometry,
    part: Polygon,
    spacing: float,
    radius: float,
    door: tuple[float, float] | None,
) -> FloatArray:
    """Wind one closed curve round a tree of turns, the first point not repeated."""
    # The curve is rounded at the end: the lines that it goes round need not be.
    found, pitch = snug(part, spacing, 0.02 * spacing, strands=2)
    if not found:  # too small for two strands: once round
        return np.asarray(part.exterior.coords, dtype=np.float64)[:-1, :2]
    # All turns wind the same way round. They are smoothed at the end, which spares many points.
    found = [
        shapely.get_coordinates(LinearRing(ring).simplify(_COARSE * spacing)) for ring in found
    ]
    found = [ring if LinearRing(ring).is_ccw else ring[::-1].copy() for ring in found]
    gate, foot, _ = choose_door(region, np.concatenate(found), door, spacing)
    room = part.buffer(-0.49 * pitch)
    shapely.prepare(room)
    tree = _Tree(found, hops(found, gate, foot, 5 * spacing), pitch, room)
    lines = MultiLineString([line for line in tree.lines() if len(line) > 1]).simplify(
        _COARSE * spacing
    )
    band = lines.buffer(pitch / 2 + radius, quad_segs=_ARC).buffer(-radius, quad_segs=_ARC)
    band = _spurred(_slit(band, pitch), part, spacing, radius)
    return _smooth(shapely.get_coordinates(band.exterior)[:-1], part, spacing, radius)


def _smooth(curve: FloatArray, part: Polygon, spacing: float, radius: float) -> FloatArray:
    """Make a smooth curve of one that was put together from arcs."""
    count = round(LinearRing(curve).length / (0.25 * spacing))
    ground = part.buffer(-0.03)
    control = settled(evenly(curve, max(8, count)), ground, radius)
    control = mended(control, part, ground, spacing, radius)
    smooth = LinearRing(flattened(control)).simplify(0.005)
    return shapely.get_coordinates(smooth if smooth.is_simple else LinearRing(curve))[:-1]


def _bare_places(
    part: Polygon, edge: LinearRing, spacing: float, share: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find places of a part farther from a curve than a share of the spacing.

    Returns
    -------
    at, far, root
        The places, shape (n, 2); how far they are; the nearest points of the curve, shape (n, 2).
    """
    step = spacing / 4
    at = dotted(part, step)
    on = shapely.get_coordinates(shapely.segmentize(edge, step / 2))
    far, root = (np.asarray(found) for found in cKDTree(on).query(at))
    bare = far > share * spacing
    return at[bare], far[bare], on[root[bare]]


def _spurred(band: Polygon, part: Polygon, spacing: float, radius: float) -> Polygon:
    """Reach out with short lobes to places that lie farther than the spacing from the edge."""
    at, far, root = _bare_places(part, band.exterior, spacing, _BARE)
    width = max(0.3 * spacing, 1.02 * radius)
    lobes: tuple[list[BaseGeometry], list[BaseGeometry]] = [], []
    shapely.prepare(band)
    while len(at):
        worst = int(np.argmax(np.round(far, 6)))
        way = LineString([root[worst], at[worst]])
        inside = bool(band.contains(Point(at[worst])))
        lobes[inside].append(way.buffer(width, quad_segs=16))
        left_bare = shapely.distance(way, shapely.points(at)) > _BARE * spacing + width
        at, far, root = at[left_bare], far[left_bare], root[left_bare]
    if not lobes[0] and not lobes[1]:
        return band
    grown_out = shapely.union_all([band, *lobes[0]]).intersection(part)
    return _slit(grown_out.difference(shapely.union_all(lobes[1])), spacing)


def _slit(band: BaseGeometry, width: float) -> Polygon:
    """Cut a band open until it closes no ring, so that its edge is one curve.

    Its holes and its outside are joined to one tree by the shortest ways; each way is cut open.
    """
    area = polygons(band)[0]
    for _ in range(8):
        ways = _shortest_ways([area.exterior, *area.interiors], width)
        if not len(ways):
            break
        on = ways[:, 1] - ways[:, 0]
        on *= width / np.maximum(np.hypot(on[:, 0], on[:, 1]), SAME_POINT)[:, None]
        lines = shapely.linestrings(np.stack([ways[:, 0] - on, ways[:, 1] + on], axis=1))
        cuts = shapely.union_all(shapely.buffer(lines, width / 2, cap_style="flat"))
        area = polygons(area.difference(cuts))[0]
    return area


def _shortest_ways(edges: list[LinearRing], width: float) -> FloatArray:
    """Find the shortest ways that join rings into one tree, shape (m, 2, 2).

    Between points a quarter of the width apart on them: a search over all segments would take long.
    """
    if len(edges) == 1:
        return np.empty((0, 2, 2))
    at = [shapely.get_coordinates(shapely.segmentize(edge, width / 4)) for edge in edges]
    trees = [cKDTree(points) for points in at]
    count = len(edges)
    weight = np.zeros((count, count))
    ways: dict[tuple[int, int], FloatArray] = {}
    # The outside comes first: it is the longest, and its points are only looked for.
    bounds = shapely.bounds(edges) + np.array([-1, -1, 1, 1]) * width
    boxes = np.asarray(shapely.box(*bounds.T))
    for i, j in shapely.STRtree(boxes).query(boxes, predicate="intersects").T:
        if i >= j:
            continue
        found, index = trees[i].query(at[j], distance_upper_bound=2 * width)
        nearest = int(np.argmin(np.round(found, 9)))
        if np.isfinite(found[nearest]):
            weight[i, j] = max(found[nearest], SAME_POINT)
            ways[i, j] = np.stack([at[i][index[nearest]], at[j][nearest]])
    chosen = np.column_stack(minimum_spanning_tree(coo_array(weight).tocsr()).tocoo().coords)
    return np.array([ways[i, j] for i, j in chosen.tolist()]).reshape(-1, 2, 2)


class _Tree:
    """Rings cut open and joined into one tree of lines."""

    def __init__(
        self, found: list[FloatArray], made: list[Hop], pitch: float, room: BaseGeometry
    ) -> None:
        self.pitch = pitch
        self.made = made
        self.room = room
        self.turns = {hop.to: ring_from(found[hop.to], hop.end, []) for hop in made}
        self.share: dict[int, float] = {}  # of each turn that sinks to the next one

    def lines(self) -> list[FloatArray]:
        """Lines of the tree, the turns from the outside in, each with its ramp or its hop."""
        found: list[FloatArray] = []
        sunk: set[int] = set()  # turns that are entered by a ramp
        for hop in self.made:
            turn = shapely.segmentize(LineString(self.turns[hop.to]), self.pitch / 4)
            share = min(_LATEST, _RAMP * self.pitch / turn.length)
            if hop.to in sunk:  # a ramp that began later than the one outside it would meet it
                share = max(share, self.share[hop.home])
            self.share[hop.to] = share
            children = [child for child in self.made if child.home == hop.to]
            line, heir = self._ramp(turn, share, children)
            if line is None:
                line = self._tail(turn, share) if hop.to in sunk else self._blunt(turn)
            if hop.home < 0:
                line = np.concatenate([self._before(turn, line), line])
            found.append(line)
            sunk |= {heir} if heir is not None else set()
            found += [self._bridge(line, child) for child in children if child.to != heir]
        return found

    def _ramp(
        self, turn: LineString, share: float, children: list[Hop]
    ) -> tuple[FloatArray | None, int | None]:
        """Make a turn that sinks to the next one at its end, if one lies all along there."""
        t, sink, outer = _end_of(turn, share)
        start = shapely.get_coordinates(turn)[0]
        for hop in children:
            if not np.array_equal(hop.start, start):
                continue
            ways = shapely.shortest_line(shapely.points(outer), LineString(self.turns[hop.to]))
            inner = shapely.get_coordinates(ways).reshape(-1, 2, 2)[:, 1]
            ramp = outer + sink[:, None] * (inner - outer)
            ramp[-1] = hop.end
            for _ in range(40):
                ramp[1:-1] += 0.5 * ((ramp[:-2] + ramp[2:]) / 2 - ramp[1:-1])
            near = shapely.length(ways).max() < 1.6 * _GAP * self.pitch
            if near and self.room.covers(LineString(ramp)):
                return np.concatenate([_upto(turn, t[0]), ramp]), hop.to
        return None, None

    def _blunt(self, turn: LineString) -> FloatArray:
        """Make a turn that stops before it meets the hop that led into it."""
        return _upto(turn, max(1 - _GAP * self.pitch / turn.length, 0.3))

    def _tail(self, turn: LineString, share: float) -> FloatArray:
        """Make the last turn. It bends away from the ramp that led into it."""
        t, sink, outer = _end_of(turn, share)
        heart = shapely.get_coordinates(shapely.maximum_inscribed_circle(Polygon(turn)))[0]
        reach = np.maximum(np.hypot(*(heart - outer).T), 1e-9)
        tail = outer + (heart - outer) * np.minimum(1, sink * _GAP * self.pitch / reach)[:, None]
        kept = _upto(turn, t[0])
        clear = shapely.distance(LineString(kept), shapely.points(tail)) > 0.9 * _GAP * self.pitch
        # Near its root the tail is always close to the turn it grows from.
        clear |= np.hypot(*(tail - kept[-1]).T) < _GAP * self.pitch
        clear &= np.asarray(shapely.intersects_xy(self.room, tail[:, 0], tail[:, 1]))
        return np.concatenate([kept, tail[1 : int(np.argmin(np.append(clear, False)))]])

    def _before(self, turn: LineString, line: FloatArray) -> FloatArray:
        """Find what of the first turn fits in before its beginning, beside the end of its ramp."""
        end = shapely.get_coordinates(turn)[:0:-1]
        clear = shapely.distance(LineString(line[len(line) // 4 :]), shapely.points(end))
        length = distances(end)
        good = (clear > 0.875 * _GAP * self.pitch) & (length < _RAMP * self.pitch)
        return end[1 : int(np.argmin(np.append(good, False)))][::-1]

    def _bridge(self, line: FloatArray, child: Hop) -> FloatArray:
        """Lead straight from a turn to another one that it does not sink to."""
        if LineString(line).distance(Point(child.start)) < SAME_POINT:
            return np.stack([child.start, child.end])
        way = shapely.shortest_line(LineString(line), LineString(self.turns[child.to]))
        ends = shapely.get_coordinates(way)
        self.turns[child.to] = ring_from(self.turns[child.to], ends[1], [])
        return ends


def _end_of(turn: LineString, share: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give places along the end of a turn, how far each has sunk (both 0 to 1), and its point."""
    t = np.linspace(1 - share, 1, max(12, int(share * turn.length)))
    sink = (t - t[0]) / share
    points = shapely.line_interpolate_point(turn, t, normalized=True)
    return t, sink * sink * (3 - 2 * sink), shapely.get_coordinates(points)


def _upto(turn: LineString, share: float) -> FloatArray:
    """Cut off the beginning of a turn."""
    at = shapely.get_coordinates(turn)
    along = distances(at)
    end = share * along[-1]
    last = [np.interp(end, along, axis) for axis in at.T]
    return np.concatenate([at[along < end - SAME_POINT], [last]])
