"""Path data written in a design, flattened to polylines."""

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.design.drawings.pathdata import flatten, read_path_data

__all__ = ["flatten_path"]


def flatten_path(data: str, where: str, tolerance: float) -> list[FloatArray]:
    """Flatten SVG path data.

    Parameters
    ----------
    data
        Path data (SVG 2, section 9.3), with any of M L H V C S Q T A Z.
    where
        The place in the design, for errors.
    tolerance
        Greatest distance of the polyline from the curve, in the units of the data.

    Returns
    -------
    list of FloatArray
        One polyline for each subpath, shape (n, 2); a closed one ends where it began.

    Raises
    ------
    StitchpathError
        When it is no path data.
    """
    try:
        strands, wrong = read_path_data(data)
        if strands and not wrong:
            return [flatten(strand, tolerance) for strand in strands]
    except StitchpathError as error:
        raise StitchpathError(f"{where}: {error}") from None
    if wrong == "numbers missing":
        raise StitchpathError(
            f"{where}: found path data with numbers missing, expected the right count after each "
            "letter, as in M 0 0 or A 5 5 0 0 1 10 10"
        )
    found = wrong or repr(data[:30])
    raise StitchpathError(
        f'{where}: found {found}, expected SVG path data such as "M 0 0 L 4 0 L 4 4 Z"'
    )
