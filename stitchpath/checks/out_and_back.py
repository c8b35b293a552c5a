"""Once, or out and back: which way to stitch the arms of a piece costs less at her prices."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from stitchpath.base.findings import Check
from stitchpath.design.model import Applique, Design
from stitchpath.lines.applique import piece_lines
from stitchpath.lines.line import Line
from stitchpath.network.graph import build_networks
from stitchpath.network.noding import node_lines
from stitchpath.route.effort import Effort
from stitchpath.route.router import route
from stitchpath.top.build import Piece, Top
from stitchpath.top.place_names import Places

__all__ = ["best_lines", "check_ways"]

_APART = 25.4 / 16  # mm from one line to the other: as `out_and_back = true`
_WORTH = 0.98  # share of the price below which the other way is worth a word
_SECONDS = 0.5  # for the proof of one piece; most need none
_AS_IT_LIES = {"name", "on", "at", "turn", "mirror", "fabric", "echo", "edge_line"}
_LEAST = 3  # lines: a piece of fewer has nothing to go back over


def best_lines(design: Design, top: Top) -> tuple[Design, Top]:
    """Choose for every piece with `lines = "best"` the way that costs less.

    Parameters
    ----------
    design, top
        The design and its top.

    Returns
    -------
    design, top
        The same, with `out_and_back` where that is the cheaper way.
    """
    chosen = {
        i: asked.model_copy(update={"out_and_back": _APART})
        for i, asked, _, once, twice in _costs(design, top, "best", None)
        if twice < once
    }
    if not chosen:
        return design, top
    asked = [chosen.get(i, one) for i, one in enumerate(design.applique)]
    new = {id(old): one for old, one in zip(design.applique, asked, strict=True)}
    pieces = tuple(replace(piece, asked=new[id(piece.asked)]) for piece in top.pieces)
    return design.model_copy(update={"applique": asked}), replace(top, pieces=pieces)


def check_ways(design: Design, top: Top, lines: Sequence[Line], words: Places) -> list[Check]:
    """Tell of pieces that cost less stitched out and back, with both figures.

    Parameters
    ----------
    design, top
        The design and its top.
    lines
        Its lines, not noded.
    words
        What pieces are called.
    """
    found = []
    for _, _, piece, once, twice in _costs(design, top, "once", lines):
        if twice < _WORTH * once:
            if design.priced_by == "time":
                said = f"take {once / 60:.1f} min at your pace", f"{twice / 60:.1f} min"
            else:
                said = f"cost {once:.0f} at your prices", f"{twice:.0f}"
            point = piece.shape.representative_point()
            found.append(
                Check(
                    "note",
                    "out-and-back",
                    f"{words.piece(piece.number)}: stitched by itself its lines {said[0]}, going "
                    f"back over arms; out and back in two lines side by side {said[1]}. You may "
                    "have it so (out_and_back = true), or always the quicker way "
                    '(lines = "best").',
                    (point.x, point.y),
                    (piece.number,),
                )
            )
    return found


def _costs(
    design: Design, top: Top, wish: str, lines: Sequence[Line] | None
) -> Iterator[tuple[int, Applique, Piece, float, float]]:
    """Cost of the lines through each appliqué's first piece that has a wish, in both ways.

    Pieces of one outline have the same lines wherever and whichever way they lie: they are
    reckoned once.
    """
    first: dict[int, Piece] = {}
    for piece in top.pieces:
        first.setdefault(id(piece.asked), piece)
    known: dict[str, tuple[float | None, float | None]] = {}
    for i, asked in enumerate(design.applique):
        here = first.get(id(asked))
        if here is None or not asked.centre or asked.out_and_back or asked.lines != wish:
            continue
        # Hours of the clock are those of a piece as it lies.
        lying = (
            _AS_IT_LIES if isinstance(asked.arms, str | int) else _AS_IT_LIES - {"turn", "mirror"}
        )
        alike = asked.model_dump_json(exclude=lying)
        if alike not in known:
            found = _lines(design, here, None) if lines is None else _through(here, lines)
            once = twice = None
            if len(found) >= _LEAST:
                once = _cost(design, top, here, found)
                twice = _cost(design, top, here, _lines(design, here, _APART))
            known[alike] = once, twice
        once, twice = known[alike]
        if once is not None and twice is not None:
            yield i, asked, here, once, twice


def _lines(design: Design, piece: Piece, gap: float | None) -> list[Line]:
    """Make the lines through a piece, once, or out and back so far apart."""
    asked = piece.asked.model_copy(update={"out_and_back": gap, "edge_line": None})
    return piece_lines(design, replace(piece, asked=asked), piece.asked.name)[0]


def _through(piece: Piece, lines: Sequence[Line]) -> list[Line]:
    """Pick the lines through a piece, which are there already."""
    own = (piece.number,)
    return [line for line in lines if line.kind == "centre" and line.of.pieces == own]


def _cost(design: Design, top: Top, piece: Piece, found: Sequence[Line]) -> float | None:
    """Price of lines through a piece, routed by themselves; None where there are none."""
    if not found:
        return None
    lines, ways = node_lines(found, [])
    middle = piece.shape.centroid
    bare = replace(top, seams=())  # none is gone along, and to tell their areas would take long
    return sum(
        routed.proof.cost
        for network in build_networks(design, bare, lines, ways)
        for routed in route(network, lines, (middle.x, middle.y), effort=Effort(_SECONDS))
    )
