"""Three ways to quilt a top to choose from, each planned: its motifs, its seams, what it needs."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import format_distance, format_length
from stitchpath.checks.cures import Survey, closed_gaps
from stitchpath.design.model import Design, Ditch, Echo
from stitchpath.document.asked import Edit, set_value
from stitchpath.document.cure_edits import cure_edits
from stitchpath.export.suggested import Suggested
from stitchpath.export.svg.small import small_top
from stitchpath.lines.suited import all_over_spacing, custom_fills, plain_fill, where
from stitchpath.plan import make_plan

__all__ = ["Proposal", "proposal_data", "proposals"]

_HELD = 4 * 25.4
"""Distance that most labels of batting allow at least, mm; common practice, from memory."""


@dataclass(frozen=True, slots=True)
class Proposal(Suggested):
    """A way to quilt a top, with what makes the design so.

    Attributes
    ----------
    edits
        Of the text of the design.
    """

    edits: list[Edit] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Way:
    """A way before it is planned: the design with its lines, and the edits that make it."""

    words: str
    looked: Survey
    edits: list[Edit]


def proposals(
    design: Design,
    *,
    time_limit: float = 10.0,
    progress: Callable[[str, float, float], None] | None = None,
    now: Callable[[str], None] | None = None,
) -> Iterator[Proposal]:
    """Plan a design in three ways: outline only; custom; all over. Each holds the batting.

    Fills and single seams of her own that a way does not need are left out of it; seams that she
    left out by hand stay so.

    Parameters
    ----------
    design
        The design; no more than its top, pieces and batting are taken over.
    time_limit
        Seconds for the proofs of all three plans together, counted in work.
    progress
        As `make_plan`.
    now
        Called with what is being done.

    Yields
    ------
    Proposal
        One after another, as they are planned; one that cannot be says why.

    Raises
    ------
    StitchpathError
        When the design makes no top.
    """
    try:
        looked = Survey.of(design, now)
    except StitchpathError as error:
        raise error.told_of(design.source) from None
    for name, way in _WAYS.items():
        if now is not None:
            now(name)
        try:
            found = way(looked, now)
            plan = make_plan(
                found.looked.design,
                time_limit=time_limit / len(_WAYS),
                progress=progress,
                looked=found.looked,
                cures=False,
            )
            yield Proposal(name, found.words, plan, edits=found.edits)
        except StitchpathError as error:
            sentence = str(error).removeprefix(f"{design.source}: ")
            yield Proposal(name, "", problem=sentence)


def _bare(design: Design, *ditch: Ditch) -> tuple[Design, list[Edit]]:
    """Leave out all that is quilted but lines through pieces, and choose seams anew."""
    lines = design.lines.model_copy(
        update={"ditch": ditch, "include": [], "edge_line": None, "echo": None}
    )
    bare = design.model_copy(update={"lines": lines, "fills": []})
    edits = [set_value("lines", "ditch", value=list(ditch) if len(ditch) > 1 else ditch[0])]
    edits += [
        set_value("lines", key, value=None)
        for key in ("include", "edge_line", "echo")
        if getattr(design.lines, key)
    ]
    if design.fills:
        edits.append(set_value("fills", value=None))
    return bare, edits


def _outline(looked: Survey, now: Callable[[str], None] | None) -> _Way:
    """Stitch round what stands forward: feature fabrics in the ditch, pieces inside their edge.

    Where nothing does, every seam: the blocks and patches are the motif. Where the batting wants
    more, round the blocks too, then with an echo round each piece: what a maker adds first.
    """
    design = looked.design
    known = bool(design.lines.feature)
    ditch: Ditch = "feature" if known else "none" if design.applique else "all"
    way = _outlined(design, [ditch], echoed=False)
    if ditch != "all" and _loose(way, now):
        chosen: list[Ditch] = [ditch]
        if len(looked.top.blocks) > 1:  # one alone has no seam round it
            chosen = ["feature", "blocks"] if known else ["blocks"]
        way = _outlined(design, chosen, echoed=False)
        if design.applique and _loose(way, now):
            way = _outlined(design, chosen, echoed=True)
    return _held(*way, now)


def _loose(way: tuple[str, Design, list[Edit]], now: Callable[[str], None] | None) -> bool:
    design = way[1]
    held = design if design.batting.holds else design.held_by(_held_so(design))
    return bool(Survey.of(held, now).loose)


def _outlined(
    design: Design, ditch: list[Ditch], *, echoed: bool
) -> tuple[str, Design, list[Edit]]:
    """Stitch some seams, and round the pieces; tell it, and what makes the design so."""
    bare, edits = _bare(design, *ditch)
    said = []
    if "all" in ditch:
        said.append("every seam" + (", but for those you left out" if design.lines.exclude else ""))
    rounds = [f"round {', '.join(design.lines.feature)}"] * ("feature" in ditch)
    rounds += ["round every block"] * ("blocks" in ditch)
    if rounds:
        said.append(f"in the ditch {' and '.join(rounds)}")
    pieces = list(bare.applique)
    for k, piece in enumerate(pieces):
        if piece.edge_line is None:
            pieces[k] = pieces[k].model_copy(update={"edge_line": 25.4 / 16})
            edits.append(set_value("applique", k, "edge_line", value=True))
        if echoed and piece.echo is None:
            written = {"step": "2.5 cm" if bare.unit == "cm" else "1 in", "count": 1}
            echo = Echo.model_validate(written, context={"unit": bare.unit})
            pieces[k] = pieces[k].model_copy(update={"echo": echo})
            edits.append(set_value("applique", k, "echo", value=written))
    if pieces:
        echo_too = ", with an echo outside it" if echoed else ""
        said.append(f"round each appliqué piece, inside its edge{echo_too}")
        bare = bare.model_copy(update={"applique": pieces})
    return "; ".join(said), bare, edits


def _custom(looked: Survey, now: Callable[[str], None] | None) -> _Way:
    """Stitch every seam, and fill ground, plain blocks and borders each as suits it."""
    bare, edits = _bare(looked.design, "all")
    chosen = custom_fills(looked.design, looked.top)
    filled = bare.model_copy(update={"fills": chosen})
    edits += cure_edits(bare, filled)
    styles = ", ".join(dict.fromkeys(f"{fill.style} {where(fill)}" for fill in chosen))
    return _held(f"every seam{', ' if styles else ''}{styles}", filled, edits, now)


def _all_over(looked: Survey, now: Callable[[str], None] | None) -> _Way:
    """Wander over the whole top, right across its seams."""
    bare, edits = _bare(looked.design, "none")
    spacing = all_over_spacing(bare.batting.holds or _HELD)
    meander = plain_fill("top", "meander", spacing)
    filled = bare.model_copy(update={"fills": [meander]})
    edits += cure_edits(bare, filled)
    words = f"a meander at {format_length(spacing, bare.unit)} all over, across the seams"
    return _held(words, filled, edits, now)


def _held_so(design: Design) -> str:
    """Write how far apart quilting may be where no batting is named."""
    return format_length(_HELD, design.unit) if design.unit != "cm" else "10 cm"


def _held(words: str, design: Design, edits: list[Edit], now: Callable[[str], None] | None) -> _Way:
    """Add what the batting needs to be held."""
    holds = design.batting.holds
    allows = "as the batting allows"
    if holds is None:
        said = _held_so(design)
        design = design.held_by(said)
        edits = [*edits, set_value("batting", "distance", value=said)]
        allows = "for a batting that holds so, as none is named"
    limit = format_length(design.batting.holds or _HELD, design.unit)
    closed, told = closed_gaps(design, now)
    edits = [*edits, *cure_edits(design, closed.design)]
    loose = next((each for each in told if each.startswith("still loose")), None)
    if loose is not None:
        raise StitchpathError(f"found no seam and no fill that holds it all; {loose}")
    more = (
        ["some seams more"] if len(closed.design.lines.include) > len(design.lines.include) else []
    )
    styles = dict.fromkeys(f.style for f in closed.design.fills[len(design.fills) :])
    more += [f"where more is needed, {', '.join(styles)}"] if styles else []
    added = "".join(f"; {each}" for each in more)
    return _Way(f"{words}{added}; no ground wider than {limit}, {allows}", closed, edits)


_WAYS: Mapping[str, Callable[[Survey, Callable[[str], None] | None], _Way]] = {
    "outline only": _outline,
    "custom": _custom,
    "all over": _all_over,
}


def proposal_data(made: Proposal) -> dict[str, Any]:
    """Tell a proposal as plain JSON, with its picture as SVG text.

    Parameters
    ----------
    made
        From `proposals`.
    """
    plan = made.plan
    rounded: Sequence[float | None] = (made.metres, made.minutes)
    metres, minutes = (v if v is None else round(v, 2) for v in rounded)
    return {
        "name": made.name,
        "words": made.words,
        "edits": made.edits,
        "picture": plan and small_top(plan.top, plan.lines, plan.thread_colours()),
        "metres": metres,
        "long": plan and format_distance((made.metres or 0.0) * 1000, plan.top.unit),
        "breaks": made.breaks,
        "minutes": minutes,
        "problem": made.problem,
    }
