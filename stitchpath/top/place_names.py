"""Places on a top in a quilter's words: units, corners, edges, directions, what lines belong to.

The one room where places become words. What others have to compare stays a value: `Place` and
`Subject` (`top/place.py`), and `Spot` for a point.
"""

import itertools
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.top.build import Piece, Top
from stitchpath.top.layout import LaidBlock, LaidPatch
from stitchpath.top.place import BESIDE, Part, Place, Side, Subject
from stitchpath.top.squares import square_at
from stitchpath.typing import FloatArray
from stitchpath.units import format_length

__all__ = ["TOP", "Places", "Spot", "clock", "heading", "join_words", "side"]

TOP = "the top"
"""What a spot belongs to that lies on no block."""

_TURNED = 5.0  # degrees: an outline that turns less has no corner there
_THIRDS = (0.3, 0.7)  # a corner between these shares of a shape's width is neither left nor right
_SIDES = (
    "right side",
    "lower right side",
    "bottom",
    "lower left side",
    "left side",
    "upper left side",
    "top",
    "upper right side",
)
_CORNERS = {1: "lower right", 3: "lower left", 5: "upper left", 7: "upper right"}
_HEADINGS = (
    "across to the right",
    "slanting down to the right",
    "down",
    "slanting down to the left",
    "across to the left",
    "slanting up to the left",
    "up",
    "slanting up to the right",
)
_WAY_WORD = re.compile(r"\b(top|bottom|left|right|upper|lower)\b")
_NUMBERED = re.compile(r"(\d+|\b[a-z])$")
_NAMED = 4  # so many pieces of one echo are named; the rest are counted
_SHOWN = 20  # so many units or pieces are named in one sentence; the rest are counted
_MANY = 12  # so many blocks are named one by one, if they are not all
_SO_FEW = 4  # so few blocks are named one by one, even if they are all
_WHOLE: dict[Part, str] = {
    "block": "all blocks",
    "border": "the borders",
    "sashing": "the sashing",
    "cornerstone": "the cornerstones",
    "setting": "the setting triangles",
    "square": "all squares",
    "patch": "all patches",
}
"""What all units of a kind are called together."""
_STRIPS: dict[Part, str] = {
    "sashing": "strips of sashing",
    "cornerstone": "cornerstones",
    "setting": "setting triangles",
    "block": "blocks",
    "square": "squares",
    "patch": "patches",
}
"""What units are called whose own names are long, where they are many."""
_RANK = {
    "block": 0,
    "square": 0,
    "patch": 0,
    "cornerstone": 1,
    "sashing": 2,
    "setting": 3,
    "border": 4,
}


def _eighth(way: Sequence[float] | FloatArray) -> int:
    """Tell which of eight directions a vector has: 0 right, 2 down, 4 left, 6 up."""
    return round(math.atan2(float(way[1]), float(way[0])) / (math.pi / 4)) % 8


def heading(way: Sequence[float] | FloatArray) -> str:
    """Word a direction as one sees it on the quilt.

    Parameters
    ----------
    way
        x to the right, y down.

    Examples
    --------
    >>> heading((0, 1))
    'down'
    """
    return _HEADINGS[_eighth(way)]


def side(way: Sequence[float] | FloatArray) -> str:
    """Word the side of a shape that lies in a direction from its middle.

    Examples
    --------
    >>> side((-1, 0))
    'left side'
    """
    return _SIDES[_eighth(way)]


def clock(way: Sequence[float] | FloatArray) -> str:
    """Word a direction by the hand of a clock.

    Examples
    --------
    >>> clock((1, 0))
    "3 o'clock"
    """
    hour = round(math.degrees(math.atan2(float(way[0]), -float(way[1]))) / 30) % 12
    return f"{hour or 12} o'clock"


def join_words(words: Sequence[str]) -> str:
    """Join words with commas and an "and"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the top, by what is there.

    Attributes
    ----------
    what
        Such as "left edge", "bottom right corner", "place 1 in from the left and 2 in from the
        top".
    of
        What that belongs to, as in "A2" or "the sail"; "" where it needs no more.
    measure
        Where on it, as in "2 in from its top"; "" where it is a point.
    article
        "the", or "a" where only the measure from a corner tells it.
    """

    what: str
    of: str = ""
    measure: str = ""
    article: Literal["the", "a"] = "the"

    def __str__(self) -> str:
        """Say it, as in "the bottom right corner of A2"."""
        of = f" of {self.of}" if self.of else ""
        return f"{self.article} {self.what}{of}" + (f", {self.measure}" if self.measure else "")


@dataclass(frozen=True)
class Places:
    """Names the places of a top; made once for a plan, for it keeps what it has worded.

    Attributes
    ----------
    top
        The finished top.
    """

    top: Top

    def unit(self, patch: int) -> str:
        """Name the unit that a patch belongs to, as in "A2", "the sashing between A1 and A2"."""
        place = self.top.patches[patch].place
        if place not in self._units:
            self._units[place] = self._unit_words(self.top.patches[patch])
        return self._units[place]

    def rank(self, patch: int) -> int:
        """Tell how readily one would name a patch's unit, 0 a block first."""
        return _RANK.get(self.top.patches[patch].part, 0)

    def patch(self, patch: int, *, the: bool = False) -> str:
        """Name a patch within its block: by its name, or by its fabric where that tells more.

        Parameters
        ----------
        patch
            Its index.
        the
            With "the" before a plain noun: "the sail", but "sky 1" and "ground left".
        """
        found = self.top.patches[patch]
        name = found.name if self._telling(found) else found.fabric
        label = _NUMBERED.search(name) or _WAY_WORD.search(name)
        return f"the {name}" if the and not label else name

    def meeting(self, point: FloatArray) -> list[int]:
        """List the patches that meet at a point, by index."""
        found = self._tree.query(shapely.Point(point), predicate="dwithin", distance=SAME_PLACE)
        return sorted(int(i) for i in found)

    def on_top(self, point: FloatArray) -> bool:
        """Tell whether a point lies on the top, its edge included, rather than in the margin."""
        return bool(shapely.dwithin(self.top.outline, shapely.Point(point), SAME_PLACE))

    def edge(self, point: FloatArray) -> Spot:
        """Name the edge of the top that lies nearest to a point, or the corner where it lies."""
        sides = self._sides(point)
        if len(sides) > 1:
            return Spot(f"{' '.join(sides)} corner", TOP)
        return Spot(f"{sides[0]} edge")

    def _sides(self, point: FloatArray) -> list[Side]:
        """Tell on which sides of the top a point lies, else the nearest."""
        left, top, right, bottom = self.top.outline.bounds
        x, y = float(point[0]), float(point[1])
        away: dict[Side, float] = {
            "top": abs(y - top),
            "bottom": abs(bottom - y),
            "left": abs(x - left),
            "right": abs(right - x),
        }
        near = [name for name, distance in away.items() if distance < SAME_PLACE]
        return near if len(near) > 1 else [min(away, key=lambda name: round(away[name], 2))]

    def door(self, point: FloatArray) -> tuple[Spot, str]:
        """Name a place on the edge: the edge, and where on it, as in "between A1 and B1"."""
        edge, sides = self.edge(point), self._sides(point)
        if len(sides) > 1:
            return edge, ""
        found = self.meeting(point)
        drawn = bool(self.top.squares)
        units = list(dict.fromkeys(self.patch(i) if drawn else self.unit(i) for i in found))
        if len(units) > 1:
            return edge, f"between {join_words(units)}"
        if drawn and (square := square_at(self.top.squares, point)):
            left, top, _, _ = self.box(square.place)
            upright = sides[0] in ("left", "right")
            far = float(point[1]) - top if upright else float(point[0]) - left
            down = "down" if upright else "from its left side"
            return edge, f"at {square.place.name}, {format_length(far, self.top.unit)} {down}"
        if not found or self.top.patches[found[0]].part != "block":
            return edge, ""
        left, top, _, _ = self.box(self.top.patches[found[0]].place)
        upright = sides[0] in ("left", "right")
        far = float(point[1]) - top if upright else float(point[0]) - left
        down = "down" if upright else "from its left side"
        return edge, f"at {units[0]}, {format_length(far, self.top.unit)} {down}"

    def at(self, point: FloatArray, near: Place | None = None) -> Spot:
        """Name a place on the top.

        Parameters
        ----------
        point
            mm, shape (2,).
        near
            The block one comes along: it is named first, and not again where the place lies
            within it.

        Returns
        -------
        Spot
            Such as "the left edge", "the top left corner of A2", "the bottom corner of the sail".
        """
        at = shapely.Point(point)
        if shapely.dwithin(self.top.outline.exterior, at, SAME_PLACE):
            return self.edge(point)
        found = self.meeting(point)
        places = dict.fromkeys(self.top.patches[i].place for i in found)
        blocks = sorted((p for p in places if p in self._blocks), key=lambda p: p != near)
        for block in blocks:
            spot = self._spot(block, point)
            if spot:
                return spot
        return (
            self._patch_corner(point, found, near)
            or self._piece_edge(at)
            or self._measured(point, blocks)
        )

    def _spot(self, block: Place, point: FloatArray) -> Spot | None:
        """Name a corner of a block, the middle of a side, or its centre."""
        square = np.array(self._square(block).exterior.coords)[:4]
        middle = square.mean(axis=0)
        for corner in square:
            if math.dist(corner, point) < SAME_PLACE:
                return Spot(_corner_word(corner, square), block.name)
        for k in range(4):
            half = (square[k] + square[(k + 1) % 4]) / 2
            if math.dist(half, point) < SAME_PLACE:
                return Spot("middle", f"the {side(half - middle)} of {block.name}")
        return Spot("centre", block.name) if math.dist(middle, point) < SAME_PLACE else None

    def _patch_corner(
        self, point: FloatArray, found: Sequence[int], near: Place | None
    ) -> Spot | None:
        """Name the corner of a patch, of the one that is most telling."""
        best: tuple[tuple[float, ...], Spot] | None = None
        for i in found:
            patch = self.top.patches[i]
            in_block = patch.part in ("block", "square")
            if in_block and not self._telling(patch):
                continue
            word = self._corner_of(i, point)
            order = (
                _RANK.get(patch.part, 0),
                patch.place != near,
                bool(_WAY_WORD.search(patch.name)),
                bool(_NUMBERED.search(patch.name)),
                "corner" in patch.name,
                patch.polygon.area,
            )
            if word and (best is None or order < best[0]):
                name = self.unit(i)
                if in_block:
                    name = self.patch(i, the=True)
                    square = square_at(self.top.squares, point)
                    here = square.place if square else patch.place  # where the corner itself lies
                    name += "" if here == near else f" in {here.name}"
                best = order, Spot(word, name)
        return best[1] if best else None

    def subject(self, of: Subject, *, the: bool = False) -> str:
        """Name what a line belongs to, as in "A2 sail and A2 mast" or "echo 1 of starfish on A2".

        Parameters
        ----------
        of
            What the line belongs to.
        the
            With "the" where it is one appliqué piece: "the starfish on A2", but "star 1 on A2".
        """
        if of.seam >= 0:
            seam = self.top.seams[of.seam]
            left, right = self.top.patches[seam.left], self.top.patches[seam.right]
            return f"{left.label} and {right.label}"
        if of.echo:
            number = f"echo {of.echo}" if of.echoes > 1 else "echo"
            return f"{number} of {self._owner(of)}"
        if the and len(of.pieces) == 1:
            return self.piece(of.pieces[0], the=True)
        return self._owner(of)

    def _owner(self, of: Subject) -> str:
        """Name the pieces, the motif or the ground that a line belongs to."""
        if of.pieces:
            return _listed([self.piece(k) for k in of.pieces])
        if of.place is not None:
            name = of.place.name
            if of.echo:
                return f"the motif in {name}"
            return f"the ground of {name}" if of.around else name
        if of.patch < 0:
            return "motif" if of.motif >= 0 else "line"
        unit = self.unit(of.patch)
        in_block = self.top.patches[of.patch].part in ("block", "square")
        return f"{self.patch(of.patch, the=True)} in {unit}" if in_block else unit

    def piece(self, number: int, *, the: bool = False) -> str:
        """Name an appliqué piece by its number, so that no other is called the same.

        Parameters
        ----------
        number
            Its index.
        the
            With "the" before a plain noun: "the starfish on A2", but "star 1 on A2".
        """
        name, host, counted = self._pieces[number]
        name = _piece_name(name, host)
        return f"the {name}" if the and not counted else name

    def pieces_alike(self, numbers: Sequence[int]) -> str:
        """Name several appliqué pieces, as in "starfish on A2 and A4"."""
        on: dict[str, list[str]] = {}
        for number in numbers:
            name, host, _ = self._pieces[number]
            on.setdefault(name, []).append(host)
        said = []
        for name, hosts in on.items():
            where = [host for host in hosts if host]
            said += [name] * (len(hosts) - len(where))
            said += [_piece_name(name, join_words(_few(where)))] if where else []
        return join_words(_few(said))

    def units(self, patches: Sequence[int]) -> str:
        """Name the units of some patches in few words, as in "the borders, A1 and A3"."""
        asked = {self.top.patches[i].place: i for i in reversed(patches)}
        said: list[str] = []
        for part, every in _WHOLE.items():
            mine = [place for place in asked if place.part == part]
            all_round = [place for place in self._parts if place.part == part]
            if len(mine) == len(all_round) > (_SO_FEW if part == "block" else 1):
                said.append(every if part != "border" or self._borders > 1 else "the border")
                for place in mine:
                    del asked[place]
        for number in range(1, self._borders + 1):
            ring = [p for p in self._parts if p.part == "border" and p.number == number]
            if all(place in asked for place in ring):
                said.append(f"the {_layer(number, self._borders)}border")
                for place in ring:
                    del asked[place]
        counted = []
        for kind, what in _STRIPS.items():
            mine = [place for place in asked if place.part == kind]
            if len(mine) > (_MANY if kind == "block" else _SO_FEW):
                first = self.unit(min(asked[place] for place in mine))
                total = sum(place.part == kind for place in self._parts)
                counted.append(f"{len(mine)} of {total} {what} (such as {first})")
                for place in mine:
                    del asked[place]
        named = _few([self.unit(i) for i in sorted(asked.values())])
        return join_words([*said, *named, *counted])

    def pieces(self, numbers: Sequence[int]) -> str:
        """Name appliqué pieces in one go: those of one name by the blocks they lie on.

        Parameters
        ----------
        numbers
            Their indices.

        Returns
        -------
        str
            Such as "the starfish on A2 and A4" or "the star on A1 to A5".
        """
        hosts: dict[str, list[Place]] = {}
        single: list[str] = []
        for number in numbers:
            piece = self.top.pieces[number]
            if piece.host is None or self._pieces[number][2]:
                single.append(self.piece(number, the=True))
            else:
                hosts.setdefault(piece.asked.name, []).append(piece.host)
        grouped = [f"the {name} on {_in_rows(places)}" for name, places in hosts.items()]
        return join_words([*grouped, *single])

    def area(self, place: Place) -> str:
        """Name a part of the top that is stitched in one go.

        Parameters
        ----------
        place
            A block with its row and column, or with only one of them, a whole row or column; all
            sashing, a whole border where they have no side; anything else as it is.

        Returns
        -------
        str
            Such as "boat A3", "row A", "column 2", "the sashing", "the inner border".
        """
        if place.part == "sashing":
            return "the sashing"
        if place.part == "border":
            return _border_words(place, self._borders)
        if place in self._blocks:
            return f"{self._blocks[place].block.name} {place.name}"
        if place.part == "block":
            return f"row {place.at}" if place.column < 0 else f"column {place.column + 1}"
        found = next(k for k, patch in enumerate(self.top.patches) if patch.place == place)
        return self.unit(found)

    @cached_property
    def _parts(self) -> tuple[Place, ...]:
        """Every unit of the top."""
        return tuple(dict.fromkeys(patch.place for patch in self.top.patches))

    @cached_property
    def _pieces(self) -> list[tuple[str, str, bool]]:
        """Names of all pieces, the unit that each is said to lie on, and whether a number ends it.

        Where two would be called the same, the ground tells them apart, or else a number.
        """
        hosts = [piece.host.name if piece.host else "" for piece in self.top.pieces]
        asked = [piece.asked.name for piece in self.top.pieces]
        names = list(map(_piece_name, asked, hosts))
        twice = _twice(names)
        for k, piece in enumerate(self.top.pieces):
            if names[k] in twice:
                hosts[k] = hosts[k] or self._ground(piece)
        names = list(map(_piece_name, asked, hosts))
        taken, twice = set(asked), _twice(names)
        counts = {name: itertools.count(1) for name in twice}
        own = list(asked)
        for k, name in enumerate(names):
            if name in twice:
                numbered = (f"{asked[k]} {n}" for n in counts[name])
                own[k] = next(each for each in numbered if each not in taken)
        return [
            (new, host, new != old or bool(_NUMBERED.search(old)))
            for new, host, old in zip(own, hosts, asked, strict=True)
        ]

    def _ground(self, piece: Piece) -> str:
        """Name the unit under the middle of a piece."""
        found = self.meeting(np.array([piece.shape.centroid.x, piece.shape.centroid.y]))
        return self.unit(found[0]) if found else ""

    def _piece_edge(self, at: shapely.Point) -> Spot | None:
        """Name the outline of an appliqué piece, inner or outer where it has holes."""
        for piece in self.top.pieces:
            if not shapely.dwithin(piece.shape.boundary, at, 10 * SAME_PLACE):
                continue
            holes = [hole for part in piece.shape.geoms for hole in part.interiors]
            inner = any(shapely.dwithin(hole, at, 10 * SAME_PLACE) for hole in holes)
            which = ("inner " if inner else "outer ") if holes else ""
            return Spot(f"{which}edge", self.piece(piece.number, the=True))
        return None

    def _measured(self, point: FloatArray, blocks: Sequence[Place]) -> Spot:
        """Name a place by its distance from the top left of its block, or of the top."""
        square = square_at(self.top.squares, point)
        blocks = [square.place] if square else blocks
        name = blocks[0].name if blocks else TOP
        box = self.box(blocks[0]) if blocks else self.top.outline.bounds
        x, y = float(point[0]), float(point[1])
        right, down = (format_length(v, self.top.unit) for v in (x - box[0], y - box[1]))
        near = [abs(v - edge) < SAME_PLACE for v, edge in zip((x, y, x, y), box, strict=True)]
        if near[0] or near[2]:
            return Spot(f"{'left' if near[0] else 'right'} side", name, f"{down} from its top")
        if near[1] or near[3]:
            return Spot("top" if near[1] else "bottom", name, f"{right} from its left side")
        return Spot(f"place {right} from the left and {down} from the top", name, article="a")

    def _telling(self, patch: LaidPatch) -> bool:
        """Tell whether a patch's name says which it is, as the block lies on the top."""
        if not patch.named:
            return False
        return patch.place not in self._turned or not _WAY_WORD.search(patch.name)

    def _corner_of(self, patch: int, point: FloatArray) -> str:
        """Word the corner of a patch at a point; empty where there is none, or two of that word."""
        known = self._corners.get(patch)
        if known is None:
            known = self._corners[patch] = _corners(self.top.patches[patch].polygon)
        mine = [word for word, corner in known if math.dist(corner, point) < SAME_PLACE]
        words = [word for word, _ in known]
        return mine[0] if len(mine) == 1 and words.count(mine[0]) == 1 else ""

    @cached_property
    def _corners(self) -> dict[int, list[tuple[str, tuple[float, float]]]]:
        """Corners in words, of the patches asked for so far."""
        return {}

    @cached_property
    def _turned(self) -> frozenset[Place]:
        """Blocks that lie turned or mirrored."""
        upright = np.eye(2)
        return frozenset(
            b.place for b in self.top.blocks if not np.allclose(b.frame[:, :2], upright)
        )

    @cached_property
    def _blocks(self) -> dict[Place, LaidBlock]:
        return {block.place: block for block in self.top.blocks}

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree([patch.polygon for patch in self.top.patches])

    @cached_property
    def _squares(self) -> dict[Place, Polygon]:
        return {window.place: Polygon(window.corners) for window in self.top.windows}

    def _square(self, block: Place) -> Polygon:
        return self._squares[block]

    def box(self, block: Place) -> tuple[float, float, float, float]:
        """Give the box round a block: left, top, right, bottom, mm."""
        return self._square(block).bounds

    def from_side(
        self, block: Place, point: FloatArray, *, upright: bool, whose: str = "its"
    ) -> str:
        """Tell how far a line is from the nearer side of a block, as in "2 in from its top".

        Parameters
        ----------
        block
            Its place.
        point
            On the line, mm.
        upright
            Whether the line runs up and down.
        whose
            "its", or "their" where it speaks for several blocks.
        """
        left, top, right, bottom = self.box(block)
        x, y = float(point[0]), float(point[1])
        near = [(y - top, "top"), (bottom - y, "bottom")]
        if upright:
            near = [(x - left, "left side"), (right - x, "right side")]
        far, word = min(near, key=lambda found: round(found[0], 3))
        return f"{format_length(far, self.top.unit)} from {whose} {word}"

    @cached_property
    def _units(self) -> dict[Place, str]:
        """Words for the units asked for so far."""
        return {}

    def _unit_words(self, patch: LaidPatch) -> str:
        """Word the unit of a patch."""
        place = patch.place
        if place.part == "patch":
            return patch.name
        if place.part == "border":
            return _border_words(place, self._borders)
        if place.part == "sashing":
            return _sashing_words(place)
        if place.part == "cornerstone":
            return self._beside_blocks("cornerstone", patch.polygon, 0.0)
        if place.part == "setting":
            named = self._beside_blocks("setting triangle", patch.polygon, 1.0)
            return named or f"setting triangle {place.number}"
        return place.name

    @cached_property
    def _borders(self) -> int:
        """How many borders lie round the top."""
        return max((p.place.number for p in self.top.patches if p.part == "border"), default=0)

    def _beside_blocks(self, what: str, shape: Polygon, shared: float) -> str:
        """Name a shape by the blocks that it touches, along `shared` mm of edge at least."""
        near = self._block_tree.query(shape, predicate="dwithin", distance=SAME_PLACE)
        blocks = [self.top.blocks[i].place for i in sorted(int(i) for i in near)]
        if shared:
            around = shape.buffer(SAME_PLACE)
            blocks = [
                b for b in blocks if self._square(b).boundary.intersection(around).length >= shared
            ]
        if not blocks:
            return f"a {what}" if not shared else ""
        way = _middle(shape) - np.mean([_middle(self._square(b)) for b in blocks], axis=0)
        names = [block.name for block in blocks]
        if len(blocks) > 2 or math.hypot(*way) < SAME_PLACE:  # noqa: PLR2004 - inside: name two across
            return f"the {what} between {names[0]} and {names[-1]}"
        where = {0: "right of", 2: "below", 4: "left of", 6: "above"}.get(_eighth(way))
        return f"the {what} {where or f'at the {_CORNERS[_eighth(way)]} of'} {join_words(names)}"

    @cached_property
    def _block_tree(self) -> shapely.STRtree:
        return shapely.STRtree([self._square(block.place) for block in self.top.blocks])


def _middle(shape: Polygon) -> FloatArray:
    return np.array([shape.centroid.x, shape.centroid.y])


def _few(names: Sequence[str]) -> list[str]:
    """Give the first of many names, and how many more there are."""
    if len(names) <= _SHOWN:
        return list(names)
    return [*names[: _SHOWN - 1], f"{len(names) - _SHOWN + 1} more"]


def _piece_name(name: str, on: str) -> str:
    return f"{name} on {on}" if on else name


def _twice(names: Sequence[str]) -> set[str]:
    return {name for name, count in Counter(names).items() if count > 1}


def _in_rows(blocks: Sequence[Place]) -> str:
    """List blocks; three or more that follow one another in a row by the first and the last."""
    rows: list[list[Place]] = []
    for block in blocks:
        last = rows[-1][-1] if rows else None
        beside = last and block.column >= 0 and last == replace(block, column=block.column - 1)
        if beside:
            rows[-1].append(block)
        else:
            rows.append([block])
    names: list[str] = []
    for row in rows:
        if len(row) > 2:  # noqa: PLR2004 - two are named as soon as told by their ends
            names.append(f"{row[0].name} to {row[-1].name}")
        else:
            names += [block.name for block in row]
    return join_words(names)


def _listed(names: Sequence[str]) -> str:
    """List the first of some names, and count the rest."""
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[: _NAMED - 1])} and {len(names) - _NAMED + 1} more"


def _corner_word(corner: FloatArray, corners: FloatArray) -> str:
    """Word a corner by where it lies in the box round all of them."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    across, down = (corner - low) / np.maximum(high - low, 1e-9)
    words = [
        "top" if down < _THIRDS[0] else "bottom" if down > _THIRDS[1] else "",
        "left" if across < _THIRDS[0] else "right" if across > _THIRDS[1] else "",
    ]
    return " ".join([*filter(None, words), "corner"]) if any(words) else ""


def _corners(polygon: Polygon) -> list[tuple[str, tuple[float, float]]]:
    """List the corners of a polygon, each with its word."""
    ring = np.array(polygon.exterior.coords)[:-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, (before * after).sum(axis=1))))
    corners = ring[turn > _TURNED]
    return [(_corner_word(c, corners), (float(c[0]), float(c[1]))) for c in corners]


def _layer(number: int, count: int) -> str:
    """Tell one border from others, as in "inner "."""
    layers = {1: "inner ", count: "outer "} if count > 1 else {1: ""}
    if count == 3:  # noqa: PLR2004 - one lies in the middle
        layers[2] = "middle "
    return layers.get(number, f"number {number} ")


def _border_words(place: Place, count: int) -> str:
    """Name a border; of several, by how far out it lies."""
    layer = _layer(place.number, count)
    if not place.side:
        return f"the {layer}border"
    if place.end:
        return f"the {place.side} {place.end} corner square of the {layer}border"
    return f"the {layer}{place.side} border"


def _sashing_words(place: Place) -> str:
    """Name a strip by the block or row where it lies, and the one beyond it."""
    of_row = place.column < 0
    if place.between:
        return f"the sashing between {'rows ' * of_row}{place.at} and {place.beyond}"
    return f"the sashing {BESIDE[place.side]} {'row ' * of_row}{place.at}"
