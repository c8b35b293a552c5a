"""What style sheets, attributes and parents say of a shape: the cascade of CSS, for ink.

Style sheets are read by tinycss2, which looks at each character a few times at most. Selectors are
types, classes, ids and attributes with descendant and child combinators; rules with others
(such as :hover) are passed over.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from typing import Any, NamedTuple

import tinycss2
import tinycss2.color3

from stitchpath.base.errors import StitchpathError

__all__ = ["INHERITED", "Node", "StyleSheet", "length", "shows"]

INHERITED = {
    "fill": "black",
    "fill-opacity": "1",
    "fill-rule": "nonzero",
    "clip-rule": "nonzero",
    "stroke": "none",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "stroke-linecap": "butt",
    "stroke-linejoin": "miter",
    "stroke-miterlimit": "4",
    "stroke-dasharray": "none",
    "stroke-dashoffset": "0",
    "visibility": "visible",
    "color": "black",
    "font-size": "16px",
}
"""Properties that a shape takes from its parent, with their first values."""

_OWN = (
    "display", "opacity", "clip-path", "mask", "filter", "marker", "marker-start", "marker-mid",
    "marker-end", "transform", "overflow", "vector-effect",
)  # fmt: skip
_KNOWN = frozenset((*INHERITED, *_OWN))
_MOST_TESTS = 1_500_000  # of a selector against an element
_MOST_SHEET = 2_000_000  # characters
_LONGEST = 10_000  # characters of one value
_PX = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / 25.4,
    "q": 96 / 101.6,
    "pt": 96 / 72,
    "pc": 16.0,
    "rem": 16.0,
}
"""CSS pixels to a unit (CSS Values and Units 3, section 6.2)."""
_LENGTH = re.compile(
    r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z]{0,4}|%)\s*", re.ASCII
)


class Node(NamedTuple):
    """An element as selectors see it."""

    tag: str
    id: str
    classes: frozenset[str]
    attributes: Mapping[str, str]
    parent: "Node | None"


class _Compound(NamedTuple):
    tag: str
    ids: tuple[str, ...]
    classes: tuple[str, ...]
    attributes: tuple[tuple[str, str | None], ...]
    child: bool  # of what stands before it, rather than any descendant


class _Rule(NamedTuple):
    weight: tuple[int, int, int]
    selector: tuple[_Compound, ...]
    values: Mapping[str, tuple[str, bool]]


class StyleSheet:
    """The style sheets of one file.

    Parameters
    ----------
    texts
        What stands in its style elements, in order.

    Raises
    ------
    StitchpathError
        When they are too long, or have too many rules for so many elements.
    """

    def __init__(self, texts: Sequence[str]) -> None:
        if sum(map(len, texts)) > _MOST_SHEET:
            raise StitchpathError("found a style sheet of over 2 MB, expected a shorter one")
        self._rules: list[_Rule] = []
        for text in texts:
            parsed = tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True)
            self._rules += _rules(parsed)
        self._rules.sort(key=lambda rule: rule.weight)  # of equal weight the later one wins
        self._tests = 0

    def values(self, node: Node) -> dict[str, str]:
        """Give what is said of an element itself: by attributes, rules, and its own style."""
        said = {k: v for k, v in node.attributes.items() if k in _KNOWN}
        urgent: dict[str, str] = {}
        inline = _declared(node.attributes.get("style", "")[:_LONGEST])
        matching = (rule.values for rule in self._rules if self._matches(rule.selector, node))
        for values in (*matching, inline):
            for name, (value, important) in values.items():
                if important:
                    urgent[name] = value
                elif name not in urgent:
                    said[name] = value
        return said | urgent

    def _matches(self, selector: tuple[_Compound, ...], node: Node) -> bool:
        """Match from the right; of a descendant the nearest one that fits is taken."""
        self._count()
        if not _fits(selector[-1], node):
            return False
        at: Node | None = node
        for k in range(len(selector) - 1, 0, -1):
            at = at and at.parent
            while at is not None and not _fits(selector[k - 1], at):
                self._count()
                at = None if selector[k].child else at.parent
            if at is None:
                return False
        return True

    def _count(self) -> None:
        self._tests += 1
        if self._tests > _MOST_TESTS:
            raise StitchpathError(
                "found a style sheet with too many rules for its shapes, expected a simpler one"
            )


def _fits(compound: _Compound, node: Node) -> bool:
    return (
        compound.tag in ("", node.tag)
        and all(name == node.id for name in compound.ids)
        and node.classes.issuperset(compound.classes)
        and all(
            name in node.attributes and value in (None, node.attributes[name])
            for name, value in compound.attributes
        )
    )


def _rules(parsed: Sequence[Any]) -> Iterator[_Rule]:
    for rule in parsed:
        if rule.type == "at-rule" and rule.lower_at_keyword == "media" and rule.content:
            asked = tinycss2.serialize(rule.prelude).strip().lower()
            if asked in ("", "all", "screen"):
                inner = tinycss2.parse_rule_list(
                    rule.content, skip_comments=True, skip_whitespace=True
                )
                yield from _rules([each for each in inner if each.type == "qualified-rule"])
        elif rule.type == "qualified-rule":
            values = _declared(rule.content)
            for selector in _selectors(rule.prelude) if values else ():
                ids = sum(len(c.ids) for c in selector)
                classes = sum(len(c.classes) + len(c.attributes) for c in selector)
                yield _Rule((ids, classes, sum(bool(c.tag) for c in selector)), selector, values)


def _declared(content: Any) -> dict[str, tuple[str, bool]]:  # noqa: ANN401 - text or tokens
    found = {}
    for each in tinycss2.parse_declaration_list(content, skip_comments=True, skip_whitespace=True):
        if each.type == "declaration" and each.lower_name in _KNOWN:
            with suppress(RecursionError):  # brackets a thousand deep are no value
                found[each.lower_name] = tinycss2.serialize(each.value).strip(), each.important
    return found


def _selectors(prelude: Sequence[Any]) -> Iterator[tuple[_Compound, ...]]:
    """Split a list of selectors; those that are not understood are left out."""
    group: list[Any] = []
    for part in [*prelude, None]:
        if part is not None and part != ",":
            group.append(part)
            continue
        selector = _selector(group)
        if selector:
            yield selector
        group = []


def _selector(tokens: Sequence[Any]) -> tuple[_Compound, ...]:
    compounds: list[_Compound] = []
    at, child, fresh = _Compound("", (), (), (), child=False), False, True
    tokens = list(tokens)
    for k, part in enumerate(tokens):
        if part.type == "comment":
            continue
        if part.type == "whitespace" or part == ">":
            if not fresh:
                compounds.append(at)
                at, child, fresh = _Compound("", (), (), (), child=False), False, True
            child = child or part == ">"
            continue
        if k and tokens[k - 1] == "." and not fresh:
            continue  # the name after a dot was taken with it
        grown = _grown(
            at._replace(child=child), part, tokens[k + 1] if k + 1 < len(tokens) else None
        )
        if grown is None:
            return ()
        at, fresh = grown, False
    return tuple(compounds) if fresh else (*compounds, at)


def _grown(compound: _Compound, part: Any, following: Any) -> _Compound | None:  # noqa: ANN401
    """Add one simple selector; None where it is of a kind not known here."""
    if part.type == "ident":
        return compound._replace(tag=part.value)
    if part == "*":
        return compound
    if part.type == "hash":
        return compound._replace(ids=(*compound.ids, part.value))
    if part == "." and following is not None and following.type == "ident":
        return compound._replace(classes=(*compound.classes, following.value))
    asked = _attribute(part)
    return asked and compound._replace(attributes=(*compound.attributes, asked))


def _attribute(part: Any) -> tuple[str, str | None] | None:  # noqa: ANN401
    """Read [name] or [name=value]; None for any other."""
    inner = [t for t in part.content if t.type != "whitespace"] if part.type == "[] block" else []
    if not inner or inner[0].type != "ident":
        return None
    if len(inner) == 1:
        return inner[0].value, None
    equal = len(inner) == 3 and inner[1] == "=" and inner[2].type in ("ident", "string")  # noqa: PLR2004
    return (inner[0].value, inner[2].value) if equal else None


@lru_cache(1000)
def shows(paint: str, colour: str) -> bool:
    """Tell whether a paint leaves ink: not none, and not wholly transparent.

    Parameters
    ----------
    paint
        Value of fill or stroke.
    colour
        Value of color, for currentColor.
    """
    text = paint.strip()[:200]
    if text.lower() in ("none", "transparent", ""):
        return False
    if text.lower() == "currentcolor":
        text = colour
    parsed = tinycss2.color3.parse_color(text)
    return not (isinstance(parsed, tuple) and parsed[3] <= 0)


@lru_cache(20_000)
def length(text: str | None, percent: float, font: float = 16.0) -> float | None:
    """Read a length of CSS, in px.

    Parameters
    ----------
    text
        Such as "12", "3mm", "50%".
    percent
        What 100 % is, px.
    font
        Size of the font, px, for em, ex and ch.

    Returns
    -------
    float or None
        None where it is no length.
    """
    match = _LENGTH.fullmatch(text[:100]) if text is not None else None
    if match is None:
        return None
    number, unit = float(match[1]), match[2].lower()
    if unit == "%":
        return number * percent / 100
    if unit in ("em", "ex", "ch"):
        return number * font * (1.0 if unit == "em" else 0.5)
    return number * _PX[unit] if unit in _PX else None
