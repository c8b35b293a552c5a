"""The command schema."""

import json

from stitchpath.cli.screen import say
from stitchpath.design.schema import design_schema
from stitchpath.plan_schema import plan_schema

__all__ = ["run"]


def run(*, of_plan: bool) -> None:
    """Print a JSON Schema."""
    say(json.dumps(plan_schema() if of_plan else design_schema(), indent=2, ensure_ascii=False))
