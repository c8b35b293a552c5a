"""Plan to a plain SVG at true size: one path for each run, in stitching order."""

from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from shapely import Polygon

from stitchpath.export.offset import offset_run
from stitchpath.plan import Plan
from stitchpath.typing import FloatArray

__all__ = ["plan_svg"]

_FAINT = "#b8b8b8"


def plan_svg(plan: Plan, *, underlay: bool = False, low_side: float = 0.0) -> str:
    """Write the path as SVG (SVG 1.1, W3C recommendation).

    Parameters
    ----------
    plan
        The plan.
    underlay
        With the outline, seams and pieces faint underneath.
    low_side
        How far ditch stitching is moved to the low side of its seam, mm; 0 leaves it on the seam.

    Returns
    -------
    str
        An SVG whose user unit is a millimetre; the page holds the top and its margin.
    """
    margin = plan.design.batting.margin
    left, top, right, bottom = plan.top.outline.bounds
    box = (left - margin, top - margin, right - left + 2 * margin, bottom - top + 2 * margin)
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>\n',
        f'<svg xmlns="http://www.w3.org/2000/svg" {_page(box)}>\n',
        f"<title>{escape(plan.top.name)}</title>\n",
    ]
    if underlay:
        parts += _underlay(plan)
    parts += _runs(plan, low_side)
    parts.append("</svg>\n")
    return "".join(parts)


def _page(box: tuple[float, float, float, float]) -> str:
    size = f'width="{_mm(box[2])}mm" height="{_mm(box[3])}mm"'
    return f'{size} viewBox="{" ".join(map(_mm, box))}"'


def _mm(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_data(points: FloatArray) -> str:
    """Write a polyline as path data; a closed one ends with Z."""
    rounded = np.round(points, 3)
    closed = len(rounded) > 2 and bool(np.all(rounded[0] == rounded[-1]))  # noqa: PLR2004
    steps = [f"{_mm(x)} {_mm(y)}" for x, y in (rounded[:-1] if closed else rounded).tolist()]
    return "M" + " L".join(steps) + (" Z" if closed else "")


def _polygon_data(polygon: Polygon) -> str:
    rings = [polygon.exterior, *polygon.interiors]
    return " ".join(path_data(np.array(ring.coords)) for ring in rings)


def _underlay(plan: Plan) -> Iterator[str]:
    yield f'<g id="underlay" fill="none" stroke="{_FAINT}" stroke-width="0.3">\n'
    yield f'<path id="outline" d="{_polygon_data(plan.top.outline)}"/>\n'
    seams = " ".join(path_data(seam.points) for seam in plan.top.seams)
    if seams:
        yield f'<path id="seams" d="{seams}"/>\n'
    for piece in plan.top.pieces:
        data = " ".join(_polygon_data(part) for part in piece.shape.geoms)
        yield f'<path class="piece" fill-rule="evenodd" d="{data}"/>\n'
    yield "</g>\n"


def _runs(plan: Plan, low_side: float) -> Iterable[str]:
    stage_thread = None
    colours = {name: thread.colour for name, thread in plan.design.threads.items()}
    for run in plan.runs:
        if stage_thread != (run.stage, run.thread):
            if stage_thread is not None:
                yield "</g>\n"
            stage_thread = run.stage, run.thread
            colour = colours.get(run.thread, "#404040")
            yield (
                f'<g id="stage-{run.stage}-{_name(run.thread)}" fill="none" stroke="{colour}" '
                'stroke-width="0.5" stroke-linecap="round" stroke-linejoin="round">\n'
            )
        points = offset_run(run, plan.lines, low_side)
        title = escape(f"run {run.number}, stage {run.stage}, {run.thread}")
        yield (
            f'<path id="run-{run.number}" class="run stage-{run.stage} '
            f'thread-{_name(run.thread)}" d="{path_data(points)}">'
            f"<title>{title}</title></path>\n"
        )
    yield "</g>\n"


def _name(thread: str) -> str:
    """Make a thread's name fit for ids and classes."""
    plain = "".join(c if c.isalnum() and c.isascii() else "-" for c in thread)
    return quoteattr(plain)[1:-1]
