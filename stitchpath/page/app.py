"""The routes of the page: what is asked, handed to the rooms, and answered in JSON."""

import asyncio
import contextlib
import json
import secrets
import shutil
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic_core import to_json
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from stitchpath.base.errors import InternalError, StitchpathError
from stitchpath.design.drawings.door import MOST_BYTES
from stitchpath.design.profile import read_profile
from stitchpath.page.folder import DESIGN, DRAWINGS, Folder
from stitchpath.page.guard import SHELL_POLICY, Door, Guard
from stitchpath.page.jobs import Job, Jobs
from stitchpath.page.kept import Kept, KeptPlan
from stitchpath.page.sessions import ChangedError, Session, Sessions, StaleError, problem_of
from stitchpath.page.shipped import shipped_design
from stitchpath.page.start import (
    Start,
    block_picture,
    empty_top,
    formats,
    library_picture,
    resized,
)

__all__ = ["page_app"]

_KINDS = {
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".mjs": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
_FILES = {
    ".csv": "text/csv; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".zip": "application/zip",
}
_NOT_LET_IN = (
    "found another token than that of this start, expected the address that stitchpath page prints"
)
_OTHER = "application/octet-stream"
_BEAT = 15.0  # s between signs of life while nothing is told
_LONGEST_LIMIT = 3_600.0


class _NoneSuchError(StitchpathError):
    """What is asked for is not there."""


@dataclass
class _Page:
    """What the routes share.

    Attributes
    ----------
    folder, door
        The chosen folder; who is let in.
    """

    folder: Folder
    door: Door
    design: str | None
    profile: Path | None
    plans: Path | None
    jobs: Jobs = field(default_factory=Jobs)

    def __post_init__(self) -> None:
        shop = None if self.profile is None else read_profile(self.profile)
        self.sessions = Sessions(self.folder, shop)
        self.kept = Kept(self.jobs, self.plans)
        self.start = Start(self.sessions, self.design, self.profile)
        self.lines: dict[tuple[str, bool], tuple[str, Job]] = {}

    def session(self, request: Request) -> Session:
        """Find the design that a request is about."""
        session = self.sessions.get(request.path_params["id"])
        if session is None:
            raise _NoneSuchError("found a design that is not open here any more, open it again")
        return session

    def plan(self, request: Request) -> KeptPlan:
        """Find the plan that a request is about."""
        plan = self.kept.get(request.path_params["plan"])
        if plan is None:
            raise _NoneSuchError("found a plan that is not kept here any more, plan it again")
        return plan

    def job(self, request: Request) -> Job:
        """Find the work that a request is about."""
        job = self.jobs.get(request.path_params["job"])
        if job is None:
            raise _NoneSuchError("found work that is not known here any more, begin it again")
        return job


def page_app(
    folder: Folder,
    door: Door,
    design: str | None = None,
    *,
    profile: Path | None = None,
    plans: Path | None = None,
) -> ASGIApp:
    """Make the page.

    Parameters
    ----------
    folder
        The chosen folder.
    door
        Who is let in.
    design
        A file of it to begin with.
    profile
        A shop's profile, which holds where a design leaves it open.
    plans
        Where plans are kept from one start to the next, from `keeping_place`; None for not.

    Raises
    ------
    StitchpathError
        When the profile is none.
    """
    page = _Page(folder, door, design, profile, plans)

    @contextlib.asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        page.jobs.warm()
        page.start.begin()
        try:
            yield
        finally:
            await page.jobs.close()
            page.kept.close()

    def to(do: Callable[[_Page, Request], Awaitable[Response]]) -> Callable[..., Any]:
        async def answered(request: Request) -> Response:
            return await _answered(page, request, do)

        return answered

    return Guard(
        Starlette(
            routes=[Route(path, to(do), methods=[way]) for way, path, do in _ROUTES],
            lifespan=life,
            exception_handlers={HTTPException: _no_route},
        ),
        door,
        MOST_BYTES,
    )


async def _no_route(_: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    return _refused(status, "found no such place on this page")


def _json(data: object, status: int = 200) -> Response:
    return Response(to_json(data), status, media_type="application/json")


def _made(data: bytes, status: int = 200) -> Response:
    return Response(data, status, media_type="application/json")


def _refused(status: int, sentence: str) -> Response:
    return _json({"problem": {"sentence": sentence, "path": None}}, status)


async def _answered(
    page: _Page, request: Request, do: Callable[[_Page, Request], Awaitable[Response]]
) -> Response:
    """Answer, and tell whatever goes wrong in one sentence."""
    try:
        return await do(page, request)
    except StaleError:
        state = await run_in_threadpool(page.session(request).state)
        return _made(b'{"state":' + state + b"}", 409)
    except StitchpathError as error:
        changed = isinstance(error, ChangedError)
        status = 409 if changed else 404 if isinstance(error, _NoneSuchError) else 422
        told: dict[str, object] = {"problem": problem_of(error)}
        return _json(told | {"changed": True} if changed else told, status)
    except Exception as error:  # noqa: BLE001 - whatever it is, she gets a sentence
        ours = error if isinstance(error, InternalError) else None
        return _refused(500, str(ours or InternalError(f"{type(error).__name__} on the page")))


async def _asked(request: Request) -> dict[str, Any]:
    """Read what is asked: a table in JSON."""
    try:
        data = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise StitchpathError("found what is no JSON, expected a table in JSON") from None
    if not isinstance(data, dict):
        raise StitchpathError("found no table, expected a table in JSON")
    return data


def _word(data: Mapping[str, Any], name: str, *, least: int = 1) -> str:
    """Take a text of what is asked."""
    value = data.get(name)
    if not isinstance(value, str) or not least <= len(value) <= 1_000:  # noqa: PLR2004 - a line
        raise StitchpathError(f"{name}: found {str(value)[:60]!r}, expected a text")
    return value


def _maybe(data: Mapping[str, Any], name: str) -> str | None:
    """Take a text of what is asked that may be left out."""
    return None if data.get(name) is None else _word(data, name)


# The page itself


async def _shell(_: _Page, request: Request) -> Response:
    """Give the page, or a part of it: a file of the package, by its plain name."""
    name = request.path_params.get("name", "index.html")
    place = resources.files("stitchpath.page") / "static" / name
    kind = _KINDS.get(Path(name).suffix)
    if kind is None or name.startswith(".") or "/" in name or "\\" in name or not place.is_file():
        raise _NoneSuchError("found no such part of the page")
    head = {"Content-Security-Policy": SHELL_POLICY} if name == "index.html" else {}
    return Response(place.read_bytes(), headers=head, media_type=kind)


async def _enter(page: _Page, request: Request) -> Response:
    """Let a browser in that knows the token."""
    if not page.door.lets_in(_word(await _asked(request), "token")):
        return _refused(403, _NOT_LET_IN)
    answer = _json({})
    door = page.door
    answer.set_cookie(door.cookie_name, door.cookie, httponly=True, samesite="strict", path="/api")
    return answer


async def _start(page: _Page, _: Request) -> Response:
    """Tell what there is to begin with."""
    return _json(await run_in_threadpool(page.start.told))


async def _shipped_picture(page: _Page, request: Request) -> Response:
    """Draw the top of a shipped design."""
    picture = await run_in_threadpool(page.start.picture, request.path_params["name"])
    return Response(picture, media_type="image/svg+xml", headers={"Cache-Control": "max-age=600"})


async def _library_picture(_: _Page, request: Request) -> Response:
    """Draw a block of the library."""
    picture = await run_in_threadpool(library_picture, request.path_params["name"])
    return Response(picture, media_type="image/svg+xml", headers={"Cache-Control": "max-age=600"})


async def _drop_draft(page: _Page, request: Request) -> Response:
    """Do away with a draft that she does not want."""
    await run_in_threadpool(page.folder.drop_found_draft, _word(await _asked(request), "draft"))
    return _json({})


# Designs


async def _open(page: _Page, request: Request) -> Response:
    """Open a design: a shipped one, a file, a draft, an empty top or a drawing."""
    asked = await _asked(request)
    ways = ("shipped", "file", "draft", "empty", "drawing")
    found = [way for way in ways if asked.get(way) is not None]
    if len(found) != 1:
        raise StitchpathError(f"found {len(found)} of them, expected one of {', '.join(ways)}")
    if found == ["drawing"]:
        session = await _from_drawing(page, asked)
    else:
        session = await run_in_threadpool(_opened, page, found[0], asked)
    return _made(await run_in_threadpool(session.state))


def _opened(page: _Page, way: str, asked: Mapping[str, Any]) -> Session:
    sessions = page.sessions
    if way == "shipped":
        place = shipped_design(_word(asked, "shipped"))
        return sessions.open_text(place.read_text("utf-8"), place.parent)
    if way == "file":
        return sessions.open_file(_word(asked, "file"))
    if way == "draft":
        return sessions.open_draft(_word(asked, "draft"))
    if not isinstance(asked["empty"], dict):
        raise StitchpathError("empty: found no table, expected name, unit, columns, rows and size")
    return sessions.open_text(empty_top(asked["empty"]))


async def _from_drawing(page: _Page, asked: Mapping[str, Any]) -> Session:
    """Make a design of a drawing; reading it is work for a process of its own."""
    place = page.folder.place(_word(asked, "drawing"), *DRAWINGS)
    task = {
        "task": "take",
        "drawing": str(place),
        "size": _maybe(asked, "size"),
        "unit": _maybe(asked, "unit"),
    }
    made = await _result(page.jobs.start(task, lane="short"))
    return await run_in_threadpool(page.sessions.open_text, json.loads(made)["text"])


async def _result(job: Job) -> bytes:
    """Wait for work, and give what came of it."""
    await job.wait()
    if job.state == "done":
        return job.result
    raise StitchpathError(job.problem[0] or "found the work ended before its time")


async def _upload(page: _Page, request: Request) -> Response:
    """Take a file into the folder, once it has been read as a design would read it."""
    name = request.query_params.get("name", "")
    overwrite = request.query_params.get("overwrite") == "true"
    if request.query_params.get("design"):  # beside that design, where it can name it
        session = page.sessions.get(request.query_params["design"])
        home = page.folder.root if session is None else session.home
        name = (home.relative_to(page.folder.root) / name).as_posix() if name else name
    place = page.folder.place(name, DESIGN, *DRAWINGS)
    data = bytearray()
    async for part in request.stream():
        data += part
    if place.exists() and not overwrite and await run_in_threadpool(place.read_bytes) != data:
        raise ChangedError(f"{name}: found another file of that name, expected a new name")
    looked = page.kept.folder / secrets.token_hex(8) / place.name
    looked.parent.mkdir()
    try:
        await run_in_threadpool(looked.write_bytes, data)
        await _result(page.jobs.start({"task": "look", "file": str(looked)}, lane="short"))
    finally:
        await run_in_threadpool(shutil.rmtree, looked.parent, ignore_errors=True)
    await run_in_threadpool(page.folder.write, name, bytes(data), DESIGN, *DRAWINGS)
    return _json({"file": place.name if "design" in request.query_params else name})


async def _state(page: _Page, request: Request) -> Response:
    """Tell how a design is now."""
    return _made(await run_in_threadpool(page.session(request).state))


async def _text(page: _Page, request: Request) -> Response:
    """Give the design as it is written."""
    return Response(page.session(request).text, media_type="text/plain; charset=utf-8")


async def _lines(page: _Page, request: Request) -> Response:
    """Tell the lines to quilt; work for a process, and dropped when the design changes."""
    session = page.session(request)
    rev = request.query_params.get("rev")
    if rev is not None:
        session.heed(int(rev) if rev.isdecimal() else rev)
    cures = request.query_params.get("cures") != "false"
    key = f"{session.drawings}\n{session.text}"
    kept = page.lines.get((session.id, cures))
    if kept is None or kept[0] != key or kept[1].state in ("failed", "cancelled"):
        if kept is not None:
            page.jobs.cancel(kept[1])
        task = {"task": "lines", "cures": cures, **_of(session)}
        kept = key, page.jobs.start(task, session=session.id, lane="short")
        page.lines[session.id, cures] = kept
    await kept[1].wait()
    if kept[1].state == "cancelled":
        raise StaleError
    return _made(await _result(kept[1]))


def _of(session: Session) -> dict[str, Any]:
    """Tell a process what a design is."""
    with session.lock:
        return {
            "text": session.text,
            "source": session.source,
            "folder": str(session.drawings),
            "profile": session.profile,
        }


async def _block(page: _Page, request: Request) -> Response:
    """Draw a block of a design."""
    session = page.session(request)
    name = request.path_params["name"]
    picture = await run_in_threadpool(block_picture, session.document, name)
    return Response(picture, media_type="image/svg+xml")


def _changing(
    change: Callable[[Session, Mapping[str, Any]], None],
) -> Callable[[_Page, Request], Awaitable[Response]]:
    """Make a route that changes a design and answers with how it is then."""

    async def changed(page: _Page, request: Request) -> Response:
        session, asked = page.session(request), await _asked(request)
        rev = session.rev
        await run_in_threadpool(change, session, asked)
        for cures in (False, True):
            kept = page.lines.get((session.id, cures))
            if kept is not None and session.rev != rev:
                page.jobs.cancel(kept[1])
        return _made(await run_in_threadpool(session.state, asked.get("have")))

    return changed


def _edit(session: Session, asked: Mapping[str, Any]) -> None:
    edits, words = asked.get("edits"), asked.get("words")
    if not isinstance(edits, list) or not edits:
        raise StitchpathError("edits: found none, expected a list of edits")
    said = words if isinstance(words, str) and words.strip() else "change"
    session.edit(asked.get("rev"), edits, said[:200])


def _undo(session: Session, asked: Mapping[str, Any]) -> None:
    session.undo(asked.get("rev"))


def _redo(session: Session, asked: Mapping[str, Any]) -> None:
    session.redo(asked.get("rev"))


async def _save(page: _Page, request: Request) -> Response:
    """Save a design, and note with its plans what it is called."""
    session, asked = page.session(request), await _asked(request)

    def saved() -> bytes:
        session.save(_maybe(asked, "file"), overwrite=asked.get("overwrite") is True)
        page.kept.filed(session)
        return session.state(asked.get("have"))

    return _made(await run_in_threadpool(saved))


async def _drawings(page: _Page, request: Request) -> Response:
    """List the drawings that a design can name: those beside it."""
    file = page.session(request).file
    return _json({"drawings": await run_in_threadpool(page.folder.drawings, file)})


async def _duplicate(page: _Page, request: Request) -> Response:
    """Open a copy of a design, under another name and at another size."""
    session, asked = page.session(request), await _asked(request)

    def copied() -> bytes:
        text = resized(session.document, _word(asked, "name"), asked.get("size"))
        return page.sessions.open_text(text, session.drawings).state()

    return _made(await run_in_threadpool(copied))


# Plans


def _limit(asked: Mapping[str, Any]) -> float | None:
    """Take how long a proof may take."""
    limit = asked.get("limit")
    if limit is None:
        return None
    number = isinstance(limit, (int, float)) and not isinstance(limit, bool)
    if not number or not 0 < limit <= _LONGEST_LIMIT:
        raise StitchpathError(
            f"limit: found {str(limit)[:40]}, expected seconds, more than 0 and at most "
            f"{_LONGEST_LIMIT:g}"
        )
    return float(limit)


async def _plan(page: _Page, request: Request) -> Response:
    """Begin to plan a design."""
    session, asked = page.session(request), await _asked(request)
    return _json({"job": page.kept.make(session, _limit(asked)).id})


async def _proposals(page: _Page, request: Request) -> Response:
    """Begin to make proposals of what to quilt."""
    session, asked = page.session(request), await _asked(request)
    task = {"task": "proposals", "limit": _limit(asked), "rev": session.rev, **_of(session)}
    return _json({"job": page.jobs.start(task, session=session.id, lane="long").id})


async def _plans(page: _Page, request: Request) -> Response:
    """List the plans of a design that are kept."""
    return _json({"plans": await run_in_threadpool(page.kept.of, page.session(request))})


async def _events(page: _Page, request: Request) -> Response:
    """Tell how work goes on, as server-sent events (HTML Living Standard, 9.2)."""
    job, last = page.job(request), request.headers.get("last-event-id", "")
    after = int(last) if last.isdecimal() and len(last) < 10 else 0  # noqa: PLR2004 - digits
    return StreamingResponse(_stream(job, after), media_type="text/event-stream")


async def _stream(job: Job, after: int) -> AsyncIterator[bytes]:
    news = job.follow(after)
    waiting = asyncio.ensure_future(anext(news, None))
    try:
        while True:
            done, _ = await asyncio.wait([waiting], timeout=_BEAT)
            if not done:
                yield b": still at work\n\n"
                continue
            told = waiting.result()
            if told is None:
                return
            yield b"id: %d\nevent: %s\ndata: %s\n\n" % (told[0], told[1].encode(), told[2])
            waiting = asyncio.ensure_future(anext(news, None))
    finally:
        waiting.cancel()


async def _cancel(page: _Page, request: Request) -> Response:
    """End work at once."""
    job = page.job(request)
    page.jobs.cancel(job)
    return _json({"state": job.state})


async def _moving(page: _Page, request: Request) -> Response:
    """Give the moving guide, which may be shown within this page and nowhere else."""
    html, policy = await page.kept.moving(page.plan(request))
    return Response(
        html,
        media_type="text/html; charset=utf-8",
        headers={"Content-Security-Policy": policy},
    )


async def _listed(page: _Page, request: Request) -> Response:
    """List what can be taken away."""
    page.plan(request)
    return _json({"files": formats()})


async def _file(page: _Page, request: Request) -> Response:
    """Give one file of a plan."""
    return _download(await page.kept.file(page.plan(request), request.path_params["format"]))


async def _all(page: _Page, request: Request) -> Response:
    """Give all files of a plan in one."""
    plan = page.plan(request)
    return _download(await page.kept.all_in_one(plan), f"{plan.name}.zip")


def _download(path: Path, name: str | None = None) -> Response:
    kind = _FILES.get(path.suffix, _OTHER)
    return FileResponse(path, media_type=kind, filename=name or path.name)


_ROUTES: list[tuple[str, str, Callable[[_Page, Request], Awaitable[Response]]]] = [
    ("GET", "/", _shell),
    ("GET", "/static/{name}", _shell),
    ("POST", "/api/enter", _enter),
    ("GET", "/api/start", _start),
    ("GET", "/api/shipped/{name}.svg", _shipped_picture),
    ("GET", "/api/library/{name}.svg", _library_picture),
    ("POST", "/api/drafts/drop", _drop_draft),
    ("POST", "/api/uploads", _upload),
    ("POST", "/api/designs", _open),
    ("GET", "/api/designs/{id}", _state),
    ("GET", "/api/designs/{id}/text", _text),
    ("GET", "/api/designs/{id}/lines", _lines),
    ("GET", "/api/designs/{id}/block/{name}.svg", _block),
    ("POST", "/api/designs/{id}/edits", _changing(_edit)),
    ("POST", "/api/designs/{id}/undo", _changing(_undo)),
    ("POST", "/api/designs/{id}/redo", _changing(_redo)),
    ("POST", "/api/designs/{id}/save", _save),
    ("GET", "/api/designs/{id}/drawings", _drawings),
    ("POST", "/api/designs/{id}/duplicate", _duplicate),
    ("POST", "/api/designs/{id}/plan", _plan),
    ("GET", "/api/designs/{id}/plans", _plans),
    ("POST", "/api/designs/{id}/proposals", _proposals),
    ("GET", "/api/jobs/{job}/events", _events),
    ("POST", "/api/jobs/{job}/cancel", _cancel),
    ("GET", "/api/plans/{plan}/moving", _moving),
    ("GET", "/api/plans/{plan}/files", _listed),
    ("GET", "/api/plans/{plan}/files/{format}", _file),
    ("GET", "/api/plans/{plan}/all.zip", _all),
]
"""Every route: how, where, and what answers."""
