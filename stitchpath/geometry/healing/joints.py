"""Places that lines brought too little together: split in two, or short of the line they lie at.

Ends that were drawn farther off than the tolerance make two places of one, or a corner just
beside the line that it lies on. Only where ends were off is anything moved: what is drawn exactly
stays, and so does a strip 2 mm wide, whose sides leave its ends side by side.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.healing.noding import Bits, as_lines

__all__ = ["joined_places"]

_SPLIT = 3.0  # tolerances: a bit so short may part one place in two
_STEM = 4.5  # tolerances: so short is the stem of two lines that cross before they end
_FORK = np.cos(np.radians(35))  # both go on from the stem, turning less
_ALONG = 2.3  # tolerances: the same along a line that goes on at both ends
_SHORT = 2.0  # tolerances: a corner so near a line may lie on it
_HUNG = 4.0  # tolerances: a bit so short already leads from the corner to that line
_ON = np.cos(np.radians(20))  # two bits that turn less from each other are one line
_SIDE = np.cos(np.radians(8))  # and those that leave two places so are side by side


def joined_places(bits: Bits, off: BoolArray, tolerance: float) -> tuple[Bits, FloatArray]:
    """Join places that are one, and lead corners to the line that they lie on.

    Parameters
    ----------
    bits
        Of any pass.
    off
        At which places ends were drawn loosely; all others stay. Shape (places,).
    tolerance
        How far an end may lie from where it is meant to, mm.

    Returns
    -------
    bits, moved
        The bits, their ends moved; and where places were moved to and how far, shape (n, 3), mm.
    """
    if not len(bits.paths):
        return bits, np.zeros((0, 3))
    joints = _Joints(bits, off, tolerance)
    goal = joints.split() | joints.beside()
    if not goal:
        return bits, np.zeros((0, 3))
    target = bits.places.copy()
    for place, spot in goal.items():
        target[place] = spot
    moved = np.hypot(*(target - bits.places).T)
    paths, kept = [], []
    for k, (path, (a, b)) in enumerate(zip(bits.paths, bits.ends.tolist(), strict=True)):
        if not (a in goal or b in goal):
            paths.append(path)
        elif len(path) > 2 or (target[a] != target[b]).any():  # noqa: PLR2004
            bent = path.copy()
            bent[0], bent[-1] = target[a], target[b]
            paths.append(bent)
        else:
            continue
        kept.append(k)
    told = np.flatnonzero(moved > 0)
    out = replace(bits, paths=paths, ends=bits.ends[kept], places=target)
    return out, np.column_stack([target[told], moved[told]])


class _Joints:
    """Where bits meet, and which way they leave."""

    def __init__(self, bits: Bits, off: BoolArray, tolerance: float) -> None:
        self._bits, self._off, self._tolerance = bits, off, tolerance
        self._shapes = as_lines(bits.paths)
        self._lengths = shapely.length(self._shapes)
        ways = np.array([w for p in bits.paths for w in (p[1] - p[0], p[-2] - p[-1])])
        self._ways = ways / np.maximum(np.hypot(ways[:, 0], ways[:, 1]), 1e-12)[:, None]
        of = bits.ends.reshape(-1)
        self._order = np.argsort(of, kind="stable")
        self._starts = np.searchsorted(of[self._order], np.arange(len(bits.places) + 1))
        self._taken: set[int] = set()

    def _at(self, place: int) -> IntArray:
        """Give the bit ends at a place: bit 2k begins, 2k + 1 ends there."""
        return self._order[self._starts[place] : self._starts[place + 1]]

    def split(self) -> dict[int, FloatArray]:
        """Find short bits that part one place in two; give where both are to lie."""
        ends, places = self._bits.ends, self._bits.places
        short = (self._lengths < _STEM * self._tolerance) & (ends[:, 0] != ends[:, 1])
        short &= self._off[ends].any(axis=1)
        goal: dict[int, FloatArray] = {}
        some = np.flatnonzero(short)
        for k in some[np.argsort(self._lengths[some], kind="stable")].tolist():
            p, q = ends[k].tolist()
            if {p, q} & self._taken:
                continue
            here, there = (at[at // 2 != k] for at in (self._at(p), self._at(q)))
            if not len(here) or not len(there):
                continue
            along = places[q] - places[p]
            along = along / max(float(np.hypot(*along)), 1e-12)
            one, other = self._ways[here], self._ways[there]
            # two lines that cross at a slant just before they end: the stem of a Y
            stems = [len(w) > 1 and bool((w @ a > _FORK).all())
                     for w, a in ((one, -along), (other, along))]  # fmt: skip
            if stems[0] != stems[1] and not (one @ other.T > _SIDE).any():
                goal[p] = goal[q] = places[q] if stems[0] else places[p]
                self._taken |= {p, q}
                continue
            if self._lengths[k] >= _SPLIT * self._tolerance:
                continue
            through = (one @ -along > _ON).any() and (other @ along > _ON).any()
            if through and self._lengths[k] > _ALONG * self._tolerance:
                continue
            if (one @ other.T > _SIDE).any():  # a strip
                continue
            weight = len(here) / (len(here) + len(there))
            goal[p] = goal[q] = weight * places[p] + (1 - weight) * places[q]
            self._taken |= {p, q}
        return goal

    def beside(self) -> dict[int, FloatArray]:
        """Find corners short of a line that they lie on; give where on it they are to lie."""
        places, ends = self._bits.places, self._bits.ends
        degree = np.diff(self._starts)
        some = np.flatnonzero(self._off & (degree > 1))
        spots = np.asarray(shapely.points(places[some]))
        tree = shapely.STRtree(self._shapes)
        at, line = tree.query(spots, predicate="dwithin", distance=_SHORT * self._tolerance)
        apart = (ends[line] != some[at][:, None]).all(axis=1)
        at, line = at[apart], line[apart]
        far = shapely.distance(spots[at], self._shapes[line])
        goal: dict[int, FloatArray] = {}
        for k in np.lexsort((line, far)).tolist():
            place, which = int(some[at[k]]), int(line[k])
            if place in self._taken or set(self._near(place)) & set(ends[which].tolist()):
                continue
            ways = self._ways[self._at(place)]
            if (ways @ ways.T < -_ON).any():  # a line of its own, beside the other
                continue
            way = shapely.shortest_line(spots[at[k]], self._shapes[which])
            goal[place] = shapely.get_coordinates(way)[1]
            self._taken.add(place)
        return goal

    def _near(self, place: int) -> Iterator[int]:
        """Give the places that short bits lead to."""
        for bit in (self._at(place) // 2).tolist():
            if self._lengths[bit] < _HUNG * self._tolerance:
                yield from self._bits.ends[bit].tolist()
