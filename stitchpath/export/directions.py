"""Plan to a text file: the directions, run by run, in chapters, with what is done at each stop."""

from collections.abc import Iterator

from stitchpath.export.guide import A4, LETTER, guide_pages
from stitchpath.plan import Plan
from stitchpath.told.anchors import pictures
from stitchpath.told.card_words import drawn_by_step
from stitchpath.told.cards import cards
from stitchpath.told.chapters import chapters
from stitchpath.told.directions import RunDirections, directions
from stitchpath.told.pass_sheets import PassSheet, pass_sheets
from stitchpath.told.stops import Stop, stops_by_run

__all__ = ["plan_directions_text"]

_CAUTION = (
    "Your machine's manual comes before anything said here. Try thread and stitch on a sample\n"
    "of the same layers first, and keep your hands clear of the needle.\n"
)


_PAGES = (
    "What is stitched alike is drawn once in the printed guide. Its pages are named here as they\n"
    "are on {paper} in the usual print.\n"
)


def plan_directions_text(plan: Plan) -> str:
    """Write the directions as plain text, a numbered step to each straight seam or curve."""
    paper = LETTER if plan.top.unit == "in" else A4
    parts = [f"{plan.top.name}\n\n{_CAUTION}"]
    drawn: dict[tuple[int, int], str] = {}
    if cards(plan) or pictures(plan):
        parts.append(_PAGES.format(paper=paper.name))
        drawn = drawn_by_step(plan, guide_pages(plan, paper))
    begins = {(c.run, c.first_step): c.name for c in chapters(plan)}
    by_run = stops_by_run(plan)
    sheets = {told.begins: told for told in pass_sheets(plan)}
    for run in directions(plan):
        mine = by_run[run.run]
        shown = sheets.get((run.run, 0))
        parts += [_stop(stop) for stop in mine if stop.kind in ("start", "run")]
        parts.append(f"{_sheet(shown)}\n{run.heading}\n" if shown else f"\n{run.heading}\n")
        within = {run.step_of(stop.leg): stop for stop in mine if stop.kind == "bobbin"}
        parked = {leg: shown for (number, leg), shown in sheets.items() if number == run.run}
        parts += _steps(run, begins, within, drawn, parked)
        parts += [_stop(stop) for stop in mine if stop.kind == "end"]
    return "".join(parts)


def _steps(
    run: RunDirections,
    begins: dict[tuple[int, int], str],
    within: dict[int, Stop],
    drawn: dict[tuple[int, int], str],
    parked: dict[int, PassSheet],
) -> Iterator[str]:
    """Write the steps of a run.

    Above each chapter stands its name, above a step where it is drawn and what is done at a pass
    that it begins, below one a stop within it.
    """
    for number, step in enumerate(run.steps, 1):
        name = begins.get((run.run, number - 1))
        if name:
            yield f"\n{name[:1].upper()}{name[1:]}\n"
        if number > 1 and step.first_leg in parked:
            yield f"{_sheet(parked[step.first_leg])}\n"
        if (run.run, number - 1) in drawn:
            yield f"{drawn[run.run, number - 1]}\n"
        yield f"{number:4}. {step.text}\n"
        if number in within:
            yield _stop(within[number])


def _sheet(told: PassSheet) -> str:
    """Write what is done at a pass."""
    rows = [f"    - {what[:1].upper()}{what[1:]}: {said}\n" for what, said in told.rows]
    return f"\n{told.title}\n{''.join(rows)}"


def _stop(stop: Stop) -> str:
    """Write a stop and what is done there, but for what the steps tell."""
    told = [f"    - {text}\n" for text in stop.but("end", "roll", "test")]
    return f"\n{stop.heading}\n{''.join(told)}"
