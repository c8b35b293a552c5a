"""A contact sheet of outlines that no one here drew, with the lines through their middle.

Run `python tests/benchmarks/contact_sheet.py sheet.png [first] [count] [size in inches]`. Each line
has a colour of its own, its ends black dots; a red cross is a note.
"""

import sys
from collections.abc import Iterator

import shapely
from corpus import SIZE, corpus
from matplotlib.figure import Figure
from shapely import MultiPolygon, affinity

from stitchpath.lines.centre.centre_lines import centre_lines


def _picked(first: int, count: int, inches: float) -> Iterator[tuple[str, MultiPolygon]]:
    """So many outlines spread evenly over all, from the first on."""
    names = list(corpus())
    share = inches * 25.4 / SIZE
    for name in names[first :: max(len(names) // count, 1)][:count]:
        yield name, affinity.scale(corpus()[name], share, share, origin=(0, 0))


def draw(path: str, shapes: list[tuple[str, MultiPolygon]], columns: int = 10) -> None:
    """Draw outlines with their lines to a picture."""
    rows = -(-len(shapes) // columns)
    figure = Figure(figsize=(2 * columns, 2.1 * rows))
    axes = figure.subplots(rows, columns, squeeze=False)
    for ax in axes.flat:
        ax.set_axis_off()
    for ax, (name, shape) in zip(axes.flat, shapes, strict=False):
        found = centre_lines(shape)
        for part in shapely.get_parts(shape):
            for ring in (part.exterior, *part.interiors):
                ax.fill(*shapely.get_coordinates(ring).T, fill=False, lw=0.5, ec="0.5")
        for k, line in enumerate(found.lines):
            ax.plot(*line.T, lw=1.2, color=f"C{k % 10}")
            ax.plot(*line[[0, -1]].T, ".", ms=3, color="black")
        for note in found.notes:
            ax.plot(*note.at, "x", ms=4, color="red")
        ax.set_title(name[:26], fontsize=6, pad=1)
        ax.set_aspect("equal")
        ax.invert_yaxis()
    figure.tight_layout(pad=0.3)
    figure.savefig(path, dpi=90)


if __name__ == "__main__":
    first, count, inches = (
        float(a) for a in (sys.argv[2:] + ["0", "60", "4"][len(sys.argv) - 2 :])[:3]
    )
    draw(sys.argv[1], list(_picked(int(first), int(count), inches)))
    print(f"{int(count)} of {len(corpus())} outlines drawn to {sys.argv[1]}, {inches:g} in")
