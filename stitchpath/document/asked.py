"""What an edit asks for, read with one sentence for each slip; the edits that come of it."""

from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from stitchpath.base.errors import StitchpathError, shown

__all__ = ["Edit", "drop", "number", "put", "set_value", "text", "texts", "whole"]

Edit: TypeAlias = dict[str, Any]


def set_value(*path: str | int, value: object) -> Edit:
    """Set what is at a path; None leaves it out."""
    return {"op": "set", "path": list(path), "value": value}


def put(*path: str | int, value: object, at: int | None = None) -> Edit:
    """Put a value into a list."""
    return {"op": "put", "path": list(path), "at": at, "value": value}


def drop(*path: str | int) -> Edit:
    """Leave out what is at a path."""
    return {"op": "drop", "path": list(path)}


def text(edit: Mapping[str, Any], key: str) -> str:
    """Read a text of an edit."""
    value = edit.get(key)
    if not isinstance(value, str) or not value:
        raise _slip(edit, key, "a text")
    return value


def texts(edit: Mapping[str, Any], key: str, many: int | None = None) -> list[str]:
    """Read a list of texts."""
    value = edit.get(key)
    good = isinstance(value, Sequence) and not isinstance(value, str) and len(value) > 0
    if not good or not all(isinstance(v, str) for v in value or []):
        raise _slip(edit, key, "a list of texts")
    if many is not None and len(value or []) != many:
        raise _slip(edit, key, f"a list of {many} texts")
    return list(value or [])


def whole(edit: Mapping[str, Any], key: str, least: int, most: int) -> int:
    """Read a whole number."""
    value = edit.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise _slip(edit, key, f"a whole number of {least} to {most}")
    return value


def number(value: object, what: str, most: float = 1e6) -> float:
    """Read a number."""
    good = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not good or not abs(float(value)) <= most:  # type: ignore[arg-type] # also what is no number
        raise StitchpathError(f"{what}: found {shown(value)}, expected a number")
    return float(value)  # type: ignore[arg-type]


def _slip(edit: Mapping[str, Any], key: str, expected: str) -> StitchpathError:
    found = shown(edit[key]) if key in edit else "nothing"
    return StitchpathError(f"{edit['op'][:20]}: found {found} as {key}, expected {expected}")
