"""What a pen machine is told, as one writes it on the command line."""

from collections.abc import Sequence
from dataclasses import dataclass

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.units import Unit, parse_length, parse_size

__all__ = ["PenOptions", "pen_settings"]

PenOptions = dict[str, dict[str, object]]
"""Options of the functions that write for a pen, by format."""


@dataclass(frozen=True, slots=True)
class _Setting:
    """A setting: which option it is, and in which formats."""

    option: str
    formats: tuple[str, ...]


_ALL = ("plotter", "gcode", "hpgl")
_CODE = ("gcode", "hpgl")
_SETTINGS = {
    "bed": _Setting("bed", _CODE),
    "first_pass": _Setting("first_pass_up", _CODE),
    "simplify": _Setting("tolerance", ("plotter",)),
    "low_side": _Setting("low_side", _ALL),
    "feed": _Setting("feed", ("gcode",)),
    "unit": _Setting("unit", ("gcode",)),
    "origin": _Setting("origin", ("gcode",)),
    "up": _Setting("pen", ("gcode",)),
    "down": _Setting("pen", ("gcode",)),
}


def pen_settings(texts: Sequence[str], unit: Unit) -> PenOptions:
    """Read settings for a pen, such as "bed=60x90cm" or "feed=1500mm".

    Parameters
    ----------
    texts
        Each NAME=VALUE: bed, how far the pen reaches; feed, a minute, with its unit; unit, of the
        program, mm or in; origin, a corner; up and down, the words that lift and lower the pen;
        first_pass, "up" or "none"; simplify, how far the plotter's SVG may be simplified, 0 for
        every point; low_side, how far ditch stitching is moved.
    unit
        For lengths without one, but the feed.

    Returns
    -------
    PenOptions
        Keyword arguments for `plan_plotter_svg`, `plan_gcode` and `plan_hpgl`.

    Raises
    ------
    StitchpathError
        When a name is unknown or a value cannot be read.
    """
    options: PenOptions = {name: {} for name in _ALL}
    said: dict[str, str] = {}
    for text in texts:
        name, _, value = text.partition("=")
        if name not in _SETTINGS:
            raise unknown_name("", "setting", name, _SETTINGS).of_argument("pen")
        said[name] = value
        setting = _SETTINGS[name]
        for each in setting.formats:
            options[each][setting.option] = _value(name, value, unit)
    if ("up" in said) != ("down" in said):
        raise StitchpathError("found one of up and down, expected both or none").of_argument("pen")
    if "up" in said:
        options["gcode"]["pen"] = said["up"], said["down"]
    return options


def _value(name: str, value: str, unit: Unit) -> object:
    """Read one value."""
    if name == "first_pass" and value in ("up", "none"):
        return value == "up"
    if name == "first_pass":
        raise StitchpathError(f'found {value[:40]!r}, expected "up" or "none"').of_argument(
            "pen first_pass"
        )
    if name == "feed" and value.strip()[-1:].isdigit():
        raise StitchpathError(
            f'found {value[:40]!r}, expected its unit as well, such as "1500 mm"'
        ).of_argument("pen feed")
    try:
        if name == "bed":
            return parse_size(value, unit)
        if name in ("feed", "simplify", "low_side"):
            return parse_length(value, unit)
    except StitchpathError as error:
        raise StitchpathError(str(error)).of_argument(f"pen {name}") from None
    return value
