"""Stitches, thread, bobbins, time and money, as pure functions over runs."""

from stitchpath.design.battings import UNNAMED, thickness_through
from stitchpath.hands.pace import FRAME, ByKind, Pace
from stitchpath.thread.bobbin import BOBBINS, CLASS_15, Bobbin, bobbin_room
from stitchpath.thread.bobbins import BobbinChange, RunPoint, bobbin_changes
from stitchpath.thread.cloth import (
    Backing,
    Cut,
    Purchase,
    cut_backing,
    cut_batting,
    spools_to_buy,
    thread_to_buy,
)
from stitchpath.thread.consumption import RunThread, ThreadPlan, ThreadUse, plan_thread, thread_use
from stitchpath.thread.estimate import AreaEstimate, Range, Setting, Swing, estimate_by_area
from stitchpath.thread.laid import LAID, Ground, Motif
from stitchpath.thread.lockstitch import (
    FLAT_RATIO,
    Ratio,
    Sample,
    Stitching,
    lockstitch,
    measured_ratio,
    parse_sample,
    stitches_per_mm,
)
from stitchpath.thread.money import Bill, BillLine, Charges, bill
from stitchpath.thread.needle import NeedlePoints, needle_points
from stitchpath.thread.sizes import (
    FIBRE_DENSITY,
    SPOOLS,
    ThreadKind,
    parse_thread_size,
    tex_to_cotton,
    tex_to_denier,
    tex_to_metric,
)
from stitchpath.thread.time import RunTime, moves_of, route_time, run_times

__all__ = [
    "BOBBINS",
    "CLASS_15",
    "FIBRE_DENSITY",
    "FLAT_RATIO",
    "FRAME",
    "LAID",
    "SPOOLS",
    "UNNAMED",
    "AreaEstimate",
    "Backing",
    "Bill",
    "BillLine",
    "Bobbin",
    "BobbinChange",
    "ByKind",
    "Charges",
    "Cut",
    "Ground",
    "Motif",
    "NeedlePoints",
    "Pace",
    "Purchase",
    "Range",
    "Ratio",
    "RunPoint",
    "RunThread",
    "RunTime",
    "Sample",
    "Setting",
    "Stitching",
    "Swing",
    "ThreadKind",
    "ThreadPlan",
    "ThreadUse",
    "bill",
    "bobbin_changes",
    "bobbin_room",
    "cut_backing",
    "cut_batting",
    "estimate_by_area",
    "lockstitch",
    "measured_ratio",
    "moves_of",
    "needle_points",
    "parse_sample",
    "parse_thread_size",
    "plan_thread",
    "route_time",
    "run_times",
    "spools_to_buy",
    "stitches_per_mm",
    "tex_to_cotton",
    "tex_to_denier",
    "tex_to_metric",
    "thickness_through",
    "thread_to_buy",
    "thread_use",
]
