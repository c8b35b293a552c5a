"""What could go wrong with appliqué pieces: where they lie, their raw edges, narrow arms."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from stitchpath.base.findings import Check
from stitchpath.base.typing import FloatArray, Geometries
from stitchpath.base.units import format_length, format_place
from stitchpath.design.model import Design
from stitchpath.geometry.polylines import path_lengths
from stitchpath.lines.applique import stage_of
from stitchpath.lines.line import Line
from stitchpath.top.build import Piece, Top
from stitchpath.top.place_names import Places

__all__ = ["check_pieces"]

_FRAYS = 25.4 / 4  # mm: a raw edge farther from stitching frays sooner (common practice)
_NARROW = 25.4 / 8  # mm: an arm narrower than this hardly holds a line of stitching (our measure)
_SLIVER = 25.4 / 16  # mm: under that, threads of the edge come away with the line (our measure)
_WORTH_A_WORD = 6.0  # mm of edge or of arm that are worth a word
_STEP = 0.5  # mm between places where the width of an arm is measured
_ARM_END = 25.4 / 4  # mm from the end of a line: every arm grows narrow there
# A line turns back where its ways so many gaps before and after lie nearer than this share of that.
_TURN, _FOLDED = 2.0, 0.75
_LOOKS = 6  # places between a line and the middle of its arm that are looked at
_HAIR = 1e-6  # mm


def check_pieces(design: Design, top: Top, lines: Sequence[Line]) -> list[Check]:
    """Look over the appliqué pieces.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        Lines to quilt.
    """
    if not top.pieces:
        return []
    words = Places(top)
    own: dict[int, list[Line]] = {}
    for line in lines:
        for number in line.of.pieces:
            own.setdefault(number, []).append(line)
    # Ditches come up to a raw edge and end there, they do not run along it.
    beside = [line for line in lines if line.seam < 0]
    paths = np.array([shapely.LineString(line.points) for line in beside])
    stage = np.array([line.stage for line in beside])
    tree = shapely.STRtree(paths)
    told = dict.fromkeys(each for piece in top.pieces for each in piece.told)
    found = [Check("note", "drawing-taken", each) for each in told]
    for piece in top.pieces:
        inside = [line for line in own.get(piece.number, []) if not line.of.echo]
        name = words.piece(piece.number)
        found += _early(design, top, piece, name)
        found += _unheld(design, piece, name, inside)
        if inside:
            edge = piece.shape.boundary
            near = np.sort(tree.query(edge, predicate="dwithin", distance=_FRAYS))
            # What was stitched before a piece is fused on does not hold it.
            held = near[stage[near] >= stage_of(piece.asked)]
            found += _raw_edge(design, piece, name, paths[held])
        found += _narrow(design, piece, name, inside)
    return found


def _at(shape: BaseGeometry) -> tuple[float, float]:
    point = shape.representative_point()
    return point.x, point.y


def _early(design: Design, top: Top, piece: Piece, name: str) -> Iterator[Check]:
    """Look at pieces that are in place before blocks are joined or the top is quilted.

    A piece fused to a block before joining must keep the seam allowance away from the raw edge,
    that is, lie inside the finished block. One that lies across a seam between blocks can only be
    fused after joining.
    """
    if piece.asked.fused != "before":
        return
    allowance = format_length(design.seam_allowance, design.unit)
    tree = shapely.STRtree([p.polygon for p in top.patches])
    under = sorted(tree.query(piece.shape, predicate="intersects").tolist())
    places = list(
        dict.fromkeys(
            top.patches[i].place
            for i in under
            if top.patches[i].polygon.intersection(piece.shape).area > 0.1  # noqa: PLR2004 - mm²
        )
    )
    if piece.host is not None:
        own = [top.patches[i].polygon for i in under if top.patches[i].place.lies_in(piece.host)]
        outside = piece.shape.difference(shapely.union_all(own).buffer(0.01))
        if not outside.is_empty:
            yield Check(
                "warning",
                "piece-over-seam",
                f"{name} is fused before quilting and leaves its block: it comes within "
                f"{allowance} of the raw edge. Fuse it after the blocks are joined, or make it "
                "smaller.",
                _at(outside),
                (piece.number,),
            )
    elif len(places) > 1:
        yield Check(
            "note",
            "piece-after-joining",
            f"{name} lies across the seam between {places[0].name} and {places[1].name}: fuse it "
            "after they are joined.",
            _at(piece.shape),
            (piece.number,),
        )


def _unheld(design: Design, piece: Piece, name: str, lines: Sequence[Line]) -> Iterator[Check]:
    """Warn of parts of a piece that no stitching holds."""
    stitched = shapely.union_all([shapely.LineString(line.points) for line in lines])
    for part in shapely.get_parts(piece.shape):
        if not part.intersects(stitched):
            place = f" at {format_place(*_at(part), design.unit)}"
            yield Check(
                "warning",
                "piece-not-held",
                f"No line of stitching holds {name}{place}: only the fusing does. Stitch its edge, "
                "or make it wider.",
                _at(part),
                (piece.number,),
                place,
            )


def _raw_edge(design: Design, piece: Piece, name: str, paths: Geometries) -> Iterator[Check]:
    """Tell of raw edges with no stitching near, which fray sooner (common practice)."""
    near = shapely.union_all(paths).buffer(_FRAYS)
    loose = piece.shape.boundary.difference(near)
    if loose.length < _WORTH_A_WORD:
        return
    merged = shapely.line_merge(loose) if loose.geom_type == "MultiLineString" else loose
    # Of stretches alike the uppermost is told, then the one to the left: the same each time.
    longest = max(
        shapely.get_parts(merged),
        key=lambda part: (round(part.length), -round(part.centroid.y), -round(part.centroid.x)),
    )
    middle = longest.interpolate(0.5, normalized=True)
    share = loose.length / piece.shape.boundary.length
    place = f", the longest bit at {format_place(middle.x, middle.y, design.unit)}"
    yield Check(
        "note",
        "raw-edge",
        f"{share:.0%} of the edge of {name} has no stitching within "
        f"{format_length(_FRAYS, design.unit)} and will fray sooner{place}. Stitch its edge too, "
        "or let it fray as part of its charm.",
        (middle.x, middle.y),
        (piece.number,),
        place,
    )


def _narrow(design: Design, piece: Piece, name: str, lines: Sequence[Line]) -> Iterator[Check]:
    """Tell how narrow arms are that hardly hold a line of stitching; their tips do not count."""
    centre = [line.points for line in lines if line.kind == "centre"]
    if not centre:
        return
    boundary = piece.shape.boundary
    shapely.prepare(boundary)
    gap = piece.asked.out_and_back or 0.0
    tips = _tips(centre, gap)
    narrow_length, narrowest = 0.0, []
    for path, length in zip(centre, path_lengths(centre), strict=True):
        steps = max(int(length / _STEP), 2)
        points = shapely.line_interpolate_point(
            shapely.LineString(path), np.linspace(0, length, steps + 1)
        )
        width = 2 * _half_width(boundary, points, gap / 2)
        thin = width < _NARROW
        if not tips.is_empty:
            thin &= shapely.distance(points, tips) > _ARM_END
        if thin.any():
            narrow_length += thin.sum() * length / steps
            worst = int(np.argmin(np.where(thin, width, np.inf)))
            narrowest.append((float(width[worst]), points[worst]))
    if gap:
        narrow_length /= 2  # its two lines are one arm
    if narrow_length >= _WORTH_A_WORD:
        # Of arms alike the uppermost is told, then the one to the left: the same each time.
        least, place = min(
            narrowest, key=lambda one: (round(one[0], 1), round(one[1].y), round(one[1].x))
        )
        wide = f"only {format_length(least, design.unit)} wide"
        if least < _SLIVER:
            wide = f"less than {format_length(_SLIVER, design.unit)} wide"
        where = f" at {format_place(place.x, place.y, design.unit)}"
        yield Check(
            "warning" if least < _SLIVER else "note",
            "narrow-arm",
            f"An arm of {name} is {wide}{where}: it gets its line, but hardly holds "
            "it. Widen it, or stitch it by hand.",
            (place.x, place.y),
            (piece.number,),
            where,
        )


def _tips(paths: Sequence[FloatArray], gap: float) -> shapely.MultiPoint:
    """Where lines run out: their free ends, and the turns of those that go out and back."""
    ends = np.array([p for path in paths for p in (path[0], path[-1])])
    grid, count = np.unique(np.rint(ends * 1000), axis=0, return_counts=True)
    found = [grid[count == 1] / 1000]
    for path, length in zip(paths, path_lengths(paths), strict=True):
        if gap and length > 4 * _TURN * gap:  # a loop, whole or cut where it meets a seam
            line = shapely.LineString(path)
            at = np.arange(0.0, length, _STEP)
            before, after = (
                shapely.line_interpolate_point(line, (at + way * _TURN * gap) % length)
                for way in (-1, 1)
            )
            turns = shapely.distance(before, after) < _FOLDED * _TURN * gap
            found.append(shapely.get_coordinates(shapely.line_interpolate_point(line, at[turns])))
    return shapely.MultiPoint(np.concatenate(found))


def _half_width(boundary: BaseGeometry, points: Geometries, aside: float) -> FloatArray:
    """Half the width of a piece at points so far off the middle of their arm at most, mm."""
    half = shapely.distance(points, boundary)
    if aside == 0:
        return half
    edge = shapely.get_coordinates(shapely.shortest_line(points, boundary))[1::2]
    here = shapely.get_coordinates(points)
    inward = (here - edge) / np.maximum(half, _HAIR)[:, None]
    for share in np.linspace(0, 1, _LOOKS)[1:]:
        spots = shapely.points(here + share * aside * inward)
        half = np.maximum(half, shapely.distance(spots, boundary))
    return half
