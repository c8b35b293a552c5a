"""DXF to a drawing, through ezdxf: what shows in model space, blocks followed."""

import io
import logging
from collections.abc import Iterator
from typing import Any

import numpy as np
from ezdxf import path, recover

from stitchpath.design.drawings.drawing import Drawing, Names, Shape
from stitchpath.design.drawings.pathdata import Curve, Strand
from stitchpath.errors import StitchpathError

__all__ = ["read_dxf"]

logging.getLogger("ezdxf").addHandler(logging.NullHandler())

_MOST_LINES = 250_000  # pairs of lines of text: about a hundred thousand points
_MOST_ENTITIES = 20_000  # those in blocks counted each time
_MOST_CURVES = 200_000
_MOST_NESTED = 20  # blocks in one another
_LARGEST = 1e9
_TEXT = ("TEXT", "MTEXT", "ATTRIB", "ATTDEF")
_SILENT = ("POINT", "VIEWPORT", "XLINE", "RAY")
_AREAS = ("HATCH", "MPOLYGON", "SOLID", "TRACE")
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


class _Walk:
    def __init__(self, document: Any) -> None:  # noqa: ANN401 - ezdxf's own
        self.drawing = Drawing(mm=_MM.get(int(document.header.get("$INSUNITS", 0))))
        self._off = {
            layer.dxf.name.lower()
            for layer in document.layers
            if layer.is_off() or layer.is_frozen()
        }
        self._count = self._curves = 0
        stack: list[tuple[Iterator[Any], Names | None]] = [(iter(document.modelspace()), None)]
        while stack:
            entities, names = stack[-1]
            entity = next(entities, None)
            if entity is None:
                stack.pop()
                continue
            inner = self._take(entity, names)
            if inner is not None:
                stack.append(inner)
                if len(stack) > _MOST_NESTED:
                    raise StitchpathError(
                        f"found over {_MOST_NESTED} blocks one in another, expected fewer"
                    )

    def _take(self, entity: Any, names: Names | None) -> tuple[Iterator[Any], Names] | None:  # noqa: ANN401
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
            return None
        if kind == "INSERT":
            inner = Names((str(entity.dxf.name), layer), names)
            if copies > 1:
                return iter(entity.multi_insert()), inner
            return iter(entity.virtual_entities()), inner
        if kind in _TEXT:
            self.drawing.tell("text")
        elif kind not in _SILENT:
            self._shape(entity, kind, Names((layer,), names))
        return None

    def _shape(self, entity: Any, kind: str, names: Names) -> None:  # noqa: ANN401
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
            fill = "black" if kind in _AREAS else None
            shape = Shape(
                kind,
                tuple(strands),
                names,
                fill,
                even_odd=True,
                stroke=None if fill else "black",
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
