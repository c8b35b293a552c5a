"""Processor seconds and bytes of every format, on the shipped designs or on those named.

.venv/bin/python tests/benchmarks/formats_speed.py [DESIGN.toml ...]
"""

import sys
import time
from pathlib import Path

from stitchpath.design.read import load_design
from stitchpath.export.write import FORMATS
from stitchpath.plan import make_plan

DESIGNS = Path(__file__).resolve().parents[2] / "designs"


def main() -> None:
    files = [Path(name) for name in sys.argv[1:]] or sorted(DESIGNS.glob("*.toml"))
    for file in files:
        begun = time.process_time()
        plan = make_plan(load_design(file))
        print(f"{file.stem}: planned in {time.process_time() - begun:.2f} s")
        for name, (_, write) in FORMATS.items():
            begun = time.process_time()
            made = write(plan)
            spent = time.process_time() - begun
            print(f"  {name:18} {spent:7.2f} s {len(made) / 1e6:8.2f} MB", flush=True)


if __name__ == "__main__":
    main()
