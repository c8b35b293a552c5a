"""Every PDF: letters, bookmarks, paper, language, the same bytes, nothing visible lost.

Files are read back by pdfium (through pypdfium2), fonts by fontTools, and widths are measured again
by FreeType (through Pillow): general-purpose libraries, none of which writes the files.
"""

import hashlib
import os
import subprocess
import sys
import warnings
from itertools import pairwise

import numpy as np
import pytest
import shapely
from fontTools import ttLib
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont
from quilts import ROOT, SQUARES, planned

from stitchpath.export.guide import plan_guide, plan_templates, plan_true_size
from stitchpath.export.job_sheet import plan_sheet
from stitchpath.export.pdf import file
from stitchpath.export.pdf.file import write_pdf
from stitchpath.export.pdf.letters import Face, font_of, laid_out, text_width
from stitchpath.export.pdf.paper import A4, LETTER
from stitchpath.export.pdf.sheet import Box, Shape, Sheet

pdfium = pytest.importorskip("pypdfium2")

ALL = (plan_guide, plan_sheet, plan_templates, plan_true_size)
FACES = Face.__args__


@pytest.fixture(scope="module")
def plan():
    return planned(SQUARES)


def read(pdf):
    document = pdfium.PdfDocument(pdf)
    return [page.get_textpage().get_text_range() for page in document]


# Letters


def test_a_quilt_named_in_any_script_is_printed_with_no_letter_dropped_and_no_warning(capfd):
    name = "Přístav Гавань Λιμάνι 港の帆 \U0001f9f5"
    plan = planned(SQUARES.replace('name = "Squares"', f'name = "{name}"'))
    assert plan.top.name == name
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        texts = [" ".join(read(make(plan))) for make in ALL]
    assert capfd.readouterr() == ("", "")
    for text in texts:
        assert (
            "Přístav Гавань Λιμάνι □□□ □" in text
        )  # the last four are in no face: a white square each


def test_a_name_that_runs_from_right_to_left_is_not_printed_backwards():
    sheet = Sheet(A4)
    sheet.write((20, 20), "Quay: מפרש לבן", 20)  # "white sail"
    page = pdfium.PdfDocument(write_pdf([sheet], ""))[0].get_textpage()
    at = {page.get_text_range(k, 1): page.get_charbox(k)[0] for k in range(page.count_chars())}
    order = sorted((letter for letter in at if not letter.isspace()), key=at.get)
    assert "".join(order) == "Quay:ןבלשרפמ"

    def line(text):
        return "".join(run.letters for run in laid_out(text, "label"))

    assert line("بحر ٢٥") == "٢٥ رحب"
    assert line("שָׁ") == "שָׁ"  # points stay after their letter


def test_letters_written_in_two_parts_are_printed_as_one():
    whole, parts = "Přístav", "Pr\u030ci\u0301stav"
    assert laid_out(parts, "text") == laid_out(whole, "text")
    assert text_width("港\u3099", 10) == text_width("港", 10)  # no square for a mark alone


def test_what_follows_a_fraction_does_not_stand_on_it():
    runs = laid_out("4\u2009¹³⁄₁₆ in", "text")  # noqa: RUF001
    for left, right in pairwise(runs):
        assert right.start == pytest.approx(left.start + left.width)
    small = [run for run in runs if run.size != 1]
    assert [run.letters for run in small] == [" ", "13", "16"]
    assert small[1].width < text_width("13", 1) / (25.4 / 72)


@pytest.mark.parametrize("face", FACES)
def test_words_take_the_room_that_was_reckoned_for_them(face):
    text = "Pivot left: down 4 in, between sail and mast, to Avenue Tower W1"
    path = font_of(face).file.face.filename
    em = font_of(face).file.face.unitsPerEm  # dots: whole ones for each letter
    measured = ImageFont.truetype(path, em, layout_engine=ImageFont.Layout.BASIC)
    kerns = kerning(path)
    kerned = sum(kerns.get(pair, 0) for pair in pairwise(text)) / 1000
    apart = sum(measured.getlength(letter) for letter in text) / em
    assert text_width(text, 1, face) / (25.4 / 72) == pytest.approx(apart + kerned, rel=1e-4)


@pytest.mark.parametrize("face", FACES)
def test_letters_stand_as_close_as_their_font_says(face):
    font = font_of(face)
    pairs = kerning(font.file.face.filename)
    for left, right in ("AV", "To", "Wa", "11", "LT", "ab"):
        kern = text_width(left + right, 1000, face) - sum(
            text_width(letter, 1000, face) for letter in (left, right)
        )
        assert kern / (25.4 / 72) == pytest.approx(pairs.get((left, right), 0), abs=1e-6)


def kerning(path):
    """Kerning by pairs of letters, in thousandths of an em, as fontTools reads it."""
    with ttLib.TTFont(path) as font:
        if "kern" not in font:
            return {}
        names, scale = font.getBestCmap(), 1000 / font["head"].unitsPerEm
        table = font["kern"].kernTables[0].kernTable
        letters = {}
        for code, name in names.items():
            if code < 128:
                letters[name] = chr(code)
        return {
            (letters[a], letters[b]): value * scale
            for (a, b), value in table.items()
            if a in letters and b in letters
        }


@pytest.mark.parametrize("make", ALL)
def test_every_font_is_in_the_file_so_that_any_shop_can_print_it(plan, make):
    raw = pdfium.raw
    for page in pdfium.PdfDocument(make(plan)):
        found = list(page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]))
        assert found
        for text in found:
            assert raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(text)) == 1


# The file


def test_the_outline_leads_to_each_part_of_the_guide(plan):
    document = pdfium.PdfDocument(plan_guide(plan, words=True))
    marks = [(m.level, m.get_title(), m.get_dest().get_index()) for m in document.get_toc()]
    titles = [title for level, title, _ in marks if level == 0]
    assert titles == [
        plan.top.name, "The lines", "Stops, thread, time", "Block by block", "Directions",
    ]  # fmt: skip
    texts = read(plan_guide(plan, words=True))
    for _, title, page in marks:
        assert title in texts[page].replace("\r\n", " ")
    assert (1, "Cautions") in [(level, title) for level, title, _ in marks]
    assert [level for level, title, _ in marks if title.startswith("Run 1")] == [1]


def test_every_tile_and_every_part_of_the_job_sheet_has_its_bookmark(plan):
    tiles = [m.get_title() for m in pdfium.PdfDocument(plan_true_size(plan)).get_toc()]
    assert tiles == ["The path at true size", "Tile 1a"]
    parts = [m.get_title() for m in pdfium.PdfDocument(plan_sheet(plan)).get_toc()]
    assert parts[:4] == ["Runs", "Thread", "Thread to buy", "Time"]


def test_a_bookmark_below_none_stands_at_the_top():
    sheet = Sheet(A4)
    sheet.bookmark("deep", 100, level=3)
    (mark,) = pdfium.PdfDocument(write_pdf([sheet], "")).get_toc()
    assert mark.level == 0
    assert mark.get_dest().get_view()[1][1] == pytest.approx((297 - 100) * 72 / 25.4, abs=0.01)


@pytest.mark.parametrize("make", ALL)
def test_the_file_says_its_title_and_that_it_is_english(plan, make):
    made = make(plan)
    assert plan.top.name in pdfium.PdfDocument(made).get_metadata_dict()["Title"]
    assert b"/Lang (en)" in made
    assert b"CreationDate" not in made
    assert b"ModDate" not in made


def test_a_mark_of_the_plan_can_be_kept_in_the_file():
    made = write_pdf([Sheet(A4)], "T", keywords="plan 1a2b")
    assert pdfium.PdfDocument(made).get_metadata_dict()["Keywords"] == "plan 1a2b"


def test_true_size_asks_the_viewer_for_100_percent_and_the_guide_does_not(plan):
    def scaled(pdf):
        return pdfium.raw.FPDF_VIEWERREF_GetPrintScaling(pdfium.PdfDocument(pdf))

    assert [bool(scaled(make(plan))) for make in ALL] == [True, True, False, False]


@pytest.mark.parametrize("make", ALL)
@pytest.mark.parametrize(
    ("paper", "size"), [(A4, (210, 297)), (LETTER, (8.5 * 25.4, 11 * 25.4))], ids=["A4", "Letter"]
)
def test_all_pages_are_as_large_as_the_paper_in_the_tray(plan, make, paper, size):
    # ISO 216 and ANSI/ASME Y14.1
    for page in pdfium.PdfDocument(make(plan, paper)):
        assert sorted(np.array(page.get_size()) * 25.4 / 72) == pytest.approx(size, abs=0.01)


def test_the_same_bytes_on_another_day_and_machine_and_matplotlib_is_not_even_loaded():
    script = (
        "import hashlib, sys; sys.path.insert(0, 'tests')\n"
        "from quilts import SQUARES, planned\n"
        "from stitchpath.export.guide import plan_guide, plan_templates, plan_true_size\n"
        "from stitchpath.export.job_sheet import plan_sheet\n"
        "plan = planned(SQUARES)\n"
        "for name in [n for n in sys.modules if n.startswith('matplotlib')]:\n"
        "    del sys.modules[name]  # a solver loads it\n"
        "for make in (plan_guide, plan_sheet, plan_templates, plan_true_size):\n"
        "    print(hashlib.sha256(make(plan)).hexdigest())\n"
        "print('matplotlib' in sys.modules)\n"
    )
    other = {"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo", "SOURCE_DATE_EPOCH": "1", "LC_ALL": "C"}
    kept = {key: value for key, value in os.environ.items() if key != "HOME"}
    result = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, env={**kept, **other},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    plan = planned(SQUARES)
    here = [hashlib.sha256(make(plan)).hexdigest() for make in ALL]
    assert result.stdout.split() == [*here, "False"]
    assert result.stderr == ""


# What is drawn


@given(
    paths=st.lists(
        st.lists(
            st.tuples(*[st.integers(-300, 600).map(lambda n: n / 10)] * 2), min_size=2, max_size=7
        ),
        min_size=1,
        max_size=5,
    ),
    dash=st.sampled_from([(), (1.0, 1.0)]),
)
@settings(max_examples=80, deadline=None)
def test_nothing_in_the_picture_is_lost_where_lines_beside_it_are_left_out(paths, dash):
    clip = Box(0.0, 0.0, 30.0, 20.0)
    paths = [np.array(path) for path in paths]
    shape = Shape(paths, False, None, "#000000", 0.2, dash, clip)  # noqa: FBT003
    kept = parsed(file._path(shape))  # noqa: SLF001
    window = shapely.box(*clip)
    before, after = (  # piece by piece: what is drawn there and back is drawn twice
        sum(
            shapely.LineString(piece).intersection(window).length
            for path in some
            for piece in pairwise(path)
        )
        for some in (paths, kept)
    )
    assert after == pytest.approx(before, abs=0.01)
    if dash:  # dashes are counted from where a line begins
        assert all(any(np.allclose(k[0], p[0]) for p in paths) for k in kept)


def test_lines_beside_the_picture_take_no_room_in_the_file():
    long = np.column_stack([np.linspace(0, 1000, 1001), np.full(1001, 5.0)])
    below = long + np.array([0, 300])
    sheet = Sheet(A4)
    sheet.draw([long, below], clip=Box(0, 0, 30, 20))
    (line,) = parsed(file._path(sheet.shapes[0]))  # noqa: SLF001
    assert len(line) == 32
    sheet.draw([below], clip=Box(0, 0, 30, 20))
    assert file._path(sheet.shapes[1]) == ""  # noqa: SLF001
    assert "S" not in "".join(file._shape(sheet.shapes[1]))  # noqa: SLF001


def parsed(code):
    """Read polylines in hundredths of a millimetre back."""
    paths = []
    for line in code.splitlines():
        x, y, how = line.split()
        if how == "m":
            paths.append([])
        paths[-1].append((int(x) / 100, int(y) / 100))
    return paths


def test_dashes_are_as_long_as_the_gaps_between_them():
    sheet = Sheet(A4)
    sheet.draw([np.array([[20.0, 20], [120, 20]])], colour="#000000", width=2.0, dash=(4.0, 4.0))
    page = pdfium.PdfDocument(write_pdf([sheet], ""))[0].render(scale=4, grayscale=True)
    dots = np.asarray(page.to_numpy()).reshape(page.height, -1)
    level = 1 - dots[round(20 * page.width / 210)] / 255
    assert level.sum() * 210 / page.width == pytest.approx(52, abs=1)  # 13 of 25 stretches


def test_a_ring_turned_the_other_way_is_a_hole_and_a_clip_holds():
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1], [0, 0]])
    sheet = Sheet(A4)
    sheet.fill([square * 60 + 20, square[::-1] * 20 + 40], "#000000", clip=Box(0, 0, 60, 297))
    page = pdfium.PdfDocument(write_pdf([sheet], ""))[0].render(scale=72 / 25.4, grayscale=True)
    dots = np.asarray(page.to_numpy()).reshape(page.height, -1)
    scale = page.width / 210
    dark = [
        dots[round(y * scale), round(x * scale)] < 128 for x, y in ((30, 30), (50, 50), (70, 30))
    ]
    assert dark == [True, False, False]
