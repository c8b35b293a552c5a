"""Routes kept for one run of the tests: many look at the same quilt, and its search is the dear part.

A route is kept under all that it is found from, in a folder that the run's workers share. Tests
that patch something, watch a search, or ask whether two searches agree, search anew.
"""

import hashlib
import os
import pickle

from stitchpath import plan

_searched = plan._route_all


class KeptRoutes:
    """Stands in for the search of all routes of a plan, and remembers what that found."""

    def __init__(self, folder):
        self.folder = folder
        self.anew = False

    def __call__(self, design, top, lines, networks, time_limit, progress):
        if self.anew:
            return _searched(design, top, lines, networks, time_limit, progress)
        found = hashlib.sha256(pickle.dumps((design.model_dump(), lines, networks, time_limit)))
        file = self.folder / found.hexdigest()
        if file.exists():
            return pickle.loads(file.read_bytes())  # noqa: S301 - written by this very run
        routed = _searched(design, top, lines, networks, time_limit, progress)
        whole = file.with_suffix(f".{os.getpid()}")
        whole.write_bytes(pickle.dumps(routed))
        whole.replace(file)
        return routed
