"""What a drawn top leaves in doubt: shapes that were guessed, places that were healed."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from stitchpath.base.findings import Check
from stitchpath.base.units import format_count, format_place
from stitchpath.top.build import Top
from stitchpath.top.place_names import join_words

if TYPE_CHECKING:  # its door is in `build_top`
    from stitchpath.design.drawings.whole import Guess

__all__ = ["check_drawing"]

_NAMED = 6  # colours or layers told one by one


def check_drawing(top: Top) -> Iterator[Check]:
    """Tell of a drawn top what was guessed, healed and left out.

    Parameters
    ----------
    top
        The finished top.
    """
    if not top.pressed:
        yield Check(
            "note",
            "low-side-unknown",
            "The fabrics are not known, so no low side is told: feel for it, or fill the patches "
            "in the drawing with the colours of their fabrics.",
        )
    taken = top.taken
    if taken is None:
        return
    yield from _guesses(taken.guesses)
    for line in taken.loose[:1]:
        x, y = line[0].tolist()
        count = format_count(len(taken.loose), "line")
        yield Check(
            "warning",
            "drawing-loose",
            f"Drawing: {count} like the seams left out, as nothing is enclosed by them, the first "
            f"from {format_place(x, y, top.unit)}; the picture of what was taken shows them. Draw "
            "on to the next seam, or say that they are quilting (roles).",
            (x, y),
        )
    if taken.mended:
        first = max(taken.mended, key=lambda m: m.far)
        many = format_count(len(taken.mended), "place")
        by = f", by up to {first.far:.1f} mm" if first.far else ""
        yield Check(
            "note",
            "drawing-healed",
            f"Drawing: {many} healed{by}; the picture of what was taken rings and numbers them.",
            first.at,
        )


def _guesses(guesses: "Sequence[Guess]") -> Iterator[Check]:
    """Warn of what may be wrong: guesses that were told in the same way as one."""
    alike: dict[tuple[str, str], list[Guess]] = {}
    for guess in guesses:
        if guess.doubtful:
            alike.setdefault((guess.role, guess.why), []).append(guess)
    for (role, why), some in alike.items():
        keys = dict.fromkeys(guess.key for guess in some)
        many = format_count(sum(guess.count for guess in some), "shape")
        named = join_words([f'"{key}"' for key in list(keys)[:_NAMED]])
        named += f" and {len(keys) - _NAMED} more" if len(keys) > _NAMED else ""
        yield Check(
            "warning",
            "drawing-guess",
            f"Drawing: {many} of {named} taken as {role} ({why}). Say whether that is so, "
            f'or what they are (roles = {{ "{some[0].key}" = "{role}" }}).',
            some[0].at,
        )
