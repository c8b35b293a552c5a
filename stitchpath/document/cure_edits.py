"""What was added to a design to hold its batting, as edits."""

from stitchpath.base.units import Unit, format_length, parse_length
from stitchpath.design.model import Design, Fill
from stitchpath.document.asked import Edit, put, set_value
from stitchpath.document.neat import length_like

__all__ = ["cure_edits"]

_EXACT = 0.0005  # mm


def cure_edits(before: Design, after: Design) -> list[Edit]:
    """Give the edits that make one design of another which has more seams and fills.

    Parameters
    ----------
    before
        The design.
    after
        The same with seams included, fills added at the end, and its own fills tightened.
    """
    edits = [
        put("lines", "include", value=list(pair))
        for pair in after.lines.include[len(before.lines.include) :]
    ]
    unit = before.unit
    for k, (old, new) in enumerate(zip(before.fills, after.fills, strict=False)):
        if old.spacing != new.spacing:
            edits.append(set_value("fills", k, "spacing", value=_neat(new.spacing, unit)))
    edits += [put("fills", value=_written(f, unit)) for f in after.fills[len(before.fills) :]]
    return edits


def _written(fill: Fill, unit: Unit) -> dict[str, object]:
    """Write a fill as a design does."""
    region = list(fill.region) if isinstance(fill.region, tuple) else fill.region
    of = {"fabric": fill.fabric} if region is None else {"region": region}
    return {**of, "style": fill.style, "spacing": _neat(fill.spacing, unit)}


def _neat(mm: float, unit: Unit) -> str | float:
    """Write a spacing in words where they are exact, else as a number."""
    words = format_length(mm, unit)
    if abs(parse_length(words, unit) - mm) < _EXACT:
        return words
    return length_like(mm, None, unit)
