"""In what order the areas are stitched, written on the map."""

from collections.abc import Sequence

import numpy as np

from stitchpath.base.marks import PAPER
from stitchpath.export.guide.drawing import View
from stitchpath.export.guide.labels import Labels
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import text_width
from stitchpath.export.pdf.sheet import INK, Box
from stitchpath.told.cards import Visit, cards

__all__ = ["draw_orders"]

_ORDER = 9.5  # points
_NEAR = 8.0  # mm: a number so near to its area needs no line, which would strike its name out
_MOST = 3  # spans of numbers on one area


def draw_orders(view: View, scene: Scene, labels: Labels) -> None:
    """Write on each area how manieth it is stitched.

    Parameters
    ----------
    view
        Of the whole top.
    scene
        The plan.
    labels
        Room already taken.
    """
    orders: dict[object, list[Visit]] = {}
    for card in cards(scene.plan):
        for visit in card.visits:
            if visit.walk.area is not None:
                orders.setdefault(visit.walk.area, []).append(visit)
    turns = np.linspace(0, 2 * np.pi, 17)[:-1]
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    for visits in orders.values():
        points = np.concatenate([s.points for visit in visits for s in visit.walk.strokes])
        middle = view.onto((points.min(axis=0) + points.max(axis=0))[None] / 2)[0]
        text = _spans(sorted(visit.order for visit in visits))
        half = np.array([text_width(text, _ORDER, "strong") / 2 + 1.0, 2.1])
        places = np.concatenate([middle[None], *(middle + ways * r for r in (4.6, 7, 10, 14, 20))])
        boxes = np.hstack([places - half, places + half])
        best = max(labels.first_free(boxes), 0)
        box = Box(*boxes[best].tolist())
        labels.block(box.grown(0.3))
        x, y = places[best].tolist()
        if np.hypot(*(places[best] - middle)) > _NEAR:
            view.sheet.draw([np.array([middle, places[best]])], width=0.2)
        view.sheet.rectangle(box, PAPER, edge=INK, width=0.35)
        view.sheet.note("order")
        view.sheet.write((x, y + 1.25), text, _ORDER, "strong", align="centre")


def _spans(numbers: Sequence[int]) -> str:
    """Write numbers, those that follow each other as a span; of many the first."""
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    said = [f"{s[0]}" if len(s) == 1 else f"{s[0]}–{s[-1]}" for s in found]  # noqa: RUF001
    return ", ".join(said[:_MOST]) + ("…" if len(said) > _MOST else "")
