"""Kinds of batting: how far apart the quilting may be, and how thin a stitch presses them.

The distance on the label of the batting itself always goes before these figures. They are what
labels of each construction usually say: common practice, from memory. Where labels differ, the
smallest stands here, for quilting closer than need be does no harm.
"""

import difflib
from dataclasses import dataclass

from stitchpath.base.errors import UnknownNameError

__all__ = [
    "BATTINGS",
    "CLOTH",
    "MARGIN",
    "UNNAMED",
    "Batting",
    "batting",
    "thickness_through",
]

_INCH = 25.4

CLOTH = 0.25
"""Thickness of one fabric under a stitch, mm; quilting cotton, from memory."""

UNNAMED = 0.04 * _INCH
"""Thickness stitched through where no kind of batting is named, mm; common practice."""

MARGIN = {"domestic": 2 * _INCH, "frame": 4 * _INCH}
"""How far batting and backing stand out on each side, mm: 2 in on a domestic machine, 4 in in a
frame. Common practice."""


@dataclass(frozen=True, slots=True)
class Batting:
    """A kind of batting, by how it is made.

    Attributes
    ----------
    name
        What a quilter calls it.
    distance
        Greatest distance between lines of quilting that holds it together, mm.
    thickness
        What is left of it under a stitch, mm.
    note
        How it is made, and how far its labels differ.
    """

    name: str
    distance: float
    thickness: float
    note: str


BATTINGS = (
    Batting(
        "unstabilised cotton",
        2 * _INCH,
        0.5,
        "Carded fibres that nothing but the quilting holds; labels say 2 to 3 in.",
    ),
    Batting(
        "needle-punched cotton",
        4 * _INCH,
        0.5,
        "Fibres felted with barbed needles, without scrim; labels say 4 to 6 in.",
    ),
    Batting(
        "needle-punched cotton with scrim",
        8 * _INCH,
        0.5,
        "Fibres felted through a thin web that does not stretch; labels say 8 to 10 in.",
    ),
    Batting(
        "cotton-polyester blend",
        4 * _INCH,
        0.6,
        "Mostly cotton, needle-punched; labels say 4 in, and up to 10 in with scrim.",
    ),
    Batting(
        "polyester",
        3 * _INCH,
        0.7,
        "Fibres bonded by heat or resin, light and lofty; labels say 3 to 5 in.",
    ),
    Batting(
        "wool",
        3 * _INCH,
        0.9,
        "Fibres bonded by heat or resin, springy; labels say 3 to 4 in.",
    ),
)
"""Distance: common practice (usual label figures, from memory). Thickness: from memory, good to a
half either way; measure and calibrate."""


def batting(name: str) -> Batting:
    """Look up a kind of batting.

    Parameters
    ----------
    name
        Its name; capitals, hyphens and spaces do not matter.

    Raises
    ------
    StitchpathError
        If no kind is called so.

    Examples
    --------
    >>> batting("Needle punched cotton").distance
    101.6
    """
    kinds = {_plain(kind.name): kind for kind in BATTINGS}
    found = kinds.get(_plain(name))
    if found is not None:
        return found
    close = difflib.get_close_matches(_plain(name), list(kinds), n=1)
    hint = f"; the nearest is {kinds[close[0]].name!r}" if close else ""
    known = ", ".join(kind.name for kind in BATTINGS)
    raise UnknownNameError(f"found {name[:60]!r}, expected one of {known}{hint}")


def _plain(name: str) -> str:
    return " ".join(name.lower().replace("-", " ").replace("_", " ").split())


def thickness_through(kind: str, *, top: float = CLOTH, back: float = CLOTH) -> float:
    """Thickness that a stitch goes through, the batting pressed together by the thread.

    Parameters
    ----------
    kind
        Name of a kind of batting, as `batting` knows it.
    top, back
        Thickness of the two fabrics, mm.

    Returns
    -------
    float
        Top, batting and backing under the thread, mm.

    Raises
    ------
    StitchpathError
        If the kind of batting is not known.
    """
    return top + batting(kind).thickness + back
