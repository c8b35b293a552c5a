"""Finding room for small labels, so that none covers another and few cover a line."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.export.pdf.letters import POINT, text_width
from stitchpath.export.pdf.sheet import Box, Sheet

__all__ = ["Labels"]

_CELL = 0.4  # mm on the sheet
_AT_ONCE = 48  # places looked at together


@dataclass
class Labels:
    """Room on a part of a sheet.

    Attributes
    ----------
    sheet
        The sheet.
    within
        Where labels may lie.
    """

    sheet: Sheet
    within: Box
    _taken: BoolArray = field(init=False)
    _lines: BoolArray = field(init=False)

    def __post_init__(self) -> None:
        """Begin with all of it free."""
        shape = int(self.within.height / _CELL) + 2, int(self.within.width / _CELL) + 2
        self._taken = np.zeros(shape, dtype=np.bool_)
        self._lines = np.zeros(shape, dtype=np.bool_)

    def block(self, box: Box) -> None:
        """Keep labels off a place."""
        self._taken[self._cells(box)] = True

    def block_lines(self, paths: Iterable[FloatArray]) -> None:
        """Keep labels off lines, each of shape (n, 2), mm on the sheet, where they can be."""
        for points in paths:
            x, y = _sampled(points).T
            row, column = self._cell(y, self.within.top), self._cell(x, self.within.left)
            inside = (row >= 0) & (row < self._lines.shape[0])
            inside &= (column >= 0) & (column < self._lines.shape[1])
            self._lines[row[inside], column[inside]] = True

    def free(self, box: Box, *, clear: bool = False) -> bool:
        """Tell whether a place is free; `clear` asks that no line crosses it either."""
        w = self.within
        if box.left < w.left or box.right > w.right or box.top < w.top or box.bottom > w.bottom:
            return False
        cells = self._cells(box)
        return not (self._taken[cells].any() or (clear and self._lines[cells].any()))

    def claimed(self, boxes: FloatArray) -> IntArray:
        """Take, for each of many in turn, the first of its places that is free.

        Parameters
        ----------
        boxes
            Shape (n, places, 4): left, top, right, bottom, mm on the sheet.

        Returns
        -------
        IntArray
            Which place each took, shape (n,); -1 where none was free.
        """
        w = self.within
        inside: BoolArray = (boxes[..., :2] >= (w.left, w.top)) & (
            boxes[..., 2:] <= (w.right, w.bottom)
        )
        whole = inside[..., 0] & inside[..., 1]
        columns = self._cell(boxes[..., 0::2], w.left) + np.array([0, 1])
        rows = self._cell(boxes[..., 1::2], w.top) + np.array([0, 1])
        cells = np.concatenate([rows, columns], axis=2).tolist()
        took = np.full(len(boxes), -1)
        for n, (places, ins) in enumerate(zip(cells, whole.tolist(), strict=True)):
            for k, (top, bottom, left, right) in enumerate(places):
                if ins[k] and not self._taken[top:bottom, left:right].any():
                    self._taken[top:bottom, left:right] = True
                    took[n] = k
                    break
        return took

    def first_free(self, boxes: FloatArray, *, over: bool = True) -> int:
        """Find a free place among many, shape (n, 4): left, top, right, bottom; -1 if none is.

        The first that covers no line either is best, else, with `over`, the first.
        """
        w, second = self.within, -1
        for begin in range(0, len(boxes), _AT_ONCE):
            some = boxes[begin : begin + _AT_ONCE]
            inside = (some[:, :2] >= (w.left, w.top)) & (some[:, 2:] <= (w.right, w.bottom))
            known = np.flatnonzero(inside.all(axis=1))
            if not len(known):
                continue
            cells = self._all_cells(some[known])
            free = ~self._taken[cells].any(axis=(1, 2))
            if second < 0 and free.any():
                second = begin + int(known[free][0])
            if free.any():
                free &= ~self._lines[cells].any(axis=(1, 2))
            if free.any():
                return begin + int(known[free][0])
        return second if over else -1

    def _all_cells(self, boxes: FloatArray) -> tuple[IntArray, IntArray]:
        """List the cells of many boxes, to index with: shapes (n, rows, 1) and (n, 1, columns)."""
        corner = np.array([self.within.top, self.within.left])
        low = np.floor((boxes[:, [1, 0]] - corner) / _CELL).astype(np.int64)
        high = np.floor((boxes[:, [3, 2]] - corner) / _CELL).astype(np.int64)
        rows, columns = (np.arange(n + 1) for n in (high - low).max(axis=0))
        row = np.minimum(low[:, :1] + rows, high[:, :1])
        column = np.minimum(low[:, 1:] + columns, high[:, 1:])
        return row[:, :, None], column[:, None, :]

    def put(
        self, text: str, places: FloatArray, size: float, colour: str, *, over: bool = True
    ) -> Box | None:
        """Write a small label centred at the best of some places; give its room if one was free.

        The first that covers nothing is best, else, with `over`, the first that covers only a line.
        """
        wide, high = text_width(text, size, "label"), 0.76 * size * POINT
        half = np.array([wide / 2, high / 2])
        boxes = np.hstack([places - half, places + half])
        best = self.first_free(boxes, over=over)
        if best < 0:
            return None
        box = Box(*boxes[best].tolist())
        if not self.free(box, clear=True):
            self.sheet.rectangle(box.grown(0.1), "#ffffff")
        self._write(text, box, size, colour)
        return box

    def _write(self, text: str, box: Box, size: float, colour: str) -> None:
        self.block(box.grown(0.15))
        self.sheet.write((box.left, box.bottom - 0.02), text, size, "label", colour=colour)

    def _cell(self, values: FloatArray, origin: float) -> IntArray:
        return np.floor((values - origin) / _CELL).astype(np.int64)

    def _cells(self, box: Box) -> tuple[slice, slice]:
        left, top = self.within.left, self.within.top
        return (
            slice(
                max(int((box.top - top) / _CELL), 0), max(int((box.bottom - top) / _CELL) + 1, 0)
            ),
            slice(
                max(int((box.left - left) / _CELL), 0), max(int((box.right - left) / _CELL) + 1, 0)
            ),
        )


def _sampled(points: FloatArray) -> FloatArray:
    """Give points close together along a polyline."""
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    count = max(int(length.sum() / (_CELL * 0.7)), 1)
    at = np.linspace(0, length.sum(), count + 1)
    ends = np.concatenate([[0.0], np.cumsum(length)])
    return np.column_stack([np.interp(at, ends, points[:, 0]), np.interp(at, ends, points[:, 1])])
