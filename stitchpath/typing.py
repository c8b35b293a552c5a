"""Array types shared by all stages."""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["BoolArray", "FloatArray", "Geometries", "IntArray"]

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.int64]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
Geometries: TypeAlias = npt.NDArray[np.object_]  # shapely geometries
