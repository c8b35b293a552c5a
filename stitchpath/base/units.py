"""Lengths in and out: what a quilter writes, millimetres inside.

>>> parse_length("6 1/2 in", "mm")
165.1
>>> format_length(165.1, "in")
'6 1/2 in'
"""

import math
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal, TypeAlias, get_args

from stitchpath.base.errors import StitchpathError, shown

__all__ = [
    "MM_PER",
    "Unit",
    "format_count",
    "format_distance",
    "format_judged",
    "format_length",
    "format_place",
    "format_spools",
    "format_thread",
    "long_unit",
    "parse_length",
    "parse_size",
]

Unit: TypeAlias = Literal["in", "cm", "mm"]

# Millimetres in each unit. The inch is exactly 25.4 mm and the yard 0.9144 m by the international
# yard and pound agreement of 1959.
MM_PER: dict[str, float] = {
    "in": 25.4,
    "cm": 10.0,
    "mm": 1.0,
    "m": 1000.0,
    "ft": 304.8,
    "yd": 914.4,
}

_SPELLED = {
    "inch": "in",
    "inches": "in",
    '"': "in",
    "″": "in",
    "”": "in",
    "yard": "yd",
    "yards": "yd",
}
_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅓": "1/3",
    "⅔": "2/3",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
_LENGTH = re.compile(
    r"""\s*(?:
        (?P<decimal>\d+\.?\d*|\.\d+)                               # 6 or 6.5
      | (?:(?P<whole>\d+)(?:\s+|-|(?=[½¼¾⅓⅔⅛⅜⅝⅞])))?              # 6 of 6 1/2, 6-1/2, 6½
        (?:(?P<over>\d+)\s*[/\u2044]\s*(?P<under>\d+)|(?P<vulgar>[½¼¾⅓⅔⅛⅜⅝⅞]))
    )\s*(?P<unit>[a-z]+|["″”])?\s*""",
    re.VERBOSE | re.IGNORECASE,
)
_MINUS = ("-", "\u2212")
_LONGEST = 40  # characters in a length
_LARGEST = 1e6  # mm: a kilometre of quilt is a slip of the pen
_EXPECTED = 'a length such as "6 1/2 in", 6½", "16.5 cm", "165 mm" or a plain number'


def parse_length(value: object, unit: Unit, *, least: float = 0.0, most: float = _LARGEST) -> float:
    """Read a length.

    Parameters
    ----------
    value
        A number, in `unit`, or a text such as "6 1/2 in", '6½"', "16.5 cm", "165 mm".
    unit
        The design's unit, for numbers without one.
    least
        The smallest length accepted, mm.
    most
        The largest, mm.

    Returns
    -------
    float
        Millimetres.

    Raises
    ------
    StitchpathError
        When it is no length, not finite, below `least`, or over `most`.
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise StitchpathError(f"found {shown(value)}, expected {_EXPECTED}")
    try:
        mm = _parse_text(value, unit) if isinstance(value, str) else float(value) * MM_PER[unit]
    except OverflowError:
        mm = math.inf
    if not math.isfinite(mm) or mm > most:
        limit = "one kilometre" if most == _LARGEST else f"{most / 1e6:g} km"
        raise StitchpathError(f"found {shown(value)}, expected a length under {limit}")
    if mm < least:
        wanted = (
            "of zero or more"
            if least == 0
            else f"of at least {format_length(least, unit if least >= 1 else 'mm')}"
        )
        raise StitchpathError(f"found {shown(value)}, expected a length {wanted}")
    return mm


def parse_size(text: str, unit: Unit) -> tuple[float, float]:
    """Read a width and a height.

    Parameters
    ----------
    text
        Such as "60x80in" or "1.5 m x 2 m"; a unit said once holds for both.
    unit
        For numbers without one.

    Returns
    -------
    width, height : float
        Millimetres.

    Raises
    ------
    StitchpathError
        When it is not two lengths above nothing.

    Examples
    --------
    >>> parse_size("10x20cm", "in")
    (100.0, 200.0)
    """
    parts = re.split(r"\s*[x\u00d7]\s*", text.strip().lower())
    if len(parts) != 2:  # noqa: PLR2004 - width and height
        raise StitchpathError(
            f'found {shown(text)}, expected a width and a height such as "60x80in"'
        )
    said = re.search(r"[a-z\"″”]+$", parts[1])
    if said and parts[0][-1:].isdigit():
        parts[0] += " " + said[0]
    width, height = (parse_length(part, unit, least=1.0) for part in parts)
    return width, height


def _parse_text(text: str, unit: Unit) -> float:
    negative = text.strip()[:1] in _MINUS
    match = _LENGTH.fullmatch(text.strip()[1:] if negative else text)
    if match is None or len(text) > _LONGEST:
        raise StitchpathError(f"found {shown(text)}, expected {_EXPECTED}")
    word = (match["unit"] or unit).lower()
    word = _SPELLED.get(word, word)
    if word not in MM_PER:
        raise StitchpathError(f"found {shown(text)}, expected a unit of in, cm, mm, m, ft or yd")
    if match["under"] and int(match["under"]) == 0:
        raise StitchpathError(f"found {shown(text)}, expected a fraction not over zero")
    amount = _amount(match)
    mm = float(amount * Fraction(str(MM_PER[word])))
    return -mm if negative else mm


def _amount(match: re.Match[str]) -> Fraction:
    if match["decimal"]:
        return Fraction(match["decimal"])
    whole = Fraction(match["whole"] or 0)
    if match["vulgar"]:
        return whole + Fraction(_VULGAR[match["vulgar"]])
    return whole + Fraction(int(match["over"]), int(match["under"]))


def format_length(mm: float, unit: Unit) -> str:
    """Write a length as a quilter reads it.

    Parameters
    ----------
    mm
        Millimetres.
    unit
        "in" gives fractions to 1/16, "cm" one decimal, "mm" whole millimetres (one decimal under
        10 mm).

    Returns
    -------
    str
        Such as "6 1/2 in", "16.5 cm", "165 mm".
    """
    if unit == "cm":
        return f"{_trim(mm / 10, 1)} cm"
    if unit == "mm":
        return f"{_trim(mm, 0 if abs(mm) >= 10 else 1)} mm"  # noqa: PLR2004 - two digits at least
    sixteenths = round(abs(mm) / MM_PER["in"] * 16)
    whole, rest = divmod(sixteenths, 16)
    sign = "-" if mm < 0 and sixteenths else ""
    part = Fraction(rest, 16)
    if not rest:
        return f"{sign}{whole} in"
    return f"{sign}{whole} {part} in" if whole else f"{sign}{part} in"


def format_judged(mm: float, unit: Unit) -> str:
    """Write a length as an eye can judge it: beyond 2 in to 1/4 in, beyond 5 cm to 1/2 cm.

    Our own choice: a quarter inch is what the lines of a ruler tell at a glance.

    Parameters
    ----------
    mm
        Millimetres.
    unit
        As `format_length`.

    Examples
    --------
    >>> format_judged(49.0, "in"), format_judged(214.0, "in"), format_judged(214.0, "cm")
    ('1 15/16 in', '8 1/2 in', '21.5 cm')
    """
    step, beyond = (MM_PER["in"] / 4, 2 * MM_PER["in"]) if unit == "in" else (5.0, 50.0)
    return format_length(round(mm / step) * step if mm > beyond else mm, unit)


def format_count(count: int, what: str) -> str:
    """Write how many there are, as in "no runs", "1 run", "2 runs"."""
    plural = "" if count == 1 else "es" if what.endswith("ch") else "s"
    return f"{count or 'no'} {what}{plural}"


def format_place(x: float, y: float, unit: Unit) -> str:
    """Write a place as two lengths from the top left corner, as in "4 in across, 2 in down"."""
    return f"{format_length(x, unit)} across, {format_length(y, unit)} down"


def long_unit(unit: Unit) -> Literal["yd", "m"]:
    """Tell in what long ways are measured beside a unit: yards beside inches, else metres.

    `MM_PER` has its length.
    """
    return "yd" if unit == "in" else "m"


def format_distance(mm: float, unit: Unit) -> str:
    """Write a long way, as all the stitching of a quilt.

    Examples
    --------
    >>> format_distance(9144.0, "in"), format_distance(9144.0, "cm")
    ('10.00 yd', '9.14 m')
    """
    long = long_unit(unit)
    return f"{mm / MM_PER[long]:.2f} {long}"


def format_thread(mm: float, unit: Unit) -> str:
    """Write a length of thread, which is sold in yards and in metres.

    Examples
    --------
    >>> format_thread(9144.0, "in"), format_thread(9144.0, "cm")
    ('10.00 yd (9.14 m)', '9.14 m')
    """
    metres = f"{mm / 1000:.2f} m"
    return f"{format_distance(mm, unit)} ({metres})" if unit == "in" else metres


def format_spools(spools: Sequence[tuple[int, int]], unit: Unit) -> str:
    """Write how many spools of which lengths, as in "2 of 547 yd (500 m) and 1 of 219 yd (200 m)".

    Parameters
    ----------
    spools
        Length in whole metres, and how many of it.
    unit
        Of the design.
    """
    said = []
    for metres, count in spools:
        yards = f"{metres * 1000 / MM_PER['yd']:.0f} yd"
        said.append(f"{count} of " + (f"{yards} ({metres} m)" if unit == "in" else f"{metres} m"))
    return " and ".join(said)


def _trim(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


assert set(get_args(Unit)) <= set(MM_PER)  # noqa: S101 - read once at import, a slip of ours only
