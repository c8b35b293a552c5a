"""The printed guide: true to size on paper, whole on the page.

Pages are read back and rendered by pdfium (through pypdfium2, a general-purpose PDF library that
has nothing to do with the one that writes them). The inch is 25.4 mm by the international yard and
pound agreement of 1959; the sizes of paper are those of ISO 216 and ANSI/ASME Y14.1.
"""

import logging
import re
from dataclasses import replace
from itertools import groupby

import numpy as np
import pytest
import shapely
from quilts import DESIGNS, SQUARES, STARFISH, planned

from stitchpath.base.marks import INK, LINES, MARKS, contrast
from stitchpath.design.read import load_design
from stitchpath.export.guide import (
    A4,
    A5,
    HALF_LETTER,
    LETTER,
    drawing,
    guide_sheets,
    plan_guide,
    plan_templates,
    plan_true_size,
    windows,
    words,
)
from stitchpath.export.guide.drawing import styles_of
from stitchpath.export.guide.glance import glance_sheet
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.legend import draw_legend, expected_on
from stitchpath.export.guide.maps import map_pages
from stitchpath.export.guide.path import scene_of, shifted
from stitchpath.export.guide.supplies import supply_pages
from stitchpath.export.guide.templates import template_sheets
from stitchpath.export.guide.tiles import OVERLAP, tile_sheets
from stitchpath.export.guide.windows import window_pages
from stitchpath.export.pdf.letters import broken, text_width, typeset
from stitchpath.export.pdf.sheet import Box, Sheet
from stitchpath.lines.line import Line
from stitchpath.plan import make_plan
from stitchpath.thread import BobbinChange, RunPoint
from stitchpath.told.directions import directions
from stitchpath.told.stops import stops

pdfium = pytest.importorskip("pypdfium2")

DPI = 300
TOLERANCE = 0.2  # mm: what a quilter can see on a ruler

# Seams at 1 in and 11 in: 254 mm apart, on two sheets of paper.
WIDE = """
name = "Wide"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.wide]
size = [12, 4]
columns = [1, 10, 1]
grid = ['sand sea sand']
[layout]
rows = ["wide"]
"""

MANY = (
    'name = "'
    + "Harbourlongnamewithoutanyspace" * 2
    + """"
[fabrics]
"a fabric whose name goes on and on" = "#e7d5b0"
sea = "#2f6f9f"
"čtverec 日本" = "#dc6f50"
[blocks."a block with a long name of its own"]
size = 6
grid = ['sea sea', 'sea sea']
[blocks.named]
size = 6
units = 6
patches = [
  { name = "a very long name for so small a patch", fabric = "sea", path = "M0 0H6V1H0Z" },
  { name = "x", fabric = "a fabric whose name goes on and on", path = "M0 1H6V6H0Z" },
]
[layout]
rows = ["named named", "named named"]
sashing = { width = 1, fabric = "čtverec 日本", cornerstone = "sea", around = true }
[[layout.borders]]
width = 2
fabric = "sea"
corners = "squares"
[[applique]]
name = "a starfish with a name that is long as well"
file = "starfish.svg"
on = "A1"
size = 4
fabric = "čtverec 日本"
thread = "the thread with a name that hardly fits anywhere"
[threads.grey]
lines = ["ditch"]
[threads."the thread with a name that hardly fits anywhere"]
lines = ["centre"]
"""
)


def rendered(pdf, page):
    """A page as darkness, 0 white to 1 black, with millimetres to the dot."""
    bitmap = pdfium.PdfDocument(pdf)[page].render(scale=DPI / 72, grayscale=True)
    return 1 - np.asarray(bitmap.to_numpy(), dtype=float).reshape(bitmap.height, -1) / 255


def dark_runs(profile):
    """Middles of the dark places along a row or column of dots, mm, weighed by darkness."""
    at = 0
    found = []
    for dark, some in groupby(profile > 0.25):
        n = len(list(some))
        if dark:
            weight = profile[at : at + n]
            found.append((np.arange(at, at + n) + 0.5) @ weight / weight.sum() * 25.4 / DPI)
        at += n
    return found


def row(page, mm):
    return dark_runs(page[round(mm * DPI / 25.4)])


def column(page, mm):
    return dark_runs(page[:, round(mm * DPI / 25.4)])


@pytest.fixture(scope="module")
def wide():
    return planned(WIDE)


@pytest.fixture(scope="module")
def cushion():
    return make_plan(load_design(DESIGNS / "curved-cushion.toml"))


@pytest.fixture(scope="module")
def crowded():
    return planned(MANY, time_limit=1)


# True to size


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
@pytest.mark.parametrize("make", [plan_true_size, plan_templates], ids=["tiles", "templates"])
def test_the_test_square_is_an_inch_and_the_bar_fifty_millimetres(wide, paper, make):
    pdf = make(wide, paper)
    for k in range(len(pdfium.PdfDocument(pdf))):
        page = rendered(pdf, k)
        high = page.shape[0] * 25.4 / DPI
        foot = max(y for y in column(page, 22) if y < high - 8)  # 22 mm is within both squares
        sides = [x for x in row(page, foot - 6) if x < 60][:2]
        levels = [y for y in column(page, sides[0] + 3) if y > foot - 40][-2:]
        assert sides[1] - sides[0] == pytest.approx(25.4, abs=TOLERANCE)
        assert levels[1] - levels[0] == pytest.approx(25.4, abs=TOLERANCE)
        ends = [x for x in row(page, foot - 5.5) if x > sides[1] + 1][:2]
        assert ends[1] - ends[0] == pytest.approx(50, abs=TOLERANCE)


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
def test_two_seams_on_two_sheets_lie_as_far_apart_as_on_the_quilt(wide, paper):
    pdf = plan_true_size(wide, paper)
    assert len(pdfium.PdfDocument(pdf)) == 3  # the plan of the tiles, and two of them
    first, second = rendered(pdf, 1), rendered(pdf, 2)
    level = 10 + (paper.height - 50) / 4 + 2.6  # a row through the arm of the upper cross
    frame, edge, seam, cross, _ = row(first, level)
    _, same_cross, other_seam, other_edge, _ = row(second, level)
    assert (cross - seam) + (other_seam - same_cross) == pytest.approx(254, abs=TOLERANCE)
    assert (cross - edge) + (other_edge - same_cross) == pytest.approx(12 * 25.4, abs=TOLERANCE)
    assert frame == pytest.approx(10, abs=TOLERANCE)


def test_the_starfish_template_is_as_large_as_the_design_says(runner):
    sheet = next(iter(template_sheets(runner, A4)))
    paths = [p for shape in sheet.shapes for p in shape.paths if len(p) > 100]
    low = np.min([p.min(axis=0) for p in paths], axis=0)
    high = np.max([p.max(axis=0) for p in paths], axis=0)
    left, top, right, bottom = runner.top.pieces[0].shape.bounds
    assert high - low == pytest.approx([right - left, bottom - top], abs=0.01)


def test_a_patch_is_cut_a_quarter_inch_larger_all_round():
    (sheet,) = template_sheets(planned(SQUARES), A4)  # four squares of 3 in, all of one shape
    cut, sewn = (
        shapely.Polygon(shape.paths[0])
        for shape in sheet.shapes
        if shape.paths and len(shape.paths[0]) == 5 and shape.paths[0][0][1] < 200
    )
    assert sewn.area == pytest.approx((3 * 25.4) ** 2)
    assert cut.area == pytest.approx((3.5 * 25.4) ** 2)


def test_a_ring_too_large_for_one_sheet_is_drawn_at_true_size_on_two(cushion):
    first, second = (sheet for sheet in template_sheets(cushion, A4) if "life ring" in texts(sheet))
    rings = [shape for shape in first.shapes if shape.closed is False and shape.clip]
    size = np.ptp(np.concatenate(rings[0].paths), axis=0)
    left, top, right, bottom = cushion.top.pieces[0].shape.bounds
    assert size == pytest.approx([right - left, bottom - top], abs=0.01)
    frames = [next(s.clip for s in sheet.shapes if s.clip) for sheet in (first, second)]
    moved = rings[0].paths[0][0] - next(s for s in second.shapes if s.clip).paths[0][0]
    step = frames[0].width if moved[0] else frames[0].height
    assert np.hypot(*moved) == pytest.approx(step - OVERLAP)
    assert "part 1a" in texts(first)
    assert "lay the crosses on each other" in texts(first)


def test_no_sheet_of_templates_is_empty_and_each_is_numbered(cushion):
    sheets = list(template_sheets(cushion, A4))
    for k, sheet in enumerate(sheets, 1):
        assert ": " in texts(sheet) or "life ring" in texts(sheet)
        assert f"page {k} of {len(sheets)}" in texts(sheet)


def test_no_sheet_of_templates_is_spent_on_a_remark(runner):
    last = list(template_sheets(runner, LETTER))[-1]
    assert "boat: hull" in texts(last)
    mark = next(word for word in last.words if word.text == "boat: hull")
    crossing = [
        path
        for shape in last.shapes
        for path in shape.paths
        if shape.clip is None and abs(path[0][0] - mark.x) < 1 and abs(path[0][1] - mark.y) < 5
    ]
    assert crossing == []  # the cutting mark stands beside the name


def test_a_patch_of_many_fabrics_is_counted_and_not_cut_short():
    cells = ["sand sea", "coral harbourfoam"]
    text = SQUARES.replace("['sand sea', 'sea sand']", f"{cells}").replace("size = 6", "size = 2")
    text = text.replace("[blocks", 'harbourfoam = "#ffffff"\n[blocks')
    (sheet,) = template_sheets(planned(text, time_limit=0), A4)
    assert "4 of 4 fabrics" in texts(sheet)
    assert "…" not in texts(sheet)


def texts(sheet):
    return " ".join(word.text for word in sheet.words).replace("\u00a0", " ")


# Whole on the page


def pages(plan, paper):
    yield from guide_sheets(plan, paper, words=True)
    yield glance_sheet(scene_of(plan), paper)
    yield from tile_sheets(scene_of(plan), paper)
    yield from template_sheets(plan, paper)


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
@pytest.mark.parametrize("name", ["runner", "cushion", "crowded"])
def test_no_words_overlap_and_none_leave_the_page(name, paper, request):
    assert_words_whole(pages(request.getfixturevalue(name), paper))


@pytest.mark.parametrize("paper", [A5, HALF_LETTER], ids=["A5", "half Letter"])
@pytest.mark.parametrize("name", ["runner", "crowded"])
def test_no_words_overlap_on_small_paper(name, paper, request):
    assert_words_whole(guide_sheets(request.getfixturevalue(name), paper, words=True))


def assert_words_whole(sheets):
    for k, sheet in enumerate(sheets):
        boxes = np.array([shapely.box(*box) for box in sheet.boxes])
        whole = shapely.box(4, 4, sheet.width - 4, sheet.height - 4)
        outside = [w.text for w, b in zip(sheet.words, boxes, strict=True) if not whole.covers(b)]
        assert outside == [], f"page {k + 1}"
        inner = shapely.buffer(boxes, -0.25, join_style="mitre")
        left, right = shapely.STRtree(inner).query(inner, predicate="intersects")
        over = [
            (sheet.words[a].text, sheet.words[b].text)
            for a, b in zip(left, right, strict=True)
            if a < b and not inner[a].is_empty
        ]
        assert over == [], f"page {k + 1}"


def test_pdfium_reads_every_word_within_the_page(runner):
    document = pdfium.PdfDocument(plan_guide(runner, words=True))
    text = ""
    for page in document:
        width, height = page.get_size()
        textpage = page.get_textpage()
        for k in range(textpage.count_rects()):
            left, bottom, right, top = textpage.get_rect(k)
            assert left > 10
            assert bottom > 10
            assert right < width - 10
            assert top < height - 10
        text += textpage.get_text_range()
    plain = " ".join(text.split())
    assert "Harbour runner" in plain
    assert "Pivot left: " in plain
    assert "Rotary cutter." in plain
    assert "manual" in plain
    for n in range(1, len(directions(runner)[0].steps) + 1):
        assert f" {n} " in plain


def test_the_paper_has_its_standard_size(wide):
    for paper, size in ((A4, (210, 297)), (LETTER, (215.9, 279.4))):
        page = pdfium.PdfDocument(plan_guide(wide, paper))[0]
        assert np.array(page.get_size()) * 25.4 / 72 == pytest.approx(size, abs=0.01)


# The map


def test_threads_are_told_apart_without_colour():
    text = SQUARES + "".join(f"[threads.t{k}]\nlines = ['{kind}']\n" for k, kind in KINDS)
    plan = planned(text)
    run = plan.runs[0]
    several = [replace(run, thread=f"t{k}") for k in range(8)]
    styles = list(styles_of(replace(plan, runs=tuple(several))).values())
    assert len({style.dash for style in styles[: len(KINDS)]}) == len(KINDS)
    assert len({(style.dash, style.width) for style in styles}) == len(several)


BOXED = (
    SQUARES.replace("'sand sea', 'sea sand'", "'sand'")
    + '[[applique]]\nname = "float"\noutline = "M 0 0 L 4 0 L 4 4 L 0 4 Z"\nsize = 3\non = "A1"\n'
    'fabric = "coral"\ncentre = false\nedge_line = true\n[lines]\n'
    'ditch = "none"\n[batting]\nmargin = 0\n'
)
FRAMED = SQUARES.replace('rows = ["squares"]', 'rows = ["squares", "squares", "squares"]') + (
    '[machine]\nkind = "frame"\ndepth = 9\n[threads.grey]\nper_bobbin = "1 m"\n'
)


def looks(sheet, *, legend):
    """Give the dashes and the marks of a page, of its picture or of its legend."""
    first = min(word.y for word in sheet.words if word.text.startswith("stitched with")) - 3
    found = set()
    for shape in sheet.shapes:
        for path in shape.paths:
            if (path[0][1] > first) != legend:
                continue
            if shape.edge == INK and shape.closed and shape.width == pytest.approx(0.35):
                found.add((len(path), shape.fill))
            elif not shape.closed and shape.dash:
                found.add(tuple(np.round(shape.dash, 2)))
    return found


@pytest.mark.parametrize("page", ["map", "blocks"])
@pytest.mark.parametrize("text", [SQUARES, BOXED, FRAMED])
def test_the_legend_explains_every_mark_on_the_page_and_no_other(text, page):
    scene = scene_of(planned(text, time_limit=0))
    sheets = map_pages(scene, A4) if page == "map" else list(window_pages(scene, A4))
    for sheet in sheets:
        assert looks(sheet, legend=True) == looks(sheet, legend=False)


@pytest.mark.parametrize(
    ("rows", "lying"),
    [('"squares*5", "squares*5", "squares*5", "squares*5"', False), ('"squares*5"', True)],
)
def test_a_map_on_small_paper_lies_so_that_it_is_large_and_its_legend_near(rows, lying):
    plan = planned(SQUARES.replace('"squares"]', f"{rows}]"), time_limit=0)
    (sheet,) = map_pages(scene_of(plan), A5)
    assert sheet.landscape == lying


@pytest.mark.parametrize("text", [SQUARES, STARFISH])
def test_the_first_sheet_explains_what_stands_on_the_tiles_and_nothing_else(text):
    first, *tiles = tile_sheets(scene_of(planned(text, time_limit=0)), A4)
    on_tiles = {name for tile in tiles for name, _ in tile.used}
    said = " ".join(word.text for word in first.words)
    for name, look in [*LINES.items(), *MARKS.items()]:
        words = look.words.format(thread="", out="in the margin")
        assert (words.strip() in said) == (name in on_tiles), name


def test_a_line_that_needs_a_casing_has_it_beneath_and_wider_than_print_can_lose():
    plan = planned(SQUARES + "[threads.white]\n", time_limit=0)
    sheet = Sheet(A4)
    scene, window = scene_of(plan), Box(0, 0, plan.top.width, plan.top.height)
    drawing.draw_path(drawing.View.fit(sheet, window, Box(10, 10, 60, 60)), scene, weight=0.3)
    strokes = [shape for shape in sheet.shapes if not shape.closed and len(shape.paths[0]) > 1]
    (line,) = [k for k, shape in enumerate(strokes) if shape.edge == "#ffffff"][:1]
    beneath = [shape for shape in strokes[:line] if contrast(shape.edge, "#ffffff") >= 3]
    assert any(casing.width - strokes[line].width > 0.19 for casing in beneath)


def test_a_cross_stands_where_the_arms_of_a_piece_meet_and_at_no_bend(runner):
    assert len(drawing.meetings(runner.lines)) == len(runner.top.pieces) == 2
    for point, piece in zip(drawing.meetings(runner.lines), runner.top.pieces, strict=True):
        assert piece.shape.contains(shapely.Point(point))
    arms = [
        Line("centre", 1, "coral", np.array([[0.0, 0.0], at])) for at in [(9, 0), (0, 9), (5, 5)]
    ]
    assert len(drawing.meetings(arms[:2])) == 0
    assert drawing.meetings(arms).tolist() == [[0.0, 0.0]]


def test_threads_of_every_name_are_drawn_in_their_colour_with_a_chip_beside_the_name():
    kinds = [("grey", "#808080"), ("dark blue", "#00008b"), ("white", "#ffffff")]
    text = SQUARES + '[threads.grey]\n[threads."dark blue"]\n[threads.white]\n'
    plan = planned(text, time_limit=0)
    several = [replace(plan.runs[0], thread=name) for name, _ in kinds]
    plan = replace(plan, runs=tuple(several))
    sheet = Sheet(A4)
    draw_legend(sheet, plan, Box(10, 10, 190, 90), used=expected_on(plan))
    for name, colour in kinds:
        lines = [s for s in sheet.shapes if not s.closed and s.edge == colour]
        (word,) = [w for w in sheet.words if w.text == name]
        chips = [s.paths[0] for s in sheet.shapes if s.closed and s.fill == colour]
        assert lines
        assert any(
            0 < word.x - chip[:, 0].max() < 2 and chip[:, 1].max() > word.y for chip in chips
        )


KINDS = tuple(enumerate(["ditch", "centre", "outline", "echo", "fill"]))


def test_every_second_pass_is_drawn_beside_its_line(runner):
    scene = scene_of(runner)
    assert {stroke.shift for stroke in scene.strokes if stroke.do == "stitch"} == {0}
    again = [stroke for stroke in scene.strokes if stroke.do == "retrace"]
    assert again
    assert all(stroke.shift for stroke in again)
    sewn = sum(shapely.LineString(s.points).length for s in scene.strokes)
    legs = sum(shapely.LineString(leg.points).length for r in runner.runs for leg in r.legs)
    assert sewn == pytest.approx(legs)


def test_a_path_moved_to_its_right_stays_parallel():
    path = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    moved = shifted(path, 1.0)  # going right, down and left: right is inside
    assert moved.tolist() == [[0, 1], [9, 1], [9, 9], [0, 9]]
    assert shifted(path, -1.0)[0].tolist() == [0, -1]


def test_labels_keep_clear_of_each_other_and_of_lines():
    labels = Labels(Sheet(A4), Box(0, 0, 50, 50))
    labels.block_lines([np.array([[0.0, 20.0], [50.0, 20.0]])])
    at = np.array([[25.0, 20.0], [25.0, 24.0]])
    assert labels.put("12", at, 6, "#000000")
    assert labels.sheet.words[0].y > 22  # not on the line, though that came first
    assert labels.put("13", at, 6, "#000000")
    assert abs(labels.sheet.words[1].y - labels.sheet.words[0].y) > 2
    assert not labels.put("14", at, 6, "#000000")


def test_no_tick_takes_the_place_of_another():
    labels = Labels(Sheet(A4), Box(0, 0, 50, 50))
    places = np.array([[[10.0, 10, 11, 11], [20, 10, 21, 11]]] * 3)
    assert labels.claimed(places).tolist() == [0, 1, -1]
    assert labels.claimed(places - 25).tolist() == [-1, -1, -1]  # off the picture


def window_words(plan, paper=A4):
    return [word for sheet in window_pages(scene_of(plan), paper) for word in sheet.words]


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
def test_every_step_can_be_found_by_its_number_in_a_picture(runner, paper):
    numbers = {word.text for word in window_words(runner, paper) if word.face == "label"}
    first, *others = directions(runner)
    steps = {f"{k}" for k in range(1, len(first.steps) + 1)}
    steps |= {f"{run.run}.{k}" for run in others for k in range(1, len(run.steps) + 1)}
    assert steps <= numbers
    said = " ".join(w.text for w in window_words(runner, paper)).replace("\u00a0", " ")
    assert "{0} is step {0} of run 1,".format(len(first.steps)) in said


@pytest.mark.parametrize("cells", ["sand sea", "sea sand"])
def test_ticks_stand_on_the_low_side_of_every_seam(cells):
    # Allowances go to the darker fabric (common practice): the sea is high, the sand low.
    other = " ".join(reversed(cells.split()))
    plan = planned(SQUARES.replace("['sand sea', 'sea sand']", f"['{cells}', '{other}']"))
    scene = scene_of(plan)
    (sheet,) = window_pages(scene, A4)
    (window,) = windows._windows(scene)  # noqa: SLF001
    frame = next(shape.clip for shape in sheet.shapes if shape.clip)
    onto = window.box.width / frame.width
    ticks = [
        (path - (frame.left, frame.top)) * onto + (window.box.left, window.box.top)
        for shape in sheet.shapes
        if shape.width == drawing.TICK_WIDTH and shape.clip
        for path in shape.paths
    ]
    sand = shapely.union_all([p.polygon for p in plan.top.patches if p.fabric == "sand"])
    seams = [shapely.LineString(seam.points) for seam in plan.top.seams]
    assert all(sand.buffer(1e-6).covers(shapely.LineString(tick)) for tick in ticks)
    assert all(any(seam.distance(shapely.Point(t[0])) < 1e-6 for t in ticks) for seam in seams)


def test_marks_of_nested_echoes_find_room_and_show_where_both_ends_are():
    text = (
        SQUARES.replace("'sand sea', 'sea sand'", "'sand'").replace("size = 6", "size = 10")
        + '[lines]\nditch = "none"\n[[applique]]\nname = "starfish"\nfile = "starfish.svg"\n'
        'on = "A1"\nsize = 4\nfabric = "coral"\necho = { step = "3/16 in", count = 7 }\n'
    )
    plan = planned(text, time_limit=0)
    sheet = map_pages(scene_of(plan), A4)[0]
    legend = next(word.y for word in sheet.words if word.text.startswith("stitched with"))
    marks = np.array([(w.x, w.y) for w in sheet.words if w.face == "strong" and w.y < legend])
    assert len(marks) >= 8
    apart = np.abs(marks[:, None] - marks[None]).max(axis=2)
    assert apart[~np.eye(len(marks), dtype=bool)].min() > 3.9  # no square covers the next
    assert any("start and end inside the top" in word.text for word in sheet.words)


def test_arrows_stand_clear_of_the_crossings():
    path = np.array([[0.0, 0], [10, 0], [20, 0], [30, 0], [40, 0]])  # other seams end each 10 mm
    heads = drawing._heads(path, 40.0, 0.8, Box(-5, -5, 45, 5))  # noqa: SLF001
    assert len(heads) == 1
    assert np.abs(heads[0][:, 0] - 20).min() > 0.8


def test_no_block_is_left_out_where_there_are_too_many_to_show_one_by_one():
    row = " ".join(["one"] * 10)
    text = SQUARES.replace("squares]", "one]").replace("size = 6", "size = 1")
    plan = planned(text.replace('["squares"]', f"{[row] * 9}"), time_limit=0)
    shown = windows._windows(scene_of(plan))  # noqa: SLF001
    assert [w.name for w in shown[:2]] == ["A1 to B2", "A3 to B4"]
    assert shown[-1].name == "I9 to I10"
    boxes = shapely.union_all([shapely.box(*w.box) for w in shown])
    assert boxes.covers(plan.top.outline)
    said = " ".join(word.text for word in window_words(plan)).replace("\u00a0", " ")
    assert "The 90 blocks are shown in groups" in said
    assert all(w.name in said for w in shown)


def test_a_top_of_two_patches_and_one_seam_has_a_guide_too():
    plan = planned(SQUARES.replace("['sand sea', 'sea sand']", "['sand sea']"))
    assert len(plan.top.seams) == 1
    for make in (plan_guide, plan_true_size, plan_templates):
        assert make(plan).startswith(b"%PDF")


def test_four_blocks_fill_their_page_and_do_not_huddle_in_its_corner():
    rows = "['squares squares', 'squares squares']"
    plan = planned(SQUARES.replace('["squares"]', rows), time_limit=0)
    (sheet,) = window_pages(scene_of(plan), A4)
    names = {w.text: w for w in sheet.words if w.text in ("A1", "A2", "B1", "B2")}
    assert names["A2"].x - names["A1"].x > 80
    assert names["B1"].y - names["A1"].y > 80


def test_the_map_shows_where_each_bobbin_is_changed():
    plan = planned(SQUARES, time_limit=0)
    run = plan.runs[0]
    point = tuple(run.legs[1].points[0])
    stop = RunPoint(run.number, 1, 10.0, point)
    change = BobbinChange("grey", 6, stop, "pivot", None, 0.0)
    changed = replace(plan, thread=replace(plan.thread, changes=(change,)))
    before, after = ([w.text for w in map_pages(scene_of(p), A4)[0].words] for p in (plan, changed))
    assert "7" in after
    assert "7" not in before
    assert "put in the bobbin of this number" in after


# Words


def test_fractions_are_set_small_and_never_part_from_their_unit():
    assert typeset("4 13/16 in and 7 in") == "4\u2009¹³⁄₁₆\u00a0in and\u00a07\u00a0in"  # noqa: RUF001
    assert text_width(typeset("13/16 in"), 10) < text_width("13/16 in", 10)


def test_lines_are_broken_to_their_width():
    text = "**Pivot left**: down between sail and mast in A5, to the bottom of the mast"
    lines = broken(text, 40, 10)
    for line in lines:
        assert sum(text_width(part, 10, face) for part, face in line) <= 40
    joined = " ".join("".join(part for part, _ in line) for line in lines)
    assert joined.replace("\u00a0", " ") == text.replace("**", "")
    assert lines[0][0] == ("Pivot left", "bold")


def test_the_guide_says_when_it_leaves_steps_out(runner, monkeypatch, caplog):
    monkeypatch.setattr(words, "_MOST_STEPS", 10)
    with caplog.at_level(logging.WARNING):
        sheets = list(words.words_pages(scene_of(runner), A4))
    text = " ".join(word.text for sheet in sheets for word in sheet.words).replace("\u00a0", " ")
    steps = sum(len(run.steps) for run in directions(runner))
    assert f"The last {steps - 10} steps are left out here" in text
    assert caplog.text.count("left out here") == 1
    assert len(sheets) == 1


def test_no_sheet_is_spent_on_a_step_or_two(runner, monkeypatch):
    monkeypatch.setattr(words, "_SIZES", (13.0,))  # two pages and more
    for shown in range(19, 45):
        monkeypatch.setattr(words, "_MOST_STEPS", shown)
        *before, last = words.words_pages(scene_of(runner), A4)
        assert len(before) in (0, 1, 2)
        columns = max(box.right for box in last.boxes) > 110  # mm across the page
        assert columns or max(box.bottom for box in last.boxes) > 60


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
def test_cautions_take_no_page_of_their_own(runner, cushion, paper):
    for plan in (runner, cushion):
        *_, last = guide_sheets(plan, paper)
        assert "Thread and bobbins" in [word.text for word in last.words]
        assert "Cautions" in [word.text for word in last.words]


def test_thread_is_told_in_the_yards_of_a_quilter_who_works_in_inches(runner):
    said = " ".join(word.text for sheet in guide_sheets(runner) for word in sheet.words).replace(
        "\u00a0", " "
    )
    need = runner.needs.spools[0].need
    assert f"{need / 914.4:.1f} yd ({need / 1000:.1f} m) are needed, waste and all." in said


def test_the_printed_guide_says_when_to_fuse_after_the_run_before_it(runner):
    said = plain(" ".join(texts(sheet) for sheet in words.words_pages(scene_of(runner), A4)))
    for stop in stops(runner):
        assert said.count(plain(stop.heading)) == (0 if stop.plain else 1)
    (fusing,) = (stop for stop in stops(runner) if stop.fuse)
    begins = said.index(plain(fusing.heading))
    tasks = [said.index(plain(text), begins) for text in fusing.but("end", "roll", "test")]
    assert tasks == sorted(tasks)
    assert said.index("Stop and cut the threads.") < begins
    assert tasks[-1] < said.index("Start inside the top", begins)


def plain(text):
    return " ".join(text.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'").split())


@pytest.mark.parametrize("unit", ["in", "cm"])
def test_stitches_are_told_in_the_unit_she_measures_in(unit):
    plan = planned(SQUARES.replace('name = "Squares"', f'name = "Squares"\nunit = "{unit}"'))
    said = " ".join(word.text for page in supply_pages(scene_of(plan), A4) for word in page.words)
    said = said.replace("\xa0", " ")
    assert ("to the inch" in said) == (unit == "in")
    assert ("2.5 mm long" in said) == (unit == "cm")
    yards = re.search(r"\d yd", said) is not None
    assert yards == (unit == "in")
