"""What each step takes at the machine, in seconds; every figure can be set."""

import math
from dataclasses import dataclass, field, fields, replace

from stitchpath.base.errors import StitchpathError
from stitchpath.design.model import FRAMING, USUAL, Design

__all__ = ["FRAME", "KINDS", "ByKind", "Pace", "pace_of"]

_MINUTE = 60


@dataclass(frozen=True, slots=True)
class ByKind:
    """One number for each kind of line; travel stands beside the kinds of `Line`."""

    ditch: float
    centre: float
    outline: float
    echo: float
    fill: float
    drawn: float
    travel: float

    def __post_init__(self) -> None:
        """Refuse what cannot be a rate."""
        for kind in fields(self):
            value = getattr(self, kind.name)
            if not (math.isfinite(value) and value > 0):
                raise StitchpathError(
                    f"{kind.name}: found {value:g}, expected a number above nothing"
                )

    @staticmethod
    def of(number: float, **kinds: float) -> "ByKind":
        """Give all kinds one number, but those named their own.

        Examples
        --------
        Stitches per inch as a quilter says them, kept per mm:

        >>> round(ByKind.of(10, centre=12).times(1 / 25.4).centre, 3)
        0.472
        """
        return ByKind(**{kind.name: kinds.get(kind.name, number) for kind in fields(ByKind)})

    def times(self, factor: float) -> "ByKind":
        """Return all the numbers times `factor`."""
        return ByKind(*(getattr(self, kind.name) * factor for kind in fields(self)))


KINDS = tuple(kind.name for kind in fields(ByKind))


@dataclass(frozen=True, slots=True)
class Pace:
    """What everything takes; every price can be set. Defaults from memory: time yourself.

    Attributes
    ----------
    speed
        mm per second by kind of line, on the average, hands and all. The default, for a domestic
        machine, is about half of what its motor does.
    free
        The same with the free-motion foot: in a straight ditch it is slower, for the hands have to
        keep the line that a walking foot keeps by itself.
    pivot
        Seconds to stop, needle down, lift the foot and begin to turn, with the walking foot.
    still
        Seconds for a corner where the quilt is not turned: free-motion, or in a frame.
    turn_size, turn_roll
        Seconds that turning the quilt half round takes beside that, with the walking foot: for
        each metre of its diagonal, and for each 100 mm that the roll in the throat is thick.
    start
        Seconds to come to the start of a run and bring the bobbin thread up.
    end_inside
        Seconds to secure one end inside the top: bury its tails, or tie off.
    end_trimmed
        Seconds to trim one end in the margin or on the edge.
    come_back
        Seconds to find one's place when one comes back to an area: roll, smooth, look.
    foot
        Seconds to change the foot.
    bobbin, thread
        Seconds to change the bobbin; to change the thread, bobbin and all.
    advance
        Seconds to roll the quilt on in the frame and stretch it again.
    load, unload
        Seconds to load the quilt into the frame, and to take it out.
    tension
        Seconds to oil the machine and try its tension, once.
    baste
        Seconds to baste what the frame shows anew: the sides, and at first the top edge.
    clamps
        Seconds for the side clamps each time the quilt is rolled on.
    fuse
        Seconds in each window where pieces are fused, the board under them and all.
    """

    speed: ByKind = field(default_factory=lambda: ByKind.of(12, centre=10, outline=10, fill=18))
    free: ByKind = field(
        default_factory=lambda: ByKind.of(12, ditch=8, centre=10, outline=10, fill=18)
    )
    pivot: float = 2.0
    still: float = 0.0
    turn_size: float = 4.0
    turn_roll: float = 8.0
    start: float = USUAL["start"]
    end_inside: float = USUAL["end_inside"]
    end_trimmed: float = USUAL["end_trimmed"]
    come_back: float = 6.0
    foot: float = 60.0
    bobbin: float = 90.0
    thread: float = 120.0
    advance: float = USUAL["advance"]
    load: float = 0.0
    tension: float = 0.0
    baste: float = 0.0
    clamps: float = 0.0
    unload: float = 0.0
    fuse: float = 0.0

    def __post_init__(self) -> None:
        """Refuse time that runs backward."""
        for price in fields(self)[2:]:
            value = getattr(self, price.name)
            if not (math.isfinite(value) and value >= 0):
                raise StitchpathError(
                    f"time, {price.name.replace('_', ' ')}: found {value:g} s, "
                    "expected nothing or more"
                )


_FRAMED = ByKind.of(25, ditch=11, centre=20, outline=20, fill=40)
FRAME = Pace(speed=_FRAMED, free=_FRAMED, come_back=0.0, **FRAMING)
"""A longarm in a frame: the machine is moved and not the quilt. From memory; in the ditch, along a
ruler, 10 to 12 mm/s by judgement."""


def pace_of(design: Design) -> Pace:
    """Bring what the design says of time to figures: the machine's pace, and her own.

    Parameters
    ----------
    design
        Its `machine` and `pace`. A speed, and what a corner takes, hold for every foot but where
        `free` says otherwise.
    """
    pace = FRAME if design.machine.kind == "frame" else Pace()
    asked = design.pace.model_dump(exclude_none=True)
    speed, free = asked.pop("speed", None), asked.pop("free", None)
    pace = replace(pace, speed=_said(pace.speed, speed), free=_said(_said(pace.free, speed), free))
    if "pivot" in asked:
        pace = replace(pace, still=asked["pivot"])
    return replace(pace, **asked)


def _said(speed: ByKind, asked: float | dict[str, float] | None) -> ByKind:
    if asked is None:
        return speed
    if isinstance(asked, dict):
        return replace(speed, **{kind: length / _MINUTE for kind, length in asked.items()})
    return ByKind.of(asked / _MINUTE)
