"""Nothing outside her folder is read or written, and nothing in it is lost."""

import json
import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import DESIGNS, SQUARES

from stitchpath.base.errors import StitchpathError
from stitchpath.page.folder import DESIGN, DRAWINGS, Folder

BAD_NAMES = [
    "",
    "..",
    "../quilt.toml",
    "/etc/passwd.toml",
    "a/b.toml",
    "a\\b.toml",
    "..\\b.toml",
    "c:quilt.toml",
    "quilt\0.toml",
    "quilt\n.toml",
    ".hidden.toml",
    " quilt.toml",
    "quilt.toml ",
    "quilt.toml/",
    "x" * 300 + ".toml",
    "quilt.py",
    "quilt",
    "nul\u202e.toml",
]


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "designs"
    place.mkdir()
    return Folder(place)


@pytest.mark.parametrize("name", BAD_NAMES)
def test_a_name_that_is_no_plain_name_reaches_no_file(folder, name):
    for do in (folder.place, folder.read):
        with pytest.raises(StitchpathError) as told:
            do(name, DESIGN)
        assert str(folder.root.parent) not in str(told.value)
    with pytest.raises(StitchpathError):
        folder.write(name, b"", DESIGN)
    assert list(folder.root.iterdir()) == []


@settings(deadline=None)  # a busy machine is no fault
@given(st.text(max_size=12).map(lambda name: name + ".toml"))
def test_whatever_a_name_is_it_stays_in_the_folder(name):
    folder = Folder(Path(tempfile.gettempdir()))
    try:
        place = folder.place(name, DESIGN)
    except StitchpathError as error:
        assert "\n" not in str(error)  # noqa: PT017 - most names are refused
    else:
        assert place.relative_to(folder.root).as_posix() == name
        assert not any(part.startswith(".") for part in name.split("/"))


def test_a_link_out_of_the_folder_is_neither_read_nor_written_nor_listed(folder):
    outside = folder.root.parent / "outside.toml"
    outside.write_text(SQUARES)
    (folder.root / "link.toml").symlink_to(outside)
    (folder.root / "away.svg").symlink_to(DESIGNS / "starfish.svg")
    (folder.root / "round.toml").symlink_to("round.toml")
    with pytest.raises(StitchpathError, match="leads out of the folder"):
        folder.read("link.toml", DESIGN)
    with pytest.raises(StitchpathError, match="leads out of the folder"):
        folder.write("link.toml", b"lost", DESIGN)
    assert outside.read_text() == SQUARES
    assert (folder.designs(), folder.drawings(), folder.has("link.toml")) == ([], [], False)
    (folder.root / "own.toml").write_text(SQUARES)
    (folder.root / "alias.toml").symlink_to("own.toml")
    assert [each["file"] for each in folder.designs()] == ["alias.toml", "own.toml"]


def test_a_draft_that_is_a_link_is_not_followed(folder):
    outside = folder.root.parent / "secret.json"
    outside.write_text(json.dumps({"text": "secret"}))
    (folder.root / folder.draft_name("1")).symlink_to(outside)
    assert folder.drafts() == []


def test_a_pipe_does_not_make_the_page_wait_for_ever(folder):
    os.mkfifo(folder.root / "pipe.toml")
    os.mkfifo(folder.root / "pipe.svg")
    assert (folder.designs(), folder.drawings()) == ([], [])
    with pytest.raises(StitchpathError, match="found a pipe"):
        folder.read("pipe.toml", DESIGN)


def test_she_sees_her_designs_and_drawings_and_nothing_that_the_tool_made(folder):
    root = folder.root
    (root / "Bay.toml").write_text(SQUARES)
    (root / "broken.toml").write_text("name = ")
    (root / "other.toml").write_text("[project]\nname = 'no quilt'\n")
    (root / "wave.svg").write_text("<svg/>")
    (root / "made.svg").write_text("<!-- stitchpath plan 0123456789abcdef0123456789abcdef -->")
    assert folder.designs() == [
        {"file": "Bay.toml", "title": "Squares"},
        {"file": "broken.toml", "title": "broken"},
    ]
    assert folder.drawings() == ["wave.svg"]


def test_what_she_opened_last_stands_first(folder):
    for name in ("a.toml", "b.toml", "c.toml"):
        (folder.root / name).write_text(SQUARES)
        folder.opened(name)
    folder.opened("a.toml")
    assert folder.recent() == ["a.toml", "c.toml", "b.toml"]
    (folder.root / "c.toml").unlink()
    assert folder.recent() == ["a.toml", "b.toml"]
    (folder.root / ".stitchpath-recent.json").write_text('{"recent": ["../x.toml", 3, null]}')
    assert folder.recent() == []


def test_a_sentence_names_a_file_as_she_knows_it(folder):
    with pytest.raises(StitchpathError) as told:
        folder.read("gone.svg", *DRAWINGS)
    assert str(told.value) == "gone.svg: no such file or directory, expected a file of the folder"


def test_no_folder_is_told(tmp_path):
    with pytest.raises(StitchpathError, match="found no folder"):
        Folder(tmp_path / "none")


def test_designs_in_folders_below_are_listed_and_read_but_no_link_is_followed(folder):
    outside = folder.root.parent / "outside"
    for way in (folder.root / "harbour" / "older", folder.root / "empty", outside):
        way.mkdir(parents=True)
    hidden = folder.root / ".hidden"
    hidden.mkdir()
    deep = folder.root / "a" / "b" / "c" / "d"
    deep.mkdir(parents=True)
    for place in (
        folder.root / "harbour",
        folder.root / "harbour" / "older",
        outside,
        hidden,
        deep,
    ):
        (place / "boat.toml").write_text(SQUARES)
    (folder.root / "harbour" / "fish.svg").write_text("<svg/>")
    (folder.root / "link").symlink_to(outside)
    (folder.root / "harbour" / "link.toml").symlink_to(outside / "boat.toml")
    told = {each["folder"]: [file["file"] for file in each["files"]] for each in folder.below()}
    assert told == {
        "harbour": ["harbour/boat.toml"],
        "harbour/older": ["harbour/older/boat.toml"],
    }
    assert folder.designs() == []
    assert folder.read("harbour/older/boat.toml", DESIGN) == SQUARES.encode()
    assert folder.drawings("harbour/boat.toml") == ["fish.svg"]
    assert folder.drawings() == []
    for name in ("link/boat.toml", "harbour/link.toml"):
        with pytest.raises(StitchpathError, match="leads out of the folder"):
            folder.read(name, DESIGN)
    for name in ("harbour/../../outside/boat.toml", ".hidden/boat.toml", "a/b/c/d/boat.toml"):
        with pytest.raises(StitchpathError, match="plain name"):
            folder.read(name, DESIGN)
    with pytest.raises(StitchpathError, match="found no folder 'gone'"):
        folder.write("gone/boat.toml", b"", DESIGN)
