"""The blocks by name: what the directions call their patches."""

import logging
import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.export.guide.drawing import faded
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import POINT, shortened, text_width
from stitchpath.export.pdf.page import new_page
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.top.block import BlockPatch, DrawnBlock
from stitchpath.top.layout import LaidBlock
from stitchpath.top.place_names import Places, join_words

__all__ = ["block_pages"]

_log = logging.getLogger(__name__)
_TINT = 0.42
_MOST = 24  # blocks shown
_NAMED = 8  # places told one by one
_SIZES = (8.6, 7.6, 6.6)  # points
_ON_A_PAGE = 60  # patches of a drawn top
_MOST_ACROSS = 4  # pages across and down of such a top
_WIDEST = 150.0  # mm, of one block alone on the page


def block_pages(scene: Scene, paper: Paper) -> Iterator[Sheet]:
    """Draw each block whose patches have names of their own, with the names."""
    plan = scene.plan
    yield from _drawn_pages(scene, paper)
    blocks: dict[str, DrawnBlock] = {}
    for laid in plan.top.blocks:
        if any(patch.named for patch in laid.block.patches):
            blocks.setdefault(laid.block.name, laid.block)
    shown = list(blocks.values())[:_MOST]
    if not shown:
        return
    below = (
        "What the directions call the patches. Blocks lie as they are drawn in the design; on the "
        "top some may be turned or mirrored."
    )
    if len(blocks) > len(shown):
        more = f"{len(blocks) - len(shown)} more blocks with names of their own are left out here."
        _log.warning("printed guide, blocks by name: %s", more)
        below += f" {more}"
    across = 1 if len(shown) == 1 else 2
    down = min(math.ceil(len(shown) / across), 3)
    per_page = across * down
    for k in range(0, len(shown), per_page):
        sheet, room = new_page(paper, "The blocks by name", "" if k else below, again=k > 0)
        wide, high = room.width / across, room.height / down
        for n, block in enumerate(shown[k : k + per_page]):
            left, top = room.left + wide * (n % across), room.top + high * (n // across)
            _block(sheet, plan, block, Box(left, top, left + wide - 6, top + high - 5))
        yield sheet


def _drawn_pages(scene: Scene, paper: Paper) -> Iterator[Sheet]:
    """Draw the patches of a drawn top with their names, on as many pages as make them readable."""
    top = scene.plan.top
    if not any(patch.part in ("square", "patch") for patch in top.patches):
        return
    side = min(math.ceil(math.sqrt(len(top.patches) / _ON_A_PAGE)), _MOST_ACROSS)
    xs, ys = np.linspace(0, top.width, side + 1), np.linspace(0, top.height, side + 1)
    for k in range(side * side):
        row, column = divmod(k, side)
        box = shapely.box(xs[column], ys[row], xs[column + 1], ys[row + 1])
        part = _part_of_top(scene, box, f"part {k + 1} of {side * side}" if side > 1 else "")
        below = "" if k else "What the directions call the patches of the top."
        sheet, room = new_page(
            paper, "The patches by name", below, again=k > 0, landscape=top.width > top.height
        )
        _block(sheet, scene.plan, part, room)
        yield sheet


def _part_of_top(scene: Scene, box: Polygon, name: str) -> DrawnBlock:
    """Cut out a part of the top; patches are named where most of them lies."""
    left, top, right, bottom = box.bounds
    found = []
    for patch in scene.plan.top.patches:
        parts = [p for p in shapely.get_parts(patch.polygon.intersection(box)) if p.area > 0]
        if not parts:
            continue
        shape = max(parts, key=lambda part: part.area)
        moved = shapely.transform(shape, lambda at: at - (left, top))
        named = bool(box.contains(patch.polygon.representative_point()))
        found.append(BlockPatch(patch.name, patch.fabric, moved, named))
    return DrawnBlock(name, right - left, bottom - top, tuple(found), None)


def _block(sheet: Sheet, plan: Plan, block: DrawnBlock, room: Box) -> None:
    name = shortened(block.name, room.width, 12, "bold")
    wide = sheet.write((room.left, room.top + 4), name, 12, "bold")
    where = _where(plan.places, [b for b in plan.top.blocks if b.block.name == block.name])
    free = room.width - wide - 3
    if free > 20:  # noqa: PLR2004 - mm
        sheet.write(
            (room.left + wide + 3, room.top + 4), shortened(where, free, 9.5), 9.5, "italic",
            colour=GREY,
        )  # fmt: skip
    legend: list[str] = []
    widest = room.width if plan.top.taken else min(room.width, _WIDEST)
    scale = min(widest / block.width, (room.height - 18) / block.height)
    corner = np.array([room.left, room.top + 6.5])
    shapes = [shapely.transform(p.polygon, lambda at: at * scale + corner) for p in block.patches]
    for patch, shape in zip(block.patches, shapes, strict=True):
        colour = faded(plan.top.fabrics[patch.fabric].colour, _TINT)
        sheet.fill([np.array(shape.exterior.coords)], colour, edge=GREY, width=0.15)
    for patch, shape in zip(block.patches, shapes, strict=True):
        if patch.named and not _fitted(sheet, shape, patch.name):
            legend.append(patch.name)
            _fitted(sheet, shape, f"{len(legend)}", sizes=(7.0, 5.5, 4.5))
    if legend:
        text = ", ".join(f"**{k}** {name}" for k, name in enumerate(legend, start=1))
        sheet.paragraph((room.left, corner[1] + block.height * scale + 1), room.width, text, 9)


def _where(named: Places, laid: Sequence[LaidBlock]) -> str:
    places = [named.block(b.place) for b in laid]
    if len(places) <= _NAMED:
        return join_words(places)
    return f"{', '.join(places[:_NAMED])} and {len(places) - _NAMED} more"


def _fitted(sheet: Sheet, shape: Polygon, text: str, sizes: Sequence[float] = _SIZES) -> bool:
    """Write a name inside its patch, broken or upright if need be; tell whether it went in."""
    inside = shape.buffer(-0.4)
    if inside.is_empty:
        return False
    shapely.prepare(inside)
    circle = shapely.maximum_inscribed_circle(shape)
    middles = [shapely.get_coordinates(at)[0] for at in (shape.centroid, circle)]
    words = text.split(" ")
    ways = dict.fromkeys([(text,), tuple(words), *((" ".join(words[:k]), " ".join(words[k:]))
                          for k in range(1, len(words)))])  # fmt: skip
    for size in sizes:
        for lines in ways:
            wide = max(text_width(line, size) for line in lines)
            high = len(lines) * size * 1.05 * POINT
            for x, y in middles:
                for angle in (0.0, 90.0) if len(lines) == 1 else (0.0,):
                    w, h = (high, wide) if angle else (wide, high)
                    if inside.contains(shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)):
                        _write(sheet, (x, y), lines, size, angle)
                        return True
    return False


def _write(
    sheet: Sheet, at: tuple[float, float], lines: Sequence[str], size: float, angle: float
) -> None:
    x, y = at
    step = size * 1.05 * POINT
    if angle:
        sheet.write((x + 0.3 * size * POINT, y), lines[0], size, angle=angle, align="centre")
        return
    for k, line in enumerate(lines):
        base = y + (k - (len(lines) - 1) / 2) * step + 0.3 * size * POINT
        sheet.write((x, base), line, size, align="centre")
