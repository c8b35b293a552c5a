"""Plans that are kept, and the files made of them.

A plan lies in a folder of hers for what programs keep, with a note of the design that it is of: so
it is there at the next start. No one else may enter that folder, for it holds objects of this
program. The files made of it lie in a folder of the server's, which goes when the server does.
"""

import asyncio
import json
import os
import re
import secrets
import shutil
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import stitchpath
from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.export.files import is_alive, write_whole
from stitchpath.export.write import FORMATS
from stitchpath.page.jobs import Job, Jobs
from stitchpath.page.sessions import Session

__all__ = ["Kept", "KeptPlan", "keeping_place"]

_MOST_EACH = 8  # plans of one design
_MOST = 60  # plans of all designs
_MOST_BYTES = 1_000_000_000  # of them
_LONG_AGO = 86_400.0  # s
_TOLD, _ABOUT = "told.json", "about.json"  # a plan is whole once the last is written
_ALL = "all"
_FOLDER = "stitchpath-page-"
_POLICY = re.compile(r'http-equiv="Content-Security-Policy" content="([^"]*)"')


@dataclass(eq=False)
class KeptPlan:
    """A plan that was made.

    Attributes
    ----------
    id
        Its name to the browser.
    folder
        Where it lies.
    files
        Where the files made of it lie.
    session
        The design.
    digest
        What of the design it depends on.
    job
        What makes it.
    """

    id: str
    folder: Path
    files: Path
    session: str
    digest: str
    job: Job
    name: str
    making: asyncio.Lock = field(default_factory=asyncio.Lock)
    made: dict[str, list[Path]] = field(default_factory=dict)

    def told(self) -> dict[str, Any]:
        """Tell what came of it."""
        data: dict[str, Any] = json.loads(self.job.result)
        return data


def keeping_place() -> Path | None:
    """Find where plans are kept from one start to the next; None where that cannot be.

    Returns
    -------
    Path or None
        `stitchpath/plans` in the user's folder for what programs keep, by the XDG Base Directory
        Specification: `XDG_STATE_HOME`, and `~/.local/state` where that is not set, or no absolute
        path. No one else may enter it.
    """
    home = os.environ.get("XDG_STATE_HOME", "")
    with suppress(OSError, RuntimeError):
        state = Path(home) if Path(home).is_absolute() else Path("~/.local/state").expanduser()
        place = state / "stitchpath" / "plans"
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        place.chmod(0o700)
        if not place.is_symlink() and place.stat().st_uid == os.getuid():
            return place
    return None


def _made_by() -> str:
    """Name this program as it is: what another one has kept may not be understood."""
    home = Path(stitchpath.__file__).parent
    newest = max(path.stat().st_mtime_ns for path in home.rglob("*.py"))
    return f"{stitchpath.__version__} {newest} {sys.version_info[:2]}"


def _about(folder: Path) -> dict[str, Any] | None:
    """Read what is noted of a kept plan; None where it is not whole, or not of this program."""
    with suppress(OSError, ValueError):
        about = json.loads((folder / _ABOUT).read_bytes())
        if isinstance(about, dict):
            return about
    return None


def _sweep() -> None:
    """Do away with what killed servers of ours have left."""
    for left in Path(tempfile.gettempdir()).glob(f"{_FOLDER}*-*"):
        number = left.name.removeprefix(_FOLDER).partition("-")[0]
        with suppress(OSError):
            ours = not left.is_symlink() and left.stat().st_uid == os.getuid()
            if ours and number.isdecimal() and not is_alive(int(number)):
                shutil.rmtree(left, ignore_errors=True)


class Kept:
    """The plans of one server.

    Parameters
    ----------
    jobs
        What makes them.
    place
        Where they are kept from one start to the next, from `keeping_place`; None for not.
    """

    def __init__(self, jobs: Jobs, place: Path | None = None) -> None:
        _sweep()
        self.folder = Path(tempfile.mkdtemp(prefix=f"{_FOLDER}{os.getpid()}-"))
        self._place = self.folder if place is None else place
        self._jobs = jobs
        self._plans: dict[str, KeptPlan] = {}
        self._by = _made_by()
        self._tidy()

    def _tidy(self) -> None:
        """Do away with the oldest plans where there are many, and with what none can use any more.

        Another server may be at work: what is not whole yet may be by tomorrow.
        """
        room, left = _MOST_BYTES, _MOST
        with suppress(OSError):
            folders = [(path.stat().st_mtime, path) for path in self._place.iterdir()]
            for when, folder in sorted(folders, reverse=True):
                about = _about(folder)
                strange = about is None or about.get("by") != self._by
                room -= sum(path.stat().st_size for path in folder.iterdir())
                left -= 1
                if room < 0 or left < 0 or (strange and when < time.time() - _LONG_AGO):
                    shutil.rmtree(folder, ignore_errors=True)

    def make(self, session: Session, limit: float | None) -> Job:
        """Begin to plan a design as it is now."""
        name = secrets.token_hex(8)
        folder = self._place / name
        with session.lock:
            task = {
                "task": "plan",
                "plan": name,
                "rev": session.rev,
                "digest": session.digest,
                "text": session.text,
                "source": session.source,
                "folder": str(session.drawings),
                "profile": session.profile,
                "limit": limit,
                "into": str(folder),
                "about": {**self._noted(session), "digest": session.digest},
            }
        job = self._jobs.start(task, session=session.id, lane="long")
        files = self.folder / name
        plan = KeptPlan(name, folder, files, session.id, str(task["digest"]), job, session.title)
        self._plans[name] = plan
        return job

    def _noted(self, session: Session) -> dict[str, Any]:
        """Note whose a plan is."""
        return {
            "by": self._by,
            "when": time.time(),
            "folder": str(session.folder.root),
            "file": session.file,
            "session": session.id,
            "title": session.title,
        }

    def filed(self, session: Session) -> None:
        """Note for the plans of a design what file it was saved as."""
        for plan in self._plans.values():
            if plan.session == session.id and plan.job.state == "done":
                about = _about(plan.folder)
                if about is not None and about.get("file") != session.file:
                    data = json.dumps({**about, "file": session.file}).encode()
                    with suppress(OSError, StitchpathError):
                        write_whole({plan.folder / _ABOUT: data}, force=True)

    def get(self, name: str) -> KeptPlan | None:
        """Find a plan that is made."""
        plan = self._plans.get(name)
        return plan if plan is not None and plan.job.state == "done" else None

    def of(self, session: Session) -> list[dict[str, Any]]:
        """List the plans of a design, the newest last; older ones than the newest few go."""
        self._take_up(session)
        own = [plan for plan in self._plans.values() if plan.session == session.id]
        done = [plan for plan in own if plan.job.state == "done"]
        failed = [plan for plan in own if plan.job.state in ("failed", "cancelled")]
        for plan in [*done[:-_MOST_EACH], *failed]:
            del self._plans[plan.id]
            shutil.rmtree(plan.folder, ignore_errors=True)
            shutil.rmtree(plan.files, ignore_errors=True)
        now = session.digest
        return [{**plan.told(), "current": plan.digest == now} for plan in done[-_MOST_EACH:]]

    def _take_up(self, session: Session) -> None:
        """Take up plans that were kept of a design at an earlier start."""
        if any(plan.session == session.id for plan in self._plans.values()):
            return
        found = []
        with suppress(OSError):
            for folder in self._place.iterdir():
                about = None if folder.name in self._plans else _about(folder)
                if about is not None and self._is_of(about, session):
                    found.append((about.get("when", 0.0), folder, about))
        for _, folder, about in sorted(found)[-_MOST_EACH:]:
            with suppress(OSError):
                job = Job(folder.name, session.id, "done", (folder / _TOLD).read_bytes())
                self._plans[folder.name] = KeptPlan(
                    folder.name,
                    folder,
                    self.folder / folder.name,
                    session.id,
                    str(about.get("digest")),
                    job,
                    str(about.get("title")),
                )

    def _is_of(self, about: dict[str, Any], session: Session) -> bool:
        """Tell whether a plan is of a design: of its file, its draft, or the very same text."""
        if about.get("by") != self._by or about.get("folder") != str(session.folder.root):
            return False
        named = session.file is not None and about.get("file") == session.file
        return named or about.get("session") in session.was or about["digest"] == session.digest

    async def files(self, plan: KeptPlan, formats: str) -> list[Path]:
        """Make the files of a format, or of all, once.

        Raises
        ------
        StitchpathError
            When there is no such format, or it cannot be made of this plan.
        """
        if formats not in FORMATS and formats != _ALL:
            raise unknown_name("", "format", formats, FORMATS)
        async with plan.making:
            if formats not in plan.made:
                into = plan.files / formats
                task = {
                    "task": "files",
                    "from": str(plan.folder),
                    "into": str(into),
                    "formats": formats,
                    "zip": "all.zip" if formats == _ALL else None,
                }
                job = self._jobs.start(task, session=plan.session, lane="short")
                await job.wait()
                if job.state != "done":
                    raise StitchpathError(job.problem[0] or "found the work ended before its time")
                plan.made[formats] = [into / name for name in json.loads(job.result)]
            return plan.made[formats]

    async def file(self, plan: KeptPlan, name: str) -> Path:
        """Make the file of a format."""
        files = await self.files(plan, name)
        return next(path for path in files if path.name.endswith(FORMATS[name][0]))

    async def all_in_one(self, plan: KeptPlan) -> Path:
        """Make all files, in one."""
        await self.files(plan, _ALL)
        return plan.files / _ALL / "all.zip"

    async def moving(self, plan: KeptPlan) -> tuple[str, str]:
        """Make the moving guide: its HTML, and the policy that it says in itself."""
        path = await self.file(plan, "moving")
        html = path.read_text("utf-8")
        found = _POLICY.search(html)
        assert found is not None  # noqa: S101 - the guide is ours
        return html, f"{found[1]}; frame-ancestors 'self'"

    def close(self) -> None:
        """Do away with all of it."""
        shutil.rmtree(self.folder, ignore_errors=True)
