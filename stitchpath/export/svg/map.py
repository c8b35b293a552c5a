"""Plan to the map: each line once over the seams, at true size, with what lines mean below."""

from collections.abc import Iterator
from itertools import groupby

import numpy as np

from stitchpath.base.escape import xml_name, xml_text
from stitchpath.base.marks import PAPER, LineName, casing_of, casing_reach, legend_of
from stitchpath.base.typing import FloatArray
from stitchpath.export.svg.key import PEN, draw_key, key_height, stroke
from stitchpath.export.svg.path import THIN, SvgSheet, layer, looks_of, unlike
from stitchpath.lines.ditch import seams_left
from stitchpath.plan import Plan
from stitchpath.route.runs import Run

__all__ = ["plan_map"]

_LETTERS = THIN / PEN  # mm: so high that the key is drawn with the pen of the map


def plan_map(plan: Plan) -> str:
    """Write what is stitched over outline, seams and pieces as SVG (SVG 1.1, W3C recommendation).

    Each line is drawn once, however often it is gone over: dashes of two passes would fill each
    other's gaps.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    str
        An SVG whose user unit is a millimetre: the top, its margin and the key.
    """
    drawn = [(run, line, _once(run, line)) for run in plan.runs for line in _LINES]
    drawn = [each for each in drawn if each[2]]
    used = {(line, run.thread): None for run, line, _ in drawn} | {("edge", ""): None}
    if plan.top.pieces or seams_left(plan.top, plan.lines):
        used["seam", ""] = None
    key = legend_of(used, looks_of(plan), plan.design.batting.margin)
    sheet = SvgSheet(plan)
    page = SvgSheet(plan, below=key_height(key, sheet, _LETTERS))
    parts = [page.head(f"{plan.top.name}: map"), *page.underlay(plan, THIN)]
    parts += _casings(plan, sheet, drawn)
    parts += _layers(plan, sheet, drawn)
    parts += draw_key(plan, key, sheet, _LETTERS)
    return "".join([*parts, "</svg>\n"])


_LINES: tuple[LineName, ...] = ("travel", "stitch")
_Drawn = tuple[Run, LineName, list[FloatArray]]


def _once(run: Run, line: LineName) -> list[FloatArray]:
    """Join what of a run is stitched for the first time, or only to get there."""
    paths = []
    for do, legs in groupby(run.legs, key=lambda leg: leg.do):
        if do == line:
            points = [leg.points for leg in legs]
            paths.append(np.concatenate([points[0], *(more[1:] for more in points[1:])]))
    return paths


def _casings(plan: Plan, sheet: SvgSheet, drawn: list[_Drawn]) -> Iterator[str]:
    """Lay the lines of light threads on a dark tone."""
    for thread, look in looks_of(plan).items():
        casing = casing_of(look.colour, [PAPER])
        if casing is None:
            continue
        width = THIN * (1 + 2 * casing_reach(casing))
        paths = (path for run, _, paths in drawn if run.thread == thread for path in paths)
        yield (
            f'<g {layer(f"casing, {thread}")} fill="none" stroke="{casing}" '
            f'stroke-width="{width:g}" stroke-linecap="round" stroke-linejoin="round">\n'
            f'<path d="{" ".join(map(sheet.data, paths))}"/>\n</g>\n'
        )


def _layers(plan: Plan, sheet: SvgSheet, drawn: list[_Drawn]) -> Iterator[str]:
    taken: set[str] = set()
    for (stage, thread), some in groupby(drawn, key=lambda each: (each[0].stage, each[0].thread)):
        look = looks_of(plan)[thread]
        name = unlike(f"stage-{stage}-{xml_name(thread)}", taken)
        yield (
            f'<g id="{name}" {layer(f"stage {stage}, {thread}")} fill="none" '
            f'stroke="{look.colour}" stroke-linejoin="round">\n'
        )
        for run, line, paths in some:
            own = f'id="run-{run.number}"' if line == "stitch" else f'class="{line}"'
            data = " ".join(map(sheet.data, paths))
            title = xml_text(f"run {run.number}, stage {run.stage}, {run.thread}")
            yield f'<path {own}{stroke(line, look, _LETTERS)} d="{data}">'
            yield f"<title>{title}</title></path>\n"
        yield "</g>\n"
