"""The measures by which shapes of a drawing are told apart, tried on either side of each."""

import numpy as np
import pytest
from drawn import FOAM, NAVY, RED, checks, grid, line, path, poly, rect, svg

from stitchpath import StitchpathError
from stitchpath.design.drawings.whole import take_whole

HALVES = rect(0, 0, 150, 300, fill=FOAM) + rect(150, 0, 150, 300, fill=NAVY)


def taken(folder, *body, side=300, **said):
    file = folder / "x.svg"
    file.write_text(svg(f"{side}mm", f"0 0 {side} {side}", *body))
    return take_whole(file, "", **said)


def roles(whole):
    """Roles by colour, of all but the plain ground and seams."""
    return {guess.key: guess.role for guess in whole.guesses}


def disc(r, **more):
    return (
        f'<circle cx="150" cy="150" r="{r}"'
        + "".join(f' {k}="{v}"' for k, v in more.items())
        + "/>"
    )


def frame(inset, side, **more):
    return rect(inset, inset, side - 2 * inset, side - 2 * inset, fill="none", **more)


def cut_square(at, side, cut, **more):
    """A square without one of its corners."""
    far = at + side
    return poly([(at, at), (far, at), (far, far - cut), (far - cut, far), (at, far)], **more)


@pytest.mark.parametrize(
    ("body", "role"),
    [
        # of a diamond less or more than half lies on its neighbour: pieced beside it, or laid on it
        (rect(0, 0, 200, 300, fill=FOAM)
         + poly([(152.6, 150), (202.6, 100), (252.6, 150), (202.6, 200)], fill=RED), "patch"),
        (rect(0, 0, 200, 300, fill=FOAM)
         + poly([(147.4, 150), (197.4, 100), (247.4, 150), (197.4, 200)], fill=RED), "appliqué"),
        # a rectangle a hundredth over a seam is pieced, a thirtieth over it lies across
        (HALVES + rect(50, 50, 101, 100, fill=RED), "patch"),
        (HALVES + rect(50, 50, 103.3, 100, fill=RED), "appliqué"),
        # 1/300 or 1/140 of a square cut off
        (rect(0, 0, 300, 300, fill=FOAM) + cut_square(100, 100, 8, fill=RED), "patch"),
        (rect(0, 0, 300, 300, fill=FOAM) + cut_square(100, 100, 12, fill=RED), "appliqué"),
        # what hides 96 or 94 of a hundred of its ground
        (rect(0, 0, 300, 300, fill=FOAM) + cut_square(1.5, 297, 60, fill=RED), "patch"),
        (rect(0, 0, 300, 300, fill=FOAM) + cut_square(1.5, 297, 85, fill=RED), "appliqué"),
        # two corners 0.8 or 1.2 mm from the edge of the ground
        (rect(0, 0, 300, 300, fill=FOAM)
         + poly([(100, 0.8), (200, 0.8), (150, 90)], fill=RED), "patch"),
        (rect(0, 0, 300, 300, fill=FOAM)
         + poly([(100, 1.2), (200, 1.2), (150, 90)], fill=RED), "appliqué"),
    ],
)  # fmt: skip
def test_a_shape_over_others_is_pieced_or_laid_on_by_how_it_lies(tmp_path, body, role):
    assert roles(taken(tmp_path, body))[RED] == role


@pytest.mark.parametrize(
    ("body", "role"),
    [
        # a shade lets more than half show; a tint of less is cloth
        (rect(20, 50, 110, 200, fill=RED, fill_opacity=0.48), "guide"),
        (rect(20, 50, 110, 200, fill=RED, fill_opacity=0.52), "patch"),
        (f'<g opacity="0.6">{rect(20, 50, 110, 200, fill=RED, opacity=0.8)}</g>', "guide"),
        (rect(20, 50, 110, 200, fill="rgba(192,57,43,.4)"), "guide"),
        # what is as small as a letter, or as thin as a pen's line
        (rect(50, 50, 6.2, 12.5, fill=RED), "guide"),
        (rect(50, 50, 6.5, 12.5, fill=RED), "patch"),
        (rect(50, 50, 6.2, 12.9, fill=RED), "patch"),
        (rect(50, 50, 2.8, 100, fill=RED), "guide"),
        (rect(50, 50, 3.2, 100, fill=RED), "patch"),
    ],
)
def test_shades_and_letters_over_a_patch_are_not_cloth(tmp_path, body, role):
    assert roles(taken(tmp_path, HALVES, body))[RED] == role


@pytest.mark.parametrize(("wide", "patches"), [(140, 4), (150, 6)])
def test_a_title_up_to_half_the_page_goes_with_its_frame(tmp_path, wide, patches):
    title = rect(295 - wide, 255, wide, 40, fill="none", stroke="black")
    inner = f'<g transform="translate(20,20)">{grid(2, 100)}</g>'
    whole = taken(tmp_path, frame(5, 300, stroke="black"), title, inner)
    assert len(whole.patches) == patches


@pytest.mark.parametrize(("gap", "patches"), [(0.8, 4), (1.2, 6)])
def test_a_title_in_the_corner_of_its_frame_is_no_patch(tmp_path, gap, patches):
    title = line(195, 255, 295 - gap, 255) + line(195, 255, 195, 295)
    title += line(295 - gap, 255, 295 - gap, 295)
    inner = f'<g transform="translate(20,20)">{grid(2, 100)}</g>'
    whole = taken(tmp_path, frame(5, 300, stroke="black"), title, inner)
    assert len(whole.patches) == patches


@pytest.mark.parametrize(("fill", "patches"), [("url(#p)", 9), (FOAM, 10)])
@pytest.mark.parametrize("beyond", [0.8, 1.2])
def test_squared_paper_as_large_as_the_page_is_no_cloth(tmp_path, fill, patches, beyond):
    pattern = '<pattern id="p"><rect width="1" height="1"/></pattern>'
    paper = rect(beyond, 0, 400 - beyond, 400, fill=fill)
    inner = f'<g transform="translate(50,50)">{checks(3, 100)}</g>'
    whole = taken(tmp_path, pattern + paper, inner, side=400)
    assert len(whole.patches) == (patches if beyond < 1 else 10)


def polygon_of(sides, x, y, r):
    turn = 2 * np.pi * np.arange(sides) / sides
    return poly(
        list(zip(x + r * np.cos(turn), y + r * np.sin(turn), strict=True)),
        fill="none", stroke="black",
    )  # fmt: skip


@pytest.mark.parametrize(("sides", "pieces"), [(12, 0), (14, 2)])
def test_closed_lines_within_a_patch_are_pieces_if_any_is_bent(tmp_path, sides, pieces):
    both = polygon_of(sides, 120, 150, 30) + polygon_of(sides, 180, 150, 30.3)
    assert len(taken(tmp_path, frame(0, 300, stroke="black"), both).pieces) == pieces


@pytest.mark.parametrize(("apart", "patches"), [(1.2, 4), (0.8, 5)])
def test_lines_outside_all_that_is_enclosed_are_marks(tmp_path, apart, patches):
    marks = line(250 + apart, 50, 290, 50) + line(250 + apart, 150, 290, 150)
    marks += line(290, 50, 290, 150)
    inner = f'<g transform="translate(50,0)">{grid(2, 100)}</g>'
    assert len(taken(tmp_path, inner, marks).patches) == patches


@pytest.mark.parametrize(
    ("d", "more", "role"),
    [
        ("M0 100H184V116", {}, "leave out"),  # 92 of a hundred along a seam
        ("M0 100H176V124", {}, "quilting"),  # 88
        ("M0 100.8H200", {}, "leave out"),  # mm beside it
        ("M0 101.2H200", {}, "quilting"),
        ("M-2 -2H202V202H-2Z", {"stroke_width": 3.2}, "leave out"),  # the binding
        ("M-2 -2H202V202H-2Z", {"stroke_width": 2.8}, "guide"),
        ("M100 50H294", {}, "quilting"),  # a little over half of it on the top
        ("M100 50H310", {}, "guide"),
    ],
)
def test_a_line_among_areas_is_told_by_how_it_runs(tmp_path, d, more, role):
    body = checks(2, 100) + path(d, stroke=RED, **more)
    assert roles(taken(tmp_path, body))[RED] == role


@pytest.mark.parametrize(("wide", "told"), [(2.8, True), (3.2, False)])
def test_filled_bars_nowhere_3_mm_wide_are_lines(tmp_path, wide, told):
    bars = "".join(
        rect(100 * k - wide / 2 + 5, 5, wide, 300) + rect(5, 100 * k - wide / 2 + 5, 300, wide)
        for k in range(4)
    )
    whole = taken(tmp_path, bars, side=310)
    assert any("nowhere 3 mm wide" in said for said in whole.told) == told


def test_of_thin_shapes_only_those_taken_as_lines_are_counted(tmp_path):
    bars = "".join(rect(100 * k, 0, 2, 300) for k in range(4))
    bent = path("M0 150Q150 250 300 150V151Q150 251 0 151Z", fill="black", stroke="none")
    told = taken(tmp_path, bars + rect(0, 0, 302, 2) + rect(0, 298, 302, 2) + bent, side=302).told
    assert any(said.startswith("6 filled shapes nowhere 3 mm wide") for said in told)


@pytest.mark.parametrize(
    ("lines", "patches", "quilting"),
    [(line(100, 0, 100, 300) + line(200, 0, 200, 300), 1, 2),
     (line(150, 0, 150, 300) + line(0, 150, 300, 150), 4, 0)],
)  # fmt: skip
def test_lines_that_cut_one_ground_into_four_are_seams(tmp_path, lines, patches, quilting):
    whole = taken(tmp_path, rect(0, 0, 300, 300, fill=FOAM) + lines)
    assert (len(whole.patches), len(whole.quilting)) == (patches, quilting)


@pytest.mark.parametrize(("inset", "role", "patches"), [(5, "guide", 9), (7, "edge", 10)])
def test_a_frame_within_a_fiftieth_of_the_page_is_the_pages(tmp_path, inset, role, patches):
    inner = f'<g transform="translate(13,13)">{grid(3, 274 / 3)}</g>'
    whole = taken(tmp_path, frame(inset, 300, stroke=RED), inner)
    assert roles(whole)[RED] == role
    assert len(whole.patches) == patches


@pytest.mark.parametrize(("beyond", "role"), [(24, "edge"), (26, "quilting")])
def test_a_line_round_all_within_a_tenth_is_the_edge(tmp_path, beyond, role):
    inner = f'<g id="seams" transform="translate(100,100)">{grid(2, 100)}</g>'
    whole = taken(tmp_path, frame(100 - beyond, 400, stroke=RED), inner, side=400)
    assert roles(whole)[RED] == role


@pytest.mark.parametrize(("side", "patches"), [(95.9, 10), (93.8, 1)])
def test_lines_that_enclose_nine_tenths_of_the_most_may_be_the_seams(tmp_path, side, patches):
    at = 200 - 1.5 * side
    inner = f'<g transform="translate({at},{at})">{grid(3, side)}</g>'
    whole = taken(tmp_path, frame(50, 400, stroke=RED), inner, side=400)
    assert len(whole.patches) == patches


@pytest.mark.parametrize(("r", "patches", "pieces"), [(115, 1, 1), (125, 2, 0)])
def test_a_closed_line_alone_is_a_piece_unless_it_is_as_large_as_the_top(
    tmp_path, r, patches, pieces
):
    whole = taken(tmp_path, frame(0, 300, stroke="black"), disc(r, fill="none", stroke="black"))
    assert (len(whole.patches), len(whole.pieces)) == (patches, pieces)


def test_a_curve_is_followed_to_a_hundredth_of_a_millimetre(tmp_path):
    (patch,) = taken(tmp_path, disc(150, fill=RED)).patches
    # of a circle of radius r, area pi r², chords at most s from it lose less than 2 pi r s
    assert 0 <= 3.14159265 * 150**2 - patch.polygon.area < 2 * 3.1416 * 150 * 0.01


def parts_apart(share):
    """A top of 300 mm, and a piece of so much of both beside it."""
    side = (90_000 * share / (1 - share)) ** 0.5
    return checks(3, 100) + rect(310, 0, side, side, fill=RED)


def test_what_lies_beside_a_top_is_left_out_up_to_a_fifth_of_all(tmp_path):
    assert len(taken(tmp_path, parts_apart(0.19), side=500).patches) == 9
    with pytest.raises(StitchpathError, match="sheet of templates"):
        taken(tmp_path, parts_apart(0.21), side=500)


@pytest.mark.parametrize(
    ("side", "good", "block"),
    [(99, 101, False), (19, 21, True), (5010, 4990, False), (5010, 4990, True)],
)
def test_a_drawing_too_small_or_too_large_for_what_it_is_meant_to_be_is_asked_about(
    tmp_path, side, good, block
):
    with pytest.raises(StitchpathError, match="by the unit that it names"):
        taken(tmp_path, checks(3, side / 3), side=side, block=block)
    assert len(taken(tmp_path, checks(3, good / 3), side=good, block=block).patches) == 9


def sides_added(whole):
    return [said.split()[0] for said in whole.told if "of the edge not drawn" in said]


@pytest.mark.parametrize(("drawn", "added"), [(135, ["4"]), (165, ["3"])])
def test_a_side_of_the_edge_half_drawn_is_left_as_it_is(tmp_path, drawn, added):
    inner = "".join(line(k, 0, k, 300) + line(0, k, 300, k) for k in (100, 200))
    whole = taken(tmp_path, inner + line(0, 0, 0, drawn))
    assert sides_added(whole) == added


@pytest.mark.parametrize(("apart", "added"), [(0.8, []), (1.2, ["4"])])
def test_a_top_on_its_corner_gets_no_edge_where_its_ends_all_but_meet(tmp_path, apart, added):
    gap = apart / 2
    tips = [(150, 0), (300, 150), (150, 300), (0, 150)]
    ends = [(gap, 0), (0, gap), (-gap, 0), (0, -gap)]  # of each corner to one side
    body = "".join(
        line(x + u, y + v, *(np.array(tips[k - 3]) - ends[k - 3]))
        for k, ((x, y), (u, v)) in enumerate(zip(tips, ends, strict=True))
    )
    assert sides_added(taken(tmp_path, body)) == added


@pytest.mark.parametrize(
    ("stroke", "patches", "pieces", "quilting"),
    [
        (path("M20 250Q150 20 280 250", stroke="green", stroke_width=2.9), 9, 0, 1),
        (path("M20 250Q150 20 280 250", stroke="green", stroke_width=3.1), 9, 1, 0),  # a stem
        (path("M0 150H300", stroke="green", stroke_width=20), 13, 0, 0),  # a sashing
        (path("M0 100H300", stroke="green", stroke_width=20), 9, 0, 0),  # an edge drawn fat
    ],
)
def test_a_stroke_too_wide_for_thread_is_the_cloth_that_it_covers(
    tmp_path, stroke, patches, pieces, quilting
):
    found = taken(tmp_path, checks(3, 100), stroke)
    assert (len(found.patches), len(found.pieces), len(found.quilting)) == (
        patches, pieces, quilting,
    )  # fmt: skip


def test_a_line_within_a_line_of_a_piece_is_a_hole_in_it_and_told(tmp_path):
    rings = [disc(r, fill="none", stroke="black", id="motif") for r in (45, 30, 15)]
    found = taken(tmp_path, grid(3, 100), *rings)
    areas = [piece.shape.area for piece in found.pieces]
    assert areas == pytest.approx([np.pi * (45**2 - 30**2), np.pi * 15**2], rel=1e-3)
    assert any("taken as a hole" in said for said in found.told)


def test_a_layer_is_told_by_the_label_she_gave_it_rather_than_its_id(tmp_path):
    layer = (
        '<g id="stitching1" xmlns:i="urn:i" i:label="Waves, stitch">'
        + path("M10 50H290", stroke="red")
        + "</g>"
    )
    assert "Waves, stitch" in roles(taken(tmp_path, grid(3, 100), layer))
