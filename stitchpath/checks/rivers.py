"""Rivers: straight clear bands that an eye follows through quilting that should wander."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

import shapely

from stitchpath.base.findings import Check
from stitchpath.base.units import Unit, format_length, format_place
from stitchpath.checks.cures import Survey
from stitchpath.geometry.clear_bands import ClearBand, longest_band
from stitchpath.lines.fills.pattern import FREE
from stitchpath.lines.regions import Region

__all__ = ["check_rivers"]

_LONG = 203.2  # mm: a shorter band than 8 in is none
_SPACINGS = 10.0  # nor one shorter than so many spacings: a meander has bands of 8 by chance
_WITHIN = 0.25  # spacings from the edge of every part: there a band does not run between two


def check_rivers(looked: Survey) -> Iterator[Check]:
    """Tell of the longest straight band in fills that wander that is as wide as their spacing.

    Fills of one style that show alike are told as one: between parts that are each filled by
    themselves, or within.

    Parameters
    ----------
    looked
        The design with its lines.
    """
    if not any(asked.style in FREE for asked in looked.design.fills):
        return
    paths = [line.points for line in looked.lines]
    tree = shapely.STRtree([shapely.LineString(path) for path in paths])
    found: dict[tuple[str, bool], list[ClearBand]] = defaultdict(list)
    for asked, regions in zip(looked.design.fills, looked.regions, strict=True):
        if asked.style not in FREE or not regions:
            continue
        # Side by side without a stitched seam between them they are one to the eye.
        ground = shapely.union_all([region.shape for region in regions])
        near = tree.query(ground, predicate="dwithin", distance=asked.spacing)
        band = longest_band(ground, [paths[i] for i in sorted(near.tolist())], asked.spacing)
        if band is not None and band.length > max(_LONG, _SPACINGS * asked.spacing):
            found[asked.style, _between(band, regions, asked.spacing)].append(band)
    for (style, between), bands in found.items():
        yield _told(style, bands, looked.design.unit, between=between)


def _between(band: ClearBand, regions: Sequence[Region], spacing: float) -> bool:
    """Whether a band runs where two parts meet, and not through one."""
    line = shapely.LineString([band.start, band.end])
    within = [
        line.intersection(region.shape.buffer(-_WITHIN * spacing)).length for region in regions
    ]
    return sum(within) < line.length / 2


def _told(style: str, bands: Sequence[ClearBand], unit: Unit, *, between: bool) -> Check:
    band = max(bands, key=lambda band: band.length)
    where = f"from {format_place(*band.start, unit)} to {format_place(*band.end, unit)}"
    more = f" (and in {len(bands) - 1} more)" if len(bands) > 1 else ""
    long = format_length(band.length, unit)
    gap = f"A straight gap {long} long shows in the {style}, {where}{more}"
    message = (
        f"{gap}, where blocks or patches are each filled by themselves, and the eye will follow "
        "it: fill them as one, or stitch the seam between them."
        if between
        else f"{gap}, and the eye will follow it: give the {style} another seed."
    )
    middle = (band.start[0] + band.end[0]) / 2, (band.start[1] + band.end[1]) / 2
    return Check("warning", "river", message, middle)
