"""One set of marks, of lines and of thread colours, for every picture.

Every output draws from here: the PDFs (`export/guide/drawing.py` on a sheet; what a page holds is
explained by `export/guide/legend.py`), the SVGs (`export/svg/`), the moving guide, whose page gets
the set as data (`export/moving.py`), `picture.png` and `draw` (`export/picture.py`), and notebooks
(`route/shown.py`). So a mark means the same wherever it stands.

Nothing is told by colour alone. Lines differ in dash, width or place, threads in dash, marks in
shape. A line takes the true colour of its thread; where that would be lost on the fabric beneath,
it lies in a casing, as roads do on maps.

Lengths are in pens: a pen is the width of a line stitched for the first time on that picture.
Marks are drawn round 0, 0, y down, and reach from -1 to 1.
"""

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, TypeAlias

__all__ = [
    "INK",
    "LEAST_CONTRAST",
    "LINES",
    "LINE_OF",
    "MARKS",
    "PAPER",
    "PLAIN",
    "Entry",
    "LineLook",
    "LineName",
    "Mark",
    "MarkName",
    "ThreadLook",
    "casing_of",
    "casing_reach",
    "contrast",
    "faded",
    "legend_of",
    "luminance",
    "mark_words",
    "readable",
    "thread_looks",
]

INK: Final = "#1b2430"
PAPER: Final = "#ffffff"
PLAIN: Final = "#404040"  # a thread of which no colour is known
_GREY: Final = "#5b6672"
_BUOY: Final = "#b93e26"
_SEAM: Final = "#8b949c"
LEAST_CONTRAST: Final = 3.0
"""Of what has to be seen against what is beside it: WCAG 2.2, success criterion 1.4.11."""
_READ: Final = 4.5  # of letters: WCAG 2.2, 1.4.3
_HALO, _EDGE = 0.6, 0.4  # pens of white, and of what is dark, on either side of a line
_WIDER = 1.6  # a second round of dashes is so much wider than the first

LineName: TypeAlias = Literal[
    "stitch", "again", "travel", "next", "coming", "done", "jump", "low side",
    "seam", "fused later", "edge", "batting", "rolled on", "loose",
]  # fmt: skip
MarkName: TypeAlias = Literal[
    "start",
    "start inside",
    "end",
    "end inside",
    "both",
    "both inside",
    "bobbin",
    "parked",
    "stop",
    "meeting",
    "needle",
    "step end",
    "order",
]
Ring: TypeAlias = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class LineLook:
    """How a line looks.

    Attributes
    ----------
    words
        What a legend says of it.
    width
        Pens.
    dash
        On and off, pens; empty for a solid line, None for the dash of its thread.
    colour
        "#rrggbb"; empty for the colour of its thread.
    beside
        Whether it lies beside a line that is stitched already.
    """

    words: str
    width: float
    dash: tuple[float, ...] | None = ()
    colour: str = ""
    beside: bool = False


LINES: Mapping[LineName, LineLook] = {
    "stitch": LineLook("stitched with {thread}", 1.0, None),
    "again": LineLook("stitched again, beside its line", 0.75, None, beside=True),
    "travel": LineLook("travel: stitched only to get there", 0.7, (0.6, 1.8)),
    "next": LineLook("what comes next, with arrows", 2.2),
    "coming": LineLook("still to come", 0.55),
    "done": LineLook("stitched already", 1.0, None, "#74838b"),
    "jump": LineLook("threads cut: from here on begin there", 0.6, (1.0, 3.0), INK),
    "low side": LineLook("tick on the low side of the seam", 0.8, (), INK),
    "seam": LineLook("seam, or edge of a piece, not stitched", 0.3, (), _SEAM),
    "fused later": LineLook("piece that is fused on later", 0.4, (3.5, 3.5), _GREY),
    "edge": LineLook("edge of the quilt", 0.75, (), INK),
    "batting": LineLook("edge of the batting", 0.45, (2.2, 2.2), _GREY),
    "loose": LineLook("ring: no stitching in it holds the batting", 1.4, (), "#c2185b"),
    "rolled on": LineLook("here the quilt is rolled on", 0.6, (7.0, 2.4, 1.0, 2.4), INK),
}
"""Every line that a picture may hold."""
LINE_OF: Mapping[str, LineName] = {"travel": "travel", "retrace": "again", "stitch": "stitch"}
"""Which line each leg of a run is, by what it does; what lies beneath comes first."""

_THREAD_DASHES: tuple[tuple[str, tuple[float, ...]], ...] = (
    ("solid line", ()),
    ("long dashes", (6.0, 2.0)),
    ("dash and dot", (6.0, 1.8, 1.2, 1.8)),
    ("short dashes", (2.6, 1.6)),
    ("dash and two dots", (10.0, 1.8, 1.2, 1.6, 1.2, 1.8)),
)


@dataclass(frozen=True, slots=True)
class ThreadLook:
    """How the lines of a thread look.

    Attributes
    ----------
    name
        Of the thread.
    colour
        Its own, "#rrggbb".
    dash
        On and off, pens; empty for a solid line.
    width
        Pens.
    words
        What its line is called.
    """

    name: str
    colour: str
    dash: tuple[float, ...]
    width: float
    words: str

    @property
    def casing(self) -> str:
        """What a line of that colour is told from on any fabric."""
        return _casing(self.colour)

    @property
    def letters(self) -> str:
        """The colour, dark enough to write with on paper."""
        return readable(self.colour, PAPER)


def thread_looks(names: Iterable[str], colours: Mapping[str, str]) -> dict[str, ThreadLook]:
    """Give each thread its look: its own colour, and a dash that no other has.

    Parameters
    ----------
    names
        Of the threads that are used.
    colours
        Of every thread of the design, in its order: so a thread has one look on all pictures. One
        that is missing is drawn dark grey.
    """
    looks: dict[str, ThreadLook] = {}
    used = dict.fromkeys(names)
    for k, name in enumerate(dict.fromkeys([*colours, *used])):
        again, which = divmod(k, len(_THREAD_DASHES))
        if name in used:
            words, dash = _THREAD_DASHES[which]
            looks[name] = ThreadLook(
                name, colours.get(name, PLAIN), dash, _WIDER**again, "wide " * again + words
            )
    return looks


@dataclass(frozen=True, slots=True)
class Mark:
    """How a mark looks.

    Attributes
    ----------
    words
        What a legend says of it; {out} is "in the margin" or "at the edge".
    parts
        Rings, each with what fills it; all have an edge of ink. Later ones lie over earlier ones.
    number
        What its number is written in; empty where it has none.
    """

    words: str
    parts: tuple[tuple[Ring, str], ...]
    number: str = ""


def _disc(radius: float) -> Ring:
    turns = (2 * math.pi * k / 32 for k in range(32))
    return tuple((radius * math.cos(t), radius * math.sin(t)) for t in turns)


def _square(half: float) -> Ring:
    return ((-half, -half), (half, -half), (half, half), (-half, half))


def _cut_square(half: float, off: float) -> Ring:
    """Give a square with one corner cut off: here threads are cut."""
    return ((-half, -half), (half - off, -half), (half, off - half), (half, half), (-half, half))


def _bar(left: float, right: float) -> Ring:
    return ((left, -0.55), (right, -0.55), (right, 0.55), (left, 0.55))


_PLATE: Ring = ((-1.35, -0.9), (1.35, -0.9), (1.35, 0.9), (-1.35, 0.9))
_DOWN: Ring = ((-1.1, -0.9), (1.1, -0.9), (0.0, 1.1))
_TIP: Ring = ((0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0))
_CROSS: Ring = (
    (-0.6, -0.15), (-0.15, -0.15), (-0.15, -0.6), (0.15, -0.6), (0.15, -0.15), (0.6, -0.15),
    (0.6, 0.15), (0.15, 0.15), (0.15, 0.6), (-0.15, 0.6), (-0.15, 0.15), (-0.6, 0.15),
)  # fmt: skip
_SECURE = "inside the top: secure, bury the tails"

MARKS: Mapping[MarkName, Mark] = {
    "start": Mark("start {out}: nothing to secure", ((_disc(1.0), PAPER),), INK),
    "start inside": Mark(f"start {_SECURE}", ((_disc(1.0), INK),), PAPER),
    "end": Mark("end {out}: cut the threads", ((_cut_square(0.95, 0.6), PAPER),), INK),
    "end inside": Mark(f"end {_SECURE}", ((_square(0.95), INK),), PAPER),
    "both": Mark(
        "start and end {out}: cut the threads",
        ((_cut_square(1.15, 0.6), PAPER), (_disc(0.88), PAPER)), INK,
    ),
    "both inside": Mark(
        f"start and end {_SECURE}", ((_square(1.15), PAPER), (_disc(0.88), INK)), PAPER
    ),
    "bobbin": Mark("put in the bobbin of this number", ((_TIP, PAPER),), INK),
    "parked": Mark("needle down here, parked, while the quilt is rolled on", ((_DOWN, INK),)),
    # A pause as on every player of sounds: IEC 60417, symbol 5111.
    "stop": Mark(
        "stop: something is done here before you go on",
        ((_square(1.0), PAPER), (_bar(-0.5, -0.15), INK), (_bar(0.15, 0.5), INK)),
    ),
    "meeting": Mark("here lines of a piece meet", ((_CROSS, INK),)),
    "needle": Mark(
        "the needle, and the way it goes",
        ((((0.0, -0.95), (0.36, -0.41), (-0.36, -0.41)), _BUOY), (_disc(0.45), _BUOY),
         (_disc(0.14), PAPER)),
    ),
    "step end": Mark("here the step ends", ((_disc(0.8), INK), (_disc(0.45), PAPER))),
    "order": Mark("areas, in the order in which they are stitched", ((_PLATE, PAPER),), INK),
}  # fmt: skip
"""Every mark that a picture may hold."""


def mark_words(name: MarkName, margin: float) -> str:
    """Say what a mark means, with batting that stands out so far, mm, or none."""
    return MARKS[name].words.format(out="in the margin" if margin > 0 else "at the edge")


class Entry(NamedTuple):
    """What a legend explains: a line or a mark by name, the words, and the thread they are of."""

    name: str
    words: str
    thread: str = ""

    @property
    def parts(self) -> tuple[str, str]:
        """The words before the name of a thread, and that name: between them stands its chip."""
        before = LINES["stitch"].words.partition("{thread}")[0]
        return (before, self.thread) if self.name == "stitch" else (self.words, "")


def legend_of(
    used: Collection[tuple[str, str]], threads: Iterable[str], margin: float
) -> list[Entry]:
    """Give what a legend explains: threads, then lines, then marks.

    Parameters
    ----------
    used
        What is drawn: names of lines and marks, each with the thread it is of, or "".
    threads
        In the order of stitching.
    margin
        Batting beyond the top, mm.
    """
    names, of = {name for name, _ in used}, {thread for _, thread in used}
    known = [thread for thread in threads if thread in of]
    found = [Entry("stitch", LINES["stitch"].words.format(thread=name), name) for name in known]
    for line in LINES:
        if line in names and line != "stitch":
            first = next((thread for thread in known if (line, thread) in used), "")
            found.append(Entry(line, LINES[line].words, first))
    return found + [Entry(mark, mark_words(mark, margin)) for mark in MARKS if mark in names]


def luminance(colour: str) -> float:
    """Give the relative luminance of a colour of sRGB, 0 black to 1 white.

    The formula is that of WCAG 2.2 and of IEC 61966-2-1.
    """
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (
        v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4  # noqa: PLR2004
        for v in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Give the contrast of two colours, 1 to 21, as WCAG 2.2 defines it."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def faded(colour: str, strength: float, into: str = PAPER) -> str:
    """Mix a colour with another: 1 leaves it as it is, 0 gives the other."""
    mixed = (
        round(int(b, 16) + (int(a, 16) - int(b, 16)) * strength)
        for a, b in ((colour[k : k + 2], into[k : k + 2]) for k in (1, 3, 5))
    )
    return "#" + "".join(f"{part:02x}" for part in mixed)


def casing_of(colour: str, grounds: Iterable[str]) -> str | None:
    """Tell in what a line has to lie so that it is seen on all of some fabrics.

    Parameters
    ----------
    colour
        Of the line.
    grounds
        What it runs over, as drawn.

    Returns
    -------
    str or None
        Nothing where it is seen as it is; else white round what is dark, and a dark tone round
        what is light: either stands 3 : 1 against the line.

    Examples
    --------
    >>> casing_of("#ffffff", ["#f7f2e6"]), casing_of("#00008b", ["#1d3a54"])
    ('#6b7178', '#ffffff')
    >>> casing_of("#00008b", ["#f7f2e6"])
    """
    if all(contrast(colour, ground) >= LEAST_CONTRAST for ground in grounds):
        return None
    return _casing(colour)


def casing_reach(casing: str) -> float:
    """Tell how far a casing reaches beyond its line on either side, pens."""
    return _HALO if casing == PAPER else _EDGE


def _casing(colour: str) -> str:
    """Give white for what is dark, and for what is light a dark tone of the same colour."""
    if contrast(colour, PAPER) >= LEAST_CONTRAST:
        return PAPER
    return readable(colour, colour)


def readable(colour: str, ground: str, least: float = _READ) -> str:
    """Darken or lighten a colour until letters in it can be read on a ground."""
    far = INK if contrast(INK, ground) > contrast(PAPER, ground) else PAPER
    for step in range(20):
        mixed = faded(colour, 1 - step / 20, far)
        if contrast(mixed, ground) >= least:
            return mixed
    return far
