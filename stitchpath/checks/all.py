"""What could go wrong on the quilt, each with its place."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from stitchpath.base.findings import Check, Level
from stitchpath.checks.batting import check_evenness
from stitchpath.checks.cures import Survey, Taken, check_loose
from stitchpath.checks.drawing import check_drawing
from stitchpath.checks.pieces import check_pieces
from stitchpath.checks.rivers import check_rivers
from stitchpath.design.model import Design
from stitchpath.lines.frame.reach import reach_of
from stitchpath.lines.threads import unknown_colours
from stitchpath.route.runs import Proof
from stitchpath.top.place_names import Places

__all__ = ["Check", "Level", "check_plan"]

_WORST: tuple[Level, ...] = ("error", "warning", "note")
_NAMED = 4  # so many seams pressed open are named; the rest are counted


def check_plan(
    looked: Survey,
    proof: Proof | None = None,
    extra: Callable[[Survey], Taken | None] | None = None,
) -> tuple[Check, ...]:
    """Look over a design and its lines.

    Parameters
    ----------
    looked
        The design with its lines, as they are before they are noded: so a check of the design and
        one of its plan say the same.
    proof
        Of the whole route, where there is one.
    extra
        Plans a design with a cure for loose ground, and gives what it takes beyond the design.

    Returns
    -------
    tuple of Check
        The worst first, findings that are alike told as one.
    """
    design, top, lines = looked.design, looked.top, looked.lines
    found = [
        *check_drawing(top),
        *_open_seams(looked),
        *check_pieces(design, top, lines),
        *looked.left_out,
    ]
    found += check_loose(looked, extra)
    found += check_evenness(design, looked.words, lines)
    found += check_rivers(looked)
    found += [*_frame(design), *unknown_colours(design)]
    if proof is not None and not proof.optimal:
        order = "" if proof.free is None else " in the order that is taught"
        message = (
            f"The route is within {proof.gap * 100:.2f} % of the best there can be{order}, "
            "but not proven best."
        )
        if proof.cut_off:
            message += (
                " The search was cut off, since this computer was too slow or too busy for it: "
                "planned again, it may find another route."
            )
        found.append(Check("note", "not-proven", message))
    return tuple(sorted(_as_one(found, looked.words), key=lambda check: _WORST.index(check.level)))


def _as_one(found: Sequence[Check], words: Places) -> Iterator[Check]:
    """Tell findings on several pieces as one where they differ in the piece alone."""
    alike: dict[object, list[Check]] = {}
    for number, check in enumerate(found):
        key: object = number
        if check.pieces:
            said = check.message.replace(words.pieces_alike(check.pieces), "\0", 1)
            key = check.level, check.code, said.replace(check.alone, "") if check.alone else said
        alike.setdefault(key, []).append(check)
    for checks in alike.values():
        first = checks[0]
        if len(checks) == 1:
            yield first
            continue
        pieces = tuple(number for check in checks for number in check.pieces)
        message = first.message.replace(first.alone, "") if first.alone else first.message
        message = message.replace(words.pieces_alike(first.pieces), words.pieces_alike(pieces), 1)
        yield replace(first, message=message, pieces=pieces, alone="")


def _frame(design: Design) -> Iterator[Check]:
    """Say that there are no passes, since the design does not tell what the frame shows."""
    if design.machine.kind == "frame" and reach_of(design.machine) is None:
        yield Check(
            "note",
            "no-depth",
            "How deep the frame shows the quilt is not said, so it is planned as one. Say it: "
            "then it is planned pass by pass, and the time to roll it on is counted (depth or "
            "throat under [machine]).",
        )


def _open_seams(looked: Survey) -> Iterator[Check]:
    """Warn of ditch lines on seams pressed open.

    Such a seam has no low side, and stitching in it rests on the seam thread alone (common
    practice).
    """
    top, words = looked.top, looked.words
    seams = [line for line in looked.lines if line.seam >= 0 and top.seams[line.seam].high == 0]
    if seams:
        beside = [(top.seams[line.seam].left, top.seams[line.seam].right) for line in seams]
        beside = [(a, b) if words.patch(a) <= words.patch(b) else (b, a) for a, b in beside]
        names = list(dict.fromkeys(words.two(*pair) for pair in beside))
        if len(names) > _NAMED:
            names[_NAMED - 1 :] = [f"{len(names) - _NAMED + 1} more"]
        x, y = (float(v) for v in seams[0].points.mean(axis=0))
        what = "The seams of {} are" if len(seams) > 1 else "The seam of {} is"
        yield Check(
            "warning",
            "open-seam",
            f"{what.format('; '.join(names))} pressed open: stitching in the ditch rests on the "
            "seam thread alone. Press to one side, or leave it out.",
            (x, y),
        )
