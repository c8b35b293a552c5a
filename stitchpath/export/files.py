"""Files to disk: each whole or not at all, and nothing of hers written over."""

import errno
import os
import re
import stat
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from stitchpath.base import interrupt
from stitchpath.base.errors import StitchpathError
from stitchpath.export.mark import mark_of

__all__ = ["check_place", "is_alive", "note_source", "source_of", "temporaries", "write_whole"]

_SPARE = re.compile(r"\.stitchpath-(\d+)-\d+\.part")
_NO_FOLDER = (errno.EEXIST, errno.ENOTDIR)
_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
# Where a file was derived from: Common Extended Attributes, freedesktop.org. It belongs to this
# copy of the file and is no part of its bytes.
_SOURCE = "user.dublincore.source"


def write_whole(
    files: Mapping[Path, bytes],
    *,
    never: Collection[Path] = (),
    force: bool = False,
    source: Path | None = None,
) -> None:
    """Write files so that each is there whole or not at all.

    All are first written beside their places; only when that went well do they take them, in the
    order given. So the last one says that all are there. Ctrl-C before that leaves everything as it
    was.

    Parameters
    ----------
    files
        Bytes by place.
    never
        Files that are not written over, whatever is asked.
    force
        Write also over files that the tool did not make.
    source
        What the last one is derived from, to be noted beside its bytes where the disk can.

    Raises
    ------
    StitchpathError
        When one cannot be written, or should not be.
    """
    for path, data in files.items():
        check_place(path, never=never, force=force, data=data)
    for folder in {path.parent: None for path in files}:
        _sweep(folder)
    spare: dict[Path, Path] = {}
    made: list[Path] = []
    number = count(1)
    with _told(made) as telling:
        for path, data in files.items():
            telling.path = path
            made += _make_folder(path.parent)
            while path not in spare:
                name = f".stitchpath-{os.getpid()}-{next(number)}.part"
                with suppress(FileExistsError):
                    spare[path] = _written(path.with_name(name), data)
                    telling.spare.append(spare[path])
        if source is not None:
            note_source(spare[path], path.parent, source)
        with interrupt.held():
            for path in files:
                telling.path = path
                spare[path].replace(path)
        telling.spare.clear()


class _Telling:
    """What is at work, and what to tidy away if that fails."""

    def __init__(self) -> None:
        self.path = Path()
        self.spare: list[Path] = []


@contextmanager
def _told(made: list[Path]) -> Iterator[_Telling]:
    """Tell what fails in one sentence, and tidy up."""
    telling = _Telling()
    try:
        yield telling
    except BaseException as error:
        for left in telling.spare:
            left.unlink(missing_ok=True)
        for folder in reversed(made):
            with suppress(OSError):  # something else has come to lie there
                folder.rmdir()
        if isinstance(error, OSError):
            raise StitchpathError(f"{telling.path}: {_reason(error)}") from None
        raise


def _reason(error: OSError) -> str:
    if error.errno in _FULL:
        return "cannot be written, the disk is full; expected room for it, and all is as it was"
    if error.errno in _NO_FOLDER:
        return "cannot be written, a file stands where its folder should be; expected a folder"
    said = (error.strerror or "not writable").lower()
    return f"cannot be written ({said}), expected a folder that can"


def _written(path: Path, data: bytes) -> Path:
    """Write a new file, down to the disk itself."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return path


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and those it lies in; tell which were made, the outermost first."""
    missing = [each for each in (folder, *folder.parents) if not each.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing[::-1]


def check_place(
    path: Path, *, never: Collection[Path] = (), force: bool = False, data: bytes | None = None
) -> None:
    """Make sure that nothing of hers is lost where a file is to be written.

    Parameters
    ----------
    path
        Where to.
    never
        Files that are not written over, whatever is asked.
    force
        Whether to write also over a file that the tool did not make.
    data
        What is to be written; nothing is lost where just that stands there.

    Raises
    ------
    StitchpathError
        When something is lost.
    """
    try:
        mode = path.stat().st_mode
    except OSError as error:
        if error.errno == errno.ENAMETOOLONG:
            raise StitchpathError(f"{path}: found too long a name, expected a shorter") from None
        return  # nothing is there, or what is wrong shows when it is written
    if not stat.S_ISREG(mode):
        found = "a folder" if stat.S_ISDIR(mode) else "something that is no plain file"
        raise StitchpathError(f"{path}: found {found}, expected a place for a file of that name")
    for other in never:
        if other.exists() and other.samefile(path):
            raise StitchpathError(
                f"{path}: found a file that the design is made from, expected another place to "
                "write to"
            ).unless("place")
    try:
        if force or mark_of(path) is not None or (data is not None and path.read_bytes() == data):
            return
    except OSError as error:
        raise StitchpathError(f"{path}: {_reason(error)}") from None
    raise StitchpathError(
        f"{path}: found a file that stitchpath did not make, expected none there"
    ).unless("force")


def note_source(path: Path, folder: Path, source: Path) -> None:
    """Note beside a file's bytes what it is derived from, seen from a folder."""
    if hasattr(os, "setxattr") and source.exists():
        with suppress(OSError):  # many disks cannot
            way = os.path.relpath(source.resolve(), folder.resolve())
            os.setxattr(path, _SOURCE, os.fsencode(way))


def source_of(path: Path) -> Path | None:
    """Read what a file is derived from; None where that is not known, or no longer there."""
    if not hasattr(os, "getxattr"):
        return None
    try:
        found = path.parent / os.fsdecode(os.getxattr(path, _SOURCE))
        return found if found.is_file() else None
    except (OSError, ValueError):
        return None


def temporaries(folder: Path) -> list[Path]:
    """List what killed commands have left behind in a folder."""
    left = []
    with suppress(OSError):
        for path in sorted(folder.iterdir()):
            found = _SPARE.fullmatch(path.name)
            if found and not is_alive(int(found[1])):
                left.append(path)
    return left


def _sweep(folder: Path) -> None:
    for path in temporaries(folder):
        with suppress(OSError):
            path.unlink()


def is_alive(process: int) -> bool:
    """Tell whether a process is at work."""
    if os.name == "nt":  # there, signal 0 is no question
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
