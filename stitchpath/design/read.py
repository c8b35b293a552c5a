"""Read a design file: TOML in, a checked `Design` out, errors in a quilter's words."""

import tomllib
import typing
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from stitchpath.design.model import Design
from stitchpath.errors import StitchpathError, nearest_name
from stitchpath.units import Unit

__all__ = ["design_from_text", "design_schema", "load_design"]

_FILE_LIMIT = 10_000_000  # bytes
_SHOWN = 60


def load_design(path: str | Path) -> Design:
    """Read a design file.

    Parameters
    ----------
    path
        A TOML file.

    Raises
    ------
    StitchpathError
        When the file is missing, too large, no TOML, or not a design; one sentence that names the
        file, the place, what was found and what was expected.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        if size > _FILE_LIMIT:
            raise StitchpathError(
                f"{path}: found a file of {size / 1e6:.0f} MB, expected a design of at most 10 MB"
            )
        text = path.read_bytes().decode("utf-8")
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise StitchpathError(f"{path}: {reason}, expected a design file in TOML") from None
    except UnicodeDecodeError as error:
        raise StitchpathError(
            f"{path}: found a byte that is no UTF-8 at place {error.start}, expected a text file"
        ) from None
    return design_from_text(text, str(path), path.parent)


def design_from_text(text: str, source: str, folder: Path = Path()) -> Design:
    """Read a design from TOML text.

    Parameters
    ----------
    text
        The TOML.
    source
        What to call it in errors, such as the file's name.
    folder
        Where files that it names lie.

    Raises
    ------
    StitchpathError
        As `load_design`.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        said = str(error)[:120] or "nested too deeply"
        raise StitchpathError(f"{source}: {said}; expected a design written in TOML") from None
    unit = _unit(data, source)
    try:
        design = Design.model_validate(data, context={"unit": unit})
    except ValidationError as error:
        raise StitchpathError(f"{source}: {_sentence(error, data)}") from None
    return design.from_file(source, folder)


def design_schema() -> dict[str, Any]:
    """Write the JSON Schema (draft 2020-12) of a design file."""
    schema = Design.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "stitchpath design",
    }


def _unit(data: Mapping[str, Any], source: str) -> Unit:
    unit = data.get("unit", "in")
    if unit not in ("in", "cm", "mm"):
        raise StitchpathError(f'{source}: unit: found {_show(unit)}, expected "in", "cm" or "mm"')
    return typing.cast("Unit", unit)


def _show(value: object) -> str:
    text = repr(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def _sentence(error: ValidationError, data: object) -> str:
    """Say the first thing that is wrong, in one sentence."""
    first = error.errors(include_url=False)[0]
    kind, where = first["type"], _place(first["loc"], data)
    if kind == "extra_forbidden":
        return _unknown_key(first["loc"], _place(first["loc"][:-1], data))
    if kind == "missing":
        parent = _place(first["loc"][:-1], data)
        if isinstance(first["loc"][-1], int):
            found = _show(_at(first["loc"][:-1], data))
            return f"{parent}: found {found}, expected a list of {first['loc'][-1] + 1} or more"
        inside = f" in {parent}" if parent else ""
        return f"found no key {str(first['loc'][-1])!r}{inside}, expected it to be given"
    if kind == "value_error":
        return f"{where}: {first['ctx']['error']}"
    expected = first["msg"].removeprefix("Input should be ").removeprefix("a valid ")
    expected = expected[0].lower() + expected[1:]
    if expected.startswith(("number, ", "integer, ")):  # what follows is how it was read
        expected = expected.split(",")[0]
    if expected.startswith("dictionary or instance"):
        expected = "dictionary"
    return f"{where}: found {_show(first['input'])}, expected {_WORDS.get(expected, expected)}"


_WORDS = {
    "dictionary": "a table of keys",
    "list": "a list",
    "string": "a text in quotes",
    "number": "a number",
    "tuple": "a list of two",
    "boolean": "true or false",
    "integer": "a whole number",
}


def _at(loc: Sequence[int | str], data: Any) -> object:  # noqa: ANN401 - as TOML gives it
    for key in loc:
        data = data[key]
    return data


def _place(loc: Sequence[int | str], data: object) -> str:
    """Name a place as `blocks.boat.size`, leaving out what is not in the file.

    What stands in a list and has a name bears it: `applique[2], "buoy", size`.
    """
    text = ""
    for key in loc:
        try:
            data = data[key]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            break
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
