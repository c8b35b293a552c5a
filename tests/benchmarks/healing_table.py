"""Tops drawn loosely and healed: faces, seams, vertices, place error and seconds.

Use: python tests/benchmarks/healing_table.py [SEEDS]
"""

import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import loosened as lo  # noqa: E402

from stitchpath.design.read import load_design  # noqa: E402
from stitchpath.geometry.healing.heal import heal  # noqa: E402
from stitchpath.top.build import build_top  # noqa: E402


def tops():
    for name in ("harbour-runner", "star-lap-quilt", "curved-cushion", "postage-stamp-king"):
        top = build_top(load_design(ROOT / "designs" / f"{name}.toml"))
        yield lo.Top(name, [p.polygon for p in top.patches])
    yield lo.quadrangles(40, 40, 40.0, 1)
    yield lo.triangles(250, 600.0, 2)
    yield lo.guillotine(900.0, 2.0, 300, 3)


def main():
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    only = sys.argv[2] if len(sys.argv) > 2 else ""
    for jitter, off in ((0.3, 0.5), (0.5, 0.5)):
        for top in tops():
            if only and only not in top.name:
                continue
            bent = "curved" in top.name
            lines = lo.curves(top.patches) if bent else lo.long_lines(top.patches)
            loosened = lo.loosened_curves if bent else lo.loosened
            rows, fars, spent = [], [], 0.0
            for seed in range(seeds):
                drawn = loosened(lines, jitter, off, seed)
                begin = time.process_time()
                web = heal(drawn, 0.6)
                spent = max(spent, time.process_time() - begin)
                *row, far = lo.compared(top.patches, web.faces)
                rows.append(row)
                fars.append(far)
            whole = np.array(rows).min(axis=0) * 100
            whole_mean = np.array(rows).mean(axis=0) * 100
            far = np.concatenate(fars)
            print(
                f"{jitter}/{off} {top.name:24} {len(top.patches):5} patches {len(drawn):5} lines "
                f"faces {whole[0]:6.2f} seams {whole[1]:6.2f} vertices {whole[2]:6.2f} "
                f"(mean {whole_mean[0]:.2f} {whole_mean[1]:.2f} {whole_mean[2]:.2f}) "
                f"median {np.median(far):.3f} worst {far.max():.2f} mm {spent:.2f} s",
                flush=True,
            )


if __name__ == "__main__":
    main()
