"""Which foot is put on, and where: before a run, or within it with the needle down."""

from collections.abc import Mapping

from stitchpath.hands.feet import ANY_FOOT, FEET
from stitchpath.plan import Plan, once
from stitchpath.thread.time import leg_feet

__all__ = ["feet_put_on", "foot_words"]

_MOTION = "free-motion"


@once
def feet_put_on(plan: Plan) -> Mapping[tuple[int, int], str]:
    """Tell where a foot is put on, and which.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    Mapping of (int, int) to str
        By number of the run and index of the leg, which is 0 where the foot is put on before the
        run. The first foot of the plan is told too. Empty in a frame, which has one foot.
    """
    found: dict[tuple[int, int], str] = {}
    on = ANY_FOOT
    feet = iter(leg_feet(plan.runs, plan.tariff).tolist())
    for run in plan.runs:
        known = False
        for k, _ in enumerate(run.legs):
            foot = next(feet)
            if foot not in (ANY_FOOT, on):
                found[run.number, k if known else 0] = FEET[foot]
                on = foot
            known |= foot != ANY_FOOT
    return found if plan.design.machine.kind != "frame" else {}


def foot_words(foot: str, *, first: bool) -> str:
    """Say what is done, as in "Put on the walking foot."; feed dogs by common practice.

    Parameters
    ----------
    foot
        Its name.
    first
        Whether none was on before.
    """
    if foot == _MOTION:
        return (
            "Put on the free-motion foot, and lower the feed dogs if your machine's manual says so."
        )
    return f"Put on the {foot} foot{'' if first else ', and raise the feed dogs'}."
