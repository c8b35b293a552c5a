"""Plan to an SVG to sew from: which way, how often, where each run begins and ends."""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Literal, TypeAlias

import numpy as np
import shapely
from shapely import LineString

from stitchpath.escape import xml_text
from stitchpath.export.svg.path import Sheet, path_data, thread_colour
from stitchpath.plan import Plan
from stitchpath.route.runs import Leg, Run
from stitchpath.typing import FloatArray

__all__ = ["plan_guide_svg"]

_Mark: TypeAlias = Literal["begins", "ends", "both"]
_REACH: dict[_Mark, float] = {"begins": 0.85, "ends": 1.0, "both": 1.28}  # of the letters' height
_KEY = (
    "solid: stitch, the way the arrows point; dashed beside it: go over it again; dotted: travel",
    "disc: the run of that number begins; square: it ends; disc in a square: both",
    "Your machine's manual comes first. Try stitch and thread on a sample of the same layers.",
)


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
            self._taken[self._key(x, y)].append((x, y, radius))
        return free

    def free(self, point: FloatArray, radius: float, but: FloatArray | None = None) -> bool:
        """Tell whether a place is free, or has only what is taken at a certain point."""
        x, y = float(point[0]), float(point[1])
        i, j = self._key(x, y)
        near = [k for a in (i - 1, i, i + 1) for b in (j - 1, j, j + 1)
                for k in self._taken.get((a, b), ())]  # fmt: skip
        return all(
            math.hypot(x - u, y - v) >= radius + r or (but is not None and (u, v) == tuple(but))
            for u, v, r in near
        )

    def _key(self, x: float, y: float) -> tuple[int, int]:
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
    sheet = Sheet(plan, below=(len(_KEY) + 1) * 1.6 * text)
    parts = [sheet.head(f"{plan.top.name}: guide"), *sheet.underlay(plan, text / 20)]
    marks = list(_ends(plan, sheet, text, room))
    for run in plan.runs:
        parts += _run(plan, sheet, run, text, room)
    parts += marks
    parts += _key(sheet, text)
    return "".join([*parts, "</svg>\n"])


def _text_size(plan: Plan) -> float:
    """Height of letters, mm: to be read when the whole is printed on one page."""
    return max(plan.top.width, plan.top.height) / 90


def _run(plan: Plan, sheet: Sheet, run: Run, text: float, room: _Room) -> Iterator[str]:
    colour = thread_colour(plan, run.thread)
    yield (
        f'<g id="run-{run.number}" fill="none" stroke="{colour}" stroke-width="{text / 6:.3f}" '
        'stroke-linejoin="round">\n'
        f"<title>{xml_text(f'run {run.number}, stage {run.stage}, {run.thread}')}</title>\n"
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
    arrows = " ".join(_arrows(drawn, text * 9, text * 0.7, room))
    yield f'<path class="arrows" fill="{colour}" stroke="none" d="{arrows}"/>\n</g>\n'


def _drawn(leg: Leg, aside: float) -> FloatArray:
    """Draw a leg that goes over a line again to the right of it, so that both are seen."""
    if leg.do != "retrace":
        return leg.points
    beside = shapely.offset_curve(LineString(leg.points), aside, join_style="mitre")
    points = shapely.get_coordinates(beside)  # in parts, one after another, where it is very bent
    return points if len(points) else leg.points


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


def _ends(plan: Plan, sheet: Sheet, text: float, room: _Room) -> Iterator[str]:
    """Mark with its number where each run begins and ends.

    A mark that would cover another, or its place, stands aside, with a line to a dot at its own.
    """
    found: list[tuple[Run, _Mark, FloatArray]] = []
    for run in plan.runs:
        first, last = run.legs[0].points[0], run.legs[-1].points[-1]
        closed = bool(np.all(first == last))
        found += [(run, "both", first)] if closed else [(run, "begins", first), (run, "ends", last)]
    places = _Room(3 * text)
    for _, _, point in found:
        places.take(point, 0.3 * text)
    stand = [_beside(point, sheet, _REACH[mark] * text, text, room, places)
             for _, mark, point in found]  # fmt: skip
    yield f'<g font-family="sans-serif" font-size="{text:.3f}" text-anchor="middle">\n'
    for (run, _, point), at in zip(found, stand, strict=True):  # lines lie under the marks
        if np.any(at != point):
            colour = thread_colour(plan, run.thread)
            yield (
                f'<path stroke="{colour}" stroke-width="{text / 12:.3f}" '
                f'd="{path_data(np.array([point, at]))}"/>'
                f'<circle cx="{point[0]:.3f}" cy="{point[1]:.3f}" r="{text / 4:.3f}" '
                f'fill="{colour}"/>\n'
            )
    for (run, mark, _), at in zip(found, stand, strict=True):
        yield _mark(run.number, mark, at, text, thread_colour(plan, run.thread))
    yield "</g>\n"


def _mark(number: int, mark: _Mark, at: FloatArray, text: float, colour: str) -> str:
    """Draw the mark of a run's end with its number."""
    x, y = at.tolist()
    edge = f'stroke="{colour}" stroke-width="{text / 8:.3f}"'
    parts = []
    if mark != "begins":
        side = text * (1.4 if mark == "ends" else 1.8)
        parts.append(
            f'<rect x="{x - side / 2:.3f}" y="{y - side / 2:.3f}" '
            f'width="{side:.3f}" height="{side:.3f}" fill="#ffffff" {edge}/>'
        )
    if mark != "ends":
        parts.append(f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{text * 0.75:.3f}" fill="{colour}"/>')
    ink = colour if mark == "ends" else "#ffffff"
    parts.append(f'<text x="{x:.3f}" y="{y + text * 0.35:.3f}" fill="{ink}">{number}</text>\n')
    return "".join(parts)


def _beside(
    point: FloatArray, sheet: Sheet, reach: float, text: float, room: _Room, places: _Room
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


def _key(sheet: Sheet, text: float) -> Iterator[str]:
    yield f'<g font-family="sans-serif" font-size="{text:.3f}" fill="#303030">\n'
    for number, line in enumerate(_KEY):
        y = sheet.top + sheet.height - (len(_KEY) - number) * 1.6 * text
        yield f'<text x="{sheet.left + text:.3f}" y="{y:.3f}">{xml_text(line)}</text>\n'
    yield "</g>\n"
