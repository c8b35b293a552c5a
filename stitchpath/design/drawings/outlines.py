"""What a drawing gives for an appliqué piece: one outline, and in words what was taken."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import Unit, format_count, format_length
from stitchpath.design.drawings.areas import filled, refuse_scribble, simplified, stroked
from stitchpath.design.drawings.door import read_file, told_as
from stitchpath.design.drawings.drawing import Drawing, Shape
from stitchpath.design.drawings.pathdata import bounds, extent, flatten
from stitchpath.design.drawings.svg import read_svg
from stitchpath.geometry.tolerances import OUTLINE_SHARE

__all__ = ["Outline", "read_drawing", "read_lines", "take_outline", "wanted_shapes"]

_EXPECTED = "an SVG or DXF file"
_KINDS = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a compressed file"),
    (b"PK\x03\x04", "a ZIP archive"),
)
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_CORNERS = 3
_LARGEST_PIECE = 5000.0  # mm: what a file says beyond this is not the size of a piece
_THICK = 0.02  # a stroke wider than this share of the drawing is an area, else a drawn line
_JOINED = 0.1  # mm: ends this near each other are one point
_SPECK = 1.5  # mm: what is smaller both ways is no piece and no hole
_TWICE = 1.5  # mm: two rings all the way this near each other are one line drawn twice
_BEYOND = 0.01  # of its size that a drawing may reach over its page untold
_PAGE = 0.98  # share of the page that a background covers
_OVER = 0.5  # share of a shape that lies on others of another colour, to be told of
_MOST_PARTS = 300
_MOST_POINTS = 4000  # of an outline: beyond it the lines through its middle take too long
_UNCUT = 0.5  # mm: no arm or slit so narrow can be cut from cloth (our measure)
_MOST_HAIRS = 200  # with more of them, lines through the middle take many seconds
_FINE = 1 / 4000  # how far that simplifying begins, as a share of the size


@dataclass(frozen=True, slots=True)
class Outline:
    """An outline taken from a drawing.

    Attributes
    ----------
    shape
        Its area, mm, where it lies on the drawing's page.
    size
        Larger side of its bounding box, mm.
    told
        What was taken, passed over, joined and simplified: sentences.
    """

    shape: MultiPolygon
    size: float
    told: tuple[str, ...]


def read_drawing(path: Path, where: str) -> Drawing:
    """Read an SVG or DXF file, whatever its ending.

    Parameters
    ----------
    path
        The file.
    where
        The place in the design, for errors.

    Raises
    ------
    StitchpathError
        When it cannot be read as either.
    """
    data = read_file(path, where, _EXPECTED)
    place = f"{where}: {path}" if where else f"{path}"
    for mark, kind in _KINDS:
        if data.startswith(mark):
            raise StitchpathError(f"{place}: found {kind}, expected {_EXPECTED}")
    text = data.removeprefix(b"\xef\xbb\xbf").lstrip()
    if data[:2] in _UTF16 or text.startswith(b"<"):
        reader: Callable[[bytes], Drawing] = read_svg
    elif path.suffix.lower() == ".dxf" or text.split(b"\n", 1)[0].strip() in (b"0", b"999"):
        # The door to DXF: its library is large, and most drawings are SVG.
        from stitchpath.design.drawings.dxf import read_dxf  # noqa: PLC0415 - that door

        reader, data = read_dxf, text
    else:
        raise StitchpathError(f"{place}: found neither SVG nor DXF in it, expected {_EXPECTED}")
    with told_as(place, _EXPECTED), np.errstate(all="ignore"):
        try:
            return reader(data)
        except StitchpathError as error:
            raise StitchpathError(f"{place}: {error}") from None


def read_lines(path: Path, wanted: str | None, where: str, share: float) -> list[FloatArray]:
    """Read one line from a drawing, for rows of a motif.

    Parameters
    ----------
    path
        The file.
    wanted
        Id of its shape; None for the first that shows.
    where
        The place in the design, for errors.
    share
        Flattening tolerance as a share of the larger side.

    Returns
    -------
    list of FloatArray
        The subpaths, shape (n, 2), in the drawing's units.

    Raises
    ------
    StitchpathError
        When the file cannot be read or has no such line.
    """
    drawing = read_drawing(path, where)
    place = f"{where}: {path}"
    shapes = wanted_shapes(drawing, wanted, place, "a line")[:1]
    with told_as(place, "a line"):
        size = max(extent(shapes[0].strands), 1e-9)
        lines = [flatten(strand, size * share) for strand in shapes[0].strands]
    points = sum(map(len, lines))
    if points > _MOST_POINTS:
        raise StitchpathError(
            f"{place}: found a line of {points:,} points, expected at most {_MOST_POINTS:,}"
        )
    return lines


def take_outline(
    path: Path, wanted: str | None, where: str, *, size: float | None, unit: Unit
) -> Outline:
    """Take the outline of a piece from a drawing.

    All that shows makes one piece, or what an id names: a shape, a group, a layer, "all". Areas are
    filled as the file says. A stroke wider than a fiftieth of the drawing is an area of its own;
    thinner ones are drawn lines, and enclose areas only where nothing is filled.

    Parameters
    ----------
    path
        An SVG or DXF file.
    wanted
        Id of a shape, group or layer; None or "all" for all that shows.
    where
        The place in the design, for errors.
    size
        Larger side asked for, mm; None for the size that the file itself says.
    unit
        Unit of the design, for what is told.

    Raises
    ------
    StitchpathError
        When the file cannot be read or encloses nothing.
    """
    drawing = read_drawing(path, where)
    place = f"{where}: {path}"
    shapes = wanted_shapes(drawing, wanted, place, "a closed outline")
    with told_as(place, "a closed outline"), np.errstate(all="ignore"):
        try:
            return _Taking(drawing, shapes, path.name, size, unit).outline(
                whole=wanted is None or wanted == "all"
            )
        except StitchpathError as error:
            raise StitchpathError(f"{place}: {error}") from None


def wanted_shapes(drawing: Drawing, wanted: str | None, place: str, expected: str) -> list[Shape]:
    """Find the shapes of an id, or all that show.

    Parameters
    ----------
    drawing
        As read.
    wanted
        Id of a shape, group or layer; None or "all" for all.
    place
        The place in the design and the file, for errors.
    expected
        What is looked for, for errors.

    Raises
    ------
    StitchpathError
        When nothing of that id shows.
    """
    shapes = drawing.shapes
    if wanted is not None:
        called = [shape for shape in shapes if wanted in set(shape.called())]
        if not called and wanted != "all":
            if wanted in drawing.hidden:
                raise StitchpathError(
                    f"{place}: found that {wanted!r} does not show, for {drawing.hidden[wanted]}, "
                    "expected a shape that shows"
                )
            known = list(dict.fromkeys(n for shape in shapes for n in shape.called()))
            if not known:
                raise StitchpathError(
                    f"{place}: found no shape with the id {wanted[:60]!r} and none with any id, "
                    'expected one, or id = "all"'
                )
            raise unknown_name(place, "id", wanted, known)
        shapes = called or shapes
    if not shapes:
        found = "nothing that shows"
        if drawing.told:
            found += " but " + _counted(drawing.told)
        raise StitchpathError(f"{place}: found {found}, expected {expected}{drawing.cure()}")
    return shapes


def _counted(told: dict[str, int]) -> str:
    return ", ".join(
        f"{what} ({count} times)" if count > 1 else what for what, count in told.items()
    )


class _Taking:
    """From shapes to one outline; what happens on the way is told."""

    def __init__(
        self, drawing: Drawing, shapes: Sequence[Shape], file: str, size: float | None, unit: Unit
    ) -> None:
        self._drawing, self._file, self._unit = drawing, file, unit
        self._shapes = list(shapes)
        self._told: list[str] = []
        self._asked = size
        self._size = max(extent([s for shape in shapes for s in shape.strands]), 1e-9)
        self._moved = 0.0
        self._mm = 1.0

    def outline(self, *, whole: bool) -> Outline:
        """Make the outline."""
        if whole:
            self._leave_page()
        self._size = max(extent([s for shape in self._shapes for s in shape.strands]), 1e-9)
        self._mm = self._scale(self._size)
        areas, count = self._areas()
        if not areas:
            areas, count = self._enclosed()
        area = self._eased(self._cleaned(self._steadied(shapely.union_all(areas))))
        size = _span(area)
        self._mm = self._scale(size)
        return self._finish(area, size, count)

    @property
    def _twice_near(self) -> float:
        """How near two rings are that are one line drawn twice: on the quilt, or as drawn."""
        return _TWICE / min(self._mm, self._drawing.mm or self._mm)

    def _scale(self, size: float) -> float:
        """Tell how many mm a unit of the drawing is."""
        if self._asked is not None:
            return self._asked / size
        mm = self._drawing.mm
        if mm is None:
            raise StitchpathError(
                "found no size in the file, in mm or inches, expected it there, or size in the "
                "design"
            )
        if size * mm > _LARGEST_PIECE:
            raise StitchpathError(
                f"found that the file says {size * mm / 1000:.1f} m across, expected a piece, or "
                "its size in the design"
            )
        return mm

    def _leave_page(self) -> None:
        """Leave out a background, a frame round the page, and what lies off the page."""
        page = self._drawing.page
        if page is None:
            return
        sheet = shapely.box(*page)
        boxes = [shapely.box(*bounds(shape.strands)) for shape in self._shapes]
        off = [not box.intersects(sheet) for box in boxes]
        ample = sheet.buffer(_BEYOND * self._size)
        beyond = sum(not box.within(ample) for box in boxes) - sum(off)
        if beyond:
            self._told.append(
                f"{format_count(beyond, 'shape')} beyond the edge of the page taken whole."
            )
        if any(off) and not all(off):
            self._told.append(f"{format_count(sum(off), 'shape')} off the page left out.")
        kept = [k for k, away in enumerate(off) if not away or all(off)]
        grounds = []
        for k in kept:
            if not _is_rectangle(self._shapes[k], boxes[k]):
                continue
            if boxes[k].intersection(sheet).area >= _PAGE * sheet.area:
                grounds.append(k)
        if grounds and len(grounds) < len(kept):
            self._told.append("a background as large as the page left out.")
            kept = [k for k in kept if k not in grounds]
        self._shapes = [self._shapes[k] for k in kept]

    def _rings(self, shape: Shape) -> list[FloatArray]:
        """Flatten a shape; one that is traced is simplified."""
        rings = []
        for strand in shape.strands:
            ring = flatten(strand, self._size * OUTLINE_SHARE)
            if shape.fill is not None or strand.closed:
                if len(ring) < _CORNERS:
                    continue
                if not np.array_equal(ring[0], ring[-1]):
                    ring = np.concatenate([ring, ring[:1]])
                count = len(ring)
                ring, moved = simplified(ring, self._size)
                if moved > self._moved:
                    self._moved = moved
                    self._traced = count
            rings.append(ring)
        return rings

    _traced = 0

    def _areas(self) -> tuple[list[BaseGeometry], int]:
        """Areas of what is filled, and of thick strokes."""
        areas: list[BaseGeometry] = []
        colours: list[str] = []
        lines = thick = twice = 0
        for shape in self._shapes:
            filling = shape.fill is not None and _encloses(shape)
            stroking = shape.stroke is not None and shape.width > _THICK * self._size
            parts = []
            if filling:
                rings, again = _once(self._rings(shape), self._twice_near)
                twice += again
                parts.append(filled(rings, even_odd=shape.even_odd))
            if stroking:
                parts.append(self._stroked(shape))
                thick += not filling
            area = shapely.union_all(parts)
            if shape.clip is not None and not area.is_empty:
                area = shapely.intersection(area, shape.clip)
            if area.area > 0:
                areas.append(area)
                colours.append(shape.fill or shape.stroke or "")
            elif not parts:
                lines += 1
        if not areas:
            return [], 0
        if thick:
            self._told.append(
                f"{format_count(thick, 'stroke')} taken by the outline of what is drawn."
            )
        if lines:
            self._told.append(f"{format_count(lines, 'thin line')} passed over, as for scoring.")
        self._tell_twice(twice)
        self._tell_covered(areas, colours)
        return areas, len(areas)

    def _tell_twice(self, twice: int) -> None:
        if twice:
            self._told.append(
                f"the cut line is drawn twice in {format_count(twice, 'place')}: taken once, by "
                "the outer one."
            )

    def _tell_covered(self, areas: list[BaseGeometry], colours: list[str]) -> None:
        """Tell of shapes painted in another colour on top of others: they may be meant as holes."""
        if len(areas) > _MOST_PARTS or len(set(colours)) == 1:
            return
        over = 0
        tree = shapely.STRtree(areas)
        for k, area in enumerate(areas):
            under = [
                int(j)
                for j in tree.query(area)
                if j < k and colours[j] != colours[k] and areas[j].area > area.area
            ]
            if under:
                shared = area.intersection(shapely.union_all([areas[j] for j in under])).area
                over += shared > _OVER * area.area
        if over:
            self._told.append(
                f"{format_count(over, 'shape')} of another colour on top of others taken as part "
                "of the piece; cut them out in the drawing if they are holes."
            )

    def _stroked(self, shape: Shape) -> BaseGeometry:
        """Outline a stroke."""
        lines = self._rings(shape)
        refuse_scribble(lines)
        return stroked(
            lines, shape.width, cap=shape.cap, join=shape.join, mitre=shape.mitre, pen=shape.pen
        )

    def _enclosed(self) -> tuple[list[BaseGeometry], int]:
        """Areas that thin lines enclose: their ends joined, what is drawn twice taken once."""
        rings: list[FloatArray] = []
        loose: list[FloatArray] = []
        clips = []
        for shape in self._shapes:
            for ring in self._rings(shape):
                near = float(np.hypot(*(ring[0] - ring[-1]))) <= _JOINED / self._mm
                if near and len(ring) > _CORNERS:
                    rings.append(np.concatenate([ring[:-1], ring[:1]]))
                elif len(ring) > 1:
                    loose.append(ring)
            clips.append(shape.clip)
        joined, left = _joined(loose, _JOINED / self._mm)
        rings += joined
        if not rings:
            found = f"{format_count(len(loose), 'open line')} and no area" if loose else "no area"
            raise StitchpathError(f"found {found}, expected a closed outline")
        count = len(rings)
        kept, twice = _once(rings, self._twice_near)
        self._tell_twice(twice)
        if left:
            self._told.append(f"{format_count(left, 'open line')} passed over, as for scoring.")
        area = _nested([filled([ring], even_odd=True) for ring in kept])
        if clips and all(clip is not None for clip in clips):
            area = shapely.intersection(area, shapely.union_all(clips))
        return [area], count - twice

    def _steadied(self, area: BaseGeometry) -> BaseGeometry:
        """Cut off whiskers and fill slits of a trace as narrow as what it was moved by."""
        if not self._moved:
            return area
        reach = 2 * self._moved
        for step in (reach, -2 * reach, reach):
            area = shapely.buffer(area, step, quad_segs=4)
        return shapely.simplify(area, self._moved / 2)

    def _eased(self, area: MultiPolygon) -> MultiPolygon:
        """Simplify what has too many points, or too many hair-thin arms, for its lines."""
        moved = _FINE * self._size
        fine: BaseGeometry = area
        points = int(shapely.get_num_coordinates(area))
        while shapely.get_num_coordinates(fine) > _MOST_POINTS and moved < self._size / 100:
            fine = shapely.simplify(area, moved)
            self._moved = max(self._moved, moved)
            self._traced = self._traced or points
            moved *= 2
        if shapely.get_num_coordinates(fine) > 2 * _MOST_POINTS:
            raise StitchpathError(f"found an outline of {points:,} points, expected a simpler one")
        if shapely.get_num_coordinates(fine) > _MOST_HAIRS:
            fine = self._without_hairs(fine)
        return _polygons(fine)

    def _without_hairs(self, area: BaseGeometry) -> BaseGeometry:
        """Leave out arms and slits too narrow to cut, where there are hundreds of them."""
        reach = _UNCUT / 2 / self._mm
        filled_up = shapely.buffer(shapely.buffer(area, reach), -1.5 * reach)
        closed = shapely.union(area, filled_up)
        opened = shapely.buffer(shapely.buffer(closed, -reach), 1.5 * reach)
        kept = shapely.intersection(closed, opened)
        hairs = len(shapely.get_parts(shapely.symmetric_difference(area, kept)))
        if hairs <= _MOST_HAIRS or kept.is_empty:
            return area
        self._told.append(
            f"{hairs:,} arms and slits narrower than {_UNCUT} mm left out: they cannot be cut."
        )
        return shapely.simplify(kept, reach / 4)

    def _cleaned(self, area: BaseGeometry) -> MultiPolygon:
        """Leave out specks and pinholes."""
        least = _SPECK / self._mm
        parts, specks, pinholes = [], 0, 0
        for part in shapely.get_parts(area):
            if not isinstance(part, Polygon) or part.area <= 0:
                continue
            if _span(part) < least:
                specks += 1
                continue
            holes = [hole for hole in part.interiors if _span(hole) >= least]
            pinholes += len(part.interiors) - len(holes)
            parts.append(Polygon(part.exterior, holes))
        if not parts:
            found = "specks and no shape" if specks else "no area"
            raise StitchpathError(f"found {found}, expected a closed outline")
        if len(parts) > _MOST_PARTS:
            raise StitchpathError(
                f"found {len(parts):,} separate parts, expected at most {_MOST_PARTS}"
            )
        if specks or pinholes:
            many = " and ".join(
                format_count(n, what) for n, what in ((specks, "speck"), (pinholes, "pinhole")) if n
            )
            self._told.append(f"{many} under {format_length(_SPECK, self._unit)} left out.")
        return MultiPolygon(parts)

    def _finish(self, area: MultiPolygon, size: float, count: int) -> Outline:
        left, top, right, bottom = area.bounds
        way = "across" if right - left >= bottom - top else "high"
        parts = len(area.geoms)
        pieces = "one piece" if parts == 1 else f"{parts} pieces"
        taken = (
            f"{self._file}: {format_count(count, 'shape')} in {pieces}, "
            f"{format_length(size * self._mm, self._unit)} {way}."
        )
        told = [taken]
        if self._moved:
            told.append(
                f"{self._file}: the outline of {self._traced:,} points was traced and is "
                f"simplified by about {self._moved * self._mm:.2f} mm."
            )
        told += [f"{self._file}: {each}" for each in (*self._told, *self._passed())]
        shape = _polygons(shapely.transform(area, lambda points: points * self._mm))
        return Outline(shape, size * self._mm, tuple(told))

    def _passed(self) -> Iterator[str]:
        told = dict(self._drawing.told)
        if text := told.pop("text", 0):
            yield f"{format_count(text, 'text')} left out: turn text into paths if it is wanted."
        if told:
            yield f"passed over: {_counted(told)}."


def _polygons(area: BaseGeometry) -> MultiPolygon:
    """Make a valid area of what simplifying left, without lines and points."""
    if not area.is_valid:
        area = shapely.union_all(shapely.get_parts(shapely.make_valid(area)))
    parts = [p for p in shapely.get_parts(area) if isinstance(p, Polygon) and p.area > 0]
    return MultiPolygon(parts)


def _is_rectangle(shape: Shape, box: Polygon) -> bool:
    if len(shape.strands) != 1:
        return False
    ring = flatten(shape.strands[0], 1e9)
    return len(ring) > _CORNERS and Polygon(ring).area >= _PAGE * box.area > 0


def _encloses(shape: Shape) -> bool:
    return shape.kind != "line"


def _span(shape: BaseGeometry) -> float:
    left, top, right, bottom = shape.bounds
    return float(max(right - left, bottom - top))


def _nested(areas: Sequence[BaseGeometry]) -> BaseGeometry:
    """Put cut lines together: one within another is a hole in it, those that overlap are one."""
    shapes = np.asarray([area for area in areas if area.area > 0])
    if len(shapes) < 2:  # noqa: PLR2004
        return shapes[0] if len(shapes) else Polygon()
    outer, inner = shapely.STRtree(shapes).query(shapes, predicate="covered_by")
    depth = np.bincount(outer[outer != inner], minlength=len(shapes))
    area: BaseGeometry = Polygon()
    for level in range(int(depth.max()) + 1):
        there = shapely.union_all(shapes[depth == level])
        area = area.difference(there) if level % 2 else area.union(there)
    return area


def _once(rings: Sequence[FloatArray], near: float) -> tuple[list[FloatArray], int]:
    """Take lines that run along each other all the way only once, by the outer one.

    Returns
    -------
    rings, twice
        Those kept, and how many were left out.
    """
    if len(rings) < 2:  # noqa: PLR2004
        return list(rings), 0
    low = np.array([ring.min(axis=0) for ring in rings])
    high = np.array([ring.max(axis=0) for ring in rings])
    boxes = np.column_stack([low, high])
    large = (high - low).max(axis=1)
    order = np.argsort(-large, kind="stable")
    tree = shapely.STRtree(np.asarray(shapely.points(low)))
    gone: set[int] = set()
    for k in order.tolist():
        if k in gone or large[k] < 4 * near:  # a speck is not a line drawn twice
            continue
        around = shapely.box(*(low[k] - near), *(low[k] + near))
        for j in sorted(tree.query(around).tolist()):
            if j == k or j in gone or large[j] < 4 * near or large[j] > large[k]:
                continue
            if large[j] == large[k] and j < k:
                continue
            if np.abs(boxes[j] - boxes[k]).max() <= near and _alike(rings[k], rings[j], near):
                gone.add(j)
    return [ring for k, ring in enumerate(rings) if k not in gone], len(gone)


def _alike(one: FloatArray, other: FloatArray, near: float) -> bool:
    a, b = LineString(one), LineString(other)
    if not bool(shapely.dwithin(a, b, near)):
        return False
    return float(shapely.hausdorff_distance(a, b, densify=0.25)) <= near


def _joined(lines: Sequence[FloatArray], near: float) -> tuple[list[FloatArray], int]:
    """Join open lines whose ends meet; give the rings, and how many lines are in none."""
    if not lines:
        return [], 0
    refuse_scribble(lines)
    ends = np.array([end for line in lines for end in (line[0], line[-1])])
    spots = np.asarray(shapely.points(ends))
    tree = shapely.STRtree(spots)
    first = np.arange(len(ends))
    for a, b in tree.query(spots, predicate="dwithin", distance=near).T.tolist():
        first[a] = min(first[a], first[b])
    snapped = []
    for k, line in enumerate(lines):
        line = line.copy()  # noqa: PLW2901 - ends are moved in it
        line[0], line[-1] = ends[first[first[2 * k]]], ends[first[first[2 * k + 1]]]
        snapped.append(LineString(line))
    merged = shapely.get_parts(shapely.line_merge(shapely.union_all(snapped)))
    around = shapely.is_closed(merged)
    rings = [shapely.get_coordinates(line) for line in merged[around]]
    # Where lines branch it is the edge of all they enclose.
    forked = shapely.union_all(shapely.get_parts(shapely.polygonize(merged[~around])))
    rings += [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(forked)
        if isinstance(part, Polygon)
        for ring in (part.exterior, *part.interiors)
    ]
    edge = shapely.union_all([LineString(ring) for ring in rings]).buffer(near / 10)
    return rings, sum(not edge.covers(line) for line in snapped)
