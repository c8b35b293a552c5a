"""Fill lines: each region of a design's fills, hung on the seams that its thread stitches."""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.findings import Check
from stitchpath.base.limits import DEARER, MOST_SQUARES
from stitchpath.base.typing import BoolArray, FloatArray
from stitchpath.base.units import Unit, format_length, format_place
from stitchpath.design.drawings.door import found_file
from stitchpath.design.model import Design, Fill
from stitchpath.geometry.empty_circles import loose_places
from stitchpath.geometry.tolerances import BOTH_ROUNDED, GRID, MOTIF_SHARE
from stitchpath.lines.ditch import SeamBit
from stitchpath.lines.fills.pattern import (
    CLOSED,
    FREE,
    PATCHWISE,
    THROUGH,
    UNFIT,
    Filled,
    FillNote,
    inset_of,
)
from stitchpath.lines.fills.stagger import Rows
from stitchpath.lines.frame.borders import WANDER, parted, wandering
from stitchpath.lines.frame.windows import axis_of, first_windows
from stitchpath.lines.line import Line
from stitchpath.lines.regions import NamedRegions, Region, bare_regions
from stitchpath.lines.suited import heading_of
from stitchpath.lines.threads import may_travel, thread_for
from stitchpath.top.build import Top
from stitchpath.top.place import Subject
from stitchpath.top.place_names import Places

__all__ = ["Filler", "Fills", "fill_lines", "fill_regions", "fill_thread"]

_VARIANTS = 4  # equal patches take turns at so many meanders, so that a top does not look printed
_TRIES = 4
_WIDE = 2.0  # ground with room for a circle so many spacings wide is left unquilted
_BESIDE = 0.01  # what lies so near to a seam lies on it, mm
_STRETCH = 0.1  # a stretch of edge shorter than this closes nothing, mm


_Point: TypeAlias = tuple[float, float] | None
_Edges: TypeAlias = tuple[_Point, Polygon | None, BaseGeometry | None, _Point]
"""Of a region: its door, the frame of its lattice, its closed edge, where lines radiate from."""


@dataclass(frozen=True, slots=True)
class Fills:
    """What the fills of a design come to.

    Attributes
    ----------
    lines
        To stitch.
    found
        What had to stay empty, a finding for each fill and kind of place.
    regions
        Of each fill.
    """

    lines: tuple[Line, ...]
    found: tuple[Check, ...]
    regions: tuple[tuple[Region, ...], ...] = ()


def fill_thread(design: Design, asked: Fill, where: str) -> str:
    """Tell which thread stitches a fill.

    Raises
    ------
    StitchpathError
        When it is unknown.
    """
    if asked.thread is None:
        return thread_for(design, "fill")
    if asked.thread not in design.threads:
        raise unknown_name(where, "thread", asked.thread, design.threads)
    return asked.thread


def fill_lines(
    design: Design,
    top: Top,
    bits: Sequence[SeamBit],
    stitched: BoolArray,
    lines: Sequence[Line],
    now: Callable[[str], None] | None = None,
) -> Fills:
    """Fill every region that the design asks for.

    Parameters
    ----------
    design, top
        The design and its top.
    bits
        The seams, cut beside fused pieces.
    stitched
        Which seams of the top are stitched.
    lines
        All other lines to quilt.
    now
        Called with what is being done.

    Raises
    ------
    StitchpathError
        When a region, fabric, thread or motif is unknown, or a fill can't be made.
    """
    filler = Filler(design, top, bits, stitched)
    regions = fill_regions(design, top, stitched, lines)
    _refuse_too_much(design, regions)
    made: dict[int, Fills] = {}
    free = [k for k, asked in enumerate(design.fills) if asked.style in FREE]
    for k in [k for k in range(len(regions)) if k not in free]:
        made[k] = _one_fill(filler, k, regions[k], now)
    # In a frame what wanders turns back where the quilt is rolled on; all else is cut there.
    drawn = [line for fills in made.values() for line in fills.lines]
    turned = design.machine.sideways
    borders = _borders(design, top, [*lines, *drawn], {k: regions[k] for k in free})
    for k in free:
        parts = [
            r for mine in regions[k] for r in _parts(mine, borders[k], design.fills[k], turned)
        ]
        made[k] = _one_fill(filler, k, parts, now)
    inorder = [made[k] for k in range(len(regions))]
    return Fills(
        tuple(line for fills in inorder for line in fills.lines),
        tuple(check for fills in inorder for check in fills.found),
        tuple(map(tuple, regions)),
    )


def _refuse_too_much(design: Design, regions: Sequence[Sequence[Region]]) -> None:
    """Refuse fills that come to more than can be planned.

    Raises
    ------
    StitchpathError
        When they do.
    """
    squares, alike = 0.0, Counter[tuple[int, ...]]()
    for k, mine in enumerate(regions):
        asked = design.fills[k]
        for region in mine:
            left, low, right, high = region.shape.bounds
            key = (k, *(round(v) for v in (region.shape.area, right - left, high - low)))
            alike[key] += 1
            if asked.style in FREE and alike[key] > _VARIANTS:
                continue  # its work is done already
            squares += _squares(asked, region)
        if sum(map(len, regions)) > 1 and squares > MOST_SQUARES:
            raise StitchpathError(
                f"fills[{k + 1}], spacing: found fills that up to here come to {squares:.0f} "
                f"squares of their spacing, expected at most {MOST_SQUARES}: a wider spacing, or "
                "less filled"
            )


def _squares(asked: Fill, region: Region) -> float:
    """Count the squares of its spacing in a region, those of a dearer style several times."""
    near = min(asked.spacing, asked.gap or asked.spacing)  # rows may nest as near as that
    return float(region.shape.area) / asked.spacing / near * DEARER.get(asked.style, 1)


def _borders(
    design: Design, top: Top, lines: Sequence[Line], free: Mapping[int, Sequence[Region]]
) -> dict[int, list[FloatArray]]:
    """Draw where each free fill is parted between windows of a frame, as the quilt is loaded."""
    boxes = [region.shape.bounds for regions in free.values() for region in regions]
    if not boxes:
        return {k: [] for k in free}
    down = axis_of(design.machine)
    low, high, left, right = (
        pick(box[k] for box in boxes)
        for axis in (down, 1 - down)
        for pick, k in ((min, axis), (max, axis + 2))
    )
    wide = {k: WANDER * design.fills[k].spacing for k in free}
    windows = first_windows(design, top, lines, (low, high), max(wide.values()))
    return {
        k: [
            wandering(
                one.ends,
                (left, right),
                design.fills[k].spacing,
                min(wide[k], max(one.bottom - two.top, 0.0)),
                (design.fills[k].seed, number),
            )
            for number, (one, two) in enumerate(pairwise(windows))
        ]
        for k in free
    }


def _parts(
    region: Region,
    borders: Sequence[FloatArray],
    asked: Fill,
    turned: bool,  # noqa: FBT001 - a fact
) -> list[Region]:
    """Part a region where windows end, unless what lies beyond would be too small."""
    beyond = inset_of(asked.style, asked.spacing, asked.inset) - FREE[asked.style] * asked.spacing
    parts = parted(_turned(region.shape, turned), borders, asked.spacing, beyond)
    return (
        [region]
        if len(parts) == 1
        else [replace(region, shape=_turned(part, turned)) for part in parts]
    )


def _turned(
    shape: Polygon | MultiPolygon,
    turned: bool,  # noqa: FBT001 - a fact
) -> Polygon | MultiPolygon:
    """Put x for y, where a quilt is loaded sideways."""
    return shapely.transform(shape, lambda at: at[:, ::-1]) if turned else shape


def _one_fill(
    filler: "Filler",
    k: int,
    regions: Sequence[Region],
    now: Callable[[str], None] | None = None,
) -> Fills:
    """Fill all regions of a fill, and tell what stays empty."""
    asked, where = filler.design.fills[k], f"fills[{k + 1}]"
    told = heading_of(asked)
    lines: list[Line] = []
    found: list[Check] = []
    noted: dict[str, list[tuple[str, FillNote]]] = {}
    parts = Counter(region.of for region in regions)
    for number, region in enumerate(regions, 1):
        if now is not None:
            now(f"filling with {asked.style}, {number} of {len(regions)}")
        made, notes = filler.fill_noted(asked, region, where)
        lines += made
        name = filler.words.subject(region.of)
        label = name if parts[region.of] == 1 else f"a part of {name}"
        for note in notes:
            noted.setdefault(note.kind, []).append((label, note))
    if not regions:
        why = (
            "no block bears appliqué" if asked.region == "ground" else "no ground is left unquilted"
        )
        found.append(Check("note", "left-empty", f"{told}: found nothing to fill, as {why}."))
    found += _left_empty(told, asked, noted, filler.design.unit)
    if lines and asked.motif is not None:
        flaws = filler.flaws(asked, where)
        found += [Check("note", "motif", f"{told}: the motif {flaw}.") for flaw in flaws]
    return Fills(tuple(lines), tuple(found))


def _left_empty(
    fill: str, asked: Fill, noted: Mapping[str, Sequence[tuple[str, FillNote]]], unit: Unit
) -> Iterator[Check]:
    """Say where a fill has no room: the widest place of each kind, and how many more there are."""
    says = {
        "unfit": "{label}{many} stays empty: it is no ground for {style}, as {why}.",
        "empty": "{label}{many} stays empty, too narrow for {style}.",
        "neck": "a neck or tip of {label}, {width} wide at {at}, stays empty, too narrow for "
        "{style}{more}.",
        "bare": "a place in {label}, at {at}, lies {width} from stitching, farther than the fill "
        "promises{more}.",
        "whole": "{style} lies {width} apart in {label}{many}, so that it comes out whole.",
        "thin": "in {label}{many} the {style} has little room to turn and comes to one at {width}.",
    }
    if asked.style == "motif rows":
        says["whole"] = (
            "rows of the motif are {width} high in {label}{many}, so that they come out whole."
        )
    for kind, sentence in says.items():
        if kind not in noted:
            continue
        if kind == "whole" and all(
            format_length(n.width, unit) == format_length(asked.spacing, unit)
            for _, n in noted[kind]
        ):
            continue
        others = len(noted[kind]) - 1
        label, widest = max(noted[kind], key=lambda item: round(item[1].width, 3))
        said = sentence.format(
            label=label,
            many=f" and {others} more" if others else "",
            more=f"; so with {others} more" if others else "",
            style=asked.style,
            width=format_length(widest.width, unit),
            at=format_place(*widest.at, unit),
            why=UNFIT.get(asked.style, ""),
        )
        code = {"thin": "thin-fill", "whole": "whole-fill"}.get(kind, "left-empty")
        yield Check("note", code, f"{fill}: {said}", widest.at)


def fill_regions(
    design: Design, top: Top, stitched: BoolArray, lines: Sequence[Line]
) -> list[list[Region]]:
    """Find the regions of each fill of a design.

    Parameters
    ----------
    design, top, stitched, lines
        As for `fill_lines`.

    Raises
    ------
    StitchpathError
        When a region or fabric is unknown.
    """
    found: dict[int, list[Region]] = {}
    filled: list[BaseGeometry] = []
    named = NamedRegions(top, stitched)
    last = [k for k, asked in enumerate(design.fills) if asked.region == "rest"]
    for k in [k for k in range(len(design.fills)) if k not in last] + last:
        asked = design.fills[k]
        if asked.region == "rest":
            wide = design.batting.holds or _WIDE * asked.spacing
            found[k] = bare_regions(top, stitched, filled, lines, wide)
        else:
            found[k] = named.of(asked, f"fills[{k + 1}]")
        if asked.style in PATCHWISE:
            found[k] = [part for region in found[k] for part in _patch_by_patch(top, region)]
        found[k] = [replace(region, of=replace(region.of, fill=k)) for region in found[k]]
        filled += [region.shape for region in found[k]]
    return [found[k] for k in range(len(design.fills))]


def _patch_by_patch(top: Top, region: Region) -> Iterator[Region]:
    """Give what each patch has of a region."""
    for i in region.patches:
        cut = shapely.intersection(top.patches[i].polygon, region.shape, grid_size=GRID)
        parts = [p for p in shapely.get_parts(cut) if isinstance(p, Polygon)]
        if parts:
            shape = parts[0] if len(parts) == 1 else MultiPolygon(parts)
            yield replace(region, shape=shape, patches=(i,))


@dataclass
class Filler:
    """Makes the lines of regions; equal regions share their work.

    Attributes
    ----------
    design, top, bits, stitched
        As for `fill_lines`.
    """

    design: Design
    top: Top
    bits: Sequence[SeamBit]
    stitched: BoolArray
    _made: dict[tuple[object, ...], Filled] = field(default_factory=dict)
    _turn: dict[tuple[object, ...], int] = field(default_factory=dict)
    _motifs: dict[tuple[str | None, str | None], list[FloatArray]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Note where seams are stitched."""
        self.words = Places(self.top)
        held = [b.points[[0, -1]] for b in self.bits if self.stitched[b.seam]]
        self._vertices = np.unique(np.concatenate([np.zeros((0, 2)), *held]), axis=0)
        self._tree = shapely.STRtree(np.asarray(shapely.points(self._vertices)))
        self._ditch = thread_for(self.design, "ditch")
        self._seams = shapely.STRtree([shapely.LineString(bit.points) for bit in self.bits])
        self._blocks = {b.place: Polygon(b.corners) for b in self.top.blocks}

    def fill(self, asked: Fill, region: Region, where: str) -> list[Line]:
        """Fill one region, as if it were the first of its shape.

        Raises
        ------
        StitchpathError
            When the fill can't be made.
        """
        return self.fill_noted(asked, region, where, turn=0)[0]

    def fill_noted(
        self, asked: Fill, region: Region, where: str, turn: int | None = None
    ) -> tuple[list[Line], list[FillNote]]:
        """Fill one region, and tell what of it is left empty, places on the top.

        Equal regions take turns at a few meanders, unless one is chosen by its number as `turn`.

        Raises
        ------
        StitchpathError
            When the fill can't be made.
        """
        thread = fill_thread(self.design, asked, where)
        squares = _squares(asked, region)
        if squares > MOST_SQUARES:
            # Rounded up, so that a plan with the number named will work.
            least = math.ceil(10 * asked.spacing * math.sqrt(squares / MOST_SQUARES)) / 10
            raise StitchpathError(
                f"{where}, spacing: found {format_length(asked.spacing, 'mm')}, expected at least "
                f"{least:g} mm on {self.words.subject(region.of)}, for more would take too long to "
                "plan"
            )
        door = self._door(region.shape, asked, thread)
        corner = np.array(region.shape.bounds[:2])
        local: Polygon | MultiPolygon = shapely.transform(region.shape, lambda at: at - corner)
        local = shapely.normalize(local)
        rings = np.rint(shapely.get_coordinates(local) / GRID).astype(np.int64)
        gate = None if door is None else (door[0] - corner[0], door[1] - corner[1])
        snapped = None if gate is None else tuple(round(v / GRID) for v in gate)
        edges: tuple[Polygon | None, BaseGeometry | None] = (None, None)
        rows = _rows(asked)
        if asked.style in THROUGH or rows.cut:
            edges = self._frame(region, asked), self._closed(region.shape, thread)
        frame = edges[0] and shapely.transform(edges[0], lambda at: at - corner)
        closed = edges[1] and shapely.transform(edges[1], lambda at: at - corner)
        laid = [shapely.to_wkb(shapely.set_precision(e, GRID)) for e in (frame, closed) if e]
        shape_key = (rings.tobytes(), *laid)
        if turn is None:
            turn = self._turn.get((asked, *shape_key), 0)
            self._turn[asked, *shape_key] = turn + 1
        # Fills of several names may be one fill: many cures are.
        drawn = asked.style, asked.spacing, asked.inset, asked.angle, asked.motif, asked.id, rows
        point = None if asked.at is None else (asked.at[0] - corner[0], asked.at[1] - corner[1])
        spot = None if point is None else tuple(round(v / GRID) for v in point)
        variant = (asked.seed, turn % _VARIANTS if asked.style in FREE else 0, spot)
        key = (*drawn, *variant, *shape_key, snapped)
        if key not in self._made:
            seed = asked.seed + 1000 * (turn % _VARIANTS)
            self._made[key] = self._filled(
                asked, local, (gate, frame, closed, point), seed, (where, region.of)
            )
        made = self._made[key]
        left, top = corner.tolist()
        notes = [replace(n, at=(n.at[0] + left, n.at[1] + top)) for n in made.notes]
        paths = [path + corner for path in made.paths]
        return [Line("fill", 1, thread, path, region.of) for path in paths], notes

    def _filled(
        self,
        asked: Fill,
        shape: Polygon | MultiPolygon,
        edges: "_Edges",
        seed: int,
        told: tuple[str, Subject],
    ) -> Filled:
        # The door to the fills: a top that is quilted without any does not wait for them.
        from stitchpath.lines.fills.styles import fill  # noqa: PLC0415 - that door

        door, frame, closed, point = edges
        where, of = told
        motif = self._motif(asked, where)
        best: tuple[float, Filled] | None = None
        # Where one meander leaves a wide place bare, another may not.
        for k in range(_TRIES if asked.style == "meander" else 1):
            try:
                made = fill(
                    shape,
                    asked.style,
                    asked.spacing,
                    inset=asked.inset,
                    angle=asked.angle,
                    seed=seed + 100 * k,
                    door=door,
                    motif=motif,
                    rows=_rows(asked),
                    frame=frame,
                    closed=closed,
                    point=point,
                )
            except StitchpathError as error:
                raise StitchpathError(f"{where}, {self.words.subject(of)}: {error}") from None
            bare = _barest(shape, made.paths, _WIDE * asked.spacing)
            if best is None or bare < best[0]:
                best = bare, made
            if bare == 0:
                break
        return best[1] if best else Filled((), None, ())

    def flaws(self, asked: Fill, where: str) -> list[str]:
        """Tell what is wrong with the motif of a fill; none where it has none."""
        from stitchpath.lines.fills.motif_flaws import motif_flaws  # noqa: PLC0415 - as below

        motif = self._motif(asked, where)
        return [] if motif is None else list(motif_flaws(motif))

    def _motif(self, asked: Fill, where: str) -> list[FloatArray] | None:
        if asked.motif is None:
            return None
        key = asked.motif, asked.id
        if key not in self._motifs:
            # The door to drawings: few designs take any.
            from stitchpath.design.drawings.outlines import read_lines  # noqa: PLC0415 - that door

            outside = self.design.outside
            path = found_file(self.design.folder, asked.motif, where, outside=outside)
            self._motifs[key] = read_lines(path, asked.id, where, MOTIF_SHARE)
        return self._motifs[key]

    def _frame(self, region: Region, asked: Fill) -> Polygon | None:
        """Find what a lattice is laid in: the patch, or the block in which a region lies."""
        if asked.style in PATCHWISE:
            return self.top.patches[region.patches[0]].polygon
        places = {self.top.patches[i].place for i in region.patches}
        return self._blocks.get(places.pop()) if len(places) == 1 else None

    def _closed(self, shape: BaseGeometry, thread: str) -> BaseGeometry | None:
        """Find where no thread may go along the edge of a region: neither a seam nor the margin."""
        edge = shape.boundary
        ways: list[BaseGeometry] = [self.top.outline.exterior]
        ditch = thread == self._ditch and bool(np.any(self.stitched))
        if may_travel(self.design, thread, ditch=ditch):
            near = self._seams.query(edge, predicate="dwithin", distance=BOTH_ROUNDED)
            ways += [self._seams.geometries[k] for k in np.sort(near)]
        closed = edge.difference(shapely.union_all(ways).buffer(_BESIDE))
        parts = [part for part in shapely.get_parts(closed) if part.length > _STRETCH]
        return shapely.multilinestrings(parts) if parts else None

    def _door(self, shape: BaseGeometry, asked: Fill, thread: str) -> tuple[float, float] | None:
        """Find where a closed fill hangs best: at a stitched seam of its thread, else the margin.

        Of several such vertices, the one nearest to the fill that is in sight of it.
        """
        if asked.style not in CLOSED:
            return None
        inset = inset_of(asked.style, asked.spacing, asked.inset)
        inner = shape.buffer(-(inset + asked.spacing / 2))
        heart = shape.representative_point() if inner.is_empty else inner
        ample = shape.buffer(GRID)
        for vertices in self._hooks(shape, thread):
            ways = np.asarray(shapely.shortest_line(shapely.points(vertices), heart))
            seen = np.flatnonzero(np.asarray(shapely.covers(ample, ways)))
            if len(seen):
                far = np.round(shapely.length(ways[seen]), 2)
                order = np.lexsort((vertices[seen, 0], vertices[seen, 1], far))
                x, y = vertices[seen[order[0]]].tolist()
                return x, y
        return None

    def _hooks(self, shape: BaseGeometry, thread: str) -> Iterator[FloatArray]:
        """Give vertices of stitched seams round a region, then its corners on the edge."""
        edge = shape.boundary
        if thread == self._ditch and len(self._vertices):
            near = self._tree.query(edge, predicate="dwithin", distance=BOTH_ROUNDED)
            yield self._vertices[np.sort(near)]
        corners = np.unique(shapely.get_coordinates(shape), axis=0)
        outside = shapely.dwithin(self.top.outline.exterior, shapely.points(corners), GRID)
        yield corners[outside]


def _rows(asked: Fill) -> Rows:
    return Rows(asked.offset, asked.other_rows, asked.gap, asked.ends)


def _barest(shape: Polygon | MultiPolygon, paths: Sequence[FloatArray], wide: float) -> float:
    """Diameter of the widest circle over `wide` that a fill leaves bare, 0 if there is none."""
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    bare = [place for part in parts for place in loose_places(part, paths, wide, most=1)]
    return max((place.diameter for place in bare), default=0.0)
