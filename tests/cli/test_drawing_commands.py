"""A drawing given on the command line: planned, checked, drawn, and made a design of."""

import re

import drawn
import pytest


@pytest.fixture
def wall(tmp_path):
    file = tmp_path / "quay wall.svg"
    file.write_text(drawn.leaf_and_vein()[0])
    return file


def test_a_drawing_is_planned_like_a_design_and_says_what_it_was_taken_for(run, wall, tmp_path):
    code, out, err = run("plan", wall, "-o", tmp_path / "out", "--size", "24 in")
    assert (code, err) == (0, "")
    assert "Quay wall" in out
    assert "24 in by 24 in" in out
    assert "The drawing" in out
    assert "warning: Drawing: 1 shape" in out
    assert (tmp_path / "out" / "quay wall.plan.json").exists()


def test_a_drawing_is_checked_and_drawn(run, wall, tmp_path):
    code, out, _ = run("check", wall)
    assert code == 0
    assert "widest unquilted place" in out
    for more in ((), ("--taken",)):
        code, out, _ = run("draw", wall, "-o", tmp_path / "top.png", "--force", *more)
        assert code == 0
        assert (tmp_path / "top.png").read_bytes().startswith(b"\x89PNG")


def test_the_picture_of_what_was_taken_rings_and_numbers_each_place_that_was_healed(run, tmp_path):
    file = tmp_path / "loose.svg"
    file.write_text(drawn.short_ends()[0])
    code, out, _ = run("draw", file, "-o", tmp_path / "top.svg", "--taken")
    assert code == 0
    rows = [line.split("│") for line in out.splitlines() if "healed" in line]
    count = sum(int(row[3]) for row in rows)
    picture = (tmp_path / "top.svg").read_text()
    assert "ringed: healed" in picture
    assert "encloses nothing" not in picture
    told = re.findall(r'fill: #c2185b"[^>]*>(\d+)</text>', picture)
    assert [int(number) for number in told] == list(range(1, count + 1))
    assert count > 9


def test_lines_left_out_as_they_enclose_nothing_are_placed_in_words_and_shown(run, tmp_path):
    file = tmp_path / "short.svg"
    short = drawn.line(0, 150, 140, 150)  # the next seam is 10 mm further
    file.write_text(drawn.page(drawn.rect(0, 0, 300, 300, fill="none", stroke="black")
                               + drawn.line(150, 0, 150, 300) + short))  # fmt: skip
    code, out, _ = run("check", file)
    assert code == 0
    told = " ".join(out.split())
    assert "1 line like the seams left out" in told
    assert "the first from 14 cm across, 15 cm down" in told or "0 cm across, 15 cm down" in told
    run("draw", file, "-o", tmp_path / "top.svg", "--taken")
    assert "thick: left out, encloses nothing" in (tmp_path / "top.svg").read_text()


def test_the_picture_of_what_was_taken_is_for_drawn_tops_only(run, tmp_path):
    run("new", tmp_path / "mine.toml")
    code, _, err = run("draw", tmp_path / "mine.toml", "-o", tmp_path / "x.png", "--taken")
    assert code == 1
    assert "expected one from a drawing" in err


def test_a_design_made_of_a_drawing_goes_on_from_there(run, wall, tmp_path):
    design = tmp_path / "wall.toml"
    code, out, _ = run("import", wall, "-o", design)
    assert code == 0
    assert "go on with: stitchpath plan" in out
    text = design.read_text()
    assert 'drawing = "quay wall.svg"' in text
    assert '# "#2f8f9f" = "appliqué"' in text
    assert run("plan", design, "-o", tmp_path / "out")[0] == 0
    code, _, err = run("import", wall, "-o", design)
    assert code == 1  # hers by now
    assert "--force" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plan", "{wall}", "--size", "big"), "--size"),
        (("plan", "{wall}", "--unit", "ell"), "--unit: found 'ell', expected mm, cm or in"),
        (("plan", "{toml}", "--size", "60 in"), "--size: found '60 in' for a design"),
        (("import", "{toml}", "-o", "{folder}/x.toml"), "expected an SVG or DXF file"),
        (("import", "{wall}", "-o", "{folder}/x.txt"), "ending in .toml"),
        (("import", "{wall}", "-o", "{folder}/sub/x.toml"), "beside its drawing"),
        (("plan", "{folder}/none.svg"), "no such file"),
    ],
)
def test_what_cannot_be_done_with_a_drawing_is_said_in_one_sentence(
    run, wall, tmp_path, words, said
):
    (tmp_path / "sub").mkdir()
    run("new", tmp_path / "mine.toml")
    named = {"wall": wall, "toml": tmp_path / "mine.toml", "folder": tmp_path}
    code, _, err = run(*(word.format(**named) for word in words))
    assert code == 1
    assert said in err
    assert err.count("\n") == 1


def test_a_drawing_without_a_size_asks_for_it_by_its_option(run, tmp_path):
    file = tmp_path / "bare.svg"
    file.write_text(drawn.pixels()[0])
    code, _, err = run("plan", file, "-o", tmp_path)
    assert code == 1
    assert "--size" in err
    assert run("plan", file, "-o", tmp_path, "--size", "80 cm")[0] == 0
