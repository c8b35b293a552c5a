"""One table of tolerances: how near counts as the same, each with its unit.

Here stands what several modules mean alike. What one module alone means stands at its own head,
under a name that tells it; angles stand in `geometry/turns.py`. A finished plan is read through
with tolerances of its own (`checks/proofread.py`), for it shares nothing with what made the plan.
"""

__all__ = [
    "ALIKE",
    "BOTH_ROUNDED",
    "FLATTENING",
    "FREE",
    "GRID",
    "MOTIF_SHARE",
    "OUTLINE_SHARE",
    "POINT",
    "ROUNDING",
    "SAME_EDGE",
    "SAME_PLACE",
    "SAME_POINT",
]

# Lengths, mm, from the coarsest to the finest.
ALIKE = 0.2  # what is laid on another like it and lies so near to it falls on it
FLATTENING = 0.05  # no curve stands out further from the straight pieces that it is drawn with
SAME_PLACE = 0.02  # places of the finished top so near to each other bear one name
SAME_EDGE = 0.01  # sizes, corners and edges of cloth so near to each other are one
BOTH_ROUNDED = 0.002  # two places that are one may lie so far apart once each is on the grid
GRID = 0.001  # all coordinates lie on a grid of 1 µm
POINT = 0.001  # a shorter line is a point; a line that comes so near to a place has reached it
SAME_POINT = 1e-6  # points of a fill so near to each other, before they are on the grid, are one
ROUNDING = 1e-9  # two places so near are told apart by the rounding of the arithmetic alone

# Shares of the size of what is drawn.
MOTIF_SHARE = 1e-3  # how far a flattened motif may lie from its curve: 0.05 mm at 2 in
OUTLINE_SHARE = 1e-4  # how far a flattened outline may lie from its curve: 0.02 mm at 8 in

# Prices, mm of stitching.
FREE = 1e-9  # stands for a price of nothing: scipy's csgraph takes a zero for no edge
