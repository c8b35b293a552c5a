"""Where each statement of a TOML text stands: headers and values, by their paths."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item, Key, Table

from stitchpath.base.errors import StitchpathError

__all__ = ["Path", "Statement", "Statements", "attached"]

Path = tuple[str | int, ...]
"""Keys, and numbers in lists from 0."""


@dataclass(frozen=True, slots=True)
class Statement:
    """A header or a value.

    Attributes
    ----------
    path
        What it is of; elements of an array of tables by their number.
    start, end
        Where its lines begin and end, the line break counted.
    value
        Where its value begins and ends; None of a header.
    item
        Its value as parsed.
    header
        The path of the header that it stands under.
    prefix
        How its keys before the last are written in its line, with the dot.
    """

    path: Path
    start: int
    end: int
    value: tuple[int, int] | None = None
    item: Item | None = None
    header: Path = ()
    prefix: str = ""


class Statements:
    """All statements of a TOML text.

    Parameters
    ----------
    text
        Sound TOML, its lines ended by line feeds.

    Raises
    ------
    StitchpathError
        When it is written in a way that cannot be changed bit by bit.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.listed: list[Statement] = []
        self._counts: dict[Path, int] = {}
        self._at = 0
        try:
            self._body(tomlkit.parse(text), (), (), "")
        except TOMLKitError:
            self._at = -1
        if self._at != len(text):
            raise StitchpathError(
                "found tables that are written in parts, expected each in one place: this text "
                "can only be changed by hand"
            )

    @cached_property
    def by_path(self) -> dict[Path, Statement]:
        """The statement of each path, headers before values."""
        found: dict[Path, Statement] = {}
        for each in self.listed:
            found.setdefault(each.path, each)
        return found

    def under(self, path: Path) -> list[Statement]:
        """List the statements of a path and all in it."""
        return [each for each in self.listed if each.path[: len(path)] == path]

    def nearest(self, path: Path) -> Statement | None:
        """Find the value that a path leads to or into."""
        for deep in range(len(path), 0, -1):
            each = self.by_path.get(path[:deep])
            if each is not None and each.value is not None:
                return each
        return None

    def _body(self, body: Container, path: Path, header: Path, prefix: str) -> None:
        for key, item in body.body:
            if key is None:
                self._pass(item.as_string())
            elif isinstance(item, Table):
                self._table(key, item, path, header, prefix)
            elif isinstance(item, AoT):
                for each in item.body:
                    whole = (*path, key.key)
                    number = self._counts[whole] = self._counts.get(whole, -1) + 1
                    self._headed(each, (*whole, number))
            else:
                self._line(key, item, path, header, prefix)

    def _table(self, key: Key, table: Table, path: Path, header: Path, prefix: str) -> None:
        inside = (*path, key.key)
        if key.is_dotted():
            self._body(table.value, inside, header, f"{prefix}{key.as_string()}.")
        elif table.is_super_table():
            self._body(table.value, inside, inside, "")
        else:
            self._headed(table, inside)

    def _headed(self, table: Table, path: Path) -> None:
        start = self._at
        self._pass(table.trivia.indent + "[")
        end = self.text.find("\n", self._at) + 1 or len(self.text)
        self._at = end
        self.listed.append(Statement(path, start, end, header=path))
        self._body(table.value, path, path, "")

    def _line(self, key: Key, item: Item, path: Path, header: Path, prefix: str) -> None:
        start, trivia = self._at, item.trivia
        self._pass(f"{trivia.indent}{prefix}{key.as_string()}{key.sep}")
        begin = self._at
        self._pass(item.as_string())
        stop = self._at
        self._pass(f"{trivia.comment_ws}{trivia.comment}{trivia.trail}")
        self.listed.append(
            Statement((*path, key.key), start, self._at, (begin, stop), item, header, prefix)
        )

    def _pass(self, piece: str) -> None:
        if not self.text.startswith(piece, self._at):
            raise TOMLKitError
        self._at += len(piece)


def attached(text: str, start: int) -> int:
    """Tell where the comment begins that stands right above a line."""
    for begin in _lines_before(text, start):
        if not text[begin:start].lstrip().startswith("#"):
            break
        start = begin
    return start


def _lines_before(text: str, start: int) -> Iterator[int]:
    while start > 0:
        start = text.rfind("\n", 0, start - 1) + 1
        yield start
