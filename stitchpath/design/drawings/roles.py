"""What each shape of a drawing is meant to be, and how that was told."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import unknown_name
from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray, Role
from stitchpath.base.units import format_count
from stitchpath.design.drawings.areas import overlaps, sides, stroked
from stitchpath.design.drawings.ink import Ink, colour_of, is_pale
from stitchpath.geometry.groups import groups

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
_MARK = "a filled shape as thin or small as a letter, over others"
_FRAMED = "a frame round the page that nothing reaches"
_ROUND, _DRAWN = "a line round all others", "a line along edges that are drawn already"
PLAIN = frozenset((_FILLED, _HIDES, _ONLY, _ROUND, _DRAWN))
"""Ways to tell a role that leave little doubt."""
_WIDE = 3.0  # mm: a stroke wider than this, among areas, is an area
_THIN = 3.0  # mm: a filled shape nowhere wider than this is a drawn line
_LETTER = (6.35, 12.7)  # mm: 1/4 by 1/2 in; no larger filled shapes are letters, our own choice
_COVER = 0.5  # share of a shape that lies on others for it to lie over them
_CRUMB = 1.0  # mm²
_ALONG = 0.9  # share of a line along edges for it to be one of them
_NEAR = 1.0  # mm: so near an edge is along it
_STEP, _STEPS = 0.5, (100, 2000)  # mm between points looked at along a line, and how many
_FRAME = 0.02  # share of the page: a frame so near its edge is one of the page
_MOST = 0.9  # a group that encloses so much of what any encloses may be the seams
_WHOLE = 0.95
_STRAY = 0.8  # share of the largest line: what reaches farther is no stray
_TITLE = 0.5  # share of the page: what stands in a corner of its frame is smaller
_SIDES = 13  # points of a line: one of more, simplified, is a curve
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
            if _is_thin(area):
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
        elif inner and self._is_paper(page, [self._inks[k] for k in areas[1:]]):
            self._set(0, "leave out", "a page with a pattern that nothing reaches the edge of")

    def _is_paper(self, page: Ink, others: Sequence[Ink]) -> bool:
        """Tell whether an area is all the page, and alone has a pattern, as squared paper has."""
        patterned = page.fill is not None and not page.fill.startswith("#")
        whole = self._sheet is not None and np.abs(np.subtract(page.box, self._sheet)).max() < _NEAR
        return patterned and whole and all((ink.fill or "#").startswith("#") for ink in others)

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
            area = stroked(
                ink.lines,
                ink.width,
                cap=shape.cap,
                join=shape.join,
                mitre=shape.mitre,
                pen=shape.pen,
            )
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
                elif self._inks[k].shape.faint:
                    self._set(k, "guide", "a shade over others that show through it")
                elif _is_thin(area) or _is_small(area):
                    self._set(k, "guide", _MARK)
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
        alike: dict[tuple[str, bool], list[int]] = defaultdict(list)
        for k in self._open():
            ink = self._inks[k]
            alike[(ink.stroke or ink.paint, ink.shape.dashed)].append(k)
        named = [k for k, role in enumerate(self._role) if role in ("seam", "edge")]
        base = [line for k in named for line in self._inks[k].lines]
        seams = self._seam_group(alike, base, said=any(self._role[k] == "seam" for k in named))
        for key, members in alike.items():
            if key == seams:
                why = _ONLY if len(alike) == 1 else "lines of the colour that encloses most"
                for k in members:
                    self._set(k, "seam", why)
            elif self._is_edge(members, alike[seams] if seams else named):
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
        part = _parts([_as_one(self._inks[k]) for k in left_open])
        for place in np.flatnonzero(at_sheet).tolist():
            k = left_open[place]
            if not self._inks[k].closed:
                continue
            by_it = np.flatnonzero(part == part[place]).tolist()
            alone = by_it == [place]
            if alone and strokes[self._inks[k].stroke] > 1:
                continue
            others = np.delete(boxes, by_it, axis=0)
            if not len(others) or not (alone or _in_a_corner(boxes[by_it], boxes[place])):
                continue
            inner = (others[:, :2].min(axis=0) > boxes[place, :2] + _NEAR).all()
            inner &= (others[:, 2:].max(axis=0) < boxes[place, 2:] - _NEAR).all()
            if inner:
                for each in by_it:
                    self._set(left_open[each], "guide", _FRAMED)

    def _seam_group(
        self,
        alike: Mapping[tuple[str, bool], Sequence[int]],
        base: list[FloatArray],
        *,
        said: bool,
    ) -> tuple[str, bool] | None:
        """Find the lines that enclose most; of those alike, the ones that part it most finely."""
        if said or not alike:
            return None
        if len(alike) == 1:
            return next(iter(alike))
        score = {}
        for key, members in alike.items():
            faces = _faces([line for k in members for line in self._inks[k].lines] + base)
            area = sum(face.area for face in faces)
            score[key] = (area, len(faces) - 1000 * (key[1] + is_pale(key[0])))
        most = max(area for area, _ in score.values())
        if most <= 0:  # nothing is closed: the most of them, not pale
            return max(alike, key=lambda key: (not is_pale(key[0]), not key[1], len(alike[key])))
        close = [key for key in alike if score[key][0] >= _MOST * most]
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
        if len(seams) < 2:  # noqa: PLR2004
            return
        part = _parts([_as_one(self._inks[k]) for k in seams])
        boxes = np.array([self._inks[k].box for k in seams])
        largest = (boxes[:, 2:] - boxes[:, :2]).max()
        wholes = [[seams[at] for at in np.flatnonzero(part == n)] for n in range(part.max() + 1)]
        reach = [
            np.concatenate([boxes[part == n, :2].min(axis=0), boxes[part == n, 2:].max(axis=0)])
            for n in range(len(wholes))
        ]
        sizes = [float(np.prod(r[2:] - r[:2])) for r in reach]
        main = int(np.argmax(sizes))
        outside = [
            bool((r[2:] < reach[main][:2] + _NEAR).any() or (r[:2] > reach[main][2:] - _NEAR).any())
            for r in reach
        ]
        beside = any(outside) and self._encloses(wholes[main])
        for n, some in enumerate(wholes):
            left = [k for k in some if not self._sure[k]]
            if n == main or (reach[n][2:] - reach[n][:2]).max() > _STRAY * largest:
                continue
            if all(self._inks[k].closed for k in some):
                if _is_piece([self._inks[k] for k in some]):
                    for k in left:
                        self._set(k, "appliqué", "a closed line that touches no seam")
            elif beside and outside[n] and not self._encloses(some):
                for k in left:
                    self._set(k, "guide", "a line outside all that is enclosed")
            elif len(some) == 1 and left and any(_bent(x) for x in self._inks[some[0]].lines):
                self._set(some[0], "quilting", "a bent line that ends nowhere")

    def _encloses(self, some: Sequence[int]) -> bool:
        return bool(_faces([line for k in some for line in self._inks[k].lines]))


def _as_one(ink: Ink) -> MultiLineString:
    return MultiLineString([LineString(line) for line in ink.lines])


def _parts(lines: Sequence[MultiLineString]) -> IntArray:
    """Give lines that hang together, to a millimetre, one number."""
    every = np.array(lines, dtype=object)
    pairs = shapely.STRtree(every).query(every, predicate="dwithin", distance=_NEAR)
    return groups(len(lines), *pairs)


def _in_a_corner(boxes: FloatArray, frame: FloatArray) -> bool:
    """Tell whether all that stands at a frame but itself lies in one corner, as a title does."""
    own = (boxes == frame).all(axis=1)
    rest = boxes[~own]
    low, high = rest[:, :2].min(axis=0), rest[:, 2:].max(axis=0)
    size = frame[2:] - frame[:2]
    at_corner = (low < frame[:2] + _NEAR) | (high > frame[2:] - _NEAR)
    return bool((high - low < _TITLE * size).all() and at_corner.all())


def _is_piece(some: Sequence[Ink]) -> bool:
    """Tell whether closed lines that touch no other may be a piece to lay on.

    One that is no rectangle, or several of which one is bent; what else lies within seams, such as
    the middle of a medallion, is pieced.
    """
    lines = [line for ink in some for line in ink.lines]
    if len(lines) == 1:
        return not _is_rectangle(Polygon(lines[0]))
    return any(not _angular(line) for line in lines)


def _angular(line: FloatArray) -> bool:
    """Tell whether a line has few sides, with corners between them."""
    return len(shapely.get_coordinates(shapely.simplify(LineString(line), 0.1))) <= _SIDES


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


def _is_thin(area: BaseGeometry) -> bool:
    """Tell whether an area is nowhere as wide as what can be cut of cloth."""
    if area.area > _THIN * area.length / 2:  # wide enough on the whole
        return False
    return bool(area.buffer(-_THIN / 2).is_empty)


def _is_small(area: BaseGeometry) -> bool:
    """Tell whether an area is as small as a letter."""
    left, top, right, bottom = area.bounds
    short, long = sorted((right - left, bottom - top))
    return bool(short <= _LETTER[0] and long <= _LETTER[1])


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
