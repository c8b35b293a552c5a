"""How a piece lies: a frame that turns with it, and in which ways it is its own picture.

Lines are found in a frame of the piece's own, on an outline that is made exactly as symmetric as it
was meant to be. A mirrored or turned piece has the same frame, so it gets the same lines.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from stitchpath.base.typing import ComplexArray, FloatArray
from stitchpath.lines.centre.edge import Ground

__all__ = ["MOMENTS", "SAME", "Pose", "mirrored", "moments_of", "posed"]

MOMENTS = tuple(range(2, 13))  # orders of the moments that tell how a piece lies
# Share of its size that a piece may be off its own picture: 0.2 mm on 4 in, for letters and icons
# are drawn on a grid as coarse. Where its lines would then be too near the edge, 0.05 mm, or none.
SAME = (2e-3, 5e-4, 0.0)
_ROUND = 1e-9  # a piece with less of every moment has no direction
_GRID = 1e-6  # mm: what a mirrored and a drawn half may be apart
_OVER = 1e-3  # mm that laid sectors overlap
_SPOTS, _FEW = 400, 24  # places of the outline that are tried, beside its corners; the first


@dataclass(frozen=True, slots=True)
class Pose:
    """A piece in its own frame.

    Attributes
    ----------
    outline
        Its outline there, mm, its middle at (0, 0), as symmetric as `symmetries` say.
    symmetries
        Matrices (2, 2) that lay it on itself, the identity first.
    middle
        Where its middle lies, shape (2,), mm.
    turn
        Orthogonal matrix (2, 2) from the drawing to the frame.
    """

    outline: Polygon | MultiPolygon
    symmetries: tuple[FloatArray, ...]
    middle: FloatArray
    turn: FloatArray

    def back(self, points: FloatArray) -> FloatArray:
        """Bring points (n, 2) from the frame to the drawing."""
        placed: FloatArray = points @ self.turn + self.middle
        return placed

    def into(self, points: FloatArray) -> FloatArray:
        """Bring points (n, 2) from the drawing to the frame."""
        placed: FloatArray = (points - self.middle) @ self.turn.T
        return placed


def posed(outline: Polygon | MultiPolygon, same: float = SAME[0]) -> Pose:
    """Find the frame and the symmetries of a piece.

    Parameters
    ----------
    outline
        Valid outline, mm.
    same
        Share of its size that the piece may be off its own picture.

    Notes
    -----
    The frame goes by the moments of area of z^n over the piece, z = x + iy from its middle (complex
    moments; Flusser, Suk and Zitova 2009, "Moments and Moment Invariants in Pattern Recognition").
    Turned by t, moment n turns by n t; mirrored, it becomes its conjugate. The strongest moment
    lies along the x axis of the frame; of the turns and mirrorings that leave it there, the one
    whose other moments come first is taken.
    """
    middle = np.array(outline.centroid.coords[0])
    centred = shapely.transform(outline, lambda points: points - middle)
    moments = moments_of(centred)
    share = np.abs(moments)
    order = int(np.argmax(share * np.array(MOMENTS)))
    turn = np.eye(2)
    if share[order] > _ROUND:
        turn = _frame(moments, order)
    placed = shapely.transform(centred, lambda points: points @ turn.T)
    placed = shapely.normalize(shapely.set_precision(placed, _GRID))
    if placed.is_empty or not placed.is_valid:
        return Pose(outline, (np.eye(2),), np.zeros(2), np.eye(2))
    # how a piece lies is known only as well as its strongest moment stands out
    same = min(same, max(float(share[order]) / 10, SAME[1]))
    group = _symmetries(placed, MOMENTS[order], same)
    return Pose(_made_symmetric(placed, group, same), group, middle, turn)


def moments_of(outline: Polygon | MultiPolygon) -> ComplexArray:
    """Complex moments of area of the orders `MOMENTS`, as shares of what there could be.

    Parameters
    ----------
    outline
        Valid outline, its middle at (0, 0).

    Notes
    -----
    Over the triangle (0, a, b) the integral of z^n is its doubled area / ((n + 1)(n + 2)) times the
    sum of a^k b^(n - k) over k from 0 to n.
    """
    rings = [r for p in shapely.get_parts(outline) for r in (p.exterior, *p.interiors)]
    signs = [1.0] * len(rings)
    first = np.cumsum([0, *(1 + len(p.interiors) for p in shapely.get_parts(outline))])
    starts: list[np.ndarray] = []
    stops: list[np.ndarray] = []
    for k, ring in enumerate(rings):
        points = shapely.get_coordinates(ring)
        if shapely.is_ccw(ring) != (k in first):
            points = points[::-1]
        z = points[:, 0] + 1j * points[:, 1]
        starts.append(z[:-1] * signs[k])
        stops.append(z[1:])
    a, b = np.concatenate(starts), np.concatenate(stops)
    cross = (np.conj(a) * b).imag
    reach = float(np.abs(a).max(initial=1e-12))
    a, b = a / reach, b / reach
    powers_a = np.ones((max(MOMENTS) + 1, len(a)), dtype=complex)
    powers_b = powers_a.copy()
    for n in range(1, len(powers_a)):
        powers_a[n], powers_b[n] = powers_a[n - 1] * a, powers_b[n - 1] * b
    moments = np.array(
        [
            (cross * (powers_a[: n + 1] * powers_b[n::-1]).sum(axis=0)).sum() / ((n + 1) * (n + 2))
            for n in MOMENTS
        ]
    )
    return np.asarray(moments / max(float(outline.area), 1e-12))


def _frame(moments: ComplexArray, order: int) -> FloatArray:
    """Turn, and mirror where that comes first, so that the strongest moment lies along x."""
    strongest = MOMENTS[order]
    best: tuple[float, FloatArray] | None = None
    for mirror in (False, True):
        own = np.conj(moments) if mirror else moments
        for k in range(strongest):
            angle = -(np.angle(own[order]) + 2 * np.pi * k) / strongest
            turned = own * np.exp(1j * angle * np.array(MOMENTS))
            # any weights will do that are alike for no two moments
            rank = float(((turned.real + 0.37 * turned.imag) / (np.arange(len(own)) + 1.3)).sum())
            if best is None or rank > best[0] + 1e-9:
                c, s = np.cos(angle), np.sin(angle)
                flip = np.diag([1.0, -1.0 if mirror else 1.0])
                best = rank, np.array([[c, -s], [s, c]]) @ flip
    assert best is not None  # noqa: S101 - the order is 2 at least
    return best[1]


def _turned(angle: float) -> FloatArray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s], [s, c]])


def mirrored(angle: float) -> FloatArray:
    """Mirror in a line through the middle.

    Parameters
    ----------
    angle
        Of that line, radians.

    Returns
    -------
    FloatArray
        Matrix (2, 2).
    """
    c, s = np.cos(2 * angle), np.sin(2 * angle)
    return np.array([[c, s], [s, -c]])


def _symmetries(outline: Polygon | MultiPolygon, order: int, same: float) -> tuple[FloatArray, ...]:
    """Find the turns and mirrorings that lay a piece on itself.

    They leave its strongest moment, of this order, where it is: turns by whole parts of a circle of
    so many, mirrors at half those angles.
    """
    ground = Ground(outline)
    left, top, right, bottom = outline.bounds
    most = same * max(right - left, bottom - top)
    step = max(outline.length / _SPOTS, 1e-6)
    spots = shapely.get_coordinates(shapely.segmentize(outline.boundary, step))
    few = spots[:: max(len(spots) // _FEW, 1)]

    def lies(matrix: FloatArray) -> bool:
        return all(bool(ground.away(some @ matrix.T).max() <= most) for some in (few, spots))

    turns = [k for k in range(1, order) if lies(_turned(2 * np.pi * k / order))]
    fold = len(turns) + 1
    if turns != [k * (order // fold) for k in range(1, fold)] or order % fold:
        fold = 1
    rotations = [_turned(2 * np.pi * k / fold) for k in range(fold)]
    for k in range(order):
        mirror = mirrored(np.pi * k / order)
        if lies(mirror):
            return (*rotations, *(turn @ mirror for turn in rotations))
    return tuple(rotations)


def _laid(shape: shapely.Geometry, matrix: FloatArray) -> shapely.Geometry:
    return shapely.transform(shape, lambda points: points @ matrix.T)


def _made_symmetric(
    outline: Polygon | MultiPolygon, group: tuple[FloatArray, ...], same: float
) -> Polygon | MultiPolygon:
    """Make a piece out of one sector of it, laid round by its symmetries."""
    if len(group) == 1:
        return outline
    mirrors = [matrix for matrix in group if np.linalg.det(matrix) < 0]
    wide = 2 * np.pi / len(group)
    start = 0.0
    if mirrors:
        start = 0.5 * float(np.arctan2(mirrors[0][1, 0], mirrors[0][0, 0]))
    far = 4.0 * float(np.abs(shapely.get_coordinates(outline)).max())
    angles = start + np.linspace(0.0, wide, 5)
    wedge = Polygon([(0.0, 0.0), *(far * np.column_stack([np.cos(angles), np.sin(angles)]))])
    # a little more than the sector, so that what is laid side by side hangs together
    sector = shapely.intersection(outline, wedge.buffer(_OVER, join_style="mitre"))
    laid = [_laid(sector, matrix) for matrix in group]
    whole = shapely.union_all(np.array(laid, dtype=object), grid_size=_GRID)
    parts = [p for p in shapely.get_parts(whole) if p.geom_type == "Polygon" and p.area > _GRID]
    change = abs(sum(p.area for p in parts) - outline.area)
    if not parts or change >= 10 * same * outline.length * far:
        return outline
    return shapely.normalize(MultiPolygon(parts))
