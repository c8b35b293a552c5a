"""The few numbers of a plan, as rows of text."""

from stitchpath.base.units import format_count, format_distance, format_length
from stitchpath.plan import Plan
from stitchpath.route.runs import Proof
from stitchpath.told.job_rows import clock_time
from stitchpath.told.loading import loading_words
from stitchpath.told.passes import rolled_from
from stitchpath.top.place_names import join_words

__all__ = ["promise", "summary_rows", "thread_rows"]


def promise(proof: Proof) -> str:
    """Say what a proof says that meets its bound."""
    if proof.unit == "mm":
        return "no route costs less"
    order = "" if proof.free is None else " in the order that is taught"
    return f"no way of stitching this{order} takes less time at your pace"


def summary_rows(plan: Plan) -> list[tuple[str, str]]:
    """List what a quilter wants to know first: name and value."""
    unit, totals, proof = plan.top.unit, plan.totals, plan.proof
    size = f"{format_length(plan.top.width, unit)} by {format_length(plan.top.height, unit)}"
    said = f"proven: {promise(proof)}"
    if not proof.optimal:
        said = f"within {proof.gap * 100:.2f} % of the bound"
        said += "" if proof.free is None else " for this order"
    if proof.cut_off:
        said += ", cut off by a slow or busy computer: another run may find another route"
    rows = [
        ("size", size),
        ("lines", f"{len(plan.lines)}"),
        ("runs", f"{totals.runs}, with {format_count(totals.breaks, 'thread break')}"),
    ]
    if plan.windows:
        starts = [format_length(window.top, unit) for window in plan.windows[1:]]
        rolled = f", rolled on to {join_words(starts)} {rolled_from(plan)}" if starts else ""
        rows.append(("passes", f"{len(plan.windows)}{rolled}"))
    loaded = loading_words(plan)
    if loaded is not None:
        rows.append(("loaded", loaded))
    if plan.anchoring is not None:
        first, many = plan.anchoring, format_count(plan.anchoring.runs, "run")
        rows.append(
            (
                "anchoring",
                f"first, in {many}; their ends and ways "
                + (
                    f"take {clock_time(round(first.extra))}"
                    if proof.unit == "s"
                    else f"cost {first.extra:.0f}"
                ),
            )
        )
    return [
        *rows,
        ("stitched", format_distance(totals.stitched, unit)),
        ("retraced", format_distance(totals.retraced, unit)),
        ("travelled", format_distance(totals.travelled, unit)),
        ("pivots", f"{plan.pivots} with corners within lines, {plan.about_turns} straight back"),
        *(
            [] if plan.design.machine.kind == "frame" else [("turning", _turning(plan))]
        ),  # in a frame the quilt lies still
        *_moves(plan),
        ("time", _time(plan)),
        *_roll(plan),
        ("route", f"{_weighed(plan)}, {said}"),
        *_order(plan),
    ]


def _order(plan: Plan) -> list[tuple[str, str]]:
    """Tell what it takes more to keep to the order that is taught."""
    if plan.proof.free is None:
        return []
    more = round(plan.proof.cost - plan.proof.free)
    much = (
        f"{clock_time(more)} more than the best found in any order"
        if more
        else "no longer than any found"
    )
    return [("order", f"as it is taught: anchors, then from the centre outward; {much}")]


def _weighed(plan: Plan) -> str:
    """Say what the route costs, and what no route can cost less than."""
    cost, bound = plan.proof.cost, plan.proof.lower_bound
    if plan.proof.unit == "mm":
        return f"cost {cost:.0f}, bound {bound:.0f}"
    return f"{clock_time(round(cost))} at your pace, bound {clock_time(round(bound))}"


def _moves(plan: Plan) -> list[tuple[str, str]]:
    """List what else her hands do on the way, where they do it."""
    rows = []
    for name, many, part in (
        ("returns", plan.returns, "returns"),
        ("foot changes", plan.foot_changes, "feet"),
    ):
        seconds = sum(getattr(spent, part) for spent in plan.times)
        if seconds:
            rows.append((name, f"{many}, {clock_time(seconds)}"))
    return rows


def _roll(plan: Plan) -> list[tuple[str, str]]:
    """Tell the thickest roll right of the needle, where the throat is known."""
    if plan.rolls is None:
        return []
    unit = plan.top.unit
    number, most = max(enumerate(plan.rolls.runs, 1), key=lambda pair: pair[1].thick)
    thick, width = format_length(most.thick, unit), format_length(most.width, unit)
    return [("roll", f"at most {thick} thick, {width} right of the needle, in run {number}")]


def _turning(plan: Plan) -> str:
    """Say how much the runs turn, and how near that is to the least there can be."""
    ratio = f", {plan.turning / plan.least_turning:.2f} of the least" if plan.least_turning else ""
    return f"{plan.turning / 360:.1f} full turns in all{ratio}"


def _time(plan: Plan) -> str:
    """Say how long it takes, and how often the bobbin is changed meanwhile."""
    seconds, changes = sum(spent.total for spent in plan.times), len(plan.thread.changes)
    many = format_count(changes, "bobbin change")
    return f"{clock_time(seconds)} (h:min:s), with {many}"


def thread_rows(plan: Plan) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """List thread by name: header and rows."""
    unit = plan.top.unit
    header = ("thread", "runs", "top", "bobbin", "waste beside", "bobbins")
    rows: list[tuple[str, ...]] = [
        (
            use.name,
            f"{use.runs}",
            format_distance(use.top, unit),
            format_distance(use.bobbin, unit),
            format_distance(use.waste, unit),
            f"{use.bobbins}",
        )
        for use in plan.thread.uses
    ]
    return header, rows
