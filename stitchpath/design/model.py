"""The design model: what a quilter may write, key by key.

Every length is millimetres once read; a plain number in a design is in the design's unit, which the
model takes from the data and hands down as validation context. Descriptions of the keys become the
JSON Schema, so that an editor can show them while she types.
"""

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import NoneType
from typing import Annotated, Any, Literal, TypeAlias, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PrivateAttr,
    ValidationError,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from stitchpath.base.errors import StitchpathError, shown, unknown_name
from stitchpath.base.typing import Kind, Role
from stitchpath.base.units import Unit, parse_length
from stitchpath.design.battings import CLOTH, MARGIN, batting
from stitchpath.design.colours import colour_named
from stitchpath.design.drawings.words import TOLERANCE, checked_roles
from stitchpath.design.plain_text import plain_text
from stitchpath.design.sentences import sentence

__all__ = [
    "FRAMING",
    "USUAL",
    "Applique",
    "BackingAsked",
    "BattingAsked",
    "Block",
    "Border",
    "ChargesAsked",
    "Design",
    "DrawnLines",
    "DrawnTop",
    "Echo",
    "Fabric",
    "Fill",
    "FillStyle",
    "Foot",
    "FuseWay",
    "Layout",
    "LibraryBlock",
    "Lines",
    "Loaded",
    "Looks",
    "Machine",
    "PaceAsked",
    "Patch",
    "Placed",
    "Press",
    "PressedSeam",
    "Prices",
    "RatioAsked",
    "Route",
    "Sashing",
    "StitchingAsked",
    "Thread",
    "Throat",
    "Toward",
    "Work",
]

_NAMED = 4  # blocks, in one line
_SMALLEST = 0.1  # mm: the least width a quilter can mean


_CONE = 1e8  # mm: no cone holds more thread

_LENGTH_SCHEMA = WithJsonSchema(
    {
        "anyOf": [{"type": "number"}, {"type": "string"}],
        "examples": ["6 1/2 in", '6½"', "16.5 cm", "165 mm", 6.5],
    }
)


def _at_least(least: float) -> BeforeValidator:
    """Read a length in the design's unit, of at least so many mm."""

    def read(value: object, info: ValidationInfo) -> float:
        context = info.context or {}
        return parse_length(value, context.get("unit", "in"), least=least)

    return BeforeValidator(read)


def _thread_length(value: object) -> float:
    """Read a length of thread; a number without its unit could be metres, yards or inches."""
    if not isinstance(value, str) or not value.strip()[-1:].isalpha():
        raise StitchpathError(
            f'found {shown(value)}, expected a length with its unit, such as "80 m" or "90 yd"'
        )
    return parse_length(value, "mm", least=1000, most=_CONE)


def _colour(text: str) -> str:
    """Bring a CSS colour to #rrggbb."""
    found = colour_named(text)
    if found is None:
        raise StitchpathError(
            f'found {text[:40]!r}, expected a colour such as "#2f6f9f" or a CSS name such as "teal"'
        )
    return found


def _press_rule(value: object) -> object:
    """Read "toward FABRIC" as the table that names several."""
    if isinstance(value, (dict, Toward)) or value in ("darker", "open", "feature"):
        return value
    if isinstance(value, str) and value.startswith("toward ") and value[7:].strip():
        return {"toward": [value[7:]]}
    raise StitchpathError(
        f'found {shown(value)}, expected "darker", "open", "feature", "toward FABRIC", or '
        'toward = ["sail", "hull"] in a table, for several'
    )


def _one_or_more(value: object) -> object:
    """Read a single word as a list of one."""
    return [value] if isinstance(value, str) else value


def _ditches(value: tuple[str, ...]) -> tuple[str, ...]:
    """Refuse "none" beside others."""
    if not value or ("none" in value and len(value) > 1):
        raise StitchpathError(
            f'found {shown(list(value))}, expected "none" alone, or what to stitch'
        )
    return value


def _only_colour(value: object) -> object:
    if not isinstance(value, (str, dict, Fabric)):
        raise StitchpathError(
            f'found {shown(value)}, expected a colour such as "#2f6f9f", or a table with a colour'
        )
    return {"colour": value} if isinstance(value, str) else value


def _roles(value: object) -> object:
    """Read roles in the words that there are for them."""
    if not isinstance(value, dict) or not all(isinstance(v, str) for v in value.values()):
        raise StitchpathError(
            f'found {shown(value)}, expected a table such as {{ "#d00" = "guide" }}'
        )
    return checked_roles(value)


def _only_width(value: object) -> object:
    """Read a length as the width of a throat."""
    return {"width": value} if isinstance(value, (str, int, float)) else value


def _pair(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, (str, int, float, list, tuple, NoneType)):
        raise StitchpathError(f"found {shown(value)}, expected one size, or a list of two")
    return [value, value] if isinstance(value, (str, int, float)) else value


Length = Annotated[float, _at_least(0), _LENGTH_SCHEMA]
Size = Annotated[float, _at_least(_SMALLEST), _LENGTH_SCHEMA]
Coordinate = Annotated[float, _at_least(-1e6), _LENGTH_SCHEMA]
ThreadLength = Annotated[
    float,
    BeforeValidator(_thread_length),
    WithJsonSchema({"type": "string", "examples": ["80 m", "500 yd"]}),
]
Colour = Annotated[str, AfterValidator(_colour)]
Share = Annotated[float, Field(ge=0, le=1)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Positive = Annotated[float, Field(gt=0, le=1e6)]
Units = Annotated[float, Field(ge=-1e6, le=1e6)]
PerInch = Annotated[float, Field(gt=0, le=100)]
Price = Annotated[float, Field(ge=0, le=1e6)]
Seconds = Annotated[float, Field(ge=0, le=86400)]
ThreadPerSeam = Annotated[float, Field(ge=0.97, le=100)]
PatchPair = tuple[str, str]
Turn: TypeAlias = Literal[0, 90, 180, 270]
Foot: TypeAlias = Literal["walking", "free-motion", "frame"]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


class Toward(_Part):
    """Several fabrics that seam allowances are pressed toward, as those of a motif."""

    toward: Annotated[
        list[Name],
        BeforeValidator(_one_or_more, json_schema_input_type=Name | list[Name]),
        Field(min_length=1),
    ]
    """Where two of them meet, the one named first."""


PressRule = Annotated[
    Literal["darker", "open", "feature"] | Toward,
    BeforeValidator(_press_rule, json_schema_input_type=str | Toward),
]
Ditch: TypeAlias = Literal["all", "feature", "blocks", "borders", "none"]


class Fabric(_Part):
    """A fabric of the top or of an appliqué piece."""

    colour: Colour
    """CSS colour, such as "#2f6f9f" or "teal"."""
    dark: Share | None = None
    """How dark it is, 0 white to 1 black; left out, it is told from the colour."""


class Patch(_Part):
    """One patch of a block, drawn at finished size in the block's units."""

    name: Name
    """Name of the patch, used to point at its seams."""
    fabric: Name
    points: list[tuple[Units, Units]] | None = None
    """Corners, x to the right and y down, in block units."""
    path: str | None = None
    """Or SVG path data, for curves."""


class _Drawing(_Part):
    units: Annotated[
        tuple[Positive, Positive] | None,
        BeforeValidator(_pair, json_schema_input_type=Positive | tuple[Positive, Positive] | None),
    ] = None
    """Drawing units across and down the block; default one for each column and row of a grid."""
    grid: list[str] | None = None
    """Rows of cells parted by spaces; a cell is one fabric, or two cut apart: a/b, a\\b."""
    columns: list[Positive] | None = None
    """Widths of the grid's columns, in units (default all alike)."""
    heights: list[Positive] | None = None
    """Heights of the grid's rows, in units (default all alike)."""
    patches: list[Patch] | None = None
    """Patches drawn one by one, instead of a grid."""
    press: PressRule | None = None
    """How its seam allowances are pressed: "darker", "open", "toward FABRIC", or "feature", toward
    the fabrics that stand forward."""


class LibraryBlock(_Drawing):
    """A block of the library: its fabrics are roles that a design fills."""

    name: Name
    size: Size
    fabrics: list[Name]
    note: str = ""


class _Taken(_Part):
    """What may be said of a drawing that is taken as a whole."""

    unit: Unit | None = None
    """What a unit of the drawing is, where its file does not tell, or not truly."""
    roles: Annotated[dict[str, Role], BeforeValidator(_roles)] = {}
    """What shapes are meant to be, by their colour, their layer, group, class or id, or "dashed":
    "patch", "seam", "edge", "appliqué", "quilting", "guide" or "leave out"."""
    tolerance: Annotated[float, _at_least(0.01), _LENGTH_SCHEMA] = TOLERANCE
    """How far ends of lines may lie from where they are meant to meet (default 0.6 mm)."""


class DrawnTop(_Taken):
    """A finished top from a drawing, instead of blocks and a layout."""

    drawing: str
    """An SVG or DXF file, in the design's folder."""
    size: Size | None = None
    """Longer side of the finished top; left out, the size that the file says."""
    fused: Literal["before", "after"] = "after"
    """Whether its appliqué is fused before or after the top is quilted."""


class DrawnLines(_Part):
    """Lines of her own to quilt, from a drawing that lies on the whole top."""

    file: str
    """An SVG or DXF file, in the design's folder."""
    id: str | None = None
    """Id of a shape, group or layer in it; left out, all that shows."""
    size: Size | None = None
    """Longer side of the box round the lines; left out, the size that the file says."""
    unit: Unit | None = None
    """Or what a unit of the drawing is."""
    at: tuple[Coordinate, Coordinate] | None = None
    """Where the middle of the box round them lies, from the top left corner of the top; left out,
    the drawing's own corner lies on that of the top."""
    thread: Name | None = None
    """Thread that stitches them (default by kind of line)."""


class Block(_Drawing, _Taken):
    """A block of the design: drawn here or in a file, of the library, or made of other blocks."""

    rows: list[str] | None = None
    """Rows of other blocks that make this one, written as the layout's are."""
    library: str | None = None
    """Name of a block of the library (`stitchpath blocks` lists them)."""
    size: Annotated[
        tuple[Size, Size] | None,
        BeforeValidator(_pair, json_schema_input_type=Size | tuple[Size, Size] | None),
    ] = None
    """Finished size: one length, or width and height."""
    fabrics: dict[str, str] = {}
    """For a library block: which fabric fills which role."""
    drawing: str | None = None
    """Or an SVG or DXF file of the block, in the design's folder."""

    @model_validator(mode="after")
    def _one_drawing(self) -> "Block":
        ways = ("library", "grid", "patches", "rows", "drawing")
        given = [k for k in ways if getattr(self, k) is not None]
        if len(given) != 1:
            found = " and ".join(given) if given else "none of them"
            raise StitchpathError(
                f"found {found}, expected one of library, grid, patches, rows or drawing"
            )
        if self.rows is not None and self.size is not None:
            raise StitchpathError(
                "found a size beside rows, expected none, as the blocks in the rows have theirs"
            )
        sized = (self.library, self.rows, self.drawing) != (None, None, None)
        if not sized and self.size is None:
            raise StitchpathError(
                'found no size, expected the finished size, such as size = "10 in"'
            )
        return self


class Sashing(_Part):
    """Strips between the blocks."""

    width: Size
    fabric: Name
    cornerstone: Name | None = None
    """Fabric of the squares where strips cross; left out, strips between rows run right across."""
    around: bool = False
    """Strips also round the outside of the blocks."""


class Border(_Part):
    """A border; borders are listed from the inside out."""

    width: Size
    fabric: Name
    corners: Literal["butted", "squares", "mitred"] = "butted"
    """"butted" (sides first, then top and bottom), "squares" or "mitred"."""
    corner_fabric: Name | None = None
    """Fabric of corner squares (default the border's own)."""


class Placed(_Part):
    """A block placed freely, by its top left corner."""

    block: Name
    x: Length
    y: Length
    turn: Turn = 0
    """Degrees clockwise."""
    mirror: bool = False
    """Left and right swapped, before turning."""


class Layout(_Part):
    """How blocks make the top."""

    rows: list[str] = []
    """Rows of block names: NAME, NAME:90 (turned clockwise), NAME:m (mirrored), NAME*3 (three)."""
    repeat: Annotated[int, Field(ge=1, le=1000)] = 1
    """The rows repeated so many times."""
    on_point: bool = False
    """Blocks stand on their corners, setting triangles fill the edge."""
    setting: Name | None = None
    """Fabric of the setting triangles."""
    sashing: Sashing | None = None
    borders: list[Border] = []
    place: list[Placed] = []
    """Blocks placed freely, instead of rows."""
    names: dict[str, Name] = {}
    """What you call single blocks, by their places: the directions and maps then say so."""


class PressedSeam(_Part):
    """A single seam, by its two patches, and how it is pressed."""

    between: PatchPair
    press: PressRule


class Press(_Part):
    """To which side seam allowances are pressed."""

    default: PressRule = "darker"
    """Toward the darker fabric is common practice."""
    seams: list[PressedSeam] = []


class Echo(_Part):
    """Echo lines outside an edge, until they meet a seam or a neighbour."""

    step: Size
    """From the edge to the first line, and from each line to the next."""
    count: Annotated[int, Field(ge=1, le=100)] = 3
    """How many lines."""


def _sixteenth(value: object) -> object:
    """Read true as the usual distance."""
    if value is True:
        return "1/16 in"
    return None if value is False else value


def _arms(value: object) -> object:
    """Refuse what names no arms, in one sentence."""
    hours = value if isinstance(value, list) else [1]
    whole = all(type(hour) is int and 1 <= hour <= 12 for hour in hours)  # noqa: PLR2004 - a clock
    if not (hours and whole and (value == "all" or isinstance(value, list) or _is_count(value))):
        raise StitchpathError(
            f'found {shown(value)}, expected "all", a number of arms, or hours of a clock '
            "face such as [12, 4, 8]"
        )
    return value


def _is_count(value: object) -> bool:
    return type(value) is int and value >= 1


Corner: TypeAlias = Literal["round", "mitre"]


class Applique(_Part):
    """A cut shape fused to the top."""

    name: Name
    outline: str | None = None
    """SVG path data of the outline."""
    file: str | None = None
    """Or an SVG or DXF file, in the design's folder."""
    id: str | None = None
    """Id of a shape, group or layer in that file; "all" or left out, all that shows."""
    on: Name = "top"
    """A block name (each one of it), a place such as "A2", or "top"."""
    at: tuple[Coordinate, Coordinate] | None = None
    """Where the middle of the outline lies, from the top left corner of block or top."""
    size: Size | None = None
    """The larger side of its bounding box; left out, the size that the file says."""
    turn: Annotated[float, Field(ge=-360, le=360)] = 0.0
    """Degrees clockwise."""
    mirror: bool = False
    fused: Literal["before", "after"] = "after"
    """Before or after the top is quilted."""
    fabric: Name
    thread: Name | None = None
    """Thread of its lines (default by kind of line)."""
    centre: bool = True
    """Stitch through the middle of each arm."""
    arms: Annotated[
        Literal["all"] | Annotated[int, Field(ge=1)] | list[Annotated[int, Field(ge=1, le=12)]],
        BeforeValidator(_arms),
    ] = "all"
    """Which arms: "all", a number for the longest so many, or hours of a clock face (12 is up)."""
    vein: bool = False
    """Only the longest way through the piece, as the vein of a leaf."""
    out_and_back: Annotated[
        Size | None, BeforeValidator(_sixteenth, json_schema_input_type=bool | Size | None)
    ] = None
    """Each arm in two lines side by side, so that none is retraced: true (1/16 in) or how far."""
    lines: Literal["once", "best"] = "once"
    """Through the middle once, or "best": out and back where that costs less time, or price."""
    edge_line: Annotated[
        Size | None, BeforeValidator(_sixteenth, json_schema_input_type=bool | Size | None)
    ] = None
    """Stitch round the piece inside its raw edge: true (1/16 in from it) or how far."""
    echo: Echo | None = None
    """Lines round the piece, outside its edge."""
    corner: Corner = "round"
    """Corners of edge lines and echoes."""
    tip: Length = 25.4 / 16
    """How far short of the end of each arm its line stops."""
    side: Length = 25.4 / 32
    """How near beside its lines the edge may come; necks under 1/2 in are stitched through."""
    cut_ditch: bool = True
    """Fused before quilting: ditch lines stop at its outline."""
    cut_fill: bool = True
    """Fused before quilting: fills and lines of pieced motifs stop at its outline."""

    @model_validator(mode="after")
    def _one_outline(self) -> "Applique":
        if (self.outline is None) == (self.file is None):
            found = "both" if self.outline else "neither"
            raise StitchpathError(f"found {found}, expected either outline or file")
        if self.outline is not None and self.size is None:
            raise StitchpathError('found no size, expected one, such as size = "7 in"')
        return self


class Lines(_Part):
    """Which seams are stitched in the ditch."""

    ditch: Annotated[
        tuple[Ditch, ...],
        BeforeValidator(_one_or_more, json_schema_input_type=Ditch | list[Ditch]),
        AfterValidator(_ditches),
    ] = ("all",)
    """One or several of: "all" seams, those round "feature" fabrics, those between "blocks",
    sashing and borders, those of "borders" alone, or "none"."""
    feature: list[Name] = []
    """Fabrics that stand forward, each stitched all round where ditch says so."""
    include: list[PatchPair] = []
    """Single seams to add, by their two patches."""
    exclude: list[PatchPair] = []
    """Single seams to leave out."""
    edge_line: Size | None = None
    """Stitch inside the edge of motifs pieced of feature fabrics, so far from it."""
    echo: Echo | None = None
    """Lines round motifs pieced of feature fabrics."""
    corner: Corner = "round"
    """Corners of edge lines and echoes."""
    offset: Length = 0.5
    """How far to the low side the drawn path is moved, where that is asked for."""


class Motif(_Part):
    """A part of the top with lines at its edge, beside those of feature fabrics."""

    region: Name | tuple[Name, ...]
    """Patches, several as one, a block, a place, a border, or "top", as for fills."""
    edge_line: Annotated[
        Size | None, BeforeValidator(_sixteenth, json_schema_input_type=bool | Size | None)
    ] = None
    """Stitch inside its edge: true (1/16 in from it) or how far."""
    echo: Echo | None = None
    """Lines round it, outside its edge, within the block, strip or border that each lies in."""
    corner: Corner = "round"
    """Corners of both."""
    thread: Name | None = None
    """What stitches both (default: by kind of line)."""

    @model_validator(mode="after")
    def _has_an_edge(self) -> "Motif":
        if self.region in {"ground", "rest"}:
            raise StitchpathError(
                f"region: found {shown(self.region)}, expected a patch, a block, a place, a border "
                "or the top"
            )
        return self


FillStyle: TypeAlias = Literal[
    "parallel",
    "crosshatch",
    "rings",
    "spiral",
    "meander",
    "waves",
    "loops",
    "motif rows",
    "matchstick",
    "orange peel",
    "clamshell",
    "piano keys",
    "continuous curve",
    "ribbon candy",
    "radiating lines",
    "pebbles",
    "feathers",
]
"""Fills by name."""


class Fill(_Part):
    """A region filled with quilting."""

    region: Name | tuple[Name, ...] | None = None
    """Patches, a block, a place, a border; "ground" round appliqué; "rest", all still unquilted;
    "top", all of it."""
    fabric: Name | None = None
    """Or all patches of a fabric."""
    style: FillStyle
    spacing: Size
    """Between neighbouring lines; of motif rows their height, of orange peel the side of a square,
    of clamshells the width of a shell, of a continuous curve how far it curves in, of ribbon candy
    from fold to fold, of pebbles and plumes how wide they are."""
    inset: Length | None = None
    """How far it keeps from the edge of its region (default: what runs from edge to edge does so,
    others keep half the spacing)."""
    angle: Annotated[float, Field(ge=-360, le=360)] = 0.0
    """Of lines and rows, degrees clockwise."""
    at: tuple[Coordinate, Coordinate] | None = None
    """Where radiating lines come from, from the top left corner of the top; left out, the middle
    of their block."""
    seed: Annotated[int, Field(ge=0, le=10**6)] = 1
    """Another number draws another meander, other pebbles."""
    thread: Name | None = None
    """Thread that stitches it (default by kind of line)."""
    motif: str | None = None
    """For motif rows: a file in the design's folder, with one line from left to right."""
    rows: Literal["there and back", "one way", "in pairs"] = "there and back"
    """How rows from side to side are stitched: one thread there and back, each row from left to
    right, or two rows to a thread."""
    id: str | None = None
    """Id of the line in that file (default the first that shows)."""
    offset: Annotated[float, Field(ge=0, le=1)] = 0.5
    """Of motif rows: by what share of a motif every other row is shifted; 0 lays them in line."""
    other_rows: Literal["alike", "mirrored", "upside down"] = "alike"
    """Of motif rows: how every other row is drawn; "mirrored" is left to right."""
    gap: Size | None = None
    """Of motif rows: how near rows come to each other; they nest, or interlock. Left out, each has
    its own height."""
    ends: Literal["whole", "off the edge"] = "whole"
    """Of motif rows: a whole number of motifs from side to side, or rows that run on over the edge
    and are cut there."""

    @model_validator(mode="after")
    def _one_region(self) -> "Fill":
        if (self.region is None) == (self.fabric is None):
            found = "both" if self.region else "neither"
            raise StitchpathError(f"found {found}, expected either region or fabric")
        if (self.style == "motif rows") != (self.motif is not None):
            found = "no motif" if self.motif is None else f"a motif for {self.style}"
            raise StitchpathError(f'found {found}, expected a motif with style = "motif rows"')
        said = self.model_fields_set & {"offset", "other_rows", "gap", "ends"}
        if said and self.style != "motif rows":
            raise StitchpathError(
                f'found {min(said)} for {self.style}, expected it with style = "motif rows"'
            )
        if self.at is not None and self.style != "radiating lines":
            raise StitchpathError(
                f'found a place for {self.style}, expected one with style = "radiating lines"'
            )
        return self


class Thread(_Part):
    """A thread and what it stitches."""

    colour: Colour | None = None
    """What it is drawn in (default: what its name says, such as "dark blue"; else dark grey)."""
    size: str = "50 wt"
    """Tex, "50 wt", or denier."""
    fibre: str = "cotton"
    lines: list[Kind] = []
    """Kinds of line it stitches; the first thread without this takes the rest."""
    contrast: bool = False
    """It would show on a seam, so it does not travel along seams."""
    travel: bool | None = None
    """May it travel along seams? Default where it stitches ditch and does not contrast."""
    per_bobbin: ThreadLength | None = None
    """How much of it one bobbin takes, by your own measure, such as "80 m"; default reckoned."""
    spools: Annotated[list[ThreadLength], Field(min_length=1, max_length=12)] | None = None
    """Lengths of the spools and cones it is sold on, such as "500 m"."""
    price: Price | None = None
    """Charged for a metre of it (default: `thread` of the charges)."""


class RatioAsked(_Part):
    """Thread in a length of seam, measured on your own quilting: `stitchpath thread calibrate`."""

    top: ThreadPerSeam
    """Length of top thread in one length of seam."""
    bobbin: ThreadPerSeam
    """Length of bobbin thread in one length of seam."""
    top_spread: Price = 0.0
    """Standard deviation between the samples."""
    bobbin_spread: Price = 0.0
    per_inch: Positive | None = None
    """Stitches to the inch of the samples; left out, the ratio holds for all stitch lengths."""


class StitchingAsked(_Part):
    """The stitch and the thread it takes."""

    per_inch: PerInch | dict[Kind, PerInch] = 10.0
    """Stitches to the inch, one number or by kind of line."""
    thickness: Length | None = None
    """Thickness stitched through, compressed; default by the kind of batting, else 0.04 in."""
    cloth: Annotated[
        tuple[Length, Length],
        BeforeValidator(_pair, json_schema_input_type=Length | tuple[Length, Length]),
    ] = (CLOTH, CLOTH)
    """Thickness of the fabrics, top and backing, where the kind of batting gives the rest."""
    balance: Share = 0.5
    """Where the threads lock, as a share of the thickness from the top; 0.5 is an even stitch."""
    ratio: RatioAsked | None = None
    """Thread in a length of seam, measured; goes before thickness and balance."""
    secure: Literal["bury", "tie-off"] = "bury"
    """What is done with an end inside the top: bury its tails, or tie off and trim."""
    waste: Share = 0.10
    """Share of the thread lost to breaks, tests and re-threading: 10 to 15 % is usual."""
    tail: Length = 4 * 25.4
    """Thread left hanging at an end to bury, of each of the two threads."""
    trimmed: Length = 3 * 25.4
    """Thread cut off at any other end, of each of the two threads."""
    tie_off: Size = 25.4 / 4
    """Length in which the small stitches of a tie-off are set."""
    tie_off_stitches: Annotated[int, Field(ge=0, le=100)] = 8
    """How many small stitches tie off."""
    bobbin: str = "class 15"
    """Bobbin size by its trade name."""
    bobbin_thread: Name | None = None
    """The one thread wound on all bobbins; default in each the thread that is on top."""
    wound: Literal["machine", "bought"] = "machine"
    """Bobbins wound at the machine, or bought wound, which hold more."""
    packing: Annotated[float, Field(ge=0.1, le=1)] | None = None
    """How tightly bobbins are wound: thread's share of the room."""
    spare: Annotated[float, Field(ge=0, le=0.5)] = 0.05
    """Share of a full bobbin left unused to be safe."""


def _known_batting(name: str) -> str:
    return batting(name).name


class BattingAsked(_Part):
    """The batting."""

    kind: Annotated[str, AfterValidator(_known_batting)] | None = None
    """How it is made, such as "needle-punched cotton"; gives its thickness and distance."""
    distance: Size | None = None
    """How far apart its label allows the quilting to be (default by its kind)."""
    uneven: Annotated[float, Field(gt=1, le=1000)] = 4.0
    """How many times as densely quilted as its neighbour a block or border may be; 4 is our own
    choice, that uneven quilting ripples a quilt is common practice."""
    loft: Size | None = None
    """Thickness of the whole quilt as it lies, which is what rolls up; default three times that
    stitched through."""
    margin: Length = MARGIN["domestic"]
    """How far it stands out beyond the top while quilting."""

    @property
    def holds(self) -> float | None:
        """How far apart the quilting may be, mm: the label decides, else the kind."""
        if self.distance is None and self.kind is not None:
            return batting(self.kind).distance
        return self.distance


class BackingAsked(_Part):
    """The backing, joined from lengths of fabric."""

    width: Size = 42 * 25.4
    """Usable width of its fabric, selvedges off."""
    seam: Length = 25.4 / 2
    """Allowance of the seams that join it."""


class Throat(_Part):
    """The room right of the needle of a domestic machine, or behind it in a frame."""

    width: Size
    """From the needle to the arm."""
    height: Size | None = None
    """From the bed up to the arm; in a frame it does not count."""

    @property
    def roll(self) -> float:
        """Diameter of the thickest roll that goes through, mm."""
        return min(self.width, self.width if self.height is None else self.height)


FuseWay: TypeAlias = Literal["in the frame", "out of the frame"]
"""Where pieces are fused to a quilt in a frame."""
Loaded: TypeAlias = Literal["lengthwise", "sideways"]
"""Which edge of a quilt goes into a frame first: its top edge, or its left edge."""


class Machine(_Part):
    """The machine."""

    kind: Literal["domestic", "frame"] = "domestic"
    """The quilt moved under the needle, or stretched in a frame and the machine moved."""
    depth: Annotated[float, _at_least(25.4), _LENGTH_SCHEMA] | None = None
    """In a frame: how deep it shows the quilt, the same throughout."""
    throat: Annotated[
        Throat | None, BeforeValidator(_only_width, json_schema_input_type=Length | Throat)
    ] = None
    """The room right of the needle; said, each run and area tells the roll that has to fit. In a
    frame one length, instead of `depth`: the roll takes more and more of it."""
    clearance: Length = 25.4
    """In a frame with a throat: what of it the needle does not reach, such as the foot's half."""
    bar: Size = 25.4
    """In a frame with a throat: from the middle of the bar that takes the quilt up to its skin."""
    rolled: Size = 25.4 / 4
    """In a frame with a throat: how thick the quilt lies on the roll."""
    width: Size | None = None
    """In a frame: how wide a backing it takes between its side clamps; the quilt is loaded so that
    it fits."""
    loaded: Loaded | None = None
    """In a frame: "lengthwise", its top edge first, or "sideways", its left edge first; the quicker
    unless you say it."""
    fuse: FuseWay | None = None
    """In a frame: where pieces are fused after the quilting; the quicker unless you say it."""
    foot: Foot | dict[Kind, Foot] | None = None
    """"walking", where each corner turns the quilt, "free-motion", or "frame"; one or by kind of
    line. Default by kind: walking for what is straight, free-motion for what curves."""

    @property
    def sideways(self) -> bool:
        """Whether it is said to be loaded with its left edge first."""
        return self.loaded == "sideways"

    @model_validator(mode="after")
    def _foot_of_its_kind(self) -> "Machine":
        """Only a frame holds the quilt still and moves the machine."""
        self._check_frame() if self.kind == "frame" else self._check_domestic()
        asked = self.foot.values() if isinstance(self.foot, dict) else [self.foot]
        wrong = [foot for foot in asked if foot and (foot == "frame") != (self.kind == "frame")]
        if wrong:
            wanted = '"frame"' if self.kind == "frame" else '"walking" or "free-motion"'
            raise StitchpathError(
                f'found the foot "{wrong[0]}" with kind = "{self.kind}", expected {wanted}'
            )
        return self

    def _check_domestic(self) -> None:
        keys = ("clearance", "bar", "rolled", "width", "loaded", "fuse")
        wrong = [key for key in keys if key in self.model_fields_set]
        if wrong:
            raise StitchpathError(
                f'found {wrong[0]} with kind = "domestic", expected kind = "frame"'
            )
        if self.throat is not None and self.throat.height is None:
            raise StitchpathError(
                "found a throat without a height, expected a table with its width and height"
            )

    def _check_frame(self) -> None:
        if self.throat is not None and self.depth is not None:
            raise StitchpathError("found a throat and a depth, expected one of them")
        if self.throat is not None and self.throat.height is not None:
            raise StitchpathError(
                'found a throat with a height and kind = "frame", expected one length'
            )
        wrong = [key for key in ("clearance", "bar", "rolled") if key in self.model_fields_set]
        if wrong and self.throat is None:
            raise StitchpathError(f"found {wrong[0]} without a throat, expected the throat as well")
        if self.rolled > 2 * self.bar:
            raise StitchpathError(
                "found a quilt that lies thicker on the roll than its bar is, expected less"
            )


USUAL = {"start": 15.0, "end_inside": 60.0, "end_trimmed": 5.0, "advance": 240.0}
"""Seconds that steps take where she says nothing of them; from memory."""
FRAMING = {
    "load": 3150.0, "tension": 300.0, "baste": 120.0, "clamps": 30.0, "unload": 600.0,
    "fuse": 300.0,
}  # fmt: skip
"""Seconds for the work round the stitching in a frame, where she says nothing of it. Loading takes
45 to 60 min (published); the others are our own guess."""


class PaceAsked(_Part):
    """What each step takes. Where you say nothing, the kind of machine decides. Time yourself."""

    speed: Size | dict[Kind | Literal["travel"], Size] | None = None
    """Length stitched in a minute, one or by kind of line."""
    free: Size | dict[Kind | Literal["travel"], Size] | None = None
    """The same with the free-motion foot, where it differs."""
    pivot: Seconds | None = None
    """Seconds to stop, needle down, and begin to turn; with every foot, if you say it."""
    turn_size: Seconds | None = None
    """Seconds more to turn half round with the walking foot, for each metre of the diagonal."""
    turn_roll: Seconds | None = None
    """And for each 100 mm that the roll in the throat is thick."""
    start: Seconds | None = None
    """Seconds to begin a run and bring the bobbin thread up."""
    end_inside: Seconds | None = None
    """Seconds to secure an end inside the top."""
    end_trimmed: Seconds | None = None
    """Seconds to trim an end in the margin."""
    come_back: Seconds | None = None
    """Seconds to find your place when you come back to a block, piece, border or fill."""
    foot: Seconds | None = None
    """Seconds to change the foot."""
    bobbin: Seconds | None = None
    """Seconds to change the bobbin."""
    thread: Seconds | None = None
    """Seconds to change the thread, bobbin and all."""
    advance: Seconds | None = None
    """Seconds to roll the quilt on in the frame."""
    load: Seconds | None = None
    """Seconds to load backing, batting and top into the frame."""
    tension: Seconds | None = None
    """Seconds to oil the machine and try its tension, once."""
    baste: Seconds | None = None
    """Seconds to baste the sides of what the frame shows anew, and at first the top edge."""
    clamps: Seconds | None = None
    """Seconds to take the side clamps off and put them on, each time the quilt is rolled on."""
    unload: Seconds | None = None
    """Seconds to take the quilt out of the frame."""
    fuse: Seconds | None = None
    """Seconds, in each window of a frame where pieces are fused, to put a board under them, press
    them, let them cool and take it out."""


Work: TypeAlias = Literal["edge to edge", "ditch", "custom"]
"""Kinds of work: nothing but fills of the whole top; seams and no fill; all else."""


def _every_work(prices: float | dict[Work, float] | None) -> float | dict[Work, float] | None:
    """Ask for all kinds: a job of a kind left out would be quilted for nothing."""
    if not isinstance(prices, dict):
        return prices
    missing = [kind for kind in sorted(get_args(Work)) if kind not in prices]
    if missing:
        raise StitchpathError(f'found no price for "{missing[0]}", expected one for each kind')
    return prices


class ChargesAsked(_Part):
    """What is charged; what is left out is not charged."""

    currency: Annotated[str, Field(max_length=20)] = ""
    """A label and no more."""
    thread: Price | None = None
    """For a metre of thread."""
    batting: Price | None = None
    """For a square metre of batting."""
    backing: Price | None = None
    """For a metre of backing fabric."""
    hour: Price | None = None
    """For an hour at the machine."""
    square_inch: Annotated[Price | dict[Work, Price] | None, AfterValidator(_every_work)] = None
    """Or for a square inch of the top; one price, or by kind of work: "edge to edge", "ditch",
    "custom"."""
    least: Price | None = None
    """Least charge for the quilting, by the hour or the square inch."""
    loading: Price | None = None
    """For loading a quilt into the frame; its time is then not in the hours."""
    thread_flat: Price | None = None
    """For all the thread together."""
    batting_length: Price | None = None
    """For a metre of the batting's length, cut from a roll that is wide enough."""
    tax: Annotated[float, Field(ge=0, le=100)] | None = None
    """On all of it, per cent."""


class Looks(_Part):
    """What the route pays, beside its time, for what shows. None of it is time at the machine."""

    end: Seconds = 10.0
    """Seconds for an end inside the top; 10 is our own choice."""
    end_piece: Seconds = 75.0
    """Seconds for one on a line through the middle of a piece, where it shows; our own choice."""
    again: Annotated[float, Field(ge=0, le=1000)] = 1.0
    """Going again over a line that shows, times the time that takes; our own choice."""


class Prices(_Part):
    """What the router weighs in place of time, in millimetres of stitching."""

    end_inside: Price = 150.0
    """Each end inside the top: it has to be secured and its tails buried."""
    end_piece: Price = 300.0
    """Each end on a line through the middle of a piece: there it shows, so it is dearer."""
    end_margin: Price = 25.0
    """Each end in the margin: it is trimmed off."""
    travel_margin: Price = 0.25
    """Travel in the margin, times its length."""
    travel_seam: Price = 0.5
    """Travel along a seam that needs no stitching, times its length."""
    retrace_ditch: Price = 0.75
    """Going again over a ditch line, times its length."""
    retrace_shown: Price = 2.0
    """Going again over a line that shows, times its length."""


class Route(_Part):
    """How the route may run."""

    order: Literal["taught", "free"] | None = None
    """Anchors first and then from the centre outward ("taught"), or in any order ("free"); default
    taught where a walking foot stitches, unless `anchor` is said."""

    retrace: Literal["never", "ditch", "allowed"] = "allowed"
    """May a line be stitched over again: never, only in the ditch, or any line."""
    anchor: Literal["first", "mixed"] | None = None
    """Anchoring seams in a pass of their own before the rest, or mixed with it; default by size."""
    start: str | None = None
    """Where the first run begins: a corner of a block, such as "A1 top left"."""


class Design(_Part):
    """A finished top and how to quilt it.

    Its keys are those of a design file, which `designs/README.md` explains; lengths are mm.
    """

    name: Name
    unit: Unit = "in"
    seam_allowance: Length = 25.4 / 4
    fabrics: dict[
        str,
        Annotated[Fabric, BeforeValidator(_only_colour, json_schema_input_type=Colour | Fabric)],
    ] = {}
    blocks: dict[str, Block] = {}
    layout: Layout = Layout()
    top: DrawnTop | None = None
    """A drawing of the whole top, instead of blocks and a layout; fabrics are then told by its
    colours, and those that are named here with the same colour bear their names."""
    drawn: list[DrawnLines] = []
    """Lines of your own to quilt, from drawings."""
    press: Press = Press()
    applique: list[Applique] = []
    lines: Lines = Lines()
    motifs: list[Motif] = []
    """Parts of the top with edge lines and echoes of their own."""
    fills: list[Fill] = []
    threads: dict[str, Thread] = {}
    stitching: StitchingAsked = StitchingAsked()
    batting: BattingAsked = BattingAsked()
    backing: BackingAsked = BackingAsked()
    machine: Machine = Machine()
    pace: PaceAsked = PaceAsked()
    charges: ChargesAsked | None = None
    looks: Looks = Looks()
    prices: Prices | None = None
    route: Route = Route()

    @model_validator(mode="after")
    def _one_top(self) -> "Design":
        if self.top is None:
            for key in ("fabrics", "blocks", "layout"):
                if key not in self.model_fields_set:
                    raise StitchpathError(
                        f"found no key {key!r}, expected it to be given, or a top with a drawing"
                    )
        elif self.model_fields_set & {"blocks", "layout"}:
            raise StitchpathError(
                "found blocks or a layout beside a top, expected a drawing of the whole top alone"
            )
        return self

    _source: str = PrivateAttr("the design")
    _folder: Path = PrivateAttr(Path())
    _outside: bool = PrivateAttr(default=False)

    def __init__(self, **data: Any) -> None:  # noqa: ANN401 - as TOML gives it
        unit = data.get("unit")
        asked = unit if isinstance(unit, str) and unit in get_args(Unit) else "in"
        # Every way into the model leads through here, so no length is read in another unit.
        self.__pydantic_validator__.validate_python(
            data, self_instance=self, context={"unit": asked}
        )

    @classmethod
    def build(
        cls,
        data: Mapping[str, Any],
        *,
        source: str = "the design",
        folder: str | Path = ".",
        outside: bool = False,
    ) -> "Design":
        """Make a design of plain data, as a design file holds it.

        Parameters
        ----------
        data
            Keys and values, as TOML gives them: numbers are lengths in `data["unit"]`, which is
            inches where none is given.
        source
            What to call the design in errors, such as its file's name.
        folder
            Where files that it names lie.
        outside
            Whether they may lie outside that folder.

        Returns
        -------
        Design
            Its lengths in mm.

        Raises
        ------
        StitchpathError
            When it is not a design; one sentence that names the place, what was found and what was
            expected.

        Examples
        --------
        >>> patch = {"size": 10, "grid": ["sail sea"]}
        >>> design = Design.build({
        ...     "name": "mat", "unit": "cm", "fabrics": {"sail": "white", "sea": "navy"},
        ...     "blocks": {"wave": patch}, "layout": {"rows": ["wave"]},
        ... })
        >>> design.blocks["wave"].size
        (100.0, 100.0)
        """
        if not isinstance(data, Mapping) or not all(isinstance(key, str) for key in data):
            found = shown(data) if not isinstance(data, Mapping) else "a key that is no text"
            raise StitchpathError(f"{source}: found {found}, expected a table of keys")
        plain_text(dict(data), source)
        try:
            design = cls(**data)
        except ValidationError as error:
            raise StitchpathError(f"{source}: {sentence(error, data, cls)}") from None
        return design.from_file(source, Path(folder), outside=outside)

    @model_validator(mode="before")
    @classmethod
    def _frame_margin(cls, data: object) -> object:
        """Let more batting stand out where it is held by a frame (common practice)."""
        if not isinstance(data, dict):
            return data
        machine, batting = data.get("machine"), data.get("batting", {})
        framed = isinstance(machine, dict) and machine.get("kind") == "frame"
        if not (framed and isinstance(batting, dict)):
            return data
        return {**data, "batting": {"margin": f"{MARGIN['frame']} mm", **batting}}

    @property
    def source(self) -> str:
        """What to call the design in errors: its file."""
        return self._source

    @property
    def stem(self) -> str:
        """What names of files made of it begin with: its own file's name, else the quilt's."""
        source = Path(self._source)
        plain = re.sub(r"[^a-z0-9]+", "-", self.name.lower()).strip("-")
        return source.stem if source.suffix else plain or "quilt"

    def __repr__(self) -> str:
        """Say in one line what it is."""
        blocks = ", ".join(list(self.blocks)[:_NAMED]) + (
            ", …" if len(self.blocks) > _NAMED else ""
        )
        return f"<Design {self.name!r}: {blocks}>"

    def __str__(self) -> str:
        """Say the same."""
        return repr(self)

    @property
    def folder(self) -> Path:
        """Where files that it names lie."""
        return self._folder

    @property
    def reads(self) -> tuple[Path, ...]:
        """Every file that it is made from: its own, and the drawings that it names."""
        drawn = [piece.file for piece in self.applique] + [fill.motif for fill in self.fills]
        drawn += [block.drawing for block in self.blocks.values()]
        drawn += [lines.file for lines in self.drawn] + [self.top.drawing if self.top else None]
        return Path(self._source), *(self._folder / name for name in drawn if name)

    @property
    def outside(self) -> bool:
        """Whether files that it names may lie outside that folder."""
        return self._outside

    @property
    def priced_by(self) -> Literal["time", "length"]:
        """What the route is weighed by: her time, or with prices the length of stitching."""
        return "time" if self.prices is None else "length"

    @property
    def in_taught_order(self) -> bool:
        """Whether anchors come first, and then area by area from the centre outward."""
        if self.route.order is not None:
            return self.route.order == "taught"
        if self.machine.kind == "frame" or self.route.anchor is not None:
            return False
        return self.machine.foot != "free-motion"

    def priced(self, changes: Sequence[str]) -> "Design":
        """Give the same design at prices in mm of stitching.

        Parameters
        ----------
        changes
            Each NAME=NUMBER, such as "end_inside=150".

        Returns
        -------
        Design
            With prices, so that its route is weighed by length.

        Raises
        ------
        StitchpathError
            When a name is no price, or a number none.

        Examples
        --------
        >>> import stitchpath
        >>> design = stitchpath.load_design("designs/harbour-runner.toml")
        >>> design.priced(["end_inside=150"]).priced_by
        'length'
        """
        if not changes:
            return self
        prices = (self.prices or Prices()).model_dump()
        for change in changes:
            name, _, number = change.partition("=")
            if name not in prices:
                raise unknown_name("", "price", name, prices).of_argument("price")
            prices[name] = number
        try:
            asked = Prices.model_validate(prices)
        except ValidationError:
            raise StitchpathError(
                f"found {', '.join(changes)!r}, expected numbers of zero or more"
            ).of_argument("price") from None
        return self.model_copy(update={"prices": asked})

    def held_by(self, text: str) -> "Design":
        """Give the same design on another batting.

        Parameters
        ----------
        text
            The distance on its label, such as "4 in", or its kind, such as "wool".

        Returns
        -------
        Design
            With that batting; a distance of its own goes before that of a kind.

        Raises
        ------
        StitchpathError
            When it is neither.

        Examples
        --------
        >>> import stitchpath
        >>> design = stitchpath.load_design("designs/harbour-runner.toml")
        >>> design.held_by("4 in").batting.distance
        101.6
        """
        asked: dict[str, object]
        try:
            if any(letter.isdigit() for letter in text):
                asked = {"distance": parse_length(text, self.unit, least=_SMALLEST)}
            else:
                asked = {"kind": batting(text).name, "distance": None}
        except StitchpathError as error:
            raise StitchpathError(str(error)).of_argument("batting") from None
        return self.model_copy(update={"batting": self.batting.model_copy(update=asked)})

    def from_file(self, source: str, folder: Path, *, outside: bool = False) -> "Design":
        """Give the same design, told where it was read from, and where its files may lie."""
        design = self.model_copy()
        design._source, design._folder = source, folder  # noqa: SLF001 - its own kind
        design._outside = outside  # noqa: SLF001
        return design
