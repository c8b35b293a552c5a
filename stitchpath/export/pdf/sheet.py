"""A sheet of paper: words, lines and shapes in millimetres."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

import numpy as np

from stitchpath.base.marks import INK
from stitchpath.base.typing import FloatArray
from stitchpath.export.pdf.letters import POINT, Face, broken, text_width
from stitchpath.export.pdf.paper import Paper

__all__ = [
    "CHIP",
    "GREY",
    "INK",
    "PALE",
    "Align",
    "Bookmark",
    "Box",
    "Dash",
    "Shape",
    "Sheet",
    "Word",
]  # fmt: skip

GREY = "#5b6672"
PALE = "#c9cfd6"
CHIP = 4.0  # mm: a chip of a thread's colour, and the gap after it
Align = Literal["left", "centre", "right"]
Dash = tuple[float, ...]


class Box(NamedTuple):
    """A rectangle on the sheet or on the top, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top

    def grown(self, by: float) -> "Box":
        """Give a rectangle larger by so much on every side."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)


class Word(NamedTuple):
    """Letters set in one go, their baseline from x, y, mm; angle in degrees, counter-clockwise."""

    x: float
    y: float
    text: str
    face: Face
    size: float
    colour: str
    angle: float


class Shape(NamedTuple):
    """Polylines or rings of one look, mm; later ones lie over earlier ones."""

    paths: Sequence[FloatArray]
    closed: bool
    fill: str | None
    edge: str | None
    width: float
    dash: Dash
    clip: Box | None


class Bookmark(NamedTuple):
    """An entry of the outline: what it says, where on the page, mm, and how deep it stands."""

    title: str
    y: float
    level: int


@dataclass
class Sheet:
    """One page, measured from its top left corner, y down.

    Attributes
    ----------
    paper
        Its size.
    landscape
        Whether it lies on its long side.
    words, boxes
        What is written, and the room that each takes, in one order.
    shapes
        What is drawn; words lie over all of it.
    bookmarks
        Where the outline of the file points to.
    used
        Which lines and marks are drawn, by name, and with which thread: what a legend explains.
    """

    paper: Paper
    landscape: bool = False
    words: list[Word] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    bookmarks: list[Bookmark] = field(default_factory=list)
    used: dict[tuple[str, str], None] = field(default_factory=dict)

    @property
    def width(self) -> float:
        """Of the page as it lies, mm."""
        return self.paper.height if self.landscape else self.paper.width

    @property
    def height(self) -> float:
        """Of the page as it lies, mm."""
        return self.paper.width if self.landscape else self.paper.height

    def magnified(self, by: float, paper: Paper) -> "Sheet":
        """Give the same sheet so many times as large, on paper as much larger."""

        def grown(box: Box) -> Box:
            return Box(*(side * by for side in box))

        return replace(
            self,
            paper=paper,
            words=[w._replace(x=w.x * by, y=w.y * by, size=w.size * by) for w in self.words],
            boxes=[grown(box) for box in self.boxes],
            shapes=[
                shape._replace(
                    paths=[path * by for path in shape.paths],
                    width=shape.width * by,
                    dash=tuple(part * by for part in shape.dash),
                    clip=grown(shape.clip) if shape.clip else None,
                )
                for shape in self.shapes
            ],
            bookmarks=[mark._replace(y=mark.y * by) for mark in self.bookmarks],
        )

    def write(
        self,
        at: tuple[float, float],
        text: str,
        size: float,
        face: Face = "text",
        *,
        colour: str = INK,
        align: Align = "left",
        angle: float = 0.0,
    ) -> float:
        """Write one line.

        Parameters
        ----------
        at
            Where its baseline begins, is centred or ends, mm.
        text
            Set as it stands; see `typeset`.
        size
            Points.
        face
            Which letters.
        colour
            "#rrggbb".
        align
            What of the line lies at `at`.
        angle
            Degrees, counter-clockwise; only 0 and 90 are used.

        Returns
        -------
        float
            Its width, mm.
        """
        width = text_width(text, size, face)
        back = {"left": 0.0, "centre": width / 2, "right": width}[align]
        x, y = (at[0], at[1] + back) if angle else (at[0] - back, at[1])
        self.words.append(Word(x, y, text, face, size, colour, angle))
        up, down = 0.74 * size * POINT, 0.22 * size * POINT
        self.boxes.append(
            Box(x - up, y - width, x + down, y) if angle else Box(x, y - up, x + width, y + down)
        )
        return width

    def paragraph(
        self,
        at: tuple[float, float],
        width: float,
        text: str,
        size: float,
        *,
        face: Face = "text",
        colour: str = INK,
        leading: float = 1.22,
    ) -> float:
        """Write lines broken to a width; **words between stars** are bold.

        Parameters
        ----------
        at
            Top left corner, mm.
        width
            mm.
        text
            In plain letters: it is typeset here.
        size, face, colour
            As `write`.
        leading
            Line spacing, times the size.

        Returns
        -------
        float
            Where the next line's top would be, mm.
        """
        x, y = at
        for line in broken(text, width, size, face):
            y += size * leading * POINT
            across = x
            for words, style in line:
                across += self.write(
                    (across, y - 0.26 * size * POINT), words, size, style, colour=colour
                )
        return y

    def draw(
        self,
        paths: Iterable[FloatArray],
        *,
        colour: str = INK,
        width: float = 0.2,
        dash: Dash = (),
        clip: Box | None = None,
    ) -> None:
        """Draw polylines, each of shape (n, 2), mm; width in mm, dashes in mm on and off."""
        self.shapes.append(Shape(list(paths), False, None, colour, width, dash, clip))  # noqa: FBT003

    def fill(
        self,
        rings: Iterable[FloatArray],
        colour: str | None,
        *,
        edge: str | None = None,
        width: float = 0.1,
        clip: Box | None = None,
    ) -> None:
        """Fill closed rings, each of shape (n, 2), mm; a ring turned the other way is a hole."""
        self.shapes.append(Shape(list(rings), True, colour, edge, width, (), clip))  # noqa: FBT003

    def chip(self, at: tuple[float, float], colour: str) -> float:
        """Draw a chip of a thread's colour before its name, on its baseline; gives its room, mm."""
        x, y = at
        self.rectangle(Box(x, y - 2.6, x + CHIP - 1.0, y + 0.2), colour, edge=GREY, width=0.15)
        return CHIP

    def note(self, name: str, thread: str = "") -> None:
        """Note that a line or a mark of a name is drawn here."""
        self.used[name, thread] = None

    def bookmark(self, title: str, y: float = 0.0, *, level: int = 0) -> None:
        """Let the outline of the file point to a place down the page, mm."""
        self.bookmarks.append(Bookmark(title, y, level))

    def rule(self, left: float, right: float, y: float, *, colour: str = PALE) -> None:
        """Draw a level hairline."""
        self.draw([np.array([[left, y], [right, y]])], colour=colour, width=0.2)

    def rectangle(
        self, box: Box, colour: str | None, *, edge: str | None = None, width: float = 0.1
    ) -> None:
        """Draw a rectangle."""
        l, t, r, b = box  # noqa: E741 - the four sides
        self.fill(
            [np.array([[l, t], [r, t], [r, b], [l, b], [l, t]])], colour, edge=edge, width=width
        )

    def disc(
        self,
        at: tuple[float, float],
        radius: float,
        colour: str | None,
        *,
        edge: str | None = None,
        width: float = 0.25,
    ) -> None:
        """Draw a disc."""
        turn = np.linspace(0, 2 * np.pi, 33)
        ring = np.column_stack([np.cos(turn), np.sin(turn)]) * radius + np.array(at)
        self.fill([ring], colour, edge=edge, width=width)
