"""What is wrong with a motif, in a quilter's words: before a whole top is stitched with it."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import LineString, affinity

from stitchpath.base.typing import FloatArray
from stitchpath.lines.fills.motifs import joined, one_line

__all__ = ["motif_flaws"]

_LEVEL = 0.01  # ends off level by less than this share of the motif's length are level
_GRID = 1e-5  # of its length: what lies so near is one place
_AGAIN = 0.01  # run over itself along less than this share is a crossing
_JOINT = 0.02  # of its length: so near to where two motifs meet they are one line


def motif_flaws(motif: Sequence[FloatArray]) -> Iterator[str]:
    """Tell what a quilter should know of a motif; each goes on from "the motif".

    Parameters
    ----------
    motif
        As for `one_line`; it is one line.

    Examples
    --------
    A line that ends a quarter of its length lower than it begins:

    >>> list(motif_flaws([np.array([[0.0, 0.0], [2.0, -1.0], [4.0, 1.0]])]))
    ['ends 25 % of its length lower on the right: it is turned by 14° to lie level']
    """
    drawn = joined(motif)
    way = drawn[-1] - drawn[0]
    if way[0] < 0:
        drawn, way = drawn[::-1], -way
    long, line = float(np.hypot(*way)), one_line(motif)
    if abs(way[1]) > _LEVEL * long:
        share, side = (
            abs(float(way[1])) / max(float(way[0]), _GRID * long),
            "lower" if way[1] > 0 else "higher",
        )
        angle = abs(np.degrees(np.arctan2(way[1], way[0])))
        yield (
            f"ends {100 * share:.0f} % of its length {side} on the right: it is turned by "
            f"{angle:.0f}° to lie level"
        )
    shape = LineString(line / long)
    noded = shapely.unary_union(shape, grid_size=_GRID)
    again = 1 - noded.length / shape.length
    if again > _AGAIN:
        yield (
            f"runs over itself along {100 * again:.0f} % of its line: there the thread lies twice"
        )
    elif crossings := _crossings(noded):
        times = "once" if crossings == 1 else f"{crossings} times"
        yield f"crosses itself {times}, as a loop does"
    following = affinity.translate(shape, 1.0)
    joint = shapely.Point(1.0, 0.0).buffer(_JOINT)
    if not shape.intersection(following).difference(joint).is_empty:
        yield "reaches over its own end and crosses the next one in its row"


def _crossings(noded: shapely.Geometry) -> int:
    """Count places where four or more ways meet."""
    ends = np.concatenate(
        [shapely.get_coordinates(part)[[0, -1]] for part in shapely.get_parts(noded)]
    )
    _, ways = np.unique(np.rint(ends / _GRID), axis=0, return_counts=True)
    return int((ways >= 4).sum())  # noqa: PLR2004 - two lines
