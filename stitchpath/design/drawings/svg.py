"""SVG to a drawing: a walk over what shows, by the standard as far as geometry goes.

SVG 2 (W3C candidate recommendation): what is not displayed, not visible, not painted, or stands in
defs, symbols, clip paths, masks, patterns and markers is no ink; `use`, nested views, transforms,
styles and clip paths are followed. Masks, filters, text and pictures are told of, not read.
"""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import shapely
import tinycss2.color3
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.areas import filled
from stitchpath.design.drawings.drawing import Copy, Drawing, Frame, Names, Shape
from stitchpath.design.drawings.pathdata import (
    Curve,
    Strand,
    ellipse,
    extent,
    flatten,
    moved_by,
    read_path_data,
)
from stitchpath.design.drawings.style import INHERITED, Node, StyleSheet, length, shows
from stitchpath.design.drawings.xml import Element, parse_xml
from stitchpath.geometry.tolerances import OUTLINE_SHARE

__all__ = ["read_svg"]

_MOST_VISITS = 40_000  # elements, those in copies counted each time
_MOST_NUMBERS = 2_000_000  # characters of path data, copies counted each time
_MOST_SHAPES = 20_000  # copies counted each
_MOST_CLIPS = 500
_LARGEST = 1e9
_MM = 25.4 / 96  # to a CSS pixel
_MOST_FRAMES = 5000
_NESTED = 8  # clip paths in one another
_ROUND = 1e-6  # a pen that is drawn out by less is round
_FAINT = 0.5  # a fill that covers less lets most of what is below show
_SVG = "http://www.w3.org/2000/svg"
_GROUPS = ("g", "a", "svg", "switch", "use", "symbol")
_LOST = {"text": "text", "foreignObject": "text", "image": "picture"}
_CAPS: dict[str, Literal["flat", "round", "square"]] = {
    "butt": "flat",
    "round": "round",
    "square": "square",
}
_JOINS: dict[str, Literal["mitre", "round", "bevel"]] = {
    "miter": "mitre",
    "round": "round",
    "bevel": "bevel",
}
_URL = re.compile(r"""url\(\s*['"]?#([^'")]{1,200})['"]?\s*\)""", re.ASCII)
_STEP = re.compile(r"\s*,?\s*([a-zA-Z]{1,10})\s?\(([^()]*)\)", re.ASCII)
_NUMBER = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)([a-z%]{0,5})", re.ASCII)
_DEGREES = {"": 1.0, "deg": 1.0, "rad": 180 / math.pi, "turn": 360.0, "grad": 0.9}


class _State(NamedTuple):
    """What holds where the walk stands."""

    matrix: FloatArray
    style: Mapping[str, str]
    names: Names | None
    clip: BaseGeometry | None
    view: tuple[float, float]  # width and height that percentages go by
    uses: tuple[int, ...]  # the copies it stands in
    shown: bool  # whether a symbol may show here
    clipping: bool = False  # in a clip path, where only the geometry counts
    copies: tuple[Copy, ...] = ()
    opacity: float = 1.0  # of the groups it stands in


def read_svg(data: bytes) -> Drawing:
    """Read what shows in an SVG file.

    Parameters
    ----------
    data
        The file.

    Returns
    -------
    Drawing
        In CSS pixels of its page.

    Raises
    ------
    StitchpathError
        When it is no SVG, or larger in some way than a drawing is.
    Exception
        Whatever a parser raises over broken input; for `told_as`.
    """
    root = parse_xml(data)
    if root.tag != "svg":
        raise StitchpathError(f"found a file of <{root.tag[:40]}>, expected an SVG file")
    return _Walk(root).drawing


class _Walk:
    """Goes through the elements in the order of painting, with a stack of its own."""

    def __init__(self, root: Element) -> None:
        self.drawing = Drawing()
        self._root = root
        self._ids: dict[str, Element] = {}
        self._styles: dict[int, dict[str, str]] = {}
        self._nodes: dict[int, Node] = {}
        self._called: dict[int, tuple[str, ...]] = {}
        self._kept: list[Element] = []  # made for copies; their identity must last
        self._visits = self._letters = self._clips = 0
        texts = []
        stack = [root]
        while stack:
            element = stack.pop()
            self._ids.setdefault(element.attributes.get("id", ""), element)
            if element.tag == "style":
                texts.append(element.text)
            stack += reversed(element.children)
        self._sheet = StyleSheet(texts)
        self._go(root, self._page())

    def _page(self) -> _State:
        """Open the page: its size, and how its units lie on it."""
        attributes = self._root.attributes
        box = _view_box(attributes)
        sizes = []
        for k, name in enumerate(("width", "height")):
            text = attributes.get(name, "").strip()
            size = None if text.endswith("%") else length(text, 0)
            sizes.append(size if size and size > 0 else None)
            if size and text[-1:].isalpha() and not text.lower().endswith(("px", "em", "ex")):
                self.drawing.mm = _MM
            if box is None and sizes[k] is None:
                sizes[k] = 300.0 if k == 0 else 150.0  # as browsers take it
        width, height = sizes
        if box is not None:
            across, down = box[2:]
            if width is None and height is None:
                width, height = across, down
            elif width is None or height is None:
                scale = (width or 0) / across + (height or 0) / down
                width, height = width or across * scale, height or down * scale
        width, height = float(width or 300), float(height or 150)
        if box is not None or attributes.get("width", "").strip():
            self.drawing.page = (0.0, 0.0, width, height)
        matrix, view = _viewed(attributes, np.eye(2, 3), width, height)
        self.drawing.zero = float(matrix[0, 2]), float(matrix[1, 2])
        return _State(matrix, INHERITED, None, None, view, (), shown=False)

    def _go(self, element: Element, state: _State) -> None:
        stack = [(element, state)]
        while stack:
            element, state = stack.pop()
            self._visits += 1
            if self._visits > _MOST_VISITS:
                raise StitchpathError(
                    f"found over {_MOST_VISITS:,} elements, copies by <use> counted, expected fewer"
                )
            stack += reversed(list(self._visit(element, state)))

    def _visit(self, element: Element, state: _State) -> Iterator[tuple[Element, _State]]:
        """Take an element; give its children, with the style and place that they inherit."""
        tag = element.tag
        if element.space not in (_SVG, self._root.space) or not self._read(element, state):
            return
        inside = self._entered(element, state)
        if inside is None:
            return
        if tag in _SHAPES:
            self._shape(element, inside)
        elif tag == "use":
            yield from self._use(element, inside)
        elif tag == "switch":
            yield from [(c, inside) for c in element.children if c.tag != "foreignObject"][:1]
        else:
            if tag in ("svg", "symbol") and element is not self._root:
                inside = self._view(element, inside)
            yield from [(child, inside) for child in element.children]

    def _read(self, element: Element, state: _State) -> bool:
        """Tell whether an element is of a kind that is read; of others say what is lost."""
        tag = element.tag
        if tag in _LOST:
            if self._entered(element, state) is not None:
                self.drawing.tell(_LOST[tag])
            return False
        if tag == "symbol" and not state.shown:
            self._hide(element, "it is a symbol that nothing uses")
            return False
        if tag in ("defs", "clipPath", "mask", "pattern", "marker"):
            self._hide(element, f"it stands in <{tag}>")
            return False
        return tag in _GROUPS or tag in _SHAPES

    def _hide(self, element: Element, why: str) -> None:
        """Note the ids of what does not show."""
        stack = [element]
        while stack:
            at = stack.pop()
            if name := at.attributes.get("id"):
                self.drawing.hidden.setdefault(name, why)
            self._visits += 1
            stack += at.children

    def _node(self, element: Element) -> Node:
        """See an element as selectors do; parents come first, so none is missing."""
        chain = []
        at: Element | None = element
        while at is not None and id(at) not in self._nodes:
            chain.append(at)
            at = at.parent
        for each in reversed(chain):
            attributes = each.attributes
            parent = self._nodes[id(each.parent)] if each.parent is not None else None
            classes = frozenset(attributes.get("class", "").split())
            self._nodes[id(each)] = Node(
                each.tag, attributes.get("id", ""), classes, attributes, parent
            )
        return self._nodes[id(element)]

    def _entered(self, element: Element, state: _State) -> _State | None:
        """Give the style and place that children inherit; None where the element does not show."""
        own = self._styles.get(id(element))
        if own is None:
            own = self._styles[id(element)] = self._sheet.values(self._node(element))
        said = {
            name: INHERITED[name] if value.lower() == "initial" else value
            for name, value in own.items()
            if name in INHERITED and value.lower() != "inherit"
        }
        style = {**state.style, **said} if said else state.style
        if own.get("display", "").lower() == "none":
            self._hide(element, "it is not displayed")
            return None
        if _share(own.get("opacity", "1")) <= 0:
            self._hide(element, "its opacity is 0")
            return None
        matrix = state.matrix
        if (text := own.get("transform")) and element is not self._root:
            moved = self._transform(text)
            matrix = matrix if moved is None else _times(matrix, moved)
        mine = self._called.get(id(element))
        if mine is None:
            attributes = element.attributes
            # the label of a layer is what she called it; programs give ids
            called = [v for k, v in attributes.items() if k.endswith("}label")]
            called += [attributes.get("id", ""), *attributes.get("class", "").split()[:20]]
            mine = self._called[id(element)] = tuple(name for name in called if name)
        names = Names(mine, state.names) if mine else state.names
        opacity = state.opacity * min(_share(own.get("opacity", "1")), 1.0)
        inside = state._replace(
            matrix=matrix, style=style, names=names, shown=False, opacity=opacity
        )
        for what, told in _UNREAD.items():
            if "url" in own.get(what, ""):
                self.drawing.tell(told)
        if "clip-path" in own:
            inside = self._clipped(element, own["clip-path"], inside)
        return inside

    def _transform(self, text: str) -> FloatArray | None:
        """Read a transform; one that is wrong is passed over as a whole, as the standard asks."""
        matrix = None if text.strip().lower() == "none" else _transform(text)
        if matrix is None and text.strip().lower() != "none":
            self.drawing.tell("a transform that cannot be read")
        return matrix

    def _use(self, element: Element, state: _State) -> Iterator[tuple[Element, _State]]:
        attributes = element.attributes
        href = attributes.get("href") or attributes.get("{http://www.w3.org/1999/xlink}href") or ""
        target = self._ids.get(href.strip()[1:]) if href.strip().startswith("#") else None
        if target is None:
            self.drawing.tell("a copy of something that is not in the file")
            return
        if id(target) in state.uses or _within(element, target):
            self.drawing.tell("a copy of itself")
            return
        width, height = state.view
        x = length(attributes.get("x"), width) or 0.0
        y = length(attributes.get("y"), height) or 0.0
        matrix = _times(state.matrix, np.array([[1.0, 0.0, x], [0.0, 1.0, y]]))
        copy = Copy(href.strip()[1:], matrix)
        inside = state._replace(
            matrix=matrix,
            uses=(*state.uses, id(target)),
            shown=True,
            copies=(*state.copies, copy),
        )
        if len(inside.uses) > 100:  # noqa: PLR2004 - no drawing nests copies so deep
            raise StitchpathError("found over 100 copies one in another, expected fewer")
        if target.tag in ("svg", "symbol"):
            sized = {k: v for k, v in attributes.items() if k in ("width", "height")}
            if sized:
                view = Element(target.tag, target.attributes | sized, target.parent)
                view.children, view.space = target.children, target.space
                self._styles[id(view)] = self._sheet.values(self._node(target))
                self._nodes[id(view)] = self._node(target)
                self._kept.append(view)
                target = view
        yield target, inside

    def _view(self, element: Element, state: _State) -> _State:
        """Open a view within the drawing: what leaves it is cut off."""
        attributes = element.attributes
        across, down = state.view
        x = y = 0.0
        if element.tag == "svg":
            x = length(attributes.get("x"), across) or 0.0
            y = length(attributes.get("y"), down) or 0.0
        sizes = []
        for name, whole in (("width", across), ("height", down)):
            size = length(attributes.get(name, "100%"), whole)
            sizes.append(whole if size is None else size)
        width, height = sizes
        matrix = _times(state.matrix, np.array([[1.0, 0.0, x], [0.0, 1.0, y]]))
        own = self._styles.get(id(element), {})
        clip = state.clip
        if own.get("overflow", "hidden").lower() not in ("visible", "auto"):
            corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=float)
            clip = self._both(clip, shapely.Polygon(corners @ matrix[:, :2].T + matrix[:, 2]))
        inner, view = _viewed(attributes, matrix, width, height)
        return state._replace(matrix=inner, view=view, clip=clip)

    def _both(self, one: BaseGeometry | None, other: BaseGeometry) -> BaseGeometry:
        self._clips += 1
        if self._clips > _MOST_CLIPS:
            raise StitchpathError(f"found over {_MOST_CLIPS} clip paths, expected fewer")
        return other if one is None else shapely.intersection(one, other)

    def _clipped(self, element: Element, text: str, state: _State) -> _State:
        """Follow a clip path."""
        if text.strip().lower() == "none":
            return state
        match = _URL.fullmatch(text.strip())
        target = self._ids.get(match[1]) if match else None
        if match is None:
            self.drawing.tell("a clip path that cannot be read")
        if target is None or target.tag != "clipPath":
            return state
        area = self._clip_area(target, element, state, 0)
        return state if area is None else state._replace(clip=self._both(state.clip, area))

    def _clip_area(
        self, target: Element, element: Element, state: _State, depth: int
    ) -> BaseGeometry | None:
        if depth > _NESTED:
            raise StitchpathError("found clip paths that clip each other, expected ones that end")
        attributes = target.attributes
        matrix = state.matrix
        if attributes.get("clipPathUnits") == "objectBoundingBox":
            strands = self._strands(element, state)
            if not strands:
                self.drawing.tell("a clip path that cannot be read")
                return None
            points = np.concatenate([flatten(s, max(extent([s]), 1e-9) / 100) for s in strands])
            low, size = points.min(axis=0), np.ptp(points, axis=0)
            matrix = _times(matrix, np.column_stack([np.diag(size), low]))
        if text := attributes.get("transform"):
            moved = self._transform(text)
            matrix = matrix if moved is None else _times(matrix, moved)
        inside = state._replace(
            matrix=matrix, style=INHERITED, clip=None, names=None, clipping=True
        )
        outer, self.drawing = self.drawing, Drawing()
        for child in target.children:
            if child.tag in _SHAPES or child.tag == "use":
                self._go(child, inside)
        shapes, self.drawing = self.drawing.shapes, outer
        area = shapely.union_all([_area(shape) for shape in shapes])
        own = attributes.get("clip-path") or ""
        match = _URL.fullmatch(own.strip())
        if match and (other := self._ids.get(match[1])) is not None and other.tag == "clipPath":
            more = self._clip_area(other, element, state._replace(matrix=matrix), depth + 1)
            area = area if more is None else shapely.intersection(area, more)
        return area

    def _strands(self, element: Element, state: _State) -> list[Strand]:
        make = _SHAPES.get(element.tag)
        if make is None:
            return []
        if element.tag == "path":
            data = element.attributes.get("d", "")
            self._letters += len(data)
            if self._letters > _MOST_NUMBERS:
                raise StitchpathError(
                    f"found over {_MOST_NUMBERS / 1e6:.0f} million characters of path data, "
                    "expected fewer"
                )
            strands, wrong = read_path_data(data)
            if wrong:
                self.drawing.tell("a path that cannot be read to its end")
            return [s for s in strands if len(s.curves) > 1 or len(s.curves[0].points) > 1]
        return make(element.attributes, state.view)

    def _shape(self, element: Element, state: _State) -> None:
        """Take a shape that shows."""
        style, name = state.style, element.attributes.get("id", "")
        if style["visibility"].lower() in ("hidden", "collapse"):
            self.drawing.hidden.setdefault(name, "it is hidden")
            return
        fill = self._paint(style, "fill")
        stroke = self._paint(style, "stroke")
        font = length(style["font-size"], 16.0) or 16.0
        matrix = state.matrix
        across, down = state.view
        width = length(style["stroke-width"], math.hypot(across, down) / math.sqrt(2), font)
        grown = math.sqrt(abs(float(np.linalg.det(matrix[:, :2]))))
        thick = abs(1.0 if width is None else width) * grown
        if thick <= 0:
            stroke = None
        if element.tag == "line":
            fill = None
        if state.clipping:
            fill, stroke = "black", None
        if fill is None and stroke is None:
            self.drawing.hidden.setdefault(name, "it has neither fill nor stroke")
            self._frame(element, state)
            return
        strands = [moved_by(matrix, strand) for strand in self._strands(element, state)]
        strands = [s for s in strands if all(np.isfinite(c.points).all() for c in s.curves)]
        if not strands:
            return
        if len(self.drawing.shapes) >= _MOST_SHAPES:
            raise StitchpathError(
                f"found over {_MOST_SHAPES:,} shapes, copies by <use> counted, expected fewer"
            )
        limit = length(style["stroke-miterlimit"], 0)
        dashes = _dashes(style["stroke-dasharray"], math.hypot(across, down) / math.sqrt(2), font)
        shift = length(style["stroke-dashoffset"], math.hypot(across, down) / math.sqrt(2), font)
        self.drawing.shapes.append(
            Shape(
                element.tag,
                tuple(strands),
                state.names,
                fill,
                style["clip-rule" if state.clipping else "fill-rule"].lower() == "evenodd",
                stroke,
                thick,
                _CAPS.get(style["stroke-linecap"].lower(), "flat"),
                _JOINS.get(style["stroke-linejoin"].lower(), "mitre"),
                max(limit or 4.0, 1.0),
                bool(dashes),
                state.clip,
                state.copies,
                pen=_pen(matrix),
                dashes=tuple(dash * grown for dash in dashes),
                shift=(shift or 0.0) * grown,
                faint=fill is not None and _cover(style, fill) * state.opacity < _FAINT,
            )
        )

    def _frame(self, element: Element, state: _State) -> None:
        """Take what tells where a block lies; this tool writes it so."""
        of = element.attributes.get("data-block", "")
        if not of or len(self.drawing.frames) >= _MOST_FRAMES:
            return
        for strand in self._strands(element, state)[:1]:
            corners = flatten(moved_by(state.matrix, strand), 1.0)[:4]
            if len(corners) == 4 and np.isfinite(corners).all():  # noqa: PLR2004
                self.drawing.frames.append(Frame(of[:200], corners))

    def _paint(self, style: Mapping[str, str], name: str) -> str | None:
        """Tell the paint of a fill or a stroke; None where it leaves no ink."""
        paint = style[name].strip()
        if _share(style[f"{name}-opacity"]) <= 0:
            return None
        if paint.lower().startswith("url("):
            match = _URL.match(paint)
            if match and match[1] in self._ids:
                return paint[:200]
            paint = paint.partition(")")[2].strip() or "none"
        return paint[:200] if shows(paint, style["color"]) else None


def _pen(matrix: FloatArray) -> FloatArray | None:
    """Give what draws a round pen out; None where a matrix only turns, mirrors and scales."""
    turn = matrix[:, :2]
    size = abs(float(np.linalg.det(turn)))
    if not np.isfinite(size) or size <= 0:
        return None
    pen = turn / math.sqrt(size)
    return None if np.abs(pen.T @ pen - np.eye(2)).max() < _ROUND else pen


_UNREAD = {
    "mask": "a mask",
    "filter": "a filter, such as a blur or a shadow",
    **dict.fromkeys(
        ("marker", "marker-start", "marker-mid", "marker-end"),
        "a marker, such as the head of an arrow",
    ),
}
"""Properties that change what is seen of a shape, and are not followed: the shape is read whole."""


def _dashes(text: str, percent: float, font: float) -> tuple[float, ...]:
    """Read dashes and gaps in turn; none where the line is whole (SVG 2, section 13.5.6)."""
    found = [length(part, percent, font) for part in text[:2000].replace(",", " ").split()]
    sizes = [size for size in found if size is not None]
    if len(sizes) < len(found) or any(size < 0 for size in sizes):
        return ()
    sizes *= 1 + len(sizes) % 2
    return tuple(sizes) if sum(sizes[1::2]) > 0 else ()


def _area(shape: Shape) -> BaseGeometry:
    """Fill a shape of a clip path."""
    size = max(extent(shape.strands), 1e-9)
    rings = [flatten(strand, size * OUTLINE_SHARE) for strand in shape.strands]
    return filled(rings, even_odd=shape.even_odd)


def _within(element: Element, target: Element) -> bool:
    """Tell whether an element stands in another."""
    at: Element | None = element
    while at is not None and at is not target:
        at = at.parent
    return at is target


def _share(text: str) -> float:
    """Read an opacity."""
    found = length(text, 1.0)
    return 1.0 if found is None else found


def _cover(style: Mapping[str, str], paint: str) -> float:
    """Tell how much of what is below a fill covers, from 0 to 1."""
    colour = tinycss2.color3.parse_color(
        style["color"] if paint.lower() == "currentcolor" else paint
    )
    own = colour[3] if isinstance(colour, tuple) else 1.0
    return float(own * min(_share(style["fill-opacity"]), 1.0))


def _times(one: FloatArray, other: FloatArray) -> FloatArray:
    """Join two matrices: the second is done first."""
    turn = one[:, :2]
    with np.errstate(all="ignore"):
        return np.column_stack([turn @ other[:, :2], turn @ other[:, 2] + one[:, 2]])


def _view_box(attributes: Mapping[str, str]) -> tuple[float, float, float, float] | None:
    numbers = [float(m[1]) for m in _NUMBER.finditer(attributes.get("viewBox", "")[:200])]
    if len(numbers) != 4 or not all(abs(n) <= _LARGEST for n in numbers):  # noqa: PLR2004
        return None
    x, y, width, height = numbers
    return (x, y, width, height) if width > 0 and height > 0 else None


def _viewed(
    attributes: Mapping[str, str], matrix: FloatArray, width: float, height: float
) -> tuple[FloatArray, tuple[float, float]]:
    """Fit a view box into its room (SVG 2, section 8.6)."""
    box = _view_box(attributes)
    if box is None:
        return matrix, (width, height)
    x, y, across, down = box
    asked = attributes.get("preserveAspectRatio", "").lower().split()
    scales = np.array([width / across, height / down])
    moved = np.array([-x, -y]) * scales
    if not asked or asked[0] != "none":
        scale = scales.max() if "slice" in asked else scales.min()
        align = asked[0] if asked else "xmidymid"
        room = np.array([width - across * scale, height - down * scale])
        part = {"min": 0.0, "max": 1.0}
        where = np.array([part.get(align[1:4], 0.5), part.get(align[5:8], 0.5)])
        scales = np.array([scale, scale])
        moved = np.array([-x, -y]) * scales + room * where
    return _times(matrix, np.column_stack([np.diag(scales), moved])), (across, down)


def _transform(text: str) -> FloatArray | None:
    """Read a list of transforms, of SVG or CSS; None where it is wrong."""
    matrix, at = np.eye(2, 3), 0
    text = text[:10_000].strip()
    while at < len(text):
        match = _STEP.match(text, at)
        if match is None:
            return None
        one = _one_transform(match[1].lower(), match[2])
        if one is None:
            return None
        matrix, at = _times(matrix, one), match.end()
    return matrix if np.isfinite(matrix).all() else None


def _one_transform(name: str, text: str) -> FloatArray | None:
    found = _NUMBER.findall(text[:1000])
    if _NUMBER.sub("", text[:1000]).strip(" ,\t\r\n"):
        return None
    turning = name.startswith(("rotate", "skew"))
    numbers = []
    for k, (number, unit) in enumerate(found):
        if turning and k == 0 and unit in _DEGREES:
            numbers.append(float(number) * _DEGREES[unit])
        else:
            size = length(number + unit, 0)
            if size is None:
                return None
            numbers.append(size)
    counts = {
        "matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewx": (1,),
        "skewy": (1,), "translatex": (1,), "translatey": (1,), "scalex": (1,), "scaley": (1,),
    }  # fmt: skip
    if len(numbers) not in counts.get(name, ()) or not all(abs(n) <= _LARGEST for n in numbers):
        return None
    return _matrix_of(name, numbers)


def _matrix_of(name: str, n: list[float]) -> FloatArray:
    if name == "matrix":
        return np.array([[n[0], n[2], n[4]], [n[1], n[3], n[5]]])
    if name.startswith("translate"):
        x = 0.0 if name == "translatey" else n[0]
        y = n[0] if name == "translatey" else (n[1] if len(n) > 1 else 0.0)
        return np.array([[1.0, 0.0, x], [0.0, 1.0, y]])
    if name.startswith("scale"):
        x = 1.0 if name == "scaley" else n[0]
        y = 1.0 if name == "scalex" else n[-1]
        return np.array([[x, 0.0, 0.0], [0.0, y, 0.0]])
    if name.startswith("skew"):
        lean = math.tan(math.radians(n[0]))
        x, y = (lean, 0.0) if name == "skewx" else (0.0, lean)
        return np.array([[1.0, x, 0.0], [y, 1.0, 0.0]])
    cosine, sine = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
    turn = np.array([[cosine, -sine], [sine, cosine]])
    middle = np.array(n[1:] if len(n) > 1 else [0.0, 0.0])
    return np.column_stack([turn, middle - turn @ middle])


def _polyline(points: FloatArray, *, closed: bool) -> list[Strand]:
    if closed:
        points = np.concatenate([points, points[:1]])
    return [Strand([Curve("line", points)], closed)]


def _sizes(
    attributes: Mapping[str, str], view: tuple[float, float], names: str
) -> list[float | None]:
    across, down = view
    found = []
    for name in names.split():
        whole = across if name in ("x", "width", "cx", "rx", "x1", "x2") else down
        size = length(attributes.get(name), math.hypot(*view) / 2**0.5 if name == "r" else whole)
        if size is not None and not abs(size) <= _LARGEST:
            raise StitchpathError(
                f"found the number {attributes[name][:20]} out of range, expected numbers up to "
                f"{_LARGEST:,.0f}"
            )
        found.append(size)
    return found


def _rect(attributes: Mapping[str, str], view: tuple[float, float]) -> list[Strand]:
    x, y, width, height, rx, ry = _sizes(attributes, view, "x y width height rx ry")
    x, y, width, height = x or 0.0, y or 0.0, width or 0.0, height or 0.0
    if width <= 0 or height <= 0:
        return []
    rx, ry = (ry if rx is None else rx) or 0.0, (rx if ry is None else ry) or 0.0
    rx, ry = min(max(rx, 0.0), width / 2), min(max(ry, 0.0), height / 2)
    a, b, c, d = x, y, x + width, y + height
    if rx == 0 or ry == 0:
        return _polyline(np.array([[a, b], [c, b], [c, d], [a, d]]), closed=True)
    quarter = math.pi / 2
    curves = []
    at = np.array([a + rx, b])
    for k, (cx, cy) in enumerate(
        [(c - rx, b + ry), (c - rx, d - ry), (a + rx, d - ry), (a + rx, b + ry)]
    ):
        turn = (quarter * (k - 1), quarter * k)
        start = np.array([cx + rx * math.cos(turn[0]), cy + ry * math.sin(turn[0])])
        end = np.array([cx + rx * math.cos(turn[1]), cy + ry * math.sin(turn[1])])
        curves.append(Curve("line", np.array([at, start])))
        curves.append(Curve("arc", np.array([[cx, cy], [rx, 0.0], [0.0, ry], start, end]), turn))
        at = end
    return [Strand(curves, closed=True)]


def _circle(attributes: Mapping[str, str], view: tuple[float, float]) -> list[Strand]:
    cx, cy, r = _sizes(attributes, view, "cx cy r")
    return [ellipse(cx or 0.0, cy or 0.0, r, r)] if r and r > 0 else []


def _ellipse(attributes: Mapping[str, str], view: tuple[float, float]) -> list[Strand]:
    cx, cy, rx, ry = _sizes(attributes, view, "cx cy rx ry")
    rx, ry = (ry if rx is None else rx) or 0.0, (rx if ry is None else ry) or 0.0
    return [ellipse(cx or 0.0, cy or 0.0, rx, ry)] if rx > 0 and ry > 0 else []


def _line(attributes: Mapping[str, str], view: tuple[float, float]) -> list[Strand]:
    x1, y1, x2, y2 = (size or 0.0 for size in _sizes(attributes, view, "x1 y1 x2 y2"))
    return _polyline(np.array([[x1, y1], [x2, y2]]), closed=False)


def _poly(attributes: Mapping[str, str], *, closed: bool) -> list[Strand]:
    strands, _ = read_path_data("M" + attributes.get("points", ""))
    if not strands:
        return []
    return _polyline(strands[0].curves[0].points, closed=closed)


_Maker: TypeAlias = Callable[[Mapping[str, str], tuple[float, float]], list[Strand]]
_SHAPES: dict[str, _Maker] = {
    "path": lambda _attributes, _view: [],
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "line": _line,
    "polyline": lambda attributes, _view: _poly(attributes, closed=False),
    "polygon": lambda attributes, _view: _poly(attributes, closed=True),
}
