"""Where pieces are fused to a quilt in a frame, and what the other way would take."""

from collections.abc import Iterator

from stitchpath.base.findings import Check
from stitchpath.network.fusing import Fusing

__all__ = ["check_fusing"]


def check_fusing(fusing: Fusing | None) -> Iterator[Check]:
    """Tell both ways, and what each takes.

    Parameters
    ----------
    fusing
        Of a plan; None where nothing is fused between.
    """
    if fusing is None:
        return
    out = f"{round(fusing.out / 60)} min"
    again = "taking it out, loading, basting and rolling it on again"
    if fusing.within is None:
        said = (
            f"The quilt is taken out of the frame to fuse, and {again} takes {out}: a piece is "
            "nowhere shown whole before it is stitched."
        )
    else:
        within = f"{round(fusing.within / 60)} min"
        said = (
            f"Pieces are fused in the frame, on a board, pass by pass: {within} with rolling; "
            f"{again} would take {out}."
            if fusing.way == "in the frame"
            else f"The quilt is taken out of the frame to fuse: {again} takes {out}; in the frame, "
            f"on a board, pass by pass, it would take {within} with rolling."
        )
    yield Check("note", "fused-in-frame", said)
