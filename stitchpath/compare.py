"""What the choices of lines and retracing cost: the same top planned in several ways."""

from dataclasses import dataclass
from typing import Literal

from stitchpath.base.errors import StitchpathError
from stitchpath.checks.cures import Survey
from stitchpath.design.model import Design
from stitchpath.plan import Plan, make_plan

__all__ = ["Choice", "compare"]

_LINES: tuple[tuple[Literal["all", "feature", "blocks"], str], ...] = (
    ("all", "all seams"),
    ("feature", "feature outlines"),
    ("blocks", "block seams only"),
)
_RETRACE: tuple[tuple[Literal["allowed", "never"], str], ...] = (
    ("allowed", "with retracing"),
    ("never", "without"),
)


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to quilt the top.

    Attributes
    ----------
    lines, retrace
        What was chosen, in words.
    runs, breaks
        Counts.
    metres
        All that is sewn, m.
    thread
        Top and bobbin thread with waste, m.
    minutes
        Time at the machine.
    optimal
        Whether the route is proven.
    """

    lines: str
    retrace: str
    runs: int
    breaks: int
    metres: float
    thread: float
    minutes: float
    optimal: bool


def compare(design: Design, *, time_limit: float = 10.0) -> tuple[list[Choice], list[str]]:
    """Plan a design with each choice of seams, with and without retracing.

    Parameters
    ----------
    design
        The design; its own choice of seams is one of those compared.
    time_limit
        Seconds for the proof of each plan.

    Returns
    -------
    choices, left_out : lists
        The ways that can be planned, and a sentence for each that cannot.

    Raises
    ------
    StitchpathError
        When not one way can be planned.
    """
    choices: list[Choice] = []
    left_out: list[str] = []
    try:
        looked = Survey.of(design)
    except StitchpathError as error:
        raise error.told_of(design.source) from None
    for ditch, lines in _LINES:
        chosen = design.lines.model_copy(update={"ditch": (ditch,)})
        looked = looked.changed(design.model_copy(update={"lines": chosen}))
        refused: dict[str, list[str]] = {}
        for retrace, how in _RETRACE:
            route = design.route.model_copy(update={"retrace": retrace})
            asked = looked.design.model_copy(update={"route": route})
            try:
                made = make_plan(asked, time_limit=time_limit, looked=looked, cures=False)
                choices.append(_choice(made, lines, how))
            except StitchpathError as error:
                refused.setdefault(str(error), []).append(how)
        for why, ways in refused.items():  # what holds either way is said once
            which = lines if len(ways) == len(_RETRACE) else f"{lines}, {ways[0]}"
            left_out.append(f"{which}: {why}")
    if not choices:
        raise StitchpathError(left_out[0])
    return choices, left_out


def _choice(plan: Plan, lines: str, retrace: str) -> Choice:
    totals = plan.totals
    return Choice(
        lines,
        retrace,
        totals.runs,
        totals.breaks,
        (totals.stitched + totals.retraced + totals.travelled) / 1000,
        sum(use.total for use in plan.thread.uses) / 1000,
        sum(spent.total for spent in plan.times) / 60,
        plan.proof.optimal,
    )
