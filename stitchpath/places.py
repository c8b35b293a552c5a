"""Places on a top in a quilter's words: units, corners, sides."""

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

__all__ = ["Places", "clock", "heading", "join_words", "side"]

_NEAR = 0.02  # mm: corners so near to each other are one
_TURNED = 5.0  # degrees: an outline that turns less has no corner there
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

    def patch(self, patch: int) -> str:
        """Name a patch within its block: by its name, or by its fabric where that tells more."""
        found = self.top.patches[patch]
        return found.name if self._telling(found) else found.fabric

    def edge(self, point: FloatArray) -> str:
        """Name the edge of the top that lies nearest to a point.

        Examples: "the left edge", "the top left corner of the top".
        """
        width, height = self.top.width, self.top.height
        away = {
            "left": abs(float(point[0])),
            "right": abs(width - float(point[0])),
            "top": abs(float(point[1])),
            "bottom": abs(height - float(point[1])),
        }
        nearest = sorted(away, key=lambda name: (round(away[name], 2), name))
        near = [name for name in ("top", "bottom", "left", "right") if away[name] < _NEAR]
        if len(near) > 1:
            return f"the {' '.join(near)} corner of the top"
        return f"the {nearest[0]} edge"

    def beside(self, point: FloatArray) -> str:
        """Name what lies along the edge at a point, as in "between A1 and B1"."""
        found = self.meeting(point)
        units = list(dict.fromkeys(self.unit(i) for i in found))
        if len(units) > 1:
            return f"between {join_words(units)}"
        names = list(dict.fromkeys(self.patch(i) for i in found))
        if len(names) > 1:
            return f"between {join_words(names)} in {units[0]}"
        return f"at {units[0]}" if units else ""

    def meeting(self, point: FloatArray) -> list[int]:
        """List the patches that meet at a point, by index."""
        found = self._tree.query(shapely.Point(point), predicate="dwithin", distance=_NEAR)
        return sorted(int(i) for i in found)

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
            Such as "the left edge", "the top left corner of A2", "the bottom tip of the sail".
        """
        if self._on_edge(point):
            return self.edge(point)
        found = self.meeting(point)
        places = dict.fromkeys(self.top.patches[i].place for i in found)
        blocks = [self._blocks[p] for p in places if p in self._blocks]
        blocks.sort(key=lambda block: block.place != near)
        for block in blocks:
            spot = self._spot(block, point)
            if spot:
                return spot
        return self._patch_corner(point, found, near) or self._measured(point, blocks)

    def _spot(self, block: LaidBlock, point: FloatArray) -> str:
        """Name a corner of a block, the middle of a side, or its centre."""
        square = np.array(self._square(block).exterior.coords)[:4]
        middle = square.mean(axis=0)
        for corner in square:
            if math.dist(corner, point) < _NEAR:
                return f"the {_corner_word(corner - middle, square - middle)} of {block.place}"
        for k in range(4):
            half = (square[k] + square[(k + 1) % 4]) / 2
            if math.dist(half, point) < _NEAR:
                where = side(half - middle).replace(" side", "")
                return f"the middle of the {where} side of {block.place}"
        return f"the centre of {block.place}" if math.dist(middle, point) < _NEAR else ""

    def _patch_corner(self, point: FloatArray, found: Sequence[int], near: str) -> str:
        """Name the corner of a patch, of the one that is most telling."""
        best: tuple[tuple[float, ...], str] | None = None
        for i in found:
            patch = self.top.patches[i]
            word = _corner_of(patch.polygon, point)
            if not word or (patch.part == "block" and not self._telling(patch)):
                continue
            if patch.part == "block":
                name = patch.name if patch.place == near else f"{patch.name} of {patch.place}"
                name = f"the {name}"
            else:
                name = self.unit(i)
            order = (
                float(_RANK[patch.part]),
                float(patch.place != near),
                float(any(c.isdigit() for c in patch.name)),
                patch.polygon.area,
            )
            if best is None or order < best[0]:
                best = order, f"the {word} of {name}"
        return best[1] if best else ""

    def _measured(self, point: FloatArray, blocks: Sequence[LaidBlock]) -> str:
        """Name a place by its distance from the top left corner of its block, or of the top."""
        corner, name = np.zeros(2), "the top"
        if blocks:
            square = np.array(self._square(blocks[0]).exterior.coords)
            corner, name = square.min(axis=0), blocks[0].place
        right, down = (format_length(float(v), self.top.unit) for v in point - corner)
        return f"the place {right} across and {down} down {name}"

    def _on_edge(self, point: FloatArray) -> bool:
        return bool(shapely.dwithin(self.top.outline.exterior, shapely.Point(point), _NEAR))

    def _telling(self, patch: LaidPatch) -> bool:
        """Tell whether a patch's name says which it is, as the block lies on the top."""
        if not patch.name or _GRID_NAME.fullmatch(patch.name):
            return False
        block = self._blocks.get(patch.place)
        upright = block is None or np.allclose(block.frame[:, :2], np.eye(2))
        return upright or not _WAY_WORD.search(patch.name)

    @cached_property
    def _blocks(self) -> dict[str, LaidBlock]:
        return {block.place: block for block in self.top.blocks}

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree([patch.polygon for patch in self.top.patches])

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
                words[patch.place] = self._stone_words(patch.polygon)
            elif patch.part == "sashing":
                words[patch.place] = _sashing_words(patch.place)
            elif patch.part == "setting":
                words[patch.place] = f"setting triangle {patch.place.split()[-1]}"
        return words

    def _stone_words(self, stone: Polygon) -> str:
        """Name a cornerstone by the blocks that it touches."""
        near = self._block_tree.query(stone, predicate="dwithin", distance=_NEAR)
        blocks = [self.top.blocks[i] for i in sorted(int(i) for i in near)]
        if not blocks:
            return "a cornerstone"
        middle = np.mean([_middle(self._square(b)) for b in blocks], axis=0)
        way = _middle(stone) - middle
        if len(blocks) > 2 or math.hypot(*way) < _NEAR:  # noqa: PLR2004 - inside: name two across
            return f"the cornerstone between {blocks[0].place} and {blocks[-1].place}"
        names = join_words([b.place for b in blocks])
        where = {0: "right of", 2: "below", 4: "left of", 6: "above"}.get(_eighth(way))
        if where is None:
            where = f"at the {side(way).replace(' side', '')} of"
        return f"the cornerstone {where} {names}"

    @cached_property
    def _block_tree(self) -> shapely.STRtree:
        return shapely.STRtree([self._square(block) for block in self.top.blocks])

    @staticmethod
    def _square(block: LaidBlock) -> Polygon:
        w, h = block.block.width, block.block.height
        return Polygon(block.to_top(np.array([[0.0, 0], [w, 0], [w, h], [0, h]])))


def _middle(shape: Polygon) -> FloatArray:
    return np.array([shape.centroid.x, shape.centroid.y])


def _corner_word(corner: FloatArray, corners: FloatArray) -> str:
    """Word a corner by where it lies in the box round all of them."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    across, down = (corner - low) / np.maximum(high - low, 1e-9)
    third = (0.3, 0.7)  # nearer to the middle than this a corner is neither left nor right
    words = [
        "top" if down < third[0] else "bottom" if down > third[1] else "",
        "left" if across < third[0] else "right" if across > third[1] else "",
    ]
    return " ".join([*filter(None, words), "corner"]) if any(words) else ""


def _corner_of(polygon: Polygon, point: FloatArray) -> str:
    """Word the corner of a polygon at a point; empty where there is none, or two of that word."""
    ring = np.array(polygon.exterior.coords)[:-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, (before * after).sum(axis=1))))
    corners = ring[turn > _TURNED]
    if len(corners) == 0:
        return ""
    words = [_corner_word(corner, corners) for corner in corners]
    mine = [w for c, w in zip(corners, words, strict=True) if math.dist(c, point) < _NEAR]
    return mine[0] if len(mine) == 1 and words.count(mine[0]) == 1 else ""


def _border_words(place: str, count: int) -> str:
    _, number, *sides = place.split()
    where = " ".join(sides)
    if len(sides) > 1:
        where += " corner square of the"
    layer = {1: "" if count == 1 else "inner ", count: "outer "}.get(int(number))
    if count == 1:
        layer = ""
    if layer is None:
        return f"the {where} border {number}"
    return f"the {where} {layer}border" if len(sides) > 1 else f"the {layer}{where} border"


def _sashing_words(place: str) -> str:
    rest = place.removeprefix("sashing ")
    if "-" in rest:
        one, other = rest.split("-")
        rows = "" if one[-1].isdigit() else "rows "
        return f"the sashing between {rows}{one} and {other}"
    if rest.split()[-1].isalpha():
        return f"the sashing {rest.rsplit(' ', 1)[0]} row {rest.split()[-1]}"
    return f"the sashing {rest}"
