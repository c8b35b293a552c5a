"""Small pictures: the block, and the top, in their fabrics, at their proportion."""

import numpy as np
import pytest
from defusedxml.ElementTree import fromstring
from quilts import DESIGNS
from svgpathtools import parse_path

from stitchpath.design.library import library_block, library_names
from stitchpath.document.document import Document
from stitchpath.export.svg.small import small_block, small_top
from stitchpath.lines.threads import thread_colours
from stitchpath.plan import lines_of
from stitchpath.top.block import draw_block
from stitchpath.top.layout import compose


def box(svg):
    return np.array(fromstring(svg).get("viewBox").split(), dtype=float)


def areas(svg):
    """Measure what each colour fills, mm²."""
    found = {}
    for path in fromstring(svg):
        if path.get("fill") not in (None, "none"):
            rings = parse_path(path.get("d")).continuous_subpaths()
            size = sum(abs(ring.area()) for ring in rings)
            found[path.get("fill")] = found.get(path.get("fill"), 0) + size
    return found


@pytest.mark.parametrize("name", ["sailboat", "sawtooth star", *library_names()[:3]])
def test_a_block_is_drawn_with_each_fabric_as_large_as_it_is(name):
    block = library_block(name, "")
    drawn = draw_block(name, block, block, "in")
    svg = small_block(drawn)
    assert box(svg)[2:] == pytest.approx([drawn.width, drawn.height], rel=0.01)
    assert sum(areas(svg).values()) == pytest.approx(drawn.width * drawn.height, rel=1e-3)
    assert len(areas(svg)) == len({patch.fabric for patch in drawn.patches})


def test_a_block_made_of_blocks_shows_those_in_it_as_they_lie():
    found = Document.read(DESIGNS / "harbour-runner.toml")
    edited = found.edited([
        {"op": "set", "path": ["blocks", "pair"], "value": {"rows": ["boat:90 boat:m"]}},
    ])  # fmt: skip
    spec = library_block("sailboat", "")
    boat = draw_block("boat", spec, spec, "in")
    pair = compose("pair", edited.design.blocks["pair"], {"boat": boat}, "in")
    svg = small_block(pair, dict.fromkeys(spec.fabrics, "#123456"))
    assert sum(areas(svg).values()) == pytest.approx(2 * boat.width * boat.height, rel=1e-3)
    assert box(svg)[2] == pytest.approx(2 * boat.width, rel=0.01)


def test_a_name_with_markup_in_it_stays_a_name():
    spec = library_block("sailboat", "")
    drawn = draw_block("<b onload=x>", spec, spec, "in")
    assert next(iter(fromstring(small_block(drawn)))).text == "<b onload=x>"


def test_a_top_is_drawn_with_its_pieces_and_each_thread():
    found = Document.read(DESIGNS / "harbour-runner.toml")
    top, lines = lines_of(found.design)
    colours = thread_colours(found.design)
    svg = small_top(top, lines, colours)
    strokes = {path.get("stroke") for path in fromstring(svg)}
    assert set(colours.values()) <= strokes
    bare = small_top(top, (), colours)
    assert not set(colours.values()) & {path.get("stroke") for path in fromstring(bare)}
    whole = sum(piece.shape.area for piece in top.pieces)
    assert areas(svg)["#dc6f50"] == pytest.approx(whole, rel=0.01)
