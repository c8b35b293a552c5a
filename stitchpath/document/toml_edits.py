"""Small edits of a TOML text: set, put, drop; all else stays as it is, byte for byte."""

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import Array, InlineTable, Item, SingleKey

from stitchpath.base.errors import StitchpathError, shown
from stitchpath.base.escape import toml_text
from stitchpath.document.statements import Path, Statements, attached

__all__ = ["dropped", "named", "put", "set_to", "written"]

_TABLES = ("blocks", "threads")  # each thing in them has a table of its own
_WIDE = 88  # characters: a longer list is written line by line
_LISTS = {
    ("applique",),
    ("drawn",),
    ("fills",),
    ("layout", "borders"),
    ("layout", "place"),
}
"""Lists whose entries are tables with a header each."""


def written(value: object) -> str:
    """Write a value as TOML.

    Examples
    --------
    >>> written({"width": 2.0, "fabric": "sea"}), written(["boat*3"])
    ('{ width = 2, fabric = "sea" }', '["boat*3"]')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        plain = "\\" in value and "'" not in value and value.isprintable()
        return f"'{value}'" if plain else toml_text(value)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, Mapping):
        pairs = ", ".join(f"{_key(k)} = {written(v)}" for k, v in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    if isinstance(value, Sequence):
        return f"[{', '.join(map(written, value))}]"
    raise StitchpathError(f"found {shown(value)}, expected a text, number, list or table")


def _long(value: object) -> str:
    """Write the value of a line: a long list goes line by line."""
    line = written(value)
    if isinstance(value, list) and (len(line) > _WIDE or _is_grid(value)):
        return "[\n" + "".join(f"  {written(each)},\n" for each in value) + "]"
    return line


def _is_grid(value: list[object]) -> bool:
    return len(value) > 1 and all(isinstance(v, str) and " " in v for v in value)


def _key(name: str) -> str:
    plain = name and all(c.isascii() and (c.isalnum() or c in "-_") for c in name)
    return name if plain else toml_text(name)


def set_to(text: str, path: Path, value: object) -> str:
    """Set the value at a path; tables are made as needed."""
    found = Statements(text)
    near = found.nearest(path)
    if near is not None and near.value is not None and near.item is not None:
        begin, stop = near.value
        changed = _set_in(near.item, path[len(near.path) :], value)
        return text[:begin] + changed + text[stop:]
    if found.under(path):
        if isinstance(value, Mapping):
            return _set_table(text, path, value)
        if isinstance(path[-1], int):
            raise StitchpathError(f"found {shown(value)}, expected a table of keys, as beside it")
        text = dropped(text, path)
        found = Statements(text)
    deep = next((d for d in range(len(path)) if not _is_there(found, path[: d + 1])), len(path) - 1)
    for key in reversed(path[deep + 1 :]):
        value = [value] if isinstance(key, int) else {key: value}
    return _new(found, path[: deep + 1], value)


def _set_table(text: str, path: Path, value: Mapping[str, object]) -> str:
    """Set a table with a header, key by key: what stays as it was is not touched."""
    deep = len(path)
    there = dict.fromkeys(s.path[deep] for s in Statements(text).under(path) if s.path[deep:])
    for key in there:
        if key not in value:
            text = dropped(text, (*path, key))
    for key, inside in value.items():
        text = set_to(text, (*path, key), inside)
    return text


def _is_there(found: Statements, path: Path) -> bool:
    return bool(found.under(path))


def put(text: str, path: Path, at: int | None, value: object, many: int) -> str:
    """Put a value into a list, before a number or at its end.

    Parameters
    ----------
    text
        The TOML.
    path
        Of the list.
    at
        Before which entry; None for the end.
    value
        The new entry.
    many
        How many entries there are.
    """
    found = Statements(text)
    near = found.nearest(path)
    at = many if at is None else at
    if near is not None and near.value is not None and near.item is not None:
        begin, stop = near.value
        changed = _put_in(near.item, path[len(near.path) :], at, value)
        return text[:begin] + changed + text[stop:]
    if not many:
        return set_to(text, path, [value])
    if at < many:
        start = attached(text, found.under((*path, at))[0].start)
        return f"{text[:start]}{_headed(path, value, listed=True)}\n{text[start:]}"
    return _after(text, found.under(path)[-1].end, _headed(path, value, listed=True))


def dropped(text: str, path: Path) -> str:
    """Leave out a key, a table or an entry of a list."""
    found = Statements(text)
    near = found.nearest(path)
    if near is not None and near.value is not None and near.item is not None:
        if near.path == path:
            return text[: near.start] + text[near.end :]
        begin, stop = near.value
        return text[:begin] + _drop_in(near.item, path[len(near.path) :]) + text[stop:]
    while here := found.under(path):
        first = here[0]
        last = first
        for each in found.listed[found.listed.index(first) :]:
            if each.path[: len(path)] != path:
                break
            last = each
        start = attached(text, first.start) if first.value is None else first.start
        end = last.end
        if text[:start].endswith("\n\n") or not start:  # one blank line goes with it
            end += text.startswith("\n", end)
        text = text[:start] + text[end:]
        if not text[start:].strip():
            text = text[:start].rstrip("\n") + "\n" + text[start:].lstrip("\n")
        if isinstance(path[-1], int):
            break
        found = Statements(text)
    return text


def _new(found: Statements, path: Path, value: object) -> str:
    """Write what is not there yet, where one would look for it."""
    text, parent = found.text, path[:-1]
    own = (
        len(path) == 1
        or (
            len(path) == 2  # noqa: PLR2004 - [TABLE.NAME]
            and path[0] in _TABLES
            and not any(each.value and not each.header for each in found.under(path[:1]))
        )
    )
    if own and isinstance(value, Mapping):
        beside = found.under(path[:1]) if len(path) > 1 else []
        end = beside[-1].end if beside else len(text)
        return _after(text, end, _headed(path, value))
    if _is_list(path) and isinstance(value, list) and value and isinstance(value[0], Mapping):
        beside = found.under(path[:1]) if len(path) > 1 else []
        end = beside[-1].end if beside else len(text)
        return _after(text, end, "\n".join(_headed(path, v, listed=True) for v in value))
    beside = [each for each in found.listed if each.path[:-1] == parent and each.value]
    alike = [each for each in beside if each.header == parent] or beside
    head = found.by_path.get(parent)
    if alike:
        last = alike[-1]
        at, prefix = last.end, last.prefix
        indent = text[last.start : last.end]
        prefix = indent[: len(indent) - len(indent.lstrip())] + prefix
    elif head is not None and head.value is None:
        at, prefix = head.end, ""
    elif not parent:
        at, prefix = 0, ""
    else:
        return _after(text, _end_of(found, parent), _headed(parent, {path[-1]: value}))
    broken = "" if not at or text[:at].endswith("\n") else "\n"
    return f"{text[:at]}{broken}{prefix}{_key(str(path[-1]))} = {_long(value)}\n{text[at:]}"


def _end_of(found: Statements, path: Path) -> int:
    """Find where all that is written of a table begins; its own header goes before."""
    beside = found.under(path[:1])
    return beside[-1].end if beside else len(found.text)


def _is_list(path: Path) -> bool:
    return path in _LISTS or (len(path) == 3 and path[0] == "blocks" and path[2] == "patches")  # noqa: PLR2004


def _headed(path: Path, value: object, *, listed: bool = False) -> str:
    """Write a table with its header."""
    if not isinstance(value, Mapping):
        raise StitchpathError(f"found {shown(value)}, expected a table of keys")
    name = ".".join(_key(str(key)) for key in path if not isinstance(key, int))
    lines = [f"[[{name}]]" if listed else f"[{name}]"]
    later = []
    for key, inside in value.items():
        tables = isinstance(inside, list) and inside and isinstance(inside[0], Mapping)
        if tables and _is_list((*path, key)):
            later += ["", *(_headed((*path, key), v, listed=True) for v in inside)]
        else:
            lines.append(f"{_key(key)} = {_long(inside)}")
    return "\n".join([*lines, *(part.rstrip("\n") for part in later)]) + "\n"


def _after(text: str, end: int, new: str) -> str:
    """Set a table with its header after a place, a blank line before it."""
    before, rest = text[:end], text[end:]
    if not rest.strip():
        before, rest = text.rstrip("\n") + "\n" if text.strip() else "", ""
        return f"{before}\n{new}" if before else new
    broken = "" if before.endswith("\n") or not before else "\n"
    blank = "" if rest.startswith("\n") else "\n"
    return f"{before}{broken}\n{new}{blank}{rest}"


def _item(text: str) -> Item:
    return tomlkit.value(text)


def _set_in(item: Item, path: Path, value: object) -> str:
    """Give the text of a value of which a part is set."""
    if not path:
        plain = _plain(item)
        if plain == value and type(plain) is type(value):
            return item.as_string()
        single = item.as_string().startswith("'")
        if single and isinstance(value, str) and "'" not in value and value.isprintable():
            return f"'{value}'"
        return _long(value)
    key, rest = path[0], path[1:]
    if isinstance(item, Array) and isinstance(key, int):
        item[key] = _item(_set_in(item.item(key), rest, value))
        return item.as_string()
    if isinstance(item, InlineTable) and isinstance(key, str):
        for k, (name, inside) in enumerate(item.value.body):
            if name is not None and name.key == key and isinstance(name, SingleKey):
                new = _item(_set_in(inside, rest, value))
                new.trivia.indent, new.trivia.comment_ws = inside.trivia.indent, ""
                new.trivia.trail = inside.trivia.trail
                item.value.body[k] = (name, new)
                return item.as_string()
        for deeper in reversed(rest):
            value = [value] if isinstance(deeper, int) else {deeper: value}
        plain = _plain(item)
        return _inline(item, {key: written(_merged(plain.get(key), value))})
    raise _not_there(path)


def _merged(old: object, new: object) -> object:
    if isinstance(old, dict) and isinstance(new, dict):
        return {**old, **{key: _merged(old.get(key), value) for key, value in new.items()}}
    return new


def _put_in(item: Item, path: Path, at: int, value: object) -> str:
    if not path and isinstance(item, Array):
        many = len(item)
        text = item.as_string()
        if not many:
            return _long([value])
        if at >= many and "\n" not in text:
            return f"{text[:-1].rstrip().rstrip(',')}, {written(value)}]"
        if "\n" not in text and at == 0:
            return f"[{text[1:2] if text[1] == ' ' else ''}{written(value)}, {text[1:].lstrip()}"
        item.insert(at, _item(written(value)))
        return item.as_string()
    return _through(item, path, lambda inside, rest: _put_in(inside, rest, at, value), value)


def _drop_in(item: Item, path: Path) -> str:
    if len(path) == 1 and isinstance(item, Array) and isinstance(path[0], int):
        if len(item) == 1:
            return "[]"
        del item[path[0]]
        return item.as_string()
    if len(path) == 1 and isinstance(item, InlineTable):
        return _inline(item, {path[0]: None})
    return _through(item, path, _drop_in, None)


def _through(item: Item, path: Path, change: Any, value: object) -> str:  # noqa: ANN401
    """Change what lies further in."""
    key = path[0] if path else None
    if isinstance(item, Array) and isinstance(key, int):
        item[key] = _item(change(item.item(key), path[1:]))
        return item.as_string()
    if isinstance(item, InlineTable):
        for k, (name, inside) in enumerate(item.value.body):
            if name is not None and name.key == key:
                new = _item(change(inside, path[1:]))
                item.value.body[k] = (name, new)
                return item.as_string()
        if value is not None:
            return _inline(item, {key: written([value])})
    raise _not_there(path)


def _inline(item: InlineTable, changes: Mapping[Any, str | None]) -> str:
    """Write an inline table anew with keys changed, added or left out."""
    pairs = {
        name.key: (name.as_string().strip(), inside.as_string())
        for name, inside in item.value.body
        if name is not None and isinstance(name, SingleKey) and not name.is_dotted()
    }
    for key, value in _plain(item).items():
        pairs.setdefault(key, (_key(key), written(value)))
    for key, text in changes.items():
        if text is None:
            pairs.pop(key, None)
        else:
            pairs[key] = (pairs[key][0] if key in pairs else _key(str(key)), text)
    listed = ", ".join(f"{name} = {text}" for name, text in pairs.values())
    return f"{{ {listed} }}" if listed else "{}"


def _plain(item: Item) -> Any:  # noqa: ANN401 - as TOML gives it
    return item.unwrap()


def _not_there(path: Path) -> StitchpathError:
    where = ".".join(map(str, path)) or "there"
    return StitchpathError(f"found nothing at {where}, expected what is to be changed")


def named(text: str, path: Path, name: str) -> str:
    """Give a key of a table another name, where it stands."""
    found = Statements(text)
    near, key = found.nearest(path), str(path[-1])
    if near is not None and near.value is not None and near.item is not None:
        begin, stop = near.value
        if near.path == path:
            return text[: near.start] + _renamed(text[near.start : begin], key, name) + text[begin:]
        if len(path) != len(near.path) + 1:
            raise _not_there(path)
        moved = {name if k == key else k: v for k, v in _plain(near.item).items()}
        return text[:begin] + written(moved) + text[stop:]
    for each in reversed(found.under(path)):
        if each.value is None:
            line = _renamed(text[each.start : each.end], key, name)
            text = text[: each.start] + line + text[each.end :]
    return text


def _renamed(line: str, key: str, name: str) -> str:
    """Write a name in place of a key, which stands in a line bare or in quotes."""
    for form in (f'"{key}"', f"'{key}'", toml_text(key), key):
        if form in line:
            before, _, after = line.rpartition(form)
            return f"{before}{_key(name)}{after}"
    raise _not_there((key,))
