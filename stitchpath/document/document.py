"""A design as its text, edited bit by bit; what no edit touches stays byte for byte."""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from typing import Any

from stitchpath.base.errors import InternalError, StitchpathError, shown
from stitchpath.design.model import Design
from stitchpath.design.read import FILE_LIMIT
from stitchpath.document.reading import BOM, Problem, Reading
from stitchpath.top.build import Top

__all__ = ["Document", "Problem", "RefusedError"]

_DEEPEST = 20  # steps of a path


class RefusedError(StitchpathError):
    """An edit would make what is no design.

    Attributes
    ----------
    problem
        The sentence, and the field.
    """

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.sentence)
        self.problem = problem


@dataclass(frozen=True, eq=False)
class Document(Reading):
    """A design file that can be edited; a value that is never changed.

    Undoing is to keep the document before.
    """

    def edited(self, edits: Sequence[Mapping[str, Any]]) -> "Document":
        """Give the design with edits made, one after another.

        Parameters
        ----------
        edits
            Each as plain JSON with its `op`: "set", "put" or "drop" at a path, or a gesture
            (`stitchpath.document.gestures`).

        Raises
        ------
        StitchpathError
            When an edit cannot be made, or a sound design would be sound no more; its `problem`
            tells the field, where that is known.
        """
        # The door to gestures and to tomlkit: only the planning page edits.
        from stitchpath.document.gestures import PLAIN, plain_edits  # noqa: PLC0415 - that door

        document = self
        for edit in edits:
            if not isinstance(edit, Mapping) or not isinstance(edit.get("op"), str):
                raise StitchpathError(f"found {shown(edit)}, expected an edit with its op")
            if edit["op"] not in PLAIN and document.problem is not None:
                raise RefusedError(document.problem)  # a gesture is made on a top
            for plain in plain_edits(document, edit):
                document = document._changed(plain)
        if document.text == self.text:
            return self
        if document.problem is not None and self.problem is None:
            raise RefusedError(document.problem)
        told = document.lines_problem if document.problem is None else None
        if told is not None and self.problem is None and self.lines_problem is None:
            raise RefusedError(told)
        return document

    def _changed(self, edit: Mapping[str, Any]) -> "Document":
        """Make one plain edit, and see that the text then says so."""
        path = edit.get("path")
        if not _is_path(path):
            raise StitchpathError(f"found the path {shown(path)}, expected keys and numbers")
        expected = deepcopy(self.raw)
        where = tuple(path)  # type: ignore[arg-type]
        if edit["op"] == "drop" or (edit["op"] == "set" and edit.get("value") is None):
            if not _has(expected, where):
                return self
            new = self._on_lines("dropped", where)
            del _at(expected, where[:-1])[where[-1]]
        elif edit["op"] == "set":
            value = _without_none(edit["value"])
            where, value = _as_table(expected, where, value)
            _set(expected, where, value)
            new = self._on_lines("set_to", where, value)
        elif edit["op"] == "put":
            many = len(_list_at(expected, where))
            at = _place(edit.get("at"), many)
            value = _without_none(edit.get("value"))
            new = self._on_lines("put", where, at, value, many)
            if not _has(expected, where):
                _set(expected, where, [])
            _list_at(expected, where).insert(many if at is None else at, value)
        elif edit["op"] == "name":
            parent = _at(expected, where[:-1])
            renamed = {edit["value"] if k == where[-1] else k: v for k, v in parent.items()}
            parent.clear()
            parent.update(renamed)
            new = self._on_lines("named", where, edit["value"])
        else:
            raise StitchpathError(
                f"found the edit {edit['op'][:40]!r}, expected set, put, drop or a gesture"
            )
        if len(new) > FILE_LIMIT:
            raise StitchpathError("found a design of over 4 MB, expected a smaller one")
        made = replace(self, text=new, kept=self._to_keep())
        if _pruned(made.raw) != _pruned(expected):
            raise InternalError(f"the edit at {'.'.join(map(str, where))} was not written truly")
        return made

    def _to_keep(self) -> tuple[Design, Top] | None:
        built = self.__dict__
        return (built["design"], built["top"]) if "top" in built else self.kept

    def _on_lines(self, what: str, *asked: Any) -> str:  # noqa: ANN401 - as the edit has it
        """Edit the text, whatever its line ends and whether or not a mark begins it."""
        from stitchpath.document import toml_edits  # noqa: PLC0415 - the door to tomlkit

        mark = BOM if self.text.startswith(BOM) else ""
        text = self.text.removeprefix(BOM)
        crlf = "\r\n" in text and text.count("\n") == text.count("\r\n")
        text = text.replace("\r\n", "\n") if crlf else text
        text = str(getattr(toml_edits, what)(text, *asked))
        return mark + (text.replace("\n", "\r\n") if crlf else text)


def _as_table(
    data: Mapping[str, Any], where: tuple[str | int, ...], value: object
) -> tuple[tuple[str | int, ...], object]:
    """Make a table of a fabric that is told by its colour alone, to say more of it."""
    fabrics = data.get("fabrics")
    if where[0] == "fabrics" and len(where) == 3 and isinstance(fabrics, dict):  # noqa: PLR2004
        colour = fabrics.get(where[1])
        if isinstance(colour, str):
            return where[:2], {"colour": colour, str(where[2]): value}
    return where, value


def _pruned(value: Any) -> Any:  # noqa: ANN401
    """Leave out tables and lists that are empty: they say nothing, and may not be written."""
    if isinstance(value, dict):
        kept = {key: _pruned(inside) for key, inside in value.items()}
        return {key: inside for key, inside in kept.items() if inside not in ({}, [])}
    return [_pruned(inside) for inside in value] if isinstance(value, list) else value


def _without_none(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, Mapping):
        return {str(k): _without_none(v) for k, v in value.items() if v is not None}
    if isinstance(value, (list, tuple)):
        return [_without_none(v) for v in value]
    if isinstance(value, (str, bool, int, float)):
        return value
    raise StitchpathError(f"found {shown(value)}, expected a text, number, list or table")


def _is_path(path: object) -> bool:
    return (
        isinstance(path, (list, tuple))
        and 0 < len(path) <= _DEEPEST
        and isinstance(path[0], str)
        and all(isinstance(key, (str, int)) and not isinstance(key, bool) for key in path)
    )


def _at(data: Any, path: Sequence[Any]) -> Any:  # noqa: ANN401
    for key in path:
        if isinstance(key, int) != isinstance(data, list) or not isinstance(data, (dict, list)):
            raise _no_place(path)
        if isinstance(key, int) and not 0 <= key < len(data):
            raise _no_place(path)
        if key not in data and not isinstance(key, int):
            raise _no_place(path)
        data = data[key]
    return data


def _has(data: Any, path: Sequence[str | int]) -> bool:  # noqa: ANN401
    try:
        _at(data, path)
    except StitchpathError:
        return False
    return True


def _set(data: Any, path: Sequence[Any], value: object) -> None:  # noqa: ANN401
    """Set a value in plain data, with tables on the way."""
    for deep, key in enumerate(path[:-1]):
        if isinstance(data, dict) and isinstance(key, str) and key not in data:
            data[key] = {}
        data = _at(data, [key])
        if not isinstance(data, (dict, list)):
            raise _no_place(path[: deep + 1])
    last = path[-1]
    if isinstance(data, dict) and isinstance(last, str):
        data[last] = value
    else:
        _at(data, [last])
        data[last] = value


def _list_at(data: Any, path: Sequence[str | int]) -> list[Any]:  # noqa: ANN401
    if not _has(data, path):
        return []
    found = _at(data, path)
    if not isinstance(found, list):
        raise StitchpathError(f"{_words(path)}: found {shown(found)}, expected a list")
    return found


def _place(at: object, many: int) -> int | None:
    if at is None:
        return None
    if not isinstance(at, int) or isinstance(at, bool) or not 0 <= at <= many:
        raise StitchpathError(f"found the place {shown(at)}, expected one of 0 to {many}")
    return at


def _no_place(path: Sequence[str | int]) -> StitchpathError:
    return StitchpathError(f"found nothing at {_words(path)}, expected what is to be changed")


def _words(path: Sequence[str | int]) -> str:
    said = "".join(f"[{key + 1}]" if isinstance(key, int) else f".{key}" for key in path)
    return said.strip(".")[:80]
