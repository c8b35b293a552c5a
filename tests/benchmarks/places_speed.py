"""Time checks of tops of many places: `python tests/benchmarks/places_speed.py`.

Processor seconds, one thread, imports included once before. Wide sashing is loose in every strip
and at every cornerstone; the patches of the last tops all have names and sizes of their own.
"""

from pathlib import Path
from time import process_time

from stitchpath.checks.cures import closed_gaps
from stitchpath.design.read import design_from_text
from stitchpath.plan import check_design

FABRICS = """
name = "Places"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
coral = "#dc6f50"
"""
BATTING = '[batting]\ndistance = "4 in"\n'


def sashed(side):
    """Blocks in wide sashing with cornerstones."""
    return (
        f"{FABRICS}[blocks.plain]\nsize = 6\ngrid = ['sand']\n[layout]\n"
        f'rows = ["plain*{side}"]\nrepeat = {side}\n'
        f'sashing = {{ width = 5, fabric = "sea", cornerstone = "coral" }}\n{BATTING}'
    )


def uneven(side):
    """One block of patches of which no two are alike."""
    xs, ys = [0.0], [0.0]
    for k in range(side):
        xs.append(xs[-1] + 5 + 0.07 * k)
        ys.append(ys[-1] + 5 + 0.05 * (7 * k % 11))
    patches = []
    for i in range(side):
        for j in range(side):
            left, right, top, low = xs[j], xs[j + 1], ys[i], ys[i + 1]
            corners = [[left, top], [right, top], [right, low], [left, low]]
            fabric = ("sand", "sea", "coral")[(i + j) % 3]
            patches.append(f'{{ name = "p {i} {j}", fabric = "{fabric}", points = {corners} }}')
    size = [xs[-1], ys[-1]]
    return (
        f"{FABRICS}[blocks.uneven]\nsize = {size}\nunits = {size}\n"
        f'patches = [{", ".join(patches)}]\n[layout]\nrows = ["uneven"]\n{BATTING}'
    )


def show(name, job, *arguments):
    start = process_time()
    found = len(job(*arguments))
    print(f"{name:<48}{process_time() - start:>8.2f} s   {found}")


def main():
    check_design(design_from_text(sashed(2), "warm.toml", Path()))
    tops = {f"{n} x {n} blocks in wide sashing": sashed(n) for n in (7, 13, 20)}
    tops |= {f"{n} x {n} patches, none alike": uneven(n) for n in (13, 25)}
    for name, text in tops.items():
        asked = design_from_text(text, "top.toml", Path())
        show(f"check: {name}", check_design, asked)
    asked = design_from_text(sashed(7), "top.toml", Path())
    show("close the gaps of 7 x 7 blocks", lambda: closed_gaps(asked)[1])


if __name__ == "__main__":
    main()
