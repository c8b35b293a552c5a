"""Kill and interrupt the planning of a quilt at random moments, and look at what is left.

Usage: python tests/benchmarks/kills.py [KILLS] [INTERRUPTS]

A good set lies in the folder; another one is written over it and is stopped. After SIGKILL each
file has to be whole, the old one or the new one, and a mixed set told; after SIGINT nothing may
have changed, or everything. Prints counts; exit code 1 when something is amiss.
"""

import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from stitchpath.export.verify import verify_folder

DESIGNS = Path(__file__).resolve().parents[2] / "designs"
FORMATS = "svg,map,ditch,back,guide-svg,dxf,gcode,hpgl,needle,csv,directions,moving"


def command(design: Path, folder: Path) -> list[str | Path]:
    """Give the command that plans a design."""
    words = [sys.executable, "-m", "stitchpath", "plan", design, "-o", folder]
    return [*words, "--format", FORMATS]


def contents(folder: Path) -> dict[str, bytes]:
    """Give bytes by name, without what a kill may leave."""
    return {p.name: p.read_bytes() for p in folder.iterdir() if not p.name.startswith(".")}


def stopped(design: Path, folder: Path, how: signal.Signals, after: float) -> tuple[int, str]:
    """Plan, and stop it after a time; give exit code and complaints."""
    process = subprocess.Popen(
        command(design, folder), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )
    time.sleep(after)
    process.send_signal(how)
    _, said = process.communicate()
    return process.returncode, said


def main() -> None:
    """Print the counts."""
    # An exit code of -2 is a Ctrl-C before Python has begun to run us.
    kills, interrupts = (int(word) for word in [*sys.argv[1:], "60", "40"][:2])
    rng = random.Random(1)
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as scratch:
        design, folder = Path(scratch, "quilt.toml"), Path(scratch, "out")
        for drawing in DESIGNS.glob("*.svg"):
            shutil.copy(drawing, scratch)
        text = (DESIGNS / "curved-cushion.toml").read_text()
        design.write_text(text)
        subprocess.run(command(design, folder), check=True, capture_output=True)
        old = contents(folder)
        design.write_text(text + "\n[prices]\nend_inside = 10\nend_margin = 1\n")
        begun = time.perf_counter()
        subprocess.run(command(design, Path(scratch, "new")), check=True, capture_output=True)
        whole = time.perf_counter() - begun
        new = contents(Path(scratch, "new"))
        for how, times in ((signal.SIGKILL, kills), (signal.SIGINT, interrupts)):
            for k in range(times):
                shutil.rmtree(folder)
                shutil.copytree(Path(scratch, "new"), folder)
                for name, data in old.items():
                    (folder / name).write_bytes(data)
                # Every other one late, where the writing is.
                least = 0.6 if k % 2 else 0.05
                code, said = stopped(design, folder, how, whole * rng.uniform(least, 1.05))
                found = contents(folder)
                torn = [n for n, data in found.items() if data not in (old.get(n), new.get(n))]
                kind = "old" if found == old else "new" if found == new else "mixed"
                faults = verify_folder(folder)[0].faults
                counts[f"{how.name}, code {code}, {kind}"] += 1
                counts["torn files"] += len(torn) + len(found.keys() ^ old.keys())
                counts["mixed, not told"] += kind == "mixed" and not faults
                counts["tracebacks"] += "Traceback" in said
                counts["130 but written"] += code == 130 and kind != "old"
                counts["mixed after SIGINT"] += how == signal.SIGINT and kind == "mixed"
    for name, many in sorted(counts.items()):
        print(f"{many:5} {name}")
    bad = ("torn files", "mixed, not told", "tracebacks", "130 but written", "mixed after SIGINT")
    sys.exit(any(counts[name] for name in bad))


if __name__ == "__main__":
    main()
