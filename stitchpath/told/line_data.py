"""The lines of a design as plain JSON, with what is loose, what would hold it, and all checks."""

from collections.abc import Sequence
from typing import Any, get_args

import numpy as np

from stitchpath.base.marks import casing_reach, thread_looks
from stitchpath.base.typing import Kind
from stitchpath.base.units import format_distance, format_length
from stitchpath.checks.all import check_plan
from stitchpath.checks.batting import ground_words, loose_ground
from stitchpath.checks.cures import Remedy, Survey, remedies
from stitchpath.document.cure_edits import cure_edits
from stitchpath.geometry.polylines import path_lengths
from stitchpath.hands.feet import foot_for, foot_of
from stitchpath.hands.pace import KINDS
from stitchpath.lines.threads import thread_colours, thread_for
from stitchpath.told.path_words import line_data_of

__all__ = ["line_data"]


def line_data(looked: Survey, *, cures: bool = True) -> dict[str, Any]:
    """Tell the lines of a design, loose ground, and what could go wrong.

    Parameters
    ----------
    looked
        From `look_over`.
    cures
        Whether to look for what holds loose ground, which takes a while.

    Returns
    -------
    dict
        Plain JSON; lengths mm but for `metres`. `seconds` of each line, and those of every seam of
        the top were it stitched, `seams`, are of the stitching alone, without ends and ways.
    """
    lines, words = looked.lines, looked.words
    lengths = path_lengths([line.points for line in lines]) / 1000
    drawn = line_data_of([line.points for line in lines])
    metres: dict[str, float] = {}
    for line, length in zip(lines, lengths.tolist(), strict=True):
        metres[line.kind] = metres.get(line.kind, 0.0) + length
    sewn, seams = _seconds(looked)
    looks = thread_looks((line.thread for line in lines), thread_colours(looked.design))
    found = remedies(looked) if cures else []
    return {
        "lines": [
            {
                "n": n,
                "kind": line.kind,
                "stage": line.stage,
                "thread": line.thread,
                "seam": line.seam if line.seam >= 0 else None,
                "piece": line.of.pieces[0] if line.of.pieces else None,
                "words": words.subject(line.of),
                "d": drawn[n],
                "metres": round(float(lengths[n]), 4),
                "seconds": sewn[n],
                "fill": line.of.fill if line.of.fill >= 0 else None,
            }
            for n, line in enumerate(lines)
        ],
        "seams": seams,
        "threads": [
            {
                "name": look.name,
                "colour": look.colour,
                "dash": look.dash,
                "width": look.width,
                "look": look.words,
                "casing": look.casing,
                "reach": casing_reach(look.casing),
            }
            for look in looks.values()
        ],
        "by_kind": {kind: thread_for(looked.design, kind) for kind in get_args(Kind)},
        "metres": {kind: round(length, 3) for kind, length in metres.items()},
        "long": {
            kind: format_distance(length * 1000, looked.top.unit) for kind, length in metres.items()
        },
        "loose": _loose(looked, found),
        "cures": [_cure(n, looked, remedy) for n, remedy in enumerate(_that_hold(found))],
        "checks": [
            {
                "kind": check.level,
                "code": check.code,
                "words": check.plain,
                "places": [np.round(check.at, 2).tolist()] if check.at else [],
            }
            for check in check_plan(looked)
        ],
    }


def _seconds(looked: Survey) -> tuple[list[float], list[float]]:
    """Give the seconds of each line, and of each seam of the top in the ditch."""
    tariff, lines = looked.tariff, looked.lines
    kinds = np.array([KINDS.index(line.kind) for line in lines], dtype=np.int64)
    feet = np.array([foot_of(looked.design, line) for line in lines], dtype=np.int64)
    sewn = tariff.sewing([line.points for line in lines], feet, kinds)
    paths = [seam.points for seam in looked.top.seams]
    foot = foot_for(looked.design.machine, "ditch", straight=True)
    ditch = np.full(len(paths), KINDS.index("ditch"))
    seams = tariff.sewing(paths, np.full(len(paths), foot), ditch)
    return np.round(sewn, 1).tolist(), np.round(seams, 1).tolist()


def _that_hold(found: Sequence[Remedy]) -> list[Remedy]:
    return [remedy for remedy in found if remedy.design is not None]


def _loose(looked: Survey, found: Sequence[Remedy]) -> list[dict[str, Any]]:
    """List the rings, the widest first, each with the number of its cure."""
    if looked.design.batting.holds is None:
        return []
    numbers: dict[tuple[float, float], int] = {}
    for n, remedy in enumerate(_that_hold(found)):
        numbers |= dict.fromkeys([(place.x, place.y) for place in remedy.places], n)
    rings = []
    for place in looked.loose:
        where = loose_ground(looked.top, [place], looked.words)
        ground = ground_words(looked.words, where[0].patches) if where else "the top"
        wide = format_length(place.diameter, looked.top.unit)
        rings.append(
            {
                "x": round(place.x, 2),
                "y": round(place.y, 2),
                "r": round(place.diameter / 2, 2),
                "words": f"a circle {wide} wide without stitching in {ground}",
                "cure": numbers.get((place.x, place.y)),
            }
        )
    return rings


def _cure(n: int, looked: Survey, remedy: Remedy) -> dict[str, Any]:
    assert remedy.design is not None  # noqa: S101 - those without are left out before
    return {
        "n": n,
        "words": remedy.words,
        "metres": round(remedy.length / 1000, 2),
        "long": format_distance(remedy.length, looked.top.unit),
        "minutes": round(remedy.seconds / 60, 1),
        "edits": cure_edits(looked.design, remedy.design),
    }
