"""Lengths written into a design: neatly in its unit, the way they were written before."""

import math
import re

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import MM_PER, Unit, format_length, parse_length

__all__ = ["length_like"]

_PLACES = {"in": 4, "cm": 3, "mm": 2}  # each finer than 0.01 mm
_FINE = 0.01  # mm
_EXACT = 0.0005  # mm: a length that a fraction tells
_WORD = re.compile(r"[^\d\s./-]+\s*$")


def length_like(mm: float, old: object, unit: Unit) -> float | str:
    """Write a length as another was written: a number, or a text with its unit.

    Parameters
    ----------
    mm
        Millimetres.
    old
        What stood there; None for nothing.
    unit
        Of the design, which plain numbers are in.

    Returns
    -------
    float or str
        Exact to 0.01 mm.

    Examples
    --------
    >>> length_like(133.35, 5, "in"), length_like(133.35, "5 in", "in")
    (5.25, '5 1/4 in')
    >>> length_like(55, "5 cm", "in")
    '5.5 cm'
    """
    if not isinstance(old, str):
        return _number(mm, unit)
    word = _WORD.search(old)
    if word is None:
        return f"{_number(mm, unit):g}"
    said = word[0].strip()
    try:
        per = parse_length(f"1 {said}", unit)
    except StitchpathError:
        return _number(mm, unit)
    if per == MM_PER["in"]:
        fraction = format_length(mm, "in")
        if abs(parse_length(fraction, "in") - mm) < _EXACT:
            return fraction.removesuffix(" in") + (f" {said}" if said.isalpha() else said)
    places = max(0, math.ceil(math.log10(per / _FINE) - 1e-9))
    number = f"{round(mm / per, places):.{places}f}".rstrip("0").rstrip(".")
    return f"{number} {said}" if said.isalpha() else f"{number}{said}"


def _number(mm: float, unit: Unit) -> float:
    value = round(mm / MM_PER[unit], _PLACES[unit]) + 0.0
    return int(value) if value.is_integer() else value
