"""Rows of blocks as text: single cells changed, rows made longer or shorter; spacing kept."""

import re
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from stitchpath.base.errors import StitchpathError, shown
from stitchpath.top.layout import TOKEN

__all__ = ["Cell", "cells_of", "checked_name", "row_of_length", "row_with"]

_PARTS = re.compile(r"\s+|\S+")


class Cell(NamedTuple):
    """A block as it lies in a row: its name, degrees clockwise, and whether it is mirrored."""

    block: str
    turn: int = 0
    mirror: bool = False

    @property
    def text(self) -> str:
        """How a row says it.

        Examples
        --------
        >>> Cell("boat", 90, True).text, Cell("boat").text
        ('boat:90m', 'boat')
        """
        how = f"{self.turn or ''}{'m' if self.mirror else ''}"
        return f"{self.block}:{how}" if how else self.block


def _read(token: str) -> tuple[Cell, int, str]:
    """Read a token: the cell, how often, and how it is written without its number."""
    match = TOKEN.fullmatch(token)
    if match is None:
        raise StitchpathError(f"layout.rows: found {token[:40]!r}, expected a block name")
    cell = Cell(match["block"], int(match["turn"] or 0), bool(match["mirror"]))
    return cell, int(match["n"] or 1), token.rpartition("*")[0] if match["n"] else token


def cells_of(row: str) -> list[Cell]:
    """List the cells of a row.

    Examples
    --------
    >>> [cell.text for cell in cells_of("boat*2 wave:m")]
    ['boat', 'boat', 'wave:m']
    """
    return [cell for token in row.split() for cell, many, _ in [_read(token)] for _ in range(many)]


def row_with(row: str, changes: Mapping[int, Cell]) -> str:
    """Change cells of a row, by number from 0; what is not changed is written as before.

    Where words stood in columns, the blanks after a changed one make up for its length.

    Examples
    --------
    >>> row_with("boat*5", {2: Cell("wave")})
    'boat*2 wave boat*2'
    >>> row_with("boat   plain  boat", {0: Cell("wave", 90)})
    'wave:90 plain  boat'
    """
    parts = _PARTS.findall(row)
    at, longer = 0, 0
    for k, part in enumerate(parts):
        if part.isspace():
            if longer and len(part) > 1 and 0 < k < len(parts) - 1:
                parts[k] = " " * max(1, len(part) - longer)
            longer = 0
            continue
        cell, many, plain = _read(part)
        cells = [changes.get(at + i, cell) for i in range(many)]
        if any(new != cell for new in cells):
            runs = ((new, len(list(same))) for new, same in groupby(cells))
            parts[k] = " ".join(
                (plain if new == cell else new.text) + (f"*{n}" if n > 1 else "") for new, n in runs
            )
            longer = len(parts[k]) - len(part)
        at += many
    return "".join(parts)


def row_of_length(row: str, many: int, block: str) -> str:
    """Make a row longer, with a block, or shorter.

    Examples
    --------
    >>> row_of_length("boat wave*3", 2, "wave"), row_of_length("boat wave*3", 6, "wave")
    ('boat wave', 'boat wave*5')
    """
    kept, at = "", 0
    for part in _PARTS.findall(row):
        if part.isspace():
            kept += part
            continue
        _, count, plain = _read(part)
        count = min(count, many - at)
        if count <= 0:
            break
        kept += part if _read(part)[1] == count else plain + (f"*{count}" if count > 1 else "")
        at += count
    kept = kept.rstrip()
    if at == many:
        return kept
    last = kept.split()[-1] if kept else ""
    if last and _read(last)[0] == Cell(block):
        _, count, plain = _read(last)
        return f"{kept.removesuffix(last)}{plain}*{count + many - at}"
    more = many - at
    return f"{kept} {block}{f'*{more}' if more > 1 else ''}".strip()


def checked_name(block: object, known: Sequence[str]) -> str:
    """Refuse what no row can name.

    Raises
    ------
    StitchpathError
        When there is no such block, or its name has blanks, a colon or an asterisk in it.
    """
    if not isinstance(block, str) or block not in known:
        raise StitchpathError(
            f"found the block {shown(block)}, expected one of the design: {', '.join(known)[:200]}"
        )
    if not re.fullmatch(r"[^\s:*]+", block):
        raise StitchpathError(
            f"found the block {block[:40]!r}, expected a name without blanks, colons and asterisks "
            "for a row"
        )
    return block
