"""A whole drawing taken: patches, pieces, lines to quilt, and all that was guessed and healed."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray, Role
from stitchpath.base.units import MM_PER, Unit, format_count, format_length
from stitchpath.design.drawings.areas import overlaps, refuse_scribble
from stitchpath.design.drawings.copies import DrawnCopy, drawn_copies, framed
from stitchpath.design.drawings.door import told_as
from stitchpath.design.drawings.drawing import Drawing
from stitchpath.design.drawings.ink import Ink, inks
from stitchpath.design.drawings.outlines import read_drawing
from stitchpath.design.drawings.pathdata import extent
from stitchpath.design.drawings.roles import PLAIN, Sorted, sort_inks
from stitchpath.design.drawings.words import TOLERANCE
from stitchpath.geometry.groups import groups
from stitchpath.geometry.healing.heal import Mended, heal

__all__ = ["DrawnPatch", "DrawnPiece", "Guess", "Whole", "take_whole"]

_LEAST, _MOST = 100.0, 5000.0  # mm: longer sides of a top
_LEAST_BLOCK = 20.0
_MAIN = 0.8  # share of all that is enclosed that one part has to be, for others to be left out
_MOST_CROSSINGS = 40_000
_MOST_SHAPES = 12_000
_ON_BOX = 1.0  # mm
_EXACT = 1e-6  # mm
_DRAWN = 0.5  # share of a side along which lines run: then it is drawn
_WHITE = frozenset(("#ffffff", "#fefefe"))
_GUESSED_UNITS: tuple[Unit, ...] = ("mm", "cm", "in")


@dataclass(frozen=True, slots=True)
class DrawnPatch:
    """A patch: its area, mm, its paint, "" where that is not known, and its own name or ""."""

    polygon: Polygon
    paint: str
    name: str
    source: int


@dataclass(frozen=True, slots=True)
class DrawnPiece:
    """An appliqué piece: its area, mm, its paint or "", and its own name or ""."""

    shape: MultiPolygon
    paint: str
    name: str


@dataclass(frozen=True, slots=True)
class Guess:
    """What shapes of one look were taken for.

    Attributes
    ----------
    role, count, why
        For what, how many, and how that was told.
    sure
        Whether she or a name said so, rather than the rules.
    key
        What they are called in `roles`: their colour, or their layer.
    at
        Where the first lies, mm on the top.
    lines
        All of them, mm on the top, to be drawn.
    """

    role: Role
    count: int
    why: str
    sure: bool
    key: str
    at: tuple[float, float]
    lines: tuple[FloatArray, ...]

    @property
    def doubtful(self) -> bool:
        """Whether it may well be wrong: not a filled patch, and not the only lines there are."""
        return not self.sure and self.why not in PLAIN


@dataclass(frozen=True, slots=True)
class Whole:
    """What was taken of a drawing; its top left corner lies at (0, 0).

    Attributes
    ----------
    patches, pieces, quilting
        mm; in reading order.
    mm
        Millimetres to the drawing's unit.
    guesses, mended, told
        Roles, what was healed, and what else was done, in words.
    loose
        Lines of the seams that enclose nothing.
    copies
        What is drawn once and copied.
    """

    patches: tuple[DrawnPatch, ...]
    pieces: tuple[DrawnPiece, ...]
    quilting: tuple[FloatArray, ...]
    mm: float
    guesses: tuple[Guess, ...]
    mended: tuple[Mended, ...]
    loose: tuple[FloatArray, ...]
    told: tuple[str, ...]
    copies: tuple[DrawnCopy, ...] = ()

    @property
    def known(self) -> bool:
        """Whether the fabric of every patch is known."""
        return all(patch.paint for patch in self.patches)


def take_whole(
    path: Path,
    where: str,
    *,
    size: float | None = None,
    unit: Unit | None = None,
    roles: Mapping[str, Role] | None = None,
    tolerance: float = TOLERANCE,
    shown_in: Unit = "in",
    block: bool = False,
) -> Whole:
    """Take a whole drawing as a top, or as a block.

    Parameters
    ----------
    path
        An SVG or DXF file.
    where
        The place in the design, for errors; may be empty.
    size
        Longer side of the finished top, mm; None for the size that the file says.
    unit
        Or what a unit of the drawing is.
    roles
        Roles by colour, layer, name, or "dashed"; the rest is told by rules.
    tolerance
        How far ends may lie from where they are meant to, mm.
    shown_in
        Unit of lengths in sentences.
    block
        Whether it is a block, which may be smaller than a top.

    Raises
    ------
    StitchpathError
        When it cannot be read, has no size, or does not make one top.
    """
    drawing = read_drawing(path, where)
    place = f"{where}: {path}" if where else f"{path}"
    with told_as(place, "a drawing of a top"), np.errstate(all="ignore"):
        try:
            mm = _scale(drawing, size, unit, _LEAST_BLOCK if block else _LEAST, shown_in)
            taking = _Taking(drawing, mm, roles or {}, tolerance)
            found = taking.whole()
            if size is not None and abs(taking.longer - size) > _EXACT:
                # What lies beside the top was measured with it.
                taking = _Taking(drawing, mm * size / taking.longer, roles or {}, tolerance)
                found = taking.whole()
        except StitchpathError as error:
            raise error.told_of(place) from None
    return found


def _nothing(drawing: Drawing) -> str:
    return f"found nothing that shows, expected the lines or patches of a top{drawing.cure()}"


def _scale(
    drawing: Drawing, size: float | None, unit: Unit | None, least: float, shown_in: Unit
) -> float:
    """Tell how many mm a unit of the drawing is; ask where that is not told, or cannot be."""
    if not drawing.shapes:
        raise StitchpathError(_nothing(drawing))
    if len(drawing.shapes) > _MOST_SHAPES:
        raise StitchpathError(
            f"found {len(drawing.shapes):,} shapes, expected at most {_MOST_SHAPES:,}"
        )
    wide = max(extent([s for shape in drawing.shapes for s in shape.strands]), 1e-9)
    if size is not None:
        return size / wide
    mm = MM_PER[unit] if unit is not None else drawing.mm
    plausible = [u for u in _GUESSED_UNITS if least <= wide * MM_PER[u] <= _MOST]
    ways = " or ".join(
        f'"{u}" ({format_length(wide * MM_PER[u], shown_in)} across)' for u in plausible
    )
    asked = f"expected its size, or its unit: {ways}" if ways else "expected its size"
    if mm is None:
        raise StitchpathError(f"found no size in mm or inches in the file, {asked}").unless("size")
    if not least <= wide * mm <= _MOST:
        across = format_length(wide * mm, shown_in)
        raise StitchpathError(
            f"found a drawing {across} across by the unit that it names, {asked}"
        ).unless("size")
    return float(mm)


class _Taking:
    """From shapes to a top; what happens on the way is told."""

    def __init__(
        self,
        drawing: Drawing,
        mm: float,
        roles: Mapping[str, Role],
        tolerance: float,
    ) -> None:
        self._drawing, self._mm, self._tolerance = drawing, mm, tolerance
        made = inks(drawing, mm)
        refuse_scribble(
            [line for ink in made for line in ink.lines], _MOST_CROSSINGS, "the drawing of a top"
        )
        left, top, right, bottom = (v * mm for v in drawing.page or (0.0, 0.0, 0.0, 0.0))
        page = (left, top, right, bottom) if drawing.page is not None else None
        self._sorted = sort_inks(made, roles, page)
        self._told: list[str] = list(self._sorted.notes)
        self.longer = 0.0

    def whole(self) -> Whole:
        """Take it all."""
        lines, showing = self._seams()
        if not lines:
            raise StitchpathError("found no patches and no seams, expected the drawing of a top")
        web = heal(lines, self._tolerance)
        if not web.faces:
            raise StitchpathError(
                f"found {format_count(len(lines), 'line')} that enclose nothing, expected seams "
                "that enclose patches"
            )
        faces = _in_reading_order(self._one_part(list(web.faces)))
        whole = shapely.union_all(faces, grid_size=0.001)
        bounds = shapely.total_bounds(np.array(faces, dtype=object))
        left, top, right, bottom = (float(v) for v in bounds)
        self.longer = max(right - left, bottom - top)
        origin = np.array([left, top])
        patches = tuple(self._patches(faces, showing, origin))
        gaps = sum(not p.paint for p in patches) if any(p.paint for p in patches) else 0
        if gaps:
            self._told.append(
                f"{format_count(gaps, 'place')} among the patches not filled: taken as patches "
                "whose fabric is not known."
            )
        self._passed()
        mended = tuple(
            Mended(m.cause, (m.at[0] - left, m.at[1] - top), m.far)
            for m in web.mended
            if m.cause != "twice" or not showing  # of filled patches each seam is drawn twice
        )
        loose = tuple(line - origin for line in web.loose)
        if loose:
            self._told.append(
                f"{format_count(len(loose), 'line')} of the seams left out: they enclose nothing."
            )
        outline = whole.buffer(self._tolerance)
        return Whole(
            patches,
            tuple(self._pieces(origin)),
            tuple(self._quilting(outline, origin)),
            self._mm,
            tuple(self._guesses(origin)),
            mended,
            loose,
            tuple(self._told),
            framed(self._drawing.frames, self._mm, origin)
            or drawn_copies(self._sorted.of("patch", "seam", "edge"), self._mm, origin),
        )

    # Seams and patches

    def _seams(self) -> tuple[list[FloatArray], list[tuple[BaseGeometry, Ink]]]:
        """Give every line between patches, and what shows of each filled patch."""
        patches = [ink for ink in self._sorted.of("patch") if ink.area is not None]
        showing: list[tuple[BaseGeometry, Ink]] = []
        shapes = [ink.area for ink in patches if ink.area is not None]
        above: dict[int, list[int]] = {}
        for k, under in overlaps(shapes).items():
            for j in under:
                above.setdefault(j, []).append(k)
        for k, (area, ink) in enumerate(zip(shapes, patches, strict=True)):
            over = [shapes[j] for j in above.get(k, ())]
            seen = area.difference(shapely.union_all(over)) if over else area
            if not seen.buffer(-self._tolerance / 2).is_empty:
                showing.append((seen, ink))
        lines = [
            shapely.get_coordinates(ring)
            for area, _ in showing
            for part in shapely.get_parts(area)
            if isinstance(part, Polygon) and not part.buffer(-self._tolerance / 2).is_empty
            for ring in (part.exterior, *part.interiors)
        ]
        drawn = [line for ink in self._sorted.of("seam", "edge") for line in ink.lines]
        if not showing:
            drawn += self._edge(drawn)
        return lines + drawn, showing

    def _edge(self, lines: Sequence[FloatArray]) -> list[FloatArray]:
        """Add the sides of the edge that are not drawn: where seams end loose on the box round all.

        Ends that meet another line are not loose: such as those of a top that stands on a corner.
        """
        drawn = [LineString(line) for line in lines]
        if not drawn:
            return []
        still_open = [k for k, line in enumerate(lines) if not np.array_equal(line[0], line[-1])]
        owner = np.array(still_open * 2, dtype=np.int64)
        tips = np.array([lines[k][end] for end in (0, -1) for k in still_open]).reshape(-1, 2)
        tree = shapely.STRtree(drawn)
        tip, met = tree.query(shapely.points(tips), predicate="dwithin", distance=_ON_BOX)
        other = met != owner[tip]
        loose = np.bincount(tip[other], minlength=len(tips)) == 0
        left, top, right, bottom = shapely.total_bounds(np.array(drawn, dtype=object))
        corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
        added = []
        for k in range(4):
            side = LineString(corners[[k, (k + 1) % 4]])
            on = shapely.distance(shapely.points(tips), side) < _ON_BOX
            near = side.buffer(_ON_BOX)
            along = sum(
                drawn[j].intersection(near).length for j in tree.query(near).tolist()
                if drawn[j].distance(side) < _ON_BOX
            )  # fmt: skip
            if (on & loose).any() and along < _DRAWN * side.length:
                added.append(corners[[k, (k + 1) % 4]])
        if added:
            self._told.append(
                f"{format_count(len(added), 'side')} of the edge not drawn, where seams end: added "
                "as straight lines."
            )
        return added

    def _one_part(self, faces: list[Polygon]) -> list[Polygon]:
        """Keep the top and leave out what lies beside it; refuse a sheet of templates."""
        near = shapely.STRtree(faces).query(faces, predicate="dwithin", distance=self._tolerance)
        label = groups(len(faces), *near)
        parts = int(label.max()) + 1
        if parts == 1:
            return faces
        areas = np.bincount(label, shapely.area(np.array(faces, dtype=object)))
        if areas.max() < _MAIN * areas.sum():
            raise StitchpathError(
                f"found {parts} parts that do not touch, which looks like a sheet of templates, "
                "expected the drawing of one top"
            )
        self._told.append(
            f"{format_count(parts - 1, 'part')} that {'does' if parts == 2 else 'do'} not touch "  # noqa: PLR2004
            "the top left out."
        )
        kept = int(np.argmax(areas))
        return [face for face, part in zip(faces, label.tolist(), strict=True) if part == kept]

    def _patches(
        self,
        faces: Sequence[Polygon],
        showing: Sequence[tuple[BaseGeometry, Ink]],
        origin: FloatArray,
    ) -> Iterator[DrawnPatch]:
        paints = {ink.fill for _, ink in showing}
        blank = len(faces) > 1 and paints <= _WHITE and all(ink.stroke for _, ink in showing)
        if blank and showing:
            self._told.append(
                "every patch is white with a line round it: taken as not coloured yet, its "
                "fabric as not known."
            )
        tree = shapely.STRtree([area for area, _ in showing])
        spots = np.array([face.representative_point() for face in faces], dtype=object)
        face, area = tree.query(spots, predicate="intersects")
        at = dict(zip(face.tolist(), area.tolist(), strict=True))
        owners = Counter(at.values())
        for k, polygon in enumerate(faces):
            moved = shapely.transform(polygon, lambda points: points - origin)
            found = at.get(k)
            ink = showing[found][1] if found is not None else None
            name = ""
            if ink is not None and owners[found] == 1:
                name = _own_name(ink)
            source = self._sorted.inks.index(ink) if ink is not None else -1
            paint = (ink.fill or "") if ink and not blank else ""
            yield DrawnPatch(moved, paint, name, source)

    # What lies on them

    def _pieces(self, origin: FloatArray) -> Iterator[DrawnPiece]:
        inks = self._sorted.of("appliqué")
        drawn = [ink for ink in inks if ink.area is None]
        rings = dict(zip(map(id, drawn), self._rings(drawn), strict=True))
        for ink in inks:
            area = rings[id(ink)] if ink.area is None else ink.area
            if area is None:  # a hole of another
                continue
            parts = [p for p in shapely.get_parts(area) if isinstance(p, Polygon) and p.area > 0]
            if not parts:
                self._told.append("a piece that encloses nothing left out.")
                continue
            moved: MultiPolygon = shapely.transform(
                MultiPolygon(parts), lambda points: points - origin
            )
            yield DrawnPiece(moved, ink.fill or "", _own_name(ink))

    def _rings(self, drawn: Sequence[Ink]) -> list[BaseGeometry | None]:
        """Give what lines enclose: of lines alike, one within another is a hole; its own is None.

        So are the rings of a piece that was written ring by ring, as in DXF.
        """
        areas: list[BaseGeometry | None] = []
        for ink in drawn:
            rings = [Polygon(line) for line in ink.lines if len(line) > 3]  # noqa: PLR2004
            areas.append(shapely.union_all([r if r.is_valid else r.buffer(0) for r in rings]))
        every = np.array(areas, dtype=object)
        outer, inner = shapely.STRtree(every).query(every, predicate="contains_properly")
        looks = [(ink.paint, tuple(ink.shape.called())) for ink in drawn]
        alike = [(a, b) for a, b in zip(outer.tolist(), inner.tolist(), strict=True)
                 if looks[a] == looks[b]]  # fmt: skip
        depth = Counter(b for _, b in alike)
        sizes = shapely.area(every)
        holes = 0
        for hole in sorted(k for k, d in depth.items() if d % 2):
            around = min((a for a, b in alike if b == hole), key=lambda a: float(sizes[a]))
            whole = areas[around]
            areas[around] = None if whole is None else whole.difference(every[hole])
            areas[hole] = None
            holes += 1
        if holes:
            self._told.append(
                f"{format_count(holes, 'line')} within a line of a piece taken as a hole in it; "
                "fill them if they are pieces of their own."
            )
        return areas

    def _quilting(self, outline: BaseGeometry, origin: FloatArray) -> Iterator[FloatArray]:
        """Give lines to quilt, each cut off where it leaves the top."""
        cut = 0
        for ink in self._sorted.of("quilting"):
            for line in ink.lines:
                drawn = LineString(line)
                if drawn.within(outline):
                    yield line - origin
                    continue
                cut += 1
                kept = shapely.intersection(drawn, outline)
                merged = shapely.line_merge(kept) if kept.geom_type == "MultiLineString" else kept
                for part in shapely.get_parts(merged):
                    if isinstance(part, LineString) and part.length > self._tolerance:
                        yield shapely.get_coordinates(part) - origin
        if cut:
            self._told.append(
                f"{format_count(cut, 'line')} to quilt cut off at the edge of the top."
            )

    # What is told

    def _passed(self) -> None:
        told = dict(self._drawing.told)
        if text := told.pop("text", 0):
            self._told.append(
                f"{format_count(text, 'text')} left out: turn text into paths if it is wanted."
            )
        for what, count in told.items():
            self._told.append(f"passed over: {what} ({format_count(count, 'time')}).")

    def _guesses(self, origin: FloatArray) -> Iterator[Guess]:
        made: dict[tuple[Role, str, bool, str], list[Ink]] = {}
        found: Sorted = self._sorted
        every = zip(found.inks, found.roles, found.why, found.sure, found.keys, strict=True)
        for ink, role, why, sure, key in every:
            made.setdefault((role, why, sure, key), []).append(ink)
        for (role, why, sure, key), some in made.items():
            lines = tuple(line - origin for ink in some for line in ink.lines)
            x, y = lines[0][0].tolist()
            yield Guess(role, len(some), why, sure, key, (x, y), lines)


def _in_reading_order(faces: Sequence[Polygon]) -> list[Polygon]:
    """Sort patches row by row: what lies less than half a patch lower is in the same row."""
    shapes = np.array(faces, dtype=object)
    middles = shapely.get_coordinates(shapely.centroid(shapes))
    boxes = shapely.bounds(shapes)
    half = float(np.median(boxes[:, 3] - boxes[:, 1])) / 2
    rows: list[list[int]] = []
    begin = -np.inf
    for k in np.lexsort((middles[:, 0], middles[:, 1])).tolist():
        if middles[k, 1] > begin + half:
            rows.append([])
            begin = middles[k, 1]
        rows[-1].append(k)
    return [faces[k] for row in rows for k in sorted(row, key=lambda k: float(middles[k, 0]))]


def _own_name(ink: Ink) -> str:
    """Give the name that a person gave a shape; none for those that programs give."""
    own = ink.shape.names.own if ink.shape.names is not None else ()
    for name in own:
        if any(letter.isalpha() for letter in name) and not any(c.isdigit() for c in name):
            return name.replace("_", " ")[:40]
    return ""
