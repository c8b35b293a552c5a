import io
import itertools
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import ezdxf
import matplotlib as mpl
import pypdfium2
import pytest
from defusedxml import ElementTree
from PIL import Image
from quilts import DESIGNS, SQUARES, STARFISH, design, planned

from stitchpath import load_design, make_plan
from stitchpath.base import interrupt
from stitchpath.base.errors import StitchpathError
from stitchpath.export import files as disk
from stitchpath.export.files import write_whole
from stitchpath.export.mark import MADE, digest_of, mark_of, stamp
from stitchpath.export.verify import verify_folder
from stitchpath.export.write import FORMATS, save_plan
from stitchpath.plan import plan_json

ANOTHER = SQUARES.replace("size = 6", "size = 8")
SEARCHING = """
import sys
from stitchpath.cli import main as cli
from stitchpath.route import postman
search = postman._search
def told(*args):
    print("searching", file=sys.stderr, flush=True)
    search(*args)
postman._search = told
cli.main()
"""


@pytest.fixture(scope="module")
def plan():
    return planned(SQUARES)


@pytest.fixture(scope="module")
def other():
    return planned(ANOTHER)


@pytest.fixture
def quilt(tmp_path):
    path = tmp_path / "quilt.toml"
    path.write_text(SQUARES)
    return path


@pytest.fixture
def beside(tmp_path):
    """A design beside the drawing that it names, as the two lie in her folder."""
    shutil.copy(DESIGNS / "starfish.svg", tmp_path)
    path = tmp_path / "starfish.toml"
    path.write_text(STARFISH)
    return path


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


# Nothing of hers is lost.


def test_the_name_of_a_file_is_no_folder_that_is_made_for_her(tmp_path):
    with pytest.raises(
        StitchpathError, match=r"mat\.plan\.json: found the name of a file, expected"
    ):
        save_plan(planned(SQUARES), tmp_path / "mat.plan.json")
    assert not list(tmp_path.iterdir())


def test_her_drawing_stays_when_plans_are_written_beside_it(run, beside):
    folder = beside.parent
    for _ in range(2):
        assert run("plan", beside, "-o", folder)[0] == 0
    assert (folder / "starfish.svg").read_bytes() == (DESIGNS / "starfish.svg").read_bytes()
    assert "starfish.path.svg" in contents(folder)


@pytest.mark.parametrize("force", [(), ("--force",)])
@pytest.mark.parametrize("name", ["starfish.svg", "link.svg"])
def test_a_drawing_that_the_design_reads_is_never_written_over(run, beside, force, name):
    (beside.parent / "link.svg").hardlink_to(beside.parent / "starfish.svg")
    before = contents(beside.parent)
    code, _, err = run("draw", beside, "-o", beside.parent / name, *force)
    assert (code, err.count("\n")) == (1, 1)
    assert "the design is made from" in err
    assert contents(beside.parent) == before


def test_a_motif_and_the_design_itself_are_among_what_it_reads(tmp_path):
    path = tmp_path / "quilt.toml"
    fill = (
        '[[fills]]\nregion = "ground"\nstyle = "motif rows"\nspacing = 2\nmotif = "breaker.svg"\n'
    )
    path.write_text(SQUARES + fill)
    assert set(load_design(path).reads) == {path, tmp_path / "breaker.svg"}


def test_a_path_named_as_her_drawing_does_not_replace_it(run, beside):
    drawing = beside.with_name("starfish.path.svg")
    beside.with_name("starfish.svg").rename(drawing)
    beside.write_text(STARFISH.replace("starfish.svg", drawing.name))
    before = drawing.read_bytes()
    code, _, err = run("plan", beside, "-o", beside.parent, "--force")
    assert code == 1
    assert "the design is made from" in err
    assert drawing.read_bytes() == before


@pytest.mark.parametrize(
    "hers", [b"", b"<svg/>", b"run,stage\r\n1,2\r\n", b"my notes on the stitchpath plan"]
)
def test_a_file_that_the_tool_did_not_make_is_kept_unless_she_says_so(run, quilt, tmp_path, hers):
    out = tmp_path / "out"
    out.mkdir()
    path = out / "quilt.job.csv"
    path.write_bytes(hers)
    code, _, err = run("plan", quilt, "-o", out, "--format", "csv")
    assert (code, err.count("\n")) == (1, 1)
    assert f"{path}: found a file that stitchpath did not make" in err
    assert contents(out) == {path.name: hers}
    assert run("plan", quilt, "-o", out, "--format", "csv", "--force")[0] == 0
    assert path.read_bytes().startswith(b"row,run,")


def test_what_the_tool_made_is_made_anew_without_a_word(run, quilt, tmp_path):
    for text in (SQUARES, ANOTHER):
        quilt.write_text(text)
        code, _, err = run("plan", quilt, "-o", tmp_path / "out", "--format", "all")
        assert (code, err) == (0, "")
    for name in ("a.png", "a.svg"):
        for command in ("draw", "draw"):
            assert run(command, quilt, "-o", tmp_path / name)[0] == 0


def test_another_json_of_that_name_is_kept(run, quilt, tmp_path):
    (tmp_path / "quilt.plan.json").write_text('{"format": "mine"}')
    assert run("plan", quilt, "-o", tmp_path)[0] == 1
    assert (tmp_path / "quilt.plan.json").read_text() == '{"format": "mine"}'


def test_two_designs_of_one_name_do_not_replace_each_other_in_one_folder(run, tmp_path):
    out = tmp_path / "out"
    for name, text in (("a", SQUARES), ("b", SQUARES.replace("Squares", "Other"))):
        (tmp_path / name).mkdir()
        (tmp_path / name / "quilt.toml").write_text(text)
    assert run("plan", tmp_path / "a" / "quilt.toml", "-o", out)[0] == 0
    before = contents(out)
    code, _, err = run("plan", tmp_path / "b" / "quilt.toml", "-o", out)
    assert (code, err.count("\n")) == (1, 1)
    assert "the plan of another design" in err
    assert contents(out) == before
    assert run("plan", tmp_path / "b" / "quilt.toml", "-o", out, "--force")[0] == 0
    assert contents(out) != before


def test_two_designs_of_one_name_are_told_apart_though_both_call_the_quilt_the_same(run, tmp_path):
    out = tmp_path / "out"
    for name, text in (("a", SQUARES), ("b", ANOTHER)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "quilt.toml").write_text(text)
    assert run("plan", tmp_path / "a" / "quilt.toml", "-o", out)[0] == 0
    if disk.source_of(out / "quilt.plan.json") is None:
        pytest.skip("this disk keeps no notes beside files")
    assert run("plan", tmp_path / "b" / "quilt.toml", "-o", out)[0] == 1


def test_a_design_that_she_has_changed_is_no_other_one(run, quilt, tmp_path):
    out = tmp_path / "out"
    for text in (SQUARES, ANOTHER):
        quilt.write_text(text)
        assert run("plan", quilt, "-o", out)[0] == 0


def test_a_design_that_she_has_renamed_or_moved_is_no_other_one(run, quilt, tmp_path):
    out = tmp_path / "out"
    assert run("plan", quilt, "-o", out)[0] == 0
    if disk.source_of(out / "quilt.plan.json") is None:
        pytest.skip("this disk keeps no notes beside files")
    quilt.write_text(SQUARES.replace("Squares", "My squares"))
    assert run("plan", quilt, "-o", out)[0] == 0
    (tmp_path / "moved").mkdir()
    moved = quilt.rename(tmp_path / "moved" / quilt.name)
    assert run("plan", moved, "-o", out)[0] == 0


# A set is whole or told.


def test_every_file_bears_the_digest_of_its_plan_where_there_is_room(plan, tmp_path):
    digest = digest_of(plan_json(plan))
    marks = {path.name: mark_of(path) for path in save_plan(plan, tmp_path, tuple(FORMATS))}
    assert marks.pop("test.needle.csv") == MADE
    assert set(marks.values()) == {digest}
    assert len(marks) == len(FORMATS)
    index = (tmp_path / "test.index.html").read_text()
    assert f"of the plan {digest}" in index


def test_marked_files_are_still_what_their_formats_ask_for(plan, tmp_path):
    # Read by general libraries: PDFium, Pillow, ezdxf with its audit, expat.
    for path in save_plan(plan, tmp_path, tuple(FORMATS)):
        if path.suffix == ".pdf":
            data = path.read_bytes()
            assert data.rstrip().endswith(b"%%EOF")  # ISO 32000-1, 7.5.5: the last line
            assert len(pypdfium2.PdfDocument(data)) > 0
        elif path.suffix == ".png":
            picture = Image.open(io.BytesIO(path.read_bytes()))
            picture.load()
            assert picture.text["Comment"].startswith("stitchpath plan ")
        elif path.suffix == ".dxf":
            drawing = ezdxf.readfile(path)
            assert not drawing.audit().errors
            assert len(drawing.modelspace()) > 0
        elif path.suffix == ".svg":
            assert ElementTree.fromstring(path.read_bytes()).tag.endswith("svg")
        elif path.suffix == ".html":
            assert path.read_bytes().startswith(b"<!DOCTYPE html>")
        elif path.suffix == ".gcode":
            assert all(len(line) <= 90 for line in path.read_text().splitlines())


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_a_mark_costs_no_pixel(ending):
    kind = f"picture{'-svg' * (ending == 'svg')}"
    made = FORMATS[kind][1](planned(SQUARES))
    marked = stamp(f"a.{ending}", made, "0" * 32)
    assert marked != made
    if ending == "png":
        bare, other = (Image.open(io.BytesIO(data)).tobytes() for data in (made, marked))
        assert bare == other


class _Killed(BaseException):
    pass


@pytest.mark.parametrize("moment", [0, 1, 3, 6, 7])
def test_after_a_kill_each_file_is_whole_and_a_mixed_set_is_told(
    plan, other, tmp_path, monkeypatch, moment
):
    formats = ("svg", "map", "csv", "dxf", "needle", "gcode")
    save_plan(plan, tmp_path, formats)
    before = contents(tmp_path)
    save_plan(other, tmp_path / "new", formats)
    after = contents(tmp_path / "new")
    shutil.rmtree(tmp_path / "new")
    steps = iter(range(100))
    replace = Path.replace

    def killed(path, target):
        if next(steps) == moment:
            raise _Killed
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", killed)
    monkeypatch.setattr(Path, "unlink", lambda *_, **__: None)  # nothing is tidied up any more
    try:
        save_plan(other, tmp_path, formats)
    except _Killed:
        assert moment < 7
    monkeypatch.undo()
    found = {name: data for name, data in contents(tmp_path).items() if name[0] != "."}
    assert all(data in (before[name], after[name]) for name, data in found.items())
    assert (found["test.plan.json"] == after["test.plan.json"]) == (found == after)
    (verdict,) = verify_folder(tmp_path)
    mixed = found not in (before, after)
    assert any("of another plan" in fault for fault in verdict.faults) == mixed
    assert save_plan(other, tmp_path, formats)
    assert verify_folder(tmp_path)[0].faults == ()


def test_what_a_killed_command_left_behind_is_swept_and_what_another_writes_is_not(tmp_path):
    dead = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"],
                          capture_output=True, check=True)  # fmt: skip
    left = tmp_path / f".stitchpath-{int(dead.stdout)}-1.part"
    busy = tmp_path / f".stitchpath-{os.getppid()}-1.part"
    hers = tmp_path / ".stitchpath-notes.part"
    for path in (left, busy, hers):
        path.write_text("")
    write_whole({tmp_path / "a.txt": b"a"})
    assert set(contents(tmp_path)) == {"a.txt", busy.name, hers.name}


def test_a_folder_in_the_way_is_found_before_anything_takes_its_place(run, quilt, tmp_path):
    out = tmp_path / "out"
    (out / "quilt.plan.json").mkdir(parents=True)
    code, _, err = run("plan", quilt, "-o", out, "--format", "svg,map")
    assert (code, err.count("\n")) == (1, 1)
    assert "quilt.plan.json: found a folder" in err
    assert [path.name for path in out.iterdir()] == ["quilt.plan.json"]


def test_a_pipe_in_the_way_does_not_hang_the_command(run, quilt, tmp_path):
    os.mkfifo(tmp_path / "quilt.path.svg")
    code, _, err = run("plan", quilt, "-o", tmp_path)
    assert code == 1
    assert "no plain file" in err


def test_verify_tells_what_does_not_belong(run, plan, other, tmp_path):
    save_plan(plan, tmp_path, tuple(FORMATS))
    code, said, _ = run("verify", tmp_path)
    assert code == 0
    assert f"{len(FORMATS) + 1} files of one plan" in said
    save_plan(other, tmp_path / "other", ("dxf", "needle"))
    for name in ("test.dxf", "test.needle.csv"):
        shutil.copy(tmp_path / "other" / name, tmp_path)
    (tmp_path / "test.hpgl").write_text("IN;")
    (tmp_path / "test.gcode").unlink()
    code, said, _ = run("verify", tmp_path)
    assert code == 1
    for fault in (
        "test.dxf is of another plan",
        "test.needle.csv is not the file that the index tells of",
        "test.hpgl was not made",
        "test.gcode is missing",
    ):
        assert fault in said


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": "stitchpath-plan/0"}'])
def test_verify_tells_of_a_plan_that_is_none(run, tmp_path, text):
    (tmp_path / "quilt.plan.json").write_text(text)
    code, said, err = run("verify", tmp_path)
    assert (code, err) == (1, "")
    assert "quilt.plan.json: found" in said


def _faulty(_):
    return ("run 1 jumps over open fabric",)


def _lacking(_):
    raise KeyError("runs")


@pytest.mark.parametrize(
    ("reader", "said"), [(_faulty, "run 1 jumps over open fabric"), (_lacking, "lacks something")]
)
def test_verify_tells_that_a_plan_does_not_hold(run, plan, tmp_path, monkeypatch, reader, said):
    save_plan(plan, tmp_path, ("map",))
    monkeypatch.setattr("stitchpath.export.verify.plan_faults", reader)
    code, shown, _ = run("verify", tmp_path)
    assert code == 1
    assert "test.plan.json: " in shown
    assert said in shown


def test_verify_of_a_folder_without_a_plan_is_one_sentence(run, tmp_path):
    for folder in (tmp_path, tmp_path / "none"):
        code, _, err = run("verify", folder)
        assert (code, err.count("\n")) == (1, 1)


def test_files_of_an_older_plan_beside_the_new_ones_are_told(run, quilt, tmp_path):
    out = tmp_path / "out"
    run("plan", quilt, "-o", out, "--format", "map,dxf")
    quilt.write_text(ANOTHER)
    said = run("plan", quilt, "-o", out, "--format", "map")[1]
    assert "note: quilt.dxf in" in said
    assert "another plan" not in run("plan", quilt, "-o", out, "--format", "map,dxf")[1]


def test_a_full_disk_is_told_as_one_and_leaves_all_as_it_was(plan, other, tmp_path):
    save_plan(plan, tmp_path, ("map",))
    before = contents(tmp_path)
    # No larger file may be made: the same as a full disk, without having to fill one.
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1500, hard))
    try:
        with pytest.raises(StitchpathError, match="the disk is full; expected room") as error:
            save_plan(other, tmp_path, ("map",))
        with pytest.raises(StitchpathError, match="the disk is full"):
            save_plan(other, tmp_path / "new" / "folder", ("map",))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert "folder that can" not in str(error.value)
    assert contents(tmp_path) == before


# Ctrl-C.


@pytest.fixture(scope="module")
def long_search(tmp_path_factory):
    folder = tmp_path_factory.mktemp("long")
    design = folder / "star.toml"
    text = (DESIGNS / "star-lap-quilt.toml").read_text()
    assert '# order = "free"' in text
    design.write_text(text.replace('# order = "free"', 'anchor = "first"') + "[prices]\n")
    save_plan(make_plan(load_design(design), time_limit=0.01), folder / "out", ("svg",))
    return design


@pytest.mark.parametrize("moment", [0.0, 0.3, 1.0])
def test_ctrl_c_in_a_long_search_leaves_the_good_plan_that_was_there(long_search, moment):
    out = long_search.parent / "out"
    before = contents(out)
    with subprocess.Popen(
        [sys.executable, "-c", SEARCHING, "plan", long_search, "-o", out, "--time-limit", "600"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr.readline() == "searching\n"
        time.sleep(moment)
        process.send_signal(signal.SIGINT)
        out_text, err_text = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in err_text
    assert "wrote" not in out_text
    assert contents(out) == before


def _swallow(path):
    """Send Ctrl-C where a library drops what comes up, as they do in callbacks."""
    try:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)
    except KeyboardInterrupt:
        return path
    raise AssertionError("nothing was raised")


def test_ctrl_c_that_a_library_swallows_still_writes_nothing(run, quilt, tmp_path, monkeypatch):
    ending, make = FORMATS["map"]
    monkeypatch.setitem(FORMATS, "map", (ending, lambda plan: _swallow(make(plan))))
    code, out, _ = run("plan", quilt, "-o", tmp_path / "out", "--format", "map")
    assert code == 130
    assert "wrote" not in out
    assert not (tmp_path / "out").exists()


def test_ctrl_c_while_files_take_their_places_comes_too_late(run, quilt, tmp_path, monkeypatch):
    replace = Path.replace

    def pressed(path, target):
        os.kill(os.getpid(), signal.SIGINT)
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", pressed)
    out = tmp_path / "out"
    assert run("plan", quilt, "-o", out, "--format", "map,dxf")[0] == 0
    assert verify_folder(out)[0].faults == ()
    assert verify_folder(out)[0].files == 3


def test_ctrl_c_in_her_own_program_is_raised_once_the_set_is_whole(plan, tmp_path, monkeypatch):
    monkeypatch.setattr("stitchpath.export.files.note_source", lambda *_: None)
    replace = Path.replace

    def pressed(path, target):
        os.kill(os.getpid(), signal.SIGINT)
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", pressed)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    with pytest.raises(KeyboardInterrupt):
        save_plan(plan, tmp_path, ("map",))
    assert verify_folder(tmp_path)[0].faults == ()


def test_plans_are_written_from_other_threads_too(plan, tmp_path):
    def work():
        with interrupt.listen():
            save_plan(plan, tmp_path, ("map",))

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert len(contents(tmp_path)) == 2


# The same plan on a busy day, on any terminal.


@pytest.mark.parametrize("limit", ["0", "-1", "nan", "inf", "1e9"])
@pytest.mark.parametrize("command", ["plan", "compare", "thread"])
def test_a_time_limit_that_is_none_is_told(run, quilt, command, limit):
    code, _, err = run(command, quilt, "--time-limit", limit)
    assert (code, err.count("\n")) == (1, 1)
    assert "--time-limit: found" in err


@pytest.mark.parametrize("limit", [-1, float("nan"), float("inf")])
def test_a_program_that_asks_for_no_time_is_told(limit):
    with pytest.raises(StitchpathError, match="time_limit: found"):
        planned(SQUARES, time_limit=limit)


def test_a_search_cut_off_by_the_clock_is_said_in_plan_and_table(run, long_search, monkeypatch):
    ticks = itertools.count(0, 1000)
    monkeypatch.setattr("stitchpath.route.effort.process_time", lambda: next(ticks))
    out = long_search.parent / "cut"
    code, said, _ = run("plan", long_search, "-o", out)
    assert code == 0
    assert "cut off by a slow or busy computer" in said
    assert "The search was cut off, since this computer" in said
    assert json.loads((out / "star.plan.json").read_text())["proof"]["cut_off"] is True


def test_her_own_settings_for_other_drawings_change_no_picture(plan):
    kinds = ("picture", "picture-svg")
    before = [FORMATS[kind][1](plan) for kind in kinds]
    hers = {"savefig.facecolor": "red", "lines.linewidth": 9, "path.simplify": False}
    with mpl.rc_context(hers):
        assert [FORMATS[kind][1](plan) for kind in kinds] == before
        assert mpl.rcParams["savefig.facecolor"] == "red"


def test_each_stage_is_told_while_she_waits(plan, tmp_path):
    said = []
    make_plan(plan.design, now=said.append)
    save_plan(plan, tmp_path, ("map",), now=said.append)
    for word in (
        "laying out", "fills", "joining lines", "route", "thread", "go wrong",
        "writing test.map.svg, 1 of 2", "writing test.plan.json, 2 of 2",
    ):  # fmt: skip
        assert any(word in each for each in said), word
    assert len(said) == len(set(said))


def _elsewhere(folder, design, seed, **env):
    """Plan in all formats in a process of its own, in other surroundings."""
    command = [sys.executable, "-m", "stitchpath", "plan", design, "-o", folder, "--format", "all"]
    if seed % 2 and shutil.which("taskset"):
        command = ["taskset", "-c", str(min(os.sched_getaffinity(0))), *command]
    done = subprocess.run(
        command,
        env={"PATH": os.environ["PATH"], "PYTHONHASHSEED": str(seed), **env},
        check=False,
        capture_output=True,
    )
    assert done.returncode == 0
    assert done.stderr == b""
    return contents(folder)


def test_every_format_is_the_same_bytes_in_any_surroundings(beside, tmp_path):
    first = _elsewhere(tmp_path / "1", beside, 1, HOME=os.environ.get("HOME", "/"))
    second = _elsewhere(
        tmp_path / "2", beside, 2, TZ="Pacific/Auckland", LC_ALL="C", HOME="/nowhere"
    )
    assert len(first) == len(FORMATS) + 1
    assert [name for name in first if first[name] != second[name]] == []


def test_a_dxf_does_not_hang_on_the_order_of_a_set(plan, monkeypatch):
    used = ezdxf.entitydb.EntityDB.dxf_types_in_use
    made = set()
    for backward in (False, True):
        monkeypatch.setattr(
            ezdxf.entitydb.EntityDB,
            "dxf_types_in_use",
            lambda each, backward=backward: sorted(used(each), reverse=backward),
        )
        made.add(FORMATS["dxf"][1](plan))
    assert len(made) == 1


@pytest.mark.parametrize("code_page", ["ascii", "cp437", "utf-8"])
def test_an_old_code_page_shows_every_word(beside, code_page):
    beside.write_text(
        STARFISH.replace('"Starfish"', '"Bojen, 6\u00bd \u2033 \u00fcber \u6d77"'), "utf-8"
    )
    done = subprocess.run(
        [sys.executable, "-m", "stitchpath", "plan", beside, "-o", beside.parent],
        env={**os.environ, "PYTHONIOENCODING": code_page},
        check=False,
        capture_output=True,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    shown = done.stdout.decode(code_page)
    assert ('Bojen, 6 1/2 " uber ?' if code_page == "ascii" else "Bojen, 6\u00bd") in shown


@pytest.mark.parametrize("command", [["blocks"], ["schema"], ["check", "DESIGN"]])
def test_a_reader_that_stops_early_ends_the_command_in_peace(quilt, command):
    asked = [str(quilt) if word == "DESIGN" else word for word in command]
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "stitchpath", *asked],
        stdout=write,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_plan_is_written_whole_though_no_one_reads_what_is_said(quilt, tmp_path):
    read, write = os.pipe()
    os.close(read)
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-m", "stitchpath", "plan", quilt, "-o", out, "--format", "svg,map"],
        stdout=write,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")
    assert verify_folder(out)[0].files == 3
    assert json.loads((out / "quilt.plan.json").read_text())["proof"]["cut_off"] is False


def test_she_sees_how_many_places_are_still_to_be_filled():
    said = []
    fill = '[[fills]]\nregion = "squares"\nstyle = "parallel"\nspacing = 1\n'
    make_plan(design(SQUARES.replace('"squares"]', '"squares*2"]') + fill), now=said.append)
    steps = [said.index(f"filling with parallel, {k} of 2") for k in (1, 2)]
    assert said.index("finding lines and fills") < steps[0] < steps[1]
