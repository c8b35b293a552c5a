"""The one door for files: regular ones only, bounded before they are read, where they belong."""

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from stitchpath.base.errors import MissingFileError, StitchpathError

__all__ = ["MOST_BYTES", "found_file", "read_file", "told_as"]

MOST_BYTES = 20_000_000
_CHUNK = 1 << 20
_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISSOCK, "a socket"),
)


def read_file(path: Path, where: str, expected: str, most: int = MOST_BYTES) -> bytes:
    """Read a regular file that is not too large; anything else is refused without waiting for it.

    Parameters
    ----------
    path
        The file.
    where
        What names the file, for errors; may be empty.
    expected
        What it should be, such as "an SVG file".
    most
        Bytes it may have.

    Raises
    ------
    StitchpathError
        When it is missing, no regular file, or too large.
    """
    place = f"{where}: {path}" if where else f"{path}"
    try:
        _regular(os.stat(path).st_mode, place, expected)  # noqa: PTH116 - as below
        # A pipe that took the file's place since would make a plain open wait for ever.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb") as file:
            found = os.fstat(file.fileno())
            _regular(found.st_mode, place, expected)
            size, data = found.st_size, bytearray()
            while size <= most and (part := file.read(min(_CHUNK, most + 1 - len(data)))):
                data += part
                size = max(size, len(data))
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise MissingFileError(f"{place}: {reason}, expected {expected}") from None
    except StitchpathError:
        raise
    except ValueError:
        raise StitchpathError(f"{place!r}: found no file name, expected {expected}") from None
    if size > most:
        raise StitchpathError(
            f"{place}: found a file of {size / 1e6:.0f} MB, expected {expected} of at most "
            f"{most / 1e6:.0f} MB"
        )
    return bytes(data)


def _regular(mode: int, place: str, expected: str) -> None:
    if not stat.S_ISREG(mode):
        kind = next((name for test, name in _KINDS if test(mode)), "no regular file")
        raise StitchpathError(f"{place}: found {kind}, expected {expected}")


def found_file(folder: Path, name: str, where: str, *, outside: bool = False) -> Path:
    """Tell where a file lies that a design names: inside the design's own folder.

    Parameters
    ----------
    folder
        Where the design lies.
    name
        As the design names the file.
    where
        The place in the design, for errors.
    outside
        Whether she allowed files outside the folder.

    Raises
    ------
    StitchpathError
        When it lies outside: by an absolute name, by "..", or by a link that leads out.
    """
    path = folder / name
    if outside:
        return path
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):
        raise StitchpathError(f"{where}: found {name[:60]!r}, expected a file's name") from None
    if not inside or Path(name).is_absolute():
        raise StitchpathError(
            f"{where}: found {name[:60]!r}, which leads out of the design's folder, expected a "
            "file inside it"
        ).unless("outside")
    return path


@contextmanager
def told_as(place: str, expected: str) -> Iterator[None]:
    """Turn whatever a library raises over a strange file into one sentence.

    Parameters
    ----------
    place
        The place in the design and the file.
    expected
        What the file should be.
    """
    try:
        yield
    except StitchpathError:
        raise
    except Exception as error:  # noqa: BLE001 - whatever it is, she gets a sentence
        said = " ".join(str(error).split())[:100] or type(error).__name__
        raise StitchpathError(
            f"{place}: found what cannot be read ({said}), expected {expected}"
        ) from None
