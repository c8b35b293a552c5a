"""Plan to an SVG to sew from: which way, how often, where each run begins and ends."""

from collections.abc import Iterable, Iterator
from itertools import pairwise
from xml.sax.saxutils import escape

import numpy as np
import shapely
from shapely import LineString

from stitchpath.export.svg import Sheet, thread_colour
from stitchpath.plan import Plan
from stitchpath.route.model import Leg, Run
from stitchpath.typing import FloatArray

__all__ = ["plan_guide_svg"]

_KEY = (
    "solid: stitch, the way the arrows point; dashed beside it: go over it again; dotted: travel",
    "disc: the run of that number begins; square: it ends",
    "Your machine's manual comes first. Try stitch and thread on a sample of the same layers.",
)


def plan_guide_svg(plan: Plan) -> str:
    """Write the path as a picture to sew from, at true size.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    str
        SVG 1.1 whose user unit is a millimetre: the seams faint, each run in the colour of its
        thread with arrows, numbers where it begins and ends, and a key below.
    """
    text = _text_size(plan)
    sheet = Sheet(plan, below=(len(_KEY) + 1) * 1.6 * text)
    parts = [sheet.head(f"{plan.top.name}: guide"), *sheet.underlay(plan, text / 20)]
    for run in plan.runs:
        parts += _run(plan, sheet, run, text)
    parts += _ends(plan, text)
    parts += _key(sheet, text)
    return "".join([*parts, "</svg>\n"])


def _text_size(plan: Plan) -> float:
    """Height of letters, mm: to be read when the whole is printed on one page."""
    return max(plan.top.width, plan.top.height) / 90


def _run(plan: Plan, sheet: Sheet, run: Run, text: float) -> Iterator[str]:
    colour = thread_colour(plan, run.thread)
    yield (
        f'<g id="run-{run.number}" fill="none" stroke="{colour}" stroke-width="{text / 6:.3f}" '
        'stroke-linejoin="round">\n'
        f"<title>{escape(f'run {run.number}, stage {run.stage}, {run.thread}')}</title>\n"
    )
    drawn = [_drawn(leg, text / 2.5) for leg in run.legs]
    dashes = {
        "stitch": "",
        "retrace": f' stroke-dasharray="{text / 2:.3f} {text / 4:.3f}"',
        "travel": f' stroke-dasharray="{text / 12:.3f} {text / 4:.3f}" stroke-linecap="round"',
    }
    for do, dash in dashes.items():
        paths = [points for leg, points in zip(run.legs, drawn, strict=True) if leg.do == do]
        if paths:
            yield f'<path class="{do}"{dash} d="{" ".join(map(sheet.data, paths))}"/>\n'
    arrows = " ".join(_arrows(drawn, every=text * 9, size=text * 0.7))
    yield f'<path class="arrows" fill="{colour}" stroke="none" d="{arrows}"/>\n</g>\n'


def _drawn(leg: Leg, aside: float) -> FloatArray:
    """Draw a leg that goes over a line again to the right of it, so that both are seen."""
    if leg.do != "retrace":
        return leg.points
    beside = shapely.offset_curve(LineString(leg.points), aside, join_style="mitre")
    points = shapely.get_coordinates(beside)  # in parts, one after another, where it is very bent
    return points if len(points) else leg.points


def _arrows(paths: Iterable[FloatArray], *, every: float, size: float) -> Iterator[str]:
    """Put arrowheads on a run, so far apart, in the middle of one of its straight pieces each."""
    since = every / 2
    for points in paths:
        for start, end in pairwise(points):
            length = float(np.hypot(*(end - start)))
            since += length
            if since < every or length == 0:
                continue
            since = 0.0
            along = (end - start) / length * size
            tip = (start + end + along) / 2
            across = np.array([-along[1], along[0]]) / 2.5
            corners = np.round([tip, tip - along + across, tip - along - across], 3)
            yield "M" + " L".join(f"{x:g} {y:g}" for x, y in corners.tolist()) + " Z"


def _ends(plan: Plan, text: float) -> Iterator[str]:
    """Mark with its number where each run begins and ends, side by side where that is one place."""
    taken: dict[tuple[int, int], int] = {}
    yield f'<g font-family="sans-serif" font-size="{text:.3f}" text-anchor="middle">\n'
    for run in plan.runs:
        colour = thread_colour(plan, run.thread)
        for begins, point in ((True, run.legs[0].points[0]), (False, run.legs[-1].points[-1])):
            cell = tuple(np.floor(point / (2 * text)).astype(int).tolist())
            nth = taken[cell] = taken.get(cell, -1) + 1
            x, y = float(point[0]) + 1.8 * text * nth, float(point[1])
            if begins:
                mark = f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{text * 0.8:.3f}" '
            else:
                side = text * 1.5
                mark = (
                    f'<rect x="{x - side / 2:.3f}" y="{y - side / 2:.3f}" '
                    f'width="{side:.3f}" height="{side:.3f}" '
                )
            ink = (colour, "#ffffff") if begins else ("#ffffff", colour)
            yield (
                f'{mark}fill="{ink[0]}" stroke="{colour}" stroke-width="{text / 8:.3f}"/>'
                f'<text x="{x:.3f}" y="{y + text * 0.35:.3f}" fill="{ink[1]}">'
                f"{run.number}</text>\n"
            )
    yield "</g>\n"


def _key(sheet: Sheet, text: float) -> Iterator[str]:
    yield f'<g font-family="sans-serif" font-size="{text:.3f}" fill="#303030">\n'
    for number, line in enumerate(_KEY):
        y = sheet.top + sheet.height - (len(_KEY) - number) * 1.6 * text
        yield f'<text x="{sheet.left + text:.3f}" y="{y:.3f}">{escape(line)}</text>\n'
    yield "</g>\n"
