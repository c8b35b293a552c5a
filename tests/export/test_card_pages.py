"""The guide of cards: few pages, large numbers, and all that she needs beside the machine.

Pages are counted and read by pdfium (through pypdfium2), which has no part in writing them.
"""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from quilts import DESIGNS, SQUARES, corals, planned

from stitchpath.base.marks import INK, PAPER, casing_of
from stitchpath.design.read import load_design
from stitchpath.export.directions import plan_directions_text
from stitchpath.export.formats import ABOUT, PAPERS, on_paper
from stitchpath.export.guide import (
    A4,
    A5,
    HALF_LETTER,
    LETTER,
    Paper,
    cover,
    glance,
    guide_sheets,
    plan_guide,
    plates,
)
from stitchpath.export.guide.card_pages import card_pages
from stitchpath.export.guide.cards import card_panels
from stitchpath.export.guide.cover import _course
from stitchpath.export.guide.drawing import styles_of
from stitchpath.export.guide.glance import glance_sheet
from stitchpath.export.guide.orders import _spans
from stitchpath.export.guide.path import scene_of
from stitchpath.export.job_sheet import plan_sheet
from stitchpath.export.pdf.letters import text_width
from stitchpath.export.pdf.page import LEFT, RIGHT, new_page
from stitchpath.export.pdf.sheet import Box, Sheet
from stitchpath.export.picture import plan_picture
from stitchpath.plan import make_plan
from stitchpath.told.anchors import pictures
from stitchpath.told.arms import arms_of
from stitchpath.told.card_words import Entry, course
from stitchpath.told.cards import cards
from stitchpath.told.walks import moves_of

pdfium = pytest.importorskip("pypdfium2")

POSTAGE = """
name = "Postage"
unit = "in"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.stamps]
size = 6
grid = ['sand sea sand sea sand sea', 'sea sand sea sand sea sand', 'sand sea sand sea sand sea',
        'sea sand sea sand sea sand', 'sand sea sand sea sand sea', 'sea sand sea sand sea sand']
[layout]
rows = ["stamps stamps stamps", "stamps stamps stamps", "stamps stamps stamps"]
"""


@pytest.fixture(scope="module")
def lap():
    return make_plan(load_design(DESIGNS / "star-lap-quilt.toml"), time_limit=0, cures=False)


@pytest.fixture(scope="module")
def reef():
    return planned(corals(), time_limit=2)


def page_count(pdf):
    return len(pdfium.PdfDocument(pdf))


def said(sheet):
    return " ".join(word.text for word in sheet.words).replace("\u00a0", " ")


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
def test_a_runner_is_four_sheets_and_a_lap_quilt_six(runner, lap, paper):
    assert page_count(plan_guide(runner, paper)) <= 4
    assert page_count(plan_guide(lap, paper)) <= 6


def test_a_quilt_of_many_equal_seams_takes_four_sheets_however_many_runs_it_has():
    """The king quilt of stamps has 214 runs; its sheets are counted by `guide_speed.py`."""
    plan = planned(POSTAGE, time_limit=0)
    assert page_count(plan_guide(plan, LETTER)) <= 4


def test_words_leg_by_leg_come_when_she_asks_for_them(runner):
    bare, full = (plan_guide(runner, words=words) for words in (False, True))
    assert page_count(full) > page_count(bare) + 3
    text = " ".join(said(sheet) for sheet in guide_sheets(runner, words=True))
    assert "Pivot left" in text
    assert "Pivot left" not in " ".join(said(sheet) for sheet in guide_sheets(runner))


def test_the_cover_says_nothing_of_prices_and_bounds(runner):
    first, *_, last = guide_sheets(runner)
    for word in ("best", "Proven", "bound", "price"):
        assert word not in said(first)
    assert "of the best there can be" in said(last)


@pytest.mark.parametrize("paper", [A4, LETTER, A5, HALF_LETTER], ids=lambda paper: paper.name)
def test_each_line_of_what_comes_when_names_the_page_it_is_on(runner, lap, paper):
    for plan in (runner, lap):
        sheets = guide_sheets(plan, paper)
        words = [word for word in sheets[0].words if word.y < sheets[0].height - 15]
        asked = {}
        for word in words:
            text = word.text.replace("\u00a0", " ")
            if text.startswith("page "):
                line = [w.text for w in words if abs(w.y - word.y) < 0.6 and w is not word]
                asked[" ".join(line).replace("\u00a0", " ")] = int(text.removeprefix("page "))
        assert asked
        for line, page in asked.items():
            there = said(sheets[page - 1])
            if line.startswith("Card "):
                assert line.partition(",")[0] + ":" in there
            elif "picture" in line:
                first = re.search(r"pictures? (\d+)", line)[1]
                assert f"Picture {first}" in there
            else:
                assert line in there


@pytest.mark.parametrize("paper", [A4, HALF_LETTER], ids=lambda paper: paper.name)
def test_every_move_has_its_number_and_every_place_its_line(runner, lap, paper):
    for plan in (runner, lap):
        found = card_pages(scene_of(plan), paper)
        text = "\n".join(said(sheet) for sheet in found.sheets)
        for card in cards(plan):
            page = found.sheets[found.cards[card.number]]
            numbers = [word.text for word in page.words if word.face == "strong"]
            for k in range(1, len(moves_of(card.strokes)) + 1):
                assert f"{k}" in numbers
            for visit in card.visits:
                assert f" {visit.order} " in text
        for picture in pictures(plan):
            page = found.sheets[found.pictures[picture.number]]
            numbers = {word.text for word in page.words if word.face == "strong"}
            assert {f"{mark.number}" for mark in picture.marks} <= numbers


def test_numbers_can_be_read_beside_the_machine(runner):
    """8 points: common practice for the least that is read at arm's length."""
    for sheet in card_pages(scene_of(runner), LETTER).sheets:
        for word in sheet.words:
            if word.face == "strong" and word.text.isdigit():
                assert word.size >= 6.2 if word.colour == "#ffffff" else word.size >= 5
        moves = [word.size for word in sheet.words if word.face == "strong" and word.size > 6.5]
        assert moves
        assert min(moves) >= 7


def test_the_strokes_of_a_starfish_are_told_by_its_arms(runner):
    card = next(card for card in cards(runner) if card.visits[0].walk.area.pieces)
    panel = next(p for p in card_panels(scene_of(runner), [card]))
    piece = card.visits[0].walk.area.pieces[0]
    middle = np.array(runner.top.pieces[piece].shape.centroid.coords[0])
    tips = {arm.number: arm.tips[0].point for arm in arms_of(runner, piece)}
    sheet = Sheet(LETTER)
    panel.draw(sheet, Box(18, 30, 200, 150))
    told = [w.text.replace("\u00a0", " ") for w in sheet.words]
    assert len(panel.moves) == 5
    for move in panel.moves:
        end = move.out.points[-1]
        if np.hypot(*(end - middle)) < 20:
            assert "to the middle" in told
            continue
        arm = min(tips, key=lambda k: np.hypot(*(tips[k] - end)))
        assert f"arm {arm}{' and back' if move.back else ''}" in told


def test_a_light_thread_is_seen_on_a_pale_fabric(runner, monkeypatch):
    def drawn():
        sheets = card_pages(scene_of(runner), LETTER).sheets
        return [shape for sheet in sheets for shape in sheet.shapes if shape.edge and shape.paths]

    round_it = casing_of("#f2e9d0", [PAPER])
    light = {
        name: replace(style, colour="#f2e9d0", dash=(), casing=round_it)
        for name, style in styles_of(runner).items()
    }
    assert not any(shape.edge == "#f2e9d0" for shape in drawn())
    monkeypatch.setattr(plates, "styles_of", lambda *_: light)
    shapes = drawn()
    lines = [k for k, shape in enumerate(shapes) if shape.edge == "#f2e9d0" and shape.width > 0.5]
    assert lines
    for k in lines:
        path = shapes[k].paths[0]
        under = [shape for shape in shapes[:k] if any(p is path for p in shape.paths)]
        assert any(shape.edge == round_it and shape.width > shapes[k].width for shape in under)


def test_large_print_is_at_least_as_large_as_its_name_says(runner):
    """16 points: common practice for large print."""
    documents = [
        pdfium.PdfDocument(plan_guide(runner, LETTER, large=large)) for large in (False, True)
    ]
    sizes = [document[0].get_size() for document in documents]
    assert sizes[0] == pytest.approx(sizes[1])
    heights = []
    for document in documents:
        text = document[len(document) - 1].get_textpage()
        boxes = [text.get_charbox(k) for k in range(0, text.count_chars(), 5)]
        heights.append(np.median([top - bottom for _, bottom, _, top in boxes if top > bottom]))
    assert heights[1] > 1.5 * heights[0]


def test_the_map_in_large_print_is_nearly_as_wide_as_its_page(runner):
    small = replace(LETTER, width=LETTER.width / 1.6, height=LETTER.height / 1.6)
    sheets = guide_sheets(runner, small)
    heads = [sheet.words[0].text for sheet in sheets]
    sheet = sheets[heads.index("The map")]
    across = [path[:, 0] for shape in sheet.shapes for path in shape.paths if shape.clip]
    assert np.ptp(np.concatenate(across)) > 0.7 * sheet.width
    assert heads.count("What the map shows") == 1
    shown = said(sheets[heads.index("What the map shows")])
    assert "start inside the top" in shown


def test_a_magnified_sheet_keeps_everything_in_its_place(runner):
    sheet = guide_sheets(runner, A5)[0]
    large = sheet.magnified(2.0, replace(A5, width=2 * A5.width, height=2 * A5.height))
    assert [(w.x, w.size) for w in large.words] == [(2 * w.x, 2 * w.size) for w in sheet.words]
    assert large.boxes[0] == tuple(2 * side for side in sheet.boxes[0])
    for one, two in zip(sheet.shapes, large.shapes, strict=True):
        assert two.width == 2 * one.width
        for path, larger in zip(one.paths, two.paths, strict=True):
            assert np.array_equal(larger, 2 * path)
        assert (two.clip is None) == (one.clip is None)


def test_more_places_than_a_page_holds_go_on_on_the_next(lap):
    most = max(cards(lap), key=lambda card: len(card.visits))
    assert len(most.visits) > 25
    found = card_pages(scene_of(lap), A5)
    following = found.cards[most.number + 1] if most.number < len(cards(lap)) else len(found.sheets)
    assert following > found.cards[most.number] + 1
    listed = {w.text for sheet in found.sheets for w in sheet.words if w.face == "bold"}
    assert {f"{visit.order}" for card in cards(lap) for visit in card.visits} <= listed
    for sheet in found.sheets:
        assert max(box.bottom for box in sheet.boxes) < sheet.height - 4


@pytest.mark.parametrize("paper", PAPERS)
def test_what_is_printed_on_other_paper_is_a_format_that_there_is(paper):
    for name in ABOUT:
        assert on_paper(name, paper) in ABOUT
    assert on_paper("guide", paper) == f"guide{PAPERS[paper]}"
    assert on_paper("glance-letter", paper).startswith("glance")


@pytest.mark.parametrize(
    ("numbers", "said"),
    [([1, 2, 5, 7], "1\N{EN DASH}2, 5, 7"), ([1, 2, 5, 7, 9], "1\N{EN DASH}2, 5, 7…")],
)
def test_an_area_that_she_comes_to_often_is_numbered_for_three_times_and_then_dotted(numbers, said):
    assert _spans(numbers) == said


@pytest.mark.parametrize(
    ("areas", "passes", "runs", "there"),
    [(8, 0, 8, True), (9, 0, 8, False), (8, 0, 9, False), (0, 0, 1, False), (0, 8, 5, True),
     (1, 8, 5, False)],
)  # fmt: skip
def test_a_small_quilt_has_its_map_on_the_cover(monkeypatch, areas, passes, runs, there):
    monkeypatch.setattr(cover, "cards", lambda _: [SimpleNamespace(visits=range(areas))])
    monkeypatch.setattr(cover, "by_pass", lambda _: range(passes))
    scene = SimpleNamespace(plan=SimpleNamespace(runs=range(runs)))
    assert cover.map_on_cover(scene, LETTER) is there
    assert not cover.map_on_cover(scene, HALF_LETTER)


@pytest.mark.parametrize(("count", "more"), [(16, ""), (17, "and 2 more, as the cards tell")])
def test_what_comes_when_is_listed_in_sixteen_lines_and_the_rest_is_said_to_follow(
    monkeypatch, count, more
):
    entries = [Entry("card", f"entry {k}", k) for k in range(1, count + 1)]
    monkeypatch.setattr(cover, "course", lambda _: entries)
    sheet = Sheet(LETTER)
    _course(sheet, None, (18.0, 100.0), 170.0, {("card", e.number): 2 for e in entries})
    text = said(sheet)
    assert ("entry 16" in text) == (count == 16)
    assert more in text


@pytest.mark.parametrize("paper", [LETTER, HALF_LETTER, Paper("large", 135, 174)])
def test_names_of_arms_stand_within_their_picture_and_clear_of_where_a_run_begins(runner, paper):
    seen = 0
    for sheet in card_pages(scene_of(runner), paper).sheets:
        frames = [_box(s) for s in sheet.shapes if s.closed and s.width == pytest.approx(0.15)]
        marks = [_box(s) for s in sheet.shapes if s.edge == INK and s.width == pytest.approx(0.35)]
        for word in sheet.words:
            if re.fullmatch(r"arm \d", word.text) and word.face == "label":
                left, right = word.x, word.x + text_width(word.text, word.size, "label")
                mine = Box(left, word.y - 2.3, right, word.y)
                frame = [
                    f for f in frames if f.left < word.x < f.right and f.top < word.y < f.bottom
                ]
                assert frame
                assert all(
                    f.left + 0.5 < left
                    and right < f.right - 0.5
                    and f.top + 0.5 < mine.top
                    and mine.bottom < f.bottom - 0.5
                    for f in frame
                )
                assert not any(_overlap(mine, mark) for mark in marks)
                seen += 1
    assert seen == 10


def _box(shape):
    points = np.concatenate(shape.paths)
    return Box(*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def _overlap(one, other):
    across = one.left < other.right and other.left < one.right
    return across and one.top < other.bottom and other.top < one.bottom


@pytest.mark.parametrize("again", [False, True])
def test_a_long_title_keeps_to_its_page(again):
    sheet, _ = new_page(Paper("large", 135, 174), "Seams between the areas", again=again)
    (title,) = sheet.words
    assert title.x + text_width(title.text, title.size, "bold") <= sheet.width - RIGHT + 0.01
    assert title.size > 14


def test_numbers_of_places_keep_to_the_page(lap):
    for sheet in card_pages(scene_of(lap), LETTER).sheets:
        for word in sheet.words:
            if re.fullmatch("\\d+\N{EN DASH}\\d+", word.text):
                assert word.x >= LEFT - 0.01


def test_a_change_of_bobbin_between_runs_is_told_with_what_comes_when(lap):
    said_when = [entry.text for entry in course(lap) if entry.kind == "stop"]
    changed = [change for change in lap.thread.changes if change.where == "run end"]
    assert changed
    for change in changed:
        assert f"Before run {change.stop.run + 1}: change the bobbin" in said_when


@pytest.mark.parametrize(("short", "goal"), [(0.9, "arm 1"), (1.1, "")])
def test_a_stroke_goes_to_an_arm_only_if_it_ends_at_its_tip(runner, short, goal):
    card = next(card for card in cards(runner) if card.visits[0].walk.area.pieces)
    (panel,) = card_panels(scene_of(runner), [card])
    tip = arms_of(runner, card.visits[0].walk.area.pieces[0])[0].tips[0].point
    out = SimpleNamespace(points=np.array([tip - [30.0, 0], tip - [short, 0]]))
    assert panel._goal(SimpleNamespace(out=out)) == goal  # noqa: SLF001 - drawn, it is one word of many


@pytest.mark.parametrize(
    ("count", "paper", "shown"), [(3, A4, 3), (40, A4, 15), (40, HALF_LETTER, 21)]
)
def test_the_page_for_the_wall_says_how_much_it_leaves_out(
    monkeypatch, runner, count, paper, shown
):
    entries = tuple(Entry("card", f"entry {k}", k) for k in range(1, count + 1))
    monkeypatch.setattr(glance, "course", lambda _: entries)
    sheet = glance_sheet(scene_of(runner), paper)
    listed = [word.text for word in sheet.words if word.text.startswith("entry")]
    assert len(listed) == shown
    left = re.search(r"and (\d+) more, in the guide", said(sheet))
    assert (int(left[1]) if left else 0) == count - shown
    assert max(word.y for word in sheet.words) < sheet.height - 8


@pytest.mark.parametrize(("places", "small"), [(6, True), (7, False)])
def test_a_card_of_up_to_six_places_may_stand_beside_another(lap, places, small):
    panels = card_panels(scene_of(lap), cards(lap))
    card = next(panel.card for panel in panels if panel.count == 1)
    first = card.visits[0]
    again = replace(card, visits=tuple(replace(first, order=k) for k in range(1, places + 1)))
    (panel,) = card_panels(scene_of(lap), [again])
    assert len(panel.listed) == places
    assert panel.small is small


def test_a_branched_piece_is_one_drawing_of_half_a_page_for_all_its_copies(reef):
    (card,) = cards(reef)
    assert len(card.visits) == 2
    pages = card_pages(scene_of(reef), LETTER)
    (panel,) = card_panels(scene_of(reef), [card])
    assert panel.count == 1
    sheet = pages.sheets[pages.cards[1]]
    frames = {shape.clip for shape in sheet.shapes if shape.clip}
    (frame,) = frames
    assert frame.height > 115  # half of the 230 mm between heading and foot
    numbers = [w.text for w in sheet.words if w.face == "strong" and w.text.isdigit()]
    assert sorted(map(int, numbers)) == list(range(1, len(panel.moves) + 1))
    labels = {w.text.replace("\u00a0", " ") for w in sheet.words if w.face == "label"}
    for arm in range(1, 7):
        assert f"arm {arm}" in labels
        for twig in ("inner left", "inner right", "outer left", "outer right"):
            assert f"{arm} {twig}" in labels
    order = re.findall(r"arm (\d): (\d+) to (\d+)", said(sheet))
    assert len({arm for arm, *_ in order}) == 6
    ends = [0, *(int(last) for *_, last in order)]
    assert [int(first) for _, first, _ in order] == [end + 1 for end in ends[:-1]]


def test_on_small_paper_a_branched_piece_has_a_picture_for_each_arm_and_nothing_runs_off(reef):
    pages = card_pages(scene_of(reef), A5)
    text = " ".join(said(sheet) for sheet in pages.sheets)
    (panel,) = card_panels(scene_of(reef), cards(reef), wide=False)
    assert panel.count > 2
    for share in panel._shares:  # noqa: SLF001 - what each picture shows
        some = panel.moves[share.first : share.last + 1]
        assert len({panel._arm_of(move) for move in some}) == 1  # noqa: SLF001
    assert set(re.findall(r"arm (\d): \d+ to \d+", text)) == set("123456")
    for sheet in pages.sheets:
        assert max(box.right for box in sheet.boxes) < sheet.width - 4
        assert max(box.bottom for box in sheet.boxes) < sheet.height - 4


def test_each_number_beside_an_arm_lies_on_that_arm(reef):
    (card,) = cards(reef)
    (panel,) = card_panels(scene_of(reef), [card])
    arms = {arm.number: arm for arm in arms_of(reef, card.visits[0].walk.area.pieces[0])}
    for move in panel.moves:
        arm = arms[panel._arm_of(move)]  # noqa: SLF001 - in print it is a span of numbers
        out = arm.tips[0].point - arm.middle
        for point in move.out.points:
            way = point - arm.middle
            length = np.hypot(*way)
            assert length < 2 or np.dot(way, out) > 0.7 * length * np.hypot(*out)


def test_the_words_name_the_page_where_a_piece_is_drawn_and_the_arm_to_begin_with(reef):
    text = plan_directions_text(reef)
    told = re.findall(r"Stitch (the coral on A\d) as drawn on page (\d+)(.*?)\.\n", text)
    assert sorted(name for name, *_ in told) == ["the coral on A1", "the coral on A2"]
    sheets = guide_sheets(reef, LETTER)
    for _, page, how in told:
        assert "Card 1: coral" in said(sheets[int(page) - 1])
        assert re.search(r"starting at arm \d(, \w+ \w+)?, at \d+ o.clock", how)
    full = " ".join(said(sheet) for sheet in guide_sheets(reef, A5, words=True))
    page = re.search(r"Stitch the coral on A1 as drawn on page (\d+)", full)[1]
    assert "Card 1: coral" in said(guide_sheets(reef, A5)[int(page) - 1])


def test_a_card_names_the_page_of_a_picture_that_stands_elsewhere(runner):
    sheets = guide_sheets(runner, LETTER)
    place, page = next(
        (match[1], int(match[2]))
        for sheet in sheets
        if (match := re.search(r"after \d+ in picture (\d+), page (\d+)", said(sheet)))
    )
    assert f"Picture {place}" in said(sheets[page - 1])


@pytest.mark.parametrize(("pages", "told"), [(8, False), (9, True)])
def test_a_long_guide_says_why_it_is_long(runner, pages, told):
    why = cover._why_so_long(runner, LETTER, pages)  # noqa: SLF001 - no quilt of ours is so long
    assert ("3 pages" in why or f"{pages} pages" in why) is told
    assert "5 places in areas are stitched in 2 ways" in why or not told
    assert not cover._why_so_long(runner, A5, pages)  # noqa: SLF001


@pytest.mark.parametrize("fused", [True, False])
def test_the_iron_is_spoken_of_only_where_something_is_fused(runner, fused):
    plan = runner if fused else planned(SQUARES, time_limit=1)
    assert ("stays hot" in " ".join(said(sheet) for sheet in guide_sheets(plan))) is fused


def test_the_job_sheet_of_a_runner_is_one_page(runner):
    for paper in (A4, LETTER):
        assert page_count(plan_sheet(runner, paper)) == 1


def test_a_picture_names_the_blocks_and_a_crowd_of_them_is_left_bare(runner, monkeypatch):
    def named():
        return set(re.findall(r">(A\d)<", plan_picture(runner, "svg").decode()))

    assert named() == {"A1", "A2", "A3", "A4", "A5"}
    monkeypatch.setattr("stitchpath.export.picture._NAMED", 5)
    assert named()
    monkeypatch.setattr("stitchpath.export.picture._NAMED", 4)
    assert not named()


def test_names_of_blocks_are_read_beside_the_lines_and_not_under_them(runner):
    found = card_pages(scene_of(runner), LETTER)
    sheet = found.sheets[found.pictures[1]]
    names = [word.text for word in sheet.words if re.fullmatch(r"A\d", word.text)]
    assert sorted(set(names)) == ["A1", "A2", "A3", "A4", "A5"]
