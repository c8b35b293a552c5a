"""Many lines at once as SVG path data, with two decimals of a millimetre."""

from collections.abc import Sequence

import numpy as np
import shapely

from stitchpath.base.typing import FloatArray, Geometries

__all__ = ["area_data", "line_data_of"]


def line_data_of(paths: Sequence[FloatArray]) -> list[str]:
    """Write polylines, each of shape (n, 2), as path data; a closed one ends with Z.

    Examples
    --------
    >>> line_data_of([np.array([[0.0, 0.0], [25.4, 3.14159]])])
    ['M0 0L25.4 3.14']
    """
    if not paths:
        return []
    words = _points(np.concatenate(paths))
    data, at = [], 0
    for path in paths:
        points = words[at : at + len(path)]
        at += len(path)
        if len(points) > 3 and points[0] == points[-1]:  # noqa: PLR2004 - to a point and back
            points[-1] = ""
            data.append("M" + "L".join(points[:-1]) + "Z")
        else:
            data.append("M" + "L".join(points))
    return data


def area_data(shapes: Geometries) -> list[str]:
    """Write polygons, or several in one, as path data to be filled by the even-odd rule."""
    if not len(shapes):
        return []
    parts, owner = shapely.get_parts(shapes, return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    written = line_data_of(np.split(coords, np.flatnonzero(np.diff(ring)) + 1))
    data = [""] * len(shapes)
    for text, of in zip(written, owner[part].tolist(), strict=True):
        data[of] += text
    return data


def _points(points: FloatArray) -> list[str]:
    rounded = (np.round(points, 2) + 0.0).tolist()
    return [f"{x:.9g} {y:.9g}" for x, y in rounded]
