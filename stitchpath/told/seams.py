"""What a way along seams passes, in words: a side of a block, two patches, a row of blocks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.top.layout import LaidPatch
from stitchpath.top.place import Place, row_letter
from stitchpath.top.place_names import Places, join_words, side
from stitchpath.top.squares import square_at

__all__ = ["Bit", "Course", "along", "blocks_beside"]

_MANY = 3  # blocks told one by one
_STRAIGHT = 1.002  # times the distance of its ends: longer is a curve
_LEVEL = 0.02  # mm off is level


@dataclass(frozen=True, slots=True)
class Bit:
    """A piece of seam on the way.

    Attributes
    ----------
    left, right
        Patches on either side as one goes along it, by index.
    start, stop
        Its ends, mm.
    length
        mm.
    """

    left: int
    right: int
    start: FloatArray
    stop: FloatArray
    length: float


@dataclass(frozen=True, slots=True)
class Course:
    """What one goes along, in words; and if the words end with a side, which side of what."""

    text: str
    side: str = ""
    of: str = ""


def _by_side(way: FloatArray, of: str, past: str = "") -> Course:
    """Go along a side of something, and past what stands beside."""
    word = side(way)
    text = f"along the {word} of {of}{past}"
    return Course(text) if past else Course(text, word, of)


def along(places: Places, bits: Sequence[Bit]) -> Course:
    """Word what one goes along, as shortly as it can be told.

    Parameters
    ----------
    places
        Of the top.
    bits
        In the order of stitching, one straight on from the other.

    Returns
    -------
    Course
        Such as "along the left side of A2", "between sail and mast in A5", "along the bottom of
        the sashing above row A, past A2 to A5 (4 blocks)".
    """
    patches = places.top.patches
    lefts = list(dict.fromkeys(bit.left for bit in bits))
    rights = list(dict.fromkeys(bit.right for bit in bits))
    left_units = {patches[i].place for i in lefts}
    right_units = {patches[i].place for i in rights}
    sides = _sides(bits)
    if patches[lefts[0]].part == "square":
        return _by_patches(places, bits, (lefts, rights), sides)
    if len(left_units | right_units) == 1:
        return _within(places, bits, lefts, rights, sides)
    single = [
        (patch, toward)
        for units, patch, toward in (
            (left_units, lefts[0], sides[1]),  # a unit on the left has the seam on its right
            (right_units, rights[0], sides[0]),
        )
        if len(units) == 1
    ]
    if len(single) == 2:  # noqa: PLR2004 - one unit on either side
        return _between(places, lefts[0], rights[0], sides)
    if single:
        patch, toward = single[0]
        here = patches[patch].place
        passed = [b for b in blocks_beside(places, bits) if b != here]
        past = f", past {_listed(places, passed)}" if passed else ""
        return _by_side(toward, places.unit(patch), past)
    return _past_many(places, bits, sides)


def _by_patches(
    places: Places,
    bits: Sequence[Bit],
    beside: tuple[Sequence[int], Sequence[int]],
    sides: tuple[FloatArray, FloatArray],
) -> Course:
    """Word a way on a top without blocks: by its patches, and the squares of its map."""
    lefts, rights = beside
    if len(lefts) == len(rights) == 1:
        one, other = places.patch(lefts[0], the=True), places.patch(rights[0], the=True)
        return Course(f"between {one} and {other}{_squares(places, bits)}")
    if len(lefts) == 1 or len(rights) == 1:
        patch, toward = (lefts[0], sides[1]) if len(lefts) == 1 else (rights[0], sides[0])
        return _by_side(toward, f"{places.patch(patch, the=True)}{_squares(places, bits)}")
    first = [places.patch(side[0], the=True) for side in beside]
    last = [places.patch(side[-1], the=True) for side in beside]
    text = f"from between {join_words(first)} on to between {join_words(last)}"
    return Course(text + _squares(places, bits))


def _squares(places: Places, bits: Sequence[Bit]) -> str:
    """Name the squares of the map that a way comes through, the first and the last."""
    tips = [(bits[0].start + bits[0].stop) / 2, (bits[-1].start + bits[-1].stop) / 2]
    found = [square_at(places.top.squares, tip) for tip in tips]
    names = list(dict.fromkeys(square.place.at for square in found if square))
    if not names:
        return ""
    return f" in {names[0]}" if len(names) == 1 else f", {names[0]} to {names[1]}"


def blocks_beside(places: Places, bits: Sequence[Bit]) -> list[Place]:
    """List the blocks on either side, in the order in which one comes by."""
    both = (places.top.patches[i] for bit in bits for i in (bit.left, bit.right))
    return list(dict.fromkeys(p.place for p in both if p.part == "block"))


def _sides(bits: Sequence[Bit]) -> tuple[FloatArray, FloatArray]:
    """Tell which way left and right lie on the quilt."""
    x, y = bits[-1].stop - bits[0].start
    if x == y == 0:
        x, y = bits[0].stop - bits[0].start
    return np.array([y, -x]), np.array([-y, x])


def _within(
    places: Places,
    bits: Sequence[Bit],
    lefts: Sequence[int],
    rights: Sequence[int],
    sides: tuple[FloatArray, FloatArray],
) -> Course:
    """Word a way within one unit."""
    name = places.unit(lefts[0])
    if len(lefts) == len(rights) == 1:
        if places.patch(lefts[0]) != places.patch(rights[0]):
            return Course(f"between {places.two(lefts[0], rights[0])}")
    elif len(lefts) == 1:
        return _by_side(sides[1], places.patch_in(lefts[0]))
    elif len(rights) == 1:
        return _by_side(sides[0], places.patch_in(rights[0]))
    here = places.top.patches[lefts[0]].place
    return Course(f"through {name}{_how_far(places, bits, [here])}")


def _between(places: Places, left: int, right: int, sides: tuple[FloatArray, FloatArray]) -> Course:
    """Word a way with one unit on either side: told by the side of the smaller kind of unit."""
    patches = places.top.patches
    order = [(places.rank(i), patches[i].polygon.area) for i in (left, right)]
    if order[0][0] == order[1][0] and patches[left].part in ("block", "border"):
        return Course(f"between {places.unit(left)} and {places.unit(right)}")
    if order[0] <= order[1]:
        return _by_side(sides[1], places.unit(left))
    return _by_side(sides[0], places.unit(right))


def _past_many(places: Places, bits: Sequence[Bit], sides: tuple[FloatArray, FloatArray]) -> Course:
    """Word a way past several blocks, or through them."""
    patches = places.top.patches
    left, right = (
        list(dict.fromkeys(p.place for p in found if p.part == "block"))
        for found in zip(*((patches[b.left], patches[b.right]) for b in bits), strict=True)
    )
    if not left and not right:
        longest = max(bits, key=lambda bit: bit.length)
        return Course(f"between {places.unit(longest.left)} and {places.unit(longest.right)}")
    if not left or not right:
        beside = sum(
            b.length for b in bits if "block" in (patches[b.left].part, patches[b.right].part)
        )
        if beside < sum(b.length for b in bits) / 2:  # most of it lies along sashing or a border
            return Course(f"past {_listed(places, left or right)}")
        return (
            _by_side(sides[1], _listed(places, left))
            if left
            else _by_side(sides[0], _listed(places, right))
        )
    if not any(_one_block(patches[b.left], patches[b.right]) for b in bits):
        return _between_lines(places, left, right)
    blocks = blocks_beside(places, bits)
    return Course(f"through {_listed(places, blocks)}{_how_far(places, bits, blocks)}")


def _one_block(left: LaidPatch, right: LaidPatch) -> bool:
    return left.part == right.part == "block" and left.place == right.place


def _between_lines(places: Places, left: Sequence[Place], right: Sequence[Place]) -> Course:
    """Word a way between two rows or columns of blocks."""
    one, other = ({place.row for place in some} for some in (left, right))
    if len(one) == len(other) == 1 and one != other and -1 not in one | other:
        names = [row_letter(row) for row in (*one, *other)]
        return Course(f"between rows {names[0]} and {names[1]}")
    one, other = ({place.column for place in some} for some in (left, right))
    if len(one) == len(other) == 1 and one != other and -1 not in one | other:
        return Course(f"between columns {one.pop() + 1} and {other.pop() + 1}")
    if len(left) == len(right) == 1:
        return Course(f"between {places.block(left[0])} and {places.block(right[0])}")
    beside = f"{_listed(places, left)} on your left and {_listed(places, right)} on your right"
    return Course(f"with {beside}")


def _how_far(places: Places, bits: Sequence[Bit], blocks: Sequence[Place]) -> str:
    """Tell how far from a side of its blocks a level or upright way is."""
    start, stop = bits[0].start, bits[-1].stop
    across, down = np.abs(stop - start)
    bent = sum(bit.length for bit in bits) > _STRAIGHT * np.hypot(across, down)
    if bent or min(across, down) > _LEVEL or not _same_box(places, blocks, upright=across < down):
        return ""
    whose = "its" if len(blocks) == 1 else "their"
    return ", " + places.from_side(blocks[0], start, upright=bool(across < down), whose=whose)


def _same_box(places: Places, blocks: Sequence[Place], *, upright: bool) -> bool:
    """Tell whether all blocks lie in one row, or one column."""
    boxes = np.round([places.box(block) for block in blocks], 2)
    spans = boxes[:, [0, 2]] if upright else boxes[:, [1, 3]]
    return bool(np.all(spans == spans[0]))


def _listed(places: Places, blocks: Sequence[Place]) -> str:
    if len(blocks) <= _MANY:
        return join_words([places.block(block) for block in blocks])
    return f"{places.block(blocks[0])} to {places.block(blocks[-1])} ({len(blocks)} blocks)"
