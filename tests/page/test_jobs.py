"""Work is done in a process of its own: bounded, ended at once, and told how it ended."""

import asyncio
import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from quilts import DESIGNS, SQUARES

from stitchpath.page.jobs import Jobs

HARD = (DESIGNS / "star-lap-quilt.toml").read_text()
LINES = {"task": "lines", "text": SQUARES, "source": "q.toml", "folder": ".", "cures": False}


def long_plan(into):
    return {
        "task": "plan", "text": HARD, "source": "q.toml", "folder": ".", "limit": 600,
        "plan": "1", "into": str(into),
    }  # fmt: skip


@pytest.fixture(scope="module")
def worked():
    """Do something with jobs that share their processes."""
    loop, jobs = asyncio.new_event_loop(), Jobs()
    thread = threading.Thread(target=loop.run_forever)
    thread.start()

    def run(do):
        return asyncio.run_coroutine_threadsafe(do(jobs), loop).result(120)

    yield run
    run(Jobs.close)
    loop.call_soon_threadsafe(loop.stop)
    thread.join()
    loop.close()


def children():
    """List the processes that this one has begun."""
    found = set()
    for task in Path("/proc/self/task").iterdir():
        found |= set((task / "children").read_text("ascii").split())
    return found


async def until_at_work(job):
    async for _, event, data in job.follow():
        if event == "now" and "waiting" not in json.loads(data)["words"]:
            return


def test_work_that_is_cancelled_is_gone_and_told(worked, tmp_path):
    async def do(jobs):
        job = jobs.start(long_plan(tmp_path), lane="long")
        await until_at_work(job)
        busy = children()
        jobs.cancel(job)
        told = [event async for _, event, _ in job.follow()]
        await jobs.settled(job)
        return job.state, told[-1], busy - children()

    state, last, gone = worked(do)
    assert (state, last) == ("cancelled", "cancelled")
    assert len(gone) == 1
    assert list(tmp_path.iterdir()) == []


def test_what_is_told_late_is_told_from_the_beginning(worked):
    async def do(jobs):
        job = jobs.start(LINES, lane="short")
        await job.wait()
        heard = [(number, event) async for number, event, _ in job.follow()]
        rest = [(number, event) async for number, event, _ in job.follow(heard[0][0])]
        late = [(number, event) async for number, event, _ in job.follow(99)]
        return heard, rest, late

    heard, rest, late = worked(do)
    assert heard[0] == (1, "now")
    assert heard[-1][1] == "done"
    assert rest == heard[1:]
    assert late == heard[-1:]  # a page that comes back is told the end


def test_a_process_takes_one_task_after_another(worked):
    async def do(jobs):
        first, second = (jobs.start(LINES, lane="short") for _ in range(2))
        await first.wait()
        await second.wait()
        before = children()
        third = jobs.start(LINES, lane="short")
        await third.wait()
        return first.result, third.result, children() - before

    first, third, more = worked(do)
    assert first == third
    assert json.loads(first)["lines"]
    assert not more


CURES = LINES | {"text": HARD, "cures": True}


def test_lines_that_are_no_longer_wanted_stop_and_their_process_draws_the_next(worked, monkeypatch):
    monkeypatch.setattr("stitchpath.page.jobs._SOON", 30.0)  # a busy machine is none that hangs

    async def do(jobs):
        first = jobs.start(LINES, lane="short")
        await first.wait()
        before, states = children(), set()
        for k in range(6):
            job = jobs.start(CURES, lane="short")
            await until_at_work(job)
            await asyncio.sleep(0.03 * k)
            jobs.cancel(job)
            await jobs.settled(job)
            states.add(job.state)
        after = jobs.start(LINES, lane="short")
        await after.wait()
        return states, first.result, after.result, before - children()

    states, first, after, gone = worked(do)
    assert "cancelled" in states  # the last may be done before
    assert first == after
    assert not gone


def test_short_work_that_does_not_stop_when_asked_is_ended(worked, monkeypatch):
    monkeypatch.setattr("stitchpath.page.jobs._SOON", 0.0)

    async def do(jobs):
        job = jobs.start(CURES, lane="short")
        await until_at_work(job)
        busy = children()
        jobs.cancel(job)
        await jobs.settled(job)
        return busy - children()

    assert len(worked(do)) == 1


def test_what_cannot_be_done_is_one_sentence_about_the_design(worked):
    async def do(jobs):
        bad = LINES | {"text": SQUARES.replace("size = 6", "size = 'six'")}
        first = jobs.start(bad, lane="short")
        await first.wait()
        after = jobs.start(LINES, lane="short")
        await after.wait()
        return first.state, first.problem[0], after.state

    state, said, after = worked(do)
    assert (state, after) == ("failed", "done")
    assert said.startswith("q.toml: blocks.squares.size: found 'six'")


def test_a_process_that_dies_is_told_and_the_next_task_is_done(worked, tmp_path):
    async def do(jobs):
        job = jobs.start(long_plan(tmp_path), lane="long")
        await until_at_work(job)
        for child in children():
            os.kill(int(child), 9)
        await job.wait()
        after = jobs.start(LINES, lane="short")
        await after.wait()
        return job.state, job.problem[0], after.state

    state, said, after = worked(do)
    assert (state, after) == ("failed", "done")
    assert "memory" in said


def test_work_that_waits_for_its_turn_says_so_and_can_be_cancelled(worked, tmp_path):
    async def do(jobs):
        running = [jobs.start(long_plan(tmp_path), lane="long") for _ in range(2)]
        third = jobs.start(long_plan(tmp_path), lane="long")
        await asyncio.sleep(0.05)
        waited = third.state
        for job in (third, *running):
            jobs.cancel(job)
        await jobs.settled(third, *running)
        return waited, [(event, json.loads(data)) async for _, event, data in third.follow()]

    waited, told = worked(do)
    assert waited == "waiting"
    assert told == [("now", {"words": "waiting for other work to be done"}), ("cancelled", {})]


def test_too_much_work_is_refused_in_one_sentence(worked, monkeypatch):
    monkeypatch.setattr("stitchpath.page.jobs._MOST_WAITING", 1)

    async def do(jobs):
        job = jobs.start(LINES, lane="short")
        with pytest.raises(ValueError, match="a lot of work waiting"):
            jobs.start(LINES, lane="short")
        await job.wait()
        again = jobs.start(LINES, lane="short")
        await again.wait()
        return again.state

    assert worked(do) == "done"


def test_a_process_ends_when_the_server_is_gone():
    process = subprocess.Popen([sys.executable, "-m", "stitchpath.page.work"], stdin=-1, stdout=-1)
    process.stdin.write(json.dumps(LINES).encode() + b"\n")
    process.stdin.flush()
    assert b'"event"' in process.stdout.readline()
    process.stdin.close()
    assert process.wait(60) == 0
    process.stdout.close()


BOUNDS = """
import io
from stitchpath.page import work
def eat(task, told): bytearray(200_000_000)
def fail(task, told): 1 / 0
work._TASKS |= {"eat": eat, "fail": fail}
work._ROOM = 50_000_000
work._bound_memory()
out = io.BytesIO()
stop = work._Stop()
work._do({"task": "eat"}, work._Told(out, stop), stop)
work._do({"task": "fail"}, work._Told(out, stop), stop)
print(out.getvalue().decode(), flush=True)
work._SECONDS = 1
work._bound_time()
while True: pass
"""


def test_a_task_has_only_so_much_memory_and_time():
    done = subprocess.run(
        [sys.executable, "-c", BOUNDS], capture_output=True, text=True, timeout=60, check=False
    )
    eaten, failed = map(json.loads, done.stdout.splitlines()[:2])
    assert "needs too much memory" in eaten["failed"]
    assert "error inside stitchpath" in failed["failed"]
    assert done.returncode == -24  # SIGXCPU of POSIX
