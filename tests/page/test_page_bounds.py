"""What could grow without end has a bound, and at the bound nothing of hers is lost."""

import asyncio
import shutil
from types import SimpleNamespace

import pytest
from quilts import SQUARES

from stitchpath.errors import StitchpathError
from stitchpath.page import app, jobs
from stitchpath.page.folder import DESIGN, Folder
from stitchpath.page.jobs import Job, Jobs
from stitchpath.page.kept import Kept, KeptPlan
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


def test_the_last_eight_plans_of_a_design_are_kept():
    kept = Kept(Jobs())
    try:
        quilt = SimpleNamespace(id="quilt", rev=1)
        for n in range(10):
            job = Job(f"{n}", "quilt", "done", f'{{"plan": "{n}"}}'.encode())
            (kept.folder / f"{n}").mkdir()
            kept._plans[f"{n}"] = KeptPlan(f"{n}", kept.folder / f"{n}", "quilt", 1, job, "Q")  # noqa: SLF001
        failed = Job("f", "quilt", "failed")
        kept._plans["f"] = KeptPlan("f", kept.folder / "f", "quilt", 1, failed, "Q")  # noqa: SLF001
        other = Job("o", "other", "done", b"{}")
        kept._plans["o"] = KeptPlan("o", kept.folder / "o", "other", 1, other, "Q")  # noqa: SLF001
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
