"""Lines at the edge of a part of the top: inside it, and echoes round it."""

from collections.abc import Iterator, Mapping
from typing import Any

from stitchpath.base.errors import StitchpathError, shown
from stitchpath.document.asked import Edit, drop, put, set_value
from stitchpath.document.reading import Reading

__all__ = ["edged"]

_KEYS = ("edge_line", "echo", "corner", "thread")


def edged(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Give a region lines at its edge, or other ones; what is null is left out.

    With neither an edge line nor echoes left, nothing is said of the region any more.
    """
    region = edit.get("region")
    names = [region] if isinstance(region, str) else region
    if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
        raise StitchpathError(f"edge: found the region {shown(region)}, expected its name")
    asked = names[0] if len(names) == 1 else names
    motifs = document.raw.get("motifs", [])
    mine = [k for k, motif in enumerate(motifs) if motif.get("region") in (asked, names)]
    said = {key: edit[key] for key in _KEYS if key in edit}
    old = motifs[mine[0]] if mine else {}
    now = {**old, **said}
    if now.get("edge_line") in (None, False) and now.get("echo") is None:
        for k in reversed(mine):
            yield drop("motifs", k)
    elif not mine:
        yield put("motifs", value={"region": asked, **said})
    else:
        for key, value in said.items():
            yield set_value("motifs", mine[0], key, value=value)
