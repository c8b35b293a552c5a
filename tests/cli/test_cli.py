import copy
import io
import json
import random
import tomllib

import jsonschema
import pytest
from quilts import DESIGNS, SQUARES
from rich.console import Console

from stitchpath.cli.watch import Watch
from stitchpath.lines.fills.styles import STYLES

STARTER = DESIGNS.parent / "stitchpath" / "design" / "starter.toml"


@pytest.fixture
def file(tmp_path):
    def write(text, name="quilt.toml"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_a_new_design_plans_at_once(run, tmp_path):
    start = tmp_path / "mine.toml"
    assert run("new", start)[0] == 0
    code, out, _ = run("plan", start, "-o", tmp_path / "out", "--format", "svg,map,ditch")
    assert code == 0
    assert "proven" in out
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "mine.low-side.svg",
        "mine.map.svg",
        "mine.path.svg",
        "mine.plan.json",
    ]


def test_new_never_writes_over_a_design(run, file):
    path = file(SQUARES)
    code, _, err = run("new", path)
    assert code == 1
    assert "already there" in err
    assert path.read_text() == SQUARES


def test_check_finds_nothing_wrong_with_a_sound_design(run, file):
    said = "widest unquilted place: 3 in, in the sand in A1\nnothing found\n"
    assert run("check", file(SQUARES)) == (0, said, "")


def test_check_tells_of_a_seam_pressed_open(run, file):
    code, out, _ = run("check", file(SQUARES + '[press]\ndefault = "open"\n'))
    assert code == 0
    assert '\nwarning: The seams of "sand" and "sea" in A1 are pressed open: ' in out


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_draw_makes_a_picture_and_the_same_bytes_each_time(run, file, tmp_path, ending):
    path = file(SQUARES)
    pictures = [tmp_path / f"{n}.{ending}" for n in (1, 2)]
    for picture in pictures:
        assert run("draw", path, "-o", picture)[0] == 0
    assert pictures[0].read_bytes() == pictures[1].read_bytes() != b""


def test_blocks_lists_the_library_and_draws_one(run, tmp_path):
    code, out, _ = run("blocks")
    assert code == 0
    assert len(out.splitlines()) >= 20
    picture = tmp_path / "star.svg"
    code, out, _ = run("blocks", "sawtooth star", "-o", picture)
    assert code == 0
    assert "17 patches" in out
    assert b"<svg" in picture.read_bytes()


def test_fills_lists_every_style_and_draws_a_page_of_swatches(run, tmp_path):
    page = tmp_path / "swatches.svg"
    code, out, _ = run("fills", "--spacing", "1 in", "-o", page)
    assert code == 0
    assert all(style in out for style in STYLES)
    assert b"<svg" in page.read_bytes()
    code, _, err = run("fills", "--spacing", "1/100 in")
    assert code == 1
    assert "expected" in err


def test_three_proposals_are_written_side_by_side(run, file, tmp_path):
    folder = tmp_path / "out"
    design = file(SQUARES)
    code, out, _ = run("plan", design, "--suggest", "-o", folder, "--time-limit", "0.1")
    assert code == 0
    assert all(name in out for name in ("outline only", "custom", "all over"))
    assert sorted(path.suffix for path in folder.iterdir()) == [".html", ".pdf"]
    code, _, err = run("plan", design, "--suggest", "--paper", "a9", "-o", folder)
    assert code == 1
    assert "a4" in err


def test_her_editor_shows_what_a_key_means_as_she_types(run):
    tables = json.loads(run("schema")[1])["$defs"]
    dark, grid = tables["Fabric"]["properties"]["dark"], tables["Block"]["properties"]["grid"]
    assert dark["description"].startswith("How dark it is, 0 white to 1 black")
    assert grid["description"].startswith("Rows of cells parted by spaces")  # as any drawing has


def test_the_schema_accepts_every_shipped_design_and_refuses_a_misspelt_key(run):
    schema = json.loads(run("schema")[1])
    jsonschema.Draft202012Validator.check_schema(schema)
    for path in sorted(DESIGNS.glob("*.toml")):
        jsonschema.validate(tomllib.loads(path.read_text()), schema)
    data = tomllib.loads(SQUARES)
    data["fabrcs"] = {}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"name = \n", "line 1"),
        (b"\xff\xfe", "UTF-8"),
        (b"", "no key 'name'"),
        (SQUARES + "[layuot]\n", "nearest known key is 'layout'"),
        (SQUARES.replace("size", "sise"), "nearest known key is 'size'"),
        (SQUARES.replace("sand sea", "sand see"), "unknown fabric 'see', the nearest fabric"),
        (SQUARES.replace("size = 6", "size = -6"), "blocks.squares.size: found -6, expected"),
        (SQUARES.replace("size = 6", 'size = "six"'), "expected a length such as"),
        (SQUARES.replace("sand sea", "sand"), "rows of 1, 2 cells"),
        (SQUARES.replace("sand sea", "sand\\\\sea/sea sea"), "the cell"),
        (SQUARES.replace('"squares"]', '"sqares"]'), "unknown block 'sqares'"),
        (SQUARES.replace('"squares"]', '"squares:45"]'), "found 'squares:45'"),
        (SQUARES.replace('"squares"]', '"squares*99999"]'), "squares*99999"),
        (SQUARES.replace('"#2f6f9f"', '"blueish"'), "fabrics.sea: found 'blueish'"),
        (SQUARES + '[lines]\nditch = "none"\n', "nothing to stitch"),
        (SQUARES + '[batting]\nmargin = "2 feet"\n', "batting.margin: found '2 feet'"),
        (SQUARES + "[prices]\nend_inside = -1\n", "prices.end_inside: found -1"),
        (SQUARES + "[prices]\nend_inside = nan\n", "prices.end_inside: found nan"),
        ('unit = "ell"\n' + SQUARES, "expected 'in', 'cm' or 'mm'"),
    ],
)
def test_a_bad_design_is_refused_in_one_sentence_and_nothing_is_written(
    run, file, tmp_path, text, said
):
    path = file(text)
    out = tmp_path / "out"
    code, _, err = run("plan", path, "-o", out)
    assert code == 1
    assert err.startswith(f"stitchpath: {path}: ")
    assert said in err
    assert err.count("\n") == 1
    assert not out.exists()


def test_a_missing_file_is_named(run, tmp_path):
    code, _, err = run("plan", tmp_path / "none.toml")
    assert code == 1
    assert "none.toml: no such file or directory, expected a design file" in err


def test_a_folder_for_a_design_is_refused(run, tmp_path):
    code, _, err = run("plan", tmp_path)
    assert (code, err.count("\n")) == (1, 1)


def test_a_file_far_too_large_is_refused_unread(run, tmp_path):
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    code, _, err = run("plan", path)
    assert code == 1
    assert "50 MB" in err


def test_a_folder_that_cannot_be_written_is_named_and_left_as_it_was(run, file, tmp_path):
    (tmp_path / "out").write_text("a file, not a folder")
    code, _, err = run("plan", file(SQUARES), "-o", tmp_path / "out")
    assert code == 1
    assert "cannot be written" in err
    assert (tmp_path / "out").read_text() == "a file, not a folder"


def test_an_unknown_format_is_refused_before_anything_is_planned(run, file):
    code, _, err = run("plan", file(SQUARES), "--format", "sgv")
    assert code == 1
    assert "'svg'" in err


def _places(data, path=()):
    """List every place in a design, from the outside in."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, (dict, list)):
            yield from _places(value, (*path, key))


def _spoil(data, rng):
    """Drop a key, or put something in its place that does not belong there."""
    data = copy.deepcopy(data)
    *path, key = rng.choice(sorted(_places(data), key=repr))
    at = data
    for step in path:
        at = at[step]
    junk = [
        -1,
        0,
        "",
        "sand",
        "6 1/0 in",
        True,
        [],
        {},
        1e300,
        ["x", 1],
        {"size": 3},
        "a/b/c",
        "M 0",
    ]
    if rng.random() < 0.3:
        del at[key]
    elif rng.random() < 0.3 and isinstance(at, dict):
        at[f"{key}x"] = at.pop(key)
    else:
        at[key] = rng.choice(junk)
    return data


def _toml(value):
    """Write what the mutated designs hold as TOML values."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value)


@pytest.mark.parametrize("seed", range(12))
def test_spoilt_designs_never_end_in_a_traceback(run, file, tmp_path, seed):
    # 12 times 10 designs; an exception that is not ours would surface here as itself.
    rng = random.Random(seed)
    base = tomllib.loads(STARTER.read_text() if seed % 2 else SQUARES)
    for k in range(10):
        data = _spoil(base, rng)
        path = file("".join(f"{k} = {_toml(v)}\n" for k, v in data.items()), f"{seed}-{k}.toml")
        command = ("plan", path, "-o", tmp_path, "--time-limit", 1) if k < 4 else ("check", path)
        code, _, err = run(*command)
        assert code in (0, 1)
        assert code == 0 or err.count("\n") == 1, err


def test_while_the_route_is_searched_she_sees_how_far_it_is():
    screen = Console(file=io.StringIO(), force_terminal=True, width=100)
    with Watch(screen) as watch:
        watch.tell("stage 1, sand", 120_000, 100_000)
        watch.tell("stage 1, sand", 110_000, 105_000)
        shown = watch._bar.tasks[0]  # noqa: SLF001
        assert shown.percentage == 75
    shown = screen.file.getvalue()
    assert "4.55 % over the bound" in shown
    assert " m" not in shown.partition("over the bound")[0].rpartition("\n")[2]  # by time it is s


def test_while_the_top_is_laid_out_and_files_are_written_she_sees_that_it_goes_on():
    screen = Console(file=io.StringIO(), force_terminal=True, width=100)
    with Watch(screen) as watch:
        watch.tell("stage 1, sand", 120_000, 100_000)
        watch.now("writing quilt.guide.pdf")
        assert watch._bar.tasks[0].total is None  # noqa: SLF001 - a bar that only moves
    shown = screen.file.getvalue()
    assert "writing quilt.guide.pdf" in shown
    assert "gap" not in shown.split("writing quilt.guide.pdf")[-1]
