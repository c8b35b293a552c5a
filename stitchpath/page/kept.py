"""Plans that are kept while the page is open, and the files made of them, in a folder of its own.

The folder is the server's: no one else may enter it, and it goes when the server does.
"""

import asyncio
import json
import os
import re
import secrets
import shutil
import tempfile
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from stitchpath.errors import StitchpathError, unknown_name
from stitchpath.export.files import is_alive
from stitchpath.export.write import FORMATS
from stitchpath.page.jobs import Job, Jobs
from stitchpath.page.sessions import Session

__all__ = ["Kept", "KeptPlan"]

_MOST_EACH = 8  # plans of one design
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
    session, rev
        The design, and the state of it that was planned.
    job
        What makes it.
    """

    id: str
    folder: Path
    session: str
    rev: int
    job: Job
    name: str
    making: asyncio.Lock = field(default_factory=asyncio.Lock)
    made: dict[str, list[Path]] = field(default_factory=dict)

    def told(self) -> dict[str, Any]:
        """Tell what came of it."""
        data: dict[str, Any] = json.loads(self.job.result)
        return data


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
        Who makes them.
    """

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        self._plans: dict[str, KeptPlan] = {}
        _sweep()
        self.folder = Path(tempfile.mkdtemp(prefix=f"{_FOLDER}{os.getpid()}-"))

    def make(self, session: Session, limit: float | None) -> Job:
        """Begin to plan a design as it is now."""
        name = secrets.token_hex(8)
        with session.lock:
            rev, text, source, drawings = (
                session.rev,
                session.document.text,
                session.source,
                session.drawings,
            )
        task = {
            "task": "plan",
            "plan": name,
            "rev": rev,
            "text": text,
            "source": source,
            "folder": str(drawings),
            "limit": limit,
            "into": str(self.folder / name),
        }
        job = self._jobs.start(task, session=session.id, lane="long")
        self._plans[name] = KeptPlan(name, self.folder / name, session.id, rev, job, session.title)
        return job

    def get(self, name: str) -> KeptPlan | None:
        """Find a plan that is made."""
        plan = self._plans.get(name)
        return plan if plan is not None and plan.job.state == "done" else None

    def of(self, session: Session) -> list[dict[str, Any]]:
        """List the plans of a design, the newest last; older ones than the newest few go."""
        own = [plan for plan in self._plans.values() if plan.session == session.id]
        done = [plan for plan in own if plan.job.state == "done"]
        failed = [plan for plan in own if plan.job.state in ("failed", "cancelled")]
        for plan in [*done[:-_MOST_EACH], *failed]:
            del self._plans[plan.id]
            shutil.rmtree(plan.folder, ignore_errors=True)
        return [{**plan.told(), "current": plan.rev == session.rev} for plan in done[-_MOST_EACH:]]

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
                into = plan.folder / formats
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
        return plan.folder / _ALL / "all.zip"

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
