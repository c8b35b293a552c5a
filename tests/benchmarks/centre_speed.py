"""How long the lines through the middle of a piece take: a table.

Run `python tests/benchmarks/centre_speed.py`. Times are of the processor, so that other work on the
machine counts little. Wanted: 30 ms for the median of the symbols at 4 in, and 1 s for an outline
traced with 20,000 points, mending it included.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from corpus import symbols

from stitchpath.design.repair import mend_outline
from stitchpath.lines.centre.centre_lines import centre_lines
from stitchpath.lines.outline import echo_lines, outline_lines

POINTS = 20_000


def seconds(work: Callable[[], object]) -> float:
    """Measure one run."""
    start = time.process_time()
    work()
    return time.process_time() - start


def traced(tremble: float, pixel: float) -> np.ndarray:
    """Trace a starfish of 4 in on a grid of pixels with an unsteady hand, mm."""
    angle = np.linspace(0, 2 * np.pi, POINTS, endpoint=False)
    around = 12 + 36 * np.exp(-((((angle * 5 / 2 / np.pi) % 1) - 0.5) ** 2) * 20)
    drawn = around[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    shaken = drawn + np.random.default_rng(1).normal(0, tremble, drawn.shape)
    return np.round(shaken / pixel) * pixel


def main() -> None:
    """Print the table."""
    shapes = list(symbols().values())
    centre_lines(shapes[0])  # the first run loads the libraries
    kinds: dict[str, Callable] = {
        "centre lines": centre_lines,
        "vein": lambda shape: centre_lines(shape, vein=True),
        "out and back": lambda shape: centre_lines(shape, out_and_back=1.5875),
        "outline": outline_lines,
        "echo, 5 lines": lambda shape: echo_lines([shape], 6.35, 5),
    }
    print(f"{len(shapes)} symbols, 4 in      median    90 %     most   (ms)")
    for name, work in kinds.items():
        times = 1000 * np.array([seconds(lambda s=shape, w=work: w(s)) for shape in shapes])
        print(f"{name:22}{np.median(times):9.1f}{np.percentile(times, 90):9.1f}{times.max():9.1f}")
    print(f"\ntraced with {POINTS} points      mend   lines   (ms)")
    for tremble, pixel in ((0.0, 0.05), (0.0, 0.2), (0.05, 0.05), (0.15, 0.02)):
        ring = traced(tremble, pixel)
        shape = mend_outline([ring], "starfish")
        mend = seconds(lambda ring=ring: mend_outline([ring], "starfish"))
        lines = seconds(lambda shape=shape: centre_lines(shape))
        name = f"pixel {pixel}, tremble {tremble}"
        print(f"{name:26}{1000 * mend:9.1f}{1000 * lines:8.1f}")


if __name__ == "__main__":
    main()
