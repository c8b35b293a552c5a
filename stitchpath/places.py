"""Places on a top in a quilter's words: units, corners, edges, directions."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.layout import LaidBlock, LaidPatch
from stitchpath.top import Top
from stitchpath.typing import FloatArray
from stitchpath.units import format_length

__all__ = ["Places", "clock", "heading", "join_words", "plain_name", "side"]

_NEAR = 0.02  # mm: corners so near to each other are one
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
_GRID_NAME = re.compile(r"r\d+c\d+[ab]?")
_WAY_WORD = re.compile(r"\b(top|bottom|left|right|upper|lower)\b")
_NUMBERED = re.compile(r"(\d+|\b[a-z])$")
_RANK = {"block": 0, "cornerstone": 1, "sashing": 2, "setting": 3, "border": 4}


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


def plain_name(name: str) -> bool:
    """Tell whether a patch has a name of its own, and not one by row and column."""
    return bool(name) and not _GRID_NAME.fullmatch(name)


def join_words(words: Sequence[str]) -> str:
    """Join words with commas and an "and"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


@dataclass(frozen=True)
class Places:
    """Names the places of a top.

    Attributes
    ----------
    top
        The finished top.
    """

    top: Top

    def unit(self, patch: int) -> str:
        """Name the unit that a patch belongs to, as in "A2", "the sashing between A1 and A2"."""
        found = self.top.patches[patch]
        return found.place if found.part == "block" else self._units[found.place]

    def rank(self, patch: int) -> int:
        """Tell how readily one would name a patch's unit, 0 a block first."""
        return _RANK[self.top.patches[patch].part]

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
        found = self._tree.query(shapely.Point(point), predicate="dwithin", distance=_NEAR)
        return sorted(int(i) for i in found)

    def on_top(self, point: FloatArray) -> bool:
        """Tell whether a point lies on the top, its edge included, rather than in the margin."""
        return bool(shapely.dwithin(self.top.outline, shapely.Point(point), _NEAR))

    def edge(self, point: FloatArray) -> str:
        """Name the edge of the top that lies nearest to a point, as in "the left edge"."""
        left, top, right, bottom = self.top.outline.bounds
        x, y = float(point[0]), float(point[1])
        away = {
            "top": abs(y - top),
            "bottom": abs(bottom - y),
            "left": abs(x - left),
            "right": abs(right - x),
        }
        near = [name for name, distance in away.items() if distance < _NEAR]
        if len(near) > 1:
            return f"the {' '.join(near)} corner of the top"
        return f"the {min(away, key=lambda name: round(away[name], 2))} edge"

    def door(self, point: FloatArray) -> tuple[str, str]:
        """Name a place on the edge: the edge, and where on it, as in "between A1 and B1"."""
        edge = self.edge(point)
        if "corner" in edge:
            return edge, ""
        found = self.meeting(point)
        units = list(dict.fromkeys(self.unit(i) for i in found))
        if len(units) > 1:
            return edge, f"between {join_words(units)}"
        if not found or self.top.patches[found[0]].part != "block":
            return edge, ""
        left, top, _, _ = self.box(units[0])
        upright = edge in ("the left edge", "the right edge")
        far = float(point[1]) - top if upright else float(point[0]) - left
        down = "down" if upright else "from its left side"
        return edge, f"at {units[0]}, {format_length(far, self.top.unit)} {down}"

    def at(self, point: FloatArray, near: str = "") -> str:
        """Name a place on the top.

        Parameters
        ----------
        point
            mm, shape (2,).
        near
            Place of the block one comes along, such as "A2": it is named first, and not again
            where the place lies within it.

        Returns
        -------
        str
            Such as "the left edge", "the top left corner of A2", "the bottom corner of the sail".
        """
        at = shapely.Point(point)
        if shapely.dwithin(self.top.outline.exterior, at, _NEAR):
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

    def _spot(self, block: str, point: FloatArray) -> str:
        """Name a corner of a block, the middle of a side, or its centre."""
        square = np.array(self._square(block).exterior.coords)[:4]
        middle = square.mean(axis=0)
        for corner in square:
            if math.dist(corner, point) < _NEAR:
                return f"the {_corner_word(corner, square)} of {block}"
        for k in range(4):
            half = (square[k] + square[(k + 1) % 4]) / 2
            if math.dist(half, point) < _NEAR:
                return f"the middle of the {side(half - middle)} of {block}"
        return f"the centre of {block}" if math.dist(middle, point) < _NEAR else ""

    def _patch_corner(self, point: FloatArray, found: Sequence[int], near: str) -> str:
        """Name the corner of a patch, of the one that is most telling."""
        best: tuple[tuple[float, ...], str] | None = None
        for i in found:
            patch = self.top.patches[i]
            in_block = patch.part == "block"
            if in_block and not self._telling(patch):
                continue
            word = self._corner_of(i, point)
            order = (
                _RANK[patch.part],
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
                    name += "" if patch.place == near else f" in {patch.place}"
                best = order, f"the {word} of {name}"
        return best[1] if best else ""

    def piece(self, label: str) -> str:
        """Name an appliqué piece by its label: "the starfish on A2", but "star 1 on A2".

        What is no piece's label is given back as it is.
        """
        known = any(
            p.label == label and not _NUMBERED.search(p.asked.name) for p in self.top.pieces
        )
        return f"the {label}" if known else label

    def _piece_edge(self, at: shapely.Point) -> str:
        """Name the outline of an appliqué piece, inner or outer where it has holes."""
        for piece in self.top.pieces:
            if not shapely.dwithin(piece.shape.boundary, at, 10 * _NEAR):
                continue
            holes = [hole for part in piece.shape.geoms for hole in part.interiors]
            inner = any(shapely.dwithin(hole, at, 10 * _NEAR) for hole in holes)
            which = ("inner " if inner else "outer ") if holes else ""
            return f"the {which}edge of {self.piece(piece.label)}"
        return ""

    def _measured(self, point: FloatArray, blocks: Sequence[str]) -> str:
        """Name a place by its distance from the top left of its block, or of the top."""
        name = blocks[0] if blocks else "the top"
        box = self.box(blocks[0]) if blocks else self.top.outline.bounds
        x, y = float(point[0]), float(point[1])
        right, down = (format_length(v, self.top.unit) for v in (x - box[0], y - box[1]))
        near = [abs(v - edge) < _NEAR for v, edge in zip((x, y, x, y), box, strict=True)]
        if near[0] or near[2]:
            return f"the {'left' if near[0] else 'right'} side of {name}, {down} from its top"
        if near[1] or near[3]:
            return f"the {'top' if near[1] else 'bottom'} of {name}, {right} from its left side"
        return f"a place {right} from the left and {down} from the top of {name}"

    def _telling(self, patch: LaidPatch) -> bool:
        """Tell whether a patch's name says which it is, as the block lies on the top."""
        if not plain_name(patch.name):
            return False
        return patch.place not in self._turned or not _WAY_WORD.search(patch.name)

    def _corner_of(self, patch: int, point: FloatArray) -> str:
        """Word the corner of a patch at a point; empty where there is none, or two of that word."""
        known = self._corners.get(patch)
        if known is None:
            known = self._corners[patch] = _corners(self.top.patches[patch].polygon)
        mine = [word for word, corner in known if math.dist(corner, point) < _NEAR]
        words = [word for word, _ in known]
        return mine[0] if len(mine) == 1 and words.count(mine[0]) == 1 else ""

    @cached_property
    def _corners(self) -> dict[int, list[tuple[str, tuple[float, float]]]]:
        """Corners in words, of the patches asked for so far."""
        return {}

    @cached_property
    def _turned(self) -> frozenset[str]:
        """Blocks that lie turned or mirrored."""
        upright = np.eye(2)
        return frozenset(
            b.place for b in self.top.blocks if not np.allclose(b.frame[:, :2], upright)
        )

    @cached_property
    def _blocks(self) -> dict[str, LaidBlock]:
        return {block.place: block for block in self.top.blocks}

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree([patch.polygon for patch in self.top.patches])

    @cached_property
    def _squares(self) -> dict[str, Polygon]:
        return {block.place: Polygon(block.corners) for block in self.top.blocks}

    def _square(self, block: str) -> Polygon:
        return self._squares[block]

    def box(self, block: str) -> tuple[float, float, float, float]:
        """Give the box round a block: left, top, right, bottom, mm."""
        return self._square(block).bounds

    def from_side(self, block: str, point: FloatArray, *, upright: bool, whose: str = "its") -> str:
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
    def _units(self) -> dict[str, str]:
        """Words for every unit that is no block."""
        borders = [p.place for p in self.top.patches if p.part == "border"]
        count = max((int(place.split()[1]) for place in borders), default=0)
        words: dict[str, str] = {}
        for patch in self.top.patches:
            if patch.part == "border":
                words[patch.place] = _border_words(patch.place, count)
            elif patch.part == "cornerstone":
                words[patch.place] = self._beside_blocks("cornerstone", patch.polygon, 0.0)
            elif patch.part == "sashing":
                words[patch.place] = _sashing_words(patch.place)
            elif patch.part == "setting":
                named = self._beside_blocks("setting triangle", patch.polygon, 1.0)
                number = patch.place.split()[-1]
                words[patch.place] = named or f"setting triangle {number}"
        return words

    def _beside_blocks(self, what: str, shape: Polygon, shared: float) -> str:
        """Name a shape by the blocks that it touches, along `shared` mm of edge at least."""
        near = self._block_tree.query(shape, predicate="dwithin", distance=_NEAR)
        around = shape.buffer(_NEAR)
        found = [self.top.blocks[i].place for i in sorted(int(i) for i in near)]
        blocks = [
            b for b in found if self._square(b).boundary.intersection(around).length >= shared
        ]
        if not blocks:
            return f"a {what}" if not shared else ""
        way = _middle(shape) - np.mean([_middle(self._square(b)) for b in blocks], axis=0)
        if len(blocks) > 2 or math.hypot(*way) < _NEAR:  # noqa: PLR2004 - inside: name two across
            return f"the {what} between {blocks[0]} and {blocks[-1]}"
        where = {0: "right of", 2: "below", 4: "left of", 6: "above"}.get(_eighth(way))
        return f"the {what} {where or f'at the {_side_name(way)} of'} {join_words(blocks)}"

    @cached_property
    def _block_tree(self) -> shapely.STRtree:
        return shapely.STRtree([self._square(block.place) for block in self.top.blocks])


def _middle(shape: Polygon) -> FloatArray:
    return np.array([shape.centroid.x, shape.centroid.y])


def _side_name(way: FloatArray) -> str:
    """Word a side so that "of" can follow: "left side", but "upper left"."""
    name = side(way)
    return name.removesuffix(" side") if " " in name.removesuffix(" side") else name


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


def _border_words(place: str, count: int) -> str:
    """Name a border; of several, by how far out it lies."""
    _, number, *sides = place.split()
    layers = {1: "inner ", count: "outer "} if count > 1 else {1: ""}
    if count == 3:  # noqa: PLR2004 - one lies in the middle
        layers[2] = "middle "
    layer = layers.get(int(number), f"number {number} ")
    where = " ".join(sides)
    if len(sides) > 1:
        return f"the {where} corner square of the {layer}border"
    return f"the {layer}{where} border"


def _sashing_words(place: str) -> str:
    rest = place.removeprefix("sashing ")
    if "-" in rest:
        one, other = rest.split("-")
        rows = "" if one[-1].isdigit() else "rows "
        return f"the sashing between {rows}{one} and {other}"
    if rest.split()[-1].isalpha():
        return f"the sashing {rest.rsplit(' ', 1)[0]} row {rest.split()[-1]}"
    return f"the sashing {rest}"
