"""Fills in a design: the right ground, hung on the ditch, cut where lines cross."""

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from quilts import DESIGNS, SQUARES, check_laws, design, planned, verify
from scipy.spatial import cKDTree

from stitchpath.base.errors import StitchpathError
from stitchpath.checks.cures import close_gaps
from stitchpath.design.read import design_from_text
from stitchpath.lines.fill_lines import Filler
from stitchpath.lines.fills.styles import STYLES
from stitchpath.lines.line import Line
from stitchpath.network.noding import node_lines
from stitchpath.plan import lines_of, make_plan

INCH = 25.4
STAR = (DESIGNS / "star-lap-quilt.toml").read_text("utf-8")
FREE = STAR.replace('# order = "free"', 'order = "free"')  # which is the quicker to find
PIECE = (
    '[[applique]]\nname = "star"\nfile = "starfish.svg"\non = "A1"\nsize = 4\nfabric = "coral"\n'
)


def fill(region='region = "A1"', style="meander", spacing="1/2 in", more=""):
    return f'\n[[fills]]\n{region}\nstyle = "{style}"\nspacing = "{spacing}"\n{more}\n'


def fills(text):
    top, lines = lines_of(design(text))
    return top, [line for line in lines if line.kind == "fill"]


def test_a_meander_in_every_ground_patch_costs_one_run_of_the_other_foot_at_most():
    # All ground patches of the stars touch seams of the one thread, so none may add a run, but the
    # other foot may.
    ditch = make_plan(design_from_text(FREE, "star", DESIGNS), time_limit=1)
    both = make_plan(
        design_from_text(FREE + fill('fabric = "foam"'), "star", DESIGNS), time_limit=1
    )
    patches = sum(p.fabric == "foam" for p in both.top.patches)
    assert len([x for x in both.lines if x.kind == "fill"]) >= patches
    assert both.totals.runs <= ditch.totals.runs + 1
    check_laws(both)
    verify(both)


def test_no_circle_over_two_inches_is_left_on_the_lap_quilt_once_gaps_are_closed():
    closed, said = close_gaps(design_from_text(FREE, "star", DESIGNS).held_by("2in"))
    plan = make_plan(closed, time_limit=1)
    assert said
    assert not any(each.startswith("still loose") for each in said)
    assert not [c for c in plan.checks if c.code == "loose-ground"]
    assert widest(plan) <= 2 * INCH + 1e-6
    verify(plan)


def widest(plan):
    """Measure the widest circle from points along all that is stitched, on ever finer grids."""
    paths = [leg.points for run in plan.runs for leg in run.legs if leg.do == "stitch"]
    held = shapely.segmentize([shapely.LineString(p) for p in paths], 0.5)
    edge = shapely.segmentize(plan.top.outline.exterior, 0.5)
    tree = cKDTree(np.concatenate([shapely.get_coordinates(held), shapely.get_coordinates(edge)]))
    x, y = np.meshgrid(np.arange(1.5, plan.top.width, 3), np.arange(1.5, plan.top.height, 3))
    cells = np.column_stack([x.ravel(), y.ravel()])
    for side in (3.0, 0.5, 0.1, 0.02):
        far, _ = tree.query(cells)
        # A cell holds nothing farther than its middle and half its diagonal.
        open_cells = cells[far + side * np.sqrt(0.5) >= far.max()]
        finer = np.arange(-side / 2, side / 2, side / 6) + side / 12
        shift = np.stack(np.meshgrid(finer, finer), axis=-1).reshape(-1, 2)
        best = np.argsort(-tree.query(open_cells)[0], kind="stable")[:2000]
        cells = (open_cells[best][:, None] + shift).reshape(-1, 2)
    # Samples overstate a distance a little: what counts is that to the stitching itself.
    ways = shapely.MultiLineString([*paths, shapely.get_coordinates(plan.top.outline.exterior)])
    shapely.prepare(ways)
    widest = cells[np.argsort(-far, kind="stable")[:5000]]
    return 2 * float(shapely.distance(ways, shapely.points(widest)).max())


def test_a_block_and_its_fill_are_stitched_in_one_run():
    text = SQUARES + fill('region = "A1.r1c1"')
    plan = planned(text + '[machine]\nfoot = "free-motion"\n')
    assert plan.totals.runs == planned(SQUARES).totals.runs
    kinds = [plan.lines[leg.line].kind for leg in plan.runs[0].legs if leg.do == "stitch"]
    assert {"ditch", "fill"} == set(kinds)


@pytest.mark.parametrize("style", ["meander", "spiral", "rings"])
def test_a_closed_fill_is_entered_where_its_thread_stitches_a_seam(style):
    top, found = fills(SQUARES + fill('fabric = "sea"', style))
    seams = shapely.union_all([shapely.Point(p) for s in top.seams for p in s.points[[0, -1]]])
    for patch in (p for p in top.patches if p.fabric == "sea"):
        mine = [f for f in found if patch.polygon.buffer(0.01).covers(shapely.LineString(f.points))]
        doors = shapely.points(np.concatenate([f.points[[0, -1]] for f in mine]))
        assert shapely.distance(seams, doors).min() < 0.001


def test_a_fill_of_another_thread_is_entered_from_the_margin():
    text = SQUARES + '[threads.grey]\nlines = ["ditch"]\n[threads.blue]\n'
    plan = planned(text + fill('region = "A1.r1c1"', "spiral", more='thread = "blue"'))
    (run,) = [run for run in plan.runs if run.thread == "blue"]
    assert (run.start_where, run.end_where) == ("margin", "margin")
    check_laws(plan)


@pytest.mark.parametrize("style", sorted({*STYLES} - {"motif rows", "ribbon candy"}))
def test_every_fill_makes_a_plan_that_holds(style):
    text = SQUARES.replace("sea sand", "sea/coral sand") + fill(style=style, more="angle = 27")
    plan = planned(text, time_limit=0.3)
    assert any(line.kind == "fill" for line in plan.lines)
    check_laws(plan)
    verify(plan)


def test_crosshatch_goes_on_by_the_ditch_and_steps_only_where_its_thread_may_not_travel():
    block = SQUARES.replace("'sand sea', 'sea sand'", "'sand'").replace('squares"]', 'squares*2"]')
    hatch = fill('region = "squares"', "crosshatch", "1 in", 'angle = 45\nthread = "{}"')
    threads = '[threads.grey]\nlines = ["ditch"]\n[threads.blue]\n'

    def steps(thread):
        _, found = fills(block + hatch.format(thread) + threads)
        level = [np.abs(np.ptp(line.points, axis=0)).min() < 1e-6 for line in found]
        return sum(level)

    assert steps("grey") == 0
    assert steps("blue") >= 6


@pytest.mark.parametrize("corners", ["mitred", "squares"])
def test_piano_keys_go_all_round_a_border_side_by_side(corners):
    text = SQUARES + f'[[layout.borders]]\nwidth = 2\nfabric = "sea"\ncorners = "{corners}"\n'
    top, found = fills(text + fill('region = "border 1"', "piano keys", "1/2 in"))
    sides = [p for p in top.patches if p.part == "border"]
    for side in sides:
        mine = [f for f in found if side.polygon.buffer(0.01).covers(shapely.LineString(f.points))]
        assert len(mine) >= 5
    whole = planned(text + fill('region = "border 1"', "piano keys", "1/2 in"))
    check_laws(whole)


def test_a_continuous_curve_follows_each_patch_and_meets_at_the_corners():
    top, found = fills(SQUARES + fill('region = "squares"', "continuous curve", "1/4 in"))
    in_blocks = [p for p in top.patches if p.part == "block"]
    assert len(found) == 4 * len(in_blocks)  # a curve for each side of a square
    corners = {tuple(np.round(c, 3)) for p in in_blocks for c in p.polygon.exterior.coords}
    assert {tuple(np.round(e, 3)) for f in found for e in f.points[[0, -1]]} <= corners


def test_a_crosshatch_along_stitched_diagonals_does_not_stitch_them_twice():
    text = SQUARES.replace("'sand sea', 'sea sand'", "'sand/sea coral', 'coral sea/sand'")
    text = text.replace('["squares"]', '["squares*2", "squares*2", "squares squares:90"]')
    more = "angle = 45\n[batting]\nmargin = 0.2\n"
    plan = planned(text + fill('region = "squares"', "crosshatch", "1 in", more))
    tips = np.round([np.sort(line.points[[0, -1]], axis=0).ravel() for line in plan.lines], 2)
    straight = [len(line.points) == 2 for line in plan.lines]
    assert len(np.unique(tips[straight], axis=0)) == sum(straight)
    verify(plan)


def test_rows_of_a_motif_come_from_a_drawn_line():
    plan = planned(SQUARES + fill(style="motif rows", spacing="1 in", more='motif = "breaker.svg"'))
    check_laws(plan)
    verify(plan)


def test_fills_stay_in_their_region_and_off_pieces_fused_before():
    top, found = fills(SQUARES + fill() + PIECE + 'fused = "before"\n')
    stitched = shapely.union_all([shapely.LineString(f.points) for f in found])
    assert top.outline.buffer(0.01).covers(stitched)
    assert stitched.intersection(top.pieces[0].shape.buffer(-0.01)).is_empty


def test_the_ground_ends_at_the_piece_even_when_it_is_fused_later():
    top, found = fills(SQUARES + fill('region = "ground"') + PIECE)
    stitched = shapely.union_all([shapely.LineString(f.points) for f in found])
    assert stitched.length > 0
    assert stitched.intersection(top.pieces[0].shape.buffer(-0.01)).is_empty


def test_a_piece_that_reaches_over_a_seam_by_a_hair_has_its_ground_in_one_block():
    square = 'outline = "M 0 0 L 2 0 L 2 2 L 0 2 Z"\non = "top"\nat = [5.0005, 3]\nsize = 2\n'
    text = SQUARES.replace('["squares"]', '["squares*2"]') + fill('region = "ground"')
    top, found = fills(f'{text}[[applique]]\nname = "crate"\n{square}fabric = "coral"\n')
    assert top.pieces[0].shape.bounds[2] > 6 * INCH
    assert max(line.points[:, 0].max() for line in found) < 6 * INCH + 0.01


def test_patches_of_a_fabric_run_together_over_a_seam_that_is_not_stitched():
    text = SQUARES.replace("'sand sea', 'sea sand'", "'sea sea', 'sand sand'")
    seam = shapely.LineString([(3 * INCH, 0), (3 * INCH, 3 * INCH)])
    _, apart = fills(text + fill('fabric = "sea"'))
    _, joined = fills(
        text + '[lines]\nexclude = [["A1.r1c1", "A1.r1c2"]]\n' + fill('fabric = "sea"')
    )
    inner = seam.segmentize(1).buffer(0.5)
    crossing = [shapely.LineString(f.points).crosses(seam) for f in joined]
    assert any(crossing)
    assert not any(shapely.LineString(f.points).intersection(inner).length > INCH for f in apart)


def test_several_patches_can_be_named_as_one_region():
    text = SQUARES + '[lines]\nexclude = [["A1.r1c1", "A1.r1c2"]]\n'
    _, one = fills(text + fill('region = ["A1.r1c1", "A1.r1c2"]', "spiral"))
    _, two = fills(
        text + fill('region = "A1.r1c1"', "spiral") + fill('region = "A1.r1c2"', "spiral")
    )
    assert len(one) == 1
    assert len(two) == 2


def test_the_rest_is_what_neither_seams_nor_other_fills_hold():
    text = SQUARES + fill('region = "A1.r1c1"') + fill('region = "rest"', "spiral")
    top, found = fills(text)
    held = [
        f for f in found if f.points[:, 0].max() > 3.1 * INCH or f.points[:, 1].max() > 3.1 * INCH
    ]
    assert len(held) == 3
    _, none = fills(text + '[batting]\ndistance = "4 in"\n')
    assert len(none) == 1
    assert len(top.patches) == 4


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (fill('region = "A7"'), r"fills\[1\].*unknown region|fills\[1\].*region"),
        (fill('region = ["A1.r1c1", "A1"]'), "unknown patch 'A1', expected a patch out of A1.r1c1"),
        (fill('fabric = "see"'), r"fills\[1\].*'sea'|fills\[1\].*sea"),
        (fill('region = "A1"\nfabric = "sea"'), "both, expected either region or fabric"),
        (fill(style="motif rows"), "no motif"),
        (fill(more='thread = "gold"'), r"fills\[1\].*thread"),
        (fill(style="no such fill"), r"fills\[1\]\.style"),
        (fill(more='angle = "up"'), r"fills\[1\]\.angle: found 'up', expected a number$"),
    ],
)
def test_what_a_fill_cannot_be_made_of_is_told_in_one_sentence(text, said):
    with pytest.raises(StitchpathError, match=said) as error:
        lines_of(design(SQUARES + text))
    assert "\n" not in str(error.value)


def test_ground_too_narrow_for_its_fill_is_told_of():
    plan = planned(SQUARES + fill('fabric = "sea"', spacing="8 in"))
    (check,) = [c for c in plan.checks if c.code == "left-empty"]
    assert "the sea" in check.message
    assert "too narrow for meander" in check.message


def test_a_meander_much_shorter_than_its_spacing_asks_for_is_told_of():
    text = SQUARES.replace("'sand sea', 'sea sand'", "'sand/sea sea', 'sea sand/sea'")
    plan = planned(text + fill('fabric = "sand"', spacing="3/4 in"))
    (check,) = [c for c in plan.checks if c.code == "thin-fill"]
    assert "the sand in A1 the meander has little room to turn" in check.message
    assert "comes to one at 15/16 in" in check.message


grid_points = st.lists(
    st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=3, max_size=12
).map(lambda found: np.array(found, dtype=float) * 8)  # what lies in one line does so exactly


@settings(max_examples=15, deadline=None)
@given(grid_points)
def test_a_line_that_crosses_itself_is_cut_there_and_nothing_is_lost(points):
    steps = np.any(np.diff(points, axis=0) != 0, axis=1)
    points = points[np.concatenate([[True], steps])]
    assume(len(points) > 1)
    whole = shapely.LineString(points)
    cut, _ = node_lines([Line("fill", 1, "thread", points)], [])
    # Each straight stretch is stitched once, though the line may run over it again.
    assert sum(shapely.LineString(x.points).length for x in cut) == pytest.approx(
        shapely.union_all([whole], grid_size=0.001).length, abs=0.05
    )
    for i, a in enumerate(cut):
        for b in cut[i + 1 :]:
            common = shapely.LineString(a.points).intersection(shapely.LineString(b.points))
            ends = shapely.multipoints([*a.points[[0, -1]], *b.points[[0, -1]]])
            assert common.difference(ends.buffer(0.01)).is_empty


def test_a_spacing_that_is_a_slip_of_the_pen_is_refused_at_once():
    with pytest.raises(StitchpathError, match=r"fills\[1\], spacing: found 0.1 mm, .* 0.7 mm on"):
        lines_of(design(SQUARES + fill(spacing="0.1 mm")))


@pytest.mark.parametrize(
    ("region", "why"), [("ground", "no block bears appliqué"), ("rest", "is left unquilted")]
)
def test_a_fill_that_finds_nothing_to_fill_says_so(region, why):
    plan = planned(SQUARES + fill(f'region = "{region}"', spacing="6 in"))
    (check,) = [c for c in plan.checks if c.code == "left-empty"]
    assert why in check.message


def test_a_neck_that_a_fill_leaves_empty_is_told_with_its_place():
    basins = """
name = "Two basins"
[fabrics]
water = "#2f6f9f"
stone = "#999999"
[blocks.basin]
size = [20, 10]
units = [20, 10]
patches = [
  { name = "water", fabric = "water", path = "M0 0H8V4.5H12V0H20V10H12V5.5H8V10H0Z" },
  { name = "pier", fabric = "stone", points = [[8, 0], [12, 0], [12, 4.5], [8, 4.5]] },
  { name = "mole", fabric = "stone", points = [[8, 5.5], [12, 5.5], [12, 10], [8, 10]] },
]
[layout]
rows = ["basin"]
"""
    plan = planned(basins + fill('region = "basin.water"', spacing="1 in"))
    (check,) = [c for c in plan.checks if c.code == "left-empty"]
    assert "a neck or tip of the water in A1, 1 in wide at" in check.message
    assert 8 * 25.4 < check.at[0] < 12 * 25.4
    assert 4.5 * 25.4 < check.at[1] < 5.5 * 25.4


def test_cures_of_many_names_that_are_one_fill_do_not_let_her_wait_for_each(monkeypatch):
    text = SQUARES.replace('["squares"]', '["squares squares squares"]')
    text += "".join(fill(f'region = "{at}.r1c1"', "parallel") for at in ("A1", "A2", "A3"))
    made = []
    counted = Filler._filled  # noqa: SLF001
    monkeypatch.setattr(Filler, "_filled", lambda *asked: made.append(asked) or counted(*asked))
    _, lines = fills(text)
    assert {line.of.fill for line in lines} == {0, 1, 2}
    assert len(made) == 1
