"""What is wrong with a design, in a quilter's words: one sentence for what the model says."""

import typing
from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from stitchpath.base.errors import nearest_name, shown

__all__ = ["sentence"]

_SHOWN = 60


def sentence(error: ValidationError, data: object, model: type[BaseModel]) -> str:
    """Say the first thing that is wrong, in one sentence.

    Parameters
    ----------
    error
        What the model said.
    data
        What it was given.
    model
        The model; its keys are what is looked for in place of an unknown one.
    """
    first, errors = _first(error, data)
    kind, where = first["type"], _place(first["loc"], data)
    if kind == "extra_forbidden":
        return _unknown_key(first["loc"], _place(first["loc"][:-1], data), model)
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

    Where one of several kinds may stand, each says what it wanted. The one that got furthest into
    what she wrote is the one she meant.
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
    """Leave out of a place what is not in the file, such as the kind that was tried there."""
    steps: list[int | str] = []
    for key in loc:
        if isinstance(data, str):  # a text has letters by number, but no places
            break
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


def _unknown_key(loc: Sequence[int | str], path: str, model: type[BaseModel]) -> str:
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
