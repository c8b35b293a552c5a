"""What was taken of a drawing, as rows of a table."""

from stitchpath.top.build import Top

__all__ = ["HEALED", "drawing_rows"]

HEALED = {
    "apart": "ends brought together",
    "short": "a line drawn on to the next",
    "twice": "a line drawn more than once",
    "over": "a line that stuck out, cut off",
    "sliver": "a sliver joined to its neighbour",
}
"""What was done at a place that was healed, by its cause."""


def drawing_rows(top: Top) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Tell what was taken of the drawing of a top.

    Parameters
    ----------
    top
        A drawn top.

    Returns
    -------
    header, rows
        What, how many, how that was told, and what would settle it.
    """
    header = ("taken as", "of", "shapes", "told by", "settled by")
    taken = top.taken
    rows: list[tuple[str, ...]] = []
    if taken is None:
        return header, rows
    for guess in taken.guesses:
        settle = "" if not guess.doubtful else f'roles = {{ "{guess.key}" = "{guess.role}" }}'
        rows.append((guess.role, guess.key, f"{guess.count}", guess.why, settle))
    counts: dict[str, int] = {}
    for mended in taken.mended:
        counts[mended.cause] = counts.get(mended.cause, 0) + 1
    rows += [
        ("healed", "", f"{count}", HEALED[cause], "tolerance") for cause, count in counts.items()
    ]
    rows += [("", "", "", said, "") for said in taken.told]
    counted = ((taken.patches, "patches"), (taken.pieces, "pieces"), (taken.quilting, "lines"))
    rows += [("in all", "", f"{len(some)}", what, "") for some, what in counted if some]
    return header, rows
