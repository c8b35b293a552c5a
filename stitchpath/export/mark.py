"""The mark in the head of every file: that the tool made it, and from which plan.

A file that bears no mark is hers and is not written over. The plan's own bytes have a short name,
its digest, and every file drawn from the plan bears it: so a folder can be looked through for files
that do not belong together.
"""

import hashlib
import re
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

from stitchpath.export.needle_points import HEADER as NEEDLE_HEADER
from stitchpath.told.job_rows import HEADERS as JOB_HEADERS

__all__ = ["MADE", "NO_ROOM", "digest_of", "mark_of", "stamp"]

MADE = "made"  # the mark of what is drawn without a plan, or has no room for a digest
NO_ROOM = (".needle.csv",)  # RFC 4180 knows no comments, and every row here is a stitch
_PICTURE = "stitchpath picture, drawn without a plan"
_DIGITS = 32  # of SHA-256 (FIPS 180-4), hexadecimal: a comment of G-code has 70 letters in all
_READ = 4096  # bytes at either end
_MARK = re.compile(rb"stitchpath plan ([0-9a-f]{32})\b|" + _PICTURE.encode())
_PNG = b"\x89PNG\r\n\x1a\n"
_PLAN = re.compile(rb'\{\s*"format": "stitchpath-plan/')
_CSV = tuple(",".join(head).encode() + b"\r\n" for head in (*JOB_HEADERS.values(), NEEDLE_HEADER))


def digest_of(plan_json: str | bytes) -> str:
    """Give the short name of a plan: the first 32 digits of the SHA-256 of its plan.json."""
    data = plan_json.encode() if isinstance(plan_json, str) else plan_json
    return hashlib.sha256(data).hexdigest()[:_DIGITS]


def stamp(name: str, content: str | bytes, digest: str | None = None) -> bytes:
    """Mark what is about to be written, where its format has room for that.

    SVG and HTML bear a comment and a generator (HTML Living Standard, 4.2.5.1), DXF a comment
    (group 999 of the DXF reference), G-code and HP-GL/2 a comment, PNG a text chunk (W3C, PNG,
    11.3.3), PDF a comment before ``startxref`` (ISO 32000-1, 7.2.4), which moves no object. The
    job sheet's table has a last row for it, directions a last line. plan.json says its format
    itself, and the table of needle points is known by its header only.

    Parameters
    ----------
    name
        Of the file; its ending says what it is.
    content
        Of the file.
    digest
        Of the plan that it is drawn from (`digest_of`); None for a picture drawn without a plan.
    """
    data = content.encode() if isinstance(content, str) else content
    mark = (f"stitchpath plan {digest}" if digest else _PICTURE).encode()
    for ending, put in _PUT.items():
        if name.lower().endswith(ending):
            return put(data, mark)
    return data


def _after(pattern: bytes, text: bytes) -> Callable[[bytes, bytes], bytes]:
    """Put a mark after the first place that matches; at the beginning where there is none."""
    wanted = re.compile(pattern)

    def put(data: bytes, mark: bytes) -> bytes:
        found = wanted.search(data, 0, _READ)
        at = found.end() if found else 0
        return data[:at] + text.replace(b"MARK", mark) + data[at:]

    return put


def _in_png(data: bytes, mark: bytes) -> bytes:
    head = len(_PNG) + 25  # the signature and the header chunk, which comes first
    chunk = b"tEXtComment\0" + mark + b"\n"  # or the check sum might read on as a digit
    made = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    return data[:head] + made + data[head:]


def _in_pdf(data: bytes, mark: bytes) -> bytes:
    at = data.rindex(b"startxref")
    return data[:at] + b"%" + mark + b"\n" + data[at:]


_PUT: dict[str, Callable[[bytes, bytes], bytes]] = {
    ".svg": _after(rb"<\?xml[^>]*\?>\s*", b"<!-- MARK -->\n"),
    ".html": _after(rb'<meta charset="utf-8">\s*', b'<meta name="generator" content="MARK">\n'),
    ".dxf": _after(rb"\A", b"999\nMARK\n"),
    ".gcode": _after(rb"\A[^\n]*\n", b"(MARK)\n"),
    ".hpgl": _after(rb"\A[^\n]*\n", b'CO"MARK";\n'),
    ".png": _in_png,
    ".pdf": _in_pdf,
    ".job.csv": lambda data, mark: (
        data + b"plan" + b"," * (len(JOB_HEADERS["m"]) - 1) + mark + b"\r\n"
    ),
    ".directions.txt": lambda data, mark: data + b"\n" + mark + b"\n",
}


def mark_of(path: Path) -> str | None:
    """Read the mark of a file.

    Parameters
    ----------
    path
        A file, of any kind.

    Returns
    -------
    str or None
        The digest of the plan that it is drawn from; `MADE` if it has none; for a plan.json its
        own digest. None if the tool did not make it.

    Raises
    ------
    OSError
        When the file cannot be read.
    """
    with path.open("rb") as file:
        head = file.read(_READ)
        if path.suffix == ".json":
            return digest_of(head + file.read()) if _PLAN.match(head) else None
        if path.suffix in (".pdf", ".csv", ".txt"):
            file.seek(max(0, path.stat().st_size - _READ))
            ours = path.suffix != ".csv" or head.startswith(_CSV)
            found = _last(_MARK, file.read()) if ours else None
            if found is None and path.suffix == ".csv" and ours:
                return MADE
        else:
            found = _MARK.search(head)
    if found is None:
        return None
    return found[1].decode() if found[1] else MADE


def _last(pattern: re.Pattern[bytes], data: bytes) -> re.Match[bytes] | None:
    found = None
    for found in pattern.finditer(data):  # noqa: B007 - the last one is wanted
        pass
    return found
