"""A region filled, filled otherwise, or left bare."""

from collections.abc import Iterator, Mapping
from typing import Any

from stitchpath.base.errors import StitchpathError, shown
from stitchpath.document.asked import Edit, drop, put, set_value
from stitchpath.document.reading import Reading
from stitchpath.document.seam_gestures import such_name

__all__ = ["filled"]

_KEYS = ("spacing", "inset", "angle", "seed", "thread", "motif", "id")
_SPACING = {"in": "1/2 in", "cm": "1.5 cm", "mm": "15 mm"}
"""Between lines where nothing is said; our own choice."""


def filled(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Fill a region with a style, or leave it bare where the style is null."""
    key = "fabric" if edit.get("fabric") else "region"
    asked = edit.get(key)
    names = [asked] if isinstance(asked, str) else asked
    if (
        not isinstance(names, (list, tuple))
        or not names
        or not all(isinstance(n, str) for n in names)
    ):
        raise StitchpathError(f"fill: found the region {shown(asked)}, expected its name")
    if edit.get("such") and key == "region":
        names = [such_name(document.top, name) for name in names]
    asked = names[0] if len(names) == 1 else list(names)
    fills = document.raw.get("fills", [])
    mine = [k for k, fill in enumerate(fills) if _same(fill.get(key), asked)]
    if edit.get("style") is None:
        for k in reversed(mine):
            yield drop("fills", k)
        return
    said = {k: edit[k] for k in ("style", *_KEYS) if k in edit}
    if not mine:
        spacing = _SPACING[document.design.unit]
        yield put("fills", value={key: asked, "style": None, "spacing": spacing, **said})
        return
    if said["style"] != "motif rows":
        said = {"motif": None, "id": None, **said}
    for name, value in said.items():
        if value is not None or name in fills[mine[0]]:
            yield set_value("fills", mine[0], name, value=value)


def _same(one: object, other: object) -> bool:
    both = ([v] if isinstance(v, str) else v for v in (one, other))
    first, second = both
    return first == second
