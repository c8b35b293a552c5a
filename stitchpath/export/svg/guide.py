"""Plan to an SVG to sew from: which way, how often, where each run begins and ends."""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from stitchpath.base.escape import xml_text
from stitchpath.base.marks import (
    INK,
    LINE_OF,
    PAPER,
    MarkName,
    casing_of,
    casing_reach,
    legend_of,
)
from stitchpath.base.typing import FloatArray
from stitchpath.export.svg.key import ASIDE, PEN, draw_key, draw_mark, key_height, reach, stroke
from stitchpath.export.svg.path import SvgSheet, looks_of, path_data
from stitchpath.geometry.polylines import moved_aside
from stitchpath.lines.ditch import seams_left
from stitchpath.plan import Plan
from stitchpath.route.runs import Leg, Run

__all__ = ["plan_guide_svg"]

_Used: TypeAlias = dict[tuple[str, str], None]


class _Room:
    """Round places that are taken, so that no mark or arrow covers another.

    Parameters
    ----------
    widest
        The largest width of one, mm.
    """

    def __init__(self, widest: float) -> None:
        self._cell = widest
        self._taken: dict[tuple[int, int], list[tuple[float, float, float]]] = defaultdict(list)

    def take(self, point: FloatArray, radius: float) -> bool:
        """Take a place if it is free; tell whether it was."""
        free = self.free(point, radius)
        if free:
            x, y = float(point[0]), float(point[1])
            self._taken[self.draw_key(x, y)].append((x, y, radius))
        return free

    def free(self, point: FloatArray, radius: float, but: FloatArray | None = None) -> bool:
        """Tell whether a place is free, or has only what is taken at a certain point."""
        x, y = float(point[0]), float(point[1])
        i, j = self.draw_key(x, y)
        near = [k for a in (i - 1, i, i + 1) for b in (j - 1, j, j + 1)
                for k in self._taken.get((a, b), ())]  # fmt: skip
        return all(
            math.hypot(x - u, y - v) >= radius + r or (but is not None and (u, v) == tuple(but))
            for u, v, r in near
        )

    def draw_key(self, x: float, y: float) -> tuple[int, int]:
        return math.floor(x / self._cell), math.floor(y / self._cell)


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
    room = _Room(3 * text)
    sheet = SvgSheet(plan)
    used: _Used = {("edge", ""): None}
    if plan.top.pieces or seams_left(plan.top, plan.lines):
        used["seam", ""] = None
    marks = list(_ends(plan, sheet, text, room, used))
    parts = [*_casings(plan, sheet, text)]
    for run in plan.runs:
        parts += _run(plan, sheet, run, text, room)
        does = {LINE_OF[leg.do] for leg in run.legs}
        used |= dict.fromkeys((line, run.thread) for line in LINE_OF.values() if line in does)
    key = legend_of(used, looks_of(plan), plan.design.batting.margin)
    page = SvgSheet(plan, below=key_height(key, sheet, text))
    head = [page.head(f"{plan.top.name}: guide"), *page.underlay(plan, text * PEN)]
    return "".join([*head, *parts, *marks, *draw_key(plan, key, sheet, text), "</svg>\n"])


def _text_size(plan: Plan) -> float:
    """Height of letters, mm: to be read when the whole is printed on one page."""
    return max(plan.top.width, plan.top.height) / 90


def _casings(plan: Plan, sheet: SvgSheet, text: float) -> Iterator[str]:
    """Lay the runs of light threads on ink, under all else."""
    for run in plan.runs:
        casing = casing_of(looks_of(plan)[run.thread].colour, [PAPER])
        if casing is None:
            continue
        data = " ".join(sheet.data(_drawn(leg, text * ASIDE)) for leg in run.legs)
        width = text * PEN * (1 + 2 * casing_reach(casing))
        yield (
            f'<path class="casing" fill="none" stroke="{casing}" stroke-width="{width:.3f}" '
            f'stroke-linejoin="round" d="{data}"/>\n'
        )


def _run(plan: Plan, sheet: SvgSheet, run: Run, text: float, room: _Room) -> Iterator[str]:
    look = looks_of(plan)[run.thread]
    yield (
        f'<g id="run-{run.number}" fill="none" stroke="{look.colour}" '
        f'stroke-width="{text * PEN:.3f}" stroke-linejoin="round">\n'
        f"<title>{xml_text(f'run {run.number}, stage {run.stage}, {run.thread}')}</title>\n"
    )
    drawn = [_drawn(leg, text * ASIDE) for leg in run.legs]
    for do, line in LINE_OF.items():
        paths = [points for leg, points in zip(run.legs, drawn, strict=True) if leg.do == do]
        if paths:
            data = " ".join(map(sheet.data, paths))
            yield f'<path class="{do}"{stroke(line, look, text)} d="{data}"/>\n'
    arrows = " ".join(_arrows(drawn, text * 9, text * 0.7, room))
    casing = casing_of(look.colour, [PAPER])
    edge = f'stroke="{casing}" stroke-width="{text / 20:.3f}"' if casing else 'stroke="none"'
    yield f'<path class="arrows" fill="{look.colour}" {edge} d="{arrows}"/>\n</g>\n'


def _drawn(leg: Leg, aside: float) -> FloatArray:
    """Draw a leg that goes over a line again to the right of it, so that both are seen."""
    return moved_aside(leg.points, aside) if leg.do == "retrace" else leg.points


def _arrows(paths: Iterable[FloatArray], every: float, size: float, room: _Room) -> Iterator[str]:
    """Put arrowheads on a run, about so far apart, each in the middle of a straight piece.

    Where one would cover a mark or another arrow, it stands further on.
    """
    since = every / 2
    for points in paths:
        for start, end in pairwise(points):
            length = float(np.hypot(*(end - start)))
            since += length
            if since < every or length == 0 or not room.take((start + end) / 2, size * 0.8):
                continue
            since = 0.0
            along = (end - start) / length * size
            tip = (start + end + along) / 2
            across = np.array([-along[1], along[0]]) / 2.5
            corners = np.round([tip, tip - along + across, tip - along - across], 3)
            yield "M" + " L".join(f"{x:g} {y:g}" for x, y in corners.tolist()) + " Z"


def _ends(plan: Plan, sheet: SvgSheet, text: float, room: _Room, used: _Used) -> Iterator[str]:
    """Mark with its number where each run begins and ends.

    A mark that would cover another, or its place, stands aside, with a line to a dot at its own.
    """
    found: list[tuple[Run, MarkName, FloatArray]] = []
    for run in plan.runs:
        first, last = run.legs[0].points[0], run.legs[-1].points[-1]
        start: MarkName = "start inside" if run.start_where == "inside" else "start"
        end: MarkName = "end inside" if run.end_where == "inside" else "end"
        if np.all(first == last):
            found.append((run, "both inside" if run.start_where == "inside" else "both", first))
        else:
            found += [(run, start, first), (run, end, last)]
    used |= dict.fromkeys((mark, "") for _, mark, _ in found)
    places = _Room(3 * text)
    for _, _, point in found:
        places.take(point, 0.3 * text)
    stand = [_beside(point, sheet, reach(mark) * text, text, room, places)
             for _, mark, point in found]  # fmt: skip
    yield f'<g font-family="sans-serif" font-size="{text:.3f}" text-anchor="middle">\n'
    for (_, _, point), at in zip(found, stand, strict=True):  # lines lie under the marks
        if np.any(at != point):
            yield (
                f'<path stroke="{INK}" stroke-width="{text / 12:.3f}" '
                f'd="{path_data(np.array([point, at]))}"/>'
                f'<circle cx="{point[0]:.3f}" cy="{point[1]:.3f}" r="{text / 4:.3f}" '
                f'fill="{INK}"/>\n'
            )
    for (run, mark, _), at in zip(found, stand, strict=True):
        yield draw_mark(f"{run.number}", mark, at, text)
    yield "</g>\n"


def _beside(
    point: FloatArray, sheet: SvgSheet, reach: float, text: float, room: _Room, places: _Room
) -> FloatArray:
    """Find room for a mark at a point, or as near to it as can be, off the places of others."""
    turn = np.linspace(0, 2 * np.pi, 17)[:-1]
    round_it = np.column_stack([np.cos(turn), np.sin(turn)])
    rings = [point + away * text * round_it for away in np.arange(1.9, 12, 0.9)]
    low = np.array([sheet.left, sheet.top]) + text
    high = low + np.array([sheet.width, sheet.height]) - 2 * text
    for place in (point, *np.concatenate(rings)):
        within = np.all((place >= low) & (place <= high)) or place is point
        if not within or not places.free(place, reach, but=point):
            continue
        if room.take(place, reach):
            return np.asarray(place)
    return point
