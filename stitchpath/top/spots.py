"""Points of a top as a quilter would show them with a finger: edges, corners, crossings, shares.

What a point is called can be found under a needle: a corner, a crossing of seams, a place on a side
by a share of it or by a length that an eye can judge. A place on open ground has no name here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_judged
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.geometry.turns import turn_angle
from stitchpath.top.place import WITHIN, Place, Side
from stitchpath.top.place_names import NUMBERED, WAY_WORD, Places, join_words, side
from stitchpath.top.squares import square_at

__all__ = ["TOP", "Spot", "Spots"]

TOP = "the top"
"""What a spot belongs to that lies on no block."""

_TURNED = 5.0  # degrees: an outline that turns less has no corner there
_THIRDS = (0.3, 0.7)  # a corner between these shares of a shape's width is neither left nor right
_SHARE = 1.0  # mm: so near to a share of a side, an eye takes a place for it
_SHARED = (2, 3, 4, 5, 6, 8)  # into so many parts an eye can part a side
_LEAST = 25.0  # mm: parts of a side that are smaller are measured instead
_BY = 6.0  # mm: a place nearer than that to a side, about 1/4 in, is told as at it
_SIDE = 1.0  # mm: a side is longer than that
_LYING = 0.5  # a side that rises less than this times its width is gone along, not down
_PARTS = {2: "half", 3: "third", 4: "quarter", 5: "fifth", 6: "sixth", 8: "eighth"}
_COUNTS = {2: "two", 3: "three", 4: "four", 5: "five", 7: "seven"}


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the top, by what is there.

    Attributes
    ----------
    what
        Such as "left edge", "bottom right corner", "right side".
    of
        What that belongs to, as in "A2"; "" where it needs no more.
    share
        Where on a side, as in "a third of the way down"; "" where it is no such share.
    measure
        Where on it by a length, as in "2 in from its top".
    """

    what: str
    of: str = ""
    share: str = ""
    measure: str = ""

    def __str__(self) -> str:
        """Say it, as in "the bottom right corner of A2"."""
        of = f" of {self.of}" if self.of else ""
        lead = f"{self.share} " if self.share else ""
        return f"{lead}the {self.what}{of}" + (f", {self.measure}" if self.measure else "")


@dataclass(frozen=True)
class Spots:
    """Names the points of a top; made once for a plan, for it keeps what it has worded.

    Attributes
    ----------
    places
        The names of its units and patches.
    """

    places: Places

    def edge(self, point: FloatArray) -> Spot:
        """Name the edge of the top that lies nearest to a point, or the corner where it lies."""
        sides = self._sides(point)
        if len(sides) > 1:
            return Spot(f"{' '.join(sides)} corner", TOP)
        return Spot(f"{sides[0]} edge")

    def _sides(self, point: FloatArray) -> list[Side]:
        """Tell on which sides of the top a point lies, else the nearest."""
        left, top, right, bottom = self.places.top.outline.bounds
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
        found = self.places.meeting(point)
        units = list(dict.fromkeys(self._unit(i) for i in found))
        if len(units) > 1:
            return edge, f"between {join_words(units)}"
        if not found:
            return edge, ""
        upright = sides[0] in ("left", "right")
        name, (left, top, right, low) = self._around(found[0], point)
        at, begin, end = (float(point[1]), top, low) if upright else (float(point[0]), left, right)
        far = self._far(at - begin, end - begin)
        return edge, f"at {name}, {far} " + ("down" if upright else "across")

    def corner(self, point: FloatArray, near: Place | None = None) -> Spot | None:
        """Name an edge of the top, a corner, the middle of a side or of a block.

        Parameters
        ----------
        point
            mm, shape (2,).
        near
            The block one comes along: it is named first.

        Returns
        -------
        Spot or None
            Such as "the left edge", "the top left corner of A2"; None where there is no corner.
        """
        if shapely.dwithin(self.places.top.outline.exterior, shapely.Point(point), SAME_PLACE):
            return self.edge(point)
        found = self.places.meeting(point)
        for block in self._met(found, near):
            spot = self._of_square(block, point)
            if spot:
                return spot
        return self._patch_corner(point, found, near)

    def along(self, point: FloatArray, near: Place | None = None) -> Spot | None:
        """Name a place on the side of a unit, or where seams meet within a block.

        Parameters
        ----------
        point
            mm, shape (2,).
        near
            The block one comes along: it is named first.

        Returns
        -------
        Spot or None
            Such as "a third of the way down the left side of A1"; None on the open ground of a
            patch or within a seam of a block.
        """
        found = self.places.meeting(point)
        blocks = self._met(found, near)
        for block in blocks:
            spot = self._on_side(self.places.square(block), self.places.block(block), point)
            if spot:
                return spot
        patches = self.places.top.patches
        others = [i for i in found if patches[i].place not in self._blocks]
        for i in sorted(others, key=self.places.rank):
            spot = self._on_side(self._straightened(i), self._unit(i), point)
            if spot:
                return spot
        return self._crossing(blocks, found, point)

    def _met(self, found: Sequence[int], near: Place | None) -> list[Place]:
        """List the blocks of some patches, the one that one comes along first."""
        met = dict.fromkeys(self.places.top.patches[i].place for i in found)
        return sorted((p for p in met if p in self._blocks), key=lambda p: p != near)

    def _of_square(self, block: Place, point: FloatArray) -> Spot | None:
        """Name a corner of a block, the middle of a side, or its centre."""
        square = np.array(self.places.square(block).exterior.coords)[:4]
        middle, name = square.mean(axis=0), self.places.block(block)
        for corner in square:
            if math.dist(corner, point) < SAME_PLACE:
                return Spot(_corner_word(corner, square), name)
        for k in range(4):
            half = (square[k] + square[(k + 1) % 4]) / 2
            if math.dist(half, point) < SAME_PLACE:
                return Spot("middle", f"the {side(half - middle)} of {name}")
        return Spot("centre", name) if math.dist(middle, point) < SAME_PLACE else None

    def _patch_corner(
        self, point: FloatArray, found: Sequence[int], near: Place | None
    ) -> Spot | None:
        """Name the corner of a patch, of the one that is most telling."""
        best: tuple[tuple[float, ...], Spot] | None = None
        for i in found:
            patch = self.places.top.patches[i]
            in_block = patch.part in WITHIN
            if in_block and not self.places.telling(patch):
                continue
            word = self._corner_of(i, point)
            order = (
                self.places.rank(i),
                patch.place != near,
                bool(WAY_WORD.search(patch.name)),
                bool(NUMBERED.search(patch.name)),
                "corner" in patch.name,
                patch.polygon.area,
            )
            if word and (best is None or order < best[0]):
                best = order, Spot(word, self._patch(i, point) if in_block else self.places.unit(i))
        return best[1] if best else None

    def _on_side(self, shape: Polygon, name: str, point: FloatArray) -> Spot | None:
        """Name a place on a side of a unit, by a share of it or by the way from its nearer end."""
        ring = np.array(shape.exterior.coords)
        for a, b in pairwise(ring):
            long = math.dist(a, b)
            away = shapely.LineString([a, b]).distance(shapely.Point(point))
            if long < SAME_PLACE or away > SAME_PLACE:
                continue
            word = _side_word(a, b, shape)
            lying = abs(b[1] - a[1]) < _LYING * abs(b[0] - a[0])
            first = (a if a[0] < b[0] else b) if lying else (a if a[1] < b[1] else b)
            far = math.dist(first, point)
            share = _share(far, long)
            if share:
                return Spot(word, name, f"{share} {'along' if lying else 'down'}")
            near = far <= long / 2
            end = ("left end" if near else "right end") if lying else "top" if near else "bottom"
            measure = f"{format_judged(min(far, long - far), self.places.top.unit)} from its {end}"
            return Spot(word, name, measure=measure)
        return None

    def _crossing(
        self, blocks: Sequence[Place], found: Sequence[int], point: FloatArray
    ) -> Spot | None:
        """Name a place where seams meet within a block, by how far across and down it lies."""
        if len(found) < 3 or not blocks:  # noqa: PLR2004 - two patches have a seam alone
            return None
        left, top, right, low = self.places.box(blocks[0])
        x, y = float(point[0]), float(point[1])
        across = self._far(x - left, right - left)
        down = self._far(y - top, low - top)
        return Spot(f"crossing {across} across and {down} down {self.places.block(blocks[0])}")

    def part_of(self, point: FloatArray, patch: int) -> str:
        """Tell in which part of a patch's unit a place lies, as in "top left" or "middle"."""
        laid = self.places.top.patches[patch]
        block = laid.place in self._blocks
        box = np.reshape(self.places.box(laid.place) if block else laid.polygon.bounds, (2, 2))
        return _corner_word(point, box).removesuffix(" corner") or "middle"

    def where_in(self, point: FloatArray) -> str:
        """Tell how far across and down its unit a place lies, as a help to find what is there.

        A place by a side of it is told as at that side, for so little is not measured off.
        """
        found = self.places.meeting(point)
        if not found:
            return ""
        name, box = self._around(found[0], point)
        x, y = float(point[0]), float(point[1])
        across = f"{self._far(x - box[0], box[2] - box[0])} across"
        down = f"{self._far(y - box[1], box[3] - box[1])} down"
        upright, lying = self._sides_by(found[0], point, box)
        if upright and lying:
            return f"at the {lying} {upright.removesuffix(' side')} corner of {name}"
        if upright or lying:
            return f"at the {upright or lying} of {name}, {down if upright else across}"
        return f"{across} and {down} {name}"

    def _sides_by(
        self, patch: int, point: FloatArray, box: tuple[float, float, float, float]
    ) -> tuple[str, str]:
        """Word the sides of a unit that a place lies by, upright and lying; "" where by none."""
        place = self.places.top.patches[patch].place
        shape = self.places.top.patches[patch].polygon
        if square_at(self.places.top.squares, point):
            shape = shapely.box(*box)
        elif place in self._blocks:
            shape = self.places.square(place)
        said = []
        for axis, words in ((0, ("left side", "right side")), (1, ("top", "bottom"))):
            away = [abs(point[axis] - box[end]) for end in (axis, axis + 2)]
            near = int(np.argmin(away))
            along = point + np.linspace(-_SIDE, _SIDE, 5)[:, None] * np.eye(2)[1 - axis]
            along[:, axis] = box[axis + 2 * near]  # a tip on the box is no side
            many = shapely.dwithin(shape.exterior, shapely.points(along), SAME_PLACE).sum()
            on = many > 1
            said.append(words[near] if on and away[near] < _BY else "")
        return said[0], said[1]

    def _around(
        self, patch: int, point: FloatArray
    ) -> tuple[str, tuple[float, float, float, float]]:
        """Name what one measures from at a place: a block, a square of the map, or the patch."""
        square = square_at(self.places.top.squares, point)
        place = square.place if square else self.places.top.patches[patch].place
        if square or place in self._blocks:
            return place.name if square else self.places.block(place), self.places.box(place)
        return self.places.unit(patch), self.places.top.patches[patch].polygon.bounds

    def _unit(self, patch: int) -> str:
        """Name the unit of a patch, or the patch itself where that lies in a square of the map."""
        in_square = self.places.top.patches[patch].part == "square"
        return self.places.patch_in(patch) if in_square else self.places.unit(patch)

    def _patch(self, patch: int, point: FloatArray) -> str:
        """Name a patch with its block, or with the square of the map where a place on it lies."""
        square = square_at(self.places.top.squares, point)
        if square is None:
            return self.places.patch_in(patch)
        return f'"{self.places.patch(patch)}" in {square.place.name}'

    def seam_at(self, point: FloatArray) -> str:
        """Name the seam in which a point lies, as in '"sand" and "sea" in A1'; "" where in none."""
        found = self.places.meeting(point)
        if len(found) != 2:  # noqa: PLR2004 - one on either side
            return ""
        return self.places.two(*found)

    def _far(self, far: float, of: float) -> str:
        """Tell how far along something a place is: a share, or a length an eye can judge."""
        return _share(far, of) or format_judged(far, self.places.top.unit)

    def _corner_of(self, patch: int, point: FloatArray) -> str:
        """Word the corner of a patch at a point; empty where there is none, or two of that word."""
        known = self._corners.get(patch)
        if known is None:
            known = self._corners[patch] = _corners(self.places.top.patches[patch].polygon)
        mine = [word for word, corner in known if math.dist(corner, point) < SAME_PLACE]
        words = [word for word, _ in known]
        return mine[0] if len(mine) == 1 and words.count(mine[0]) == 1 else ""

    @cached_property
    def _corners(self) -> dict[int, list[tuple[str, tuple[float, float]]]]:
        """Corners in words, of the patches asked for so far."""
        return {}

    @cached_property
    def _shapes(self) -> dict[int, Polygon]:
        """Shapes with nothing but their corners, of the patches asked for so far."""
        return {}

    def _straightened(self, patch: int) -> Polygon:
        """Give the shape of a patch with nothing but its corners."""
        if patch not in self._shapes:
            ring = self.places.top.patches[patch].polygon.exterior.simplify(SAME_PLACE)
            self._shapes[patch] = Polygon(ring.coords)
        return self._shapes[patch]

    @cached_property
    def _blocks(self) -> frozenset[Place]:
        return frozenset(block.place for block in self.places.top.blocks)


def _share(far: float, of: float) -> str:
    """Word a share of a length, as in "a third of the way"; "" where it is none."""
    for parts in _SHARED:
        if of / parts < (_LEAST if parts > 2 else 0):  # noqa: PLR2004 - halves are seen
            break
        count = round(far / of * parts)
        if 0 < count < parts and abs(far - of * count / parts) < min(_SHARE, of / 100):
            share = Fraction(count, parts)
            if share == Fraction(1, 2):
                return "halfway"
            part = _PARTS[share.denominator]
            if share.numerator == 1:
                return f"{'an' if part[0] == 'e' else 'a'} {part} of the way"
            return f"{_COUNTS[share.numerator]} {part}s of the way"
    return ""


def _side_word(a: FloatArray, b: FloatArray, shape: Polygon) -> str:
    """Word a side of a shape by the way it faces."""
    way = np.array([b[1] - a[1], a[0] - b[0]])
    middle = (a + b) / 2
    inside = shape.contains(shapely.Point(*(middle + way / np.hypot(*way) * 10 * SAME_PLACE)))
    return side(-way if inside else way)


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
    corners = ring[np.abs(turn_angle(before, after)) > _TURNED]
    return [(_corner_word(c, corners), (float(c[0]), float(c[1]))) for c in corners]
