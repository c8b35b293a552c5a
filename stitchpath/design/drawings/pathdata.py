"""SVG path data: read to lines and curves, moved by a matrix, flattened to polylines.

Path data is that of SVG 2, section 9.3; arcs are turned into centre and angles as in its appendix
B.2. Own code, since the packages at hand read S after T wrongly, or end in a traceback over a path
that begins relative; the tests hold it against two of them.
"""

import math
import re
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.geometry.polylines import moving_on

__all__ = [
    "Curve",
    "Strand",
    "bounds",
    "ellipse",
    "extent",
    "flatten",
    "moved_by",
    "read_path_data",
]

_MOST_NUMBERS = 500_000  # in one path
_MOST_CHORDS = 10_000  # for one curve
_LARGEST = 1e9  # units: beyond this a number is a slip or a trap
_TOKEN = re.compile(r"[A-Za-z]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?|[^\s,]", re.ASCII)
_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_FLAGS = (3, 4)  # which numbers of an arc are flags: one digit, with or without a space after it
_STEPS = 16  # of a curve, to see how far it reaches

Matrix: TypeAlias = FloatArray
"""Shape (2, 3): the last column moves."""


class Curve(NamedTuple):
    """A piece of a path.

    Attributes
    ----------
    kind
        "line", a polyline; "bezier", of as many control points as there are; or "arc".
    points
        Shape (n, 2). Of an arc: its centre and two vectors, so that it runs through centre + first
        cos a + second sin a; then its two ends, which have to be met exactly: a hair between
        neighbours is enough to mislead what is laid over them.
    turn
        Of an arc, from which angle a to which.
    """

    kind: Literal["line", "bezier", "arc"]
    points: FloatArray
    turn: tuple[float, float] = (0.0, 0.0)


class Strand(NamedTuple):
    """One subpath: its pieces from end to end, and whether it is closed."""

    curves: list[Curve]
    closed: bool


class _Bad(Exception):  # noqa: N818 - it never leaves this module
    """What is no path data."""


def read_path_data(data: str) -> tuple[list[Strand], str]:
    """Read path data as far as it is right.

    Parameters
    ----------
    data
        Path data (SVG 2, section 9.3).

    Returns
    -------
    strands, wrong
        Subpaths up to the first fault, and the fault in a few words; empty where there is none.
    """
    reader = _Reader()
    try:
        for letter, numbers in _commands(data):
            reader.take(letter, numbers)
    except _Bad as bad:
        return reader.strands(), str(bad)
    return reader.strands(), ""


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers, one set at a time."""
    letter, done, count = "", True, 0
    numbers: list[float] = []
    words = _Words(data)
    for word in words:
        if word[0].isalpha():
            if numbers or not done:
                raise _Bad("numbers missing")
            letter, done = words.letter(word), word in "Zz"
            if done:
                yield letter, []
            continue
        count += 1
        if count > _MOST_NUMBERS:
            raise StitchpathError(
                f"found a path of over {_MOST_NUMBERS:,} numbers, expected an outline of fewer"
            )
        flag = letter in ("A", "a") and len(numbers) in _FLAGS
        numbers.append(words.flag(word) if flag else words.number(word, letter))
        if len(numbers) == _COUNTS[letter.upper()]:
            yield letter, numbers
            numbers, done = [], True
            letter = {"M": "L", "m": "l"}.get(letter, letter)
    if numbers or not done:
        raise _Bad("numbers missing")


class _Words:
    """Letters and numbers of path data one by one, so that none is made beyond the limit."""

    def __init__(self, data: str) -> None:
        self._data, self._next, self._at = data, 0, 0

    def __iter__(self) -> Iterator[str]:
        while (match := _TOKEN.search(self._data, self._next)) is not None:
            self._at, self._next = match.start(), match.end()
            yield match[0]

    def bad(self) -> _Bad:
        """Show what stands here."""
        return _Bad(repr(self._data[self._at : self._at + 30]))

    def letter(self, word: str) -> str:
        """Read a letter that is a command."""
        if word.upper() not in _COUNTS:
            raise self.bad()
        return word

    def flag(self, word: str) -> float:
        """Read one digit only of the word at hand: the rest of it is the next number."""
        if word[0] not in "01":
            raise self.bad()
        self._next = self._at + 1
        return float(word[0])

    def number(self, word: str, letter: str) -> float:
        """Read a number, where there is a command for it."""
        if letter in ("", "Z", "z") or not (word[-1].isdigit() or word[-1] == ".") or word == ".":
            raise self.bad()
        number = float(word)
        if not abs(number) <= _LARGEST:
            raise StitchpathError(
                f"found the number {word[:20]} out of range, expected numbers up to {_LARGEST:,.0f}"
            )
        return number


class _Reader:
    """Where the pen is, and what it drew."""

    def __init__(self) -> None:
        self._done: list[Strand] = []
        self._curves: list[Curve] = []
        self._line: list[tuple[float, float]] = []
        self._start: tuple[float, float] | None = None
        self._at = (0.0, 0.0)
        self._control: tuple[str, tuple[float, float]] | None = None
        self._lone = False  # a move that nothing was drawn from yet

    def strands(self) -> list[Strand]:
        """Give what was drawn so far."""
        self._end(closed=False)
        return self._done

    def take(self, letter: str, numbers: Sequence[float]) -> None:
        """Do one command."""
        name = letter.upper()
        if name != "M" and self._start is None:
            raise _Bad(f"the letter {letter} before any M")
        control, self._control = self._control, None
        x, y = self._at
        base = (x, y) if letter.islower() else (0.0, 0.0)
        if name == "Z":
            self._close()
        elif name in "HV":
            self._to((base[0] + numbers[0], y) if name == "H" else (x, base[1] + numbers[0]))
        elif name == "A":
            self._arc(numbers[:5], (base[0] + numbers[5], base[1] + numbers[6]))
        else:
            points = [
                (base[0] + a, base[1] + b) for a, b in zip(numbers[::2], numbers[1::2], strict=True)
            ]
            if name == "M":
                self._end(closed=False)
                self._at = self._start = points[0]
                self._lone = True
            elif name == "L":
                self._to(points[0])
            else:
                self._bend(name, points, control)

    def _bend(
        self,
        name: str,
        points: list[tuple[float, float]],
        control: tuple[str, tuple[float, float]] | None,
    ) -> None:
        family = "CS" if name in "CS" else "QT"
        if name in "ST":  # its first control mirrors the last, if that was of the same kind
            x, y = self._at
            last = control[1] if control is not None and control[0] == family else (x, y)
            points = [(2 * x - last[0], 2 * y - last[1]), *points]
        self._add(Curve("bezier", np.array([self._at, *points])), points[-1])
        self._control = family, points[-2]

    def _to(self, point: tuple[float, float]) -> None:
        if not self._line:
            self._line = [self._at]
        self._line.append(point)
        self._at = point

    def _add(self, curve: Curve, end: tuple[float, float]) -> None:
        self._flush()
        self._curves.append(curve)
        self._at = end

    def _arc(self, numbers: Sequence[float], end: tuple[float, float]) -> None:
        found = _arc(self._at, end, numbers)
        if found is None:
            self._to(end)
        else:
            self._add(found, end)

    def _close(self) -> None:
        start = self._start or self._at
        if self._at != start:
            self._to(start)
        self._end(closed=True)
        self._at = start

    def _flush(self) -> None:
        if self._line:
            self._curves.append(Curve("line", np.array(self._line)))
            self._line = []

    def _end(self, *, closed: bool) -> None:
        self._flush()
        if self._lone and not self._curves:
            self._curves = [Curve("line", np.array([self._at]))]
        self._lone = False
        if self._curves:
            self._done.append(Strand(self._curves, closed))
        self._curves = []


def _arc(
    start: tuple[float, float], end: tuple[float, float], numbers: Sequence[float]
) -> Curve | None:
    """Find centre and angles of an arc (SVG 2, appendix B.2.4); None where it is a line."""
    rx, ry, turned, large, sweep = abs(numbers[0]), abs(numbers[1]), *numbers[2:]
    if start == end or rx == 0 or ry == 0:
        return None
    cosine, sine = math.cos(math.radians(turned)), math.sin(math.radians(turned))
    hx, hy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    x, y = (cosine * hx + sine * hy) / rx, (cosine * hy - sine * hx) / ry
    far = x * x + y * y
    if far <= 0:  # ends so near, radii so large, that it is straight
        return None
    if far > 1:  # too small to reach: grown until it does
        grow = math.sqrt(far)
        rx, ry, x, y, far = rx * grow, ry * grow, x / grow, y / grow, 1.0
    way = math.sqrt(max(1 / far - 1, 0.0)) * (-1 if bool(large) == bool(sweep) else 1)
    cx, cy = way * y, -way * x  # the centre, where the ellipse is a circle of radius 1
    first = math.atan2(y - cy, x - cx)
    turn = math.atan2(-y - cy, -x - cx) - first
    if sweep and turn < 0:
        turn += 2 * math.pi
    elif not sweep and turn > 0:
        turn -= 2 * math.pi
    one = np.array([cosine, sine]) * rx
    other = np.array([-sine, cosine]) * ry
    middle = np.array([start[0] + end[0], start[1] + end[1]]) / 2 + cx * one + cy * other
    ends = np.array([start, end])
    arc = np.concatenate([[middle, one, other], ends])
    return Curve("arc", arc, (first, first + turn))


def ellipse(cx: float, cy: float, rx: float, ry: float) -> Strand:
    """Draw a whole ellipse, from its right on, as SVG does."""
    right = [cx + rx, cy]
    points = np.array([[cx, cy], [rx, 0.0], [0.0, ry], right, right])
    return Strand([Curve("arc", points, (0.0, 2 * math.pi))], closed=True)


def moved_by(matrix: Matrix, strand: Strand) -> Strand:
    """Move a subpath by a matrix."""
    return Strand([_moved(matrix, curve) for curve in strand.curves], strand.closed)


def _moved(matrix: Matrix, curve: Curve) -> Curve:
    points: FloatArray = curve.points @ matrix[:, :2].T
    if curve.kind == "arc":
        points[[0, 3, 4]] += matrix[:, 2]
    else:
        points += matrix[:, 2]
    return curve._replace(points=points)


def bounds(strands: Sequence[Strand]) -> tuple[float, float, float, float]:
    """Give left, top, right and bottom of subpaths, curves looked at in 16 steps."""
    ends = []
    for strand in strands:
        for curve in strand.curves:
            points = curve.points if curve.kind == "line" else _stepped(curve, _STEPS)
            ends.append(points.min(axis=0))
            ends.append(points.max(axis=0))
    corners = np.array(ends or [(0.0, 0.0)])
    left, top = corners.min(axis=0).tolist()
    right, bottom = corners.max(axis=0).tolist()
    return left, top, right, bottom


def extent(strands: Sequence[Strand]) -> float:
    """Measure how large subpaths are: the larger side of their box."""
    left, top, right, bottom = bounds(strands)
    return max(right - left, bottom - top)


def flatten(strand: Strand, tolerance: float) -> FloatArray:
    """Flatten a subpath.

    Parameters
    ----------
    strand
        The subpath.
    tolerance
        Greatest distance of the polyline from the curve.

    Returns
    -------
    FloatArray
        Shape (n, 2), no point twice in a row; a closed one ends where it began.

    Raises
    ------
    StitchpathError
        When a number is out of range.
    """
    parts = [_sampled(curve, tolerance) for curve in strand.curves]
    points = np.concatenate([parts[0][:1], *(part[1:] for part in parts)])
    if strand.closed:
        points[-1] = points[0]
    if not (np.abs(points) <= _LARGEST).all():
        raise StitchpathError(
            f"found a number out of range, expected numbers up to {_LARGEST:,.0f}"
        )
    out: FloatArray = points[moving_on(points)]
    return out


def _sampled(curve: Curve, tolerance: float) -> FloatArray:
    """Sample a curve so that chords keep within the tolerance.

    For a Bézier curve of degree n the chord error of k equal steps is at most
    n(n - 1)/8 · max|second difference of the control points| / k² (Wang's bound); for an arc of
    radius r a chord over the angle a errs by r(1 - cos a/2).
    """
    points = curve.points
    if curve.kind == "line":
        return points
    if curve.kind == "arc":
        # No point of an ellipse lies farther out than its longer axis.
        radius = max(float(np.linalg.svd(points[1:3], compute_uv=False)[0]), tolerance, 1e-300)
        step = 2 * math.acos(max(1 - tolerance / radius, 0.0))
        angle = curve.turn[1] - curve.turn[0]
        return _stepped(curve, _count(abs(angle) / step if step > 0 else math.inf))
    degree = len(points) - 1
    bend = float(np.hypot(*np.diff(points, n=2, axis=0).T).max())
    chords = math.sqrt(degree * (degree - 1) / 8 * bend / tolerance) if tolerance > 0 else math.inf
    return _stepped(curve, _count(chords))


def _stepped(curve: Curve, steps: int) -> FloatArray:
    """Give the points of a curve at even steps, shape (steps + 1, 2)."""
    points = curve.points
    if curve.kind == "arc":
        around = np.linspace(*curve.turn, steps + 1)[:, None]
        arc = np.asarray(points[0] + points[1] * np.cos(around) + points[2] * np.sin(around))
        arc[0], arc[-1] = points[3:]
        return arc
    degree = len(points) - 1
    t = np.linspace(0, 1, steps + 1)[:, None]
    out = np.zeros((len(t), 2))
    for k, point in enumerate(points):
        out += math.comb(degree, k) * (1 - t) ** (degree - k) * t**k * point
    out[0], out[-1] = points[0], points[-1]
    return out


def _count(chords: float) -> int:
    return _MOST_CHORDS if not chords < _MOST_CHORDS else max(1, math.ceil(chords))
