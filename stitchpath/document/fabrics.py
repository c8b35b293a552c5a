"""A fabric called otherwise, wherever a design names it."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.design.library import library_block
from stitchpath.document.asked import Edit, set_value, text
from stitchpath.document.reading import Reading

__all__ = ["renamed_fabric"]

_NAMED = ("fabric", "corner_fabric", "cornerstone", "setting")


def renamed_fabric(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Give a fabric another name, everywhere."""
    old, new = text(edit, "fabric"), text(edit, "to")
    data = document.raw
    fabrics = data.get("fabrics", {})
    if old not in fabrics:
        raise unknown_name("rename fabric", "fabric", old, fabrics)
    if new in fabrics:
        raise StitchpathError(
            f"rename fabric: found {new!r}, which another fabric is called, expected a new name"
        )
    if re.search(r"[\s/\\]", new) and any("grid" in b for b in data.get("blocks", {}).values()):
        raise StitchpathError(
            f"rename fabric: found {new[:40]!r}, expected a name without blanks and slashes, for "
            "the grids of blocks"
        )
    yield {"op": "name", "path": ["fabrics", old], "value": new}
    yield from _everywhere((), data, old, new)
    for name, block in data.get("blocks", {}).items():
        if isinstance(block.get("library"), str):
            roles = library_block(block["library"], f"blocks.{name}.library").fabrics
            if old in roles and old not in block.get("fabrics", {}):
                yield set_value("blocks", name, "fabrics", old, value=new)


def _everywhere(
    path: tuple[str | int, ...],
    data: Any,  # noqa: ANN401 - as TOML gives it
    old: str,
    new: str,
) -> Iterator[Edit]:
    pairs = data.items() if isinstance(data, Mapping) else enumerate(data)
    for key, value in pairs:
        here = (*path, key)
        if path == () and key == "fabrics":
            continue
        if isinstance(value, str):
            changed = _renamed(here, value, old, new)
            if changed != value:
                yield set_value(*here, value=changed)
        elif isinstance(value, (Mapping, Sequence)):
            yield from _everywhere(here, value, old, new)


def _renamed(path: tuple[str | int, ...], value: str, old: str, new: str) -> str:
    """Rename a fabric in one text of a design, where a text at that path names fabrics."""
    key = path[-1]
    inside = path[-2] if len(path) > 1 else ""
    named = key in _NAMED or inside in ("toward", "feature") or key == "toward"
    roles = inside == "fabrics" and path[0] == "blocks"
    if named or roles:
        return new if value == old else value
    if key in ("press", "default") and path[0] in ("press", "blocks"):
        return f"toward {new}" if value == f"toward {old}" else value
    if inside == "grid":
        return "".join(new if part == old else part for part in re.split(r"([\s/\\]+)", value))
    return value
