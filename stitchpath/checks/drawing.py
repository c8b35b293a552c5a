"""What a drawn top leaves in doubt: shapes that were guessed, places that were healed."""

from collections.abc import Iterator

from stitchpath.findings import Check
from stitchpath.top.build import Top
from stitchpath.units import format_count

__all__ = ["check_drawing"]


def check_drawing(top: Top) -> Iterator[Check]:
    """Tell of a drawn top what was guessed, healed and left out.

    Parameters
    ----------
    top
        The finished top.
    """
    taken = top.taken
    if taken is None:
        return
    for guess in taken.guesses:
        if guess.doubtful:
            yield Check("warning", "drawing-guess", f"Drawing: {guess}.", guess.at)
    for line in taken.loose[:1]:
        x, y = line[0].tolist()
        count = format_count(len(taken.loose), "line")
        yield Check(
            "warning",
            "drawing-loose",
            f"Drawing: {count} like the seams left out, as nothing is enclosed by them; the first "
            "is ringed here. Draw on to the next seam, or call them quilting in `roles`.",
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
    if not top.pressed:
        yield Check(
            "note",
            "low-side-unknown",
            "The fabrics are not known, so no low side is told: feel for it, or fill the patches "
            "in the drawing with the colours of their fabrics.",
        )
