"""Lines of appliqué pieces and of pieced motifs: through the middle, inside the edge, echoes."""

from collections.abc import Sequence

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.design.model import Applique, Corner, Design, Echo
from stitchpath.errors import StitchpathError, unknown_name
from stitchpath.lines.model import Line
from stitchpath.lines.threads import thread_for
from stitchpath.top import Piece, Top
from stitchpath.typing import FloatArray, Kind

__all__ = ["applique_lines", "motif_lines", "stage_of"]


def stage_of(asked: Applique) -> int:
    """Tell the stage at which a piece is stitched: with the quilting, or after it."""
    return 1 if asked.fused == "before" else 2


def applique_lines(design: Design, top: Top) -> list[Line]:
    """Make the lines of every appliqué piece, in the order of the pieces.

    Raises
    ------
    StitchpathError
        When a thread is unknown or an arm asked for is not there.
    """
    known = design.threads
    for i, asked in enumerate(design.applique):
        if asked.thread is not None and asked.thread not in known:
            raise unknown_name(f'applique[{i + 1}], "{asked.name}"', "thread", asked.thread, known)
    lines: list[Line] = []
    for piece in top.pieces:
        lines += _piece_lines(design, piece)
    return lines + _echoes(design, top)


def _piece_lines(design: Design, piece: Piece) -> list[Line]:
    asked = piece.asked
    lines: list[Line] = []
    if asked.centre:
        try:
            paths = _centre(piece.shape, asked)
        except StitchpathError as error:
            raise StitchpathError(f"{piece.label}: {error}") from None
        lines += _lines(design, piece, "centre", paths)
    if asked.edge_line is not None:
        from stitchpath.lines.outline import outline_lines  # noqa: PLC0415

        paths = outline_lines(piece.shape, asked.edge_line, corner=asked.corner)
        lines += _lines(design, piece, "outline", paths)
    return lines


def _centre(shape: MultiPolygon, asked: Applique) -> Sequence[FloatArray]:
    from stitchpath.lines.centre import CentreRules, centre_lines  # noqa: PLC0415 - slow to import

    return centre_lines(
        shape,
        CentreRules(tip=asked.tip),
        arms=asked.arms,
        vein=asked.vein,
        out_and_back=asked.out_and_back,
    ).lines


def _lines(design: Design, piece: Piece, kind: Kind, paths: Sequence[FloatArray]) -> list[Line]:
    thread = piece.asked.thread or thread_for(design, kind)
    stage = stage_of(piece.asked)
    return [Line(kind, stage, thread, points, piece.label) for points in paths]


def _echoes(design: Design, top: Top) -> list[Line]:
    """Echo the pieces; neighbours on the same ground with the same wish are echoed as one."""
    groups: dict[tuple[object, ...], list[Piece]] = {}
    grounds: dict[tuple[object, ...], BaseGeometry] = {}
    for piece in top.pieces:
        echo = piece.asked.echo
        if echo is not None:
            under = _patches_under(top, piece.shape)
            stage = stage_of(piece.asked)
            thread = piece.asked.thread or thread_for(design, "echo")
            wish: tuple[object, ...] = (
                tuple(under),
                stage,
                thread,
                echo.step,
                echo.count,
                piece.asked.corner,
            )
            groups.setdefault(wish, []).append(piece)
            grounds[wish] = shapely.union_all([top.patches[i].polygon for i in under])
    lines: list[Line] = []
    for key, pieces in groups.items():
        stage, thread = stage_of(pieces[0].asked), str(key[2])
        others = [p.shape for p in top.pieces if p not in pieces and stage_of(p.asked) <= stage]
        clip = grounds[key].difference(shapely.union_all(others))
        echo, corner = pieces[0].asked.echo, pieces[0].asked.corner
        label = ", ".join(p.label for p in pieces)
        lines += _echo_lines([p.shape for p in pieces], echo, clip, corner, stage, thread, label)
    return lines


def _echo_lines(
    shapes: Sequence[Polygon | MultiPolygon],
    echo: Echo | None,
    clip: BaseGeometry,
    corner: Corner,
    stage: int,
    thread: str,
    place: str,
) -> list[Line]:
    from stitchpath.lines.outline import echo_lines  # noqa: PLC0415

    if echo is None:
        return []
    parts = [p for p in shapely.get_parts(clip) if isinstance(p, Polygon)]
    ground = MultiPolygon(parts)
    paths = echo_lines(shapes, echo.step, echo.count, clip=ground, corner=corner)
    return [Line("echo", stage, thread, points, f"echo of {place}") for points in paths]


def _patches_under(top: Top, shape: MultiPolygon) -> list[int]:
    """Find the patches that a piece lies on."""
    tree = shapely.STRtree([p.polygon for p in top.patches])
    touched = sorted(tree.query(shape, predicate="intersects").tolist())
    return [i for i in touched if top.patches[i].polygon.intersection(shape).area > 1]


def motif_lines(design: Design, top: Top) -> list[Line]:
    """Make edge lines and echoes of pieced motifs: patches of feature fabrics that touch, as one.

    Raises
    ------
    StitchpathError
        When lines are asked for and no feature fabric is named.
    """
    asked = design.lines
    if asked.edge_line is None and asked.echo is None:
        return []
    feature = set(asked.feature)
    if not feature:
        raise StitchpathError(
            "lines.feature: found no fabric, expected the fabrics that stand forward, as a motif's "
            "edge line or echo is asked for"
        )
    from stitchpath.lines.outline import outline_lines  # noqa: PLC0415

    shapes = [p.polygon for p in top.patches if p.fabric in feature]
    motifs = list(shapely.get_parts(shapely.union_all(shapes)))
    lines: list[Line] = []
    if asked.edge_line is not None:
        thread = thread_for(design, "outline")
        for motif in motifs:
            paths = outline_lines(motif, asked.edge_line, corner=asked.corner)
            lines += [Line("outline", 1, thread, points, "motif") for points in paths]
    if asked.echo is not None:
        lines += _motif_echoes(design, top, motifs)
    return lines


def _motif_echoes(design: Design, top: Top, motifs: Sequence[Polygon]) -> list[Line]:
    """Echo motifs within the ground of their own unit: block by block, so that seams stop them."""
    asked = design.lines
    feature = set(asked.feature)
    grounds: dict[str, list[Polygon]] = {}
    for patch in top.patches:
        if patch.fabric not in feature:
            grounds.setdefault(patch.place, []).append(patch.polygon)
    tree = shapely.STRtree(motifs)
    lines: list[Line] = []
    for place, patches in grounds.items():
        ground = shapely.union_all(patches)
        near = sorted(tree.query(ground, predicate="dwithin", distance=0.01).tolist())
        if near:
            lines += _echo_lines(
                [MultiPolygon([motifs[k]]) for k in near],
                asked.echo,
                ground,
                asked.corner,
                1,
                thread_for(design, "echo"),
                f"the motif in {place}",
            )
    return lines
