"""Synthetic tops as postman problems, for the benchmarks.

Made by rule, not by the design stage, so that the router can be measured by itself. Prices are the
defaults of the tool, in mm of stitching.
"""

from dataclasses import dataclass, field
from math import hypot

import numpy as np

from stitchpath.route.postman import Problem

__all__ = ["Top", "postage_stamp", "star_quilt"]

INNER_END, MARGIN_END = 150.0, 25.0
RETRACE, TRAVEL, MARGIN_TRAVEL = 0.75, 0.5, 0.25
MARGIN = 12.7


@dataclass
class Top:
    """Seams on a square grid, and a margin round them.

    Points are whole grid steps; a seam is kept once, and is required if any piece of it is.
    """

    step: float
    seams: dict[tuple[tuple[int, int], tuple[int, int]], bool] = field(default_factory=dict)

    def line(self, start: tuple[int, int], stop: tuple[int, int], *, required: bool) -> None:
        """Lay a seam step by step from one point to another, straight or at 45 degrees."""
        count = max(abs(stop[0] - start[0]), abs(stop[1] - start[1]))
        dx, dy = (stop[0] - start[0]) // count, (stop[1] - start[1]) // count
        for k in range(count):
            a = (start[0] + k * dx, start[1] + k * dy)
            b = (a[0] + dx, a[1] + dy)
            key = (min(a, b), max(a, b))
            self.seams[key] = self.seams.get(key, False) or required

    def problem(self, width: int, height: int) -> tuple[Problem, float]:
        """Price the seams and the margin; also give the length of the required seams."""
        points = sorted({p for seam in self.seams for p in seam})
        number = {p: i for i, p in enumerate(points)}
        rows: list[tuple[int, int, bool, float]] = []
        total = 0.0
        for (a, b), required in sorted(self.seams.items()):
            length = self.step * hypot(a[0] - b[0], a[1] - b[1])
            total += length * required
            rows.append(
                (number[a], number[b], required, length * (RETRACE if required else TRAVEL))
            )
        top = [p for p in points if p[1] == 0]
        right = [p for p in points if p[0] == width and p not in top]
        bottom = [p for p in points if p[1] == height and p not in right][::-1]
        left = [p for p in points if p[0] == 0 and p not in top and p not in bottom][::-1]
        ring = [*top, *right, *bottom, *left]
        first = len(points)
        for i, p in enumerate(ring):
            q = ring[(i + 1) % len(ring)]
            rows.append((number[p], first + i, False, TRAVEL * MARGIN))
            length = self.step * (abs(p[0] - q[0]) + abs(p[1] - q[1]))
            rows.append((first + i, first + (i + 1) % len(ring), False, MARGIN_TRAVEL * length))
        tail, head, required, price = (np.array(column) for column in zip(*rows, strict=True))
        end = np.full(first + len(ring), INNER_END)
        end[first:] = MARGIN_END
        return Problem(len(end), tail, head, required, price, end), total


def star_quilt(
    across: int, down: int, *, feature_only: bool, sashing: int = 1, border: int = 3
) -> tuple[Problem, float]:
    """Sawtooth stars on a grid of four by four, set with sashing and cornerstones, and a border."""
    top = Top(step=38.1)
    pitch = 4 + sashing
    width, height = (n * pitch + sashing + 2 * border for n in (across, down))
    other = not feature_only
    for i in range(across):
        for j in range(down):
            _star(top, border + sashing + i * pitch, border + sashing + j * pitch, other=other)
    inner_w, inner_h = width - border, height - border
    for i in range(across + 1):
        for x in {border + i * pitch, border + i * pitch + sashing}:
            top.line((x, border), (x, inner_h), required=other)
    for j in range(down + 1):
        for y in {border + j * pitch, border + j * pitch + sashing}:
            top.line((border, y), (inner_w, y), required=other)
    if border:
        for x in (border, inner_w):  # side borders first, top and bottom across them
            top.line((x, 0), (x, border), required=other)
            top.line((x, inner_h), (x, height), required=other)
        for y in (border, inner_h):
            top.line((0, y), (border, y), required=other)
            top.line((inner_w, y), (width, y), required=other)
    return top.problem(width, height)


def _star(top: Top, x: int, y: int, *, other: bool) -> None:
    """Lay one star: the seams round the star fabric are the feature, the others are `other`."""
    turns = ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0))
    for a, b, c, d in turns:

        def at(px: int, py: int, turn: tuple[int, int, int, int] = (a, b, c, d)) -> tuple[int, int]:
            px, py = px - 2, py - 2
            return x + 2 + turn[0] * px + turn[1] * py, y + 2 + turn[2] * px + turn[3] * py

        for start, stop in (((1, 0), (2, 1)), ((3, 0), (2, 1)), ((1, 0), (1, 1)), ((3, 0), (3, 1))):
            top.line(at(*start), at(*stop), required=True)
        top.line(at(1, 1), at(3, 1), required=True)
        top.line(at(2, 0), at(2, 1), required=other)


def postage_stamp(across: int, down: int, *, step: float = 25.4) -> tuple[Problem, float]:
    """Squares, every seam between them required; the outer edge is the end of the top."""
    top = Top(step)
    for i in range(1, across):
        top.line((i, 0), (i, down), required=True)
    for j in range(1, down):
        top.line((0, j), (across, j), required=True)
    return top.problem(across, down)
