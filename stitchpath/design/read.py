"""Read a design file: TOML in, a checked `Design` out, errors in a quilter's words."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import Unit, parse_length
from stitchpath.design.drawings.door import read_file
from stitchpath.design.model import Design
from stitchpath.design.profile import read_profile, with_profile

__all__ = ["FILE_LIMIT", "design_from_text", "design_of_drawing", "load_design"]

FILE_LIMIT = 4_000_000  # bytes: some ten thousand patches; a larger text takes seconds to read
_DEEP = 40  # dots in a key: no design comes near
_QUOTED = re.compile(
    r'"""(?:[^\\]|\\.)*?"""|' + r"'''.*?'''" + r'|"(?:[^"\\\n]|\\.)*"|' + r"'[^'\n]*'|#[^\n]*",
    re.DOTALL,
)
_DOTTED = re.compile(rf"(?:\.\s{{0,9}}(?:\"\"|[\w-]{{1,40}})\s{{0,9}}){{{_DEEP}}}")
_BARE = re.compile(r"[=\[,]\s{0,9}(\d[^,\]}#='\"]{0,40}\"?)")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def load_design(
    path: str | Path, *, outside: bool = False, profile: str | Path | None = None
) -> Design:
    """Read a design file.

    Parameters
    ----------
    path
        A TOML file.
    outside
        Whether drawings that it names may lie outside its own folder.
    profile
        A shop's profile: a TOML file with what designs need not repeat.

    Returns
    -------
    Design
        Checked key by key; all lengths in it are mm, whatever unit the file uses.

    Raises
    ------
    StitchpathError
        When the file is missing, too large, no TOML, or not a design; one sentence that names the
        file, the place, what was found and what was expected.

    Examples
    --------
    >>> import stitchpath
    >>> design = stitchpath.load_design("designs/harbour-runner.toml")
    >>> design.name, sorted(design.threads)
    ('Harbour runner', ['dark coral', 'grey'])
    """
    path = Path(path)
    data = read_file(path, "", "a design file in TOML", FILE_LIMIT)
    if data[:2] in _UTF16:
        raise StitchpathError(
            f"{path}: found text in UTF-16, expected UTF-8: save it again with that encoding"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise StitchpathError(
            f"{path}: found a byte that is no UTF-8 at place {error.start}, expected a text file"
        ) from None
    shop = None if profile is None else read_profile(profile)
    return design_from_text(text, str(path), path.parent, outside=outside, profile=shop)


def design_from_text(
    text: str,
    source: str,
    folder: Path = Path(),
    *,
    outside: bool = False,
    profile: Mapping[str, Mapping[str, Any]] | None = None,
) -> Design:
    """Read a design from TOML text.

    Parameters
    ----------
    text
        The TOML.
    source
        What to call it in errors, such as the file's name.
    folder
        Where files that it names lie.
    outside
        Whether they may lie outside that folder.
    profile
        From `read_profile`.

    Raises
    ------
    StitchpathError
        As `load_design`.
    """
    if _DOTTED.search(_QUOTED.sub('""', text)):
        raise StitchpathError(
            f"{source}: found a key of over {_DEEP} parts, expected a design written in TOML"
        )
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        said = "" if isinstance(error, RecursionError) else str(error)
        raise StitchpathError(f"{source}: {_slip(said, text)}") from None
    data = with_profile(data, profile)
    return Design.build(data, source=source, folder=folder, outside=outside)


_DRAWN = (".svg", ".dxf")
_INCHES = re.compile(
    rb'<svg[^>]{0,2000}?\bwidth\s*=\s*["\'][^"\']{0,40}in["\']|\$INSUNITS\s{1,9}70\s{1,9}[12]\b',
)
_HEAD = 100_000  # bytes in which a drawing tells its unit


def design_of_drawing(
    path: str | Path,
    *,
    size: str | None = None,
    unit: str | None = None,
    profile: str | Path | None = None,
) -> Design | None:
    """Make a design of a drawing alone: its top, with all seams to be stitched.

    Parameters
    ----------
    path
        An SVG or DXF file, by its ending; else it is no drawing.
    size
        Longer side of the finished top, such as "60 in".
    unit
        Or what a unit of the drawing is: "mm", "cm" or "in".
    profile
        A shop's profile: what it says holds here too, for a drawing says nothing of it.

    Returns
    -------
    Design or None
        None where the file is no drawing by its ending.

    Raises
    ------
    StitchpathError
        When the file is missing, or size, unit or profile cannot be read.
    """
    path = Path(path)
    if path.suffix.lower() not in _DRAWN:
        for name, said in (("size", size), ("unit", unit)):
            if said is not None:
                raise StitchpathError(
                    f"found {said!r} for a design, expected it for a drawing (SVG or DXF); a "
                    "design says it in itself"
                ).of_argument(name)
        return None
    data = read_file(path, "", "an SVG or DXF file")
    inches = unit == "in" or (size is not None and size.strip().lower().endswith(("in", '"', "″")))
    if size is None and unit is None:
        inches = bool(_INCHES.search(data[:_HEAD]))
    shown: Unit = "in" if inches else "mm" if unit == "mm" else "cm"
    if size is not None:
        try:
            parse_length(size, shown, least=1.0)
        except StitchpathError as error:
            raise StitchpathError(str(error)).of_argument("size") from None
    if unit is not None and unit not in ("mm", "cm", "in"):
        raise StitchpathError(f"found {unit[:40]!r}, expected mm, cm or in").of_argument("unit")
    top = {"drawing": path.name, "size": size, "unit": unit}
    plain = " ".join(re.sub(r"[_-]+", " ", path.stem).split()) or "Drawing"
    plain = "".join(c for c in plain if c.isprintable())[:80]
    data_of = {
        "name": plain[:1].upper() + plain[1:],
        "unit": shown,
        "top": {key: value for key, value in top.items() if value is not None},
    }
    shop = None if profile is None else read_profile(profile)
    return Design.build(with_profile(data_of, shop), source=str(path), folder=path.parent)


_SLIPS = {
    "Invalid value": "found a value that is neither a number, true, false, nor a text in quotes",
    "Unescaped '\\' in a string": "found a backslash in double quotes, expected single quotes",
    "Illegal character '\\n'": "found a text that is not closed, expected its quote",
    "Illegal character": "found a sign that cannot stand here, expected letters that show",
    "Unterminated string": "found a text that is not closed, expected its quote",
    'Expected "': "found a text that is not closed, expected its quotes",
    "Expected '\"": "found a text that is not closed, expected its quotes",
    "Found invalid character": "found a sign that cannot stand here, expected letters that show",
    "Unclosed array": "found a list that is not closed, expected ]",
    "Unclosed inline table": "found a table that is not closed, expected }",
    "Cannot overwrite a value": "found a key for the second time, expected it once",
    "Duplicate inline table key": "found a key for the second time, expected it once",
    "Cannot declare": "found a table for the second time, expected it once, or [[ ]] for several",
    "Expected '=' after a key": "found a key with no = after it, expected KEY = VALUE",
    "Expected newline or end of document": "found more after a value, expected a new line",
    "Expected ']": "found a table's name that is not closed, expected [NAME] or [[NAME]]",
    "Invalid initial character for a key part": "found no key, expected KEY = VALUE or [TABLE]",
    "Invalid statement": "found no key, expected KEY = VALUE or [TABLE]",
}
"""What is said of slips in writing TOML, by how the parser's own words begin."""


def _slip(error: str, text: str) -> str:
    """Tell of a slip in writing the file, in a quilter's words, and where."""
    at = re.search(r"\(at (line (\d+), column (\d+))\)$", error)
    bare = _bare_length(text.split("\n")[int(at[2]) - 1], int(at[3])) if at else None
    if at and bare is not None:
        quote = "'" if '"' in bare else '"'
        return f"{at[1]}: found the length {bare} without quotes, expected {quote}{bare}{quote}"
    words = next((said for begins, said in _SLIPS.items() if error.startswith(begins)), None)
    if words is None:
        return f"{error[:120] or 'nested too deeply'}; expected a design written in TOML"
    place = re.search(r"\(at (.*)\)$", error)
    return f"{place[1]}: {words}" if place else words


def _bare_length(line: str, column: int) -> str | None:
    """Find a length that lacks its quotes, such as 2 1/2 in, at a column of a line."""
    for found in _BARE.finditer(line):
        length = found[1].strip()
        if found.start() < column <= found.end() + 1 and not length.isdecimal():
            try:
                parse_length(length, "in")
            except StitchpathError:
                continue
            return length
    return None
