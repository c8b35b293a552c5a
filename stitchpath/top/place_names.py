"""Places on a top in a quilter's words: units, patches, directions, what lines belong to.

The one room where places become words. What others have to compare stays a value: `Place` and
`Subject` (`top/place.py`). Points are named by `top/spots.py`.
"""

import itertools
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_length
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.top.build import Piece, Top
from stitchpath.top.layout import LaidBlock, LaidPatch
from stitchpath.top.place import BESIDE, WITHIN, Part, Place, Subject

__all__ = [
    "NUMBERED",
    "WAY_WORD",
    "Places",
    "arrow",
    "beyond",
    "clock",
    "heading",
    "join_words",
    "side",
]

_SIDES = (
    "right side",
    "lower right side",
    "bottom",
    "lower left side",
    "left side",
    "upper left side",
    "top",
    "upper right side",
)
_CORNERS = {1: "lower right", 3: "lower left", 5: "upper left", 7: "upper right"}
_HEADINGS = (
    "across to the right",
    "slanting down to the right",
    "down",
    "slanting down to the left",
    "across to the left",
    "slanting up to the left",
    "up",
    "slanting up to the right",
)
_BEYOND = (
    "right of",
    "down and right of",
    "below",
    "down and left of",
    "left of",
    "up and left of",
    "above",
    "up and right of",
)
WAY_WORD = re.compile(r"\b(top|bottom|left|right|upper|lower)\b")
NUMBERED = re.compile(r"(\d+|\b[a-z])$")
"""Names of patches that tell a side, and those with a number or a letter at the end."""
_NAMED = 4  # so many pieces of one echo are named; the rest are counted
_SHOWN = 20  # so many units or pieces are named in one sentence; the rest are counted
_MANY = 12  # so many blocks are named one by one, if they are not all
_SO_FEW = 4  # so few blocks are named one by one, even if they are all
_WHOLE: dict[Part, str] = {
    "block": "all blocks",
    "border": "the borders",
    "sashing": "the sashing",
    "cornerstone": "the cornerstones",
    "setting": "the setting triangles",
    "square": "all squares",
    "patch": "all patches",
}
"""What all units of a kind are called together."""
_STRIPS: dict[Part, str] = {
    "sashing": "strips of sashing",
    "cornerstone": "cornerstones",
    "setting": "setting triangles",
    "block": "blocks",
    "square": "squares",
    "patch": "patches",
}
"""What units are called whose own names are long, where they are many."""
_RANK = {
    "block": 0,
    "square": 0,
    "patch": 0,
    "cornerstone": 1,
    "sashing": 2,
    "setting": 3,
    "border": 4,
}


def _eighth(way: Sequence[float] | FloatArray) -> int:
    """Tell which of eight directions a vector has: 0 right, 2 down, 4 left, 6 up."""
    return round(math.atan2(float(way[1]), float(way[0])) / (math.pi / 4)) % 8


def heading(way: Sequence[float] | FloatArray) -> str:
    """Word a direction as one sees it on the quilt.

    Parameters
    ----------
    way
        x to the right, y down.

    Examples
    --------
    >>> heading((0, 1))
    'down'
    """
    return _HEADINGS[_eighth(way)]


def side(way: Sequence[float] | FloatArray) -> str:
    """Word the side of a shape that lies in a direction from its middle.

    Examples
    --------
    >>> side((-1, 0))
    'left side'
    """
    return _SIDES[_eighth(way)]


def arrow(way: Sequence[float] | FloatArray) -> str:
    """Draw a direction as one sees it on the quilt.

    Examples
    --------
    >>> arrow((0, 1))
    '↓'
    """
    return "→↘↓↙←↖↑↗"[_eighth(way)]


def beyond(way: Sequence[float] | FloatArray) -> str:
    """Word how a thing lies to another from which it is away in a direction.

    Examples
    --------
    >>> beyond((1, 0))
    'right of'
    """
    return _BEYOND[_eighth(way)]


def clock(way: Sequence[float] | FloatArray) -> str:
    """Word a direction by the hand of a clock.

    Examples
    --------
    >>> clock((1, 0))
    "3 o'clock"
    """
    hour = round(math.degrees(math.atan2(float(way[0]), -float(way[1]))) / 30) % 12
    return f"{hour or 12} o'clock"


def join_words(words: Sequence[str]) -> str:
    """Join words with commas and an "and"."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


@dataclass(frozen=True)
class Places:
    """Names the places of a top; made once for a plan, for it keeps what it has worded.

    Attributes
    ----------
    top
        The finished top.
    """

    top: Top

    def block(self, place: Place) -> str:
        """Name a block: as its maker calls it, or by its place."""
        return self.top.names.get(place, place.name)

    def unit(self, patch: int) -> str:
        """Name the unit that a patch belongs to, as in "A2", "the sashing between A1 and A2"."""
        place = self.top.patches[patch].place
        if place not in self._units:
            self._units[place] = self._unit_words(self.top.patches[patch])
        return self._units[place]

    def rank(self, patch: int) -> int:
        """Tell how readily one would name a patch's unit, 0 a block first."""
        return _RANK.get(self.top.patches[patch].part, 0)

    def patch(self, patch: int, *, the: bool = False) -> str:
        """Name a patch within its block: by its name, or by its fabric where that tells more.

        Parameters
        ----------
        patch
            Its index.
        the
            With "the" before a plain noun: "the sail", but "sky 1" and "ground left".
        """
        found = self.top.patches[patch]
        name = found.name if self.telling(found) else found.fabric
        if not the or NUMBERED.search(name) or WAY_WORD.search(name):
            return name
        return f"the {name}"

    def patch_in(self, patch: int) -> str:
        """Name a patch, set apart, with its block, as in '"sail" in A2'."""
        return f'"{self.patch(patch)}" in {self.unit(patch)}'

    def two(self, one: int, other: int) -> str:
        """Name two patches side by side, each with its block, as in '"sail" and "mast" in A2'."""
        patches = self.top.patches
        if patches[one].place != patches[other].place:
            said = [
                self.patch_in(k) if patches[k].part in WITHIN else self.unit(k)
                for k in (one, other)
            ]
            return " and ".join(said)
        first, second = self.patch(one), self.patch(other)
        if first == second:
            return f'two patches of "{first}" in {self.unit(one)}'
        return f'"{first}" and "{second}" in {self.unit(one)}'

    def meeting(self, point: FloatArray) -> list[int]:
        """List the patches that meet at a point, by index."""
        found = self._tree.query(shapely.Point(point), predicate="dwithin", distance=SAME_PLACE)
        return sorted(int(i) for i in found)

    def on_top(self, point: FloatArray) -> bool:
        """Tell whether a point lies on the top, its edge included, rather than in the margin."""
        return bool(shapely.dwithin(self.top.outline, shapely.Point(point), SAME_PLACE))

    def on_edge(self, point: FloatArray) -> bool:
        """Tell whether a point lies on the edge of the top."""
        return bool(shapely.dwithin(self.top.outline.exterior, shapely.Point(point), SAME_PLACE))

    def subject(self, of: Subject, *, the: bool = False) -> str:
        """Name what a line belongs to, as in "A2 sail and A2 mast" or "echo 1 of starfish on A2".

        Parameters
        ----------
        of
            What the line belongs to.
        the
            With "the" where it is one appliqué piece: "the starfish on A2", but "star 1 on A2".
        """
        if of.seam >= 0:
            seam = self.top.seams[of.seam]
            left, right = self.top.patches[seam.left], self.top.patches[seam.right]
            return f"{left.label} and {right.label}"
        if of.echo:
            number = f"echo {of.echo}" if of.echoes > 1 else "echo"
            return f"{number} of {self._owner(of)}"
        if the and len(of.pieces) == 1:
            return self.piece(of.pieces[0], the=True)
        return self._owner(of)

    def _owner(self, of: Subject) -> str:
        """Name the pieces, the motif or the ground that a line belongs to."""
        if of.pieces:
            return _listed([self.piece(k) for k in of.pieces])
        if of.place is not None:
            name = self.block(of.place)
            if of.echo:
                return f"the motif in {name}"
            return f"the ground of {name}" if of.around else name
        if of.patch < 0:
            return "motif" if of.motif >= 0 else "line"
        unit = self.unit(of.patch)
        in_block = self.top.patches[of.patch].part in WITHIN
        return f"{self.patch(of.patch, the=True)} in {unit}" if in_block else unit

    def piece(self, number: int, *, the: bool = False) -> str:
        """Name an appliqué piece by its number, so that no other is called the same.

        Parameters
        ----------
        number
            Its index.
        the
            With "the" before a plain noun: "the starfish on A2", but "star 1 on A2".
        """
        name, host, counted = self._pieces[number]
        name = _piece_name(name, host)
        return f"the {name}" if the and not counted else name

    def pieces_alike(self, numbers: Sequence[int]) -> str:
        """Name several appliqué pieces, as in "starfish on A2 and A4"."""
        on: dict[str, list[str]] = {}
        for number in numbers:
            name, host, _ = self._pieces[number]
            on.setdefault(name, []).append(host)
        said = []
        for name, hosts in on.items():
            where = [host for host in hosts if host]
            said += [name] * (len(hosts) - len(where))
            said += [_piece_name(name, join_words(_few(where)))] if where else []
        return join_words(_few(said))

    def units(self, patches: Sequence[int]) -> str:
        """Name the units of some patches in few words, as in "the borders, A1 and A3"."""
        asked = {self.top.patches[i].place: i for i in reversed(patches)}
        said: list[str] = []
        for part, every in _WHOLE.items():
            mine = [place for place in asked if place.part == part]
            all_round = [place for place in self._parts if place.part == part]
            if len(mine) == len(all_round) > (_SO_FEW if part == "block" else 1):
                said.append(every if part != "border" or self._borders > 1 else "the border")
                for place in mine:
                    del asked[place]
        for number in range(1, self._borders + 1):
            ring = [p for p in self._parts if p.part == "border" and p.number == number]
            if all(place in asked for place in ring):
                said.append(f"the {_layer(number, self._borders)}border")
                for place in ring:
                    del asked[place]
        counted = []
        for kind, what in _STRIPS.items():
            mine = [place for place in asked if place.part == kind]
            if len(mine) > (_MANY if kind == "block" else _SO_FEW):
                first = self.unit(min(asked[place] for place in mine))
                total = sum(place.part == kind for place in self._parts)
                counted.append(f"{len(mine)} of {total} {what} (such as {first})")
                for place in mine:
                    del asked[place]
        named = _few([self.unit(i) for i in sorted(asked.values())])
        return join_words([*said, *named, *counted])

    def pieces(self, numbers: Sequence[int]) -> str:
        """Name appliqué pieces in one go: those of one name by the blocks they lie on.

        Parameters
        ----------
        numbers
            Their indices.

        Returns
        -------
        str
            Such as "the starfish on A2 and A4" or "the star on A1 to A5".
        """
        hosts: dict[str, list[Place]] = {}
        single: list[str] = []
        for number in numbers:
            piece = self.top.pieces[number]
            if piece.host is None or self._pieces[number][2]:
                single.append(self.piece(number, the=True))
            else:
                hosts.setdefault(piece.asked.name, []).append(piece.host)
        grouped = [f"the {name} on {self._in_rows(places)}" for name, places in hosts.items()]
        return join_words([*grouped, *single])

    def _in_rows(self, blocks: Sequence[Place]) -> str:
        """List blocks; three or more that follow one another in a row by the first and the last."""
        rows: list[list[Place]] = []
        for block in blocks:
            last = rows[-1][-1] if rows else None
            beside = last and block.column >= 0 and last == replace(block, column=block.column - 1)
            if beside:
                rows[-1].append(block)
            else:
                rows.append([block])
        names: list[str] = []
        for row in rows:
            if len(row) > 2:  # noqa: PLR2004 - two are named as soon as told by their ends
                names.append(f"{self.block(row[0])} to {self.block(row[-1])}")
            else:
                names += [self.block(block) for block in row]
        return join_words(names)

    def area(self, place: Place) -> str:
        """Name a part of the top that is stitched in one go.

        Parameters
        ----------
        place
            A block with its row and column, or with only one of them, a whole row or column; all
            sashing, a whole border where they have no side; anything else as it is.

        Returns
        -------
        str
            Such as "boat A3", "row A", "column 2", "the sashing", "the inner border".
        """
        if place.part == "top":
            return place.name
        if place.part == "sashing":
            return "the sashing"
        if place.part == "border":
            return _border_words(place, self._borders)
        if place in self._blocks:
            own = self.top.names.get(place)
            return own or f"{self._blocks[place].block.name} {place.name}"
        if place.part == "block":
            return f"row {place.at}" if place.column < 0 else f"column {place.column + 1}"
        found = next(k for k, patch in enumerate(self.top.patches) if patch.place == place)
        return self.unit(found)

    @cached_property
    def _parts(self) -> tuple[Place, ...]:
        """Every unit of the top."""
        return tuple(dict.fromkeys(patch.place for patch in self.top.patches))

    @cached_property
    def _pieces(self) -> list[tuple[str, str, bool]]:
        """Names of all pieces, the unit that each is said to lie on, and whether a number ends it.

        Where two would be called the same, the ground tells them apart, or else a number.
        """
        hosts = [self.block(piece.host) if piece.host else "" for piece in self.top.pieces]
        asked = [piece.asked.name for piece in self.top.pieces]
        names = list(map(_piece_name, asked, hosts))
        twice = _twice(names)
        for k, piece in enumerate(self.top.pieces):
            if names[k] in twice:
                hosts[k] = hosts[k] or self._ground(piece)
        names = list(map(_piece_name, asked, hosts))
        taken, twice = set(asked), _twice(names)
        counts = {name: itertools.count(1) for name in twice}
        own = list(asked)
        for k, name in enumerate(names):
            if name in twice:
                numbered = (f"{asked[k]} {n}" for n in counts[name])
                own[k] = next(each for each in numbered if each not in taken)
        return [
            (new, host, new != old or bool(NUMBERED.search(old)))
            for new, host, old in zip(own, hosts, asked, strict=True)
        ]

    def _ground(self, piece: Piece) -> str:
        """Name the unit under the middle of a piece."""
        found = self.meeting(np.array([piece.shape.centroid.x, piece.shape.centroid.y]))
        return self.unit(found[0]) if found else ""

    def telling(self, patch: LaidPatch) -> bool:
        """Tell whether a patch's name says which it is, as the block lies on the top."""
        if not patch.named:
            return False
        return patch.place not in self._turned or not WAY_WORD.search(patch.name)

    @cached_property
    def _turned(self) -> frozenset[Place]:
        """Blocks that lie turned or mirrored."""
        upright = np.eye(2)
        return frozenset(
            b.place for b in self.top.blocks if not np.allclose(b.frame[:, :2], upright)
        )

    @cached_property
    def _blocks(self) -> dict[Place, LaidBlock]:
        return {block.place: block for block in self.top.blocks}

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree([patch.polygon for patch in self.top.patches])

    @cached_property
    def _squares(self) -> dict[Place, Polygon]:
        return {window.place: Polygon(window.corners) for window in self.top.windows}

    def square(self, block: Place) -> Polygon:
        """Give the outline of a block."""
        return self._squares[block]

    def box(self, block: Place) -> tuple[float, float, float, float]:
        """Give the box round a block: left, top, right, bottom, mm."""
        return self.square(block).bounds

    def from_side(
        self, block: Place, point: FloatArray, *, upright: bool, whose: str = "its"
    ) -> str:
        """Tell how far a line is from the nearer side of a block, as in "2 in from its top".

        Parameters
        ----------
        block
            Its place.
        point
            On the line, mm.
        upright
            Whether the line runs up and down.
        whose
            "its", or "their" where it speaks for several blocks.
        """
        left, top, right, bottom = self.box(block)
        x, y = float(point[0]), float(point[1])
        near = [(y - top, "top"), (bottom - y, "bottom")]
        if upright:
            near = [(x - left, "left side"), (right - x, "right side")]
        far, word = min(near, key=lambda found: round(found[0], 3))
        return f"{format_length(far, self.top.unit)} from {whose} {word}"

    @cached_property
    def _units(self) -> dict[Place, str]:
        """Words for the units asked for so far."""
        return {}

    def _unit_words(self, patch: LaidPatch) -> str:
        """Word the unit of a patch."""
        place = patch.place
        if place.part == "patch":
            return patch.name
        if place.part == "border":
            return _border_words(place, self._borders)
        if place.part == "sashing":
            return _sashing_words(place)
        if place.part == "cornerstone":
            return self._beside_blocks("cornerstone", patch.polygon, 0.0)
        if place.part == "setting":
            named = self._beside_blocks("setting triangle", patch.polygon, 1.0)
            return named or f"setting triangle {place.number}"
        return self.block(place)

    @cached_property
    def _borders(self) -> int:
        """How many borders lie round the top."""
        return max((p.place.number for p in self.top.patches if p.part == "border"), default=0)

    def _beside_blocks(self, what: str, shape: Polygon, shared: float) -> str:
        """Name a shape by the blocks that it touches, along `shared` mm of edge at least."""
        near = self._block_tree.query(shape, predicate="dwithin", distance=SAME_PLACE)
        blocks = [self.top.blocks[i].place for i in sorted(int(i) for i in near)]
        if shared:
            around = shape.buffer(SAME_PLACE)
            blocks = [
                b for b in blocks if self.square(b).boundary.intersection(around).length >= shared
            ]
        if not blocks:
            return f"a {what}" if not shared else ""
        way = _middle(shape) - np.mean([_middle(self.square(b)) for b in blocks], axis=0)
        names = [self.block(place) for place in blocks]
        if len(blocks) > 2 or math.hypot(*way) < SAME_PLACE:  # noqa: PLR2004 - inside: name two across
            return f"the {what} between {names[0]} and {names[-1]}"
        where = {0: "right of", 2: "below", 4: "left of", 6: "above"}.get(_eighth(way))
        return f"the {what} {where or f'at the {_CORNERS[_eighth(way)]} of'} {join_words(names)}"

    @cached_property
    def _block_tree(self) -> shapely.STRtree:
        return shapely.STRtree([self.square(block.place) for block in self.top.blocks])


def _middle(shape: Polygon) -> FloatArray:
    return np.array([shape.centroid.x, shape.centroid.y])


def _few(names: Sequence[str]) -> list[str]:
    """Give the first of many names, and how many more there are."""
    if len(names) <= _SHOWN:
        return list(names)
    return [*names[: _SHOWN - 1], f"{len(names) - _SHOWN + 1} more"]


def _piece_name(name: str, on: str) -> str:
    return f"{name} on {on}" if on else name


def _twice(names: Sequence[str]) -> set[str]:
    return {name for name, count in Counter(names).items() if count > 1}


def _listed(names: Sequence[str]) -> str:
    """List the first of some names, and count the rest."""
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[: _NAMED - 1])} and {len(names) - _NAMED + 1} more"


def _layer(number: int, count: int) -> str:
    """Tell one border from others, as in "inner "."""
    layers = {1: "inner ", count: "outer "} if count > 1 else {1: ""}
    if count == 3:  # noqa: PLR2004 - one lies in the middle
        layers[2] = "middle "
    return layers.get(number, f"number {number} ")


def _border_words(place: Place, count: int) -> str:
    """Name a border; of several, by how far out it lies."""
    layer = _layer(place.number, count)
    if not place.side:
        return f"the {layer}border"
    if place.end:
        return f"the {place.side} {place.end} corner square of the {layer}border"
    return f"the {layer}{place.side} border"


def _sashing_words(place: Place) -> str:
    """Name a strip by the block or row where it lies, and the one beyond it."""
    of_row = place.column < 0
    if place.between:
        return f"the sashing between {'rows ' * of_row}{place.at} and {place.beyond}"
    return f"the sashing {BESIDE[place.side]} {'row ' * of_row}{place.at}"
