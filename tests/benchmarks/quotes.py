"""Quotes by size against full plans of the same tops: seam, thread and time, style by style.

``python tests/benchmarks/quotes.py FOLDER [FIRST LAST [SEED]]`` plans the cases, or some of them by
number, keeps what they take in FOLDER, and compares all that are there with their quotes; what is
there is not planned again. A case has a style, a size, a spacing and a machine, drawn with a fixed
seed: 11 for those that constants were measured on, 23 for fresh ones. The narrow range is compared:
at just this pace and stitch. What the plans take is written to FOLDER/plans.csv; those of both
seeds, one after another, are ``tests/quoted_plans.csv``, which a test holds the quotes to.
"""

import json
import random
import statistics
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from quoted import MACHINES, Case, Figures, measured, quoted  # noqa: E402

from stitchpath.thread.laid import LAID  # noqa: E402

SIZES = {(16, 16): (0.5, 1, 2), (45, 60): (1, 1.5, 2, 3), (72, 90): (1.5, 2, 3, 4)}
PARTS = ("seam", "thread", "seconds")
SEED = 11


def cases(seed: int = SEED) -> list[Case]:
    """Draw the cases: each style at each size, at two spacings, each on a machine."""
    draw = random.Random(seed)
    found = []
    for style in sorted(set(LAID) - {"stipple"}):
        for size, spacings in SIZES.items():
            for spacing in sorted(draw.sample(spacings, 2)):
                machine = draw.choice(list(MACHINES))
                cut_up = LAID[style].goes_round and (size != (16, 16) or "throat" in machine)
                found.append(Case(style, size, spacing, "domestic" if cut_up else machine))
    return found


def planned(number: int, case: Case, folder: Path) -> Figures:
    """Plan a case, unless that was done."""
    place = folder / f"{number:03}.json"
    if place.is_file() and (kept := json.loads(place.read_text()))["case"] == json.loads(
        json.dumps(case)
    ):
        return Figures(*kept["figures"])
    figures = measured(case)
    place.write_text(json.dumps({"case": case, "figures": figures}))
    return figures


def held(case: Case, figures: Figures) -> dict[str, tuple[bool, bool, float, float]]:
    """Tell of each figure: in the narrow range, in the wide one, how far off, how wide that is."""
    quote = quoted(case).estimate
    found = {}
    for part in PARTS:
        near, wide = getattr(quote.planned, part), getattr(quote, part)
        real = getattr(figures, part)
        found[part] = (
            near.low <= real <= near.high,
            wide.low <= real <= wide.high,
            real / near.likely - 1,
            (near.high - near.low) / near.likely / 2,
        )
    return found


def main() -> None:
    """Plan, compare and print the table."""
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    said = [int(number) for number in sys.argv[2:5]]
    every = cases(*said[2:])
    first, last = said[:2] or (0, len(every))
    rows: dict[str, list[dict[str, tuple[bool, bool, float, float]]]] = {}
    kept = ["style,width,height,spacing,machine,seam,thread,seconds,windows"]
    for number, case in enumerate(every):
        there = (folder / f"{number:03}.json").is_file()
        if not there and not first <= number < last:
            continue
        figures = planned(number, case, folder)
        found = held(case, figures)
        kept.append(
            f'{case.style},{case.size[0]},{case.size[1]},{case.spacing},"{case.machine}",'
            f"{figures.seam:.0f},{figures.thread:.0f},{figures.seconds:.0f},{figures.windows}"
        )
        rows.setdefault(case.style, []).append(found)
        quote = quoted(case)
        told = "  ".join(f"{part} {100 * found[part][2]:+5.1f} %" for part in PARTS)
        missed = [part for part in PARTS if not found[part][0]]
        print(
            f"{number:3} {case.style:16} {case.size[0]} x {case.size[1]} at {case.spacing} in, "
            f"{case.machine}: {told}  passes {figures.windows}/{quote.passes} "
            f"{'missed: ' + ', '.join(missed) if missed else ''}",
            flush=True,
        )
    (folder / "plans.csv").write_text("\n".join(kept) + "\n")
    print("\n| style | plans | seam within | off, median | worst | thread within | time within | "
          "off, median | worst |\n|---|---:|---:|---:|---:|---:|---:|---:|---:|")  # fmt: skip
    for style, some in rows.items():
        print(f"| `{style}` | {len(some)} | {_row(some)}")
    every_one = [one for some in rows.values() for one in some]
    print(f"| all | {len(every_one)} | {_row(every_one)}")
    for part in PARTS:
        count = [sum(one[part][k] for one in every_one) for k in (0, 1)]
        print(f"{part}: {count[0]} of {len(every_one)} at just this pace, {count[1]} in the range")


def _row(some: list[dict[str, tuple[bool, bool, float, float]]]) -> str:
    cells = []
    for part in PARTS:
        inside = sum(one[part][0] for one in some)
        wide = statistics.median(one[part][3] for one in some)
        cells.append(f"{inside}, ± {100 * wide:.0f} %")
        if part != "thread":
            off = [abs(one[part][2]) for one in some]
            cells += [f"{100 * statistics.median(off):.1f} %", f"{100 * max(off):.1f} %"]
    return " | ".join(cells) + " |"


if __name__ == "__main__":
    main()
