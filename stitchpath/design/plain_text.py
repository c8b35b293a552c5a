"""Names and texts that may stand in files and on a terminal: plain ones."""

import unicodedata

from stitchpath.base.errors import StitchpathError, shown

__all__ = ["plain_text"]

_DEEP = 40  # tables in each other: no design comes near
# What turns a line of text about, or ends it: it reaches files and the terminal.
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_PATHS = ("outline", "path")  # keys that may run over several lines


def plain_text(data: object, source: str) -> None:
    """Refuse names and texts that would break a file or turn the terminal about."""
    stack: list[tuple[str, object, int]] = [("", data, 0)]
    while stack:
        key, value, depth = stack.pop()
        if depth > _DEEP:
            raise StitchpathError(
                f"{source}: found over {_DEEP} tables one in another, expected a design"
            )
        if isinstance(value, dict):
            stack += [(name, inner, depth + 1) for name, inner in value.items()]
            stack += [("", name, depth) for name in value]
        elif isinstance(value, list):
            stack += [(key, inner, depth + 1) for inner in value]
        elif isinstance(value, str) and not value.isprintable():
            kept = "\t\r\n" if key in _PATHS else ""
            bad = next((c for c in value if _unwanted(c) and c not in kept), None)
            if bad is not None:
                raise StitchpathError(
                    f"{source}: found the character U+{ord(bad):04X} in {shown(value)}, expected "
                    "plain text without control characters, line breaks or turns of direction"
                )


def _unwanted(letter: str) -> bool:
    code = ord(letter)
    return (
        unicodedata.category(letter) in ("Cc", "Zl", "Zp", "Cs")
        or letter in _TURNING
        or code & 0xFFFE == 0xFFFE  # noqa: PLR2004 - U+FFFE, U+FFFF: no characters, and no XML
        or 0xFDD0 <= code <= 0xFDEF  # noqa: PLR2004
    )
