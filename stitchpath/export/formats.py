"""The formats by name: what each is for, and in what groups a quilter asks for them.

A format is called what its file is called between the name of the design and its ending: `map` is
NAME.map.svg. Where two files differ in nothing else, one has its ending too: `guide-svg`.

This module loads nothing, for the help of the command line tells what there is.
"""

from stitchpath.base.units import Unit

__all__ = ["ABOUT", "CHOICES", "GROUPS", "OTHER_NAMES", "PAPERS", "on_paper", "printed"]

ABOUT = {
    "plan": "the plan itself: lines, runs, thread and checks, for other programs",
    "path": "the path, one line for each run, at true size",
    "map": "each line once over the seams, with what lines mean, at true size",
    "low-side": "the path with ditch stitching moved to the low side, at true size",
    "back": "the path mirrored, for marking from the back, at true size",
    "guide-svg": "the path to sew from: arrows, starts and ends, stitching over a line again",
    "plotter": "the path for a pen: a layer for each thread, curves as curves",
    "dxf": "the path for drawing programs: a polyline for each run, over edge, seams and pieces",
    "gcode": "the path as G-code (ISO 6983-1) for a pen; read its first lines before its first run",
    "hpgl": "the path as HP-GL/2 for a pen plotter; read its first lines before its first run",
    "needle": "every point where the needle goes down, a table",
    "directions": "the path in words, run by run",
    "moving": "the stitching as a film, step by step, for a phone beside the machine",
    "picture": "the finished top with its quilting, 300 dots to the inch, for a pattern booklet",
    "picture-svg": "the same picture, to be drawn at any size",
    "job-csv": "the job sheet as a table: runs in order with thread, metres and time",
    "job": "the job sheet on A4, with boxes to tick",
    "job-letter": "the job sheet on US Letter",
    "guide": "the printed guide on A4: cover, map, route cards, stops, thread and time, cautions",
    "guide-letter": "the printed guide on US Letter",
    "guide-a5": "the printed guide on A5",
    "guide-half-letter": "the printed guide on half a US Letter",
    "glance": "one page for the wall on A4: the map, large, and what comes when",
    "glance-letter": "one page for the wall on US Letter",
    "true-size": "the path at 100 % in tiles of A4, to mark from or for a light box",
    "true-size-letter": "the path at 100 % in tiles of US Letter",
    "templates": "pieces, motifs and patches at 100 % on A4",
    "templates-letter": "pieces, motifs and patches at 100 % on US Letter",
}
"""What each format is for, in a few words."""

GROUPS = {
    "At the machine": (
        "guide", "guide-letter", "guide-a5", "guide-half-letter", "glance", "glance-letter",
        "moving", "directions", "job", "job-letter", "job-csv",
    ),
    "To mark and to cut from": (
        "true-size", "true-size-letter", "templates", "templates-letter", "guide-svg", "map",
        "back", "low-side", "path",
    ),
    "For machines": ("plotter", "gcode", "hpgl", "dxf", "needle"),
    "To show, and for other programs": ("picture", "picture-svg", "plan"),
}  # fmt: skip
"""What she looks for in a folder, and the formats that are it."""

CHOICES = {
    "print": "guide, job sheet and tiles, on US Letter where you measure in inches, else on A4",
    "machine": ", ".join(GROUPS["For machines"]),
    "all": "every one, with an index",
}
"""Several formats at once, by one word."""

OTHER_NAMES = {
    "json": "plan",
    "svg": "path",
    "ditch": "low-side",
    "csv": "job-csv",
    "sheet": "job",
    "sheet-letter": "job-letter",
}
"""Names that go on being understood."""

assert {kind for kinds in GROUPS.values() for kind in kinds} == set(ABOUT)  # noqa: S101 - ours


PAPERS = {"a4": "", "letter": "-letter", "a5": "-a5", "half-letter": "-half-letter"}
"""Sizes of paper by name, and what the names of formats on them end in."""

_ON_PAPER = ("guide", "glance", "job", "true-size", "templates")


def on_paper(name: str, paper: str) -> str:
    """Name the format that is the same thing on other paper.

    Parameters
    ----------
    name
        A format.
    paper
        A key of `PAPERS`. What is not made so small goes on a whole sheet of the same kind.

    Examples
    --------
    >>> on_paper("guide-letter", "a5"), on_paper("job", "half-letter"), on_paper("dxf", "a5")
    ('guide-a5', 'job-letter', 'dxf')
    """
    thing = next((k for k in _ON_PAPER if name in {k + end for end in PAPERS.values()}), "")
    if not thing:
        return name
    whole = {"a5": "a4", "half-letter": "letter"}
    small = f"{thing}{PAPERS[paper]}"
    return small if small in ABOUT else f"{thing}{PAPERS[whole[paper]]}"


def printed(unit: Unit) -> tuple[str, ...]:
    """List what is printed, on the paper of where one measures so (common practice)."""
    names = ("guide", "job", "true-size")
    return tuple(f"{name}-letter" for name in names) if unit == "in" else names
