"""Bend curves into the places that they leave bare, wherever that can be done."""

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.polylines import distances
from stitchpath.lines.fills.bare import Stitched, grouped
from stitchpath.lines.fills.curves import crossings, sampled, settled

__all__ = ["drawn_in", "mended"]

# All lengths are in spacings.
_BARE = 0.98  # the curve is drawn to places that reach farther from it than this
_NEAR_ENOUGH = 0.9  # until none of its points is farther than this
_NEXT = 0.05  # each bend brings the curve nearer by what is missing and this much more
_LOOK = 1.7  # strands within this reach can be drawn to a place
_CROWD = 0.5  # no strand is brought nearer to another one
_GAIN = 0.01  # a bend that brings less is taken back
_WAYS = tuple((rank, bend) for rank in range(3) for bend in (4, 7))
"""Which strand is bent, by how near it is; how many control points on either side bend with it."""

_ALONG = 10  # control points this near along the curve are one strand
_PARTS = 2  # samples for each control point

_HELD = 0.97  # a place farther from rows than this is bare
_HOLD = 0.9  # rows are drawn until they are as near as this
_DRAWN, _DRAWS = 1.5, 6  # rows are drawn to what is nearer than this, so often at most
_SWAY = 1.2  # how much of a row is drawn, to either side


def mended(
    control: FloatArray, part: Polygon, ground: BaseGeometry, spacing: float, radius: float
) -> FloatArray:
    """Bend a closed spline so that no place of its ground is farther than the spacing from it.

    Each bare place draws the strand next to it, then that beyond. A bend that crosses or crowds
    another strand, or helps nothing, is taken back.

    Parameters
    ----------
    control
        Control points of a closed cubic B-spline that is `settled`, shape (n, 2), about a
        quarter of the spacing apart, mm.
    part
        What is to be held, mm.
    ground
        Where the curve may go, mm.
    spacing, radius
        Of the fill, mm.

    Returns
    -------
    ndarray, shape (n, 2)
    """
    area: BaseGeometry = part
    for rank, bend in _WAYS:
        at = _bare_places(control, area, spacing)
        if not len(at):
            break
        area = part.intersection(_round_about(at, 2 * _LOOK * spacing))
        trial = settled(_bent(control, at, spacing, rank, bend), ground, radius)
        control = _kept(control, trial, area, at, spacing)
    return control


def _round_about(at: FloatArray, reach: float) -> BaseGeometry:
    """Give an area that holds all within reach of some points, made of few squares."""
    low = np.unique(np.floor(at / reach), axis=0) * reach - reach
    return shapely.union_all(shapely.box(*low.T, *(low + 3 * reach).T))


def _bare_places(control: FloatArray, area: BaseGeometry, spacing: float) -> FloatArray:
    """List the points of bare places, shape (n, 2)."""
    on = sampled(control, _PARTS)
    stitched = Stitched([np.concatenate([on, on[:1]])], spacing / 8)
    bare, _, _ = stitched.far_places(area, _BARE * spacing)
    if not len(bare):
        return bare
    about = area.intersection(_round_about(bare, 2 * spacing))
    at, far, side = stitched.far_places(about, _NEAR_ENOUGH * spacing)
    groups = [g[::2] for g in grouped(at, 1.5 * side) if far[g].max() > _BARE * spacing]
    return at[np.sort(np.concatenate(groups))] if groups else bare


def _bent(control: FloatArray, at: FloatArray, spacing: float, rank: int, bend: int) -> FloatArray:
    """Bend the strands next to bare points, or those beyond (rank 1, 2, …), towards them."""
    on = sampled(control, _PARTS)
    n = len(control)
    weight = np.cos(np.pi / 2 * np.arange(-bend, bend + 1) / (bend + 1)) ** 2
    pull, size = np.zeros_like(control), np.zeros(n)
    for point, near in zip(at, cKDTree(on).query_ball_point(at, _LOOK * spacing), strict=True):
        index = np.sort(np.asarray(near, dtype=np.int64))
        if not len(index):
            continue
        far = np.hypot(*(on[index] - point).T)
        strand = np.cumsum(np.append(0, np.diff(index) > _ALONG * _PARTS))
        heads = [int(g[np.argmin(far[g])]) for g in _equal_in_a_row(strand)]
        heads.sort(key=lambda k: round(float(far[k]), 6))
        if rank >= len(heads):
            continue
        head = heads[rank]
        share = max(0.0, 1 - (_NEAR_ENOUGH - _NEXT) * spacing / far[head])
        way = (point - on[index[head]]) * share
        here = (index[head] // _PARTS + np.arange(-bend, bend + 1)) % n
        move = weight[:, None] * way
        stronger = np.hypot(*move.T) > size[here]
        pull[here[stronger]] = move[stronger]
        size[here[stronger]] = np.hypot(*move[stronger].T)
    return control + pull


def _equal_in_a_row(label: IntArray) -> list[IntArray]:
    """List the indices of equal labels in a row."""
    return list(np.split(np.arange(len(label)), np.flatnonzero(np.diff(label)) + 1))


def _kept(
    old: FloatArray, new: FloatArray, area: BaseGeometry, at: FloatArray, spacing: float
) -> FloatArray:
    """Keep of a bent curve the bends that do good and no harm."""
    moved = np.flatnonzero(np.any(new != old, axis=1))
    if not len(moved):
        return old
    runs = _equal_in_a_row(np.cumsum(np.append(0, np.diff(moved) > _ALONG)))
    bends = [moved[run] for run in runs]
    places = np.concatenate([at, _bare_places(new, area, spacing)])
    was, now = (np.asarray(cKDTree(sampled(c, _PARTS)).query(places)[0]) for c in (old, new))
    keep = np.array([_helps(bend, new, places, was, now, spacing) for bend in bends])
    control = old
    while keep.any():
        control = old.copy()
        for k in np.flatnonzero(keep):
            control[bends[k]] = new[bends[k]]
        bad = _harmed(old, control, spacing)
        harmful = np.array([bool(np.isin(_wide(bend, len(old)), bad).any()) for bend in bends])
        if not len(bad):
            break
        if not (keep & harmful).any():  # what crosses was not bent: nothing is safe
            return old
        keep &= ~harmful
        control = old
    return control


def _wide(bend: IntArray, count: int) -> IntArray:
    return np.unique((bend[:, None] + np.arange(-3, 4)) % count)


def _helps(
    bend: IntArray,
    new: FloatArray,
    places: FloatArray,
    was: FloatArray,
    now: FloatArray,
    spacing: float,
) -> bool:
    """Whether a bend brings the curve nearer to the worst of the bare points about it."""
    low, high = new[bend].min(axis=0) - 2 * spacing, new[bend].max(axis=0) + 2 * spacing
    mine = np.all((places > low) & (places < high), axis=1)
    # Without such a point it only eased what was too tight.
    return not mine.any() or float(now[mine].max()) < float(was[mine].max()) - _GAIN * spacing


def _harmed(old: FloatArray, new: FloatArray, spacing: float) -> IntArray:
    """List the control points at which a curve crosses itself, or has come too near to itself."""
    n = len(new)
    on = sampled(new, _PARTS)
    crossed = crossings(on).ravel() // _PARTS
    pairs = cKDTree(on).query_pairs(_CROWD * spacing, output_type="ndarray")
    apart = np.abs(pairs[:, 0] - pairs[:, 1])
    pairs = pairs[np.minimum(apart, len(on) - apart) > _ALONG * _PARTS]
    was = sampled(old, _PARTS)
    before = np.hypot(*(was[pairs[:, 0]] - was[pairs[:, 1]]).T)
    after = np.hypot(*(on[pairs[:, 0]] - on[pairs[:, 1]]).T)
    crowded: BoolArray = after < before - 1e-6 * spacing
    return np.unique(np.concatenate([crossed, pairs[crowded].ravel() // _PARTS])) % n


def drawn_in(
    rows: list[FloatArray], inner: BaseGeometry, spacing: float, *, crossing: bool
) -> list[FloatArray]:
    """Draw rows a little out of shape, towards places beside them that would lie bare.

    Parameters
    ----------
    rows
        Paths that begin and end on the edge of their region, mm; all between lies in `inner`.
    inner
        What is to be held, mm.
    spacing
        mm.
    crossing
        Whether rows may cross themselves and each other.

    Returns
    -------
    list of ndarray
        The same rows, ends and all.
    """
    ample = inner.buffer(1e-3)
    shapely.prepare(ample)
    rows = list(rows)
    for _ in range(_DRAWS if rows else 0):
        at, far, side = Stitched(rows, spacing / 8).far_places(inner, _HELD * spacing)
        groups = [g for g in grouped(at, 1.5 * side) if far[g].max() < _DRAWN * spacing]
        if not groups:
            break
        lines = shapely.STRtree([LineString(row) for row in rows])
        for group in groups:
            place = at[group[np.argmax(np.round(far[group], 6))]]
            k = int(lines.nearest(Point(place)))
            row = _towards(rows[k], place, inner, ample, spacing)
            line = LineString(row)
            if not ample.covers(LineString(row[1:-1])):
                continue
            if crossing or (
                line.is_simple
                and all(
                    other == k or not line.intersects(LineString(rows[other]))
                    for other in lines.query(line)
                )
            ):
                rows[k] = row
    return rows


def _towards(
    row: FloatArray, place: FloatArray, inner: BaseGeometry, ample: BaseGeometry, spacing: float
) -> FloatArray:
    """Draw a row towards a place beside it; what would leave `inner` stays on its edge."""
    line = LineString(row)
    middle = line.project(Point(place))
    along = distances(row)
    fine = np.arange(-_SWAY, _SWAY, 1 / 8) * spacing + middle
    fine = fine[(fine > along[1]) & (fine < along[-2])]
    every = np.unique(np.concatenate([along, fine]))
    drawn = np.column_stack([np.interp(every, along, axis) for axis in row.T])
    way = place - shapely.get_coordinates(line.interpolate(middle))[0]
    apart = np.abs(every - middle) / (_SWAY * spacing)
    weight = np.cos(np.pi / 2 * np.clip(apart, 0, 1)) ** 2
    weight[[0, -1]] = 0.0
    drawn += weight[:, None] * way * max(0.0, 1 - _HOLD * spacing / max(np.hypot(*way), 1e-9))
    out = np.flatnonzero((weight > 0) & ~shapely.contains_xy(ample, *drawn.T))
    back = shapely.shortest_line(shapely.points(drawn[out]), inner)
    drawn[out] = shapely.get_coordinates(back)[1::2]
    return np.asarray(drawn)
