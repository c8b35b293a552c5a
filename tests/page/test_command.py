"""The command: one sentence where something is missing, and nothing lost whatever ends it."""

import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager

import httpx
import pytest
from quilts import DESIGNS, SQUARES

WIDER = [{"op": "set", "path": ["blocks", "squares", "size"], "value": 8}]


@contextmanager
def started(folder, *words):
    """Start the page as she does, and give the process and a browser that was let in."""
    process = subprocess.Popen(
        [sys.executable, "-m", "stitchpath", "page", "--no-browser", "--folder", folder, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"XDG_STATE_HOME": f"{folder}/state", "XDG_CONFIG_HOME": "/nowhere"},
    )
    try:
        if "--profile" in words:
            told = process.stdout.readline()
            assert told == f"with the profile {words[words.index('--profile') + 1]}\n"
        found = re.fullmatch(
            r"the page is at (http://127\.0\.0\.1:\d+)/#(\S+)\n", process.stdout.readline()
        )
        origin, token = found.groups()
        with httpx.Client(base_url=origin, headers={"Origin": origin}, timeout=60) as browser:
            assert browser.post("/api/enter", json={"token": token}).status_code == 200
            yield process, browser
    finally:
        process.kill()
        process.communicate()


def test_killed_it_has_lost_nothing_and_offers_the_draft_and_its_path(tmp_path):
    (tmp_path / "quilt.toml").write_text(SQUARES)
    shop = tmp_path / "shop.toml"
    shop.write_text("[charges]\nhour = 30\n")
    with started(tmp_path, "quilt.toml", "--profile", shop) as (process, browser):
        assert browser.get("/api/start").json()["open"] == "quilt.toml"
        state = browser.post("/api/designs", json={"file": "quilt.toml"}).json()
        way = f"/api/designs/{state['id']}"
        state = browser.post(
            f"{way}/edits", json={"rev": 1, "edits": WIDER, "words": "wider"}
        ).json()
        text = browser.get(f"{way}/text").text
        job = browser.post(f"{way}/plan", json={"limit": 1}).json()["job"]
        assert "event: done" in browser.get(f"/api/jobs/{job}/events").text
        process.kill()
        process.wait()
    assert (tmp_path / "quilt.toml").read_text() == SQUARES
    with started(tmp_path, "--profile", shop) as (process, browser):
        start = browser.get("/api/start").json()
        assert start["profile"] == {"file": str(shop), "kind": "domestic"}
        (draft,) = start["drafts"]
        again = browser.post("/api/designs", json={"draft": draft["id"]}).json()
        assert (again["undo"], again["file"], again["top"]) == (
            "wider", "quilt.toml", state["top"],
        )  # fmt: skip
        assert browser.get(f"/api/designs/{again['id']}/text").text == text
        (plan,) = browser.get(f"/api/designs/{again['id']}/plans").json()["plans"]
        assert plan["current"]
        assert browser.get(f"/api/plans/{plan['plan']}/moving").status_code == 200
        assert browser.post(f"/api/designs/{again['id']}/save", json={}).json()["saved"]
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
        assert (process.returncode, err) == (0, "")
    assert (tmp_path / "quilt.toml").read_text() == text
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        ".stitchpath-recent.json",
        "quilt.toml",
        "shop.toml",
        "state",
    ]


def test_a_drawing_of_a_top_named_on_the_command_line_is_what_she_begins_with(tmp_path):
    shutil.copy(DESIGNS / "harbour-wall.svg", tmp_path)
    with started(tmp_path, "harbour-wall.svg") as (_, browser):
        assert browser.get("/api/start").json()["open"] == "harbour-wall.svg"


SAVES = """
import sys
from pathlib import Path
from stitchpath.page.folder import Folder
from stitchpath.page.sessions import Sessions
quilt = Sessions(Folder(Path(sys.argv[1]))).open_file("quilt.toml")
print("open", flush=True)
while True:
    for size in (8, 6):
        edit = {"op": "set", "path": ["blocks", "squares", "size"], "value": size}
        quilt.edit(quilt.rev, [edit], "size")
        quilt.save(None, overwrite=False)
"""


def test_killed_while_it_saves_the_file_is_the_old_or_the_new_one(tmp_path):
    place, rng = tmp_path / "quilt.toml", random.Random(1)
    place.write_text(SQUARES)
    sound = {SQUARES, SQUARES.replace("size = 6", "size = 8")}
    for _ in range(3):
        process = subprocess.Popen([sys.executable, "-c", SAVES, tmp_path], stdout=-1)
        assert process.stdout.readline() == b"open\n"
        time.sleep(rng.uniform(0, 0.1))
        process.kill()
        process.communicate()
        assert place.read_text() in sound
        for draft in tmp_path.glob(".stitchpath-draft-*.json"):
            assert json.loads(draft.read_text())["text"] in sound


@pytest.mark.parametrize("missing", ["starlette", "uvicorn", "tomlkit"])
def test_a_missing_extra_is_one_sentence(run, monkeypatch, missing):
    monkeypatch.setitem(sys.modules, missing, None)
    code, out, err = run("page", "--no-browser")
    assert (code, out) == (1, "")
    assert err == (
        f"stitchpath: page: found no {missing}, expected the planning page to be installed: "
        'pip install "stitchpath[page]"\n'
    )


def test_a_folder_a_design_and_a_port_that_cannot_be_are_told(run, tmp_path):
    for words, said in (
        (["--folder", tmp_path / "none"], "found no folder"),
        ([tmp_path / "none.toml"], "none.toml: found no such file"),
        ([tmp_path / "none.svg"], "none.svg: found no such file"),
        (["--folder", tmp_path, "--port", "70000"], "--port: found 70000"),
        (["--folder", tmp_path, "--port", "-1"], "--port: found -1"),
    ):
        code, out, err = run("page", "--no-browser", *words)
        assert (code, out) == (1, "")
        assert said in err
        assert err.count("\n") == 1


def test_a_port_that_is_taken_is_told(run, served, tmp_path):
    code, _, err = run("page", "--no-browser", "--folder", tmp_path, "--port", served.door.port)
    assert code == 1
    assert "address already in use" in err
