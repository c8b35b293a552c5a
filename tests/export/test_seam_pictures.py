"""Pictures of what no card tells, on their pages: a few lines in one corner are drawn large."""

import pytest

from stitchpath.export.guide import A5
from stitchpath.export.guide.card_pages import _SEAMS, _spread
from stitchpath.export.guide.path import scene_of
from stitchpath.export.guide.seams import SeamsPanel
from stitchpath.export.pdf.page import new_page


@pytest.fixture(scope="module")
def laid(strip):
    """Give the pictures of each page as they are laid."""
    panel = SeamsPanel(scene_of(strip))
    pages = []
    for some, landscape in _spread(panel, A5):
        room = new_page(A5, "The lines", _SEAMS, landscape=landscape)[1]
        pages.append([each for row in panel.laid(room, some)[1] for each in row])
    return pages


def test_each_picture_is_as_large_as_a_hand_or_has_a_page_to_itself(laid):
    for page in laid:
        sizes = [each.part.width * each.part.height * each.scale**2 for each in page]
        assert len(page) == 1 or min(sizes) >= 5500 - 1
    assert sum(map(len, laid)) == max(each.picture.number for page in laid for each in page)


def test_lines_that_lie_together_are_shown_without_the_rest_of_the_top(laid, strip):
    parts = [each.part for page in laid for each in page]
    whole = max(part.width for part in parts)
    assert whole > strip.top.width
    assert min(part.width for part in parts) < whole / 2
    for page in laid:
        for each in page:
            for mark in each.picture.marks:
                for stroke in mark.move.strokes:
                    assert stroke.points[:, 0].min() >= each.part.left
                    assert stroke.points[:, 0].max() <= each.part.right
