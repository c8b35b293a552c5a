"""How large a quilt may be: refused in one sentence past the limit that the manual names."""

import re

import pytest
from quilts import DESIGNS, SQUARES, design, planned

from stitchpath.base import limits
from stitchpath.base.errors import StitchpathError
from stitchpath.top.build import build_top

BUOY = (
    '[[applique]]\nname = "buoy"\noutline = "M 0 0 L 1 0 L 1 1 Z"\nsize = 0.1\nfabric = "coral"\n'
)


def refused(text, said):
    with pytest.raises(StitchpathError, match=said) as error:
        planned(text)
    assert "\n" not in str(error.value)


def test_the_manual_names_every_limit_as_it_is():
    section = (DESIGNS / "README.md").read_text("utf-8").split("## How large it may be")[1]
    told = [row.replace(",", "") for row in re.findall(r"\| ([\d,]+(?: m)?) \|", section)]
    names = ["PATCHES", "WITHIN", "BORDERS", "PIECES", "FILLS", "SQUARES", "THREADS"]
    expected = [str(getattr(limits, f"MOST_{name}")) for name in names]
    assert told == [*expected, f"{limits.WIDEST / 1000:g} m"]


def test_a_block_of_500_by_500_cells_is_refused_at_once():
    row = " ".join(["sand"] * 500)
    grid = ", ".join([f"'{row}'"] * 500)
    text = SQUARES.replace("['sand sea', 'sea sand']", f"[{grid}]")
    refused(text, r"blocks.squares.grid: found 250000 cells, expected at most 100000$")


def test_500_by_500_blocks_are_refused_at_once():
    text = SQUARES.replace("['sand sea', 'sea sand']", "['sand']")
    text = text.replace('rows = ["squares"]', 'rows = ["squares*500"]\nrepeat = 500')
    refused(text, r"layout: found 250000 patches, expected at most 100000$")


def test_10000_borders_are_refused_at_once():
    border = "[[layout.borders]]\nwidth = 1\nfabric = 'sea'\n"
    refused(
        SQUARES + border * 10_000, r"layout.borders: found 10000 borders, expected at most 100$"
    )


@pytest.mark.parametrize(
    ("name", "most", "text", "said"),
    [
        ("top.layout.MOST_PATCHES", 4, SQUARES, r"layout: found 4 patches, expected at most 3"),
        ("top.block.MOST_PATCHES", 4, SQUARES, r"grid: found 4 cells, expected at most 3"),
        (
            "top.layout.MOST_PATCHES",
            8,
            SQUARES.replace('rows = ["squares"]\n', "")
            + "[[layout.place]]\nblock = 'squares'\nx = 0\ny = 0\n"
            "[[layout.place]]\nblock = 'squares'\nx = 6\ny = 0\n",
            r"layout.place\[2\]: found 8 patches up to it, expected at most 7",
        ),
        (
            "top.layout.MOST_PATCHES",
            8,
            SQUARES + "[[layout.borders]]\nwidth = 1\nfabric = 'sea'\n",
            r"layout: found 8 patches, expected at most 7",
        ),
        (
            "top.layout.MOST_BORDERS",
            2,
            SQUARES + "[[layout.borders]]\nwidth = 1\nfabric = 'sea'\n" * 2,
            r"layout.borders: found 2 borders, expected at most 1",
        ),
        (
            "top.build.MOST_PIECES",
            4,
            SQUARES.replace('"squares"]', '"squares*2"]') + (BUOY + 'on = "squares"\n') * 2,
            r'applique\[2\], "buoy": found 4 pieces up to it, expected at most 3',
        ),
        (
            "top.build.MOST_THREADS",
            2,
            SQUARES + "[threads.grey]\n[threads.blue]\n",
            r"threads: found 2 threads, expected at most 1",
        ),
        (
            "top.build.MOST_FILLS",
            2,
            SQUARES + "[[fills]]\nfabric = 'sea'\nstyle = 'parallel'\nspacing = 1\n" * 2,
            r"fills: found 2 fills, expected at most 1",
        ),
        (
            "top.build.MOST_MOTIFS",
            2,
            SQUARES + "[[motifs]]\nregion = 'A1'\nedge_line = true\n" * 2,
            r"motifs: found 2 motifs, expected at most 1",
        ),
        (
            "lines.fill_lines.MOST_SQUARES",
            18,
            SQUARES + "[[fills]]\nfabric = 'sea'\nstyle = 'parallel'\nspacing = 1\n",
            r"fills\[1\], spacing: .* come to 18 squares of their spacing, expected at most 17",
        ),
        (
            "lines.fill_lines.MOST_SQUARES",
            45,
            SQUARES + "[[fills]]\nregion = 'A1.r1c1'\nstyle = 'meander'\nspacing = 1\n",
            r"fills\[1\], spacing: found 25 mm, expected at least 25.7 mm on the sand in A1",
        ),
        (
            "top.build.WIDEST",
            152.4,
            SQUARES,
            r"layout: found a top 6 in long, expected at most 6 in",
        ),
    ],
)
def test_at_the_limit_it_is_planned_and_past_it_refused(monkeypatch, name, most, text, said):
    constant = name.rpartition(".")[2]
    step = 0.1 if constant == "WIDEST" else 1
    # A hair above: areas are no whole numbers of squares.
    monkeypatch.setattr(f"stitchpath.{name}", most + (1e-6 if step == 1 else 0))
    assert planned(text)
    monkeypatch.setattr(f"stitchpath.{name}", most - step)
    refused(text, said)


@pytest.mark.parametrize(("style", "most"), [("crosshatch", 18), ("parallel", 9)])
def test_a_crosshatch_counts_twice(monkeypatch, style, most):
    text = SQUARES + f"[[fills]]\nregion = 'A1.r1c1'\nstyle = '{style}'\nspacing = 1\n"
    monkeypatch.setattr("stitchpath.lines.fill_lines.MOST_SQUARES", most + 1e-6)
    assert planned(text)
    monkeypatch.setattr("stitchpath.lines.fill_lines.MOST_SQUARES", most - 1)
    refused(text, f"expected at least {26.2 if most > 9 else 27} mm on the sand in A1")


def test_a_meander_in_many_blocks_alike_counts_four_of_them(monkeypatch):
    text = SQUARES.replace('"squares"]', '"squares*4"]') + (
        "[[fills]]\nfabric = 'sea'\nstyle = 'meander'\nspacing = 1\n"
    )
    monkeypatch.setattr("stitchpath.lines.fill_lines.MOST_SQUARES", 4 * 5 * 9 + 1e-6)
    assert planned(text)
    monkeypatch.setattr("stitchpath.lines.fill_lines.MOST_SQUARES", 4 * 5 * 9 - 1)
    refused(text, "come to 180 squares of their spacing, expected at most 179")


def test_more_stitches_than_a_needle_can_set_are_refused():
    assert planned(SQUARES + "[stitching]\nper_inch = 100\n")
    refused(SQUARES + "[stitching]\nper_inch = 101\n", r"per_inch: found 101, expected a number of")


def test_a_kilometre_of_quilt_is_refused_with_its_size():
    text = SQUARES.replace("size = 6", 'size = "900 m"')
    with pytest.raises(StitchpathError, match=r"found a top 35433 1/16 in long, expected at most"):
        build_top(design(text))


def test_blocks_of_blocks_that_come_to_millions_are_refused_at_once():
    text = SQUARES + '[blocks.b1]\nrows = ["squares*900"]\n[blocks.b2]\nrows = ["b1*900"]\n'
    refused(text, r"blocks.b2.rows: found 3240000 patches, expected at most 100000$")
