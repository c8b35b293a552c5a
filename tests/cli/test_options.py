"""Who types a command reads of options; who writes Python reads of arguments, never of options."""

import re
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from quilts import design

import stitchpath
from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.checks.cures import closed_gaps
from stitchpath.export.machine.settings import pen_settings
from stitchpath.export.write import FORMATS, guide_options, known_formats, save_plan
from stitchpath.plan import make_plan
from stitchpath.thread.quote import Asked, estimate_of

HOUSE = Path(stitchpath.__file__).parent
OPTION = re.compile(r"(?<![\w-])--?[a-z]")

SQUARE = 'name = "mat"\nfabrics = { sea = "navy", sand = "tan" }\n[blocks.b]\nsize = 4\n'
SQUARE += 'grid = ["sea sand"]\n[layout]\nrows = ["b"]\n'
OUTSIDE = SQUARE + '[[applique]]\nname = "fish"\nfile = "../x.svg"\nfabric = "sand"\nsize = 1\n'


@pytest.mark.parametrize(
    ("argument", "ask"),
    [
        ("price", lambda made: made.priced(["end_insde=1"])),
        ("price", lambda made: made.priced(["end_inside=x"])),
        ("batting", lambda made: made.held_by("woll")),
        ("batting", lambda made: made.held_by("4 inchs")),
        ("size", lambda _: estimate_of(Asked("60by80"))),
        ("size", lambda _: estimate_of(Asked("6000x80in", fill="meander", spacing="1in"))),
        ("fill", lambda _: estimate_of(Asked("60x80in", fill="meandr", spacing="1in"))),
        ("spacing", lambda _: estimate_of(Asked("60x80in", fill="meander", spacing="90in"))),
        ("spacing", lambda _: estimate_of(Asked("60x80in", fill="meander"))),
        ("motif", lambda _: estimate_of(Asked("9x9in", fill="motif rows", spacing="1in"))),
        ("motif", lambda _: estimate_of(Asked("9x9in", "motif rows", "1in", "9in"))),
        ("depth", lambda _: estimate_of(Asked("9x9in", ditch="1m", depth="18in"))),
        ("throat", lambda _: estimate_of(Asked("9x9in", ditch="1m", throat="wide"))),
        ("hour", lambda _: estimate_of(Asked("9x9in", ditch="1m", hour=-1.0))),
        ("ditch", lambda _: estimate_of(Asked("60x80in", ditch="far"))),
        ("pen", lambda _: pen_settings(["bde=60x90cm"], "in")),
        ("pen", lambda _: pen_settings(["up=M5"], "in")),
        ("pen feed", lambda _: pen_settings(["feed=1500"], "in")),
        ("pen first_pass", lambda _: pen_settings(["first_pass=maybe"], "in")),
        ("pen bed", lambda _: pen_settings(["bed=60"], "in")),
        ("format", lambda _: known_formats("svgg")),
    ],
)
def test_a_wrong_argument_is_named_as_python_names_it(argument, ask):
    with pytest.raises(StitchpathError) as caught:
        ask(design(SQUARE))
    assert str(caught.value).startswith(f"{argument}: found")
    assert caught.value.argument
    assert not OPTION.search(str(caught.value))


def test_what_would_allow_it_is_named_for_python_without_an_option(tmp_path):
    made = make_plan(design(SQUARE))
    (tmp_path / f"{Path(made.design.source).stem}.path.svg").write_text("hers")
    with pytest.raises(StitchpathError, match="did not make") as caught:
        save_plan(made, tmp_path)
    assert (caught.value.allowed_by, OPTION.search(str(caught.value))) == ("force", None)
    with pytest.raises(StitchpathError, match="found no batting") as caught:
        closed_gaps(design(SQUARE))
    assert (caught.value.allowed_by, OPTION.search(str(caught.value))) == ("batting", None)


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (("plan", "mat.toml", "--price", "end_insde=1"), "--price: found the unknown price"),
        (("check", "mat.toml", "--batting", "woll"), "--batting: found"),
        (("thread", "--size", "60by80"), "--size: found"),
        (("thread", "--size", "9x9in", "--fill", "meandr", "--spacing", "1in"), "--fill: found"),
        (("plan", "mat.toml", "--format", "svgg"), "--format: found the unknown format"),
        (("plan", "mat.toml", "--pen", "bed=60"), "--pen bed: found"),
        (("plan", "mat.toml", "--close-gaps"), "in the design, or --batting"),
        (("check", "fish.toml"), "(if you trust the design, allow it with --outside)"),
        (("draw", "mat.toml", "-o", "hers.svg"), "with -o, or write over it with --force"),
        (("draw", "fish.toml", "-o", "x/../mat.svg"), "allow it with --outside)"),
        (("plan", "price"), "price: no such file"),
    ],
)
def test_who_types_a_command_is_told_of_its_options(run, tmp_path, monkeypatch, command, said):
    folder = tmp_path / "designs"
    folder.mkdir()
    monkeypatch.chdir(folder)
    for name, text in (("mat.toml", SQUARE), ("fish.toml", OUTSIDE), ("hers.svg", "<svg/>")):
        Path(name).write_text(text)
    code, _, err = run(*command)
    assert code == 1
    assert said in err
    assert ("--price" in err) == ("--price" in command)


def test_no_sentence_outside_the_command_line_holds_an_option():
    for path in HOUSE.rglob("*.py"):
        if HOUSE / "cli" not in path.parents:
            spoken = re.findall(r"(?<![\w`-])--[a-z]+", path.read_text("utf-8"))
            assert not [each for each in spoken if each != "--plan"], path


def test_a_format_nobody_knows_is_answered_with_all_there_are(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("mat.toml").write_text(SQUARE)
    _, _, err = run("plan", "mat.toml", "--format", "xyz")
    assert "expected some of print, machine, all, plan, path," in err
    assert all(name in err for name in FORMATS)


def test_help_lists_every_format_and_every_word_for_several(run):
    _, out, _ = run("plan", "--help")
    words = set(re.findall(r"[\w-]+", out))
    assert {*FORMATS, "print", "machine", "all"} <= words


def test_a_format_is_called_what_its_file_is_called():
    for name, (ending, _) in FORMATS.items():
        middle = ending[1:].rsplit(".", 1)
        assert name in (middle[0], "-".join(middle))
        assert known_formats(ending[1:]) == (name,)  # and what the file ends in is understood


@pytest.mark.parametrize(("unit", "paper"), [("in", "-letter"), ("cm", ""), ("mm", "")])
def test_what_is_printed_comes_on_the_paper_of_where_she_measures(unit, paper):
    assert known_formats("print", unit) == tuple(
        f"{x}{paper}" for x in ("guide", "job", "true-size")
    )
    assert known_formats("map, print,map", unit)[:2] == ("map", f"guide{paper}")
    assert set(known_formats("machine", unit)) == {"dxf", "gcode", "hpgl", "needle", "plotter"}
    assert known_formats("all", unit) == tuple(FORMATS)


@pytest.mark.parametrize(
    ("asked", "paper", "made"),
    [
        ("guide", "a5", "guide-a5"),
        ("guide-letter", "a4", "guide"),
        ("glance", "half-letter", "glance-letter"),
        ("job,map", "letter", "job-letter,map"),
    ],
)
def test_she_prints_on_the_paper_that_she_has(asked, paper, made):
    assert known_formats(asked, "in", paper) == tuple(made.split(","))


def test_words_and_large_print_make_another_guide(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("mat.toml").write_text(SQUARE)
    sizes = []
    for more in ((), ("--words",), ("--print", "large")):
        code, out, _ = run("plan", "mat.toml", "--format", "guide", "--paper", "letter", *more)
        assert code == 0
        assert "mat.guide-letter.pdf" in out
        sizes.append(len(pdfium.PdfDocument("exports/mat.guide-letter.pdf")))
    assert sizes[1] > sizes[0]
    assert sizes[2] > sizes[0]


@pytest.mark.parametrize(("paper", "small"), [("a5", "A5"), ("half-letter", "half letter")])
def test_large_print_on_small_paper_is_refused_before_she_waits(
    run, tmp_path, monkeypatch, paper, small
):
    monkeypatch.chdir(tmp_path)
    Path("mat.toml").write_text(SQUARE)
    asked = ("--format", "guide", "--paper", paper, "--print", "large")
    code, _, err = run("plan", "mat.toml", *asked)
    assert code == 1
    assert f"--print: found large print on {small}" in err
    assert not Path("exports").exists()


def test_of_all_formats_those_on_small_paper_keep_their_print():
    asked = guide_options(large=True, formats=list(FORMATS))
    large = {name for name, options in asked.items() if options["large"]}
    assert large == {"guide", "guide-letter"}


def test_a_print_or_paper_nobody_knows_is_answered_with_what_there_is(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("mat.toml").write_text(SQUARE)
    code, _, err = run("plan", "mat.toml", "--print", "huge")
    assert code == 1
    assert err.startswith("stitchpath: --print: found the unknown size 'huge'")
    assert err.endswith("usual, large\n")
    code, _, err = run("plan", "mat.toml", "--paper", "a6")
    assert code == 1
    assert err.startswith("stitchpath: --paper: found the unknown paper 'a6'")
    assert err.endswith("a4, letter, a5, half-letter\n")
    assert not Path("exports").exists()


def test_names_of_before_go_on_being_understood():
    old = known_formats("json,svg,ditch,csv,sheet,sheet-letter")
    assert old == ("plan", "path", "low-side", "job-csv", "job", "job-letter")


def test_formats_may_be_named_in_one_text_from_python_too(tmp_path):
    written = save_plan(make_plan(design(SQUARE)), tmp_path, "svg,csv")
    assert [path.name.split(".", 1)[1] for path in written] == [
        "path.svg", "job.csv", "plan.json"
    ]  # fmt: skip


def test_a_name_in_other_letters_is_the_nearest():
    with pytest.raises(StitchpathError, match="nearest block is 'Boat'"):
        raise unknown_name("rows", "block", "BOAT", ["Quay", "Boat"])
    with pytest.raises(StitchpathError, match="expected an id out of hull"):
        raise unknown_name("fish", "id", "xyz", ["hull"])


def test_she_can_say_which_version_she_has_when_she_reports_a_fault(run):
    assert run("--version") == (0, f"stitchpath {stitchpath.__version__}\n", "")
