"""stitchpath plans the quilting of a small quilt.

From a design (`make_plan` and `save_plan` go on from here):

>>> import stitchpath
>>> stitchpath.load_design("designs/harbour-runner.toml").name
'Harbour runner'

Lines of your own, without a design:

>>> routed = stitchpath.route_lines([[(0, 0), (50, 0)], [(50, 0), (50, 50)]])
>>> routed
<RoutedLines 'lines': 2 lines, 1 run, cost 400.0 mm, proven>
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stitchpath.base.errors import (
        GeometryError,
        MissingFileError,
        StitchpathError,
        UnknownNameError,
    )
    from stitchpath.design.model import Design
    from stitchpath.design.read import load_design
    from stitchpath.export.write import save_plan
    from stitchpath.network.as_networkx import network_from_networkx, network_to_networkx
    from stitchpath.own_lines import RoutedLines, route_lines
    from stitchpath.plan import Plan, make_plan
    from stitchpath.saved import SavedPlan, load_plan

    __version__: str

__all__ = [
    "Design",
    "GeometryError",
    "MissingFileError",
    "Plan",
    "RoutedLines",
    "SavedPlan",
    "StitchpathError",
    "UnknownNameError",
    "load_design",
    "load_plan",
    "make_plan",
    "network_from_networkx",
    "network_to_networkx",
    "route_lines",
    "save_plan",
]

_HOMES = {
    "Design": "stitchpath.design.model",
    "GeometryError": "stitchpath.base.errors",
    "MissingFileError": "stitchpath.base.errors",
    "Plan": "stitchpath.plan",
    "RoutedLines": "stitchpath.own_lines",
    "SavedPlan": "stitchpath.saved",
    "StitchpathError": "stitchpath.base.errors",
    "UnknownNameError": "stitchpath.base.errors",
    "load_design": "stitchpath.design.read",
    "load_plan": "stitchpath.saved",
    "make_plan": "stitchpath.plan",
    "network_from_networkx": "stitchpath.network.as_networkx",
    "network_to_networkx": "stitchpath.network.as_networkx",
    "route_lines": "stitchpath.own_lines",
    "save_plan": "stitchpath.export.write",
}


def __getattr__(name: str) -> object:
    """Import a public name when it is first used, so that the command line starts at once."""
    if name == "__version__":
        from importlib import metadata  # noqa: PLC0415 - a door: it takes as long as all of help

        return metadata.version("stitchpath")
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value: object = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
