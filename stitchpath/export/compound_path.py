"""Many polylines or rings as one path of matplotlib: a path for each takes long on a large top."""

from collections.abc import Sequence

import numpy as np
from matplotlib.path import Path

from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import joined_paths

__all__ = ["compound_path"]


def compound_path(paths: Sequence[FloatArray], *, closed: bool) -> Path:
    """Join polylines, or rings that repeat their first point, each of shape (n, 2)."""
    starts, points = joined_paths(paths)
    codes = np.full(len(points), Path.LINETO, dtype=Path.code_type)
    codes[starts] = Path.MOVETO
    if closed:
        codes[np.append(starts[1:], len(points)) - 1] = Path.CLOSEPOLY
    return Path(points, codes)
