"""A design at another size: blocks, strips, borders and pieces larger or smaller alike."""

from collections.abc import Iterator
from typing import Any

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import MM_PER, Unit, parse_length
from stitchpath.document.asked import Edit, set_value
from stitchpath.document.moving import entry_of, plain_size
from stitchpath.document.neat import length_like
from stitchpath.document.reading import Reading

__all__ = ["resizing_edits"]

_SMALLEST = 25.4  # mm: no quilt is smaller


def resizing_edits(document: Reading, name: str, size: str | float) -> list[Edit]:
    """Give the edits that make a design so large, under a name.

    What is drawn grows alike. What goes by the batting, the thread or her hands does not: seam
    allowances, the spacing of fills, echoes and edge lines, stitches, batting and margin.

    Parameters
    ----------
    document
        A design that makes a top.
    name
        Of the new one.
    size
        Its longer side, such as "80 in".

    Raises
    ------
    StitchpathError
        When the size is none, or what lies on the top has no size of its own that is known.
    """
    top, unit = document.top, document.design.unit
    try:
        longer = parse_length(size, unit, least=_SMALLEST)
    except StitchpathError as error:
        raise StitchpathError(f"size: {error}") from None
    scale = longer / max(top.width, top.height)
    edits = [set_value("name", value=name)]
    if abs(scale - 1) < 1e-9:  # noqa: PLR2004 - the same size
        return edits
    return [*edits, *_scaled(document, scale, longer)]


def _scaled(document: Reading, scale: float, longer: float) -> Iterator[Edit]:
    design, data, unit = document.design, document.raw, document.design.unit
    if design.top is not None:
        old = data["top"].get("size")
        yield set_value("top", "size", value=length_like(longer, old, unit))
        yield set_value("top", "unit", value=None)
    yield from _blocks(document, scale)
    layout = data.get("layout", {})
    if "sashing" in layout:
        yield _times(("layout", "sashing", "width"), layout["sashing"]["width"], scale, unit)
    for key, keys in (("borders", ("width",)), ("place", ("x", "y"))):
        for k, each in enumerate(layout.get(key, [])):
            for part in keys:
                yield _times(("layout", key, k, part), each[part], scale, unit)
    yield from _pieces(document, scale)
    for k, each in enumerate(data.get("drawn", [])):
        if "size" not in each:
            raise StitchpathError(
                f"drawn[{k + 1}]: found no size, expected one, so that it can grow with the top"
            )
        yield _times(("drawn", k, "size"), each["size"], scale, unit)
        for i, at in enumerate(each.get("at", [])):
            yield _times(("drawn", k, "at", i), at, scale, unit)


def _times(path: tuple[str | int, ...], old: Any, scale: float, unit: Unit) -> Edit:  # noqa: ANN401
    return set_value(
        *path, value=length_like(parse_length(old, unit, least=-1e6) * scale, old, unit)
    )


def _blocks(document: Reading, scale: float) -> Iterator[Edit]:
    design, data, unit = document.design, document.raw, document.design.unit
    laid = {b.block.name: b.block for b in (*document.top.blocks, *document.top.compounds)}
    for name, spec in design.blocks.items():
        if spec.rows is not None:
            continue
        old = data["blocks"][name].get("size")
        if spec.patches is not None and spec.units is None and spec.size is not None:
            # Left out, they are the finished size in the unit: that grows, the drawing does not.
            units = [round(side / MM_PER[unit], 6) for side in spec.size]
            yield set_value("blocks", name, "units", value=units)
        if isinstance(old, list):
            for k, side in enumerate(old):
                yield _times(("blocks", name, "size", k), side, scale, unit)
        elif old is not None:
            yield _times(("blocks", name, "size"), old, scale, unit)
        elif name in laid:
            block = laid[name]
            sides = [length_like(v * scale, None, unit) for v in (block.width, block.height)]
            value = sides[0] if sides[0] == sides[1] else sides
            yield set_value("blocks", name, "size", value=value)


def _pieces(document: Reading, scale: float) -> Iterator[Edit]:
    top, design, unit = document.top, document.design, document.design.unit
    sizes = {entry_of(design, piece): plain_size(piece) for piece in reversed(top.pieces)}
    for k, each in enumerate(document.raw.get("applique", [])):
        if "size" in each:
            yield _times(("applique", k, "size"), each["size"], scale, unit)
        elif k in sizes:
            value = length_like(sizes[k] * scale, None, unit)
            yield set_value("applique", k, "size", value=value)
        for i, at in enumerate(each.get("at", [])):
            yield _times(("applique", k, "at", i), at, scale, unit)
