"""The errors that stitchpath raises on purpose."""

import difflib
from collections.abc import Iterable
from datetime import date, time
from typing import Self

__all__ = [
    "GeometryError",
    "InternalError",
    "MissingFileError",
    "StitchpathError",
    "UnknownNameError",
    "nearest_name",
    "shown",
    "unknown_name",
]

_NAMES_SHOWN = 12
_SHOWN = 60  # characters of a value: a line of a terminal
_LISTED = 8  # entries of a list


class StitchpathError(ValueError):
    """Something the user gave cannot be used.

    Its text is one clear sentence for the user: which file and place, what was found, what was
    expected. The command line prints it and exits with code 1; nothing is written.

    Attributes
    ----------
    argument
        Whether it begins with the name of an argument; the command line calls that by its option.
    allowed_by
        What would allow it, if something would: "outside", "force", "batting", "size", another
        "place".
    """

    argument: bool = False
    allowed_by: str | None = None

    def of_argument(self, name: str) -> Self:
        """Give the same error, its sentence begun with the argument that it is about."""
        self.args = (f"{name}: {self}",)
        self.argument = True
        return self

    def unless(self, argument: str) -> Self:
        """Give the same error, told which argument would allow what was refused."""
        self.allowed_by = argument
        return self

    def told_of(self, source: str) -> "StitchpathError":
        """Give the same error, its sentence begun with the file that it is about."""
        self.args = (f"{source}: {self}",)
        return self


def shown(value: object) -> str:
    """Show a value as it stands in a design, or nearly so, on part of a line.

    Examples
    --------
    >>> shown(True), shown("sand"), shown({"size": 3})
    ('true', "'sand'", 'a table of keys')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table of keys" if value else "an empty table"
    if isinstance(value, date | time):
        return f"the date or time {value.isoformat()}"
    if isinstance(value, list):
        text = ", ".join(map(shown, value[:_LISTED])) + (", …" if value[_LISTED:] else "")
        text = f"[{text}]"
    else:
        text = repr(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


class UnknownNameError(StitchpathError):
    """Nothing bears the name given: a fabric, block, patch, thread, place or format."""


class MissingFileError(StitchpathError):
    """A file that was named cannot be opened."""


class GeometryError(StitchpathError):
    """A shape or a line cannot be used as it is drawn."""


class InternalError(RuntimeError):
    """A result of stitchpath contradicts itself: the fault is ours, whatever the design says.

    It is no `StitchpathError`, so nothing takes it for a choice that cannot be planned. The command
    line prints it and exits with code 70; nothing is written.

    Parameters
    ----------
    what
        What contradicts what.
    """

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(
            f"{what}: this is an error inside stitchpath, nothing was written, please report the "
            "design"
        )


def nearest_name(found: str, known: Iterable[str]) -> str | None:
    """Find the known name most like the one found, None when nothing is like it."""
    plain = {name.lower(): name for name in reversed(list(known))}
    close = difflib.get_close_matches(found[:80].lower(), plain, n=1, cutoff=0.6)
    return plain[close[0]] if close else None


def unknown_name(
    where: str, what: str, found: str, known: Iterable[str], *, most: int = _NAMES_SHOWN
) -> UnknownNameError:
    """Make the error for a name that nothing bears.

    Parameters
    ----------
    where
        The place in the design, "" for none.
    what
        What the name should name, such as "fabric".
    found
        The name as written.
    known
        The names there are.
    most
        How many of them are told.
    """
    names = list(known)
    near = nearest_name(found, names)
    if near is not None:
        hint = f"the nearest {what} is {near!r}"
    elif names:
        more = ", …" if len(names) > most else ""
        hint = (
            f"expected {'an' if what[0] in 'aeiou' else 'a'} {what} out of "
            + ", ".join(names[:most])
            + more
        )
    else:
        hint = f"the design has no {what}"
    begin = f"{where}: " if where else ""
    return UnknownNameError(f"{begin}found the unknown {what} {found[:60]!r}, {hint}")
