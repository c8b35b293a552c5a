"""A quick estimate by size, before there is a design: a range, and what moves it most.

How a fill lies on the top stands in `laid`. Every input has a spread; the spreads are combined by
their root sum of squares, each input moved alone, as JCGM 100 (the GUM, 5.1.2) has it for inputs
that do not depend on each other.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.hands.pace import Pace
from stitchpath.hands.turning import Bulk, half_turn_seconds
from stitchpath.thread.laid import LAID, Ground, Laid, laid
from stitchpath.thread.lockstitch import Ratio, Stitching

__all__ = ["AreaEstimate", "Planned", "Range", "Setting", "Swing", "estimate_by_area"]


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
class Planned:
    """What a plan will come to, at just the pace and the stitch that are set, drawn as a rule.

    Attributes
    ----------
    seam, thread
        mm.
    seconds
        At the machine.
    """

    seam: Range
    thread: Range
    seconds: Range


@dataclass(frozen=True, slots=True)
class AreaEstimate:
    """What a quilt of this size will take.

    Attributes
    ----------
    seam
        Stitched, ways in the margin and all, mm.
    top, bobbin
        Thread, waste counted, mm.
    thread
        Both together, mm.
    bobbins
        How many; the ends of the range are whole.
    seconds
        At the machine: stitching, turning, ends, threading and bobbin changes; in a frame loading,
        basting, rolling on and the rest of what is done there.
    planned
        The same where nothing is open but how the fill comes out.
    loading, rolling
        Of the likely seconds, those for loading and unloading with the tension tried; and those for
        rolling on, with clamps and basting.
    swings
        By input, that which moves the thread most first.
    """

    seam: Range
    top: Range
    bobbin: Range
    thread: Range
    bobbins: Range
    seconds: Range
    planned: Planned
    loading: float
    rolling: float
    swings: tuple[Swing, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """Where it is quilted.

    Attributes
    ----------
    margin
        Batting beyond the top, mm.
    loft
        Thickness of the quilt as it lies, mm.
    walking
        Whether every corner of the fill turns the quilt.
    passes, fewest
        In a frame, how many windows: mostly, and at least.
    timed
        Whether the speed is her own, told, and not the tool's guess.
    """

    margin: float = 50.8
    loft: float = 3.05
    walking: bool = False
    passes: int = 1
    fewest: int = 1
    timed: bool = False

    @property
    def off(self) -> float:
        """How far off the edge the thread turns: half an inch, or half the margin, mm."""
        return min(12.7, self.margin / 2)


@dataclass(frozen=True, slots=True)
class _Inputs:
    """Everything an estimate rests on, each a number that can be moved alone.

    `fill`, `hand`, `between`, `again`, `stitches` and `speed` are factors; thickness in mm;
    `change` as well, `broken` is a share, `threads` and `more` count.
    """

    fill: float
    hand: float
    between: float
    again: float
    stitches: float
    thickness: float
    balance: float
    top_ratio: float
    bobbin_ratio: float
    waste: float
    packing: float
    speed: float
    change: float
    threads: float
    broken: float
    more: float


_WORDS = {
    "fill": ("how the fill comes out", "times its length by rule"),
    "hand": ("how closely the hand lays the fill", "times its length by rule"),
    "between": ("ways and turns from row to row", "times their number by rule"),
    "again": ("going over the ditch again", "times its length"),
    "stitches": ("stitches per inch", "times those set"),
    "thickness": ("thickness stitched through", "mm"),
    "balance": ("balance of the stitch", "of the thickness"),
    "top_ratio": ("top thread as measured", "times the seam"),
    "bobbin_ratio": ("bobbin thread as measured", "times the seam"),
    "waste": ("waste", "of the thread"),
    "packing": ("how tightly the bobbin is wound", "of its room"),
    "speed": ("speed", "times that set"),
    "change": ("bobbins", "times their number"),
    "threads": ("threads begun", "more or less"),
    "broken": ("bobbins that give out within a pass", "of them"),
    "more": ("passes", "more or less"),
}
"""Inputs in a quilter's words, and what they are measured in."""

_ALIKE = 0.1  # times nearer to each other than this share are about the same
_LEFT = 0.12  # of a bobbin is left where it is changed between passes; measured from plans
_AS_DRAWN = ("fill", "between", "change", "threads", "broken", "more")
"""Inputs that a plan decides: all others are as she sets them."""


@dataclass(frozen=True, slots=True)
class _Job:
    """What is reckoned: the fill as it is laid, the ditch, and where it is quilted."""

    laid: Laid
    rows: bool
    ditch: float
    stitching: Stitching
    pace: Pace
    setting: Setting
    corner: float  # seconds of a right angle at the end of a row


def estimate_by_area(  # noqa: PLR0913 - each is one thing that is asked
    width: float,
    height: float,
    *,
    fill: str | None = None,
    spacing: float | None = None,
    ditch: float = 0.0,
    stitching: Stitching | None = None,
    pace: Pace | None = None,
    setting: Setting | None = None,
    ground: Ground | None = None,
) -> AreaEstimate:
    """Estimate thread, bobbins and time from the size of the quilt.

    Parameters
    ----------
    width, height
        Of the finished top, mm.
    fill
        A key of `LAID`, or None for ditch only.
    spacing
        Of the fill, mm.
    ditch
        Seams stitched in the ditch, each once, mm. Turns in it are not counted: how many there are
        is not known yet.
    stitching, pace, setting
        Likely values of what the estimate rests on.
    ground
        How it is filled, where it is at hand.

    Returns
    -------
    AreaEstimate
        Ranges, and the inputs by how far each moves the thread.

    Raises
    ------
    StitchpathError
        If there is nothing to stitch, or a size or fill makes no sense.
    """
    stitching, pace, setting = stitching or Stitching(), pace or Pace(), setting or Setting()
    _check(width, height, fill, spacing, ditch)
    found = Laid(0.0, runs=1.0)
    if fill and spacing:
        ground = ground or Ground(width, height, spacing, setting.off, setting.passes)
        found = laid(fill, ground)
    rows = LAID[fill].rows if fill else True
    corner = _corner(width, height, pace, setting)
    found = _turned_or_cut(found, pace, corner) if rows else found
    job = _Job(found, rows, ditch, stitching, pace, setting, corner)
    ranges = _ranges(stitching, fill, setting)
    likely_inputs = _Inputs(**{name: value.likely for name, value in ranges.items()})
    likely = _reckon(likely_inputs, job)
    moved = {
        name: [_reckon(replace(likely_inputs, **{name: end}), job) for end in (low, high)]
        for name, (low, high) in ((n, (v.low, v.high)) for n, v in ranges.items())
    }
    result = _results(likely, list(moved.values()))
    drawn = _results(likely, [moved[name] for name in _AS_DRAWN])
    swings = [
        Swing(_WORDS[name][0], ranges[name], (low["thread"], high["thread"]), _WORDS[name][1])
        for name, (low, high) in moved.items()
    ]
    bobbins = result.pop("bobbins")
    return AreaEstimate(
        **result,
        bobbins=Range(
            *(math.ceil(round(n, 9)) for n in (bobbins.low, bobbins.likely, bobbins.high))
        ),
        planned=Planned(*(drawn[name] for name in ("seam", "thread", "seconds"))),
        loading=pace.load + pace.tension + pace.unload,
        rolling=_rolling(pace, setting.passes),
        swings=tuple(
            sorted((s for s in swings if s.width > 0), key=lambda s: s.width, reverse=True)
        ),
    )


def _turned_or_cut(found: Laid, pace: Pace, corner: float) -> Laid:
    """End a thread at each row where that takes less time than to turn and come back.

    Where both take about the same, half of them.
    """
    if not found.corners:
        return found
    turns = found.corners / 2
    apart = found.margin / turns  # a way off and on at each end of a row, and along to the next
    ended = pace.start + 2 * pace.end_trimmed
    turned = apart / pace.speed.travel + 2 * corner
    share = 0.0 if turned < (1 - _ALIKE) * ended else 1.0 if turned > (1 + _ALIKE) * ended else 0.5
    return replace(
        found,
        margin=found.margin - share * turns * found.apart,
        corners=(1 - share) * found.corners,
        runs=found.runs + share * turns,
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
    elif spacing is None or not spacing > 0:
        found = "none" if spacing is None else f"{spacing:g} mm"
        raise StitchpathError(f"found {found}, expected a length above nothing").of_argument(
            "spacing"
        )
    if not ditch >= 0:
        raise StitchpathError(f"found {ditch:g} mm, expected nothing or more").of_argument("ditch")


def _ranges(stitching: Stitching, fill: str | None, setting: Setting) -> dict[str, Range]:
    """Tell the spread of every input about its likely value; from memory unless said otherwise."""
    ratio = stitching.ratio
    measured = ratio or Ratio(1.0, 1.0)
    formula = ratio is None
    balance = stitching.balance
    style = LAID[fill] if fill else None
    drawn, hand = (style.drawn, style.by_hand) if style else ((1.0, 1.0), (1.0, 1.0))
    return {
        "fill": Range(drawn[0], 1.0, drawn[1]),
        "hand": Range(hand[0], 1.0, hand[1]),
        # What plans differ by: a thread more, a way along the edge.
        "between": Range(0.85, 1.0, 1.2),
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
        # One who has timed herself is a tenth off on a good or a bad day.
        "speed": Range(0.9, 1.0, 1.1) if setting.timed else Range(0.6, 1.0, 1.4),
        "change": Range(0.85, 1.0, 1.15),
        "threads": Range(-1.0, 0.0, 1.0),
        # In a frame others fall between two passes: from none to all, in plans.
        "broken": Range(0.0, 0.5, 1.0),
        "more": Range(min(setting.fewest - setting.passes, 0), 0, 0),
    }


def _about(likely: float, low: float, high: float) -> Range:
    """Give a likely value and the factors to its low and high end."""
    return Range(likely * low, likely, likely * high)


def _measured(ratio: float, spread: float) -> Range:
    """Two standard deviations either way, but no thread is shorter than its seam."""
    return Range(max(min(1.0, ratio), ratio - 2 * spread), ratio, ratio + 2 * spread)


def _reckon(inputs: _Inputs, job: _Job) -> dict[str, float]:
    """Work the model through for one set of inputs."""
    stitching, pace, found = job.stitching, job.pace, job.laid
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
    seams = (
        ((found.sewn * inputs.hand * inputs.fill + found.again * inputs.between), "fill"),
        (found.margin * inputs.between, "travel"),
        (job.ditch * inputs.again, "ditch"),
    )
    top = bobbin = seconds = 0.0
    for seam, kind in seams:
        per_top, per_bobbin = tried.per_seam(getattr(tried.per_mm, kind))
        top += seam * per_top
        bobbin += seam * per_bobbin
        seconds += seam / (getattr(pace.speed, kind) * inputs.speed)
    ends = 2 * found.runs * tried.trimmed
    top, bobbin = top + ends, bobbin + ends
    kind_of = tried.bobbin_thread or tried.thread
    passes = job.setting.passes
    left = _LEFT if passes > 1 else 0.0
    bobbins = bobbin / (tried.room(kind_of) * (1 - tried.spare) * (1 - left))
    changes = math.ceil(bobbins * inputs.change) - 1
    seconds += found.corners * inputs.between * job.corner
    runs = max(found.runs + inputs.threads, 1.0)
    seconds += runs * (pace.start + 2 * pace.end_trimmed)
    broken = inputs.broken if passes > 1 else 1.0
    seconds += pace.thread + changes * _change(pace, broken, rows=job.rows)
    seconds += pace.load + pace.tension + pace.unload
    seconds += _rolling(pace, passes + inputs.more)
    return {
        "seam": sum(seam for seam, _ in seams),
        "top": top * (1 + inputs.waste),
        "bobbin": bobbin * (1 + inputs.waste),
        "thread": (top + bobbin) * (1 + inputs.waste),
        "bobbins": bobbins,
        "seconds": seconds,
    }


def _change(pace: Pace, broken: float, *, rows: bool) -> float:
    """Give the seconds of a bobbin change, a share of them in the margin or in a line."""
    within = pace.start + 2 * (pace.end_trimmed if rows else pace.end_inside)
    return pace.bobbin + broken * within


def _rolling(pace: Pace, passes: float) -> float:
    """Give the seconds for rolling on, clamps and basting."""
    return (passes - 1) * (pace.advance + pace.clamps) + passes * pace.baste


def _corner(width: float, height: float, pace: Pace, setting: Setting) -> float:
    """Give the seconds of a right angle at the end of a row: there all of the quilt is turned."""
    if not setting.walking:
        return pace.still
    off = setting.margin
    quilt = Bulk(-off, -off, width + off, height + off, setting.loft)
    side = np.array([[0.0, height / 2]])
    return pace.pivot + float(half_turn_seconds(pace, quilt, side)[0]) / 2


def _results(
    likely: Mapping[str, float], moved: Sequence[Sequence[Mapping[str, float]]]
) -> dict[str, Range]:
    """Combine what each input moves by itself: root sum of squares, down and up apart."""

    def one(out: str) -> Range:
        ends = [(a[out], b[out]) for a, b in moved]
        down = math.hypot(*(likely[out] - min(*pair, likely[out]) for pair in ends))
        up = math.hypot(*(max(*pair, likely[out]) - likely[out] for pair in ends))
        return Range(max(likely[out] - down, 0.0), likely[out], likely[out] + up)

    return {out: one(out) for out in likely}
