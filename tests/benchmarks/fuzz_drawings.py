"""Fuzz the reader of drawings: whatever the bytes, an outline or one sentence.

python tests/benchmarks/fuzz_drawings.py SECONDS [SEED] mutates the catalogue of strange files and
the shipped drawings, and prints how many were read, refused, slow, or ended in a traceback.
"""

import random
import sys
import tempfile
import time
import traceback
from pathlib import Path

from stitchpath.design.drawings.outlines import take_outline
from stitchpath.errors import StitchpathError

HERE = Path(__file__).resolve()
sys.path.insert(0, str(HERE.parents[1]))

from hostile import catalogue  # noqa: E402 - it lies beside the tests

WORDS = [
    b"<g>", b"</g>", b"<use href='#p'/>", b"<clipPath id='c'>", b"clip-path='url(#c)'", b"1e308",
    b"nan", b"-", b"0", b"Z", b"M", b"A1 1 0 1 1 2 2", b"S1 1 2 2", b"T", b"'", b'"', b"/>", b"<",
    b"fill='none'", b"stroke='red'", b"stroke-width='5'", b"display='none'", b"viewBox='0 0 9 9'",
    b"transform='rotate(30)'", b"<style>*{fill:none}</style>", b"fill-rule='evenodd'", b"%", b"mm",
    b"\n  0\nINSERT\n", b"\n 10\n", b"\n 42\n1\n", b"\xff", b"\0", b"&#x202e;",
]  # fmt: skip
SLOW = 5.0
LARGEST = 200_000


def seeds():
    """Give files to mutate, those under 200 kB."""
    found = [data for name, data, _ in catalogue() if name.endswith((".svg", ".dxf"))]
    found += [file.read_bytes() for file in (HERE.parents[2] / "designs").glob("*.svg")]
    return [data for data in found if 0 < len(data) < LARGEST]


def mutated(data, others, rng):
    """Spoil a file in one to six ways."""
    data = bytearray(data)
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(data) + 1)
        way = rng.randrange(6)
        if way == 0:
            del data[at : at + rng.choice((1, 2, 8, 64))]
        elif way == 1:
            data[at:at] = rng.choice(WORDS)
        elif way == 2 and at < len(data):
            data[at] = rng.randrange(256)
        elif way == 3:
            stop = rng.randrange(len(data) + 1)
            data[at:at] = data[min(at, stop) : min(max(at, stop), min(at, stop) + 2000)]
        elif way == 4:
            other = rng.choice(others)
            start = rng.randrange(len(other))
            data[at:at] = other[start : start + rng.choice((10, 100, 1000))]
        elif b'"' in data:
            at = data.index(b'"', rng.randrange(max(data.rindex(b'"'), 1)))
            data[at + 1 : at + 1] = rng.choice(WORDS)
    return bytes(data)


def tried(folder, data, rng):
    """Read a file; tell what became of it."""
    file = folder / rng.choice(("a.svg", "a.dxf"))
    file.write_bytes(data)
    began = time.process_time()
    try:
        outline = take_outline(file, rng.choice((None, "p", "all")), "x", size=150.0, unit="in")
        assert outline.shape.is_valid
        assert outline.shape.area > 0
        kind = "read"
    except StitchpathError as error:
        kind = "refused" if "\n" not in str(error) else "traceback"
    return "slow" if time.process_time() - began > SLOW else kind


def main(seconds, seed=1):
    """Fuzz for a while."""
    rng = random.Random(seed)
    files, counts = seeds(), {"read": 0, "refused": 0, "slow": 0, "traceback": 0}
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory() as name:
        while time.monotonic() < end:
            data = mutated(rng.choice(files), files, rng)
            try:
                kind = tried(Path(name), data, rng)
            except Exception:  # noqa: BLE001 - what is looked for
                kind = "traceback"
                traceback.print_exc()
            counts[kind] += 1
            if kind in ("slow", "traceback"):
                kept = Path(tempfile.gettempdir(), f"fuzz-{kind}-{counts[kind]}")
                kept.write_bytes(data)
                print(kind, kept)
    print(counts)


if __name__ == "__main__":
    main(float(sys.argv[1]), *map(int, sys.argv[2:3]))
