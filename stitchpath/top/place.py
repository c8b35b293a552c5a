"""Where things lie on a top, and what a line belongs to: values to compare and to count with.

Words are made from them once, last, by `top/place_names.py`; nothing reads a place out of words.
"""

from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

__all__ = ["BESIDE", "NOTHING", "WITHIN", "Part", "Place", "Side", "Subject", "row_letter"]

Part: TypeAlias = Literal[
    "block", "sashing", "cornerstone", "setting", "border", "top", "square", "patch"
]
WITHIN: tuple[Part, ...] = ("block", "square")
"""Units within which patches are named; all others are one patch."""
Side: TypeAlias = Literal["", "left", "right", "top", "bottom"]

_LETTERS = 26
BESIDE: dict[Side, str] = {
    "left": "left of",
    "right": "right of",
    "top": "above",
    "bottom": "below",
}
"""How a strip lies at the block, or the row, that it is named by."""


def row_letter(index: int) -> str:
    """Name a row, counted from 0: A to Z, then AA, AB and so on.

    Examples
    --------
    >>> row_letter(0), row_letter(27)
    ('A', 'AB')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, _LETTERS)
        letters = chr(ord("A") + rest) + letters
    return letters


@dataclass(frozen=True, slots=True)
class Place:
    """A unit of the top: a block, a strip of sashing, a cornerstone, a side of a border; or all.

    A drawn top has squares of the map instead, or where it has blocks, patches beside them.

    Attributes
    ----------
    part
        What kind of unit it is.
    row, column
        From 0, -1 where it has none: of a block; of the block, or the row, that sashing lies at; of
        the crossing where a cornerstone lies.
    side
        The side of that block or row on which sashing lies; the side of the top of a border.
    end
        The end of that side at which the corner square of a border lies.
    number
        From 1, 0 where it has none: of blocks laid freely, setting triangles, cornerstones of a top
        on point, and borders from the inside out.
    between
        Whether sashing has a block, or a row, on its other side too.
    inside
        Of a block within a block that is made of blocks: which one it is, from 1 in reading order;
        once for each block round it.
    """

    part: Part
    row: int = -1
    column: int = -1
    side: Side = ""
    end: Side = ""
    number: int = 0
    between: bool = False
    inside: tuple[int, ...] = ()

    @property
    def name(self) -> str:  # noqa: PLR0911 - one for each kind
        """What a design calls it.

        Examples
        --------
        >>> Place("block", 0, 1).name, Place("sashing", 0, 0, "right", between=True).name
        ('A2', 'sashing A1-A2')
        >>> Place("block", 0, 0, inside=(2,)).name
        'A1.2'
        """
        if self.part == "top":
            return "the top"
        if self.part == "border":
            return " ".join(filter(None, ("border", f"{self.number}", self.side, self.end)))
        if self.part == "square":
            return f"square {self.at}"
        if self.part == "block":
            laid = f"P{self.number}" if self.number else self.at
            return ".".join([laid, *map(str, self.inside)])
        if self.number:
            return f"{self.part} {self.number}"
        if self.part == "cornerstone":
            return f"cornerstone {self.row}.{self.column}"
        where = f"{self.at}-{self.beyond}" if self.between else f"{BESIDE[self.side]} {self.at}"
        return f"sashing {where}"

    def lies_in(self, other: "Place") -> bool:
        """Tell whether it is another place, or a block within it."""
        depth = len(other.inside)
        return self == other or (
            self.inside[:depth] == other.inside and replace(self, inside=other.inside) == other
        )

    @property
    def at(self) -> str:
        """The block or the row where it lies, as in "A2" or "A"."""
        return _cell(self.row, self.column)

    @property
    def beyond(self) -> str:
        """The block or the row on the other side of sashing."""
        if self.side == "right":
            return _cell(self.row, self.column + 1)
        return _cell(self.row + 1, self.column)


def _cell(row: int, column: int) -> str:
    return row_letter(row) + (f"{column + 1}" if column >= 0 else "")


@dataclass(frozen=True, slots=True)
class Subject:
    """What a line belongs to: lines of one kind and thread with the same subject belong together.

    Attributes
    ----------
    seam
        The seam in whose ditch it lies, by number; else -1.
    pieces
        The appliqué pieces that it goes through or round, by number: several where echoes merge.
    motif
        The pieced motif along whose edge it runs, by number; else -1.
    place
        The unit that is filled, or on whose ground a pieced motif is echoed.
    patch
        The first patch of ground that is filled, by number; else -1.
    fill
        The fill of the design that it is part of, from 0; else -1.
    around
        Whether only the ground round appliqué is filled there.
    echo
        Which echo it is, from 1, the inmost; 0 where it is none.
    echoes
        How many were asked for.
    """

    seam: int = -1
    pieces: tuple[int, ...] = ()
    motif: int = -1
    place: Place | None = None
    patch: int = -1
    fill: int = -1
    around: bool = False
    echo: int = 0
    echoes: int = 0


NOTHING = Subject()
"""What a line belongs to that is drawn by itself."""
