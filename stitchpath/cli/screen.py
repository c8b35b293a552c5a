"""What the commands show: on any terminal, in any code page, into a pipe that may be closed."""

import codecs
import os
import sys
import unicodedata
from typing import TextIO

from stitchpath.base.errors import StitchpathError
from stitchpath.base.escape import terminal

__all__ = ["as_option", "let_go", "ready", "say", "seconds", "settle"]

_PLAIN = str.maketrans(  # dashes, quotes, times, inches, feet
    "\u2013\u2014\u2018\u2019\u201c\u201d\u00d7\u2033\u2032", "--''\"\"x\"'"
)
_LONGEST = 86_400.0  # s
_ALLOWED = {
    "outside": " (if you trust the design, allow it with --outside)",
    "place": "; give another place with -o",
    "force": "; give another place with -o, or write over it with --force",
    "batting": ", or --batting",
    "size": "; say it with --size or --unit, in a design as size or unit",
}
"""How the command line allows what was refused; Python calls it by the argument's name."""


def as_option(error: StitchpathError) -> str:
    """Tell an error to who typed a command: arguments by their options, and what would allow it."""
    begin = "--" if error.argument else ""
    return f"{begin}{error}{_ALLOWED.get(error.allowed_by or '', '')}"


def ready() -> None:
    """Let letters that the screen does not know be written with those that it knows."""
    codecs.register_error("stitchpath", _plain)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="stitchpath")


def _plain(error: UnicodeError) -> tuple[str, int]:
    """Write letters plainly: without accents, fractions with a stroke, others as question marks."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = ""
    for at in range(error.start, error.end):
        letter = error.object[at]
        spelt = unicodedata.normalize("NFKD", letter.translate(_PLAIN)).replace("\u2044", "/")
        spelt = "".join(c for c in spelt if c.isascii()) or "?"
        if "/" in spelt and at and error.object[at - 1].isdigit():
            spelt = f" {spelt}"
        text += spelt
    return text, error.end


def say(text: str) -> None:
    """Print a line."""
    try:
        print(terminal(text), flush=True)  # noqa: T201 - this is where it is done
    except BrokenPipeError:
        let_go(sys.stdout)


def settle() -> None:
    """Write out what waits, at the end of a command."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except BrokenPipeError:
            let_go(stream)


def let_go(stream: TextIO) -> None:
    """No one reads any more: what is still said goes nowhere."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def seconds(limit: float) -> float:
    """Check a time limit.

    Raises
    ------
    StitchpathError
        When it is no time that a search could take.
    """
    if not 0 < limit <= _LONGEST:  # also refuses what is no number
        raise StitchpathError(
            f"--time-limit: found {limit:g}, expected seconds, more than 0 and at most {_LONGEST:g}"
        )
    return limit
