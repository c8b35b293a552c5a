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

import numpy as np
import shapely
from PIL import Image

from stitchpath.base.errors import StitchpathError
from stitchpath.design.drawings.areas import filled, stroked
from stitchpath.design.drawings.drawing import Drawing
from stitchpath.design.drawings.outlines import read_drawing
from stitchpath.design.drawings.pathdata import flatten

ROOM = 1.28  # of its longer side, for a picture that is turned
NEAR = 0.002  # share of that side, and of the area
INK = 8  # of 255: paler is no ink
HALF = 127  # of 255: of what is solid, a pixel less covered is none
OPACITY = re.compile(rb"(?<![\w-])((?:stop-|fill-|stroke-)?opacity\s*[:=]\s*[\"']?\s*)([\d.]+)")


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
            if shape.dashes:
                lines = [dash for line in lines for dash in dashed(line, shape)]
            painted.append(
                stroked(
                    lines,
                    shape.width,
                    cap=shape.cap,
                    join=shape.join,
                    mitre=shape.mitre,
                    pen=shape.pen,
                )
            )
        area = shapely.union_all(painted)
        parts.append(area if shape.clip is None else shapely.intersection(area, shape.clip))
    whole = shapely.union_all(parts)
    return (
        whole if drawing.page is None else shapely.intersection(whole, shapely.box(*drawing.page))
    )


def dashed(line, shape):
    """The dashes of a line, each as a line (SVG 2, section 13.5.6)."""
    drawn = line if shape.pen is None else line @ np.linalg.inv(shape.pen).T
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(drawn, axis=0).T))])
    whole, sizes = sum(shape.dashes), np.array(shape.dashes)
    if whole < along[-1] / 20_000:
        yield line
        return
    begin = -(shape.shift % whole)
    while begin < along[-1]:
        for k, size in enumerate(sizes):
            low, high = max(begin, 0), min(begin + size, along[-1])
            if k % 2 == 0 and high > low:
                inner = line[(along > low) & (along < high)]
                tips = [
                    [np.interp(at, along, line[:, axis]) for axis in (0, 1)] for at in (low, high)
                ]
                yield np.concatenate([tips[:1], inner, tips[1:]])
            begin += size


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
        data = OPACITY.sub(_solid, data)
    match = re.search(rb"<(\w+:)?svg(?=[\s>])", data)
    if match is None:
        return data
    head, rest = data[: match.end()], data[match.end() :]
    end = rest.index(b">") if b">" in rest else len(rest)
    rest = re.sub(rb'\sshape-rendering="[^"]*"', b"", rest[:end]) + rest[end:]
    return head + b' shape-rendering="crispEdges"' + rest


def _solid(match: re.Match[bytes]) -> bytes:
    """Make paint that lets light through solid; what is wholly clear stays so, but in a fade."""
    gone = not match[2].strip(b"0.") and not match[1].startswith(b"stop")
    return match[1] + (match[2] if gone else b"1")


def _box(mask: np.ndarray) -> np.ndarray:
    rows, columns = (np.flatnonzero(mask.any(axis=k)) for k in (1, 0))
    return np.array([columns[0], rows[0], columns[-1] + 1, rows[-1] + 1], dtype=float)


class Painter:
    """Paints pairs of pictures in a browser, so many pixels long."""

    def __init__(self, browser, folder: Path, long: int) -> None:
        self._long, self._room = long, int(ROOM * long)
        self._page = browser.new_page(
            viewport={"width": 2 * self._room, "height": self._long + self._room}
        )
        self._folder = folder

    def compare(self, path: Path, *, solid: bool = False) -> Compared | None:
        """Compare a file; None where nothing shows in the browser.

        As it is painted, what is too pale to see is no ink. With `solid` all is ink that paint
        covers, however thin the paint and wherever it fades away.
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
        theirs, mine, turned_theirs, turned = self._painted(
            width * scale, height * scale, HALF if solid else INK
        )
        if not theirs.any():
            return None
        if not mine.any():
            return Compared(str(path), 1.0, 1.0, said)
        box = float(np.abs(_box(theirs) - _box(mine)).max()) / self._long
        whole = int(turned_theirs.sum())
        return Compared(str(path), abs(whole - int(turned.sum())) / max(whole, 1), box, said)

    def _painted(self, width: float, height: float, ink: int) -> list[np.ndarray]:
        """Paint both pictures, level and turned, and tell what is ink in them."""
        room, long = self._room, self._long
        places = [(x, y, turned) for y, turned in ((0, 0), (long, 17)) for x in (0, room)]
        images = "".join(
            f'<img style="position:absolute;width:{width}px;height:{height}px;'
            f"transform-origin:0 0;transform:rotate({turned}deg);top:{y}px;"
            f'left:{x + (0.24 * room if turned else 0)}px" src="{name}.svg">'
            for (x, y, turned), name in zip(places, ["theirs", "own"] * 2, strict=True)
        )
        page = self._folder / "page.html"
        page.write_text(f'<body style="margin:0;overflow:hidden">{images}')
        self._page.goto(f"file://{page}")
        shot = Image.open(io.BytesIO(self._page.screenshot(omit_background=True))).convert("RGBA")
        painted = np.asarray(shot)[..., 3] > ink
        rows = (slice(0, long), slice(long, None))
        return [painted[row, x : x + room] for row in rows for x in (0, room)]
