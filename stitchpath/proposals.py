"""Three ways to quilt a top to choose from, each planned: its motifs, its seams, what it needs."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from stitchpath.checks.cures import Survey, closed_gaps
from stitchpath.design.model import Design
from stitchpath.document.asked import Edit, set_value
from stitchpath.document.cure_edits import cure_edits
from stitchpath.errors import StitchpathError
from stitchpath.export.svg.small import small_top
from stitchpath.plan import Plan, make_plan
from stitchpath.units import format_distance, format_length

__all__ = ["Proposal", "proposal_data", "proposals"]

_HELD = 4 * 25.4
"""Distance that most labels of batting allow at least, mm; common practice, from memory."""


class _NoMotifError(StitchpathError):
    """Nothing stands forward."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A way to quilt a top.

    Attributes
    ----------
    name, words
        What it is called, and what is stitched.
    edits
        What makes the design so.
    plan
        The plan; None where it cannot be.
    problem
        Why it cannot be; None where it can.
    missing
        Keys of the design that would say what is missing, where that is known.
    """

    name: str
    words: str
    edits: list[Edit] = field(default_factory=list)
    plan: Plan | None = None
    problem: str | None = None
    missing: tuple[str, ...] | None = None

    @property
    def metres(self) -> float | None:
        """All that is sewn, m."""
        if self.plan is None:
            return None
        totals = self.plan.totals
        return (totals.stitched + totals.retraced + totals.travelled) / 1000

    @property
    def breaks(self) -> int | None:
        """How often threads are cut between runs."""
        return None if self.plan is None else self.plan.totals.breaks

    @property
    def minutes(self) -> float | None:
        """Time at the machine."""
        if self.plan is None:
            return None
        return sum(spent.total for spent in self.plan.times) / 60


@dataclass(frozen=True, slots=True)
class _Way:
    """A way before it is planned: the design, and the edits that make it."""

    words: str
    design: Design
    edits: list[Edit]


def proposals(
    design: Design,
    *,
    time_limit: float = 10.0,
    progress: Callable[[str, float, float], None] | None = None,
    now: Callable[[str], None] | None = None,
) -> Iterator[Proposal]:
    """Plan a design in three ways: motifs outlined; all ditches; ditches and fills that hold.

    Fills and single seams of her own that a way does not need are left out of it; seams that she
    left out by hand stay so.

    Parameters
    ----------
    design
        The design; no more than its top, pieces and batting are taken over.
    time_limit
        Seconds for the proof of each plan, counted in work.
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
            same = looked.changed(found.design) if _same_pieces(found.design, design) else None
            plan = make_plan(
                found.design, time_limit=time_limit, progress=progress, looked=same, cures=False
            )
            yield Proposal(name, found.words, found.edits, plan)
        except StitchpathError as error:
            sentence = str(error).removeprefix(f"{design.source}: ")
            missing = ("lines", "feature") if isinstance(error, _NoMotifError) else None
            yield Proposal(name, "", problem=sentence, missing=missing)


def _same_pieces(one: Design, other: Design) -> bool:
    return one.applique is other.applique


def _bare(design: Design, ditch: str) -> tuple[Design, list[Edit]]:
    """Leave out all that is quilted but lines through pieces, and choose seams anew."""
    lines = design.lines.model_copy(
        update={"ditch": (ditch,), "include": [], "edge_line": None, "echo": None}
    )
    bare = design.model_copy(update={"lines": lines, "fills": []})
    edits = [set_value("lines", "ditch", value=ditch)]
    edits += [
        set_value("lines", key, value=None)
        for key in ("include", "edge_line", "echo")
        if getattr(design.lines, key)
    ]
    if design.fills:
        edits.append(set_value("fills", value=None))
    return bare, edits


def _motifs(looked: Survey, now: Callable[[str], None] | None) -> _Way:
    """Stitch round what stands forward: feature fabrics in the ditch, pieces inside their edge."""
    _ = now
    design = looked.design
    known = design.lines.feature
    if not known and not design.applique:
        raise _NoMotifError(
            "found no motif, expected a fabric that stands forward, or an appliqué piece"
        )
    bare, edits = _bare(design, "feature" if known else "none")
    said = [f"round {', '.join(known)} in the ditch"] if known else []
    pieces = list(bare.applique)
    for k, piece in enumerate(pieces):
        if piece.edge_line is None:
            pieces[k] = piece.model_copy(update={"edge_line": 25.4 / 16})
            edits.append(set_value("applique", k, "edge_line", value=True))
    if pieces:
        said.append("round each appliqué piece, inside its edge")
        bare = bare.model_copy(update={"applique": pieces})
    return _Way(" and ".join(said), bare, edits)


def _ditches(looked: Survey, now: Callable[[str], None] | None) -> _Way:
    """Stitch every seam but those left out by hand."""
    _ = now
    bare, edits = _bare(looked.design, "all")
    left = len(looked.design.lines.exclude)
    return _Way("every seam" + (", but for those you left out" if left else ""), bare, edits)


def _holding(looked: Survey, now: Callable[[str], None] | None) -> _Way:
    """Stitch every seam, and fill what the batting does not allow to be left bare."""
    bare, edits = _bare(looked.design, "all")
    holds = bare.batting.holds
    allows = "as the batting allows"
    if holds is None:
        words = format_length(_HELD, bare.unit) if bare.unit != "cm" else "10 cm"
        bare = bare.held_by(words)
        edits.append(set_value("batting", "distance", value=words))
        allows = "for a batting that holds so, as none is named"
    limit = format_length(bare.batting.holds or _HELD, bare.unit)
    closed, said = closed_gaps(bare, now)
    edits += cure_edits(bare, closed.design)
    loose = next((each for each in said if each.startswith("still loose")), None)
    if loose is not None:
        raise StitchpathError(f"found no seam and no fill that holds it all; {loose}")
    fills = closed.design.fills
    styles = ", ".join(dict.fromkeys(fill.style for fill in fills))
    filled = f" and fills ({styles})" if fills else ""
    return _Way(f"every seam{filled}, no ground wider than {limit}, {allows}", closed.design, edits)


_WAYS: Mapping[str, Callable[[Survey, Callable[[str], None] | None], _Way]] = {
    "outline the motifs": _motifs,
    "all ditches": _ditches,
    "hold the batting": _holding,
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
        "missing": made.missing and list(made.missing),
    }
