"""The printed guide, and the path at true size, as PDF."""

from collections.abc import Iterator

from stitchpath.export.guide.blocks import block_pages
from stitchpath.export.guide.cover import cover_page
from stitchpath.export.guide.maps import map_page
from stitchpath.export.guide.path import scene_of
from stitchpath.export.guide.supplies import supply_pages
from stitchpath.export.guide.templates import template_sheets
from stitchpath.export.guide.tiles import tile_sheets
from stitchpath.export.guide.windows import window_pages
from stitchpath.export.guide.words import words_pages
from stitchpath.export.pdf.file import write_pdf
from stitchpath.export.pdf.page import number_pages
from stitchpath.export.pdf.paper import A4, LETTER, Paper
from stitchpath.export.pdf.sheet import Sheet
from stitchpath.plan import Plan

__all__ = [
    "A4",
    "LETTER",
    "Paper",
    "guide_sheets",
    "plan_guide",
    "plan_templates",
    "plan_true_size",
]


def plan_guide(plan: Plan, paper: Paper = A4) -> bytes:
    """Write the printed guide as PDF.

    Parameters
    ----------
    plan
        The plan.
    paper
        `A4` or `LETTER`.
    """
    return write_pdf(guide_sheets(plan, paper), plan.top.name)


def guide_sheets(plan: Plan, paper: Paper = A4) -> list[Sheet]:
    """Make the pages of the guide: cover, map, directions, supplies."""
    sheets = list(_sheets(plan, paper))
    number_pages(sheets, plan.top.name)
    return sheets


def plan_true_size(plan: Plan, paper: Paper = A4) -> bytes:
    """Write the whole path at true size as PDF, cut into tiles.

    Parameters
    ----------
    plan
        The plan.
    paper
        `A4` or `LETTER`.
    """
    return write_pdf(
        tile_sheets(scene_of(plan), paper), f"{plan.top.name}, true size", true_size=True
    )


def plan_templates(plan: Plan, paper: Paper = A4) -> bytes:
    """Write pieces, motifs and patches at true size as PDF.

    Parameters
    ----------
    plan
        The plan.
    paper
        `A4` or `LETTER`.
    """
    return write_pdf(template_sheets(plan, paper), f"{plan.top.name}, templates", true_size=True)


def _sheets(plan: Plan, paper: Paper) -> Iterator[Sheet]:
    scene = scene_of(plan)
    yield cover_page(scene, paper)
    yield map_page(scene, paper)
    yield from block_pages(scene, paper)
    yield from window_pages(scene, paper)
    yield from words_pages(scene, paper)
    yield from supply_pages(scene, paper)
