"""Plan to HP-GL/2 for a pen plotter."""

from collections.abc import Iterator

import numpy as np

from stitchpath.base.escape import hpgl_text
from stitchpath.base.typing import FloatArray
from stitchpath.export.machine.pen import TOLERANCE, Tile, pen_layers, pen_tiles
from stitchpath.geometry.polylines import moving_on
from stitchpath.plan import Plan

__all__ = ["plan_hpgl"]

_PER_MM = 40  # plotter units, as published for HP-GL and HP-GL/2
_ON_A_LINE = 50  # points; short lines suit small buffers


def plan_hpgl(
    plan: Plan,
    *,
    bed: tuple[float, float] | None = None,
    first_pass_up: bool = True,
    low_side: float = 0.0,
) -> str:
    """Write the path as HP-GL/2: IN, PS, CO, SP, PA, PU, PD and PG, 40 plotter units to the mm.

    The lower left corner of the drawing is the plotter's origin. Each tile is a plot of its own and
    ends with PG. A pen holds the thread of its number, by order
    of first use.

    Parameters
    ----------
    plan
        The plan.
    bed
        Width and height that the pen reaches, mm; a larger drawing is cut into tiles. None where
        all is in reach.
    first_pass_up
        Begin each tile with a pass that goes all the way with the pen up.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm.

    Raises
    ------
    StitchpathError
        When the bed cannot be used.
    """
    layers = pen_layers(plan, low_side=low_side, tolerance=TOLERANCE)
    plots: list[str] = []
    for tile in pen_tiles(plan, layers, "bottom left", bed):
        plots += _plot(plan, tile, first_pass_up=first_pass_up)
    return "\n".join([*plots, ""])


def _plot(plan: Plan, tile: Tile, *, first_pass_up: bool) -> Iterator[str]:
    width, height = (int(np.ceil(side * _PER_MM)) for side in tile.size)
    yield f"IN;PS{width},{height};"
    yield f'CO"{hpgl_text(plan.top.name)}, tile {tile.number} of {tile.of}";'
    if tile.of > 1:
        x, y = tile.corner
        yield f'CO"its origin lies on the quilt at {x:.2f} mm right, {y:.2f} mm down";'
    if first_pass_up:
        yield 'CO"THE FIRST PASS IS PEN UP: watch it, and stop if it does not lie right";'
    else:
        yield 'CO"THERE IS NO PASS WITH THE PEN UP: take the pen out for the first plot";'
    yield 'CO"What the plotter\'s own manual says comes before this";'
    if first_pass_up:
        yield "SP0;PA;"
        for layer in tile.layers:
            for path in layer.paths:
                yield from _path(path, draw="PU")
    for layer in tile.layers:
        yield f"SP{layer.pen};PA;"
        for path in layer.paths:
            yield from _path(path, draw="PD")
    yield "PU;SP0;PG;"


def _path(path: FloatArray, *, draw: str) -> Iterator[str]:
    points = np.rint(path * _PER_MM).astype(np.int64)
    moved = moving_on(points)
    kept = points[moved] if moved.sum() > 1 else points[:2]
    words = [f"{x},{y}" for x, y in kept.tolist()]
    yield f"PU{words[0]};"
    for first in range(1, len(words), _ON_A_LINE):
        yield f"{draw}{','.join(words[first : first + _ON_A_LINE])};"
