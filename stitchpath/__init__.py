"""stitchpath plans the quilting of a small quilt.

>>> import stitchpath
>>> design = stitchpath.load_design("designs/harbour-runner.toml")  # doctest: +SKIP
>>> plan = stitchpath.make_plan(design)  # doctest: +SKIP
>>> stitchpath.save_plan(plan, "exports")  # doctest: +SKIP
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stitchpath.design.read import load_design
    from stitchpath.errors import StitchpathError
    from stitchpath.export.write import save_plan
    from stitchpath.plan import make_plan

__all__ = ["StitchpathError", "load_design", "make_plan", "save_plan"]

_HOMES = {
    "StitchpathError": "stitchpath.errors",
    "load_design": "stitchpath.design.read",
    "make_plan": "stitchpath.plan",
    "save_plan": "stitchpath.export.write",
}


def __getattr__(name: str) -> object:
    """Import a public name when it is first used, so that the command line starts at once."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module  # noqa: PLC0415

    return getattr(import_module(_HOMES[name]), name)
