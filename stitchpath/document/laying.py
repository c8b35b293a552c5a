"""Blocks laid, turned, mirrored; layouts made larger and smaller."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from stitchpath.base.errors import StitchpathError, shown, unknown_name
from stitchpath.design.library import library_block
from stitchpath.document.asked import Edit, drop, put, set_value, texts, whole
from stitchpath.document.neat import length_like
from stitchpath.document.reading import Reading
from stitchpath.document.rows import Cell, cells_of, checked_name, row_of_length, row_with
from stitchpath.top.build import Top, darkness
from stitchpath.top.place import row_letter

__all__ = ["gridded", "laid"]

_PLACE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,3})")
_TURNS = (0, 90, 180, 270)
_MOST = 1000  # blocks in a row, and rows
_GROUNDS = ("ground", "light", "sky", "foam", "corner")  # what blocks of the library call theirs


def laid(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Lay a block at places, or turn or mirror what lies there."""
    at = list(dict.fromkeys(texts(edit, "at")))
    data = document.raw
    _refuse_drawn(data)
    asked = {key: edit[key] for key in ("block", "turn", "mirror") if edit.get(key) is not None}
    known = list(data.get("blocks", {}))
    if "library" in edit:
        asked["block"], taken = _from_library(document, edit["library"], at[0])
        known.append(asked["block"])
        yield from taken
    if "block" in asked:
        checked_name(asked["block"], known)
    if asked.get("turn", 0) not in _TURNS or not isinstance(asked.get("mirror", False), bool):
        raise StitchpathError(
            f"lay: found the turn {shown(asked.get('turn', 0))}, expected 0, 90, 180 or 270"
        )
    inside, rest = _within(document, at)
    for block, cells in inside.items():
        rows = data["blocks"][block]["rows"]
        yield from _changed_rows(("blocks", block, "rows"), rows, cells, asked)
    layout = data.get("layout", {})
    if layout.get("place"):
        yield from _placed(layout["place"], rest, asked)
    elif rest:
        yield from _in_rows(layout, rest, asked)


def _refuse_drawn(data: Mapping[str, Any]) -> None:
    if "top" in data:
        raise StitchpathError(
            "found a drawn top, whose blocks lie as the drawing has them, expected one of rows or "
            "places: change the drawing"
        )


def _within(document: Reading, at: list[str]) -> tuple[dict[str, dict[int, Cell]], list[str]]:
    """Part places within blocks made of blocks, as "harbour.2", from those of the layout."""
    blocks = document.raw.get("blocks", {})
    inside: dict[str, dict[int, Cell]] = {}
    rest: list[str] = []
    for place in at:
        block, _, number = place.rpartition(".")
        if not block:
            rest.append(place)
            continue
        rows = blocks.get(block, {}).get("rows") if isinstance(blocks.get(block), dict) else None
        if rows is None:
            raise StitchpathError(
                f"lay: found {place!r}, a block within another, expected a place of the layout, or "
                'of all such blocks, such as "harbour.2"'
            )
        cells = [cell for row in rows for cell in cells_of(row)]
        if not number.isdigit() or not 1 <= int(number) <= len(cells):
            raise unknown_name(
                "lay", "place", place, [f"{block}.{k + 1}" for k in range(len(cells))]
            )
        inside.setdefault(block, {})[int(number) - 1] = cells[int(number) - 1]
    return inside, rest


def _asked_cell(cell: Cell, asked: Mapping[str, Any]) -> Cell:
    return cell._replace(**asked)


def _changed_rows(
    path: tuple[str, ...], rows: list[str], cells: Mapping[int, Cell], asked: Mapping[str, Any]
) -> Iterator[Edit]:
    """Change cells told by their number in reading order."""
    first = 0
    for k, row in enumerate(rows):
        many = len(cells_of(row))
        mine = {
            n - first: _asked_cell(c, asked) for n, c in cells.items() if first <= n < first + many
        }
        changed = row_with(row, mine)
        if changed != row:
            yield set_value(*path, k, value=changed)
        first += many


def _placed(
    placed: list[dict[str, Any]], at: list[str], asked: Mapping[str, Any]
) -> Iterator[Edit]:
    """Change blocks placed one by one."""
    names = [f"P{k + 1}" for k in range(len(placed))]
    for place in at:
        if place not in names:
            raise unknown_name("lay", "place", place, names)
        k = names.index(place)
        for key, value in asked.items():
            usual = {"turn": 0, "mirror": False}.get(key)
            if placed[k].get(key, usual) != value:
                yield set_value("layout", "place", k, key, value=value)


def _in_rows(layout: Mapping[str, Any], at: list[str], asked: Mapping[str, Any]) -> Iterator[Edit]:
    """Change cells of the rows; where the rows are repeated, in each repeat, or else one by one."""
    rows, repeat = list(layout.get("rows", [])), int(layout.get("repeat", 1))
    cells = [cells_of(row) for row in rows]
    changes: dict[int, dict[int, Cell]] = {}
    for place in at:
        row, column = _row_column(place, cells, repeat)
        cell = cells[row % len(rows)][column]
        changes.setdefault(row, {})[column] = _asked_cell(cell, asked)
    changes = {
        row: new
        for row, mine in changes.items()
        if (new := {j: c for j, c in mine.items() if c != cells[row % len(rows)][j]})
    }
    folded = {row % len(rows): mine for row, mine in changes.items()}
    alike = all(
        changes.get(row + k * len(rows)) == mine
        for row, mine in folded.items()
        for k in range(repeat)
    )
    if alike:
        for row, mine in sorted(folded.items()):
            yield set_value("layout", "rows", row, value=row_with(rows[row], mine))
        return
    written = [row_with(row, changes.get(k, {})) for k, row in enumerate(rows * repeat)]
    yield drop("layout", "repeat")
    yield set_value("layout", "rows", value=written)


def _row_column(place: str, cells: list[list[Cell]], repeat: int) -> tuple[int, int]:
    match = _PLACE.fullmatch(place)
    letters = [row_letter(k) for k in range(len(cells) * repeat)]
    if match is None or match[1] not in letters:
        raise _no_such(place, cells, letters)
    row, column = letters.index(match[1]), int(match[2]) - 1
    if column >= len(cells[row % len(cells)]):
        raise _no_such(place, cells, letters)
    return row, column


def _no_such(place: str, cells: list[list[Cell]], letters: list[str]) -> StitchpathError:
    last = f"{letters[-1]}{len(cells[-1])}" if cells and letters else "none"
    return StitchpathError(f"lay: found the place {place[:40]!r}, expected one of A1 to {last}")


def _from_library(document: Reading, name: object, at: str) -> tuple[str, list[Edit]]:
    """Take a block of the library into the design, as large as the one that lies at a place."""
    if not isinstance(name, str):
        raise StitchpathError(f"lay: found {shown(name)}, expected the name of a library block")
    library = library_block(name, "lay")
    blocks = document.raw.get("blocks", {})
    plain = library.name.replace(" ", "-")
    for own, spec in blocks.items():
        if own == plain and isinstance(spec, dict) and spec.get("library") == library.name:
            return own, []
    own = plain
    number = 2
    while own in blocks:
        own, number = f"{plain}-{number}", number + 1
    here = next(
        (b for b in (*document.top.compounds, *document.top.blocks) if b.place.name == at), None
    )
    size: object = None
    if here is not None:
        sides = [
            length_like(v, None, document.design.unit)
            for v in (here.block.width, here.block.height)
        ]
        size = sides[0] if sides[0] == sides[1] else sides
    roles = _cast(library.fabrics, document.top)
    value = {"library": library.name, "size": size, "fabrics": roles or None}
    return own, [set_value("blocks", own, value=value)]


def _cast(roles: Sequence[str], top: Top) -> dict[str, str]:
    """Choose fabrics for the roles of a block: grounds pale, all else dark, so that it shows."""
    fabrics = list(top.fabrics)
    free = [f for f in fabrics if f not in roles] or fabrics
    pale = sorted(free, key=lambda name: darkness(top.fabrics[name]))
    cast, many = {}, {True: 0, False: 0}
    for role in (role for role in roles if role not in fabrics):
        ground = role in _GROUNDS
        row = pale if ground else pale[::-1]
        cast[role] = row[many[ground] % len(row)]
        many[ground] += 1
    return cast


def gridded(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Make the layout so many blocks wide and high; on point `rows` counts the full rows.

    With `on_point` the blocks are set so, or straight.
    """
    columns, rows = whole(edit, "columns", 1, _MOST), whole(edit, "rows", 1, _MOST)
    data = document.raw
    _refuse_drawn(data)
    layout = data.get("layout", {})
    if layout.get("place"):
        raise StitchpathError(
            "grid: found blocks placed one by one, expected blocks in rows: put or drop the places"
        )
    old, repeat = list(layout.get("rows", [])), int(layout.get("repeat", 1))
    known = list(data.get("blocks", {}))
    block = edit.get("block") or ("plain" if "plain" in known else cells_of(old[-1])[-1].block)
    checked_name(block, known)
    on_point = bool(edit.get("on_point", layout.get("on_point")))
    if on_point != bool(layout.get("on_point")):
        yield from _set_over(data, on_point=on_point)
    if on_point and columns < 2:  # noqa: PLR2004 - rows of one and none
        raise StitchpathError("grid: found 1 column on point, expected two or more")
    count = 2 * rows - 1 if on_point else rows
    lengths = [columns - (k % 2 if on_point else 0) for k in range(count)]
    if repeat > 1 and not on_point and count % len(old) == 0 and count >= len(old):
        written = [row_of_length(row, columns, block) for row in old]
        yield from _rows_set(old, written)
        if count // len(old) != repeat:
            yield set_value("layout", "repeat", value=count // len(old))
    else:
        kept = (old * repeat)[:count]
        more = [""] * (count - len(kept))
        written = [row_of_length(r, n, block) for r, n in zip(kept + more, lengths, strict=True)]
        if repeat > 1:
            yield drop("layout", "repeat")
            yield set_value("layout", "rows", value=written)
        else:
            yield from _rows_set(old, written)
    yield from _names_left(layout, lengths)


def _set_over(data: Mapping[str, Any], *, on_point: bool) -> Iterator[Edit]:
    """Set the blocks on point, with all that this asks for, or straight again."""
    layout = data.get("layout", {})
    yield set_value("layout", "on_point", value=on_point or None)
    if not on_point:
        yield set_value("layout", "setting", value=None)
        return
    sashing = layout.get("sashing") or {}
    if "setting" not in layout:
        yield set_value("layout", "setting", value=next(iter(data.get("fabrics", {})), None))
    if sashing and "cornerstone" not in sashing:
        yield set_value("layout", "sashing", "cornerstone", value=sashing.get("fabric"))


def _rows_set(old: list[str], new: list[str]) -> Iterator[Edit]:
    """Write rows one by one, so that comments between them stay."""
    for k, row in enumerate(new):
        if k >= len(old):
            yield put("layout", "rows", value=row)
        elif row != old[k]:
            yield set_value("layout", "rows", k, value=row)
    for k in range(len(old) - 1, len(new) - 1, -1):
        yield drop("layout", "rows", k)


def _names_left(layout: Mapping[str, Any], lengths: list[int]) -> Iterator[Edit]:
    """Leave out names of places that are there no more."""
    there = {f"{row_letter(k)}{j + 1}" for k, n in enumerate(lengths) for j in range(n)}
    for place in layout.get("names", {}):
        if "." not in place and place not in there:
            yield drop("layout", "names", place)
