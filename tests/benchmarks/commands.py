"""Time whole commands, as a user waits for them; prints a table.

Usage: python tests/benchmarks/commands.py
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DESIGNS = Path(__file__).resolve().parents[2] / "designs"
COMMAND = Path(sys.executable).parent / "stitchpath"
FORMATS = (
    ("harbour-runner", "all"),
    ("star-lap-quilt", "guide"),
    ("postage-stamp-king", "needle"),
    ("postage-stamp-king", "all"),
)
STAMPS = """
name = "Stamps"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.stamps]
size = {side}
grid = [{grid}]
[layout]
rows = ["stamps"]
"""


def timed(*args: str) -> tuple[float, float, float]:
    """Run a command; give seconds on the wall and of processor, and the most memory so far, MB."""
    begun, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([COMMAND, *args], check=True, capture_output=True)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - begun, cpu, used.ru_maxrss / 1024


def stamps(side: int) -> str:
    """Write a top of one-inch squares."""
    rows = [" ".join("sand" if (i + j) % 2 else "sea" for j in range(side)) for i in range(side)]
    return STAMPS.format(side=side, grid=", ".join(f'"{row}"' for row in rows))


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        print(f"{'command':44} {'seconds':>8} {'CPU s':>8} {'peak MB':>8}")
        rows = [("--help", ["--help"])]
        names = ("curved-cushion", "harbour-runner", "star-lap-quilt", "postage-stamp-king")
        rows += [(f"plan {n}", ["plan", str(DESIGNS / f"{n}.toml"), "-o", folder]) for n in names]
        for name, formats in FORMATS:
            design = str(DESIGNS / f"{name}.toml")
            args = ["plan", design, "-o", folder, "--format", formats]
            rows.append((f"plan {name}, {formats}", args))
        for side in (27, 54, 81, 108):
            path = Path(folder) / f"stamps-{side}.toml"
            path.write_text(stamps(side))
            rows.append((f"plan {side} x {side} stamps", ["plan", str(path), "-o", folder]))
        for label, args in rows:
            seconds, cpu, peak = timed(*args)
            print(f"{label:44} {seconds:8.2f} {cpu:8.2f} {peak:8.0f}", flush=True)


if __name__ == "__main__":
    main()
