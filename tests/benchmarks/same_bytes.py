"""Plan a design in every format in many surroundings, and compare the bytes.

Usage: python tests/benchmarks/same_bytes.py [DESIGN.toml] [--format FORMATS]

Eight random hash seeds, one core and two, another time zone, another language, no home folder, an
old code page, and beside four processes that keep the machine busy. Prints a table; exit code 1
when a byte differs.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DESIGNS = Path(__file__).resolve().parents[2] / "designs"
BUSY = 4


def surroundings() -> list[tuple[str, list[str], dict[str, str], int]]:
    """List name, words before the command, environment and number of busy processes."""
    rows = [(f"hash seed {k}", [], {"PYTHONHASHSEED": str(k)}, 0) for k in range(1, 9)]
    pin = shutil.which("taskset")
    cores = sorted(os.sched_getaffinity(0))
    if pin:
        rows.append(("one core", [pin, "-c", str(cores[0])], {}, 0))
        rows.append(("two cores", [pin, "-c", ",".join(map(str, cores[:2]))], {}, 0))
    rows += [
        ("time zone Auckland", [], {"TZ": "Pacific/Auckland"}, 0),
        ("language C", [], {"LC_ALL": "C", "LANG": "C"}, 0),
        ("language de_DE", [], {"LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}, 0),
        ("code page ascii", [], {"PYTHONIOENCODING": "ascii"}, 0),
        ("no home", [], {"HOME": ""}, 0),
        ("home not there", [], {"HOME": "/nowhere", "XDG_CACHE_HOME": "/nowhere"}, 0),
        (f"busy, {BUSY} processes", [], {}, BUSY),
    ]
    return rows


def planned(
    design: Path, formats: str, folder: Path, before: list[str], env: dict[str, str]
) -> tuple[dict[str, bytes], str]:
    """Plan in a process of its own; give the bytes by name, and what it complained of."""
    words = ["-m", "stitchpath", "plan", design, "-o", folder, "--format", formats]
    done = subprocess.run(
        [*before, sys.executable, *words],
        env={k: v for k, v in {**os.environ, **env}.items() if v},
        check=True,
        capture_output=True,
        text=True,
        errors="replace",
    )
    return {path.name: path.read_bytes() for path in folder.iterdir()}, done.stderr


def main() -> None:
    """Print the table."""
    ask = argparse.ArgumentParser()
    ask.add_argument("design", nargs="?", type=Path, default=DESIGNS / "harbour-runner.toml")
    ask.add_argument("--format", default="all")
    asked = ask.parse_args()
    first: dict[str, bytes] = {}
    wrong = False
    print(
        f"{'surroundings':22} {'s':>6} {'files':>6} {'differ':>7} {'cost':>12} proven  complaints"
    )
    with tempfile.TemporaryDirectory() as scratch:
        for k, (name, before, env, busy) in enumerate(surroundings()):
            load = [
                subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(busy)
            ]
            begun = time.perf_counter()
            try:
                found, said = planned(
                    asked.design, asked.format, Path(scratch, str(k)), before, env
                )
            finally:
                for process in load:
                    process.kill()
                    process.wait()
            first = first or found
            differ = sorted(n for n in first.keys() | found if first.get(n) != found.get(n))
            plan = next(json.loads(v) for n, v in found.items() if n.endswith(".plan.json"))
            proof = plan["proof"]
            print(
                f"{name:22} {time.perf_counter() - begun:6.1f} {len(found):6} {len(differ):7} "
                f"{proof['cost']:12.3f} {proof['optimal']!s:6}  {said.strip()[:60]!r}",
                flush=True,
            )
            if differ:
                print("   ", ", ".join(differ))
            wrong = wrong or bool(differ or said)
    sys.exit(wrong)


if __name__ == "__main__":
    main()
