"""Types shared by all stages: arrays, and the few words of a plan."""

from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = [
    "Along",
    "BoolArray",
    "ComplexArray",
    "FloatArray",
    "Geometries",
    "IntArray",
    "Kind",
    "Role",
    "Where",
]

FloatArray: TypeAlias = npt.NDArray[np.float64]
IntArray: TypeAlias = npt.NDArray[np.int64]
ComplexArray: TypeAlias = npt.NDArray[np.complex128]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
Geometries: TypeAlias = npt.NDArray[np.object_]  # shapely geometries
Kind: TypeAlias = Literal["ditch", "centre", "outline", "echo", "fill", "drawn"]
Along: TypeAlias = Literal["seam", "margin", "edge"]  # what one travels along
Where: TypeAlias = Literal["margin", "edge", "inside"]  # where a run ends
Role: TypeAlias = Literal[
    "patch", "seam", "edge", "appliqué", "quilting", "guide", "leave out"
]  # of a shape
