"""Random tops in frames: planned time never rises with depth, nor with throat.

Run it as a script with the first seed and how many, such as `0 30`; it prints each that breaks the
law, by how much, and how many did.
"""

import sys
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from quilts import design as written  # noqa: E402
from random_tops import random_top  # noqa: E402

from stitchpath import StitchpathError, make_plan  # noqa: E402
from stitchpath.design.model import Design, Machine, Route  # noqa: E402
from stitchpath.plan import lines_of  # noqa: E402


def seconds(design: Design, key: str, share: float, long: float) -> float:
    """Plan a quilt in a frame that shows a share of its length."""
    reach = {"throat": share * long + 100} if key == "throat" else {"depth": share * long}
    said = {name: f"{length} mm" for name, length in reach.items()}
    machine = Machine.model_validate({"kind": "frame", **said})
    framed = design.model_copy(update={"machine": machine, "route": Route()})
    return sum(run.total for run in make_plan(framed, cures=False, time_limit=0.5).times)


def main(first: int, count: int) -> None:
    """Print what breaks the law."""
    tried, broken = 0, 0
    for seed in range(first, first + count):
        dice = Random(seed)
        key = dice.choice(["depth", "throat"])
        share = dice.uniform(0.2, 0.8)
        more = dice.uniform(0.02, 0.3)
        try:
            design = written(random_top(seed))
            long = lines_of(design)[0].height
            shallow, deep = (seconds(design, key, at, long) for at in (share, share + more))
        except StitchpathError as error:
            print(f"seed {seed}: {str(error)[:110]}", flush=True)
            continue
        tried += 1
        if deep > shallow + 1e-6:
            broken += 1
            print(
                f"seed {seed}: {key} {share:.2f} to {share + more:.2f} of {long:.0f} mm takes "
                f"{deep - shallow:.0f} s more of {shallow:.0f}",
                flush=True,
            )
    print(f"{broken} of {tried} take longer in a deeper frame", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
