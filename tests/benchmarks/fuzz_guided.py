"""Fuzz both readers by coverage: bytes that reach new code are kept and spoilt further.

Use: python tests/benchmarks/fuzz_guided.py SECONDS svg|dxf [FOLDER [SEED]]

Wants atheris (pip install atheris), which is no part of any extra. Each file is read as a whole
top, as an outline and as lines to quilt. Prints how many were read and refused, the slowest, the
most memory, and every one that ended in anything but a sentence; FOLDER keeps what was found, and
what reached new code: the next run goes on from there.
"""

import os
import resource
import sys
import tempfile
import time
from pathlib import Path

import atheris

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

with atheris.instrument_imports(include=["stitchpath.design.drawings", "ezdxf.lldxf"]):
    from stitchpath.design.drawings import dxf, outlines, svg, whole  # noqa: F401
    from stitchpath.design.drawings.lines import take_lines

import drawn  # noqa: E402
from fuzz_wholes import ending  # noqa: E402
from hostile import catalogue  # noqa: E402

SLOW = 5.0
COUNTS = {"read": 0, "refused": 0, "traceback": 0, "slow": 0}
FOLDER = Path(tempfile.mkdtemp())
STATE = {"slowest": 0.0, "end": 0.0, "kind": "svg", "kept": "", "seed": 1}


def seeds(kind):
    """Give files to begin with, of 20 kB at most."""
    texts = [make()[0] for make in drawn.OWN] + [text for _, text, _ in drawn.MORE]
    found = [text.encode() for text in texts if text.startswith("<") == (kind == "svg")]
    found += [data for name, data, _ in catalogue() if name.endswith("." + kind)]
    found += [path.read_bytes() for path in (ROOT / "tests/drawings").glob(f"*.{kind}")]
    return [data for data in found if 0 < len(data) <= 20_000]


def once(data):
    """Read bytes in every way."""
    file = FOLDER / f"a.{STATE['kind']}"
    file.write_bytes(data)
    for take in (
        lambda: whole.take_whole(file, "", size=300.0),
        lambda: outlines.take_outline(file, None, "x", size=150.0, unit="in"),
        lambda: take_lines(file, None, "x", size=300.0),
    ):
        began = time.process_time()
        kind = ending(take)
        spent = time.process_time() - began
        STATE["slowest"] = max(STATE["slowest"], spent)
        kind = "slow" if spent > SLOW else kind
        COUNTS[kind] += 1
        if kind in ("slow", "traceback") and STATE["kept"]:
            Path(STATE["kept"], f"{kind}-{COUNTS[kind]}.{STATE['kind']}").write_bytes(data)
    if time.monotonic() > STATE["end"]:
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
        print(STATE["kind"], COUNTS, f"slowest {STATE['slowest']:.1f} s, {most:.2f} GB", flush=True)
        os._exit(0)  # libFuzzer leaves no other way


def main():
    """Fuzz for a while."""
    STATE["kind"] = sys.argv[2]
    STATE["kept"] = sys.argv[3] if len(sys.argv) > 3 else ""
    STATE["seed"] = int(sys.argv[4]) if len(sys.argv) > 4 else 1
    corpus = Path(STATE["kept"] or FOLDER, f"corpus-{STATE['kind']}")  # what is found goes on in it
    corpus.mkdir(exist_ok=True)
    for k, data in enumerate(seeds(STATE["kind"])):
        (corpus / f"{k}").write_bytes(data)
    STATE["end"] = time.monotonic() + float(sys.argv[1])
    atheris.Setup(
        [
            sys.argv[0],
            str(corpus),
            "-max_len=20000",
            "-timeout=900",  # on the clock, which others disturb
            f"-artifact_prefix={FOLDER}/",
            "-rss_limit_mb=4000",
            f"-seed={STATE['seed']}",
        ],
        once,
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main()
