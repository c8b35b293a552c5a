"""The lockstitch: how much top and bobbin thread a millimetre of seam takes.

Lockstitch is type 301 of ISO 4915. Published formula, both threads together: C = 2 + 2 T S, with T
the thickness stitched through and S the stitches per the same unit of length.
"""

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Literal, TypeAlias

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import Kind
from stitchpath.base.units import Unit, parse_length
from stitchpath.design.battings import UNNAMED
from stitchpath.design.model import StitchingAsked
from stitchpath.hands.pace import ByKind
from stitchpath.lines.threads import DEFAULT_THREAD
from stitchpath.thread.bobbin import BOBBINS, PACKING, Bobbin, bobbin_room
from stitchpath.thread.sizes import ThreadKind

__all__ = [
    "FLAT_RATIO",
    "Ratio",
    "Sample",
    "Secure",
    "Stitching",
    "lockstitch",
    "measured_ratio",
    "parse_sample",
    "stitches_per_mm",
]

_INCH = 25.4

_ASKED = StitchingAsked()  # the defaults stand in one place, the design model
_SHORTEST = 0.97  # thread per length of seam: never below 1, but a ruler may slip

Secure: TypeAlias = Literal["bury", "tie-off"]


@dataclass(frozen=True, slots=True)
class Sample:
    """One stretch of her own quilting unpicked: seam, top and bobbin thread, all in mm."""

    seam: float
    top: float
    bobbin: float


@dataclass(frozen=True, slots=True)
class Ratio:
    """Thread per length of seam, measured or taken from a table.

    Attributes
    ----------
    top, bobbin
        mm of thread per mm of seam.
    top_spread, bobbin_spread
        Standard deviation between the samples; nothing known, nothing written.
    per_mm
        Stitches per mm of the samples. If given, what exceeds the bare seam length is scaled to
        other stitch lengths as the formula has it; if not, the ratio holds for all.
    """

    top: float
    bobbin: float
    top_spread: float = 0.0
    bobbin_spread: float = 0.0
    per_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse a thread shorter than the seam it lies in."""
        for name, value in (("top", self.top), ("bobbin", self.bobbin)):
            if not _SHORTEST <= value < math.inf:
                raise StitchpathError(
                    f"thread per seam: found {value:g} times the seam of {name} thread, "
                    "expected once its length or more"
                )
        if self.per_mm is not None and not self.per_mm > 0:
            raise StitchpathError(
                f"thread per seam: found samples of {self.per_mm:g} stitches per mm, "
                "expected more than none"
            )


FLAT_RATIO = Ratio(1.25, 1.25)
"""Industry's flat ratio for type 301: 2.5 in all, half of it bobbin. Published in the thread
trade's consumption tables for the stitch types of ISO 4915."""


def parse_sample(text: str, unit: Unit = "in") -> Sample:
    """Read what was unpicked and measured: seam, top thread, bobbin thread.

    Parameters
    ----------
    text
        Three lengths, parted by commas, or by spaces if none has one within: "10in 13.1in 12.2in".
    unit
        For numbers without one.

    Raises
    ------
    StitchpathError
        When it is not three lengths.
    """
    parts = text.split(",") if "," in text else text.split()
    if len(parts) != len(fields(Sample)):
        raise StitchpathError(
            f"sample: found {text[:60]!r}, expected three lengths: seam, top thread and bobbin "
            'thread, such as "10in 13.1in 12.2in"'
        )
    try:
        return Sample(*(parse_length(part.strip(), unit) for part in parts))
    except StitchpathError as error:
        raise StitchpathError(f"sample {text[:60]!r}: {error}") from None


def measured_ratio(samples: Sequence[Sample], per_mm: float | None = None) -> Ratio:
    """Mean and spread of what she unpicked and measured.

    Parameters
    ----------
    samples
        One or more stretches; three or more show the spread.
    per_mm
        Stitches per mm they were sewn with, if known.

    Returns
    -------
    Ratio
        Mean of the samples' ratios, and their standard deviation (n - 1).

    Raises
    ------
    StitchpathError
        If there is none, or a thread is shorter than the seam it was sewn in.
    """
    if not samples:
        raise StitchpathError("calibrate: found no sample, expected at least one stretch unpicked")
    for number, sample in enumerate(samples, 1):
        if not sample.seam > 0:
            raise StitchpathError(
                f"calibrate, sample {number}: found a seam of {sample.seam:g} mm, "
                "expected a length above nothing"
            )
        for name, length in (("top", sample.top), ("bobbin", sample.bobbin)):
            if not length >= _SHORTEST * sample.seam:
                raise StitchpathError(
                    f"calibrate, sample {number}: found {length / sample.seam:.3g} of {name} "
                    "thread to one of seam, expected at least the length of the seam"
                )
    top = [sample.top / sample.seam for sample in samples]
    bobbin = [sample.bobbin / sample.seam for sample in samples]
    several = len(samples) > 1
    return Ratio(
        top=statistics.fmean(top),
        bobbin=statistics.fmean(bobbin),
        top_spread=statistics.stdev(top) if several else 0.0,
        bobbin_spread=statistics.stdev(bobbin) if several else 0.0,
        per_mm=per_mm,
    )


def lockstitch(thickness: float, per_mm: float, balance: float = 0.5) -> tuple[float, float]:
    """Thread per length of seam, by the published formula.

    C = 2 + 2 T S (type 301, ISO 4915). Each thread lies once along the seam; `balance` of the way
    through the quilt belongs to the top thread, the rest to the bobbin.

    Parameters
    ----------
    thickness
        Stitched through, mm.
    per_mm
        Stitches per mm.
    balance
        Where the two threads lock, as a share of the thickness from the top: 0.5 is an even
        stitch.

    Returns
    -------
    top, bobbin : float
        mm of each thread per mm of seam.

    Examples
    --------
    Published: T = 0.01 in and S = 10 per inch give 2.2.

    >>> round(sum(lockstitch(0.254, 10 / 25.4)), 6)
    2.2
    """
    through = 2 * thickness * per_mm
    return 1 + balance * through, 1 + (1 - balance) * through


def stitches_per_mm(per_inch: float | Mapping[Kind, float]) -> ByKind:
    """Bring stitches to the inch, one number or by kind of line, to stitches per mm.

    A kind that is not named is stitched as a design that says nothing.
    """
    usual = _ASKED.per_inch
    if isinstance(per_inch, float | int):
        return ByKind.of(per_inch).times(1 / _INCH)
    if not isinstance(usual, float):
        raise TypeError("a design that says nothing has one number of stitches")
    return ByKind.of(usual, **{str(kind): count for kind, count in per_inch.items()}).times(
        1 / _INCH
    )


@dataclass(frozen=True, slots=True)
class Stitching:
    """How the quilt is stitched; every number can be set, and stands unset as in a design.

    Attributes
    ----------
    per_mm
        Stitches per mm by kind of line (common practice: 8 to 12 per inch).
    thickness
        Stitched through, mm.
    balance
        Where the threads lock, as a share of the thickness from the top.
    ratio
        Measured thread per seam; overrides formula, thickness and balance.
    secure
        What is done with an end inside the top: bury its two tails, or tie off with small
        stitches and trim.
    tail
        Length of each of the two tails left at an end to bury, mm. Common practice: 4 in.
    trimmed
        Length of each of the two tails cut off at any other end, mm. Common practice:
        3 in.
    tie_off_stitches, tie_off
        Small stitches of a tie-off, and the length they are set in, mm. Common practice: eight in
        the last 1/4 in.
    waste
        Share of the thread lost to breaks, tests and re-threading. Published: 10 to 15 %.
    threads
        What is known of the threads by name; a name not found is sewn with `thread`.
    thread
        The thread where nothing else is said.
    bobbin_thread
        One thread wound on all bobbins, or None for the top's own in each.
    bobbin, packing
        Bobbin and how tightly it is wound, as the share of the ring that is fibre.
    spare
        Share of a full bobbin that the plan leaves unused, for no two are wound alike.
    stops
        What it costs to change the bobbin between two runs, in the margin, and inside the top; one
        each where fewest changes come first.
    kept
        Whether thread left on a bobbin that is taken out is kept for another job.
    """

    per_mm: ByKind = field(default_factory=lambda: stitches_per_mm(_ASKED.per_inch))
    thickness: float = UNNAMED
    balance: float = _ASKED.balance
    ratio: Ratio | None = None
    secure: Secure = _ASKED.secure
    tail: float = _ASKED.tail
    trimmed: float = _ASKED.trimmed
    tie_off_stitches: int = _ASKED.tie_off_stitches
    tie_off: float = _ASKED.tie_off
    waste: float = _ASKED.waste
    threads: tuple[ThreadKind, ...] = ()
    thread: ThreadKind = field(default_factory=lambda: ThreadKind(DEFAULT_THREAD))
    bobbin_thread: ThreadKind | None = None
    bobbin: Bobbin = BOBBINS[_ASKED.bobbin]
    packing: float = PACKING[_ASKED.wound]
    spare: float = _ASKED.spare
    stops: tuple[int, int, int] = (1, 1, 1)
    kept: bool = False

    def __post_init__(self) -> None:
        """Refuse settings that no one can sew with."""
        ranges = (
            ("thickness", 0.0, 50.0, "mm"),
            ("balance", 0.0, 1.0, ""),
            ("tail", 0.0, 1000.0, "mm"),
            ("trimmed", 0.0, 1000.0, "mm"),
            ("tie_off_stitches", 0, 100, ""),
            ("tie_off", 0.1, 100.0, "mm"),
            ("waste", 0.0, 1.0, ""),
            ("packing", 0.1, 1.0, ""),
            ("spare", 0.0, 0.5, ""),
        )
        for name, low, high, unit in ranges:
            value = getattr(self, name)
            if not low <= value <= high:
                raise StitchpathError(
                    f"thread, {name.replace('_', ' ')}: found {value:g} {unit}".rstrip()
                    + f", expected {low:g} to {high:g} {unit}".rstrip()
                )

    def kind_of(self, name: str) -> ThreadKind:
        """Return the thread of that name, or the default thread under that name."""
        for kind in self.threads:
            if kind.name == name:
                return kind
        return replace(self.thread, name=name)

    def bobbin_of(self, name: str) -> ThreadKind:
        """Return the thread that is wound on the bobbin when `name` is on top."""
        return self.bobbin_thread or self.kind_of(name)

    def room(self, kind: ThreadKind) -> float:
        """How much of a thread one bobbin takes, mm: her own measure or the ring's."""
        return kind.per_bobbin or bobbin_room(self.bobbin, kind, self.packing)

    def per_seam(self, per_mm: float) -> tuple[float, float]:
        """Top and bobbin thread per mm of seam at a number of stitches per mm."""
        if self.ratio is None:
            return lockstitch(self.thickness, per_mm, self.balance)
        scale = 1.0 if self.ratio.per_mm is None else per_mm / self.ratio.per_mm
        return 1 + (self.ratio.top - 1) * scale, 1 + (self.ratio.bobbin - 1) * scale

    def per_end(self, *, inside: bool, per_mm: float) -> tuple[float, float]:
        """Top and bobbin thread that an end takes beyond the seam itself, mm.

        Parameters
        ----------
        inside
            Whether the end lies inside the top, where it has to be secured. In the margin and on
            the edge it is trimmed, and the binding holds it.
        per_mm
            Stitches per mm of the line that ends.
        """
        if not inside:
            return self.trimmed, self.trimmed
        if self.secure == "bury":
            return self.tail, self.tail
        # The small stitches stand in place of the ordinary ones of the last bit of seam.
        small = self.per_seam(max(per_mm, self.tie_off_stitches / self.tie_off))
        plain = self.per_seam(per_mm)
        return (
            self.trimmed + self.tie_off * (small[0] - plain[0]),
            self.trimmed + self.tie_off * (small[1] - plain[1]),
        )
