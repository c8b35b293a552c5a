"""Which way a quilt is loaded into a frame: with its top edge first, or sideways, its left edge."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import format_length
from stitchpath.design.model import Design, Loaded
from stitchpath.lines.frame.reach import reach_of
from stitchpath.lines.frame.windows import frame_seconds
from stitchpath.lines.line import Line
from stitchpath.top.build import Top

__all__ = ["Loading", "as_loaded", "choose_loading"]

_WAYS: tuple[Loaded, ...] = get_args(Loaded)


@dataclass(frozen=True, slots=True)
class Loading:
    """How a quilt is loaded, and what either way takes.

    Attributes
    ----------
    way
        As it is asked; else the quicker of those that fit, of equals lengthwise; lengthwise where
        it is not said how wide the frame is.
    windows
        How many windows each way takes that fits the frame.
    seconds
        For each what depends on it: advances, threads cut because a line is not shown whole, ends
        that are nowhere near the edge. Before the route is sought, so what it saves is not in it.
    wide
        How wide a backing each way takes, mm.
    """

    way: Loaded
    windows: Mapping[Loaded, int]
    seconds: Mapping[Loaded, float]
    wide: Mapping[Loaded, float]

    @property
    def other(self) -> Loaded:
        """The way it is not loaded."""
        return "lengthwise" if self.way == "sideways" else "sideways"


def as_loaded(design: Design, way: Loaded) -> Design:
    """Say in a design which way its quilt is loaded."""
    machine = design.machine.model_copy(update={"loaded": way})
    return design.model_copy(update={"machine": machine})


def _wide(design: Design, top: Top) -> dict[Loaded, float]:
    """Tell how wide the backing lies in the frame, either way, mm."""
    margin = 2 * design.batting.margin
    return {"lengthwise": top.width + margin, "sideways": top.height + margin}


def _ways_that_fit(design: Design, top: Top) -> tuple[Loaded, ...]:
    """List the ways in which a quilt is no wider than its frame.

    Raises
    ------
    StitchpathError
        When that which is asked for is none of them, or there is none.
    """
    asked, width = design.machine.loaded, design.machine.width
    wide = _wide(design, top)
    fit = tuple(way for way in _WAYS if width is None or wide[way] <= width)
    if width is None or (fit if asked is None else asked in fit):
        return fit
    narrow: Loaded = "lengthwise" if wide["lengthwise"] <= wide["sideways"] else "sideways"
    first = asked or narrow
    other = next(way for way in _WAYS if way != first)
    needs = {way: format_length(wide[way], design.unit) for way in _WAYS}
    raise StitchpathError(
        f"machine.width: found a frame that takes {format_length(width, design.unit)}, expected at "
        f"least {needs[first]}, which the backing is wide when it is loaded {first}; {other} it is "
        f"{needs[other]}"
    )


def choose_loading(
    design: Design, top: Top, lines: Sequence[Line], drawn: Sequence[Line]
) -> Loading:
    """Choose which way a quilt is loaded.

    Parameters
    ----------
    design, top
        The design, in a frame, and its top.
    lines
        What is to be quilted, noded.
    drawn
        Before it was noded.

    Returns
    -------
    Loading
        As it is asked; else the quicker way of those that fit, of equals lengthwise; lengthwise
        where it is not said how wide the frame is.

    Raises
    ------
    StitchpathError
        When it fits no way, or the frame shows too little of it.
    """
    asked, wide = design.machine.loaded, _wide(design, top)
    ways = _ways_that_fit(design, top)
    if reach_of(design.machine) is None:
        return Loading(asked or ways[0], {}, {}, wide)
    windows: dict[Loaded, int] = {}
    seconds: dict[Loaded, float] = {}
    refused: dict[Loaded, StitchpathError] = {}
    for way in ways:
        try:
            windows[way], seconds[way] = frame_seconds(as_loaded(design, way), top, lines, drawn)
        except StitchpathError as error:  # its roll leaves no room
            refused[way] = error
    # Sideways by itself only where it is known to fit.
    known = ways if design.machine.width is not None else _WAYS[:1]
    known = known if asked is None else (asked,)
    tried = [way for way in known if way in seconds]
    if not tried:
        raise refused[known[0]]
    return Loading(min(tried, key=lambda way: round(seconds[way])), windows, seconds, wide)
