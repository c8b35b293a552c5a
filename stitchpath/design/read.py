"""Read a design file: TOML in, a checked `Design` out, errors in a quilter's words."""

import re
import tomllib
import typing
import unicodedata
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from stitchpath.design.drawings.door import read_file
from stitchpath.design.model import Design
from stitchpath.errors import StitchpathError, nearest_name, shown
from stitchpath.units import Unit

__all__ = ["design_from_text", "design_schema", "load_design"]

_FILE_LIMIT = 4_000_000  # bytes: some ten thousand patches; a larger text takes seconds to read
_SHOWN = 60
_DEEP = 40  # dots in a key, tables in each other: no design comes near
_QUOTED = re.compile(
    r'"""(?:[^\\]|\\.)*?"""|' + r"'''.*?'''" + r'|"(?:[^"\\\n]|\\.)*"|' + r"'[^'\n]*'|#[^\n]*",
    re.DOTALL,
)
_DOTTED = re.compile(rf"(?:\.\s{{0,9}}(?:\"\"|[\w-]{{1,40}})\s{{0,9}}){{{_DEEP}}}")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
# What turns a line of text about, or ends it: it reaches files and the terminal.
_TURNING = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_PATHS = ("outline", "path")  # keys that may run over several lines


def load_design(path: str | Path, *, outside: bool = False) -> Design:
    """Read a design file.

    Parameters
    ----------
    path
        A TOML file.
    outside
        Whether drawings that it names may lie outside its own folder.

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
    data = read_file(path, "", "a design file in TOML", _FILE_LIMIT)
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
    return design_from_text(text, str(path), path.parent, outside=outside)


def design_from_text(
    text: str, source: str, folder: Path = Path(), *, outside: bool = False
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
        raise StitchpathError(f"{source}: {_slip(said)}") from None
    _plain_text(data, source)
    unit = _unit(data, source)
    try:
        design = Design.model_validate(data, context={"unit": unit})
    except ValidationError as error:
        raise StitchpathError(f"{source}: {_sentence(error, data)}") from None
    return design.from_file(source, folder, outside=outside)


def _plain_text(data: object, source: str) -> None:
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


def design_schema() -> dict[str, Any]:
    """Write the JSON Schema (draft 2020-12) of a design file."""
    schema = Design.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "stitchpath design",
    }


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


def _slip(error: str) -> str:
    """Tell of a slip in writing the file, in a quilter's words, and where."""
    words = next((said for begins, said in _SLIPS.items() if error.startswith(begins)), None)
    if words is None:
        return f"{error[:120] or 'nested too deeply'}; expected a design written in TOML"
    at = re.search(r"\(at (.*)\)$", error)
    return f"{at[1]}: {words}" if at else words


def _unit(data: Mapping[str, Any], source: str) -> Unit:
    unit = data.get("unit", "in")
    if unit not in ("in", "cm", "mm"):
        raise StitchpathError(f'{source}: unit: found {shown(unit)}, expected "in", "cm" or "mm"')
    return typing.cast("Unit", unit)


def _sentence(error: ValidationError, data: object) -> str:
    """Say the first thing that is wrong, in one sentence."""
    first, errors = _first(error, data)
    kind, where = first["type"], _place(first["loc"], data)
    if kind == "extra_forbidden":
        return _unknown_key(first["loc"], _place(first["loc"][:-1], data))
    if kind == "missing":
        parent = _place(first["loc"][:-1], data)
        if isinstance(first["loc"][-1], int):
            found = shown(_at(first["loc"][:-1], data))
            count = max(int(e["loc"][-1]) for e in errors) + 1
            return f"{parent}: found {found}, expected a list of {count}"
        inside = f" in {parent}" if parent else ""
        return f"found no key {str(first['loc'][-1])!r}{inside}, expected it to be given"
    if kind == "value_error":
        return f"{where}: {first['ctx']['error']}"
    if first["loc"][-1] == "[key]":
        table, name = _place(first["loc"][:-2], data), str(first["loc"][-2])[:_SHOWN]
        return f"{table}: found the unknown key {name!r}, expected {_expected(first)}"
    wanted = dict.fromkeys(map(_expected, errors))
    return f"{where}: found {shown(first['input'])}, expected {' or '.join(wanted)}"


def _first(error: ValidationError, data: object) -> tuple[ErrorDetails, list[ErrorDetails]]:
    """Find the first thing that is wrong, and all that is said of its place.

    Where one of several kinds may stand, each says what it wanted; that which came furthest in is
    what she meant.
    """
    errors = error.errors(include_url=False)
    places = [_steps(e["loc"], data) for e in errors]
    start = places[0]
    if errors[0]["type"] == "missing":
        parent = errors[0]["loc"][:-1]
        same = [e for e in errors if e["type"] == "missing" and e["loc"][:-1] == parent]
        return errors[0], same
    if start == errors[0]["loc"]:  # only one kind may stand there
        return errors[0], errors[:1]
    while start != errors[0]["loc"][: len(start)]:
        start = start[:-1]
    alike = [k for k, place in enumerate(places) if place[: len(start)] == start]
    meant = max(alike, key=lambda k: (len(places[k]), -k))
    same = [errors[k] for k in alike if places[k] == places[meant]]
    return errors[meant], [e for e in same if e["type"] in _EXPECTED]


def _expected(error: ErrorDetails) -> str:
    """Say what was expected, in a quilter's words."""
    told = error.get("ctx", {})
    if error["type"] == "too_long" and told.get("field_type") == "Tuple":
        return f"a list of {told['max_length']}"
    numbers = {k: f"{v:.10g}" if isinstance(v, (int, float)) else v for k, v in told.items()}
    return _EXPECTED[error["type"]].format(**numbers)


_EXPECTED = {
    "bool_parsing": "true or false",
    "bool_type": "true or false",
    "dict_type": "a table of keys",
    "finite_number": "a number that is neither inf nor nan",
    "float_parsing": "a number",
    "float_type": "a number",
    "greater_than": "a number over {gt}",
    "greater_than_equal": "a number of {ge} or more",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number of fewer digits",
    "int_type": "a whole number",
    "less_than_equal": "a number of {le} or less",
    "list_type": "a list in square brackets",
    "literal_error": "{expected}",
    "model_type": "a table of keys",
    "string_too_long": "a text of {max_length} letters or fewer",
    "string_too_short": "a text that is not empty",
    "string_type": "a text in quotes",
    "too_long": "a list of {max_length} or fewer",
    "too_short": "a list of {min_length} or more",
    "tuple_type": "a list in square brackets",
}
"""What is said of each kind of error that the model can raise; a test finds them all."""


def _at(loc: Sequence[int | str], data: Any) -> object:  # noqa: ANN401 - as TOML gives it
    for key in loc:
        data = data[key]
    return data


def _steps(loc: Sequence[int | str], data: Any) -> tuple[int | str, ...]:  # noqa: ANN401
    """Keep only the steps of a place that stand in the file, not the kind that was tried there."""
    steps: list[int | str] = []
    for key in loc:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            continue
        steps.append(key)
    return tuple(steps)


def _place(loc: Sequence[int | str], data: Any) -> str:  # noqa: ANN401
    """Name a place as `blocks.boat.size`, leaving out what is not in the file.

    What stands in a list and has a name bears it: `applique[2], "buoy", size`.
    """
    text = ""
    for key in _steps(loc, data):
        data = data[key]
        text += f"[{key + 1}]" if isinstance(key, int) else f".{key}"
        name = data.get("name") if isinstance(data, dict) and isinstance(key, int) else None
        text += f', "{name[:_SHOWN]}", ' if isinstance(name, str) else ""
    return text.strip(".").replace(", .", ", ").removesuffix(", ")


def _unknown_key(loc: Sequence[int | str], path: str) -> str:
    model: type[BaseModel] = Design
    for key in loc[:-1]:
        if key in model.model_fields:
            model = _model_in(model.model_fields[str(key)].annotation) or model
    near = nearest_name(str(loc[-1]), model.model_fields)
    inside = f" in {path}" if path else ""
    known = (
        f"the nearest known key is {near!r}"
        if near
        else ("expected one of " + ", ".join(model.model_fields))
    )
    return f"found the unknown key {str(loc[-1])[:_SHOWN]!r}{inside}, {known}"


def _model_in(annotation: object) -> type[BaseModel] | None:
    """Find the model class within an annotation such as dict[str, Block] or Sashing | None."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in typing.get_args(annotation):
        if (found := _model_in(part)) is not None:
            return found
    return None
