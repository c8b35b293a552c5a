"""A top, or a block, from a drawing: patches with fabrics and names, pieces, lines to quilt."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from stitchpath.base.errors import StitchpathError
from stitchpath.base.limits import MOST_PATCHES, MOST_PIECES, at_most
from stitchpath.base.units import format_length
from stitchpath.design.colours import channels
from stitchpath.design.drawings.door import found_file
from stitchpath.design.drawings.whole import Whole, take_whole
from stitchpath.design.drawings.words import UNKNOWN
from stitchpath.design.model import Applique, Block, Design, DrawnTop, Fabric
from stitchpath.top.block import BlockPatch, DrawnBlock
from stitchpath.top.copies import laid_copies
from stitchpath.top.layout import LaidBlock, LaidPatch
from stitchpath.top.place import Place
from stitchpath.top.squares import MapSquare, map_squares, squares_at

__all__ = ["DrawnLayout", "draw_drawn_block", "fabric_names", "lay_drawing"]

_SQUARE = 0.5  # mm: how exactly a drawn block has to fill its rectangle
_PATTERNS = ("#8fa7b8", "#c9a66b", "#a8b89a", "#b58a8a", "#9a8fb8", "#8ab5a5")
_NAMED = {
    "white": "#ffffff", "cream": "#f4ecd8", "sand": "#d9c49a", "tan": "#c49a6c",
    "brown": "#7a4a2a", "dark brown": "#46291a", "black": "#101010", "dark grey": "#555555",
    "grey": "#909090", "light grey": "#cfcfcf", "red": "#c62828", "dark red": "#7d1a1a",
    "coral": "#e9806e", "pink": "#f3b6c4", "orange": "#e88a2a", "yellow": "#f2d024",
    "light yellow": "#f7eba0", "green": "#3c8c40", "dark green": "#1c4a2a",
    "light green": "#a9d18e", "olive": "#7d7d2c", "teal": "#2f8080", "turquoise": "#4fc4c4",
    "light blue": "#a9cfe6", "blue": "#2f6fb4", "navy": "#1c3557", "violet": "#7a4a9c",
    "lilac": "#c4a9d9", "plum": "#6a2a55",
}  # fmt: skip
"""Colours by names of our own, to call fabrics by."""


@dataclass(frozen=True, slots=True)
class DrawnLayout:
    """A drawn top as it is laid.

    Attributes
    ----------
    taken
        What was taken of the drawing, with all that was guessed and healed.
    fabrics
        Of the design and of the drawing.
    blocks, patches
        As of any top; patches that are in no block are named on their own.
    squares
        Of the map, where there are no blocks.
    pieces
        What would be said of each appliqué piece, and its shape, in `taken`.
    """

    taken: Whole
    fabrics: dict[str, Fabric]
    blocks: list[LaidBlock]
    patches: list[LaidPatch]
    squares: tuple[MapSquare, ...]
    pieces: tuple[Applique, ...]


def lay_drawing(design: Design, asked: DrawnTop) -> DrawnLayout:
    """Lay the top of a design that is drawn.

    Parameters
    ----------
    design
        The design.
    asked
        Its `top`.

    Raises
    ------
    StitchpathError
        When the drawing cannot be read, or makes no top.
    """
    path = found_file(design.folder, asked.drawing, "top.drawing", outside=design.outside)
    taken = take_whole(
        path,
        "top.drawing",
        size=asked.size,
        unit=asked.unit,
        roles=asked.roles,
        tolerance=asked.tolerance,
        shown_in=design.unit,
    )
    at_most("top.drawing", len(taken.patches), "patches", MOST_PATCHES)
    at_most("top.drawing", len(taken.pieces), "pieces", MOST_PIECES)
    paints = [p.paint for p in taken.patches] + [p.paint for p in taken.pieces]
    names = fabric_names(paints, design.fabrics)
    fabrics = dict(design.fabrics)
    for k, (paint, name) in enumerate(names.items()):
        fabrics.setdefault(name, Fabric(colour=_colour(paint, name, k)))
    blocks, inside = laid_copies(taken, names)
    bounds = shapely.total_bounds(np.array([p.polygon for p in taken.patches], dtype=object))
    squares = () if blocks else map_squares(float(bounds[2]), float(bounds[3]), design.unit)
    return DrawnLayout(
        taken,
        fabrics,
        blocks,
        list(_laid(taken, names, squares, inside)),
        squares,
        tuple(_asked(taken, names, asked.fused)),
    )


def _colour(paint: str, name: str, number: int) -> str:
    """Give the colour that a fabric of a drawing is shown in."""
    if name == UNKNOWN:
        return "#e6e2d6"
    return paint if paint.startswith("#") else _PATTERNS[number % len(_PATTERNS)]


def fabric_names(paints: Iterable[str], known: Mapping[str, Fabric]) -> dict[str, str]:
    """Name fabrics by their colours: as the design names them, else by a plain word.

    Parameters
    ----------
    paints
        "#rrggbb", the id of a pattern, or "" where the fabric is not known.
    known
        Fabrics of the design.
    """
    names: dict[str, str] = {}
    own = {fabric.colour: name for name, fabric in known.items()}
    for paint in dict.fromkeys(paints):
        if not paint:
            names[paint] = UNKNOWN
            continue
        if paint in own or paint in known:
            names[paint] = own.get(paint, paint)
            continue
        word = _nearest(paint) if paint.startswith("#") else paint.replace("_", " ")[:40]
        taken = {*names.values(), *known}
        tries = [word, *(f"{word} {letter}" for letter in "bcdefghijklmnopqrstuvwxyz")]
        names[paint] = next((t for t in tries if t not in taken), f"{word} {paint}")
    return names


def _nearest(colour: str) -> str:
    red, green, blue = channels(colour)

    def away(name: str) -> float:
        """Weigh the channels about as the eye does (a common rule of thumb, from memory)."""
        r, g, b = channels(_NAMED[name])
        return 2 * (red - r) ** 2 + 4 * (green - g) ** 2 + 3 * (blue - b) ** 2

    return min(_NAMED, key=away)


def _laid(
    taken: Whole,
    names: Mapping[str, str],
    squares: tuple[MapSquare, ...],
    inside: Mapping[int, LaidPatch],
) -> Iterable[LaidPatch]:
    """Give each patch its place and a name that no other has."""
    given = Counter(p.name for p in taken.patches if p.name)
    counts: Counter[str] = Counter()
    shapes = np.array([patch.polygon for patch in taken.patches], dtype=object)
    at = squares_at(squares, shapely.get_coordinates(shapely.point_on_surface(shapes)))
    for k, patch in enumerate(taken.patches):
        if k in inside:
            yield inside[k]
            continue
        fabric = names[patch.paint]
        name = patch.name if given[patch.name] == 1 and patch.name not in names.values() else ""
        if not name:
            word = "patch" if fabric == UNKNOWN else fabric
            counts[word] += 1
            name = f"{word} {counts[word]}"
        place = at[k].place if at else Place("patch", number=k + 1)
        yield LaidPatch(place, name, fabric, patch.polygon, named=True)


def _asked(taken: Whole, names: Mapping[str, str], fused: str) -> Iterable[Applique]:
    """Say of each drawn piece what a design would."""
    for piece in taken.pieces:
        left, top, right, bottom = piece.shape.bounds
        fabric = names[piece.paint]
        yield Applique.model_validate(
            {
                "name": piece.name or ("piece" if fabric == UNKNOWN else f"{fabric} piece"),
                "outline": "M0 0",
                "size": max(right - left, bottom - top),
                "fused": fused,
                "fabric": fabric,
            },
            context={"unit": "mm"},
        )


def draw_drawn_block(
    name: str, spec: Block, design: Design
) -> tuple[DrawnBlock, dict[str, Fabric], Whole]:
    """Draw a block from a drawing, at finished size.

    Parameters
    ----------
    name
        Its name in the design.
    spec
        The block as written.
    design
        The design, for its fabrics and its folder.

    Raises
    ------
    StitchpathError
        When the drawing is no block: no rectangle, or with pieces or lines on it.
    """
    where = f"blocks.{name}.drawing"
    path = found_file(design.folder, spec.drawing or "", where, outside=design.outside)
    taken = take_whole(
        path,
        where,
        size=max(spec.size) if spec.size else None,
        unit=spec.unit,
        roles=spec.roles,
        tolerance=spec.tolerance,
        shown_in=design.unit,
        block=True,
    )
    if taken.pieces or taken.quilting:
        found = "appliqué" if taken.pieces else "lines to quilt"
        raise StitchpathError(
            f"{where}: found {found} in it, expected patches alone; name the pieces under "
            "[[applique]] and lines under [[drawn]]"
        )
    shapes = np.array([p.polygon for p in taken.patches], dtype=object)
    width, height = (float(v) for v in shapely.total_bounds(shapes)[2:])
    area = float(shapely.area(shapes).sum())
    if abs(area - width * height) > _SQUARE * (width + height):
        raise StitchpathError(f"{where}: found no rectangle, expected patches that fill one")
    if spec.size and not math.isclose(width / height, spec.size[0] / spec.size[1], rel_tol=0.01):
        raise StitchpathError(
            f"{where}: found a block {format_length(width, design.unit)} by "
            f"{format_length(height, design.unit)}, expected the shape of its size"
        )
    names = fabric_names([p.paint for p in taken.patches], design.fabrics)
    known = {
        name: Fabric(colour=_colour(paint, name, k))
        for k, (paint, name) in enumerate(names.items())
    }
    counts: Counter[str] = Counter()
    patches = []
    for patch in taken.patches:
        fabric = names[patch.paint]
        counts[fabric] += 1
        word = "patch" if fabric == UNKNOWN else fabric
        own = patch.name or f"{word} {counts[fabric]}"
        patches.append(BlockPatch(own, fabric, patch.polygon, named=True))
    drawn = DrawnBlock(name, width, height, tuple(patches), spec.press)
    return drawn, {**known, **design.fabrics}, taken
