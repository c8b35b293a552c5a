"""An empty top to begin with: plain blocks in rows, in the colours of a harbour."""

from stitchpath.base.errors import StitchpathError, shown
from stitchpath.base.units import parse_length
from stitchpath.document.toml_edits import written

__all__ = ["empty_text"]

_FABRICS = (
    ("sand", "#e7d5b0"),
    ("sky", "#cfe3ee"),
    ("sea", "#2f6f9f"),
    ("rust", "#9c432b"),
)
_MOST = 100


def empty_text(name: str, unit: str, columns: int, rows: int, size: str | float) -> str:
    """Write a design of plain blocks.

    Parameters
    ----------
    name
        Of the quilt.
    unit
        "in", "cm" or "mm".
    columns, rows
        So many blocks across and down.
    size
        Finished size of a block, such as "10 in", or a number in the unit.

    Raises
    ------
    StitchpathError
        When one of these cannot be.

    Examples
    --------
    >>> print(empty_text("Quay", "in", 3, 2, "10 in"))
    name = "Quay"
    unit = "in"
    <BLANKLINE>
    [fabrics]
    sand = "#e7d5b0"
    sky = "#cfe3ee"
    sea = "#2f6f9f"
    rust = "#9c432b"
    <BLANKLINE>
    [blocks.plain]
    size = "10 in"
    grid = ['sand']
    <BLANKLINE>
    [layout]
    rows = [
      "plain plain plain",
      "plain plain plain",
    ]
    <BLANKLINE>
    [lines]
    ditch = "all"
    <BLANKLINE>
    """
    if not isinstance(name, str) or not name.strip():
        raise StitchpathError(f"name: found {shown(name)}, expected a name")
    if unit not in ("in", "cm", "mm"):
        raise StitchpathError(f"unit: found {shown(unit)}, expected in, cm or mm")
    for key, many in (("columns", columns), ("rows", rows)):
        if not isinstance(many, int) or isinstance(many, bool) or not 1 <= many <= _MOST:
            raise StitchpathError(
                f"{key}: found {shown(many)}, expected a whole number of 1 to {_MOST}"
            )
    try:
        parse_length(size, unit, least=1.0)  # type: ignore[arg-type] # one of three
    except StitchpathError as error:
        raise StitchpathError(f"size: {error}") from None
    row = " ".join(["plain"] * columns) if columns <= 12 else f"plain*{columns}"  # noqa: PLR2004 - fits a line
    listed = "".join(f'  "{row}",\n' for _ in range(rows))
    fabrics = "".join(f'{fabric} = "{colour}"\n' for fabric, colour in _FABRICS)
    return (
        f'name = {written(name.strip())}\nunit = "{unit}"\n\n'
        f"[fabrics]\n{fabrics}\n"
        f"[blocks.plain]\nsize = {written(size)}\ngrid = ['sand']\n\n"
        f"[layout]\nrows = [\n{listed}]\n\n"
        '[lines]\nditch = "all"\n'
    )
