"""What could grow without end has a bound, and at the bound nothing of hers is lost."""

import asyncio
import json
import os
import shutil
import time
from types import SimpleNamespace

import pytest
from quilts import SQUARES

from stitchpath.base.errors import StitchpathError
from stitchpath.page import app, jobs
from stitchpath.page.folder import DESIGN, Folder
from stitchpath.page.jobs import Job, Jobs
from stitchpath.page.kept import Kept, KeptPlan, keeping_place
from stitchpath.page.sessions import Sessions


def sized(size):
    return [{"op": "set", "path": ["blocks", "squares", "size"], "value": size}]


def test_the_oldest_steps_go_first(tmp_path, monkeypatch):
    monkeypatch.setattr("stitchpath.page.sessions._MOST_STEPS", 3)
    quilt = Sessions(Folder(tmp_path)).open_text(SQUARES)
    for size in (7, 8, 9, 10):
        quilt.edit(quilt.rev, sized(size), f"{size}")
    assert [step.words for step in quilt.steps] == ["8", "9", "10"]
    quilt.undo(quilt.rev)
    quilt.undo(quilt.rev)
    quilt.undo(quilt.rev)
    assert "size = 8" in quilt.text


def test_a_design_put_away_for_others_is_offered_as_a_draft(tmp_path, monkeypatch):
    monkeypatch.setattr("stitchpath.page.sessions._MOST_OPEN", 2)
    sessions = Sessions(Folder(tmp_path))
    first = sessions.open_text(SQUARES)
    first.edit(1, sized(9), "nine")
    second = sessions.open_text(SQUARES)
    sessions.open_text(SQUARES)
    assert sessions.get(first.id) is None
    assert sessions.get(second.id) is second
    (draft,) = sessions.drafts()
    assert sessions.open_draft(draft["id"]).text == first.text


def test_twelve_designs_are_recent(tmp_path):
    folder = Folder(tmp_path)
    for n in range(14):
        (tmp_path / f"{n}.toml").write_text(SQUARES)
        folder.opened(f"{n}.toml")
    assert folder.recent() == [f"{n}.toml" for n in range(13, 1, -1)]


def test_so_many_files_are_listed_and_names_are_so_long(tmp_path, monkeypatch):
    monkeypatch.setattr("stitchpath.page.folder._MOST_LISTED", 3)
    folder = Folder(tmp_path)
    for n in range(5):
        (tmp_path / f"{n}.toml").write_text(SQUARES)
    assert [each["file"] for each in folder.designs()] == ["0.toml", "1.toml", "2.toml"]
    assert folder.place("x" * 115 + ".toml", DESIGN)
    with pytest.raises(StitchpathError, match="plain name"):
        folder.place("x" * 116 + ".toml", DESIGN)


NOW = time.time()


def lay(kept, job, place=None):
    """Lay a plan down as if it had been made."""
    place = place or kept.folder / job.id
    plan = KeptPlan(job.id, place, place / "files", job.session, "d", job, "Q")
    kept._plans[job.id] = plan  # noqa: SLF001


def kept_before(place, name, about, day=0):
    """Lay down a plan that another start has made, some days ago."""
    (place / name).mkdir()
    (place / name / "told.json").write_text(json.dumps({"plan": name}))
    (place / name / "about.json").write_text(json.dumps(about))
    when = NOW - 86_400 * day - int(name, 36)  # a later name is older
    os.utime(place / name, (when, when))


def test_plans_of_an_earlier_start_are_found_by_her_file_her_draft_or_the_same_text(tmp_path):
    (tmp_path / "designs").mkdir()
    folder = Folder(tmp_path / "designs")
    (folder.root / "quilt.toml").write_text(SQUARES)
    place = tmp_path / "plans"
    place.mkdir()
    quilt = Sessions(folder).open_file("quilt.toml")
    quilt.was = ("before",)
    by = Kept(Jobs())._by  # noqa: SLF001
    mine = {"by": by, "folder": str(folder.root), "file": None, "session": "x", "digest": "other"}
    kept_before(place, "1", mine | {"file": "quilt.toml", "when": 2})
    kept_before(place, "2", mine | {"session": "before", "when": 1})
    kept_before(place, "3", mine | {"digest": quilt.digest, "when": 3})
    kept_before(place, "4", mine)
    kept_before(place, "5", mine | {"file": "quilt.toml", "folder": "/elsewhere"})
    kept_before(place, "6", mine | {"file": "quilt.toml", "by": "another stitchpath"})
    kept = Kept(Jobs(), place)
    found = [(each["plan"], each["current"]) for each in kept.of(quilt)]
    assert found == [("2", False), ("1", False), ("3", True)]
    assert kept.get("3").told()["plan"] == "3"


def test_kept_plans_do_not_fill_her_disk(tmp_path, monkeypatch):
    monkeypatch.setattr("stitchpath.page.kept._MOST", 3)
    for n in range(5):
        kept_before(tmp_path, f"{n}", {"by": "another stitchpath"})
    kept_before(tmp_path, "z", {"by": "another stitchpath"}, day=2)
    Kept(Jobs(), tmp_path).close()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["0", "1", "2"]
    monkeypatch.setattr("stitchpath.page.kept._MOST_BYTES", 100)
    Kept(Jobs(), tmp_path).close()
    assert len(list(tmp_path.iterdir())) < 3
    kept_before(tmp_path, "y", {"by": "another stitchpath"}, day=2)
    Kept(Jobs(), tmp_path).close()
    assert not (tmp_path / "y").exists()


def test_no_one_else_may_enter_the_place_of_her_plans(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    place = keeping_place()
    assert place == tmp_path / "stitchpath" / "plans"
    assert place.stat().st_mode & 0o77 == 0
    place.rmdir()
    (tmp_path / "other").mkdir()
    place.symlink_to(tmp_path / "other")
    assert keeping_place() is None
    place.unlink()
    place.write_text("")
    assert keeping_place() is None


def test_the_last_eight_plans_of_a_design_are_kept():
    kept = Kept(Jobs())
    try:
        quilt = SimpleNamespace(id="quilt", digest="d")
        for n in range(10):
            job = Job(f"{n}", "quilt", "done", f'{{"plan": "{n}"}}'.encode())
            (kept.folder / f"{n}").mkdir()
            lay(kept, job)
        lay(kept, Job("f", "quilt", "failed"))
        lay(kept, Job("o", "other", "done", b"{}"))
        assert kept.get("f") is None
        assert [each["plan"] for each in kept.of(quilt)] == [f"{n}" for n in range(2, 10)]
        assert sorted(path.name for path in kept.folder.iterdir()) == [f"{n}" for n in range(2, 10)]
        assert kept.get("1") is None
        assert kept.get("o") is not None
    finally:
        kept.close()
    assert not kept.folder.exists()


def test_what_a_killed_server_left_is_done_away_with(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    for name in ("stitchpath-page-999999999-a", "stitchpath-page-1-b", "stitchpath-page-x-c"):
        (tmp_path / name).mkdir()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / "stitchpath-page-999999998-d").symlink_to(elsewhere)
    kept = Kept(Jobs())
    left = {path.name for path in tmp_path.iterdir()}
    assert "stitchpath-page-999999999-a" not in left
    assert {"stitchpath-page-1-b", "stitchpath-page-x-c", "elsewhere"} <= left
    assert kept.folder.stat().st_mode & 0o77 == 0
    shutil.rmtree(kept.folder)


def test_a_process_is_not_used_for_ever():
    process = jobs._Process(SimpleNamespace(returncode=None))  # noqa: SLF001
    process._done = jobs._TASKS_EACH - 1  # noqa: SLF001
    assert process.fit
    process._done += 1  # noqa: SLF001
    assert not process.fit


def test_a_page_that_hears_nothing_for_long_is_told_that_work_goes_on(monkeypatch):
    monkeypatch.setattr(app, "_BEAT", 0.01)

    async def listen():
        job = Job("1", "")
        stream = app._stream(job, 0)  # noqa: SLF001
        beat = await anext(stream)
        job.tell("now", {"words": "a\nb"})
        told = await anext(stream)
        await stream.aclose()
        return beat, told

    beat, told = asyncio.run(listen())
    assert beat == b": still at work\n\n"
    assert told == b'id: 1\nevent: now\ndata: {"words": "a\\nb"}\n\n'


def test_of_a_search_only_the_newest_figures_are_told_to_who_comes_late():
    async def listen():
        job = Job("1", "")
        job.tell("now", {})
        for n in range(50):
            job.tell("found", {"best": n})
        job._end("done", b"{}")  # noqa: SLF001
        return [(number, event) async for number, event, _ in job.follow()]

    assert asyncio.run(listen()) == [(1, "now"), (51, "found"), (52, "done")]


def test_the_plans_of_a_design_are_found_by_the_name_that_it_was_saved_as(tmp_path):
    kept = Kept(Jobs(), tmp_path)
    quilt = SimpleNamespace(id="quilt", file="wall.toml")
    for name, session in (("1", "quilt"), ("2", "other")):
        kept_before(tmp_path, name, {"by": "x", "file": None, "session": session})
        lay(kept, Job(name, session, "done", b"{}"), tmp_path / name)
    kept.filed(quilt)
    files = [json.loads((tmp_path / n / "about.json").read_text())["file"] for n in "12"]
    assert files == ["wall.toml", None]


def test_so_many_folders_below_are_looked_through(tmp_path, monkeypatch):
    for name in "abcd":
        (tmp_path / name).mkdir()
        (tmp_path / name / "quilt.toml").write_text(SQUARES)
    monkeypatch.setattr("stitchpath.page.folder._MOST_SEEN", 3)
    assert [each["folder"] for each in Folder(tmp_path).below()] == ["a", "b", "c"]
    monkeypatch.setattr("stitchpath.page.folder._MOST_BELOW", 2)
    assert [each["folder"] for each in Folder(tmp_path).below()] == ["a", "b"]
