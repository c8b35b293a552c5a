"""Ditch lines: which seams are stitched, and which may only be travelled along."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.typing import BoolArray, FloatArray
from stitchpath.design.model import Ditch, Lines
from stitchpath.geometry.polylines import on_grid, path_lengths
from stitchpath.geometry.tolerances import GRID
from stitchpath.lines.line import Line
from stitchpath.top.build import Top, find_patches, pair_seams

__all__ = ["SeamBit", "chosen_seams", "seam_bits", "seams_left"]

_SHORTEST = 25.4 / 10  # mm: what a piece leaves of a seam is worth nothing below a stitch


@dataclass(frozen=True, slots=True)
class SeamBit:
    """A seam, or what a fused piece leaves of it.

    Attributes
    ----------
    seam
        Index of the seam of the top.
    points
        Polyline in the seam's direction, shape (n, 2), mm.
    """

    seam: int
    points: FloatArray


def seams_left(top: Top, lines: Sequence[Line]) -> bool:
    """Tell whether a seam, or a stretch of one, is left without stitching of its own."""
    stitched = path_lengths([line.points for line in lines if line.kind == "ditch"]).sum()
    whole = path_lengths([seam.points for seam in top.seams]).sum()
    return bool(whole - stitched > _SHORTEST)


def chosen_seams(top: Top, asked: Lines) -> BoolArray:
    """Choose the seams to stitch in the ditch.

    Parameters
    ----------
    top
        The finished top.
    asked
        What the design says: all seams; those round feature fabrics, that is, wherever such a
        fabric meets another, so that each is stitched all round; those between blocks, sashing and
        borders; those of borders alone; several of these; or none. Single seams are then added and
        left out.

    Returns
    -------
    BoolArray
        One for each seam of the top.

    Raises
    ------
    StitchpathError
        When a fabric or patch is unknown, or nothing is named as feature.
    """
    feature = set(asked.feature)
    for name in asked.feature:
        if name not in top.fabrics:
            raise unknown_name("lines.feature", "fabric", name, top.fabrics)
    if "feature" in asked.ditch and not feature:
        raise StitchpathError(
            "lines.feature: found no fabric, expected the fabrics that stand forward, as ditch is "
            '"feature"'
        )
    choice = np.zeros(len(top.seams), dtype=bool)
    for kind in asked.ditch:
        choice |= _seams_of(kind, top, feature)
    if asked.include or asked.exclude:
        index = find_patches(top.blocks, top.patches)
        pairs = [(s.left, s.right) for s in top.seams]
        for key, value in (("include", True), ("exclude", False)):
            for k, pair in enumerate(getattr(asked, key)):
                where = f"lines.{key}[{k + 1}]"
                choice[pair_seams(where, pair, index, pairs, top.patches)] = value
    return np.asarray(choice, dtype=bool)


def _seams_of(kind: Ditch, top: Top, feature: Collection[str]) -> BoolArray:
    """Tell which seams are of a kind that a design can ask for."""
    sides = np.array([(s.left, s.right) for s in top.seams], dtype=np.int64).reshape(-1, 2)
    if kind == "feature":
        number = {name: k for k, name in enumerate(top.fabrics)}
        fabric = np.array([number[p.fabric] for p in top.patches])[sides]
        stands = np.array([p.fabric in feature for p in top.patches])[sides]
        return np.asarray(stands.any(axis=1) & (fabric[:, 0] != fabric[:, 1]))
    if kind == "borders":
        return np.asarray(np.array([p.part == "border" for p in top.patches])[sides].any(axis=1))
    if kind == "blocks":
        return np.array([s.joining for s in top.seams], dtype=bool)
    return np.full(len(sides), kind == "all")


def seam_bits(top: Top) -> list[SeamBit]:
    """Cut seams at the outlines of pieces that are fused before quilting.

    Stitching in the ditch beneath a fused piece would run across it; what lies beneath is left out,
    unless the design lets the ditch pass.
    """
    bits = [SeamBit(i, seam.points) for i, seam in enumerate(top.seams)]
    covers = [p.shape for p in top.pieces if p.asked.fused == "before" and p.asked.cut_ditch]
    if not covers:
        return bits
    cover = shapely.union_all(covers)
    shapely.prepare(cover)
    lines = np.array([LineString(b.points) for b in bits])
    under = shapely.intersects(cover, lines)
    cut: list[SeamBit] = []
    for bit, line, is_under in zip(bits, lines, under, strict=True):
        rest = line.difference(cover) if is_under else line
        cut += _beside(bit, rest) if rest.length < line.length - GRID else [bit]
    return cut


def _beside(bit: SeamBit, rest: shapely.Geometry) -> Sequence[SeamBit]:
    """Give what is left of a seam, each part the way of the seam."""
    line = LineString(bit.points)
    parts = [p for p in shapely.get_parts(rest) if p.length > _SHORTEST]
    paths = [on_grid(shapely.get_coordinates(p)) for p in parts]
    # A first and a second point tell the way of a part, over the place too where a ring begins.
    ahead = [_runs_along(path, line) for path in paths]
    return [SeamBit(bit.seam, p if a else p[::-1]) for p, a in zip(paths, ahead, strict=True)]


def _runs_along(path: FloatArray, line: LineString) -> bool:
    """Tell whether a path cut out of a line runs its way: its two first points, midway and after.

    The difference of a line and an area promises no way.
    """
    middle = (path[0] + path[1]) / 2
    first, second = (
        float(line.project(shapely.Point(at))) for at in ((path[0] + middle) / 2, middle)
    )
    return first < second
