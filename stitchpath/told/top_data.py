"""A finished top as plain JSON, for a page that draws it: patches, seams, pieces, in words too."""

from collections import Counter
from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_length
from stitchpath.design.drawings.words import UNKNOWN
from stitchpath.design.model import Design
from stitchpath.document.moving import entry_of, plain_size
from stitchpath.document.seam_gestures import seam_kinds, such_names
from stitchpath.told.path_words import area_data, line_data_of
from stitchpath.top.build import Piece, Seam, Top, darkness
from stitchpath.top.layout import LaidBlock
from stitchpath.top.place import Place
from stitchpath.top.place_names import Places

__all__ = ["fabric_data", "size_words", "top_data"]


def top_data(top: Top, design: Design) -> dict[str, Any]:
    """Tell all that a page draws of a top and points at.

    Parameters
    ----------
    top
        The finished top.
    design
        The design that it is of.

    Returns
    -------
    dict
        Plain JSON; lengths mm, x to the right and y down, `d` SVG path data with at most two
        decimals. What lies on no block has no `at`; a seam pressed open, or of unknown fabrics, no
        `high` and no `low`; `like` of seams that are "all such" is the number of their first.
    """
    words = Places(top)
    names = [patch.design_name for patch in top.patches], such_names(top)
    return {
        "unit": top.unit,
        "box": [round(v, 2) for v in top.outline.bounds],
        "size": size_words(top),
        "fabrics": fabric_data(top),
        "patches": _patches(top, words, *names),
        "blocks": [_block(top, block) for block in (*top.compounds, *top.blocks)],
        "borders": _borders(top, design),
        "seams": _seams(top, words, *names),
        "pieces": _pieces(top, design, words),
        "drawn": top.taken is not None,
    }


def fabric_data(top: Top) -> dict[str, dict[str, Any]]:
    """Tell the fabrics of a top: colour, how dark each is from 0 to 1, and whether it is known.

    Parameters
    ----------
    top
        The finished top.
    """
    return {
        name: {
            "colour": fabric.colour,
            "dark": round(darkness(fabric), 3),
            "known": name != UNKNOWN,
        }
        for name, fabric in top.fabrics.items()
    }


def size_words(top: Top) -> str:
    """Word the finished size, width times height."""
    wide, high = (format_length(v, top.unit) for v in (top.width, top.height))
    return f"{wide.removesuffix(f' {top.unit}')} \u00d7 {high}"


def _patches(
    top: Top, words: Places, names: Sequence[str], such: Sequence[str]
) -> list[dict[str, Any]]:
    block_at = {block.place: block.block.name for block in top.blocks}
    drawn = area_data(np.array([p.polygon for p in top.patches]))
    return [
        {
            "n": n,
            "name": names[n],
            "such": such[n],
            "at": patch.place.name if patch.part == "block" else None,
            "block": block_at.get(patch.place),
            "border": patch.place.number if patch.part == "border" else None,
            "fabric": patch.fabric,
            "words": words.patch_in(n) if patch.part in ("block", "square") else words.unit(n),
            "d": drawn[n],
        }
        for n, patch in enumerate(top.patches)
    ]


def _block(top: Top, block: LaidBlock) -> dict[str, Any]:
    corners = block.corners
    turn, mirror = _pose(block)
    return {
        "at": block.place.name,
        "name": top.names.get(block.place),
        "block": block.block.name,
        "turn": turn,
        "mirror": mirror,
        "box": np.round([*corners.min(axis=0), *corners.max(axis=0)], 2).tolist(),
        "d": line_data_of([np.concatenate([corners, corners[:1]])])[0],
    }


def _pose(block: LaidBlock) -> tuple[int, bool]:
    """Tell how a block is turned, degrees clockwise, and whether it is mirrored before."""
    frame = block.frame[:, :2]
    mirror = bool(np.linalg.det(frame) < 0)
    x, y = frame[:, 0] * (-1 if mirror else 1)
    return round(float(np.degrees(np.arctan2(y, x)))) % 360, mirror


def _borders(top: Top, design: Design) -> list[dict[str, Any]]:
    if top.taken is not None:
        return []
    return [
        {"n": n, "name": f"border {n}", "width": format_length(border.width, top.unit)}
        for n, border in enumerate(design.layout.borders, 1)
    ]


def _seams(
    top: Top, words: Places, names: Sequence[str], such: Sequence[str]
) -> list[dict[str, Any]]:
    drawn = line_data_of([seam.points for seam in top.seams])
    first: dict[Hashable, int] = {}
    return [
        {
            "n": n,
            "like": first.setdefault(kind, n),
            "between": [names[seam.left], names[seam.right]],
            "such": [such[seam.left], such[seam.right]],
            **_high(seam),
            "words": words.two(seam.left, seam.right),
            "d": drawn[n],
        }
        for n, (seam, kind) in enumerate(zip(top.seams, seam_kinds(top), strict=True))
    ]


def _high(seam: Seam) -> dict[str, int | None]:
    """Tell which patch bears the allowances, and which lies low."""
    if not seam.high:
        return {"high": None, "low": None}
    sides = (seam.left, seam.right) if seam.high < 0 else (seam.right, seam.left)
    return {"high": sides[0], "low": sides[1]}


def _pieces(top: Top, design: Design, words: Places) -> list[dict[str, Any]]:
    drawn = area_data(np.array([piece.shape for piece in top.pieces], dtype=object))
    frames = {block.place: block for block in (*top.compounds, *top.blocks)}
    entries = [entry_of(design, piece) for piece in top.pieces]
    copies = Counter(entries)
    return [
        {
            "n": n,
            "applique": entries[n],
            "copies": copies[entries[n]],
            "name": piece.asked.name,
            "on": piece.asked.on,
            "fabric": piece.asked.fabric,
            "fused": piece.asked.fused,
            "turn": piece.asked.turn,
            "turns": _turns(piece, frames),
            "mirror": piece.asked.mirror,
            "size": format_length(plain_size(piece), top.unit),
            "mm": round(plain_size(piece), 3),
            "at": np.round(_middle(piece, frames, top), 3).tolist(),
            "words": words.piece(n),
            "d": drawn[n],
        }
        for n, piece in enumerate(top.pieces)
    ]


def _turns(piece: Piece, frames: dict[Place, LaidBlock]) -> int:
    """Tell whether a turn to the right is one on the top as well: 1, or -1 in a mirrored block."""
    host = frames.get(piece.host) if piece.host is not None else None
    return -1 if host is not None and np.linalg.det(host.frame[:, :2]) < 0 else 1


def _middle(piece: Piece, frames: dict[Place, LaidBlock], top: Top) -> FloatArray:
    """Give the place that the design lays its middle on, mm on the top."""
    host = frames.get(piece.host) if piece.host is not None else None
    at = piece.asked.at
    if host is None:
        left, upper, right, lower = piece.shape.bounds
        middle = (top.width / 2, top.height / 2) if top.taken is None else None
        return np.array(at or middle or ((left + right) / 2, (upper + lower) / 2))
    asked = at or (host.block.width / 2, host.block.height / 2)
    return np.asarray(host.to_top(np.array([asked]))[0])
