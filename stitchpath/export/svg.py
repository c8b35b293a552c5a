"""Plan to a plain SVG at true size: one path for each run, in stitching order."""

from collections.abc import Iterable, Iterator
from itertools import groupby

import numpy as np
from shapely import Polygon

from stitchpath.export.curve import as_curves
from stitchpath.export.escape import xml_name, xml_text
from stitchpath.export.offset import offset_run
from stitchpath.export.pen import TOLERANCE, simplified
from stitchpath.plan import Plan
from stitchpath.typing import FloatArray

__all__ = ["Sheet", "path_data", "plan_plotter_svg", "plan_svg", "thread_colour"]

_FAINT = "#b8b8b8"
_PLAIN = "#404040"
_CAUTION = (
    "Make the first run with the pen up or taken out, hands clear, and watch it go all the way. "
    "What the machine's own manual and the rules of the place say comes before this."
)


class Sheet:
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
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_mm(self.width)}mm" '
            f'height="{_mm(self.height)}mm" viewBox="{box}">\n'
            f"<title>{xml_text(title)}</title>\n"
        )

    def data(self, points: FloatArray) -> str:
        """Write a polyline as path data, where it lies on the page."""
        if self._across is None:
            return path_data(points)
        return path_data(points * (-1, 1) + (self._across, 0))

    def polygon(self, polygon: Polygon) -> str:
        """Write a polygon as path data."""
        rings = [polygon.exterior, *polygon.interiors]
        return " ".join(self.data(np.array(ring.coords)) for ring in rings)

    def underlay(self, plan: Plan, width: float = 0.3) -> Iterator[str]:
        """Draw the outline, seams and pieces faint."""
        yield f'<g id="underlay" fill="none" stroke="{_FAINT}" stroke-width="{_mm(width)}">\n'
        yield f'<path id="outline" d="{self.polygon(plan.top.outline)}"/>\n'
        seams = " ".join(self.data(seam.points) for seam in plan.top.seams)
        if seams:
            yield f'<path id="seams" d="{seams}"/>\n'
        for piece in plan.top.pieces:
            data = " ".join(self.polygon(part) for part in piece.shape.geoms)
            yield f'<path class="piece" fill-rule="evenodd" d="{data}"/>\n'
        yield "</g>\n"


def plan_svg(
    plan: Plan, *, underlay: bool = False, low_side: float = 0.0, mirrored: bool = False
) -> str:
    """Write the path as SVG (SVG 1.1, W3C recommendation).

    Parameters
    ----------
    plan
        The plan.
    underlay
        With the outline, seams and pieces faint underneath.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm; 0 leaves it on the seam.
    mirrored
        Left to right, for marking from the back.

    Returns
    -------
    str
        An SVG whose user unit is a millimetre; the page holds the top and its margin.
    """
    sheet = Sheet(plan, mirrored=mirrored)
    title = f"{plan.top.name}, mirrored: as seen from the back" if mirrored else plan.top.name
    parts = [sheet.head(title)]
    if underlay:
        parts += sheet.underlay(plan)
    parts += _runs(plan, sheet, low_side)
    parts.append("</svg>\n")
    return "".join(parts)


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
    parts = [Sheet(plan).head(f"{plan.top.name}: for a pen"), f"<desc>{_CAUTION}</desc>\n"]
    layers = groupby(plan.runs, key=lambda run: run.thread)
    for number, (thread, runs) in enumerate(layers, 1):
        parts.append(
            f'<g id="layer-{number}-{xml_name(thread)}" fill="none" '
            f'stroke="{thread_colour(plan, thread)}" stroke-width="0.3">\n'
            f"<title>{number} {xml_text(thread)}</title>\n"
        )
        for run in runs:
            points = offset_run(run, plan.lines, low_side)
            if curves and tolerance > 0:
                data = _curve_data(as_curves(points, tolerance))
            else:
                data = path_data(simplified(points, tolerance))
            parts.append(f'<path id="run-{run.number}" d="{data}"/>\n')
        parts.append("</g>\n")
    return "".join([*parts, "</svg>\n"])


def thread_colour(plan: Plan, thread: str) -> str:
    """Look up what colour a thread is drawn in."""
    return plan.design.threads[thread].colour if thread in plan.design.threads else _PLAIN


def _mm(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _curve_data(pieces: Iterable[FloatArray]) -> str:
    """Write straight pieces and curves, one after another, as path data."""
    words: list[str] = []
    for piece in pieces:
        points = [f"{_mm(x)} {_mm(y)}" for x, y in piece.tolist()]
        words += [] if words else [f"M{points[0]}"]
        words.append(("L" if len(points) == 2 else "C") + " ".join(points[1:]))  # noqa: PLR2004
    return " ".join(words)


def path_data(points: FloatArray) -> str:
    """Write a polyline as path data; a closed one ends with Z."""
    rounded = np.round(points, 3)
    closed = len(rounded) > 2 and bool(np.all(rounded[0] == rounded[-1]))  # noqa: PLR2004
    steps = [f"{_mm(x)} {_mm(y)}" for x, y in (rounded[:-1] if closed else rounded).tolist()]
    return "M" + " L".join(steps) + (" Z" if closed else "")


def _runs(plan: Plan, sheet: Sheet, low_side: float) -> Iterable[str]:
    stage_thread = None
    for run in plan.runs:
        if stage_thread != (run.stage, run.thread):
            if stage_thread is not None:
                yield "</g>\n"
            stage_thread = run.stage, run.thread
            colour = thread_colour(plan, run.thread)
            yield (
                f'<g id="stage-{run.stage}-{xml_name(run.thread)}" fill="none" stroke="{colour}" '
                'stroke-width="0.5" stroke-linecap="round" stroke-linejoin="round">\n'
            )
        points = offset_run(run, plan.lines, low_side)
        title = xml_text(f"run {run.number}, stage {run.stage}, {run.thread}")
        yield (
            f'<path id="run-{run.number}" class="run stage-{run.stage} '
            f'thread-{xml_name(run.thread)}" d="{sheet.data(points)}">'
            f"<title>{title}</title></path>\n"
        )
    yield "</g>\n"
