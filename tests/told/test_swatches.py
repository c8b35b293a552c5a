"""Swatches: a quilter chooses a fill by eye, with what it takes."""

from xml.etree import ElementTree as ET

import pytest
from shapely.geometry import LineString

from stitchpath.export.swatches import draw_swatches
from stitchpath.lines.fills.styles import STYLES
from stitchpath.told import swatches
from stitchpath.told.swatches import GROUNDS, SIDE, WORDS, swatch_rows

INCH = 25.4


@pytest.fixture(scope="module")
def rows():
    few = {style: WORDS[style] for style in ("parallel", "piano keys", "meander")}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(swatches, "WORDS", few)
        return list(swatch_rows(0.5))


def test_every_fill_has_a_swatch_but_the_one_that_needs_a_line_of_hers():
    assert set(STYLES) - set(WORDS) == {"motif rows"}


def test_what_a_swatch_takes_is_what_its_plan_takes(rows):
    """Eleven lines of 6 in, and the way in the margin from each to the next; feet by practice."""
    row = rows[0]
    assert row.foot == "walking"
    assert rows[2].foot == "free-motion"
    stitched = sum(LineString(line.points).length for line in row.swatches["a square"].lines)
    assert stitched == pytest.approx(11 * SIDE * INCH)
    assert stitched < row.length < 1.6 * stitched
    assert row.seconds > stitched / 28  # mm a second with the walking foot; ends and turns beside


def test_each_swatch_lies_on_its_ground(rows):
    for row in rows:
        assert set(row.swatches) == set(GROUNDS)
        for swatch in row.swatches.values():
            edge = swatch.top.outline.buffer(0.01)
            assert swatch.lines
            assert all(edge.covers(LineString(line.points)) for line in swatch.lines)


def test_the_page_of_swatches_has_a_row_for_each_fill_and_the_same_bytes_each_time(rows):
    pages = [draw_swatches(rows[:n], "svg", "in") for n in (1, 3, 3)]
    assert pages[1] == pages[2]
    heights = [float(ET.fromstring(page).get("viewBox").split()[3]) for page in pages]  # noqa: S314
    assert heights[1] - heights[0] == pytest.approx(2 * 1.7 * 72, abs=0.1)
