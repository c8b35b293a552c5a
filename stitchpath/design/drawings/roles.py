"""What each shape of a drawing is meant to be, and how that was told."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.design.drawings.areas import overlaps, sides, stroked
from stitchpath.design.drawings.ink import Ink, colour_of, is_pale
from stitchpath.errors import unknown_name
from stitchpath.typing import BoolArray, FloatArray, Geometries, Role
from stitchpath.units import format_count

__all__ = ["PLAIN", "Sorted", "sort_inks"]

_WORDS: tuple[tuple[re.Pattern[str], Role], ...] = (
    (re.compile(r"guides?|grids?|notes?|pages?|background|construction|rulers?"), "guide"),
    (re.compile(r"cut|cuts|cutting|allowances?"), "leave out"),
    (re.compile(r"appliqu.*|applique.*|fus(e|ed|ible|ing)|motifs?"), "appliqué"),
    (re.compile(r"quilting|quilt|quiltlines?|stitch(es|ing|lines?)?"), "quilting"),
    (re.compile(r"edges?|outlines?|binding"), "edge"),
    (re.compile(r"seams?|seamlines?|pieced?|piecing|patch(es|work)?|blocks?"), "seam"),
)
"""Words in names, in the order in which they are looked for."""
_SEAMS, _PIECES = ("seam", "seams"), ("piece", "pieces")  # names beside each other tell both
_OWN_RUN = re.compile(r"run-\d+|path .*|travel|casing, .*|key")
_LETTERS = re.compile(r"[^\W\d_]+")
_FILLED, _HIDES, _ONLY = "a filled shape", "a filled shape that hides all below it", "drawn lines"
_ROUND, _DRAWN = "a line round all others", "a line along edges that are drawn already"
PLAIN = frozenset((_FILLED, _HIDES, _ONLY, _ROUND, _DRAWN))
"""Ways to tell a role that leave little doubt."""
_WIDE = 3.0  # mm: a stroke wider than this, among areas, is an area
_THIN = 3.0  # mm: a filled shape nowhere wider than this is a drawn line
_COVER = 0.5  # share of a shape that lies on others for it to lie over them
_CRUMB = 1.0  # mm²
_ALONG = 0.9  # share of a line along edges for it to be one of them
_NEAR = 1.0  # mm: so near an edge is along it
_STEP, _STEPS = 0.5, (100, 2000)  # mm between points looked at along a line, and how many
_FRAME = 0.02  # share of the page: a frame so near its edge is one of the page
_MOST = 0.9  # a group that encloses so much of what any encloses may be the seams
_WHOLE = 0.95
_FACES = 4  # lines that cut one area into so many are its seams


@dataclass(slots=True)
class Sorted:
    """Shapes by what they are meant to be.

    Attributes
    ----------
    inks
        All of them, in the order of painting.
    roles
        Role of each.
    why
        How the role of each was told.
    sure
        Whether that was said, by her or by a name, rather than guessed.
    keys
        What settles it: a name, or else the colour or "dashed".
    notes
        What else was seen, as sentences.
    """

    inks: list[Ink]
    roles: list[Role]
    why: list[str]
    sure: list[bool]
    keys: list[str]
    notes: list[str] = field(default_factory=list)

    def of(self, *roles: Role) -> list[Ink]:
        """Give the shapes of some roles."""
        return [ink for ink, role in zip(self.inks, self.roles, strict=True) if role in roles]


def sort_inks(
    inks: Sequence[Ink],
    asked: Mapping[str, Role],
    page: tuple[float, float, float, float] | None = None,
) -> Sorted:
    """Tell what each shape is meant to be.

    Parameters
    ----------
    inks
        In the order of painting.
    asked
        Roles by colour, name of a shape, layer, group or class, or "dashed": they settle it.
    page
        Left, top, right and bottom of the page, mm, where the drawing has one.

    Raises
    ------
    StitchpathError
        When nothing of the drawing is called or coloured so.
    """
    sorting = _Sorting(list(inks), asked, page)
    sorting.run()
    return sorting.made


class _Sorting:
    def __init__(
        self,
        inks: list[Ink],
        asked: Mapping[str, Role],
        page: tuple[float, float, float, float] | None,
    ) -> None:
        self._inks, self._sheet = inks, page
        self._asked = {colour_of(k) if k.startswith("#") else k: v for k, v in asked.items()}
        count = len(inks)
        self._role: list[Role | None] = [None] * count
        self._why, self._sure = [""] * count, [False] * count
        self._keys = [_look(ink) for ink in inks]
        self._notes: list[str] = []

    @property
    def made(self) -> Sorted:
        roles: list[Role] = [role or "leave out" for role in self._role]
        return Sorted(self._inks, roles, self._why, self._sure, self._keys, self._notes)

    def _set(self, k: int, role: Role, why: str, *, sure: bool = False) -> None:
        self._role[k], self._why[k], self._sure[k] = role, why, sure

    def _open(self) -> list[int]:
        return [k for k, role in enumerate(self._role) if role is None]

    def run(self) -> None:
        """Go through the rules in their order."""
        self._told()
        self._named()
        self._thin_areas()
        self._page()
        areas = [
            k for k in range(len(self._inks))
            if self._inks[k].area is not None and self._role[k] in (None, "patch")
        ]  # fmt: skip
        if areas and not self._seams_over(areas):
            self._grounds(sorted([*areas, *self._wide_strokes(areas)]))
            self._among_areas()
        else:
            self._lines_only()

    def _told(self) -> None:
        """Take what she said."""
        used = set()
        for k, ink in enumerate(self._inks):
            names = list(ink.shape.called())
            keys = [*names, ink.stroke, ink.fill, *(["dashed"] if ink.shape.dashed else [])]
            if ink.area is not None:
                keys = [*names, ink.fill, ink.stroke, *keys[-1:]]
            found = next((key for key in keys if key in self._asked), None)
            if found is not None:
                used.add(found)
                role = self._asked[found]
                role = "patch" if role == "seam" and ink.area is not None else role
                self._set(k, role, "as said in roles", sure=True)
                self._keys[k] = found or ""
        for key in self._asked:
            if key not in used:
                known = [n for ink in self._inks for n in (*ink.shape.called(), ink.paint)]
                raise unknown_name(
                    "roles", "colour, layer or name", key or "", dict.fromkeys(known)
                )

    def _named(self) -> None:
        """Take what names say."""
        seams = any(n.lower() in _SEAMS for ink in self._inks for n in ink.shape.called())
        for k in self._open():
            ink = self._inks[k]
            for name in ink.shape.called():
                role = _role_word(name)
                if seams and _OWN_RUN.fullmatch(name):  # as this tool writes its own paths
                    role = "leave out"
                elif seams and name.lower() in _PIECES:
                    role = "appliqué"
                if role is None:
                    continue
                if role == "edge" and ink.area is not None:
                    break
                if role == "seam" and ink.area is not None:
                    role = "patch"
                if role == "appliqué" and ink.area is None and not ink.closed:
                    role = "quilting"
                self._set(k, role, "by that name", sure=True)
                self._keys[k] = name
                break

    def _thin_areas(self) -> None:
        """Take filled shapes that are nowhere wide for what they are: drawn lines."""
        areas = [k for k in self._open() if self._inks[k].area is not None]
        thin = []
        for k in areas:
            area = self._inks[k].area
            assert area is not None  # noqa: S101 - just looked
            if area.area < _THIN * area.length / 2 and area.buffer(-_THIN / 2).is_empty:
                thin.append(k)
        if len(thin) < max(len(areas) - 1, 1):
            return
        taken = 0
        for k in thin:
            middle = _middle_line(self._inks[k])
            if middle is not None:
                ink = self._inks[k]
                self._inks[k] = Ink(ink.shape, (middle,), None, None, ink.fill, ink.width)
                taken += 1
        if taken:
            many = format_count(taken, "filled shape")
            self._notes.append(f"{many} nowhere {_THIN:g} mm wide taken as lines.")

    def _page(self) -> None:
        """Leave out a page: the first area, white or covered, that nothing reaches the edge of."""
        areas = [k for k in self._open() if self._inks[k].area is not None]
        if len(self._inks) < 2 or not areas or areas[0] != 0:  # noqa: PLR2004
            return
        page = self._inks[0]
        if page.area is None or not _is_rectangle(page.area):
            return
        boxes = np.array([ink.box for ink in self._inks[1:]])
        left, top, right, bottom = page.box
        inner = (boxes[:, :2].min(axis=0) > (left + _NEAR, top + _NEAR)).all()
        inner &= (boxes[:, 2:].max(axis=0) < (right - _NEAR, bottom - _NEAR)).all()
        white = page.fill is not None and page.fill >= "#f8f8f8" and page.fill.startswith("#f")
        if inner and white:
            self._set(0, "leave out", "a white page below all that nothing reaches the edge of")

    def _seams_over(self, areas: Sequence[int]) -> bool:
        """Tell whether one ground lies below lines that cut it into many patches."""
        if len(areas) != 1 or self._role[areas[0]] is not None:
            return False
        ground = self._inks[areas[0]]
        lines = [
            line for k, ink in enumerate(self._inks)
            if k != areas[0] and self._role[k] in (None, "seam", "edge") and not ink.shape.dashed
            and (self._role[k] or not is_pale(ink.paint))
            for line in ink.lines
        ]  # fmt: skip
        faces = _faces([*lines, *ground.lines])
        open_ended = [line for line in lines if not np.array_equal(line[0], line[-1])]
        if len(faces) < _FACES or len(open_ended) < len(lines) / 2:
            return False
        self._set(areas[0], "edge", "one ground below lines that cut it into patches")
        return True

    # Areas

    def _wide_strokes(self, areas: Sequence[int]) -> list[int]:
        """Take strokes too wide for a thread for the areas that they cover; give which.

        Those along edges stay lines, such as a binding.
        """
        wide = [
            k for k in self._open()
            if self._inks[k].area is None and self._inks[k].width > _WIDE
            and not self._inks[k].shape.dashed
        ]  # fmt: skip
        if not wide:
            return []
        grounds = [area for k in areas if (area := self._inks[k].area) is not None]
        edges = _edges(grounds)
        taken = []
        for k in wide:
            ink = self._inks[k]
            spots = _spots(MultiLineString([LineString(line) for line in ink.lines]))
            if _beside(spots, edges, _NEAR + ink.width / 2).mean() >= _ALONG:
                continue
            shape = ink.shape
            area = stroked(ink.lines, ink.width, cap=shape.cap, join=shape.join, mitre=shape.mitre)
            rings = [
                shapely.get_coordinates(ring)
                for part in shapely.get_parts(area)
                for ring in (part.exterior, *part.interiors)
            ]
            self._inks[k] = Ink(shape, tuple(rings), area, ink.stroke, None, 0.0)
            taken.append(k)
        if taken:
            many = format_count(len(taken), "stroke")
            self._notes.append(f"{many} over {_WIDE:g} mm wide taken by the area covered.")
        return taken

    def _grounds(self, areas: Sequence[int]) -> None:
        """Tell patches from pieces laid over them."""
        shapes = [shape for k in areas if (shape := self._inks[k].area) is not None]
        below = overlaps(shapes)
        showing: dict[int, BaseGeometry] = {}  # what shows of each ground so far
        for place, (k, area) in enumerate(zip(areas, shapes, strict=True)):
            under = [areas[j] for j in below.get(place, ()) if areas[j] in showing]
            shared = {j: showing[j].intersection(area) for j in under}
            under = [j for j in under if shared[j].area > _CRUMB]
            on = sum(shared[j].area for j in under)
            if self._role[k] is None:
                if on < _COVER * area.area:
                    self._set(k, "patch", _FILLED)
                else:
                    self._over(k, {j: showing[j] for j in under}, shared)
            if self._role[k] == "patch":
                for j in under:
                    showing[j] = showing[j].difference(area)
                showing[k] = area

    def _over(
        self, k: int, grounds: Mapping[int, BaseGeometry], shared: Mapping[int, BaseGeometry]
    ) -> None:
        """Tell whether a shape over others is pieced into them or laid on them."""
        area = self._inks[k].area
        assert area is not None  # noqa: S101 - areas have one
        hidden = [j for j in grounds if shared[j].area > _WHOLE * grounds[j].area]
        left = [j for j in grounds if shared[j].area > 0.02 * area.area and j not in hidden]
        if not left:
            self._set(k, "patch", _HIDES)
            return
        whole = shapely.union_all([grounds[j] for j in grounds])
        corners = shapely.points(_corners(area))
        at_edge = shapely.dwithin(corners, whole.boundary, _NEAR).sum() >= 2  # noqa: PLR2004
        rectangle = _is_rectangle(area)
        if len(left) > 1 and not (rectangle and at_edge):
            self._set(k, "appliqué", "a filled shape with a seam beneath it")
        elif at_edge:
            self._set(k, "patch", "a filled shape that ends at the edge of its ground")
        elif rectangle:
            self._set(k, "patch", "a filled rectangle within its ground")
        else:
            self._set(k, "appliqué", "a filled shape within its ground")

    def _among_areas(self) -> None:
        """Tell what lines among areas are."""
        still_open = self._open()
        if not still_open:
            return
        areas = [x.area for x in self.made.of("patch", "appliqué") if x.area is not None]
        edges = _edges(areas)
        top = shapely.union_all(areas)
        edge = top.boundary
        shapely.prepare(top)
        for k in still_open:
            ink = self._inks[k]
            lines = MultiLineString([LineString(line) for line in ink.lines])
            spots = _spots(lines)
            near = _beside(spots, edges, _NEAR)
            bound = ink.width > _WIDE and shapely.dwithin(lines, edge, ink.width)
            if bound and _beside(spots, edges, _NEAR + ink.width).mean() >= _ALONG:
                self._set(k, "leave out", "a thick line along edges")
            elif near.mean() >= _ALONG:
                self._set(k, "leave out", _DRAWN)
            elif (near | shapely.intersects(top, spots)).mean() <= _COVER:
                self._set(k, "guide", "a line outside the top")
            elif is_pale(ink.paint):
                self._set(k, "guide", "a pale line")
            else:
                self._set(k, "quilting", "a line over patches")

    # Lines

    def _lines_only(self) -> None:
        """Tell what lines are where nothing is filled."""
        self._frame()
        groups: dict[tuple[str, bool], list[int]] = defaultdict(list)
        for k in self._open():
            ink = self._inks[k]
            groups[(ink.stroke or ink.paint, ink.shape.dashed)].append(k)
        named = [k for k, role in enumerate(self._role) if role in ("seam", "edge")]
        base = [line for k in named for line in self._inks[k].lines]
        seams = self._seam_group(groups, base, said=any(self._role[k] == "seam" for k in named))
        for key, members in groups.items():
            if key == seams:
                why = _ONLY if len(groups) == 1 else "lines of the colour that encloses most"
                for k in members:
                    self._set(k, "seam", why)
            elif self._is_edge(members, groups[seams] if seams else named):
                for k in members:
                    self._set(k, "edge", _ROUND)
            else:
                self._others(key, members)
        self._strays()

    def _frame(self) -> None:
        """Leave out a frame round the page: a line like no other, which none reaches."""
        left_open = self._open()
        if self._sheet is None or len(left_open) < 2:  # noqa: PLR2004
            return
        near = _FRAME * max(self._sheet[2] - self._sheet[0], self._sheet[3] - self._sheet[1])
        strokes = Counter(self._inks[k].stroke for k in left_open)
        boxes = np.array([self._inks[k].box for k in left_open])
        at_sheet = np.abs(boxes - self._sheet).max(axis=1) <= near
        for place in np.flatnonzero(at_sheet).tolist():
            k = left_open[place]
            if strokes[self._inks[k].stroke] > 1 or not self._inks[k].closed:
                continue
            others = np.delete(boxes, place, axis=0)
            inner = (others[:, :2].min(axis=0) > boxes[place, :2] + _NEAR).all()
            inner &= (others[:, 2:].max(axis=0) < boxes[place, 2:] - _NEAR).all()
            if inner:
                self._set(k, "guide", "a frame round the page that nothing reaches")

    def _seam_group(
        self,
        groups: Mapping[tuple[str, bool], Sequence[int]],
        base: list[FloatArray],
        *,
        said: bool,
    ) -> tuple[str, bool] | None:
        """Find the lines that enclose most; of those alike, the ones that part it most finely."""
        if said or not groups:
            return None
        if len(groups) == 1:
            return next(iter(groups))
        score = {}
        for key, members in groups.items():
            faces = _faces([line for k in members for line in self._inks[k].lines] + base)
            area = sum(face.area for face in faces)
            score[key] = (area, len(faces) - 1000 * (key[1] + is_pale(key[0])))
        most = max(area for area, _ in score.values())
        if most <= 0:  # nothing is closed: the most of them, not pale
            return max(groups, key=lambda key: (not is_pale(key[0]), not key[1], len(groups[key])))
        close = [key for key in groups if score[key][0] >= _MOST * most]
        return max(close, key=lambda key: score[key][1])

    def _is_edge(self, members: Sequence[int], seams: Sequence[int]) -> bool:
        """Tell whether a single closed line runs round the seams."""
        if len(members) != 1 or not seams or not self._inks[members[0]].closed:
            return False
        line = self._inks[members[0]].lines[0]
        left, top, right, bottom = self._inks[members[0]].box
        boxes = np.array([self._inks[k].box for k in seams])
        round_all = [
            *(boxes[:, :2].min(axis=0) - (left, top)),
            *(right, bottom) - boxes[:, 2:].max(axis=0),
        ]
        near = 0.1 * max(right - left, bottom - top)
        return len(line) > 3 and all(-_NEAR <= gap <= near for gap in round_all)  # noqa: PLR2004

    def _others(self, key: tuple[str, bool], members: Sequence[int]) -> None:
        colour, dashed = key
        for k in members:
            if is_pale(colour):
                self._set(k, "guide", "a pale line")
            elif dashed:
                self._set(k, "quilting", "a dashed line")
            else:
                self._set(k, "quilting", "a line of another colour than the seams")

    def _strays(self) -> None:
        """Of lines like the seams tell those that touch no other, or end nowhere, bent."""
        seams = [k for k, role in enumerate(self._role) if role in ("seam", "edge")]
        lines = [MultiLineString([LineString(x) for x in self._inks[k].lines]) for k in seams]
        if len(seams) < 2:  # noqa: PLR2004
            return
        tree = shapely.STRtree(lines)
        one, other = tree.query(lines, predicate="dwithin", distance=_NEAR)
        touched = np.bincount(one[one != other], minlength=len(lines)) > 0
        extent = np.array([self._inks[k].box for k in seams])
        size = (extent[:, 2:] - extent[:, :2]).max(axis=1)
        largest = size.max()
        for at, k in enumerate(seams):
            if self._sure[k] or touched[at] or size[at] > 0.8 * largest:
                continue
            ink = self._inks[k]
            if ink.closed:
                self._set(k, "appliqué", "a closed line that touches no other")
            elif any(_bent(line) for line in ink.lines):
                self._set(k, "quilting", "a bent line that ends nowhere")


def _look(ink: Ink) -> str:
    """Give what settles the role of a shape by its look: its colour, or its dashes."""
    return "dashed" if ink.shape.dashed and ink.area is None else ink.paint


def _role_word(name: str) -> Role | None:
    """Find the role that a name tells, by its words.

    A name of a whole, such as "quilt top", tells none.
    """
    words = [word.lower() for part in _LETTERS.findall(name) for word in _split(part)]
    if "top" in words:
        return None
    for pattern, role in _WORDS:
        if any(pattern.fullmatch(word) for word in words):
            return role
    return None


def _split(word: str) -> Iterable[str]:
    """Part words written together, as in "seamLines"."""
    return re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[^\WA-Z_]+", word) or [word]


def _faces(lines: Sequence[FloatArray]) -> list[Polygon]:
    """Find what lines enclose, as they are drawn; ends a millimetre apart count as met."""
    if not lines:
        return []
    drawn = shapely.union_all(
        [LineString(_longer(line)) for line in lines if len(line) > 1], grid_size=0.001
    )
    return [
        f
        for f in shapely.get_parts(shapely.polygonize(shapely.get_parts(drawn)))
        if f.area > _CRUMB
    ]


def _longer(line: FloatArray) -> FloatArray:
    """Make an open line a millimetre longer at both ends, so that it meets what it is meant to."""
    if np.array_equal(line[0], line[-1]):
        return line
    first, last = line[0] - line[1], line[-1] - line[-2]
    tips = [
        tip + way / max(float(np.hypot(*way)), 1e-9) * _NEAR
        for tip, way in ((line[0], first), (line[-1], last))
    ]
    return np.concatenate([tips[:1], line[1:-1], tips[1:]])


def _spots(lines: MultiLineString) -> Geometries:
    """Give points at even steps along lines, each for as much of their length."""
    count = int(np.clip(lines.length / _STEP, *_STEPS))
    along = (np.arange(count) + 0.5) / count
    return np.asarray(shapely.line_interpolate_point(lines, along, normalized=True))


def _edges(areas: Sequence[BaseGeometry]) -> shapely.STRtree:
    """Give all sides of areas."""
    rings = [shapely.get_coordinates(r) for r in shapely.get_rings(shapely.get_parts(areas))]
    return shapely.STRtree(np.asarray(shapely.linestrings(np.stack(sides(rings), axis=1))))


def _beside(spots: Geometries, edges: shapely.STRtree, near: float) -> BoolArray:
    """Tell which points lie near edges."""
    found = np.zeros(len(spots), dtype=bool)
    found[edges.query(spots, predicate="dwithin", distance=near)[0]] = True
    return found


def _is_rectangle(area: BaseGeometry) -> bool:
    left, top, right, bottom = area.bounds
    return bool(area.area >= 0.995 * (right - left) * (bottom - top) > 0)


def _corners(area: BaseGeometry) -> FloatArray:
    simple = shapely.get_coordinates(shapely.simplify(area, _NEAR))
    return np.unique(np.round(simple, 2), axis=0)


def _bent(line: FloatArray) -> bool:
    """Tell whether a line is curved rather than straight, or a chain of straights."""
    return len(line) > 2 and not np.array_equal(line[0], line[-1])  # noqa: PLR2004


def _middle_line(ink: Ink) -> FloatArray | None:
    """Give the line that a long thin shape was drawn for."""
    assert ink.area is not None  # noqa: S101 - thin areas have one
    box = shapely.oriented_envelope(ink.area)
    if not isinstance(box, Polygon) or ink.area.area < 0.8 * box.area:
        return None
    corners = shapely.get_coordinates(box)[:4]
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    if sides[0] < sides[1]:
        return np.asarray([(corners[0] + corners[1]) / 2, (corners[2] + corners[3]) / 2])
    return np.asarray([(corners[1] + corners[2]) / 2, (corners[3] + corners[0]) / 2])
