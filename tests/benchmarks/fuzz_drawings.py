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

from stitchpath.base.errors import StitchpathError
from stitchpath.design.drawings.outlines import take_outline

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


def drawn(rng):
    """Make a sound SVG of random groups, copies, clips, styles and shapes."""
    number = lambda: rng.choice((rng.randint(-20, 120), round(rng.uniform(-9, 99), 3), 0, 1e4))  # noqa: E731

    def data():
        words = [f"M{number()} {number()}"]
        for _ in range(rng.randint(1, 12)):
            letter = rng.choice("MLHVCSQTAZmlhvcsqtaz")
            count = {"H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "Z": 0}.get(letter.upper(), 2)
            words.append(letter + " ".join(str(number()) for _ in range(count)))
            if letter in "Aa":
                words[-1] = (
                    f"{letter}{abs(number())} {number()} 30 {rng.choice('01')} 1 {number()} 9"
                )
        return " ".join(words)

    def attributes():
        return " ".join(
            rng.choice(ATTRIBUTES).format(rng.randint(0, 4), number(), number()) for _ in range(3)
        )

    def element(depth):
        kind = rng.randrange(7 if depth < 4 else 4)
        if kind == 0:
            return f"<path {_once(attributes())} d='{data()}'/>"
        if kind == 1:
            return f"<rect {_once(attributes())} x='{number()}' width='{number()}' height='40'/>"
        if kind == 2:
            return f"<circle {_once(attributes())} cx='{number()}' r='{abs(number())}'/>"
        if kind == 3:
            return f"<use href='#i{rng.randint(0, 4)}' x='{number()}'/>"
        inside = "".join(element(depth + 1) for _ in range(rng.randint(1, 4)))
        tag = rng.choice(("g", "g", "clipPath", "defs", "svg", "symbol"))
        return f"<{tag} {_once(attributes())}>{inside}</{tag}>"

    body = "".join(element(0) for _ in range(rng.randint(1, 8)))
    style = rng.choice(("", "<style>.c1{fill:none} g > path{stroke:red;stroke-width:9}</style>"))
    head = "<svg xmlns='http://www.w3.org/2000/svg' width='99mm' viewBox='0 0 99 99'>"
    return f"{head}{style}{body}</svg>".encode()


ATTRIBUTES = [
    "id='i{0}'", "class='c{0}'", "fill='none'", "fill='url(#i{0})'", "stroke='red'",
    "stroke-width='{0}'", "fill-rule='evenodd'", "clip-path='url(#i{0})'", "display='none'",
    "transform='rotate({1})'", "transform='matrix(1 {0} 0 -1 {1} {2})'", "opacity='{0}'",
    "style='fill:red;stroke:blue'", "viewBox='0 0 {1} 50'", "visibility='hidden'",
    "stroke-linejoin='round'", "stroke-linecap='square'", "clipPathUnits='objectBoundingBox'",
]  # fmt: skip


def _once(text):
    """Keep each attribute once."""
    found = {}
    for word in text.split("' "):
        found.setdefault(word.partition("=")[0].strip(), word.rstrip("'") + "'")
    return " ".join(found.values())


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
            data = drawn(rng) if rng.random() < 0.5 else mutated(rng.choice(files), files, rng)
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
