"""Three ways to begin with: each is a plan of the very design that its edits make."""

import re
from itertools import islice

import numpy as np
import pytest
import shapely
from defusedxml.ElementTree import fromstring
from quilts import DESIGNS, SQUARES, STARFISH, WALL

from stitchpath.checks.batting import loose_of
from stitchpath.design.read import design_from_text
from stitchpath.document.document import Document
from stitchpath.export.pdf.paper import A4
from stitchpath.export.suggested import suggested_html, suggested_pdf
from stitchpath.lines.ditch import chosen_seams
from stitchpath.lines.suited import custom_fills
from stitchpath.plan import lines_of, make_plan
from stitchpath.proposals import proposal_data, proposals
from stitchpath.top.build import build_top

SMALL = re.sub(r"rows = .*", 'rows = ["star plain"]', WALL)
FEATURED = SMALL.replace('ditch = "all"', 'ditch = "blocks"\nfeature = ["navy"]')
OWN = FEATURED + '\n[[fills]]\nregion = "plain"\nstyle = "waves"\nspacing = 1\n'


def made_design(text):
    return design_from_text(text, "top", DESIGNS)


def made(text, count=3):
    found = Document(text, folder=DESIGNS)
    return found, list(islice(proposals(found.design, time_limit=0), count))


@pytest.fixture(scope="module")
def own():
    return made(OWN)


def test_each_way_is_the_plan_of_what_its_edits_write(own):
    found, ways = own
    assert [way.name for way in ways] == ["outline only", "custom", "all over"]
    for way in ways[:2]:  # the third is made as they are
        edited = found.edited(way.edits)
        again = make_plan(edited.design, time_limit=0, cures=False)
        totals = again.totals
        sewn = (totals.stitched + totals.retraced + totals.travelled) / 1000
        assert way.metres == pytest.approx(sewn)
        assert way.breaks == totals.breaks
        assert way.minutes == pytest.approx(sum(spent.total for spent in again.times) / 60)


def test_the_motifs_are_stitched_all_round_and_other_seams_only_to_hold_the_batting(own):
    found, ways = own
    edited = found.edited(ways[0].edits)
    seams = chosen_seams(edited.top, edited.design.lines)
    fabric = [p.fabric for p in edited.top.patches]
    wanted = [
        "navy" in (fabric[s.left], fabric[s.right]) and fabric[s.left] != fabric[s.right]
        for s in edited.top.seams
    ]
    assert not np.any(np.array(wanted) & ~seams)
    more = seams.sum() - sum(wanted)
    blocks = "blocks" in edited.design.lines.ditch
    assert (more > 0) == (blocks or bool(edited.design.lines.include))
    assert "in the ditch round navy" in ways[0].words


def test_outlined_motifs_stay_outlines_no_lone_fill_no_seam_that_its_like_has_not():
    found, (way,) = made((DESIGNS / "harbour-runner.toml").read_text("utf-8"), 1)
    edited = found.edited(way.edits)
    assert not edited.design.fills
    assert not edited.design.lines.include
    assert edited.design.lines.ditch == ("feature", "blocks")
    assert [piece.echo.count for piece in edited.design.applique] == [1, 1]
    assert "round every block" in way.words
    assert "an echo outside it" in way.words
    assert not loose_of(edited.design, way.plan.top, way.plan.lines)


def test_every_seam_is_stitched_but_those_left_out_by_hand():
    found = Document(SMALL)
    seam = found.top.seams[0]
    between = [found.top.patches[i].design_name for i in (seam.left, seam.right)]
    text = SMALL.replace('ditch = "all"', f'ditch = "none"\nexclude = [{between}]')
    found, ways = made(text, 1)
    edited = found.edited(ways[0].edits)
    seams = chosen_seams(edited.top, edited.design.lines)
    assert not seams[0]
    assert int((~seams).sum()) == 1


def test_each_way_leaves_no_ground_wider_than_the_batting_allows(own):
    found, ways = own
    for way in ways:
        edited = found.edited(way.edits)
        assert edited.design.batting.holds == pytest.approx(101.6)  # none was named
        assert loose_of(edited.design, way.plan.top, way.plan.lines) == []
    close = OWN.replace('margin = "2 in"', 'margin = "2 in"\ndistance = "2 in"')
    found, ways = made(close, 1)
    edited = found.edited(ways[0].edits)
    assert edited.design.batting.holds == pytest.approx(50.8)  # hers stands
    assert loose_of(edited.design, ways[0].plan.top, ways[0].plan.lines) == []


def test_custom_fills_the_ground_at_a_third_to_a_half_of_its_motif():
    """Common practice; so a motif stands forward of it. Plain blocks and borders have their own."""
    design = made_design(FEATURED)
    top = build_top(design)
    fills = custom_fills(design, top)
    assert len(fills) >= 1
    behind = [fill for fill in fills if fill.fabric]
    navy = shapely.union_all(
        [p.polygon for p in top.patches if p.fabric == "navy"], grid_size=0.001
    )
    widths = [2 * shapely.maximum_inscribed_circle(part).length for part in shapely.get_parts(navy)]
    for fill in behind:
        assert fill.fabric != "navy"
        assert fill.style == "meander"
        assert 0.33 - 0.05 <= fill.spacing / np.median(widths) <= 0.5 + 0.05


def test_plumes_of_a_wide_border_are_no_more_than_two_and_a_half_times_as_open_as_the_ground():
    """Common practice: quilting is balanced over the top."""
    border = '[[layout.borders]]\nwidth = 12\nfabric = "mist"\n'
    made = made_design(FEATURED + border)
    spacing = {f.region or f.fabric: f.spacing for f in custom_fills(made, build_top(made))}
    assert spacing["border 1"] == pytest.approx(2.5 * spacing["foam"], abs=25.4 / 32)


def test_custom_lays_feathers_in_wide_borders_and_ribbon_candy_in_narrower_ones():
    borders = "".join(
        f'[[layout.borders]]\nwidth = "{width}"\nfabric = "sea"\n' for width in ("1/2 in", 1, 3)
    )
    design = made_design(SQUARES + borders)
    chosen = {fill.region: fill.style for fill in custom_fills(design, build_top(design))}
    assert "border 1" not in chosen
    assert chosen["border 2"] == "ribbon candy"
    assert chosen["border 3"] == "feathers"
    filled = design.model_copy(update={"fills": custom_fills(design, build_top(design))})
    assert not [n for n in lines_of(filled)[1] if n.kind not in {"fill", "ditch"}]


def test_where_there_is_no_motif_every_seam_is_the_outline():
    _, ways = made(SQUARES, 1)
    data = [proposal_data(way) for way in ways]
    assert data[0]["words"].startswith("every seam")
    assert data[0]["problem"] is None


def test_a_piece_is_outlined_within_its_edge():
    found, ways = made(STARFISH, 1)
    edited = found.edited(ways[0].edits)
    assert all(piece.edge_line for piece in edited.design.applique)
    assert edited.design.lines.ditch == ("none",)
    assert {line.kind for line in ways[0].plan.lines} <= {"outline", "centre", "echo", "fill"}


def test_no_echo_goes_round_a_piece_where_the_seams_hold_the_batting():
    four = STARFISH.replace('rows = ["plain"]', 'rows = ["plain plain", "plain plain"]')
    found, ways = made(four + '[batting]\ndistance = "11 in"\n', 1)
    design = found.edited(ways[0].edits).design
    assert design.lines.ditch == ("blocks",)
    assert [piece.echo for piece in design.applique] == [None]


def test_its_picture_is_the_top_with_its_lines(own):
    _, ways = own
    picture = fromstring(proposal_data(ways[1])["picture"])
    box = np.array(picture.get("viewBox").split(), dtype=float)
    top = ways[1].plan.top
    assert box[2:] == pytest.approx([top.width, top.height], rel=0.01)
    fills = {path.get("fill") for path in picture}
    assert {fabric.colour for fabric in top.fabrics.values()} <= fills
    assert any(path.get("fill") == "none" for path in picture)


def test_three_ways_stand_side_by_side_with_picture_thread_and_minutes(own):
    _, ways = own
    html = suggested_html("Wall", ways, "in")
    assert html.count("<svg") == 3
    for way in ways:
        assert f"<h2>{way.name}</h2>" in html
        assert f"about {way.minutes:.0f} min" in html
        assert f"{way.thread * 1000 / 914.4:.2f} yd" in html
    assert "ommon practice" in html
    pdfs = [suggested_pdf("Wall", ways, "in", A4) for _ in range(2)]
    assert pdfs[0] == pdfs[1]
    assert pdfs[0].count(b"/Type /Page\n") == 1 or b"/Count 1" in pdfs[0]
    assert html == suggested_html("Wall", ways, "in")
