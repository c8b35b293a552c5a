"""XML from strangers to a tree: entities, depth and elements bounded before anything is made."""

from typing import Any

from defusedxml.ElementTree import DefusedXMLParser

from stitchpath.base.errors import StitchpathError

__all__ = ["Element", "parse_xml"]

_MOST_ELEMENTS = 100_000
_MOST_DEPTH = 5_000
_MOST_ENTITIES = 200
_LONGEST_ENTITY = 200  # characters; namespaces, as some drawing programs write them
_MOST_WITH_ENTITIES = 2_000_000  # bytes of a file that has entities of its own
_CHUNK = 1 << 16


class Element:
    """An element: its name without the namespace, and what stands in it."""

    __slots__ = ("attributes", "children", "parent", "space", "tag", "text")

    def __init__(self, name: str, attributes: dict[str, str], parent: "Element | None") -> None:
        space, _, self.tag = name.rpartition("}")
        self.space = space.lstrip("{")
        self.attributes = attributes
        self.parent = parent
        self.children: list[Element] = []
        self.text = ""


class _Builder:
    """Makes the tree and counts while it does."""

    def __init__(self) -> None:
        self.root: Element | None = None
        self._at: Element | None = None
        self._depth = self._count = 0
        self._text: list[str] = []

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._count += 1
        if self._count > _MOST_ELEMENTS:
            raise StitchpathError(f"found over {_MOST_ELEMENTS:,} elements, expected fewer")
        if self._depth > _MOST_DEPTH:
            raise StitchpathError(
                f"found over {_MOST_DEPTH:,} groups one in another, expected fewer"
            )
        element = Element(name, attributes, self._at)
        if self._at is None:
            self.root = element
        else:
            self._at.children.append(element)
        self._at = element

    def end(self, _: str) -> None:
        element = self._at
        if element is not None:
            if element.tag == "style":
                element.text = "".join(self._text)
                self._text = []
            self._at = element.parent
        self._depth -= 1

    def data(self, text: str) -> None:
        if self._at is not None and self._at.tag == "style":
            self._text.append(text)

    def close(self) -> None:
        """Nothing is left to do."""


class _Parser(DefusedXMLParser):  # type: ignore[misc]
    """Refuses entities, but for a few short ones without others in them."""

    _entities = 0

    def defused_entity_decl(self, name: str, parameter: int, value: str | None, *_: str) -> None:
        """Let through what is short and plain."""
        self._entities += 1
        plain = value is not None and not parameter and not set(value) & set("&%<")
        if not plain or len(value or "") > _LONGEST_ENTITY or self._entities > _MOST_ENTITIES:
            raise StitchpathError(
                f"found the entity {name[:40]!r}, which stands for more than a short text, "
                "expected a drawing without it; save it as plain SVG in the drawing program"
            )


def parse_xml(data: bytes) -> Element:
    """Read XML.

    Raises
    ------
    StitchpathError
        When it has too many elements or too many in one another.
    Exception
        Whatever the parser raises over what is no XML; for `told_as`.
    """
    builder = _Builder()
    parser: Any = _Parser(target=builder)
    if len(data) > _MOST_WITH_ENTITIES and b"<!ENTITY" in data:
        raise StitchpathError("found entities in a file of over 2 MB, expected a file without")
    for at in range(0, len(data), _CHUNK):
        parser.feed(data[at : at + _CHUNK])
    parser.close()
    if builder.root is None:
        raise StitchpathError("found nothing in the file")
    return builder.root
