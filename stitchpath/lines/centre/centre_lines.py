"""Lines through the middle of an appliqué piece: the medial axis, cleaned by craft rules.

>>> from shapely.geometry import box
>>> found = centre_lines(box(0, 0, 100, 20), CentreRules(tip=2))
>>> [line.round(1).tolist() for line in found.lines]
[[[2.0, 10.0], [98.0, 10.0]]]
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import groups
from stitchpath.lines.centre.across import halfway_round, way_across
from stitchpath.lines.centre.arms import (
    SAMPLE,
    Arms,
    Path,
    chosen_arms,
    doubled,
    drawn_back,
    joined,
    resampled,
    vein_of,
)
from stitchpath.lines.centre.edge import NEAR, Ground
from stitchpath.lines.centre.medial_axis import Axis, medial_axis, sampling_step
from stitchpath.lines.centre.meetings import crossings_gathered, drawn_together
from stitchpath.lines.centre.pose import SAME, Pose, posed
from stitchpath.lines.centre.pruning import CentreRules, pruned_chains
from stitchpath.lines.centre.within import (
    SLACK,
    CentreNote,
    held_inside,
    note,
    run_on,
    stays_inside,
)

__all__ = ["Arms", "CentreLines", "CentreNote", "CentreRules", "centre_lines"]

_FLAT = 0.02  # mm that thinning out the points may move a finished line
_SMOOTHINGS = 16  # passes of (1, 2, 1) / 4: evens out a waver shorter than some 3 mm
# An outline of more points in one part is traced; it is moved by as little of these shares of its
# size as brings it down to that. The first is 0.05 mm on 4 in.
_TRACED, _SHARES = 2000, (1 / 2000, 1 / 1000, 1 / 500, 1 / 250)
_GRAIN = 1 / 500  # share of a piece's size that is no shape of its own: 0.2 mm on 4 in
_BESIDE = 0.5  # mm: no two lines are stitched side by side nearer than a thread or two
_EVEN = 0.7  # share of its greatest width that half of an arm has at least, unless it is a point
_TOO_SHORT = "an arm is too short for a line that stops so far from its end"
_LEFT_OUT = "an arm is too narrow for a line and is left out"
_ASTRAY = "a line would leave the piece and is not drawn"
_FAR = 6.35  # mm: an arm left out is worth a note if it runs on for 1/4 in
_CLOSE = 12.7  # mm: notes of a kind as close as 1/2 in are one


@dataclass(frozen=True, slots=True)
class CentreLines:
    """Lines through the middle of a piece.

    Attributes
    ----------
    lines
        Polylines, each shape (n, 2), mm. They meet only at ends, and ends that meet are the same
        point to the last bit. A closed line ends in its first point.
    widths
        For each line, places along it at most 0.5 mm apart and the width of the piece there (twice
        the distance to its edge), as rows x, y, width, shape (k, 3), mm.
    notes
        Where the piece is too narrow or too small for a line.
    """

    lines: tuple[FloatArray, ...]
    widths: tuple[FloatArray, ...]
    notes: tuple[CentreNote, ...]


def centre_lines(
    outline: Polygon | MultiPolygon,
    rules: CentreRules | None = None,
    *,
    arms: Arms = "all",
    vein: bool = False,
    out_and_back: float | None = None,
    level: float = 0.0,
) -> CentreLines:
    """Lines through the middle of an appliqué piece.

    Parameters
    ----------
    outline
        Valid outline of the piece, mm, y down, as `mend_outline` makes it. It may have parts and
        holes; holes are gone round.
    rules
        Craft rules; the defaults if None.
    arms
        Which arms to stitch: "all", a number for the longest so many, or the hours of a clock
        face that they point to from the middle of the piece (12 is up).
    vein
        Only the longest way through each part.
    out_and_back
        Stitch every arm twice, in two lines this far apart, mm, that turn round at its tip, so
        that it needs no retrace and no end. They come nearer to each other where the arm is narrow.
        Lines round a hole stay single: they close anyway. Where there is no room for two lines one
        is drawn, to be gone there and back.
    level
        Direction of the line across a disc, which has none of its own, degrees clockwise: how the
        piece is turned.

    Returns
    -------
    CentreLines

    Notes
    -----
    What comes of plain shapes: a strip or an oval gives one line from end to end; a triangle three
    lines that meet in the middle of its inscribed circle, a square and other regular shapes of up
    to six corners a line to each corner; a disc one level line across; a ring a closed line round
    its hole; an L one bent line, a T three lines.
    """
    for same in SAME:
        found = _found(outline, rules or CentreRules(), arms, out_and_back, level, same, vein=vein)
        if not any(said.astray for said in found.notes):
            break
    return found


def _found(
    outline: Polygon | MultiPolygon,
    rules: CentreRules,
    arms: Arms,
    out_and_back: float | None,
    level: float,
    same: float,
    *,
    vein: bool,
) -> CentreLines:
    """Lines of a piece, taken to be symmetric if it is within that share of its size."""
    ground = Ground(outline)
    gap = out_and_back or 0.0
    angle = np.radians(level)
    across = np.array([np.cos(angle), np.sin(angle)])
    paths, notes = _placed(outline, rules, min(gap, _BESIDE), across, same, vein=vein)
    if vein or arms != "all":  # arms not asked for are left out anyway
        notes = [said for said in notes if said.text != _LEFT_OUT]
    middle = outline.centroid.coords[0]
    chosen, missing = chosen_arms(paths, arms, (middle[0], middle[1]))
    notes += [CentreNote(text, (middle[0], middle[1]), None) for text in missing]
    back = max(rules.tip - CentreRules().tip, 0.0) + gap / 2
    paths, short = drawn_back(chosen, back, rules.shortest)
    notes += _few([note(_TOO_SHORT, at, float(ground.clear(at[None])[0])) for at in short])
    rough = sorted(map(_upright, joined(paths)), key=_reading)
    paths, wide = _smoothed(rough, ground, rules)
    lines: list[FloatArray] = []
    widths: list[FloatArray] = []
    drawn = _drawn_lines(paths, wide, out_and_back, rules)
    for path, clear, as_found, several in zip(paths, wide, rough, drawn, strict=True):
        known = clear if several[0] is path.points else None
        sure = [_sure(line, as_found.points, ground, rules, known) for line in several]
        kept = [line for line in sure if line is not None]
        if len(kept) < len(several):
            worst = int(np.argmin(clear))
            x, y = path.points[worst].tolist()
            notes.append(CentreNote(_ASTRAY, (x, y), None, astray=True))
        lines += kept
        widths += [np.column_stack([path.points, 2.0 * clear])] * len(kept)
    return CentreLines(tuple(lines), tuple(widths), tuple(notes))


def _placed(
    outline: Polygon | MultiPolygon,
    rules: CentreRules,
    beside: float,
    level: FloatArray,
    same: float,
    *,
    vein: bool,
) -> tuple[list[Path], list[CentreNote]]:
    """All lines of a piece, found in its own frame, parts that are each other's picture as one."""
    drawn, moved = _drawn(outline)
    pose = posed(drawn, same)
    ground = Ground(shapely.transform(outline, pose.into) if moved else pose.outline)
    grain = _GRAIN * float(np.ptp(shapely.get_coordinates(pose.outline), axis=0).max())
    step = sampling_step(drawn.length)
    parts = sorted(shapely.get_parts(pose.outline), key=lambda part: part.bounds)
    paths: list[Path] = []
    notes: list[CentreNote] = []
    done: set[int] = set()
    for k, part in enumerate(parts):
        if k in done:
            continue
        own, images = _pictures(k, parts, pose.symmetries)
        found, said = _Part(part, k, ground, own, grain, step, pose, pose.turn @ level).lines(
            rules, beside
        )
        found = vein_of(found) if vein else found
        for j, matrix in {k: np.eye(2), **images}.items():
            done.add(j)
            paths += [_laid(path, j, matrix, pose) for path in found]
            notes += _few([_laid_note(one, matrix, pose) for one in said])
    return paths, notes


def _pictures(
    k: int, parts: Sequence[Polygon], symmetries: Sequence[FloatArray]
) -> tuple[list[FloatArray], dict[int, FloatArray]]:
    """Which symmetries lay a part on itself, and by which it lies on other parts."""
    own: list[FloatArray] = []
    images: dict[int, FloatArray] = {}
    spots = np.array([part.centroid.coords[0] for part in parts])
    areas = np.array([part.area for part in parts])
    for matrix in symmetries:
        away = np.hypot(*(spots - matrix @ spots[k]).T)
        alike = np.flatnonzero((away < _ALIKE) & (np.abs(areas - areas[k]) < _ALIKE * areas[k]))
        for j in alike.tolist():
            there = shapely.get_coordinates(parts[k].exterior) @ matrix.T
            box = (*there.min(axis=0), *there.max(axis=0))
            if np.abs(np.subtract(box, parts[j].bounds)).max() < _ALIKE:
                if j == k:
                    own.append(matrix)
                else:
                    images.setdefault(j, matrix)
    return own or [np.eye(2)], images


_ALIKE = 0.01  # mm, and share of area: parts that are each other's picture


def _laid(path: Path, number: int, matrix: FloatArray, pose: Pose) -> Path:
    """Lay a line of one part on another, and back into the drawing."""
    first, last = ((number, end[1]) if end is not None else None for end in path.ends)
    return Path(pose.back(path.points @ matrix.T), (first, last))


def _laid_note(said: CentreNote, matrix: FloatArray, pose: Pose) -> CentreNote:
    (at,) = pose.back(np.array([said.at]) @ matrix.T)
    return CentreNote(said.text, (float(at[0]), float(at[1])), said.width)


def _drawn_lines(
    paths: list[Path], wide: list[FloatArray], gap: float | None, rules: CentreRules
) -> list[list[FloatArray]]:
    """Lines as they are stitched, for each path: itself, or one out and one back."""
    if gap is None:
        return [[path.points] for path in paths]
    room = [clear - rules.side for clear in wide]
    return doubled(paths, gap, room, least=min(gap, _BESIDE) / 2, neck=rules.neck)


def _sure(
    line: FloatArray,
    as_found: FloatArray,
    ground: Ground,
    rules: CentreRules,
    clear: FloatArray | None,
) -> FloatArray | None:
    """Line that lies in its piece: as drawn, else as it was found, else none."""
    for one, known in ((line, clear), (as_found, None)):
        thin = _thinned(one)
        if stays_inside(thin, ground, rules, known):
            return thin
    return None


@dataclass(frozen=True, slots=True)
class _Part:
    """One part of a piece in its frame."""

    outline: Polygon
    number: int
    ground: Ground  # what clearance is measured on
    symmetries: Sequence[FloatArray]
    grain: float  # mm
    step: float  # mm between samples
    pose: Pose  # of the whole piece
    level: FloatArray  # unit vector that is level on the quilt

    def lines(self, rules: CentreRules, beside: float) -> tuple[list[Path], list[CentreNote]]:
        """All its lines, as far as they can be stitched, with `beside` mm from one to the next."""
        axis = medial_axis(self.outline, self.step, self.symmetries)
        if len(axis.edges) == 0:
            return _unreached(self, axis, [], rules)
        chains = crossings_gathered(axis, pruned_chains(axis, rules, self.grain))
        paths = drawn_together(axis, chains, self.number, self.ground, self.symmetries)
        paths, notes = held_inside(paths, self.ground, rules)
        tip = min(rules.tip, CentreRules().tip)
        paths = run_on(paths, self.ground, tip, rules.side, beside / 2)
        paths = [p for p in paths if None not in p.ends or p.length >= rules.shortest]
        added, said = _unreached(self, axis, paths, rules)
        notes += said
        return paths + added, notes + _left_out(axis, paths + added, rules, notes)


def _drawn(
    outline: Polygon | MultiPolygon,
) -> tuple[Polygon | MultiPolygon, float]:
    """Draw a traced outline with fewer points, and tell how far they may be off it, mm."""
    left, top, right, bottom = outline.bounds
    drawn, moved = outline, 0.0
    for share in _SHARES:
        if shapely.get_num_coordinates(shapely.get_parts(drawn)).max(initial=0) <= _TRACED:
            break
        moved = share * max(right - left, bottom - top)
        drawn = shapely.simplify(outline, moved)
    return drawn, moved


# ---- places that no line reaches ----------------------------------------------------------------


def _unreached(
    part: _Part, axis: Axis, paths: list[Path], rules: CentreRules
) -> tuple[list[Path], list[CentreNote]]:
    """Draw a line across each place wide enough for stitching that no line reaches yet."""
    hubs = _hubs(axis, rules.side)
    if len(hubs) == 0:
        text = "the piece is too narrow for a line"
        if len(axis.radii) == 0:
            return [], [note(text, shapely.get_coordinates(part.outline)[0], 0.0)]
        at = int(np.argmax(axis.radii))
        return [], [note(text, axis.points[at], axis.radii[at])]
    lines = MultiLineString([path.points for path in paths])
    if paths:
        apart = shapely.distance(shapely.points(axis.points[hubs]), lines)
        hubs = hubs[apart > axis.radii[hubs]]
    if len(hubs) == 0:
        return [], []
    added, notes = [], []
    places = shapely.get_parts(part.outline.buffer(NEAR - rules.side))
    for hub in hubs.tolist():
        middle = axis.points[hub]
        here = [place for place in places if place.covers(shapely.Point(middle))]
        if here and here[0].intersects(lines):
            continue
        path = _across(here[0], hub, axis, part, rules) if here else None
        if path is not None and path.length >= rules.shortest:
            added.append(path)
        else:
            text = "the piece is too small for a line"
            notes.append(note(text, middle, axis.radii[hub]))
    return added, notes


def _hubs(axis: Axis, tip: float) -> IntArray:
    """Middle of the largest circle of each place wide enough for stitching: vertices of the axis.

    Two places are two if one cannot go from one to the other without coming too near the edge.
    """
    wide: BoolArray = axis.radii >= tip
    place = _places(axis, wide[axis.edges[:, 0]] & wide[axis.edges[:, 1]])
    order = np.lexsort([-axis.radii, place])
    first = np.ones(len(place), dtype=bool)
    first[1:] = np.diff(place[order]) > 0
    hubs: IntArray = order[first]
    return hubs[wide[hubs]]


def _across(place: Polygon, hub: int, axis: Axis, part: _Part, rules: CentreRules) -> Path:
    """Draw a straight line through the middle of a place, or a closed one round it."""
    middle, radius = axis.points[hub], float(axis.radii[hub])
    away = way_across(place, middle, radius, part.pose, part.ground, part.level)
    if away is None:
        start = part.number, -1 - hub  # no meeting of the axis
        return Path(resampled(halfway_round(radius)), (start, start))
    line = Path(np.stack([middle, middle + NEAR * away]), (None, None))
    (line,) = run_on([line], part.ground, min(rules.tip, CentreRules().tip), rules.side)
    return Path(resampled(line.points[[0, -1]]), (None, None))


def _left_out(
    axis: Axis, paths: list[Path], rules: CentreRules, told: Sequence[CentreNote]
) -> list[CentreNote]:
    """Note arms too narrow for a line that run on for a good way, and not to a point."""
    thin = (axis.radii[axis.edges].max(axis=1) < rules.side) & (
        axis.explained >= rules.limb * axis.chords
    )
    if not paths or not thin.any():
        return []
    place = _places(axis, thin)
    lines = MultiLineString([path.points for path in paths])
    notes = []
    for name in np.unique(place[axis.edges[thin, 0]]).tolist():
        nodes = np.flatnonzero(place == name)
        apart = shapely.distance(shapely.points(axis.points[nodes]), lines)
        widest = nodes[int(np.argmax(axis.radii[nodes]))]
        long = float(np.ptp(axis.points[nodes], axis=0).max()) >= _FAR
        even = np.median(axis.radii[nodes]) > _EVEN * axis.radii[widest]
        if any(np.hypot(*(axis.points[nodes] - one.at).T).min() < SAMPLE for one in told):
            continue
        if apart.max() >= _FAR and long and even:
            notes.append(note(_LEFT_OUT, axis.points[widest], axis.radii[widest]))
    return notes


def _places(axis: Axis, edges: BoolArray) -> IntArray:
    """Name for each vertex the place that it belongs to, hung together by chosen edges."""
    a, b = axis.edges[edges].T
    return groups(len(axis.radii), a, b)


def _few(notes: list[CentreNote]) -> list[CentreNote]:
    """One note where several of a kind lie close together."""
    kept: list[CentreNote] = []
    for said in notes:
        near = [
            one
            for one in kept
            if one.text == said.text and np.hypot(*np.subtract(one.at, said.at)) < _CLOSE
        ]
        if not near:
            kept.append(said)
    return kept


# ---- how lines are drawn -------------------------------------------------------------------------


def _reading(path: Path) -> tuple[float, ...]:
    """Order lines by where they start, from left to right."""
    return tuple(np.round(path.points[[0, -1, len(path.points) // 2]], 2).ravel().tolist())


def _upright(path: Path) -> Path:
    """Let a line start at its left end, or the upper of two above each other."""
    first, last = np.round(path.points[[0, -1]], 2).tolist()
    return path.turned() if last < first else path


def _smoothed(
    paths: list[Path], ground: Ground, rules: CentreRules
) -> tuple[list[Path], list[FloatArray]]:
    """Even out lines, no farther from the axis than the rule, no nearer to the edge than `side`.

    With them, how far each of their points is from the edge, mm.
    """
    if not paths:
        return [], []
    laps = _laps(paths)
    long = [
        np.concatenate([path.points[-1 - lap : -1], path.points, path.points[1 : 1 + lap]])
        for path, lap in zip(paths, laps, strict=True)
    ]
    points = np.concatenate(long)
    stops = np.cumsum([len(line) for line in long])
    loose = np.ones((len(points), 1))  # the ends stay
    loose[stops - 1] = loose[stops[:-1]] = loose[0] = 0.0
    most = max(rules.smooth / 2, 1e-9)  # the samples themselves cut corners, by less than the rest
    even = points
    for _ in range(_SMOOTHINGS):
        inner = (even[:-2] + 2.0 * even[1:-1] + even[2:]) / 4.0
        move = loose * (np.concatenate([even[:1], inner, even[-1:]]) - points)
        far = np.flatnonzero(np.maximum(*np.abs(move).T) > most / 2)  # few go beyond `most`
        size = np.hypot(move[far, 0], move[far, 1])[:, None]
        move[far] *= most / np.maximum(size, most)
        even = points + move
    clear = ground.clear(even)
    near = np.flatnonzero(clear < rules.side - SLACK)
    before = ground.clear(points[near])
    worse = clear[near] < before - SLACK / 2
    even[near[worse]], clear[near[worse]] = points[near[worse]], before[worse]
    smooth, wide = [], []
    for k, (path, lap) in enumerate(zip(paths, laps, strict=True)):
        own = slice(stops[k] - len(long[k]) + lap, stops[k] - lap)
        line, away = even[own].copy(), clear[own].copy()
        if lap:
            line[-1], away[-1] = line[0], away[0]
        smooth.append(Path(line, path.ends))
        wide.append(away)
    return smooth, wide


def _laps(paths: Sequence[Path]) -> list[int]:
    """How many points of a closed line that meets no other are gone over again to even it out."""
    met = Counter(end for path in paths for end in path.ends)
    return [
        min(_SMOOTHINGS, len(path.points) - 2)
        if path.ends[0] is not None and path.ends[0] == path.ends[1] and met[path.ends[0]] == 2  # noqa: PLR2004
        else 0
        for path in paths
    ]


def _thinned(points: FloatArray) -> FloatArray:
    """Fewer points for the same line, its ends as they were."""
    thin: FloatArray = shapely.get_coordinates(shapely.simplify(LineString(points), _FLAT))
    return thin
