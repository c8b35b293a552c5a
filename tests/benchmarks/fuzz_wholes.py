"""Drawings of whole tops spoiled at random: what becomes of them, and the slowest.

Use: python tests/benchmarks/fuzz_wholes.py SECONDS [SEED]
"""

import random
import sys
import tempfile
import time
import traceback
from functools import partial
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import drawn  # noqa: E402

from stitchpath.base.errors import StitchpathError  # noqa: E402
from stitchpath.design.drawings.whole import take_whole  # noqa: E402

BITS = ("9", "-", "e9", ".", "<", "Z", " ", "", "NaN", '"', "</g>", "0 0", "1e308", "\n", "use")


def texts():
    """Give what is spoiled."""
    own = [draw()[0] for draw in drawn.OWN] + [text for _, text, _ in drawn.MORE]
    return own + [path.read_text() for path in sorted((ROOT / "tests/drawings").glob("*.svg"))]


def spoilt(text, every, rng):
    """Change a few places, or put a piece of another drawing in."""
    letters = list(text)
    for _ in range(rng.randrange(1, 9)):
        at = rng.randrange(len(letters))
        if rng.random() < 0.2:
            other = rng.choice(every)
            begin = rng.randrange(len(other))
            letters[at:at] = other[begin : begin + rng.randrange(200)]
        else:
            letters[at : at + rng.randrange(5)] = rng.choice(BITS)
    return "".join(letters)


def ending(read):
    """Tell how it ends to read something; whatever is no sentence is shown."""
    try:
        read()
    except StitchpathError as error:
        return "traceback" if "\n" in str(error) else "refused"
    except Exception:  # noqa: BLE001 - what is looked for
        traceback.print_exc()
        return "traceback"
    return "read"


def main(seconds, seed=1):
    """Fuzz for a while."""
    rng, every = random.Random(seed), texts()
    counts, slowest, end = (
        {"read": 0, "refused": 0, "traceback": 0},
        0.0,
        time.monotonic() + seconds,
    )
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() < end:
            text = spoilt(rng.choice(every), every, rng)
            file = Path(folder) / ("a.svg" if text.lstrip().startswith("<") else "a.dxf")
            file.write_text(text)
            began = time.process_time()
            size = rng.choice((None, 300.0))
            counts[ending(partial(take_whole, file, "", size=size))] += 1
            slowest = max(slowest, time.process_time() - began)
    print(counts, f"slowest {slowest:.1f} s")


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
