"""What a top of a size takes and costs, before there is a design: asked as it is said."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import shapely

from stitchpath.base.errors import StitchpathError
from stitchpath.base.limits import WIDEST
from stitchpath.base.units import Unit, format_length, parse_length, parse_size
from stitchpath.design.model import ChargesAsked, Design, Work
from stitchpath.design.profile import with_profile
from stitchpath.geometry.tolerances import MOTIF_SHARE
from stitchpath.hands.feet import FEET, STRAIGHT, foot_for
from stitchpath.hands.pace import Pace, pace_of
from stitchpath.hands.turning import loft_of
from stitchpath.lines.fills.pattern import FREE
from stitchpath.lines.frame.borders import WANDER
from stitchpath.lines.frame.choose import choose_windows
from stitchpath.lines.frame.reach import Reach, reach_of
from stitchpath.lines.frame.strands import Strands
from stitchpath.lines.frame.windows import way_round
from stitchpath.lines.threads import thread_for
from stitchpath.thread.cloth import Backing, Cut, cut_backing, cut_batting, spools_to_buy
from stitchpath.thread.consumption import ThreadUse
from stitchpath.thread.estimate import AreaEstimate, Setting, estimate_by_area
from stitchpath.thread.from_design import charges_of, stitching_of
from stitchpath.thread.laid import Ground, Motif, laid, rows_of
from stitchpath.thread.money import Bill, bill

__all__ = ["Asked", "SizeEstimate", "estimate_of"]

_Read = TypeVar("_Read")
_SHARED = 0.2  # of what a frame shows: no more of it is given up so that passes overlap
_ROW = 0.9  # share of the height of a row that its motif takes up, as rows are drawn


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked about a top that is not designed yet; texts as they are said.

    Attributes
    ----------
    size
        Such as "60x80in".
    fill, spacing
        A fill by name and its spacing, such as "1in".
    motif
        For motif rows: the file of the motif, or the length of its line and how long it is from
        end to end, such as "14in 6in".
    ditch
        Seams stitched in the ditch, such as "40m".
    machine, depth, throat
        "domestic" or "frame", and how deep that shows the quilt.
    hour, square_inch
        Charged for an hour, or for a square inch.
    """

    size: str
    fill: str | None = None
    spacing: str | None = None
    motif: str | None = None
    ditch: str = "0"
    machine: str | None = None
    depth: str | None = None
    throat: str | None = None
    hour: float | None = None
    square_inch: float | None = None


@dataclass(frozen=True, slots=True)
class SizeEstimate:
    """What a quilt of a size takes, before there is a design.

    Attributes
    ----------
    unit
        The design's, or inches.
    estimate
        Ranges, and what moves them.
    passes
        In a frame, how many windows; 1 where all is shown.
    spools
        To buy for the low, the likely and the high figure, of one thread for top and bobbin.
    batting, backing
        To cut.
    bills
        For the low, the likely and the high figure; None where nothing is charged.
    """

    unit: Unit
    estimate: AreaEstimate
    passes: int
    spools: tuple[tuple[tuple[int, int], ...], ...]
    batting: Cut
    backing: Backing
    bills: tuple[Bill, Bill, Bill] | None


def estimate_of(
    asked: Asked,
    *,
    design: Design | None = None,
    profile: Mapping[str, Mapping[str, Any]] | None = None,
) -> SizeEstimate:
    """Estimate by size.

    Parameters
    ----------
    asked
        What is asked.
    design
        One whose stitches, machine, margin, backing and charges are taken.
    profile
        A shop's profile (`read_profile`), where there is no such design.

    Raises
    ------
    StitchpathError
        When a length is none, or there is nothing to stitch, or it cannot be told by size.
    """
    like = _like(asked, design, profile)
    unit = like.unit
    width, height = _size(asked.size, unit)
    apart = _spacing(asked.spacing, min(width, height), unit)
    seams = _length("ditch", asked.ditch, unit)
    pace, stitching = pace_of(like), stitching_of(like)
    ground = _ground(asked, (width, height), apart, unit)
    fewest, passes = _passes(
        like, asked.fill, ground or Ground(width, height, 1.0), pace, ditch=seams > 0
    )
    setting = Setting(
        margin=like.batting.margin,
        loft=loft_of(like),
        walking=_walks(like, asked.fill),
        passes=passes,
        fewest=fewest,
        timed=like.pace.speed is not None,
    )
    found = estimate_by_area(
        width, height, fill=asked.fill, spacing=apart, ditch=seams, stitching=stitching,
        pace=pace, setting=setting,
        ground=ground and ground._replace(off=setting.off, passes=passes),
    )  # fmt: skip
    margin, cloth = like.batting.margin, like.backing
    framed = like.machine.kind == "frame"
    batting = cut_batting(width, height, margin)
    backing = cut_backing(width, height, margin, cloth.width, cloth.seam, framed=framed)[0]
    needs = (found.thread.low, found.thread.likely, found.thread.high)
    return SizeEstimate(
        unit,
        found,
        passes,
        tuple(spools_to_buy(need, stitching.thread.spools) for need in needs),
        batting,
        backing,
        _bills(like, asked, found, (width, height), (batting, backing)),
    )


def _ground(
    asked: Asked, size: tuple[float, float], spacing: float | None, unit: Unit
) -> Ground | None:
    """Give the top as it is filled; None where it is not. What cannot be filled is refused."""
    if not asked.fill or not spacing:
        return None
    if asked.motif and asked.fill != "motif rows":
        raise StitchpathError(
            f'found one for the fill "{asked.fill}", expected one with "motif rows" only'
        ).of_argument("motif")
    motif = _motif(asked.motif, spacing, unit) if asked.motif else None
    ground = Ground(*size, spacing, motif=motif)
    laid(asked.fill, ground)  # before windows are chosen
    return ground


def _like(
    asked: Asked, design: Design | None, profile: Mapping[str, Mapping[str, Any]] | None
) -> Design:
    """Give the design whose machine, stitches and charges hold: one of hers, or a plain one."""
    named = {"machine": asked.machine, "depth": asked.depth, "throat": asked.throat}
    if design is not None:
        for name, value in named.items():
            if value is not None:
                raise StitchpathError(
                    "found a design too, expected the machine of that design"
                ).of_argument(name)
        return _charged(design, asked)
    machine: dict[str, Any] = {} if asked.machine is None else {"kind": asked.machine}
    for name in ("depth", "throat"):
        text = named[name]
        if text is not None:
            machine[name] = f"{_length(name, text, 'in'):.6f} mm"
    data = {
        "name": "A top by its size",
        "fabrics": {"sand": "#e7d5b0"},
        "blocks": {"plain": {"size": 1, "grid": ["sand"]}},
        "layout": {"rows": ["plain"]},
        "lines": {"ditch": "none"},
    }
    if machine:
        data["machine"] = machine
    made = Design.build(with_profile(data, profile), source="thread, by size")
    if made.machine.kind != "frame":
        for name in ("depth", "throat"):
            if named[name] is not None:
                raise StitchpathError(
                    "found it with a domestic machine, expected a frame"
                ).of_argument(name)
    return _charged(made, asked)


def _charged(design: Design, asked: Asked) -> Design:
    """Put what is charged on a design: what is asked for wins."""
    both = {"hour": asked.hour, "square_inch": asked.square_inch}
    said = {name: price for name, price in both.items() if price is not None}
    if not said:
        return design
    for name, price in said.items():
        if not 0 <= price < math.inf:
            raise StitchpathError(f"found {price:g}, expected nothing or more").of_argument(
                name.replace("_", "-")
            )
    kept = {} if design.charges is None else design.charges.model_dump(exclude_unset=True)
    kept = {key: value for key, value in kept.items() if key not in ("hour", "square_inch")}
    charges = ChargesAsked.model_validate({**kept, **said})
    return design.model_copy(update={"charges": charges})


def _size(text: str, unit: Unit) -> tuple[float, float]:
    width, height = _said("size", lambda: parse_size(text, unit))
    if max(width, height) > WIDEST:
        raise StitchpathError(
            f"found {text[:40]!r}, expected at most {format_length(WIDEST, unit)} each way"
        ).of_argument("size")
    return width, height


def _spacing(text: str | None, side: float, unit: Unit) -> float | None:
    if text is None:
        return None
    apart = _length("spacing", text, unit, least=0.1)
    if apart >= side:
        raise StitchpathError(
            f"found {text!r}, expected less than the shorter side of the quilt, "
            f"{format_length(side, unit)}"
        ).of_argument("spacing")
    return apart


def _motif(text: str, spacing: float, unit: Unit) -> Motif:
    """Read a motif: its file, or the length of its line and how long it is from end to end."""
    if Path(text).suffix.lower() in (".svg", ".dxf"):
        return _said("motif", lambda: _drawn_motif(Path(text)))
    parts = text.split(",") if "," in text else text.split()
    if len(parts) != 2:  # noqa: PLR2004 - line and pitch
        raise StitchpathError(
            f"found {text[:60]!r}, expected the file of the motif (SVG or DXF), or the length of "
            'its line and how long it is from end to end, such as "14in 6in"'
        ).of_argument("motif")
    length, pitch = (_length("motif", part.strip(), unit, least=0.1) for part in parts)
    if length < pitch:
        raise StitchpathError(
            f"found a line of {parts[0].strip()} for a motif {parts[1].strip()} long, expected a "
            "line at least as long as the motif"
        ).of_argument("motif")
    return Motif(length / spacing, pitch / spacing)


def _drawn_motif(path: Path) -> Motif:
    # The door to drawings and to fills: most tops are asked about without a motif.
    from stitchpath.design.drawings.outlines import read_lines  # noqa: PLC0415 - that door
    from stitchpath.lines.fills.motifs import one_line  # noqa: PLC0415 - that door

    line = one_line(read_lines(path, None, "", MOTIF_SHARE))
    high, long = float(np.ptp(line[:, 1])), float(line[-1, 0])
    size = _ROW / high if high > 1e-9 * long else 1 / long
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    return Motif(length * size, long * size, (float(np.ptp(line[:, 0])) - long) * size)


def _walks(design: Design, fill: str | None) -> bool:
    """Tell whether the fill is stitched with the walking foot, so that the quilt is turned."""
    foot = foot_for(design.machine, "fill", straight=fill in STRAIGHT)
    return foot == FEET.index("walking")


def _passes(
    design: Design, fill: str | None, ground: Ground, pace: Pace, *, ditch: bool
) -> tuple[int, int]:
    """Tell in how many windows a frame shows a top: rows are taken whole.

    At least, where the way off its upper and lower edge is left out; and mostly.
    """
    reach = reach_of(design.machine)
    if reach is None:
        return 1, 1
    _, low, _, high = way_round(
        shapely.box(0, 0, ground.width, ground.height), design.batting.margin
    ).bounds
    reach.check(high - low, design.unit)
    if float(reach.bottom(low, low)) >= high:
        return 1, 1
    rows = rows_of(fill, ground) if fill and not ditch else []
    if rows:
        # A row that winds would be cut as often as it goes up and down.
        often = ground.width / ground.spacing
        usual = _windows(rows, reach, low, pace, often)
        if fill != "matchstick":
            return usual, usual
        middles = [((a + b) / 2,) * 2 for a, b in rows]  # it lies unevenly, one may just fit
        return min(_windows(middles, reach, low, pace, often), usual), usual
    # A meander hooks into that of the pass before.
    shared = WANDER * ground.spacing if fill in (*FREE, "stipple") else 0.0
    shared = min(shared, _SHARED * reach.depth)
    reach = replace(reach, depth=reach.depth - shared)
    fewest, usual = (
        _windows([(0.0, ground.height - shared)], reach, low, pace),
        _windows([(low, high - shared)], reach, low, pace),
    )
    return min(fewest, usual), usual


def _windows(
    rows: Sequence[tuple[float, float]],
    reach: Reach,
    first: float,
    pace: Pace,
    often: float = 1.0,
) -> int:
    """Count the windows that take the least time."""
    lows, highs = (np.array(side) for side in zip(*rows, strict=True))
    cut = np.full(len(rows), often * (pace.start + 2 * pace.end_inside))
    advance = pace.advance + pace.clamps + pace.baste
    return len(choose_windows(Strands(lows, highs, cut), reach, advance, first=first).tops)


def _bills(
    design: Design,
    asked: Asked,
    found: AreaEstimate,
    size: tuple[float, float],
    cut: tuple[Cut, Backing],
) -> tuple[Bill, Bill, Bill] | None:
    """Make up the bill for the low, the likely and the high figure."""
    charges = charges_of(design, _work(asked))
    if charges is None:
        return None
    batting, backing = cut
    flat = pace_of(design).load if charges.loading is not None else 0.0
    thread = thread_for(design, "fill" if asked.fill else "ditch")

    def charged(top: float, bobbin: float, seconds: float) -> Bill:
        return bill(
            charges, width=size[0], height=size[1], seconds=seconds - flat,
            uses=[_use(thread, top, bobbin)], batting=(batting.area, batting.height),
            backing=backing.fabric,
        )  # fmt: skip

    top, bobbin, spent = found.top, found.bobbin, found.seconds
    return (
        charged(top.low, bobbin.low, spent.low),
        charged(top.likely, bobbin.likely, spent.likely),
        charged(top.high, bobbin.high, spent.high),
    )


def _work(asked: Asked) -> Work:
    """Tell what kind of work it is."""
    if asked.fill is None:
        return "ditch"
    return "custom" if asked.ditch.strip() not in ("", "0") else "edge to edge"


def _use(name: str, top: float, bobbin: float) -> ThreadUse:
    """Give thread, waste counted, as the bill takes it."""
    return ThreadUse(
        name=name, runs=0, stitched=0.0, retraced=0.0, travelled=0.0, stitches=0, top=round(top),
        bobbin=round(bobbin), top_ends=0, bobbin_ends=0, waste_top=0, waste_bobbin=0, bobbins=0,
    )  # fmt: skip


def _length(argument: str, text: str, unit: Unit, *, least: float = 0.0) -> float:
    return _said(argument, lambda: parse_length(text, unit, least=least))


def _said(argument: str, parse: Callable[[], _Read]) -> _Read:
    """Read an argument; what is wrong with it is said with its name."""
    try:
        return parse()
    except StitchpathError as error:
        raise StitchpathError(str(error)).of_argument(argument) from None
