"""On which side of the needle the low side of a seam lies, and where it changes."""

from collections.abc import Mapping, Sequence

import numpy as np

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_judged
from stitchpath.told.landmarks import Landmarks
from stitchpath.told.ways import Way
from stitchpath.top.place import Place
from stitchpath.top.place_names import join_words

__all__ = ["ON", "SHORTLY", "low_side_words"]

ON = {-1: " on your left", 0: " on neither side", 1: " on your right"}
"""The sides in full."""
SHORTLY = {-1: "\N{NO-BREAK SPACE}left", 0: " on neither side", 1: "\N{NO-BREAK SPACE}right"}
"""The sides for print, where "your" left and right are explained once."""

_LISTED = 12  # changes of side that come in no measure, told one by one
_MANY = 3  # changes of side told one by one
_SHORT = 305.0  # mm: on a way up to a foot, a length tells a place as well as its name
_BEATS = (1, 2, 4)  # changes of side after which the measures between them come again
_SAME = 1.0  # mm: measures that differ by less come again


def low_side_words(
    marks: Landmarks, ways: Sequence[Way], near: Place | None, on: Mapping[int, str]
) -> str:
    """Tell where the low side is, and where it changes.

    Parameters
    ----------
    marks
        Words for places.
    ways
        Along seams.
    near
        The block one comes along.
    on
        Words for the sides, by -1 left, 0 none, 1 right.
    """
    return _Teller(marks, on).told(ways, near) if marks.plan.top.pressed else ""


class _Teller:
    """Tells the low side in one of two wordings."""

    def __init__(self, marks: Landmarks, on: Mapping[int, str]) -> None:
        self.marks, self.on = marks, on

    def told(self, ways: Sequence[Way], near: Place | None) -> str:
        begin = ways[0].low
        changes = [k for k in range(1, len(ways)) if ways[k].low != ways[k - 1].low]
        if not changes:
            if begin == 0:
                return "The seam is pressed open: stay right on it."
            return f"Low side{self.on[begin]}."
        done = np.cumsum([way.length for way in ways])
        if len(changes) > _MANY:
            sides = [begin, *(ways[k].low for k in changes)]
            return f"Low side{self.on[begin]}{self.changing(sides, done[np.array(changes) - 1])}."
        said = [f"Low side{self.on[begin]}"]
        for k in changes:
            sewn, left = float(done[k - 1]), float(done[-1] - done[k - 1])
            if sewn <= _SHORT:
                where = f"after {self.far(sewn)}"
            elif left <= _SHORT:
                where = f"for the last {self.far(left)}"
            else:
                where = f"from {self.marks.on_seam(ways[k].leg.points[0], near)} it is"
            said.append(f"{where}{self.on[ways[k].low]}")
        return ", ".join(said) + "."

    def changing(self, sides: Sequence[int], at: FloatArray) -> str:
        """Tell many changes of side, the first side told already, by the measure they keep."""
        on = self.on
        first, gaps = self.far(float(at[0])), np.diff(at)
        over = next((n for n in _BEATS if len(gaps) > n and _repeats(gaps, n)), 0)
        if (0 in sides or not over) and len(at) > _LISTED:
            return f" first, then it changes {len(at)} times: feel for it at each crossing"
        if 0 in sides:
            lasts = zip(gaps.tolist(), sides[1:], strict=False)
            told = [f"{self.far(gap)}{on[where]}" for gap, where in lasts]
            told.append(f"{on[sides[-1]].strip()} to the end")
            return f" for {first}, then {join_words(told)}"
        then = f"after {first}{on[sides[1]]}, then it changes"
        if not over:
            return f", {then} after {join_words([self.far(float(gap)) for gap in gaps])}"
        if over > 1:
            measures = [self.far(float(gap)) for gap in gaps[:over]]
            return f", {then} after {join_words(measures)}, and so on in turn"
        every = self.far(float(gaps[0]))
        return f", and it changes every {every}" if every == first else f", {then} every {every}"

    def far(self, length: float) -> str:
        return format_judged(length, self.marks.plan.top.unit)


def _repeats(gaps: FloatArray, over: int) -> bool:
    """Tell whether measures, mm, come again after so many."""
    return bool(np.all(np.abs(gaps[over:] - gaps[:-over]) < _SAME))
