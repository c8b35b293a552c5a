"""Designs that are open: each with all its steps, its number of change, and its draft.

Every window on a design shares one session. A change names the number that it was made on; where
that is no longer the newest, it is refused and the newest is handed over, so nothing is lost.
"""

import json
import secrets
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic_core import to_json

from stitchpath.base.errors import StitchpathError
from stitchpath.design.drawings.door import read_file
from stitchpath.design.profile import added_by
from stitchpath.document.document import Document
from stitchpath.export.files import write_whole
from stitchpath.page.folder import DESIGN, DRAWINGS, Folder, digest
from stitchpath.told.top_data import fabric_data, top_data
from stitchpath.top.build import Top

__all__ = ["ChangedError", "Session", "Sessions", "StaleError", "problem_of"]

_MOST_STEPS = 500
_MOST_KEPT = 2_000_000  # characters of steps in a draft
_MOST_OPEN = 60
_MOST_WAS = 20
_DRAFT_FORMAT = "stitchpath-draft/1"


class StaleError(Exception):
    """A change was made on an older state than the newest."""


class ChangedError(StitchpathError):
    """A file is no longer what it was when it was opened."""


@dataclass(frozen=True)
class _Step:
    """The text after one change, and what the change was, in words."""

    text: str
    words: str


@lru_cache(maxsize=256)
def _digest_of(path: str, _time: int, _size: int) -> str:
    return digest(read_file(Path(path), "", "a drawing"))


def _print_of(path: Path) -> str:
    """Tell what a drawing is like now; it is read again when it was written again."""
    try:
        stat = path.stat()
        return _digest_of(str(path), stat.st_mtime_ns, stat.st_size)
    except (OSError, StitchpathError):
        return "gone"


def problem_of(error: StitchpathError) -> dict[str, object]:
    """Tell an error: its sentence, and the path of the field where it is known."""
    told = getattr(error, "problem", None)
    path = None if told is None else told.path
    return {"sentence": str(error), "path": None if path is None else list(path)}


def _text(data: bytes, name: str) -> str:
    """Take up a design as it is written; it need not be sound."""
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        raise StitchpathError(
            f"{name}: found a byte that is no UTF-8 at place {error.start}, expected a text file"
        ) from None


@dataclass(eq=False)
class Session:
    """One design that is open.

    Attributes
    ----------
    folder
        The chosen folder.
    file
        What it is saved as, by name; None as long as it is not.
    drawings
        Where the drawings lie that it names: the chosen folder, or that of a shipped design as long
        as nothing has been changed.
    base
        Digest of the file's bytes as last opened or saved; None where there is no file.
    profile
        A shop's profile: what holds where the design leaves it open.
    was
        The sessions that it goes on from, by way of a draft.
    """

    folder: Folder
    file: str | None
    drawings: Path
    steps: list[_Step]
    base: str | None = None
    id: str = field(default_factory=lambda: secrets.token_hex(8))
    at: int = 0
    rev: int = 1
    profile: Mapping[str, Mapping[str, Any]] | None = None
    was: tuple[str, ...] = ()
    lock: threading.RLock = field(default_factory=threading.RLock)
    touched: float = field(default_factory=time.monotonic)
    _saved: str | None = None
    _document: Document | None = None
    _top: tuple[Top, bytes] | None = None
    _tops: int = 0

    @property
    def text(self) -> str:
        """The design as it is written now."""
        return self.steps[self.at].text

    @property
    def source(self) -> str:
        """What it is called in sentences, and what files made of it are named after."""
        return self.file or "the design"

    @property
    def document(self) -> Document:
        """The design as it is now; its top is built once for each text."""
        with self.lock:
            kept = self._document
            if kept is None or (kept.text, kept.source, kept.folder) != (
                self.text,
                self.source,
                self.drawings,
            ):
                sound = kept is not None and kept.folder == self.drawings and not kept.problem
                before = (kept.design, kept.top) if kept is not None and sound else None
                kept = Document(
                    self.text, self.source, self.drawings, profile=self.profile, kept=before
                )
                self._document = kept
            return kept

    @property
    def home(self) -> Path:
        """The folder that its file lies in, or will lie in."""
        return self.folder.root if self.file is None else (self.folder.root / self.file).parent

    @property
    def digest(self) -> str:
        """Tells apart whatever a plan of it depends on: the text, the drawings, the profile."""
        document = self.document
        reads = document.design.reads[1:] if document.problem is None else ()
        told = [self.text, json.dumps(self.profile, sort_keys=True)]
        return digest("\n".join([*told, *map(_print_of, dict.fromkeys(reads))]).encode())

    @property
    def title(self) -> str:
        """Its name, or that of its file."""
        name = self.document.data.get("name")
        return name if isinstance(name, str) and name else (self.file or "Quilt")

    @property
    def saved(self) -> bool:
        """Whether the file is what is shown."""
        return self._saved == self.text

    def mark_saved(self, text: str) -> None:
        """Note what the file holds."""
        self._saved = text

    def reread(self, text: str, found: str) -> None:
        """Take over what was changed by hand in the file, where nothing is lost by that."""
        with self.lock:
            if found == self.base or not self.saved:
                return
            self.steps = [*self.steps[: self.at + 1], _Step(text, "changes made by hand")]
            self.at, self.base, self._saved = len(self.steps) - 1, found, text
            self.rev += 1

    def state(self, have: object = None) -> bytes:
        """Tell all that a window shows, as JSON; a top that it has already is not told again.

        Parameters
        ----------
        have
            The number of the top that it has.
        """
        with self.lock:
            document, steps, at = self.document, self.steps, self.at
            problem = document.problem
            head = {
                "id": self.id,
                "rev": self.rev,
                "title": self.title,
                "file": self.file,
                "saved": self.saved,
                "undo": steps[at].words if at else None,
                "redo": steps[at + 1].words if at + 1 < len(steps) else None,
                "data": document.data,
                "problem": problem and {"sentence": problem.sentence, "path": problem.path},
                "shop": added_by(self.profile, document.raw),
                "digest": self.digest,
            }
            return to_json(head)[:-1] + b"," + self._top_told(have) + b"}"

    def _top_told(self, have: object) -> bytes:
        """Tell the top; made once for each, for that of a large quilt takes a while.

        Its fabrics stand last: they may change while all else is the same.
        """
        document = self.document
        if document.problem is not None:
            return b'"top":null'
        top = document.top
        if self._top is None or self._top[0].seams is not top.seams:
            told = top_data(top, document.design)
            del told["fabrics"]
            self._top = top, to_json(told)[:-1]
            self._tops += 1
        rest = b'"fabrics":' + to_json(fabric_data(top)) + b"}" + f',"tops":{self._tops}'.encode()
        if have == self._tops:
            return b'"same":true,"top":{' + rest
        return b'"top":' + self._top[1] + b"," + rest

    def heed(self, rev: object) -> None:
        """Refuse a change that was made on another state than the newest.

        Raises
        ------
        StaleError
            When it was.
        """
        if rev != self.rev:
            raise StaleError

    def edit(self, rev: object, edits: Sequence[Mapping[str, Any]], words: str) -> None:
        """Change the design; what is refused changes nothing.

        Raises
        ------
        StaleError
            When the change was made on an older state.
        StitchpathError
            When it cannot be made.
        """
        with self.lock:
            self.heed(rev)
            self._bring(self.home)
            document = self.document.edited(edits)
            if document.text != self.text:
                step = _Step(document.text, words)
                steps = [*self.steps[: self.at + 1], step][-_MOST_STEPS:]
                self._keep(steps, len(steps) - 1)
                self._document = document

    def _bring(self, home: Path) -> None:
        """Copy the drawings that it names to where its file lies, or will lie.

        Raises
        ------
        StitchpathError
            When another file of that name lies there.
        """
        if self.drawings == home:
            return
        copies = {}
        reads = self.document.design.reads[1:] if self.document.problem is None else ()
        for path in dict.fromkeys(reads):
            data = read_file(path, "", "a drawing")
            found = path.resolve().relative_to(self.drawings.resolve())
            name = (home.relative_to(self.folder.root) / found).as_posix()
            place = self.folder.place(name, *DRAWINGS)
            if not place.exists():
                copies[place] = data
            elif self.folder.read(name, *DRAWINGS) != data:
                raise StitchpathError(
                    f"{name}: found another drawing of that name in the folder, expected "
                    "the one of this design; give yours another name"
                )
        write_whole(copies)
        self.drawings = home

    def take_up(self) -> None:
        """Keep a draft of what is shown, if it is not saved."""
        self._keep(self.steps, self.at)

    def undo(self, rev: object) -> None:
        """Go back by one step."""
        self._go(rev, -1)

    def redo(self, rev: object) -> None:
        """Go forward by one step."""
        self._go(rev, 1)

    def _go(self, rev: object, by: int) -> None:
        with self.lock:
            self.heed(rev)
            if 0 <= self.at + by < len(self.steps):
                self._keep(self.steps, self.at + by)

    def _keep(self, steps: list[_Step], at: int) -> None:
        """Put the draft down first: what the window is shown is never lost."""
        if steps[at].text == self._saved:
            self.folder.drop_draft(self.id)
        else:
            self.folder.keep_draft(self.id, self._draft(steps, at))
        self.steps, self.at = steps, at
        self.rev += 1

    def _draft(self, steps: Sequence[_Step], at: int) -> dict[str, Any]:
        """Write down the newest text, and as many steps round it as a draft may hold."""
        first, last, room = at, at + 1, _MOST_KEPT
        while room > 0 and (first > 0 or last < len(steps)):
            if first > 0:
                first -= 1
                room -= len(steps[first].text)
            if last < len(steps) and room > 0:
                room -= len(steps[last].text)
                last += 1
        return {
            "format": _DRAFT_FORMAT,
            "title": self.title,
            "file": self.file,
            "base": self.base,
            "was": [self.id, *self.was][:_MOST_WAS],
            "text": steps[at].text,
            "at": at - first,
            "steps": [[step.text, step.words] for step in steps[first:last]],
        }

    def save(self, name: str | None, *, overwrite: bool) -> None:
        """Write the design to its file, or to another one.

        Raises
        ------
        ChangedError
            When something else would be lost by that.
        StitchpathError
            When it cannot be written.
        """
        with self.lock:
            name = self._named(name)
            data = self.text.encode()
            place = self.folder.place(name, DESIGN)
            if place.exists() and not overwrite:
                found = digest(self.folder.read(name, DESIGN))
                if name != self.file and found != digest(data):
                    raise ChangedError(
                        f"{name}: found another design of that name, expected a new name"
                    )
                if name == self.file and found not in (self.base, digest(data)):
                    raise ChangedError(
                        f"{name}: found a file that was changed by hand since it was opened, "
                        "expected it as it was; save under another name, or write over it"
                    )
            self._bring(place.parent)
            self.folder.write(name, data, DESIGN)
            self.folder.drop_draft(self.id)
            self.folder.opened(name)
            self.file, self.base, self._saved = name, digest(data), self.text

    def _named(self, name: str | None) -> str:
        """Give the name of the file: as asked, as it is, or after the quilt."""
        if name is None:
            name = self.file
        if name is None:
            plain = "".join(c if c.isalnum() else " " for c in self.title.lower())
            name = "-".join(plain.split())[:60] or "quilt"
        return name if name.lower().endswith(DESIGN) else name + DESIGN


class Sessions:
    """The designs that are open.

    Parameters
    ----------
    folder
        The chosen folder.
    profile
        A shop's profile, from `read_profile`.
    """

    def __init__(
        self, folder: Folder, profile: Mapping[str, Mapping[str, Any]] | None = None
    ) -> None:
        self.folder, self.profile = folder, profile
        self._open: dict[str, Session] = {}
        self._taken: dict[str, str] = {}
        self._lock = threading.RLock()

    def get(self, name: str) -> Session | None:
        """Find one by its id."""
        session = self._open.get(name)
        if session is not None:
            session.touched = time.monotonic()
        return session

    def _add(self, session: Session) -> Session:
        session.profile = self.profile
        with self._lock:
            self._open[session.id] = session
            for old in sorted(self._open.values(), key=lambda one: one.touched)[:-_MOST_OPEN]:
                del self._open[old.id]  # what of it is not saved lies in its draft
        return session

    def open_file(self, name: str) -> Session:
        """Open a design of the folder; one that is open already is shared.

        Raises
        ------
        StitchpathError
            When it cannot be read.
        """
        data = self.folder.read(name, DESIGN)
        text = _text(data, name)
        with self._lock:
            self.folder.opened(name)
            shared = next((one for one in self._open.values() if one.file == name), None)
            if shared is None:
                home = self.folder.place(name, DESIGN).parent
                session = Session(self.folder, name, home, [_Step(text, "")], digest(data))
                session.mark_saved(text)
                return self._add(session)
            shared.reread(text, digest(data))
            return shared

    def open_text(self, text: str, drawings: Path | None = None) -> Session:
        """Open a design that lies in no file yet."""
        place = drawings or self.folder.root
        return self._add(Session(self.folder, None, place, [_Step(text, "")]))

    def open_draft(self, name: str) -> Session:
        """Go on with what was not saved; it stays a draft until it is.

        Raises
        ------
        StitchpathError
            When there is no such draft.
        """
        with self._lock:
            live = self.get(self._taken.get(name, self.folder.draft_of(name)))
            if live is not None:
                return live
            data = next((d.data for d in self.folder.drafts() if d.name == name), None)
            if data is None:
                raise StitchpathError("found no such draft, expected one of the list")
            session = _from_draft(self.folder, data)
            session.profile = self.profile
            session.take_up()  # under a name of its own: another server may still write to that one
            self.folder.drop_found_draft(name)
            self._taken[name] = session.id
            return self._add(session)

    def drafts(self) -> list[dict[str, object]]:
        """List the drafts, the newest first."""
        return [
            {
                "id": draft.name,
                "title": str(draft.data.get("title") or "Quilt"),
                "file": draft.data.get("file"),
                "when": str(draft.data.get("when") or ""),
            }
            for draft in self.folder.drafts()
        ]

    def each(self, do: Callable[[Session], object]) -> None:
        """Do something for every design that is open."""
        for session in list(self._open.values()):
            do(session)


def _from_draft(folder: Folder, data: Mapping[str, Any]) -> Session:
    """Take up a draft: its text, and the steps that can be read."""
    text, steps, at = data["text"], [], -1
    with suppress(KeyError, TypeError, ValueError):
        steps = [_Step(str(step), str(words)) for step, words in data["steps"]]
        at = int(data["at"])
    if not 0 <= at < len(steps) or steps[at].text != text:
        steps, at = [_Step(text, "")], 0  # changed by hand: what was made last still counts
    file, base, was = data.get("file"), data.get("base"), data.get("was")
    before = tuple(map(str, was))[:_MOST_WAS] if isinstance(was, list) else ()
    if not isinstance(file, str) or not folder.has(file):
        return Session(folder, None, folder.root, steps, at=at, was=before)
    found = folder.read(file, DESIGN)
    home = folder.place(file, DESIGN).parent
    session = Session(folder, file, home, steps, str(base), at=at, was=before)
    if digest(found) == base:
        session.mark_saved(_text(found, file))
    return session
