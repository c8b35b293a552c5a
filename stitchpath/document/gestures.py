"""Gestures, told in a quilter's terms, turned into plain edits of the text."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeAlias

from stitchpath.base.errors import unknown_name
from stitchpath.document.edge_gesture import edged
from stitchpath.document.fabrics import renamed_fabric
from stitchpath.document.fill_gesture import filled
from stitchpath.document.laying import gridded, laid
from stitchpath.document.moving import moved, parted
from stitchpath.document.reading import Reading
from stitchpath.document.seam_gestures import pressed, stitched
from stitchpath.document.threads import given_thread

__all__ = ["PLAIN", "plain_edits"]

PLAIN = ("set", "put", "drop")
"""Edits at a path, which any text takes."""
_Gesture: TypeAlias = Callable[[Any, Mapping[str, Any]], Iterable[Mapping[str, Any]]]
_GESTURES: Mapping[str, _Gesture] = {
    "lay": laid,
    "grid": gridded,
    "stitch": stitched,
    "press": pressed,
    "fill": filled,
    "edge": edged,
    "move": moved,
    "part": parted,
    "thread": given_thread,
    "rename fabric": renamed_fabric,
}


def plain_edits(document: Reading, edit: Mapping[str, Any]) -> Iterable[Mapping[str, Any]]:
    """Turn an edit into plain ones: set, put and drop at a path.

    Parameters
    ----------
    document
        What it is made in.
    edit
        With its `op`: "lay" blocks, "grid" (so many across and down), "stitch" and "press" seams,
        "fill" a region, "edge" lines at one, "move" a piece, "part" it from others laid like it,
        "thread" for a kind of line, "rename fabric"; or plain already.

    Raises
    ------
    StitchpathError
        When it cannot be made there.
    """
    op = edit["op"]
    if op in PLAIN:
        return [edit]
    if op not in _GESTURES:
        raise unknown_name("", "edit", op, [*PLAIN, *_GESTURES])
    return _GESTURES[op](document, edit)
