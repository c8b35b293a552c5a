"""Batting and backing to cut, and spools to buy."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from stitchpath.base.errors import StitchpathError
from stitchpath.design.model import BackingAsked
from stitchpath.thread.consumption import ThreadUse
from stitchpath.thread.lockstitch import Stitching
from stitchpath.thread.sizes import ThreadKind

__all__ = [
    "Backing",
    "Cut",
    "Purchase",
    "Way",
    "cut_backing",
    "cut_batting",
    "spools_to_buy",
    "thread_to_buy",
]

Way: TypeAlias = Literal["down", "across"]

_LONGEST = 100_000  # metres of thread that anyone buys at once


@dataclass(frozen=True, slots=True)
class Cut:
    """A rectangle to cut, mm."""

    width: float
    height: float

    @property
    def area(self) -> float:
        """In mm²."""
        return self.width * self.height


@dataclass(frozen=True, slots=True)
class Backing:
    """One way to join a backing from a width of fabric.

    Attributes
    ----------
    way
        Which way the lengths and their seams run: "down" the quilt or "across" it.
    lengths
        How many are cut and joined side by side.
    length
        Of each, mm.
    joined
        How wide they are when joined, mm.
    needed
        How wide they have to be, mm.
    along
        In a frame, the way that lies along its bars.
    """

    way: Way
    lengths: int
    length: float
    joined: float
    needed: float
    along: Way = "across"

    @property
    def fabric(self) -> float:
        """Length of fabric to buy, mm."""
        return self.lengths * self.length

    @property
    def seams(self) -> int:
        """How many to sew."""
        return self.lengths - 1

    @property
    def ridge(self) -> bool:
        """Whether a seam is wound on itself in a frame."""
        return self.seams > 0 and self.way != self.along


def cut_batting(width: float, height: float, margin: float) -> Cut:
    """Top and the margin on every side, mm."""
    return Cut(width + 2 * margin, height + 2 * margin)


def cut_backing(
    width: float,
    height: float,
    margin: float,
    fabric_width: float,
    seam: float = BackingAsked().seam,
    *,
    framed: bool = False,
    sideways: bool = False,
) -> tuple[Backing, Backing]:
    """Join the backing from lengths of fabric, down the quilt or across it.

    Parameters
    ----------
    width, height
        Of the finished top, mm.
    margin
        On every side, mm.
    fabric_width
        What can be used of the width of the fabric, selvedges off, mm.
    seam
        Allowance of each seam that joins two lengths, mm; pressed open, common practice.
    framed
        Whether it is loaded into a frame, top edge first. Seams down the quilt are wound up one on
        the other there, and make a ridge on the roll (common practice).
    sideways
        Whether its left edge is first: then it is the seams across.

    Returns
    -------
    tuple of Backing
        Both ways; in a frame that which makes no ridge first. Else that which takes less fabric, of
        equals that with fewer seams.

    Raises
    ------
    StitchpathError
        If the fabric is too narrow to be joined.
    """
    if not fabric_width > 2 * seam:
        raise StitchpathError(
            f"backing: found fabric {fabric_width:g} mm wide, expected more than its two seam "
            f"allowances, {2 * seam:g} mm"
        )
    cut = cut_batting(width, height, margin)
    along: Way = "down" if sideways else "across"
    ways = [
        replace(_joined("down", cut.width, cut.height, fabric_width, seam), along=along),
        replace(_joined("across", cut.height, cut.width, fabric_width, seam), along=along),
    ]
    ways.sort(key=lambda way: (framed and way.ridge, round(way.fabric, 6), way.lengths))
    return ways[0], ways[1]


def _joined(way: Way, needed: float, length: float, fabric_width: float, seam: float) -> Backing:
    """Lay as many lengths side by side as are needed; each seam takes two allowances."""
    more = (needed - fabric_width) / (fabric_width - 2 * seam)
    lengths = 1 + max(0, math.ceil(more - 1e-9))
    joined = lengths * fabric_width - (lengths - 1) * 2 * seam
    return Backing(way, lengths, length, joined, needed)


@dataclass(frozen=True, slots=True)
class Purchase:
    """What to buy of one thread.

    Attributes
    ----------
    thread
        Its name.
    need
        mm, waste and all.
    spools
        Length of a spool in m, and how many of it, longest first.
    """

    thread: str
    need: int
    spools: tuple[tuple[int, int], ...]


def spools_to_buy(need: float, lengths: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Choose spools and cones for a need: least thread left over, of those the fewest.

    Exact, by the least number of spools for each whole length up to the need.

    Parameters
    ----------
    need
        mm.
    lengths
        What is sold, m.

    Returns
    -------
    tuple of (int, int)
        Length in m and how many of it, longest first.

    Raises
    ------
    StitchpathError
        If no length is given, one is none, or the need is beyond all measure.
    """
    if not lengths or min(lengths) <= 0:
        raise StitchpathError(
            f"spools: found the lengths {list(lengths)}, expected one or more above nothing, in m"
        )
    unit = math.gcd(*lengths)
    sizes = sorted({length // unit for length in lengths}, reverse=True)
    least = math.ceil(round(need, 3) / 1000 / unit)
    if least * unit > _LONGEST:
        raise StitchpathError(
            f"spools: found a need of {least * unit} m, expected at most {_LONGEST} m"
        )
    fewest: list[tuple[float, int]] = [(0, 0)]  # how many spools for a length, and the last one
    for total in range(1, least + sizes[0]):
        options = [(fewest[total - size][0] + 1, size) for size in sizes if size <= total]
        fewest.append(min(options, default=(math.inf, 0)))
    total = next(total for total in range(least, len(fewest)) if fewest[total][0] < math.inf)
    count = dict.fromkeys(sizes, 0)
    while total:
        size = fewest[total][1]
        count[size] += 1
        total -= size
    return tuple((size * unit, n) for size, n in count.items() if n)


def thread_to_buy(uses: Sequence[ThreadUse], stitching: Stitching) -> tuple[Purchase, ...]:
    """Choose spools by thread, the top's and the bobbins'.

    Parameters
    ----------
    uses
        What the plan takes.
    stitching
        Tells which thread is wound on the bobbins, and on what spools each is sold.
    """
    need: dict[ThreadKind, int] = {}
    for kind, length in _needs(uses, stitching):
        need[kind] = need.get(kind, 0) + length
    return tuple(
        Purchase(kind.name, length, spools_to_buy(length, kind.spools))
        for kind, length in need.items()
    )


def _needs(uses: Iterable[ThreadUse], stitching: Stitching) -> Iterable[tuple[ThreadKind, int]]:
    """Thread to have, mm, by thread as it is bought."""
    for use in uses:
        yield stitching.kind_of(use.name), use.top + use.waste_top
        yield stitching.bobbin_of(use.name), use.bobbin + use.waste_bobbin
