"""The command plan --suggest: three ways to quilt a top, side by side."""

from dataclasses import dataclass
from pathlib import Path

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.cli.commands.asked import asked_design, on_batting
from stitchpath.cli.commands.compare import show_proposals
from stitchpath.cli.screen import say, seconds
from stitchpath.cli.watch import Watch
from stitchpath.export.files import check_place, write_whole
from stitchpath.export.mark import stamp
from stitchpath.export.pdf.paper import A4, LETTER
from stitchpath.export.suggested import suggested_html, suggested_pdf
from stitchpath.proposals import proposals

__all__ = ["Asked", "run"]


_PAPERS = {"a4": A4, "letter": LETTER}


@dataclass(frozen=True, slots=True)
class Asked:
    """Which design is asked for, as `asked_design` wants it."""

    design: Path
    size: str | None
    unit: str | None
    profile: Path | None
    outside: bool = False


def run(
    asked: Asked,
    output: Path,
    time_limit: float,
    price: list[str] | None,
    batting: str | None,
    paper: str,
    *,
    force: bool,
) -> None:
    """Plan three proposals and write them side by side."""
    seconds(time_limit)
    if paper and paper not in _PAPERS:
        raise unknown_name("", "paper", paper, _PAPERS).of_argument("paper")
    read = asked_design(
        asked.design, size=asked.size, unit=asked.unit, outside=asked.outside, profile=asked.profile
    )
    design = on_batting(read.priced(price or []), batting)
    stem = asked.design.stem
    places = [output / f"{stem}.suggested.{kind}" for kind in ("html", "pdf")]
    for place in places:  # told before the work is done
        check_place(place, force=force)
    with Watch() as watch:
        made = list(proposals(design, time_limit=time_limit, now=watch.now))
    if not any(each.plan for each in made):
        raise StitchpathError(f"{asked.design}: {made[-1].problem}")
    sheet = _PAPERS[paper or ("letter" if design.unit == "in" else "a4")]
    html = suggested_html(design.name, made, design.unit)
    pdf = suggested_pdf(design.name, made, design.unit, sheet)
    web, print_ = places
    write_whole({web: stamp(web.name, html), print_: stamp(print_.name, pdf)}, force=force)
    show_proposals(made, design.unit)
    say("wrote " + ", ".join(str(place) for place in places))
