"""The finished top: patches, seams with a high and a low side, appliqué pieces."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon, STRtree

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.limits import (
    MOST_FILLS,
    MOST_MOTIFS,
    MOST_PIECES,
    MOST_THREADS,
    WIDEST,
    at_most,
)
from stitchpath.base.typing import FloatArray, Geometries
from stitchpath.base.units import Unit, format_count, format_length, format_place
from stitchpath.design.colours import channels
from stitchpath.design.drawings.door import found_file
from stitchpath.design.drawings.words import UNKNOWN
from stitchpath.design.library import library_block
from stitchpath.design.model import Applique, Design, Fabric, Toward
from stitchpath.design.outlines import flatten_path
from stitchpath.design.repair import mend_outline
from stitchpath.geometry.tolerances import OUTLINE_SHARE, SAME_EDGE
from stitchpath.top.block import DrawnBlock, draw_block
from stitchpath.top.layout import LaidBlock, LaidPatch, compose, lay_out, named_blocks
from stitchpath.top.place import Place
from stitchpath.top.seams import Meeting, Overlap, meet
from stitchpath.top.squares import MapSquare

if TYPE_CHECKING:  # the door to them is in `build_top`
    from stitchpath.design.drawings.whole import Whole
    from stitchpath.top.drawn import DrawnLayout

__all__ = ["Piece", "Seam", "Top", "build_top", "darkness", "find_patches", "pair_seams"]


@dataclass(frozen=True, slots=True)
class Seam:
    """What two patches share.

    Attributes
    ----------
    points
        Polyline, shape (n, 2), mm.
    left, right
        Indices of the patches on either side, as one walks along `points` with y pointing down.
    high
        Which side the allowances are pressed to: -1 left, +1 right, 0 pressed open; None where
        the fabrics are not known.
    joining
        Whether it joins two units (blocks, sashing, borders) rather than patches of one block.
    """

    points: FloatArray
    left: int
    right: int
    high: Literal[-1, 0, 1] | None
    joining: bool

    @property
    def low(self) -> int:
        """The side of the ditch: -1 left, +1 right, 0 where it has none, or none is known."""
        return -(self.high or 0)


@dataclass(frozen=True, slots=True)
class Piece:
    """An appliqué piece on the top.

    Attributes
    ----------
    number
        Its index among the pieces of the top.
    shape
        Its area, mm.
    asked
        What the design says of it.
    host
        The block that it was laid on, None where it was laid on the whole top.
    told
        What was taken from its drawing: sentences, on the first piece of several alike.
    level
        How what was level in its outline lies on the top, degrees clockwise: turned with the piece
        and with its block.
    """

    number: int
    shape: MultiPolygon
    asked: Applique
    host: Place | None
    told: tuple[str, ...] = ()
    level: float = 0.0


@dataclass(frozen=True, slots=True, repr=False)
class Top:
    """A finished top.

    Attributes
    ----------
    outline
        Finished edge, mm, its top left corner at (0, 0).
    blocks, patches, seams, pieces
        In reading order; seams from left to right.
    compounds
        Blocks made of blocks; those in them are among `blocks`.
    squares
        Of the map, on a drawn top without blocks.
    taken
        What was taken of the drawing of the top, where it is drawn.
    names
        What the maker calls single blocks.
    """

    name: str
    unit: Unit
    outline: Polygon
    fabrics: Mapping[str, Fabric]
    blocks: tuple[LaidBlock, ...]
    patches: tuple[LaidPatch, ...]
    seams: tuple[Seam, ...]
    pieces: tuple[Piece, ...]
    compounds: tuple[LaidBlock, ...] = ()
    squares: tuple[MapSquare, ...] = ()
    taken: "Whole | None" = None
    names: Mapping[Place, str] = field(default_factory=dict)

    def __repr__(self) -> str:
        """Say in one line what it is."""
        patches = format_count(len(self.patches), "patch")
        size = f"{self.width:.1f} by {self.height:.1f} mm"
        return f"<Top {self.name!r}: {patches}, {format_count(len(self.seams), 'seam')}, {size}>"

    @property
    def pressed(self) -> bool:
        """Whether it is known how its seams are pressed; not where fabrics are not known."""
        return all(patch.fabric != UNKNOWN for patch in self.patches)

    @property
    def windows(self) -> tuple[LaidBlock, ...] | tuple[MapSquare, ...]:
        """Its blocks; else the squares of its map."""
        return self.blocks or self.squares

    @property
    def width(self) -> float:
        """Finished width, mm."""
        return float(self.outline.bounds[2])

    @property
    def height(self) -> float:
        """Finished height, mm."""
        return float(self.outline.bounds[3])


def darkness(fabric: Fabric) -> float:
    """Tell how dark a fabric is, from 0 white to 1 black.

    From its `dark`, else 1 - L*/100 of its colour, with the CIE 1976 lightness L* of the relative
    luminance of sRGB (IEC 61966-2-1).
    """
    if fabric.dark is not None:
        return fabric.dark
    shares = np.array(channels(fabric.colour)) / 255
    linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)  # noqa: PLR2004
    luminance = float(linear @ (0.2126, 0.7152, 0.0722))
    cube = (6 / 29) ** 3
    root = luminance ** (1 / 3) if luminance > cube else luminance / (3 * (6 / 29) ** 2) + 4 / 29
    return 1 - (116 * root - 16) / 100


def build_top(design: Design) -> Top:
    """Build the finished top of a design.

    Raises
    ------
    StitchpathError
        When the design does not make a top: an unknown name, sizes that do not fit, a gap, a piece
        that leaves the top.
    """
    at_most("threads", len(design.threads), "threads", MOST_THREADS)
    at_most("fills", len(design.fills), "fills", MOST_FILLS)
    at_most("motifs", len(design.motifs), "motifs", MOST_MOTIFS)
    layout: DrawnLayout | None = None
    if design.top is not None:
        # The door to drawings of whole tops.
        from stitchpath.top.drawn import lay_drawing  # noqa: PLC0415 - that door

        layout = lay_drawing(design, design.top)
        design = design.model_copy(update={"fabrics": layout.fabrics})
        laid, patches = layout.blocks, layout.patches
    else:
        drawn, fabrics = drawn_blocks(design)
        design = design.model_copy(update={"fabrics": fabrics}) if fabrics else design
        laid, patches = lay_out(design.layout, drawn, design.unit)
    blocks = [block for block in laid if not block.block.inside]
    for patch in patches:
        if patch.fabric not in design.fabrics:
            raise unknown_name(patch.label, "fabric", patch.fabric, design.fabrics)
    polygons = np.array([p.polygon for p in patches])
    try:
        meeting = meet(polygons)
    except Overlap as overlap:
        a, b = (patches[i].label for i in overlap.patches)
        raise StitchpathError(
            f'layout: "{a}" and "{b}" overlap at {format_place(*overlap.place, design.unit)}, '
            "expected blocks that only touch"
        ) from None
    try:
        outline = _outline(meeting, design.unit)
    except StitchpathError:  # blocks askew over each other have no one edge: say what they have
        _refuse_overlap(polygons, patches, design.unit)
        raise
    wide = max(outline.bounds[2] - outline.bounds[0], outline.bounds[3] - outline.bounds[1])
    if wide > WIDEST:
        raise StitchpathError(
            f"layout: found a top {format_length(wide, design.unit)} long, expected at most "
            f"{format_length(WIDEST, design.unit)}"
        )
    if abs(shapely.area(polygons).sum() - outline.area) > 1:
        _refuse_overlap(polygons, patches, design.unit)
        _refuse_gap(polygons, outline, design.unit)
    return Top(
        design.name,
        design.unit,
        outline,
        design.fabrics,
        tuple(blocks),
        tuple(patches),
        tuple(_seams(design, laid, patches, meeting)),
        tuple(_pieces(design, laid, outline, layout)),
        tuple(block for block in laid if block.block.inside),
        layout.squares if layout else (),
        layout.taken if layout else None,
        _own_names(design.layout.names, laid),
    )


def _own_names(asked: Mapping[str, str], laid: Sequence[LaidBlock]) -> dict[Place, str]:
    """Find the blocks that the maker has named."""
    places = {block.place.name: block.place for block in laid}
    names: dict[Place, str] = {}
    for place, name in asked.items():
        if place not in places:
            raise unknown_name("layout.names", "block", place, places)
        if name in names.values() or name in places.keys() - {place}:
            raise StitchpathError(
                f"layout.names.{place}: found {name!r}, which another block is called, "
                "expected a name of its own"
            )
        names[places[place]] = name
    return names


def drawn_blocks(design: Design) -> tuple[dict[str, DrawnBlock], dict[str, Fabric]]:
    """Draw all blocks of a design; those made of blocks once what they are made of is drawn.

    Give the fabrics too, where drawings tell of more than the design.
    """
    drawn: dict[str, DrawnBlock] = {}
    fabrics: dict[str, Fabric] = {}
    for name, spec in design.blocks.items():
        if spec.drawing is not None:
            from stitchpath.top.drawn import draw_drawn_block  # noqa: PLC0415 - that door

            drawn[name], more, _ = draw_drawn_block(name, spec, design)
            fabrics |= more
            design = design.model_copy(update={"fabrics": {**design.fabrics, **more}})
        elif spec.rows is None:
            where = f"blocks.{name}.library"
            library = library_block(spec.library, where) if spec.library else None
            drawn[name] = draw_block(name, spec, library, design.unit)
    waiting = {name: spec for name, spec in design.blocks.items() if spec.rows is not None}
    while waiting:
        asked = {name: named_blocks(spec.rows or []) for name, spec in waiting.items()}
        ready = [name for name in waiting if not any(other in waiting for other in asked[name])]
        if not ready:
            ring = [next(iter(waiting))]
            while ring[-1] not in ring[:-1]:
                ring.append(next(other for other in asked[ring[-1]] if other in waiting))
            ring = ring[ring.index(ring[-1]) :]
            raise StitchpathError(
                f"blocks.{ring[0]}.rows: found a block within itself ({' in '.join(ring[::-1])}), "
                "expected blocks that are drawn, or made of such"
            )
        known = {other: drawn[other] for other in design.blocks if other in drawn}
        for name in ready:
            drawn[name] = compose(name, waiting.pop(name), known, design.unit)
    return {name: drawn[name] for name in design.blocks}, fabrics


def _refuse_overlap(polygons: Geometries, patches: Sequence[LaidPatch], unit: Unit) -> None:
    """Raise an error where two patches lie over each other further than can be seen."""
    one, other = STRtree(polygons).query(polygons, predicate="intersects")
    one, other = one[one < other], other[one < other]
    common = shapely.buffer(shapely.intersection(polygons[one], polygons[other]), -SAME_EDGE / 2)
    for k in np.flatnonzero(~shapely.is_empty(common))[:1]:
        a, b = patches[one[k]].label, patches[other[k]].label
        point = common[k].representative_point()
        place = format_place(point.x, point.y, unit)
        raise StitchpathError(
            f'layout: "{a}" and "{b}" overlap at {place}, expected blocks that only touch'
        )


def _refuse_gap(polygons: Geometries, outline: Polygon, unit: Unit) -> None:
    """Raise an error where a gap between patches is wide enough to be seen."""
    gap = shapely.buffer(shapely.difference(outline, shapely.union_all(polygons)), -SAME_EDGE / 2)
    if not gap.is_empty:
        point = gap.representative_point()
        place = format_place(point.x, point.y, unit)
        raise StitchpathError(
            f"layout: found a gap at {place}, expected blocks that make one top without gaps"
        )


def _outline(meeting: Meeting, unit: Unit) -> Polygon:
    """Close the edge; a top has one edge and no hole."""
    edge = np.flatnonzero((meeting.left < 0) | (meeting.right < 0))
    merged = shapely.line_merge(shapely.union_all([LineString(meeting.paths[i]) for i in edge]))
    parts = shapely.get_parts(merged)
    if not all(part.is_closed for part in parts):
        raise StitchpathError(
            "layout: found blocks that meet only at a corner, expected blocks that share edges"
        )
    rings = sorted((Polygon(part) for part in parts), key=lambda ring: -ring.area)
    for ring in rings[1:]:
        point = ring.representative_point()
        away = f"a part that stands alone, {rings[0].distance(ring):.2f} mm from the rest,"
        found = "a gap" if rings[0].contains(point) else away
        raise StitchpathError(
            f"layout: found {found} at {format_place(point.x, point.y, unit)}, expected blocks "
            "that make one top without gaps"
        )
    return shapely.orient_polygons(rings[0])


def find_patches(
    blocks: Sequence[LaidBlock], patches: Sequence[LaidPatch]
) -> dict[str, tuple[int, ...]]:
    """Index patches by every name a design may point at them with.

    "BLOCK.PATCH" means each such block, "A2.PATCH" that one. Of a block made of blocks,
    "HARBOUR.2.PATCH" and "A2.2.PATCH" mean the second block in it. A patch that is a unit of its
    own is called by its place alone, such as "border 1 left".
    """
    called = {b.place: b.called for b in blocks}
    index: dict[str, list[int]] = {}
    for i, patch in enumerate(patches):
        if patch.part != "block":
            drawn = patch.part in ("square", "patch")
            index.setdefault(patch.name if drawn else patch.place.name, []).append(i)
            continue
        for name in (patch.place.name, *called[patch.place]):
            index.setdefault(f"{name}.{patch.name}", []).append(i)
    return {name: tuple(found) for name, found in index.items()}


def pair_seams(
    where: str,
    pair: tuple[str, str],
    index: Mapping[str, tuple[int, ...]],
    sides: Sequence[tuple[int, int]],
    patches: Sequence[LaidPatch],
) -> list[int]:
    """Find the seams between two named patches.

    Parameters
    ----------
    where
        The place in the design, for errors.
    pair
        Two names as `find_patches` knows them.
    index
        From `find_patches`.
    sides
        The patches on either side of each seam.
    patches
        All patches.

    Returns
    -------
    list of int
        Indices of seams; where both names are of a block, only seams within one block.

    Raises
    ------
    StitchpathError
        When a name is unknown or the two share no seam.
    """
    for name in pair:
        if name not in index:
            raise unknown_name(where, "patch", name, index)
    one, other = set(index[pair[0]]), set(index[pair[1]])
    found = [
        i
        for i, (a, b) in enumerate(sides)
        if (a in one and b in other) or (a in other and b in one)
    ]
    if all("." in name for name in pair):
        within = [i for i in found if patches[sides[i][0]].place == patches[sides[i][1]].place]
        found = within or found
    if not found:
        raise StitchpathError(
            f'{where}: found no seam between "{pair[0]}" and "{pair[1]}", expected two patches '
            "that touch along an edge"
        )
    return found


def _seams(
    design: Design,
    blocks: Sequence[LaidBlock],
    patches: Sequence[LaidPatch],
    meeting: Meeting,
) -> list[Seam]:
    known = all(patch.fabric != UNKNOWN for patch in patches)
    inner = np.flatnonzero((meeting.left >= 0) & (meeting.right >= 0))
    sides = [(int(meeting.left[i]), int(meeting.right[i])) for i in inner]
    press_at = {b.place: b.block.press for b in blocks}
    special: dict[int, str | Toward] = {}
    if design.press.seams:
        index = find_patches(blocks, patches)
        for k, seam in enumerate(design.press.seams):
            where = f"press.seams[{k + 1}].between"
            found = pair_seams(where, seam.between, index, sides, patches)
            special |= dict.fromkeys(found, seam.press)
    dark = {name: darkness(fabric) for name, fabric in design.fabrics.items()}
    for place, rule in press_at.items():
        _known_rule(place.name, rule, design)
    _known_rule("press.default", design.press.default, design)
    seams = []
    for k, (i, (a, b)) in enumerate(zip(inner, sides, strict=True)):
        left, right = patches[a], patches[b]
        joining = left.place != right.place and "square" not in (left.part, right.part)
        around = _shared(left.place, right.place) if joining else left.place
        rule = special.get(k) or (press_at.get(around) if around else None)
        high: Literal[-1, 0, 1] | None = None
        if known or k in special:
            toward = _toward(rule or design.press.default, design)
            high = _high_side(toward, (a, b), (left.fabric, right.fabric), dark)
        seams.append(Seam(meeting.paths[i], a, b, high, joining))
    return seams


def _shared(one: Place, other: Place) -> Place | None:
    """Give the innermost block made of blocks that holds both of two blocks."""
    for depth in range(len(one.inside) - 1, -1, -1):
        around = replace(one, inside=one.inside[:depth])
        if other.lies_in(around):
            return around
    return None


def _known_rule(whose: str, rule: str | Toward | None, design: Design) -> None:
    if rule == "feature" and not design.lines.feature:
        raise StitchpathError(
            "lines.feature: found no fabric, expected the fabrics that stand forward, as the press "
            f'rule of {whose} is "feature"'
        )
    for fabric in rule.toward if isinstance(rule, Toward) else ():
        if fabric not in design.fabrics:
            raise unknown_name(f"press rule of {whose}", "fabric", fabric, design.fabrics)


def _toward(rule: str | Toward, design: Design) -> Sequence[str] | None:
    """List the fabrics that a rule presses toward; None where it leaves the seam open."""
    if isinstance(rule, Toward):
        return rule.toward
    return {"open": None, "darker": (), "feature": design.lines.feature}[rule]


def _high_side(
    toward: Sequence[str] | None,
    sides: tuple[int, int],
    fabrics: tuple[str, str],
    dark: Mapping[str, float],
) -> Literal[-1, 0, 1]:
    """Tell the high side: -1 left, +1 right, 0 open.

    Of the fabrics to press toward the one named first is high; without them the darker side is
    (common practice), and of two alike the later patch, so that one side always is.
    """
    if toward is None:
        return 0
    left, right = (toward.index(f) if f in toward else len(toward) for f in fabrics)
    if left != right:
        return -1 if left < right else 1
    if dark[fabrics[0]] != dark[fabrics[1]]:
        return -1 if dark[fabrics[0]] > dark[fabrics[1]] else 1
    return -1 if sides[0] > sides[1] else 1


def _pieces(
    design: Design,
    blocks: Sequence[LaidBlock],
    outline: Polygon,
    layout: "DrawnLayout | None" = None,
) -> list[Piece]:
    pieces: list[Piece] = []
    top = DrawnBlock("top", *outline.bounds[2:], (), None)
    whole = LaidBlock(Place("block"), top, np.eye(2, 3))
    for i, asked in enumerate(design.applique):
        where = f'applique[{i + 1}], "{asked.name}"'
        if asked.fabric not in design.fabrics:
            raise unknown_name(where, "fabric", asked.fabric, design.fabrics)
        shape, told = _piece_shape(where, asked, design)
        hosts = [whole] if asked.on == "top" else [b for b in blocks if asked.on in b.called]
        hosts = hosts or [b for b in blocks if b.place.name == asked.on]
        if not hosts and asked.on in design.blocks:
            raise StitchpathError(
                f"{where}, on: found the block {asked.on!r}, which is not in the layout, expected "
                "one that is"
            )
        if not hosts:
            places = ["top", *dict.fromkeys(b.block.name for b in blocks)]
            places += [b.place.name for b in blocks]
            raise unknown_name(f"{where}, on", "block or place", asked.on, places)
        at_most(where, len(pieces) + len(hosts), "pieces up to it", MOST_PIECES)
        for k, host in enumerate(hosts):
            placed = _place_piece(where, asked, shape, host, outline, design.unit)
            on = None if host is whole else host.place
            said = told if k == 0 else ()
            pieces.append(Piece(len(pieces), placed, asked, on, said, _level(asked, host)))
    for asked, drawn in zip(layout.pieces, layout.taken.pieces, strict=True) if layout else ():
        where = f'top.drawing, the piece "{asked.name}"'
        _on_top(where, drawn.shape, outline, design.unit)
        pieces.append(Piece(len(pieces), drawn.shape, asked, None))
    return pieces


def _level(asked: Applique, host: LaidBlock) -> float:
    """How what was level in an outline lies on the top, degrees clockwise."""
    angle = np.radians(asked.turn)
    x, y = host.frame[:, :2] @ (np.cos(angle), np.sin(angle))
    return float(np.degrees(np.arctan2(y, x)))


def _piece_shape(
    where: str, asked: Applique, design: Design
) -> tuple[MultiPolygon, tuple[str, ...]]:
    """Make the outline at its size and turn, its middle at (0, 0), and say what was taken."""
    size = asked.size
    told: tuple[str, ...] = ()
    if asked.outline is not None:
        rings = flatten_path(asked.outline, where, _path_tolerance(where, asked.outline))
        shape = mend_outline(rings, where)
    else:
        # The door to drawings: few designs take any.
        from stitchpath.design.drawings.outlines import take_outline  # noqa: PLC0415 - that door

        path = found_file(design.folder, asked.file or "", where, outside=design.outside)
        taken = take_outline(path, asked.id, where, size=size, unit=design.unit)
        shape, told = taken.shape, taken.told
        size = size or taken.size
    left, top, right, bottom = shape.bounds
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    scale = (size or 0) / max(right - left, bottom - top)
    angle = np.radians(asked.turn)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flip = np.diag([-scale if asked.mirror else scale, scale])

    def place(points: FloatArray) -> FloatArray:
        return np.asarray((points - middle) @ (turn @ flip).T)

    placed: MultiPolygon = shapely.transform(shape, place)
    return placed, told


def _path_tolerance(where: str, data: str) -> float:
    rough = np.concatenate([np.zeros((0, 2)), *flatten_path(data, where, 1e9)])
    return max(float(np.ptp(rough, axis=0).max(initial=0)), 1e-9) * OUTLINE_SHARE


def _place_piece(
    where: str,
    asked: Applique,
    shape: MultiPolygon,
    host: LaidBlock,
    outline: Polygon,
    unit: Unit,
) -> MultiPolygon:
    at = asked.at or (host.block.width / 2, host.block.height / 2)
    placed: MultiPolygon = shapely.transform(
        shape, lambda points: host.to_top(points + np.array(at))
    )
    _on_top(where, placed, outline, unit)
    return placed


def _on_top(where: str, placed: MultiPolygon, outline: Polygon, unit: Unit) -> None:
    """Refuse a piece that leaves the top."""
    outside = placed.difference(outline.buffer(SAME_EDGE))
    if not outside.is_empty:
        point = outside.representative_point()
        raise StitchpathError(
            f"{where}: found a piece that leaves the top at "
            f"{format_place(point.x, point.y, unit)}, expected it to lie within the top"
        )
