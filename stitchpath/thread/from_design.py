"""What a design says of stitches, machine and charges, and what to buy, cut and pay for it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.design.model import Design, Work
from stitchpath.hands.pace import pace_of
from stitchpath.hands.turning import thickness_of
from stitchpath.lines.threads import DEFAULT_THREAD
from stitchpath.thread import (
    BOBBINS,
    Backing,
    Bill,
    Charges,
    Cut,
    Purchase,
    Ratio,
    RunTime,
    Stitching,
    ThreadKind,
    ThreadUse,
    bill,
    cut_backing,
    cut_batting,
    parse_thread_size,
    stitches_per_mm,
    thread_to_buy,
)
from stitchpath.thread.bobbin import PACKING

__all__ = ["Needs", "charges_of", "needs_of", "stitching_of"]

_INCH = 25.4
_METRE = 1000


@dataclass(frozen=True, slots=True)
class Needs:
    """What has to be there before the first stitch, and what it costs.

    Attributes
    ----------
    spools
        Thread to buy, waste and all.
    batting
        To cut.
    backings
        Both ways to join it, that which takes less fabric first.
    bill
        None where the design charges nothing.
    """

    spools: tuple[Purchase, ...]
    batting: Cut
    backings: tuple[Backing, Backing]
    bill: Bill | None


def stitching_of(design: Design) -> Stitching:
    """Bring what the design says of stitches and threads to the thread model.

    Raises
    ------
    StitchpathError
        When a thread size, fibre, bobbin or batting is unknown.
    """
    asked = design.stitching
    if asked.bobbin not in BOBBINS:
        raise unknown_name("stitching.bobbin", "bobbin", asked.bobbin, BOBBINS)
    kinds = {name: _thread_kind(design, name) for name in design.threads}
    wound = asked.bobbin_thread
    if wound is not None and wound not in kinds:
        raise unknown_name("stitching.bobbin_thread", "thread", wound, kinds)
    try:
        return _stitching(design, tuple(kinds.values()), kinds[wound] if wound else None)
    except StitchpathError as error:
        said = str(error).removeprefix("thread, ")
        raise StitchpathError(f"stitching, {said}") from None


def _stitching(
    design: Design, kinds: tuple[ThreadKind, ...], wound: ThreadKind | None
) -> Stitching:
    asked = design.stitching
    return Stitching(
        per_mm=stitches_per_mm(asked.per_inch),
        thickness=thickness_of(design),
        balance=asked.balance,
        ratio=_ratio(design),
        secure=asked.secure,
        tail=asked.tail,
        trimmed=asked.trimmed,
        tie_off=asked.tie_off,
        tie_off_stitches=asked.tie_off_stitches,
        waste=asked.waste,
        threads=kinds,
        thread=ThreadKind(DEFAULT_THREAD),
        bobbin=BOBBINS[asked.bobbin],
        bobbin_thread=wound,
        packing=PACKING[asked.wound] if asked.packing is None else asked.packing,
        spare=asked.spare,
        stops=_stops(design),
        kept=design.machine.kind == "frame",
    )


def _stops(design: Design) -> tuple[int, int, int]:
    """Price a change of bobbin between runs, in the margin and inside.

    In a frame these are seconds: a pass is rather begun with a full bobbin than broken.
    On a domestic machine fewest changes come first.
    """
    if design.machine.kind != "frame":
        return 1, 1, 1
    pace = pace_of(design)
    margin = pace.bobbin + pace.start + 2 * pace.end_trimmed
    inside = pace.bobbin + pace.start + 2 * pace.end_inside
    return round(pace.bobbin), round(margin), round(inside)


def _thread_kind(design: Design, name: str) -> ThreadKind:
    thread = design.threads[name]
    try:
        kind = ThreadKind(name, parse_thread_size(thread.size), thread.fibre, thread.per_bobbin)
    except StitchpathError as error:
        said = str(error).removeprefix(f'thread "{name}": ')
        raise StitchpathError(f"threads.{name}: {said}") from None
    if thread.spools is None:
        return kind
    return replace(kind, spools=tuple(int(length / _METRE) for length in thread.spools))


def _ratio(design: Design) -> Ratio | None:
    asked = design.stitching.ratio
    if asked is None:
        return None
    per_mm = asked.per_inch / _INCH if asked.per_inch is not None else None
    return Ratio(asked.top, asked.bobbin, asked.top_spread, asked.bobbin_spread, per_mm)


def charges_of(design: Design, work: Work) -> Charges | None:
    """Bring what the design charges to the bill; None where it charges nothing.

    Parameters
    ----------
    design
        Its `charges`, and prices of its threads.
    work
        The kind of work it is charged as.

    Raises
    ------
    StitchpathError
        When the quilting is charged twice.
    """
    asked = design.charges
    own = {name: t.price for name, t in design.threads.items() if t.price is not None}
    if asked is None:
        return Charges(threads=own) if own else None
    try:
        said = asked.model_dump()
        if isinstance(asked.square_inch, dict):
            said["square_inch"] = asked.square_inch[work]
        if design.machine.kind != "frame":
            said["loading"] = None  # nothing is loaded
        return Charges(**said, threads=own)
    except StitchpathError as error:
        raise StitchpathError(f"charges: {error}") from None


def _work(design: Design) -> Work:
    """Tell what kind of work a design is."""
    if not design.fills and not design.applique and not design.drawn:
        return "ditch"
    whole = all(fill.region == "top" for fill in design.fills)
    others = design.lines.ditch != ("none",) or design.applique or design.drawn
    return "edge to edge" if whole and not others else "custom"


def needs_of(
    design: Design,
    width: float,
    height: float,
    stitching: Stitching,
    uses: Sequence[ThreadUse],
    times: Sequence[RunTime],
) -> Needs:
    """Reckon what to buy and cut, and what it costs.

    Parameters
    ----------
    design
        The design: margin, backing fabric, charges.
    width, height
        Of the finished top, mm.
    stitching
        As `stitching_of` gives it.
    uses, times
        What the plan takes of thread, and of time.

    Raises
    ------
    StitchpathError
        When the quilting is charged twice, or the backing's fabric is too narrow to be joined.
    """
    margin, cloth = design.batting.margin, design.backing
    batting = cut_batting(width, height, margin)
    framed = design.machine.kind == "frame"
    backings = cut_backing(
        width,
        height,
        margin,
        cloth.width,
        cloth.seam,
        framed=framed,
        sideways=design.machine.sideways,
    )
    charges = charges_of(design, _work(design))
    charged = None
    if charges is not None:
        charged = bill(
            charges,
            width=width,
            height=height,
            seconds=sum(
                spent.total - (spent.loading if charges.loading is not None else 0)
                for spent in times
            ),
            uses=uses,
            batting=(batting.area, batting.height),
            backing=backings[0].fabric,
        )
    return Needs(thread_to_buy(uses, stitching), batting, backings, charged)
