"""How large a quilt may be: what is larger is refused, before time or memory run out.

What keeps to each of the limits was measured to be planned within 60 s of processor and 2 GB.
"""

from stitchpath.base.errors import StitchpathError

__all__ = [
    "DEARER",
    "MOST_BORDERS",
    "MOST_FILLS",
    "MOST_MOTIFS",
    "MOST_PATCHES",
    "MOST_PIECES",
    "MOST_SQUARES",
    "MOST_THREADS",
    "MOST_WITHIN",
    "WIDEST",
    "at_most",
]

MOST_PATCHES = 100_000  # a king-size postage stamp top of 1 in squares has 11,664
MOST_BORDERS = 100
MOST_WITHIN = 6  # blocks within each other: a name such as A1.2.1.3.1.2 can still be read
MOST_PIECES = 2_000  # of appliqué, each place counted
MOST_FILLS = 100
MOST_MOTIFS = 100  # named one by one
MOST_SQUARES = 250_000  # of the spacing, in all fills: a king-size top at 1/4 in has 187,000
DEARER = {
    "meander": 5,
    "crosshatch": 2,
    "orange peel": 4,
    "clamshell": 3,
    "pebbles": 4,
    "radiating lines": 2,
}  # styles whose squares count so many times
MOST_THREADS = 100
WIDEST = 10_000.0  # mm: a king-size top is 2,743 mm wide


def at_most(where: str, found: int, what: str, most: int) -> None:
    """Refuse more of something than can be planned.

    Raises
    ------
    StitchpathError
        When there are more.
    """
    if found > most:
        raise StitchpathError(f"{where}: found {found} {what}, expected at most {most}")
