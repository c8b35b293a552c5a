"""Lines of her own: drawn on the top, or in files that are laid over it."""

from collections.abc import Iterator

import numpy as np
import shapely
from shapely import LineString

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.base.findings import Check
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_count
from stitchpath.design.drawings.door import found_file
from stitchpath.design.drawings.lines import take_lines
from stitchpath.design.model import Design, DrawnLines
from stitchpath.geometry.polylines import on_grid
from stitchpath.lines.line import Line
from stitchpath.lines.threads import thread_for
from stitchpath.top.build import Top
from stitchpath.top.place import NOTHING, Subject

__all__ = ["drawn_lines"]

_SHORTEST = 1.0  # mm: what is left of a line at the edge is no line
_OFF = 0.01  # mm: a line is not cut where it leaves the top by less


def drawn_lines(design: Design, top: Top) -> tuple[list[Line], list[Check]]:
    """Make lines of what is drawn to be quilted.

    What leaves the top is cut off at its edge, and told.

    Parameters
    ----------
    design, top
        The design, and its top.

    Raises
    ------
    StitchpathError
        When a file cannot be read, a thread is unknown, or nothing of a file lies on the top.
    """
    usual = thread_for(design, "drawn")
    ample = top.outline.buffer(_OFF)
    shapely.prepare(ample)
    tree = shapely.STRtree([patch.polygon for patch in top.patches])
    lines = [_line(tree, usual, path) for path in (top.taken.quilting if top.taken else ())]
    found = []
    for k, asked in enumerate(design.drawn):
        where = f"drawn[{k + 1}].file"
        if asked.thread is not None and asked.thread not in design.threads:
            raise unknown_name(f"drawn[{k + 1}].thread", "thread", asked.thread, design.threads)
        paths = _laid(design, top, asked, where)
        kept = [part for path in paths for part in _on_top(path, top.outline, ample)]
        if not kept:
            raise StitchpathError(f"{where}: found no line that lies on the top, expected some")
        off = sum(not LineString(path).within(ample) for path in paths)
        if off:
            x, y = kept[0][0].tolist()
            message = f"{format_count(off, 'line')} of {asked.file} cut off at the edge of the top."
            found.append(Check("note", "drawn-beyond", message, (x, y)))
        lines += [_line(tree, asked.thread or usual, path) for path in kept]
    return lines, found


def _laid(design: Design, top: Top, asked: DrawnLines, where: str) -> list[FloatArray]:
    """Lay the lines of a file on the top."""
    path = found_file(design.folder, asked.file, where, outside=design.outside)
    taken = take_lines(
        path, asked.id, where, size=asked.size, unit=asked.unit, shown_in=design.unit
    )
    moved = np.array([0.0, top.height if taken.upward else 0.0])
    if asked.at is not None:
        points = np.concatenate(taken.paths)
        moved = np.array(asked.at) - (points.min(axis=0) + points.max(axis=0)) / 2
    return [line + moved for line in taken.paths]


def _on_top(
    path: FloatArray, outline: shapely.Polygon, ample: shapely.Polygon
) -> Iterator[FloatArray]:
    """Cut a line off where it leaves the top."""
    line = LineString(path)
    if line.within(ample):
        yield path
        return
    kept = shapely.intersection(line, outline)
    merged = shapely.line_merge(kept) if kept.geom_type == "MultiLineString" else kept
    for part in shapely.get_parts(merged):
        if isinstance(part, LineString) and part.length >= _SHORTEST:
            yield shapely.get_coordinates(part)


def _line(tree: shapely.STRtree, thread: str, path: FloatArray) -> Line:
    """Make a line; it is told by the patch where its middle lies."""
    points = on_grid(path)
    middle = LineString(points).interpolate(0.5, normalized=True)
    near = tree.query(middle, predicate="dwithin", distance=_OFF)
    of = Subject(patch=int(near.min())) if len(near) else NOTHING
    return Line("drawn", 1, thread, points, of)
