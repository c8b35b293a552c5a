"""Fill a region with quilting, in any of the styles."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.design.model import FillStyle
from stitchpath.geometry.polylines import path_lengths
from stitchpath.lines.fills.bare import bare_notes
from stitchpath.lines.fills.entries import opened
from stitchpath.lines.fills.feathers import feathers
from stitchpath.lines.fills.grids import clamshells, matchsticks, orange_peel, ruled, waved
from stitchpath.lines.fills.ground import polygons
from stitchpath.lines.fills.lattice import Lattice, lattice_of
from stitchpath.lines.fills.meander import grounds, meander
from stitchpath.lines.fills.motifs import loop_rows, motif_rows, rows_high
from stitchpath.lines.fills.nested import laid_rows
from stitchpath.lines.fills.patchwise import continuous_curve, piano_keys
from stitchpath.lines.fills.pattern import CLOSED, PATCHWISE, THROUGH, Filled, FillNote, inset_of
from stitchpath.lines.fills.pebbles import pebble_parts, pebbles
from stitchpath.lines.fills.radiating import radiating
from stitchpath.lines.fills.ribbon import ribbon_candy
from stitchpath.lines.fills.rings import inner_parts, rings
from stitchpath.lines.fills.spiral import spiral
from stitchpath.lines.fills.stagger import Rows
from stitchpath.lines.fills.through import edge_to_edge

__all__ = ["STYLES", "fill"]

STYLES: tuple[str, ...] = get_args(FillStyle)
"""Names of the fills."""

_MOST_RADIUS = 0.4  # a lobe is about as wide as the spacing: no wider turn has room in it
_SHORT = 0.85  # of the length that its spacing asks for: less of a meander is worth a word
_TOLD = 0.01  # a spacing that comes out whole by less of a change than this share is not told
_LEAST = 0.75  # of the spacing: in a frame narrower than this nothing is laid
_ON_EDGE = 0.01  # a door may lie this far off the edge, mm


def fill(  # noqa: PLR0913 - each is one thing a quilter chooses
    region: Polygon | MultiPolygon,
    style: str,
    spacing: float,
    *,
    inset: float | None = None,
    angle: float = 0.0,
    seed: int = 1,
    door: tuple[float, float] | None = None,
    motif: Sequence[FloatArray] | None = None,
    rows: Rows | None = None,
    radius: float | None = None,
    frame: Polygon | None = None,
    closed: BaseGeometry | None = None,
    point: tuple[float, float] | None = None,
) -> Filled:
    """Fill a region with quilting.

    Parameters
    ----------
    region
        What to fill, holes left out, mm.
    style
        One of `STYLES`.
    spacing
        Between neighbouring lines, mm; for loops and motif rows the height of a row, for orange
        peel the side of a square, for clamshells the width of a shell, for a continuous curve how
        far it curves in. Crosshatch has it in both directions. What lies on a lattice has it made
        to come out whole in the frame.
    inset
        How far all stitching but the stems at the doors and the ends of rows keeps from the edge of
        the region, mm. Unless given, what runs from edge to edge does so; of others half the
        spacing, for loops and motif rows a tenth.
    angle
        Of rows and lines against the x axis, degrees, clockwise as seen on the quilt.
    seed
        For the meander: the same seed draws the same one.
    door
        A point on the region's edge at which the meander, the spiral and the rings are
        entered; the first corner from the top left, of those nearest to the fill, unless given.
        Fills that run from edge to edge have no use for it.
    motif
        For motif rows: polylines of one unbroken line in any unit, y down.
    rows
        For motif rows: how they lie; offset by half a motif unless said.
    radius
        Least radius of the meander, the spiral and the rings, mm; a quarter of the spacing
        unless given.
    frame
        What a lattice is laid in, mm: mostly the block round the region, so that the fills of
        neighbouring blocks meet; the region unless given. For piano keys and a continuous curve the
        patch.
    closed
        That part of the region's edge along which its thread cannot go. What runs from edge to edge
        is joined there, a hem off it, by short steps.
    point
        Where radiating lines come from, mm; the middle of the frame unless given.

    Returns
    -------
    Filled
        Meander and spiral: one closed path for each part of the region, from the door and back to
        it, that never meets itself. Pebbles: one from the door, that comes back to the end of its
        stem and touches itself. Rings: closed rings, with the stem from the door and the
        hops from ring to ring as paths of their own, which end on vertices of the rings. All
        others: paths that begin and end on the edge of the region, or at a step along its closed
        part. Crosshatch, orange peel and loops cross themselves, and so may the ends of motif
        rows.

    Raises
    ------
    StitchpathError
        If the region, the style, a measure, the door or the motif can't be used.
    """
    radius = spacing / 4 if radius is None else radius
    _check(region, style, spacing, inset or 0.0, radius)
    whole = region if style in PATCHWISE else shapely.envelope(region)
    ground = _Ground(region, whole if frame is None else frame, closed, point)
    if style in THROUGH:
        return _through(ground, style, spacing, inset or 0.0, angle, seed)
    if style == "motif rows":
        return _motif_rows(ground, spacing, inset, angle, motif, rows or Rows())
    inset = inset_of(style, spacing, inset)
    gate: tuple[float, float] | None = None
    notes: list[FillNote] = []
    if style in CLOSED:
        paths, notes = _closed(region, style, spacing, inset, radius, seed, door)
        gate = (float(paths[0][0, 0]), float(paths[0][0, 1])) if paths else None
    else:
        drawn = _open(region, style, spacing, inset, angle)
        if drawn is None:
            return _nothing(region, "unfit")
        paths = drawn
    made = tuple(np.ascontiguousarray(path) for path in paths)
    if not made:
        return _nothing(region)
    if style != "feathers":  # a motif: what lies round it is another fill's
        notes += bare_notes(region, made, spacing, inset)
    if style == "meander":
        comes_to = region.area / float(path_lengths(made).sum())
        if spacing < _SHORT * comes_to:
            at = region.representative_point()
            notes.append(FillNote("thin", (at.x, at.y), comes_to))
    return Filled(made, gate, tuple(notes))


def _check(
    region: Polygon | MultiPolygon, style: str, spacing: float, inset: float, radius: float
) -> None:
    """Refuse what no fill can be made of."""
    if style not in STYLES:
        raise StitchpathError(f"there is no fill “{style}”; the fills are {', '.join(STYLES)}")
    if not np.isfinite(spacing) or spacing <= 0:
        raise StitchpathError(
            f"the fill “{style}” has a spacing of {spacing:g} mm; more than 0 is needed"
        )
    if not np.isfinite(inset) or inset < 0:
        raise StitchpathError(
            f"the fill “{style}” has an inset of {inset:g} mm; 0 or more is needed"
        )
    if not 0 <= radius <= _MOST_RADIUS * spacing * (1 + 1e-9):
        raise StitchpathError(
            f"the fill “{style}” has a least radius of {radius:g} mm; at a spacing of "
            f"{spacing:g} mm it can be from 0 to {_MOST_RADIUS * spacing:g} mm"
        )
    if not isinstance(region, Polygon | MultiPolygon) or region.is_empty or not region.is_valid:
        found = "empty" if shapely.is_empty(region) else shapely.is_valid_reason(region)
        raise StitchpathError(f"the region of the fill “{style}” is no sound area: {found}")


def _check_door(region: Polygon | MultiPolygon, door: tuple[float, float]) -> None:
    off = region.boundary.distance(Point(door))
    if not off <= _ON_EDGE:
        raise StitchpathError(
            f"the door at ({door[0]:g}, {door[1]:g}) mm lies {off:.3g} mm off the edge of the "
            "region that is filled; a point on that edge is needed"
        )


def _closed(
    region: Polygon | MultiPolygon,
    style: str,
    spacing: float,
    inset: float,
    radius: float,
    seed: int,
    door: tuple[float, float] | None,
) -> tuple[list[FloatArray], list[FillNote]]:
    """Fill part by part with paths that come back to the door that they set out from."""
    if door is not None:
        _check_door(region, door)
    paths: list[FloatArray] = []
    notes: list[FillNote] = []
    if style == "meander":
        parts = grounds(region, spacing, inset, radius)
    elif style == "pebbles":
        parts = pebble_parts(region, inset, spacing)
    else:
        parts = inner_parts(region, inset, radius if style == "rings" else spacing / 2)
    if door is not None:  # the part nearest to the door is the one it leads to
        parts.sort(key=lambda part: round(part.distance(Point(door)), 6))
    for number, part in enumerate(parts):
        wanted = door if number == 0 else None
        if style == "rings":
            found, kept = rings(region, part, spacing, radius, wanted)
        elif style == "pebbles":
            path, kept = pebbles(region, part, spacing, seed + number, wanted)
            found = [path]
        elif style == "spiral":
            path, kept = spiral(region, part, spacing, radius, wanted)
            found = [path]
        else:
            curve = meander(part, spacing, radius, seed + number)
            path, kept = opened(curve, region, wanted, spacing, radius)
            found = [path]
        paths += found
        if not kept and door is not None:
            notes.append(FillNote("door", door, 0.0))
    return paths, notes


def _open(
    region: Polygon | MultiPolygon, style: str, spacing: float, inset: float, angle: float
) -> list[FloatArray] | None:
    """Fill with rows of loops, or along a strip; None where no strip is."""
    if style == "ribbon candy":
        return ribbon_candy(region, spacing, inset)
    if style == "feathers":
        return feathers(region, spacing, inset)
    return loop_rows(region, spacing, inset, angle)


@dataclass(frozen=True, slots=True)
class _Ground:
    """What curves are laid over from edge to edge: see `fill`."""

    region: Polygon | MultiPolygon
    frame: BaseGeometry
    closed: BaseGeometry | None
    point: tuple[float, float] | None = None

    def laid(self, curves: Sequence[FloatArray], spacing: float, inset: float) -> list[FloatArray]:
        """Cut curves at the edge."""
        return edge_to_edge(curves, self.region, self.closed, spacing, inset)


def _motif_rows(
    ground: _Ground,
    spacing: float,
    inset: float | None,
    angle: float,
    motif: Sequence[FloatArray] | None,
    rows: Rows,
) -> Filled:
    """Fill with rows of a motif, and tell what their height comes to."""
    if motif is None:
        raise StitchpathError("motif rows need a motif: one unbroken line from left to right")
    region = ground.region
    if rows.cut:
        inset = inset or 0.0
        paths, comes_to = laid_rows(
            region, motif, spacing, angle, rows, inset=inset, closed=ground.closed
        )
    else:
        inset = inset_of("motif rows", spacing, inset)
        paths = motif_rows(region, motif, spacing, inset, angle, rows)
        comes_to = rows_high(region, spacing, inset, angle)
    if not paths:
        return _nothing(region)
    made = tuple(np.ascontiguousarray(path) for path in paths)
    notes = list(bare_notes(region, made, spacing, inset))
    if abs(comes_to - spacing) > _TOLD * spacing:
        at = region.representative_point()
        notes.append(FillNote("whole", (at.x, at.y), comes_to))
    return Filled(made, None, tuple(notes))


def _through(
    ground: _Ground, style: str, spacing: float, inset: float, angle: float, seed: int
) -> Filled:
    """Fill with what runs from edge to edge, and tell what its spacing comes to."""
    lattice = lattice_of(ground.frame, spacing, angle)
    paths: list[FloatArray] = []
    if style in PATCHWISE or min(lattice.span) >= _LEAST * spacing:
        paths = ground.laid(_curves(ground, style, lattice, spacing, seed), spacing, inset)
    if not paths:
        return _nothing(ground.region)
    made = tuple(np.ascontiguousarray(path) for path in paths)
    bare = () if style in PATCHWISE else bare_notes(ground.region, made, spacing, inset)
    notes = list(bare)
    comes_to = _spacing_of(lattice, style)
    if comes_to and abs(comes_to - spacing) > _TOLD * spacing:
        at = ground.region.representative_point()
        notes.append(FillNote("whole", (at.x, at.y), comes_to))
    return Filled(made, None, tuple(notes))


def _curves(
    ground: _Ground, style: str, lattice: Lattice, spacing: float, seed: int
) -> list[FloatArray]:
    region = ground.region
    if style in PATCHWISE:
        drawn = piano_keys if style == "piano keys" else continuous_curve
        return [curve for patch in polygons(ground.frame) for curve in drawn(patch, spacing)]
    if style == "crosshatch":
        other = lattice_of(ground.frame, spacing, lattice.angle + 90)
        return ruled(lattice, region) + ruled(other, region)
    if style == "radiating lines":
        middle = shapely.get_coordinates(ground.frame.envelope.centroid)[0].tolist()
        return radiating(region, spacing, ground.point or (middle[0], middle[1]))
    if style == "matchstick":
        return matchsticks(lattice, region, seed)
    on_lattice = {
        "parallel": ruled, "waves": waved, "orange peel": orange_peel, "clamshell": clamshells
    }  # fmt: skip
    return on_lattice[style](lattice, region)


def _spacing_of(lattice: Lattice, style: str) -> float:
    """Tell what the spacing of a fill comes to, mm; 0 where it has none on a lattice."""
    if style in PATCHWISE or style in ("matchstick", "radiating lines"):
        return 0.0
    return lattice.step[0 if style == "clamshell" else 1]


def _nothing(region: BaseGeometry, kind: Literal["empty", "unfit"] = "empty") -> Filled:
    middle = region.representative_point()
    return Filled((), None, (FillNote(kind, (middle.x, middle.y), 0.0),))
