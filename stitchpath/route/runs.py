"""What a route is made of: legs, runs and the proof."""

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from stitchpath.base.typing import Along, FloatArray, Where
from stitchpath.base.units import format_count
from stitchpath.geometry.polylines import path_lengths

if TYPE_CHECKING:
    import svgpathtools

__all__ = ["Along", "Do", "Leg", "Proof", "Run", "Where"]

Do: TypeAlias = Literal["stitch", "retrace", "travel"]


@dataclass(frozen=True, slots=True, repr=False)
class Leg:
    """A piece of a run.

    Attributes
    ----------
    do
        "stitch": first time over a line; "retrace": again over it; "travel": over a line that
        needs no stitching.
    points
        Polyline in the direction of stitching, shape (n, 2), mm.
    line
        Index of the line stitched or retraced, -1 for travel.
    along
        What a travel leg runs along; None for the others.
    seam
        Number of the seam of the top that it lies on, or -1.
    ahead
        Whether it goes the way of that seam, or of its line off the seams.
    """

    do: Do
    points: FloatArray
    line: int = -1
    along: Along | None = None
    seam: int = -1
    ahead: bool = True

    @property
    def length(self) -> float:
        """How long it is, mm."""
        return float(path_lengths([self.points])[0])

    def __repr__(self) -> str:
        """Say in one line what it is."""
        what = f"travel along the {self.along}" if self.along else f"{self.do} line {self.line}"
        return f"<Leg: {what}, {self.length:.1f} mm>"


@dataclass(frozen=True, slots=True, repr=False)
class Run:
    """One unbroken thread path.

    Attributes
    ----------
    number
        From 1, in stitching order over the whole plan.
    stage, thread
        What it belongs to.
    start_where, end_where
        Where the needle goes down and comes up: margin, edge or inside the top.
    legs
        In stitching order; each begins where the one before it ended.
    window
        In a frame, the window that it begins in, from 1 at the top edge; else 0.
    parked
        In a frame: legs before which the needle is parked while the quilt is rolled on, and the
        window in which it goes on.
    """

    number: int
    stage: int
    thread: str
    start_where: Where
    end_where: Where
    legs: tuple[Leg, ...]
    window: int = 0
    parked: tuple[tuple[int, int], ...] = ()

    @property
    def last_window(self) -> int:
        """The window that it ends in."""
        return self.parked[-1][1] if self.parked else self.window

    @property
    def windows(self) -> tuple[int, ...]:
        """The window of each leg."""
        firsts = [0, *(leg for leg, _ in self.parked), len(self.legs)]
        numbers = [self.window, *(number for _, number in self.parked)]
        return tuple(
            number
            for (first, last), number in zip(pairwise(firsts), numbers, strict=True)
            for _ in range(first, last)
        )

    def __repr__(self) -> str:
        """Say in one line what it is."""
        legs, length = format_count(len(self.legs), "leg"), sum(leg.length for leg in self.legs)
        return f"<Run {self.number}: {self.thread!r}, {legs}, {length:.1f} mm>"

    def to_svgpathtools(self) -> "svgpathtools.Path":
        """Give the run as one unbroken path of straight pieces; wants svgpathtools.

        Returns
        -------
        svgpathtools.Path
            Its coordinates are complex numbers x + y·i, mm, y down.

        Raises
        ------
        ImportError
            When svgpathtools is not there.

        Examples
        --------
        >>> import stitchpath
        >>> routed = stitchpath.route_lines([[(0, 0), (50, 0)], [(50, 0), (50, 50)]])
        >>> path = routed.runs[0].to_svgpathtools()
        >>> path.iscontinuous(), round(path.length(), 6)
        (True, 100.0)
        """
        import svgpathtools  # noqa: PLC0415 - an extra, not needed elsewhere

        points = np.concatenate([self.legs[0].points[:1], *(leg.points[1:] for leg in self.legs)])
        at = (points[:, 0] + 1j * points[:, 1]).tolist()
        pieces = [svgpathtools.Line(a, b) for a, b in pairwise(at) if a != b]
        return svgpathtools.Path(*pieces)


@dataclass(frozen=True, slots=True)
class Proof:
    """How good a route is, in what it is weighed by.

    Attributes
    ----------
    cost, lower_bound, optimal
        What it costs, what no route can cost less than, and whether the two meet.
    cut_off
        Whether the search was ended by the computer's clocks, not by its time limit: only a
        computer far too slow or busy does that, and another run may find another route.
    unit
        "s": seconds at her own pace; "mm": of stitching, at the prices of the design.
    free
        What the cheapest route found costs that keeps to no order; None where none is kept. With an
        order the bound is for routes that keep to it.
    """

    cost: float
    lower_bound: float
    optimal: bool
    cut_off: bool = False
    unit: Literal["s", "mm"] = "mm"
    free: float | None = None

    @property
    def gap(self) -> float:
        """How far the cost lies above the bound, as a share of it."""
        return (self.cost - self.lower_bound) / self.cost if self.cost else 0.0
