"""Plan to a text file: the directions, run by run."""

from stitchpath.plan import Plan
from stitchpath.told.directions import directions

__all__ = ["plan_directions_text"]

_CAUTION = (
    "Your machine's manual comes before anything said here. Try thread and stitch on a sample\n"
    "of the same layers first, and keep your hands clear of the needle.\n"
)


def plan_directions_text(plan: Plan) -> str:
    """Write the directions as plain text, a numbered step to each straight seam or curve."""
    parts = [f"{plan.top.name}\n\n{_CAUTION}"]
    for run in directions(plan):
        parts.append(f"\n{run.heading}\n\n")
        parts += [f"{number:4}. {step.text}\n" for number, step in enumerate(run.steps, 1)]
    return "".join(parts)
