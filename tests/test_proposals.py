"""Three ways to begin with: each is a plan of the very design that its edits make."""

import re

import numpy as np
import pytest
from defusedxml.ElementTree import fromstring
from quilts import DESIGNS, SQUARES, STARFISH, WALL

from stitchpath.checks.batting import loose_of
from stitchpath.document.document import Document
from stitchpath.lines.ditch import chosen_seams
from stitchpath.plan import lines_of, make_plan
from stitchpath.proposals import proposal_data, proposals

SMALL = re.sub(r"rows = .*", 'rows = ["star plain"]', WALL)
FEATURED = SMALL.replace('ditch = "all"', 'ditch = "blocks"\nfeature = ["navy"]')
OWN = FEATURED + '\n[[fills]]\nregion = "plain"\nstyle = "waves"\nspacing = 1\n'


def made(text):
    found = Document(text, folder=DESIGNS)
    return found, list(proposals(found.design, time_limit=0))


@pytest.fixture(scope="module")
def own():
    return made(OWN)


def test_each_way_is_the_plan_of_what_its_edits_write(own):
    found, ways = own
    assert [way.name for way in ways] == ["outline the motifs", "all ditches", "hold the batting"]
    for way in ways:
        edited = found.edited(way.edits)
        again = make_plan(edited.design, time_limit=0, cures=False)
        totals = again.totals
        sewn = (totals.stitched + totals.retraced + totals.travelled) / 1000
        assert way.metres == pytest.approx(sewn)
        assert way.breaks == totals.breaks
        assert way.minutes == pytest.approx(sum(spent.total for spent in again.times) / 60)


def test_the_motifs_are_stitched_all_round_and_no_other_seam(own):
    found, ways = own
    edited = found.edited(ways[0].edits)
    seams = chosen_seams(edited.top, edited.design.lines)
    fabric = [p.fabric for p in edited.top.patches]
    wanted = [
        "navy" in (fabric[s.left], fabric[s.right]) and fabric[s.left] != fabric[s.right]
        for s in edited.top.seams
    ]
    assert seams.tolist() == wanted
    assert edited.design.fills == []


def test_every_seam_is_stitched_but_those_left_out_by_hand():
    found = Document(SMALL)
    seam = found.top.seams[0]
    between = [found.top.patches[i].design_name for i in (seam.left, seam.right)]
    text = SMALL.replace('ditch = "all"', f'ditch = "none"\nexclude = [{between}]')
    found, ways = made(text)
    edited = found.edited(ways[1].edits)
    seams = chosen_seams(edited.top, edited.design.lines)
    assert not seams[0]
    assert int((~seams).sum()) == 1


def test_the_third_way_leaves_no_ground_wider_than_the_batting_allows(own):
    found, ways = own
    edited = found.edited(ways[2].edits)
    assert edited.design.batting.holds == pytest.approx(101.6)  # none was named
    top, lines = lines_of(edited.design)
    assert loose_of(edited.design, top, lines) == []
    close = OWN.replace('margin = "2 in"', 'margin = "2 in"\ndistance = "2 in"')
    found, ways = made(close)
    edited = found.edited(ways[2].edits)
    assert edited.design.batting.holds == pytest.approx(50.8)  # hers stands
    top, lines = lines_of(edited.design)
    assert loose_of(edited.design, top, lines) == []
    assert edited.design.fills


def test_where_there_is_no_motif_it_says_so_and_the_others_are_there():
    _, ways = made(SQUARES)
    data = [proposal_data(way) for way in ways]
    assert "no motif" in data[0]["problem"]
    assert data[0]["picture"] is None
    assert data[0]["metres"] is None
    assert [each["problem"] for each in data[1:]] == [None, None]


def test_a_piece_is_outlined_within_its_edge():
    found, ways = made(STARFISH)
    edited = found.edited(ways[0].edits)
    assert all(piece.edge_line for piece in edited.design.applique)
    assert edited.design.lines.ditch == ("none",)
    assert {line.kind for line in ways[0].plan.lines} <= {"outline", "centre"}


def test_its_picture_is_the_top_with_its_lines(own):
    _, ways = own
    picture = fromstring(proposal_data(ways[1])["picture"])
    box = np.array(picture.get("viewBox").split(), dtype=float)
    top = ways[1].plan.top
    assert box[2:] == pytest.approx([top.width, top.height], rel=0.01)
    fills = {path.get("fill") for path in picture}
    assert {fabric.colour for fabric in top.fabrics.values()} <= fills
    assert any(path.get("fill") == "none" for path in picture)
