"""What a process of the page does: one task after another, told on its standard input.

A task is a line of JSON; what is being done, and what came of it, goes out in lines of JSON. A line
can also ask for the end of a task. When the input ends the server is gone, and so is this process.
"""

import _thread
import json
import os
import pickle
import queue
import shutil
import signal
import sys
import threading
import time
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

from pydantic_core import to_json

from stitchpath.base.errors import InternalError, StitchpathError
from stitchpath.checks.cures import Survey
from stitchpath.design.drawings.outlines import read_drawing
from stitchpath.design.model import Design
from stitchpath.design.read import design_from_text, design_of_drawing
from stitchpath.export.files import write_whole
from stitchpath.export.write import save_plan
from stitchpath.plan import Plan, lines_of, make_plan
from stitchpath.proposals import proposal_data, proposals
from stitchpath.told.as_design import design_text
from stitchpath.told.line_data import line_data
from stitchpath.told.plan_data import plan_data
from stitchpath.told.progress import Search

__all__ = ["main"]

_ROOM = 4_000_000_000  # bytes beyond what the start takes; a quilt within the limits wants 2 GB
_SECONDS = 1_200  # of processor for a task
_PROOF = 10.0  # s for the proofs, as the command has it
_PAUSE = 0.15  # s between figures of a search
_PLAN = "plan.pickle"
_STILL = (1980, 1, 1, 0, 0, 0)  # of files in the zip, the first day it knows: same plan, same bytes


class _Stopped(BaseException):
    """The task is not wanted any more."""


class _Stop:
    """Ends a task between two steps of Python, so that this process can take the next.

    Nothing is ended while a line is written, or once another task has begun.
    """

    def __init__(self) -> None:
        self._task: object = None
        self._wanted = self._writing = False
        self._lock = threading.Lock()

    def begin(self, task: object) -> None:
        """Begin with a task of that number; None when it has ended."""
        with self._lock:
            self._task, self._wanted = task, False

    def ask(self, task: object) -> None:
        """Ask for the end of a task, from another thread."""
        with self._lock:
            self._wanted = task == self._task
        _thread.interrupt_main()

    def heard(self, *_: object) -> None:
        """Hear Ctrl-C, which only means something if it was asked for here."""
        if self._wanted and not self._writing:
            self._wanted = False
            raise _Stopped

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Let a line be written whole."""
        self._writing = True
        yield
        self._writing = False
        self.heard()


class _Told:
    """Tells the server what is being done."""

    def __init__(self, out: BinaryIO, stop: _Stop) -> None:
        self._out, self._stop = out, stop
        self._last = 0.0
        self._search = Search()

    def _line(self, message: Mapping[str, object], after: bytes = b"") -> None:
        with self._stop.writing():
            self._out.write(json.dumps(message).encode() + b"\n" + after)
            self._out.flush()

    def now(self, words: str) -> None:
        """Tell what is being done."""
        self._line({"event": "now", "data": {"words": words}})

    def found(self, label: str, best: float, bound: float) -> None:
        """Tell how far the search for a route is, now and then."""
        share, words = self._search.heard(label, best, bound)
        moment = time.monotonic()
        if share < 1 and moment - self._last < _PAUSE:
            return
        self._last = moment
        data = {"label": label, "best": best, "bound": bound, "share": share, "words": words}
        self._line({"event": "found", "data": data})

    def done(self, result: bytes) -> None:
        """Hand over the result."""
        self._line({"done": len(result)}, result)

    def stopped(self) -> None:
        """Tell that the task was dropped."""
        self._line({"stopped": True})

    def failed(self, sentence: str, path: object = None) -> None:
        """Tell why there is none."""
        self._line({"failed": sentence, "path": path})


def _design(task: Mapping[str, Any]) -> Design:
    folder = Path(task["folder"])
    return design_from_text(task["text"], task["source"], folder, profile=task.get("profile"))


def _limit(task: Mapping[str, Any]) -> float:
    return _PROOF if task.get("limit") is None else float(task["limit"])


def _plan(task: Mapping[str, Any], told: _Told) -> object:
    """Plan a design, and keep the plan in a folder of the server's own."""
    limit = _limit(task)
    plan = make_plan(_design(task), time_limit=limit, progress=told.found, now=told.now)
    folder = Path(task["into"])
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    # What was made of the plan so far stays behind; it is made again when asked for.
    (folder / _PLAN).write_bytes(pickle.dumps(replace(plan)))
    made = to_json({"plan": task["plan"], "digest": task["digest"], **plan_data(plan)})
    (folder / "told.json").write_bytes(made)
    # Until this note is there, the plan is not taken up at another start.
    write_whole({folder / "about.json": json.dumps(task["about"]).encode()}, force=True)
    return made


def _lines(task: Mapping[str, Any], told: _Told) -> object:
    """Tell the lines of a design, and what would hold loose ground."""
    design = _design(task)
    try:
        return line_data(Survey.of(design, told.now), cures=bool(task["cures"]))
    except StitchpathError as error:
        raise error.told_of(design.source) from None


def _proposals(task: Mapping[str, Any], told: _Told) -> object:
    """Plan a design in several ways, to choose from."""
    design, limit = _design(task), _limit(task)
    made = proposals(design, time_limit=limit, progress=told.found, now=told.now)
    return {"rev": task["rev"], "proposals": [proposal_data(each) for each in made]}


def _files(task: Mapping[str, Any], told: _Told) -> object:
    """Write a kept plan in some formats, through the same door as the command does."""
    folder, asked = Path(task["from"]), str(task["formats"])
    # The server's own file, in a folder that no one else may enter.
    try:
        plan: Plan = pickle.loads((folder / _PLAN).read_bytes())  # noqa: S301
    except Exception:  # noqa: BLE001 - of another program, or cut short: whatever it is
        raise StitchpathError(
            "found a path that was kept and cannot be read any more, expected it planned anew"
        ) from None
    into = Path(task["into"])
    shutil.rmtree(into, ignore_errors=True)
    written = save_plan(plan, into, asked, force=True, now=told.now)
    if task.get("zip"):
        told.now("putting all into one file")
        _zip(into / str(task["zip"]), written)
    return [path.name for path in written]


def _zip(place: Path, files: list[Path]) -> None:
    """Put files into one; the same files make the same bytes."""
    with zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in files:
            entry = zipfile.ZipInfo(path.name, _STILL)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, path.read_bytes())


def _take(task: Mapping[str, Any], told: _Told) -> object:
    """Make a design of a drawing of a top, as the command import does."""
    told.now("reading the drawing")
    path = Path(task["drawing"])
    design = design_of_drawing(path, size=task.get("size"), unit=task.get("unit"))
    if design is None:
        raise StitchpathError(f"{path.name}: found no drawing, expected an SVG or DXF file")
    top, _ = lines_of(design)
    return {"text": design_text(design, top, path.name)}


def _look(task: Mapping[str, Any], _: _Told) -> object:
    """Read an upload, as a design that names it would."""
    path = Path(task["file"])
    if path.suffix.lower() == ".toml":
        design_from_text(path.read_text("utf-8-sig"), path.name, path.parent)
    else:
        read_drawing(path, "")
    return {}


_TASKS: dict[str, Callable[[Mapping[str, Any], _Told], object]] = {
    "plan": _plan,
    "lines": _lines,
    "proposals": _proposals,
    "files": _files,
    "take": _take,
    "look": _look,
}


def _do(task: Mapping[str, Any], told: _Told, stop: _Stop) -> None:
    """Do one task, or drop it when it is no longer wanted."""
    try:
        stop.begin(task.get("number"))
        _try(task, told)
        stop.begin(None)
    except _Stopped:
        stop.begin(None)
        told.stopped()


def _try(task: Mapping[str, Any], told: _Told) -> None:
    """Do one task; whatever goes wrong is a sentence."""
    try:
        result = _TASKS[task["task"]](task, told)
    except StitchpathError as error:
        told.failed(_plainly(str(error), task))
    except InternalError as error:
        told.failed(str(error))
    except MemoryError:
        told.failed("found a quilt that needs too much memory, expected a smaller one")
    except Exception as error:  # noqa: BLE001 - told, not thrown at her
        told.failed(str(InternalError(f"{type(error).__name__} in {task['task']}")))
    else:
        told.done(result if isinstance(result, bytes) else to_json(result))


def _plainly(sentence: str, task: Mapping[str, Any]) -> str:
    """Name files as she knows them: without the way to the folder."""
    for key in ("folder", "file", "drawing"):
        if key in task:
            place = Path(task[key])
            way = place if key == "folder" else place.parent
            sentence = sentence.replace(f"{way}{os.sep}", "")
    if "drawing" in task:  # there is no design yet whose key could be named
        sentence = sentence.replace(f"{Path(task['drawing']).name}: top.drawing: ", "")
    return sentence


def _bound_memory() -> None:
    """Take no more memory than a quilt within the limits wants, where the system can tell."""
    with suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415 - there is none on every system

        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
        most = pages * resource.getpagesize() + _ROOM
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _bound_time() -> None:
    """Give the next task its share of the processor."""
    with suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415 - as above

        used = resource.getrusage(resource.RUSAGE_SELF)
        most = int(used.ru_utime + used.ru_stime) + _SECONDS
        resource.setrlimit(resource.RLIMIT_CPU, (most, resource.RLIM_INFINITY))


def main() -> None:
    """Do what comes, until no more can come."""
    stop = _Stop()
    signal.signal(signal.SIGINT, stop.heard)  # the server hears Ctrl-C, and ends this
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no message
    _bound_memory()
    tasks: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()

    def listen() -> None:
        for line in sys.stdin.buffer:
            task = json.loads(line)
            if "stop" in task:
                stop.ask(task["stop"])
            else:
                tasks.put(task)
        os._exit(0)  # the server is gone, whatever is being done

    threading.Thread(target=listen, daemon=True).start()
    while True:
        task = tasks.get()
        _bound_time()
        _do(task, _Told(out, stop), stop)


if __name__ == "__main__":
    main()
