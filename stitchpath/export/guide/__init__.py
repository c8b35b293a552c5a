"""The printed guide, and the path at true size, as PDF."""

from collections.abc import Iterator

from stitchpath.export.guide.blocks import block_pages
from stitchpath.export.guide.card_pages import card_pages
from stitchpath.export.guide.cover import cover_page, map_on_cover
from stitchpath.export.guide.glance import glance_sheet
from stitchpath.export.guide.maps import legend_apart, map_pages
from stitchpath.export.guide.pass_pages import pass_pages
from stitchpath.export.guide.path import Scene, scene_of
from stitchpath.export.guide.supplies import supply_pages
from stitchpath.export.guide.templates import template_sheets
from stitchpath.export.guide.tiles import tile_sheets
from stitchpath.export.guide.windows import window_pages
from stitchpath.export.guide.words import words_pages
from stitchpath.export.pdf.file import write_pdf
from stitchpath.export.pdf.page import number_pages
from stitchpath.export.pdf.paper import A4, A5, HALF_LETTER, LETTER, Paper
from stitchpath.export.pdf.sheet import Sheet
from stitchpath.plan import Plan
from stitchpath.told.card_words import Pages
from stitchpath.told.cards import cards

__all__ = [
    "A4",
    "A5",
    "HALF_LETTER",
    "LETTER",
    "Paper",
    "guide_pages",
    "guide_sheets",
    "plan_glance",
    "plan_guide",
    "plan_templates",
    "plan_true_size",
]

_LARGE = 1.6  # letters of 10 points become 16: large print, by common practice


def plan_guide(plan: Plan, paper: Paper = A4, *, words: bool = False, large: bool = False) -> bytes:
    """Write the printed guide as PDF.

    Parameters
    ----------
    plan
        The plan.
    paper
        `A4`, `LETTER`, `A5` or `HALF_LETTER`.
    words
        Whether the words leg by leg follow, with their pictures.
    large
        Whether letters, lines and pictures are larger by half and more, on more pages.
    """
    if not large:
        return write_pdf(guide_sheets(plan, paper, words=words), plan.top.name)
    small = Paper(paper.name, paper.width / _LARGE, paper.height / _LARGE)
    sheets = guide_sheets(plan, small, words=words)
    return write_pdf([sheet.magnified(_LARGE, paper) for sheet in sheets], plan.top.name)


def plan_glance(plan: Plan, paper: Paper = A4) -> bytes:
    """Write one page for the wall as PDF: the map, large, and what comes when.

    Parameters
    ----------
    plan
        The plan.
    paper
        `A4` or `LETTER`.
    """
    return write_pdf([glance_sheet(scene_of(plan), paper)], f"{plan.top.name}, at a glance")


def guide_sheets(plan: Plan, paper: Paper = A4, *, words: bool = False) -> list[Sheet]:
    """Make the pages of the guide: cover, map, seams, cards, supplies, and the words if asked."""
    sheets = list(_sheets(plan, paper))
    if words:
        sheets += _words(plan, paper)
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


def guide_pages(plan: Plan, paper: Paper = A4) -> Pages:
    """Tell on which page of the guide, in its usual print, each picture and card begins.

    Parameters
    ----------
    plan
        The plan.
    paper
        As of `plan_guide`.
    """
    scene = scene_of(plan)
    first = _first(scene, paper)
    return card_pages(scene, paper, first).numbered(first)


def _first(scene: Scene, paper: Paper) -> int:
    """Tell the page of the first picture or card: behind the cover, and the map's own pages."""
    return 2 + (1 + legend_apart(scene, paper) if _map_alone(scene, paper) else 0)


def _map_alone(scene: Scene, paper: Paper) -> bool:
    """Tell whether the map has pages: not where pictures of seams are all there is, or passes."""
    return bool(cards(scene.plan)) and not map_on_cover(scene, paper)


def _sheets(plan: Plan, paper: Paper) -> Iterator[Sheet]:
    scene = scene_of(plan)
    maps = map_pages(scene, paper) if _map_alone(scene, paper) else []
    first = _first(scene, paper)
    route = card_pages(scene, paper, first)
    told = route.numbered(first)
    supplies = list(supply_pages(scene, paper, told))
    pages: dict[tuple[str, int], int] = {(kind, k): page for (kind, k), page in told.items()}
    pages["stop", 0] = first + len(route.sheets)
    passes = list(pass_pages(scene, paper))
    behind = pages["stop", 0] + len(supplies)
    for page, (_, numbers) in enumerate(passes, start=behind):
        pages |= {(kind, number): page for number in numbers for kind in ("pass", "stop")}
    yield cover_page(scene, paper, pages, behind + len(passes) - 1)
    yield from (*maps, *route.sheets, *supplies, *(sheet for sheet, _ in passes))


def _words(plan: Plan, paper: Paper) -> Iterator[Sheet]:
    """Make the pages that tell every leg in words."""
    scene = scene_of(plan)
    yield from block_pages(scene, paper)
    yield from window_pages(scene, paper)
    yield from words_pages(scene, paper, guide_pages(plan, paper))
