"""Appliqué pieces moved, turned and sized; one parted from others laid like it."""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.typing import FloatArray
from stitchpath.design.model import Design
from stitchpath.document.asked import Edit, number, put, set_value, whole
from stitchpath.document.neat import length_like
from stitchpath.document.reading import Reading
from stitchpath.top.build import Piece, Top
from stitchpath.top.place import Place

__all__ = ["entry_of", "moved", "parted", "plain_size"]

_DEGREES = 2  # decimals of a turn
_MOST = 60  # pieces of one entry that are parted


def entry_of(design: Design, piece: Piece) -> int | None:
    """Find the entry of `applique` that a piece is laid by; None where it comes of a drawing."""
    for k, asked in enumerate(design.applique):
        if asked is piece.asked:
            return k
    return next((k for k, asked in enumerate(design.applique) if asked == piece.asked), None)


def _from_top(top: Top, host: Place | None, at: FloatArray) -> FloatArray:
    """Bring a point of the top to where it lies on the block that bears a piece, mm."""
    for block in (*top.blocks, *top.compounds):
        if block.place == host:
            return np.asarray(np.linalg.solve(block.frame[:, :2], at - block.frame[:, 2]))
    return at


def plain_size(piece: Piece) -> float:
    """Give the larger side of a piece before it was turned, mm."""
    if piece.asked.size is not None:
        return piece.asked.size
    angle = np.radians(-piece.level)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    points = np.concatenate([np.array(part.exterior.coords) for part in piece.shape.geoms])
    return float(np.ptp(points @ turn.T, axis=0).max())


def moved(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Move a piece to a point of the top, or to another block; turn it, size it, mirror it.

    Where several pieces are laid by one entry, as on every block of a name, all of them follow.
    """
    top, design = document.top, document.design
    piece, k = _asked(document, edit)
    old = document.raw["applique"][k]
    host = piece.host
    if "on" in edit:
        host = _host(top, edit["on"])
        yield set_value("applique", k, "on", value=edit["on"])
    if "at" in edit or "on" in edit:
        yield from _to(document, k, host, edit.get("at"))
    if "turn" in edit:
        turn = None if edit["turn"] is None else number(edit["turn"], "move: turn", 1e4)
        yield set_value("applique", k, "turn", value=turn if turn is None else _degrees(turn))
    if "size" in edit:
        size = None if edit["size"] is None else number(edit["size"], "move: size")
        value = None if size is None else length_like(size, old.get("size"), design.unit)
        yield set_value("applique", k, "size", value=value)
    if isinstance(edit.get("mirror"), bool):
        yield set_value("applique", k, "mirror", value=edit["mirror"] or None)


def _asked(document: Reading, edit: Mapping[str, Any]) -> tuple[Piece, int]:
    """Read which piece an edit means; give it with the number of its entry."""
    op, pieces = edit["op"], document.top.pieces
    if not pieces:
        raise StitchpathError(f"{op}: found no appliqué piece on the top, expected one")
    piece = pieces[whole(edit, "piece", 0, len(pieces) - 1)]
    k = entry_of(document.design, piece)
    if k is None:
        raise StitchpathError(
            f"{op}: found the piece {piece.asked.name!r}, which lies as the drawing has it, "
            "expected one of the design: change the drawing"
        )
    return piece, k


def parted(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Give every piece that one entry lays an entry of its own: each can be changed alone."""
    _, k = _asked(document, edit)
    design = document.design
    places = [p.host for p in document.top.pieces if entry_of(design, p) == k]
    hosts = [place.name for place in places if place is not None]
    if len(hosts) > _MOST:
        raise StitchpathError(
            f"part: found {len(hosts)} pieces laid by one entry, expected at most {_MOST}: lay "
            "one on the place that is to be another"
        )
    if len(hosts) < 2:  # noqa: PLR2004 - one has an entry of its own
        return
    value = document.raw["applique"][k]
    yield set_value("applique", k, "on", value=hosts[0])
    for n, host in enumerate(hosts[1:], k + 1):
        yield put("applique", at=n, value={**value, "on": host})


def _host(top: Top, on: object) -> Place | None:
    """Find the block that a name means, or the first of several; None for the whole top."""
    if on == "top":
        return None
    blocks = (*top.blocks, *top.compounds)
    for block in blocks:
        if on == block.place.name or on in block.called:
            return block.place
    known = ["top", *dict.fromkeys(block.block.name for block in blocks)]
    raise unknown_name("move", "block or place", str(on), known)


def _to(document: Reading, k: int, host: Place | None, at: Any) -> Iterator[Edit]:  # noqa: ANN401
    if at is None:
        yield set_value("applique", k, "at", value=None)
        return
    if not isinstance(at, (list, tuple)) or len(at) != 2:  # noqa: PLR2004 - across and down
        raise StitchpathError("move: found no place, expected two numbers, mm across and down")
    point = np.array([number(v, "move: at") for v in at])
    old = document.raw["applique"][k].get("at")
    local = _from_top(document.top, host, point).tolist()
    unit = document.design.unit
    if isinstance(old, list) and len(old) == len(local):
        for i, mm in enumerate(local):
            yield set_value("applique", k, "at", i, value=length_like(mm, old[i], unit))
    else:
        yield set_value("applique", k, "at", value=[length_like(mm, None, unit) for mm in local])


def _degrees(turn: float) -> float:
    """Bring an angle to between -180 and 180, on hundredths of a degree."""
    turn = round((turn + 180) % 360 - 180, _DEGREES) + 0.0
    return int(turn) if turn.is_integer() else turn
