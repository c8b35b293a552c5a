"""A quick estimate by area, before there is a design: a range, and what moves it most.

Length of a fill is area over spacing, times how often the fill lays that spacing down. Every input
has a spread; the spreads are combined by their root sum of squares, each input moved alone, as
JCGM 100 (the GUM, 5.1.2) has it for inputs that do not depend on each other.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from stitchpath.base.errors import StitchpathError
from stitchpath.hands.pace import Pace
from stitchpath.thread.lockstitch import Ratio, Stitching

__all__ = ["FILLS", "AreaEstimate", "Range", "Swing", "estimate_by_area"]


@dataclass(frozen=True, slots=True)
class Range:
    """Low, likely and high."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True)
class Swing:
    """What one input does to the thread when it alone is moved over its spread.

    Attributes
    ----------
    what
        The input, in a quilter's words.
    value
        Its own spread.
    thread
        Thread in all, waste counted, at the low and the high end of the spread, mm; not always in
        rising order.
    measure
        What the spread is measured in, such as "mm", or "times those set".
    """

    what: str
    value: Range
    thread: tuple[float, float]
    measure: str = ""

    @property
    def width(self) -> float:
        """How far it moves the thread, mm."""
        return abs(self.thread[1] - self.thread[0])


@dataclass(frozen=True, slots=True)
class AreaEstimate:
    """What a quilt of this size will take.

    Attributes
    ----------
    seam
        Stitched, mm.
    top, bobbin
        Thread, waste counted, mm.
    thread
        Both together, mm.
    bobbins
        How many; the ends of the range are whole.
    seconds
        At the machine: stitching, bobbin changes; in a frame loading, basting, rolling on and the
        rest of what is done there.
    swings
        By input, that which moves the thread most first.
    """

    seam: Range
    top: Range
    bobbin: Range
    thread: Range
    bobbins: Range
    seconds: Range
    swings: tuple[Swing, ...]


_CLAMSHELL = math.pi
_ORANGE_PEEL = math.sqrt(2) * math.pi


def _about(likely: float, low: float, high: float) -> Range:
    """Give a likely value and the factors to its low and high end."""
    return Range(likely * low, likely, likely * high)


FILLS: Mapping[str, Range] = {
    "parallel": _about(1.0, 0.98, 1.02),
    "crosshatch": _about(2.0, 0.98, 1.02),
    "rings": _about(1.0, 0.95, 1.05),
    "spiral": _about(1.0, 0.98, 1.02),
    "waves": _about(1.05, 0.95, 1.05),
    "matchstick": _about(1.0, 0.95, 1.05),
    "piano keys": _about(1.0, 0.95, 1.05),
    "loops": _about(3.2, 0.9, 1.1),
    "radiating lines": _about(1.4, 0.85, 1.2),
    "pebbles": _about(3.35, 0.95, 1.05),
    "clamshell": _about(_CLAMSHELL, 0.98, 1.02),
    "orange peel": _about(_ORANGE_PEEL, 0.98, 1.02),
    "meander": _about(1.0, 0.8, 1.3),
    "stipple": _about(1.0, 0.8, 1.3),
}
"""Length of a fill, as a multiple of area over spacing. Geometry where lines are ruled: crosshatch
has two sets of lines; clamshells as wide as the spacing stand in rows half that apart, each a half
circle; orange peel on a grid of the spacing has two quarter circles over every side of a square. A
hand that wanders keeps its distance to a quarter or so: from memory. Rings, waves, loops, pebbles
and radiating lines as
`stitchpath.lines.fills` draws them."""


@dataclass(frozen=True, slots=True)
class _Inputs:
    """Everything an estimate rests on, each a number that can be moved alone.

    `fill` is in FILLS' measure; `again`, `stitches` and `speed` are factors; thickness in mm.
    """

    fill: float
    again: float
    stitches: float
    thickness: float
    balance: float
    top_ratio: float
    bobbin_ratio: float
    waste: float
    packing: float
    speed: float


_WORDS = {
    "fill": ("how closely the fill is laid", "times area over spacing"),
    "again": ("going over the ditch again", "times its length"),
    "stitches": ("stitches per inch", "times those set"),
    "thickness": ("thickness stitched through", "mm"),
    "balance": ("balance of the stitch", "of the thickness"),
    "top_ratio": ("top thread as measured", "times the seam"),
    "bobbin_ratio": ("bobbin thread as measured", "times the seam"),
    "waste": ("waste", "of the thread"),
    "packing": ("how tightly the bobbin is wound", "of its room"),
    "speed": ("speed", "times that set"),
}
"""Inputs in a quilter's words, and what they are measured in."""


def estimate_by_area(
    width: float,
    height: float,
    *,
    fill: str | None = None,
    spacing: float | None = None,
    ditch: float = 0.0,
    stitching: Stitching | None = None,
    pace: Pace | None = None,
    rolled: int = 0,
) -> AreaEstimate:
    """Estimate thread, bobbins and time from the size of the quilt.

    Ends are not counted: how many there are is not known yet, and they are a hundredth or so.

    Parameters
    ----------
    width, height
        Of the finished top, mm.
    fill
        A key of `FILLS`, or None for ditch only.
    spacing
        Of the fill, mm.
    ditch
        Seams stitched in the ditch, each once, mm.
    stitching, pace
        Likely values of what the estimate rests on.
    rolled
        How often the quilt is rolled on in a frame.

    Returns
    -------
    AreaEstimate
        Ranges, and the inputs by how far each moves the thread.

    Raises
    ------
    StitchpathError
        If there is nothing to stitch, or a size or fill makes no sense.
    """
    stitching = stitching or Stitching()
    _check(width, height, fill, spacing, ditch)
    fill_length = width * height / spacing if fill and spacing else 0.0
    ranges = _ranges(stitching, FILLS[fill] if fill else Range(0, 0, 0))

    pace = pace or Pace()
    framing = rolled * (pace.advance + pace.clamps) + (rolled + 1) * pace.baste
    framing += pace.load + pace.tension + pace.unload

    def reckon(inputs: _Inputs) -> dict[str, float]:
        found = _reckon(inputs, fill_length, ditch, stitching, pace)
        return {**found, "seconds": found["seconds"] + framing}

    likely_inputs = _Inputs(**{name: value.likely for name, value in ranges.items()})
    likely = reckon(likely_inputs)
    moved = {
        name: [reckon(replace(likely_inputs, **{name: end})) for end in (value.low, value.high)]
        for name, value in ranges.items()
    }
    swings = [
        Swing(_WORDS[name][0], ranges[name], (low["thread"], high["thread"]), _WORDS[name][1])
        for name, (low, high) in moved.items()
    ]
    result = {
        out: _combined(likely[out], [(a[out], b[out]) for a, b in moved.values()]) for out in likely
    }
    bobbins = result.pop("bobbins")
    return AreaEstimate(
        **result,
        bobbins=Range(
            *(math.ceil(round(n, 9)) for n in (bobbins.low, bobbins.likely, bobbins.high))
        ),
        swings=tuple(
            sorted((s for s in swings if s.width > 0), key=lambda s: s.width, reverse=True)
        ),
    )


def _check(
    width: float, height: float, fill: str | None, spacing: float | None, ditch: float
) -> None:
    """Refuse what cannot be estimated."""
    if not (width > 0 and height > 0):
        raise StitchpathError(
            f"found {width:g} x {height:g} mm, expected two lengths above nothing"
        ).of_argument("size")
    if fill is None:
        if not ditch > 0:
            raise StitchpathError("found neither a fill nor a ditch, expected one to be stitched")
    elif fill not in FILLS:
        raise StitchpathError(f'found "{fill}", expected one of {", ".join(FILLS)}').of_argument(
            "fill"
        )
    elif spacing is None or not spacing > 0:
        found = "none" if spacing is None else f"{spacing:g} mm"
        raise StitchpathError(f"found {found}, expected a length above nothing").of_argument(
            "spacing"
        )
    if not ditch >= 0:
        raise StitchpathError(f"found {ditch:g} mm, expected nothing or more").of_argument("ditch")


def _ranges(stitching: Stitching, fill: Range) -> dict[str, Range]:
    """Tell the spread of every input about its likely value; from memory unless said otherwise."""
    ratio = stitching.ratio
    measured = ratio or Ratio(1.0, 1.0)
    formula = ratio is None
    balance = stitching.balance
    return {
        "fill": fill,
        "again": Range(1.0, 1.1, 1.3),
        "stitches": Range(0.85, 1.0, 1.15),
        "thickness": _about(stitching.thickness, *((0.5, 1.5) if formula else (1.0, 1.0))),
        "balance": Range(max(balance - 0.1, 0.0), balance, min(balance + 0.1, 1.0))
        if formula
        else Range(balance, balance, balance),
        "top_ratio": _measured(measured.top, measured.top_spread),
        "bobbin_ratio": _measured(measured.bobbin, measured.bobbin_spread),
        # Published: 10 to 15 %.
        "waste": Range(min(0.10, stitching.waste), stitching.waste, max(0.15, stitching.waste)),
        "packing": _about(stitching.packing, 0.8, 1.2),
        "speed": Range(0.6, 1.0, 1.4),
    }


def _measured(ratio: float, spread: float) -> Range:
    """Two standard deviations either way, but no thread is shorter than its seam."""
    return Range(max(min(1.0, ratio), ratio - 2 * spread), ratio, ratio + 2 * spread)


def _reckon(
    inputs: _Inputs, fill: float, ditch: float, stitching: Stitching, pace: Pace
) -> dict[str, float]:
    """Work the model through for one set of inputs."""
    ratio = stitching.ratio
    if ratio is not None:
        ratio = replace(ratio, top=inputs.top_ratio, bobbin=inputs.bobbin_ratio)
    tried = replace(
        stitching,
        per_mm=stitching.per_mm.times(inputs.stitches),
        thickness=inputs.thickness,
        balance=inputs.balance,
        ratio=ratio,
        packing=min(inputs.packing, 1.0),
    )
    seams = ((fill * inputs.fill, "fill"), (ditch * inputs.again, "ditch"))
    top = bobbin = seconds = 0.0
    for seam, kind in seams:
        per_top, per_bobbin = tried.per_seam(getattr(tried.per_mm, kind))
        top += seam * per_top
        bobbin += seam * per_bobbin
        seconds += seam / (getattr(pace.speed, kind) * inputs.speed)
    kind_of = tried.bobbin_thread or tried.thread
    bobbins = bobbin / (tried.room(kind_of) * (1 - tried.spare))
    return {
        "seam": sum(seam for seam, _ in seams),
        "top": top * (1 + inputs.waste),
        "bobbin": bobbin * (1 + inputs.waste),
        "thread": (top + bobbin) * (1 + inputs.waste),
        "bobbins": bobbins,
        "seconds": seconds + bobbins * pace.bobbin,
    }


def _combined(likely: float, ends: list[tuple[float, float]]) -> Range:
    """Combine what each input moves by itself: root sum of squares, down and up apart."""
    down = math.hypot(*(likely - min(*pair, likely) for pair in ends))
    up = math.hypot(*(max(*pair, likely) - likely for pair in ends))
    return Range(max(likely - down, 0.0), likely, likely + up)
