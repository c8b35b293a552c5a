"""What a drawing leaves ink on, as read here and as Chromium paints it, beside each other.

Both are painted by Chromium from one sheet of pictures: the file as it is, and the area that was
read of it as one black path. Rims are painted hard, so that each pixel is ink or none, however
often or thinly it is painted. For the area both are turned by 17 degrees, for thin level lines are
as many whole pixels wide as Chromium likes.
"""

import io
import re
from dataclasses import dataclass
from pathlib import Path

import chromium
import numpy as np
import shapely
from PIL import Image

from stitchpath.design.drawings.areas import filled, stroked
from stitchpath.design.drawings.drawing import Drawing
from stitchpath.design.drawings.outlines import read_drawing
from stitchpath.design.drawings.pathdata import flatten
from stitchpath.errors import StitchpathError

ROOM = 1.28  # of its longer side, for a picture that is turned
NEAR = 0.002  # share of that side, and of the area
INK = 8  # of 255: paler is no ink


@dataclass(frozen=True)
class Compared:
    """How far a drawing as read lies from its picture.

    Shares of the longer side of the page, and of the inked area. `said` is what the reader told.
    """

    name: str
    area: float
    box: float
    said: str

    @property
    def alike(self) -> bool:
        return self.area <= NEAR and self.box <= NEAR


def ink(drawing: Drawing, fine: float) -> shapely.Geometry:
    """All that shows on the page."""
    parts = []
    for shape in drawing.shapes:
        rings = [flatten(strand, fine) for strand in shape.strands]
        painted = []
        if shape.fill is not None and shape.kind != "line":
            painted.append(filled([r for r in rings if len(r) > 2], even_odd=shape.even_odd))
        if shape.stroke is not None:
            lines = [
                np.concatenate([ring, ring[:1]])
                if strand.closed and not np.array_equal(ring[0], ring[-1])
                else ring
                for ring, strand in zip(rings, shape.strands, strict=True)
            ]
            painted.append(
                stroked(lines, shape.width, cap=shape.cap, join=shape.join, mitre=shape.mitre)
            )
        area = shapely.union_all(painted)
        parts.append(area if shape.clip is None else shapely.intersection(area, shape.clip))
    whole = shapely.union_all(parts)
    return (
        whole if drawing.page is None else shapely.intersection(whole, shapely.box(*drawing.page))
    )


def _as_svg(area: shapely.Geometry, width: float, height: float) -> str:
    rings = [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(area)
        if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    ]
    data = "".join("M" + " ".join(f"{x:.4f},{y:.4f}" for x, y in ring) + "Z" for ring in rings)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'preserveAspectRatio="none" shape-rendering="crispEdges">'
        f'<path fill-rule="evenodd" d="{data}"/></svg>'
    )


def _hard(data: bytes, *, solid: bool) -> bytes:
    """Ask for hard rims at the head of a file; make paint that fades away solid if asked."""
    if solid:
        data = re.sub(rb"(stop-opacity\s*[:=]\s*[\"']?\s*)[\d.eE%-]+", rb"\g<1>1", data)
    match = re.search(rb"<(\w+:)?svg(?=[\s>])", data)
    if match is None:
        return data
    head, rest = data[: match.end()], data[match.end() :]
    end = rest.index(b">") if b">" in rest else len(rest)
    rest = re.sub(rb'\sshape-rendering="[^"]*"', b"", rest[:end]) + rest[end:]
    return head + b' shape-rendering="crispEdges"' + rest


def _box(mask: np.ndarray) -> np.ndarray:
    rows, columns = (np.flatnonzero(mask.any(axis=k)) for k in (1, 0))
    return np.array([columns[0], rows[0], columns[-1] + 1, rows[-1] + 1], dtype=float)


class Painter:
    """A browser that paints pairs of pictures, so many pixels long."""

    def __init__(self, play, folder: Path, long: int) -> None:
        self._long, self._room = long, int(ROOM * long)
        self._browser = chromium.open_browser(play)
        self._page = self._browser.new_page(
            viewport={"width": 2 * self._room, "height": self._room}
        )
        self._folder = folder

    def close(self) -> None:
        self._browser.close()

    def compare(self, path: Path, *, solid: bool = False) -> Compared | None:
        """Compare a file; None where nothing shows in the browser.

        What fades away is no ink where it is gone, but for `solid`.
        """
        said, drawing, area = "", Drawing(page=(0.0, 0.0, 300.0, 150.0)), shapely.Polygon()
        try:
            drawing = read_drawing(path, "")
            said = "; ".join(drawing.told)
            box = drawing.page or (0.0, 0.0, 300.0, 150.0)
            area = ink(drawing, max(box[2:]) / 20_000)
        except StitchpathError as error:
            said = f"refused: {str(error).partition('found ')[2]}"
        _, _, width, height = drawing.page or (0.0, 0.0, 300.0, 150.0)
        scale = self._long / max(width, height)
        (self._folder / "own.svg").write_text(_as_svg(area, width, height))
        (self._folder / "theirs.svg").write_bytes(_hard(path.read_bytes(), solid=solid))
        size = width * scale, height * scale
        theirs, mine = self._painted(*size, turned=0)
        if not theirs.any():
            return None
        if not mine.any():
            return Compared(str(path), 1.0, 1.0, said)
        box = float(np.abs(_box(theirs) - _box(mine)).max()) / self._long
        theirs, mine = self._painted(*size, turned=17)
        off = abs(int(theirs.sum()) - int(mine.sum())) / max(int(theirs.sum()), 1)
        return Compared(str(path), off, box, said)

    def _painted(self, width: float, height: float, turned: float) -> tuple[np.ndarray, np.ndarray]:
        """Paint both pictures, and tell what is ink in them."""
        left = 0.24 * self._room if turned else 0
        style = (
            f"position:absolute;width:{width}px;height:{height}px;transform-origin:0 0;"
            f"transform:rotate({turned}deg);top:0;left:"
        )
        page = self._folder / "page.html"
        page.write_text(
            f'<body style="margin:0;overflow:hidden"><img style="{style}{left}px" src="theirs.svg">'
            f'<img style="{style}{left + self._room}px" src="own.svg">'
        )
        self._page.goto(f"file://{page}")
        shot = Image.open(io.BytesIO(self._page.screenshot(omit_background=True))).convert("RGBA")
        painted = np.asarray(shot)[..., 3] > INK
        return painted[:, : self._room], painted[:, self._room :]
