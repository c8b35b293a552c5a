"""The errors that stitchpath raises on purpose."""

import difflib
from collections.abc import Iterable
from datetime import date, time

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
    """

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
    close = difflib.get_close_matches(found[:80], list(known), n=1, cutoff=0.6)
    return close[0] if close else None


def unknown_name(where: str, what: str, found: str, known: Iterable[str]) -> UnknownNameError:
    """Make the error for a name that nothing bears.

    Parameters
    ----------
    where
        The place in the design.
    what
        What the name should name, such as "fabric".
    found
        The name as written.
    known
        The names there are.
    """
    names = list(known)
    near = nearest_name(found, names)
    if near is not None:
        hint = f"the nearest {what} is {near!r}"
    elif names:
        more = ", …" if len(names) > _NAMES_SHOWN else ""
        hint = f"expected a {what} out of " + ", ".join(names[:_NAMES_SHOWN]) + more
    else:
        hint = f"the design has no {what}"
    return UnknownNameError(f"{where}: found the unknown {what} {found[:60]!r}, {hint}")
