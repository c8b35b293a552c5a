"""What each command does: a module for each, loaded when its command is given.

scipy asks for every name of numpy while it is loaded. Two of them no command needs: the builder
of Fortran modules and the helpers of tests. They take a twentieth of a small plan to load, so
they wait until someone does ask something of them.
"""

import importlib.util
import sys

import numpy as np


def _later(name: str) -> None:
    """Load a part of numpy when it is first used."""
    found = importlib.util.find_spec(f"numpy.{name}")
    if found is None or found.loader is None or found.name in sys.modules:
        return
    found.loader = importlib.util.LazyLoader(found.loader)
    module = importlib.util.module_from_spec(found)
    sys.modules[found.name] = module
    found.loader.exec_module(module)
    setattr(np, name, module)


for _name in ("f2py", "testing"):
    _later(_name)
