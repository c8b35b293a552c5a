"""Which way a quilt is loaded into a frame, in words, and what the other way would take."""

from stitchpath.base.units import format_count, format_distance, format_length
from stitchpath.design.model import Loaded
from stitchpath.plan import Plan
from stitchpath.thread import cut_backing
from stitchpath.told.job_rows import clock_time

__all__ = ["loading_words"]


def loading_words(plan: Plan) -> str | None:
    """Tell which way a quilt is loaded, and what either way takes.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    str or None
        Such as "sideways: 5 windows, 1:02:00; lengthwise 7 windows, about 1:20:00". The other way
        is reckoned by its windows and what is cut between them, not routed. None where no frame of
        known depth is planned for.
    """
    loading = plan.loading
    if loading is None or loading.way not in loading.windows:
        return None
    other = loading.other
    total = sum(spent.total for spent in plan.times)
    mine = f"{format_count(max(len(plan.windows), 1), 'window')}, {clock_time(total)}"
    wide = format_length(loading.wide[other], plan.top.unit)
    if other not in loading.windows:
        return f"{loading.way}: {mine}; {other} it would not fit, {wide} wide"
    seconds = total + round(loading.seconds[other] - loading.seconds[loading.way])
    known = plan.design.machine.width is not None
    frame = "" if known else f", if the frame takes {wide}:"
    theirs = f"{format_count(loading.windows[other], 'window')}, about {clock_time(seconds)}"
    cloth = [plan.needs.backings[0].fabric, _backing(plan, other)]
    if abs(cloth[0] - cloth[1]) > 1:
        mine, theirs = (
            f"{said}, {format_distance(long, plan.top.unit)} of backing"
            for said, long in zip((mine, theirs), cloth, strict=True)
        )
    return f"{loading.way}: {mine}; {other}{frame} {theirs}"


def _backing(plan: Plan, way: Loaded) -> float:
    """Length of backing to buy where the quilt is loaded another way, its seams along the bars."""
    cloth, top = plan.design.backing, plan.top
    margin = plan.design.batting.margin
    return cut_backing(
        top.width, top.height, margin, cloth.width, cloth.seam, framed=True,
        sideways=way == "sideways",
    )[0].fabric  # fmt: skip
