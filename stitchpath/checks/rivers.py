"""Rivers: straight clear bands that an eye follows through quilting that should wander."""

from collections.abc import Iterator

import shapely

from stitchpath.base.findings import Check
from stitchpath.base.units import format_length, format_place
from stitchpath.checks.cures import Survey
from stitchpath.geometry.clear_bands import longest_band
from stitchpath.lines.fills.pattern import FREE

__all__ = ["check_rivers"]

_LONG = 203.2  # mm: a shorter band than 8 in is none
_SPACINGS = 10.0  # nor one shorter than so many spacings: a meander has bands of 8 by chance


def check_rivers(looked: Survey) -> Iterator[Check]:
    """Tell of each free fill the longest straight band in it that is as wide as its spacing.

    Parameters
    ----------
    looked
        The design with its lines.
    """
    if not any(asked.style in FREE for asked in looked.design.fills):
        return
    paths = [line.points for line in looked.lines]
    tree = shapely.STRtree([shapely.LineString(path) for path in paths])
    unit = looked.design.unit
    for k, (asked, regions) in enumerate(zip(looked.design.fills, looked.regions, strict=True), 1):
        if asked.style not in FREE or not regions:
            continue
        # Side by side without a stitched seam between them they are one to the eye.
        ground = shapely.union_all([region.shape for region in regions])
        near = tree.query(ground, predicate="dwithin", distance=asked.spacing)
        band = longest_band(ground, [paths[i] for i in sorted(near.tolist())], asked.spacing)
        if band is None or band.length <= max(_LONG, _SPACINGS * asked.spacing):
            continue
        middle = (band.start[0] + band.end[0]) / 2, (band.start[1] + band.end[1]) / 2
        yield Check(
            "warning",
            "river",
            f"fills[{k}]: a straight clear band, {format_length(band.length, unit)} long, runs "
            f"through the {asked.style}, from {format_place(*band.start, unit)} to "
            f"{format_place(*band.end, unit)}: the eye will follow it. Fill what lies on "
            "both sides of it as one, or draw it with another seed.",
            middle,
        )
