"""Plan to a plain SVG at true size: one path for each run, in stitching order."""

from collections.abc import Iterable, Iterator
from itertools import count, groupby

import numpy as np
from shapely import Polygon

from stitchpath.base.escape import xml_name, xml_text
from stitchpath.base.marks import (
    LEAST_CONTRAST,
    LINES,
    PAPER,
    PLAIN,
    ThreadLook,
    readable,
    thread_looks,
)
from stitchpath.base.typing import FloatArray
from stitchpath.export.low_side import offset_run
from stitchpath.export.machine.pen import TOLERANCE
from stitchpath.geometry.curves import LEAST_POINTS, as_curves
from stitchpath.geometry.simplify import simplified
from stitchpath.plan import Plan, once
from stitchpath.top.place import row_letter

__all__ = [
    "THIN",
    "SvgSheet",
    "layer",
    "looks_of",
    "path_data",
    "plan_low_side_svg",
    "plan_plotter_svg",
    "plan_svg",
    "run_curves",
    "thread_colour",
    "unlike",
]

_LAYERS = "http://www.inkscape.org/namespaces/inkscape"  # by it drawing programs know layers
_NAMES = "#6a6a6a"
THIN = 0.5  # mm: the width of a path
_CUBIC = 4  # points that a curve is told by
_CAUTION = (
    "Make the first run with the pen up or taken out, hands clear, and watch it go all the way. "
    "What the machine's own manual and the rules of the place say comes before this."
)


class SvgSheet:
    """The page of an SVG: the finished top and its margin, a millimetre to the user unit.

    Parameters
    ----------
    plan
        The plan.
    mirrored
        Left to right, as the quilt is seen from the back.
    below
        Room under the margin, mm.
    """

    def __init__(self, plan: Plan, *, mirrored: bool = False, below: float = 0.0) -> None:
        margin = plan.design.batting.margin
        left, top, right, bottom = plan.top.outline.bounds
        self.left, self.top = left - margin, top - margin
        self.width, self.height = right - left + 2 * margin, bottom - top + 2 * margin + below
        self._across = left + right if mirrored else None

    def head(self, title: str) -> str:
        """Open the file."""
        box = " ".join(map(_mm, (self.left, self.top, self.width, self.height)))
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="{_LAYERS}" '
            f'width="{_mm(self.width)}mm" height="{_mm(self.height)}mm" viewBox="{box}">\n'
            f"<title>{xml_text(title)}</title>\n"
        )

    def data(self, points: FloatArray) -> str:
        """Write a polyline as path data, where it lies on the page, its curves as curves."""
        few = len(points) < LEAST_POINTS
        return self.curved(_straight(points) if few else as_curves(points, TOLERANCE))

    def curved(self, pieces: Iterable[FloatArray]) -> str:
        """Write pieces, as `as_curves` gives them, where they lie on the page."""
        if self._across is not None:
            pieces = (piece * (-1, 1) + (self._across, 0) for piece in pieces)
        return _curve_data(pieces)

    def polygon(self, polygon: Polygon) -> str:
        """Write a polygon as path data."""
        rings = [polygon.exterior, *polygon.interiors]
        return " ".join(self.data(np.array(ring.coords)) for ring in rings)

    def underlay(self, plan: Plan, pen: float) -> Iterator[str]:
        """Draw the outline, seams and pieces faint, with a pen of a width, mm."""
        edge, seam = LINES["edge"], LINES["seam"]
        yield (
            f'<g id="underlay" {layer("underlay")} fill="none" stroke="{seam.colour}" '
            f'stroke-width="{_mm(pen * seam.width)}">\n'
        )
        yield (
            f'<path id="outline" stroke="{edge.colour}" stroke-width="{_mm(pen * edge.width)}" '
            f'd="{self.polygon(plan.top.outline)}"/>\n'
        )
        seams = " ".join(self.data(seam.points) for seam in plan.top.seams)
        if seams:
            yield f'<path id="seams" d="{seams}"/>\n'
        for piece in plan.top.pieces:
            data = " ".join(self.polygon(part) for part in piece.shape.geoms)
            yield f'<path class="piece" fill-rule="evenodd" d="{data}"/>\n'
        for block in plan.top.blocks:  # unseen, so that they are known when the file is read
            ring = self.data(np.concatenate([block.corners, block.corners[:1]]))
            yield f'<path data-block="{xml_text(block.block.name)}" stroke="none" d="{ring}"/>\n'
        yield from self._names(plan)
        yield "</g>\n"

    def _rulers(self, plan: Plan) -> Iterator[str]:
        """Letter the rows of map squares on the left, and number the columns above."""
        box = plan.top.outline.bounds
        beside = box[0] - self.left  # the margin
        size = max(min(0.5 * beside, max(self.width, self.height) / 50), 3.0)
        for square in plan.top.squares:
            x, y = square.corners.mean(axis=0).tolist()
            spots = []
            if square.place.column == 0:
                at = box[0] - beside / 2 if beside > size else box[0] + size
                spots.append((at, y, row_letter(square.place.row)))
            if square.place.row == 0:
                at = box[1] - beside / 2 if beside > size else box[1] + size
                spots.append((x, at, f"{square.place.column + 1}"))
            for across, down, text in spots:
                here = across if self._across is None else self._across - across
                yield (
                    f'<text class="ruler" x="{_mm(here)}" y="{_mm(down + size / 3)}" '
                    f'fill="{_NAMES}" stroke="none" font-family="sans-serif" '
                    f'font-size="{_mm(size)}" text-anchor="middle">{text}</text>\n'
                )

    def _names(self, plan: Plan) -> Iterator[str]:
        """Name the blocks where they stand in no rows; a top without blocks has rulers."""
        yield from self._rulers(plan)
        if not (plan.design.layout.on_point or plan.design.layout.place):
            return
        for block in plan.top.blocks:
            x, y = block.corners.mean(axis=0).tolist()
            x = x if self._across is None else self._across - x
            size = min(block.block.width, block.block.height) / 12
            yield (
                f'<text class="block" x="{_mm(x)}" y="{_mm(y + size / 3)}" fill="{_NAMES}" '
                f'stroke="none" font-family="sans-serif" font-size="{_mm(size)}" '
                f'text-anchor="middle">{xml_text(plan.places.block(block.place))}</text>\n'
            )


def plan_svg(plan: Plan, *, low_side: float = 0.0, mirrored: bool = False) -> str:
    """Write the path as SVG (SVG 1.1, W3C recommendation).

    Parameters
    ----------
    plan
        The plan.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm; 0 leaves it on the seam.
    mirrored
        Left to right, for marking from the back.

    Returns
    -------
    str
        An SVG whose user unit is a millimetre; the page holds the top and its margin.
    """
    sheet = SvgSheet(plan, mirrored=mirrored)
    title = f"{plan.top.name}, mirrored: as seen from the back" if mirrored else plan.top.name
    parts = [sheet.head(title)]
    parts += _drawn_runs(plan, sheet, low_side)
    parts.append("</svg>\n")
    return "".join(parts)


def plan_low_side_svg(plan: Plan) -> str:
    """Write the path with ditch stitching as far to the low side as the design asks."""
    return plan_svg(plan, low_side=plan.design.lines.offset)


def plan_plotter_svg(
    plan: Plan, *, low_side: float = 0.0, tolerance: float = TOLERANCE, curves: bool = True
) -> str:
    """Write the path as SVG for a pen: a layer for each thread, in the order of stitching.

    A thread that comes back after another one has a new layer, so that the file's order is the
    order of stitching. Beside the paths there is only a caution, in its description.

    Parameters
    ----------
    plan
        The plan.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm.
    tolerance
        How far a path may be simplified, mm; 0 leaves every point, and curves as they are.
    curves
        Whether curved lines are written as curves, not as many short straight pieces.
    """
    parts = [SvgSheet(plan).head(f"{plan.top.name}: for a pen"), f"<desc>{_CAUTION}</desc>\n"]
    if curves and tolerance > 0:
        drawn = run_curves(plan, low_side, tolerance)
    else:
        moved = (offset_run(run, plan.lines, low_side) for run in plan.runs)
        drawn = tuple(tuple(_straight(simplified(points, tolerance))) for points in moved)
    layers = groupby(zip(plan.runs, drawn, strict=True), key=lambda each: each[0].thread)
    for number, (thread, runs) in enumerate(layers, 1):
        parts.append(
            f'<g id="layer-{number}-{xml_name(thread)}" {layer(f"{number} {thread}")} fill="none" '
            f'stroke="{thread_colour(plan, thread)}" stroke-width="0.3">\n'
            f"<title>{number} {xml_text(thread)}</title>\n"
        )
        for run, pieces in runs:
            parts.append(f'<path id="run-{run.number}" d="{_curve_data(pieces)}"/>\n')
        parts.append("</g>\n")
    return "".join([*parts, "</svg>\n"])


@once
def run_curves(
    plan: Plan, low_side: float = 0.0, tolerance: float = TOLERANCE
) -> tuple[tuple[FloatArray, ...], ...]:
    """Give the path of each run as straight pieces and curves.

    Parameters
    ----------
    plan
        The plan.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm.
    tolerance
        As in `as_curves`, mm.

    Returns
    -------
    tuple of tuple of FloatArray
        By run, in stitching order.
    """
    return tuple(
        tuple(as_curves(offset_run(run, plan.lines, low_side), tolerance)) for run in plan.runs
    )


def thread_colour(plan: Plan, thread: str) -> str:
    """Look up what colour a thread is drawn in on a bare white sheet.

    A light thread is drawn darker, for nothing of it would be seen there.
    """
    return readable(plan.thread_colours().get(thread, PLAIN), PAPER, LEAST_CONTRAST)


def looks_of(plan: Plan) -> dict[str, ThreadLook]:
    """Give each thread of a plan its look."""
    return thread_looks((run.thread for run in plan.runs), plan.thread_colours())


def _mm(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _curve_data(pieces: Iterable[FloatArray]) -> str:
    """Write pieces, one after another, as path data; a closed one ends with Z."""
    words: list[str] = []
    ends: list[str] = []
    for piece in pieces:
        points = [f"{_mm(x)} {_mm(y)}" for x, y in np.round(piece, 3).tolist()]
        if not words:
            words.append(f"M{points[0]}")
            ends.append(points[0])
        words.append(("C" if len(points) == _CUBIC else "L") + " ".join(points[1:]))
        ends.append(points[-1])
    if len(words) > 3 and ends[0] == ends[-1]:  # noqa: PLR2004 - to a point and back is no ring
        words[-1:] = ["Z"] if words[-1].startswith("L") else [words[-1], "Z"]
    return " ".join(words)


def path_data(points: FloatArray) -> str:
    """Write a polyline as path data; a closed one ends with Z."""
    return _curve_data(_straight(points))


def _straight(points: FloatArray) -> FloatArray:
    """Part a polyline into its straight pieces, shape (n - 1, 2, 2)."""
    return np.stack([points[:-1], points[1:]], axis=1)


def layer(label: str) -> str:
    """Tell drawing programs that a group is a layer, and what it is called."""
    return f'inkscape:groupmode="layer" inkscape:label="{xml_text(label)}"'


def _drawn_runs(plan: Plan, sheet: SvgSheet, low_side: float) -> Iterator[str]:
    drawn = zip(plan.runs, run_curves(plan, low_side), strict=True)
    taken: set[str] = set()
    for (stage, thread), runs in groupby(drawn, key=lambda each: (each[0].stage, each[0].thread)):
        colour = thread_colour(plan, thread)
        yield (
            f'<g id="{unlike(f"stage-{stage}-{xml_name(thread)}", taken)}" '
            f'{layer(f"stage {stage}, {thread}")} fill="none" stroke="{colour}" '
            f'stroke-width="{_mm(THIN)}" stroke-linecap="round" '
            'stroke-linejoin="round">\n'
        )
        for run, pieces in runs:
            title = xml_text(f"run {run.number}, stage {run.stage}, {run.thread}")
            yield (
                f'<path id="run-{run.number}" class="run stage-{run.stage} '
                f'thread-{xml_name(run.thread)}" d="{sheet.curved(pieces)}">'
                f"<title>{title}</title></path>\n"
            )
        yield "</g>\n"


def unlike(name: str, taken: set[str]) -> str:
    """Make an id unlike those taken: a thread may come back, or be written like another."""
    fits = next(fit for k in count(1) if (fit := name if k == 1 else f"{name}-{k}") not in taken)
    taken.add(fits)
    return fits
