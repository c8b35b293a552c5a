"""DXF to a drawing, through ezdxf: what shows in model space, blocks followed."""

import io
import logging
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from ezdxf import colors, path, recover

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.drawing import Copy, Drawing, Frame, Names, Shape
from stitchpath.design.drawings.pathdata import Curve, Strand

__all__ = ["read_dxf"]

logging.getLogger("ezdxf").addHandler(logging.NullHandler())

_MOST_LINES = 250_000  # pairs of lines of text: about a hundred thousand points
_MOST_ENTITIES = 20_000  # those in blocks counted each time
_MOST_CURVES = 200_000
_MOST_NESTED = 20  # blocks in one another
_LARGEST = 1e9
_OWN = "STITCHPATH"  # the name of its own extended data
_BY_LAYER, _BY_BLOCK = 256, 0  # colour numbers of the DXF reference
_TEXT = ("TEXT", "MTEXT", "ATTRIB", "ATTDEF")
_SILENT = ("POINT", "VIEWPORT", "XLINE", "RAY")
_AREAS = ("HATCH", "MPOLYGON", "SOLID", "TRACE", "3DFACE")
_MM = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 10: 914.4, 14: 100.0}
"""Millimetres to a unit by $INSUNITS, as published in the DXF reference."""


def read_dxf(data: bytes) -> Drawing:
    """Read what shows in the model space of a DXF file.

    Parameters
    ----------
    data
        The file.

    Returns
    -------
    Drawing
        In the file's units, y turned to point down. Layers that are off or frozen do not show.

    Raises
    ------
    StitchpathError
        When it is larger in some way than a drawing is.
    Exception
        Whatever ezdxf raises over broken input; for `told_as`.
    """
    if data[:18] == b"AutoCAD Binary DXF":  # the sentinel of the DXF reference
        raise StitchpathError("found a binary DXF, expected one saved as text")
    if data.count(b"\n") > 2 * _MOST_LINES:
        raise StitchpathError(
            f"found over {_MOST_LINES:,} values, expected a DXF of fewer lines and curves"
        )
    document, _ = recover.read(io.BytesIO(data))
    return _Walk(document).drawing


class _Inside(NamedTuple):
    """What holds where the walk stands: names, copies, and the colour of the block it is in."""

    names: Names | None = None
    copies: tuple[Copy, ...] = ()
    colour: str = "#000000"


def _frame(insert: Any) -> FloatArray:  # noqa: ANN401
    """Give the matrix, shape (2, 3), that brings a block to the drawing, y down in both."""
    m = np.array(list(insert.matrix44()), dtype=float).reshape(4, 4)
    return np.array([[m[0, 0], -m[1, 0], m[3, 0]], [-m[0, 1], m[1, 1], -m[3, 1]]])


class _Walk:
    def __init__(self, document: Any) -> None:  # noqa: ANN401 - ezdxf's own
        mm = _MM.get(int(document.header.get("$INSUNITS", 0)))
        self.drawing = Drawing(mm=mm, upward=True)
        self._off = {
            layer.dxf.name.lower()
            for layer in document.layers
            if layer.is_off() or layer.is_frozen()
        }
        self._layers = {layer.dxf.name.lower(): layer for layer in document.layers}
        self._count = self._curves = 0
        stack = [(iter(document.modelspace()), _Inside())]
        while stack:
            entities, inside = stack[-1]
            entity = next(entities, None)
            if entity is None:
                stack.pop()
                continue
            inner = self._take(entity, inside)
            if inner is not None:
                stack.append(inner)
                if len(stack) > _MOST_NESTED:
                    raise StitchpathError(
                        f"found over {_MOST_NESTED} blocks one in another, expected fewer"
                    )

    def _take(self, entity: Any, inside: "_Inside") -> tuple[Iterator[Any], "_Inside"] | None:  # noqa: ANN401
        """Take an entity; of a block give what stands in it."""
        kind, layer = entity.dxftype(), str(entity.dxf.get("layer", "0"))
        copies = 1
        if kind == "INSERT":
            copies = max(int(entity.dxf.get("row_count", 1)), 1)
            copies *= max(int(entity.dxf.get("column_count", 1)), 1)
        self._count += copies
        if self._count > _MOST_ENTITIES:
            raise StitchpathError(
                f"found over {_MOST_ENTITIES:,} entities, those in blocks counted each time, "
                "expected fewer"
            )
        if layer.lower() in self._off or entity.dxf.get("invisible", 0):
            self.drawing.hidden.setdefault(layer, "its layer is off or frozen")
            self._frame(entity)
            return None
        if kind == "INSERT":
            if copies > 1:
                return iter(entity.multi_insert()), inside
            copy = Copy(str(entity.dxf.name), _frame(entity))
            inner = _Inside(
                Names((str(entity.dxf.name), layer), inside.names),
                (*inside.copies, copy),
                self._colour(entity, inside),
            )
            return iter(entity.virtual_entities()), inner
        if kind in _TEXT:
            self.drawing.tell("text")
        elif kind not in _SILENT:
            self._shape(entity, kind, inside._replace(names=Names((layer,), inside.names)))
        return None

    def _frame(self, entity: Any) -> None:  # noqa: ANN401
        """Take what tells where a block lies; this tool writes it so, on a layer that is off."""
        if entity.dxftype() != "LWPOLYLINE" or not entity.has_xdata(_OWN):
            return
        told = [str(tag.value) for tag in entity.get_xdata(_OWN)]
        corners = np.array([(x, -y) for x, y in entity.get_points("xy")])
        if len(told) > 1 and told[0] == "block" and corners.shape == (4, 2):
            self.drawing.frames.append(Frame(told[1][:200], corners))

    def _colour(self, entity: Any, inside: "_Inside") -> str:  # noqa: ANN401
        """Tell the colour of an entity: its own, its layer's, or that of the block it is in."""
        layer = self._layers.get(str(entity.dxf.get("layer", "0")).lower())
        rgb, number = entity.rgb, int(entity.dxf.get("color", _BY_LAYER))
        if rgb is None and number == _BY_LAYER and layer is not None:
            rgb, number = layer.rgb, int(layer.color)
        if rgb is None and number == _BY_BLOCK:
            return inside.colour
        if rgb is None and abs(number) in (7, _BY_LAYER):  # black on white paper
            return "#000000"
        red, green, blue = rgb or colors.aci2rgb(min(max(abs(number), 1), 255))
        return f"#{red:02x}{green:02x}{blue:02x}"

    def _dashed(self, entity: Any) -> bool:  # noqa: ANN401
        """Tell whether a line is dashed or dotted, by its own line type or its layer's."""
        name = str(entity.dxf.get("linetype", "BYLAYER")).upper()
        layer = self._layers.get(str(entity.dxf.get("layer", "0")).lower())
        if name == "BYLAYER" and layer is not None:
            name = str(layer.dxf.get("linetype", "CONTINUOUS")).upper()
        return name not in ("BYLAYER", "BYBLOCK", "CONTINUOUS", "")

    def _shape(self, entity: Any, kind: str, inside: "_Inside") -> None:  # noqa: ANN401
        try:
            if kind in ("HATCH", "MPOLYGON"):
                paths = list(path.from_hatch(entity))
            else:
                paths = [path.make_path(entity)]
        except TypeError:  # nothing that has a path
            self.drawing.tell({"IMAGE": "picture"}.get(kind, kind.lower()))
            return
        strands = [strand for each in paths for strand in self._strands(each)]
        if strands:
            colour, area = self._colour(entity, inside), kind in _AREAS
            shape = Shape(
                kind,
                tuple(strands),
                inside.names,
                colour if area else None,
                even_odd=True,
                stroke=None if area else colour,
                dashed=self._dashed(entity),
                copies=inside.copies,
            )
            self.drawing.shapes.append(shape)

    def _strands(self, path: Any) -> Iterator[Strand]:  # noqa: ANN401
        """Turn a path of ezdxf into lines and Bézier curves, y down."""
        for part in path.sub_paths():
            points = [part.start]
            curves = []
            for command in part.commands():
                controls = [
                    getattr(command, name)
                    for name in ("ctrl1", "ctrl2", "ctrl")
                    if hasattr(command, name)
                ]
                piece = np.array([(p.x, -p.y) for p in (points[-1], *controls, command.end)])
                curves.append(Curve("bezier" if controls else "line", piece))
                points.append(command.end)
                self._curves += 1
                if self._curves > _MOST_CURVES:
                    raise StitchpathError(
                        f"found over {_MOST_CURVES:,} lines and curves, expected fewer"
                    )
                if not (np.abs(piece) <= _LARGEST).all():
                    raise StitchpathError(
                        f"found a number out of range, expected numbers up to {_LARGEST:,.0f}"
                    )
            if curves:
                yield Strand(curves, bool(part.is_closed))
