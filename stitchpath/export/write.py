"""Write exports: each file whole or not at all."""

import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from stitchpath.errors import StitchpathError, unknown_name
from stitchpath.export.bundle import plan_index
from stitchpath.export.dxf import plan_dxf
from stitchpath.export.gcode import plan_gcode
from stitchpath.export.guide import LETTER, plan_guide, plan_templates, plan_true_size
from stitchpath.export.guide_svg import plan_guide_svg
from stitchpath.export.hpgl import plan_hpgl
from stitchpath.export.jobsheet import plan_job_csv
from stitchpath.export.moving import plan_moving
from stitchpath.export.needle import plan_needle_csv
from stitchpath.export.pen_settings import PenOptions
from stitchpath.export.picture import draw_top
from stitchpath.export.sheet import plan_sheet
from stitchpath.export.svg import plan_plotter_svg, plan_svg
from stitchpath.export.told import plan_directions_text
from stitchpath.plan import Plan, plan_json

__all__ = ["FORMATS", "index_name", "known_formats", "save_plan", "write_whole"]


def _picture(plan: Plan, kind: str, dpi: int = 150) -> bytes:
    """Draw the top for a booklet: what is loose is ringed by the command draw, not here."""
    return draw_top(plan.top, plan.lines, kind, dpi=dpi)


FORMATS: dict[str, tuple[str, Callable[..., str | bytes]]] = {
    "json": (".plan.json", plan_json),
    "svg": (".svg", plan_svg),
    "map": (".map.svg", lambda plan: plan_svg(plan, underlay=True)),
    "ditch": (
        ".low-side.svg",
        lambda plan: plan_svg(plan, low_side=plan.design.lines.offset),
    ),
    "back": (".back.svg", lambda plan: plan_svg(plan, mirrored=True)),
    "guide-svg": (".guide.svg", plan_guide_svg),
    "plotter": (".plotter.svg", plan_plotter_svg),
    "dxf": (".dxf", plan_dxf),
    "gcode": (".gcode", plan_gcode),
    "hpgl": (".hpgl", plan_hpgl),
    "needle": (".needle.csv", plan_needle_csv),
    "directions": (".directions.txt", plan_directions_text),
    "moving": (".moving.html", plan_moving),
    "picture": (".picture.png", lambda plan: _picture(plan, "png", dpi=300)),
    "picture-svg": (".picture.svg", lambda plan: _picture(plan, "svg")),
    "csv": (".job.csv", plan_job_csv),
    "sheet": (".job.pdf", plan_sheet),
    "sheet-letter": (".job-letter.pdf", lambda plan: plan_sheet(plan, LETTER)),
    "guide": (".guide.pdf", plan_guide),
    "guide-letter": (".guide-letter.pdf", lambda plan: plan_guide(plan, LETTER)),
    "true-size": (".true-size.pdf", plan_true_size),
    "true-size-letter": (".true-size-letter.pdf", lambda plan: plan_true_size(plan, LETTER)),
    "templates": (".templates.pdf", plan_templates),
    "templates-letter": (".templates-letter.pdf", lambda plan: plan_templates(plan, LETTER)),
}
"""Each format: what its files end in, and what makes them of a plan; some take options besides."""


def save_plan(
    plan: Plan,
    folder: str | Path = "exports",
    formats: tuple[str, ...] = ("svg",),
    pen: PenOptions | None = None,
) -> list[Path]:
    """Write a plan: NAME.plan.json always, and what else is asked for.

    With all formats comes an index, NAME.index.html.

    Parameters
    ----------
    plan
        The plan.
    folder
        Where to; made when it is not there.
    formats
        Keys of `FORMATS`.
    pen
        Options of the formats for a pen, by format, as `pen_settings` reads them.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    StitchpathError
        When a format is unknown or the folder cannot be written.
    """
    known_formats(",".join(formats))
    stem = Path(plan.design.source).stem
    wanted = list(dict.fromkeys(("json", *formats)))
    names = {name: stem + FORMATS[name][0] for name in wanted}
    asked = pen or {}
    files = {
        Path(folder) / names[name]: FORMATS[name][1](plan, **asked.get(name, {})) for name in wanted
    }
    if len(wanted) == len(FORMATS):
        files[Path(folder) / index_name(plan)] = plan_index(plan, names)
    write_whole(files)
    return list(files)


def index_name(plan: Plan) -> str:
    """Name the index that comes with all formats."""
    return f"{Path(plan.design.source).stem}.index.html"


def known_formats(text: str) -> tuple[str, ...]:
    """Split a list of formats parted by commas; "all" stands for every one.

    Raises
    ------
    StitchpathError
        When one is unknown.
    """
    names = [name.strip() for name in text.split(",") if name.strip()]
    if "all" in names:
        return tuple(FORMATS)
    for name in names:
        if name not in FORMATS:
            raise unknown_name("--format", "format", name, FORMATS)
    return tuple(names)


def write_whole(files: Mapping[Path, str | bytes]) -> None:
    """Write files so that each is there whole or not at all.

    All are first written beside their places; only when that went well do they take them.

    Raises
    ------
    StitchpathError
        When one cannot be written.
    """
    spare: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            data = content.encode() if isinstance(content, str) else content
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            spare[path] = Path(name)
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            spare[path].chmod(0o666 & ~_umask())
        for path in files:
            spare.pop(path).replace(path)
    except OSError as error:
        reason = (error.strerror or "not writable").lower()
        raise StitchpathError(
            f"{path}: cannot be written ({reason}), expected a folder that can"
        ) from None
    finally:
        for left in spare.values():
            left.unlink(missing_ok=True)


def _umask() -> int:
    """Read the umask; there is no way but to set it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
