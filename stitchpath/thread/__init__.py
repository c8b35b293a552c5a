"""Stitches, thread, bobbins, time and money, as pure functions over runs."""

from stitchpath.thread.bobbin import BOBBINS, CLASS_15, Bobbin, bobbin_room
from stitchpath.thread.bobbins import BobbinChange, Place, bobbin_changes
from stitchpath.thread.lockstitch import (
    BATTINGS,
    FLAT_RATIO,
    Batting,
    ByKind,
    Ratio,
    Sample,
    Stitching,
    lockstitch,
    measured_ratio,
    thickness_through,
)
from stitchpath.thread.sizes import (
    FIBRE_DENSITY,
    ThreadKind,
    parse_thread_size,
    tex_to_cotton,
    tex_to_denier,
    tex_to_metric,
)
from stitchpath.thread.use import RunThread, ThreadPlan, ThreadUse, plan_thread, thread_use

__all__ = [
    "BATTINGS",
    "BOBBINS",
    "CLASS_15",
    "FIBRE_DENSITY",
    "FLAT_RATIO",
    "Batting",
    "Bobbin",
    "BobbinChange",
    "ByKind",
    "Place",
    "Ratio",
    "RunThread",
    "Sample",
    "Stitching",
    "ThreadKind",
    "ThreadPlan",
    "ThreadUse",
    "bobbin_changes",
    "bobbin_room",
    "lockstitch",
    "measured_ratio",
    "parse_thread_size",
    "plan_thread",
    "tex_to_cotton",
    "tex_to_denier",
    "tex_to_metric",
    "thickness_through",
    "thread_use",
]
