"""A drawing as read: what shows in it, in the order in which it is painted."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from shapely.geometry.base import BaseGeometry

from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.pathdata import Strand

__all__ = ["Copy", "Drawing", "Frame", "Names", "Shape"]


class Copy(NamedTuple):
    """What a shape is copied with, by `use` or as an inserted block.

    Attributes
    ----------
    of
        What is copied, by its name or its place in the file.
    matrix
        Shape (2, 3): from what is copied to the drawing's units.
    """

    of: str
    matrix: FloatArray


class Frame(NamedTuple):
    """What tells where a block lies, in files that this tool wrote.

    Attributes
    ----------
    of
        The name of the block.
    corners
        Its four corners one after another round it, from its own zero point, shape (4, 2).
    """

    of: str
    corners: FloatArray


class Names(NamedTuple):
    """What an element may be called by, and what it stands in."""

    own: tuple[str, ...]
    parent: "Names | None"


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Something that shows.

    Attributes
    ----------
    kind
        The element or entity, such as "path" or "SPLINE".
    strands
        Its subpaths, in the drawing's units, x to the right and y down.
    names
        Ids, classes and layers: its own and those of the groups it stands in.
    fill, stroke
        Paint as written; None where there is none.
    even_odd
        Whether the even-odd rule fills it; else the nonzero rule.
    width
        Of the stroke, in the drawing's units.
    cap, join, mitre
        How the stroke ends and turns, in shapely's words, and its mitre limit.
    dashed
        Whether the stroke is dashed.
    dashes, shift
        Lengths of its dashes and gaps in turn, in the drawing's units, and where the first begins;
        none where only its look is known, as in DXF.
    clip
        Where it shows, if not everywhere.
    copies
        The copies that it stands in, the outermost first.
    pen
        Matrix, shape (2, 2), of area 1, that a round pen of the stroke is drawn out by; None where
        it stays round.
    faint
        Whether its fill lets most of what is below show.
    """

    kind: str
    strands: tuple[Strand, ...]
    names: Names | None = None
    fill: str | None = None
    even_odd: bool = False
    stroke: str | None = None
    width: float = 0.0
    cap: Literal["flat", "round", "square"] = "flat"
    join: Literal["mitre", "round", "bevel"] = "mitre"
    mitre: float = 4.0
    dashed: bool = False
    clip: BaseGeometry | None = None
    copies: tuple[Copy, ...] = ()
    pen: FloatArray | None = None
    faint: bool = False
    dashes: tuple[float, ...] = ()
    shift: float = 0.0

    def called(self) -> Iterator[str]:
        """Go through its names, its own first."""
        at = self.names
        while at is not None:
            yield from at.own
            at = at.parent


@dataclass(slots=True)
class Drawing:
    """What a file draws.

    Attributes
    ----------
    shapes
        What shows, in the order of painting.
    page
        Left, top, right and bottom of its page, in its units; None where there is none.
    mm
        Millimetres to a unit; None where the file does not say.
    zero
        Where the zero point of its own coordinates lies.
    upward
        Whether its own y points up, so that its zero point is below rather than above.
    told
        What was passed over, in words: how many of each.
    hidden
        Ids of what is there and does not show.
    frames
        Blocks that do not show.
    """

    shapes: list[Shape] = field(default_factory=list)
    page: tuple[float, float, float, float] | None = None
    mm: float | None = None
    zero: tuple[float, float] = (0.0, 0.0)
    upward: bool = False
    told: dict[str, int] = field(default_factory=dict)
    hidden: dict[str, str] = field(default_factory=dict)
    frames: list[Frame] = field(default_factory=list)

    def tell(self, what: str) -> None:
        """Count something that was passed over."""
        self.told[what] = self.told.get(what, 0) + 1

    def cure(self) -> str:
        """Say what turns that which was passed over into shapes, after a sentence that refuses."""
        said = "; turn text into paths in the drawing program" if "text" in self.told else ""
        return said + ("; trace the picture first" if "picture" in self.told else "")
