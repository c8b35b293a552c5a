"""Lines of appliqué pieces: through the middle, inside the edge, echoes."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.findings import Check
from stitchpath.base.typing import FloatArray, Kind
from stitchpath.base.units import Unit, format_length, format_place
from stitchpath.design.model import Applique, Corner, Design, Echo
from stitchpath.geometry.tolerances import SAME_EDGE
from stitchpath.lines.centre.centre_lines import CentreLines, CentreNote, CentreRules, centre_lines
from stitchpath.lines.line import Line
from stitchpath.lines.outline import echo_lines, outline_lines
from stitchpath.lines.threads import thread_for
from stitchpath.top.build import Piece, Top
from stitchpath.top.place import Subject
from stitchpath.top.place_names import Places

__all__ = ["Wish", "applique_lines", "echoed", "piece_lines", "solid", "stage_of"]

_LIES_ON = 1.0  # mm²: a piece that covers less of a patch does not lie on it
_HELD = 25.4 / 8  # mm: a narrow place with stitching as near as this is held all the same
_RULER = 25.4 / 32  # mm


def stage_of(asked: Applique) -> int:
    """Tell the stage at which a piece is stitched: with the quilting, or after it."""
    return 1 if asked.fused == "before" else 2


def applique_lines(design: Design, top: Top) -> tuple[list[Line], list[Check]]:
    """Make the lines of every appliqué piece, in the order of the pieces.

    Returns
    -------
    lines, findings
        The lines, and where a piece is too narrow or too small for them.

    Raises
    ------
    StitchpathError
        When a thread is unknown.
    """
    known = design.threads
    for i, asked in enumerate(design.applique):
        if asked.thread is not None and asked.thread not in known:
            raise unknown_name(f'applique[{i + 1}], "{asked.name}"', "thread", asked.thread, known)
    lines: list[Line] = []
    found: list[Check] = []
    words = Places(top)
    for piece in top.pieces:
        mine, said = piece_lines(design, piece, words.piece(piece.number))
        lines += mine
        found += said
    return lines + _echoes(design, top), found


def piece_lines(design: Design, piece: Piece, name: str) -> tuple[list[Line], list[Check]]:
    """Make the lines through a piece and inside its edge, and findings on them.

    Parameters
    ----------
    design
        The design: which threads there are.
    piece
        One of its pieces.
    name
        What to call it in findings.

    Raises
    ------
    StitchpathError
        When what is asked cannot be done with its outline.
    """
    asked = piece.asked
    lines: list[Line] = []
    notes: Sequence[CentreNote] = ()
    found: list[Check] = []
    if asked.centre:
        try:
            centre = _centre(piece)
        except StitchpathError as error:
            raise StitchpathError(f"{name}: {error}") from None
        lines += _lines(design, piece, "centre", centre.lines)
        notes = centre.notes
    if asked.edge_line is not None:
        paths = outline_lines(piece.shape, asked.edge_line, corner=asked.corner)
        lines += _lines(design, piece, "outline", paths)
        found += _no_edge_line(piece, name, asked.edge_line, paths, design.unit)
    return lines, _narrow_places(piece, name, notes, lines, design.unit) + found


def _narrow_places(
    piece: Piece, name: str, notes: Sequence[CentreNote], lines: Sequence[Line], unit: Unit
) -> list[Check]:
    """Tell where a piece has no room for its lines, one finding for places of one kind.

    Parts that have no stitching at all are told of by the check of pieces.
    """
    stitched = shapely.union_all([shapely.LineString(line.points) for line in lines])
    held = [part for part in shapely.get_parts(piece.shape) if part.intersects(stitched)]
    kinds: dict[str, list[CentreNote]] = {}
    for note in notes:
        if note.astray:
            kinds.setdefault(note.text, []).append(note)
            continue
        there = any(part.dwithin(shapely.Point(note.at), SAME_EDGE) for part in held)
        if there or note.width is None:
            kinds.setdefault(note.text, []).append(note)
    found = []
    of = (piece.number,)
    for text, alike in kinds.items():
        first = alike[0]
        bare = [n for n in alike if stitched.distance(shapely.Point(n.at)) > _HELD]
        more = f", and so in {len(alike) - 1} more places" if len(alike) > 1 else ""
        if first.astray:
            place = f", at {format_place(*first.at, unit)}"
            message = f"{name}: {text}{place}{more}."
            found.append(Check("warning", "line-astray", message, first.at, of, place))
            continue
        if first.width is None:
            found.append(Check("note", "no-arm", f"{name}: {text}.", first.at, of))
            continue
        place = f", at {format_place(*first.at, unit)}"
        found.append(
            Check(
                "warning" if bare else "note",
                "too-narrow",
                f"{name}: {text} ({_wide(first.width, unit)}{place}){more}.",
                first.at,
                of,
                place,
            )
        )
    return found


def _wide(width: float, unit: Unit) -> str:
    """Word a width, down to what a ruler shows."""
    if width < _RULER:
        return f"less than {format_length(_RULER, unit)} wide"
    return f"{format_length(width, unit)} wide"


def _no_edge_line(
    piece: Piece, name: str, edge_line: float, paths: Sequence[FloatArray], unit: Unit
) -> list[Check]:
    """Tell of parts of a piece that have no room for a line inside their edge."""
    stitched = shapely.union_all([shapely.LineString(path) for path in paths])
    bare = [part for part in shapely.get_parts(piece.shape) if not part.intersects(stitched)]
    if not bare:
        return []
    point = bare[0].representative_point()
    more = f", and so in {len(bare) - 1} more parts" if len(bare) > 1 else ""
    place = f", at {format_place(point.x, point.y, unit)}"
    return [
        Check(
            "warning",
            "too-narrow",
            f"{name}: the piece has no room for a line {format_length(edge_line, unit)} "
            f"inside its edge{place}{more}.",
            (point.x, point.y),
            (piece.number,),
            place,
        )
    ]


def _centre(piece: Piece) -> CentreLines:
    asked = piece.asked
    return centre_lines(
        piece.shape,
        CentreRules(tip=asked.tip, side=asked.side),
        arms=asked.arms,
        vein=asked.vein,
        out_and_back=asked.out_and_back,
        level=piece.level,
    )


def _lines(design: Design, piece: Piece, kind: Kind, paths: Sequence[FloatArray]) -> list[Line]:
    thread = piece.asked.thread or thread_for(design, kind)
    stage = stage_of(piece.asked)
    of = Subject(pieces=(piece.number,))
    return [Line(kind, stage, thread, points, of) for points in paths]


class Wish(NamedTuple):
    """What pieces have to share to be echoed as one."""

    stage: int
    thread: str
    echo: Echo
    corner: Corner


def _echoes(design: Design, top: Top) -> list[Line]:
    """Echo the pieces, those on the same ground with the same wish as one.

    Ground is what the patches under the same pieces make together. On it lines stop at seams, at
    other pieces, and midway to pieces with another wish.
    """
    lines: list[Line] = []
    tree = shapely.STRtree([piece.shape for piece in top.pieces])
    for members, ground in _echo_grounds(top):
        wishes: dict[Wish, list[int]] = {}
        for k in members:
            asked = top.pieces[k].asked
            if asked.echo is not None:
                thread = asked.thread or thread_for(design, "echo")
                wish = Wish(stage_of(asked), thread, asked.echo, asked.corner)
                wishes.setdefault(wish, []).append(k)
        near = sorted(tree.query(ground, predicate="intersects").tolist())
        done: list[int] = []
        for wish, own in wishes.items():
            pieces = [top.pieces[k] for k in near if k not in own]
            there = [p.shape for p in pieces if stage_of(p.asked) <= wish.stage]
            clip = shapely.difference(ground, shapely.union_all(there))
            shapes = [top.pieces[k].shape for k in own]
            # where two echoes would run along each other midway, the first keeps its line
            others = [
                top.pieces[k].shape.buffer(SAME_EDGE if k in done else -SAME_EDGE)
                for k in members
                if k not in own
            ]
            done += own
            lines += echoed(shapes, wish, clip, Subject(pieces=tuple(own)), others)
    return lines


def _echo_grounds(top: Top) -> list[tuple[tuple[int, ...], BaseGeometry]]:
    """Part the ground: patches under the same echoed pieces go together, with those pieces."""
    on: dict[int, list[int]] = {}
    patches = [patch.polygon for patch in top.patches]
    tree = shapely.STRtree(patches)
    for k, piece in enumerate(top.pieces):
        if piece.asked.echo is not None:
            for i in sorted(tree.query(piece.shape, predicate="intersects").tolist()):
                if patches[i].intersection(piece.shape).area > _LIES_ON:
                    on.setdefault(i, []).append(k)
    grounds: dict[tuple[int, ...], list[int]] = {}
    for i, pieces in sorted(on.items()):
        grounds.setdefault(tuple(pieces), []).append(i)
    return [
        (pieces, shapely.union_all([patches[i] for i in under]))
        for pieces, under in grounds.items()
    ]


def echoed(
    shapes: Sequence[Polygon | MultiPolygon],
    wish: Wish,
    clip: BaseGeometry,
    of: Subject,
    others: Sequence[BaseGeometry] = (),
) -> list[Line]:
    """Echo shapes as one within a ground, up to others."""
    ground = solid(clip)
    step, count = wish.echo.step, wish.echo.count
    paths = echo_lines(shapes, step, count, clip=ground, others=others, corner=wish.corner)
    away = shapely.distance(shapely.union_all(shapes), [shapely.LineString(p) for p in paths])
    return [
        Line(
            "echo",
            wish.stage,
            wish.thread,
            path,
            replace(of, echo=max(round(d / step), 1), echoes=count),
        )
        for path, d in zip(paths, away.tolist(), strict=True)
    ]


def solid(shape: BaseGeometry) -> MultiPolygon:
    """Give the areas of what may be lines and points too."""
    return MultiPolygon([p for p in shapely.get_parts(shape) if isinstance(p, Polygon)])
