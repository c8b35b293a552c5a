"""Work that takes a while, each piece in a process of its own: bounded, and ended at once.

A process waits ready with its libraries loaded, so that the first lines and plans do not wait for
them. One that has done its task well takes the next. A plan that was cancelled is killed; what is
short is asked to stop, so that the next lines need not wait for a new process, and killed if it
does not do so soon.
"""

import asyncio
import contextlib
import json
import os
import secrets
import signal
import sys
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, Self

import stitchpath
from stitchpath.base.errors import StitchpathError

__all__ = ["Job", "Jobs"]

_AT_ONCE = {"long": 2, "short": 2}  # tasks at work; the others wait their turn
_MOST_WAITING = 12
_MOST_KEPT = 64  # jobs that are done, so that a page that lost its way can still ask
_TASKS_EACH = 40  # of one process: what a library may keep does not grow for ever
_HOME = str(Path(stitchpath.__file__).resolve().parents[1])
_CLOCK = 3_600.0  # s: no task takes longer by the clock
_MESSAGE = 1 << 20  # bytes of one line
_SOON = 0.5  # s for a short task to stop when asked

_LATE = "found a quilt that takes more time than is allowed, expected a smaller one"
_GONE = (
    "found no room in memory for this quilt, or the work was ended by the system; expected a "
    "smaller quilt or more memory"
)


class _Process:
    """A process that works for the page."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self._process = process
        self._done = 0
        self._owed = 0  # bytes of a result that was told but not read yet

    @classmethod
    async def start(cls) -> Self:
        """Start one: this interpreter, and nothing from the folder that it happens to be in."""
        ways = os.pathsep.join(filter(None, [_HOME, os.environ.get("PYTHONPATH", "")]))
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-P",
            "-m",
            "stitchpath.page.work",
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": ways},
            limit=_MESSAGE,
            start_new_session=True,  # Ctrl-C in the terminal is the server's to hear
        )
        return cls(process)

    @property
    def fit(self) -> bool:
        """Whether it can take another task."""
        return self._process.returncode is None and self._done < _TASKS_EACH

    async def do(self, task: Mapping[str, Any], job: "Job") -> bytes:
        """Hand it a task, pass on what it tells, and give the result.

        Raises
        ------
        StitchpathError
            When the task cannot be done.
        """
        process = self._process
        assert process.stdin is not None  # noqa: S101 - both are pipes
        assert process.stdout is not None  # noqa: S101
        self._done += 1
        with contextlib.suppress(ConnectionError):  # the reading below tells why
            process.stdin.write(json.dumps({**task, "number": self._done}).encode() + b"\n")
            await process.stdin.drain()
        silent = True
        while line := await process.stdout.readline():
            silent, message = False, json.loads(line)
            if "done" in message:
                self._owed = message["done"]
                return await self._result()
            if "failed" in message:
                raise _FailedError(message["failed"], message.get("path"))
            job.tell(message["event"], message["data"])
        code = await process.wait()
        late = code == -getattr(signal, "SIGXCPU", 0)
        if silent and not late:
            raise _SilentError
        raise StitchpathError(_LATE if late else _GONE)

    async def _result(self) -> bytes:
        assert self._process.stdout is not None  # noqa: S101 - a pipe
        result = await self._process.stdout.readexactly(self._owed)
        self._owed = 0
        return result

    async def stopped(self) -> bool:
        """Have it drop its task, and tell whether it did so soon; if not, it has to be ended."""
        with contextlib.suppress(TimeoutError, ConnectionError, ValueError, EOFError):
            async with asyncio.timeout(_SOON):
                return await self._stops()
        return False

    async def _stops(self) -> bool:
        process = self._process
        assert process.stdin is not None  # noqa: S101 - both are pipes
        assert process.stdout is not None  # noqa: S101
        process.stdin.write(json.dumps({"stop": self._done}).encode() + b"\n")
        await process.stdin.drain()
        while not self._owed and (line := await process.stdout.readline()):
            message = json.loads(line)
            if "failed" in message or "stopped" in message:
                return True
            self._owed = message.get("done", 0)
        await self._result()
        return process.returncode is None

    async def end(self) -> None:
        """End it at once."""
        with contextlib.suppress(ProcessLookupError):
            self._process.kill()
        await self._process.wait()


class _SilentError(StitchpathError):
    """A process was gone before it told anything: perhaps while it waited for a task."""

    def __init__(self) -> None:
        super().__init__(_GONE)


class _FailedError(StitchpathError):
    """What a process told of a task that cannot be done."""

    def __init__(self, sentence: str, path: list[str | int] | None) -> None:
        super().__init__(sentence)
        self.path = path


State = Literal["waiting", "working", "done", "failed", "cancelled"]
_ENDED = ("done", "failed", "cancelled")


@dataclass(eq=False)
class Job:
    """A piece of work, and all that was told of it.

    Attributes
    ----------
    id
        Its name to the browser.
    session
        The design that it is of; "" for none.
    state
        How far it is.
    result
        What came of it, JSON.
    problem
        Why nothing did: sentence and path of the field.
    """

    id: str
    session: str
    state: State = "waiting"
    result: bytes = b"null"
    problem: tuple[str, Any] = ("", None)
    _told: list[tuple[int, str, bytes]] = field(default_factory=list)
    _number: int = 0
    _news: asyncio.Event = field(default_factory=asyncio.Event)
    _task: "asyncio.Task[None] | None" = None

    @property
    def ended(self) -> bool:
        """Whether nothing more comes."""
        return self.state in _ENDED

    def tell(self, event: str, data: object) -> None:
        """Tell what is being done; of a search only the newest figures are kept."""
        self._put(event, json.dumps(data, ensure_ascii=False).encode())

    def _put(self, event: str, data: bytes) -> None:
        if event == "found" and self._told and self._told[-1][1] == "found":
            self._told.pop()
        self._number += 1
        self._told.append((self._number, event, data))
        self._wake()

    def _wake(self) -> None:
        self._news.set()
        self._news = asyncio.Event()

    def _end(self, state: State, data: bytes) -> None:
        if not self.ended:
            self.state = state
            self._put(state, data)

    async def wait(self) -> None:
        """Wait until nothing more comes."""
        while not self.ended:
            await self._news.wait()

    async def follow(self, after: int = 0) -> AsyncIterator[tuple[int, str, bytes]]:
        """Give all that is told after a number, to the end; the last is told whatever was heard."""
        while True:
            news = self._news
            for number, event, data in list(self._told):
                if number > after or event in _ENDED:
                    after = max(after, number)
                    yield number, event, data
            if self.ended:
                return
            await news.wait()


class Jobs:
    """The work of one server."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._idle: list[_Process] = []
        self._starting: asyncio.Task[None] | None = None
        self._lanes = {lane: asyncio.Semaphore(many) for lane, many in _AT_ONCE.items()}
        self._closed = False

    def warm(self) -> None:
        """Have a process ready, if none is."""
        if not self._idle and self._starting is None and not self._closed:
            self._starting = asyncio.create_task(self._start())

    async def _start(self) -> None:
        try:
            self._idle.append(await _Process.start())
        finally:
            self._starting = None

    async def _taken(self) -> _Process:
        if self._starting is not None:
            await asyncio.shield(self._starting)
        while self._idle:
            process = self._idle.pop()
            if process.fit:
                return process
            await process.end()
        return await _Process.start()

    def get(self, name: str) -> Job | None:
        """Find a job by its name."""
        return self._jobs.get(name)

    def start(
        self, task: Mapping[str, Any], *, session: str = "", lane: Literal["long", "short"]
    ) -> Job:
        """Begin a piece of work.

        Parameters
        ----------
        task
            As `stitchpath.page.work` knows it.
        session
            The design that it is of.
        lane
            "long" for plans, "short" for what she waits for.

        Raises
        ------
        StitchpathError
            When too much is waiting.
        """
        if sum(not job.ended for job in self._jobs.values()) >= _MOST_WAITING:
            raise StitchpathError("found a lot of work waiting, expected some of it done first")
        ended = [name for name, job in self._jobs.items() if job.ended]
        for name in ended[: max(0, len(ended) - _MOST_KEPT)]:
            del self._jobs[name]
        job = Job(secrets.token_hex(8), session)
        self._jobs[job.id] = job
        job._task = asyncio.create_task(self._run(job, dict(task), lane))  # noqa: SLF001 - ours
        return job

    async def _run(self, job: Job, task: dict[str, Any], lane: str) -> None:
        """Do a task when its turn has come, and tell how it ended."""
        process: _Process | None = None
        kept = False
        try:
            if self._lanes[lane].locked():
                job.tell("now", {"words": "waiting for other work to be done"})
            async with self._lanes[lane], asyncio.timeout(_CLOCK):
                job.state = "working"
                process = await self._taken()
                self.warm()
                try:
                    job.result = await process.do(task, job)
                except _SilentError:
                    await process.end()
                    process = await _Process.start()
                    job.result = await process.do(task, job)
                job._end("done", job.result)  # noqa: SLF001 - its own kind
                kept = True
        except asyncio.CancelledError:
            job._end("cancelled", b"{}")  # noqa: SLF001
            kept = lane == "short" and process is not None and await process.stopped()
        except StitchpathError as error:
            self._fail(job, str(error), getattr(error, "path", None))
            kept = isinstance(error, _FailedError)
        except TimeoutError:
            self._fail(job, _LATE, None)
        except Exception:  # noqa: BLE001 - whatever it is, she gets a sentence
            self._fail(job, "found an error inside stitchpath, please report the design", None)
        finally:
            await self._give_back(process, kept=kept)

    async def _give_back(self, process: _Process | None, *, kept: bool) -> None:
        """Have a process wait for the next task, or end it; one waits in any case."""
        if process is not None and kept:
            self._idle.append(process)
        elif process is not None:
            await process.end()
        if not self._closed:
            self.warm()

    @staticmethod
    def _fail(job: Job, sentence: str, path: Any) -> None:  # noqa: ANN401 - as JSON has it
        job.problem = (sentence, path)
        told = {"sentence": sentence, "path": path}
        job._end("failed", json.dumps(told, ensure_ascii=False).encode())  # noqa: SLF001

    def cancel(self, job: Job) -> None:
        """End a piece of work at once."""
        if job._task is not None and not job.ended:  # noqa: SLF001 - its own kind
            job._task.cancel()  # noqa: SLF001
            job._end("cancelled", b"{}")  # noqa: SLF001

    @staticmethod
    async def settled(*jobs: Job) -> None:
        """Wait until nothing of some work is left, its process neither."""
        tasks = [job._task for job in jobs if job._task is not None]  # noqa: SLF001 - its own kind
        await asyncio.gather(*tasks, return_exceptions=True)

    async def close(self) -> None:
        """End all of it, and the processes that wait."""
        self._closed = True
        running = [job for job in self._jobs.values() if not job.ended]
        for job in running:
            self.cancel(job)
        await self.settled(*self._jobs.values())
        if self._starting is not None:
            with contextlib.suppress(Exception):
                await self._starting
        for process in self._idle:
            await process.end()
        self._idle.clear()
