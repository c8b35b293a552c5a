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


def timed(*args: str) -> tuple[float, float]:
    """Run a command; give seconds and the largest memory of any command so far, MB."""
    begun = time.perf_counter()
    subprocess.run([COMMAND, *args], check=True, capture_output=True)
    seconds = time.perf_counter() - begun
    return seconds, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def stamps(side: int) -> str:
    """Write a top of one-inch squares."""
    rows = [" ".join("sand" if (i + j) % 2 else "sea" for j in range(side)) for i in range(side)]
    return STAMPS.format(side=side, grid=", ".join(f'"{row}"' for row in rows))


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        print(f"{'command':44} {'seconds':>8} {'peak MB':>8}")
        rows = [("--help", ["--help"])]
        names = ("curved-cushion", "harbour-runner", "star-lap-quilt", "postage-stamp-king")
        rows += [(f"plan {n}", ["plan", str(DESIGNS / f"{n}.toml"), "-o", folder]) for n in names]
        for side in (27, 54, 81, 108):
            path = Path(folder) / f"stamps-{side}.toml"
            path.write_text(stamps(side))
            rows.append((f"plan {side} x {side} stamps", ["plan", str(path), "-o", folder]))
        for label, args in rows:
            seconds, peak = timed(*args)
            print(f"{label:44} {seconds:8.2f} {peak:8.0f}")


if __name__ == "__main__":
    main()
