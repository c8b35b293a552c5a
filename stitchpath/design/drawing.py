"""Read drawn outlines: SVG path data and SVG files, flattened to polylines."""

import math
import re
from io import BytesIO
from pathlib import Path

import numpy as np

from stitchpath.errors import StitchpathError
from stitchpath.typing import FloatArray

__all__ = ["flatten_path", "read_outline_file"]

_FILE_LIMIT = 10_000_000  # bytes
_TOKENS = re.compile(r"[\s,]*(?:[MmLlHhVvCcSsQqTtAaZz]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")


def flatten_path(data: str, where: str, tolerance: float) -> list[FloatArray]:
    """Flatten SVG path data.

    Parameters
    ----------
    data
        Path data (SVG 2, section 9.3), with any of M L H V C S Q T A Z.
    where
        The place in the design, for errors.
    tolerance
        Greatest distance of the polyline from the curve, in the units of the data.

    Returns
    -------
    list of FloatArray
        One polyline for each subpath, shape (n, 2); a closed one ends where it began.

    Raises
    ------
    StitchpathError
        When it is no path data.
    """
    from svgelements import Path as SvgPath  # noqa: PLC0415 - only designs with curves pay for it

    rest = _TOKENS.sub("", data).strip(" ,\n\t\r")
    if rest or not data.strip().startswith(("M", "m")):
        raise StitchpathError(
            f"{where}: found {(rest or data)[:30]!r}, expected SVG path data such as "
            '"M 0 0 L 4 0 L 4 4 Z"'
        )
    try:
        path = SvgPath(data)
    except (ValueError, IndexError, TypeError, ZeroDivisionError):
        raise StitchpathError(
            f"{where}: found path data with numbers missing, expected the right count after each "
            "letter, as in M 0 0 or A 5 5 0 0 1 10 10"
        ) from None
    return _flatten(path, where, tolerance)


def _flatten(path: object, where: str, tolerance: float) -> list[FloatArray]:
    from svgelements import Close, Move  # noqa: PLC0415

    lines: list[list[FloatArray]] = []
    for segment in path:  # type: ignore[attr-defined]
        if isinstance(segment, Move):
            lines.append([np.array([[segment.end.x, segment.end.y]])])
        elif isinstance(segment, Close) and segment.end is None:
            continue
        else:
            count = _pieces(segment, tolerance)
            points = np.asarray(segment.npoint(np.linspace(0, 1, count + 1)), dtype=float)
            points[-1] = segment.end.x, segment.end.y
            lines[-1].append(points[1:])
    out = [np.concatenate(parts) for parts in lines]
    for points in out:
        if not np.isfinite(points).all() or np.abs(points).max(initial=0) > 1e9:  # noqa: PLR2004
            raise StitchpathError(f"{where}: found a number out of range, expected finite numbers")
    return [points[_moved(points)] for points in out]


def _moved(points: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)])


def _pieces(segment: object, tolerance: float) -> int:
    """Count the chords that keep within the tolerance.

    For a Bézier curve of degree n the chord error of k equal steps is at most
    n(n - 1)/8 · max|second difference of the control points| / k² (Wang's bound); for an arc of
    radius r a chord over the angle a errs by r(1 - cos a/2).
    """
    from svgelements import Arc, CubicBezier, QuadraticBezier  # noqa: PLC0415

    if isinstance(segment, Arc):
        radius = max(float(segment.rx), float(segment.ry), tolerance)
        step = 2 * math.acos(max(1 - tolerance / radius, 0.0))
        return min(max(1, math.ceil(abs(float(segment.sweep)) / step)), 10_000)
    if isinstance(segment, CubicBezier):
        controls = [segment.start, segment.control1, segment.control2, segment.end]
    elif isinstance(segment, QuadraticBezier):
        controls = [segment.start, segment.control, segment.end]
    else:
        return 1
    degree = len(controls) - 1
    second = np.diff(np.array([[p.x, p.y] for p in controls]), n=2, axis=0)
    bend = float(np.hypot(second[:, 0], second[:, 1]).max())
    if not math.isfinite(bend):
        return 1
    return min(max(1, math.ceil(math.sqrt(degree * (degree - 1) / 8 * bend / tolerance))), 10_000)


def read_outline_file(
    path: Path, wanted: str | None, where: str, share: float, *, closed: bool = True
) -> list[FloatArray]:
    """Read an outline from an SVG file, transforms of its groups applied.

    Parameters
    ----------
    path
        The file.
    wanted
        Id of the element; None for the first closed path or shape.
    where
        The place in the design, for errors.
    share
        Flattening tolerance as a share of the outline's larger side.
    closed
        Whether the first path has to be closed.

    Returns
    -------
    list of FloatArray
        The rings, shape (n, 2), in the file's own units.

    Raises
    ------
    StitchpathError
        When the file is missing, too large, no SVG, or holds no such outline.
    """
    from svgelements import Path as SvgPath  # noqa: PLC0415
    from svgelements import Shape  # noqa: PLC0415

    for element in _read_svg(path, where).elements():  # type: ignore[attr-defined]
        if not isinstance(element, Shape) or (wanted is not None and element.id != wanted):
            continue
        outline = SvgPath(element).reify()
        box = outline.bbox()
        if box is None:
            continue
        size = max(box[2] - box[0], box[3] - box[1])
        rings = _flatten(outline, f"{where}: {path.name}", max(size, 1e-9) * share)
        ringed = any(len(r) > 3 and np.all(r[0] == r[-1]) for r in rings)  # noqa: PLR2004
        if wanted is not None or ringed or not closed:
            return rings
    kind = "closed path" if closed else "path"
    found = f"no {kind}" if wanted is None else f"no path with the id {wanted!r}"
    expected = "a closed outline" if closed else "a line"
    raise StitchpathError(f"{where}: found {found} in {path}, expected {expected}")


def _read_svg(path: Path, where: str) -> object:
    from defusedxml import ElementTree  # noqa: PLC0415
    from defusedxml.common import DefusedXmlException  # noqa: PLC0415
    from svgelements import SVG  # noqa: PLC0415

    try:
        if path.stat().st_size > _FILE_LIMIT:
            raise StitchpathError(f"{where}: {path} is over 10 MB, expected a smaller SVG file")
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "unreadable"
        raise StitchpathError(
            f"{where}: cannot read {path} ({reason.lower()}), expected an SVG file"
        ) from None
    try:
        ElementTree.fromstring(data)  # refuses entity bombs and outside references
        return SVG.parse(BytesIO(data), ppi=96)
    except (ElementTree.ParseError, DefusedXmlException, ValueError) as error:
        raise StitchpathError(
            f"{where}: {path} is no plain SVG ({error}), expected an SVG file"
        ) from None
