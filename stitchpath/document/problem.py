"""Which field of a design a sentence is about."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from stitchpath.top.layout import TOKEN
from stitchpath.top.place import row_letter

__all__ = ["path_in"]

_FABRIC = re.compile(r"(.+?): found the unknown fabric ")
_STRIPS: Mapping[str, tuple[str, ...]] = {
    "sashing": ("sashing", "fabric"),
    "cornerstone": ("sashing", "cornerstone"),
    "setting": ("setting",),
}
"""Where the fabric of strips and stones is told."""
_MISSING = re.compile(r"found (?:no key|the unknown key) '([^']*)'(?: in (.*?))?, ")


def path_in(sentence: str, data: Mapping[str, Any]) -> tuple[str | int, ...] | None:
    """Find the field of a design that a sentence begins with, or a key that it misses.

    Parameters
    ----------
    sentence
        Without the name of a file, such as 'applique[2], "buoy", size: found ...'.
    data
        The design as plain data.

    Returns
    -------
    tuple or None
        Keys and numbers, from 0; None where it names no field.

    Examples
    --------
    >>> path_in("layout.rows[2]: found the unknown block 'bat'", {"layout": {"rows": ["a", "bat"]}})
    ('layout', 'rows', 1)
    """
    placed = _at_place(sentence, data)
    if placed is not None:
        return placed
    missing = _MISSING.match(sentence)
    if missing:
        inside = _walk(f"{missing[2]}:", data)[0] if missing[2] else ()
        return (*inside, missing[1])
    path, rest = _walk(sentence, data)
    return path if path and rest.startswith((":", " ", ",")) else None


def _at_place(sentence: str, data: Mapping[str, Any]) -> tuple[str | int, ...] | None:
    """Find the field that tells the fabric of a place, such as "border 1 left" or "A2 sail"."""
    match = _FABRIC.match(sentence)
    layout = data.get("layout")
    if match is None or not isinstance(layout, Mapping):
        return None
    where = match[1]
    border = re.match(r"border (\d+)", where)
    if border:
        return ("layout", "borders", int(border[1]) - 1, "fabric")
    for word, path in _STRIPS.items():
        if where.startswith(word):
            return ("layout", *path)
    block = _block_at(where.partition(" ")[0], layout)
    return ("blocks", block) if block and block in data.get("blocks", {}) else None


def _block_at(place: str, layout: Mapping[str, Any]) -> str | None:
    """Tell which block a layout lays at a place."""
    rows, freely = layout.get("rows", []), layout.get("place", [])
    if place[:1] == "P" and place[1:].isdecimal() and 0 < int(place[1:]) <= len(freely):
        return str(freely[int(place[1:]) - 1].get("block"))
    for k, row in enumerate(rows * int(layout.get("repeat", 1))):
        letters = row_letter(k)
        number = place.removeprefix(letters)
        if place.startswith(letters) and number.isdecimal():
            cells = [c for token in row.split() for c in _cells(token)]
            return cells[int(number) - 1] if 0 < int(number) <= len(cells) else None
    return None


def _cells(token: str) -> list[str]:
    match = TOKEN.fullmatch(token)
    return [match["block"]] * int(match["n"] or 1) if match else []


def _walk(text: str, data: Any) -> tuple[tuple[str | int, ...], str]:  # noqa: ANN401 - as TOML gives it
    """Go along the names that a text begins with, as far as there are such keys."""
    path: list[str | int] = []
    while True:
        step = _step(text, data, first=not path)
        if step is None:
            return tuple(path), text
        key, text = step
        path.append(key)
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return tuple(path), text


def _step(text: str, data: Any, *, first: bool) -> tuple[str | int, str] | None:  # noqa: ANN401
    if isinstance(data, Sequence) and not isinstance(data, str):
        return _entry(text, data)
    return _key(text, data, first=first) if isinstance(data, Mapping) else None


def _entry(text: str, data: Sequence[Any]) -> tuple[str | int, str] | None:
    """Read the number of an entry of a list, or its name."""
    number = re.match(r"\[(\d+)\]", text)
    if number:
        return int(number[1]) - 1, text[number.end() :]
    named = re.match(r', patch "(.*?)"', text)
    return _named(named, data, text) if named else None


def _key(text: str, data: Mapping[str, Any], *, first: bool) -> tuple[str | int, str] | None:
    """Read a key of a table."""
    named = re.match(r', patch "(.*?)"', text)
    if named and isinstance(data.get("patches"), Sequence):
        return "patches", text
    said = re.match(r', "[^"]*"(?:, )?', text)  # what stands in a list tells its name too
    if said:
        text = "." + text[said.end() :] if text[said.end() - 2 : said.end()] == ", " else ""
    elif text.startswith(", "):
        text = "." + text[2:]
    if not first and not text.startswith("."):
        return None
    text = text if first else text[1:]
    near = [key for key in data if text.startswith(key) and _ends(text[len(key) :])]
    if near:
        key = max(near, key=len)
        return key, text[len(key) :]
    other = re.match(r"[a-z_]+(?=[:.\[, ])", text)  # a key that is not given yet
    return (other[0], text[other.end() :]) if other and not first else None


def _named(named: re.Match[str], data: Sequence[Any], text: str) -> tuple[str | int, str] | None:
    for number, each in enumerate(data):
        if isinstance(each, Mapping) and each.get("name") == named[1]:
            return number, text[named.end() :]
    return None


def _ends(rest: str) -> bool:
    return not rest or rest[0] in ":.[, "
