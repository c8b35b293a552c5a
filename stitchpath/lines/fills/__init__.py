"""Free-motion and walking-foot fills of any region.

A region goes in as a shapely polygon in mm, paths come out. `fill` does it all.
"""

from stitchpath.lines.fills.pattern import CLOSED, Filled, FillNote
from stitchpath.lines.fills.styles import STYLES, fill

__all__ = ["CLOSED", "STYLES", "FillNote", "Filled", "fill"]
