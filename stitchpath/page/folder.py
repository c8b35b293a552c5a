"""The chosen folder: the only place that the page reads from or writes to.

Files are known by plain names, those in folders below by the way to them: "older/wall.toml". What
the page asks for has to be such a name, and has to lie just there when links are followed.
"""

import hashlib
import json
import time
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from stitchpath.base.errors import MissingFileError, StitchpathError
from stitchpath.design.drawings.door import read_file
from stitchpath.export.files import write_whole
from stitchpath.export.mark import mark_of

__all__ = ["DESIGN", "DRAWINGS", "Draft", "Folder", "digest"]

DESIGN = ".toml"
DRAWINGS = (".svg", ".dxf")
_LONGEST = 120  # letters of a name
_MOST_LISTED = 300
_MOST_RECENT = 12
_MOST_BELOW = 60  # folders below that are listed
_DEEPEST = 3  # and how far below
_MOST_SEEN = 600  # and how many are looked through for that
_MOST_DESIGN = 4_000_000  # bytes, as a design may have
_MOST_DRAFT = 40_000_000
_DRAFT = (".stitchpath-draft-", ".json")
_RECENT = ".stitchpath-recent.json"


def _is_plain(name: str) -> bool:
    """Tell whether a name is one that a file or folder of hers may have here."""
    return (
        0 < len(name) <= _LONGEST
        and name.isprintable()
        and not name.startswith(".")
        and not set('/\\:*?"<>|') & set(name)
        and name == name.strip()
    )


def digest(data: bytes) -> str:
    """Tell bytes apart by a short text."""
    return hashlib.sha256(data).hexdigest()


@dataclass(frozen=True)
class Draft:
    """What was not saved, as it lies beside the design.

    Attributes
    ----------
    name
        Of its file.
    data
        What the session wrote.
    """

    name: str
    data: dict[str, Any]


class Folder:
    """The folder that was chosen when the page was started.

    Parameters
    ----------
    root
        The folder.

    Raises
    ------
    StitchpathError
        When it is none.
    """

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()
        if not self.root.is_dir():
            raise StitchpathError(f"{root}: found no folder, expected the folder of your designs")
        self._titles: dict[tuple[str, int, int], str | None] = {}

    def place(self, name: str, *endings: str) -> Path:
        """Tell where a file of a plain name lies.

        Raises
        ------
        StitchpathError
            When it is no plain name with one of the endings, or leads out of the folder.
        """
        kinds = " or ".join(endings)
        parts = name.split("/")
        if len(parts) > _DEEPEST + 1 or not all(map(_is_plain, parts)):
            raise StitchpathError(
                f"found {name[:60]!r}, expected a plain name such as my-quilt{endings[0]}"
            )
        if not name.lower().endswith(endings):
            raise StitchpathError(f"{name}: found another kind of file, expected {kinds}")
        path = self.root.joinpath(*parts)
        try:
            inside = path.resolve().parent == path.parent  # no folder on the way is a link
        except (OSError, RuntimeError):
            inside = False
        if not inside:
            raise StitchpathError(
                f"{name}: found a link that leads out of the folder, expected a file in it"
            )
        if not path.parent.is_dir():
            raise StitchpathError(
                f"{name}: found no folder {'/'.join(parts[:-1])!r}, expected one that is there"
            )
        return path

    def read(self, name: str, *endings: str) -> bytes:
        """Read a file of the folder.

        Raises
        ------
        StitchpathError
            When it is not there, no plain file, or too large.
        """
        path = self.place(name, *endings)
        try:
            return read_file(path, "", "a file of the folder", _MOST_DESIGN)
        except StitchpathError as error:  # the whole way to the folder is no news to her
            raise type(error)(str(error).replace(str(path), name)) from None

    def write(self, name: str, data: bytes, *endings: str) -> None:
        """Write a file of the folder, whole or not at all."""
        write_whole({self.place(name, *endings): data}, force=True)

    def designs(self) -> list[dict[str, str]]:
        """List the designs, with their titles."""
        return self._designs(self.root)

    def _designs(self, folder: Path) -> list[dict[str, str]]:
        found = []
        for path in self._files(folder, DESIGN):
            title = self._title(path)
            if title is not None:
                found.append({"file": self._named(path), "title": title})
        return found

    def drawings(self, beside: str | None = None) -> list[str]:
        """List the drawings that the tool did not make.

        Parameters
        ----------
        beside
            A file: those of its folder are listed, by which a design beside it names them.
        """
        folder = self.root if beside is None else self.place(beside, DESIGN, *DRAWINGS).parent
        found = []
        for path in self._files(folder, *DRAWINGS):
            with suppress(OSError):
                if mark_of(path) is None:
                    found.append(path.name)
        return found

    def _named(self, path: Path) -> str:
        """Name a file as the page does."""
        return path.relative_to(self.root).as_posix()

    def _files(self, folder: Path, *endings: str) -> Iterator[Path]:
        """Go through the files of some kinds in a folder that the page may open, by name."""
        listed = 0
        with suppress(OSError):
            for path in sorted(folder.iterdir(), key=lambda path: path.name.lower()):
                if not path.name.lower().endswith(endings) or listed >= _MOST_LISTED:
                    continue
                with suppress(StitchpathError, OSError):
                    if self.place(self._named(path), *endings).is_file():
                        listed += 1
                        yield path

    def _title(self, path: Path) -> str | None:
        """Tell the name of a design; None for a file of another kind."""
        with suppress(OSError):
            stat = path.stat()
            key = (str(path), stat.st_mtime_ns, stat.st_size)
            if key not in self._titles:
                self._titles[key] = self._read_title(path)
            return self._titles[key]
        return None

    def _read_title(self, path: Path) -> str | None:
        try:
            data = tomllib.loads(self.read(self._named(path), DESIGN).decode("utf-8-sig"))
        except (ValueError, RecursionError):  # StitchpathError is one too
            return path.stem  # opened, it tells what is wrong with it
        name = data.get("name")
        return name if isinstance(name, str) and {"layout", "top", "blocks"} & set(data) else None

    def recent(self) -> list[str]:
        """List the designs opened last, the newest first."""
        with suppress(StitchpathError, ValueError, AttributeError, TypeError, RecursionError):
            names = json.loads(self._hidden(_RECENT))["recent"]
            return [name for name in names if self.has(name)][:_MOST_RECENT]
        return []

    def opened(self, name: str) -> None:
        """Note that a design was opened or saved."""
        names = [name, *(each for each in self.recent() if each != name)][:_MOST_RECENT]
        data = json.dumps({"recent": names}, ensure_ascii=False).encode()
        with suppress(StitchpathError):  # a folder that can only be read is read
            write_whole({self.root / _RECENT: data}, force=True)

    def below(self) -> list[dict[str, Any]]:
        """List the folders in it that hold designs, with those; links are left out."""
        found = []
        for folder in islice(self._folders(self.root, 1), _MOST_SEEN):
            designs = self._designs(folder)
            if designs:
                found.append({"folder": self._named(folder), "files": designs})
        return found[:_MOST_BELOW]

    def _folders(self, folder: Path, deep: int) -> Iterator[Path]:
        """Go through the folders in a folder, each before those in it."""
        with suppress(OSError):
            for path in sorted(folder.iterdir(), key=lambda path: path.name.lower()):
                if _is_plain(path.name) and path.is_dir() and not path.is_symlink():
                    yield path
                    if deep < _DEEPEST:
                        yield from self._folders(path, deep + 1)

    def has(self, name: str, *endings: str) -> bool:
        """Tell whether a file of a name lies in the folder: a design, or of other endings."""
        try:
            return self.place(name, *(endings or (DESIGN,))).is_file()
        except (StitchpathError, OSError):
            return False

    def drafts(self) -> list[Draft]:
        """List the drafts, the newest first."""
        found = []
        for path in self.root.iterdir():
            if path.name.startswith(_DRAFT[0]) and path.name.endswith(_DRAFT[1]):
                with suppress(StitchpathError, ValueError, RecursionError):
                    data = json.loads(self._hidden(path.name))
                    if isinstance(data, dict) and isinstance(data.get("text"), str):
                        found.append(Draft(path.name, data))
        return sorted(found, key=lambda draft: (str(draft.data.get("when")), draft.name))[::-1]

    def keep_draft(self, session: str, data: dict[str, Any]) -> None:
        """Keep what a session has not saved.

        Raises
        ------
        StitchpathError
            When the folder cannot be written.
        """
        when = time.strftime("%Y-%m-%d %H:%M:%S")
        text = json.dumps({"when": when, **data}, ensure_ascii=False)
        write_whole({self._draft(session): text.encode("utf-8", "surrogatepass")}, force=True)

    def drop_draft(self, session: str) -> None:
        """Do away with the draft of a session: it is saved."""
        with suppress(OSError):
            self._draft(session).unlink(missing_ok=True)

    def drop_found_draft(self, name: str) -> bool:
        """Do away with a draft that is listed."""
        if all(draft.name != name for draft in self.drafts()):
            return False
        with suppress(OSError):
            (self.root / name).unlink(missing_ok=True)
        return True

    @staticmethod
    def draft_name(session: str) -> str:
        """Name the file of a session's draft."""
        return f"{_DRAFT[0]}{session}{_DRAFT[1]}"

    @staticmethod
    def draft_of(name: str) -> str:
        """Name the session that a draft's file is of."""
        return name.removeprefix(_DRAFT[0]).removesuffix(_DRAFT[1])

    def _draft(self, session: str) -> Path:
        return self.root / self.draft_name(session)

    def _hidden(self, name: str) -> bytes:
        """Read a file that the page itself keeps here."""
        path = self.root / name
        if path.is_symlink():
            raise MissingFileError(f"{name}: found a link, expected a file of stitchpath")
        return read_file(path, "", "a file of stitchpath", _MOST_DRAFT)
