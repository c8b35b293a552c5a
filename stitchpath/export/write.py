"""Write a plan in the formats asked for."""

import json
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from pathlib import Path

from stitchpath.base.errors import StitchpathError, UnknownNameError, nearest_name, unknown_name
from stitchpath.base.units import Unit
from stitchpath.design.model import Design
from stitchpath.export.files import check_place, source_of, write_whole
from stitchpath.export.formats import ABOUT, GROUPS, OTHER_NAMES, PAPERS, on_paper, printed
from stitchpath.export.machine.settings import PenOptions
from stitchpath.export.mark import NO_ROOM, digest_of, stamp
from stitchpath.export.pdf.paper import A5, HALF_LETTER, LETTER
from stitchpath.plan import Plan, plan_json

__all__ = ["FORMATS", "check_places", "guide_options", "index_name", "known_formats", "save_plan"]

_INDEX = "index"


def _door(room: str, name: str, **given: object) -> Callable[..., str | bytes]:
    """Give what writes a plan by a function whose module is loaded when a file is asked for.

    The one door for each format: libraries for PDF, DXF and pictures are large, and few plans
    want them all.
    """

    def write(plan: Plan, **asked: object) -> str | bytes:
        made: str | bytes = getattr(import_module(f"stitchpath.{room}"), name)(
            plan, **given, **asked
        )
        return made

    return write


FORMATS: dict[str, tuple[str, Callable[..., str | bytes]]] = {
    "plan": (".plan.json", plan_json),
    "path": (".path.svg", _door("export.svg.path", "plan_svg")),
    "map": (".map.svg", _door("export.svg.map", "plan_map")),
    "low-side": (".low-side.svg", _door("export.svg.path", "plan_low_side_svg")),
    "back": (".back.svg", _door("export.svg.path", "plan_svg", mirrored=True)),
    "guide-svg": (".guide.svg", _door("export.svg.guide", "plan_guide_svg")),
    "plotter": (".plotter.svg", _door("export.svg.path", "plan_plotter_svg")),
    "dxf": (".dxf", _door("export.machine.dxf", "plan_dxf")),
    "gcode": (".gcode", _door("export.machine.gcode", "plan_gcode")),
    "hpgl": (".hpgl", _door("export.machine.hpgl", "plan_hpgl")),
    "needle": (".needle.csv", _door("export.needle_points", "plan_needle_csv")),
    "directions": (".directions.txt", _door("export.directions", "plan_directions_text")),
    "moving": (".moving.html", _door("export.moving", "plan_moving")),
    "picture": (".picture.png", _door("export.picture", "plan_picture", kind="png", dpi=300)),
    "picture-svg": (".picture.svg", _door("export.picture", "plan_picture", kind="svg")),
    "job-csv": (".job.csv", _door("told.job_rows", "plan_job_csv")),
    "job": (".job.pdf", _door("export.job_sheet", "plan_sheet")),
    "job-letter": (".job-letter.pdf", _door("export.job_sheet", "plan_sheet", paper=LETTER)),
    "guide": (".guide.pdf", _door("export.guide", "plan_guide")),
    "guide-letter": (".guide-letter.pdf", _door("export.guide", "plan_guide", paper=LETTER)),
    "guide-a5": (".guide-a5.pdf", _door("export.guide", "plan_guide", paper=A5)),
    "guide-half-letter": (
        ".guide-half-letter.pdf",
        _door("export.guide", "plan_guide", paper=HALF_LETTER),
    ),
    "glance": (".glance.pdf", _door("export.guide", "plan_glance")),
    "glance-letter": (".glance-letter.pdf", _door("export.guide", "plan_glance", paper=LETTER)),
    "true-size": (".true-size.pdf", _door("export.guide", "plan_true_size")),
    "true-size-letter": (
        ".true-size-letter.pdf",
        _door("export.guide", "plan_true_size", paper=LETTER),
    ),
    "templates": (".templates.pdf", _door("export.guide", "plan_templates")),
    "templates-letter": (
        ".templates-letter.pdf",
        _door("export.guide", "plan_templates", paper=LETTER),
    ),
}
"""Each format: what its files end in, and what makes them of a plan; some take options besides."""
assert set(FORMATS) == set(ABOUT)  # noqa: S101 - ours


def save_plan(
    plan: Plan,
    folder: str | Path = "exports",
    formats: str | Sequence[str] = ("path",),
    pen: PenOptions | None = None,
    *,
    force: bool = False,
    now: Callable[[str], None] | None = None,
) -> list[Path]:
    """Write a plan: NAME.plan.json always, and what else is asked for.

    With all formats comes an index, NAME.index.html. Every file bears a mark with the digest of
    the plan; plan.json takes its place last.

    Parameters
    ----------
    plan
        The plan.
    folder
        Where to, a folder; made when it is not there.
    formats
        Keys of `FORMATS`, or one text that names them by commas; "print" for what is printed,
        "machine" for plotters and drawing programs, "all" for every one.
    pen
        Options of the functions that write, by format: those for a pen as `pen_settings` reads
        them, those of the printed guide as `guide_options` does.
    force
        Write also over files that the tool did not make, and over the plan of another design.
    now
        Called with what is being done.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    StitchpathError
        When a format is unknown, no folder is named, it cannot be written, or something of hers
        would be lost.

    Examples
    --------
    >>> import tempfile, stitchpath
    >>> plan = stitchpath.make_plan(stitchpath.load_design("designs/curved-cushion.toml"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     written = stitchpath.save_plan(plan, folder, formats="path,job-csv")
    >>> [path.name for path in written]
    ['curved-cushion.path.svg', 'curved-cushion.job.csv', 'curved-cushion.plan.json']
    """
    formats = known_formats(
        formats if isinstance(formats, str) else ",".join(formats), plan.design.unit
    )
    places = check_places(plan.design, folder, formats, force=force)
    asked, text = pen or {}, plan_json(plan)
    if not plan.top.pressed:
        _without_low_side(places, asked)
    digest = digest_of(text)
    files: dict[str, bytes] = {}
    for number, (name, path) in enumerate(places.items(), 1):
        if now is not None:
            now(f"writing {path.name}, {number} of {len(places)}")
        if name == "plan":
            made: str | bytes = text
        elif name == _INDEX:
            made = _index(plan, places, files, digest)
        else:
            made = FORMATS[name][1](plan, **asked.get(name, {}))
        files[name] = stamp(path.name, made, digest)
    source = Path(plan.design.source)
    write_whole(
        {places[name]: data for name, data in files.items()},
        never=plan.design.reads,
        force=force,
        source=source,
    )
    return list(places.values())


def _without_low_side(places: dict[str, Path], asked: PenOptions) -> None:
    """Leave out of all formats the one that moves lines to the low side, where none is known.

    Raises
    ------
    StitchpathError
        When the low side was asked for by itself.
    """
    options = any(values.get("low_side") for values in asked.values())
    if options or ("low-side" in places and _INDEX not in places):
        raise StitchpathError(
            "low-side: found a top whose fabrics are not known, so no low side is; expected the "
            "patches of the drawing filled with the colours of their fabrics"
        ).of_argument("format")
    places.pop("low-side", None)


def check_places(
    design: Design, folder: str | Path, formats: tuple[str, ...], *, force: bool = False
) -> dict[str, Path]:
    """Tell where a plan's files will lie, and make sure that nothing of hers is lost there.

    Parameters
    ----------
    design, folder, formats, force
        As `save_plan`.

    Returns
    -------
    dict of str to Path
        By format, in the order of writing: plan.json last.

    Raises
    ------
    StitchpathError
        When something of hers lies there, or the plan of another design.
    """
    stem, folder = design.stem, Path(folder)
    if folder.suffix and folder.suffix in {Path(ending).suffix for ending, _ in FORMATS.values()}:
        raise StitchpathError(f"{folder}: found the name of a file, expected that of a folder")
    wanted = [name for name in dict.fromkeys(formats) if name != "plan"]
    places = {name: folder / (stem + FORMATS[name][0]) for name in wanted}
    if len(wanted) + 1 == len(FORMATS):
        places[_INDEX] = folder / f"{stem}.index.html"
    places["plan"] = folder / (stem + FORMATS["plan"][0])
    for path in places.values():
        check_place(path, never=design.reads, force=force)
    other = None if force else _another(places["plan"], design)
    if other is not None:
        raise StitchpathError(
            f"{places['plan']}: found the plan of another design, {other}, expected one of "
            f"{design.source}"
        ).unless("force")
    return places


def _another(path: Path, design: Design) -> str | None:
    """Name the design that a plan was made from, if that is not this one.

    Where the disk notes no source, a design is known by its name.
    """
    if not path.is_file():
        return None
    source, own = source_of(path), Path(design.source)
    if source is not None and own.is_file():
        return None if source.samefile(own) else str(source)
    try:
        name = json.loads(path.read_bytes()).get("name")
    except (OSError, ValueError, RecursionError, AttributeError):
        return None
    return None if name == design.name else repr(str(name)[:60])


def _index(plan: Plan, places: Mapping[str, Path], files: Mapping[str, bytes], digest: str) -> str:
    """Write the index; it tells the digest of a file that cannot bear the plan's."""
    names = {name: path.name for name, path in places.items() if name != _INDEX}
    bare = {name: digest_of(files[name]) for name in names if names[name].endswith(NO_ROOM)}
    return str(_door("export.index", "plan_index")(plan, files=names, digest=digest, bare=bare))


def index_name(plan: Plan) -> str:
    """Name the index that comes with all formats."""
    return f"{plan.design.stem}.index.html"


_SMALL = {"guide-a5": "A5", "guide-half-letter": "half letter"}


def guide_options(
    *, words: bool = False, large: bool = False, formats: Sequence[str] = ()
) -> PenOptions:
    """Give the options of the printed guide, by format, for `save_plan`.

    Parameters
    ----------
    words
        Whether the words leg by leg follow the cards.
    large
        Whether it is printed large; on small paper it never is.
    formats
        What is to be written.

    Raises
    ------
    StitchpathError
        When it is to be printed large, and on small paper alone.
    """
    guides = [name for name in formats if name.startswith("guide")]
    small = [_SMALL[name] for name in guides if name in _SMALL]
    if large and small and len(small) == len(guides):
        raise StitchpathError(
            f"found large print on {small[0]}, where it leaves the pictures no room, expected A4 "
            "or letter"
        ).of_argument("print")
    names = [name for name in FORMATS if name.startswith("guide")]
    return {
        name: {"words": words, "large": large and name not in _SMALL}
        for name in names
        if FORMATS[name][0].endswith(".pdf")
    }


def known_formats(text: str, unit: Unit = "in", paper: str = "") -> tuple[str, ...]:
    """Split a list of formats parted by commas, and put in what a word for several stands for.

    Parameters
    ----------
    text
        Such as "print,map". A format may also be named by what its file ends in: "map.svg".
    unit
        Of the design: it tells what paper is printed on.
    paper
        What it is printed on instead: a key of `PAPERS`; "" for what the formats say.

    Raises
    ------
    StitchpathError
        When one is unknown; the sentence tells all there are.
    """
    if paper and paper not in PAPERS:
        raise unknown_name("", "paper", paper, PAPERS).of_argument("paper")
    several = {"print": printed(unit), "machine": GROUPS["For machines"], "all": tuple(FORMATS)}
    endings = {ending[1:]: name for name, (ending, _) in FORMATS.items()}
    found: dict[str, None] = {}
    for word in [word.strip() for word in text.split(",") if word.strip()]:
        name = OTHER_NAMES.get(word, endings.get(word, word))
        if name not in FORMATS and name not in several:
            known = [*several, *FORMATS]
            near = nearest_name(word, [*known, *OTHER_NAMES])
            hint = f"the nearest is {near!r}; there are" if near else "expected some of"
            raise UnknownNameError(
                f"found the unknown format {word[:60]!r}, {hint} {', '.join(known)}"
            ).of_argument("format")
        found |= dict.fromkeys(several.get(name, (name,)))
    return tuple(dict.fromkeys(on_paper(name, paper) if paper else name for name in found))
