"""Files from strangers: whatever is in them, a right reading or one sentence, soon."""

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from benchmarks.fuzz_drawings import drawn, mutated, seeds, tried
from hostile import DESIGN, catalogue

from stitchpath import StitchpathError, load_design
from stitchpath.design.drawings.areas import crossings, filled
from stitchpath.design.drawings.door import found_file, read_file, told_as

HERE = Path(__file__).parents[1]


def test_no_strange_file_ends_in_a_traceback_takes_5_s_or_a_gigabyte(tmp_path):
    # each is read as far as its lines, in a process that may take 1 GB and 5 s of processor a file
    subprocess.run([sys.executable, HERE / "hostile.py", tmp_path], check=True)
    report = json.loads((tmp_path / "report.json").read_text())
    wanted = {name: said for name, _, said in catalogue()}
    assert len(wanted) >= 150
    assert report.keys() == wanted.keys()
    wrong = {}
    for name, (found, _) in report.items():
        said = wanted[name]
        right = said is None or (found == "" if said == "" else said in found)
        late = any(word in found for word in ("TRACEBACK", "took over", "MemoryError", "allocate"))
        if late or not right or "\n" in found:
            wrong[name] = found
    assert wrong == {}


def test_spoilt_drawings_give_an_outline_or_one_sentence(tmp_path):
    rng, files = random.Random(5), seeds()
    files = [data for data in files if len(data) < 3000]
    made = [mutated(rng.choice(files), files, rng) for _ in range(80)]
    made += [drawn(rng) for _ in range(80)]
    kinds = [tried(tmp_path, data, rng) for data in made]
    assert set(kinds) == {"read", "refused"}
    assert kinds.count("read") > 20


@pytest.mark.parametrize("size", [1000, 1001])
def test_a_file_is_bounded_before_it_is_read(tmp_path, size):
    file = tmp_path / "x.svg"
    file.write_bytes(b" " * size)
    if size == 1000:
        assert len(read_file(file, "", "an SVG file", 1000)) == 1000
    else:
        with pytest.raises(StitchpathError, match="expected an SVG file of at most"):
            read_file(file, "", "an SVG file", 1000)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (os.mkfifo, "found a pipe"),
        (Path.mkdir, "found a folder"),
        (lambda at: at.symlink_to("/dev/zero"), "found a device"),
        (lambda at: at.symlink_to(at), "symbolic links"),
        (lambda _: None, "no such file"),
    ],
)
def test_only_regular_files_are_read_and_none_is_waited_for(tmp_path, make, said):
    make(tmp_path / "x.toml")
    with pytest.raises(StitchpathError, match=said):
        load_design(tmp_path / "x.toml")


def test_a_design_reads_only_what_lies_in_its_folder(tmp_path):
    inside = tmp_path / "quay"
    inside.mkdir()
    (inside / "link.svg").symlink_to(tmp_path / "x.svg")
    (inside / "near.svg").symlink_to(inside / "fish.svg")
    for name in ("fish.svg", "deep/fish.svg", "near.svg", "deep/../fish.svg"):
        assert found_file(inside, name, "applique[1]") == inside / name
    for name in ("../x.svg", "/etc/hostname", "link.svg", str(inside / "fish.svg")):
        with pytest.raises(StitchpathError, match="leads out of the design's folder"):
            found_file(inside, name, "applique[1]")
        assert found_file(inside, name, "applique[1]", outside=True) == inside / name


@pytest.mark.parametrize("error", [RecursionError(), MemoryError(), KeyError("a\nb"), ValueError()])
def test_whatever_a_library_raises_she_reads_one_sentence(error):
    with (
        pytest.raises(StitchpathError, match=r"fish\.svg: found what cannot .*, expected") as told,
        told_as("fish.svg", "an SVG file"),
    ):
        raise error
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("code", [0x07, 0x1B, 0x85, 0x200F, 0x2028, 0x202E, 0x2069, 0xFFFF])
@pytest.mark.parametrize("place", ["name", "fabric", "thread", "note"])
def test_no_name_can_break_a_file_or_turn_the_terminal_about(tmp_path, code, place):
    letter = f"\\u{code:04x}"
    text = {
        "name": DESIGN.replace("Strange", f"Quay{letter}"),
        "fabric": DESIGN.replace("sand =", f'"sand{letter}" ='),
        "thread": DESIGN + f'[threads."grey{letter}"]\n',
        "note": DESIGN + f'[charges]\ncurrency = "a{letter}"\n',
    }[place]
    file = tmp_path / "x.toml"
    file.write_text(text)
    with pytest.raises(StitchpathError, match=f"U\\+{code:04X}") as told:
        load_design(file)
    assert str(told.value).isprintable()


def test_names_in_any_script_are_kept(tmp_path):
    file = tmp_path / "x.toml"
    for name in ("Möwe", "港", "שלום", "نورس", "👩\u200d🌾 quilt"):
        file.write_text(DESIGN.replace("Strange", name))
        assert load_design(file).name == name


def test_path_data_may_run_over_several_lines(tmp_path):
    piece = (
        "[[applique]]\nname='a'\nsize=3\nfabric='coral'\noutline='''M 0 0\n\tL 9 0\r\n L 9 9 Z'''"
    )
    (tmp_path / "x.toml").write_text(DESIGN + piece)
    assert load_design(tmp_path / "x.toml").applique[0].outline


def test_crossings_are_counted_about_right():
    points = np.random.default_rng(1).uniform(0, 100, (600, 2))
    sides = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    met = shapely.crosses(sides[:, None], sides[None])  # each pair both ways
    assert crossings([points]) == pytest.approx(met.sum() / 2, rel=0.1)


def test_edges_that_two_areas_share_do_not_cross():
    turn = np.linspace(0, 2 * np.pi, 500)
    ring = np.column_stack([np.cos(turn), np.sin(turn)])
    assert crossings([ring, ring[::-1] + 1e-12]) == 0


def test_a_long_last_line_counts_no_more_than_any_other():
    lines = [np.array([[k, 0.0], [k, 1.0]]) for k in range(4000)]
    lines.append(np.array([[-1, 0.5], [4001, 0.5]]))
    assert crossings(lines) <= 4000


@pytest.mark.parametrize("even_odd", [True, False])
def test_a_scribble_is_filled_by_the_rule_asked_for(even_odd):
    """Against winding numbers by the sum of angles (a definition of them) at 200 places."""
    rng = np.random.default_rng(3)
    rings = [rng.uniform(0, 40, (9, 2)), rng.uniform(0, 40, (5, 2))]
    spots = rng.uniform(0, 40, (200, 2))
    turns = np.zeros(len(spots))
    for ring in rings:
        way = ring[None] - spots[:, None]
        angle = np.arctan2(way[..., 1], way[..., 0])
        step = np.diff(angle, axis=1, append=angle[:, :1])
        turns += ((step + np.pi) % (2 * np.pi) - np.pi).sum(axis=1) / (2 * np.pi)
    winding = np.round(turns).astype(int)
    inside = winding % 2 == 1 if even_odd else winding != 0
    area = filled(rings, even_odd=even_odd)
    clear = shapely.distance(area.boundary, shapely.points(spots)) > 1e-6
    assert np.array_equal(shapely.contains_xy(area, spots)[clear], inside[clear])
